/*
 * True lengths: the outline in the mesh is flattened, and always on the cautious side (its copper
 * lies within the true copper). A piece between two such outlines is therefore never longer than
 * the true one; and no true piece is shorter than the distance of the full circles and lines that
 * its ends lie on. The larger of these two lower bounds is what we report.
 */
#include "neck/taut.h"

#include <math.h>

enum support { SUPPORT_POINT, SUPPORT_LINE, SUPPORT_ROUND_HOLE, SUPPORT_ROUND_COPPER };
struct end {
    enum support support;
    double x, y;                             /* where the flattened piece ends, not rounded */
    double centre_x, centre_y, radius;       /* the true circle */
    double line_x, line_y, line_dx, line_dy; /* the true line, dx dy of length 1 */
};

static const struct curve *curve_of(const struct domain *domain, uint32_t tri, unsigned side)
{
    uint32_t bound = domain->bound[tri][side];
    if (!domain->sheet->curves || bound == ISTHMUS_NONE)
        return NULL;
    const struct sheet_bound *of = &domain->sheet->mesh->bounds[bound];
    return of->curve == ISTHMUS_NONE ? NULL : &domain->sheet->curves[of->curve];
}

/* Does the flattened edge lie on its circle, but for the height of its arc and the rounding? */
static bool is_near_circle(struct pt a, struct pt b, const struct curve *curve)
{
    double chord = hypot((double)b.x - a.x, (double)b.y - a.y);
    double height = chord * chord / (4 * curve->radius) + 3;
    double to_a = hypot(a.x - curve->centre_x, a.y - curve->centre_y) - curve->radius;
    double to_b = hypot(b.x - curve->centre_x, b.y - curve->centre_y) - curve->radius;
    return fabs(to_a) <= height && fabs(to_b) <= height;
}

/* Makes end a circle when the boundary edge comes from one. */
static void set_circle(const struct domain *domain, uint32_t tri, unsigned side, struct end *end)
{
    const struct curve *curve = curve_of(domain, tri, side);
    struct pt a = domain->points[domain->corner[tri][next_corner(side)]];
    struct pt b = domain->points[domain->corner[tri][previous_corner(side)]];
    if (!curve || curve->turn == 0 || !(curve->radius > 0) || !is_near_circle(a, b, curve))
        return;
    double left = ((double)b.x - a.x) * (curve->centre_y - a.y) -
                  ((double)b.y - a.y) * (curve->centre_x - a.x);
    end->support = left < 0 ? SUPPORT_ROUND_HOLE : SUPPORT_ROUND_COPPER;
    end->centre_x = curve->centre_x;
    end->centre_y = curve->centre_y;
    end->radius = curve->radius;
}

static bool is_same_circle(const struct curve *a, const struct curve *b)
{
    return a && b && a->turn != 0 && b->turn != 0 &&
           hypot(a->centre_x - b->centre_x, a->centre_y - b->centre_y) < 1 &&
           fabs(a->radius - b->radius) < 1;
}

/* At a right angle or more from the edge, but for the rounding of the other end. */
static bool is_beside(struct pt at, struct pt edge_end, struct pt other)
{
    return (double)dot(at, edge_end, other) <= 2 * sqrt((double)distance2(at, edge_end));
}

/* A vertex stands for its circle only where the piece ends on it as on any boundary. */
static struct end vertex_end(const struct domain *domain, uint32_t vertex, struct pt other)
{
    const struct domain_vertex *v = &domain->vertices[vertex];
    struct pt at = domain->points[vertex];
    struct end end = {.support = SUPPORT_POINT, .x = at.x, .y = at.y};
    if (!v->is_boundary || v->is_pinch)
        return end;
    struct pt next = domain->points[domain->corner[v->out_tri][previous_corner(v->out_side)]];
    struct pt before = domain->points[domain->corner[v->in_tri][next_corner(v->in_side)]];
    bool is_end = is_beside(at, next, other) && is_beside(at, before, other);
    if (is_end && is_same_circle(curve_of(domain, v->out_tri, v->out_side),
                                 curve_of(domain, v->in_tri, v->in_side)))
        set_circle(domain, v->out_tri, v->out_side, &end);
    return end;
}

static struct end foot_end(const struct domain *domain, const struct chord *chord)
{
    struct pt a = domain->points[domain->corner[chord->foot_tri][next_corner(chord->foot_side)]];
    struct pt b =
        domain->points[domain->corner[chord->foot_tri][previous_corner(chord->foot_side)]];
    struct pt edge = direction(a, b);
    double length2 = (double)along(edge, edge), length = sqrt(length2);
    double t = (double)dot(a, b, chord->a) / length2;
    struct end end = {.support = SUPPORT_LINE,
                      .x = a.x + t * edge.x,
                      .y = a.y + t * edge.y,
                      .line_x = a.x,
                      .line_y = a.y,
                      .line_dx = edge.x / length,
                      .line_dy = edge.y / length};
    const struct curve *curve = curve_of(domain, chord->foot_tri, chord->foot_side);
    if (curve && curve->turn != 0)
        end.support = SUPPORT_POINT; /* unless it lies on its circle: */
    set_circle(domain, chord->foot_tri, chord->foot_side, &end);
    return end;
}

static bool is_circle(const struct end *end)
{
    return end->support == SUPPORT_ROUND_HOLE || end->support == SUPPORT_ROUND_COPPER;
}

static double centre_to(const struct end *circle, double x, double y)
{
    return hypot(circle->centre_x - x, circle->centre_y - y);
}

/* Distance of a circle and whatever the other end lies on; -INFINITY where no bound is known. */
static double circle_distance(const struct end *circle, const struct end *other)
{
    double sign = circle->support == SUPPORT_ROUND_HOLE ? 1 : -1;
    if (other->support == SUPPORT_POINT)
        return sign * (centre_to(circle, other->x, other->y) - circle->radius);
    if (other->support == SUPPORT_LINE) {
        /* The copper lies to the left of the line. */
        double left = other->line_dx * (circle->centre_y - other->line_y) -
                      other->line_dy * (circle->centre_x - other->line_x);
        return sign > 0 ? left - circle->radius : -INFINITY;
    }
    double centres = centre_to(circle, other->centre_x, other->centre_y);
    if (circle->support == SUPPORT_ROUND_HOLE && other->support == SUPPORT_ROUND_HOLE)
        return centres - circle->radius - other->radius;
    if (circle->support == SUPPORT_ROUND_COPPER && other->support == SUPPORT_ROUND_COPPER)
        return -INFINITY;
    const struct end *outer = circle->support == SUPPORT_ROUND_COPPER ? circle : other;
    const struct end *inner = outer == circle ? other : circle;
    return outer->radius - centres - inner->radius;
}

double taut_edge_length_nm(const struct domain *domain, uint32_t tri, unsigned side, struct pt a,
                           struct pt b)
{
    const struct curve *curve = curve_of(domain, tri, side);
    struct pt from = domain->points[domain->corner[tri][next_corner(side)]];
    struct pt to = domain->points[domain->corner[tri][previous_corner(side)]];
    if (!curve || curve->turn == 0 || !(curve->radius > 0) || !is_near_circle(from, to, curve))
        return hypot((double)b.x - a.x, (double)b.y - a.y);
    double ax = a.x - curve->centre_x, ay = a.y - curve->centre_y;
    double bx = b.x - curve->centre_x, by = b.y - curve->centre_y;
    return curve->radius * fabs(atan2(ax * by - ay * bx, ax * bx + ay * by));
}

/*
 * A piece that goes round a plated hole leaves a corner of the rim's chords, outside the circle. By
 * how much is it longer than the tangent to the circle and the arc from there to the corner's
 * direction (below 0: that arc is counted with the rim's)? 0 where it ends otherwise.
 */
static double bend_excess_nm(const struct domain *domain, uint32_t vertex, struct pt other)
{
    const struct domain_vertex *v = &domain->vertices[vertex];
    if (!v->is_boundary || v->is_pinch ||
        domain_bound_kind(domain, v->out_tri, v->out_side) != BOUND_RIM ||
        vertex_end(domain, vertex, other).support != SUPPORT_POINT)
        return 0;
    const struct curve *curve = curve_of(domain, v->out_tri, v->out_side);
    if (!is_same_circle(curve, curve_of(domain, v->in_tri, v->in_side)))
        return 0;
    struct pt at = domain->points[vertex];
    struct pt next = domain->points[domain->corner[v->out_tri][previous_corner(v->out_side)]];
    double vx = at.x - curve->centre_x, vy = at.y - curve->centre_y;
    double ox = other.x - curve->centre_x, oy = other.y - curve->centre_y;
    double far = hypot(ox, oy), radius = curve->radius;
    if (!(far > radius) || !is_near_circle(at, next, curve))
        return 0;
    double tangent = sqrt((far - radius) * (far + radius));
    double angle = fabs(atan2(vx * oy - vy * ox, vx * ox + vy * oy));
    return hypot(ox - vx, oy - vy) - tangent - radius * (angle - acos(radius / far));
}

double taut_true_length_nm(const struct domain *domain, const struct chord *chord)
{
    struct end a = vertex_end(domain, chord->vertex_a, chord->b);
    struct end b = chord->vertex_b != ISTHMUS_NONE ? vertex_end(domain, chord->vertex_b, chord->a)
                                                   : foot_end(domain, chord);
    double flat = hypot(a.x - b.x, a.y - b.y);
    double exact = -INFINITY;
    if (is_circle(&a))
        exact = circle_distance(&a, &b);
    else if (is_circle(&b))
        exact = circle_distance(&b, &a);
    double bends = bend_excess_nm(domain, chord->vertex_a, chord->b);
    if (chord->vertex_b != ISTHMUS_NONE)
        bends += bend_excess_nm(domain, chord->vertex_b, chord->a);
    return fmax(0, fmax(flat, exact) - bends);
}
