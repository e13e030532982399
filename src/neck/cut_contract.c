/* Contraction: what suffices for every current in question becomes one vertex. */
#include "cut_part.h"

uint32_t cut_find_root(uint32_t *parent, uint32_t x)
{
    while (parent[x] != x) {
        parent[x] = parent[parent[x]];
        x = parent[x];
    }
    return x;
}

void cut_unite(uint32_t *parent, uint32_t a, uint32_t b)
{
    a = cut_find_root(parent, a);
    b = cut_find_root(parent, b);
    if (a < b)
        parent[b] = a;
    else
        parent[a] = b;
}

bool incidence_build(const struct part *part, struct arena *arena, struct incidence *out)
{
    out->first = CUT_ALLOC(arena, (size_t)part->vertex_count + 2, uint32_t);
    out->edge_at = CUT_ALLOC(arena, 2 * (size_t)part->edge_count, uint32_t);
    if (!out->first || !out->edge_at)
        return false;
    uint32_t *fill = out->first + 1; /* shifted by one while filling */
    for (uint32_t e = 0; e < part->edge_count; e++) {
        fill[part->edges[e].a + 1]++;
        fill[part->edges[e].b + 1]++;
    }
    for (uint32_t v = 0; v < part->vertex_count; v++)
        fill[v + 1] += fill[v];
    for (uint32_t e = 0; e < part->edge_count; e++) {
        out->edge_at[fill[part->edges[e].a]++] = e;
        out->edge_at[fill[part->edges[e].b]++] = e;
    }
    return true;
}

static void unite_wide(const struct part *in, double threshold_mm2, const bool *is_solid,
                       uint32_t *parent)
{
    for (uint32_t e = 0; e < in->edge_count; e++) {
        const struct part_edge *edge = &in->edges[e];
        if (edge->area_mm2 >= threshold_mm2 && is_solid[edge->a] && is_solid[edge->b])
            cut_unite(parent, edge->a, edge->b);
    }
}

static void number_vertices(const struct part *in, const bool *is_solid, uint32_t *parent,
                            uint32_t *new_of, struct part *out)
{
    for (uint32_t v = 0; v < in->vertex_count; v++) {
        uint32_t root = cut_find_root(parent, v);
        if (root == v) {
            new_of[v] = out->vertex_count++;
            out->vertex_area_mm2[new_of[v]] = is_solid[v] ? INFINITY : in->vertex_area_mm2[v];
            out->vertex_node[new_of[v]] = in->vertex_node[v];
        }
        new_of[v] = new_of[root]; /* the root is the lowest, so it has its number already */
    }
}

static void keep_edges(const struct part *in, const uint32_t *new_of, struct part *out)
{
    for (uint32_t e = 0; e < in->edge_count; e++) {
        struct part_edge edge = in->edges[e];
        edge.a = new_of[edge.a];
        edge.b = new_of[edge.b];
        if (edge.a != edge.b)
            out->edges[out->edge_count++] = edge;
    }
}

struct union_work {
    uint32_t *parent, *new_of;
    bool *is_solid;
};

static bool union_start(const struct part *in, double solid_from_mm2, uint32_t entry_count,
                        struct arena *arena, struct union_work *work, struct part *out)
{
    work->parent = CUT_ALLOC(arena, in->vertex_count, uint32_t);
    work->new_of = CUT_ALLOC(arena, in->vertex_count, uint32_t);
    work->is_solid = CUT_ALLOC(arena, in->vertex_count, bool);
    *out = (struct part){0};
    out->edges = CUT_ALLOC(arena, in->edge_count, struct part_edge);
    out->vertex_area_mm2 = CUT_ALLOC(arena, in->vertex_count, double);
    out->vertex_node = CUT_ALLOC(arena, in->vertex_count, uint32_t);
    out->entry_vertex = CUT_ALLOC(arena, entry_count, uint32_t);
    if (!work->parent || !work->new_of || !work->is_solid || !out->edges || !out->vertex_area_mm2 ||
        !out->vertex_node || !out->entry_vertex)
        return false;
    for (uint32_t v = 0; v < in->vertex_count; v++) {
        work->parent[v] = v;
        work->is_solid[v] = in->vertex_area_mm2[v] >= solid_from_mm2;
    }
    return true;
}

static void union_end(const struct part *in, const struct union_work *work, uint32_t entry_count,
                      struct part *out)
{
    number_vertices(in, work->is_solid, work->parent, work->new_of, out);
    keep_edges(in, work->new_of, out);
    for (uint32_t i = 0; i < entry_count; i++) {
        uint32_t v = in->entry_vertex[i];
        out->entry_vertex[i] = v == ISTHMUS_NONE ? ISTHMUS_NONE : work->new_of[v];
    }
}

bool part_contract(const struct part *in, double threshold_mm2, uint32_t entry_count,
                   struct arena *arena, struct part *out)
{
    struct union_work work;
    if (!union_start(in, threshold_mm2, entry_count, arena, &work, out))
        return false;
    unite_wide(in, threshold_mm2, work.is_solid, work.parent);
    union_end(in, &work, entry_count, out);
    return true;
}

/* --- several ways together --- */

/* A heap of vertices by how strongly they hang on those already visited; stale ones are skipped. */
struct strong {
    double area_mm2;
    uint32_t vertex;
};
struct order {
    struct strong *heap;
    uint32_t count;
    double *strength;
    bool *is_visited;
};

static bool is_before(struct strong a, struct strong b)
{
    return a.area_mm2 > b.area_mm2 || (!(a.area_mm2 < b.area_mm2) && a.vertex < b.vertex);
}

static void order_push(struct order *order, struct strong item)
{
    uint32_t i = order->count++;
    for (; i > 0 && is_before(item, order->heap[(i - 1) / 2]); i = (i - 1) / 2)
        order->heap[i] = order->heap[(i - 1) / 2];
    order->heap[i] = item;
}

static struct strong order_pop(struct order *order)
{
    struct strong top = order->heap[0], last = order->heap[--order->count];
    uint32_t i = 0;
    for (uint32_t child = 1; child < order->count; child = 2 * i + 1) {
        child += child + 1 < order->count && is_before(order->heap[child + 1], order->heap[child]);
        if (!is_before(order->heap[child], last))
            break;
        order->heap[i] = order->heap[child];
        i = child;
    }
    order->heap[i] = last;
    return top;
}

/* The way through a hole between the two solid vertices that it is joined to best. What its other
 * edges add is left out, which only makes vertices hang together less. */
static struct part_edge way_through(const struct part *in, const struct incidence *incidence,
                                    uint32_t v)
{
    double best = 0, second = 0; /* best >= second */
    struct part_edge way = {.a = ISTHMUS_NONE, .b = ISTHMUS_NONE};
    for (uint32_t i = incidence->first[v]; i < incidence->first[v + 1]; i++) {
        uint32_t w = part_other_end(&in->edges[incidence->edge_at[i]], v);
        double area = 0;
        if (w == way.a || w == way.b || !isinf(in->vertex_area_mm2[w]))
            continue;
        for (uint32_t k = i; k < incidence->first[v + 1]; k++) {
            const struct part_edge *edge = &in->edges[incidence->edge_at[k]];
            area += part_other_end(edge, v) == w ? edge->area_mm2 : 0;
        }
        if (area > best) {
            second = best;
            way.b = way.a;
            best = area;
            way.a = w;
        } else if (area > second) {
            second = area;
            way.b = w;
        }
    }
    way.area_mm2 = fmin(in->vertex_area_mm2[v], second);
    return way;
}

/* Edges between solid vertices, and ways through holes: what of the part the order walks. */
static bool plain_edges(const struct part *in, const struct incidence *incidence,
                        struct arena *arena, struct part *out)
{
    *out = (struct part){.vertex_count = in->vertex_count};
    out->edges = CUT_ALLOC(arena, (size_t)in->edge_count + in->vertex_count, struct part_edge);
    if (!out->edges)
        return false;
    for (uint32_t e = 0; e < in->edge_count; e++)
        if (isinf(in->vertex_area_mm2[in->edges[e].a]) &&
            isinf(in->vertex_area_mm2[in->edges[e].b]))
            out->edges[out->edge_count++] = in->edges[e];
    for (uint32_t v = 0; v < in->vertex_count; v++) {
        if (isinf(in->vertex_area_mm2[v]))
            continue;
        struct part_edge way = way_through(in, incidence, v);
        if (way.b != ISTHMUS_NONE)
            out->edges[out->edge_count++] = way;
    }
    return true;
}

/* Visits next the vertex that hangs most strongly on those visited. When an edge raises the
 * strength of its far end to s, no cut below s parts its two ends. */
static void visit_all(const struct part *plain, const struct incidence *incidence,
                      double threshold_mm2, struct order *order, uint32_t *parent)
{
    for (uint32_t start = 0; start < plain->vertex_count; start++) {
        if (!order->is_visited[start])
            order_push(order, (struct strong){.vertex = start});
        while (order->count) {
            uint32_t v = order_pop(order).vertex;
            if (order->is_visited[v])
                continue;
            order->is_visited[v] = true;
            for (uint32_t i = incidence->first[v]; i < incidence->first[v + 1]; i++) {
                const struct part_edge *edge = &plain->edges[incidence->edge_at[i]];
                uint32_t w = part_other_end(edge, v);
                if (order->is_visited[w])
                    continue;
                order->strength[w] += edge->area_mm2;
                if (order->strength[w] >= threshold_mm2)
                    cut_unite(parent, v, w);
                order_push(order, (struct strong){order->strength[w], w});
            }
        }
    }
}

bool part_contract_shared(const struct part *in, double threshold_mm2, uint32_t entry_count,
                          struct arena *arena, struct part *out)
{
    struct union_work work;
    struct incidence all_edges, plain_at;
    struct part plain;
    if (!union_start(in, INFINITY, entry_count, arena, &work, out) ||
        !incidence_build(in, arena, &all_edges) || !plain_edges(in, &all_edges, arena, &plain) ||
        !incidence_build(&plain, arena, &plain_at))
        return false;
    struct order order = {.strength = CUT_ALLOC(arena, in->vertex_count, double),
                          .is_visited = CUT_ALLOC(arena, in->vertex_count, bool),
                          .heap = CUT_ALLOC(arena, (size_t)plain.edge_count + 1, struct strong)};
    if (!order.strength || !order.is_visited || !order.heap)
        return false;
    visit_all(&plain, &plain_at, threshold_mm2 * (1 + 1e-9), &order, work.parent);
    union_end(in, &work, entry_count, out);
    return true;
}
