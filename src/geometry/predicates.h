/*
 * The exact predicates, inline for the geometry folder's inner loops. Nobody else writes a cross
 * product. Coordinates: |x|, |y| <= 2^29 (the far frame's corners lie on that bound), so that
 * differences are at most 2^30.
 */
#ifndef GEOMETRY_PREDICATES_H
#define GEOMETRY_PREDICATES_H

#include "isthmus/mesh.h"

#define DIFF_BITS 30 /* |a.x - b.x| <= 2^30 */
_Static_assert((INT64_C(1) << DIFF_BITS) == 2 * (int64_t)MESH_COORD_LIMIT, "difference bound");
/* orient: two products of 60 bits; their difference, doubled (pixel test), stays below 2^63 */
_Static_assert(2 * DIFF_BITS + 1 + 1 < 63, "orientation fits int64_t");
/* in-circle: three terms lift (2^61) x minor (2^61), summed: below 2^124 */
_Static_assert((2 * DIFF_BITS + 1) * 2 + 2 < 127, "in-circle fits __int128");

/* Twice the signed area of abc. */
static inline int64_t cross(struct pt a, struct pt b, struct pt c)
{
    return ((int64_t)b.x - a.x) * ((int64_t)c.y - a.y) -
           ((int64_t)b.y - a.y) * ((int64_t)c.x - a.x);
}

static inline int64_t dot_at(struct pt a, struct pt b, struct pt c)
{
    return ((int64_t)b.x - a.x) * ((int64_t)c.x - a.x) +
           ((int64_t)b.y - a.y) * ((int64_t)c.y - a.y);
}

static inline int sign_of(int64_t value)
{
    return (value > 0) - (value < 0);
}

static inline bool same_pt(struct pt a, struct pt b)
{
    return a.x == b.x && a.y == b.y;
}

static inline bool is_mesh_pt(struct pt at)
{
    return at.x > -MESH_COORD_LIMIT && at.x < MESH_COORD_LIMIT && at.y > -MESH_COORD_LIMIT &&
           at.y < MESH_COORD_LIMIT;
}

/* Lexicographic: x, then y. */
static inline int compare_pt(struct pt a, struct pt b)
{
    if (a.x != b.x)
        return a.x < b.x ? -1 : 1;
    return (a.y > b.y) - (a.y < b.y);
}

int in_circle_exact(struct pt a, struct pt b, struct pt c, struct pt d);

/*
 * Filtered by floating point: the differences are exact in a double, the bound is that of
 * Shewchuk, "Adaptive precision floating-point arithmetic and fast robust geometric predicates"
 * (1997), (10 + 96 eps) eps times the permanent, eps = 2^-53.
 */
static inline int in_circle_fast(struct pt a, struct pt b, struct pt c, struct pt d)
{
    double ax = (double)a.x - d.x, ay = (double)a.y - d.y;
    double bx = (double)b.x - d.x, by = (double)b.y - d.y;
    double cx = (double)c.x - d.x, cy = (double)c.y - d.y;
    double bxcy = bx * cy, cxby = cx * by, cxay = cx * ay;
    double axcy = ax * cy, axby = ax * by, bxay = bx * ay;
    double al = ax * ax + ay * ay, bl = bx * bx + by * by, cl = cx * cx + cy * cy;
    double det = al * (bxcy - cxby) + bl * (cxay - axcy) + cl * (axby - bxay);
    double permanent = al * (__builtin_fabs(bxcy) + __builtin_fabs(cxby)) +
                       bl * (__builtin_fabs(cxay) + __builtin_fabs(axcy)) +
                       cl * (__builtin_fabs(axby) + __builtin_fabs(bxay));
    double bound = 1.1102230246251577e-15 * permanent;
    if (det > bound)
        return 1;
    if (det < -bound)
        return -1;
    return in_circle_exact(a, b, c, d);
}

#endif
