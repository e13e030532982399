/*
 * Contacts: which pads and holes are places where current enters or leaves.
 *
 * Each pad and each plated hole is asked of the best source that speaks: its attributes, the
 * netlist, the mask openings, and last what it is. A hole of which only its size and copper speak
 * stays doubtful until the meshes say whether it joins copper beyond its own pads on two layers.
 */
#include "build.h"

#include <math.h>
#include <string.h>

/* No lead of a part fits into a hole this small (common practice, no source). */
#define SMALL_HOLE_NM 500000
#define POSITION_DISC_NM NM_PER_MM
/* A mask-defined contact fills this much of the rectangle round it: letters and logos do not. */
#define LEAST_FILL 0.6
#define MOST_ASPECT 4.0

/* ---- drafts ---- */

struct draft *build_new_draft(struct build *build, uint32_t *index)
{
    if (build->draft_count >= ISTHMUS_NONE - 1 ||
        !array_grow(&build->drafts, sizeof *build->drafts, &build->draft_capacity,
                    build->draft_count + 1))
        return NULL;
    *index = (uint32_t)build->draft_count++;
    struct draft *draft = &build->drafts[*index];
    *draft = (struct draft){
        .contact = {.hole = ISTHMUS_NONE, .terminal = ISTHMUS_NONE, .conductor = ISTHMUS_NONE}};
    return draft;
}

bool draft_add_mark(struct build *build, struct draft *draft, struct mark mark)
{
    if (draft->mark_count == draft->mark_capacity) {
        size_t capacity = draft->mark_capacity ? draft->mark_capacity * 2 : 2;
        struct mark *marks = arena_alloc(build->scratch, capacity, sizeof *marks);
        if (!marks)
            return false;
        if (draft->mark_count)
            memcpy(marks, draft->marks, draft->mark_count * sizeof *marks);
        draft->marks = marks;
        draft->mark_capacity = capacity;
    }
    draft->marks[draft->mark_count++] = mark;
    return true;
}

static void name_net(struct draft *draft, const char *net, struct source_pos at,
                     enum contact_source source)
{
    if (draft->net || !net)
        return;
    draft->net = net;
    draft->net_at = at;
    draft->net_source = source;
}

static void name_pin(struct draft *draft, const char *ref, const char *pin, const char *function)
{
    if (draft->contact.ref || !ref)
        return;
    draft->contact.ref = ref;
    draft->contact.pin = pin;
    draft->contact.function = function;
}

static void name_from_point(struct build *build, struct draft *draft, size_t index)
{
    const struct netlist_point *point = build->points[index].point;
    name_pin(draft, point->ref, point->pin, NULL);
    name_net(draft, point->net, point->at, CONTACT_NETLIST);
}

/* ---- pads ---- */

static struct source_pos pad_at(const struct build *build, const struct pad *pad)
{
    return build->board->layers[pad->layer - 1].drawing->objects[pad->object].at;
}

static bool mark_pad(struct build *build, struct draft *draft, uint32_t index)
{
    const struct pad *pad = &build->pads[index];
    bool is_opening = pad->is_mask_defined && pad->opening != ISTHMUS_NONE;
    if (is_opening)
        build->openings[pad->opening].is_used = true;
    return draft_add_mark(build, draft,
                          (struct mark){.kind = is_opening ? MARK_OPENING : MARK_PAD,
                                        .layer = pad->layer,
                                        .index = is_opening ? pad->opening : index});
}

static bool contact_of_pad(struct build *build, uint32_t index, enum contact_source source)
{
    struct pad *pad = &build->pads[index];
    uint32_t number;
    struct draft *draft = build_new_draft(build, &number);
    if (!draft)
        return false;
    draft->contact.source = source;
    draft->contact.place = pad->centre;
    draft->contact.layer_from = draft->contact.layer_to = pad->layer;
    draft->contact.at = pad_at(build, pad);
    name_pin(draft, pad->ref, pad->pin, pad->function);
    name_net(draft, pad->net, pad->net_at, CONTACT_ATTRIBUTE);
    pad->draft = number;
    return mark_pad(build, draft, index);
}

/* The same flash drawn a second time is the same pad. */
static uint32_t earlier_double(const struct build *build, uint32_t index)
{
    const struct pad *pad = &build->pads[index];
    uint64_t cursor = 0;
    uint32_t p;
    while ((p = grid_next(build->pad_grid, pad->centre, 1000, &cursor)) != ISTHMUS_NONE) {
        const struct pad *other = &build->pads[p];
        bool is_same_box = memcmp(&other->box, &pad->box, sizeof pad->box) == 0;
        bool is_same_pin = !pad->ref || !other->ref ||
                           (strcmp(pad->ref, other->ref) == 0 && pad->pin && other->pin &&
                            strcmp(pad->pin, other->pin) == 0);
        if (p < index && other->layer == pad->layer && is_same_box && is_same_pin &&
            other->draft != ISTHMUS_NONE)
            return p;
    }
    return ISTHMUS_NONE;
}

static enum board_status pad_contacts(struct build *build)
{
    for (uint32_t p = 0; p < build->pad_count; p++) {
        struct pad *pad = &build->pads[p];
        if (pad->answer != ANSWER_YES || pad->hole != ISTHMUS_NONE || pad->draft != ISTHMUS_NONE)
            continue;
        if (pad->layer != 1 && pad->layer != build->board->layer_count)
            continue;
        uint32_t earlier = earlier_double(build, p);
        if (earlier != ISTHMUS_NONE) {
            pad->draft = build->pads[earlier].draft;
            name_pin(&build->drafts[pad->draft], pad->ref, pad->pin, pad->function);
            name_net(&build->drafts[pad->draft], pad->net, pad->net_at, CONTACT_ATTRIBUTE);
        } else if (!contact_of_pad(build, p, pad->source)) {
            return BOARD_NO_MEMORY;
        }
    }
    return BOARD_OK;
}

/* ---- holes ---- */

static enum answer hole_by_attribute(const struct build *build, uint32_t index)
{
    const struct hole *hole = &build->board->holes[index].hole;
    if (hole->function && (strcmp(hole->function, "ViaDrill") == 0))
        return ANSWER_NO;
    if (hole->function && (strcmp(hole->function, "ComponentDrill") == 0 ||
                           strcmp(hole->function, "CastellatedDrill") == 0))
        return ANSWER_YES;
    if (hole->ref && hole->pin)
        return ANSWER_YES;
    enum answer answer = ANSWER_OPEN;
    for (size_t l = 0; l < build->board->layer_count; l++) {
        uint32_t p = build->notes[index].pads[l];
        if (p != ISTHMUS_NONE && build->pads[p].source == CONTACT_ATTRIBUTE &&
            build->pads[p].answer != ANSWER_OPEN && answer != ANSWER_YES)
            answer = build->pads[p].answer;
    }
    return answer;
}

static enum answer hole_by_netlist(const struct build *build, uint32_t index)
{
    size_t point = build->notes[index].netlist_point;
    if (point == SIZE_MAX)
        return ANSWER_OPEN;
    if (build->points[point].point->is_via)
        return ANSWER_NO;
    return build->points[point].point->ref ? ANSWER_YES : ANSWER_OPEN;
}

/* An opening round the hole, not one of a surface pad that the hole merely lies in. */
static bool is_open_round(const struct build *build, uint32_t index, uint16_t layer)
{
    const struct hole *hole = &build->board->holes[index].hole;
    uint32_t opening = build_mask_opening(build, layer, hole_middle(hole));
    if (opening == ISTHMUS_NONE)
        return false;
    struct box box = build->openings[opening].box;
    uint32_t own = build->notes[index].pads[layer - 1];
    if (build->openings[opening].is_of_surface_pad && hole->diameter_nm <= SMALL_HOLE_NM)
        return false; /* a via in a part's pad */
    if (own != ISTHMUS_NONE)
        return true;
    struct pos_nm size = box_size(box);
    int64_t longer = size.x_nm > size.y_nm ? size.x_nm : size.y_nm;
    int64_t limit =
        hole->diameter_nm * 7 / 2 + 2 * NM_PER_MM + (int64_t)distance_nm(hole->from, hole->to);
    return longer <= limit && build->openings[opening].hole_count <= 1;
}

/* A hole too small for a lead whose pad is free on one side only: something is soldered to that
 * pad (a via in a pad), or the via is only covered from one side; in doubt the pad is a contact. */
static bool free_one_side(struct build *build, uint32_t index, uint16_t layer)
{
    uint32_t own = build->notes[index].pads[layer - 1];
    if (own == ISTHMUS_NONE)
        return false;
    struct pad *pad = &build->pads[own];
    pad->hole = ISTHMUS_NONE;
    pad->answer = ANSWER_YES;
    pad->source = CONTACT_MASK;
    return true;
}

/* What masks and size say. *is_doubtful: only the copper it joins can tell. */
static enum answer hole_by_mask(struct build *build, uint32_t index, bool *is_doubtful)
{
    const struct board_hole *hole = &build->board->holes[index];
    uint16_t last = (uint16_t)build->board->layer_count;
    bool is_first_known = build->masks[0].is_known, is_last_known = build->masks[1].is_known;
    bool is_first_open = is_first_known && is_open_round(build, index, 1);
    bool is_last_open = is_last_known && is_open_round(build, index, last);
    bool is_covered = is_first_known && is_last_known && !is_first_open && !is_last_open;
    *is_doubtful = false;
    if (hole->is_on_profile)
        return ANSWER_YES;
    if (is_covered)
        return ANSWER_NO;
    if (hole->finished_nm <= SMALL_HOLE_NM && is_first_known && is_last_known &&
        is_first_open != is_last_open && free_one_side(build, index, is_first_open ? 1 : last))
        return ANSWER_NO;
    bool is_open_both = is_first_open && is_last_open;
    bool is_unknown = !is_first_known && !is_last_known;
    *is_doubtful = hole->finished_nm <= SMALL_HOLE_NM || !(is_open_both || is_unknown);
    return ANSWER_YES;
}

static void judge_hole(struct build *build, uint32_t index, bool *is_doubtful)
{
    struct hole_note *note = &build->notes[index];
    *is_doubtful = false;
    note->source = CONTACT_ATTRIBUTE;
    note->answer = hole_by_attribute(build, index);
    if (note->answer != ANSWER_OPEN)
        return;
    note->source = CONTACT_NETLIST;
    note->answer = hole_by_netlist(build, index);
    if (note->answer != ANSWER_OPEN)
        return;
    /* A buried or blind hole takes no lead. */
    const struct board_hole *hole = &build->board->holes[index];
    bool is_through = hole->layer_from == 1 && hole->layer_to == build->board->layer_count;
    note->source = is_through ? CONTACT_MASK : CONTACT_HOLE;
    note->answer = is_through ? hole_by_mask(build, index, is_doubtful) : ANSWER_NO;
    if (*is_doubtful)
        note->source = CONTACT_HOLE;
}

static bool mark_hole_layer(struct build *build, struct draft *draft, uint32_t index,
                            uint16_t layer)
{
    uint32_t pad = build->notes[index].pads[layer - 1];
    if (pad != ISTHMUS_NONE) {
        build->pads[pad].draft = (uint32_t)(draft - build->drafts);
        return mark_pad(build, draft, pad);
    }
    if (!is_open_round(build, index, layer))
        return true; /* the rim itself is the contact there */
    uint32_t opening =
        build_mask_opening(build, layer, hole_middle(&build->board->holes[index].hole));
    return draft_add_mark(build, draft,
                          (struct mark){.kind = MARK_OPENING, .layer = layer, .index = opening});
}

static void name_hole_contact(struct build *build, struct draft *draft, uint32_t index)
{
    const struct hole *hole = &build->board->holes[index].hole;
    name_pin(draft, hole->ref, hole->pin, NULL);
    name_net(draft, hole->net, hole->at, CONTACT_ATTRIBUTE);
    for (size_t l = 0; l < build->board->layer_count; l++) {
        uint32_t p = build->notes[index].pads[l];
        if (p == ISTHMUS_NONE)
            continue;
        name_pin(draft, build->pads[p].ref, build->pads[p].pin, build->pads[p].function);
        name_net(draft, build->pads[p].net, build->pads[p].net_at, CONTACT_ATTRIBUTE);
    }
    if (build->notes[index].netlist_point != SIZE_MAX)
        name_from_point(build, draft, build->notes[index].netlist_point);
}

static bool is_pin(const struct contact *contact, const char *ref, const char *pin)
{
    return contact->ref && strcmp(contact->ref, ref) == 0 && contact->pin && pin &&
           strcmp(contact->pin, pin) == 0;
}

/* Further pads about the hole of a contact (a painted pad is a region with strokes round it) are
 * parts of it, unless they name another pin. */
static bool take_pads_about(struct build *build, uint32_t index, uint32_t number)
{
    const struct hole *hole = &build->board->holes[index].hole;
    uint64_t cursor = 0;
    uint32_t p;
    while ((p = grid_next(build->pad_grid, hole_middle(hole), PAD_CENTRE_NM, &cursor)) !=
           ISTHMUS_NONE) {
        struct pad *pad = &build->pads[p];
        const struct contact *contact = &build->drafts[number].contact;
        bool is_other_pin = pad->ref && !is_pin(contact, pad->ref, pad->pin);
        if (pad->answer != ANSWER_YES || pad->hole != ISTHMUS_NONE || is_other_pin ||
            pad->draft != ISTHMUS_NONE || pad_rank(build, pad, hole) != 0)
            continue;
        pad->draft = number;
        if (!mark_pad(build, &build->drafts[number], p))
            return false;
    }
    return true;
}

/* Holes whose walls meet are one contact: later ones of a group add their marks to the first. */
static bool contact_of_hole(struct build *build, uint32_t index, bool is_doubtful)
{
    struct board_hole *hole = &build->board->holes[index];
    uint32_t group = build->notes[index].group;
    uint32_t number = build->board->holes[group].contact;
    struct draft *draft = number != ISTHMUS_NONE ? &build->drafts[number] : NULL;
    if (!draft) {
        draft = build_new_draft(build, &number);
        if (!draft)
            return false;
        draft->contact.source = build->notes[index].source;
        draft->contact.place = hole_middle(&hole->hole);
        draft->contact.hole = index;
        draft->contact.layer_from = hole->layer_from;
        draft->contact.layer_to = hole->layer_to;
        draft->contact.at = hole->hole.at;
        draft->is_doubtful = is_doubtful;
        build->board->holes[group].contact = number;
    }
    hole->contact = number;
    draft->is_doubtful &= is_doubtful;
    name_hole_contact(build, draft, index);
    for (uint16_t l = hole->layer_from; l <= hole->layer_to; l++)
        if (!mark_hole_layer(build, draft, index, l))
            return false;
    return take_pads_about(build, index, number);
}

/* An opening round a hole is explained by it, contact or not. */
static void use_openings(struct build *build, uint32_t index)
{
    struct pos_nm at = hole_middle(&build->board->holes[index].hole);
    for (int s = 0; s < 2; s++) {
        uint16_t layer = s ? (uint16_t)build->board->layer_count : 1;
        if (is_open_round(build, index, layer))
            build->openings[build_mask_opening(build, layer, at)].is_used = true;
    }
}

static enum board_status hole_contacts(struct build *build)
{
    for (uint32_t h = 0; h < build->board->hole_count; h++) {
        bool is_doubtful;
        if (!build->board->holes[h].is_plated)
            continue;
        judge_hole(build, h, &is_doubtful);
        use_openings(build, h);
        if (build->notes[h].answer == ANSWER_YES && !contact_of_hole(build, h, is_doubtful))
            return BOARD_NO_MEMORY;
    }
    return BOARD_OK;
}

/* ---- netlist points ---- */

/* A surface point lies on one of the two outer layers, however the inner ones are counted. */
static uint16_t point_layer(const struct build *build, const struct netlist_point *point)
{
    return point->access <= 1 ? 1 : (uint16_t)build->board->layer_count;
}

/* The pad that holds the point; the nearest centre wins. With contacts: only pads that are. */
static uint32_t pad_under(const struct build *build, uint16_t layer, struct pos_nm at,
                          bool is_contact)
{
    uint64_t cursor = 0;
    uint32_t p, best = ISTHMUS_NONE;
    double nearest = INFINITY;
    while ((p = grid_next(build->pad_grid, at, build->pad_reach_nm, &cursor)) != ISTHMUS_NONE) {
        const struct pad *pad = &build->pads[p];
        double away = distance_nm(pad->centre, at);
        if (is_contact && pad->draft == ISTHMUS_NONE)
            continue;
        if (pad->layer == layer && box_holds(pad->box, at) && away < nearest) {
            nearest = away;
            best = p;
        }
    }
    return best;
}

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
    name_from_point(build, draft, index);
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
    if (point->is_via || !point->ref || named->hole != ISTHMUS_NONE)
        return true;
    uint16_t layer = point_layer(build, point);
    uint32_t p = pad_under(build, layer, named->at, false);
    if (p == ISTHMUS_NONE)
        return contact_of_point(build, index, layer);
    struct pad *pad = &build->pads[p];
    const struct contact *known =
        pad->draft == ISTHMUS_NONE ? NULL : &build->drafts[pad->draft].contact;
    bool is_another = known && known->ref && !pad->ref && !is_pin(known, point->ref, point->pin);
    if (!known || is_another) {
        if (pad->source == CONTACT_ATTRIBUTE && pad->answer == ANSWER_NO)
            return true;
        if (!contact_of_pad(build, p, CONTACT_NETLIST))
            return false;
    }
    named->draft = pad->draft;
    name_from_point(build, &build->drafts[pad->draft], index);
    return true;
}

static enum board_status point_contacts(struct build *build)
{
    for (size_t i = 0; i < build->point_count; i++)
        if (!take_surface_point(build, i))
            return BOARD_NO_MEMORY;
    return BOARD_OK;
}

/* ---- openings that are pads of their own ---- */

static enum board_status opening_contacts(struct build *build)
{
    for (uint32_t i = 0; i < build->opening_count; i++) {
        struct opening *opening = &build->openings[i];
        bool is_compact = opening->length_mm <= MOST_ASPECT * opening->width_mm &&
                          opening->area_mm2 >= LEAST_FILL * opening->length_mm * opening->width_mm;
        if (opening->is_used || opening->pad_count || opening->hole_count || !is_compact)
            continue;
        uint32_t number;
        struct draft *draft = build_new_draft(build, &number);
        if (!draft)
            return BOARD_NO_MEMORY;
        opening->is_used = true;
        draft->contact.source = CONTACT_MASK;
        draft->contact.place = opening->place;
        draft->contact.layer_from = draft->contact.layer_to = opening->layer;
        draft->contact.at = (struct source_pos){build->masks[opening->layer != 1].file_id, 0, 0};
        if (!draft_add_mark(
                build, draft,
                (struct mark){.kind = MARK_OPENING, .layer = opening->layer, .index = i}))
            return BOARD_NO_MEMORY;
    }
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

static uint32_t pad_for_row(const struct build *build, uint16_t layer, struct pos_nm at,
                            bool is_contact)
{
    if (layer)
        return pad_under(build, layer, at, is_contact);
    uint32_t top = pad_under(build, 1, at, is_contact);
    return top != ISTHMUS_NONE
               ? top
               : pad_under(build, (uint16_t)build->board->layer_count, at, is_contact);
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
    /* A pad that is a contact comes before the via in it, that before a pad that is none. */
    uint32_t pad = pad_for_row(build, layer, row->place, true);
    if (pad != ISTHMUS_NONE)
        return row_to_pad(build, pad, draft);
    uint32_t hole = build_plated_hole_at(build, row->place, layer);
    if (hole != ISTHMUS_NONE)
        return row_to_hole(build, hole, draft);
    pad = pad_for_row(build, layer, row->place, false);
    if (pad != ISTHMUS_NONE)
        return row_to_pad(build, pad, draft);
    *draft = draft_of_opening(build, layer, row->place);
    return *draft != ISTHMUS_NONE || row_to_disc(build, row, draft);
}

static enum board_status row_contacts(struct build *build)
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

enum board_status build_contacts(struct build *build)
{
    enum board_status status = hole_contacts(build);
    if (status == BOARD_OK)
        status = pad_contacts(build);
    if (status == BOARD_OK)
        status = point_contacts(build);
    if (status == BOARD_OK)
        status = opening_contacts(build);
    return status == BOARD_OK ? row_contacts(build) : status;
}
