/*
 * What each face of the image shows. From outside, face by face, across the outlines:
 * each crossing changes the winding of a few fills; those that are not zero stand in a set, and the
 * topmost object that covers the face is read off it. On the way back the changes are undone.
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

/* The windings change as from the left of a half edge to its right (or back). */
static void step_across(struct flood *flood, uint32_t half_edge, bool is_back)
{
    const struct image *image = flood->image;
    bool leaves_left = ((half_edge & 1) == 0) != is_back;
    const struct change_span *span = &image->spans[half_edge >> 1];
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

static bool push(struct flood *flood, uint32_t half_edge)
{
    if (flood->depth == flood->capacity &&
        !array_grow(&flood->stack, sizeof *flood->stack, &flood->capacity, flood->depth + 1))
        return false;
    flood->stack[flood->depth++] = half_edge;
    return true;
}

/* Labels the face at hand and remembers the outlines about it that lead on. */
static bool enter_face(struct flood *flood, uint32_t face)
{
    struct image *image = flood->image;
    refresh(image, &flood->paint);
    refresh(image, &flood->marks);
    image->top[face] = flood->paint.top;
    image->mark[face] = image_is_copper(image, face) ? flood->marks.top : ISTHMUS_NONE;
    struct face_walk walk = {0};
    while (planar_walk(&image->map, face, &walk))
        if (image->top[image->map.face_of[walk.half_edge ^ 1]] == UNSEEN &&
            !push(flood, walk.half_edge))
            return false;
    return true;
}

static bool flood_all(struct flood *flood)
{
    struct image *image = flood->image;
    if (!enter_face(flood, OUTER_FACE))
        return false;
    while (flood->depth > 0) {
        uint32_t item = flood->stack[--flood->depth], half_edge = item & ~UNDO;
        if (item & UNDO) {
            step_across(flood, half_edge, true);
            continue;
        }
        uint32_t other = image->map.face_of[half_edge ^ 1];
        if (image->top[other] != UNSEEN)
            continue;
        flood->stack[flood->depth++] = item | UNDO; /* in the place it was taken from */
        step_across(flood, half_edge, false);
        if (!enter_face(flood, other))
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
    uint32_t fill_count = (uint32_t)image->paint->fill_count, face_count = image->map.face_count;
    struct flood flood = {
        .image = image, .paint = {.top = ISTHMUS_NONE}, .marks = {.top = ISTHMUS_NONE}};
    flood.winding = mesh_calloc(fill_count, sizeof *flood.winding);
    image->top = mesh_alloc(face_count, sizeof *image->top);
    image->mark = mesh_alloc(face_count, sizeof *image->mark);
    enum mesh_status status = MESH_NO_MEMORY;
    if (bittree_init(&flood.paint.covering, fill_count) &&
        bittree_init(&flood.marks.covering, fill_count) && flood.winding && image->top &&
        image->mark) {
        for (uint32_t face = 0; face < face_count; face++)
            image->top[face] = UNSEEN;
        if (flood_all(&flood))
            status = are_windings_undone(&flood) ? MESH_OK : MESH_BUG;
    }
    bittree_free(&flood.paint.covering);
    bittree_free(&flood.marks.covering);
    free(flood.winding);
    free(flood.stack);
    return status;
}
