/* From the lines and arcs of the profile drawing to closed loops. Private to src/board. */
#ifndef ISTHMUS_BOARD_PROFILE_LINES_H
#define ISTHMUS_BOARD_PROFILE_LINES_H

#include "build.h"

/* One line or arc of the edge: the centre line of a stroke, or a bridge over a small gap. */
struct edge_line {
    struct pos_nm from, to;
    int8_t turn;
    double centre_x_nm, centre_y_nm;
    uint32_t node_from, node_to;
    struct source_pos at;
    bool is_dropped;
};
struct edge_lines {
    struct edge_line *items;
    size_t count, capacity;
    struct pos_nm *nodes;
    size_t node_count, node_capacity;
};
/* A closed run of lines: half-edges 2 x line (+ 1: walked from its end to its start). */
struct edge_run {
    uint32_t *half_edges;
    size_t count;
};
struct edge_runs {
    struct edge_run *items;
    size_t count, capacity;
};

/* Ends that meet become one node; small gaps are bridged; loose ends are dropped, with a warning.
 */
bool lines_join(struct edge_lines *lines, struct diag_list *diags);
/* Every face the lines enclose, counterclockwise. */
bool lines_trace(const struct edge_lines *lines, struct arena *arena, struct edge_runs *runs);

/* Signed area under a walk along the line or arc (Green's theorem), and its polygon. */
double seg_area_nm2(struct pos_nm from, const struct seg *seg);

bool is_same_loop(const struct loop *a, const struct loop *b);
/* The loops of all profile drawings into build.profile. */
bool profile_collect(struct build *build);
/* The edge of a board whose copper layers all draw the same thin loop round everything. */
bool profile_from_copper(struct build *build, bool *is_found);

#endif
