/*
 * How much of one mesh lies over another. Which triangles meet is asked of the exact predicates;
 * what two of them share is clipped in floating point, off by some 1e-15 of their area.
 */
#include "geometry/internal.h"

#include <stdlib.h>

struct tri_pts {
    struct pt at[3]; /* counterclockwise */
};
struct overlap {
    const struct cdt *under;
    uint32_t *seen; /* per triangle of under: the number of the last one laid over it */
    uint32_t *stack;
    size_t stack_capacity;
};

static struct tri_pts corners_of(const struct cdt *mesh, uint32_t tri)
{
    const uint32_t *corner = mesh->corner[tri];
    return (struct tri_pts){
        {mesh->points[corner[0]], mesh->points[corner[1]], mesh->points[corner[2]]}};
}

/* Does one side of a have all of b beyond it? */
static bool has_beyond(const struct tri_pts *a, const struct tri_pts *b)
{
    for (unsigned i = 0; i < 3; i++) {
        struct pt from = a->at[i], to = a->at[next3(i)];
        if (cross(from, to, b->at[0]) < 0 && cross(from, to, b->at[1]) < 0 &&
            cross(from, to, b->at[2]) < 0)
            return true;
    }
    return false;
}

/* A common point is enough: what meets a triangle then hangs together by sides that meet it. */
static bool do_meet(const struct tri_pts *a, const struct tri_pts *b)
{
    return !has_beyond(a, b) && !has_beyond(b, a);
}

struct corner {
    double x, y, height; /* about the clipped triangle's first corner; above the line that clips */
};
#define MOST_CORNERS 8 /* of two triangles' common part 6 */

/* What of the polygon lies above its line. */
static unsigned clip(const struct corner *from, unsigned count, struct corner *to)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < count; i++) {
        const struct corner *a = &from[i], *b = &from[i + 1 == count ? 0 : i + 1];
        if (a->height >= 0)
            to[kept++] = *a;
        if ((a->height < 0) != (b->height < 0)) {
            double part = a->height / (a->height - b->height);
            to[kept++] =
                (struct corner){a->x + part * (b->x - a->x), a->y + part * (b->y - a->y), 0};
        }
    }
    return kept;
}

double tri_overlap_nm2(const struct pt a[3], const struct pt b[3])
{
    struct corner corners[2][MOST_CORNERS] = {{{0}}};
    unsigned count = 3, now = 0;
    for (unsigned i = 0; i < 3; i++)
        corners[0][i] = (struct corner){(double)a[i].x - a[0].x, (double)a[i].y - a[0].y, 0};
    for (unsigned i = 0; i < 3 && count > 0; i++) {
        double x = (double)b[i].x - a[0].x, y = (double)b[i].y - a[0].y;
        double dx = (double)b[next3(i)].x - b[i].x, dy = (double)b[next3(i)].y - b[i].y;
        for (unsigned k = 0; k < count; k++) {
            struct corner *corner = &corners[now][k];
            corner->height = dx * (corner->y - y) - dy * (corner->x - x);
        }
        count = clip(corners[now], count, corners[!now]);
        now = !now;
    }
    double twice = 0;
    for (unsigned k = 2; k < count; k++) {
        const struct corner *p = &corners[now][0], *q = &corners[now][k - 1], *r = p + k;
        twice += (q->x - p->x) * (r->y - p->y) - (q->y - p->y) * (r->x - p->x);
    }
    return twice > 0 ? twice / 2 : 0;
}

static bool push(struct overlap *overlap, size_t *depth, uint32_t tri, uint32_t number)
{
    if (tri == ISTHMUS_NONE || overlap->seen[tri] == number)
        return true;
    overlap->seen[tri] = number;
    if (!array_grow(&overlap->stack, sizeof *overlap->stack, &overlap->stack_capacity, *depth + 1))
        return false;
    overlap->stack[(*depth)++] = tri;
    return true;
}

/* All triangles of under that meet one laid over it, from the one at its corner on. */
static bool lay_triangle(struct overlap *overlap, const struct tri_pts *over, uint32_t first,
                         uint32_t number, sheet_overlap_fn note, void *context)
{
    size_t depth = 0;
    bool ok = push(overlap, &depth, first, number);
    while (ok && depth > 0) {
        uint32_t tri = overlap->stack[--depth];
        struct tri_pts under = corners_of(overlap->under, tri);
        if (!do_meet(over, &under))
            continue;
        double area_nm2 = tri_overlap_nm2(over->at, under.at);
        if (area_nm2 > 0)
            ok = note(number, tri, area_nm2, context);
        for (unsigned i = 0; ok && i < 3; i++)
            ok = push(overlap, &depth, overlap->under->neighbour[tri][i], number);
    }
    return ok;
}

enum mesh_status sheet_overlaps(const struct cdt *over,
                                bool (*is_laid)(uint32_t tri, void *context),
                                const struct cdt *under, const struct locator *locator,
                                sheet_overlap_fn note, void *context)
{
    struct overlap overlap = {.under = under,
                              .seen = mesh_alloc(under->tri_count, sizeof *overlap.seen)};
    bool ok = overlap.seen != NULL;
    for (uint32_t tri = 0; ok && tri < under->tri_count; tri++)
        overlap.seen[tri] = ISTHMUS_NONE;
    for (uint32_t tri = 0; ok && tri < over->tri_count; tri++) {
        if (!is_laid(tri, context))
            continue;
        struct tri_pts corners = corners_of(over, tri);
        ok = lay_triangle(&overlap, &corners, locator_find(locator, corners.at[0]), tri, note,
                          context);
    }
    free(overlap.seen);
    free(overlap.stack);
    return ok ? MESH_OK : MESH_NO_MEMORY;
}
