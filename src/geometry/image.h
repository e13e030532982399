/* The image mesh of a layer: every outline of its paint, and what each triangle shows. */
#ifndef GEOMETRY_IMAGE_H
#define GEOMETRY_IMAGE_H

#include "geometry/snap.h"

/* A fill's winding is `delta` more on the left of an edge than on its right. */
struct change {
    uint32_t fill;
    int32_t delta;
    uint32_t source; /* one of the paint's edges behind it */
};
struct change_span {
    uint32_t first, count;
};

struct image {
    const struct paint *paint;
    uint32_t *object_of_fill;
    struct change *changes;
    size_t change_count, change_capacity;
    struct id_edge *edges; /* of the mesh: cdt.chain's meaning */
    struct change_span *spans;
    uint32_t edge_count;
    struct cdt cdt;
    uint32_t *top;       /* per triangle: topmost object that decides, or NONE */
    uint32_t *mark;      /* per triangle: topmost mark, or NONE */
    uint32_t *component; /* per triangle: island of copper, or NONE */
    uint32_t component_count;
    struct sheet_show *shows;
    size_t show_count, show_capacity;
    size_t crossing_count;
    double drift_nm;
};

enum mesh_status image_build(const struct paint *paint, struct image *out);
void image_free(struct image *image);

/* ---- its steps ---- */
enum mesh_status image_flood(struct image *image);   /* windings.c: top and mark */
enum mesh_status image_connect(struct image *image); /* islands.c: component, shows */

static inline bool image_is_copper(const struct image *image, uint32_t tri)
{
    uint32_t top = image->top[tri];
    return top != ISTHMUS_NONE && image->paint->objects[top].effect == PAINT_DARK;
}

/* Does the edge under side i of a triangle have the triangle on its left? */
static inline bool runs_with(const struct cdt *cdt, const struct id_edge *edge, uint32_t tri,
                             unsigned i)
{
    return cdt->corner[tri][next3(i)] == edge->a;
}

#endif
