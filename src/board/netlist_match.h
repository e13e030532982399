/* Registration: where a netlist's origin lies in the drawings' coordinates. Private to src/board.
 */
#ifndef ISTHMUS_BOARD_NETLIST_MATCH_H
#define ISTHMUS_BOARD_NETLIST_MATCH_H

#include "isthmus/drawing.h"

/* A hole or pad of the drawings, or what a netlist says there is one. */
struct match_point {
    struct pos_nm at;
    uint32_t kind;   /* only equal kinds meet: hole with hole, pad with pad */
    int64_t size_nm; /* hole diameter; 0: any */
};

struct netlist_match {
    struct pos_nm offset; /* add to the netlist's places */
    double share;         /* of the points that then lie within 20 um of a target */
    double in_place;      /* the same without any offset */
    struct pos_nm rival;  /* the best other offset, and its share */
    double rival_share;
};

/*
 * The one offset that puts a netlist's points on holes and pads, by voting.
 *
 * points, targets  the netlist's and the drawings'; points of a kind that has no target at all do
 *                  not count
 * out              filled on every path but NETLIST_MATCH_NO_MEMORY
 * errors           NETLIST_MATCH_NONE: less than 60 % of the points lie on targets as they
 *                  are, and no offset puts 85 % of them there;
 *                  NETLIST_MATCH_AMBIGUOUS: another one does nearly as well (within 5 % of the
 *                  points), as on a board of equal rows: a wrong one would misname every net.
 *                  No offset at all wins over rivals that are not clearly better;
 *                  NETLIST_MATCH_FEW: an offset fits, but less than three places confirm it
 */
enum netlist_match_status {
    NETLIST_MATCH_OK = 0,
    NETLIST_MATCH_NONE,
    NETLIST_MATCH_AMBIGUOUS,
    NETLIST_MATCH_FEW,
    NETLIST_MATCH_NO_MEMORY
};
enum netlist_match_status netlist_match(const struct match_point *points, size_t point_count,
                                        const struct match_point *targets, size_t target_count,
                                        struct netlist_match *out);

#endif
