/* Extents and distances in file coordinates. */
#include "build.h"

#include <math.h>

void box_add(struct box *box, struct pos_nm at)
{
    if (at.x_nm < box->min.x_nm)
        box->min.x_nm = at.x_nm;
    if (at.y_nm < box->min.y_nm)
        box->min.y_nm = at.y_nm;
    if (at.x_nm > box->max.x_nm)
        box->max.x_nm = at.x_nm;
    if (at.y_nm > box->max.y_nm)
        box->max.y_nm = at.y_nm;
}

void box_join(struct box *box, struct box other)
{
    if (box_is_empty(other))
        return;
    box_add(box, other.min);
    box_add(box, other.max);
}

bool box_is_empty(struct box box)
{
    return box.min.x_nm > box.max.x_nm || box.min.y_nm > box.max.y_nm;
}

bool boxes_meet(struct box a, struct box b)
{
    return a.min.x_nm <= b.max.x_nm && b.min.x_nm <= a.max.x_nm && a.min.y_nm <= b.max.y_nm &&
           b.min.y_nm <= a.max.y_nm;
}

bool box_holds(struct box box, struct pos_nm at)
{
    return at.x_nm >= box.min.x_nm && at.x_nm <= box.max.x_nm && at.y_nm >= box.min.y_nm &&
           at.y_nm <= box.max.y_nm;
}

struct pos_nm box_centre(struct box box)
{
    return (struct pos_nm){box.min.x_nm + (box.max.x_nm - box.min.x_nm) / 2,
                           box.min.y_nm + (box.max.y_nm - box.min.y_nm) / 2};
}

struct pos_nm box_size(struct box box)
{
    return (struct pos_nm){box.max.x_nm - box.min.x_nm, box.max.y_nm - box.min.y_nm};
}

double distance_nm(struct pos_nm a, struct pos_nm b)
{
    return hypot((double)(a.x_nm - b.x_nm), (double)(a.y_nm - b.y_nm));
}

double slot_distance_nm(struct pos_nm a, struct pos_nm b, struct pos_nm at)
{
    double dx = (double)(b.x_nm - a.x_nm), dy = (double)(b.y_nm - a.y_nm);
    double px = (double)(at.x_nm - a.x_nm), py = (double)(at.y_nm - a.y_nm);
    double length2 = dx * dx + dy * dy;
    double along = length2 > 0 ? (px * dx + py * dy) / length2 : 0;
    along = along < 0 ? 0 : along > 1 ? 1 : along;
    return hypot(px - along * dx, py - along * dy);
}

/* An arc's extent is taken as its whole circle's when it is one, else as its ends and the four
 * extreme points that the sweep passes. */
static void add_arc(struct box *box, struct pos_nm from, const struct seg *seg)
{
    double radius =
        hypot((double)from.x_nm - seg->centre_x_nm, (double)from.y_nm - seg->centre_y_nm);
    double start =
        atan2((double)from.y_nm - seg->centre_y_nm, (double)from.x_nm - seg->centre_x_nm);
    double end =
        atan2((double)seg->to.y_nm - seg->centre_y_nm, (double)seg->to.x_nm - seg->centre_x_nm);
    bool is_circle = from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm;
    double sweep = seg->turn > 0 ? end - start : start - end;
    while (sweep <= 0)
        sweep += 2 * M_PI;
    if (is_circle)
        sweep = 2 * M_PI;
    for (int quarter = 0; quarter < 4; quarter++) {
        double angle = quarter * M_PI / 2;
        double past = seg->turn > 0 ? angle - start : start - angle;
        while (past < 0)
            past += 2 * M_PI;
        if (past < sweep)
            box_add(box, (struct pos_nm){llround(seg->centre_x_nm + radius * cos(angle)),
                                         llround(seg->centre_y_nm + radius * sin(angle))});
    }
}

static void add_contour(struct box *box, const struct contour *contour, const struct seg *segs)
{
    struct pos_nm from = contour->start;
    box_add(box, from);
    for (uint32_t i = 0; i < contour->seg_count; i++) {
        const struct seg *seg = &segs[contour->first_seg + i];
        if (seg->turn)
            add_arc(box, from, seg);
        box_add(box, seg->to);
        from = seg->to;
    }
}

struct box object_box(const struct drawing *drawing, uint32_t object)
{
    const struct object *drawn = &drawing->objects[object];
    struct box box = BOX_EMPTY;
    for (uint32_t f = 0; f < drawn->fill_count; f++) {
        const struct fill *fill = &drawing->fills[drawn->first_fill + f];
        for (uint32_t c = 0; fill->adds && c < fill->contour_count; c++)
            add_contour(&box, &drawing->contours[fill->first_contour + c], drawing->segs);
    }
    return box;
}
