/* Tools: defined in the header, in the body, or only in comments. */
#include "drill_machine.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "length.h"

#define LARGEST_NM INT64_C(300000000)   /* a cutter of 300 mm: surely a wrong unit */
#define LIKELY_MIN_NM INT64_C(50000)    /* drills in use: 0.05 mm to 13 mm (common practice, */
#define LIKELY_MAX_NM INT64_C(13000000) /* no source) */
#define MOST_TOOLS 5000
#define SAME_SIZE_NM INT64_C(2600) /* a tenth of a mil: comment and command agree */

struct drill_tool *drill_tool_find(struct drill_machine *machine, uint32_t number)
{
    for (size_t i = 0; i < machine->tool_count; i++)
        if (machine->tools[i].is.number == number)
            return &machine->tools[i];
    return NULL;
}

struct drill_tool *drill_tool_get(struct drill_machine *machine, uint32_t number, size_t offset)
{
    struct drill_tool *tool = drill_tool_find(machine, number);
    if (tool)
        return tool;
    if (machine->tool_count == MOST_TOOLS) {
        DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-tool-count", drill_at(machine, offset),
                  "this is hardly a drill file", "more than %d tools", MOST_TOOLS);
        return NULL;
    }
    if (!array_grow(&machine->tools, sizeof *machine->tools, &machine->tool_capacity,
                    machine->tool_count + 1)) {
        machine->is_out_of_memory = true;
        return NULL;
    }
    tool = &machine->tools[machine->tool_count++];
    *tool = (struct drill_tool){.is = {.number = number, .at = drill_at(machine, offset)}};
    return tool;
}

static enum length_unit file_unit(const struct drill_machine *machine)
{
    return machine->reading.is_inch ? LENGTH_INCH : LENGTH_MM;
}

static bool is_likely(int64_t diameter_nm)
{
    return diameter_nm >= LIKELY_MIN_NM && diameter_nm <= LIKELY_MAX_NM;
}

/*
 * A size without a point is whole units, or digits as a coordinate's. Only one of the two is a
 * drill that exists; where both are, nothing is guessed.
 */
static bool whole_size(struct drill_machine *machine, const struct drill_number *number,
                       int64_t *out_nm)
{
    int64_t whole = 0, coded = 0;
    bool is_whole = length_nm(number->mantissa, 0, file_unit(machine), &whole) && is_likely(whole);
    bool is_coded = drill_coordinate(machine, number, &coded) && is_likely(coded);
    if (is_whole != is_coded || (is_whole && whole == coded)) {
        *out_nm = is_whole ? whole : coded;
        return true;
    }
    DRILL_SAY(machine, PASS_FINAL, DIAG_ERROR, "drill-tool-size", drill_at(machine, number->offset),
              "write the size with a decimal point",
              "a tool size of %lld without a decimal point can be read in more than one way, or in "
              "none",
              (long long)number->mantissa);
    return false;
}

static bool size_of(struct drill_machine *machine, const struct drill_number *number,
                    int64_t *out_nm)
{
    if (number->mantissa <= 0)
        return false; /* told when the tool is used */
    if (!number->has_point)
        return whole_size(machine, number, out_nm);
    int64_t size_nm;
    if (!length_nm(number->mantissa, number->decimals, file_unit(machine), &size_nm) ||
        size_nm > LARGEST_NM) {
        DRILL_SAY(machine, PASS_FINAL, DIAG_ERROR, "drill-tool-size",
                  drill_at(machine, number->offset), "check the unit that the file states",
                  "a tool larger than 300 mm");
        return false;
    }
    *out_nm = size_nm;
    return true;
}

static bool is_same_size(int64_t a_nm, int64_t b_nm)
{
    return llabs(a_nm - b_nm) <= SAME_SIZE_NM;
}

/* Trial runs do not care about sizes; the other two tell the two kinds of fault apart. */
static void define_size(struct drill_machine *machine, struct drill_tool *tool,
                        const struct drill_number *number)
{
    int64_t size_nm = 0;
    size_of(machine, number, &size_nm);
    int64_t before_nm = tool->is.diameter_nm;
    if (before_nm && !is_same_size(before_nm, size_nm))
        DRILL_SAY(machine, PASS_FINAL, tool->is_size_from_comment ? DIAG_WARNING : DIAG_ERROR,
                  "drill-tool-twice", drill_at(machine, number->offset),
                  tool->is_size_from_comment ? "the command is taken"
                                             : "give every tool a number of its own",
                  "tool T%u is given as %.4f mm here and as %.4f mm before", tool->is.number,
                  (double)size_nm / 1e6, (double)before_nm / 1e6);
    tool->is.diameter_nm = size_nm;
    tool->is_size_from_comment = false;
    tool->is.at = drill_at(machine, number->offset);
}

static void define_tool(struct drill_machine *machine, const struct drill_block *block)
{
    struct drill_tool *tool =
        drill_tool_get(machine, (uint32_t)block->tool.mantissa, block->tool.offset);
    if (!tool)
        return;
    if (block->c.is_set)
        define_size(machine, tool, &block->c);
    if (machine->function_plating != PLATING_UNKNOWN)
        tool->is.plating = machine->function_plating;
    else if (machine->section != PLATING_UNKNOWN)
        tool->is.plating = machine->section;
    if (machine->function)
        tool->is.function = machine->function;
}

/* T0203: tool 2 with compensation register 3, unless there is a tool of that number. */
static uint32_t selected_number(struct drill_machine *machine, const struct drill_number *number)
{
    uint32_t written = (uint32_t)number->mantissa;
    if (number->digit_count < 4 || drill_tool_find(machine, written))
        return written;
    return written / 100;
}

static void select_tool(struct drill_machine *machine, const struct drill_number *number)
{
    uint32_t wanted = selected_number(machine, number);
    machine->has_selected_tool = true;
    machine->tool = DRILL_NO_TOOL;
    if (wanted == 0)
        return; /* T0: back into the rack */
    struct drill_tool *tool = drill_tool_find(machine, wanted);
    if (tool) {
        machine->tool = (size_t)(tool - machine->tools);
        return;
    }
    DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-tool-undefined",
              drill_at(machine, number->offset),
              "export the file with its tool sizes, or write them into the header, as in T1C0.8: "
              "they may "
              "stand in a tool list beside the file",
              "tool T%u is used but never defined", wanted);
    tool = drill_tool_get(machine, wanted, number->offset);
    if (tool) /* so that the fault is told once, and holes are counted all the same */
        machine->tool = (size_t)(tool - machine->tools);
}

void drill_tool_word(struct drill_machine *machine, const struct drill_block *block)
{
    const struct drill_number *number = &block->tool;
    if (number->mantissa > 999999 || (block->c.is_set && number->mantissa == 0)) {
        DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-tool-number",
                  drill_at(machine, number->offset), "tool numbers run from 1 to 999999",
                  "no tool number: %lld", (long long)number->mantissa);
        return;
    }
    if (block->c.is_set || machine->is_header)
        define_tool(machine, block);
    if (!machine->is_header)
        select_tool(machine, number);
}

bool drill_tool_ready(struct drill_machine *machine, size_t offset)
{
    if (machine->tool == DRILL_NO_TOOL && !machine->has_selected_tool)
        drill_tool_next(machine);
    if (machine->tool == DRILL_NO_TOOL) {
        DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-no-tool", drill_at(machine, offset),
                  "export the file with tool sizes: a header with T1C0.8 and T1 before the holes",
                  "a hole before any tool was chosen");
        return false;
    }
    struct drill_tool *tool = &machine->tools[machine->tool];
    if (tool->is.diameter_nm <= 0 && machine->pass != PASS_TRIAL) {
        /* SURVEY does not know sizes whose reading is open; a tool without any is known. */
        if (!tool->is_missing_size_told)
            DRILL_SAY(
                machine, PASS_FINAL, DIAG_ERROR, "drill-tool-size", drill_at(machine, offset),
                "write its diameter into the header, as in T1C0.8: it may stand in a tool list "
                "beside the file",
                "tool T%u has no size, or the size 0", tool->is.number);
        tool->is_missing_size_told = machine->pass == PASS_FINAL;
        return machine->pass != PASS_FINAL;
    }
    return true;
}

/* Files without T codes drill the tools of their comments in turn, with a stop between. */
void drill_tool_next(struct drill_machine *machine)
{
    struct drill_tool *tool = drill_tool_find(machine, (uint32_t)machine->sequence + 1);
    machine->tool =
        tool && tool->is_size_from_comment ? (size_t)(tool - machine->tools) : DRILL_NO_TOOL;
}

/* ---- sizes in comments --------------------------------------------------------------------- */

static void skip_spaces(const struct drill_machine *machine, size_t *at, size_t to)
{
    while (*at < to && strchr(" \t=:", machine->bytes[*at]) && machine->bytes[*at])
        ++*at;
}

static bool unit_word(struct drill_machine *machine, size_t from, size_t to, enum length_unit *unit)
{
    static const struct {
        const char *word;
        enum length_unit unit;
    } units[] = {{"MILS", LENGTH_MIL},  {"MIL", LENGTH_MIL},     {"MM", LENGTH_MM},
                 {"INCH", LENGTH_INCH}, {"INCHES", LENGTH_INCH}, {"IN", LENGTH_INCH},
                 {"METRIC", LENGTH_MM}, {"UM", LENGTH_UM},       {"MICRONS", LENGTH_UM}};
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (drill_word_is(machine, from, to, units[i].word)) {
            *unit = units[i].unit;
            return true;
        }
    return false;
}

struct size_comment {
    uint32_t number;
    struct drill_number size;
    bool has_unit, has_quantity;
    enum length_unit unit;
    enum plating plating;
    uint64_t quantity;
};

/* The words behind the size: unit, plating, quantity. Others (tolerances) do not matter. */
static void size_word(struct drill_machine *machine, size_t from, size_t to, size_t line_end,
                      struct size_comment *comment)
{
    struct drill_number quantity;
    if (!comment->has_unit && unit_word(machine, from, to, &comment->unit))
        comment->has_unit = true;
    else if (drill_word_is(machine, from, to, "PLATED"))
        comment->plating = PLATING_PLATED;
    else if (drill_word_is(machine, from, to, "NON_PLATED") ||
             drill_word_is(machine, from, to, "NONPLATED"))
        comment->plating = PLATING_NONE;
    else if (drill_word_is(machine, from, to, "Quantity")) {
        skip_spaces(machine, &to, line_end);
        comment->has_quantity = drill_number(machine, &to, line_end, &quantity) &&
                                !quantity.has_point && quantity.mantissa >= 0;
        comment->quantity = comment->has_quantity ? (uint64_t)quantity.mantissa : 0;
    }
}

static void size_words(struct drill_machine *machine, size_t at, size_t to,
                       struct size_comment *comment)
{
    while (at < to) {
        skip_spaces(machine, &at, to);
        size_t start = at;
        while (at < to && !strchr(" \t=:", machine->bytes[at]))
            at++;
        if (at > start)
            size_word(machine, start, at, to, comment);
        else if (at < to)
            at++;
    }
}

static bool tool_prefix(struct drill_machine *machine, size_t *at, size_t to, uint32_t *number)
{
    struct drill_number digits;
    size_t start = *at + 1;
    if (*at + 1 >= to || toupper(machine->bytes[*at]) != 'T' || !isdigit(machine->bytes[*at + 1]) ||
        !drill_number(machine, &start, to, &digits) || digits.has_point || digits.mantissa < 1 ||
        digits.mantissa > 999999)
        return false;
    *number = (uint32_t)digits.mantissa;
    *at = start;
    return true;
}

/* "Holesize 1. =" names a tool by its place, unless a T code stands in front. */
static bool hole_size_prefix(struct drill_machine *machine, size_t *at, size_t to, uint32_t *number)
{
    static const char word[] = "Holesize";
    struct drill_number digits;
    size_t end = *at + sizeof word - 1;
    if (end > to || !drill_word_is(machine, *at, end, word))
        return false;
    skip_spaces(machine, &end, to);
    if (!drill_number(machine, &end, to, &digits) || digits.mantissa < 1 || digits.decimals ||
        digits.mantissa > 999999)
        return false;
    if (*number == 0)
        *number = (uint32_t)digits.mantissa;
    *at = end;
    return true;
}

static bool parse_size_comment(struct drill_machine *machine, size_t at, size_t to,
                               struct size_comment *out)
{
    *out = (struct size_comment){0};
    bool has_tool = tool_prefix(machine, &at, to, &out->number);
    skip_spaces(machine, &at, to);
    bool has_place = hole_size_prefix(machine, &at, to, &out->number);
    if (!has_tool && !has_place)
        return false;
    skip_spaces(machine, &at, to);
    if (!drill_number(machine, &at, to, &out->size) || out->size.mantissa <= 0)
        return false;
    size_words(machine, at, to, out);
    return out->has_unit; /* a number without a unit may be anything */
}

static void note_size_unit(struct drill_machine *machine, enum length_unit unit)
{
    enum drill_unit said = unit == LENGTH_MM || unit == LENGTH_UM ? UNIT_MM : UNIT_INCH;
    if (machine->facts.size_unit == UNIT_OPEN)
        machine->facts.size_unit = said;
}

void drill_tool_comment(struct drill_machine *machine, size_t from, size_t to)
{
    struct size_comment comment;
    int64_t size_nm;
    if (!parse_size_comment(machine, from, to, &comment) ||
        !length_nm(comment.size.mantissa, comment.size.decimals, comment.unit, &size_nm) ||
        size_nm > LARGEST_NM)
        return;
    struct drill_tool *tool = drill_tool_get(machine, comment.number, from);
    if (!tool)
        return;
    note_size_unit(machine, comment.unit);
    if (tool->is.diameter_nm && !is_same_size(tool->is.diameter_nm, size_nm))
        DRILL_SAY(machine, PASS_FINAL, DIAG_WARNING, "drill-tool-twice", drill_at(machine, from),
                  "the command is taken; if the unit of the file is wrong, say --drill-format",
                  "this comment gives tool T%u %.4f mm, the command %.4f mm", comment.number,
                  (double)size_nm / 1e6, (double)tool->is.diameter_nm / 1e6);
    if (!tool->is.diameter_nm) {
        tool->is.diameter_nm = size_nm;
        tool->is_size_from_comment = true;
    }
    if (comment.plating != PLATING_UNKNOWN)
        tool->is.plating = comment.plating;
    tool->has_quantity |= comment.has_quantity;
    tool->quantity = comment.has_quantity ? comment.quantity : tool->quantity;
}

/* The quantities that comments state must be those that were drilled. */
void drill_tools_check(struct drill_machine *machine)
{
    for (size_t i = 0; i < machine->tool_count; i++) {
        const struct drill_tool *tool = &machine->tools[i];
        if (!tool->has_quantity || tool->quantity == tool->is.hole_count)
            continue;
        bool is_by_place = !machine->has_selected_tool;
        DRILL_SAY(machine, PASS_FINAL, is_by_place ? DIAG_ERROR : DIAG_WARNING, "drill-quantity",
                  tool->is.at,
                  is_by_place ? "the tools of this file are known only by the order of its stops; "
                                "export it again with tool codes"
                              : "compare the file with the drill drawing",
                  "the comment of tool T%u states %llu holes, the file drills %u", tool->is.number,
                  (unsigned long long)tool->quantity, tool->is.hole_count);
    }
}
