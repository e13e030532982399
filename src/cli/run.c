/* Options of the commands that read a package, and the reading itself. */
#include "run.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define MAX_INPUT_BYTES ((size_t)64 * 1024 * 1024)
#define MAX_OBJECTS ((size_t)20 * 1000 * 1000)

enum run_option {
    OPT_CURRENTS = 256,
    OPT_BOARD,
    OPT_JSON,
    OPT_SVG,
    OPT_CONDUCTORS,
    OPT_ROLE,
    OPT_DRILL_FORMAT,
    OPT_BOARD_AT,
    OPT_ALL_NETS,
    OPT_STRICT,
    OPT_UNITS,
    OPT_RISE,
    OPT_OUTER,
    OPT_INNER,
    OPT_AMBIENT,
    OPT_CHORD,
    OPT_GAP,
    OPT_MAX_ENTRIES,
    OPT_MAX_NESTING,
    OPT_MAX_FILE,
    OPT_MAX_TOTAL,
    OPT_MAX_RATIO,
    OPT_MAX_OBJECTS,
    OPT_THREADS,
    OPT_HELP
};

/* Every option, once: its name, which commands take it, what --help says. */
static const struct run_option_line {
    const char *name, *argument;
    int value;
    unsigned takes; /* 0: all */
    const char *help;
} option_lines[] = {
    {"currents", "TABLE.csv", OPT_CURRENTS, TAKES_CURRENTS, "the net-current table"},
    {"board", "FILE.ini", OPT_BOARD, 0, "board facts: copper, limits, fabrication, joins"},
    {"json", "FILE", OPT_JSON, TAKES_JSON, "write the machine's report there as well"},
    {"svg", "FILE", OPT_SVG, TAKES_SVG, "write a picture of every copper layer"},
    {"conductors", NULL, OPT_CONDUCTORS, TAKES_CONDUCTORS,
     "list conductors by copper area, numbered; --svg shows the numbers"},
    {"role", "FILE=ROLE", OPT_ROLE, 0,
     "what a file is: top, bottom, inner:N, plated, nonplated,\n"
     "                            profile, mask-top, mask-bottom, ignore (repeatable);\n"
     "                            copper may add ,negative or ,positive, holes :1-4"},
    {"drill-format", "FILE=UNIT,I.D,ZEROS", OPT_DRILL_FORMAT, 0,
     "how a drill file's digits read, e.g. holes.drl=mm,3.3,leading\n"
     "                            (the zeros that are kept; or mm,decimal)"},
    {"board-at", "X,Y", OPT_BOARD_AT, 0, "which board of a panel: a point on it, in mm"},
    {"all-nets", NULL, OPT_ALL_NETS, TAKES_JUDGING,
     "a net without a row counts as could not judge"},
    {"strict", NULL, OPT_STRICT, TAKES_JUDGING, "pass by sum counts as could not judge"},
    {"rise", "K", OPT_RISE, 0, "allowed rise where no row says otherwise (default 10K)"},
    {"outer-copper", "UM", OPT_OUTER, 0, "finished outer copper (default 35um)"},
    {"inner-copper", "UM", OPT_INNER, 0, "finished inner copper (default 11.4um)"},
    {"ambient", "C", OPT_AMBIENT, 0, "ambient temperature (default 25C)"},
    {"chord-error", "UM", OPT_CHORD, 0, "how closely arcs are followed (default 0.5um)"},
    {"gap-close", "UM", OPT_GAP, 0, "gaps closed between strokes of one net (default 1um)"},
    {"units", "mm|mil", OPT_UNITS, 0, "lengths in the report"},
    {"max-entries", "N", OPT_MAX_ENTRIES, 0,
     "limits on what a package may unpack to: files (default 2000),"},
    {"max-nesting", "N", OPT_MAX_NESTING, 0, "  zips in zips (default 3),"},
    {"max-file-bytes", "N", OPT_MAX_FILE, 0, "  one file (default 256 MiB),"},
    {"max-total-bytes", "N", OPT_MAX_TOTAL, 0, "  all files (default 1 GiB),"},
    {"max-ratio", "N", OPT_MAX_RATIO, 0, "  unpacked to packed (default 200),"},
    {"max-objects", "N", OPT_MAX_OBJECTS, 0, "  drawn objects a layer (default 20 million)"},
    {"threads", "N", OPT_THREADS, 0, "worked on at once: layers, nets (default: all processors)"},
    {"help", NULL, OPT_HELP, 0, "this text"},
};
#define OPTION_COUNT (sizeof option_lines / sizeof *option_lines)

void run_print_option_help(unsigned takes)
{
    fputs("\nOptions\n", stdout);
    for (size_t i = 0; i < OPTION_COUNT; i++) {
        const struct run_option_line *line = &option_lines[i];
        if (line->takes && !(line->takes & takes))
            continue;
        char left[64];
        snprintf(left, sizeof left, "--%s%s%s", line->name, line->argument ? "=" : "",
                 line->argument ? line->argument : "");
        printf("  %-24s%s%s\n", left, strlen(left) < 24 ? "  " : "\n                            ",
               line->help);
    }
}

static void fill_getopt(struct option *out, unsigned takes)
{
    size_t count = 0;
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (!option_lines[i].takes || option_lines[i].takes & takes)
            out[count++] = (struct option){
                option_lines[i].name, option_lines[i].argument ? required_argument : no_argument,
                NULL, option_lines[i].value};
    out[count] = (struct option){0};
}

static bool remember(struct run *run, const char *name, const char *value)
{
    if (run->given_count == RUN_LIST_MAX) {
        cli_error(run->command, NULL, "more than %d options", RUN_LIST_MAX);
        return false;
    }
    char *text = value ? arena_printf(run->arena, "--%s=%s", name, value)
                       : arena_printf(run->arena, "--%s", name);
    if (text)
        run->given[run->given_count++] = text;
    return text != NULL;
}

static bool override(struct run *run, int which, const char *option,
                     const struct quantity_kind *kind, const char *text)
{
    double value;
    if (!cli_quantity(run->command, option, kind, text, &value))
        return false;
    if (run->override_count == sizeof run->overrides / sizeof *run->overrides) {
        cli_error(run->command, NULL, "too many options");
        return false;
    }
    run->overrides[run->override_count].which = which;
    run->overrides[run->override_count++].value = value;
    return true;
}

/* Splits "FILE=REST" at the last '='. */
static bool split_file(struct run *run, const char *option, const char *text, const char **file,
                       const char **rest)
{
    const char *equals = strrchr(text, '=');
    if (!equals || equals == text || !equals[1]) {
        cli_error(run->command, NULL, "--%s: \"%s\" is not FILE=SOMETHING", option, text);
        return false;
    }
    *file = arena_strndup(run->arena, text, (size_t)(equals - text));
    *rest = equals + 1;
    return *file != NULL;
}

static bool take_role(struct run *run, const char *text)
{
    struct board_options *options = &run->board_options;
    if (options->role_count == RUN_LIST_MAX)
        return false;
    struct role_option *role = &run->roles[options->role_count++];
    return split_file(run, "role", text, &role->file, &role->role);
}

static bool take_drill_format(struct run *run, const char *text)
{
    struct board_options *options = &run->board_options;
    const char *reading;
    if (options->drill_format_count == RUN_LIST_MAX)
        return false;
    struct drill_format_option *format = &run->drill_formats[options->drill_format_count++];
    if (!split_file(run, "drill-format", text, &format->file, &reading))
        return false;
    if (drill_reading_parse(reading, &format->reading))
        return true;
    cli_error(run->command, "for example --drill-format=holes.drl=mm,3.3,leading",
              "--drill-format: \"%s\" is no reading", reading);
    return false;
}

static bool take_board_at(struct run *run, const char *text)
{
    char *end;
    double x_mm = strtod(text, &end);
    bool is_good = end != text && *end == ',';
    const char *second = end + (is_good ? 1 : 0);
    double y_mm = is_good ? strtod(second, &end) : 0;
    if (!is_good || end == second || *end || !(x_mm > -1e4 && x_mm < 1e4) ||
        !(y_mm > -1e4 && y_mm < 1e4)) {
        cli_error(run->command, "for example --board-at=25.0,40.0",
                  "--board-at: \"%s\" is not X,Y in mm", text);
        return false;
    }
    run->board_options.has_board_at = true;
    run->board_options.board_at = (struct pos_nm){(int64_t)(x_mm * 1e6), (int64_t)(y_mm * 1e6)};
    return true;
}

static bool take_count(struct run *run, const char *option, const char *text, uint64_t most,
                       uint64_t *out)
{
    char *end;
    errno = 0;
    unsigned long long value = strtoull(text, &end, 10);
    if (*text < '0' || *text > '9' || *end || errno || value < 1 || value > most) {
        cli_error(run->command, NULL, "--%s: \"%s\" is not a whole number from 1 to %llu", option,
                  text, (unsigned long long)most);
        return false;
    }
    *out = value;
    return true;
}

static bool take_limit(struct run *run, int option, const char *name, const char *text)
{
    uint64_t value;
    bool is_small = option == OPT_MAX_NESTING || option == OPT_MAX_RATIO || option == OPT_THREADS;
    if (!take_count(run, name, text, is_small ? 1000000 : UINT64_C(1) << 40, &value))
        return false;
    switch (option) {
    case OPT_MAX_ENTRIES:
        run->limits.entry_count = (size_t)value;
        break;
    case OPT_MAX_NESTING:
        run->limits.nesting = (unsigned)value;
        break;
    case OPT_MAX_FILE:
        run->limits.file_bytes = value;
        break;
    case OPT_MAX_TOTAL:
        run->limits.total_bytes = value;
        break;
    case OPT_MAX_RATIO:
        run->limits.ratio = (unsigned)value;
        break;
    case OPT_THREADS:
        run->board_options.thread_count = (unsigned)value;
        break;
    default:
        run->board_options.max_objects = (size_t)value;
    }
    return true;
}

static bool take_units(struct run *run, const char *text)
{
    run->use_mil = strcmp(text, "mil") == 0;
    if (run->use_mil || strcmp(text, "mm") == 0)
        return true;
    cli_error(run->command, NULL, "--units: \"%s\" is neither mm nor mil", text);
    return false;
}

static bool take(struct run *run, int option, const char *name, const char *value)
{
    switch (option) {
    case OPT_CURRENTS:
        run->currents_path = value;
        return true;
    case OPT_BOARD:
        run->ini_path = value;
        return true;
    case OPT_JSON:
        run->json_path = value;
        return true;
    case OPT_SVG:
        run->svg_path = value;
        return true;
    case OPT_CONDUCTORS:
        return run->shows_conductors = true;
    case OPT_ROLE:
        return take_role(run, value);
    case OPT_DRILL_FORMAT:
        return take_drill_format(run, value);
    case OPT_BOARD_AT:
        return take_board_at(run, value);
    case OPT_ALL_NETS:
        return run->judge_all_nets = true;
    case OPT_STRICT:
        return run->is_strict = true;
    case OPT_UNITS:
        return take_units(run, value);
    case OPT_RISE:
        return override(run, OVERRIDE_RISE, "--rise", &quantity_kind_rise, value);
    case OPT_OUTER:
        return override(run, OVERRIDE_OUTER, "--outer-copper", &quantity_kind_copper, value);
    case OPT_INNER:
        return override(run, OVERRIDE_INNER, "--inner-copper", &quantity_kind_copper, value);
    case OPT_AMBIENT:
        return override(run, OVERRIDE_AMBIENT, "--ambient", &quantity_kind_temperature, value);
    case OPT_CHORD:
        return override(run, OVERRIDE_CHORD, "--chord-error", &quantity_kind_chord_error, value);
    case OPT_GAP:
        return override(run, OVERRIDE_GAP, "--gap-close", &quantity_kind_gap, value);
    case OPT_HELP:
        return run->wants_help = true;
    default:
        return take_limit(run, option, name, value);
    }
}

static const char *option_name(int value)
{
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (option_lines[i].value == value)
            return option_lines[i].name;
    return "";
}

static void run_init(struct run *run, const char *command)
{
    *run = (struct run){.command = command, .limits = package_default_limits};
    run->board_options.roles = run->roles;
    run->board_options.drill_formats = run->drill_formats;
    run->board_options.max_objects = MAX_OBJECTS;
    board_facts_default(&run->facts);
    run->arena = arena_new("run");
    run->diags.arena = run->arena;
}

/* ---- where the answer goes ---- */

static bool is_input(const struct run *run, const char *path)
{
    bool is_one = (run->currents_path && cli_is_same_file(path, run->currents_path)) ||
                  (run->ini_path && cli_is_same_file(path, run->ini_path));
    for (size_t i = 0; i < run->path_count; i++)
        is_one |= cli_is_same_file(path, run->paths[i]);
    return is_one;
}

static bool check_output(const struct run *run, const char *option, const char *path)
{
    if (!path || strcmp(path, "-") == 0)
        return true;
    if (is_input(run, path)) {
        cli_error(run->command, "give another name", "%s: %s is read, and must not be overwritten",
                  option, path);
        return false;
    }
    return cli_check_output(run->command, option, path);
}

/* Looked at before the work: a name that will not do is told at once. */
static bool check_outputs(const struct run *run)
{
    if (run->json_path && run->svg_path && cli_is_same_file(run->json_path, run->svg_path)) {
        cli_error(run->command, "give each a name of its own",
                  "--json and --svg name the same file %s", run->json_path);
        return false;
    }
    return check_output(run, "--json", run->json_path) && check_output(run, "--svg", run->svg_path);
}

FILE *run_text_stream(const struct run *run)
{
    bool is_stdout_taken = (run->json_path && strcmp(run->json_path, "-") == 0) ||
                           (run->svg_path && strcmp(run->svg_path, "-") == 0);
    return is_stdout_taken ? stderr : stdout;
}

int run_options(struct run *run, const char *command, int argc, char **argv, unsigned takes)
{
    struct option options[OPTION_COUNT + 1];
    run_init(run, command);
    if (!run->arena)
        return cli_error(command, NULL, "out of memory");
    fill_getopt(options, takes);
    opterr = 0;
    optind = 1;
    for (int option; (option = getopt_long(argc, argv, ":", options, NULL)) != -1;) {
        if (option == '?' || option == ':')
            return cli_bad_option(command, option, argv, options);
        if (optarg && !*optarg)
            return cli_error(command, NULL, "--%s needs a value", option_name(option));
        if (!remember(run, option_name(option), optarg) ||
            !take(run, option, option_name(option), optarg ? optarg : ""))
            return CLI_COULD_NOT;
    }
    run->paths = (const char *const *)(argv + optind);
    run->path_count = (size_t)(argc - optind);
    if (!run->wants_help && run->path_count == 0) {
        char advice[64];
        snprintf(advice, sizeof advice, "isthmus %s --help shows how", command);
        return cli_error(command, advice, "no package given: a zip, a folder, or its files");
    }
    return run->wants_help || check_outputs(run) ? CLI_CLEAN : CLI_COULD_NOT;
}

/* ---- reading ---- */

static void set_fact(struct fact *fact, double value)
{
    fact->value = value;
    fact->source = FACT_OPTION;
}

static void apply_overrides(struct run *run)
{
    for (size_t i = 0; i < run->override_count; i++) {
        double value = run->overrides[i].value;
        switch (run->overrides[i].which) {
        case OVERRIDE_RISE:
            set_fact(&run->facts.rise_k, value);
            break;
        case OVERRIDE_OUTER:
            set_fact(&run->facts.outer_copper_um, value);
            break;
        case OVERRIDE_INNER:
            set_fact(&run->facts.inner_copper_um, value);
            break;
        case OVERRIDE_AMBIENT:
            set_fact(&run->facts.ambient_c, value);
            break;
        case OVERRIDE_CHORD:
            set_fact(&run->facts.chord_error_um, value);
            break;
        case OVERRIDE_GAP:
            set_fact(&run->facts.gap_close_um, value);
            break;
        }
    }
}

/* Reads an input file into the arena and the table of files. 0 after printing why not. */
static uint32_t read_input(struct run *run, const char *path, const uint8_t **bytes, size_t *size)
{
    unsigned char *read = cli_read_file(run->command, path, MAX_INPUT_BYTES, size);
    if (!read)
        return 0;
    char *copy = arena_strndup(run->arena, (const char *)read, *size);
    free(read);
    uint32_t id = copy ? file_table_add(&run->files, path, (const uint8_t *)copy, *size, false) : 0;
    if (!id)
        cli_error(run->command, NULL, "out of memory");
    *bytes = (const uint8_t *)copy;
    return id;
}

static int could_not(const struct run *run, bool is_no_memory)
{
    run_print_diags(run, DIAG_WARNING);
    if (is_no_memory)
        return cli_error(run->command, NULL, "out of memory");
    return CLI_COULD_NOT;
}

static int read_side_inputs(struct run *run)
{
    const uint8_t *bytes;
    size_t size;
    if (run->ini_path) {
        uint32_t id = read_input(run, run->ini_path, &bytes, &size);
        if (!id)
            return CLI_COULD_NOT;
        enum currents_status status =
            board_ini_read(id, bytes, size, run->arena, &run->diags, &run->facts);
        if (status != CURRENTS_OK)
            return could_not(run, status == CURRENTS_NO_MEMORY);
    }
    apply_overrides(run);
    if (run->currents_path) {
        uint32_t id = read_input(run, run->currents_path, &bytes, &size);
        if (!id)
            return CLI_COULD_NOT;
        enum currents_status status =
            currents_read(id, bytes, size, run->arena, &run->diags, &run->table);
        if (status != CURRENTS_OK)
            return could_not(run, status == CURRENTS_NO_MEMORY);
        run->has_table = true;
    }
    return CLI_CLEAN;
}

int run_read(struct run *run)
{
    if (read_side_inputs(run) != CLI_CLEAN)
        return CLI_COULD_NOT;
    enum package_status package = package_read(run->paths, run->path_count, &run->limits,
                                               run->arena, &run->files, &run->diags);
    if (package != PACKAGE_OK)
        return could_not(run, package == PACKAGE_NO_MEMORY);
    enum board_status status =
        board_read(&run->files, &run->facts, run->has_table ? &run->table : NULL,
                   &run->board_options, run->arena, &run->diags, &run->board);
    run->has_board = status == BOARD_OK;
    if (!run->has_board)
        return could_not(run, status == BOARD_NO_MEMORY);
    return CLI_CLEAN;
}

static void show_progress(const char *what, size_t done, size_t total, void *context)
{
    (void)context;
    fprintf(stderr, "\r\033[K%s: %zu of %zu", what, done, total);
}

progress_fn run_progress(void)
{
    return isatty(STDERR_FILENO) ? show_progress : NULL;
}

void run_progress_end(void)
{
    if (isatty(STDERR_FILENO))
        fputs("\r\033[K", stderr);
}

void run_print_diags(const struct run *run, enum diag_level least)
{
    struct diag_list shown = run->diags;
    shown.items = NULL;
    shown.count = 0;
    struct diag *items = calloc(run->diags.count + 1, sizeof *items);
    if (!items)
        return;
    for (size_t i = 0; i < run->diags.count; i++)
        if (run->diags.items[i].level >= least)
            items[shown.count++] = run->diags.items[i];
    shown.items = items;
    report_diags(&run->files, &shown, cli_use_colour(stderr), stderr);
    free(items);
}

bool run_write_svg(const struct run *run, const struct report_input *in)
{
    if (!run->svg_path)
        return true;
    FILE *file = cli_open_output(run->command, "--svg", run->svg_path);
    if (!file)
        return false;
    enum report_status status = report_svg(in, file);
    bool is_closed = cli_close_output(run->command, run->svg_path, file);
    if (status == REPORT_NO_MEMORY)
        cli_error(run->command, NULL, "out of memory");
    return is_closed && status == REPORT_OK;
}

/* As given; of several files the first by name, so that their order does not matter. */
static const char *package_name(const struct run *run)
{
    const char *first = run->paths[0];
    for (size_t i = 1; i < run->path_count; i++)
        if (strcmp(run->paths[i], first) < 0)
            first = run->paths[i];
    if (run->path_count == 1)
        return first;
    const char *name = arena_printf(run->arena, "%s and %zu more", first, run->path_count - 1);
    return name ? name : first;
}

struct report_options run_report_options(const struct run *run)
{
    return (struct report_options){.use_colour = cli_use_colour(run_text_stream(run)),
                                   .use_mil = run->use_mil,
                                   .version = ISTHMUS_VERSION,
                                   .options = run->given,
                                   .option_count = run->given_count,
                                   .package = package_name(run)};
}

void run_free(struct run *run)
{
    if (run->has_board)
        board_free(&run->board);
    file_table_free(&run->files);
    arena_free(run->arena);
}
