/*
 * Delaunay refinement: circumcentres of ill-shaped or wanted triangles, or the middle of a fixed
 * side that is in the way (Ruppert 1995, Chew 1993; from memory). Unlike theirs it may leave a few
 * ill-shaped triangles at sharp corners: sides are not divided below FLOOR_NM, which also ends it.
 */
#include <math.h>
#include <stdlib.h>

#include "solve/fine.h"

#define FLOOR_NM 1000.0  /* no fixed side becomes shorter, no shape is mended below */
#define SHAPE_RATIO 2.0  /* circumradius over shortest side: no angle below 14.5 degrees */
#define CAP_RATIO 0.7    /* circumradius over longest side: an angle of more than 134 degrees */
#define WALK_LIMIT 20000 /* of a walk, in triangles: then the triangle is left as it is */

struct refiner {
    struct fine *fine;
    const bool *is_still;
    size_t point_limit;
    uint32_t *queue;
    size_t queue_count, queue_capacity;
};

struct shape {
    double shortest_nm, longest_nm, circumradius_nm;
    double centre_x, centre_y; /* of the circumcircle, from corner 0 */
};

static struct pt at(const struct fine *fine, uint32_t tri, unsigned corner)
{
    return fine->points[fine->tris[tri].corner[corner]];
}

/* Measures only: whatever they say, points are placed by exact tests. */
static struct shape measure(const struct fine *fine, uint32_t tri)
{
    struct pt a = at(fine, tri, 0), b = at(fine, tri, 1), c = at(fine, tri, 2);
    double bx = (double)b.x - a.x, by = (double)b.y - a.y;
    double cx = (double)c.x - a.x, cy = (double)c.y - a.y;
    double twice_area = bx * cy - by * cx, bb = bx * bx + by * by, cc = cx * cx + cy * cy;
    double ab = sqrt(bb), ac = sqrt(cc), bc = hypot(cx - bx, cy - by);
    return (struct shape){.shortest_nm = fmin(ab, fmin(ac, bc)),
                          .longest_nm = fmax(ab, fmax(ac, bc)),
                          .circumradius_nm = ab * ac * bc / (2 * twice_area),
                          .centre_x = (cy * bb - by * cc) / (2 * twice_area),
                          .centre_y = (bx * cc - cx * bb) / (2 * twice_area)};
}

/* Between two fixed sides an angle can be no better than it was drawn. */
static bool is_sharp_corner(const struct fine *fine, uint32_t tri, const struct shape *shape)
{
    for (unsigned i = 0; i < 3; i++) {
        struct pt a = at(fine, tri, next_corner(i)), b = at(fine, tri, previous_corner(i));
        if (sqrt((double)distance2(a, b)) > shape->shortest_nm)
            continue;
        bool is_cap = shape->circumradius_nm > CAP_RATIO * shape->longest_nm;
        return !is_cap && fine_is_fixed(fine, tri, next_corner(i)) &&
               fine_is_fixed(fine, tri, previous_corner(i));
    }
    return false;
}

static bool is_still(const struct refiner *refiner, uint32_t tri)
{
    uint32_t contact = refiner->fine->tris[tri].contact;
    return contact != ISTHMUS_NONE && refiner->is_still[contact];
}

static bool needs_point(const struct refiner *refiner, uint32_t tri)
{
    const struct fine *fine = refiner->fine;
    if (is_still(refiner, tri))
        return false;
    struct shape shape = measure(fine, tri);
    if (fine->tris[tri].is_wanted)
        return shape.longest_nm > 2 * FLOOR_NM;
    return shape.circumradius_nm > SHAPE_RATIO * shape.shortest_nm &&
           shape.longest_nm > 2 * FLOOR_NM && shape.shortest_nm > FLOOR_NM / 4 &&
           !is_sharp_corner(fine, tri, &shape);
}

static bool enqueue(struct refiner *refiner, uint32_t tri)
{
    struct fine_tri *t = &refiner->fine->tris[tri];
    if (t->is_queued || !needs_point(refiner, tri))
        return true;
    if (!array_grow(&refiner->queue, sizeof *refiner->queue, &refiner->queue_capacity,
                    refiner->queue_count + 1))
        return false;
    t->is_queued = true;
    refiner->queue[refiner->queue_count++] = tri;
    return true;
}

static bool enqueue_touched(struct refiner *refiner)
{
    for (size_t i = 0; i < refiner->fine->touched_count; i++)
        if (!enqueue(refiner, refiner->fine->touched[i]))
            return false;
    return true;
}

static enum fine_status split_middle(struct refiner *refiner, uint32_t tri, unsigned side,
                                     bool *is_done)
{
    struct fine *fine = refiner->fine;
    struct pt a = at(fine, tri, next_corner(side)), b = at(fine, tri, previous_corner(side));
    *is_done = false;
    if (sqrt((double)distance2(a, b)) < 2 * FLOOR_NM)
        return FINE_OK;
    struct pt middle = {(int32_t)(((int64_t)a.x + b.x) / 2), (int32_t)(((int64_t)a.y + b.y) / 2)};
    return fine_split_side(fine, tri, side, middle, is_done);
}

/* Where a walk from a triangle towards a place ended. */
struct arrival {
    enum { ARRIVED_IN, ARRIVED_ON_SIDE, ARRIVED_BLOCKED, ARRIVED_NOWHERE } how;
    uint32_t tri;
    unsigned side; /* ON_SIDE, BLOCKED */
};

static struct arrival arrive(const struct fine *fine, uint32_t tri, struct pt p)
{
    struct arrival arrival = {ARRIVED_IN, tri, 0};
    for (unsigned i = 0; i < 3; i++) {
        int turn = orient(at(fine, tri, next_corner(i)), at(fine, tri, previous_corner(i)), p);
        if (turn < 0) {
            bool is_fixed = fine_is_fixed(fine, tri, i);
            arrival = (struct arrival){is_fixed ? ARRIVED_BLOCKED : ARRIVED_NOWHERE, tri, i};
            if (!is_fixed)
                break;
        } else if (turn == 0 && arrival.how == ARRIVED_IN)
            arrival = (struct arrival){ARRIVED_ON_SIDE, tri, i};
    }
    return arrival;
}

/* Goes through sides that may be passed; NOWHERE: walked too long. */
static struct arrival walk(const struct fine *fine, uint32_t tri, struct pt p)
{
    struct arrival arrival = {ARRIVED_NOWHERE, tri, 0};
    for (int step = 0; step < WALK_LIMIT; step++) {
        arrival = arrive(fine, tri, p);
        if (arrival.how != ARRIVED_NOWHERE)
            return arrival;
        tri = fine->tris[tri].neighbour[arrival.side];
    }
    return arrival;
}

/* A fixed side of this triangle that sees p under more than a right angle. */
static bool find_crowded(const struct fine *fine, uint32_t tri, struct pt p, unsigned *side)
{
    for (unsigned i = 0; i < 3; i++)
        if (fine_is_fixed(fine, tri, i) &&
            dot(p, at(fine, tri, next_corner(i)), at(fine, tri, previous_corner(i))) < 0) {
            *side = i;
            return true;
        }
    return false;
}

static enum fine_status place(struct refiner *refiner, struct arrival where, struct pt p,
                              bool *is_done)
{
    struct fine *fine = refiner->fine;
    unsigned side;
    if (where.how == ARRIVED_BLOCKED)
        return split_middle(refiner, where.tri, where.side, is_done);
    if (find_crowded(fine, where.tri, p, &side))
        return split_middle(refiner, where.tri, side, is_done);
    for (unsigned i = 0; i < 3; i++) {
        uint32_t other = fine->tris[where.tri].neighbour[i];
        if (other != ISTHMUS_NONE && !fine_is_fixed(fine, where.tri, i) &&
            find_crowded(fine, other, p, &side))
            return split_middle(refiner, other, side, is_done);
    }
    if (where.how == ARRIVED_ON_SIDE)
        return fine_is_fixed(fine, where.tri, where.side)
                   ? split_middle(refiner, where.tri, where.side, is_done)
                   : fine_split_side(fine, where.tri, where.side, p, is_done);
    return fine_split_tri(fine, where.tri, p, is_done);
}

/* The circumcentre, or as far towards it as coordinates reach. */
static struct pt circumcentre(const struct fine *fine, uint32_t tri, const struct shape *shape)
{
    struct pt a = at(fine, tri, 0);
    double limit = (double)MESH_COORD_LIMIT - 1;
    double far = fmax(fabs(a.x + shape->centre_x), fabs(a.y + shape->centre_y));
    double share = 1;
    if (far > limit) {
        double room = limit - fmax(fabs((double)a.x), fabs((double)a.y));
        share = fmax(room, 0) / fmax(fabs(shape->centre_x), fabs(shape->centre_y));
    }
    return (struct pt){a.x + (int32_t)lrint(share * shape->centre_x),
                       a.y + (int32_t)lrint(share * shape->centre_y)};
}

/* Both sides of a fixed side that was split, and what shares it, are in touched. */
static enum fine_status improve(struct refiner *refiner, uint32_t tri)
{
    struct fine *fine = refiner->fine;
    struct shape shape = measure(fine, tri);
    struct pt centre = circumcentre(fine, tri, &shape);
    struct arrival where = walk(fine, tri, centre);
    bool is_done = false;
    enum fine_status status = FINE_OK;
    if (where.how != ARRIVED_NOWHERE)
        status = place(refiner, where, centre, &is_done);
    if (status != FINE_OK)
        return status;
    if (!is_done) {
        fine->tris[tri].is_wanted = false;
        return FINE_OK;
    }
    /* a side elsewhere was split: this one may still be due */
    return enqueue_touched(refiner) && enqueue(refiner, tri) ? FINE_OK : FINE_NO_MEMORY;
}

static enum fine_status refine_all(struct refiner *refiner)
{
    struct fine *fine = refiner->fine;
    for (uint32_t t = 0; t < fine->tri_count; t++)
        if (!enqueue(refiner, t))
            return FINE_NO_MEMORY;
    while (refiner->queue_count > 0) {
        uint32_t tri = refiner->queue[--refiner->queue_count];
        fine->tris[tri].is_queued = false;
        if (!needs_point(refiner, tri))
            continue;
        if (fine->point_count >= refiner->point_limit)
            return FINE_FULL;
        enum fine_status status = improve(refiner, tri);
        if (status != FINE_OK)
            return status;
    }
    return FINE_OK;
}

enum fine_status fine_refine(struct fine *fine, const bool *is_still, size_t point_limit)
{
    struct refiner refiner = {.fine = fine, .is_still = is_still, .point_limit = point_limit};
    enum fine_status status = refine_all(&refiner);
    free(refiner.queue);
    for (size_t t = 0; t < fine->tri_count; t++)
        fine->tris[t].is_queued = fine->tris[t].is_wanted = false;
    return status;
}
