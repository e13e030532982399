/* Passes that rest on closed gaps are none: compares a check with and without closing. */
#include "isthmus/rule.h"

#include <string.h>

static bool is_pass(enum verdict verdict)
{
    return verdict == VERDICT_PASS || verdict == VERDICT_PASS_BY_SUM;
}

bool has_passed_with_closed_gaps(const struct check_result *result)
{
    for (size_t i = 0; i < result->verdict_count; i++)
        if (is_pass(result->verdicts[i].verdict) && result->verdicts[i].closed_gap_count > 0)
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

enum rule_status take_back_gap_passes(const struct rule_context *context,
                                      struct check_result *closed, const struct board *open_board,
                                      const struct check_result *open)
{
    for (size_t i = 0; i < closed->verdict_count; i++) {
        struct net_verdict *verdict = &closed->verdicts[i];
        if (!is_pass(verdict->verdict) || verdict->closed_gap_count == 0)
            continue;
        const struct net_verdict *other = same_question(context->board, verdict, open_board, open);
        if (other && is_pass(other->verdict))
            continue;
        verdict->verdict = VERDICT_NOT_JUDGED;
        verdict->reason = arena_printf(
            context->arena,
            "it passes only because %u gaps below %g um between its strokes were closed: are they "
            "meant to touch? (--gap-close)",
            verdict->closed_gap_count, context->board->facts.gap_close_um.value);
        if (!verdict->reason)
            return RULE_NO_MEMORY;
    }
    check_result_sort(context->board, closed);
    return RULE_OK;
}
