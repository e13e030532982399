/* One reading against its prediction. */
#include "isthmus/compare.h"

#include <math.h>
#include <string.h>

#include "isthmus/physics.h"

static double constant_of(const struct compare_conductor *conductor)
{
    return conductor->is_internal ? IPC2221_K_INTERNAL : IPC2221_K_EXTERNAL;
}

void compare_conductor_default(struct compare_conductor *conductor)
{
    *conductor = (struct compare_conductor){.name = "conductor",
                                            .width_pm_mm = 0.025,
                                            .thickness_pm = 0.10,
                                            .plating_mm = 0.020,
                                            .allowed_rise_k = 10,
                                            .limit_c = 105};
}

double compare_predicted_k(const struct compare_conductor *conductor, double current_a)
{
    return ipc2221_rise_k(constant_of(conductor), current_a,
                          conductor->width_mm * conductor->thickness_mm);
}

const char *compare_problem_text(enum compare_problem problem)
{
    switch (problem) {
    case COMPARE_OK:
        return "";
    case COMPARE_COOLED:
        return "colder than its surroundings by more than the uncertainty: no current does that. "
               "Look at the thermometers, the emissivity and where the ambient was taken";
    case COMPARE_ABOVE_SUPPLY:
        return "more current than the supply can give: look at the meter's range and the row";
    case COMPARE_LOAD_BURNS:
        return "the load would be beyond its rating at this current: stop, and look at the load";
    case COMPARE_MELTED:
        return "hotter than copper melts: the reading or its unit is wrong";
    case COMPARE_NO_RATIO:
        return "the copper's resistance fell by more than the uncertainty although it carried "
               "current: look at the taps, the meters and the cold reading";
    }
    return "";
}

static void add_line(struct compare_point *point, struct budget_line line)
{
    point->lines[point->line_count++] = line;
}

static void add_thermometer(struct compare_point *point, const struct reading *reading)
{
    point->rise_k = reading->hot_c - reading->ambient_c;
    add_line(point, (struct budget_line){reading->method == MEASURED_CAMERA ? "camera"
                                                                            : "contact thermometer",
                                         "K", reading->hot_pm_k, SPREAD_RECTANGULAR, 1, true});
    if (reading->method == MEASURED_CAMERA) {
        double per_unit =
            emissivity_error_k(reading->emissivity, 1, reading->hot_c, reading->reflected_c);
        add_line(point, (struct budget_line){"emissivity", "", reading->emissivity_pm,
                                             SPREAD_RECTANGULAR, per_unit, true});
    }
    add_line(point, (struct budget_line){"ambient", "K", reading->ambient_pm_k, SPREAD_RECTANGULAR,
                                         -1, true});
}

/* T2 = r (234.5 + T1) - 234.5 with r = R2/R1: one per cent in either R moves T2 + 234.5 by one. */
static void add_resistance(struct compare_point *point, const struct reading *reading)
{
    double ratio =
        reading->drop_v / reading->current_a / (reading->cold_drop_v / reading->cold_current_a);
    double hot_c = copper_temperature_c(ratio, reading->cold_c);
    double per_percent = (COPPER_ZERO_C + hot_c) / 100;
    point->rise_k = hot_c - reading->ambient_c;
    add_line(point, (struct budget_line){"resistance, hot", "%", reading->ohm_pm_pct,
                                         SPREAD_RECTANGULAR, per_percent, true});
    add_line(point, (struct budget_line){"resistance, cold", "%", reading->ohm_pm_pct,
                                         SPREAD_RECTANGULAR, -per_percent, true});
    add_line(point, (struct budget_line){"cold temperature", "K", reading->cold_pm_k,
                                         SPREAD_RECTANGULAR, ratio, true});
    add_line(point, (struct budget_line){"ambient", "K", reading->ambient_pm_k, SPREAD_RECTANGULAR,
                                         -1, true});
}

/* The ammeter's error shifts the prediction; its sensitivity is dT/dI = dT / (0.44 I). */
static void take_difference(struct compare_point *point, const struct reading *reading)
{
    double slope = point->predicted_k / (0.44 * reading->current_a);
    point->current_line = (struct budget_line){"current",          "A",   reading->current_pm_a,
                                               SPREAD_RECTANGULAR, slope, true};
    point->difference_k = point->rise_k - point->predicted_k;
    point->difference_expanded_k =
        COVERAGE_FACTOR * hypot(point->standard_k, budget_contribution(&point->current_line));
}

static enum compare_problem find_problem(const struct compare_conductor *conductor,
                                         const struct compare_point *point)
{
    double current_a = point->current_a;
    bool is_resistance = point->reading->method == MEASURED_RESISTANCE;
    if (conductor->supply_most_a > 0 && current_a > conductor->supply_most_a)
        return COMPARE_ABOVE_SUPPLY;
    if (conductor->load_most_w > 0 &&
        current_a * current_a * conductor->load_ohm > conductor->load_most_w)
        return COMPARE_LOAD_BURNS;
    if (point->rise_k < -point->expanded_k)
        return is_resistance ? COMPARE_NO_RATIO : COMPARE_COOLED;
    if (point->reading->ambient_c + point->rise_k > COPPER_MELTS_C)
        return COMPARE_MELTED;
    return COMPARE_OK;
}

static enum compare_verdict judge(const struct compare_point *point)
{
    if (point->difference_k > point->difference_expanded_k)
        return COMPARE_HOTTER;
    if (point->difference_k < -point->difference_expanded_k)
        return COMPARE_COOLER;
    return point->difference_expanded_k > point->predicted_k / 2 ? COMPARE_CANNOT_TELL
                                                                 : COMPARE_AGREES;
}

static double limit_rise_k(const struct compare_conductor *conductor, double ambient_c)
{
    return fmin(conductor->allowed_rise_k, conductor->limit_c - ambient_c);
}

static enum compare_adequacy judge_adequacy(const struct compare_conductor *conductor,
                                            const struct compare_point *point)
{
    double limit_k = limit_rise_k(conductor, point->reading->ambient_c);
    if (point->rise_k + point->expanded_k <= limit_k)
        return ADEQUATE;
    return point->rise_k - point->expanded_k > limit_k ? TOO_HOT : ADEQUACY_UNKNOWN;
}

struct compare_point compare_point_make(const struct compare_conductor *conductor,
                                        const struct reading *reading)
{
    struct compare_point point = {.reading = reading, .current_a = reading->current_a};
    point.predicted_k = compare_predicted_k(conductor, reading->current_a);
    if (reading->method == MEASURED_RESISTANCE)
        add_resistance(&point, reading);
    else
        add_thermometer(&point, reading);
    add_line(&point, (struct budget_line){"repeated readings", "K", reading->repeat_k,
                                          SPREAD_STANDARD, 1, false});
    point.standard_k = budget_combined(point.lines, point.line_count);
    point.expanded_k = COVERAGE_FACTOR * point.standard_k;
    take_difference(&point, reading);
    point.problem = find_problem(conductor, &point);
    point.verdict = judge(&point);
    point.adequacy = judge_adequacy(conductor, &point);
    return point;
}
