/*
 * Cuts against exhaustive enumeration: every labelling of the vertices of thousands of small random
 * graphs, with its own reading of the definitions (DESIGN: cut, I(S)), none of the searched code.
 */
#include "assertions.h"
#include "isthmus/cut.h"

#include <math.h>

#define MOST_NODES 8
#define MOST_EDGES 20
#define MOST_TERMINALS 6

/* --- random graphs: xorshift64*, Marsaglia 2003 and Vigna 2016, from memory --- */

static uint64_t random_state;

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
    struct cut_node nodes[MOST_NODES];
    struct cut_edge edges[MOST_EDGES];
    struct cut_terminal terminals[MOST_TERMINALS];
    uint32_t contacts[MOST_TERMINALS][3];
};

enum flavour { FLAVOUR_ROWS, FLAVOUR_ONE_FEED, FLAVOUR_NO_ROWS, FLAVOUR_MIXED, FLAVOUR_COUNT };

static void draw_terminal(struct world *world, uint32_t t, enum flavour flavour, bool has_pads)
{
    struct cut_terminal *terminal = &world->terminals[t];
    double current_a = random_below(5) == 0 ? 0 : 0.25 * (1 + random_below(20));
    terminal->nodes = world->contacts[t];
    terminal->node_count = has_pads && random_below(5) < 3 ? 2 + random_below(2) : 1;
    for (size_t i = 0; i < terminal->node_count; i++)
        world->contacts[t][i] = random_below((uint32_t)world->problem.node_count);
    terminal->has_row = flavour != FLAVOUR_NO_ROWS;
    if (flavour == FLAVOUR_MIXED && random_below(3) == 0)
        terminal->has_row = false;
    bool is_feed = flavour == FLAVOUR_ONE_FEED ? t == 0 : random_below(2) == 0;
    bool is_unsigned = flavour == FLAVOUR_MIXED && random_below(2) == 0;
    terminal->feed_a = is_feed || is_unsigned ? current_a : 0;
    terminal->draw_a = !is_feed || is_unsigned ? current_a : 0;
    if (flavour == FLAVOUR_ONE_FEED && t == 0)
        terminal->feed_a = 5;
}

static void settle_currents(struct world *world)
{
    double feed_a = 0, draw_a = 0;
    struct cut_problem *problem = &world->problem;
    for (size_t t = 0; t < problem->terminal_count; t++) {
        feed_a += world->terminals[t].feed_a;
        draw_a += world->terminals[t].draw_a;
    }
    problem->i_net_a = fmin(feed_a, draw_a);
    if (problem->i_net_a <= 0 || random_below(2))
        problem->i_net_a = 0.5 * (1 + random_below(12));
    for (size_t t = 0; t < problem->terminal_count; t++)
        if (!world->terminals[t].has_row)
            world->terminals[t].feed_a = world->terminals[t].draw_a = problem->i_net_a;
}

/* Areas are near what the currents need, so that many cuts are close calls. */
static void draw_world(struct world *world, uint64_t seed)
{
    *world = (struct world){0};
    random_state = seed * 0x9E3779B97F4A7C15ULL + 1;
    enum flavour flavour = random_below(FLAVOUR_COUNT);
    bool has_holes = random_below(3) == 0, has_pads = random_below(3) != 0;
    struct cut_problem *problem = &world->problem;
    problem->demand = (struct demand){.scale_a = 0.5 + 3 * random_unit(), .exponent = 1 / 0.725};
    problem->node_count = 2 + random_below(has_holes ? MOST_NODES - 2 : MOST_NODES - 1);
    problem->terminal_count = 2 + random_below(MOST_TERMINALS - 1);
    for (uint32_t t = 0; t < problem->terminal_count; t++)
        draw_terminal(world, t, flavour, has_pads);
    settle_currents(world);
    double base = demand_area_mm2(&problem->demand, problem->i_net_a);
    for (uint32_t v = 0; v < problem->node_count; v++)
        world->nodes[v].area_mm2 =
            has_holes && random_below(3) == 0 ? base * (0.1 + random_unit()) : INFINITY;
    uint32_t n = (uint32_t)problem->node_count, spread = 1 + random_below(3);
    for (uint32_t v = 1; v < n; v++)
        world->edges[problem->edge_count++] = (struct cut_edge){.a = random_below(v), .b = v};
    for (uint32_t extra = random_below(MOST_EDGES - n); extra-- > 0;)
        world->edges[problem->edge_count++] =
            (struct cut_edge){.a = random_below(n), .b = random_below(n)};
    for (uint32_t e = 0; e < problem->edge_count; e++)
        world->edges[e].area_mm2 = base * spread * random_unit() * (random_below(3) ? 0.4 : 1.1);
    problem->nodes = world->nodes;
    problem->edges = world->edges;
    problem->terminals = world->terminals;
}

/* --- the definitions, read off a labelling: 1 in S, 2 in S', 3 a hole cut through --- */

struct brute_cut {
    uint32_t edges, nodes; /* bit sets */
    double area_mm2, margin;
    uint8_t side[MOST_TERMINALS];
};
struct brute {
    struct brute_cut *cuts; /* every minimal cut with a requirement */
    size_t count, capacity;
    double least;
};

/* A terminal with a current and all its places on this side: its pads hang together there. */
static uint32_t places_that_join(const struct world *world, uint32_t t, const uint8_t *label,
                                 uint8_t side)
{
    const struct cut_terminal *terminal = &world->terminals[t];
    uint32_t places = 0;
    if (terminal->feed_a <= 0 && terminal->draw_a <= 0)
        return 0;
    for (size_t i = 0; i < terminal->node_count; i++) {
        if (label[terminal->nodes[i]] != side)
            return 0;
        places |= 1U << terminal->nodes[i];
    }
    return places;
}

/* Does everything on one side hang together, holes cut through counting with the copper they touch
 * there? Grows from the lowest vertex until nothing is added. */
static bool is_side_whole(const struct world *world, const uint8_t *label, uint8_t side)
{
    uint32_t members = 0, grown = 0;
    for (uint32_t v = 0; v < world->problem.node_count; v++)
        members |= (label[v] & side) ? 1U << v : 0;
    if (!members)
        return false;
    grown = members & (~members + 1);
    for (bool is_growing = true; is_growing;) {
        is_growing = false;
        for (uint32_t e = 0; e < world->problem.edge_count; e++) {
            uint32_t ends = (1U << world->edges[e].a) | (1U << world->edges[e].b);
            if ((ends & members) == ends && (ends & grown) && (ends & grown) != ends) {
                grown |= ends;
                is_growing = true;
            }
        }
        for (uint32_t t = 0; t < world->problem.terminal_count; t++) {
            uint32_t places = places_that_join(world, t, label, side);
            if ((places & grown) && (places & grown) != places) {
                grown |= places;
                is_growing = true;
            }
        }
    }
    return grown == members;
}

static double brute_current(const struct world *world, const uint8_t *side)
{
    double feed_a[4] = {0}, draw_a[4] = {0};
    for (uint32_t t = 0; t < world->problem.terminal_count; t++) {
        feed_a[side[t]] += world->terminals[t].feed_a;
        draw_a[side[t]] += world->terminals[t].draw_a;
    }
    return fmin(world->problem.i_net_a,
                fmax(fmin(feed_a[1], draw_a[2]), fmin(feed_a[2], draw_a[1])));
}

static void measure(const struct world *world, const uint8_t *label, struct brute_cut *out)
{
    *out = (struct brute_cut){0};
    for (uint32_t e = 0; e < world->problem.edge_count; e++) {
        uint8_t a = label[world->edges[e].a], b = label[world->edges[e].b];
        if ((a == 1 && b == 2) || (a == 2 && b == 1)) {
            out->edges |= 1U << e;
            out->area_mm2 += world->edges[e].area_mm2;
        }
    }
    for (uint32_t v = 0; v < world->problem.node_count; v++)
        if (label[v] == 3) {
            out->nodes |= 1U << v;
            out->area_mm2 += world->nodes[v].area_mm2;
        }
    for (uint32_t t = 0; t < world->problem.terminal_count; t++)
        for (size_t i = 0; i < world->terminals[t].node_count; i++)
            out->side[t] |= label[world->contacts[t][i]];
    double current_a = brute_current(world, out->side);
    double required = current_a > 0 ? pow(current_a / world->problem.demand.scale_a,
                                          world->problem.demand.exponent)
                                    : 0;
    out->margin = required > 0 ? out->area_mm2 / required : INFINITY;
}

static void enumerate(const struct world *world, struct brute *brute)
{
    uint8_t label[MOST_NODES];
    size_t n = world->problem.node_count;
    memset(label, 1, sizeof label);
    brute->count = 0;
    brute->least = INFINITY;
    for (;;) {
        size_t v = 1; /* vertex 0 may be 1 or 3: sides have no order */
        struct brute_cut cut;
        measure(world, label, &cut);
        if (isfinite(cut.margin) && is_side_whole(world, label, 1) &&
            is_side_whole(world, label, 2)) {
            assert_true(array_grow(&brute->cuts, sizeof cut, &brute->capacity, brute->count + 1));
            brute->cuts[brute->count++] = cut;
            brute->least = fmin(brute->least, cut.margin);
        }
        for (; v < n && label[v] == (isinf(world->nodes[v].area_mm2) ? 2 : 3); v++)
            label[v] = 1;
        if (v < n)
            label[v]++;
        else if (label[0] == 1 && !isinf(world->nodes[0].area_mm2))
            label[0] = 3;
        else
            return;
    }
}

/* --- comparison --- */

static void read_cut(const struct cut *cut, uint32_t *edges, uint32_t *nodes)
{
    *edges = *nodes = 0;
    for (size_t i = 0; i < cut->edge_count; i++)
        *edges |= 1U << cut->edges[i];
    for (size_t i = 0; i < cut->node_count; i++)
        *nodes |= 1U << cut->nodes[i];
}

static bool has_equal_sides(const struct world *world, const struct cut *cut,
                            const struct brute_cut *other)
{
    bool is_equal = true, is_mirrored = true;
    for (uint32_t t = 0; t < world->problem.terminal_count; t++) {
        uint8_t side = other->side[t];
        is_equal &= cut->side[t] == side;
        is_mirrored &= cut->side[t] == (side == 3 ? 3 : side ^ 3);
    }
    return is_equal || is_mirrored;
}

static void assert_is_a_cut(const struct world *world, const struct brute *brute,
                            const struct cut *cut, uint64_t seed)
{
    uint32_t edges, nodes;
    read_cut(cut, &edges, &nodes);
    for (size_t i = 0; i < brute->count; i++) {
        const struct brute_cut *other = &brute->cuts[i];
        if (other->edges == edges && other->nodes == nodes && has_equal_sides(world, cut, other)) {
            assert_near(cut->margin, other->margin, 1e-9 * other->margin + 1e-15);
            assert_near(cut->area_mm2, other->area_mm2, 1e-12);
            return;
        }
    }
    fail_msg("seed %llu: edges %x nodes %x is no minimal cut", (unsigned long long)seed, edges,
             nodes);
}

/* The pieces of a listed cut, one of which other cuts must have in common with it. */
static void widest_pieces(const struct world *world, const struct cut *cut, uint32_t *edges,
                          uint32_t *nodes)
{
    double widest = 0;
    for (size_t i = 0; i < cut->edge_count; i++)
        widest = fmax(widest, world->edges[cut->edges[i]].area_mm2);
    for (size_t i = 0; i < cut->node_count; i++)
        widest = fmax(widest, world->nodes[cut->nodes[i]].area_mm2);
    for (size_t i = 0; i < cut->edge_count; i++)
        *edges |= world->edges[cut->edges[i]].area_mm2 == widest ? 1U << cut->edges[i] : 0;
    for (size_t i = 0; i < cut->node_count; i++)
        *nodes |= world->nodes[cut->nodes[i]].area_mm2 == widest ? 1U << cut->nodes[i] : 0;
}

/* Every narrow cut shares a widest piece with a listed one. */
static void assert_none_is_missed(const struct world *world, const struct brute *brute,
                                  const struct cut *cuts, size_t count, double below, uint64_t seed)
{
    uint32_t edges = 0, nodes = 0;
    for (size_t i = 0; i < count; i++)
        widest_pieces(world, &cuts[i], &edges, &nodes);
    for (size_t i = 0; i < brute->count; i++)
        if (brute->cuts[i].margin < below * (1 - 1e-6) && !(brute->cuts[i].edges & edges) &&
            !(brute->cuts[i].nodes & nodes))
            fail_msg("seed %llu: edges %x nodes %x (margin %g) is missed", (unsigned long long)seed,
                     brute->cuts[i].edges, brute->cuts[i].nodes, brute->cuts[i].margin);
}

/* "Nothing is shared": every piece of a cut of several would do alone. */
static void assert_nothing_is_shared(const struct world *world, const struct brute *brute,
                                     uint64_t seed)
{
    for (size_t i = 0; i < brute->count; i++) {
        const struct brute_cut *cut = &brute->cuts[i];
        uint32_t pieces = 0;
        double least = INFINITY;
        for (uint32_t e = 0; e < world->problem.edge_count; e++)
            if (cut->edges >> e & 1) {
                pieces++;
                least = fmin(least, world->edges[e].area_mm2);
            }
        for (uint32_t v = 0; v < world->problem.node_count; v++)
            if (cut->nodes >> v & 1) {
                pieces++;
                least = fmin(least, world->nodes[v].area_mm2);
            }
        if (pieces > 1 && least < cut->area_mm2 / cut->margin * (1 - 1e-6))
            fail_msg("seed %llu: edges %x nodes %x share", (unsigned long long)seed, cut->edges,
                     cut->nodes);
    }
}

static void compare(const struct world *world, struct brute *brute, struct arena *arena,
                    uint64_t seed)
{
    struct cut_result result;
    arena_reset(arena);
    enumerate(world, brute);
    assert_int_equal(cut_find(&world->problem, 3, arena, &result), CUT_OK);
    if (!result.is_proved || !result.is_least_proved)
        fail_msg("seed %llu: not proved", (unsigned long long)seed);
    for (size_t i = 0; i < result.narrow_count; i++) {
        assert_true(result.narrow[i].margin < 1);
        assert_is_a_cut(world, brute, &result.narrow[i], seed);
    }
    assert_none_is_missed(world, brute, result.narrow, result.narrow_count, 1, seed);
    if (result.is_near_complete && !result.is_single_everywhere)
        assert_none_is_missed(world, brute, result.near, result.near_count, 3, seed);
    for (size_t i = 0; i < result.near_count; i++)
        assert_is_a_cut(world, brute, &result.near[i], seed);
    if (result.is_single_everywhere)
        assert_nothing_is_shared(world, brute, seed);
    if (result.has_least != (brute->least < 3))
        fail_msg("seed %llu: least %g", (unsigned long long)seed, brute->least);
    if (!result.has_least)
        return;
    assert_is_a_cut(world, brute, &result.least, seed);
    if (fabs(result.least.margin - brute->least) > 1e-6 * brute->least)
        fail_msg("seed %llu: least %g, found %g", (unsigned long long)seed, brute->least,
                 result.least.margin);
}

static void random_graphs_agree_with_all_subsets(void **state)
{
    (void)state;
    const char *first = getenv("CUT_BRUTE_FIRST"), *count = getenv("CUT_BRUTE_COUNT");
    uint64_t from = first ? strtoull(first, NULL, 10) : 1;
    uint64_t end = from + (count ? strtoull(count, NULL, 10) : 12000);
    struct arena *arena = arena_new("test");
    struct brute brute = {0};
    struct world world;
    size_t narrow_count = 0, pass_count = 0;
    for (uint64_t seed = from; seed < end; seed++) {
        draw_world(&world, seed);
        compare(&world, &brute, arena, seed);
        narrow_count += brute.least < 1;
        pass_count += brute.least >= 1 && brute.least < 3;
    }
    print_message("%zu graphs too narrow, %zu pass with less than 3\n", narrow_count, pass_count);
    if (!first && !count) {
        assert_true(narrow_count > 3000); /* the areas drawn are near enough to matter */
        assert_true(pass_count > 1000);
    }
    free(brute.cuts);
    arena_free(arena);
}

/* --- larger graphs: too many labellings to try all --- */

#define GRID 7
#define GRID_NODES (GRID * GRID)
#define GRID_TERMINALS 8

struct grid {
    struct cut_problem problem;
    struct cut_node nodes[GRID_NODES];
    struct cut_edge edges[2 * GRID_NODES];
    struct cut_terminal terminals[GRID_TERMINALS];
    uint32_t contacts[GRID_TERMINALS];
};

static void draw_grid(struct grid *grid, uint64_t seed)
{
    *grid = (struct grid){0};
    random_state = seed * 0x9E3779B97F4A7C15ULL + 7;
    struct cut_problem *problem = &grid->problem;
    problem->demand = (struct demand){.scale_a = 2, .exponent = 1 / 0.725};
    double base = demand_area_mm2(&problem->demand, 5) * (0.3 + 1.2 * random_unit());
    for (uint32_t v = 0; v < GRID_NODES; v++) {
        grid->nodes[v].area_mm2 = INFINITY;
        if (v % GRID + 1 < GRID)
            grid->edges[problem->edge_count++] =
                (struct cut_edge){.a = v, .b = v + 1, .area_mm2 = base * random_unit()};
        if (v + GRID < GRID_NODES)
            grid->edges[problem->edge_count++] =
                (struct cut_edge){.a = v, .b = v + GRID, .area_mm2 = base * random_unit()};
    }
    for (uint32_t t = 0; t < GRID_TERMINALS; t++) {
        bool is_feed = t < 1 + seed % 3;
        grid->contacts[t] = random_below(GRID_NODES);
        grid->terminals[t] = (struct cut_terminal){.nodes = &grid->contacts[t],
                                                   .node_count = 1,
                                                   .feed_a = is_feed ? 2 + random_below(4) : 0,
                                                   .draw_a = is_feed ? 0 : 0.5 + random_unit(),
                                                   .has_row = true};
    }
    problem->nodes = grid->nodes;
    problem->node_count = GRID_NODES;
    problem->edges = grid->edges;
    problem->terminals = grid->terminals;
    problem->terminal_count = GRID_TERMINALS;
    problem->i_net_a = 3 + random_below(5);
}

/* The same graph with its nodes, edges and terminals in another order. */
static void shuffle_grid(const struct grid *from, struct grid *to)
{
    uint32_t number[GRID_NODES];
    *to = *from;
    for (uint32_t v = 0; v < GRID_NODES; v++)
        number[v] = v;
    for (uint32_t v = GRID_NODES - 1; v > 0; v--) {
        uint32_t w = random_below(v + 1), other = number[v];
        number[v] = number[w];
        number[w] = other;
    }
    size_t m = from->problem.edge_count;
    for (size_t e = 0; e < m; e++) {
        const struct cut_edge *edge = &from->edges[m - 1 - e];
        to->edges[e] = (struct cut_edge){number[edge->b], number[edge->a], edge->area_mm2, 0};
    }
    for (uint32_t t = 0; t < GRID_TERMINALS; t++) {
        to->terminals[t] = from->terminals[GRID_TERMINALS - 1 - t];
        to->terminals[t].nodes = &to->contacts[t];
        to->contacts[t] = number[from->contacts[GRID_TERMINALS - 1 - t]];
    }
    to->problem.edges = to->edges;
    to->problem.terminals = to->terminals;
}

/* Area over requirement of a labelling by 1 and 2. */
static double grid_margin(const struct grid *grid, const uint8_t *label)
{
    double area_mm2 = 0, feed_a[3] = {0}, draw_a[3] = {0};
    for (size_t e = 0; e < grid->problem.edge_count; e++)
        if (label[grid->edges[e].a] != label[grid->edges[e].b])
            area_mm2 += grid->edges[e].area_mm2;
    for (uint32_t t = 0; t < GRID_TERMINALS; t++) {
        feed_a[label[grid->contacts[t]]] += grid->terminals[t].feed_a;
        draw_a[label[grid->contacts[t]]] += grid->terminals[t].draw_a;
    }
    double current_a =
        fmin(grid->problem.i_net_a, fmax(fmin(feed_a[1], draw_a[2]), fmin(feed_a[2], draw_a[1])));
    double required = pow(current_a / 2, 1 / 0.725);
    return required > 0 ? area_mm2 / required : INFINITY;
}

static bool is_grid_side_whole(const struct grid *grid, const uint8_t *label, uint8_t side)
{
    uint64_t members = 0;
    for (uint32_t v = 0; v < GRID_NODES; v++)
        members |= label[v] == side ? (uint64_t)1 << v : 0;
    uint64_t grown = members & (~members + 1), before = 0;
    while (grown != before) {
        before = grown;
        for (size_t e = 0; e < grid->problem.edge_count; e++) {
            uint64_t ends = (uint64_t)1 << grid->edges[e].a | (uint64_t)1 << grid->edges[e].b;
            if ((ends & members) == ends && (ends & grown))
                grown |= ends;
        }
    }
    return members && grown == members;
}

/* Walks downhill from a random vertex's side: moves a vertex over whenever the cut stays minimal
 * and its margin falls. Ends in a locally worst cut. */
static double walk_downhill(const struct grid *grid)
{
    uint8_t label[GRID_NODES];
    memset(label, 2, sizeof label);
    label[grid->contacts[random_below(GRID_TERMINALS)]] = 1;
    double least = grid_margin(grid, label);
    for (uint32_t idle = 0; idle < 2 * GRID_NODES; idle++) {
        uint32_t v = random_below(GRID_NODES);
        label[v] ^= 3;
        double margin = grid_margin(grid, label);
        bool is_better = margin < least || (isinf(margin) && isinf(least));
        if (is_better && is_grid_side_whole(grid, label, 1) && is_grid_side_whole(grid, label, 2)) {
            idle = margin < least ? 0 : idle;
            least = margin;
        } else {
            label[v] ^= 3;
        }
    }
    return is_grid_side_whole(grid, label, 2) ? least : INFINITY;
}

static void no_walk_ends_below_the_least_margin_of_a_grid(void **state)
{
    (void)state;
    struct arena *arena = arena_new("test");
    size_t narrow_count = 0, reached_count = 0;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct grid grid, other;
        struct cut_result result, again;
        draw_grid(&grid, seed);
        shuffle_grid(&grid, &other);
        arena_reset(arena);
        assert_int_equal(cut_find(&grid.problem, 3, arena, &result), CUT_OK);
        assert_int_equal(cut_find(&other.problem, 3, arena, &again), CUT_OK);
        assert_true(result.is_proved && result.is_least_proved && again.is_least_proved);
        double least = result.has_least ? result.least.margin : 3;
        assert_near(again.has_least ? again.least.margin : 3, least, 1e-6);
        narrow_count += result.narrow_count > 0;
        bool is_reached = false;
        for (int walk = 0; walk < 20; walk++) {
            double end = walk_downhill(&grid);
            if (end < least * (1 - 1e-6))
                fail_msg("seed %llu: a walk ends at %g, least %g", (unsigned long long)seed, end,
                         least);
            is_reached |= end < least * (1 + 1e-6);
        }
        reached_count += is_reached;
    }
    print_message("%zu grids too narrow, least reached by a walk in %zu\n", narrow_count,
                  reached_count);
    assert_true(narrow_count > 10 && narrow_count < 50); /* some of either kind */
    assert_true(reached_count > 20); /* the walks are good enough to mean something */
    arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_graphs_agree_with_all_subsets),
        cmocka_unit_test(no_walk_ends_below_the_least_margin_of_a_grid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
