/* Pieces that can be slid into each other: one of them is kept, the shortest. */
#include "assertions.h"
#include "neck/taut.h"
#include "neck_world.h"

#include <math.h>
#include <stdlib.h>

struct pieces {
    struct domain domain;
    struct arena *scratch;
    struct chord_list list;
    size_t found; /* before thinning */
};

static void find(struct world *world, double reach_mm, struct pieces *out)
{
    *out = (struct pieces){.scratch = arena_new("strips")};
    assert_int_equal(domain_build(&world->net, &world->net.sheets[0], out->scratch, &out->domain),
                     NECK_OK);
    assert_int_equal(domain_find_cones(&out->domain, out->scratch), NECK_OK);
    assert_int_equal(taut_find_all(&out->domain, reach_mm * 1e6, 1000000, &out->list), NECK_OK);
    out->found = out->list.count;
    assert_int_equal(taut_thin_strips(&out->domain, &out->list), NECK_OK);
}

static void release(struct pieces *pieces)
{
    free(pieces->list.items);
    domain_free(&pieces->domain);
    arena_free(pieces->scratch);
}

/* Those from x0_mm to x1_mm that run towards the common centre of ring and hole, x = y = 0. */
static size_t count_radial(const struct world *world, const struct pieces *pieces, double x0_mm,
                           double x1_mm)
{
    struct pt centre = world_point(world, 0, 0);
    size_t count = 0;
    for (size_t i = 0; i < pieces->list.count; i++) {
        const struct chord *chord = &pieces->list.items[i];
        double ax = chord->a.x - centre.x, ay = chord->a.y - centre.y;
        double bx = chord->b.x - centre.x, by = chord->b.y - centre.y;
        double sine = (ax * by - ay * bx) / (hypot(ax, ay) * hypot(bx, by));
        bool is_radial = fabs(sine) < 0.03 && ax * bx + ay * by > 0;
        count += is_radial && fmin(ax, bx) >= x0_mm * 1e6 && fmax(ax, bx) <= x1_mm * 1e6;
    }
    return count;
}

/*  a ring of copper 0.5 mm wide: every vertex within gives a piece to the outside, all alike */
static void a_ring_has_one_piece_across(void **state)
{
    (void)state;
    struct world *world = world_new();
    struct pieces pieces;
    world_sheet(world, 0.035, 1);
    world_disc(world, 0, LOOP_ADDS, BOUND_ETCHED, 0, 0, 0, 1.0);
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 0, 0, 0.5);
    world_build(world);
    find(world, 0.6, &pieces);
    assert_true(pieces.found > 30);
    assert_int_equal(count_radial(world, &pieces, -1, 1), 1);
    release(&pieces);
    world_free(world);
}

/*  the same about a plated hole: a cut that comes straight to its rim runs on through it */
static void a_ring_about_a_plated_hole_has_one_piece_to_its_rim(void **state)
{
    (void)state;
    struct world *world = world_new();
    struct pieces pieces;
    world_sheet(world, 0.035, 1);
    world_disc(world, 0, LOOP_ADDS, BOUND_ETCHED, 0, 0, 0, 1.0);
    world_hole(world, 0, 0, 0.5, 0.02, ISTHMUS_NONE);
    world_build(world);
    find(world, 0.6, &pieces);
    assert_true(pieces.found > 30);
    assert_int_equal(count_radial(world, &pieces, -1, 1), 1);
    release(&pieces);
    world_free(world);
}

/*
 *  two notches in the ring's outer edge: the boundary between them is still one stretch, but the
 *  shortest piece stands in a notch, 0.5 - 0.2 mm
 */
static void the_shortest_piece_of_a_strip_is_kept(void **state)
{
    (void)state;
    struct world *world = world_new();
    struct pieces pieces;
    double least_nm = INFINITY;
    world_sheet(world, 0.035, 1);
    world_disc(world, 0, LOOP_ADDS, BOUND_ETCHED, 0, 0, 0, 1.0);
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 0, 0, 0.5);
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 1.1, 0, 0.3);
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, -1.1, 0, 0.25);
    world_build(world);
    find(world, 0.6, &pieces);
    for (size_t i = 0; i < pieces.list.count; i++)
        least_nm = fmin(least_nm, pieces.list.items[i].length_nm);
    assert_in_range((uintmax_t)llround(least_nm), 299000, 300002);
    release(&pieces);
    world_free(world);
}

/*
 *  a contact that covers half of the ring: what severs it and what does not are different pieces,
 *  and nothing slides over its outline
 */
static void a_contacts_outline_parts_strips(void **state)
{
    (void)state;
    struct world *world = world_new();
    struct pieces pieces;
    world_sheet(world, 0.035, 1);
    world_disc(world, 0, LOOP_ADDS, BOUND_ETCHED, 0, 0, 0, 1.0);
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 0, 0, 0.5);
    world_contact_box(world, 0, 0, -1.2, -1.2, 0, 1.2);
    world_contact_box(world, 0, 1, 0.9, -0.1, 1.2, 0.1);
    world_build(world);
    find(world, 0.6, &pieces);
    assert_in_range(count_radial(world, &pieces, -1, 0.001), 1, 4);
    /* about the second one's corners the triangles are no strip: there the pieces stay */
    size_t count = count_radial(world, &pieces, -0.001, 1);
    assert_true(count >= 1 && 2 * count < pieces.found);
    release(&pieces);
    world_free(world);
}

/*  two holes side by side in a strip: the webs beside and between them are four strips */
static void each_web_keeps_its_piece(void **state)
{
    (void)state;
    struct world *world = world_new();
    struct pieces pieces;
    size_t webs[3] = {0};
    world_sheet(world, 0.035, 1);
    world_box(world, 0, LOOP_ADDS, -5, -2, 5, 2);
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 0, -0.75, 0.5);
    world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 0, 0.75, 0.5);
    world_build(world);
    find(world, 0.8, &pieces);
    for (size_t i = 0; i < pieces.list.count; i++) {
        double length_nm = pieces.list.items[i].length_nm;
        webs[0] += fabs(length_nm - 0.75e6) < 1500;
        webs[1] += fabs(length_nm - 0.5e6) < 1500;
        webs[2]++;
    }
    assert_int_equal(webs[0], 2); /* 2 - 0.75 - 0.5 mm to either edge */
    assert_int_equal(webs[1], 1); /* 1.5 - 2 x 0.5 mm between them */
    assert_int_equal(webs[2], 3);
    release(&pieces);
    world_free(world);
}

/*
 *  two rows of discs cut out of a plate, as strokes leave them that end at a clearance: between the
 *  discs of a row copper leads nowhere, so what stands askew there is dominated, and all that
 *  stands upright is one
 */
static void jagged_edges_have_one_piece_between_them(void **state)
{
    (void)state;
    struct world *world = world_new();
    struct pieces pieces;
    size_t across = 0;
    world_sheet(world, 0.035, 1);
    world_box(world, 0, LOOP_ADDS, -5, -5, 5, 5);
    for (int i = -8; i <= 8; i++) {
        world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 0.2 * i, 0.5, 0.15);
        world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, 0, 0.2 * i, -0.5, 0.15);
    }
    world_build(world);
    find(world, 0.9, &pieces);
    assert_int_equal(taut_drop_dominated(&pieces.domain, &pieces.list), NECK_OK);
    for (size_t i = 0; i < pieces.list.count; i++) {
        const struct chord *chord = &pieces.list.items[i];
        bool is_between = labs(chord->a.x) < 1800000 && labs(chord->b.x) < 1800000 &&
                          labs(chord->a.y) < 600000 && labs(chord->b.y) < 600000;
        across += is_between && labs((long)chord->a.y - chord->b.y) > 500000;
    }
    assert_true(pieces.found > 100);
    assert_in_range(across, 1, 3);
    release(&pieces);
    world_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_ring_has_one_piece_across),
        cmocka_unit_test(a_ring_about_a_plated_hole_has_one_piece_to_its_rim),
        cmocka_unit_test(the_shortest_piece_of_a_strip_is_kept),
        cmocka_unit_test(a_contacts_outline_parts_strips),
        cmocka_unit_test(each_web_keeps_its_piece),
        cmocka_unit_test(jagged_edges_have_one_piece_between_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
