#include "drawing_area.h"

#include <math.h>

static double sweep_of(struct pos_nm from, const struct seg *seg)
{
    double a = atan2((double)from.y_nm - seg->centre_y_nm, (double)from.x_nm - seg->centre_x_nm);
    double b =
        atan2((double)seg->to.y_nm - seg->centre_y_nm, (double)seg->to.x_nm - seg->centre_x_nm);
    double sweep = (b - a) * seg->turn;
    if (from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm)
        return 2 * M_PI;
    return sweep <= 0 ? sweep + 2 * M_PI : sweep;
}

/* Between chord and arc, in nm2, positive on the right-hand side of the chord. */
static double bulge_nm2(struct pos_nm from, const struct seg *seg)
{
    double dx = (double)from.x_nm - seg->centre_x_nm, dy = (double)from.y_nm - seg->centre_y_nm;
    double sweep = sweep_of(from, seg);
    return seg->turn * (dx * dx + dy * dy) * (sweep - sin(sweep)) / 2;
}

double contour_area_mm2(const struct drawing *drawing, const struct contour *contour)
{
    double sum = 0;
    struct pos_nm origin = contour->start, from = contour->start;
    for (uint32_t i = 0; i < contour->seg_count; i++) {
        const struct seg *seg = &drawing->segs[contour->first_seg + i];
        double ax = (double)(from.x_nm - origin.x_nm), ay = (double)(from.y_nm - origin.y_nm);
        double bx = (double)(seg->to.x_nm - origin.x_nm), by = (double)(seg->to.y_nm - origin.y_nm);
        sum += (ax * by - ay * bx) / 2;
        if (seg->turn)
            sum += bulge_nm2(from, seg);
        from = seg->to;
    }
    return sum * 1e-12;
}

double fill_area_mm2(const struct drawing *drawing, const struct fill *fill)
{
    double sum = 0;
    for (uint32_t i = 0; i < fill->contour_count; i++)
        sum += contour_area_mm2(drawing, &drawing->contours[fill->first_contour + i]);
    return sum;
}

double object_area_mm2(const struct drawing *drawing, const struct object *object)
{
    double sum = 0;
    for (uint32_t i = 0; i < object->fill_count; i++) {
        const struct fill *fill = &drawing->fills[object->first_fill + i];
        double area = fabs(fill_area_mm2(drawing, fill));
        sum += fill->adds ? area : -area;
    }
    return sum;
}

/* Angle from one direction to another as seen from the point. */
static double turned(double ax, double ay, double bx, double by)
{
    return atan2(ax * by - ay * bx, ax * bx + ay * by);
}

/* An arc winds as its chord does, and once more round what lies between the two. */
static double winding_of_seg(struct pos_nm from, const struct seg *seg, double x, double y)
{
    double ax = (double)from.x_nm, ay = (double)from.y_nm;
    double bx = (double)seg->to.x_nm, by = (double)seg->to.y_nm;
    double cx = seg->centre_x_nm, cy = seg->centre_y_nm;
    bool is_full = from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm;
    double sum = is_full ? 0 : turned(ax - x, ay - y, bx - x, by - y);
    if (!seg->turn || hypot(x - cx, y - cy) >= hypot(ax - cx, ay - cy))
        return sum;
    double side = (bx - ax) * (y - ay) - (by - ay) * (x - ax);
    return is_full || side * seg->turn < 0 ? sum + seg->turn * 2 * M_PI : sum;
}

static bool fill_holds(const struct drawing *drawing, const struct fill *fill, double x, double y)
{
    double sum = 0;
    for (uint32_t c = 0; c < fill->contour_count; c++) {
        const struct contour *contour = &drawing->contours[fill->first_contour + c];
        struct pos_nm from = contour->start;
        for (uint32_t i = 0; i < contour->seg_count; i++) {
            const struct seg *seg = &drawing->segs[contour->first_seg + i];
            sum += winding_of_seg(from, seg, x, y);
            from = seg->to;
        }
    }
    return fabs(sum) > M_PI;
}

bool object_covers(const struct drawing *drawing, const struct object *object, double x_mm,
                   double y_mm)
{
    for (uint32_t i = object->fill_count; i-- > 0;) {
        const struct fill *fill = &drawing->fills[object->first_fill + i];
        if (fill_holds(drawing, fill, x_mm * 1e6, y_mm * 1e6))
            return fill->adds;
    }
    return false;
}
