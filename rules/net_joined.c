/*
 * The rule net-joined: does any piece of copper carry terminals of two nets whose tie nobody
 * stated?
 */
#include "isthmus/rule.h"

#include "bridge.h"
#include "findings.h"

#include <math.h>
#include <stdlib.h>

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
    struct bridge_search search;
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

/* None is found only where the nets share a pad. */
static enum neck_status cut_nets(struct tie *tie, uint32_t net, uint32_t other,
                                 struct neck_place *place, bool *is_found, bool *is_least)
{
    for (size_t e = 0; e < tie->question.end_count; e++)
        tie->side[e] = tie->net_of_end[e] == net ? 1 : tie->net_of_end[e] == other ? 2 : 0;
    return bridge_find(&tie->search, tie->side, place, is_found, is_least);
}

/* Gusfield 1990, "Very simple methods for all pairs network flow analysis": the nets that are on
 * this net's side of the cut hang on it from now on. */
static void hang_on(struct tie *tie, size_t index)
{
    for (size_t j = index + 1; j < tie->net_count; j++) {
        bool is_this_side = false;
        for (size_t e = 0; e < tie->question.end_count && !is_this_side; e++)
            is_this_side = tie->net_of_end[e] == tie->nets[j] && tie->search.reached[e];
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
        hang_on(tie, index);
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
        !passable_copper_collect(tie->context->board, &tie->question, tie->scratch, &tie->copper) ||
        !bridge_begin(&tie->copper.net, tie->context->arena, tie->scratch, &tie->search))
        return false;
    bool is_done = true;
    for (size_t i = 1; i < tie->net_count && is_done; i++)
        is_done = part_net(tie, i, &found[(*count)++]) != NECK_NO_MEMORY;
    bridge_end(&tie->search);
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
        struct tie tie = {
            .context = context, .scratch = scratch, .conductor = board->clashes[i].conductor};
        is_done = part_conductor(&tie, found, &count);
        arena_reset(scratch);
    }
    arena_free(scratch);
    is_done = is_done && findings_append(out, found, count, context->arena);
    return is_done ? RULE_OK : RULE_NO_MEMORY;
}
