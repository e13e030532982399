/*
 * Caps: triangles whose one corner lies all but on the side opposite to it. Where outlines meet at
 * other angles than those of the axes, rounding to whole nanometres leaves slivers of copper a
 * nanometre high and as long as the outline. Linear elements take such a one for a bar of metal
 * across its whole length, so the corner is made a point of that side, and the sliver is gone.
 */
#include <math.h>

#include "solve/fine.h"

#define CAP_NM 50.0 /* copper thinner than this leads nothing */

static struct pt at(const struct fine *fine, uint32_t tri, unsigned corner)
{
    return fine->points[fine->tris[tri].corner[corner]];
}

static bool is_dead(const struct fine *fine, uint32_t tri)
{
    return fine->tris[tri].corner[0] == ISTHMUS_NONE;
}

/* Is the corner opposite to this side within it, and nearer than CAP_NM? */
static bool is_cap(const struct fine *fine, uint32_t tri, unsigned side)
{
    struct pt p = at(fine, tri, side), a = at(fine, tri, next_corner(side)),
              c = at(fine, tri, previous_corner(side));
    if (!fine_is_fixed(fine, tri, side) || dot(p, a, c) >= 0)
        return false;
    double ax = (double)a.x - p.x, ay = (double)a.y - p.y;
    double cx = (double)c.x - p.x, cy = (double)c.y - p.y;
    return ax * cy - ay * cx < CAP_NM * hypot(cx - ax, cy - ay);
}

static unsigned side_of(const struct fine *fine, uint32_t tri, uint32_t neighbour)
{
    const uint32_t *neighbours = fine->tris[tri].neighbour;
    return neighbours[0] == neighbour ? 0 : neighbours[1] == neighbour ? 1 : 2;
}

/* What lies across one side of a cap that goes: `to` takes the cap's place. */
struct beyond {
    uint32_t tri, bound;
};

static struct beyond hand_over(struct fine *fine, uint32_t cap, unsigned side, uint32_t bound,
                               uint32_t to)
{
    struct beyond beyond = {fine->tris[cap].neighbour[side], fine->tris[cap].bound[side]};
    if (beyond.bound == ISTHMUS_NONE)
        beyond.bound = bound;
    if (beyond.tri != ISTHMUS_NONE) {
        unsigned back = side_of(fine, beyond.tri, cap);
        fine->tris[beyond.tri].neighbour[back] = to;
        fine->tris[beyond.tri].bound[back] = beyond.bound;
    }
    return beyond;
}

/* The copper ends at the long side: now it ends at the two short ones. */
static void drop(struct fine *fine, uint32_t cap, unsigned side)
{
    uint32_t bound = fine->tris[cap].bound[side];
    hand_over(fine, cap, next_corner(side), bound, ISTHMUS_NONE);
    hand_over(fine, cap, previous_corner(side), bound, ISTHMUS_NONE);
    fine->tris[cap].corner[0] = ISTHMUS_NONE;
}

/* Cap p, a, c and d, c, a across a-c become d, c, p and d, p, a. */
static bool turn_over(struct fine *fine, uint32_t cap, unsigned side)
{
    struct fine_tri t = fine->tris[cap];
    uint32_t other = t.neighbour[side];
    struct fine_tri u = fine->tris[other];
    unsigned j = side_of(fine, other, cap), jc = next_corner(j), ja = previous_corner(j);
    uint32_t p = t.corner[side], d = u.corner[j], c = u.corner[jc], a = u.corner[ja];
    const struct pt *points = fine->points;
    if (orient(points[d], points[c], points[p]) <= 0 ||
        orient(points[d], points[p], points[a]) <= 0)
        return false;
    struct beyond cp = hand_over(fine, cap, next_corner(side), t.bound[side], other);
    struct beyond pa = hand_over(fine, cap, previous_corner(side), t.bound[side], cap);
    uint32_t ad = u.neighbour[jc];
    if (ad != ISTHMUS_NONE)
        fine->tris[ad].neighbour[side_of(fine, ad, other)] = cap;
    fine->tris[other] = (struct fine_tri){{d, c, p},
                                          {cp.tri, cap, u.neighbour[ja]},
                                          {cp.bound, ISTHMUS_NONE, u.bound[ja]},
                                          u.contact,
                                          false,
                                          false};
    fine->tris[cap] = (struct fine_tri){
        {d, p, a}, {pa.tri, ad, other}, {pa.bound, u.bound[jc], ISTHMUS_NONE}, u.contact, false,
        false};
    return true;
}

static bool remove_cap(struct fine *fine, uint32_t tri)
{
    for (unsigned i = 0; i < 3; i++) {
        if (!is_cap(fine, tri, i))
            continue;
        if (fine->tris[tri].neighbour[i] != ISTHMUS_NONE)
            return turn_over(fine, tri, i);
        drop(fine, tri, i);
        return true;
    }
    return false;
}

static bool flip_any(struct fine *fine)
{
    bool is_flipped = false;
    for (uint32_t t = 0; t < fine->tri_count; t++)
        for (unsigned i = 0; !is_dead(fine, t) && i < 3; i++)
            is_flipped |= fine_flip(fine, t, 0); /* turns it by a corner too */
    return is_flipped;
}

/* Moves the last triangle into the place of a dead one. */
static void close_up(struct fine *fine)
{
    for (uint32_t t = 0; t < fine->tri_count; t++) {
        while (fine->tri_count > t && is_dead(fine, (uint32_t)fine->tri_count - 1))
            fine->tri_count--;
        if (t >= fine->tri_count || !is_dead(fine, t))
            continue;
        uint32_t last = (uint32_t)--fine->tri_count;
        fine->tris[t] = fine->tris[last];
        for (unsigned i = 0; i < 3; i++)
            if (fine->tris[t].neighbour[i] != ISTHMUS_NONE) {
                uint32_t beyond = fine->tris[t].neighbour[i];
                fine->tris[beyond].neighbour[side_of(fine, beyond, last)] = t;
            }
    }
}

#define PASS_LIMIT 100 /* each removes a cap or more; what is left after that does no harm */

void fine_remove_caps(struct fine *fine)
{
    bool is_changed = true;
    for (int pass = 0; is_changed && pass < PASS_LIMIT; pass++) {
        is_changed = false;
        for (uint32_t t = 0; t < fine->tri_count; t++)
            if (!is_dead(fine, t))
                is_changed |= remove_cap(fine, t);
        while (is_changed && flip_any(fine))
            continue;
    }
    close_up(fine);
}
