/*
 * The rule copper-width: is every conductor's narrowest copper, between its terminals, wide enough
 * for the current that can cross it at the allowed rise?
 */
#include "isthmus/rule.h"

#include "findings.h"
#include "isthmus/physics.h"
#include "shares.h"
#include "taken.h"
#include "two_pin.h"
#include "unassigned.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct judge {
    const struct rule_context *context;
    struct check_result *out;
    size_t verdict_capacity, finding_capacity;
};

/* ---- lists that grow in the arena ---- */

static void *grown(struct arena *arena, void *items, size_t count, size_t *capacity, size_t size)
{
    if (count < *capacity)
        return items;
    size_t wanted = *capacity ? *capacity * 2 : 16;
    void *more = arena_alloc(arena, wanted, size);
    if (!more)
        return NULL;
    if (count)
        memcpy(more, items, count * size);
    *capacity = wanted;
    return more;
}

static struct net_verdict *add_verdict(struct judge *judge)
{
    struct check_result *out = judge->out;
    struct net_verdict *items = grown(judge->context->arena, out->verdicts, out->verdict_count,
                                      &judge->verdict_capacity, sizeof *items);
    if (!items)
        return NULL;
    out->verdicts = items;
    return &items[out->verdict_count++];
}

static struct finding *add_finding(struct judge *judge)
{
    struct check_result *out = judge->out;
    struct finding *items = grown(judge->context->arena, out->findings, out->finding_count,
                                  &judge->finding_capacity, sizeof *items);
    if (!items)
        return NULL;
    out->findings = items;
    return &items[out->finding_count++];
}

/* ---- what stops the judging of a net ---- */

static const char *why_not(const struct rule_context *context, const struct net_question *question)
{
    const struct board *board = context->board;
    const char *name = board->nets[question->shown_net].name;
    for (uint32_t net = 0; net < board->net_count; net++)
        if (net_root(board, net) == question->net && board->nets[net].state != NET_OK)
            return board->nets[net].state_detail;
    if (question->problem)
        return question->problem;
    if (question->end_count < 2)
        return arena_printf(context->arena,
                            "net %s has %s: add a position row for where the current enters or "
                            "leaves (see `isthmus inspect`)",
                            name, question->end_count ? "one terminal" : "no terminal");
    return NULL;
}

static const char *case_problem(const struct rule_context *context, const struct net_case *net_case)
{
    if (!(net_case->i_net_a > 0))
        return "its rows give it no current: state a net row, or what its terminals feed and draw";
    if (!(net_case->rise_k > 0))
        return "its allowed rise is not above 0 K";
    (void)context;
    return NULL;
}

static void fill_verdict(const struct rule_context *context, const struct net_question *question,
                         const struct net_case *net_case, struct net_verdict *verdict)
{
    *verdict = (struct net_verdict){.net = question->shown_net,
                                    .verdict = VERDICT_NOT_JUDGED,
                                    .margin = INFINITY,
                                    .terminal_count = question->end_count,
                                    .rise_k = context->board->facts.rise_k.value};
    if (!net_case)
        return;
    verdict->case_name = net_case->name;
    verdict->i_net_a = net_case->i_net_a;
    verdict->i_net_how = net_case->i_net_how;
    verdict->rise_k = net_case->rise_k;
    for (size_t e = 0; e < question->end_count; e++)
        verdict->terminal_row_count += net_case->has_row[e];
}

/* ---- from the search to a verdict ---- */

static const char *branch_problem(const struct judge *judge, const struct neck_result *found)
{
    const struct board *board = judge->context->board;
    for (size_t i = 0; i < found->branch_count; i++) {
        const struct neck_branch *branch = &found->branches[i];
        if (branch->reason == BRANCH_LONG)
            continue; /* ends in bare laminate: it can feed nothing */
        struct pos_nm at = board_to_file(board, branch->end);
        char word[16];
        return arena_printf(
            judge->context->arena,
            "copper leads to a %s that is no terminal at (%.3f, %.3f) mm, %s: add a "
            "position row with its current, or with 0",
            branch->reason == BRANCH_HOLE ? "hole" : "pad", (double)at.x_nm * 1e-6,
            (double)at.y_nm * 1e-6, layer_word(board, branch->position, word));
    }
    return NULL;
}

static bool add_findings(struct judge *judge, struct finding_maker *maker,
                         const struct neck_result *found, struct net_verdict *verdict)
{
    size_t count = found->neck_count;
    struct neck *necks = arena_alloc(maker->arena, count + 1, sizeof *necks);
    if (!necks)
        return false;
    memcpy(necks, found->necks, count * sizeof *necks);
    maker->unassigned_mm2 = unassigned_areas_mm2(found->necks, count, maker->question->end_count,
                                                 maker->net_case->has_row, maker->arena);
    if (!maker->unassigned_mm2 || !unassigned_merge(necks, &count, maker->question->end_count,
                                                    maker->net_case->has_row, maker->arena))
        return false;
    for (size_t i = 0; i < count; i++) {
        struct finding *finding = add_finding(judge);
        if (!finding || !make_finding(maker, &necks[i], finding))
            return false;
        if (finding->kind == FINDING_NARROW)
            verdict->verdict = VERDICT_NARROW;
        else if (verdict->verdict != VERDICT_NARROW)
            verdict->verdict = VERDICT_UNASSIGNED;
        if (finding->places[0].margin < verdict->margin)
            verdict->margin = finding->places[0].margin;
    }
    return true;
}

static void note_unsettled(struct net_verdict *verdict)
{
    if (verdict->verdict == VERDICT_NARROW || verdict->verdict == VERDICT_UNASSIGNED) {
        verdict->has_more = true;
        return;
    }
    verdict->verdict = VERDICT_NOT_JUDGED;
    verdict->reason = "its shared necks could not be settled: the search found no cut that is too "
                      "narrow, and no proof that there is none";
}

/* false: no memory. */
static bool weigh(struct judge *judge, struct finding_maker *maker, const struct neck_result *found,
                  struct net_verdict *verdict)
{
    verdict->branches = found->branches;
    verdict->branch_count = found->branch_count;
    verdict->chord_count = found->chord_count;
    verdict->chord_kept_count = found->chord_kept_count;
    verdict->searched_margin = found->searched_margin;
    if (found->has_least) {
        verdict->has_least = true;
        verdict->margin = found->least.margin;
        if (!make_place(maker, &found->least, &verdict->least))
            return false;
    }
    verdict->reason = branch_problem(judge, found);
    if (found->neck_count > 0) {
        verdict->has_more = !found->is_proved;
        return add_findings(judge, maker, found, verdict);
    }
    if (!found->is_proved)
        note_unsettled(verdict);
    if (verdict->reason)
        return true;
    verdict->verdict = found->is_single_everywhere ? VERDICT_PASS : VERDICT_PASS_BY_SUM;
    if (verdict->verdict == VERDICT_PASS_BY_SUM && judge->context->is_strict) {
        verdict->verdict = VERDICT_NOT_JUDGED;
        verdict->reason = "it passes by the sum of shared necks only, and --strict was given";
    }
    return true;
}

static const char *search_problem(enum neck_status status)
{
    switch (status) {
    case NECK_APART:
        return "its terminals hang on copper that is not connected";
    case NECK_BUG:
        return "the neck search failed a check of its own: please report this package";
    case NECK_OK:
    case NECK_NO_MEMORY:
        break;
    }
    return NULL;
}

/* The necks of all cases of a question. */
struct search {
    const struct net_question *question;
    struct net_copper copper;
    struct neck_result *found; /* one a case */
    enum neck_status status;
};

static bool run_search(const struct rule_context *context, double margin_limit,
                       struct search *search)
{
    const struct net_question *question = search->question;
    struct neck_case *cases = arena_alloc(context->arena, question->case_count, sizeof *cases);
    search->found = arena_alloc(context->arena, question->case_count, sizeof *search->found);
    if (!cases || !search->found ||
        !net_copper_collect(context->board, question, context->arena, &search->copper))
        return false;
    double k = fit_constant(&context->board->facts);
    for (size_t i = 0; i < question->case_count; i++) {
        const struct net_case *from = &question->cases[i];
        cases[i] =
            (struct neck_case){.feed_a = from->feed_a,
                               .draw_a = from->draw_a,
                               .has_row = from->has_row,
                               .i_net_a = from->i_net_a,
                               .demand = {ipc2221_scale_a(k, from->rise_k), IPC2221_AREA_EXPONENT}};
    }
    search->status = neck_find(&search->copper.net, cases, question->case_count, margin_limit,
                               context->arena, search->found);
    return search->status != NECK_NO_MEMORY;
}

static struct finding_maker maker_of(const struct judge *judge, const struct search *search,
                                     size_t i)
{
    return (struct finding_maker){.board = judge->context->board,
                                  .question = search->question,
                                  .net_case = &search->question->cases[i],
                                  .copper = &search->copper,
                                  .arena = judge->context->arena};
}

/* The net's least margin, if this place has it. */
static bool note_least(struct finding_maker *maker, const struct neck_place *place,
                       struct net_verdict *verdict)
{
    if (verdict->has_least && verdict->margin <= place->margin)
        return true;
    verdict->has_least = true;
    verdict->margin = place->margin;
    return make_place(maker, place, &verdict->least);
}

/* Each pad of a group alone, with its equal share. */
static bool judge_shares(struct judge *judge, const struct net_question *question,
                         struct net_verdict **verdicts)
{
    const struct rule_context *context = judge->context;
    struct net_question split;
    struct search pads = {.question = &split};
    bool has_groups;
    if (!shares_split(context->board, question, context->arena, &split, &has_groups))
        return false;
    if (!has_groups)
        return true;
    if (!run_search(context, 1, &pads))
        return false;
    for (size_t i = 0; i < question->case_count && pads.status == NECK_OK; i++) {
        struct finding_maker maker = maker_of(judge, &pads, i);
        maker.is_share = true;
        bool is_narrow = pads.found[i].neck_count > 0;
        shares_keep_pads(&split, &pads.found[i]);
        if (pads.found[i].neck_count > 0) {
            if (!note_least(&maker, &pads.found[i].necks[0].places[0], verdicts[i]) ||
                !add_findings(judge, &maker, &pads.found[i], verdicts[i]))
                return false;
        } else if (!pads.found[i].is_proved && !is_narrow && !verdicts[i]->reason) {
            note_unsettled(verdicts[i]);
        }
    }
    return true;
}

static bool search(struct judge *judge, const struct net_question *question,
                   struct net_verdict **verdicts)
{
    struct search whole = {.question = question};
    if (!run_search(judge->context, judge->context->margin_limit, &whole))
        return false;
    for (size_t i = 0; i < question->case_count; i++) {
        struct finding_maker maker = maker_of(judge, &whole, i);
        verdicts[i]->closed_gap_count = whole.copper.closed_gap_count;
        verdicts[i]->reason = search_problem(whole.status);
        if (!taken_list(judge->context->board, question, &whole.copper, judge->context->arena,
                        verdicts[i]))
            return false;
        if (whole.status == NECK_OK && !weigh(judge, &maker, &whole.found[i], verdicts[i]))
            return false;
    }
    return whole.status != NECK_OK || judge_shares(judge, question, verdicts);
}

static bool judge_net(struct judge *judge, const struct net_question *question)
{
    const struct rule_context *context = judge->context;
    const char *problem = why_not(context, question);
    size_t count = question->case_count ? question->case_count : 1;
    struct net_verdict **verdicts = arena_alloc(context->arena, count, sizeof *verdicts);
    size_t first = judge->out->verdict_count;
    for (size_t i = 0; verdicts && i < count; i++) {
        struct net_verdict *verdict = add_verdict(judge);
        if (!verdict)
            return false;
        const struct net_case *net_case = question->case_count ? &question->cases[i] : NULL;
        fill_verdict(context, question, net_case, verdict);
        if (!problem && net_case)
            problem = case_problem(context, net_case);
    }
    if (!verdicts)
        return false;
    for (size_t i = 0; i < count; i++) { /* the list no longer moves */
        verdicts[i] = &judge->out->verdicts[first + i];
        verdicts[i]->reason = problem;
    }
    return problem || question->case_count == 0 || search(judge, question, verdicts);
}

static bool judge_lost(struct judge *judge, const struct assignment *assignment)
{
    for (size_t i = 0; i < assignment->lost_count; i++) {
        struct net_verdict *verdict = add_verdict(judge);
        if (!verdict)
            return false;
        *verdict = (struct net_verdict){.net = ISTHMUS_NONE,
                                        .verdict = VERDICT_NOT_JUDGED,
                                        .margin = INFINITY,
                                        .reason = assignment->lost[i].problem};
    }
    return true;
}

/* ---- nets that the table does not speak about ---- */

static bool is_asked(const struct assignment *assignment, uint32_t net)
{
    for (size_t i = 0; i < assignment->question_count; i++)
        if (assignment->questions[i].net == net)
            return true;
    return false;
}

static bool list_unjudged(struct judge *judge, const struct assignment *assignment)
{
    const struct rule_context *context = judge->context;
    const struct board *board = context->board;
    struct check_result *out = judge->out;
    out->unjudged_nets = arena_alloc(context->arena, board->net_count + 1, sizeof(uint32_t));
    if (!out->unjudged_nets)
        return false;
    for (uint32_t net = 0; net < board->net_count; net++) {
        if (net_root(board, net) != net || is_asked(assignment, net))
            continue;
        size_t at = out->unjudged_count++; /* most copper first, ties by index */
        for (;
             at > 0 && board->nets[out->unjudged_nets[at - 1]].area_mm2 < board->nets[net].area_mm2;
             at--)
            out->unjudged_nets[at] = out->unjudged_nets[at - 1];
        out->unjudged_nets[at] = net;
        if (!context->judge_all_nets)
            continue;
        struct net_verdict *verdict = add_verdict(judge);
        if (!verdict)
            return false;
        *verdict =
            (struct net_verdict){.net = net,
                                 .margin = INFINITY,
                                 .verdict = VERDICT_NOT_JUDGED,
                                 .reason = "the table has no row for it, and --all-nets was given"};
    }
    out->named_unjudged_count = (uint32_t)out->unjudged_count;
    return true;
}

/* ---- order ---- */

static int rank(enum verdict verdict)
{
    switch (verdict) {
    case VERDICT_NARROW:
        return 0;
    case VERDICT_UNASSIGNED:
        return 1;
    case VERDICT_NOT_JUDGED:
        return 2;
    case VERDICT_PASS_BY_SUM:
        return 3;
    case VERDICT_PASS:
        break;
    }
    return 4;
}

static int compare_names(const char *a, const char *b)
{
    if (!a || !b)
        return (a != NULL) - (b != NULL);
    return strcmp(a, b);
}

/* What the sort functions look things up in. */
struct order {
    const struct board *board;
};

static int compare_verdicts(const void *left, const void *right, void *context)
{
    const struct net_verdict *a = left, *b = right;
    const struct board *board = ((const struct order *)context)->board;
    if (rank(a->verdict) != rank(b->verdict))
        return rank(a->verdict) < rank(b->verdict) ? -1 : 1;
    if (a->margin < b->margin || a->margin > b->margin)
        return a->margin < b->margin ? -1 : 1;
    if (a->net != b->net && a->net < board->net_count && b->net < board->net_count) {
        int order = compare_names(board->nets[a->net].name, board->nets[b->net].name);
        return order ? order : (a->net < b->net ? -1 : 1);
    }
    if (a->net != b->net)
        return a->net < b->net ? -1 : 1;
    int order = compare_names(a->case_name, b->case_name);
    return order ? order : compare_names(a->reason, b->reason);
}

static size_t verdict_index(const struct check_result *out, const struct finding *finding)
{
    for (size_t i = 0; i < out->verdict_count; i++)
        if (out->verdicts[i].net == finding->net &&
            compare_names(out->verdicts[i].case_name, finding->case_name) == 0)
            return i;
    return out->verdict_count;
}

static int compare_findings(const void *left, const void *right, void *context)
{
    const struct finding *a = left, *b = right;
    const struct check_result *out = context;
    size_t va = verdict_index(out, a), vb = verdict_index(out, b);
    if (va != vb)
        return va < vb ? -1 : 1;
    const struct finding_place *pa = &a->places[0], *pb = &b->places[0];
    if (a->kind != b->kind)
        return a->kind < b->kind ? -1 : 1;
    if (pa->layer != pb->layer)
        return pa->layer < pb->layer ? -1 : 1;
    if (pa->middle.x_nm != pb->middle.x_nm)
        return pa->middle.x_nm < pb->middle.x_nm ? -1 : 1;
    if (pa->middle.y_nm != pb->middle.y_nm)
        return pa->middle.y_nm < pb->middle.y_nm ? -1 : 1;
    return (a->net > b->net) - (a->net < b->net);
}

void check_result_sort(const struct board *board, struct check_result *out)
{
    struct order order = {board};
    if (out->verdict_count > 1)
        qsort_r(out->verdicts, out->verdict_count, sizeof *out->verdicts, compare_verdicts, &order);
    if (out->finding_count > 1)
        qsort_r(out->findings, out->finding_count, sizeof *out->findings, compare_findings, out);
}

enum rule_status copper_width_run(const struct rule_context *context, struct check_result *out)
{
    *out = (struct check_result){.margin_limit = context->margin_limit,
                                 .has_table = context->table != NULL};
    struct judge judge = {.context = context, .out = out};
    struct assignment assignment = {0};
    if (context->table && assign_currents(context->board, context->table, context->arena,
                                          context->diags, &assignment) != ASSIGN_OK)
        return RULE_NO_MEMORY;
    if (context->table)
        two_pin_check(context->board, context->table, context->diags);
    if (!judge_lost(&judge, &assignment))
        return RULE_NO_MEMORY;
    for (size_t i = 0; i < assignment.question_count; i++) {
        if (context->asks_net && !context->asks_net[assignment.questions[i].net])
            continue;
        if (context->progress)
            context->progress("judging nets", i, assignment.question_count,
                              context->progress_context);
        if (!judge_net(&judge, &assignment.questions[i]))
            return RULE_NO_MEMORY;
    }
    if (!list_unjudged(&judge, &assignment))
        return RULE_NO_MEMORY;
    check_result_sort(context->board, out);
    return RULE_OK;
}
