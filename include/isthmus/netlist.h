/* Named points of a board, as a bare-board test netlist (IPC-D-356, -356A) states them. */
#ifndef ISTHMUS_NETLIST_H
#define ISTHMUS_NETLIST_H

#include "isthmus/holes.h"

enum point_kind { POINT_THROUGH_HOLE, POINT_SURFACE, POINT_TOOLING };
struct netlist_point {
    const char *net; /* alias resolved; NULL for "N/C" and the like */
    const char *net_as_written;
    const char *ref, *pin;   /* NULL for a via or unnamed */
    bool is_via, is_mid_net; /* ref is the word VIA; M in column 32 */
    bool is_within;          /* a via that reaches neither side: no copper but its hole's counts */
    bool may_be_cut;         /* the name fills its columns, and the netlist has no aliases */
    bool is_continuation;    /* a further place of the record before */
    enum point_kind kind;
    struct pos_nm at_nm;
    int64_t hole_nm; /* 0 = none stated */
    enum plating plating;
    uint8_t access; /* 0 both sides, 1 first layer, 2.. as stated, as in columns 39-41 */
    int64_t width_nm, height_nm; /* feature size; height 0: round */
    uint16_t rotation_deg;
    uint8_t mask; /* soldermask column, as stated */
    struct source_pos at;
    uint32_t clash_line; /* a record that gives the same place another name, 0: none */
    const char *clash_net;
};
struct netlist {
    struct netlist_point *points;
    size_t point_count;
    const char *units; /* for the report */
    bool has_units;    /* false: 0.0001 in was assumed */
    bool is_metric;    /* 0.001 mm */
    const char *job;
    uint32_t file_id;
    bool are_names_cut; /* no aliases, and names that fill all 14 columns */
};
enum netlist_status { NETLIST_OK = 0, NETLIST_REFUSED, NETLIST_NOT_ONE, NETLIST_NO_MEMORY };
enum netlist_status ipc356_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                struct arena *arena, struct diag_list *diags, struct netlist *out);
bool ipc356_looks_like(const uint8_t *bytes, size_t size);

#endif
