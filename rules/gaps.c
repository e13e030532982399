/* What passes by closed gaps alone does not pass: compares a check with and without closing. */
#include "isthmus/rule.h"

#include <string.h>

#define SAME_MARGIN 0.01 /* closing alters widths by the gaps' few tenths of a um */

static bool is_pass(enum verdict verdict)
{
    return verdict == VERDICT_PASS || verdict == VERDICT_PASS_BY_SUM;
}

static bool rests_on_gaps(const struct net_verdict *verdict)
{
    return verdict->closed_gap_count > 0 && verdict->verdict != VERDICT_NOT_JUDGED;
}

bool has_judged_with_closed_gaps(const struct check_result *result)
{
    for (size_t i = 0; i < result->verdict_count; i++)
        if (rests_on_gaps(&result->verdicts[i]))
            return true;
    return false;
}

static bool is_same_text(const char *a, const char *b)
{
    return a == b || (a && b && strcmp(a, b) == 0);
}

static const char *name_of(const struct board *board, uint32_t net)
{
    return net < board->net_count ? board->nets[net].name : NULL;
}

const bool *nets_with_closed_gaps(const struct rule_context *context,
                                  const struct check_result *closed, const struct board *open_board)
{
    bool *asks = arena_alloc(context->arena, open_board->net_count + 1, sizeof *asks);
    for (uint32_t net = 0; asks && net < open_board->net_count; net++)
        for (size_t i = 0; i < closed->verdict_count && !asks[net]; i++)
            asks[net] = rests_on_gaps(&closed->verdicts[i]) &&
                        is_same_text(open_board->nets[net].name,
                                     name_of(context->board, closed->verdicts[i].net));
    return asks;
}

/* The verdict on the same net and case in the other run; NULL: it has none there. */
static const struct net_verdict *same_question(const struct board *board,
                                               const struct net_verdict *verdict,
                                               const struct board *open_board,
                                               const struct check_result *open)
{
    for (size_t i = 0; i < open->verdict_count; i++)
        if (is_same_text(name_of(board, verdict->net),
                         name_of(open_board, open->verdicts[i].net)) &&
            is_same_text(verdict->case_name, open->verdicts[i].case_name))
            return &open->verdicts[i];
    return NULL;
}

static bool is_about(const struct finding *finding, const struct net_verdict *verdict)
{
    bool is_of_width = finding->kind == FINDING_NARROW || finding->kind == FINDING_UNASSIGNED;
    return is_of_width && finding->net == verdict->net &&
           is_same_text(finding->case_name, verdict->case_name);
}

static bool is_same_side(const struct board *board, const uint32_t *side, size_t count,
                         const struct board *other_board, const uint32_t *other, size_t other_count)
{
    if (count != other_count)
        return false;
    for (size_t i = 0; i < count; i++)
        if (!is_same_text(board->terminals[side[i]].name, other_board->terminals[other[i]].name))
            return false;
    return true;
}

/* A neck is known by the terminals that it parts; its place may lie anywhere along a strip. */
static bool is_same_neck(const struct board *board, const struct finding *finding,
                         const struct board *other_board, const struct finding *other)
{
    return is_same_side(board, finding->side_a, finding->side_a_count, other_board, other->side_a,
                        other->side_a_count) &&
           is_same_side(board, finding->side_b, finding->side_b_count, other_board, other->side_b,
                        other->side_b_count) &&
           finding->places[0].margin <= other->places[0].margin * (1 + SAME_MARGIN);
}

/* One of the two readings. */
struct reading {
    const struct board *board;
    const struct check_result *result;
    const struct net_verdict *verdict;
};

static bool has_neck(const struct reading *closed, const struct reading *open,
                     const struct finding *neck)
{
    for (size_t i = 0; i < closed->result->finding_count; i++)
        if (is_about(&closed->result->findings[i], closed->verdict) &&
            is_same_neck(closed->board, &closed->result->findings[i], open->board, neck))
            return true;
    return false;
}

/* Is every neck of the open reading found in the closed one as well, and as narrow? */
static bool has_all_necks(const struct reading *closed, const struct reading *open)
{
    for (size_t i = 0; i < open->result->finding_count; i++)
        if (is_about(&open->result->findings[i], open->verdict) &&
            !has_neck(closed, open, &open->result->findings[i]))
            return false;
    return true;
}

/* Does what the verdict says hold with the gaps open as well? */
static bool holds_open(const struct reading *closed, const struct reading *open)
{
    if (!open->verdict)
        return false;
    if (is_pass(closed->verdict->verdict))
        return is_pass(open->verdict->verdict);
    return open->verdict->verdict != VERDICT_NOT_JUDGED && has_all_necks(closed, open);
}

enum rule_status take_back_gap_passes(const struct rule_context *context,
                                      struct check_result *closed, const struct board *open_board,
                                      const struct check_result *open)
{
    for (size_t i = 0; i < closed->verdict_count; i++) {
        struct net_verdict *verdict = &closed->verdicts[i];
        if (!rests_on_gaps(verdict))
            continue;
        const struct reading here = {context->board, closed, verdict};
        const struct reading there = {open_board, open,
                                      same_question(context->board, verdict, open_board, open)};
        if (holds_open(&here, &there))
            continue;
        bool was_pass = is_pass(verdict->verdict);
        if (was_pass)
            verdict->verdict = VERDICT_NOT_JUDGED;
        verdict->reason = arena_printf(
            context->arena,
            "%s only because gaps below %g um between its strokes were closed (%u of them): are "
            "they meant to touch? (--gap-close)",
            was_pass ? "it passes" : "elsewhere it passes",
            context->board->facts.gap_close_um.value, verdict->closed_gap_count);
        if (!verdict->reason)
            return RULE_NO_MEMORY;
    }
    check_result_sort(context->board, closed);
    return RULE_OK;
}
