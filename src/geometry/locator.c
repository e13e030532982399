/*
 * Points in a triangulation: a grid names a triangle near each cell, then a walk. As constraints
 * spoil the Delaunay order in which a plain walk cannot circle, each step tries the edges in an
 * order drawn at random (Devillers, Pion, Teillaud 2002).
 */
#include "geometry/internal.h"

#include <math.h>
#include <stdlib.h>

struct locator {
    const struct cdt *mesh;
    struct box box;
    double cells_per_nm;
    uint32_t columns, rows;
    uint32_t *start; /* per cell */
};

static uint32_t cell_along(int32_t at, int32_t from, double cells_per_nm, uint32_t count)
{
    double cell = ((double)at - from) * cells_per_nm;
    return cell < 0 ? 0 : cell >= count ? count - 1 : (uint32_t)cell;
}

static uint32_t cell_of_pt(const struct locator *locator, struct pt at)
{
    uint32_t column = cell_along(at.x, locator->box.min_x, locator->cells_per_nm, locator->columns);
    uint32_t row = cell_along(at.y, locator->box.min_y, locator->cells_per_nm, locator->rows);
    return row * locator->columns + column;
}

static void choose_cells(struct locator *locator)
{
    const struct box *box = &locator->box;
    double width = (double)box->max_x - box->min_x + 1,
           height = (double)box->max_y - box->min_y + 1;
    double cells = locator->mesh->tri_count / 4.0 + 1;
    locator->cells_per_nm = sqrt(cells / (width * height));
    if (locator->cells_per_nm * width > cells) /* all but a line */
        locator->cells_per_nm = cells / width;
    if (locator->cells_per_nm * height > cells)
        locator->cells_per_nm = cells / height;
    locator->columns = (uint32_t)(width * locator->cells_per_nm) + 1;
    locator->rows = (uint32_t)(height * locator->cells_per_nm) + 1;
}

static void fill_cells(struct locator *locator)
{
    const struct cdt *mesh = locator->mesh;
    size_t count = (size_t)locator->columns * locator->rows;
    for (size_t i = 0; i < count; i++)
        locator->start[i] = ISTHMUS_NONE;
    for (uint32_t tri = 0; tri < mesh->tri_count; tri++)
        locator->start[cell_of_pt(locator, mesh->points[mesh->corner[tri][0]])] = tri;
    uint32_t before = 0;
    for (size_t i = 0; i < count; i++) {
        if (locator->start[i] == ISTHMUS_NONE)
            locator->start[i] = before;
        before = locator->start[i];
    }
}

struct locator *locator_new(const struct cdt *mesh)
{
    struct locator *locator = mesh_calloc(1, sizeof *locator);
    if (!locator)
        return NULL;
    locator->mesh = mesh;
    locator->box = box_of_points(mesh->points, mesh->point_count);
    choose_cells(locator);
    locator->start = mesh_alloc((size_t)locator->columns * locator->rows, sizeof(uint32_t));
    if (!locator->start) {
        free(locator);
        return NULL;
    }
    fill_cells(locator);
    return locator;
}

void locator_free(struct locator *locator)
{
    if (!locator)
        return;
    free(locator->start);
    free(locator);
}

static bool is_beyond(const struct cdt *mesh, uint32_t tri, unsigned edge, struct pt at)
{
    const uint32_t *corner = mesh->corner[tri];
    return cross(mesh->points[corner[next3(edge)]], mesh->points[corner[prev3(edge)]], at) < 0;
}

uint32_t locator_find(const struct locator *locator, struct pt at)
{
    const struct cdt *mesh = locator->mesh;
    if (mesh->tri_count == 0)
        return ISTHMUS_NONE;
    uint32_t tri = locator->start[cell_of_pt(locator, at)];
    uint32_t dice = 2463534242U;
    for (;;) {
        dice ^= dice << 13;
        dice ^= dice >> 17;
        dice ^= dice << 5;
        unsigned edge = dice % 3, tests = 3;
        for (; tests > 0 && !is_beyond(mesh, tri, edge, at); tests--)
            edge = next3(edge);
        if (tests == 0)
            return tri;
        tri = mesh->neighbour[tri][edge];
        if (tri == ISTHMUS_NONE)
            return ISTHMUS_NONE;
    }
}
