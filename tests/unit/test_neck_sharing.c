/*
 * Pass or pass by sum: current divides by resistance, so several ways that suffice together, or a
 * thin one beside one that suffices, are no plain pass (Kirchhoff's laws). Copper of 1 mm
 * thickness, 1 mm2 for 1 A: widths in mm are areas in mm2.
 */
#include "assertions.h"
#include "neck_world.h"

#include <math.h>

#define NEED 3.0

static struct world *sheet_with_ends(double width, double height)
{
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, width, height);
    world_contact_box(world, 0, 0, 0, 0, 1, height);
    world_contact_box(world, 0, 1, width - 1, 0, width, height);
    return world;
}

/* margin: 0: more than 3 */
static void assert_judged(struct world *world, bool is_plain, double margin)
{
    struct neck_result result;
    world_build(world);
    assert_int_equal(world_find(world, NEED, 3, &result), NECK_OK);
    assert_int_equal(result.neck_count, 0);
    assert_true(result.is_proved);
    assert_int_equal(result.is_single_everywhere, is_plain);
    assert_int_equal(result.has_least, margin > 0);
    if (margin > 0)
        assert_near(result.least.margin, margin, 1e-3);
    world_free(world);
}

static void bar_passes(void **state)
{
    (void)state;
    assert_judged(sheet_with_ends(20, 4), true, 4 / NEED);
    assert_judged(sheet_with_ends(40, 30), true, 0);
}

/* An opening from x = 8 to 12 leaves webs of these widths below and above it. */
static struct world *ring(double below, double opening, double above)
{
    struct world *world = sheet_with_ends(20, below + opening + above);
    world_box(world, 0, LOOP_CUTS, 8, below, 12, below + opening);
    return world;
}

static void ring_passes_by_sum(void **state)
{
    (void)state;
    assert_judged(ring(2, 5, 2), false, 4 / NEED);
}

static void thin_way_beside_a_sufficient_one_is_no_plain_pass(void **state)
{
    (void)state;
    assert_judged(ring(1, 5, 4), false, 5 / NEED);
    assert_judged(ring(1, 5, 12), false, 0); /* however wide it is */
}

static void ways_that_each_suffice_pass(void **state)
{
    (void)state;
    assert_judged(ring(3.5, 5, 4), true, 7.5 / NEED);
    assert_judged(ring(10, 5, 10), true, 0);
}

/* A plate with five holes of 2 mm on a line across it, 2 mm or 4 mm between them and at the edges.
 */
static struct world *plate_with_holes(double web)
{
    struct world *world = sheet_with_ends(40, 10 + 6 * web);
    for (int i = 0; i < 5; i++)
        world_disc(world, 0, LOOP_CUTS, BOUND_CUT, ISTHMUS_NONE, 20, web + 1 + i * (web + 2), 1);
    return world;
}

static void wide_plate_with_holes_passes_by_sum(void **state)
{
    (void)state;
    assert_judged(plate_with_holes(1), false, 6 / NEED);
    assert_judged(plate_with_holes(2), false, 0);
    assert_judged(plate_with_holes(4), true, 0);
}

/* Two layers, `count` plated holes between them, in a row along the current. */
static struct world *layer_change(int count, double wall_mm2)
{
    struct world *world = world_new();
    for (uint32_t sheet = 0; sheet < 2; sheet++) {
        world_sheet(world, 1, 1);
        world_box(world, sheet, LOOP_ADDS, 0, 0, 40, 16);
    }
    world_contact_box(world, 0, 0, 0, 0, 1, 16);
    world_contact_box(world, 1, 1, 39, 0, 40, 16);
    for (int i = 0; i < count; i++)
        world_hole(world, 10 + 8 * i, 8, 1, wall_mm2, ISTHMUS_NONE);
    return world;
}

static void holes_in_parallel_pass_by_sum(void **state)
{
    (void)state;
    assert_judged(layer_change(3, 1.5), false, 4.5 / NEED);
    assert_judged(layer_change(3, 2.9), false, 8.7 / NEED);
    assert_judged(layer_change(1, 3.5), true, 3.5 / NEED);
}

/*
 * A pad of 4 x 4 in a plate of 40 x 30, with four gaps of 0.5 about it: four spokes, three of
 * `width`, one of `last`. Whoever is held by spokes of equal need carries a share of 3 / 4 each.
 */
static struct world *pad_on_spokes(double width, double last)
{
    const double half = width / 2, gap = 0.5, pad = 2;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, -20, -15, 20, 15);
    /* corners of the relief, left to right and below to above, each an L without its inner part */
    for (int corner = 0; corner < 4; corner++) {
        double sx = corner % 2 ? 1 : -1, sy = corner / 2 ? 1 : -1;
        double from_x = sx > 0 && sy > 0 ? last - half : half;
        double xy[6][2] = {
            {from_x, pad},          {pad, pad},         {pad, half}, {pad + gap, half},
            {pad + gap, pad + gap}, {from_x, pad + gap}};
        for (int i = 0; i < 6; i++) {
            xy[i][0] *= sx;
            xy[i][1] *= sy;
        }
        world_polygon(world, 0, LOOP_CUTS, BOUND_CUT, ISTHMUS_NONE, (const double(*)[2])xy, 6);
    }
    world_contact_box(world, 0, 0, -pad, -pad, pad, pad);
    world_contact_box(world, 0, 1, 19, -15, 20, 15);
    return world;
}

/* Spokes round one contact count by equal shares (common practice, no source). */
static void spokes_round_one_pad_pass(void **state)
{
    (void)state;
    assert_judged(pad_on_spokes(1.2, 1.2), true, 4.8 / NEED);
    assert_judged(pad_on_spokes(1.2, 0.65), false, 4.25 / NEED); /* 0.65 for 0.75 */
}

/* A wide plate, and below it a strip that two thin-walled holes join to it: a way beside it. */
static struct world *strip_below(int hole_count, double wall_mm2)
{
    struct world *world = sheet_with_ends(40, 30);
    world_sheet(world, 1, 1);
    world_box(world, 1, LOOP_ADDS, 4, 10, 36, 20);
    for (int i = 0; i < hole_count; i++)
        world_hole(world, 10 + 20 * i, 15, 1, wall_mm2, ISTHMUS_NONE);
    return world;
}

static void a_way_over_another_layer_is_no_plain_pass(void **state)
{
    (void)state;
    assert_judged(strip_below(1, 0.5), true, 0); /* a dead end */
    assert_judged(strip_below(2, 0.5), false, 0);
    assert_judged(strip_below(2, 3.5), true, 0);
}

/* Two pads of one terminal on tracks of their own: they join them outside the board. */
static void tracks_to_pads_of_one_terminal_share(void **state)
{
    (void)state;
    for (int is_one = 0; is_one < 2; is_one++) {
        struct world *world = world_new();
        world_sheet(world, 1, 1);
        world_box(world, 0, LOOP_ADDS, 0, 0, 30, 20);
        world_box(world, 0, LOOP_CUTS, -1, 3.5, 20, 13.5);
        world_contact_box(world, 0, 0, 0, 0, 1, 3.5);
        world_contact_box(world, 0, is_one ? 0 : 1, 0, 13.5, 1, 20);
        world_contact_box(world, 0, is_one ? 1 : 2, 29, 0, 30, 20);
        if (is_one)
            world_box(world, 0, LOOP_CUTS, 8, 1.5, 12, 4);
        assert_judged(world, !is_one, is_one ? 8 / NEED : 3.5 / NEED);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bar_passes),
        cmocka_unit_test(ring_passes_by_sum),
        cmocka_unit_test(thin_way_beside_a_sufficient_one_is_no_plain_pass),
        cmocka_unit_test(ways_that_each_suffice_pass),
        cmocka_unit_test(wide_plate_with_holes_passes_by_sum),
        cmocka_unit_test(holes_in_parallel_pass_by_sum),
        cmocka_unit_test(spokes_round_one_pad_pass),
        cmocka_unit_test(a_way_over_another_layer_is_no_plain_pass),
        cmocka_unit_test(tracks_to_pads_of_one_terminal_share),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
