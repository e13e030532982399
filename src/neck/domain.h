/*
 * One net's copper on one layer, cut out of the layer's boundary mesh, and the cones of directions
 * in which a taut piece of a cut may leave each of its vertices.
 */
#ifndef NECK_DOMAIN_H
#define NECK_DOMAIN_H

#include "isthmus/neck.h"

/*
 * Triangles and points renumbered from 0. Corners run counterclockwise; edge i lies opposite
 * corner i and runs from corner i+1 to corner i+2, its copper on the left.
 *
 * neighbour  ISTHMUS_NONE: the copper ends there
 * bound      index into sheet->mesh->bounds on every boundary edge and contact outline, else NONE
 * contact    the net's contact whose copper a triangle is (only those of a terminal), else NONE
 * pad        likewise, contacts of no terminal
 * pocket_nm  above 0: across this side lies only copper without contact or plated hole that nothing
 *            else joins, at most so deep; free boundary leads from one end of the side to the other
 */
struct domain {
    const struct neck_net *net;
    const struct neck_sheet *sheet;
    struct pt *points;
    uint32_t point_count;
    uint32_t (*corner)[3], (*neighbour)[3], (*bound)[3];
    uint32_t *contact, *pad;
    float (*pocket_nm)[3];
    uint32_t tri_count;
    struct domain_vertex *vertices;
    struct cone *cones; /* by vertex: cones[first_cone[v] .. first_cone[v + 1]) */
    uint32_t *first_cone;
    uint32_t cone_count;
};

/* The copper's boundary at a vertex: where it comes in and goes out, copper on the left. */
struct domain_vertex {
    uint32_t in_tri,
        out_tri; /* edge in_side of in_tri ends here; ISTHMUS_NONE: inside the copper */
    uint8_t in_side, out_side;
    bool is_boundary;
    bool is_pinch;  /* the boundary passes more than once */
    bool is_etched; /* one of the edges here is etched */
};

/*
 * Directions from lo counterclockwise to hi, at most 90 degrees, both included: within them a piece
 * that starts at the vertex is taut there. The triangles to start from begin at (tri, corner).
 */
struct cone {
    struct pt lo, hi;
    uint32_t vertex, tri;
    uint8_t corner;
};

/* Without vertices and pockets: the triangles and what they are. */
enum neck_status domain_cut_out(const struct neck_net *net, const struct neck_sheet *sheet,
                                struct arena *scratch, struct domain *out);
enum neck_status domain_build(const struct neck_net *net, const struct neck_sheet *sheet,
                              struct arena *scratch, struct domain *out);
/* Finds the cones; cones is malloc'ed (domain_free), the rest lives in scratch. */
enum neck_status domain_find_cones(struct domain *domain, struct arena *scratch);
void domain_free(struct domain *domain);

/* How far a triangle's corner is from the side opposite to it. */
double domain_corner_nm(const struct domain *domain, uint32_t tri, unsigned corner);
/* What kind of edge side i of triangle t is, when it carries a bound. */
enum bound_kind domain_bound_kind(const struct domain *domain, uint32_t tri, unsigned side);
/* The net's plated hole whose rim a side is, or ISTHMUS_NONE. */
uint32_t domain_rim_hole(const struct domain *domain, uint32_t tri, unsigned side);
/* Does a piece of direction d start tautly from this vertex? */
bool domain_cones_hold(const struct domain *domain, uint32_t vertex, struct pt direction);

/* ---- directions: differences of points, every |component| < 2^30 ---- */
static inline struct pt direction(struct pt from, struct pt to)
{
    return (struct pt){to.x - from.x, to.y - from.y};
}
static inline struct pt turned_left(struct pt d)
{
    return (struct pt){-d.y, d.x};
}
static inline struct pt opposite(struct pt d)
{
    return (struct pt){-d.x, -d.y};
}
static inline int turn(struct pt a, struct pt b) /* > 0: b lies to the left of a */
{
    return orient((struct pt){0, 0}, a, b);
}
static inline int64_t along(struct pt a, struct pt b)
{
    return dot((struct pt){0, 0}, a, b);
}
static inline bool is_same_way(struct pt a, struct pt b)
{
    return turn(a, b) == 0 && along(a, b) > 0;
}
bool cone_holds(struct pt lo, struct pt hi, struct pt d); /* cones narrower than 180 degrees */

static inline unsigned next_corner(unsigned i)
{
    return i == 2 ? 0 : i + 1;
}
static inline unsigned previous_corner(unsigned i)
{
    return i == 0 ? 2 : i - 1;
}
static inline unsigned corner_of(const struct domain *domain, uint32_t tri, uint32_t vertex)
{
    return domain->corner[tri][0] == vertex ? 0 : domain->corner[tri][1] == vertex ? 1 : 2;
}
static inline unsigned side_towards(const struct domain *domain, uint32_t tri, uint32_t neighbour)
{
    return domain->neighbour[tri][0] == neighbour   ? 0
           : domain->neighbour[tri][1] == neighbour ? 1
                                                    : 2;
}

#endif
