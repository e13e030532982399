/* Copper of a net that is drawn but not there. */
#ifndef RULES_TAKEN_H
#define RULES_TAKEN_H

#include "isthmus/finding.h"
#include "net_copper.h"

/* What the board's edge, its cut-outs and holes without plating cut off the net's copper, and its
 * named objects beyond the edge, an entry each a layer; lives in arena. false: no memory. */
bool taken_list(const struct board *board, const struct net_question *question,
                const struct net_copper *copper, struct arena *arena, struct net_verdict *out);

#endif
