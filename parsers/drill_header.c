/* What a drill file states about itself: header commands, and comments that mean something. */
#include "drill_machine.h"

#include <ctype.h>
#include <string.h>

/* Commands of the older dialects that concern the drilling machine and not the holes (Excellon
 * programmer's guide, from memory). */
static const char *const idle_commands[] = {
    "VER", "ATC",  "AFS",  "BLKD", "CCW",   "CP",     "DETECT",   "DN", "DTMDIST", "EXDA",
    "FSB", "HPCK", "NCSL", "OM48", "OSTOP", "OTCLMP", "PCKPARAM", "PF", "PPR",     "PVS",
    "RSB", "SBK",  "SG",   "SIXM", "TCST",  "UP",     "ZA",       "ZC", "ZD",      "ZS"};

static size_t field_end(const struct drill_machine *machine, size_t from, size_t to)
{
    while (from < to && machine->bytes[from] != ',')
        from++;
    return from;
}

static bool is_separator(uint8_t byte)
{
    return byte == ',' || byte == ' ' || byte == '\t';
}

static void contradiction(struct drill_machine *machine, size_t from, size_t to, const char *what)
{
    DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-contradiction", drill_at(machine, from),
              "correct the file, or say how to read it: --drill-format FILE=mm|inch,3.3,"
              "leading|trailing|decimal",
              "\"%s\" contradicts the %s stated before", drill_quote(machine, from, to), what);
}

void drill_state_unit(struct drill_machine *machine, enum drill_unit unit, size_t from, size_t to)
{
    struct drill_statement *stated = &machine->facts.command;
    if (stated->unit != UNIT_OPEN && stated->unit != unit)
        contradiction(machine, from, to, "unit");
    else
        stated->unit = unit;
}

static void state_zeros(struct drill_machine *machine, enum zero_rule zeros, size_t from, size_t to)
{
    struct drill_statement *stated = &machine->facts.command;
    if (stated->has_zeros && stated->zeros != zeros) {
        contradiction(machine, from, to, "zero rule");
        return;
    }
    stated->has_zeros = true;
    stated->zeros = zeros;
}

/* "000.000": as many digits before and behind the point. */
static bool is_pattern(const struct drill_machine *machine, size_t from, size_t to,
                       uint8_t digits[2])
{
    size_t side = 0;
    digits[0] = digits[1] = 0;
    for (; from < to; from++) {
        uint8_t byte = machine->bytes[from];
        if (byte == '.' && side == 0)
            side = 1;
        else if (byte == '0' && digits[side] < 9)
            digits[side]++;
        else
            return false;
    }
    return side == 1 && digits[0] + digits[1] > 0;
}

static void state_digits(struct drill_statement *stated, const uint8_t digits[2])
{
    stated->has_digits = true;
    stated->integer_digits = digits[0];
    stated->decimal_digits = digits[1];
}

/* What may follow INCH, METRIC, M71, M72: LZ, TZ, a digit pattern. */
static void unit_field(struct drill_machine *machine, size_t from, size_t to)
{
    uint8_t digits[2];
    if (drill_word_is(machine, from, to, "LZ"))
        state_zeros(machine, ZEROS_LEADING_KEPT, from, to);
    else if (drill_word_is(machine, from, to, "TZ"))
        state_zeros(machine, ZEROS_TRAILING_KEPT, from, to);
    else if (is_pattern(machine, from, to, digits))
        state_digits(&machine->facts.command, digits);
    else
        DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-unit-field", drill_at(machine, from),
                  "expected LZ, TZ or a digit pattern such as 000.000",
                  "\"%s\" behind the unit is not understood", drill_quote(machine, from, to));
}

/* The next field of a command: [*at, *end), blanks round it taken off. Commas part fields, and
 * blanks do too where the comma was left out (common practice, no source). */
static bool next_field(const struct drill_machine *machine, size_t *at, size_t *end, size_t to)
{
    size_t from = *end;
    while (from < to && is_separator(machine->bytes[from]))
        from++;
    *at = *end = from;
    while (*end < to && !is_separator(machine->bytes[*end]))
        ++*end;
    return from < to;
}

static void unit_fields(struct drill_machine *machine, size_t end, size_t to)
{
    size_t at;
    while (next_field(machine, &at, &end, to))
        unit_field(machine, at, end);
}

/* Is the only field behind the command this word? */
static bool only_field_is(const struct drill_machine *machine, size_t end, size_t to,
                          const char *word)
{
    size_t at, more, more_end;
    if (!next_field(machine, &at, &end, to))
        return *word == '\0';
    more_end = end;
    return drill_word_is(machine, at, end, word) && !next_field(machine, &more, &more_end, to);
}

static bool unit_command(struct drill_machine *machine, size_t from, size_t to, size_t rest)
{
    enum drill_unit unit = UNIT_OPEN;
    if (drill_word_is(machine, from, to, "INCH") || drill_word_is(machine, from, to, "M72"))
        unit = UNIT_INCH;
    if (drill_word_is(machine, from, to, "METRIC") || drill_word_is(machine, from, to, "M71"))
        unit = UNIT_MM;
    if (unit == UNIT_OPEN)
        return false;
    drill_state_unit(machine, unit, from, to);
    unit_fields(machine, to, rest);
    return true;
}

static bool zero_command(struct drill_machine *machine, size_t from, size_t to)
{
    if (!drill_word_is(machine, from, to, "LZ") && !drill_word_is(machine, from, to, "TZ"))
        return false;
    unit_field(machine, from, to);
    return true;
}

/* ICI alone means ICI,ON (programmer's guide, from memory). */
static bool ici_command(struct drill_machine *machine, size_t from, size_t to, size_t rest)
{
    if (!drill_word_is(machine, from, to, "ICI"))
        return false;
    bool is_on = only_field_is(machine, to, rest, "ON") || only_field_is(machine, to, rest, "");
    if (!is_on && !only_field_is(machine, to, rest, "OFF"))
        DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-ici", drill_at(machine, from),
                  "expected ICI,ON or ICI,OFF", "\"%s\": are coordinates incremental or not?",
                  drill_quote(machine, from, rest));
    machine->is_incremental = is_on;
    return true;
}

/* Format 1 numbers some codes differently; none of them places a plain hole. */
static bool fmat_command(struct drill_machine *machine, size_t from, size_t to, size_t rest)
{
    if (!drill_word_is(machine, from, to, "FMAT"))
        return false;
    if (only_field_is(machine, to, rest, "1"))
        machine->is_format_one = true;
    else if (!only_field_is(machine, to, rest, "2"))
        DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-fmat", drill_at(machine, from),
                  "expected FMAT,1 or FMAT,2", "\"%s\" is no known format",
                  drill_quote(machine, from, rest));
    return true;
}

static bool idle_command(const struct drill_machine *machine, size_t from, size_t to)
{
    for (size_t i = 0; i < sizeof idle_commands / sizeof *idle_commands; i++)
        if (drill_word_is(machine, from, to, idle_commands[i]))
            return true;
    return false;
}

bool drill_header_line(struct drill_machine *machine, size_t from, size_t to)
{
    size_t at, end = from;
    next_field(machine, &at, &end, to);
    if (unit_command(machine, from, end, to) || zero_command(machine, from, end) ||
        ici_command(machine, from, end, to) || fmat_command(machine, from, end, to))
        return true;
    bool is_reset = machine->is_header && to - from > 1 && machine->bytes[from + 1] == ',';
    if (idle_command(machine, from, end) || is_reset) /* R,T and the like: clears a register */
        return true;
    bool is_word =
        to - from >= 2 && isalpha(machine->bytes[from]) && isalpha(machine->bytes[from + 1]);
    if (!is_word)
        return false;
    DRILL_SAY(machine, PASS_SURVEY, machine->is_header ? DIAG_WARNING : DIAG_ERROR, "drill-command",
              drill_at(machine, from),
              machine->is_header ? "it was passed over" : "export the file again",
              "unknown command \"%s\"", drill_quote(machine, from, to));
    return true;
}

/* ---- comments ------------------------------------------------------------------------------ */

/* "2:5" or "2.5" at from. */
static bool digit_pair(const struct drill_machine *machine, size_t from, size_t to,
                       uint8_t digits[2])
{
    const uint8_t *bytes = machine->bytes + from;
    if (to - from < 3 || !isdigit(bytes[0]) || (bytes[1] != ':' && bytes[1] != '.') ||
        !isdigit(bytes[2]))
        return false;
    digits[0] = (uint8_t)(bytes[0] - '0');
    digits[1] = (uint8_t)(bytes[2] - '0');
    return digits[0] + digits[1] > 0;
}

static void comment_unit(struct drill_machine *machine, enum drill_unit unit)
{
    if (machine->facts.comment.unit == UNIT_OPEN)
        machine->facts.comment.unit = unit;
}

static void comment_zeros(struct drill_machine *machine, enum zero_rule zeros)
{
    machine->facts.comment.has_zeros = true;
    machine->facts.comment.zeros = zeros;
}

/* ";FORMAT={2:4/ absolute / inch / suppress leading zeros}", "{-:-/ absolute / mm / decimal}" */
static void format_comment(struct drill_machine *machine, size_t from, size_t to)
{
    uint8_t digits[2];
    if (digit_pair(machine, from, to, digits))
        state_digits(&machine->facts.comment, digits);
    if (drill_find(machine, from, to, "inch") != SIZE_MAX)
        comment_unit(machine, UNIT_INCH);
    else if (drill_find(machine, from, to, "metric") != SIZE_MAX)
        comment_unit(machine, UNIT_MM);
    if (drill_find(machine, from, to, "decimal") != SIZE_MAX)
        comment_zeros(machine, ZEROS_DECIMAL_POINT);
    else if (drill_find(machine, from, to, "suppress leading") != SIZE_MAX)
        comment_zeros(machine, ZEROS_TRAILING_KEPT);
    else if (drill_find(machine, from, to, "suppress trailing") != SIZE_MAX)
        comment_zeros(machine, ZEROS_LEADING_KEPT);
    else if (drill_find(machine, from, to, "keep zeros") != SIZE_MAX)
        machine->facts.comment.is_both_kept = true;
}

static bool is_format_comment(struct drill_machine *machine, size_t from, size_t to)
{
    uint8_t digits[2];
    size_t at = drill_find(machine, from, to, "FILE_FORMAT=");
    if (at == from) {
        at += strlen("FILE_FORMAT=");
        if (digit_pair(machine, at, to, digits))
            state_digits(&machine->facts.comment, digits);
        return true;
    }
    at = drill_find(machine, from, to, "FORMAT={");
    if (at != from)
        return false;
    format_comment(machine, at + strlen("FORMAT={"), to);
    return true;
}

/* ";TYPE=PLATED": holds for the tools defined from here on. */
static bool is_section_comment(struct drill_machine *machine, size_t from, size_t to)
{
    if (drill_word_is(machine, from, to, "TYPE=PLATED")) {
        machine->section = PLATING_PLATED;
        machine->has_plated_section = true;
        return true;
    }
    if (drill_word_is(machine, from, to, "TYPE=NON_PLATED") ||
        drill_word_is(machine, from, to, "TYPE=NONPLATED")) {
        machine->section = PLATING_NONE;
        machine->has_bare_section = true;
        return true;
    }
    return false;
}

/* ---- attributes in comments: "; #@! TF.FileFunction,Plated,1,4,PTH" ------------------------- */

static char *keep_text(struct drill_machine *machine, size_t from, size_t to)
{
    if (machine->pass != PASS_FINAL)
        return NULL;
    char *text = arena_strndup(machine->arena, (const char *)machine->bytes + from, to - from);
    machine->is_out_of_memory |= !text;
    return text;
}

static enum plating plating_word(const struct drill_machine *machine, size_t from, size_t to)
{
    if (drill_word_is(machine, from, to, "Plated"))
        return PLATING_PLATED;
    if (drill_word_is(machine, from, to, "NonPlated"))
        return PLATING_NONE;
    return PLATING_UNKNOWN;
}

static uint16_t layer_field(const struct drill_machine *machine, size_t from, size_t to)
{
    unsigned layer = 0;
    for (; from < to && isdigit(machine->bytes[from]) && layer < 1000; from++)
        layer = layer * 10 + (machine->bytes[from] - '0');
    return from == to && layer < 1000 ? (uint16_t)layer : 0;
}

/* Plated|NonPlated|MixedPlating, first layer, last layer, ... */
static void file_function(struct drill_machine *machine, size_t from, size_t to)
{
    size_t end = field_end(machine, from, to);
    machine->file_plating = plating_word(machine, from, end);
    if (end == to)
        return;
    size_t first = end + 1, first_end = field_end(machine, first, to);
    size_t last = first_end + (first_end < to), last_end = field_end(machine, last, to);
    machine->layer_from = layer_field(machine, first, first_end);
    machine->layer_to = layer_field(machine, last, last_end);
    if (machine->layer_from && machine->layer_to && machine->layer_from < machine->layer_to)
        return;
    DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-span", drill_at(machine, from),
              "expected the first and the last copper layer, as in Plated,1,4,PTH",
              "the span of layers in \"%s\" is none", drill_quote(machine, from, to));
}

static bool split_fields(struct drill_machine *machine, size_t from, size_t to,
                         struct file_attr *attr)
{
    uint32_t count = 1;
    for (size_t i = from; i < to; i++)
        count += machine->bytes[i] == ',';
    const char **fields = arena_alloc(machine->arena, count, sizeof *fields);
    if (!fields)
        return false;
    for (uint32_t i = 0; i < count; i++) {
        size_t end = field_end(machine, from, to);
        fields[i] = keep_text(machine, from, end);
        from = end + 1;
    }
    attr->fields = fields;
    attr->field_count = count;
    return true;
}

static void keep_file_attr(struct drill_machine *machine, size_t name, size_t name_end, size_t to)
{
    if (machine->pass != PASS_FINAL)
        return;
    struct file_attr attr = {.name = keep_text(machine, name, name_end),
                             .at = drill_at(machine, name)};
    if ((name_end < to && !split_fields(machine, name_end + 1, to, &attr)) ||
        !array_grow(&machine->file_attrs, sizeof attr, &machine->file_attr_capacity,
                    machine->file_attr_count + 1)) {
        machine->is_out_of_memory = true;
        return;
    }
    machine->file_attrs[machine->file_attr_count++] = attr;
}

/* "ViaDrill", or with the plating in front as some write it: "Plated,PTH,ViaDrill". */
static void aperture_function(struct drill_machine *machine, size_t from, size_t to)
{
    size_t end = field_end(machine, from, to);
    machine->function_plating = plating_word(machine, from, end);
    if (machine->function_plating != PLATING_UNKNOWN) {
        from = end < to ? field_end(machine, end + 1, to) : to;
        from = from < to ? from + 1 : to;
        end = field_end(machine, from, to);
    }
    machine->function = from < end ? keep_text(machine, from, end) : NULL;
}

static void object_attribute(struct drill_machine *machine, char kind, size_t from, size_t to)
{
    size_t end = field_end(machine, from, to);
    if (kind == 'N') {
        machine->net = from < end ? keep_text(machine, from, end) : NULL;
        return;
    }
    if (kind == 'C' && machine->pin)
        return; /* a pin says its part too */
    machine->ref = keep_text(machine, from, end);
    machine->pin = NULL;
    if (kind == 'P' && end < to)
        machine->pin = keep_text(machine, end + 1, field_end(machine, end + 1, to));
}

static void delete_attributes(struct drill_machine *machine, size_t from, size_t to)
{
    bool is_all = from == to;
    if (is_all || drill_word_is(machine, from, to, ".AperFunction")) {
        machine->function = NULL;
        machine->function_plating = PLATING_UNKNOWN;
    }
    if (is_all || drill_word_is(machine, from, to, ".N"))
        machine->net = NULL;
    if (is_all || drill_word_is(machine, from, to, ".P") || drill_word_is(machine, from, to, ".C"))
        machine->ref = machine->pin = NULL;
}

static void attribute(struct drill_machine *machine, size_t from, size_t to)
{
    size_t name = from + 2, name_end = field_end(machine, from, to);
    size_t value = name_end < to ? name_end + 1 : to;
    if (to - from < 2)
        return;
    char kind = (char)machine->bytes[from + 1];
    if (kind == 'D')
        delete_attributes(machine, name, to);
    else if (kind == 'F' && drill_word_is(machine, name, name_end, ".FileFunction"))
        file_function(machine, value, to);
    else if (kind == 'A' && drill_word_is(machine, name, name_end, ".AperFunction"))
        aperture_function(machine, value, to);
    else if (kind == 'O' && name_end - name == 2 && strchr("NPC", machine->bytes[name + 1]))
        object_attribute(machine, (char)machine->bytes[name + 1], value, to);
    if (kind == 'F')
        keep_file_attr(machine, name, name_end, to);
}

static bool is_attribute_comment(struct drill_machine *machine, size_t from, size_t to)
{
    if (to - from < 3 || memcmp(machine->bytes + from, "#@!", 3) != 0)
        return false;
    from += 3;
    while (from < to && machine->bytes[from] == ' ')
        from++;
    if (from < to && machine->bytes[from] == 'T')
        attribute(machine, from, to);
    return true;
}

void drill_comment(struct drill_machine *machine, size_t from, size_t to)
{
    while (from < to && (machine->bytes[from] == ' ' || machine->bytes[from] == '\t'))
        from++;
    while (to > from && (machine->bytes[to - 1] == ' ' || machine->bytes[to - 1] == '\t'))
        to--;
    if (is_attribute_comment(machine, from, to) || is_format_comment(machine, from, to) ||
        is_section_comment(machine, from, to))
        return;
    drill_tool_comment(machine, from, to);
}
