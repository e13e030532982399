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

#define FLAT_ERROR_NM 2000.0

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

/* ---- loops from what was traced ---- */

struct points {
    struct pos_nm *items;
    size_t count, capacity;
};

static bool add_point(struct points *points, struct pos_nm at)
{
    if (!array_grow(&points->items, sizeof *points->items, &points->capacity, points->count + 1))
        return false;
    points->items[points->count++] = at;
    return true;
}

static bool flatten_arc(struct points *points, struct pos_nm from, const struct seg *seg)
{
    double cx = seg->centre_x_nm, cy = seg->centre_y_nm;
    double radius = hypot((double)from.x_nm - cx, (double)from.y_nm - cy);
    double start = atan2((double)from.y_nm - cy, (double)from.x_nm - cx);
    double sweep =
        (atan2((double)seg->to.y_nm - cy, (double)seg->to.x_nm - cx) - start) * seg->turn;
    if (sweep <= 0)
        sweep += 2 * M_PI;
    if (from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm)
        sweep = 2 * M_PI;
    int count = (int)ceil(sweep / (2 * acos(1 - FLAT_ERROR_NM / fmax(radius, 2 * FLAT_ERROR_NM))));
    for (int i = 1; i < count; i++) {
        double angle = start + seg->turn * sweep * i / count;
        struct pos_nm at = {llround(cx + radius * cos(angle)), llround(cy + radius * sin(angle))};
        if (!add_point(points, at))
            return false;
    }
    return true;
}

static bool finish_loop(const struct profile *profile, struct loop *loop, struct arena *arena)
{
    struct points points = {0};
    struct pos_nm from = loop->contour.start;
    loop->box = BOX_EMPTY;
    bool is_done = true;
    for (uint32_t i = 0; is_done && i < loop->contour.seg_count; i++) {
        const struct seg *seg = &profile->segs[loop->contour.first_seg + i];
        if (seg->turn)
            is_done = flatten_arc(&points, from, seg);
        is_done = is_done && add_point(&points, seg->to);
        loop->area_nm2 += seg_area_nm2(from, seg);
        from = seg->to;
    }
    for (size_t i = 0; i < points.count; i++)
        box_add(&loop->box, points.items[i]);
    loop->points = arena_alloc(arena, points.count, sizeof *loop->points);
    loop->point_count = points.count;
    is_done = is_done && points.count && loop->points;
    if (is_done)
        memcpy(loop->points, points.items, points.count * sizeof *points.items);
    free(points.items);
    return is_done;
}

struct loops {
    struct loop *items;
    size_t count, capacity;
    struct seg *segs;
    size_t seg_count, seg_capacity;
};

static bool add_seg(struct loops *loops, struct seg seg)
{
    if (!array_grow(&loops->segs, sizeof *loops->segs, &loops->seg_capacity, loops->seg_count + 1))
        return false;
    loops->segs[loops->seg_count++] = seg;
    return true;
}

static bool add_loop(struct loops *loops, struct pos_nm start, size_t first_seg)
{
    if (!array_grow(&loops->items, sizeof *loops->items, &loops->capacity, loops->count + 1))
        return false;
    loops->items[loops->count++] =
        (struct loop){.contour = {.start = start,
                                  .first_seg = (uint32_t)first_seg,
                                  .seg_count = (uint32_t)(loops->seg_count - first_seg)}};
    return true;
}

/* Ends that were taken for one point become exactly one: the node's. */
static bool loop_from_run(struct loops *loops, const struct edge_lines *lines,
                          const struct edge_run *run)
{
    size_t first_seg = loops->seg_count;
    struct pos_nm start = {0, 0};
    for (size_t i = 0; i < run->count; i++) {
        const struct edge_line *line = &lines->items[run->half_edges[i] / 2];
        bool is_reverse = run->half_edges[i] & 1;
        if (i == 0)
            start = lines->nodes[is_reverse ? line->node_to : line->node_from];
        struct seg seg = {.to = lines->nodes[is_reverse ? line->node_from : line->node_to],
                          .turn = (int8_t)(is_reverse ? -line->turn : line->turn),
                          .centre_x_nm = line->centre_x_nm,
                          .centre_y_nm = line->centre_y_nm};
        if (!add_seg(loops, seg))
            return false;
    }
    return add_loop(loops, start, first_seg);
}

/* A closed chain as drawn, turned counterclockwise. */
static bool loop_from_chain(struct loops *loops, struct pos_nm start, const struct seg *segs,
                            size_t count)
{
    double area = 0;
    struct pos_nm from = start;
    for (size_t i = 0; i < count; from = segs[i++].to)
        area += seg_area_nm2(from, &segs[i]);
    if (area == 0)
        return true;
    size_t first_seg = loops->seg_count;
    for (size_t i = 0; i < count; i++) {
        size_t at = area > 0 ? i : count - 1 - i;
        struct seg seg = segs[at];
        if (area < 0) {
            seg.turn = (int8_t)-seg.turn;
            seg.to = at ? segs[at - 1].to : start;
        }
        if (!add_seg(loops, seg))
            return false;
    }
    return add_loop(loops, start, first_seg);
}

/* ---- reading the drawing ---- */

static bool add_line(struct edge_lines *lines, const struct object *object)
{
    if (!array_grow(&lines->items, sizeof *lines->items, &lines->capacity, lines->count + 1))
        return false;
    bool is_arc = object->kind == OBJECT_ARC_STROKE && object->turn;
    lines->items[lines->count++] = (struct edge_line){.from = object->from,
                                                      .to = object->to,
                                                      .turn = is_arc ? object->turn : 0,
                                                      .centre_x_nm = object->centre_x_nm,
                                                      .centre_y_nm = object->centre_y_nm,
                                                      .at = object->at};
    return true;
}

static bool region_loops(struct loops *loops, const struct drawing *drawing,
                         const struct object *object)
{
    for (uint32_t f = 0; f < object->fill_count; f++) {
        const struct fill *fill = &drawing->fills[object->first_fill + f];
        for (uint32_t c = 0; c < fill->contour_count; c++) {
            const struct contour *contour = &drawing->contours[fill->first_contour + c];
            if (!loop_from_chain(loops, contour->start, &drawing->segs[contour->first_seg],
                                 contour->seg_count))
                return false;
        }
    }
    return true;
}

static bool read_profile_drawing(struct edge_lines *lines, struct loops *loops,
                                 const struct drawing *drawing)
{
    for (size_t i = 0; i < drawing->object_count; i++) {
        const struct object *object = &drawing->objects[i];
        bool is_line = object->kind == OBJECT_STROKE || object->kind == OBJECT_ARC_STROKE;
        if (is_line && !add_line(lines, object))
            return false;
        if (object->kind == OBJECT_REGION && object->is_dark &&
            !region_loops(loops, drawing, object))
            return false;
    }
    return true;
}

static bool is_same_point(struct pos_nm a, struct pos_nm b)
{
    return a.x_nm == b.x_nm && a.y_nm == b.y_nm;
}

/* A line drawn there and back encloses nothing; it is one line drawn twice. */
static bool encloses(const struct edge_lines *lines, size_t first, size_t end)
{
    double area = 0;
    for (size_t i = first; i < end; i++) {
        const struct edge_line *line = &lines->items[i];
        struct seg seg = {.to = line->to,
                          .turn = line->turn,
                          .centre_x_nm = line->centre_x_nm,
                          .centre_y_nm = line->centre_y_nm};
        area += seg_area_nm2(line->from, &seg);
    }
    return fabs(area) > 1e6; /* a square micrometre */
}

/* Index just behind the chain that begins at line `first` and comes back to its start, or `first`
 * when it does not. */
static size_t closed_chain_end(const struct edge_lines *lines, size_t first)
{
    const struct edge_line *items = lines->items;
    for (size_t i = first; i < lines->count; i++) {
        if (i > first && !is_same_point(items[i].from, items[i - 1].to))
            return first;
        bool is_circle = i == first && items[i].turn && is_same_point(items[i].from, items[i].to);
        if (is_circle || (i > first && is_same_point(items[i].to, items[first].from)))
            return encloses(lines, first, i + 1) ? i + 1 : first;
    }
    return first;
}

static bool take_chain(struct loops *loops, struct edge_lines *lines, size_t first, size_t end)
{
    struct seg *segs = malloc((end - first) * sizeof *segs);
    for (size_t i = first; segs && i < end; i++) {
        struct edge_line *line = &lines->items[i];
        segs[i - first] = (struct seg){.to = line->to,
                                       .turn = line->turn,
                                       .centre_x_nm = line->centre_x_nm,
                                       .centre_y_nm = line->centre_y_nm};
        line->is_dropped = true;
    }
    bool is_done = segs && loop_from_chain(loops, lines->items[first].from, segs, end - first);
    free(segs);
    return is_done;
}

/* What was drawn in one go and closes is one loop, whatever else it touches: some profiles hold the
 * same edge twice, drawn in different pieces. */
static bool take_closed_chains(struct edge_lines *lines, struct loops *loops)
{
    size_t kept = 0;
    bool is_start = true;
    for (size_t i = 0; i < lines->count; i++) {
        is_start |= i > 0 && !is_same_point(lines->items[i - 1].to, lines->items[i].from);
        size_t end = is_start ? closed_chain_end(lines, i) : i;
        if (end > i) {
            if (!take_chain(loops, lines, i, end))
                return false;
            i = end - 1;
        } else {
            lines->items[kept++] = lines->items[i];
        }
        is_start = end > i;
    }
    lines->count = kept;
    return true;
}

static bool trace_lines(struct build *build, struct edge_lines *lines, struct loops *loops)
{
    struct edge_runs runs = {0};
    bool is_done = lines_join(lines, build->diags) && lines_trace(lines, build->scratch, &runs);
    for (size_t i = 0; is_done && i < runs.count; i++)
        is_done = loop_from_run(loops, lines, &runs.items[i]);
    free(runs.items);
    return is_done;
}

static bool keep_loops(struct build *build, const struct loops *loops)
{
    struct profile *profile = &build->profile;
    profile->segs = arena_alloc(build->scratch, loops->seg_count + 1, sizeof *profile->segs);
    profile->loops = arena_alloc(build->scratch, loops->count + 1, sizeof *profile->loops);
    if (!profile->segs || !profile->loops)
        return false;
    if (loops->seg_count)
        memcpy(profile->segs, loops->segs, loops->seg_count * sizeof *loops->segs);
    profile->seg_count = loops->seg_count;
    for (size_t i = 0; i < loops->count; i++) {
        profile->loops[i] = loops->items[i];
        if (!finish_loop(profile, &profile->loops[i], build->scratch))
            return false;
    }
    profile->loop_count = loops->count;
    return true;
}

static bool collect_loops(struct build *build)
{
    struct edge_lines lines = {0};
    struct loops loops = {0};
    bool is_done = true;
    for (size_t i = 0; is_done && i < build->board->role_count; i++)
        if (build->board->roles[i].role == ROLE_PROFILE)
            is_done = read_profile_drawing(&lines, &loops, &build->board->drawings[i]);
    is_done = is_done && take_closed_chains(&lines, &loops) && trace_lines(build, &lines, &loops) &&
              keep_loops(build, &loops);
    free(lines.items);
    free(lines.nodes);
    free(loops.items);
    free(loops.segs);
    return is_done;
}

/* ---- nesting ---- */

static bool is_same_loop(const struct loop *a, const struct loop *b)
{
    const int64_t near_nm = 10000;
    return llabs(a->box.min.x_nm - b->box.min.x_nm) < near_nm &&
           llabs(a->box.min.y_nm - b->box.min.y_nm) < near_nm &&
           llabs(a->box.max.x_nm - b->box.max.x_nm) < near_nm &&
           llabs(a->box.max.y_nm - b->box.max.y_nm) < near_nm &&
           fabs(a->area_nm2 - b->area_nm2) < 1e-3 * a->area_nm2;
}

/* A point just inside the loop's edge: the middle of its longest piece, a little to the left. */
static struct pos_nm inner_point(const struct loop *loop)
{
    size_t best = 0;
    double longest = -1;
    for (size_t i = 0; i < loop->point_count; i++) {
        double length = distance_nm(loop->points[i], loop->points[(i + 1) % loop->point_count]);
        if (length > longest) {
            longest = length;
            best = i;
        }
    }
    struct pos_nm a = loop->points[best], b = loop->points[(best + 1) % loop->point_count];
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

/* Copper objects whose reference point lies right inside each loop (a sample of large drawings). */
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
            if (loop != ISTHMUS_NONE)
                count[loop]++;
        }
    }
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
static bool find_boards(struct build *build, bool *is_board)
{
    struct profile *profile = &build->profile;
    size_t *count = arena_alloc(build->scratch, profile->loop_count + 1, sizeof *count);
    if (!count)
        return false;
    count_copper(build, count);
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
    return true;
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

static const char *list_boards(struct build *build, const bool *is_board)
{
    const char *text = "";
    for (uint32_t i = 0; text && i < build->profile.loop_count; i++) {
        if (!is_board[i])
            continue;
        struct pos_nm at = inner_point(&build->profile.loops[i]);
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

static enum board_status no_profile(struct build *build, bool has_file)
{
    uint32_t file_id = 0;
    bool is_error = has_plane(build->board, &file_id);
    const char *advice = is_error ? "add the profile drawing, or name it with --role FILE=profile"
                                  : "name the drawing of the board's edge with --role FILE=profile";
    diag_add(build->diags, is_error ? DIAG_ERROR : DIAG_WARNING, "profile-missing",
             (struct source_pos){file_id, 0, 0}, advice, "%s%s",
             has_file ? "the profile drawing closes no outline round the copper"
                      : "the package has no profile drawing",
             is_error ? ", and a negative layer cannot be turned round without one"
                      : ": copper is not cut at the board's edge");
    struct box box = BOX_EMPTY;
    for (size_t l = 0; l < build->board->layer_count; l++)
        box_join(&box, (struct box){build->board->layers[l].drawing->min,
                                    build->board->layers[l].drawing->max});
    build->board->min = box.min;
    build->board->max = box.max;
    return is_error ? BOARD_REFUSED : BOARD_OK;
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

static enum board_status choose(struct build *build)
{
    bool *is_board = arena_alloc(build->scratch, build->profile.loop_count + 1, sizeof *is_board);
    if (!is_board || !find_boards(build, is_board))
        return BOARD_NO_MEMORY;
    if (build->board->profile_piece_count == 0)
        return no_profile(build, true);
    uint32_t chosen = choose_board(build, is_board);
    bool is_unclear = build->board->profile_piece_count > 1 && !build->options->has_board_at;
    if (chosen == ISTHMUS_NONE || is_unclear)
        return refuse_panel(build, is_board);
    if (!turn_contours(build, chosen) || !index_edge(&build->profile))
        return BOARD_NO_MEMORY;
    build->board->has_profile = true;
    build->board->min = build->profile.loops[chosen].box.min;
    build->board->max = build->profile.loops[chosen].box.max;
    return BOARD_OK;
}

enum board_status build_profile(struct build *build)
{
    bool has_file = false;
    for (size_t i = 0; i < build->board->role_count; i++)
        has_file |= build->board->roles[i].role == ROLE_PROFILE;
    if (!has_file)
        return no_profile(build, false);
    if (!collect_loops(build))
        return BOARD_NO_MEMORY;
    drop_same_loops(&build->profile);
    nest_loops(&build->profile);
    if (!drop_frames(build))
        return BOARD_NO_MEMORY;
    return build->profile.loop_count ? choose(build) : no_profile(build, true);
}
