/*
 * Which taut pieces can no cut of least cross-section need?
 *
 * Take the triangles that a piece a-b passes through; those parts of them that lie to its left form
 * a region R. A way from a to b within R along their far ends (a chain of vertices), free where it
 * follows the copper's boundary and at the cost of its length elsewhere, can stand in for a-b in
 * any cut: it moves only R from one side of the cut to the other. What R holds of contacts belongs
 * to such as the piece crosses anyway, which therefore count on neither side; and R holds no plated
 * hole (a rim costs its length, or the whole wall, which cuts the hole off altogether, unless a
 * lead fills it whose contact the rim is). So if that way is shorter, a-b is dominated; its parts
 * are shorter than a-b, so replacing ends. The same on the right.
 */
#include "neck/taut.h"

#include <math.h>
#include <stdlib.h>

#define NO_TRIANGLE (UINT32_MAX - 1)

struct chain_vertex {
    struct pt at;
    double slide_nm; /* along the edge from the vertex before: 0 on free boundary (or behind a
                        pocket of copper that leads nowhere), the worth of its
                        wall on a plated hole's rim, however far; INFINITY: no boundary */
    double least;    /* cheapest way from a */
};
struct chain {
    struct chain_vertex *items;
    size_t count, capacity;
};
struct hull {
    struct hull_vertex {
        struct pt at;
        double length; /* from the start */
    } * items;
    size_t count, capacity;
};
struct sleeve {
    const struct domain *domain;
    struct chain left, right;
    struct hull hull;
    bool is_out_of_memory;
};

static double distance_nm(struct pt a, struct pt b)
{
    return hypot((double)a.x - b.x, (double)a.y - b.y);
}

static void append(struct sleeve *sleeve, struct chain *chain, struct pt at, double slide_nm)
{
    if (!array_grow(&chain->items, sizeof *chain->items, &chain->capacity, chain->count + 1)) {
        sleeve->is_out_of_memory = true;
        return;
    }
    chain->items[chain->count++] = (struct chain_vertex){at, slide_nm, INFINITY};
}

/*
 * Is the rim itself the contact of a lead? Through its hole a cut would have the lead on both
 * sides, whatever the wall is worth.
 */
static bool is_bare_lead(const struct domain *domain, uint32_t tri, uint32_t hole)
{
    const struct neck_net *net = domain->net;
    uint32_t of = net->holes[hole].contact, beside = domain->contact[tri];
    if (of >= net->contact_count || net->contacts[of].terminal == ISTHMUS_NONE)
        return false;
    return beside == ISTHMUS_NONE || net->contacts[beside].terminal != net->contacts[of].terminal;
}

double taut_slide_nm(const struct domain *domain, uint32_t tri, unsigned side)
{
    if (domain->neighbour[tri][side] != ISTHMUS_NONE)
        return domain->pocket_nm[tri][side] > 0 ? 0 : INFINITY;
    const struct neck_sheet *sheet = domain->sheet;
    uint32_t hole = domain_rim_hole(domain, tri, side);
    if (hole == ISTHMUS_NONE)
        return 0;
    if (is_bare_lead(domain, tri, hole))
        return INFINITY;
    return domain->net->holes[hole].wall_area_mm2 / (sheet->thickness_mm * sheet->weight) * 1e6;
}

struct pt taut_direction(const struct domain *domain, const struct chord *chord)
{
    if (chord->vertex_b != ISTHMUS_NONE)
        return direction(chord->a, chord->b);
    const uint32_t *corner = domain->corner[chord->foot_tri];
    return opposite(
        turned_left(direction(domain->points[corner[next_corner(chord->foot_side)]],
                              domain->points[corner[previous_corner(chord->foot_side)]])));
}

bool taut_first_triangle(const struct domain *domain, const struct chord *chord, uint32_t *tri,
                         unsigned *corner)
{
    struct pt d = taut_direction(domain, chord);
    for (uint32_t c = domain->first_cone[chord->vertex_a];
         c < domain->first_cone[chord->vertex_a + 1]; c++) {
        *tri = domain->cones[c].tri;
        *corner = domain->cones[c].corner;
        do {
            const uint32_t *at = domain->corner[*tri];
            struct pt right = direction(chord->a, domain->points[at[next_corner(*corner)]]);
            struct pt left = direction(chord->a, domain->points[at[previous_corner(*corner)]]);
            if (turn(right, d) > 0 && turn(d, left) > 0)
                return true;
            *tri = domain->neighbour[*tri][next_corner(*corner)];
            if (*tri == ISTHMUS_NONE)
                break;
            *corner = corner_of(domain, *tri, chord->vertex_a);
        } while (*tri != domain->cones[c].tri);
    }
    return false;
}

static struct pt corner_at(const struct domain *domain, uint32_t tri, unsigned corner)
{
    return domain->points[domain->corner[tri][corner]];
}

static void begin(struct sleeve *sleeve, const struct chord *chord, uint32_t tri, unsigned corner)
{
    const struct domain *domain = sleeve->domain;
    unsigned right = next_corner(corner), left = previous_corner(corner);
    sleeve->left.count = sleeve->right.count = 0;
    append(sleeve, &sleeve->left, chord->a, INFINITY);
    append(sleeve, &sleeve->right, chord->a, INFINITY);
    append(sleeve, &sleeve->right, corner_at(domain, tri, right), taut_slide_nm(domain, tri, left));
    append(sleeve, &sleeve->left, corner_at(domain, tri, left), taut_slide_nm(domain, tri, right));
}

/* Both chains end in b, which stands on the side just reached. */
static void end_on_side(struct sleeve *sleeve, const struct chord *chord, uint32_t tri,
                        unsigned side)
{
    double slide = taut_slide_nm(sleeve->domain, tri, side);
    append(sleeve, &sleeve->left, chord->b, slide);
    append(sleeve, &sleeve->right, chord->b, slide);
}

/*
 * Gathers the chains on either side of the piece. False when a vertex lies on it: such a piece is
 * kept.
 */
static bool gather(struct sleeve *sleeve, const struct chord *chord)
{
    const struct domain *domain = sleeve->domain;
    struct pt d = taut_direction(domain, chord);
    uint32_t tri;
    unsigned side;
    if (!taut_first_triangle(domain, chord, &tri, &side))
        return false;
    begin(sleeve, chord, tri, side);
    for (;;) {
        uint32_t next = domain->neighbour[tri][side];
        if (tri == chord->foot_tri && side == chord->foot_side) {
            end_on_side(sleeve, chord, tri, side);
            return true;
        }
        if (next == ISTHMUS_NONE)
            return false;
        unsigned apex = side_towards(domain, next, tri);
        double left_slide = taut_slide_nm(domain, next, previous_corner(apex));
        double right_slide = taut_slide_nm(domain, next, next_corner(apex));
        struct pt at = corner_at(domain, next, apex);
        tri = next;
        if (domain->corner[next][apex] == chord->vertex_b) {
            append(sleeve, &sleeve->left, at, left_slide);
            append(sleeve, &sleeve->right, at, right_slide);
            return true;
        }
        int where = turn(d, direction(chord->a, at));
        if (where == 0)
            return false;
        if (where > 0)
            append(sleeve, &sleeve->left, at, left_slide);
        else
            append(sleeve, &sleeve->right, at, right_slide);
        side = where > 0 ? next_corner(apex) : previous_corner(apex);
    }
}

/* Pulls the way from the hull's start tight under the chain's next vertex. */
static bool pull(struct hull *hull, struct pt at, int inner_side)
{
    while (hull->count >= 2) {
        struct pt before = hull->items[hull->count - 2].at, last = hull->items[hull->count - 1].at;
        if (orient(before, at, last) * inner_side < 0)
            break; /* last juts out between the way and the piece: the way bends there */
        hull->count--;
    }
    if (!array_grow(&hull->items, sizeof *hull->items, &hull->capacity, hull->count + 1))
        return false;
    double length = 0;
    if (hull->count) {
        const struct hull_vertex *last = &hull->items[hull->count - 1];
        length = last->length + distance_nm(last->at, at);
    }
    hull->items[hull->count++] = (struct hull_vertex){at, length};
    return true;
}

static void lower(double *value, double candidate)
{
    if (candidate < *value)
        *value = candidate;
}

/* Lowers what it costs to be at vertex i by sliding there along the boundary. */
static void slide(struct chain_vertex *at, size_t i)
{
    if (isinf(at[i].slide_nm))
        return;
    /* through a wall once, from wherever its rim was reached */
    for (size_t k = i; k > 0 && at[k].slide_nm == at[i].slide_nm; k--) {
        lower(&at[i].least, at[k - 1].least + at[i].slide_nm);
        if (at[i].slide_nm == 0)
            break; /* free: the vertex before has the least already */
    }
}

/*
 * The cheapest way along a chain that lies on the given side (+1 left, -1 right). Ways start where
 * the one before left a boundary and go, pulled tight, to where the next boundary begins.
 */
static double cheapest_way(struct sleeve *sleeve, struct chain *chain, int inner_side,
                           double enough)
{
    struct chain_vertex *at = chain->items;
    size_t last = chain->count - 1;
    at[0].least = 0;
    for (size_t i = 0; i <= last; i++) {
        slide(at, i);
        if (i > 0 && isinf(at[i].slide_nm))
            continue; /* no boundary ends here: ways that bend here start before it */
        if (at[i].least > enough)
            continue;
        sleeve->hull.count = 0;
        for (size_t j = i; j <= last; j++) {
            if (!pull(&sleeve->hull, at[j].at, inner_side)) {
                sleeve->is_out_of_memory = true;
                return INFINITY;
            }
            lower(&at[j].least, at[i].least + sleeve->hull.items[sleeve->hull.count - 1].length);
        }
    }
    return at[last].least;
}

static bool is_dominated(struct sleeve *sleeve, const struct chord *chord)
{
    double enough = distance_nm(chord->a, chord->b) - TAUT_WIN_NM;
    if (enough <= 0 || !gather(sleeve, chord) || sleeve->is_out_of_memory)
        return false;
    return cheapest_way(sleeve, &sleeve->left, 1, enough) <= enough ||
           cheapest_way(sleeve, &sleeve->right, -1, enough) <= enough;
}

/* ---- pieces that touch the rim of a plated hole ---- */

/*
 * A cut that comes straight to a hole, hugs its rim and leaves straight can run through the hole
 * instead: that costs the wall, but each straight piece then ends where the hole is nearest and the
 * way round is saved. What a piece saves is known; when it and the least saving of all others at
 * that hole are worth more than the wall, no cut of least cross-section hugs the hole with it.
 */
struct hug {
    double wall_nm; /* INFINITY: no hole with a round rim of its own */
    double least_saving_nm;
    uint32_t contact; /* that all of the rim lies in; NO_TRIANGLE before any of it was seen */
};
struct savings {
    double a_nm, b_nm; /* at either end; negative: the piece does not touch a rim there */
};

static void reverse_chain(struct chain *chain)
{
    struct chain_vertex *at = chain->items;
    size_t count = chain->count;
    for (size_t i = 0; i < count / 2; i++) {
        struct chain_vertex kept = at[i];
        at[i] = at[count - 1 - i];
        at[count - 1 - i] = kept;
    }
    for (size_t i = count - 1; i > 0; i--)
        at[i].slide_nm = at[i - 1].slide_nm;
    at[0].slide_nm = INFINITY;
    for (size_t i = 0; i < count; i++)
        at[i].least = INFINITY;
}

/* What the way to the nearest vertex of the rim saves that the chain ends with. */
static double saving_at_end(struct sleeve *sleeve, struct chain *chain, int inner_side,
                            double length_nm)
{
    struct chain_vertex *at = chain->items;
    size_t last = chain->count - 1;
    double wall = at[last].slide_nm, nearest = length_nm;
    if (isinf(wall) || wall == 0)
        return 0;
    at[last].slide_nm = INFINITY;
    cheapest_way(sleeve, chain, inner_side, length_nm);
    at[last].slide_nm = wall;
    for (size_t i = last; i > 0 && at[i].slide_nm == wall; i--)
        nearest = fmin(nearest, at[i - 1].least);
    return length_nm - nearest;
}

/* The hole whose rim a piece touches at a vertex without ending there; else ISTHMUS_NONE. */
static uint32_t hugged_hole(const struct domain *domain, uint32_t vertex, struct pt other)
{
    const struct domain_vertex *v = &domain->vertices[vertex];
    if (!v->is_boundary)
        return ISTHMUS_NONE;
    struct pt at = domain->points[vertex];
    struct pt next = corner_at(domain, v->out_tri, previous_corner(v->out_side));
    struct pt before = corner_at(domain, v->in_tri, next_corner(v->in_side));
    if (dot(at, next, other) <= 0 && dot(at, before, other) <= 0)
        return ISTHMUS_NONE;
    uint32_t hole = domain_rim_hole(domain, v->out_tri, v->out_side);
    return hole < domain->net->hole_count ? hole : ISTHMUS_NONE;
}

/* The vertex of a rim nearest to a point, walking from `vertex` while it comes nearer. */
static uint32_t nearest_on_rim(const struct domain *domain, uint32_t vertex, uint32_t hole,
                               struct pt to)
{
    for (int way = 0; way < 2; way++) {
        uint32_t at = vertex;
        for (;;) {
            const struct domain_vertex *v = &domain->vertices[at];
            uint32_t tri = way ? v->in_tri : v->out_tri;
            unsigned side = way ? v->in_side : v->out_side;
            uint32_t next = domain->corner[tri][way ? next_corner(side) : previous_corner(side)];
            if (domain_rim_hole(domain, tri, side) != hole ||
                distance2(domain->points[next], to) >= distance2(domain->points[at], to))
                break;
            at = next;
        }
        if (at != vertex)
            return at;
    }
    return vertex;
}

/* Is the chain just a, vertex and then the rim? */
static bool is_along_rim(const struct chain *chain, struct pt vertex)
{
    if (chain->count < 3 || chain->items[1].at.x != vertex.x || chain->items[1].at.y != vertex.y ||
        !isinf(chain->items[1].slide_nm))
        return false;
    for (size_t i = 2; i < chain->count; i++)
        if (isinf(chain->items[i].slide_nm) || chain->items[i].slide_nm == 0)
            return false;
    return true;
}

/* The saving of a piece that is an edge of the mesh itself: nothing between it and the rim. */
static double edge_saving(struct sleeve *sleeve, uint32_t vertex, uint32_t hole, uint32_t from)
{
    const struct domain *domain = sleeve->domain;
    struct pt a = domain->points[from], at = domain->points[vertex];
    uint32_t nearest = nearest_on_rim(domain, vertex, hole, a);
    struct chord straight = {.a = a,
                             .b = domain->points[nearest],
                             .vertex_a = from,
                             .vertex_b = nearest,
                             .foot_tri = ISTHMUS_NONE};
    if (nearest == vertex || !gather(sleeve, &straight) ||
        (!is_along_rim(&sleeve->left, at) && !is_along_rim(&sleeve->right, at)))
        return 0;
    return distance_nm(a, at) - distance_nm(a, straight.b);
}

static double end_saving(struct sleeve *sleeve, double length_nm)
{
    return fmax(saving_at_end(sleeve, &sleeve->left, 1, length_nm),
                saving_at_end(sleeve, &sleeve->right, -1, length_nm));
}

static struct savings measure_savings(struct sleeve *sleeve, const struct chord *chord)
{
    const struct domain *domain = sleeve->domain;
    struct savings savings = {-1, -1};
    uint32_t hole_a = hugged_hole(domain, chord->vertex_a, chord->b);
    uint32_t hole_b = chord->vertex_b == ISTHMUS_NONE
                          ? ISTHMUS_NONE
                          : hugged_hole(domain, chord->vertex_b, chord->a);
    if (hole_a == ISTHMUS_NONE && hole_b == ISTHMUS_NONE)
        return savings;
    if (!gather(sleeve, chord)) {
        if (hole_a != ISTHMUS_NONE)
            savings.a_nm = chord->vertex_b == ISTHMUS_NONE
                               ? 0
                               : edge_saving(sleeve, chord->vertex_a, hole_a, chord->vertex_b);
        if (hole_b != ISTHMUS_NONE)
            savings.b_nm = edge_saving(sleeve, chord->vertex_b, hole_b, chord->vertex_a);
        return savings;
    }
    double length_nm = distance_nm(chord->a, chord->b);
    if (hole_b != ISTHMUS_NONE)
        savings.b_nm = end_saving(sleeve, length_nm);
    if (hole_a != ISTHMUS_NONE) {
        struct chain kept = sleeve->left;
        sleeve->left = sleeve->right; /* seen from b the sides change places */
        sleeve->right = kept;
        reverse_chain(&sleeve->left);
        reverse_chain(&sleeve->right);
        savings.a_nm = end_saving(sleeve, length_nm);
    }
    return savings;
}

/* Holes whose rim meets a contact's outline or another edge: a cut may hug part and end there. */
static void note_open_rims(const struct domain *domain, struct hug *hugs)
{
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            uint32_t hole = domain->neighbour[t][i] == ISTHMUS_NONE ? domain_rim_hole(domain, t, i)
                                                                    : ISTHMUS_NONE;
            if (hole >= domain->net->hole_count)
                continue;
            const struct domain_vertex *v =
                &domain->vertices[domain->corner[t][previous_corner(i)]];
            hugs[hole].wall_nm = taut_slide_nm(domain, t, i);
            if (hugs[hole].contact == NO_TRIANGLE)
                hugs[hole].contact = domain->contact[t];
            if (hugs[hole].contact != domain->contact[t] || v->is_pinch ||
                v->out_tri == ISTHMUS_NONE ||
                domain_rim_hole(domain, v->out_tri, v->out_side) != hole)
                hugs[hole].least_saving_nm = 0;
        }
}

static bool hugs_in_vain(const struct domain *domain, const struct hug *hugs, uint32_t vertex,
                         struct pt other, double saving_nm)
{
    if (saving_nm < 0)
        return false;
    const struct hug *hug = &hugs[hugged_hole(domain, vertex, other)];
    return saving_nm + hug->least_saving_nm >= hug->wall_nm + TAUT_WIN_NM;
}

static void drop_vain_hugs(struct sleeve *sleeve, struct chord_list *list, struct hug *hugs,
                           struct savings *savings)
{
    const struct domain *domain = sleeve->domain;
    size_t kept = 0;
    note_open_rims(domain, hugs);
    for (size_t i = 0; i < list->count; i++) {
        const struct chord *chord = &list->items[i];
        savings[i] = measure_savings(sleeve, chord);
        if (savings[i].a_nm >= 0)
            lower(&hugs[hugged_hole(domain, chord->vertex_a, chord->b)].least_saving_nm,
                  savings[i].a_nm);
        if (savings[i].b_nm >= 0)
            lower(&hugs[hugged_hole(domain, chord->vertex_b, chord->a)].least_saving_nm,
                  savings[i].b_nm);
    }
    for (size_t i = 0; i < list->count; i++) {
        const struct chord *chord = &list->items[i];
        if (!hugs_in_vain(domain, hugs, chord->vertex_a, chord->b, savings[i].a_nm) &&
            !hugs_in_vain(domain, hugs, chord->vertex_b, chord->a, savings[i].b_nm))
            list->items[kept++] = *chord;
    }
    list->count = kept;
}

static bool drop_hugs(struct sleeve *sleeve, struct chord_list *list)
{
    size_t hole_count = sleeve->domain->net->hole_count;
    struct hug *hugs = malloc((hole_count + 1) * sizeof *hugs);
    struct savings *savings = malloc((list->count + 1) * sizeof *savings);
    bool ok = hugs && savings;
    for (size_t h = 0; ok && h < hole_count; h++)
        hugs[h] = (struct hug){INFINITY, INFINITY, NO_TRIANGLE};
    if (ok)
        drop_vain_hugs(sleeve, list, hugs, savings);
    free(hugs);
    free(savings);
    return ok && !sleeve->is_out_of_memory;
}

static void release(struct sleeve *sleeve)
{
    free(sleeve->left.items);
    free(sleeve->right.items);
    free(sleeve->hull.items);
}

enum neck_status taut_drop_dominated(const struct domain *domain, struct chord_list *list)
{
    struct sleeve sleeve = {.domain = domain};
    size_t kept = 0;
    for (size_t i = 0; i < list->count && !sleeve.is_out_of_memory; i++)
        if (!is_dominated(&sleeve, &list->items[i]))
            list->items[kept++] = list->items[i];
    bool ok = !sleeve.is_out_of_memory;
    if (ok)
        list->count = kept;
    release(&sleeve);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}

enum neck_status taut_drop_hugs(const struct domain *domain, struct chord_list *list)
{
    struct sleeve sleeve = {.domain = domain};
    bool ok = domain->net->hole_count == 0 || drop_hugs(&sleeve, list);
    release(&sleeve);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}
