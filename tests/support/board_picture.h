/*
 * A real board's copper as a picture in cells, with planted changes, and least cuts of it. Drawn by
 * raster.h; of the board that was read it takes the drawings, the holes and the outlines of pads.
 * Shares nothing with the meshes and the searches that it judges.
 *
 * Least cuts are maximum flows (Dinic 1970) over the cells, joined in 32 directions as in
 * cell_flow.h. To keep that small, cells over which the centre of a disc as wide as the limit can
 * be pushed are one node: a line that parts such a disc in halves is no shorter than the disc is
 * wide, so no cut below the limit has them on different sides (pads that cuts may close round left
 * out).
 */
#ifndef TEST_BOARD_PICTURE_H
#define TEST_BOARD_PICTURE_H

#include "isthmus/board.h"

enum { PICTURE_LAYERS = 6, PICTURE_BARE = 0, PICTURE_COPPER = 1, PICTURE_HOLE = 2 };

/* A straight way of some width that becomes bare, or copper; ends round or square (flush). */
struct picture_change {
    uint16_t layer; /* 0: all */
    struct pos_nm from, to;
    double width_nm;
    bool is_square, is_copper;
};
struct picture_changes {
    struct picture_change items[6];
    size_t count;
    uint16_t gone_layer; /* 0: none; else an object of this layer's drawing is not drawn */
    uint32_t gone_object;
};
struct picture_hole {
    struct pos_nm from, to;
    double cut_nm, wall_mm2;       /* weighted; 0: not plated */
    uint16_t layer_from, layer_to; /* 1..n */
    uint32_t board_hole;           /* or ISTHMUS_NONE: planted */
};
struct picture {
    int width, height;
    size_t layer_count;
    double x_nm, y_nm, cell_nm;
    double mm2_per_mm[PICTURE_LAYERS];
    uint32_t *what[PICTURE_LAYERS]; /* PICTURE_HOLE + h: within plated hole h */
    uint8_t *mark[PICTURE_LAYERS];  /* 1 + terminal, 0: none */
    struct picture_hole *holes;     /* the caller's */
    uint8_t *hole_mark;
    size_t hole_count;
};

/* Weighted wall area of a plated hole of this finished diameter (DESIGN section 4). */
double picture_wall_mm2(double finished_nm);
/* All of the board's holes, with room for `more`. */
struct picture_hole *picture_holes(const struct board *board, size_t more, size_t *out_count);
void picture_draw(struct picture *picture, const struct board *board, struct pos_nm min,
                  struct pos_nm max, double cell_nm, const struct picture_changes *changes,
                  struct picture_hole *holes, size_t hole_count);
void picture_free(struct picture *picture);
/* The copper of a board's contact becomes part of a terminal (0..). How many cells and holes. */
size_t picture_mark(struct picture *picture, const struct board *board, uint32_t contact,
                    uint8_t terminal);
long picture_cell(const struct picture *picture, struct pos_nm at); /* -1: outside */
/* Makes cells and a hole bare: a piece of a cut. */
void picture_sever(struct picture *picture, uint16_t layer, struct pos_nm from, struct pos_nm to,
                   double width_nm);
/* Marks everything that hangs together with a terminal; out[l][cell] and out_holes[h] get 1. */
void picture_flood(const struct picture *picture, uint8_t terminal, uint8_t *out[PICTURE_LAYERS],
                   uint8_t *out_holes);

struct picture_graph;
/* limit_mm2: cuts above it need not be right. NULL: more than max_nodes nodes. */
struct picture_graph *picture_graph_new(const struct picture *picture, uint8_t terminal,
                                        double limit_mm2, size_t max_nodes);
void picture_graph_free(struct picture_graph *graph);
/* Least cut between two terminals, all others being copper; INFINITY: above the limit, or the
 * graph's. */
double picture_least_cut(struct picture_graph *graph, uint8_t a, uint8_t b, double limit_mm2);

#endif
