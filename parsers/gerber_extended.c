/* What stands between % signs: format, unit, apertures, polarity, repeats, deprecated commands. */
#include "gerber_private.h"

#include <math.h>
#include <string.h>

static void tell_expected(struct gerber *g, size_t offset, const char *expected)
{
    gerber_error(g, offset, "gerber-command", "export again", "%s: expected %s",
                 gerber_quote_word(g, g->word_offset), expected);
}

static bool is_at_end(struct cursor *c)
{
    cursor_skip_space(c);
    return c->at >= c->end;
}

static bool take_word(struct cursor *c, const char *word)
{
    size_t length = strlen(word);
    cursor_skip_space(c);
    if (c->end - c->at < length || memcmp(c->bytes + c->at, word, length) != 0)
        return false;
    c->at += length;
    return true;
}

/* ---- FS ---- */
static bool take_digits(struct cursor *c, struct axis_format *out)
{
    cursor_skip_space(c);
    if (c->end - c->at < 2)
        return false;
    unsigned integers = c->bytes[c->at] - (unsigned)'0',
             decimals = c->bytes[c->at + 1] - (unsigned)'0';
    if (integers > 9 || decimals > 9)
        return false;
    *out = (struct axis_format){(uint8_t)integers, (uint8_t)decimals};
    c->at += 2;
    return true;
}

/* N2 G2 D2 M2: how many digits old controllers read in a code; says nothing about the image. */
static void skip_code_digits(struct cursor *c)
{
    uint32_t ignored;
    while (take_word(c, "N") || take_word(c, "G") || take_word(c, "D") || take_word(c, "M"))
        cursor_uint(c, 99, &ignored);
}

static enum zeros take_zeros(struct gerber *g, struct cursor *c)
{
    if (take_word(c, "L"))
        return ZEROS_LEADING_OMITTED;
    if (take_word(c, "T")) {
        gerber_odd(g, g->word_offset, ODD_TRAILING_ZEROS,
                   "trailing zeros are left out in coordinates (deprecated)");
        return ZEROS_TRAILING_OMITTED;
    }
    bool is_d = take_word(c, "D");
    gerber_odd(g, g->word_offset, ODD_NO_ZERO_OMISSION,
               "%s does not say which zeros are left out: expected L, read as none%s",
               gerber_quote_word(g, g->word_offset), is_d ? " (D)" : "");
    return ZEROS_KEPT;
}

static void format_statement(struct gerber *g, struct cursor *c)
{
    struct axis_format format[2];
    enum zeros zeros = take_zeros(g, c);
    bool is_incremental = take_word(c, "I");
    if (!is_incremental)
        take_word(c, "A");
    skip_code_digits(c);
    if (!take_word(c, "X") || !take_digits(c, &format[0]) || !take_word(c, "Y") ||
        !take_digits(c, &format[1])) {
        tell_expected(g, c->at, "FSLAXabYab, a integer and b decimal digits");
        return;
    }
    skip_code_digits(c);
    if (!is_at_end(c)) {
        tell_expected(g, c->at, "* behind FSLAXabYab");
        return;
    }
    bool is_other = memcmp(format, g->format, sizeof format) != 0 || zeros != g->zeros ||
                    is_incremental != g->is_incremental;
    if (g->has_format && is_other && g->has_operated) {
        tell_expected(g, g->word_offset, "one format in a file");
        return;
    }
    if (g->has_format && is_other)
        gerber_odd(g, g->word_offset, ODD_FORMAT_TWICE, "a second format statement: it holds");
    if (is_incremental)
        gerber_odd(g, g->word_offset, ODD_INCREMENTAL, "incremental coordinates (deprecated)");
    memcpy(g->format, format, sizeof format);
    g->zeros = zeros;
    g->is_incremental = is_incremental;
    g->has_format = true;
}

static void mode_of_units(struct gerber *g, struct cursor *c)
{
    enum unit unit = UNIT_UNKNOWN;
    if (take_word(c, "MM"))
        unit = UNIT_MM;
    else if (take_word(c, "IN"))
        unit = UNIT_INCH;
    if (unit == UNIT_UNKNOWN || !is_at_end(c)) {
        tell_expected(g, g->word_offset, "MOMM or MOIN");
        return;
    }
    if (g->unit != UNIT_UNKNOWN && g->unit != unit && (g->has_operated || g->has_unit_command)) {
        tell_expected(g, g->word_offset, "the unit given before");
        return;
    }
    g->unit = unit;
    g->has_unit_command = true;
}

/* ---- LP LM LR LS ---- */
static void load_polarity(struct gerber *g, struct cursor *c)
{
    bool is_clear = take_word(c, "C");
    if ((!is_clear && !take_word(c, "D")) || !is_at_end(c)) {
        tell_expected(g, g->word_offset, "LPD or LPC");
        return;
    }
    g->is_clear = is_clear;
}

static void load_mirroring(struct gerber *g, struct cursor *c)
{
    bool is_none = take_word(c, "N");
    bool is_x = !is_none && take_word(c, "X");
    bool is_y = !is_none && take_word(c, "Y");
    if ((!is_none && !is_x && !is_y) || !is_at_end(c)) {
        tell_expected(g, g->word_offset, "LMN, LMX, LMY or LMXY");
        return;
    }
    g->transform.is_mirrored_x = is_x;
    g->transform.is_mirrored_y = is_y;
}

static void load_rotation(struct gerber *g, struct cursor *c)
{
    double degrees;
    if (!cursor_number(c, &degrees) || !is_at_end(c) || fabs(degrees) > 1e6) {
        tell_expected(g, g->word_offset, "LR and a number of degrees");
        return;
    }
    g->transform.rotation_deg = fmod(degrees, 360);
}

static void load_scaling(struct gerber *g, struct cursor *c)
{
    double scale;
    if (!cursor_number(c, &scale) || !is_at_end(c) || !(scale > 0 && scale <= 1e6)) {
        tell_expected(g, g->word_offset, "LS and a factor above 0");
        return;
    }
    g->transform.scale = scale;
}

/* ---- SR, AB ---- */
static bool take_steps(struct gerber *g, struct cursor *c, uint32_t count[2], double step[2])
{
    static const char *const letters[2] = {"X", "Y"}, *const offsets[2] = {"I", "J"};
    for (int axis = 0; axis < 2; axis++) {
        count[axis] = 1;
        if (take_word(c, letters[axis]) && (!cursor_uint(c, 1000000, &count[axis]) || !count[axis]))
            return false;
    }
    for (int axis = 0; axis < 2; axis++) {
        step[axis] = 0;
        if (!take_word(c, offsets[axis]))
            continue;
        if (!cursor_number(c, &step[axis]))
            return false;
        step[axis] = gerber_nm(g, step[axis]);
    }
    return is_at_end(c);
}

static void step_and_repeat(struct gerber *g, struct cursor *c)
{
    uint32_t count[2];
    double step[2];
    if (g->block_depth > 0) {
        tell_expected(g, g->word_offset, "no step and repeat within a block aperture");
        return;
    }
    if (is_at_end(c)) {
        gerber_step_close(g);
        return;
    }
    if (!take_steps(g, c, count, step)) {
        tell_expected(g, c->at, "SRXnYnIdJd with n from 1, or SR alone");
        return;
    }
    if ((count[0] > 1 || count[1] > 1) && !gerber_need_unit(g, g->word_offset))
        return;
    gerber_step_open(g, count[0], count[1], step[0], step[1]);
}

static void block_aperture(struct gerber *g, struct cursor *c)
{
    uint32_t code;
    if (is_at_end(c)) {
        gerber_block_close(g);
        return;
    }
    if (!take_word(c, "D") || !cursor_uint(c, INT32_MAX, &code) || code < 10 || !is_at_end(c)) {
        tell_expected(g, c->at, "ABDnn with nn from 10, or AB alone");
        return;
    }
    gerber_block_open(g, (int32_t)code);
}

/* ---- deprecated commands of the whole image ---- */
static bool may_change_image(struct gerber *g, bool is_change)
{
    if (!is_change || !g->has_operated)
        return true;
    gerber_error(
        g, g->word_offset, "gerber-late-command", "export again without this command",
        "%s changes the whole image after drawing began: expected it before the first D01, "
        "D02 or D03",
        gerber_quote_word(g, g->word_offset));
    return false;
}

static bool take_pair(struct cursor *c, double *a, double *b)
{
    if (take_word(c, "A") && !cursor_number(c, a))
        return false;
    if (take_word(c, "B") && !cursor_number(c, b))
        return false;
    return is_at_end(c);
}

static void offset_image(struct gerber *g, struct cursor *c)
{
    double a = 0, b = 0;
    if (!take_pair(c, &a, &b)) {
        tell_expected(g, c->at, "OFAnBn");
        return;
    }
    if (!may_change_image(g, a != g->image.offset_x || b != g->image.offset_y))
        return;
    if (a != 0 || b != 0)
        gerber_odd(g, g->word_offset, ODD_IMAGE_MOVED, "%s moves the image (deprecated)",
                   gerber_quote_word(g, g->word_offset));
    g->image.offset_x = a;
    g->image.offset_y = b;
}

static void scale_factor(struct gerber *g, struct cursor *c)
{
    double a = 1, b = 1;
    if (!take_pair(c, &a, &b) || !(a > 0 && a <= 1000 && b > 0 && b <= 1000)) {
        tell_expected(g, g->word_offset, "SFAnBn with factors above 0");
        return;
    }
    if (!may_change_image(g, a != g->image.scale_x || b != g->image.scale_y))
        return;
    if (a != 1 || b != 1)
        gerber_odd(g, g->word_offset, ODD_IMAGE_MOVED,
                   "%s scales the coordinates but not the apertures (deprecated)",
                   gerber_quote_word(g, g->word_offset));
    g->image.scale_x = a;
    g->image.scale_y = b;
}

static void mirror_image(struct gerber *g, struct cursor *c)
{
    double a = 0, b = 0;
    if (!take_pair(c, &a, &b) || (a != 0 && a != 1) || (b != 0 && b != 1)) {
        tell_expected(g, g->word_offset, "MIAnBn with n 0 or 1");
        return;
    }
    if (!may_change_image(g,
                          (a == 1) != g->image.is_mirrored_x || (b == 1) != g->image.is_mirrored_y))
        return;
    if (a != 0 || b != 0)
        gerber_odd(g, g->word_offset, ODD_IMAGE_MOVED,
                   "%s mirrors the coordinates but not the apertures (deprecated)",
                   gerber_quote_word(g, g->word_offset));
    g->image.is_mirrored_x = a == 1;
    g->image.is_mirrored_y = b == 1;
}

static void rotate_image(struct gerber *g, struct cursor *c)
{
    uint32_t degrees;
    cursor_skip_space(c);
    if (!cursor_uint(c, 270, &degrees) || degrees % 90 != 0 || !is_at_end(c)) {
        tell_expected(g, g->word_offset, "IR0, IR90, IR180 or IR270");
        return;
    }
    int turns = (int)degrees / 90;
    if (!may_change_image(g, turns != g->image.quarter_turns))
        return;
    if (turns)
        gerber_odd(g, g->word_offset, ODD_IMAGE_MOVED, "%s turns the image (deprecated)",
                   gerber_quote_word(g, g->word_offset));
    g->image.quarter_turns = turns;
}

static void image_polarity(struct gerber *g, struct cursor *c)
{
    bool is_negative = take_word(c, "NEG");
    if ((!is_negative && !take_word(c, "POS")) || !is_at_end(c)) {
        tell_expected(g, g->word_offset, "IPPOS or IPNEG");
        return;
    }
    if (!may_change_image(g, is_negative != g->image.is_negative))
        return;
    if (is_negative)
        gerber_odd(g, g->word_offset, ODD_IMAGE_NEGATIVE,
                   "IPNEG turns the whole image into its negative (deprecated)");
    g->image.is_negative = is_negative;
}

static void axis_select(struct gerber *g, struct cursor *c)
{
    bool is_swapped = take_word(c, "AYBX");
    if ((!is_swapped && !take_word(c, "AXBY")) || !is_at_end(c)) {
        tell_expected(g, g->word_offset, "ASAXBY or ASAYBX");
        return;
    }
    if (!may_change_image(g, is_swapped != g->image.is_swapped))
        return;
    if (is_swapped)
        gerber_odd(g, g->word_offset, ODD_AXES_SWAPPED,
                   "%s swaps X and Y of the image (deprecated)",
                   gerber_quote_word(g, g->word_offset));
    g->image.is_swapped = is_swapped;
}

static void image_name(struct gerber *g, struct cursor *c)
{
    char *name = arena_strndup(g->arena, (const char *)c->bytes + c->at, c->end - c->at);
    if (!name)
        g->is_out_of_memory = true;
    g->out->image_name = name;
}

static void layer_name(struct gerber *g, struct cursor *c)
{
    (void)g; /* a comment */
    c->at = c->end;
}

/* Where a plotter put the image on its film: nothing that changes the image itself. */
static void plotter_command(struct gerber *g, struct cursor *c)
{
    c->at = c->end;
    gerber_odd(g, g->word_offset, ODD_OLD_COMMAND, "%s is for old plotters: skipped",
               gerber_quote_word(g, g->word_offset));
}

/* ---- the table ---- */
static const struct command {
    char letters[3];
    bool may_stand_in_region;
    void (*run)(struct gerber *g, struct cursor *c);
} commands[] = {
    {"FS", true, format_statement},
    {"MO", true, mode_of_units},
    {"AD", true, gerber_define_aperture},
    {"LP", false, load_polarity},
    {"LM", false, load_mirroring},
    {"LR", false, load_rotation},
    {"LS", false, load_scaling},
    {"SR", false, step_and_repeat},
    {"AB", false, block_aperture},
    {"OF", true, offset_image},
    {"SF", true, scale_factor},
    {"MI", true, mirror_image},
    {"IR", true, rotate_image},
    {"IP", true, image_polarity},
    {"AS", true, axis_select},
    {"IN", true, image_name},
    {"LN", true, layer_name},
    {"IJ", true, plotter_command},
    {"IC", true, plotter_command},
    {"PF", true, plotter_command},
};

static const struct command *find_command(const uint8_t *letters)
{
    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++)
        if (memcmp(letters, commands[i].letters, 2) == 0)
            return &commands[i];
    return NULL;
}

static void tell_unknown(struct gerber *g)
{
    gerber_error(
        g, g->word_offset, "gerber-command-unknown", "export again as RS-274X without this command",
        "%s is unknown or cannot be carried out: expected FS MO AD AM AB SR LP LM LR LS TF "
        "TA TO TD, or IP IN LN MI OF SF IR AS",
        gerber_quote_word(g, g->word_offset));
}

static void run_command(struct gerber *g, struct cursor *c)
{
    const uint8_t *letters = c->bytes + c->at;
    if (c->end - c->at < 2) {
        tell_unknown(g);
        return;
    }
    if (letters[0] == 'T' && strchr("FAOD", letters[1]) && letters[1]) {
        c->at += 2;
        gerber_attribute(g, (char)letters[1], *c);
        return;
    }
    const struct command *command = find_command(letters);
    if (!command) {
        tell_unknown(g);
        return;
    }
    if (g->region.is_open && !command->may_stand_in_region) {
        gerber_error(g, g->word_offset, "gerber-command-in-region", "export again",
                     "%s stands within a region: expected G37 first",
                     gerber_quote_word(g, g->word_offset));
        return;
    }
    c->at += 2;
    command->run(g, c);
    if (g->is_out_of_range) {
        g->is_out_of_range = false;
        tell_expected(g, g->word_offset, "lengths that fit a board");
    }
}

static size_t find_byte(const struct gerber *g, size_t from, size_t to, uint8_t byte)
{
    const uint8_t *found = memchr(g->bytes + from, byte, to - from);
    return found ? (size_t)(found - g->bytes) : to;
}

static void begin_word(struct gerber *g)
{
    g->word_offset = g->at;
    g->word_at = (struct source_pos){
        .file_id = g->file_id, .line = g->line, .column = (uint32_t)(g->at - g->line_start) + 1};
}

/* One command of the block that ends before `end`; a macro takes all the rest. */
static void read_command(struct gerber *g, size_t end)
{
    struct cursor c = {.bytes = g->bytes, .at = g->at, .end = end};
    begin_word(g);
    if (end - g->at >= 2 && memcmp(g->bytes + g->at, "AM", 2) == 0) {
        c.at += 2;
        gerber_define_macro(g, &c);
        gerber_advance_to(g, end);
        return;
    }
    c.end = find_byte(g, g->at, end, '*');
    if (c.end == end)
        tell_expected(g, end, "* at the end of a command");
    else if (c.end == c.at)
        gerber_odd(g, c.at, ODD_EMPTY_WORD, "empty word: skipped");
    else
        run_command(g, &c);
    gerber_advance_to(g, c.end < end ? c.end + 1 : end);
}

void gerber_extended_block(struct gerber *g)
{
    size_t open = g->at, end = find_byte(g, g->at + 1, g->size, '%');
    if (end == g->size) {
        gerber_error(g, open, "gerber-truncated",
                     "the file is probably cut off: export or download it again",
                     "the file ends within a command that begins with %s: expected %%",
                     gerber_quote(g, open, end));
        gerber_advance_to(g, g->size);
        return;
    }
    gerber_advance_to(g, open + 1);
    for (;;) {
        gerber_skip_space(g);
        if (g->at >= end || gerber_should_stop(g))
            break;
        read_command(g, end);
    }
    gerber_advance_to(g, end + 1);
}
