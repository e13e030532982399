/* What of a layer lies near a cut, seen from above. */
#ifndef NECK_NEAR_H
#define NECK_NEAR_H

#include "isthmus/neck.h"

/* A raster; a cell is near when its middle is. */
struct near {
    double x0, y0, cell_nm;
    uint32_t columns, rows;
    bool *is_near; /* per cell */
};

/* false: no memory. */
bool near_new(const struct neck_place *about, double reach_nm, struct arena *arena,
              struct near *near);
/* Does the triangle meet a cell that is near? */
bool near_meets(const struct near *near, const struct cdt *mesh, uint32_t tri);

#endif
