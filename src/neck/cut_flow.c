/* Dinic's maximum flow: breadth-first levels, then blocking flows along them. */
#include "cut_flow.h"

#include <string.h>

bool flow_init(struct flow *flow, struct arena *arena, uint32_t node_count, uint32_t pair_count)
{
    size_t arcs = 2 * (size_t)pair_count;
    *flow = (struct flow){.node_count = node_count, .arc_capacity = (uint32_t)arcs};
    flow->head = arena_alloc(arena, node_count, sizeof *flow->head);
    flow->next = arena_alloc(arena, arcs, sizeof *flow->next);
    flow->to = arena_alloc(arena, arcs, sizeof *flow->to);
    flow->base = arena_alloc(arena, arcs, sizeof *flow->base);
    flow->left = arena_alloc(arena, arcs, sizeof *flow->left);
    flow->level = arena_alloc(arena, node_count, sizeof *flow->level);
    flow->current = arena_alloc(arena, node_count, sizeof *flow->current);
    flow->queue = arena_alloc(arena, node_count, sizeof *flow->queue);
    flow->path = arena_alloc(arena, node_count, sizeof *flow->path);
    flow->is_source_side = arena_alloc(arena, node_count, sizeof *flow->is_source_side);
    flow->is_sink_side = arena_alloc(arena, node_count, sizeof *flow->is_sink_side);
    if (!flow->head || !flow->next || !flow->to || !flow->base || !flow->left || !flow->level ||
        !flow->current || !flow->queue || !flow->path || !flow->is_source_side ||
        !flow->is_sink_side)
        return false;
    memset(flow->head, 0xff, node_count * sizeof *flow->head);
    return true;
}

static void add_half(struct flow *flow, uint32_t from, uint32_t to, int64_t capacity)
{
    uint32_t arc = flow->arc_count++;
    flow->to[arc] = to;
    flow->base[arc] = capacity;
    flow->next[arc] = flow->head[from];
    flow->head[from] = arc;
}

uint32_t flow_add(struct flow *flow, uint32_t from, uint32_t to, int64_t forth, int64_t back)
{
    uint32_t arc = flow->arc_count;
    add_half(flow, from, to, forth);
    add_half(flow, to, from, back);
    return arc;
}

/*
 * Levels towards the sink, found backwards from it, so that a walk from the source never strays
 * where the sink is out of reach; no further than the source. False when no way is left: then every
 * node that still reaches the sink has a level.
 */
static bool find_levels(struct flow *flow, uint64_t *work)
{
    memset(flow->level, 0, flow->node_count * sizeof *flow->level);
    size_t count = 0;
    flow->queue[count++] = FLOW_SINK;
    flow->level[FLOW_SINK] = 1;
    for (size_t i = 0; i < count; i++) {
        uint32_t node = flow->queue[i];
        for (uint32_t arc = flow->head[node]; arc != ISTHMUS_NONE; arc = flow->next[arc]) {
            ++*work;
            uint32_t from = flow->to[arc];
            if (flow->left[arc ^ 1U] <= 0 || flow->level[from])
                continue;
            flow->level[from] = flow->level[node] + 1;
            if (from == FLOW_SOURCE)
                return true;
            flow->queue[count++] = from;
        }
    }
    return false;
}

static int64_t push_along(struct flow *flow, size_t length, int64_t most)
{
    int64_t amount = most;
    for (size_t i = 0; i < length; i++)
        if (flow->left[flow->path[i]] < amount)
            amount = flow->left[flow->path[i]];
    for (size_t i = 0; i < length; i++) {
        flow->left[flow->path[i]] -= amount;
        flow->left[flow->path[i] ^ 1U] += amount;
    }
    return amount;
}

/* The next arc that leads one level on, or NONE. */
static uint32_t next_arc(struct flow *flow, uint32_t node, uint64_t *work)
{
    uint32_t arc = flow->current[node];
    while (arc != ISTHMUS_NONE &&
           (flow->left[arc] <= 0 || flow->level[flow->to[arc]] + 1 != flow->level[node])) {
        arc = flow->next[arc];
        ++*work;
    }
    flow->current[node] = arc;
    return arc;
}

static size_t retreat_to_full_arc(const struct flow *flow, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (flow->left[flow->path[i]] <= 0)
            return i;
    return 0;
}

static int64_t block_levels(struct flow *flow, int64_t most, uint64_t *work)
{
    memcpy(flow->current, flow->head, flow->node_count * sizeof *flow->head);
    int64_t sum = 0;
    size_t length = 0;
    uint32_t node = FLOW_SOURCE;
    while (sum < most) {
        if (node == FLOW_SINK) {
            sum += push_along(flow, length, most - sum);
            *work += length;
            length = retreat_to_full_arc(flow, length);
            node = flow->to[flow->path[length] ^ 1U];
            continue;
        }
        uint32_t arc = next_arc(flow, node, work);
        if (arc != ISTHMUS_NONE) {
            flow->path[length++] = arc;
            node = flow->to[arc];
        } else if (length == 0) {
            break;
        } else {
            flow->level[node] = 0; /* a dead end for this round */
            arc = flow->path[--length];
            node = flow->to[arc ^ 1U];
        }
    }
    return sum;
}

/* What the source still reaches. */
static void mark_source_side(struct flow *flow, uint64_t *work)
{
    memset(flow->is_source_side, 0, flow->node_count * sizeof *flow->is_source_side);
    size_t count = 0;
    flow->queue[count++] = FLOW_SOURCE;
    flow->is_source_side[FLOW_SOURCE] = true;
    for (size_t i = 0; i < count; i++) {
        for (uint32_t arc = flow->head[flow->queue[i]]; arc != ISTHMUS_NONE;
             arc = flow->next[arc]) {
            ++*work;
            uint32_t to = flow->to[arc];
            if (flow->left[arc] <= 0 || flow->is_source_side[to])
                continue;
            flow->is_source_side[to] = true;
            flow->queue[count++] = to;
        }
    }
}

int64_t flow_run(struct flow *flow, int64_t limit, uint64_t *work)
{
    memcpy(flow->left, flow->base, flow->arc_count * sizeof *flow->base);
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
