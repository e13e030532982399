/*
 * Constraints into a Delaunay triangulation: the triangles that one crosses are taken out and the
 * two polygons left of it and right of it triangulated anew, each by the corner whose circle with
 * the base is empty (Anglada 1997). The result is constrained Delaunay.
 */
#include "geometry/internal.h"

#include <stdlib.h>

/* One edge of the polygon on a side of the constraint, from the vertex before it to its own. */
struct side {
    uint32_t vertex; /* where the edge ends; entry 0 is the base's start and has no edge */
    uint32_t inner;  /* its half edge in the triangle taken out */
    uint32_t outer;  /* the half edge beyond it */
    uint32_t chain;
    uint32_t twin; /* the edge is met from both sides: the other entry; else GHOST */
    uint32_t made; /* half edge of the new triangle on it, once there is one */
};
/* A polygon still to be triangulated: side entries from .. to, closed by the base. */
struct span {
    uint32_t from, to, base; /* base: half edge of the triangle made on its other side, or GHOST */
};
#define TWIN_BIT (UINT32_C(1) << 31)

enum step { STEP_ALONG, STEP_CROSSES, STEP_LOST };

static void set_chain(uint32_t *chain, uint32_t constraint)
{
    if (constraint < *chain)
        *chain = constraint;
}

static void mark_edge(struct builder *build, uint32_t half_edge, uint32_t constraint)
{
    uint32_t across = build->next[half_edge >> 2][half_edge & 3];
    set_chain(&build->chain[half_edge >> 2][half_edge & 3], constraint);
    set_chain(&build->chain[across >> 2][across & 3], constraint);
}

static unsigned corner_at(const uint32_t corner[3], uint32_t vertex)
{
    return corner[0] == vertex ? 0 : corner[1] == vertex ? 1 : 2;
}

/* The half edge u -> v, or GHOST: most constraints are edges already. */
static uint32_t find_edge(const struct builder *build, uint32_t u, uint32_t v)
{
    uint32_t first = build->tri_of[u], tri = first;
    do {
        const uint32_t *corner = build->corner[tri];
        unsigned at = corner_at(corner, u);
        if (corner[next3(at)] == v)
            return tri << 2 | prev3(at);
        tri = build->next[tri][next3(at)] >> 2; /* across the edge to u: counterclockwise */
    } while (tri != first);
    return GHOST;
}

/*
 * How the way from u to v leaves u, which is no edge: along one, touching a vertex between, or
 * through the triangle whose far half edge is given.
 */
static enum step first_step(const struct builder *build, uint32_t u, uint32_t v, uint32_t *out)
{
    const struct pt *points = build->points;
    uint32_t first = build->tri_of[u], tri = first;
    do {
        const uint32_t *corner = build->corner[tri];
        unsigned at = corner_at(corner, u);
        uint32_t a = corner[next3(at)], b = corner[prev3(at)];
        *out = tri << 2 | prev3(at); /* the edge u -> a */
        if (a != GHOST) {
            int64_t side = cross(points[u], points[a], points[v]);
            if (side == 0 && dot_at(points[u], points[a], points[v]) > 0)
                return STEP_ALONG;
            if (b != GHOST && side > 0 && cross(points[u], points[b], points[v]) < 0) {
                *out = tri << 2 | at;
                return STEP_CROSSES;
            }
        }
        tri = build->next[tri][next3(at)] >> 2;
    } while (tri != first);
    return STEP_LOST;
}

static bool add_side(struct builder *build, unsigned which, uint32_t vertex, uint32_t inner)
{
    size_t count = build->side_count[which];
    if (!array_grow(&build->sides[which], sizeof **build->sides, &build->side_capacity[which],
                    count + 1))
        return false;
    struct side *side = &build->sides[which][count];
    *side = (struct side){vertex, inner, GHOST, ISTHMUS_NONE, GHOST, GHOST};
    if (inner != GHOST) {
        side->outer = build->next[inner >> 2][inner & 3];
        side->chain = build->chain[inner >> 2][inner & 3];
    }
    build->side_count[which] = count + 1;
    return true;
}

static bool add_dead(struct builder *build, uint32_t tri)
{
    if (!array_grow(&build->dead, sizeof *build->dead, &build->dead_capacity,
                    build->dead_count + 1))
        return false;
    build->dead[build->dead_count++] = tri;
    return true;
}

static bool start_crossing(struct builder *build, uint32_t u, uint32_t half_edge)
{
    uint32_t tri = half_edge >> 2;
    unsigned at = half_edge & 3;
    const uint32_t *corner = build->corner[tri];
    build->dead_count = build->side_count[0] = build->side_count[1] = 0;
    /* u -> a runs on the right, b -> u on the left of the way */
    return add_dead(build, tri) && add_side(build, 0, u, GHOST) && add_side(build, 1, u, GHOST) &&
           add_side(build, 1, corner[next3(at)], tri << 2 | prev3(at)) &&
           add_side(build, 0, corner[prev3(at)], tri << 2 | next3(at));
}

/*
 * Takes out the triangles from u towards v, up to v or the first vertex on the way, which becomes
 * *end. Both sides are listed from u on.
 */
static enum mesh_status cross_to(struct builder *build, uint32_t u, uint32_t v, uint32_t half_edge,
                                 uint32_t *end)
{
    const struct pt *points = build->points;
    if (!start_crossing(build, u, half_edge))
        return MESH_NO_MEMORY;
    for (;;) {
        if (build->chain[half_edge >> 2][half_edge & 3] != ISTHMUS_NONE)
            return MESH_BUG; /* two constraints cross */
        uint32_t across = build->next[half_edge >> 2][half_edge & 3], tri = across >> 2;
        unsigned at = across & 3;
        uint32_t apex = build->corner[tri][at];
        if (apex == GHOST)
            return MESH_BUG;
        /* across runs from the left vertex to the right one */
        int64_t side = apex == v ? 0 : cross(points[u], points[v], points[apex]);
        uint32_t right_edge = tri << 2 | next3(at), left_edge = tri << 2 | prev3(at);
        bool ok = add_dead(build, tri);
        if (side >= 0)
            ok = ok && add_side(build, 0, apex, left_edge);
        if (side <= 0)
            ok = ok && add_side(build, 1, apex, right_edge);
        if (!ok)
            return MESH_NO_MEMORY;
        if (side == 0) {
            *end = apex;
            return MESH_OK;
        }
        half_edge = side > 0 ? right_edge : left_edge;
    }
}

/* An edge both of whose triangles were taken out appears twice: finds the pairs. */
static void pair_twins(struct builder *build)
{
    for (uint32_t which = 0; which < 2; which++)
        for (uint32_t i = 1; i < build->side_count[which]; i++) {
            uint32_t inner = build->sides[which][i].inner;
            build->next[inner >> 2][inner & 3] = TWIN_BIT | i << 1 | which;
        }
    for (unsigned which = 0; which < 2; which++)
        for (size_t i = 1; i < build->side_count[which]; i++) {
            struct side *side = &build->sides[which][i];
            uint32_t tag = build->next[side->outer >> 2][side->outer & 3];
            if (tag & TWIN_BIT)
                side->twin = tag & ~TWIN_BIT;
        }
}

static void join(struct builder *build, uint32_t a, uint32_t b, uint32_t chain)
{
    build->next[a >> 2][a & 3] = b;
    build->next[b >> 2][b & 3] = a;
    build->chain[a >> 2][a & 3] = build->chain[b >> 2][b & 3] = chain;
}

/* A new triangle's half edge lies on an edge of the old polygon. */
static void attach_side(struct builder *build, struct side *side, uint32_t half_edge)
{
    if (side->twin == GHOST) {
        join(build, half_edge, side->outer, side->chain);
        return;
    }
    struct side *twin = &build->sides[side->twin & 1][side->twin >> 1];
    side->made = half_edge;
    if (twin->made != GHOST)
        join(build, half_edge, twin->made, side->chain);
}

static uint32_t best_apex(const struct builder *build, const struct side *sides,
                          const struct span *span, bool is_left)
{
    const struct pt *points = build->points;
    struct pt a = points[sides[span->from].vertex], b = points[sides[span->to].vertex];
    uint32_t best = span->from + 1;
    for (uint32_t i = best + 1; i < span->to; i++) {
        struct pt at = points[sides[i].vertex], apex = points[sides[best].vertex];
        if (is_left ? is_in_circle(a, b, apex, at) : is_in_circle(b, a, apex, at))
            best = i;
    }
    return best;
}

static bool push_span(struct builder *build, size_t *depth, struct span span)
{
    if (!array_grow(&build->spans, sizeof *build->spans, &build->span_capacity, *depth + 1))
        return false;
    build->spans[(*depth)++] = span;
    return true;
}

/* Makes the triangle on a span's base; *slot gets it, its corners 0, 1 on the base. */
static void make_tri(struct builder *build, const struct side *sides, const struct span *span,
                     uint32_t apex, bool is_left, uint32_t slot)
{
    uint32_t from = sides[span->from].vertex, to = sides[span->to].vertex;
    uint32_t *corner = build->corner[slot];
    corner[0] = is_left ? from : to;
    corner[1] = is_left ? to : from;
    corner[2] = sides[apex].vertex;
    for (unsigned i = 0; i < 3; i++) {
        build->tri_of[corner[i]] = slot;
        build->chain[slot][i] = ISTHMUS_NONE;
    }
    if (span->base != GHOST)
        join(build, slot << 2 | 2, span->base, ISTHMUS_NONE);
}

/*
 * Triangulates one side into slots taken from the dead ones; *base gets the half edge on the
 * constraint. Left of it the list runs along the base, right of it against.
 */
static bool fill_side(struct builder *build, unsigned which, uint32_t *base)
{
    struct side *sides = build->sides[which];
    bool is_left = which == 0;
    size_t depth = 0;
    *base = GHOST;
    if (!push_span(build, &depth, (struct span){0, (uint32_t)build->side_count[which] - 1, GHOST}))
        return false;
    while (depth > 0) {
        struct span span = build->spans[--depth];
        if (span.to == span.from + 1) {
            attach_side(build, &sides[span.to], span.base);
            continue;
        }
        uint32_t slot = build->dead[--build->dead_count];
        uint32_t apex = best_apex(build, sides, &span, is_left);
        make_tri(build, sides, &span, apex, is_left, slot);
        if (*base == GHOST)
            *base = slot << 2 | 2;
        /* edge 1 runs apex -> corner 0, edge 0 corner 1 -> apex */
        if (!push_span(build, &depth, (struct span){span.from, apex, slot << 2 | is_left}) ||
            !push_span(build, &depth, (struct span){apex, span.to, slot << 2 | !is_left}))
            return false;
    }
    return true;
}

static enum mesh_status insert_crossing(struct builder *build, uint32_t u, uint32_t v,
                                        uint32_t half_edge, uint32_t constraint, uint32_t *end)
{
    enum mesh_status status = cross_to(build, u, v, half_edge, end);
    if (status != MESH_OK)
        return status;
    pair_twins(build);
    uint32_t left, right;
    if (!fill_side(build, 0, &left) || !fill_side(build, 1, &right))
        return MESH_NO_MEMORY;
    join(build, left, right, constraint);
    return MESH_OK;
}

static enum mesh_status constrain(struct builder *build, uint32_t u, uint32_t v,
                                  uint32_t constraint)
{
    uint32_t half_edge, end;
    while (u != v) {
        half_edge = find_edge(build, u, v);
        if (half_edge != GHOST) {
            mark_edge(build, half_edge, constraint);
            return MESH_OK;
        }
        enum step step = first_step(build, u, v, &half_edge);
        if (step == STEP_CROSSES) {
            enum mesh_status status = insert_crossing(build, u, v, half_edge, constraint, &end);
            if (status != MESH_OK)
                return status;
        } else if (step == STEP_ALONG) {
            end = build->corner[half_edge >> 2][prev3(half_edge & 3)];
            mark_edge(build, half_edge, constraint);
        } else {
            return MESH_BUG;
        }
        u = end;
    }
    return MESH_OK;
}

enum mesh_status constrain_all(struct builder *build, const struct id_edges *edges)
{
    for (size_t i = 0; i < edges->count; i++) {
        struct id_edge edge = id_edge_at(edges, i);
        enum mesh_status status = constrain(build, edge.a, edge.b, (uint32_t)i);
        if (status != MESH_OK)
            return status;
    }
    return MESH_OK;
}
