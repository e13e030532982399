/*
 * Delaunay triangulation by insertion (Bowyer 1981, Watson 1981) with ghost triangles outside the
 * hull, so that the hull needs no special case. Points come in an order in which neighbours follow
 * each other: the walk to the next one is short and the triangles stay in the cache.
 */
#include "geometry/internal.h"

#include <stdlib.h>

static bool is_ghost_edge(const uint32_t corner[3], unsigned *ghost_at)
{
    for (unsigned i = 0; i < 3; i++)
        if (corner[i] == GHOST) {
            *ghost_at = i;
            return true;
        }
    return false;
}

/* Beyond the hull edge u -> v, or on it between the two. */
static bool ghost_conflicts(struct pt u, struct pt v, struct pt at)
{
    int64_t side = cross(u, v, at);
    return side != 0 ? side > 0 : dot_at(at, u, v) < 0;
}

static bool conflicts(const struct builder *build, uint32_t tri, struct pt at)
{
    const uint32_t *corner = build->corner[tri];
    const struct pt *points = build->points;
    unsigned ghost_at;
    if (is_ghost_edge(corner, &ghost_at))
        return ghost_conflicts(points[corner[next3(ghost_at)]], points[corner[prev3(ghost_at)]],
                               at);
    return is_in_circle(points[corner[0]], points[corner[1]], points[corner[2]], at);
}

static bool is_beyond(const struct builder *build, uint32_t tri, unsigned edge, struct pt at)
{
    const uint32_t *corner = build->corner[tri];
    return cross(build->points[corner[next3(edge)]], build->points[corner[prev3(edge)]], at) < 0;
}

/* A triangle in conflict with the point: the one that holds it, or a ghost beyond the hull. */
static uint32_t walk_to(const struct builder *build, struct pt at)
{
    uint32_t tri = build->last;
    unsigned from = 3, ghost_at;
    for (;;) {
        unsigned edge = from == 3 ? 0 : next3(from), tests = from == 3 ? 3 : 2;
        for (; tests > 0 && !is_beyond(build, tri, edge, at); tests--)
            edge = next3(edge);
        if (tests == 0)
            return tri;
        uint32_t across = build->next[tri][edge];
        tri = across >> 2;
        from = across & 3;
        if (is_ghost_edge(build->corner[tri], &ghost_at))
            return tri;
    }
}

static bool push_edge(struct builder *build, size_t *depth, uint32_t half_edge)
{
    if (*depth == build->stack_capacity &&
        !array_grow(&build->stack, sizeof *build->stack, &build->stack_capacity, *depth + 1))
        return false;
    build->stack[(*depth)++] = half_edge;
    return true;
}

static bool add_dead(struct builder *build, uint32_t tri)
{
    if (build->dead_count == build->dead_capacity &&
        !array_grow(&build->dead, sizeof *build->dead, &build->dead_capacity,
                    build->dead_count + 1))
        return false;
    build->dead[build->dead_count++] = tri;
    return true;
}

static bool add_rim(struct builder *build, uint32_t half_edge, uint32_t outer)
{
    if (build->rim_count == build->rim_capacity &&
        !array_grow(&build->rim, sizeof *build->rim, &build->rim_capacity, build->rim_count + 1))
        return false;
    const uint32_t *corner = build->corner[half_edge >> 2];
    unsigned edge = half_edge & 3;
    build->rim[build->rim_count++] = (struct rim){corner[next3(edge)], corner[prev3(edge)], outer};
    return true;
}

/*
 * All triangles in conflict, and the cavity's boundary counterclockwise. They hang together without
 * a point inside, so their dual graph is a tree and needs no marks.
 */
static bool find_cavity(struct builder *build, uint32_t first, struct pt at)
{
    size_t depth = 0;
    build->dead_count = build->rim_count = 0;
    if (!add_dead(build, first) || !push_edge(build, &depth, first << 2 | 2) ||
        !push_edge(build, &depth, first << 2 | 1) || !push_edge(build, &depth, first << 2))
        return false;
    while (depth > 0) {
        uint32_t half_edge = build->stack[--depth];
        uint32_t outer = build->next[half_edge >> 2][half_edge & 3];
        uint32_t tri = outer >> 2;
        bool grows = conflicts(build, tri, at);
        if (!grows && !add_rim(build, half_edge, outer))
            return false;
        if (grows &&
            (!add_dead(build, tri) || !push_edge(build, &depth, tri << 2 | prev3(outer & 3)) ||
             !push_edge(build, &depth, tri << 2 | next3(outer & 3))))
            return false;
    }
    return true;
}

static uint32_t fan_slot(const struct builder *build, size_t index)
{
    if (index < build->dead_count)
        return build->dead[index];
    return build->tri_count + (uint32_t)(index - build->dead_count);
}

/* Fills the cavity with the fan about the point. */
static void fill_cavity(struct builder *build, uint32_t point)
{
    size_t count = build->rim_count;
    uint32_t before = fan_slot(build, count - 1), slot = fan_slot(build, 0);
    for (size_t i = 0; i < count; i++) {
        const struct rim *rim = &build->rim[i];
        uint32_t after = fan_slot(build, i + 1 == count ? 0 : i + 1);
        uint32_t *corner = build->corner[slot], *next = build->next[slot];
        corner[0] = point;
        corner[1] = rim->a;
        corner[2] = rim->b;
        next[0] = rim->outer;
        next[1] = after << 2 | 2;
        next[2] = before << 2 | 1;
        build->next[rim->outer >> 2][rim->outer & 3] = slot << 2;
        if (rim->a != GHOST && rim->b != GHOST)
            build->last = slot;
        before = slot;
        slot = after;
    }
    build->tri_count += (uint32_t)(count - build->dead_count);
}

static bool insert_point(struct builder *build, uint32_t point)
{
    struct pt at = build->points[point];
    if (!find_cavity(build, walk_to(build, at), at))
        return false;
    fill_cavity(build, point);
    return true;
}

static void link_half_edges(struct builder *build, uint32_t a, uint32_t b)
{
    build->next[a >> 2][a & 3] = b;
    build->next[b >> 2][b & 3] = a;
}

/* One triangle and its three ghosts. */
static void start_with(struct builder *build, uint32_t a, uint32_t b, uint32_t c)
{
    const struct pt *points = build->points;
    if (cross(points[a], points[b], points[c]) < 0) {
        uint32_t swap = b;
        b = c;
        c = swap;
    }
    const uint32_t first[4][3] = {{a, b, c}, {c, b, GHOST}, {a, c, GHOST}, {b, a, GHOST}};
    for (unsigned t = 0; t < 4; t++)
        for (unsigned i = 0; i < 3; i++)
            build->corner[t][i] = first[t][i];
    for (unsigned i = 0; i < 3; i++) {
        link_half_edges(build, 0 << 2 | i, (i + 1) << 2 | 2);
        /* ghost i+1 stands on edge i; its second corner's far edge meets the ghost before it */
        link_half_edges(build, (i + 1) << 2 | 0, (prev3(i) + 1) << 2 | 1);
    }
    build->tri_count = 4;
    build->last = 0;
}

/* The first point that does not lie on the line through points 0 and 1; the count if all do. */
static uint32_t first_off_line(const struct builder *build)
{
    for (uint32_t i = 2; i < build->point_count; i++)
        if (cross(build->points[0], build->points[1], build->points[i]) != 0)
            return i;
    return build->point_count;
}

static enum mesh_status insert_range(struct builder *build, uint32_t first, uint32_t end,
                                     uint32_t but)
{
    for (uint32_t i = first; i < end; i++)
        if (i != but && !insert_point(build, i))
            return MESH_NO_MEMORY;
    return MESH_OK;
}

enum mesh_status delaunay_insert_all(struct builder *build, bool has_frame, bool *is_flat)
{
    uint32_t count = build->point_count;
    *is_flat = false;
    if (has_frame) { /* the last four points are its corners, counterclockwise */
        start_with(build, count - 4, count - 3, count - 2);
        if (!insert_point(build, count - 1))
            return MESH_NO_MEMORY;
        return insert_range(build, 0, count - 4, GHOST);
    }
    uint32_t third = count < 3 ? count : first_off_line(build);
    if (third == count) {
        *is_flat = true;
        return MESH_OK;
    }
    start_with(build, 0, 1, third);
    return insert_range(build, 2, count, third);
}
