/* Each pad of a group row alone is held to an equal share of the group's current. */
#ifndef RULES_SHARES_H
#define RULES_SHARES_H

#include "assign.h"
#include "isthmus/neck.h"

/*
 * The same question with every group taken apart: each of its pads an end of its own, with an equal
 * share. *has_groups: whether there is anything to ask. false: no memory.
 */
bool shares_split(const struct board *board, const struct net_question *question,
                  struct arena *arena, struct net_question *out, bool *has_groups);

/* Keeps the necks that part one pad of a group from all else; the others were asked about with the
 * whole group's current. */
void shares_keep_pads(const struct net_question *split, struct neck_result *found);

#endif
