/* Dinic's maximum flow: breadth-first levels, then blocking flows along them. */
#include "cut_flow.h"

#include <string.h>

static bool alloc_nodes(struct flow *flow, struct arena *arena)
{
    uint32_t count = flow->node_count;
    flow->first = arena_alloc(arena, (size_t)count + 1, sizeof *flow->first);
    flow->level = arena_alloc(arena, count, sizeof *flow->level);
    flow->current = arena_alloc(arena, count, sizeof *flow->current);
    flow->queue = arena_alloc(arena, count, sizeof *flow->queue);
    flow->path = arena_alloc(arena, count, sizeof *flow->path);
    flow->is_source_side = arena_alloc(arena, count, sizeof *flow->is_source_side);
    flow->is_sink_side = arena_alloc(arena, count, sizeof *flow->is_sink_side);
    return flow->first && flow->level && flow->current && flow->queue && flow->path &&
           flow->is_source_side && flow->is_sink_side;
}

bool flow_init(struct flow *flow, struct arena *arena, uint32_t node_count, uint32_t pair_count)
{
    size_t arcs = 2 * (size_t)pair_count;
    *flow = (struct flow){.node_count = node_count, .arc_capacity = (uint32_t)arcs};
    flow->arcs = arena_alloc(arena, arcs, sizeof *flow->arcs);
    flow->base = arena_alloc(arena, arcs, sizeof *flow->base);
    flow->place = arena_alloc(arena, arcs, sizeof *flow->place);
    flow->from = arena_alloc(arena, arcs, sizeof *flow->from);
    flow->to = arena_alloc(arena, arcs, sizeof *flow->to);
    flow->capacity = arena_alloc(arena, arcs, sizeof *flow->capacity);
    flow->sources = arena_alloc(arena, pair_count, sizeof *flow->sources);
    flow->sinks = arena_alloc(arena, pair_count, sizeof *flow->sinks);
    flow->touched = arena_alloc(arena, arcs, sizeof *flow->touched);
    return flow->arcs && flow->base && flow->place && flow->from && flow->to && flow->capacity &&
           flow->sources && flow->sinks && flow->touched && alloc_nodes(flow, arena);
}

static void add_half(struct flow *flow, uint32_t from, uint32_t to, int64_t capacity)
{
    uint32_t index = flow->arc_count++;
    flow->from[index] = from;
    flow->to[index] = to;
    flow->capacity[index] = capacity;
}

uint32_t flow_add(struct flow *flow, uint32_t from, uint32_t to, int64_t forth, int64_t back)
{
    uint32_t index = flow->arc_count;
    add_half(flow, from, to, forth);
    add_half(flow, to, from, back);
    return index;
}

void flow_finish(struct flow *flow)
{
    uint32_t *first = flow->first, *next = flow->current;
    for (uint32_t i = 0; i < flow->arc_count; i++)
        first[flow->from[i] + 1]++;
    for (uint32_t n = 0; n < flow->node_count; n++) {
        first[n + 1] += first[n];
        next[n] = first[n];
    }
    for (uint32_t i = 0; i < flow->arc_count; i++)
        flow->place[i] = next[flow->from[i]]++;
    for (uint32_t i = 0; i < flow->arc_count; i++) {
        flow->arcs[flow->place[i]] =
            (struct flow_arc){.to = flow->to[i], .back = flow->place[i ^ 1U]};
        flow->base[flow->place[i]] = flow->capacity[i];
    }
}

/* Only what the last search met has a level; those nodes stand in the queue. */
static void forget_levels(struct flow *flow)
{
    if (flow->level_count == ISTHMUS_NONE)
        memset(flow->level, 0, flow->node_count * sizeof *flow->level);
    else
        for (size_t i = 0; i < flow->level_count; i++)
            flow->level[flow->queue[i]] = 0;
    flow->level[FLOW_SOURCE] = 0;
    flow->level_count = 0;
}

/*
 * Levels towards the sink, found backwards from it, so that a walk from the source never strays
 * where the sink is out of reach; no further than the source. False when no way is left: then every
 * node that still reaches the sink has a level.
 */
static bool find_levels(struct flow *flow, uint64_t *work)
{
    const struct flow_arc *arcs = flow->arcs;
    size_t count = 0;
    forget_levels(flow);
    flow->level[FLOW_SINK] = 1;
    for (uint32_t k = 0; k < flow->sink_count; k++) {
        const struct flow_arc *arc = &arcs[flow->sinks[k]];
        if (flow->level[arc->to] || arcs[arc->back].left <= 0)
            continue; /* several terminals may open from one node */
        flow->level[arc->to] = 2;
        if (arc->to == FLOW_SOURCE)
            return true;
        flow->current[arc->to] = flow->first[arc->to];
        flow->queue[count++] = arc->to;
        flow->level_count = count;
    }
    *work += flow->sink_count;
    for (size_t i = 0; i < count; i++) {
        uint32_t node = flow->queue[i], end = flow->first[node + 1];
        *work += end - flow->first[node];
        for (uint32_t k = flow->first[node]; k < end; k++) {
            uint32_t from = arcs[k].to;
            if (flow->level[from] || arcs[arcs[k].back].left <= 0)
                continue;
            flow->level[from] = flow->level[node] + 1;
            if (from == FLOW_SOURCE)
                return true;
            flow->current[from] = flow->first[from];
            flow->queue[count++] = from;
            flow->level_count = count;
        }
    }
    return false;
}

static void note_touched(struct flow *flow, size_t length)
{
    for (size_t i = 0; i < length && flow->touched_count < flow->arc_count; i++)
        flow->touched[flow->touched_count++] = flow->path[i];
}

static int64_t push_along(struct flow *flow, size_t length, int64_t most)
{
    note_touched(flow, length);
    int64_t amount = most;
    for (size_t i = 0; i < length; i++)
        if (flow->arcs[flow->path[i]].left < amount)
            amount = flow->arcs[flow->path[i]].left;
    for (size_t i = 0; i < length; i++) {
        struct flow_arc *arc = &flow->arcs[flow->path[i]];
        arc->left -= amount;
        flow->arcs[arc->back].left += amount;
    }
    return amount;
}

static bool leads_on(const struct flow *flow, uint32_t node, uint32_t arc)
{
    return flow->arcs[arc].left > 0 && flow->level[flow->arcs[arc].to] + 1 == flow->level[node];
}

/* The next arc that leads one level on, or NONE. Those of the source are looked up in its list. */
static uint32_t next_arc(struct flow *flow, uint32_t node, uint64_t *work)
{
    bool is_source = node == FLOW_SOURCE;
    uint32_t end = is_source ? flow->source_count : flow->first[node + 1];
    uint32_t start = flow->current[node], k = start;
    while (k < end && !leads_on(flow, node, is_source ? flow->sources[k] : k))
        k++;
    *work += k - start;
    flow->current[node] = k;
    if (k == end)
        return ISTHMUS_NONE;
    return is_source ? flow->sources[k] : k;
}

static size_t retreat_to_full_arc(const struct flow *flow, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (flow->arcs[flow->path[i]].left <= 0)
            return i;
    return 0;
}

static uint32_t start_of(const struct flow *flow, uint32_t arc)
{
    return flow->arcs[flow->arcs[arc].back].to;
}

static int64_t block_levels(struct flow *flow, int64_t most, uint64_t *work)
{
    flow->current[FLOW_SOURCE] = 0; /* those of the others were set with their levels */
    int64_t sum = 0;
    size_t length = 0;
    uint32_t node = FLOW_SOURCE;
    while (sum < most) {
        if (node == FLOW_SINK) {
            sum += push_along(flow, length, most - sum);
            *work += length;
            length = retreat_to_full_arc(flow, length);
            node = start_of(flow, flow->path[length]);
            continue;
        }
        uint32_t arc = next_arc(flow, node, work);
        if (arc != ISTHMUS_NONE) {
            flow->path[length++] = arc;
            node = flow->arcs[arc].to;
        } else if (length == 0) {
            break;
        } else {
            flow->level[node] = 0; /* a dead end for this round */
            node = start_of(flow, flow->path[--length]);
        }
    }
    return sum;
}

/* What the source still reaches. */
static void mark_source_side(struct flow *flow, uint64_t *work)
{
    memset(flow->is_source_side, 0, flow->node_count * sizeof *flow->is_source_side);
    size_t count = 0;
    flow->level_count = ISTHMUS_NONE; /* the queue is needed for this */
    flow->queue[count++] = FLOW_SOURCE;
    flow->is_source_side[FLOW_SOURCE] = true;
    for (size_t i = 0; i < count; i++) {
        uint32_t end = flow->first[flow->queue[i] + 1];
        for (uint32_t k = flow->first[flow->queue[i]]; k < end; k++) {
            uint32_t to = flow->arcs[k].to;
            ++*work;
            if (flow->arcs[k].left <= 0 || flow->is_source_side[to])
                continue;
            flow->is_source_side[to] = true;
            flow->queue[count++] = to;
        }
    }
}

/* Everything as given; and which arcs at source and sink matter. */
void flow_start(struct flow *flow)
{
    flow->touched_count = 0;
    flow->level_count = ISTHMUS_NONE;
    for (uint32_t i = 0; i < flow->arc_count; i++)
        flow->arcs[i].left = flow->base[i];
    flow->source_count = flow->sink_count = 0;
    for (uint32_t k = flow->first[FLOW_SOURCE]; k < flow->first[FLOW_SOURCE + 1]; k++)
        if (flow->arcs[k].left > 0)
            flow->sources[flow->source_count++] = k;
    for (uint32_t k = flow->first[FLOW_SINK]; k < flow->first[FLOW_SINK + 1]; k++)
        if (flow->arcs[flow->arcs[k].back].left > 0)
            flow->sinks[flow->sink_count++] = k;
}

static void set_arc(struct flow *flow, uint32_t arc, int64_t capacity)
{
    flow->base[arc] = flow->arcs[arc].left = capacity;
}

void flow_open_source(struct flow *flow, uint32_t index)
{
    set_arc(flow, flow->place[index], FLOW_INFINITE);
    flow->sources[flow->source_count++] = flow->place[index];
}

void flow_open_sink(struct flow *flow, uint32_t index)
{
    set_arc(flow, flow->place[index], FLOW_INFINITE);
    flow->sinks[flow->sink_count++] = flow->place[index + 1];
}

void flow_close_sinks(struct flow *flow)
{
    for (uint32_t k = 0; k < flow->sink_count; k++)
        set_arc(flow, flow->arcs[flow->sinks[k]].back, 0);
    flow->sink_count = 0;
}

void flow_undo(struct flow *flow)
{
    if (flow->touched_count >= flow->arc_count) {
        for (uint32_t i = 0; i < flow->arc_count; i++)
            flow->arcs[i].left = flow->base[i];
    }
    for (size_t i = 0; i < flow->touched_count; i++) {
        uint32_t arc = flow->touched[i], back = flow->arcs[arc].back;
        flow->arcs[arc].left = flow->base[arc];
        flow->arcs[back].left = flow->base[back];
    }
    flow->touched_count = 0;
}

int64_t flow_run(struct flow *flow, int64_t limit, uint64_t *work)
{
    flow_start(flow);
    return flow_go(flow, limit, work);
}

int64_t flow_go(struct flow *flow, int64_t limit, uint64_t *work)
{
    int64_t sum = 0;
    while (sum < limit && find_levels(flow, work))
        sum += block_levels(flow, limit - sum, work);
    if (sum >= limit)
        return sum;
    for (uint32_t node = 0; node < flow->node_count; node++)
        flow->is_sink_side[node] = flow->level[node] != 0;
    mark_source_side(flow, work);
    return sum;
}
