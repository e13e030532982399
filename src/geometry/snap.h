/* Snap rounding on indices, as the layer meshes use it. */
#ifndef GEOMETRY_SNAP_H
#define GEOMETRY_SNAP_H

#include "geometry/internal.h"

/* Source edges in any struct that starts with its two ends. */
struct edge_view {
    const void *base;
    size_t stride, count;
};
static inline const struct pt *edge_ends(const struct edge_view *view, size_t index)
{
    return (const struct pt *)(const void *)((const char *)view->base + index * view->stride);
}

/* The distinct edges of a view: each from its lesser end (x, then y) to its greater. */
struct edge_set {
    struct line {
        struct pt a, b;
    } * lines;
    uint32_t count;
    uint32_t *sources;      /* indices into the view, by line; zero-length ones are left out */
    uint32_t *first_source; /* per line and one behind */
};
enum mesh_status edge_set_build(const struct edge_view *view, struct edge_set *out);
void edge_set_free(struct edge_set *set);

struct piece {
    uint32_t a, b; /* points */
    uint32_t line; /* of the edge set; a -> b runs as the line does */
};
struct snapped {
    struct pt *points; /* the hot pixels, along a Hilbert curve; room for 4 more */
    uint32_t point_count;
    struct piece *pieces; /* by line, in order along it */
    size_t piece_count, piece_capacity;
    size_t crossing_count;
    double drift_nm; /* the farthest that a hot pixel lies from a line through it */
};
enum mesh_status snap_lines(const struct edge_set *set, struct snapped *out);
void snapped_free(struct snapped *snapped);

#endif
