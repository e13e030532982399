/* Chains of outline that touch nothing else go through the image as one straight edge each. */
#ifndef GEOMETRY_FOLD_H
#define GEOMETRY_FOLD_H

#include "geometry/bounds.h"

#define FOLDED (UINT32_C(1) << 31) /* of an edge's curve: the rest is the number of its chain */

struct folds {
    struct fold {
        size_t first_vertex; /* the chain's vertices but for the last */
        uint32_t edge_count;
        uint32_t curve; /* of all its edges */
    } * folds;
    size_t fold_count, fold_capacity;
    struct pt *vertices;
    size_t vertex_count, vertex_capacity;
    size_t hidden_count; /* vertices that the image does not see; equal chains counted once */
};
/* Puts one edge in place of each free chain of the paint (the caller's own copy). */
enum mesh_status fold_paint(struct paint *paint, struct folds *out);
/* Puts the chains back where the boundary runs along them. box: of the image's points. */
enum mesh_status unfold_boundary(const struct folds *folds, struct box box,
                                 struct boundary *boundary);
void folds_free(struct folds *folds);

#endif
