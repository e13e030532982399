/* One net's copper out of a layer's mesh, and copper of it that leads to no terminal. */
#include "assertions.h"
#include "neck/domain.h"
#include "neck_world.h"
#include "random.h"
#include "shapes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MM INT64_C(1000000)

/* ---- cutting out ---- */

struct layer {
    struct shapes shapes;
    struct paint paint;
    struct sheet_mesh mesh;
    struct sheet_islands islands;
    enum bound_kind *kinds;
    uint32_t *owners;
    bool *has_component;
};

static void add_shapes(struct layer *layer, uint64_t *state, int count)
{
    for (int i = 0; i < count; i++) {
        int64_t x = (int64_t)(next_random(state) % 100) * MM;
        int64_t y = (int64_t)(next_random(state) % 100) * MM;
        int64_t size = MM / 2 + (int64_t)(next_random(state) % 40) * MM / 10;
        if (i % 2)
            shapes_disc(&layer->shapes, i % 7 != 0, x, y, size);
        else
            shapes_box(&layer->shapes, i % 7 != 0, x, y, size, 2 * size);
    }
}

static void layer_build(struct layer *layer, uint64_t seed)
{
    add_shapes(layer, &seed, 600);
    paint_init(&layer->paint, (struct pos_nm){50 * MM, 50 * MM}, 500);
    for (uint32_t i = 0; i < layer->shapes.drawing.object_count; i++) {
        bool is_dark = layer->shapes.drawing.objects[i].is_dark;
        assert_int_equal(paint_add_drawn(&layer->paint, &layer->shapes.drawing, i,
                                         is_dark ? PAINT_DARK : PAINT_CLEAR, i, 0),
                         MESH_OK);
    }
    assert_int_equal(sheet_mesh_build(&layer->paint, 0, NULL, NULL, &layer->mesh), MESH_OK);
    assert_int_equal(sheet_islands_list(&layer->mesh, &layer->islands), MESH_OK);
    layer->kinds = calloc(layer->paint.object_count + 1, sizeof *layer->kinds);
    layer->owners = calloc(layer->paint.object_count + 1, sizeof *layer->owners);
    layer->has_component = calloc((size_t)layer->mesh.component_count + 1, sizeof(bool));
    assert_true(layer->kinds && layer->owners && layer->has_component);
}

static void layer_free(struct layer *layer)
{
    free(layer->kinds);
    free(layer->owners);
    free(layer->has_component);
    sheet_islands_free(&layer->islands);
    sheet_mesh_free(&layer->mesh);
    paint_free(&layer->paint);
    shapes_free(&layer->shapes);
}

/* Every copper triangle stands in the list of its island, once, ascending. */
static void lists_hold_each_copper_triangle_once(void **state)
{
    (void)state;
    struct layer layer = {0};
    layer_build(&layer, 1);
    assert_true(layer.mesh.component_count > 100);
    uint32_t copper_count = 0;
    for (uint32_t t = 0; t < layer.mesh.cdt.tri_count; t++)
        copper_count += layer.mesh.component[t] != ISTHMUS_NONE;
    const uint32_t *first = layer.islands.first, *tris = layer.islands.tris;
    assert_int_equal(first[0], 0);
    assert_int_equal(first[layer.mesh.component_count], copper_count);
    for (uint32_t c = 0; c < layer.mesh.component_count; c++)
        for (uint32_t i = first[c]; i < first[c + 1]; i++) {
            assert_int_equal(layer.mesh.component[tris[i]], c);
            assert_true(i == first[c] || tris[i - 1] < tris[i]);
        }
    layer_free(&layer);
}

static void assert_same_memory(const void *a, const void *b, size_t count, size_t size)
{
    assert_int_equal(memcmp(a, b, count * size), 0);
}

static void assert_same_domains(const struct domain *a, const struct domain *b)
{
    assert_int_equal(a->tri_count, b->tri_count);
    assert_int_equal(a->point_count, b->point_count);
    assert_same_memory(a->points, b->points, a->point_count, sizeof *a->points);
    assert_same_memory(a->corner, b->corner, a->tri_count, sizeof *a->corner);
    assert_same_memory(a->neighbour, b->neighbour, a->tri_count, sizeof *a->neighbour);
    assert_same_memory(a->bound, b->bound, a->tri_count, sizeof *a->bound);
}

/* The definition: the net's triangles in the mesh's order, points as they are first named, and a
 * neighbour wherever the mesh has one in the net. */
static void assert_cut_out(const struct layer *layer, const struct domain *domain)
{
    const struct cdt *mesh = &layer->mesh.cdt;
    uint32_t *new_of = malloc(((size_t)mesh->tri_count + 1) * sizeof *new_of), tri = 0, points = 0;
    assert_non_null(new_of);
    for (uint32_t t = 0; t < mesh->tri_count; t++) {
        uint32_t component = layer->mesh.component[t];
        bool is_in = component != ISTHMUS_NONE && layer->has_component[component];
        new_of[t] = is_in ? tri++ : ISTHMUS_NONE;
    }
    assert_int_equal(domain->tri_count, tri);
    for (uint32_t t = 0; t < mesh->tri_count; t++)
        for (unsigned i = 0; i < 3 && new_of[t] != ISTHMUS_NONE; i++) {
            uint32_t point = domain->corner[new_of[t]][i], across = mesh->neighbour[t][i];
            assert_true(point <= points);
            points += point == points;
            assert_same_memory(&domain->points[point], &mesh->points[mesh->corner[t][i]], 1,
                               sizeof(struct pt));
            assert_int_equal(domain->neighbour[new_of[t]][i],
                             across == ISTHMUS_NONE ? across : new_of[across]);
            assert_int_equal(domain->bound[new_of[t]][i], mesh->chain[t][i]);
        }
    assert_int_equal(domain->point_count, points);
    free(new_of);
}

static void cut_both_ways(struct layer *layer)
{
    struct arena *scratch = arena_new("domains");
    struct neck_net net = {0};
    struct neck_sheet sheet = {.mesh = &layer->mesh,
                               .has_component = layer->has_component,
                               .kind_of_object = layer->kinds,
                               .owner_of_object = layer->owners};
    struct domain walked, listed;
    assert_int_equal(domain_cut_out(&net, &sheet, scratch, &walked), NECK_OK);
    sheet.islands = &layer->islands;
    assert_int_equal(domain_cut_out(&net, &sheet, scratch, &listed), NECK_OK);
    assert_cut_out(layer, &walked);
    assert_same_domains(&walked, &listed);
    arena_free(scratch);
}

/* Few islands (a table of numbers), many (an array), all, none. */
static void a_net_is_cut_out_alike_from_lists_and_mesh(void **state)
{
    (void)state;
    static const unsigned every[] = {150, 40, 9, 2, 1};
    struct layer layer = {0};
    layer_build(&layer, 2);
    cut_both_ways(&layer);
    for (size_t i = 0; i < sizeof every / sizeof *every; i++) {
        for (uint32_t c = 0; c < layer.mesh.component_count; c++)
            layer.has_component[c] = c % every[i] == every[i] / 2;
        cut_both_ways(&layer);
    }
    layer_free(&layer);
}

/* ---- dead ends ---- */

static struct neck_branch only_dead_end(struct world *world)
{
    struct neck_branch *branches;
    size_t count;
    world_build(world);
    assert_int_equal(neck_dead_ends(&world->net, world->arena, &branches, &count), NECK_OK);
    assert_int_equal(count, 1);
    return branches[0];
}

static struct world *strip_between_terminals(void)
{
    struct world *world = world_new();
    uint32_t sheet = world_sheet(world, 0.035, 1);
    world_box(world, sheet, LOOP_ADDS, 0, 0, 20, 1);
    world_contact_box(world, sheet, 0, 0, 0, 1, 1);
    world_contact_box(world, sheet, 1, 19, 0, 20, 1);
    return world;
}

/* 5 mm of 0.5 mm wide copper: its area over its width is its length. */
static void a_stub_is_told_with_its_tip_and_length(void **state)
{
    (void)state;
    struct world *world = strip_between_terminals();
    world_box(world, 0, LOOP_ADDS, 10, 1, 10.5, 6);
    struct neck_branch branch = only_dead_end(world);
    assert_int_equal(branch.reason, BRANCH_LONG);
    assert_int_equal(branch.position, 1);
    assert_true(fabs(branch.width_mm - 0.5) < 0.06); /* the side may lie aslant */
    assert_true(fabs(branch.length_mm - 5) < 0.6);
    assert_int_equal(branch.end.y, 6000000);
    world_free(world);
}

static void a_stub_to_a_hole_is_told_with_the_hole(void **state)
{
    (void)state;
    struct world *world = strip_between_terminals();
    uint32_t below = world_sheet(world, 0.035, 1);
    world_box(world, 0, LOOP_ADDS, 10, 1, 11, 4);
    world_box(world, below, LOOP_ADDS, 9.5, 2.5, 11.5, 8);
    world_hole(world, 10.5, 3.4, 0.2, 0.01, ISTHMUS_NONE);
    struct neck_branch branch = only_dead_end(world);
    assert_int_equal(branch.reason, BRANCH_HOLE);
    assert_int_equal(branch.position, 1);
    assert_int_equal(branch.end.x, 10500000);
    assert_int_equal(branch.end.y, 3400000);
    world_free(world);
}

static void a_ring_of_copper_is_no_dead_end(void **state)
{
    (void)state;
    struct world *world = strip_between_terminals();
    struct neck_branch *branches;
    size_t count;
    world_box(world, 0, LOOP_ADDS, 5, 1, 6, 6);
    world_box(world, 0, LOOP_ADDS, 5, 5, 15, 6);
    world_box(world, 0, LOOP_ADDS, 14, 1, 15, 6);
    world_build(world);
    assert_int_equal(neck_dead_ends(&world->net, world->arena, &branches, &count), NECK_OK);
    assert_int_equal(count, 0);
    world_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lists_hold_each_copper_triangle_once),
        cmocka_unit_test(a_net_is_cut_out_alike_from_lists_and_mesh),
        cmocka_unit_test(a_stub_is_told_with_its_tip_and_length),
        cmocka_unit_test(a_stub_to_a_hole_is_told_with_the_hole),
        cmocka_unit_test(a_ring_of_copper_is_no_dead_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
