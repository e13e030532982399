#include "assertions.h"
#include "isthmus/base.h"

static void sha256_is_the_published_one(void **state)
{
    (void)state;
    /* FIPS 180-4 example "abc", from memory. */
    struct file_table files = {0};
    assert_int_equal(file_table_add(&files, "abc", (const uint8_t *)"abc", 3, true), 1);
    assert_string_equal(files.files[0].sha256,
                        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    file_table_free(&files);
}

static void a_place_is_counted_in_lines_and_bytes(void **state)
{
    (void)state;
    const char *text = "a\r\nbb\nccc\rd";
    struct source_pos at = source_locate(1, (const uint8_t *)text, strlen(text), 4);
    assert_int_equal(at.line, 2);
    assert_int_equal(at.column, 2);
    at = source_locate(1, (const uint8_t *)text, strlen(text), 10);
    assert_int_equal(at.line, 4);
    assert_int_equal(at.column, 1);
}

static void repeated_diagnostics_are_counted_not_kept(void **state)
{
    (void)state;
    struct arena *arena = arena_new("test");
    struct diag_list diags = {.arena = arena};
    for (int i = 0; i < 50; i++)
        diag_add(&diags, DIAG_WARNING, "again", (struct source_pos){1, 1, 1}, NULL, "n %d", i);
    diag_add(&diags, DIAG_ERROR, "other", (struct source_pos){1, 1, 1}, "do this", "x");
    assert_int_equal(diags.count, 21);
    assert_int_equal(diags.items[0].suppressed_count, 30);
    assert_int_equal(diags.warning_count, 50);
    assert_true(diag_has_errors(&diags));
    arena_free(arena);
}

static void an_allocation_can_be_made_to_fail(void **state)
{
    (void)state;
    struct arena *arena = arena_new("test");
    arena_fail_at(2);
    assert_non_null(arena_alloc(arena, 1, 8));
    assert_null(arena_alloc(arena, 1, 8));
    assert_non_null(arena_alloc(arena, 1, 8));
    assert_null(arena_alloc(arena, SIZE_MAX / 4, 16));
    arena_free(arena);
}

static void an_arena_takes_over_blocks(void **state)
{
    (void)state;
    /* AddressSanitizer tells when they are lost or freed twice. */
    struct arena *arena = arena_new("test");
    int *items = NULL;
    size_t capacity = 0;
    assert_true(array_grow(&items, sizeof *items, &capacity, 1000));
    assert_true(arena_adopt(arena, items, 4000));
    assert_true(arena_used(arena) >= 4000);
    arena_reset(arena);
    assert_int_equal(arena_used(arena), 0);
    assert_true(arena_adopt(arena, malloc(10), 10));
    void *mine = malloc(10);
    arena_fail_at(1);
    assert_false(arena_adopt(arena, mine, 10));
    free(mine);
    arena_free(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sha256_is_the_published_one),
        cmocka_unit_test(a_place_is_counted_in_lines_and_bytes),
        cmocka_unit_test(repeated_diagnostics_are_counted_not_kept),
        cmocka_unit_test(an_allocation_can_be_made_to_fail),
        cmocka_unit_test(an_arena_takes_over_blocks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
