/*
 * The rules net-split and net-joined on small boards: one micrometre a unit, gaps and widths by
 * hand. What random changes of real boards open or join: tests/reference/test_opens_joins.c.
 */
#include "assertions.h"
#include "board_world.h"
#include "isthmus/rule.h"

#include <math.h>

#define HEAD "%ADD10C,0.5*%\n%ADD11R,1X1*%\n%ADD12C,0.2*%\nG01*\n"
#define EDGE PROFILE "G01*\nX-5000Y-5000D02*\nX25000D01*\nY15000D01*\nX-5000D01*\nY-5000D01*\n" END

static const char *named(struct board_world *world, const char *net)
{
    return arena_printf(world->arena, "%%TD*%%\n%%TO.N,%s*%%\n", net);
}

static const char *pad(struct board_world *world, const char *net, const char *ref, int x, int y)
{
    return arena_printf(world->arena, "%s%%TO.P,%s,1*%%\nD11*\nX%dY%dD03*\n", named(world, net),
                        ref, x, y);
}

static const char *line(struct board_world *world, int code, int x0, int y0, int x1, int y1)
{
    return arena_printf(world->arena, "D%d*\nX%dY%dD02*\nX%dY%dD01*\n", code, x0, y0, x1, y1);
}

/* A track 0.5 mm wide from (0, y) to (10, y) mm with a pad at either end. */
static const char *strip(struct board_world *world, const char *net, const char *one,
                         const char *two, int y)
{
    return bw_text(world, named(world, net), line(world, 10, 0, y, 10000, y),
                   pad(world, net, one, 0, y), pad(world, net, two, 10000, y), NULL);
}

static struct board_world *world_of(const char *(*top)(struct board_world *))
{
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", bw_text(world, TOP, HEAD, top(world), END, NULL));
    bw_file(world, "bottom.gbr",
            BOTTOM HEAD "%TO.N,FAR*%\nD10*\nX20000Y10000D02*\nX22000D01*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    return world;
}

static struct check_result judge(struct board_world *world)
{
    struct check_result result;
    const struct rule_context context = {.board = &world->board,
                                         .table = world->has_table ? &world->table : NULL,
                                         .margin_limit = 3,
                                         .arena = world->arena,
                                         .diags = &world->diags};
    assert_int_equal(rules_run(&context, &result), RULE_OK);
    return result;
}

static const char *net_name(const struct board_world *world, uint32_t net)
{
    return world->board.nets[net].name;
}

/* ---- splits ---- */

static const char *cut_strip(struct board_world *world)
{
    return bw_text(world, strip(world, "A", "J1", "J2", 0), "%LPC*%\n",
                   line(world, 12, 5000, -1000, 5000, 1000), "%LPD*%\n", NULL);
}

static void a_cut_track_is_split_where_it_is_cut(void **state)
{
    (void)state;
    struct board_world *world = world_of(cut_strip);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    const struct finding *finding = &result.findings[0];
    assert_int_equal(finding->kind, FINDING_SPLIT);
    assert_string_equal(net_name(world, finding->net), "A");
    assert_int_equal(finding->part_count, 2);
    assert_int_equal(finding->place_count, 1);
    assert_int_equal(finding->side_a_count, 1);
    assert_int_equal(finding->side_b_count, 1);
    const struct finding_piece *gap = finding->places[0].pieces;
    assert_int_equal(gap->layer, 1);
    assert_near(gap->width_mm, 0.2, 1e-6);
    assert_near((double)finding->places[0].middle.x_nm, 5e6, 2);
    assert_near(fabs((double)(gap->to.x_nm - gap->from.x_nm)), 0.2e6, 2);
    assert_int_equal(gap->bound_a.file_id, 1);
    bw_free(world);
}

static const char *three_pads(struct board_world *world)
{
    return bw_text(world, pad(world, "A", "J1", 0, 0), pad(world, "A", "J2", 4000, 0),
                   pad(world, "A", "J3", 4000, 3000), NULL);
}

/* Pads of 1 mm: 3 mm and 2 mm apart along the sides, so the diagonal is not among the gaps. */
static void three_pieces_have_the_two_shortest_gaps(void **state)
{
    (void)state;
    struct board_world *world = world_of(three_pads);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    assert_int_equal(result.findings[0].part_count, 3);
    assert_int_equal(result.findings[0].place_count, 2);
    assert_near(result.findings[0].places[0].width_mm, 2, 1e-6);
    assert_near(result.findings[0].places[1].width_mm, 3, 1e-6);
    bw_free(world);
}

static const char *pad_on_the_other_side(struct board_world *world)
{
    return pad(world, "FAR", "J1", 18000, 10000);
}

/* The track on the bottom carries the name alone: an island splits nothing until it has a pad. */
static void pieces_without_a_common_layer_name_both(void **state)
{
    (void)state;
    struct board_world *world = world_of(pad_on_the_other_side);
    bw_must_read(world);
    assert_int_equal(judge(world).finding_count, 0);
    bw_free(world);
    world = bw_new();
    bw_file(world, "top.gbr", bw_text(world, TOP, HEAD, pad_on_the_other_side(world), END, NULL));
    bw_file(world, "bottom.gbr",
            bw_text(world, BOTTOM, HEAD, pad(world, "FAR", "J2", 21000, 10000), END, NULL));
    bw_file(world, "edge.gbr", EDGE);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    const struct finding_piece *gap = result.findings[0].places[0].pieces;
    assert_int_equal(gap->layer + gap->layer_to, 3);
    assert_near(gap->width_mm, 2, 1e-6);
    bw_free(world);
}

/* ---- joins ---- */

static const char *tied_strips(struct board_world *world)
{
    return bw_text(world, strip(world, "A", "J1", "J2", 0), strip(world, "B", "J3", "J4", 3000),
                   "%TD*%\n", line(world, 12, 5000, 0, 5000, 3000), NULL);
}

static void two_tracks_meet_in_the_bridge_between_them(void **state)
{
    (void)state;
    struct board_world *world = world_of(tied_strips);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    const struct finding *finding = &result.findings[0];
    assert_int_equal(finding->kind, FINDING_JOINED);
    assert_string_equal(net_name(world, finding->net), "A");
    assert_string_equal(net_name(world, finding->other_net), "B");
    assert_string_equal(finding->join_line, "B = A");
    assert_int_equal(finding->side_a_count, 2);
    assert_int_equal(finding->side_b_count, 2);
    assert_near(finding->places[0].width_mm, 0.2, 1e-5);
    assert_int_equal(finding->places[0].layer, 1);
    assert_near((double)finding->places[0].middle.x_nm, 5e6, 0.02e6);
    assert_in_range(finding->places[0].middle.y_nm, 200000, 2800000);
    bw_free(world);
}

static const char *chain_of_three(struct board_world *world)
{
    return bw_text(world, strip(world, "A", "J1", "J2", 0), strip(world, "B", "J3", "J4", 3000),
                   strip(world, "C", "J5", "J6", 6000), "%TD*%\n",
                   line(world, 12, 5000, 0, 5000, 3000), line(world, 12, 8000, 3000, 8000, 6000),
                   NULL);
}

/* A with B at x = 5 mm, B with C at x = 8 mm: two joins, each at its own bridge. */
static void a_chain_of_nets_is_joined_twice(void **state)
{
    (void)state;
    struct board_world *world = world_of(chain_of_three);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 2);
    bool has_first = false, has_second = false;
    for (size_t i = 0; i < 2; i++) {
        struct pos_nm at = result.findings[i].places[0].middle;
        assert_int_equal(result.findings[i].kind, FINDING_JOINED);
        has_first |= labs(at.x_nm - 5000000) < 20000 && at.y_nm < 3000000;
        has_second |= labs(at.x_nm - 8000000) < 20000 && at.y_nm > 3000000;
    }
    assert_true(has_first && has_second);
    bw_free(world);
}

static void a_stated_tie_is_no_finding(void **state)
{
    (void)state;
    struct board_world *world = world_of(tied_strips);
    struct join join = {.a = "B", .b = "A"};
    world->facts.joins = &join;
    world->facts.join_count = 1;
    bw_must_read(world);
    assert_int_equal(judge(world).finding_count, 0);
    bw_free(world);
}

static const char *foreign_track(struct board_world *world)
{
    return bw_text(world, strip(world, "A", "J1", "J2", 0), named(world, "B"),
                   line(world, 12, 5000, 0, 5000, 3000), NULL);
}

/* B is drawn on A's copper but has no pad there: nothing to part, the place is the stroke's. */
static void a_foreign_name_without_a_pad_is_shown_where_it_was_drawn(void **state)
{
    (void)state;
    struct board_world *world = world_of(foreign_track);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    const struct finding *finding = &result.findings[0];
    assert_int_equal(finding->kind, FINDING_JOINED);
    assert_int_equal(finding->side_b_count, 0);
    assert_int_equal(finding->places[0].piece_count, 0);
    assert_int_equal(finding->places[0].middle.x_nm, 5000000);
    assert_int_equal(finding->places[0].layer, 1);
    bw_free(world);
}

/* ---- netlists alone ---- */

/* Two tracks with three pads each, without a name, 3 mm apart. */
static struct board_world *bare_world(const char *netlist)
{
    struct board_world *world = bw_new();
    const char *top = bw_text(world, TOP, HEAD, line(world, 10, 0, 0, 10000, 0),
                              line(world, 10, 0, 3000, 10000, 3000),
                              "D11*\nX0Y0D03*\nX5000D03*\nX10000D03*\nX0Y3000D03*\nX5000D03*\n"
                              "X10000D03*\n" END,
                              NULL);
    bw_file(world, "top.gbr", top);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "net.ipc", netlist);
    return world;
}

#define POINT(net, ref, x, y)                                                                      \
    "327" net "                " ref "    -1          A01X" x "Y" y "X1000Y1000R000 S0\n"
#define SIX(third)                                                                                 \
    "P  UNITS CUST 1\n" POINT("A", "J1", "+000000", "+000000")                                     \
        POINT("A", "J2", "+005000", "+000000") POINT(third, "J3", "+010000", "+000000")            \
            POINT("B", "J4", "+000000", "+003000") POINT("B", "J5", "+005000", "+003000")          \
                POINT("B", "J6", "+010000", "+003000")

/* Two names for one place are a fault of the netlist: no join, both lines, and nothing is clean. */
static void two_names_at_one_point_are_the_netlists_fault(void **state)
{
    (void)state;
    struct board_world *world = bare_world(SIX("A") POINT("B", "J3", "+010000", "+000000") "999\n");
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 0);
    const struct diag *diag = bw_diag(world, "netlist-contradiction");
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_int_equal(diag->at.line, 8);
    assert_non_null(strstr(diag->text, "B at 10.0000, 0.0000 mm, which line 4 calls A"));
    assert_int_equal(bw_net(world, "A")->state, NET_DISPUTED);
    assert_int_equal(bw_net(world, "B")->state, NET_DISPUTED);
    assert_non_null(strstr(bw_net(world, "A")->state_detail, "lines 4 and 8"));
    bw_free(world);

    struct join tie = {.a = "A", .b = "B"};
    world = bare_world(SIX("A") POINT("B", "J3", "+010000", "+000000") "999\n");
    world->facts.joins = &tie;
    world->facts.join_count = 1;
    bw_must_read(world);
    assert_null(bw_diag(world, "netlist-contradiction"));
    bw_free(world);
}

/* Turned by a quarter, no offset fits: refused, and the advice names turning. */
static void a_turned_netlist_is_refused(void **state)
{
    (void)state;
    struct board_world *world = bare_world(
        "P  UNITS CUST 1\n" POINT("A", "J1", "+000000", "+000000")
            POINT("A", "J2", "+000000", "+005000") POINT("A", "J3", "+000000", "+010000")
                POINT("B", "J4", "-003000", "+000000") POINT("B", "J5", "-003000", "+005000")
                    POINT("B", "J6", "-003000", "+010000") "999\n");
    bw_must_read(world);
    const struct diag *diag = bw_diag(world, "netlist-registration");
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_non_null(strstr(diag->advice, "neither mirrored nor turned"));
    assert_int_equal(world->board.net_count, 0);
    bw_free(world);
}

/* Told where it stands, not as an object of the drawing that is too large. */
static void a_point_far_from_the_board_is_told(void **state)
{
    (void)state;
    struct board_world *world = bare_world(SIX("A") POINT("A", "J7", "+900000", "+000000") "999\n");
    bw_must_read(world);
    const struct diag *diag = bw_diag(world, "netlist-point-far");
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_int_equal(diag->at.line, 8);
    assert_int_equal(diag->at.column, 42);
    assert_null(bw_diag(world, "drawing-too-large"));
    assert_int_equal(bw_net(world, "B")->state, NET_OK);
    bw_free(world);
}

/* The only join among the findings; a point of the wrong name makes a split besides. */
static const struct finding *only_join(const struct check_result *result)
{
    const struct finding *join = NULL;
    for (size_t i = 0; i < result->finding_count; i++) {
        if (result->findings[i].kind != FINDING_JOINED)
            continue;
        assert_null(join);
        join = &result->findings[i];
    }
    assert_non_null(join);
    return join;
}

/* Copper that two names share at other places too is a join, whatever one place says. */
static void a_contradiction_hides_no_join(void **state)
{
    (void)state;
    struct board_world *world = bare_world(SIX("B") POINT("B", "J1", "+000000", "+000000") "999\n");
    bw_must_read(world);
    struct check_result result = judge(world);
    only_join(&result);
    assert_int_equal(bw_diag(world, "netlist-contradiction")->level, DIAG_ERROR);
    bw_free(world);
}

/* One point against two of its copper and three of its name: told beside the join. */
static void a_point_that_stands_alone_is_named(void **state)
{
    (void)state;
    struct board_world *world = bare_world(SIX("B") "999\n");
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 2);
    for (size_t i = 0; i < 2; i++)
        assert_ptr_equal(result.findings[i].doubt, only_join(&result)->doubt);
    assert_non_null(strstr(result.findings[0].doubt,
                           "only line 4 of the netlist (at 10.0000, 0.0000 mm) says B here; the 3 "
                           "other points"));
    bw_free(world);

    /* Two against one, and the one has nothing elsewhere: nobody stands alone. */
    world =
        bare_world("P  UNITS CUST 1\n" POINT("A", "J1", "+000000", "+000000")
                       POINT("B", "J2", "+005000", "+000000") POINT("B", "J3", "+010000", "+000000")
                           POINT("C", "J4", "+000000", "+003000")
                               POINT("C", "J5", "+005000", "+003000") "999\n");
    bw_must_read(world);
    result = judge(world);
    assert_null(only_join(&result)->doubt);
    bw_free(world);
}

#define TOOLING(x, y, size)                                                                        \
    "367N/C              H1          D" size "UA00X" x "Y" y "X2000Y0000R000S0\n"

/* Holes without plating: one as stated, one that is plated, one of another size, one nowhere; one
 * beside the board is milled away. */
static void tooling_holes_are_compared_with_the_drill_files(void **state)
{
    (void)state;
    struct board_world *world = bare_world(
        SIX("A") TOOLING("-003000", "-003000", "2000") TOOLING("+022000", "-003000", "2000")
            TOOLING("-003000", "+012000", "2000") TOOLING("+022000", "+012000", "2000")
                TOOLING("+030000", "+012000", "2000") "999\n");
    bw_file(world, "bottom.gbr", BOTTOM HEAD "D10*\nX20000Y10000D02*\nX21000D01*\n" END);
    bw_file(world, "n.drl",
            DRILL "; #@! TF.FileFunction,NonPlated,1,2,NPTH\nT1C2.0\nT2C3.0\n%\nT1\n"
                  "X-3.0Y-3.0\nT2\nX-3.0Y12.0\nM30\n");
    bw_file(world, "p.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C2.0\n%\nT1\nX22.0Y-3.0\nM30\n");
    bw_must_read(world);
    static const struct {
        uint32_t line;
        const char *says;
    } told[] = {{9, "it is plated"}, {10, "another size"}, {11, "no drill file has one"}};
    size_t count = 0;
    for (size_t i = 0; i < world->diags.count; i++) {
        const struct diag *diag = &world->diags.items[i];
        if (strcmp(diag->code, "netlist-tooling") != 0)
            continue;
        assert_true(count < 3);
        assert_int_equal(diag->level, DIAG_WARNING);
        assert_int_equal(diag->at.line, told[count].line);
        assert_non_null(strstr(diag->text, told[count++].says));
    }
    assert_int_equal(count, 3);
    bw_free(world);
}

#define HOLE(net, ref, x, y)                                                                       \
    "317" net "                " ref "    -1    D1000PA00X" x "Y" y "X2000Y0000R000 S0\n"

/* A pin in a hole that no drill file has, on B's copper: no join of A and B; A is in doubt. */
static void a_pin_in_a_hole_that_is_not_drilled_joins_nothing(void **state)
{
    (void)state;
    const char *const lists[] = {SIX("A") HOLE("A", "J7", "-003000", "-003000")
                                     HOLE("A", "J9", "+002000", "+003000") "999\n",
                                 SIX("A") HOLE("A", "J9", "+002000", "+003000") "999\n"};
    for (size_t i = 0; i < 2; i++) {
        struct board_world *world = bare_world(lists[i]);
        bw_file(world, "bottom.gbr", BOTTOM HEAD "D11*\nX-3000Y-3000D03*\n" END);
        bw_file(world, "p.drl",
                DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C1.0\n%\nT1\nX-3.0Y-3.0\nM30\n");
        bw_must_read(world);
        struct check_result result = judge(world);
        for (size_t f = 0; f < result.finding_count; f++)
            assert_int_not_equal(result.findings[f].kind, FINDING_JOINED);
        const struct diag *diag = bw_diag(world, "netlist-point-undrilled");
        assert_int_equal(diag->level, DIAG_WARNING);
        assert_int_equal(diag->at.line, i == 0 ? 9 : 8);
        assert_int_equal(bw_net(world, "A")->state, NET_DISPUTED);
        assert_non_null(strstr(bw_net(world, "A")->state_detail, "J9.1 lies in no plated hole at"));
        assert_int_equal(bw_net(world, "B")->state, NET_OK);
        bw_free(world);
    }
}

/* ---- netlists and rows beside attributes ---- */

/* 0.001 mm units; the pads of tied_strips under other names or the same. */
static const char *netlist_of(struct board_world *world, const char *one, const char *two)
{
    return arena_printf(world->arena,
                        "P  UNITS CUST 1\n"
                        "327%-14s   J1    -1          A01X+000000Y+000000X1000Y1000R000 S0\n"
                        "327%-14s   J2    -1          A01X+010000Y+000000X1000Y1000R000 S0\n"
                        "327%-14s   J3    -1          A01X+000000Y+003000X1000Y1000R000 S0\n"
                        "327%-14s   J4    -1          A01X+010000Y+003000X1000Y1000R000 S0\n"
                        "999\n",
                        one, one, two, two);
}

/* Both sources know both names: that is a join, and nobody disagrees. */
static void a_join_that_two_sources_see_is_a_join(void **state)
{
    (void)state;
    struct board_world *world = world_of(tied_strips);
    bw_file(world, "net.ipc", netlist_of(world, "A", "B"));
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    assert_int_equal(result.findings[0].kind, FINDING_JOINED);
    assert_int_equal(bw_net(world, "A")->state, NET_JOINED);
    assert_null(bw_diag(world, "names-disagree"));
    bw_free(world);
}

static const char *two_strips(struct board_world *world)
{
    return bw_text(world, strip(world, "A", "J1", "J2", 0), strip(world, "B", "J3", "J4", 3000),
                   NULL);
}

/* The netlist calls B's copper C: both names, both files and lines; no join; A is not touched. */
static void sources_that_disagree_are_both_named(void **state)
{
    (void)state;
    struct board_world *world = world_of(two_strips);
    bw_table(world, "net,pin,current_a\nA,,1\nB,,1\n");
    bw_file(world, "net.ipc", netlist_of(world, "A", "C"));
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 0);
    assert_int_equal(bw_net(world, "B")->state, NET_DISPUTED);
    assert_int_equal(bw_net(world, "C")->state, NET_DISPUTED);
    assert_int_equal(bw_net(world, "A")->state, NET_OK);
    const struct diag *diag = bw_diag(world, "names-disagree");
    assert_non_null(diag);
    assert_int_equal(diag->level, DIAG_WARNING);
    assert_non_null(strstr(diag->text, "B (attribute"));
    assert_non_null(strstr(diag->text, "top.gbr:"));
    assert_non_null(strstr(diag->text, "C (netlist"));
    assert_non_null(strstr(diag->text, "net.ipc:4"));
    for (size_t i = 0; i < result.verdict_count; i++) {
        bool is_b = strcmp(net_name(world, result.verdicts[i].net), "B") == 0;
        assert_int_equal(result.verdicts[i].verdict == VERDICT_NOT_JUDGED, is_b);
    }
    bw_free(world);
}

/* The netlist gives one pad of A the name B and one of B the name A. It says two names of each
 * copper then, but of pads to which attributes give the other: no join, a disagreement. */
static void a_netlist_that_swaps_two_pads_joins_nothing(void **state)
{
    (void)state;
    struct board_world *world = world_of(two_strips);
    const char *right = netlist_of(world, "A", "B");
    char *swapped = arena_strndup(world->arena, right, strlen(right));
    char *second = strstr(strchr(swapped, '\n') + 60, "327A"), *third = strstr(swapped, "327B");
    assert_true(second && third);
    second[3] = 'B';
    third[3] = 'A';
    bw_file(world, "net.ipc", swapped);
    bw_must_read(world);
    assert_int_equal(judge(world).finding_count, 0);
    assert_int_equal(bw_net(world, "A")->state, NET_DISPUTED);
    assert_int_equal(bw_net(world, "B")->state, NET_DISPUTED);
    assert_non_null(bw_diag(world, "names-disagree"));
    bw_free(world);
}

/* A pin's point on the copper between two pads: told, and the copper named all the same. */
static void a_point_beside_every_pad_is_told(void **state)
{
    (void)state;
    struct board_world *world = world_of(two_strips);
    const char *text = netlist_of(world, "A", "B");
    const char *end = strstr(text, "999");
    bw_file(world, "more.ipc",
            arena_printf(world->arena, "%.*s%s", (int)(end - text), text,
                         "327A                J9    -1          A01X+005000Y+000000X0300Y0300R000 "
                         "S0\n999\n"));
    bw_must_read(world);
    assert_int_equal(bw_diag(world, "netlist-point-beside")->at.line, 6);
    assert_int_equal(judge(world).finding_count, 0);
    bw_free(world);
}

/* A side that the board does not have: the record's column, and nothing is taken for copper. */
static void a_point_on_a_layer_that_is_not_there_is_told(void **state)
{
    (void)state;
    struct board_world *world = world_of(two_strips);
    const char *text = netlist_of(world, "A", "B");
    char *seventh = arena_strndup(world->arena, text, strlen(text));
    memcpy(strstr(seventh, "A01"), "A07", 3);
    bw_file(world, "net.ipc", seventh);
    bw_must_read(world);
    const struct diag *diag = bw_diag(world, "netlist-side");
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_int_equal(diag->at.line, 2);
    assert_int_equal(diag->at.column, 39);
    assert_int_equal(judge(world).finding_count, 0);
    bw_free(world);
}

/* Two netlists, each with a name of its own for the same copper, are two sources that disagree;
 * where both know both names the copper joins them. */
static void two_netlists_that_differ_disagree(void **state)
{
    (void)state;
    struct board_world *world = bare_world(SIX("A") "999\n");
    bw_file(world, "other.ipc",
            "P  UNITS CUST 1\n" POINT("A", "J1", "+000000", "+000000")
                POINT("A", "J2", "+005000", "+000000") POINT("A", "J3", "+010000", "+000000")
                    POINT("C", "J4", "+000000", "+003000") POINT("C", "J5", "+005000", "+003000")
                        POINT("C", "J6", "+010000", "+003000") "999\n");
    bw_must_read(world);
    assert_int_equal(judge(world).finding_count, 0);
    assert_int_equal(bw_net(world, "A")->state, NET_OK);
    assert_int_equal(bw_net(world, "B")->state, NET_DISPUTED);
    assert_int_equal(bw_net(world, "C")->state, NET_DISPUTED);
    const struct diag *diag = bw_diag(world, "names-disagree");
    assert_non_null(strstr(diag->text, "net.ipc:5"));
    assert_non_null(strstr(diag->text, "other.ipc:5"));
    bw_free(world);

    world = bare_world(SIX("B") "999\n");
    bw_file(world, "other.ipc", SIX("B") "C the same in other words\n999\n");
    bw_must_read(world);
    struct check_result result = judge(world);
    only_join(&result);
    assert_null(bw_diag(world, "names-disagree"));
    bw_free(world);
}

/* A pin that hits no copper leaves its net in doubt, and only that. */
static void a_pin_on_no_copper_leaves_its_net_unjudged(void **state)
{
    (void)state;
    struct board_world *world = world_of(two_strips);
    bw_table(world, "net,pin,current_a\nA,,1\nB,,1\n");
    const char *text = netlist_of(world, "A", "B");
    const char *end = strstr(text, "999");
    bw_file(world, "net.ipc",
            arena_printf(world->arena, "%.*s%s", (int)(end - text), text,
                         "327A                J9    -1          A01X+005000Y+008000X0300Y0300R000 "
                         "S0\n999\n"));
    bw_must_read(world);
    assert_int_equal(bw_diag(world, "netlist-point-bare")->at.line, 6);
    assert_int_equal(bw_net(world, "A")->state, NET_DISPUTED);
    assert_non_null(strstr(bw_net(world, "A")->state_detail, "J9.1 lies on no copper"));
    assert_non_null(strstr(bw_net(world, "A")->state_detail, "net.ipc:6"));
    assert_int_equal(bw_net(world, "B")->state, NET_OK);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 0);
    for (size_t i = 0; i < result.verdict_count; i++)
        assert_int_equal(result.verdicts[i].verdict == VERDICT_NOT_JUDGED,
                         strcmp(net_name(world, result.verdicts[i].net), "A") == 0);
    bw_free(world);
}

static void a_row_against_the_netlist_is_an_error(void **state)
{
    (void)state;
    struct board_world *world = world_of(two_strips);
    bw_file(world, "net.ipc", netlist_of(world, "A", "B"));
    bw_table(world, "net,current_a,x_mm,y_mm,layer\nHEAT,1,0,3,top\n");
    bw_read(world);
    const struct diag *diag = bw_diag(world, "position-contradicts");
    assert_non_null(diag);
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_non_null(strstr(diag->text, "HEAT (table position"));
    assert_non_null(strstr(diag->text, "table.csv:2"));
    assert_int_equal(bw_net(world, "B")->state, NET_DISPUTED);
    assert_int_equal(bw_net(world, "HEAT")->state, NET_DISPUTED);
    bw_free(world);
}

/* Rows that name what netlist and drawing name alike add nothing and hurt nothing. */
static void sources_that_agree_are_one(void **state)
{
    (void)state;
    struct board_world *world = world_of(two_strips);
    bw_file(world, "net.ipc", netlist_of(world, "A", "B"));
    bw_table(world, "net,current_a,x_mm,y_mm,layer\nB,1,0,3,top\nB,1,10,3,top\n");
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 0);
    assert_int_equal(result.verdict_count, 1);
    assert_int_equal(result.verdicts[0].verdict, VERDICT_PASS);
    assert_int_equal(bw_net(world, "B")->terminal_count, 2);
    bw_free(world);
}

#define WIDE_EDGE                                                                                  \
    PROFILE "G01*\nX-5000Y-5000D02*\nX105000D01*\nY105000D01*\nX-5000D01*\nY-5000D01*\n" END

/* An area of 100 x 100 mm between two bars that are pads, notched to 90 mm: 3.15 mm2 of copper. */
static void a_bridge_wider_than_most_boards_is_placed_too(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            bw_text(world, TOP, "%ADD10R,1X100*%\nG01*\n", named(world, "A"),
                    "G36*\nX0Y0D02*\nX100000D01*\nY100000D01*\nX50100D01*\nY90000D01*\n"
                    "X50000D01*\nY100000D01*\nX0D01*\nY0D01*\nG37*\n",
                    "%TO.P,J1,1*%\nD10*\nX500Y50000D03*\n", named(world, "B"),
                    "%TO.P,J2,1*%\nX99500Y50000D03*\n", END, NULL));
    bw_file(world, "bottom.gbr", BOTTOM HEAD END);
    bw_file(world, "edge.gbr", WIDE_EDGE);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    const struct finding *finding = &result.findings[0];
    assert_int_equal(finding->kind, FINDING_JOINED);
    assert_near(finding->places[0].width_mm, 90, 1e-4);
    assert_near((double)finding->places[0].middle.x_nm, 50.05e6, 0.06e6);
    assert_false(finding->places[0].is_at_most);
    bw_free(world);
}

/* 900 clearances of 1 mm, 2 mm apart, in an area of 60 x 60 mm: the least cut runs through a row of
 * 30 of them, 60 - 30 mm of copper. */
static void a_bridge_full_of_clearances_is_proven(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    const char *holes = "";
    for (int x = 0; x < 30; x++)
        for (int y = 0; y < 30; y++)
            holes = arena_printf(world->arena, "%sX%dY%dD03*\n", holes, 21000 + 2000 * x,
                                 21000 + 2000 * y);
    bw_file(
        world, "top.gbr",
        bw_text(world, TOP, "%ADD10R,1X60*%\n%ADD11C,1*%\nG01*\n", named(world, "A"),
                "G36*\nX18000Y20000D02*\nX82000D01*\nY80000D01*\nX18000D01*\nY20000D01*\nG37*\n",
                "%LPC*%\nD11*\n", holes, "%LPD*%\n", "%TO.P,J1,1*%\nD10*\nX18500Y50000D03*\n",
                named(world, "B"), "%TO.P,J2,1*%\nX81500Y50000D03*\n", END, NULL));
    bw_file(world, "bottom.gbr", BOTTOM HEAD END);
    bw_file(world, "edge.gbr", WIDE_EDGE);
    bw_must_read(world);
    struct check_result result = judge(world);
    assert_int_equal(result.finding_count, 1);
    assert_int_equal(result.findings[0].kind, FINDING_JOINED);
    assert_near(result.findings[0].places[0].width_mm, 30, 1e-3);
    assert_int_equal(result.findings[0].places[0].piece_count, 31);
    assert_false(result.findings[0].places[0].is_at_most);
    bw_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cut_track_is_split_where_it_is_cut),
        cmocka_unit_test(three_pieces_have_the_two_shortest_gaps),
        cmocka_unit_test(pieces_without_a_common_layer_name_both),
        cmocka_unit_test(two_tracks_meet_in_the_bridge_between_them),
        cmocka_unit_test(a_chain_of_nets_is_joined_twice),
        cmocka_unit_test(a_stated_tie_is_no_finding),
        cmocka_unit_test(a_foreign_name_without_a_pad_is_shown_where_it_was_drawn),
        cmocka_unit_test(a_join_that_two_sources_see_is_a_join),
        cmocka_unit_test(sources_that_disagree_are_both_named),
        cmocka_unit_test(two_names_at_one_point_are_the_netlists_fault),
        cmocka_unit_test(a_contradiction_hides_no_join),
        cmocka_unit_test(a_point_that_stands_alone_is_named),
        cmocka_unit_test(tooling_holes_are_compared_with_the_drill_files),
        cmocka_unit_test(a_netlist_that_swaps_two_pads_joins_nothing),
        cmocka_unit_test(a_point_beside_every_pad_is_told),
        cmocka_unit_test(a_pin_on_no_copper_leaves_its_net_unjudged),
        cmocka_unit_test(a_pin_in_a_hole_that_is_not_drilled_joins_nothing),
        cmocka_unit_test(a_turned_netlist_is_refused),
        cmocka_unit_test(a_point_far_from_the_board_is_told),
        cmocka_unit_test(a_row_against_the_netlist_is_an_error),
        cmocka_unit_test(a_point_on_a_layer_that_is_not_there_is_told),
        cmocka_unit_test(two_netlists_that_differ_disagree),
        cmocka_unit_test(sources_that_agree_are_one),
        cmocka_unit_test(a_bridge_wider_than_most_boards_is_placed_too),
        cmocka_unit_test(a_bridge_full_of_clearances_is_proven),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
