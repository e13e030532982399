/* What each terminal's copper is good for: its narrowest cut from the rest of its net. */
#include "isthmus/rule.h"

#include "isthmus/physics.h"
#include "net_copper.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

/* The search starts with few short pieces and goes on to longer ones for who is left. */
#define FIRST_CURRENT_A 0.5
#define LAST_CURRENT_A 80.0
#define LAST_UNNAMED_A 4.5 /* painted grounds without a name take ten seconds and more beyond */
#define CURRENT_STEP 3.0
#define CHORD_LIMIT 30000 /* pieces a layer: well under a second */

/* A net, or where net is ISTHMUS_NONE a conductor that has no name. */
struct asked {
    uint32_t net, conductor;
    size_t terminal_count;
};
struct capacity {
    const struct rule_context *context;
    double rise_k, k;
    struct terminal_capacity *out; /* each net writes to its own terminals alone */
    struct asked *asked;           /* those with most terminals first */
    size_t asked_count;
    atomic_size_t done_count;
    atomic_bool is_without_memory;
};

/* One of these: its ends, each one terminal of the board, and who still waits for an answer. */
struct question {
    struct arena *scratch;
    struct net_question net;
    struct net_copper copper;
    uint8_t *side;
    bool *is_answered;
};

static bool is_judgeable(const struct board *board, uint32_t net)
{
    const struct net *item = &board->nets[net];
    return net_root(board, net) == net && item->state == NET_OK && item->terminal_count >= 2;
}

static bool is_unnamed_end(const struct terminal *terminal)
{
    return terminal->net == ISTHMUS_NONE && terminal->contact_count > 0 &&
           terminal->conductor != ISTHMUS_NONE;
}

static bool ends_of_conductor(const struct board *board, uint32_t conductor, struct arena *arena,
                              struct net_question *question)
{
    question->ends = arena_alloc(arena, board->terminal_count + 1, sizeof *question->ends);
    uint32_t *numbers = arena_alloc(arena, board->terminal_count + 1, sizeof *numbers);
    if (!question->ends || !numbers)
        return false;
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        if (!is_unnamed_end(&board->terminals[t]) || board->terminals[t].conductor != conductor)
            continue;
        numbers[t] = t;
        question->ends[question->end_count++] =
            (struct end){board->terminals[t].name, &numbers[t], 1, false};
    }
    return true;
}

static bool list_ends(const struct capacity *capacity, const struct asked *asked,
                      struct question *question)
{
    const struct board *board = capacity->context->board;
    size_t most = board->terminal_count + 1;
    question->side = arena_alloc(question->scratch, most, sizeof *question->side);
    question->is_answered = arena_alloc(question->scratch, most, sizeof *question->is_answered);
    if (!question->side || !question->is_answered)
        return false;
    return asked->net == ISTHMUS_NONE
               ? ends_of_conductor(board, asked->conductor, question->scratch, &question->net)
               : ends_of_net(board, asked->net, question->scratch, &question->net);
}

/* One end against all others. */
static enum neck_status ask_end(const struct capacity *capacity, struct question *question,
                                struct neck_meter *meter, size_t end)
{
    struct neck_place place;
    bool is_found;
    for (size_t e = 0; e < question->net.end_count; e++)
        question->side[e] = e == end ? 1 : 2;
    enum neck_status status =
        neck_meter_cut(meter, question->side, question->scratch, &place, &is_found);
    if (status != NECK_OK || !is_found)
        return status;
    question->is_answered[end] = true;
    capacity->out[*question->net.ends[end].terminals] = (struct terminal_capacity){
        ipc2221_current_a(capacity->k, capacity->rise_k, place.area_mm2), false};
    return NECK_OK;
}

/* Everyone who waits, with the pieces that this current needs. */
static enum neck_status ask_round(const struct capacity *capacity, struct question *question,
                                  double current_a, bool *is_last)
{
    struct neck_meter *meter;
    bool is_over_limit, is_waiting = false;
    double limit_mm2 = ipc2221_area_mm2(capacity->k, current_a, capacity->rise_k);
    enum neck_status status =
        neck_meter_new(&question->copper.net, limit_mm2, CHORD_LIMIT, &meter, &is_over_limit);
    *is_last = is_over_limit;
    if (status != NECK_OK || is_over_limit)
        return status;
    for (size_t e = 0; e < question->net.end_count && status == NECK_OK; e++) {
        if (question->is_answered[e])
            continue;
        status = ask_end(capacity, question, meter, e);
        if (!question->is_answered[e])
            capacity->out[*question->net.ends[e].terminals] =
                (struct terminal_capacity){current_a, true};
        is_waiting |= !question->is_answered[e];
    }
    *is_last = !is_waiting;
    neck_meter_free(meter);
    return status;
}

static bool search_net(const struct capacity *capacity, const struct asked *asked,
                       struct arena *scratch)
{
    struct question question = {.scratch = scratch, .net.net = asked->net};
    if (!list_ends(capacity, asked, &question) ||
        !passable_copper_collect(capacity->context->board, &question.net, scratch,
                                 &question.copper))
        return false;
    enum neck_status status = NECK_OK;
    bool is_last = false;
    double last_a = asked->net == ISTHMUS_NONE ? LAST_UNNAMED_A : LAST_CURRENT_A;
    for (double current_a = FIRST_CURRENT_A; status == NECK_OK && !is_last;
         current_a = fmin(current_a * CURRENT_STEP, last_a)) {
        status = ask_round(capacity, &question, current_a, &is_last);
        is_last |= current_a >= last_a;
    }
    return status != NECK_NO_MEMORY;
}

static void search_one(size_t item, unsigned hand, void *context)
{
    struct capacity *capacity = context;
    const struct rule_context *rule = capacity->context;
    if (atomic_load(&capacity->is_without_memory))
        return;
    if (hand == 0 && rule->progress)
        rule->progress("measuring nets", atomic_load(&capacity->done_count), capacity->asked_count,
                       rule->progress_context);
    struct arena *scratch = arena_new("capacity");
    if (!scratch || !search_net(capacity, &capacity->asked[item], scratch))
        atomic_store(&capacity->is_without_memory, true);
    arena_free(scratch);
    atomic_fetch_add(&capacity->done_count, 1);
}

/* The longest first, so that no hand is left with one at the end. */
static int compare_asked(const void *left, const void *right)
{
    const struct asked *a = left, *b = right;
    if (a->terminal_count != b->terminal_count)
        return a->terminal_count > b->terminal_count ? -1 : 1;
    if (a->net != b->net)
        return a->net < b->net ? -1 : 1;
    return (a->conductor > b->conductor) - (a->conductor < b->conductor);
}

static bool list_unnamed(struct capacity *capacity, struct arena *arena)
{
    const struct board *board = capacity->context->board;
    size_t *counts = arena_alloc(arena, board->conductor_count + 1, sizeof *counts);
    if (!counts)
        return false;
    for (size_t t = 0; t < board->terminal_count; t++)
        if (is_unnamed_end(&board->terminals[t]))
            counts[board->terminals[t].conductor]++;
    for (uint32_t c = 0; c < board->conductor_count; c++)
        if (counts[c] >= 2)
            capacity->asked[capacity->asked_count++] = (struct asked){ISTHMUS_NONE, c, counts[c]};
    return true;
}

static bool list_asked(struct capacity *capacity, struct arena *arena)
{
    const struct board *board = capacity->context->board;
    capacity->asked =
        arena_alloc(arena, board->net_count + board->conductor_count + 1, sizeof *capacity->asked);
    if (!capacity->asked)
        return false;
    for (uint32_t net = 0; net < board->net_count; net++)
        if (is_judgeable(board, net))
            capacity->asked[capacity->asked_count++] =
                (struct asked){net, ISTHMUS_NONE, board->nets[net].terminal_count};
    if (!list_unnamed(capacity, arena))
        return false;
    if (capacity->asked_count)
        qsort(capacity->asked, capacity->asked_count, sizeof *capacity->asked, compare_asked);
    return true;
}

enum rule_status terminal_capacity_run(const struct rule_context *context,
                                       struct terminal_capacity *out)
{
    const struct board *board = context->board;
    struct capacity capacity = {.context = context,
                                .rise_k = board->facts.rise_k.value,
                                .k = fit_constant(&board->facts),
                                .out = out};
    struct arena *arena = arena_new("nets by terminals");
    bool is_done = arena && list_asked(&capacity, arena);
    for (size_t t = 0; t < board->terminal_count; t++)
        out[t] = (struct terminal_capacity){(double)NAN, false};
    if (is_done)
        hands_work(hands_for(context->thread_count, capacity.asked_count), capacity.asked_count,
                   search_one, &capacity);
    arena_free(arena);
    return is_done && !atomic_load(&capacity.is_without_memory) ? RULE_OK : RULE_NO_MEMORY;
}
