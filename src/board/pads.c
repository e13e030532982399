/*
 * Pads: the flashes and regions of the copper that may be contacts. For each one its hole, its mask
 * opening, and what its own attributes say of it.
 */
#include "build.h"

#include <string.h>

#define SAME_CENTRE_NM 20000 /* drills in thousandths of an inch lie up to 18 um off */
#define LEAST_RING_NM 20000
#define FIT_SLACK_NM 20000   /* an opening this much smaller still lets the whole pad free */
#define FIT_BEYOND_NM 300000 /* DESIGN: an opening fits a pad up to 0.3 mm beyond it all round */

/* ---- what attributes say ---- */

static enum answer answer_of_function(const char *function)
{
    static const char *const yes[] = {"ComponentPad", "SMDPad",         "BGAPad", "ConnectorPad",
                                      "HeatsinkPad",  "CastellatedPad", "TestPad"};
    static const char *const no[] = {
        "ViaPad",    "ThermalReliefPad", "FiducialPad",     "AntiPad", "WasherPad",
        "Conductor", "NonConductor",     "CopperBalancing", "Border",  "EtchedComponent"};
    for (size_t i = 0; function && i < sizeof yes / sizeof *yes; i++)
        if (strcmp(function, yes[i]) == 0)
            return ANSWER_YES;
    for (size_t i = 0; function && i < sizeof no / sizeof *no; i++)
        if (strcmp(function, no[i]) == 0)
            return ANSWER_NO;
    return ANSWER_OPEN;
}

static void read_attrs(const struct drawing *drawing, struct pad *pad)
{
    const struct object *object = &drawing->objects[pad->object];
    const struct object_attrs *attrs = &drawing->attrs[object->attrs];
    pad->answer = answer_of_function(attrs->aperture_function);
    pad->ref = attrs->ref ? attrs->ref : attrs->component;
    pad->pin = attrs->pin;
    pad->function = attrs->pin_function;
    if (attrs->ref && attrs->pin && pad->answer == ANSWER_OPEN)
        pad->answer = ANSWER_YES;
    pad->source = CONTACT_ATTRIBUTE;
    if (attrs->net_count == 1) {
        pad->net = attrs->nets[0];
        pad->net_at = object->at;
    }
}

/* ---- gathering ---- */

static bool is_outer(const struct build *build, uint16_t layer)
{
    return layer == 1 || layer == build->board->layer_count;
}

/* Strokes and regions are pads only where an attribute says so, regions also where a mask opening
 * fits them; on inner layers only what lies round a hole matters, and that is a flash. */
static bool may_be_pad(const struct build *build, uint16_t layer, const struct object *object,
                       enum answer answer)
{
    if (!object->is_dark || !object->fill_count)
        return false;
    if (object->kind == OBJECT_FLASH)
        return true;
    if (!is_outer(build, layer))
        return false;
    return object->kind == OBJECT_REGION ? answer != ANSWER_NO : answer == ANSWER_YES;
}

static bool add_pad(struct build *build, uint16_t layer, uint32_t index)
{
    const struct drawing *drawing = build->board->layers[layer - 1].drawing;
    const struct object *object = &drawing->objects[index];
    if (build->board->layers[layer - 1].is_negative)
        return true; /* what is drawn there is where the plane is not */
    struct pad pad = {.layer = layer,
                      .object = index,
                      .hole = ISTHMUS_NONE,
                      .opening = ISTHMUS_NONE,
                      .draft = ISTHMUS_NONE,
                      .is_flash = object->kind == OBJECT_FLASH};
    read_attrs(drawing, &pad);
    if (!may_be_pad(build, layer, object, pad.answer))
        return true;
    pad.box = object_box(drawing, index);
    if (box_is_empty(pad.box))
        return true;
    pad.centre = pad.is_flash ? object->from : box_centre(pad.box);
    struct pos_nm size = box_size(pad.box);
    int64_t reach = (size.x_nm > size.y_nm ? size.x_nm : size.y_nm);
    if (pad.is_flash && reach > build->pad_reach_nm)
        build->pad_reach_nm = reach;
    if (build->pad_count >= ISTHMUS_NONE - 1 ||
        !array_grow(&build->pads, sizeof *build->pads, &build->pad_capacity,
                    build->pad_count + 1) ||
        !grid_add(build->pad_grid, pad.centre, (uint32_t)build->pad_count))
        return false;
    build->pads[build->pad_count++] = pad;
    return true;
}

/* ---- a hole's own pads ---- */

static int64_t pad_size_nm(const struct pad *pad)
{
    struct pos_nm size = box_size(pad->box);
    return size.x_nm > size.y_nm ? size.x_nm : size.y_nm;
}

/* A pad much larger than its hole is a surface pad with a via in it. */
static int64_t own_pad_limit_nm(const struct build *build, uint32_t index)
{
    return build->board->holes[index].hole.diameter_nm * 7 / 2 + NM_PER_MM +
           build->notes[index].length_nm;
}

int pad_rank(const struct build *build, const struct pad *pad, uint32_t index)
{
    const struct hole *hole = &build->board->holes[index].hole;
    int64_t size = pad_size_nm(pad);
    if (size > own_pad_limit_nm(build, index) || size < hole->diameter_nm + LEAST_RING_NM)
        return 3;
    double away = distance_nm(pad->centre, build->notes[index].middle);
    if (away <= PAD_CENTRE_NM)
        return away <= SAME_CENTRE_NM ? 0 : 1;
    int64_t radius = hole->diameter_nm / 2;
    struct box inner = {{pad->box.min.x_nm + radius, pad->box.min.y_nm + radius},
                        {pad->box.max.x_nm - radius, pad->box.max.y_nm - radius}};
    bool is_within = pad->is_flash && is_outer(build, pad->layer) && box_holds(inner, hole->from) &&
                     box_holds(inner, hole->to);
    return is_within ? 2 : 3;
}

/* Of two pads about one hole the smaller is the hole's: the larger may be a part's, with a via in
 * it. */
static bool is_better_pad(const struct build *build, const struct pad *pad, const struct pad *than,
                          uint32_t hole)
{
    int rank = pad_rank(build, pad, hole), other = pad_rank(build, than, hole);
    return rank != other ? rank < other : pad_size_nm(pad) < pad_size_nm(than);
}

static void find_own_pads(struct build *build, uint32_t index)
{
    struct board_hole *hole = &build->board->holes[index];
    uint32_t *own = build->notes[index].pads;
    struct pos_nm middle = build->notes[index].middle;
    int64_t reach = own_pad_limit_nm(build, index) / 2;
    uint64_t cursor = 0;
    uint32_t p;
    while ((p = grid_next(build->pad_grid, middle, reach, &cursor)) != ISTHMUS_NONE) {
        const struct pad *pad = &build->pads[p];
        uint32_t *best = &own[pad->layer - 1];
        if (pad->layer < hole->layer_from || pad->layer > hole->layer_to ||
            pad_rank(build, pad, index) == 3)
            continue;
        if (*best == ISTHMUS_NONE || is_better_pad(build, pad, &build->pads[*best], index))
            *best = p;
    }
}

/* A flash that several holes would call their own is nobody's: a surface pad full of vias. */
static void claim_own_pads(struct build *build)
{
    struct board *board = build->board;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        if (!board->holes[h].is_plated)
            continue;
        find_own_pads(build, h);
        for (size_t l = 0; l < board->layer_count; l++) {
            uint32_t p = build->notes[h].pads[l];
            if (p == ISTHMUS_NONE)
                continue;
            uint32_t before = build->pads[p].hole;
            bool is_shared =
                before != ISTHMUS_NONE && build->notes[before].group != build->notes[h].group;
            build->pads[p].hole = is_shared ? ISTHMUS_NONE : h;
            if (is_shared)
                build->notes[before].pads[l] = build->notes[h].pads[l] = ISTHMUS_NONE;
        }
    }
}

/* A pin says more than its part alone, that more than nothing. */
static void take_pin(struct pad *pad, const struct pad *from)
{
    if (!from->ref || pad->pin || (pad->ref && !from->pin))
        return;
    pad->ref = from->ref;
    pad->pin = from->pin;
    pad->function = from->function;
}

/* Other flashes at a hole's centre, no larger than its own pad there, are the same pad drawn again
 * or a mark for the drill. */
static void absorb_doubles(struct build *build, uint32_t index)
{
    struct pos_nm middle = build->notes[index].middle;
    uint64_t cursor = 0;
    uint32_t p;
    while ((p = grid_next(build->pad_grid, middle, PAD_CENTRE_NM, &cursor)) != ISTHMUS_NONE) {
        struct pad *pad = &build->pads[p];
        uint32_t own = build->notes[index].pads[pad->layer - 1];
        if (own == ISTHMUS_NONE || pad->hole != ISTHMUS_NONE ||
            pad_size_nm(pad) > pad_size_nm(&build->pads[own]))
            continue;
        pad->hole = index;
        if (build->pads[own].answer == ANSWER_OPEN)
            build->pads[own].answer = pad->answer;
        take_pin(&build->pads[own], pad);
    }
}

/* ---- mask openings ---- */

static int64_t beyond_nm(struct box opening, struct box pad)
{
    int64_t most = pad.min.x_nm - opening.min.x_nm;
    int64_t sides[3] = {pad.min.y_nm - opening.min.y_nm, opening.max.x_nm - pad.max.x_nm,
                        opening.max.y_nm - pad.max.y_nm};
    for (int i = 0; i < 3; i++)
        most = sides[i] > most ? sides[i] : most;
    return most;
}

static int64_t short_by_nm(struct box opening, struct box pad)
{
    int64_t most = opening.min.x_nm - pad.min.x_nm;
    int64_t sides[3] = {opening.min.y_nm - pad.min.y_nm, pad.max.x_nm - opening.max.x_nm,
                        pad.max.y_nm - opening.max.y_nm};
    for (int i = 0; i < 3; i++)
        most = sides[i] > most ? sides[i] : most;
    return most;
}

static bool mask_is_known(const struct build *build, uint16_t layer)
{
    return (layer == 1 && build->masks[0].is_known) ||
           (layer == build->board->layer_count && build->masks[1].is_known);
}

/* Pad against opening: does it fit, is the pad defined by the mask, or does it only lie within? */
static void judge_opening(struct build *build, struct pad *pad)
{
    struct opening *opening = &build->openings[pad->opening];
    bool fits = beyond_nm(opening->box, pad->box) <= FIT_BEYOND_NM;
    bool is_smaller = short_by_nm(opening->box, pad->box) > FIT_SLACK_NM;
    opening->pad_count++;
    if (fits && !is_smaller)
        opening->is_used = true;
    opening->is_of_surface_pad |= fits && !is_smaller && pad->hole == ISTHMUS_NONE &&
                                  (pad->is_flash || pad->answer == ANSWER_YES);
    if (pad->hole != ISTHMUS_NONE || pad->answer != ANSWER_OPEN)
        return;
    if (fits && !is_smaller) {
        pad->answer = ANSWER_YES;
        pad->source = CONTACT_MASK;
    } else if (!is_smaller && pad->is_flash) {
        /* One long opening over several pads, or a pad laid free with the copper about it. */
        pad->answer = ANSWER_YES;
        pad->source = CONTACT_FLASH;
    } else if (is_smaller && fits && pad->is_flash) {
        pad->answer = ANSWER_YES;
        pad->source = CONTACT_MASK;
        pad->is_mask_defined = opening->is_used = true;
    }
}

static void judge_pad(struct build *build, struct pad *pad)
{
    if (!is_outer(build, pad->layer))
        return;
    pad->opening = build_mask_opening(build, pad->layer, pad->centre);
    if (pad->opening != ISTHMUS_NONE) {
        judge_opening(build, pad);
        return;
    }
    if (pad->hole != ISTHMUS_NONE || pad->answer != ANSWER_OPEN)
        return;
    bool is_free = pad->is_flash && !mask_is_known(build, pad->layer);
    pad->answer = is_free ? ANSWER_YES : ANSWER_NO;
    pad->source = is_free ? CONTACT_FLASH : CONTACT_MASK;
}

static void count_hole(struct opening *opening, uint32_t group)
{
    if (opening->hole_count == 0)
        opening->hole_group = group;
    if (opening->hole_count == 0 || opening->hole_group != group)
        opening->hole_count++;
}

enum board_status build_pads(struct build *build)
{
    struct board *board = build->board;
    size_t object_count = 0;
    for (size_t l = 0; l < board->layer_count; l++)
        object_count += board->layers[l].drawing->object_count;
    build->pad_grid = grid_new(build->extent, object_count);
    if (!build->pad_grid)
        return BOARD_NO_MEMORY;
    for (size_t l = 0; l < board->layer_count; l++)
        for (uint32_t i = 0; i < board->layers[l].drawing->object_count; i++)
            if (!add_pad(build, board->layers[l].position, i))
                return BOARD_NO_MEMORY;
    claim_own_pads(build);
    for (uint32_t h = 0; h < board->hole_count; h++)
        if (board->holes[h].is_plated)
            absorb_doubles(build, h);
    for (size_t p = 0; p < build->pad_count; p++)
        judge_pad(build, &build->pads[p]);
    for (uint32_t h = 0; h < board->hole_count; h++)
        for (int s = 0; board->holes[h].is_plated && s < 2; s++) {
            uint16_t layer = s ? (uint16_t)board->layer_count : 1;
            uint32_t opening = build_mask_opening(build, layer, hole_middle(&board->holes[h].hole));
            if (opening != ISTHMUS_NONE)
                count_hole(&build->openings[opening], build->notes[h].group);
        }
    return BOARD_OK;
}
