/*
 * What each triangle of the image mesh shows. From outside, region by region, across the outlines:
 * each crossing changes the winding of a few fills; those that are not zero stand in a set, and the
 * topmost object that covers the region is read off it. On the way back the changes are undone.
 */
#include "geometry/bittree.h"
#include "geometry/image.h"

#include <stdlib.h>

#define UNSEEN (ISTHMUS_NONE - 1)
#define UNDO (UINT32_C(1) << 31)

struct layers { /* the fills of one sort (deciding, or marks) that cover the place at hand */
    struct bittree covering;
    uint32_t top; /* object */
    bool is_stale;
};
struct flood {
    struct image *image;
    int32_t *winding;
    struct layers paint, marks;
    uint32_t *stack; /* half edges to cross, or (UNDO) to cross back */
    size_t depth, capacity;
    uint32_t *region; /* triangles of the region at hand still to look around */
    size_t region_count, region_capacity;
};

/* The last object one of whose covering fills is its last there, and adds. */
static uint32_t topmost(const struct image *image, const struct bittree *covering)
{
    const struct paint *paint = image->paint;
    uint32_t fill = bittree_below(covering, (uint32_t)paint->fill_count);
    while (fill != ISTHMUS_NONE) {
        uint32_t object = image->object_of_fill[fill];
        if (paint->fills[fill].adds)
            return object;
        fill = bittree_below(covering, paint->objects[object].first_fill);
    }
    return ISTHMUS_NONE;
}

static void toggle(struct flood *flood, uint32_t fill, bool covers)
{
    const struct image *image = flood->image;
    const struct paint_object *objects = image->paint->objects;
    struct layers *layers =
        objects[image->object_of_fill[fill]].effect == PAINT_MARK ? &flood->marks : &flood->paint;
    if (covers)
        bittree_set(&layers->covering, fill);
    else
        bittree_clear(&layers->covering, fill);
    if (layers->top == ISTHMUS_NONE || fill >= objects[layers->top].first_fill)
        layers->is_stale = true;
}

/* The windings change as from triangle t across its edge i (or back). */
static void step_across(struct flood *flood, uint32_t half_edge, bool is_back)
{
    const struct image *image = flood->image;
    uint32_t tri = half_edge >> 2;
    unsigned i = half_edge & 3;
    uint32_t edge = image->cdt.chain[tri][i];
    bool leaves_left = runs_with(&image->cdt, &image->edges[edge], tri, i) != is_back;
    const struct change_span *span = &image->spans[edge];
    for (uint32_t c = span->first; c < span->first + span->count; c++) {
        const struct change *change = &image->changes[c];
        int32_t before = flood->winding[change->fill];
        int32_t after = leaves_left ? before - change->delta : before + change->delta;
        flood->winding[change->fill] = after;
        if ((before != 0) != (after != 0))
            toggle(flood, change->fill, after != 0);
    }
}

static void refresh(const struct image *image, struct layers *layers)
{
    if (layers->is_stale)
        layers->top = topmost(image, &layers->covering);
    layers->is_stale = false;
}

static bool push(uint32_t **items, size_t *count, size_t *capacity, uint32_t item)
{
    if (*count == *capacity && !array_grow(items, sizeof **items, capacity, *count + 1))
        return false;
    (*items)[(*count)++] = item;
    return true;
}

/* Labels a triangle as the region at hand, and remembers it and the outlines about it. */
static bool enter_triangle(struct flood *flood, uint32_t tri)
{
    struct image *image = flood->image;
    image->top[tri] = flood->paint.top;
    image->mark[tri] = image_is_copper(image, tri) ? flood->marks.top : ISTHMUS_NONE;
    return push(&flood->region, &flood->region_count, &flood->region_capacity, tri);
}

static bool look_around(struct flood *flood, uint32_t tri)
{
    const struct image *image = flood->image;
    for (unsigned i = 0; i < 3; i++) {
        uint32_t other = image->cdt.neighbour[tri][i];
        if (other == ISTHMUS_NONE || image->top[other] != UNSEEN)
            continue;
        bool ok = image->cdt.chain[tri][i] == ISTHMUS_NONE
                      ? enter_triangle(flood, other)
                      : push(&flood->stack, &flood->depth, &flood->capacity, tri << 2 | i);
        if (!ok)
            return false;
    }
    return true;
}

static bool enter_region(struct flood *flood, uint32_t tri)
{
    refresh(flood->image, &flood->paint);
    refresh(flood->image, &flood->marks);
    flood->region_count = 0;
    if (!enter_triangle(flood, tri))
        return false;
    while (flood->region_count > 0)
        if (!look_around(flood, flood->region[--flood->region_count]))
            return false;
    return true;
}

/* A triangle at a corner of the far frame: outside of everything. */
static uint32_t outer_triangle(const struct cdt *cdt)
{
    for (uint32_t tri = 0; tri < cdt->tri_count; tri++)
        for (unsigned i = 0; i < 3; i++)
            if (cdt->corner[tri][i] + 4 >= cdt->point_count)
                return tri;
    return ISTHMUS_NONE;
}

static bool flood_all(struct flood *flood)
{
    struct image *image = flood->image;
    if (!enter_region(flood, outer_triangle(&image->cdt)))
        return false;
    while (flood->depth > 0) {
        uint32_t item = flood->stack[--flood->depth], half_edge = item & ~UNDO;
        if (item & UNDO) {
            step_across(flood, half_edge, true);
            continue;
        }
        uint32_t other = image->cdt.neighbour[half_edge >> 2][half_edge & 3];
        if (image->top[other] != UNSEEN)
            continue;
        flood->stack[flood->depth++] = item | UNDO; /* in the place it was taken from */
        step_across(flood, half_edge, false);
        if (!enter_region(flood, other))
            return false;
    }
    return true;
}

static bool are_windings_undone(const struct flood *flood)
{
    for (size_t i = 0; i < flood->image->paint->fill_count; i++)
        if (flood->winding[i] != 0)
            return false;
    return true;
}

enum mesh_status image_flood(struct image *image)
{
    uint32_t fill_count = (uint32_t)image->paint->fill_count, tri_count = image->cdt.tri_count;
    struct flood flood = {
        .image = image, .paint = {.top = ISTHMUS_NONE}, .marks = {.top = ISTHMUS_NONE}};
    flood.winding = mesh_calloc(fill_count, sizeof *flood.winding);
    image->top = mesh_alloc(tri_count, sizeof *image->top);
    image->mark = mesh_alloc(tri_count, sizeof *image->mark);
    enum mesh_status status = MESH_NO_MEMORY;
    if (bittree_init(&flood.paint.covering, fill_count) &&
        bittree_init(&flood.marks.covering, fill_count) && flood.winding && image->top &&
        image->mark) {
        for (uint32_t tri = 0; tri < tri_count; tri++)
            image->top[tri] = UNSEEN;
        if (flood_all(&flood))
            status = are_windings_undone(&flood) ? MESH_OK : MESH_BUG;
    }
    bittree_free(&flood.paint.covering);
    bittree_free(&flood.marks.covering);
    free(flood.winding);
    free(flood.stack);
    free(flood.region);
    return status;
}
