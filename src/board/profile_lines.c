/*
 * The lines of a profile drawing: joined at their ends, loose ends dropped, faces walked.
 *
 * Real profiles hold gaps of a few nanometres to some tens of micrometres between lines that were
 * meant to meet, lines drawn twice, lines that overshoot a corner, and marks beside the board.
 */
#include "profile_lines.h"

#include <math.h>
#include <stdlib.h>

#define SAME_END_NM 1000 /* ends this near are one point, silently */
#define BRIDGE_NM 100000 /* loose ends this near are joined by a line, with a warning */

/* ---- nodes ---- */

static bool find_node(struct edge_lines *lines, struct grid *grid, struct pos_nm at, uint32_t *node)
{
    uint64_t cursor = 0;
    *node = grid_next(grid, at, SAME_END_NM, &cursor);
    if (*node != ISTHMUS_NONE)
        return true;
    if (!array_grow(&lines->nodes, sizeof *lines->nodes, &lines->node_capacity,
                    lines->node_count + 1))
        return false;
    *node = (uint32_t)lines->node_count;
    lines->nodes[lines->node_count++] = at;
    return grid_add(grid, at, *node);
}

static bool number_ends(struct edge_lines *lines, struct grid *grid)
{
    for (size_t i = 0; i < lines->count; i++) {
        struct edge_line *line = &lines->items[i];
        if (!find_node(lines, grid, line->from, &line->node_from) ||
            !find_node(lines, grid, line->to, &line->node_to))
            return false;
        if (line->node_from == line->node_to && line->turn == 0)
            line->is_dropped = true; /* shorter than what counts as one point */
    }
    return true;
}

static bool is_same_line(const struct edge_line *a, const struct edge_line *b)
{
    bool is_same_way = a->node_from == b->node_from && a->node_to == b->node_to;
    bool is_other_way = a->node_from == b->node_to && a->node_to == b->node_from;
    if (!is_same_way && !is_other_way)
        return false;
    if (a->turn == 0 || b->turn == 0)
        return a->turn == b->turn;
    bool is_same_turn = is_same_way ? a->turn == b->turn : a->turn == -b->turn;
    return is_same_turn && fabs(a->centre_x_nm - b->centre_x_nm) <= SAME_END_NM &&
           fabs(a->centre_y_nm - b->centre_y_nm) <= SAME_END_NM;
}

struct end_ref {
    uint32_t node, line;
};

static int compare_ends(const void *a, const void *b)
{
    const struct end_ref *one = a, *other = b;
    if (one->node != other->node)
        return one->node < other->node ? -1 : 1;
    return (one->line > other->line) - (one->line < other->line);
}

/* Lines by the smaller of their nodes: lines drawn twice stand side by side. */
static bool drop_doubles(struct edge_lines *lines)
{
    struct end_ref *ends = malloc((lines->count + 1) * sizeof *ends);
    if (!ends)
        return false;
    for (size_t i = 0; i < lines->count; i++) {
        const struct edge_line *line = &lines->items[i];
        ends[i].line = (uint32_t)i;
        ends[i].node = line->node_from < line->node_to ? line->node_from : line->node_to;
    }
    qsort(ends, lines->count, sizeof *ends, compare_ends);
    for (size_t i = 0; i < lines->count; i++)
        for (size_t k = i + 1; k < lines->count && ends[k].node == ends[i].node; k++) {
            struct edge_line *later = &lines->items[ends[k].line];
            if (!lines->items[ends[i].line].is_dropped && !later->is_dropped &&
                is_same_line(&lines->items[ends[i].line], later))
                later->is_dropped = true;
        }
    free(ends);
    return true;
}

/* ---- loose ends ---- */

static void count_degrees(const struct edge_lines *lines, uint32_t *degree)
{
    for (size_t n = 0; n < lines->node_count; n++)
        degree[n] = 0;
    for (size_t i = 0; i < lines->count; i++)
        if (!lines->items[i].is_dropped) {
            degree[lines->items[i].node_from]++;
            degree[lines->items[i].node_to]++;
        }
}

static uint32_t nearest_loose(const struct edge_lines *lines, const struct grid *grid,
                              const uint32_t *degree, uint32_t node)
{
    uint64_t cursor = 0;
    uint32_t other, best = ISTHMUS_NONE;
    double best_nm = BRIDGE_NM;
    while ((other = grid_next(grid, lines->nodes[node], BRIDGE_NM, &cursor)) != ISTHMUS_NONE) {
        double away = distance_nm(lines->nodes[node], lines->nodes[other]);
        if (other != node && degree[other] == 1 && away <= best_nm) {
            best_nm = away;
            best = other;
        }
    }
    return best;
}

static bool bridge(struct edge_lines *lines, uint32_t from, uint32_t to, struct diag_list *diags,
                   struct source_pos at)
{
    if (!array_grow(&lines->items, sizeof *lines->items, &lines->capacity, lines->count + 1))
        return false;
    lines->items[lines->count++] = (struct edge_line){.from = lines->nodes[from],
                                                      .to = lines->nodes[to],
                                                      .node_from = from,
                                                      .node_to = to,
                                                      .at = at};
    double gap_nm = distance_nm(lines->nodes[from], lines->nodes[to]);
    diag_add(diags, gap_nm > 10000 ? DIAG_WARNING : DIAG_NOTE, "profile-gap", at,
             "look whether the board's edge is meant to be closed here",
             "the profile has a gap of %.4f mm at %.4f, %.4f mm; closed by a straight line",
             gap_nm / 1e6, (double)lines->nodes[from].x_nm / 1e6,
             (double)lines->nodes[from].y_nm / 1e6);
    return true;
}

static bool bridge_gaps(struct edge_lines *lines, const struct grid *grid, uint32_t *degree,
                        struct diag_list *diags)
{
    size_t drawn_count = lines->count;
    for (size_t i = 0; i < drawn_count; i++) {
        const uint32_t ends[2] = {lines->items[i].node_from, lines->items[i].node_to};
        for (int e = 0; e < 2 && !lines->items[i].is_dropped; e++) {
            if (degree[ends[e]] != 1)
                continue;
            uint32_t other = nearest_loose(lines, grid, degree, ends[e]);
            if (other == ISTHMUS_NONE)
                continue;
            degree[ends[e]]++;
            degree[other]++;
            if (!bridge(lines, ends[e], other, diags, lines->items[i].at))
                return false;
        }
    }
    return true;
}

static void drop_line(struct edge_line *line, struct diag_list *diags)
{
    line->is_dropped = true;
    diag_add(diags, DIAG_NOTE, "profile-loose-line", line->at,
             "join its ends if it is part of the board's edge",
             "a line of the profile from %.4f, %.4f to %.4f, %.4f mm closes nothing; left out",
             (double)line->from.x_nm / 1e6, (double)line->from.y_nm / 1e6,
             (double)line->to.x_nm / 1e6, (double)line->to.y_nm / 1e6);
}

/* The one line left at a node, by its ends sorted by node. */
static uint32_t line_at(const struct edge_lines *lines, const struct end_ref *ends, size_t count,
                        uint32_t node)
{
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (ends[middle].node < node)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low < count && ends[low].node == node; low++)
        if (!lines->items[ends[low].line].is_dropped)
            return ends[low].line;
    return ISTHMUS_NONE;
}

/* What ends in nothing encloses nothing: from each loose end on, line after line. */
static bool drop_loose(struct edge_lines *lines, uint32_t *degree, struct diag_list *diags)
{
    struct end_ref *ends = malloc((2 * lines->count + 1) * sizeof *ends);
    if (!ends)
        return false;
    for (uint32_t i = 0; i < lines->count; i++) {
        ends[2 * (size_t)i] = (struct end_ref){lines->items[i].node_from, i};
        ends[2 * (size_t)i + 1] = (struct end_ref){lines->items[i].node_to, i};
    }
    qsort(ends, 2 * lines->count, sizeof *ends, compare_ends);
    for (uint32_t n = 0; n < lines->node_count; n++)
        for (uint32_t node = n; degree[node] == 1;) {
            uint32_t index = line_at(lines, ends, 2 * lines->count, node);
            if (index == ISTHMUS_NONE)
                break;
            struct edge_line *line = &lines->items[index];
            drop_line(line, diags);
            degree[line->node_from]--;
            degree[line->node_to]--;
            node = line->node_from == node ? line->node_to : line->node_from;
        }
    free(ends);
    return true;
}

bool lines_join(struct edge_lines *lines, struct diag_list *diags)
{
    struct box extent = BOX_EMPTY;
    for (size_t i = 0; i < lines->count; i++)
        box_add(&extent, lines->items[i].from);
    struct grid *grid = grid_new(extent, lines->count * 2);
    bool is_done = grid && number_ends(lines, grid) && drop_doubles(lines);
    uint32_t *degree = malloc((lines->node_count + 1) * sizeof *degree);
    is_done = is_done && degree;
    if (is_done) {
        count_degrees(lines, degree);
        is_done = bridge_gaps(lines, grid, degree, diags);
    }
    is_done = is_done && drop_loose(lines, degree, diags);
    free(degree);
    grid_free(grid);
    return is_done;
}

/* ---- faces ---- */

struct half_edge {
    uint32_t node, id; /* leaves this node; 2 x line (+ 1: against its direction) */
    double angle;
    bool is_walked;
};

static struct pos_nm direction_point(const struct edge_line *line, bool is_reverse)
{
    struct pos_nm at = is_reverse ? line->to : line->from;
    struct pos_nm other = is_reverse ? line->from : line->to;
    if (line->turn == 0)
        return other;
    /* The tangent: the radius turned a quarter the arc's way. */
    double turn = is_reverse ? -line->turn : line->turn;
    double rx = (double)at.x_nm - line->centre_x_nm, ry = (double)at.y_nm - line->centre_y_nm;
    return (struct pos_nm){at.x_nm - llround(turn * ry), at.y_nm + llround(turn * rx)};
}

static void set_half_edge(const struct edge_lines *lines, uint32_t id, struct half_edge *half)
{
    const struct edge_line *line = &lines->items[id / 2];
    bool is_reverse = id & 1;
    struct pos_nm at = is_reverse ? line->to : line->from;
    struct pos_nm toward = direction_point(line, is_reverse);
    *half = (struct half_edge){
        .node = is_reverse ? line->node_to : line->node_from,
        .id = id,
        .angle = atan2((double)(toward.y_nm - at.y_nm), (double)(toward.x_nm - at.x_nm))};
}

static int compare_half_edges(const void *a, const void *b)
{
    const struct half_edge *one = a, *other = b;
    if (one->node != other->node)
        return one->node < other->node ? -1 : 1;
    if (one->angle != other->angle)
        return one->angle < other->angle ? -1 : 1;
    return (one->id > other->id) - (one->id < other->id);
}

struct walk {
    const struct edge_lines *lines;
    struct half_edge *halves; /* by node, then angle */
    uint32_t *place_of;       /* half-edge id -> place in halves */
    size_t count;
};

/* At the end of a half-edge the next one clockwise from the way back: keeps the face on the left.
 */
static uint32_t next_half_edge(const struct walk *walk, uint32_t id)
{
    uint32_t back = walk->place_of[id ^ 1];
    uint32_t node = walk->halves[back].node;
    uint32_t place = back;
    if (place > 0 && walk->halves[place - 1].node == node)
        return walk->halves[place - 1].id;
    while (place + 1 < walk->count && walk->halves[place + 1].node == node)
        place++;
    return walk->halves[place].id;
}

static bool walk_face(struct walk *walk, uint32_t start, struct arena *arena, struct edge_run *run)
{
    uint32_t id = start;
    size_t count = 0;
    do {
        walk->halves[walk->place_of[id]].is_walked = true;
        id = next_half_edge(walk, id);
        count++;
    } while (id != start && count <= walk->count);
    run->half_edges = arena_alloc(arena, count, sizeof *run->half_edges);
    run->count = count;
    for (size_t i = 0; run->half_edges && i < count; i++, id = next_half_edge(walk, id))
        run->half_edges[i] = id;
    return run->half_edges != NULL;
}

double seg_area_nm2(struct pos_nm from, const struct seg *seg)
{
    double x0 = (double)from.x_nm, y0 = (double)from.y_nm;
    double x1 = (double)seg->to.x_nm, y1 = (double)seg->to.y_nm;
    double area = (x1 - x0) * (y0 + y1) / -2;
    if (seg->turn == 0)
        return area;
    double cx = seg->centre_x_nm, cy = seg->centre_y_nm;
    double radius = (hypot(x0 - cx, y0 - cy) + hypot(x1 - cx, y1 - cy)) / 2;
    double sweep = (atan2(y1 - cy, x1 - cx) - atan2(y0 - cy, x0 - cx)) * seg->turn;
    if (sweep <= 0)
        sweep += 2 * M_PI;
    if (from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm)
        sweep = 2 * M_PI;
    return area + seg->turn * radius * radius * (sweep - sin(sweep)) / 2;
}

static double run_area_nm2(const struct edge_lines *lines, const struct edge_run *run)
{
    double area = 0;
    for (size_t i = 0; i < run->count; i++) {
        const struct edge_line *line = &lines->items[run->half_edges[i] / 2];
        bool is_reverse = run->half_edges[i] & 1;
        struct seg seg = {.to = is_reverse ? line->from : line->to,
                          .turn = (int8_t)(is_reverse ? -line->turn : line->turn),
                          .centre_x_nm = line->centre_x_nm,
                          .centre_y_nm = line->centre_y_nm};
        area += seg_area_nm2(is_reverse ? line->to : line->from, &seg);
    }
    return area;
}

static bool walk_new(const struct edge_lines *lines, struct walk *walk)
{
    walk->lines = lines;
    walk->halves = malloc((lines->count * 2 + 1) * sizeof *walk->halves);
    walk->place_of = malloc((lines->count * 2 + 1) * sizeof *walk->place_of);
    if (!walk->halves || !walk->place_of)
        return false;
    for (uint32_t i = 0; i < lines->count; i++)
        if (!lines->items[i].is_dropped) {
            set_half_edge(lines, 2 * i, &walk->halves[walk->count++]);
            set_half_edge(lines, 2 * i + 1, &walk->halves[walk->count++]);
        }
    qsort(walk->halves, walk->count, sizeof *walk->halves, compare_half_edges);
    for (uint32_t i = 0; i < walk->count; i++)
        walk->place_of[walk->halves[i].id] = i;
    return true;
}

bool lines_trace(const struct edge_lines *lines, struct arena *arena, struct edge_runs *runs)
{
    struct walk walk = {0};
    bool is_done = walk_new(lines, &walk);
    for (uint32_t i = 0; is_done && i < walk.count; i++) {
        if (walk.halves[i].is_walked)
            continue;
        struct edge_run run;
        is_done = walk_face(&walk, walk.halves[i].id, arena, &run) &&
                  array_grow(&runs->items, sizeof *runs->items, &runs->capacity, runs->count + 1);
        /* The walk round the outside of everything has negative area; it is no face. */
        if (is_done && run_area_nm2(lines, &run) > 0)
            runs->items[runs->count++] = run;
    }
    free(walk.halves);
    free(walk.place_of);
    return is_done;
}
