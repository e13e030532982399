/*
 * A part of the graph that is still in question, and its blocks.
 *
 * Vertices are one node of the problem or several that copper wide enough joins. Solid vertices
 * (area INFINITY) are never cut; a hole may be, at its price.
 */
#ifndef NECK_CUT_PART_H
#define NECK_CUT_PART_H

#include "isthmus/cut.h"

#include <math.h>

#define CUT_ALLOC(arena, count, type) ((type *)arena_alloc((arena), (count), sizeof(type)))

struct part_edge {
    uint32_t a, b;  /* vertices, in the order of the problem's edge */
    uint32_t index; /* the problem's edge */
    double area_mm2;
};
/* Disjoint sets over indices; the lowest index names a set, so results do not hang on the order. */
uint32_t cut_find_root(uint32_t *parent, uint32_t x);
void cut_unite(uint32_t *parent, uint32_t a, uint32_t b);

/* entry: one place where a terminal touches the graph */
struct part {
    uint32_t vertex_count, edge_count;
    struct part_edge *edges;
    double *vertex_area_mm2;
    uint32_t *vertex_node;  /* a hole's node; of a solid vertex the lowest of its nodes */
    uint32_t *entry_vertex; /* per entry; NONE: not in this part */
};
/* Edges about each vertex: edge_at[first[v] .. first[v + 1]). */
struct incidence {
    uint32_t *first, *edge_at;
};
bool incidence_build(const struct part *part, struct arena *arena, struct incidence *out);

static inline uint32_t part_other_end(const struct part_edge *edge, uint32_t v)
{
    return edge->a == v ? edge->b : edge->a;
}

/* Entries of terminal t: first[t] .. first[t + 1]. */
struct cut_entries {
    uint32_t *first;
    uint32_t terminal_count;
};

/*
 * Unites what suffices: solid vertices joined by an edge of at least threshold, after holes of at
 * least threshold have become solid. Edges inside a vertex vanish. out lives in arena.
 */
bool part_contract(const struct part *in, double threshold_mm2, uint32_t entry_count,
                   struct arena *arena, struct part *out);

/*
 * Unites further what no cut below threshold parts: vertices joined by several ways that suffice
 * together. Holes stay as they are, but count as ways between the copper that they join.
 * source: H. Nagamochi, T. Ibaraki, SIAM J. Discrete Math. 5 (1992), maximum adjacency order, from
 * memory
 */
bool part_contract_shared(const struct part *in, double threshold_mm2, uint32_t entry_count,
                          struct arena *arena, struct part *out);

/*
 * Adds a vertex for each terminal with a current and several places in one component, joined to
 * these: its pads are one end of flow, so they may hold a side of a cut together. Such vertices
 * come after the part's own, their edges have no index (ISTHMUS_NONE). entry_vertex is shared.
 */
bool part_join_places(const struct cut_problem *problem, const struct cut_entries *entries,
                      const struct part *part, struct arena *arena, struct part *out);

/*
 * Blocks: largest sets of edges of which every two lie on a common ring, except that blocks sharing
 * a hole are one (a cut through the hole severs them together). They hang together as a forest.
 * A minimal cut lies within one block: whatever hangs at a vertex goes with it.
 *
 * vertices of block b: block_vertices[block_vertex_first[b] .. block_vertex_end[b]), the first one
 * being the gate to the root, the others ascending in tin; below the vertex v hangs what has tin in
 * [tin[v], tin[v] + size[v]), of the same component.
 */
struct block_forest {
    uint32_t block_count, component_count;
    uint32_t *block_edge_first, *block_edges;
    uint32_t *block_vertex_first, *block_vertex_end, *block_vertices;
    uint32_t *block_tin, *block_size, *block_parent;  /* parent: a vertex */
    uint32_t *component, *tin, *size, *vertex_parent; /* parent: a block, or NONE for a root */
    uint32_t *order;                                  /* vertices from the roots on */
    /* sums of terminals that lie wholly below a vertex, wholly below or across a block */
    struct cut_sums {
        double feed_a, draw_a;
    } * below, *block_below, *block_across, *all; /* all: per component */
};
bool block_forest_build(const struct part *part, struct arena *arena, struct block_forest *out);
/* Adds the sums; a terminal counts in each component with the places that it has there. */
bool block_forest_sum(const struct cut_problem *problem, const struct cut_entries *entries,
                      const struct part *part, struct arena *arena, struct block_forest *forest);
/* The vertex of the block at which `vertex` hangs; NONE: another component. */
uint32_t block_gate(const struct block_forest *forest, uint32_t block, uint32_t vertex);

#endif
