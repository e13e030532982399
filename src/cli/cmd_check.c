/* isthmus check: the main job. */
#include "commands.h"
#include "run.h"

#include <stdlib.h>

#define TAKES (TAKES_CURRENTS | TAKES_JSON | TAKES_SVG | TAKES_JUDGING)
#define MARGIN_LIMIT 3.0

static void print_help(void)
{
    fputs("Usage: isthmus check PACKAGE... [--currents=TABLE.csv] [options]\n"
          "\n"
          "Checks that every conductor's narrowest copper can carry its current, and that every "
          "named net is\n"
          "one piece of copper and no piece two nets (without a table, only these). PACKAGE is a "
          "zip, "
          "a folder,\n"
          "or several files: exactly what you are about to order. TABLE.csv says which net carries "
          "what\n"
          "(`isthmus table PACKAGE` writes a starter).\n"
          "\n"
          "Exit code: 0 every net of the table was judged and nothing was found; 1 at least one "
          "finding;\n"
          "2 something could not be judged (findings are printed all the same).\n",
          stdout);
    run_print_option_help(TAKES);
}

/* Without a table splits and joins are all that is asked: they must be known of every net. */
static bool has_disputed_net(const struct board *board)
{
    for (size_t n = 0; n < board->net_count; n++)
        if (board->nets[n].state == NET_DISPUTED)
            return true;
    return false;
}

static int exit_code_of(const struct run *run, const struct check_result *result)
{
    for (size_t i = 0; i < result->verdict_count; i++)
        if (result->verdicts[i].verdict == VERDICT_NOT_JUDGED || result->verdicts[i].reason)
            return CLI_COULD_NOT;
    bool is_nothing_looked_at = run->has_table
                                    ? result->verdict_count == 0
                                    : run->board.net_count == 0 || has_disputed_net(&run->board);
    if (is_nothing_looked_at || diag_has_errors(&run->diags))
        return CLI_COULD_NOT;
    return result->finding_count ? CLI_FINDINGS : CLI_CLEAN;
}

static bool write_json(const struct run *run, const struct report_input *in)
{
    if (!run->json_path)
        return true;
    FILE *file = cli_open_output(run->command, "--json", run->json_path);
    if (!file)
        return false;
    enum report_status status = report_check_json(in, file);
    bool is_closed = cli_close_output(run->command, run->json_path, file);
    return is_closed && status == REPORT_OK;
}

static int report(struct run *run, const struct check_result *result)
{
    struct report_options options = run_report_options(run);
    const struct report_input in = {.board = &run->board,
                                    .table = run->has_table ? &run->table : NULL,
                                    .result = result,
                                    .diags = &run->diags,
                                    .options = &options,
                                    .exit_code = exit_code_of(run, result)};
    run_print_diags(run, DIAG_WARNING);
    FILE *text = run_text_stream(run);
    bool is_written = report_check_text(&in, text) == REPORT_OK && fflush(text) == 0;
    if (!is_written)
        cli_error(run->command, NULL, "writing the report failed");
    is_written &= write_json(run, &in);
    is_written &= run_write_svg(run, &in);
    return is_written ? in.exit_code : CLI_COULD_NOT;
}

/* Reads the board once more with no gap closed, judges it, and takes back what then fails. */
static enum rule_status judge_without_closing(struct run *run, const struct rule_context *context,
                                              struct check_result *result)
{
    struct board open_board;
    struct check_result open;
    struct diag_list told = {.arena = run->arena}; /* all of it was told by the first reading */
    struct board_facts facts = run->facts;
    facts.gap_close_um.value = 0;
    enum board_status status = board_read(&run->files, &facts, context->table, &run->board_options,
                                          run->arena, &told, &open_board);
    if (status == BOARD_NO_MEMORY)
        return RULE_NO_MEMORY;
    if (status != BOARD_OK) { /* a mesh that failed a check of its own: say so, take all back */
        diag_add(&run->diags, DIAG_ERROR, "gaps-open-unread", (struct source_pos){0},
                 "this is a defect of the program: please report it with the package",
                 "the package could not be read with its small gaps left open");
        return take_back_gap_passes(context, result, context->board, &(struct check_result){0});
    }
    struct rule_context again = *context;
    again.board = &open_board;
    again.diags = &told;
    again.asks_net = nets_with_closed_gaps(context, result, &open_board); /* the rest is the same */
    enum rule_status rule = again.asks_net ? copper_width_run(&again, &open) : RULE_NO_MEMORY;
    if (rule == RULE_OK)
        rule = take_back_gap_passes(context, result, &open_board, &open);
    board_free(&open_board);
    return rule;
}

static int check(struct run *run)
{
    if (run_read(run) != CLI_CLEAN)
        return CLI_COULD_NOT;
    const struct rule_context context = {.board = &run->board,
                                         .table = run->has_table ? &run->table : NULL,
                                         .judge_all_nets = run->judge_all_nets,
                                         .is_strict = run->is_strict,
                                         .margin_limit = MARGIN_LIMIT,
                                         .arena = run->arena,
                                         .diags = &run->diags,
                                         .progress = run_progress()};
    struct check_result result;
    enum rule_status status = rules_run(&context, &result);
    if (status == RULE_OK && has_judged_with_closed_gaps(&result))
        status = judge_without_closing(run, &context, &result);
    run_progress_end();
    if (status != RULE_OK)
        return cli_error(run->command, NULL, "out of memory");
    return report(run, &result);
}

int cmd_check(int argc, char **argv)
{
    struct run *run = calloc(1, sizeof *run);
    if (!run)
        return cli_error("check", NULL, "out of memory");
    int code = run_options(run, "check", argc, argv, TAKES);
    if (code == CLI_CLEAN && run->wants_help)
        print_help();
    else if (code == CLI_CLEAN)
        code = check(run);
    run_free(run);
    free(run);
    return code;
}
