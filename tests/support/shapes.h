/* Drawings made by hand: a world for the tests of geometry. Lengths in nanometres. */
#ifndef TEST_SHAPES_H
#define TEST_SHAPES_H

#include "isthmus/drawing.h"

struct shapes {
    struct drawing drawing; /* arrays are malloc'ed here, not in an arena */
    size_t object_capacity, fill_capacity, contour_capacity, seg_capacity;
};
void shapes_free(struct shapes *shapes);

/* Piece by piece. Contours are closed by their last piece. */
void shapes_object(struct shapes *shapes, enum object_kind kind, bool is_dark);
void shapes_fill(struct shapes *shapes, bool adds);
void shapes_start(struct shapes *shapes, int64_t x, int64_t y);
void shapes_line(struct shapes *shapes, int64_t x, int64_t y);
void shapes_arc(struct shapes *shapes, int turn, int64_t x, int64_t y, double centre_x,
                double centre_y);

/* A whole object each. */
void shapes_disc(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t diameter);
void shapes_ring(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t diameter,
                 int64_t hole);
void shapes_box(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t width,
                int64_t height);
void shapes_stroke(struct shapes *shapes, bool is_dark, int64_t x0, int64_t y0, int64_t x1,
                   int64_t y1, int64_t width);
/* From angle a to angle b (radians, b > a), band of the given width about the radius. */
void shapes_arc_stroke(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t radius,
                       double a, double b, int64_t width);
/* Closed polygon; xy holds count pairs. */
void shapes_polygon(struct shapes *shapes, bool is_dark, const int64_t *xy, size_t count);
/* A disc with a bar erased from it and a smaller disc put back: three fills of one object. */
void shapes_macro(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t diameter);

#endif
