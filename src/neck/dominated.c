/*
 * Which taut pieces can no cut of least cross-section need?
 *
 * Take the triangles that a piece a-b passes through; those parts of them that lie to its left form
 * a region R. A way from a to b within R along their far ends (a chain of vertices), free where it
 * follows the copper's boundary and at the cost of its length elsewhere, can stand in for a-b in
 * any cut: it moves only R from one side of the cut to the other, and R holds no contact and no
 * part of a plated hole (its rim costs its length here). So if that way is shorter, a-b is
 * dominated; its parts are shorter than a-b, so replacing ends. The same on the right.
 */
#include "neck/taut.h"

#include <math.h>
#include <stdlib.h>

/*
 * A way must win by this much: the true lengths of its parts may exceed their flattened ones, which
 * are compared here, by the chord error at each end.
 */
#define WIN_NM 10000.0

struct chain_vertex {
    struct pt at;
    bool is_free; /* the edge from the vertex before runs along free boundary */
    double least; /* cheapest way from a */
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

static void append(struct sleeve *sleeve, struct chain *chain, struct pt at, bool is_free)
{
    if (!array_grow(&chain->items, sizeof *chain->items, &chain->capacity, chain->count + 1)) {
        sleeve->is_out_of_memory = true;
        return;
    }
    chain->items[chain->count++] = (struct chain_vertex){at, is_free, INFINITY};
}

static bool is_free_side(const struct domain *domain, uint32_t tri, unsigned side)
{
    return domain->neighbour[tri][side] == ISTHMUS_NONE &&
           domain_bound_kind(domain, tri, side) != BOUND_RIM;
}

/* The triangle at a that the piece enters; false when it runs along an edge or leaves the copper.
 */
static bool find_first(const struct domain *domain, const struct chord *chord, uint32_t *tri,
                       unsigned *corner)
{
    struct pt d = direction(chord->a, chord->b);
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
    append(sleeve, &sleeve->left, chord->a, false);
    append(sleeve, &sleeve->right, chord->a, false);
    append(sleeve, &sleeve->right, corner_at(domain, tri, right), is_free_side(domain, tri, left));
    append(sleeve, &sleeve->left, corner_at(domain, tri, left), is_free_side(domain, tri, right));
}

/* Both chains end in b, which stands on the side just reached. */
static void end_on_side(struct sleeve *sleeve, const struct chord *chord, uint32_t tri,
                        unsigned side)
{
    bool is_free = is_free_side(sleeve->domain, tri, side);
    append(sleeve, &sleeve->left, chord->b, is_free);
    append(sleeve, &sleeve->right, chord->b, is_free);
}

/*
 * Gathers the chains on either side of the piece. False when a contact or a vertex lies on it: such
 * a piece is kept.
 */
static bool gather(struct sleeve *sleeve, const struct chord *chord)
{
    const struct domain *domain = sleeve->domain;
    uint32_t tri;
    unsigned side;
    if (!find_first(domain, chord, &tri, &side) || domain->contact[tri] != ISTHMUS_NONE)
        return false;
    begin(sleeve, chord, tri, side);
    for (;;) {
        uint32_t next = domain->neighbour[tri][side];
        if (tri == chord->foot_tri && side == chord->foot_side) {
            end_on_side(sleeve, chord, tri, side);
            return true;
        }
        if (next == ISTHMUS_NONE || domain->contact[next] != ISTHMUS_NONE)
            return false;
        unsigned apex = side_towards(domain, next, tri);
        bool is_left_free = is_free_side(domain, next, previous_corner(apex));
        bool is_right_free = is_free_side(domain, next, next_corner(apex));
        struct pt at = corner_at(domain, next, apex);
        tri = next;
        if (domain->corner[next][apex] == chord->vertex_b) {
            append(sleeve, &sleeve->left, at, is_left_free);
            append(sleeve, &sleeve->right, at, is_right_free);
            return true;
        }
        int where = orient(chord->a, chord->b, at);
        if (where == 0)
            return false;
        if (where > 0)
            append(sleeve, &sleeve->left, at, is_left_free);
        else
            append(sleeve, &sleeve->right, at, is_right_free);
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

/*
 * The cheapest way along a chain that lies on the given side (+1 left, -1 right). Ways start where
 * the one before left free boundary and go, pulled tight, to where the next free boundary begins.
 */
static double cheapest_way(struct sleeve *sleeve, struct chain *chain, int inner_side,
                           double enough)
{
    struct chain_vertex *at = chain->items;
    size_t last = chain->count - 1;
    at[0].least = 0;
    for (size_t i = 0; i < last; i++) {
        if (i > 0 && at[i].is_free)
            lower(&at[i].least, at[i - 1].least);
        if (i > 0 && !at[i].is_free)
            continue; /* no free boundary ends here: ways that bend here start before it */
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
    if (at[last].is_free)
        lower(&at[last].least, at[last - 1].least);
    return at[last].least;
}

static bool is_dominated(struct sleeve *sleeve, const struct chord *chord)
{
    double enough = distance_nm(chord->a, chord->b) - WIN_NM;
    if (enough <= 0 || !gather(sleeve, chord) || sleeve->is_out_of_memory)
        return false;
    return cheapest_way(sleeve, &sleeve->left, 1, enough) <= enough ||
           cheapest_way(sleeve, &sleeve->right, -1, enough) <= enough;
}

enum neck_status taut_drop_dominated(const struct domain *domain, struct chord_list *list)
{
    struct sleeve sleeve = {.domain = domain};
    size_t kept = 0;
    for (size_t i = 0; i < list->count && !sleeve.is_out_of_memory; i++)
        if (!is_dominated(&sleeve, &list->items[i]))
            list->items[kept++] = list->items[i];
    free(sleeve.left.items);
    free(sleeve.right.items);
    free(sleeve.hull.items);
    if (sleeve.is_out_of_memory)
        return NECK_NO_MEMORY;
    list->count = kept;
    return NECK_OK;
}
