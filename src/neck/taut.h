/* The taut pieces that cuts of least cross-section are made of. */
#ifndef NECK_TAUT_H
#define NECK_TAUT_H

#include "neck/domain.h"

/*
 * A straight piece across copper, from a vertex to another or to a foot within a boundary edge.
 *
 * a, b        ends, rounded to whole nanometres
 * vertex_a    domain vertex; vertex_b likewise, or ISTHMUS_NONE: a foot on side foot_side of
 *             foot_tri
 * length_nm   true length (never above it by more than the rounding of its ends), no loss taken off
 * loss_a/b    etch loss at either end
 */
struct chord {
    struct pt a, b;
    uint32_t vertex_a, vertex_b;
    uint32_t foot_tri;
    uint8_t foot_side;
    double length_nm;
    double loss_a_nm, loss_b_nm;
};
struct chord_list {
    struct chord *items; /* malloc'ed */
    size_t count, capacity;
    bool is_over_limit; /* more than the limit: items are incomplete, do not judge by them */
};

/*
 * Every taut piece of the domain up to reach_nm long (losses not taken off), each once, in an order
 * that depends on the shape alone; taut_find() leaves out such as taut_drop_dominated() would drop
 * when that shows on the way: in a field of clearances that is nearly all of them.
 *
 * source: triangular expansion (Bungiu, Hemmer, Hershberger, Huang, Kroeller 2014, "Efficient
 * computation of visibility polygons"), restricted to the cones of taut directions
 */
enum neck_status taut_find_all(const struct domain *domain, double reach_nm, size_t limit,
                               struct chord_list *out);
enum neck_status taut_find(const struct domain *domain, double reach_nm, size_t limit,
                           struct chord_list *out);

/*
 * Does a piece from `vertex` towards `other` stand on the rim of a plated hole, so that a cut with
 * it runs on through the hole? *hole: the hole whose rim alone passes the vertex, else
 * ISTHMUS_NONE.
 */
bool taut_ends_in_hole(const struct domain *domain, uint32_t vertex, struct pt other,
                       uint32_t *hole);
/*
 * Where a piece runs, exactly: square to the edge that it ends on, whatever its end was rounded to.
 * A corner that it passes by less than a nanometre is else seen on the wrong side, and a contact
 * that the piece goes round taken for one that it crosses.
 */
struct pt taut_direction(const struct domain *domain, const struct chord *chord);
/* The triangle at a that a piece enters, and a's corner of it; false when it runs along a side. */
bool taut_first_triangle(const struct domain *domain, const struct chord *chord, uint32_t *tri,
                         unsigned *corner);

/* Keeps the shortest of pieces that can be slid into each other along free boundary or a rim that
 * they stand on, over plain copper. */
enum neck_status taut_thin_strips(const struct domain *domain, struct chord_list *list);

/*
 * About how many pieces taut_find would look at, from every step-th cone of directions; SIZE_MAX:
 * more than limit.
 */
enum neck_status taut_sample(const struct domain *domain, double reach_nm, uint32_t step,
                             size_t limit, size_t *count);

/*
 * A way beside a piece must win by this much: the true lengths of its parts may exceed their
 * flattened ones, which are compared, by the chord error at each end.
 */
#define TAUT_WIN_NM 10000.0
/*
 * What it costs to slide along a side of a triangle: nothing on free boundary or before a pocket of
 * copper that leads nowhere; on a plated hole's rim, however far, what its wall is worth as a
 * length on this layer; INFINITY: no boundary.
 */
double taut_slide_nm(const struct domain *domain, uint32_t tri, unsigned side);

/*
 * Leaves out pieces that a cut of least cross-section does not need: those for which a way along
 * free boundary beside them is shorter.
 */
enum neck_status taut_drop_dominated(const struct domain *domain, struct chord_list *list);
/* Leaves out pieces that hug a plated hole where running through its wall costs less. */
enum neck_status taut_drop_hugs(const struct domain *domain, struct chord_list *list);

/* Leaves out pieces that no curve of a cut below limit_nm can run along. */
enum neck_status taut_drop_needless(const struct domain *domain, double limit_nm,
                                    struct chord_list *list);

/* Length of a chord between the true lines and arcs behind its ends, in nm. */
double taut_true_length_nm(const struct domain *domain, const struct chord *chord);
/* Length in nm of the part of a boundary or outline that its edge from a to b stands for: of the
 * arc, where it comes from one. */
double taut_edge_length_nm(const struct domain *domain, uint32_t tri, unsigned side, struct pt a,
                           struct pt b);

#endif
