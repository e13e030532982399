#include "assertions.h"
#include "isthmus/bench.h"

#include <math.h>

/* 5 V, 3 A and a copper path that has 20 mohm warm (REFERENCES 9, Ohm's law). */
static struct bench_question example(void)
{
    struct bench_question question;
    bench_question_default(&question);
    question.source = "a test";
    question.current_a = 3;
    question.voltage_v = 5;
    /* 10 mm x 105 um carry 3 A without getting warm: 20 C apart, their length sets 20 mohm */
    question.segments[0] = (struct bench_segment){"all", 1, 10, 0.105};
    question.segment_count = 1;
    struct bench_plan plan;
    bench_plan_make(&question, &plan);
    question.segments[0].length_mm = 0.020 / plan.copper_hot_ohm;
    return question;
}

static void the_worked_load_is_planned(void **state)
{
    (void)state;
    struct bench_question question = example();
    struct bench_plan plan;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    assert_near(plan.copper_hot_ohm, 0.020, 1e-12);
    assert_near(plan.loads[0].ohm, 1.6467, 5e-5);
    assert_near(plan.loads[0].power_w, 14.820, 5e-4);
    assert_near(plan.board_v, 5, 1e-12);
    assert_near(plan.drop_hot_v[0], 0.060, 1e-12);
    /* common practice, no source: twice the power, here after a derating to (200 - 85)/175 */
    assert_near(plan.loads[0].rating_w, 2 * 14.820 * 175 / 115, 0.01);
    assert_near(plan.tau_s, 150.04, 0.005); /* REFERENCES T8 */
    assert_near(plan.wait_s, 900, 0);       /* three readings 5 minutes apart; 5 tau are 750 s */
}

static void leads_are_made_up_for(void **state)
{
    (void)state;
    struct bench_question question = example();
    question.current_a = 8;
    question.voltage_v = 12;
    question.leads_ohm = 2 * 0.015;
    struct bench_plan plan;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    assert_near(plan.supply_v, 12.240, 1e-12);
    /* a load at hand: the voltage follows */
    question.load_ohm = 1;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    assert_near(plan.board_v, 8 * (1 + plan.copper_hot_ohm), 1e-12);
}

static void drops_add_up_along_the_segments(void **state)
{
    (void)state;
    struct bench_question question = example();
    question.segments[1] = question.segments[0];
    question.segment_count = 2;
    struct bench_plan plan;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    assert_near(plan.drop_hot_v[1], 2 * plan.drop_hot_v[0], 1e-12);
}

static void the_expectation_names_its_tolerance(void **state)
{
    (void)state;
    struct bench_question question = example();
    struct bench_place place = {
        .name = "1", .width_mm = 27 * 0.0254, .thickness_mm = 2.9 * 0.0254, .current_a = 5};
    struct bench_expectation expected = bench_expect(&question, &place);
    assert_near(expected.rise_k, 29.197, 5e-4); /* REFERENCES 1.3 */
    assert_near(expected.high_k, 41.929, 5e-4);
    assert_true(expected.low_k <= expected.rise_k && expected.is_above_allowed);
    /* by hand: the rise goes as I^2.27 (w t)^-1.65, so for limits of 1 %, 25 um and 10 %
     * u/rise = sqrt((2.273 x 1 %)^2 + (1.648 x 3.645 %)^2 + (1.648 x 10 %)^2)/sqrt 3 = 10.2 % */
    assert_near(expected.expanded_k / expected.rise_k, 0.204, 0.004);
    struct bench_place thin = {
        .name = "2", .width_mm = 0.01, .thickness_mm = 0.035, .current_a = 0.01};
    assert_true(isfinite(bench_expect(&question, &thin).expanded_k));
    place.is_internal = true;
    assert_true(bench_expect(&question, &place).rise_k > 39.7);
}

/* A neck of 2.4 x 2.5 mm in 70 um at 16.8 A, beside it the 4.831 mm that 20 K need (IPC-2221). What
 * it adds, by hand without cooling: I^2 rho L^2 / (8 k (w t)^2), rho 1.894e-8 ohm m at 45 C, k 390
 * W/mK: 282.2 x 1.894e-8 x 6.25e-6 / (8 x 390 x 2.822e-14) = 0.38 K. */
static void a_short_neck_is_as_warm_as_its_ends_and_a_little(void **state)
{
    (void)state;
    struct bench_question question = example();
    struct bench_place place = {.name = "1",
                                .width_mm = 2.4,
                                .thickness_mm = 0.07,
                                .neck_length_mm = 2.5,
                                .beside_mm = 4.831,
                                .current_a = 16.8};
    struct bench_expectation expected = bench_expect(&question, &place);
    assert_near(expected.rise_k, 63.3, 0.1);
    assert_near(expected.short_k, 20.38, 0.05);
    assert_near(expected.least_k, expected.short_k, 0);
    /* too hot if it were long, not as it is: a plan, not a refusal */
    question.places[0] = place;
    question.place_count = 1;
    question.current_a = 16.8;
    question.ambient_c = 60;
    question.stop_c = 100;
    struct bench_plan plan;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    question.places[0].beside_mm = 0;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_MELTS);
    question.places[0].beside_mm = 2; /* narrower than the neck: no neck */
    assert_true(isnan(bench_expect(&question, &question.places[0]).short_k));
}

/* 3 A enter; 2 A and 1 A leave 4 and 6 mV below, at 25 C; nothing gets warm (allowed rise 0). */
static void each_terminal_that_draws_has_its_load(void **state)
{
    (void)state;
    struct bench_question question;
    bench_question_default(&question);
    question.current_a = 3;
    question.voltage_v = 5;
    question.allowed_rise_k = 0;
    question.drawn = (struct bench_drawn){.is_known = true,
                                          .ohm = (2 * 0.004 + 1 * 0.006) / 9,
                                          .ends = {{"J1.1", true, 0, 0, 3, 0},
                                                   {"J2.1", true, 1, 0, -2, 0.004},
                                                   {"J3.1", true, 2, 0, -1, 0.006},
                                                   {"TP1", true, 2, 0, 0, 0.005}},
                                          .end_count = 4};
    struct bench_plan plan;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    assert_int_equal(plan.load_count, 2);
    assert_near(plan.loads[0].ohm, 4.996 / 2, 1e-12);
    assert_near(plan.loads[1].ohm, 4.994, 1e-12);
    assert_near(plan.loads[1].power_w, 4.994, 1e-12);
    assert_near(plan.board_v, 5, 1e-12);
    question.load_ohm = 2;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_ONE_LOAD);
    question.load_ohm = 0;
    question.allowed_rise_k = 10; /* then 1.0385 times as much (234.5 rule: 269.5/259.5) */
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    assert_near(plan.copper_hot_ohm / plan.copper_cold_ohm, 269.5 / 259.5, 1e-4);
    assert_near(plan.loads[1].ohm, 5 - 0.006 * 269.5 / 259.5, 1e-5);
}

static void what_the_equipment_cannot_do_is_refused(void **state)
{
    (void)state;
    struct bench_plan plan;
    struct bench_question question = example();
    question.supply_most_a = 2;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_SUPPLY_CURRENT);
    question = example();
    question.supply_most_v = 4;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_SUPPLY_VOLTAGE);
    question = example();
    question.load.rated_w = 20; /* 13.1 W are left of it at 85 C */
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_LOAD_TOO_SMALL);
    question = example();
    question.load_c = 200;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_LOAD_TOO_HOT);
    question = example();
    question.voltage_v = 0.05;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_NO_LOAD);
    question = example();
    question.segment_count = 0;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_NOTHING_TO_WATCH);
    question = example();
    question.places[0] =
        (struct bench_place){"1", .width_mm = 0.1, .thickness_mm = 0.035, .current_a = 3};
    question.place_count = 1;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_MELTS);
    question.places[0].current_a = question.current_a = bench_safe_current_a(&question) * 0.999;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_OK);
    question.places[0].current_a = question.current_a *= 1.002;
    assert_int_equal(bench_plan_make(&question, &plan), BENCH_MELTS);
    for (int status = BENCH_NO_LOAD; status <= BENCH_MELTS; status++)
        assert_true(strlen(bench_problem((enum bench_status)status)) > 20);
}

static char *sheet_of(const struct bench_question *question, bool is_html)
{
    struct bench_plan plan;
    assert_int_equal(bench_plan_make(question, &plan), BENCH_OK);
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    if (is_html)
        bench_sheet_html(question, &plan, out);
    else
        bench_sheet_text(question, &plan, out);
    fclose(out);
    return text;
}

static void names_cannot_break_the_page(void **state)
{
    (void)state;
    struct bench_question question = example();
    question.net = "<script>\"&\033[2J";
    char *html = sheet_of(&question, true);
    assert_null(strstr(html, "<script>"));
    assert_non_null(strstr(html, "&lt;script&gt;&quot;&amp;?[2J"));
    free(html);
    char *text = sheet_of(&question, false);
    assert_null(strchr(text, '\033'));
    assert_non_null(strstr(text, "<script>\"&?[2J"));
    free(text);
}

static void text_keeps_to_its_columns(void **state)
{
    (void)state;
    struct bench_question question = example();
    question.places[0] = (struct bench_place){"1",
                                              "top",
                                              .side = BENCH_TOP,
                                              .has_position = true,
                                              .x_mm = 117.123,
                                              .y_mm = 64.123,
                                              .width_mm = 2.45,
                                              .thickness_mm = 0.07,
                                              .neck_length_mm = 2.5,
                                              .beside_mm = 4.831,
                                              .current_a = 16.8};
    question.place_count = 1;
    char *text = sheet_of(&question, false);
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"))
        if (strlen(line) > 96)
            fail_msg("%zu columns: %s", strlen(line), line);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_worked_load_is_planned),
        cmocka_unit_test(leads_are_made_up_for),
        cmocka_unit_test(drops_add_up_along_the_segments),
        cmocka_unit_test(the_expectation_names_its_tolerance),
        cmocka_unit_test(a_short_neck_is_as_warm_as_its_ends_and_a_little),
        cmocka_unit_test(each_terminal_that_draws_has_its_load),
        cmocka_unit_test(what_the_equipment_cannot_do_is_refused),
        cmocka_unit_test(names_cannot_break_the_page),
        cmocka_unit_test(text_keeps_to_its_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
