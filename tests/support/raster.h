/*
 * A picture of copper in cells, painted by a scan conversion of its own: what a drawing's objects
 * cover, read off their contours one row of cell centres after the other. Shares no code with the
 * meshes, so that floods over it can judge them.
 */
#ifndef TEST_RASTER_H
#define TEST_RASTER_H

#include "isthmus/drawing.h"

struct raster {
    double x_nm, y_nm, cell_nm; /* file coordinates of the lower left corner; size of a cell */
    int width, height;
    uint8_t *cells; /* 1: copper */
};

struct raster raster_new(struct pos_nm min, struct pos_nm max, double cell_nm);
void raster_free(struct raster *raster);
/* The cell that holds a point, or -1 outside. */
long raster_cell(const struct raster *raster, struct pos_nm at);

void raster_object(struct raster *raster, const struct drawing *drawing,
                   const struct object *object);
/* Everything that is inside straight lines {x0, y0, x1, y1} (file coordinates, nm): where their
 * summed winding is not zero, or (is_odd) where an odd number of them lies to the left. */
void raster_lines(struct raster *raster, const double (*lines)[4], size_t count, bool is_odd,
                  uint8_t value);
/* What the strokes of a profile drawing enclose, by odd numbers of crossings. */
void raster_enclosed(struct raster *raster, const struct drawing *profile, uint8_t value);
/* Everything within half a diameter of a straight way. */
void raster_capsule(struct raster *raster, struct pos_nm from, struct pos_nm to, double diameter_nm,
                    uint8_t value);
/* Copper grows by one cell on every side. */
void raster_grow(struct raster *raster);
/* Copper loses what is nearer than radius_nm to a bare cell's centre or to the rim of the picture.
 */
void raster_shrink(struct raster *raster, double radius_nm);

#endif
