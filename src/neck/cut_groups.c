/* Which terminals go together in a part, and the most current that can cross any cut of it. */
#include "cut_search.h"

#include <string.h>

/* The distinct vertices of a terminal's entries; seen is clear before and after. */
static uint32_t gather_gates(const struct part *part, uint32_t first, uint32_t end, uint32_t *gates,
                             bool *seen)
{
    uint32_t count = 0;
    for (uint32_t i = first; i < end; i++) {
        uint32_t v = part->entry_vertex[i];
        if (v == ISTHMUS_NONE || seen[v])
            continue;
        seen[v] = true;
        gates[count++] = v;
    }
    for (uint32_t i = 0; i < count; i++)
        seen[gates[i]] = false;
    return count;
}

/* What all terminals with a place at each vertex feed and draw together. */
static struct cut_sums *sum_at_vertices(const struct cut_groups *groups, uint32_t vertex_count,
                                        struct arena *arena)
{
    struct cut_sums *sums = CUT_ALLOC(arena, vertex_count, struct cut_sums);
    for (uint32_t g = 0; sums && g < groups->count; g++)
        for (uint32_t i = 0; i < groups->items[g].gate_count; i++) {
            sums[groups->items[g].gates[i]].feed_a += groups->items[g].feed_a;
            sums[groups->items[g].gates[i]].draw_a += groups->items[g].draw_a;
        }
    return sums;
}

/* The smaller bound counts: what all feeds and draws allow, and what they allow when any one vertex
 * is on this side or that: whoever has a place there is not on the other. */
static double most_current(const struct cut_groups *groups, const struct cut_sums *at_vertex,
                           uint32_t vertex_count, double i_net_a)
{
    double feed_a = 0, draw_a = 0;
    for (uint32_t g = 0; g < groups->count; g++) {
        feed_a += groups->items[g].feed_a;
        draw_a += groups->items[g].draw_a;
    }
    double most = fmin(i_net_a, fmin(feed_a, draw_a));
    for (uint32_t v = 0; v < vertex_count; v++) {
        double without_draw = fmin(feed_a, draw_a - at_vertex[v].draw_a);
        double without_feed = fmin(feed_a - at_vertex[v].feed_a, draw_a);
        most = fmin(most, fmax(without_draw, without_feed));
    }
    /* differences of sums leave crumbs where nothing is */
    return most > 1e-12 * (feed_a + draw_a) ? most * (1 + 1e-12) : 0;
}

bool cut_groups_build(const struct cut_problem *problem, const struct cut_entries *entries,
                      const struct part *part, struct arena *arena, struct cut_groups *out)
{
    uint32_t entry_count = entries->first[entries->terminal_count];
    uint32_t *group_at = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    uint32_t *gates = CUT_ALLOC(arena, entry_count, uint32_t);
    bool *seen = CUT_ALLOC(arena, part->vertex_count, bool);
    *out =
        (struct cut_groups){.items = CUT_ALLOC(arena, entries->terminal_count, struct cut_group)};
    if (!group_at || !gates || !seen || !out->items)
        return false;
    memset(group_at, 0xff, part->vertex_count * sizeof *group_at);
    for (uint32_t t = 0; t < entries->terminal_count; t++) {
        const struct cut_terminal *terminal = &problem->terminals[t];
        uint32_t count = gather_gates(part, entries->first[t], entries->first[t + 1], gates, seen);
        if (count == 0 || (terminal->feed_a <= 0 && terminal->draw_a <= 0))
            continue;
        bool is_split = count > 1 || !isinf(part->vertex_area_mm2[gates[0]]);
        uint32_t g = is_split ? ISTHMUS_NONE : group_at[gates[0]];
        if (g == ISTHMUS_NONE) {
            g = out->count++;
            out->items[g] =
                (struct cut_group){.gates = gates, .gate_count = count, .is_split = is_split};
            if (!is_split)
                group_at[gates[0]] = g;
            gates += count;
        }
        out->items[g].feed_a += terminal->feed_a;
        out->items[g].draw_a += terminal->draw_a;
    }
    struct cut_sums *at_vertex = sum_at_vertices(out, part->vertex_count, arena);
    if (!at_vertex)
        return false;
    out->most_a = most_current(out, at_vertex, part->vertex_count, problem->i_net_a);
    return true;
}
