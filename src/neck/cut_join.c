/* The pads of one terminal as one end of flow. */
#include "cut_part.h"

#include <string.h>

/* The places of the terminal at hand, by component of the part. */
struct joiner {
    const struct part *part;
    struct part *out;
    uint32_t *component; /* per vertex: root */
    uint32_t *last_of;   /* per vertex: the last terminal that was met there, from 1 */
    uint32_t *met_by;    /* per component: the last terminal with a place in it, from 1 */
    uint32_t *first;     /* ... its first place, and its vertex once it has two */
    uint32_t *joint;
};

static bool joiner_init(struct joiner *joiner, struct arena *arena)
{
    const struct part *part = joiner->part;
    joiner->component = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    joiner->last_of = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    joiner->met_by = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    joiner->first = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    joiner->joint = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    if (!joiner->component || !joiner->last_of || !joiner->met_by || !joiner->first ||
        !joiner->joint)
        return false;
    for (uint32_t v = 0; v < part->vertex_count; v++)
        joiner->component[v] = v;
    for (uint32_t e = 0; e < part->edge_count; e++)
        cut_unite(joiner->component, part->edges[e].a, part->edges[e].b);
    return true;
}

static void add_edge(struct part *out, uint32_t joint, uint32_t place)
{
    out->edges[out->edge_count++] =
        (struct part_edge){.a = joint, .b = place, .index = ISTHMUS_NONE, .area_mm2 = INFINITY};
}

static void join_place(struct joiner *joiner, uint32_t terminal, uint32_t v)
{
    struct part *out = joiner->out;
    uint32_t c = cut_find_root(joiner->component, v);
    if (joiner->last_of[v] == terminal)
        return;
    joiner->last_of[v] = terminal;
    if (joiner->met_by[c] != terminal) {
        joiner->met_by[c] = terminal;
        joiner->first[c] = v;
        joiner->joint[c] = ISTHMUS_NONE;
        return;
    }
    if (joiner->joint[c] == ISTHMUS_NONE) {
        joiner->joint[c] = out->vertex_count;
        out->vertex_area_mm2[out->vertex_count] = INFINITY;
        out->vertex_node[out->vertex_count++] = ISTHMUS_NONE;
        add_edge(out, joiner->joint[c], joiner->first[c]);
    }
    add_edge(out, joiner->joint[c], v);
}

static bool copy_part(const struct part *part, size_t more, struct arena *arena, struct part *out)
{
    *out = *part;
    out->edges = CUT_ALLOC(arena, part->edge_count + more, struct part_edge);
    out->vertex_area_mm2 = CUT_ALLOC(arena, part->vertex_count + more, double);
    out->vertex_node = CUT_ALLOC(arena, part->vertex_count + more, uint32_t);
    if (!out->edges || !out->vertex_area_mm2 || !out->vertex_node)
        return false;
    memcpy(out->edges, part->edges, part->edge_count * sizeof *out->edges);
    memcpy(out->vertex_area_mm2, part->vertex_area_mm2,
           part->vertex_count * sizeof *out->vertex_area_mm2);
    memcpy(out->vertex_node, part->vertex_node, part->vertex_count * sizeof *out->vertex_node);
    return true;
}

bool part_join_places(const struct cut_problem *problem, const struct cut_entries *entries,
                      const struct part *part, struct arena *arena, struct part *out)
{
    struct joiner joiner = {.part = part, .out = out};
    if (!copy_part(part, entries->first[entries->terminal_count], arena, out) ||
        !joiner_init(&joiner, arena))
        return false;
    for (uint32_t t = 0; t < entries->terminal_count; t++) {
        if (problem->terminals[t].feed_a <= 0 && problem->terminals[t].draw_a <= 0)
            continue;
        for (uint32_t i = entries->first[t]; i < entries->first[t + 1]; i++)
            if (part->entry_vertex[i] != ISTHMUS_NONE)
                join_place(&joiner, t + 1, part->entry_vertex[i]);
    }
    return true;
}
