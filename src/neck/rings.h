/* Pads that are no more than a ring about a via: no cut needs them. */
#ifndef NECK_RINGS_H
#define NECK_RINGS_H

#include "isthmus/neck.h"

/* The sheet without islands that hold one via, no contact, and reach no farther than its pad; in
 * nets with few holes as it is. What is new lives in the arena. false: no memory. */
bool rings_leave_out(const struct neck_net *net, const struct neck_sheet *sheet,
                     struct arena *arena, struct neck_sheet *out);

#endif
