/*
 * One constant for all points. Rise = C I^n with n = 1/0.44; C is the weighted mean of the points'
 * own C, so that it is linear in the rises and every error can be followed through it.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "isthmus/compare.h"
#include "isthmus/physics.h"

#define EXPONENT (1 / 0.44)
#define TRIALS 20000
#define SEED 1
/* inputs of the model: errors in units of their limits, common ones first */
enum common_error {
    ERROR_CAMERA,
    ERROR_CONTACT,
    ERROR_HOT_OHM,
    ERROR_COLD_OHM,
    ERROR_COLD_C,
    ERROR_EMISSIVITY,
    ERROR_AMBIENT,
    ERROR_CURRENT,
    COMMON_COUNT
};

struct fit_point {
    double current_a, rise_k, weight;
    double shift_k[COMMON_COUNT]; /* rise error at a common error's limit; current: A */
    double current_shift_a, repeat_k, standard_k; /* the last: of measured less predicted */
};
struct fit_model {
    struct fit_point points[READINGS_MOST];
    size_t count;
    double constant_area; /* A^0.725 in mil2 */
    enum { WANT_K, WANT_CURRENT, WANT_RISE } wanted;
    double at; /* WANT_CURRENT: rise_k; WANT_RISE: current_a */
};

static enum common_error error_of_line(const char *name)
{
    static const struct {
        const char *name;
        enum common_error error;
    } rows[] = {
        {"camera", ERROR_CAMERA},           {"contact thermometer", ERROR_CONTACT},
        {"resistance, hot", ERROR_HOT_OHM}, {"resistance, cold", ERROR_COLD_OHM},
        {"cold temperature", ERROR_COLD_C}, {"emissivity", ERROR_EMISSIVITY},
        {"ambient", ERROR_AMBIENT},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (strcmp(rows[i].name, name) == 0)
            return rows[i].error;
    return COMMON_COUNT;
}

static void add_point(struct fit_model *model, const struct compare_point *from)
{
    struct fit_point *point = &model->points[model->count++];
    *point = (struct fit_point){.current_a = from->current_a, .rise_k = from->rise_k};
    for (size_t i = 0; i < from->line_count; i++) {
        const struct budget_line *line = &from->lines[i];
        enum common_error error = error_of_line(line->name);
        if (error != COMMON_COUNT)
            point->shift_k[error] = line->sensitivity * line->value;
    }
    point->current_shift_a = from->reading->current_pm_a;
    point->repeat_k = from->reading->repeat_k;
    /* least squares in the rise, each with its own uncertainty: w x^2 with x = I^n */
    double x = pow(from->current_a, EXPONENT);
    point->standard_k = from->difference_expanded_k / COVERAGE_FACTOR;
    point->weight = x * x / (point->standard_k * point->standard_k);
}

/* C of the points with these errors; NAN for a current that is none. */
static double constant_with(const struct fit_model *model, const double *errors)
{
    double sum = 0, weights = 0;
    for (size_t i = 0; i < model->count; i++) {
        const struct fit_point *point = &model->points[i];
        double rise_k = point->rise_k + errors[COMMON_COUNT + i] * point->repeat_k;
        for (int e = 0; e < ERROR_CURRENT; e++)
            rise_k += errors[e] * point->shift_k[e];
        double current_a = point->current_a + errors[ERROR_CURRENT] * point->current_shift_a;
        sum += point->weight * rise_k / pow(current_a, EXPONENT);
        weights += point->weight;
    }
    return sum / weights;
}

static double evaluate(const double *errors, const void *context)
{
    const struct fit_model *model = context;
    double constant = constant_with(model, errors);
    if (!(constant > 0))
        return NAN;
    switch (model->wanted) {
    case WANT_K:
        return pow(constant, -0.44) / model->constant_area;
    case WANT_CURRENT:
        return pow(model->at / constant, 0.44);
    case WANT_RISE:
        return constant * pow(model->at, EXPONENT);
    }
    return NAN;
}

static size_t fill_inputs(const struct fit_model *model, struct uncertain *inputs)
{
    for (size_t i = 0; i < COMMON_COUNT; i++)
        inputs[i] = (struct uncertain){0, 1, SPREAD_RECTANGULAR};
    for (size_t i = 0; i < model->count; i++)
        inputs[COMMON_COUNT + i] = (struct uncertain){0, 1, SPREAD_STANDARD};
    return COMMON_COUNT + model->count;
}

static struct compare_estimate estimate(const struct fit_model *model, double *trials)
{
    struct uncertain inputs[COMMON_COUNT + READINGS_MOST];
    static const double none[COMMON_COUNT + READINGS_MOST];
    struct uncertain_model about = {inputs, fill_inputs(model, inputs), evaluate, model};
    struct compare_estimate out = {.value = evaluate(none, model),
                                   .standard = model_standard(&about)};
    struct monte_carlo run;
    out.is_known = isfinite(out.value);
    bool is_run = monte_carlo_run(&about, SEED, trials, TRIALS, &run);
    if (!is_run && isnan(out.standard))
        out.is_known = false;
    out.use_run = is_run && !monte_carlo_agrees(&run, out.value, out.standard);
    out.low = out.use_run ? run.low : out.value - COVERAGE_FACTOR * out.standard;
    out.high = out.use_run ? run.high : out.value + COVERAGE_FACTOR * out.standard;
    return out;
}

static double worst_residual(const struct fit_model *model)
{
    static const double none[COMMON_COUNT + READINGS_MOST];
    double constant = constant_with(model, none), worst = 0;
    for (size_t i = 0; i < model->count; i++) {
        const struct fit_point *point = &model->points[i];
        double fitted_k = constant * pow(point->current_a, EXPONENT);
        worst = fmax(worst, fabs(point->rise_k - fitted_k) / point->standard_k);
    }
    return worst;
}

/* Slope of ln rise over ln current, weighted by (rise/u)^2; NAN when all currents are alike. */
static double free_exponent(const struct compare_point *const *points, size_t count)
{
    double w = 0, x = 0, y = 0, xx = 0, xy = 0;
    for (size_t i = 0; i < count; i++) {
        double weight = pow(points[i]->rise_k / points[i]->standard_k, 2);
        double lx = log(points[i]->current_a), ly = log(points[i]->rise_k);
        w += weight;
        x += weight * lx;
        y += weight * ly;
        xx += weight * lx * lx;
        xy += weight * lx * ly;
    }
    double spread = w * xx - x * x;
    return spread > 1e-9 * w * w ? (w * xy - x * y) / spread : NAN;
}

/* Points that show a rise at all; the others say nothing about a constant. */
static size_t usable_points(const struct compare_point *points, size_t count,
                            const struct compare_point *usable[READINGS_MOST])
{
    size_t kept = 0;
    for (size_t i = 0; i < count && kept < READINGS_MOST; i++)
        if (points[i].problem == COMPARE_OK && points[i].rise_k > points[i].expanded_k)
            usable[kept++] = &points[i];
    return kept;
}

static void measured_range(const struct compare_point *const *points, size_t count,
                           const struct compare_conductor *conductor, struct compare_fit *out)
{
    out->measured_low_a = INFINITY;
    out->limit_rise_k = conductor->allowed_rise_k;
    for (size_t i = 0; i < count; i++) {
        out->measured_low_a = fmin(out->measured_low_a, points[i]->current_a);
        out->measured_high_a = fmax(out->measured_high_a, points[i]->current_a);
        out->limit_rise_k =
            fmin(out->limit_rise_k, conductor->limit_c - points[i]->reading->ambient_c);
    }
}

static void estimate_all(struct fit_model *model, const double *currents_a, size_t current_count,
                         double *trials, struct compare_fit *out)
{
    model->wanted = WANT_K;
    out->k = estimate(model, trials);
    model->wanted = WANT_CURRENT;
    model->at = out->limit_rise_k;
    if (out->limit_rise_k > 0)
        out->most_a = estimate(model, trials);
    model->wanted = WANT_RISE;
    for (size_t i = 0; i < current_count && i < COMPARE_CURRENTS; i++) {
        model->at = out->currents_a[i] = currents_a[i];
        out->rises_k[i] = estimate(model, trials);
        out->current_count++;
    }
}

bool compare_fit_make(const struct compare_conductor *conductor, const struct compare_point *points,
                      size_t point_count, const double *currents_a, size_t current_count,
                      struct compare_fit *out)
{
    const struct compare_point *usable[READINGS_MOST];
    memset(out, 0, sizeof *out);
    size_t count = usable_points(points, point_count, usable);
    struct fit_model *model = calloc(1, sizeof *model);
    double *trials = calloc(TRIALS, sizeof *trials);
    if (count > 0 && model && trials) {
        double area_mil2 = conductor->width_mm * conductor->thickness_mm / MM2_PER_MIL2;
        model->constant_area = pow(area_mil2, 0.725);
        for (size_t i = 0; i < count; i++)
            add_point(model, usable[i]);
        measured_range(usable, count, conductor, out);
        estimate_all(model, currents_a, current_count, trials, out);
        out->worst_residual = worst_residual(model);
        out->exponent = free_exponent(usable, count);
        out->point_count = count;
    }
    free(model);
    free(trials);
    return out->point_count > 0;
}
