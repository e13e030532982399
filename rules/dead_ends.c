/*
 * Copper that leads to no terminal, on every conductor that has two of them, whether anybody gave
 * it a current or not: `inspect` lists it.
 */
#include "isthmus/rule.h"

#include "net_copper.h"

#include <stdlib.h>

/* The ends of all conductors together, and how many terminals each of these has. */
struct dead_search {
    const struct board *board;
    struct arena *scratch; /* reset between conductors */
    struct net_question all, question;
    uint32_t *terminals_on;
    bool *is_asked; /* per conductor: an end has a contact there */
    struct dead_end *items;
    size_t count, capacity;
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
    search->question.ends = arena_alloc(arena, most, sizeof *search->question.ends);
    uint32_t *numbers = arena_alloc(arena, most, sizeof *numbers);
    if (!search->terminals_on || !search->is_asked || !search->all.ends || !search->question.ends ||
        !numbers)
        return false;
    count_terminals(search);
    list_ends(search, numbers);
    return true;
}

static bool keep(struct dead_search *search, uint32_t conductor, const struct neck_branch *branches,
                 size_t count)
{
    if (!array_grow(&search->items, sizeof *search->items, &search->capacity,
                    search->count + count))
        return false;
    for (size_t i = 0; i < count; i++)
        search->items[search->count++] = (struct dead_end){branches[i], conductor};
    return true;
}

/* Each conductor by itself: what is in memory at one time is the copper of one. */
static bool search_conductor(struct dead_search *search, uint32_t conductor)
{
    const struct board *board = search->board;
    struct net_copper copper;
    struct neck_branch *branches;
    size_t count;
    search->question.end_count = 0;
    for (size_t e = 0; e < search->all.end_count; e++)
        if (is_on(board, &board->terminals[*search->all.ends[e].terminals], conductor))
            search->question.ends[search->question.end_count++] = search->all.ends[e];
    bool is_done =
        conductor_copper_collect(board, &search->question, conductor, search->scratch, &copper) &&
        neck_dead_ends(&copper.net, search->scratch, &branches, &count) == NECK_OK &&
        keep(search, conductor, branches, count);
    arena_reset(search->scratch);
    return is_done;
}

static int compare_points(struct pt a, struct pt b)
{
    if (a.x != b.x)
        return a.x < b.x ? -1 : 1;
    return (a.y > b.y) - (a.y < b.y);
}

static int compare_dead_ends(const void *left, const void *right)
{
    const struct dead_end *a = left, *b = right;
    if (a->branch.position != b->branch.position)
        return a->branch.position < b->branch.position ? -1 : 1;
    int order = compare_points(a->branch.end, b->branch.end);
    return order ? order : (a->conductor > b->conductor) - (a->conductor < b->conductor);
}

static bool hand_over(struct dead_search *search, struct arena *arena, struct dead_end **out,
                      size_t *out_count)
{
    if (search->count)
        qsort(search->items, search->count, sizeof *search->items, compare_dead_ends);
    *out = arena_alloc(arena, search->count + 1, sizeof **out);
    *out_count = *out ? search->count : 0;
    for (size_t i = 0; i < *out_count; i++)
        (*out)[i] = search->items[i];
    return *out != NULL;
}

enum rule_status dead_ends_run(const struct rule_context *context, struct dead_end **out,
                               size_t *out_count)
{
    const struct board *board = context->board;
    struct arena *arena = arena_new("dead ends");
    struct dead_search search = {.board = board, .scratch = arena_new("dead ends of a conductor")};
    bool is_done = arena && search.scratch && prepare(&search, arena);
    for (uint32_t c = 0; is_done && c < board->conductor_count; c++) {
        if (context->progress)
            context->progress("looking for dead ends", c, board->conductor_count,
                              context->progress_context);
        if (search.is_asked[c])
            is_done = search_conductor(&search, c);
    }
    is_done = is_done && hand_over(&search, context->arena, out, out_count);
    free(search.items);
    arena_free(search.scratch);
    arena_free(arena);
    return is_done ? RULE_OK : RULE_NO_MEMORY;
}
