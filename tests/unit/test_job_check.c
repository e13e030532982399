/* A job file beside the files it speaks of: what is taken from it, and every contradiction said. */
#include "assertions.h"
#include "board_world.h"

#include <math.h>

#define COPPER "%ADD11R,2X2*%\nD11*\nX0Y0D03*\nX20000Y0D03*\n" END
#define EDGE PROFILE "G01*\nX-5000Y-5000D02*\nX25000D01*\nY5000D01*\nX-5000D01*\nY-5000D01*\n" END

/* A board of 30 x 10 mm, two layers; the job states what it is given. */
static struct board_world *world_with(const char *general, const char *files, const char *stackup)
{
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP COPPER);
    bw_file(world, "bottom.gbr", BOTTOM COPPER);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "board-job.gbrjob",
            bw_text(world,
                    "{\"Header\":{\"GenerationSoftware\":{\"Vendor\":\"x\"}},\"GeneralSpecs\":{",
                    general, "},\"FilesAttributes\":[", files, "],\"MaterialStackup\":[", stackup,
                    "]}", NULL));
    return world;
}

static struct board_world *world_of(const char *general, const char *files)
{
    return world_with(general, files,
                      "{\"Type\":\"Copper\",\"Thickness\":0.07},"
                      "{\"Type\":\"Dielectric\",\"Thickness\":1.0},"
                      "{\"Type\":\"Dielectric\",\"Thickness\":0.5},"
                      "{\"Type\":\"Copper\",\"Thickness\":0.05}");
}

#define GENERAL(x, y, layers)                                                                      \
    "\"Size\":{\"X\":" x ",\"Y\":" y "},\"LayerNumber\":" layers                                   \
    ",\"BoardThickness\":1.6,\"Finish\":\"ENIG\""
#define TOP_ENTRY "{\"Path\":\"top.gbr\",\"FileFunction\":\"Copper,L1,Top\"}"

static void assert_silent(const struct board_world *world)
{
    assert_null(bw_diag(world, "job-layer-count"));
    assert_null(bw_diag(world, "job-file-missing"));
    assert_null(bw_diag(world, "job-size"));
    assert_null(bw_diag(world, "job-thickness"));
}

static void what_agrees_is_taken_and_its_origin_kept(void **state)
{
    (void)state;
    struct board_world *world = world_of(GENERAL("30.1", "10.1", "2"), TOP_ENTRY);
    bw_must_read(world);
    assert_silent(world);
    const struct board_facts *facts = &world->board.facts;
    assert_near(facts->copper_um[1].value, 70, 1e-9);
    assert_near(facts->copper_um[2].value, 50, 1e-9);
    assert_int_equal(facts->copper_um[1].source, FACT_JOB_FILE);
    assert_string_equal(world->files.files[facts->copper_um[1].at.file_id - 1].name,
                        "board-job.gbrjob");
    assert_near(facts->board_thickness_mm.value, 1.6, 1e-9);
    assert_int_equal(facts->board_thickness_mm.source, FACT_JOB_FILE);
    assert_string_equal(world->board.job.finish, "ENIG");
    assert_near(world->board.job.dielectric_mm[0], 1.5, 1e-9);
    bw_free(world);
}

static void what_board_ini_states_wins(void **state)
{
    (void)state;
    struct board_world *world = world_of(GENERAL("30", "10", "2"), TOP_ENTRY);
    world->facts.outer_copper_um.value = 105;
    world->facts.outer_copper_um.source = FACT_BOARD_INI;
    bw_must_read(world);
    assert_false(world->board.facts.copper_um[1].value > 0);
    assert_near(world->board.facts.outer_copper_um.value, 105, 0);
    bw_free(world);
}

/* Which layer is missing nobody knows: such a package is refused. */
static void another_layer_count_is_an_error(void **state)
{
    (void)state;
    struct board_world *world = world_with(GENERAL("30", "10", "4"), TOP_ENTRY, "");
    assert_int_equal(bw_read(world), BOARD_REFUSED);
    const struct diag *diag = bw_diag(world, "roles-layer-count");
    assert_non_null(diag);
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_non_null(strstr(diag->text, "4 copper layers"));
    bw_free(world);
}

static void a_file_that_is_not_there_is_said(void **state)
{
    (void)state;
    struct board_world *world =
        world_of(GENERAL("30", "10", "2"),
                 TOP_ENTRY ",{\"Path\":\"out/PTH.drl\",\"FileFunction\":\"Plated,1,2,PTH\"},"
                           "{\"Path\":\"out\\\\BOTTOM.GBR\",\"FileFunction\":\"Copper,L2,Bot\"}");
    bw_must_read(world);
    const struct diag *diag = bw_diag(world, "job-file-missing");
    assert_non_null(diag);
    assert_non_null(strstr(diag->text, "out/PTH.drl (Plated)"));
    size_t count = 0;
    for (size_t i = 0; i < world->diags.count; i++)
        count += strcmp(world->diags.items[i].code, "job-file-missing") == 0;
    assert_int_equal(count, 1);
    bw_free(world);
}

static void another_size_is_said(void **state)
{
    (void)state;
    struct board_world *world = world_of(GENERAL("30", "12.5", "2"), TOP_ENTRY);
    bw_must_read(world);
    const struct diag *diag = bw_diag(world, "job-size");
    assert_non_null(diag);
    assert_non_null(strstr(diag->text, "30.000 x 12.500 mm"));
    assert_non_null(strstr(diag->text, "30.000 x 10.000 mm"));
    bw_free(world);
}

/* 0.07 + 0.8 + 0.05 mm for 1.6 mm. */
static void a_stackup_of_another_thickness_is_said(void **state)
{
    (void)state;
    struct board_world *world = world_with(GENERAL("30", "10", "2"), TOP_ENTRY,
                                           "{\"Type\":\"Copper\",\"Thickness\":0.07},"
                                           "{\"Type\":\"Dielectric\",\"Thickness\":0.8},"
                                           "{\"Type\":\"Copper\",\"Thickness\":0.05}");
    bw_must_read(world);
    const struct diag *diag = bw_diag(world, "job-thickness");
    assert_non_null(diag);
    assert_non_null(strstr(diag->text, "1.600 mm"));
    assert_non_null(strstr(diag->text, "0.920 mm"));
    bw_free(world);
}

static void a_job_that_states_nothing_contradicts_nothing(void **state)
{
    (void)state;
    struct board_world *world = world_of("", TOP_ENTRY);
    bw_must_read(world);
    assert_silent(world);
    bw_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_agrees_is_taken_and_its_origin_kept),
        cmocka_unit_test(what_board_ini_states_wins),
        cmocka_unit_test(another_layer_count_is_an_error),
        cmocka_unit_test(a_file_that_is_not_there_is_said),
        cmocka_unit_test(another_size_is_said),
        cmocka_unit_test(a_stackup_of_another_thickness_is_said),
        cmocka_unit_test(a_job_that_states_nothing_contradicts_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
