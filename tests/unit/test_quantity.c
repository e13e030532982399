#include "assertions.h"
#include "isthmus/quantity.h"

#include <math.h>

static double read_or_fail(const struct quantity_kind *kind, const char *text)
{
    double value = NAN;
    if (quantity_read(kind, text, &value) != QUANTITY_OK)
        fail_msg("\"%s\" was refused", text);
    return value;
}

static void every_unit_leads_to_the_base_unit(void **state)
{
    (void)state;
    /* the inch is exactly 25.4 mm; 0 K is -273.15 C */
    assert_near(read_or_fail(&quantity_kind_width, "1000mil"), 25.4, 1e-12);
    assert_near(read_or_fail(&quantity_kind_width, "300 um"), 0.3, 1e-15);
    assert_near(read_or_fail(&quantity_kind_width, "1e-1"), 0.1, 0);
    assert_near(read_or_fail(&quantity_kind_width, "0.3\xc2\xb5m"), 3e-4, 1e-18);
    assert_near(read_or_fail(&quantity_kind_copper, "0.5oz"), 17.5, 0);
    assert_near(read_or_fail(&quantity_kind_copper, "1.378mil"), 35.0012, 1e-9);
    assert_near(read_or_fail(&quantity_kind_current, "800mA"), 0.8, 1e-15);
    assert_near(read_or_fail(&quantity_kind_temperature, "0K"), -273.15, 0);
    assert_near(read_or_fail(&quantity_kind_temperature, "-40"), -40, 0);
    assert_near(read_or_fail(&quantity_kind_time, "2min"), 120, 0);
    assert_near(read_or_fail(&quantity_kind_resistance, "0"), 0, 0);
}

static void what_is_no_quantity_is_refused_with_the_reason(void **state)
{
    (void)state;
    static const struct {
        const struct quantity_kind *kind;
        const char *text;
        enum quantity_status status;
    } rows[] = {
        {&quantity_kind_current, "", QUANTITY_NOT_A_NUMBER},
        {&quantity_kind_current, "two", QUANTITY_NOT_A_NUMBER},
        {&quantity_kind_current, "inf", QUANTITY_NOT_A_NUMBER},
        {&quantity_kind_current, "nan", QUANTITY_NOT_A_NUMBER},
        {&quantity_kind_current, "0x10", QUANTITY_UNIT_UNKNOWN},
        {&quantity_kind_current, "1e999", QUANTITY_NOT_A_NUMBER},
        {&quantity_kind_current, "-", QUANTITY_NOT_A_NUMBER},
        {&quantity_kind_current, ".", QUANTITY_NOT_A_NUMBER},
        {&quantity_kind_current, "2,5", QUANTITY_UNIT_UNKNOWN},
        {&quantity_kind_current, "2 mm", QUANTITY_UNIT_UNKNOWN},
        {&quantity_kind_current, "0", QUANTITY_TOO_SMALL},
        {&quantity_kind_current, "-1", QUANTITY_TOO_SMALL},
        {&quantity_kind_current, "1e9", QUANTITY_TOO_LARGE},
        {&quantity_kind_copper, "1", QUANTITY_UNIT_MISSING}, /* 1 oz or 1 um? */
        {&quantity_kind_temperature, "-1K", QUANTITY_TOO_SMALL},
        {&quantity_kind_temperature, "-274", QUANTITY_TOO_SMALL},
        {&quantity_kind_rise, "-6K", QUANTITY_TOO_SMALL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double value = 7;
        enum quantity_status status = quantity_read(rows[i].kind, rows[i].text, &value);
        if (status != rows[i].status || value != 7)
            fail_msg("\"%s\": status %d, value %g", rows[i].text, (int)status, value);
    }
}

static void numbers_print_with_the_digits_asked_for(void **state)
{
    (void)state;
    static const struct {
        double value;
        int digits;
        const char *text;
    } rows[] = {
        {0.77421, 3, "0.774"},
        {9.996, 3, "10.0"},
        {12.345, 3, "12.3"},
        {1250.4, 3, "1250"},
        {0, 3, "0.00"},
        {-6.3, 2, "-6.3"},
        {0.0123, 2, "0.012"},
        {1.5e-7, 2, "1.5e-07"},
        {NAN, 3, "none"},
        {1e9, 3, "1e+09"},
        {INFINITY, 3, "unlimited"},
    };
    char buffer[QUANTITY_TEXT_SIZE];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(quantity_text(rows[i].value, rows[i].digits, buffer), rows[i].text);
    assert_string_equal(quantity_short(2, 3, buffer), "2");
    assert_string_equal(quantity_short(0.5, 3, buffer), "0.5");
    assert_string_equal(quantity_short(100, 3, buffer), "100");
    assert_string_equal(quantity_short(1.5e-9, 3, buffer), "1.5e-09");
    assert_string_equal(quantity_short(NAN, 3, buffer), "none");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_unit_leads_to_the_base_unit),
        cmocka_unit_test(what_is_no_quantity_is_refused_with_the_reason),
        cmocka_unit_test(numbers_print_with_the_digits_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
