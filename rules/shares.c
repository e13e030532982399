#include "shares.h"

static bool is_shared(const struct end *end)
{
    return end->is_group && end->terminal_count > 1;
}

static bool split_ends(const struct board *board, const struct net_question *question,
                       struct arena *arena, struct net_question *out)
{
    size_t count = 0;
    for (size_t e = 0; e < question->end_count; e++)
        count += is_shared(&question->ends[e]) ? question->ends[e].terminal_count : 1;
    out->ends = arena_alloc(arena, count + 1, sizeof *out->ends);
    if (!out->ends)
        return false;
    out->end_count = 0;
    for (size_t e = 0; e < question->end_count; e++) {
        const struct end *end = &question->ends[e];
        if (!is_shared(end)) {
            out->ends[out->end_count] = *end;
            out->ends[out->end_count++].is_group = false;
            continue;
        }
        for (size_t t = 0; t < end->terminal_count; t++)
            out->ends[out->end_count++] =
                (struct end){.name = board->terminals[end->terminals[t]].name,
                             .terminals = &end->terminals[t],
                             .terminal_count = 1,
                             .is_group = true};
    }
    return true;
}

static bool split_case(const struct net_question *question, const struct net_case *from,
                       size_t end_count, struct arena *arena, struct net_case *out)
{
    *out = *from;
    out->feed_a = arena_alloc(arena, end_count, sizeof *out->feed_a);
    out->draw_a = arena_alloc(arena, end_count, sizeof *out->draw_a);
    out->has_row = arena_alloc(arena, end_count, sizeof *out->has_row);
    if (!out->feed_a || !out->draw_a || !out->has_row)
        return false;
    size_t i = 0;
    for (size_t e = 0; e < question->end_count; e++) {
        size_t count = is_shared(&question->ends[e]) ? question->ends[e].terminal_count : 1;
        for (size_t k = 0; k < count; k++, i++) {
            out->feed_a[i] = from->feed_a[e] / (double)count;
            out->draw_a[i] = from->draw_a[e] / (double)count;
            out->has_row[i] = from->has_row[e];
        }
    }
    return true;
}

bool shares_split(const struct board *board, const struct net_question *question,
                  struct arena *arena, struct net_question *out, bool *has_groups)
{
    *out = *question;
    *has_groups = false;
    for (size_t e = 0; e < question->end_count; e++)
        *has_groups |= is_shared(&question->ends[e]);
    if (!*has_groups)
        return true;
    out->cases = arena_alloc(arena, question->case_count, sizeof *out->cases);
    if (!out->cases || !split_ends(board, question, arena, out))
        return false;
    for (size_t c = 0; c < question->case_count; c++)
        if (!split_case(question, &question->cases[c], out->end_count, arena, &out->cases[c]))
            return false;
    return true;
}

static bool is_one_pad(const struct net_question *split, const uint8_t *side, uint8_t which)
{
    size_t count = 0, end = 0;
    for (size_t e = 0; e < split->end_count; e++)
        if (side[e] == which) {
            count++;
            end = e;
        }
    return count == 1 && split->ends[end].is_group;
}

void shares_keep_pads(const struct net_question *split, struct neck_result *found)
{
    size_t kept = 0;
    for (size_t i = 0; i < found->neck_count; i++) {
        const struct neck *neck = &found->necks[i];
        if (!neck->is_unassigned &&
            (is_one_pad(split, neck->side, 1) || is_one_pad(split, neck->side, 2)))
            found->necks[kept++] = *neck;
    }
    found->neck_count = kept;
}
