/* Maximum flow in integers: exact, and it always ends. */
#ifndef NECK_CUT_FLOW_H
#define NECK_CUT_FLOW_H

#include "isthmus/base.h"

#define FLOW_SOURCE 0U
#define FLOW_SINK 1U
/* More than any cut that is looked for; the sum of all others stays below INT64_MAX. */
#define FLOW_INFINITE ((int64_t)1 << 60)

struct flow_arc {
    uint32_t to, back; /* back: the same edge seen from its other end */
    int64_t left;
};
/*
 * flow_add in any order, then flow_finish once, then flow_run as often as wanted: flow_base is what
 * each run starts from.
 *
 * arcs     those from node n: first[n] .. first[n + 1]
 * place    per index that flow_add returned (and the next one, its reverse): the arc
 * sources  arcs from the source, and from the sink, that this run can use: most nodes have one of
 * sinks    each, of no capacity
 */
struct flow {
    uint32_t node_count, arc_count, arc_capacity;
    struct flow_arc *arcs;
    int64_t *base;
    uint32_t *first, *place, *from, *to; /* from, to: per index, until finished */
    int64_t *capacity;                   /* likewise */
    uint32_t *sources, *sinks, source_count, sink_count;
    uint32_t *level, *current, *queue, *path; /* scratch of a run */
    uint32_t *touched; /* arcs that flow was pushed along since all were as given; too many: full */
    size_t touched_count, level_count;   /* level_count: nodes of the queue that have levels;
                                            ISTHMUS_NONE: any may */
    bool *is_source_side, *is_sink_side; /* after a run: the smallest and the largest cut */
};

bool flow_init(struct flow *flow, struct arena *arena, uint32_t node_count, uint32_t pair_count);
/* Returns the arc's index. Room for it was given to flow_init. */
uint32_t flow_add(struct flow *flow, uint32_t from, uint32_t to, int64_t forth, int64_t back);
void flow_finish(struct flow *flow);
/* The capacity of an arc, to read and to set. */
static inline int64_t *flow_base(struct flow *flow, uint32_t index)
{
    return &flow->base[flow->place[index]];
}
/*
 * A maximum flow from source to sink, stopped as soon as it reaches limit. *work grows by the arcs
 * looked at. Below limit, is_source_side tells what the source still reaches, is_sink_side what
 * still reaches the sink: the two extreme minimum cuts.
 * source: E. A. Dinic, Soviet Math. Doklady 11 (1970), from memory
 */
int64_t flow_run(struct flow *flow, int64_t limit, uint64_t *work);

/*
 * For many runs that differ in few arcs at source and sink: flow_start, then any of these, flow_go
 * (which is flow_run without its start), flow_undo ...; each costs what it changes.
 */
void flow_start(struct flow *flow);
void flow_open_source(struct flow *flow, uint32_t index);
void flow_open_sink(struct flow *flow, uint32_t index);
void flow_close_sinks(struct flow *flow);
int64_t flow_go(struct flow *flow, int64_t limit, uint64_t *work);
void flow_undo(struct flow *flow);

#endif
