/*
 * Bare-board test netlists, IPC-D-356 and -356A: fixed columns, one record a line.
 *
 * The published standard is not free; columns and codes are from memory and were confirmed on
 * netlists that real exporters wrote.
 */
#include "isthmus/netlist.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "ipc356_parts.h"

#define COL_ROTATION 68
#define LOOK_BYTES ((size_t)65536)

static bool starts(const struct ipc356_reader *reader, size_t column, const char *word)
{
    size_t length = strlen(word);
    return column - 1 + length <= reader->length &&
           strncasecmp((const char *)reader->text + column - 1, word, length) == 0;
}

/* ---- parameters ---------------------------------------------------------------------------- */

static bool is_blank(uint8_t byte)
{
    return byte == ' ' || byte == '\t';
}

static size_t skip_blanks(const struct ipc356_reader *reader, size_t column)
{
    while (column <= reader->length && is_blank(reader->text[column - 1]))
        column++;
    return column;
}

static size_t skip_word(const struct ipc356_reader *reader, size_t column)
{
    while (column <= reader->length && !is_blank(reader->text[column - 1]))
        column++;
    return skip_blanks(reader, column);
}

static bool is_word(const struct ipc356_reader *reader, size_t column, const char *word)
{
    size_t end = column + strlen(word);
    return starts(reader, column, word) &&
           (end > reader->length || is_blank(reader->text[end - 1]));
}

/* CUST 0: 0.0001 in and degrees; CUST 1, SI: 0.001 mm and degrees; CUST 2: 0.0001 in, radians. */
static void read_units(struct ipc356_reader *reader, size_t at)
{
    size_t value = is_word(reader, at, "CUST") ? skip_word(reader, at) : at;
    bool is_cust = value != at;
    bool is_metric = (is_cust && is_word(reader, value, "1")) || is_word(reader, at, "SI");
    bool is_radians = is_cust && is_word(reader, value, "2");
    if (!is_metric && !is_radians && !(is_cust && is_word(reader, value, "0"))) {
        diag_add(reader->diags, DIAG_ERROR, "netlist-units", ipc356_at(reader, at),
                 "expected UNITS CUST 0, CUST 1, CUST 2 or SI", "unknown units \"%.*s\"",
                 (int)(reader->length - at + 1 < 20 ? reader->length - at + 1 : 20),
                 (const char *)reader->text + at - 1);
        reader->has_units = true; /* told; that none is stated would be wrong */
        return;
    }
    if (reader->has_units && (reader->is_metric != is_metric || reader->is_radians != is_radians))
        diag_add(reader->diags, DIAG_ERROR, "netlist-units", ipc356_at(reader, at),
                 "a netlist has one unit: export it again", "a second, different unit");
    else if (!reader->has_units && reader->point_count > 0)
        diag_add(reader->diags, DIAG_ERROR, "netlist-units", ipc356_at(reader, at),
                 "UNITS must stand before the first record", "units stated behind records");
    reader->has_units = true;
    reader->is_metric = is_metric;
    reader->is_radians = is_radians;
}

static void read_parameter(struct ipc356_reader *reader)
{
    size_t at = skip_blanks(reader, 2);
    size_t value = skip_word(reader, at);
    if (is_word(reader, at, "UNITS"))
        read_units(reader, value);
    else if (is_word(reader, at, "JOB") && !reader->out->job)
        reader->out->job = ipc356_text(reader, value, reader->length);
    else if (starts(reader, at, "NNAME"))
        ipc356_alias(reader, at);
    else
        reader->parameter_count++;
}

/* ---- records ------------------------------------------------------------------------------- */

static bool is_three_digits(const struct ipc356_reader *reader)
{
    return reader->length >= 3 && isdigit(reader->text[0]) && isdigit(reader->text[1]) &&
           isdigit(reader->text[2]);
}

/* Codes that exist (from memory). Those that are not read place no point, or say what the drawings
 * say themselves: adjacency, conductors, board edges, and continuations (0nn) of these. */
static bool is_known_code(unsigned code)
{
    return code < 100 || (code >= 300 && code < 400);
}

static void read_record(struct ipc356_reader *reader)
{
    unsigned code = (unsigned)(reader->text[0] - '0') * 100 +
                    (unsigned)(reader->text[1] - '0') * 10 + (unsigned)(reader->text[2] - '0');
    if (code == 317)
        ipc356_point(reader, POINT_THROUGH_HOLE);
    else if (code == 327)
        ipc356_point(reader, POINT_SURFACE);
    else if (code == 367)
        ipc356_point(reader, POINT_TOOLING);
    else if (code == 999)
        reader->has_ended = true;
    else if ((code == 307 && ipc356_via_within(reader)) ||
             (code < 100 && ipc356_continuation(reader, code)))
        return;
    else if (!is_known_code(code))
        diag_add(reader->diags, DIAG_ERROR, "netlist-record", ipc356_at(reader, 1),
                 "expected C, P or an operation code such as 317, 327, 367, 999",
                 "unknown operation code %03u", code);
    else if (reader->unused_counts[code]++ == 0)
        reader->unused_lines[code] = reader->line;
    reader->has_point &= code < 100 || code == 317 || code == 327 || code == 367;
}

static bool is_parameter(const struct ipc356_reader *reader)
{
    return reader->text[0] == 'P' || reader->text[0] == 'p';
}

/* Columns cannot be counted across a tab (parameters have none), and no other control byte belongs
 * here. */
static bool is_printable(struct ipc356_reader *reader)
{
    for (size_t i = 0; i < reader->length; i++)
        if ((reader->text[i] < 0x20 && !(reader->text[i] == '\t' && is_parameter(reader))) ||
            reader->text[i] == 0x7f) {
            diag_add(reader->diags, DIAG_ERROR, "netlist-byte", ipc356_at(reader, i + 1),
                     "a netlist has fixed columns and plain text: export it again",
                     "control byte 0x%02x", reader->text[i]);
            return false;
        }
    return true;
}

static void read_line(struct ipc356_reader *reader)
{
    if (skip_blanks(reader, 1) > reader->length || toupper(reader->text[0]) == 'C')
        return;
    if (reader->has_ended) {
        if (!reader->has_content_after_end)
            diag_add(reader->diags, DIAG_WARNING, "netlist-after-end", ipc356_at(reader, 1),
                     "nothing behind the 999 record was read", "there is more behind the end");
        reader->has_content_after_end = true;
        return;
    }
    if (!is_printable(reader))
        return;
    if (is_parameter(reader))
        read_parameter(reader);
    else if (is_three_digits(reader))
        read_record(reader);
    else
        diag_add(reader->diags, DIAG_ERROR, "netlist-record", ipc356_at(reader, 1),
                 "expected C, P or an operation code such as 317, 327, 367, 999",
                 "a line that is no record: \"%.*s\"",
                 (int)(reader->length < 20 ? reader->length : 20), (const char *)reader->text);
}

/* 0x1a ends DOS files. */
static bool is_padding(uint8_t byte)
{
    return is_blank(byte) || byte == 0x1a;
}

static void for_each_line(struct ipc356_reader *reader, size_t size,
                          void (*visit)(struct ipc356_reader *))
{
    for (size_t at = 0; at < size && !reader->is_out_of_memory;) {
        size_t start = at;
        while (at < size && reader->bytes[at] != '\n' && reader->bytes[at] != '\r')
            at++;
        reader->line++;
        reader->text = reader->bytes + start;
        reader->length = at - start;
        while (reader->length > 0 && is_padding(reader->text[reader->length - 1]))
            reader->length--;
        visit(reader);
        reader->is_line_open = at == size;
        at++;
        if (at < size && reader->bytes[at - 1] == '\r' && reader->bytes[at] == '\n')
            at++;
    }
}

/* ---- the whole file ------------------------------------------------------------------------ */

/* What a code's records are, and why the check does without them. */
static const char *code_meaning(unsigned code)
{
    switch (code) {
    case 7:
    case 17:
    case 27:
    case 67:
    case 99:
        return "continuations that give no further place";
    case 307:
    case 308:
    case 309:
        return "vias within the board, in columns of their own: the drill files have them";
    case 70:
    case 79:
    case 370:
    case 379:
        return "which nets lie side by side: nothing of the check";
    case 78:
    case 378:
        return "conductors: the drawings have them";
    case 89:
    case 389:
        return "board edges: the profile has them";
    default:
        return "other records, which place no point";
    }
}

static void tell_rotations(struct ipc356_reader *reader)
{
    if (reader->has_radians)
        diag_add(reader->diags, DIAG_WARNING, "netlist-radians",
                 (struct source_pos){reader->file_id, 0, 0},
                 "sizes of turned pads are not to be relied on",
                 "rotations in radians (UNITS CUST 2) were read as hundredths");
    if (reader->wide_turn_line)
        diag_add(reader->diags, DIAG_NOTE, "netlist-rotation",
                 (struct source_pos){reader->file_id, reader->wide_turn_line, COL_ROTATION}, NULL,
                 "a rotation of more than a full turn was taken back into it");
}

static void tell_unused(struct ipc356_reader *reader)
{
    for (unsigned code = 0; code < 1000; code++)
        if (reader->unused_counts[code])
            diag_add(reader->diags, DIAG_NOTE, "netlist-unused",
                     (struct source_pos){reader->file_id, reader->unused_lines[code], 1}, NULL,
                     "%u record%s with code %03u passed over (%s)", reader->unused_counts[code],
                     reader->unused_counts[code] == 1 ? "" : "s", code, code_meaning(code));
    tell_rotations(reader);
}

static void tell_ends(struct ipc356_reader *reader)
{
    struct source_pos end = {reader->file_id, reader->line, 0};
    if (!reader->has_ended)
        diag_add(reader->diags, DIAG_ERROR, "netlist-no-end", end,
                 "get the whole file; if it is whole, add a last line 999, or set it aside with "
                 "--role FILE=ignore",
                 reader->is_line_open
                     ? "the netlist ends within a line and without a 999 record: it was cut off"
                     : "the netlist ends without a 999 record: it is probably cut off");
    if (reader->point_count == 0)
        diag_add(reader->diags, DIAG_NOTE, "netlist-empty", end, NULL,
                 "the netlist names no point");
    else if (!reader->has_units)
        diag_add(
            reader->diags, DIAG_WARNING, "netlist-units", reader->points[0].at,
            "add P  UNITS CUST 0 (0.0001 in) or CUST 1 (0.001 mm)",
            "no units stated: read as 0.0001 in, the format's default, if the points lie on the "
            "drawing so");
}

static const char *units_text(const struct ipc356_reader *reader)
{
    if (!reader->has_units)
        return "0.0001 in (assumed)";
    if (reader->is_metric)
        return "0.001 mm (stated)";
    return reader->is_radians ? "0.0001 in, radians (stated)" : "0.0001 in (stated)";
}

static void deliver(struct ipc356_reader *reader)
{
    struct netlist *out = reader->out;
    out->units = units_text(reader);
    out->has_units = reader->has_units;
    out->is_metric = reader->is_metric;
    if (reader->point_count == 0)
        return;
    out->points = arena_alloc(reader->arena, reader->point_count, sizeof *out->points);
    if (!out->points) {
        reader->is_out_of_memory = true;
        return;
    }
    memcpy(out->points, reader->points, reader->point_count * sizeof *out->points);
    out->point_count = reader->point_count;
}

enum netlist_status ipc356_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                struct arena *arena, struct diag_list *diags, struct netlist *out)
{
    *out = (struct netlist){.file_id = file_id};
    if (!ipc356_looks_like(bytes, size))
        return NETLIST_NOT_ONE;
    struct ipc356_reader *reader = arena_alloc(arena, 1, sizeof *reader);
    if (!reader)
        return NETLIST_NO_MEMORY;
    *reader = (struct ipc356_reader){.file_id = file_id,
                                     .bytes = bytes,
                                     .size = size,
                                     .arena = arena,
                                     .diags = diags,
                                     .out = out};
    size_t errors_before = diags->error_count;
    for_each_line(reader, size, read_line);
    ipc356_resolve_names(reader);
    ipc356_compare_points(reader);
    tell_unused(reader);
    tell_ends(reader);
    if (diags->error_count == errors_before)
        deliver(reader);
    free(reader->points);
    free(reader->aliases);
    bool is_out_of_memory = reader->is_out_of_memory || diags->is_out_of_memory;
    if (!is_out_of_memory && diags->error_count == errors_before)
        return NETLIST_OK;
    *out = (struct netlist){.file_id = file_id};
    return is_out_of_memory ? NETLIST_NO_MEMORY : NETLIST_REFUSED;
}

/* ---- does it look like one? ----------------------------------------------------------------- */

/* Counts lines that only a netlist has, and lines that it cannot have, in the counters at hand. */
static void look_at(struct ipc356_reader *reader)
{
    if (reader->length == 0 || starts(reader, 1, "C ") || is_word(reader, 1, "C"))
        return;
    bool is_record = reader->length > 3 && is_blank(reader->text[1]);
    bool is_parameter = is_record && starts(reader, 1, "P");
    bool is_test = is_three_digits(reader) && reader->length >= 42 && reader->text[0] <= '3';
    bool is_units = is_parameter && is_word(reader, skip_blanks(reader, 2), "UNITS");
    if (is_units || (is_test && (reader->text[41] == 'X' || starts(reader, 1, "3"))))
        reader->point_count++;
    else if (!is_parameter && !is_three_digits(reader))
        reader->parameter_count++;
}

bool ipc356_looks_like(const uint8_t *bytes, size_t size)
{
    struct ipc356_reader reader = {.bytes = bytes};
    for_each_line(&reader, size < LOOK_BYTES ? size : LOOK_BYTES, look_at);
    return reader.point_count > 0 && reader.parameter_count <= reader.point_count;
}
