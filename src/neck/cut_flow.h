/* Maximum flow in integers: exact, and it always ends. */
#ifndef NECK_CUT_FLOW_H
#define NECK_CUT_FLOW_H

#include "isthmus/base.h"

#define FLOW_SOURCE 0U
#define FLOW_SINK 1U
/* More than any cut that is looked for; the sum of all others stays below INT64_MAX. */
#define FLOW_INFINITE ((int64_t)1 << 60)

/* Arcs come in pairs (i and i^1 are each other's reverse). base is what a run starts from. */
struct flow {
    uint32_t node_count, arc_count, arc_capacity;
    uint32_t *head, *next, *to;
    int64_t *base, *left;
    uint32_t *level, *current, *queue, *path; /* scratch of a run */
    bool *is_source_side, *is_sink_side;      /* after a run: the smallest and the largest cut */
};

bool flow_init(struct flow *flow, struct arena *arena, uint32_t node_count, uint32_t pair_count);
/* Returns the arc's index. Room for it was given to flow_init. */
uint32_t flow_add(struct flow *flow, uint32_t from, uint32_t to, int64_t forth, int64_t back);
/*
 * A maximum flow from source to sink, stopped as soon as it reaches limit. *work grows by the arcs
 * looked at. Below limit, is_source_side tells what the source still reaches, is_sink_side what
 * still reaches the sink: the two extreme minimum cuts.
 * source: E. A. Dinic, Soviet Math. Doklady 11 (1970), from memory
 */
int64_t flow_run(struct flow *flow, int64_t limit, uint64_t *work);

#endif
