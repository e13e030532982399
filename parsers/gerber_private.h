/*
 * What the files of the drawing reader share. Nobody outside parsers/gerber*.c includes this.
 *
 *   gerber.c            the way through a file, what comes out at its end
 *   gerber_lex.c        words, numbers, quoting, diagnostics
 *   gerber_codes.c      G, D and M codes, coordinates, operations
 *   gerber_extended.c   what stands between % signs
 *   gerber_aperture.c   aperture templates, transformed shapes, flashes
 *   gerber_macro.c      aperture macros: statements and arithmetic
 *   gerber_primitive.c  aperture macros: the primitives' shapes
 *   gerber_stroke.c     strokes with circles, along lines and arcs
 *   gerber_sweep.c      strokes with any other shape
 *   gerber_arc.c        circular interpolation: which arc is meant
 *   gerber_region.c     contours between G36 and G37
 *   gerber_crossing.c   contours that cross themselves
 *   gerber_copy.c       step and repeat, block apertures
 *   gerber_attrs.c      attributes
 *   gerber_shape.c      shapes in the making, and rounded areas
 */
#ifndef GERBER_PRIVATE_H
#define GERBER_PRIVATE_H

#include "base/symbols.h"
#include "isthmus/drawing.h"

#define GERBER_COORD_LIMIT_NM (INT64_C(1) << 40) /* 1.1 km: whatever lies beyond is no board */
#define GERBER_MAX_ERRORS 20                     /* then the rest of the file is left alone */
#define GERBER_MAX_NESTING 32                    /* block apertures within each other */
#define GERBER_MAX_VARIABLE 1000                 /* $n of a macro */
#define GERBER_MAX_PAREN 64                      /* parentheses within each other */
#define GERBER_MAX_ATTRIBUTES 256                /* names in one attribute dictionary */

/* ---- numbers ---- */
struct decimal {
    int64_t mantissa; /* the digits without the point, signed */
    uint8_t decimals; /* digits behind the point */
    uint8_t digits;   /* digits in all, as written */
    bool has_point;
};
/* A stretch of the file that is being read; offsets count from the file's start. */
struct cursor {
    const uint8_t *bytes;
    size_t at, end;
};

/* ---- shapes ---- */
struct point {
    double x, y;
};
struct shape_seg {
    struct point to, centre;
    int8_t turn;
};
struct shape_contour {
    struct point start;
    uint32_t first_seg, seg_count;
};
/* A shape in the making, about its own origin, in nanometres, not yet rounded. malloc'ed. */
struct shape {
    struct fill *fills;
    size_t fill_count, fill_capacity;
    struct shape_contour *contours;
    size_t contour_count, contour_capacity;
    struct shape_seg *segs;
    size_t seg_count, seg_capacity;
};
/* The same after rounding. malloc'ed. */
struct area {
    struct fill *fills;
    size_t fill_count, fill_capacity;
    struct contour *contours;
    size_t contour_count, contour_capacity;
    struct seg *segs;
    size_t seg_count, seg_capacity;
};
/* Objects in drawing order: the drawing itself, or what a block aperture holds. */
struct sheet {
    struct area area;
    struct object *objects;
    size_t object_count, object_capacity;
};

/* LM, LR, LS: mirrored first, then turned, then scaled. */
struct transform {
    bool is_mirrored_x, is_mirrored_y;
    double rotation_deg, scale;
};

/* ---- macros ---- */
enum macro_op {
    MACRO_NUMBER,
    MACRO_VARIABLE,
    MACRO_ADD,
    MACRO_SUB,
    MACRO_MUL,
    MACRO_DIV,
    MACRO_NEG
};
struct macro_token {
    enum macro_op op;
    uint32_t variable;
    double number;
};
struct macro_expr {
    uint32_t first_token, token_count;
};
struct macro_statement {
    int32_t code;      /* primitive; -1: variable = expression */
    uint32_t variable; /* for an assignment */
    uint32_t first_expr, expr_count;
    size_t offset; /* in the file */
};
struct macro {
    const char *name;
    struct macro_statement *statements;
    size_t statement_count, statement_capacity;
    struct macro_expr *exprs;
    size_t expr_count, expr_capacity;
    struct macro_token *tokens;
    size_t token_count, token_capacity;
};

/* ---- apertures ---- */
struct attr_value {
    const char *name;
    const char *const *fields;
    uint32_t field_count;
};
struct attr_dictionary {
    struct attr_value *values;
    size_t count, capacity;
};
struct tool {
    struct aperture info;
    char letter;    /* C R O P, 'M' macro, 'B' block */
    uint32_t macro; /* index into macros */
    double *params; /* in the file's unit; arena */
    size_t param_count;
    size_t offset; /* of its definition */
    const char *function, *function_detail;
    bool is_built, is_broken;
    struct shape shape; /* about its origin */
    bool has_area;      /* area below is valid for this transform */
    struct transform area_transform;
    struct area area;    /* transformed and rounded */
    struct sheet *block; /* APERTURE_BLOCK */
};
struct open_block {
    int32_t code;
    size_t offset;
    struct source_pos at;
    struct sheet *sheet;
};

enum unit { UNIT_UNKNOWN, UNIT_MM, UNIT_INCH };
enum zeros { ZEROS_LEADING_OMITTED, ZEROS_TRAILING_OMITTED, ZEROS_KEPT };
struct axis_format {
    uint8_t integer_digits, decimal_digits;
};

/* What is read although it is odd; each kind is told once a file. */
enum oddity {
    ODD_EMPTY_WORD,
    ODD_OMITTED_OPERATION,
    ODD_UPPER_CASE_X,
    ODD_ARC_BEFORE_MODE,
    ODD_NO_INTERPOLATION,
    ODD_TOO_MANY_DIGITS,
    ODD_DECIMAL_POINT,
    ODD_WORDS_AFTER_END,
    ODD_END_TWICE,
    ODD_M30,
    ODD_TRAILING_ZEROS,
    ODD_INCREMENTAL,
    ODD_NO_ZERO_OMISSION,
    ODD_REDEFINED_APERTURE,
    ODD_REDEFINED_MACRO,
    ODD_REDEFINED_VARIABLE,
    ODD_ZERO_SIZE,
    ODD_OPEN_CONTOUR,
    ODD_SELF_CROSSING,
    ODD_RADII_DIFFER,
    ODD_IMAGE_NEGATIVE,
    ODD_IMAGE_MOVED,
    ODD_AXES_SWAPPED,
    ODD_SEQUENCE_NUMBER,
    ODD_RAPID_MOVE,
    ODD_MISSING_ROTATION,
    ODD_ODD_APERTURE_STROKE,
    ODD_FORMAT_TWICE,
    ODD_SINGLE_QUADRANT,
    ODD_OLD_COMMAND,
    ODD_BAD_ATTRIBUTE,
    ODD_HOLE_FILLS,
    ODD_NOT_LOOKED_AT,
    ODD_COUNT
};

struct region_state {
    bool is_open;
    size_t offset;
    struct source_pos at;
    bool has_contour; /* a contour has been begun */
    uint32_t object;  /* its index in the sheet */
    struct pos_nm start;
    size_t contour_offset;
};
struct step_state {
    bool is_open;
    size_t offset;
    uint32_t count_x, count_y;
    double step_x, step_y; /* nm */
    size_t first_object;
};
struct image_state {
    bool is_mirrored_x, is_mirrored_y;
    double scale_x, scale_y;
    double offset_x, offset_y; /* in the file's unit */
    int quarter_turns;         /* counterclockwise */
    bool is_swapped, is_negative;
};

struct gerber {
    uint32_t file_id;
    const uint8_t *bytes;
    size_t size;
    size_t max_objects, max_segs, work_left, crossing_work_left;
    struct outline_piece *outline; /* scratch of gerber_crossing.c */
    size_t outline_capacity;
    struct arena *arena;
    struct diag_list *diags;
    struct drawing *out;

    size_t at; /* next byte */
    uint32_t line;
    size_t line_start;
    size_t word_offset; /* of the word being read, and as a place */
    struct source_pos word_at;
    size_t error_count;
    bool is_out_of_memory, is_too_large, is_out_of_range, is_ended;
    uint64_t told;             /* oddities already told */
    size_t told_at[ODD_COUNT]; /* its diagnostic */
    bool is_told_kept[ODD_COUNT];
    char quoted[200];

    bool has_format, is_incremental;
    enum zeros zeros;
    struct axis_format format[2];
    enum unit unit;
    bool has_unit_command;
    struct image_state image;

    uint32_t tool;      /* index into tools or ISTHMUS_NONE */
    int interpolation;  /* 0 unknown, 1 line, 2 clockwise, 3 counterclockwise */
    int quadrant_mode;  /* 0 unknown, 74, 75 */
    int operation;      /* 0 none yet, 1, 2, 3 */
    bool is_tool_newer; /* an aperture was chosen after the last operation */
    bool has_operated;
    bool is_clear;
    struct transform transform;
    int64_t raw[2]; /* the point in units of the format, for incremental files */
    uint8_t raw_decimals[2];
    struct pos_nm point;
    bool is_point_known[2];

    struct region_state region;
    struct step_state step;
    struct open_block blocks[GERBER_MAX_NESTING];
    size_t block_depth;
    struct sheet drawing; /* the outermost sheet */
    struct sheet *sheet;  /* where objects go now */

    struct tool *tools;
    size_t tool_count, tool_capacity;
    struct symbol *tool_of_code; /* key: the code, uint64_t */
    struct macro *macros;
    size_t macro_count, macro_capacity;
    struct symbol *macro_of_name;

    struct attr_dictionary aperture_attrs, object_attrs;
    struct object_attrs *attrs;
    size_t attrs_count, attrs_capacity;
    struct symbol *attrs_of_hash; /* key: uint64_t; sets that collide take the next one */
    uint32_t current_attrs;
    uint32_t current_attrs_tool; /* the tool (or NONE) that current_attrs was made for */
    bool is_attrs_current;
    struct file_attr *file_attrs;
    size_t file_attr_count, file_attr_capacity;
};

/* gerber_lex.c */
void gerber_error(struct gerber *g, size_t offset, const char *code, const char *advice,
                  const char *format, ...) __attribute__((format(printf, 5, 6)));
void gerber_odd(struct gerber *g, size_t offset, enum oddity oddity, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
/* The bytes from..to in quotes, shortened, control bytes escaped; good until the next call. */
const char *gerber_quote(struct gerber *g, size_t from, size_t to);
const char *gerber_quote_word(struct gerber *g, size_t from); /* up to the next * or % */
struct source_pos gerber_place(const struct gerber *g, size_t offset);
void gerber_skip_space(struct gerber *g);
void gerber_advance_to(struct gerber *g, size_t at); /* keeps count of lines */
void cursor_skip_space(struct cursor *c);
bool cursor_take(struct cursor *c, uint8_t byte);
/* Signed decimal number; false (cursor unmoved) when there is none or it is too long. */
bool cursor_decimal(struct cursor *c, struct decimal *out);
bool cursor_uint(struct cursor *c, uint32_t limit, uint32_t *out);
bool cursor_number(struct cursor *c, double *out);
double decimal_value(const struct decimal *d);
bool gerber_should_stop(const struct gerber *g);

/* gerber_shape.c */
int64_t gerber_round_nm(struct gerber *g,
                        double value_nm); /* half away from zero; notes overflow */
struct pos_nm gerber_round_point(struct gerber *g, struct point p);
void shape_fill(struct gerber *g, struct shape *s, bool adds);
void shape_begin(struct gerber *g, struct shape *s, double x, double y);
void shape_line(struct gerber *g, struct shape *s, double x, double y);
void shape_arc(struct gerber *g, struct shape *s, struct point to, struct point centre, int turn);
void shape_circle(struct gerber *g, struct shape *s, struct point centre, double radius, int turn);
void shape_rectangle(struct gerber *g, struct shape *s, struct point centre, double width,
                     double height, int turn);
void shape_free(struct shape *s);
void area_fill(struct gerber *g, struct area *a, bool adds);
void area_begin(struct gerber *g, struct area *a, struct pos_nm start);
struct seg *area_segs(struct gerber *g, struct area *a, size_t count); /* NULL without memory */
void area_line(struct gerber *g, struct area *a, struct pos_nm to);
void area_arc(struct gerber *g, struct area *a, struct pos_nm to, struct point centre, int turn);
/* An arc from..to. Where rounding made its ends one, it would read as a full circle: a long one may
 * (or is one), a short one becomes nothing. One that has no radius left becomes a line. */
void area_open_arc(struct gerber *g, struct area *a, struct pos_nm from, struct pos_nm to,
                   struct point centre, int turn, bool is_long);
void area_circle(struct gerber *g, struct area *a, struct point centre, double radius);
void area_clear(struct area *a);
void area_free(struct area *a);
void sheet_free(struct sheet *s);
/* A new object with no fills on the current sheet; NULL when it cannot be. */
struct object *sheet_object(struct gerber *g, enum object_kind kind);
/* Rounded, transformed copy of a shape. */
void area_from_shape(struct gerber *g, const struct shape *s, const struct transform *t,
                     struct area *out);
struct point transform_point(const struct transform *t, struct point p);
bool transform_is_identity(const struct transform *t);
bool transform_flips(const struct transform *t);
/* Appends fills of one area to another, moved. */
void area_append(struct gerber *g, struct area *to, const struct area *from, size_t first_fill,
                 size_t fill_count, struct pos_nm by);
struct box {
    struct pos_nm min, max;
};
void box_init(struct box *box);
void box_add_area(struct box *box, const struct area *a);
void box_add_seg(struct box *box, struct pos_nm from, const struct seg *seg);

/* gerber_codes.c */
void gerber_plain_word(struct gerber *g);
double gerber_nm(const struct gerber *g, double value); /* in the file's unit to nm */
bool gerber_need_unit(struct gerber *g, size_t offset);

/* gerber_extended.c */
void gerber_extended_block(struct gerber *g);

/* gerber_aperture.c */
void gerber_define_aperture(struct gerber *g, struct cursor *c);
void gerber_select(struct gerber *g, uint32_t code, size_t offset);
uint32_t gerber_new_tool(struct gerber *g, int32_t code, size_t offset, struct source_pos at);
void gerber_build_tool(struct gerber *g, struct tool *tool);
/* The tool's area under the current transform; NULL when it cannot be built. */
const struct area *gerber_tool_area(struct gerber *g, struct tool *tool);
bool gerber_tool_is_circle(const struct tool *tool);
void gerber_flash(struct gerber *g);

/* gerber_macro.c */
/* Shapes cost work too: what a short file asks for must stay in proportion. */
bool gerber_spend_work(struct gerber *g, size_t work);
void gerber_define_macro(struct gerber *g, struct cursor *words);
void gerber_build_macro(struct gerber *g, struct tool *tool);
void macro_free(struct macro *macro);
uint64_t gerber_hash(const char *text, size_t length);

/* gerber_primitive.c */
/* values[0] is the first parameter behind the primitive's number. */
void gerber_primitive(struct gerber *g, struct tool *tool, const struct macro_statement *statement,
                      const double *values, size_t count);

/* gerber_arc.c */
struct arc {
    struct point centre;
    int turn;
    double radius_from, radius_to, sweep_rad; /* sweep > 0 */
    bool is_full, is_point;
};
/* false: an error was told */
bool gerber_resolve_arc(struct gerber *g, struct pos_nm from, struct pos_nm to, struct point ij,
                        struct arc *out);

/* gerber_stroke.c */
void gerber_stroke(struct gerber *g, struct pos_nm from, struct pos_nm to);
void gerber_stroke_arc(struct gerber *g, struct pos_nm from, struct pos_nm to,
                       const struct arc *arc);

/* gerber_sweep.c */
/* Fills of the object drawn last: the shape moved from..to. */
void gerber_sweep(struct gerber *g, const struct area *shape, bool is_convex, struct pos_nm from,
                  struct pos_nm to);

/* gerber_region.c */
void gerber_region_open(struct gerber *g, size_t offset);
void gerber_region_close(struct gerber *g, size_t offset);
void gerber_region_move(struct gerber *g, struct pos_nm to);
void gerber_region_line(struct gerber *g, struct pos_nm to);
void gerber_region_arc(struct gerber *g, struct pos_nm to, const struct arc *arc);

/* gerber_crossing.c */
/* Do two pieces of the contour cross (by more than a micrometre)? *where: near the crossing. */
bool gerber_crosses_itself(struct gerber *g, const struct contour *contour, const struct seg *segs,
                           struct pos_nm *where);

/* gerber_copy.c */
void gerber_step_open(struct gerber *g, uint32_t count_x, uint32_t count_y, double step_x,
                      double step_y);
void gerber_step_close(struct gerber *g);
void gerber_block_open(struct gerber *g, int32_t code);
void gerber_block_close(struct gerber *g);
void gerber_block_flash(struct gerber *g, struct tool *tool);

/* gerber_attrs.c */
/* The text of a TF, TA, TO or TD word, c behind the two letters; kind is the second letter. */
void gerber_attribute(struct gerber *g, char kind, struct cursor c);
uint32_t gerber_current_attrs(struct gerber *g, uint32_t tool);
const struct attr_value *attr_find(const struct attr_dictionary *dictionary, const char *name);

#endif
