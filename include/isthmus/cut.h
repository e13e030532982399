/*
 * Cuts of a graph of copper: which too narrow sets of edges part the terminals of a net.
 *
 * Areas are external-equivalent cross-sections in mm2 (length x thickness x weight). Pure graph and
 * numbers: no geometry here.
 */
#ifndef ISTHMUS_CUT_H
#define ISTHMUS_CUT_H

#include "isthmus/base.h"

/* f(I) = (I / scale_a)^exponent, convex, f(0) = 0: the cross-section in mm2 that a current needs.
 */
struct demand {
    double scale_a;  /* current that 1 mm2 carries at the allowed rise */
    double exponent; /* 1/0.725 */
};
double demand_area_mm2(const struct demand *demand, double current_a);

struct cut_edge {
    uint32_t a, b;   /* nodes */
    double area_mm2; /* capacity, both ways; may be 0 (open) */
    uint32_t piece;  /* the caller's: chord, contact outline, rim, wall ... */
};
struct cut_node {
    double area_mm2; /* the most that may pass through it; INFINITY for copper faces */
    uint32_t piece;  /* the caller's name for it when a cut runs through it (a hole's wall) */
};
struct cut_terminal {
    const uint32_t *nodes;
    size_t node_count;     /* the faces of its contacts */
    double feed_a, draw_a; /* the most it feeds / draws; an unsigned row: both */
    bool has_row;          /* false: it may carry i_net, and findings about it are "unassigned" */
};
struct cut_problem {
    const struct cut_node *nodes;
    size_t node_count;
    const struct cut_edge *edges;
    size_t edge_count;
    const struct cut_terminal *terminals;
    size_t terminal_count;
    double i_net_a;
    struct demand demand;
    bool is_wide_known; /* no cut is too narrow, as the caller has proved: none is looked for */
    bool has_no_near;   /* cut_result.near is not wanted */
    uint64_t effort;    /* edges looked at before the search for shared cuts gives up; 0: a second's
                        worth */
};

/*
 * One cut: a set of edges and nodes that parts the graph into two pieces that each hang together,
 * so that no part of it is a cut by itself (two spurs that part at a wide place are two cuts, not
 * one). The places of a terminal with a current that lies wholly on one side count as joined there:
 * they are one end of flow (a plug with three pins on three tracks is cut by all three).
 *
 * side[t] = 1 in S, 2 in S', 3 both: it has contacts on both sides or the cut crosses its pad. Such
 * a terminal adds to neither side's sums: its own current may start or end on whichever side it
 * likes, so none of it is forced across, and it is no bridge for others. 0: not on this piece of
 * copper. The first terminal that is on one side is on side 1.
 */
struct cut {
    uint8_t *side;
    uint32_t *edges;
    size_t edge_count; /* indices into problem.edges */
    uint32_t *nodes;
    size_t node_count;   /* nodes the cut runs through */
    double area_mm2;     /* sum over edges and nodes */
    double current_a;    /* I(S), DESIGN: min(I_net, max(min(F(S),D(S')), min(F(S'),D(S)))) */
    double required_mm2; /* demand of current_a */
    double margin;       /* area / required; INFINITY when current_a is 0 */
    bool is_unassigned;  /* on one side no terminal that may carry current has a row of its own */
};
/* near: of a net that passes though not is_single_everywhere, its cuts below margin_limit, listed
 * and ordered as the narrow ones: whoever knows the curves behind the edges can tell whether any of
 * them shares (several edges may be one curve). */
struct cut_result {
    struct cut *narrow;
    size_t narrow_count; /* each with margin < 1, worst margin first; at most one per
                            (S, S') and place: cuts with equal sides are adjacent */
    struct cut least;    /* the cut of least margin below margin_limit; edge_count 0 if none */
    bool has_least;
    bool is_single_everywhere; /* no cut of several edges or nodes has one that would not do alone:
                                  no sharing (current divides by resistance, so a thin way beside a
                                  wide one may be made to carry too much). Said only when certain.
                                  Hand over the graph with at most those nodes united that a single
                                  edge joins well enough, and no thin edge beside it left out */
    bool is_proved;            /* false: a relaxed search found something it could not settle:
                                  the net is "not proved" even when narrow_count is 0 */
    bool has_more; /* more shared narrow places than are listed: look again when these are
                      mended */
    struct cut *near;
    size_t near_count;
    bool is_near_complete; /* false: effort or room ran out, or there are narrow cuts */
    bool is_least_proved;  /* nothing has a margin below least's (or below the limit) */
};
enum cut_status { CUT_OK = 0, CUT_NO_MEMORY, CUT_APART /* terminals not connected at all */ };
/*
 * All too narrow cuts. margin_limit >= 1: also look for the least margin up to it (3 by default).
 *
 * Shared cuts overlap in many ways, so not every combination is listed: every narrow cut that is
 * not listed shares the widest piece of one that is.
 *
 * method  contract what suffices; a minimal cut lies within one block (2-connected part); blocks of
 *         two vertices are one cut each; the others by branch and bound over maximum flows
 *         (DEVELOPERS.md "Cuts")
 */
enum cut_status cut_find(const struct cut_problem *problem, double margin_limit,
                         struct arena *arena, struct cut_result *out);
/* I(S) for given sides. */
double cut_current_a(const struct cut_problem *problem, const uint8_t *side);

#endif
