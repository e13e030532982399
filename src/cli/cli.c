/* What the commands share. */
#include "cli/cli.h"

#include <errno.h>
#include <limits.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void say(const char *command, const char *level, const char *advice, const char *format,
                va_list args)
{
    fflush(stdout); /* what was printed before stays before, also in a file */
    fprintf(stderr, command ? "isthmus %s: %s: " : "isthmus%s: %s: ", command ? command : "",
            level);
    vfprintf(stderr, format, args);
    fputc('\n', stderr);
    if (advice)
        fprintf(stderr, "  %s\n", advice);
}

int cli_error(const char *command, const char *advice, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    say(command, "error", advice, format, args);
    va_end(args);
    return CLI_COULD_NOT;
}

void cli_warning(const char *command, const char *advice, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    say(command, "warning", advice, format, args);
    va_end(args);
}

bool cli_use_colour(FILE *stream)
{
    const char *no_colour = getenv("NO_COLOR"), *terminal = getenv("TERM");
    if (no_colour && *no_colour)
        return false;
    if (!terminal || strcmp(terminal, "dumb") == 0)
        return false;
    return isatty(fileno(stream)) == 1;
}

static size_t common_start(const char *a, const char *b)
{
    size_t length = 0;
    while (a[length] && a[length] == b[length])
        length++;
    return length;
}

/* The option that begins most like the wrong one, at least two letters alike. */
static const char *nearest_option(const char *wrong, const struct option *options)
{
    const char *best = NULL;
    size_t best_length = 1;
    for (; options->name; options++) {
        size_t length = common_start(wrong, options->name);
        if (length > best_length) {
            best = options->name;
            best_length = length;
        }
    }
    return best;
}

int cli_bad_option(const char *command, int result, char **argv, const struct option *options)
{
    const char *given = argv[optind - 1];
    char advice[128];
    snprintf(advice, sizeof advice, "isthmus %s --help lists the options", command);
    if (result == ':')
        return cli_error(command, advice, "%s needs a value", given);
    if (strncmp(given, "--", 2) != 0)
        return cli_error(command, advice, "unknown option -%c", optopt);
    const char *near = nearest_option(given + 2, options);
    if (near)
        snprintf(advice, sizeof advice, "did you mean --%s? isthmus %s --help lists the options",
                 near, command);
    return cli_error(command, advice, "unknown option %s", given);
}

static bool report_quantity(const char *command, const char *option,
                            const struct quantity_kind *kind, const char *text,
                            enum quantity_status status)
{
    char advice[160];
    snprintf(advice, sizeof advice, "%s takes %s: for example %s%s", option, kind->name,
             kind->example, strchr(text, ',') ? "; the decimal sign is a point" : "");
    cli_error(command, advice, "%s \"%s\" %s", option, text, quantity_problem(status));
    return false;
}

bool cli_quantity(const char *command, const char *option, const struct quantity_kind *kind,
                  const char *text, double *out)
{
    enum quantity_status status = quantity_read(kind, text, out);
    return status == QUANTITY_OK || report_quantity(command, option, kind, text, status);
}

bool cli_quantity_list(const char *command, const char *option, const struct quantity_kind *kind,
                       const char *text, struct cli_list *out)
{
    char item[64];
    out->count = 0;
    for (const char *at = text;; at++) {
        size_t length = strcspn(at, ",");
        if (out->count == CLI_LIST_MAX) {
            cli_error(command, NULL, "%s has more than %d values", option, CLI_LIST_MAX);
            return false;
        }
        snprintf(item, sizeof item, "%.*s", (int)(length < 60 ? length : 60), at);
        if (!cli_quantity(command, option, kind, item, &out->values[out->count]))
            return false;
        out->count++;
        at += length;
        if (!*at)
            return true;
    }
}

/* Reports and pictures of this program begin as JSON, SVG or HTML and name it near their start; a
 * table that `isthmus table` wrote names it too, but begins otherwise: somebody has filled it in.
 */
static bool is_our_report(const char *start, size_t size)
{
    return size > 0 && (start[0] == '{' || start[0] == '<') && memmem(start, size, "isthmus", 7);
}

/* Is there a file with content that this program did not write? */
static bool is_users_own(const char *path)
{
    struct stat stat_of;
    if (stat(path, &stat_of) != 0 || !S_ISREG(stat_of.st_mode))
        return false;
    FILE *file = fopen(path, "rb");
    char start[512];
    size_t size = file ? fread(start, 1, sizeof start, file) : 0;
    if (file)
        fclose(file);
    return stat_of.st_size > 0 && !is_our_report(start, size);
}

static bool is_same_place(const char *a, const char *b)
{
    struct stat stat_a, stat_b;
    return stat(a, &stat_a) == 0 && stat(b, &stat_b) == 0 && stat_a.st_dev == stat_b.st_dev &&
           stat_a.st_ino == stat_b.st_ino;
}

/* The folder that a file lies in. */
static const char *folder_of(const char *path, char folder[PATH_MAX])
{
    const char *slash = strrchr(path, '/');
    snprintf(folder, PATH_MAX, "%.*s", slash ? (int)(slash - path) + 1 : 1, slash ? path : ".");
    return folder;
}

static const char *last_part(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* Two names of a file that is not there yet agree in its folder and its last part. */
bool cli_is_same_file(const char *a, const char *b)
{
    char folder_a[PATH_MAX], folder_b[PATH_MAX];
    if (strcmp(a, b) == 0 || is_same_place(a, b))
        return true;
    return access(a, F_OK) != 0 && access(b, F_OK) != 0 &&
           strcmp(last_part(a), last_part(b)) == 0 &&
           is_same_place(folder_of(a, folder_a), folder_of(b, folder_b));
}

static bool cannot_write(const char *command, const char *option, const char *path, int error)
{
    cli_error(command, "name a file in a folder that exists and may be written to",
              "%s: cannot write %s: %s", option, path, strerror(error));
    return false;
}

/* May a file of that name be made, or written? */
static int output_error(const char *path)
{
    struct stat stat_of;
    char folder[PATH_MAX];
    if (stat(path, &stat_of) == 0 && S_ISDIR(stat_of.st_mode))
        return EISDIR;
    if (access(path, F_OK) == 0)
        return access(path, W_OK) == 0 ? 0 : errno;
    return access(folder_of(path, folder), W_OK | X_OK) == 0 ? 0 : errno;
}

bool cli_check_output(const char *command, const char *option, const char *path)
{
    if (strcmp(path, "-") == 0)
        return true;
    if (is_users_own(path)) {
        cli_error(command, "give another name, or remove the file first",
                  "%s: %s exists and was not written by isthmus", option, path);
        return false;
    }
    int error = output_error(path);
    return !error || cannot_write(command, option, path, error);
}

FILE *cli_open_output(const char *command, const char *option, const char *path)
{
    if (strcmp(path, "-") == 0)
        return stdout;
    if (!cli_check_output(command, option, path))
        return NULL;
    FILE *file = fopen(path, "w");
    if (!file)
        cannot_write(command, option, path, errno);
    return file;
}

bool cli_close_output(const char *command, const char *path, FILE *file)
{
    bool is_bad = ferror(file) != 0;
    if ((file == stdout ? fflush(file) : fclose(file)) != 0)
        is_bad = true;
    if (is_bad)
        cli_error(command, NULL, "writing %s failed: %s", path, strerror(errno));
    return !is_bad;
}

unsigned char *cli_read_file(const char *command, const char *path, size_t limit, size_t *size)
{
    FILE *file = fopen(path, "rb");
    unsigned char *bytes = file ? malloc(limit + 2) : NULL;
    if (!bytes) {
        cli_error(command, NULL, "cannot read %s: %s", path, strerror(errno));
        if (file)
            fclose(file);
        return NULL;
    }
    *size = fread(bytes, 1, limit + 1, file);
    bool is_bad = ferror(file) != 0;
    int error = errno;
    fclose(file);
    errno = error;
    if (is_bad || *size > limit) {
        cli_error(command, NULL, "cannot read %s: %s", path,
                  is_bad ? strerror(errno) : "it is far too large");
        free(bytes);
        return NULL;
    }
    bytes[*size] = 0;
    return bytes;
}
