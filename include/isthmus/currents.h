/* The user's two inputs: the net-current table (CSV) and the board facts (board.ini). */
#ifndef ISTHMUS_CURRENTS_H
#define ISTHMUS_CURRENTS_H

#include "isthmus/drawing.h"

enum row_kind {
    ROW_NET,
    ROW_TERMINAL /* one or several pins, wildcards inside a group */,
    ROW_REST /* "C*", "*" : each pin it matches */,
    ROW_POSITION
};
enum current_sign { SIGN_NONE, SIGN_FEEDS, SIGN_DRAWS };

struct current_row {
    enum row_kind kind;
    const char *net;         /* as written; may end in '*' */
    const char *const *pins; /* ROW_TERMINAL: "J1.2" ..., ROW_REST: one pattern */
    uint32_t pin_count;
    bool has_current; /* false: only a position that names (or a row still to fill in) */
    double current_a; /* >= 0 */
    enum current_sign sign;
    double rise_k;       /* NAN: the board's default */
    struct pos_nm place; /* ROW_POSITION, file coordinates */
    bool has_layer;
    uint16_t layer_code;   /* 0 top, UINT16_MAX bottom, n: inner n */
    const char *case_name; /* NULL: holds in all cases */
    const char *note;
    struct source_pos at;
};
struct current_table {
    struct current_row *rows;
    size_t row_count;
    const char **cases;
    size_t case_count; /* distinct names in order of appearance */
    uint32_t file_id;
};
enum currents_status { CURRENTS_OK = 0, CURRENTS_REFUSED, CURRENTS_NO_MEMORY };
/* Reads the table (RFC 4180, '#' comments, header row). Contradictions that need no board (repeated
 * rows, negative rise ...) are found here, those that need net names by the caller. */
enum currents_status currents_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                   struct arena *arena, struct diag_list *diags,
                                   struct current_table *out);

/* Quantities with units: "2.5", "2.5A", "800mA" ; "0.3mm", "12mil", "35um", "1in". Exact decimal
 * text in, false when it is not one. default_unit_nm: what a bare number means, 0: none may. */
/* The number itself, sign and exponent ("1e-3") allowed; *text moves behind it and the blanks that
 * follow. No locale, no hexadecimal, no "inf". */
bool quantity_number(const char **text, double *out);
bool quantity_current(const char *text, double *out_a);
bool quantity_length(const char *text, double default_unit_nm, double *out_nm);

enum fit { FIT_IPC2221_EXTERNAL_INTERNAL, FIT_IPC2221_INTERNAL_EVERYWHERE };

/* Where a fact came from, for the report. */
enum fact_source { FACT_ASSUMED, FACT_JOB_FILE, FACT_BOARD_INI, FACT_OPTION };
struct fact {
    double value;
    enum fact_source source;
    struct source_pos at; /* board.ini or job file */
};
#define BOARD_MAX_COPPER 64
struct board_facts {
    /* Finished thickness by layer position, 1 = top; 0 = no value of its own. */
    struct fact copper_um[BOARD_MAX_COPPER + 1];
    struct fact bottom_copper_um; /* of the last layer, wherever that is; 0 = not said */
    struct fact outer_copper_um, inner_copper_um; /* for layers without a value of their own */
    struct fact wall_um;                          /* hole wall average */
    struct fact board_thickness_mm;
    struct fact rise_k, ambient_c;
    struct fact etch_loss_um; /* per etched edge */
    struct fact gap_close_um;
    struct fact chord_error_um;
    bool is_tool_drilled;
    struct fact tool_drilled; /* plated tool sizes are drill sizes, not finished */
    bool are_vias_filled;
    struct fact vias_filled;
    enum fit fit;
    struct fact fit_fact;
    struct join {
        const char *a, *b;
        struct source_pos at;
    } * joins;
    size_t join_count;
};
/* DESIGN section 4: everything assumed. */
void board_facts_default(struct board_facts *facts);
/*
 * board.ini: sections [copper] (outer, inner, top, bottom, inner:N, wall), [limits] (rise, ambient,
 * constants), [fabrication] (board_thickness, etch_loss, gap_close, chord_error, tool_sizes, vias)
 * and [joins] (NET = NET). Every quantity names its unit. Facts that the file does not state stay
 * as they are.
 */
enum currents_status board_ini_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                    struct arena *arena, struct diag_list *diags,
                                    struct board_facts *facts);
/* Once the number of copper layers is known: the bottom's thickness goes to its place; a thickness
 * stated for a layer that the board does not have is an error (false). */
bool board_facts_settle(struct board_facts *facts, size_t layer_count, struct diag_list *diags);

/* The valid name nearest to a wrong one (edit distance, case folded), or NULL if none is near. */
const char *nearest_name(const char *wrong, const char *const *names, size_t count);

#endif
