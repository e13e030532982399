/*
 * Every aperture template and macro primitive against formulas of plane geometry worked out here.
 * The rules (which vertex comes first, what a hole does, what rotation turns about) are those of
 * the published Gerber Layer Format Specification, revision 2024.05 and its deprecated parts.
 */
#include "assertions.h"
#include "gerber_reading.h"

#include <math.h>

#define PI 3.14159265358979323846
/* Outlines of some mm, each vertex off by at most 0.71 nm. */
#define TOLERANCE_MM2 1e-5

/* One flash at (10 mm, 20 mm) of the aperture D10 that `definition` defines. */
static void flash(struct reading *r, const char *definition)
{
    char body[2048];
    snprintf(body, sizeof body, "%s\nD10*\nX10000000Y20000000D03*", definition);
    reading_clean(r, body);
    assert_int_equal(r->drawing.object_count, 1);
    assert_int_equal(r->drawing.objects[0].kind, OBJECT_FLASH);
    assert_true(r->drawing.objects[0].is_dark);
    assert_int_equal(r->drawing.objects[0].from.x_nm, 10000000);
    assert_int_equal(r->drawing.objects[0].to.y_nm, 20000000);
}

static double flash_area(const char *definition)
{
    struct reading r;
    flash(&r, definition);
    double area = reading_area_mm2(&r, 0);
    reading_done(&r);
    return area;
}

static void assert_extent(const char *definition, double x0, double y0, double x1, double y1)
{
    struct reading r;
    flash(&r, definition);
    assert_near((double)r.drawing.min.x_nm / 1e6, 10 + x0, 2e-6);
    assert_near((double)r.drawing.min.y_nm / 1e6, 20 + y0, 2e-6);
    assert_near((double)r.drawing.max.x_nm / 1e6, 10 + x1, 2e-6);
    assert_near((double)r.drawing.max.y_nm / 1e6, 20 + y1, 2e-6);
    reading_done(&r);
}

static bool is_covered(const char *definition, double x, double y)
{
    struct reading r;
    flash(&r, definition);
    bool is = object_covers(&r.drawing, &r.drawing.objects[0], 10 + x, 20 + y);
    reading_done(&r);
    return is;
}

static void circles(void **state)
{
    (void)state;
    assert_near(flash_area("%ADD10C,0.5*%"), PI / 16, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10C,0.5X0.25*%"), PI / 16 * 0.75, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10C,0.5X0.2X0.1*%"), PI / 16 - 0.02, TOLERANCE_MM2);
    assert_extent("%ADD10C,0.5*%", -0.25, -0.25, 0.25, 0.25);
    assert_false(is_covered("%ADD10C,0.5X0.25*%", 0, 0));
    assert_true(is_covered("%ADD10C,0.5X0.25*%", 0.2, 0));
}

static void rectangles_and_obrounds(void **state)
{
    (void)state;
    assert_near(flash_area("%ADD10R,1.5X0.8*%"), 1.2, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10R,1.5X0.8X0.4*%"), 1.2 - PI * 0.04, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10R,1.5X0.8X0.4X0.3*%"), 1.2 - 0.12, TOLERANCE_MM2);
    assert_extent("%ADD10R,1.5X0.8*%", -0.75, -0.4, 0.75, 0.4);
    /* width w, height h < w: (w - h) h + pi h^2 / 4 */
    assert_near(flash_area("%ADD10O,1.5X0.8*%"), 0.7 * 0.8 + PI * 0.16, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10O,0.8X1.5*%"), 0.7 * 0.8 + PI * 0.16, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10O,0.8X0.8*%"), PI * 0.16, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10O,1.5X0.8X0.5*%"), 0.56 + PI * (0.16 - 0.0625), TOLERANCE_MM2);
    assert_extent("%ADD10O,1.5X0.8*%", -0.75, -0.4, 0.75, 0.4);
    assert_extent("%ADD10O,0.8X1.5*%", -0.4, -0.75, 0.4, 0.75);
}

static void polygons_stand_on_their_circumscribed_circle(void **state)
{
    (void)state;
    for (int n = 3; n <= 12; n++) {
        char definition[64];
        snprintf(definition, sizeof definition, "%%ADD10P,2X%d*%%", n);
        assert_near(flash_area(definition), n / 2.0 * sin(2 * PI / n), TOLERANCE_MM2);
        assert_true(is_covered(definition, 0.999, 0)); /* the first vertex lies on +X */
    }
    /* Turned by 90 degrees counterclockwise: a triangle with a vertex on +Y. */
    assert_extent("%ADD10P,2X3X90*%", -sqrt(3) / 2, -0.5, sqrt(3) / 2, 1);
    assert_near(flash_area("%ADD10P,2X6X15X0.5*%"), 1.5 * sqrt(3) - PI / 16, TOLERANCE_MM2);
    assert_near(flash_area("%ADD10P,2X6X0X0.4X0.2*%"), 1.5 * sqrt(3) - 0.08, TOLERANCE_MM2);
}

static void a_hole_shows_what_lies_below(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,1*%%ADD11R,4X4X2*%D10*X0Y0D03*D11*X0Y0D03*");
    assert_true(reading_is_dark(&r, 0.4, 0));
    assert_false(reading_is_dark(&r, 0.7, 0));
    assert_true(reading_is_dark(&r, 1.5, 0));
    reading_done(&r);
}

static void a_circle_of_no_size_draws_nothing(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,0*%D10*X0Y0D03*X1000000Y0D01*");
    assert_int_equal(r.drawing.object_count, 2);
    assert_int_equal(r.drawing.objects[0].fill_count, 0);
    assert_int_equal(r.drawing.objects[1].fill_count, 0);
    assert_true(r.drawing.min.x_nm > r.drawing.max.x_nm);
    reading_done(&r);
}

static void sizes_that_leave_nothing_draw_nothing_and_are_told(void **state)
{
    (void)state;
    static const struct {
        const char *definition, *code;
    } cases[] = {{"%ADD10R,0X1*%", "gerber-zero-size"},
                 {"%ADD10O,1X0*%", "gerber-zero-size"},
                 {"%ADD10C,1X1*%", "gerber-hole-fills"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct reading r;
        char text[256];
        snprintf(text, sizeof text, "%s%sD10*X0Y0D03*M02*", GERBER_HEAD, cases[i].definition);
        reading_good(&r, text);
        assert_non_null(reading_diag(&r, cases[i].code));
        assert_int_equal(r.drawing.object_count, 1);
        assert_int_equal(r.drawing.objects[0].fill_count, 0);
        reading_done(&r);
    }
}

static void macro_circle_and_lines(void **state)
{
    (void)state;
    assert_near(flash_area("%AMM*1,1,0.8,1,2*%%ADD10M*%"), PI * 0.16, TOLERANCE_MM2);
    /* Rotation turns the centre about the macro's origin: (1,0) by 90 degrees is (0,1). */
    assert_extent("%AMM*1,1,0.8,1,0,90*%%ADD10M*%", -0.4, 0.6, 0.4, 1.4);
    assert_near(flash_area("%AMM*20,1,0.2,0,0,3,4,0*%%ADD10M*%"), 1.0, TOLERANCE_MM2);
    assert_near(flash_area("%AMM*2,1,0.2,0,0,3,4,0*%%ADD10M*%"), 1.0, TOLERANCE_MM2);
    assert_extent("%AMM*20,1,0.2,0,0,1,0,90*%%ADD10M*%", -0.1, 0, 0.1, 1);
    assert_near(flash_area("%AMM*21,1,0.6,0.3,1,1,30*%%ADD10M*%"), 0.18, TOLERANCE_MM2);
    assert_extent("%AMM*21,1,0.6,0.3,1,0,90*%%ADD10M*%", -0.15, 0.7, 0.15, 1.3);
    assert_extent("%AMM*22,1,0.6,0.3,1,2,0*%%ADD10M*%", 1, 2, 1.6, 2.3);
    assert_extent("%AMM*22,1,0.6,0.3,0,0,90*%%ADD10M*%", -0.3, 0, 0, 0.6);
}

static void macro_outline_and_polygon(void **state)
{
    (void)state;
    /* An L of three unit squares, clockwise and counterclockwise. */
    assert_near(flash_area("%AMM*4,1,6,0,0,2,0,2,1,1,1,1,2,0,2,0,0,0*%%ADD10M*%"), 3,
                TOLERANCE_MM2);
    assert_near(flash_area("%AMM*4,1,6,0,0,0,2,1,2,1,1,2,1,2,0,0,0,0*%%ADD10M*%"), 3,
                TOLERANCE_MM2);
    assert_extent("%AMM*4,1,3,\n1,-1,\n1,1,\n2,1,\n1,-1,\n30*%%ADD10M*%", cos(PI / 6) - 0.5,
                  0.5 - cos(PI / 6), cos(PI / 6) + 0.5, 1 + cos(PI / 6));
    assert_near(flash_area("%AMM*5,1,8,0.5,0.5,2,22.5*%%ADD10M*%"), 4 * sin(PI / 4), TOLERANCE_MM2);
}

static void moire_is_rings_and_a_cross(void **state)
{
    (void)state;
    /* Rings 2..1.8 and 1.4..1.2 in diameter, then 0.8..0.6; three at most. Cross 0.1 by 2.2, which
     * overlaps the rings: areas are compared without it, then points with it. */
    double rings = PI / 4 * (4 - 3.24 + 1.96 - 1.44 + 0.64 - 0.36);
    assert_near(flash_area("%AMM*6,0,0,2,0.1,0.2,3,0,0,0*%%ADD10M*%"), rings, TOLERANCE_MM2);
    /* The innermost ring that is too small for its width is a disc. */
    assert_near(flash_area("%AMM*6,0,0,0.3,0.2,0.1,5,0,0,0*%%ADD10M*%"), PI / 4 * 0.09,
                TOLERANCE_MM2);
    const char *whole = "%AMM*6,0,0,2,0.1,0.2,3,0.1,2.2,0*%%ADD10M*%";
    assert_extent(whole, -1.1, -1.1, 1.1, 1.1);
    assert_true(is_covered(whole, 0.8, 0.04));
    assert_false(is_covered(whole, 0.8, 0.08));
    assert_true(is_covered(whole, 0.95 * cos(1), 0.95 * sin(1)));
    assert_false(is_covered(whole, 0.8 * cos(1), 0.8 * sin(1)));
    assert_true(is_covered("%AMM*6,0,0,2,0.1,0.2,3,0.1,2.2,45*%%ADD10M*%", 0.6, 0.6));
}

/* Quarter of a ring r..R beyond lines at g from either axis, by integrating over x. */
static double quarter_area(double outer, double inner, double gap)
{
    double sum = 0;
    int steps = 200000;
    for (int i = 0; i < steps; i++) {
        double x = gap + (outer - gap) * (i + 0.5) / steps;
        double top = outer * outer - x * x, bottom = inner * inner - x * x;
        double high = top > 0 ? sqrt(top) : 0, low = bottom > 0 ? sqrt(bottom) : 0;
        low = low > gap ? low : gap;
        sum += high > low ? (high - low) * (outer - gap) / steps : 0;
    }
    return sum;
}

static void thermal_is_a_ring_cut_by_a_cross(void **state)
{
    (void)state;
    assert_near(flash_area("%AMM*7,0,0,2,1.4,0.3,0*%%ADD10M*%"), 4 * quarter_area(1, 0.7, 0.15),
                1e-5);
    assert_near(flash_area("%AMM*7,0.5,0.5,2,1.4,0.3,45*%%ADD10M*%"),
                4 * quarter_area(1, 0.7, 0.15), 1e-5);
    /* The inner circle lies within the cross: the quarters end in its corners. */
    assert_near(flash_area("%AMM*7,0,0,2,0.3,0.6,0*%%ADD10M*%"), 4 * quarter_area(1, 0.15, 0.3),
                1e-5);
    assert_near(flash_area("%AMM*7,0,0,2,1,0,0*%%ADD10M*%"), PI * 0.75, TOLERANCE_MM2);
    const char *turned = "%AMM*7,0,0,2,1.4,0.3,45*%%ADD10M*%";
    assert_true(is_covered(turned, 0.85, 0));
    assert_false(is_covered(turned, 0.6, 0.6));
    assert_false(is_covered("%AMM*7,0,0,2,1.4,0.3,0*%%ADD10M*%", 0.85, 0.1));
}

static void a_short_arc_never_becomes_a_full_circle(void **state)
{
    (void)state;
    /* The gap leaves slivers whose arcs are shorter than a nanometre. */
    assert_near(flash_area("%AMM*7,0,0,2,0.1,1.4142134,0*%%ADD10M*%"), 0, 1e-8);
    /* A circle of 0.4 nm has no radius left. */
    struct reading r;
    flash(&r, "%ADD10C,0.0000004*%");
    for (size_t i = 0; i < r.drawing.seg_count; i++)
        assert_int_equal(r.drawing.segs[i].turn, 0);
    reading_done(&r);
}

static void exposure_off_erases_only_what_its_macro_drew(void **state)
{
    (void)state;
    struct reading r;
    assert_near(flash_area("%AMM*1,1,2,0,0*1,0,1,0,0*%%ADD10M*%"), PI * 0.75, TOLERANCE_MM2);
    assert_true(is_covered("%AMM*1,1,2,0,0*1,0,1,0,0*1,1,0.5,0,0*%%ADD10M*%", 0, 0));
    assert_false(is_covered("%AMM*1,1,2,0,0*1,0,1,0,0*1,1,0.5,0,0*%%ADD10M*%", 0.4, 0));
    reading_clean(&r, "%AMM*1,1,2,0,0*1,0,1,0,0*%%ADD10M*%%ADD11C,0.5*%D11*X0Y0D03*D10*X0Y0D03*");
    assert_true(reading_is_dark(&r, 0, 0)); /* what lies below stays */
    assert_false(reading_is_dark(&r, 0.4, 0));
    reading_done(&r);
    /* Erasing before anything is drawn erases nothing. */
    assert_near(flash_area("%AMM*1,0,1,0,0*1,1,2,0,0*%%ADD10M*%"), PI, TOLERANCE_MM2);
}

static void macro_arithmetic(void **state)
{
    (void)state;
    /* Area of a circle of diameter d is read back: d = sqrt(4 A / pi). */
    static const struct {
        const char *expression;
        double value;
    } cases[] = {
        {"$1", 1.5},           {"$1+$2", 2.0},     {"$1-$2x2", 0.5},  {"($1-$2)x2", 2.0},
        {"$1/$2/3", 1.0},      {"$1/($2/3)", 9.0}, {"$1-$2-$2", 0.5}, {"-$2+$1", 1.0},
        {"-(0.5-$1)x+2", 2.0}, {"--$1", 1.5},      {"$9+1", 1.0}, /* an undefined variable is 0 */
        {"((((2))))", 2.0},    {".5x1.", 0.5},     {"$3", 3.0},       {"$4", 4.5},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char definition[256];
        snprintf(
            definition, sizeof definition,
            "%%AMM*0 a comment, with $ and (*$3=$1x2*$4=$3+$1*1,1,%s,0,0*%%%%ADD10M,1.5X0.5*%%",
            cases[i].expression);
        assert_near(sqrt(4 * flash_area(definition) / PI), cases[i].value, 1e-6);
    }
}

static void upper_case_x_multiplies_with_a_warning(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r,
                 GERBER_HEAD "%AMOC8*5,1,8,0,0,1.08239X$1,22.5*%%ADD10OC8,0.5*%D10*X0Y0D03*M02*");
    assert_int_equal(r.diags.count, 1);
    assert_string_equal(r.diags.items[0].code, "gerber-upper-case-x");
    /* Across flats 0.5 mm when 1.08239 = 1 / cos(22.5 degrees). */
    assert_near(reading_area_mm2(&r, 0), 2 * tan(PI / 8) * 0.25, 1e-5);
    reading_done(&r);
}

static void odd_macros_are_read_and_told(void **state)
{
    (void)state;
    static const struct {
        const char *definition, *code;
        double area;
    } cases[] = {
        {"%AMM*21,1,2,1,0,0*%%ADD10M*%", "gerber-missing-rotation", 2},
        {"%AMM*4,1,2,0,0,2,0,2,2,0*%%ADD10M*%", "gerber-open-contour", 2},
        {"%AMM*$1=1*$1=2*21,1,$1,1,0,0,0*%%ADD10M*%", "gerber-redefined-variable", 2},
        {"%AMM*21,1,9,1,0,0,0*%%AMM*21,1,2,1,0,0,0*%%ADD10M*%", "gerber-redefined-macro", 2},
        {"%ADD10C,1*%%ADD10R,2X1*%", "gerber-redefined-aperture", 2},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct reading r;
        char text[256];
        snprintf(text, sizeof text, "%s%sD10*X0Y0D03*M02*", GERBER_HEAD, cases[i].definition);
        reading_good(&r, text);
        assert_non_null(reading_diag(&r, cases[i].code));
        assert_near(reading_area_mm2(&r, 0), cases[i].area, TOLERANCE_MM2);
        reading_done(&r);
    }
}

static void an_inch_is_exactly_25_4_mm(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, "%FSLAX24Y24*%%MOIN*%G75*G01*%ADD10C,0.01*%%ADD11R,.1X.05*%"
                     "D10*X10000Y-00001D03*D11*X0Y0D03*M02*");
    assert_int_equal(r.diags.count, 0);
    assert_true(r.drawing.is_inch);
    assert_int_equal(r.drawing.apertures[0].width_nm, 254000);
    assert_int_equal(r.drawing.objects[0].from.x_nm, 25400000);
    assert_int_equal(r.drawing.objects[0].from.y_nm, -2540);
    assert_near(reading_area_mm2(&r, 1), 2.54 * 1.27, TOLERANCE_MM2);
    reading_done(&r);
}

static void apertures_are_listed_as_defined(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, GERBER_HEAD
                 "%TA.AperFunction,SMDPad,CuDef*%%ADD10R,1X2X0.5*%%TD*%%AMBox*21,1,3,4,0,0,0*%"
                 "%ADD2147483647Box*%D10*X0Y0D03*X1000000Y0D01*D2147483647*X0Y0D03*Y0D03*M02*");
    const struct aperture *a = r.drawing.apertures;
    assert_int_equal(r.drawing.aperture_count, 2);
    assert_int_equal(a[0].code, 10);
    assert_int_equal(a[0].kind, APERTURE_RECTANGLE);
    assert_int_equal(a[0].width_nm, 1000000);
    assert_int_equal(a[0].height_nm, 2000000);
    assert_int_equal(a[0].hole_nm, 500000);
    assert_string_equal(a[0].function, "SMDPad");
    assert_int_equal(a[0].flash_count, 1);
    assert_int_equal(a[0].stroke_count, 1);
    assert_int_equal(a[0].at.line, 5);
    assert_int_equal(a[1].code, 2147483647);
    assert_int_equal(a[1].kind, APERTURE_MACRO);
    assert_string_equal(a[1].macro_name, "Box");
    assert_int_equal(a[1].width_nm, 3000000);
    assert_int_equal(a[1].height_nm, 4000000);
    assert_null(a[1].function);
    assert_int_equal(a[1].flash_count, 2);
    reading_done(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(circles),
        cmocka_unit_test(rectangles_and_obrounds),
        cmocka_unit_test(polygons_stand_on_their_circumscribed_circle),
        cmocka_unit_test(a_hole_shows_what_lies_below),
        cmocka_unit_test(a_circle_of_no_size_draws_nothing),
        cmocka_unit_test(sizes_that_leave_nothing_draw_nothing_and_are_told),
        cmocka_unit_test(macro_circle_and_lines),
        cmocka_unit_test(macro_outline_and_polygon),
        cmocka_unit_test(moire_is_rings_and_a_cross),
        cmocka_unit_test(thermal_is_a_ring_cut_by_a_cross),
        cmocka_unit_test(a_short_arc_never_becomes_a_full_circle),
        cmocka_unit_test(exposure_off_erases_only_what_its_macro_drew),
        cmocka_unit_test(macro_arithmetic),
        cmocka_unit_test(upper_case_x_multiplies_with_a_warning),
        cmocka_unit_test(odd_macros_are_read_and_told),
        cmocka_unit_test(an_inch_is_exactly_25_4_mm),
        cmocka_unit_test(apertures_are_listed_as_defined),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
