/*
 * Cuts of graphs small enough to judge by hand. Where not said otherwise the requirement of a
 * current I is I x I mm2 (exponent 2), so that hand values are whole numbers.
 */
#include "assertions.h"
#include "isthmus/cut.h"

#include <math.h>

#define MOST 64

/* A problem under construction, and its result. */
struct world {
    struct cut_problem problem;
    struct cut_node nodes[MOST];
    struct cut_edge edges[4 * MOST];
    struct cut_terminal terminals[MOST];
    uint32_t contacts[MOST][4];
    struct arena *arena;
    struct cut_result result;
};

static int set_up(void **state)
{
    struct world *world = calloc(1, sizeof *world);
    world->arena = arena_new("test");
    world->problem.demand = (struct demand){.scale_a = 1, .exponent = 2};
    world->problem.nodes = world->nodes;
    world->problem.edges = world->edges;
    world->problem.terminals = world->terminals;
    *state = world;
    return 0;
}

static int tear_down(void **state)
{
    struct world *world = *state;
    arena_free(world->arena);
    free(world);
    return 0;
}

static void faces(struct world *world, size_t count)
{
    for (size_t i = 0; i < count; i++)
        world->nodes[world->problem.node_count++].area_mm2 = INFINITY;
}

static uint32_t edge(struct world *world, uint32_t a, uint32_t b, double area_mm2)
{
    world->edges[world->problem.edge_count] = (struct cut_edge){a, b, area_mm2, 0};
    return (uint32_t)world->problem.edge_count++;
}

static struct cut_terminal *terminal(struct world *world, uint32_t node, double feed_a,
                                     double draw_a)
{
    size_t t = world->problem.terminal_count++;
    world->contacts[t][0] = node;
    world->terminals[t] = (struct cut_terminal){.nodes = world->contacts[t],
                                                .node_count = 1,
                                                .feed_a = feed_a,
                                                .draw_a = draw_a,
                                                .has_row = true};
    return &world->terminals[t];
}

static void also_at(struct world *world, struct cut_terminal *terminal, uint32_t node)
{
    world->contacts[terminal - world->terminals][terminal->node_count++] = node;
}

static const struct cut_result *find(struct world *world, double i_net_a)
{
    world->problem.i_net_a = i_net_a;
    assert_int_equal(cut_find(&world->problem, 3, world->arena, &world->result), CUT_OK);
    assert_true(world->result.is_proved && world->result.is_least_proved);
    return &world->result;
}

static void assert_one_edge(const struct cut *cut, uint32_t which, double margin)
{
    assert_int_equal(cut->edge_count, 1);
    assert_int_equal(cut->node_count, 0);
    assert_int_equal(cut->edges[0], which);
    assert_near(cut->margin, margin, 1e-12);
}

static void demand_is_the_published_fit(void **state)
{
    (void)state;
    /* IPC-2221 fit, external, 10 K: k' = 9.8681 A/(K^0.44 mm2^0.725) as quoted in public texts; 1 A
     * on 35 um needs 0.30039 mm, 2.3916 A is what 1 mm carries. */
    struct demand demand = {.scale_a = 9.8681 * pow(10, 0.44), .exponent = 1 / 0.725};
    assert_near(demand_area_mm2(&demand, 1) / 0.035, 0.30039, 2e-5);
    assert_near(demand_area_mm2(&demand, 2.3916) / 0.035, 1, 2e-4);
    assert_near(demand_area_mm2(&demand, 0), 0, 0);
}

/*   (0) --8-- (1) --2-- (2) --4.5-- (3)      2 A need 4 mm2 */
static void chain_is_as_good_as_its_narrowest_link(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    edge(world, 0, 1, 8);
    uint32_t narrow = edge(world, 1, 2, 2);
    edge(world, 2, 3, 4.5);
    terminal(world, 0, 2, 0);
    terminal(world, 3, 0, 2);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 1);
    assert_one_edge(&result->narrow[0], narrow, 0.5);
    assert_near(result->narrow[0].area_mm2, 2, 0);
    assert_near(result->narrow[0].required_mm2, 4, 1e-12);
    assert_near(result->narrow[0].current_a, 2, 0);
    assert_int_equal(result->narrow[0].side[0], 1);
    assert_int_equal(result->narrow[0].side[1], 2);
    assert_true(result->is_single_everywhere);
    assert_one_edge(&result->least, narrow, 0.5);
}

static void least_margin_of_what_passes_is_given_up_to_the_limit(void **state)
{
    struct world *world = *state;
    faces(world, 3);
    edge(world, 0, 1, 8);
    uint32_t least = edge(world, 1, 2, 6);
    terminal(world, 0, 2, 0);
    terminal(world, 2, 0, 2);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 0);
    assert_true(result->has_least);
    assert_one_edge(&result->least, least, 1.5);
    world->edges[0].area_mm2 = world->edges[1].area_mm2 = 12.1;
    assert_false(find(world, 2)->has_least);
}

/* Spurs that suffice each for their own load are not taken together, convex as the need is:
 * 1 + 4 mm2 would be too little for 3 A, which need 9. */
static void star_of_sufficient_spurs_passes(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    edge(world, 0, 1, 9);
    edge(world, 1, 2, 1);
    edge(world, 1, 3, 4);
    terminal(world, 0, 3, 0);
    terminal(world, 2, 0, 1);
    terminal(world, 3, 0, 2);
    const struct cut_result *result = find(world, 3);
    assert_int_equal(result->narrow_count, 0);
    assert_near(result->least.margin, 1, 1e-12);
    assert_true(result->is_single_everywhere);
}

/* The same with two tracks to each load: blocks that share a wide place. */
static void double_spurs_are_not_taken_together_either(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    edge(world, 0, 1, 9);
    for (uint32_t k = 0; k < 2; k++) {
        edge(world, 1, 2, 0.5);
        edge(world, 1, 3, 2);
    }
    terminal(world, 0, 3, 0);
    terminal(world, 2, 0, 1);
    terminal(world, 3, 0, 2);
    const struct cut_result *result = find(world, 3);
    assert_int_equal(result->narrow_count, 0);
    assert_false(result->is_single_everywhere); /* each load's two tracks share */
}

/*   (0)--2--(1)--2--(2)     2 A need 4: the upper and lower track together 3 in the right half
 *    |              |
 *    +--3--(3)--1--+                                                                       */
static void ring_is_cut_in_two_places_at_once(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    edge(world, 0, 1, 2);
    edge(world, 1, 2, 2);
    edge(world, 0, 3, 3);
    uint32_t thin = edge(world, 3, 2, 1);
    terminal(world, 0, 2, 0);
    terminal(world, 2, 0, 2);
    const struct cut_result *result = find(world, 2);
    assert_true(result->narrow_count >= 2); /* {0,3} and {1,3} overlap in the thin piece only */
    for (size_t i = 0; i < result->narrow_count; i++) {
        assert_int_equal(result->narrow[i].edge_count, 2);
        assert_int_equal(result->narrow[i].edges[1], thin);
        assert_near(result->narrow[i].margin, 0.75, 1e-12);
    }
    assert_false(result->is_single_everywhere);
}

/* Rungs of a ladder let a cut pass from one rail to the other anywhere: 6 rungs, a weak place each
 * on different rails, far enough apart that the rungs (0.2) do not save it. */
static void ladder_is_cut_where_its_rails_are_weak_together(void **state)
{
    struct world *world = *state;
    faces(world, 12);
    for (uint32_t i = 0; i < 6; i++)
        edge(world, 2 * i, 2 * i + 1, i == 0 || i == 5 ? 50 : 0.2);
    uint32_t weak[2] = {0};
    for (uint32_t i = 0; i < 5; i++)
        for (uint32_t k = 0; k < 2; k++) {
            bool is_weak = i == 1 + 2 * k;
            uint32_t e = edge(world, 2 * i + k, 2 * i + 2 + k, is_weak ? 1 : 3);
            weak[k] = is_weak ? e : weak[k];
        }
    terminal(world, 0, 2, 0);
    terminal(world, 11, 0, 2);
    const struct cut_result *result = find(world, 2);
    /* 1 + 1 and two rungs between them: 2.4 of 4; every straight cut has 4 or 6 */
    const struct cut *worst = &result->narrow[0];
    assert_near(worst->margin, 0.6, 1e-12);
    assert_int_equal(worst->edge_count, 4);
    assert_int_equal(worst->edges[2], weak[0]);
    assert_int_equal(worst->edges[3], weak[1]);
}

static void sense_tap_may_be_thin(void **state)
{
    struct world *world = *state;
    faces(world, 3);
    edge(world, 0, 1, 4);
    edge(world, 1, 2, 0.01);
    terminal(world, 0, 2, 0);
    terminal(world, 1, 0, 2);
    terminal(world, 2, 0, 0);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 0);
    assert_near(result->least.margin, 1, 1e-12);
    assert_int_equal(result->least.side[2], 2);
}

/* A terminal with two pads: cutting one off parts nobody from anything. */
static void severing_one_pad_of_two_separates_nothing(void **state)
{
    struct world *world = *state;
    faces(world, 3);
    edge(world, 1, 2, 4);
    edge(world, 0, 1, 0.01);
    terminal(world, 2, 2, 0);
    also_at(world, terminal(world, 1, 0, 2), 0);
    assert_int_equal(find(world, 2)->narrow_count, 0);
    edge(world, 0, 1, 0.01); /* a second way to that pad shares nothing either */
    assert_true(find(world, 2)->is_single_everywhere);
}

/* The corner of a pad, between weak chords: whoever is fed there has a place beyond them as well.
 */
static void corner_of_a_pad_shares_nothing(void **state)
{
    struct world *world = *state;
    faces(world, 5);
    edge(world, 0, 1, 4);
    for (uint32_t v = 2; v < 5; v++) {
        edge(world, 1, v, 0.5);
        edge(world, v, v == 4 ? 2 : v + 1, 0.5);
    }
    terminal(world, 0, 2, 0);
    also_at(world, terminal(world, 1, 0, 2), 3);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 0);
    assert_true(result->is_single_everywhere);
}

/* Three pins of one plug, each on a track of its own: no track alone parts anything, all do. */
static void all_pads_together_part_a_terminal(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    for (uint32_t v = 0; v < 3; v++)
        edge(world, v, 3, 1);
    struct cut_terminal *plug = terminal(world, 0, 2, 0);
    also_at(world, plug, 1);
    also_at(world, plug, 2);
    terminal(world, 3, 0, 2);
    const struct cut_result *result = find(world, 2); /* 3 mm2 for 4 mm2 */
    assert_int_equal(result->narrow_count, 1);
    assert_int_equal(result->narrow[0].edge_count, 3);
    assert_near(result->narrow[0].area_mm2, 3, 1e-12);
}

/* ... but its pads are no bridge: what lies beyond the second pad is fed through copper. */
static void pads_are_no_bridge_for_others(void **state)
{
    struct world *world = *state;
    faces(world, 3);
    edge(world, 0, 1, 4);
    uint32_t thin = edge(world, 1, 2, 0.5);
    terminal(world, 0, 2, 0);
    also_at(world, terminal(world, 1, 0, 1), 2);
    terminal(world, 2, 0, 1);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 1);
    assert_one_edge(&result->narrow[0], thin, 0.5);
    assert_near(result->narrow[0].current_a, 1, 0);
    assert_int_equal(result->narrow[0].side[1], 3);
}

static void copper_in_two_pieces_is_apart(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    edge(world, 0, 1, 4);
    edge(world, 2, 3, 4);
    terminal(world, 0, 2, 0);
    struct cut_terminal *bridge = terminal(world, 1, 0, 1);
    world->problem.i_net_a = 2;
    assert_int_equal(cut_find(&world->problem, 3, world->arena, &world->result), CUT_OK);
    terminal(world, 3, 0, 1);
    assert_int_equal(cut_find(&world->problem, 3, world->arena, &world->result), CUT_APART);
    also_at(world, bridge, 2); /* a lead from one piece to the other does not join them */
    assert_int_equal(cut_find(&world->problem, 3, world->arena, &world->result), CUT_APART);
    world->terminals[2].draw_a = 0; /* a tap over there asks for nothing */
    assert_int_equal(cut_find(&world->problem, 3, world->arena, &world->result), CUT_OK);
    assert_int_equal(world->result.narrow_count, 0);
}

/* Two feeds of 2 A, loads of 1 and 3 A on a line:  F2 --a-- L1 --b-- F2 --c-- L3
 * a: min(2, 4) or 0: 2 A.  b: left feeds 2 and draws 1: 2 A to the right, 1 A to the left.  c: 3 A.
 */
static void several_feeds_are_judged_by_what_can_cross(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    uint32_t a = edge(world, 0, 1, 3), b = edge(world, 1, 2, 3.9), c = edge(world, 2, 3, 8.1);
    terminal(world, 0, 2, 0);
    terminal(world, 1, 0, 1);
    terminal(world, 2, 2, 0);
    terminal(world, 3, 0, 3);
    const struct cut_result *result = find(world, 4);
    assert_int_equal(result->narrow_count, 3);
    assert_one_edge(&result->narrow[0], a, 3.0 / 4);
    assert_one_edge(&result->narrow[1], c, 8.1 / 9);
    assert_one_edge(&result->narrow[2], b, 3.9 / 4);
}

static void no_more_than_the_net_current_ever_crosses(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    edge(world, 0, 1, 4);
    edge(world, 1, 2, 2.25);
    edge(world, 1, 3, 2.25);
    terminal(world, 0, 5, 0);
    terminal(world, 2, 0, 1.5);
    terminal(world, 3, 0, 1.5);
    assert_int_equal(find(world, 2)->narrow_count, 0);
    const struct cut_result *result = find(world, 2.5); /* 6.25 mm2 */
    assert_int_equal(result->narrow_count, 1);
    assert_one_edge(&result->narrow[0], 0, 4 / 6.25);
}

/* A pour with a 2 A feed and three small parts without rows behind a thin track: one question. */
static void terminals_without_rows_are_one_unassigned_cut(void **state)
{
    struct world *world = *state;
    faces(world, 6);
    edge(world, 0, 1, 9);
    uint32_t thin = edge(world, 1, 2, 0.5);
    for (uint32_t v = 3; v < 6; v++)
        edge(world, 2, v, 9);
    terminal(world, 0, 2, 0);
    terminal(world, 1, 0, 2);
    for (uint32_t v = 3; v < 6; v++)
        terminal(world, v, 2, 2)->has_row = false;
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 1);
    assert_one_edge(&result->narrow[0], thin, 0.125);
    assert_true(result->narrow[0].is_unassigned);
    world->terminals[3].has_row = true;
    assert_false(find(world, 2)->narrow[0].is_unassigned);
}

/* Four layers' faces about a hole whose wall has 1 mm2: 2 A from one to another need 4. */
static void cut_runs_through_a_hole_at_its_price(void **state)
{
    struct world *world = *state;
    faces(world, 5);
    world->nodes[4].area_mm2 = 1;
    for (uint32_t v = 0; v < 4; v++)
        edge(world, v, 4, 10);
    terminal(world, 0, 2, 0);
    terminal(world, 2, 0, 2);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 1);
    assert_int_equal(result->narrow[0].edge_count, 0);
    assert_int_equal(result->narrow[0].node_count, 1);
    assert_int_equal(result->narrow[0].nodes[0], 4);
    assert_near(result->narrow[0].margin, 0.25, 1e-12);
    assert_true(result->is_single_everywhere);
}

/* Three holes side by side, each with a third of what is needed, or a little less. */
static void holes_in_parallel_are_summed(void **state)
{
    struct world *world = *state;
    faces(world, 5);
    for (uint32_t v = 2; v < 5; v++) {
        world->nodes[v].area_mm2 = 1.5;
        edge(world, 0, v, 10);
        edge(world, v, 1, 10);
    }
    terminal(world, 0, 2, 0);
    terminal(world, 1, 0, 2);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 0);
    assert_near(result->least.margin, 4.5 / 4, 1e-12);
    assert_int_equal(result->least.node_count, 3);
    assert_false(result->is_single_everywhere);
    world->nodes[3].area_mm2 = 0.9;
    result = find(world, 2);
    assert_int_equal(result->narrow_count, 1);
    assert_near(result->narrow[0].margin, 3.9 / 4, 1e-12);
}

static void exactly_what_is_required_passes(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    double need = demand_area_mm2(&world->problem.demand, 0.3);
    edge(world, 0, 1, need);
    edge(world, 1, 2, 1);
    edge(world, 1, 3, 1);
    terminal(world, 0, 1, 0);
    terminal(world, 2, 0, 0.1); /* 0.1 + 0.2 > 0.3 in binary */
    terminal(world, 3, 0, 0.2);
    assert_int_equal(find(world, 1)->narrow_count, 0);
    world->edges[0].area_mm2 = need * (1 - 1e-6);
    assert_int_equal(find(world, 1)->narrow_count, 1);
}

static void open_copper_has_no_margin_at_all(void **state)
{
    struct world *world = *state;
    faces(world, 2);
    edge(world, 0, 1, 0);
    terminal(world, 0, 1, 0);
    terminal(world, 1, 0, 1);
    const struct cut_result *result = find(world, 1);
    assert_int_equal(result->narrow_count, 1);
    assert_near(result->narrow[0].margin, 0, 0);
}

/*   F --1-- x --3-- L1(1 A) --0.5-- L2(1 A): places with equal sides stand together, worst first */
static void places_with_equal_sides_stand_together(void **state)
{
    struct world *world = *state;
    faces(world, 5);
    uint32_t trunk_b = edge(world, 0, 1, 3);
    uint32_t trunk_a = edge(world, 1, 2, 2);
    uint32_t spur_b = edge(world, 2, 3, 0.9);
    uint32_t spur_a = edge(world, 3, 4, 0.6);
    terminal(world, 0, 2, 0);
    terminal(world, 2, 0, 1);
    terminal(world, 4, 0, 1);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 4);
    assert_one_edge(&result->narrow[0], trunk_a, 0.5);
    assert_one_edge(&result->narrow[1], trunk_b, 0.75);
    assert_one_edge(&result->narrow[2], spur_a, 0.6);
    assert_one_edge(&result->narrow[3], spur_b, 0.9);
}

/* A tap between two narrow places: they part the same feed from the same load. */
static void taps_do_not_tell_places_apart(void **state)
{
    struct world *world = *state;
    faces(world, 5);
    terminal(world, 3, 0, 0);
    terminal(world, 0, 0, 2);
    terminal(world, 2, 2, 0);
    terminal(world, 4, 0, 1);
    uint32_t place_a = edge(world, 1, 0, 2), place_b = edge(world, 1, 3, 3);
    edge(world, 3, 2, 9);
    uint32_t other = edge(world, 2, 4, 0.6);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 3);
    assert_one_edge(&result->narrow[0], place_a, 0.5);
    assert_one_edge(&result->narrow[1], place_b, 0.75);
    assert_one_edge(&result->narrow[2], other, 0.6);
    assert_int_equal(result->narrow[0].side[1], 1);
    assert_int_equal(result->narrow[0].side[2], 2);
}

/* Two ways of 2.5 and 3 mm2 for 2 A, one after the other: both are near, as is the trunk. */
static void near_cuts_of_what_passes_are_listed(void **state)
{
    struct world *world = *state;
    faces(world, 4);
    uint32_t trunk = edge(world, 0, 1, 6);
    for (uint32_t k = 0; k < 2; k++)
        edge(world, 1, 2, 2.5);
    for (uint32_t k = 0; k < 2; k++)
        edge(world, 2, 3, 3);
    terminal(world, 0, 2, 0);
    terminal(world, 3, 0, 2);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 0);
    assert_false(result->is_single_everywhere);
    assert_true(result->is_near_complete);
    assert_int_equal(result->near_count, 3);
    assert_near(result->near[0].margin, 1.25, 1e-12);
    assert_int_equal(result->near[0].edge_count, 2);
    assert_int_equal(result->near[1].edge_count + result->near[2].edge_count, 3);
    uint32_t found_trunk =
        result->near[1].edge_count == 1 ? result->near[1].edges[0] : result->near[2].edges[0];
    assert_int_equal(found_trunk, trunk);
}

static void nothing_to_part_is_no_finding(void **state)
{
    struct world *world = *state;
    assert_int_equal(find(world, 2)->narrow_count, 0);
    faces(world, 1);
    terminal(world, 0, 2, 2);
    const struct cut_result *result = find(world, 2);
    assert_int_equal(result->narrow_count, 0);
    assert_false(result->has_least);
    assert_true(result->is_single_everywhere);
    terminal(world, 0, 2, 2)->node_count = 0; /* a terminal without copper */
    assert_int_equal(find(world, 2)->narrow_count, 0);
}

/* A ring of loads with weak links: hard, because many adequate spurs together look too narrow. */
static void build_wheel(struct world *world, uint32_t loads)
{
    faces(world, 2 * loads + 1);
    terminal(world, 0, 5, 0);
    for (uint32_t i = 0; i < loads; i++) {
        double draw_a = 8.5 / loads * (1 + 0.1 * (i * 7 % 11));
        terminal(world, i + 1, 0, draw_a);
        edge(world, 0, i + 1, 1.3 * draw_a * draw_a * (1 + 0.1 * (i * 5 % 7)));
        edge(world, i + 1, loads + i + 1, 0.02);
        edge(world, loads + i + 1, (i + 1) % loads + 1, 0.02);
    }
    world->problem.i_net_a = 5;
}

static void hard_search_gives_up_and_says_so(void **state)
{
    struct world *world = *state;
    struct cut_result *result = &world->result;
    build_wheel(world, 24);
    world->problem.effort = 1; /* not a single flow */
    assert_int_equal(cut_find(&world->problem, 3, world->arena, result), CUT_OK);
    assert_int_equal(result->narrow_count, 0);
    assert_false(result->is_proved);
    world->problem.effort = 0;
    assert_int_equal(cut_find(&world->problem, 3, world->arena, result), CUT_OK);
    assert_true(result->is_proved);
    assert_true(result->narrow_count > 0);
}

/* Ten loads, too little effort to settle them: the search alone meets one narrow cut. */
static void giving_up_still_tells_bad_cuts(void **state)
{
    struct world *world = *state;
    struct cut_result *result = &world->result;
    build_wheel(world, 10);
    world->problem.effort = 5743;
    assert_int_equal(cut_find(&world->problem, 3, world->arena, result), CUT_OK);
    assert_false(result->is_proved);
    assert_true(result->narrow_count > 2);
    for (size_t i = 0; i < result->narrow_count; i++)
        assert_true(result->narrow[i].area_mm2 < result->narrow[i].required_mm2);
}

static bool find_with_failure_at(struct world *world, uint64_t nth)
{
    struct arena *arena = arena_new("failing");
    struct cut_result result;
    arena_fail_at(nth);
    enum cut_status status = cut_find(&world->problem, 3, arena, &result);
    arena_fail_at(0);
    if (status == CUT_NO_MEMORY)
        assert_int_equal(result.narrow_count, 0);
    else
        assert_int_equal(status, CUT_OK);
    arena_free(arena);
    return status == CUT_OK;
}

static void every_allocation_may_fail(void **state)
{
    struct world *world = *state;
    build_wheel(world, 4);
    uint32_t hole = (uint32_t)world->problem.node_count;
    faces(world, 2);
    world->nodes[hole].area_mm2 = 3;
    edge(world, 1, hole, 9);
    edge(world, hole, hole + 1, 0.1);
    terminal(world, hole + 1, 0, 1);
    uint64_t nth = 1;
    while (!find_with_failure_at(world, nth))
        nth++;
    assert_true(nth > 100); /* it was a long way, and nothing crashed on it */
    struct cut_result passing;
    for (size_t e = 0; e < world->problem.edge_count; e++)
        world->edges[e].area_mm2 += 30;
    world->nodes[hole].area_mm2 = 60;
    assert_int_equal(cut_find(&world->problem, 3, world->arena, &passing), CUT_OK);
    assert_int_equal(passing.narrow_count, 0);
    for (nth = 1; !find_with_failure_at(world, nth);)
        nth++;
    assert_true(nth > 50);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(demand_is_the_published_fit),
        TEST(chain_is_as_good_as_its_narrowest_link),
        TEST(least_margin_of_what_passes_is_given_up_to_the_limit),
        TEST(star_of_sufficient_spurs_passes),
        TEST(double_spurs_are_not_taken_together_either),
        TEST(ring_is_cut_in_two_places_at_once),
        TEST(ladder_is_cut_where_its_rails_are_weak_together),
        TEST(sense_tap_may_be_thin),
        TEST(severing_one_pad_of_two_separates_nothing),
        TEST(corner_of_a_pad_shares_nothing),
        TEST(all_pads_together_part_a_terminal),
        TEST(pads_are_no_bridge_for_others),
        TEST(copper_in_two_pieces_is_apart),
        TEST(several_feeds_are_judged_by_what_can_cross),
        TEST(no_more_than_the_net_current_ever_crosses),
        TEST(terminals_without_rows_are_one_unassigned_cut),
        TEST(cut_runs_through_a_hole_at_its_price),
        TEST(holes_in_parallel_are_summed),
        TEST(exactly_what_is_required_passes),
        TEST(open_copper_has_no_margin_at_all),
        TEST(places_with_equal_sides_stand_together),
        TEST(taps_do_not_tell_places_apart),
        TEST(near_cuts_of_what_passes_are_listed),
        TEST(nothing_to_part_is_no_finding),
        TEST(hard_search_gives_up_and_says_so),
        TEST(giving_up_still_tells_bad_cuts),
        TEST(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
