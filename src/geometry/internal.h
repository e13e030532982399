/* What the files of the geometry folder share. */
#ifndef GEOMETRY_INTERNAL_H
#define GEOMETRY_INTERNAL_H

#include "geometry/predicates.h"

/* Paint stays strictly within this; its complement's frame lies on it; the far frame of a
 * triangulation on MESH_COORD_LIMIT, outside both. */
#define PAINT_FRAME (MESH_COORD_LIMIT - 16)

/* malloc of count x size, checked; at least one byte. Counts for arena_fail_at() too. */
void *mesh_alloc(size_t count, size_t size);
void *mesh_calloc(size_t count, size_t size);

struct box {
    int32_t min_x, min_y, max_x, max_y;
};
/* Extent of what is not the complement's frame; of everything if nothing else is there. */
struct box box_of_points(const struct pt *points, size_t count);

/* Position of a point along a Hilbert curve of 2^16 x 2^16 cells over the box. */
struct hilbert_frame {
    int32_t x, y;
    unsigned shift;
    uint8_t steps[4][16]; /* by turn and two bits of x and y: place << 2 | next turn */
};
struct hilbert_frame hilbert_frame_of(struct box box);
uint32_t hilbert_key(const struct hilbert_frame *frame, struct pt at);

/*
 * Indices of the points along the curve, equal points side by side: the lower halves of the
 * returned items (malloc'ed; NULL without memory).
 */
uint64_t *hilbert_order(const struct pt *points, size_t count);
uint64_t *hilbert_order_in(struct box box, const struct pt *points, size_t count);

struct id_edge {
    uint32_t a, b;
};
/* Edges by their points' indices, in any struct that starts with them. */
struct id_edges {
    const void *base;
    size_t stride, count;
};
static inline struct id_edge id_edge_at(const struct id_edges *edges, size_t index)
{
    const void *edge = (const char *)edges->base + index * edges->stride;
    return *(const struct id_edge *)edge;
}
/*
 * Triangulates distinct points, given in an order in which neighbours follow each other.
 *
 * points      malloc'ed, room for 4 more; owned by *out from here on, even after an error
 * edge i      constraint i; MESH_BUG when two cross
 */
enum mesh_status cdt_build_ids(struct pt *points, uint32_t point_count,
                               const struct id_edges *edges, bool with_frame, struct cdt *out);

/* ---- a triangulation being built: half edges are 4 x triangle + edge ---- */
#define GHOST UINT32_MAX
struct builder {
    const struct pt *points;
    uint32_t point_count;
    uint32_t (*corner)[3], (*next)[3], (*chain)[3]; /* next: the half edge across */
    uint32_t tri_count;
    uint32_t last;    /* where the next search starts */
    uint32_t *tri_of; /* per point: one of its triangles */
    uint32_t *stack;  /* half edges to look across */
    size_t stack_capacity;
    uint32_t *dead; /* triangles of the cavity */
    size_t dead_count, dead_capacity;
    struct rim { /* boundary of the cavity, counterclockwise */
        uint32_t a, b, outer;
    } * rim;
    size_t rim_count, rim_capacity;
    struct side *sides[2]; /* left and right of a constraint */
    size_t side_count[2], side_capacity[2];
    struct span *spans;
    size_t span_capacity;
};
static inline unsigned next3(unsigned i)
{
    return i == 2 ? 0 : i + 1;
}
static inline unsigned prev3(unsigned i)
{
    return i == 0 ? 2 : i - 1;
}
enum mesh_status delaunay_insert_all(struct builder *build, bool has_frame, bool *is_flat);
enum mesh_status constrain_all(struct builder *build, const struct id_edges *edges);

#endif
