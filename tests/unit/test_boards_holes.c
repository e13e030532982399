/*
 * Drill files and netlists of real packages (environment variable ISTHMUS_BOARDS).
 *
 * Expected counts were taken from the files by hand with grep and awk: lines with a place, plus the
 * counts of R codes; tools are the T..C lines or the sizes in comments; netlists by the first three
 * columns, nets by the distinct texts of columns 4 to 17
 * but blank and N/C.
 */
#include "assertions.h"
#include "board/netlist_match.h"
#include "isthmus/holes.h"
#include "isthmus/netlist.h"
#include "isthmus/package.h"

#include <unistd.h>

struct world {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
};

static bool ends_with(const char *text, const char *end)
{
    size_t length = strlen(text), end_length = strlen(end);
    return length >= end_length && strcmp(text + length - end_length, end) == 0;
}

/* Expected files are known by how their names end; each ending must be met once. */
static uint32_t file_of(const struct world *world, const char *end)
{
    uint32_t found = 0;
    for (size_t i = 0; i < world->files.count; i++)
        if (ends_with(world->files.files[i].name, end)) {
            if (found)
                fail_msg("two files end in %s", end);
            found = (uint32_t)i + 1;
        }
    if (!found)
        fail_msg("no file ends in %s", end);
    return found;
}

static void world_read(struct world *world, const char *folder, const char *board)
{
    char path[512];
    const char *paths[1] = {path};
    snprintf(path, sizeof path, "%s/%s", folder, board);
    *world = (struct world){.arena = arena_new("test")};
    world->diags.arena = world->arena;
    assert_int_equal(
        package_read(paths, 1, &package_default_limits, world->arena, &world->files, &world->diags),
        PACKAGE_OK);
}

static void world_end(struct world *world)
{
    file_table_free(&world->files);
    arena_free(world->arena);
}

static struct hole_fit *fit_of(struct world *world, const char *const copper[2])
{
    static struct drawing drawings[2];
    const struct drawing *both[2] = {&drawings[0], &drawings[1]};
    for (size_t i = 0; i < 2; i++) {
        uint32_t id = file_of(world, copper[i]);
        const struct source_file *file = &world->files.files[id - 1];
        struct diag_list diags = {.arena = world->arena};
        assert_int_equal(
            gerber_read(id, file->bytes, file->size, 10000000, world->arena, &diags, &drawings[i]),
            DRAWING_OK);
    }
    struct hole_fit *fit = hole_fit_new(both, 2, NULL, 0, world->arena);
    assert_non_null(fit);
    return fit;
}

struct expected_drill {
    const char *name, *reading;
    size_t hole_count, tool_count;
    int64_t first_tool_nm;
    double least_score;
    enum plating plating;
};
struct expected_board {
    const char *folder, *copper[2];
    struct expected_drill drills[2];
};

static const struct expected_board boards[] = {
    {"ac-timer",
     {".toplayer.ger", ".bottomlayer.ger"},
     {{".plated.drills.xln", "INCH, 2.4, trailing zeros kept (stated)", 67, 6, 500380, 0.9, 0},
      {".nonplated.drills.xln", "INCH, 2.4, trailing zeros kept (stated)", 4, 1, 2999740, 0.05,
       0}}},
    {"atx-breakout",
     {"-F.Cu.gbr", "-B.Cu.gbr"},
     {{".drl", "INCH, decimal point (stated)", 120, 7, 749300, 0.9, 0}}},
    {"bga-adapter",
     {".GTL", ".GBL"},
     {{".TXT", "INCH, 2.5, leading zeros kept (stated)", 11, 2, 304800, 0.99, PLATING_PLATED}}},
    {"boost-charger",
     {"TopLayer.GTL", "BottomLayer.GBL"},
     {{"Through.DRL", "METRIC, 3.3, leading zeros kept (stated)", 8, 2, 600000, 0.99,
       PLATING_PLATED},
      {"Via.DRL", "METRIC, 3.3, leading zeros kept (stated)", 16, 1, 305000, 0.99,
       PLATING_PLATED}}},
    {"dc-load",
     {"-F_Cu.gbr", "-B_Cu.gbr"},
     {{"-PTH.drl", "METRIC, decimal point (stated)", 127, 10, 400000, 0.99, PLATING_PLATED},
      {"-NPTH.drl", "METRIC, decimal point (stated)", 0, 0, 0, -1, PLATING_NONE}}},
    {"energy-monitor",
     {".GTL", ".GBL"},
     {{".TXT", "INCH, 2.4, trailing zeros kept (chosen", 85, 5, 500380, 0.9, 0}}},
    {"foc-shield",
     {"TopLayer.GTL", "BottomLayer.GBL"},
     {{"Through.DRL", "METRIC, 3.3, leading zeros kept (stated)", 128, 8, 301000, 0.99,
       PLATING_PLATED},
      {"Via.DRL", "METRIC, 3.3, leading zeros kept (stated)", 84, 4, 301000, 0.99,
       PLATING_PLATED}}},
    {"gps-logger",
     {"copper_top.gbr", "copper_bottom.gbr"},
     {{"drills.xln", "METRIC, 3.3, trailing zeros kept (stated)", 105, 4, 305000, 0.9, 0}}},
    {"hotplate",
     {"TopLayer.GTL", "BottomLayer.GBL"},
     {{"_PTH_Through.DRL", "METRIC, 3.3, leading zeros kept (stated)", 58, 7, 305000, 0.9,
       PLATING_PLATED},
      {"_NPTH_Through.DRL", "METRIC, 3.3, leading zeros kept (stated)", 4, 1, 3200000, 0.05,
       PLATING_NONE}}},
    {"hydro-charger",
     {".gtl", ".gbl"},
     {{"Charger.txt", "METRIC, decimal point (stated)", 359, 13, 300000, 0.9, 0}}},
    {"injector-12ch",
     {".gtl", ".gbl"},
     {{".drl", "INCH, decimal point (stated)", 266, 6, 635000, 0.99, 0}}},
    {"inverter-logic",
     {"Top Copper.gbr", "Bottom Copper.gbr"},
     {{"Hole].drl", "INCH, decimal point (stated)", 562, 13, 199898, 0.9, 0},
      {"(Unplated).drl", "INCH, decimal point (stated)", 12, 1, 635000, 0.05, 0}}},
    {"module-14layer",
     {"-L01.art", "-L14.art"},
     {{".drl", "METRIC, 2.5, trailing zeros kept (chosen", 6581, 4, 202900, 0.99, 0}}},
    {"porcupine-6layer",
     {"-F_Cu.gbr", "-B_Cu.gbr"},
     {{".drl", "INCH, decimal point (stated)", 510, 5, 254000, 0.9, 0}}},
    {"printer-controller",
     {".GTL", ".GBL"},
     {{".TXT", "INCH, 2.4, trailing zeros kept (chosen", 1334, 12, 381000, 0.9, 0}}},
    {"robot-power",
     {".gtl", ".gbl"},
     {{"-PTH.drl", "METRIC, decimal point (stated)", 381, 5, 300000, 0.99, PLATING_PLATED},
      {"-NPTH.drl", "METRIC, decimal point (stated)", 4, 1, 5300000, 0.05, PLATING_NONE}}},
    {"sbc-12layer",
     {"/TOP.art", "/BOTTOM.art"},
     {{".drl", "INCH, 2.5, trailing zeros kept (chosen", 1927, 12, 203200, 0.99, 0}}},
};

/* The other unit, or a digit more: the pads must contradict. */
static void check_wrong_reading(struct world *world, struct hole_fit *fit, uint32_t id,
                                struct drill_reading wrong)
{
    const struct source_file *file = &world->files.files[id - 1];
    struct drill_options options = {
        .forced = &wrong, .score = hole_fit_score, .score_context = fit};
    struct diag_list diags = {.arena = world->arena};
    struct hole_list list;
    assert_int_equal(drill_read(id, file->bytes, file->size, &options, world->arena, &diags, &list),
                     HOLES_OK);
    assert_true(list.score < 0.5);
    for (size_t i = 0; i < diags.count; i++)
        if (strcmp(diags.items[i].code, "drill-off-copper") == 0)
            return;
    fail_msg("%s: a wrong reading went unnoticed (score %.3f)", file->name, list.score);
}

static void check_wrong_readings(struct world *world, struct hole_fit *fit, uint32_t id,
                                 const struct hole_list *list)
{
    struct drill_reading wrong = list->used;
    wrong.is_inch = !wrong.is_inch;
    check_wrong_reading(world, fit, id, wrong);
    if (list->used.zeros == ZEROS_DECIMAL_POINT)
        return;
    wrong = list->used;
    wrong.integer_digits++;
    wrong.decimal_digits--;
    check_wrong_reading(world, fit, id, wrong);
}

static void check_drill(struct world *world, struct hole_fit *fit,
                        const struct expected_drill *expected)
{
    uint32_t id = file_of(world, expected->name);
    const struct source_file *file = &world->files.files[id - 1];
    struct drill_options options = {.score = hole_fit_score, .score_context = fit};
    struct diag_list diags = {.arena = world->arena};
    struct hole_list list;
    assert_true(drill_looks_like(file->bytes, file->size));
    enum holes_status status =
        drill_read(id, file->bytes, file->size, &options, world->arena, &diags, &list);
    for (size_t i = 0; i < diags.count; i++)
        print_message("  %s:%u: %s\n", file->name, diags.items[i].at.line, diags.items[i].text);
    assert_int_equal(status, HOLES_OK);
    assert_int_equal(diags.warning_count, 0);
    print_message("  %-24s %5zu holes %2zu tools, score %.3f, %s\n", expected->name,
                  list.hole_count, list.tool_count, list.score, list.reading);
    assert_int_equal(strncmp(list.reading, expected->reading, strlen(expected->reading)), 0);
    assert_int_equal(list.hole_count, expected->hole_count);
    assert_int_equal(list.tool_count, expected->tool_count);
    assert_int_equal(list.plating, expected->plating);
    assert_true(list.score >= expected->least_score);
    if (expected->tool_count)
        assert_int_equal(list.tools[0].diameter_nm, expected->first_tool_nm);
    if (list.hole_count >= 8 && expected->least_score > 0.5)
        check_wrong_readings(world, fit, id, &list);
}

static void every_real_drill_file_is_read(void **state)
{
    (void)state;
    const char *folder = boards_folder();
    if (!folder)
        skip();
    for (size_t i = 0; i < sizeof boards / sizeof *boards; i++) {
        struct world world;
        print_message("%s\n", boards[i].folder);
        world_read(&world, folder, boards[i].folder);
        struct hole_fit *fit = fit_of(&world, boards[i].copper);
        for (size_t k = 0; k < 2 && boards[i].drills[k].name; k++)
            check_drill(&world, fit, &boards[i].drills[k]);
        world_end(&world);
    }
}

static void only_drill_files_look_like_one(void **state)
{
    (void)state;
    const char *folder = boards_folder();
    if (!folder)
        skip();
    for (size_t i = 0; i < sizeof boards / sizeof *boards; i++) {
        struct world world;
        size_t expected_count = 0, drill_count = 0;
        world_read(&world, folder, boards[i].folder);
        for (size_t k = 0; k < 2; k++)
            expected_count += boards[i].drills[k].name != NULL;
        for (size_t k = 0; k < world.files.count; k++) {
            const struct source_file *file = &world.files.files[k];
            bool is_drill = drill_looks_like(file->bytes, file->size);
            drill_count += is_drill;
            if (is_drill && ipc356_looks_like(file->bytes, file->size))
                fail_msg("%s looks like both", file->name);
        }
        assert_int_equal(drill_count, expected_count);
        world_end(&world);
    }
}

static const struct expected_netlist {
    const char *folder, *name, *drill, *copper[2];
    size_t hole_count, pad_count, tooling_count, net_count, via_count;
    bool are_names_cut;
} netlists[] = {
    {"robot-power", "netlist.ipc", "-PTH.drl", {".gtl", ".gbl"}, 381, 199, 4, 38, 365, true},
    {"porcupine-6layer", ".d356", ".drl", {"-F_Cu.gbr", "-B_Cu.gbr"}, 502, 270, 8, 196, 215, true},
    {"module-14layer", ".ipc", ".drl", {"-L01.art", "-L14.art"}, 6565, 4064, 16, 2327, 1379, false},
};

static int compare_names(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static size_t count_nets(const struct netlist *list, struct arena *arena)
{
    const char **names = arena_alloc(arena, list->point_count, sizeof *names);
    size_t named_count = 0, net_count = 0;
    for (size_t i = 0; i < list->point_count; i++)
        if (list->points[i].net)
            names[named_count++] = list->points[i].net;
    qsort(names, named_count, sizeof *names, compare_names);
    for (size_t i = 0; i < named_count; i++)
        net_count += i == 0 || strcmp(names[i - 1], names[i]) != 0;
    return net_count;
}

static void check_netlist(const struct expected_netlist *expected, const char *folder)
{
    struct world world;
    size_t counts[3] = {0, 0, 0}, via_count = 0;
    world_read(&world, folder, expected->folder);
    uint32_t id = file_of(&world, expected->name);
    const struct source_file *file = &world.files.files[id - 1];
    struct diag_list diags = {.arena = world.arena};
    struct netlist list;
    assert_int_equal(ipc356_read(id, file->bytes, file->size, world.arena, &diags, &list),
                     NETLIST_OK);
    assert_int_equal(diags.error_count, 0);
    assert_int_equal(diags.warning_count, 0);
    for (size_t i = 0; i < list.point_count; i++) {
        counts[list.points[i].kind]++;
        via_count += list.points[i].is_via;
    }
    assert_int_equal(counts[POINT_THROUGH_HOLE], expected->hole_count);
    assert_int_equal(counts[POINT_SURFACE], expected->pad_count);
    assert_int_equal(counts[POINT_TOOLING], expected->tooling_count);
    assert_int_equal(via_count, expected->via_count);
    assert_int_equal(list.are_names_cut, expected->are_names_cut);
    assert_int_equal(count_nets(&list, world.arena), expected->net_count);
    world_end(&world);
}

static void every_real_netlist_is_read(void **state)
{
    (void)state;
    const char *folder = boards_folder();
    if (!folder)
        skip();
    for (size_t i = 0; i < sizeof netlists / sizeof *netlists; i++)
        check_netlist(&netlists[i], folder);
}

/* Wherever a real netlist is moved, its holes are found again, and no other offset comes near. */
static void check_registration(const struct expected_netlist *expected, const char *folder)
{
    struct world world;
    world_read(&world, folder, expected->folder);
    struct hole_fit *fit = fit_of(&world, expected->copper);
    struct drill_options options = {.score = hole_fit_score, .score_context = fit};
    struct diag_list diags = {.arena = world.arena};
    struct hole_list holes;
    struct netlist list;
    struct netlist_match match;
    uint32_t drill_id = file_of(&world, expected->drill);
    uint32_t netlist_id = file_of(&world, expected->name);
    const struct source_file *drill = &world.files.files[drill_id - 1];
    const struct source_file *netlist = &world.files.files[netlist_id - 1];
    assert_int_equal(
        drill_read(drill_id, drill->bytes, drill->size, &options, world.arena, &diags, &holes),
        HOLES_OK);
    assert_int_equal(
        ipc356_read(netlist_id, netlist->bytes, netlist->size, world.arena, &diags, &list),
        NETLIST_OK);
    struct match_point *targets = arena_alloc(world.arena, holes.hole_count, sizeof *targets);
    struct match_point *points = arena_alloc(world.arena, list.point_count, sizeof *points);
    size_t point_count = 0;
    for (size_t i = 0; i < holes.hole_count; i++)
        targets[i] = (struct match_point){holes.holes[i].from, 0, holes.holes[i].diameter_nm};
    for (size_t i = 0; i < list.point_count; i++)
        if (list.points[i].kind == POINT_THROUGH_HOLE)
            points[point_count++] =
                (struct match_point){list.points[i].at_nm, 0, list.points[i].hole_nm};
    assert_int_equal(netlist_match(points, point_count, targets, holes.hole_count, &match),
                     NETLIST_MATCH_OK);
    struct pos_nm first = match.offset;
    for (size_t i = 0; i < point_count; i++) {
        points[i].at.x_nm += 300123456;
        points[i].at.y_nm -= 51200000;
    }
    assert_int_equal(netlist_match(points, point_count, targets, holes.hole_count, &match),
                     NETLIST_MATCH_OK);
    print_message("  %-18s offset %.4f, %.4f mm, %.1f %% of its holes, next best %.1f %%\n",
                  expected->folder, (double)first.x_nm / 1e6, (double)first.y_nm / 1e6,
                  100 * match.share, 100 * match.rival_share);
    assert_true(match.share > 0.99);
    assert_true(match.rival_share < 0.8);
    assert_near((double)(match.offset.x_nm - first.x_nm), -300123456, 5000);
    assert_near((double)(match.offset.y_nm - first.y_nm), 51200000, 5000);
    world_end(&world);
}

static void every_real_netlist_is_registered(void **state)
{
    (void)state;
    const char *folder = boards_folder();
    if (!folder)
        skip();
    for (size_t i = 0; i < sizeof netlists / sizeof *netlists; i++)
        check_registration(&netlists[i], folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_real_drill_file_is_read),
        cmocka_unit_test(only_drill_files_look_like_one),
        cmocka_unit_test(every_real_netlist_is_read),
        cmocka_unit_test(every_real_netlist_is_registered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
