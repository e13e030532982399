/* Copper between two openings: it always shares the current with other copper. */
#ifndef NECK_WEBS_H
#define NECK_WEBS_H

#include "neck/taut.h"

/*
 * Length in mm, etch loss off, of the shortest piece between two different closed edges of the
 * copper (openings, the outline), rims of plated holes left out; INFINITY if there is none. No cut
 * runs along such a piece alone, so when it is too narrow for all the current, that its net passes
 * rests on how the current divides. errors: *is_ok false without memory
 */
double webs_shortest_mm(const struct domain *domain, const struct chord_list *list, bool *is_ok);

#endif
