/* What the terminals beyond each vertex and block of a forest feed and draw. */
#include "cut_part.h"

#include <stdlib.h>

/* How many places of the terminal at hand lie below each vertex and block. */
struct climb {
    struct block_forest *forest;
    uint32_t *at_vertex, *at_block;
    uint32_t *places; /* distinct vertices of one component */
    uint32_t place_count;
    struct cut_sums sums;
};

static void add_sums(struct cut_sums *to, struct cut_sums sums)
{
    to->feed_a += sums.feed_a;
    to->draw_a += sums.draw_a;
}

static void count_up(struct climb *climb, uint32_t v)
{
    const struct block_forest *forest = climb->forest;
    for (;;) {
        climb->at_vertex[v]++;
        uint32_t block = forest->vertex_parent[v];
        if (block == ISTHMUS_NONE)
            return;
        climb->at_block[block]++;
        v = forest->block_parent[block];
    }
}

/* The lowest vertex or block with every place below it. */
static void add_where_they_meet(struct climb *climb)
{
    struct block_forest *forest = climb->forest;
    uint32_t v = climb->places[0];
    while (climb->at_vertex[v] < climb->place_count) {
        uint32_t block = forest->vertex_parent[v];
        if (climb->at_block[block] == climb->place_count) {
            add_sums(&forest->block_below[block], climb->sums);
            return;
        }
        v = forest->block_parent[block];
    }
    add_sums(&forest->below[v], climb->sums);
}

static void clear_up(struct climb *climb, uint32_t v)
{
    struct block_forest *forest = climb->forest;
    for (;;) {
        climb->at_vertex[v] = 0;
        uint32_t block = forest->vertex_parent[v];
        if (block == ISTHMUS_NONE)
            return;
        uint32_t count = climb->at_block[block];
        if (count && count < climb->place_count)
            add_sums(&forest->block_across[block], climb->sums);
        climb->at_block[block] = 0;
        v = forest->block_parent[block];
    }
}

static void add_places(struct climb *climb)
{
    struct block_forest *forest = climb->forest;
    add_sums(&forest->all[forest->component[climb->places[0]]], climb->sums);
    if (climb->place_count == 1) {
        add_sums(&forest->below[climb->places[0]], climb->sums);
        return;
    }
    for (uint32_t i = 0; i < climb->place_count; i++)
        count_up(climb, climb->places[i]);
    add_where_they_meet(climb);
    for (uint32_t i = 0; i < climb->place_count; i++)
        clear_up(climb, climb->places[i]);
}

static int compare_by_component(const void *left, const void *right, void *context)
{
    const uint32_t *component = context;
    uint32_t a = *(const uint32_t *)left, b = *(const uint32_t *)right;
    if (component[a] != component[b])
        return component[a] < component[b] ? -1 : 1;
    return (a > b) - (a < b);
}

/* Fills places with the distinct vertices; at_vertex serves as a mark and is clear again after. */
static uint32_t gather_distinct(struct climb *climb, const uint32_t *vertices, uint32_t count)
{
    uint32_t distinct_count = 0;
    for (uint32_t i = 0; i < count; i++)
        if (vertices[i] != ISTHMUS_NONE && !climb->at_vertex[vertices[i]]) {
            climb->at_vertex[vertices[i]] = 1;
            climb->places[distinct_count++] = vertices[i];
        }
    for (uint32_t i = 0; i < distinct_count; i++)
        climb->at_vertex[climb->places[i]] = 0;
    return distinct_count;
}

/* A terminal counts in each component with the places that it has there. */
static void add_terminal(struct climb *climb, const uint32_t *vertices, uint32_t count)
{
    uint32_t *all = climb->places, *component = climb->forest->component;
    uint32_t end = gather_distinct(climb, vertices, count);
    if (end > 1)
        qsort_r(all, end, sizeof *all, compare_by_component, component);
    for (uint32_t first = 0; first < end; first += climb->place_count) {
        climb->places = all + first;
        climb->place_count = 1;
        while (first + climb->place_count < end &&
               component[climb->places[climb->place_count]] == component[*climb->places])
            climb->place_count++;
        add_places(climb);
    }
    climb->places = all;
}

static void sum_upwards(struct block_forest *forest, uint32_t n)
{
    for (uint32_t i = n; i-- > 0;) {
        uint32_t v = forest->order[i], block = forest->vertex_parent[v];
        if (block == ISTHMUS_NONE)
            continue;
        /* every child of the block has been met when its last one in reverse order is done */
        add_sums(&forest->block_below[block], forest->below[v]);
        if (forest->block_vertices[forest->block_vertex_first[block] + 1] == v)
            add_sums(&forest->below[forest->block_parent[block]], forest->block_below[block]);
    }
}

bool block_forest_sum(const struct cut_problem *problem, const struct cut_entries *entries,
                      const struct part *part, struct arena *arena, struct block_forest *forest)
{
    uint32_t entry_count = entries->first[entries->terminal_count];
    forest->below = CUT_ALLOC(arena, part->vertex_count, struct cut_sums);
    forest->block_below = CUT_ALLOC(arena, forest->block_count, struct cut_sums);
    forest->block_across = CUT_ALLOC(arena, forest->block_count, struct cut_sums);
    forest->all = CUT_ALLOC(arena, forest->component_count, struct cut_sums);
    struct climb climb = {.forest = forest};
    climb.at_vertex = CUT_ALLOC(arena, part->vertex_count, uint32_t);
    climb.at_block = CUT_ALLOC(arena, forest->block_count, uint32_t);
    climb.places = CUT_ALLOC(arena, entry_count, uint32_t);
    if (!forest->below || !forest->block_below || !forest->block_across || !forest->all ||
        !climb.at_vertex || !climb.at_block || !climb.places)
        return false;
    for (uint32_t t = 0; t < entries->terminal_count; t++) {
        climb.sums.feed_a = problem->terminals[t].feed_a;
        climb.sums.draw_a = problem->terminals[t].draw_a;
        uint32_t first = entries->first[t];
        if (climb.sums.feed_a > 0 || climb.sums.draw_a > 0)
            add_terminal(&climb, part->entry_vertex + first, entries->first[t + 1] - first);
    }
    sum_upwards(forest, part->vertex_count);
    return true;
}

uint32_t block_gate(const struct block_forest *forest, uint32_t block, uint32_t vertex)
{
    uint32_t gate = forest->block_parent[block];
    if (forest->component[vertex] != forest->component[gate])
        return ISTHMUS_NONE;
    uint32_t tin = forest->tin[vertex];
    if (tin < forest->block_tin[block] ||
        tin >= forest->block_tin[block] + forest->block_size[block])
        return gate;
    uint32_t low = forest->block_vertex_first[block] + 1, high = forest->block_vertex_end[block];
    while (high - low > 1) { /* the last one whose tin is not above */
        uint32_t middle = low + (high - low) / 2;
        if (forest->tin[forest->block_vertices[middle]] <= tin)
            low = middle;
        else
            high = middle;
    }
    return forest->block_vertices[low];
}
