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

int in_circle(struct pt a, struct pt b, struct pt c, struct pt d)
{
    return in_circle_fast(a, b, c, d);
}
