/* The net-current table laid on terminals: what DEVELOPERS.md "Who carries what" promises. */
#include "assertions.h"

#include <math.h>

#include "../../rules/assign.h"

/* A board of one net MAT with terminals J1.1, J1.2, J2.1, C1.1, C2.1 and one net AUX with J3.1,
 * R1.1. */
struct world {
    struct arena *arena;
    struct diag_list diags;
    struct board board;
    struct net nets[3];
    struct terminal terminals[7];
    struct current_row rows[12];
    struct current_table table;
    const char *cases[2];
    struct assignment result;
};

static void name_terminal(struct world *world, size_t index, const char *name, const char *ref,
                          uint32_t net)
{
    const char *dot = strchr(name, '.');
    world->terminals[index] =
        (struct terminal){.name = name, .ref = ref, .pin = dot ? dot + 1 : NULL, .net = net};
}

static void world_init(struct world *world)
{
    *world = (struct world){.arena = arena_new("test")};
    world->diags.arena = world->arena;
    world->nets[0] = (struct net){.name = "MAT", .joined_into = 0};
    world->nets[1] = (struct net){.name = "AUX", .joined_into = 1};
    world->nets[2] = (struct net){.name = "MATLESS", .joined_into = 2};
    name_terminal(world, 0, "J1.1", "J1", 0);
    name_terminal(world, 1, "J1.2", "J1", 0);
    name_terminal(world, 2, "J2.1", "J2", 0);
    name_terminal(world, 3, "C1.1", "C1", 0);
    name_terminal(world, 4, "C2.1", "C2", 0);
    name_terminal(world, 5, "J3.1", "J3", 1);
    name_terminal(world, 6, "R1.1", "R1", 1);
    board_facts_default(&world->board.facts);
    world->board.nets = world->nets;
    world->board.net_count = 3;
    world->board.terminals = world->terminals;
    world->board.terminal_count = 7;
    world->table.rows = world->rows;
    world->table.cases = world->cases;
}

static struct current_row *add(struct world *world, enum row_kind kind, const char *net,
                               double current_a, enum current_sign sign)
{
    struct current_row *row = &world->rows[world->table.row_count++];
    *row = (struct current_row){.kind = kind,
                                .net = net,
                                .has_current = true,
                                .current_a = current_a,
                                .sign = sign,
                                .rise_k = NAN,
                                .at = {1, (uint32_t)world->table.row_count, 1}};
    return row;
}

static void add_pins(struct world *world, const char *net, const char *const *pins, uint32_t count,
                     double current_a, enum current_sign sign)
{
    struct current_row *row = add(world, ROW_TERMINAL, net, current_a, sign);
    row->pins = pins;
    row->pin_count = count;
}

static const struct net_question *assign(struct world *world)
{
    assert_int_equal(
        assign_currents(&world->board, &world->table, world->arena, &world->diags, &world->result),
        ASSIGN_OK);
    return world->result.questions;
}

static size_t end_named(const struct net_question *question, const char *name)
{
    for (size_t i = 0; i < question->end_count; i++)
        if (strcmp(question->ends[i].name, name) == 0)
            return i;
    fail_msg("no end %s", name);
    return 0;
}

static const char *const pin_j1_1[] = {"J1.1"}, *const pin_j1_2[] = {"J1.2"},
                         *const pin_j2_1[] = {"J2.1"}, *const both_j1[] = {"J1.1", "J1.2"},
                         *const star_j1[] = {"J1.*"}, *const rest_c[] = {"C*"},
                         *const rest_all[] = {"*"}, *const pin_j3_1[] = {"J3.1"},
                         *const typo[] = {"J1.3"};

static void a_net_row_alone_lets_every_terminal_carry_all(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    add(&world, ROW_NET, "MAT", 8, SIGN_NONE);
    const struct net_question *question = assign(&world);
    assert_int_equal(world.result.question_count, 1);
    assert_int_equal(question->end_count, 5);
    assert_near(question->cases[0].i_net_a, 8, 0);
    assert_string_equal(question->cases[0].i_net_how, "net row");
    for (size_t e = 0; e < 5; e++) {
        assert_false(question->cases[0].has_row[e]);
        assert_near(question->cases[0].feed_a[e], 8, 0);
        assert_near(question->cases[0].draw_a[e], 8, 0);
    }
    arena_free(world.arena);
}

static void the_net_current_is_the_smaller_of_feeds_and_draws(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    add_pins(&world, "MAT", pin_j1_1, 1, 8, SIGN_FEEDS);
    add_pins(&world, "MAT", pin_j1_2, 1, 4, SIGN_DRAWS);
    add_pins(&world, "MAT", pin_j2_1, 1, 3, SIGN_DRAWS);
    struct current_row *rest = add(&world, ROW_REST, "MAT", 0, SIGN_NONE);
    rest->pins = rest_c;
    rest->pin_count = 1;
    const struct net_question *question = assign(&world);
    assert_near(question->cases[0].i_net_a, 7, 0);
    assert_string_equal(question->cases[0].i_net_how, "all draws");
    assert_near(question->cases[0].draw_a[end_named(question, "J1.1")], 0, 0);
    arena_free(world.arena);
}

static void a_silent_terminal_may_draw_what_is_left_over(void **state)
{
    (void)state;
    struct world world;
    world_init(&world); /* C1 and C2 have no row */
    add_pins(&world, "MAT", pin_j1_1, 1, 8, SIGN_FEEDS);
    add_pins(&world, "MAT", pin_j2_1, 1, 3, SIGN_DRAWS);
    const struct net_question *question = assign(&world);
    assert_near(question->cases[0].i_net_a, 8, 0);
    assert_string_equal(question->cases[0].i_net_how, "all feeds");
    assert_near(question->cases[0].draw_a[end_named(question, "C1.1")], 8, 0);
    arena_free(world.arena);
}

static void a_silent_side_does_not_make_the_net_current_zero(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    add_pins(&world, "MAT", pin_j1_1, 1, 8, SIGN_FEEDS);
    const struct net_question *question = assign(&world);
    assert_near(question->cases[0].i_net_a, 8, 0);
    arena_free(world.arena);
}

static void a_group_row_is_one_end(void **state)
{
    (void)state;
    for (int by_star = 0; by_star < 2; by_star++) {
        struct world world;
        world_init(&world);
        add_pins(&world, "MAT", by_star ? star_j1 : both_j1, by_star ? 1 : 2, 8, SIGN_FEEDS);
        add_pins(&world, "MAT", pin_j2_1, 1, 8, SIGN_DRAWS);
        const struct net_question *question = assign(&world);
        assert_null(question->problem);
        assert_int_equal(question->end_count, 4);
        size_t group = end_named(question, by_star ? "J1.*" : "J1.1 J1.2");
        assert_int_equal(question->ends[group].terminal_count, 2);
        assert_near(question->cases[0].feed_a[group], 8, 0);
        arena_free(world.arena);
    }
}

/* Where files name parts but no pins, J1.* is its pads on the net, and J1.1 is refused. */
static void a_part_without_pin_names_is_asked_for_by_a_star(void **state)
{
    (void)state;
    for (int by_star = 0; by_star < 2; by_star++) {
        struct world world;
        world_init(&world);
        world.terminals[0].pin = world.terminals[1].pin = NULL;
        world.terminals[0].name = "J1 (1, 2) top";
        world.terminals[1].name = "J1 (3, 2) top";
        add_pins(&world, "MAT", by_star ? star_j1 : pin_j1_1, 1, 8, SIGN_FEEDS);
        add_pins(&world, "MAT", pin_j2_1, 1, 8, SIGN_DRAWS);
        const struct net_question *question = assign(&world);
        assert_int_equal(question->end_count, by_star ? 4 : 5);
        if (by_star) {
            assert_null(question->problem);
            assert_int_equal(question->ends[end_named(question, "J1.*")].terminal_count, 2);
        } else {
            assert_non_null(strstr(question->problem, "J1.*"));
        }
        arena_free(world.arena);
    }
}

static void rest_rows_speak_for_pins_not_named_otherwise_longest_pattern_first(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    add_pins(&world, "MAT", pin_j1_1, 1, 8, SIGN_FEEDS);
    add(&world, ROW_REST, "MAT", 0.3, SIGN_NONE)->pins = rest_all;
    world.rows[1].pin_count = 1;
    add(&world, ROW_REST, "MAT", 0.1, SIGN_NONE)->pins = rest_c;
    world.rows[2].pin_count = 1;
    const struct net_question *question = assign(&world);
    const struct net_case *net_case = &question->cases[0];
    assert_near(net_case->draw_a[end_named(question, "C1.1")], 0.1, 0);
    assert_near(net_case->draw_a[end_named(question, "J2.1")], 0.3, 0);
    assert_near(net_case->feed_a[end_named(question, "J1.1")], 8, 0);
    assert_true(net_case->has_row[end_named(question, "C2.1")]);
    arena_free(world.arena);
}

static void a_wildcard_net_row_is_for_nets_without_rows_of_their_own(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    add(&world, ROW_NET, "MAT*", 2, SIGN_NONE);
    add(&world, ROW_NET, "MAT", 8, SIGN_NONE);
    assign(&world);
    assert_int_equal(world.result.question_count, 2);
    assert_near(world.result.questions[0].cases[0].i_net_a, 8, 0);
    assert_int_equal(world.result.questions[1].net, 2);
    assert_near(world.result.questions[1].cases[0].i_net_a, 2, 0);
    arena_free(world.arena);
}

static void cases_are_never_mixed(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    world.cases[0] = "frost";
    world.cases[1] = "spring";
    world.table.case_count = 2;
    add_pins(&world, "MAT", pin_j1_1, 1, 8, SIGN_FEEDS);
    world.rows[0].case_name = "frost";
    add_pins(&world, "MAT", pin_j1_1, 1, 2, SIGN_FEEDS);
    world.rows[1].case_name = "spring";
    add_pins(&world, "MAT", pin_j2_1, 1, 8, SIGN_DRAWS);
    const struct net_question *question = assign(&world);
    assert_null(question->problem);
    assert_int_equal(question->case_count, 2);
    assert_near(question->cases[0].feed_a[end_named(question, "J1.1")], 8, 0);
    assert_near(question->cases[1].feed_a[end_named(question, "J1.1")], 2, 0);
    arena_free(world.arena);
}

static void contradictions_stop_the_net(void **state)
{
    (void)state;
    for (int which = 0; which < 4; which++) {
        struct world world;
        world_init(&world);
        if (which == 0) { /* net row below a terminal's */
            add(&world, ROW_NET, "MAT", 3, SIGN_NONE);
            add_pins(&world, "MAT", pin_j1_1, 1, 8, SIGN_FEEDS);
        } else if (which == 1) { /* net row above all feeds, with every terminal spoken for */
            add(&world, ROW_NET, "AUX", 9, SIGN_NONE);
            add_pins(&world, "AUX", pin_j3_1, 1, 8, SIGN_FEEDS);
            add(&world, ROW_REST, "AUX", 8, SIGN_DRAWS)->pins = rest_all;
            world.rows[2].pin_count = 1;
        } else if (which == 2) { /* no such pin */
            add_pins(&world, "MAT", typo, 1, 8, SIGN_FEEDS);
        } else { /* a pin of another net */
            add_pins(&world, "MAT", pin_j3_1, 1, 8, SIGN_FEEDS);
        }
        const struct net_question *question = assign(&world);
        assert_non_null(question->problem);
        assert_true(diag_has_errors(&world.diags));
        assert_int_equal(world.diags.items[0].at.file_id, 1);
        arena_free(world.arena);
    }
}

static void an_unknown_net_names_the_nearest(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    add(&world, ROW_NET, "AUXX", 3, SIGN_NONE);
    assign(&world);
    assert_int_equal(world.result.lost_count, 1);
    assert_string_equal(world.result.lost[0].problem, "net AUXX not found; did you mean AUX?");
    arena_free(world.arena);
}

static void joined_nets_are_asked_as_one(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    world.nets[1].joined_into = 0;
    add_pins(&world, "AUX", pin_j3_1, 1, 5, SIGN_DRAWS);
    add_pins(&world, "MAT", pin_j1_1, 1, 5, SIGN_FEEDS);
    const struct net_question *question = assign(&world);
    assert_int_equal(world.result.question_count, 1);
    assert_null(question->problem);
    assert_int_equal(question->end_count, 7);
    assert_near(question->cases[0].i_net_a, 5, 0);
    arena_free(world.arena);
}

static void between_two_ends_the_net_row_is_what_they_carry(void **state)
{
    (void)state;
    struct world world;
    world_init(&world);
    add(&world, ROW_NET, "AUX", 2, SIGN_NONE);
    const struct net_question *question = assign(&world);
    assert_int_equal(question->end_count, 2);
    assert_true(question->cases[0].has_row[0] && question->cases[0].has_row[1]);
    arena_free(world.arena);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    for (uint64_t nth = 1; nth < 200; nth++) {
        struct world world;
        world_init(&world);
        add_pins(&world, "MAT", both_j1, 2, 8, SIGN_FEEDS);
        add_pins(&world, "MAT", pin_j2_1, 1, 8, SIGN_DRAWS);
        arena_fail_at(nth);
        enum assign_status status =
            assign_currents(&world.board, &world.table, world.arena, &world.diags, &world.result);
        arena_fail_at(0);
        bool has_ended = status == ASSIGN_OK;
        arena_free(world.arena);
        if (has_ended)
            return;
        assert_int_equal(status, ASSIGN_NO_MEMORY);
    }
    fail_msg("200 allocations for a table of two rows");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_net_row_alone_lets_every_terminal_carry_all),
        cmocka_unit_test(the_net_current_is_the_smaller_of_feeds_and_draws),
        cmocka_unit_test(a_silent_terminal_may_draw_what_is_left_over),
        cmocka_unit_test(a_silent_side_does_not_make_the_net_current_zero),
        cmocka_unit_test(a_group_row_is_one_end),
        cmocka_unit_test(a_part_without_pin_names_is_asked_for_by_a_star),
        cmocka_unit_test(rest_rows_speak_for_pins_not_named_otherwise_longest_pattern_first),
        cmocka_unit_test(a_wildcard_net_row_is_for_nets_without_rows_of_their_own),
        cmocka_unit_test(cases_are_never_mixed),
        cmocka_unit_test(contradictions_stop_the_net),
        cmocka_unit_test(an_unknown_net_names_the_nearest),
        cmocka_unit_test(joined_nets_are_asked_as_one),
        cmocka_unit_test(between_two_ends_the_net_row_is_what_they_carry),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
