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

struct grid_walk grid_walk_start(const struct grid *grid, struct pt a, struct pt b)
{
    struct grid_walk walk = {.grid = grid, .a = a, .b = b};
    walk.column = grid_column(grid, (int64_t)a.x - GRID_PAD_NM) - 1U; /* next steps onto it */
    walk.last_column = grid_column(grid, (int64_t)b.x + GRID_PAD_NM);
    return walk;
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

static void rows_of_column(struct grid_walk *walk)
{
    const struct grid *grid = walk->grid;
    double from = walk->a.y, to = walk->b.y;
    if (walk->b.x > walk->a.x) {
        double left = (double)grid->box.min_x + ldexp(walk->column, (int)grid->shift);
        if (walk->column > 0)
            from = y_at(walk, left - GRID_PAD_NM);
        if (walk->column + 1 < grid->columns)
            to = y_at(walk, left + ldexp(1, (int)grid->shift) + GRID_PAD_NM);
    }
    double low = from < to ? from : to, high = from < to ? to : from;
    walk->row_from = grid_row(grid, (int64_t)floor(low) - GRID_PAD_NM);
    walk->row_to = grid_row(grid, (int64_t)ceil(high) + GRID_PAD_NM);
}

bool grid_walk_next(struct grid_walk *walk)
{
    walk->column++;
    if (walk->column > walk->last_column)
        return false;
    rows_of_column(walk);
    return true;
}
