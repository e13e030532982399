/* The shortest gaps between parts of copper, looked for in a grid of their outlines. */
#include "isthmus/mesh.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_CELLS_A_SIDE 512

struct cell_grid {
    struct pt min;
    int64_t cell_nm;
    int32_t columns, rows;
    uint32_t *first; /* per cell: items[first[c] .. first[c + 1]) */
    uint32_t *items; /* edges, in every cell that their bounding box meets */
};
struct search {
    const struct part_edge *edges;
    size_t edge_count;
    struct cell_grid grid;
    uint32_t *parent;         /* of parts */
    uint32_t *edges_in;       /* per part that stands for its group: how many edges it has */
    struct part_gap *best;    /* per part that stands for its group */
    uint32_t *group_on_layer; /* per layer: the only group there, SEVERAL, or NONE */
    bool is_any_layer;
};
#define SEVERAL (ISTHMUS_NONE - 1)

/* ---- parts already joined ---- */

static uint32_t group_of(struct search *search, uint32_t part)
{
    while (search->parent[part] != part) {
        search->parent[part] = search->parent[search->parent[part]];
        part = search->parent[part];
    }
    return part;
}

/* ---- two edges ---- */

struct spot {
    double x, y;
};

static struct spot spot_of(struct pt at)
{
    return (struct spot){at.x, at.y};
}

static struct spot nearest_on(const struct part_edge *edge, struct pt to)
{
    double length2 = (double)distance2(edge->a, edge->b);
    double t = length2 > 0 ? (double)dot(edge->a, edge->b, to) / length2 : 0;
    t = fmin(1, fmax(0, t));
    return (struct spot){edge->a.x + t * ((double)edge->b.x - edge->a.x),
                         edge->a.y + t * ((double)edge->b.y - edge->a.y)};
}

static void take_nearer(struct part_gap *gap, struct spot from, struct spot to)
{
    double length_nm = hypot(to.x - from.x, to.y - from.y);
    if (length_nm >= gap->length_nm)
        return;
    gap->length_nm = length_nm;
    gap->from = (struct pt){(int32_t)lround(from.x), (int32_t)lround(from.y)};
    gap->to = (struct pt){(int32_t)lround(to.x), (int32_t)lround(to.y)};
}

static bool do_cross(const struct part_edge *one, const struct part_edge *two)
{
    return orient(one->a, one->b, two->a) * orient(one->a, one->b, two->b) < 0 &&
           orient(two->a, two->b, one->a) * orient(two->a, two->b, one->b) < 0;
}

/* Where the second edge crosses the first: a measure, found by halving. */
static struct spot crossing_of(const struct part_edge *one, const struct part_edge *two)
{
    struct spot low = spot_of(two->a), high = spot_of(two->b);
    int side = orient(one->a, one->b, two->a);
    while (hypot(high.x - low.x, high.y - low.y) > 1) {
        struct spot middle = {(low.x + high.x) / 2, (low.y + high.y) / 2};
        struct pt rounded = {(int32_t)lround(middle.x), (int32_t)lround(middle.y)};
        if (orient(one->a, one->b, rounded) == side)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Edges of two parts either cross (on two layers) or come nearest at an end of one of them. */
static struct part_gap gap_between(const struct part_edge *one, const struct part_edge *two)
{
    struct part_gap gap = {.part_from = one->part,
                           .part_to = two->part,
                           .layer_from = one->layer,
                           .layer_to = two->layer,
                           .length_nm = INFINITY};
    if (do_cross(one, two)) {
        struct spot at = crossing_of(one, two);
        take_nearer(&gap, at, at);
        return gap;
    }
    take_nearer(&gap, spot_of(one->a), nearest_on(two, one->a));
    take_nearer(&gap, spot_of(one->b), nearest_on(two, one->b));
    take_nearer(&gap, nearest_on(one, two->a), spot_of(two->a));
    take_nearer(&gap, nearest_on(one, two->b), spot_of(two->b));
    return gap;
}

/* ---- the grid ---- */

struct range {
    int32_t from_x, from_y, to_x, to_y; /* cells, both ends included */
};

static int32_t cell_at(const struct cell_grid *grid, int32_t value, int32_t least)
{
    return (int32_t)(((int64_t)value - least) / grid->cell_nm);
}

static struct range range_of(const struct cell_grid *grid, const struct part_edge *edge)
{
    int32_t min_x = edge->a.x < edge->b.x ? edge->a.x : edge->b.x;
    int32_t max_x = edge->a.x < edge->b.x ? edge->b.x : edge->a.x;
    int32_t min_y = edge->a.y < edge->b.y ? edge->a.y : edge->b.y;
    int32_t max_y = edge->a.y < edge->b.y ? edge->b.y : edge->a.y;
    return (struct range){cell_at(grid, min_x, grid->min.x), cell_at(grid, min_y, grid->min.y),
                          cell_at(grid, max_x, grid->min.x), cell_at(grid, max_y, grid->min.y)};
}

static void size_grid(struct search *search)
{
    struct pt min = search->edges[0].a, max = min;
    for (size_t i = 0; i < 2 * search->edge_count; i++) {
        struct pt at = i & 1 ? search->edges[i / 2].b : search->edges[i / 2].a;
        min = (struct pt){at.x < min.x ? at.x : min.x, at.y < min.y ? at.y : min.y};
        max = (struct pt){at.x > max.x ? at.x : max.x, at.y > max.y ? at.y : max.y};
    }
    int64_t wide = (int64_t)max.x - min.x, high = (int64_t)max.y - min.y;
    int64_t side = (int64_t)ceil(sqrt((double)search->edge_count));
    side = side > MOST_CELLS_A_SIDE ? MOST_CELLS_A_SIDE : side;
    struct cell_grid *grid = &search->grid;
    grid->min = min;
    grid->cell_nm = (wide > high ? wide : high) / side + 1;
    grid->columns = (int32_t)(wide / grid->cell_nm) + 1;
    grid->rows = (int32_t)(high / grid->cell_nm) + 1;
}

static bool build_grid(struct search *search)
{
    struct cell_grid *grid = &search->grid;
    size_grid(search);
    size_t cells = (size_t)grid->columns * (size_t)grid->rows;
    grid->first = calloc(cells + 2, sizeof *grid->first);
    size_t total = 0;
    for (int is_filling = 0; grid->first && is_filling < 2; is_filling++) {
        if (is_filling) {
            for (size_t c = 0; c < cells; c++)
                grid->first[c + 2] += grid->first[c + 1];
            grid->items = malloc((total + 1) * sizeof *grid->items);
            if (!grid->items)
                return false;
        }
        for (size_t i = 0; i < search->edge_count; i++) {
            struct range range = range_of(grid, &search->edges[i]);
            for (int32_t y = range.from_y; y <= range.to_y; y++)
                for (int32_t x = range.from_x; x <= range.to_x; x++) {
                    size_t c = (size_t)y * (size_t)grid->columns + (size_t)x;
                    if (is_filling)
                        grid->items[grid->first[c + 1]++] = (uint32_t)i;
                    else
                        grid->first[c + 2]++;
                    total++;
                }
        }
    }
    return grid->items != NULL;
}

/* ---- the nearest edge of another group ---- */

static bool is_better(const struct part_gap *one, const struct part_gap *two)
{
    if (one->length_nm < two->length_nm || one->length_nm > two->length_nm)
        return one->length_nm < two->length_nm;
    if (one->layer_from != two->layer_from)
        return one->layer_from < two->layer_from;
    if (one->from.x != two->from.x)
        return one->from.x < two->from.x;
    return one->from.y < two->from.y;
}

static void look_in_cell(struct search *search, const struct part_edge *edge, int32_t x, int32_t y,
                         struct part_gap *best)
{
    const struct cell_grid *grid = &search->grid;
    if (x < 0 || y < 0 || x >= grid->columns || y >= grid->rows)
        return;
    size_t c = (size_t)y * (size_t)grid->columns + (size_t)x;
    uint32_t own = group_of(search, edge->part);
    for (uint32_t i = grid->first[c]; i < grid->first[c + 1]; i++) {
        const struct part_edge *other = &search->edges[grid->items[i]];
        if ((other->layer != edge->layer && !search->is_any_layer) ||
            group_of(search, other->part) == own)
            continue;
        struct part_gap gap = gap_between(edge, other);
        gap.edge_from = (size_t)(edge - search->edges);
        gap.edge_to = grid->items[i];
        if (is_better(&gap, best))
            *best = gap;
    }
}

/* Ring by ring about the edge, until no cell can hold anything nearer. */
static void look_around(struct search *search, const struct part_edge *edge, struct part_gap *best)
{
    const struct cell_grid *grid = &search->grid;
    struct range range = range_of(grid, edge);
    int32_t most = grid->columns > grid->rows ? grid->columns : grid->rows;
    for (int32_t r = 0; r <= most; r++) {
        if (r > 0 && (double)(r - 1) * (double)grid->cell_nm > best->length_nm)
            return;
        for (int32_t y = range.from_y - r; y <= range.to_y + r; y++) {
            bool is_row = r == 0 || y == range.from_y - r || y == range.to_y + r;
            int32_t step = is_row ? 1 : range.to_x - range.from_x + 2 * r;
            for (int32_t x = range.from_x - r; x <= range.to_x + r; x += step ? step : 1)
                look_in_cell(search, edge, x, y, best);
        }
    }
}

static uint32_t largest_group(struct search *search, uint32_t part_count)
{
    uint32_t largest = 0;
    memset(search->edges_in, 0, part_count * sizeof *search->edges_in);
    for (size_t i = 0; i < search->edge_count; i++)
        search->edges_in[group_of(search, search->edges[i].part)]++;
    for (uint32_t p = 1; p < part_count; p++)
        if (search->edges_in[p] > search->edges_in[largest])
            largest = p;
    return largest;
}

/* On a layer with one group alone there is nothing to look for. */
static void note_layers(struct search *search)
{
    for (size_t i = 0; i < search->edge_count; i++)
        search->group_on_layer[search->edges[i].layer] = ISTHMUS_NONE;
    for (size_t i = 0; i < search->edge_count; i++) {
        uint32_t *on_layer = &search->group_on_layer[search->edges[i].layer];
        uint32_t group = group_of(search, search->edges[i].part);
        *on_layer = *on_layer == ISTHMUS_NONE || *on_layer == group ? group : SEVERAL;
    }
}

static bool is_worth_looking(const struct search *search, const struct part_edge *edge)
{
    return search->is_any_layer || search->group_on_layer[edge->layer] == SEVERAL;
}

/* Every group but the largest finds its nearest neighbour; returns how many gaps that made. */
static size_t join_round(struct search *search, uint32_t part_count, struct part_gap *out)
{
    size_t count = 0;
    uint32_t largest = largest_group(search, part_count);
    note_layers(search);
    for (uint32_t p = 0; p < part_count; p++)
        search->best[p] = (struct part_gap){.length_nm = INFINITY};
    for (size_t i = 0; i < search->edge_count; i++) {
        uint32_t group = group_of(search, search->edges[i].part);
        if (group != largest && is_worth_looking(search, &search->edges[i]))
            look_around(search, &search->edges[i], &search->best[group]);
    }
    for (uint32_t p = 0; p < part_count; p++) {
        const struct part_gap *gap = &search->best[p];
        if (isinf(gap->length_nm) ||
            group_of(search, gap->part_from) == group_of(search, gap->part_to))
            continue;
        search->parent[group_of(search, gap->part_from)] = group_of(search, gap->part_to);
        out[count++] = *gap;
    }
    return count;
}

static int compare_gaps(const void *a, const void *b)
{
    const struct part_gap *one = a, *two = b;
    return is_better(one, two) ? -1 : is_better(two, one) ? 1 : 0;
}

static size_t join_all(struct search *search, uint32_t part_count, struct part_gap *out)
{
    size_t count = 0;
    for (int is_any_layer = 0; is_any_layer < 2; is_any_layer++) {
        search->is_any_layer = is_any_layer;
        for (size_t more; (more = join_round(search, part_count, out + count)) > 0;)
            count += more;
    }
    if (count)
        qsort(out, count, sizeof *out, compare_gaps);
    return count;
}

enum mesh_status part_gaps(const struct part_edge *edges, size_t edge_count, uint32_t part_count,
                           struct part_gap *out, size_t *out_count)
{
    *out_count = 0;
    if (edge_count == 0 || part_count < 2)
        return MESH_OK;
    struct search search = {.edges = edges, .edge_count = edge_count};
    search.parent = malloc(part_count * sizeof *search.parent);
    search.edges_in = malloc(part_count * sizeof *search.edges_in);
    search.best = malloc(part_count * sizeof *search.best);
    search.group_on_layer = malloc(((size_t)UINT16_MAX + 1) * sizeof *search.group_on_layer);
    bool is_done = search.parent && search.edges_in && search.best && search.group_on_layer &&
                   edge_count < ISTHMUS_NONE && build_grid(&search);
    for (uint32_t p = 0; is_done && p < part_count; p++)
        search.parent[p] = p;
    if (is_done)
        *out_count = join_all(&search, part_count, out);
    free(search.parent);
    free(search.edges_in);
    free(search.best);
    free(search.group_on_layer);
    free(search.grid.first);
    free(search.grid.items);
    return is_done ? MESH_OK : MESH_NO_MEMORY;
}
