/* Points by place: square cells in a hash, each a chain of items. */
#include "build.h"

#include <stdlib.h>

struct grid_item {
    struct pos_nm at;
    uint32_t item, next;
};
struct grid {
    int64_t cell_nm;
    uint32_t *heads, *tails;
    uint64_t mask;
    struct grid_item *items;
    size_t count, capacity;
};

static int64_t cell_of(const struct grid *grid, int64_t at_nm)
{
    int64_t cell = at_nm / grid->cell_nm;
    return at_nm % grid->cell_nm < 0 ? cell - 1 : cell;
}

static uint64_t bucket_of(const struct grid *grid, int64_t x, int64_t y)
{
    uint64_t hash =
        (uint64_t)x * UINT64_C(0x9E3779B97F4A7C15) ^ (uint64_t)y * UINT64_C(0xC2B2AE3D27D4EB4F);
    return (hash ^ hash >> 29) & grid->mask;
}

/* About one item a cell, but never finer than what is looked for (a fifth of a millimetre). */
static int64_t cell_size_nm(struct box extent, size_t count)
{
    int64_t cell = 1000000;
    if (!box_is_empty(extent)) {
        struct pos_nm size = box_size(extent);
        int64_t longer = size.x_nm > size.y_nm ? size.x_nm : size.y_nm;
        int64_t side = 1;
        while (side * side < (int64_t)count)
            side++;
        cell = longer / side + 1;
    }
    return cell < 200000 ? 200000 : cell;
}

struct grid *grid_new(struct box extent, size_t expected_count)
{
    struct grid *grid = calloc(1, sizeof *grid);
    if (!grid)
        return NULL;
    grid->cell_nm = cell_size_nm(extent, expected_count);
    size_t buckets = 64;
    while (buckets < expected_count && buckets < (size_t)1 << 22)
        buckets *= 2;
    grid->mask = buckets - 1;
    grid->heads = malloc(buckets * sizeof *grid->heads);
    grid->tails = malloc(buckets * sizeof *grid->tails);
    if (!grid->heads || !grid->tails) {
        grid_free(grid);
        return NULL;
    }
    for (size_t i = 0; i < buckets; i++)
        grid->heads[i] = grid->tails[i] = ISTHMUS_NONE;
    return grid;
}

void grid_free(struct grid *grid)
{
    if (!grid)
        return;
    free(grid->heads);
    free(grid->tails);
    free(grid->items);
    free(grid);
}

bool grid_add(struct grid *grid, struct pos_nm at, uint32_t item)
{
    if (grid->count >= ISTHMUS_NONE - 1 ||
        !array_grow(&grid->items, sizeof *grid->items, &grid->capacity, grid->count + 1))
        return false;
    uint64_t bucket = bucket_of(grid, cell_of(grid, at.x_nm), cell_of(grid, at.y_nm));
    uint32_t index = (uint32_t)grid->count++;
    grid->items[index] = (struct grid_item){.at = at, .item = item, .next = ISTHMUS_NONE};
    if (grid->tails[bucket] == ISTHMUS_NONE)
        grid->heads[bucket] = index;
    else
        grid->items[grid->tails[bucket]].next = index;
    grid->tails[bucket] = index;
    return true;
}

static bool is_near(struct pos_nm a, struct pos_nm b, int64_t reach_nm)
{
    return llabs(a.x_nm - b.x_nm) <= reach_nm && llabs(a.y_nm - b.y_nm) <= reach_nm;
}

/* First item at or behind `index` in its chain that lies in this very cell and near enough. */
static uint32_t chain_next(const struct grid *grid, uint32_t index, struct pos_nm at,
                           int64_t reach_nm, int64_t x, int64_t y)
{
    for (; index != ISTHMUS_NONE; index = grid->items[index].next) {
        struct pos_nm place = grid->items[index].at;
        if (cell_of(grid, place.x_nm) == x && cell_of(grid, place.y_nm) == y &&
            is_near(place, at, reach_nm))
            return index;
    }
    return ISTHMUS_NONE;
}

/* The cursor packs the cell's number within the square (plus 1) and the item found last. */
uint32_t grid_next(const struct grid *grid, struct pos_nm at, int64_t reach_nm, uint64_t *cursor)
{
    int64_t x0 = cell_of(grid, at.x_nm - reach_nm), x1 = cell_of(grid, at.x_nm + reach_nm);
    int64_t y0 = cell_of(grid, at.y_nm - reach_nm), y1 = cell_of(grid, at.y_nm + reach_nm);
    int64_t columns = x1 - x0 + 1, cells = columns * (y1 - y0 + 1);
    int64_t cell = *cursor ? (int64_t)(*cursor >> 32) - 1 : 0;
    bool is_inside_chain = *cursor != 0;
    uint32_t last = (uint32_t)*cursor;
    for (; cell < cells; cell++, is_inside_chain = false) {
        int64_t x = x0 + cell % columns, y = y0 + cell / columns;
        uint32_t start =
            is_inside_chain ? grid->items[last].next : grid->heads[bucket_of(grid, x, y)];
        uint32_t found = chain_next(grid, start, at, reach_nm, x, y);
        if (found != ISTHMUS_NONE) {
            *cursor = (uint64_t)(cell + 1) << 32 | found;
            return grid->items[found].item;
        }
    }
    return ISTHMUS_NONE;
}
