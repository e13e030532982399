/*
 * What a check found: numbers and places, no prose. Reports phrase it.
 */
#ifndef ISTHMUS_FINDING_H
#define ISTHMUS_FINDING_H

#include "isthmus/board.h"
#include "isthmus/neck.h"

enum verdict {
    VERDICT_PASS,
    VERDICT_PASS_BY_SUM,
    VERDICT_NARROW,
    VERDICT_UNASSIGNED,
    VERDICT_NOT_JUDGED
};
enum finding_kind {
    FINDING_NARROW,
    FINDING_UNASSIGNED,
    FINDING_SPLIT, /* terminals of one net on several conductors: a place a gap, one piece each */
    FINDING_JOINED /* terminals of two nets on one conductor: one place, the least cut between */
};

struct finding_piece {
    enum piece_kind kind;
    uint16_t layer;                     /* position; 0 for a hole wall */
    struct pos_nm from, to, middle;     /* file coordinates */
    double width_mm;                    /* true width found (etch loss off); wall: 0 */
    double area_mm2;                    /* external-equivalent */
    double hole_mm;                     /* RIM, WALL: finished diameter */
    struct source_pos bound_a, bound_b; /* the drawn objects that bound it; file_id 0 = none */
    uint16_t layer_to; /* GAP: where it ends on another layer than it starts; else 0 */
};
struct finding_place {
    struct finding_piece *pieces;
    size_t piece_count;
    struct pos_nm middle;
    uint16_t layer;            /* of its largest piece */
    uint16_t width_layer;      /* what widths are given as: layer, or for walls alone the net's
                                  first */
    double width_mm;           /* equivalent width on that layer: area / (weight thickness) */
    double needed_mm;          /* likewise */
    double needed_internal_mm; /* likewise, by the internal constants for every piece */
    double area_mm2, required_mm2, margin;
    double current_a;
    double rise_at_width_k;   /* inverse formula */
    double short_neck_rise_k; /* information only: a neck of this length between wide copper (NAN =
                                 runaway) */
    double narrow_length_mm;  /* 0: walls alone, whose length is the board's thickness; or it runs
                                along a pad or hole */
    bool is_extrapolated;
    bool is_at_most; /* FINDING_JOINED: a real cut of a wide bridge, perhaps not the least */
};
/* What decides the current at a cut: I(S) of DEVELOPERS.md "How much current a neck must stand". */
enum current_bound {
    CURRENT_OF_NET, /* the most under way in the net */
    CURRENT_FEEDS_A,
    CURRENT_DRAWS_A,
    CURRENT_FEEDS_B,
    CURRENT_DRAWS_B
};
struct finding {
    enum finding_kind kind;
    uint32_t net;
    const char *case_name; /* NULL */
    struct finding_place *places;
    size_t place_count; /* worst first */
    double narrow_length_mm;
    uint32_t *side_a, *side_b;
    size_t side_a_count, side_b_count; /* board terminals */
    enum current_bound current_bound;  /* at the worst place */
    uint32_t *current_of; /* terminals that feed or draw it; none when it is the net's */
    size_t current_of_count;
    const char *net_current_how; /* as net_verdict.i_net_how */
    bool is_share;               /* of a group row's pin: an equal share of its current */
    double allowed_a;            /* the current this copper is good for at the allowed rise */
    /* first remedy in numbers */
    double add_width_mm;      /* at the worst place; NAN: hole walls alone */
    size_t add_hole_count;    /* hole walls alone: this many more ... */
    double add_hole_mm;       /* ... of this finished diameter, the smallest there */
    double pass_thickness_um; /* copper thickness at which it would pass as drawn; NAN: not one
                                 layer */
    double pass_rise_k;       /* allowed rise at which it would pass */
    const char *const
        *rows_to_add; /* FINDING_UNASSIGNED: a row an end, with what its copper is good for */
    size_t row_to_add_count;
    size_t part_count;     /* FINDING_SPLIT: pieces of copper that the terminals hang on */
    uint32_t other_net;    /* FINDING_JOINED: side_b's, not the same as net; else NONE */
    const char *join_line; /* FINDING_JOINED: what [joins] would have to say if the tie is meant */
    const char *doubt;     /* FINDING_SPLIT, _JOINED: why it may be none; NULL: nothing says so */
};
/* Copper of a judged net that is drawn but not there. */
enum taken_by {
    TAKEN_BY_EDGE, /* cut off by the board's edge or a cut-out */
    TAKEN_BY_HOLE, /* by holes or routs without plating */
    TAKEN_BEYOND   /* objects drawn beyond the edge altogether */
};
struct taken_copper {
    enum taken_by by;
    uint16_t layer;
    struct pos_nm at;         /* on its leftmost cut; BEYOND: the first object */
    double edge_mm;           /* outline that the cuts left; BEYOND: 0 */
    size_t object_count;      /* HOLE, BEYOND: how many */
    struct source_pos source; /* the profile's file, the hole of that place, the first object */
};
struct net_verdict {
    uint32_t net;
    const char *case_name; /* of the worst case */
    enum verdict verdict;
    const char *reason; /* NOT_JUDGED: why, and what to do */
    bool has_more;      /* NARROW, UNASSIGNED: the search ended early, there may be further narrow
                           places: check again when these are mended */
    double i_net_a, rise_k;
    const char *i_net_how; /* "net row", "all feeds", "all draws" */
    double margin;         /* least found; INFINITY: more than the limit */
    struct finding_place least;
    bool has_least;
    double searched_margin; /* least margins were looked for up to this; 0: not at all */
    size_t terminal_count, terminal_row_count;
    uint32_t closed_gap_count;
    struct neck_branch *branches;
    size_t branch_count;
    struct taken_copper *taken;
    size_t taken_count;
    size_t chord_count, chord_kept_count;
};
struct check_result {
    struct net_verdict *verdicts;
    size_t verdict_count; /* worst first */
    struct finding *findings;
    size_t finding_count; /* by verdict order, then layer, place */
    double margin_limit;
    uint32_t *unjudged_nets;
    size_t unjudged_count; /* nets not in the table, most copper first */
    uint32_t named_unjudged_count;
    bool has_table;
};

#endif
