/* Inserting points into a constrained Delaunay mesh by splits and flips (Lawson 1977). */
#include "solve/fine.h"

#include <stdlib.h>

static bool copy_domain(const struct domain *domain, struct fine *out)
{
    if (!array_grow(&out->points, sizeof *out->points, &out->point_capacity,
                    2 * (size_t)domain->point_count + 16) ||
        !array_grow(&out->tris, sizeof *out->tris, &out->tri_capacity,
                    2 * (size_t)domain->tri_count + 16))
        return false;
    for (uint32_t p = 0; p < domain->point_count; p++)
        out->points[p] = domain->points[p];
    for (uint32_t t = 0; t < domain->tri_count; t++) {
        struct fine_tri *tri = &out->tris[t];
        *tri = (struct fine_tri){.contact = domain->contact[t] != ISTHMUS_NONE ? domain->contact[t]
                                                                               : domain->pad[t]};
        for (unsigned i = 0; i < 3; i++) {
            tri->corner[i] = domain->corner[t][i];
            tri->neighbour[i] = domain->neighbour[t][i];
            tri->bound[i] = domain->bound[t][i];
        }
    }
    out->point_count = domain->point_count;
    out->tri_count = domain->tri_count;
    return true;
}

enum fine_status fine_new(const struct domain *domain, struct fine *out)
{
    *out = (struct fine){.domain = domain};
    if (!copy_domain(domain, out)) {
        fine_free(out);
        return FINE_NO_MEMORY;
    }
    fine_remove_caps(out);
    return FINE_OK;
}

void fine_free(struct fine *fine)
{
    free(fine->points);
    free(fine->tris);
    free(fine->touched);
    *fine = (struct fine){0};
}

bool fine_is_fixed(const struct fine *fine, uint32_t tri, unsigned side)
{
    const struct fine_tri *t = &fine->tris[tri];
    return t->neighbour[side] == ISTHMUS_NONE || t->bound[side] != ISTHMUS_NONE;
}

static struct pt corner_at(const struct fine *fine, uint32_t tri, unsigned corner)
{
    return fine->points[fine->tris[tri].corner[corner]];
}

static unsigned side_of(const struct fine *fine, uint32_t tri, uint32_t neighbour)
{
    const struct fine_tri *t = &fine->tris[tri];
    return t->neighbour[0] == neighbour ? 0 : t->neighbour[1] == neighbour ? 1 : 2;
}

/* What lies across one side of a triangle. */
struct across {
    uint32_t neighbour, bound;
};

static struct across across_of(const struct fine_tri *tri, unsigned side)
{
    return (struct across){tri->neighbour[side], tri->bound[side]};
}

static void relink(struct fine *fine, uint32_t tri, uint32_t from, uint32_t to)
{
    if (tri != ISTHMUS_NONE)
        fine->tris[tri].neighbour[side_of(fine, tri, from)] = to;
}

/* The new point is always corner 2, and the side opposite to it side 2. */
static void set_tri(struct fine *fine, uint32_t tri, const uint32_t corner[3],
                    const struct across sides[3])
{
    struct fine_tri *t = &fine->tris[tri];
    for (unsigned i = 0; i < 3; i++) {
        t->corner[i] = corner[i];
        t->neighbour[i] = sides[i].neighbour;
        t->bound[i] = sides[i].bound;
    }
    t->is_wanted = false;
}

static bool touch(struct fine *fine, uint32_t tri)
{
    if (!array_grow(&fine->touched, sizeof *fine->touched, &fine->touched_capacity,
                    fine->touched_count + 1))
        return false;
    fine->touched[fine->touched_count++] = tri;
    return true;
}

/* a, b, p with d across a-b becomes a, d, p and d, b, p. */
static void flip(struct fine *fine, uint32_t tri, uint32_t other)
{
    struct fine_tri t = fine->tris[tri], u = fine->tris[other];
    unsigned apex = side_of(fine, other, tri);
    uint32_t a = t.corner[0], b = t.corner[1], p = t.corner[2], d = u.corner[apex];
    struct across ad = across_of(&u, next_corner(apex)), db = across_of(&u, previous_corner(apex));
    struct across bp = across_of(&t, 0), pa = across_of(&t, 1);
    set_tri(fine, tri, (uint32_t[]){a, d, p}, (struct across[]){{other, ISTHMUS_NONE}, pa, ad});
    set_tri(fine, other, (uint32_t[]){d, b, p}, (struct across[]){bp, {tri, ISTHMUS_NONE}, db});
    relink(fine, ad.neighbour, other, tri);
    relink(fine, bp.neighbour, tri, other);
}

static bool is_flip_due(const struct fine *fine, uint32_t tri)
{
    if (fine_is_fixed(fine, tri, 2))
        return false;
    uint32_t other = fine->tris[tri].neighbour[2];
    struct pt d = corner_at(fine, other, side_of(fine, other, tri));
    return in_circle(corner_at(fine, tri, 0), corner_at(fine, tri, 1), corner_at(fine, tri, 2), d) >
           0;
}

static void rotate(struct fine_tri *t, unsigned side)
{
    struct fine_tri old = *t;
    for (unsigned i = 0, from = next_corner(side); i < 3; i++, from = next_corner(from)) {
        t->corner[i] = old.corner[from];
        t->neighbour[i] = old.neighbour[from];
        t->bound[i] = old.bound[from];
    }
}

bool fine_flip(struct fine *fine, uint32_t tri, unsigned side)
{
    rotate(&fine->tris[tri], side);
    if (!is_flip_due(fine, tri))
        return false;
    flip(fine, tri, fine->tris[tri].neighbour[2]);
    return true;
}

/* Every touched triangle has the new point as corner 2; flips touch more of them. */
static bool flip_all(struct fine *fine)
{
    for (size_t i = 0; i < fine->touched_count; i++) {
        uint32_t tri = fine->touched[i];
        while (is_flip_due(fine, tri)) {
            uint32_t other = fine->tris[tri].neighbour[2];
            flip(fine, tri, other);
            if (!touch(fine, other))
                return false;
        }
    }
    return true;
}

static bool make_room(struct fine *fine, size_t tri_count)
{
    return array_grow(&fine->points, sizeof *fine->points, &fine->point_capacity,
                      fine->point_count + 1) &&
           array_grow(&fine->tris, sizeof *fine->tris, &fine->tri_capacity,
                      fine->tri_count + tri_count) &&
           array_grow(&fine->touched, sizeof *fine->touched, &fine->touched_capacity, 4);
}

static uint32_t add_point(struct fine *fine, struct pt p)
{
    fine->points[fine->point_count] = p;
    return (uint32_t)fine->point_count++;
}

/* A new triangle slot in the same pad; its corners follow. */
static uint32_t add_tri(struct fine *fine, uint32_t like)
{
    fine->tris[fine->tri_count] = (struct fine_tri){.contact = fine->tris[like].contact};
    return (uint32_t)fine->tri_count++;
}

enum fine_status fine_split_tri(struct fine *fine, uint32_t tri, struct pt p, bool *is_done)
{
    *is_done = false;
    for (unsigned i = 0; i < 3; i++)
        if (orient(corner_at(fine, tri, i), corner_at(fine, tri, next_corner(i)), p) <= 0)
            return FINE_OK;
    if (!make_room(fine, 2))
        return FINE_NO_MEMORY;
    struct fine_tri t = fine->tris[tri];
    uint32_t a = t.corner[0], b = t.corner[1], c = t.corner[2], n = add_point(fine, p);
    uint32_t bc = add_tri(fine, tri), ca = add_tri(fine, tri);
    set_tri(fine, tri, (uint32_t[]){a, b, n},
            (struct across[]){{bc, ISTHMUS_NONE}, {ca, ISTHMUS_NONE}, across_of(&t, 2)});
    set_tri(fine, bc, (uint32_t[]){b, c, n},
            (struct across[]){{ca, ISTHMUS_NONE}, {tri, ISTHMUS_NONE}, across_of(&t, 0)});
    set_tri(fine, ca, (uint32_t[]){c, a, n},
            (struct across[]){{tri, ISTHMUS_NONE}, {bc, ISTHMUS_NONE}, across_of(&t, 1)});
    relink(fine, t.neighbour[0], tri, bc);
    relink(fine, t.neighbour[1], tri, ca);
    fine->touched_count = 0;
    *is_done = true;
    return touch(fine, tri) && touch(fine, bc) && touch(fine, ca) && flip_all(fine)
               ? FINE_OK
               : FINE_NO_MEMORY;
}

/* p between the ends of this side as seen from the triangle's own apex. */
static bool is_splittable(const struct fine *fine, uint32_t tri, unsigned side, struct pt p)
{
    struct pt apex = corner_at(fine, tri, side);
    return orient(apex, corner_at(fine, tri, next_corner(side)), p) > 0 &&
           orient(corner_at(fine, tri, previous_corner(side)), apex, p) > 0;
}

/* Halves of one side's triangle: the one at its start (a) and the one at its end (b). */
struct halves {
    uint32_t at_a, at_b;
};

/* tri = c, a, b with a-b the side that is split. What lies across is set by the caller. */
static struct halves split_half(struct fine *fine, uint32_t tri, unsigned side, uint32_t n)
{
    struct fine_tri t = fine->tris[tri];
    unsigned ia = next_corner(side), ib = previous_corner(side);
    uint32_t c = t.corner[side], a = t.corner[ia], b = t.corner[ib];
    struct halves halves = {tri, add_tri(fine, tri)};
    struct across open = {ISTHMUS_NONE, t.bound[side]};
    set_tri(fine, halves.at_a, (uint32_t[]){c, a, n},
            (struct across[]){open, {halves.at_b, ISTHMUS_NONE}, across_of(&t, ib)});
    set_tri(fine, halves.at_b, (uint32_t[]){b, c, n},
            (struct across[]){{halves.at_a, ISTHMUS_NONE}, open, across_of(&t, ia)});
    relink(fine, t.neighbour[ia], tri, halves.at_b);
    return halves;
}

enum fine_status fine_split_side(struct fine *fine, uint32_t tri, unsigned side, struct pt p,
                                 bool *is_done)
{
    uint32_t other = fine->tris[tri].neighbour[side];
    *is_done = false;
    if (!is_splittable(fine, tri, side, p) ||
        (other != ISTHMUS_NONE && !is_splittable(fine, other, side_of(fine, other, tri), p)))
        return FINE_OK;
    if (!make_room(fine, 2))
        return FINE_NO_MEMORY;
    unsigned other_side = other != ISTHMUS_NONE ? side_of(fine, other, tri) : 0;
    uint32_t n = add_point(fine, p);
    struct halves here = split_half(fine, tri, side, n);
    fine->touched_count = 0;
    *is_done = true;
    bool is_ok = touch(fine, here.at_a) && touch(fine, here.at_b);
    if (other != ISTHMUS_NONE) {
        struct halves there = split_half(fine, other, other_side, n);
        fine->tris[here.at_a].neighbour[0] = there.at_b;
        fine->tris[here.at_b].neighbour[1] = there.at_a;
        fine->tris[there.at_a].neighbour[0] = here.at_b;
        fine->tris[there.at_b].neighbour[1] = here.at_a;
        is_ok = is_ok && touch(fine, there.at_a) && touch(fine, there.at_b);
    }
    return is_ok && flip_all(fine) ? FINE_OK : FINE_NO_MEMORY;
}

/* ---- invariants ---- */

static const char *side_fault(const struct fine *fine, uint32_t tri, unsigned side)
{
    uint32_t other = fine->tris[tri].neighbour[side];
    if (other == ISTHMUS_NONE)
        return NULL;
    if (other >= fine->tri_count)
        return "a neighbour that is none";
    unsigned back = side_of(fine, other, tri);
    const struct fine_tri *t = &fine->tris[tri], *u = &fine->tris[other];
    if (u->neighbour[back] != tri ||
        u->corner[next_corner(back)] != t->corner[previous_corner(side)] ||
        u->corner[previous_corner(back)] != t->corner[next_corner(side)])
        return "neighbours that do not share their side";
    if (fine_is_fixed(fine, tri, side))
        return NULL;
    if (t->contact != u->contact)
        return "a pad's outline without a bound";
    return in_circle(corner_at(fine, tri, 0), corner_at(fine, tri, 1), corner_at(fine, tri, 2),
                     corner_at(fine, other, back)) > 0
               ? "a side that should be flipped"
               : NULL;
}

bool fine_check(const struct fine *fine, const char **why)
{
    for (uint32_t t = 0; t < fine->tri_count; t++) {
        *why = orient(corner_at(fine, t, 0), corner_at(fine, t, 1), corner_at(fine, t, 2)) > 0
                   ? NULL
                   : "a triangle turned over";
        for (unsigned i = 0; i < 3 && !*why; i++)
            *why = side_fault(fine, t, i);
        if (*why)
            return false;
    }
    return true;
}
