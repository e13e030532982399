/* The sheet solve on worlds whose answer is worked out by hand. */
#include <math.h>
#include "assertions.h"
#include "solve/fine.h"
#include "solve_world.h"

static const double two_pi = 6.28318530717958647692;

static struct solved solve(struct world *world, const double *current_a)
{
    struct solved solved = {0};
    assert_int_equal(world_solve(world, current_a, &solved), SOLVE_OK);
    return solved;
}

/* Two rings of copper, one over the other, fed at their outer edges, joined by one hole's wall:
 * ln(b/a) / 2 pi each, and the wall between them. */
static void a_wall_stands_between_two_rings(void **state)
{
    (void)state;
    struct world *world = world_new();
    world->chord_error_nm = 100;
    for (uint32_t s = 0; s < 2; s++)
        world_sheet(world, SQUARE_MM, 1);
    for (uint32_t s = 0; s < 2; s++) {
        world_disc(world, s, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, 0, 0, 5);
        world_contact_disc(world, s, s, 0, 0, 5);
        world_contact_disc(world, s, ISTHMUS_NONE, 0, 0, 4);
    }
    world_hole(world, 0, 0, 1, wall_of_ohm(0.7, 1), ISTHMUS_NONE);
    world_build(world);
    struct solved solved = solve(world, (double[]){1, -1});
    double ohm = solved.answer.terminal_v[0] - solved.answer.terminal_v[1];
    assert_near(ohm, 2 * log(4) / two_pi + 0.7, 1e-3);
    assert_near(solved.answer.power_w, ohm, 1e-9);
    world_free(world);
}

/* The same hole through four layers of which only the outer two touch it further: three steps of
 * wall in series. */
static void walls_add_up_over_inner_layers(void **state)
{
    (void)state;
    struct world *world = world_new();
    world->chord_error_nm = 100;
    for (uint32_t s = 0; s < 4; s++)
        world_sheet(world, SQUARE_MM, 1);
    for (uint32_t s = 0; s < 4; s++)
        world_disc(world, s, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, 0, 0, 5);
    world_contact_disc(world, 0, 0, 0, 0, 5);
    world_contact_disc(world, 0, ISTHMUS_NONE, 0, 0, 4);
    world_contact_disc(world, 3, 1, 0, 0, 5);
    world_contact_disc(world, 3, ISTHMUS_NONE, 0, 0, 4);
    world_hole(world, 0, 0, 1, wall_of_ohm(0.2, 1), ISTHMUS_NONE);
    world_build(world);
    assert_near(world_ohm(world), 2 * log(4) / two_pi + 3 * 0.2, 1e-3);
    world_free(world);
}

/* A chain: 10 squares above, a hole of 40 ohm, 10 squares below, a hole of 60 ohm, 10 squares. The
 * holes take the place of some copper: at most a square each. */
static void chain_of_vias(void **state)
{
    (void)state;
    struct world *world = world_new();
    for (uint32_t s = 0; s < 2; s++)
        world_sheet(world, SQUARE_MM, 1);
    world_box(world, 0, LOOP_ADDS, -1, 0, 11, 1);
    world_box(world, 0, LOOP_ADDS, 20, 0, 32, 1);
    world_box(world, 1, LOOP_ADDS, 10, 0, 21, 1);
    world_contact_box(world, 0, 0, -1, 0, 0, 1);
    world_contact_box(world, 0, 1, 31, 0, 32, 1);
    world_hole(world, 10.5, 0.5, 0.3, wall_of_ohm(40, 1), ISTHMUS_NONE);
    world_hole(world, 20.5, 0.5, 0.3, wall_of_ohm(60, 1), ISTHMUS_NONE);
    world_build(world);
    double ohm = world_ohm(world);
    assert_true(ohm > 100 + 10 + 9.4 + 10 && ohm < 100 + 10.5 + 10 + 10.5);
    world_free(world);
}

/* Leads fill the holes at both ends: the field is the same in both layers, so conductances add. */
static void two_layers_in_parallel(void **state)
{
    (void)state;
    double ohm[2];
    for (int both = 0; both < 2; both++) {
        struct world *world = world_new();
        world_sheet(world, SQUARE_MM, 1);
        if (both)
            world_sheet(world, 3 * SQUARE_MM, 1);
        for (uint32_t s = 0; s < world->sheet_count; s++)
            world_box(world, s, LOOP_ADDS, 0, 0, 20, 4);
        for (uint32_t t = 0; t < 2; t++) {
            double x = t ? 18 : 2;
            uint32_t pad = world_contact_disc(world, 0, t, x, 2, 1.5);
            if (both)
                world_disc(world, 1, LOOP_MARKS, BOUND_CONTACT, pad, x, 2, 1.5);
            world_hole(world, x, 2, 0.5, wall_of_ohm(1, 1), pad);
        }
        world_build(world);
        ohm[both] = world_ohm(world);
        world_free(world);
    }
    assert_near(ohm[1], ohm[0] / 4, 1e-3 * ohm[0]);
}

/* One terminal of two pads, 2 and 3 squares away: the current divides 0.6 to 0.4. */
static void pads_of_one_terminal_share(void **state)
{
    (void)state;
    struct world *world = one_sheet();
    world_box(world, 0, LOOP_ADDS, -21, 0, 31, 10);
    uint32_t source = world_contact_box(world, 0, 0, -0.5, 0, 0.5, 10);
    uint32_t near = world_contact_box(world, 0, 1, -21, 0, -20.5, 10);
    uint32_t far = world_contact_box(world, 0, 1, 30.5, 0, 31, 10);
    world_build(world);
    struct solved solved = solve(world, (double[]){5, -5});
    assert_near(solved.answer.contact_a[near], -3, 1e-6);
    assert_near(solved.answer.contact_a[far], -2, 1e-6);
    assert_near(solved.answer.contact_a[source], 5, 1e-6);
    assert_near(solved.answer.terminal_v[1], -5 * 1.2, 1e-6);
    world_free(world);
}

/* A tap half way along a strip reads half; a stub without current has the potential of its root. */
static void taps_and_places_read_the_potential(void **state)
{
    (void)state;
    struct world *world = one_sheet();
    world_box(world, 0, LOOP_ADDS, -1, 0, 41, 10);
    world_contact_box(world, 0, 0, -1, 0, 0, 10);
    world_contact_box(world, 0, 1, 40, 0, 41, 10);
    world_contact_disc(world, 0, 2, 20, 5, 1);
    world_build(world);
    struct solve_probe probes[2] = {{{10000000, 3000000}, 1}, {{39000000, 9000000}, 1}};
    struct solved solved = {.probes = probes, .probe_count = 2};
    assert_int_equal(world_solve(world, (double[]){2, -2, 0}, &solved), SOLVE_OK);
    assert_near(solved.answer.terminal_v[0], 0, 1e-12);
    assert_near(solved.answer.terminal_v[1], -8, 1e-6);
    assert_near(solved.answer.terminal_v[2], -4, 1e-3);
    assert_near(solved.answer.probe_v[0], -2, 1e-6);
    assert_near(solved.answer.probe_v[1], -7.8, 1e-6);
    world_free(world);
}

/* One pad of the tap lies on an island of its own: the other one is read; a tap only there is not.
 */
static void pads_on_other_copper_say_nothing(void **state)
{
    (void)state;
    struct world *world = one_sheet();
    world_box(world, 0, LOOP_ADDS, -1, 0, 41, 10);
    world_box(world, 0, LOOP_ADDS, 0, 20, 10, 30);
    world_contact_box(world, 0, 0, -1, 0, 0, 10);
    world_contact_box(world, 0, 1, 40, 0, 41, 10);
    world_contact_disc(world, 0, 2, 20, 5, 1);
    world_contact_disc(world, 0, 2, 3, 25, 1);
    world_contact_disc(world, 0, 3, 7, 25, 1);
    world_build(world);
    struct solved solved = solve(world, (double[]){1, -1, 0, 0});
    assert_near(solved.answer.terminal_v[2], -2, 1e-3);
    assert_true(isnan(solved.answer.terminal_v[3]));
    world_free(world);
}

static struct world *bend(void)
{
    struct world *world = one_sheet();
    double shape[6][2] = {{-6, 0}, {0, 0}, {0, -6}, {2, -6}, {2, 2}, {-6, 2}};
    world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, shape, 6);
    world_contact_box(world, 0, 0, -6, 0, -5, 2);
    world_contact_box(world, 0, 1, 0, -6, 2, -5);
    world_build(world);
    return world;
}

/* A bend of 5.55873 squares (Hall 1968, see test_solve_sheets.c): finer means nearer, never above,
 * and the stated error is about the true one. */
static void refining_converges(void **state)
{
    (void)state;
    static const double tolerances[] = {1e-2, 1e-3, 1e-4};
    double before = INFINITY;
    for (size_t i = 0; i < 3; i++) {
        struct world *world = bend();
        struct solved solved = {.tolerance = tolerances[i]};
        assert_int_equal(world_solve(world, (double[]){1, -1}, &solved), SOLVE_OK);
        double error = 5.55873 - (solved.answer.terminal_v[0] - solved.answer.terminal_v[1]);
        assert_true(error > -1e-4 && error < before);
        assert_true(error < 2 * solved.answer.error_v + 1e-5);
        assert_true(solved.answer.error_v <= tolerances[i] * 5.55873);
        before = error;
        world_free(world);
    }
}

static void what_cannot_be_solved_is_refused(void **state)
{
    (void)state;
    struct world *world = bend();
    struct solved solved = {.node_limit = 40, .tolerance = 1e-4};
    assert_int_equal(world_solve(world, (double[]){1, -1}, &solved), SOLVE_TOO_LARGE);
    solved.node_limit = 0;
    assert_int_equal(world_solve(world, (double[]){1, -0.5}, &solved), SOLVE_APART);
    struct solve_probe bare = {{3000000, 0}, 1}, no_layer = {{1000000, 0}, 2};
    solved.probe_count = 1;
    solved.probes = &bare;
    assert_int_equal(world_solve(world, (double[]){1, -1}, &solved), SOLVE_NOT_COPPER);
    solved.probes = &no_layer;
    assert_int_equal(world_solve(world, (double[]){1, -1}, &solved), SOLVE_NOT_COPPER);
    world_free(world);

    world = one_sheet(); /* two islands */
    world_box(world, 0, LOOP_ADDS, 0, 0, 2, 2);
    world_box(world, 0, LOOP_ADDS, 3, 0, 5, 2);
    world_contact_box(world, 0, 0, 0, 0, 1, 2);
    world_contact_box(world, 0, 1, 4, 0, 5, 2);
    world_build(world);
    solved = (struct solved){0};
    assert_int_equal(world_solve(world, (double[]){1, -1}, &solved), SOLVE_APART);
    for (int status = SOLVE_NO_MEMORY; status <= SOLVE_BUG; status++)
        assert_true(strlen(solve_problem((enum solve_status)status)) > 10);
    world_free(world);
}

/* Turned shapes with pads along their edges, where rounding leaves slivers a nanometre high: the
 * mesh keeps its invariants through refining, and the squares are those of the shape. */
static void turned_shapes_keep_their_mesh(void **state)
{
    (void)state;
    for (int i = 0; i < 12; i++) {
        struct world *world = one_sheet();
        world->angle_rad = 0.1 + 0.5 * i;
        world_box(world, 0, LOOP_ADDS, -1, 0, 9, 2);
        world_box(world, 0, LOOP_ADDS, 3, 1, 5, 4);
        world_contact_box(world, 0, 0, -1, 0, 0, 2);
        world_contact_box(world, 0, 1, 8, 0, 9, 2);
        world_contact_box(world, 0, ISTHMUS_NONE, 3, 1, 5, 3);
        world_build(world);
        struct domain domain;
        struct fine fine;
        const char *why = "";
        assert_int_equal(domain_build(&world->net, &world->neck_sheets[0], world->arena, &domain),
                         NECK_OK);
        assert_int_equal(fine_new(&domain, &fine), FINE_OK);
        if (!fine_check(&fine, &why))
            fail_msg("before refining: %s", why);
        bool is_still[3] = {true, true, false};
        for (size_t t = 0; t < fine.tri_count; t++)
            fine.tris[t].is_wanted = true;
        assert_int_equal(fine_refine(&fine, is_still, 100000), FINE_OK);
        assert_true(fine.point_count < 2000);
        if (!fine_check(&fine, &why))
            fail_msg("after refining: %s", why);
        fine_free(&fine);
        double ohm = world_ohm(world);
        assert_true(ohm > 3 && ohm < 4);
        world_free(world);
    }
}

static void without_memory_it_says_so(void **state)
{
    (void)state;
    struct world *world = bend();
    struct solved solved = {.tolerance = 1e-2};
    bool is_ok = false;
    for (uint64_t nth = 1; !is_ok && nth < 100; nth++) {
        double *wall = arena_alloc(world->arena, 2, sizeof *wall);
        const struct solve_question question = {.net = &world->net,
                                                .wall_mm2 = wall,
                                                .depth_mm = (double[]){0, 0, 0},
                                                .current_a = (double[]){1, -1},
                                                .resistivity_ohm_mm2_m = SQUARE_RHO,
                                                .tolerance = 1e-2};
        arena_fail_at(nth);
        enum solve_status status = solve_net(&question, world->arena, &solved.answer, NULL);
        arena_fail_at(0);
        is_ok = status == SOLVE_OK;
        assert_true(is_ok || status == SOLVE_NO_MEMORY);
    }
    assert_true(is_ok);
    world_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_wall_stands_between_two_rings),
        cmocka_unit_test(walls_add_up_over_inner_layers),
        cmocka_unit_test(chain_of_vias),
        cmocka_unit_test(two_layers_in_parallel),
        cmocka_unit_test(pads_of_one_terminal_share),
        cmocka_unit_test(taps_and_places_read_the_potential),
        cmocka_unit_test(pads_on_other_copper_say_nothing),
        cmocka_unit_test(refining_converges),
        cmocka_unit_test(what_cannot_be_solved_is_refused),
        cmocka_unit_test(turned_shapes_keep_their_mesh),
        cmocka_unit_test(without_memory_it_says_so),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
