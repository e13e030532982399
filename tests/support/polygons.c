#include "polygons.h"

#include <math.h>
#include <stdlib.h>

/* Ends the program where a test could not go on. */
static GEOSGeometry *must(GEOSGeometry *geometry)
{
    if (!geometry)
        abort();
    return geometry;
}

static GEOSGeometry *made_valid(GEOSContextHandle_t geos, GEOSGeometry *polygon)
{
    if (GEOSisValid_r(geos, polygon) == 1)
        return polygon;
    GEOSGeometry *valid = must(GEOSMakeValid_r(geos, polygon));
    GEOSGeom_destroy_r(geos, polygon);
    return valid;
}

/* Edges first .. end are one closed ring; *twice_area gets its sign. NULL below three corners. */
static GEOSGeometry *ring_polygon(GEOSContextHandle_t geos, const struct paint_edge *edges,
                                  size_t count, double *twice_area)
{
    *twice_area = 0;
    if (count < 3)
        return NULL;
    GEOSCoordSequence *points = GEOSCoordSeq_create_r(geos, (unsigned)count + 1, 2);
    struct pt o = edges[0].a;
    for (size_t i = 0; i <= count; i++) {
        struct pt at = i < count ? edges[i].a : edges[0].a;
        GEOSCoordSeq_setXY_r(geos, points, (unsigned)i, at.x, at.y);
        struct pt b = i < count ? edges[i].b : o;
        *twice_area +=
            ((double)at.x - o.x) * ((double)b.y - o.y) - ((double)at.y - o.y) * ((double)b.x - o.x);
    }
    GEOSGeometry *ring = must(GEOSGeom_createLinearRing_r(geos, points));
    return made_valid(geos, must(GEOSGeom_createPolygon_r(geos, ring, NULL, 0)));
}

static GEOSGeometry *combine(GEOSContextHandle_t geos, GEOSGeometry *a, GEOSGeometry *b, bool adds)
{
    GEOSGeometry *out = must(adds ? GEOSUnion_r(geos, a, b) : GEOSDifference_r(geos, a, b));
    GEOSGeom_destroy_r(geos, a);
    GEOSGeom_destroy_r(geos, b);
    return out;
}

/* Outer rings less those that run the other way round than the largest. */
static GEOSGeometry *polygons_of_fill(GEOSContextHandle_t geos, const struct paint *paint,
                                      const struct paint_fill *fill)
{
    const struct paint_edge *edges = paint->edges + fill->first_edge;
    GEOSGeometry *out = must(GEOSGeom_createEmptyPolygon_r(geos)), *holes = NULL;
    double sense = 0;
    for (size_t first = 0, end; first < fill->edge_count; first = end) {
        for (end = first + 1; end < fill->edge_count && edges[end].a.x == edges[end - 1].b.x &&
                              edges[end].a.y == edges[end - 1].b.y;
             end++)
            ;
        double twice_area;
        GEOSGeometry *ring = ring_polygon(geos, edges + first, end - first, &twice_area);
        if (!ring)
            continue;
        if (sense == 0)
            sense = twice_area; /* the first ring is an outer one in these tests */
        if ((twice_area > 0) == (sense > 0))
            out = combine(geos, out, ring, true);
        else
            holes = holes ? combine(geos, holes, ring, true) : ring;
    }
    return holes ? combine(geos, out, holes, false) : out;
}

GEOSGeometry *polygons_of_object(GEOSContextHandle_t geos, const struct paint *paint,
                                 uint32_t object)
{
    const struct paint_object *painted = &paint->objects[object];
    GEOSGeometry *out = NULL;
    for (uint32_t i = 0; i < painted->fill_count; i++) {
        const struct paint_fill *fill = &paint->fills[painted->first_fill + i];
        GEOSGeometry *polygons = polygons_of_fill(geos, paint, fill);
        if (!out)
            out = polygons; /* an object's first fill adds */
        else
            out = combine(geos, out, polygons, fill->adds);
    }
    return out ? out : must(GEOSGeom_createEmptyPolygon_r(geos));
}

GEOSGeometry **polygons_of_objects(GEOSContextHandle_t geos, const struct paint *paint)
{
    GEOSGeometry **parts = malloc((paint->object_count + 1) * sizeof *parts);
    if (!parts)
        abort();
    for (uint32_t i = 0; i < paint->object_count; i++)
        parts[i] = polygons_of_object(geos, paint, i);
    return parts;
}

static GEOSGeometry *united_run(GEOSContextHandle_t geos, GEOSGeometry **parts, uint32_t count)
{
    GEOSGeometry *all =
        must(GEOSGeom_createCollection_r(geos, GEOS_GEOMETRYCOLLECTION, parts, count));
    GEOSGeometry *united = must(GEOSUnaryUnion_r(geos, all));
    GEOSGeom_destroy_r(geos, all);
    return united;
}

GEOSGeometry *polygons_unite(GEOSContextHandle_t geos, const struct paint *paint,
                             GEOSGeometry **parts)
{
    GEOSGeometry *copper = must(GEOSGeom_createEmptyPolygon_r(geos));
    for (uint32_t first = 0, end; first < paint->object_count; first = end) {
        enum paint_effect effect = paint->objects[first].effect;
        for (end = first + 1; end < paint->object_count && paint->objects[end].effect == effect;
             end++)
            ;
        GEOSGeometry *run = united_run(geos, parts + first, end - first);
        if (effect == PAINT_MARK)
            GEOSGeom_destroy_r(geos, run);
        else
            copper = combine(geos, copper, run, effect == PAINT_DARK);
    }
    free(parts);
    return copper;
}
