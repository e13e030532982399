/* Which cuts are one neck. Widths are those drawn. */
#include "assertions.h"
#include "neck_world.h"

/*
 * A strip with a sense tap in the middle and two notches on either side of it: the cuts part the
 * same two terminals, whichever side of the tap they are on, so all are one neck, worst first.
 * Fails before "neck: taps part no findings".
 */
static void a_tap_between_two_places_makes_no_second_neck(void **state)
{
    (void)state;
    struct world *world = world_new();
    uint32_t sheet = world_sheet(world, 1, 1);
    world_box(world, sheet, LOOP_ADDS, 0, 0, 50, 2);
    world_box(world, sheet, LOOP_CUTS, 8, 0.2, 9, 3);   /* 0.2 mm is left, left of the tap */
    world_box(world, sheet, LOOP_CUTS, 32, 0.3, 33, 3); /* right of it */
    world_box(world, sheet, LOOP_CUTS, 16, 0.4, 17, 3);
    world_box(world, sheet, LOOP_CUTS, 40, 0.5, 41, 3);
    world_contact_box(world, sheet, 0, 1, 0.5, 2, 1.5);
    world_contact_box(world, sheet, 1, 48, 0.5, 49, 1.5);
    world_contact_box(world, sheet, 2, 24, 0.5, 25, 1.5);
    world_build(world);
    const double feed_a[3] = {1, 0, 0}, draw_a[3] = {0, 1, 0};
    const bool has_row[3] = {true, true, true};
    const struct neck_case one = {.feed_a = feed_a,
                                  .draw_a = draw_a,
                                  .has_row = has_row,
                                  .i_net_a = 1,
                                  .demand = {.scale_a = 1, .exponent = 1}};
    struct neck_result found;
    assert_int_equal(neck_find(&world->net, &one, 1, 1, world->arena, &found), NECK_OK);
    assert_int_equal(found.neck_count, 1);
    assert_int_equal(found.necks[0].place_count, 4);
    for (size_t p = 0; p < 4; p++)
        assert_near(found.necks[0].places[p].area_mm2, 0.2 + 0.1 * (double)p, 1e-5);
    world_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tap_between_two_places_makes_no_second_neck),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
