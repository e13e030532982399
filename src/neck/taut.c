/* Finds every taut piece by walking the visible part of each cone, triangle by triangle. */
#include "neck/taut.h"

#include <math.h>
#include <stdlib.h>

#define BYPASS_ROUNDING_NM 0.1 /* of the places where directions meet sides */

/*
 * The chain of vertices on one side of what is seen, as far as it has come: how cheaply its last
 * vertex is reached from the eye, along the chain (free where it follows free boundary, for the
 * worth of its wall along a plated hole's rim) or straight. An upper bound of what
 * taut_drop_dominated would find.
 */
struct bank {
    double least_nm;
    double at_rim_nm; /* least before the rim that the last edge runs along */
    uint32_t rim;     /* its hole, or ISTHMUS_NONE */
};
/*
 * What is seen of side `side` of `tri`, from inside tri, between two directions. A border that
 * touches a boundary vertex on its way does not count: what lies on it behind that vertex is
 * reached in two pieces, by way of the vertex.
 */
struct view {
    struct pt lo, hi;
    uint32_t tri;
    uint8_t side;
    bool is_lo_touched, is_hi_touched;
    struct bank left, right; /* at the ends of the side */
};
struct view_stack {
    struct view *items;
    size_t count, capacity;
};
struct search {
    const struct domain *domain;
    struct chord_list *out;
    struct view_stack stack;
    uint32_t vertex; /* looked from */
    struct pt eye;
    double reach_nm;
    size_t limit;
    bool has_bypassed; /* pieces that a way beside them is shorter than are wanted, too */
    bool is_out_of_memory;
};

static struct pt seen_at(const struct search *search, uint32_t vertex)
{
    return direction(search->eye, search->domain->points[vertex]);
}

static void push(struct search *search, struct view view)
{
    struct view_stack *stack = &search->stack;
    if (!array_grow(&stack->items, sizeof *stack->items, &stack->capacity, stack->count + 1)) {
        search->is_out_of_memory = true;
        return;
    }
    stack->items[stack->count++] = view;
}

static void add_chord(struct search *search, const struct chord *chord)
{
    struct chord_list *out = search->out;
    if (out->count >= search->limit) {
        out->is_over_limit = true;
        return;
    }
    if (!array_grow(&out->items, sizeof *out->items, &out->capacity, out->count + 1)) {
        search->is_out_of_memory = true;
        return;
    }
    out->items[out->count++] = *chord;
}

/* hypot() guards against overflow, which no difference of coordinates comes near. */
static double length_of(double x, double y)
{
    return sqrt(x * x + y * y);
}

/* Does the way there run along the boundary from the start? Then it costs nothing anyway. */
static bool is_along_boundary(const struct search *search, struct pt seen)
{
    const struct domain *domain = search->domain;
    const struct domain_vertex *v = &domain->vertices[search->vertex];
    if (!v->is_boundary)
        return false;
    uint32_t next = domain->corner[v->out_tri][previous_corner(v->out_side)];
    uint32_t before = domain->corner[v->in_tri][next_corner(v->in_side)];
    return is_same_way(seen, seen_at(search, next)) || is_same_way(seen, seen_at(search, before));
}

static bool shows(const struct view *view, struct pt d)
{
    return cone_holds(view->lo, view->hi, d) &&
           !(view->is_lo_touched && is_same_way(view->lo, d)) &&
           !(view->is_hi_touched && is_same_way(view->hi, d));
}

static void consider_vertex(struct search *search, uint32_t vertex)
{
    const struct domain *domain = search->domain;
    struct pt seen = seen_at(search, vertex);
    if (is_along_boundary(search, seen))
        return;
    if (length_of(seen.x, seen.y) > search->reach_nm ||
        !domain_cones_hold(domain, vertex, opposite(seen)))
        return;
    uint32_t low = vertex < search->vertex ? vertex : search->vertex;
    uint32_t high = vertex < search->vertex ? search->vertex : vertex;
    add_chord(search, &(struct chord){.a = domain->points[low],
                                      .b = domain->points[high],
                                      .vertex_a = low,
                                      .vertex_b = high,
                                      .foot_tri = ISTHMUS_NONE});
}

/* The view's side ends the copper: a piece may stand on it at a right angle. */
static void consider_foot(struct search *search, const struct view *view)
{
    const struct domain *domain = search->domain;
    struct pt right = domain->points[domain->corner[view->tri][next_corner(view->side)]];
    struct pt left = domain->points[domain->corner[view->tri][previous_corner(view->side)]];
    struct pt edge = direction(right, left), towards = opposite(turned_left(edge));
    if (!shows(view, towards) || is_along_boundary(search, towards) ||
        dot(right, left, search->eye) < 0 || dot(left, right, search->eye) < 0)
        return;
    double length2 = (double)along(edge, edge);
    double t = (double)dot(right, left, search->eye) / length2;
    double foot_x = right.x + t * edge.x, foot_y = right.y + t * edge.y;
    if (length_of(foot_x - search->eye.x, foot_y - search->eye.y) > search->reach_nm)
        return;
    add_chord(search, &(struct chord){.a = search->eye,
                                      .b = {(int32_t)lrint(foot_x), (int32_t)lrint(foot_y)},
                                      .vertex_a = search->vertex,
                                      .vertex_b = ISTHMUS_NONE,
                                      .foot_tri = view->tri,
                                      .foot_side = view->side});
}

/* ---- ways beside a piece ---- */

/* The bank goes on along an edge to its next vertex, which the eye sees straight or not at all. */
static struct bank bank_on(const struct domain *domain, const struct bank *bank, uint32_t tri,
                           unsigned side, double straight_nm)
{
    const uint32_t *corner = domain->corner[tri];
    struct pt from = domain->points[corner[next_corner(side)]];
    struct pt to = domain->points[corner[previous_corner(side)]];
    double slide_nm = taut_slide_nm(domain, tri, side);
    struct bank on = {.least_nm = straight_nm, .rim = ISTHMUS_NONE};
    if (isinf(slide_nm)) {
        on.least_nm = fmin(
            on.least_nm, bank->least_nm + length_of((double)to.x - from.x, (double)to.y - from.y));
    } else if (slide_nm > 0) {
        on.rim = domain_rim_hole(domain, tri, side);
        on.at_rim_nm = on.rim == bank->rim ? fmin(bank->at_rim_nm, bank->least_nm) : bank->least_nm;
        on.least_nm = fmin(on.least_nm, on.at_rim_nm + slide_nm);
    } else {
        on.least_nm = fmin(on.least_nm, bank->least_nm);
    }
    return on;
}

/* Where direction d meets the side from right to left, beyond the eye. */
static void meet(struct pt eye, struct pt d, struct pt right, struct pt left, double *x, double *y)
{
    double ex = (double)left.x - right.x, ey = (double)left.y - right.y;
    double over = ex * ((double)right.y - eye.y) - ey * ((double)right.x - eye.x);
    double under = ex * d.y - ey * d.x;
    double t = under == 0 ? 0 : over / under;
    *x = t * d.x;
    *y = t * d.y;
}

/* What the way by way of the bank's end saves up to a place (from the eye) on the side. */
static double saved_nm(const struct search *search, const struct bank *bank, struct pt end,
                       double x, double y)
{
    return length_of(x, y) - bank->least_nm -
           length_of(search->eye.x + x - end.x, search->eye.y + y - end.y);
}

/*
 * Is every piece that passes through the view dominated? A piece that passes the side at p may as
 * well go along a bank to its end, from there along the side to p, and on: that moves only what
 * lies between it and the bank, as in taut_drop_dominated(). The places p for which the bank's end
 * is nearer by a given length than the eye lie within one branch of a hyperbola, which is convex:
 * so the two borders of the view answer for all.
 */
static bool is_bypassed(const struct search *search, const struct view *view)
{
    const struct domain *domain = search->domain;
    struct pt right = domain->points[domain->corner[view->tri][next_corner(view->side)]];
    struct pt left = domain->points[domain->corner[view->tri][previous_corner(view->side)]];
    double lo_x, lo_y, hi_x, hi_y, win = TAUT_WIN_NM + BYPASS_ROUNDING_NM;
    meet(search->eye, view->lo, right, left, &lo_x, &lo_y);
    meet(search->eye, view->hi, right, left, &hi_x, &hi_y);
    return (saved_nm(search, &view->left, left, lo_x, lo_y) > win &&
            saved_nm(search, &view->left, left, hi_x, hi_y) > win) ||
           (saved_nm(search, &view->right, right, lo_x, lo_y) > win &&
            saved_nm(search, &view->right, right, hi_x, hi_y) > win);
}

/* How far along direction d the line through the side lies. */
static double distance_along(struct pt eye, struct pt d, struct pt right, struct pt left)
{
    double ex = (double)left.x - right.x, ey = (double)left.y - right.y;
    double over = ex * ((double)right.y - eye.y) - ey * ((double)right.x - eye.x);
    double under = ex * d.y - ey * d.x;
    return under == 0 ? 0 : over / under * length_of(d.x, d.y);
}

/* Is all that the view shows of its side farther away than the reach? */
static bool is_too_far(const struct search *search, const struct view *view)
{
    const struct domain *domain = search->domain;
    struct pt right = domain->points[domain->corner[view->tri][next_corner(view->side)]];
    struct pt left = domain->points[domain->corner[view->tri][previous_corner(view->side)]];
    struct pt edge = direction(right, left);
    if (cone_holds(view->lo, view->hi, opposite(turned_left(edge)))) {
        double t = (double)dot(right, left, search->eye) / (double)along(edge, edge);
        return length_of(right.x + t * edge.x - search->eye.x,
                         right.y + t * edge.y - search->eye.y) > search->reach_nm;
    }
    double one = distance_along(search->eye, view->lo, right, left);
    double two = distance_along(search->eye, view->hi, right, left);
    return fmin(one, two) > search->reach_nm * (1 + 1e-9);
}

/*
 * Behind the view's side stands a triangle: its far vertex splits the view in two. A view that is
 * one single ray goes on past a vertex it hits on that vertex's left only: one way is enough where
 * copper lies all round it, and where a boundary touches the ray the piece ends there.
 */
static void look_through(struct search *search, const struct view *view)
{
    const struct domain *domain = search->domain;
    uint32_t tri = domain->neighbour[view->tri][view->side];
    unsigned apex = side_towards(domain, tri, view->tri);
    uint32_t vertex = domain->corner[tri][apex];
    struct pt seen = seen_at(search, vertex);
    int after_lo = turn(view->lo, seen), before_hi = turn(seen, view->hi);
    bool is_ray = turn(view->lo, view->hi) == 0;
    bool is_boundary = domain->vertices[vertex].is_boundary;
    if (shows(view, seen))
        consider_vertex(search, vertex);
    bool is_seen = after_lo >= 0 && before_hi >= 0;
    double straight_nm = is_seen ? length_of(seen.x, seen.y) : INFINITY;
    /* Seen from tri, the near side runs right to left as corner apex+2 to apex+1. */
    struct view right = *view, left = *view;
    right.tri = left.tri = tri;
    right.side = (uint8_t)next_corner(apex);
    left.side = (uint8_t)previous_corner(apex);
    right.left = bank_on(domain, &view->left, tri, previous_corner(apex), straight_nm);
    left.right = bank_on(domain, &view->right, tri, next_corner(apex), straight_nm);
    if (is_ray) {
        if (after_lo != 0 || !is_boundary)
            push(search, after_lo > 0 ? right : left);
        return;
    }
    if (after_lo > 0) {
        right.is_hi_touched = before_hi > 0 ? is_boundary : view->is_hi_touched;
        right.is_hi_touched |= before_hi == 0 && is_boundary;
        right.hi = before_hi > 0 ? seen : view->hi;
        push(search, right);
    }
    if (before_hi > 0) {
        left.is_lo_touched = after_lo > 0 ? is_boundary : view->is_lo_touched;
        left.is_lo_touched |= after_lo == 0 && is_boundary;
        left.lo = after_lo > 0 ? seen : view->lo;
        push(search, left);
    }
}

static void look_on(struct search *search)
{
    while (search->stack.count && !search->is_out_of_memory) {
        struct view view = search->stack.items[--search->stack.count];
        if (is_too_far(search, &view) || (!search->has_bypassed && is_bypassed(search, &view)))
            continue;
        if (search->domain->neighbour[view.tri][view.side] == ISTHMUS_NONE)
            consider_foot(search, &view);
        else
            look_through(search, &view);
    }
}

static bool has_bound(const struct domain *domain, uint32_t tri, unsigned side)
{
    return domain->neighbour[tri][side] == ISTHMUS_NONE || domain->bound[tri][side] != ISTHMUS_NONE;
}

/* What one triangle at the eye shows of the cone. */
static void look_from(struct search *search, const struct cone *cone, uint32_t tri, unsigned corner)
{
    const struct domain *domain = search->domain;
    uint32_t p = domain->corner[tri][next_corner(corner)];
    uint32_t q = domain->corner[tri][previous_corner(corner)];
    struct pt right = seen_at(search, p), left = seen_at(search, q);
    bool has_lo = cone_holds(right, left, cone->lo), has_hi = cone_holds(right, left, cone->hi);
    bool has_right = cone_holds(cone->lo, cone->hi, right);
    bool has_left = cone_holds(cone->lo, cone->hi, left);
    if ((!has_lo && !has_right) || (!has_hi && !has_left))
        return;
    struct view view = {.lo = has_lo ? cone->lo : right,
                        .hi = has_hi ? cone->hi : left,
                        .tri = tri,
                        .side = (uint8_t)corner};
    struct bank start = {.rim = ISTHMUS_NONE};
    view.left = bank_on(domain, &start, tri, next_corner(corner), length_of(left.x, left.y));
    view.right = bank_on(domain, &start, tri, previous_corner(corner), length_of(right.x, right.y));
    view.is_lo_touched = domain->vertices[p].is_boundary && is_same_way(view.lo, right);
    view.is_hi_touched = domain->vertices[q].is_boundary && is_same_way(view.hi, left);
    if (has_right && !has_bound(domain, tri, previous_corner(corner)))
        consider_vertex(search, p);
    if (has_left && !has_bound(domain, tri, next_corner(corner)))
        consider_vertex(search, q);
    bool is_ray = turn(view.lo, view.hi) == 0, is_cone_ray = turn(cone->lo, cone->hi) == 0;
    if (is_ray && (!is_cone_ray || view.is_lo_touched || view.is_hi_touched))
        return; /* only grazed: the triangle beside it sees more, or nothing does */
    push(search, view);
    look_on(search);
}

static void look_into(struct search *search, const struct cone *cone)
{
    const struct domain *domain = search->domain;
    uint32_t tri = cone->tri;
    unsigned corner = cone->corner;
    search->vertex = cone->vertex;
    search->eye = domain->points[cone->vertex];
    do {
        look_from(search, cone, tri, corner);
        tri = domain->neighbour[tri][next_corner(corner)];
        if (tri == ISTHMUS_NONE)
            return;
        corner = corner_of(domain, tri, cone->vertex);
    } while (tri != cone->tri);
}

static int compare_chords(const void *a, const void *b)
{
    const struct chord *one = a, *two = b;
    if (one->vertex_a != two->vertex_a)
        return one->vertex_a < two->vertex_a ? -1 : 1;
    if (one->vertex_b != two->vertex_b)
        return one->vertex_b < two->vertex_b ? -1 : 1;
    if (one->foot_tri != two->foot_tri)
        return one->foot_tri < two->foot_tri ? -1 : 1;
    return (one->foot_side > two->foot_side) - (one->foot_side < two->foot_side);
}

static void keep_each_once(struct chord_list *list)
{
    size_t kept = 0;
    if (list->count)
        qsort(list->items, list->count, sizeof *list->items, compare_chords);
    for (size_t i = 0; i < list->count; i++)
        if (kept == 0 || compare_chords(&list->items[kept - 1], &list->items[i]) != 0)
            list->items[kept++] = list->items[i];
    list->count = kept;
}

static void measure(const struct domain *domain, struct chord *chord)
{
    double loss_nm = domain->net->etch_loss_mm * 1e6;
    chord->length_nm = taut_true_length_nm(domain, chord);
    chord->loss_a_nm = domain->vertices[chord->vertex_a].is_etched ? loss_nm : 0;
    if (chord->vertex_b != ISTHMUS_NONE)
        chord->loss_b_nm = domain->vertices[chord->vertex_b].is_etched ? loss_nm : 0;
    else if (domain_bound_kind(domain, chord->foot_tri, chord->foot_side) == BOUND_ETCHED)
        chord->loss_b_nm = loss_nm;
}

/* Looks into every step-th cone. */
static void look_round(struct search *search, uint32_t step)
{
    for (uint32_t c = 0; c < search->domain->cone_count; c += step) {
        look_into(search, &search->domain->cones[c]);
        if (search->is_out_of_memory || search->out->is_over_limit)
            break;
    }
    free(search->stack.items);
}

enum neck_status taut_sample(const struct domain *domain, double reach_nm, uint32_t step,
                             size_t limit, size_t *count)
{
    struct chord_list list = {0};
    struct search search = {
        .domain = domain, .out = &list, .reach_nm = reach_nm, .limit = limit / step + 1};
    look_round(&search, step);
    *count = list.is_over_limit ? SIZE_MAX : list.count * step;
    free(list.items);
    return search.is_out_of_memory ? NECK_NO_MEMORY : NECK_OK;
}

static enum neck_status find(struct search *search)
{
    const struct domain *domain = search->domain;
    struct chord_list *out = search->out;
    *out = (struct chord_list){0};
    look_round(search, 1);
    if (search->is_out_of_memory) {
        free(out->items);
        *out = (struct chord_list){0};
        return NECK_NO_MEMORY;
    }
    keep_each_once(out);
    for (size_t i = 0; i < out->count; i++)
        measure(domain, &out->items[i]);
    return NECK_OK;
}

enum neck_status taut_find_all(const struct domain *domain, double reach_nm, size_t limit,
                               struct chord_list *out)
{
    return find(&(struct search){
        .domain = domain, .out = out, .reach_nm = reach_nm, .limit = limit, .has_bypassed = true});
}

enum neck_status taut_find(const struct domain *domain, double reach_nm, size_t limit,
                           struct chord_list *out)
{
    return find(
        &(struct search){.domain = domain, .out = out, .reach_nm = reach_nm, .limit = limit});
}
