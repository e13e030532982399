#include "assertions.h"
#include "isthmus/compare.h"
#include "isthmus/copper.h"
#include "isthmus/physics.h"

#include <math.h>

/* A conductor sized for 2 A at 10 K outside on 35 um: 0.781 mm, "about 30 mil". */
static struct compare_conductor story_conductor(void)
{
    struct compare_conductor conductor;
    compare_conductor_default(&conductor);
    conductor.thickness_mm = 0.035;
    conductor.width_mm = ipc2221_area_mm2(IPC2221_K_EXTERNAL, 2, 10) / 0.035;
    return conductor;
}

static struct reading camera_reading(double current_a, double ambient_c, double hot_c)
{
    return (struct reading){.place = "1",
                            .note = "",
                            .method = MEASURED_CAMERA,
                            .current_a = current_a,
                            .current_pm_a = 0.01 * current_a,
                            .ambient_c = ambient_c,
                            .ambient_pm_k = 0.5,
                            .hot_c = hot_c,
                            .hot_pm_k = 2,
                            .emissivity = 0.95,
                            .emissivity_pm = 0.02,
                            .reflected_c = ambient_c,
                            .repeat_k = 0.3};
}

/*
 * common practice, no source: 2 A over a conductor sized for 10 K, measured 6.3 K above ambient
 * with a camera of +-2 K. It is adequate, the prediction was cautious, and a thickness within
 * ordinary scatter (10 %) plus the error of measurement explains it.
 */
static void the_story_of_6_3_kelvin(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    struct reading reading = camera_reading(2, 25, 31.3);
    struct compare_point point = compare_point_make(&conductor, &reading);
    assert_near(point.predicted_k, 10, 1e-9);
    assert_near(point.rise_k, 6.3, 1e-9);
    assert_int_equal(point.verdict, COMPARE_COOLER);
    assert_int_equal(point.adequacy, ADEQUATE);
    struct compare_causes causes = compare_causes_of(&conductor, &point);
    /* by hand: (10/6.3)^(0.44/0.725) = 1.324 times the copper */
    assert_near(causes.thickness_mm.value, 1.324 * 0.035, 5e-5);
    assert_true(causes.thickness_mm.is_ordinary);
    assert_true(causes.thickness_mm.low <= 1.1 * 0.035);
    assert_true(causes.is_plating_enough); /* 1 oz foil finished at 47.9 um outside */
    assert_near(causes.width_mm.value, 1.324 * conductor.width_mm, 2e-3);
    /* by hand: 2 (6.3/10)^0.44 = 1.632 A */
    assert_near(causes.current_a.value, 1.632, 5e-4);
    assert_false(causes.current_a.is_ordinary);
    /* by hand: 10/6.3 x rho(31.3)/rho(35) = 1.5873 x 1.04441/1.05895 */
    assert_near(causes.cooling.value, 1.5655, 5e-4);
}

/* The worked budget of the reference sheet: camera 2, emissivity 0.9797, ambient 0.5 (limits),
 * repeat 0.3 (standard): u 1.3515, U 2.703 K; JCGM 100:2008 5.1, from memory. */
static void the_worked_budget_comes_out(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    struct reading reading = camera_reading(2, 25, 85);
    struct compare_point point = compare_point_make(&conductor, &reading);
    assert_near(point.standard_k, 1.3515, 5e-5);
    assert_near(point.expanded_k, 2.703, 5e-4);
    assert_int_equal(point.line_count, 4);
    assert_near(budget_contribution(&point.lines[1]), 0.9797 / sqrt(3), 5e-5);
}

static void resistance_readings_have_their_own_budget(void **state)
{
    (void)state;
    /* REFERENCES 9: ratio 1.1 from 25 C is 25.950 K; 0.1 % in each R and 0.3 K in T1 (standard)
     * give 0.40 K. Here as limits of sqrt 3 times that, ambient exact, T1 the ambient's own. */
    struct compare_conductor conductor = story_conductor();
    struct reading reading = {.place = "",
                              .note = "",
                              .method = MEASURED_RESISTANCE,
                              .current_a = 5,
                              .ambient_c = 25,
                              .drop_v = 0.110,
                              .cold_drop_v = 0.020,
                              .cold_current_a = 1,
                              .cold_c = 25,
                              .cold_pm_k = 0,
                              .ohm_pm_pct = 0.1 * sqrt(3)};
    struct compare_point point = compare_point_make(&conductor, &reading);
    assert_near(point.rise_k, 25.950, 5e-4);
    /* without T1: sqrt(2) x 285.45 x 0.1 % = 0.4037 */
    assert_near(point.standard_k, 0.4037, 5e-4);
}

static void verdicts_follow_the_difference(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    static const struct {
        double hot_c;
        enum compare_verdict verdict;
        enum compare_adequacy adequacy;
    } rows[] = {
        {34.0, COMPARE_AGREES, ADEQUACY_UNKNOWN},
        {40.0, COMPARE_HOTTER, TOO_HOT},
        {31.3, COMPARE_COOLER, ADEQUATE},
    };
    for (size_t i = 0; i < 3; i++) {
        struct reading reading = camera_reading(2, 25, rows[i].hot_c);
        struct compare_point point = compare_point_make(&conductor, &reading);
        assert_int_equal(point.verdict, rows[i].verdict);
        assert_int_equal(point.adequacy, rows[i].adequacy);
    }
    /* 1 A: 2.07 K predicted, a camera of 2 K cannot tell */
    struct reading reading = camera_reading(1, 25, 27);
    assert_int_equal(compare_point_make(&conductor, &reading).verdict, COMPARE_CANNOT_TELL);
    /* the absolute limit counts too: 105 C leave 7 K above 98 C */
    reading = camera_reading(2, 98, 105);
    assert_int_equal(compare_point_make(&conductor, &reading).adequacy, ADEQUACY_UNKNOWN);
    reading = camera_reading(2, 104, 114);
    assert_int_equal(compare_point_make(&conductor, &reading).adequacy, TOO_HOT);
}

static void the_impossible_is_named(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    struct reading reading = camera_reading(2, 25, 20);
    assert_int_equal(compare_point_make(&conductor, &reading).problem, COMPARE_COOLED);
    reading = camera_reading(2, 25, 24); /* within its uncertainty: possible */
    assert_int_equal(compare_point_make(&conductor, &reading).problem, COMPARE_OK);
    reading = camera_reading(2, 25, 1200);
    assert_int_equal(compare_point_make(&conductor, &reading).problem, COMPARE_MELTED);
    conductor.supply_most_a = 1.5;
    reading = camera_reading(2, 25, 31);
    assert_int_equal(compare_point_make(&conductor, &reading).problem, COMPARE_ABOVE_SUPPLY);
    conductor.supply_most_a = 0;
    conductor.load_ohm = 3;
    conductor.load_most_w = 10; /* 12 W */
    assert_int_equal(compare_point_make(&conductor, &reading).problem, COMPARE_LOAD_BURNS);
    for (int i = COMPARE_COOLED; i <= COMPARE_NO_RATIO; i++)
        assert_true(strlen(compare_problem_text((enum compare_problem)i)) > 20);
}

/* A rise that might be none: no current at all would do, and any amount of copper. */
static void a_doubtful_rise_leaves_the_causes_open(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    struct reading reading = camera_reading(2, 25, 26);
    struct compare_point point = compare_point_make(&conductor, &reading);
    struct compare_causes causes = compare_causes_of(&conductor, &point);
    assert_true(isinf(causes.thickness_mm.high) && isinf(causes.cooling.high));
    assert_near(causes.current_a.low, 0, 0);
    assert_true(causes.current_a.high < 2 && !causes.current_a.is_ordinary);
    assert_near(causes.emissivity.low, 0, 0);
    assert_true(causes.emissivity.high < 0.95 && !causes.emissivity.is_ordinary);
}

/* Put back what a cause says and the difference is gone. */
static void each_cause_alone_explains_the_reading(void **state)
{
    (void)state;
    for (double hot_c = 30; hot_c < 60; hot_c += 4) {
        struct compare_conductor conductor = story_conductor(), other = conductor;
        struct reading reading = camera_reading(2, 25, hot_c);
        struct compare_point point = compare_point_make(&conductor, &reading);
        struct compare_causes causes = compare_causes_of(&conductor, &point);
        other.thickness_mm = causes.thickness_mm.value;
        assert_near(compare_predicted_k(&other, 2), point.rise_k, 1e-9);
        other = conductor;
        other.width_mm = causes.width_mm.value;
        assert_near(compare_predicted_k(&other, 2), point.rise_k, 1e-9);
        assert_near(compare_predicted_k(&conductor, causes.current_a.value), point.rise_k, 1e-9);
        if (!isnan(causes.emissivity.value)) {
            double shown = emissivity_shown_c(causes.emissivity.value, reading.emissivity, 35, 25);
            assert_near(shown, hot_c, 1e-9);
        }
        assert_true(causes.thickness_mm.low <= causes.thickness_mm.value &&
                    causes.thickness_mm.value <= causes.thickness_mm.high);
    }
}

/* Readings made from a board whose constant is known must give that constant back. */
static void the_fit_returns_the_boards_own_constant(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    const double area = conductor.width_mm * conductor.thickness_mm, own_k = 0.0583;
    struct reading readings[4];
    struct compare_point points[4];
    for (int i = 0; i < 4; i++) {
        double current = 1.5 + i;
        readings[i] = camera_reading(current, 25, 25 + ipc2221_rise_k(own_k, current, area));
        points[i] = compare_point_make(&conductor, &readings[i]);
    }
    struct compare_fit fit;
    const double at[] = {3, 6};
    assert_true(compare_fit_make(&conductor, points, 4, at, 2, &fit));
    assert_near(fit.k.value, own_k, 1e-12);
    assert_near(fit.exponent, 1 / 0.44, 1e-9);
    assert_near(fit.worst_residual, 0, 1e-9);
    assert_near(fit.rises_k[0].value, ipc2221_rise_k(own_k, 3, area), 1e-9);
    assert_near(fit.most_a.value, ipc2221_current_a(own_k, 10, area), 1e-12);
    assert_true(fit.most_a.low < fit.most_a.value && fit.most_a.value < fit.most_a.high);
}

/* The camera's error is common to all readings: many of them do not average it away. */
static void common_errors_do_not_average_out(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    struct reading reading = camera_reading(4, 25, 75);
    struct compare_point points[READINGS_MOST];
    for (int i = 0; i < READINGS_MOST; i++)
        points[i] = compare_point_make(&conductor, &reading);
    struct compare_fit one, many;
    const double at[] = {4};
    assert_true(compare_fit_make(&conductor, points, 1, at, 1, &one));
    assert_true(compare_fit_make(&conductor, points, READINGS_MOST, at, 1, &many));
    /* by hand: only the 0.3 K of scatter shrinks */
    double u_one = one.rises_k[0].standard, u_many = many.rises_k[0].standard;
    double common = sqrt(u_one * u_one - 0.09);
    assert_near(u_many, sqrt(common * common + 0.09 / READINGS_MOST), 1e-9);
    /* one reading at its own current: the budget of the reading, and the meter's error */
    assert_near(u_one, hypot(points[0].standard_k, points[0].rise_k / 0.44 * 0.01 / sqrt(3)), 1e-3);
}

static void monte_carlo_takes_over_when_the_rise_is_doubtful(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    const double at[] = {4};
    struct compare_fit fit;
    /* 50 K known to 2.5 K: straight enough */
    struct reading reading = camera_reading(4, 25, 75);
    struct compare_point point = compare_point_make(&conductor, &reading);
    assert_true(compare_fit_make(&conductor, &point, 1, at, 1, &fit));
    assert_false(fit.most_a.use_run);
    assert_false(fit.rises_k[0].use_run);
    /* 3 K known to 2.5 K: the highest current is far from normally distributed */
    reading = camera_reading(2, 25, 28);
    point = compare_point_make(&conductor, &reading);
    assert_true(compare_fit_make(&conductor, &point, 1, at, 1, &fit));
    assert_true(fit.most_a.use_run);
    assert_true(fit.most_a.high - fit.most_a.value > fit.most_a.value - fit.most_a.low);
}

static void nothing_to_fit_without_a_rise(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    struct reading reading = camera_reading(2, 25, 26);
    struct compare_point point = compare_point_make(&conductor, &reading);
    const double at[] = {4};
    struct compare_fit fit;
    assert_false(compare_fit_make(&conductor, &point, 1, at, 1, &fit));
}

static void readings_off_one_curve_are_noticed(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    struct reading readings[2] = {camera_reading(2, 25, 60), camera_reading(4, 25, 60)};
    struct compare_point points[2] = {compare_point_make(&conductor, &readings[0]),
                                      compare_point_make(&conductor, &readings[1])};
    const double at[] = {4};
    struct compare_fit fit;
    assert_true(compare_fit_make(&conductor, points, 2, at, 1, &fit));
    assert_true(fit.worst_residual > 2);
    assert_near(fit.exponent, 0, 1e-9); /* the same rise at twice the current */
}

static void the_picture_is_safe_and_complete(void **state)
{
    (void)state;
    struct compare_conductor conductor = story_conductor();
    conductor.name = "<b>&\"1\"";
    conductor.width_pm_mm = 10; /* far more than the conductor has */
    struct reading reading = camera_reading(2, 25, 31.3);
    struct compare_point point = compare_point_make(&conductor, &reading);
    const double at[] = {4};
    struct compare_fit fit;
    assert_true(compare_fit_make(&conductor, &point, 1, at, 1, &fit));
    const struct compare_report report = {&conductor, &point, 1, &fit};
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    compare_svg(&report, out);
    fclose(out);
    assert_null(strstr(text, "<b>"));
    assert_null(strstr(text, "nan"));
    assert_null(strstr(text, "inf"));
    assert_non_null(strstr(text, "&lt;b&gt;&amp;&quot;1&quot;"));
    assert_non_null(strstr(text, "<circle"));
    assert_non_null(strstr(text, "</svg>"));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_story_of_6_3_kelvin),
        cmocka_unit_test(the_worked_budget_comes_out),
        cmocka_unit_test(resistance_readings_have_their_own_budget),
        cmocka_unit_test(verdicts_follow_the_difference),
        cmocka_unit_test(the_impossible_is_named),
        cmocka_unit_test(a_doubtful_rise_leaves_the_causes_open),
        cmocka_unit_test(each_cause_alone_explains_the_reading),
        cmocka_unit_test(the_fit_returns_the_boards_own_constant),
        cmocka_unit_test(common_errors_do_not_average_out),
        cmocka_unit_test(monte_carlo_takes_over_when_the_rise_is_doubtful),
        cmocka_unit_test(nothing_to_fit_without_a_rise),
        cmocka_unit_test(readings_off_one_curve_are_noticed),
        cmocka_unit_test(the_picture_is_safe_and_complete),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
