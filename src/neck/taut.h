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
 * that depends on the shape alone.
 *
 * source: triangular expansion (Bungiu, Hemmer, Hershberger, Huang, Kroeller 2014, "Efficient
 * computation of visibility polygons"), restricted to the cones of taut directions
 */
enum neck_status taut_find(const struct domain *domain, double reach_nm, size_t limit,
                           struct chord_list *out);

/*
 * Leaves out pieces that a cut of least cross-section does not need: those for which a way along
 * free boundary beside them is shorter.
 */
enum neck_status taut_drop_dominated(const struct domain *domain, struct chord_list *list);

/* Leaves out pieces that no curve of a cut below limit_nm can run along. */
enum neck_status taut_drop_needless(const struct domain *domain, double limit_nm,
                                    struct chord_list *list);

/* Length of a chord between the true lines and arcs behind its ends, in nm. */
double taut_true_length_nm(const struct domain *domain, const struct chord *chord);

#endif
