/* Snap rounding against its definition, worked out pair by pair and pixel by pixel. */
#include "assertions.h"
#include "isthmus/mesh.h"

#include <math.h>

static uint64_t next_random(uint64_t *state)
{
    *state = *state * 6364136223846793005U + 1442695040888963407U;
    return *state >> 33;
}

static int32_t random_below(uint64_t *state, int32_t limit)
{
    return (int32_t)(next_random(state) % (uint64_t)limit);
}

static bool same(struct pt a, struct pt b)
{
    return a.x == b.x && a.y == b.y;
}

struct pt_list {
    struct pt *items;
    size_t count, capacity;
};

static void add_distinct(struct pt_list *list, struct pt at)
{
    for (size_t i = 0; i < list->count; i++)
        if (same(list->items[i], at))
            return;
    assert_true(array_grow(&list->items, sizeof at, &list->capacity, list->count + 1));
    list->items[list->count++] = at;
}

static int64_t floor_div(int64_t top, int64_t bottom)
{
    int64_t quotient = top / bottom;
    return quotient - (top % bottom != 0 && (top < 0) != (bottom < 0));
}

/* The crossing by Cramer's rule; coordinates of at most 2^15, so that int64_t is exact. */
static bool crossing(const struct cdt_edge *e, const struct cdt_edge *f, struct pt *out)
{
    int64_t ex = e->b.x - e->a.x, ey = e->b.y - e->a.y, fx = f->b.x - f->a.x, fy = f->b.y - f->a.y;
    int64_t den = ex * fy - ey * fx;
    int64_t wx = f->a.x - e->a.x, wy = f->a.y - e->a.y;
    int64_t s = wx * fy - wy * fx, t = wx * ey - wy * ex;
    if (den < 0) {
        den = -den;
        s = -s;
        t = -t;
    }
    if (den == 0 || s <= 0 || s >= den || t <= 0 || t >= den)
        return false;
    out->x = e->a.x + (int32_t)floor_div(2 * ex * s + den, 2 * den);
    out->y = e->a.y + (int32_t)floor_div(2 * ey * s + den, 2 * den);
    return true;
}

/* The parameters t of a + t (b - a), as fractions, in [low, high) along one axis. */
struct range {
    int64_t from, from_den, to, to_den;
    bool from_open, to_open;
};

static bool is_less(int64_t a, int64_t a_den, int64_t b, int64_t b_den)
{
    return a * b_den < b * a_den;
}

static void raise_from(struct range *range, int64_t at, int64_t den, bool is_open)
{
    if (is_less(range->from, range->from_den, at, den))
        *range = (struct range){at, den, range->to, range->to_den, is_open, range->to_open};
    else if (!is_less(at, den, range->from, range->from_den))
        range->from_open |= is_open;
}

static void lower_to(struct range *range, int64_t at, int64_t den, bool is_open)
{
    if (is_less(at, den, range->to, range->to_den))
        *range = (struct range){range->from, range->from_den, at, den, range->from_open, is_open};
    else if (!is_less(range->to, range->to_den, at, den))
        range->to_open |= is_open;
}

/* Doubled coordinates: low = 2 c - 1 (held), high = 2 c + 1 (not held). */
static bool clip_axis(struct range *range, int64_t a, int64_t run, int64_t centre)
{
    int64_t low = 2 * centre - 1 - 2 * a, high = 2 * centre + 1 - 2 * a;
    if (run == 0)
        return low <= 0 && 0 < high;
    if (run > 0) {
        raise_from(range, low, 2 * run, false);
        lower_to(range, high, 2 * run, true);
    } else {
        raise_from(range, -high, -2 * run, true);
        lower_to(range, -low, -2 * run, false);
    }
    return true;
}

static bool meets(const struct cdt_edge *e, struct pt at, double *where)
{
    struct range range = {0, 1, 1, 1, false, false};
    if (!clip_axis(&range, e->a.x, e->b.x - e->a.x, at.x) ||
        !clip_axis(&range, e->a.y, e->b.y - e->a.y, at.y))
        return false;
    *where =
        ((double)range.from / (double)range.from_den + (double)range.to / (double)range.to_den) / 2;
    if (is_less(range.from, range.from_den, range.to, range.to_den))
        return true;
    return !is_less(range.to, range.to_den, range.from, range.from_den) && !range.from_open &&
           !range.to_open;
}

static void find_hot(const struct cdt_edge *edges, size_t count, struct pt_list *hot)
{
    for (size_t i = 0; i < count; i++) {
        if (same(edges[i].a, edges[i].b))
            continue;
        add_distinct(hot, edges[i].a);
        add_distinct(hot, edges[i].b);
        struct pt at;
        for (size_t j = 0; j < i; j++)
            if (crossing(&edges[i], &edges[j], &at))
                add_distinct(hot, at);
    }
}

struct met {
    double where;
    struct pt at;
};

static int by_where(const void *a, const void *b)
{
    const struct met *p = a, *q = b;
    return (p->where > q->where) - (p->where < q->where);
}

/* The chain of one source by definition. */
static size_t chain_of(const struct cdt_edge *edge, const struct pt_list *hot, struct met *chain)
{
    size_t count = 0;
    for (size_t i = 0; i < hot->count; i++)
        if (meets(edge, hot->items[i], &chain[count].where))
            chain[count++].at = hot->items[i];
    qsort(chain, count, sizeof *chain, by_where);
    return count;
}

static double distance_to(const struct cdt_edge *edge, struct pt at)
{
    double run = edge->b.x - edge->a.x, rise = edge->b.y - edge->a.y;
    double t = ((at.x - edge->a.x) * run + (at.y - edge->a.y) * rise) / (run * run + rise * rise);
    t = fmin(1, fmax(0, t));
    return hypot(edge->a.x + t * run - at.x, edge->a.y + t * rise - at.y);
}

static void assert_chains(const struct cdt_edge *edges, size_t count, const struct pt_list *hot,
                          const struct snap_result *result)
{
    size_t *next = calloc(count + 1, sizeof *next);
    struct met *chain = malloc((hot->count + 1) * sizeof *chain);
    size_t total = 0;
    for (size_t i = 0; i < count; i++) {
        if (same(edges[i].a, edges[i].b))
            continue;
        size_t length = chain_of(&edges[i], hot, chain), found = 0;
        assert_true(length >= 2);
        for (size_t p = 0; p < result->piece_count; p++) {
            if (result->pieces[p].tag != i)
                continue;
            assert_true(found + 1 < length);
            assert_true(same(result->pieces[p].a, chain[found].at));
            assert_true(same(result->pieces[p].b, chain[found + 1].at));
            assert_true(distance_to(&edges[i], result->pieces[p].a) <= 0.7072);
            found++;
        }
        assert_int_equal(found, length - 1);
        total += found;
    }
    assert_int_equal(total, result->piece_count);
    free(chain);
    free(next);
}

/* No two pieces cross: the triangulation takes every one of them. */
static void assert_disjoint(const struct snap_result *result)
{
    struct cdt mesh;
    const char *why = NULL;
    assert_int_equal(cdt_build(result->pieces, result->piece_count, true, &mesh), MESH_OK);
    if (!cdt_check(&mesh, &why))
        fail_msg("%s", why);
    cdt_free(&mesh);
    struct pt at;
    for (size_t i = 0; i < result->piece_count && result->piece_count < 1500; i++)
        for (size_t j = 0; j < i; j++)
            assert_false(crossing(&result->pieces[i], &result->pieces[j], &at));
}

static void assert_snaps(const struct cdt_edge *edges, size_t count)
{
    struct snap_result result;
    struct pt_list hot = {0};
    assert_int_equal(snap_round(edges, count, &result), MESH_OK);
    find_hot(edges, count, &hot);
    assert_chains(edges, count, &hot, &result);
    assert_disjoint(&result);
    free(hot.items);
    free(result.pieces);
}

static void random_segments_in_a_tiny_box(void **state)
{
    (void)state;
    struct cdt_edge edges[60];
    uint64_t seed = 1;
    for (int round = 0; round < 400; round++) {
        int32_t size = 4 + round % 37;
        size_t count = 2 + (size_t)round % 45;
        for (size_t i = 0; i < count; i++)
            edges[i] =
                (struct cdt_edge){{random_below(&seed, size) - 7, random_below(&seed, size) - 7},
                                  {random_below(&seed, size) - 7, random_below(&seed, size) - 7},
                                  0};
        assert_snaps(edges, count);
    }
}

/* One edge far away makes the grid so coarse that all the others lie in one cell of it. */
static void a_crowd_beside_something_far_away(void **state)
{
    (void)state;
    struct cdt_edge edges[80];
    uint64_t seed = 12;
    for (int round = 0; round < 30; round++) {
        for (size_t i = 0; i < 80; i++)
            edges[i] = (struct cdt_edge){{random_below(&seed, 300), random_below(&seed, 300)},
                                         {random_below(&seed, 300), random_below(&seed, 300)},
                                         0};
        edges[79] = (struct cdt_edge){{500000000, 500000000}, {500000000, 499999990}, 0};
        assert_snaps(edges, 80);
    }
}

static void nearly_parallel_edges(void **state)
{
    (void)state;
    struct cdt_edge edges[40];
    uint64_t seed = 2;
    for (int round = 0; round < 60; round++) {
        for (size_t i = 0; i < 40; i++) {
            struct pt a = {random_below(&seed, 3), random_below(&seed, 4)};
            struct pt b = {6000 + random_below(&seed, 3), 37 * round + random_below(&seed, 4)};
            edges[i] = i % 2 ? (struct cdt_edge){a, b, 0} : (struct cdt_edge){b, a, 0};
        }
        assert_snaps(edges, 40);
    }
}

static void edges_on_one_line_and_the_same_edge_again(void **state)
{
    (void)state;
    struct cdt_edge edges[60];
    uint64_t seed = 4;
    for (int round = 0; round < 40; round++) {
        int32_t step_x = random_below(&seed, 5), step_y = random_below(&seed, 5) - 2;
        for (size_t i = 0; i < 60; i++) {
            int32_t from = random_below(&seed, 30), to = random_below(&seed, 30);
            edges[i] =
                (struct cdt_edge){{from * step_x, from * step_y}, {to * step_x, to * step_y}, 0};
            if (i % 7 == 0)
                edges[i] = (struct cdt_edge){{random_below(&seed, 99), random_below(&seed, 50)},
                                             {random_below(&seed, 99), -40},
                                             0};
            if (i % 5 == 4)
                edges[i] = edges[i - 4];
        }
        assert_snaps(edges, 60);
    }
}

static void a_star_of_spikes(void **state)
{
    (void)state;
    struct cdt_edge edges[240];
    for (int i = 0; i < 240; i++) {
        double angle = i * 0.026179938779914944;
        struct pt tip = {(int32_t)lround(9000 * cos(angle)), (int32_t)lround(9000 * sin(angle))};
        struct pt base = {(int32_t)lround(3 * cos(angle + 3)), (int32_t)lround(3 * sin(angle + 3))};
        edges[i] = (struct cdt_edge){tip, base, 0};
    }
    assert_snaps(edges, 240);
}

/* Large coordinates, many segments: no definition to compare with, but no two pieces cross. */
static void a_full_size_tangle(void **state)
{
    (void)state;
    enum { COUNT = 1200 };
    struct cdt_edge *edges = malloc(COUNT * sizeof *edges);
    uint64_t seed = 6;
    for (int i = 0; i < COUNT; i++) {
        int32_t reach = i % 3 == 0 ? 900000000 : 30000000;
        struct pt a = {random_below(&seed, 1000000000) - 500000000,
                       random_below(&seed, 1000000000) - 500000000};
        struct pt b = {a.x + random_below(&seed, reach) - reach / 2,
                       a.y + random_below(&seed, reach) - reach / 2};
        b.x = b.x > 530000000 ? 530000000 : b.x < -530000000 ? -530000000 : b.x;
        b.y = b.y > 530000000 ? 530000000 : b.y < -530000000 ? -530000000 : b.y;
        edges[i] = (struct cdt_edge){a, b, 0};
    }
    struct snap_result result;
    assert_int_equal(snap_round(edges, COUNT, &result), MESH_OK);
    assert_true(result.crossing_count > 2000);
    assert_disjoint(&result);
    free(result.pieces);
    free(edges);
}

static void thousands_of_coincident_edges(void **state)
{
    (void)state;
    enum { COUNT = 20000 };
    struct cdt_edge *edges = malloc(COUNT * sizeof *edges);
    for (int i = 0; i < COUNT; i++) {
        struct pt a = {0, 0}, b = {100000, 33333};
        edges[i] = i % 4 ? (struct cdt_edge){a, b, 0} : (struct cdt_edge){b, a, 0};
    }
    edges[7] = (struct cdt_edge){{0, 33333}, {100000, 0}, 0};
    struct snap_result result;
    assert_int_equal(snap_round(edges, COUNT, &result), MESH_OK);
    assert_int_equal(result.crossing_count, 1);
    assert_int_equal(result.piece_count, 2 * COUNT);
    free(result.pieces);
    free(edges);
}

static void nothing_snaps_to_nothing(void **state)
{
    (void)state;
    struct snap_result result;
    assert_int_equal(snap_round(NULL, 0, &result), MESH_OK);
    assert_int_equal(result.piece_count, 0);
    free(result.pieces);
    const struct cdt_edge point = {{3, 4}, {3, 4}, 0};
    assert_int_equal(snap_round(&point, 1, &result), MESH_OK);
    assert_int_equal(result.piece_count, 0);
    free(result.pieces);
}

static void running_out_of_memory_is_an_error(void **state)
{
    (void)state;
    struct cdt_edge edges[50];
    uint64_t seed = 8;
    for (int i = 0; i < 50; i++)
        edges[i] = (struct cdt_edge){{random_below(&seed, 90), random_below(&seed, 90)},
                                     {random_below(&seed, 90), random_below(&seed, 90)},
                                     0};
    enum mesh_status status = MESH_NO_MEMORY;
    for (uint64_t nth = 1; status != MESH_OK; nth++) {
        struct snap_result result;
        arena_fail_at(nth);
        status = snap_round(edges, 50, &result);
        arena_fail_at(0);
        assert_true(status == MESH_OK || status == MESH_NO_MEMORY);
        assert_true(nth < 1000);
        free(result.pieces);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_segments_in_a_tiny_box),
        cmocka_unit_test(a_crowd_beside_something_far_away),
        cmocka_unit_test(nearly_parallel_edges),
        cmocka_unit_test(edges_on_one_line_and_the_same_edge_again),
        cmocka_unit_test(a_star_of_spikes),
        cmocka_unit_test(a_full_size_tangle),
        cmocka_unit_test(thousands_of_coincident_edges),
        cmocka_unit_test(nothing_snaps_to_nothing),
        cmocka_unit_test(running_out_of_memory_is_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
