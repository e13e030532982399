/* A grid of square cells over a layer; what lies outside belongs to its border cells. */
#ifndef GEOMETRY_GRID_H
#define GEOMETRY_GRID_H

#include "geometry/internal.h"

/* A cell also takes what passes this near, so that pixels on either side are found. */
#define GRID_PAD_NM 2

struct grid {
    struct box box;
    unsigned shift; /* cells are 2^shift nm wide */
    uint32_t columns, rows;
};

static inline uint32_t grid_index(int64_t at, int32_t from, unsigned shift, uint32_t count)
{
    int64_t index = (at - from) >> shift;
    return index < 0 ? 0 : index >= count ? count - 1 : (uint32_t)index;
}
static inline uint32_t grid_column(const struct grid *grid, int64_t x)
{
    return grid_index(x, grid->box.min_x, grid->shift, grid->columns);
}
static inline uint32_t grid_row(const struct grid *grid, int64_t y)
{
    return grid_index(y, grid->box.min_y, grid->shift, grid->rows);
}
static inline uint32_t grid_cell(const struct grid *grid, struct pt at)
{
    return grid_row(grid, at.y) * grid->columns + grid_column(grid, at.x);
}

/* Cells for so many edges of so much total length |dx| + |dy|. */
struct grid grid_choose(struct box box, size_t edge_count, double total_length_nm);

/* An edge's way through the grid, column by column. a is left of b (or below it). */
struct grid_walk {
    const struct grid *grid;
    struct pt a, b;
    bool is_single; /* it stays in one column, as most do */
    uint32_t column, last_column;
    uint32_t row_from, row_to; /* of the current column, inclusive */
};
static inline struct grid_walk grid_walk_start(const struct grid *grid, struct pt a, struct pt b)
{
    struct grid_walk walk = {.grid = grid, .a = a, .b = b};
    uint32_t first = grid_column(grid, (int64_t)a.x - GRID_PAD_NM);
    walk.last_column = grid_column(grid, (int64_t)b.x + GRID_PAD_NM);
    walk.is_single = first == walk.last_column;
    walk.column = first - 1U; /* next steps onto it */
    return walk;
}
void grid_rows_of_column(struct grid_walk *walk); /* when there are several columns */

/* Steps to the next column that the edge passes; false behind the last. */
static inline bool grid_walk_next(struct grid_walk *walk)
{
    const struct grid *grid = walk->grid;
    if (++walk->column > walk->last_column)
        return false;
    if (!walk->is_single) {
        grid_rows_of_column(walk);
        return true;
    }
    int64_t low = walk->a.y < walk->b.y ? walk->a.y : walk->b.y;
    int64_t high = walk->a.y < walk->b.y ? walk->b.y : walk->a.y;
    walk->row_from = grid_row(grid, low - GRID_PAD_NM);
    walk->row_to = grid_row(grid, high + GRID_PAD_NM);
    return true;
}

#endif
