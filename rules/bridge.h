/* The least cut between two groups of terminals on a piece of copper, however wide: where nets that
 * are joined meet. */
#ifndef RULES_BRIDGE_H
#define RULES_BRIDGE_H

#include "isthmus/neck.h"

/*
 * One search answers many questions about the same copper: what was looked for once is kept.
 *
 * net      must outlive it
 * arena    places found live here
 * reached  per terminal: is a pad of it on the first group's side of the last cut found?
 */
struct bridge_search {
    const struct neck_net *net;
    struct arena *arena;
    bool *reached;
    struct neck_meter *wide;       /* for cuts of any width; made when first asked */
    struct neck_meter *least;      /* for cuts below least_mm2 */
    double wide_mm2;               /* reach of `wide` */
    double least_mm2, refused_mm2; /* refused: the least limit with too many pieces */
    size_t chord_limit;            /* as many are too many all over the copper; set by begin */
    size_t near_chord_limit;       /* ... near a cut */
};

/* scratch: for `reached`. false: no memory. */
bool bridge_begin(const struct neck_net *net, struct arena *arena, struct arena *scratch,
                  struct bridge_search *out);
void bridge_end(struct bridge_search *search);

/*
 * side      per terminal: 1 or 2, the groups to part; 0: of neither
 * place     the cut; without a piece where no copper joins the groups
 * is_found  false: only where a pad belongs to both groups
 * is_least  false: there may be a lesser one, what was found is only known to be a cut
 */
enum neck_status bridge_find(struct bridge_search *search, const uint8_t *side,
                             struct neck_place *place, bool *is_found, bool *is_least);

#endif
