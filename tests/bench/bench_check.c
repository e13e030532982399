/*
 * Whole packages: generated ones of 1,000 to 300,000 objects, the demo board, and every real
 * package (folder in ISTHMUS_BOARDS). For each: how fast its drawings are parsed, the time until
 * the board is known (reading, meshes, conductors, names), the time of necks (the rule
 * copper-width), and the program's whole run: `check` where there is a table, else `inspect`. Board
 * and necks are processor time of one thread; so is parsing; of the whole run the processor time,
 * the wall time and the peak memory are told. Times depend on the machine: compare lines of one
 * run.
 *
 * The program is build/release/isthmus, or what the environment variable ISTHMUS names.
 */
#include "base/keep_memory.h"
#include "isthmus/package.h"
#include "isthmus/rule.h"

#include <dirent.h>
#include <fcntl.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define PARSE_SECONDS 0.2 /* the drawings are parsed again and again for so long */
#define MARGIN_LIMIT 3.0  /* as `isthmus check` asks for it */
#define PATIENCE_S 100    /* for one package */

struct phases { /* seconds; NAN: not measured */
    double parse_mb_s, board_s, necks_s;
    size_t object_count, judged_count;
};
struct job {
    const char *name, *package, *table /* or NULL */, *board_ini /* or NULL */;
};

static double seconds_of(clockid_t clock)
{
    struct timespec now;
    clock_gettime(clock, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static double seconds(struct timeval t)
{
    return (double)t.tv_sec + (double)t.tv_usec * 1e-6;
}

/* ---- one package, step by step, in a process of its own ---- */

static size_t parse_once(const struct file_table *files, double *bytes)
{
    size_t objects = 0;
    for (size_t i = 0; i < files->count; i++) {
        const struct source_file *file = &files->files[i];
        if (!gerber_looks_like(file->bytes, file->size))
            continue;
        struct arena *scratch = arena_new("drawing");
        struct diag_list told = {.arena = scratch};
        struct drawing drawing;
        gerber_read((uint32_t)i + 1, file->bytes, file->size, 20000000, scratch, &told, &drawing);
        objects += drawing.object_count;
        *bytes += (double)file->size;
        arena_free(scratch);
    }
    return objects;
}

static void time_parsing(const struct file_table *files, struct phases *out)
{
    double bytes = 0, start = seconds_of(CLOCK_PROCESS_CPUTIME_ID), elapsed = 0;
    while (elapsed < PARSE_SECONDS) {
        out->object_count = parse_once(files, &bytes);
        elapsed = seconds_of(CLOCK_PROCESS_CPUTIME_ID) - start;
    }
    out->parse_mb_s = bytes / elapsed * 1e-6;
}

static bool read_text(const char *path, struct arena *arena, const uint8_t **bytes, size_t *size)
{
    FILE *file = fopen(path, "rb");
    struct stat about;
    if (!file || fstat(fileno(file), &about) != 0)
        return false;
    uint8_t *text = arena_alloc(arena, (size_t)about.st_size + 1, 1);
    *size = text ? fread(text, 1, (size_t)about.st_size, file) : 0;
    *bytes = text;
    fclose(file);
    return text != NULL;
}

struct inputs {
    struct arena *arena;
    struct diag_list diags;
    struct file_table files;
    struct board_facts facts;
    struct current_table table;
    struct board board;
};

static bool read_inputs(const struct job *job, struct inputs *in)
{
    const uint8_t *bytes;
    size_t size;
    in->arena = arena_new("bench");
    in->diags.arena = in->arena;
    board_facts_default(&in->facts);
    if (job->board_ini &&
        (!read_text(job->board_ini, in->arena, &bytes, &size) ||
         board_ini_read(0, bytes, size, in->arena, &in->diags, &in->facts) != CURRENTS_OK))
        return false;
    if (job->table &&
        (!read_text(job->table, in->arena, &bytes, &size) ||
         currents_read(0, bytes, size, in->arena, &in->diags, &in->table) != CURRENTS_OK))
        return false;
    return package_read(&job->package, 1, &package_default_limits, in->arena, &in->files,
                        &in->diags) == PACKAGE_OK;
}

static struct phases measure(const struct job *job)
{
    struct phases out = {NAN, NAN, NAN, 0, 0};
    struct inputs in = {0};
    if (!read_inputs(job, &in))
        return out;
    time_parsing(&in.files, &out);
    const struct board_options options = {.thread_count = 1};
    const struct current_table *table = job->table ? &in.table : NULL;
    double start = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
    if (board_read(&in.files, &in.facts, table, &options, in.arena, &in.diags, &in.board) !=
        BOARD_OK)
        return out;
    out.board_s = seconds_of(CLOCK_PROCESS_CPUTIME_ID) - start;
    if (!table)
        return out;
    const struct rule_context context = {.board = &in.board,
                                         .table = table,
                                         .margin_limit = MARGIN_LIMIT,
                                         .arena = in.arena,
                                         .diags = &in.diags};
    struct check_result result = {0};
    start = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
    if (copper_width_run(&context, &result) == RULE_OK)
        out.necks_s = seconds_of(CLOCK_PROCESS_CPUTIME_ID) - start;
    out.judged_count = result.verdict_count;
    return out;
}

static struct phases measure_apart(const struct job *job)
{
    struct phases out = {NAN, NAN, NAN, 0, 0}, found;
    int ends[2];
    if (pipe(ends) != 0)
        return out;
    fflush(stdout);
    pid_t child = fork();
    if (child == 0) {
        alarm(PATIENCE_S);
        found = measure(job);
        _exit(write(ends[1], &found, sizeof found) == sizeof found ? 0 : 1);
    }
    close(ends[1]);
    if (child > 0 && read(ends[0], &found, sizeof found) == sizeof found)
        out = found;
    close(ends[0]);
    if (child > 0)
        waitpid(child, NULL, 0);
    return out;
}

/* ---- the program's whole run ---- */

struct whole {
    double processor_s, wall_s, mib;
    int code; /* -1: it took too long, or died */
};

static void exec_quietly(const char *const *argv)
{
    int nowhere = open("/dev/null", O_WRONLY);
    if (nowhere < 0 || dup2(nowhere, 1) < 0 || dup2(nowhere, 2) < 0)
        _exit(126);
    alarm(PATIENCE_S);
    execv(argv[0], (char *const *)(uintptr_t)argv);
    _exit(127);
}

static struct whole run_program(const char *const *argv)
{
    double start = seconds_of(CLOCK_MONOTONIC);
    pid_t child = fork();
    if (child == 0)
        exec_quietly(argv);
    int status;
    struct rusage used;
    if (child < 0 || wait4(child, &status, 0, &used) < 0) {
        perror(argv[0]);
        exit(2);
    }
    return (struct whole){seconds(used.ru_utime) + seconds(used.ru_stime),
                          seconds_of(CLOCK_MONOTONIC) - start, (double)used.ru_maxrss / 1024,
                          WIFEXITED(status) ? WEXITSTATUS(status) : -1};
}

static struct whole run_job(const char *program, const struct job *job)
{
    char currents[4200], facts[4200];
    snprintf(currents, sizeof currents, "--currents=%s", job->table ? job->table : "");
    snprintf(facts, sizeof facts, "--board=%s", job->board_ini ? job->board_ini : "");
    const char *const check[] = {
        program, "check", job->package, currents, job->board_ini ? facts : NULL, NULL};
    const char *const inspect[] = {program, "inspect", job->package, NULL};
    return run_program(job->table ? check : inspect);
}

/* ---- the table of results ---- */

static void print_head(const char *what)
{
    printf("\n%-24s %8s %8s %9s %9s %6s %8s %10s %9s %9s %5s\n", what, "objects", "MB/s", "board s",
           "necks s", "nets", "run", "processor", "wall s", "MiB", "exit");
}

static void print_seconds(double value)
{
    if (isnan(value))
        printf(" %9s", "-");
    else
        printf(" %9.3f", value);
}

static void run(const char *program, const struct job *job)
{
    struct phases phases = measure_apart(job);
    struct whole whole = run_job(program, job);
    printf("%-24.24s %8zu %8.1f", job->name, phases.object_count, phases.parse_mb_s);
    print_seconds(phases.board_s);
    print_seconds(phases.necks_s);
    printf(" %6zu %8s %10.3f %9.3f %9.1f", phases.judged_count, job->table ? "check" : "inspect",
           whole.processor_s, whole.wall_s, whole.mib);
    if (whole.code < 0)
        printf("  over %d s\n", PATIENCE_S);
    else
        printf(" %5d\n", whole.code);
    fflush(stdout);
}

/* ---- generated packages ---- */

#define CELL_NM 3000000 /* a net has a square of its own */
#define OBJECTS_A_NET 10
#define JUDGED_NETS 100

static FILE *open_in(const char *folder, const char *name)
{
    char path[4200];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    if (!file) {
        perror(path);
        exit(2);
    }
    return file;
}

static void write_head(FILE *file, const char *function)
{
    fprintf(file, "%%TF.FileFunction,%s*%%\n%%FSLAX46Y46*%%\n%%MOMM*%%\nG01*\n", function);
}

/* Two pads and a zigzag of eight strokes between them. */
static void draw_net(FILE *file, size_t net, int64_t x, int64_t y)
{
    fprintf(file, "%%TO.N,N%zu*%%\nD11*\n%%TO.P,A%zu,1*%%\nX%lldY%lldD03*\n", net, net,
            (long long)x + 500000, (long long)y + 500000);
    fprintf(file, "%%TO.P,B%zu,1*%%\nX%lldY%lldD03*\n%%TD.P*%%\nD10*\nX%lldY%lldD02*\n", net,
            (long long)x + 2500000, (long long)y + 2500000, (long long)x + 500000,
            (long long)y + 500000);
    for (int i = 1; i <= 8; i++)
        fprintf(file, "X%lldY%lldD01*\n", (long long)x + 500000 + (i + 1) / 2 * 500000,
                (long long)y + 500000 + i / 2 * 500000);
}

static void write_copper(const char *folder, size_t net_count, size_t side)
{
    FILE *file = open_in(folder, "board-top.gbr");
    write_head(file, "Copper,L1,Top");
    fputs("%TA.AperFunction,Conductor*%\n%ADD10C,0.25*%\n%TA.AperFunction,SMDPad,CuDef*%\n"
          "%ADD11R,0.8X0.6*%\n%TD*%\n",
          file);
    for (size_t net = 0; net < net_count; net++)
        draw_net(file, net, (int64_t)(net % side) * CELL_NM, (int64_t)(net / side) * CELL_NM);
    fputs("M02*\n", file);
    fclose(file);
    file = open_in(folder, "board-bottom.gbr");
    write_head(file, "Copper,L2,Bot");
    fputs("%ADD10C,0.25*%\nD10*\nX1000000Y1000000D03*\nM02*\n", file);
    fclose(file);
}

static void write_profile(const char *folder, size_t side)
{
    FILE *file = open_in(folder, "board-profile.gbr");
    long long to = (long long)side * CELL_NM + 1000000, from = -1000000;
    write_head(file, "Profile,NP");
    fprintf(file,
            "%%ADD10C,0.05*%%\nD10*\nX%lldY%lldD02*\nX%lldY%lldD01*\nX%lldY%lldD01*\n"
            "X%lldY%lldD01*\nX%lldY%lldD01*\nM02*\n",
            from, from, to, from, to, to, from, to, from, from);
    fclose(file);
}

static void write_table(const char *folder, size_t net_count)
{
    FILE *file = open_in(folder, "currents.csv");
    fputs("net,current_a\n", file);
    for (size_t net = 0; net < net_count && net < JUDGED_NETS; net++)
        fprintf(file, "N%zu,%s\n", net, net % 10 ? "0.5" : "3");
    fclose(file);
}

static void remove_in(const char *folder, const char *name)
{
    char path[4200];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    unlink(path);
}

static void run_generated(const char *program, size_t object_count)
{
    char folder[1024], package[1100], table[1100], name[64];
    const char *place = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/isthmus-bench-XXXXXX", place ? place : P_tmpdir);
    if (!mkdtemp(folder)) {
        perror(folder);
        exit(2);
    }
    size_t net_count = object_count / OBJECTS_A_NET;
    size_t side = (size_t)ceil(sqrt((double)net_count));
    snprintf(package, sizeof package, "%s/package", folder);
    snprintf(table, sizeof table, "%s/currents.csv", folder);
    snprintf(name, sizeof name, "generated, %zu", object_count);
    mkdir(package, 0700);
    write_copper(package, net_count, side);
    write_profile(package, side);
    write_table(folder, net_count);
    run(program, &(struct job){name, package, table, NULL});
    remove_in(package, "board-top.gbr");
    remove_in(package, "board-bottom.gbr");
    remove_in(package, "board-profile.gbr");
    rmdir(package);
    unlink(table);
    rmdir(folder);
}

/* ---- real packages ---- */

/* The package inside a folder of a real board: its only zip, or the folder itself. */
static void package_path(const char *folder, char *path, size_t size)
{
    snprintf(path, size, "%s", folder);
    DIR *dir = opendir(folder);
    for (struct dirent *entry; dir && (entry = readdir(dir));) {
        size_t length = strlen(entry->d_name);
        if (length > 4 && strcmp(entry->d_name + length - 4, ".zip") == 0)
            snprintf(path, size, "%s/%s", folder, entry->d_name);
    }
    if (dir)
        closedir(dir);
}

static void run_real(const char *program, const char *boards, const char *name)
{
    char folder[2048], path[4096], table[2048];
    snprintf(folder, sizeof folder, "%s/%s", boards, name);
    snprintf(table, sizeof table, "tests/reference/real/%s/currents.csv", name);
    bool has_table = access(table, R_OK) == 0; /* it was written for the folder */
    package_path(folder, path, sizeof path);
    run(program, &(struct job){name, has_table ? folder : path, has_table ? table : NULL, NULL});
}

static void run_all_real(const char *program, const char *boards)
{
    struct dirent **entries;
    int count = scandir(boards, &entries, NULL, alphasort);
    for (int i = 0; i < count; i++) {
        if (entries[i]->d_name[0] != '.' && entries[i]->d_type == DT_DIR)
            run_real(program, boards, entries[i]->d_name);
        free(entries[i]);
    }
    if (count >= 0)
        free(entries);
}

int main(void)
{
    keep_memory();
    const char *program = getenv("ISTHMUS"), *boards = getenv("ISTHMUS_BOARDS");
    if (!program)
        program = "build/release/isthmus";
    puts(
        "MB/s: parsing; board: reading, meshes, conductors, names; necks: the rule copper-width on "
        "the nets\nof the table; then the whole run of the program. Processor seconds where not "
        "said otherwise.");
    print_head("package");
    const size_t counts[] = {1000, 10000, 100000, 300000};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++)
        run_generated(program, counts[i]);
    run(program, &(struct job){"the demo board", "fixtures/coldframe/coldframe.zip",
                               "fixtures/coldframe/currents.csv", "fixtures/coldframe/board.ini"});
    print_head("real package");
    if (boards && *boards)
        run_all_real(program, boards);
    else
        puts("none: set ISTHMUS_BOARDS to a folder of real packages");
    return 0;
}
