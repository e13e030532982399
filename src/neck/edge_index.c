/* The boundary edges of a domain on a grid. */
#include "neck/edge_index.h"

#include "geometry/grid.h"

#include <math.h>

struct edge_index {
    struct grid grid;
    size_t *first; /* per cell: edges[first[cell] .. first[cell + 1]) */
    struct domain_edge *edges;
};

static struct grid_walk walk_along(const struct grid *grid, const struct domain *domain,
                                   struct domain_edge edge)
{
    struct pt a = domain->points[domain->corner[edge.tri][next_corner(edge.side)]];
    struct pt b = domain->points[domain->corner[edge.tri][previous_corner(edge.side)]];
    bool is_ordered = a.x < b.x || (a.x == b.x && a.y < b.y);
    return is_ordered ? grid_walk_start(grid, a, b) : grid_walk_start(grid, b, a);
}

/* Counts each boundary edge in its cells, or (edges set) puts it there; first[] counts down. */
static void visit(struct edge_index *index, const struct domain *domain, struct domain_edge edge)
{
    struct grid_walk walk = walk_along(&index->grid, domain, edge);
    while (grid_walk_next(&walk))
        for (uint32_t row = walk.row_from; row <= walk.row_to; row++) {
            size_t *at = &index->first[(size_t)row * index->grid.columns + walk.column];
            if (index->edges)
                index->edges[--*at] = edge;
            else
                ++*at;
        }
}

static bool is_boundary(const struct domain *domain, uint32_t tri, unsigned side)
{
    return domain->neighbour[tri][side] == ISTHMUS_NONE;
}

/* Backwards, so that each cell's edges come out in the order of triangles. */
static void visit_all(struct edge_index *index, const struct domain *domain)
{
    for (uint32_t t = domain->tri_count; t-- > 0;)
        for (uint8_t i = 3; i-- > 0;)
            if (is_boundary(domain, t, i))
                visit(index, domain, (struct domain_edge){t, i});
}

static struct grid choose_grid(const struct domain *domain)
{
    size_t count = 0;
    double length_nm = 0;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            if (!is_boundary(domain, t, i))
                continue;
            struct pt a = domain->points[domain->corner[t][next_corner(i)]];
            struct pt b = domain->points[domain->corner[t][previous_corner(i)]];
            length_nm += fabs((double)b.x - a.x) + fabs((double)b.y - a.y);
            count++;
        }
    return grid_choose(box_of_points(domain->points, domain->point_count), count, length_nm);
}

struct edge_index *edge_index_new(const struct domain *domain, struct arena *arena)
{
    struct edge_index *index = arena_alloc(arena, 1, sizeof *index);
    if (!index)
        return NULL;
    *index = (struct edge_index){.grid = choose_grid(domain)};
    size_t cells = (size_t)index->grid.columns * index->grid.rows;
    index->first = arena_alloc(arena, cells + 1, sizeof *index->first);
    if (!index->first)
        return NULL;
    for (size_t c = 0; c <= cells; c++)
        index->first[c] = 0;
    visit_all(index, domain);
    for (size_t c = 0; c < cells; c++)
        index->first[c + 1] += index->first[c];
    index->edges = arena_alloc(arena, index->first[cells] + 1, sizeof *index->edges);
    if (!index->edges)
        return NULL;
    visit_all(index, domain);
    return index;
}

const struct domain_edge *edge_index_near(const struct edge_index *index, struct pt at,
                                          size_t *count)
{
    size_t cell = grid_cell(&index->grid, at);
    *count = index->first[cell + 1] - index->first[cell];
    return &index->edges[index->first[cell]];
}
