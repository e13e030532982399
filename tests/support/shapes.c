#include "shapes.h"

#include <math.h>
#include <stdlib.h>

#define GROW(items, count, capacity)                                                               \
    do {                                                                                           \
        if (!array_grow(&(items), sizeof *(items), &(capacity), (count) + 1))                      \
            abort();                                                                               \
    } while (0)

void shapes_free(struct shapes *shapes)
{
    free(shapes->drawing.objects);
    free(shapes->drawing.fills);
    free(shapes->drawing.contours);
    free(shapes->drawing.segs);
    *shapes = (struct shapes){0};
}

void shapes_object(struct shapes *shapes, enum object_kind kind, bool is_dark)
{
    struct drawing *drawing = &shapes->drawing;
    GROW(drawing->objects, drawing->object_count, shapes->object_capacity);
    drawing->objects[drawing->object_count++] = (struct object){
        .kind = kind, .is_dark = is_dark, .first_fill = (uint32_t)drawing->fill_count};
}

void shapes_fill(struct shapes *shapes, bool adds)
{
    struct drawing *drawing = &shapes->drawing;
    GROW(drawing->fills, drawing->fill_count, shapes->fill_capacity);
    drawing->fills[drawing->fill_count++] =
        (struct fill){(uint32_t)drawing->contour_count, 0, adds};
    drawing->objects[drawing->object_count - 1].fill_count++;
}

void shapes_start(struct shapes *shapes, int64_t x, int64_t y)
{
    struct drawing *drawing = &shapes->drawing;
    GROW(drawing->contours, drawing->contour_count, shapes->contour_capacity);
    drawing->contours[drawing->contour_count++] =
        (struct contour){{x, y}, (uint32_t)drawing->seg_count, 0};
    drawing->fills[drawing->fill_count - 1].contour_count++;
}

static void add_seg(struct shapes *shapes, struct seg seg)
{
    struct drawing *drawing = &shapes->drawing;
    GROW(drawing->segs, drawing->seg_count, shapes->seg_capacity);
    drawing->segs[drawing->seg_count++] = seg;
    drawing->contours[drawing->contour_count - 1].seg_count++;
}

void shapes_line(struct shapes *shapes, int64_t x, int64_t y)
{
    add_seg(shapes, (struct seg){{x, y}, 0, 0, 0});
}

void shapes_arc(struct shapes *shapes, int turn, int64_t x, int64_t y, double centre_x,
                double centre_y)
{
    add_seg(shapes, (struct seg){{x, y}, (int8_t)turn, centre_x, centre_y});
}

static void circle(struct shapes *shapes, int turn, int64_t x, int64_t y, int64_t diameter)
{
    shapes_start(shapes, x + diameter / 2, y);
    shapes_arc(shapes, turn, x + diameter / 2, y, (double)x, (double)y);
}

void shapes_disc(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t diameter)
{
    shapes_object(shapes, OBJECT_FLASH, is_dark);
    shapes_fill(shapes, true);
    circle(shapes, 1, x, y, diameter);
}

void shapes_ring(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t diameter,
                 int64_t hole)
{
    shapes_disc(shapes, is_dark, x, y, diameter);
    circle(shapes, -1, x, y, hole);
}

void shapes_box(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t width,
                int64_t height)
{
    const int64_t xy[8] = {x, y, x + width, y, x + width, y + height, x, y + height};
    shapes_polygon(shapes, is_dark, xy, 4);
}

void shapes_stroke(struct shapes *shapes, bool is_dark, int64_t x0, int64_t y0, int64_t x1,
                   int64_t y1, int64_t width)
{
    if (x0 == x1 && y0 == y1) {
        shapes_disc(shapes, is_dark, x0, y0, width);
        return;
    }
    double run = (double)(x1 - x0), rise = (double)(y1 - y0);
    double scale = (double)width / 2 / hypot(run, rise);
    int64_t nx = llround(-rise * scale), ny = llround(run * scale);
    shapes_object(shapes, OBJECT_STROKE, is_dark);
    shapes_fill(shapes, true);
    shapes_start(shapes, x0 - nx, y0 - ny);
    shapes_line(shapes, x1 - nx, y1 - ny);
    shapes_arc(shapes, 1, x1 + nx, y1 + ny, (double)x1, (double)y1);
    shapes_line(shapes, x0 + nx, y0 + ny);
    shapes_arc(shapes, 1, x0 - nx, y0 - ny, (double)x0, (double)y0);
}

static int64_t along_x(int64_t x, double radius, double angle)
{
    return x + llround(radius * cos(angle));
}

static int64_t along_y(int64_t y, double radius, double angle)
{
    return y + llround(radius * sin(angle));
}

void shapes_arc_stroke(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t radius,
                       double a, double b, int64_t width)
{
    double outer = (double)radius + (double)width / 2, inner = (double)radius - (double)width / 2;
    double mid = (double)radius;
    shapes_object(shapes, OBJECT_ARC_STROKE, is_dark);
    shapes_fill(shapes, true);
    shapes_start(shapes, along_x(x, outer, a), along_y(y, outer, a));
    shapes_arc(shapes, 1, along_x(x, outer, b), along_y(y, outer, b), (double)x, (double)y);
    shapes_arc(shapes, 1, along_x(x, inner, b), along_y(y, inner, b), (double)x + mid * cos(b),
               (double)y + mid * sin(b));
    shapes_arc(shapes, -1, along_x(x, inner, a), along_y(y, inner, a), (double)x, (double)y);
    shapes_arc(shapes, 1, along_x(x, outer, a), along_y(y, outer, a), (double)x + mid * cos(a),
               (double)y + mid * sin(a));
}

void shapes_polygon(struct shapes *shapes, bool is_dark, const int64_t *xy, size_t count)
{
    shapes_object(shapes, OBJECT_REGION, is_dark);
    shapes_fill(shapes, true);
    shapes_start(shapes, xy[0], xy[1]);
    for (size_t i = 1; i < count; i++)
        shapes_line(shapes, xy[2 * i], xy[2 * i + 1]);
    shapes_line(shapes, xy[0], xy[1]);
}

void shapes_macro(struct shapes *shapes, bool is_dark, int64_t x, int64_t y, int64_t diameter)
{
    int64_t half = diameter / 2, bar = diameter / 10;
    shapes_disc(shapes, is_dark, x, y, diameter);
    shapes_fill(shapes, false);
    shapes_start(shapes, x - half - 5, y - bar);
    shapes_line(shapes, x + half + 5, y - bar);
    shapes_line(shapes, x + half + 5, y + bar);
    shapes_line(shapes, x - half - 5, y + bar);
    shapes_line(shapes, x - half - 5, y - bar);
    shapes_fill(shapes, true);
    circle(shapes, 1, x, y, 3 * bar);
}
