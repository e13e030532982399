/* Drill files of a package: which reading each gets, and --drill-format. Built in memory. */
#include "assertions.h"
#include "diags.h"
#include "isthmus/board.h"

struct world {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct board board;
    enum board_status status;
};

/* Ten pads of 2 mm in two rows, and a track from the first to the last. */
#define PADS                                                                                       \
    "%FSLAX33Y33*%\n%MOMM*%\n%LPD*%\n%ADD10C,2.0*%\n%ADD11C,0.5*%\nD10*\n"                         \
    "X10000Y6000D03*\nX20000Y7000D03*\nX30000Y8000D03*\nX40000Y9000D03*\nX50000Y10000D03*\n"       \
    "X13000Y16000D03*\nX23000Y17000D03*\nX33000Y18000D03*\nX43000Y19000D03*\nX53000Y20000D03*\n"   \
    "D11*\nX10000Y6000D02*\nX53000Y20000D01*\nM02*\n"
#define PROFILE                                                                                    \
    "%FSLAX33Y33*%\n%MOMM*%\n%LPD*%\n%ADD10C,0.1*%\nD10*\nX0Y0D02*\nX60000Y0D01*\n"                \
    "X60000Y30000D01*\nX0Y30000D01*\nX0Y0D01*\nM02*\n"
/* The same places, 3.3 digits, neither unit nor zeros stated. */
#define OPEN_PLATED                                                                                \
    "M48\nT1C0.8\n%\nT1\nX10000Y6000\nX20000Y7000\nX30000Y8000\nX40000Y9000\nX50000Y10000\n"       \
    "X13000Y16000\nX23000Y17000\nX33000Y18000\nX43000Y19000\nX53000Y20000\nM30\n"
/* Two mounting holes beside all pads. */
#define OPEN_BARE "M48\nT1C3.0\n%\nT1\nX3000Y27000\nX57000Y3000\nM30\n"

static void add(struct world *world, const char *name, const char *text)
{
    assert_int_not_equal(
        file_table_add(&world->files, name, (const uint8_t *)text, strlen(text), true), 0);
}

static void world_read(struct world *world, const char *plated, const char *bare,
                       const struct drill_format_option *formats, size_t format_count)
{
    struct board_facts facts;
    struct board_options options = {.drill_formats = formats, .drill_format_count = format_count};
    board_facts_default(&facts);
    *world = (struct world){.arena = arena_new("test")};
    world->diags.arena = world->arena;
    add(world, "frame.gbl", PADS);
    add(world, "frame.gko", PROFILE);
    add(world, "frame.gtl", PADS);
    if (bare)
        add(world, "frame-npth.drl", bare);
    add(world, "frame-pth.drl", plated);
    world->status = board_read(&world->files, &facts, NULL, &options, world->arena, &world->diags,
                               &world->board);
}

static void world_end(struct world *world)
{
    board_free(&world->board);
    file_table_free(&world->files);
    arena_free(world->arena);
}

static const struct hole_list *list_of(const struct world *world, const char *name)
{
    for (size_t i = 0; i < world->board.hole_list_count; i++) {
        const struct hole_list *list = &world->board.hole_lists[i];
        if (strcmp(world->files.files[list->file_id - 1].name, name) == 0)
            return list;
    }
    fail_msg("no holes of %s", name);
    return NULL;
}

static void a_file_that_nothing_decides_follows_the_others(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, OPEN_PLATED, OPEN_BARE, NULL, 0);
    assert_int_equal(world.status, BOARD_OK);
    const struct hole_list *plated = list_of(&world, "frame-pth.drl");
    const struct hole_list *bare = list_of(&world, "frame-npth.drl");
    assert_int_equal(plated->hole_count, 10);
    assert_int_equal(plated->holes[0].from.x_nm, 10000000);
    assert_near(plated->score, 1, 1e-9);
    assert_int_equal(bare->hole_count, 2);
    assert_int_equal(bare->holes[0].from.x_nm, 3000000);
    assert_int_equal(bare->holes[0].from.y_nm, 27000000);
    assert_non_null(strstr(bare->reading, "(as the other drill files)"));
    assert_non_null(diag_find(&world.diags, "drill-reading-shared"));
    assert_null(diag_find(&world.diags, "drill-reading-open"));
    world_end(&world);
}

#define POINTED_PLATED                                                                             \
    "M48\nMETRIC\nT1C0.8\n%\nT1\nX10.0Y6.0\nX20.0Y7.0\nX30.0Y8.0\nX40.0Y9.0\nX50.0Y10.0\n"         \
    "X13.0Y16.0\nX23.0Y17.0\nX33.0Y18.0\nX43.0Y19.0\nX53.0Y20.0\nM30\n"

/* Numbers without a point, in a file that states LZ, are no whole millimetres because a sister
 * writes points. */
static void no_sister_lends_what_the_file_excludes(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, POINTED_PLATED, "M48\nMETRIC,LZ\nT1C3.0\n%\nT1\nX003Y027\nX057Y003\nM30\n",
               NULL, 0);
    assert_int_equal(list_of(&world, "frame-pth.drl")->hole_count, 10);
    assert_null(diag_find(&world.diags, "drill-reading-shared"));
    assert_non_null(diag_find(&world.diags, "drill-reading-open"));
    assert_int_equal(list_of(&world, "frame-npth.drl")->hole_count, 0);
    world_end(&world);
    /* Where no zero rule is stated whole millimetres may be written so. */
    world_read(&world, POINTED_PLATED, "M48\nMETRIC\nT1C3.0\n%\nT1\nX3Y27\nX57Y3\nM30\n", NULL, 0);
    assert_int_equal(world.status, BOARD_OK);
    assert_int_equal(list_of(&world, "frame-npth.drl")->holes[1].from.x_nm, 57000000);
    world_end(&world);
}

static void alone_it_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, OPEN_BARE, NULL, NULL, 0);
    assert_int_equal(world.status, BOARD_REFUSED);
    assert_non_null(diag_find(&world.diags, "drill-reading-open"));
    world_end(&world);
}

static void the_option_says_how_to_read_a_file(void **state)
{
    (void)state;
    struct world world;
    struct drill_format_option format = {.file = "pth.drl"};
    assert_true(drill_reading_parse("mm,3.3,trailing", &format.reading));
    world_read(&world, OPEN_BARE, NULL, &format, 1);
    assert_int_equal(world.status, BOARD_OK);
    assert_int_equal(list_of(&world, "frame-pth.drl")->holes[1].from.x_nm, 57000000);
    world_end(&world);
}

static void an_option_for_no_file_or_two_is_an_error(void **state)
{
    (void)state;
    struct world world;
    struct drill_format_option formats[2] = {{.file = "missing.drl"}, {.file = "th.drl"}};
    assert_true(drill_reading_parse("mm,3.3,trailing", &formats[0].reading));
    formats[1].reading = formats[0].reading;
    world_read(&world, OPEN_PLATED, OPEN_BARE, formats, 2);
    assert_true(diag_has_errors(&world.diags));
    assert_int_not_equal(world.status, BOARD_OK);
    const struct diag *diag = diag_find(&world.diags, "drill-format-file");
    assert_non_null(diag);
    assert_non_null(strstr(diag->text, "missing.drl: no such drill file"));
    size_t count = 0;
    for (size_t i = 0; i < world.diags.count; i++)
        count += strstr(world.diags.items[i].text, "several drill files") != NULL;
    assert_int_equal(count, 1);
    world_end(&world);
}

static void a_stated_reading_beside_the_board_is_refused(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "M48\nINCH,TZ,00.0000\nT1C0.03\n%\nT1\nX100000Y60000\nX200000Y70000\nM30\n",
               NULL, NULL, 0);
    assert_int_equal(world.status, BOARD_REFUSED);
    assert_non_null(diag_find(&world.diags, "drill-off-copper"));
    world_end(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_that_nothing_decides_follows_the_others),
        cmocka_unit_test(no_sister_lends_what_the_file_excludes),
        cmocka_unit_test(alone_it_is_refused),
        cmocka_unit_test(the_option_says_how_to_read_a_file),
        cmocka_unit_test(an_option_for_no_file_or_two_is_an_error),
        cmocka_unit_test(a_stated_reading_beside_the_board_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
