/* The narrowest web between openings of the copper. */
#include "neck/webs.h"

#include <math.h>
#include <stdlib.h>

static uint32_t find_root(uint32_t *parent, uint32_t x)
{
    while (parent[x] != x) {
        parent[x] = parent[parent[x]];
        x = parent[x];
    }
    return x;
}

/* Vertices of one closed edge of the copper get one root. */
static void join_edges(const struct domain *domain, uint32_t *parent)
{
    for (uint32_t v = 0; v < domain->point_count; v++)
        parent[v] = v;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            if (domain->neighbour[t][i] != ISTHMUS_NONE)
                continue;
            uint32_t a = find_root(parent, domain->corner[t][next_corner(i)]);
            uint32_t b = find_root(parent, domain->corner[t][previous_corner(i)]);
            parent[a] = b;
        }
}

static bool is_rim(const struct domain *domain, uint32_t tri, unsigned side)
{
    return domain_bound_kind(domain, tri, side) == BOUND_RIM;
}

/* The edge that a vertex lies on, or NONE: a rim, or inside the copper. */
static uint32_t edge_of_vertex(const struct domain *domain, uint32_t *parent, uint32_t vertex)
{
    const struct domain_vertex *v = &domain->vertices[vertex];
    if (!v->is_boundary || is_rim(domain, v->out_tri, v->out_side))
        return ISTHMUS_NONE;
    return find_root(parent, vertex);
}

static uint32_t edge_of_foot(const struct domain *domain, uint32_t *parent,
                             const struct chord *chord)
{
    if (domain->neighbour[chord->foot_tri][chord->foot_side] != ISTHMUS_NONE ||
        is_rim(domain, chord->foot_tri, chord->foot_side))
        return ISTHMUS_NONE;
    return find_root(parent, domain->corner[chord->foot_tri][next_corner(chord->foot_side)]);
}

double webs_shortest_mm(const struct domain *domain, const struct chord_list *list, bool *is_ok)
{
    uint32_t *parent = malloc(((size_t)domain->point_count + 1) * sizeof *parent);
    double shortest_nm = INFINITY;
    *is_ok = parent != NULL;
    if (!parent)
        return 0;
    join_edges(domain, parent);
    for (size_t i = 0; i < list->count; i++) {
        const struct chord *chord = &list->items[i];
        double length_nm = fmax(0, chord->length_nm - chord->loss_a_nm - chord->loss_b_nm);
        if (length_nm >= shortest_nm)
            continue;
        uint32_t a = edge_of_vertex(domain, parent, chord->vertex_a);
        uint32_t b = chord->vertex_b == ISTHMUS_NONE
                         ? edge_of_foot(domain, parent, chord)
                         : edge_of_vertex(domain, parent, chord->vertex_b);
        if (a != ISTHMUS_NONE && b != ISTHMUS_NONE && a != b)
            shortest_nm = length_nm;
    }
    free(parent);
    return shortest_nm * 1e-6;
}
