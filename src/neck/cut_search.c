/* Branch and bound for the worst minimal cut of one part. */
#include "cut_search.h"

#include <stdlib.h>
#include <string.h>

/* Bounds are compared with this much room, above the rounding of areas to
 * integers. */
#define BOUND_ROOM 1e-7
#define SCALE_STEPS 1e12 /* integer steps in the largest requirement */
#define HULL_DEPTH 64
#define GUESS_ALL 6    /* groups: up to so many, all their sides are tried; */
#define GUESS_PAIRS 24 /* up to so many, each alone and each pair of them */
#define GUESS_SHARE 4  /* of the effort that the search took */
#define COPPER_DEPTH                                                                               \
    2000 /* decisions about vertices that no terminal touches; bounds the stack                    \
          */

enum hull_kind { HULL_OF_DRAWS, HULL_OF_FEEDS };

struct search {
    const struct cut_problem *problem;
    const struct part *part;
    const struct cut_groups *groups;
    uint64_t *work, work_limit;
    bool is_settled, is_symmetric; /* symmetric: every feed equals its draw */
    double margin;                 /* the least so far; only cuts below it count */
    double margin_below;           /* ... at the start */
    struct part_cut *best;
    struct seen_cuts *seen; /* or NULL */
    double scale;
    /* the network: two nodes for a hole, one for a solid vertex; two for a split
     * group */
    struct flow flow;
    uint32_t *in_node, *out_node;
    uint32_t *source_arc, *sink_arc, *through_arc; /* per vertex; through: the first of two */
    uint32_t *group_source_arc, *group_sink_arc;   /* per group; NONE: the vertex's own */
    /* decisions */
    uint8_t *group_side, *vertex_side;
    uint32_t decided_count; /* groups on side A or B */
    uint32_t copper_depth;  /* vertices decided */
    uint8_t *must;          /* per vertex: side it is bound to by both */
    bool has_a, has_b;
    /* scratch */
    uint8_t *label, *trial;
    uint32_t *element, *wide_element, *queue;
    uint32_t *order, *next_group; /* groups, nearest first */
    bool *is_reached;
    struct incidence incidence;
};

static bool is_hole(const struct search *search, uint32_t v)
{
    return !isinf(search->part->vertex_area_mm2[v]);
}

/* --- what a labelling is worth --- */

static uint8_t group_label(const struct cut_group *group, const uint8_t *label)
{
    uint8_t side = label[group->gates[0]];
    for (uint32_t i = 1; i < group->gate_count; i++)
        if (label[group->gates[i]] != side)
            return CUT_THROUGH;
    return side;
}

static double labels_area(const struct part *part, const uint8_t *label)
{
    double area = 0;
    for (uint32_t e = 0; e < part->edge_count; e++)
        if ((label[part->edges[e].a] ^ label[part->edges[e].b]) == (CUT_SIDE_A ^ CUT_SIDE_B))
            area += part->edges[e].area_mm2;
    for (uint32_t v = 0; v < part->vertex_count; v++)
        if (label[v] == CUT_THROUGH)
            area += part->vertex_area_mm2[v];
    return area;
}

static double labels_current(const struct search *search, const uint8_t *label)
{
    double feed_a[4] = {0}, draw_a[4] = {0};
    for (uint32_t g = 0; g < search->groups->count; g++) {
        uint8_t side = group_label(&search->groups->items[g], label);
        feed_a[side] += search->groups->items[g].feed_a;
        draw_a[side] += search->groups->items[g].draw_a;
    }
    return fmin(search->problem->i_net_a, fmax(fmin(feed_a[CUT_SIDE_A], draw_a[CUT_SIDE_B]),
                                               fmin(feed_a[CUT_SIDE_B], draw_a[CUT_SIDE_A])));
}

bool part_widest_piece(const struct part *part, const uint8_t *label, uint32_t *which)
{
    double widest = -1;
    bool is_edge = true;
    for (uint32_t e = 0; e < part->edge_count; e++) {
        const struct part_edge *edge = &part->edges[e];
        if ((label[edge->a] ^ label[edge->b]) == CUT_THROUGH && edge->area_mm2 > widest) {
            widest = edge->area_mm2;
            *which = e;
        }
    }
    for (uint32_t v = 0; v < part->vertex_count; v++)
        if (label[v] == CUT_THROUGH && part->vertex_area_mm2[v] > widest) {
            widest = part->vertex_area_mm2[v];
            *which = v;
            is_edge = false;
        }
    return is_edge;
}

/* The item with this widest piece; else a new one; else, if all are taken, the one of largest
 * margin. NULL: without memory, or the cut is not wanted. */
static struct seen_cut *seen_slot(struct seen_cuts *seen, const struct seen_cut *cut,
                                  uint32_t vertex_count)
{
    struct seen_cut *last = NULL;
    for (uint32_t i = 0; i < seen->count; i++) {
        struct seen_cut *item = &seen->items[i];
        if (item->widest == cut->widest && item->is_edge == cut->is_edge)
            return item->margin > cut->margin ? item : NULL;
        last = !last || item->margin > last->margin ? item : last;
    }
    if (seen->count == SEEN_MOST)
        return last->margin > cut->margin ? last : NULL;
    struct seen_cut *item = &seen->items[seen->count];
    item->label = CUT_ALLOC(seen->arena, vertex_count, uint8_t);
    seen->has_no_memory |= !item->label;
    seen->count += item->label != NULL;
    return item->label ? item : NULL;
}

static void note_seen(struct search *search, const uint8_t *label, double area_mm2, double margin)
{
    struct seen_cuts *seen = search->seen;
    struct seen_cut cut = {
        .area_mm2 = area_mm2, .margin = margin, .found_index = seen->found_count++};
    cut.is_edge = part_widest_piece(search->part, label, &cut.widest);
    struct seen_cut *item = seen_slot(seen, &cut, search->part->vertex_count);
    *search->work += search->part->edge_count;
    if (!item)
        return;
    cut.label = item->label;
    *item = cut;
    memcpy(item->label, label, search->part->vertex_count);
}

static int compare_seen(const void *a, const void *b)
{
    const struct seen_cut *left = a, *right = b;
    if (left->margin != right->margin)
        return left->margin < right->margin ? -1 : 1;
    return (left->found_index > right->found_index) - (left->found_index < right->found_index);
}

static void consider(struct search *search, const uint8_t *label)
{
    double area = labels_area(search->part, label);
    double required = demand_area_mm2(&search->problem->demand, labels_current(search, label));
    *search->work += search->part->edge_count;
    if (search->seen && area < search->margin_below * required)
        note_seen(search, label, area, area / required);
    if (required <= 0 || area >= search->margin * required)
        return;
    search->margin = search->best->margin = area / required;
    search->best->area_mm2 = area;
    search->best->is_found = true;
    memcpy(search->best->label, label, search->part->vertex_count);
}

/* --- minimal cuts within a labelling --- */

/* A hole that is cut through is two elements: v on side A, v + vertex_count on
 * side B. */
static uint32_t element_on(const struct search *search, const uint8_t *label, uint32_t v,
                           uint8_t side)
{
    bool is_far_half = label[v] == CUT_THROUGH && side == CUT_SIDE_B;
    return is_far_half ? v + search->part->vertex_count : v;
}

/* Places of a terminal that lies wholly on one side are one end of flow. */
static void join_groups(struct search *search, const uint8_t *label)
{
    for (uint32_t g = 0; g < search->groups->count; g++) {
        const struct cut_group *group = &search->groups->items[g];
        if (group->gate_count < 2)
            continue;
        uint8_t side = group_label(group, label);
        for (uint32_t i = 1; i < group->gate_count && side != CUT_THROUGH; i++)
            cut_unite(search->element, element_on(search, label, group->gates[0], side),
                      element_on(search, label, group->gates[i], side));
        *search->work += group->gate_count;
    }
}

/* What hangs together on its own side. */
static void join_sides(struct search *search, const uint8_t *label)
{
    const struct part *part = search->part;
    for (uint32_t i = 0; i < 2 * part->vertex_count; i++)
        search->element[i] = i;
    for (uint32_t e = 0; e < part->edge_count; e++) {
        uint32_t a = part->edges[e].a, b = part->edges[e].b;
        uint8_t common = label[a] & label[b];
        if (common & CUT_SIDE_A)
            cut_unite(search->element, element_on(search, label, a, CUT_SIDE_A),
                      element_on(search, label, b, CUT_SIDE_A));
        if (common & CUT_SIDE_B)
            cut_unite(search->element, element_on(search, label, a, CUT_SIDE_B),
                      element_on(search, label, b, CUT_SIDE_B));
    }
    join_groups(search, label);
    *search->work += part->edge_count;
}

/* A hole cut through for nothing goes to the side that it still touches. (One
 * whose edges are narrower than its wall stays: without it a side may fall
 * apart.) */
static void tidy_holes(const struct search *search, uint8_t *label)
{
    const struct part *part = search->part;
    for (uint32_t v = 0; v < part->vertex_count; v++) {
        if (label[v] != CUT_THROUGH)
            continue;
        uint8_t touched = 0;
        for (uint32_t i = search->incidence.first[v]; i < search->incidence.first[v + 1]; i++) {
            const struct part_edge *edge = &part->edges[search->incidence.edge_at[i]];
            touched |= label[part_other_end(edge, v)];
        }
        if (touched)
            label[v] = touched;
    }
}

/* Unites everything but the piece of copper `without`, cut or not. */
static void join_without(struct search *search, const uint8_t *label, uint32_t without)
{
    const struct part *part = search->part;
    uint32_t n = part->vertex_count, *own = search->element, *wide = search->wide_element;
    for (uint32_t i = 0; i < 2 * n; i++)
        wide[i] = i;
    for (uint32_t i = 0; i < 2 * n; i++)
        cut_unite(wide, i, cut_find_root(own, i)); /* the piece itself stays whole too */
    for (uint32_t e = 0; e < part->edge_count; e++) {
        uint32_t a = part->edges[e].a, b = part->edges[e].b;
        if ((label[a] ^ label[b]) == CUT_THROUGH && cut_find_root(own, a) != without &&
            cut_find_root(own, b) != without)
            cut_unite(wide, a, b);
    }
    for (uint32_t v = 0; v < n; v++)
        if (label[v] == CUT_THROUGH && cut_find_root(own, v) != without &&
            cut_find_root(own, v + n) != without)
            cut_unite(wide, v, v + n);
    *search->work += part->edge_count;
}

/* The cut between what `root` names in wide_element and all else. */
static void consider_split(struct search *search, const uint8_t *label, uint32_t root)
{
    uint32_t n = search->part->vertex_count, *wide = search->wide_element;
    for (uint32_t v = 0; v < n; v++) {
        bool is_in = cut_find_root(wide, v) == root;
        bool is_other_in = label[v] == CUT_THROUGH ? cut_find_root(wide, v + n) == root : is_in;
        search->trial[v] = is_in == is_other_in ? (is_in ? CUT_SIDE_B : CUT_SIDE_A) : CUT_THROUGH;
    }
    tidy_holes(search, search->trial);
    consider(search, search->trial);
}

static bool is_element(const struct search *search, const uint8_t *label, uint32_t i)
{
    uint32_t n = search->part->vertex_count;
    return i < n || label[i - n] == CUT_THROUGH;
}

/* Minimal cuts that a labelling is made of: take one piece of copper away, and
 * each part that the rest falls into is cut off by a minimal cut. */
static void consider_parts(struct search *search, uint8_t *label)
{
    uint32_t n = search->part->vertex_count, piece_count = 0;
    tidy_holes(search, label);
    join_sides(search, label);
    for (uint32_t i = 0; i < 2 * n; i++)
        piece_count += is_element(search, label, i) && search->element[i] == i;
    if (piece_count <= 2) {
        consider(search, label);
        return;
    }
    for (uint32_t piece = 0; piece < 2 * n; piece++) {
        if (!is_element(search, label, piece) || cut_find_root(search->element, piece) != piece)
            continue;
        join_without(search, label, piece);
        uint32_t split_count = 0;
        for (uint32_t i = 0; i < 2 * n; i++)
            split_count += is_element(search, label, i) && search->wide_element[i] == i;
        for (uint32_t i = 0; i < 2 * n && split_count > 2; i++)
            if (is_element(search, label, i) && cut_find_root(search->wide_element, i) == i &&
                i != cut_find_root(search->wide_element, piece))
                consider_split(search, label, i);
        if (*search->work > search->work_limit)
            return;
    }
}

/* --- the network --- */

static bool network_alloc(struct search *search, struct arena *arena)
{
    uint32_t n = search->part->vertex_count, g = search->groups->count;
    search->in_node = CUT_ALLOC(arena, n, uint32_t);
    search->out_node = CUT_ALLOC(arena, n, uint32_t);
    search->source_arc = CUT_ALLOC(arena, n, uint32_t);
    search->sink_arc = CUT_ALLOC(arena, n, uint32_t);
    search->through_arc = CUT_ALLOC(arena, n, uint32_t);
    search->group_source_arc = CUT_ALLOC(arena, g, uint32_t);
    search->group_sink_arc = CUT_ALLOC(arena, g, uint32_t);
    if (!search->in_node || !search->out_node || !search->source_arc || !search->sink_arc ||
        !search->through_arc || !search->group_source_arc || !search->group_sink_arc)
        return false;
    size_t nodes = 2, pairs = 2 * (size_t)search->part->edge_count + 2 * (size_t)n;
    for (uint32_t v = 0; v < n; v++) {
        search->in_node[v] = (uint32_t)nodes++;
        search->out_node[v] = is_hole(search, v) ? (uint32_t)nodes++ : search->in_node[v];
        pairs += is_hole(search, v) ? 3 : 0;
    }
    for (uint32_t i = 0; i < g; i++) {
        nodes += search->groups->items[i].is_split ? 2 : 0;
        pairs += 2 + 2 * (size_t)search->groups->items[i].gate_count;
    }
    return flow_init(&search->flow, arena, (uint32_t)nodes, (uint32_t)pairs);
}

static int64_t to_steps(const struct search *search, double area_mm2)
{
    double steps = area_mm2 * search->scale;
    return steps < 1e15 ? (int64_t)(steps + 0.5) : (int64_t)1000000000000000;
}

static void add_edges(struct search *search)
{
    for (uint32_t e = 0; e < search->part->edge_count; e++) {
        const struct part_edge *edge = &search->part->edges[e];
        int64_t steps = to_steps(search, edge->area_mm2);
        if (!is_hole(search, edge->a) && !is_hole(search, edge->b)) {
            flow_add(&search->flow, search->in_node[edge->a], search->in_node[edge->b], steps,
                     steps);
            continue;
        }
        flow_add(&search->flow, search->out_node[edge->a], search->in_node[edge->b], steps, 0);
        flow_add(&search->flow, search->out_node[edge->b], search->in_node[edge->a], steps, 0);
    }
}

static void add_vertices(struct search *search)
{
    struct flow *flow = &search->flow;
    for (uint32_t v = 0; v < search->part->vertex_count; v++) {
        uint32_t in = search->in_node[v], out = search->out_node[v];
        search->source_arc[v] = flow_add(flow, FLOW_SOURCE, out, 0, 0);
        search->sink_arc[v] = flow_add(flow, in, FLOW_SINK, 0, 0);
        if (in == out)
            continue;
        int64_t steps = to_steps(search, search->part->vertex_area_mm2[v]);
        flow_add(flow, in, out, steps, FLOW_INFINITE);
        search->through_arc[v] = flow_add(flow, FLOW_SOURCE, in, 0, 0);
        flow_add(flow, out, FLOW_SINK, 0, 0);
    }
}

/* A split group's feed is on side A only when all its gates are: a node before
 * them collects it; its draw likewise on side B. */
static void add_groups(struct search *search)
{
    struct flow *flow = &search->flow;
    uint32_t node = 2;
    for (uint32_t v = 0; v < search->part->vertex_count; v++)
        node += is_hole(search, v) ? 2 : 1;
    for (uint32_t g = 0; g < search->groups->count; g++) {
        const struct cut_group *group = &search->groups->items[g];
        if (!group->is_split) {
            search->group_source_arc[g] = search->source_arc[group->gates[0]];
            search->group_sink_arc[g] = search->sink_arc[group->gates[0]];
            continue;
        }
        uint32_t feeder = node++, drawer = node++;
        search->group_source_arc[g] = flow_add(flow, FLOW_SOURCE, feeder, 0, 0);
        search->group_sink_arc[g] = flow_add(flow, drawer, FLOW_SINK, 0, 0);
        for (uint32_t i = 0; i < group->gate_count; i++) {
            flow_add(flow, feeder, search->out_node[group->gates[i]], FLOW_INFINITE, 0);
            flow_add(flow, search->in_node[group->gates[i]], drawer, FLOW_INFINITE, 0);
        }
    }
}

static bool search_alloc(struct search *search, struct arena *arena)
{
    uint32_t n = search->part->vertex_count;
    search->group_side = CUT_ALLOC(arena, search->groups->count, uint8_t);
    search->vertex_side = CUT_ALLOC(arena, n, uint8_t);
    search->must = CUT_ALLOC(arena, n, uint8_t);
    search->label = CUT_ALLOC(arena, n, uint8_t);
    search->trial = CUT_ALLOC(arena, n, uint8_t);
    search->element = CUT_ALLOC(arena, 2 * (size_t)n, uint32_t);
    search->wide_element = CUT_ALLOC(arena, 2 * (size_t)n, uint32_t);
    search->queue = CUT_ALLOC(arena, n, uint32_t);
    search->order = CUT_ALLOC(arena, search->groups->count, uint32_t);
    search->next_group = CUT_ALLOC(arena, search->groups->count, uint32_t);
    search->is_reached = CUT_ALLOC(arena, n, bool);
    search->best->label = CUT_ALLOC(arena, n, uint8_t);
    if (!search->group_side || !search->vertex_side || !search->must || !search->label ||
        !search->trial || !search->element || !search->wide_element || !search->queue ||
        !search->order || !search->next_group || !search->is_reached || !search->best->label ||
        !incidence_build(search->part, arena, &search->incidence) || !network_alloc(search, arena))
        return false;
    add_edges(search);
    add_vertices(search);
    add_groups(search);
    flow_finish(&search->flow);
    return true;
}

/* --- bounds --- */

/* Binds vertices as decided; false when one is bound to two sides. */
static bool bind_vertices(struct search *search)
{
    const struct part *part = search->part;
    memcpy(search->must, search->vertex_side, part->vertex_count);
    for (uint32_t g = 0; g < search->groups->count; g++) {
        uint8_t side = search->group_side[g];
        if (side != CUT_SIDE_A && side != CUT_SIDE_B)
            continue;
        const struct cut_group *group = &search->groups->items[g];
        for (uint32_t i = 0; i < group->gate_count; i++) {
            uint8_t *must = &search->must[group->gates[i]];
            if (*must && *must != side)
                return false;
            *must = side;
        }
    }
    search->has_a = search->has_b = false;
    for (uint32_t v = 0; v < part->vertex_count; v++) {
        search->has_a |= search->must[v] == CUT_SIDE_A;
        search->has_b |= search->must[v] == CUT_SIDE_B;
    }
    return true;
}

/* May the places of a group still be one end of flow on this side? */
static bool may_join(const struct search *search, uint32_t g, uint8_t side)
{
    const struct cut_group *group = &search->groups->items[g];
    uint8_t decided = search->group_side[g];
    if (group->gate_count < 2 || (decided != CUT_UNDECIDED && decided != side))
        return false;
    for (uint32_t i = 0; i < group->gate_count; i++)
        if (search->must[group->gates[i]] & ~side)
            return false;
    return true;
}

static void reach(struct search *search, uint32_t v, uint32_t *count)
{
    if (search->is_reached[v])
        return;
    search->is_reached[v] = true;
    search->queue[(*count)++] = v;
}

/* From one place of a terminal to the others; true when that reached anything
 * new. */
static bool reach_through_groups(struct search *search, uint8_t side, uint32_t *count)
{
    uint32_t before = *count;
    for (uint32_t g = 0; g < search->groups->count; g++) {
        const struct cut_group *group = &search->groups->items[g];
        bool is_met = false;
        for (uint32_t i = 0; i < group->gate_count && !is_met; i++)
            is_met = search->is_reached[group->gates[i]];
        if (!is_met || !may_join(search, g, side))
            continue;
        for (uint32_t i = 0; i < group->gate_count; i++)
            reach(search, group->gates[i], count);
    }
    *search->work += search->groups->count;
    return *count > before;
}

/* Can all that is bound to `side` still hang together without what is bound to
 * the other? */
static bool is_joinable(struct search *search, uint8_t side)
{
    const struct part *part = search->part;
    uint32_t count = 0, start = 0, i = 0;
    while (start < part->vertex_count && search->must[start] != side)
        start++;
    if (start == part->vertex_count)
        return true;
    memset(search->is_reached, 0, part->vertex_count * sizeof *search->is_reached);
    reach(search, start, &count);
    do {
        for (; i < count; i++) {
            uint32_t v = search->queue[i];
            for (uint32_t k = search->incidence.first[v]; k < search->incidence.first[v + 1]; k++) {
                uint32_t w = part_other_end(&part->edges[search->incidence.edge_at[k]], v);
                if (search->must[w] != (side ^ CUT_THROUGH))
                    reach(search, w, &count);
            }
        }
    } while (reach_through_groups(search, side, &count));
    *search->work += 2 * (uint64_t)part->edge_count;
    for (uint32_t v = start; v < part->vertex_count; v++)
        if (search->must[v] == side && !search->is_reached[v])
            return false;
    return true;
}

/* The most that may still cross from A to B. (What crosses the other way is the
 * business of the branch that has the same sides the other way round.) */
static double most_across(const struct search *search)
{
    double feed_a = 0, draw_a = 0;
    for (uint32_t g = 0; g < search->groups->count; g++) {
        uint8_t side = search->group_side[g];
        if (side == CUT_UNDECIDED || side == CUT_SIDE_A)
            feed_a += search->groups->items[g].feed_a;
        if (side == CUT_UNDECIDED || side == CUT_SIDE_B)
            draw_a += search->groups->items[g].draw_a;
    }
    return fmin(search->groups->most_a, fmin(feed_a, draw_a));
}

static double needed_mm2(const struct search *search, double current_a)
{
    return search->margin * (1 - BOUND_ROOM) * demand_area_mm2(&search->problem->demand, current_a);
}

/* What a group on its side is credited with in a hull: capped, as more than
 * most_a never crosses.
 */
static double credit_of(const struct search *search, enum hull_kind kind, uint32_t g, double most_a)
{
    uint8_t side = search->group_side[g];
    uint8_t own = kind == HULL_OF_DRAWS ? CUT_SIDE_B : CUT_SIDE_A;
    if (side != CUT_UNDECIDED && side != own)
        return 0;
    return fmin(most_a, kind == HULL_OF_DRAWS ? search->groups->items[g].draw_a
                                              : search->groups->items[g].feed_a);
}

/* Where two undecided groups could each ask for everything, credits add up to
 * more than ever crosses, and the hull says nothing: deciding about them first
 * is quicker. */
static bool is_hull_apt(const struct search *search, enum hull_kind kind, double most_a)
{
    uint32_t count = 0;
    for (uint32_t g = 0; g < search->groups->count; g++)
        count += search->group_side[g] == CUT_UNDECIDED &&
                 credit_of(search, kind, g, most_a) >= most_a * (1 - BOUND_ROOM);
    return count < 2;
}

static void set_bonds(struct search *search)
{
    struct flow *flow = &search->flow;
    for (uint32_t v = 0; v < search->part->vertex_count; v++) {
        *flow_base(flow, search->source_arc[v]) = search->must[v] == CUT_SIDE_A ? FLOW_INFINITE : 0;
        *flow_base(flow, search->sink_arc[v]) = search->must[v] == CUT_SIDE_B ? FLOW_INFINITE : 0;
        if (!is_hole(search, v))
            continue;
        int64_t through = search->must[v] == CUT_THROUGH ? FLOW_INFINITE : 0;
        *flow_base(flow, search->through_arc[v]) = through;
        *flow_base(flow, search->through_arc[v] + 2) = through;
    }
}

/* A cut that leaves a group off its side pays slope x credit. */
static void set_prices(struct search *search, enum hull_kind kind, double slope, double most_a)
{
    struct flow *flow = &search->flow;
    const uint32_t *arc = kind == HULL_OF_DRAWS ? search->group_sink_arc : search->group_source_arc;
    for (uint32_t g = 0; g < search->groups->count; g++) {
        int64_t *price = flow_base(flow, arc[g]);
        if (search->groups->items[g].is_split)
            *flow_base(flow, search->group_sink_arc[g]) =
                *flow_base(flow, search->group_source_arc[g]) = 0;
        if (search->group_side[g] == CUT_UNDECIDED && *price < FLOW_INFINITE)
            *price += to_steps(search, slope * credit_of(search, kind, g, most_a));
    }
}

static void read_labels(const struct search *search, bool is_largest, uint8_t *label)
{
    const bool *is_a = search->flow.is_source_side, *is_b = search->flow.is_sink_side;
    for (uint32_t v = 0; v < search->part->vertex_count; v++) {
        uint32_t in = search->in_node[v], out = search->out_node[v];
        bool in_a = is_largest ? !is_b[in] : is_a[in], out_a = is_largest ? !is_b[out] : is_a[out];
        label[v] = in_a == out_a ? (in_a ? CUT_SIDE_A : CUT_SIDE_B) : CUT_THROUGH;
    }
}

/* Both extreme minimum cuts of the last flow. */
static void consider_flow(struct search *search)
{
    read_labels(search, false, search->label);
    consider_parts(search, search->label);
    read_labels(search, true, search->label);
    consider_parts(search, search->label);
}

struct hull_point {
    double current_a, area_mm2, slope; /* slope: of the line that supports the hull here */
};

static struct hull_point read_point(struct search *search, enum hull_kind kind, double slope,
                                    double most_a)
{
    read_labels(search, kind == HULL_OF_FEEDS, search->label);
    struct hull_point point = {.slope = slope,
                               .area_mm2 = labels_area(search->part, search->label)};
    uint8_t own = kind == HULL_OF_DRAWS ? CUT_SIDE_B : CUT_SIDE_A;
    for (uint32_t g = 0; g < search->groups->count; g++)
        if (group_label(&search->groups->items[g], search->label) == own)
            point.current_a += credit_of(search, kind, g, most_a);
    return point;
}

static bool is_below(const struct search *search, struct hull_point point, double most_a)
{
    return point.area_mm2 < needed_mm2(search, fmin(most_a, point.current_a));
}

/* The cut on the hull whose supporting line has this slope; false when it is
 * below what is needed and none of its minimal parts is. */
static bool find_point(struct search *search, enum hull_kind kind, double slope, double most_a,
                       struct hull_point *out)
{
    set_bonds(search);
    set_prices(search, kind, slope, most_a);
    if (flow_run(&search->flow, FLOW_INFINITE, search->work) >= FLOW_INFINITE)
        return false;
    *out = read_point(search, kind, slope, most_a);
    if (!is_below(search, *out, most_a))
        return true;
    consider_flow(search);
    return !is_below(search, *out, most_a);
}

/* Height of the supporting lines of a and b at a current. */
static double hull_floor(struct hull_point a, struct hull_point b, double current_a)
{
    return fmax(a.area_mm2 + a.slope * (current_a - a.current_a),
                b.area_mm2 + b.slope * (current_a - b.current_a));
}

/* Is the floor above the requirement all the way from a to b? The requirement
 * is convex up to most_a and flat beyond, the floor is two straight lines: the
 * kinks decide. */
static bool is_floor_above(const struct search *search, struct hull_point a, struct hull_point b,
                           double most_a)
{
    double kinks[2] = {most_a, most_a};
    if (b.slope > a.slope)
        kinks[0] = (a.area_mm2 - a.slope * a.current_a - b.area_mm2 + b.slope * b.current_a) /
                   (b.slope - a.slope);
    for (int i = 0; i < 2; i++) {
        double current_a = fmin(fmax(kinks[i], a.current_a), b.current_a);
        if (hull_floor(a, b, current_a) < needed_mm2(search, fmin(most_a, current_a)))
            return false;
    }
    return true;
}

/*
 * Are all cuts of this branch above the requirement? Points (current credited,
 * area) of all cuts lie above the lower hull of the points; its corners are
 * minimum cuts with prices. Between corners the hull is refined only where its
 * supporting lines dip below the requirement. source: Eisner and Severance, J.
 * ACM 23 (1976), from memory
 */
/* Not inlined: branch() calls itself, and its frames are better small. */
__attribute__((noinline)) static bool is_hull_above(struct search *search, enum hull_kind kind,
                                                    struct hull_point flat, double most_a)
{
    struct hull_point stack[HULL_DEPTH];
    const struct demand *demand = &search->problem->demand;
    double steepest = search->margin * demand->exponent * demand_area_mm2(demand, most_a) / most_a;
    uint32_t count = 0;
    struct hull_point left = flat;
    if (is_below(search, flat, most_a) ||
        !find_point(search, kind, steepest, most_a, &stack[count++]))
        return false;
    while (count) {
        struct hull_point right = stack[count - 1], middle;
        if (right.current_a <= left.current_a || is_floor_above(search, left, right, most_a)) {
            left = right;
            count--;
            continue;
        }
        double slope = (right.area_mm2 - left.area_mm2) / (right.current_a - left.current_a);
        if (count == HULL_DEPTH || slope <= left.slope || slope >= right.slope ||
            *search->work > search->work_limit || !find_point(search, kind, slope, most_a, &middle))
            return false;
        double chord = left.area_mm2 + slope * (middle.current_a - left.current_a);
        if (middle.area_mm2 < chord * (1 - BOUND_ROOM / 10) - 1 / search->scale) {
            stack[count++] = middle;
            continue;
        }
        left.slope = right.slope = slope; /* nothing below: the hull runs straight */
        if (!is_floor_above(search, left, right, most_a))
            return false;
        left = stack[--count]; /* with its own, steeper line */
    }
    return true;
}

/* --- branching --- */

static void branch(struct search *search);

static void branch_group(struct search *search, uint32_t g)
{
    bool is_mirrored = search->is_symmetric && search->decided_count == 0;
    search->decided_count++;
    search->group_side[g] = CUT_SIDE_A;
    branch(search);
    if (!is_mirrored) {
        search->group_side[g] = CUT_SIDE_B;
        branch(search);
    }
    search->decided_count--;
    if (search->groups->items[g].is_split) {
        search->group_side[g] = CUT_THROUGH;
        branch(search);
    }
    search->group_side[g] = CUT_UNDECIDED;
}

static void branch_vertex(struct search *search, uint32_t v)
{
    int side_count = is_hole(search, v) ? CUT_THROUGH : CUT_SIDE_B;
    for (int side = CUT_SIDE_A; side <= side_count; side++) {
        search->vertex_side[v] = (uint8_t)side;
        branch(search);
    }
    search->vertex_side[v] = CUT_UNDECIDED;
}

/* The undecided group that matters most, or NONE. */
static uint32_t choose_group(const struct search *search, double most_a)
{
    uint32_t chosen = ISTHMUS_NONE;
    double most = -1;
    for (uint32_t g = 0; g < search->groups->count; g++) {
        double weight = fmin(most_a, search->groups->items[g].feed_a) +
                        fmin(most_a, search->groups->items[g].draw_a);
        if (search->group_side[g] != CUT_UNDECIDED || weight <= most)
            continue;
        most = weight;
        chosen = g;
    }
    return chosen;
}

/* All terminals have their sides, but one side falls apart: a free vertex
 * beside one of its pieces, or NONE. Uses the labels of the last flow. */
static uint32_t choose_vertex(struct search *search, uint8_t side)
{
    const struct part *part = search->part;
    uint32_t n = part->vertex_count, piece = ISTHMUS_NONE;
    bool is_apart = false;
    for (uint32_t v = 0; v < n; v++) {
        if (search->must[v] != side)
            continue;
        uint32_t root = cut_find_root(search->element, v);
        is_apart |= piece != ISTHMUS_NONE && root != piece;
        piece = piece == ISTHMUS_NONE ? root : piece;
    }
    uint32_t chosen = ISTHMUS_NONE;
    for (uint32_t e = 0; e < part->edge_count && is_apart; e++) {
        uint32_t ends[2] = {part->edges[e].a, part->edges[e].b};
        for (int k = 0; k < 2; k++) {
            uint32_t v = ends[k], w = ends[1 - k];
            bool is_beside =
                (search->label[w] & side) != 0 &&
                cut_find_root(search->element, element_on(search, search->label, w, side)) == piece;
            if (is_beside && search->must[v] == CUT_UNDECIDED && search->label[v] != side &&
                v < chosen)
                chosen = v;
        }
    }
    return chosen;
}

static void branch_on_copper(struct search *search)
{
    read_labels(search, false, search->label);
    join_sides(search, search->label);
    uint32_t v = choose_vertex(search, CUT_SIDE_B);
    if (v == ISTHMUS_NONE)
        v = choose_vertex(search, CUT_SIDE_A);
    if (v == ISTHMUS_NONE || search->copper_depth == COPPER_DEPTH) {
        search->is_settled = false;
        return;
    }
    search->copper_depth++;
    branch_vertex(search, v);
    search->copper_depth--;
}

/* The minimum cut between what is decided. False: it is wide enough, the branch
 * ends. */
static bool is_narrow_between(struct search *search, double most_a, struct hull_point flat[2])
{
    set_bonds(search);
    set_prices(search, HULL_OF_DRAWS, 0, most_a);
    double need = needed_mm2(search, most_a);
    if (flow_run(&search->flow, to_steps(search, need), search->work) >= to_steps(search, need))
        return false;
    flat[HULL_OF_DRAWS] = read_point(search, HULL_OF_DRAWS, 0, most_a);
    flat[HULL_OF_FEEDS] = read_point(search, HULL_OF_FEEDS, 0, most_a);
    consider_flow(search);
    return flat[HULL_OF_DRAWS].area_mm2 < needed_mm2(search, most_a);
}

static void branch(struct search *search)
{
    if (*search->work > search->work_limit) {
        search->is_settled = false;
        return;
    }
    *search->work += search->part->vertex_count;
    double most_a = most_across(search);
    if (most_a <= 0 || !bind_vertices(search) || !is_joinable(search, CUT_SIDE_A) ||
        !is_joinable(search, CUT_SIDE_B))
        return;
    struct hull_point flat[2] = {{0}};
    if (search->has_a && search->has_b && !is_narrow_between(search, most_a, flat))
        return;
    uint32_t g = choose_group(search, most_a);
    if (g == ISTHMUS_NONE) {
        if (search->has_a && search->has_b)
            branch_on_copper(search);
        return;
    }
    if ((search->has_a && is_hull_apt(search, HULL_OF_DRAWS, most_a) &&
         is_hull_above(search, HULL_OF_DRAWS, flat[HULL_OF_DRAWS], most_a)) ||
        (search->has_b && is_hull_apt(search, HULL_OF_FEEDS, most_a) &&
         is_hull_above(search, HULL_OF_FEEDS, flat[HULL_OF_FEEDS], most_a)))
        return;
    branch_group(search, g);
}

/* --- guesses --- */

/* The minimum cut between what group_side says; whoever is on no side may be on either, or on both.
 */
static void try_sides(struct search *search)
{
    struct hull_point flat[2];
    double most_a = most_across(search);
    if (most_a > 0 && bind_vertices(search) && search->has_a && search->has_b)
        is_narrow_between(search, most_a, flat);
}

/* All ways to put groups on A, on B, or on no side. */
static void guess_all(struct search *search, uint64_t limit)
{
    uint32_t count = search->groups->count, ways = 1;
    for (uint32_t g = 0; g < count; g++)
        ways *= 3;
    for (uint32_t way = 1; way < ways && *search->work < limit; way++) {
        uint32_t rest = way;
        for (uint32_t g = 0; g < count; g++, rest /= 3)
            search->group_side[g] = (uint8_t)(rest % 3);
        try_sides(search);
    }
}

/* Groups a and b (which may be one) against all others; those that a cut may leave on both sides
 * are free to be so. */
static void guess_pair(struct search *search, uint32_t a, uint32_t b, uint8_t side)
{
    const struct cut_groups *groups = search->groups;
    for (uint32_t g = 0; g < groups->count; g++)
        search->group_side[g] = g == a || g == b            ? side
                                : groups->items[g].is_split ? CUT_UNDECIDED
                                                            : (uint8_t)(side ^ CUT_THROUGH);
    try_sides(search);
}

static void guess_pairs(struct search *search, uint64_t limit)
{
    uint32_t count = search->groups->count;
    for (uint32_t a = 0; a < count; a++)
        for (uint32_t b = a; b < count; b++) {
            if (*search->work >= limit)
                return;
            guess_pair(search, a, b, CUT_SIDE_A);
            if (!search->is_symmetric)
                guess_pair(search, a, b, CUT_SIDE_B);
        }
}

/*
 * A search that has to give up may have missed the worst cut. It mostly parts one or two terminals
 * from one or two others, so a little more effort goes into trying these.
 */
static void guess(struct search *search, uint64_t limit)
{
    if (search->groups->count <= GUESS_ALL)
        guess_all(search, limit);
    else if (search->groups->count <= GUESS_PAIRS)
        guess_pairs(search, limit);
    memset(search->group_side, CUT_UNDECIDED, search->groups->count);
}

static void search_branches(struct search *search)
{
    uint64_t start = *search->work;
    branch(search);
    if (!search->is_settled)
        guess(search, *search->work + (*search->work - start) / GUESS_SHARE);
}

/* --- every cut that parts anybody needs the same --- */

/* So it is where all terminals are without rows: each may feed and draw
 * whatever crosses. */
static bool is_need_uniform(const struct cut_groups *groups)
{
    for (uint32_t g = 0; g < groups->count; g++)
        if (fmin(groups->items[g].feed_a, groups->items[g].draw_a) <
            groups->most_a * (1 - CUT_ROUNDING))
            return false;
    return true;
}

/* Group `a` and whoever is bound to A already, as sources of all flows to come. */
static void bind_side_a(struct search *search, uint32_t a)
{
    search->group_side[a] = CUT_SIDE_A;
    bind_vertices(search);
    search->group_side[a] = CUT_UNDECIDED;
    set_bonds(search);
    set_prices(search, HULL_OF_DRAWS, 0, search->groups->most_a);
    flow_start(&search->flow);
}

/* One more group bound to A. */
static void bind_more(struct search *search, uint32_t g)
{
    uint32_t vertex = search->groups->items[g].gates[0];
    if (search->groups->items[g].is_split || search->must[vertex] == CUT_SIDE_A)
        return;
    search->must[vertex] = CUT_SIDE_A;
    flow_open_source(&search->flow, search->source_arc[vertex]);
}

/* The minimum cut with group `b` on B, and whoever is bound to A. It is minimal by itself: each of
 * its pieces holds a place of one of the two. */
static void consider_pair(struct search *search, uint32_t b)
{
    const struct cut_group *group = &search->groups->items[b];
    int64_t need = to_steps(search, needed_mm2(search, search->groups->most_a));
    for (uint32_t i = 0; i < group->gate_count; i++)
        if (search->must[group->gates[i]] == CUT_SIDE_A)
            return;
    for (uint32_t i = 0; i < group->gate_count; i++)
        flow_open_sink(&search->flow, search->sink_arc[group->gates[i]]);
    if (flow_go(&search->flow, need, search->work) < need)
        consider_flow(search);
    flow_undo(&search->flow);
    flow_close_sinks(&search->flow);
}

/* Vertices by when a walk over the copper from group `first` meets them; returns how many it met.
 */
static uint32_t rank_vertices(struct search *search, uint32_t first, uint32_t *rank)
{
    const struct part *part = search->part;
    uint32_t count = 0;
    memset(search->is_reached, 0, part->vertex_count * sizeof *search->is_reached);
    reach(search, search->groups->items[first].gates[0], &count);
    for (uint32_t i = 0; i < count; i++) {
        uint32_t v = search->queue[i];
        rank[v] = i;
        for (uint32_t k = search->incidence.first[v]; k < search->incidence.first[v + 1]; k++)
            reach(search, part_other_end(&part->edges[search->incidence.edge_at[k]], v), &count);
    }
    for (uint32_t v = 0; v < part->vertex_count; v++)
        if (!search->is_reached[v]) /* pieces that only a terminal joins come last, in any order */
            rank[v] = count;
    *search->work += 2 * (uint64_t)part->edge_count;
    return count;
}

/* All groups, those near group `first` first: they are parted from what is on A by short flows. */
static void order_groups(struct search *search, uint32_t first)
{
    const struct cut_groups *groups = search->groups;
    uint32_t *rank = search->element, *group_at = search->wide_element; /* both scratch */
    uint32_t count = rank_vertices(search, first, rank), met = 0;
    for (uint32_t i = 0; i <= count; i++)
        group_at[i] = ISTHMUS_NONE;
    for (uint32_t g = groups->count; g-- > 0;) {
        uint32_t *at = &group_at[rank[groups->items[g].gates[0]]];
        search->next_group[g] = *at;
        *at = g;
    }
    for (uint32_t i = 0; i <= count; i++)
        for (uint32_t g = group_at[i]; g != ISTHMUS_NONE; g = search->next_group[g])
            search->order[met++] = g;
}

/*
 * Name A the side of the first group that lies wholly on one; another lies
 * wholly on B. A group of one solid vertex always lies on a side, so no other
 * need be first. Once parted from the first, it stays with it: what parts the
 * two has been seen.
 */
static void search_pairs(struct search *search)
{
    const struct cut_groups *groups = search->groups;
    uint32_t whole = 0;
    while (whole < groups->count && groups->items[whole].is_split)
        whole++;
    uint32_t first = whole < groups->count ? whole : 0;
    uint32_t end = whole < groups->count ? whole + 1 : groups->count;
    for (uint32_t a = first; a < end; a++) {
        memset(search->vertex_side, 0, search->part->vertex_count);
        order_groups(search, a);
        bind_side_a(search, a);
        for (uint32_t i = 0; i < groups->count; i++) {
            uint32_t b = search->order[i];
            if (*search->work > search->work_limit) {
                search->is_settled = false;
                return;
            }
            if (a == b || (whole == groups->count && b < a))
                continue;
            consider_pair(search, b);
            bind_more(search, b);
        }
    }
}

bool part_search(const struct cut_problem *problem, const struct part *part,
                 const struct cut_groups *groups, struct part_search_limits limits,
                 struct arena *arena, struct part_cut *out, bool *is_settled)
{
    *out = (struct part_cut){.margin = limits.margin_below};
    struct search search = {.problem = problem,
                            .part = part,
                            .groups = groups,
                            .work = limits.work,
                            .work_limit = limits.work_limit,
                            .is_settled = true,
                            .is_symmetric = true,
                            .margin = limits.margin_below,
                            .margin_below = limits.margin_below,
                            .seen = limits.seen,
                            .best = out};
    search.scale =
        SCALE_STEPS / (limits.margin_below * demand_area_mm2(&problem->demand, groups->most_a));
    if (!search_alloc(&search, arena))
        return false;
    for (uint32_t g = 0; g < groups->count; g++)
        search.is_symmetric &= groups->items[g].feed_a == groups->items[g].draw_a;
    if (is_need_uniform(groups))
        search_pairs(&search);
    else
        search_branches(&search);
    *is_settled &= search.is_settled;
    if (search.seen && search.seen->count)
        qsort(search.seen->items, search.seen->count, sizeof *search.seen->items, compare_seen);
    return !search.seen || !search.seen->has_no_memory;
}
