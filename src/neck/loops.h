/* Ways that run side by side on several layers. */
#ifndef NECK_LOOPS_H
#define NECK_LOOPS_H

#include "neck/network.h"

/*
 * Sets network->loop_mm2: where two holes or more join the same copper of two layers, current can
 * divide between these, and the least wall of such holes, or piece on any layer, may be made to
 * carry too much; INFINITY: every layer hangs on the others by single holes. Needs the network's
 * links.
 */
enum neck_status loops_find(struct network *network);

#endif
