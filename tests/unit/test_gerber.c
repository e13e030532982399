/* Drawing files: what is drawn, and what is told about it. */
#include "assertions.h"
#include "drawing_area.h"
#include "isthmus/drawing.h"

#include <math.h>

#define PI 3.14159265358979323846

struct read {
    struct arena *arena;
    struct diag_list diags;
    struct drawing drawing;
    enum drawing_status status;
};

static void read_bytes(struct read *r, const char *text, size_t size)
{
    r->arena = arena_new("test");
    r->diags = (struct diag_list){.arena = r->arena};
    r->status =
        gerber_read(1, (const uint8_t *)text, size, 100000, r->arena, &r->diags, &r->drawing);
}

static void read_ok(struct read *r, const char *text)
{
    read_bytes(r, text, strlen(text));
    for (size_t i = 0; i < r->diags.count; i++)
        if (r->diags.items[i].level == DIAG_ERROR)
            print_error("%u:%u %s\n", r->diags.items[i].at.line, r->diags.items[i].at.column,
                        r->diags.items[i].text);
    assert_int_equal(r->status, DRAWING_OK);
}

static void done(struct read *r)
{
    arena_free(r->arena);
}

#define HEAD "%FSLAX26Y26*%\n%MOMM*%\nG75*\nG01*\n"

/* Area of the only object that this body draws. */
static double area_of(const char *definitions, const char *body)
{
    struct read r;
    char text[4096];
    snprintf(text, sizeof text, "%s%s\n%s\nM02*\n", HEAD, definitions, body);
    read_ok(&r, text);
    assert_int_equal(r.drawing.object_count, 1);
    double area = object_area_mm2(&r.drawing, &r.drawing.objects[0]);
    done(&r);
    return area;
}

/* Sizes are rounded to 1 nm, outlines are some mm long: areas are good to about 1e-6 mm2. */
#define AREA_TOLERANCE 2e-6

static void a_circle_has_the_area_of_a_circle(void **state)
{
    (void)state;
    assert_near(area_of("%ADD10C,0.5*%", "D10*X0Y0D03*"), PI / 16, AREA_TOLERANCE);
    assert_near(area_of("%ADD10C,0.5X0.25*%", "D10*X0Y0D03*"), PI / 16 * 0.75, AREA_TOLERANCE);
}

static void a_stroke_is_a_rectangle_and_a_circle(void **state)
{
    (void)state;
    assert_near(area_of("%ADD10C,0.5*%", "D10*X0Y0D02*X3000000Y4000000D01*"), 2.5 + PI / 16,
                AREA_TOLERANCE);
    assert_near(area_of("%ADD10C,0.5*%", "D10*X1000000Y1000000D02*D01*"), PI / 16, AREA_TOLERANCE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_circle_has_the_area_of_a_circle),
        cmocka_unit_test(a_stroke_is_a_rectangle_and_a_circle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
