/* Measurement uncertainty: budgets and Monte Carlo. */
#include "isthmus/uncertainty.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ZERO_C_K 273.15
#define TAIL 0.02275      /* beyond two standard deviations, one side */
#define AGREE_WITHIN 0.15 /* of U: what k = 2 may be off for a rectangular error */

double spread_standard(enum spread spread, double value)
{
    switch (spread) {
    case SPREAD_RECTANGULAR:
        return value / sqrt(3);
    case SPREAD_STANDARD:
        return value;
    case SPREAD_EXPANDED:
        return value / COVERAGE_FACTOR;
    }
    return NAN;
}

const char *spread_word(enum spread spread)
{
    switch (spread) {
    case SPREAD_RECTANGULAR:
        return "limits, / sqrt 3";
    case SPREAD_STANDARD:
        return "standard, / 1";
    case SPREAD_EXPANDED:
        return "U with k = 2, / 2";
    }
    return "";
}

double budget_contribution(const struct budget_line *line)
{
    return fabs(line->sensitivity) * spread_standard(line->spread, line->value);
}

double budget_combined(const struct budget_line *lines, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += budget_contribution(&lines[i]) * budget_contribution(&lines[i]);
    return sqrt(sum);
}

double camera_half_width_k(double reading_c)
{
    return fmax(2, 0.02 * fabs(reading_c));
}

static double fourth_power(double temperature_c)
{
    return pow(temperature_c + ZERO_C_K, 4);
}

double emissivity_error_k(double emissivity, double emissivity_error, double surface_c,
                          double reflected_c)
{
    double surface_k = surface_c + ZERO_C_K;
    return emissivity_error / emissivity * (fourth_power(surface_c) - fourth_power(reflected_c)) /
           (4 * pow(surface_k, 3));
}

double emissivity_shown_c(double real, double set, double surface_c, double reflected_c)
{
    double received = real * fourth_power(surface_c) + (1 - real) * fourth_power(reflected_c);
    return pow((received - (1 - set) * fourth_power(reflected_c)) / set, 0.25) - ZERO_C_K;
}

double emissivity_true_c(double real, double set, double shown_c, double reflected_c)
{
    return emissivity_shown_c(set, real, shown_c, reflected_c);
}

uint64_t prng_next(struct prng *prng)
{
    uint64_t z = prng->state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

double prng_uniform(struct prng *prng)
{
    return (double)(prng_next(prng) >> 11) * 0x1p-53;
}

/* Box and Muller; the second number of each pair is thrown away so that no state hides here. */
double prng_gaussian(struct prng *prng)
{
    const double two_pi = 6.283185307179586;
    double radius = sqrt(-2 * log(1 - prng_uniform(prng)));
    return radius * cos(two_pi * prng_uniform(prng));
}

static void take_values(const struct uncertain_model *model, double *values)
{
    for (size_t i = 0; i < model->input_count; i++)
        values[i] = model->inputs[i].value;
}

static double input_standard(const struct uncertain *input)
{
    return spread_standard(input->spread, input->half_width);
}

double model_sensitivity(const struct uncertain_model *model, size_t input_index)
{
    double values[UNCERTAIN_MAX];
    take_values(model, values);
    double centre = values[input_index];
    double step = input_standard(&model->inputs[input_index]);
    if (!(step > 0)) /* known exactly: any small step shows the slope */
        step = fmax(fabs(centre), 1) * 1e-6;
    values[input_index] = centre + step;
    double above = model->evaluate(values, model->context);
    values[input_index] = centre - step;
    return (above - model->evaluate(values, model->context)) / (2 * step);
}

double model_standard(const struct uncertain_model *model)
{
    double sum = 0;
    for (size_t i = 0; i < model->input_count; i++) {
        double part = model_sensitivity(model, i) * input_standard(&model->inputs[i]);
        sum += part * part;
    }
    return sqrt(sum);
}

static double draw(const struct uncertain *input, struct prng *prng)
{
    if (input->spread == SPREAD_RECTANGULAR)
        return input->value + input->half_width * (2 * prng_uniform(prng) - 1);
    return input->value + input_standard(input) * prng_gaussian(prng);
}

static size_t run_trials(const struct uncertain_model *model, uint64_t seed, double *trials,
                         size_t trial_count)
{
    struct prng prng = {seed};
    double values[UNCERTAIN_MAX] = {0};
    size_t kept = 0;
    for (size_t t = 0; t < trial_count; t++) {
        for (size_t i = 0; i < model->input_count; i++)
            values[i] = draw(&model->inputs[i], &prng);
        trials[kept] = model->evaluate(values, model->context);
        if (isfinite(trials[kept]))
            kept++;
    }
    return kept;
}

static int by_value(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

static double quantile(const double *sorted, size_t count, double fraction)
{
    double at = fraction * (double)(count - 1);
    size_t below = (size_t)at;
    if (below + 1 >= count)
        return sorted[count - 1];
    return sorted[below] + (at - (double)below) * (sorted[below + 1] - sorted[below]);
}

static void summarise(const double *sorted, size_t count, struct monte_carlo *out)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < count; i++)
        sum += sorted[i];
    out->mean = sum / (double)count;
    for (size_t i = 0; i < count; i++)
        squares += (sorted[i] - out->mean) * (sorted[i] - out->mean);
    out->standard = count > 1 ? sqrt(squares / (double)(count - 1)) : 0;
    out->low = quantile(sorted, count, TAIL);
    out->high = quantile(sorted, count, 1 - TAIL);
}

bool monte_carlo_run(const struct uncertain_model *model, uint64_t seed, double *trials,
                     size_t trial_count, struct monte_carlo *out)
{
    memset(out, 0, sizeof *out);
    size_t kept = run_trials(model, seed, trials, trial_count);
    out->trial_count = trial_count;
    out->lost_count = trial_count - kept;
    if (kept == 0 || out->lost_count > trial_count / 100)
        return false;
    qsort(trials, kept, sizeof *trials, by_value);
    summarise(trials, kept, out);
    return true;
}

bool monte_carlo_agrees(const struct monte_carlo *run, double value, double standard)
{
    double expanded = COVERAGE_FACTOR * standard;
    return fabs(value - expanded - run->low) <= AGREE_WITHIN * expanded &&
           fabs(value + expanded - run->high) <= AGREE_WITHIN * expanded;
}
