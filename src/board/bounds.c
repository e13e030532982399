/*
 * What kind of edge each painted object makes, and which islands no current passes through, once
 * everything about holes and contacts is settled: every question about a net's copper reads it.
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

static bool note_kinds(const struct build *build, struct copper_layer *layer)
{
    size_t count = layer->paint.object_count;
    layer->bound_kind = arena_alloc(build->arena, count + 1, sizeof *layer->bound_kind);
    layer->bound_owner = arena_alloc(build->arena, count + 1, sizeof *layer->bound_owner);
    if (!layer->bound_kind || !layer->bound_owner)
        return false;
    for (size_t i = 0; i < count; i++)
        layer->bound_kind[i] =
            bound_of(build->board, &layer->paint.objects[i], &layer->bound_owner[i]);
    return true;
}

/* ---- islands that hang on one hole ---- */

/* What leads on from an island. */
struct island_ends {
    uint32_t hole, contact; /* the first of each, or ISTHMUS_NONE */
    bool has_more;
};

static void note_end(uint32_t *first, uint32_t end, bool *has_more)
{
    *has_more |= *first != ISTHMUS_NONE && end != ISTHMUS_NONE && end != *first;
    if (*first == ISTHMUS_NONE)
        *first = end;
}

static uint32_t contact_at(const struct copper_layer *layer, uint32_t tri)
{
    uint32_t mark = layer->mesh.mark[tri];
    bool is_contact = mark != ISTHMUS_NONE && layer->bound_kind[mark] == BOUND_CONTACT;
    return is_contact ? layer->bound_owner[mark] : ISTHMUS_NONE;
}

/* The plated hole whose rim ends the copper at a side, or ISTHMUS_NONE. */
static uint32_t rim_at(const struct copper_layer *layer, uint32_t tri, unsigned side)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    uint32_t bound = mesh->cdt.chain[tri][side], across = mesh->cdt.neighbour[tri][side];
    bool is_end = across == ISTHMUS_NONE || mesh->component[across] == ISTHMUS_NONE;
    if (bound == ISTHMUS_NONE || !is_end)
        return ISTHMUS_NONE;
    uint32_t object = mesh->bounds[bound].object;
    return layer->bound_kind[object] == BOUND_RIM ? layer->bound_owner[object] : ISTHMUS_NONE;
}

/* A pad of the hole's own contact leads nowhere else either: the lead joins all of its pads. */
static bool is_pendant(const struct board *board, const struct copper_layer *layer, uint32_t island)
{
    struct island_ends ends = {.hole = ISTHMUS_NONE, .contact = ISTHMUS_NONE};
    const uint32_t *first = layer->islands.first, *tris = layer->islands.tris;
    for (uint32_t i = first[island]; i < first[island + 1] && !ends.has_more; i++) {
        note_end(&ends.contact, contact_at(layer, tris[i]), &ends.has_more);
        for (unsigned k = 0; k < 3; k++)
            note_end(&ends.hole, rim_at(layer, tris[i], k), &ends.has_more);
    }
    bool is_own = ends.contact == ISTHMUS_NONE ||
                  (ends.hole != ISTHMUS_NONE && board->holes[ends.hole].contact == ends.contact);
    return !ends.has_more && is_own;
}

static bool note_pendants(const struct build *build, struct copper_layer *layer)
{
    uint32_t count = layer->mesh.component_count;
    layer->is_pendant = arena_alloc(build->arena, (size_t)count + 1, sizeof *layer->is_pendant);
    for (uint32_t c = 0; layer->is_pendant && c < count; c++)
        layer->is_pendant[c] = is_pendant(build->board, layer, c);
    return layer->is_pendant != NULL;
}

enum board_status build_bounds(struct build *build)
{
    for (size_t l = 0; l < build->board->layer_count; l++)
        if (!note_kinds(build, &build->board->layers[l]) ||
            !note_pendants(build, &build->board->layers[l]))
            return BOARD_NO_MEMORY;
    return BOARD_OK;
}
