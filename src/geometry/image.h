/* The image of a layer: every outline of its paint, and what each face between them shows. */
#ifndef GEOMETRY_IMAGE_H
#define GEOMETRY_IMAGE_H

#include "geometry/planar.h"
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
    struct pt *points; /* along the Hilbert curve; room for 4 more */
    uint32_t point_count;
    struct id_edge *edges;
    struct change_span *spans; /* per edge */
    uint32_t edge_count;
    struct planar map;
    uint32_t *top;       /* per face: topmost object that decides, or NONE */
    uint32_t *mark;      /* per face: topmost mark on copper, or NONE */
    uint32_t *component; /* per face: island of copper, or NONE */
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

static inline bool image_is_copper(const struct image *image, uint32_t face)
{
    uint32_t top = image->top[face];
    return top != ISTHMUS_NONE && image->paint->objects[top].effect == PAINT_DARK;
}

#endif
