/*
 * Snap rounding in two passes (Hobby 1999; Guibas and Marimont 1998). Pass one finds every crossing
 * of two source edges exactly and rounds it to its pixel; these pixels and those of all ends are
 * hot. Pass two makes each SOURCE edge the chain of hot pixels that it meets itself. Pixels are
 * half open, [c - 1/2, c + 1/2) both ways, so that they are convex, disjoint and cover the plane:
 * chains then meet at vertices only, and none passes a vertex that it does not hold.
 */
#include "geometry/grid.h"
#include "geometry/snap.h"

#include <math.h>
#include <stdlib.h>

struct snapper {
    const struct line *lines;
    uint32_t line_count;
    struct grid grid;
    size_t *cell_start; /* per cell and one behind */
    uint32_t *entries;  /* lines by cell; later dropped */
    struct pt *hot;     /* candidates: crossings first, then ends */
    size_t hot_count, hot_capacity;
    struct cell_entry { /* a line within the cell at hand */
        int32_t min_x, max_x, min_y, max_y;
        uint32_t line;
    } * here;
    size_t here_capacity;
    struct spot { /* a hot pixel, by cell */
        struct pt at;
        uint32_t id;
    } * spots;
    struct spot *hits; /* those that the line at hand meets */
    size_t hit_count, hit_capacity;
};

/* ---- pass one: crossings ---- */

/* Lengths that count for the size of cells: the part in the box, at most. */
static double total_length(const struct line *lines, uint32_t count, const struct box *box)
{
    double width = (double)box->max_x - box->min_x, height = (double)box->max_y - box->min_y;
    double total = 0;
    for (uint32_t i = 0; i < count; i++)
        total += fmin(fabs((double)lines[i].b.x - lines[i].a.x), width) +
                 fmin(fabs((double)lines[i].b.y - lines[i].a.y), height);
    return total;
}

static size_t cell_count(const struct grid *grid)
{
    return (size_t)grid->columns * grid->rows;
}

/* Counts (entries NULL) or lists the cells of a line. */
static void enter_line(struct snapper *snapper, uint32_t line)
{
    struct grid_walk walk =
        grid_walk_start(&snapper->grid, snapper->lines[line].a, snapper->lines[line].b);
    while (grid_walk_next(&walk))
        for (uint32_t row = walk.row_from; row <= walk.row_to; row++) {
            size_t cell = (size_t)row * snapper->grid.columns + walk.column;
            if (snapper->entries)
                snapper->entries[--snapper->cell_start[cell]] = line;
            else
                snapper->cell_start[cell]++;
        }
}

static size_t sum_up(size_t *counts, size_t count)
{
    size_t sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += counts[i];
        counts[i] = sum;
    }
    counts[count] = sum;
    return sum;
}

static bool enter_lines(struct snapper *snapper)
{
    size_t cells = cell_count(&snapper->grid);
    snapper->cell_start = mesh_calloc(cells + 1, sizeof *snapper->cell_start);
    if (!snapper->cell_start)
        return false;
    for (uint32_t i = 0; i < snapper->line_count; i++)
        enter_line(snapper, i);
    size_t total = sum_up(snapper->cell_start, cells);
    snapper->entries = mesh_alloc(total, sizeof *snapper->entries);
    if (!snapper->entries)
        return false;
    for (uint32_t i = snapper->line_count; i-- > 0;)
        enter_line(snapper, i);
    return true;
}

/* from + floor(run * num / den + 1/2), den > 0. */
static int32_t round_along(int32_t from, int64_t run, int64_t num, int64_t den)
{
    double near = (double)run * ((double)num / (double)den) + 0.5;
    double whole = floor(near);
    if (near - whole > 1e-5 && near - whole < 1 - 1e-5) /* the error is below 1e-6 */
        return (int32_t)(from + (int64_t)whole);
    __int128 top = (__int128)run * num * 2 + den, bottom = (__int128)den * 2;
    __int128 quotient = top / bottom;
    if (top % bottom < 0)
        quotient--;
    return (int32_t)(from + (int64_t)quotient);
}

/* Where two lines cross properly (not at an end of either), rounded to its pixel. */
static bool cross_at(const struct line *e, const struct line *f, struct pt *out)
{
    int64_t fa = cross(e->a, e->b, f->a), fb = cross(e->a, e->b, f->b);
    if (fa == 0 || fb == 0 || (fa > 0) == (fb > 0))
        return false;
    int64_t ea = cross(f->a, f->b, e->a), eb = cross(f->a, f->b, e->b);
    if (ea == 0 || eb == 0 || (ea > 0) == (eb > 0))
        return false;
    int64_t den = ea - eb;
    if (den < 0) {
        den = -den;
        ea = -ea;
    }
    out->x = round_along(e->a.x, (int64_t)e->b.x - e->a.x, ea, den);
    out->y = round_along(e->a.y, (int64_t)e->b.y - e->a.y, ea, den);
    return true;
}

static bool add_hot(struct snapper *snapper, struct pt at)
{
    if (snapper->hot_count == snapper->hot_capacity &&
        !array_grow(&snapper->hot, sizeof *snapper->hot, &snapper->hot_capacity,
                    snapper->hot_count + 1))
        return false;
    snapper->hot[snapper->hot_count++] = at;
    return true;
}

static bool overlap(const struct cell_entry *e, const struct cell_entry *f)
{
    return e->min_x <= f->max_x && f->min_x <= e->max_x && e->min_y <= f->max_y &&
           f->min_y <= e->max_y;
}

/* Counts a crossing in the one cell that holds its pixel. */
static bool try_pair(struct snapper *snapper, size_t cell, uint32_t e, uint32_t f)
{
    struct pt at;
    if (!cross_at(&snapper->lines[e], &snapper->lines[f], &at) ||
        grid_cell(&snapper->grid, at) != cell)
        return true;
    return add_hot(snapper, at);
}

static struct cell_entry entry_of(const struct snapper *snapper, uint32_t line)
{
    struct pt a = snapper->lines[line].a, b = snapper->lines[line].b;
    return (struct cell_entry){a.x, b.x, a.y < b.y ? a.y : b.y, a.y < b.y ? b.y : a.y, line};
}

static int32_t clip(int64_t at, int64_t low, int64_t high)
{
    return (int32_t)(at < low ? low : at > high ? high : at);
}

/* Shrinks an entry's box to the part of its line near the cell. */
static void clip_entry(const struct snapper *snapper, size_t cell, struct cell_entry *entry)
{
    const struct grid *grid = &snapper->grid;
    const struct line *line = &snapper->lines[entry->line];
    size_t column = cell % grid->columns, row = cell / grid->columns;
    int64_t left = grid->box.min_x + ((int64_t)column << grid->shift) - GRID_PAD_NM;
    int64_t low = grid->box.min_y + ((int64_t)row << grid->shift) - GRID_PAD_NM;
    int64_t size = (INT64_C(1) << grid->shift) + INT64_C(2) * GRID_PAD_NM;
    int64_t right = column + 1 == grid->columns ? INT32_MAX : left + size;
    int64_t high = row + 1 == grid->rows ? INT32_MAX : low + size;
    left = column == 0 ? INT32_MIN : left;
    low = row == 0 ? INT32_MIN : low;
    double run = (double)line->b.x - line->a.x, rise = (double)line->b.y - line->a.y;
    if (entry->min_x < left || entry->max_x > right) {
        double from = entry->min_x < left ? (double)(left - line->a.x) / run : 0;
        double to = entry->max_x > right ? (double)(right - line->a.x) / run : 1;
        double y0 = line->a.y + rise * from, y1 = line->a.y + rise * to;
        entry->min_y = clip((int64_t)floor(fmin(y0, y1)) - 1, entry->min_y, entry->max_y);
        entry->max_y = clip((int64_t)ceil(fmax(y0, y1)) + 1, entry->min_y, entry->max_y);
    }
    entry->min_x = clip(left, entry->min_x, entry->max_x);
    entry->max_x = clip(right, entry->min_x, entry->max_x);
    entry->min_y = clip(low, entry->min_y, entry->max_y);
    entry->max_y = clip(high, entry->min_y, entry->max_y);
}

static int by_min_x(const void *a, const void *b)
{
    const struct cell_entry *e = a, *f = b;
    return (e->min_x > f->min_x) - (e->min_x < f->min_x);
}

static int by_min_y(const void *a, const void *b)
{
    const struct cell_entry *e = a, *f = b;
    return (e->min_y > f->min_y) - (e->min_y < f->min_y);
}

/* Full cells are swept along the direction in which their lines are shorter. */
static bool sort_for_sweep(struct cell_entry *here, size_t count)
{
    double width = 0, height = 0;
    for (size_t i = 0; i < count; i++) {
        width += (double)here[i].max_x - here[i].min_x;
        height += (double)here[i].max_y - here[i].min_y;
    }
    bool is_along_x = width < height;
    qsort(here, count, sizeof *here, is_along_x ? by_min_x : by_min_y);
    return is_along_x;
}

static bool sweep_cell(struct snapper *snapper, size_t cell, size_t count)
{
    struct cell_entry *here = snapper->here;
    bool is_along_x = sort_for_sweep(here, count);
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            if (is_along_x ? here[j].min_x > here[i].max_x : here[j].min_y > here[i].max_y)
                break;
            if (overlap(&here[i], &here[j]) && !try_pair(snapper, cell, here[i].line, here[j].line))
                return false;
        }
    return true;
}

static bool cross_cell(struct snapper *snapper, size_t cell)
{
    size_t first = snapper->cell_start[cell], count = snapper->cell_start[cell + 1] - first;
    if (count < 2)
        return true;
    if (!array_grow(&snapper->here, sizeof *snapper->here, &snapper->here_capacity, count))
        return false;
    struct cell_entry *here = snapper->here;
    for (size_t i = 0; i < count; i++)
        here[i] = entry_of(snapper, snapper->entries[first + i]);
    if (count > 16) {
        for (size_t i = 0; i < count; i++)
            clip_entry(snapper, cell, &here[i]);
        return sweep_cell(snapper, cell, count);
    }
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++)
            if (overlap(&here[i], &here[j]) && !try_pair(snapper, cell, here[i].line, here[j].line))
                return false;
    return true;
}

static bool find_crossings(struct snapper *snapper)
{
    if (!enter_lines(snapper))
        return false;
    for (size_t cell = 0; cell < cell_count(&snapper->grid); cell++)
        if (!cross_cell(snapper, cell))
            return false;
    free(snapper->entries);
    snapper->entries = NULL;
    return true;
}

/* ---- hot pixels ---- */

static bool add_ends(struct snapper *snapper)
{
    size_t needed = snapper->hot_count + 2 * (size_t)snapper->line_count;
    if (!array_grow(&snapper->hot, sizeof *snapper->hot, &snapper->hot_capacity, needed))
        return false;
    for (uint32_t i = 0; i < snapper->line_count; i++) {
        snapper->hot[snapper->hot_count++] = snapper->lines[i].a;
        snapper->hot[snapper->hot_count++] = snapper->lines[i].b;
    }
    return true;
}

/* The distinct candidates along the Hilbert curve. */
static bool number_hot(struct snapper *snapper, struct snapped *out)
{
    uint64_t *order = hilbert_order(snapper->hot, snapper->hot_count);
    if (!order)
        return false;
    uint32_t count = 0;
    for (size_t i = 0; i < snapper->hot_count; i++) {
        struct pt at = snapper->hot[(uint32_t)order[i]];
        if (i == 0 || !same_pt(at, snapper->hot[(uint32_t)order[i - 1]]))
            order[count++] = order[i];
    }
    out->points = mesh_alloc((size_t)count + 4, sizeof *out->points);
    for (uint32_t i = 0; out->points && i < count; i++)
        out->points[i] = snapper->hot[(uint32_t)order[i]];
    out->point_count = count;
    free(order);
    free(snapper->hot);
    snapper->hot = NULL;
    snapper->hot_count = snapper->hot_capacity = 0;
    return out->points != NULL;
}

#define CROWD 32 /* a cell with more spots has them in order of x */

static int by_place_rising(const void *a, const void *b)
{
    return compare_pt(((const struct spot *)a)->at, ((const struct spot *)b)->at);
}

static void sort_crowds(struct snapper *snapper)
{
    for (size_t cell = 0; cell < cell_count(&snapper->grid); cell++) {
        size_t first = snapper->cell_start[cell];
        size_t count = snapper->cell_start[cell + 1] - first;
        if (count > CROWD)
            qsort(snapper->spots + first, count, sizeof *snapper->spots, by_place_rising);
    }
}

static bool place_spots(struct snapper *snapper, const struct snapped *out)
{
    size_t *start = snapper->cell_start, cells = cell_count(&snapper->grid);
    snapper->spots = mesh_alloc(out->point_count, sizeof *snapper->spots);
    if (!snapper->spots)
        return false;
    for (size_t i = 0; i <= cells; i++)
        start[i] = 0;
    for (uint32_t i = 0; i < out->point_count; i++)
        start[grid_cell(&snapper->grid, out->points[i])]++;
    sum_up(start, cells);
    for (uint32_t i = out->point_count; i-- > 0;)
        snapper->spots[--start[grid_cell(&snapper->grid, out->points[i])]] =
            (struct spot){out->points[i], i};
    sort_crowds(snapper);
    return true;
}

/* ---- pass two: chains ---- */

/*
 * Does the line meet the half-open pixel about `at`? Ends are whole, so the boxes overlap exactly
 * when the centre lies between them; then the distance from the centre decides. The line that
 * only touches a corner meets the pixel when that corner is its lower left one.
 */
static bool meets_pixel(const struct line *line, struct pt at)
{
    struct pt a = line->a, b = line->b;
    bool is_falling = b.y < a.y;
    int32_t low = is_falling ? b.y : a.y, high = is_falling ? a.y : b.y;
    if (at.x < a.x || at.x > b.x || at.y < low || at.y > high)
        return false;
    int64_t twice = 2 * cross(a, b, at);
    int64_t reach = ((int64_t)b.x - a.x) + ((int64_t)high - low);
    if (twice < reach && twice > -reach)
        return true;
    return twice == reach && is_falling && a.x < at.x && low < at.y;
}

/* The first spot of a cell that a line which starts at x can meet. */
static size_t first_spot(const struct snapper *snapper, size_t cell, int32_t x)
{
    size_t low = snapper->cell_start[cell], high = snapper->cell_start[cell + 1];
    if (high - low <= CROWD)
        return low;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (snapper->spots[middle].at.x < x)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static bool add_hits(struct snapper *snapper, const struct line *line, size_t cell)
{
    size_t end = snapper->cell_start[cell + 1];
    bool is_crowd = end - snapper->cell_start[cell] > CROWD;
    for (size_t i = first_spot(snapper, cell, line->a.x); i < end; i++) {
        if (is_crowd && snapper->spots[i].at.x > line->b.x)
            break;
        if (!meets_pixel(line, snapper->spots[i].at))
            continue;
        if (snapper->hit_count == snapper->hit_capacity &&
            !array_grow(&snapper->hits, sizeof *snapper->hits, &snapper->hit_capacity,
                        snapper->hit_count + 1))
            return false;
        snapper->hits[snapper->hit_count++] = snapper->spots[i];
    }
    return true;
}

/* Pixels are disjoint, so x decides, and within a column y in the line's own sense. */
static int by_place_falling(const void *a, const void *b)
{
    struct pt p = ((const struct spot *)a)->at, q = ((const struct spot *)b)->at;
    if (p.x != q.x)
        return p.x < q.x ? -1 : 1;
    return (q.y > p.y) - (q.y < p.y);
}

static void sort_hits(struct snapper *snapper, bool is_falling)
{
    int (*order)(const void *, const void *) = is_falling ? by_place_falling : by_place_rising;
    struct spot *hits = snapper->hits;
    if (snapper->hit_count > 24) {
        qsort(hits, snapper->hit_count, sizeof *hits, order);
        return;
    }
    for (size_t i = 1; i < snapper->hit_count; i++) {
        struct spot hit = hits[i];
        size_t j = i;
        for (; j > 0 && order(&hits[j - 1], &hit) > 0; j--)
            hits[j] = hits[j - 1];
        hits[j] = hit;
    }
}

static double distance_from(const struct line *line, struct pt at)
{
    double run = (double)line->b.x - line->a.x, rise = (double)line->b.y - line->a.y;
    return fabs((double)cross(line->a, line->b, at)) / sqrt(run * run + rise * rise);
}

static bool add_pieces(const struct snapper *snapper, uint32_t line, struct snapped *out)
{
    const struct spot *hits = snapper->hits;
    size_t count = snapper->hit_count;
    if (!array_grow(&out->pieces, sizeof *out->pieces, &out->piece_capacity,
                    out->piece_count + count))
        return false;
    for (size_t i = 1; i < count; i++) {
        out->pieces[out->piece_count++] = (struct piece){hits[i - 1].id, hits[i].id, line};
        double drift = i + 1 < count ? distance_from(&snapper->lines[line], hits[i].at) : 0;
        if (drift > out->drift_nm)
            out->drift_nm = drift;
    }
    return true;
}

static enum mesh_status make_chain(struct snapper *snapper, uint32_t index, struct snapped *out)
{
    const struct line *line = &snapper->lines[index];
    struct grid_walk walk = grid_walk_start(&snapper->grid, line->a, line->b);
    snapper->hit_count = 0;
    while (grid_walk_next(&walk))
        for (uint32_t row = walk.row_from; row <= walk.row_to; row++)
            if (!add_hits(snapper, line, (size_t)row * snapper->grid.columns + walk.column))
                return MESH_NO_MEMORY;
    sort_hits(snapper, line->b.y < line->a.y);
    size_t count = snapper->hit_count;
    if (count < 2 || !same_pt(snapper->hits[0].at, line->a) ||
        !same_pt(snapper->hits[count - 1].at, line->b))
        return MESH_BUG; /* an end is not hot */
    return add_pieces(snapper, index, out) ? MESH_OK : MESH_NO_MEMORY;
}

static enum mesh_status make_chains(struct snapper *snapper, struct snapped *out)
{
    enum mesh_status status = MESH_OK;
    for (uint32_t i = 0; i < snapper->line_count && status == MESH_OK; i++)
        status = make_chain(snapper, i, out);
    if (status == MESH_OK && out->drift_nm > 0.7072) /* half the diagonal of a pixel */
        status = MESH_BUG;
    return status;
}

static enum mesh_status snap_with(struct snapper *snapper, struct snapped *out)
{
    if (!find_crossings(snapper))
        return MESH_NO_MEMORY;
    out->crossing_count = snapper->hot_count;
    if (!add_ends(snapper))
        return MESH_NO_MEMORY;
    if (snapper->hot_count >= UINT32_MAX)
        return MESH_TOO_LARGE;
    if (!number_hot(snapper, out) || !place_spots(snapper, out))
        return MESH_NO_MEMORY;
    return make_chains(snapper, out);
}

enum mesh_status snap_lines(const struct edge_set *set, struct snapped *out)
{
    *out = (struct snapped){0};
    struct box box = box_of_points(&set->lines[0].a, 2 * (size_t)set->count);
    struct snapper snapper = {.lines = set->lines, .line_count = set->count};
    snapper.grid = grid_choose(box, set->count, total_length(set->lines, set->count, &box));
    enum mesh_status status = snap_with(&snapper, out);
    free(snapper.cell_start);
    free(snapper.entries);
    free(snapper.hot);
    free(snapper.here);
    free(snapper.spots);
    free(snapper.hits);
    return status;
}

void snapped_free(struct snapped *snapped)
{
    free(snapped->points);
    free(snapped->pieces);
    *snapped = (struct snapped){0};
}

/* ---- the public face: pieces of every source edge ---- */

static void copy_chain(const struct snapped *snapped, size_t first, size_t count, bool is_reversed,
                       uint32_t source, struct cdt_edge *out)
{
    for (size_t i = 0; i < count; i++) {
        const struct piece *piece =
            &snapped->pieces[is_reversed ? first + count - 1 - i : first + i];
        struct pt a = snapped->points[piece->a], b = snapped->points[piece->b];
        out[i] = (struct cdt_edge){is_reversed ? b : a, is_reversed ? a : b, source};
    }
}

/* Pieces of line i: first_piece[i] .. first_piece[i + 1]. */
static size_t *index_pieces(const struct snapped *snapped, uint32_t line_count)
{
    size_t *first = mesh_calloc((size_t)line_count + 1, sizeof *first);
    if (!first)
        return NULL;
    for (size_t i = 0; i < snapped->piece_count; i++)
        first[snapped->pieces[i].line + 1]++;
    for (uint32_t i = 0; i < line_count; i++)
        first[i + 1] += first[i];
    return first;
}

static size_t count_all(const struct edge_set *set, const size_t *first_piece)
{
    size_t total = 0;
    for (uint32_t i = 0; i < set->count; i++)
        total += (first_piece[i + 1] - first_piece[i]) *
                 (set->first_source[i + 1] - set->first_source[i]);
    return total;
}

static enum mesh_status expand(const struct cdt_edge *edges, const struct edge_set *set,
                               const struct snapped *snapped, struct snap_result *out)
{
    size_t *first = index_pieces(snapped, set->count);
    out->pieces = first ? mesh_alloc(count_all(set, first), sizeof *out->pieces) : NULL;
    for (uint32_t i = 0; out->pieces && i < set->count; i++)
        for (uint32_t s = set->first_source[i]; s < set->first_source[i + 1]; s++) {
            uint32_t source = set->sources[s];
            size_t count = first[i + 1] - first[i];
            bool is_reversed = compare_pt(edges[source].a, edges[source].b) > 0;
            copy_chain(snapped, first[i], count, is_reversed, source,
                       out->pieces + out->piece_count);
            out->piece_count += count;
        }
    free(first);
    return out->pieces ? MESH_OK : MESH_NO_MEMORY;
}

enum mesh_status snap_round(const struct cdt_edge *edges, size_t edge_count,
                            struct snap_result *out)
{
    *out = (struct snap_result){0};
    const struct edge_view view = {edges, sizeof *edges, edge_count};
    struct edge_set set;
    struct snapped snapped = {0};
    for (size_t i = 0; i < edge_count; i++)
        if (!is_mesh_pt(edges[i].a) || !is_mesh_pt(edges[i].b))
            return MESH_TOO_LARGE;
    enum mesh_status status = edge_set_build(&view, &set);
    if (status == MESH_OK)
        status = snap_lines(&set, &snapped);
    if (status == MESH_OK)
        status = expand(edges, &set, &snapped, out);
    out->crossing_count = snapped.crossing_count;
    snapped_free(&snapped);
    edge_set_free(&set);
    return status;
}
