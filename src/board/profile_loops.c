/* Closed loops out of drawings: chains drawn in one go, lines joined at their ends, regions. */
#include "profile_lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FLAT_ERROR_NM 2000.0

bool is_same_loop(const struct loop *a, const struct loop *b)
{
    const int64_t near_nm = 10000;
    return llabs(a->box.min.x_nm - b->box.min.x_nm) < near_nm &&
           llabs(a->box.min.y_nm - b->box.min.y_nm) < near_nm &&
           llabs(a->box.max.x_nm - b->box.max.x_nm) < near_nm &&
           llabs(a->box.max.y_nm - b->box.max.y_nm) < near_nm &&
           fabs(a->area_nm2 - b->area_nm2) < 1e-3 * a->area_nm2;
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
                                                      .turn = (int8_t)(is_arc ? object->turn : 0),
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

static bool keep_loops(struct build *build, const struct loops *loops, struct profile *profile)
{
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

bool profile_collect(struct build *build)
{
    struct edge_lines lines = {0};
    struct loops loops = {0};
    bool is_done = true;
    for (size_t i = 0; is_done && i < build->board->role_count; i++)
        if (build->board->roles[i].role == ROLE_PROFILE)
            is_done = read_profile_drawing(&lines, &loops, &build->board->drawings[i]);
    is_done = is_done && take_closed_chains(&lines, &loops) && trace_lines(build, &lines, &loops) &&
              keep_loops(build, &loops, &build->profile);
    free(lines.items);
    free(lines.nodes);
    free(loops.items);
    free(loops.segs);
    return is_done;
}

/* ---- an edge that only the copper layers draw ---- */

/* Planes draw the edge wider, to keep their copper off it. */
static int64_t widest_edge_nm(const struct copper_layer *layer)
{
    return layer->is_negative ? 3 * NM_PER_MM : OUTLINE_WIDTH_NM;
}

/* Loops of thin lines drawn in one go, of one copper layer. */
static bool thin_loops(struct build *build, const struct copper_layer *layer,
                       struct profile *profile)
{
    const struct drawing *drawing = layer->drawing;
    struct edge_lines lines = {0};
    struct loops loops = {0};
    bool is_done = true;
    for (size_t i = 0; is_done && i < drawing->object_count; i++) {
        const struct object *object = &drawing->objects[i];
        bool is_line = object->kind == OBJECT_STROKE || object->kind == OBJECT_ARC_STROKE;
        if (is_line && !drawing->attrs[object->attrs].net_count &&
            drawing->apertures[object->aperture].width_nm <= widest_edge_nm(layer))
            is_done = add_line(&lines, object);
    }
    is_done = is_done && take_closed_chains(&lines, &loops) && keep_loops(build, &loops, profile);
    free(lines.items);
    free(loops.items);
    free(loops.segs);
    return is_done;
}

/* The largest loop, if all that the layer draws lies within it. */
static const struct loop *enclosing_loop(const struct profile *profile,
                                         const struct copper_layer *layer)
{
    int64_t width_nm = widest_edge_nm(layer);
    const struct loop *best = NULL;
    for (size_t i = 0; i < profile->loop_count; i++)
        if (!best || profile->loops[i].area_nm2 > best->area_nm2)
            best = &profile->loops[i];
    struct box box = {layer->drawing->min, layer->drawing->max};
    if (!best)
        return NULL;
    struct box slack = best->box;
    slack.min.x_nm -= width_nm;
    slack.min.y_nm -= width_nm;
    slack.max.x_nm += width_nm;
    slack.max.y_nm += width_nm;
    return box_holds(slack, box.min) && box_holds(slack, box.max) ? best : NULL;
}

bool profile_from_copper(struct build *build, bool *is_found)
{
    const struct board *board = build->board;
    struct profile first = {0};
    const struct loop *edge = NULL;
    *is_found = false;
    for (size_t l = 0; l < board->layer_count; l++) {
        struct profile layer = {0};
        if (!thin_loops(build, &board->layers[l], &layer))
            return false;
        const struct loop *loop = enclosing_loop(&layer, &board->layers[l]);
        if (!loop || (edge && !is_same_loop(edge, loop)))
            return true;
        if (l == 0) {
            first = layer;
            edge = loop;
        }
    }
    if (!edge || board->layer_count < 2)
        return true;
    build->profile = first;
    build->profile.loops[0] = *edge;
    build->profile.loop_count = 1;
    *is_found = true;
    return true;
}
