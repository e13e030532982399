/* What `size` answers, in plain sentences and small tables. */
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "cli/cmd_size.h"
#include "isthmus/thermal.h"

#define TEXT 64
#define MELT_NOTE_S 1.0  /* cooling begins to matter */
#define MELT_LIMIT_S 5.0 /* and the formula is out of its range */

/* One layer's answer. */
struct answer {
    bool is_internal;
    const char *title;
    struct sizing point; /* complete */
    double required_mm;  /* width by the fit, for judging */
};

/* ---- numbers with units ---- */

static char *number(double value, char text[QUANTITY_TEXT_SIZE])
{
    return quantity_short(value, 3, text);
}

/* Two units of one value: the user's first. */
static char *both_units(double first, const char *first_unit, double second,
                        const char *second_unit, int digits, char out[TEXT])
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    snprintf(out, TEXT, "%s %s (%s %s)", quantity_short(first, digits, a), first_unit,
             number(second, b), second_unit);
    return out;
}

static char *length_digits(double mm, bool use_mil, int digits, char out[TEXT])
{
    if (use_mil)
        return both_units(mm / MM_PER_MIL, "mil", mm, "mm", digits, out);
    return both_units(mm, "mm", mm / MM_PER_MIL, "mil", digits, out);
}

static char *length_text(double mm, bool use_mil, char out[TEXT])
{
    return length_digits(mm, use_mil, 3, out);
}

static char *copper_digits(double mm, bool use_oz, int digits, char out[TEXT])
{
    double oz = mm * 1e3 / COPPER_OZ_UM;
    if (use_oz)
        return both_units(oz, "oz", mm * 1e3, "um", digits, out);
    return both_units(mm * 1e3, "um", oz, "oz", digits, out);
}

static char *part_digits(const struct size_job *job, enum sizing_part part, double value,
                         int digits, char out[TEXT])
{
    char a[QUANTITY_TEXT_SIZE];
    if (part == SIZING_WIDTH)
        return length_digits(value, job->use_mil, digits, out);
    if (part == SIZING_COPPER)
        return copper_digits(value, job->use_mil, digits, out);
    snprintf(out, TEXT, "%s %s", quantity_short(value, digits, a),
             part == SIZING_CURRENT ? "A" : "K");
    return out;
}

static char *part_text(const struct size_job *job, enum sizing_part part, double value,
                       char out[TEXT])
{
    return part_digits(job, part, value, 3, out);
}

/* A part of the question: what was typed is shown whole, what was found to three digits. */
static char *point_text(const struct size_job *job, enum sizing_part part, double value,
                        char out[TEXT])
{
    bool is_typed = part != job->unknown && !(part == SIZING_CURRENT && job->pulse_count > 0);
    return part_digits(job, part, value, is_typed ? 6 : 3, out);
}

/* ---- the point on each layer ---- */

static const struct rise_fit *fit_of(bool is_internal)
{
    return &rise_fits[is_internal ? 1 : 0];
}

static double default_copper_mm(bool is_internal)
{
    return is_internal ? SIZE_INTERNAL_MM : SIZE_EXTERNAL_MM;
}

/* The parts given, one chosen from each list; `at` may be NULL where there are no lists. */
static struct sizing known_point(const struct size_job *job, bool is_internal, const size_t *at)
{
    struct sizing point = {{0}};
    for (int part = 0; part < SIZING_PART_COUNT; part++)
        if (job->given[part].count > 0)
            point.part[part] = job->given[part].values[at ? at[part] : 0];
    if (job->is_assumed[SIZING_COPPER])
        point.part[SIZING_COPPER] = default_copper_mm(is_internal);
    return point;
}

static struct answer answer_for(const struct size_job *job, bool is_internal)
{
    struct answer answer = {
        .is_internal = is_internal,
        .title = is_internal ? "inner layer" : "outer layer",
        .point = known_point(job, is_internal, NULL),
    };
    if (job->unknown != SIZING_PART_COUNT)
        answer.point.part[job->unknown] =
            sizing_solve(fit_of(is_internal), job->unknown, &answer.point);
    answer.required_mm = sizing_solve(fit_of(is_internal), SIZING_WIDTH, &answer.point);
    return answer;
}

static size_t answers_of(const struct size_job *job, struct answer answers[2])
{
    size_t count = 0;
    if (job->layer != SIZE_INTERNAL)
        answers[count++] = answer_for(job, false);
    if (job->layer != SIZE_EXTERNAL)
        answers[count++] = answer_for(job, true);
    return count;
}

static double hot_c(const struct size_job *job, const struct answer *answer)
{
    return job->ambient_c + answer->point.part[SIZING_RISE];
}

/* ---- rows: a label, and one cell a layer ---- */

static void print_cells(FILE *out, const char *label, char cells[2][TEXT], size_t count)
{
    fprintf(out, "  %-18s", label);
    for (size_t i = 0; i < count; i++)
        fprintf(out, i + 1 < count ? "%-26s" : "%s", cells[i]);
    fputc('\n', out);
}

static void heading(FILE *out, const char *text)
{
    fprintf(out, cli_use_colour(out) ? "\n\033[1m%s\033[0m\n" : "\n%s\n", text);
}

static void print_conductor(const struct size_job *job, const struct answer *answers, size_t count,
                            FILE *out)
{
    char cells[2][TEXT];
    for (size_t i = 0; i < count; i++)
        snprintf(cells[i], TEXT, "%s", answers[i].title);
    print_cells(out, "", cells, count);
    for (int part = 0; part < SIZING_PART_COUNT; part++) {
        char label[TEXT];
        snprintf(label, TEXT, "%s%s", size_parts[part].word,
                 part == (int)job->unknown ? " (found)"
                 : job->is_assumed[part]   ? " (assumed)"
                                           : "");
        for (size_t i = 0; i < count; i++)
            point_text(job, (enum sizing_part)part, answers[i].point.part[part], cells[i]);
        print_cells(out, label, cells, count);
    }
    for (size_t i = 0; i < count; i++)
        snprintf(cells[i], TEXT, "%s", fit_of(answers[i].is_internal)->name);
    print_cells(out, "by the fit", cells, count);
}

static void print_range(const struct answer *answers, size_t count, FILE *out)
{
    for (size_t i = 0; i < count; i++) {
        const char *outside = sizing_outside(fit_of(answers[i].is_internal), &answers[i].point);
        if (outside)
            fprintf(out, "  The %s is extrapolated: %s.\n", answers[i].title, outside);
    }
    fputs("  The fit was made for 10 to 100 K, up to 35 A outside and 17.5 A inside, widths up to\n"
          "  10 mm, copper of half an ounce to three ounces, one conductor alone. Conductors side\n"
          "  by side: add up their widths and their currents.\n",
          out);
}

/* ---- the other fits ---- */

static const char *fit_note(const struct rise_fit *fit, const struct sizing *point)
{
    if (fit->is_for_information)
        return "unreliable data, range not stated";
    if (sizing_outside(fit, point))
        return "extrapolated";
    return fit->max_rise_k > 0 ? "within its range" : "range not stated";
}

static enum sizing_part asked_part(const struct size_job *job)
{
    return job->unknown == SIZING_PART_COUNT ? SIZING_WIDTH : job->unknown;
}

static void print_one_fit(const struct size_job *job, const struct rise_fit *fit, const char *name,
                          const struct sizing *known, FILE *out)
{
    enum sizing_part part = asked_part(job);
    struct sizing point = *known;
    point.part[part] = sizing_solve(fit, part, known);
    char text[TEXT];
    fprintf(out, "    %-34s %-26s%s\n", name, part_text(job, part, point.part[part], text),
            fit_note(fit, &point));
}

static void print_caution(const struct size_job *job, const struct answer *answer, FILE *out)
{
    enum sizing_part part = asked_part(job);
    const struct rise_fit *fit = sizing_most_cautious(answer->is_internal, part, &answer->point);
    char text[TEXT];
    fprintf(out, "    The cautious one of the %s fits is %s: %s.\n",
            answer->is_internal ? "inner" : "outer", fit->name,
            part_text(job, part, sizing_solve(fit, part, &answer->point), text));
    if (answer->is_internal)
        fputs("    The inner curve of IPC-2221 was never measured: it is half the outer current, "
              "and\n"
              "    newer measurements found inner conductors cooler than outer ones. The inner fit "
              "of\n"
              "    Brooks and Adam 2015 is quoted only in part in what we could read: left out.\n",
              out);
    else
        fputs(
            "    The outer curve of IPC-2221 is not cautious for a conductor alone on a board\n"
            "    without planes: for 27 x 2.9 mil at 5 A it foresees 29 K, the fit to the newer\n"
            "    charts 42 K, a published simulation of such a board 39.7 K. Its inner constants\n"
            "    are cautious outside too.\n",
            out);
}

static void print_fits(const struct size_job *job, const struct answer *answers, size_t count,
                       FILE *out)
{
    char text[TEXT];
    enum sizing_part part = asked_part(job);
    snprintf(text, TEXT, "Published fits side by side: %s", size_parts[part].word);
    heading(out, text);
    for (size_t i = 0; i < count; i++) {
        fprintf(out, "  %s\n", answers[i].title);
        for (size_t f = 0; f < rise_fit_count; f++)
            if (rise_fits[f].is_internal == answers[i].is_internal)
                print_one_fit(job, &rise_fits[f], rise_fits[f].name, &answers[i].point, out);
        if (!answers[i].is_internal)
            print_one_fit(job, fit_of(true), "IPC-2221 internal constants", &answers[i].point, out);
        print_caution(job, &answers[i], out);
    }
}

/* ---- resistance, drop, power ---- */

static double length_ohm(const struct size_job *job, const struct answer *answer)
{
    return copper_resistance_ohm(job->length_mm, answer->point.part[SIZING_WIDTH],
                                 answer->point.part[SIZING_COPPER], hot_c(job, answer));
}

static void print_length(const struct size_job *job, const struct answer *answers, size_t count,
                         FILE *out)
{
    char cells[4][2][TEXT], a[QUANTITY_TEXT_SIZE], title[TEXT + 32], text[TEXT];
    if (!(job->length_mm > 0))
        return;
    for (size_t i = 0; i < count; i++) {
        double current_a = answers[i].point.part[SIZING_CURRENT];
        double ohm = length_ohm(job, &answers[i]);
        snprintf(cells[0][i], TEXT, "%s mohm", number(1e3 * ohm, a));
        snprintf(cells[1][i], TEXT, "%s mV", number(1e3 * ohm * current_a, a));
        snprintf(cells[2][i], TEXT, "%s W", number(ohm * current_a * current_a, a));
        snprintf(cells[3][i], TEXT, "%s %%", number(100 * ohm * current_a / job->supply_v, a));
    }
    snprintf(title, sizeof title, "A length of %s, warm",
             length_text(job->length_mm, job->use_mil, text));
    heading(out, title);
    print_cells(out, "resistance", cells[0], count);
    print_cells(out, "voltage drop", cells[1], count);
    print_cells(out, "power", cells[2], count);
    if (job->supply_v > 0)
        print_cells(out, "drop of supply", cells[3], count);
    fputs("  One way only: the return conductor drops as much again if it is the same.\n", out);
}

/* ---- the temperature itself ---- */

static bool print_temperature(const struct size_job *job, const struct answer *answers,
                              size_t count, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    double limit_c = job->glass_c - job->reserve_k;
    bool is_too_hot = true; /* on every layer shown */
    heading(out, "Temperature");
    for (size_t i = 0; i < count; i++) {
        bool is_above = hot_c(job, &answers[i]) > limit_c;
        is_too_hot = is_too_hot && is_above;
        fprintf(out, "  %s: %s C + %s K = %s C%s\n", answers[i].title, number(job->ambient_c, a),
                number(answers[i].point.part[SIZING_RISE], b), number(hot_c(job, &answers[i]), c),
                is_above ? ", TOO HOT" : "");
    }
    fprintf(out,
            "  Limit %s C: glass transition %s C less %s K in reserve (common practice, no\n"
            "  source: keep well below about 130 C).\n",
            number(limit_c, a), number(job->glass_c, b), number(job->reserve_k, c));
    return is_too_hot;
}

/* ---- short overloads ---- */

/* True when the overload given goes past the glass transition. */
static bool print_overload_layer(const struct size_job *job, const struct answer *answer, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], text[TEXT];
    const struct pulse *overload = &job->overload;
    double area_mm2 = answer->point.part[SIZING_WIDTH] * answer->point.part[SIZING_COPPER];
    double start_c = hot_c(job, answer), seconds = overload->duration_s;
    fprintf(out, "  %s, from %s C:\n", answer->title, number(start_c, a));
    fprintf(out, "    %s A heat it to the glass transition in this time",
            number(onderdonk_current_a(area_mm2, seconds, start_c, job->glass_c), a));
    fprintf(out, ", %s A melt it\n",
            number(onderdonk_current_a(area_mm2, seconds, start_c, COPPER_MELTS_C), a));
    if (!(overload->current_a > 0))
        return false;
    double end_c = onderdonk_end_c(area_mm2, overload->current_a, seconds, start_c);
    double enough_mm = onderdonk_area_mm2(overload->current_a, seconds, start_c, job->glass_c) /
                       answer->point.part[SIZING_COPPER];
    fprintf(out, "    %s A: ", number(overload->current_a, a));
    if (end_c >= COPPER_MELTS_C)
        fputs("MELTS", out);
    else
        fprintf(out, "%s C at the end%s", number(end_c, a),
                end_c > job->glass_c ? ", TOO HOT" : "");
    fprintf(out, "; %s of width stay below the glass transition\n",
            length_text(enough_mm, job->use_mil, text));
    return end_c > job->glass_c;
}

static bool print_overload(const struct size_job *job, const struct answer *answers, size_t count,
                           FILE *out)
{
    char title[TEXT], a[QUANTITY_TEXT_SIZE];
    bool is_too_hot = true; /* on every layer shown */
    if (!(job->overload.duration_s > 0))
        return false;
    snprintf(title, TEXT, "An overload of %s s", number(job->overload.duration_s, a));
    heading(out, title);
    for (size_t i = 0; i < count; i++)
        if (hot_c(job, &answers[i]) >= job->glass_c)
            fprintf(out, "  %s: already above the glass transition.\n", answers[i].title);
        else if (!print_overload_layer(job, &answers[i], out))
            is_too_hot = false;
    fputs(
        "  Adiabatic (Onderdonk's equation): all heat stays in the copper, so the laminate beside\n"
        "  it and the solder are not looked at.",
        out);
    if (job->overload.duration_s > MELT_LIMIT_S)
        fputs(" OUT OF RANGE: it holds up to about 1 to 5 s; for a\n"
              "  longer time it gives less current than the conductor really stands.",
              out);
    else if (job->overload.duration_s > MELT_NOTE_S)
        fputs(" Above 1 s cooling begins to matter: the real\n  conductor stands more.", out);
    fputc('\n', out);
    return is_too_hot;
}

/* ---- pulses ---- */

static const struct pulse *largest_pulse(const struct size_job *job)
{
    const struct pulse *largest = &job->pulses[0];
    for (size_t i = 1; i < job->pulse_count; i++)
        if (job->pulses[i].current_a > largest->current_a)
            largest = &job->pulses[i];
    return largest;
}

/* True when the pulse may take it past the limit: without cooling, so at most. */
static bool print_pulse_layer(const struct size_job *job, const struct answer *answer, FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    const struct pulse *largest = largest_pulse(job);
    double area_mm2 = answer->point.part[SIZING_WIDTH] * answer->point.part[SIZING_COPPER];
    double start_c = hot_c(job, answer);
    double end_c = onderdonk_end_c(area_mm2, largest->current_a, largest->duration_s, start_c);
    bool is_above = end_c > job->glass_c - job->reserve_k;
    fprintf(out, "  %s: the largest pulse adds at most %s K, to %s C%s.\n", answer->title,
            number(end_c - start_c, a), number(end_c, b),
            is_above ? ":\n  POSSIBLY TOO HOT, size for this pulse too (see --overload)" : "");
    return is_above;
}

/* True when that is so on every layer shown. */
static bool print_pulses(const struct size_job *job, const struct answer *answers, size_t count,
                         FILE *out)
{
    if (job->pulse_count == 0)
        return false;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    double period_s = pulses_period_s(job->pulses, job->pulse_count);
    double tau_s = board_time_constant_s(job->board_mm, SIZE_EXTERNAL_MM, BOTH_FACES_W_M2K);
    bool is_too_hot = true;
    heading(out, "Pulses");
    fprintf(out, "  %s A r.m.s. over a period of %s s heat as much.\n",
            number(pulses_rms_a(job->pulses, job->pulse_count), a), number(period_s, b));
    for (size_t i = 0; i < count; i++)
        if (!print_pulse_layer(job, &answers[i], out))
            is_too_hot = false;
    fprintf(out,
            "  No cooling is counted within the pulse. The r.m.s. value holds while the period is\n"
            "  short against the board's time constant, here about %s s%s.\n",
            number(tau_s, a),
            period_s > tau_s / 10 ? ". THIS PERIOD IS NOT: size for the\n  largest pulse as if it "
                                    "were steady"
                                  : "");
    return is_too_hot;
}

/* ---- plated holes ---- */

static double wall_area(const struct size_job *job, double diameter_mm)
{
    double wall_mm = job->wall_um * 1e-3;
    return job->is_finished ? hole_wall_area_from_finished_mm2(diameter_mm, wall_mm)
                            : hole_wall_area_mm2(diameter_mm, wall_mm);
}

/* What the holes must carry; current 0: nobody said. */
struct hole_need {
    double current_a, rise_k;
    double section_mm2; /* of the conductor they continue */
};

static void print_hole_row(const struct size_job *job, double diameter_mm,
                           const struct hole_need *need, FILE *out)
{
    char text[TEXT], a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    double area_mm2 = wall_area(job, diameter_mm), hot_c = job->ambient_c + need->rise_k;
    fprintf(out, "  %-22s %-10s %-10s %s", length_text(diameter_mm, job->use_mil, text),
            number(area_mm2, a), number(1e3 * copper_prism_ohm(job->board_mm, area_mm2, hot_c), b),
            number(ipc2221_current_a(IPC2221_K_INTERNAL, need->rise_k, area_mm2), c));
    int gap = strlen(c) < 11 ? 11 - (int)strlen(c) : 1;
    size_t cautious =
        sizing_hole_count(IPC2221_K_INTERNAL, need->current_a, need->rise_k, area_mm2);
    size_t outer = sizing_hole_count(IPC2221_K_EXTERNAL, need->current_a, need->rise_k, area_mm2);
    if (!(need->current_a > 0))
        fputc('\n', out);
    else if (cautious == 0)
        fprintf(out, "%*smore than a million\n", gap, "");
    else
        fprintf(out, "%*s%-8zu %-15zu %.0f\n", gap, "", cautious, outer,
                ceil(need->section_mm2 / area_mm2 * (1 - 1e-9)));
}

static void print_hole_notes(bool has_current, FILE *out)
{
    fputs(
        "  Walls are judged by the inner constants, summed wall against summed current, which is\n"
        "  the cautious reading and the one `check` uses.\n",
        out);
    if (has_current)
        fputs("  Outer: the same by the outer constants. Section: as many as have together the\n"
              "  cross-section of the conductor they continue (IPC-2152, as quoted in 2016). A\n"
              "  published simulation and test found that a hole takes the temperature of its\n"
              "  conductor, so that fewer do when the conductor itself is wide enough.\n",
              out);
    fputs("  Holes in a row do not share alike: the nearest carries most.\n", out);
}

static void print_holes(const struct size_job *job, const struct hole_need *need, FILE *out)
{
    char title[2 * TEXT], a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    if (job->drills.count == 0)
        return;
    bool has_current = need->current_a > 0;
    snprintf(title, sizeof title, "Plated holes, wall %s um, rise %s K", number(job->wall_um, a),
             number(need->rise_k, b));
    heading(out, title);
    fprintf(out, "  %-22s %-10s %-10s %s\n", job->is_finished ? "finished" : "drilled", "wall mm2",
            "mohm each",
            has_current ? "A each     holes    holes, outer    holes, section" : "A each");
    for (size_t i = 0; i < job->drills.count; i++)
        print_hole_row(job, job->drills.values[i], need, out);
    print_hole_notes(has_current, out);
}

/* ---- lists ---- */

static void list_axes(const struct size_job *job, int *row, int *column)
{
    *row = *column = -1;
    for (int part = SIZING_PART_COUNT - 1; part >= 0; part--)
        if (job->given[part].count > 1) {
            if (*row < 0)
                *row = part;
            else
                *column = part;
        }
}

/* In the one unit a table is read in. */
static double cell_value(const struct size_job *job, enum sizing_part part, double value)
{
    if (part == SIZING_WIDTH && job->use_mil)
        return value / MM_PER_MIL;
    if (part == SIZING_COPPER)
        return value * 1e3 / (job->use_mil ? COPPER_OZ_UM : 1);
    return value;
}

static const char *cell_unit(const struct size_job *job, enum sizing_part part)
{
    switch (part) {
    case SIZING_WIDTH:
        return job->use_mil ? "mil" : "mm";
    case SIZING_COPPER:
        return job->use_mil ? "oz" : "um";
    case SIZING_CURRENT:
        return "A";
    default:
        return "K";
    }
}

static bool print_table_cell(const struct size_job *job, bool is_internal, const size_t *at,
                             FILE *out)
{
    char a[QUANTITY_TEXT_SIZE], text[TEXT];
    struct sizing point = known_point(job, is_internal, at);
    double found = sizing_solve(fit_of(is_internal), job->unknown, &point);
    point.part[job->unknown] = found;
    bool is_extrapolated = sizing_outside(fit_of(is_internal), &point) != NULL;
    snprintf(text, TEXT, "%s%s", quantity_text(cell_value(job, job->unknown, found), 3, a),
             is_extrapolated ? "*" : " ");
    fprintf(out, "%12s", text);
    return is_extrapolated;
}

static char *axis_text(const struct size_job *job, int part, size_t index, char out[TEXT])
{
    char a[QUANTITY_TEXT_SIZE];
    double value = cell_value(job, (enum sizing_part)part, job->given[part].values[index]);
    snprintf(out, TEXT, "%s %s", quantity_short(value, 6, a),
             cell_unit(job, (enum sizing_part)part));
    return out;
}

static void print_table_head(const struct size_job *job, int row, int column, FILE *out)
{
    char text[TEXT];
    fprintf(out, "  %-12s", size_parts[row].word);
    if (column < 0)
        fprintf(out, "%11s", size_parts[job->unknown].word);
    for (size_t c = 0; column >= 0 && c < job->given[column].count; c++)
        fprintf(out, "%11s ", axis_text(job, column, c, text));
    fputc('\n', out);
}

static bool print_table_rows(const struct size_job *job, bool is_internal, int row, int column,
                             FILE *out)
{
    char text[TEXT];
    bool is_any = false;
    for (size_t r = 0; r < job->given[row].count; r++) {
        size_t at[SIZING_PART_COUNT] = {0};
        at[row] = r;
        fprintf(out, "  %-12s", axis_text(job, row, r, text));
        size_t columns = column >= 0 ? job->given[column].count : 1;
        for (size_t c = 0; c < columns; c++) {
            if (column >= 0)
                at[column] = c;
            is_any = print_table_cell(job, is_internal, at, out) || is_any;
        }
        fputc('\n', out);
    }
    return is_any;
}

static void print_fixed_parts(const struct size_job *job, bool is_internal, FILE *out)
{
    char text[TEXT];
    struct sizing point = known_point(job, is_internal, NULL);
    for (int part = 0; part < SIZING_PART_COUNT; part++)
        if (part != (int)job->unknown && job->given[part].count == 1)
            fprintf(out, "; %s %s%s", size_parts[part].word,
                    point_text(job, (enum sizing_part)part, point.part[part], text),
                    job->is_assumed[part] ? " (assumed)" : "");
}

static int print_table(const struct size_job *job, FILE *out)
{
    int row, column;
    bool is_any = false;
    list_axes(job, &row, &column);
    for (int side = 0; side < 2; side++) {
        if (job->layer == (side ? SIZE_EXTERNAL : SIZE_INTERNAL))
            continue;
        fprintf(out, "%s%s in %s, %s layer, by %s", side ? "\n" : "", size_parts[job->unknown].word,
                cell_unit(job, job->unknown), side ? "inner" : "outer", fit_of(side)->name);
        print_fixed_parts(job, side, out);
        fputc('\n', out);
        print_table_head(job, row, column, out);
        is_any = print_table_rows(job, side, row, column, out) || is_any;
    }
    if (is_any)
        fputs(
            "\n  * extrapolated: outside the range of the fit (10 to 100 K, 35 A outside, 17.5 A\n"
            "    inside, 10 mm, half an ounce to three ounces)\n",
            out);
    fputs("\n  Ask for one cell alone to see every published fit beside it.\n", out);
    return CLI_CLEAN;
}

/* ---- the whole answer ---- */

static bool print_judgement(const struct size_job *job, const struct answer *answer, FILE *out)
{
    char text[TEXT], a[QUANTITY_TEXT_SIZE];
    if (job->unknown != SIZING_PART_COUNT)
        return false;
    double margin = answer->point.part[SIZING_WIDTH] / answer->required_mm;
    bool is_narrow = margin < 1 - 1e-12;
    fprintf(out, "\n  %s: it needs %s; margin %s\n", is_narrow ? "TOO NARROW" : "Wide enough",
            length_text(answer->required_mm, job->use_mil, text), number(margin, a));
    return is_narrow;
}

static void print_foil_note(const struct size_job *job, FILE *out)
{
    if (!job->is_copper_in_ounces || job->layer == SIZE_EXTERNAL)
        return;
    double oz = job->given[SIZING_COPPER].values[0] * 1e3 / COPPER_OZ_UM;
    const struct copper_finish *finish = copper_finish_of(round(oz * 1e6) / 1e6);
    if (finish)
        fprintf(
            out,
            "  Foil of %g oz may be finished at %g um inside (IPC-6012, from memory): give that\n"
            "  thickness to be on the cautious side.\n",
            oz, finish->internal_um);
}

static void print_title(const struct size_job *job, FILE *out)
{
    if (job->unknown == SIZING_PART_COUNT)
        fputs("Is this conductor wide enough?\n\n", out);
    else
        fprintf(out, "The %s that follows from the rest\n\n", size_parts[job->unknown].word);
}

static int print_answer(const struct size_job *job, FILE *out)
{
    struct answer answers[2];
    size_t count = answers_of(job, answers);
    print_title(job, out);
    print_conductor(job, answers, count, out);
    bool is_bad = print_judgement(job, &answers[0], out);
    print_foil_note(job, out);
    print_range(answers, count, out);
    is_bad = print_pulses(job, answers, count, out) || is_bad;
    print_fits(job, answers, count, out);
    print_length(job, answers, count, out);
    is_bad = print_temperature(job, answers, count, out) || is_bad;
    is_bad = print_overload(job, answers, count, out) || is_bad;
    const struct sizing *point = &answers[0].point;
    const struct hole_need need = {point->part[SIZING_CURRENT], point->part[SIZING_RISE],
                                   point->part[SIZING_WIDTH] * point->part[SIZING_COPPER]};
    print_holes(job, &need, out);
    return is_bad ? CLI_FINDINGS : CLI_CLEAN;
}

int size_print(const struct size_job *job, FILE *out)
{
    if (job->is_table)
        return print_table(job, out);
    if (!job->is_hole_only)
        return print_answer(job, out);
    fputs("What plated holes carry\n", out);
    print_holes(job, &(struct hole_need){.rise_k = job->given[SIZING_RISE].values[0]}, out);
    return CLI_CLEAN;
}
