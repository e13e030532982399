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
#define CURRENT_STEP 3.0
#define CHORD_LIMIT 30000 /* pieces a layer: well under a second */

struct capacity {
    const struct rule_context *context;
    double rise_k, k;
    struct terminal_capacity *out; /* each net writes to its own terminals alone */
    uint32_t *nets;                /* to be asked about, those with most terminals first */
    size_t net_count;
    atomic_size_t done_count;
    atomic_bool is_without_memory;
};

/* One net: its ends, each one terminal of the board, and who still waits for an answer. */
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

static bool list_ends(const struct capacity *capacity, struct question *question)
{
    const struct board *board = capacity->context->board;
    size_t most = board->terminal_count + 1;
    question->side = arena_alloc(question->scratch, most, sizeof *question->side);
    question->is_answered = arena_alloc(question->scratch, most, sizeof *question->is_answered);
    return question->side && question->is_answered &&
           ends_of_net(board, question->net.net, question->scratch, &question->net);
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

static bool search_net(const struct capacity *capacity, uint32_t net, struct arena *scratch)
{
    struct question question = {.scratch = scratch, .net.net = net};
    if (!list_ends(capacity, &question) ||
        !passable_copper_collect(capacity->context->board, &question.net, scratch,
                                 &question.copper))
        return false;
    enum neck_status status = NECK_OK;
    bool is_last = false;
    for (double current_a = FIRST_CURRENT_A; status == NECK_OK && !is_last;
         current_a = fmin(current_a * CURRENT_STEP, LAST_CURRENT_A)) {
        status = ask_round(capacity, &question, current_a, &is_last);
        is_last |= current_a >= LAST_CURRENT_A;
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
        rule->progress("measuring nets", atomic_load(&capacity->done_count), capacity->net_count,
                       rule->progress_context);
    struct arena *scratch = arena_new("capacity");
    if (!scratch || !search_net(capacity, capacity->nets[item], scratch))
        atomic_store(&capacity->is_without_memory, true);
    arena_free(scratch);
    atomic_fetch_add(&capacity->done_count, 1);
}

/* The longest first, so that no hand is left with one at the end. */
static int compare_nets(const void *left, const void *right, void *context)
{
    const struct board *board = ((const struct capacity *)context)->context->board;
    uint32_t a = *(const uint32_t *)left, b = *(const uint32_t *)right;
    size_t a_count = board->nets[a].terminal_count, b_count = board->nets[b].terminal_count;
    if (a_count != b_count)
        return a_count > b_count ? -1 : 1;
    return (a > b) - (a < b);
}

static bool list_nets(struct capacity *capacity, struct arena *arena)
{
    const struct board *board = capacity->context->board;
    capacity->nets = arena_alloc(arena, board->net_count + 1, sizeof *capacity->nets);
    if (!capacity->nets)
        return false;
    for (uint32_t net = 0; net < board->net_count; net++)
        if (is_judgeable(board, net))
            capacity->nets[capacity->net_count++] = net;
    qsort_r(capacity->nets, capacity->net_count, sizeof *capacity->nets, compare_nets, capacity);
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
    bool is_done = arena && list_nets(&capacity, arena);
    for (size_t t = 0; t < board->terminal_count; t++)
        out[t] = (struct terminal_capacity){(double)NAN, false};
    if (is_done)
        hands_work(hands_for(context->thread_count, capacity.net_count), capacity.net_count,
                   search_one, &capacity);
    arena_free(arena);
    return is_done && !atomic_load(&capacity.is_without_memory) ? RULE_OK : RULE_NO_MEMORY;
}
