/* isthmus inspect and isthmus table: what a package holds, and a table to start from. */
#include "commands.h"
#include "run.h"

#include <stdlib.h>

typedef enum report_status (*report_fn)(const struct report_input *in, FILE *out);

struct viewer {
    const char *command;
    const char *help;
    unsigned takes;
    report_fn report;
    bool wants_capacities, wants_dead_ends;
};

struct measured {
    struct terminal_capacity *good_for;
    struct dead_end *dead_ends;
    size_t dead_end_count;
};

/* false after printing why. */
static bool measure(struct run *run, const struct viewer *viewer, struct measured *out)
{
    const struct rule_context context = {.board = &run->board,
                                         .margin_limit = 1,
                                         .thread_count = run->board_options.thread_count,
                                         .arena = run->arena,
                                         .diags = &run->diags,
                                         .progress = run_progress()};
    bool is_done = true;
    *out = (struct measured){0};
    if (viewer->wants_capacities) {
        out->good_for =
            arena_alloc(run->arena, run->board.terminal_count + 1, sizeof *out->good_for);
        is_done = out->good_for && terminal_capacity_run(&context, out->good_for) == RULE_OK;
    }
    if (is_done && viewer->wants_dead_ends && !run->shows_conductors)
        is_done = dead_ends_run(&context, &out->dead_ends, &out->dead_end_count) == RULE_OK;
    run_progress_end();
    if (!is_done)
        cli_error(run->command, NULL, "out of memory");
    return is_done;
}

/* What --role can name, when the package could not be put together. */
static void list_files(const struct run *run)
{
    if (run->files.count)
        fputs("Files of the package (for --role FILE=ROLE)\n", stdout);
    for (size_t i = 0; i < run->files.count; i++)
        if (run->files.files[i].is_package)
            printf("  %10zu bytes  %s\n", run->files.files[i].size, run->files.files[i].name);
}

static int view(struct run *run, const struct viewer *viewer)
{
    if (run_read(run) != CLI_CLEAN) {
        if (!viewer->wants_capacities) /* a table must stay a table */
            list_files(run);
        return CLI_COULD_NOT;
    }
    struct measured measured;
    if (!measure(run, viewer, &measured))
        return CLI_COULD_NOT;
    struct report_options options = run_report_options(run);
    int code = diag_has_errors(&run->diags) ? CLI_COULD_NOT : CLI_CLEAN;
    const struct report_input in = {.board = &run->board,
                                    .table = run->has_table ? &run->table : NULL,
                                    .diags = &run->diags,
                                    .options = &options,
                                    .good_for = measured.good_for,
                                    .dead_ends = measured.dead_ends,
                                    .dead_end_count = measured.dead_end_count,
                                    .shows_conductors = run->shows_conductors,
                                    .exit_code = code};
    report_fn report = run->shows_conductors ? report_conductors_text : viewer->report;
    FILE *text = run_text_stream(run);
    if (report(&in, text) != REPORT_OK || fflush(text) != 0)
        return cli_error(run->command, NULL, "writing the report failed");
    if (run->shows_conductors ||
        viewer->wants_capacities) /* they say nothing of what is doubtful */
        run_print_diags(run, DIAG_ERROR);
    return run_write_svg(run, &in) ? code : CLI_COULD_NOT;
}

static int run_viewer(int argc, char **argv, const struct viewer *viewer)
{
    struct run *run = calloc(1, sizeof *run);
    if (!run)
        return cli_error(viewer->command, NULL, "out of memory");
    int code = run_options(run, viewer->command, argc, argv, viewer->takes);
    if (code == CLI_CLEAN && run->wants_help) {
        fputs(viewer->help, stdout);
        run_print_option_help(viewer->takes);
    } else if (code == CLI_CLEAN) {
        code = view(run, viewer);
    }
    run_free(run);
    free(run);
    return code;
}

int cmd_inspect(int argc, char **argv)
{
    static const struct viewer inspect = {
        .command = "inspect",
        .help = "Usage: isthmus inspect PACKAGE... [options]\n"
                "\n"
                "Shows what was understood: every file's role and why, holes, copper layers, nets "
                "with their\n"
                "terminals and contacts, islands, copper that leads nowhere, bared copper, and "
                "everything\n"
                "doubtful. With --conductors the conductors alone, numbered: for boards that name "
                "nothing.\n",
        .takes = TAKES_CURRENTS | TAKES_SVG | TAKES_CONDUCTORS,
        .report = report_inspect_text,
        .wants_dead_ends = true};
    return run_viewer(argc, argv, &inspect);
}

int cmd_table(int argc, char **argv)
{
    static const struct viewer table = {
        .command = "table",
        .help = "Usage: isthmus table PACKAGE... [options] > currents.csv\n"
                "\n"
                "Writes a starter net-current table: every named net with its terminals, most "
                "copper first,\n"
                "currents left empty for you to fill in; with --currents, what a table already "
                "says is kept\n"
                "and carried over to the other side of two-pin parts.\n",
        .takes = TAKES_CURRENTS,
        .report = report_table_csv,
        .wants_capacities = true};
    return run_viewer(argc, argv, &table);
}
