/*
 * Least cuts of copper by maximum flow over a picture of it: cells, joined with their neighbours in
 * 16 directions, every joint worth what makes the sum over the joints that a line severs its length
 * (Boykov and Kolmogorov 2003, "Computing geodesics and minimal surfaces via graph cuts": the
 * Cauchy-Crofton formula on a grid). The flow itself is igraph's. Shares nothing with the meshes.
 */
#ifndef TEST_CELL_FLOW_H
#define TEST_CELL_FLOW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CELL_LAYERS 3
/* Straight lines of all directions count within this part of their length. */
#define CELL_METRIC_ERROR 0.0065

enum { CELL_BARE = 0, CELL_COPPER = 1, CELL_HOLE = 2 }; /* CELL_HOLE + h: within hole h */

struct cell_joint { /* b: a cell, or node cells_hole_node(h) */
    uint32_t a, b;
    double area_mm2;
};
/*
 * Nodes: cells, layer by layer and row by row; then two a plated hole, where current comes into its
 * wall and where it goes out.
 */
struct cells {
    int width, height;
    size_t layer_count, hole_count;
    double cell_mm;
    double mm2_per_mm[CELL_LAYERS]; /* weighted thickness */
    uint32_t *what[CELL_LAYERS];    /* per cell */
    double *wall_mm2;               /* per hole, weighted */
    struct cell_joint *joints;
    size_t joint_count, joint_capacity;
};

void cells_init(struct cells *cells, int width, int height, size_t layer_count, size_t hole_count);
void cells_free(struct cells *cells);
uint32_t cells_node_count(const struct cells *cells);
uint32_t cells_hole_node(const struct cells *cells, size_t hole);

/*
 * Least cut between the nodes whose side is 1 and those whose side is 2; 0: free.
 *
 * out_side  NULL or per node: the side it lies on in a least cut. A hole with its two nodes on
 *           different sides is cut through
 */
double cells_least_cut(struct cells *cells, const uint8_t *side, uint8_t *out_side);

#endif
