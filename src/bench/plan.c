/* The plan of a bench test. */
#include "isthmus/bench.h"

#include <math.h>
#include <string.h>

#include "isthmus/physics.h"
#include "isthmus/thermal.h"
#include "isthmus/uncertainty.h"

#define RATING_FACTOR 2.0     /* common practice, no source: half load for a long life */
#define SUPPLY_HEADROOM 1.05  /* the current limit, just above the test current */
#define OUTER_COPPER_MM 0.035 /* for the time constant; the laminate is most of it */
#define TIME_CONSTANTS 5.0
#define LEAST_WAIT_S (3 * 300.0) /* three readings at least 5 minutes apart */

void bench_question_default(struct bench_question *question)
{
    memset(question, 0, sizeof *question);
    question->ambient_c = 25;
    question->allowed_rise_k = 10;
    question->stop_c = 105;
    question->load = (struct derating){0, 25, 200};
    question->load_c = 85;
    question->board_mm = 1.6;
    question->width_tolerance_mm = 0.025;
    question->thickness_tolerance = 0.10;
    question->current_tolerance = 0.01;
}

struct rise_context {
    bool is_internal;
};

static double rise_of_inputs(const double *inputs, const void *context)
{
    const struct rise_context *about = context;
    return ipc2221_rise_k(about->is_internal ? IPC2221_K_INTERNAL : IPC2221_K_EXTERNAL, inputs[0],
                          inputs[1] * inputs[2]);
}

static double expected_expanded_k(const struct bench_question *question,
                                  const struct bench_place *place)
{
    const struct uncertain inputs[3] = {
        {place->current_a, place->current_a * question->current_tolerance, SPREAD_RECTANGULAR},
        {place->width_mm, fmin(question->width_tolerance_mm, place->width_mm / 2),
         SPREAD_RECTANGULAR},
        {place->thickness_mm, place->thickness_mm * question->thickness_tolerance,
         SPREAD_RECTANGULAR},
    };
    const struct rise_context context = {place->is_internal};
    const struct uncertain_model model = {inputs, 3, rise_of_inputs, &context};
    return COVERAGE_FACTOR * model_standard(&model);
}

/* The copper beside it is no narrower than what the current needs. */
static double short_rise_k(const struct bench_question *question, const struct bench_place *place)
{
    const struct copper_strip strip = {place->width_mm,  place->thickness_mm, place->neck_length_mm,
                                       place->current_a, question->ambient_c, BOTH_FACES_W_M2K};
    return neck_rise_k(&rise_fits[place->is_internal ? 1 : 0], &strip, place->beside_mm);
}

struct bench_expectation bench_expect(const struct bench_question *question,
                                      const struct bench_place *place)
{
    struct bench_expectation expected = {.low_k = INFINITY};
    for (size_t i = 0; i < rise_fit_count; i++) {
        const struct rise_fit *fit = &rise_fits[i];
        if (fit->is_internal != place->is_internal || fit->is_for_information)
            continue;
        double rise_k =
            rise_fit_rise_k(fit, place->current_a, place->width_mm, place->thickness_mm);
        expected.low_k = fmin(expected.low_k, rise_k);
        expected.high_k = fmax(expected.high_k, rise_k);
    }
    const struct rise_fit *fit = &rise_fits[place->is_internal ? 1 : 0];
    expected.rise_k = rise_fit_rise_k(fit, place->current_a, place->width_mm, place->thickness_mm);
    expected.outside = rise_fit_outside(fit, place->current_a, expected.rise_k, place->width_mm,
                                        place->thickness_mm);
    expected.expanded_k = expected_expanded_k(question, place);
    expected.short_k = short_rise_k(question, place);
    expected.least_k = fmin(expected.rise_k, expected.short_k); /* fmin passes over NAN */
    expected.is_above_allowed = expected.rise_k > question->allowed_rise_k * (1 + 1e-9);
    return expected;
}

double bench_safe_current_a(const struct bench_question *question)
{
    double room_k = fmax(question->stop_c - question->ambient_c, 0), least_a = INFINITY;
    for (size_t i = 0; i < question->place_count; i++) {
        const struct bench_place *place = &question->places[i];
        const struct rise_fit *fit = &rise_fits[place->is_internal ? 1 : 0];
        least_a =
            fmin(least_a, rise_fit_current_a(fit, room_k, place->width_mm, place->thickness_mm));
    }
    return least_a;
}

static double hottest_rise_k(const struct bench_question *question, const struct bench_plan *plan)
{
    double hottest = 0;
    for (size_t i = 0; i < question->place_count; i++)
        hottest = fmax(hottest, plan->expected[i].least_k);
    return hottest;
}

/* A segment is as warm as its own width makes it; copper outside, which is the longer part. */
static double segment_rise_k(const struct bench_question *question,
                             const struct bench_segment *segment)
{
    return ipc2221_rise_k(IPC2221_K_EXTERNAL, question->current_a,
                          segment->width_mm * segment->thickness_mm);
}

static void plan_segments(const struct bench_question *question, struct bench_plan *plan)
{
    for (size_t i = 0; i < question->segment_count; i++) {
        const struct bench_segment *segment = &question->segments[i];
        double hot_c = question->ambient_c + segment_rise_k(question, segment);
        plan->segments_cold_ohm += copper_resistance_ohm(
            segment->length_mm, segment->width_mm, segment->thickness_mm, question->ambient_c);
        plan->segments_hot_ohm += copper_resistance_ohm(segment->length_mm, segment->width_mm,
                                                        segment->thickness_mm, hot_c);
        plan->drop_hot_v[i] = question->current_a * plan->segments_hot_ohm;
    }
}

/* All copper as warm as its hottest place; without a place, as warm as it may become. */
static void plan_copper(const struct bench_question *question, struct bench_plan *plan)
{
    double rise_k = hottest_rise_k(question, plan);
    plan->warm_c = question->ambient_c + (rise_k > 0 ? rise_k : question->allowed_rise_k);
    plan->warm_factor = copper_resistivity(plan->warm_c) / copper_resistivity(question->ambient_c);
    plan_segments(question, plan);
    if (question->drawn.is_known)
        plan->drawn_hot_ohm = question->drawn.ohm * plan->warm_factor;
    plan->copper_cold_ohm = plan->segments_cold_ohm + question->drawn.ohm;
    plan->copper_hot_ohm = plan->segments_hot_ohm + plan->drawn_hot_ohm;
    if (!(plan->copper_cold_ohm > 0))
        return;
    plan->hot_ratio = plan->copper_hot_ohm / plan->copper_cold_ohm;
    plan->mean_hot_c = copper_temperature_c(plan->hot_ratio, question->ambient_c);
}

/* The ends where the current leaves; without a drawing one load takes it all. */
static void list_loads(const struct bench_question *question, struct bench_plan *plan)
{
    for (size_t i = 0; question->drawn.is_known && i < question->drawn.end_count; i++)
        if (question->drawn.ends[i].current_a < 0)
            plan->loads[plan->load_count++] =
                (struct bench_load){.name = question->drawn.ends[i].name,
                                    .current_a = -question->drawn.ends[i].current_a};
    if (plan->load_count == 0)
        plan->loads[plan->load_count++] = (struct bench_load){.current_a = question->current_a};
}

static double drop_before_load_v(const struct bench_question *question,
                                 const struct bench_plan *plan, const struct bench_load *load)
{
    double drop_v = question->current_a * plan->segments_hot_ohm;
    for (size_t i = 0; load->name && i < question->drawn.end_count; i++)
        if (question->drawn.ends[i].name == load->name)
            drop_v += question->drawn.ends[i].drop_v * plan->warm_factor;
    return drop_v;
}

static void plan_one_load(const struct bench_question *question, const struct bench_plan *plan,
                          struct bench_load *load)
{
    double drop_v = drop_before_load_v(question, plan, load);
    load->ohm = question->load_ohm > 0 ? question->load_ohm
                                       : bench_load_ohm(question->voltage_v, load->current_a,
                                                        drop_v / load->current_a);
    load->power_w = bench_power_w(load->current_a, load->ohm);
    load->rating_w =
        RATING_FACTOR * derating_rated_w(&question->load, question->load_c, load->power_w);
}

/* leads and contacts stand between supply and board; copper between board entry and load */
static enum bench_status plan_load(const struct bench_question *question, struct bench_plan *plan)
{
    double series_ohm = question->leads_ohm + question->contacts_ohm;
    plan->path_ohm = plan->copper_hot_ohm + series_ohm;
    list_loads(question, plan);
    if (question->load_ohm > 0 && plan->load_count > 1)
        return BENCH_ONE_LOAD;
    for (size_t i = 0; i < plan->load_count; i++) {
        plan_one_load(question, plan, &plan->loads[i]);
        if (!(plan->loads[i].ohm > 0))
            return BENCH_NO_LOAD;
    }
    plan->board_v = plan->loads[0].current_a * plan->loads[0].ohm +
                    drop_before_load_v(question, plan, &plan->loads[0]);
    plan->supply_v = bench_supply_v(plan->board_v, question->current_a, series_ohm);
    plan->supply_limit_a = question->current_a * SUPPLY_HEADROOM;
    return BENCH_OK;
}

static enum bench_status check_equipment(const struct bench_question *question,
                                         const struct bench_plan *plan)
{
    if (question->supply_most_a > 0 && question->current_a > question->supply_most_a)
        return BENCH_SUPPLY_CURRENT;
    if (question->supply_most_v > 0 && plan->supply_v > question->supply_most_v)
        return BENCH_SUPPLY_VOLTAGE;
    if (isinf(plan->loads[0].rating_w))
        return BENCH_LOAD_TOO_HOT;
    for (size_t i = 0; question->load.rated_w > 0 && i < plan->load_count; i++)
        if (plan->loads[i].power_w > derating_allowed_w(&question->load, question->load_c))
            return BENCH_LOAD_TOO_SMALL;
    return BENCH_OK;
}

enum bench_status bench_plan_make(const struct bench_question *question, struct bench_plan *plan)
{
    memset(plan, 0, sizeof *plan);
    if (question->place_count == 0 && question->segment_count == 0 && !question->drawn.is_known)
        return BENCH_NOTHING_TO_WATCH;
    for (size_t i = 0; i < question->place_count; i++)
        plan->expected[i] = bench_expect(question, &question->places[i]);
    plan->tau_s = board_time_constant_s(question->board_mm, OUTER_COPPER_MM, BOTH_FACES_W_M2K);
    plan->wait_s = fmax(TIME_CONSTANTS * plan->tau_s, LEAST_WAIT_S);
    if (question->ambient_c + hottest_rise_k(question, plan) > question->stop_c)
        return BENCH_MELTS;
    plan_copper(question, plan);
    enum bench_status status = plan_load(question, plan);
    return status == BENCH_OK ? check_equipment(question, plan) : status;
}

const char *bench_problem(enum bench_status status)
{
    switch (status) {
    case BENCH_OK:
        return "";
    case BENCH_NO_LOAD:
        return "the copper alone uses up the voltage, nothing is left for a load: raise the "
               "voltage";
    case BENCH_SUPPLY_CURRENT:
        return "the supply cannot give this current: take another supply or test with less";
    case BENCH_SUPPLY_VOLTAGE:
        return "the supply cannot give the voltage that load, copper and leads need together: a "
               "smaller load resistance or shorter leads need less";
    case BENCH_LOAD_TOO_SMALL:
        return "the load resistor would be beyond its rating: it burns";
    case BENCH_LOAD_TOO_HOT:
        return "no resistor of this kind may carry anything at this temperature: cool the load";
    case BENCH_ONE_LOAD:
        return "one load is at hand, but the current leaves the net at several terminals";
    case BENCH_NOTHING_TO_WATCH:
        return "no place to watch and no length of copper is known";
    case BENCH_MELTS:
        return "a place is expected to be hotter than the temperature at which to stop: lower the "
               "current";
    }
    return "";
}
