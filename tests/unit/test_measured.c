#include "assertions.h"
#include "isthmus/measured.h"

#include <math.h>

struct table {
    struct arena *arena;
    struct diag_list diags;
    struct measured measured;
    enum measured_status status;
};

static struct table read_table(const char *text)
{
    struct table table = {.arena = arena_new("test")};
    table.diags.arena = table.arena;
    table.status = measured_read(1, (const uint8_t *)text, strlen(text), table.arena, &table.diags,
                                 &table.measured);
    return table;
}

static void a_row_becomes_a_reading(void **state)
{
    (void)state;
    struct table table = read_table("# bench, 12 May\r\n"
                                    "place,current_a,ambient_c,hot_c,hot_pm_k,note\r\n"
                                    "\r\n"
                                    "\"F1, left\",2000mA, 25 C ,304.45K,2,\"say \"\"hot\"\"\"\r\n");
    assert_int_equal(table.status, MEASURED_OK);
    assert_int_equal(table.measured.count, 1);
    const struct reading *reading = &table.measured.readings[0];
    assert_string_equal(reading->place, "F1, left");
    assert_string_equal(reading->note, "say \"hot\"");
    assert_near(reading->current_a, 2, 0);
    assert_near(reading->ambient_c, 25, 0);
    assert_near(reading->hot_c, 31.3, 1e-9);
    assert_int_equal(reading->at.line, 4);
    assert_int_equal(reading->method, MEASURED_CAMERA);
    assert_true(reading->assumed & ASSUMED_METHOD);
    assert_false(reading->assumed & ASSUMED_HOT_PM);
    assert_near(reading->current_pm_a, 0.02, 1e-15);
    assert_near(reading->reflected_c, 25, 0);
    arena_free(table.arena);
}

static void resistances_make_a_reading_too(void **state)
{
    (void)state;
    struct table table = read_table("current_a,ambient_c,drop_v,cold_drop_v,cold_current_a,cold_c\n"
                                    "5,24,110mV,20mV,1,24\n");
    assert_int_equal(table.status, MEASURED_OK);
    assert_int_equal(table.measured.readings[0].method, MEASURED_RESISTANCE);
    assert_near(table.measured.readings[0].drop_v, 0.110, 1e-15);
    assert_near(table.measured.readings[0].ohm_pm_pct, 0.5, 0);
    arena_free(table.arena);
}

static void a_bad_table_is_refused_with_place_and_advice(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
        uint32_t line, column;
    } rows[] = {
        {"", "holds no reading", 1, 1},
        {"# nothing\n", "holds no reading", 1, 1},
        {"current_a,ambient_c,hot_c\n", "holds no reading", 1, 1},
        {"2,25,31\n", "unknown column \"2\"", 1, 1},
        {"current_a,hot_c\n2,31\n", "column ambient_c is missing", 1, 1},
        {"current_a,ambient_c,hot_c,hot_c\n", "there twice", 1, 27},
        {"current_a,ambient_c,hot_c,colour\n", "\"colour\"", 1, 27},
        {"current_a,ambient_c,hot_c\n2,25\n", "more or fewer cells", 2, 1},
        {"current_a,ambient_c,hot_c\n2,25,\n", "has no hot_c", 2, 1},
        {"current_a,ambient_c,hot_c\n2,25, warm\n", "\"warm\" is not a number", 2, 7},
        {"current_a,ambient_c,hot_c\n2,-1K,31\n", "below what is possible", 2, 3},
        {"current_a,ambient_c,hot_c\n-2,25,31\n", "below what is possible", 2, 1},
        {"current_a,ambient_c,hot_c,emissivity\n2,25,31,1.2\n", "beyond", 2, 9},
        {"current_a,ambient_c,hot_c,repeat_k\n2,25,31,-1\n", "below", 2, 9},
        {"current_a,ambient_c,hot_c,method\n2,25,31,thumb\n", "\"thumb\" is no method", 2, 9},
        {"current_a,ambient_c,hot_c,note\n2,25,31,\"a\"b\n", "double quote", 2, 12},
        {"current_a,ambient_c,method,hot_c\n2,25,resistance,31\n", "has no drop_v", 2, 1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct table table = read_table(rows[i].text);
        if (table.status != MEASURED_REFUSED || table.diags.count == 0)
            fail_msg("not refused: %s", rows[i].text);
        const struct diag *diag = &table.diags.items[0];
        if (!strstr(diag->text, rows[i].says) || diag->at.line != rows[i].line ||
            diag->at.column != rows[i].column || !diag->advice)
            fail_msg("%s: %u:%u: %s (%s)", rows[i].text, diag->at.line, diag->at.column, diag->text,
                     diag->advice ? diag->advice : "no advice");
        arena_free(table.arena);
    }
}

static void every_bad_row_is_named(void **state)
{
    (void)state;
    struct table table = read_table("current_a,ambient_c,hot_c\nx,25,31\n2,25,31\n2,y,31\n");
    assert_int_equal(table.status, MEASURED_REFUSED);
    assert_int_equal(table.diags.error_count, 2);
    assert_int_equal(table.diags.items[1].at.line, 4);
    arena_free(table.arena);
}

static void too_many_readings_are_refused(void **state)
{
    (void)state;
    char text[64 + READINGS_MOST * 16 + 16] = "current_a,ambient_c,hot_c\n";
    for (int i = 0; i <= READINGS_MOST; i++)
        strcat(text, "2,25,31\n");
    struct table table = read_table(text);
    assert_int_equal(table.status, MEASURED_REFUSED);
    assert_int_equal(table.measured.count, READINGS_MOST);
    arena_free(table.arena);
}

static void failing_memory_is_reported(void **state)
{
    (void)state;
    for (uint64_t n = 1; n < 40; n++) {
        struct table table = {.arena = arena_new("test")};
        table.diags.arena = table.arena;
        const char *text = "current_a,ambient_c,hot_c,note\n2,25,31,a\n2,25,31,b\n";
        arena_fail_at(n);
        table.status = measured_read(1, (const uint8_t *)text, strlen(text), table.arena,
                                     &table.diags, &table.measured);
        arena_fail_at(0);
        assert_true(table.status != MEASURED_OK || table.measured.count == 2);
        arena_free(table.arena);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_row_becomes_a_reading),
        cmocka_unit_test(resistances_make_a_reading_too),
        cmocka_unit_test(a_bad_table_is_refused_with_place_and_advice),
        cmocka_unit_test(every_bad_row_is_named),
        cmocka_unit_test(too_many_readings_are_refused),
        cmocka_unit_test(failing_memory_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
