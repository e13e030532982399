/* board.ini. Expected values by hand. */
#include "assertions.h"
#include "diags.h"
#include "isthmus/currents.h"

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct board_facts facts;
};

static int world_up(void **state)
{
    struct world *world = calloc(1, sizeof *world);
    world->arena = arena_new("test");
    world->diags.arena = world->arena;
    board_facts_default(&world->facts);
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

static enum currents_status read_text(struct world *world, const char *text)
{
    size_t size = strlen(text);
    uint8_t *bytes = exact_copy(text, size);
    enum currents_status status =
        board_ini_read(3, bytes, size, world->arena, &world->diags, &world->facts);
    free(bytes);
    return status;
}

static void assert_read(struct world *world, const char *text)
{
    if (read_text(world, text) == CURRENTS_OK)
        return;
    diags_print(&world->diags, DIAG_NOTE);
    fail_msg("refused: %s", text);
}

static void assert_fact(const struct fact *fact, double value, enum fact_source source)
{
    assert_near(fact->value, value, 1e-12);
    assert_int_equal(fact->source, source);
}

/* The defaults of the design: 10 K, 35 um, 11.4 um, 20 um, no etch loss, 25 C. */
static void what_is_not_said_is_assumed(void **state)
{
    struct world *world = *state;
    assert_read(world, "");
    const struct board_facts *facts = &world->facts;
    assert_fact(&facts->outer_copper_um, 35, FACT_ASSUMED);
    assert_fact(&facts->inner_copper_um, 11.4, FACT_ASSUMED);
    assert_fact(&facts->wall_um, 20, FACT_ASSUMED);
    assert_fact(&facts->rise_k, 10, FACT_ASSUMED);
    assert_fact(&facts->ambient_c, 25, FACT_ASSUMED);
    assert_fact(&facts->etch_loss_um, 0, FACT_ASSUMED);
    assert_fact(&facts->gap_close_um, 1, FACT_ASSUMED);
    assert_fact(&facts->chord_error_um, 0.5, FACT_ASSUMED);
    for (size_t i = 0; i <= BOARD_MAX_COPPER; i++)
        assert_fact(&facts->copper_um[i], 0, FACT_ASSUMED);
    assert_false(facts->is_tool_drilled || facts->are_vias_filled);
    assert_int_equal(facts->fit, FIT_IPC2221_EXTERNAL_INTERNAL);
    assert_int_equal(facts->join_count, 0);
}

static void every_key_is_read(void **state)
{
    struct world *world = *state;
    assert_read(world, "\xef\xbb\xbf; the cold frame's board\r\n"
                       "[copper]\r\n"
                       "outer = 70um\r\n"
                       "inner=0.0305 mm   # half an ounce\r\n"
                       "  top = 2.8mil ; plated twice\n"
                       "bottom = 68 \xc2\xb5m\n"
                       "inner:1 = 17.5um\n"
                       "inner:12 = 18um\n"
                       "wall = 25um\n"
                       "# limits\n"
                       "[limits]\n"
                       "rise = 20K\n"
                       "ambient = -5 C\n"
                       "constants = internal\n"
                       "[fabrication]\r"
                       "board_thickness = 62mil\r"
                       "etch_loss = 12um\n"
                       "gap_close = 0um\n"
                       "chord_error = 0.25um\n"
                       "tool_sizes = drilled\n"
                       "vias = filled\n"
                       "[joins]\n"
                       "AGND = GND\n"
                       "/sheet:PE = GND");
    const struct board_facts *facts = &world->facts;
    assert_fact(&facts->outer_copper_um, 70, FACT_BOARD_INI);
    assert_fact(&facts->inner_copper_um, 30.5, FACT_BOARD_INI);
    assert_fact(&facts->copper_um[1], 71.12, FACT_BOARD_INI);
    assert_fact(&facts->bottom_copper_um, 68, FACT_BOARD_INI);
    assert_fact(&facts->copper_um[2], 17.5, FACT_BOARD_INI);
    assert_fact(&facts->copper_um[13], 18, FACT_BOARD_INI);
    assert_fact(&facts->wall_um, 25, FACT_BOARD_INI);
    assert_fact(&facts->rise_k, 20, FACT_BOARD_INI);
    assert_fact(&facts->ambient_c, -5, FACT_BOARD_INI);
    assert_fact(&facts->board_thickness_mm, 1.5748, FACT_BOARD_INI);
    assert_fact(&facts->etch_loss_um, 12, FACT_BOARD_INI);
    assert_fact(&facts->gap_close_um, 0, FACT_BOARD_INI);
    assert_fact(&facts->chord_error_um, 0.25, FACT_BOARD_INI);
    assert_true(facts->is_tool_drilled && facts->are_vias_filled);
    assert_int_equal(facts->fit, FIT_IPC2221_INTERNAL_EVERYWHERE);
    assert_int_equal(facts->fit_fact.source, FACT_BOARD_INI);
    assert_int_equal(facts->join_count, 2);
    assert_string_equal(facts->joins[1].a, "/sheet:PE");
    assert_string_equal(facts->joins[1].b, "GND");
    assert_int_equal(facts->joins[1].at.line, 24);
    assert_int_equal(facts->copper_um[1].at.line, 5);
    assert_int_equal(facts->copper_um[1].at.column, 3);
    assert_int_equal(world->diags.count, 0);
}

static void ounces_are_taken_with_a_note(void **state)
{
    struct world *world = *state;
    assert_read(world, "[copper]\nouter = 2oz\n");
    assert_fact(&world->facts.outer_copper_um, 70, FACT_BOARD_INI); /* 35 um an ounce: copper.h */
    assert_int_equal(world->diags.count, 1);
    assert_int_equal(world->diags.items[0].level, DIAG_NOTE);
    assert_non_null(strstr(world->diags.items[0].text, "70 um"));
}

static const struct {
    const char *text, *code;
    uint32_t line, column;
    const char *word;
} bad_files[] = {
    {"outer = 35um\n", "ini-section", 1, 1, "[copper]"},
    {"[coper]\nouter = 35um\n", "ini-section", 1, 2, "did you mean [copper]"},
    {"[copper\nouter = 35um\n", "ini-section", 1, 1, "]"},
    {"[copper] outer = 35um\n", "ini-line", 1, 10, "outer"},
    {"[copper]\nouter 35um\n", "ini-line", 2, 1, "no ="},
    {"[copper]\n = 35um\n", "ini-line", 2, 2, "before the ="},
    {"[copper]\nouter =\n", "ini-value", 2, 8, "no value"},
    {"[copper]\nouter = # 35um\n", "ini-value", 2, 9, "no value"},
    {"[copper]\nuoter = 35um\n", "ini-key", 2, 1, "did you mean outer"},
    {"[copper]\nrise = 10K\n", "ini-key", 2, 1, "[limits]"},
    {"[copper]\ninner:0 = 35um\n", "ini-key", 2, 1, "inner:1"},
    {"[copper]\ninner:x = 35um\n", "ini-key", 2, 1, "inner:1"},
    {"[copper]\ninner:63 = 35um\n", "ini-key", 2, 1, "inner:63"},
    {"[copper]\nouter = 35\n", "ini-value", 2, 9, "with a unit"},
    {"[copper]\nouter = 35 umm\n", "ini-value", 2, 9, "35 umm"},
    {"[copper]\nouter = 0x23um\n", "ini-value", 2, 9, "0x23um"},
    {"[copper]\nouter = nan\n", "ini-value", 2, 9, "nan"},
    {"[copper]\nouter = 3,5um\n", "ini-value", 2, 9, "3,5um"},
    {"[copper]\nouter = 35mm\n", "ini-range", 2, 9, "1100 um"},
    {"[copper]\nouter = -35um\n", "ini-range", 2, 9, "-35um"},
    {"[copper]\nouter = 0um\n", "ini-range", 2, 9, "0um"},
    {"[copper]\n\n  outer = 35um\nouter = 35um\n", "ini-repeated", 4, 1, "line 3"},
    {"[copper]\ninner:1 = 35um\n[copper]\ninner:1 = 9um\n", "ini-repeated", 4, 1, "line 2"},
    {"[limits]\nrise = 10\n", "ini-value", 2, 8, "kelvin"},
    {"[limits]\nrise = -10K\n", "ini-range", 2, 8, "-10K"},
    {"[limits]\nambient = 25F\n", "ini-value", 2, 11, "Celsius"},
    {"[limits]\nconstants = external\n", "ini-value", 2, 13, "external-internal or internal"},
    {"[fabrication]\nvias = plugged\n", "ini-value", 2, 8, "open or filled"},
    {"[fabrication]\netch_loss = 1oz\n", "ini-value", 2, 13, "20um"},
    {"[joins]\nGND = GND\n", "ini-join", 2, 7, "itself"},
    {"[joins]\nA = B\nB = A\n", "ini-repeated", 3, 1, "line 2"},
    {"[copper]\n\touter = 35um\xff\n", "ini-encoding", 2, 14, "UTF-8"},
    {"[copper]\nouter\x02 = 35um\n", "ini-encoding", 2, 6, "0x02"},
};

static void bad_files_are_refused_with_their_place(void **state)
{
    for (size_t i = 0; i < sizeof bad_files / sizeof *bad_files; i++) {
        void *inner = NULL;
        world_up(&inner);
        struct world *world = inner;
        enum currents_status status = read_text(world, bad_files[i].text);
        const struct diag *diag = world->diags.count ? &world->diags.items[0] : NULL;
        bool is_right =
            status == CURRENTS_REFUSED && diag && diag->level == DIAG_ERROR &&
            strcmp(diag->code, bad_files[i].code) == 0 && diag->advice && diag->at.file_id == 3 &&
            diag->at.line == bad_files[i].line && diag->at.column == bad_files[i].column &&
            (strstr(diag->text, bad_files[i].word) || strstr(diag->advice, bad_files[i].word));
        if (!is_right) {
            diags_print(&world->diags, DIAG_NOTE);
            fail_msg("expected %s at %u:%u with \"%s\" for: %s", bad_files[i].code,
                     bad_files[i].line, bad_files[i].column, bad_files[i].word, bad_files[i].text);
        }
        world_down(&inner);
    }
    (void)state;
}

/* inih cuts lines at 199 bytes and takes the rest for a new line; that must not change a fact. */
static void a_long_line_is_refused_not_cut(void **state)
{
    struct world *world = *state;
    char text[600] = "[copper]\n";
    memset(text + 9, ' ', 300);
    strcpy(text + 200, "outer=35um");
    text[9] = 'x';
    assert_int_equal(read_text(world, text), CURRENTS_REFUSED);
    assert_string_equal(world->diags.items[0].code, "ini-line");
    assert_fact(&world->facts.outer_copper_um, 35, FACT_ASSUMED);
}

static void an_indented_line_is_no_continuation(void **state)
{
    struct world *world = *state;
    assert_read(world, "[copper]\nouter = 70um\n   inner = 30um\n");
    assert_fact(&world->facts.outer_copper_um, 70, FACT_BOARD_INI);
    assert_fact(&world->facts.inner_copper_um, 30, FACT_BOARD_INI);
}

/* ---- the bottom layer's place ---- */

static void the_bottom_goes_to_the_last_layer(void **state)
{
    struct world *world = *state;
    assert_read(world, "[copper]\nbottom = 70um\ninner:2 = 17um\n");
    assert_true(board_facts_settle(&world->facts, 4, &world->diags));
    assert_fact(&world->facts.copper_um[4], 70, FACT_BOARD_INI);
    assert_fact(&world->facts.copper_um[3], 17, FACT_BOARD_INI);
    assert_fact(&world->facts.copper_um[1], 0, FACT_ASSUMED);
}

static void a_layer_that_is_not_there_is_refused(void **state)
{
    struct world *world = *state;
    assert_read(world, "[copper]\ninner:2 = 17um\n");
    assert_true(board_facts_settle(&world->facts, 4, &world->diags));
    assert_false(board_facts_settle(&world->facts, 3, &world->diags));
    assert_non_null(strstr(world->diags.items[0].text, "inner:2"));
    assert_int_equal(world->diags.items[0].at.line, 2);
}

static void every_failed_allocation_is_reported(void **state)
{
    enum currents_status status = CURRENTS_NO_MEMORY;
    uint64_t nth;
    for (nth = 1; status == CURRENTS_NO_MEMORY && nth < 1000; nth++) {
        void *inner = NULL;
        world_up(&inner);
        arena_fail_at(nth);
        status = read_text(inner, "[copper]\nouter = 1oz\n[joins]\nA = B\nC = D\n");
        arena_fail_at(0);
        world_down(&inner);
    }
    assert_int_equal(status, CURRENTS_OK);
    assert_true(nth > 5);
    (void)state;
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, world_up, world_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(what_is_not_said_is_assumed),         CASE(every_key_is_read),
        CASE(ounces_are_taken_with_a_note),        CASE(bad_files_are_refused_with_their_place),
        CASE(a_long_line_is_refused_not_cut),      CASE(an_indented_line_is_no_continuation),
        CASE(the_bottom_goes_to_the_last_layer),   CASE(a_layer_that_is_not_there_is_refused),
        CASE(every_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
