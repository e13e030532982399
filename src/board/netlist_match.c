/*
 * Voting: each of a few points, put on each target that it could be, votes for an offset. The
 * fullest squares of offsets are then tried with all points.
 *
 * A square's border may split the votes for one offset, so votes are counted four times, in squares
 * shifted by half a side; in one of the four the votes lie together, as they spread by less than
 * half a side (rounding of either file: a few micrometres).
 */
#include "netlist_match.h"

#include <math.h>
#include <stdlib.h>

#include "isthmus/base.h"

#define NEAR_NM INT64_C(20000)
#define CELL_NM INT64_C(40000)
#define SAME_SIZE_NM INT64_C(250000) /* drilled against finished */
#define APART_NM INT64_C(100000)     /* offsets closer than this are one */
#define MOST_VOTES ((size_t)1 << 21)
#define MOST_VOTERS 64
#define PEAK_COUNT 12    /* squares tried, per way of counting */
#define GOOD_SHARE 0.6   /* in place */
#define MOVED_SHARE 0.85 /* moved: on a real board of equal rows a wrong offset reaches 0.76 */
#define CLEAR_LEAD 0.05
#define LEAST_MOVED 3

struct cell_vote {
    int64_t column, row;
    struct pos_nm offset;
};
struct peak {
    uint32_t count;
    struct pos_nm offset;
};
struct matcher {
    const struct match_point *points;
    size_t point_count;
    struct match_point *targets; /* sorted by x */
    size_t target_count;
    struct cell_vote *votes;
    size_t vote_count, vote_capacity;
    struct peak peaks[4 * PEAK_COUNT + 1];
    size_t peak_count;
    bool is_out_of_memory;
};

static int compare_x(const void *a, const void *b)
{
    const struct match_point *first = a, *second = b;
    if (first->at.x_nm != second->at.x_nm)
        return first->at.x_nm < second->at.x_nm ? -1 : 1;
    return (first->at.y_nm > second->at.y_nm) - (first->at.y_nm < second->at.y_nm);
}

static bool can_be(const struct match_point *point, const struct match_point *target)
{
    if (point->kind != target->kind)
        return false;
    return point->size_nm == 0 || target->size_nm == 0 ||
           llabs(point->size_nm - target->size_nm) <= SAME_SIZE_NM;
}

/* ---- how well an offset does --------------------------------------------------------------- */

static size_t first_from(const struct matcher *matcher, int64_t x_nm)
{
    size_t low = 0, high = matcher->target_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (matcher->targets[middle].at.x_nm < x_nm)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static bool is_on_target(const struct matcher *matcher, const struct match_point *point,
                         struct pos_nm offset)
{
    int64_t x_nm = point->at.x_nm + offset.x_nm, y_nm = point->at.y_nm + offset.y_nm;
    for (size_t i = first_from(matcher, x_nm - NEAR_NM); i < matcher->target_count; i++) {
        const struct match_point *target = &matcher->targets[i];
        if (target->at.x_nm > x_nm + NEAR_NM)
            break;
        if (llabs(target->at.y_nm - y_nm) <= NEAR_NM && can_be(point, target))
            return true;
    }
    return false;
}

static double share_at(const struct matcher *matcher, struct pos_nm offset)
{
    size_t count = 0;
    for (size_t i = 0; i < matcher->point_count; i++)
        count += is_on_target(matcher, &matcher->points[i], offset);
    return (double)count / (double)matcher->point_count;
}

/* ---- votes --------------------------------------------------------------------------------- */

static void vote(struct matcher *matcher, const struct match_point *point)
{
    for (size_t i = 0; i < matcher->target_count; i++) {
        const struct match_point *target = &matcher->targets[i];
        if (!can_be(point, target) || matcher->vote_count == MOST_VOTES)
            continue;
        if (!array_grow(&matcher->votes, sizeof *matcher->votes, &matcher->vote_capacity,
                        matcher->vote_count + 1)) {
            matcher->is_out_of_memory = true;
            return;
        }
        matcher->votes[matcher->vote_count++].offset =
            (struct pos_nm){target->at.x_nm - point->at.x_nm, target->at.y_nm - point->at.y_nm};
    }
}

static void collect_votes(struct matcher *matcher)
{
    size_t voter_count = MOST_VOTES / (matcher->target_count + 1);
    if (voter_count > MOST_VOTERS)
        voter_count = MOST_VOTERS;
    if (voter_count < 4)
        voter_count = 4;
    size_t step = matcher->point_count / voter_count + 1;
    for (size_t i = 0; i < matcher->point_count && !matcher->is_out_of_memory; i += step)
        vote(matcher, &matcher->points[i]);
}

static int compare_cells(const void *a, const void *b)
{
    const struct cell_vote *first = a, *second = b;
    if (first->column != second->column)
        return first->column < second->column ? -1 : 1;
    return (first->row > second->row) - (first->row < second->row);
}

static int64_t cell(int64_t value_nm, int64_t shift_nm)
{
    return (int64_t)floor((double)(value_nm + shift_nm) / (double)CELL_NM);
}

/* Keeps the fullest squares of this way of counting, in peaks[first ..]. */
static void add_peak(struct matcher *matcher, size_t first, struct peak peak)
{
    size_t at = matcher->peak_count;
    if (at - first == PEAK_COUNT) {
        if (matcher->peaks[at - 1].count >= peak.count)
            return;
        at--;
    } else {
        matcher->peak_count++;
    }
    for (; at > first && matcher->peaks[at - 1].count < peak.count; at--)
        matcher->peaks[at] = matcher->peaks[at - 1];
    matcher->peaks[at] = peak;
}

static void count_cells(struct matcher *matcher, int64_t shift_x_nm, int64_t shift_y_nm)
{
    for (size_t i = 0; i < matcher->vote_count; i++) {
        struct cell_vote *one = &matcher->votes[i];
        one->column = cell(one->offset.x_nm, shift_x_nm);
        one->row = cell(one->offset.y_nm, shift_y_nm);
    }
    if (matcher->vote_count)
        qsort(matcher->votes, matcher->vote_count, sizeof *matcher->votes, compare_cells);
    size_t first_peak = matcher->peak_count;
    for (size_t i = 0, end; i < matcher->vote_count; i = end) {
        double sum_x = 0, sum_y = 0;
        for (end = i; end < matcher->vote_count &&
                      compare_cells(&matcher->votes[i], &matcher->votes[end]) == 0;
             end++) {
            sum_x += (double)matcher->votes[end].offset.x_nm;
            sum_y += (double)matcher->votes[end].offset.y_nm;
        }
        double count = (double)(end - i);
        add_peak(matcher, first_peak,
                 (struct peak){(uint32_t)(end - i),
                               {(int64_t)llround(sum_x / count), (int64_t)llround(sum_y / count)}});
    }
}

/* ---- the choice ---------------------------------------------------------------------------- */

static bool is_same_offset(struct pos_nm a, struct pos_nm b)
{
    return llabs(a.x_nm - b.x_nm) <= APART_NM && llabs(a.y_nm - b.y_nm) <= APART_NM;
}

static void try_offset(const struct matcher *matcher, struct pos_nm offset,
                       struct netlist_match *out)
{
    double share = share_at(matcher, offset);
    bool is_same = is_same_offset(offset, out->offset);
    if (share > out->share) {
        if (!is_same) {
            out->rival = out->offset;
            out->rival_share = out->share;
        }
        out->offset = offset;
        out->share = share;
    } else if (!is_same && share > out->rival_share) {
        out->rival = offset;
        out->rival_share = share;
    }
}

/* Files of one board nearly always share their origin: only what is clearly better moves them. */
static void prefer_in_place(struct netlist_match *match)
{
    static const struct pos_nm nowhere = {0, 0};
    if (is_same_offset(match->offset, nowhere) || match->in_place < GOOD_SHARE ||
        match->in_place < match->share - CLEAR_LEAD)
        return;
    match->rival = match->offset;
    match->rival_share = match->share;
    match->offset = nowhere;
    match->share = match->in_place;
}

/* Two points fit wherever two targets are as far apart: an offset needs a third to confirm it. */
static bool are_few(const struct matcher *matcher)
{
    struct pos_nm places[LEAST_MOVED];
    size_t count = 0;
    for (size_t i = 0; i < matcher->point_count && count < LEAST_MOVED; i++) {
        bool is_new = true;
        for (size_t k = 0; k < count; k++)
            is_new &= !is_same_offset(places[k], matcher->points[i].at);
        if (is_new)
            places[count++] = matcher->points[i].at;
    }
    return count < LEAST_MOVED;
}

static enum netlist_match_status judge(const struct matcher *matcher, struct netlist_match *match)
{
    prefer_in_place(match);
    bool is_in_place = match->offset.x_nm == 0 && match->offset.y_nm == 0;
    if (match->share < (is_in_place ? GOOD_SHARE : MOVED_SHARE))
        return NETLIST_MATCH_NONE;
    if (!is_in_place && match->rival_share > match->share - CLEAR_LEAD)
        return NETLIST_MATCH_AMBIGUOUS;
    if (!is_in_place && are_few(matcher))
        return NETLIST_MATCH_FEW;
    return NETLIST_MATCH_OK;
}

static void search(struct matcher *matcher, struct netlist_match *out)
{
    out->in_place = out->share = share_at(matcher, out->offset);
    if (out->in_place >= 1) /* nothing can do better */
        return;
    collect_votes(matcher);
    for (int way = 0; way < 4 && !matcher->is_out_of_memory; way++)
        count_cells(matcher, way & 1 ? CELL_NM / 2 : 0, way & 2 ? CELL_NM / 2 : 0);
    for (size_t i = 0; i < matcher->peak_count && !matcher->is_out_of_memory; i++)
        try_offset(matcher, matcher->peaks[i].offset, out);
}

/* Copies, because targets are sorted, and points of kinds that cannot be met are left out. */
static bool matcher_new(struct matcher *matcher, struct match_point **kept,
                        const struct match_point *points, size_t point_count,
                        const struct match_point *targets, size_t target_count)
{
    size_t kept_capacity = 0, target_capacity = 0;
    if (!array_grow(kept, sizeof **kept, &kept_capacity, point_count + 1) ||
        !array_grow(&matcher->targets, sizeof *matcher->targets, &target_capacity,
                    target_count + 1))
        return false;
    uint64_t kinds = 0;
    for (size_t i = 0; i < target_count; i++) {
        matcher->targets[i] = targets[i];
        kinds |= UINT64_C(1) << (targets[i].kind & 63);
    }
    for (size_t i = 0; i < point_count; i++)
        if (kinds >> (points[i].kind & 63) & 1)
            (*kept)[matcher->point_count++] = points[i];
    matcher->points = *kept;
    matcher->target_count = target_count;
    if (target_count)
        qsort(matcher->targets, target_count, sizeof *targets, compare_x);
    return true;
}

enum netlist_match_status netlist_match(const struct match_point *points, size_t point_count,
                                        const struct match_point *targets, size_t target_count,
                                        struct netlist_match *out)
{
    struct matcher matcher = {0};
    struct match_point *kept = NULL;
    enum netlist_match_status status = NETLIST_MATCH_NO_MEMORY;
    *out = (struct netlist_match){0};
    if (matcher_new(&matcher, &kept, points, point_count, targets, target_count)) {
        if (matcher.point_count)
            search(&matcher, out);
        status = matcher.is_out_of_memory ? NETLIST_MATCH_NO_MEMORY : judge(&matcher, out);
    }
    free(matcher.votes);
    free(matcher.targets);
    free(kept);
    return status;
}
