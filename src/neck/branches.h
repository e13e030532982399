/* Copper that lies on no path between two terminals. */
#ifndef NECK_BRANCHES_H
#define NECK_BRANCHES_H

#include "neck/network.h"

/* Lists the pruned branches worth telling (DESIGN section 2, "Dead ends"); they live in arena. */
enum neck_status branches_find(const struct network *network, struct arena *arena,
                               struct neck_result *out);

#endif
