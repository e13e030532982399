/* Contraction: what suffices for every current in question becomes one vertex. */
#include "cut_part.h"

static uint32_t find_root(uint32_t *parent, uint32_t x)
{
    while (parent[x] != x) {
        parent[x] = parent[parent[x]];
        x = parent[x];
    }
    return x;
}

/* The lower index becomes the root, so that results do not hang on the order of edges. */
static void unite(uint32_t *parent, uint32_t a, uint32_t b)
{
    a = find_root(parent, a);
    b = find_root(parent, b);
    if (a < b)
        parent[b] = a;
    else
        parent[a] = b;
}

static void unite_wide(const struct part *in, double threshold_mm2, const bool *is_solid,
                       uint32_t *parent)
{
    for (uint32_t v = 0; v < in->vertex_count; v++)
        parent[v] = v;
    for (uint32_t e = 0; e < in->edge_count; e++) {
        const struct part_edge *edge = &in->edges[e];
        if (edge->area_mm2 >= threshold_mm2 && is_solid[edge->a] && is_solid[edge->b])
            unite(parent, edge->a, edge->b);
    }
}

static void number_vertices(const struct part *in, const bool *is_solid, uint32_t *parent,
                            uint32_t *new_of, struct part *out)
{
    for (uint32_t v = 0; v < in->vertex_count; v++) {
        uint32_t root = find_root(parent, v);
        if (root == v) {
            new_of[v] = out->vertex_count++;
            out->vertex_area_mm2[new_of[v]] = is_solid[v] ? INFINITY : in->vertex_area_mm2[v];
            out->vertex_node[new_of[v]] = in->vertex_node[v];
        }
        new_of[v] = new_of[root]; /* the root is the lowest, so it has its number already */
    }
}

static void keep_edges(const struct part *in, const uint32_t *new_of, struct part *out)
{
    for (uint32_t e = 0; e < in->edge_count; e++) {
        struct part_edge edge = in->edges[e];
        edge.a = new_of[edge.a];
        edge.b = new_of[edge.b];
        if (edge.a != edge.b)
            out->edges[out->edge_count++] = edge;
    }
}

bool part_contract(const struct part *in, double threshold_mm2, uint32_t entry_count,
                   struct arena *arena, struct part *out)
{
    uint32_t *parent = CUT_ALLOC(arena, in->vertex_count, uint32_t);
    uint32_t *new_of = CUT_ALLOC(arena, in->vertex_count, uint32_t);
    bool *solid = CUT_ALLOC(arena, in->vertex_count, bool);
    *out = (struct part){0};
    out->edges = CUT_ALLOC(arena, in->edge_count, struct part_edge);
    out->vertex_area_mm2 = CUT_ALLOC(arena, in->vertex_count, double);
    out->vertex_node = CUT_ALLOC(arena, in->vertex_count, uint32_t);
    out->entry_vertex = CUT_ALLOC(arena, entry_count, uint32_t);
    if (!parent || !new_of || !solid || !out->edges || !out->vertex_area_mm2 || !out->vertex_node ||
        !out->entry_vertex)
        return false;
    for (uint32_t v = 0; v < in->vertex_count; v++)
        solid[v] = in->vertex_area_mm2[v] >= threshold_mm2;
    unite_wide(in, threshold_mm2, solid, parent);
    number_vertices(in, solid, parent, new_of, out);
    keep_edges(in, new_of, out);
    for (uint32_t i = 0; i < entry_count; i++) {
        uint32_t v = in->entry_vertex[i];
        out->entry_vertex[i] = v == ISTHMUS_NONE ? ISTHMUS_NONE : new_of[v];
    }
    return true;
}
