/* Solve, see where the error sits, refine there, solve again, until the answer stands still. */
#include "isthmus/solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solve/system.h"

#define ROUND_LIMIT 40
#define DEFAULT_TOLERANCE 2e-3
#define REFUSED_FACTOR 10.0 /* an estimated error of this many tolerances is no answer */

static bool *still_contacts(const struct solve_question *question, struct arena *scratch)
{
    bool *is_still = arena_alloc(scratch, question->net->contact_count + 1, sizeof *is_still);
    for (uint32_t c = 0; is_still && c < question->net->contact_count; c++)
        is_still[c] = is_fed(question, c);
    return is_still;
}

static enum solve_status start(struct system *system, struct arena *scratch)
{
    const struct solve_question *question = system->question;
    const struct neck_net *net = question->net;
    system->sheets = arena_alloc(scratch, net->sheet_count + 1, sizeof *system->sheets);
    if (!system->sheets)
        return SOLVE_NO_MEMORY;
    for (size_t s = 0; s < net->sheet_count; s++) {
        struct solve_sheet *sheet = &system->sheets[s];
        sheet->siemens = net->sheets[s].thickness_mm / (question->resistivity_ohm_mm2_m * 1e-3);
        if (domain_build(net, &net->sheets[s], scratch, &sheet->domain) != NECK_OK)
            return SOLVE_NO_MEMORY;
        if (fine_new(&sheet->domain, &sheet->fine) != FINE_OK)
            return SOLVE_NO_MEMORY;
        system->sheet_count++;
    }
    return SOLVE_OK;
}

static void finish(struct system *system)
{
    system_clear(system);
    for (size_t s = 0; s < system->sheet_count; s++) {
        fine_free(&system->sheets[s].fine);
        domain_free(&system->sheets[s].domain);
    }
}

static size_t point_count(const struct system *system)
{
    size_t count = 0;
    for (size_t s = 0; s < system->sheet_count; s++)
        count += system->sheets[s].fine.point_count;
    return count;
}

static enum solve_status refine(struct system *system, const bool *is_still, size_t limit)
{
    for (size_t s = 0; s < system->sheet_count; s++) {
        struct fine *fine = &system->sheets[s].fine;
        size_t others = point_count(system) - fine->point_count;
        enum fine_status status = fine_refine(fine, is_still, limit > others ? limit - others : 0);
        if (status != FINE_OK)
            return status == FINE_FULL ? SOLVE_TOO_LARGE : SOLVE_NO_MEMORY;
    }
    return SOLVE_OK;
}

static enum solve_status solve_again(struct system *system)
{
    system_clear(system);
    enum solve_status status = system_number(system);
    return status == SOLVE_OK ? system_solve(system) : status;
}

/* One mesh's answer: terminals, then probes. */
struct round {
    double *volts;
    size_t count, node_count;
};

static enum solve_status solve_round(struct system *system, struct round *out, size_t *probe_bad)
{
    size_t terminal_count = system->question->net->terminal_count;
    enum solve_status status = solve_again(system);
    if (status != SOLVE_OK)
        return status;
    read_terminals(system, out->volts);
    size_t bad = read_probes(system, out->volts + terminal_count);
    if (bad < system->question->probe_count) {
        if (probe_bad)
            *probe_bad = bad;
        return SOLVE_NOT_COPPER;
    }
    out->node_count = point_count(system);
    return SOLVE_OK;
}

/* The error of P1 elements falls like 1 / nodes: what is left is this part of the last change. */
static double error_left(const struct round *now, const struct round *before)
{
    double change = 0;
    for (size_t i = 0; i < now->count; i++)
        if (!isnan(now->volts[i]) && !isnan(before->volts[i]))
            change = fmax(change, fabs(now->volts[i] - before->volts[i]));
    if (now->node_count <= before->node_count)
        return change;
    return change * (double)before->node_count / (double)(now->node_count - before->node_count);
}

static double largest_drop(const struct round *round)
{
    double largest = 0;
    for (size_t i = 0; i < round->count; i++)
        if (!isnan(round->volts[i]))
            largest = fmax(largest, fabs(round->volts[i]));
    return largest;
}

#define GROWTH 1.5 /* between two meshes that are compared: less would say little */
#define PASS_LIMIT 20

/* Refines where the error sits, solving in between, until the mesh has grown enough. */
static enum solve_status refine_worst(struct system *system, const bool *is_still, size_t limit)
{
    double wanted = GROWTH * (double)point_count(system);
    enum solve_status status = SOLVE_OK;
    for (int pass = 0; status == SOLVE_OK && pass < PASS_LIMIT; pass++) {
        size_t before = point_count(system);
        if (!mark_worst(system))
            return SOLVE_NO_MEMORY;
        status = refine(system, is_still, limit);
        if (status != SOLVE_OK || (double)point_count(system) >= wanted ||
            point_count(system) == before)
            return status;
        status = solve_again(system);
    }
    return status;
}

struct budget {
    double tolerance;
    size_t node_limit;
};

/* now holds the last solution on SOLVE_OK; system is solved for it. */
static enum solve_status iterate(struct system *system, const bool *is_still,
                                 const struct budget *budget, struct round rounds[2],
                                 struct solve_answer *out, size_t *probe_bad)
{
    enum solve_status status = refine(system, is_still, budget->node_limit);
    if (status == SOLVE_OK)
        status = solve_round(system, &rounds[0], probe_bad);
    for (out->round_count = 1; status == SOLVE_OK && out->round_count < ROUND_LIMIT;) {
        struct round *before = &rounds[(out->round_count + 1) % 2];
        struct round *now = &rounds[out->round_count % 2];
        status = refine_worst(system, is_still, budget->node_limit);
        bool is_full = status == SOLVE_TOO_LARGE;
        if (status != SOLVE_OK && !is_full)
            return status;
        status = solve_round(system, now, probe_bad);
        if (status != SOLVE_OK)
            return status;
        out->round_count++;
        out->error_v = error_left(now, before);
        double allowed_v = budget->tolerance * largest_drop(now);
        if (out->error_v <= allowed_v)
            return SOLVE_OK;
        if (is_full)
            return out->error_v <= REFUSED_FACTOR * allowed_v ? SOLVE_OK : SOLVE_TOO_LARGE;
    }
    return status == SOLVE_OK ? SOLVE_TOO_LARGE : status;
}

static enum solve_status give(const struct system *system, const struct round *round,
                              struct arena *arena, struct solve_answer *out)
{
    const struct neck_net *net = system->question->net;
    out->terminal_v = arena_alloc(arena, round->count + 1, sizeof *out->terminal_v);
    out->contact_a = arena_alloc(arena, net->contact_count + 1, sizeof *out->contact_a);
    if (!out->terminal_v || !out->contact_a)
        return SOLVE_NO_MEMORY;
    memcpy(out->terminal_v, round->volts, round->count * sizeof *out->terminal_v);
    out->probe_v = out->terminal_v + net->terminal_count;
    out->power_w = read_power(system);
    out->node_count = round->node_count;
    return read_contacts(system, out->contact_a) ? SOLVE_OK : SOLVE_NO_MEMORY;
}

static enum solve_status run(struct system *system, struct arena *scratch, struct arena *arena,
                             struct solve_answer *out, size_t *probe_bad)
{
    const struct solve_question *question = system->question;
    struct budget budget = {
        question->tolerance > 0 ? question->tolerance : DEFAULT_TOLERANCE,
        question->node_limit > 0 ? question->node_limit : SOLVE_NODE_LIMIT,
    };
    size_t count = question->net->terminal_count + question->probe_count;
    struct round rounds[2] = {{.count = count}, {.count = count}};
    bool *is_still = still_contacts(question, scratch);
    for (int i = 0; i < 2; i++)
        rounds[i].volts = arena_alloc(scratch, count + 1, sizeof *rounds[i].volts);
    if (!is_still || !rounds[0].volts || !rounds[1].volts)
        return SOLVE_NO_MEMORY;
    enum solve_status status = start(system, scratch);
    if (status == SOLVE_OK)
        status = iterate(system, is_still, &budget, rounds, out, probe_bad);
    if (status == SOLVE_OK)
        status = give(system, &rounds[(out->round_count + 1) % 2], arena, out);
    return status;
}

enum solve_status solve_net(const struct solve_question *question, struct arena *arena,
                            struct solve_answer *out, size_t *probe_bad)
{
    struct system system = {.question = question};
    *out = (struct solve_answer){0};
    if (!sparse_is_built())
        return SOLVE_LEFT_OUT;
    struct arena *scratch = arena_new("solve");
    if (!scratch)
        return SOLVE_NO_MEMORY;
    enum solve_status status = run(&system, scratch, arena, out, probe_bad);
    finish(&system);
    arena_free(scratch);
    return status;
}

const char *solve_problem(enum solve_status status)
{
    switch (status) {
    case SOLVE_OK:
        return "";
    case SOLVE_NO_MEMORY:
        return "out of memory";
    case SOLVE_TOO_LARGE:
        return "the net's copper is too large or too intricate to be solved within the limits";
    case SOLVE_APART:
        return "no copper joins the places where the current enters and leaves";
    case SOLVE_NOT_COPPER:
        return "a named place is not on the net's copper of that layer";
    case SOLVE_LEFT_OUT:
        return "this program was built without the sheet solve (make SOLVE=0)";
    case SOLVE_BUG:
        return "the equations could not be solved; this is a defect of the program";
    }
    return "";
}
