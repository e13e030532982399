/* Gerber job files. Keys: Ucamco, Gerber job format specification, as REFERENCES lists them. */
#include "assertions.h"
#include "diags.h"
#include "isthmus/package.h"

#include <math.h>

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct job_facts job;
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

static enum package_status read_text(struct world *world, const char *text)
{
    size_t size = strlen(text);
    uint8_t *bytes = exact_copy(text, size);
    enum package_status status = job_read(5, bytes, size, world->arena, &world->diags, &world->job);
    free(bytes);
    return status;
}

static const char whole[] =
    "{\n"
    "  \"Header\": {\"GenerationSoftware\": {\"Vendor\": \"x\"}},\n"
    "  \"GeneralSpecs\": {\"Size\": {\"X\": 100.1, \"Y\": 80}, \"LayerNumber\": 4,\n"
    "    \"BoardThickness\": 1.6, \"Finish\": \"ENIG\"},\n"
    "  \"FilesAttributes\": [\n"
    "    {\"Path\": \"b-F_Cu.gbr\", \"FileFunction\": \"Copper,L1,Top\", "
    "\"FilePolarity\": \"Positive\"},\n"
    "    {\"Path\": \"b-In1.gbr\", \"FileFunction\": \"Copper,L2,Inr\", "
    "\"FilePolarity\": \"Negative\"},\n"
    "    {\"Path\": \"readme\"}],\n"
    "  \"MaterialStackup\": [{\"Type\": \"Legend\"}, {\"Type\": \"Copper\", \"Thickness\": "
    "0.035},\n"
    "    {\"Type\": \"Dielectric\", \"Thickness\": 0.2}, {\"Type\": \"Copper\", \"Thickness\": "
    "0.0175},"
    "    {\"Type\": \"Copper\"}, {\"Type\": \"copper\", \"Thickness\": 0.07}]\n"
    "}\n";

static void all_facts_are_taken(void **state)
{
    struct world *world = *state;
    const struct job_facts *job = &world->job;
    assert_int_equal(read_text(world, whole), PACKAGE_OK);
    assert_int_equal(world->diags.count, 0);
    assert_int_equal(job->file_id, 5);
    assert_near(job->size_x_mm, 100.1, 0);
    assert_near(job->size_y_mm, 80, 0);
    assert_near(job->board_thickness_mm, 1.6, 0);
    assert_int_equal(job->layer_count, 4);
    assert_string_equal(job->finish, "ENIG");
    assert_int_equal(job->copper_count, 4);
    assert_near(job->copper_um[0], 35, 1e-9);
    assert_near(job->copper_um[1], 17.5, 1e-9);
    assert_true(isnan(job->copper_um[2]));
    assert_near(job->copper_um[3], 70, 1e-9);
    assert_int_equal(job->entry_count, 3);
    assert_string_equal(job->entries[0].path, "b-F_Cu.gbr");
    assert_int_equal(job->entries[0].file_function_count, 3);
    assert_string_equal(job->entries[1].file_function[2], "Inr");
    assert_string_equal(job->entries[1].polarity, "Negative");
    assert_int_equal(job->entries[2].file_function_count, 0);
    assert_null(job->entries[2].polarity);
}

static void what_is_not_stated_stays_open(void **state)
{
    struct world *world = *state;
    assert_int_equal(read_text(world, "\xef\xbb\xbf{\"GeneralSpecs\": {}}"), PACKAGE_OK);
    assert_true(isnan(world->job.board_thickness_mm) && isnan(world->job.size_x_mm));
    assert_int_equal(world->job.layer_count, 0);
    assert_int_equal(world->job.copper_count, 0);
    assert_null(world->job.finish);
}

/* Real exporters of 2020 write the section under its draft name. */
static void the_draft_name_of_the_section_is_known(void **state)
{
    struct world *world = *state;
    assert_int_equal(
        read_text(world, "{\"Overall\": {\"BoardThickness\": 1.57, \"LayerNumber\": 2}}"),
        PACKAGE_OK);
    assert_near(world->job.board_thickness_mm, 1.57, 0);
    assert_int_equal(world->job.layer_count, 2);
}

static const struct {
    const char *text, *code;
    uint32_t line, column; /* 0: unknown */
    const char *word;
} bad_jobs[] = {
    {"", "job-json", 1, 1, "JSON"},
    {"{\n  \"GeneralSpecs\": {,}\n}", "job-json", 2, 20, "JSON"},
    {"{\"GeneralSpecs\": {}", "job-json", 1, 20, "JSON"},
    {"{\"a\": 1,\n\"a\": 2}", "job-json", 2, 1, "duplicate"},
    {"{\"a\": \"\xff\"}", "job-json", 1, 0, "decode byte 0xff"},
    {"{} {}", "job-json", 1, 0, "JSON"},
    {"[]", "job-value", 0, 0, "object"},
    {"{\"GeneralSpecs\": {\"BoardThickness\": -1.6}}", "job-value", 0, 0, "BoardThickness"},
    {"{\"GeneralSpecs\": {\"BoardThickness\": \"1.6\"}}", "job-value", 0, 0, "BoardThickness"},
    {"{\"GeneralSpecs\": {\"BoardThickness\": 1600}}", "job-value", 0, 0, "BoardThickness"},
    {"{\"GeneralSpecs\": {\"LayerNumber\": 0}}", "job-value", 0, 0, "LayerNumber"},
    {"{\"GeneralSpecs\": {\"LayerNumber\": 2.5}}", "job-value", 0, 0, "LayerNumber"},
    {"{\"GeneralSpecs\": {\"LayerNumber\": 70000}}", "job-value", 0, 0, "LayerNumber"},
    {"{\"MaterialStackup\": {}}", "job-value", 0, 0, "list"},
    {"{\"MaterialStackup\": [{\"Type\": \"Copper\", \"Thickness\": 35}]}", "job-value", 0, 0,
     "Thickness of copper is not a length in mm above 0 and up to "},
    {"{\"FilesAttributes\": 3}", "job-value", 0, 0, "list"},
    {"{\"FilesAttributes\": [{\"FileFunction\": \"Profile\"}]}", "job-value", 0, 0, "Path"},
    {"{\"GeneralSpecs\": {\"LayerNumber\": 4}, \"MaterialStackup\": [{\"Type\": \"Copper\"}]}",
     "job-layers", 0, 0, "MaterialStackup lists 1"},
};

static void bad_jobs_are_refused(void **state)
{
    for (size_t i = 0; i < sizeof bad_jobs / sizeof *bad_jobs; i++) {
        void *inner = NULL;
        world_up(&inner);
        struct world *world = inner;
        enum package_status status = read_text(world, bad_jobs[i].text);
        const struct diag *diag = world->diags.count ? &world->diags.items[0] : NULL;
        bool is_right = status == PACKAGE_REFUSED && diag && diag->level == DIAG_ERROR &&
                        strcmp(diag->code, bad_jobs[i].code) == 0 && diag->advice &&
                        diag->at.file_id == 5 && diag->at.line == bad_jobs[i].line &&
                        (bad_jobs[i].column == 0 || diag->at.column == bad_jobs[i].column) &&
                        strstr(diag->text, bad_jobs[i].word);
        if (!is_right)
            fail_msg("%s: got %s at %u:%u: %s", bad_jobs[i].text, diag ? diag->code : "nothing",
                     diag ? diag->at.line : 0, diag ? diag->at.column : 0, diag ? diag->text : "");
        world_down(&inner);
    }
    (void)state;
}

static bool looks_like(const char *text)
{
    return job_looks_like((const uint8_t *)text, strlen(text));
}

static void a_job_file_is_known_by_its_keys(void **state)
{
    (void)state;
    assert_true(looks_like(whole));
    assert_true(looks_like(" \n{\"Overall\": {}}"));
    assert_false(looks_like("{\"name\": 1}"));
    assert_false(looks_like("G04 \"GeneralSpecs\"*"));
    assert_false(looks_like(""));
}

static void every_failed_allocation_is_reported(void **state)
{
    enum package_status status = PACKAGE_NO_MEMORY;
    uint64_t nth;
    for (nth = 1; status == PACKAGE_NO_MEMORY && nth < 1000; nth++) {
        void *inner = NULL;
        world_up(&inner);
        arena_fail_at(nth);
        status = read_text(inner, whole);
        arena_fail_at(0);
        world_down(&inner);
    }
    assert_int_equal(status, PACKAGE_OK);
    assert_true(nth > 10);
    (void)state;
}

/* The three job files among the real packages, as they can be read by eye. */
static void real_job_files_are_read(void **state)
{
    struct world *world = *state;
    const char *folder = boards_folder();
    if (!folder)
        skip();
    static const struct {
        const char *path;
        double thickness_mm, size_x_mm;
        size_t entry_count, copper_count;
    } jobs[] = {{"ev-charger/GerberFiles/gerber_job.gbrjob", 1.57, 54.864, 0, 0},
                {"gps-logger/GerberFiles/gerber_job.gbrjob", 1.57, 27.305, 0, 0},
                {"dc-load/gerbers.zip", 1.6, 100.1, 9, 2}};
    for (size_t i = 0; i < sizeof jobs / sizeof *jobs; i++) {
        char path[512];
        const char *paths[] = {path};
        struct file_table files = {0};
        const struct source_file *file = NULL;
        snprintf(path, sizeof path, "%s/%s", folder, jobs[i].path);
        assert_int_equal(package_read(paths, 1, NULL, world->arena, &files, &world->diags),
                         PACKAGE_OK);
        for (size_t f = 0; f < files.count; f++)
            if (job_looks_like(files.files[f].bytes, files.files[f].size))
                file = &files.files[f];
        assert_non_null(file);
        assert_int_equal(
            job_read(1, file->bytes, file->size, world->arena, &world->diags, &world->job),
            PACKAGE_OK);
        assert_near(world->job.board_thickness_mm, jobs[i].thickness_mm, 0);
        assert_near(world->job.size_x_mm, jobs[i].size_x_mm, 0);
        assert_int_equal(world->job.layer_count, 2);
        assert_int_equal(world->job.entry_count, jobs[i].entry_count);
        assert_int_equal(world->job.copper_count, jobs[i].copper_count);
        file_table_free(&files);
    }
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, world_up, world_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(all_facts_are_taken),
        CASE(what_is_not_stated_stays_open),
        CASE(the_draft_name_of_the_section_is_known),
        CASE(bad_jobs_are_refused),
        CASE(a_job_file_is_known_by_its_keys),
        CASE(every_failed_allocation_is_reported),
        CASE(real_job_files_are_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
