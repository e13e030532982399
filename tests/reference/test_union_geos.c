/*
 * Boundary meshes of random layers against GEOS (Geometry Engine, Open Source; overlay of the same
 * flattened polygons in floating point): area, islands, which place belongs to which island.
 */
#include "assertions.h"
#include "isthmus/mesh.h"
#include "polygons.h"
#include "random_layer.h"

#include <math.h>

#define MM INT64_C(1000000)
/* Below this an island may come or go by the rounding of its corners to whole nanometres. */
#define SMALLEST_MM2 1e-7

struct world {
    struct shapes shapes;
    struct paint paint;
    struct sheet_mesh mesh;
    GEOSContextHandle_t geos;
    GEOSGeometry *copper;
};

static void make_world(struct world *world, const struct random_layer *layer, double chord_nm)
{
    const char *why = NULL;
    *world = (struct world){.geos = GEOS_init_r()};
    random_layer_draw(layer, &world->shapes);
    paint_init(&world->paint, (struct pos_nm){0, 0}, chord_nm);
    const struct drawing *drawing = &world->shapes.drawing;
    for (uint32_t i = 0; i < drawing->object_count; i++)
        assert_int_equal(paint_add_drawn(&world->paint, drawing, i,
                                         drawing->objects[i].is_dark ? PAINT_DARK : PAINT_CLEAR, i,
                                         0),
                         MESH_OK);
    assert_int_equal(sheet_mesh_build(&world->paint, 0, NULL, NULL, &world->mesh), MESH_OK);
    if (!sheet_mesh_check(&world->mesh, &why))
        fail_msg("%s", why);
    assert_true(world->mesh.drift_nm > 0 && world->mesh.drift_nm < 0.7072);
    world->copper =
        polygons_unite(world->geos, &world->paint, polygons_of_objects(world->geos, &world->paint));
}

static void end_world(struct world *world)
{
    GEOSGeom_destroy_r(world->geos, world->copper);
    GEOS_finish_r(world->geos);
    sheet_mesh_free(&world->mesh);
    paint_free(&world->paint);
    shapes_free(&world->shapes);
}

static double area_mm2(GEOSContextHandle_t geos, const GEOSGeometry *geometry)
{
    double area = 0;
    assert_int_equal(GEOSArea_r(geos, geometry, &area), 1);
    return area * 1e-12;
}

static void assert_same_area(const struct world *world)
{
    double ours = 0, theirs = area_mm2(world->geos, world->copper);
    for (uint32_t i = 0; i < world->mesh.component_count; i++)
        ours += world->mesh.component_area_mm2[i];
    assert_near(ours / theirs, 1, 1e-7);
}

/* A point inside a polygon, to the nearest nanometre. */
static struct pt point_inside(const struct world *world, const GEOSGeometry *polygon)
{
    double x = 0, y = 0;
    GEOSGeometry *point = GEOSPointOnSurface_r(world->geos, polygon);
    assert_non_null(point);
    assert_int_equal(GEOSGeomGetX_r(world->geos, point, &x), 1);
    assert_int_equal(GEOSGeomGetY_r(world->geos, point, &y), 1);
    GEOSGeom_destroy_r(world->geos, point);
    return (struct pt){(int32_t)lround(x), (int32_t)lround(y)};
}

/* Every polygon lies in an island of its own, of its area. */
static void assert_same_islands(const struct world *world)
{
    const struct sheet_mesh *mesh = &world->mesh;
    bool *is_met = calloc(mesh->component_count, sizeof *is_met);
    struct locator *locator = locator_new(&mesh->cdt);
    int count = GEOSGetNumGeometries_r(world->geos, world->copper);
    for (int i = 0; i < count; i++) {
        const GEOSGeometry *polygon = GEOSGetGeometryN_r(world->geos, world->copper, i);
        double area = area_mm2(world->geos, polygon), perimeter = 0;
        if (area < SMALLEST_MM2)
            continue;
        GEOSLength_r(world->geos, polygon, &perimeter);
        uint32_t island = mesh->component[locator_find(locator, point_inside(world, polygon))];
        assert_true(island < mesh->component_count);
        assert_false(is_met[island]);
        is_met[island] = true;
        /* each edge's ends move by at most 0.71 nm */
        assert_near(mesh->component_area_mm2[island], area, 0.7072 * perimeter * 1e-12);
    }
    for (uint32_t i = 0; i < mesh->component_count; i++)
        assert_true(is_met[i] || mesh->component_area_mm2[i] < 2 * SMALLEST_MM2);
    locator_free(locator);
    free(is_met);
}

static void compare(const struct random_layer *layer, double chord_nm)
{
    struct world world;
    make_world(&world, layer, chord_nm);
    assert_same_area(&world);
    assert_same_islands(&world);
    end_world(&world);
}

static void small_layers_of_one_polarity(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 6; seed++)
        compare(&(struct random_layer){seed, 200, 20 * MM, 1, MM, 0}, 2000);
}

static void small_layers_of_both_polarities(void **state)
{
    (void)state;
    for (uint64_t seed = 11; seed <= 16; seed++)
        compare(&(struct random_layer){seed, 300, 20 * MM, 1, MM, 3}, 2000);
}

/* Places on a lattice: edges abut, coincide and touch. */
static void layers_on_a_lattice(void **state)
{
    (void)state;
    for (uint64_t seed = 21; seed <= 26; seed++)
        compare(&(struct random_layer){seed, 300, 15 * MM, MM / 4, MM, 3}, 2000);
}

static void a_crowded_layer(void **state)
{
    (void)state;
    compare(&(struct random_layer){31, 1000, 7 * MM, 1, MM / 2, 2}, 5000);
}

static void tens_of_thousands_of_objects(void **state)
{
    (void)state;
    compare(&(struct random_layer){41, 20000, 150 * MM, 1, MM / 2, 3}, 20000);
}

struct shared {
    const struct sheet_mesh *over, *under;
    double area_mm2;
};

static bool is_copper(uint32_t tri, void *context)
{
    return ((const struct shared *)context)->over->component[tri] != ISTHMUS_NONE;
}

static bool add_shared(uint32_t over, uint32_t under, double area_nm2, void *context)
{
    struct shared *shared = context;
    (void)over;
    if (shared->under->component[under] != ISTHMUS_NONE)
        shared->area_mm2 += area_nm2 * 1e-12;
    return true;
}

/* One layer laid over another, against GEOS's intersection of the two. */
static void what_two_layers_share(void **state)
{
    (void)state;
    for (uint64_t seed = 51; seed <= 56; seed++) {
        struct world over, under;
        bool is_on_lattice = seed % 2;
        make_world(&over,
                   &(struct random_layer){seed, 60, 20 * MM, is_on_lattice ? MM / 4 : 1, MM, 0},
                   2000);
        make_world(
            &under,
            &(struct random_layer){seed + 10, 300, 15 * MM, is_on_lattice ? MM / 4 : 1, MM, 3},
            2000);
        struct shared shared = {&over.mesh, &under.mesh, 0};
        struct locator *locator = locator_new(&under.mesh.cdt);
        assert_int_equal(sheet_overlaps(&over.mesh.cdt, is_copper, &under.mesh.cdt, locator,
                                        add_shared, &shared),
                         MESH_OK);
        GEOSGeometry *common = GEOSIntersection_r(over.geos, over.copper, under.copper);
        assert_non_null(common);
        double theirs = area_mm2(over.geos, common);
        assert_true(theirs > 1); /* there is something to compare */
        assert_near(shared.area_mm2 / theirs, 1, 1e-6);
        GEOSGeom_destroy_r(over.geos, common);
        locator_free(locator);
        end_world(&over);
        end_world(&under);
    }
}

/* A triangle within, across a corner, beside, and the same: worked out by hand. */
static void what_two_triangles_share(void **state)
{
    (void)state;
    const struct pt big[3] = {{0, 0}, {40, 0}, {0, 40}}, within[3] = {{1, 1}, {5, 1}, {1, 5}},
                    across[3] = {{-10, -10}, {10, -10}, {10, 10}},
                    beside[3] = {{40, 0}, {50, 0}, {40, 9}};
    assert_near(tri_overlap_nm2(big, big), 800, 1e-9);
    assert_near(tri_overlap_nm2(big, within), 8, 1e-9);
    assert_near(tri_overlap_nm2(within, big), 8, 1e-9);
    assert_near(tri_overlap_nm2(big, across), 50, 1e-9);
    assert_near(tri_overlap_nm2(beside, big), 0, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(small_layers_of_one_polarity),
        cmocka_unit_test(small_layers_of_both_polarities),
        cmocka_unit_test(layers_on_a_lattice),
        cmocka_unit_test(a_crowded_layer),
        cmocka_unit_test(tens_of_thousands_of_objects),
        cmocka_unit_test(what_two_layers_share),
        cmocka_unit_test(what_two_triangles_share),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
