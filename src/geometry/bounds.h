/* The edges between copper and bare, and the outlines of marks in copper. */
#ifndef GEOMETRY_BOUNDS_H
#define GEOMETRY_BOUNDS_H

#include "geometry/image.h"

struct label { /* what a side shows */
    uint32_t component, mark;
};
struct bound {
    uint32_t a, b; /* points */
    struct label left, right;
    uint32_t object; /* paint object whose outline it is */
    uint32_t source; /* paint edge behind it */
    uint32_t curve;
};
struct boundary {
    struct pt *points; /* along the Hilbert curve; room for 4 more */
    uint32_t point_count;
    struct bound *bounds;
    size_t bound_count, bound_capacity;
};
/* Takes the image's points. */
enum mesh_status boundary_extract(struct image *image, struct boundary *out);
void boundary_free(struct boundary *boundary);
/*
 * Triangulates the boundary (its points move into the mesh) and labels every triangle. Its bounds
 * are kept or, which takes less memory, move too.
 */
enum mesh_status boundary_to_sheet(struct boundary *boundary, bool is_kept, struct sheet_mesh *out);

/* ---- gaps.c ---- */
struct gap_rule {
    double limit_nm; /* narrower ones are closed */
    bool (*may_join)(uint32_t object_a, uint32_t object_b, void *context); /* NULL: any */
    void *context;
};
/*
 * Fills the narrow gaps of a finished mesh: *mesh and *boundary are replaced when there are any.
 * Islands may become one, so shows and component_count change with them.
 */
enum mesh_status gaps_close(const struct gap_rule *rule, struct boundary *boundary,
                            struct sheet_mesh *mesh);

#endif
