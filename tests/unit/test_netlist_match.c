/* Registration of netlists. Boards are random (fixed seed), offsets known by construction. */
#include "assertions.h"
#include "board/netlist_match.h"
#include "isthmus/base.h"

#define HOLES 300

struct world {
    struct match_point holes[2 * HOLES], points[2 * HOLES];
    size_t hole_count, point_count;
    uint64_t seed;
    struct netlist_match match;
};

static int64_t below(struct world *world, int64_t limit)
{
    world->seed = world->seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (int64_t)((world->seed >> 33) % (uint64_t)limit);
}

/* Holes of two sizes and pads on 100 x 80 mm; the netlist says the same places less the offset,
 * rounded to 0.0001 in as real ones are. */
static void world_new(struct world *world, struct pos_nm offset)
{
    *world = (struct world){.seed = 7, .hole_count = HOLES, .point_count = HOLES};
    for (size_t i = 0; i < HOLES; i++) {
        struct match_point *hole = &world->holes[i];
        hole->at = (struct pos_nm){below(world, 100000000), below(world, 80000000)};
        hole->kind = i % 3 == 0;
        hole->size_nm = hole->kind ? 0 : i % 2 ? 300000 : 1000000;
        world->points[i] = *hole;
        world->points[i].at.x_nm = (hole->at.x_nm - offset.x_nm) / 2540 * 2540;
        world->points[i].at.y_nm = (hole->at.y_nm - offset.y_nm) / 2540 * 2540;
    }
}

static enum netlist_match_status run(struct world *world)
{
    return netlist_match(world->points, world->point_count, world->holes, world->hole_count,
                         &world->match);
}

static void assert_offset(const struct world *world, struct pos_nm offset)
{
    assert_near((double)world->match.offset.x_nm, (double)offset.x_nm, 2540);
    assert_near((double)world->match.offset.y_nm, (double)offset.y_nm, 2540);
}

static void an_offset_is_found(void **state)
{
    (void)state;
    static const struct pos_nm offsets[] = {
        {155575000, -153035000}, {-1, 40000}, {20000, 20000}, {3, -987654321}};
    for (size_t i = 0; i < sizeof offsets / sizeof *offsets; i++) {
        struct world world;
        world_new(&world, offsets[i]);
        assert_int_equal(run(&world), NETLIST_MATCH_OK);
        assert_offset(&world, offsets[i]);
        assert_near(world.match.share, 1, 0);
        assert_true(world.match.rival_share < 0.2);
    }
}

static void no_offset_stays_none(void **state)
{
    (void)state;
    struct world world;
    world_new(&world, (struct pos_nm){0, 0});
    assert_int_equal(run(&world), NETLIST_MATCH_OK);
    assert_offset(&world, (struct pos_nm){0, 0});
    assert_near(world.match.in_place, 1, 0);
}

static void some_points_may_be_missing(void **state)
{
    (void)state;
    struct world world;
    const struct pos_nm offset = {12700000, 25400000};
    world_new(&world, offset);
    for (size_t i = 0; i < HOLES; i += 10) /* a tenth lies elsewhere */
        world.points[i].at.x_nm += 1234567 + below(&world, 5000000);
    assert_int_equal(run(&world), NETLIST_MATCH_OK);
    assert_offset(&world, offset);
    assert_true(world.match.share >= 0.9);
    for (size_t i = 0; i < HOLES; i += 4) /* a third of them: not this board */
        world.points[i].at.x_nm += 1234567 + below(&world, 5000000);
    assert_int_equal(run(&world), NETLIST_MATCH_NONE);
}

/* One in thirty fits better elsewhere: not enough to move a netlist that lies well. */
static void a_little_better_does_not_move_it(void **state)
{
    (void)state;
    struct world world = {.hole_count = 60, .point_count = 60};
    for (size_t i = 0; i < 60; i++) {
        world.holes[i] = (struct match_point){{(int64_t)i * 2540000, 0}, 0, 0};
        world.points[i] = world.holes[i];
        world.points[i].at.x_nm -= 2 * 2540000; /* the first two lie beside the row */
    }
    assert_int_equal(run(&world), NETLIST_MATCH_OK);
    assert_int_equal(world.match.offset.x_nm, 0);
    assert_near(world.match.share, 58.0 / 60, 1e-12);
    assert_near(world.match.rival_share, 1, 1e-12);
}

static void another_board_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_new(&world, (struct pos_nm){0, 0});
    for (size_t i = 0; i < HOLES; i++)
        world.points[i].at = (struct pos_nm){below(&world, 100000000), below(&world, 80000000)};
    assert_int_equal(run(&world), NETLIST_MATCH_NONE);
    world.point_count = 0;
    assert_int_equal(run(&world), NETLIST_MATCH_NONE);
    world.hole_count = 0;
    assert_int_equal(run(&world), NETLIST_MATCH_NONE);
}

/* A long row of equal holes: a step of one pitch fits all but one of them. */
static void equal_rows_are_ambiguous(void **state)
{
    (void)state;
    struct world world = {.hole_count = 100, .point_count = 100};
    for (size_t i = 0; i < 100; i++) {
        world.holes[i] = (struct match_point){{(int64_t)i * 2540000, 0}, 0, 1000000};
        world.points[i] = world.holes[i];
        world.points[i].at.x_nm += 50800;
        world.points[i].at.y_nm += 7620000;
    }
    assert_int_equal(run(&world), NETLIST_MATCH_AMBIGUOUS);
    assert_true(world.match.rival_share >= 0.98);
    /* In place, the same row is taken as it lies. */
    for (size_t i = 0; i < 100; i++)
        world.points[i] = world.holes[i];
    assert_int_equal(run(&world), NETLIST_MATCH_OK);
    assert_int_equal(world.match.offset.x_nm, 0);
}

/* Two places fit wherever two holes are as far apart; a third confirms. In place two will do. */
static void two_places_tell_no_offset(void **state)
{
    (void)state;
    struct world world;
    world_new(&world, (struct pos_nm){5000000, 3000000});
    for (size_t count = 1; count <= 3; count++) {
        world.point_count = count;
        enum netlist_match_status status = run(&world);
        assert_int_equal(status, count == 3   ? NETLIST_MATCH_OK
                                 : count == 2 ? NETLIST_MATCH_FEW
                                              : NETLIST_MATCH_AMBIGUOUS);
    }
    world_new(&world, (struct pos_nm){0, 0});
    world.point_count = 2;
    assert_int_equal(run(&world), NETLIST_MATCH_OK);
    assert_int_equal(world.match.offset.x_nm, 0);
}

static double turned(int turn, const struct pos_nm *at, bool is_y)
{
    double x = (double)at->x_nm, y = (double)at->y_nm;
    switch (turn) {
    case 0: /* mirrored */
        return is_y ? y : 100e6 - x;
    case 1: /* a quarter turn */
        return is_y ? x : 80e6 - y;
    case 2: /* half a turn */
        return is_y ? 80e6 - y : 100e6 - x;
    default: /* another unit */
        return (is_y ? y : x) / 2.54;
    }
}

/* None of these is an offset. */
static void mirrored_turned_and_scaled_ones_are_refused(void **state)
{
    (void)state;
    for (int turn = 0; turn < 4; turn++) {
        struct world world;
        world_new(&world, (struct pos_nm){0, 0});
        for (size_t i = 0; i < world.point_count; i++) {
            struct pos_nm at = world.points[i].at;
            world.points[i].at.x_nm = (int64_t)turned(turn, &at, false);
            world.points[i].at.y_nm = (int64_t)turned(turn, &at, true);
        }
        assert_int_equal(run(&world), NETLIST_MATCH_NONE);
    }
}

/* Sizes and kinds tell apart what places alone cannot. */
static void sizes_and_kinds_decide(void **state)
{
    (void)state;
    struct world world = {.hole_count = 40, .point_count = 40};
    for (size_t i = 0; i < 40; i++) {
        bool is_large = i % 7 == 0 || i % 11 == 3;
        world.holes[i] =
            (struct match_point){{(int64_t)i * 2540000, 0}, i == 5, is_large ? 3000000 : 1000000};
        world.points[i] = world.holes[i];
        world.points[i].at.x_nm += 2540000; /* as many places again would fit in place */
    }
    assert_int_equal(run(&world), NETLIST_MATCH_OK);
    assert_int_equal(world.match.offset.x_nm, -2540000);
    for (size_t i = 0; i < 40; i++) {
        world.points[i].size_nm = world.holes[i].size_nm = 0;
        world.points[i].kind = world.holes[i].kind = 0;
        world.points[i].at.x_nm += 9 * 2540000;
    }
    assert_int_equal(run(&world), NETLIST_MATCH_AMBIGUOUS);
}

static void points_without_targets_of_their_kind_do_not_count(void **state)
{
    (void)state;
    struct world world;
    const struct pos_nm offset = {1000000, 2000000};
    world_new(&world, offset);
    size_t kept = 0;
    for (size_t i = 0; i < HOLES; i++) /* the drawings hold no pads */
        if (world.holes[i].kind == 0)
            world.holes[kept++] = world.holes[i];
    world.hole_count = kept;
    assert_int_equal(run(&world), NETLIST_MATCH_OK);
    assert_offset(&world, offset);
    assert_near(world.match.share, 1, 0);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    struct world world;
    world_new(&world, (struct pos_nm){1000000, 2000000});
    enum netlist_match_status status = NETLIST_MATCH_NO_MEMORY;
    uint64_t n = 1;
    for (; n < 100 && status == NETLIST_MATCH_NO_MEMORY; n++) {
        arena_fail_at(n);
        status = run(&world);
        arena_fail_at(0);
    }
    assert_int_equal(status, NETLIST_MATCH_OK);
    assert_true(n > 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_offset_is_found),
        cmocka_unit_test(no_offset_stays_none),
        cmocka_unit_test(some_points_may_be_missing),
        cmocka_unit_test(a_little_better_does_not_move_it),
        cmocka_unit_test(another_board_is_refused),
        cmocka_unit_test(equal_rows_are_ambiguous),
        cmocka_unit_test(two_places_tell_no_offset),
        cmocka_unit_test(mirrored_turned_and_scaled_ones_are_refused),
        cmocka_unit_test(sizes_and_kinds_decide),
        cmocka_unit_test(points_without_targets_of_their_kind_do_not_count),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
