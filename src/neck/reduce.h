/* Makes the graph small without changing any cut below what suffices. */
#ifndef NECK_REDUCE_H
#define NECK_REDUCE_H

#include "neck/network.h"

/* Links between the same two classes that together are one curve, or one hole's rim. */
struct bundle {
    uint32_t a, b; /* classes */
    double area_mm2;
    uint32_t first, count; /* order[first .. first + count): indices into network.links */
};
struct reduced {
    struct classes classes;
    uint32_t *order;
    struct bundle *bundles;
    size_t bundle_count;
};

/*
 * Unites across every link that suffices alone (need_mm2), then, when deep is set, also
 *
 * - across links that suffice together, and
 * - a face of no contact with a neighbour that it shares at least half of all its links' area with:
 *   some least cut of any two groups of terminals keeps the two together (Padberg and Rinaldi 1990,
 *   "An efficient algorithm for the minimum capacity cut problem"). Of several narrow places in a
 *   row this leaves the worst.
 */
enum neck_status reduce(const struct network *network, double need_mm2, bool deep,
                        struct reduced *out);
void reduced_free(struct reduced *reduced);

#endif
