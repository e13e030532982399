/*
 * What the meshes make of the supposed contacts: which copper each lies on, which doubtful holes
 * are vias after all, and which pads have no copper.
 */
#include "build.h"

#include <stdlib.h>
#include <string.h>

/* ---- the copper under each mark ---- */

struct under {
    uint32_t conductor;
    uint16_t layer;
    double area_nm2;
    struct pos_nm place; /* middle of its largest triangle on the first layer */
    double largest_nm2;
    uint32_t next; /* of the same draft, in the order they were met; or ISTHMUS_NONE */
};
struct unders {
    struct under *items;
    size_t count, capacity;
    uint32_t *first; /* per draft, or ISTHMUS_NONE */
};

static bool unders_new(const struct build *build, struct unders *unders)
{
    *unders = (struct unders){0};
    unders->first = arena_alloc(build->scratch, build->draft_count + 1, sizeof *unders->first);
    for (size_t d = 0; unders->first && d < build->draft_count; d++)
        unders->first[d] = ISTHMUS_NONE;
    return unders->first != NULL;
}

/* The draft's entry for the conductor, a new one at the end if there is none; NULL: no memory. */
static struct under *under_of(struct unders *unders, uint32_t draft, uint32_t conductor)
{
    uint32_t *at = &unders->first[draft];
    while (*at < unders->count && unders->items[*at].conductor != conductor)
        at = &unders->items[*at].next;
    if (*at < unders->count) /* else it is ISTHMUS_NONE */
        return &unders->items[*at];
    uint32_t added = (uint32_t)unders->count;
    *at = added; /* before the array moves */
    if (!array_grow(&unders->items, sizeof *unders->items, &unders->capacity, unders->count + 1))
        return NULL;
    unders->items[unders->count++] = (struct under){.conductor = conductor, .next = ISTHMUS_NONE};
    return &unders->items[added];
}

/* Entry of a draft and a conductor: its place is that of the largest triangle on the layer where
 * they first meet (layers from the top). */
static bool collect_under(const struct build *build, const struct copper_layer *layer,
                          struct unders *unders)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++) {
        if (mesh->component[t] == ISTHMUS_NONE || mesh->mark[t] == ISTHMUS_NONE)
            continue;
        struct under *under = under_of(unders, layer->paint.objects[mesh->mark[t]].owner,
                                       layer->conductor_of_component[mesh->component[t]]);
        if (!under)
            return false;
        double area = tri_area_nm2(&mesh->cdt, t);
        under->area_nm2 += area;
        if (under->layer == 0)
            under->layer = layer->position;
        if (under->layer == layer->position && area > under->largest_nm2) {
            under->largest_nm2 = area;
            under->place = tri_middle(build, &mesh->cdt, t);
        }
    }
    return true;
}

static bool lies_on_conductor(struct build *build, const struct contact *contact)
{
    return build_conductor_at(build, contact->layer_from, contact->place) == contact->conductor;
}

/* The conductor with most copper under the marks; a part of one opening over several says so. */
static void settle_draft(struct build *build, struct draft *draft, const struct unders *unders,
                         uint32_t first)
{
    const struct under *best = &unders->items[first];
    size_t count = 1;
    for (uint32_t i = best->next; i != ISTHMUS_NONE; i = unders->items[i].next) {
        count++;
        if (unders->items[i].area_nm2 > best->area_nm2)
            best = &unders->items[i];
    }
    draft->contact.conductor = best->conductor;
    draft->area_mm2 = best->area_nm2 / 1e12;
    if (draft->contact.hole != ISTHMUS_NONE)
        return;
    if (!lies_on_conductor(build, &draft->contact))
        draft->contact.place = best->place;
    if (count > 1)
        diag_add(build->diags, DIAG_NOTE, "contact-over-several", draft->contact.at,
                 "give the pads' places in the table if they are terminals of their own",
                 "a pad or mask opening at %.4f, %.4f mm lies over %zu conductors; taken as a "
                 "contact of the largest part",
                 (double)draft->contact.place.x_nm / 1e6, (double)draft->contact.place.y_nm / 1e6,
                 count);
}

static bool settle_by_marks(struct build *build)
{
    struct unders unders;
    bool is_done = unders_new(build, &unders);
    for (size_t l = 0; is_done && l < build->board->layer_count; l++)
        is_done = collect_under(build, &build->board->layers[l], &unders);
    for (size_t d = 0; is_done && d < build->draft_count; d++)
        if (unders.first[d] != ISTHMUS_NONE)
            settle_draft(build, &build->drafts[d], &unders, unders.first[d]);
    free(unders.items);
    return is_done;
}

/* ---- holes ---- */

/* Not cut by the board's edge, nor by another hole. */
static bool has_whole_wall(const struct board *board, const struct board_hole *hole)
{
    return hole->wall_mm2 >= hole_wall_mm2(&board->facts, &hole->hole, false);
}

/* A hole's wall decides for its contact: all its layers hang together there. */
static void settle_hole_contacts(struct build *build)
{
    struct board *board = build->board;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        struct board_hole *hole = &board->holes[h];
        if (hole->contact == ISTHMUS_NONE)
            continue;
        struct draft *draft = &build->drafts[hole->contact];
        if (hole->conductor != ISTHMUS_NONE)
            draft->contact.conductor = hole->conductor;
        if (draft->is_doubtful && hole->is_via)
            draft->is_dropped = true;
    }
    for (uint32_t h = 0; h < board->hole_count; h++) {
        struct board_hole *hole = &board->holes[h];
        if (hole->contact != ISTHMUS_NONE && build->drafts[hole->contact].is_dropped)
            hole->contact = ISTHMUS_NONE;
        if (hole->contact != ISTHMUS_NONE)
            hole->is_via = false;
        if (hole->is_via && board->facts.are_vias_filled && has_whole_wall(board, hole))
            hole->wall_mm2 = hole_wall_mm2(&board->facts, &hole->hole, true);
    }
}

static void drop_bare(struct build *build)
{
    for (uint32_t d = 0; d < build->draft_count; d++) {
        struct draft *draft = &build->drafts[d];
        if (draft->is_dropped || draft->contact.conductor != ISTHMUS_NONE)
            continue;
        draft->is_dropped = true;
        bool is_meant = draft->contact.ref || draft->contact.source == CONTACT_POSITION;
        if (!is_meant)
            continue;
        bool is_row = draft->contact.source == CONTACT_POSITION;
        diag_add(build->diags, is_row ? DIAG_ERROR : DIAG_NOTE,
                 is_row ? "position-bare" : "pad-without-copper", draft->contact.at,
                 is_row ? "give a place on copper of that layer, as `isthmus inspect` lists them"
                        : NULL,
                 "no copper at %.4f, %.4f mm%s%s%s%s", (double)draft->contact.place.x_nm / 1e6,
                 (double)draft->contact.place.y_nm / 1e6, draft->contact.ref ? " for " : "",
                 draft->contact.ref ? draft->contact.ref : "", draft->contact.pin ? "." : "",
                 draft->contact.pin ? draft->contact.pin : "");
    }
}

/* ---- what is left becomes the board's contacts ---- */

static void renumber_marks(struct build *build, const uint32_t *number)
{
    for (size_t l = 0; l < build->board->layer_count; l++) {
        struct paint *paint = &build->board->layers[l].paint;
        for (size_t i = 0; i < paint->object_count; i++)
            if (paint->objects[i].kind == PAINT_KIND_CONTACT)
                paint->objects[i].owner = number[paint->objects[i].owner];
    }
}

static void renumber_holes_and_rows(struct build *build, const uint32_t *number)
{
    for (size_t h = 0; h < build->board->hole_count; h++) {
        uint32_t *contact = &build->board->holes[h].contact;
        *contact = *contact == ISTHMUS_NONE ? ISTHMUS_NONE : number[*contact];
    }
    size_t row_count = build->table ? build->table->row_count : 0;
    for (size_t r = 0; r < row_count; r++) {
        uint32_t *draft = &build->draft_of_row[r];
        *draft = *draft == ISTHMUS_NONE ? ISTHMUS_NONE : number[*draft];
    }
    for (size_t p = 0; p < build->point_count; p++) {
        uint32_t *draft = &build->points[p].draft;
        *draft = *draft == ISTHMUS_NONE ? ISTHMUS_NONE : number[*draft];
    }
}

static enum board_status keep_contacts(struct build *build)
{
    struct board *board = build->board;
    uint32_t *number = arena_alloc(build->scratch, build->draft_count + 1, sizeof *number);
    board->contacts = arena_alloc(build->arena, build->draft_count + 1, sizeof *board->contacts);
    if (!number || !board->contacts)
        return BOARD_NO_MEMORY;
    for (uint32_t d = 0; d < build->draft_count; d++) {
        number[d] = ISTHMUS_NONE;
        if (build->drafts[d].is_dropped)
            continue;
        number[d] = (uint32_t)board->contact_count;
        build->drafts[board->contact_count] = build->drafts[d];
        board->contacts[board->contact_count] = build->drafts[d].contact;
        board->conductors[build->drafts[d].contact.conductor].is_island = false;
        board->contact_count++;
    }
    build->draft_count = board->contact_count;
    renumber_marks(build, number);
    renumber_holes_and_rows(build, number);
    return BOARD_OK;
}

enum board_status build_settle_contacts(struct build *build)
{
    if (!settle_by_marks(build))
        return BOARD_NO_MEMORY;
    settle_hole_contacts(build);
    drop_bare(build);
    return keep_contacts(build);
}
