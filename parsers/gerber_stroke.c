/*
 * Strokes: what a circle covers while it moves along a line or an arc; other shapes are swept in
 * gerber_sweep.c. All contours run counterclockwise, so that the nonzero winding rule unites them.
 */
#include "gerber_private.h"

#include <math.h>

/* What is narrower has no two sides left after rounding: as good as no size. */
#define LEAST_RADIUS_NM 0.75

static struct pos_nm moved(struct pos_nm p, struct pos_nm by)
{
    return (struct pos_nm){p.x_nm + by.x_nm, p.y_nm + by.y_nm};
}

static struct point to_point(struct pos_nm p)
{
    return (struct point){(double)p.x_nm, (double)p.y_nm};
}

static struct object *begin_stroke(struct gerber *g, enum object_kind kind, struct pos_nm from,
                                   struct pos_nm to)
{
    struct object *object = sheet_object(g, kind);
    if (object) {
        object->from = from;
        object->to = to;
    }
    return object;
}

static void begin_fill(struct gerber *g, struct object *object)
{
    area_fill(g, &g->sheet->area, true);
    object->fill_count = (uint32_t)(g->sheet->area.fill_count - object->first_fill);
}

/* ---- circles ---- */
static double circle_radius(const struct gerber *g, const struct tool *tool)
{
    return (double)tool->info.width_nm / 2 * g->transform.scale;
}

/* Along the right side, half round the end, back along the left side, half round the start. */
static void add_stadium(struct gerber *g, struct pos_nm from, struct pos_nm to, double radius)
{
    double dx = (double)(to.x_nm - from.x_nm), dy = (double)(to.y_nm - from.y_nm);
    double length = sqrt(dx * dx + dy * dy);
    struct pos_nm left =
        gerber_round_point(g, (struct point){-dy / length * radius, dx / length * radius});
    struct pos_nm right = {-left.x_nm, -left.y_nm};
    struct area *area = &g->sheet->area;
    area_begin(g, area, moved(from, right));
    struct seg *seg = area_segs(g, area, 4);
    if (!seg)
        return;
    seg[0] = (struct seg){.to = moved(to, right)};
    seg[1] = (struct seg){.to = moved(to, left),
                          .turn = 1,
                          .centre_x_nm = (double)to.x_nm,
                          .centre_y_nm = (double)to.y_nm};
    seg[2] = (struct seg){.to = moved(from, left)};
    seg[3] = (struct seg){.to = moved(from, right),
                          .turn = 1,
                          .centre_x_nm = (double)from.x_nm,
                          .centre_y_nm = (double)from.y_nm};
}

static bool is_same(struct pos_nm a, struct pos_nm b)
{
    return a.x_nm == b.x_nm && a.y_nm == b.y_nm;
}

/*
 * A round hole of a moving circle stays open only where the holes at both ends overlap: every
 * point of the outer circle's way leaves the hole before it leaves the circle.
 */
static void add_common_hole(struct gerber *g, struct pos_nm from, struct pos_nm to, double radius)
{
    struct point a = to_point(from), b = to_point(to);
    double dx = b.x - a.x, dy = b.y - a.y, d = hypot(dx, dy);
    if (d == 0) {
        struct pos_nm start = gerber_round_point(g, (struct point){a.x + radius, a.y});
        area_begin(g, &g->sheet->area, start);
        area_arc(g, &g->sheet->area, start, a, -1);
        return;
    }
    if (d >= 2 * radius)
        return;
    double half = sqrt(radius * radius - d * d / 4);
    if (half < LEAST_RADIUS_NM)
        return;
    struct point mid = {(a.x + b.x) / 2, (a.y + b.y) / 2};
    struct pos_nm left =
        gerber_round_point(g, (struct point){mid.x - dy / d * half, mid.y + dx / d * half});
    struct pos_nm right =
        gerber_round_point(g, (struct point){mid.x + dy / d * half, mid.y - dx / d * half});
    area_begin(g, &g->sheet->area, left);
    area_arc(g, &g->sheet->area, right, a, -1);
    area_arc(g, &g->sheet->area, left, b, -1);
}

static void stroke_circle(struct gerber *g, const struct tool *tool, struct pos_nm from,
                          struct pos_nm to)
{
    struct object *object = begin_stroke(g, OBJECT_STROKE, from, to);
    double radius = circle_radius(g, tool);
    if (!object || radius < LEAST_RADIUS_NM)
        return;
    begin_fill(g, object);
    if (is_same(from, to))
        area_circle(g, &g->sheet->area, to_point(to), radius);
    else
        add_stadium(g, from, to, radius);
    if (tool->info.hole_nm)
        add_common_hole(g, from, to, (double)tool->info.hole_nm / 2 * g->transform.scale);
}

/* ---- circles along arcs ---- */
static struct pos_nm on_ray(struct gerber *g, struct point centre, struct point through,
                            double radius)
{
    double dx = through.x - centre.x, dy = through.y - centre.y, d = hypot(dx, dy);
    return gerber_round_point(
        g, (struct point){centre.x + dx / d * radius, centre.y + dy / d * radius});
}

static void add_ring(struct gerber *g, const struct arc *arc, struct point through, double half)
{
    struct area *area = &g->sheet->area;
    struct pos_nm outer = on_ray(g, arc->centre, through, arc->radius_from + half);
    area_begin(g, area, outer);
    area_arc(g, area, outer, arc->centre, 1);
    if (arc->radius_from - half < 0.5)
        return;
    struct pos_nm inner = on_ray(g, arc->centre, through, arc->radius_from - half);
    area_begin(g, area, inner);
    area_arc(g, area, inner, arc->centre, -1);
}

/* The band of a radius larger than the half width: outer arc, cap, inner arc, cap. Where the caps
 * overlap the winding is 2, which is as good as 1. */
static void add_band(struct gerber *g, const struct arc *arc, struct point a, struct point b,
                     double ra, double rb, double half)
{
    struct area *area = &g->sheet->area;
    struct pos_nm outer_a = on_ray(g, arc->centre, a, ra + half);
    struct pos_nm inner_a = on_ray(g, arc->centre, a, ra - half);
    struct pos_nm outer_b = on_ray(g, arc->centre, b, rb + half);
    struct pos_nm inner_b = on_ray(g, arc->centre, b, rb - half);
    bool is_long = arc->sweep_rad > M_PI;
    area_begin(g, area, outer_a);
    area_open_arc(g, area, outer_a, outer_b, arc->centre, 1, is_long);
    area_arc(g, area, inner_b, b, 1);
    area_open_arc(g, area, inner_b, inner_a, arc->centre, -1, is_long);
    area_arc(g, area, outer_a, a, 1);
}

/* A radius no larger than the half width: the slice out to the outer arc and a circle at each
 * end. What lies beyond the slice is nearest to an end, so nothing else is covered. */
static void add_slice(struct gerber *g, const struct arc *arc, struct point a, struct point b,
                      double ra, double rb, double half)
{
    struct area *area = &g->sheet->area;
    struct pos_nm apex = gerber_round_point(g, arc->centre);
    struct pos_nm outer_a = on_ray(g, arc->centre, a, ra + half);
    struct pos_nm outer_b = on_ray(g, arc->centre, b, rb + half);
    area_begin(g, area, apex);
    area_line(g, area, outer_a);
    area_open_arc(g, area, outer_a, outer_b, arc->centre, 1, arc->sweep_rad > M_PI);
    area_line(g, area, apex);
    area_circle(g, area, a, half);
    area_circle(g, area, b, half);
}

static void add_arc_stroke(struct gerber *g, struct point from, struct point to,
                           const struct arc *arc, double half)
{
    bool is_forward = arc->turn > 0;
    struct point a = is_forward ? from : to, b = is_forward ? to : from;
    double ra = is_forward ? arc->radius_from : arc->radius_to;
    double rb = is_forward ? arc->radius_to : arc->radius_from;
    if ((ra <= half + 0.5) != (rb <= half + 0.5))
        ra = rb = (ra + rb) / 2;
    if (ra > half + 0.5)
        add_band(g, arc, a, b, ra, rb, half);
    else
        add_slice(g, arc, a, b, ra, rb, half);
}

static bool tell_arc_aperture(struct gerber *g, const char *why)
{
    gerber_error(g, g->word_offset, "gerber-arc-aperture",
                 "export again with round apertures for arcs", "%s draws an arc with %s",
                 gerber_quote_word(g, g->word_offset), why);
    return false;
}

static bool may_draw_arc(struct gerber *g, const struct tool *tool, struct pos_nm from,
                         struct pos_nm to, const struct arc *arc)
{
    if (!gerber_tool_is_circle(tool))
        return tell_arc_aperture(g, "an aperture that is not a circle");
    double hole = (double)tool->info.hole_nm * g->transform.scale;
    double chord = hypot((double)(to.x_nm - from.x_nm), (double)(to.y_nm - from.y_nm));
    if (hole > 0 && chord < hole && !arc->is_full)
        return tell_arc_aperture(g, "a hole larger than the arc is long");
    return true;
}

void gerber_stroke_arc(struct gerber *g, struct pos_nm from, struct pos_nm to,
                       const struct arc *arc)
{
    if (arc->is_point) {
        gerber_stroke(g, from, to);
        return;
    }
    struct tool *tool = &g->tools[g->tool];
    gerber_build_tool(g, tool);
    if (tool->is_broken || !may_draw_arc(g, tool, from, to, arc))
        return;
    struct object *object = begin_stroke(g, OBJECT_ARC_STROKE, from, to);
    if (!object)
        return;
    object->turn = (int8_t)arc->turn;
    object->centre_x_nm = arc->centre.x;
    object->centre_y_nm = arc->centre.y;
    double half = circle_radius(g, tool);
    if (half < LEAST_RADIUS_NM)
        return;
    begin_fill(g, object);
    if (arc->is_full)
        add_ring(g, arc, to_point(from), half);
    else
        add_arc_stroke(g, to_point(from), to_point(to), arc, half);
}

/* ---- either ---- */
static bool only_adds(const struct area *shape)
{
    for (size_t f = 0; f < shape->fill_count; f++)
        if (!shape->fills[f].adds)
            return false;
    return true;
}

/* The templates without a hole; a macro's outline may be anything. */
static bool is_convex(const struct tool *tool)
{
    return tool->letter != 'M' && tool->shape.contour_count == 1;
}

void gerber_stroke(struct gerber *g, struct pos_nm from, struct pos_nm to)
{
    struct tool *tool = &g->tools[g->tool];
    gerber_build_tool(g, tool);
    if (tool->is_broken)
        return;
    if (gerber_tool_is_circle(tool)) {
        stroke_circle(g, tool, from, to);
        return;
    }
    if (tool->info.kind == APERTURE_BLOCK) {
        gerber_error(g, g->word_offset, "gerber-stroke-block", "export again",
                     "%s draws a line with a block aperture: it can only be flashed",
                     gerber_quote_word(g, g->word_offset));
        return;
    }
    const struct area *shape = gerber_tool_area(g, tool);
    if (!shape)
        return;
    if (!only_adds(shape) && !is_same(from, to)) {
        gerber_error(g, g->word_offset, "gerber-stroke-aperture",
                     "export again with round apertures for lines",
                     "%s draws a line with a macro that erases: there is no agreed result",
                     gerber_quote_word(g, g->word_offset));
        return;
    }
    gerber_odd(g, g->word_offset, ODD_ODD_APERTURE_STROKE,
               "lines drawn with an aperture that is not round (deprecated)");
    struct object *object = begin_stroke(g, OBJECT_STROKE, from, to);
    if (object)
        gerber_sweep(g, shape, is_convex(tool), from, to);
}
