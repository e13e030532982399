/*
 * How long the search for cuts takes, on graphs like those that boards give and on worse ones.
 * Prints name, nodes, edges, terminals, milliseconds, what was found, whether it was settled.
 */
#include "isthmus/cut.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static uint64_t random_state = 88172645463325252ULL;

static uint32_t random_below(uint32_t bound)
{
    random_state ^= random_state >> 12;
    random_state ^= random_state << 25;
    random_state ^= random_state >> 27;
    return (uint32_t)((random_state * 2685821657736338717ULL >> 33) % bound);
}

static double random_unit(void)
{
    return (double)random_below(1U << 20) / (1 << 20);
}

struct world {
    struct cut_problem problem;
    struct cut_node *nodes;
    struct cut_edge *edges;
    struct cut_terminal *terminals;
    uint32_t *contacts;
    size_t edge_capacity;
};

static void *must_alloc(size_t count, size_t size)
{
    void *memory = calloc(count ? count : 1, size);
    if (!memory)
        exit(2);
    return memory;
}

static void world_init(struct world *world, size_t nodes, size_t edges, size_t terminals)
{
    *world = (struct world){.edge_capacity = edges};
    world->nodes = must_alloc(nodes, sizeof *world->nodes);
    world->edges = must_alloc(edges, sizeof *world->edges);
    world->terminals = must_alloc(terminals, sizeof *world->terminals);
    world->contacts = must_alloc(terminals, sizeof *world->contacts);
    for (size_t v = 0; v < nodes; v++)
        world->nodes[v].area_mm2 = INFINITY;
    world->problem = (struct cut_problem){.nodes = world->nodes,
                                          .node_count = nodes,
                                          .edges = world->edges,
                                          .terminals = world->terminals,
                                          .terminal_count = terminals,
                                          .demand = {.scale_a = 27.18, .exponent = 1 / 0.725}};
}

static void world_free(struct world *world)
{
    free(world->nodes);
    free(world->edges);
    free(world->terminals);
    free(world->contacts);
}

static void add_edge(struct world *world, size_t a, size_t b, double area_mm2)
{
    world->edges[world->problem.edge_count++] =
        (struct cut_edge){.a = (uint32_t)a, .b = (uint32_t)b, .area_mm2 = area_mm2};
}

static void set_terminal(struct world *world, size_t t, size_t node, double feed_a, double draw_a)
{
    world->contacts[t] = (uint32_t)node;
    world->terminals[t] = (struct cut_terminal){.nodes = &world->contacts[t],
                                                .node_count = 1,
                                                .feed_a = feed_a,
                                                .draw_a = draw_a,
                                                .has_row = true};
}

static void run(const char *name, struct world *world)
{
    struct arena *arena = arena_new("bench");
    struct cut_result result;
    struct timespec from, to;
    clock_gettime(CLOCK_MONOTONIC, &from);
    enum cut_status status = cut_find(&world->problem, 3, arena, &result);
    clock_gettime(CLOCK_MONOTONIC, &to);
    double ms = (double)(to.tv_sec - from.tv_sec) * 1e3 + (double)(to.tv_nsec - from.tv_nsec) / 1e6;
    printf("%-28s %8zu nodes %8zu edges %4zu terminals %9.1f ms  %s, %zu narrow, least %.4g%s%s\n",
           name, world->problem.node_count, world->problem.edge_count,
           world->problem.terminal_count, ms, status == CUT_OK ? "ok" : "FAILED",
           result.narrow_count, result.has_least ? result.least.margin : INFINITY,
           result.is_proved ? "" : ", NOT PROVED",
           result.is_least_proved ? "" : ", least not proved");
    fflush(stdout);
    arena_free(arena);
    world_free(world);
}

/* A long track: every chord a bridge. */
static void chain(const char *name, size_t nodes, double ratio)
{
    struct world world;
    world_init(&world, nodes, nodes, 2);
    double need = demand_area_mm2(&world.problem.demand, 5);
    for (size_t v = 1; v < nodes; v++)
        add_edge(&world, v - 1, v, need * (ratio + 0.1 * random_unit()));
    set_terminal(&world, 0, 0, 5, 0);
    set_terminal(&world, 1, nodes - 1, 0, 5);
    world.problem.i_net_a = 5;
    run(name, &world);
}

/* Two tracks side by side, joined at every step (a track on two layers). */
static void ladder(const char *name, size_t rungs, size_t loads, double ratio)
{
    struct world world;
    world_init(&world, 2 * rungs, 3 * rungs, loads + 1);
    double need = demand_area_mm2(&world.problem.demand, 5);
    for (size_t i = 0; i < rungs; i++) {
        add_edge(&world, 2 * i, 2 * i + 1, need * (0.2 + random_unit()));
        for (size_t k = 0; k < 2 && i + 1 < rungs; k++)
            add_edge(&world, 2 * i + k, 2 * i + 2 + k, need * ratio * (0.5 + 0.1 * random_unit()));
    }
    set_terminal(&world, 0, 0, 5, 0);
    for (size_t t = 1; t <= loads; t++)
        set_terminal(&world, t, 2 * (rungs * t / loads) - 1, 0, 5.0 / (double)loads);
    world.problem.i_net_a = 5;
    run(name, &world);
}

enum currents { ONE_FEED, CLAMPED, FEEDS, NO_ROWS };

static void set_currents(struct world *world, size_t nodes, size_t terminals, enum currents how)
{
    for (size_t t = 0; t < terminals; t++) {
        double share = 5.0 / (double)(terminals - 1);
        bool is_feed = how == FEEDS ? t % 4 == 0 : t == 0;
        double scale = how == CLAMPED ? 1.7 : 1;
        double current_a = share * scale * (0.5 + random_unit());
        set_terminal(world, t, t == 0 ? 0 : random_below((uint32_t)nodes),
                     is_feed ? (how == FEEDS ? 4 * current_a : 5) : 0, is_feed ? 0 : current_a);
        if (how == NO_ROWS)
            world->terminals[t].feed_a = world->terminals[t].draw_a = 5;
    }
    world->problem.i_net_a = 5;
}

/* A pour of faces: chord areas near `ratio` of the whole need. */
static void grid(const char *name, size_t side, size_t terminals, double ratio, enum currents how)
{
    struct world world;
    world_init(&world, side * side, 2 * side * side, terminals);
    double need = demand_area_mm2(&world.problem.demand, 5);
    for (size_t y = 0; y < side; y++)
        for (size_t x = 0; x < side; x++) {
            if (x + 1 < side)
                add_edge(&world, y * side + x, y * side + x + 1,
                         need * ratio * (0.5 + random_unit()));
            if (y + 1 < side)
                add_edge(&world, y * side + x, (y + 1) * side + x,
                         need * ratio * (0.5 + random_unit()));
        }
    set_currents(&world, side * side, terminals, how);
    run(name, &world);
}

/* A ring of spurs: loads sized for themselves, with weak links from one to the next. */
static void wheel(const char *name, size_t loads, double ratio, double link, enum currents how)
{
    struct world world;
    world_init(&world, 2 * loads + 1, 3 * loads, loads + 1);
    set_currents(&world, 1, loads + 1, how);
    for (size_t i = 0; i < loads; i++) {
        double draw_a = world.terminals[i + 1].draw_a;
        double need = demand_area_mm2(&world.problem.demand, fmin(draw_a, 5));
        world.contacts[i + 1] = (uint32_t)(i + 1);
        add_edge(&world, 0, i + 1, need * (ratio + 0.2 * random_unit()));
        add_edge(&world, i + 1, loads + i + 1, need * link);
        add_edge(&world, loads + i + 1, (i + 1) % loads + 1, need * link);
    }
    run(name, &world);
}

/* Two planes with a feed above and loads below, joined by holes of four rim edges a layer. */
static void planes(const char *name, size_t side, size_t holes, size_t loads, double ratio)
{
    struct world world;
    size_t faces = side * side;
    world_init(&world, 2 * faces + holes, 4 * faces + 8 * holes, loads + 1);
    double need = demand_area_mm2(&world.problem.demand, 5);
    for (size_t i = 0; i < 2 * faces; i++) {
        if (i % side + 1 < side)
            add_edge(&world, i, i + 1, need * (0.4 + 0.4 * random_unit()));
        if (i % faces + side < faces)
            add_edge(&world, i, i + side, need * (0.4 + 0.4 * random_unit()));
    }
    for (size_t h = 0; h < holes; h++) {
        world.nodes[2 * faces + h].area_mm2 = need * ratio / (double)holes * (0.9 + random_unit());
        size_t corner =
            random_below((uint32_t)(side - 1)) * side + random_below((uint32_t)(side - 1));
        for (size_t k = 0; k < 8; k++)
            add_edge(&world, k / 4 * faces + corner + k % 2 + k / 2 % 2 * side, 2 * faces + h,
                     need * 0.1);
    }
    set_terminal(&world, 0, 0, 5, 0);
    for (size_t t = 1; t <= loads; t++)
        set_terminal(&world, t, faces + random_below((uint32_t)faces), 0,
                     6.0 / (double)loads * (0.5 + random_unit()));
    world.problem.i_net_a = 5;
    run(name, &world);
}

int main(void)
{
    chain("track, passes", 1000000, 1.5);
    chain("track, 1000 narrow", 1000, 0.5);
    chain("track, 100000 narrow", 100000, 0.5);
    ladder("two layers, passes", 500, 2, 1.3);
    ladder("two layers, passes", 5000, 10, 1.3);
    ladder("two layers, passes", 50000, 50, 1.3);
    ladder("two layers, narrow", 500, 10, 0.7);
    ladder("two layers, narrow", 5000, 10, 0.7);
    for (size_t side = 10; side <= 100; side = side == 10 ? 30 : side == 30 ? 100 : 1000) {
        grid("pour, one feed", side, 10, 0.6, ONE_FEED);
        grid("pour, one feed, many", side, 100, 0.6, ONE_FEED);
        grid("pour, clamped", side, 100, 0.6, CLAMPED);
        grid("pour, feeds", side, 100, 0.6, FEEDS);
        grid("pour, no rows", side, 100, 0.6, NO_ROWS);
        grid("thin pour, one feed", side, 20, 0.2, ONE_FEED);
        grid("thin pour, feeds", side, 20, 0.2, FEEDS);
    }
    for (size_t side = 10; side <= 100; side = side == 10 ? 30 : side == 30 ? 100 : 1000) {
        planes("planes, holes suffice", side, 3 * side, 20, 1.5);
        planes("planes, holes narrow", side, 3 * side, 20, 0.5);
    }
    grid("wide pour", 1000, 200, 2, ONE_FEED);
    for (size_t loads = 5; loads <= 80; loads *= 2) {
        wheel("wheel, tight", loads, 1.05, 0.05, ONE_FEED);
        wheel("wheel, roomy", loads, 2.5, 0.05, ONE_FEED);
        wheel("wheel, clamped", loads, 1.2, 0.05, CLAMPED);
        wheel("wheel, feeds", loads, 2, 0.3, FEEDS);
    }
    return 0;
}
