/*
 * Resistance of sheets of copper against closed forms, in squares. Each case names its source;
 * where only a derivation stands, it was confirmed by an independent finite-volume computation.
 *
 * Contacts are pads in the copper, so the ends of a shape are pads laid over its ends. P1 elements
 * give too little, by at most the tolerance asked for; outlines are flattened to 0.5 um.
 */
#include <math.h>
#include "assertions.h"
#include "solve_world.h"

static const double pi = 3.14159265358979323846;

/* A box from x0 to x1 with pads 1 mm long beyond both ends. */
static void strip(struct world *world, double x0, double x1, double y0, double y1)
{
    world_box(world, 0, LOOP_ADDS, x0 - 1, y0, x1 + 1, y1);
    world_contact_box(world, 0, 0, x0 - 1, y0, x0, y1);
    world_contact_box(world, 0, 1, x1, y0, x1 + 1, y1);
}

/* S0: length over width, by definition of the square. */
static void strip_has_its_squares(void **state)
{
    (void)state;
    for (int turned = 0; turned < 2; turned++) {
        struct world *world = one_sheet();
        world->angle_rad = turned * 0.3;
        strip(world, 0, 30, 0, 4);
        expect_squares(world, 7.5, 1e-6, "30 x 4 mm");
    }
}

/* S1: annular sector along phi, phi / ln(b/a). Textbook. */
static void sector(struct world *world, double a, double b, double angle, double margin)
{
    double xy[402][2];
    for (int i = 0; i <= 200; i++) {
        double phi = angle * i / 200;
        xy[i][0] = b * cos(phi), xy[i][1] = b * sin(phi);
        xy[401 - i][0] = a * cos(phi), xy[401 - i][1] = a * sin(phi);
    }
    world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, xy, 402);
    world_box(world, 0, LOOP_ADDS, a, -margin, b, 0);
    world_box(world, 0, LOOP_ADDS, -margin, a, 0, b);
    world_contact_box(world, 0, 0, a, -margin, b, 0);
    world_contact_box(world, 0, 1, -margin, a, 0, b);
}

static void quarter_rings_along_their_arc(void **state)
{
    (void)state;
    static const double cases[][2] = {{2, 2.2662}, {3, 1.4298}, {1.1, 16.481}};
    for (size_t i = 0; i < 3; i++) {
        struct world *world = one_sheet();
        sector(world, 10, 10 * cases[i][0], pi / 2, 1);
        expect_squares(world, cases[i][1], 1e-3, "quarter ring");
    }
}

/* S2: annulus, radially, ln(b/a) / 2 pi. Textbook. The rim and the outer pad are the ends. */
static void ring_radially(void **state)
{
    (void)state;
    static const double cases[][2] = {{2, 0.11032}, {10, 0.36647}};
    for (size_t i = 0; i < 2; i++) {
        struct world *world = one_sheet();
        double b = 10 * cases[i][0];
        round_disc(world, LOOP_ADDS, 0, 0, b + 5);
        round_contact(world, 1, 0, 0, b + 5);
        /* the pad has a hole: a mark of nobody's pad lies upon it */
        round_contact(world, ISTHMUS_NONE, 0, 0, b);
        round_contact(world, 0, 0, 0, 10);
        expect_squares(world, cases[i][1], 1e-3, "ring");
    }
}

/* S3: right-angle bend of equal and unequal arms, P.M. Hall, Thin Solid Films 1, 277 (1968), from
 * memory: 0.559; derived, and confirmed by finite volumes. Added to the arms' own squares. */
static void bends(void **state)
{
    (void)state;
    static const double cases[][2] = {
        {1, 0.55873}, {1.5, 0.58830}, {2, 0.64354}, {3, 0.76348}, {5, 0.97022}};
    for (size_t i = 0; i < 5; i++) {
        double a = 2, b = 2 * cases[i][0], arm = 2.5; /* widths of the two arms; arms in widths */
        struct world *world = one_sheet();
        /* arm of width a along x below the corner, arm of width b along y */
        double shape[6][2] = {{-1 - arm * a, 0}, {0, 0}, {0, -arm * b - 1},
                              {b, -arm * b - 1}, {b, a}, {-1 - arm * a, a}};
        world_polygon(world, 0, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, shape, 6);
        world_contact_box(world, 0, 0, -1 - arm * a, 0, -arm * a, a);
        world_contact_box(world, 0, 1, 0, -arm * b - 1, b, -arm * b);
        expect_squares(world, cases[i][1] + 2 * arm, 1e-3, "bend");
    }
}

/* S4: step, one side flush, Waveguide Handbook analogue, from memory; derived. Centred: half. */
static void steps(void **state)
{
    (void)state;
    static const double cases[][2] = {
        {0.1, 1.2221}, {0.25, 0.64997}, {0.5, 0.24983}, {0.75, 0.064744}, {0.9, 0.012180}};
    for (size_t i = 0; i < 5; i++)
        for (int centred = 0; centred < 2; centred++) {
            double wide = 10, narrow = cases[i][0] * wide, y = centred ? (wide - narrow) / 2 : 0;
            struct world *world = one_sheet();
            world_box(world, 0, LOOP_ADDS, -21, 0, 0, wide);
            world_box(world, 0, LOOP_ADDS, 0, y, 2 * narrow + 1, y + narrow);
            world_contact_box(world, 0, 0, -21, 0, -20, wide);
            world_contact_box(world, 0, 1, 2 * narrow, y, 2 * narrow + 1, y + narrow);
            expect_squares(world, 4 + cases[i][1] / (centred ? 2 : 1), 1e-3, "step");
        }
}

/* S5: thin barrier: aperture, one-sided slit, centred slit. Smythe, from memory; derived. The slit
 * is 2 um wide, which adds 0.002 / c squares at most. */
static void slits(void **state)
{
    (void)state;
    struct world *world = one_sheet();
    double gap = 0.001;
    strip(world, -20, 20, 0, 10);
    world_box(world, 0, LOOP_CUTS, -gap, -1, gap, 3.75);
    world_box(world, 0, LOOP_CUTS, -gap, 6.25, gap, 11);
    expect_squares(world, 4 + 0.61150, 1e-3, "aperture 0.25");
    static const double one_sided[][2] = {{0.25, 1.2230}, {0.5, 0.44127}, {0.75, 0.10081}};
    for (size_t i = 0; i < 3; i++) {
        world = one_sheet();
        strip(world, -20, 20, 0, 10);
        world_box(world, 0, LOOP_CUTS, -gap, 10 * one_sided[i][0], gap, 11);
        expect_squares(world, 4 + one_sided[i][1], 1e-3, "one-sided slit");
    }
    world = one_sheet();
    strip(world, -20, 20, 0, 10);
    world_box(world, 0, LOOP_CUTS, -gap, 2.5, gap, 7.5);
    expect_squares(world, 4 + 0.22064, 1e-3, "centred slit 0.5");
}

/* S6: a strip's end fed by a centred electrode c; flush at the corner: twice the log term. Mirror
 * of S5. The electrode is a pad beyond the end, as wide as c. */
static void narrow_electrodes(void **state)
{
    (void)state;
    static const double cases[][2] = {{0.1, 0.59050}, {0.25, 0.30575}, {0.5, 0.11032}};
    for (size_t i = 0; i < 3; i++)
        for (int corner = 0; corner < 2; corner++) {
            double c = 10 * cases[i][0], y = corner ? 0 : 5 - c / 2;
            struct world *world = one_sheet();
            world_box(world, 0, LOOP_ADDS, 0, 0, 21, 10);
            world_box(world, 0, LOOP_ADDS, -1, y, 0, y + c);
            world_contact_box(world, 0, 0, -1, y, 0, y + c);
            world_contact_box(world, 0, 1, 20, 0, 21, 10);
            expect_squares(world, 2 + (corner ? 2 * cases[i][1] : cases[i][1]), 1e-3, "electrode");
        }
}

/* S7: centred round hole, Rayleigh 1892's method, from memory; derived by a multipole series. */
static void centred_holes(void **state)
{
    (void)state;
    static const double cases[][2] = {{0.1, 0.015838}, {0.2, 0.064969}, {0.3, 0.152673},
                                      {0.4, 0.289425}, {0.5, 0.494480}, {0.6, 0.804432},
                                      {0.7, 1.296609}, {0.8, 2.171156}};
    for (size_t i = 0; i < 8; i++) {
        struct world *world = one_sheet();
        strip(world, -20, 20, -5, 5);
        round_disc(world, LOOP_CUTS, 0, 0, 5 * cases[i][0]);
        expect_squares(world, 4 + cases[i][1], 1e-3, "hole");
    }
}

/* S7b: semicircular notch in one edge: 2 x S7(2r in 2W). Mirror. */
static void notches(void **state)
{
    (void)state;
    static const double cases[][2] = {
        {0.1, 0.031676}, {0.2, 0.12994}, {0.3, 0.30535}, {0.4, 0.57885}};
    for (size_t i = 0; i < 4; i++) {
        struct world *world = one_sheet();
        strip(world, -20, 20, 0, 10);
        round_disc(world, LOOP_CUTS, 0, 0, 10 * cases[i][0]);
        expect_squares(world, 4 + cases[i][1], 1e-3, "notch");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strip_has_its_squares),
        cmocka_unit_test(quarter_rings_along_their_arc),
        cmocka_unit_test(ring_radially),
        cmocka_unit_test(bends),
        cmocka_unit_test(steps),
        cmocka_unit_test(slits),
        cmocka_unit_test(narrow_electrodes),
        cmocka_unit_test(centred_holes),
        cmocka_unit_test(notches),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
