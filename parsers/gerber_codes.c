/* G, D and M codes, coordinates, operations: everything outside % signs. */
#include "gerber_private.h"

#include <math.h>
#include <string.h>

enum { AXIS_X, AXIS_Y, AXIS_I, AXIS_J, AXIS_COUNT };

/* One word, up to its *: what it says, before it is carried out. */
struct word {
    size_t offset;
    struct decimal value[AXIS_COUNT];
    size_t value_offset[AXIS_COUNT];
    bool has_value[AXIS_COUNT];
    bool has_code, has_d;
    uint32_t d;
    size_t d_offset;
};

static bool has_place(const struct word *w)
{
    return w->has_value[AXIS_X] || w->has_value[AXIS_Y] || w->has_value[AXIS_I] ||
           w->has_value[AXIS_J];
}

double gerber_nm(const struct gerber *g, double value)
{
    double unit_nm = g->unit == UNIT_INCH ? 25400000.0 : 1000000.0;
    /* A 4096th of a nanometre takes the noise of decimal fractions away, so that a half stays one.
     */
    double nm = value * unit_nm;
    return fabs(nm) < 1e12 ? nearbyint(nm * 4096.0) / 4096.0 : nm;
}

bool gerber_need_unit(struct gerber *g, size_t offset)
{
    if (g->unit != UNIT_UNKNOWN)
        return true;
    gerber_error(g, offset, "gerber-unit-unknown",
                 "add %MOMM*% or %MOIN*% behind the format statement, or export again",
                 "%s comes before the unit is known: expected %%MOMM*%% or %%MOIN*%% first",
                 gerber_quote_word(g, offset));
    return false;
}

/* ---- coordinates ---- */
static void note_digits(struct gerber *g, const struct decimal *d, const struct axis_format *f,
                        size_t offset)
{
    if (d->has_point)
        gerber_odd(g, offset, ODD_DECIMAL_POINT,
                   "coordinate with a decimal point: %s, read in the file's unit",
                   gerber_quote_word(g, offset));
    else if (d->digits > f->integer_digits + f->decimal_digits)
        gerber_odd(
            g, offset, ODD_TOO_MANY_DIGITS,
            "coordinate with more digits than the format %u.%u allows: %s, read as it stands",
            f->integer_digits, f->decimal_digits, gerber_quote_word(g, offset));
}

/* The number as digits with `decimals` digits behind the point, as the zeros that were left out
 * say. */
static void apply_format(const struct gerber *g, struct decimal *d, const struct axis_format *f)
{
    int decimals = d->decimals;
    if (!d->has_point)
        decimals =
            g->zeros == ZEROS_TRAILING_OMITTED ? d->digits - f->integer_digits : f->decimal_digits;
    for (; decimals < f->decimal_digits; decimals++)
        if (__builtin_mul_overflow(d->mantissa, 10, &d->mantissa))
            d->mantissa = d->mantissa < 0 ? INT64_MIN : INT64_MAX; /* out of range in any case */
    d->decimals = (uint8_t)decimals;
}

static int64_t divide_half_away(__int128 value, int64_t by)
{
    __int128 half = by / 2;
    return (int64_t)((value < 0 ? value - half : value + half) / by);
}

static const int64_t power_of_ten[] = {1,      10,      100,      1000,      10000,
                                       100000, 1000000, 10000000, 100000000, 1000000000};

/* Exact: an inch is 254 x 10^5 nm, a millimetre 10^6; rounded once, half away from zero. */
static bool decimal_to_nm(const struct gerber *g, const struct decimal *d, int64_t *out)
{
    int64_t unit = g->unit == UNIT_INCH ? 25400000 : 1000000;
    int64_t mantissa = d->mantissa;
    unsigned decimals = d->decimals;
    for (; decimals > 9; decimals--)
        mantissa /= 10; /* beyond 10^-9 of a unit: nothing */
    int64_t scale = power_of_ten[decimals];
    __int128 scaled = (__int128)mantissa * unit;
    if (scaled > (__int128)GERBER_COORD_LIMIT_NM * scale ||
        scaled < -(__int128)GERBER_COORD_LIMIT_NM * scale)
        return false;
    *out = scaled % scale == 0 ? (int64_t)(scaled / scale) : divide_half_away(scaled, scale);
    return true;
}

static bool tell_out_of_range(struct gerber *g, size_t offset)
{
    gerber_error(g, offset, "gerber-out-of-range",
                 "see that the unit and the number of digits of the export are right",
                 "%s lies beyond 1 km: expected a place on a board", gerber_quote_word(g, offset));
    return false;
}

/* MI and SF change the coordinates, but neither apertures nor steps. */
static int64_t mirror_and_scale(struct gerber *g, int axis, int64_t nm)
{
    bool is_mirrored = axis == 0 ? g->image.is_mirrored_x : g->image.is_mirrored_y;
    double scale = axis == 0 ? g->image.scale_x : g->image.scale_y;
    if (is_mirrored)
        nm = -nm;
    return scale == 1 ? nm : gerber_round_nm(g, (double)nm * scale);
}

static bool read_position(struct gerber *g, struct word *w, int axis, int64_t *out_nm)
{
    struct decimal *d = &w->value[axis];
    note_digits(g, d, &g->format[axis], w->value_offset[axis]);
    apply_format(g, d, &g->format[axis]);
    if (g->is_incremental) {
        if (g->raw[axis] != 0 && d->decimals != g->raw_decimals[axis]) {
            gerber_error(g, w->value_offset[axis], "gerber-incremental-point",
                         "export again with absolute coordinates",
                         "%s cannot be added to the point before it",
                         gerber_quote_word(g, w->value_offset[axis]));
            return false;
        }
        if (__builtin_add_overflow(d->mantissa, g->raw[axis], &d->mantissa))
            return tell_out_of_range(g, w->value_offset[axis]);
    }
    g->raw[axis] = d->mantissa;
    g->raw_decimals[axis] = d->decimals;
    if (!decimal_to_nm(g, d, out_nm))
        return tell_out_of_range(g, w->value_offset[axis]);
    *out_nm = mirror_and_scale(g, axis, *out_nm);
    return true;
}

static bool tell_point_unknown(struct gerber *g, struct word *w)
{
    gerber_error(g, w->offset, "gerber-point-unknown", "export again",
                 "%s needs the point before it, which is undefined behind a step-and-repeat or a "
                 "block: expected X and Y of a D02 or D03 first",
                 gerber_quote_word(g, w->offset));
    return false;
}

static bool read_target(struct gerber *g, struct word *w, struct pos_nm *out)
{
    if (!g->has_format && (w->has_value[AXIS_X] || w->has_value[AXIS_Y])) {
        gerber_error(g, w->offset, "gerber-format-unknown",
                     "export again as RS-274X, with a %FS format statement",
                     "%s comes before the format statement: expected %%FSLAX..Y..*%% first",
                     gerber_quote_word(g, w->offset));
        return false;
    }
    if (!gerber_need_unit(g, w->offset))
        return false;
    *out = g->point;
    int64_t *nm[2] = {&out->x_nm, &out->y_nm};
    for (int axis = 0; axis < 2; axis++) {
        if (w->has_value[axis]) {
            if (!read_position(g, w, axis, nm[axis]))
                return false;
        } else if (!g->is_point_known[axis]) {
            return tell_point_unknown(g, w);
        }
    }
    return true;
}

static bool read_offset(struct gerber *g, struct word *w, int axis, double *out_nm)
{
    *out_nm = 0;
    if (!w->has_value[axis])
        return true;
    struct decimal *d = &w->value[axis];
    const struct axis_format *f = &g->format[axis - AXIS_I];
    int64_t nm;
    note_digits(g, d, f, w->value_offset[axis]);
    apply_format(g, d, f);
    if (!decimal_to_nm(g, d, &nm))
        return tell_out_of_range(g, w->value_offset[axis]);
    /* A centre need not be a whole nanometre: not rounded. */
    double value = decimal_value(d) * (g->unit == UNIT_INCH ? 25400000.0 : 1000000.0);
    bool is_x = axis == AXIS_I;
    if (is_x ? g->image.is_mirrored_x : g->image.is_mirrored_y)
        value = -value;
    *out_nm = value * (is_x ? g->image.scale_x : g->image.scale_y);
    return true;
}

/* ---- operations ---- */
static void settle_interpolation(struct gerber *g, const struct word *w)
{
    if (g->interpolation != 0)
        return;
    gerber_odd(g, w->offset, ODD_NO_INTERPOLATION,
               "%s draws before any G01, G02 or G03: read as a straight line",
               gerber_quote_word(g, w->offset));
    g->interpolation = 1;
}

static bool has_tool(struct gerber *g, const struct word *w)
{
    if (g->tool != ISTHMUS_NONE)
        return true;
    gerber_error(g, w->offset, "gerber-no-aperture", "export again",
                 "%s draws before an aperture is chosen: expected Dnn first",
                 gerber_quote_word(g, w->offset));
    return false;
}

static void draw_arc(struct gerber *g, struct word *w, struct pos_nm to)
{
    struct point ij;
    struct arc arc;
    if (!read_offset(g, w, AXIS_I, &ij.x) || !read_offset(g, w, AXIS_J, &ij.y) ||
        !gerber_resolve_arc(g, g->point, to, ij, &arc))
        return;
    if (g->region.is_open)
        gerber_region_arc(g, to, &arc);
    else if (has_tool(g, w))
        gerber_stroke_arc(g, g->point, to, &arc);
}

static void draw(struct gerber *g, struct word *w, struct pos_nm to)
{
    settle_interpolation(g, w);
    if (!g->is_point_known[0] || !g->is_point_known[1]) {
        tell_point_unknown(g, w);
        return;
    }
    if (g->interpolation != 1)
        draw_arc(g, w, to);
    else if (g->region.is_open)
        gerber_region_line(g, to);
    else if (has_tool(g, w))
        gerber_stroke(g, g->point, to);
}

static void flash(struct gerber *g, const struct word *w, struct pos_nm to)
{
    if (g->region.is_open) {
        gerber_error(g, w->offset, "gerber-flash-in-region", "export again",
                     "%s flashes within a region: expected D01, D02 or G37",
                     gerber_quote_word(g, w->offset));
        return;
    }
    g->point = to;
    if (has_tool(g, w))
        gerber_flash(g);
}

static void operate(struct gerber *g, struct word *w, int operation)
{
    struct pos_nm to;
    g->has_operated = true;
    if (!read_target(g, w, &to))
        return;
    g->operation = operation;
    g->is_tool_newer = false;
    if (operation == 1)
        draw(g, w, to);
    else if (operation == 3)
        flash(g, w, to);
    else if (g->region.is_open)
        gerber_region_move(g, to);
    g->point = to;
    g->is_point_known[0] = g->is_point_known[1] = true;
    if (g->is_out_of_range) {
        tell_out_of_range(g, w->offset);
        g->is_out_of_range = false;
    }
}

/* Coordinates without a D code: the operation before holds on, while it is plain which one. */
static void operate_again(struct gerber *g, struct word *w)
{
    if (g->operation == 0) {
        gerber_error(g, w->offset, "gerber-operation-unknown", "export again",
                     "%s has no operation and none came before: expected D01, D02 or D03",
                     gerber_quote_word(g, w->offset));
        return;
    }
    if (g->is_tool_newer && g->operation != 1) {
        gerber_error(g, w->offset, "gerber-operation-unknown", "export again",
                     "%s has no operation and an aperture was chosen since the last D0%d: expected "
                     "D01, D02 or D03",
                     gerber_quote_word(g, w->offset), g->operation);
        return;
    }
    gerber_odd(g, w->offset, ODD_OMITTED_OPERATION,
               "%s has no operation: read as D0%d, as the one before it",
               gerber_quote_word(g, w->offset), g->operation);
    operate(g, w, g->operation);
}

static void set_unit(struct gerber *g, enum unit unit, size_t offset)
{
    if (g->unit != UNIT_UNKNOWN && g->unit != unit && (g->has_operated || g->has_unit_command)) {
        gerber_error(g, offset, "gerber-unit-changed", "export again with one unit",
                     "%s changes the unit of the file: expected the unit given before",
                     gerber_quote_word(g, offset));
        return;
    }
    g->unit = unit;
}

static void set_incremental(struct gerber *g, bool is_incremental, size_t offset)
{
    if (is_incremental)
        gerber_odd(g, offset, ODD_INCREMENTAL, "incremental coordinates (deprecated)");
    if (is_incremental && !g->is_incremental && g->has_operated && g->unit == UNIT_UNKNOWN)
        return;
    g->is_incremental = is_incremental;
}

static void set_quadrant_mode(struct gerber *g, int mode, size_t offset)
{
    (void)offset;
    g->quadrant_mode = mode;
}

static bool obsolete_g(struct gerber *g, uint32_t code, size_t offset)
{
    switch (code) {
    case 0:
        gerber_odd(g, offset, ODD_RAPID_MOVE, "G00 is no code of this format: read as G01");
        g->interpolation = 1;
        return true;
    case 70:
        set_unit(g, UNIT_INCH, offset);
        return true;
    case 71:
        set_unit(g, UNIT_MM, offset);
        return true;
    case 90:
    case 91:
        set_incremental(g, code == 91, offset);
        return true;
    case 54:
    case 55: /* "prepare for": an aperture or a flash follows in any case */
        return true;
    default:
        return false;
    }
}

static bool apply_g(struct gerber *g, uint32_t code, size_t offset)
{
    switch (code) {
    case 1:
    case 2:
    case 3:
        g->interpolation = (int)code;
        return true;
    case 36:
        gerber_region_open(g, offset);
        return true;
    case 37:
        gerber_region_close(g, offset);
        return true;
    case 74:
    case 75:
        set_quadrant_mode(g, (int)code, offset);
        return true;
    default:
        break;
    }
    if (obsolete_g(g, code, offset))
        return true;
    gerber_error(g, offset, "gerber-code-unknown",
                 "export again as RS-274X; this code is no part of it",
                 "%s: expected one of G01 G02 G03 G04 G36 G37 G54 G55 G70 G71 G74 G75 G90 G91",
                 gerber_quote_word(g, offset));
    return false;
}

static bool is_end_word(const struct gerber *g, size_t at)
{
    const uint8_t *word = g->bytes + at;
    return g->size - at >= 4 && word[0] == 'M' && word[1] == '0' &&
           (word[2] == '2' || word[2] == '0') && word[3] == '*';
}

/* What stands behind the end: white space is fine, a second end is noted, the rest is told. */
static void look_behind_end(struct gerber *g)
{
    gerber_skip_space(g);
    while (g->at < g->size && is_end_word(g, g->at)) {
        gerber_odd(g, g->at, ODD_END_TWICE, "a second end of file");
        gerber_advance_to(g, g->at + 4);
        gerber_skip_space(g);
    }
    if (g->at < g->size)
        gerber_odd(g, g->at, ODD_WORDS_AFTER_END, "%s stands behind the end of the file",
                   gerber_quote_word(g, g->at));
}

static void end_of_file(struct gerber *g, const struct word *w)
{
    if (g->region.is_open)
        gerber_error(g, w->offset, "gerber-region-open", "export again",
                     "the file ends within a region: expected G37 first");
    if (g->block_depth > 0)
        gerber_error(g, w->offset, "gerber-block-open", "export again",
                     "the file ends within a block aperture: expected %%AB*%% first");
    if (g->error_count == 0)
        gerber_step_close(g);
    g->is_ended = true;
}

static void apply_m(struct gerber *g, uint32_t code, const struct word *w)
{
    if (code == 30)
        gerber_odd(g, w->offset, ODD_M30, "M30 ends the file: expected M02");
    if (code == 0 || code == 2 || code == 30) {
        end_of_file(g, w);
        return;
    }
    if (code != 1)
        gerber_error(g, w->offset, "gerber-code-unknown", "export again as RS-274X",
                     "%s: expected M00, M01 or M02", gerber_quote_word(g, w->offset));
}

static void run_word(struct gerber *g, struct word *w)
{
    if (!w->has_d) {
        if (has_place(w))
            operate_again(g, w);
        else if (!w->has_code)
            gerber_odd(g, w->offset, ODD_EMPTY_WORD, "empty word: skipped");
        return;
    }
    if (w->d >= 1 && w->d <= 3) {
        operate(g, w, (int)w->d);
        return;
    }
    if (w->d < 10 || has_place(w)) {
        gerber_error(g, w->d_offset, "gerber-code-unknown", "export again",
                     "%s: expected D01, D02 or D03 behind coordinates, Dnn from 10 alone",
                     gerber_quote_word(g, w->d_offset));
        return;
    }
    gerber_select(g, w->d, w->d_offset);
}

/* ---- reading a word ---- */
static void resync(struct gerber *g, size_t at)
{
    while (at < g->size && g->bytes[at] != '*' && g->bytes[at] != '%')
        at++;
    if (at < g->size && g->bytes[at] == '*')
        at++;
    gerber_advance_to(g, at);
}

static void tell_unexpected(struct gerber *g, const struct word *w, size_t at)
{
    if (at >= g->size)
        gerber_error(g, w->offset, "gerber-truncated",
                     "the file is probably cut off: export or download it again",
                     "the file ends within %s: expected *", gerber_quote_word(g, w->offset));
    else
        gerber_error(
            g, at, "gerber-unexpected", "export again",
            "unexpected %s: expected * or one of X, Y, I, J, G, D, M with a number, each once",
            gerber_quote(g, at, at + 1));
}

static void read_comment(struct gerber *g, size_t at)
{
    const uint8_t *end = memchr(g->bytes + at, '*', g->size - at);
    if (!end) {
        gerber_error(g, at, "gerber-truncated",
                     "the file is probably cut off: export or download it again",
                     "the file ends within a comment: expected *");
        gerber_advance_to(g, g->size);
        return;
    }
    size_t stop = (size_t)(end - g->bytes);
    struct cursor c = {.bytes = g->bytes, .at = at, .end = stop};
    cursor_skip_space(&c);
    if (c.end - c.at > 5 && memcmp(c.bytes + c.at, "#@!", 3) == 0) {
        c.at += 3;
        cursor_skip_space(&c);
        uint8_t kind = c.at + 1 < c.end ? c.bytes[c.at + 1] : 0;
        if (c.at < c.end && c.bytes[c.at] == 'T' && kind && strchr("FAOD", kind)) {
            c.at += 2;
            gerber_attribute(g, (char)kind, c);
        }
    }
    gerber_advance_to(g, stop + 1);
}

static int axis_of(uint8_t letter)
{
    switch (letter) {
    case 'X':
        return AXIS_X;
    case 'Y':
        return AXIS_Y;
    case 'I':
        return AXIS_I;
    case 'J':
        return AXIS_J;
    default:
        return -1;
    }
}

enum step { STEP_GO_ON, STEP_BAD, STEP_COMMENT };

/* G, D, M or N with its number. */
static enum step read_code(struct gerber *g, struct word *w, struct cursor *c, uint8_t letter)
{
    size_t offset = c->at - 1;
    uint32_t code;
    if (!cursor_uint(c, INT32_MAX, &code))
        return STEP_BAD;
    w->has_code = true;
    switch (letter) {
    case 'G':
        if (code == 4)
            return STEP_COMMENT;
        apply_g(g, code, offset);
        return STEP_GO_ON;
    case 'D':
        if (w->has_d)
            return STEP_BAD; /* the * between two words is missing */
        w->has_d = true;
        w->d = code;
        w->d_offset = offset;
        return STEP_GO_ON;
    case 'M':
        if (w->has_d || has_place(w))
            return STEP_BAD;
        apply_m(g, code, w);
        return STEP_GO_ON;
    case 'N':
        gerber_odd(g, offset, ODD_SEQUENCE_NUMBER, "sequence numbers: skipped");
        return STEP_GO_ON;
    default:
        return STEP_BAD;
    }
}

static enum step read_part(struct gerber *g, struct word *w, struct cursor *c)
{
    size_t offset = c->at;
    uint8_t letter = c->bytes[c->at++];
    int axis = axis_of(letter);
    enum step step = STEP_BAD;
    if (axis < 0) {
        step = read_code(g, w, c, letter);
    } else if (!w->has_d && !w->has_value[axis] && cursor_decimal(c, &w->value[axis])) {
        w->has_value[axis] = true;
        w->value_offset[axis] = offset;
        step = STEP_GO_ON;
    }
    if (step == STEP_BAD)
        c->at = offset;
    return step;
}

void gerber_plain_word(struct gerber *g)
{
    struct word w = {.offset = g->at};
    struct cursor c = {.bytes = g->bytes, .at = g->at, .end = g->size};
    g->word_offset = g->at;
    g->word_at = (struct source_pos){
        .file_id = g->file_id, .line = g->line, .column = (uint32_t)(g->at - g->line_start) + 1};
    for (;;) {
        cursor_skip_space(&c);
        if (c.at < c.end && c.bytes[c.at] == '*')
            break;
        enum step step = c.at < c.end ? read_part(g, &w, &c) : STEP_BAD;
        if (step == STEP_COMMENT) {
            read_comment(g, c.at);
            return;
        }
        if (step == STEP_BAD) {
            tell_unexpected(g, &w, c.at);
            resync(g, c.at < g->size && c.bytes[c.at] == '%' && c.at == w.offset ? c.at + 1 : c.at);
            return;
        }
    }
    gerber_advance_to(g, c.at + 1);
    run_word(g, &w);
    if (g->is_ended)
        look_behind_end(g);
}
