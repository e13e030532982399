/*
 * Copper that leads to no terminal, on every conductor that has two of them, whether anybody gave
 * it a current or not: `inspect` lists it.
 */
#include "isthmus/rule.h"

#include "net_copper.h"

#include <stdlib.h>

/* A conductor with one terminal carries nothing: all of it would be a dead end. */
static bool count_terminals(const struct board *board, struct arena *arena, uint32_t **out)
{
    uint32_t *count = arena_alloc(arena, board->conductor_count + 1, sizeof *count);
    for (size_t t = 0; count && t < board->terminal_count; t++)
        if (board->terminals[t].conductor < board->conductor_count)
            count[board->terminals[t].conductor]++;
    *out = count;
    return count != NULL;
}

/* All these terminals at once, as if they were of one net. */
static bool ask(const struct board *board, const uint32_t *terminals_on, struct arena *arena,
                struct net_question *question)
{
    question->ends = arena_alloc(arena, board->terminal_count + 1, sizeof *question->ends);
    uint32_t *numbers = arena_alloc(arena, board->terminal_count + 1, sizeof *numbers);
    if (!question->ends || !numbers)
        return false;
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        uint32_t conductor = board->terminals[t].conductor;
        if (conductor >= board->conductor_count || terminals_on[conductor] < 2)
            continue;
        numbers[t] = t;
        question->ends[question->end_count++] =
            (struct end){board->terminals[t].name, &numbers[t], 1, false};
    }
    return true;
}

/* ---- whose they are ---- */

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
    return compare_points(a->branch.end, b->branch.end);
}

/* The first of those on the layer that end here or further on; count: none does. */
static size_t first_at(const struct dead_end *items, size_t count, uint16_t position, struct pt at)
{
    const struct dead_end wanted = {.branch = {.position = position, .end = at}};
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (compare_dead_ends(&items[middle], &wanted) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The ends are corners of the copper's triangles. */
static void name_by_triangle(const struct copper_layer *layer, uint32_t t, struct dead_end *items,
                             size_t count)
{
    const struct cdt *cdt = &layer->mesh.cdt;
    for (unsigned i = 0; i < 3; i++) {
        struct pt at = cdt->points[cdt->corner[t][i]];
        for (size_t k = first_at(items, count, layer->position, at);
             k < count && items[k].branch.position == layer->position &&
             compare_points(items[k].branch.end, at) == 0;
             k++)
            items[k].conductor = layer->conductor_of_component[layer->mesh.component[t]];
    }
}

/* ... or the middles of plated holes. */
static void name_by_holes(const struct board *board, struct dead_end *item)
{
    for (size_t h = 0; h < board->hole_count && item->branch.reason == BRANCH_HOLE; h++) {
        const struct board_hole *hole = &board->holes[h];
        struct pos_nm at = board_to_file(board, item->branch.end);
        if (hole->is_plated && (hole->hole.from.x_nm + hole->hole.to.x_nm) / 2 == at.x_nm &&
            (hole->hole.from.y_nm + hole->hole.to.y_nm) / 2 == at.y_nm)
            item->conductor = hole->conductor;
    }
}

static void name_all(const struct board *board, struct dead_end *items, size_t count)
{
    if (count)
        qsort(items, count, sizeof *items, compare_dead_ends);
    for (size_t l = 0; l < board->layer_count && count; l++)
        for (uint32_t t = 0; t < board->layers[l].mesh.cdt.tri_count; t++)
            if (board->layers[l].mesh.component[t] != ISTHMUS_NONE)
                name_by_triangle(&board->layers[l], t, items, count);
    for (size_t i = 0; i < count; i++)
        name_by_holes(board, &items[i]);
}

enum rule_status dead_ends_run(const struct rule_context *context, struct dead_end **out,
                               size_t *out_count)
{
    const struct board *board = context->board;
    struct arena *scratch = arena_new("dead ends");
    struct net_question question = {0};
    struct net_copper copper;
    uint32_t *terminals_on;
    struct neck_branch *branches = NULL;
    size_t count = 0;
    bool is_done = scratch && count_terminals(board, scratch, &terminals_on) &&
                   ask(board, terminals_on, scratch, &question) &&
                   net_copper_collect(board, &question, scratch, &copper) &&
                   neck_dead_ends(&copper.net, scratch, &branches, &count) != NECK_NO_MEMORY;
    *out_count = 0;
    *out = is_done ? arena_alloc(context->arena, count + 1, sizeof **out) : NULL;
    for (size_t i = 0; *out && i < count; i++)
        (*out)[(*out_count)++] = (struct dead_end){branches[i], ISTHMUS_NONE};
    if (*out)
        name_all(board, *out, *out_count);
    arena_free(scratch);
    return *out ? RULE_OK : RULE_NO_MEMORY;
}
