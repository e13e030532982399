/*
 * Netlist points onto the drawing: a netlist may count from another origin, so the offset that puts
 * its points on the drilled holes and pads is found from the data.
 */
#include "contacts.h"

#include <math.h>
#include <stdlib.h>

#include "netlist_match.h"

#define MATCH_NM 20000     /* a point this near a hole's centre is on it */
#define SAME_SIDE_NM 10000 /* a stated pad's sides: rounded to 0.0001 in or 0.001 mm */

/* Holes meet holes of about their size, surface points meet pads. */
enum { KIND_HOLE, KIND_PAD };

static bool is_placed(const struct netlist_point *point)
{
    return point->kind != POINT_TOOLING;
}

static size_t collect_targets(const struct build *build, struct match_point *targets)
{
    const struct board *board = build->board;
    size_t count = 0;
    for (size_t h = 0; h < board->hole_count; h++)
        targets[count++] = (struct match_point){hole_middle(&board->holes[h].hole), KIND_HOLE,
                                                board->holes[h].hole.diameter_nm};
    for (size_t p = 0; p < build->pad_count; p++)
        if (build->pads[p].is_flash && build->pads[p].hole == ISTHMUS_NONE)
            targets[count++] = (struct match_point){build->pads[p].centre, KIND_PAD, 0};
    return count;
}

static size_t collect_points(const struct netlist *netlist, struct match_point *points)
{
    size_t count = 0;
    for (size_t i = 0; i < netlist->point_count; i++) {
        const struct netlist_point *point = &netlist->points[i];
        bool is_hole = point->kind == POINT_THROUGH_HOLE;
        if (is_placed(point))
            points[count++] = (struct match_point){point->at_nm, is_hole ? KIND_HOLE : KIND_PAD,
                                                   is_hole ? point->hole_nm : 0};
    }
    return count;
}

static void say_misfit(struct build *build, const struct netlist *netlist,
                       const struct netlist_match *match, bool fits_other_unit)
{
    struct source_pos at = {netlist->file_id, 0, 0};
    if (fits_other_unit)
        diag_add(build->diags, DIAG_ERROR, "netlist-registration", at,
                 "correct its UNITS record, or export it again",
                 "as %s, the unit that the netlist states, its points lie beside the drawing (at "
                 "best %.0f %% on holes and pads); as %s they would lie on it",
                 netlist->is_metric ? "0.001 mm" : "0.0001 in", 100 * match->share,
                 netlist->is_metric ? "0.0001 in" : "0.001 mm");
    else
        diag_add(build->diags, DIAG_ERROR, "netlist-registration", at,
                 "export netlist and drawings from the same state of the board, neither mirrored "
                 "nor turned, or set the netlist aside with --role FILE=ignore",
                 "no single offset puts the netlist's points on holes and pads: at best %.0f %% "
                 "of them",
                 100 * match->share);
}

static void say_doubt(struct build *build, const struct netlist *netlist,
                      const struct netlist_match *match, bool is_few)
{
    const char *advice = "export the netlist from the drawings' origin, or set it aside with "
                         "--role FILE=ignore";
    struct source_pos at = {netlist->file_id, 0, 0};
    if (is_few)
        diag_add(build->diags, DIAG_ERROR, "netlist-registration", at, advice,
                 "the netlist counts from another origin, and has too few places (less than 3) to "
                 "tell which: perhaps %.4f, %.4f mm",
                 (double)match->offset.x_nm / 1e6, (double)match->offset.y_nm / 1e6);
    else
        diag_add(build->diags, DIAG_ERROR, "netlist-registration", at, advice,
                 "the netlist counts from another origin, and two offsets fit nearly as well: "
                 "%.4f, %.4f mm (%.1f %% of its points) and %.4f, %.4f mm (%.1f %%)",
                 (double)match->offset.x_nm / 1e6, (double)match->offset.y_nm / 1e6,
                 100 * match->share, (double)match->rival.x_nm / 1e6,
                 (double)match->rival.y_nm / 1e6, 100 * match->rival_share);
}

static enum netlist_match_status match_points(struct build *build, const struct netlist *netlist,
                                              const struct match_point *targets,
                                              size_t target_count, struct netlist_match *out)
{
    struct match_point *points =
        arena_alloc(build->scratch, netlist->point_count + 1, sizeof *points);
    *out = (struct netlist_match){0};
    if (!points)
        return NETLIST_MATCH_NO_MEMORY;
    return netlist_match(points, collect_points(netlist, points), targets, target_count, out);
}

/* Read in the format's other unit; a second time gives back what it was, exactly. */
static void change_unit(struct netlist *netlist)
{
    int64_t from = netlist->is_metric ? 1000 : 2540, to = netlist->is_metric ? 2540 : 1000;
    for (size_t i = 0; i < netlist->point_count; i++) {
        struct netlist_point *point = &netlist->points[i];
        int64_t *lengths[] = {&point->at_nm.x_nm, &point->at_nm.y_nm, &point->hole_nm,
                              &point->width_nm, &point->height_nm};
        for (size_t k = 0; k < sizeof lengths / sizeof *lengths; k++)
            *lengths[k] = *lengths[k] / from * to;
    }
    netlist->is_metric = !netlist->is_metric;
}

/* A netlist that states no unit is read as the drawing shows; a stated one that is wrong, told. */
static enum netlist_match_status try_other_unit(struct build *build, struct netlist *netlist,
                                                const struct match_point *targets,
                                                size_t target_count, struct netlist_match *match)
{
    struct netlist_match other;
    change_unit(netlist);
    enum netlist_match_status status = match_points(build, netlist, targets, target_count, &other);
    if (status == NETLIST_MATCH_OK && !netlist->has_units) {
        *match = other;
        netlist->units = netlist->is_metric ? "0.001 mm (as its points lie)" : netlist->units;
        diag_add(build->diags, DIAG_WARNING, "netlist-units", netlist->points[0].at,
                 "add P  UNITS CUST 1 (0.001 mm)",
                 "no units stated: read as 0.001 mm, as its points then lie on the drawing");
        return status;
    }
    change_unit(netlist);
    if (status != NETLIST_MATCH_NO_MEMORY) {
        say_misfit(build, netlist, match, status == NETLIST_MATCH_OK);
        status = NETLIST_MATCH_NONE;
    }
    return status;
}

static enum board_status register_netlist(struct build *build, struct netlist *netlist,
                                          const struct match_point *targets, size_t target_count,
                                          struct pos_nm *offset)
{
    struct netlist_match match;
    enum netlist_match_status status = match_points(build, netlist, targets, target_count, &match);
    if (status == NETLIST_MATCH_NONE)
        status = try_other_unit(build, netlist, targets, target_count, &match);
    else if (status == NETLIST_MATCH_AMBIGUOUS || status == NETLIST_MATCH_FEW)
        say_doubt(build, netlist, &match, status == NETLIST_MATCH_FEW);
    if (status == NETLIST_MATCH_OK)
        diag_add(build->diags, DIAG_NOTE, "netlist-read",
                 (struct source_pos){netlist->file_id, 0, 0}, NULL, "%zu points, in %s%s%s",
                 netlist->point_count, netlist->units, netlist->job ? ", job " : "",
                 netlist->job ? netlist->job : "");
    *offset = match.offset;
    if (status != NETLIST_MATCH_OK)
        return status == NETLIST_MATCH_NO_MEMORY ? BOARD_NO_MEMORY : BOARD_REFUSED;
    if (offset->x_nm || offset->y_nm)
        diag_add(build->diags, DIAG_NOTE, "netlist-offset",
                 (struct source_pos){netlist->file_id, 0, 0}, NULL,
                 "the netlist is shifted by %.4f, %.4f mm, which puts %.1f %% of its points on "
                 "holes and pads",
                 (double)offset->x_nm / 1e6, (double)offset->y_nm / 1e6, 100 * match.share);
    return BOARD_OK;
}

/* ---- which hole ---- */

static uint32_t hole_under(const struct build *build, struct pos_nm at)
{
    uint64_t cursor = 0;
    uint32_t hole, best = ISTHMUS_NONE;
    double nearest = INFINITY;
    int64_t reach = build->hole_reach_nm + MATCH_NM;
    while ((hole = grid_next(build->hole_grid, at, reach, &cursor)) != ISTHMUS_NONE) {
        const struct board_hole *candidate = &build->board->holes[hole];
        double away = slot_distance_nm(candidate->hole.from, candidate->hole.to, at);
        if (away <= fmax(MATCH_NM, (double)candidate->hole.diameter_nm / 2) && away < nearest) {
            nearest = away;
            best = hole;
        }
    }
    return best;
}

/* A point with a reference says more of a hole than one without. */
static void note_hole(struct build *build, uint32_t hole, size_t index)
{
    struct hole_note *note = &build->notes[hole];
    bool has_none = note->netlist_point == SIZE_MAX;
    if (has_none ||
        (!build->points[note->netlist_point].point->ref && build->points[index].point->ref))
        note->netlist_point = index;
}

/* ---- which side ---- */

/* How well a pad is the point's, 0: there is none under it. */
static int pad_fit(const struct build *build, const struct named_point *named, uint16_t layer)
{
    uint32_t p = pad_under(build, layer, named->at, false);
    if (p == ISTHMUS_NONE)
        return build_mask_opening(build, layer, named->at) != ISTHMUS_NONE;
    const struct pad *pad = &build->pads[p];
    struct pos_nm size = box_size(pad->box);
    int64_t width_nm = named->point->width_nm, height_nm = named->point->height_nm;
    if (height_nm == 0)
        height_nm = width_nm;
    bool is_size = (llabs(size.x_nm - width_nm) <= SAME_SIDE_NM &&
                    llabs(size.y_nm - height_nm) <= SAME_SIDE_NM) ||
                   (llabs(size.y_nm - width_nm) <= SAME_SIDE_NM &&
                    llabs(size.x_nm - height_nm) <= SAME_SIDE_NM);
    return 2 + 2 * (distance_nm(pad->centre, named->at) <= MATCH_NM) + is_size;
}

/* A surface point lies on one of the two outer layers, however the inner ones are counted. One that
 * states no side lies on that whose pad is more like it. */
static uint16_t side_of_point(struct build *build, const struct named_point *named)
{
    uint16_t last = (uint16_t)build->board->layer_count;
    if (named->point->kind == POINT_SURFACE && named->point->access > (last > 2 ? last : 2)) {
        struct source_pos at = named->point->at;
        at.column = 39;
        diag_add(build->diags, DIAG_ERROR, "netlist-side", at,
                 "correct columns 39 to 41, or get the netlist or the copper layers that are "
                 "missing",
                 "the point lies on layer %u, but the board has %u copper layers",
                 named->point->access, last);
        return 0;
    }
    if (named->point->kind != POINT_SURFACE || named->point->access)
        return named->point->access <= 1 ? 1 : last;
    int top = pad_fit(build, named, 1), bottom = pad_fit(build, named, last);
    if (top != bottom || top == 0 || last == 1)
        return top >= bottom ? 1 : last;
    diag_add(build->diags, DIAG_WARNING, "netlist-side", named->point->at,
             "export the netlist with its access sides (columns 39 to 41)",
             "the point states no side, and pads lie on both at %.4f, %.4f mm: it was passed over",
             (double)named->at.x_nm / 1e6, (double)named->at.y_nm / 1e6);
    return 0;
}

/* ---- tooling holes ---- */

#define OFF_CENTRE_NM 100000
#define OTHER_SIZE_NM 250000 /* drilled against finished */

static void say_tooling(struct build *build, const struct netlist_point *point, struct pos_nm at,
                        const char *what)
{
    diag_add(build->diags, DIAG_WARNING, "netlist-tooling", point->at,
             "check that netlist and drill files are of the same state of the board",
             "the netlist has a hole without plating of %.3f mm at %.4f, %.4f mm: %s",
             (double)point->hole_nm / 1e6, (double)at.x_nm / 1e6, (double)at.y_nm / 1e6, what);
}

/* A 367 record: a hole drilled there, not plated (milled out of the board does as well). */
static void check_tooling(struct build *build, const struct netlist_point *point, struct pos_nm at)
{
    uint32_t index = hole_under(build, at);
    const struct board_hole *hole = index == ISTHMUS_NONE ? NULL : &build->board->holes[index];
    if (hole && distance_nm(hole_middle(&hole->hole), at) > OFF_CENTRE_NM)
        hole = NULL;
    if (!hole && build->profile.is_chosen && !profile_holds(&build->profile, at))
        return;
    if (!hole)
        say_tooling(build, point, at, "no drill file has one there");
    else if (hole->is_plated && point->plating != PLATING_PLATED)
        say_tooling(build, point, at, "by the drill files it is plated");
    else if (point->hole_nm && llabs(point->hole_nm - hole->hole.diameter_nm) > OTHER_SIZE_NM)
        say_tooling(build, point, at, "the drill files have one of another size");
}

/* Beyond this no layer reaches; a pad of any size that a record can state stays in its frame. */
#define FAR_NM INT64_C(500000000)

static bool is_far(struct build *build, const struct netlist_point *point, struct pos_nm at)
{
    struct pos_nm centre = build->board->origin;
    struct source_pos place = point->at;
    if (llabs(at.x_nm - centre.x_nm) <= FAR_NM && llabs(at.y_nm - centre.y_nm) <= FAR_NM)
        return false;
    place.column = 42;
    diag_add(build->diags, DIAG_ERROR, "netlist-point-far", place,
             "correct the record, or export the netlist again",
             "a point at %.4f, %.4f mm, more than 0.5 m from the middle of the board",
             (double)at.x_nm / 1e6, (double)at.y_nm / 1e6);
    return true;
}

static void place_points(struct build *build, const struct netlist *netlist, struct pos_nm offset)
{
    for (size_t i = 0; i < netlist->point_count; i++) {
        const struct netlist_point *point = &netlist->points[i];
        const struct pos_nm at = {point->at_nm.x_nm + offset.x_nm, point->at_nm.y_nm + offset.y_nm};
        if (is_far(build, point, at))
            continue;
        if (!is_placed(point)) {
            check_tooling(build, point, at);
            continue;
        }
        struct named_point *named = &build->points[build->point_count];
        named->point = point;
        named->at = at;
        named->draft = ISTHMUS_NONE;
        named->hole =
            point->kind == POINT_THROUGH_HOLE ? hole_under(build, named->at) : ISTHMUS_NONE;
        named->layer = side_of_point(build, named);
        if (named->hole != ISTHMUS_NONE && build->board->holes[named->hole].is_plated)
            note_hole(build, named->hole, build->point_count);
        build->point_count++;
    }
}

enum board_status build_points(struct build *build)
{
    const struct board *board = build->board;
    size_t total = 0;
    for (size_t n = 0; n < board->netlist_count; n++)
        total += board->netlists[n].point_count;
    build->points = arena_alloc(build->scratch, total + 1, sizeof *build->points);
    if (!build->points)
        return BOARD_NO_MEMORY;
    if (total == 0)
        return BOARD_OK;
    struct match_point *targets =
        arena_alloc(build->scratch, board->hole_count + build->pad_count + 1, sizeof *targets);
    if (!targets)
        return BOARD_NO_MEMORY;
    size_t target_count = collect_targets(build, targets);
    enum board_status status = BOARD_OK;
    for (size_t n = 0; status == BOARD_OK && n < board->netlist_count; n++) {
        struct pos_nm offset;
        status = register_netlist(build, &board->netlists[n], targets, target_count, &offset);
        if (status == BOARD_OK)
            place_points(build, &board->netlists[n], offset);
        else if (status == BOARD_REFUSED)
            status = BOARD_OK; /* said as an error; the copper can still be looked at */
    }
    return status;
}
