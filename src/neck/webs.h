/*
 * Copper beside other copper: where the current of a net divides.
 *
 * A cut of several curves shares. Each of them either runs between two closed edges of a layer's
 * copper, or the two parts that it leaves of its layer hang together by way of other layers. So
 * where nothing of either kind is too narrow for the whole current, every cut is a single curve or
 * one whose curves each suffice.
 */
#ifndef NECK_WEBS_H
#define NECK_WEBS_H

#include "neck/taut.h"

/* The spokes that hold one contact: it stands among `gap_count` openings. */
struct spokes {
    uint32_t contact, gap_count;
    double shortest_nm; /* of the ways between two of those openings */
};
/*
 * shortest_nm  etch loss off, between two different closed edges of the copper (openings, the
 *              outline), right across copper or past plated holes, whose walls are left out;
 *              INFINITY: none. Spokes of a contact that belongs to a terminal stand in `spokes`
 */
struct webs {
    double shortest_nm;
    struct spokes *spokes; /* malloc'ed; webs_free */
    size_t spoke_count;
};
enum neck_status webs_find(const struct domain *domain, const struct chord_list *list,
                           struct webs *out);
void webs_free(struct webs *webs);

#endif
