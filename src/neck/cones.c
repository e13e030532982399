/*
 * In which directions may a taut piece of a cut leave a vertex?
 *
 * A cut of least length is pulled tight: where it ends on a boundary, which it may follow for
 * nothing, it cannot be made shorter by sliding that end along; where it bends round a contact or
 * the rim of a plated hole it touches it without entering. Hence, with the copper at the vertex
 * from direction d1 counterclockwise to d2:
 *
 *   end on a boundary   at 90 degrees or more from d1 and from d2; a contact between the piece and
 *                       d1 (or d2) keeps it from sliding that way just as well, and so does a rim
 *                       that begins there, as it costs its length: then up to the rim itself
 *   contact, rim        the whole of its wedge m1..m2 (at most 180 degrees) on one side of the
 * line: from m2 to -m1 and from -m2 to m1
 *
 * All bounds are included. A cone too many costs time; one too few would miss a neck.
 */
#include "neck/domain.h"

#include <stdlib.h>

/* The copper round a vertex between two boundary edges, or all round it. */
struct wedge {
    uint32_t vertex, tri;
    uint8_t corner;
    bool is_full;
    unsigned tri_count;
    struct pt first, last;           /* directions of its borders */
    struct pt first_mark, last_mark; /* first and last contact outline met, going left */
    bool has_mark, is_first_rim, is_last_rim;
};

struct cone_list {
    struct cone *items;
    size_t count, capacity;
};

bool cone_holds(struct pt lo, struct pt hi, struct pt d)
{
    if (turn(lo, hi) == 0)
        return is_same_way(lo, d);
    return turn(lo, d) >= 0 && turn(d, hi) >= 0;
}

bool domain_cones_hold(const struct domain *domain, uint32_t vertex, struct pt d)
{
    for (uint32_t c = domain->first_cone[vertex]; c < domain->first_cone[vertex + 1]; c++)
        if (cone_holds(domain->cones[c].lo, domain->cones[c].hi, d))
            return true;
    return false;
}

static struct pt edge_direction(const struct domain *domain, uint32_t tri, unsigned from,
                                unsigned to)
{
    return direction(domain->points[domain->corner[tri][from]],
                     domain->points[domain->corner[tri][to]]);
}

static bool add_cone(struct cone_list *list, const struct wedge *wedge, struct pt lo, struct pt hi)
{
    if (!array_grow(&list->items, sizeof *list->items, &list->capacity, list->count + 1))
        return false;
    list->items[list->count++] = (struct cone){
        .lo = lo, .hi = hi, .vertex = wedge->vertex, .tri = wedge->tri, .corner = wedge->corner};
    return true;
}

/* Any range below 360 degrees, in quarters. */
static bool add_range(struct cone_list *list, const struct wedge *wedge, struct pt lo, struct pt hi)
{
    for (unsigned quarter = 0; quarter < 4; quarter++) {
        struct pt next = turned_left(lo);
        if (cone_holds(lo, next, hi))
            return add_cone(list, wedge, lo, hi);
        if (!add_cone(list, wedge, lo, next))
            return false;
        lo = next;
    }
    return true;
}

/* Is the way from a left to b at most 180 degrees? (0 counts as a full turn.) */
static bool is_convex(struct pt a, struct pt b)
{
    int side = turn(a, b);
    return side > 0 || (side == 0 && along(a, b) < 0);
}

static bool add_tangents(struct cone_list *list, const struct wedge *wedge, struct pt m1,
                         struct pt m2)
{
    return !is_convex(m1, m2) ||
           (add_range(list, wedge, m2, opposite(m1)) && add_range(list, wedge, opposite(m2), m1));
}

static bool is_within_right_angle(struct pt from, struct pt to)
{
    return turn(from, to) >= 0 && along(from, to) > 0;
}

static bool add_boundary_ends(struct cone_list *list, const struct wedge *wedge)
{
    struct pt lo = turned_left(wedge->first);
    struct pt hi = opposite(turned_left(wedge->last));
    bool is_obtuse = !is_within_right_angle(wedge->first, wedge->last);
    bool is_held = is_obtuse && wedge->is_first_rim != wedge->is_last_rim;
    if (wedge->is_first_rim && !wedge->is_last_rim) {
        lo = wedge->first;
    } else if (wedge->has_mark && is_within_right_angle(wedge->first, wedge->first_mark)) {
        lo = wedge->first_mark;
        is_held = true;
    }
    if (wedge->is_last_rim && !wedge->is_first_rim) {
        hi = wedge->last;
    } else if (wedge->has_mark && is_within_right_angle(wedge->last_mark, wedge->last)) {
        hi = wedge->last_mark;
        is_held = true;
    }
    bool is_reflex = wedge->tri_count > 1 && turn(wedge->first, wedge->last) <= 0;
    return is_held || is_reflex ? add_range(list, wedge, lo, hi) : true;
}

static bool is_rim(const struct domain *domain, uint32_t tri, unsigned side)
{
    return domain_bound_kind(domain, tri, side) == BOUND_RIM;
}

static void note_mark(struct wedge *wedge, struct pt d)
{
    if (!wedge->has_mark)
        wedge->first_mark = d;
    wedge->last_mark = d;
    wedge->has_mark = true;
}

/* Is side i of t the outline of a terminal's contact within copper? */
static bool is_outline(const struct domain *domain, uint32_t tri, unsigned side)
{
    uint32_t across = domain->neighbour[tri][side];
    return across != ISTHMUS_NONE && domain->contact[tri] != domain->contact[across];
}

/*
 * Contacts that reach the rim of a plated hole: a cut that comes along the rim, which costs its
 * length, bends round them like round any contact.
 */
static bool add_marks_at_rim(const struct domain *domain, struct cone_list *list,
                             const struct wedge *wedge)
{
    uint32_t tri = wedge->tri;
    unsigned corner = wedge->corner;
    struct pt m1 = wedge->first;
    for (unsigned i = 0; i < wedge->tri_count; i++) {
        unsigned side = next_corner(corner);
        uint32_t across = domain->neighbour[tri][side];
        struct pt m2 = edge_direction(domain, tri, corner, previous_corner(corner));
        if (across == ISTHMUS_NONE || is_outline(domain, tri, side)) {
            if (domain->contact[tri] != ISTHMUS_NONE && !add_tangents(list, wedge, m1, m2))
                return false;
            m1 = m2;
        }
        tri = across;
        corner = tri == ISTHMUS_NONE ? 0 : corner_of(domain, tri, wedge->vertex);
    }
    return true;
}

static bool add_boundary_wedge(const struct domain *domain, struct cone_list *list,
                               const struct wedge *wedge)
{
    bool ok = add_boundary_ends(list, wedge);
    if (ok && (wedge->is_first_rim || wedge->is_last_rim))
        ok = add_tangents(list, wedge, wedge->last, wedge->first) &&
             (!wedge->has_mark || add_marks_at_rim(domain, list, wedge));
    return ok;
}

/* Walks the wedge whose first triangle is (tri, corner); its right border ends the copper. */
static struct wedge walk_boundary_wedge(const struct domain *domain, uint32_t tri, unsigned corner)
{
    unsigned first_side = previous_corner(corner);
    struct wedge wedge = {
        .vertex = domain->corner[tri][corner],
        .tri = tri,
        .corner = (uint8_t)corner,
        .first = edge_direction(domain, tri, corner, next_corner(corner)),
        .is_first_rim = is_rim(domain, tri, first_side),
    };
    for (;;) {
        unsigned side = next_corner(corner);
        uint32_t across = domain->neighbour[tri][side];
        wedge.tri_count++;
        wedge.last = edge_direction(domain, tri, corner, previous_corner(corner));
        if (across == ISTHMUS_NONE) {
            wedge.is_last_rim = is_rim(domain, tri, side);
            return wedge;
        }
        if (is_outline(domain, tri, side))
            note_mark(&wedge, wedge.last);
        tri = across;
        corner = corner_of(domain, tri, wedge.vertex);
    }
}

/* The first outline of a contact met from (tri, corner) going left round an inner vertex. */
static bool turn_to_outline(const struct domain *domain, uint32_t vertex, uint32_t *tri)
{
    uint32_t start = *tri;
    do {
        unsigned side = next_corner(corner_of(domain, *tri, vertex));
        uint32_t across = domain->neighbour[*tri][side];
        bool is_found = is_outline(domain, *tri, side);
        *tri = across;
        if (is_found)
            return true;
    } while (*tri != start);
    return false;
}

/* Contacts round an inner vertex: tangents to the wedge of each. */
static bool add_inner_vertex(const struct domain *domain, struct cone_list *list, uint32_t vertex,
                             uint32_t tri)
{
    if (!turn_to_outline(domain, vertex, &tri))
        return true;
    uint32_t start = tri;
    struct wedge wedge = {.vertex = vertex, .tri = tri, .is_full = true};
    wedge.corner = (uint8_t)corner_of(domain, tri, vertex);
    do {
        unsigned corner = corner_of(domain, tri, vertex);
        struct pt m1 = edge_direction(domain, tri, corner, next_corner(corner));
        uint32_t contact = domain->contact[tri];
        turn_to_outline(domain, vertex, &tri);
        corner = corner_of(domain, tri, vertex);
        struct pt m2 = edge_direction(domain, tri, corner, next_corner(corner));
        if (contact != ISTHMUS_NONE && !add_tangents(list, &wedge, m1, m2))
            return false;
    } while (tri != start);
    return true;
}

static bool add_all(const struct domain *domain, struct cone_list *list, bool *is_seen)
{
    bool ok = true;
    for (uint32_t t = 0; ok && t < domain->tri_count; t++)
        for (unsigned i = 0; ok && i < 3; i++) {
            uint32_t vertex = domain->corner[t][i];
            if (domain->neighbour[t][previous_corner(i)] == ISTHMUS_NONE) {
                struct wedge wedge = walk_boundary_wedge(domain, t, i);
                ok = add_boundary_wedge(domain, list, &wedge);
            } else if (!domain->vertices[vertex].is_boundary && !is_seen[vertex]) {
                is_seen[vertex] = true;
                ok = add_inner_vertex(domain, list, vertex, t);
            }
        }
    return ok;
}

static int by_vertex(const void *a, const void *b)
{
    const struct cone *one = a, *two = b;
    return (one->vertex > two->vertex) - (one->vertex < two->vertex);
}

enum neck_status domain_find_cones(struct domain *domain, struct arena *scratch)
{
    struct cone_list list = {0};
    bool *is_seen = arena_alloc(scratch, domain->point_count, sizeof *is_seen);
    uint32_t *first = arena_alloc(scratch, (size_t)domain->point_count + 1, sizeof *first);
    if (!is_seen || !first || !add_all(domain, &list, is_seen) || list.count >= ISTHMUS_NONE) {
        free(list.items);
        return NECK_NO_MEMORY;
    }
    if (list.count)
        qsort(list.items, list.count, sizeof *list.items, by_vertex);
    uint32_t c = 0;
    for (uint32_t v = 0; v <= domain->point_count; v++) {
        while (c < list.count && list.items[c].vertex < v)
            c++;
        first[v] = c;
    }
    domain->cones = list.items;
    domain->cone_count = (uint32_t)list.count;
    domain->first_cone = first;
    return NECK_OK;
}
