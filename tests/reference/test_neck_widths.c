/*
 * Widths of necks against hand values. Each shape is 1 mm thick copper of weight 1, so that areas
 * in mm2 are widths in mm; the value beside each check follows from the numbers in the same test by
 * plain geometry. Never above the true width by more than 2 nm; below it by no more than what
 * flattening takes where a corner is an arc's.
 */
#include "assertions.h"
#include "neck_world.h"

#include <math.h>

#define ROUNDING_MM 2e-6
#define FLATTENING_MM 1.1e-3 /* twice the chord error of 0.5 um, at either end */
#define PI 3.14159265358979323846

static struct neck_result find(struct world *world, double need_mm)
{
    struct neck_result result;
    world_build(world);
    assert_int_equal(world_find(world, need_mm, 1, &result), NECK_OK);
    return result;
}

static const struct neck_place *worst_place(const struct neck_result *result)
{
    assert_true(result->neck_count > 0);
    return &result->necks[0].places[0];
}

static void assert_width_at(double found, double truth, double below, int line)
{
    if (found <= truth + ROUNDING_MM && found >= truth - below)
        return;
    fail_msg("line %d: found %.7f mm, true width %.7f mm", line, found, truth);
}
#define assert_width(world, need, truth, below)                                                    \
    do {                                                                                           \
        struct neck_result result_ = find((world), (need));                                        \
        assert_width_at(worst_place(&result_)->area_mm2, (truth), (below), __LINE__);              \
        world_free(world);                                                                         \
    } while (0)

/* A bar 20 x 4 mm with a terminal near each end, turned. */
static struct world *bar(double degrees)
{
    struct world *world = world_new();
    world->angle_rad = degrees * PI / 180;
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 20, 4);
    world_contact_box(world, 0, 0, 0.5, 0.5, 1.5, 3.5);
    world_contact_box(world, 0, 1, 18.5, 0.5, 19.5, 3.5);
    return world;
}

static void cut_disc(struct world *world, double x, double y, double radius)
{
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, ISTHMUS_NONE, x, y, radius);
}

static void notches_leave_what_lies_between(void **state)
{
    (void)state;
    for (double angle = 0; angle < 360; angle += 7.3) {
        struct world *world = bar(angle);
        world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 2.7);
        assert_width(world, 3.9, 1.3, ROUNDING_MM);

        world = bar(angle);
        world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 1);
        world_box(world, 0, LOOP_CUTS, 9, 2.2, 9.5, 5);
        assert_width(world, 3.9, 1.2, ROUNDING_MM);

        /* offset by 0.9 mm along the bar: corner to corner, (9.5, 1) to (10.4, 2.2) */
        world = bar(angle);
        world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 1);
        world_box(world, 0, LOOP_CUTS, 10.4, 2.2, 11, 5);
        assert_width(world, 3.9, hypot(0.9, 1.2), ROUNDING_MM);

        /* overlapping slits: the way between them is 0.6 mm wide, narrower than past either */
        world = bar(angle);
        world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 3);
        world_box(world, 0, LOOP_CUTS, 10.1, 1, 10.6, 5);
        assert_width(world, 3.9, 0.6, ROUNDING_MM);
    }
}

static void round_edges_are_measured_on_the_true_arcs(void **state)
{
    (void)state;
    for (double angle = 0; angle < 360; angle += 11.7) {
        /* two holes, and each leaves nothing else: centres 1.1 and 3.0 mm up, cut through below and
         * above by slits */
        struct world *world = bar(angle);
        cut_disc(world, 9, 1.1, 0.5);
        cut_disc(world, 9.3, 3.0, 0.6);
        world_box(world, 0, LOOP_CUTS, 8.9, -1, 9.1, 1.1);
        world_box(world, 0, LOOP_CUTS, 9.2, 3.0, 9.4, 5);
        assert_width(world, 3.9, hypot(0.3, 1.9) - 0.5 - 0.6, 2 * ROUNDING_MM);

        /* a keyhole: hole against the straight edge */
        world = bar(angle);
        cut_disc(world, 9, 2.9, 0.5);
        world_box(world, 0, LOOP_CUTS, 8.9, -1, 9.1, 2.9);
        assert_width(world, 3.9, 4 - 2.9 - 0.5, 2 * ROUNDING_MM);

        /* hole against a corner: the slit's upper left corner (9.6, 1.2) and the hole at (9, 2.6),
         * cut through above */
        world = bar(angle);
        cut_disc(world, 9, 2.6, 0.4);
        world_box(world, 0, LOOP_CUTS, 8.9, 2.6, 9.1, 5);
        world_box(world, 0, LOOP_CUTS, 9.6, -1, 10, 1.2);
        assert_width(world, 3.9, hypot(0.6, 1.4) - 0.4, 2 * ROUNDING_MM);
    }
}

static void a_row_of_holes_leaves_the_webs(void **state)
{
    (void)state;
    for (double angle = 0; angle < 90; angle += 13) {
        struct world *world = bar(angle);
        for (int i = 0; i < 4; i++)
            cut_disc(world, 10, 0.5 + i, 0.3);
        struct neck_result result = find(world, 3.5);
        assert_width_at(worst_place(&result)->area_mm2, 4 - 4 * 0.6, 5 * ROUNDING_MM, __LINE__);
        assert_int_equal(worst_place(&result)->piece_count, 5);
        assert_true(result.necks[0].is_shared);
        world_free(world);
    }
}

static void ways_beside_each_other_add_up(void **state)
{
    (void)state;
    /* a ring: outer radius 4, inner 2.5; terminals left and right; both arms 1.5 wide */
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_disc(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, 0, 0, 4);
    cut_disc(world, 0, 0, 2.5);
    world_contact_box(world, 0, 0, -3.9, -0.3, -2.6, 0.3);
    world_contact_box(world, 0, 1, 2.6, -0.3, 3.9, 0.3);
    struct neck_result result = find(world, 3.2);
    assert_width_at(worst_place(&result)->area_mm2, 3.0, 4 * ROUNDING_MM, __LINE__);
    assert_true(result.necks[0].is_shared);
    world_free(world);

    /* strips of 1 and 0.7 mm beside each other */
    world = bar(31);
    world_box(world, 0, LOOP_CUTS, 5, -1, 15, 0.5);
    world_box(world, 0, LOOP_CUTS, 5, 1.5, 15, 2.8);
    world_box(world, 0, LOOP_CUTS, 5, 3.5, 15, 5);
    assert_width(world, 3.9, 1.7, 2 * ROUNDING_MM);
}

static void thermal_spokes_add_up(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, -8, -8, 8, 8);
    for (int i = 0; i < 4; i++) {
        /* an L-shaped gap about the pad's corner, between spokes 0.4 mm wide */
        double c = cos(i * PI / 2), s = sin(i * PI / 2);
        double outline[6][2] = {{1.0, 0.2}, {1.5, 0.2}, {1.5, 1.5},
                                {0.2, 1.5}, {0.2, 1.0}, {1.0, 1.0}};
        double turned[6][2];
        for (int k = 0; k < 6; k++) {
            turned[k][0] = c * outline[k][0] - s * outline[k][1];
            turned[k][1] = s * outline[k][0] + c * outline[k][1];
        }
        world_polygon(world, 0, LOOP_CUTS, BOUND_ETCHED, ISTHMUS_NONE, turned, 6);
    }
    world_contact_box(world, 0, 0, -0.9, -0.9, 0.9, 0.9);
    world_contact_box(world, 0, 1, 5, -6, 6, 6);
    struct neck_result result = find(world, 3);
    assert_width_at(worst_place(&result)->area_mm2, 4 * 0.4, 8 * ROUNDING_MM, __LINE__);
    assert_int_equal(worst_place(&result)->piece_count, 4);
    world_free(world);
}

static void a_small_pad_in_a_wide_pour_is_held_to_its_outline(void **state)
{
    (void)state;
    struct world *world = world_new();
    world->angle_rad = 0.3;
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, -10, -10, 10, 10);
    world_contact_box(world, 0, 0, -0.4, -0.25, 0.4, 0.25);
    world_contact_box(world, 0, 1, 6, -6, 8, 6);
    assert_width(world, 5, 2 * (0.8 + 0.5), 8 * ROUNDING_MM);

    world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, -10, -10, 10, 10);
    world_contact_disc(world, 0, 0, 0, 0, 0.5);
    world_contact_box(world, 0, 1, 6, -6, 8, 6);
    /* a polygon within the circle: short by (step angle)^2 / 24 of its length */
    assert_width(world, 5, PI, PI * 1e-3);

    /* two pads of one terminal, 1 mm apart: one curve round both is shorter than two */
    world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, -10, -10, 10, 10);
    world_contact_box(world, 0, 0, -0.7, -0.5, -0.2, 0.5);
    world_contact_box(world, 0, 0, 0.2, -0.5, 0.7, 0.5);
    world_contact_box(world, 0, 1, 6, -6, 8, 6);
    assert_width(world, 6, 2 * (1.4 + 1.0), 16 * ROUNDING_MM);
}

static void a_pad_in_a_corner_is_held_to_its_open_sides(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 20, 20);
    world_contact_box(world, 0, 0, 0, 0, 2, 1);
    world_contact_box(world, 0, 1, 15, 15, 18, 18);
    /* straight from (2, 0) over (2, 1) to (0, 1): 1 + 2; nothing shorter keeps off the pad */
    assert_width(world, 5, 3.0, 4 * ROUNDING_MM);
}

static void a_rail_through_a_pad_is_as_narrow_as_the_pad(void **state)
{
    (void)state;
    /* terminals 0 and 2 at the ends; the pad of terminal 1 fills a neck 0.8 mm wide */
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 8, 3);
    world_box(world, 0, LOOP_ADDS, 8, 1, 12, 1.8);
    world_box(world, 0, LOOP_ADDS, 12, 0, 20, 3);
    world_contact_box(world, 0, 0, 0.5, 0.5, 1.5, 2.5);
    world_contact_box(world, 0, 1, 8, 1, 12, 1.8);
    world_contact_box(world, 0, 2, 18.5, 0.5, 19.5, 2.5);
    struct neck_result result = find(world, 2);
    assert_width_at(worst_place(&result)->area_mm2, 0.8, 2 * ROUNDING_MM, __LINE__);
    world_free(world);
}

static void layers_are_joined_by_the_walls_of_their_holes(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 10, 6);
    world_box(world, 1, LOOP_ADDS, 6, 0, 16, 6);
    world_contact_box(world, 0, 0, 0.5, 0.5, 1.5, 5.5);
    world_contact_box(world, 1, 1, 14.5, 0.5, 15.5, 5.5);
    for (int i = 0; i < 5; i++)
        world_hole(world, 8, 1 + i, 0.2, 0.03 + 0.001 * i, ISTHMUS_NONE);
    struct neck_result result = find(world, 0.5);
    assert_near(worst_place(&result)->area_mm2, 5 * 0.03 + 0.01, 1e-9);
    assert_int_equal(worst_place(&result)->piece_count, 5);
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(worst_place(&result)->pieces[i].kind, PIECE_WALL);
    world_free(world);
}

static void thickness_and_weight_count(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 0.035, 0.3844);
    world_box(world, 0, LOOP_ADDS, 0, 0, 20, 4);
    world_contact_box(world, 0, 0, 0.5, 0.5, 1.5, 3.5);
    world_contact_box(world, 0, 1, 18.5, 0.5, 19.5, 3.5);
    world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 2.7);
    struct neck_result result = find(world, 0.02);
    assert_near(worst_place(&result)->area_mm2, 1.3 * 0.035 * 0.3844, 1e-7);
    assert_near(worst_place(&result)->pieces[0].length_mm, 1.3, 3e-6);
    world_free(world);
}

static void etching_takes_its_share_once_an_end(void **state)
{
    (void)state;
    /* one end on the etched edge, one on a slit's corner, etched too */
    struct world *world = bar(17);
    world->etch_loss_mm = 0.02;
    world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 2.7);
    assert_width(world, 3.9, 1.3 - 0.04, ROUNDING_MM);

    /* against a drilled hole: only the etched end loses */
    world = bar(17);
    world->etch_loss_mm = 0.02;
    double slit[4][2] = {{9, -1}, {9.5, -1}, {9.5, 2.7}, {9, 2.7}};
    world_polygon(world, 0, LOOP_CUTS, BOUND_CUT, ISTHMUS_NONE, slit, 4);
    assert_width(world, 3.9, 1.3 - 0.02, ROUNDING_MM);

    /* more than there is: open */
    world = bar(17);
    world->etch_loss_mm = 0.7;
    world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 2.7);
    struct neck_result result = find(world, 2);
    assert_near(worst_place(&result)->area_mm2, 0, 1e-12);
    world_free(world);
}

static void a_tee_has_a_neck_in_each_arm(void **state)
{
    (void)state;
    struct world *world = world_new();
    world->angle_rad = 1;
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 6, 6);
    world_box(world, 0, LOOP_ADDS, -10, 2, 0, 2.5);
    world_box(world, 0, LOOP_ADDS, 6, 2, 16, 2.7);
    world_box(world, 0, LOOP_ADDS, 2, 6, 2.9, 16);
    world_contact_box(world, 0, 0, -10, 2, -9.5, 2.5);
    world_contact_box(world, 0, 1, 15.5, 2, 16, 2.7);
    world_contact_box(world, 0, 2, 2, 15.5, 2.9, 16);
    struct neck_result result = find(world, 1.2);
    assert_int_equal(result.neck_count, 3);
    double expected[3] = {0.5, 0.7, 0.9};
    for (size_t i = 0; i < 3; i++)
        assert_width_at(result.necks[i].places[0].area_mm2, expected[i], ROUNDING_MM, __LINE__);
    world_free(world);
}

static void a_ladder_is_cut_through_both_rails(void **state)
{
    (void)state;
    struct world *world = bar(8);
    for (int i = 0; i < 4; i++)
        world_box(world, 0, LOOP_CUTS, 4 + 3 * i, 0.6, 6 + 3 * i, 3.5);
    /* rails 0.6 and 0.5 mm, rungs 1 mm */
    assert_width(world, 3, 1.1, 2 * ROUNDING_MM);
}

static void the_narrow_stretch_of_a_track_is_its_length(void **state)
{
    (void)state;
    for (double angle = 0; angle < 180; angle += 17) {
        struct world *world = world_new();
        world->angle_rad = angle * PI / 180;
        world_sheet(world, 1, 1);
        world_box(world, 0, LOOP_ADDS, -6, -3, 0, 3);
        world_box(world, 0, LOOP_ADDS, 0, -0.25, 12, 0.25);
        world_box(world, 0, LOOP_ADDS, 12, -3, 18, 3);
        world_contact_box(world, 0, 0, -5, -2, -4, 2);
        world_contact_box(world, 0, 1, 16, -2, 17, 2);
        struct neck_result result = find(world, 0.7);
        assert_int_equal(result.neck_count, 1);
        assert_int_equal(result.necks[0].place_count, 1);
        assert_near(worst_place(&result)->narrow_length_mm, 12, 0.12);
        world_free(world);
    }
}

static void terminals_apart_are_told(void **state)
{
    (void)state;
    struct world *world = bar(0);
    world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 5);
    struct neck_result result;
    world_build(world);
    assert_int_equal(world_find(world, 1, 1, &result), NECK_APART);
    world_free(world);
}

static void the_least_margin_of_a_wide_net_is_found(void **state)
{
    (void)state;
    struct world *world = bar(23);
    struct neck_result result;
    world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 2.7);
    world_build(world);
    assert_int_equal(world_find(world, 1.0, 3, &result), NECK_OK);
    assert_int_equal(result.neck_count, 0);
    assert_true(result.has_least && result.is_proved && result.is_single_everywhere);
    assert_near(result.least.margin, 1.3, 3e-6);
    assert_int_equal(world_find(world, 0.4, 3, &result), NECK_OK);
    assert_false(result.has_least);
    assert_near(result.searched_margin, 3, 0);
    world_free(world);
}

/* ---- branches ---- */

static size_t count_branches(struct world *world, double need_mm, struct neck_branch *first)
{
    struct neck_result result = find(world, need_mm);
    if (result.branch_count)
        *first = result.branches[0];
    world_free(world);
    return result.branch_count;
}

static void long_branches_are_told_and_short_ones_not(void **state)
{
    (void)state;
    struct neck_branch branch = {0};
    struct world *world = bar(12);
    world_box(world, 0, LOOP_ADDS, 8, 4, 8.5, 9);
    assert_int_equal(count_branches(world, 2, &branch), 1);
    assert_int_equal(branch.reason, BRANCH_LONG);
    assert_near(branch.width_mm, 0.5, 1e-5);
    assert_near(branch.length_mm, 5, 1e-4);

    world = bar(12);
    world_box(world, 0, LOOP_ADDS, 8, 4, 8.5, 5);
    assert_int_equal(count_branches(world, 2, &branch), 0);

    /* a sharp tip 0.5 mm wide and 4 mm long */
    world = bar(12);
    double tip[3][2] = {{8, 4}, {8.5, 4}, {8.25, 8}};
    world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, tip, 3);
    assert_int_equal(count_branches(world, 2, &branch), 0);
}

static void branches_that_end_in_holes_or_pads_are_told(void **state)
{
    (void)state;
    struct neck_branch branch = {0};
    struct world *world = bar(12);
    world_box(world, 0, LOOP_ADDS, 8, 4, 9, 6);
    world_hole(world, 8.5, 5.4, 0.2, 0.1, ISTHMUS_NONE);
    assert_int_equal(count_branches(world, 2, &branch), 1);
    assert_int_equal(branch.reason, BRANCH_HOLE);

    /* a via goes on to copper that is part of the branch */
    world = bar(12);
    world_box(world, 0, LOOP_ADDS, 8, 4, 9, 9);
    world->holes[world_hole(world, 8.5, 5.4, 0.2, 0.1, ISTHMUS_NONE)].is_via = true;
    assert_int_equal(count_branches(world, 2, &branch), 1);
    assert_int_equal(branch.reason, BRANCH_LONG);

    world = bar(12);
    world_box(world, 0, LOOP_ADDS, 8, 4, 9, 6);
    world_contact_box(world, 0, ISTHMUS_NONE, 8, 5, 9, 6);
    assert_int_equal(count_branches(world, 2, &branch), 1);
    assert_int_equal(branch.reason, BRANCH_PAD);

    /* a hole and a pad in copper that leads on are none */
    world = bar(12);
    world_hole(world, 8.5, 2, 0.2, 0.1, ISTHMUS_NONE);
    world_contact_box(world, 0, ISTHMUS_NONE, 12, 1, 13, 3);
    assert_int_equal(count_branches(world, 2, &branch), 0);
}

/*
 * A track of 0.2 mm leaves a pad, and within the pad's last tenth of a millimetre the copper is
 * only 0.24 mm wide: a cut there has the pad on both sides, one through the track has it on the
 * left. Both are too narrow, and one place: mending the track up to where it widens mends both.
 */
static void a_narrow_way_into_a_pad_is_one_neck(void **state)
{
    (void)state;
    struct world *world = world_new();
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, -10, -1, 0.9, 1);
    world_box(world, 0, LOOP_ADDS, 0.8, -0.12, 1, 0.12);
    world_box(world, 0, LOOP_ADDS, 0.9, -0.1, 10, 0.1);
    world_box(world, 0, LOOP_ADDS, 9, -1, 12, 1);
    world_contact_box(world, 0, 0, -1, -1, 1, 1);
    world_contact_box(world, 0, 1, -10, -1, -9, 1);
    world_contact_box(world, 0, 2, 11, -1, 12, 1);
    struct neck_result result = find(world, 0.6);
    assert_int_equal(result.neck_count, 1);
    assert_near(worst_place(&result)->area_mm2, 0.2, ROUNDING_MM);
    world_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_narrow_way_into_a_pad_is_one_neck),
        cmocka_unit_test(notches_leave_what_lies_between),
        cmocka_unit_test(round_edges_are_measured_on_the_true_arcs),
        cmocka_unit_test(a_row_of_holes_leaves_the_webs),
        cmocka_unit_test(ways_beside_each_other_add_up),
        cmocka_unit_test(thermal_spokes_add_up),
        cmocka_unit_test(a_small_pad_in_a_wide_pour_is_held_to_its_outline),
        cmocka_unit_test(a_pad_in_a_corner_is_held_to_its_open_sides),
        cmocka_unit_test(a_rail_through_a_pad_is_as_narrow_as_the_pad),
        cmocka_unit_test(layers_are_joined_by_the_walls_of_their_holes),
        cmocka_unit_test(thickness_and_weight_count),
        cmocka_unit_test(etching_takes_its_share_once_an_end),
        cmocka_unit_test(a_tee_has_a_neck_in_each_arm),
        cmocka_unit_test(a_ladder_is_cut_through_both_rails),
        cmocka_unit_test(the_narrow_stretch_of_a_track_is_its_length),
        cmocka_unit_test(terminals_apart_are_told),
        cmocka_unit_test(the_least_margin_of_a_wide_net_is_found),
        cmocka_unit_test(long_branches_are_told_and_short_ones_not),
        cmocka_unit_test(branches_that_end_in_holes_or_pads_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
