/* The set of indices that is searched from above, against a plain array, at sizes about its nodes'.
 */
#include "assertions.h"
#include "geometry/bittree.h"
#include "random.h"

static uint32_t below_slowly(const bool *is_in, uint32_t bound)
{
    while (bound-- > 0)
        if (is_in[bound])
            return bound;
    return ISTHMUS_NONE;
}

static void compare_at(uint32_t count, uint64_t seed)
{
    struct bittree tree;
    bool *is_in = calloc(count, sizeof *is_in);
    assert_non_null(is_in);
    assert_true(bittree_init(&tree, count));
    assert_int_equal(bittree_below(&tree, count), ISTHMUS_NONE);
    for (int i = 0; i < 400; i++) {
        uint32_t index = i < 4 ? count - 1 : (uint32_t)(next_random(&seed) % count);
        uint32_t bound = i % 3 ? count : (uint32_t)(next_random(&seed) % (count + UINT64_C(1)));
        is_in[index] = !is_in[index];
        if (is_in[index])
            bittree_set(&tree, index);
        else
            bittree_clear(&tree, index);
        assert_int_equal(bittree_below(&tree, bound), below_slowly(is_in, bound));
    }
    bittree_free(&tree);
    free(is_in);
}

static void it_finds_the_largest_below_any_bound(void **state)
{
    (void)state;
    const uint32_t counts[] = {1, 2, 63, 64, 65, 127, 128, 4095, 4096, 4097, 8192, 262143, 262144};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++)
        compare_at(counts[i], 7 + i);
}

/* Layers of any number of fills show their copper: one of 64 boxes, one of 4096. */
static void copper_shows_whatever_the_number_of_fills(void **state)
{
    (void)state;
    for (int32_t side = 1; side <= 64; side *= 8) {
        struct paint paint;
        struct sheet_mesh mesh;
        paint_init(&paint, (struct pos_nm){0, 0}, 500);
        for (int32_t i = 0; i < side * side; i++) {
            struct pos_nm at = {i % side * 2000, i / side * 2000};
            assert_int_equal(paint_add_slot(&paint, at, at, 1000, PAINT_DARK, (uint32_t)i, 0),
                             MESH_OK);
        }
        assert_int_equal(paint.fill_count, side * side);
        assert_int_equal(sheet_mesh_build(&paint, 0, NULL, NULL, &mesh), MESH_OK);
        assert_int_equal(mesh.component_count, side * side);
        sheet_mesh_free(&mesh);
        paint_free(&paint);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_finds_the_largest_below_any_bound),
        cmocka_unit_test(copper_shows_whatever_the_number_of_fills),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
