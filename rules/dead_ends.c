/*
 * Copper that leads to no terminal, on every conductor that has two of them, whether anybody gave
 * it a current or not: `inspect` lists it.
 */
#include "isthmus/rule.h"

#include "net_copper.h"

#include <stdatomic.h>
#include <stdlib.h>

/* The ends of all conductors together, and how many terminals each of these has. */
struct dead_search {
    const struct rule_context *context;
    const struct board *board;
    struct net_question all;
    uint32_t *terminals_on;
    bool *is_asked;       /* per conductor: an end has a contact there */
    uint32_t *conductors; /* those that are asked about */
    size_t conductor_count;
    struct dead_list { /* what one hand found */
        struct dead_end *items;
        size_t count, capacity;
    } found[MOST_HANDS];
    atomic_size_t done_count;
    atomic_bool is_without_memory;
};

/* A conductor with one terminal carries nothing: all of it would be a dead end. */
static void count_terminals(struct dead_search *search)
{
    const struct board *board = search->board;
    for (size_t t = 0; t < board->terminal_count; t++)
        if (board->terminals[t].conductor < board->conductor_count)
            search->terminals_on[board->terminals[t].conductor]++;
}

/* A terminal may have contacts on several conductors. */
static bool is_on(const struct board *board, const struct terminal *terminal, uint32_t conductor)
{
    for (size_t i = 0; i < terminal->contact_count; i++)
        if (board->contacts[terminal->contacts[i]].conductor == conductor)
            return true;
    return false;
}

static void list_ends(struct dead_search *search, uint32_t *numbers)
{
    const struct board *board = search->board;
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        const struct terminal *terminal = &board->terminals[t];
        if (terminal->conductor >= board->conductor_count ||
            search->terminals_on[terminal->conductor] < 2)
            continue;
        numbers[t] = t;
        search->all.ends[search->all.end_count++] =
            (struct end){terminal->name, &numbers[t], 1, false};
        for (size_t i = 0; i < terminal->contact_count; i++) {
            uint32_t conductor = board->contacts[terminal->contacts[i]].conductor;
            if (conductor < board->conductor_count)
                search->is_asked[conductor] = true;
        }
    }
}

static bool prepare(struct dead_search *search, struct arena *arena)
{
    const struct board *board = search->board;
    size_t most = board->terminal_count + 1;
    search->terminals_on =
        arena_alloc(arena, board->conductor_count + 1, sizeof *search->terminals_on);
    search->is_asked = arena_alloc(arena, board->conductor_count + 1, sizeof *search->is_asked);
    search->all.ends = arena_alloc(arena, most, sizeof *search->all.ends);
    search->conductors = arena_alloc(arena, board->conductor_count + 1, sizeof *search->conductors);
    uint32_t *numbers = arena_alloc(arena, most, sizeof *numbers);
    if (!search->terminals_on || !search->is_asked || !search->all.ends || !search->conductors ||
        !numbers)
        return false;
    count_terminals(search);
    list_ends(search, numbers);
    for (uint32_t c = 0; c < board->conductor_count; c++)
        if (search->is_asked[c])
            search->conductors[search->conductor_count++] = c;
    return true;
}

static bool keep(struct dead_list *list, uint32_t conductor, const struct neck_branch *branches,
                 size_t count)
{
    if (!array_grow(&list->items, sizeof *list->items, &list->capacity, list->count + count))
        return false;
    for (size_t i = 0; i < count; i++)
        list->items[list->count++] = (struct dead_end){branches[i], conductor};
    return true;
}

/* Each conductor by itself: what a hand has in memory at one time is the copper of one. */
static bool search_conductor(const struct dead_search *search, uint32_t conductor,
                             struct arena *scratch, struct dead_list *list)
{
    const struct board *board = search->board;
    struct net_question question = {0};
    struct net_copper copper;
    struct neck_branch *branches;
    size_t count;
    question.ends = arena_alloc(scratch, search->all.end_count + 1, sizeof *question.ends);
    for (size_t e = 0; question.ends && e < search->all.end_count; e++)
        if (is_on(board, &board->terminals[*search->all.ends[e].terminals], conductor))
            question.ends[question.end_count++] = search->all.ends[e];
    return question.ends &&
           conductor_copper_collect(board, &question, conductor, scratch, &copper) &&
           neck_dead_ends(&copper.net, scratch, &branches, &count) == NECK_OK &&
           keep(list, conductor, branches, count);
}

static void search_one(size_t item, unsigned hand, void *context)
{
    struct dead_search *search = context;
    const struct rule_context *rule = search->context;
    if (atomic_load(&search->is_without_memory))
        return;
    if (hand == 0 && rule->progress)
        rule->progress("looking for dead ends", atomic_load(&search->done_count),
                       search->conductor_count, rule->progress_context);
    struct arena *scratch = arena_new("dead ends of a conductor");
    if (!scratch ||
        !search_conductor(search, search->conductors[item], scratch, &search->found[hand]))
        atomic_store(&search->is_without_memory, true);
    arena_free(scratch);
    atomic_fetch_add(&search->done_count, 1);
}

static int compare_points(struct pt a, struct pt b)
{
    if (a.x != b.x)
        return a.x < b.x ? -1 : 1;
    return (a.y > b.y) - (a.y < b.y);
}

static int compare_numbers(double a, double b)
{
    return (a > b) - (a < b);
}

/* To the last: what is equal by this is the same, whoever found it first. */
static int compare_dead_ends(const void *left, const void *right)
{
    const struct dead_end *a = left, *b = right;
    if (a->branch.position != b->branch.position)
        return a->branch.position < b->branch.position ? -1 : 1;
    int order = compare_points(a->branch.end, b->branch.end);
    if (order == 0)
        order = (a->conductor > b->conductor) - (a->conductor < b->conductor);
    if (order == 0)
        order = compare_numbers(a->branch.length_mm, b->branch.length_mm);
    if (order == 0)
        order = compare_numbers(a->branch.width_mm, b->branch.width_mm);
    return order ? order : (int)a->branch.reason - (int)b->branch.reason;
}

static bool hand_over(const struct dead_search *search, struct arena *arena, struct dead_end **out,
                      size_t *out_count)
{
    size_t count = 0;
    for (unsigned h = 0; h < MOST_HANDS; h++)
        count += search->found[h].count;
    *out = arena_alloc(arena, count + 1, sizeof **out);
    *out_count = 0;
    for (unsigned h = 0; *out && h < MOST_HANDS; h++)
        for (size_t i = 0; i < search->found[h].count; i++)
            (*out)[(*out_count)++] = search->found[h].items[i];
    if (*out_count)
        qsort(*out, *out_count, sizeof **out, compare_dead_ends);
    return *out != NULL;
}

enum rule_status dead_ends_run(const struct rule_context *context, struct dead_end **out,
                               size_t *out_count)
{
    struct arena *arena = arena_new("dead ends");
    struct dead_search search = {.context = context, .board = context->board};
    bool is_done = arena && prepare(&search, arena);
    if (is_done)
        hands_work(hands_for(context->thread_count, search.conductor_count), search.conductor_count,
                   search_one, &search);
    is_done = is_done && !atomic_load(&search.is_without_memory) &&
              hand_over(&search, context->arena, out, out_count);
    for (unsigned h = 0; h < MOST_HANDS; h++)
        free(search.found[h].items);
    arena_free(arena);
    return is_done ? RULE_OK : RULE_NO_MEMORY;
}
