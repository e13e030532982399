/* Objects, holes and profiles as paint: fills of straight edges, cautious towards copper. */
#include "geometry/flatten.h"

#include <math.h>
#include <stdlib.h>

#define LINE_CURVE 0

void paint_init(struct paint *paint, struct pos_nm origin, double chord_error_nm)
{
    *paint = (struct paint){.origin = origin, .chord_error_nm = chord_error_nm};
}

void paint_free(struct paint *paint)
{
    if (!paint)
        return;
    free(paint->objects);
    free(paint->fills);
    free(paint->edges);
    free(paint->curves);
    *paint = (struct paint){0};
}

void paint_drop_outlines(struct paint *paint)
{
    free(paint->fills);
    free(paint->edges);
    paint->fills = NULL;
    paint->edges = NULL;
    paint->fill_count = paint->fill_capacity = 0;
    paint->edge_count = paint->edge_capacity = 0;
    for (size_t i = 0; i < paint->object_count; i++)
        paint->objects[i].fill_count = 0;
}

/* ---- which side of a contour is painted ---- */

/* One contour of a fill, roughly flattened. */
struct ring {
    size_t first, count; /* edges */
    struct box box;
    bool is_left;  /* decided: the painted area lies left of it */
    bool is_again; /* the same ring as one before it */
};

static double twice_area(const struct paint *paint, const struct ring *ring)
{
    double sum = 0;
    struct pt origin = ring->count ? paint->edges[ring->first].a : (struct pt){0, 0};
    for (size_t i = ring->first; i < ring->first + ring->count; i++)
        sum += (double)cross(origin, paint->edges[i].a, paint->edges[i].b);
    return sum;
}

static bool is_in_box(const struct box *box, struct pt at)
{
    return at.x >= box->min_x && at.x <= box->max_x && at.y >= box->min_y && at.y <= box->max_y;
}

static bool lies_on(const struct paint_edge *edge, struct pt at)
{
    return cross(edge->a, edge->b, at) == 0 && dot_at(at, edge->a, edge->b) <= 0;
}

/* Winding of a ring about a point; false when the point lies on it. */
static bool winding_about(const struct paint *paint, const struct ring *ring, struct pt at,
                          int *winding)
{
    *winding = 0;
    if (!is_in_box(&ring->box, at))
        return true;
    for (size_t i = ring->first; i < ring->first + ring->count; i++) {
        const struct paint_edge *edge = &paint->edges[i];
        if (lies_on(edge, at))
            return false;
        if ((edge->a.y <= at.y) == (edge->b.y <= at.y))
            continue;
        int64_t side = cross(edge->a, edge->b, at);
        if (edge->a.y <= at.y && side > 0)
            ++*winding;
        else if (edge->a.y > at.y && side < 0)
            --*winding;
    }
    return true;
}

/*
 * How often `outer` winds about a ring that does not cross it: by a vertex that is not on it.
 * False when there is none: the two rings are the same.
 */
static bool winding_of_ring(const struct paint *paint, const struct ring *outer,
                            const struct ring *inner, int *winding)
{
    for (size_t i = inner->first; i < inner->first + inner->count; i++)
        if (winding_about(paint, outer, paint->edges[i].a, winding))
            return true;
    *winding = 0;
    return false;
}

/* Painted is where the summed winding is not zero. */
static void decide_by_winding(const struct paint *paint, struct ring *rings, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        bool is_ccw = twice_area(paint, &rings[i]) >= 0;
        int inside = is_ccw ? 1 : -1, winding;
        for (size_t j = 0; j < count; j++)
            if (j != i && winding_of_ring(paint, &rings[j], &rings[i], &winding))
                inside += winding;
        rings[i].is_left = (inside != 0) == is_ccw;
    }
}

/* Painted is what an even number of rings encloses (the profile's outside and its cut-outs). */
static void decide_by_nesting(const struct paint *paint, struct ring *rings, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        bool is_ccw = twice_area(paint, &rings[i]) >= 0;
        bool paints_inside = false;
        int winding;
        for (size_t j = 0; j < count; j++) {
            if (j == i || rings[j].is_again)
                continue;
            bool differs = winding_of_ring(paint, &rings[j], &rings[i], &winding);
            rings[i].is_again |= !differs && j < i;
            paints_inside ^= winding != 0;
        }
        rings[i].is_left = paints_inside == is_ccw;
    }
}

/* ---- adding ---- */

struct adder {
    struct paint *paint;
    const struct contour *contours;
    size_t contour_count;
    const struct seg *segs;
    bool outgrows;
    bool is_outside;
    struct ring *rings;
};

static struct box box_of_edges(const struct paint_edge *edges, size_t count)
{
    struct box box = {INT32_MAX, INT32_MAX, INT32_MIN, INT32_MIN};
    for (size_t i = 0; i < count; i++) {
        struct pt at = edges[i].a;
        box.min_x = at.x < box.min_x ? at.x : box.min_x;
        box.max_x = at.x > box.max_x ? at.x : box.max_x;
        box.min_y = at.y < box.min_y ? at.y : box.min_y;
        box.max_y = at.y > box.max_y ? at.y : box.max_y;
    }
    return box;
}

static enum mesh_status flatten_ring(struct adder *adder, size_t index)
{
    struct ring *ring = &adder->rings[index];
    struct paint *paint = adder->paint;
    ring->first = paint->edge_count;
    enum mesh_status status =
        flatten_contour(paint, &adder->contours[index], adder->segs,
                        (struct flatten_rule){ring->is_left, adder->outgrows});
    ring->count = paint->edge_count - ring->first;
    if (status == MESH_OK)
        ring->box = box_of_edges(paint->edges + ring->first, ring->count);
    return status;
}

static enum mesh_status flatten_rings(struct adder *adder)
{
    enum mesh_status status = MESH_OK;
    for (size_t i = 0; i < adder->contour_count && status == MESH_OK; i++)
        status = flatten_ring(adder, i);
    return status;
}

/* The side that has been guessed (left) is wrong for a ring that has arcs. */
static bool must_flatten_again(const struct adder *adder)
{
    for (size_t i = 0; i < adder->contour_count; i++) {
        const struct contour *contour = &adder->contours[i];
        for (uint32_t s = 0; s < contour->seg_count && !adder->rings[i].is_left; s++)
            if (adder->segs[contour->first_seg + s].turn != 0)
                return true;
    }
    return false;
}

/* Turns every ring so that the painted area lies left of it; a repeated one becomes nothing. */
static void turn_left(struct adder *adder)
{
    for (size_t i = 0; i < adder->contour_count; i++) {
        const struct ring *ring = &adder->rings[i];
        for (size_t e = ring->first; e < ring->first + ring->count; e++) {
            struct paint_edge *edge = &adder->paint->edges[e];
            if (!ring->is_left)
                *edge = (struct paint_edge){edge->b, edge->a, edge->curve};
            if (ring->is_again)
                edge->b = edge->a;
        }
    }
}

static enum mesh_status add_frame(struct paint *paint)
{
    const int32_t far = PAINT_FRAME;
    const struct pt frame[4] = {{-far, -far}, {far, -far}, {far, far}, {-far, far}};
    enum mesh_status status = MESH_OK;
    for (unsigned i = 0; i < 4 && status == MESH_OK; i++)
        status = paint_add_edge(paint, frame[i], frame[(i + 1) % 4], LINE_CURVE);
    return status;
}

/* Flattens all rings, guessing that they paint their left; where that was wrong, once more. */
static enum mesh_status flatten_fill(struct adder *adder)
{
    struct paint *paint = adder->paint;
    size_t edge_count = paint->edge_count, curve_count = paint->curve_count;
    for (size_t i = 0; i < adder->contour_count; i++)
        adder->rings[i].is_left = true;
    enum mesh_status status = flatten_rings(adder);
    if (status != MESH_OK)
        return status;
    if (adder->is_outside)
        decide_by_nesting(paint, adder->rings, adder->contour_count);
    else
        decide_by_winding(paint, adder->rings, adder->contour_count);
    if (must_flatten_again(adder)) {
        paint->edge_count = edge_count;
        paint->curve_count = curve_count;
        status = flatten_rings(adder);
    }
    if (status == MESH_OK && adder->is_outside) {
        turn_left(adder);
        status = add_frame(paint);
    }
    return status;
}

static enum mesh_status add_fill(struct adder *adder, bool adds)
{
    struct paint *paint = adder->paint;
    struct paint_fill fill = {(uint32_t)paint->edge_count, 0, adds};
    if (!array_grow(&paint->fills, sizeof *paint->fills, &paint->fill_capacity,
                    paint->fill_count + 1))
        return MESH_NO_MEMORY;
    adder->rings = mesh_calloc(adder->contour_count, sizeof *adder->rings);
    enum mesh_status status = adder->rings ? flatten_fill(adder) : MESH_NO_MEMORY;
    free(adder->rings);
    adder->rings = NULL;
    if (paint->edge_count >= ISTHMUS_NONE / 2)
        status = MESH_TOO_LARGE;
    fill.edge_count = (uint32_t)paint->edge_count - fill.first_edge;
    if (status == MESH_OK)
        paint->fills[paint->fill_count++] = fill;
    return status;
}

/* Counts to return to when an object cannot be added whole. */
struct paint_mark {
    size_t objects, fills, edges, curves;
};

static enum mesh_status open_object(struct paint *paint, struct paint_object object,
                                    struct paint_mark *mark)
{
    *mark = (struct paint_mark){paint->object_count, paint->fill_count, paint->edge_count,
                                paint->curve_count};
    if (!array_grow(&paint->objects, sizeof *paint->objects, &paint->object_capacity,
                    paint->object_count + 1) ||
        !array_grow(&paint->curves, sizeof *paint->curves, &paint->curve_capacity, 1))
        return MESH_NO_MEMORY;
    if (paint->curve_count == 0)
        paint->curves[paint->curve_count++] = (struct curve){0}; /* LINE_CURVE */
    object.first_fill = (uint32_t)paint->fill_count;
    paint->objects[paint->object_count++] = object;
    return MESH_OK;
}

static enum mesh_status close_object(struct paint *paint, const struct paint_mark *mark,
                                     enum mesh_status status)
{
    if (status != MESH_OK) {
        paint->object_count = mark->objects;
        paint->fill_count = mark->fills;
        paint->edge_count = mark->edges;
        paint->curve_count = mark->curves;
        return status;
    }
    struct paint_object *object = &paint->objects[paint->object_count - 1];
    object->fill_count = (uint32_t)paint->fill_count - object->first_fill;
    return MESH_OK;
}

enum mesh_status paint_add_drawn(struct paint *paint, const struct drawing *drawing,
                                 uint32_t object, enum paint_effect effect, uint32_t owner,
                                 uint32_t kind)
{
    const struct object *drawn = &drawing->objects[object];
    struct paint_mark mark;
    enum mesh_status status =
        open_object(paint, (struct paint_object){effect, owner, kind, 0, 0, drawn->attrs}, &mark);
    for (uint32_t i = 0; i < drawn->fill_count && status == MESH_OK; i++) {
        const struct fill *fill = &drawing->fills[drawn->first_fill + i];
        struct adder adder = {.paint = paint,
                              .contours = drawing->contours + fill->first_contour,
                              .contour_count = fill->contour_count,
                              .segs = drawing->segs,
                              .outgrows = (effect == PAINT_CLEAR) == fill->adds};
        status = add_fill(&adder, fill->adds);
    }
    return close_object(paint, &mark, status);
}

enum mesh_status paint_add_contours(struct paint *paint, const struct contour *contours,
                                    size_t contour_count, const struct seg *segs, bool outside,
                                    enum paint_effect effect, uint32_t owner, uint32_t kind)
{
    struct paint_mark mark;
    enum mesh_status status =
        open_object(paint, (struct paint_object){effect, owner, kind, 0, 0, ISTHMUS_NONE}, &mark);
    struct adder adder = {.paint = paint,
                          .contours = contours,
                          .contour_count = contour_count,
                          .segs = segs,
                          .outgrows = effect == PAINT_CLEAR,
                          .is_outside = outside};
    if (status == MESH_OK)
        status = add_fill(&adder, true);
    return close_object(paint, &mark, status);
}

static enum mesh_status add_circle(struct paint *paint, struct pos_nm at, int64_t diameter_nm,
                                   enum paint_effect effect, uint32_t owner, uint32_t kind)
{
    int64_t up = effect == PAINT_CLEAR ? 1 : 0; /* half a nanometre: towards less copper */
    struct pos_nm start = {at.x_nm + (diameter_nm + up) / 2, at.y_nm};
    const struct seg seg = {start, 1, (double)at.x_nm, (double)at.y_nm};
    const struct contour contour = {start, 0, 1};
    return paint_add_contours(paint, &contour, 1, &seg, false, effect, owner, kind);
}

enum mesh_status paint_add_slot(struct paint *paint, struct pos_nm from, struct pos_nm to,
                                int64_t diameter_nm, enum paint_effect effect, uint32_t owner,
                                uint32_t kind)
{
    if (from.x_nm == to.x_nm && from.y_nm == to.y_nm)
        return add_circle(paint, from, diameter_nm, effect, owner, kind);
    double run = (double)(to.x_nm - from.x_nm), rise = (double)(to.y_nm - from.y_nm);
    double scale = (double)diameter_nm / 2 / hypot(run, rise);
    int64_t across_x = llround(-rise * scale), across_y = llround(run * scale);
    struct pos_nm corner[4] = {{from.x_nm - across_x, from.y_nm - across_y},
                               {to.x_nm - across_x, to.y_nm - across_y},
                               {to.x_nm + across_x, to.y_nm + across_y},
                               {from.x_nm + across_x, from.y_nm + across_y}};
    const struct seg segs[4] = {
        {corner[1], 0, 0, 0},
        {corner[2], 1, (double)to.x_nm, (double)to.y_nm},
        {corner[3], 0, 0, 0},
        {corner[0], 1, (double)from.x_nm, (double)from.y_nm},
    };
    const struct contour contour = {corner[0], 0, 4};
    return paint_add_contours(paint, &contour, 1, segs, false, effect, owner, kind);
}
