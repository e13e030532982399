/* The grid on which crossings and hot pixels are looked up. */
#include "geometry/grid.h"

#include <math.h>
#include <stdlib.h>

static bool is_fine_enough(const struct grid *grid, size_t edge_count, double total_length_nm)
{
    double cell = ldexp(1, (int)grid->shift);
    double width = (double)grid->box.max_x - grid->box.min_x;
    double height = (double)grid->box.max_y - grid->box.min_y;
    double cells = (width / cell + 1) * (height / cell + 1);
    return cells <= 2.0 * (double)edge_count + 16 &&
           total_length_nm / cell <= 2.0 * (double)edge_count + 16;
}

struct grid grid_choose(struct box box, size_t edge_count, double total_length_nm)
{
    struct grid grid = {.box = box, .shift = 3};
    while (!is_fine_enough(&grid, edge_count, total_length_nm))
        grid.shift++;
    grid.columns = (uint32_t)(((int64_t)box.max_x - box.min_x) >> grid.shift) + 1;
    grid.rows = (uint32_t)(((int64_t)box.max_y - box.min_y) >> grid.shift) + 1;
    return grid;
}

/* The edge's y where it is nearest to x; doubles are exact to far below the pad. */
static double y_at(const struct grid_walk *walk, double x)
{
    double run = (double)walk->b.x - walk->a.x, along = x - walk->a.x;
    if (along <= 0 || run == 0)
        return walk->a.y;
    if (along >= run)
        return walk->b.y;
    return walk->a.y + ((double)walk->b.y - walk->a.y) * (along / run);
}

void grid_rows_of_column(struct grid_walk *walk)
{
    const struct grid *grid = walk->grid;
    double from = walk->a.y, to = walk->b.y;
    double left = (double)(grid->box.min_x + ((int64_t)walk->column << grid->shift) - GRID_PAD_NM);
    double width = (double)((INT64_C(1) << grid->shift) + INT64_C(2) * GRID_PAD_NM);
    bool is_upright = walk->a.x == walk->b.x; /* then every column takes all of it */
    if (walk->column > 0 && !is_upright)
        from = y_at(walk, left);
    if (walk->column + 1 < grid->columns && !is_upright)
        to = y_at(walk, left + width);
    double low = from < to ? from : to, high = from < to ? to : from;
    walk->row_from = grid_row(grid, (int64_t)low - GRID_PAD_NM - 1);
    walk->row_to = grid_row(grid, (int64_t)high + GRID_PAD_NM + 1);
}
