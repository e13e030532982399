/* The least cut between two groups of terminals: one graph, one maximum flow a question. */
#include "isthmus/neck.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "neck/cut_flow.h"
#include "neck/place.h"
#include "neck/reduce.h"

#define WIDEST_MM2 1000.0                  /* 28 m of 35 um copper */
#define LIMIT_STEPS INT64_C(1000000000000) /* integer steps of area in limit_mm2 */

/* A face class that holds copper of a terminal's contacts, or one end of a hole that its lead
 * fills, and the arcs from source and to sink. */
struct gate {
    uint32_t terminal, node; /* node: of the flow */
    uint32_t source_arc, sink_arc;
};
/* A face or hole that copper beyond the part hangs on, and that piece's terminal. */
struct touch {
    uint32_t terminal, node;
};
struct neck_meter {
    struct arena *scratch;
    struct network network;
    struct reduced reduced;
    double limit_mm2, reach_mm2;
    const struct neck_part *part; /* or NULL */
    struct flow flow;
    uint32_t *in_node; /* per class root: its node of the flow, or ISTHMUS_NONE; a hole goes out by
                          the next one */
    struct gate *gates;
    size_t gate_count;
    struct touch *touches;
    size_t touch_count, touch_capacity;
};

/* ---- the graph ---- */

static bool is_hole(const struct neck_meter *meter, uint32_t root)
{
    return root >= meter->network.hole_base;
}

static int64_t steps_of(const struct neck_meter *meter, double area_mm2)
{
    double part = area_mm2 / meter->limit_mm2;
    return part >= 1 ? LIMIT_STEPS : llround(part * (double)LIMIT_STEPS);
}

static void number_node(struct neck_meter *meter, uint32_t root, uint32_t *count)
{
    if (meter->in_node[root] != ISTHMUS_NONE)
        return;
    meter->in_node[root] = *count;
    *count += is_hole(meter, root) ? 2 : 1;
}

static uint32_t out_node(const struct neck_meter *meter, uint32_t root)
{
    return meter->in_node[root] + (is_hole(meter, root) ? 1 : 0);
}

static int compare_gates(const void *a, const void *b)
{
    const struct gate *one = a, *two = b;
    if (one->terminal != two->terminal)
        return one->terminal < two->terminal ? -1 : 1;
    return (one->node > two->node) - (one->node < two->node);
}

/* The lead in a hole joins both ends of its wall. */
static void add_gates(struct neck_meter *meter, uint32_t terminal, uint32_t node,
                      uint32_t *node_count)
{
    uint32_t root = class_of(&meter->reduced.classes, node);
    number_node(meter, root, node_count);
    uint32_t in = meter->in_node[root], out = out_node(meter, root);
    meter->gates[meter->gate_count++] = (struct gate){.terminal = terminal, .node = in};
    if (out != in)
        meter->gates[meter->gate_count++] = (struct gate){.terminal = terminal, .node = out};
}

/* Each node of each terminal once. */
static bool list_gates(struct neck_meter *meter, uint32_t *node_count)
{
    const struct network *network = &meter->network;
    size_t most = 0, kept = 0;
    for (uint32_t n = 0; n < network->node_count; n++)
        most += network->terminal_of[n] != ISTHMUS_NONE ? 2 : 0;
    most += 2 * meter->touch_count;
    meter->gates = arena_alloc(meter->scratch, most + 1, sizeof *meter->gates);
    if (!meter->gates)
        return false;
    for (uint32_t n = 0; n < network->node_count; n++)
        if (network->terminal_of[n] != ISTHMUS_NONE)
            add_gates(meter, network->terminal_of[n], n, node_count);
    for (size_t i = 0; i < meter->touch_count; i++)
        add_gates(meter, meter->touches[i].terminal, meter->touches[i].node, node_count);
    if (meter->gate_count)
        qsort(meter->gates, meter->gate_count, sizeof *meter->gates, compare_gates);
    for (size_t i = 0; i < meter->gate_count; i++)
        if (kept == 0 || compare_gates(&meter->gates[kept - 1], &meter->gates[i]) != 0)
            meter->gates[kept++] = meter->gates[i];
    meter->gate_count = kept;
    return true;
}

static bool number_nodes(struct neck_meter *meter, uint32_t *count)
{
    size_t most = (size_t)meter->network.node_count + 1;
    meter->in_node = arena_alloc(meter->scratch, most, sizeof *meter->in_node);
    if (!meter->in_node)
        return false;
    memset(meter->in_node, 0xff, most * sizeof *meter->in_node);
    *count = FLOW_SINK + 1;
    for (size_t i = 0; i < meter->reduced.bundle_count; i++) {
        number_node(meter, meter->reduced.bundles[i].a, count);
        number_node(meter, meter->reduced.bundles[i].b, count);
    }
    return list_gates(meter, count);
}

static void add_bundles(struct neck_meter *meter)
{
    struct flow *flow = &meter->flow;
    for (size_t i = 0; i < meter->reduced.bundle_count; i++) {
        const struct bundle *bundle = &meter->reduced.bundles[i];
        int64_t steps = steps_of(meter, bundle->area_mm2);
        uint32_t a_in = meter->in_node[bundle->a], a_out = out_node(meter, bundle->a);
        uint32_t b_in = meter->in_node[bundle->b], b_out = out_node(meter, bundle->b);
        if (a_in == a_out && b_in == b_out) {
            flow_add(flow, a_in, b_in, steps, steps);
        } else {
            flow_add(flow, a_out, b_in, steps, 0);
            flow_add(flow, b_out, a_in, steps, 0);
        }
    }
}

static bool fill_flow(struct neck_meter *meter, uint32_t node_count)
{
    size_t pairs = 2 * meter->reduced.bundle_count + meter->network.net->hole_count +
                   2 * meter->gate_count + 1;
    if (pairs > UINT32_MAX / 2 ||
        !flow_init(&meter->flow, meter->scratch, node_count, (uint32_t)pairs))
        return false;
    add_bundles(meter);
    for (uint32_t h = 0; h < meter->network.net->hole_count; h++) {
        uint32_t root = meter->network.hole_base + h;
        if (meter->in_node[root] != ISTHMUS_NONE)
            flow_add(&meter->flow, meter->in_node[root], out_node(meter, root),
                     steps_of(meter, meter->network.net->holes[h].wall_area_mm2), 0);
    }
    for (size_t i = 0; i < meter->gate_count; i++) {
        struct gate *gate = &meter->gates[i];
        gate->source_arc = flow_add(&meter->flow, FLOW_SOURCE, gate->node, 0, 0);
        gate->sink_arc = flow_add(&meter->flow, gate->node, FLOW_SINK, 0, 0);
    }
    flow_finish(&meter->flow);
    return true;
}

/* ---- what hangs on a part ---- */

/* Told apart from its neighbours as a terminal's copper is: its side of a cut is not free. */
static bool add_touch(struct neck_meter *meter, uint32_t beyond, uint32_t node)
{
    uint32_t terminal = (uint32_t)meter->part->whole->terminal_count + beyond;
    if (!array_grow(&meter->touches, sizeof *meter->touches, &meter->touch_capacity,
                    meter->touch_count + 1))
        return false;
    meter->touches[meter->touch_count++] = (struct touch){terminal, node};
    if (meter->network.terminal_of[node] == ISTHMUS_NONE)
        meter->network.terminal_of[node] = terminal;
    return true;
}

static bool touch_side(struct neck_meter *meter, uint32_t s, uint32_t tri, const struct seam *seam)
{
    const struct partition *partition = &meter->network.partitions[s];
    uint32_t first = meter->part->first_bound[s], node = meter->network.face_base[s] + tri;
    for (uint32_t i = 0; i < seam->source_count; i++) {
        uint32_t source = partition->sources[seam->first_source + i];
        if (source >= partition->edge_count)
            break;
        struct domain_edge edge = partition->edges[source];
        uint32_t bound = partition->domain->bound[edge.tri][edge.side];
        if (bound != ISTHMUS_NONE && bound >= first && !add_touch(meter, bound - first, node))
            return false;
    }
    return true;
}

static bool touch_beyond(struct neck_meter *meter)
{
    const struct network *network = &meter->network;
    for (uint32_t s = 0; s < network->sheet_count; s++)
        for (uint32_t t = 0; t < network->partitions[s].cdt.tri_count; t++)
            for (unsigned i = 0; i < 3 && network->partitions[s].label[t] != LABEL_BARE; i++) {
                const struct seam *seam = partition_boundary(&network->partitions[s], t, i);
                if (seam && !touch_side(meter, s, t, seam))
                    return false;
            }
    for (uint32_t h = 0; h < network->net->hole_count; h++) {
        uint32_t beyond = meter->part->beyond_of_hole[h];
        if (beyond != ISTHMUS_NONE && !add_touch(meter, beyond, network->hole_base + h))
            return false;
    }
    return true;
}

static enum neck_status build(struct neck_meter *meter, const struct neck_net *net,
                              double reach_mm2, size_t chord_limit, bool *is_over_limit)
{
    enum neck_status status =
        network_build(net, reach_mm2, chord_limit, meter->scratch, &meter->network, is_over_limit);
    /* With pieces left out a least cut would be measured too wide. */
    bool is_least_asked = reach_mm2 >= meter->limit_mm2;
    *is_over_limit |= status == NECK_OK && meter->network.is_partial && is_least_asked;
    if (status != NECK_OK || *is_over_limit)
        return status;
    if (meter->part && !touch_beyond(meter))
        return NECK_NO_MEMORY;
    status = reduce(&meter->network, meter->limit_mm2, true, &meter->reduced);
    uint32_t node_count;
    if (status == NECK_OK && (!number_nodes(meter, &node_count) || !fill_flow(meter, node_count)))
        status = NECK_NO_MEMORY;
    return status;
}

static enum neck_status make(const struct neck_net *net, const struct neck_part *part,
                             double limit_mm2, double reach_mm2, size_t chord_limit,
                             struct neck_meter **out, bool *is_over_limit)
{
    struct neck_meter *meter = calloc(1, sizeof *meter);
    *out = NULL;
    *is_over_limit = false;
    if (!meter)
        return NECK_NO_MEMORY;
    meter->limit_mm2 = limit_mm2;
    meter->reach_mm2 = reach_mm2;
    meter->part = part;
    meter->scratch = arena_new("narrowest");
    enum neck_status status =
        meter->scratch ? build(meter, net, reach_mm2, chord_limit, is_over_limit) : NECK_NO_MEMORY;
    if (status == NECK_OK && !*is_over_limit)
        *out = meter;
    else
        neck_meter_free(meter);
    return status;
}

enum neck_status neck_meter_new(const struct neck_net *net, double limit_mm2, size_t chord_limit,
                                struct neck_meter **out, bool *is_over_limit)
{
    return make(net, NULL, limit_mm2, limit_mm2, chord_limit, out, is_over_limit);
}

enum neck_status neck_meter_new_part(const struct neck_part *part, double limit_mm2,
                                     size_t chord_limit, struct neck_meter **out,
                                     bool *is_over_limit)
{
    return make(&part->net, part, limit_mm2, limit_mm2, chord_limit, out, is_over_limit);
}

/* The sides of the mesh alone part any two groups, however wide the copper is between them. */
enum neck_status neck_meter_new_wide(const struct neck_net *net, double reach_mm2,
                                     struct neck_meter **out)
{
    bool is_over_limit;
    return make(net, NULL, WIDEST_MM2, reach_mm2, SIZE_MAX, out, &is_over_limit);
}

void neck_meter_free(struct neck_meter *meter)
{
    if (!meter)
        return;
    free(meter->touches);
    reduced_free(&meter->reduced);
    network_free(&meter->network);
    arena_free(meter->scratch);
    free(meter);
}

/* ---- a question ---- */

static void open_gates(struct neck_meter *meter, const uint8_t *side)
{
    for (size_t i = 0; i < meter->gate_count; i++) {
        const struct gate *gate = &meter->gates[i];
        *flow_base(&meter->flow, gate->source_arc) = side[gate->terminal] == 1 ? FLOW_INFINITE : 0;
        *flow_base(&meter->flow, gate->sink_arc) = side[gate->terminal] == 2 ? FLOW_INFINITE : 0;
    }
}

/* Does an edge between these nodes cross from the source's side to the other? */
static bool is_severed(const struct neck_meter *meter, uint32_t a, uint32_t b)
{
    const bool *is_source_side = meter->flow.is_source_side;
    return (is_source_side[out_node(meter, a)] && !is_source_side[meter->in_node[b]]) ||
           (is_source_side[out_node(meter, b)] && !is_source_side[meter->in_node[a]]);
}

static bool add_links(const struct neck_meter *meter, struct arena *scratch, struct crossing *out,
                      double *area_mm2)
{
    size_t count = 0;
    for (size_t i = 0; i < meter->reduced.bundle_count; i++)
        if (is_severed(meter, meter->reduced.bundles[i].a, meter->reduced.bundles[i].b))
            count += meter->reduced.bundles[i].count;
    uint32_t *links = arena_alloc(scratch, count + 1, sizeof *links);
    for (size_t i = 0; links && i < meter->reduced.bundle_count; i++) {
        const struct bundle *bundle = &meter->reduced.bundles[i];
        if (!is_severed(meter, bundle->a, bundle->b))
            continue;
        *area_mm2 += bundle->area_mm2;
        for (uint32_t k = 0; k < bundle->count; k++)
            links[out->link_count++] = meter->reduced.order[bundle->first + k];
    }
    out->links = links;
    return links != NULL;
}

static bool add_walls(const struct neck_meter *meter, struct arena *scratch, struct crossing *out,
                      double *area_mm2)
{
    const struct neck_net *net = meter->network.net;
    uint32_t *holes = arena_alloc(scratch, net->hole_count + 1, sizeof *holes);
    for (uint32_t h = 0; holes && h < net->hole_count; h++) {
        uint32_t root = meter->network.hole_base + h;
        if (meter->in_node[root] == ISTHMUS_NONE ||
            !meter->flow.is_source_side[meter->in_node[root]] ||
            meter->flow.is_source_side[out_node(meter, root)])
            continue;
        holes[out->hole_count++] = h;
        *area_mm2 += net->holes[h].wall_area_mm2;
    }
    out->holes = holes;
    return holes != NULL;
}

enum neck_status neck_meter_cut(struct neck_meter *meter, const uint8_t *side, struct arena *arena,
                                struct neck_place *out, bool *is_found)
{
    uint64_t work = 0;
    double area_mm2 = 0;
    struct crossing crossing = {0};
    size_t curve_count;
    *is_found = false;
    open_gates(meter, side);
    if (flow_run(&meter->flow, LIMIT_STEPS, &work) >= LIMIT_STEPS)
        return NECK_OK;
    struct arena *scratch = arena_new("narrowest cut");
    enum neck_status status = NECK_NO_MEMORY;
    if (scratch && add_links(meter, scratch, &crossing, &area_mm2) &&
        add_walls(meter, scratch, &crossing, &area_mm2))
        status = place_from_crossing(&meter->network, &crossing, arena, out, &curve_count);
    if (status == NECK_OK)
        out->area_mm2 = area_mm2;
    *is_found = status == NECK_OK;
    arena_free(scratch);
    return status;
}

bool neck_meter_proves(const struct neck_meter *meter, double area_mm2)
{
    return area_mm2 <= meter->reach_mm2 && !meter->network.is_partial;
}

bool neck_meter_reaches(const struct neck_meter *meter, uint32_t terminal)
{
    for (size_t i = 0; i < meter->gate_count; i++)
        if (meter->gates[i].terminal == terminal &&
            meter->flow.is_source_side[meter->gates[i].node])
            return true;
    return false;
}
