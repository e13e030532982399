/* Mask openings over copper that are no contact: listed, and given no credit. */
#include "build.h"

#include <stdlib.h>

/* What a side's openings lie over, for one copper layer. */
struct bared_side {
    struct build *build;
    const struct mask_side *side;
    const struct copper_layer *layer;
    struct bared_part { /* the share of a conductor under an opening */
        uint32_t opening, conductor;
        double area_nm2;
    } * parts;
    size_t count, capacity;
};

static bool is_unused_opening(uint32_t tri, void *context)
{
    const struct bared_side *bared = context;
    uint32_t component = bared->side->mesh.component[tri];
    return component != ISTHMUS_NONE &&
           !bared->build->openings[bared->side->first_opening + component].is_used;
}

/* Neighbouring triangles mostly lie over the same conductor. */
static bool note_part(uint32_t over, uint32_t under, double area_nm2, void *context)
{
    struct bared_side *bared = context;
    uint32_t island = bared->layer->mesh.component[under];
    if (island == ISTHMUS_NONE)
        return true;
    uint32_t opening = bared->side->mesh.component[over];
    uint32_t conductor = bared->layer->conductor_of_component[island];
    struct bared_part *last = bared->count ? &bared->parts[bared->count - 1] : NULL;
    if (last && last->opening == opening && last->conductor == conductor) {
        last->area_nm2 += area_nm2;
        return true;
    }
    if (!array_grow(&bared->parts, sizeof *bared->parts, &bared->capacity, bared->count + 1))
        return false;
    bared->parts[bared->count++] = (struct bared_part){opening, conductor, area_nm2};
    return true;
}

static int compare_parts(const void *left, const void *right)
{
    const struct bared_part *a = left, *b = right;
    if (a->opening != b->opening)
        return a->opening < b->opening ? -1 : 1;
    if (a->conductor != b->conductor)
        return a->conductor < b->conductor ? -1 : 1;
    return (a->area_nm2 > b->area_nm2) - (a->area_nm2 < b->area_nm2);
}

/* One opening's parts: all copper under it, and the conductor with most of that. */
static size_t list_opening(const struct bared_side *bared, size_t first)
{
    struct board *board = bared->build->board;
    uint32_t index = bared->parts[first].opening, conductor = ISTHMUS_NONE;
    const struct opening *opening = &bared->build->openings[bared->side->first_opening + index];
    double area_nm2 = 0, most_nm2 = 0, own_nm2 = 0;
    size_t i = first;
    for (; i < bared->count && bared->parts[i].opening == index; i++) {
        const struct bared_part *part = &bared->parts[i];
        bool is_same = i > first && part[-1].conductor == part->conductor;
        own_nm2 = is_same ? own_nm2 + part->area_nm2 : part->area_nm2;
        area_nm2 += part->area_nm2;
        if (own_nm2 > most_nm2) {
            most_nm2 = own_nm2;
            conductor = part->conductor;
        }
    }
    board->bared[board->bared_count++] = (struct bared){.layer = bared->layer->position,
                                                        .min = opening->box.min,
                                                        .max = opening->box.max,
                                                        .area_mm2 = area_nm2 / 1e12,
                                                        .conductor = conductor};
    return i;
}

static bool list_side(struct build *build, const struct mask_side *side, uint16_t position)
{
    struct bared_side bared = {build, side, &build->board->layers[position - 1], NULL, 0, 0};
    bool is_done = sheet_overlaps(&side->mesh.cdt, is_unused_opening, &bared.layer->mesh.cdt,
                                  build->locators[position - 1], note_part, &bared) == MESH_OK;
    if (is_done && bared.count)
        qsort(bared.parts, bared.count, sizeof *bared.parts, compare_parts);
    for (size_t first = 0; is_done && first < bared.count;)
        first = list_opening(&bared, first);
    free(bared.parts);
    return is_done;
}

enum board_status build_bared(struct build *build)
{
    struct board *board = build->board;
    board->bared = arena_alloc(build->arena, build->opening_count + 1, sizeof *board->bared);
    if (!board->bared)
        return BOARD_NO_MEMORY;
    for (int s = 0; s < 2; s++) {
        uint16_t layer = s ? (uint16_t)board->layer_count : 1;
        if (build->masks[s].is_known && !list_side(build, &build->masks[s], layer))
            return BOARD_NO_MEMORY;
    }
    return BOARD_OK;
}
