/* Paint and boundary meshes of small worlds, against areas worked out by hand. */
#include "assertions.h"
#include "isthmus/mesh.h"
#include "shapes.h"

#include <math.h>

#define PI 3.14159265358979323846
#define MM INT64_C(1000000)
#define CHORD_NM 500.0

struct world {
    struct shapes shapes;
    struct paint paint;
    struct sheet_mesh mesh;
};

static void paint_all(struct world *world)
{
    paint_init(&world->paint, (struct pos_nm){0, 0}, CHORD_NM);
    const struct drawing *drawing = &world->shapes.drawing;
    for (uint32_t i = 0; i < drawing->object_count; i++) {
        enum paint_effect effect = drawing->objects[i].is_dark ? PAINT_DARK : PAINT_CLEAR;
        assert_int_equal(paint_add_drawn(&world->paint, drawing, i, effect, i, 0), MESH_OK);
    }
}

static void build(struct world *world, double gap_close_nm)
{
    const char *why = NULL;
    assert_int_equal(sheet_mesh_build(&world->paint, gap_close_nm, NULL, NULL, &world->mesh),
                     MESH_OK);
    if (!sheet_mesh_check(&world->mesh, &why))
        fail_msg("%s", why);
    assert_true(world->mesh.drift_nm <= 0.7072);
}

static void end(struct world *world)
{
    sheet_mesh_free(&world->mesh);
    paint_free(&world->paint);
    shapes_free(&world->shapes);
}

static double copper_mm2(const struct sheet_mesh *mesh)
{
    double sum = 0;
    for (uint32_t i = 0; i < mesh->component_count; i++)
        sum += mesh->component_area_mm2[i];
    return sum;
}

/* Area of what carries a mark of this object. */
static double marked_mm2(const struct sheet_mesh *mesh, uint32_t object)
{
    double sum = 0;
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++) {
        const uint32_t *c = mesh->cdt.corner[t];
        struct pt a = mesh->cdt.points[c[0]], b = mesh->cdt.points[c[1]],
                  d = mesh->cdt.points[c[2]];
        if (mesh->mark[t] == object)
            sum += ((double)(b.x - a.x) * (d.y - a.y) - (double)(b.y - a.y) * (d.x - a.x)) / 2;
    }
    return sum * 1e-12;
}

static uint32_t component_at(const struct sheet_mesh *mesh, int64_t x, int64_t y)
{
    struct locator *locator = locator_new(&mesh->cdt);
    uint32_t tri = locator_find(locator, (struct pt){(int32_t)x, (int32_t)y});
    locator_free(locator);
    assert_true(tri != ISTHMUS_NONE);
    return mesh->component[tri];
}

/* A chord with sagitta s cuts (2/3) chord x sagitta from a circle: at most (4/3) pi r s in all. */
static double circle_loss_mm2(double diameter_mm)
{
    return 2.0 / 3 * PI * diameter_mm * (CHORD_NM * 1e-6) + PI * diameter_mm * 1e-6;
}

static void nothing_painted_is_bare(void **state)
{
    (void)state;
    struct world world = {0};
    paint_all(&world);
    build(&world, 0);
    assert_int_equal(world.mesh.component_count, 0);
    assert_int_equal(world.mesh.bound_count, 0);
    assert_int_equal(component_at(&world.mesh, 5, 5), ISTHMUS_NONE);
    end(&world);
}

static void a_box_is_its_area(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, -MM, -2 * MM, 3 * MM, 5 * MM);
    paint_all(&world);
    build(&world, 0);
    assert_int_equal(world.mesh.component_count, 1);
    assert_int_equal(world.mesh.bound_count, 4);
    assert_near(world.mesh.component_area_mm2[0], 15, 1e-12);
    assert_int_equal(component_at(&world.mesh, 0, 0), 0);
    assert_int_equal(component_at(&world.mesh, 3 * MM, 0), ISTHMUS_NONE);
    end(&world);
}

static void a_disc_is_never_larger_than_it_is(void **state)
{
    (void)state;
    for (int64_t diameter = 50000; diameter < 20 * MM; diameter = diameter * 7 / 4) {
        struct world world = {0};
        shapes_disc(&world.shapes, true, 12345, -777, diameter);
        paint_all(&world);
        build(&world, 0);
        double d = (double)diameter * 1e-6, true_mm2 = PI * d * d / 4;
        /* rounding moves vertices by half a nanometre either way at random */
        assert_true(copper_mm2(&world.mesh) < true_mm2);
        assert_near(copper_mm2(&world.mesh), true_mm2, circle_loss_mm2(d));
        end(&world);
    }
}

/* Strokes about one point, in all directions: their round ends share vertices, so nothing crosses
 * but the sides. */
static void round_ends_about_one_point_share_their_vertices(void **state)
{
    (void)state;
    struct world world = {0};
    for (int i = 0; i < 7; i++)
        shapes_stroke(&world.shapes, true, 0, 0, llround(3e6 * cos(i * 0.9)),
                      llround(3e6 * sin(i * 0.9)), MM / 5);
    paint_all(&world);
    build(&world, 0);
    assert_int_equal(world.mesh.component_count, 1);
    /* neighbouring strokes' sides cross once, and each side runs out of at most some ends' chords:
     * two arcs of 180 degrees out of step would cross some 15 times a pair */
    assert_true(world.mesh.crossing_count < 7 * 12);
    end(&world);
}

static void a_cleared_disc_is_never_smaller_than_it_is(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, -10 * MM, -10 * MM, 20 * MM, 20 * MM);
    shapes_disc(&world.shapes, false, 0, 0, 6 * MM);
    paint_all(&world);
    build(&world, 0);
    double true_mm2 = 400 - PI * 9;
    assert_true(copper_mm2(&world.mesh) < true_mm2);
    assert_near(copper_mm2(&world.mesh), true_mm2, circle_loss_mm2(6));
    assert_int_equal(component_at(&world.mesh, 0, 0), ISTHMUS_NONE);
    end(&world);
}

static void a_ring_is_never_larger_than_it_is(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_ring(&world.shapes, true, 0, 0, 6 * MM, 4 * MM);
    paint_all(&world);
    build(&world, 0);
    double true_mm2 = PI * (9 - 4);
    assert_true(copper_mm2(&world.mesh) < true_mm2);
    assert_near(copper_mm2(&world.mesh), true_mm2, circle_loss_mm2(6) + circle_loss_mm2(4));
    assert_int_equal(component_at(&world.mesh, 0, 0), ISTHMUS_NONE);
    end(&world);
}

/* The same ring with both contours the other way round, and with the hole's contour first. */
static void a_ring_may_be_drawn_any_way_round(void **state)
{
    (void)state;
    for (int way = 0; way < 4; way++) {
        struct world world = {0};
        int turn = way & 1 ? -1 : 1;
        int64_t first = way & 2 ? MM : 3 * MM, second = way & 2 ? 3 * MM : MM;
        shapes_object(&world.shapes, OBJECT_FLASH, true);
        shapes_fill(&world.shapes, true);
        shapes_start(&world.shapes, first, 0);
        shapes_arc(&world.shapes, turn, first, 0, 0, 0);
        shapes_start(&world.shapes, second, 0);
        shapes_arc(&world.shapes, -turn, second, 0, 0, 0);
        paint_all(&world);
        build(&world, 0);
        assert_true(copper_mm2(&world.mesh) < PI * 8);
        assert_near(copper_mm2(&world.mesh), PI * 8, circle_loss_mm2(6) + circle_loss_mm2(2));
        end(&world);
    }
}

static void an_arc_stroke_is_never_larger_than_it_is(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_arc_stroke(&world.shapes, true, 0, 0, 5 * MM, 0.3, 2.1, MM);
    paint_all(&world);
    build(&world, 0);
    double true_mm2 = 1.8 * 5 * 1 + PI / 4;
    assert_true(copper_mm2(&world.mesh) < true_mm2);
    assert_near(copper_mm2(&world.mesh), true_mm2, circle_loss_mm2(11) + circle_loss_mm2(1));
    end(&world);
}

/* An arc whose radius grows from 1 to 2 mm over half a turn: r = 1 + a / pi, closed by a line. */
static void a_spiral_keeps_its_radii(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_object(&world.shapes, OBJECT_REGION, true);
    shapes_fill(&world.shapes, true);
    shapes_start(&world.shapes, MM, 0);
    shapes_arc(&world.shapes, 1, -2 * MM, 0, 0, 0);
    shapes_line(&world.shapes, MM, 0);
    paint_all(&world);
    build(&world, 0);
    /* integral of r^2 / 2 over 0 .. pi = pi/2 (1 + 1 + 1/3) = 7 pi / 6 */
    assert_near(copper_mm2(&world.mesh), 7 * PI / 6, 0.003);
    end(&world);
}

static void the_last_object_decides(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, 0, 0, 10 * MM, 10 * MM);
    shapes_box(&world.shapes, false, 2 * MM, 2 * MM, 6 * MM, 6 * MM);
    shapes_box(&world.shapes, true, 4 * MM, 4 * MM, 2 * MM, 2 * MM);
    shapes_box(&world.shapes, false, 0, 9 * MM, 10 * MM, MM);
    paint_all(&world);
    build(&world, 0);
    assert_int_equal(world.mesh.component_count, 2);
    assert_near(copper_mm2(&world.mesh), 90 - 36 + 4, 1e-12);
    assert_int_equal(component_at(&world.mesh, 3 * MM, 3 * MM), ISTHMUS_NONE);
    assert_true(component_at(&world.mesh, 5 * MM, 5 * MM) != component_at(&world.mesh, MM, MM));
    /* outer ring: shows object 0; inner box: object 2 */
    assert_int_equal(world.mesh.show_count, 2);
    for (size_t i = 0; i < 2; i++) {
        uint32_t inner = component_at(&world.mesh, 5 * MM, 5 * MM);
        assert_int_equal(world.mesh.shows[i].object,
                         world.mesh.shows[i].component == inner ? 2 : 0);
    }
    end(&world);
}

static void a_fill_that_erases_spares_other_objects(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, -MM, -MM / 20, 2 * MM, MM / 10);
    shapes_macro(&world.shapes, true, 0, 0, 10 * MM);
    paint_all(&world);
    build(&world, 0);
    /* two caps (the bar is 2 mm of the 10 mm disc), the inner disc 3 mm and the box through it:
     * the disc reaches into the caps, so all is one island */
    assert_int_equal(world.mesh.component_count, 1);
    assert_true(component_at(&world.mesh, MM * 9 / 10, 0) != ISTHMUS_NONE);
    assert_int_equal(component_at(&world.mesh, 2 * MM, 0), ISTHMUS_NONE);
    /* two segments of r = 5 at distance 1, and the part of the disc r = 1.5 within |y| < 1 */
    double caps = 2 * (25 * acos(0.2) - sqrt(24.0));
    double middle = PI * 2.25 - 2 * (2.25 * acos(1 / 1.5) - sqrt(1.25));
    assert_near(copper_mm2(&world.mesh), caps + middle, circle_loss_mm2(10) + circle_loss_mm2(3));
    end(&world);
}

static void boxes_that_touch_at_a_corner_are_two_islands(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, 0, 0, MM, MM);
    shapes_box(&world.shapes, true, MM, MM, MM, MM);
    shapes_box(&world.shapes, true, 5 * MM, 0, MM, MM);
    shapes_box(&world.shapes, true, 6 * MM, 0, MM, MM);
    paint_all(&world);
    build(&world, 0);
    assert_int_equal(world.mesh.component_count, 3);
    assert_int_equal(world.mesh.bound_count, 4 + 4 + 6); /* abutting: corners in between stay */
    end(&world);
}

/* A region with a cut-in: the coincident edges vanish. */
static void a_cut_in_is_no_bound(void **state)
{
    (void)state;
    struct world world = {0};
    const int64_t xy[] = {0,      0,      8 * MM, 0,      8 * MM, 4 * MM, 6 * MM, 4 * MM,
                          6 * MM, 2 * MM, 2 * MM, 2 * MM, 2 * MM, 6 * MM, 6 * MM, 6 * MM,
                          6 * MM, 4 * MM, 8 * MM, 4 * MM, 8 * MM, 8 * MM, 0,      8 * MM};
    shapes_polygon(&world.shapes, true, xy, 12);
    paint_all(&world);
    build(&world, 0);
    assert_near(copper_mm2(&world.mesh), 64 - 16, 1e-12);
    assert_int_equal(component_at(&world.mesh, 4 * MM, 4 * MM), ISTHMUS_NONE);
    assert_int_equal(component_at(&world.mesh, 7 * MM, 4 * MM), 0);
    for (uint32_t t = 0; t < world.mesh.cdt.tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            struct pt a = world.mesh.cdt.points[world.mesh.cdt.corner[t][(i + 1) % 3]];
            struct pt b = world.mesh.cdt.points[world.mesh.cdt.corner[t][(i + 2) % 3]];
            if (world.mesh.cdt.chain[t][i] != ISTHMUS_NONE)
                assert_false(a.y == 4 * MM && b.y == 4 * MM);
        }
    end(&world);
}

static void a_profile_leaves_its_inside_without_cut_outs(void **state)
{
    (void)state;
    for (int way = 0; way < 8; way++) {
        struct world world = {0};
        shapes_object(&world.shapes, OBJECT_REGION, true);
        shapes_fill(&world.shapes, true);
        int turn = way & 1 ? 1 : -1, hole_turn = way & 2 ? 1 : -1;
        shapes_start(&world.shapes, 5 * MM, 0); /* the board: a disc of 10 mm */
        shapes_arc(&world.shapes, turn, 5 * MM, 0, 0, 0);
        shapes_start(&world.shapes, 2 * MM, 0); /* a cut-out of 4 mm */
        shapes_arc(&world.shapes, hole_turn, 2 * MM, 0, 0, 0);
        if (way & 4) { /* the outline once more */
            shapes_start(&world.shapes, 5 * MM, 0);
            shapes_arc(&world.shapes, turn, 5 * MM, 0, 0, 0);
        }
        struct shapes copper = {0};
        shapes_box(&copper, true, -20 * MM, -20 * MM, 40 * MM, 40 * MM);
        paint_init(&world.paint, (struct pos_nm){0, 0}, CHORD_NM);
        assert_int_equal(paint_add_drawn(&world.paint, &copper.drawing, 0, PAINT_DARK, 0, 0),
                         MESH_OK);
        const struct drawing *drawing = &world.shapes.drawing;
        assert_int_equal(paint_add_contours(&world.paint, drawing->contours, drawing->contour_count,
                                            drawing->segs, true, PAINT_CLEAR, 0, 3),
                         MESH_OK);
        build(&world, 0);
        double true_mm2 = PI * (25 - 4);
        assert_true(copper_mm2(&world.mesh) < true_mm2);
        assert_near(copper_mm2(&world.mesh), true_mm2, circle_loss_mm2(10) + circle_loss_mm2(4));
        assert_int_equal(component_at(&world.mesh, 0, 0), ISTHMUS_NONE);
        assert_int_equal(component_at(&world.mesh, 500 * MM, 0), ISTHMUS_NONE);
        shapes_free(&copper);
        end(&world);
    }
}

static void marks_name_parts_of_the_copper(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, 0, 0, 10 * MM, 4 * MM);
    paint_all(&world);
    assert_int_equal(paint_add_slot(&world.paint, (struct pos_nm){2 * MM, 2 * MM},
                                    (struct pos_nm){2 * MM, 2 * MM}, 2 * MM, PAINT_MARK, 0, 4),
                     MESH_OK);
    /* half of this one hangs over the edge; it lies on the first one's right part too */
    assert_int_equal(paint_add_slot(&world.paint, (struct pos_nm){10 * MM, 2 * MM},
                                    (struct pos_nm){10 * MM, 2 * MM}, 2 * MM, PAINT_MARK, 1, 4),
                     MESH_OK);
    build(&world, 0);
    assert_int_equal(world.mesh.component_count, 1);
    assert_near(copper_mm2(&world.mesh), 40, 1e-9);
    assert_near(marked_mm2(&world.mesh, 1), PI, circle_loss_mm2(2));
    assert_near(marked_mm2(&world.mesh, 2), PI / 2, circle_loss_mm2(2));
    unsigned outlines = 0, edges = 0;
    for (uint32_t i = 0; i < world.mesh.bound_count; i++) {
        outlines += world.mesh.bounds[i].object == 1;
        edges += world.mesh.bounds[i].object == 0;
        const struct curve *curve = &world.paint.curves[world.mesh.bounds[i].curve];
        if (world.mesh.bounds[i].object == 0)
            assert_int_equal(curve->turn, 0);
        else
            assert_near(curve->radius, 1e6, 1e-6);
    }
    assert_true(outlines >= 8);
    assert_true(edges >= 4 && edges <= 6);
    end(&world);
}

static void a_slot_is_its_area(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, -10 * MM, -10 * MM, 20 * MM, 20 * MM);
    paint_all(&world);
    assert_int_equal(paint_add_slot(&world.paint, (struct pos_nm){-3 * MM, -4 * MM},
                                    (struct pos_nm){3 * MM, 4 * MM}, MM, PAINT_CLEAR, 0, 2),
                     MESH_OK);
    build(&world, 0);
    double true_mm2 = 400 - 10 - PI / 4;
    assert_true(copper_mm2(&world.mesh) < true_mm2);
    assert_near(copper_mm2(&world.mesh), true_mm2, circle_loss_mm2(1) + 1e-5);
    for (uint32_t i = 0; i < world.mesh.bound_count; i++)
        assert_true(world.mesh.bounds[i].object <= 1);
    end(&world);
}

static void the_origin_is_taken_off(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, 2000 * MM, -3000 * MM, MM, MM);
    paint_init(&world.paint, (struct pos_nm){2000 * MM, -3000 * MM}, CHORD_NM);
    assert_int_equal(paint_add_drawn(&world.paint, &world.shapes.drawing, 0, PAINT_DARK, 0, 0),
                     MESH_OK);
    build(&world, 0);
    assert_near(copper_mm2(&world.mesh), 1, 1e-12);
    end(&world);
}

static void what_is_too_far_is_refused(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, 0, 0, 600 * MM, MM);
    shapes_disc(&world.shapes, true, 0, 0, 1075 * MM);
    paint_init(&world.paint, (struct pos_nm){0, 0}, CHORD_NM);
    for (uint32_t i = 0; i < 2; i++)
        assert_int_equal(paint_add_drawn(&world.paint, &world.shapes.drawing, i, PAINT_CLEAR, 0, 0),
                         MESH_TOO_LARGE);
    assert_int_equal(world.paint.object_count, 0);
    assert_int_equal(world.paint.edge_count, 0);
    end(&world);
}

/* ---- gaps ---- */

static void a_narrow_gap_is_closed_and_a_wide_one_is_not(void **state)
{
    (void)state;
    for (int64_t gap = 990; gap <= 1010; gap += 20)
        for (int slant = 0; slant < 2; slant++) {
            struct world world = {0};
            int64_t lean = slant ? MM / 3 : 0; /* the gap runs along a slanted line */
            const int64_t left[] = {-5 * MM, 0, 0, 0, lean, 3 * MM, -5 * MM, 3 * MM};
            const int64_t right[] = {gap, 0, 5 * MM, 0, 5 * MM, 3 * MM, lean + gap, 3 * MM};
            shapes_polygon(&world.shapes, true, left, 4);
            shapes_polygon(&world.shapes, true, right, 4);
            paint_all(&world);
            double across = slant ? 0.9938837346736189 : 1; /* cos atan(1/9) */
            build(&world, 1000 * across);
            assert_int_equal(world.mesh.component_count, gap < 1000 ? 1 : 2);
            if (gap < 1000) {
                assert_int_equal(world.mesh.closed_gap_count[0], 1);
                assert_int_equal(world.mesh.show_count, 2);
                assert_near(copper_mm2(&world.mesh), 30, 2e-7);
            } else {
                assert_int_equal(world.mesh.closed_gap_count[0], 0);
                assert_near(copper_mm2(&world.mesh), 30 - 3 * 1.010e-3, 1e-6);
            }
            end(&world);
        }
}

/* A wedge-shaped gap from 0.2 to 4.2 um over 4 mm is closed up to where it is 1 um wide. */
static void a_widening_gap_is_closed_as_far_as_it_is_narrow(void **state)
{
    (void)state;
    struct world world = {0};
    const int64_t lower[] = {0, -MM, 4 * MM, -MM, 4 * MM, 0, 0, 0};
    const int64_t upper[] = {0, 200, 4 * MM, 4200, 4 * MM, MM, 0, MM};
    shapes_polygon(&world.shapes, true, lower, 4);
    shapes_polygon(&world.shapes, true, upper, 4);
    paint_all(&world);
    build(&world, 1000);
    assert_int_equal(world.mesh.component_count, 1);
    assert_int_equal(world.mesh.closed_gap_count[0], 1);
    /* boxes 4 + (0.9998 + 0.9958) / 2 * 4 mm2, patch 0.8 mm x (0.2 + 1) / 2 um */
    assert_near(copper_mm2(&world.mesh), 4 + 3.9912 + 0.8 * 0.6e-3, 3e-6);
    end(&world);
}

/* The point of a square 0.5 um from a straight side: only what is near the point is filled. */
static void a_point_near_a_side_is_joined_to_it(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, -5 * MM, -MM, 10 * MM, MM);
    const int64_t xy[] = {0, 500, MM, MM + 500, 0, 2 * MM + 500, -MM, MM + 500};
    shapes_polygon(&world.shapes, true, xy, 4);
    paint_all(&world);
    build(&world, 1000);
    assert_int_equal(world.mesh.component_count, 1);
    /* twice a quadrilateral 0.5 um high at the point, less than 1 um wide and high */
    assert_true(copper_mm2(&world.mesh) > 12);
    assert_true(copper_mm2(&world.mesh) < 12 + 2.1e-6);
    end(&world);
}

static bool never(uint32_t object_a, uint32_t object_b, void *context)
{
    (void)context;
    assert_true(object_a < 2 && object_b < 2);
    return false;
}

static void gaps_between_objects_that_may_not_join_stay(void **state)
{
    (void)state;
    struct world world = {0};
    shapes_box(&world.shapes, true, 0, 0, MM, MM);
    shapes_box(&world.shapes, true, MM + 300, 0, MM, MM);
    paint_all(&world);
    assert_int_equal(sheet_mesh_build(&world.paint, 1000, never, NULL, &world.mesh), MESH_OK);
    assert_int_equal(world.mesh.component_count, 2);
    end(&world);
}

/* Abutting strokes of a painted area with 0.4 um between them, round ends and all; marks stay. */
static void a_painted_area_with_gaps_becomes_whole(void **state)
{
    (void)state;
    struct world world = {0};
    for (int i = 0; i < 20; i++)
        shapes_stroke(&world.shapes, true, 0, i * 200400, 10 * MM, i * 200400, 200000);
    shapes_box(&world.shapes, true, -2 * MM, 0, 2 * MM, 19 * 200400);
    paint_all(&world);
    assert_int_equal(paint_add_slot(&world.paint, (struct pos_nm){2 * MM, 2 * MM},
                                    (struct pos_nm){2 * MM, 2 * MM}, MM, PAINT_MARK, 7, 4),
                     MESH_OK);
    build(&world, 1000);
    assert_int_equal(world.mesh.component_count, 1);
    assert_int_equal(world.mesh.show_count, 21);
    assert_int_equal(world.mesh.closed_gap_count[0], 19);
    assert_near(marked_mm2(&world.mesh, 21), PI / 4, circle_loss_mm2(1) + 5 * 0.4e-3);
    for (int i = 0; i < 19; i++)
        assert_int_equal(component_at(&world.mesh, 5 * MM, i * 200400 + 100200), 0);
    for (uint32_t i = 0; i < world.mesh.bound_count; i++)
        assert_true(world.mesh.bounds[i].object <= 21);
    end(&world);
}

static void running_out_of_memory_is_an_error(void **state)
{
    (void)state;
    struct world world = {0};
    for (int i = 0; i < 12; i++)
        shapes_stroke(&world.shapes, i % 3 != 0, i * MM, 0, (12 - i) * MM, 5 * MM, 2 * MM);
    shapes_box(&world.shapes, true, 30 * MM, 0, MM, MM);
    shapes_box(&world.shapes, true, 31 * MM + 300, 0, MM, MM);
    enum mesh_status status = MESH_NO_MEMORY;
    for (uint64_t nth = 1; status != MESH_OK; nth++) {
        const struct drawing *drawing = &world.shapes.drawing;
        paint_init(&world.paint, (struct pos_nm){0, 0}, 20 * CHORD_NM);
        arena_fail_at(nth);
        status = MESH_OK;
        for (uint32_t i = 0; i < drawing->object_count && status == MESH_OK; i++)
            status = paint_add_drawn(&world.paint, drawing, i,
                                     drawing->objects[i].is_dark ? PAINT_DARK : PAINT_CLEAR, i, 0);
        if (status == MESH_OK)
            status = sheet_mesh_build(&world.paint, 1000, NULL, NULL, &world.mesh);
        arena_fail_at(0);
        assert_true(status == MESH_OK || status == MESH_NO_MEMORY);
        assert_true(nth < 10000);
        sheet_mesh_free(&world.mesh);
        paint_free(&world.paint);
    }
    end(&world);
}

/* Pads alike have the same area to the last digit, however each was divided. */
static void congruent_islands_have_one_area(void **state)
{
    (void)state;
    struct paint paint;
    struct sheet_mesh mesh;
    paint_init(&paint, (struct pos_nm){0, 0}, 500);
    for (int32_t i = 0; i < 100; i++) {
        struct pos_nm from = {i % 10 * 3000003 - 13000000, i / 10 * 5000011 - 20000000};
        struct pos_nm to = {from.x_nm + 1234567, from.y_nm + 765432};
        assert_int_equal(paint_add_slot(&paint, from, to, 1000000, PAINT_DARK, (uint32_t)i, 0),
                         MESH_OK);
    }
    assert_int_equal(sheet_mesh_build(&paint, 0, NULL, NULL, &mesh), MESH_OK);
    assert_int_equal(mesh.component_count, 100);
    for (uint32_t i = 1; i < 100; i++)
        assert_memory_equal(&mesh.component_area_mm2[i], &mesh.component_area_mm2[0],
                            sizeof(double));
    sheet_mesh_free(&mesh);
    paint_free(&paint);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_painted_is_bare),
        cmocka_unit_test(a_box_is_its_area),
        cmocka_unit_test(a_disc_is_never_larger_than_it_is),
        cmocka_unit_test(round_ends_about_one_point_share_their_vertices),
        cmocka_unit_test(a_cleared_disc_is_never_smaller_than_it_is),
        cmocka_unit_test(a_ring_is_never_larger_than_it_is),
        cmocka_unit_test(a_ring_may_be_drawn_any_way_round),
        cmocka_unit_test(an_arc_stroke_is_never_larger_than_it_is),
        cmocka_unit_test(a_spiral_keeps_its_radii),
        cmocka_unit_test(the_last_object_decides),
        cmocka_unit_test(a_fill_that_erases_spares_other_objects),
        cmocka_unit_test(boxes_that_touch_at_a_corner_are_two_islands),
        cmocka_unit_test(a_cut_in_is_no_bound),
        cmocka_unit_test(a_profile_leaves_its_inside_without_cut_outs),
        cmocka_unit_test(marks_name_parts_of_the_copper),
        cmocka_unit_test(a_slot_is_its_area),
        cmocka_unit_test(the_origin_is_taken_off),
        cmocka_unit_test(what_is_too_far_is_refused),
        cmocka_unit_test(a_narrow_gap_is_closed_and_a_wide_one_is_not),
        cmocka_unit_test(a_widening_gap_is_closed_as_far_as_it_is_narrow),
        cmocka_unit_test(a_point_near_a_side_is_joined_to_it),
        cmocka_unit_test(gaps_between_objects_that_may_not_join_stay),
        cmocka_unit_test(a_painted_area_with_gaps_becomes_whole),
        cmocka_unit_test(running_out_of_memory_is_an_error),
        cmocka_unit_test(congruent_islands_have_one_area),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
