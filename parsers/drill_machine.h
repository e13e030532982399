/*
 * The machine that runs a drill file, shared by the drill*.c files only.
 *
 * A file is run several times. SURVEY: what the file states, how its coordinates are written, and
 * every fault that no reading can cure. TRIAL, once a candidate reading: holes for the score,
 * silently. FINAL: the holes that count, and the faults that depend on the reading.
 */
#ifndef PARSERS_DRILL_MACHINE_H
#define PARSERS_DRILL_MACHINE_H

#include "isthmus/holes.h"

enum drill_pass { PASS_SURVEY, PASS_TRIAL, PASS_FINAL };

/* A number as it is written; the value waits for the reading. */
struct drill_number {
    bool is_set;
    bool has_point;
    int64_t mantissa; /* the digits, signed, without the point */
    uint8_t digit_count, decimals;
    bool starts_with_zero, ends_with_zero;
    size_t offset;
};

enum drill_unit { UNIT_OPEN, UNIT_MM, UNIT_INCH };

/* One source of the reading: the commands, or the comments. */
struct drill_statement {
    enum drill_unit unit;
    bool has_zeros, is_both_kept, has_digits;
    enum zero_rule zeros;
    uint8_t integer_digits, decimal_digits;
};
struct drill_facts {
    struct drill_statement command, comment;
    enum drill_unit size_unit;         /* of tool sizes in comments */
    size_t point_count, integer_count; /* coordinates other than zero */
    uint8_t width_min, width_max;      /* digits of those without a point */
    bool has_leading_zero, has_trailing_zero;
    struct source_pos first_coordinate;
};

/* What the machine knows of a tool beyond the public part. */
struct drill_tool {
    struct tool is;
    bool is_size_from_comment;
    bool is_missing_size_told;
    bool has_quantity;
    uint64_t quantity;
};

/* The words of one line, in the fields the grammar has for them. */
#define BLOCK_CODES 8
struct drill_block {
    struct drill_number x, y, x2, y2, i, j, a, c, tool, repeat;
    bool is_slot; /* G85: x2, y2 stand behind it */
    bool has_depth;
    int16_t g[BLOCK_CODES], m[BLOCK_CODES];
    uint8_t g_count, m_count;
    size_t offset, length;
};

enum drill_motion { MOTION_DRILL, MOTION_RAPID, MOTION_LINE, MOTION_CW, MOTION_CCW };

struct drill_machine {
    enum drill_pass pass;
    struct drill_reading reading;
    struct drill_facts facts;
    bool skips_sure_holes; /* TRIAL: only holes that the reading moves, where points mix in */
    struct arena *arena;   /* texts; only FINAL keeps any */
    struct diag_list *diags;
    size_t max_holes;

    /* Where the run is. Columns are counted from line_start. */
    uint32_t file_id;
    const uint8_t *bytes;
    size_t size, line_start, line_end;
    uint32_t line;
    bool has_m48, is_format_one, is_header, has_ended, is_end_soft, has_content_after_end;
    bool is_stopped; /* no point in going on: out of memory, or too many holes */
    bool is_out_of_memory;
    bool is_out_of_range; /* TRIAL: this reading cannot be */
    bool is_reading_open; /* refused because nothing decided the reading */
    char quoted[64];

    /* What comes out. */
    struct hole *holes;
    size_t hole_count, hole_capacity;
    struct drill_tool *tools;
    size_t tool_count, tool_capacity;
    struct file_attr *file_attrs;
    size_t file_attr_count, file_attr_capacity;
    enum plating file_plating;
    bool has_plated_section, has_bare_section;
    uint16_t layer_from, layer_to;

    /* The machine's registers. */
    struct pos_nm zero, here;
    bool is_x_known, is_y_known, is_incremental;
    bool is_x_open, is_y_open; /* written without a point: the reading decides it */
    enum drill_motion motion;
    bool is_tool_down, has_cut;
    size_t rapid_count; /* places reached with G00 */
    struct source_pos first_rapid;
    uint32_t path, path_count;
    size_t tool;            /* index into tools, SIZE_MAX = none */
    bool has_selected_tool; /* a T code chose one: stops are no tool changes */
    size_t sequence;        /* files without T codes: stops passed so far */
    enum plating section;   /* ;TYPE=PLATED */
    const char *function, *net, *ref, *pin;
    enum plating function_plating;

    /* Step and repeat. */
    bool is_pattern_open, is_pattern_closed;
    size_t pattern_first, pattern_end;
    uint32_t pattern_path, pattern_path_count;
    struct pos_nm pattern_step;
};

#define DRILL_NO_TOOL SIZE_MAX

/* Runs the whole file under machine->reading. Buffers are kept from run to run. */
void drill_run(struct drill_machine *machine, enum drill_pass pass);
void drill_machine_free(struct drill_machine *machine);

/* drill_words.c: one line into fields; false when a fault was reported. */
bool drill_words(struct drill_machine *machine, size_t from, size_t to, struct drill_block *out);
/* Where the comment that opens at from with '(' is closed, or to. */
size_t drill_comment_end(const struct drill_machine *machine, size_t from, size_t to);
bool drill_number(struct drill_machine *machine, size_t *at, size_t to, struct drill_number *out);

/* drill_header.c: lines that state something. */
bool drill_header_line(struct drill_machine *machine, size_t from, size_t to);
void drill_state_unit(struct drill_machine *machine, enum drill_unit unit, size_t from, size_t to);
void drill_comment(struct drill_machine *machine, size_t from, size_t to);

/* drill_tools.c */
struct drill_tool *drill_tool_find(struct drill_machine *machine, uint32_t number);
struct drill_tool *drill_tool_get(struct drill_machine *machine, uint32_t number, size_t offset);
void drill_tool_word(struct drill_machine *machine, const struct drill_block *block);
void drill_tool_comment(struct drill_machine *machine, size_t from, size_t to);
bool drill_tool_ready(struct drill_machine *machine, size_t offset);
void drill_tool_next(struct drill_machine *machine);
void drill_tools_check(struct drill_machine *machine);

/* drill_rout.c: cuts between two places; pieces join machine->path. */
void drill_add_hole(struct drill_machine *machine, struct pos_nm from, struct pos_nm to,
                    uint32_t path, size_t offset);
void drill_cut(struct drill_machine *machine, const struct drill_block *block, struct pos_nm to,
               size_t offset);
/* Angle from one radius vector to another, turn +1 or -1 round; equal ones: a full turn. */
double drill_arc_sweep(double from_x, double from_y, double to_x, double to_y, int turn);
/* Chords that stay within 0.5 um of an arc. */
size_t drill_arc_pieces(double radius_nm, double sweep);
bool drill_coordinate(struct drill_machine *machine, const struct drill_number *number,
                      int64_t *out_nm);

/*
 * drill_reading.c: the readings that the file leaves open, each effect once.
 *
 * is_stated  exactly one, and nothing in it was assumed
 * out        room for DRILL_CANDIDATES
 */
#define DRILL_CANDIDATES 48
size_t drill_candidates(const struct drill_facts *facts, bool *is_stated,
                        struct drill_reading *out);
/* Units and zero rule stated, digits not: inch 2.4, metric 3.3. */
bool drill_default_reading(const struct drill_facts *facts, struct drill_reading *out);
/* Both give every coordinate of this file the same length. */
bool drill_readings_equal(const struct drill_facts *facts, const struct drill_reading *a,
                          const struct drill_reading *b);
/* "METRIC, 3.3, trailing zeros kept", and the same as --drill-format takes it. */
void drill_reading_text(const struct drill_reading *reading, char out[64]);
void drill_reading_option(const struct drill_reading *reading, char out[32]);

struct source_pos drill_at(const struct drill_machine *machine, size_t offset);
/* At most 40 bytes of the file for a message; unprintable ones become '?'. */
const char *drill_quote(struct drill_machine *machine, size_t from, size_t to);
bool drill_word_is(const struct drill_machine *machine, size_t from, size_t to, const char *word);
/* First place of word (capitals or not) in [from, to), or SIZE_MAX. */
size_t drill_find(const struct drill_machine *machine, size_t from, size_t to, const char *word);

/* A diagnostic that belongs to one pass, so that none is given twice. */
#define DRILL_SAY(machine, when, ...)                                                              \
    do {                                                                                           \
        if ((machine)->pass == (when))                                                             \
            diag_add((machine)->diags, __VA_ARGS__);                                               \
    } while (0)

#endif
