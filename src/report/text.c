/* The readable report of a check: verdicts, findings, what was assumed, cautions. */
#include "words.h"

#include <math.h>
#include <string.h>

#define PLACES_SHOWN 4
#define PIECES_SHOWN 12 /* of a wide bridge */
#define ROWS_SHOWN 12
#define NAMES_SHOWN 8
#define NETS_SHOWN 6
#define DEAD_ENDS_SHOWN 6
#define RISE_SHOWN_K 100.0 /* the fit ends there: a rise to allow that is higher helps nobody */

struct text {
    const struct report_input *in;
    FILE *out;
};

/* ---- small pieces ---- */

static const char *colour(const struct text *text, enum verdict verdict)
{
    static const char *const colours[] = {[VERDICT_PASS] = "\033[32m",
                                          [VERDICT_PASS_BY_SUM] = "\033[36m",
                                          [VERDICT_NARROW] = "\033[1;31m",
                                          [VERDICT_UNASSIGNED] = "\033[1;33m",
                                          [VERDICT_NOT_JUDGED] = "\033[1;35m"};
    return text->in->options->use_colour ? colours[verdict] : "";
}

static const char *plain(const struct text *text)
{
    return text->in->options->use_colour ? "\033[0m" : "";
}

static void put_length(const struct text *text, double mm)
{
    if (text->in->options->use_mil)
        fprintf(text->out, "%.1f mil", mm / 0.0254);
    else
        fprintf(text->out, "%.3f mm", mm);
}

static void put_place(const struct text *text, struct pos_nm at)
{
    if (text->in->options->use_mil)
        fprintf(text->out, "(%.1f, %.1f) mil", (double)at.x_nm / 25400, (double)at.y_nm / 25400);
    else
        fprintf(text->out, "(%.3f, %.3f) mm", nm_to_mm(at.x_nm), nm_to_mm(at.y_nm));
}

static void put_layer(const struct text *text, uint16_t layer)
{
    char word[16];
    fputs(layer ? layer_word(text->in->board, layer, word) : "hole walls", text->out);
}

static bool has_layer_before(const struct finding_place *place, size_t end, uint16_t layer)
{
    for (size_t i = 0; i < end; i++)
        if (place->pieces[i].layer == layer)
            return true;
    return false;
}

/* Every layer that the pieces are on, the main one first. */
static void put_layers(const struct text *text, const struct finding_place *place)
{
    put_layer(text, place->layer);
    for (size_t i = 0; i < place->piece_count; i++) {
        uint16_t layer = place->pieces[i].layer;
        if (layer == place->layer || has_layer_before(place, i, layer))
            continue;
        fputs(" + ", text->out);
        put_layer(text, layer);
    }
}

/* The pieces are not all copper of the layer that widths are given for. */
static bool is_mixed(const struct finding_place *place)
{
    for (size_t i = 0; i < place->piece_count; i++)
        if (place->pieces[i].layer != place->width_layer)
            return true;
    return false;
}

static void put_source(const struct text *text, struct source_pos at)
{
    const struct file_table *files = text->in->board->files;
    if (at.file_id == 0 || at.file_id > files->count)
        return;
    fputs(files->files[at.file_id - 1].name, text->out);
    if (at.line)
        fprintf(text->out, ":%u", at.line);
}

static void put_label(const struct text *text, const char *label)
{
    fprintf(text->out, "     %-12s ", label);
}

static void put_rise(const struct text *text, double rise_k)
{
    if (isnan(rise_k))
        fputs("no steady state: it runs away", text->out);
    else if (rise_k > 1000)
        fputs("more than 1000 K", text->out);
    else
        fprintf(text->out, "%.3g K", rise_k);
}

/* ---- head ---- */

static size_t count_verdicts(const struct check_result *result, enum verdict verdict)
{
    size_t count = 0;
    for (size_t i = 0; i < result->verdict_count; i++)
        count += result->verdicts[i].verdict == verdict;
    return count;
}

/* Of the named nets: how many are split or joined, and of how many that is not known. */
static void put_net_count(const struct text *text)
{
    const struct check_result *result = text->in->result;
    const struct board *board = text->in->board;
    size_t split = 0, joined = 0, unknown = 0;
    for (size_t n = 0; n < board->net_count; n++)
        unknown += board->nets[n].state == NET_DISPUTED ||
                   (board->nets[n].state == NET_SPLIT && board->nets[n].may_be_several);
    for (size_t i = 0; i < result->finding_count; i++) {
        split += result->findings[i].kind == FINDING_SPLIT;
        joined += result->findings[i].kind == FINDING_JOINED;
    }
    if (board->net_count)
        fprintf(text->out, "%zu nets by name: %zu split, %zu joins", board->net_count, split,
                joined);
    if (unknown)
        fprintf(text->out, "; %zu could not be judged: their names, pins or holes are in doubt",
                unknown);
    if (board->net_count)
        fputc('\n', text->out);
    else
        fputs("no net has a name: splits and joins could not be looked for\n", text->out);
}

static void put_head(const struct text *text)
{
    const struct check_result *result = text->in->result;
    if (!result->has_table)
        fputs("NO WIDTH WAS JUDGED: no net-current table was given (`isthmus table` writes a "
              "starter).\n\n",
              text->out);
    fprintf(text->out, "isthmus %s: copper width of %s\n", text->in->options->version,
            text->in->options->package);
    put_net_count(text);
    if (!result->has_table)
        return;
    static const enum verdict order[] = {VERDICT_NARROW, VERDICT_UNASSIGNED, VERDICT_NOT_JUDGED,
                                         VERDICT_PASS_BY_SUM, VERDICT_PASS};
    const char *between = "";
    for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
        size_t count = count_verdicts(result, order[i]);
        if (count == 0)
            continue;
        fprintf(text->out, "%s%zu %s", between, count, verdict_word(order[i]));
        between = ", ";
    }
    fputs(*between ? "\n" : "no net judged\n", text->out);
}

/* ---- verdict lines ---- */

static void put_margin(const struct text *text, const struct net_verdict *verdict)
{
    if (verdict->verdict == VERDICT_NOT_JUDGED)
        return;
    if (isinf(verdict->margin))
        fprintf(text->out, "  margin more than %g",
                verdict->searched_margin > 0 ? verdict->searched_margin
                                             : text->in->result->margin_limit);
    else
        fprintf(text->out, "  margin %.2f", verdict->margin);
    if (!verdict->has_least)
        return;
    fputs(", least at ", text->out);
    put_place(text, verdict->least.middle);
    fputs(" ", text->out);
    put_layers(text, &verdict->least);
    fputs(is_mixed(&verdict->least) ? ": like " : ": ", text->out);
    put_length(text, verdict->least.width_mm);
    if (is_mixed(&verdict->least)) {
        fputs(" of ", text->out);
        put_layer(text, verdict->least.width_layer);
        fputs(" copper", text->out);
    }
    fputs(" for ", text->out);
    put_length(text, verdict->least.needed_mm);
    if (verdict->least.current_a < verdict->i_net_a)
        fprintf(text->out, " (%.3g A)", verdict->least.current_a);
    if (verdict->least.is_extrapolated)
        fputs(", extrapolated", text->out);
}

static void put_verdict(const struct text *text, const struct net_verdict *verdict)
{
    FILE *out = text->out;
    fprintf(out, "  %s%-16s%s", colour(text, verdict->verdict), verdict_word(verdict->verdict),
            plain(text));
    if (verdict->net != ISTHMUS_NONE)
        fprintf(out, "%-16s", net_name(text->in->board, verdict->net));
    if (verdict->case_name)
        fprintf(out, "  case %s", verdict->case_name);
    if (verdict->i_net_a > 0)
        fprintf(out, "  %.4g A (%s), %.3g K", verdict->i_net_a, verdict->i_net_how,
                verdict->rise_k);
    put_margin(text, verdict);
    if (verdict->reason)
        fprintf(out, "  %s", verdict->reason);
    if (verdict->has_more)
        fputs("  (there may be more: check again when these are mended)", out);
    if (verdict->closed_gap_count)
        fprintf(out, "  (%u gap%s closed)", verdict->closed_gap_count,
                verdict->closed_gap_count == 1 ? "" : "s");
    fputc('\n', out);
}

/* ---- findings ---- */

static void put_side(const struct text *text, const uint32_t *side, size_t count)
{
    for (size_t i = 0; i < count && i < NAMES_SHOWN; i++)
        fprintf(text->out, "%s%s", i ? ", " : "", text->in->board->terminals[side[i]].name);
    if (count > NAMES_SHOWN)
        fprintf(text->out, " and %zu more", count - NAMES_SHOWN);
}

/* What is drawn at its ends; an end on a pad's outline has nothing. */
static void put_bounds(const struct text *text, const struct finding_piece *piece)
{
    const char *between = "  ";
    if (piece->bound_a.file_id) {
        fputs(between, text->out);
        put_source(text, piece->bound_a);
        between = " | ";
    }
    if (piece->bound_b.file_id) {
        fputs(between, text->out);
        put_source(text, piece->bound_b);
    }
    fputc('\n', text->out);
}

static void put_piece(const struct text *text, const struct finding_piece *piece)
{
    put_label(text, "");
    if (piece->kind == PIECE_WALL) {
        fprintf(text->out, "hole wall, %.2f mm hole at ", piece->hole_mm);
        put_place(text, piece->middle);
    } else {
        fputs(piece_word(piece->kind), text->out);
        fputs(" ", text->out);
        put_length(text, piece->width_mm);
        fputs(", ", text->out);
        put_layer(text, piece->layer);
        fputs(", ", text->out);
        put_place(text, piece->from);
        fputs(" to ", text->out);
        put_place(text, piece->to);
    }
    put_bounds(text, piece);
}

/* Where the current at the worst place comes from. */
static void put_current(const struct text *text, const struct finding *finding)
{
    static const char *const verbs[] = {[CURRENT_FEEDS_A] = "feed",
                                        [CURRENT_DRAWS_A] = "draw",
                                        [CURRENT_FEEDS_B] = "feed",
                                        [CURRENT_DRAWS_B] = "draw"};
    put_label(text, "current");
    fprintf(text->out, "%.4g A: ", finding->places[0].current_a);
    if (finding->current_bound == CURRENT_OF_NET) {
        fprintf(text->out, "the most under way in the net (%s)", finding->net_current_how);
    } else {
        fputs("the most that ", text->out);
        put_side(text, finding->current_of, finding->current_of_count);
        fprintf(text->out, " %s%s", verbs[finding->current_bound],
                finding->current_of_count == 1 ? "s" : "");
    }
    fputs(finding->is_share ? ", its equal share of the group\n" : "\n", text->out);
}

static void put_internal(const struct text *text, const struct finding_place *place)
{
    put_label(text, "");
    if (fabs(place->needed_internal_mm - place->needed_mm) < 0.0005) {
        fputs("the same by the internal constants\n", text->out);
        return;
    }
    put_length(text, place->needed_internal_mm);
    fputs(" needed by the internal constants\n", text->out);
}

static void put_width(const struct text *text, const struct finding *finding,
                      const struct finding_place *place, const struct net_verdict *verdict)
{
    put_label(text, "width");
    put_length(text, place->width_mm);
    fputs(" found, ", text->out);
    put_length(text, place->needed_mm);
    fprintf(text->out, " needed for %.4g A at %.3g K", place->current_a,
            verdict ? verdict->rise_k : 0);
    if (place->is_extrapolated)
        fputs(" (extrapolated)", text->out);
    fputc('\n', text->out);
    if (is_mixed(place)) {
        put_label(text, "");
        fputs("all pieces together, as copper on ", text->out);
        put_layer(text, place->width_layer);
        fputc('\n', text->out);
    }
    put_internal(text, place);
    put_current(text, finding);
    put_label(text, "rise");
    fputs("at this width: ", text->out);
    put_rise(text, place->rise_at_width_k);
    if (place->rise_at_width_k > RISE_SHOWN_K)
        fputs(" (beyond what the fit covers)", text->out);
    if (place->narrow_length_mm > 0 && place->short_neck_rise_k < place->rise_at_width_k) {
        fputs("; between wide copper a neck of this length: ", text->out);
        put_rise(text, place->short_neck_rise_k);
        fputs(" (information only)", text->out);
    } else if (place->narrow_length_mm > 0) {
        fputs("; too long for wide copper at its ends to cool it", text->out);
    }
    fputc('\n', text->out);
    put_label(text, "length");
    if (place->narrow_length_mm > 0) {
        put_length(text, place->narrow_length_mm);
        fputs(" along the current", text->out);
    } else {
        fputs(place->layer ? "not measured: it runs along a pad or a hole" : "through the board",
              text->out);
    }
    if (finding->place_count > 1) {
        fprintf(text->out, "; all %zu places: ", finding->place_count);
        put_length(text, finding->narrow_length_mm);
    }
    fputc('\n', text->out);
}

static void put_remedy(const struct text *text, const struct finding *finding)
{
    put_label(text, "to pass");
    if (finding->kind == FINDING_UNASSIGNED) {
        fputs("say what these carry; their copper is good for these rows\n", text->out);
        put_label(text, "");
        fputs("(net,pin,current_a,rise_k,x_mm,y_mm,layer):\n", text->out);
        for (size_t i = 0; i < finding->row_to_add_count && i < ROWS_SHOWN; i++) {
            put_label(text, "");
            fprintf(text->out, "    %s\n", finding->rows_to_add[i]);
        }
        put_label(text, "");
        if (finding->row_to_add_count > ROWS_SHOWN)
            fprintf(text->out, "(and %zu more in the JSON report) ",
                    finding->row_to_add_count - ROWS_SHOWN);
        fputs("or ", text->out);
    }
    fputs("add ", text->out);
    if (finding->add_hole_count) {
        fprintf(text->out, "%zu hole%s of ", finding->add_hole_count,
                finding->add_hole_count == 1 ? "" : "s");
        put_length(text, finding->add_hole_mm);
    } else {
        put_length(text, finding->add_width_mm);
        if (is_mixed(&finding->places[0])) {
            fputs(" on ", text->out);
            put_layer(text, finding->places[0].width_layer);
        }
    }
    if (isfinite(finding->pass_thickness_um))
        fprintf(text->out, "; or %.0f um of finished copper", ceil(finding->pass_thickness_um));
    if (finding->pass_rise_k <= RISE_SHOWN_K)
        fprintf(text->out, "; or allow %.0f K", ceil(finding->pass_rise_k));
    fputc('\n', text->out);
}

static void put_further(const struct text *text, const struct finding *finding)
{
    for (size_t i = 1; i < finding->place_count && i <= PLACES_SHOWN; i++) {
        const struct finding_place *place = &finding->places[i];
        put_label(text, i == 1 ? "also at" : "");
        put_place(text, place->middle);
        fputs(", ", text->out);
        put_layer(text, place->layer);
        fputs(": ", text->out);
        put_length(text, place->width_mm);
        fputs(" found, ", text->out);
        put_length(text, place->needed_mm);
        fputs(" needed\n", text->out);
    }
    if (finding->place_count > PLACES_SHOWN + 1) {
        put_label(text, "");
        fprintf(text->out, "and %zu further places (all are in the JSON report)\n",
                finding->place_count - PLACES_SHOWN - 1);
    }
}

static const struct net_verdict *verdict_of(const struct check_result *result,
                                            const struct finding *finding)
{
    for (size_t i = 0; i < result->verdict_count; i++)
        if (result->verdicts[i].net == finding->net &&
            (result->verdicts[i].case_name == finding->case_name ||
             (result->verdicts[i].case_name && finding->case_name &&
              strcmp(result->verdicts[i].case_name, finding->case_name) == 0)))
            return &result->verdicts[i];
    return NULL;
}

/* ---- split and joined nets ---- */

static void put_sides(const struct text *text, const struct finding *finding)
{
    put_label(text, "between");
    put_side(text, finding->side_a, finding->side_a_count);
    fputs(" | ", text->out);
    put_side(text, finding->side_b, finding->side_b_count);
    fputc('\n', text->out);
}

static void put_gap(const struct text *text, const struct finding_piece *gap, const char *label)
{
    put_label(text, label);
    put_length(text, gap->width_mm);
    fputs(", ", text->out);
    put_place(text, gap->from);
    if (gap->layer_to) {
        fputs(" ", text->out);
        put_layer(text, gap->layer);
    }
    fputs(" to ", text->out);
    put_place(text, gap->to);
    fputs(" ", text->out);
    put_layer(text, gap->layer_to ? gap->layer_to : gap->layer);
    fputs("  ", text->out);
    put_source(text, gap->bound_a);
    fputs(" | ", text->out);
    put_source(text, gap->bound_b);
    fputc('\n', text->out);
}

static void put_doubt(const struct text *text, const struct finding *finding)
{
    if (!finding->doubt)
        return;
    put_label(text, "doubt");
    fprintf(text->out, "%s\n", finding->doubt);
}

static void put_split(const struct text *text, const struct finding *finding)
{
    fprintf(text->out, ": net %s hangs on %zu pieces of copper\n",
            net_name(text->in->board, finding->net), finding->part_count);
    for (size_t i = 0; i < finding->place_count && i <= PLACES_SHOWN; i++)
        put_gap(text, finding->places[i].pieces, i ? "" : "gap");
    if (finding->place_count > PLACES_SHOWN + 1) {
        put_label(text, "");
        fprintf(text->out, "and %zu further gaps (all are in the JSON report)\n",
                finding->place_count - PLACES_SHOWN - 1);
    }
    put_sides(text, finding);
    put_doubt(text, finding);
    put_label(text, "to pass");
    fputs("join the pieces, or give them nets of their own\n", text->out);
}

static void put_joined(const struct text *text, const struct finding *finding)
{
    const struct finding_place *place = finding->places;
    fprintf(text->out, ": nets %s and %s are one piece of copper",
            net_name(text->in->board, finding->net), net_name(text->in->board, finding->other_net));
    fputs(place->piece_count ? "; they meet in " : "; named so at ", text->out);
    put_layer(text, place->layer);
    fputs(place->piece_count ? " at " : " ", text->out);
    put_place(text, place->middle);
    fputc('\n', text->out);
    if (place->piece_count) {
        put_label(text, "width");
        put_length(text, place->width_mm);
        fputs(place->is_at_most ? " of copper between them, or less: too many cuts to compare\n"
                                : " of copper between them at its narrowest\n",
              text->out);
    }
    put_sides(text, finding);
    if (place->piece_count) {
        put_label(text, place->piece_count > 1 ? "pieces" : "piece");
        fputs("bounded by\n", text->out);
    }
    for (size_t i = 0; i < place->piece_count && i < PIECES_SHOWN; i++)
        put_piece(text, &place->pieces[i]);
    if (place->piece_count > PIECES_SHOWN) {
        put_label(text, "");
        fprintf(text->out, "and %zu further pieces (all are in the JSON report)\n",
                place->piece_count - PIECES_SHOWN);
    }
    put_doubt(text, finding);
    put_label(text, "to pass");
    fputs("take that copper away; or, if the tie is meant, say so in board.ini:\n", text->out);
    put_label(text, "");
    fputs("    [joins]\n", text->out);
    put_label(text, "");
    fprintf(text->out, "    %s\n", finding->join_line);
}

static void put_net_finding(const struct text *text, size_t number, const struct finding *finding)
{
    fprintf(text->out, "\n%3zu. %s%s%s", number, colour(text, VERDICT_NARROW),
            finding_word(finding->kind), plain(text));
    if (finding->kind == FINDING_SPLIT)
        put_split(text, finding);
    else
        put_joined(text, finding);
}

static void put_finding(const struct text *text, size_t number, const struct finding *finding)
{
    if (finding->kind == FINDING_SPLIT || finding->kind == FINDING_JOINED) {
        put_net_finding(text, number, finding);
        return;
    }
    const struct finding_place *worst = &finding->places[0];
    enum verdict verdict = finding->kind == FINDING_NARROW ? VERDICT_NARROW : VERDICT_UNASSIGNED;
    fprintf(text->out, "\n%3zu. %s%s%s: net %s", number, colour(text, verdict),
            finding_word(finding->kind), plain(text), net_name(text->in->board, finding->net));
    if (finding->case_name)
        fprintf(text->out, ", case %s", finding->case_name);
    fputs(", ", text->out);
    put_layers(text, worst);
    fputs(", at ", text->out);
    put_place(text, worst->middle);
    fprintf(text->out, ", margin %.2f\n", worst->margin);
    put_width(text, finding, worst, verdict_of(text->in->result, finding));
    put_sides(text, finding);
    put_label(text, worst->piece_count > 1 ? "pieces" : "piece");
    fputs("bounded by\n", text->out);
    for (size_t i = 0; i < worst->piece_count; i++)
        put_piece(text, &worst->pieces[i]);
    put_remedy(text, finding);
    put_further(text, finding);
}

/* ---- what was read and assumed ---- */

static void put_unjudged(const struct text *text)
{
    const struct check_result *result = text->in->result;
    if (result->unjudged_count == 0)
        return;
    fprintf(text->out,
            "\nNot judged: no current for %zu net%s; most copper first: ", result->unjudged_count,
            result->unjudged_count == 1 ? "" : "s");
    for (size_t i = 0; i < result->unjudged_count && i < NETS_SHOWN; i++)
        fprintf(text->out, "%s%s", i ? ", " : "",
                net_name(text->in->board, result->unjudged_nets[i]));
    fputs(result->unjudged_count > NETS_SHOWN ? " ...\n" : "\n", text->out);
}

/* Cases of a net have the same copper: told at the first. */
static bool is_told(const struct check_result *result, size_t index)
{
    for (size_t i = 0; i < index; i++)
        if (result->verdicts[i].net == result->verdicts[index].net)
            return true;
    return false;
}

static void put_dead_ends(const struct text *text)
{
    const struct check_result *result = text->in->result;
    const char *head = "\nLeads to no terminal (in a hole or pad it needs a row, with 0 if it "
                       "carries nothing)\n";
    for (size_t i = 0; i < result->verdict_count; i++) {
        const struct net_verdict *verdict = &result->verdicts[i];
        if (verdict->branch_count == 0 || is_told(result, i))
            continue;
        fputs(head, text->out);
        head = "";
        report_dead_ends(text->in, verdict->net, verdict->branches, verdict->branch_count,
                         DEAD_ENDS_SHOWN, text->out);
    }
}

static void put_taken(const struct text *text, const struct taken_copper *taken)
{
    const char *plural = taken->object_count == 1 ? "" : "s";
    if (taken->by != TAKEN_BEYOND)
        put_length(text, taken->edge_mm);
    if (taken->by == TAKEN_BY_EDGE)
        fputs(" cut by the board's edge, at ", text->out);
    else if (taken->by == TAKEN_BY_HOLE)
        fprintf(text->out, " cut by %zu hole%s without plating, at ", taken->object_count, plural);
    else
        fprintf(text->out, "%zu object%s beyond the board's edge, at ", taken->object_count,
                plural);
    put_place(text, taken->at);
    fputs(", ", text->out);
    put_layer(text, taken->layer);
    fputs("  ", text->out);
    put_source(text, taken->source);
    fputc('\n', text->out);
}

static void put_all_taken(const struct text *text)
{
    const struct check_result *result = text->in->result;
    const char *head = "\nDrawn but not there (copper of a judged net that is taken away)\n";
    for (size_t i = 0; i < result->verdict_count; i++) {
        const struct net_verdict *verdict = &result->verdicts[i];
        for (size_t k = 0; !is_told(result, i) && k < verdict->taken_count; k++) {
            fputs(head, text->out);
            head = "";
            fprintf(text->out, "  %-16s ", net_name(text->in->board, verdict->net));
            put_taken(text, &verdict->taken[k]);
        }
    }
}

static void put_facts(const struct text *text)
{
    struct fact_line line;
    char buffer[48];
    fputs("\nBoard facts\n", text->out);
    for (size_t i = 0; fact_at(text->in->board, i, &line, buffer); i++) {
        fprintf(text->out, "  %-42s ", line.name);
        if (line.text)
            fprintf(text->out, "%s", line.text);
        else
            fprintf(text->out, "%g %s", line.value, line.unit);
        fprintf(text->out, " (%s", fact_source_word(line.source));
        if (line.at.file_id) {
            fputs(", ", text->out);
            put_source(text, line.at);
        }
        fputs(")\n", text->out);
    }
    if (!text->in->board->has_profile)
        fputs("  no profile in the package: copper was taken as drawn to its ends\n", text->out);
}

static size_t count_of_kind(const struct diag_list *diags, const struct diag *of)
{
    size_t count = 0;
    for (size_t i = 0; i < diags->count; i++)
        if (diags->items[i].level == DIAG_NOTE && strcmp(diags->items[i].code, of->code) == 0)
            count += 1 + diags->items[i].suppressed_count;
    return count;
}

static bool is_first_of_kind(const struct diag_list *diags, size_t index)
{
    for (size_t i = 0; i < index; i++)
        if (diags->items[i].level == DIAG_NOTE &&
            strcmp(diags->items[i].code, diags->items[index].code) == 0)
            return false;
    return true;
}

/* What was taken for granted while reading, one of each kind; warnings went to stderr. */
static void put_notes(const struct text *text)
{
    const struct diag_list *diags = text->in->diags;
    const char *head = "\nNoted while reading (all are in the JSON report)\n";
    for (size_t i = 0; i < diags->count; i++) {
        const struct diag *diag = &diags->items[i];
        if (diag->level != DIAG_NOTE || !is_first_of_kind(diags, i))
            continue;
        fprintf(text->out, "%s  %s", head, diag->text);
        head = "";
        size_t more = count_of_kind(diags, diag) - 1;
        if (more)
            fprintf(text->out, " (and %zu more of this kind)", more);
        fputc('\n', text->out);
    }
}

static void put_files(const struct text *text)
{
    const struct board *board = text->in->board;
    fputs("\nThis verdict belongs to exactly these bytes (SHA-256)\n", text->out);
    for (size_t i = 0; i < board->files->count; i++) {
        const struct source_file *file = &board->files->files[i];
        fprintf(text->out, "  %s  %s\n", file->sha256, file->name);
    }
    fprintf(text->out, "Options:");
    for (size_t i = 0; i < text->in->options->option_count; i++)
        fprintf(text->out, " %s", text->in->options->options[i]);
    fputs(text->in->options->option_count ? "\n" : " none\n", text->out);
}

static void put_cautions(const struct text *text)
{
    fputs("\nCautions\n"
          "  The fit is for one conductor alone: hot conductors side by side, parts that heat the "
          "board, a closed\n"
          "  box or thin air make it hotter. Jumper wires, bus bars, solder laid on tracks and "
          "edge plating are not\n"
          "  seen. Hot copper burns skin and starts fires; mains and batteries kill: follow your "
          "local codes, have\n"
          "  licensed people check what they must, and measure the first board under load before "
          "you trust it.\n",
          text->out);
}

static enum report_status write_report(const void *what, FILE *out)
{
    const struct report_input *in = what;
    const struct text text = {in, out};
    const struct check_result *result = in->result;
    put_head(&text);
    if (result->verdict_count)
        fputs("\nVerdicts, worst first\n", out);
    for (size_t i = 0; i < result->verdict_count; i++)
        put_verdict(&text, &result->verdicts[i]);
    for (size_t i = 0; i < result->finding_count; i++)
        put_finding(&text, i + 1, &result->findings[i]);
    put_unjudged(&text);
    put_dead_ends(&text);
    put_all_taken(&text);
    put_facts(&text);
    put_notes(&text);
    put_files(&text);
    put_cautions(&text);
    return ferror(out) ? REPORT_WRITE_FAILED : REPORT_OK;
}

enum report_status report_check_text(const struct report_input *in, FILE *out)
{
    return report_plain(write_report, in, in->options->use_colour, out);
}
