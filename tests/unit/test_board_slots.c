/*
 * Plated slots and cut-outs that are made of many hits or of a routed path. Areas and walls are
 * hand calculations: cut at the finished size and two walls of 0.02 mm, wall pi (d - t) t and t for
 * each length of straight side (DESIGN of the walls: DEVELOPERS.md).
 */
#include "assertions.h"
#include "board_world.h"

#include <math.h>

/* Copper of 20 x 20 mm on both sides of a board of 30 x 30 mm, all in micrometres. */
#define SQUARE                                                                                     \
    "G01*\nG36*\nX-10000Y-10000D02*\nX10000D01*\nY10000D01*\nX-10000D01*\nY-10000D01*\nG37*\n"     \
    "%ADD10C,2.0*%\nD10*\nX5000Y5000D03*\nX-5000D03*\nY-5000D03*\nX5000D03*\n"
#define EDGE                                                                                       \
    PROFILE "G01*\nX-15000Y-15000D02*\nX15000D01*\nY15000D01*\nX-15000D01*\nY-15000D01*\n" END
#define PLATED DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C1.0\n%\nT1\n"
#define NONPLATED DRILL "; #@! TF.FileFunction,NonPlated,1,2,NPTH\nT1C1.0\n%\nT1\n"
#define COPPER_MM2 400.0
#define CUT_RADIUS_MM 0.52

static struct board_world *square_board(const char *holes, bool has_edge)
{
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP SQUARE END);
    bw_file(world, "bottom.gbr", BOTTOM SQUARE END);
    if (has_edge)
        bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "holes.drl", holes);
    bw_must_read(world);
    return world;
}

static double wall_sum(const struct board_world *world)
{
    double sum = 0;
    for (size_t h = 0; h < world->board.hole_count; h++)
        sum += world->board.holes[h].wall_mm2;
    return sum;
}

/* A loop about a core: on both layers one piece of copper is left, without the core, and of the
 * wall the outer side: as long as the loop's centre line and, bent once round, pi (d - t). */
static void check_cut_out(const char *holes, double core_mm2, double length_mm)
{
    struct board_world *world = square_board(holes, true);
    double taken = core_mm2 + length_mm * CUT_RADIUS_MM + M_PI * CUT_RADIUS_MM * CUT_RADIUS_MM;
    for (int l = 0; l < 2; l++) {
        assert_int_equal(world->board.layers[l].mesh.component_count, 1);
        assert_near(world->board.layers[l].mesh.component_area_mm2[0], COPPER_MM2 - taken, 0.02);
    }
    assert_int_equal(world->board.conductor_count, 1);
    assert_near(wall_sum(world), (length_mm + M_PI * 0.98) * 0.02, 0.02 * length_mm * 0.02);
    assert_int_equal(bw_diag(world, "hole-core")->level, DIAG_NOTE);
    bw_free(world);
}

static void a_plated_cut_out_loses_its_core(void **state)
{
    (void)state;
    check_cut_out(PLATED "G00X-3.0Y-2.0\nM15\nG01X3.0\nY2.0\nX-3.0\nY-2.0\nM16\nG05\nM30\n", 24,
                  20);
    /* Four slots, their ends on each other; the last one overlaps. */
    check_cut_out(PLATED "X-3.0Y-2.0G85X3.0Y-2.0\nX3.0Y-2.0G85X3.0Y2.0\nX3.0Y2.0G85X-3.0Y2.0\n"
                         "X-3.0Y2.0G85X-3.0Y-2.0\nM30\n",
                  24, 20);
    /* A circle of radius 3 mm. */
    check_cut_out(PLATED "G00X3.0Y0.0\nM15\nG03X3.0Y0.0I-3.0J0.0\nM16\nG05\nM30\n", M_PI * 9,
                  6 * M_PI);
}

/* A way in from the middle of the core, as routers begin, falls out with it. */
static void a_way_into_the_loop_changes_nothing(void **state)
{
    (void)state;
    check_cut_out(PLATED "G00X0.0Y0.0\nM15\nG01X-3.0Y-2.0\nX3.0\nY2.0\nX-3.0\nY-2.0\nM16\nG05\n"
                         "M30\n",
                  24, 20);
}

static size_t islands(const char *holes, bool has_edge)
{
    struct board_world *world = square_board(holes, has_edge);
    assert_null(bw_diag(world, "hole-core"));
    size_t count = world->board.layers[0].mesh.component_count;
    bw_free(world);
    return count;
}

/* Not closed; not plated (an island then, which hangs on nothing); round the board itself. */
static void what_does_not_fall_out_stays(void **state)
{
    (void)state;
    assert_int_equal(
        islands(PLATED "G00X-3.0Y-2.0\nM15\nG01X3.0\nY2.0\nX-3.0\nY-0.5\nM16\nG05\nM30\n", true),
        1);
    assert_int_equal(
        islands(NONPLATED "G00X-3.0Y-2.0\nM15\nG01X3.0\nY2.0\nX-3.0\nY-2.0\nM16\nG05\nM30\n", true),
        2);
    static const char round[] =
        PLATED "G00X-15.0Y-15.0\nM15\nG01X15.0\nY15.0\nX-15.0\nY-15.0\nM16\n"
               "G05\nM30\n";
    assert_int_equal(islands(round, true), 1);
    assert_int_equal(islands(round, false), 1);
}

/* ---- rows of hits --------------------------------------------------------------------------- */

/* A pad painted as a region of 2 x 5 mm on both sides, free in both masks, without attributes. */
#define PAD_REGION "G36*\nX-1000Y-2500D02*\nX1000D01*\nY2500D01*\nX-1000D01*\nY-2500D01*\nG37*\n"
#define TRACK "%ADD12C,0.5*%\nD12*\nX0Y0D02*\nX9000Y0D01*\n%ADD13R,1.0X1.0*%\nD13*\nX9000Y0D03*\n"
#define OPENING "G01*\n%ADD10R,2.1X5.1*%\nD10*\nX0Y0D03*\n"

static struct board_world *nibbled(const char *pad, const char *holes)
{
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", bw_text(world, TOP "G01*\n", pad, TRACK END, NULL));
    bw_file(world, "bottom.gbr", bw_text(world, BOTTOM "G01*\n", pad, END, NULL));
    bw_file(world, "mt.gbr", MASK_TOP OPENING "%ADD13R,1.1X1.1*%\nD13*\nX9000Y0D03*\n" END);
    bw_file(world, "mb.gbr", MASK_BOTTOM OPENING END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "holes.drl", holes);
    bw_must_read(world);
    return world;
}

/* One contact on both layers, and the pad at the track's other end. */
static void check_one_slot(const char *pad, const char *holes)
{
    struct board_world *world = nibbled(pad, holes);
    for (size_t c = 0; c < world->board.contact_count && world->board.contact_count != 2; c++)
        print_error("contact at %.3f, %.3f mm, source %d\n",
                    (double)world->board.contacts[c].place.x_nm / 1e6,
                    (double)world->board.contacts[c].place.y_nm / 1e6,
                    world->board.contacts[c].source);
    assert_int_equal(world->board.contact_count, 2);
    assert_int_equal(world->board.terminal_count, 2);
    const struct contact *slot = NULL;
    for (size_t c = 0; c < 2; c++)
        if (world->board.contacts[c].hole != ISTHMUS_NONE)
            slot = &world->board.contacts[c];
    assert_non_null(slot);
    assert_int_equal(slot->layer_from, 1);
    assert_int_equal(slot->layer_to, 2);
    for (size_t h = 0; h < world->board.hole_count; h++) {
        assert_ptr_equal(&world->board.contacts[world->board.holes[h].contact], slot);
        assert_false(world->board.holes[h].is_via);
    }
    bw_free(world);
}

static void a_row_of_hits_is_one_contact(void **state)
{
    (void)state;
#define EIGHT "X0.0Y-1.75\nY-1.25\nY-0.75\nY-0.25\nY0.25\nY0.75\nY1.25\nY1.75\nM30\n"
#define SLOT "X0.0Y-1.75G85Y1.75\nM30\n"
#define PAD_FLASH "%ADD10O,2.0X5.0*%\nD10*\nX0Y0D03*\n"
    check_one_slot(PAD_REGION, PLATED SLOT);
    check_one_slot(PAD_REGION, PLATED EIGHT);
    check_one_slot(PAD_FLASH, PLATED SLOT);
    check_one_slot(PAD_FLASH, PLATED EIGHT);
    /* Half as wide: a flat lead fits a slot of 0.4 mm, though none fits a hole of it. */
    check_one_slot(PAD_FLASH, DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C0.4\n%\nT1\n"
                                    "X0.0Y-1.75\nR35Y0.1\nM30\n");
}

/* Vias side by side in a pad, not run into each other, are no slot: the pad stays a surface pad. */
static void vias_in_a_row_are_no_slot(void **state)
{
    (void)state;
    struct board_world *world =
        nibbled(PAD_FLASH, DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C0.3\n%\nT1\n"
                                 "X0.0Y-1.75\nR7Y0.5\nM30\n");
    assert_int_equal(world->board.contact_count, 3);
    for (size_t c = 0; c < 3; c++)
        assert_int_equal(world->board.contacts[c].hole, ISTHMUS_NONE);
    bw_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plated_cut_out_loses_its_core),
        cmocka_unit_test(a_way_into_the_loop_changes_nothing),
        cmocka_unit_test(what_does_not_fall_out_stays),
        cmocka_unit_test(a_row_of_hits_is_one_contact),
        cmocka_unit_test(vias_in_a_row_are_no_slot),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
