/*
 * Bench and measurement formulas against worked values: loads, leads, copper as a thermometer,
 * cameras, and uncertainty after the GUM. All numbers were recomputed independently; the source of
 * each formula stands beside it.
 */
#include "assertions.h"
#include "isthmus/bench.h"
#include "isthmus/copper.h"
#include "isthmus/uncertainty.h"

#include <math.h>

static void a_load_takes_what_the_path_leaves(void **state)
{
    (void)state;
    /* Ohm: 5 V, 3 A, 20 mohm of path */
    double ohm = bench_load_ohm(5, 3, 0.020);
    assert_near(ohm, 1.6467, 5e-5);
    assert_near(bench_power_w(3, ohm), 14.820, 5e-4);
    assert_true(bench_load_ohm(0.05, 3, 0.020) < 0);
}

static void a_resistor_is_derated_when_warm(void **state)
{
    (void)state;
    /* the common straight line of data sheets: 50 W at 25 C, nothing at 200 C */
    struct derating line = {50, 25, 200};
    assert_near(derating_allowed_w(&line, 85), 32.857, 5e-4);
    assert_near(derating_allowed_w(&line, 20), 50, 0);
    assert_near(derating_allowed_w(&line, 200), 0, 0);
    assert_near(derating_allowed_w(&line, 250), 0, 0);
    line.rated_w = derating_rated_w(&line, 85, 14.82);
    assert_near(derating_allowed_w(&line, 85), 14.82, 1e-12);
    assert_true(isinf(derating_rated_w(&line, 200, 1)));
}

static void the_supply_makes_up_for_its_leads(void **state)
{
    (void)state;
    /* Ohm: 12 V, 8 A, 15 mohm out and 15 mohm back */
    assert_near(bench_supply_v(12, 8, 2 * 0.015), 12.240, 1e-12);
}

static void copper_is_its_own_thermometer(void **state)
{
    (void)state;
    /* 234.5 for copper: from a UL-type test text; IEC 60034-1 prints 235 (from memory) */
    assert_near(copper_temperature_c(1.05, 25) - 25, 12.975, 5e-4);
    assert_near(copper_temperature_c(1.10, 25) - 25, 25.950, 5e-4);
    assert_near(copper_temperature_c(1.20, 25) - 25, 51.900, 5e-4);
    assert_near(copper_ratio(25, 45), 1.0771, 5e-5);
    assert_near(copper_ratio(25, 65), 1.1541, 5e-5);
    assert_near(copper_ratio(25, 85), 1.2312, 5e-5);
    for (double hot = -40; hot < 200; hot += 7)
        assert_near(copper_temperature_c(copper_ratio(23, hot), 23), hot, 1e-11);
}

/* inputs: R1, R2, T1; 0.1 % in each resistance and +-0.3 K, standard, at ratio 1.1 */
static double rise_by_resistance(const double *inputs, const void *context)
{
    (void)context;
    return copper_temperature_c(inputs[1] / inputs[0], inputs[2]) - inputs[2];
}

static void resistance_gives_the_mean_to_0_4_k(void **state)
{
    (void)state;
    struct uncertain inputs[3] = {
        {0.100, 0.0001, SPREAD_STANDARD},
        {0.110, 0.00011, SPREAD_STANDARD},
        {25, 0.3, SPREAD_STANDARD},
    };
    struct uncertain_model model = {inputs, 3, rise_by_resistance, NULL};
    assert_near(model_standard(&model), 0.40, 0.005);
    assert_near(model_sensitivity(&model, 2), 0.1, 1e-9); /* ratio - 1 */
}

static void a_camera_is_good_to_two_kelvin_or_two_per_cent(void **state)
{
    (void)state;
    /* from memory: what most data sheets state */
    assert_near(spread_standard(SPREAD_RECTANGULAR, camera_half_width_k(60)), 1.1547, 5e-5);
    assert_near(spread_standard(SPREAD_RECTANGULAR, camera_half_width_k(85)), 1.1547, 5e-5);
    assert_near(spread_standard(SPREAD_RECTANGULAR, camera_half_width_k(120)), 1.3856, 5e-5);
}

static void emissivity_decides_what_a_camera_shows(void **state)
{
    (void)state;
    assert_near(emissivity_error_k(0.95, 0.02, 85, 25), 0.9797, 5e-5);
    /* bare copper (0.07) at 85 C, read as 0.95, shows 30.8 C */
    double shown = emissivity_shown_c(0.07, 0.95, 85, 25);
    assert_near(shown, 30.8, 0.05);
    assert_near(emissivity_true_c(0.07, 0.95, shown, 25), 85, 1e-9);
    /* the slope is the derivative of the exact form */
    double difference = emissivity_shown_c(0.951, 0.95, 85, 25) - 85;
    assert_near(difference, emissivity_error_k(0.95, 0.001, 85, 25), 2e-3 * difference);
    assert_true(isnan(emissivity_true_c(0.07, 0.95, -60, 25)));
}

/* JCGM 100:2008 5.1 (formula as quoted; from memory). */
static void the_worked_budget(void **state)
{
    (void)state;
    const struct budget_line lines[] = {
        {"camera", "K", 2, SPREAD_RECTANGULAR, 1, true},
        {"emissivity", "K", 0.9797, SPREAD_RECTANGULAR, 1, true},
        {"ambient", "K", 0.5, SPREAD_RECTANGULAR, -1, true},
        {"repeat", "K", 0.3, SPREAD_STANDARD, 1, false},
    };
    assert_near(budget_combined(lines, 4), 1.3515, 5e-5);
    assert_near(COVERAGE_FACTOR * budget_combined(lines, 4), 2.703, 5e-4);
    assert_near(spread_standard(SPREAD_EXPANDED, 3), 1.5, 0);
}

static void the_generator_is_the_published_one(void **state)
{
    (void)state;
    /* first outputs of SplitMix64 for seed 1234567, as widely printed (from memory) */
    struct prng prng = {1234567};
    assert_true(prng_next(&prng) == UINT64_C(6457827717110365317));
    assert_true(prng_next(&prng) == UINT64_C(3203168211198807973));
}

static void random_numbers_have_their_moments(void **state)
{
    (void)state;
    struct prng prng = {1};
    double sum = 0, squares = 0, uniform = 0;
    const int count = 100000;
    for (int i = 0; i < count; i++) {
        double g = prng_gaussian(&prng);
        sum += g;
        squares += g * g;
        uniform += prng_uniform(&prng);
    }
    /* four standard errors each: 1, sqrt 2 and 1/sqrt 12 over sqrt(count) */
    assert_near(sum / count, 0, 4 / sqrt(count));
    assert_near(squares / count, 1, 4 * sqrt(2.0 / count));
    assert_near(uniform / count, 0.5, 4 / sqrt(12.0 * count));
}

#define TRIALS 100000
static double trials[TRIALS];

static double sum_of_all(const double *inputs, const void *context)
{
    (void)context;
    return inputs[0] + inputs[1] - inputs[2] + inputs[3];
}

static void monte_carlo_agrees_where_the_model_is_linear(void **state)
{
    (void)state;
    struct uncertain inputs[4] = {
        {60, 2, SPREAD_RECTANGULAR},
        {0, 0.9797, SPREAD_RECTANGULAR},
        {25, 0.5, SPREAD_RECTANGULAR},
        {0, 0.3, SPREAD_STANDARD},
    };
    struct uncertain_model model = {inputs, 4, sum_of_all, NULL};
    struct monte_carlo run;
    assert_true(monte_carlo_run(&model, 42, trials, TRIALS, &run));
    assert_near(model_standard(&model), 1.3515, 5e-5);
    assert_near(run.mean, 35, 4 * 1.3515 / sqrt(TRIALS));
    assert_near(run.standard, 1.3515, 0.01);
    assert_true(monte_carlo_agrees(&run, 35, model_standard(&model)));
    /* the same seed gives the same bytes, another one other bytes */
    struct monte_carlo again, other;
    assert_true(monte_carlo_run(&model, 42, trials, TRIALS, &again));
    assert_memory_equal(&run, &again, sizeof run);
    assert_true(monte_carlo_run(&model, 43, trials, TRIALS, &other));
    assert_true(other.mean != run.mean);
}

static double exponential(const double *inputs, const void *context)
{
    (void)context;
    return exp(inputs[0]);
}

static void monte_carlo_is_wanted_where_it_is_not(void **state)
{
    (void)state;
    /* log-normal, mu 0, sigma 1: its quantiles are exp(+-2), by hand 0.13534 and 7.3891 */
    struct uncertain input = {0, 1, SPREAD_STANDARD};
    struct uncertain_model model = {&input, 1, exponential, NULL};
    struct monte_carlo run;
    assert_true(monte_carlo_run(&model, 7, trials, TRIALS, &run));
    assert_near(run.low, exp(-2), 0.01);
    assert_near(run.high, exp(2), 0.3);
    assert_false(monte_carlo_agrees(&run, 1, model_standard(&model)));
}

static double logarithm(const double *inputs, const void *context)
{
    (void)context;
    return log(inputs[0]);
}

static void lost_trials_are_counted_and_too_many_refused(void **state)
{
    (void)state;
    struct uncertain input = {1, 0.3, SPREAD_STANDARD};
    struct uncertain_model model = {&input, 1, logarithm, NULL};
    struct monte_carlo run;
    assert_true(monte_carlo_run(&model, 7, trials, TRIALS, &run));
    assert_true(run.lost_count > 0 && run.lost_count < TRIALS / 1000);
    input.half_width = 1; /* one in six below zero */
    assert_false(monte_carlo_run(&model, 7, trials, TRIALS, &run));
    assert_true(run.lost_count > TRIALS / 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_load_takes_what_the_path_leaves),
        cmocka_unit_test(a_resistor_is_derated_when_warm),
        cmocka_unit_test(the_supply_makes_up_for_its_leads),
        cmocka_unit_test(copper_is_its_own_thermometer),
        cmocka_unit_test(resistance_gives_the_mean_to_0_4_k),
        cmocka_unit_test(a_camera_is_good_to_two_kelvin_or_two_per_cent),
        cmocka_unit_test(emissivity_decides_what_a_camera_shows),
        cmocka_unit_test(the_worked_budget),
        cmocka_unit_test(the_generator_is_the_published_one),
        cmocka_unit_test(random_numbers_have_their_moments),
        cmocka_unit_test(monte_carlo_agrees_where_the_model_is_linear),
        cmocka_unit_test(monte_carlo_is_wanted_where_it_is_not),
        cmocka_unit_test(lost_trials_are_counted_and_too_many_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
