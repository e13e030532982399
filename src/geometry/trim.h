/* Leaves out of a paint what is certainly buried. */
#ifndef GEOMETRY_TRIM_H
#define GEOMETRY_TRIM_H

#include "geometry/internal.h"

/*
 * The same image with fewer edges: which points are copper is exactly the same, and in each island
 * the same names show. Objects and curves are shared with the paint, which must outlive the copy.
 */
enum mesh_status trim_paint(const struct paint *paint, struct paint *out);
void trim_free(struct paint *paint); /* of what trim_paint made, after an error too */

#endif
