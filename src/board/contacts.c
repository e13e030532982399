/*
 * Contacts: which pads and holes are places where current enters or leaves.
 *
 * Each pad and each plated hole is asked of the best source that speaks: its attributes, the
 * netlist, the mask openings, and last what it is. Holes are in contact_holes.c; here are pads and
 * openings; netlist points and rows of the table, which speak of either, in contact_points.c.
 */
#include "contacts.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#define NETLIST_REF_LENGTH 6 /* IPC-D-356: columns 21 to 26 */

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

void draft_name_net(struct draft *draft, const char *net, struct source_pos at,
                    enum contact_source source)
{
    if (draft->net || !net)
        return;
    draft->net = net;
    draft->net_at = at;
    draft->net_source = source;
}

/* References of netlists are cut to six columns and often raised. */
static bool is_same_ref(const char *known, const char *written)
{
    return strcasecmp(known, written) == 0 ||
           (strlen(written) == NETLIST_REF_LENGTH &&
            strncasecmp(known, written, NETLIST_REF_LENGTH) == 0);
}

void draft_name_pin(struct draft *draft, const char *ref, const char *pin, const char *function)
{
    struct contact *contact = &draft->contact;
    if (!ref || contact->pin || (contact->ref && (!pin || !is_same_ref(contact->ref, ref))))
        return;
    if (!contact->ref)
        contact->ref = ref;
    contact->pin = pin;
    contact->function = function;
}

void draft_name_from_point(struct build *build, struct draft *draft, size_t index)
{
    const struct netlist_point *point = build->points[index].point;
    draft_name_pin(draft, point->ref, point->pin, NULL);
    draft_name_net(draft, point->net, point->at, CONTACT_NETLIST);
}

/* ---- pads ---- */

static struct source_pos pad_at(const struct build *build, const struct pad *pad)
{
    return build->board->layers[pad->layer - 1].drawing->objects[pad->object].at;
}

bool mark_pad(struct build *build, struct draft *draft, uint32_t index)
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

bool contact_of_pad(struct build *build, uint32_t index, enum contact_source source)
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
    draft_name_pin(draft, pad->ref, pad->pin, pad->function);
    draft_name_net(draft, pad->net, pad->net_at, CONTACT_ATTRIBUTE);
    pad->draft = number;
    return mark_pad(build, draft, index);
}

static bool are_pins_alike(const struct pad *a, const struct pad *b)
{
    return !a->ref || !b->ref ||
           (strcmp(a->ref, b->ref) == 0 && (!a->pin || !b->pin || strcmp(a->pin, b->pin) == 0));
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
        if (p < index && other->layer == pad->layer && is_same_box && are_pins_alike(pad, other) &&
            other->draft != ISTHMUS_NONE)
            return p;
    }
    return ISTHMUS_NONE;
}

static bool is_surface_contact(const struct build *build, const struct pad *pad)
{
    return pad->answer == ANSWER_YES && pad->hole == ISTHMUS_NONE &&
           (pad->layer == 1 || pad->layer == build->board->layer_count);
}

static bool lies_within(const struct pad *pad, const struct pad *around)
{
    return box_holds(around->box, pad->box.min) && box_holds(around->box, pad->box.max) &&
           memcmp(&around->box, &pad->box, sizeof pad->box) != 0;
}

/* Is the pad's middle on the other's own copper? Boxes of bent pads and of rings reach over pads
 * that they do not touch, and what a clear object parts is not one pad. */
static bool lies_on(struct build *build, const struct pad *pad, const struct pad *around)
{
    uint32_t objects[32];
    struct cover *cover = build_cover(build, pad->layer);
    const struct drawing *drawing = build->board->layers[pad->layer - 1].drawing;
    size_t count = cover ? cover_find(cover, pad->centre, objects, 32) : 0, i = 0;
    while (i < count && objects[i] != around->object)
        i++;
    bool is_on = i < count;
    for (; i < count; i++)
        is_on &= drawing->objects[objects[i]].is_dark;
    return is_on;
}

/* A larger contact that a pad lies within, both in one mask opening: a piece of a pour under a pad,
 * a flash under a pad's own area. They are one pad; both would be two terminals at one place. */
static uint32_t larger_pad_of(struct build *build, uint32_t index)
{
    const struct pad *pad = &build->pads[index];
    if (pad->opening == ISTHMUS_NONE || build->openings[pad->opening].pad_count < 2)
        return ISTHMUS_NONE;
    struct pos_nm size = box_size(pad->box);
    int64_t reach = build->pad_reach_nm + (size.x_nm > size.y_nm ? size.x_nm : size.y_nm);
    uint64_t cursor = 0;
    uint32_t p;
    while ((p = grid_next(build->pad_grid, pad->centre, reach, &cursor)) != ISTHMUS_NONE) {
        const struct pad *other = &build->pads[p];
        if (other->layer == pad->layer && other->opening == pad->opening &&
            is_surface_contact(build, other) && lies_within(pad, other) &&
            are_pins_alike(pad, other) && lies_on(build, pad, other))
            return p;
    }
    return ISTHMUS_NONE;
}

/* Those that lie within another come to its contact once all have theirs. */
static void join_inner_pads(struct build *build)
{
    for (uint32_t p = 0; p < build->pad_count; p++) {
        uint32_t larger = p;
        if (build->pads[p].draft != ISTHMUS_NONE || !is_surface_contact(build, &build->pads[p]))
            continue;
        while (larger != ISTHMUS_NONE && build->pads[larger].draft == ISTHMUS_NONE)
            larger = larger_pad_of(build, larger);
        if (larger == ISTHMUS_NONE)
            continue;
        struct pad *pad = &build->pads[p];
        pad->draft = build->pads[larger].draft;
        draft_name_pin(&build->drafts[pad->draft], pad->ref, pad->pin, pad->function);
        draft_name_net(&build->drafts[pad->draft], pad->net, pad->net_at, CONTACT_ATTRIBUTE);
    }
}

static enum board_status pad_contacts(struct build *build)
{
    for (uint32_t p = 0; p < build->pad_count; p++) {
        struct pad *pad = &build->pads[p];
        if (!is_surface_contact(build, pad) || pad->draft != ISTHMUS_NONE ||
            larger_pad_of(build, p) != ISTHMUS_NONE)
            continue;
        uint32_t earlier = earlier_double(build, p);
        if (earlier != ISTHMUS_NONE) {
            pad->draft = build->pads[earlier].draft;
            draft_name_pin(&build->drafts[pad->draft], pad->ref, pad->pin, pad->function);
            draft_name_net(&build->drafts[pad->draft], pad->net, pad->net_at, CONTACT_ATTRIBUTE);
        } else if (!contact_of_pad(build, p, pad->source)) {
            return BOARD_NO_MEMORY;
        }
    }
    join_inner_pads(build);
    return BOARD_OK;
}

/* An area is a pad only where an attribute or a mask opening says so: a place within one means no
 * more of it than the place. */
bool pad_may_be_meant(const struct pad *pad)
{
    return pad->draft != ISTHMUS_NONE || pad->is_flash || pad->answer == ANSWER_YES;
}

/* The pad that holds the point; the nearest centre wins. With contacts: only pads that are. */
uint32_t pad_under(const struct build *build, uint16_t layer, struct pos_nm at, bool is_contact)
{
    uint64_t cursor = 0;
    uint32_t p, best = ISTHMUS_NONE;
    double nearest = INFINITY;
    while ((p = grid_next(build->pad_grid, at, build->pad_reach_nm, &cursor)) != ISTHMUS_NONE) {
        const struct pad *pad = &build->pads[p];
        double away = distance_nm(pad->centre, at);
        if (pad->draft == ISTHMUS_NONE && (is_contact || !pad_may_be_meant(pad)))
            continue;
        if (pad->layer == layer && box_holds(pad->box, at) && away < nearest) {
            nearest = away;
            best = p;
        }
    }
    return best;
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
