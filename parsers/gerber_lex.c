/* Words, numbers, quoting and diagnostics of the drawing reader. */
#include "gerber_private.h"

#include <stdio.h>
#include <string.h>

static const struct {
    const char *code, *advice;
    enum diag_level level;
} oddities[ODD_COUNT] = {
    [ODD_EMPTY_WORD] = {"gerber-empty-word", NULL, DIAG_WARNING},
    [ODD_OMITTED_OPERATION] = {"gerber-omitted-operation", NULL, DIAG_WARNING},
    [ODD_UPPER_CASE_X] = {"gerber-upper-case-x", NULL, DIAG_WARNING},
    [ODD_ARC_BEFORE_MODE] = {"gerber-arc-before-mode", "export again with G75 before the first arc",
                             DIAG_WARNING},
    [ODD_NO_INTERPOLATION] = {"gerber-no-interpolation", NULL, DIAG_WARNING},
    [ODD_TOO_MANY_DIGITS] = {"gerber-too-many-digits", NULL, DIAG_WARNING},
    [ODD_DECIMAL_POINT] = {"gerber-decimal-point", NULL, DIAG_WARNING},
    [ODD_WORDS_AFTER_END] = {"gerber-words-after-end",
                             "they were not read: see that nothing was appended by mistake",
                             DIAG_WARNING},
    [ODD_END_TWICE] = {"gerber-end-twice", NULL, DIAG_NOTE},
    [ODD_M30] = {"gerber-m30", NULL, DIAG_WARNING},
    [ODD_TRAILING_ZEROS] = {"gerber-trailing-zeros", NULL, DIAG_NOTE},
    [ODD_INCREMENTAL] = {"gerber-incremental", NULL, DIAG_NOTE},
    [ODD_NO_ZERO_OMISSION] = {"gerber-no-zero-omission", NULL, DIAG_WARNING},
    [ODD_REDEFINED_APERTURE] = {"gerber-redefined-aperture", NULL, DIAG_WARNING},
    [ODD_REDEFINED_MACRO] = {"gerber-redefined-macro", NULL, DIAG_WARNING},
    [ODD_REDEFINED_VARIABLE] = {"gerber-redefined-variable", NULL, DIAG_WARNING},
    [ODD_ZERO_SIZE] = {"gerber-zero-size", NULL, DIAG_WARNING},
    [ODD_OPEN_CONTOUR] = {"gerber-open-contour", "export again; areas must be closed",
                          DIAG_WARNING},
    [ODD_SELF_CROSSING] = {"gerber-self-crossing",
                           "look at this area: programs differ in what they fill", DIAG_WARNING},
    [ODD_RADII_DIFFER] = {"gerber-radii-differ", "look at this arc: programs differ in its way",
                          DIAG_WARNING},
    [ODD_IMAGE_NEGATIVE] = {"gerber-image-negative", NULL, DIAG_WARNING},
    [ODD_IMAGE_MOVED] = {"gerber-image-moved",
                         "see that the layers and the drills still lie on each other",
                         DIAG_WARNING},
    [ODD_AXES_SWAPPED] = {"gerber-axes-swapped",
                          "see that the layers and the drills still lie on each other",
                          DIAG_WARNING},
    [ODD_SEQUENCE_NUMBER] = {"gerber-sequence-number", NULL, DIAG_NOTE},
    [ODD_RAPID_MOVE] = {"gerber-rapid-move", NULL, DIAG_WARNING},
    [ODD_MISSING_ROTATION] = {"gerber-missing-rotation", NULL, DIAG_WARNING},
    [ODD_ODD_APERTURE_STROKE] = {"gerber-stroke-aperture", NULL, DIAG_NOTE},
    [ODD_FORMAT_TWICE] = {"gerber-format-twice", NULL, DIAG_WARNING},
    [ODD_SINGLE_QUADRANT] = {"gerber-single-quadrant", NULL, DIAG_NOTE},
    [ODD_OLD_COMMAND] = {"gerber-old-command", NULL, DIAG_WARNING},
    [ODD_BAD_ATTRIBUTE] = {"gerber-attribute", NULL, DIAG_WARNING},
    [ODD_NOT_LOOKED_AT] = {"gerber-not-looked-at", NULL, DIAG_NOTE},
    [ODD_HOLE_FILLS] = {"gerber-hole-fills", NULL, DIAG_WARNING},
};

struct source_pos gerber_place(const struct gerber *g, size_t offset)
{
    return source_locate(g->file_id, g->bytes, g->size, offset);
}

void gerber_error(struct gerber *g, size_t offset, const char *code, const char *advice,
                  const char *format, ...)
{
    char text[600];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    g->error_count++;
    diag_add(g->diags, DIAG_ERROR, code, gerber_place(g, offset), advice, "%s", text);
}

/* Told once a file; the further ones are counted there. */
static void count_again(struct gerber *g, enum oddity oddity)
{
    g->diags->warning_count += oddities[oddity].level == DIAG_WARNING;
    if (g->is_told_kept[oddity])
        g->diags->items[g->told_at[oddity]].suppressed_count++;
}

void gerber_odd(struct gerber *g, size_t offset, enum oddity oddity, const char *format, ...)
{
    uint64_t bit = UINT64_C(1) << oddity;
    _Static_assert(ODD_COUNT <= 64, "one bit an oddity");
    if (g->told & bit) {
        count_again(g, oddity);
        return;
    }
    g->told |= bit;
    size_t before = g->diags->count;
    char text[600];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    diag_add(g->diags, oddities[oddity].level, oddities[oddity].code, gerber_place(g, offset),
             oddities[oddity].advice, "%s", text);
    g->told_at[oddity] = before;
    g->is_told_kept[oddity] = g->diags->count > before;
}

const char *gerber_quote(struct gerber *g, size_t from, size_t to)
{
    size_t used = 0, room = sizeof g->quoted - 16;
    g->quoted[used++] = '"';
    for (size_t i = from; i < to && i < g->size; i++) {
        uint8_t byte = g->bytes[i];
        if (used > room || i - from > 60) {
            memcpy(g->quoted + used, "...", 3);
            used += 3;
            break;
        }
        if (byte >= ' ' && byte != 0x7f)
            g->quoted[used++] = (char)byte;
        else
            used += (size_t)snprintf(g->quoted + used, 5, "\\x%02X", byte);
    }
    g->quoted[used++] = '"';
    g->quoted[used] = '\0';
    return g->quoted;
}

const char *gerber_quote_word(struct gerber *g, size_t from)
{
    size_t to = from;
    while (to < g->size && to - from < 70 && g->bytes[to] != '*' &&
           (g->bytes[to] != '%' || to == from))
        to++;
    if (to < g->size && g->bytes[to] == '*')
        to++;
    return gerber_quote(g, from, to);
}

void gerber_advance_to(struct gerber *g, size_t at)
{
    const uint8_t *bytes = g->bytes;
    for (size_t i = g->at; i < at; i++) {
        if (bytes[i] > '\r')
            continue;
        bool is_lone_cr = bytes[i] == '\r' && (i + 1 >= g->size || bytes[i + 1] != '\n');
        if (bytes[i] == '\n' || is_lone_cr) {
            g->line++;
            g->line_start = i + 1;
        }
    }
    g->at = at;
}

static bool is_space(uint8_t byte)
{
    return byte == ' ' || (byte >= '\t' && byte <= '\r');
}

void gerber_skip_space(struct gerber *g)
{
    size_t at = g->at;
    while (at < g->size && is_space(g->bytes[at]))
        at++;
    gerber_advance_to(g, at);
}

void cursor_skip_space(struct cursor *c)
{
    while (c->at < c->end && is_space(c->bytes[c->at]))
        c->at++;
}

bool cursor_take(struct cursor *c, uint8_t byte)
{
    cursor_skip_space(c);
    if (c->at >= c->end || c->bytes[c->at] != byte)
        return false;
    c->at++;
    return true;
}

/* 17 digits are more than any double or any nanometre within the limit needs. */
#define MAX_DIGITS 17

bool cursor_decimal(struct cursor *c, struct decimal *out)
{
    const uint8_t *bytes = c->bytes;
    size_t at = c->at, end = c->end;
    bool is_negative = at < end && bytes[at] == '-';
    if (at < end && (bytes[at] == '-' || bytes[at] == '+'))
        at++;
    int64_t mantissa = 0;
    unsigned digits = 0, significant = 0, decimals = 0;
    bool has_point = false;
    for (; at < end; at++) {
        unsigned digit = (unsigned)bytes[at] - '0';
        if (digit <= 9) {
            digits += digits < 255;
            if (significant < MAX_DIGITS) {
                mantissa = mantissa * 10 + (int64_t)digit;
                significant += mantissa != 0;
                decimals += has_point;
            } else if (!has_point) {
                return false;
            }
        } else if (bytes[at] == '.' && !has_point) {
            has_point = true;
        } else {
            break;
        }
    }
    if (digits == 0 || decimals > 255)
        return false;
    *out = (struct decimal){.mantissa = is_negative ? -mantissa : mantissa,
                            .decimals = (uint8_t)decimals,
                            .digits = (uint8_t)digits,
                            .has_point = has_point};
    c->at = at;
    return true;
}

double decimal_value(const struct decimal *d)
{
    /* Powers up to 1e22 are exact in a double, so a short number is rounded once. */
    static const double power[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                   1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                   1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
    double value = (double)d->mantissa;
    for (unsigned left = d->decimals; left;) {
        unsigned step = left > 22 ? 22 : left;
        value /= power[step];
        left -= step;
    }
    return value;
}

bool cursor_number(struct cursor *c, double *out)
{
    struct decimal d;
    cursor_skip_space(c);
    if (!cursor_decimal(c, &d))
        return false;
    *out = decimal_value(&d);
    return true;
}

bool cursor_uint(struct cursor *c, uint32_t limit, uint32_t *out)
{
    size_t at = c->at;
    uint64_t value = 0;
    while (at < c->end && c->bytes[at] >= '0' && c->bytes[at] <= '9' && value <= limit)
        value = value * 10 + (c->bytes[at++] - (uint64_t)'0');
    if (at == c->at || value > limit)
        return false;
    *out = (uint32_t)value;
    c->at = at;
    return true;
}

bool gerber_should_stop(const struct gerber *g)
{
    return g->is_ended || g->is_out_of_memory || g->is_too_large ||
           g->error_count >= GERBER_MAX_ERRORS;
}
