/* The polygons of a paint as an independent library (GEOS) sees them. */
#ifndef TEST_POLYGONS_H
#define TEST_POLYGONS_H

#include <geos_c.h>
#include "isthmus/mesh.h"

/* One object of the paint as polygons (made valid where it touches itself); never NULL. */
GEOSGeometry *polygons_of_object(GEOSContextHandle_t geos, const struct paint *paint,
                                 uint32_t object);
/* Every object's polygons, in a malloc'ed array for polygons_unite(). */
GEOSGeometry **polygons_of_objects(GEOSContextHandle_t geos, const struct paint *paint);
/* The copper of a whole paint: runs of one polarity are united, then added or taken off.
 * Consumes the parts and their array. */
GEOSGeometry *polygons_unite(GEOSContextHandle_t geos, const struct paint *paint,
                             GEOSGeometry **parts);

#endif
