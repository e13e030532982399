/*
 * The machine's report, as isthmus-report.schema.json beside this file describes it. Numbers are
 * rounded to fixed decimals, so that equal boards give equal bytes on every machine.
 */
#include "words.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Lengths to 1 nm, areas to 1e-9 mm2, ratios and currents to 1e-6. */
static json_t *number(double value, double step)
{
    if (!isfinite(value))
        return json_null();
    double rounded = round(value / step) * step;
    return json_real(rounded + 0.0);
}

static json_t *mm(double value)
{
    return number(value, 1e-6);
}

static json_t *ratio(double value)
{
    return number(value, 1e-6);
}

/* Names come from files of any encoding: what is not UTF-8 is read as Latin-1. */
static json_t *text_from_latin1(const char *text)
{
    size_t length = strlen(text), at = 0;
    char *utf8 = malloc(2 * length + 1);
    if (!utf8)
        return NULL;
    for (size_t i = 0; i < length; i++) {
        unsigned char byte = (unsigned char)text[i];
        if (byte >= 0x80)
            utf8[at++] = (char)(0xC0 | byte >> 6);
        utf8[at++] = (char)(byte >= 0x80 ? 0x80 | (byte & 0x3F) : byte);
    }
    json_t *out = json_stringn(utf8, at);
    free(utf8);
    return out;
}

static json_t *text_or_null(const char *text)
{
    if (!text)
        return json_null();
    json_t *out = json_string(text);
    return out ? out : text_from_latin1(text);
}

static json_t *place(struct pos_nm at)
{
    return json_pack("{s:o, s:o}", "x_mm", mm(nm_to_mm(at.x_nm)), "y_mm", mm(nm_to_mm(at.y_nm)));
}

static json_t *source(const struct board *board, struct source_pos at)
{
    if (at.file_id == 0 || at.file_id > board->files->count)
        return json_null();
    return json_pack("{s:o, s:i, s:i}", "file",
                     text_or_null(board->files->files[at.file_id - 1].name), "line", (int)at.line,
                     "column", (int)at.column);
}

static json_t *layer(const struct board *board, uint16_t position)
{
    char word[16];
    return json_string(position ? layer_word(board, position, word) : "hole walls");
}

static json_t *piece(const struct board *board, const struct finding_piece *from)
{
    json_t *out =
        json_pack("{s:s, s:o, s:o, s:o, s:o, s:o}", "kind", piece_word(from->kind), "layer",
                  layer(board, from->layer), "from", place(from->from), "to", place(from->to),
                  "middle", place(from->middle), "area_mm2", number(from->area_mm2, 1e-9));
    if (!out)
        return NULL;
    if (from->layer_to)
        json_object_set_new(out, "layer_to", layer(board, from->layer_to));
    if (from->kind == PIECE_WALL)
        json_object_set_new(out, "hole_mm", mm(from->hole_mm));
    else
        json_object_set_new(out, "width_mm", mm(from->width_mm));
    json_t *bounds = json_array();
    if (from->bound_a.file_id)
        json_array_append_new(bounds, source(board, from->bound_a));
    if (from->bound_b.file_id)
        json_array_append_new(bounds, source(board, from->bound_b));
    json_object_set_new(out, "bounded_by", bounds);
    return out;
}

static json_t *finding_place(const struct board *board, const struct finding_place *from)
{
    json_t *pieces = json_array();
    for (size_t i = 0; i < from->piece_count; i++)
        json_array_append_new(pieces, piece(board, &from->pieces[i]));
    return json_pack(
        "{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:b, s:o}", "layer",
        layer(board, from->layer), "width_layer", layer(board, from->width_layer), "at",
        place(from->middle), "width_mm", mm(from->width_mm), "needed_mm", mm(from->needed_mm),
        "needed_internal_mm", mm(from->needed_internal_mm), "area_mm2",
        number(from->area_mm2, 1e-9), "required_mm2", number(from->required_mm2, 1e-9), "margin",
        ratio(from->margin), "current_a", ratio(from->current_a), "rise_at_width_k",
        number(from->rise_at_width_k, 1e-3), "short_neck_rise_k",
        number(from->short_neck_rise_k, 1e-3), "narrow_length_mm", mm(from->narrow_length_mm),
        "is_extrapolated", from->is_extrapolated, "pieces", pieces);
}

static json_t *terminal_names(const struct board *board, const uint32_t *side, size_t count)
{
    json_t *names = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(names, text_or_null(board->terminals[side[i]].name));
    return names;
}

/* As many words as the schema names: what decides the current at the worst place. */
static json_t *current_how(const struct finding *from)
{
    static const char *const words[] = {[CURRENT_FEEDS_A] = "feeds of terminals_a",
                                        [CURRENT_DRAWS_A] = "draws of terminals_a",
                                        [CURRENT_FEEDS_B] = "feeds of terminals_b",
                                        [CURRENT_DRAWS_B] = "draws of terminals_b"};
    if (from->current_bound == CURRENT_OF_NET)
        return text_or_null(from->net_current_how);
    return json_string(words[from->current_bound]);
}

static json_t *more_holes(const struct finding *from)
{
    if (from->add_hole_count == 0)
        return json_null();
    return json_pack("{s:I, s:o}", "count", (json_int_t)from->add_hole_count, "diameter_mm",
                     mm(from->add_hole_mm));
}

static json_t *width_finding(const struct board *board, const struct finding *from)
{
    json_t *rows = json_array();
    for (size_t i = 0; i < from->row_to_add_count; i++)
        json_array_append_new(rows, text_or_null(from->rows_to_add[i]));
    json_t *places = json_array();
    for (size_t i = 0; i < from->place_count; i++)
        json_array_append_new(places, finding_place(board, &from->places[i]));
    return json_pack(
        "{s:s, s:s, s:o, s:o, s:o, s:o, s:b, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
        "rule", rule_word(from->kind), "kind", finding_word(from->kind), "net",
        text_or_null(net_name(board, from->net)), "case", text_or_null(from->case_name),
        "current_how", current_how(from), "current_terminals",
        terminal_names(board, from->current_of, from->current_of_count), "is_equal_share",
        from->is_share, "terminals_a", terminal_names(board, from->side_a, from->side_a_count),
        "terminals_b", terminal_names(board, from->side_b, from->side_b_count), "narrow_length_mm",
        mm(from->narrow_length_mm), "good_for_a", ratio(from->allowed_a), "add_width_mm",
        mm(from->add_width_mm), "add_holes", more_holes(from), "pass_thickness_um",
        number(from->pass_thickness_um, 1e-3), "pass_rise_k", number(from->pass_rise_k, 1e-3),
        "rows_to_add", rows, "places", places);
}

/* A gap, or the least cut between two nets: no current is asked about. */
static json_t *net_place(const struct board *board, const struct finding_place *from)
{
    json_t *pieces = json_array();
    for (size_t i = 0; i < from->piece_count; i++)
        json_array_append_new(pieces, piece(board, &from->pieces[i]));
    return json_pack("{s:o, s:o, s:o, s:b, s:o}", "layer", layer(board, from->layer), "at",
                     place(from->middle), "width_mm", mm(from->width_mm), "is_at_most",
                     from->is_at_most, "pieces", pieces);
}

static json_t *net_finding(const struct board *board, const struct finding *from)
{
    bool is_joined = from->kind == FINDING_JOINED;
    json_t *places = json_array();
    for (size_t i = 0; i < from->place_count; i++)
        json_array_append_new(places, net_place(board, &from->places[i]));
    return json_pack(
        "{s:s, s:s, s:o, s:o, s:i, s:o, s:o, s:o, s:o, s:o}", "rule", rule_word(from->kind), "kind",
        finding_word(from->kind), "net", text_or_null(net_name(board, from->net)), "other_net",
        is_joined ? text_or_null(net_name(board, from->other_net)) : json_null(), "parts",
        is_joined ? 1 : (int)from->part_count, "terminals_a",
        terminal_names(board, from->side_a, from->side_a_count), "terminals_b",
        terminal_names(board, from->side_b, from->side_b_count), "join_to_add",
        text_or_null(from->join_line), "doubt", text_or_null(from->doubt), "places", places);
}

static json_t *finding(const struct board *board, const struct finding *from)
{
    bool is_of_width = from->kind == FINDING_NARROW || from->kind == FINDING_UNASSIGNED;
    return is_of_width ? width_finding(board, from) : net_finding(board, from);
}

static json_t *dead_ends(const struct board *board, const struct net_verdict *from)
{
    json_t *out = json_array();
    for (size_t i = 0; i < from->branch_count; i++) {
        const struct neck_branch *branch = &from->branches[i];
        json_array_append_new(
            out, json_pack("{s:s, s:o, s:o, s:o, s:o}", "ends_in", branch_word(branch->reason),
                           "layer", layer(board, branch->position), "at",
                           place(board_to_file(board, branch->end)), "length_mm",
                           mm(branch->length_mm), "width_mm", mm(branch->width_mm)));
    }
    return out;
}

static json_t *taken_away(const struct board *board, const struct net_verdict *from)
{
    json_t *out = json_array();
    for (size_t i = 0; i < from->taken_count; i++) {
        const struct taken_copper *taken = &from->taken[i];
        json_array_append_new(
            out, json_pack("{s:s, s:o, s:o, s:o, s:I, s:o}", "by", taken_slug(taken->by), "layer",
                           layer(board, taken->layer), "at", place(taken->at), "edge_mm",
                           mm(taken->edge_mm), "objects", (json_int_t)taken->object_count, "source",
                           source(board, taken->source)));
    }
    return out;
}

static json_t *verdict(const struct board *board, const struct net_verdict *from)
{
    json_t *out = json_pack(
        "{s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:i, s:i, s:i}", "net",
        from->net == ISTHMUS_NONE ? json_null() : text_or_null(net_name(board, from->net)), "case",
        text_or_null(from->case_name), "verdict", verdict_slug(from->verdict), "reason",
        text_or_null(from->reason), "current_a", ratio(from->i_net_a), "current_how",
        text_or_null(from->i_net_how), "rise_k", number(from->rise_k, 1e-3), "margin",
        ratio(from->margin), "terminals", (int)from->terminal_count, "terminals_with_row",
        (int)from->terminal_row_count, "closed_gaps", (int)from->closed_gap_count);
    if (out)
        json_object_set_new(out, "may_have_more", json_boolean(from->has_more));
    if (out)
        json_object_set_new(out, "searched_margin", ratio(from->searched_margin));
    if (out)
        json_object_set_new(out, "dead_ends", dead_ends(board, from));
    if (out)
        json_object_set_new(out, "taken_away", taken_away(board, from));
    if (out)
        json_object_set_new(out, "least",
                            from->has_least ? finding_place(board, &from->least) : json_null());
    return out;
}

static json_t *facts(const struct board *board)
{
    json_t *out = json_array();
    struct fact_line line;
    char buffer[48];
    for (size_t i = 0; fact_at(board, i, &line, buffer); i++)
        json_array_append_new(
            out, json_pack("{s:s, s:o, s:s, s:s, s:o}", "fact", line.name, "value",
                           line.text ? json_string(line.text) : number(line.value, 1e-6), "unit",
                           line.unit, "from", fact_source_word(line.source), "at",
                           source(board, line.at)));
    return out;
}

static const struct file_role *role_of(const struct board *board, uint32_t file_id)
{
    for (size_t i = 0; i < board->role_count; i++)
        if (board->roles[i].file_id == file_id)
            return &board->roles[i];
    return NULL;
}

static json_t *files(const struct board *board)
{
    json_t *out = json_array();
    for (size_t i = 0; i < board->files->count; i++) {
        const struct source_file *file = &board->files->files[i];
        const struct file_role *role = role_of(board, (uint32_t)i + 1);
        json_array_append_new(out,
                              json_pack("{s:o, s:s, s:I, s:b, s:o, s:o}", "name",
                                        text_or_null(file->name), "sha256", file->sha256, "bytes",
                                        (json_int_t)file->size, "is_package", file->is_package,
                                        "role", text_or_null(role ? role_word(role->role) : NULL),
                                        "why", text_or_null(role ? role->why : NULL)));
    }
    return out;
}

static json_t *diagnostics(const struct report_input *in)
{
    static const char *const levels[] = {
        [DIAG_NOTE] = "note", [DIAG_WARNING] = "warning", [DIAG_ERROR] = "error"};
    json_t *out = json_array();
    for (size_t i = 0; i < in->diags->count; i++) {
        const struct diag *diag = &in->diags->items[i];
        json_array_append_new(
            out, json_pack("{s:s, s:s, s:o, s:o, s:o, s:i}", "level", levels[diag->level], "code",
                           diag->code, "text", text_or_null(diag->text), "advice",
                           text_or_null(diag->advice), "at", source(in->board, diag->at),
                           "more_of_this_kind", (int)diag->suppressed_count));
    }
    return out;
}

static json_t *option_list(const struct report_options *options)
{
    json_t *out = json_array();
    for (size_t i = 0; i < options->option_count; i++)
        json_array_append_new(out, text_or_null(options->options[i]));
    return out;
}

static json_t *whole(const struct report_input *in)
{
    const struct check_result *result = in->result;
    json_t *verdicts = json_array(), *findings = json_array(), *silent = json_array();
    for (size_t i = 0; i < result->verdict_count; i++)
        json_array_append_new(verdicts, verdict(in->board, &result->verdicts[i]));
    for (size_t i = 0; i < result->finding_count; i++)
        json_array_append_new(findings, finding(in->board, &result->findings[i]));
    for (size_t i = 0; i < result->unjudged_count; i++)
        json_array_append_new(silent, text_or_null(net_name(in->board, result->unjudged_nets[i])));
    return json_pack("{s:s, s:s, s:o, s:o, s:i, s:b, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "format",
                     "isthmus-report-1", "version", in->options->version, "package",
                     text_or_null(in->options->package), "options", option_list(in->options),
                     "exit_code", in->exit_code, "widths_judged", result->has_table, "margin_limit",
                     ratio(result->margin_limit), "files", files(in->board), "facts",
                     facts(in->board), "verdicts", verdicts, "findings", findings,
                     "nets_without_current", silent, "diagnostics", diagnostics(in));
}

enum report_status report_check_json(const struct report_input *in, FILE *out)
{
    json_t *root = whole(in);
    if (!root)
        return REPORT_NO_MEMORY;
    int failed = json_dumpf(root, out, JSON_INDENT(2) | JSON_REAL_PRECISION(12));
    json_decref(root);
    fputc('\n', out);
    return failed || ferror(out) ? REPORT_WRITE_FAILED : REPORT_OK;
}
