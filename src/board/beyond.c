/* Named copper that lies beyond the board's edge or in a cut-out altogether: it is not there. */
#include "build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* An arc lies within its circle; that is enough here. */
static void add_seg(struct box *box, const struct seg *seg, struct pos_nm from)
{
    box_add(box, seg->to);
    if (!seg->turn)
        return;
    double radius = fmax(
        hypot((double)from.x_nm - seg->centre_x_nm, (double)from.y_nm - seg->centre_y_nm),
        hypot((double)seg->to.x_nm - seg->centre_x_nm, (double)seg->to.y_nm - seg->centre_y_nm));
    box_add(box, (struct pos_nm){(int64_t)floor(seg->centre_x_nm - radius),
                                 (int64_t)floor(seg->centre_y_nm - radius)});
    box_add(box, (struct pos_nm){(int64_t)ceil(seg->centre_x_nm + radius),
                                 (int64_t)ceil(seg->centre_y_nm + radius)});
}

static struct box box_of(const struct drawing *drawing, const struct object *object)
{
    struct box box = BOX_EMPTY;
    for (uint32_t f = 0; f < object->fill_count; f++) {
        const struct fill *fill = &drawing->fills[object->first_fill + f];
        for (uint32_t c = 0; c < fill->contour_count; c++) {
            const struct contour *contour = &drawing->contours[fill->first_contour + c];
            struct pos_nm from = contour->start;
            box_add(&box, from);
            for (uint32_t s = 0; s < contour->seg_count; s++) {
                const struct seg *seg = &drawing->segs[contour->first_seg + s];
                add_seg(&box, seg, from);
                from = seg->to;
            }
        }
    }
    return box;
}

static uint32_t net_named(const struct board *board, const char *name)
{
    const struct net *net = board_find_net(board, name);
    return net ? (uint32_t)(net - board->nets) : ISTHMUS_NONE;
}

struct list {
    struct beyond *items;
    size_t count, capacity;
};

static bool add_object(const struct build *build, const struct copper_layer *layer,
                       const struct object *object, struct list *list)
{
    const struct object_attrs *attrs = &layer->drawing->attrs[object->attrs];
    if (!object->is_dark || !object->fill_count || attrs->net_count != 1 ||
        profile_holds(&build->profile, object->from) ||
        !profile_misses(&build->profile, box_of(layer->drawing, object)))
        return true;
    uint32_t net = net_named(build->board, attrs->nets[0]);
    if (net == ISTHMUS_NONE)
        return true;
    if (!array_grow(&list->items, sizeof *list->items, &list->capacity, list->count + 1))
        return false;
    list->items[list->count++] = (struct beyond){layer->position, net, object->from, object->at};
    return true;
}

static bool add_layer(const struct build *build, const struct copper_layer *layer,
                      struct list *list)
{
    for (size_t i = 0; i < layer->drawing->object_count; i++)
        if (!add_object(build, layer, &layer->drawing->objects[i], list))
            return false;
    return true;
}

/* Of a panel one board is judged; what lies on the others is theirs. */
enum board_status build_beyond(struct build *build)
{
    struct board *board = build->board;
    struct list list = {0};
    bool is_done = true, has_edge = build->profile.is_chosen && board->profile_piece_count == 1;
    for (size_t l = 0; has_edge && is_done && l < board->layer_count; l++)
        if (!board->layers[l].is_negative)
            is_done = add_layer(build, &board->layers[l], &list);
    board->beyond = arena_alloc(build->arena, list.count + 1, sizeof *board->beyond);
    is_done &= board->beyond != NULL;
    if (is_done && list.count)
        memcpy(board->beyond, list.items, list.count * sizeof *list.items);
    board->beyond_count = is_done ? list.count : 0;
    free(list.items);
    return is_done ? BOARD_OK : BOARD_NO_MEMORY;
}
