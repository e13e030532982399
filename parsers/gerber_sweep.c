/*
 * A shape swept along a straight line: the Minkowski sum of the shape and the line, exactly.
 *
 * A convex outline splits into the part that looks ahead, which moves, and the part that looks
 * back, which stays; two lines parallel to the way join them. Any other shape gives its copies at
 * both ends and the area that each piece of its outline passes over: a point that the shape passes
 * over without holding it at either end is left across the outline.
 *
 * Arcs are split where their tangent is parallel to the way, so that each piece looks to one side.
 */
#include "gerber_private.h"

#include <math.h>

struct piece { /* of an outline */
    struct pos_nm a, b;
    struct point centre;
    int turn;
    double side; /* > 0: the way points to the left of the piece; 0: along it */
};
struct sweep {
    struct gerber *g;
    struct pos_nm way;
    void (*visit)(struct sweep *sweep, const struct piece *piece);
    /* convex outlines */
    bool is_clockwise, has_begun, is_moved;
    struct pos_nm start;
};

static struct pos_nm moved(struct pos_nm p, struct pos_nm by)
{
    return (struct pos_nm){p.x_nm + by.x_nm, p.y_nm + by.y_nm};
}

static bool is_same(struct pos_nm a, struct pos_nm b)
{
    return a.x_nm == b.x_nm && a.y_nm == b.y_nm;
}

static double side_of(struct point along, struct pos_nm way)
{
    return along.x * (double)way.y_nm - along.y * (double)way.x_nm;
}

/* ---- the outline in pieces ---- */
static double angle_from(double first, double angle, int turn)
{
    double between = fmod((angle - first) * turn, 2 * M_PI);
    return between < 0 ? between + 2 * M_PI : between;
}

static void visit_line(struct sweep *sweep, struct pos_nm a, struct pos_nm b)
{
    struct point along = {(double)(b.x_nm - a.x_nm), (double)(b.y_nm - a.y_nm)};
    struct piece piece = {.a = a, .b = b, .side = side_of(along, sweep->way)};
    sweep->visit(sweep, &piece);
}

/* Angles, counted from the arc's start along it, where the tangent is parallel to the way. */
static void find_cuts(const struct sweep *sweep, double first, int turn, double cut[2])
{
    double normal = atan2((double)sweep->way.x_nm, -(double)sweep->way.y_nm);
    double a = angle_from(first, normal, turn), b = angle_from(first, normal + M_PI, turn);
    cut[0] = fmin(a, b);
    cut[1] = fmax(a, b);
}

static void visit_arc(struct sweep *sweep, struct pos_nm a, const struct seg *seg)
{
    struct piece piece = {
        .a = a, .centre = {seg->centre_x_nm, seg->centre_y_nm}, .turn = seg->turn};
    struct point from = {(double)a.x_nm - piece.centre.x, (double)a.y_nm - piece.centre.y};
    struct point to = {(double)seg->to.x_nm - piece.centre.x,
                       (double)seg->to.y_nm - piece.centre.y};
    double first = atan2(from.y, from.x), radius = hypot(from.x, from.y), at = 0, cut[2];
    double end = is_same(a, seg->to) ? 2 * M_PI : angle_from(first, atan2(to.y, to.x), seg->turn);
    find_cuts(sweep, first, seg->turn, cut);
    for (int i = 0; i < 3; i++) {
        double next = i < 2 && cut[i] < end ? cut[i] : end;
        if (next <= at)
            continue;
        double angle = first + seg->turn * next, mid = first + seg->turn * (at + next) / 2;
        struct point cut_at = {piece.centre.x + radius * cos(angle),
                               piece.centre.y + radius * sin(angle)};
        piece.b = next == end ? seg->to : gerber_round_point(sweep->g, cut_at);
        struct point tangent = {-seg->turn * sin(mid), seg->turn * cos(mid)};
        piece.side = side_of(tangent, sweep->way);
        if (!is_same(piece.a, piece.b))
            sweep->visit(sweep, &piece);
        piece.a = piece.b;
        at = next;
    }
}

static void visit_contour(struct sweep *sweep, const struct contour *contour,
                          const struct seg *segs, struct pos_nm by)
{
    struct pos_nm a = moved(contour->start, by);
    for (uint32_t i = 0; i < contour->seg_count; i++) {
        struct seg seg = segs[contour->first_seg + i];
        seg.to = moved(seg.to, by);
        seg.centre_x_nm += (double)by.x_nm;
        seg.centre_y_nm += (double)by.y_nm;
        if (seg.turn)
            visit_arc(sweep, a, &seg);
        else
            visit_line(sweep, a, seg.to);
        a = seg.to;
    }
}

/* ---- convex: one contour ---- */
static void visit_convex(struct sweep *s, const struct piece *p)
{
    struct area *area = &s->g->sheet->area;
    static const struct pos_nm nowhere = {0, 0};
    bool is_moved = s->is_clockwise ? p->side > 0 : p->side < 0;
    struct pos_nm by = is_moved ? s->way : nowhere;
    struct pos_nm a = moved(p->a, by);
    if (!s->has_begun) {
        s->has_begun = true;
        s->start = a;
        area_begin(s->g, area, a);
    } else if (is_moved != s->is_moved) {
        area_line(s->g, area, a);
    }
    s->is_moved = is_moved;
    struct point centre = {p->centre.x + (double)by.x_nm, p->centre.y + (double)by.y_nm};
    area_arc(s->g, area, moved(p->b, by), centre, p->turn);
}

static void sweep_convex(struct gerber *g, const struct area *shape, struct pos_nm from,
                         struct pos_nm way)
{
    struct sweep sweep = {
        .g = g, .way = way, .visit = visit_convex, .is_clockwise = transform_flips(&g->transform)};
    struct area *area = &g->sheet->area;
    area_fill(g, area, true);
    visit_contour(&sweep, shape->contours, shape->segs, from);
    if (g->is_out_of_memory || g->is_too_large || !sweep.has_begun)
        return;
    if (!is_same(area->segs[area->seg_count - 1].to, sweep.start))
        area_line(g, area, sweep.start);
}

/* ---- any shape: what each piece passes over, counterclockwise ---- */
static void visit_any(struct sweep *s, const struct piece *p)
{
    struct gerber *g = s->g;
    struct area *area = &g->sheet->area;
    struct point far = {p->centre.x + (double)s->way.x_nm, p->centre.y + (double)s->way.y_nm};
    if (p->side == 0)
        return;
    area_begin(g, area, p->a);
    if (p->side > 0) {
        area_arc(g, area, p->b, p->centre, p->turn);
        area_line(g, area, moved(p->b, s->way));
        area_arc(g, area, moved(p->a, s->way), far, -p->turn);
        area_line(g, area, p->a);
    } else {
        area_line(g, area, moved(p->a, s->way));
        area_arc(g, area, moved(p->b, s->way), far, p->turn);
        area_line(g, area, p->b);
        area_arc(g, area, p->a, p->centre, -p->turn);
    }
}

static void sweep_any(struct gerber *g, const struct area *shape, struct pos_nm from,
                      struct pos_nm way)
{
    struct sweep sweep = {.g = g, .way = way, .visit = visit_any};
    struct area *area = &g->sheet->area;
    area_append(g, area, shape, 0, shape->fill_count, moved(from, way));
    area_fill(g, area, true);
    for (size_t c = 0; c < shape->contour_count; c++)
        visit_contour(&sweep, &shape->contours[c], shape->segs, from);
}

void gerber_sweep(struct gerber *g, const struct area *shape, bool is_convex, struct pos_nm from,
                  struct pos_nm to)
{
    struct area *area = &g->sheet->area;
    struct object *object = &g->sheet->objects[g->sheet->object_count - 1];
    struct pos_nm way = {to.x_nm - from.x_nm, to.y_nm - from.y_nm};
    bool is_point = way.x_nm == 0 && way.y_nm == 0;
    if (is_convex && !is_point && shape->contour_count == 1) {
        sweep_convex(g, shape, from, way);
    } else {
        area_append(g, area, shape, 0, shape->fill_count, from);
        if (!is_point && shape->fill_count)
            sweep_any(g, shape, from, way);
    }
    object->fill_count = (uint32_t)(area->fill_count - object->first_fill);
}
