/*
 * Leaving out what is buried: which points are copper is worked out object by object from the
 * winding of every outline about the point, before and after.
 */
#include "assertions.h"
#include "geometry/image.h"
#include "geometry/trim.h"
#include "random_layer.h"

#include <stdlib.h>

#define MM INT64_C(1000000)
#define NAMES 3

struct world {
    struct shapes shapes;
    struct paint paint, trimmed;
};

static void paint_all(struct world *world, uint32_t names)
{
    const struct drawing *drawing = &world->shapes.drawing;
    paint_init(&world->paint, (struct pos_nm){0, 0}, 500);
    for (uint32_t i = 0; i < drawing->object_count; i++) {
        enum paint_effect effect = drawing->objects[i].is_dark ? PAINT_DARK : PAINT_CLEAR;
        assert_int_equal(paint_add_drawn(&world->paint, drawing, i, effect, i, 0), MESH_OK);
        world->paint.objects[i].alike = i % names;
    }
    assert_int_equal(trim_paint(&world->paint, &world->trimmed), MESH_OK);
}

static void end(struct world *world)
{
    trim_free(&world->trimmed);
    paint_free(&world->paint);
    shapes_free(&world->shapes);
}

static uint64_t next_random(uint64_t *state)
{
    *state = *state * 6364136223846793005U + 1442695040888963407U;
    return *state >> 33;
}

/* Winding of a fill about a point; false when the point lies on an edge. */
static bool winding_of(const struct paint *paint, const struct paint_fill *fill, struct pt at,
                       int *winding)
{
    *winding = 0;
    for (uint32_t i = 0; i < fill->edge_count; i++) {
        const struct paint_edge *edge = &paint->edges[fill->first_edge + i];
        int side = orient(edge->a, edge->b, at);
        if (side == 0 && dot(at, edge->a, edge->b) <= 0)
            return false;
        if (edge->a.y <= at.y && edge->b.y > at.y && side > 0)
            ++*winding;
        if (edge->a.y > at.y && edge->b.y <= at.y && side < 0)
            --*winding;
    }
    return true;
}

/* The last object that covers the point decides: 1 copper, 0 bare, -1 the point is on an edge. */
static int copper_at(const struct paint *paint, struct pt at)
{
    int is_copper = 0;
    for (uint32_t o = 0; o < paint->object_count; o++) {
        const struct paint_object *object = &paint->objects[o];
        bool covers = false;
        for (uint32_t f = 0; f < object->fill_count; f++) {
            const struct paint_fill *fill = &paint->fills[object->first_fill + f];
            int winding;
            if (!winding_of(paint, fill, at, &winding))
                return -1;
            if (winding != 0)
                covers = fill->adds;
        }
        if (covers)
            is_copper = object->effect == PAINT_DARK;
    }
    return is_copper;
}

/* Points anywhere, and points within 50 nm of an outline's vertex. */
static struct pt some_point(const struct paint *paint, int64_t size, uint64_t *state)
{
    if (next_random(state) % 2) {
        struct pt at = paint->edges[next_random(state) % paint->edge_count].a;
        return (struct pt){at.x + (int32_t)(next_random(state) % 100) - 50,
                           at.y + (int32_t)(next_random(state) % 100) - 50};
    }
    return (struct pt){(int32_t)(next_random(state) % (uint64_t)(2 * size)) - (int32_t)size,
                       (int32_t)(next_random(state) % (uint64_t)(2 * size)) - (int32_t)size};
}

static void compare_copper(const struct world *world, int64_t size, uint64_t seed)
{
    uint64_t state = seed;
    unsigned compared = 0;
    for (int i = 0; i < 1500; i++) {
        struct pt at = some_point(&world->paint, size, &state);
        int before = copper_at(&world->paint, at), after = copper_at(&world->trimmed, at);
        if (before < 0 || after < 0)
            continue;
        compared++;
        if (before != after)
            fail_msg("seed %lu: (%d, %d) was %d and is %d", (unsigned long)seed, at.x, at.y, before,
                     after);
    }
    assert_true(compared > 1000);
}

static void no_point_changes_what_it_is(void **state)
{
    (void)state;
    size_t before = 0, after = 0;
    for (uint64_t seed = 1; seed <= 12; seed++) {
        struct world world = {0};
        random_layer_draw(
            &(struct random_layer){(uint32_t)seed, 150, MM, 1, 200000, seed % 3 ? 3 : 0},
            &world.shapes);
        paint_all(&world, seed % 2 ? 1 : NAMES);
        compare_copper(&world, MM, seed);
        before += world.paint.edge_count;
        after += world.trimmed.edge_count;
        end(&world);
    }
    assert_true(after < before * 8 / 10); /* something was left out at all */
}

/* ---- the names that show ---- */

static size_t distinct_names(const struct paint *paint, uint32_t *islands)
{
    struct image image;
    assert_int_equal(image_build(paint, &image), MESH_OK);
    bool *seen = calloc((size_t)image.component_count * NAMES + 1, sizeof *seen);
    size_t count = 0;
    for (size_t i = 0; seen && i < image.show_count; i++) {
        bool *here =
            &seen[image.shows[i].component * NAMES + paint->objects[image.shows[i].object].alike];
        count += !*here;
        *here = true;
    }
    free(seen);
    *islands = image.component_count;
    image_free(&image);
    return count;
}

static void the_same_names_show(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 8; seed++) {
        struct world world = {0};
        random_layer_draw(&(struct random_layer){(uint32_t)seed, 200, 3 * MM, 1, 200000, 3},
                          &world.shapes);
        paint_all(&world, NAMES);
        uint32_t before, after;
        size_t names = distinct_names(&world.paint, &before);
        assert_int_equal(distinct_names(&world.trimmed, &after), names);
        assert_int_equal(before, after);
        end(&world);
    }
}

/* ---- strokes ---- */

/* Strokes that follow each other along a staircase: only the two ends and the outer corners show.
 */
static void chained_strokes_lose_their_round_ends(void **state)
{
    (void)state;
    struct world world = {0};
    for (int i = 0; i < 20; i++)
        shapes_stroke(&world.shapes, true, (i + 1) / 2 * MM, i / 2 * MM, (i + 2) / 2 * MM,
                      (i + 1) / 2 * MM, MM / 5);
    paint_all(&world, 1);
    assert_true(world.trimmed.edge_count * 10 < world.paint.edge_count * 7);
    compare_copper(&world, 10 * MM, 7);
    end(&world);
}

static size_t edges_of(const struct paint *paint, uint32_t object)
{
    return paint->fills[paint->objects[object].first_fill].edge_count;
}

/* Two strokes in line, A then B, end in each other. B may bury A's end in any case; A buries B's
 * only where both bear the same names. */
static void an_earlier_stroke_buries_only_its_like(void **state)
{
    (void)state;
    for (uint32_t names = 1; names <= 2; names++) {
        struct world world = {0};
        shapes_stroke(&world.shapes, true, -5 * MM, 0, MM / 2, 0, MM);
        shapes_stroke(&world.shapes, true, -MM / 2, 0, 5 * MM, 0, MM);
        paint_all(&world, names);
        assert_true(edges_of(&world.trimmed, 0) < edges_of(&world.paint, 0));
        bool is_cut = edges_of(&world.trimmed, 1) < edges_of(&world.paint, 1);
        assert_int_equal(is_cut, names == 1);
        compare_copper(&world, 6 * MM, names);
        end(&world);
    }
}

/* A clear pad between the two: what it bares must not be covered by what lay under it. */
static void nothing_is_buried_in_what_a_clear_pad_cuts(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_stroke(&world.shapes, true, -5 * MM, 0, MM, 0, MM);
    shapes_box(&world.shapes, false, -MM, -MM, MM * 3 / 2, 2 * MM);
    shapes_stroke(&world.shapes, true, -MM / 2, 0, 5 * MM, 0, MM);
    paint_all(&world, 1);
    assert_int_equal(edges_of(&world.trimmed, 2), edges_of(&world.paint, 2));
    compare_copper(&world, 6 * MM, 3);
    end(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_point_changes_what_it_is),
        cmocka_unit_test(the_same_names_show),
        cmocka_unit_test(chained_strokes_lose_their_round_ends),
        cmocka_unit_test(an_earlier_stroke_buries_only_its_like),
        cmocka_unit_test(nothing_is_buried_in_what_a_clear_pad_cuts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
