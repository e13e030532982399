/*
 * The rule net-joined: does any piece of copper carry terminals of two nets whose tie nobody
 * stated?
 */
#include "isthmus/rule.h"

#include "findings.h"

#include <math.h>
#include <stdlib.h>

/* First some cut: pieces up to a third of a millimetre (in mm2 of outer copper) and the sides of
 * the mesh. It bounds the least one, which is then looked for with all pieces that a cut below the
 * bound can be made of. Where these are too many, as many of them as may be make another cut, which
 * bounds it more closely; and the most that can be looked through is looked for by halves. */
#define WIDE_REACH_MM2 0.01
#define BOUND_SLACK 1.001
#define FIRST_LIMIT_MM2 0.16
#define LIMIT_STEP 4.0
#define LIMIT_NEARNESS 1.25 /* a limit that was affordable and one that was not, in proportion */
#define CHORD_LIMIT 100000

/* The nets that one conductor is named by. */
struct tie {
    const struct rule_context *context;
    struct arena *scratch;
    uint32_t conductor;
    struct net_question question; /* an end a terminal */
    uint32_t *net_of_end;
    uint32_t *nets;
    size_t net_count;
    size_t *parent; /* per net: the one it is parted from (a tree of least cuts) */
    struct net_copper copper;
    uint8_t *side;
    struct neck_meter *wide;        /* for cuts of any width; made when first asked */
    struct neck_meter *least;       /* for cuts below least_mm2 */
    const struct neck_meter *asked; /* that of the last cut */
    double least_mm2, refused_mm2;  /* refused: the least limit with too many pieces */
    double wide_mm2;                /* reach of `wide` */
};

/* ---- who hangs on the conductor ---- */

static bool is_on(const struct tie *tie, const struct terminal *terminal)
{
    for (size_t c = 0; c < terminal->contact_count; c++)
        if (tie->context->board->contacts[terminal->contacts[c]].conductor == tie->conductor)
            return true;
    return false;
}

static bool is_noted(const struct tie *tie, uint32_t net)
{
    for (size_t i = 0; i < tie->net_count; i++)
        if (tie->nets[i] == net)
            return true;
    return false;
}

/* The conductor's own net first, then those that one source names beside it. */
static bool note_nets(struct tie *tie)
{
    const struct board *board = tie->context->board;
    tie->nets = arena_alloc(tie->scratch, board->clash_count + 1, sizeof *tie->nets);
    tie->parent = arena_alloc(tie->scratch, board->clash_count + 1, sizeof *tie->parent);
    if (!tie->nets || !tie->parent)
        return false;
    for (size_t i = 0; i < board->clash_count; i++) {
        const struct net_clash *clash = &board->clashes[i];
        for (size_t n = 0; n < 2 && clash->is_join && clash->conductor == tie->conductor; n++)
            if (!is_noted(tie, clash->names[n].net))
                tie->nets[tie->net_count++] = clash->names[n].net;
    }
    return true;
}

static bool collect_ends(struct tie *tie)
{
    const struct board *board = tie->context->board;
    size_t most = board->terminal_count + 1;
    struct end *ends = arena_alloc(tie->scratch, most, sizeof *ends);
    uint32_t *numbers = arena_alloc(tie->scratch, most, sizeof *numbers);
    tie->net_of_end = arena_alloc(tie->scratch, most, sizeof *tie->net_of_end);
    tie->side = arena_alloc(tie->scratch, most, sizeof *tie->side);
    if (!ends || !numbers || !tie->net_of_end || !tie->side)
        return false;
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        const struct terminal *terminal = &board->terminals[t];
        if (terminal->net >= board->net_count || !is_noted(tie, net_root(board, terminal->net)) ||
            !is_on(tie, terminal))
            continue;
        numbers[t] = t;
        tie->net_of_end[tie->question.end_count] = net_root(board, terminal->net);
        ends[tie->question.end_count++] = (struct end){terminal->name, &numbers[t], 1, false};
    }
    tie->question.ends = ends;
    return true;
}

static size_t count_ends(const struct tie *tie, uint32_t net)
{
    size_t count = 0;
    for (size_t e = 0; e < tie->question.end_count; e++)
        count += tie->net_of_end[e] == net;
    return count;
}

/* ---- the least cut between two of the nets ---- */

static enum neck_status cut_wide(struct tie *tie, double reach_mm2, struct neck_place *place,
                                 bool *is_found)
{
    enum neck_status status = NECK_OK;
    if (!tie->wide || tie->wide_mm2 < reach_mm2) {
        neck_meter_free(tie->wide);
        tie->wide_mm2 = reach_mm2;
        status = neck_meter_new_wide(&tie->copper.net, reach_mm2, &tie->wide);
    }
    return status == NECK_OK
               ? neck_meter_cut(tie->wide, tie->side, tie->context->arena, place, is_found)
               : status;
}

/* A meter for cuts below the limit: the one at hand, if it goes as far; else a new one. */
static enum neck_status make_least(struct tie *tie, double limit_mm2)
{
    bool is_over_limit = false;
    if (tie->least && tie->least_mm2 >= limit_mm2)
        return NECK_OK;
    neck_meter_free(tie->least);
    tie->least_mm2 = limit_mm2;
    enum neck_status status =
        neck_meter_new(&tie->copper.net, limit_mm2, CHORD_LIMIT, &tie->least, &is_over_limit);
    if (is_over_limit)
        tie->refused_mm2 = limit_mm2;
    return status;
}

/* What is known of the least cut between two nets, in mm2: below from_mm2 there is none; a cut of
 * place->area_mm2 there is. */
struct bracket {
    double from_mm2;
    struct neck_place *place;
    bool is_least;
};

static double most_mm2(const struct bracket *bracket)
{
    return bracket->place->area_mm2 * BOUND_SLACK;
}

/* Looks for cuts below the limit: finds the least one, or raises from_mm2, or is refused. */
static enum neck_status try_limit(struct tie *tie, double limit_mm2, struct bracket *bracket)
{
    struct neck_place least = {0};
    bool is_found = false;
    enum neck_status status = make_least(tie, limit_mm2);
    if (status == NECK_OK && tie->least)
        status = neck_meter_cut(tie->least, tie->side, tie->context->arena, &least, &is_found);
    if (status != NECK_OK || !tie->least)
        return status;
    bracket->from_mm2 = limit_mm2;
    bracket->is_least = is_found;
    if (is_found) {
        *bracket->place = least;
        tie->asked = tie->least;
    }
    return NECK_OK;
}

/* With as many of the pieces below the bound as may be: is there a smaller cut? */
static enum neck_status lower_bound(struct tie *tie, struct bracket *bracket)
{
    struct neck_place other = {0};
    bool is_found = false;
    enum neck_status status = cut_wide(tie, most_mm2(bracket), &other, &is_found);
    tie->asked = tie->wide;
    if (status == NECK_OK && is_found && other.area_mm2 < bracket->place->area_mm2)
        *bracket->place = other;
    bracket->is_least =
        status == NECK_OK && is_found && neck_meter_proves(tie->wide, bracket->place->area_mm2);
    return status;
}

/* Longer pieces cost more each, so they are looked for in steps; then by halves up to the most that
 * is not refused. */
static enum neck_status narrow_bracket(struct tie *tie, struct bracket *bracket)
{
    enum neck_status status = NECK_OK;
    bool is_lowered = false;
    double limit_mm2 = FIRST_LIMIT_MM2;
    while (status == NECK_OK && !bracket->is_least && bracket->from_mm2 < most_mm2(bracket)) {
        limit_mm2 = fmin(limit_mm2, most_mm2(bracket));
        if (limit_mm2 < tie->refused_mm2) {
            status = try_limit(tie, limit_mm2, bracket);
            limit_mm2 *= LIMIT_STEP;
        } else if (!is_lowered) {
            is_lowered = true;
            status = lower_bound(tie, bracket);
        }
        if (is_lowered && limit_mm2 >= tie->refused_mm2) {
            if (tie->refused_mm2 < bracket->from_mm2 * LIMIT_NEARNESS)
                break;
            limit_mm2 = sqrt(fmax(bracket->from_mm2, WIDE_REACH_MM2) * tie->refused_mm2);
        }
    }
    return status;
}

/* None is found only where the nets share a pad. */
static enum neck_status cut_nets(struct tie *tie, uint32_t net, uint32_t other,
                                 struct neck_place *place, bool *is_found, bool *is_least)
{
    for (size_t e = 0; e < tie->question.end_count; e++)
        tie->side[e] = tie->net_of_end[e] == net ? 1 : tie->net_of_end[e] == other ? 2 : 0;
    enum neck_status status = cut_wide(tie, WIDE_REACH_MM2, place, is_found);
    if (status != NECK_OK || !*is_found || place->piece_count == 0)
        return status;
    tie->asked = tie->wide;
    struct bracket bracket = {.place = place};
    bracket.is_least = neck_meter_proves(tie->wide, place->area_mm2);
    if (!bracket.is_least)
        status = narrow_bracket(tie, &bracket);
    *is_least = bracket.is_least;
    return status;
}

/* Gusfield 1990, "Very simple methods for all pairs network flow analysis": the nets that are on
 * this net's side of the cut hang on it from now on. */
static void hang_on(struct tie *tie, size_t index, const struct neck_meter *meter)
{
    for (size_t j = index + 1; j < tie->net_count; j++) {
        bool is_this_side = false;
        for (size_t e = 0; e < tie->question.end_count && !is_this_side; e++)
            is_this_side =
                tie->net_of_end[e] == tie->nets[j] && neck_meter_reaches(meter, (uint32_t)e);
        if (is_this_side && tie->parent[j] == tie->parent[index])
            tie->parent[j] = index;
    }
}

/* ---- the finding ---- */

static const struct net_clash *clash_of(const struct tie *tie, uint32_t net)
{
    const struct board *board = tie->context->board;
    for (size_t i = 0; i < board->clash_count; i++)
        if (board->clashes[i].conductor == tie->conductor && board->clashes[i].is_join &&
            board->clashes[i].names[1].net == net)
            return &board->clashes[i];
    return NULL;
}

/* Where no cut is known: where the foreign name was drawn. */
static bool place_of_name(const struct tie *tie, uint32_t net, struct finding_place *out)
{
    const struct net_clash *clash = clash_of(tie, net);
    struct finding_piece *piece = arena_alloc(tie->context->arena, 1, sizeof *piece);
    *out = (struct finding_place){.width_mm = (double)NAN, .pieces = piece};
    if (!piece || !clash)
        return piece != NULL;
    out->middle = clash->names[1].place;
    out->layer = clash->names[1].layer;
    return true;
}

static bool fill_side(const struct tie *tie, uint32_t net, uint32_t **side, size_t *count)
{
    *side = arena_alloc(tie->context->arena, tie->question.end_count + 1, sizeof **side);
    if (!*side)
        return false;
    for (size_t e = 0; e < tie->question.end_count; e++)
        if (tie->net_of_end[e] == net)
            (*side)[(*count)++] = *tie->question.ends[e].terminals;
    return true;
}

static bool fill_finding(struct tie *tie, uint32_t net, uint32_t other,
                         const struct neck_place *place, struct finding *out)
{
    const struct rule_context *context = tie->context;
    const struct finding_maker maker = {.board = context->board,
                                        .question = &tie->question,
                                        .copper = &tie->copper,
                                        .arena = context->arena};
    *out = (struct finding){
        .kind = FINDING_JOINED, .net = other, .other_net = net, .pass_thickness_um = (double)NAN};
    const struct net_clash *clash = clash_of(tie, net);
    out->doubt = clash ? clash->doubt : NULL;
    out->places = arena_alloc(context->arena, 1, sizeof *out->places);
    out->place_count = 1;
    out->join_line = arena_printf(context->arena, "%s = %s", context->board->nets[net].name,
                                  context->board->nets[other].name);
    return out->places && out->join_line &&
           fill_side(tie, other, &out->side_a, &out->side_a_count) &&
           fill_side(tie, net, &out->side_b, &out->side_b_count) &&
           (place ? make_place(&maker, place, out->places) : place_of_name(tie, net, out->places));
}

static enum neck_status part_net(struct tie *tie, size_t index, struct finding *out)
{
    uint32_t net = tie->nets[index], other = tie->nets[tie->parent[index]];
    struct neck_place place = {0};
    bool is_found = false, is_least = false;
    enum neck_status status = NECK_OK;
    if (count_ends(tie, net) && count_ends(tie, other))
        status = cut_nets(tie, net, other, &place, &is_found, &is_least);
    if (is_found && place.piece_count > 0 && tie->net_count > 2)
        hang_on(tie, index, tie->asked);
    if (status == NECK_NO_MEMORY)
        return status;
    bool has_place = is_found && place.piece_count > 0;
    if (!fill_finding(tie, net, other, has_place ? &place : NULL, out))
        return NECK_NO_MEMORY;
    out->places->is_at_most = has_place && !is_least;
    return NECK_OK;
}

/* Every net on the conductor but the first is parted from one before it. */
static bool part_conductor(struct tie *tie, struct finding *found, size_t *count)
{
    if (!note_nets(tie) || !collect_ends(tie) ||
        !passable_copper_collect(tie->context->board, &tie->question, tie->scratch, &tie->copper))
        return false;
    bool is_done = true;
    for (size_t i = 1; i < tie->net_count && is_done; i++)
        is_done = part_net(tie, i, &found[(*count)++]) != NECK_NO_MEMORY;
    neck_meter_free(tie->wide);
    neck_meter_free(tie->least);
    return is_done;
}

static bool is_first_of_conductor(const struct board *board, size_t clash)
{
    for (size_t i = 0; i < clash; i++)
        if (board->clashes[i].is_join &&
            board->clashes[i].conductor == board->clashes[clash].conductor)
            return false;
    return board->clashes[clash].is_join;
}

enum rule_status net_joined_run(const struct rule_context *context, struct check_result *out)
{
    const struct board *board = context->board;
    struct arena *scratch = arena_new("net-joined");
    struct finding *found = arena_alloc(context->arena, board->clash_count + 1, sizeof *found);
    size_t count = 0;
    bool is_done = scratch && found;
    for (size_t i = 0; is_done && i < board->clash_count; i++) {
        if (!is_first_of_conductor(board, i))
            continue;
        struct tie tie = {.context = context,
                          .scratch = scratch,
                          .conductor = board->clashes[i].conductor,
                          .refused_mm2 = (double)INFINITY};
        is_done = part_conductor(&tie, found, &count);
        arena_reset(scratch);
    }
    arena_free(scratch);
    is_done = is_done && findings_append(out, found, count, context->arena);
    return is_done ? RULE_OK : RULE_NO_MEMORY;
}
