/*
 * Netlist points onto the drawing: a netlist may count from another origin, so the offset that puts
 * its points on the drilled holes and pads is found from the data.
 */
#include "build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MATCH_NM 20000     /* a point this near a hole's or pad's centre is on it */
#define VOTE_CELL_NM 10000 /* offsets are counted in squares of this size */
#define VOTER_COUNT 48
#define MOST_VOTES ((size_t)1 << 22)
#define GOOD_SHARE 0.6

struct target_list {
    struct pos_nm *items;
    size_t count;
    struct grid *grid;
};

static bool is_placed(const struct netlist_point *point)
{
    return point->kind != POINT_TOOLING;
}

static bool collect_targets(struct build *build, struct target_list *targets)
{
    const struct board *board = build->board;
    size_t most = board->hole_count + build->pad_count;
    targets->items = arena_alloc(build->scratch, most + 1, sizeof *targets->items);
    targets->grid = grid_new(build->extent, most);
    if (!targets->items || !targets->grid)
        return false;
    for (size_t h = 0; h < board->hole_count; h++)
        targets->items[targets->count++] = hole_middle(&board->holes[h].hole);
    for (size_t p = 0; p < build->pad_count; p++)
        if (build->pads[p].is_flash && build->pads[p].hole == ISTHMUS_NONE)
            targets->items[targets->count++] = build->pads[p].centre;
    for (size_t i = 0; i < targets->count; i++)
        if (!grid_add(targets->grid, targets->items[i], (uint32_t)i))
            return false;
    return true;
}

static double share_matched(const struct netlist *netlist, const struct target_list *targets,
                            struct pos_nm offset)
{
    size_t matched = 0, total = 0;
    for (size_t i = 0; i < netlist->point_count; i++) {
        if (!is_placed(&netlist->points[i]))
            continue;
        struct pos_nm at = netlist->points[i].at_nm;
        at.x_nm += offset.x_nm;
        at.y_nm += offset.y_nm;
        uint64_t cursor = 0;
        matched += grid_next(targets->grid, at, MATCH_NM, &cursor) != ISTHMUS_NONE;
        total++;
    }
    return total ? (double)matched / (double)total : 0;
}

/* ---- counting offsets ---- */

struct vote {
    int64_t x, y; /* in cells */
    double sum_x, sum_y;
    uint32_t count;
};
struct ballot {
    struct vote *votes;
    size_t size, used; /* size a power of two */
};

static struct vote *vote_slot(struct ballot *ballot, int64_t x, int64_t y)
{
    uint64_t hash =
        (uint64_t)x * UINT64_C(0x9E3779B97F4A7C15) ^ (uint64_t)y * UINT64_C(0xC2B2AE3D27D4EB4F);
    for (size_t i = (size_t)(hash ^ hash >> 31) & (ballot->size - 1);;
         i = (i + 1) & (ballot->size - 1)) {
        struct vote *vote = &ballot->votes[i];
        if (vote->count == 0 || (vote->x == x && vote->y == y))
            return vote;
    }
}

static void count_vote(struct ballot *ballot, int64_t dx, int64_t dy)
{
    int64_t x = (int64_t)floor((double)dx / VOTE_CELL_NM);
    int64_t y = (int64_t)floor((double)dy / VOTE_CELL_NM);
    struct vote *vote = vote_slot(ballot, x, y);
    if (vote->count == 0 && ++ballot->used * 2 > ballot->size) {
        ballot->used--;
        return; /* full: more votes would decide nothing that the first million did not */
    }
    vote->x = x;
    vote->y = y;
    vote->sum_x += (double)dx;
    vote->sum_y += (double)dy;
    vote->count++;
}

/* The offset of a square and its neighbours, and how many pairs voted for it. */
static uint32_t votes_about(struct ballot *ballot, const struct vote *vote, struct pos_nm *offset)
{
    double sum_x = 0, sum_y = 0;
    uint32_t count = 0;
    for (int64_t y = -1; y <= 1; y++)
        for (int64_t x = -1; x <= 1; x++) {
            const struct vote *near = vote_slot(ballot, vote->x + x, vote->y + y);
            sum_x += near->sum_x;
            sum_y += near->sum_y;
            count += near->count;
        }
    *offset = (struct pos_nm){llround(sum_x / count), llround(sum_y / count)};
    return count;
}

static struct pos_nm best_offset(struct ballot *ballot)
{
    struct pos_nm best = {0, 0};
    uint32_t most = 0;
    for (size_t i = 0; i < ballot->size; i++) {
        if (ballot->votes[i].count == 0)
            continue;
        struct pos_nm offset;
        uint32_t count = votes_about(ballot, &ballot->votes[i], &offset);
        if (count > most) {
            most = count;
            best = offset;
        }
    }
    return best;
}

static bool find_offset(const struct netlist *netlist, const struct target_list *targets,
                        struct pos_nm *offset)
{
    struct ballot ballot = {.size = 1024};
    while (ballot.size < 4 * VOTER_COUNT * targets->count && ballot.size < MOST_VOTES)
        ballot.size *= 2;
    ballot.votes = calloc(ballot.size, sizeof *ballot.votes);
    if (!ballot.votes)
        return false;
    size_t step = netlist->point_count / VOTER_COUNT + 1;
    for (size_t i = 0; i < netlist->point_count; i += step)
        for (size_t t = 0; is_placed(&netlist->points[i]) && t < targets->count; t++)
            count_vote(&ballot, targets->items[t].x_nm - netlist->points[i].at_nm.x_nm,
                       targets->items[t].y_nm - netlist->points[i].at_nm.y_nm);
    *offset = best_offset(&ballot);
    free(ballot.votes);
    return true;
}

static enum board_status register_netlist(struct build *build, const struct netlist *netlist,
                                          const struct target_list *targets, struct pos_nm *offset)
{
    struct source_pos at = {netlist->file_id, 0, 0};
    *offset = (struct pos_nm){0, 0};
    double in_place = share_matched(netlist, targets, *offset);
    if (in_place >= 0.9)
        return BOARD_OK;
    struct pos_nm shifted;
    if (!find_offset(netlist, targets, &shifted))
        return BOARD_NO_MEMORY;
    double share = share_matched(netlist, targets, shifted);
    if (in_place >= GOOD_SHARE && share < in_place + 0.2)
        return BOARD_OK;
    if (share < GOOD_SHARE) {
        diag_add(build->diags, DIAG_ERROR, "netlist-registration", at,
                 "export netlist and drawings from the same state of the board, or set the netlist "
                 "aside with --role FILE=ignore",
                 "no single offset puts the netlist's points on holes and pads: at best %.0f %% "
                 "of them",
                 100 * fmax(share, in_place));
        return BOARD_REFUSED;
    }
    *offset = shifted;
    diag_add(build->diags, DIAG_NOTE, "netlist-offset", at, NULL,
             "the netlist is shifted by %.4f, %.4f mm, which puts %.1f %% of its points on holes "
             "and pads",
             (double)shifted.x_nm / 1e6, (double)shifted.y_nm / 1e6, 100 * share);
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
    struct target_list targets = {0};
    enum board_status status = collect_targets(build, &targets) ? BOARD_OK : BOARD_NO_MEMORY;
    for (size_t n = 0; status == BOARD_OK && n < board->netlist_count; n++) {
        struct pos_nm offset;
        status = register_netlist(build, &board->netlists[n], &targets, &offset);
        if (status == BOARD_OK)
            place_points(build, &board->netlists[n], offset);
        else if (status == BOARD_REFUSED)
            status = BOARD_OK; /* said as an error; the copper can still be looked at */
    }
    grid_free(targets.grid);
    return status;
}
