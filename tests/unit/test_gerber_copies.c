/*
 * Block apertures, step and repeat, and the transforms of apertures and of the whole image.
 * Rules: Gerber Layer Format Specification, revision 2024.05, "Aperture transformations", "Block
 * aperture", "Step and repeat", and its deprecated commands.
 */
#include "assertions.h"
#include "gerber_reading.h"

#include <math.h>

#define PI 3.14159265358979323846
#define TOLERANCE_MM2 1e-5

static void assert_from(const struct reading *r, size_t index, double x_mm, double y_mm)
{
    assert_true(index < r->drawing.object_count);
    assert_near((double)r->drawing.objects[index].from.x_nm / 1e6, x_mm, 1.5e-6);
    assert_near((double)r->drawing.objects[index].from.y_nm / 1e6, y_mm, 1.5e-6);
}

static void assert_box(const struct reading *r, double x0, double y0, double x1, double y1)
{
    assert_near((double)r->drawing.min.x_nm / 1e6, x0, 3e-6);
    assert_near((double)r->drawing.min.y_nm / 1e6, y0, 3e-6);
    assert_near((double)r->drawing.max.x_nm / 1e6, x1, 3e-6);
    assert_near((double)r->drawing.max.y_nm / 1e6, y1, 3e-6);
}

/* ---- LM LR LS ---- */
/* A box from (1, 0) to (3, 1) about the aperture's origin, to see every transform. */
#define BOX "%AMB*22,1,2,1,1,0,0*%%ADD10B*%"

static void flashes_are_mirrored_then_turned_then_scaled(void **state)
{
    (void)state;
    static const struct {
        const char *load;
        double x0, y0, x1, y1;
    } cases[] = {
        {"", 1, 0, 3, 1},
        {"%LMX*%", -3, 0, -1, 1},
        {"%LMY*%", 1, -1, 3, 0},
        {"%LMXY*%", -3, -1, -1, 0},
        {"%LMX*%%LMN*%", 1, 0, 3, 1},
        {"%LR90*%", -1, 1, 0, 3},
        {"%LR-90*%", 0, -3, 1, -1},
        {"%LR450*%", -1, 1, 0, 3},
        {"%LS0.5*%", 0.5, 0, 1.5, 0.5},
        /* mirrored to (-3..-1, 0..1), turned to (-1..0, -3..-1), doubled */
        {"%LS2*%%LR90*%%LMX*%", -2, -6, 0, -2},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct reading r;
        char body[256];
        snprintf(body, sizeof body, "%s%sD10*X0Y0D03*", BOX, cases[i].load);
        reading_clean(&r, body);
        assert_box(&r, cases[i].x0, cases[i].y0, cases[i].x1, cases[i].y1);
        reading_done(&r);
    }
}

static void arcs_stay_arcs_under_any_transform(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10O,3X1*%%LMX*%%LR30*%%LS1.5*%D10*X0Y0D03*");
    assert_near(reading_area_mm2(&r, 0), 2.25 * (2 + PI / 4), TOLERANCE_MM2);
    double x = 1.5 * (cos(PI / 6) + 0.5), y = 1.5 * (0.5 + 0.5);
    assert_box(&r, -x, -y, x, y);
    reading_done(&r);
}

/* ---- blocks ---- */
static void a_block_is_its_objects_at_the_flash(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,0.5*%%ABD20*%D10*X1000000Y0D03*X0Y0D02*X0Y2000000D01*"
                      "G36*X0Y0D02*X1000000D01*Y1000000D01*X0Y0D01*G37*%AB*%"
                      "D20*X10000000Y20000000D03*X30000000Y0D03*");
    assert_int_equal(r.drawing.object_count, 6);
    assert_from(&r, 0, 11, 20);
    assert_from(&r, 1, 10, 20);
    assert_int_equal(r.drawing.objects[1].to.y_nm, 22000000);
    assert_from(&r, 2, 10, 20);
    assert_int_equal(r.drawing.objects[2].kind, OBJECT_REGION);
    assert_from(&r, 3, 31, 0);
    assert_near(reading_area_mm2(&r, 5), 0.5, TOLERANCE_MM2);
    assert_int_equal(r.drawing.objects[3].at.column, 26); /* where the block says it */
    assert_int_equal(r.drawing.apertures[1].kind, APERTURE_BLOCK);
    assert_int_equal(r.drawing.apertures[1].flash_count, 2);
    assert_int_equal(r.drawing.apertures[0].flash_count, 2);
    reading_done(&r);
}

static void a_block_flashed_clear_changes_dark_and_clear(void **state)
{
    (void)state;
    struct reading r;
    /* An inner block with a clear circle on a dark one, in an outer block, dark and clear. */
    const char *body = "%ADD10C,4*%%ADD11C,2*%"
                       "%ABD20*%%LPD*%D10*X0Y0D03*%LPC*%D11*X0Y0D03*%AB*%"
                       "%ABD21*%%LPC*%D20*X0Y0D03*%LPD*%D20*X10000000Y0D03*%AB*%"
                       "%LPD*%D21*X0Y0D03*%LPC*%D21*X0Y20000000D03*";
    static const bool dark[] = {false, true, true, false, true, false, false, true};
    reading_clean(&r, body);
    assert_int_equal(r.drawing.object_count, 8);
    for (size_t i = 0; i < 8; i++)
        assert_int_equal(r.drawing.objects[i].is_dark, dark[i]);
    reading_done(&r);
}

static void a_block_is_mirrored_turned_and_scaled_about_its_origin(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, BOX "%ABD20*%D10*X1000000Y0D03*G36*X0Y0D02*G03*X2000000Y0I1000000J0D01*G01*"
                          "X0D01*G37*%AB*%%LMX*%%LR90*%%LS2*%D20*X100000000Y0D03*");
    /* The box covers (2..4, 0..1): mirrored (-4..-2, 0..1), turned (-1..0, -4..-2), doubled. */
    assert_int_equal(r.drawing.object_count, 2);
    assert_true(object_covers(&r.drawing, &r.drawing.objects[0], 99, -6));
    assert_false(object_covers(&r.drawing, &r.drawing.objects[0], 101, -6));
    assert_near(reading_area_mm2(&r, 0), 8, TOLERANCE_MM2);
    /* The half disc below the x axis about (1, 0), radius 1: to (102 - ..): mirrored x -1, turned
     * (0..1, -1 +- 1), doubled: about (100, -2), radius 2, to the right. */
    assert_near(reading_area_mm2(&r, 1), PI * 2, TOLERANCE_MM2);
    assert_true(object_covers(&r.drawing, &r.drawing.objects[1], 101.5, -2));
    assert_false(object_covers(&r.drawing, &r.drawing.objects[1], 98.5, -2));
    reading_done(&r);
    /* An arc stroke keeps its centre with it. */
    reading_clean(&r, "%ADD10C,0.5*%%ABD20*%D10*X2000000Y0D02*G03*X0Y2000000I-2000000J0D01*%AB*%"
                      "%LMX*%D20*X10000000Y0D03*");
    assert_int_equal(r.drawing.objects[0].turn, -1);
    assert_near(r.drawing.objects[0].centre_x_nm, 10000000, 0);
    assert_from(&r, 0, 8, 0);
    reading_done(&r);
}

static void a_block_made_tiny_has_no_full_circles(void **state)
{
    (void)state;
    struct reading r;
    /* Arcs of radius 100 mm and length 2 um (a short one), or all but that of a circle (a long
     * one), at a scale of 1 to 10,000: their ends become one. */
    const char *body =
        "%ABD20*%G36*X0Y0D02*G03*X0Y2000I-100000000J0D01*G01*X-5000Y0D01*X0Y0D01*G37*%AB*%"
        "%ABD21*%G36*X0Y0D02*G02*X0Y2000I-100000000J0D01*G01*X0Y0D01*G37*%AB*%"
        "%LS0.0001*%D20*X0Y0D03*D21*X0Y0D03*";
    reading_clean(&r, body);
    assert_near(reading_area_mm2(&r, 0), 0, 1e-11);
    assert_near(reading_area_mm2(&r, 1), PI * 1e-4, 1e-7);
    reading_done(&r);
}

static void the_graphics_state_outlives_a_block_but_not_the_point(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,1*%%ADD11C,2*%D10*%ABD20*%%LPC*%D11*X0Y0D03*%AB*%X0Y0D03*");
    assert_false(r.drawing.objects[0].is_dark);
    assert_near(reading_area_mm2(&r, 0), PI, TOLERANCE_MM2);
    reading_done(&r);
    reading_of(&r, GERBER_HEAD "%ADD10C,1*%D10*%ABD20*%X0Y0D03*%AB*%X1000000D02*M02*");
    assert_int_equal(r.status, DRAWING_REFUSED);
    assert_non_null(reading_diag(&r, "gerber-point-unknown"));
    reading_done(&r);
}

/* ---- step and repeat ---- */
static void steps_copy_y_first_then_x(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,1*%D10*%SRX3Y2I5J4*%X0Y0D03*X1000000Y0D03*%SR*%X50000000Y0D03*");
    static const double x[] = {0, 1, 0, 1, 5, 6, 5, 6, 10, 11, 10, 11, 50};
    static const double y[] = {0, 0, 4, 4, 0, 0, 4, 4, 0, 0, 4, 4, 0};
    assert_int_equal(r.drawing.object_count, 13);
    for (size_t i = 0; i < 13; i++)
        assert_from(&r, i, x[i], y[i]);
    assert_int_equal(r.drawing.apertures[0].flash_count, 13);
    reading_done(&r);
}

static void a_step_ends_at_the_next_step_or_at_the_end(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,1*%D10*%SRX2Y1I5J0*%X0Y0D03*%SRX1Y3I0J-4*%X0Y0D03*");
    assert_int_equal(r.drawing.object_count, 5);
    assert_from(&r, 1, 5, 0);
    assert_from(&r, 4, 0, -8);
    reading_done(&r);
    /* The old way to end, and steps that were never begun. */
    reading_clean(&r, "%SR*%%SRX1Y1I0J0*%%ADD10C,1*%D10*%SRX2I5J0*%X0Y0D03*%SRX1Y1I0J0*%X0Y0D03*");
    assert_int_equal(r.drawing.object_count, 3);
    reading_done(&r);
}

static void steps_are_in_the_files_unit_and_copies_may_clear(void **state)
{
    (void)state;
    struct reading r;
    reading_good(&r, "%FSLAX24Y24*%%MOIN*%G01*%ADD10R,1X1*%%ADD11R,.6X.6*%D10*X0Y0D03*"
                     "%SRX2Y1I.5J0*%%LPC*%D11*X0Y0D03*%SR*%M02*");
    assert_int_equal(r.drawing.object_count, 3);
    assert_from(&r, 2, 12.7, 0);
    assert_false(reading_is_dark(&r, 12, 0)); /* below the copy, outside what was stepped */
    assert_true(reading_is_dark(&r, 12, 10));
    reading_done(&r);
}

static void blocks_are_stepped_too(void **state)
{
    (void)state;
    struct reading r;
    reading_clean(&r, "%ADD10C,1*%%SRX2Y2I10J10*%%ABD20*%D10*X1000000Y1000000D03*%AB*%"
                      "D20*X0Y0D03*X5000000Y0D03*%SR*%");
    assert_int_equal(r.drawing.object_count, 8);
    assert_from(&r, 7, 16, 11);
    reading_done(&r);
}

static void copies_without_end_are_refused(void **state)
{
    (void)state;
    static const char *const bodies[] = {
        "%ADD10C,1*%D10*%SRX999999Y999999I1J1*%X0Y0D03*%SR*%",
        "%AMM*6,0,0,9,.001,.001,1000,0,0,0*6,0,0,9,.001,.001,1000,0,0,0*%"
        "%ADD10M*%%ADD11C,1*%%ABD20*%D10*X0Y0D03*%AB*%%SRX999Y999I1J1*%D20*X0Y0D03*%SR*%",
        "%ADD10C,1*%%ABD20*%D10*X0Y0D03*X1Y1D03*%AB*%"
        "%ABD21*%D20*X0Y0D03*D20*X0Y0D03*D20*X0Y0D03*D20*X0Y0D03*%AB*%"
        "%ABD22*%D21*X0Y0D03*D21*X0Y0D03*D21*X0Y0D03*D21*X0Y0D03*%AB*%"
        "%SRX1000Y1000I1J1*%D22*X0Y0D03*%SR*%",
    };
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        struct reading r;
        char text[1024];
        snprintf(text, sizeof text, "%s%s\nM02*", GERBER_HEAD, bodies[i]);
        reading_of(&r, text);
        assert_int_equal(r.status, DRAWING_REFUSED);
        assert_non_null(reading_diag(&r, "gerber-too-large"));
        assert_int_equal(r.drawing.object_count, 0);
        reading_done(&r);
    }
}

/* ---- the whole image ---- */
static void read_image(struct reading *r, const char *commands, const char *body)
{
    char text[1024];
    snprintf(text, sizeof text, "%%FSLAX46Y46*%%%%MOMM*%%%sG75*G01*%s\nM02*", commands, body);
    reading_good(r, text);
}

/* Flash of the box (1..3, 0..1) at (10, 0). */
static void assert_image_box(const char *commands, double x0, double y0, double x1, double y1)
{
    struct reading r;
    read_image(&r, commands, BOX "D10*X10000000Y0D03*");
    assert_box(&r, x0, y0, x1, y1);
    reading_done(&r);
}

static void mi_and_sf_change_coordinates_only(void **state)
{
    (void)state;
    assert_image_box("", 11, 0, 13, 1);
    assert_image_box("%MIA1B0*%", -9, 0, -7, 1);
    assert_image_box("%SFA2B3*%", 21, 0, 23, 1);
    assert_image_box("%SFA2B2*%%MIA1B1*%", -19, 0, -17, 1);
    struct reading r; /* the arc between mirrored points is mirrored */
    read_image(&r, "%MIA1B0*%", "%ADD10C,0.5*%D10*X2000000Y0D02*G03*X0Y2000000I-2000000J0D01*");
    assert_int_equal(r.drawing.objects[0].turn, -1);
    assert_near(reading_area_mm2(&r, 0), PI * 0.5 + PI / 16, TOLERANCE_MM2);
    reading_done(&r);
}

static void of_ir_and_as_move_the_whole_image(void **state)
{
    (void)state;
    assert_image_box("%OFA1B2*%", 12, 2, 14, 3);
    assert_image_box("%OFB2*%", 11, 2, 13, 3);
    assert_image_box("%IR90*%", -1, 11, 0, 13);
    assert_image_box("%IR180*%", -13, -1, -11, 0);
    assert_image_box("%IR270*%", 0, -13, 1, -11);
    assert_image_box("%ASAYBX*%", 0, 11, 1, 13);
    /* MI, SF, OF, IR, AS, whatever their order in the file: the flash at 10 goes to -20, the box to
     * (-19..-17, 0..1), moved (-18..-16, 2..3), turned (-3..-2, -18..-16), swapped. */
    assert_image_box("%ASAYBX*IR90*OFA1B2*SFA2B1*MIA1B0*%", -18, -3, -16, -2);
    struct reading r;
    read_image(&r, "%ASAYBX*%", "%ADD10C,0.5*%D10*X2000000Y0D02*G03*X0Y2000000I-2000000J0D01*");
    assert_int_equal(r.drawing.objects[0].turn, -1);
    assert_from(&r, 0, 0, 2);
    assert_near(reading_area_mm2(&r, 0), PI * 0.5 + PI / 16, TOLERANCE_MM2);
    reading_done(&r);
}

static void commands_that_move_the_image_are_told(void **state)
{
    (void)state;
    struct reading r;
    read_image(&r, "%OFA1B2*%", "");
    assert_int_equal(r.diags.count, 1);
    assert_string_equal(r.diags.items[0].code, "gerber-image-moved");
    reading_done(&r);
    read_image(&r, "%IR0*IPPOS*OFA0.00000B0.00000*MIA0B0*SFA1.00000B1.00000*ASAXBY*%", "");
    assert_int_equal(r.diags.count, 0);
    reading_done(&r);
}

static void a_negative_image_is_dark_where_nothing_is_drawn(void **state)
{
    (void)state;
    struct reading r;
    read_image(&r, "%IPNEG*%", "%ADD10C,4*%%ADD11C,2*%D10*X0Y0D03*%LPC*%D11*X0Y0D03*");
    assert_true(r.drawing.is_image_negative);
    assert_true(reading_is_dark(&r, 5, 5));
    assert_false(reading_is_dark(&r, 1.5, 0));
    assert_true(reading_is_dark(&r, 0, 0));
    assert_non_null(reading_diag(&r, "gerber-image-negative"));
    reading_done(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(flashes_are_mirrored_then_turned_then_scaled),
        cmocka_unit_test(arcs_stay_arcs_under_any_transform),
        cmocka_unit_test(a_block_is_its_objects_at_the_flash),
        cmocka_unit_test(a_block_flashed_clear_changes_dark_and_clear),
        cmocka_unit_test(a_block_is_mirrored_turned_and_scaled_about_its_origin),
        cmocka_unit_test(a_block_made_tiny_has_no_full_circles),
        cmocka_unit_test(the_graphics_state_outlives_a_block_but_not_the_point),
        cmocka_unit_test(steps_copy_y_first_then_x),
        cmocka_unit_test(a_step_ends_at_the_next_step_or_at_the_end),
        cmocka_unit_test(steps_are_in_the_files_unit_and_copies_may_clear),
        cmocka_unit_test(blocks_are_stepped_too),
        cmocka_unit_test(copies_without_end_are_refused),
        cmocka_unit_test(mi_and_sf_change_coordinates_only),
        cmocka_unit_test(of_ir_and_as_move_the_whole_image),
        cmocka_unit_test(commands_that_move_the_image_are_told),
        cmocka_unit_test(a_negative_image_is_dark_where_nothing_is_drawn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
