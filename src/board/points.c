/*
 * Netlist points onto the drawing: a netlist may count from another origin, so the offset that puts
 * its points on the drilled holes and pads is found from the data.
 */
#include "build.h"

#include <math.h>

#include "netlist_match.h"

#define MATCH_NM 20000 /* a point this near a hole's centre is on it */

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

static enum board_status refuse_registration(struct build *build, const struct netlist *netlist,
                                             const struct netlist_match *match, bool is_ambiguous)
{
    struct source_pos at = {netlist->file_id, 0, 0};
    if (is_ambiguous)
        diag_add(build->diags, DIAG_ERROR, "netlist-registration", at,
                 "export the netlist from the drawings' origin, or set it aside with "
                 "--role FILE=ignore",
                 "the netlist counts from another origin, and two offsets fit nearly as well: "
                 "%.4f, %.4f mm (%.1f %% of its points) and %.4f, %.4f mm (%.1f %%)",
                 (double)match->offset.x_nm / 1e6, (double)match->offset.y_nm / 1e6,
                 100 * match->share, (double)match->rival.x_nm / 1e6,
                 (double)match->rival.y_nm / 1e6, 100 * match->rival_share);
    else
        diag_add(build->diags, DIAG_ERROR, "netlist-registration", at,
                 "export netlist and drawings from the same state of the board, or set the netlist "
                 "aside with --role FILE=ignore",
                 "no single offset puts the netlist's points on holes and pads: at best %.0f %% "
                 "of them",
                 100 * match->share);
    return BOARD_REFUSED;
}

static enum board_status register_netlist(struct build *build, const struct netlist *netlist,
                                          const struct match_point *targets, size_t target_count,
                                          struct pos_nm *offset)
{
    struct netlist_match match;
    struct match_point *points =
        arena_alloc(build->scratch, netlist->point_count + 1, sizeof *points);
    if (!points)
        return BOARD_NO_MEMORY;
    enum netlist_match_status status =
        netlist_match(points, collect_points(netlist, points), targets, target_count, &match);
    *offset = match.offset;
    if (status == NETLIST_MATCH_NO_MEMORY)
        return BOARD_NO_MEMORY;
    if (status != NETLIST_MATCH_OK)
        return refuse_registration(build, netlist, &match, status == NETLIST_MATCH_AMBIGUOUS);
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

static void place_points(struct build *build, const struct netlist *netlist, struct pos_nm offset)
{
    for (size_t i = 0; i < netlist->point_count; i++) {
        const struct netlist_point *point = &netlist->points[i];
        if (!is_placed(point))
            continue;
        struct named_point *named = &build->points[build->point_count];
        named->point = point;
        named->at =
            (struct pos_nm){point->at_nm.x_nm + offset.x_nm, point->at_nm.y_nm + offset.y_nm};
        named->draft = ISTHMUS_NONE;
        named->hole =
            point->kind == POINT_THROUGH_HOLE ? hole_under(build, named->at) : ISTHMUS_NONE;
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
