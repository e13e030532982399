/*
 * The formulas against values worked out elsewhere, each with its source. "2221" is IPC-2221
 * section 6.2, figure 6-4, whose formula we have as quoted in public texts; the numbers below were
 * recomputed from it independently.
 */
#include "assertions.h"
#include "isthmus/physics.h"
#include "isthmus/thermal.h"

#include <math.h>

/* five printed digits: half a unit of the fifth */
static void assert_five_digits(double found, double printed)
{
    double unit = pow(10, floor(log10(fabs(printed))) - 4);
    assert_near(found, printed, 0.5000001 * unit);
}

static void currents_of_2221(void **state)
{
    (void)state;
    static const struct {
        double width_mm, thickness_mm, rise_k, external_a, internal_a;
    } rows[] = {
        {1, 0.035, 10, 2.3916, 1.1958},
        {1, 0.035, 20, 3.2444, 1.6222},
        {0.25, 0.0175, 10, 0.52959, 0.26480},
        {5, 0.070, 30, 20.588, 10.294},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double area = rows[i].width_mm * rows[i].thickness_mm;
        assert_five_digits(ipc2221_current_a(IPC2221_K_EXTERNAL, rows[i].rise_k, area),
                           rows[i].external_a);
        assert_five_digits(ipc2221_current_a(IPC2221_K_INTERNAL, rows[i].rise_k, area),
                           rows[i].internal_a);
    }
    assert_five_digits(ipc2221_current_a(IPC2221_K_EXTERNAL, 1, 1), 9.8681);
    assert_five_digits(ipc2221_current_a(IPC2221_K_INTERNAL, 1, 1), 4.9340);
}

static void widths_of_2221(void **state)
{
    (void)state;
    static const struct {
        double current_a, thickness_mm, rise_k, external_mm, internal_mm;
    } rows[] = {
        {1, 0.035, 10, 0.30039, 0.78144},
        {5, 0.035, 20, 1.8159, 4.7239},
        {10, 0.070, 20, 2.3619, 6.1444},
        {3, 0.0249, 10, 1.9215, 4.9987},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double external = ipc2221_area_mm2(IPC2221_K_EXTERNAL, rows[i].current_a, rows[i].rise_k);
        double internal = ipc2221_area_mm2(IPC2221_K_INTERNAL, rows[i].current_a, rows[i].rise_k);
        assert_five_digits(external / rows[i].thickness_mm, rows[i].external_mm);
        assert_five_digits(internal / rows[i].thickness_mm, rows[i].internal_mm);
    }
}

static void two_amperes_need_about_thirty_mil(void **state)
{
    (void)state;
    /* common practice, no source: 2 A, 10 K, 1 oz, external: about 30 mil */
    double width_mm = ipc2221_area_mm2(IPC2221_K_EXTERNAL, 2, 10) / 0.035;
    assert_near(width_mm / MM_PER_MIL, 30, 1.5);
}

static void an_internal_area_counts_038(void **state)
{
    (void)state;
    /* 0.5^(1/0.725), by hand: exp(-0.693147/0.725) = 0.3844 */
    assert_near(ipc2221_internal_weight(), 0.3844, 5e-5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(currents_of_2221),
        cmocka_unit_test(widths_of_2221),
        cmocka_unit_test(two_amperes_need_about_thirty_mil),
        cmocka_unit_test(an_internal_area_counts_038),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
