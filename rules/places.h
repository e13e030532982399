/* Which places of a neck are places of their own. */
#ifndef RULES_PLACES_H
#define RULES_PLACES_H

#include "isthmus/finding.h"

/*
 * Leaves out places that say again what a worse one said: cuts beside it through the same narrow
 * copper. places are worst first; returns how many are kept, in order.
 */
size_t places_keep_distinct(struct finding_place *places, size_t count);

#endif
