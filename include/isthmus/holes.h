/* Drilled and routed holes, as the drill files (or drawings of holes) state them. */
#ifndef ISTHMUS_HOLES_H
#define ISTHMUS_HOLES_H

#include "isthmus/drawing.h"

enum plating { PLATING_UNKNOWN, PLATING_PLATED, PLATING_NONE };

struct hole {
    struct pos_nm from, to; /* equal: a round hole; else a straight slot between the two centres */
    int64_t diameter_nm;
    uint32_t tool; /* tool number as written; drawings: the aperture's Dnn */
    uint32_t path; /* pieces of one routed path share a number; ISTHMUS_NONE: alone */
    enum plating plating;
    uint16_t layer_from, layer_to; /* copper layers 1..n it spans; 0,0 = all of them */
    const char *function;  /* .AperFunction first field (ViaDrill, ComponentDrill ...) or NULL */
    const char *net;       /* name attribute if any, else NULL */
    const char *ref, *pin; /* pin attribute if any, else NULL */
    struct source_pos at;
};

struct tool {
    uint32_t number;
    int64_t diameter_nm;  /* 0: never stated (an error when used) */
    enum plating plating; /* from a tool comment, else unknown */
    const char *function;
    uint32_t hole_count;
    struct source_pos at;
};

/*
 * How digits become lengths. A legacy file may leave parts of this open; each open part
 * multiplies the readings that must be tried.
 */
enum zero_rule { ZEROS_DECIMAL_POINT, ZEROS_LEADING_KEPT, ZEROS_TRAILING_KEPT };
struct drill_reading {
    bool is_inch;
    enum zero_rule zeros;
    uint8_t integer_digits, decimal_digits;
};

/*
 * How well a reading's holes land on copper: called once a candidate, larger is better, in 0..1
 * (share of holes whose centre lies on a pad or, failing pads, inside the copper's extent; a
 * reading whose holes lie outside the copper's extent scores 0). NULL when there is nothing to
 * compare with.
 */
typedef double (*drill_score_fn)(const struct hole *holes, size_t count, void *context);

struct hole_list {
    struct hole *holes;
    size_t hole_count;
    struct tool *tools;
    size_t tool_count;
    struct file_attr *file_attrs;
    size_t file_attr_count;
    uint32_t file_id;
    enum plating plating;          /* of the file, from .FileFunction or a header comment */
    uint16_t layer_from, layer_to; /* of the file; 0,0 = not stated */
    const char *reading;           /* "METRIC, 3.3, trailing zeros kept (stated)": for the report */
    struct drill_reading used;
    bool is_reading_stated; /* false: chosen by how holes fit copper */
    double score;           /* of the reading that was used; -1: nothing to compare with */
    bool is_reading_open;   /* after HOLES_REFUSED: only because nothing decided the reading */
};

/*
 * Reads a drill or rout file (XNC, or the older dialects).
 *
 * options  NULL: nothing is forced and there is nothing to compare with
 *
 * score    decides when the file leaves the reading open: the best of all candidate readings
 *          wins if it is at or above 0.5 and the only one there, or clearly (by 0.2) ahead;
 *          otherwise an error that lists the candidates, never a guess (a wrong reading of a
 *          real file has reached 0.25). Of eight holes and more, no reading that the file's
 *          statements exclude may be as far ahead of it: some files state LZ and mean TZ. A
 *          stated reading is checked by it as well: a score of 0 (every hole outside the copper),
 * or another reading that is clearly right, is an error. Only the digits of a file that states
 * units and zero rule have a default of the format (inch 2.4, metric 3.3): taken with a warning
 * when there is no score
 *
 * forced   --drill-format FILE=READING: taken as it is (decimal points in the file still
 *          count); the check by score becomes a warning
 *
 * out      lives in arena; empty unless HOLES_OK
 *
 * errors   HOLES_REFUSED: at least one DIAG_ERROR says why; HOLES_NOT_ONE: the bytes are no
 *          drill file (no diagnostics). A file without any hole is HOLES_OK with a note.
 *
 * lent     a small file that is undecided (four mounting holes) may be read again with the
 *          hole_list.used of a sister file whose holes decided it: taken where the file's own
 *          statements leave it open (numbers without a point are none with one), and refused where
 *          every hole would lie off the copper
 */
enum holes_status { HOLES_OK = 0, HOLES_REFUSED, HOLES_NOT_ONE, HOLES_NO_MEMORY };
struct drill_options {
    const struct drill_reading *forced; /* NULL: as the file states, or as scored */
    const struct drill_reading *lent;   /* NULL: no sister file decides */
    drill_score_fn score;               /* NULL: nothing to compare with */
    void *score_context;
    size_t max_holes; /* 0: 2 000 000; repeats and flattened arcs count */
};
enum holes_status drill_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                             const struct drill_options *options, struct arena *arena,
                             struct diag_list *diags, struct hole_list *out);
bool drill_looks_like(const uint8_t *bytes, size_t size);

/* The text of --drill-format behind FILE=: "mm,3.3,leading", "inch,2.4,trailing", "mm,decimal";
 * false when it is none. leading, trailing: the zeros that are KEPT, as LZ and TZ say. */
bool drill_reading_parse(const char *text, struct drill_reading *out);

/*
 * The usual score: pads are the flashes of copper and mask drawings, and the ends and middles of
 * their strokes (long pads are often drawn so).
 *
 * hole_fit_new    pads: those drawings; others: drawings that only count for the extent (the
 *                 profile). NULL without memory
 * hole_fit_score  a drill_score_fn; its context is the hole_fit. 0.60 times the share of holes on
 *                 pads, 0.35 times that of holes at their very centres (within 20 um), 0.05 times
 *                 that within the extent (and 10 mm round it, for mounting holes); 0 when more
 *                 than one hole in twenty lies beyond. Drawings without any pad: the share within
 *                 the extent
 */
struct hole_fit;
struct hole_fit *hole_fit_new(const struct drawing *const *pads, size_t pad_drawing_count,
                              const struct drawing *const *others, size_t other_count,
                              struct arena *arena);
double hole_fit_score(const struct hole *holes, size_t count, void *fit);

/* Holes given as a drawing: circle flashes are holes, strokes with a circle are slots. */
enum holes_status holes_from_drawing(const struct drawing *drawing, struct arena *arena,
                                     struct diag_list *diags, struct hole_list *out);

#endif
