#include "cell_flow.h"

#include "assertions.h"
#include "isthmus/base.h"

#include <igraph/igraph.h>
#include <math.h>

/* Half of the neighbours (the other half is opposite), each with its worth for a line of one cell.
 * The worths minimise the largest error over all directions: cells are the same distance apart both
 * ways, so that five numbers do. */
#define STRAIGHT 0.161162
#define FLAT_3_1 0.037376
#define FLAT_2_1 0.029945
#define FLAT_3_2 0.022103
#define DIAGONAL 0.066316
static const struct step {
    int x, y;
    double worth;
} steps[] = {
    {1, 0, STRAIGHT},  {3, 1, FLAT_3_1},  {2, 1, FLAT_2_1},  {3, 2, FLAT_3_2},
    {1, 1, DIAGONAL},  {2, 3, FLAT_3_2},  {1, 2, FLAT_2_1},  {1, 3, FLAT_3_1},
    {0, 1, STRAIGHT},  {-1, 3, FLAT_3_1}, {-1, 2, FLAT_2_1}, {-2, 3, FLAT_3_2},
    {-1, 1, DIAGONAL}, {-3, 2, FLAT_3_2}, {-2, 1, FLAT_2_1}, {-3, 1, FLAT_3_1},
};
enum { STEP_COUNT = sizeof steps / sizeof *steps };
/* Places looked at along a step; none is half-way between two cells. */
#define LOOKS 12

void cells_init(struct cells *cells, int width, int height, size_t layer_count, size_t hole_count)
{
    assert_true(layer_count <= CELL_LAYERS);
    *cells = (struct cells){
        .width = width, .height = height, .layer_count = layer_count, .hole_count = hole_count};
    for (size_t l = 0; l < layer_count; l++) {
        cells->what[l] = calloc((size_t)width * (size_t)height, sizeof *cells->what[l]);
        assert_non_null(cells->what[l]);
    }
    cells->wall_mm2 = calloc(hole_count + 1, sizeof *cells->wall_mm2);
    assert_non_null(cells->wall_mm2);
}

void cells_free(struct cells *cells)
{
    for (size_t l = 0; l < cells->layer_count; l++)
        free(cells->what[l]);
    free(cells->wall_mm2);
    free(cells->joints);
}

static uint32_t layer_base(const struct cells *cells, size_t layer)
{
    return (uint32_t)layer * (uint32_t)(cells->width * cells->height);
}

uint32_t cells_hole_node(const struct cells *cells, size_t hole)
{
    return layer_base(cells, cells->layer_count) + 2 * (uint32_t)hole;
}

uint32_t cells_node_count(const struct cells *cells)
{
    return cells_hole_node(cells, cells->hole_count);
}

static uint32_t what_at(const struct cells *cells, size_t layer, int x, int y)
{
    if (x < 0 || y < 0 || x >= cells->width || y >= cells->height)
        return CELL_BARE;
    return cells->what[layer][y * cells->width + x];
}

static void add_joint(struct cells *cells, uint32_t a, uint32_t b, double area_mm2)
{
    if (a == b)
        return;
    assert_true(array_grow(&cells->joints, sizeof *cells->joints, &cells->joint_capacity,
                           cells->joint_count + 1));
    cells->joints[cells->joint_count++] = (struct cell_joint){a, b, area_mm2};
}

static uint32_t cell_node(const struct cells *cells, size_t layer, int x, int y)
{
    return layer_base(cells, layer) + (uint32_t)(y * cells->width + x);
}

/*
 * One step from a cell, forwards (way 1) or backwards (-1). Where it leaves the copper the line
 * still ends at the last cell within, or in the hole that it meets; where it only passes through
 * what is held on one side, it ends there: else copper near edges and corners would count for less.
 */
static void join_along(struct cells *cells, size_t layer, int x, int y, const struct step *step,
                       int way, const uint8_t *side)
{
    uint32_t from = cell_node(cells, layer, x, y), last = from, held = from;
    double area_mm2 = step->worth * cells->cell_mm * cells->mm2_per_mm[layer];
    for (int i = 0; i <= LOOKS; i++) {
        double part = i < LOOKS ? (i + 0.5) / LOOKS : 1;
        int at_x = x + way * (int)lround(part * step->x);
        int at_y = y + way * (int)lround(part * step->y);
        uint32_t what = what_at(cells, layer, at_x, at_y);
        if (what >= CELL_HOLE)
            last = cells_hole_node(cells, what - CELL_HOLE);
        if (what != CELL_COPPER) {
            add_joint(cells, from, held != from ? held : last, area_mm2);
            return;
        }
        last = cell_node(cells, layer, at_x, at_y);
        if (held == from && side[last] != side[from])
            held = last;
    }
    if (held != from && side[last] == side[from])
        add_joint(cells, from, held, area_mm2);
    else if (way > 0)
        add_joint(cells, from, last, area_mm2);
}

static void join_cells(struct cells *cells, const uint8_t *side)
{
    cells->joint_count = 0;
    for (size_t l = 0; l < cells->layer_count; l++)
        for (int y = 0; y < cells->height; y++)
            for (int x = 0; x < cells->width; x++)
                for (size_t s = 0; s < STEP_COUNT; s++) {
                    if (what_at(cells, l, x, y) != CELL_COPPER)
                        break;
                    join_along(cells, l, x, y, &steps[s], 1, side);
                    join_along(cells, l, x, y, &steps[s], -1, side);
                }
}

/* ---- the flow ---- */

struct arcs {
    igraph_vector_int_t ends;
    igraph_vector_t areas;
    const uint8_t *side;
    igraph_integer_t source, sink;
};

static igraph_integer_t node_of(const struct arcs *arcs, uint32_t node)
{
    return arcs->side[node] == 1   ? arcs->source
           : arcs->side[node] == 2 ? arcs->sink
                                   : (igraph_integer_t)node;
}

static void add_arc(struct arcs *arcs, uint32_t from, uint32_t to, double area_mm2)
{
    igraph_integer_t a = node_of(arcs, from), b = node_of(arcs, to);
    if (a == b)
        return;
    assert_int_equal(igraph_vector_int_push_back(&arcs->ends, a), IGRAPH_SUCCESS);
    assert_int_equal(igraph_vector_int_push_back(&arcs->ends, b), IGRAPH_SUCCESS);
    assert_int_equal(igraph_vector_push_back(&arcs->areas, area_mm2), IGRAPH_SUCCESS);
}

static void fill_arcs(const struct cells *cells, struct arcs *arcs)
{
    uint32_t holes = cells_hole_node(cells, 0);
    for (size_t i = 0; i < cells->joint_count; i++) {
        const struct cell_joint *joint = &cells->joints[i];
        add_arc(arcs, joint->a, joint->b, joint->area_mm2);
        add_arc(arcs, joint->b >= holes ? joint->b + 1 : joint->b, joint->a, joint->area_mm2);
    }
    for (size_t h = 0; h < cells->hole_count; h++)
        add_arc(arcs, cells_hole_node(cells, h), cells_hole_node(cells, h) + 1, cells->wall_mm2[h]);
}

static void read_sides(const struct cells *cells, const struct arcs *arcs,
                       const igraph_vector_int_t *source_side, uint8_t *out_side)
{
    uint32_t count = cells_node_count(cells);
    for (uint32_t n = 0; n < count; n++)
        out_side[n] = arcs->side[n] ? arcs->side[n] : 2;
    for (igraph_integer_t i = 0; i < igraph_vector_int_size(source_side); i++) {
        igraph_integer_t node = VECTOR(*source_side)[i];
        if (node < (igraph_integer_t)count && arcs->side[node] == 0)
            out_side[node] = 1;
    }
}

double cells_least_cut(struct cells *cells, const uint8_t *side, uint8_t *out_side)
{
    igraph_integer_t count = (igraph_integer_t)cells_node_count(cells);
    struct arcs arcs = {.side = side, .source = count, .sink = count + 1};
    igraph_vector_int_t source_side;
    igraph_t graph;
    igraph_real_t area_mm2 = 0;
    assert_int_equal(igraph_vector_int_init(&arcs.ends, 0), IGRAPH_SUCCESS);
    assert_int_equal(igraph_vector_init(&arcs.areas, 0), IGRAPH_SUCCESS);
    assert_int_equal(igraph_vector_int_init(&source_side, 0), IGRAPH_SUCCESS);
    join_cells(cells, side);
    fill_arcs(cells, &arcs);
    assert_int_equal(igraph_create(&graph, &arcs.ends, count + 2, IGRAPH_DIRECTED), IGRAPH_SUCCESS);
    assert_int_equal(igraph_maxflow(&graph, &area_mm2, NULL, NULL, out_side ? &source_side : NULL,
                                    NULL, arcs.source, arcs.sink, &arcs.areas, NULL),
                     IGRAPH_SUCCESS);
    if (out_side)
        read_sides(cells, &arcs, &source_side, out_side);
    igraph_destroy(&graph);
    igraph_vector_int_destroy(&source_side);
    igraph_vector_destroy(&arcs.areas);
    igraph_vector_int_destroy(&arcs.ends);
    return area_mm2;
}
