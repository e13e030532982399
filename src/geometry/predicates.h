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

typedef double two_doubles __attribute__((vector_size(16)));

/* at - from, exact in doubles. */
static inline two_doubles offset_of(struct pt at, struct pt from)
{
    return (two_doubles){at.x, at.y} - (two_doubles){from.x, from.y};
}
static inline double length2_of(two_doubles a)
{
    two_doubles squares = a * a;
    return squares[0] + squares[1];
}
static inline double minor_of(two_doubles a, two_doubles b)
{
    two_doubles products = a * (two_doubles){b[1], b[0]};
    return products[0] - products[1];
}

/*
 * Filtered by floating point: the differences are exact in a double, the bound is that of
 * Shewchuk, "Adaptive precision floating-point arithmetic and fast robust geometric predicates"
 * (1997), (10 + 96 eps) eps times the permanent, eps = 2^-53. In place of the permanent stands what
 * it cannot exceed: |bx cy| + |cx by| <= |b| |c| <= (|b|^2 + |c|^2) / 2, and so on, summed. A part
 * in ten is added for the rounding of the bound itself.
 */
static inline int in_circle_fast(struct pt a, struct pt b, struct pt c, struct pt d)
{
    two_doubles from_a = offset_of(a, d), from_b = offset_of(b, d), from_c = offset_of(c, d);
    double al = length2_of(from_a), bl = length2_of(from_b), cl = length2_of(from_c);
    double det = al * minor_of(from_b, from_c) + bl * minor_of(from_c, from_a) +
                 cl * minor_of(from_a, from_b);
    double bound = 1.2212453270876722e-15 * (al * bl + bl * cl + cl * al);
    if (det > bound)
        return 1;
    if (det < -bound)
        return -1;
    return in_circle_exact(a, b, c, d);
}

/*
 * Is d inside the circle through a, b, c (counterclockwise)? Of four points on one circle the first
 * in order of x, then y, counts as drawn a little inwards: the diagonal of the four then starts in
 * it. Such a triangulation is unique (a regular one: Edelsbrunner and Muecke, "Simulation of
 * simplicity", 1990), so it does not tell in which order its points were inserted.
 */
bool is_drawn_into_circle(struct pt a, struct pt b, struct pt c, struct pt d);
static inline bool is_in_circle(struct pt a, struct pt b, struct pt c, struct pt d)
{
    int side = in_circle_fast(a, b, c, d);
    return side != 0 ? side > 0 : is_drawn_into_circle(a, b, c, d);
}

#endif
