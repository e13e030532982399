/* Shortest gaps between parts of copper: small shapes by hand, random ones against all pairs. */
#include "assertions.h"
#include "isthmus/mesh.h"

#include <math.h>

#define MM 1000000

struct parts {
    struct part_edge edges[4096];
    size_t edge_count;
    uint32_t part_count;
    struct part_gap gaps[512];
    size_t gap_count;
};

static void add_box(struct parts *parts, uint16_t layer, int32_t x, int32_t y, int32_t w, int32_t h)
{
    const struct pt at[4] = {{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}};
    for (unsigned i = 0; i < 4; i++)
        parts->edges[parts->edge_count++] =
            (struct part_edge){at[i], at[(i + 1) % 4], parts->part_count, layer};
}

static void find(struct parts *parts)
{
    assert_int_equal(part_gaps(parts->edges, parts->edge_count, parts->part_count, parts->gaps,
                               &parts->gap_count),
                     MESH_OK);
}

static void two_boxes_come_nearest_between_their_sides(void **state)
{
    (void)state;
    static struct parts parts;
    parts = (struct parts){0};
    add_box(&parts, 1, 0, 0, 10 * MM, 10 * MM);
    parts.part_count++;
    add_box(&parts, 1, 13 * MM, 14 * MM, 5 * MM, 5 * MM);
    parts.part_count++;
    find(&parts);
    assert_int_equal(parts.gap_count, 1);
    assert_near(parts.gaps[0].length_nm, 5 * MM, 0); /* 3, 4, 5 */
    bool is_first = parts.gaps[0].part_from == 0;
    struct pt on_first = is_first ? parts.gaps[0].from : parts.gaps[0].to;
    struct pt on_second = is_first ? parts.gaps[0].to : parts.gaps[0].from;
    assert_int_equal(on_first.x, 10 * MM);
    assert_int_equal(on_first.y, 10 * MM);
    assert_int_equal(on_second.x, 13 * MM);
    assert_int_equal(on_second.y, 14 * MM);
}

static void one_layer_comes_before_the_way_through_the_board(void **state)
{
    (void)state;
    static struct parts parts;
    parts = (struct parts){0};
    add_box(&parts, 1, 0, 0, 10 * MM, 10 * MM);
    add_box(&parts, 2, 0, 0, 20 * MM, 10 * MM);
    parts.part_count++;
    add_box(&parts, 1, 18 * MM, 0, 10 * MM, 10 * MM);
    parts.part_count++;
    find(&parts);
    assert_int_equal(parts.gap_count, 1);
    assert_near(parts.gaps[0].length_nm, 8 * MM, 0);
    assert_int_equal(parts.gaps[0].layer_from, 1);
    assert_int_equal(parts.gaps[0].layer_to, 1);
}

static void parts_without_a_common_layer_are_seen_from_above(void **state)
{
    (void)state;
    static struct parts parts;
    parts = (struct parts){0};
    add_box(&parts, 1, 0, 0, 10 * MM, 10 * MM);
    parts.part_count++;
    add_box(&parts, 4, 8 * MM, 2 * MM, 10 * MM, 4 * MM);
    parts.part_count++;
    find(&parts);
    assert_int_equal(parts.gap_count, 1);
    assert_near(parts.gaps[0].length_nm, 0, 0); /* their outlines cross */
    assert_int_equal(parts.gaps[0].layer_from + parts.gaps[0].layer_to, 5);
}

/* ---- against all pairs ---- */

static uint64_t random_state;
static int32_t random_below(int32_t limit)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (int32_t)((random_state >> 33) % (uint64_t)limit);
}

static double spread(int32_t a, int32_t a_size, int32_t b, int32_t b_size)
{
    return fmax(0, fmax((double)b - a - a_size, (double)a - b - b_size));
}

/* Boxes that do not overlap, so their distance is known; Prim's tree over all pairs. */
static void a_random_tree_is_as_short_as_prims(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        static struct parts parts;
        parts = (struct parts){0};
        random_state = seed;
        int32_t box[200][4];
        uint32_t count = 2 + (uint32_t)random_below(120);
        for (uint32_t i = 0; i < count; i++) { /* one in each field of a raster of 10 mm */
            box[i][2] = MM / 10 + random_below(7 * MM);
            box[i][3] = MM / 10 + random_below(7 * MM);
            box[i][0] = (int32_t)(i % 12) * 10 * MM + random_below(10 * MM - box[i][2] - 1);
            box[i][1] = (int32_t)(i / 12) * 10 * MM + random_below(10 * MM - box[i][3] - 1);
            add_box(&parts, 1, box[i][0], box[i][1], box[i][2], box[i][3]);
            parts.part_count++;
        }
        double prim_nm = 0, found_nm = 0, near[200];
        for (uint32_t i = 0; i < count; i++)
            near[i] = INFINITY;
        for (uint32_t n = 0, last = 0; n + 1 < count; n++) {
            uint32_t next = 0;
            near[last] = -1;
            for (uint32_t i = 0; i < count; i++)
                if (near[i] >= 0) {
                    near[i] = fmin(near[i],
                                   hypot(spread(box[i][0], box[i][2], box[last][0], box[last][2]),
                                         spread(box[i][1], box[i][3], box[last][1], box[last][3])));
                    if (near[next] < 0 || near[i] < near[next])
                        next = i;
                }
            prim_nm += near[next];
            last = next;
        }
        find(&parts);
        assert_int_equal(parts.gap_count, count - 1);
        for (size_t i = 0; i < parts.gap_count; i++)
            found_nm += parts.gaps[i].length_nm;
        assert_near(found_nm, prim_nm, 1e-3 * count);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_boxes_come_nearest_between_their_sides),
        cmocka_unit_test(one_layer_comes_before_the_way_through_the_board),
        cmocka_unit_test(parts_without_a_common_layer_are_seen_from_above),
        cmocka_unit_test(a_random_tree_is_as_short_as_prims),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
