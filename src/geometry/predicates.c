/* The exact predicates: the public names, and what the inline ones fall back on. */
#include "geometry/predicates.h"

int orient(struct pt a, struct pt b, struct pt c)
{
    return sign_of(cross(a, b, c));
}

int64_t dot(struct pt a, struct pt b, struct pt c)
{
    return dot_at(a, b, c);
}

int64_t distance2(struct pt a, struct pt b)
{
    return dot_at(a, b, b);
}

int in_circle_exact(struct pt a, struct pt b, struct pt c, struct pt d)
{
    __int128 al = distance2(d, a), bl = distance2(d, b), cl = distance2(d, c);
    __int128 det = al * cross(d, b, c) + bl * cross(d, c, a) + cl * cross(d, a, b);
    return (det > 0) - (det < 0);
}

/* b, c, d on one circle with a point before all of them in order: is d on the arc beyond bc? */
static bool is_beyond(struct pt b, struct pt c, struct pt d)
{
    return cross(b, c, d) < 0;
}

bool is_drawn_into_circle(struct pt a, struct pt b, struct pt c, struct pt d)
{
    int from_a = compare_pt(d, a), from_b = compare_pt(d, b), from_c = compare_pt(d, c);
    if (from_a == 0 || from_b == 0 || from_c == 0)
        return false; /* a corner itself */
    if (from_a < 0 && from_b < 0 && from_c < 0)
        return true;
    if (compare_pt(a, b) < 0 && compare_pt(a, c) < 0)
        return is_beyond(b, c, d);
    return compare_pt(b, c) < 0 ? is_beyond(c, a, d) : is_beyond(a, b, d);
}

int in_circle(struct pt a, struct pt b, struct pt c, struct pt d)
{
    return in_circle_fast(a, b, c, d);
}
