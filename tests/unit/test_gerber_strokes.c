/*
 * Strokes. Areas of convex shapes: A + L x (extent across the way), the Minkowski sum of a convex
 * shape and a line; of arcs: the theorem of Pappus. Everything else is held against brute force:
 * a point is covered when the flashed shape, put at some place along the way, covers it.
 */
#include "assertions.h"
#include "gerber_reading.h"

#include <math.h>

#define PI 3.14159265358979323846
#define TOLERANCE_MM2 1e-5

static void draw(struct reading *r, const char *body)
{
    char text[4096];
    snprintf(text, sizeof text, "%s%s\nM02*\n", GERBER_HEAD, body);
    reading_good(r, text);
}

static double last_area(const char *body)
{
    struct reading r;
    draw(&r, body);
    double area = reading_area_mm2(&r, r.drawing.object_count - 1);
    reading_done(&r);
    return area;
}

static void circle_strokes_are_stadiums(void **state)
{
    (void)state;
    const char *body = "%ADD10C,0.5*%D10*X0Y0D02*X3000000Y4000000D01*";
    struct reading r;
    draw(&r, body);
    const struct object *o = &r.drawing.objects[0];
    assert_int_equal(o->kind, OBJECT_STROKE);
    assert_int_equal(o->to.y_nm, 4000000);
    assert_int_equal(o->at.line, 5);
    assert_int_equal(o->at.column, 26);
    assert_int_equal(o->fill_count, 1);
    assert_int_equal(r.drawing.contour_count, 1);
    assert_int_equal(r.drawing.seg_count, 4);
    assert_near(contour_area_mm2(&r.drawing, &r.drawing.contours[0]), 2.5 + PI / 16, TOLERANCE_MM2);
    assert_near((double)r.drawing.max.x_nm, 3250000, 1);
    assert_near((double)r.drawing.min.y_nm, -250000, 1);
    reading_done(&r);
    /* No length: a circle. */
    assert_near(last_area("%ADD10C,0.5*%D10*X1000000Y1000000D02*D01*"), PI / 16, TOLERANCE_MM2);
    assert_near(last_area("%ADD10C,0.5X0.3*%D10*X0Y0D02*D01*"), PI * (0.0625 - 0.0225),
                TOLERANCE_MM2);
    /* Width 2 nm keeps its two sides, each off by at most 0.71 nm; 1 nm counts as none. */
    assert_near(last_area("%ADD10C,0.000002*%D10*X0Y0D02*X1000000Y1000000D01*"), sqrt(2) * 2e-6,
                2e-6);
    assert_near(last_area("%ADD10C,0.000001*%D10*X0Y0D02*X1000000Y1000000D01*"), 0, 0);
    /* The inner arc of this short wide one has its ends on one nanometre. */
    assert_near(last_area("%ADD10C,19.8*%D10*X10000000Y0D02*G03*X10000000Y10I-10000000J0D01*"),
                PI * 9.9 * 9.9 + 19.8 * 1e-5, TOLERANCE_MM2);
}

static void convex_shapes_sweep_their_width_across_the_way(void **state)
{
    (void)state;
    struct reading r;
    /* dx 3, dy 4 mm: rectangle w h + 3 h + 4 w, in one contour of six lines */
    draw(&r, "%ADD10R,0.5X0.2*%D10*X0Y0D02*X3000000Y4000000D01*");
    assert_near(reading_area_mm2(&r, 0), 0.1 + 3 * 0.2 + 4 * 0.5, TOLERANCE_MM2);
    assert_int_equal(r.drawing.contour_count, 1);
    assert_int_equal(r.drawing.seg_count, 6);
    assert_true(contour_area_mm2(&r.drawing, &r.drawing.contours[0]) > 0);
    reading_done(&r);
    assert_near(last_area("%ADD10R,0.5X0.2*%D10*X0Y0D02*X3000000D01*"), 0.1 + 3 * 0.2,
                TOLERANCE_MM2);
    assert_near(last_area("%ADD10R,0.5X0.2*%D10*X0Y0D02*X-3000000D01*"), 0.1 + 3 * 0.2,
                TOLERANCE_MM2);
    assert_near(last_area("%ADD10R,0.5X0.2*%D10*X0Y0D02*Y-3000000D01*"), 0.1 + 3 * 0.5,
                TOLERANCE_MM2);
    assert_near(last_area("%ADD10R,0.5X0.2*%D10*X0Y0D02*X0Y0D01*"), 0.1, TOLERANCE_MM2);
    /* Obround 1 x 0.4: across (0.6, 0.8) it reaches |0.6 * 0.8| + 0.4. */
    double obround = 0.6 * 0.4 + PI * 0.04;
    assert_near(last_area("%ADD10O,1X0.4*%D10*X0Y0D02*X3000000Y4000000D01*"),
                obround + 5 * (0.6 * 0.8 + 0.4), TOLERANCE_MM2);
    assert_near(last_area("%ADD10O,1X0.4*%D10*X0Y0D02*X3000000D01*"), obround + 3 * 0.4,
                TOLERANCE_MM2);
    /* Hexagon of radius 1, first vertex on +X: along x it is sqrt(3) high, along y 2 wide. */
    double hexagon = 1.5 * sqrt(3);
    assert_near(last_area("%ADD10P,2X6*%D10*X0Y0D02*X3000000D01*"), hexagon + 3 * sqrt(3),
                TOLERANCE_MM2);
    assert_near(last_area("%ADD10P,2X6*%D10*X0Y0D02*Y3000000D01*"), hexagon + 3 * 2, TOLERANCE_MM2);
    /* Mirrored and turned: the outline runs the other way round. */
    assert_near(last_area("%ADD10R,0.5X0.2*%%LMX*%%LR90*%D10*X0Y0D02*X3000000Y4000000D01*"),
                0.1 + 3 * 0.5 + 4 * 0.2, TOLERANCE_MM2);
}

static void arc_strokes_follow_pappus(void **state)
{
    (void)state;
    struct reading r;
    /* A quarter of radius 2 mm with width 0.5 mm: band 2 pi r w / 4, two half circles. */
    draw(&r, "%ADD10C,0.5*%D10*X2000000Y0D02*G03*X0Y2000000I-2000000J0D01*");
    assert_near(reading_area_mm2(&r, 0), PI * 0.5 + PI / 16, TOLERANCE_MM2);
    const struct object *o = &r.drawing.objects[0];
    assert_int_equal(o->kind, OBJECT_ARC_STROKE);
    assert_int_equal(o->turn, 1);
    assert_near(o->centre_x_nm, 0, 0);
    reading_done(&r);
    assert_near(last_area("%ADD10C,0.5*%D10*X0Y2000000D02*G02*X2000000Y0I0J-2000000D01*"),
                PI * 0.5 + PI / 16, TOLERANCE_MM2);
    /* Three quarters the other way. */
    assert_near(last_area("%ADD10C,0.5*%D10*X2000000Y0D02*G02*X0Y2000000I-2000000J0D01*"),
                3 * PI * 0.5 + PI / 16, TOLERANCE_MM2);
    /* A full circle is a ring; with a radius below half the width a disc. */
    assert_near(last_area("%ADD10C,0.5*%D10*X2000000Y0D02*G03*I-2000000J0D01*"), 2 * PI * 2 * 0.5,
                TOLERANCE_MM2);
    assert_near(last_area("%ADD10C,0.5*%D10*X200000Y0D02*G03*I-200000J0D01*"), PI * 0.45 * 0.45,
                TOLERANCE_MM2);
}

/* ---- brute force ---- */
static uint32_t random_state = 12345;
static double random_between(double low, double high)
{
    random_state = random_state * 1664525u + 1013904223u;
    return low + (high - low) * (random_state >> 8) / 16777216.0;
}

/* Where the shape's origin is at part 0..1 of the way. */
struct path {
    double x0, y0, x1, y1;
    bool is_arc;
    double cx, cy, sweep; /* signed, rad */
};

static void path_at(const struct path *p, double part, double *x, double *y)
{
    if (!p->is_arc) {
        *x = p->x0 + part * (p->x1 - p->x0);
        *y = p->y0 + part * (p->y1 - p->y0);
        return;
    }
    double a = atan2(p->y0 - p->cy, p->x0 - p->cx) + part * p->sweep;
    double r = hypot(p->x0 - p->cx, p->y0 - p->cy);
    *x = p->cx + r * cos(a);
    *y = p->cy + r * sin(a);
}

/* 0 or 1; -1: too near to an outline to tell */
static int expected(const struct reading *r, const struct path *path, double px, double py)
{
    const struct object *flash = &r->drawing.objects[0];
    static const double off[5][2] = {{0, 0}, {.01, .01}, {-.01, .01}, {.01, -.01}, {-.01, -.01}};
    int found = 0;
    for (int k = 0; k < 5; k++) {
        bool is = false;
        for (int i = 0; i <= 200 && !is; i++) {
            double x, y;
            path_at(path, i / 200.0, &x, &y);
            is = object_covers(&r->drawing, flash, px + off[k][0] - x, py + off[k][1] - y);
        }
        found += is;
    }
    return found == 0 ? 0 : found == 5 ? 1 : -1;
}

/* body: D10 flashed at the origin, then one stroke along the path. */
static void hold_against_brute_force(const char *body, const struct path *path)
{
    struct reading r;
    draw(&r, body);
    assert_int_equal(r.drawing.object_count, 2);
    int told = 0, covered = 0;
    for (int i = 0; i < 200; i++) {
        double x = random_between(fmin(path->x0, path->x1) - 1.2, fmax(path->x0, path->x1) + 1.2);
        double y = random_between(fmin(path->y0, path->y1) - 1.2, fmax(path->y0, path->y1) + 1.2);
        int want = expected(&r, path, x, y);
        if (want < 0)
            continue;
        told++;
        covered += want;
        if (object_covers(&r.drawing, &r.drawing.objects[1], x, y) != (want == 1))
            fail_msg("%s: (%g, %g) should be %d", body, x, y, want);
    }
    assert_true(told > 40 && covered > 2 && covered < told);
    reading_done(&r);
}

static void any_shape_sweeps_what_brute_force_finds(void **state)
{
    (void)state;
    static const char *const shapes[] = {
        "%ADD10C,1X0.6*%",
        "%ADD10C,1X0.5X0.4*%",
        "%ADD10R,1.4X1X0.8*%",
        "%ADD10R,1.4X1X0.8X0.5*%",
        "%ADD10O,1.6X0.9X0.7*%",
        "%ADD10P,1.6X5X10X0.8*%",
        "%AMM*4,1,6,0,0,1,0,1,.3,.3,.3,.3,1,0,1,0,0,20*%%ADD10M*%",
        "%AMM*7,0,0,1.8,1,.3,15*%%ADD10M*%",
        "%AMM*1,1,.5,.6,0*1,1,.5,-.6,0*%%ADD10M*%",
        "%AMM*6,0,0,1.8,.1,.3,3,.1,2,30*%%ADD10M*%",
    };
    static const struct path ways[] = {
        {.x1 = 0.5, .y1 = 0.2}, {.x1 = -1.5, .y1 = 0.9}, {.x1 = 0.3}};
    for (size_t s = 0; s < sizeof shapes / sizeof *shapes; s++) {
        for (size_t w = 0; w < sizeof ways / sizeof *ways; w++) {
            char body[512];
            snprintf(body, sizeof body, "%sD10*X0Y0D03*X0Y0D02*X%dY%dD01*", shapes[s],
                     (int)lround(ways[w].x1 * 1e6), (int)lround(ways[w].y1 * 1e6));
            hold_against_brute_force(body, &ways[w]);
        }
    }
}

static void arcs_of_any_radius_cover_what_brute_force_finds(void **state)
{
    (void)state;
    /* radius in um, sweep in degrees; width 1 mm: from well within the half width to well beyond,
     * with caps that overlap */
    static const struct {
        int radius_um, degrees;
    } cases[] = {{100, 90},  {100, 300}, {400, 60},  {400, 200}, {499, 180}, {501, 180},
                 {700, 320}, {700, 350}, {2000, 45}, {600, 10},  {499, 359}, {2000, 359}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        for (int turn = -1; turn <= 1; turn += 2) {
            double r = cases[i].radius_um / 1000.0, sweep = turn * cases[i].degrees * PI / 180;
            struct path path = {.x0 = r, .is_arc = true, .sweep = sweep};
            path.x1 = r * cos(sweep);
            path.y1 = r * sin(sweep);
            char body[512];
            snprintf(body, sizeof body, "%%ADD10C,1*%%D10*X0Y0D03*X%dY0D02*G0%d*X%ldY%ldI-%dJ0D01*",
                     cases[i].radius_um * 1000, turn > 0 ? 3 : 2, lround(path.x1 * 1e6),
                     lround(path.y1 * 1e6), cases[i].radius_um * 1000);
            path.x0 = r;
            hold_against_brute_force(body, &path);
        }
    }
}

static void a_macro_that_is_a_circle_draws_arcs(void **state)
{
    (void)state;
    assert_near(last_area("%AMM*1,1,$1,0,0*%%ADD10M,0.5*%D10*X2000000Y0D02*G03*"
                          "X0Y2000000I-2000000J0D01*"),
                PI * 0.5 + PI / 16, TOLERANCE_MM2);
}

static void scaling_widens_strokes(void **state)
{
    (void)state;
    assert_near(last_area("%ADD10C,0.5*%%LS2*%D10*X0Y0D02*X3000000Y4000000D01*"), 5 + PI / 4,
                TOLERANCE_MM2);
    assert_near(last_area("%ADD10C,0.5*%%LS0.5*%D10*X2000000Y0D02*G03*X0Y2000000I-2000000J0D01*"),
                PI * 0.25 + PI / 64, TOLERANCE_MM2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(circle_strokes_are_stadiums),
        cmocka_unit_test(convex_shapes_sweep_their_width_across_the_way),
        cmocka_unit_test(arc_strokes_follow_pappus),
        cmocka_unit_test(any_shape_sweeps_what_brute_force_finds),
        cmocka_unit_test(arcs_of_any_radius_cover_what_brute_force_finds),
        cmocka_unit_test(a_macro_that_is_a_circle_draws_arcs),
        cmocka_unit_test(scaling_widens_strokes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
