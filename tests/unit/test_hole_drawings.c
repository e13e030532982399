/* Holes given as drawings, and the score of holes by pads. Drawings are read from text. */
#include "assertions.h"
#include "diags.h"
#include "isthmus/holes.h"

#include <math.h>

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct drawing drawing;
    struct hole_list list;
    enum holes_status status;
};

#define HEAD "%FSLAX33Y33*%\n%MOMM*%\n%LPD*%\n"

static void world_draw(struct world *world, const char *text)
{
    *world = (struct world){.arena = arena_new("test")};
    world->diags.arena = world->arena;
    assert_int_equal(gerber_read(4, (const uint8_t *)text, strlen(text), 100000, world->arena,
                                 &world->diags, &world->drawing),
                     DRAWING_OK);
}

static void world_read(struct world *world, const char *text)
{
    world_draw(world, text);
    world->status = holes_from_drawing(&world->drawing, world->arena, &world->diags, &world->list);
}

static void world_end(struct world *world)
{
    arena_free(world->arena);
}

static void flashes_are_holes_and_strokes_slots(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "%TF.FileFunction,Plated,1,4,PTH*%\n" HEAD
                       "%TA.AperFunction,ViaDrill*%\n%ADD10C,0.3*%\n"
                       "%TA.AperFunction,ComponentDrill*%\n%ADD11C,1.0*%\n%TD*%\n"
                       "D10*\nX1000Y2000D03*\nX3000Y2000D03*\n"
                       "%TO.N,+24V*%\n%TO.P,J1,2*%\n"
                       "D11*\nX5000Y5000D02*\nX7000Y5000D01*\nM02*\n");
    assert_int_equal(world.status, HOLES_OK);
    assert_int_equal(world.diags.error_count, 0);
    assert_int_equal(world.list.hole_count, 3);
    assert_int_equal(world.list.plating, PLATING_PLATED);
    const struct hole *via = &world.list.holes[0], *slot = &world.list.holes[2];
    assert_int_equal(via->from.x_nm, 1000000);
    assert_int_equal(via->to.y_nm, 2000000);
    assert_int_equal(via->diameter_nm, 300000);
    assert_string_equal(via->function, "ViaDrill");
    assert_int_equal(via->plating, PLATING_PLATED);
    assert_int_equal(via->layer_to, 4);
    assert_int_equal(via->tool, 10);
    assert_int_equal(slot->from.x_nm, 5000000);
    assert_int_equal(slot->to.x_nm, 7000000);
    assert_int_equal(slot->diameter_nm, 1000000);
    assert_string_equal(slot->net, "+24V");
    assert_string_equal(slot->ref, "J1");
    assert_string_equal(slot->pin, "2");
    assert_int_equal(world.list.tool_count, 2);
    assert_int_equal(world.list.tools[0].hole_count, 2);
    assert_int_equal(world.list.tools[1].diameter_nm, 1000000);
    assert_string_equal(world.list.reading, "drawing, METRIC, 3.3 (stated)");
    world_end(&world);
}

static void a_scaled_aperture_drills_what_it_draws(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, HEAD "%ADD10C,0.5*%\n%LS2.0*%\nD10*\nX1000Y2000D03*\nX3000Y2000D02*\n"
                            "X5000Y2000D01*\nM02*\n");
    assert_int_equal(world.status, HOLES_OK);
    assert_int_equal(world.list.holes[0].diameter_nm, 1000000);
    assert_int_equal(world.list.holes[1].diameter_nm, 1000000);
    world_end(&world);
}

static void an_arc_is_slots_of_one_path(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "%TF.FileFunction,NonPlated,1,2,NPTH,Rout*%\n" HEAD
                       "%ADD10C,0.5*%\nD10*\nG75*\nX10000Y0D02*\nG03X0Y10000I-10000J0D01*\nM02*\n");
    assert_int_equal(world.status, HOLES_OK);
    assert_true(world.list.hole_count > 20);
    for (size_t i = 0; i < world.list.hole_count; i++) {
        const struct hole *piece = &world.list.holes[i];
        double middle_x = (double)(piece->from.x_nm + piece->to.x_nm) / 2;
        double middle_y = (double)(piece->from.y_nm + piece->to.y_nm) / 2;
        assert_near(hypot((double)piece->to.x_nm, (double)piece->to.y_nm), 10e6, 1);
        assert_true(10e6 - hypot(middle_x, middle_y) <= 501); /* chord error 0.5 um */
        assert_int_equal(piece->path, 0);
        assert_int_equal(piece->plating, PLATING_NONE);
    }
    assert_int_equal(world.list.holes[world.list.hole_count - 1].to.x_nm, 0);
    assert_int_equal(world.list.tools[0].hole_count, 1);
    world_end(&world);
}

static void assert_refused(const char *text, uint32_t line)
{
    struct world world;
    world_read(&world, text);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_int_equal(world.list.hole_count, 0);
    const struct diag *diag = diag_find(&world.diags, "drill-drawing");
    assert_non_null(diag);
    assert_int_equal(diag->at.line, line);
    assert_non_null(diag->advice);
    world_end(&world);
}

static void what_is_no_hole_is_refused(void **state)
{
    (void)state;
    assert_refused(HEAD "%ADD10R,0.5X0.5*%\nD10*\nX1000Y2000D03*\nM02*\n", 6);
    assert_refused(HEAD "%ADD10O,0.5X1.0*%\nD10*\nX1000Y2000D03*\nM02*\n", 6);
    assert_refused(HEAD "%ADD10C,0.5*%\nD10*\nG36*\nX0Y0D02*\nG01X1000D01*\nY1000D01*\nX0Y0D01*\n"
                        "G37*\nM02*\n",
                   7);
    assert_refused(HEAD "%ADD10C,0.5*%\nD10*\n%LPC*%\nX1000Y2000D03*\nM02*\n", 7);
    assert_refused(HEAD "%ADD10C,0*%\nD10*\nX1000Y2000D03*\nM02*\n", 6);
    struct world world;
    world_read(&world, "%TF.FileFunction,Plated,4,1,PTH*%\n" HEAD "%ADD10C,0.5*%\nD10*\n"
                       "X1000Y2000D03*\nM02*\n");
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_non_null(diag_find(&world.diags, "drill-span"));
    world_end(&world);
}

static void an_empty_drawing_holds_no_hole(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, HEAD "M02*\n");
    assert_int_equal(world.status, HOLES_OK);
    assert_int_equal(world.list.hole_count, 0);
    assert_non_null(diag_find(&world.diags, "drill-empty"));
    world_end(&world);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    struct world world;
    bool has_succeeded = false;
    world_draw(&world,
               HEAD "%ADD10C,0.5*%\nD10*\nX1000Y2000D03*\nX3000Y2000D02*\nX5000D01*\nM02*\n");
    for (uint64_t n = 1; n < 100 && !has_succeeded; n++) {
        struct arena *arena = arena_new("holes");
        struct diag_list diags = {.arena = arena};
        const struct drawing *drawings[1] = {&world.drawing};
        arena_fail_at(n);
        enum holes_status status = holes_from_drawing(&world.drawing, arena, &diags, &world.list);
        arena_fail_at(n);
        struct hole_fit *fit = hole_fit_new(drawings, 1, NULL, 0, arena);
        arena_fail_at(0);
        has_succeeded = status == HOLES_OK && fit != NULL;
        if (status != HOLES_OK)
            assert_int_equal(status, HOLES_NO_MEMORY);
        assert_true(has_succeeded || n < 10);
        arena_free(arena);
    }
    assert_true(has_succeeded);
    world_end(&world);
}

/* ---- the score ----------------------------------------------------------------------------- */

static struct hole hole_at_mm(double x_mm, double y_mm)
{
    struct pos_nm at = {(int64_t)llround(x_mm * 1e6), (int64_t)llround(y_mm * 1e6)};
    return (struct hole){.from = at, .to = at};
}

static double score_of(struct world *world, double x_mm, double y_mm)
{
    const struct drawing *drawings[1] = {&world->drawing};
    struct hole_fit *fit = hole_fit_new(drawings, 1, NULL, 0, world->arena);
    struct hole hole = hole_at_mm(x_mm, y_mm);
    return hole_fit_score(&hole, 1, fit);
}

static void holes_on_pads_score_and_others_do_not(void **state)
{
    (void)state;
    struct world world;
    /* A pad of 1.6 mm, one of 6 mm, a long pad and a clear flash; extent 0..50, 0..20 about. */
    world_draw(&world, HEAD "%ADD10C,1.6*%\n%ADD11C,6.0*%\n%ADD12C,2.0*%\n"
                            "D10*\nX5000Y5000D03*\nD11*\nX45000Y15000D03*\n"
                            "D12*\nX20000Y10000D02*\nX24000Y10000D01*\n"
                            "%LPC*%\nD10*\nX35000Y5000D03*\nM02*\n");
    assert_near(score_of(&world, 5, 5), 1, 1e-9);
    assert_near(score_of(&world, 5.02, 5), 1, 1e-9);
    assert_near(score_of(&world, 5.7, 5.7), 0.65, 1e-9); /* within half the pad's side */
    assert_near(score_of(&world, 5.9, 5), 0.05, 1e-9);
    assert_near(score_of(&world, 45.9, 15), 0.65, 1e-9); /* large pads: 1 mm about the middle */
    assert_near(score_of(&world, 47, 15), 0.05, 1e-9);
    assert_near(score_of(&world, 22, 10), 1, 1e-9); /* middle and ends of a stroke */
    assert_near(score_of(&world, 24, 10), 1, 1e-9);
    assert_near(score_of(&world, 23, 10), 0.05, 1e-9);
    assert_near(score_of(&world, 35, 5), 0.05, 1e-9); /* clear: no pad */
    assert_near(score_of(&world, -3, 25), 0.05, 1e-9);
    assert_near(score_of(&world, 200, 5), 0, 1e-9);
    world_end(&world);
}

static void more_than_one_hole_in_twenty_beyond_is_wrong(void **state)
{
    (void)state;
    struct world world;
    struct hole holes[40];
    const struct drawing *drawings[1] = {&world.drawing};
    world_draw(&world, HEAD "%ADD10C,1.6*%\nD10*\nX5000Y5000D03*\nX50000Y50000D03*\nM02*\n");
    struct hole_fit *fit = hole_fit_new(drawings, 1, NULL, 0, world.arena);
    for (size_t i = 0; i < 40; i++)
        holes[i] = hole_at_mm(5, 5);
    holes[0] = holes[1] = hole_at_mm(500, 5);
    assert_near(hole_fit_score(holes, 40, fit), 0.95, 1e-9); /* 38 of 40, both ways */
    holes[2] = holes[0];
    assert_near(hole_fit_score(holes, 40, fit), 0, 0);
    world_end(&world);
}

/* A thousandth of every coordinate lies on one pad: that is no board. */
static void holes_all_on_one_spot_are_wrong(void **state)
{
    (void)state;
    struct world world;
    struct hole holes[3];
    const struct drawing *drawings[1] = {&world.drawing};
    world_draw(&world, HEAD "%ADD10C,1.6*%\nD10*\nX0Y0D03*\nX50000Y50000D03*\nM02*\n");
    struct hole_fit *fit = hole_fit_new(drawings, 1, NULL, 0, world.arena);
    for (size_t i = 0; i < 3; i++) {
        holes[i] = hole_at_mm(0.001 * (double)i, 0.002);
        holes[i].diameter_nm = 300000;
    }
    assert_near(hole_fit_score(holes, 3, fit), 0, 0);
    assert_near(hole_fit_score(holes, 2, fit), 1, 1e-9); /* two may be a short slot */
    world_end(&world);
}

static void without_pads_the_extent_decides(void **state)
{
    (void)state;
    struct world world;
    struct hole inside = hole_at_mm(5, 5), outside = hole_at_mm(15, 5);
    const struct drawing *drawings[1] = {&world.drawing};
    world_draw(&world, HEAD "%ADD10C,0.1*%\nD10*\nX0Y0D02*\nX10000Y10000D01*\nM02*\n");
    struct hole_fit *fit = hole_fit_new(NULL, 0, drawings, 1, world.arena);
    assert_near(hole_fit_score(&inside, 1, fit), 1, 0);
    assert_near(hole_fit_score(&outside, 1, fit), 0, 0);
    fit = hole_fit_new(NULL, 0, NULL, 0, world.arena);
    assert_near(hole_fit_score(&inside, 1, fit), 0, 0);
    world_end(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(flashes_are_holes_and_strokes_slots),
        cmocka_unit_test(a_scaled_aperture_drills_what_it_draws),
        cmocka_unit_test(an_arc_is_slots_of_one_path),
        cmocka_unit_test(what_is_no_hole_is_refused),
        cmocka_unit_test(an_empty_drawing_holds_no_hole),
        cmocka_unit_test(every_allocation_may_fail),
        cmocka_unit_test(holes_on_pads_score_and_others_do_not),
        cmocka_unit_test(more_than_one_hole_in_twenty_beyond_is_wrong),
        cmocka_unit_test(holes_all_on_one_spot_are_wrong),
        cmocka_unit_test(without_pads_the_extent_decides),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
