/* Necks of small shapes whose narrowest place is known by hand. */
#include "assertions.h"
#include "neck_world.h"

#include <math.h>

/* 1 mm thick copper of weight 1: areas in mm2 are lengths in mm. */
static double narrowest_mm(struct world *world, double need_mm)
{
    struct neck_result result;
    world_build(world);
    assert_int_equal(world_find(world, need_mm, 1, &result), NECK_OK);
    return result.neck_count ? result.necks[0].places[0].area_mm2 : INFINITY;
}

/* A bar 4 mm wide with terminals at its ends, slits cut into it. */
static struct world *bar_world(double angle_rad)
{
    struct world *world = world_new();
    world->angle_rad = angle_rad;
    uint32_t sheet = world_sheet(world, 1, 1);
    world_box(world, sheet, LOOP_ADDS, 0, 0, 20, 4);
    world_contact_box(world, sheet, 0, 1, 1, 2, 3);
    world_contact_box(world, sheet, 1, 18, 1, 19, 3);
    return world;
}

static void a_notch_leaves_what_it_leaves(void **state)
{
    (void)state;
    for (int turn = 0; turn < 24; turn++) {
        struct world *world = bar_world(turn * 0.2617993);
        world_box(world, 0, LOOP_CUTS, 9, -1, 9.5, 2.5);
        assert_near(narrowest_mm(world, 3.9), 1.5, 3e-6);
        world_free(world);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_notch_leaves_what_it_leaves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
