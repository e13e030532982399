/*
 * Voltage drops in the copper of a real package, held to what every net of resistors obeys,
 * whatever its shape: no potential beyond those of the terminals (maximum principle), the same
 * transfer resistance both ways (Helmholtz 1853, Lorentz 1896; from memory), currents that add up
 * at every terminal (Kirchhoff), and less resistance between two points than through any third
 * (effective resistance is a metric; Klein and Randic 1993, from memory).
 */
#include <math.h>
#include "assertions.h"
#include "isthmus/drop.h"

struct opened {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct current_table table;
    struct board board;
};

/* Every net may carry 1 A: rows of one net row each. */
static void fill_table(struct opened *opened)
{
    static const char csv[] = "net,current_a\n*,1\n";
    assert_int_equal(currents_read(0, (const uint8_t *)csv, sizeof csv - 1, opened->arena,
                                   &opened->diags, &opened->table),
                     CURRENTS_OK);
}

static struct opened *open_board(const char *folder)
{
    char path[1000];
    snprintf(path, sizeof path, "%s/%s", boards_folder(), folder);
    const char *paths[1] = {path};
    struct opened *opened = calloc(1, sizeof *opened);
    assert_non_null(opened);
    opened->arena = opened->diags.arena = arena_new("test");
    fill_table(opened);
    struct board_facts facts;
    board_facts_default(&facts);
    assert_int_equal(package_read(paths, 1, &package_default_limits, opened->arena, &opened->files,
                                  &opened->diags),
                     PACKAGE_OK);
    assert_int_equal(board_read(&opened->files, &facts, &opened->table, NULL, opened->arena,
                                &opened->diags, &opened->board),
                     BOARD_OK);
    return opened;
}

static void close_board(struct opened *opened)
{
    board_free(&opened->board);
    file_table_free(&opened->files);
    arena_free(opened->arena);
    free(opened);
}

static struct drop_answer drop(const struct opened *opened, uint32_t net, const char *from,
                               const char *to)
{
    struct diag_list diags = {.arena = opened->arena};
    const struct rule_context context = {
        .board = &opened->board, .table = &opened->table, .arena = opened->arena, .diags = &diags};
    const struct drop_question question = {.net = net,
                                           .from = &from,
                                           .to = &to,
                                           .from_count = 1,
                                           .to_count = 1,
                                           .current_a = 1,
                                           .temperature_c = 25};
    struct drop_answer answer;
    assert_int_equal(net_drop_run(&context, &question, &answer), RULE_OK);
    if (answer.problem)
        fail_msg("%s, %s to %s: %s", opened->board.nets[net].name, from, to, answer.problem);
    return answer;
}

static double drop_at(const struct drop_answer *answer, const char *name)
{
    for (size_t e = 0; e < answer->end_count; e++)
        if (strcmp(answer->ends[e].name, name) == 0)
            return answer->ends[e].drop_v;
    fail_msg("no terminal %s", name);
    return 0;
}

static void expect_bounds(const struct opened *opened, const struct drop_answer *answer)
{
    double slack_v = 1e-6 * answer->ohm;
    for (size_t e = 0; e < answer->end_count; e++)
        if (!isnan(answer->ends[e].drop_v)) {
            assert_true(answer->ends[e].drop_v >= -slack_v);
            assert_true(answer->ends[e].drop_v <= answer->ohm + slack_v);
        }
    double sum_a = 0, feeds_a = 0;
    for (size_t t = 0; t < opened->board.terminal_count; t++) {
        sum_a += answer->terminal_a[t];
        feeds_a += fmax(answer->terminal_a[t], 0);
    }
    assert_near(sum_a, 0, 1e-6);
    assert_near(feeds_a, 1, 1e-6);
}

static const char *terminal_name(const struct board *board, const struct net *net, size_t index)
{
    return board->terminals[net->terminals[index]].name;
}

/* The first, the last and the middle terminal. */
static void try_net(const struct opened *opened, uint32_t index)
{
    const struct board *board = &opened->board;
    const struct net *net = &board->nets[index];
    const char *a = terminal_name(board, net, 0),
               *b = terminal_name(board, net, net->terminal_count - 1),
               *c = terminal_name(board, net, net->terminal_count / 2);
    struct drop_answer ab = drop(opened, index, a, b), ac = drop(opened, index, a, c),
                       cb = drop(opened, index, c, b);
    expect_bounds(opened, &ab);
    expect_bounds(opened, &ac);
    /* A fed pad is one piece of metal with its lead, a passed one is copper like any: that is not
     * quite the same net of resistors. Each mesh is refined for its own question besides. */
    double slack = 4e-3 * fmax(ab.ohm, ac.ohm);
    assert_near(drop_at(&ab, c), drop_at(&ac, b), slack + 0.04 * drop_at(&ab, c));
    assert_true(ab.ohm <= ac.ohm + cb.ohm + slack);
}

static void nets_of_a_real_board_obey_the_laws(void **state)
{
    (void)state;
    if (!boards_folder()) {
        print_message("skipped: set ISTHMUS_BOARDS to a folder of real packages\n");
        skip();
    }
    struct opened *opened = open_board("atx-breakout");
    size_t tried = 0;
    for (uint32_t n = 0; n < opened->board.net_count; n++) {
        const struct net *net = &opened->board.nets[n];
        /* the ground, two whole planes, takes seconds */
        if (net->terminal_count < 3 || net->terminal_count > 20 || net->conductor_count != 1)
            continue;
        try_net(opened, n);
        tried++;
    }
    assert_true(tried >= 5);
    print_message("%zu nets\n", tried);
    close_board(opened);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nets_of_a_real_board_obey_the_laws),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
