/* One test record of a netlist, column by column. */
#include "ipc356_parts.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

#include "length.h"

/* Columns, counted from 1 (IPC-D-356A, from memory; confirmed on real files). */
enum {
    COL_NET = 4,
    COL_NET_END = 17,
    COL_REF = 21,
    COL_REF_END = 26,
    COL_DASH = 27,
    COL_PIN = 28,
    COL_PIN_END = 31,
    COL_MID = 32,
    COL_HOLE = 33,
    COL_PLATING = 38,
    COL_ACCESS = 39,
    COL_X = 42,
    COL_Y = 50,
    COL_Y_END = 57,
    COL_WIDTH = 58,
    COL_HEIGHT = 63,
    COL_ROTATION = 68,
    COL_MASK = 72,
    COL_LAST = 80
};

struct source_pos ipc356_at(const struct ipc356_reader *reader, size_t column)
{
    return (struct source_pos){reader->file_id, reader->line, (uint32_t)column};
}

/* The byte (from 1) of a column: where names are padded by characters, UTF-8 moves what follows. */
static size_t byte_of(const struct ipc356_reader *reader, size_t number)
{
    return number > COL_NET_END ? number + reader->extra : number;
}

static char byte_at(const struct ipc356_reader *reader, size_t byte)
{
    return (char)(byte <= reader->length ? reader->text[byte - 1] : ' ');
}

static char column(const struct ipc356_reader *reader, size_t number)
{
    return byte_at(reader, byte_of(reader, number));
}

static void find_extra(struct ipc356_reader *reader)
{
    size_t characters = 0, extra = 0;
    reader->extra = 0;
    if (column(reader, COL_X) == 'X')
        return;
    for (size_t i = 0; i < reader->length && characters <= COL_NET_END; i++) {
        bool is_inside = (reader->text[i] & 0xC0) == 0x80;
        extra += is_inside;
        characters += !is_inside;
    }
    reader->extra = byte_at(reader, COL_X + extra) == 'X' ? extra : 0;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

const char *ipc356_text(struct ipc356_reader *reader, size_t first, size_t last)
{
    first = byte_of(reader, first);
    last = last == COL_NET_END ? last + reader->extra : byte_of(reader, last);
    while (first <= last && is_blank(byte_at(reader, first)))
        first++;
    while (last >= first && is_blank(byte_at(reader, last)))
        last--;
    if (first > last)
        return NULL;
    const char *copy =
        arena_strndup(reader->arena, (const char *)reader->text + first - 1, last - first + 1);
    reader->is_out_of_memory |= !copy;
    return copy;
}

static bool fault(struct ipc356_reader *reader, size_t at, const char *expected)
{
    char found = column(reader, at);
    if (reader->is_quiet)
        return false;
    diag_add(reader->diags, DIAG_ERROR, "netlist-column", ipc356_at(reader, byte_of(reader, at)),
             "the columns of this record have shifted: export the netlist again",
             "column %zu: expected %s, found '%c'", at, expected,
             isprint((unsigned char)found) ? found : '?');
    return false;
}

/* Digits in columns first..last, blanks before them allowed; blank: 0. */
static bool digits(struct ipc356_reader *reader, size_t first, size_t last, int64_t *out)
{
    *out = 0;
    bool has_digit = false;
    for (size_t i = first; i <= last; i++) {
        char c = column(reader, i);
        if (c == ' ' && !has_digit)
            continue;
        if (!isdigit((unsigned char)c))
            return fault(reader, i, "a digit");
        has_digit = true;
        *out = *out * 10 + (c - '0');
    }
    return true;
}

/* Hundred-thousandths at most: six digits of 0.0001 in stay far below the limits of length_nm. */
static int64_t to_nm(const struct ipc356_reader *reader, int64_t value)
{
    int64_t nm = 0;
    length_nm(value, reader->is_metric ? 3 : 4, reader->is_metric ? LENGTH_MM : LENGTH_INCH, &nm);
    return nm;
}

static bool coordinate(struct ipc356_reader *reader, size_t first, char letter, int64_t *out_nm)
{
    char expected[4] = {'\'', letter, '\'', '\0'};
    int64_t value;
    char sign = column(reader, first + 1);
    if (column(reader, first) != letter)
        return fault(reader, first, expected);
    if (!strchr("+- ", sign) || sign == '\0')
        return fault(reader, first + 1, "+ or -");
    if (column(reader, first + 7) == ' ')
        return fault(reader, first + 7, "a digit");
    if (!digits(reader, first + 2, first + 7, &value))
        return false;
    *out_nm = to_nm(reader, sign == '-' ? -value : value);
    return true;
}

/* A letter that may be left out, and the digits behind it. */
static bool optional(struct ipc356_reader *reader, size_t first, size_t last, char letter,
                     const char *expected, int64_t *out)
{
    *out = 0;
    char c = column(reader, first);
    if (c == ' ') {
        for (size_t i = first + 1; i <= last; i++)
            if (column(reader, i) != ' ')
                return fault(reader, i, "a blank");
        return true;
    }
    return c == letter ? digits(reader, first + 1, last, out) : fault(reader, first, expected);
}

static bool hole(struct ipc356_reader *reader, struct netlist_point *point)
{
    int64_t size;
    char plating = column(reader, COL_PLATING);
    if (!optional(reader, COL_HOLE, COL_PLATING - 1, 'D', "'D' or a blank", &size))
        return false;
    point->hole_nm = to_nm(reader, size);
    if (plating == 'P')
        point->plating = PLATING_PLATED;
    else if (plating == 'U')
        point->plating = PLATING_NONE;
    else if (plating != ' ')
        return fault(reader, COL_PLATING, "P, U or a blank");
    return true;
}

static bool access(struct ipc356_reader *reader, struct netlist_point *point)
{
    int64_t side;
    if (!optional(reader, COL_ACCESS, COL_X - 1, 'A', "'A' or a blank", &side))
        return false;
    point->access = (uint8_t)side;
    return true;
}

static bool names(struct ipc356_reader *reader, struct netlist_point *point)
{
    char mid = column(reader, COL_MID), dash = column(reader, COL_DASH);
    point->net_as_written = ipc356_text(reader, COL_NET, COL_NET_END);
    point->ref = ipc356_text(reader, COL_REF, COL_REF_END);
    point->pin = ipc356_text(reader, COL_PIN, COL_PIN_END);
    if (dash != '-' && dash != ' ')
        return fault(reader, COL_DASH, "'-' or a blank");
    if (mid != 'M' && mid != ' ')
        return fault(reader, COL_MID, "'M' or a blank");
    for (size_t i = COL_NET_END + 1; i < COL_REF; i++)
        if (column(reader, i) != ' ')
            return fault(reader, i, "a blank behind the net's name");
    point->is_mid_net = mid == 'M';
    point->is_via = point->ref && strcmp(point->ref, "VIA") == 0;
    if (point->is_via)
        point->ref = point->pin = NULL;
    reader->has_full_name |= column(reader, COL_NET) != ' ' && column(reader, COL_NET_END) != ' ';
    return true;
}

/* CUST 2 states radians; three digits hold a full turn of them as hundredths and in no other way.
 * What is beyond a turn is taken back into it. */
static uint16_t rotation(struct ipc356_reader *reader, int64_t value)
{
    int64_t degrees = reader->is_radians ? llround((double)value / 100 * 180 / M_PI) : value;
    reader->has_radians |= reader->is_radians && value != 0;
    if (degrees > 360 && !reader->wide_turn_line)
        reader->wide_turn_line = reader->line;
    return (uint16_t)(degrees % 360);
}

static bool feature(struct ipc356_reader *reader, struct netlist_point *point)
{
    int64_t width, height, turn;
    if (!optional(reader, COL_WIDTH, COL_HEIGHT - 1, 'X', "'X' or a blank", &width) ||
        !optional(reader, COL_HEIGHT, COL_ROTATION - 1, 'Y', "'Y' or a blank", &height) ||
        !optional(reader, COL_ROTATION, COL_MASK - 1, 'R', "'R' or a blank", &turn))
        return false;
    point->width_nm = to_nm(reader, width);
    point->height_nm = to_nm(reader, height);
    point->rotation_deg = rotation(reader, turn);
    return true;
}

/* S and a digit, in column 72 or 73: both are written. Behind it nothing concerns us. */
static bool mask(struct ipc356_reader *reader, struct netlist_point *point)
{
    size_t at = column(reader, COL_MASK) == 'S' ? COL_MASK : COL_MASK + 1;
    char letter = column(reader, at), side = column(reader, at + 1);
    if (at != COL_MASK && column(reader, COL_MASK) != ' ')
        return fault(reader, COL_MASK, "'S' or a blank");
    if (letter == ' ')
        return true;
    if (letter != 'S')
        return fault(reader, at, "'S' or a blank");
    if (side != ' ' && !isdigit((unsigned char)side))
        return fault(reader, at + 1, "a digit");
    point->mask = (uint8_t)(side == ' ' ? 0 : side - '0');
    return true;
}

static bool is_long_enough(struct ipc356_reader *reader)
{
    if (reader->length >= byte_of(reader, COL_Y_END))
        return true;
    if (reader->is_quiet)
        return false;
    diag_add(reader->diags, DIAG_ERROR, "netlist-short", ipc356_at(reader, reader->length + 1),
             "get the whole file, or export the netlist again",
             "the record ends in column %zu, before its place (columns 42 to 57)", reader->length);
    return false;
}

static void add_point(struct ipc356_reader *reader, const struct netlist_point *point)
{
    if (!array_grow(&reader->points, sizeof *point, &reader->point_capacity,
                    reader->point_count + 1)) {
        reader->is_out_of_memory = true;
        return;
    }
    reader->points[reader->point_count++] = *point;
}

static bool read_columns(struct ipc356_reader *reader, struct netlist_point *point)
{
    find_extra(reader);
    return is_long_enough(reader) && names(reader, point) && hole(reader, point) &&
           access(reader, point) && coordinate(reader, COL_X, 'X', &point->at_nm.x_nm) &&
           coordinate(reader, COL_Y, 'Y', &point->at_nm.y_nm) && feature(reader, point) &&
           mask(reader, point);
}

void ipc356_point(struct ipc356_reader *reader, enum point_kind kind)
{
    struct netlist_point point = {.kind = kind, .at = ipc356_at(reader, 1)};
    reader->has_point = read_columns(reader, &point);
    if (reader->has_point)
        add_point(reader, &point);
}

static bool read_quietly(struct ipc356_reader *reader, struct netlist_point *point)
{
    reader->is_quiet = true;
    bool is_read = read_columns(reader, point);
    reader->is_quiet = false;
    return is_read;
}

bool ipc356_via_within(struct ipc356_reader *reader)
{
    struct netlist_point point = {.kind = POINT_THROUGH_HOLE, .at = ipc356_at(reader, 1)};
    reader->has_point = read_quietly(reader, &point);
    if (!reader->has_point)
        return false;
    point.is_via = point.is_within = true;
    point.ref = point.pin = NULL;
    add_point(reader, &point);
    return true;
}

/* Net and pin are those of the record before unless it says others; 099 is where that is probed, so
 * copper of its net, but not its pin. */
bool ipc356_continuation(struct ipc356_reader *reader, unsigned code)
{
    struct netlist_point point = {.at = ipc356_at(reader, 1), .is_continuation = true};
    bool is_known = code == 17 || code == 27 || code == 7 || code == 99;
    if (!is_known || !reader->has_point || !read_quietly(reader, &point))
        return false;
    const struct netlist_point *before = &reader->points[reader->point_count - 1];
    point.kind = code == 27 || code == 99 ? POINT_SURFACE : POINT_THROUGH_HOLE;
    point.is_within = before->is_within;
    point.is_via = before->is_via || code == 99;
    if (!point.net_as_written)
        point.net_as_written = before->net_as_written;
    if (!point.ref && code != 99) {
        point.ref = before->ref;
        point.pin = before->pin;
    }
    if (point.is_via)
        point.ref = point.pin = NULL;
    add_point(reader, &point);
    return true;
}
