/*
 * Conductors: the islands of all layers, united by the walls of plated holes; and what the meshes
 * say of the contacts that were only supposed.
 */
#include "build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A piece of copper that reaches this many hole diameters is more than a hole's own painted pad. */
#define OWN_PAD_DIAMETERS 3

struct pt build_centred(const struct build *build, struct pos_nm at)
{
    int64_t x = at.x_nm - build->board->origin.x_nm, y = at.y_nm - build->board->origin.y_nm;
    const int64_t limit = MESH_COORD_LIMIT - 1;
    x = x < -limit ? -limit : x > limit ? limit : x;
    y = y < -limit ? -limit : y > limit ? limit : y;
    return (struct pt){(int32_t)x, (int32_t)y};
}

/* ---- union of islands ---- */

static uint32_t find_root(uint32_t *parent, uint32_t item)
{
    while (parent[item] != item) {
        parent[item] = parent[parent[item]];
        item = parent[item];
    }
    return item;
}

static void unite(uint32_t *parent, uint32_t a, uint32_t b)
{
    uint32_t root_a = find_root(parent, a), root_b = find_root(parent, b);
    if (root_a < root_b)
        parent[root_b] = root_a;
    else
        parent[root_a] = root_b;
}

/* A hole touches an island where an edge of its rim has the island's copper on one side and nothing
 * on the other. */
struct touch {
    uint32_t hole, component; /* component: among all layers' */
};
struct touches {
    struct touch *items;
    size_t count, capacity;
};

static uint32_t rim_hole(const struct copper_layer *layer, uint32_t tri, int side)
{
    uint32_t bound = layer->mesh.cdt.chain[tri][side];
    if (bound == ISTHMUS_NONE)
        return ISTHMUS_NONE;
    const struct paint_object *object = &layer->paint.objects[layer->mesh.bounds[bound].object];
    return object->kind == PAINT_KIND_HOLE ? object->owner : ISTHMUS_NONE;
}

static bool collect_touches(const struct copper_layer *layer, uint32_t first_component,
                            struct touches *touches)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
        for (int i = 0; i < 3 && mesh->component[t] != ISTHMUS_NONE; i++) {
            uint32_t other = mesh->cdt.neighbour[t][i];
            if (other != ISTHMUS_NONE && mesh->component[other] != ISTHMUS_NONE)
                continue;
            uint32_t hole = rim_hole(layer, t, i);
            if (hole == ISTHMUS_NONE)
                continue;
            if (!array_grow(&touches->items, sizeof *touches->items, &touches->capacity,
                            touches->count + 1))
                return false;
            touches->items[touches->count++] =
                (struct touch){hole, first_component + mesh->component[t]};
        }
    return true;
}

static int compare_touches(const void *a, const void *b)
{
    const struct touch *one = a, *other = b;
    if (one->hole != other->hole)
        return one->hole < other->hole ? -1 : 1;
    return (one->component > other->component) - (one->component < other->component);
}

static void keep_distinct(struct touches *touches)
{
    size_t kept = 0;
    if (touches->count)
        qsort(touches->items, touches->count, sizeof *touches->items, compare_touches);
    for (size_t i = 0; i < touches->count; i++)
        if (i == 0 || compare_touches(&touches->items[kept - 1], &touches->items[i]) != 0)
            touches->items[kept++] = touches->items[i];
    touches->count = kept;
}

static void unite_by_holes(struct build *build, const struct touches *touches)
{
    uint32_t *first = build->first_of_group;
    for (uint32_t h = 0; h < build->board->hole_count; h++)
        first[h] = ISTHMUS_NONE;
    for (size_t i = 0; i < touches->count; i++) {
        const struct touch *touch = &touches->items[i];
        if (!build->board->holes[touch->hole].is_plated)
            continue;
        uint32_t *group_first = &first[build->notes[touch->hole].group];
        if (*group_first == ISTHMUS_NONE)
            *group_first = touch->component;
        else
            unite(build->parent, *group_first, touch->component);
    }
}

/* ---- vias ---- */

static uint16_t layer_of_component(const struct build *build, uint32_t component)
{
    uint16_t layer = 1;
    while (layer < build->board->layer_count && build->first_component[layer] <= component)
        layer++;
    return layer;
}

struct span_box {
    struct box box; /* centred coordinates */
};

static bool is_more_than_pad(const struct build *build, const struct span_box *spans,
                             const struct touch *touch)
{
    const struct board_hole *hole = &build->board->holes[touch->hole];
    uint16_t layer = layer_of_component(build, touch->component);
    struct box box = spans[touch->component].box;
    uint32_t pad = build->notes[touch->hole].pads[layer - 1];
    int64_t pad_nm =
        hole->hole.diameter_nm * OWN_PAD_DIAMETERS + build->notes[touch->hole].length_nm;
    struct pos_nm own = {pad_nm, pad_nm};
    if (pad != ISTHMUS_NONE)
        own = box_size(build->pads[pad].box);
    struct pos_nm size = box_size(box);
    const int64_t slack = 10000;
    return size.x_nm > own.x_nm + slack || size.y_nm > own.y_nm + slack;
}

/* Which holes join copper beyond their own pads on at least two layers. */
static void find_joining(struct build *build, const struct span_box *spans,
                         const struct touches *touches)
{
    for (size_t i = 0, next; i < touches->count; i = next) {
        uint32_t hole = touches->items[i].hole;
        uint16_t last_layer = 0;
        int layer_count = 0;
        for (next = i; next < touches->count && touches->items[next].hole == hole; next++) {
            uint16_t layer = layer_of_component(build, touches->items[next].component);
            if (layer != last_layer && is_more_than_pad(build, spans, &touches->items[next])) {
                layer_count++;
                last_layer = layer;
            }
        }
        struct board_hole *board_hole = &build->board->holes[hole];
        board_hole->is_via = board_hole->is_plated && layer_count >= 2;
        board_hole->is_within_layer = board_hole->is_plated && layer_count < 2;
    }
}

static void span_components(const struct build *build, struct span_box *spans)
{
    const struct board *board = build->board;
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct sheet_mesh *mesh = &board->layers[l].mesh;
        for (uint32_t c = 0; c < mesh->component_count; c++)
            spans[build->first_component[l] + c].box = BOX_EMPTY;
        for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
            for (int i = 0; i < 3 && mesh->component[t] != ISTHMUS_NONE; i++) {
                struct pt at = mesh->cdt.points[mesh->cdt.corner[t][i]];
                box_add(&spans[build->first_component[l] + mesh->component[t]].box,
                        (struct pos_nm){at.x, at.y});
            }
    }
}

/* ---- numbering ---- */

static bool number_components(struct build *build, uint32_t *total)
{
    const struct board *board = build->board;
    build->first_component =
        arena_alloc(build->scratch, board->layer_count + 1, sizeof *build->first_component);
    build->first_of_group = arena_alloc(build->scratch, board->hole_count + 1, sizeof(uint32_t));
    if (!build->first_component || !build->first_of_group)
        return false;
    *total = 0;
    for (size_t l = 0; l < board->layer_count; l++) {
        build->first_component[l] = *total;
        *total += board->layers[l].mesh.component_count;
    }
    build->parent = arena_alloc(build->scratch, (size_t)*total + 1, sizeof *build->parent);
    for (uint32_t c = 0; build->parent && c < *total; c++)
        build->parent[c] = c;
    return build->parent != NULL;
}

/* Conductors are numbered by their first island, layers from the top. */
static bool number_conductors(struct build *build, uint32_t total)
{
    struct board *board = build->board;
    uint32_t *number = arena_alloc(build->scratch, (size_t)total + 1, sizeof *number);
    if (!number)
        return false;
    for (uint32_t c = 0; c < total; c++) {
        uint32_t root = find_root(build->parent, c);
        number[c] = root == c ? (uint32_t)board->conductor_count++ : number[root];
    }
    board->conductors =
        arena_alloc(build->arena, board->conductor_count + 1, sizeof *board->conductors);
    for (size_t l = 0; board->conductors && l < board->layer_count; l++) {
        struct copper_layer *layer = &board->layers[l];
        layer->conductor_of_component =
            arena_alloc(build->arena, (size_t)layer->mesh.component_count + 1, sizeof(uint32_t));
        if (!layer->conductor_of_component)
            return false;
        for (uint32_t c = 0; c < layer->mesh.component_count; c++)
            layer->conductor_of_component[c] = number[build->first_component[l] + c];
    }
    return board->conductors != NULL;
}

double tri_area_nm2(const struct cdt *cdt, uint32_t t)
{
    struct pt a = cdt->points[cdt->corner[t][0]], b = cdt->points[cdt->corner[t][1]];
    struct pt c = cdt->points[cdt->corner[t][2]];
    double ux = (double)b.x - a.x, uy = (double)b.y - a.y;
    double vx = (double)c.x - a.x, vy = (double)c.y - a.y;
    return (ux * vy - uy * vx) / 2;
}

struct pos_nm tri_middle(const struct build *build, const struct cdt *cdt, uint32_t t)
{
    int64_t x = 0, y = 0;
    for (int i = 0; i < 3; i++) {
        x += cdt->points[cdt->corner[t][i]].x;
        y += cdt->points[cdt->corner[t][i]].y;
    }
    return (struct pos_nm){x / 3 + build->board->origin.x_nm, y / 3 + build->board->origin.y_nm};
}

/* Extent, area, and the middle of the largest triangle as a point well inside. */
static bool describe_conductors(struct build *build, const struct span_box *spans)
{
    struct board *board = build->board;
    double *largest = arena_alloc(build->scratch, board->conductor_count + 1, sizeof *largest);
    if (!largest)
        return false;
    for (size_t c = 0; c < board->conductor_count; c++) {
        struct box none = BOX_EMPTY;
        board->conductors[c] = (struct conductor){
            .net = ISTHMUS_NONE, .is_island = true, .min = none.min, .max = none.max};
    }
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct copper_layer *layer = &board->layers[l];
        const struct sheet_mesh *mesh = &layer->mesh;
        for (uint32_t c = 0; c < mesh->component_count; c++) {
            struct conductor *conductor = &board->conductors[layer->conductor_of_component[c]];
            struct box box = spans[build->first_component[l] + c].box;
            struct box all = {conductor->min, conductor->max};
            box.min.x_nm += board->origin.x_nm;
            box.min.y_nm += board->origin.y_nm;
            box.max.x_nm += board->origin.x_nm;
            box.max.y_nm += board->origin.y_nm;
            box_join(&all, box);
            conductor->min = all.min;
            conductor->max = all.max;
            conductor->area_mm2 += mesh->component_area_mm2[c];
            conductor->closed_gap_count += mesh->closed_gap_count ? mesh->closed_gap_count[c] : 0;
        }
        for (uint32_t t = 0; t < mesh->cdt.tri_count; t++) {
            if (mesh->component[t] == ISTHMUS_NONE)
                continue;
            uint32_t index = layer->conductor_of_component[mesh->component[t]];
            double area = tri_area_nm2(&mesh->cdt, t);
            if (area <= largest[index])
                continue;
            largest[index] = area;
            board->conductors[index].place = tri_middle(build, &mesh->cdt, t);
            board->conductors[index].place_layer = layer->position;
        }
    }
    return true;
}

static void connect_holes(struct build *build)
{
    struct board *board = build->board;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        uint32_t component = build->first_of_group[build->notes[h].group];
        if (!board->holes[h].is_plated || component == ISTHMUS_NONE)
            continue;
        uint16_t layer = layer_of_component(build, component);
        board->holes[h].conductor =
            board->layers[layer - 1]
                .conductor_of_component[component - build->first_component[layer - 1]];
    }
}

enum board_status build_conductors(struct build *build)
{
    struct board *board = build->board;
    uint32_t total;
    if (!number_components(build, &total))
        return BOARD_NO_MEMORY;
    struct touches touches = {0};
    bool is_done = true;
    for (size_t l = 0; is_done && l < board->layer_count; l++)
        is_done = collect_touches(&board->layers[l], build->first_component[l], &touches);
    struct span_box *spans = arena_alloc(build->scratch, (size_t)total + 1, sizeof *spans);
    is_done = is_done && spans;
    if (is_done) {
        keep_distinct(&touches);
        unite_by_holes(build, &touches);
        span_components(build, spans);
        find_joining(build, spans, &touches);
        is_done = number_conductors(build, total) && describe_conductors(build, spans);
    }
    if (is_done)
        connect_holes(build);
    free(touches.items);
    return is_done ? BOARD_OK : BOARD_NO_MEMORY;
}

uint32_t build_component_at(struct build *build, uint16_t layer, struct pos_nm at)
{
    uint32_t tri = locator_find(build->locators[layer - 1], build_centred(build, at));
    return tri == ISTHMUS_NONE ? ISTHMUS_NONE : build->board->layers[layer - 1].mesh.component[tri];
}

uint32_t build_conductor_at(struct build *build, uint16_t layer, struct pos_nm at)
{
    uint32_t component = build_component_at(build, layer, at);
    return component == ISTHMUS_NONE
               ? ISTHMUS_NONE
               : build->board->layers[layer - 1].conductor_of_component[component];
}
