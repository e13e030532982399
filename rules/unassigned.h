/*
 * Terminals that the table is silent about and that hang together on copper too narrow for the
 * net's whole current are one question, not many alarms.
 */
#ifndef RULES_UNASSIGNED_H
#define RULES_UNASSIGNED_H

#include "isthmus/neck.h"

/*
 * Merges the unassigned necks of one net and case: of nested groups of silent ends only the largest
 * stays, with the places of the others behind its own.
 *
 * necks    in and out; assigned ones keep their order and come first
 * in each merged neck side[] is 1 for the silent group and 2 for the rest
 * false    no memory
 */
bool unassigned_merge(struct neck *necks, size_t *neck_count, size_t end_count, const bool *has_row,
                      struct arena *arena);

/*
 * Per end the smallest area in mm2 among the places of the necks that part it from the main one;
 * from the necks before merging. INFINITY when none does. NULL: no memory.
 */
double *unassigned_areas_mm2(const struct neck *necks, size_t neck_count, size_t end_count,
                             const bool *has_row, struct arena *arena);

#endif
