/* The machine: line by line, word by word, as the controllers of old did it. */
#include "drill_machine.h"
#include "parsers_text.h"

#include <stdlib.h>
#include <string.h>

#define MOST_REPEATS 1000000

static void fault(struct drill_machine *machine, const struct drill_block *block, const char *code,
                  const char *advice, const char *what)
{
    DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, code, drill_at(machine, block->offset), advice,
              "%s: \"%s\"", what,
              drill_quote(machine, block->offset, block->offset + block->length));
}

static void unsupported(struct drill_machine *machine, const struct drill_block *block,
                        const char *what)
{
    fault(machine, block, "drill-unsupported",
          "export the file again with plain holes, G85 slots and G00-G03 routing", what);
}

/* ---- places -------------------------------------------------------------------------------- */

static bool coordinate(struct drill_machine *machine, const struct drill_number *number,
                       int64_t *out_nm)
{
    if (drill_coordinate(machine, number, out_nm) && llabs(*out_nm) <= INT64_C(10000000000))
        return true;
    DRILL_SAY(machine, PASS_FINAL, DIAG_ERROR, "drill-range", drill_at(machine, number->offset),
              "check unit and digits: --drill-format FILE=mm|inch,3.3,leading|trailing|decimal",
              "a coordinate beyond 10 m");
    if (machine->pass == PASS_TRIAL)
        machine->is_stopped = machine->is_out_of_range = true;
    return false;
}

/* One axis: left out it stays; but absolute files must have given it once. */
static bool axis(struct drill_machine *machine, const struct drill_number *number, bool is_relative,
                 bool *is_known, bool *is_open, int64_t *value_nm)
{
    if (!number->is_set)
        return is_relative || *is_known;
    int64_t written_nm;
    *is_open = (is_relative && *is_open) || (!number->has_point && number->mantissa != 0);
    if (!coordinate(machine, number, &written_nm)) {
        *is_known = true;
        return machine->pass == PASS_SURVEY; /* the survey's reading is a stand-in */
    }
    *value_nm = is_relative ? *value_nm + written_nm : written_nm;
    *is_known = true;
    return llabs(*value_nm) <= INT64_C(10000000000);
}

static bool place(struct drill_machine *machine, const struct drill_block *block,
                  const struct drill_number *x, const struct drill_number *y, struct pos_nm *at)
{
    bool is_relative = machine->is_incremental;
    bool was_known = (x->is_set || is_relative || machine->is_x_known) &&
                     (y->is_set || is_relative || machine->is_y_known);
    if (!was_known)
        fault(machine, block, "drill-no-place", "the first place needs both X and Y",
              "X or Y left out before it was ever given");
    bool has_x =
        axis(machine, x, is_relative, &machine->is_x_known, &machine->is_x_open, &at->x_nm);
    bool has_y =
        axis(machine, y, is_relative, &machine->is_y_known, &machine->is_y_open, &at->y_nm);
    if (was_known && !(has_x && has_y) && is_relative)
        DRILL_SAY(machine, PASS_FINAL, DIAG_ERROR, "drill-range", drill_at(machine, block->offset),
                  "check unit and digits", "incremental places have run beyond 10 m");
    if (was_known && !(has_x && has_y) && machine->pass == PASS_TRIAL)
        machine->is_stopped = machine->is_out_of_range = true;
    return was_known && has_x && has_y;
}

static size_t place_offset(const struct drill_block *block)
{
    return block->x.is_set   ? block->x.offset - 1
           : block->y.is_set ? block->y.offset - 1
                             : block->offset;
}

/* ---- moves --------------------------------------------------------------------------------- */

static void drill_slot(struct drill_machine *machine, const struct drill_block *block)
{
    struct pos_nm from = machine->here;
    if (!block->x2.is_set && !block->y2.is_set) {
        fault(machine, block, "drill-slot", "expected X1Y1G85X2Y2", "G85 without an end");
        return;
    }
    if ((block->x.is_set || block->y.is_set) && !place(machine, block, &block->x, &block->y, &from))
        return;
    machine->here = from;
    struct pos_nm to = from;
    if (!place(machine, block, &block->x2, &block->y2, &to))
        return;
    drill_add_hole(machine, from, to, ISTHMUS_NONE, place_offset(block));
    machine->here = to;
}

/* R5X1000: five more holes, each a step on. */
static void drill_repeats(struct drill_machine *machine, const struct drill_block *block)
{
    struct pos_nm step = {0, 0};
    bool is_relative = machine->is_incremental;
    if (block->has_depth) { /* of a milling program: R is where the cycle begins to feed */
        unsupported(machine, block, "R beside a depth: a repeat, or the plane of a cycle?");
        return;
    }
    if (block->repeat.mantissa > MOST_REPEATS || (!block->x.is_set && !block->y.is_set)) {
        fault(machine, block, "drill-repeat", "expected R, a count and a step, as in R5X0.1",
              "a repeat without a step, or of more than a million");
        return;
    }
    machine->is_incremental = true;
    bool is_placed = place(machine, block, &block->x, &block->y, &step);
    machine->is_incremental = is_relative;
    for (int64_t i = 0; is_placed && i < block->repeat.mantissa && !machine->is_stopped; i++) {
        machine->here.x_nm += step.x_nm;
        machine->here.y_nm += step.y_nm;
        if (llabs(machine->here.x_nm) > INT64_C(10000000000) ||
            llabs(machine->here.y_nm) > INT64_C(10000000000)) {
            DRILL_SAY(machine, PASS_FINAL, DIAG_ERROR, "drill-range",
                      drill_at(machine, block->offset), "check the count and the step",
                      "a repeat runs beyond 10 m");
            return;
        }
        drill_add_hole(machine, machine->here, machine->here, ISTHMUS_NONE, place_offset(block));
    }
}

static void raise_tool(struct drill_machine *machine, size_t offset)
{
    if (machine->is_tool_down && !machine->has_cut)
        drill_add_hole(machine, machine->here, machine->here, machine->path, offset);
    machine->is_tool_down = false;
}

static void rout_move(struct drill_machine *machine, const struct drill_block *block)
{
    bool is_arc = machine->motion == MOTION_CW || machine->motion == MOTION_CCW;
    bool has_place = block->x.is_set || block->y.is_set;
    if (!has_place && !(is_arc && (block->i.is_set || block->j.is_set)))
        return;
    struct pos_nm to = machine->here;
    if (!place(machine, block, &block->x, &block->y, &to))
        return;
    if (machine->motion == MOTION_RAPID) {
        raise_tool(machine, block->offset);
        machine->rapid_count += has_place;
        if (machine->first_rapid.line == 0)
            machine->first_rapid = drill_at(machine, block->offset);
    } else {
        drill_cut(machine, block, to, place_offset(block));
    }
    machine->here = to;
}

static void move(struct drill_machine *machine, const struct drill_block *block)
{
    bool has_place = block->x.is_set || block->y.is_set;
    if (block->is_slot) {
        drill_slot(machine, block);
    } else if (block->repeat.is_set) {
        drill_repeats(machine, block);
    } else if (machine->motion != MOTION_DRILL) {
        rout_move(machine, block);
    } else if (has_place && place(machine, block, &block->x, &block->y, &machine->here)) {
        drill_add_hole(machine, machine->here, machine->here, ISTHMUS_NONE, place_offset(block));
    }
}

/* ---- step and repeat (Excellon programmer's guide, from memory) ------------------------------ */

static void pattern_begin(struct drill_machine *machine)
{
    machine->pattern_first = machine->hole_count;
    machine->pattern_path = machine->path_count;
}

static void pattern_open(struct drill_machine *machine, const struct drill_block *block)
{
    if (machine->is_pattern_open)
        unsupported(machine, block, "a pattern within a pattern");
    machine->is_pattern_open = true;
    machine->is_pattern_closed = false;
    pattern_begin(machine);
    machine->pattern_step = (struct pos_nm){0, 0};
}

/* Without M25 the pattern began at the end of the header, or after the last pattern. */
static void pattern_close(struct drill_machine *machine)
{
    machine->is_pattern_open = false;
    machine->is_pattern_closed = true;
    machine->pattern_end = machine->hole_count;
    machine->pattern_path_count = machine->path_count - machine->pattern_path;
    machine->pattern_step = (struct pos_nm){0, 0};
}

static void pattern_done(struct drill_machine *machine)
{
    machine->is_pattern_open = machine->is_pattern_closed = false;
    pattern_begin(machine);
}

static bool copy_hole(struct drill_machine *machine, size_t index, uint32_t path_shift)
{
    if (machine->hole_count >= machine->max_holes ||
        !array_grow(&machine->holes, sizeof *machine->holes, &machine->hole_capacity,
                    machine->hole_count + 1))
        return false;
    struct hole hole = machine->holes[index];
    struct pos_nm step = machine->pattern_step;
    hole.from.x_nm += step.x_nm;
    hole.from.y_nm += step.y_nm;
    hole.to.x_nm += step.x_nm;
    hole.to.y_nm += step.y_nm;
    if (hole.path != ISTHMUS_NONE)
        hole.path += path_shift;
    struct drill_tool *tool = drill_tool_find(machine, hole.tool);
    bool is_first_piece = hole.path == ISTHMUS_NONE || index == machine->pattern_first ||
                          machine->holes[index - 1].path != machine->holes[index].path;
    if (tool)
        tool->is.hole_count += is_first_piece;
    machine->holes[machine->hole_count++] = hole;
    return true;
}

static void pattern_copy(struct drill_machine *machine, const struct drill_block *block)
{
    uint32_t shift = machine->path_count - machine->pattern_path;
    for (size_t i = machine->pattern_first; i < machine->pattern_end; i++)
        if (!copy_hole(machine, i, shift)) {
            machine->is_stopped = true;
            machine->is_out_of_memory |= machine->hole_count < machine->max_holes;
            fault(machine, block, "drill-too-many", "check the steps", "too many holes by steps");
            return;
        }
    machine->path_count += machine->pattern_path_count;
}

/* M02X#Y#: the pattern once more, a step on from the copy before; R#M02 so many times. */
static void pattern_step(struct drill_machine *machine, const struct drill_block *block)
{
    bool has_place = block->x.is_set || block->y.is_set;
    if (!machine->is_pattern_closed && !has_place) {
        machine->has_ended = true; /* M02 as other formats end */
        return;
    }
    if (!machine->is_pattern_closed) {
        fault(machine, block, "drill-pattern", "M25 or the header begins a pattern, M01 ends it",
              "a repeated pattern that was never ended");
        return;
    }
    if (!has_place) {
        pattern_done(machine);
        return;
    }
    int64_t x_nm = 0, y_nm = 0;
    int64_t count = block->repeat.is_set ? block->repeat.mantissa : 1;
    if ((block->x.is_set && !coordinate(machine, &block->x, &x_nm)) ||
        (block->y.is_set && !coordinate(machine, &block->y, &y_nm)))
        return;
    if (count > MOST_REPEATS) {
        fault(machine, block, "drill-repeat", "check the count", "more than a million steps");
        return;
    }
    for (int64_t i = 0; i < count && !machine->is_stopped; i++) {
        machine->pattern_step.x_nm += x_nm;
        machine->pattern_step.y_nm += y_nm;
        pattern_copy(machine, block);
        if (machine->pattern_end == machine->pattern_first)
            return;
    }
}

/* ---- G and M ------------------------------------------------------------------------------- */

static void set_motion(struct drill_machine *machine, enum drill_motion motion, size_t offset)
{
    if (motion == MOTION_DRILL)
        raise_tool(machine, offset);
    machine->motion = motion;
}

/* G93X#Y#: coordinates count from there on. */
static void zero_set(struct drill_machine *machine, const struct drill_block *block)
{
    int64_t x_nm = 0, y_nm = 0;
    if ((block->x.is_set && !coordinate(machine, &block->x, &x_nm)) ||
        (block->y.is_set && !coordinate(machine, &block->y, &y_nm)))
        return;
    machine->zero = (struct pos_nm){x_nm, y_nm};
    if (x_nm || y_nm)
        DRILL_SAY(machine, PASS_FINAL, DIAG_WARNING, "drill-zero-set",
                  drill_at(machine, block->offset),
                  "compare the holes with the pads in the picture",
                  "the zero is set to %.6f, %.6f mm", (double)x_nm / 1e6, (double)y_nm / 1e6);
}

/* Codes of the machine makers' guides that are refused (from memory). */
static const char *code_meaning(int code)
{
    if (code == 32 || code == 33)
        return "a routed circle by one code is not read";
    if (code >= 82 && code <= 84)
        return "patterns by one code (circles of holes, rows of pins) are not read";
    if (code == 87)
        return "a slot nibbled by one code is not read";
    return "this G code is not read";
}

/* False when the line's coordinates belong to the code. */
static bool g_code(struct drill_machine *machine, const struct drill_block *block, int code)
{
    switch (code) {
    case 0:
        set_motion(machine, MOTION_RAPID, block->offset);
        return true;
    case 1:
        set_motion(machine, MOTION_LINE, block->offset);
        return true;
    case 2:
        set_motion(machine, MOTION_CW, block->offset);
        return true;
    case 3:
        set_motion(machine, MOTION_CCW, block->offset);
        return true;
    case 5:
    case 81:
        set_motion(machine, MOTION_DRILL, block->offset);
        return true;
    case 4:
        return false; /* dwell */
    case 7:
    case 40:
        return true; /* feed override; cutter compensation off */
    case 90:
    case 91:
        machine->is_incremental = code == 91;
        return true;
    case 92:
    case 93:
        zero_set(machine, block);
        return false;
    case 41:
    case 42:
        unsupported(machine, block, "cutter compensation: the tool's path is not what is written");
        return false;
    default:
        unsupported(machine, block, code_meaning(code));
        return false;
    }
}

static void header_end(struct drill_machine *machine)
{
    machine->is_header = false;
    pattern_begin(machine);
}

static void tool_down(struct drill_machine *machine, const struct drill_block *block)
{
    if (machine->motion == MOTION_DRILL)
        fault(machine, block, "drill-rout-up", "G00X#Y# must stand before M15",
              "the tool is lowered without a routing position");
    if (machine->is_tool_down)
        raise_tool(machine, block->offset);
    machine->is_tool_down = true;
    machine->has_cut = false;
    machine->path = machine->path_count++;
}

/* M00 ends the program, but between tools it is a stop: what follows tells. */
static void stop(struct drill_machine *machine)
{
    raise_tool(machine, machine->line_start);
    machine->is_end_soft = true;
    if (machine->has_selected_tool)
        return;
    machine->sequence++;
    drill_tool_next(machine);
}

/* Format 1 gave the codes of patterns other meanings. */
static bool is_format_one_pattern(const struct drill_machine *machine, int code)
{
    return machine->is_format_one && (code == 1 || code == 2 || code == 8 || code == 25);
}

static bool m_code(struct drill_machine *machine, const struct drill_block *block, int code)
{
    if (is_format_one_pattern(machine, code)) {
        unsupported(machine, block, "patterns of FMAT,1 are not read");
        return false;
    }
    switch (code) {
    case 0:
        stop(machine);
        return false;
    case 1:
        pattern_close(machine);
        return true;
    case 2:
        pattern_step(machine, block);
        return false;
    case 8:
        pattern_done(machine);
        return true;
    case 25:
        pattern_open(machine, block);
        return true;
    case 30:
        raise_tool(machine, block->offset);
        machine->has_ended = true;
        return false;
    case 6: /* stops */
    case 9:
        return false;
    case 14:
    case 15:
        tool_down(machine, block);
        return true;
    case 16:
    case 17:
        raise_tool(machine, block->offset);
        return true;
    case 18: /* tip check, counters, pecking, scaling off */
    case 52:
    case 61:
    case 62:
    case 63:
        return true;
    case 48:
        machine->is_header = machine->has_m48 = true;
        return true;
    case 71:
    case 72:
        drill_state_unit(machine, code == 71 ? UNIT_MM : UNIT_INCH, block->offset,
                         block->offset + block->length);
        return true;
    case 95:
        header_end(machine);
        return true;
    default:
        unsupported(machine, block, "this M code is not read");
        return false;
    }
}

static bool is_message_line(const struct drill_machine *machine, size_t from, size_t to)
{
    return to - from >= 3 && (drill_word_is(machine, from, from + 3, "M47") ||
                              drill_word_is(machine, from, from + 3, "M45"));
}

/* M97, M98: letters out of holes. */
static bool is_canned_text(struct drill_machine *machine, size_t from, size_t to)
{
    struct drill_block block = {.offset = from, .length = to - from};
    if (to - from < 3 || !(drill_word_is(machine, from, from + 3, "M97") ||
                           drill_word_is(machine, from, from + 3, "M98")))
        return false;
    unsupported(machine, &block, "letters drilled by one code are not read");
    return true;
}

static void run_block(struct drill_machine *machine, const struct drill_block *block)
{
    bool has_place = block->x.is_set || block->y.is_set || block->is_slot;
    bool is_ours = true;
    if (machine->is_header && has_place && !block->g_count && !block->m_count) {
        DRILL_SAY(machine, PASS_SURVEY, DIAG_WARNING, "drill-header-open",
                  drill_at(machine, block->offset), "the header is taken as ended here",
                  "holes before %% or M95 ended the header");
        header_end(machine);
    }
    if (block->tool.is_set)
        drill_tool_word(machine, block);
    else if (block->c.is_set)
        fault(machine, block, "drill-word", "expected a tool before its size, as in T1C0.8",
              "a size without a tool");
    for (size_t i = 0; i < block->g_count; i++)
        is_ours &= g_code(machine, block, block->g[i]);
    /* M15 lowers the tool where it stands; M16, M17 on a line with a place come after the move. */
    bool is_after = block->m_count == 1 && (block->m[0] == 16 || block->m[0] == 17);
    if (is_after && is_ours)
        move(machine, block);
    for (size_t i = 0; i < block->m_count; i++)
        is_ours &= m_code(machine, block, block->m[i]);
    if (is_ours && !is_after)
        move(machine, block);
}

/* ---- lines --------------------------------------------------------------------------------- */

static void percent(struct drill_machine *machine)
{
    /* Before M48 it is the tape's rewind mark; behind the header it ends it; behind the holes it
     * stops the rewinding tape at the latest. */
    machine->is_end_soft = machine->has_m48 ? !machine->is_header : machine->hole_count > 0;
    if (machine->is_header || !machine->has_m48)
        header_end(machine);
}

static void live_line(struct drill_machine *machine, size_t from, size_t to)
{
    struct drill_block block;
    bool is_percent = machine->bytes[from] == '%' && to - from == 1;
    if (machine->has_ended && is_percent)
        return;
    if (machine->has_ended) {
        if (!machine->has_content_after_end)
            DRILL_SAY(machine, PASS_SURVEY, DIAG_WARNING, "drill-after-end",
                      drill_at(machine, from), "nothing behind the end was read",
                      "there is more behind the end: \"%s\"", drill_quote(machine, from, to));
        machine->has_content_after_end = true;
        return;
    }
    machine->is_end_soft = false;
    if (is_percent) {
        percent(machine);
        return;
    }
    if (is_message_line(machine, from, to) || is_canned_text(machine, from, to) ||
        drill_header_line(machine, from, to))
        return;
    if (drill_words(machine, from, to, &block))
        run_block(machine, &block);
}

static void trim(const struct drill_machine *machine, size_t *from, size_t *to)
{
    while (*from < *to && strchr(" \t", machine->bytes[*from]) && machine->bytes[*from])
        ++*from;
    while (*to > *from && strchr(" \t", machine->bytes[*to - 1]) && machine->bytes[*to - 1])
        --*to;
}

/*
 * Comments: what follows a semicolon, and what stands in parentheses (control out and control in of
 * EIA RS-274-D and ISO 6983, from memory). The end of the line without its last comment.
 */
static size_t run_comments(struct drill_machine *machine, size_t from, size_t to)
{
    for (size_t at = from; at < to; at++) {
        if (machine->bytes[at] == ';') {
            drill_comment(machine, at + 1, to);
            return at;
        }
        size_t end = machine->bytes[at] == '(' ? drill_comment_end(machine, at, to) : to;
        if (end < to) {
            drill_comment(machine, at + 1, end);
            at = end;
        }
    }
    return to;
}

/* Comments that stand before or behind everything else of the line. */
static void skip_comments(const struct drill_machine *machine, size_t *from, size_t *to)
{
    trim(machine, from, to);
    while (*from < *to && machine->bytes[*from] == '(' &&
           drill_comment_end(machine, *from, *to) < *to) {
        *from = drill_comment_end(machine, *from, *to) + 1;
        trim(machine, from, to);
    }
    while (*from < *to && machine->bytes[*to - 1] == ')') {
        const uint8_t *open = memrchr(machine->bytes + *from, '(', *to - *from);
        if (!open)
            return;
        *to = (size_t)(open - machine->bytes);
        trim(machine, from, to);
    }
}

/* N10: the number of the block (RS-274-D, from memory) says nothing of holes. */
static void skip_block_number(const struct drill_machine *machine, size_t *from, size_t to)
{
    size_t at = *from + 1;
    if (*from >= to || (machine->bytes[*from] != 'N' && machine->bytes[*from] != 'n') || at >= to ||
        machine->bytes[at] < '0' || machine->bytes[at] > '9')
        return;
    while (at < to && machine->bytes[at] >= '0' && machine->bytes[at] <= '9')
        at++;
    *from = at;
}

static void run_line(struct drill_machine *machine, size_t from, size_t to)
{
    size_t end = run_comments(machine, from, to);
    skip_comments(machine, &from, &end);
    skip_block_number(machine, &from, end);
    skip_comments(machine, &from, &end);
    if (from < end)
        live_line(machine, from, end);
}

static void reset(struct drill_machine *machine, enum drill_pass pass)
{
    struct drill_machine kept = *machine;
    *machine = (struct drill_machine){.pass = pass,
                                      .reading = kept.reading,
                                      .skips_sure_holes = kept.skips_sure_holes,
                                      .arena = kept.arena,
                                      .diags = kept.diags,
                                      .max_holes = kept.max_holes,
                                      .file_id = kept.file_id,
                                      .bytes = kept.bytes,
                                      .size = kept.size,
                                      .is_out_of_memory = kept.is_out_of_memory,
                                      .holes = kept.holes,
                                      .hole_capacity = kept.hole_capacity,
                                      .tools = kept.tools,
                                      .tool_capacity = kept.tool_capacity,
                                      .file_attrs = kept.file_attrs,
                                      .file_attr_capacity = kept.file_attr_capacity,
                                      .tool = DRILL_NO_TOOL};
    if (pass != PASS_SURVEY) /* statements are met again in every run, and change nothing then */
        machine->facts = kept.facts;
}

static size_t line_length(const struct drill_machine *machine, size_t from)
{
    size_t end = from;
    while (end < machine->size && machine->bytes[end] != '\n' && machine->bytes[end] != '\r')
        end++;
    return end - from;
}

/* Places that the tool is sent to with G00 and at which it then does nothing: a last one parks it,
 * more may be holes of a writer that means something else by G00. */
static void tell_idle_moves(struct drill_machine *machine)
{
    if (machine->path_count > 0 || machine->rapid_count < 2)
        return;
    DRILL_SAY(machine, PASS_SURVEY, machine->hole_count ? DIAG_WARNING : DIAG_ERROR,
              "drill-idle-moves", machine->first_rapid,
              "export the file again with plain holes, without G00 before them",
              "the tool is sent to %zu places with G00, and drills or cuts at none of them",
              machine->rapid_count);
}

static void end_of_file(struct drill_machine *machine)
{
    drill_tools_check(machine);
    tell_idle_moves(machine);
    if (machine->size == 0 || machine->has_ended || machine->is_end_soft || machine->is_stopped)
        return;
    DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-no-end",
              ((struct source_pos){machine->file_id, machine->line, 0}),
              "it is probably cut short: get the whole file; a complete one ends with M30",
              "the file ends without M30 or M00");
}

void drill_run(struct drill_machine *machine, enum drill_pass pass)
{
    reset(machine, pass);
    size_t at = text_start(machine->bytes, machine->size);
    while (at < machine->size && !machine->is_stopped && !machine->is_out_of_memory) {
        machine->line++;
        size_t length = line_length(machine, at);
        run_line(machine, at, at + length);
        at += length + 1;
        if (at < machine->size && machine->bytes[at - 1] == '\r' && machine->bytes[at] == '\n')
            at++;
        machine->line_start = at;
    }
    end_of_file(machine);
}

void drill_machine_free(struct drill_machine *machine)
{
    free(machine->holes);
    free(machine->tools);
    free(machine->file_attrs);
}
