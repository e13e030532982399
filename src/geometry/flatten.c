/*
 * Arcs into chords, so that copper is never over-measured. Where the straight edges must lie within
 * the true area: a convex arc gets vertices on the curve, a concave one tangent chords with
 * vertices beyond it, both ends kept. Where they must enclose it: the other way round. The largest
 * distance between chord and arc is paint->chord_error_nm.
 */
#include "geometry/flatten.h"

#include <math.h>

#define PI 3.14159265358979323846
#define LARGEST_STEP (PI / 4) /* tiny circles still get eight corners */

struct arc {
    double centre_x, centre_y; /* centred coordinates */
    double from_radius, to_radius;
    double from_angle, sweep; /* sweep signed, never 0 */
    int8_t turn;
};

static enum mesh_status to_centred(const struct paint *paint, struct pos_nm at, struct pt *out)
{
    int64_t x, y;
    if (__builtin_sub_overflow(at.x_nm, paint->origin.x_nm, &x) ||
        __builtin_sub_overflow(at.y_nm, paint->origin.y_nm, &y) || x <= -PAINT_FRAME ||
        x >= PAINT_FRAME || y <= -PAINT_FRAME || y >= PAINT_FRAME)
        return MESH_TOO_LARGE;
    *out = (struct pt){(int32_t)x, (int32_t)y};
    return MESH_OK;
}

enum mesh_status paint_add_edge(struct paint *paint, struct pt a, struct pt b, uint32_t curve)
{
    if (same_pt(a, b))
        return MESH_OK;
    if (!array_grow(&paint->edges, sizeof *paint->edges, &paint->edge_capacity,
                    paint->edge_count + 1))
        return MESH_NO_MEMORY;
    paint->edges[paint->edge_count++] = (struct paint_edge){a, b, curve};
    return MESH_OK;
}

static struct arc arc_of(const struct paint *paint, struct pt from, struct pt to,
                         const struct seg *seg)
{
    struct arc arc = {.centre_x = seg->centre_x_nm - (double)paint->origin.x_nm,
                      .centre_y = seg->centre_y_nm - (double)paint->origin.y_nm,
                      .turn = seg->turn};
    double from_x = from.x - arc.centre_x, from_y = from.y - arc.centre_y;
    double to_x = to.x - arc.centre_x, to_y = to.y - arc.centre_y;
    arc.from_radius = hypot(from_x, from_y);
    arc.to_radius = hypot(to_x, to_y);
    arc.from_angle = atan2(from_y, from_x);
    arc.sweep = same_pt(from, to) ? 0 : atan2(to_y, to_x) - arc.from_angle;
    if (seg->turn > 0 && arc.sweep <= 0)
        arc.sweep += 2 * PI;
    if (seg->turn < 0 && arc.sweep >= 0)
        arc.sweep -= 2 * PI;
    return arc;
}

/* Number of equal steps that keep the chord error. */
static unsigned step_count(const struct arc *arc, bool is_tangent, double chord_error_nm)
{
    double radius = fmax(arc->from_radius, arc->to_radius);
    double cosine = is_tangent ? radius / (radius + chord_error_nm) : 1 - chord_error_nm / radius;
    double step = cosine > 0 ? 2 * acos(cosine) : LARGEST_STEP;
    double steps = ceil(fabs(arc->sweep) / fmin(step, LARGEST_STEP) - 1e-9);
    return steps < 1 ? 1 : (unsigned)steps;
}

struct pen {
    struct paint *paint;
    struct pt at;
    uint32_t curve;
};

static enum mesh_status draw_to(struct pen *pen, struct pt to)
{
    struct pt from = pen->at;
    pen->at = to;
    return paint_add_edge(pen->paint, from, to, pen->curve);
}

static enum mesh_status draw_to_real(struct pen *pen, double x, double y)
{
    if (!(fabs(x) < PAINT_FRAME - 1) || !(fabs(y) < PAINT_FRAME - 1))
        return MESH_TOO_LARGE;
    return draw_to(pen, (struct pt){(int32_t)lround(x), (int32_t)lround(y)});
}

/* The point at a share of the sweep, its radius stretched. */
static enum mesh_status draw_to_share(struct pen *pen, const struct arc *arc, double share,
                                      double stretch)
{
    double radius = (arc->from_radius + (arc->to_radius - arc->from_radius) * share) * stretch;
    double angle = arc->from_angle + arc->sweep * share;
    return draw_to_real(pen, arc->centre_x + radius * cos(angle),
                        arc->centre_y + radius * sin(angle));
}

static enum mesh_status draw_inner(struct pen *pen, const struct arc *arc, unsigned steps)
{
    enum mesh_status status = MESH_OK;
    for (unsigned i = 1; i < steps && status == MESH_OK; i++)
        status = draw_to_share(pen, arc, (double)i / steps, 1);
    return status;
}

/* A true circle, the radius of whose ends differs by their rounding only. */
static bool is_circular(const struct arc *arc)
{
    return fabs(arc->from_radius - arc->to_radius) < 1.5 && arc->from_radius < PAINT_FRAME;
}

/*
 * Vertices on the curve at whole multiples of one step from the direction of +x, the same for every
 * arc of this centre and radius: the round ends of strokes that follow each other then share
 * vertices and edges, where they would else cross many times. The radius is taken whole, which is
 * nearer to what was drawn than what the rounded ends say.
 */
static enum mesh_status draw_lattice(struct pen *pen, const struct arc *arc, double chord_error_nm)
{
    struct arc whole = *arc;
    whole.from_radius = whole.to_radius = round((arc->from_radius + arc->to_radius) / 2);
    whole.sweep = 2 * PI;
    if (!(whole.from_radius > 0))
        return MESH_OK;
    uint32_t eighth = (step_count(&whole, false, chord_error_nm) + 7) / 8; /* axes, diagonals */
    double steps = 8.0 * eighth;
    double step = 2 * PI / steps, margin = 2 / (whole.from_radius * step);
    double low = fmin(arc->from_angle, arc->from_angle + arc->sweep) / step;
    double high = fmax(arc->from_angle, arc->from_angle + arc->sweep) / step;
    double first = floor(low + margin) + 1, last = ceil(high - margin) - 1;
    enum mesh_status status = MESH_OK;
    for (double i = 0; i <= last - first && status == MESH_OK; i++) {
        double angle = remainder(arc->turn > 0 ? first + i : last - i, steps) * step;
        status = draw_to_real(pen, arc->centre_x + whole.from_radius * cos(angle),
                              arc->centre_y + whole.from_radius * sin(angle));
    }
    return status;
}

static enum mesh_status draw_tangents(struct pen *pen, const struct arc *arc, unsigned steps)
{
    enum mesh_status status = MESH_OK;
    double stretch = 1 / cos(arc->sweep / steps / 2);
    for (unsigned i = 0; i < steps && status == MESH_OK; i++)
        status = draw_to_share(pen, arc, (i + 0.5) / steps, stretch);
    return status;
}

static enum mesh_status add_curve(struct paint *paint, const struct arc *arc, uint32_t *index)
{
    if (!array_grow(&paint->curves, sizeof *paint->curves, &paint->curve_capacity,
                    paint->curve_count + 1))
        return MESH_NO_MEMORY;
    *index = (uint32_t)paint->curve_count;
    paint->curves[paint->curve_count++] = (struct curve){arc->turn, arc->centre_x, arc->centre_y,
                                                         (arc->from_radius + arc->to_radius) / 2};
    return MESH_OK;
}

static enum mesh_status draw_arc(struct pen *pen, struct pt to, const struct seg *seg,
                                 struct flatten_rule rule)
{
    struct arc arc = arc_of(pen->paint, pen->at, to, seg);
    if (!isfinite(arc.centre_x) || !isfinite(arc.centre_y) ||
        fmax(arc.from_radius, arc.to_radius) > 1e15)
        return MESH_TOO_LARGE;
    bool is_convex = (seg->turn > 0) == rule.is_left;
    bool is_tangent = is_convex == rule.outgrows;
    enum mesh_status status = add_curve(pen->paint, &arc, &pen->curve);
    if (status != MESH_OK)
        return status;
    double chord_error_nm = pen->paint->chord_error_nm;
    unsigned steps = step_count(&arc, is_tangent, chord_error_nm);
    if (is_tangent)
        status = draw_tangents(pen, &arc, steps);
    else if (is_circular(&arc))
        status = draw_lattice(pen, &arc, chord_error_nm);
    else
        status = draw_inner(pen, &arc, steps);
    return status == MESH_OK ? draw_to(pen, to) : status;
}

enum mesh_status flatten_contour(struct paint *paint, const struct contour *contour,
                                 const struct seg *segs, struct flatten_rule rule)
{
    struct pen pen = {.paint = paint};
    struct pt start = {0, 0}, to = {0, 0};
    enum mesh_status status = to_centred(paint, contour->start, &start);
    pen.at = start;
    for (uint32_t i = 0; i < contour->seg_count && status == MESH_OK; i++) {
        const struct seg *seg = &segs[contour->first_seg + i];
        status = to_centred(paint, seg->to, &to);
        if (status != MESH_OK)
            return status;
        pen.curve = 0;
        status = seg->turn == 0 ? draw_to(&pen, to) : draw_arc(&pen, to, seg, rule);
    }
    pen.curve = 0;
    return status == MESH_OK ? draw_to(&pen, start) : status; /* already there, or made so */
}
