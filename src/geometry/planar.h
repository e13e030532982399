/*
 * The faces that straight edges make which meet only at their ends. Half edge 2 e runs as edge e
 * does, 2 e + 1 against it; each has the face on its left.
 */
#ifndef GEOMETRY_PLANAR_H
#define GEOMETRY_PLANAR_H

#include "geometry/internal.h"

#define OUTER_FACE 0

struct planar {
    const struct pt *points;
    uint32_t point_count;
    const struct id_edge *edges;
    uint32_t edge_count;
    uint32_t *first_out, *out; /* half edges that leave each point, counterclockwise */
    uint32_t *face_of;         /* per half edge */
    struct cycle {             /* one boundary of a face */
        uint32_t start;        /* a half edge on it */
        uint32_t next;         /* another boundary of the same face, or NONE */
    } * cycles;
    size_t cycle_count, cycle_capacity;
    uint32_t *first_cycle; /* per face */
    uint32_t face_count;
};
enum mesh_status planar_build(const struct pt *points, uint32_t point_count,
                              const struct id_edge *edges, uint32_t edge_count, struct planar *out);
void planar_free(struct planar *map);

static inline uint32_t planar_from(const struct planar *map, uint32_t half_edge)
{
    const struct id_edge *edge = &map->edges[half_edge >> 1];
    return half_edge & 1 ? edge->b : edge->a;
}
static inline uint32_t planar_to(const struct planar *map, uint32_t half_edge)
{
    return planar_from(map, half_edge ^ 1);
}
/* The next half edge around the face on the left: at its end, the first clockwise from it. */
static inline uint32_t planar_next(const struct planar *map, uint32_t half_edge)
{
    uint32_t at = planar_to(map, half_edge), twin = half_edge ^ 1;
    uint32_t first = map->first_out[at], end = map->first_out[at + 1], i = first;
    while (map->out[i] != twin)
        i++;
    return map->out[i == first ? end - 1 : i - 1];
}
/* Steps through all half edges of a face: start with {0}; false when all have been seen. */
struct face_walk {
    uint32_t half_edge, cycle;
    bool has_begun;
};
static inline bool planar_walk(const struct planar *map, uint32_t face, struct face_walk *walk)
{
    if (!walk->has_begun) {
        walk->has_begun = true;
        walk->cycle = map->first_cycle[face];
    } else {
        walk->half_edge = planar_next(map, walk->half_edge);
        if (walk->half_edge != map->cycles[walk->cycle].start)
            return true;
        walk->cycle = map->cycles[walk->cycle].next;
    }
    if (walk->cycle == ISTHMUS_NONE)
        return false;
    walk->half_edge = map->cycles[walk->cycle].start;
    return true;
}

#endif
