/*
 * Most outlines are arcs that lie by themselves: clearances, pads, the sides of a pour. A chain of
 * their edges that touches nothing else needs no snapping, bounds no face of its own and is put
 * back as it was, so the image sees it as one straight edge.
 *
 * A chain runs within one quadrant of directions, so it neither meets nor snaps to itself, and its
 * hull lies in a narrow slab along its chord. Where no other slab comes near, straightening the
 * chain moves the plane within the slab only: every face, island and winding stays what it is. Two
 * chains that follow each other share an end; there they must part to opposite sides of a vertical
 * or horizontal line. Chains that coincide (a pad and the mark upon it) are straightened together
 * or not at all.
 */
#include "geometry/fold.h"
#include "geometry/grid.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LONGEST 8 /* edges a chain: longer ones have fat slabs that touch more */
#define SHORTEST 3
#define THINNEST 4         /* times as long as wide, at least: a quarter of a circle is */
#define SLAB_MARGIN_NM 2.0 /* about each slab: above a pixel's half diagonal and all rounding */
#define CROWD 48           /* a cell of more slabs folds nothing */

/* What lies within half_length along and half_width across of a middle: one chain or edge. */
struct slab {
    double x, y, along_x, along_y, half_length, half_width;
    uint32_t first_edge;
    uint16_t edge_count;
    bool is_free;  /* a chain that nothing is known to touch */
    bool is_again; /* it coincides with one before it */
};
struct folder {
    struct paint *paint;
    struct folds *folds;
    struct slab *slabs; /* in the order of their edges */
    size_t slab_count, slab_capacity;
    struct grid grid;
    uint32_t *cell_start; /* per cell and one behind */
    uint32_t *entries;    /* slabs by cell */
    struct slab_pair {
        uint32_t a, b;
    } * equal; /* chains that coincide */
    size_t equal_count, equal_capacity;
};

/* ---- slabs ---- */

static const struct paint_edge *edges_of(const struct folder *folder, const struct slab *slab)
{
    return folder->paint->edges + slab->first_edge;
}

static struct pt start_of(const struct folder *folder, const struct slab *slab)
{
    return edges_of(folder, slab)[0].a;
}

static struct pt end_of(const struct folder *folder, const struct slab *slab)
{
    return edges_of(folder, slab)[slab->edge_count - 1].b;
}

static struct slab slab_of(const struct paint_edge *edges, uint32_t first, uint32_t count)
{
    struct pt a = edges[first].a, b = edges[first + count - 1].b;
    int64_t low = 0, high = 0;
    for (uint32_t i = first + 1; i < first + count; i++) {
        int64_t off = cross(a, b, edges[i].a);
        low = off < low ? off : low;
        high = off > high ? off : high;
    }
    double run = (double)b.x - a.x, rise = (double)b.y - a.y,
           length = sqrt(run * run + rise * rise);
    double from = (double)low / length, to = (double)high / length, off = (from + to) / 2;
    return (struct slab){.along_x = run / length,
                         .along_y = rise / length,
                         .x = a.x + run / 2 - off * rise / length,
                         .y = a.y + rise / 2 + off * run / length,
                         .half_length = length / 2 + SLAB_MARGIN_NM,
                         .half_width = (to - from) / 2 + SLAB_MARGIN_NM,
                         .first_edge = first,
                         .edge_count = (uint16_t)count};
}

/* A chain that is worth folding, or its edges one by one. */
static bool add_slabs(struct folder *folder, uint32_t first, uint32_t count)
{
    struct slab slab = slab_of(folder->paint->edges, first, count);
    bool is_chain = count >= SHORTEST && slab.half_width * THINNEST <= slab.half_length;
    slab.is_free = is_chain;
    for (uint32_t i = 0; i < (is_chain ? 1 : count); i++) {
        if (folder->slab_count == folder->slab_capacity &&
            !array_grow(&folder->slabs, sizeof *folder->slabs, &folder->slab_capacity,
                        folder->slab_count + 1))
            return false;
        folder->slabs[folder->slab_count++] =
            is_chain ? slab : slab_of(folder->paint->edges, first + i, 1);
    }
    return true;
}

static int sign_between(int32_t from, int32_t to)
{
    return (to > from) - (to < from);
}

static double length_of(const struct paint_edge *edge)
{
    double run = (double)edge->b.x - edge->a.x, rise = (double)edge->b.y - edge->a.y;
    return sqrt(run * run + rise * rise);
}

/* Straight lines of very different lengths make a fat slab: a side and its rounded corner. */
static bool differ_in_length(const struct paint_edge *a, const struct paint_edge *b)
{
    double p = length_of(a), q = length_of(b);
    return a->curve == 0 && (p > 4 * q || q > 4 * p);
}

/* Edges from the first on that follow each other on one curve within one quadrant. */
static uint32_t run_length(const struct paint_edge *edges, uint32_t count)
{
    int sx = 0, sy = 0;
    uint32_t length = 0;
    for (; length < count; length++) {
        const struct paint_edge *edge = &edges[length];
        int dx = sign_between(edge->a.x, edge->b.x), dy = sign_between(edge->a.y, edge->b.y);
        if (sx * dx < 0 || sy * dy < 0 || (dx == 0 && dy == 0))
            break;
        if (length > 0 && (edge->curve != edges[0].curve || !same_pt(edge[-1].b, edge->a) ||
                           differ_in_length(&edge[-1], edge)))
            break;
        sx |= dx;
        sy |= dy;
    }
    return length;
}

/* A run of edges, in equal parts. */
static bool add_run(struct folder *folder, uint32_t first, uint32_t count)
{
    uint32_t parts = (count + LONGEST - 1) / LONGEST;
    for (uint32_t i = 0; i < parts; i++) {
        uint32_t from = count * i / parts, to = count * (i + 1) / parts;
        if (!add_slabs(folder, first + from, to - from))
            return false;
    }
    return true;
}

static bool find_slabs(struct folder *folder)
{
    const struct paint *paint = folder->paint;
    for (size_t f = 0; f < paint->fill_count; f++) {
        uint32_t first = paint->fills[f].first_edge, end = first + paint->fills[f].edge_count;
        for (uint32_t i = first, length; i < end; i += length ? length : 1) {
            length = run_length(paint->edges + i, end - i);
            if (!add_run(folder, i, length))
                return false;
        }
    }
    return true;
}

/* ---- where they lie ---- */

static void add_to_box(struct box *box, struct pt at)
{
    if (abs(at.x) >= PAINT_FRAME || abs(at.y) >= PAINT_FRAME) /* of the complement's frame */
        return;
    box->min_x = at.x < box->min_x ? at.x : box->min_x;
    box->max_x = at.x > box->max_x ? at.x : box->max_x;
    box->min_y = at.y < box->min_y ? at.y : box->min_y;
    box->max_y = at.y > box->max_y ? at.y : box->max_y;
}

static void choose_grid(struct folder *folder)
{
    struct box box = {INT32_MAX, INT32_MAX, INT32_MIN, INT32_MIN};
    double length = 0;
    for (size_t i = 0; i < folder->slab_count; i++) {
        const struct slab *slab = &folder->slabs[i];
        add_to_box(&box, start_of(folder, slab));
        add_to_box(&box, end_of(folder, slab));
        length += fmin(2 * slab->half_length, PAINT_FRAME / 4.0);
    }
    if (box.min_x > box.max_x)
        box = (struct box){0, 0, 0, 0};
    folder->grid = grid_choose(box, folder->slab_count, length);
}

/* Rows of a column of cells that a slab may reach. */
static void rows_of_slab(const struct grid *grid, const struct slab *slab, uint32_t column,
                         uint32_t *from, uint32_t *to)
{
    double low = -slab->half_length, high = slab->half_length;
    if (fabs(slab->along_x) > 1e-6) { /* else all columns take all of it */
        double aside = slab->half_width * fabs(slab->along_y), cell = ldexp(1, (int)grid->shift);
        double left = (double)grid->box.min_x + column * cell - slab->x - aside;
        double right = column + 1 == grid->columns ? INFINITY : left + cell + 2 * aside;
        left = column == 0 ? -INFINITY : left;
        low = fmax(low, fmin(left / slab->along_x, right / slab->along_x));
        high = fmin(high, fmax(left / slab->along_x, right / slab->along_x));
    }
    double p = slab->y + low * slab->along_y, q = slab->y + high * slab->along_y;
    double beside = slab->half_width * fabs(slab->along_x) + 1;
    *from = grid_row(grid, (int64_t)(fmin(p, q) - beside));
    *to = grid_row(grid, (int64_t)(fmax(p, q) + beside));
}

static void enter_cells(struct folder *folder, uint32_t index, uint32_t column, uint32_t from,
                        uint32_t to)
{
    for (uint32_t row = from; row <= to; row++) {
        size_t cell = (size_t)row * folder->grid.columns + column;
        if (folder->entries)
            folder->entries[--folder->cell_start[cell]] = index;
        else
            folder->cell_start[cell]++;
    }
}

/* Counts (entries NULL) or lists the cells of a slab. */
static void enter_slab(struct folder *folder, uint32_t index)
{
    const struct grid *grid = &folder->grid;
    const struct slab *slab = &folder->slabs[index];
    double right =
        fabs(slab->along_x) * slab->half_length + fabs(slab->along_y) * slab->half_width + 1;
    double up =
        fabs(slab->along_y) * slab->half_length + fabs(slab->along_x) * slab->half_width + 1;
    uint32_t column = grid_column(grid, (int64_t)(slab->x - right));
    uint32_t end = grid_column(grid, (int64_t)(slab->x + right));
    uint32_t from = grid_row(grid, (int64_t)(slab->y - up));
    uint32_t to = grid_row(grid, (int64_t)(slab->y + up));
    bool is_short = end - column < 2 || to - from < 2; /* as most are: its box will do */
    for (; column <= end; column++) {
        if (!is_short)
            rows_of_slab(grid, slab, column, &from, &to);
        enter_cells(folder, index, column, from, to);
    }
}

static bool enter_slabs(struct folder *folder)
{
    size_t cells = (size_t)folder->grid.columns * folder->grid.rows;
    uint32_t sum = 0;
    folder->cell_start = mesh_calloc(cells + 1, sizeof *folder->cell_start);
    if (!folder->cell_start)
        return false;
    for (uint32_t i = 0; i < folder->slab_count; i++)
        enter_slab(folder, i);
    for (size_t i = 0; i <= cells; i++)
        folder->cell_start[i] = sum += folder->cell_start[i];
    folder->entries = mesh_alloc(sum, sizeof *folder->entries);
    if (!folder->entries)
        return false;
    for (uint32_t i = (uint32_t)folder->slab_count; i-- > 0;)
        enter_slab(folder, i);
    return true;
}

/* ---- what they touch ---- */

/* Do the two rectangles overlap? Two convex shapes do unless a side of one parts them. */
static bool overlap(const struct slab *a, const struct slab *b)
{
    double dx = b->x - a->x, dy = b->y - a->y;
    double reach = a->half_length + a->half_width + b->half_length + b->half_width;
    if (fabs(dx) > reach || fabs(dy) > reach)
        return false;
    double even = fabs(a->along_x * b->along_x + a->along_y * b->along_y);
    double askew = fabs(a->along_x * b->along_y - a->along_y * b->along_x);
    if (fabs(dx * a->along_x + dy * a->along_y) >
            a->half_length + b->half_length * even + b->half_width * askew ||
        fabs(dy * a->along_x - dx * a->along_y) >
            a->half_width + b->half_length * askew + b->half_width * even)
        return false;
    return fabs(dx * b->along_x + dy * b->along_y) <=
               b->half_length + a->half_length * even + a->half_width * askew &&
           fabs(dy * b->along_x - dx * b->along_y) <=
               b->half_width + a->half_length * askew + a->half_width * even;
}

/* The same vertices, in the same or the opposite order. */
static bool coincide(const struct folder *folder, const struct slab *s, const struct slab *t)
{
    uint32_t count = s->edge_count;
    const struct paint_edge *p = edges_of(folder, s), *q = edges_of(folder, t);
    if (t->edge_count != count)
        return false;
    bool is_along = same_pt(p[0].a, q[0].a);
    for (uint32_t i = 0; i < count; i++) {
        const struct paint_edge *other = &q[is_along ? i : count - 1 - i];
        if (!same_pt(p[i].a, is_along ? other->a : other->b) ||
            !same_pt(p[i].b, is_along ? other->b : other->a))
            return false;
    }
    return true;
}

/* The vertex next to a chain's first or last one. */
static struct pt beside_end(const struct folder *folder, const struct slab *slab, bool at_end)
{
    const struct paint_edge *edges = edges_of(folder, slab);
    return at_end ? edges[slab->edge_count - 1].a : edges[0].b;
}

/*
 * Two slabs that share an end: do they leave it to opposite sides of a vertical or horizontal line?
 * A chain keeps its quadrant, so what leaves that line with its first edge stays off it.
 */
static bool part_at_end(const struct folder *folder, const struct slab *s, const struct slab *t)
{
    for (unsigned i = 0; i < 4; i++) {
        bool s_end = i & 1, t_end = i & 2;
        struct pt at = s_end ? end_of(folder, s) : start_of(folder, s);
        if (!same_pt(at, t_end ? end_of(folder, t) : start_of(folder, t)))
            continue;
        struct pt p = beside_end(folder, s, s_end), q = beside_end(folder, t, t_end);
        return sign_between(at.x, p.x) * sign_between(at.x, q.x) < 0 ||
               sign_between(at.y, p.y) * sign_between(at.y, q.y) < 0;
    }
    return false;
}

static bool add_equal(struct folder *folder, uint32_t a, uint32_t b)
{
    if (!array_grow(&folder->equal, sizeof *folder->equal, &folder->equal_capacity,
                    folder->equal_count + 1))
        return false;
    folder->equal[folder->equal_count++] = (struct slab_pair){a, b};
    folder->slabs[a > b ? a : b].is_again = true;
    return true;
}

static bool try_pair(struct folder *folder, uint32_t a, uint32_t b)
{
    struct slab *s = &folder->slabs[a], *t = &folder->slabs[b];
    if ((!s->is_free && !t->is_free) || !overlap(s, t))
        return true;
    if (s->is_free && t->is_free && coincide(folder, s, t))
        return add_equal(folder, a, b);
    if (!part_at_end(folder, s, t))
        s->is_free = t->is_free = false;
    return true;
}

static bool try_cell(struct folder *folder, size_t cell)
{
    uint32_t first = folder->cell_start[cell], end = folder->cell_start[cell + 1];
    if (end - first > CROWD)
        for (uint32_t i = first; i < end; i++)
            folder->slabs[folder->entries[i]].is_free = false;
    for (uint32_t i = first; i < end && end - first <= CROWD; i++)
        for (uint32_t j = i + 1; j < end; j++)
            if (!try_pair(folder, folder->entries[i], folder->entries[j]))
                return false;
    return true;
}

/* What coincides with a chain that is touched is touched. */
static void even_out(struct folder *folder)
{
    bool is_changed = true;
    while (is_changed) {
        is_changed = false;
        for (size_t i = 0; i < folder->equal_count; i++) {
            struct slab *s = &folder->slabs[folder->equal[i].a];
            struct slab *t = &folder->slabs[folder->equal[i].b];
            is_changed |= s->is_free != t->is_free;
            s->is_free = t->is_free = s->is_free && t->is_free;
        }
    }
}

static bool find_free(struct folder *folder)
{
    size_t cells = (size_t)folder->grid.columns * folder->grid.rows;
    for (size_t cell = 0; cell < cells; cell++)
        if (!try_cell(folder, cell))
            return false;
    even_out(folder);
    return true;
}

/* ---- folding ---- */

/* Takes a chain out of the paint's edges: the edge in its place. */
static struct paint_edge fold(struct folder *folder, const struct slab *slab)
{
    struct folds *folds = folder->folds;
    const struct paint_edge *edges = edges_of(folder, slab);
    struct paint_edge edge = {edges[0].a, end_of(folder, slab), 0};
    edge.curve = FOLDED | (uint32_t)folds->fold_count;
    folds->folds[folds->fold_count++] =
        (struct fold){folds->vertex_count, slab->edge_count, edges[0].curve};
    for (uint32_t i = 0; i < slab->edge_count; i++)
        folds->vertices[folds->vertex_count++] = edges[i].a;
    folds->hidden_count += slab->is_again ? 0 : slab->edge_count - 1U;
    return edge;
}

static bool make_room(struct folder *folder)
{
    size_t folds = 0, vertices = 0;
    for (size_t i = 0; i < folder->slab_count; i++)
        if (folder->slabs[i].is_free) {
            folds++;
            vertices += folder->slabs[i].edge_count;
        }
    folder->folds->folds = mesh_alloc(folds, sizeof *folder->folds->folds);
    folder->folds->vertices = mesh_alloc(vertices, sizeof *folder->folds->vertices);
    return folder->folds->folds && folder->folds->vertices;
}

static bool fold_all(struct folder *folder)
{
    struct paint *paint = folder->paint;
    const struct slab *slab = folder->slabs, *end = slab + folder->slab_count;
    uint32_t kept = 0;
    if (!make_room(folder))
        return false;
    for (size_t f = 0; f < paint->fill_count; f++) {
        struct paint_fill *fill = &paint->fills[f];
        uint32_t behind = fill->first_edge + fill->edge_count, first = kept;
        for (; slab < end && slab->first_edge < behind; slab++) {
            if (slab->is_free) {
                paint->edges[kept++] = fold(folder, slab);
                continue;
            }
            memmove(paint->edges + kept, edges_of(folder, slab),
                    slab->edge_count * sizeof *paint->edges);
            kept += slab->edge_count;
        }
        fill->first_edge = first;
        fill->edge_count = kept - first;
    }
    paint->edge_count = kept;
    return true;
}

enum mesh_status fold_paint(struct paint *paint, struct folds *out)
{
    *out = (struct folds){0};
    struct folder folder = {.paint = paint, .folds = out};
    bool ok = find_slabs(&folder);
    if (ok && folder.slab_count > 0 && paint->curve_count < FOLDED) {
        choose_grid(&folder);
        ok = enter_slabs(&folder) && find_free(&folder) && fold_all(&folder);
    }
    free(folder.slabs);
    free(folder.cell_start);
    free(folder.entries);
    free(folder.equal);
    return ok ? MESH_OK : MESH_NO_MEMORY;
}

void folds_free(struct folds *folds)
{
    free(folds->folds);
    free(folds->vertices);
    *folds = (struct folds){0};
}

/* ---- unfolding ---- */

/* Puts the chain that a bound stands for in its place; the points in between come last. */
static void unfold(const struct folds *folds, struct boundary *boundary, size_t index)
{
    struct bound *bound = &boundary->bounds[index];
    const struct fold *fold = &folds->folds[bound->curve & ~FOLDED];
    const struct pt *vertices = folds->vertices + fold->first_vertex;
    bool is_along = same_pt(boundary->points[bound->a], vertices[0]);
    uint32_t count = fold->edge_count, first = boundary->point_count, last = bound->b;
    bound->curve = fold->curve;
    for (uint32_t i = 1; i < count; i++)
        boundary->points[boundary->point_count++] = vertices[is_along ? i : count - i];
    bound->b = first;
    for (uint32_t i = 1; i < count; i++) {
        struct bound *next = &boundary->bounds[boundary->bound_count++];
        *next = *bound;
        next->a = first + i - 1;
        next->b = i + 1 < count ? first + i : last;
    }
}

static size_t count_hidden(const struct folds *folds, const struct boundary *boundary)
{
    size_t hidden = 0;
    for (size_t i = 0; i < boundary->bound_count; i++)
        if (boundary->bounds[i].curve & FOLDED)
            hidden += folds->folds[boundary->bounds[i].curve & ~FOLDED].edge_count - 1U;
    return hidden;
}

/* All points along the Hilbert curve again. */
static bool order_points(struct boundary *boundary, struct box box)
{
    uint32_t count = boundary->point_count;
    uint64_t *order = hilbert_order_in(box, boundary->points, count);
    uint32_t *number = order ? mesh_alloc(count, sizeof *number) : NULL;
    struct pt *points = number ? mesh_alloc((size_t)count + 4, sizeof *points) : NULL;
    if (points) {
        for (uint32_t i = 0; i < count; i++) {
            points[i] = boundary->points[(uint32_t)order[i]];
            number[(uint32_t)order[i]] = i;
        }
        for (size_t i = 0; i < boundary->bound_count; i++) {
            struct bound *bound = &boundary->bounds[i];
            bound->a = number[bound->a];
            bound->b = number[bound->b];
        }
        free(boundary->points);
        boundary->points = points;
    }
    free(order);
    free(number);
    return points != NULL;
}

enum mesh_status unfold_boundary(const struct folds *folds, struct box box,
                                 struct boundary *boundary)
{
    size_t hidden = count_hidden(folds, boundary), bound_count = boundary->bound_count;
    if (hidden == 0)
        return MESH_OK;
    size_t capacity = boundary->point_count;
    if (!array_grow(&boundary->points, sizeof *boundary->points, &capacity,
                    boundary->point_count + hidden) ||
        !array_grow(&boundary->bounds, sizeof *boundary->bounds, &boundary->bound_capacity,
                    bound_count + hidden))
        return MESH_NO_MEMORY;
    for (size_t i = 0; i < bound_count; i++)
        if (boundary->bounds[i].curve & FOLDED)
            unfold(folds, boundary, i);
    return order_points(boundary, box) ? MESH_OK : MESH_NO_MEMORY;
}
