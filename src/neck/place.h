/* From a cut of the graph back to a place on the board. */
#ifndef NECK_PLACE_H
#define NECK_PLACE_H

#include "neck/edge_index.h"
#include "neck/network.h"

/* What a cut runs through: links (indices into network.links) and holes (the net's indices). */
struct crossing {
    const uint32_t *links;
    size_t link_count;
    const uint32_t *holes;
    size_t hole_count;
};
/*
 * The pieces of a cut, parts of one chord put together, in order along each curve.
 *
 * out          pieces live in arena; area, requirement, current and margin are left to the caller
 * curve_count  separate curves and walls: more than one share the current
 */
enum neck_status place_from_crossing(const struct network *network, const struct crossing *crossing,
                                     struct arena *arena, struct neck_place *out,
                                     size_t *curve_count);

/*
 * The narrow stretch about a place: middle points along the current, from one end to the other.
 *
 * method  both ends of a chord walk along the copper's edge, the one whose step leaves the shorter
 *         chord first, until the chord reaches what it would need (its share of the requirement);
 *         the length is that of the way of its middle
 */
struct stretch {
    struct pt *points; /* malloc'ed */
    size_t count, capacity;
    struct pt low, high; /* corners of the rectangle about the points */
    uint16_t position;
    double length_mm;
};
struct stretch_places { /* where the copper's edges are looked up, per sheet */
    struct edge_index **of_sheet;
};
bool stretch_index(const struct network *network, struct arena *arena, struct stretch_places *out);
enum neck_status stretch_measure(const struct network *network, const struct stretch_places *places,
                                 const struct neck_piece *piece, double needed_mm,
                                 struct stretch *out);
/* Does the piece lie across the stretch? */
bool stretch_covers(const struct stretch *stretch, const struct neck_piece *piece);

#endif
