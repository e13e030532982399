/* Areas of drawn contours, for checks against hand formulas. */
#ifndef TEST_DRAWING_AREA_H
#define TEST_DRAWING_AREA_H

#include "isthmus/drawing.h"

/* Signed area of one contour in mm2: polygon plus circular segments, exact but for double rounding;
 * counterclockwise is positive. */
double contour_area_mm2(const struct drawing *drawing, const struct contour *contour);
/* Sum over the contours of a fill; of the fills of an object, those that do not add counted off.
 * Right where nothing overlaps. */
double fill_area_mm2(const struct drawing *drawing, const struct fill *fill);
double object_area_mm2(const struct drawing *drawing, const struct object *object);
/* Is the point in the object, by its winding numbers and the order of its fills? */
bool object_covers(const struct drawing *drawing, const struct object *object, double x_mm,
                   double y_mm);

#endif
