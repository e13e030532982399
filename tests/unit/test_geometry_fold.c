/*
 * Folding chains of outline: the boundary must be the very one that comes without it, point for
 * point and edge for edge; what was folded is held to its definition by looking at every pair.
 */
#include "assertions.h"
#include "geometry/fold.h"
#include "geometry/trim.h"
#include "random_layer.h"

#include <stdlib.h>
#include <string.h>

#define MM INT64_C(1000000)

struct world {
    struct shapes shapes;
    struct paint paint;
};

/* Some objects come twice, and some bear a mark of their own shape: chains that coincide. */
static void start(struct world *world, const struct random_layer *layer, double chord_nm)
{
    random_layer_draw(layer, &world->shapes);
    const struct drawing *drawing = &world->shapes.drawing;
    paint_init(&world->paint, (struct pos_nm){0, 0}, chord_nm);
    for (uint32_t i = 0; i < drawing->object_count; i++) {
        enum paint_effect effect = drawing->objects[i].is_dark ? PAINT_DARK : PAINT_CLEAR;
        for (int again = 0; again <= (i % 7 == 0); again++)
            assert_int_equal(paint_add_drawn(&world->paint, drawing, i, effect, i, 0), MESH_OK);
        world->paint.objects[world->paint.object_count - 1].alike = 0;
    }
    for (uint32_t i = 0; i < drawing->object_count; i += 3)
        if (drawing->objects[i].is_dark)
            assert_int_equal(paint_add_drawn(&world->paint, drawing, i, PAINT_MARK, i, 1), MESH_OK);
}

static void end(struct world *world)
{
    paint_free(&world->paint);
    shapes_free(&world->shapes);
}

/* The boundary by way of folding, or without it; the number of vertices that were hidden. */
static size_t make_boundary(const struct paint *paint, bool folds, struct boundary *out)
{
    struct paint copy;
    struct folds made = {0};
    struct image image;
    assert_int_equal(trim_paint(paint, &copy), MESH_OK);
    if (folds)
        assert_int_equal(fold_paint(&copy, &made), MESH_OK);
    assert_int_equal(image_build(&copy, &image), MESH_OK);
    struct box box = box_of_points(image.points, image.point_count);
    assert_int_equal(boundary_extract(&image, out), MESH_OK);
    assert_int_equal(unfold_boundary(&made, box, out), MESH_OK);
    size_t hidden = made.hidden_count;
    image_free(&image);
    trim_free(&copy);
    folds_free(&made);
    return hidden;
}

static int by_ends(const void *a, const void *b)
{
    const struct bound *p = a, *q = b;
    if (p->a != q->a)
        return p->a < q->a ? -1 : 1;
    return (p->b > q->b) - (p->b < q->b);
}

/* From the lesser point to the greater, in order of these. */
static void sort_bounds(struct boundary *boundary)
{
    for (size_t i = 0; i < boundary->bound_count; i++) {
        struct bound *bound = &boundary->bounds[i], turned = *bound;
        if (bound->a < bound->b)
            continue;
        turned.a = bound->b;
        turned.b = bound->a;
        turned.left = bound->right;
        turned.right = bound->left;
        *bound = turned;
    }
    if (boundary->bound_count)
        qsort(boundary->bounds, boundary->bound_count, sizeof *boundary->bounds, by_ends);
}

/* Islands may be numbered otherwise, but each must be one of the others. */
static void assert_same_label(struct label p, struct label q, uint32_t *island_of)
{
    assert_int_equal(p.mark, q.mark);
    assert_true((p.component == ISTHMUS_NONE) == (q.component == ISTHMUS_NONE));
    if (p.component == ISTHMUS_NONE)
        return;
    if (island_of[p.component] == ISTHMUS_NONE)
        island_of[p.component] = q.component;
    assert_int_equal(island_of[p.component], q.component);
}

static void assert_same_bounds(const struct boundary *p, const struct boundary *q)
{
    size_t bytes = (p->bound_count + 1) * sizeof(uint32_t);
    uint32_t *forth = malloc(bytes), *back = malloc(bytes);
    assert_true(forth && back);
    memset(forth, 0xff, bytes);
    memset(back, 0xff, bytes);
    for (size_t i = 0; i < p->bound_count; i++) {
        const struct bound *e = &p->bounds[i], *f = &q->bounds[i];
        assert_int_equal(e->a, f->a);
        assert_int_equal(e->b, f->b);
        assert_int_equal(e->object, f->object);
        assert_int_equal(e->curve, f->curve);
        assert_same_label(e->left, f->left, forth);
        assert_same_label(e->right, f->right, forth);
        assert_same_label(f->left, e->left, back);
        assert_same_label(f->right, e->right, back);
    }
    free(forth);
    free(back);
}

/* The share of the boundary's vertices that the image did not see. */
static double compare(const struct random_layer *layer, double chord_nm)
{
    struct world world = {0};
    struct boundary plain, folded;
    start(&world, layer, chord_nm);
    make_boundary(&world.paint, false, &plain);
    size_t hidden = make_boundary(&world.paint, true, &folded);
    assert_int_equal(plain.point_count, folded.point_count);
    assert_memory_equal(plain.points, folded.points, plain.point_count * sizeof *plain.points);
    assert_int_equal(plain.bound_count, folded.bound_count);
    sort_bounds(&plain);
    sort_bounds(&folded);
    assert_same_bounds(&plain, &folded);
    double share = (double)hidden / (double)plain.point_count;
    boundary_free(&plain);
    boundary_free(&folded);
    end(&world);
    return share;
}

static void the_boundary_is_the_same(void **state)
{
    (void)state;
    double share = 0;
    for (uint64_t seed = 1; seed <= 12; seed++)
        share +=
            compare(&(struct random_layer){seed, 150, 5 * MM, 1, 200000, (unsigned)seed % 3}, 500) /
            12;
    assert_true(share > 0.2); /* something was folded at all */
}

/* Edges of a few nanometres, where rounding joins what does not touch. */
static void the_boundary_is_the_same_among_pixels(void **state)
{
    (void)state;
    for (uint64_t seed = 21; seed <= 60; seed++)
        compare(
            &(struct random_layer){seed, 60, 800 + 40 * (int64_t)seed, 1, 90, (unsigned)seed % 4},
            0.4);
}

static void the_boundary_is_the_same_on_a_lattice(void **state)
{
    (void)state;
    for (uint64_t seed = 61; seed <= 70; seed++)
        compare(&(struct random_layer){seed, 100, 5 * MM, MM / 4, MM / 3, 3}, 800);
}

/* ---- what was folded, pair by pair ---- */

/* Twice the area between three points as a sign, with a margin of so much off the line p - q. */
static int side_of(struct pt p, struct pt q, struct pt at, double margin_nm)
{
    double run = (double)q.x - p.x, rise = (double)q.y - p.y;
    double off = (run * ((double)at.y - p.y) - rise * ((double)at.x - p.x)) /
                 __builtin_sqrt(run * run + rise * rise);
    return off > margin_nm ? 1 : off < -margin_nm ? -1 : 0;
}

/* Is some line through two of the points of a (or of b) a line that keeps them apart? */
static bool keep_apart(const struct pt *a, size_t a_count, const struct pt *b, size_t b_count)
{
    for (size_t i = 0; i < a_count; i++)
        for (size_t j = 0; j < a_count; j++) {
            if (i == j)
                continue;
            bool is_line = true;
            for (size_t k = 0; k < a_count && is_line; k++)
                is_line = side_of(a[i], a[j], a[k], 1e-3) <= 0;
            for (size_t k = 0; k < b_count && is_line; k++)
                is_line = side_of(a[i], a[j], b[k], 1) > 0;
            if (is_line)
                return true;
        }
    return false;
}

/* A disc close to another one, a stroke through a third: the arcs that face are left as they are.
 */
static void arcs_that_face_each_other_stay(void **state)
{
    (void)state;
    struct shapes shapes = {0};
    struct paint paint, copy;
    struct folds folds;
    shapes_disc(&shapes, true, 0, 0, 2 * MM);
    shapes_disc(&shapes, true, 2 * MM + 3000, 0, 2 * MM);
    shapes_disc(&shapes, true, 0, 5 * MM, 2 * MM);
    shapes_stroke(&shapes, true, 0, 5 * MM, 9 * MM, 5 * MM, MM / 5);
    paint_init(&paint, (struct pos_nm){0, 0}, 500);
    for (uint32_t i = 0; i < shapes.drawing.object_count; i++)
        assert_int_equal(paint_add_drawn(&paint, &shapes.drawing, i, PAINT_DARK, i, 0), MESH_OK);
    assert_int_equal(trim_paint(&paint, &copy), MESH_OK);
    assert_int_equal(fold_paint(&copy, &folds), MESH_OK);
    assert_true(folds.fold_count > 20);
    for (size_t f = 0; f < folds.fold_count; f++) {
        const struct pt *chain = folds.vertices + folds.folds[f].first_vertex;
        for (uint32_t i = 0; i < folds.folds[f].edge_count; i++) {
            assert_false(abs(chain[i].x - (int32_t)MM - 1500) < 3000 && abs(chain[i].y) < 50000);
            assert_false(chain[i].x > 0 && chain[i].x < 3 * MM && /* where the stroke leaves */
                         abs(chain[i].y - 5 * (int32_t)MM - (int32_t)MM / 10) < 10000);
        }
    }
    folds_free(&folds);
    trim_free(&copy);
    paint_free(&paint);
    shapes_free(&shapes);
}

struct hull {
    struct pt at[16];
    size_t count;
};

/* The chains' hulls and the other edges, each against each: apart, equal, or sharing an end. */
static void assert_apart(const struct hull *p, const struct hull *q)
{
    if (keep_apart(p->at, p->count, q->at, q->count) ||
        keep_apart(q->at, q->count, p->at, p->count))
        return;
    struct pt p_ends[2] = {p->at[0], p->at[p->count - 1]};
    struct pt q_ends[2] = {q->at[0], q->at[q->count - 1]};
    bool shares = false;
    for (unsigned i = 0; i < 4; i++)
        shares |= p_ends[i & 1].x == q_ends[i >> 1].x && p_ends[i & 1].y == q_ends[i >> 1].y;
    assert_true(shares);
}

static void chains_touch_nothing_but_at_their_ends(void **state)
{
    (void)state;
    struct world world = {0};
    struct paint copy;
    struct folds folds;
    start(&world, &(struct random_layer){71, 80, 4 * MM, 1, 200000, 3}, 2000);
    assert_int_equal(trim_paint(&world.paint, &copy), MESH_OK);
    assert_int_equal(fold_paint(&copy, &folds), MESH_OK);
    struct hull *hulls = calloc(copy.edge_count, sizeof *hulls);
    assert_non_null(hulls);
    for (size_t i = 0; i < copy.edge_count; i++) {
        const struct paint_edge *edge = &copy.edges[i];
        struct hull *hull = &hulls[i];
        hull->at[hull->count++] = edge->a;
        if (edge->curve & FOLDED) {
            const struct fold *fold = &folds.folds[edge->curve & ~FOLDED];
            for (uint32_t k = 1; k < fold->edge_count; k++)
                hull->at[hull->count++] = folds.vertices[fold->first_vertex + k];
        }
        hull->at[hull->count++] = edge->b;
    }
    assert_true(folds.fold_count > 50);
    for (size_t i = 0; i < copy.edge_count; i++)
        for (size_t j = 0; j < copy.edge_count; j++)
            if (j != i && hulls[i].count > 2)
                assert_apart(&hulls[i], &hulls[j]);
    free(hulls);
    folds_free(&folds);
    trim_free(&copy);
    end(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_boundary_is_the_same),
        cmocka_unit_test(the_boundary_is_the_same_among_pixels),
        cmocka_unit_test(the_boundary_is_the_same_on_a_lattice),
        cmocka_unit_test(arcs_that_face_each_other_stay),
        cmocka_unit_test(chains_touch_nothing_but_at_their_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
