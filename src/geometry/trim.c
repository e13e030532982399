/*
 * Leaves out what is certainly buried, before any crossing is looked for: above all the round ends
 * of strokes within other strokes, which are most of a painted area's outlines.
 *
 * The kernel of a fill is what lies strictly on the painted side of every one of its edges: convex,
 * and covered by the fill, as its outline winds about each such point. Where a chain of edges of an
 * object A has all its vertices in the kernel of a fill B, one straight edge takes its place. A's
 * windings then change within the chain's convex hull only, hence within the kernel, and there
 * nothing depends on A: B lies over it (B is drawn later, dark or clear), or B lies in the same
 * run of one effect and bears the same names. So which points are copper does not change at all,
 * nor which names show where. Steps are taken one after the other, each upon what the steps before
 * left: two ends that bury each other are not both cut.
 */
#include "geometry/grid.h"
#include "geometry/trim.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define KERNEL_EDGES 16     /* a fill with more edges buries by its capsule only */
#define TRIES 48            /* fills tried on one arc: the last ones drawn there */
#define CAPSULE_MARGIN_NM 3 /* far above the error of the distances */
#define CUT ISTHMUS_NONE    /* in place of a curve: an edge made here */

/* All points nearer than a radius to the line p - q, which lie in a fill's kernel. */
struct capsule {
    double x, y, run, rise; /* p, and q - p */
    double inverse;         /* 1 / |q - p|^2, or 0 */
    double radius2;         /* 0: none */
};
struct cover { /* what an object covers for certain */
    struct box box;
    struct capsule capsule;
    uint32_t first_cut, cut_count; /* edges made since: the kernel lies on their painted side too */
    uint32_t run;                  /* number of the run of one effect that it lies in */
    int8_t sense; /* the painted side is left (1), right (-1); 0: it buries nothing */
};
struct trimmer {
    struct paint *paint;  /* the copy being trimmed */
    struct cover *covers; /* per object */
    struct cut {
        struct pt a, b;
    } * cuts;
    size_t cut_count, cut_capacity;
    struct grid grid;
    uint32_t *cell_start; /* per cell and one behind */
    uint32_t *entries;    /* objects by cell, rising */
    bool *is_holed;       /* per cell: something clear or marked may reach it */
};

/* ---- covers ---- */

static struct box box_of_edges(const struct paint_edge *edges, size_t count)
{
    struct box box = {INT32_MAX, INT32_MAX, INT32_MIN, INT32_MIN};
    for (size_t i = 0; i < count; i++) {
        struct pt at = edges[i].a;
        box.min_x = at.x < box.min_x ? at.x : box.min_x;
        box.max_x = at.x > box.max_x ? at.x : box.max_x;
        box.min_y = at.y < box.min_y ? at.y : box.min_y;
        box.max_y = at.y > box.max_y ? at.y : box.max_y;
    }
    return box;
}

/* The two centres that a stroke's round ends have (twice the same for a disc). */
static bool find_centres(const struct paint *paint, const struct paint_edge *edges, size_t count,
                         const struct curve *centres[2])
{
    uint32_t last = 0;
    unsigned found = 0;
    for (size_t i = 0; i < count; i++) {
        if (edges[i].curve == last || paint->curves[edges[i].curve].turn == 0)
            continue;
        if (found == 2)
            return false;
        last = edges[i].curve;
        centres[found++] = &paint->curves[last];
    }
    if (found == 1)
        centres[1] = centres[0];
    return found > 0;
}

/* The least distance of the two centres from the lines through the edges, on the painted side. */
static double least_depth(const struct paint_edge *edges, size_t count,
                          const struct curve *centres[2], int sense)
{
    double least = INFINITY;
    for (size_t i = 0; i < count; i++) {
        double run = (double)edges[i].b.x - edges[i].a.x,
               rise = (double)edges[i].b.y - edges[i].a.y;
        double p = run * (centres[0]->centre_y - edges[i].a.y) -
                   rise * (centres[0]->centre_x - edges[i].a.x);
        double q = run * (centres[1]->centre_y - edges[i].a.y) -
                   rise * (centres[1]->centre_x - edges[i].a.x);
        double depth = (sense > 0 ? fmin(p, q) : fmin(-p, -q)) / sqrt(run * run + rise * rise);
        least = fmin(least, depth);
    }
    return least;
}

static struct capsule capsule_of_edges(const struct paint *paint, const struct paint_edge *edges,
                                       size_t count, int sense)
{
    const struct curve *centres[2];
    struct capsule capsule = {0};
    if (!find_centres(paint, edges, count, centres))
        return capsule;
    double radius = least_depth(edges, count, centres, sense) - CAPSULE_MARGIN_NM;
    if (!(radius > 0))
        return capsule;
    capsule.x = centres[0]->centre_x;
    capsule.y = centres[0]->centre_y;
    capsule.run = centres[1]->centre_x - capsule.x;
    capsule.rise = centres[1]->centre_y - capsule.y;
    double length2 = capsule.run * capsule.run + capsule.rise * capsule.rise;
    capsule.inverse = length2 > 0 ? 1 / length2 : 0;
    capsule.radius2 = radius * radius;
    return capsule;
}

static int sense_of_edges(const struct paint_edge *edges, size_t count)
{
    double area = 0;
    for (size_t i = 0; i < count; i++)
        area += (double)cross(edges[0].a, edges[i].a, edges[i].b);
    return (area > 0) - (area < 0);
}

static bool is_convex(const struct paint_edge *edges, size_t count, int sense)
{
    for (size_t i = 0; i < count; i++)
        if (sense * sign_of(cross(edges[i].a, edges[i].b, edges[i + 1 < count ? i + 1 : 0].b)) < 0)
            return false;
    return true;
}

static struct cover cover_of(const struct paint *paint, const struct paint_object *object)
{
    const struct paint_fill *fill = &paint->fills[object->first_fill];
    const struct paint_edge *edges = paint->edges + fill->first_edge;
    struct cover cover = {0};
    if (object->fill_count != 1 || object->effect == PAINT_MARK || fill->edge_count < 3)
        return cover;
    int sense = sense_of_edges(edges, fill->edge_count);
    cover.box = box_of_edges(edges, fill->edge_count);
    cover.capsule = capsule_of_edges(paint, edges, fill->edge_count, sense);
    if (cover.capsule.radius2 > 0 ||
        (fill->edge_count <= KERNEL_EDGES && is_convex(edges, fill->edge_count, sense)))
        cover.sense = (int8_t)sense;
    return cover;
}

static void find_covers(struct trimmer *trimmer)
{
    const struct paint *paint = trimmer->paint;
    for (uint32_t i = 0, run = 0; i < paint->object_count; i++) {
        run += i > 0 && paint->objects[i].effect != paint->objects[i - 1].effect;
        trimmer->covers[i] = cover_of(paint, &paint->objects[i]);
        trimmer->covers[i].run = run;
    }
}

/* ---- where to look for them ---- */

/* Rows of a column of cells that a cover may reach. */
static void rows_of_cover(const struct trimmer *trimmer, const struct cover *cover, uint32_t column,
                          uint32_t *from, uint32_t *to)
{
    const struct grid *grid = &trimmer->grid;
    const struct capsule *capsule = &cover->capsule;
    double low = cover->box.min_y, high = cover->box.max_y;
    if (capsule->radius2 > 0 && fabs(capsule->run) > 0) {
        double radius = sqrt(capsule->radius2), cell = ldexp(1, (int)grid->shift);
        double left = (double)grid->box.min_x + column * cell - radius - capsule->x;
        double share0 = left / capsule->run, share1 = (left + cell + 2 * radius) / capsule->run;
        double y0 = capsule->y + capsule->rise * fmin(fmax(share0, 0), 1);
        double y1 = capsule->y + capsule->rise * fmin(fmax(share1, 0), 1);
        low = fmax(low, fmin(y0, y1) - radius);
        high = fmin(high, fmax(y0, y1) + radius);
    }
    *from = grid_row(grid, (int64_t)low);
    *to = grid_row(grid, (int64_t)high);
}

/* Counts (entries NULL) or lists the cells of an object's cover. */
static void enter_cover(struct trimmer *trimmer, uint32_t object)
{
    const struct cover *cover = &trimmer->covers[object];
    if (cover->sense == 0)
        return;
    uint32_t end = grid_column(&trimmer->grid, cover->box.max_x), from, to;
    for (uint32_t column = grid_column(&trimmer->grid, cover->box.min_x); column <= end; column++) {
        rows_of_cover(trimmer, cover, column, &from, &to);
        for (uint32_t row = from; row <= to; row++) {
            size_t cell = (size_t)row * trimmer->grid.columns + column;
            if (trimmer->entries)
                trimmer->entries[--trimmer->cell_start[cell]] = object;
            else
                trimmer->cell_start[cell]++;
        }
    }
}

static void choose_grid(struct trimmer *trimmer)
{
    const struct paint *paint = trimmer->paint;
    struct box box = {INT32_MAX, INT32_MAX, INT32_MIN, INT32_MIN};
    double length = 0;
    for (uint32_t i = 0; i < paint->object_count; i++) {
        const struct cover *cover = &trimmer->covers[i];
        if (cover->sense == 0)
            continue;
        box.min_x = cover->box.min_x < box.min_x ? cover->box.min_x : box.min_x;
        box.max_x = cover->box.max_x > box.max_x ? cover->box.max_x : box.max_x;
        box.min_y = cover->box.min_y < box.min_y ? cover->box.min_y : box.min_y;
        box.max_y = cover->box.max_y > box.max_y ? cover->box.max_y : box.max_y;
        length += fabs(cover->capsule.run) + fabs(cover->capsule.rise);
    }
    if (box.min_x > box.max_x)
        box = (struct box){0, 0, 0, 0};
    trimmer->grid = grid_choose(box, paint->object_count, length);
}

static bool find_holed(struct trimmer *trimmer)
{
    const struct paint *paint = trimmer->paint;
    const struct grid *grid = &trimmer->grid;
    trimmer->is_holed = mesh_calloc((size_t)grid->columns * grid->rows, sizeof *trimmer->is_holed);
    if (!trimmer->is_holed)
        return false;
    for (uint32_t i = 0; i < paint->object_count; i++) {
        const struct paint_fill *fill = &paint->fills[paint->objects[i].first_fill];
        if (paint->objects[i].effect == PAINT_DARK || fill->edge_count == 0)
            continue;
        struct box box = box_of_edges(paint->edges + fill->first_edge, fill->edge_count);
        if (box.max_x >= PAINT_FRAME) /* the outside of the board */
            continue;
        for (uint32_t row = grid_row(grid, box.min_y); row <= grid_row(grid, box.max_y); row++)
            memset(trimmer->is_holed + (size_t)row * grid->columns + grid_column(grid, box.min_x),
                   true, grid_column(grid, box.max_x) - grid_column(grid, box.min_x) + 1);
    }
    return true;
}

static bool enter_covers(struct trimmer *trimmer)
{
    uint32_t object_count = (uint32_t)trimmer->paint->object_count, sum = 0;
    size_t cells = (size_t)trimmer->grid.columns * trimmer->grid.rows;
    trimmer->cell_start = mesh_calloc(cells + 1, sizeof *trimmer->cell_start);
    if (!trimmer->cell_start)
        return false;
    for (uint32_t i = 0; i < object_count; i++)
        enter_cover(trimmer, i);
    for (size_t i = 0; i <= cells; i++)
        trimmer->cell_start[i] = sum += trimmer->cell_start[i];
    trimmer->entries = mesh_alloc(sum, sizeof *trimmer->entries);
    if (!trimmer->entries)
        return false;
    for (uint32_t i = object_count; i-- > 0;)
        enter_cover(trimmer, i);
    return true;
}

/* ---- trimming ---- */

static bool is_in_capsule(const struct capsule *capsule, struct pt at)
{
    double x = at.x - capsule->x, y = at.y - capsule->y;
    double along = (x * capsule->run + y * capsule->rise) * capsule->inverse;
    along = along < 0 ? 0 : along > 1 ? 1 : along;
    x -= along * capsule->run;
    y -= along * capsule->rise;
    return x * x + y * y < capsule->radius2;
}

static bool is_painted_side(struct pt a, struct pt b, struct pt at, int sense)
{
    int64_t side = cross(a, b, at);
    return sense > 0 ? side > 0 : side < 0;
}

static bool is_inside_edges(const struct trimmer *trimmer, uint32_t object, struct pt at)
{
    const struct paint *paint = trimmer->paint;
    const struct paint_fill *fill = &paint->fills[paint->objects[object].first_fill];
    const struct paint_edge *edges = paint->edges + fill->first_edge;
    if (fill->edge_count > KERNEL_EDGES)
        return false;
    for (uint32_t i = 0; i < fill->edge_count; i++)
        if (!is_painted_side(edges[i].a, edges[i].b, at, trimmer->covers[object].sense))
            return false;
    return fill->edge_count > 0;
}

static bool is_in_kernel(const struct trimmer *trimmer, uint32_t object, struct pt at)
{
    const struct cover *cover = &trimmer->covers[object];
    if (at.x <= cover->box.min_x || at.x >= cover->box.max_x || at.y <= cover->box.min_y ||
        at.y >= cover->box.max_y)
        return false;
    if (!(cover->capsule.radius2 > 0))
        return is_inside_edges(trimmer, object, at);
    if (!is_in_capsule(&cover->capsule, at))
        return false;
    const struct cut *cuts = trimmer->cuts + cover->first_cut;
    for (uint32_t i = 0; i < cover->cut_count; i++)
        if (!is_painted_side(cuts[i].a, cuts[i].b, at, cover->sense))
            return false;
    return true;
}

static bool is_holed_at(const struct trimmer *trimmer, struct pt at)
{
    return trimmer->is_holed[grid_cell(&trimmer->grid, at)];
}

/*
 * One straight edge in place of a chain; the number of edges made. A stroke's end often lies about
 * a hole: the straight way would cross it and leave vertices on its rim, so it goes by way of the
 * middle vertex there.
 */
static uint32_t shorten(const struct trimmer *trimmer, const struct paint_edge *chain,
                        uint32_t count, struct paint_edge *out)
{
    struct pt from = chain[0].a, middle = chain[count / 2].a, to = chain[count - 1].b;
    bool goes_round = is_holed_at(trimmer, from) || is_holed_at(trimmer, to);
    uint32_t made = 0;
    if (same_pt(from, to))
        return 0;
    if (count < 2 || (count == 2 && goes_round)) {
        memmove(out, chain, count * sizeof *out);
        return count;
    }
    if (goes_round)
        out[made++] = (struct paint_edge){from, middle, CUT};
    out[made++] = (struct paint_edge){goes_round ? middle : from, to, CUT};
    return made;
}

/* Edges from the first one on whose ends are all buried. */
static uint32_t buried_length(const struct trimmer *trimmer, const struct paint_edge *edges,
                              uint32_t count, uint32_t by)
{
    uint32_t length = 0;
    if (is_in_kernel(trimmer, by, edges[0].a))
        while (length < count && is_in_kernel(trimmer, by, edges[length].b))
            length++;
    return length;
}

/* Cuts the buried chains of a row of edges that follow each other; the number of edges left. */
static uint32_t cut_chains(const struct trimmer *trimmer, struct paint_edge *edges, uint32_t count,
                           uint32_t by)
{
    uint32_t kept = 0;
    for (uint32_t i = 0, length; i < count; i += length) {
        length = buried_length(trimmer, edges + i, count - i, by);
        if (length == 0) {
            edges[kept++] = edges[i];
            length = 1;
        } else {
            kept += shorten(trimmer, edges + i, length, edges + kept);
        }
    }
    return kept;
}

static bool may_bury(const struct trimmer *trimmer, uint32_t by, uint32_t object)
{
    const struct paint_object *objects = trimmer->paint->objects;
    return by > object ||
           (by < object && trimmer->covers[by].run == trimmer->covers[object].run &&
            objects[by].alike == objects[object].alike && objects[by].alike != ISTHMUS_NONE);
}

/* What is left of an arc's edges when all that lies about its middle has been tried. */
static uint32_t trim_arc(const struct trimmer *trimmer, uint32_t object, struct paint_edge *edges,
                         uint32_t count)
{
    uint32_t cell = grid_cell(&trimmer->grid, edges[count / 2].a);
    uint32_t first = trimmer->cell_start[cell], end = trimmer->cell_start[cell + 1];
    if (end - first > TRIES)
        first = end - TRIES;
    for (uint32_t i = end; i-- > first && count > 1;)
        if (may_bury(trimmer, trimmer->entries[i], object))
            count = cut_chains(trimmer, edges, count, trimmer->entries[i]);
    return count;
}

static uint32_t arc_length(const struct paint_edge *edges, uint32_t count)
{
    uint32_t length = 1;
    while (edges[0].curve != 0 && length < count && edges[length].curve == edges[0].curve &&
           same_pt(edges[length].a, edges[length - 1].b))
        length++;
    return length;
}

static void trim_fill(struct trimmer *trimmer, uint32_t object, struct paint_fill *fill)
{
    struct paint_edge *edges = trimmer->paint->edges + fill->first_edge;
    uint32_t kept = 0, count = fill->edge_count;
    for (uint32_t i = 0, length; i < count; i += length) {
        length = arc_length(edges + i, count - i);
        uint32_t left = length > 2 ? trim_arc(trimmer, object, edges + i, length) : length;
        memmove(edges + kept, edges + i, left * sizeof *edges);
        kept += left;
    }
    fill->edge_count = kept;
}

/* Notes what was made of an object's arcs: its kernel is smaller now. */
static bool list_cuts(struct trimmer *trimmer, uint32_t object)
{
    struct paint *paint = trimmer->paint;
    struct cover *cover = &trimmer->covers[object];
    const struct paint_object *painted = &paint->objects[object];
    cover->first_cut = (uint32_t)trimmer->cut_count;
    for (uint32_t f = 0; f < painted->fill_count; f++) {
        const struct paint_fill *fill = &paint->fills[painted->first_fill + f];
        for (uint32_t i = fill->first_edge; i < fill->first_edge + fill->edge_count; i++) {
            if (paint->edges[i].curve != CUT)
                continue;
            paint->edges[i].curve = 0; /* no part of the arc any more */
            if (trimmer->cut_count == trimmer->cut_capacity &&
                !array_grow(&trimmer->cuts, sizeof *trimmer->cuts, &trimmer->cut_capacity,
                            trimmer->cut_count + 1))
                return false;
            trimmer->cuts[trimmer->cut_count++] =
                (struct cut){paint->edges[i].a, paint->edges[i].b};
        }
        if (fill->edge_count == 0)
            cover->sense = 0; /* nothing is left of it */
    }
    cover->cut_count = (uint32_t)trimmer->cut_count - cover->first_cut;
    return true;
}

static bool trim_all(struct trimmer *trimmer)
{
    struct paint *paint = trimmer->paint;
    for (uint32_t i = 0; i < paint->object_count; i++) {
        const struct paint_object *object = &paint->objects[i];
        if (object->effect == PAINT_MARK)
            continue;
        for (uint32_t f = 0; f < object->fill_count; f++)
            trim_fill(trimmer, i, &paint->fills[object->first_fill + f]);
        if (!list_cuts(trimmer, i))
            return false;
    }
    return true;
}

/* ---- the copy ---- */

static bool copy_paint(const struct paint *paint, struct paint *out)
{
    *out = *paint;
    out->fills = mesh_alloc(paint->fill_count, sizeof *out->fills);
    out->edges = mesh_alloc(paint->edge_count, sizeof *out->edges);
    if (!out->fills || !out->edges)
        return false;
    if (paint->edge_count == 0)
        return true;
    memcpy(out->fills, paint->fills, paint->fill_count * sizeof *out->fills);
    memcpy(out->edges, paint->edges, paint->edge_count * sizeof *out->edges);
    return true;
}

static void close_ranks(struct paint *paint)
{
    uint32_t kept = 0;
    for (size_t f = 0; f < paint->fill_count; f++) {
        struct paint_fill *fill = &paint->fills[f];
        memmove(paint->edges + kept, paint->edges + fill->first_edge,
                fill->edge_count * sizeof *paint->edges);
        fill->first_edge = kept;
        kept += fill->edge_count;
    }
    paint->edge_count = kept;
    struct paint_edge *fewer = kept ? realloc(paint->edges, kept * sizeof *fewer) : NULL;
    if (fewer) /* else the array stays as large as it was */
        paint->edges = fewer;
}

enum mesh_status trim_paint(const struct paint *paint, struct paint *out)
{
    struct trimmer trimmer = {.paint = out};
    bool ok = copy_paint(paint, out);
    trimmer.covers = mesh_alloc(paint->object_count, sizeof *trimmer.covers);
    ok = ok && trimmer.covers;
    if (ok) {
        find_covers(&trimmer);
        choose_grid(&trimmer);
    }
    ok = ok && find_holed(&trimmer) && enter_covers(&trimmer);
    ok = ok && trim_all(&trimmer);
    if (ok)
        close_ranks(out);
    free(trimmer.covers);
    free(trimmer.cuts);
    free(trimmer.cell_start);
    free(trimmer.entries);
    free(trimmer.is_holed);
    return ok ? MESH_OK : MESH_NO_MEMORY;
}

void trim_free(struct paint *paint)
{
    free(paint->fills);
    free(paint->edges);
    *paint = (struct paint){0};
}
