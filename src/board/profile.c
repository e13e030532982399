/*
 * The board's edge: closed loops of the profile drawing, nested, and the one board that is judged.
 *
 * Lines are taken at their centre, regions by their outline. A loop inside an odd number of others
 * is a cut-out. Loops with no copper in them (marks, frames beside the board) are no boards.
 */
#include "profile_lines.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static double mm(int64_t nm)
{
    return (double)nm / 1e6;
}

/* ---- point tests on a loop's polygon ---- */

static bool polygon_holds(const struct loop *loop, struct pos_nm at)
{
    if (!box_holds(loop->box, at))
        return false;
    bool is_inside = false;
    double x = (double)at.x_nm, y = (double)at.y_nm;
    for (size_t i = 0, k = loop->point_count - 1; i < loop->point_count; k = i++) {
        double xi = (double)loop->points[i].x_nm, yi = (double)loop->points[i].y_nm;
        double xk = (double)loop->points[k].x_nm, yk = (double)loop->points[k].y_nm;
        if ((yi > y) != (yk > y) && x < xi + (xk - xi) * ((y - yi) / (yk - yi)))
            is_inside = !is_inside;
    }
    return is_inside;
}

static bool is_of_chosen(const struct profile *profile, const struct loop *loop)
{
    for (size_t c = 0; c < profile->contour_count; c++)
        if (profile->contours[c].first_seg == loop->contour.first_seg)
            return true;
    return false;
}

bool profile_holds(const struct profile *profile, struct pos_nm at)
{
    bool is_inside = false;
    for (size_t i = 0; i < profile->loop_count; i++)
        if (is_of_chosen(profile, &profile->loops[i]) && polygon_holds(&profile->loops[i], at))
            is_inside = !is_inside;
    return is_inside;
}

/* May the line meet the box? No only when both ends lie beyond one side of it. */
static bool may_meet(struct box box, struct pos_nm a, struct pos_nm b)
{
    return !((a.x_nm < box.min.x_nm && b.x_nm < box.min.x_nm) ||
             (a.x_nm > box.max.x_nm && b.x_nm > box.max.x_nm) ||
             (a.y_nm < box.min.y_nm && b.y_nm < box.min.y_nm) ||
             (a.y_nm > box.max.y_nm && b.y_nm > box.max.y_nm));
}

bool profile_misses(const struct profile *profile, struct box box)
{
    for (size_t l = 0; l < profile->loop_count; l++) {
        const struct loop *loop = &profile->loops[l];
        if (!is_of_chosen(profile, loop))
            continue;
        for (size_t i = 0, k = loop->point_count - 1; i < loop->point_count; k = i++)
            if (may_meet(box, loop->points[k], loop->points[i]))
                return false;
    }
    return !profile_holds(profile, box_centre(box));
}

double profile_edge_distance_nm(const struct profile *profile, struct pos_nm at, double limit_nm)
{
    uint64_t cursor = 0;
    int64_t reach = (int64_t)limit_nm + EDGE_STEP_NM;
    double best = INFINITY;
    if (!profile->edge || grid_next(profile->edge, at, reach, &cursor) == ISTHMUS_NONE)
        return best;
    for (size_t l = 0; l < profile->loop_count; l++) {
        const struct loop *loop = &profile->loops[l];
        if (!is_of_chosen(profile, loop))
            continue;
        for (size_t i = 0, k = loop->point_count - 1; i < loop->point_count; k = i++)
            best = fmin(best, slot_distance_nm(loop->points[k], loop->points[i], at));
    }
    return best;
}

/* ---- nesting ---- */

/* A point just inside the loop's edge: the middle of its longest piece, a little to the left. */
static struct pos_nm inner_point(const struct loop *loop)
{
    size_t best = 0;
    double longest = -1;
    for (size_t i = 0; i < loop->point_count; i++) {
        size_t next = i + 1 < loop->point_count ? i + 1 : 0;
        double length = distance_nm(loop->points[i], loop->points[next]);
        if (length > longest) {
            longest = length;
            best = i;
        }
    }
    struct pos_nm a = loop->points[best],
                  b = loop->points[best + 1 < loop->point_count ? best + 1 : 0];
    double step = fmin(longest, 3000) / (longest > 0 ? longest : 1);
    return (struct pos_nm){(a.x_nm + b.x_nm) / 2 - llround((double)(b.y_nm - a.y_nm) * step),
                           (a.y_nm + b.y_nm) / 2 + llround((double)(b.x_nm - a.x_nm) * step)};
}

static void drop_same_loops(struct profile *profile)
{
    size_t kept = 0;
    for (size_t i = 0; i < profile->loop_count; i++) {
        bool is_double = false;
        for (size_t k = 0; k < kept && !is_double; k++)
            is_double = is_same_loop(&profile->loops[k], &profile->loops[i]);
        if (!is_double)
            profile->loops[kept++] = profile->loops[i];
    }
    profile->loop_count = kept;
}

static void nest_loops(struct profile *profile)
{
    for (uint32_t i = 0; i < profile->loop_count; i++) {
        struct loop *loop = &profile->loops[i];
        struct pos_nm at = inner_point(loop);
        loop->depth = 0;
        loop->parent = ISTHMUS_NONE;
        for (uint32_t k = 0; k < profile->loop_count; k++) {
            const struct loop *other = &profile->loops[k];
            if (k == i || other->area_nm2 <= loop->area_nm2 || !polygon_holds(other, at))
                continue;
            loop->depth++;
            if (loop->parent == ISTHMUS_NONE ||
                other->area_nm2 < profile->loops[loop->parent].area_nm2)
                loop->parent = k;
        }
    }
}

/* ---- which loops are boards ---- */

/* The innermost loop that holds a point, or NONE. */
static uint32_t loop_of_point(const struct profile *profile, struct pos_nm at)
{
    uint32_t best = ISTHMUS_NONE;
    for (uint32_t i = 0; i < profile->loop_count; i++)
        if (polygon_holds(&profile->loops[i], at) &&
            (best == ISTHMUS_NONE || profile->loops[i].area_nm2 < profile->loops[best].area_nm2))
            best = i;
    return best;
}

/* Copper objects whose reference point lies right inside each loop, and behind these counts of
 * those in none (a sample of large drawings). */
static void count_copper(const struct build *build, size_t *count)
{
    const struct board *board = build->board;
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct drawing *drawing = board->layers[l].drawing;
        size_t step = drawing->object_count / 2000 + 1;
        for (size_t i = 0; i < drawing->object_count; i += step) {
            if (drawing->objects[i].kind == OBJECT_REGION || !drawing->objects[i].is_dark)
                continue;
            uint32_t loop = loop_of_point(&build->profile, drawing->objects[i].from);
            count[loop == ISTHMUS_NONE ? build->profile.loop_count : loop]++;
        }
    }
}

/* Loops that are no boards: what is left of an edge that does not close, as round mounting holes.
 */
static bool is_most_copper_outside(const struct build *build, const size_t *count)
{
    size_t inside = 0;
    for (size_t i = 0; i < build->profile.loop_count; i++)
        inside += count[i];
    return count[build->profile.loop_count] > inside;
}

/* A frame drawn round the board would make the board its cut-out: when most copper lies at odd
 * depth, the loops at depth 0 that hold copper only in their children are no edges. */
static bool drop_frames(struct build *build)
{
    struct profile *profile = &build->profile;
    size_t *count = arena_alloc(build->scratch, profile->loop_count + 1, sizeof *count);
    if (!count)
        return false;
    count_copper(build, count);
    size_t even = 0, odd = 0, kept = 0;
    for (size_t i = 0; i < profile->loop_count; i++)
        *(profile->loops[i].depth % 2 ? &odd : &even) += count[i];
    if (odd <= even)
        return true;
    for (size_t i = 0; i < profile->loop_count; i++)
        if (profile->loops[i].depth > 0)
            profile->loops[kept++] = profile->loops[i];
    profile->loop_count = kept;
    nest_loops(profile);
    diag_add(build->diags, DIAG_WARNING, "profile-frame", (struct source_pos){0, 0, 0},
             "leave everything but the board's edge out of the profile drawing",
             "the profile has a frame round the board's edge; taken as no edge");
    return true;
}

static uint32_t root_of(const struct profile *profile, uint32_t loop)
{
    while (profile->loops[loop].depth > 0 && profile->loops[loop].parent != ISTHMUS_NONE)
        loop = profile->loops[loop].parent;
    return loop;
}

/* Outer loops with copper in them or in what they hold. */
static void find_boards(struct build *build, const size_t *count, bool *is_board)
{
    struct profile *profile = &build->profile;
    size_t total = 0;
    for (uint32_t i = 0; i < profile->loop_count; i++) {
        is_board[root_of(profile, i)] |= count[i] > 0;
        total += count[i];
    }
    /* Copper of regions alone has no points to count: then every outer loop is a board. */
    for (uint32_t i = 0; i < profile->loop_count; i++) {
        is_board[i] = profile->loops[i].depth == 0 && (is_board[i] || total == 0);
        build->board->profile_piece_count += is_board[i];
    }
}

static uint32_t choose_board(struct build *build, const bool *is_board)
{
    struct profile *profile = &build->profile;
    uint32_t chosen = ISTHMUS_NONE;
    for (uint32_t i = 0; i < profile->loop_count; i++) {
        if (!is_board[i])
            continue;
        bool is_meant = !build->options->has_board_at ||
                        polygon_holds(&profile->loops[i], build->options->board_at);
        if (is_meant && chosen == ISTHMUS_NONE)
            chosen = i;
    }
    return chosen;
}

/* Where the i-th piece of the loop's polygon crosses a height. */
static bool crosses(const struct loop *loop, size_t i, int64_t y_nm, double *x_nm)
{
    struct pos_nm a = loop->points[i];
    struct pos_nm b = loop->points[i + 1 < loop->point_count ? i + 1 : 0];
    if ((a.y_nm <= y_nm) == (b.y_nm <= y_nm))
        return false;
    *x_nm = (double)a.x_nm +
            (double)(b.x_nm - a.x_nm) * ((double)(y_nm - a.y_nm)) / (double)(b.y_nm - a.y_nm);
    return true;
}

/* A point well inside, to be typed: the middle of the widest stretch at the loop's half height. */
static struct pos_nm middle_point(const struct loop *loop)
{
    struct pos_nm best = inner_point(loop);
    int64_t y_nm = loop->box.min.y_nm + (loop->box.max.y_nm - loop->box.min.y_nm) / 2;
    double widest = 0, from, x;
    for (size_t i = 0; i < loop->point_count; i++) {
        if (!crosses(loop, i, y_nm, &from))
            continue;
        double to = INFINITY;
        for (size_t k = 0; k < loop->point_count; k++)
            if (crosses(loop, k, y_nm, &x) && x > from)
                to = fmin(to, x);
        if (isinf(to) || to - from <= widest)
            continue;
        struct pos_nm middle = {llround((from + to) / 2), y_nm};
        if (!polygon_holds(loop, middle))
            continue;
        widest = to - from;
        best = middle;
    }
    return best;
}

static const char *list_boards(struct build *build, const bool *is_board)
{
    const char *text = "";
    for (uint32_t i = 0; text && i < build->profile.loop_count; i++) {
        if (!is_board[i])
            continue;
        struct pos_nm at = middle_point(&build->profile.loops[i]);
        text = arena_printf(build->scratch, "%s%s%.2f,%.2f", text, *text ? " or " : "", mm(at.x_nm),
                            mm(at.y_nm));
    }
    return text ? text : "x,y";
}

static enum board_status refuse_panel(struct build *build, const bool *is_board)
{
    struct source_pos nowhere = {0, 0, 0};
    const char *advice = arena_printf(build->scratch, "name one of them: --board-at %s (mm)",
                                      list_boards(build, is_board));
    if (build->options->has_board_at)
        diag_add(build->diags, DIAG_ERROR, "board-at", nowhere, advice,
                 "no board of the package lies at %.4f, %.4f mm", mm(build->options->board_at.x_nm),
                 mm(build->options->board_at.y_nm));
    else
        diag_add(build->diags, DIAG_ERROR, "panel", nowhere, advice,
                 "the profile holds %zu separate boards", build->board->profile_piece_count);
    return BOARD_REFUSED;
}

/* The board's edge as it stands, its cut-outs turned round. Islands within cut-outs are other
 * boards. */
static bool turn_contours(struct build *build, uint32_t chosen)
{
    struct profile *profile = &build->profile;
    profile->contours = arena_alloc(build->scratch, profile->loop_count, sizeof(struct contour));
    struct seg *segs = arena_alloc(build->scratch, profile->seg_count + 1, sizeof *segs);
    if (!profile->contours || !segs)
        return false;
    memcpy(segs, profile->segs, profile->seg_count * sizeof *segs);
    for (uint32_t i = 0; i < profile->loop_count; i++) {
        struct loop *loop = &profile->loops[i];
        bool is_cut_out = loop->depth == 1 && loop->parent == chosen;
        if (i != chosen && !is_cut_out)
            continue;
        for (uint32_t s = 0; is_cut_out && s < loop->contour.seg_count; s++) {
            uint32_t from = loop->contour.first_seg + loop->contour.seg_count - 1 - s;
            struct seg *to = &segs[loop->contour.first_seg + s];
            *to = profile->segs[from];
            to->turn = (int8_t)-to->turn;
            to->to =
                from > loop->contour.first_seg ? profile->segs[from - 1].to : loop->contour.start;
        }
        profile->contours[profile->contour_count++] = loop->contour;
    }
    profile->segs = segs;
    profile->is_chosen = true;
    return true;
}

/* ---- the choice ---- */

static bool sample_edge(struct grid *edge, struct pos_nm a, struct pos_nm b)
{
    int count = (int)(distance_nm(a, b) / EDGE_STEP_NM) + 1;
    for (int i = 0; i < count; i++) {
        struct pos_nm at = {a.x_nm + (b.x_nm - a.x_nm) * i / count,
                            a.y_nm + (b.y_nm - a.y_nm) * i / count};
        if (!grid_add(edge, at, 0))
            return false;
    }
    return true;
}

/* Points along the edge, so that a place far from it is told at once. */
static bool index_edge(struct profile *profile)
{
    struct box box = BOX_EMPTY;
    for (size_t l = 0; l < profile->loop_count; l++)
        box_join(&box, profile->loops[l].box);
    profile->edge = grid_new(box, 4096);
    bool is_done = profile->edge != NULL;
    for (size_t l = 0; l < profile->loop_count; l++) {
        const struct loop *loop = &profile->loops[l];
        if (!is_of_chosen(profile, loop))
            continue;
        for (size_t i = 0, k = loop->point_count - 1; is_done && i < loop->point_count; k = i++)
            is_done = sample_edge(profile->edge, loop->points[k], loop->points[i]);
    }
    return is_done;
}

static enum board_status take_board(struct build *build, uint32_t chosen)
{
    if (!turn_contours(build, chosen) || !index_edge(&build->profile))
        return BOARD_NO_MEMORY;
    build->board->has_profile = true;
    build->board->min = build->profile.loops[chosen].box.min;
    build->board->max = build->profile.loops[chosen].box.max;
    return BOARD_OK;
}

static enum board_status use_copper_edge(struct build *build)
{
    nest_loops(&build->profile);
    build->board->profile_piece_count = 1;
    diag_add(build->diags, DIAG_WARNING, "profile-from-copper",
             (struct source_pos){build->board->layers[0].file_id, 0, 0},
             "add the profile drawing, or name it with --role FILE=profile",
             "the package has no profile drawing; the line that every copper layer draws round all "
             "its copper is taken as the board's edge");
    return take_board(build, 0);
}

/* ---- none at all ---- */

static bool has_plane(const struct board *board, uint32_t *file_id)
{
    for (size_t l = 0; l < board->layer_count; l++)
        if (board->layers[l].is_negative || board->layers[l].drawing->is_image_negative) {
            *file_id = board->layers[l].file_id;
            return true;
        }
    return false;
}

#define CANDIDATES_NAMED 3

/* Lines alone, round all the copper: what the board's edge looks like. */
static bool may_be_edge(const struct board *board, size_t role)
{
    const struct drawing *drawing = &board->drawings[role];
    enum role is = board->roles[role].role;
    if ((is != ROLE_OTHER && is != ROLE_UNKNOWN) || drawing->object_count < 4)
        return false;
    for (size_t i = 0; i < drawing->object_count; i++)
        if (drawing->objects[i].kind == OBJECT_FLASH || drawing->objects[i].kind == OBJECT_REGION)
            return false;
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct drawing *copper = board->layers[l].drawing;
        if (copper->object_count &&
            (drawing->min.x_nm > copper->min.x_nm || drawing->min.y_nm > copper->min.y_nm ||
             drawing->max.x_nm < copper->max.x_nm || drawing->max.y_nm < copper->max.y_nm))
            return false;
    }
    return true;
}

/* " (B.GM13 may be it)" or "". */
static const char *list_candidates(struct build *build)
{
    const struct board *board = build->board;
    const char *names = "";
    size_t count = 0;
    for (size_t r = 0; r < board->role_count && names && count < CANDIDATES_NAMED; r++)
        if (may_be_edge(board, r))
            names = arena_printf(build->arena, "%s%s%s", names, count++ ? ", " : "",
                                 build->files->files[board->roles[r].file_id - 1].name);
    if (names && count)
        names = arena_printf(build->arena, " (%s may be it)", names);
    return names ? names : "";
}

/* An edge that was meant and cannot be used is no board without one: its cut-outs would be missed.
 */
static enum board_status no_profile(struct build *build, bool has_file)
{
    uint32_t file_id = 0;
    bool is_found, is_plane = has_plane(build->board, &file_id);
    if (!has_file && !profile_from_copper(build, &is_found))
        return BOARD_NO_MEMORY;
    if (!has_file && is_found)
        return use_copper_edge(build);
    const char *advice =
        has_file   ? "close its lines and export again, or name another with --role FILE=profile; "
                     "--role FILE=ignore judges without an edge"
        : is_plane ? "add the profile drawing, or name it with --role FILE=profile"
                   : "name the drawing of the board's edge with --role FILE=profile";
    diag_add(build->diags, is_plane || has_file ? DIAG_ERROR : DIAG_WARNING, "profile-missing",
             (struct source_pos){file_id, 0, 0}, advice, "%s%s%s",
             has_file ? "the profile drawing closes no outline round the copper"
                      : "the package has no profile drawing",
             list_candidates(build),
             is_plane ? ", and a negative layer cannot be turned round without one"
                      : ": copper is not cut at the board's edge");
    struct box box = BOX_EMPTY;
    for (size_t l = 0; l < build->board->layer_count; l++)
        box_join(&box, (struct box){build->board->layers[l].drawing->min,
                                    build->board->layers[l].drawing->max});
    build->board->min = box.min;
    build->board->max = box.max;
    return is_plane ? BOARD_REFUSED : BOARD_OK;
}

/* A slot may lie in its pad; more than that is copper which the profile takes away. */
static void warn_cut_outs(struct build *build, uint32_t chosen, const size_t *count)
{
    const size_t few = 2;
    for (uint32_t i = 0; i < build->profile.loop_count; i++) {
        const struct loop *loop = &build->profile.loops[i];
        if (loop->depth != 1 || loop->parent != chosen || count[i] <= few)
            continue;
        struct pos_nm at = box_centre(loop->box);
        diag_add(
            build->diags, DIAG_WARNING, "cut-out-in-copper", (struct source_pos){0, 0, 0},
            "leave everything but the board's edge and its cut-outs out of the profile drawing",
            "the profile's cut-out about %.4f, %.4f mm takes copper away that is drawn there",
            mm(at.x_nm), mm(at.y_nm));
    }
}

static enum board_status choose(struct build *build)
{
    bool *is_board = arena_alloc(build->scratch, build->profile.loop_count + 1, sizeof *is_board);
    size_t *count = arena_alloc(build->scratch, build->profile.loop_count + 1, sizeof *count);
    if (!is_board || !count)
        return BOARD_NO_MEMORY;
    count_copper(build, count);
    find_boards(build, count, is_board);
    if (build->board->profile_piece_count == 0)
        return no_profile(build, true);
    uint32_t chosen = choose_board(build, is_board);
    bool is_unclear = build->board->profile_piece_count > 1 && !build->options->has_board_at;
    if (is_unclear && is_most_copper_outside(build, count)) {
        build->board->profile_piece_count = 0;
        return no_profile(build, true);
    }
    if (chosen == ISTHMUS_NONE || is_unclear)
        return refuse_panel(build, is_board);
    warn_cut_outs(build, chosen, count);
    return take_board(build, chosen);
}

enum board_status build_profile(struct build *build)
{
    bool has_file = false;
    for (size_t i = 0; i < build->board->role_count; i++)
        has_file |= build->board->roles[i].role == ROLE_PROFILE;
    if (!has_file)
        return no_profile(build, false);
    if (!profile_collect(build))
        return BOARD_NO_MEMORY;
    drop_same_loops(&build->profile);
    nest_loops(&build->profile);
    if (!drop_frames(build))
        return BOARD_NO_MEMORY;
    return build->profile.loop_count ? choose(build) : no_profile(build, true);
}
