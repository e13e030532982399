/* The net-current table. Expected values by hand; the format's rules are RFC 4180's. */
#include "assertions.h"
#include "diags.h"
#include "isthmus/currents.h"

#include <locale.h>
#include <math.h>

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct current_table table;
};

static int world_up(void **state)
{
    struct world *world = calloc(1, sizeof *world);
    world->arena = arena_new("test");
    world->diags.arena = world->arena;
    *state = world;
    return 0;
}

static int world_down(void **state)
{
    struct world *world = *state;
    arena_free(world->arena);
    free(world);
    return 0;
}

static enum currents_status read_bytes(struct world *world, const char *text, size_t size)
{
    uint8_t *bytes = exact_copy(text, size);
    enum currents_status status =
        currents_read(7, bytes, size, world->arena, &world->diags, &world->table);
    free(bytes);
    return status;
}

static enum currents_status read_text(struct world *world, const char *text)
{
    return read_bytes(world, text, strlen(text));
}

static void assert_read(struct world *world, const char *text)
{
    if (read_text(world, text) == CURRENTS_OK)
        return;
    diags_print(&world->diags, DIAG_NOTE);
    fail_msg("refused: %s", text);
}

/* ---- quantities ---- */

static void currents_have_units(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double current_a;
    } good[] = {{"2.5", 2.5},
                {"2.5A", 2.5},
                {"800mA", 0.8},
                {"800 mA", 0.8},
                {".5", 0.5},
                {"5.", 5},
                {"1e-3", 0.001},
                {"250uA", 0.00025},
                {"250\xc2\xb5"
                 "A",
                 0.00025},
                {"1.2kA", 1200},
                {"-3", -3},
                {"+3 A", 3},
                {"\xe2\x88\x92"
                 "3",
                 -3},
                {"0", 0},
                {"0.1", 0.1},
                {"1E2mA", 0.1},
                {"0.30000000000000004", 0.30000000000000004}};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        double found = NAN;
        if (!quantity_current(good[i].text, &found))
            fail_msg("%s was not read", good[i].text);
        assert_true(found == good[i].current_a);
    }
}

static void what_is_no_current_is_not_read(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",      "A",     "2,5", "1.2.3", "0x10", "inf",    "nan",
        "1e",    "1e999", "2 5", "--2",   "+-2",  "2MA",    "2V",
        "1'000", ".",     "+",   "2.5A.", "two",  "1e-999", "99999999999999999999999999"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        double found = 42;
        if (quantity_current(bad[i], &found))
            fail_msg("%s was read as %g", bad[i], found);
        assert_true(found == 42);
    }
}

/* 1 in = 25.4 mm exactly (international yard and pound agreement, 1959). */
static void lengths_have_units(void **state)
{
    (void)state;
    double nm;
    assert_true(quantity_length("0.3mm", 0, &nm) && nm == 300000);
    assert_true(quantity_length("12mil", 0, &nm) && nm == 304800);
    assert_true(quantity_length("1in", 0, &nm) && nm == 25400000);
    assert_true(quantity_length("35um", 0, &nm) && nm == 35000);
    assert_true(quantity_length("35 \xc2\xb5m", 0, &nm) && nm == 35000);
    assert_true(quantity_length("12.7", 1e6, &nm) && nm == 12700000);
    assert_true(quantity_length("-12.7", 1e6, &nm) && nm == -12700000);
    assert_false(quantity_length("12.7", 0, &nm));
    assert_false(quantity_length("12 oz", 0, &nm));
    assert_false(quantity_length("mm", 1e6, &nm));
}

/* ---- names ---- */

static void a_near_name_is_proposed(void **state)
{
    (void)state;
    static const char *const names[] = {"GND", "+24V", "FAN_OUT", "HEAT1"};
    assert_string_equal(nearest_name("V24", names, 4), "+24V");
    assert_string_equal(nearest_name("fan_out", names, 4), "FAN_OUT");
    assert_string_equal(nearest_name("HAET1", names, 4), "HEAT1");
    assert_null(nearest_name("RESET", names, 4));
    assert_null(nearest_name("", names, 4));
    assert_null(nearest_name("GND", names, 0));
}

/* ---- rows ---- */

static void every_kind_of_row_is_read(void **state)
{
    struct world *world = *state;
    assert_read(world, "# 24 V cold frame\n"
                       "net,pin,current_a,rise_k,x_mm,y_mm,layer,case,note\r\n"
                       "\"+24V\",,13A,,,,,,\n"
                       "+24V,J1.2,+8,20,,,,,feeds\r"
                       "  # within\n"
                       "+24V,J2.1 J2.2,-500mA,,,,,heating,\"a, \"\"b\"\"\"\n"
                       "+24V,U3.*,0,,,,,,\n"
                       ",,,,,,,,\n"
                       "\n"
                       "GND,C*,0.1,,,,,,\n"
                       "GND,*,0.3,,,,,,\n"
                       "HEAT*,,5,,,,,heating,\n"
                       "FAN,,,,12.7,-3.5,inner:2,,names it\n"
                       "FAN,,0.4,,500mil,0,bottom,,");
    const struct current_row *rows = world->table.rows;
    assert_int_equal(world->table.row_count, 9);
    assert_int_equal(rows[0].kind, ROW_NET);
    assert_string_equal(rows[0].net, "+24V");
    assert_true(rows[0].current_a == 13 && rows[0].sign == SIGN_NONE && isnan(rows[0].rise_k));
    assert_int_equal(rows[1].kind, ROW_TERMINAL);
    assert_string_equal(rows[1].pins[0], "J1.2");
    assert_true(rows[1].current_a == 8 && rows[1].sign == SIGN_FEEDS && rows[1].rise_k == 20);
    assert_int_equal(rows[1].at.line, 4);
    assert_int_equal(rows[2].pin_count, 2);
    assert_string_equal(rows[2].pins[1], "J2.2");
    assert_true(rows[2].current_a == 0.5 && rows[2].sign == SIGN_DRAWS);
    assert_string_equal(rows[2].note, "a, \"b\"");
    assert_string_equal(rows[2].case_name, "heating");
    assert_int_equal(rows[3].kind, ROW_TERMINAL);
    assert_true(rows[3].has_current && rows[3].current_a == 0);
    assert_int_equal(rows[4].kind, ROW_REST);
    assert_string_equal(rows[5].pins[0], "*");
    assert_int_equal(rows[6].kind, ROW_NET);
    assert_ptr_equal(rows[6].case_name, rows[2].case_name);
    assert_int_equal(rows[7].kind, ROW_POSITION);
    assert_false(rows[7].has_current);
    assert_int_equal(rows[7].place.x_nm, 12700000);
    assert_int_equal(rows[7].place.y_nm, -3500000);
    assert_true(rows[7].has_layer && rows[7].layer_code == 2);
    assert_int_equal(rows[8].layer_code, UINT16_MAX);
    assert_int_equal(world->table.case_count, 1);
    assert_int_equal(rows[8].at.file_id, 7);
    assert_int_equal(rows[8].at.line, 14);
    assert_int_equal(world->diags.count, 0);
}

static void columns_may_stand_in_any_order_and_case(void **state)
{
    struct world *world = *state;
    assert_read(world, "\xef\xbb\xbf"
                       "Y_mil,Current_A,NET,x_mil\n1000,2,FAN,-500\n");
    assert_int_equal(world->table.rows[0].kind, ROW_POSITION);
    assert_int_equal(world->table.rows[0].place.x_nm, -12700000);
    assert_int_equal(world->table.rows[0].place.y_nm, 25400000);
    assert_int_equal(world->table.rows[0].at.line, 2);
    assert_int_equal(world->table.rows[0].at.column, 1);
}

static void old_line_ends_are_read(void **state)
{
    struct world *world = *state;
    assert_read(world, "net,current_a\rA,1\rB,2\r");
    assert_int_equal(world->table.row_count, 2);
    assert_int_equal(world->table.rows[1].at.line, 3);
}

static void a_quoted_net_may_begin_like_a_comment(void **state)
{
    struct world *world = *state;
    assert_read(world, "net,current_a\n\"#RESET\",1\n#RESET,2\n");
    assert_int_equal(world->table.row_count, 1);
    assert_string_equal(world->table.rows[0].net, "#RESET");
}

static void later_columns_are_accepted_with_a_warning(void **state)
{
    struct world *world = *state;
    assert_read(world, "net,current_a,drop_v,peak_a\nA,1,,\nB,1,0.1,\nC,1,0.2,\n");
    assert_int_equal(world->diags.count, 1);
    assert_int_equal(world->diags.items[0].level, DIAG_WARNING);
    assert_non_null(strstr(world->diags.items[0].text, "drop_v"));
    assert_int_equal(world->diags.items[0].at.line, 3);
    assert_int_equal(world->diags.items[0].at.column, 5);
}

static void a_row_to_fill_in_is_warned_about(void **state)
{
    struct world *world = *state;
    assert_read(world, "net,pin,current_a\nA,,1\nA,J1.1,\nA,J1.2,\n");
    assert_int_equal(world->table.row_count, 3);
    assert_false(world->table.rows[1].has_current);
    assert_int_equal(world->diags.warning_count, 1);
    assert_non_null(strstr(world->diags.items[0].text, "2 from here"));
    assert_int_equal(world->diags.items[0].at.line, 3);
    assert_int_equal(world->diags.items[0].at.column, 8);
}

/* The locale's decimal comma changes nothing. */
static void numbers_do_not_depend_on_the_locale(void **state)
{
    struct world *world = *state;
    char *old = strdup(setlocale(LC_ALL, NULL));
    if (!setlocale(LC_ALL, "de_DE.UTF-8"))
        setlocale(LC_ALL, "");
    assert_read(world, "net,current_a\nA,2.5\n");
    assert_true(world->table.rows[0].current_a == 2.5);
    setlocale(LC_ALL, old);
    free(old);
}

static void different_cases_do_not_contradict(void **state)
{
    struct world *world = *state;
    assert_read(world, "net,pin,current_a,case\n"
                       "A,J1.1,1,charging\nA,J1.1,2,heating\nA,,3,charging\nA,,4,heating\n"
                       "A,J2.*,1,charging\nA,J2.1,1,heating\nB,J1.1,9,\n");
    assert_int_equal(world->table.case_count, 2);
    assert_int_equal(world->diags.count, 0);
}

/* As spreadsheets write them, with columns and rows that hold nothing. */
static void empty_cells_behind_the_columns_are_none(void **state)
{
    struct world *world = *state;
    assert_read(world, "net,pin,current_a,,\nA,J1.1,1,,,\nA,J1.2,2\n,,,,\n");
    assert_int_equal(world->table.row_count, 2);
    assert_int_equal(world->diags.count, 0);
}

/* ---- errors: text, code, line, column, a word of the message or the advice ---- */

#define HEAD "net,pin,current_a,rise_k,x_mm,y_mm,layer,case,note\n"
static const struct {
    const char *text, *code;
    uint32_t line, column;
    const char *word;
} bad_tables[] = {
    {"", "currents-empty", 1, 1, "isthmus table"},
    {"# only this\n\n", "currents-empty", 1, 1, "header"},
    {"net,current_a\n", "currents-empty", 2, 1, "no rows"},
    {"net,current_a\nA,\n", "currents-empty", 3, 1, "current_a"},
    {"net,current_a\n# a, b\n#A,\n", "currents-empty", 4, 1, "take the # off"},
    {"net,current_a,,\nA,2,,5\n", "currents-cells", 2, 5, "4 cells"},
    {"net,,current_a\nA,,2\n", "currents-column", 1, 5, "unknown column"},
    {"+24V,8\nGND,8\n", "currents-header", 1, 1, "net,pin,current_a"},
    {"net;current_a\nA;1\n", "currents-separator", 1, 1, "semicolons"},
    {"net\tcurrent_a\nA\t1\n", "currents-separator", 1, 1, "tabs"},
    {"net,current\nA,1\n", "currents-column", 1, 5, "did you mean current_a"},
    {"net,current_a,colour\nA,1,\n", "currents-column", 1, 15, "colour"},
    {"net,net,current_a\nA,A,1\n", "currents-column-twice", 1, 5, "twice"},
    {"net,pin\nA,J1.1\n", "currents-column-missing", 1, 1, "current_a"},
    {"net,current_a,x_mm\nA,1,2\n", "currents-column-missing", 1, 1, "y_mm"},
    {"net,current_a\nA,2,5\n", "currents-cells", 2, 5, "decimal point"},
    {"net,pin,current_a\nA,2\n", "currents-cells", 2, 1, "2 cells"},
    {"net,current_a\n,2\n", "currents-net-missing", 2, 1, "names no net"},
    {"net,current_a\n\"A\nB\",2\n", "currents-text", 2, 1, "line break"},
    {"net,current_a\nA,  two\n", "currents-current", 2, 5, "two"},
    {"net,current_a\nA,\"2,5\"\n", "currents-current", 2, 3, "decimal point"},
    {"net,current_a\nA,0x2\n", "currents-current", 2, 3, "0x2"},
    {"net,current_a\nA,inf\n", "currents-current", 2, 3, "inf"},
    {"net,current_a\nA,nan\n", "currents-current", 2, 3, "nan"},
    {"net,current_a\nA,1e9\n", "currents-current", 2, 3, "ampere"},
    {"net,current_a\nA,+2\n", "currents-sign", 2, 3, "no sign"},
    {"net,current_a,rise_k\nA,2,-10\n", "currents-rise", 2, 5, "-10"},
    {"net,current_a,rise_k\nA,2,0\n", "currents-rise", 2, 5, "above"},
    {"net,current_a,rise_k\nA,2,ten\n", "currents-rise", 2, 5, "kelvin"},
    {"net,current_a,rise_k\nA,2,1e9\n", "currents-rise", 2, 5, "500"},
    {HEAD "A,J1,2,,,,,,\n", "currents-pin", 2, 3, "J1.2"},
    {HEAD "A,J1.1 C*,2,,,,,,\n", "currents-pin", 2, 3, "C*"},
    {HEAD "A,C*.1,2,,,,,,\n", "currents-pin", 2, 3, "C*.1"},
    {HEAD "A,J1.1*,2,,,,,,\n", "currents-pin", 2, 3, "pattern"},
    {HEAD "A,.1,2,,,,,,\n", "currents-pin", 2, 3, "pattern"},
    {HEAD "A,J1.1,2,,1,2,,,\n", "currents-pin", 2, 3, "position"},
    {HEAD "A,,2,,1,,,,\n", "currents-position", 2, 7, "x and y"},
    {HEAD "A,,2,,1,y,,,\n", "currents-position", 2, 9, "coordinate"},
    {HEAD "A,,2,,1e30,1,,,\n", "currents-position", 2, 7, "coordinate"},
    {HEAD "A,,2,,,,top,,\n", "currents-layer", 2, 9, "position"},
    {HEAD "A,,2,,1,2,inner:0,,\n", "currents-layer", 2, 11, "inner:1"},
    {HEAD "A,,2,,1,2,middle,,\n", "currents-layer", 2, 11, "middle"},
    {"net,current_a,x_mm,y_mm,x_mil,y_mil\nA,1,1,2,3,4\n", "currents-position", 2, 9, "mil"},
    {"net,current_a\nA,\"2\n", "currents-quote", 2, 3, "never ends"},
    {"net,current_a\nA \"x\",2\n", "currents-quote", 2, 3, "doubled"},
    {"net,current_a\n\"A\"x,2\n", "currents-quote", 2, 4, "doubled"},
    {"net,current_a\nA\xff,2\n", "currents-encoding", 2, 2, "UTF-8"},
    {"\xff\xfen\1e\1", "currents-encoding", 1, 1, "UTF-16"},
    {"net,current_a\nA,1\nB,1\nA,1\n", "currents-repeated", 4, 1, "line 2"},
    {"net,current_a\nA,1\nA,2\n", "currents-contradict", 3, 1, "line 2"},
    {HEAD "A,J1.1,1,,,,,,\nA,J1.1,+1,,,,,,\n", "currents-contradict", 3, 1, "J1.1"},
    {HEAD "A,J1.1,1,,,,,,\nA,J1.1,1,,,,,x,\n", "currents-repeated", 3, 1, "line 2"},
    {HEAD "A,J1.1,1,,,,,,\nA,J1.1,2,,,,,x,\n", "currents-contradict", 3, 1, "cases"},
    {HEAD "A,J1.1,1,,,,,,\nA,J1.2 J1.1,1,,,,,,\n", "currents-contradict", 3, 1, "pin J1.1"},
    {HEAD "A,U3.*,1,,,,,,\nA,U3.7,1,,,,,,\n", "currents-contradict", 3, 1, "pin U3.7"},
    {HEAD "A,J1.1 J1.1,1,,,,,,\n", "currents-repeated", 2, 1, "twice"},
    {HEAD "A,,1,,,,,heat,\nB,,1,,,,,Heat,\n", "currents-case", 3, 10, "heat"},
    {"net,current_a\nA,\" +2\"\n", "currents-sign", 2, 3, "no sign"},
    {HEAD "A,C*,1,,,,,,\nA,C*,2,,,,,,\n", "currents-contradict", 3, 1, "rest"},
    {HEAD "A,,1,,1,2,top,,\nA,,2,,1,2,top,,\n", "currents-contradict", 3, 1, "position"},
};

static void bad_tables_are_refused_with_their_place(void **state)
{
    for (size_t i = 0; i < sizeof bad_tables / sizeof *bad_tables; i++) {
        void *inner = NULL;
        world_up(&inner);
        struct world *world = inner;
        enum currents_status status = read_text(world, bad_tables[i].text);
        const struct diag *diag = NULL;
        for (size_t d = 0; d < world->diags.count && !diag; d++)
            if (strcmp(world->diags.items[d].code, bad_tables[i].code) == 0 &&
                world->diags.items[d].level == DIAG_ERROR)
                diag = &world->diags.items[d];
        bool is_right =
            status == CURRENTS_REFUSED && diag && diag->advice && diag->at.file_id == 7 &&
            diag->at.line == bad_tables[i].line && diag->at.column == bad_tables[i].column &&
            (strstr(diag->text, bad_tables[i].word) || strstr(diag->advice, bad_tables[i].word));
        if (!is_right) {
            diags_print(&world->diags, DIAG_NOTE);
            fail_msg("expected %s at %u:%u with \"%s\" for: %s", bad_tables[i].code,
                     bad_tables[i].line, bad_tables[i].column, bad_tables[i].word,
                     bad_tables[i].text);
        }
        world_down(&inner);
    }
    (void)state;
}

static void a_nul_byte_is_refused(void **state)
{
    struct world *world = *state;
    assert_int_equal(read_bytes(world, "net,current_a\nA,\0001\n", 19), CURRENTS_REFUSED);
    assert_string_equal(world->diags.items[0].code, "currents-encoding");
    assert_int_equal(world->diags.items[0].at.line, 2);
    assert_int_equal(world->diags.items[0].at.column, 3);
}

/* Ten thousand rows in a moment: nothing counts lines from the start or compares all pairs. */
static void a_long_table_is_read_in_linear_time(void **state)
{
    struct world *world = *state;
    size_t room = 10000 * 24 + 32, used = 0;
    char *text = malloc(room);
    used += (size_t)snprintf(text, room, "net,pin,current_a\n");
    for (int i = 0; i < 10000; i++)
        used += (size_t)snprintf(text + used, room - used, "N%d,J%d.1,0.5\n", i % 100, i);
    assert_read(world, text);
    assert_int_equal(world->table.row_count, 10000);
    assert_int_equal(world->table.rows[9999].at.line, 10001);
    free(text);
}

static void every_failed_allocation_is_reported(void **state)
{
    static const char text[] = HEAD "A,J1.1 J1.2,1,,,,,x,n\nB,,2,,,,,y,\nC,,2,,1,2,top,y,\n"
                                    "A,U1.*,1,,,,,,\nA,*,1,,,,,,\n";
    enum currents_status status = CURRENTS_NO_MEMORY;
    uint64_t nth;
    for (nth = 1; status == CURRENTS_NO_MEMORY && nth < 1000; nth++) {
        void *inner = NULL;
        world_up(&inner);
        arena_fail_at(nth);
        status = read_text(inner, text);
        arena_fail_at(0);
        world_down(&inner);
    }
    assert_int_equal(status, CURRENTS_OK);
    assert_true(nth > 20);
    (void)state;
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, world_up, world_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(currents_have_units),
        CASE(what_is_no_current_is_not_read),
        CASE(lengths_have_units),
        CASE(a_near_name_is_proposed),
        CASE(every_kind_of_row_is_read),
        CASE(columns_may_stand_in_any_order_and_case),
        CASE(old_line_ends_are_read),
        CASE(a_quoted_net_may_begin_like_a_comment),
        CASE(later_columns_are_accepted_with_a_warning),
        CASE(a_row_to_fill_in_is_warned_about),
        CASE(numbers_do_not_depend_on_the_locale),
        CASE(different_cases_do_not_contradict),
        CASE(empty_cells_behind_the_columns_are_none),
        CASE(bad_tables_are_refused_with_their_place),
        CASE(a_nul_byte_is_refused),
        CASE(a_long_table_is_read_in_linear_time),
        CASE(every_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
