/* Least cuts between groups of terminals, of shapes whose narrowest place is known by hand. Against
 * an independent search on random shapes: test_neck_cuts.c. */
#include "../../rules/bridge.h"
#include "assertions.h"
#include "neck/cut_flow.h"
#include "neck_world.h"
#include "random.h"

#include <math.h>

/* 1 mm thick copper of weight 1: areas in mm2 are lengths in mm. */
static bool cut(struct world *world, double limit_mm2, const uint8_t *side, struct neck_place *out)
{
    struct neck_meter *meter;
    bool is_over_limit, is_found;
    assert_int_equal(neck_meter_new(&world->net, limit_mm2, 100000, &meter, &is_over_limit),
                     NECK_OK);
    assert_false(is_over_limit);
    assert_int_equal(neck_meter_cut(meter, side, world->arena, out, &is_found), NECK_OK);
    neck_meter_free(meter);
    return is_found;
}

/* Three pads in a row on a bar 4 mm wide, notched to 1 mm and to 2 mm between them. */
static struct world *row_of_three(void)
{
    struct world *world = world_new();
    uint32_t sheet = world_sheet(world, 1, 1);
    world_box(world, sheet, LOOP_ADDS, 0, 0, 30, 4);
    world_contact_box(world, sheet, 0, 1, 0, 2, 4);
    world_contact_box(world, sheet, 1, 15, 0, 16, 4);
    world_contact_box(world, sheet, 2, 28, 0, 29, 4);
    world_box(world, sheet, LOOP_CUTS, 8, -1, 8.5, 3);
    world_box(world, sheet, LOOP_CUTS, 22, -1, 22.5, 2);
    world_build(world);
    return world;
}

static void each_question_has_its_own_cut(void **state)
{
    (void)state;
    struct world *world = row_of_three();
    struct neck_place place;
    assert_true(cut(world, 3.9, (const uint8_t[]){1, 2, 2}, &place));
    assert_near(place.area_mm2, 1, 3e-6);
    assert_true(cut(world, 3.9, (const uint8_t[]){1, 1, 2}, &place));
    assert_near(place.area_mm2, 2, 3e-6);
    assert_true(cut(world, 3.9, (const uint8_t[]){2, 1, 2}, &place));
    assert_near(place.area_mm2, 3, 3e-6);
    assert_int_equal(place.piece_count, 2);
    world_free(world);
}

/* A terminal of neither group is copper like all copper: the narrower notch parts the outer two. */
static void who_is_not_asked_about_is_copper(void **state)
{
    (void)state;
    struct world *world = row_of_three();
    struct neck_place place;
    assert_true(cut(world, 3.9, (const uint8_t[]){1, 0, 2}, &place));
    assert_near(place.area_mm2, 1, 3e-6);
    assert_near(place.pieces[0].a.x, 8.25e6, 0.26e6);
    world_free(world);
}

static void above_the_limit_nothing_is_found(void **state)
{
    (void)state;
    struct world *world = row_of_three();
    struct neck_place place;
    assert_false(cut(world, 0.99, (const uint8_t[]){1, 2, 2}, &place));
    assert_true(cut(world, 1.01, (const uint8_t[]){1, 2, 2}, &place));
    world_free(world);
}

/* Two bars on two sheets, joined by two holes whose walls are less than all else. */
static void hole_walls_are_cut(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 20, 6);
    world_box(world, 1, LOOP_ADDS, 16, 0, 40, 6);
    world_contact_box(world, 0, 0, 1, 1, 2, 5);
    world_contact_box(world, 1, 1, 38, 1, 39, 5);
    world_hole(world, 18, 2, 0.3, 0.11, ISTHMUS_NONE);
    world_hole(world, 18, 4, 0.3, 0.13, ISTHMUS_NONE);
    world_build(world);
    struct neck_place place;
    assert_true(cut(world, 5, (const uint8_t[]){1, 2}, &place));
    assert_near(place.area_mm2, 0.24, 1e-9);
    assert_int_equal(place.piece_count, 2);
    assert_int_equal(place.pieces[0].kind, PIECE_WALL);
    world_free(world);
}

/*
 * A pad's lead fills its hole: from the pad above to the copper below, which has no pad there, it
 * takes the whole rim, pi 0.6 of an octagon's sides at least, and not the wall.
 */
static void a_lead_in_a_hole_is_no_wall(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 2, 2);
    world_box(world, 1, LOOP_ADDS, 0, 0, 20, 8);
    uint32_t contact = world_contact_box(world, 0, 0, 0, 0, 2, 2);
    world_contact_box(world, 1, 1, 15, 3, 17, 5);
    world_hole(world, 1, 1, 0.3, 0.05, contact);
    world_build(world);
    struct neck_place place;
    assert_true(cut(world, 5, (const uint8_t[]){1, 2}, &place));
    assert_near(place.area_mm2, 2 * acos(-1) * 0.3, 2e-6);
    world_free(world);
}

/*
 * A pad over the lower edge of an area, half a millimetre from the edge on its right: the cut goes
 * up along it for 0.8 mm, over it for 0.5 mm and on, in one line, for 0.5 mm. In a turned drawing
 * that line passes the pad's corner by a part of a nanometre, on this side or on that.
 */
static void a_cut_that_grazes_a_corner_is_found_at_any_angle(void **state)
{
    (void)state;
    for (int i = 0; i < 200; i++) {
        struct world *world = world_new();
        world->angle_rad = 0.03 * i;
        world->shift_x_mm = 0.000001 * i;
        world_sheet(world, 1, 1);
        world_box(world, 0, LOOP_ADDS, 0, 0, 6, 4);
        world_contact_box(world, 0, 0, 5, -0.2, 5.5, 0.8);
        world_contact_box(world, 0, 1, 0.5, 1, 1.5, 2);
        world_build(world);
        struct neck_place place;
        assert_true(cut(world, 2.5, (const uint8_t[]){1, 2}, &place));
        assert_near(place.area_mm2, 1.8, 5e-6);
        world_free(world);
    }
}

/*
 * A plated hole of 0.5 mm stands in the tip of a slit from the left, whose upper edge rises to the
 * left: from the top of the rim to the corner of the slit on the right it is hypot(2, 1). (The
 * rim's chords lie 0.5 um outside, so it meets the flat edge up to 2 um further on.)
 */
static void a_cut_ends_where_an_edge_meets_a_rim(void **state)
{
    (void)state;
    static const double slit[][2] = {{-9, 0}, {0, 0}, {0, 0.5}, {-9, 2.75}};
    for (int i = 0; i < 12; i++) {
        struct world *world = world_new();
        world->angle_rad = 0.5 * i;
        world_sheet(world, 1, 1);
        world_box(world, 0, LOOP_ADDS, -8, -8, 8, 8);
        world_polygon(world, 0, LOOP_CUTS, BOUND_ETCHED, ISTHMUS_NONE, slit, 4);
        world_box(world, 0, LOOP_CUTS, 2, 1.5, 9, 1.7);
        world_hole(world, 0, 0, 0.5, 10, ISTHMUS_NONE);
        world_contact_box(world, 0, 0, -1, 5, 1, 6);
        world_contact_box(world, 0, 1, -1, -6, 1, -5);
        world_build(world);
        struct neck_place place;
        assert_true(cut(world, 4, (const uint8_t[]){1, 2}, &place));
        assert_near(place.area_mm2, hypot(2, 1), 2e-3);
        world_free(world);
    }
}

/*
 * A plated hole of 1 mm with its lead, over the mouth of a pocket whose corners stand at (-0.7,
 * -0.1) and (0.7, -0.1): the cut comes from one corner, touches the rim, follows it over the top
 * and leaves for the other corner. Each tangent is sqrt(0.7^2 + 0.1^2 - 0.5^2) = 0.5 mm and touches
 * 45 degrees of the rim beyond its corner's direction.
 */
static void a_cut_round_a_rim_is_as_long_as_round_its_circle(void **state)
{
    (void)state;
    static const double pocket[][2] = {{-0.7, -0.1}, {-0.7, -9}, {0.7, -9}, {0.7, -0.1}, {0, -3}};
    double arc = 0.5 * (acos(-1) / 2 + 2 * atan2(0.1, 0.7));
    for (int i = 0; i < 12; i++) {
        struct world *world = world_new();
        world->angle_rad = 0.5 * i;
        world_sheet(world, 1, 1);
        world_box(world, 0, LOOP_ADDS, -8, -8, 8, 8);
        world_polygon(world, 0, LOOP_CUTS, BOUND_ETCHED, ISTHMUS_NONE, pocket, 5);
        uint32_t lead = world_contact_disc(world, 0, 0, 0, 0, 0.45);
        world_contact_box(world, 0, 1, -7, 6, 7, 7);
        world_hole(world, 0, 0, 0.5, 0.05, lead);
        world_build(world);
        struct neck_place place;
        assert_true(cut(world, 3, (const uint8_t[]){1, 2}, &place));
        assert_near(place.area_mm2, 2 * 0.5 + arc, 2e-6);
        world_free(world);
    }
}

/* A small pad in a wide area: the cut closes round the pad, 2 pi r. */
static void a_pad_in_an_area_is_cut_all_round(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 40, 40);
    world_contact_disc(world, 0, 0, 20, 20, 0.5);
    world_contact_box(world, 0, 1, 1, 1, 3, 39);
    world_build(world);
    struct neck_place place;
    assert_true(cut(world, 5, (const uint8_t[]){1, 2}, &place));
    assert_near(place.area_mm2, 2 * acos(-1) * 0.5, 2e-6);
    world_free(world);
}

static void copper_that_does_not_join_needs_no_cut(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 4, 4);
    world_box(world, 0, LOOP_ADDS, 6, 0, 10, 4);
    world_contact_box(world, 0, 0, 1, 1, 2, 2);
    world_contact_box(world, 0, 1, 7, 1, 8, 2);
    world_build(world);
    struct neck_place place;
    assert_true(cut(world, 5, (const uint8_t[]){1, 2}, &place));
    assert_near(place.area_mm2, 0, 0);
    assert_int_equal(place.piece_count, 0);
    world_free(world);
}

/* Pieces up to 1.5 mm and no limit: the notch to 1 mm is found, in place of the one to 2 mm a real
 * cut that is no wider than the bar, whose sides count 1 % more. */
static void any_width_is_cut_with_sides_of_the_mesh(void **state)
{
    (void)state;
    struct world *world = row_of_three();
    struct neck_meter *meter;
    struct neck_place place;
    bool is_found;
    static const struct {
        uint8_t side[3];
        double least_mm2, most_mm2;
    } questions[] = {{{1, 2, 2}, 1, 1}, {{1, 1, 2}, 2, 4.05}, {{2, 1, 2}, 3, 5.05}};
    assert_int_equal(neck_meter_new_wide(&world->net, 1.5, &meter), NECK_OK);
    for (size_t i = 0; i < sizeof questions / sizeof *questions; i++) {
        assert_int_equal(neck_meter_cut(meter, questions[i].side, world->arena, &place, &is_found),
                         NECK_OK);
        assert_true(is_found);
        assert_true(place.area_mm2 >= questions[i].least_mm2 - 3e-6);
        assert_true(place.area_mm2 <= questions[i].most_mm2 + 3e-6);
    }
    neck_meter_free(meter);
    world_free(world);
}

/* Many terminals on copper that was united to one node: its way to the sink is drawn many times,
 * and it must be queued once (seen by AddressSanitizer on a real board of 270 pads). */
static void many_arcs_to_the_sink_are_one_step(void **state)
{
    (void)state;
    enum { ARCS = 100000 };
    struct arena *arena = arena_new("flow");
    struct flow flow;
    uint64_t work = 0;
    assert_true(flow_init(&flow, arena, 3, ARCS + 1));
    flow_add(&flow, FLOW_SOURCE, 2, ARCS - 7, 0);
    for (size_t i = 0; i < ARCS; i++)
        flow_add(&flow, 2, FLOW_SINK, 1, 0);
    flow_finish(&flow);
    assert_int_equal(flow_run(&flow, 2 * ARCS, &work), ARCS - 7);
    arena_free(arena);
}

static void too_many_pieces_are_refused(void **state)
{
    (void)state;
    struct world *world = row_of_three();
    struct neck_meter *meter;
    bool is_over_limit;
    assert_int_equal(neck_meter_new(&world->net, 3.9, 1, &meter, &is_over_limit), NECK_OK);
    assert_true(is_over_limit);
    assert_null(meter);
    world_free(world);
}

/*
 * Two areas of 15 x 15 mm, and in each of 5 x 5 fields something: a clearance in either or in both,
 * a plated hole, a pad on one of them. Every pad is a terminal.
 */
static struct world *dense_areas(uint64_t *random)
{
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_sheet(world, 0.5, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 15, 15);
    world_box(world, 1, LOOP_ADDS, 0, 0, 15, 15);
    for (int field = 0; field < 25; field++) {
        double x = 3 * (field % 5) + 1.2 + 0.6 * random_part(random);
        double y = 3 * (int)(field / 5) + 1.2 + 0.6 * random_part(random);
        double radius = 0.3 + 0.6 * random_part(random);
        uint64_t kind = next_random(random) % 8;
        for (uint32_t sheet = 0; sheet < 2; sheet++)
            if (kind == sheet || kind == 2 || kind == 3)
                world_disc(world, sheet, LOOP_CUTS, BOUND_ETCHED, ISTHMUS_NONE, x, y, radius);
        if (kind == 4)
            world_hole(world, x, y, 0.3, 0.4, ISTHMUS_NONE);
        else if (kind > 4 && world->terminal_count < 12)
            world_contact_disc(world, kind % 2, (uint32_t)world->terminal_count, x, y, radius);
    }
    world_build(world);
    return world;
}

/* A least cut of what lies near a place: with the rest left out, or tied to its terminals. */
static bool cut_near(const struct world *world, const struct neck_place *about, double reach_mm,
                     const uint8_t *side, bool is_tied, double *area_mm2)
{
    struct arena *arena = arena_new("part");
    struct neck_part part;
    struct neck_meter *meter;
    struct neck_place place;
    bool is_over_limit, is_found;
    assert_true(neck_part_new(&world->net, about, reach_mm * 1e6, arena, &part));
    uint8_t *sides = arena_alloc(arena, part.net.terminal_count + 1, 1);
    bool can_tie = neck_part_sides(&part, side, is_tied, sides);
    assert_int_equal(neck_meter_new_part(&part, 30, 100000, &meter, &is_over_limit), NECK_OK);
    assert_false(is_over_limit);
    assert_int_equal(neck_meter_cut(meter, sides, arena, &place, &is_found), NECK_OK);
    *area_mm2 = place.area_mm2;
    neck_meter_free(meter);
    arena_free(arena);
    return can_tie && is_found;
}

/* What is left out never makes a cut wider, and what is tied never narrower than the least of the
 * whole; where both agree that is the least. About the cut and about any other place.
 * (Ends are rounded to whole nanometres, some hundred of them in a cut.) */
static void cuts_near_a_place_hold_the_least_between_them(void **state)
{
    (void)state;
    size_t proven = 0, narrower = 0, wider = 0;
    for (uint64_t seed = 1; seed <= 16; seed++) {
        uint64_t random = seed * 0x9E3779B97F4A7C15u;
        struct world *world = dense_areas(&random);
        uint8_t side[12] = {1, 2};
        for (size_t t = 2; t < 12; t++)
            side[t] = (uint8_t)(next_random(&random) % 3);
        struct neck_piece elsewhere = {.a = {7000000, 7000000}, .b = {7500000, 8000000}};
        struct neck_place least, any = {.pieces = &elsewhere, .piece_count = 1};
        assert_true(cut(world, 30, side, &least));
        for (int i = 0; i < 6; i++) {
            double apart = 0, tied = 0, reach_mm = 0.7 + 2 * (double)(i / 2);
            const struct neck_place *about = i % 2 ? &any : &least;
            if (cut_near(world, about, reach_mm, side, false, &apart))
                assert_true(apart <= least.area_mm2 * (1 + 1e-5));
            bool is_tied = cut_near(world, about, reach_mm, side, true, &tied);
            if (is_tied)
                assert_true(tied >= least.area_mm2 * (1 - 1e-5));
            narrower += apart < least.area_mm2 * 0.99;
            wider += is_tied && tied > least.area_mm2 * 1.01;
            proven += i % 2 == 0 && apart >= least.area_mm2 * (1 - 1e-5);
        }
        world_free(world);
    }
    print_message("least cuts proven near them %zu, narrower %zu, wider %zu\n", proven, narrower,
                  wider);
    assert_true(proven >= 5 && narrower >= 20 && wider >= 5);
}

/* What the rule net-joined asks, where pieces are too many all over the copper: it looks near the
 * cut. What it finds is a cut, and what it calls the least is no wider than the least of all. */
static void what_is_found_near_is_least_only_with_a_proof(void **state)
{
    (void)state;
    static const size_t near_limits[] = {100000, 400, 60};
    size_t proven_near = 0, refused = 0;
    for (uint64_t seed = 1; seed <= 16; seed++) {
        uint64_t random = seed * 0x9E3779B97F4A7C15u;
        struct world *world = dense_areas(&random);
        uint8_t side[12] = {1, 2};
        for (size_t t = 2; t < 12; t++)
            side[t] = (uint8_t)(next_random(&random) % 3);
        struct neck_place least, place;
        assert_true(cut(world, 30, side, &least));
        for (size_t i = 0; i < 3; i++) {
            struct bridge_search search;
            bool is_found, is_least;
            assert_true(bridge_begin(&world->net, world->arena, world->arena, &search));
            search.chord_limit = 0;
            search.near_chord_limit = near_limits[i];
            assert_int_equal(bridge_find(&search, side, &place, &is_found, &is_least), NECK_OK);
            assert_true(is_found);
            assert_true(place.area_mm2 >= least.area_mm2 * (1 - 1e-5));
            if (is_least)
                assert_true(place.area_mm2 <= least.area_mm2 * (1 + 2e-5));
            bool is_all_asked = search.wide_mm2 >= least.area_mm2;
            proven_near += is_least && !is_all_asked;
            refused += is_all_asked;
            bridge_end(&search);
        }
        world_free(world);
    }
    print_message("proven near the cut %zu, asked of all the copper %zu\n", proven_near, refused);
    assert_true(proven_near >= 10 && refused >= 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_question_has_its_own_cut),
        cmocka_unit_test(who_is_not_asked_about_is_copper),
        cmocka_unit_test(above_the_limit_nothing_is_found),
        cmocka_unit_test(hole_walls_are_cut),
        cmocka_unit_test(a_lead_in_a_hole_is_no_wall),
        cmocka_unit_test(a_cut_that_grazes_a_corner_is_found_at_any_angle),
        cmocka_unit_test(a_cut_ends_where_an_edge_meets_a_rim),
        cmocka_unit_test(a_cut_round_a_rim_is_as_long_as_round_its_circle),
        cmocka_unit_test(a_pad_in_an_area_is_cut_all_round),
        cmocka_unit_test(copper_that_does_not_join_needs_no_cut),
        cmocka_unit_test(too_many_pieces_are_refused),
        cmocka_unit_test(many_arcs_to_the_sink_are_one_step),
        cmocka_unit_test(any_width_is_cut_with_sides_of_the_mesh),
        cmocka_unit_test(cuts_near_a_place_hold_the_least_between_them),
        cmocka_unit_test(what_is_found_near_is_least_only_with_a_proof),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
