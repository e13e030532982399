/*
 * Drawing files: words, coordinates, operations, regions, attributes, and what is told about them.
 * Rules: Gerber Layer Format Specification, revision 2024.05 and before (deprecated parts).
 */
#include "assertions.h"
#include "gerber_reading.h"

#include <math.h>

#define PI 3.14159265358979323846
#define TOLERANCE_MM2 1e-5

/* ---- coordinates ---- */
static void assert_flash_at(const char *text, int64_t x_nm, int64_t y_nm)
{
    struct reading r;
    reading_good(&r, text);
    assert_int_equal(r.drawing.object_count, 1);
    assert_int_equal(r.drawing.objects[0].from.x_nm, x_nm);
    assert_int_equal(r.drawing.objects[0].from.y_nm, y_nm);
    reading_done(&r);
}

#define FLASH(xy) "%ADD10C,1*%D10*" xy "D03*M02*"

static void coordinates_are_read_as_the_format_says(void **state)
{
    (void)state;
    assert_flash_at("%FSLAX24Y24*%%MOMM*%" FLASH("X10000Y-5"), 1000000, -500);
    assert_flash_at("%FSLAX36Y36*%%MOMM*%" FLASH("X+1Y000000000002"), 1, 2);
    assert_flash_at("%FSLAX35Y35*%%MOMM*%" FLASH("X1Y-1"), 10, -10);
    assert_flash_at("%FSLAX23Y25*%%MOMM*%" FLASH("X1Y1"), 1000, 10);
    /* Trailing zeros left out: 15 stands for 15.0000 and 015 for 01.5000. */
    assert_flash_at("%FSTAX24Y24*%%MOMM*%" FLASH("X15Y015"), 15000000, 1500000);
    assert_flash_at("%FSTAX24Y24*%%MOMM*%" FLASH("X-1Y0000015"), -10000000, 150);
    /* No zero left out. */
    assert_flash_at("%FSDAX24Y24*%%MOMM*%" FLASH("X015000Y-000001"), 1500000, -100);
    assert_flash_at("%FSAX24Y24*%%MOMM*%" FLASH("X015000Y000001"), 1500000, 100);
    assert_flash_at("%FSLAN2X24Y24G2D2M2*%%MOMM*%" FLASH("X1Y2"), 100, 200);
    assert_flash_at("%FSLAX24Y24*%G71*" FLASH("X1Y1"), 100, 100);
    assert_flash_at("%FSLAX24Y24*%G70*" FLASH("X1Y1"), 2540, 2540);
    assert_flash_at("%FSLAX24Y24*%%ADD10C,1*%%MOIN*%D10*X1Y1D03*M02*", 2540, 2540);
    assert_flash_at("%FSLAX24Y24*%%MOMM*%" FLASH("X1.5Y-.25"), 1500000, -250000);
}

static void a_millionth_of_an_inch_is_rounded_half_away_from_zero(void **state)
{
    (void)state;
    /* 1e-6 inch = 25.4 nm; 5e-6 inch = 127 nm; 1e-7 inch x 25 = 63.5 nm */
    assert_flash_at("%FSLAX26Y26*%%MOIN*%" FLASH("X1Y-1"), 25, -25);
    assert_flash_at("%FSLAX26Y26*%%MOIN*%" FLASH("X2Y5"), 51, 127);
    assert_flash_at("%FSLAX27Y27*%%MOIN*%" FLASH("X25Y-25"), 64, -64);
    assert_flash_at("%FSLAX27Y27*%%MOMM*%" FLASH("X5Y-5"), 1, -1);
    assert_flash_at("%FSLAX27Y27*%%MOMM*%" FLASH("X4Y-4"), 0, 0);
}

static void odd_coordinates_are_told(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, "%FSLAX24Y24*%%MOMM*%" FLASH("X1234567Y1"));
    assert_int_equal(r.drawing.objects[0].from.x_nm, 123456700);
    assert_non_null(reading_diag(&r, "gerber-too-many-digits"));
    reading_done(&r);
    reading_good(&r, "%FSLAX24Y24*%%MOMM*%" FLASH("X1.5Y1"));
    assert_non_null(reading_diag(&r, "gerber-decimal-point"));
    reading_done(&r);
    reading_good(&r, "%FSDAX24Y24*%%MOMM*%M02*");
    assert_non_null(reading_diag(&r, "gerber-no-zero-omission"));
    reading_done(&r);
}

static void incremental_coordinates_add_up(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, "%FSLIX24Y24*%%MOIN*%%ADD10C,.01*%D10*X1Y1D03*X2D03*Y-5D03*G90*X1Y1D03*G91*"
                     "X1Y1D03*M02*");
    static const int64_t x[] = {1, 3, 3, 1, 2}, y[] = {1, 1, -4, 1, 2};
    assert_int_equal(r.drawing.object_count, 5);
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(r.drawing.objects[i].from.x_nm, x[i] * 2540);
        assert_int_equal(r.drawing.objects[i].from.y_nm, y[i] * 2540);
    }
    reading_done(&r);
    /* Rounded once, not at each step: 10 x 1e-6 inch = 254 nm. */
    reading_good(&r, "%FSLIX26Y26*%%MOIN*%%ADD10C,.01*%D10*X1Y0D03*X9D03*M02*");
    assert_int_equal(r.drawing.objects[1].from.x_nm, 254);
    reading_done(&r);
}

/* ---- words ---- */
static void any_line_ends_will_do(void **state)
{
    (void)state;
    static const char *const ends[] = {"\n", "\r\n", "\r", ""};
    for (size_t i = 0; i < 4; i++) {
        struct reading r;
        char text[512];
        snprintf(text, sizeof text,
                 "%%FSLAX46Y46*%%%s%%MOMM*%%%sG01*%s%%ADD10C,1*%%%sD10*%sX0Y0D02*%s  X1Y1%sD01*%s"
                 "M02*%s",
                 ends[i], ends[i], ends[i], ends[i], ends[i], ends[i], ends[i], ends[i], ends[i]);
        reading_good(&r, text);
        assert_int_equal(r.diags.count, 0);
        assert_int_equal(r.drawing.object_count, 1);
        if (i < 3) {
            assert_int_equal(r.drawing.objects[0].at.line, 7);
            assert_int_equal(r.drawing.objects[0].at.column, 3);
        }
        reading_done(&r);
    }
}

static void modal_coordinates_and_operations(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, GERBER_HEAD "%ADD10C,1*%G54D10*X1Y2D02*X3D01*Y4D01*X5Y6*X7*D03*G55X8D03*Y9*"
                                 "G01X1Y1D02*M01*M02*");
    static const int64_t x[] = {3, 3, 5, 7, 7, 8, 8}, y[] = {2, 4, 6, 6, 6, 6, 9};
    assert_int_equal(r.drawing.object_count, 7);
    for (size_t i = 0; i < 7; i++) {
        assert_int_equal(r.drawing.objects[i].to.x_nm, x[i]);
        assert_int_equal(r.drawing.objects[i].to.y_nm, y[i]);
        assert_int_equal(r.drawing.objects[i].kind, i < 4 ? OBJECT_STROKE : OBJECT_FLASH);
    }
    assert_int_equal(r.diags.count, 1);
    assert_string_equal(r.diags.items[0].code, "gerber-omitted-operation");
    assert_int_equal(r.diags.items[0].suppressed_count, 2);
    reading_done(&r);
}

static void several_commands_between_one_pair_of_signs(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, "%FSLAX46Y46*MOMM*\nADD10C,1*ADD11R,1X1*LPC*%G01*D11*X0Y0D03*M02*");
    assert_int_equal(r.diags.count, 0);
    assert_false(r.drawing.objects[0].is_dark);
    assert_int_equal(r.drawing.apertures[r.drawing.objects[0].aperture].code, 11);
    assert_int_equal(r.drawing.apertures[1].at.line, 2);
    reading_done(&r);
}

static void the_end_and_what_stands_behind_it(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, GERBER_HEAD "M00*\nM02*\n\n");
    assert_int_equal(r.diags.count, 1);
    assert_int_equal(r.diags.items[0].level, DIAG_NOTE);
    reading_done(&r);
    reading_good(&r, GERBER_HEAD "M02*\nX0Y0D03*\n");
    assert_int_equal(r.drawing.object_count, 0);
    assert_int_equal(r.diags.items[0].at.line, 6);
    assert_string_equal(r.diags.items[0].code, "gerber-words-after-end");
    reading_done(&r);
    reading_of(&r, GERBER_HEAD "%ADD10C,1*%D10*X0Y0D03*\n");
    assert_int_equal(r.status, DRAWING_REFUSED);
    assert_string_equal(r.diags.items[0].code, "gerber-truncated");
    reading_done(&r);
}

static void empty_words_are_skipped(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, GERBER_HEAD "*\n**%ADD10C,1**%D10*X0Y0D03*M02*");
    assert_int_equal(r.drawing.object_count, 1);
    assert_int_equal(r.diags.count, 1);
    assert_string_equal(r.diags.items[0].code, "gerber-empty-word");
    reading_done(&r);
}

/* ---- arcs ---- */
static double stroke_area(const char *head, const char *body)
{
    struct reading r;
    char text[512];
    snprintf(text, sizeof text, "%%FSLAX46Y46*%%%%MOMM*%%%%ADD10C,0.5*%%%sD10*%sM02*", head, body);
    reading_good(&r, text);
    double area = reading_area_mm2(&r, 0);
    reading_done(&r);
    return area;
}

static void single_quadrant_arcs_choose_their_centre(void **state)
{
    (void)state;
    double quarter = PI * 0.5 + PI / 16; /* radius 2, width 0.5 */
    assert_near(stroke_area("G74*", "X2000000Y0D02*G03X0Y2000000I2000000J0D01*"), quarter,
                TOLERANCE_MM2);
    assert_near(stroke_area("G74*", "X0Y2000000D02*G02X2000000Y0I0J2000000D01*"), quarter,
                TOLERANCE_MM2);
    assert_near(stroke_area("G74*", "X-2000000Y0D02*G03X0Y-2000000I2000000J0D01*"), quarter,
                TOLERANCE_MM2);
    /* The same end points the other way round have their centre elsewhere. */
    assert_near(stroke_area("G74*", "X2000000Y0D02*G02X0Y2000000I0J2000000D01*"), quarter,
                TOLERANCE_MM2);
    /* Start and end are one point: no length under G74, a full circle under G75. */
    assert_near(stroke_area("G74*", "X2000000Y0D02*G03X2000000Y0I2000000J0D01*"), PI / 16,
                TOLERANCE_MM2);
    assert_near(stroke_area("G75*", "X2000000Y0D02*G03X2000000Y0I-2000000J0D01*"), 2 * PI,
                TOLERANCE_MM2);
}

static void arcs_before_any_mode_take_the_one_that_fits(void **state)
{
    (void)state;
    double quarter = PI * 0.5 + PI / 16;
    assert_near(stroke_area("", "X2000000Y0D02*G03X0Y2000000I-2000000J0D01*"), quarter,
                TOLERANCE_MM2);
    assert_near(stroke_area("", "X2000000Y0D02*G03X0Y2000000I2000000J0D01*"), quarter,
                TOLERANCE_MM2);
    assert_near(stroke_area("", "X2000000Y0D02*G02X0Y2000000I-2000000J0D01*"),
                3 * PI * 0.5 + PI / 16, TOLERANCE_MM2);
    struct reading r;
    reading_good(&r,
                 "%FSLAX46Y46*%%MOMM*%%ADD10C,0.5*%D10*X2000000Y0D02*G03X0Y2000000I-2000000J0D01"
                 "*M02*");
    assert_non_null(reading_diag(&r, "gerber-arc-before-mode"));
    reading_done(&r);
}

/* ---- regions ---- */
static void a_region_may_have_arcs_and_several_contours(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "G36*X0Y0D02*X2000000D01*G03*Y2000000I0J1000000D01*G01*X0D01*Y0D01*"
                      "X10000000Y0D02*G03*X10000000Y0I500000J0D01*G37*");
    assert_int_equal(r.drawing.object_count, 1);
    assert_int_equal(r.drawing.objects[0].kind, OBJECT_REGION);
    assert_int_equal(r.drawing.objects[0].aperture, ISTHMUS_NONE);
    assert_int_equal(r.drawing.objects[0].fill_count, 2);
    assert_near(reading_area_mm2(&r, 0), 4 + PI / 2 + PI / 4, TOLERANCE_MM2);
    assert_near((double)r.drawing.max.x_nm, 11000000, 1);
    reading_done(&r);
}

static void contours_of_a_region_unite_whatever_their_direction(void **state)
{
    (void)state;
    struct reading r;
    /* Two overlapping squares, one the other way round: the overlap stays filled. */
    reading_clean(&r, "G36*X0Y0D02*X2000000D01*Y2000000D01*X0D01*Y0D01*"
                      "X1000000Y1000000D02*Y3000000D01*X3000000D01*Y1000000D01*X1000000D01*G37*");
    assert_true(reading_is_dark(&r, 1.5, 1.5));
    assert_true(reading_is_dark(&r, 0.5, 0.5));
    assert_true(reading_is_dark(&r, 2.5, 2.5));
    assert_false(reading_is_dark(&r, 0.5, 2.5));
    reading_done(&r);
}

static void a_cut_in_leaves_a_hole(void **state)
{
    (void)state;
    struct reading r;
    /* A square of 4 mm with a hole of 2 mm, joined by a horizontal line drawn twice. */
    reading_clean(&r, "G36*X0Y0D02*X4000000D01*Y4000000D01*X0D01*Y1000000D01*X1000000D01*"
                      "Y3000000D01*X3000000D01*Y1000000D01*X1000000D01*X0D01*Y0D01*G37*");
    assert_near(reading_area_mm2(&r, 0), 12, TOLERANCE_MM2);
    assert_false(reading_is_dark(&r, 2, 2));
    assert_true(reading_is_dark(&r, 0.5, 2));
    reading_done(&r);
}

static void odd_regions_are_read_and_told(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, GERBER_HEAD "G36*X0Y0D02*X2000000D01*Y2000000D01*G37*M02*");
    assert_non_null(reading_diag(&r, "gerber-open-contour"));
    assert_near(reading_area_mm2(&r, 0), 2, TOLERANCE_MM2);
    reading_done(&r);
    /* A bow tie; moves only; no D02 at the beginning. */
    reading_good(
        &r, GERBER_HEAD
        "X0Y0D02*G36*X2000000Y2000000D01*Y0D01*X0Y2000000D01*Y0D01*G37*G36*X5Y5D02*G37*M02*");
    assert_int_equal(r.drawing.object_count, 1);
    const struct diag *diag = reading_diag(&r, "gerber-self-crossing");
    assert_non_null(diag);
    assert_non_null(strstr(diag->text, "near x 1.000000 mm, y 1.000000 mm"));
    assert_true(reading_is_dark(&r, 0.2, 1));
    assert_true(reading_is_dark(&r, 1.8, 1));
    reading_done(&r);
}

static void crossings_with_arcs_are_found(void **state)
{
    (void)state;
    struct reading r;
    /* A half circle that a line cuts; two half circles that cut each other. */
    reading_good(&r, GERBER_HEAD "G36*X0Y0D02*G03*X2000000Y0I1000000J0D01*G01*X2000000Y-500000D01*"
                                 "X-1000000Y-500000D01*Y0D01*X0Y0D01*G37*M02*");
    assert_non_null(reading_diag(&r, "gerber-self-crossing"));
    reading_done(&r);
    reading_good(&r, GERBER_HEAD "G36*X0Y0D02*G03*X2000000Y0I1000000J0D01*G01*Y1000000D01*"
                                 "X-1000000D01*Y-500000D01*G03*X1000000Y-500000I1000000J0D01*G01*"
                                 "Y-400000D01*X0Y0D01*G37*M02*");
    assert_non_null(reading_diag(&r, "gerber-self-crossing"));
    reading_done(&r);
    /* Rounded corners touch the sides they join: nothing to tell. */
    reading_clean(&r, "G36*X100000Y0D02*X900000D01*G03*X1000000Y100000I0J100000D01*G01*Y900000D01*"
                      "G03*X900000Y1000000I-100000J0D01*G01*X100000D01*G03*X0Y900000I0J-100000D01*"
                      "G01*Y100000D01*G03*X100000Y0I100000J0D01*G37*");
    reading_done(&r);
}

/* ---- attributes ---- */
static void assert_attrs(const struct reading *r, size_t object, const char *net, const char *ref,
                         const char *pin, const char *function)
{
    const struct object_attrs *a = &r->drawing.attrs[r->drawing.objects[object].attrs];
    if (net)
        assert_string_equal(a->nets[0], net);
    else
        assert_null(a->nets);
    const char *const found[] = {a->ref, a->pin, a->aperture_function};
    const char *const want[] = {ref, pin, function};
    for (size_t i = 0; i < 3; i++) {
        if (want[i])
            assert_string_equal(found[i], want[i]);
        else
            assert_null(found[i]);
    }
}

/* open, close: what stands round each attribute's text */
static void hold_attributes(const char *open, const char *close)
{
    static const char *const words[] = {
        "TF.FileFunction,Copper,L1,Top",
        "TF.FilePolarity,Positive",
        "TA.AperFunction,SMDPad,CuDef",
        "TO.N,HEAT\\u002B",
        "TO.P,J1,2,Pin_2",
        "TO.C,J1",
        "TD.P",
        "TD",
        "TA.AperFunction,Conductor",
        "TO.N,",
    };
    char w[10][64], text[2048];
    for (int i = 0; i < 10; i++)
        snprintf(w[i], sizeof w[i], "%s%s%s", open, words[i], close);
    snprintf(text, sizeof text,
             "%%FSLAX46Y46*%%%%MOMM*%%G01*%s%s%s%%ADD10C,1*%%%s%s%sD10*X0Y0D03*%sX1Y1D03*%sX2Y2D03*"
             "%sG36*X0Y0D02*"
             "X9D01*Y9D01*X0Y0D01*G37*%sX0Y0D03*M02*",
             w[0], w[1], w[2], w[3], w[4], w[5], w[6], w[7], w[8], w[9]);
    struct reading r;
    reading_good(&r, text);
    assert_int_equal(r.diags.count, 0);
    assert_attrs(&r, 0, "HEAT+", "J1", "2", "SMDPad");
    const struct object_attrs *first = &r.drawing.attrs[r.drawing.objects[0].attrs];
    assert_string_equal(first->pin_function, "Pin_2");
    assert_string_equal(first->component, "J1");
    assert_string_equal(first->aperture_function_detail, "CuDef");
    assert_attrs(&r, 1, "HEAT+", NULL, NULL, "SMDPad");
    assert_attrs(&r, 2, NULL, NULL, NULL, "SMDPad");
    assert_attrs(&r, 3, NULL, NULL, NULL, "Conductor");
    assert_attrs(&r, 4, NULL, NULL, NULL, "SMDPad");
    assert_true(r.drawing.attrs[r.drawing.objects[4].attrs].is_no_net);
    assert_false(r.drawing.attrs[r.drawing.objects[2].attrs].is_no_net);
    const struct file_attr *function = drawing_file_attr(&r.drawing, ".FileFunction");
    assert_int_equal(function->field_count, 3);
    assert_string_equal(function->fields[2], "Top");
    assert_null(drawing_file_attr(&r.drawing, ".Part"));
    reading_done(&r);
}

static void attributes_hold_in_commands_and_in_comments(void **state)
{
    (void)state;
    hold_attributes("%", "*%\n");
    hold_attributes("G04 #@! ", " *\n");
}

static void equal_sets_of_attributes_are_shared(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,1*%D10*%TO.N,A*%X0Y0D03*%TO.N,B*%X0Y0D03*%TD*%%TO.N,A*%X0Y0D03*"
                      "%TO.N,A,B*%X0Y0D03*%TD*%X0Y0D03*");
    const struct object *o = r.drawing.objects;
    assert_int_equal(o[0].attrs, o[2].attrs);
    assert_int_not_equal(o[0].attrs, o[1].attrs);
    assert_int_not_equal(o[0].attrs, o[3].attrs);
    assert_int_equal(r.drawing.attrs[o[3].attrs].net_count, 2);
    assert_int_equal(o[4].attrs, 0);
    assert_int_equal(r.drawing.attrs_count, 4);
    reading_done(&r);
}

static void escapes_become_utf8(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%TF.A,\\u00B5F,\\u20AC,a\\u002Cb,\\u12,\\u00e9*%");
    const struct file_attr *a = drawing_file_attr(&r.drawing, ".A");
    assert_int_equal(a->field_count, 5);
    assert_string_equal(a->fields[0], "\xC2\xB5"
                                      "F");
    assert_string_equal(a->fields[1], "\xE2\x82\xAC");
    assert_string_equal(a->fields[2], "a,b");
    assert_string_equal(a->fields[3], "\\u12");
    assert_string_equal(a->fields[4], "\xC3\xA9");
    reading_done(&r);
}

static void objects_of_a_block_keep_their_attributes(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,1*%%ABD20*%D10*%TO.N,IN*%X0Y0D03*%TD*%X1Y1D03*%AB*%%TO.N,OUT*%D20*"
                      "X0Y0D03*");
    assert_attrs(&r, 0, "IN", NULL, NULL, NULL);
    assert_attrs(&r, 1, "OUT", NULL, NULL, NULL);
    reading_done(&r);
}

/* ---- what is refused ---- */
static void errors_name_their_place(void **state)
{
    (void)state;
    static const struct {
        const char *body; /* begins in line 5, column 1 */
        uint32_t line, column;
        const char *code, *text; /* part of the text */
    } cases[] = {
        {"D10*", 5, 1, "gerber-aperture-undefined", "\"D10*\""},
        {"\n  X0Y0D01*", 6, 3, "gerber-no-aperture", "\"X0Y0D01*\""},
        {"X0Y0*", 5, 1, "gerber-operation-unknown", "expected D01, D02 or D03"},
        {"%ADD10C,1*%D10*X0Y0D03*D10*X1*", 5, 28, "gerber-operation-unknown", "D03"},
        {"X0Y0D04*", 5, 5, "gerber-code-unknown", "\"D04*\""},
        {"X0Y0D10*", 5, 5, "gerber-code-unknown", "alone"},
        {"G05*", 5, 1, "gerber-code-unknown", "\"G05*\""},
        {"M07*", 5, 1, "gerber-code-unknown", "M02"},
        {"X0Q0D01*", 5, 3, "gerber-unexpected", "\"Q\""},
        {"X--1Y0D02*", 5, 1, "gerber-unexpected", "\"X\""},
        {"\x01\x02*", 5, 1, "gerber-unexpected", "\\x01"},
        {"X0Y0D02", 6, 1, "gerber-unexpected", "\"M\": expected *"},
        {"X0Y0D02\nX5D01*", 6, 1, "gerber-unexpected", "\"X\": expected *"},
        {"X0X5D02*", 5, 3, "gerber-unexpected", "each once"},
        {"X99999999999999Y0D02*", 5, 1, "gerber-out-of-range", "1 km"},
        {"X999999999999999999999999Y0D02*", 5, 1, "gerber-unexpected", "X"},
        {"%ADD10Q,1*%", 5, 7, "gerber-aperture", "macro"},
        {"%ADD9C,1*%", 5, 6, "gerber-aperture", "from 10"},
        {"%ADD10C,-1*%", 5, 2, "gerber-aperture", "C,diameter"},
        {"%ADD10C*%", 5, 2, "gerber-aperture", "C,diameter"},
        {"%ADD10C,1XX2*%", 5, 11, "gerber-aperture", "decimal number"},
        {"%ADD10C,1X2*%", 5, 2, "gerber-aperture", "hole"},
        {"%ADD10R,1X1X1*%", 5, 2, "gerber-aperture", "hole"},
        {"%ADD10P,1X2*%", 5, 2, "gerber-aperture", "3 to 12"},
        {"%ADD10P,1X13*%", 5, 2, "gerber-aperture", "3 to 12"},
        {"%ADD10C,99999999*%", 5, 2, "gerber-aperture", "fits a board"},
        {"%AMM*1,1,$0,0,0*%", 5, 10, "gerber-macro", "$1"},
        {"%AMM*1,1,(1,0,0*%", 5, 12, "gerber-macro", "closing parenthesis"},
        {"%AMM*1,1,1+,0,0*%", 5, 12, "gerber-macro", "a number"},
        {"%AMM*1,1,1,0*%%ADD10M*%", 5, 6, "gerber-macro", "parameters"},
        {"%AMM*1,2,1,0,0*%%ADD10M*%", 5, 6, "gerber-macro", "exposure"},
        {"%AMM*1,1,1/$1,0,0*%%ADD10M*%", 5, 6, "gerber-macro", "divisor"},
        {"%AMM*3,1,1,0,0*%%ADD10M*%", 5, 6, "gerber-macro", "primitives"},
        {"%AMM*4,1,9,0,0,1,1*%%ADD10M*%", 5, 6, "gerber-macro", "points"},
        {"%AMM*7,0,0,1,2,0,0*%%ADD10M*%", 5, 6, "gerber-macro", "outer diameter"},
        {"%LPX*%", 5, 2, "gerber-command", "LPD or LPC"},
        {"%LMZ*%", 5, 2, "gerber-command", "LMN"},
        {"%LR*%", 5, 2, "gerber-command", "degrees"},
        {"%LS0*%", 5, 2, "gerber-command", "above 0"},
        {"%SRX0Y1I0J0*%", 5, 6, "gerber-command", "SRX"},
        {"%MOFT*%", 5, 2, "gerber-command", "MOMM"},
        {"%MOIN*%", 5, 2, "gerber-command", "unit given before"},
        {"%FSLAX2*%", 5, 7, "gerber-command", "FSLAX"},
        {"%IR45*%", 5, 2, "gerber-command", "IR90"},
        {"%KOC*%", 5, 2, "gerber-command-unknown", "\"KOC*\""},
        {"%IFother.ger*%", 5, 2, "gerber-command-unknown", "IF"},
        {"%LPD%", 5, 5, "gerber-command", "* at the end"},
        {"%ADD10C,1*%D10*X0Y0D03*%IPNEG*%", 5, 25, "gerber-late-command", "IPNEG"},
        {"%AB*%", 5, 2, "gerber-block-closed", "ABDnn"},
        {"%ABD20*%%SRX2Y2I1J1*%", 5, 10, "gerber-command", "within a block"},
        {"%ABD20*%%ADD10C,1*%D10*X0Y0D03*%AB*%D20*X0Y0D02*X1D01*", 5, 49, "gerber-stroke-block",
         "block"},
        {"%ABD20*%D20*", 5, 9, "gerber-aperture-undefined", "D20"},
        {"G37*", 5, 1, "gerber-region-closed", "G36"},
        {"G36*G36*", 5, 5, "gerber-region-open", "G37"},
        {"G36*X0Y0D03*", 5, 5, "gerber-flash-in-region", "D03"},
        {"G36*%LPC*%", 5, 6, "gerber-command-in-region", "LPC"},
        {"%ADD10R,1X1*%D10*X0Y0D02*G03*X1000000Y1000000I0J1000000D01*", 5, 30,
         "gerber-arc-aperture", "not a circle"},
        {"%ADD10C,1*%D10*G03*X0Y0D02*X1000000Y0D01*", 5, 28, "gerber-arc", "centre"},
        {"%ADD10C,1*%D10*G03*X0Y0D02*X1000000Y0I5000000D01*", 5, 28, "gerber-arc", "radius"},
        {"%AMM*1,1,1,0,0*1,0,.5,0,0*%%ADD10M*%D10*X0Y0D02*X1000000D01*", 5, 49,
         "gerber-stroke-aperture", "erases"},
        {"%ADD10C,1*", 5, 1, "gerber-truncated", "%"},
        {"G04 no end", 5, 4, "gerber-truncated", "comment"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct reading r;
        char text[512];
        bool is_cut = strstr(cases[i].code, "truncated") != NULL;
        snprintf(text, sizeof text, "%s%s%s", GERBER_HEAD, cases[i].body, is_cut ? "" : "\nM02*\n");
        reading_of(&r, text);
        const struct diag *diag = reading_diag(&r, cases[i].code);
        if (r.status != DRAWING_REFUSED || !diag || diag->level != DIAG_ERROR ||
            diag->at.line != cases[i].line || diag->at.column != cases[i].column ||
            !strstr(diag->text, cases[i].text)) {
            for (size_t k = 0; k < r.diags.count; k++)
                print_error("%u:%u [%s] %s\n", r.diags.items[k].at.line, r.diags.items[k].at.column,
                            r.diags.items[k].code, r.diags.items[k].text);
            fail_msg("%s: expected %u:%u [%s] ...%s...", cases[i].body, cases[i].line,
                     cases[i].column, cases[i].code, cases[i].text);
        }
        assert_non_null(diag->advice);
        assert_int_equal(r.drawing.object_count, 0);
        assert_null(r.drawing.objects);
        reading_done(&r);
    }
}

static void format_and_unit_are_needed(void **state)
{
    (void)state;
    struct reading r;
    reading_of(&r, "%MOMM*%%ADD10C,1*%D10*X0Y0D03*M02*");
    assert_non_null(reading_diag(&r, "gerber-format-unknown"));
    reading_done(&r);
    reading_of(&r, "%FSLAX24Y24*%%ADD10C,1*%D10*X0Y0D03*M02*");
    assert_non_null(reading_diag(&r, "gerber-unit-unknown"));
    reading_done(&r);
}

static void a_file_full_of_errors_is_left_early(void **state)
{
    (void)state;
    char text[4096] = GERBER_HEAD;
    for (int i = 0; i < 500; i++)
        strcat(text, "G05*\n");
    struct reading r;
    reading_of(&r, text);
    assert_int_equal(r.status, DRAWING_REFUSED);
    assert_int_equal(r.diags.error_count, 20);
    reading_done(&r);
}

static void what_is_no_drawing_is_said_to_be_none(void **state)
{
    (void)state;
    static const char *const others[] = {"",
                                         "M48\nMETRIC,LZ\nT01C0.3\n%\nT01\nX1Y1\nM30\n",
                                         "{\"Header\": {}}",
                                         "P  JOB x\n327NET\n999\n",
                                         "net,current_a\n",
                                         "%PDF-1.4\n"};
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        struct reading r;
        reading_of(&r, others[i]);
        assert_int_equal(r.status, DRAWING_NOT_ONE);
        assert_int_equal(r.diags.count, 0);
        assert_false(gerber_looks_like((const uint8_t *)others[i], strlen(others[i])));
        reading_done(&r);
    }
    assert_false(gerber_looks_like(NULL, 0));
    assert_true(gerber_looks_like((const uint8_t *)GERBER_HEAD, strlen(GERBER_HEAD)));
}

/* ---- memory ---- */
static void any_allocation_may_fail(void **state)
{
    (void)state;
    const char *text =
        GERBER_HEAD "%TF.A,b*%%TA.AperFunction,X*%%AMM*$3=$1x2*1,1,$3,0,0*7,0,0,2,1,.1,0*%"
                    "%ADD10C,1*%%ADD11M,1*%%TO.N,A*%D10*X0Y0D02*X5Y5D01*D11*X0Y0D03*X9Y9D01*"
                    "%ABD20*%G36*X0Y0D02*X5000D01*Y5000D01*X9Y9D01*X0Y0D01*G37*%AB*%"
                    "%SRX2Y2I1J1*%D20*X1Y1D03*%SR*%%INname*%**X1.0Y1D03*M02*";
    enum drawing_status status = DRAWING_NO_MEMORY;
    uint64_t n = 0;
    while (status == DRAWING_NO_MEMORY && n < 1000) {
        struct arena *arena = arena_new("test");
        struct diag_list diags = {.arena = arena};
        struct drawing drawing;
        arena_fail_at(++n);
        status = gerber_read(1, (const uint8_t *)text, strlen(text), 1000, arena, &diags, &drawing);
        arena_fail_at(0);
        if (status == DRAWING_NO_MEMORY)
            assert_int_equal(drawing.object_count, 0);
        arena_free(arena);
    }
    assert_int_equal(status, DRAWING_OK);
    assert_in_range(n, 40, 900);
}

/* Old disks padded files with zero bytes behind an end mark. */
static void padding_round_a_drawing_is_no_word(void **state)
{
    (void)state;
    static const char text[] = "\0\0" GERBER_HEAD "%ADD10C,1*%\nD10*\nX0Y0D03*\nM02*\r\n\x1a\0\0\0";
    struct arena *arena = arena_new("test");
    struct diag_list diags = {.arena = arena};
    struct drawing drawing;
    assert_true(gerber_looks_like((const uint8_t *)text, sizeof text - 1));
    assert_int_equal(
        gerber_read(1, (const uint8_t *)text, sizeof text - 1, 1000, arena, &diags, &drawing),
        DRAWING_OK);
    assert_int_equal(diags.count, 0);
    assert_int_equal(drawing.object_count, 1);
    arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(padding_round_a_drawing_is_no_word),
        cmocka_unit_test(coordinates_are_read_as_the_format_says),
        cmocka_unit_test(a_millionth_of_an_inch_is_rounded_half_away_from_zero),
        cmocka_unit_test(odd_coordinates_are_told),
        cmocka_unit_test(incremental_coordinates_add_up),
        cmocka_unit_test(any_line_ends_will_do),
        cmocka_unit_test(modal_coordinates_and_operations),
        cmocka_unit_test(several_commands_between_one_pair_of_signs),
        cmocka_unit_test(the_end_and_what_stands_behind_it),
        cmocka_unit_test(empty_words_are_skipped),
        cmocka_unit_test(single_quadrant_arcs_choose_their_centre),
        cmocka_unit_test(arcs_before_any_mode_take_the_one_that_fits),
        cmocka_unit_test(a_region_may_have_arcs_and_several_contours),
        cmocka_unit_test(contours_of_a_region_unite_whatever_their_direction),
        cmocka_unit_test(a_cut_in_leaves_a_hole),
        cmocka_unit_test(odd_regions_are_read_and_told),
        cmocka_unit_test(crossings_with_arcs_are_found),
        cmocka_unit_test(attributes_hold_in_commands_and_in_comments),
        cmocka_unit_test(equal_sets_of_attributes_are_shared),
        cmocka_unit_test(escapes_become_utf8),
        cmocka_unit_test(objects_of_a_block_keep_their_attributes),
        cmocka_unit_test(errors_name_their_place),
        cmocka_unit_test(format_and_unit_are_needed),
        cmocka_unit_test(a_file_full_of_errors_is_left_early),
        cmocka_unit_test(what_is_no_drawing_is_said_to_be_none),
        cmocka_unit_test(any_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
