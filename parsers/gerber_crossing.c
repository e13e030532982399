/*
 * Does an outline cross itself? Such outlines have no agreed meaning, so the user is told; nothing
 * of the image depends on the answer, hence plain floating point and a stated tolerance.
 */
#include "gerber_private.h"

#include <math.h>
#include <stdlib.h>

/* Rounded coordinates let pieces that only touch cross by a little; less than this is told by
 * nobody, and moves no copper that matters. */
#define TOLERANCE_NM 2000.0

struct outline_piece {
    struct pos_nm from;
    const struct seg *seg;
    struct box box;
};

static double cross(struct point a, struct point b)
{
    return a.x * b.y - a.y * b.x;
}

static struct point minus(struct pos_nm a, struct pos_nm b)
{
    return (struct point){(double)(a.x_nm - b.x_nm), (double)(a.y_nm - b.y_nm)};
}

static bool is_near(struct pos_nm p, struct point q)
{
    return hypot((double)p.x_nm - q.x, (double)p.y_nm - q.y) <= TOLERANCE_NM;
}

/* Well inside the piece: away from both ends, and for an arc within its sweep. */
static bool is_inside(const struct outline_piece *p, struct point at)
{
    if (is_near(p->from, at) || is_near(p->seg->to, at))
        return false;
    struct point from = {(double)p->from.x_nm, (double)p->from.y_nm};
    struct point to = {(double)p->seg->to.x_nm, (double)p->seg->to.y_nm};
    struct point way = {to.x - from.x, to.y - from.y}, out = {at.x - from.x, at.y - from.y};
    if (p->seg->turn == 0) {
        double along = way.x * out.x + way.y * out.y;
        return along > 0 && along < way.x * way.x + way.y * way.y;
    }
    if (way.x == 0 && way.y == 0)
        return true; /* a full circle */
    /* A counterclockwise arc lies to the right of its chord. */
    return cross(way, out) * p->seg->turn < 0;
}

static bool lines_cross(const struct outline_piece *p, const struct outline_piece *q,
                        struct point *at)
{
    struct point d = minus(p->seg->to, p->from), e = minus(q->seg->to, q->from);
    double before = cross(d, minus(q->from, p->from)), after = cross(d, minus(q->seg->to, p->from));
    double depth = TOLERANCE_NM * hypot(d.x, d.y);
    if (before * after >= 0 || fabs(before) <= depth || fabs(after) <= depth)
        return false;
    double part = before / (before - after);
    *at = (struct point){(double)q->from.x_nm + part * e.x, (double)q->from.y_nm + part * e.y};
    return is_inside(p, *at);
}

static double radius_of(const struct outline_piece *p)
{
    return hypot((double)p->from.x_nm - p->seg->centre_x_nm,
                 (double)p->from.y_nm - p->seg->centre_y_nm);
}

static bool line_crosses_arc(const struct outline_piece *line, const struct outline_piece *arc,
                             struct point *at)
{
    struct point d = minus(line->seg->to, line->from);
    struct point out = {(double)line->from.x_nm - arc->seg->centre_x_nm,
                        (double)line->from.y_nm - arc->seg->centre_y_nm};
    double length = hypot(d.x, d.y), r = radius_of(arc);
    if (length == 0)
        return false;
    double distance = fabs(cross(d, out)) / length;
    if (distance > r - TOLERANCE_NM)
        return false; /* apart or tangent */
    double foot = -(out.x * d.x + out.y * d.y) / length, half = sqrt(r * r - distance * distance);
    for (int sign = -1; sign <= 1; sign += 2) {
        double along = (foot + sign * half) / length;
        *at = (struct point){(double)line->from.x_nm + along * d.x,
                             (double)line->from.y_nm + along * d.y};
        if (is_inside(line, *at) && is_inside(arc, *at))
            return true;
    }
    return false;
}

static bool arcs_cross(const struct outline_piece *p, const struct outline_piece *q,
                       struct point *at)
{
    double r = radius_of(p), s = radius_of(q);
    struct point d = {q->seg->centre_x_nm - p->seg->centre_x_nm,
                      q->seg->centre_y_nm - p->seg->centre_y_nm};
    double distance = hypot(d.x, d.y);
    if (distance > r + s - TOLERANCE_NM || distance < fabs(r - s) + TOLERANCE_NM)
        return false;
    double along = (distance * distance + r * r - s * s) / (2 * distance);
    double half = sqrt(fmax(0, r * r - along * along));
    struct point u = {d.x / distance, d.y / distance};
    for (int sign = -1; sign <= 1; sign += 2) {
        *at = (struct point){p->seg->centre_x_nm + along * u.x - sign * half * u.y,
                             p->seg->centre_y_nm + along * u.y + sign * half * u.x};
        if (is_inside(p, *at) && is_inside(q, *at))
            return true;
    }
    return false;
}

static bool pieces_cross(const struct outline_piece *p, const struct outline_piece *q,
                         struct point *at)
{
    if (p->seg->turn && q->seg->turn)
        return arcs_cross(p, q, at);
    if (q->seg->turn)
        return line_crosses_arc(p, q, at);
    return p->seg->turn ? line_crosses_arc(q, p, at) : lines_cross(p, q, at);
}

static int by_left_side(const void *a, const void *b)
{
    int64_t x = ((const struct outline_piece *)a)->box.min.x_nm;
    int64_t y = ((const struct outline_piece *)b)->box.min.x_nm;
    return (x > y) - (x < y);
}

static size_t collect(struct gerber *g, const struct contour *contour, const struct seg *segs)
{
    if (!array_grow(&g->outline, sizeof *g->outline, &g->outline_capacity, contour->seg_count)) {
        g->is_out_of_memory = true;
        return 0;
    }
    struct pos_nm from = contour->start;
    for (uint32_t i = 0; i < contour->seg_count; i++) {
        struct outline_piece *piece = &g->outline[i];
        *piece = (struct outline_piece){.from = from, .seg = &segs[contour->first_seg + i]};
        piece->box = (struct box){.min = from, .max = from};
        box_add_seg(&piece->box, from, piece->seg);
        from = piece->seg->to;
    }
    qsort(g->outline, contour->seg_count, sizeof *g->outline, by_left_side);
    return contour->seg_count;
}

static bool do_heights_meet(const struct box *a, const struct box *b)
{
    return a->min.y_nm <= b->max.y_nm && b->min.y_nm <= a->max.y_nm;
}

/* Pieces by their left side; each is held against those that begin before its right side. */
bool gerber_crosses_itself(struct gerber *g, const struct contour *contour, const struct seg *segs,
                           struct pos_nm *where)
{
    struct point at;
    size_t count = contour->seg_count < 4 ? 0 : collect(g, contour, segs);
    for (size_t i = 0; i < count; i++) {
        const struct outline_piece *p = &g->outline[i];
        for (size_t k = i + 1; k < count && g->outline[k].box.min.x_nm <= p->box.max.x_nm; k++) {
            if (g->crossing_work_left == 0) {
                gerber_odd(g, g->region.offset, ODD_NOT_LOOKED_AT,
                           "outlines too long to look whether they cross themselves");
                return false;
            }
            g->crossing_work_left--;
            if (do_heights_meet(&p->box, &g->outline[k].box) &&
                pieces_cross(p, &g->outline[k], &at)) {
                *where = (struct pos_nm){llround(at.x), llround(at.y)};
                return true;
            }
        }
    }
    return false;
}
