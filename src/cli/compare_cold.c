/* Cold resistance: how much copper there really is between two terminals. */
#include <math.h>

#include "bench_drop.h"
#include "isthmus/measured.h"
#include "isthmus/physics.h"
#include "isthmus/uncertainty.h"

static bool is_cold_reading(const struct reading *reading)
{
    return reading->method == MEASURED_RESISTANCE && reading->cold_drop_v > 0 &&
           reading->cold_current_a > 0;
}

static const struct reading *first_cold(const struct measured *measured)
{
    for (size_t i = 0; i < measured->count; i++)
        if (is_cold_reading(&measured->readings[i]))
            return &measured->readings[i];
    return NULL;
}

/* The one end that feeds (or draws); NULL: none, or several. */
static const struct drop_end *only_end(const struct drop_answer *answer, bool feeds)
{
    const struct drop_end *found = NULL;
    for (size_t i = 0; i < answer->end_count; i++) {
        double current_a = feeds ? answer->ends[i].current_a : -answer->ends[i].current_a;
        if (current_a > 0 && found)
            return NULL;
        if (current_a > 0)
            found = &answer->ends[i];
    }
    return found;
}

/* Relative, k = 2: the resistance, the temperature it was taken at, and the mesh. */
static double expanded_share(const struct reading *reading, const struct drop_answer *answer)
{
    const struct budget_line lines[] = {
        {"resistance", "", reading->ohm_pm_pct / 100, SPREAD_RECTANGULAR, 1, true},
        {"temperature", "K", reading->cold_pm_k, SPREAD_RECTANGULAR, copper_alpha(reading->cold_c),
         true},
        {"mesh", "", answer->error_ohm / answer->ohm, SPREAD_RECTANGULAR, 1, true},
    };
    return COVERAGE_FACTOR * budget_combined(lines, sizeof lines / sizeof lines[0]);
}

static void print_reading(const struct reading *reading, const struct drop_answer *answer,
                          double solved_c)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE], d[QUANTITY_TEXT_SIZE];
    double drawn_ohm =
        answer->ohm * copper_resistivity(reading->cold_c) / copper_resistivity(solved_c);
    double found_ohm = reading->cold_drop_v / reading->cold_current_a;
    double copper = drawn_ohm / found_ohm, share = expanded_share(reading, answer);
    printf("  line %u: %s mohm measured at %s C, %s mohm by the drawing:\n", reading->at.line,
           quantity_short(1e3 * found_ohm, 3, a), quantity_short(reading->cold_c, 3, b),
           quantity_short(1e3 * drawn_ohm, 3, c));
    printf("    %s times the copper that was stated (%s to %s within U)\n",
           quantity_short(copper, 3, a), quantity_short(copper / (1 + share), 3, b),
           quantity_short(copper / fmax(1 - share, 1e-3), 3, d));
}

static void print_all(const struct measured *measured, const struct drop_answer *answer,
                      double solved_c)
{
    const struct drop_end *from = only_end(answer, true), *to = only_end(answer, false);
    printf("Cold resistance against the drawing, taps at %s and %s\n", from->name, to->name);
    for (size_t i = 0; i < measured->count; i++)
        if (is_cold_reading(&measured->readings[i]))
            print_reading(&measured->readings[i], answer, solved_c);
    fputs("    A few per cent less is usual: foil conducts worse than the standard's copper. Taps\n"
          "    elsewhere (--from, --to) or in the leads change it too. It says nothing of "
          "cooling.\n\n",
          stdout);
}

/* Without an answer: an error only where terminals were named. */
static int print_problem(const struct bench_points *points, const char *problem, const char *advice)
{
    if (points->from_count || points->to_count)
        return cli_error("compare", advice, "%s", problem);
    printf("The cold resistance was not held against the drawing: %s%s%s.\n\n", problem,
           advice ? "; " : "", advice ? advice : "");
    return CLI_CLEAN;
}

int compare_cold(struct run *run, const struct bench_points *points,
                 const struct net_places *places, const struct measured *measured)
{
    const struct reading *first = first_cold(measured);
    if (!first)
        return CLI_CLEAN;
    const struct rule_context context = {
        .board = &run->board, .table = &run->table, .arena = run->arena, .diags = &run->diags};
    const struct drop_question asked = {.net = places->verdict->net,
                                        .case_name = places->verdict->case_name,
                                        .from = points->from,
                                        .to = points->to,
                                        .from_count = points->from_count,
                                        .to_count = points->to_count,
                                        .current_a = 1,
                                        .temperature_c = first->cold_c};
    struct drop_answer answer;
    if (net_drop_run(&context, &asked, &answer) != RULE_OK)
        return cli_error("compare", NULL, "out of memory");
    if (answer.problem)
        return print_problem(points, answer.problem, answer.advice);
    if (!only_end(&answer, true) || !only_end(&answer, false))
        return print_problem(points, "the current enters or leaves at several terminals",
                             "name the two taps: --from J1.1 --to F1.1");
    print_all(measured, &answer, first->cold_c);
    return CLI_CLEAN;
}
