/* All too narrow cuts of a graph of copper, and the one of least margin. */
#include "isthmus/cut.h"

#include "cut_search.h"

#include <stdlib.h>
#include <string.h>

/* How many further places are looked for after shared ones were found. */
#define SHARED_ROUNDS 200
/* ... as long as the further ones take no more than this: in a wide area hundreds of cuts are about
 * as narrow as the worst one. */
#define FURTHER_EFFORT 50000000U
/* Edges looked at in all, unless the problem says otherwise: about a second for what is narrow, and
 * a fraction of it for the margin of what passes. */
#define EFFORT 400000000U
#define LEAST_PART 2
/* A round of contraction is worth it that takes away more than one vertex or edge in so many. */
#define WORTH_A_ROUND 64
/* No search takes all that is left, so that after a hard one others still have their turn. */
#define LIST_SHARE 4
#define FIRST_SHARE 16

double demand_area_mm2(const struct demand *demand, double current_a)
{
    return current_a > 0 ? pow(current_a / demand->scale_a, demand->exponent) : 0;
}

double cut_current_a(const struct cut_problem *problem, const uint8_t *side)
{
    double feed_a[4] = {0}, draw_a[4] = {0};
    for (size_t t = 0; t < problem->terminal_count; t++) {
        feed_a[side[t] & 3] += problem->terminals[t].feed_a;
        draw_a[side[t] & 3] += problem->terminals[t].draw_a;
    }
    double forth_a = fmin(feed_a[1], draw_a[2]), back_a = fmin(feed_a[2], draw_a[1]);
    return fmin(problem->i_net_a, fmax(forth_a, back_a));
}

struct finder {
    const struct cut_problem *problem;
    struct arena *arena;        /* the caller's: results */
    struct cut_entries entries; /* entry i of terminal t: its i-th node */
    double margin;              /* only cuts below it count */
    bool is_listing;            /* list every narrow cut; else lower `margin` to the least */
    struct cut *cuts;           /* malloc'ed; listing: all found; else the least, at [0] */
    size_t cut_count, cut_capacity;
    uint64_t work, work_limit;
    uint32_t shared_rounds;
    uint64_t further_limit; /* of work, once a shared cut was found; 0 before */
    bool is_single, is_settled, is_apart, has_more;
    bool is_worst_known; /* no search stopped before it had the worst cut of its part */
    bool is_joining;     /* second pass: sides that hang together through a terminal's pads */
    bool *is_edge_listed, *is_node_listed; /* widest pieces of what was listed */
};

/* --- results --- */

/* A sense tap: carries nothing, so it does not tell cuts apart. */
static bool is_tap(const struct cut_problem *problem, size_t t)
{
    return problem->terminals[t].feed_a <= 0 && problem->terminals[t].draw_a <= 0;
}

/* Sides are named so that the first terminal with a current that is on one is on side 1. */
static void name_sides(const struct cut_problem *problem, uint8_t *side)
{
    size_t t = 0, count = problem->terminal_count;
    while (t < count && (is_tap(problem, t) || (side[t] != 1 && side[t] != 2)))
        t++;
    if (t == count || side[t] == 1)
        return;
    for (t = 0; t < count; t++)
        if (side[t] == 1 || side[t] == 2)
            side[t] ^= 3;
}

/* Nobody on one side who can carry current has a row of its own. */
static bool is_unassigned(const struct cut_problem *problem, const uint8_t *side)
{
    bool has_row[4] = {0}, has_any[4] = {0};
    for (size_t t = 0; t < problem->terminal_count; t++) {
        const struct cut_terminal *terminal = &problem->terminals[t];
        if (is_tap(problem, t))
            continue;
        has_any[side[t] & 3] = true;
        has_row[side[t] & 3] |= terminal->has_row;
    }
    return (has_any[1] && !has_row[1]) || (has_any[2] && !has_row[2]);
}

static void note_widest(struct finder *finder, const struct cut *cut)
{
    const struct cut_problem *problem = finder->problem;
    double widest = -1;
    bool *is_listed = NULL;
    for (size_t i = 0; i < cut->edge_count; i++)
        if (problem->edges[cut->edges[i]].area_mm2 > widest) {
            widest = problem->edges[cut->edges[i]].area_mm2;
            is_listed = &finder->is_edge_listed[cut->edges[i]];
        }
    for (size_t i = 0; i < cut->node_count; i++)
        if (problem->nodes[cut->nodes[i]].area_mm2 > widest) {
            widest = problem->nodes[cut->nodes[i]].area_mm2;
            is_listed = &finder->is_node_listed[cut->nodes[i]];
        }
    if (is_listed)
        *is_listed = true;
}

/* Keeps a cut if its margin, computed from its true sides, counts. False without memory. */
static bool keep_cut(struct finder *finder, struct cut cut)
{
    name_sides(finder->problem, cut.side);
    cut.current_a = cut_current_a(finder->problem, cut.side);
    cut.required_mm2 = demand_area_mm2(&finder->problem->demand, cut.current_a);
    if (cut.required_mm2 <= 0)
        return true;
    cut.margin = cut.area_mm2 / cut.required_mm2;
    cut.is_unassigned = is_unassigned(finder->problem, cut.side);
    if (cut.margin >= finder->margin)
        return true;
    if (!finder->is_listing) {
        finder->margin = cut.margin;
        finder->cut_count = 0;
    }
    if (finder->is_listing)
        note_widest(finder, &cut);
    if (!array_grow(&finder->cuts, sizeof *finder->cuts, &finder->cut_capacity,
                    finder->cut_count + 1))
        return false;
    finder->cuts[finder->cut_count++] = cut;
    return true;
}

static bool alloc_cut(struct finder *finder, size_t edge_count, size_t node_count, struct cut *out)
{
    *out = (struct cut){0};
    out->side = CUT_ALLOC(finder->arena, finder->problem->terminal_count, uint8_t);
    out->edges = CUT_ALLOC(finder->arena, edge_count, uint32_t);
    out->nodes = CUT_ALLOC(finder->arena, node_count, uint32_t);
    return out->side && out->edges && out->nodes;
}

/* --- blocks of two vertices: one cut, all their edges --- */

/* Gate A or B of each terminal at a block whose vertices are the root's gate and v. */
static void read_bundle_sides(const struct finder *finder, const struct part *part,
                              const struct block_forest *forest, uint32_t block, uint8_t *side)
{
    for (uint32_t t = 0; t < finder->entries.terminal_count; t++)
        for (uint32_t i = finder->entries.first[t]; i < finder->entries.first[t + 1]; i++) {
            uint32_t vertex = part->entry_vertex[i];
            uint32_t gate =
                vertex == ISTHMUS_NONE ? ISTHMUS_NONE : block_gate(forest, block, vertex);
            if (gate != ISTHMUS_NONE)
                side[t] |= gate == forest->block_parent[block] ? 1 : 2;
        }
}

static double bundle_current(const struct finder *finder, const struct block_forest *forest,
                             uint32_t block)
{
    uint32_t gate = forest->block_parent[block];
    const struct cut_sums *all = &forest->all[forest->component[gate]];
    struct cut_sums below = forest->block_below[block], across = forest->block_across[block];
    double feed_a = all->feed_a - below.feed_a - across.feed_a;
    double draw_a = all->draw_a - below.draw_a - across.draw_a;
    double crumb_a = 1e-12 * (all->feed_a + all->draw_a); /* differences of sums are not exact */
    double current_a = fmax(fmin(feed_a, below.draw_a), fmin(below.feed_a, draw_a));
    return current_a > crumb_a ? fmin(finder->problem->i_net_a, current_a + crumb_a) : 0;
}

static bool judge_bundle(struct finder *finder, const struct part *part,
                         const struct block_forest *forest, uint32_t block)
{
    uint32_t first = forest->block_edge_first[block], end = forest->block_edge_first[block + 1];
    double area = 0;
    for (uint32_t i = first; i < end; i++)
        area += part->edges[forest->block_edges[i]].area_mm2;
    double required =
        demand_area_mm2(&finder->problem->demand, bundle_current(finder, forest, block));
    if (required <= 0)
        return true;
    if (area >= finder->margin * required)
        return true;
    struct cut cut;
    if (!alloc_cut(finder, end - first, 0, &cut))
        return false;
    for (uint32_t i = first; i < end; i++)
        cut.edges[cut.edge_count++] = part->edges[forest->block_edges[i]].index;
    cut.area_mm2 = area;
    read_bundle_sides(finder, part, forest, block, cut.side);
    return keep_cut(finder, cut);
}

/* --- blocks of more vertices --- */

static bool keep_part_cut(struct finder *finder, const struct part *part, const uint8_t *label,
                          double area_mm2)
{
    struct cut cut;
    size_t edge_count = 0, node_count = 0;
    for (uint32_t e = 0; e < part->edge_count; e++)
        edge_count += (label[part->edges[e].a] ^ label[part->edges[e].b]) == CUT_THROUGH;
    for (uint32_t v = 0; v < part->vertex_count; v++)
        node_count += label[v] == CUT_THROUGH;
    if (!alloc_cut(finder, edge_count, node_count, &cut))
        return false;
    for (uint32_t e = 0; e < part->edge_count; e++)
        if ((label[part->edges[e].a] ^ label[part->edges[e].b]) == CUT_THROUGH)
            cut.edges[cut.edge_count++] = part->edges[e].index;
    for (uint32_t v = 0; v < part->vertex_count; v++)
        if (label[v] == CUT_THROUGH)
            cut.nodes[cut.node_count++] = part->vertex_node[v];
    for (uint32_t t = 0; t < finder->entries.terminal_count; t++)
        for (uint32_t i = finder->entries.first[t]; i < finder->entries.first[t + 1]; i++)
            if (part->entry_vertex[i] != ISTHMUS_NONE)
                cut.side[t] |= label[part->entry_vertex[i]];
    cut.area_mm2 = area_mm2;
    return keep_cut(finder, cut);
}

static bool judge_part(struct finder *finder, const struct part *part);

/* One search with a share of the effort that is left; label (the caller's) gets what was found. */
static bool search_once(struct finder *finder, const struct part *part,
                        const struct cut_groups *groups, uint64_t share, struct part_cut *found,
                        struct seen_cuts *seen, bool *is_settled)
{
    uint64_t left = finder->work < finder->work_limit ? finder->work_limit - finder->work : 0;
    struct part_search_limits limits = {.margin_below = finder->margin,
                                        .work = &finder->work,
                                        .work_limit = finder->work + left / share,
                                        .seen = seen};
    struct arena *own = arena_new("cut search"); /* freed before the next round starts */
    uint8_t *label = found->label;
    *is_settled = true;
    bool is_ok = own && part_search(finder->problem, part, groups, limits, own, found, is_settled);
    if (is_ok && found->is_found)
        memcpy(label, found->label, part->vertex_count);
    found->label = label;
    arena_free(own);
    return is_ok;
}

static bool copy_part(const struct part *part, struct arena *arena, struct part *out)
{
    *out = *part;
    out->edges = CUT_ALLOC(arena, part->edge_count, struct part_edge);
    out->vertex_area_mm2 = CUT_ALLOC(arena, part->vertex_count, double);
    if (!out->edges || !out->vertex_area_mm2)
        return false;
    if (part->edge_count)
        memcpy(out->edges, part->edges, part->edge_count * sizeof *out->edges);
    memcpy(out->vertex_area_mm2, part->vertex_area_mm2,
           part->vertex_count * sizeof *out->vertex_area_mm2);
    return true;
}

/* Does it run along a piece that counts as wide enough? */
static bool is_spared(const struct part *part, const uint8_t *label)
{
    for (uint32_t e = 0; e < part->edge_count; e++)
        if (isinf(part->edges[e].area_mm2) &&
            (label[part->edges[e].a] ^ label[part->edges[e].b]) == CUT_THROUGH)
            return true;
    for (uint32_t v = 0; v < part->vertex_count; v++)
        if (label[v] == CUT_THROUGH && isinf(part->vertex_area_mm2[v]))
            return true;
    return false;
}

/* Lists what was seen, the worst first, but what shares the widest piece of a worse one: these
 * pieces are taken as wide enough in `rest`, so that other places are found too. */
static bool keep_seen(struct finder *finder, const struct seen_cuts *seen, struct part *rest)
{
    for (uint32_t i = 0; i < seen->count && finder->shared_rounds > 0; i++) {
        const struct seen_cut *item = &seen->items[i];
        if (is_spared(rest, item->label))
            continue;
        if (!keep_part_cut(finder, rest, item->label, item->area_mm2))
            return false;
        if (item->is_edge)
            rest->edges[item->widest].area_mm2 = INFINITY;
        else
            rest->vertex_area_mm2[item->widest] = INFINITY;
        finder->shared_rounds--;
    }
    return true;
}

/* Lists the worst cut of the part and what came with it, then looks at what is left of it. */
static bool list_part(struct finder *finder, const struct part *part,
                      const struct cut_groups *groups, struct arena *arena)
{
    struct part_cut found = {.label = CUT_ALLOC(arena, part->vertex_count, uint8_t)};
    struct seen_cuts *seen = CUT_ALLOC(arena, 1, struct seen_cuts);
    struct part rest;
    bool is_settled;
    if (!found.label || !seen || !copy_part(part, arena, &rest))
        return false;
    seen->arena = arena;
    if (!search_once(finder, part, groups, LIST_SHARE, &found, seen, &is_settled))
        return false;
    finder->is_worst_known &= is_settled;
    if (!found.is_found) {
        finder->is_settled &= is_settled;
        return true;
    }
    if (!keep_seen(finder, seen, &rest))
        return false;
    if (finder->further_limit == 0)
        finder->further_limit = finder->work + FURTHER_EFFORT;
    if (finder->shared_rounds == 0 || finder->work > finder->further_limit) {
        finder->has_more = true;
        return true;
    }
    return judge_part(finder, &rest);
}

/* Lowers the least margin. A short search first: what it finds lets the part shrink. */
static bool lower_margin(struct finder *finder, const struct part *part,
                         const struct cut_groups *groups, struct arena *arena)
{
    struct part_cut found = {.label = CUT_ALLOC(arena, part->vertex_count, uint8_t)};
    bool is_settled;
    if (!found.label || !search_once(finder, part, groups, FIRST_SHARE, &found, NULL, &is_settled))
        return false;
    if (!is_settled && !found.is_found &&
        !search_once(finder, part, groups, 1, &found, NULL, &is_settled))
        return false;
    double margin = finder->margin;
    if (found.is_found && !keep_part_cut(finder, part, found.label, found.area_mm2))
        return false;
    if (finder->margin < margin && !is_settled)
        return judge_part(finder, part);
    finder->is_settled &= is_settled;
    return true;
}

/* Makes a part of a block: what hangs at its vertices goes with them. What only joins the places of
 * a terminal (vertices and edges that `part` does not have) stays behind. */
static bool take_block(const struct finder *finder, const struct part *part,
                       const struct block_forest *forest, uint32_t block, uint32_t *number,
                       struct arena *arena, struct part *out)
{
    uint32_t first = forest->block_vertex_first[block], end = forest->block_vertex_end[block];
    uint32_t first_edge = forest->block_edge_first[block];
    uint32_t end_edge = forest->block_edge_first[block + 1];
    uint32_t entry_count = finder->entries.first[finder->entries.terminal_count];
    *out = (struct part){0};
    out->edges = CUT_ALLOC(arena, end_edge - first_edge, struct part_edge);
    out->vertex_area_mm2 = CUT_ALLOC(arena, end - first, double);
    out->vertex_node = CUT_ALLOC(arena, end - first, uint32_t);
    out->entry_vertex = CUT_ALLOC(arena, entry_count, uint32_t);
    if (!out->edges || !out->vertex_area_mm2 || !out->vertex_node || !out->entry_vertex)
        return false;
    for (uint32_t i = first; i < end; i++) {
        uint32_t v = forest->block_vertices[i];
        if (v >= part->vertex_count)
            continue;
        number[v] = out->vertex_count;
        out->vertex_area_mm2[out->vertex_count] = part->vertex_area_mm2[v];
        out->vertex_node[out->vertex_count++] = part->vertex_node[v];
    }
    for (uint32_t i = first_edge; i < end_edge; i++) {
        if (forest->block_edges[i] >= part->edge_count)
            continue;
        struct part_edge edge = part->edges[forest->block_edges[i]];
        edge.a = number[edge.a];
        edge.b = number[edge.b];
        out->edges[out->edge_count++] = edge;
    }
    for (uint32_t i = 0; i < entry_count; i++) {
        uint32_t v = part->entry_vertex[i];
        uint32_t gate = v == ISTHMUS_NONE ? ISTHMUS_NONE : block_gate(forest, block, v);
        out->entry_vertex[i] = gate == ISTHMUS_NONE ? ISTHMUS_NONE : number[gate];
    }
    return true;
}

static bool is_bundle(const struct part *part, const struct block_forest *forest, uint32_t block)
{
    uint32_t first = forest->block_vertex_first[block];
    return forest->block_vertex_end[block] - first == 2 &&
           isinf(part->vertex_area_mm2[forest->block_vertices[first]]) &&
           isinf(part->vertex_area_mm2[forest->block_vertices[first + 1]]);
}

static bool judge_block(struct finder *finder, const struct part *part,
                        const struct block_forest *forest, uint32_t block, uint32_t *number)
{
    struct arena *own = arena_new("cut block");
    struct part taken;
    bool is_ok = own && take_block(finder, part, forest, block, number, own, &taken) &&
                 judge_part(finder, &taken);
    arena_free(own);
    return is_ok;
}

static bool judge_blocks(struct finder *finder, const struct part *part, struct arena *arena)
{
    struct block_forest forest;
    uint32_t *number = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    if (!number || !block_forest_build(part, arena, &forest) ||
        !block_forest_sum(finder->problem, &finder->entries, part, arena, &forest))
        return false;
    for (uint32_t b = 0; b < forest.block_count; b++)
        if (is_bundle(part, &forest, b) && !judge_bundle(finder, part, &forest, b))
            return false;
    for (uint32_t b = 0; b < forest.block_count; b++) {
        if (is_bundle(part, &forest, b))
            continue;
        if (!judge_block(finder, part, &forest, b, number))
            return false;
    }
    return true;
}

static bool has_joint(const struct part *part, const struct block_forest *forest, uint32_t block)
{
    for (uint32_t i = forest->block_vertex_first[block]; i < forest->block_vertex_end[block]; i++)
        if (forest->block_vertices[i] >= part->vertex_count)
            return true;
    return false;
}

/* Blocks that the pads of a terminal make one: their sides may hang together through it. */
static bool judge_joined_blocks(struct finder *finder, const struct part *part, struct arena *arena)
{
    struct part joined;
    struct block_forest forest;
    uint32_t *number = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    if (!number || !part_join_places(finder->problem, &finder->entries, part, arena, &joined) ||
        !block_forest_build(&joined, arena, &forest))
        return false;
    for (uint32_t b = 0; b < forest.block_count; b++)
        if (has_joint(part, &forest, b) && !judge_block(finder, part, &forest, b, number))
            return false;
    return true;
}

/* Does the part hang together as one block, so that it cannot be judged in parts? */
static bool is_one_block(const struct finder *finder, const struct part *part, struct arena *arena,
                         bool *out)
{
    struct part joined = *part;
    struct block_forest forest;
    if (finder->is_joining &&
        !part_join_places(finder->problem, &finder->entries, part, arena, &joined))
        return false;
    if (!block_forest_build(&joined, arena, &forest))
        return false;
    *out = forest.block_count == 1 && forest.component_count == 1 &&
           (finder->is_joining ? has_joint(part, &forest, 0) : !is_bundle(part, &forest, 0));
    return true;
}

/* Such a part falls apart at any one piece: nothing is shared. (Where two holes touch, a cut might
 * run through both.) */
static bool is_tree_about_holes(const struct part *part)
{
    for (uint32_t e = 0; e < part->edge_count; e++)
        if (!isinf(part->vertex_area_mm2[part->edges[e].a]) &&
            !isinf(part->vertex_area_mm2[part->edges[e].b]))
            return false;
    return part->edge_count < part->vertex_count;
}

/* Contraction only spares effort: one that unites next to nothing is not worth another round. */
static bool is_much_less(const struct part *rest, const struct part *part)
{
    return rest->vertex_count < part->vertex_count - part->vertex_count / WORTH_A_ROUND ||
           rest->edge_count < part->edge_count - part->edge_count / WORTH_A_ROUND;
}

static bool judge_part_in(struct finder *finder, const struct part *part, struct arena *arena)
{
    struct cut_groups groups;
    struct part rest;
    bool is_whole;
    if (!cut_groups_build(finder->problem, &finder->entries, part, arena, &groups))
        return false;
    double required = demand_area_mm2(&finder->problem->demand, groups.most_a);
    if (required <= 0)
        return true;
    if (!part_contract(part, fmax(finder->margin, 1) * required,
                       finder->entries.first[finder->entries.terminal_count], arena, &rest) ||
        !is_one_block(finder, &rest, arena, &is_whole))
        return false;
    if (!is_whole)
        return finder->is_joining ? judge_joined_blocks(finder, &rest, arena)
                                  : judge_blocks(finder, &rest, arena);
    if (is_much_less(&rest, part))
        return judge_part(finder, &rest);
    if (!part_contract_shared(part, fmax(finder->margin, 1) * required,
                              finder->entries.first[finder->entries.terminal_count], arena, &rest))
        return false;
    if (is_much_less(&rest, part))
        return judge_part(finder, &rest);
    return finder->is_listing ? list_part(finder, part, &groups, arena)
                              : lower_margin(finder, part, &groups, arena);
}

static bool judge_part(struct finder *finder, const struct part *part)
{
    struct arena *arena = arena_new("cut part");
    bool is_ok = arena && judge_part_in(finder, part, arena);
    arena_free(arena);
    return is_ok;
}

/* --- the whole --- */

/* The problem as a part: every node a vertex. */
static bool part_of_problem(const struct cut_problem *problem, const struct cut_entries *entries,
                            struct arena *arena, struct part *out)
{
    *out = (struct part){.vertex_count = (uint32_t)problem->node_count};
    out->edges = CUT_ALLOC(arena, problem->edge_count, struct part_edge);
    out->vertex_area_mm2 = CUT_ALLOC(arena, problem->node_count, double);
    out->vertex_node = CUT_ALLOC(arena, problem->node_count, uint32_t);
    out->entry_vertex = CUT_ALLOC(arena, entries->first[entries->terminal_count], uint32_t);
    if (!out->edges || !out->vertex_area_mm2 || !out->vertex_node || !out->entry_vertex)
        return false;
    for (uint32_t v = 0; v < out->vertex_count; v++) {
        out->vertex_area_mm2[v] = fmax(problem->nodes[v].area_mm2, 0);
        out->vertex_node[v] = v;
    }
    for (uint32_t e = 0; e < problem->edge_count; e++)
        out->edges[out->edge_count++] =
            (struct part_edge){.a = problem->edges[e].a,
                               .b = problem->edges[e].b,
                               .index = e,
                               .area_mm2 = fmax(problem->edges[e].area_mm2, 0)};
    for (uint32_t t = 0; t < entries->terminal_count; t++)
        for (uint32_t i = entries->first[t]; i < entries->first[t + 1]; i++)
            out->entry_vertex[i] = problem->terminals[t].nodes[i - entries->first[t]];
    return true;
}

/* Pieces of copper that current would have to leap between: each against all the others. */
static bool is_apart(const struct finder *finder, const struct part *part,
                     const struct block_forest *forest, uint8_t *side)
{
    for (uint32_t c = 0; c < forest->component_count; c++) {
        if (forest->all[c].feed_a <= 0 && forest->all[c].draw_a <= 0)
            continue;
        memset(side, 0, finder->entries.terminal_count);
        for (uint32_t t = 0; t < finder->entries.terminal_count; t++)
            for (uint32_t i = finder->entries.first[t]; i < finder->entries.first[t + 1]; i++)
                side[t] |= forest->component[part->entry_vertex[i]] == c ? 1 : 2;
        if (cut_current_a(finder->problem, side) > 0)
            return true;
    }
    return false;
}

/* The widest pieces of what was listed count as wide enough. */
static void widen_listed(const struct finder *finder, struct part *whole)
{
    for (uint32_t e = 0; e < whole->edge_count; e++)
        if (finder->is_edge_listed[e])
            whole->edges[e].area_mm2 = INFINITY;
    for (uint32_t v = 0; v < whole->vertex_count; v++)
        if (finder->is_node_listed[v])
            whole->vertex_area_mm2[v] = INFINITY;
}

static bool contract_all(const struct finder *finder, const struct part *whole, struct arena *arena,
                         struct part *out)
{
    const struct cut_problem *problem = finder->problem;
    double enough = fmax(finder->margin, 1) * demand_area_mm2(&problem->demand, problem->i_net_a);
    return part_contract(whole, enough, finder->entries.first[problem->terminal_count], arena, out);
}

static bool has_joints(const struct finder *finder, const struct part *part, struct arena *arena,
                       bool *out)
{
    struct part joined;
    if (!part_join_places(finder->problem, &finder->entries, part, arena, &joined))
        return false;
    *out = joined.vertex_count > part->vertex_count;
    return true;
}

/* What was listed hides cuts behind its widest pieces: is any of them the worst of all? */
static bool list_worst_joined(struct finder *finder, const struct part *part, struct arena *arena)
{
    struct finder least = *finder;
    least.cuts = NULL;
    least.cut_count = least.cut_capacity = 0;
    least.is_listing = false;
    least.is_settled = true;
    for (size_t i = 0; i < finder->cut_count; i++)
        least.margin = fmin(least.margin, finder->cuts[i].margin);
    bool is_ok = judge_joined_blocks(&least, part, arena);
    finder->work = least.work;
    finder->is_worst_known &= least.is_settled;
    if (is_ok && least.cut_count)
        is_ok = keep_cut(finder, least.cuts[0]);
    free(least.cuts);
    return is_ok;
}

/* Cuts whose sides hang together only through the pads of a terminal. */
static bool judge_joined(struct finder *finder, struct part *whole, struct arena *arena)
{
    struct part rest;
    bool is_any;
    finder->is_joining = true;
    if (!contract_all(finder, whole, arena, &rest) || !has_joints(finder, &rest, arena, &is_any))
        return false;
    if (!is_any || !finder->is_listing || finder->cut_count == 0)
        return !is_any || judge_joined_blocks(finder, &rest, arena);
    if (!list_worst_joined(finder, &rest, arena))
        return false;
    widen_listed(finder, whole);
    return contract_all(finder, whole, arena, &rest) && judge_joined_blocks(finder, &rest, arena);
}

/* Within a block every piece lies beside others: one that would not do alone shares. */
static bool note_sharing(struct finder *finder, const struct part *block, bool has_joint,
                         struct arena *arena)
{
    struct cut_groups groups;
    if (!has_joint && is_tree_about_holes(block))
        return true;
    if (!cut_groups_build(finder->problem, &finder->entries, block, arena, &groups))
        return false;
    double required = demand_area_mm2(&finder->problem->demand, groups.most_a);
    for (uint32_t e = 0; e < block->edge_count; e++)
        finder->is_single &= block->edges[e].area_mm2 >= required * (1 - CUT_ROUNDING);
    for (uint32_t v = 0; v < block->vertex_count; v++)
        finder->is_single &= block->vertex_area_mm2[v] >= required * (1 - CUT_ROUNDING);
    return true;
}

/* Before anything is contracted: a thin way beside a wide one must not vanish unseen. */
static bool look_for_sharing(struct finder *finder, const struct part *whole, struct arena *arena)
{
    struct part plain, joined; /* plain: without edges from a vertex to itself */
    struct block_forest forest;
    uint32_t *number = CUT_ALLOC(arena, whole->vertex_count, uint32_t);
    if (!number ||
        !part_contract(whole, INFINITY, finder->entries.first[finder->entries.terminal_count],
                       arena, &plain) ||
        !part_join_places(finder->problem, &finder->entries, &plain, arena, &joined) ||
        !block_forest_build(&joined, arena, &forest))
        return false;
    for (uint32_t b = 0; b < forest.block_count && finder->is_single; b++) {
        struct arena *own = arena_new("cut sharing");
        struct part block;
        bool is_ok = own && take_block(finder, &plain, &forest, b, number, own, &block) &&
                     note_sharing(finder, &block, has_joint(&plain, &forest, b), own);
        arena_free(own);
        if (!is_ok)
            return false;
    }
    return true;
}

/* First the cuts whose sides hang together by themselves. */
static bool judge_problem_in(struct finder *finder, struct arena *arena)
{
    struct part whole, rest;
    struct block_forest forest;
    const struct cut_problem *problem = finder->problem;
    uint8_t *side = CUT_ALLOC(arena, problem->terminal_count, uint8_t);
    finder->is_edge_listed = CUT_ALLOC(arena, problem->edge_count, bool);
    finder->is_node_listed = CUT_ALLOC(arena, problem->node_count, bool);
    finder->is_joining = false;
    if (!side || !finder->is_edge_listed || !finder->is_node_listed ||
        !part_of_problem(problem, &finder->entries, arena, &whole) ||
        !contract_all(finder, &whole, arena, &rest) || !block_forest_build(&rest, arena, &forest) ||
        !block_forest_sum(problem, &finder->entries, &rest, arena, &forest))
        return false;
    finder->is_apart = is_apart(finder, &rest, &forest, side);
    if (finder->is_apart)
        return true;
    if (finder->is_single && !look_for_sharing(finder, &whole, arena))
        return false;
    return judge_blocks(finder, &rest, arena) && judge_joined(finder, &whole, arena);
}

static bool judge_problem(struct finder *finder)
{
    struct arena *arena = arena_new("cut");
    bool is_ok = arena && judge_problem_in(finder, arena);
    arena_free(arena);
    return is_ok;
}

/* --- order --- */

struct ranked {
    struct cut cut;
    double group_margin; /* the worst with the same sides */
    const struct cut_problem *problem;
};

static int compare_sides(const struct ranked *a, const struct ranked *b)
{
    for (size_t t = 0; t < a->problem->terminal_count; t++)
        if (a->cut.side[t] != b->cut.side[t] && !is_tap(a->problem, t))
            return a->cut.side[t] < b->cut.side[t] ? -1 : 1;
    return 0;
}

static int compare_pieces(const struct ranked *a, const struct ranked *b)
{
    if (a->cut.margin != b->cut.margin)
        return a->cut.margin < b->cut.margin ? -1 : 1;
    for (size_t i = 0; i < a->cut.edge_count && i < b->cut.edge_count; i++)
        if (a->cut.edges[i] != b->cut.edges[i])
            return a->cut.edges[i] < b->cut.edges[i] ? -1 : 1;
    if (a->cut.edge_count != b->cut.edge_count)
        return a->cut.edge_count < b->cut.edge_count ? -1 : 1;
    for (size_t i = 0; i < a->cut.node_count && i < b->cut.node_count; i++)
        if (a->cut.nodes[i] != b->cut.nodes[i])
            return a->cut.nodes[i] < b->cut.nodes[i] ? -1 : 1;
    return 0;
}

static int compare_by_sides(const void *a, const void *b)
{
    int order = compare_sides(a, b);
    return order ? order : compare_pieces(a, b);
}

static int compare_by_rank(const void *a, const void *b)
{
    const struct ranked *left = a, *right = b;
    if (left->group_margin != right->group_margin)
        return left->group_margin < right->group_margin ? -1 : 1;
    return compare_by_sides(a, b);
}

static int compare_index(const void *a, const void *b)
{
    uint32_t left = *(const uint32_t *)a, right = *(const uint32_t *)b;
    return left < right ? -1 : left > right;
}

/* Cuts with equal sides together, the worst first within and among them. */
static bool rank_cuts(struct finder *finder, struct arena *scratch)
{
    size_t count = finder->cut_count;
    struct ranked *ranked = CUT_ALLOC(scratch, count, struct ranked);
    if (!ranked)
        return false;
    for (size_t i = 0; i < count; i++) {
        struct cut *cut = &finder->cuts[i];
        qsort(cut->edges, cut->edge_count, sizeof *cut->edges, compare_index);
        qsort(cut->nodes, cut->node_count, sizeof *cut->nodes, compare_index);
        ranked[i] = (struct ranked){.cut = *cut, .problem = finder->problem};
    }
    qsort(ranked, count, sizeof *ranked, compare_by_sides);
    for (size_t i = 0; i < count; i++) {
        bool is_same = i > 0 && compare_sides(&ranked[i - 1], &ranked[i]) == 0;
        ranked[i].group_margin = is_same ? ranked[i - 1].group_margin : ranked[i].cut.margin;
    }
    qsort(ranked, count, sizeof *ranked, compare_by_rank);
    for (size_t i = 0; i < count; i++)
        finder->cuts[i] = ranked[i].cut;
    return true;
}

/* Hands out what was listed, in order. */
static bool give_list(struct finder *finder, struct cut **out, size_t *out_count)
{
    struct arena *scratch = arena_new("cut order");
    bool is_ok = scratch && rank_cuts(finder, scratch);
    arena_free(scratch);
    struct cut *list = is_ok ? CUT_ALLOC(finder->arena, finder->cut_count, struct cut) : NULL;
    if (!list)
        return false;
    if (finder->cut_count)
        memcpy(list, finder->cuts, finder->cut_count * sizeof *list);
    *out = list;
    *out_count = finder->cut_count;
    return true;
}

static bool give_narrow(struct finder *finder, struct cut_result *out)
{
    if (!give_list(finder, &out->narrow, &out->narrow_count))
        return false;
    out->has_least = out->narrow_count > 0;
    if (out->has_least)
        out->least = out->narrow[0];
    out->is_single_everywhere = finder->is_single;
    out->is_proved = finder->is_settled;
    out->has_more = finder->has_more;
    out->is_least_proved = finder->is_settled && finder->is_worst_known;
    return true;
}

static void start_again(struct finder *finder, bool is_listing, double margin)
{
    finder->is_listing = is_listing;
    finder->is_settled = finder->is_worst_known = true;
    finder->has_more = false;
    finder->margin = margin;
    finder->cut_count = 0;
    finder->work = 0;
    finder->shared_rounds = SHARED_ROUNDS;
    finder->further_limit = 0;
}

/* For a net that passes: the least margin up to the limit. */
static bool give_least(struct finder *finder, double margin_limit, struct cut_result *out)
{
    finder->work_limit /= LEAST_PART;
    start_again(finder, false, margin_limit);
    if (!judge_problem(finder))
        return false;
    out->is_least_proved = finder->is_settled;
    out->has_least = finder->cut_count > 0;
    if (out->has_least)
        out->least = finder->cuts[0];
    return true;
}

/* For a net that passes and may share: the cuts that have to be looked at. */
static bool give_near(struct finder *finder, double margin_limit, struct cut_result *out)
{
    if (finder->problem->has_no_near)
        return true;
    if (out->is_single_everywhere || !out->has_least) {
        out->is_near_complete = true;
        return true;
    }
    start_again(finder, true, margin_limit);
    if (!judge_problem(finder) || !give_list(finder, &out->near, &out->near_count))
        return false;
    out->is_near_complete = finder->is_settled && !finder->has_more;
    return true;
}

static bool make_entries(const struct cut_problem *problem, struct arena *arena,
                         struct cut_entries *out)
{
    out->terminal_count = (uint32_t)problem->terminal_count;
    out->first = CUT_ALLOC(arena, problem->terminal_count + 1, uint32_t);
    if (!out->first)
        return false;
    for (size_t t = 0; t < problem->terminal_count; t++)
        out->first[t + 1] = out->first[t] + (uint32_t)problem->terminals[t].node_count;
    return true;
}

static bool find_all(struct finder *finder, double margin_limit, struct cut_result *out)
{
    bool is_wide_known = finder->problem->is_wide_known;
    if (!make_entries(finder->problem, finder->arena, &finder->entries) ||
        (!is_wide_known && !judge_problem(finder)))
        return false;
    if (finder->is_apart)
        return true;
    if (!give_narrow(finder, out))
        return false;
    if (out->narrow_count > 0 || margin_limit <= 1)
        return true;
    if (!give_least(finder, margin_limit, out))
        return false;
    out->is_single_everywhere = finder->is_single;
    return finder->is_apart || give_near(finder, margin_limit, out);
}

enum cut_status cut_find(const struct cut_problem *problem, double margin_limit,
                         struct arena *arena, struct cut_result *out)
{
    struct finder finder = {.problem = problem,
                            .arena = arena,
                            .margin = 1 - CUT_ROUNDING,
                            .is_listing = true,
                            .work_limit = problem->effort ? problem->effort : EFFORT,
                            .shared_rounds = SHARED_ROUNDS,
                            .is_single = true,
                            .is_settled = true,
                            .is_worst_known = true};
    *out = (struct cut_result){0};
    bool is_ok = find_all(&finder, margin_limit, out);
    free(finder.cuts);
    if (!is_ok)
        return CUT_NO_MEMORY;
    return finder.is_apart ? CUT_APART : CUT_OK;
}
