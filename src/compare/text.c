/* What the comparison says, in plain sentences. */
#include <math.h>
#include <string.h>

#include "isthmus/compare.h"
#include "isthmus/physics.h"
#include "isthmus/quantity.h"
#include "isthmus/thermal.h"

#define LINE_COLUMNS 90

static char *number(double value, char text[QUANTITY_TEXT_SIZE])
{
    return quantity_short(value, 3, text);
}

/* An uncertainty: two digits are all it is good for. */
static char *doubt(double value, char text[QUANTITY_TEXT_SIZE])
{
    return quantity_text(value, 2, text);
}

static const char *method_word(enum measured_method method)
{
    static const char *const words[] = {"camera", "contact thermometer", "copper's resistance"};
    return words[method];
}

/* ---- one reading ---- */

static void put_budget_line(const struct budget_line *line, FILE *out)
{
    char stated[64], a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    snprintf(stated, sizeof stated, "+-%s%s%s", number(line->value, a), *line->unit ? " " : "",
             line->unit);
    fprintf(out, "      %-21s %-11s %-19s %-9s %-9s %s K\n", line->name, stated,
            spread_word(line->spread), number(spread_standard(line->spread, line->value), a),
            number(fabs(line->sensitivity), b), doubt(budget_contribution(line), c));
}

static void put_budget(const struct compare_point *point, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    fprintf(out,
            "    uncertainty of the rise, line by line\n      %-21s %-11s %-19s %-9s %-9s %s\n",
            "what", "stated", "taken as", "u", "K a unit", "gives");
    for (size_t i = 0; i < point->line_count; i++)
        put_budget_line(&point->lines[i], out);
    fprintf(out, "      combined: u = %s K, U = 2 u = %s K (about 95 %%)\n",
            doubt(point->standard_k, a), doubt(point->expanded_k, b));
    fputs("    and of the prediction, through the current\n", out);
    put_budget_line(&point->current_line, out);
}

static void put_assumed(const struct reading *reading, FILE *out)
{
    static const struct {
        unsigned bit;
        const char *what;
    } rows[] = {
        {ASSUMED_METHOD, "a camera"},
        {ASSUMED_HOT_PM, "the thermometer's accuracy"},
        {ASSUMED_EMISSIVITY, "emissivity 0.95 within 0.02"},
        {ASSUMED_REFLECTED, "surroundings as warm as the air are reflected"},
        {ASSUMED_AMBIENT_PM, "ambient within 0.5 K"},
        {ASSUMED_CURRENT_PM, "current within 1 %"},
        {ASSUMED_REPEAT, "readings scatter by 0.3 K"},
        {ASSUMED_OHM_PM, "each resistance within 0.5 %"},
        {ASSUMED_COLD_PM, "cold temperature within 0.5 K"},
    };
    int column = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (!(reading->assumed & rows[i].bit))
            continue;
        bool is_new_line = column == 0 || column + (int)strlen(rows[i].what) > LINE_COLUMNS;
        if (is_new_line)
            column =
                fprintf(out, "%s    %s", column ? ";\n" : "", column ? "         " : "assumed: ");
        else
            column += fprintf(out, "; ");
        column += fprintf(out, "%s", rows[i].what);
    }
    if (column > 0)
        fputc('\n', out);
}

static void put_verdict(const struct compare_point *point, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    number(fabs(point->difference_k), a);
    doubt(point->difference_expanded_k, b);
    switch (point->verdict) {
    case COMPARE_AGREES:
        fprintf(out, "    AGREES: the difference of %s K is within its uncertainty of %s K\n", a,
                b);
        break;
    case COMPARE_HOTTER:
        fprintf(out, "    HOTTER THAN PREDICTED by %s K, more than the uncertainty of %s K\n", a,
                b);
        break;
    case COMPARE_COOLER:
        fprintf(out,
                "    COOLER THAN PREDICTED by %s K, more than the uncertainty of %s K: the\n"
                "    prediction is cautious here\n",
                a, b);
        break;
    case COMPARE_CANNOT_TELL:
        fprintf(
            out,
            "    CANNOT TELL: the uncertainty of %s K is more than half the predicted rise. More\n"
            "    current, or a better thermometer, would tell\n",
            b);
        break;
    }
}

static void put_adequacy(const struct compare_conductor *conductor,
                         const struct compare_point *point, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    double limit_k =
        fmin(conductor->allowed_rise_k, conductor->limit_c - point->reading->ambient_c);
    number(limit_k, a);
    switch (point->adequacy) {
    case ADEQUATE:
        fprintf(out, "    adequate at this current: with U added the rise is %s K, within %s K\n",
                number(point->rise_k + point->expanded_k, b), a);
        break;
    case TOO_HOT:
        fprintf(out,
                "    NOT ADEQUATE at this current: even with U taken off the rise is %s K, "
                "above %s K\n",
                number(point->rise_k - point->expanded_k, b), a);
        break;
    case ADEQUACY_UNKNOWN:
        fprintf(out,
                "    adequate or not at this current: not decided, the limit of %s K lies within "
                "the uncertainty\n",
                a);
        break;
    }
}

/* ---- causes ---- */

static void put_cause(const char *what, const struct compare_range *range, double scale,
                      const char *unit, double expected, const char *ordinary, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE], d[QUANTITY_TEXT_SIZE];
    if (isnan(range->value))
        return;
    fprintf(out, "      %-17s %s%s", what, number(range->value * scale, a), unit);
    if (!isnan(expected))
        fprintf(out, " in place of %s%s", number(expected * scale, b), unit);
    fputs(" (", out);
    if (isinf(range->high))
        fprintf(out, "%s%s or more", number(range->low * scale, c), unit);
    else
        fprintf(out, "%s to %s%s", number(range->low * scale, c), number(range->high * scale, d),
                unit);
    fprintf(out, " within U)%s\n", ordinary);
}

/* What the check knows of the neck itself: a short one cannot get as warm as a long conductor. */
static void put_short_neck(const struct compare_conductor *conductor,
                           const struct compare_point *point, FILE *out)
{
    const struct copper_strip strip = {conductor->width_mm,       conductor->thickness_mm,
                                       conductor->neck_length_mm, point->current_a,
                                       point->reading->ambient_c, BOTH_FACES_W_M2K};
    double short_k =
        neck_rise_k(&rise_fits[conductor->is_internal ? 1 : 0], &strip, conductor->beside_mm);
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    if (isnan(short_k) || point->verdict != COMPARE_COOLER)
        return;
    fprintf(
        out,
        "    besides, it is a neck of %s mm: between copper just wide enough for the allowed "
        "rise\n"
        "    it would reach %s K, between wider copper less (the figure \"as a neck\" of bench)\n",
        number(conductor->neck_length_mm, a), number(short_k, b));
}

static void put_causes(const struct compare_conductor *conductor, const struct compare_point *point,
                       FILE *out)
{
    struct compare_causes causes = compare_causes_of(conductor, point);
    const struct reading *reading = point->reading;
    fputs("    each of these alone would explain it\n", out);
    put_cause("copper thickness", &causes.thickness_mm, 1e3, " um", conductor->thickness_mm,
              causes.thickness_mm.is_ordinary ? ": ordinary scatter and measurement error reach it"
              : causes.is_plating_enough      ? ": as if the foil had been plated up"
                                              : "",
              out);
    put_cause("width", &causes.width_mm, 1, " mm", conductor->width_mm,
              causes.width_mm.is_ordinary ? ": ordinary scatter and measurement error reach it"
                                          : "",
              out);
    put_cause("cooling", &causes.cooling, 1, " times as much", NAN, "", out);
    if (reading->method == MEASURED_CAMERA && isnan(causes.emissivity.value))
        fputs("      emissivity        no value between 0 and 1 would do it\n", out);
    put_cause("emissivity", &causes.emissivity, 1, "", reading->emissivity,
              causes.emissivity.is_ordinary ? ": within what was stated" : "", out);
    put_cause("current", &causes.current_a, 1, " A", reading->current_a,
              causes.current_a.is_ordinary ? ": within the meter's error" : "", out);
    put_short_neck(conductor, point, out);
}

static void put_outside(const struct compare_conductor *conductor,
                        const struct compare_point *point, FILE *out)
{
    const struct rise_fit *fit = &rise_fits[conductor->is_internal ? 1 : 0];
    const char *outside = rise_fit_outside(fit, point->current_a, point->predicted_k,
                                           conductor->width_mm, conductor->thickness_mm);
    if (outside)
        fprintf(out, "    the prediction is extrapolated: %s\n", outside);
}

static void put_point(const struct compare_report *report, const struct compare_point *point,
                      FILE *out)
{
    const struct reading *reading = point->reading;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    fprintf(out, "\n  %s%sline %u, by %s: %s A\n", reading->place, *reading->place ? ", " : "",
            reading->at.line, method_word(reading->method), number(point->current_a, a));
    if (point->problem != COMPARE_OK) {
        fprintf(out, "    NOT POSSIBLE, rise %s K: %s.\n", number(point->rise_k, a),
                compare_problem_text(point->problem));
        return;
    }
    fprintf(out, "    measured rise %s K, U = %s K; predicted %s K\n", number(point->rise_k, a),
            doubt(point->expanded_k, b), number(point->predicted_k, c));
    if (reading->method == MEASURED_RESISTANCE)
        fputs("    that is the mean between the taps: the hottest place is hotter, a narrow one "
              "much\n"
              "    so where the taps are far apart; look at it with a camera as well\n",
              out);
    put_outside(report->conductor, point, out);
    put_verdict(point, out);
    put_adequacy(report->conductor, point, out);
    put_budget(point, out);
    put_assumed(reading, out);
    if (point->verdict == COMPARE_HOTTER || point->verdict == COMPARE_COOLER)
        put_causes(report->conductor, point, out);
}

/* ---- the fitted constant ---- */

static void put_estimate(const char *what, const struct compare_estimate *estimate,
                         const char *unit, const char *note, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    if (!estimate->is_known) {
        fprintf(out, "    %-28s not known from these readings\n", what);
        return;
    }
    fprintf(out, "    %-28s %s%s (%s to %s%s)%s%s\n", what, number(estimate->value, a), unit,
            number(estimate->low, b), number(estimate->high, c), unit,
            estimate->use_run ? ", Monte Carlo" : "", note);
}

static void put_rises(const struct compare_fit *fit, FILE *out)
{
    char label[64], a[QUANTITY_TEXT_SIZE];
    for (size_t i = 0; i < fit->current_count; i++) {
        double current_a = fit->currents_a[i];
        bool is_outside = current_a < fit->measured_low_a * (1 - 1e-9) ||
                          current_a > fit->measured_high_a * (1 + 1e-9);
        snprintf(label, sizeof label, "rise at %s A", number(current_a, a));
        put_estimate(label, &fit->rises_k[i], " K", is_outside ? ", beyond what was measured" : "",
                     out);
    }
}

static void put_fit(const struct compare_report *report, FILE *out)
{
    const struct compare_fit *fit = report->fit;
    char label[64], a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    fprintf(out, "\nThis board's own constant, from %zu reading%s (95 %% intervals)\n",
            fit->point_count, fit->point_count == 1 ? "" : "s together");
    put_estimate("k in I = k dT^0.44 A^0.725", &fit->k, "",
                 report->conductor->is_internal ? "; IPC-2221 inside: 0.024"
                                                : "; IPC-2221 outside: 0.048",
                 out);
    put_rises(fit, out);
    snprintf(label, sizeof label, "highest current for %s K", number(fit->limit_rise_k, a));
    bool is_beyond = fit->most_a.value > fit->measured_high_a;
    if (fit->limit_rise_k > 0)
        put_estimate(label, &fit->most_a, " A",
                     is_beyond ? ", beyond what was measured: confirm it by a test" : "", out);
    else
        fputs("    no current at all: the surroundings are already at the limit\n", out);
    if (!isnan(fit->exponent))
        fprintf(out, "    The rise goes as the current to the power %s; the fit assumes %s.\n",
                quantity_text(fit->exponent, 2, a), quantity_text(1 / 0.44, 3, b));
    if (fit->worst_residual > 2)
        fprintf(out,
                "    The readings do not lie on one curve (one is %s standard uncertainties off):\n"
                "    something changed between them, or one was not steady.\n",
                quantity_text(fit->worst_residual, 2, a));
    fputs("    A camera's, a meter's error is taken as the same in all readings; only scatter\n"
          "    averages out. Where the linear budget and a Monte Carlo run (20000 trials, fixed\n"
          "    seed) differ by more than 15 % of U, the run's interval is given.\n",
          out);
}

static void put_conductor(const struct compare_conductor *conductor, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    fprintf(out,
            "Measured against predicted: %s, %s mm wide, %s um of copper, %s layer, allowed rise "
            "%s K\n",
            conductor->name, quantity_short(conductor->width_mm, 4, a),
            quantity_short(conductor->thickness_mm * 1e3, 4, b),
            conductor->is_internal ? "inner" : "outer", number(conductor->allowed_rise_k, c));
}

void compare_text(const struct compare_report *report, FILE *out)
{
    put_conductor(report->conductor, out);
    for (size_t i = 0; i < report->point_count; i++)
        put_point(report, &report->points[i], out);
    if (report->fit)
        put_fit(report, out);
    else
        fputs("\nNo possible reading shows a rise beyond its uncertainty: nothing to fit.\n", out);
    fputs(
        "\nHot copper burns, and a board that is adequate on the bench may not be so in a box, in\n"
        "summer, or beside another warm conductor. This is no proof of safety.\n",
        out);
}
