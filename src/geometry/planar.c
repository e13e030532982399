/*
 * Faces of a planar map. Half edges are sorted about each point and followed round; a boundary that
 * encloses nothing on its left is the outside of a connected piece of the map, and the face that it
 * lies in is found by a ray to the left from its leftmost point, on a grid of the edges. Much
 * cheaper than a triangulation when only sides of edges matter.
 */
#include "geometry/grid.h"
#include "geometry/planar.h"

#include <stdlib.h>

void planar_free(struct planar *map)
{
    free(map->first_out);
    free(map->out);
    free(map->face_of);
    free(map->cycles);
    free(map->first_cycle);
    *map = (struct planar){0};
}

/* ---- half edges about a point ---- */

static bool is_lower_half(struct pt from, struct pt to)
{
    return to.y < from.y || (to.y == from.y && to.x < from.x);
}

/* Counterclockwise from the direction of +x, about their common start. */
static bool is_before(const struct planar *map, uint32_t g, uint32_t h)
{
    struct pt from = map->points[planar_from(map, g)];
    struct pt a = map->points[planar_to(map, g)], b = map->points[planar_to(map, h)];
    bool a_low = is_lower_half(from, a), b_low = is_lower_half(from, b);
    if (a_low != b_low)
        return b_low;
    return cross(from, a, b) > 0;
}

static void sort_about(struct planar *map, uint32_t first, uint32_t end)
{
    uint32_t *out = map->out;
    for (uint32_t i = first + 1; i < end; i++) {
        uint32_t half_edge = out[i], j = i;
        for (; j > first && is_before(map, half_edge, out[j - 1]); j--)
            out[j] = out[j - 1];
        out[j] = half_edge;
    }
}

static bool sort_half_edges(struct planar *map)
{
    map->first_out = mesh_calloc((size_t)map->point_count + 1, sizeof *map->first_out);
    map->out = mesh_alloc(2 * (size_t)map->edge_count, sizeof *map->out);
    if (!map->first_out || !map->out)
        return false;
    for (uint32_t h = 0; h < 2 * map->edge_count; h++)
        map->first_out[planar_from(map, h)]++;
    for (uint32_t i = 0; i < map->point_count; i++)
        map->first_out[i + 1] += map->first_out[i];
    for (uint32_t h = 2 * map->edge_count; h-- > 0;)
        map->out[--map->first_out[planar_from(map, h)]] = h;
    for (uint32_t i = 0; i < map->point_count; i++)
        if (map->first_out[i + 1] - map->first_out[i] > 2)
            sort_about(map, map->first_out[i], map->first_out[i + 1]);
    return true;
}

/* ---- boundaries ---- */

struct tracer {
    struct planar *map;
    uint32_t
        *leftmost; /* per cycle: its least point when it is the outside of a piece, else NONE */
    size_t leftmost_capacity;
    struct grid grid;
    size_t *cell_start;
    uint32_t *cell_edges;
};

/* Follows the boundary from a half edge; face_of gets the cycle's index for now. */
static bool trace(struct tracer *tracer, uint32_t start)
{
    struct planar *map = tracer->map;
    uint32_t cycle = (uint32_t)map->cycle_count, least = planar_from(map, start);
    struct pt origin = map->points[least];
    __int128 area = 0;
    uint32_t h = start;
    do {
        uint32_t from = planar_from(map, h);
        map->face_of[h] = cycle;
        area += cross(origin, map->points[from], map->points[planar_to(map, h)]);
        if (compare_pt(map->points[from], map->points[least]) < 0)
            least = from;
        h = planar_next(map, h);
    } while (h != start);
    if (!array_grow(&map->cycles, sizeof *map->cycles, &map->cycle_capacity, cycle + 1) ||
        !array_grow(&tracer->leftmost, sizeof *tracer->leftmost, &tracer->leftmost_capacity,
                    cycle + 1))
        return false;
    map->cycles[map->cycle_count++] = (struct cycle){start, ISTHMUS_NONE};
    tracer->leftmost[cycle] = area > 0 ? ISTHMUS_NONE : least;
    return true;
}

static bool trace_all(struct tracer *tracer)
{
    struct planar *map = tracer->map;
    size_t count = 2 * (size_t)map->edge_count;
    map->face_of = mesh_alloc(count, sizeof *map->face_of);
    if (!map->face_of)
        return false;
    for (size_t h = 0; h < count; h++)
        map->face_of[h] = ISTHMUS_NONE;
    for (uint32_t h = 0; h < count; h++)
        if (map->face_of[h] == ISTHMUS_NONE && !trace(tracer, h))
            return false;
    return true;
}

/* ---- which face a piece lies in ---- */

static void ends_in_order(const struct planar *map, uint32_t edge, struct pt *a, struct pt *b)
{
    struct pt p = map->points[map->edges[edge].a], q = map->points[map->edges[edge].b];
    bool is_ordered = compare_pt(p, q) <= 0;
    *a = is_ordered ? p : q;
    *b = is_ordered ? q : p;
}

static void enter_edge(struct tracer *tracer, uint32_t edge)
{
    struct pt a, b;
    ends_in_order(tracer->map, edge, &a, &b);
    struct grid_walk walk = grid_walk_start(&tracer->grid, a, b);
    while (grid_walk_next(&walk))
        for (uint32_t row = walk.row_from; row <= walk.row_to; row++) {
            size_t cell = (size_t)row * tracer->grid.columns + walk.column;
            if (tracer->cell_edges)
                tracer->cell_edges[--tracer->cell_start[cell]] = edge;
            else
                tracer->cell_start[cell]++;
        }
}

static bool enter_edges(struct tracer *tracer)
{
    const struct planar *map = tracer->map;
    struct box box = box_of_points(map->points, map->point_count);
    /* pieces are short: no length to consider; coarse cells will do for few rays */
    tracer->grid = grid_choose(box, map->edge_count / 2, 0);
    size_t cells = (size_t)tracer->grid.columns * tracer->grid.rows;
    tracer->cell_start = mesh_calloc(cells + 1, sizeof *tracer->cell_start);
    if (!tracer->cell_start)
        return false;
    for (uint32_t e = 0; e < map->edge_count; e++)
        enter_edge(tracer, e);
    for (size_t i = 0, sum = 0; i <= cells; i++) {
        sum += tracer->cell_start[i];
        tracer->cell_start[i] = sum;
    }
    tracer->cell_edges = mesh_alloc(tracer->cell_start[cells], sizeof *tracer->cell_edges);
    if (!tracer->cell_edges)
        return false;
    for (uint32_t e = map->edge_count; e-- > 0;)
        enter_edge(tracer, e);
    return true;
}

/* An edge that the ray meets: lower end, upper end; the ray runs a hair above its start. */
struct hit {
    struct pt low, high;
    uint32_t half_edge; /* the one that has the ray's start on its left; NONE: nothing met */
};

static bool meets_ray(const struct planar *map, uint32_t edge, struct pt start, struct hit *hit)
{
    struct pt a = map->points[map->edges[edge].a], b = map->points[map->edges[edge].b];
    bool is_up = a.y < b.y;
    *hit = (struct hit){is_up ? a : b, is_up ? b : a, 0};
    if (hit->low.y > start.y || hit->high.y <= start.y ||
        cross(hit->low, hit->high, start) >= 0) /* the start must lie right of it */
        return false;
    hit->half_edge = edge << 1 | is_up; /* the one that runs down */
    return true;
}

/* x of an edge at height y, as a fraction over its rise. */
static __int128 x_times_rise(const struct hit *hit, int64_t y)
{
    int64_t rise = (int64_t)hit->high.y - hit->low.y, run = (int64_t)hit->high.x - hit->low.x;
    return (__int128)hit->low.x * rise + (__int128)(y - hit->low.y) * run;
}

/* Is g met before h, coming from the right? Those that share a point on the ray part above it. */
static bool is_nearer(const struct hit *g, const struct hit *h, int64_t y)
{
    int64_t g_rise = (int64_t)g->high.y - g->low.y, h_rise = (int64_t)h->high.y - h->low.y;
    __int128 left = x_times_rise(g, y) * h_rise, right = x_times_rise(h, y) * g_rise;
    if (left != right)
        return left > right;
    return ((int64_t)g->high.x - g->low.x) * h_rise > ((int64_t)h->high.x - h->low.x) * g_rise;
}

/* Does an edge meet the ray right of x (so that no cell further left can hold a nearer one)? */
static bool is_right_of(const struct hit *hit, int64_t y, int64_t x)
{
    return x_times_rise(hit, y) >= (__int128)x * ((int64_t)hit->high.y - hit->low.y);
}

/* The half edge whose left side a point sees when it looks to the left; NONE outside of all. */
static uint32_t look_left(const struct tracer *tracer, struct pt start)
{
    const struct grid *grid = &tracer->grid;
    size_t row = (size_t)grid_row(grid, start.y) * grid->columns;
    struct hit best = {.half_edge = ISTHMUS_NONE}, hit;
    for (uint32_t column = grid_column(grid, start.x) + 1; column-- > 0;) {
        for (size_t i = tracer->cell_start[row + column]; i < tracer->cell_start[row + column + 1];
             i++)
            if (meets_ray(tracer->map, tracer->cell_edges[i], start, &hit) &&
                (best.half_edge == ISTHMUS_NONE || is_nearer(&hit, &best, start.y)))
                best = hit;
        int64_t left = grid->box.min_x + ((int64_t)column << grid->shift);
        if (best.half_edge != ISTHMUS_NONE && is_right_of(&best, start.y, left))
            break;
    }
    return best.half_edge;
}

/* Per cycle: the one beyond which it lies (in the same face), itself, or NONE: the outer face. */
static uint32_t *find_parents(const struct tracer *tracer)
{
    const struct planar *map = tracer->map;
    uint32_t *parent = mesh_alloc(map->cycle_count, sizeof *parent);
    for (uint32_t c = 0; parent && tracer->leftmost && c < map->cycle_count; c++) {
        parent[c] = c;
        if (tracer->leftmost[c] == ISTHMUS_NONE)
            continue;
        uint32_t seen = look_left(tracer, map->points[tracer->leftmost[c]]);
        parent[c] = seen == ISTHMUS_NONE ? ISTHMUS_NONE : map->face_of[seen];
    }
    return parent;
}

/* ---- faces ---- */

/* The cycle that stands for a cycle's face; each look leads strictly left, so it ends. */
static uint32_t root_of(uint32_t *parent, uint32_t cycle)
{
    uint32_t root = cycle;
    while (root != ISTHMUS_NONE && parent[root] != root)
        root = parent[root];
    while (cycle != root && cycle != ISTHMUS_NONE) {
        uint32_t above = parent[cycle];
        parent[cycle] = root;
        cycle = above;
    }
    return root;
}

static bool number_faces(struct planar *map, uint32_t *parent)
{
    uint32_t *face_of_cycle = mesh_alloc(map->cycle_count, sizeof *face_of_cycle);
    map->first_cycle = mesh_alloc(map->cycle_count + 1, sizeof *map->first_cycle);
    if (!face_of_cycle || !map->first_cycle) {
        free(face_of_cycle);
        return false;
    }
    map->first_cycle[OUTER_FACE] = ISTHMUS_NONE;
    map->face_count = 1;
    for (uint32_t c = 0; c < map->cycle_count; c++)
        if (parent[c] == c) {
            face_of_cycle[c] = map->face_count;
            map->first_cycle[map->face_count++] = ISTHMUS_NONE;
        }
    for (uint32_t c = 0; c < map->cycle_count; c++) {
        uint32_t root = root_of(parent, c);
        uint32_t face = root == ISTHMUS_NONE ? OUTER_FACE : face_of_cycle[root];
        face_of_cycle[c] = face;
        map->cycles[c].next = map->first_cycle[face];
        map->first_cycle[face] = c;
    }
    for (size_t h = 0; h < 2 * (size_t)map->edge_count; h++)
        map->face_of[h] = face_of_cycle[map->face_of[h]];
    free(face_of_cycle);
    return true;
}

enum mesh_status planar_build(const struct pt *points, uint32_t point_count,
                              const struct id_edge *edges, uint32_t edge_count, struct planar *out)
{
    *out = (struct planar){
        .points = points, .point_count = point_count, .edges = edges, .edge_count = edge_count};
    struct tracer tracer = {.map = out};
    uint32_t *parent = NULL;
    bool ok = edge_count < ISTHMUS_NONE / 2 && sort_half_edges(out) && trace_all(&tracer) &&
              enter_edges(&tracer) && (parent = find_parents(&tracer)) && number_faces(out, parent);
    free(parent);
    free(tracer.leftmost);
    free(tracer.cell_start);
    free(tracer.cell_edges);
    return ok ? MESH_OK : MESH_NO_MEMORY;
}
