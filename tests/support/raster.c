#include "raster.h"

#include "assertions.h"

#include <math.h>

struct raster raster_new(struct pos_nm min, struct pos_nm max, double cell_nm)
{
    struct raster raster = {.x_nm = (double)min.x_nm, .y_nm = (double)min.y_nm, .cell_nm = cell_nm};
    raster.width = (int)ceil((double)(max.x_nm - min.x_nm) / cell_nm) + 1;
    raster.height = (int)ceil((double)(max.y_nm - min.y_nm) / cell_nm) + 1;
    raster.cells = calloc((size_t)raster.width * (size_t)raster.height, 1);
    assert_non_null(raster.cells);
    return raster;
}

void raster_free(struct raster *raster)
{
    free(raster->cells);
    raster->cells = NULL;
}

long raster_cell(const struct raster *raster, struct pos_nm at)
{
    double x = floor(((double)at.x_nm - raster->x_nm) / raster->cell_nm);
    double y = floor(((double)at.y_nm - raster->y_nm) / raster->cell_nm);
    if (x < 0 || y < 0 || x >= raster->width || y >= raster->height)
        return -1;
    return (long)y * raster->width + (long)x;
}

/* ---- contours become edges, arcs many ---- */

struct line {
    double x0, y0, x1, y1;
};
struct lines {
    struct line *items;
    size_t count, capacity;
};

static void add_line(struct lines *lines, double x0, double y0, double x1, double y1)
{
    assert_true(
        array_grow(&lines->items, sizeof *lines->items, &lines->capacity, lines->count + 1));
    lines->items[lines->count++] = (struct line){x0, y0, x1, y1};
}

static void add_arc(struct lines *lines, struct pos_nm from, const struct seg *seg, double cell_nm)
{
    double x = (double)from.x_nm, y = (double)from.y_nm;
    double end_x = (double)seg->to.x_nm, end_y = (double)seg->to.y_nm;
    double start = atan2(y - seg->centre_y_nm, x - seg->centre_x_nm);
    double sweep = atan2(end_y - seg->centre_y_nm, end_x - seg->centre_x_nm) - start;
    double r0 = hypot(x - seg->centre_x_nm, y - seg->centre_y_nm);
    double r1 = hypot(end_x - seg->centre_x_nm, end_y - seg->centre_y_nm);
    while (seg->turn > 0 && sweep <= 0)
        sweep += 2 * M_PI;
    while (seg->turn < 0 && sweep >= 0)
        sweep -= 2 * M_PI;
    int steps = 8 + (int)(fabs(sweep) * sqrt(fmax(r0, r1) / cell_nm) * 2);
    for (int i = 1; i <= steps; i++) {
        double part = (double)i / steps, r = r0 + (r1 - r0) * part;
        double nx = i == steps ? end_x : seg->centre_x_nm + r * cos(start + sweep * part);
        double ny = i == steps ? end_y : seg->centre_y_nm + r * sin(start + sweep * part);
        add_line(lines, x, y, nx, ny);
        x = nx;
        y = ny;
    }
}

static void add_contour(struct lines *lines, const struct drawing *drawing,
                        const struct contour *contour, double cell_nm)
{
    struct pos_nm at = contour->start;
    for (uint32_t s = 0; s < contour->seg_count; s++) {
        const struct seg *seg = &drawing->segs[contour->first_seg + s];
        if (seg->turn)
            add_arc(lines, at, seg, cell_nm);
        else
            add_line(lines, (double)at.x_nm, (double)at.y_nm, (double)seg->to.x_nm,
                     (double)seg->to.y_nm);
        at = seg->to;
    }
}

/* ---- edges become cells ---- */

struct crossing {
    double x;
    int direction;
    int row;
};
struct crossings {
    struct crossing *items;
    size_t count, capacity;
};

static int compare_crossings(const void *left, const void *right)
{
    const struct crossing *a = left, *b = right;
    if (a->row != b->row)
        return a->row < b->row ? -1 : 1;
    return (a->x > b->x) - (a->x < b->x);
}

/* Where a line crosses the rows of cell centres. */
static void cross_rows(const struct raster *raster, const struct line *line, struct crossings *out)
{
    double y0 = (line->y0 - raster->y_nm) / raster->cell_nm - 0.5;
    double y1 = (line->y1 - raster->y_nm) / raster->cell_nm - 0.5;
    double low = fmin(y0, y1), high = fmax(y0, y1);
    int first = (int)fmax(0, ceil(low)), last = (int)fmin(raster->height - 1, ceil(high) - 1);
    for (int row = first; row <= last; row++) {
        double x = line->x0 + (line->x1 - line->x0) * (row - y0) / (y1 - y0);
        assert_true(array_grow(&out->items, sizeof *out->items, &out->capacity, out->count + 1));
        out->items[out->count++] = (struct crossing){x, y1 > y0 ? 1 : -1, row};
    }
}

/* The fill: cells whose centre lies where the summed winding is not zero. */
static void scan(const struct raster *raster, struct crossings *crossings, uint8_t *mask,
                 uint8_t value)
{
    if (crossings->count)
        qsort(crossings->items, crossings->count, sizeof *crossings->items, compare_crossings);
    int winding = 0;
    for (size_t i = 0; i + 1 < crossings->count; i++) {
        const struct crossing *at = &crossings->items[i];
        winding += at->direction;
        if (at->row != crossings->items[i + 1].row || winding == 0)
            continue;
        double from = (at->x - raster->x_nm) / raster->cell_nm - 0.5;
        double to = (crossings->items[i + 1].x - raster->x_nm) / raster->cell_nm - 0.5;
        for (long c = (long)fmax(0, ceil(from)); c < raster->width && (double)c < to; c++)
            mask[(long)at->row * raster->width + c] = value;
    }
}

struct window {
    int x0, y0, x1, y1; /* first cells, and those behind the last */
};

static struct window window_of(const struct raster *raster, const struct lines *lines)
{
    double x0 = INFINITY, y0 = INFINITY, x1 = -INFINITY, y1 = -INFINITY;
    for (size_t i = 0; i < lines->count; i++) {
        const struct line *line = &lines->items[i];
        x0 = fmin(x0, line->x1);
        x1 = fmax(x1, line->x1);
        y0 = fmin(y0, line->y1);
        y1 = fmax(y1, line->y1);
    }
    return (struct window){(int)fmax(0, (x0 - raster->x_nm) / raster->cell_nm - 1),
                           (int)fmax(0, (y0 - raster->y_nm) / raster->cell_nm - 1),
                           (int)fmin(raster->width, (x1 - raster->x_nm) / raster->cell_nm + 2),
                           (int)fmin(raster->height, (y1 - raster->y_nm) / raster->cell_nm + 2)};
}

/* The part of the raster under a window, of its own. */
static struct raster part_of(const struct raster *raster, struct window window)
{
    struct raster part = *raster;
    part.width = window.x1 - window.x0;
    part.height = window.y1 - window.y0;
    part.x_nm += window.x0 * raster->cell_nm;
    part.y_nm += window.y0 * raster->cell_nm;
    part.cells = calloc((size_t)part.width * (size_t)part.height, 1);
    assert_non_null(part.cells);
    return part;
}

static void lines_of(const struct drawing *drawing, const struct fill *fill, double cell_nm,
                     struct lines *out)
{
    for (uint32_t c = 0; c < fill->contour_count; c++)
        add_contour(out, drawing, &drawing->contours[fill->first_contour + c], cell_nm);
}

static struct window window_of_object(const struct raster *raster, const struct drawing *drawing,
                                      const struct object *object)
{
    struct lines lines = {0};
    for (uint32_t f = 0; f < object->fill_count; f++)
        lines_of(drawing, &drawing->fills[object->first_fill + f], raster->cell_nm, &lines);
    struct window window = window_of(raster, &lines);
    free(lines.items);
    return window;
}

void raster_object(struct raster *raster, const struct drawing *drawing,
                   const struct object *object)
{
    struct window window = window_of_object(raster, drawing, object);
    if (window.x0 >= window.x1 || window.y0 >= window.y1)
        return;
    struct raster part = part_of(raster, window);
    for (uint32_t f = 0; f < object->fill_count; f++) {
        const struct fill *fill = &drawing->fills[object->first_fill + f];
        struct lines lines = {0};
        struct crossings crossings = {0};
        lines_of(drawing, fill, raster->cell_nm, &lines);
        for (size_t i = 0; i < lines.count; i++)
            cross_rows(&part, &lines.items[i], &crossings);
        scan(&part, &crossings, part.cells, fill->adds);
        free(lines.items);
        free(crossings.items);
    }
    for (int y = 0; y < part.height; y++)
        for (int x = 0; x < part.width; x++)
            if (part.cells[(long)y * part.width + x])
                raster->cells[(long)(y + window.y0) * raster->width + x + window.x0] =
                    object->is_dark;
    raster_free(&part);
}

/* As scan(), for any rule. */
static void scan_lines(struct raster *raster, const struct lines *lines, bool is_odd, uint8_t value)
{
    struct crossings crossings = {0};
    for (size_t i = 0; i < lines->count; i++)
        cross_rows(raster, &lines->items[i], &crossings);
    for (size_t i = 0; i < crossings.count && is_odd; i++)
        crossings.items[i].direction = 1;
    if (crossings.count)
        qsort(crossings.items, crossings.count, sizeof *crossings.items, compare_crossings);
    int winding = 0;
    for (size_t i = 0; i + 1 < crossings.count; i++) {
        const struct crossing *at = &crossings.items[i];
        winding += at->direction;
        if (at->row != at[1].row) {
            winding = 0;
            continue;
        }
        if (is_odd ? winding % 2 == 0 : winding == 0)
            continue;
        double from = (at->x - raster->x_nm) / raster->cell_nm - 0.5;
        double to = (at[1].x - raster->x_nm) / raster->cell_nm - 0.5;
        for (long c = (long)fmax(0, ceil(from)); c < raster->width && (double)c < to; c++)
            raster->cells[(long)at->row * raster->width + c] = value;
    }
    free(crossings.items);
}

void raster_lines(struct raster *raster, const double (*lines)[4], size_t count, bool is_odd,
                  uint8_t value)
{
    struct lines all = {0};
    for (size_t i = 0; i < count; i++)
        add_line(&all, lines[i][0], lines[i][1], lines[i][2], lines[i][3]);
    scan_lines(raster, &all, is_odd, value);
    free(all.items);
}

void raster_enclosed(struct raster *raster, const struct drawing *profile, uint8_t value)
{
    struct lines lines = {0};
    for (size_t o = 0; o < profile->object_count; o++) {
        const struct object *object = &profile->objects[o];
        const struct seg way = {object->to, object->turn, object->centre_x_nm, object->centre_y_nm};
        if (object->kind == OBJECT_ARC_STROKE)
            add_arc(&lines, object->from, &way, raster->cell_nm);
        else if (object->kind == OBJECT_STROKE)
            add_line(&lines, (double)object->from.x_nm, (double)object->from.y_nm,
                     (double)object->to.x_nm, (double)object->to.y_nm);
    }
    scan_lines(raster, &lines, true, value);
    free(lines.items);
}

static double distance_to_way(double x, double y, struct pos_nm from, struct pos_nm to)
{
    double dx = (double)(to.x_nm - from.x_nm), dy = (double)(to.y_nm - from.y_nm);
    double px = x - (double)from.x_nm, py = y - (double)from.y_nm;
    double length2 = dx * dx + dy * dy;
    double part = length2 > 0 ? fmin(1, fmax(0, (px * dx + py * dy) / length2)) : 0;
    return hypot(px - part * dx, py - part * dy);
}

void raster_capsule(struct raster *raster, struct pos_nm from, struct pos_nm to, double diameter_nm,
                    uint8_t value)
{
    double r = diameter_nm / 2, c = raster->cell_nm;
    double x0 = fmin((double)from.x_nm, (double)to.x_nm) - r - raster->x_nm;
    double x1 = fmax((double)from.x_nm, (double)to.x_nm) + r - raster->x_nm;
    double y0 = fmin((double)from.y_nm, (double)to.y_nm) - r - raster->y_nm;
    double y1 = fmax((double)from.y_nm, (double)to.y_nm) + r - raster->y_nm;
    for (int y = (int)fmax(0, y0 / c); y < raster->height && y * c <= y1; y++)
        for (int x = (int)fmax(0, x0 / c); x < raster->width && x * c <= x1; x++)
            if (distance_to_way(raster->x_nm + (x + 0.5) * c, raster->y_nm + (y + 0.5) * c, from,
                                to) <= r)
                raster->cells[(long)y * raster->width + x] = value;
}

static uint8_t *copy_of(const struct raster *raster)
{
    size_t size = (size_t)raster->width * (size_t)raster->height;
    uint8_t *copy = malloc(size);
    assert_non_null(copy);
    memcpy(copy, raster->cells, size);
    return copy;
}

static void stamp(struct raster *raster, int x, int y, int reach, double radius, uint8_t value)
{
    for (int j = -reach; j <= reach; j++)
        for (int i = -reach; i <= reach; i++)
            if (x + i >= 0 && y + j >= 0 && x + i < raster->width && y + j < raster->height &&
                i * i + j * j <= radius * radius)
                raster->cells[(long)(y + j) * raster->width + x + i] = value;
}

static bool has_neighbour(const struct raster *raster, const uint8_t *cells, int x, int y,
                          uint8_t value)
{
    long at = (long)y * raster->width + x;
    return (x > 0 && cells[at - 1] == value) || (x + 1 < raster->width && cells[at + 1] == value) ||
           (y > 0 && cells[at - raster->width] == value) ||
           (y + 1 < raster->height && cells[at + raster->width] == value);
}

/* Every cell of `value` on its region's edge spreads over a disc. */
static void spread(struct raster *raster, double radius, int reach, uint8_t value)
{
    uint8_t *before = copy_of(raster);
    for (int y = 0; y < raster->height; y++)
        for (int x = 0; x < raster->width; x++)
            if (before[(long)y * raster->width + x] == value &&
                has_neighbour(raster, before, x, y, !value))
                stamp(raster, x, y, reach, radius, value);
    free(before);
}

void raster_grow(struct raster *raster)
{
    spread(raster, 1.5, 1, 1); /* the eight cells around */
}

void raster_shrink(struct raster *raster, double radius_nm)
{
    double radius = radius_nm / raster->cell_nm;
    for (int y = 0; y < raster->height; y++)
        raster->cells[(long)y * raster->width] =
            raster->cells[(long)y * raster->width + raster->width - 1] = 0;
    for (int x = 0; x < raster->width; x++)
        raster->cells[x] = raster->cells[(long)(raster->height - 1) * raster->width + x] = 0;
    spread(raster, radius, (int)ceil(radius), 0);
}
