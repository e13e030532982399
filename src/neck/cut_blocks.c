/* Blocks of a part and what hangs at their vertices, in time linear in the part. */
#include "cut_part.h"

#include <string.h>

/* The walk that finds blocks: R. Tarjan, SIAM J. Comput. 1 (1972), from memory; no recursion. */
struct walk {
    const struct part *part;
    struct incidence incidence;
    uint32_t *found, *low, *next, *edge_in, *stack, *edge_stack;
    uint32_t clock, stack_count, edge_stack_count;
    uint32_t *block_of_edge, block_count;
};

static bool walk_init(struct walk *walk, const struct part *part, struct arena *arena)
{
    size_t n = part->vertex_count, m = part->edge_count;
    *walk = (struct walk){.part = part};
    walk->found = CUT_ALLOC(arena, n, uint32_t);
    walk->low = CUT_ALLOC(arena, n, uint32_t);
    walk->next = CUT_ALLOC(arena, n, uint32_t);
    walk->edge_in = CUT_ALLOC(arena, n, uint32_t);
    walk->stack = CUT_ALLOC(arena, n, uint32_t);
    walk->edge_stack = CUT_ALLOC(arena, m, uint32_t);
    walk->block_of_edge = CUT_ALLOC(arena, m, uint32_t);
    return walk->found && walk->low && walk->next && walk->edge_in && walk->stack &&
           walk->edge_stack && walk->block_of_edge &&
           incidence_build(part, arena, &walk->incidence);
}

static void walk_enter(struct walk *walk, uint32_t v, uint32_t edge_in)
{
    walk->found[v] = walk->low[v] = ++walk->clock;
    walk->next[v] = walk->incidence.first[v];
    walk->edge_in[v] = edge_in;
    walk->stack[walk->stack_count++] = v;
}

static void walk_look(struct walk *walk, uint32_t v, uint32_t e)
{
    if (e == walk->edge_in[v])
        return;
    uint32_t w = part_other_end(&walk->part->edges[e], v);
    if (!walk->found[w]) {
        walk->edge_stack[walk->edge_stack_count++] = e;
        walk_enter(walk, w, e);
    } else if (walk->found[w] < walk->found[v]) {
        walk->edge_stack[walk->edge_stack_count++] = e;
        if (walk->found[w] < walk->low[v])
            walk->low[v] = walk->found[w];
    }
}

static void walk_leave(struct walk *walk, uint32_t v)
{
    walk->stack_count--;
    uint32_t edge_in = walk->edge_in[v];
    if (edge_in == ISTHMUS_NONE)
        return;
    uint32_t u = part_other_end(&walk->part->edges[edge_in], v);
    if (walk->low[v] < walk->low[u])
        walk->low[u] = walk->low[v];
    if (walk->low[v] < walk->found[u])
        return;
    uint32_t e;
    do {
        e = walk->edge_stack[--walk->edge_stack_count];
        walk->block_of_edge[e] = walk->block_count;
    } while (e != edge_in);
    walk->block_count++;
}

static void walk_all(struct walk *walk)
{
    for (uint32_t root = 0; root < walk->part->vertex_count; root++) {
        if (walk->found[root])
            continue;
        walk_enter(walk, root, ISTHMUS_NONE);
        while (walk->stack_count) {
            uint32_t v = walk->stack[walk->stack_count - 1];
            if (walk->next[v] < walk->incidence.first[v + 1])
                walk_look(walk, v, walk->incidence.edge_at[walk->next[v]++]);
            else
                walk_leave(walk, v);
        }
    }
}

/* Blocks that share a hole become one; block numbers become dense again, by their first edge. */
static bool merge_at_holes(struct walk *walk, struct arena *arena)
{
    uint32_t *parent = CUT_ALLOC(arena, walk->block_count, uint32_t);
    uint32_t *dense = CUT_ALLOC(arena, walk->block_count, uint32_t);
    if (!parent || !dense)
        return false;
    for (uint32_t b = 0; b < walk->block_count; b++)
        parent[b] = b;
    for (uint32_t v = 0; v < walk->part->vertex_count; v++) {
        if (isinf(walk->part->vertex_area_mm2[v]))
            continue;
        const uint32_t *first = walk->incidence.first;
        for (uint32_t i = first[v] + 1; i < first[v + 1]; i++)
            cut_unite(parent, walk->block_of_edge[walk->incidence.edge_at[i]],
                      walk->block_of_edge[walk->incidence.edge_at[first[v]]]);
    }
    uint32_t count = 0;
    for (uint32_t e = 0; e < walk->part->edge_count; e++) {
        uint32_t root = cut_find_root(parent, walk->block_of_edge[e]);
        if (!dense[root])
            dense[root] = ++count;
        walk->block_of_edge[e] = dense[root] - 1;
    }
    walk->block_count = count;
    return true;
}

static bool group_edges(const struct walk *walk, struct arena *arena, struct block_forest *out)
{
    out->block_count = walk->block_count;
    out->block_edge_first = CUT_ALLOC(arena, (size_t)walk->block_count + 2, uint32_t);
    out->block_edges = CUT_ALLOC(arena, walk->part->edge_count, uint32_t);
    if (!out->block_edge_first || !out->block_edges)
        return false;
    uint32_t *fill = out->block_edge_first + 1;
    for (uint32_t e = 0; e < walk->part->edge_count; e++)
        fill[walk->block_of_edge[e] + 1]++;
    for (uint32_t b = 0; b < walk->block_count; b++)
        fill[b + 1] += fill[b];
    for (uint32_t e = 0; e < walk->part->edge_count; e++)
        out->block_edges[fill[walk->block_of_edge[e]]++] = e;
    return true;
}

static bool forest_alloc(struct arena *arena, uint32_t n, struct block_forest *out)
{
    size_t b = out->block_count;
    out->block_vertex_first = CUT_ALLOC(arena, b, uint32_t);
    out->block_vertex_end = CUT_ALLOC(arena, b, uint32_t);
    /* each block adds one vertex per child, plus its gate: at most n + b in all */
    out->block_vertices = CUT_ALLOC(arena, (size_t)n + b, uint32_t);
    out->block_tin = CUT_ALLOC(arena, b, uint32_t);
    out->block_size = CUT_ALLOC(arena, b, uint32_t);
    out->block_parent = CUT_ALLOC(arena, b, uint32_t);
    out->component = CUT_ALLOC(arena, n, uint32_t);
    out->tin = CUT_ALLOC(arena, n, uint32_t);
    out->size = CUT_ALLOC(arena, n, uint32_t);
    out->vertex_parent = CUT_ALLOC(arena, n, uint32_t);
    out->order = CUT_ALLOC(arena, n, uint32_t);
    return out->block_vertex_first && out->block_vertex_end && out->block_vertices &&
           out->block_tin && out->block_size && out->block_parent && out->component && out->tin &&
           out->size && out->vertex_parent && out->order;
}

/* Breadth-first over vertices and blocks. */
struct spread {
    const struct walk *walk;
    struct block_forest *forest;
    bool *is_vertex_met, *is_block_met;
    uint32_t order_count, slot_count;
};

static void meet_block(struct spread *spread, uint32_t block, uint32_t gate)
{
    struct block_forest *forest = spread->forest;
    spread->is_block_met[block] = true;
    forest->block_parent[block] = gate;
    forest->block_vertex_first[block] = spread->slot_count;
    forest->block_vertices[spread->slot_count++] = gate;
    for (uint32_t i = forest->block_edge_first[block]; i < forest->block_edge_first[block + 1];
         i++) {
        const struct part_edge *edge = &spread->walk->part->edges[forest->block_edges[i]];
        uint32_t ends[2] = {edge->a, edge->b};
        for (int k = 0; k < 2; k++) {
            uint32_t v = ends[k];
            if (spread->is_vertex_met[v])
                continue;
            spread->is_vertex_met[v] = true;
            forest->vertex_parent[v] = block;
            forest->component[v] = forest->component[gate];
            forest->order[spread->order_count++] = v;
            forest->block_vertices[spread->slot_count++] = v;
        }
    }
    forest->block_vertex_end[block] = spread->slot_count;
}

static void spread_all(struct spread *spread)
{
    const struct part *part = spread->walk->part;
    const struct incidence *incidence = &spread->walk->incidence;
    uint32_t done = 0;
    for (uint32_t root = 0; root < part->vertex_count; root++) {
        if (spread->is_vertex_met[root])
            continue;
        spread->is_vertex_met[root] = true;
        spread->forest->vertex_parent[root] = ISTHMUS_NONE;
        spread->forest->component[root] = spread->forest->component_count++;
        spread->forest->order[spread->order_count++] = root;
        for (; done < spread->order_count; done++) {
            uint32_t v = spread->forest->order[done];
            for (uint32_t i = incidence->first[v]; i < incidence->first[v + 1]; i++) {
                uint32_t block = spread->walk->block_of_edge[incidence->edge_at[i]];
                if (!spread->is_block_met[block])
                    meet_block(spread, block, v);
            }
        }
    }
}

static void count_below(struct block_forest *forest, uint32_t n)
{
    for (uint32_t v = 0; v < n; v++)
        forest->size[v] = 1;
    for (uint32_t i = n; i-- > 0;) {
        uint32_t v = forest->order[i], block = forest->vertex_parent[v];
        if (block == ISTHMUS_NONE)
            continue;
        forest->block_size[block] += forest->size[v];
        forest->size[forest->block_parent[block]] += forest->size[v];
    }
}

/* Numbers the vertices so that what hangs below one is a range. cursor, block_cursor: the next free
 * number below each; block_cursor starts as NONE. */
static void number_ranges(struct block_forest *forest, uint32_t n, uint32_t *cursor,
                          uint32_t *block_cursor)
{
    uint32_t clock = 0;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t v = forest->order[i], block = forest->vertex_parent[v];
        if (block == ISTHMUS_NONE) {
            forest->tin[v] = clock;
            clock += forest->size[v];
        } else {
            if (block_cursor[block] == ISTHMUS_NONE) {
                uint32_t *gate = &cursor[forest->block_parent[block]];
                forest->block_tin[block] = block_cursor[block] = *gate;
                *gate += forest->block_size[block];
            }
            forest->tin[v] = block_cursor[block];
            block_cursor[block] += forest->size[v];
        }
        cursor[v] = forest->tin[v] + 1;
    }
}

bool block_forest_build(const struct part *part, struct arena *arena, struct block_forest *out)
{
    struct walk walk;
    *out = (struct block_forest){0};
    if (!walk_init(&walk, part, arena))
        return false;
    walk_all(&walk);
    if (!merge_at_holes(&walk, arena) || !group_edges(&walk, arena, out) ||
        !forest_alloc(arena, part->vertex_count, out))
        return false;
    struct spread spread = {.walk = &walk, .forest = out};
    spread.is_block_met = CUT_ALLOC(arena, out->block_count, bool);
    spread.is_vertex_met = CUT_ALLOC(arena, part->vertex_count, bool);
    uint32_t *cursor = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    uint32_t *block_cursor = CUT_ALLOC(arena, out->block_count, uint32_t);
    if (!spread.is_block_met || !spread.is_vertex_met || !cursor || !block_cursor)
        return false;
    memset(block_cursor, 0xff, out->block_count * sizeof *block_cursor);
    spread_all(&spread);
    count_below(out, part->vertex_count);
    number_ranges(out, part->vertex_count, cursor, block_cursor);
    return true;
}
