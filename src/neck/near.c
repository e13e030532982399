/* A raster of what is near a cut. */
#include "neck/near.h"

#include <math.h>

#define CELLS_A_REACH 4.0
#define MOST_CELLS_A_SIDE 1024.0

static double distance_nm(const struct neck_piece *piece, double x, double y)
{
    double dx = (double)piece->b.x - piece->a.x, dy = (double)piece->b.y - piece->a.y;
    double length2 = dx * dx + dy * dy;
    double t = length2 > 0 ? ((x - piece->a.x) * dx + (y - piece->a.y) * dy) / length2 : 0;
    t = fmin(1, fmax(0, t));
    return hypot(x - piece->a.x - t * dx, y - piece->a.y - t * dy);
}

/* The cells that a box reaches into, at least one each way. */
struct cells {
    uint32_t left, right, low, high;
};

static uint32_t cell_at(double from, double at, double cell_nm, uint32_t count)
{
    double cell = floor((at - from) / cell_nm);
    return cell < 0 ? 0 : cell >= count ? count - 1 : (uint32_t)cell;
}

static struct cells cells_of(const struct near *near, double left, double right, double low,
                             double high)
{
    return (struct cells){cell_at(near->x0, left, near->cell_nm, near->columns),
                          cell_at(near->x0, right, near->cell_nm, near->columns),
                          cell_at(near->y0, low, near->cell_nm, near->rows),
                          cell_at(near->y0, high, near->cell_nm, near->rows)};
}

static bool *cell(const struct near *near, uint32_t column, uint32_t row)
{
    return &near->is_near[(size_t)row * near->columns + column];
}

static void mark_near(struct near *near, const struct neck_piece *piece, double reach_nm)
{
    struct cells box = cells_of(
        near, fmin(piece->a.x, piece->b.x) - reach_nm, fmax(piece->a.x, piece->b.x) + reach_nm,
        fmin(piece->a.y, piece->b.y) - reach_nm, fmax(piece->a.y, piece->b.y) + reach_nm);
    for (uint32_t r = box.low; r <= box.high; r++)
        for (uint32_t c = box.left; c <= box.right; c++)
            *cell(near, c, r) |= distance_nm(piece, near->x0 + (c + 0.5) * near->cell_nm,
                                             near->y0 + (r + 0.5) * near->cell_nm) <= reach_nm;
}

bool near_new(const struct neck_place *about, double reach_nm, struct arena *arena,
              struct near *near)
{
    double left = INFINITY, right = -INFINITY, low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < about->piece_count; i++) {
        const struct neck_piece *piece = &about->pieces[i];
        left = fmin(left, fmin(piece->a.x, piece->b.x));
        right = fmax(right, fmax(piece->a.x, piece->b.x));
        low = fmin(low, fmin(piece->a.y, piece->b.y));
        high = fmax(high, fmax(piece->a.y, piece->b.y));
    }
    double width = fmax(0, right - left) + 2 * reach_nm;
    double height = fmax(0, high - low) + 2 * reach_nm;
    near->x0 = left - reach_nm;
    near->y0 = low - reach_nm;
    near->cell_nm = fmax(reach_nm / CELLS_A_REACH, fmax(width, height) / MOST_CELLS_A_SIDE);
    near->columns = (uint32_t)ceil(width / near->cell_nm) + 1;
    near->rows = (uint32_t)ceil(height / near->cell_nm) + 1;
    near->is_near = arena_alloc(arena, (size_t)near->columns * near->rows, sizeof *near->is_near);
    for (size_t i = 0; near->is_near && i < about->piece_count; i++)
        mark_near(near, &about->pieces[i], reach_nm);
    return near->is_near != NULL;
}

/* Does all of a cell lie to the right of the side from a to b, where the triangle is not? */
static bool is_beyond(const struct near *near, struct pt a, struct pt b, uint32_t c, uint32_t r)
{
    double nx = (double)a.y - b.y, ny = (double)b.x - a.x; /* into the triangle */
    double x = near->x0 + (c + (nx > 0 ? 1.0 : 0.0)) * near->cell_nm - a.x;
    double y = near->y0 + (r + (ny > 0 ? 1.0 : 0.0)) * near->cell_nm - a.y;
    return nx * x + ny * y < 0;
}

bool near_meets(const struct near *near, const struct cdt *mesh, uint32_t tri)
{
    struct pt p = mesh->points[mesh->corner[tri][0]], q = mesh->points[mesh->corner[tri][1]];
    struct pt o = mesh->points[mesh->corner[tri][2]];
    double left = fmin(p.x, fmin(q.x, o.x)), right = fmax(p.x, fmax(q.x, o.x));
    double low = fmin(p.y, fmin(q.y, o.y)), high = fmax(p.y, fmax(q.y, o.y));
    if (right < near->x0 || left > near->x0 + near->columns * near->cell_nm || high < near->y0 ||
        low > near->y0 + near->rows * near->cell_nm)
        return false;
    struct cells box = cells_of(near, left, right, low, high);
    for (uint32_t r = box.low; r <= box.high; r++)
        for (uint32_t c = box.left; c <= box.right; c++)
            if (*cell(near, c, r) && !is_beyond(near, p, q, c, r) && !is_beyond(near, q, o, c, r) &&
                !is_beyond(near, o, p, c, r))
                return true;
    return false;
}
