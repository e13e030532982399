#include "solve_world.h"

#include <math.h>
#include "assertions.h"

double wall_of_ohm(double ohm, double length_mm)
{
    return SQUARE_RHO * 1e-3 * length_mm / ohm;
}

enum solve_status world_solve(struct world *world, const double *current_a, struct solved *out)
{
    double depth_mm[WORLD_SHEETS + 1] = {0};
    double *wall_mm2 = arena_alloc(world->arena, world->hole_count + 1, sizeof *wall_mm2);
    assert_non_null(wall_mm2);
    for (uint32_t s = 1; s < world->sheet_count; s++)
        depth_mm[s + 1] = s * (out->depth_step_mm > 0 ? out->depth_step_mm : 1);
    for (size_t h = 0; h < world->hole_count; h++)
        wall_mm2[h] = world->holes[h].wall_area_mm2;
    const struct solve_question question = {
        .net = &world->net,
        .wall_mm2 = wall_mm2,
        .depth_mm = depth_mm,
        .current_a = current_a,
        .probes = out->probes,
        .probe_count = out->probe_count,
        .resistivity_ohm_mm2_m = SQUARE_RHO,
        .tolerance = out->tolerance > 0 ? out->tolerance : 5e-4,
        .node_limit = out->node_limit,
    };
    return solve_net(&question, world->arena, &out->answer, NULL);
}

double world_ohm(struct world *world)
{
    struct solved solved = {0};
    double current_a[WORLD_ITEMS] = {1, -1};
    assert_int_equal(world_solve(world, current_a, &solved), SOLVE_OK);
    return solved.answer.terminal_v[0] - solved.answer.terminal_v[1];
}

struct world *one_sheet(void)
{
    struct world *world = world_new();
    world_sheet(world, SQUARE_MM, 1);
    return world;
}

void expect_squares(struct world *world, double expected, double relative, const char *what)
{
    world_build(world);
    double ohm = world_ohm(world);
    if (getenv("SOLVE_SHOW"))
        printf("%-30s %.6f for %.6f: %+.2e\n", what, ohm, expected, ohm / expected - 1);
    if (!(fabs(ohm / expected - 1) <= relative))
        fail_msg("%s: %.6f squares for %.6f (%.2e)", what, ohm, expected, ohm / expected - 1);
    world_free(world);
}

void round_disc(struct world *world, enum loop_effect effect, double x, double y, double radius)
{
    world->chord_error_nm = radius * 1e6 * 5e-5;
    world_disc(world, 0, effect, effect == LOOP_ADDS ? BOUND_ETCHED : BOUND_CUT, ISTHMUS_NONE, x, y,
               radius);
}

uint32_t round_contact(struct world *world, uint32_t terminal, double x, double y, double radius)
{
    world->chord_error_nm = radius * 1e6 * 5e-5;
    return world_contact_disc(world, 0, terminal, x, y, radius);
}

uint32_t world_contact_polygon(struct world *world, uint32_t sheet, uint32_t terminal,
                               const double (*xy_mm)[2], size_t count)
{
    uint32_t contact = (uint32_t)world->contact_count++;
    assert_true(contact < WORLD_ITEMS);
    world->contacts[contact] = (struct neck_contact){.terminal = terminal, .id = contact};
    if (terminal != ISTHMUS_NONE && terminal >= world->terminal_count)
        world->terminal_count = terminal + 1;
    world_polygon(world, sheet, LOOP_MARKS, BOUND_CONTACT, contact, xy_mm, count);
    return contact;
}
