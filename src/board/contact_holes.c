/*
 * Which plated holes are contacts. A hole of which only its size and copper speak stays doubtful
 * until the meshes say whether it joins copper beyond its own pads on two layers.
 */
#include "contacts.h"

#include <math.h>
#include <string.h>

/* No lead of a part fits into a hole this small (common practice, no source). */
#define SMALL_HOLE_NM 500000

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

/* A slot, also one of many hits, takes a flat lead. */
static bool is_small(const struct build *build, uint32_t index)
{
    return build->board->holes[index].finished_nm <= SMALL_HOLE_NM &&
           build->notes[index].length_nm <= SMALL_HOLE_NM;
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
    if (build->openings[opening].is_of_surface_pad && is_small(build, index))
        return false; /* a via in a part's pad */
    if (own != ISTHMUS_NONE)
        return true;
    struct pos_nm size = box_size(box);
    int64_t longer = size.x_nm > size.y_nm ? size.x_nm : size.y_nm;
    int64_t limit = hole->diameter_nm * 7 / 2 + 2 * NM_PER_MM + build->notes[index].length_nm;
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
    if (is_small(build, index) && is_first_known && is_last_known &&
        is_first_open != is_last_open && free_one_side(build, index, is_first_open ? 1 : last))
        return ANSWER_NO;
    bool is_open_both = is_first_open && is_last_open;
    bool is_unknown = !is_first_known && !is_last_known;
    *is_doubtful = is_small(build, index) || !(is_open_both || is_unknown);
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
        if (build->pads[pad].draft == (uint32_t)(draft - build->drafts))
            return true; /* marked for an earlier hit of the same slot */
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
    draft_name_pin(draft, hole->ref, hole->pin, NULL);
    draft_name_net(draft, hole->net, hole->at, CONTACT_ATTRIBUTE);
    for (size_t l = 0; l < build->board->layer_count; l++) {
        uint32_t p = build->notes[index].pads[l];
        if (p == ISTHMUS_NONE)
            continue;
        draft_name_pin(draft, build->pads[p].ref, build->pads[p].pin, build->pads[p].function);
        draft_name_net(draft, build->pads[p].net, build->pads[p].net_at, CONTACT_ATTRIBUTE);
    }
    if (build->notes[index].netlist_point != SIZE_MAX)
        draft_name_from_point(build, draft, build->notes[index].netlist_point);
}

bool contact_is_pin(const struct contact *contact, const char *ref, const char *pin)
{
    return contact->ref && strcmp(contact->ref, ref) == 0 &&
           (!contact->pin || !pin || strcmp(contact->pin, pin) == 0);
}

/* Further pads about the hole of a contact (a painted pad is a region with strokes round it) are
 * parts of it, unless they name another pin. */
static bool take_pads_about(struct build *build, uint32_t index, uint32_t number)
{
    uint64_t cursor = 0;
    uint32_t p;
    while ((p = grid_next(build->pad_grid, build->notes[index].middle, PAD_CENTRE_NM, &cursor)) !=
           ISTHMUS_NONE) {
        struct pad *pad = &build->pads[p];
        const struct contact *contact = &build->drafts[number].contact;
        bool is_other_pin = pad->ref && !contact_is_pin(contact, pad->ref, pad->pin);
        if (pad->answer != ANSWER_YES || pad->hole != ISTHMUS_NONE || is_other_pin ||
            pad->draft != ISTHMUS_NONE || pad_rank(build, pad, index) != 0)
            continue;
        pad->draft = number;
        if (!mark_pad(build, &build->drafts[number], p))
            return false;
    }
    return true;
}

/* Holes whose walls meet are one contact: later ones of a group add their marks to the first. */
bool contact_of_hole(struct build *build, uint32_t index, bool is_doubtful)
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

/* Copper may make it a via, but nobody says that it is one, and a lead fits into it from a side
 * that no mask is known to cover. */
static bool may_take_lead(const struct build *build, uint32_t index)
{
    const struct board_hole *hole = &build->board->holes[index];
    enum contact_source source = build->notes[index].source;
    uint16_t last = (uint16_t)build->board->layer_count;
    bool is_said = source == CONTACT_ATTRIBUTE || source == CONTACT_NETLIST;
    bool is_through = hole->layer_from == 1 && hole->layer_to == last;
    if (is_said || !is_through || is_small(build, index))
        return false;
    struct pos_nm at = hole_middle(&hole->hole);
    return !build->masks[0].is_known || !build->masks[1].is_known ||
           build_mask_opening(build, 1, at) != ISTHMUS_NONE ||
           build_mask_opening(build, last, at) != ISTHMUS_NONE;
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

enum board_status hole_contacts(struct build *build)
{
    for (uint32_t h = 0; h < build->board->hole_count; h++) {
        bool is_doubtful;
        if (!build->board->holes[h].is_plated)
            continue;
        judge_hole(build, h, &is_doubtful);
        build->board->holes[h].may_take_lead = may_take_lead(build, h);
        use_openings(build, h);
        if (build->notes[h].answer == ANSWER_YES && !contact_of_hole(build, h, is_doubtful))
            return BOARD_NO_MEMORY;
    }
    return BOARD_OK;
}
