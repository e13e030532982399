#include "assertions.h"
#include "isthmus/sizing.h"

#include <math.h>

static void each_part_follows_from_the_other_three(void **state)
{
    (void)state;
    for (size_t f = 0; f < rise_fit_count; f++) {
        struct sizing whole = {{[SIZING_WIDTH] = 1.7, [SIZING_RISE] = 23, [SIZING_COPPER] = 0.05}};
        whole.part[SIZING_CURRENT] = sizing_solve(&rise_fits[f], SIZING_CURRENT, &whole);
        for (int part = 0; part < SIZING_PART_COUNT; part++) {
            struct sizing gap = whole;
            gap.part[part] = NAN;
            double found = sizing_solve(&rise_fits[f], (enum sizing_part)part, &gap);
            assert_near(found / whole.part[part], 1, 1e-12);
        }
    }
}

static void the_cautious_fit_is_the_extreme_one(void **state)
{
    (void)state;
    /* REFERENCES 1.3: at 27 x 2.9 mil and 5 A, 41.9 K against 29.2 K */
    struct sizing point = {{[SIZING_WIDTH] = 27 * MM_PER_MIL,
                            [SIZING_CURRENT] = 5,
                            [SIZING_COPPER] = 2.9 * MM_PER_MIL}};
    const struct rise_fit *fit = sizing_most_cautious(false, SIZING_RISE, &point);
    assert_string_equal(fit->name, "Brooks and Adam 2015, external");
    /* 1 mm x 35 um at 10 K, by hand from the same section: 2.3916, 2.5504 A and, with 39.37 x 1.378
     * mil, sqrt(10 x 39.37^1.15 x 1.378 / 215.3) = 2.0908 A */
    struct sizing current = {{[SIZING_WIDTH] = 1, [SIZING_RISE] = 10, [SIZING_COPPER] = 0.035}};
    fit = sizing_most_cautious(false, SIZING_CURRENT, &current);
    assert_near(sizing_solve(fit, SIZING_CURRENT, &current), 2.091, 1e-3);
    assert_true(sizing_most_cautious(true, SIZING_CURRENT, &current)->is_internal);
}

/* What `size` says about the inner constants of IPC-2221, all over that fit's range. */
static void inner_constants_are_cautious_outside_too(void **state)
{
    (void)state;
    for (double width = 0.1; width <= 10; width *= 1.3)
        for (double rise = 10; rise <= 100; rise *= 1.3)
            for (double copper = 0.0175; copper <= 0.105; copper *= 1.4)
                for (size_t f = 0; f < rise_fit_count; f++) {
                    if (rise_fits[f].is_internal)
                        continue;
                    double other = rise_fit_current_a(&rise_fits[f], rise, width, copper);
                    assert_true(rise_fit_current_a(&rise_fits[1], rise, width, copper) < other);
                }
}

static void holes_are_counted_upwards(void **state)
{
    (void)state;
    double area = hole_wall_area_mm2(0.3, 0.020); /* 0.7262 A inside at 10 K */
    assert_int_equal(sizing_hole_count(IPC2221_K_INTERNAL, 0.7, 10, area), 1);
    assert_int_equal(sizing_hole_count(IPC2221_K_INTERNAL, 0.75, 10, area), 2);
    /* exactly three areas' worth is three, not four */
    double three = ipc2221_current_a(IPC2221_K_INTERNAL, 10, 3 * area);
    assert_int_equal(sizing_hole_count(IPC2221_K_INTERNAL, three, 10, area), 3);
    assert_int_equal(sizing_hole_count(IPC2221_K_INTERNAL, 1e9, 10, area), 0);
    assert_int_equal(sizing_hole_count(IPC2221_K_INTERNAL, 1, 10, NAN), 0);
    assert_int_equal(sizing_hole_count(IPC2221_K_INTERNAL, 1, 10, 0), 0);
}

static void pulses_heat_by_their_square(void **state)
{
    (void)state;
    /* by hand: sqrt((8^2 x 1 + 0.5^2 x 9) / 10) = 2.5739 A */
    const struct pulse pulses[] = {{8, 1}, {0.5, 9}};
    assert_near(pulses_rms_a(pulses, 2), 2.5739, 5e-5);
    assert_near(pulses_period_s(pulses, 2), 10, 0);
    assert_near(pulses_rms_a(pulses, 1), 8, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_part_follows_from_the_other_three),
        cmocka_unit_test(the_cautious_fit_is_the_extreme_one),
        cmocka_unit_test(inner_constants_are_cautious_outside_too),
        cmocka_unit_test(holes_are_counted_upwards),
        cmocka_unit_test(pulses_heat_by_their_square),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
