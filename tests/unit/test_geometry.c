/* Predicates, triangulations and the locator, against definitions worked out the slow way. */
#include "assertions.h"
#include "geometry/internal.h"

static uint64_t next_random(uint64_t *state)
{
    *state = *state * 6364136223846793005U + 1442695040888963407U;
    return *state >> 33;
}

static int32_t random_below(uint64_t *state, int32_t limit)
{
    return (int32_t)(next_random(state) % (uint64_t)limit);
}

static void assert_valid(const struct cdt *mesh)
{
    const char *why = NULL;
    if (!cdt_check(mesh, &why))
        fail_msg("%s", why);
}

/* How many triangle sides lie on the edge a-b and carry exactly this constraint. */
static unsigned sides_with(const struct cdt *mesh, const struct cdt_edge *edge, uint32_t index)
{
    unsigned found = 0;
    for (uint32_t t = 0; t < mesh->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            struct pt a = mesh->points[mesh->corner[t][(i + 1) % 3]];
            struct pt b = mesh->points[mesh->corner[t][(i + 2) % 3]];
            bool is_same = (!memcmp(&a, &edge->a, sizeof a) && !memcmp(&b, &edge->b, sizeof b)) ||
                           (!memcmp(&a, &edge->b, sizeof a) && !memcmp(&b, &edge->a, sizeof b));
            found += is_same && mesh->chain[t][i] == index;
        }
    return found;
}

static void orientation_is_exact_at_the_bound(void **state)
{
    (void)state;
    const int32_t far = MESH_COORD_LIMIT;
    struct pt a = {-far, -far}, b = {far, far}, c = {0, 0}, d = {0, 1};
    assert_int_equal(orient(a, b, c), 0);
    assert_int_equal(orient(a, b, d), 1);
    assert_int_equal(orient(b, a, d), -1);
    assert_true(distance2(a, b) == INT64_C(1) << 61);
    assert_true(dot(c, (struct pt){3, 4}, (struct pt){-4, 3}) == 0);
}

static void in_circle_is_exact_at_the_bound(void **state)
{
    (void)state;
    const int32_t far = MESH_COORD_LIMIT;
    struct pt a = {-far, -far}, b = {far, -far}, c = {far, far};
    assert_int_equal(in_circle(a, b, c, (struct pt){-far, far}), 0);
    assert_int_equal(in_circle(a, b, c, (struct pt){-far + 1, far}), 1);
    assert_int_equal(in_circle(a, b, c, (struct pt){-far + 1, far - 1}), 1);
    /* 20^2 + 15^2 = 25^2 = 7^2 + 24^2: four points of one circle about a far centre */
    struct pt o = {far - 30, -far + 30};
    struct pt p[4] = {{o.x + 25, o.y}, {o.x + 7, o.y + 24}, {o.x - 20, o.y + 15}, {o.x, o.y - 25}};
    assert_int_equal(in_circle(p[0], p[1], p[2], p[3]), 0);
    assert_int_equal(in_circle(p[0], p[1], p[2], (struct pt){o.x, o.y - 26}), -1);
}

static void no_edges_make_no_triangles(void **state)
{
    (void)state;
    struct cdt mesh;
    assert_int_equal(cdt_build(NULL, 0, false, &mesh), MESH_OK);
    assert_int_equal(mesh.tri_count, 0);
    cdt_free(&mesh);
    assert_int_equal(cdt_build(NULL, 0, true, &mesh), MESH_OK);
    assert_int_equal(mesh.tri_count, 2);
    assert_valid(&mesh);
    cdt_free(&mesh);
}

static void points_on_a_line_make_no_triangles(void **state)
{
    (void)state;
    struct cdt_edge edges[5];
    for (int i = 0; i < 5; i++)
        edges[i] = (struct cdt_edge){{i * 7, i * 3}, {i * 7 + 7, i * 3 + 3}, 0};
    struct cdt mesh;
    assert_int_equal(cdt_build(edges, 5, false, &mesh), MESH_OK);
    assert_int_equal(mesh.tri_count, 0);
    assert_int_equal(mesh.point_count, 6);
    cdt_free(&mesh);
    assert_int_equal(cdt_build(edges, 5, true, &mesh), MESH_OK);
    assert_valid(&mesh);
    for (uint32_t i = 0; i < 5; i++)
        assert_int_equal(sides_with(&mesh, &edges[i], i), 2);
    cdt_free(&mesh);
}

static void crossing_constraints_are_refused(void **state)
{
    (void)state;
    const struct cdt_edge edges[] = {{{0, 0}, {10, 10}, 0}, {{0, 10}, {10, 0}, 0}};
    struct cdt mesh;
    assert_int_equal(cdt_build(edges, 2, false, &mesh), MESH_BUG);
    assert_int_equal(cdt_build(edges, 2, true, &mesh), MESH_BUG);
}

static void what_is_too_far_is_refused(void **state)
{
    (void)state;
    const struct cdt_edge edge = {{0, 0}, {MESH_COORD_LIMIT, 1}, 0};
    struct cdt mesh;
    assert_int_equal(cdt_build(&edge, 1, false, &mesh), MESH_TOO_LARGE);
}

static void coinciding_constraints_keep_the_smallest_index(void **state)
{
    (void)state;
    const struct cdt_edge edges[] = {{{5, 5}, {0, 9}, 0},
                                     {{0, 0}, {10, 10}, 0},
                                     {{10, 10}, {0, 0}, 0},
                                     {{0, 0}, {10, 10}, 0},
                                     {{5, 5}, {5, 5}, 0}};
    struct cdt mesh;
    assert_int_equal(cdt_build(edges, 5, true, &mesh), MESH_OK);
    assert_valid(&mesh);
    /* (5, 5) lies on constraint 1, which therefore is two edges */
    const struct cdt_edge half[2] = {{{0, 0}, {5, 5}, 0}, {{5, 5}, {10, 10}, 0}};
    assert_int_equal(sides_with(&mesh, &half[0], 1), 2);
    assert_int_equal(sides_with(&mesh, &half[1], 1), 2);
    cdt_free(&mesh);
}

static void a_lattice_is_triangulated(void **state)
{
    (void)state;
    /* every square's corners lie on one circle: all ties */
    struct cdt_edge edges[40 * 40];
    for (int i = 0; i < 1600; i++)
        edges[i] = (struct cdt_edge){{i % 40, i / 40}, {i % 40, i / 40}, 0};
    for (int framed = 0; framed < 2; framed++) {
        struct cdt mesh;
        assert_int_equal(cdt_build(edges, 1600, framed, &mesh), MESH_OK);
        assert_valid(&mesh);
        if (!framed)
            assert_int_equal(mesh.tri_count, 2 * 39 * 39);
        cdt_free(&mesh);
    }
}

#define SIDE 12

/* Corners by value, the first in order first: equal triangulations list equal triangles. */
struct three {
    struct pt at[3];
};
static int compare_threes(const void *left, const void *right)
{
    return memcmp(left, right, sizeof(struct three));
}

static size_t list_threes(const struct cdt *mesh, struct three *out)
{
    for (uint32_t t = 0; t < mesh->tri_count; t++) {
        unsigned first = 0;
        for (unsigned i = 1; i < 3; i++)
            if (compare_pt(mesh->points[mesh->corner[t][i]], mesh->points[mesh->corner[t][first]]) <
                0)
                first = i;
        for (unsigned i = 0; i < 3; i++)
            out[t].at[i] = mesh->points[mesh->corner[t][(first + i) % 3]];
    }
    qsort(out, mesh->tri_count, sizeof *out, compare_threes);
    return mesh->tri_count;
}

/* A lattice and twelve points of one circle (15, 20, 25 and 7, 24, 25), two edges across; in an
 * order of its own for each seed, 0: as they come. */
static size_t build_shuffled(uint64_t seed, bool is_framed, struct three *out)
{
    static const struct pt on_circle[12] = {{25, 0},   {0, 25},  {-25, 0}, {0, -25},
                                            {7, 24},   {24, 7},  {-7, 24}, {-24, 7},
                                            {-7, -24}, {24, -7}, {15, 20}, {-20, -15}};
    const uint32_t count = SIDE * SIDE + 12;
    struct pt *points = malloc((count + 4) * sizeof *points);
    uint32_t place[SIDE * SIDE + 12];
    assert_non_null(points);
    for (uint32_t i = 0; i < count; i++)
        place[i] = i;
    for (uint32_t i = count - 1; seed && i > 0; i--) {
        uint32_t j = (uint32_t)random_below(&seed, (int32_t)i + 1), swap = place[i];
        place[i] = place[j];
        place[j] = swap;
    }
    for (uint32_t i = 0; i < count; i++)
        points[place[i]] =
            i < SIDE * SIDE ? (struct pt){100 + 10 * (int32_t)(i % SIDE), 10 * (int32_t)(i / SIDE)}
                            : on_circle[i - SIDE * SIDE];
    const struct id_edge edges[] = {{place[3], place[SIDE * SIDE - 2]},
                                    {place[SIDE * SIDE + 4], place[SIDE * SIDE + 9]}};
    struct cdt mesh;
    assert_int_equal(
        cdt_build_ids(points, count, &(struct id_edges){edges, sizeof *edges, 2}, is_framed, &mesh),
        MESH_OK);
    assert_valid(&mesh);
    size_t found = list_threes(&mesh, out);
    cdt_free(&mesh);
    return found;
}

static void the_order_of_insertion_does_not_show(void **state)
{
    (void)state;
    static struct three first[2][400], again[400];
    for (uint64_t seed = 0; seed < 40; seed++) {
        struct three *expected = first[seed & 1];
        size_t count = build_shuffled(seed, seed & 1, seed < 2 ? expected : again);
        if (seed >= 2)
            assert_memory_equal(expected, again, count * sizeof *again);
    }
}

static bool crosses(const struct cdt_edge *s, const struct cdt_edge *t)
{
    int a = orient(s->a, s->b, t->a), b = orient(s->a, s->b, t->b);
    int c = orient(t->a, t->b, s->a), d = orient(t->a, t->b, s->b);
    if (a == 0 && b == 0) /* on one line: refuse what overlaps */
        return dot(s->a, t->a, t->b) <= 0 || dot(s->b, t->a, t->b) <= 0 ||
               dot(t->a, s->a, s->b) <= 0;
    return a * b <= 0 && c * d <= 0 && !(a * b == 0 && c * d == 0);
}

/* Random edges in a box, each kept if it crosses and touches none before it. */
static size_t random_edges(uint64_t *seed, int32_t size, size_t tries, int32_t reach,
                           struct cdt_edge *edges)
{
    size_t count = 0;
    for (size_t i = 0; i < tries; i++) {
        struct cdt_edge edge = {.a = {random_below(seed, size), random_below(seed, size)}};
        edge.b.x = edge.a.x + random_below(seed, 2 * reach + 1) - reach;
        edge.b.y = edge.a.y + random_below(seed, 2 * reach + 1) - reach;
        bool is_free = true;
        for (size_t j = 0; j < count && is_free; j++)
            is_free = !crosses(&edge, &edges[j]);
        if (is_free)
            edges[count++] = edge;
    }
    return count;
}

static void random_constraints_all_appear(void **state)
{
    (void)state;
    static struct cdt_edge edges[400];
    uint64_t seed = 11;
    for (int round = 0; round < 120; round++) {
        int32_t size = round % 3 == 0 ? 30 : round % 3 == 1 ? 1000 : 300000000;
        int32_t reach = round % 2 ? size / 2 : size / 10;
        size_t count = random_edges(&seed, size, 300, reach, edges);
        struct cdt mesh;
        assert_int_equal(cdt_build(edges, count, round % 4 > 1, &mesh), MESH_OK);
        assert_valid(&mesh);
        for (uint32_t i = 0; i < count; i++) {
            struct pt a = edges[i].a, b = edges[i].b;
            if (a.x != b.x || a.y != b.y)
                assert_true(sides_with(&mesh, &edges[i], i) > 0);
        }
        cdt_free(&mesh);
    }
}

/* A long constraint between two rows of spikes crosses thousands of triangles, dead ends among
 * them. */
static void a_long_constraint_crosses_many_triangles(void **state)
{
    (void)state;
    static struct cdt_edge edges[4001];
    uint64_t seed = 5;
    for (int i = 0; i < 2000; i++) {
        int32_t up = 3 + random_below(&seed, 900), down = 3 + random_below(&seed, 900);
        edges[2 * i] = (struct cdt_edge){{i * 10 + 1, up}, {i * 10 + 3, up + 50}, 0};
        edges[2 * i + 1] = (struct cdt_edge){{i * 10 + 2, -down}, {i * 10 + 5, -1000}, 0};
    }
    edges[4000] = (struct cdt_edge){{-5, 0}, {20005, 0}, 0};
    struct cdt mesh;
    assert_int_equal(cdt_build(edges, 4001, true, &mesh), MESH_OK);
    assert_valid(&mesh);
    assert_int_equal(sides_with(&mesh, &edges[4000], 4000), 2);
    cdt_free(&mesh);
}

static bool holds(const struct cdt *mesh, uint32_t tri, struct pt at)
{
    const uint32_t *corner = mesh->corner[tri];
    for (unsigned i = 0; i < 3; i++)
        if (orient(mesh->points[corner[i]], mesh->points[corner[(i + 1) % 3]], at) < 0)
            return false;
    return true;
}

static bool is_anywhere(const struct cdt *mesh, struct pt at)
{
    for (uint32_t t = 0; t < mesh->tri_count; t++)
        if (holds(mesh, t, at))
            return true;
    return false;
}

static void the_locator_finds_every_point(void **state)
{
    (void)state;
    static struct cdt_edge edges[400];
    uint64_t seed = 3;
    for (int round = 0; round < 6; round++) {
        size_t count = random_edges(&seed, 2000, 300, 900, edges);
        struct cdt mesh;
        assert_int_equal(cdt_build(edges, count, round % 2, &mesh), MESH_OK);
        struct locator *locator = locator_new(&mesh);
        assert_non_null(locator);
        for (int i = 0; i < 1000; i++) {
            struct pt at = {random_below(&seed, 4000) - 1000, random_below(&seed, 4000) - 1000};
            uint32_t tri = locator_find(locator, at);
            if (tri == ISTHMUS_NONE)
                assert_false(is_anywhere(&mesh, at));
            else
                assert_true(holds(&mesh, tri, at));
        }
        locator_free(locator);
        cdt_free(&mesh);
    }
}

/* Fail the n-th allocation for every n: no leak (the address sanitizer sees), no crash. */
static void running_out_of_memory_is_an_error(void **state)
{
    (void)state;
    static struct cdt_edge edges[100];
    uint64_t seed = 9;
    size_t count = random_edges(&seed, 300, 100, 200, edges);
    enum mesh_status status = MESH_NO_MEMORY;
    for (uint64_t nth = 1; status != MESH_OK; nth++) {
        struct cdt mesh;
        arena_fail_at(nth);
        status = cdt_build(edges, count, true, &mesh);
        arena_fail_at(0);
        assert_true(status == MESH_OK || status == MESH_NO_MEMORY);
        assert_true(nth < 1000);
        cdt_free(&mesh);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(orientation_is_exact_at_the_bound),
        cmocka_unit_test(in_circle_is_exact_at_the_bound),
        cmocka_unit_test(no_edges_make_no_triangles),
        cmocka_unit_test(points_on_a_line_make_no_triangles),
        cmocka_unit_test(crossing_constraints_are_refused),
        cmocka_unit_test(what_is_too_far_is_refused),
        cmocka_unit_test(coinciding_constraints_keep_the_smallest_index),
        cmocka_unit_test(a_lattice_is_triangulated),
        cmocka_unit_test(the_order_of_insertion_does_not_show),
        cmocka_unit_test(random_constraints_all_appear),
        cmocka_unit_test(a_long_constraint_crosses_many_triangles),
        cmocka_unit_test(the_locator_finds_every_point),
        cmocka_unit_test(running_out_of_memory_is_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
