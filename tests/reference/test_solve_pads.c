/*
 * Resistance of sheets of copper between round and curved contacts against closed forms, in
 * squares; the other half of test_solve_sheets.c.
 */
#include <math.h>
#include "assertions.h"
#include "solve_world.h"

static const double pi = 3.14159265358979323846;

/* S8: eccentric annulus, arccosh((a2 + b2 - c2) / 2ab) / 2 pi; two round contacts in a wide sheet.
 * Smythe, from memory. */
static void eccentric_rings(void **state)
{
    (void)state;
    static const double cases[][2] = {{0, 0.25615}, {1, 0.24936}, {3, 0.17877}};
    for (size_t i = 0; i < 3; i++) {
        struct world *world = one_sheet();
        round_disc(world, LOOP_ADDS, 0, 0, 30);
        round_contact(world, 1, 0, 0, 30);
        round_contact(world, ISTHMUS_NONE, 0, 0, 25);
        round_contact(world, 0, 5 * cases[i][0], 0, 5);
        expect_squares(world, cases[i][1], 1e-3, "eccentric ring");
    }
}

/* The sheet is infinite in the closed form. On a disc of radius R the images lie R2/d away: with
 * D/a = 4, a = 1, R = 400 they change the answer by less than 1e-4. */
static void two_round_contacts(void **state)
{
    (void)state;
    static const double cases[][2] = {{4, 0.41920}, {10, 0.72970}};
    for (size_t i = 0; i < 2; i++) {
        struct world *world = one_sheet();
        double half = cases[i][0] / 2;
        round_disc(world, LOOP_ADDS, 0, 0, 250);
        round_contact(world, 0, -half, 0, 1);
        round_contact(world, 1, half, 0, 1);
        expect_squares(world, cases[i][1], 1.5e-3, "two contacts");
    }
}

/* S9: disc with two opposite arc electrodes of half-angle beta. Derived; 45 degrees is self-dual.
 */
static void disc_with_arcs(void **state)
{
    (void)state;
    static const double cases[][2] = {{5, 2.4347}, {15, 1.7321}, {30, 1.2793}, {45, 1}};
    for (size_t i = 0; i < 4; i++) {
        struct world *world = one_sheet();
        double beta = cases[i][0] * pi / 180, inner = 10, outer = 11;
        round_disc(world, LOOP_ADDS, 0, 0, inner);
        for (int end = 0; end < 2; end++) {
            double xy[202][2];
            for (int k = 0; k <= 100; k++) {
                double phi = end * pi - beta + 2 * beta * k / 100;
                xy[k][0] = outer * cos(phi), xy[k][1] = outer * sin(phi);
                /* a little inside: the disc's chords lie up to 0.5 um within its circle */
                xy[201 - k][0] = (inner - 0.001) * cos(phi);
                xy[201 - k][1] = (inner - 0.001) * sin(phi);
            }
            world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, xy, 202);
            world_contact_polygon(world, 0, (uint32_t)end, xy, 202);
        }
        expect_squares(world, cases[i][1], 3e-3, "disc with arcs");
    }
}

/* S10: hyperbolic neck z = c sin(u + iv), electrodes v = +-v0: v0/u0. Conformal, derived. */
static void hyperbolic_necks(void **state)
{
    (void)state;
    static const double cases[][3] = {{0.3, 1.5, 5}, {0.5, 1.5, 3}, {0.2, 2, 10}};
    for (size_t i = 0; i < 3; i++) {
        double u0 = cases[i][0], v0 = cases[i][1], c = 5, xy[804][2];
        /* right side upwards, top electrode leftwards, left side downwards, bottom electrode */
        for (int k = 0; k < 201; k++) {
            double v = -v0 + 2 * v0 * k / 200, u = u0 - 2 * u0 * k / 200;
            xy[k][0] = c * sin(u0) * cosh(v), xy[k][1] = c * cos(u0) * sinh(v);
            xy[201 + k][0] = c * sin(u) * cosh(v0), xy[201 + k][1] = c * cos(u) * sinh(v0);
            xy[402 + k][0] = -c * sin(u0) * cosh(-v), xy[402 + k][1] = c * cos(u0) * sinh(-v);
            xy[603 + k][0] = c * sin(-u) * cosh(v0), xy[603 + k][1] = -c * cos(u) * sinh(v0);
        }
        struct world *world = one_sheet();
        world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, xy, 804);
        for (int end = 0; end < 2; end++) {
            double cap[203][2], sign = end ? -1 : 1, top = c * sinh(v0) * 1.2;
            for (int k = 0; k < 201; k++)
                cap[k][0] = sign * xy[201 + k][0], cap[k][1] = sign * xy[201 + k][1];
            cap[201][0] = sign * xy[401][0], cap[201][1] = sign * top;
            cap[202][0] = sign * xy[201][0], cap[202][1] = sign * top;
            world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, cap, 203);
            world_contact_polygon(world, 0, (uint32_t)end, cap, 203);
        }
        expect_squares(world, cases[i][2], 2e-3, "hyperbolic neck");
    }
}

/* S11: round pad a in a square of side s whose perimeter is grounded: ln(0.53935 s/a) / 2 pi.
 * Derived, error below 1e-6 for small a. */
static void pad_in_a_grounded_square(void **state)
{
    (void)state;
    static const double cases[][2] = {{0.02, 0.52436}, {0.05, 0.37853}, {0.1, 0.26821}};
    for (size_t i = 0; i < 3; i++) {
        struct world *world = one_sheet();
        world_box(world, 0, LOOP_ADDS, -52, -52, 52, 52);
        world_contact_box(world, 0, 1, -52, -52, 52, 52);
        world_contact_box(world, 0, ISTHMUS_NONE, -50, -50, 50, 50);
        round_contact(world, 0, 0, 0, 100 * cases[i][0]);
        expect_squares(world, cases[i][1], 1e-3, "pad in a square");
    }
}

/* S12: small pad in a strip, both ways to +-L; one way with a dead end at d. Derived, asymptotic
 * (-0.2 % at a = .05). */
static void pads_in_a_strip(void **state)
{
    (void)state;
    static const double both[][2] = {{0.02, 1.3301}, {0.05, 1.1843}};
    for (size_t i = 0; i < 2; i++) {
        struct world *world = one_sheet();
        world_box(world, 0, LOOP_ADDS, -21, -5, 21, 5);
        world_contact_box(world, 0, 1, -21, -5, -20, 5);
        world_contact_box(world, 0, 1, 20, -5, 21, 5);
        round_contact(world, 0, 0, 0, 10 * both[i][0]);
        expect_squares(world, both[i][1], 4e-3, "pad in a strip");
    }
    struct world *world = one_sheet();
    world_box(world, 0, LOOP_ADDS, -2.5, -5, 21, 5);
    round_contact(world, 0, 0, 0, 0.2);
    world_contact_box(world, 0, 1, 20, -5, 21, 5);
    expect_squares(world, 2.3371, 2e-3, "pad before a dead end");
}

/* S13: four points on a disc's rim, V/I = Rs/pi ln(chord ratio); S14: four in a row in a wide
 * sheet, ln2/pi. Van der Pauw 1958; Smits 1958 (from memory). Currents through small pads. */
static void four_points_on_a_rim(void **state)
{
    (void)state;
    struct world *world = one_sheet();
    double radius = 50, pad = 0.05, angle[4] = {0, pi / 2, pi, 3 * pi / 2};
    round_disc(world, LOOP_ADDS, 0, 0, radius);
    for (uint32_t t = 0; t < 4; t++)
        round_contact(world, t, (radius - pad / 2) * cos(angle[t]),
                      (radius - pad / 2) * sin(angle[t]), pad);
    world_build(world);
    struct solved solved = {0};
    double current_a[4] = {1, -1, 0, 0};
    assert_int_equal(world_solve(world, current_a, &solved), SOLVE_OK);
    double volts = solved.answer.terminal_v[3] - solved.answer.terminal_v[2];
    assert_true(fabs(volts - log(2) / pi) < 2e-3 * 0.22064);
    world_free(world);
}

static void four_points_in_a_row(void **state)
{
    (void)state;
    struct world *world = one_sheet();
    round_disc(world, LOOP_ADDS, 0, 0, 100);
    for (uint32_t t = 0; t < 4; t++)
        round_contact(world, t, -1.5 + t, 0, 0.01);
    world_build(world);
    struct solved solved = {0};
    double current_a[4] = {1, 0, 0, -1};
    assert_int_equal(world_solve(world, current_a, &solved), SOLVE_OK);
    double volts = solved.answer.terminal_v[1] - solved.answer.terminal_v[2];
    assert_true(fabs(volts - log(2) / pi) < 3e-3 * 0.22064);
    world_free(world);
}

/* S15: any simply connected shape whose reflection swaps electrodes and insulated edges: exactly 1,
 * by duality. A kite, mirrored in its axis: electrodes on one short and the opposite long side. */
static void kite_is_one_square(void **state)
{
    (void)state;
    struct world *world = one_sheet();
    double kite[4][2] = {{0, 0}, {4, -3}, {10, 0}, {4, 3}};
    double short_end[4][2] = {{0, 0}, {4, 3}, {3.4, 3.8}, {-0.6, 0.8}};
    double long_end[4][2] = {{10, 0}, {4, -3}, {4.4, -3.8}, {10.4, -0.8}};
    world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, kite, 4);
    world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, short_end, 4);
    world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, long_end, 4);
    world_contact_polygon(world, 0, 0, short_end, 4);
    world_contact_polygon(world, 0, 1, long_end, 4);
    expect_squares(world, 1, 2e-3, "kite");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(eccentric_rings),          cmocka_unit_test(two_round_contacts),
        cmocka_unit_test(disc_with_arcs),           cmocka_unit_test(hyperbolic_necks),
        cmocka_unit_test(pad_in_a_grounded_square), cmocka_unit_test(pads_in_a_strip),
        cmocka_unit_test(four_points_on_a_rim),     cmocka_unit_test(four_points_in_a_row),
        cmocka_unit_test(kite_is_one_square),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
