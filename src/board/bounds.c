/*
 * What kind of edge each painted object makes, once everything about holes and contacts is settled:
 * every question about a net's copper reads it.
 */
#include "build.h"

static enum bound_kind bound_of(const struct board *board, const struct paint_object *object,
                                uint32_t *owner)
{
    *owner = ISTHMUS_NONE;
    switch ((enum paint_kind)object->kind) {
    case PAINT_KIND_HOLE:
        if (!board->holes[object->owner].is_plated ||
            board->holes[object->owner].conductor >= board->conductor_count)
            return BOUND_CUT;
        *owner = object->owner;
        return BOUND_RIM;
    case PAINT_KIND_OUTSIDE:
        return BOUND_CUT;
    case PAINT_KIND_CONTACT:
        if (object->owner < board->contact_count)
            *owner = object->owner;
        return BOUND_CONTACT;
    case PAINT_KIND_DRAWN:
    case PAINT_KIND_PLANE:
        break;
    }
    return BOUND_ETCHED;
}

enum board_status build_bounds(struct build *build)
{
    struct board *board = build->board;
    for (size_t l = 0; l < board->layer_count; l++) {
        struct copper_layer *layer = &board->layers[l];
        size_t count = layer->paint.object_count;
        layer->bound_kind = arena_alloc(build->arena, count + 1, sizeof *layer->bound_kind);
        layer->bound_owner = arena_alloc(build->arena, count + 1, sizeof *layer->bound_owner);
        if (!layer->bound_kind || !layer->bound_owner)
            return BOARD_NO_MEMORY;
        for (size_t i = 0; i < count; i++)
            layer->bound_kind[i] =
                bound_of(board, &layer->paint.objects[i], &layer->bound_owner[i]);
    }
    return BOARD_OK;
}
