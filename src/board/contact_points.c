/* Contacts that a place names: points of a netlist and rows of the net-current table. */
#include "contacts.h"

#include <math.h>
#include <string.h>

#define POSITION_DISC_NM NM_PER_MM

/* ---- netlist points ---- */

static bool contact_of_point(struct build *build, size_t index, uint16_t layer)
{
    struct named_point *named = &build->points[index];
    const struct netlist_point *point = named->point;
    uint32_t number;
    struct draft *draft = build_new_draft(build, &number);
    if (!draft)
        return false;
    draft->contact.source = CONTACT_NETLIST;
    draft->contact.place = named->at;
    draft->contact.layer_from = draft->contact.layer_to = layer;
    draft->contact.at = point->at;
    draft_name_from_point(build, draft, index);
    named->draft = number;
    uint32_t opening = build_mask_opening(build, layer, named->at);
    struct mark mark = {.kind = MARK_RECTANGLE,
                        .layer = layer,
                        .at = named->at,
                        .width_nm = point->width_nm,
                        .height_nm = point->height_nm,
                        .rotation_rad = point->rotation_deg * M_PI / 180};
    if (opening != ISTHMUS_NONE && build->openings[opening].pad_count == 0 &&
        !build->openings[opening].is_used) {
        build->openings[opening].is_used = true;
        mark.kind = MARK_OPENING;
        mark.index = opening;
    } else if (mark.height_nm == 0) {
        mark.kind = MARK_DISC;
    }
    if (mark.kind != MARK_OPENING && mark.width_nm <= 0)
        mark.width_nm = 100000;
    return draft_add_mark(build, draft, mark);
}

/* A surface point speaks of the pad under it; of one whose attributes were silent it decides. */
static bool take_surface_point(struct build *build, size_t index)
{
    struct named_point *named = &build->points[index];
    const struct netlist_point *point = named->point;
    uint16_t layer = named->layer;
    if (point->is_via || !point->ref || named->hole != ISTHMUS_NONE || layer == 0)
        return true;
    uint32_t p = pad_under(build, layer, named->at, false);
    if (p == ISTHMUS_NONE)
        return contact_of_point(build, index, layer);
    struct pad *pad = &build->pads[p];
    const struct contact *known =
        pad->draft == ISTHMUS_NONE ? NULL : &build->drafts[pad->draft].contact;
    bool is_another =
        known && known->ref && !pad->ref && !contact_is_pin(known, point->ref, point->pin);
    if (!known || is_another) {
        if (pad->source == CONTACT_ATTRIBUTE && pad->answer == ANSWER_NO)
            return true;
        if (!contact_of_pad(build, p, CONTACT_NETLIST))
            return false;
    }
    named->draft = pad->draft;
    draft_name_from_point(build, &build->drafts[pad->draft], index);
    return true;
}

enum board_status point_contacts(struct build *build)
{
    for (size_t i = 0; i < build->point_count; i++)
        if (!take_surface_point(build, i))
            return BOARD_NO_MEMORY;
    return BOARD_OK;
}

/* ---- rows of the table that give a place ---- */

uint16_t row_layer(const struct build *build, const struct current_row *row)
{
    uint16_t count = (uint16_t)build->board->layer_count;
    if (!row->has_layer)
        return 0;
    if (row->layer_code == 0)
        return 1;
    return row->layer_code == UINT16_MAX ? count : (uint16_t)(row->layer_code + 1);
}

uint32_t build_plated_hole_at(const struct build *build, struct pos_nm at, uint16_t layer)
{
    uint64_t cursor = 0;
    uint32_t h, best = ISTHMUS_NONE;
    double nearest = INFINITY;
    int64_t reach = build->hole_reach_nm;
    while ((h = grid_next(build->hole_grid, at, reach, &cursor)) != ISTHMUS_NONE) {
        const struct board_hole *hole = &build->board->holes[h];
        double away = slot_distance_nm(hole->hole.from, hole->hole.to, at);
        bool is_reached = layer == 0 || (hole->layer_from <= layer && layer <= hole->layer_to);
        if (hole->is_plated && is_reached && away <= (double)hole->cut_nm / 2 && away < nearest) {
            nearest = away;
            best = h;
        }
    }
    return best;
}

/* The pad whose own shape holds the point (the boxes of slanted pads and of areas reach over their
 * neighbours); of several the one with the nearest centre. */
static uint32_t pad_covering(struct build *build, uint16_t layer, struct pos_nm at, bool is_contact)
{
    uint32_t objects[32], p, best = ISTHMUS_NONE;
    struct cover *cover = build_cover(build, layer);
    size_t count = cover ? cover_find(cover, at, objects, 32) : 0;
    uint64_t cursor = 0;
    double nearest = INFINITY;
    while ((p = grid_next(build->pad_grid, at, build->pad_reach_nm, &cursor)) != ISTHMUS_NONE) {
        const struct pad *pad = &build->pads[p];
        bool is_covering = false;
        for (size_t i = 0; pad->layer == layer && i < count; i++)
            is_covering |= objects[i] == pad->object;
        double away = distance_nm(pad->centre, at);
        is_covering &= is_contact ? pad->draft != ISTHMUS_NONE : pad_may_be_meant(pad);
        if (is_covering && away < nearest) {
            nearest = away;
            best = p;
        }
    }
    return best;
}

static uint32_t pad_for_row(struct build *build, uint16_t layer, struct pos_nm at, bool is_contact)
{
    if (layer)
        return pad_covering(build, layer, at, is_contact);
    uint32_t top = pad_covering(build, 1, at, is_contact);
    return top != ISTHMUS_NONE
               ? top
               : pad_covering(build, (uint16_t)build->board->layer_count, at, is_contact);
}

static bool row_to_hole(struct build *build, uint32_t hole, uint32_t *draft)
{
    if (build->board->holes[hole].contact == ISTHMUS_NONE) {
        build->notes[hole].source = CONTACT_POSITION;
        if (!contact_of_hole(build, hole, false))
            return false;
    }
    *draft = build->board->holes[hole].contact;
    build->drafts[*draft].is_doubtful = false;
    return true;
}

static bool row_to_pad(struct build *build, uint32_t pad, uint32_t *draft)
{
    if (build->pads[pad].draft == ISTHMUS_NONE && build->pads[pad].hole != ISTHMUS_NONE)
        return row_to_hole(build, build->pads[pad].hole, draft);
    if (build->pads[pad].draft == ISTHMUS_NONE && !contact_of_pad(build, pad, CONTACT_POSITION))
        return false;
    *draft = build->pads[pad].draft;
    build->drafts[*draft].is_doubtful = false;
    return true;
}

static bool row_to_disc(struct build *build, const struct current_row *row, uint32_t *number)
{
    uint16_t layer = row_layer(build, row);
    if (layer == 0) {
        struct cover *top = build_cover(build, 1);
        if (!top)
            return false;
        layer = cover_is_dark(top, row->place) ? 1 : (uint16_t)build->board->layer_count;
    }
    struct draft *draft = build_new_draft(build, number);
    if (!draft)
        return false;
    draft->contact.source = CONTACT_POSITION;
    draft->contact.place = row->place;
    draft->contact.layer_from = draft->contact.layer_to = layer;
    draft->contact.is_disc = true;
    draft->contact.at = row->at;
    diag_add(
        build->diags, DIAG_NOTE, "position-disc", row->at,
        "give the place of a pad or hole if one was meant",
        "no pad or hole lies at %.4f, %.4f mm: the current is taken to enter by a disc of 1 mm",
        (double)row->place.x_nm / 1e6, (double)row->place.y_nm / 1e6);
    return draft_add_mark(
        build, draft,
        (struct mark){
            .kind = MARK_DISC, .layer = layer, .at = row->place, .width_nm = POSITION_DISC_NM});
}

/* A mask-defined contact has no pad under it, but a place in its opening is a place on it. */
static uint32_t draft_of_opening(const struct build *build, uint16_t layer, struct pos_nm at)
{
    for (int s = 0; s < 2; s++) {
        uint16_t side = s ? (uint16_t)build->board->layer_count : 1;
        uint32_t opening =
            layer == 0 || layer == side ? build_mask_opening(build, side, at) : ISTHMUS_NONE;
        for (uint32_t d = 0; opening != ISTHMUS_NONE && d < build->draft_count; d++)
            for (size_t m = 0; m < build->drafts[d].mark_count; m++)
                if (build->drafts[d].marks[m].kind == MARK_OPENING &&
                    build->drafts[d].marks[m].index == opening)
                    return d;
    }
    return ISTHMUS_NONE;
}

static bool take_row(struct build *build, const struct current_row *row, uint32_t *draft)
{
    uint16_t layer = row_layer(build, row);
    if (layer > build->board->layer_count) {
        diag_add(build->diags, DIAG_ERROR, "position-layer", row->at,
                 "layers are top, inner:1 ..., bottom", "the board has no layer inner:%u",
                 row->layer_code);
        return true;
    }
    /* A pad that is a contact comes before the via in it, that before the opening of a contact that
     * the mask defines, that before a pad that is no contact. */
    uint32_t pad = pad_for_row(build, layer, row->place, true);
    if (pad != ISTHMUS_NONE)
        return row_to_pad(build, pad, draft);
    uint32_t hole = build_plated_hole_at(build, row->place, layer);
    if (hole != ISTHMUS_NONE)
        return row_to_hole(build, hole, draft);
    *draft = draft_of_opening(build, layer, row->place);
    if (*draft != ISTHMUS_NONE)
        return true;
    pad = pad_for_row(build, layer, row->place, false);
    return pad != ISTHMUS_NONE ? row_to_pad(build, pad, draft) : row_to_disc(build, row, draft);
}

enum board_status row_contacts(struct build *build)
{
    size_t count = build->table ? build->table->row_count : 0;
    build->draft_of_row = arena_alloc(build->scratch, count + 1, sizeof *build->draft_of_row);
    if (!build->draft_of_row)
        return BOARD_NO_MEMORY;
    for (size_t r = 0; r < count; r++) {
        build->draft_of_row[r] = ISTHMUS_NONE;
        const struct current_row *row = &build->table->rows[r];
        /* A row without a current only names the copper under it. */
        if (row->kind == ROW_POSITION && row->has_current &&
            !take_row(build, row, &build->draft_of_row[r]))
            return BOARD_NO_MEMORY;
    }
    return BOARD_OK;
}
