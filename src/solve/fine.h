/*
 * A triangulation that is refined: the copper of one net on one layer, on whole nanometres, so that
 * all decisions are exact. It starts as the constrained Delaunay mesh of the boundary and stays
 * one.
 */
#ifndef SOLVE_FINE_H
#define SOLVE_FINE_H

#include "isthmus/base.h"
#include "neck/domain.h"

/* Corners counterclockwise; side i lies opposite corner i. */
struct fine_tri {
    uint32_t corner[3];
    uint32_t neighbour[3]; /* ISTHMUS_NONE: the copper ends */
    uint32_t bound[3];     /* the domain's, or ISTHMUS_NONE: a side that may be flipped */
    uint32_t contact;      /* whose pad this is, or ISTHMUS_NONE */
    bool is_wanted;        /* to be refined whatever its shape */
    bool is_queued;
};
struct fine {
    const struct domain *domain; /* what bound[] indexes */
    struct pt *points;
    size_t point_count, point_capacity;
    struct fine_tri *tris;
    size_t tri_count, tri_capacity;
    uint32_t *touched; /* triangles made or changed by the last insertion */
    size_t touched_count, touched_capacity;
};
enum fine_status { FINE_OK = 0, FINE_NO_MEMORY, FINE_FULL /* point limit */ };

/* Without the caps of the domain (caps.c). */
enum fine_status fine_new(const struct domain *domain, struct fine *out);
void fine_free(struct fine *fine);
/* Walks every invariant; for tests. */
bool fine_check(const struct fine *fine, const char **why);

/* May this side not be flipped or passed? */
bool fine_is_fixed(const struct fine *fine, uint32_t tri, unsigned side);

/* Takes out triangles that are all but a line, along a side that may not be flipped. */
void fine_remove_caps(struct fine *fine);
/* Flips this side if that is due. */
bool fine_flip(struct fine *fine, uint32_t tri, unsigned side);

/*
 * Splits where p lies: inside the triangle, or about on its side; then flips until the mesh is
 * Delaunay again. is_done false: p would turn a triangle over (rounding); nothing changed.
 */
enum fine_status fine_split_tri(struct fine *fine, uint32_t tri, struct pt p, bool *is_done);
enum fine_status fine_split_side(struct fine *fine, uint32_t tri, unsigned side, struct pt p,
                                 bool *is_done);

/*
 * Adds points until every triangle is well shaped (no angle below about 14 degrees, except at
 * sharp corners of the copper and in pads that are_still) and every wanted one is divided.
 *
 * is_still  per contact of the net: its copper is one potential and needs no points
 * errors    FINE_FULL: point_limit was reached; the mesh is valid
 */
enum fine_status fine_refine(struct fine *fine, const bool *is_still, size_t point_limit);

#endif
