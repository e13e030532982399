/* Drilled and routed holes of all files: where each came from, plated or not, how far it reaches.
 */
#include "build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RING_POINTS 12
#define RING_BEYOND_NM 40000
#define SAME_PLACE_NM 5000

struct pos_nm hole_middle(const struct hole *hole)
{
    return (struct pos_nm){hole->from.x_nm + (hole->to.x_nm - hole->from.x_nm) / 2,
                           hole->from.y_nm + (hole->to.y_nm - hole->from.y_nm) / 2};
}

static bool is_slot(const struct hole *hole)
{
    return hole->from.x_nm != hole->to.x_nm || hole->from.y_nm != hole->to.y_nm;
}

/* ---- gathering ---- */

static const struct file_role *role_of(const struct board *board, uint32_t file_id)
{
    for (size_t i = 0; i < board->role_count; i++)
        if (board->roles[i].file_id == file_id)
            return &board->roles[i];
    return NULL;
}

/* Attribute of the hole or its tool, then of the file, then the file's name; else still unknown. */
static void stated_plating(const struct hole_list *list, const struct file_role *role,
                           struct board_hole *hole)
{
    enum plating plating = hole->hole.plating;
    hole->why_plated = "attribute or tool comment";
    if (plating == PLATING_UNKNOWN) {
        plating = list->plating;
        hole->why_plated = "stated for the whole file";
    }
    if (plating == PLATING_UNKNOWN && role && role->role != ROLE_DRILL_MIXED) {
        plating = role->role == ROLE_DRILL_PLATED ? PLATING_PLATED : PLATING_NONE;
        hole->why_plated = role->why;
    }
    hole->hole.plating = plating;
    hole->is_plated = plating == PLATING_PLATED;
}

static void stated_span(const struct hole_list *list, const struct file_role *role,
                        struct board_hole *hole)
{
    hole->layer_from = hole->hole.layer_from;
    hole->layer_to = hole->hole.layer_to;
    if (!hole->layer_from && list->layer_from) {
        hole->layer_from = list->layer_from;
        hole->layer_to = list->layer_to;
    }
    if (!hole->layer_from && role) {
        hole->layer_from = role->span_from;
        hole->layer_to = role->span_to;
    }
}

static enum board_status resolve_span(struct build *build, struct board_hole *hole)
{
    uint16_t count = (uint16_t)build->board->layer_count;
    if (!hole->layer_from || !hole->layer_to) {
        hole->layer_from = 1;
        hole->layer_to = count;
    }
    if (hole->layer_from > hole->layer_to) {
        uint16_t swap = hole->layer_from;
        hole->layer_from = hole->layer_to;
        hole->layer_to = swap;
    }
    if (hole->layer_to <= count)
        return BOARD_OK;
    diag_add(build->diags, DIAG_ERROR, "hole-span", hole->hole.at,
             "check that every copper layer is in the package",
             "holes from copper layer %u to %u, but the package has %u copper layers",
             hole->layer_from, hole->layer_to, count);
    return BOARD_REFUSED;
}

static bool is_same_hole(const struct board_hole *a, const struct board_hole *b)
{
    bool is_same_way = distance_nm(a->hole.from, b->hole.from) <= SAME_PLACE_NM &&
                       distance_nm(a->hole.to, b->hole.to) <= SAME_PLACE_NM;
    bool is_other_way = distance_nm(a->hole.from, b->hole.to) <= SAME_PLACE_NM &&
                        distance_nm(a->hole.to, b->hole.from) <= SAME_PLACE_NM;
    return (is_same_way || is_other_way) && a->layer_from == b->layer_from &&
           a->layer_to == b->layer_to;
}

/* The larger of two holes at one place is what is left; one that is plated by its statement and one
 * that is not contradict each other. */
static void merge_hole(struct build *build, struct board_hole *kept, const struct board_hole *more)
{
    bool is_contradiction = kept->hole.plating != more->hole.plating &&
                            kept->hole.plating != PLATING_UNKNOWN &&
                            more->hole.plating != PLATING_UNKNOWN;
    diag_add(build->diags, is_contradiction ? DIAG_WARNING : DIAG_NOTE,
             is_contradiction ? "hole-plating-twice" : "hole-twice", more->hole.at, NULL,
             "a hole at %.4f, %.4f mm is drilled twice (%.3f and %.3f mm)%s",
             (double)more->hole.from.x_nm / 1e6, (double)more->hole.from.y_nm / 1e6,
             (double)kept->hole.diameter_nm / 1e6, (double)more->hole.diameter_nm / 1e6,
             is_contradiction ? ", once plated and once not: taken as not plated" : "");
    if (more->hole.diameter_nm > kept->hole.diameter_nm)
        kept->hole.diameter_nm = more->hole.diameter_nm;
    if (is_contradiction || kept->hole.plating == PLATING_UNKNOWN) {
        kept->hole.plating = is_contradiction ? PLATING_NONE : more->hole.plating;
        kept->is_plated = kept->hole.plating == PLATING_PLATED;
        kept->why_plated = is_contradiction ? "drilled twice, once not plated" : more->why_plated;
    }
    if (!kept->hole.function)
        kept->hole.function = more->hole.function;
    if (!kept->hole.net)
        kept->hole.net = more->hole.net;
}

static uint32_t find_same(const struct build *build, const struct board_hole *hole)
{
    uint64_t cursor = 0;
    uint32_t other;
    struct pos_nm at = hole_middle(&hole->hole);
    while ((other = grid_next(build->hole_grid, at, SAME_PLACE_NM, &cursor)) != ISTHMUS_NONE)
        if (is_same_hole(&build->board->holes[other], hole))
            return other;
    return ISTHMUS_NONE;
}

static enum board_status add_hole(struct build *build, const struct hole_list *list,
                                  const struct hole *read)
{
    struct board *board = build->board;
    const struct file_role *role = role_of(board, list->file_id);
    struct board_hole hole = {.hole = *read, .contact = ISTHMUS_NONE, .conductor = ISTHMUS_NONE};
    stated_plating(list, role, &hole);
    stated_span(list, role, &hole);
    enum board_status status = resolve_span(build, &hole);
    if (status != BOARD_OK)
        return status;
    uint32_t same = find_same(build, &hole);
    if (same != ISTHMUS_NONE) {
        merge_hole(build, &board->holes[same], &hole);
        return BOARD_OK;
    }
    if (!grid_add(build->hole_grid, hole_middle(read), (uint32_t)board->hole_count))
        return BOARD_NO_MEMORY;
    board->holes[board->hole_count++] = hole;
    return BOARD_OK;
}

enum board_status build_holes(struct build *build)
{
    struct board *board = build->board;
    size_t total = 0;
    struct box extent = BOX_EMPTY;
    for (size_t l = 0; l < board->hole_list_count; l++) {
        total += board->hole_lists[l].hole_count;
        for (size_t i = 0; i < board->hole_lists[l].hole_count; i++)
            box_add(&extent, hole_middle(&board->hole_lists[l].holes[i]));
    }
    board->holes = arena_alloc(build->arena, total + 1, sizeof *board->holes);
    build->hole_grid = grid_new(extent, total);
    if (!board->holes || !build->hole_grid)
        return BOARD_NO_MEMORY;
    enum board_status status = BOARD_OK;
    for (size_t l = 0; l < board->hole_list_count; l++)
        for (size_t i = 0; i < board->hole_lists[l].hole_count && status == BOARD_OK; i++)
            status = add_hole(build, &board->hole_lists[l], &board->hole_lists[l].holes[i]);
    return status;
}

/* ---- plated or not, by the copper round the hole ---- */

/* How many points just beyond the rim are copper as drawn. */
static int ring_copper(struct cover *cover, const struct hole *hole)
{
    int count = 0;
    double reach = (double)hole->diameter_nm / 2 + RING_BEYOND_NM;
    struct pos_nm middle = hole_middle(hole);
    double half_x = (double)(hole->to.x_nm - hole->from.x_nm) / 2;
    double half_y = (double)(hole->to.y_nm - hole->from.y_nm) / 2;
    for (int i = 0; i < RING_POINTS; i++) {
        double angle = 2 * M_PI * i / RING_POINTS;
        double side = half_x * cos(angle) + half_y * sin(angle) < 0 ? -1 : 1;
        struct pos_nm at = {middle.x_nm + llround(side * half_x + reach * cos(angle)),
                            middle.y_nm + llround(side * half_y + reach * sin(angle))};
        count += cover_is_dark(cover, at);
    }
    return count;
}

static bool has_ring(struct build *build, const struct board_hole *hole, uint16_t layer,
                     bool *has_memory)
{
    struct cover *cover = build_cover(build, layer);
    *has_memory &= cover != NULL;
    if (!cover)
        return false;
    int count = ring_copper(cover, &hole->hole);
    if (build->board->layers[layer - 1].is_negative)
        count = RING_POINTS - count;
    return count * 4 >= RING_POINTS * 3;
}

static bool plating_by_pads(struct build *build, struct board_hole *hole)
{
    bool has_memory = true;
    bool is_first = has_ring(build, hole, hole->layer_from, &has_memory);
    bool is_last = has_ring(build, hole, hole->layer_to, &has_memory);
    hole->is_plated = hole->layer_to > hole->layer_from && is_first && is_last;
    hole->why_plated = hole->is_plated ? "copper all round it on both sides"
                       : is_first || is_last
                           ? "copper round it on one side only: taken as not plated"
                           : "no copper round it";
    return has_memory;
}

/* ---- sizes and walls ---- */

double hole_wall_mm2(const struct board_facts *facts, const struct hole *hole, bool is_filled)
{
    double t = facts->wall_um.value / 1000, d = (double)hole->diameter_nm / 1e6;
    double straight = distance_nm(hole->from, hole->to) / 1e6;
    if (is_filled || d <= 2 * t)
        return M_PI * d * d / 4 + d * straight;
    return (M_PI * (d - t) + 2 * straight) * t;
}

/* Share of the rim that lies inside the profile. */
static double part_inside(const struct build *build, const struct hole *hole)
{
    enum { STEPS = 720 };
    int inside = 0;
    double radius = (double)hole->diameter_nm / 2;
    for (int i = 0; i < STEPS; i++) {
        double angle = 2 * M_PI * i / STEPS;
        const struct pos_nm *end = i < STEPS / 2 ? &hole->from : &hole->to;
        inside += profile_holds(&build->profile,
                                (struct pos_nm){end->x_nm + llround(radius * cos(angle)),
                                                end->y_nm + llround(radius * sin(angle))});
    }
    return (double)inside / STEPS;
}

static void measure_hole(struct build *build, struct board_hole *hole)
{
    const struct board_facts *facts = &build->board->facts;
    int64_t wall_nm = llround(facts->wall_um.value * 1000), tool_nm = hole->hole.diameter_nm;
    bool is_drilled_size = facts->is_tool_drilled || !hole->is_plated;
    hole->cut_nm = is_drilled_size ? tool_nm : tool_nm + 2 * wall_nm;
    hole->finished_nm = hole->is_plated && facts->is_tool_drilled ? tool_nm - 2 * wall_nm : tool_nm;
    if (hole->finished_nm < 0)
        hole->finished_nm = 0;
    hole->wall_mm2 = hole->is_plated ? hole_wall_mm2(facts, &hole->hole, false) : 0;
    if (!build->profile.is_chosen)
        return;
    double reach = (double)tool_nm / 2;
    double from = profile_edge_distance_nm(&build->profile, hole->hole.from, reach);
    double to = is_slot(&hole->hole)
                    ? profile_edge_distance_nm(&build->profile, hole->hole.to, reach)
                    : from;
    hole->is_on_profile = fmin(from, to) < reach;
    if (hole->is_on_profile)
        hole->wall_mm2 *= part_inside(build, &hole->hole);
}

/* ---- holes that meet ---- */

static uint32_t group_root(struct hole_note *notes, uint32_t hole)
{
    while (notes[hole].group != hole) {
        notes[hole].group = notes[notes[hole].group].group;
        hole = notes[hole].group;
    }
    return hole;
}

static void unite_holes(struct hole_note *notes, uint32_t a, uint32_t b)
{
    uint32_t root_a = group_root(notes, a), root_b = group_root(notes, b);
    if (root_a < root_b)
        notes[root_b].group = root_a;
    else
        notes[root_a].group = root_b;
}

static double gap_nm(const struct board_hole *a, const struct board_hole *b)
{
    double best = slot_distance_nm(a->hole.from, a->hole.to, b->hole.from);
    best = fmin(best, slot_distance_nm(a->hole.from, a->hole.to, b->hole.to));
    best = fmin(best, slot_distance_nm(b->hole.from, b->hole.to, a->hole.from));
    best = fmin(best, slot_distance_nm(b->hole.from, b->hole.to, a->hole.to));
    return best - (double)(a->cut_nm + b->cut_nm) / 2;
}

/* Plated holes that run into each other are plated as one: slots of many hits, routed paths. */
static void group_holes(struct build *build)
{
    struct board *board = build->board;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        struct board_hole *hole = &board->holes[h];
        if (!hole->is_plated)
            continue;
        int64_t reach = build->hole_reach_nm +
                        (int64_t)distance_nm(hole->hole.from, hole->hole.to) / 2 + hole->cut_nm / 2;
        uint64_t cursor = 0;
        uint32_t other;
        while ((other = grid_next(build->hole_grid, hole_middle(&hole->hole), reach, &cursor)) !=
               ISTHMUS_NONE)
            if (other > h && board->holes[other].is_plated &&
                gap_nm(hole, &board->holes[other]) < 0)
                unite_holes(build->notes, h, other);
    }
    for (uint32_t h = 0; h < board->hole_count; h++)
        build->notes[h].group = group_root(build->notes, h);
}

/* Middle and length of each group, as if it were one slot. */
static enum board_status measure_groups(struct build *build)
{
    const struct board *board = build->board;
    struct box *boxes = arena_alloc(build->scratch, board->hole_count + 1, sizeof *boxes);
    if (!boxes)
        return BOARD_NO_MEMORY;
    for (uint32_t h = 0; h < board->hole_count; h++)
        boxes[h] = BOX_EMPTY;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        box_add(&boxes[build->notes[h].group], board->holes[h].hole.from);
        box_add(&boxes[build->notes[h].group], board->holes[h].hole.to);
    }
    for (uint32_t h = 0; h < board->hole_count; h++) {
        struct box box = boxes[build->notes[h].group];
        build->notes[h].middle = box_centre(box);
        build->notes[h].length_nm = (int64_t)distance_nm(box.min, box.max);
    }
    return BOARD_OK;
}

/* ---- walls of holes that run into each other ---- */

#define RIM_STEPS 256

/* Point `step` of RIM_STEPS on the way round a hole as drilled, evenly by length. */
static struct pos_nm rim_point(const struct board_hole *drilled, int step)
{
    const struct hole *hole = &drilled->hole;
    double radius = (double)drilled->cut_nm / 2, length = distance_nm(hole->from, hole->to);
    double x = length > 0 ? (double)(hole->to.x_nm - hole->from.x_nm) / length : 1;
    double y = length > 0 ? (double)(hole->to.y_nm - hole->from.y_nm) / length : 0;
    double half = M_PI * radius + length, at = 2 * half * (step + 0.5) / RIM_STEPS;
    bool is_way_back = at >= half;
    if (is_way_back)
        at -= half;
    const struct pos_nm *start = is_way_back ? &hole->to : &hole->from;
    double sign = is_way_back ? -1 : 1, along = fmin(at, length);
    double angle = at > length ? (at - length) / radius : 0;
    double out = sign * radius * cos(angle), ahead = sign * (along + radius * sin(angle));
    return (struct pos_nm){start->x_nm + llround(ahead * x + out * y),
                           start->y_nm + llround(ahead * y - out * x)};
}

#define SAME_RIM_NM 10

/* Is the place within a plated hole of the same group, other than h itself? A rim that two share
 * (the round ends of two slots about one point) is that of the first. */
static bool is_within_group(const struct build *build, uint32_t h, int64_t reach_nm,
                            struct pos_nm at)
{
    uint64_t cursor = 0;
    uint32_t other;
    while ((other = grid_next(build->hole_grid, at, reach_nm, &cursor)) != ISTHMUS_NONE) {
        const struct board_hole *hole = &build->board->holes[other];
        if (other == h || build->notes[other].group != build->notes[h].group)
            continue;
        double beyond =
            slot_distance_nm(hole->hole.from, hole->hole.to, at) - (double)hole->cut_nm / 2;
        if (beyond < -SAME_RIM_NM || (beyond < SAME_RIM_NM && other < h))
            return true;
    }
    return false;
}

static double wall_left(const struct build *build, uint32_t h, int64_t reach_nm)
{
    int left = 0;
    for (int i = 0; i < RIM_STEPS; i++) {
        struct pos_nm at = rim_point(&build->board->holes[h], i);
        left += !is_within_group(build, h, reach_nm, at) &&
                !core_holds(build, build->notes[h].group, at);
    }
    return (double)left / RIM_STEPS;
}

/* Where one hole cuts into another there is no wall left: a slot drilled as a row of hits has the
 * wall of the slot, not that of each hit; and what falls out takes its side of the wall with it. */
static enum board_status share_walls(struct build *build)
{
    struct board *board = build->board;
    uint32_t *member_count = arena_alloc(build->scratch, board->hole_count + 1, sizeof(uint32_t));
    if (!member_count)
        return BOARD_NO_MEMORY;
    for (uint32_t h = 0; h < board->hole_count; h++)
        member_count[build->notes[h].group]++;
    for (uint32_t h = 0; h < board->hole_count; h++)
        if (board->holes[h].is_plated && member_count[build->notes[h].group] > 1)
            board->holes[h].wall_mm2 *= wall_left(build, h, build->hole_reach_nm);
    return BOARD_OK;
}

static enum board_status make_notes(struct build *build)
{
    struct board *board = build->board;
    build->notes = arena_alloc(build->scratch, board->hole_count + 1, sizeof *build->notes);
    if (!build->notes)
        return BOARD_NO_MEMORY;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        struct hole_note *note = &build->notes[h];
        *note = (struct hole_note){.netlist_point = SIZE_MAX, .group = h};
        note->pads = arena_alloc(build->scratch, board->layer_count, sizeof *note->pads);
        if (!note->pads)
            return BOARD_NO_MEMORY;
        for (size_t l = 0; l < board->layer_count; l++)
            note->pads[l] = ISTHMUS_NONE;
    }
    return BOARD_OK;
}

enum board_status build_finish_holes(struct build *build)
{
    struct board *board = build->board;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        struct board_hole *hole = &board->holes[h];
        if (hole->hole.plating == PLATING_UNKNOWN && !plating_by_pads(build, hole))
            return BOARD_NO_MEMORY;
        measure_hole(build, hole);
        int64_t reach = hole->cut_nm / 2 + (int64_t)distance_nm(hole->hole.from, hole->hole.to) / 2;
        if (reach > build->hole_reach_nm)
            build->hole_reach_nm = reach;
    }
    enum board_status status = make_notes(build);
    if (status != BOARD_OK)
        return status;
    group_holes(build);
    status = measure_groups(build);
    if (status == BOARD_OK)
        status = build_cores(build);
    return status == BOARD_OK ? share_walls(build) : status;
}
