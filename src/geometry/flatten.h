/* Contours of lines and arcs into straight edges of a paint. */
#ifndef GEOMETRY_FLATTEN_H
#define GEOMETRY_FLATTEN_H

#include "geometry/internal.h"

struct flatten_rule {
    bool is_left;  /* the painted area lies left of the contour */
    bool outgrows; /* the straight edges enclose the true area; else it encloses them */
};
/* Appends the contour's edges to paint->edges (and its arcs to paint->curves). */
enum mesh_status flatten_contour(struct paint *paint, const struct contour *contour,
                                 const struct seg *segs, struct flatten_rule rule);
enum mesh_status paint_add_edge(struct paint *paint, struct pt a, struct pt b, uint32_t curve);

#endif
