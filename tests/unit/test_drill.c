/*
 * Drill and rout files. The rules of the older dialects (LZ and TZ say which zeros are KEPT, inch
 * 2.4 and metric 3.3 digits, patterns) are those of the machine makers' programming guides, from
 * memory; the modern form follows the published XNC format. Lengths: 1 inch = 25 400 000 nm
 * exactly (international yard and pound agreement of 1959).
 */
#include "assertions.h"
#include "diags.h"
#include "isthmus/holes.h"

#include <math.h>

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct hole_list list;
    enum holes_status status;
};

static void world_read(struct world *world, const char *text, const struct drill_options *options)
{
    world->arena = arena_new("test");
    world->diags = (struct diag_list){.arena = world->arena};
    world->status = drill_read(7, (const uint8_t *)text, strlen(text), options, world->arena,
                               &world->diags, &world->list);
}

static void world_end(struct world *world)
{
    arena_free(world->arena);
}

static void assert_diag(const struct world *world, enum diag_level level, const char *code,
                        uint32_t line, uint32_t column)
{
    assert_diag_at(&world->diags, level, code, (struct source_pos){7, line, column});
}

static void assert_hole_at(const struct hole *hole, int64_t x_nm, int64_t y_nm, int64_t size_nm)
{
    assert_int_equal(hole->from.x_nm, x_nm);
    assert_int_equal(hole->from.y_nm, y_nm);
    assert_int_equal(hole->to.x_nm, x_nm);
    assert_int_equal(hole->to.y_nm, y_nm);
    assert_int_equal(hole->diameter_nm, size_nm);
}

static void assert_slot(const struct hole *hole, int64_t x0, int64_t y0, int64_t x1, int64_t y1)
{
    assert_int_equal(hole->from.x_nm, x0);
    assert_int_equal(hole->from.y_nm, y0);
    assert_int_equal(hole->to.x_nm, x1);
    assert_int_equal(hole->to.y_nm, y1);
}

/* One error, of that code, at that place; nothing comes out. */
static void assert_refused(const char *text, const char *code, uint32_t line, uint32_t column)
{
    struct world world;
    world_read(&world, text, NULL);
    if (world.status != HOLES_REFUSED)
        fail_msg("%s was not refused (%d)", code, world.status);
    assert_diag(&world, DIAG_ERROR, code, line, column);
    assert_int_equal(world.list.hole_count, 0);
    assert_null(world.list.holes);
    world_end(&world);
}

static void assert_silent(const struct world *world)
{
    for (size_t i = 0; i < world->diags.count; i++)
        fail_msg("unexpected %s: %s", world->diags.items[i].code, world->diags.items[i].text);
    assert_int_equal(world->status, HOLES_OK);
}

/* Score: the share of holes within 1 um of one of the pads. */
struct pads {
    struct pos_nm at[8];
    size_t count, call_count;
};

static double score_pads(const struct hole *holes, size_t count, void *context)
{
    struct pads *pads = context;
    size_t hit_count = 0;
    pads->call_count++;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < pads->count; k++)
            if (llabs(holes[i].from.x_nm - pads->at[k].x_nm) < 1000 &&
                llabs(holes[i].from.y_nm - pads->at[k].y_nm) < 1000) {
                hit_count++;
                break;
            }
    return count ? (double)hit_count / (double)count : 0;
}

/* ---- the modern form ----------------------------------------------------------------------- */

static void a_modern_file_is_read(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\n"
               "; #@! TF.FileFunction,Plated,1,4,PTH\n"
               "METRIC\n"
               "; #@! TA.AperFunction,ViaDrill\n"
               "T1C0.3\n"
               "; #@! TA.AperFunction,Plated,PTH,ComponentDrill\n"
               "T02C1.05\n"
               "; #@! TD\n"
               "T3C2.0\n"
               "%\nG90\nG05\nT1\nX1.5Y-2.25\nX+3.\nT02\n"
               "; #@! TO.N,+24V\n; #@! TO.P,J1,2\nY.5\n; #@! TD\nT3\nX0Y0\nT0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 4);
    assert_int_equal(world.list.plating, PLATING_PLATED);
    assert_int_equal(world.list.layer_from, 1);
    assert_int_equal(world.list.layer_to, 4);
    assert_hole_at(&world.list.holes[0], 1500000, -2250000, 300000);
    assert_hole_at(&world.list.holes[1], 3000000, -2250000, 300000); /* Y left out: it stays */
    assert_hole_at(&world.list.holes[2], 3000000, 500000, 1050000);
    assert_hole_at(&world.list.holes[3], 0, 0, 2000000);
    assert_string_equal(world.list.holes[0].function, "ViaDrill");
    assert_string_equal(world.list.holes[2].function, "ComponentDrill");
    assert_null(world.list.holes[3].function);
    assert_string_equal(world.list.holes[2].net, "+24V");
    assert_string_equal(world.list.holes[2].ref, "J1");
    assert_string_equal(world.list.holes[2].pin, "2");
    assert_null(world.list.holes[3].net);
    assert_int_equal(world.list.holes[2].plating, PLATING_PLATED);
    assert_int_equal(world.list.holes[2].layer_to, 4);
    assert_int_equal(world.list.holes[1].at.line, 15);
    assert_int_equal(world.list.holes[1].at.column, 1);
    assert_int_equal(world.list.tool_count, 3);
    assert_int_equal(world.list.tools[0].hole_count, 2);
    assert_int_equal(world.list.file_attr_count, 1);
    assert_string_equal(world.list.file_attrs[0].name, ".FileFunction");
    assert_string_equal(world.list.file_attrs[0].fields[3], "PTH");
    assert_string_equal(world.list.reading, "METRIC, decimal point (stated)");
    world_end(&world);
}

static void inches_are_exact(void **state)
{
    (void)state;
    struct world world;
    /* 0.0001 in = 2540 nm; 0.00001 in = 254 nm; 0.000001 in = 25.4 nm, rounded once to 25;
     * 1.0000005 in = 25400012.7 nm to ...013, its negative away from zero too. */
    world_read(&world,
               "M48\nINCH\nT1C0.0300\n%\nT1\nX0.0001Y0.00001\nX0.000001Y-0.000001\n"
               "X1.0000005Y-1.0000005\nM30\n",
               NULL);
    assert_silent(&world);
    assert_hole_at(&world.list.holes[0], 2540, 254, 762000);
    assert_hole_at(&world.list.holes[1], 25, -25, 762000);
    assert_hole_at(&world.list.holes[2], 25400013, -25400013, 762000);
    world_end(&world);
}

static void halves_are_rounded_away_from_zero(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\nMETRIC\nT1C0.3\n%\nT1\nX0.0000005Y-0.0000005\nX0.00000049Y0.0000015\n"
               "X9999.999999Y-9999.999999\nX0.00000000000000001Y0.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_hole_at(&world.list.holes[0], 1, -1, 300000);
    assert_hole_at(&world.list.holes[1], 0, 2, 300000);
    assert_hole_at(&world.list.holes[2], 9999999999, -9999999999, 300000);
    assert_hole_at(&world.list.holes[3], 0, 0, 300000);
    world_end(&world);
}

static void layer_spans_and_platings_are_read(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\n; #@! TF.FileFunction,NonPlated,2,3,Blind\nMETRIC\nT1C1.0\n%\nT1\nX1.0Y1.0\n"
               "M30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.holes[0].plating, PLATING_NONE);
    assert_int_equal(world.list.holes[0].layer_from, 2);
    assert_int_equal(world.list.holes[0].layer_to, 3);
    world_end(&world);

    world_read(&world,
               "M48\n; #@! TF.FileFunction,MixedPlating,1,2\nMETRIC\n"
               "; #@! TA.AperFunction,Plated,PTH,ViaDrill\nT1C1.0\n"
               "; #@! TA.AperFunction,NonPlated,NPTH,MechanicalDrill\nT2C1.0\n"
               "%\nT1\nX1.0Y1.0\nT2\nX2.0Y2.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.plating, PLATING_UNKNOWN);
    assert_int_equal(world.list.holes[0].plating, PLATING_PLATED);
    assert_int_equal(world.list.holes[1].plating, PLATING_NONE);
    assert_string_equal(world.list.holes[1].function, "MechanicalDrill");
    world_end(&world);
    assert_refused("M48\n; #@! TF.FileFunction,Plated,4,1,PTH\nMETRIC\n%\nM30\n", "drill-span", 2,
                   23);
}

static void sections_give_the_plating_of_their_tools(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\nMETRIC,LZ\n;FILE_FORMAT=3:3\n;TYPE=PLATED\nT1C0.5\n;TYPE=NON_PLATED\nT2C3.0\n"
               "%\nT1\nX001Y001\nT2\nX002Y002\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.plating, PLATING_UNKNOWN);
    assert_int_equal(world.list.holes[0].plating, PLATING_PLATED);
    assert_int_equal(world.list.holes[1].plating, PLATING_NONE);
    world_end(&world);

    world_read(&world, "M48\n;TYPE=NON_PLATED\nMETRIC\nT1C0.5\n%\nT1\nX1.0Y1.0\nM30\n", NULL);
    assert_silent(&world);
    assert_int_equal(world.list.plating, PLATING_NONE);
    world_end(&world);
}

/* ---- zeros and digits ---------------------------------------------------------------------- */

static void check_reading(const char *header, const char *number, int64_t expected_nm)
{
    char text[200];
    struct world world;
    snprintf(text, sizeof text, "M48\n%s\nT1C0.5\n%%\nT1\nX%sY0\nM30\n", header, number);
    world_read(&world, text, NULL);
    if (world.status != HOLES_OK || world.list.hole_count != 1)
        fail_msg("%s %s was not read", header, number);
    assert_int_equal(world.list.holes[0].from.x_nm, expected_nm);
    world_end(&world);
}

static void zeros_are_kept_as_stated(void **state)
{
    (void)state;
    check_reading("METRIC,LZ,000.000", "001", 1000000);
    check_reading("METRIC,LZ,000.000", "0015", 1500000);
    check_reading("METRIC,LZ,000.000", "-0015", -1500000);
    check_reading("METRIC,TZ,000.000", "1500", 1500000);
    check_reading("METRIC,TZ,000.000", "-1", -1000);
    check_reading("METRIC,TZ,0000.00", "1500", 15000000);
    check_reading("INCH,TZ,00.0000", "15000", 38100000);
    check_reading("INCH,LZ,00.0000", "015", 38100000);
    check_reading("INCH,LZ\n;FILE_FORMAT=2:5", "00109", 2768600);
    check_reading("M72,LZ\n;FILE_FORMAT=2:5", "00109", 2768600);
    check_reading(";FORMAT={2:4/ absolute / inch / suppress leading zeros}\nFMAT,2\nINCH", "15000",
                  38100000);
    check_reading(";FORMAT={3:3/ absolute / metric / suppress trailing zeros}\nMETRIC", "0015",
                  1500000);
    check_reading(";FORMAT={3:3/ absolute / metric / keep zeros}\nMETRIC", "001500", 1500000);
    /* The unit in the comment alone; in the sizes of tools alone. */
    check_reading(";FORMAT={-:-/ absolute / inch / decimal}", "1.5", 38100000);
    check_reading(";FORMAT={-:-/ absolute / metric / decimal}", "1.5", 1500000);
    check_reading("T2C0.5\n;T2 0.0197 inch", "1.5", 38100000);
    check_reading("T2C0.5\n;T2 0.5 mm", "1.5", 1500000);
    check_reading("TZ\nM71\n;FILE_FORMAT=4:4", "15000", 1500000);
    /* A decimal point counts whatever the header says. */
    check_reading("METRIC,TZ,000.000", "1.5", 1500000);
    check_reading("INCH,LZ,00.0000", "1.5", 38100000);
}

static void the_default_digits_are_warned_of(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "M48\nINCH,TZ\nT1C0.03\n%\nT1\nX15000Y100\nM30\n", NULL);
    assert_int_equal(world.status, HOLES_OK);
    assert_diag(&world, DIAG_WARNING, "drill-digits-assumed", 6, 2);
    assert_int_equal(world.list.holes[0].from.x_nm, 38100000);
    assert_false(world.list.is_reading_stated);
    world_end(&world);
    check_reading("METRIC,TZ", "1500", 1500000);
}

static void an_open_reading_is_an_error_without_copper(void **state)
{
    (void)state;
    assert_refused("M48\nM72\nT1C0.03\n%\nT1\nX15000Y100\nM30\n", "drill-reading-open", 6, 2);
    /* No unit at all, even with decimal points. */
    assert_refused("M48\nT1C0.3\n%\nT1\nX1.5Y1.0\nM30\n", "drill-reading-open", 5, 2);
}

static void the_copper_decides_an_open_reading(void **state)
{
    (void)state;
    struct world world;
    struct pads pads = {.at = {{38100000, 254000}, {2540000, 12700000}}, .count = 2};
    struct drill_options options = {.score = score_pads, .score_context = &pads};
    world_read(&world, "M48\nM72\nT1C0.03\n%\nT1\nX15000Y100\nX1000Y5000\nM30\n", &options);
    assert_silent(&world);
    assert_hole_at(&world.list.holes[0], 38100000, 254000, 762000);
    assert_false(world.list.is_reading_stated);
    assert_near(world.list.score, 1, 0);
    assert_int_equal(world.list.used.decimal_digits, 4);
    assert_int_equal(world.list.used.zeros, ZEROS_TRAILING_KEPT);
    assert_string_equal(world.list.reading,
                        "INCH, 2.4, trailing zeros kept (chosen: it fits the pads by 100 %)");
    assert_true(pads.call_count >= 4);
    world_end(&world);
}

/* Writers that drop ".0" mix the two: the few numbers without a point decide, not the many with. */
static void a_few_numbers_without_a_point_are_decided_by_their_holes(void **state)
{
    (void)state;
    struct world world;
    struct pads pads = {.at = {{1500000, 2500000}, {10000000, 2500000}}, .count = 2};
    struct drill_options options = {.score = score_pads, .score_context = &pads};
    const char *text = "M48\nMETRIC\nT1C0.8\n%\nT1\nX1.5Y2.5\nX1.5Y2.5\nX1.5Y2.5\nX1.5Y2.5\n"
                       "X1.5Y2.5\nX1.5Y2.5\nX1.5Y2.5\nX10Y2.5\nM30\n";
    world_read(&world, text, &options);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 8);
    assert_int_equal(world.list.holes[7].from.x_nm, 10000000);
    assert_near(world.list.score, 1, 0);
    world_end(&world);
    /* The same file, and copper that says 3.3: 10 is 0.010 mm. */
    pads.at[1].x_nm = 10000;
    world_read(&world, text, &options);
    assert_silent(&world);
    assert_int_equal(world.list.holes[7].from.x_nm, 10000);
    world_end(&world);
    /* And copper that says neither. */
    pads.at[1].x_nm = 77000000;
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_diag(&world, DIAG_ERROR, "drill-off-copper", 6, 2);
    world_end(&world);
}

static void units_too_are_decided_by_the_copper(void **state)
{
    (void)state;
    struct world world;
    struct pads pads = {.at = {{38100000, 25400000}}, .count = 1};
    struct drill_options options = {.score = score_pads, .score_context = &pads};
    world_read(&world, "M48\nT1C0.03\n%\nT1\nX1.5Y1.0\nM30\n", &options);
    assert_silent(&world);
    assert_true(world.list.used.is_inch);
    assert_hole_at(&world.list.holes[0], 38100000, 25400000, 762000);
    world_end(&world);
}

static double score_everything(const struct hole *holes, size_t count, void *context)
{
    (void)holes, (void)count, (void)context;
    return 0.9;
}

static double score_nothing(const struct hole *holes, size_t count, void *context)
{
    (void)holes, (void)count;
    return context ? *(double *)context : 0;
}

static void a_tie_is_never_guessed(void **state)
{
    (void)state;
    struct world world;
    struct drill_options options = {.score = score_everything};
    const char *text = "M48\nM72\nT1C0.03\n%\nT1\nX15000Y100\nX1Y5\nM30\n";
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_diag(&world, DIAG_ERROR, "drill-reading-open", 6, 2);
    assert_non_null(
        strstr(diag_find(&world.diags, "drill-reading-open")->text, "INCH, 2.4, trailing"));
    world_end(&world);

    options.score = score_nothing;
    world_read(&world, text, &options);
    assert_diag(&world, DIAG_ERROR, "drill-off-copper", 6, 2);
    world_end(&world);

    double low = 0.3, not_a_number = (double)NAN;
    options.score_context = &low;
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    world_end(&world);
    options.score_context = &not_a_number;
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    world_end(&world);
}

static void check_listed(const char *numbers, const char *listed, const char *not_listed)
{
    char text[200];
    struct world world;
    struct drill_options options = {.score = score_everything};
    snprintf(text, sizeof text, "M48\nMETRIC\nT1C0.8\n%%\nT1\n%s\nM30\n", numbers);
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    const char *list = diag_find(&world.diags, "drill-reading-open")->text;
    assert_non_null(strstr(list, listed));
    if (not_listed)
        assert_null(strstr(list, not_listed));
    world_end(&world);
}

/* A writer that drops one kind of zero never shows it. */
static void zeros_that_are_seen_are_not_dropped(void **state)
{
    (void)state;
    check_listed("X015Y02\nX00001Y1", "leading", "trailing");
    check_listed("X150Y20\nX10000Y1", "trailing", "leading");
    check_listed("X151Y21\nX10001Y1", "leading", NULL); /* neither is seen */
    check_listed("X151Y21\nX10001Y1", "trailing", NULL);
    check_listed("X0150Y02\nX10001Y1", "leading", NULL); /* both are */
    check_listed("X0150Y02\nX10001Y1", "trailing", NULL);
    check_listed("X015000Y151000", "trailing",
                 "leading"); /* all of one width: the same, said once */
}

static void a_stated_reading_off_the_copper_is_an_error(void **state)
{
    (void)state;
    struct world world;
    /* The header says 3.3, the digits are 2.4 inch: the copper knows. */
    struct pads pads = {.at = {{38100000, 254000}}, .count = 1};
    struct drill_options options = {.score = score_pads, .score_context = &pads};
    const char *text = "M48\nMETRIC,TZ,000.000\nT1C0.8\n%\nT1\nX15000Y100\nM30\n";
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_diag(&world, DIAG_ERROR, "drill-off-copper", 6, 2);
    assert_non_null(strstr(diag_find(&world.diags, "drill-off-copper")->advice, "--drill-format"));
    assert_non_null(strstr(diag_find(&world.diags, "drill-off-copper")->text, "inch,2.4,trailing"));
    world_end(&world);

    struct drill_reading forced;
    assert_true(drill_reading_parse("mm,3.3,trailing", &forced));
    options.forced = &forced;
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_OK);
    assert_diag(&world, DIAG_WARNING, "drill-off-copper", 6, 2);
    assert_int_equal(world.list.holes[0].from.x_nm, 15000000);
    world_end(&world);
}

static void many_holes_that_fit_another_reading_are_an_error(void **state)
{
    (void)state;
    struct world world;
    struct pads pads = {.at = {{38100000, 254000}, {15000000, 100000}}, .count = 1};
    struct drill_options options = {.score = score_pads, .score_context = &pads};
    const char *text = "M48\nMETRIC,TZ,000.000\nT1C0.8\n%\nT1\nX15000Y100\nX15000Y100\nX15000Y100\n"
                       "X15000Y100\nX15000Y100\nX15000Y100\nX15000Y100\nX100000Y666\nX1Y1\nM30\n";
    pads.at[1] = (struct pos_nm){1000, 1000}; /* one hole of nine: stated is not quite 0 */
    pads.count = 2;
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_diag(&world, DIAG_ERROR, "drill-off-copper", 6, 2);
    world_end(&world);
}

/* Some writers take LZ for "leading zeros left out". Trailing zeros in numbers of several widths,
 * and never a leading one, belie it; the copper then decides between both. */
static void a_zero_rule_that_the_numbers_belie_is_open(void **state)
{
    (void)state;
    struct world world;
    struct pads pads = {.at = {{15000000, 100000}, {1200000, 30000000}}, .count = 2};
    struct drill_options options = {.score = score_pads, .score_context = &pads};
    const char *text = "M48\nMETRIC,LZ\nT1C0.8\n%\nT1\nX15000Y100\nX1200Y30000\nM30\n";
    world_read(&world, text, &options);
    assert_int_equal(world.status, HOLES_OK);
    assert_hole_at(&world.list.holes[0], 15000000, 100000, 800000);
    assert_int_equal(world.list.used.zeros, ZEROS_TRAILING_KEPT);
    assert_false(world.list.is_reading_stated);
    world_end(&world);
}

/* What the file leaves open is chosen among what it allows, but must fit better than the rest. */
static void a_choice_that_another_unit_would_beat_is_an_error(void **state)
{
    (void)state;
    struct world world;
    struct pads pads = {.count = 8};
    struct drill_options options = {.score = score_pads, .score_context = &pads};
    for (int i = 0; i < 8; i++) /* inch 2.4; five of them also where 3.3 mm puts the hole */
        pads.at[i] = (struct pos_nm){(1000 + i) * 2540, i < 5 ? 0 : 25400000};
    world_read(&world,
               "M48\nMETRIC,TZ\nT1C0.8\n%\nT1\nX1000Y0\nX1001Y0\nX1002Y0\nX1003Y0\nX1004Y0\n"
               "X1005Y10000\nX1006Y10000\nX1007Y10000\nM30\n",
               &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_diag(&world, DIAG_ERROR, "drill-off-copper", 6, 2);
    assert_non_null(strstr(diag_find(&world.diags, "drill-off-copper")->text, "inch,2.4,trailing"));
    world_end(&world);
}

static void a_missing_size_is_told_once(void **state)
{
    (void)state;
    assert_refused("M48\nMETRIC\nT1\n%\nT1\nX1.0Y1.0\nX2.0Y1.0\nX3.0Y1.0\nM30\n", "drill-tool-size",
                   6, 1);
}

/* Punched tape has zero bytes before and behind, old disks an end mark: none of it is a word. */
static void padding_round_a_file_is_no_word(void **state)
{
    (void)state;
    static const char text[] = "\0\0\0M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nM30\n\x1a\0\0\n\0";
    struct arena *arena = arena_new("test");
    struct diag_list diags = {.arena = arena};
    struct hole_list list;
    assert_int_equal(
        drill_read(7, (const uint8_t *)text, sizeof text - 1, NULL, arena, &diags, &list),
        HOLES_OK);
    assert_int_equal(diags.count, 0);
    assert_int_equal(list.hole_count, 1);
    assert_hole_at(&list.holes[0], 1000000, 2000000, 800000);
    arena_free(arena);
}

static void a_forced_reading_is_taken(void **state)
{
    (void)state;
    struct world world;
    struct drill_reading forced;
    struct drill_options options = {.forced = &forced};
    assert_true(drill_reading_parse("inch,2.4,leading", &forced));
    world_read(&world, "M48\nM72\nT1C0.03\n%\nT1\nX015Y0\nM30\n", &options);
    assert_silent(&world);
    assert_int_equal(world.list.holes[0].from.x_nm, 38100000);
    assert_string_equal(world.list.reading,
                        "INCH, 2.4, leading zeros kept (as --drill-format says)");
    world_end(&world);
}

static void the_option_is_parsed(void **state)
{
    (void)state;
    struct drill_reading reading = {0};
    assert_true(drill_reading_parse("mm,3.3,leading", &reading));
    assert_false(reading.is_inch);
    assert_int_equal(reading.zeros, ZEROS_LEADING_KEPT);
    assert_int_equal(reading.integer_digits, 3);
    assert_true(drill_reading_parse("inch,decimal", &reading));
    assert_true(reading.is_inch);
    assert_int_equal(reading.zeros, ZEROS_DECIMAL_POINT);
    assert_true(drill_reading_parse("mm,4.2,decimal", &reading));
    static const char *const wrong[] = {"",
                                        "mm",
                                        "mm,",
                                        "mm,3.3",
                                        "mm,3.3,",
                                        "cm,3.3,leading",
                                        "mm,leading",
                                        "mm,0.0,leading",
                                        "mm,33,leading",
                                        "mm,3.3,leadings"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        assert_false(drill_reading_parse(wrong[i], &reading));
}

/* ---- tools --------------------------------------------------------------------------------- */

static void tools_are_defined_in_many_ways(void **state)
{
    (void)state;
    struct world world;
    /* Feeds and speeds, long numbers, a definition in the body, no point in a whole millimetre. */
    world_read(&world,
               "M48\nMETRIC\nT1F200S65C0.8H500Z+0.1\nT001B3C0.8\nT12C1\n%\nT0001\nX1.0Y1.0\n"
               "T12\nX2.0Y2.0\nT5C.9\nX3.0Y3.0\nF100S20\nX4.0Y4.0\nT1202X5.0Y5.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 5);
    assert_int_equal(world.list.holes[0].diameter_nm, 800000);
    assert_int_equal(world.list.holes[1].diameter_nm, 1000000);
    assert_int_equal(world.list.holes[2].diameter_nm, 900000);
    assert_int_equal(world.list.holes[3].diameter_nm, 900000);
    assert_int_equal(world.list.holes[4].tool, 12); /* T1202: tool 12, compensation 2 */
    world_end(&world);
}

static void sizes_may_stand_in_comments_only(void **state)
{
    (void)state;
    struct world world;
    /* No header, no T codes: the tools are used in turn, M00 stops between them. */
    world_read(&world,
               ";   Holesize 1. = 8.000000 Tolerance = +0.0/-0.0 PLATED MILS Quantity = 3\n"
               ";   Holesize 2. = 126.000000 Tolerance = +3.0/-3.0 NON_PLATED MILS Quantity = 1\n"
               "INCH,TZ,00.0000\n%\nG90\nX0010000Y0020000\nR2X1000\nM00\nX0000000Y0000000\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 4);
    assert_hole_at(&world.list.holes[0], 25400000, 50800000, 203200);
    assert_hole_at(&world.list.holes[2], 30480000, 50800000, 203200);
    assert_hole_at(&world.list.holes[3], 0, 0, 3200400);
    assert_int_equal(world.list.holes[0].plating, PLATING_PLATED);
    assert_int_equal(world.list.holes[3].plating, PLATING_NONE);
    world_end(&world);

    /* A quantity that is not met: the order of the tools cannot be trusted. */
    assert_refused("; Holesize 1. = 8.0 PLATED MILS Quantity = 2\nINCH,TZ,00.0000\n%\nX1000Y2000\n"
                   "M30\n",
                   "drill-quantity", 1, 3);
    /* More stops than tools. */
    assert_refused("; Holesize 1. = 8.0 PLATED MILS Quantity = 1\nINCH,TZ,00.0000\n%\nX1000Y2000\n"
                   "M00\nX2000Y1\nM30\n",
                   "drill-no-tool", 6, 1);
}

static void comments_and_commands_are_compared(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\nMETRIC\nT01C.2029\n"
               ";T01 Holesize 1. = 0.202900 Tolerance = +0/-0 PLATED MM Quantity = 1\n"
               "%\nT01\nX1.0Y1.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.holes[0].plating, PLATING_PLATED);
    world_end(&world);

    world_read(&world,
               "M48\nMETRIC\n;Holesize 1 = 0.600 mm\nT01C0.800\n"
               ";T2 1.2 mm Quantity = 9\nT2C1.2\n%\nT01\nX1.0Y1.0\nT2\nX1.0Y2.0\nM30\n",
               NULL);
    assert_int_equal(world.status, HOLES_OK);
    assert_diag(&world, DIAG_WARNING, "drill-tool-twice", 4, 5);
    assert_diag(&world, DIAG_WARNING, "drill-quantity", 6, 4);
    assert_int_equal(world.list.holes[0].diameter_nm, 800000);
    world_end(&world);
}

static void faulty_tools_are_refused(void **state)
{
    (void)state;
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nT2\nX1.0Y1.0\nM30\n", "drill-tool-undefined", 5, 2);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nX1.0Y1.0\nM30\n", "drill-no-tool", 5, 1);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\nT0\nX2.0Y1.0\nM30\n", "drill-no-tool", 8,
                   1);
    assert_refused("M48\nMETRIC\nT1C0.0\n%\nT1\n  X1.0Y1.0\nM30\n", "drill-tool-size", 6, 3);
    assert_refused("M48\nMETRIC\nT1\n%\nT1\nX1.0Y1.0\nM30\n", "drill-tool-size", 6, 1);
    assert_refused("M48\nMETRIC\nT1C-0.8\n%\nT1\nX1.0Y1.0\nM30\n", "drill-tool-size", 6, 1);
    assert_refused("M48\nMETRIC\nT1C301.0\n%\nT1\nX1.0Y1.0\nM30\n", "drill-tool-size", 3, 4);
    assert_refused("M48\nMETRIC\nT1C0.8\nT1C0.9\n%\nT1\nX1.0Y1.0\nM30\n", "drill-tool-twice", 4, 4);
    assert_refused("M48\nMETRIC\nT0C0.8\n%\nT1\nX1.0Y1.0\nM30\n", "drill-tool-number", 3, 2);
    /* 1000 without a point: 1000 mm is no drill, 1.000 mm under 3.3 is. 12: 12 mm or 12 um? only
     * the first exists. 800 in inch 2.4 would be 0.08 in or 800 in. */
    struct world world;
    world_read(&world, "M48\nMETRIC,TZ,000.000\nT1C1000\nT2C12\n%\nT1\nX1Y1\nT2\nX2Y2\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.holes[0].diameter_nm, 1000000);
    assert_int_equal(world.list.holes[1].diameter_nm, 12000000);
    world_end(&world);
    /* 5 with 4.2 digits: 5 mm, or 0.05 mm: both could be. */
    assert_refused("M48\nMETRIC,TZ,0000.00\nT1C5\n%\nT1\nX1Y1\nM30\n", "drill-tool-size", 3, 4);
    /* An unused tool of size 0 harms nobody. */
    world_read(&world, "M48\nMETRIC\nT1C0.8\nT2C0.0\n%\nT1\nX1.0Y1.0\nM30\n", NULL);
    assert_silent(&world);
    world_end(&world);
}

/* ---- moves --------------------------------------------------------------------------------- */

static void repeats_step_on(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nR3X0.5Y-.25\nX9.0\nR01Y1.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 6);
    assert_hole_at(&world.list.holes[3], 2500000, 1250000, 800000);
    assert_hole_at(&world.list.holes[4], 9000000, 1250000, 800000);
    assert_hole_at(&world.list.holes[5], 9000000, 2250000, 800000);
    world_end(&world);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nR3\nM30\n", "drill-repeat", 7, 1);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nR900000X1.0\nM30\n", "drill-range", 7, 1);
}

static void incremental_and_zero_set_are_read(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\nMETRIC\nICI,ON\nT1C0.8\n%\nT1\nX1.0Y1.0\nX1.0\nG90\nX5.0Y5.0\nG91\nY-1.0\n"
               "G90\nG93X10.0Y20.0\nX1.0Y1.0\nM30\n",
               NULL);
    assert_int_equal(world.status, HOLES_OK);
    assert_diag(&world, DIAG_WARNING, "drill-zero-set", 14, 1);
    assert_hole_at(&world.list.holes[0], 1000000, 1000000, 800000);
    assert_hole_at(&world.list.holes[1], 2000000, 1000000, 800000);
    assert_hole_at(&world.list.holes[2], 5000000, 5000000, 800000);
    assert_hole_at(&world.list.holes[3], 5000000, 4000000, 800000);
    assert_hole_at(&world.list.holes[4], 11000000, 21000000, 800000);
    world_end(&world);
}

static void g85_is_a_slot(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\nMETRIC,LZ,000.000\nT1C0.6\n%\nT1\nX004320Y002023G85X004320Y002723\n"
               "X001G85Y003\nG85X002\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 3);
    assert_slot(&world.list.holes[0], 4320000, 2023000, 4320000, 2723000);
    assert_slot(&world.list.holes[1], 1000000, 2723000, 1000000, 3000000);
    assert_slot(&world.list.holes[2], 1000000, 3000000, 2000000, 3000000);
    assert_int_equal(world.list.holes[0].path, ISTHMUS_NONE);
    assert_int_equal(world.list.tools[0].hole_count, 3);
    world_end(&world);
    assert_refused("M48\nMETRIC\nT1C0.6\n%\nT1\nX1.0Y1.0G85\nM30\n", "drill-slot", 6, 1);
}

static void a_routed_path_is_slots_of_one_path(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\nMETRIC\nT1C1.0\n%\nT1\nX0.0Y0.0\nG00X1.0Y1.0\nM15\nG01X2.0\nY3.0\nM16\n"
               "G00X5.0Y5.0\nM15\nM17\nG00X6.0Y6.0\nM15\nG01X7.0Y7.0M16\nG05\nX8.0Y8.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 6);
    assert_int_equal(world.list.holes[0].path, ISTHMUS_NONE);
    assert_slot(&world.list.holes[1], 1000000, 1000000, 2000000, 1000000);
    assert_slot(&world.list.holes[2], 2000000, 1000000, 2000000, 3000000);
    assert_int_equal(world.list.holes[1].path, world.list.holes[2].path);
    assert_hole_at(&world.list.holes[3], 5000000, 5000000, 1000000); /* plunged, not moved */
    assert_true(world.list.holes[3].path != world.list.holes[2].path);
    assert_slot(&world.list.holes[4], 6000000, 6000000, 7000000, 7000000);
    assert_hole_at(&world.list.holes[5], 8000000, 8000000, 1000000);
    assert_int_equal(world.list.tools[0].hole_count, 5); /* two hits, three paths */
    world_end(&world);
    assert_refused("M48\nMETRIC\nT1C1.0\n%\nT1\nG00X1.0Y1.0\nG01X2.0\nM30\n", "drill-rout-up", 7,
                   4);
    assert_refused("M48\nMETRIC\nT1C1.0\n%\nT1\nX1.0Y1.0\nM15\nX2.0\nM30\n", "drill-rout-up", 7, 1);
}

/* Every piece lies within 0.5 um of the circle, in order, ends exact. */
static void check_arc(const char *moves, struct pos_nm centre, double radius_nm, double sweep_rad)
{
    char text[300];
    struct world world;
    snprintf(text, sizeof text, "M48\nMETRIC\nT1C1.0\n%%\nT1\nG00X10.0Y0.0\nM15\n%s\nM16\nM30\n",
             moves);
    world_read(&world, text, NULL);
    assert_silent(&world);
    double swept = 0;
    for (size_t i = 0; i < world.list.hole_count; i++) {
        const struct hole *piece = &world.list.holes[i];
        double ax = (double)(piece->from.x_nm - centre.x_nm);
        double ay = (double)(piece->from.y_nm - centre.y_nm);
        double bx = (double)(piece->to.x_nm - centre.x_nm);
        double by = (double)(piece->to.y_nm - centre.y_nm);
        assert_near(hypot(ax, ay), radius_nm, 1);
        assert_near(hypot(bx, by), radius_nm, 1);
        assert_true(radius_nm - hypot((ax + bx) / 2, (ay + by) / 2) <= 501);
        swept += atan2(ax * by - ay * bx, ax * bx + ay * by);
        assert_int_equal(piece->path, 0);
        if (i)
            assert_slot(piece, world.list.holes[i - 1].to.x_nm, world.list.holes[i - 1].to.y_nm,
                        piece->to.x_nm, piece->to.y_nm);
    }
    assert_near(swept, sweep_rad, 1e-6);
    assert_true(world.list.hole_count > 20);
    assert_int_equal(world.list.tools[0].hole_count, 1);
    world_end(&world);
}

static void arcs_are_flattened_finely(void **state)
{
    (void)state;
    const double quarter = acos(-1.0) / 2;
    const struct pos_nm origin = {0, 0};
    check_arc("G03X0.0Y10.0A10.0", origin, 10e6, quarter);
    check_arc("G03X0.0Y10.0I-10.0J0.0", origin, 10e6, quarter);
    check_arc("G02X0.0Y10.0I-10.0J0.0", origin, 10e6, -3 * quarter);
    check_arc("G03X10.0Y0.0I-10.0", origin, 10e6, 4 * quarter);
    check_arc("G02I-10.0J0.0", origin, 10e6, -4 * quarter);
    check_arc("G03X-10.0Y0.0A10.0", origin, 10e6, 2 * quarter);
    /* Radii along no axis: from (8, 6) to (-6, 8) about (2, -6), a right angle apart. */
    check_arc("G03X-4.0Y2.0I-8.0J-6.0", (struct pos_nm){2000000, -6000000}, 10e6, quarter);
    check_arc("G02X-4.0Y2.0I-8.0J-6.0", (struct pos_nm){2000000, -6000000}, 10e6, -3 * quarter);
    check_arc("G03X-6.0Y-12.0I-8.0J-6.0", (struct pos_nm){2000000, -6000000}, 10e6, 2 * quarter);
    /* Clockwise by radius, the smaller arc: the centre lies on the other side of the chord. */
    check_arc("G02X0.0Y10.0A10.0", (struct pos_nm){10000000, 10000000}, 10e6, -quarter);
}

static void faulty_arcs_are_refused(void **state)
{
    (void)state;
#define ROUT "M48\nMETRIC\nT1C1.0\n%\nT1\nG00X10.0Y0.0\nM15\n"
    assert_refused(ROUT "G03X0.0Y10.0A3.0\nM16\nM30\n", "drill-arc", 8, 4);
    assert_refused(ROUT "G03X0.0Y10.0\nM16\nM30\n", "drill-arc", 8, 4);
    assert_refused(ROUT "G03X0.0Y10.0I-10.0J5.0\nM16\nM30\n", "drill-arc", 8, 4);
    assert_refused(ROUT "G03X10.0Y0.0A3.0\nM16\nM30\n", "drill-arc", 8, 4);
    assert_refused(ROUT "G03X0.0Y10.0I0.0J0.0\nM16\nM30\n", "drill-arc", 8, 4);
    assert_refused(ROUT "G41\nG01X0.0Y10.0\nM16\nM30\n", "drill-unsupported", 8, 1);
}

static void patterns_are_stepped(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\nMETRIC\nT1C0.8\n%\nT1\nX100.0Y0.0\nM25\nX1.0Y1.0\nG00X2.0Y1.0\nM15\nG01X3.0\n"
               "Y2.0\nM16\nG05\nM01\nM02X10.0\nR2M02Y20.0\nM08\nX50.0Y50.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 1 + 3 + 3 + 6 + 1);
    assert_hole_at(&world.list.holes[4], 11000000, 1000000, 800000);
    assert_slot(&world.list.holes[5], 12000000, 1000000, 13000000, 1000000);
    assert_hole_at(&world.list.holes[7], 11000000, 21000000, 800000); /* on from the copy before */
    assert_hole_at(&world.list.holes[10], 11000000, 41000000, 800000);
    assert_hole_at(&world.list.holes[13], 50000000, 50000000, 800000);
    assert_int_equal(world.list.holes[5].path, world.list.holes[6].path);
    assert_true(world.list.holes[5].path != world.list.holes[2].path);
    assert_true(world.list.holes[8].path != world.list.holes[5].path);
    assert_int_equal(world.list.tools[0].hole_count, 2 + 2 * 4);
    world_end(&world);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\nM02X10.0\nM30\n", "drill-pattern", 7, 1);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nT1\nM25\nX1.0Y1.0\nM25\nM30\n", "drill-unsupported", 8,
                   1);
    static const char *const codes[] = {"M25", "M01", "M08", "M02X1.0"};
    for (size_t i = 0; i < sizeof codes / sizeof *codes; i++) {
        char text[100];
        snprintf(text, sizeof text, "M48\nFMAT,1\nMETRIC\nT1C0.8\n%%\nT1\nX1.0Y1.0\n%s\nM30\n",
                 codes[i]);
        assert_refused(text, "drill-unsupported", 8, 1);
    }
    /* Format 2 ends patterns so; a second one begins behind. Paths before it keep their numbers. */
    world_read(&world,
               "M48\nMETRIC\nT1C0.8\n%\nT1\nG00X1.0Y1.0\nM15\nG01X2.0\nM16\nG00X3.0\nM15\n"
               "G01X4.0\nM16\nM08\nG00X5.0\nM15\nG01X6.0\nM16\nM01\nM02X10.0\nM02X10.0\nM02\n"
               "G05\nX9.0Y9.0\nM01\nM02Y1.0\nM30\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 7);
    for (uint32_t i = 0; i < 5; i++)
        assert_int_equal(world.list.holes[i].path, i);
    assert_slot(&world.list.holes[4], 25000000, 1000000, 26000000, 1000000);
    assert_hole_at(&world.list.holes[6], 9000000, 10000000, 800000);
    world_end(&world);
}

/* ---- the rest of the grammar --------------------------------------------------------------- */

static void old_headers_are_passed(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "%\r\nM48\r\nVER,1\r\nFMAT,2\r\nICI,OFF\r\nDETECT,ON\r\nATC,ON\r\nR,T\r\n"
               "METRIC,TZ,000.000\r\nT1C0.8\r\nM95\r\nG90\r\nM71\r\nG81\r\nM47,hello\r\n"
               "N10 T1\r\nX1000Y1000\r\nM09\r\nG04X100\r\nX2000\r\nM30X0Y0\r\n\r\n",
               NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 2);
    assert_int_equal(world.list.holes[1].at.line, 20);
    world_end(&world);
    world_read(&world, "M48\nMETRIC\nFOO,1\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\nX2.0Y2.0\n", NULL);
    assert_int_equal(world.status, HOLES_OK);
    assert_diag(&world, DIAG_WARNING, "drill-command", 3, 1);
    assert_diag(&world, DIAG_WARNING, "drill-after-end", 9, 1);
    assert_int_equal(world.list.hole_count, 1);
    world_end(&world);
}

static void a_dwell_is_a_time_and_no_place(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "M48\nMETRIC\nT1C0.8\n%\nT1\nX1.5Y1.5\nG04X100\nX2.5\nM30\n", NULL);
    assert_silent(&world);
    assert_int_equal(world.list.hole_count, 2);
    assert_int_equal(world.list.used.zeros, ZEROS_DECIMAL_POINT);
    world_end(&world);
}

/* ---- other ways to write the same ----------------------------------------------------------- */

/* Two holes of 0.8 mm at 1, 2 and 3, 2 mm, written so. */
static void check_same_holes(const char *text)
{
    struct world world;
    if (!drill_looks_like((const uint8_t *)text, strlen(text)))
        fail_msg("no drill file: %s", text);
    world_read(&world, text, NULL);
    if (world.status != HOLES_OK || world.list.hole_count != 2)
        fail_msg("not read (%s): %s", world.diags.count ? world.diags.items[0].text : "silently",
                 text);
    for (size_t i = 0; i < world.diags.count; i++)
        fail_msg("unexpected %s: %s in %s", world.diags.items[i].code, world.diags.items[i].text,
                 text);
    assert_hole_at(&world.list.holes[0], 1000000, 2000000, 800000);
    assert_hole_at(&world.list.holes[1], 3000000, 2000000, 800000);
    world_end(&world);
}

/* Comments in parentheses, block numbers and blanks between and in words: EIA RS-274-D and ISO
 * 6983-1, from memory. Small letters: common practice, no source. */
static void the_same_holes_are_written_in_many_ways(void **state)
{
    (void)state;
    check_same_holes("m48\nmetric\nt1c0.8\n%\nt1\nx1.0y2.0\nx3.0\nm30\n");
    check_same_holes("(a board; of ours)\nM48\nMETRIC (mm)\n(tools)\nT1C0.8 (plated)\n%\n(go) T1\n"
                     "X1.0(first)Y2.0\nX3.0 (second) ; (third\nM30\n");
    check_same_holes("N1 M48\nN2 METRIC\nN3 T1C0.8\nN4 %\nN5T1\nN10X1.0Y2.0\nn0020 X3.0\n"
                     "N30 (end)\nN40 M30\n");
    check_same_holes("M48\nMETRIC\nT1 C 0.8 F 200 S 65\n%\nT 01\nX 1.0 Y 2.0\n\tX\t3.0  \nM 30\n");
    check_same_holes("M48\nMETRIC , TZ , 000.000\nT1C0.8\n%\nT1\nX1000Y2000\nX3000\nM30\n");
    check_same_holes("M48\nMETRIC LZ 000.000\nT1C0.8\n%\nT1\nX001Y002\nX003\nM30\n");
    check_same_holes("M48\nVER , 1\nFMAT , 2\nICI , OFF\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nX3.0\n"
                     "M30\n");
    /* FMAT,1 (programmer's guide, from memory): the same as long as no pattern is stepped. */
    check_same_holes("M48\nVER,1\nFMAT,1\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nX3.0\nM30\n");
    check_same_holes("M48\nFMAT 2\nICI\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nX2.0\nM30\n");
    check_same_holes("M48\nMETRIC\nT1C0.8\n%\nG91\nT1\nX1.0Y2.0\nX2.0\nM30\n");
}

/* Feeds, speeds, hit counts and depths in any order about the size; leading zeros of tools; T0. */
static void tool_lines_are_read_in_any_order(void **state)
{
    (void)state;
    check_same_holes("M48\nMETRIC\nT01F085S60C0.8H1500B30Z-2.5\n%\nT1\nX1.0Y2.0\nX3.0\nT0\nM30\n");
    check_same_holes("M48\nMETRIC\nT1Z-2.5H1500S60F85B30C.8\n%\nT001\nX1.0Y2.0\nX3.0\nT00\nM30\n");
    check_same_holes("M48\nMETRIC\nT1C0.8\n%\nT0001\nM06\nX1.0Y2.0\nX3.0\nT0\nM30\n");
    assert_refused("M48\nMETRIC\nT1\nC0.8\n%\nT1\nX1.0Y2.0\nM30\n", "drill-word", 4, 1);
}

/* Without M48: tools in the body, and the tape's marks round it all. Repeats; units in the body. */
static void bodies_without_a_header_are_read(void **state)
{
    (void)state;
    check_same_holes("%\nM71\nT1C0.8\nX1.0Y2.0\nX3.0\nM30\n");
    check_same_holes("%\nG90\nM71\nT1C0.8\nX1.0Y2.0\nX3.0\n%\n");
    check_same_holes("%\nM48\nM71,TZ,000.000\nT1C0.8\n%\nT1\nX1000Y2000\nX3000\nM00\n");
    check_same_holes("M48\nMETRIC\nT1C0.8\n%\nM71\nT1\nX1.0Y2.0\nR01X2.0\nM30\n%\n");
    check_same_holes("M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nX3.0\nM02\n");
    check_same_holes("M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y2.0\nX3.0\nM30X0Y0\n%\n");
    /* A header alone is no whole file, though its last line is the mark. */
    assert_refused("M71\nT1C0.8\nINCH,TZ\nX1.0Y1.0\n", "drill-contradiction", 3, 1);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\n", "drill-no-end", 4, 0);
    assert_refused("METRIC\nT1C0.8\nX1.0Y1.0\n", "drill-no-end", 3, 0);
}

/* What is not read says what it is. */
static void what_is_not_read_is_named(void **state)
{
    (void)state;
#define BODY "M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\n"
    static const char *const refused[] = {"G32X5.0Y5.0A2.0",
                                          "G82X1.0Y1.0",
                                          "G83X1.0",
                                          "G84X2.0",
                                          "G87X2.0Y2.0",
                                          "M97,TEXT",
                                          "M98,TEXT",
                                          "M70",
                                          "M80",
                                          "M90",
                                          "G45",
                                          "G81X3.0Y3.0Z-2.0R1"};
    for (size_t i = 0; i < sizeof refused / sizeof *refused; i++) {
        char text[200];
        snprintf(text, sizeof text, "%s%s\nM30\n", BODY, refused[i]);
        assert_refused(text, "drill-unsupported", 7, 1);
    }
    assert_refused(BODY "/X2.0Y2.0\nM30\n", "drill-word", 7, 1); /* may be left out, or not */
    assert_refused(BODY "X2.0(open\nM30\n", "drill-word", 7, 5);
    assert_refused(BODY "X12 34Y2.0\nM30\n", "drill-word", 7, 5);
    assert_refused("M48\nICI,MAYBE\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\n", "drill-ici", 2, 1);
    assert_refused("M48\nMETRIC\nT1C0.8\n%\nT1\nG00X1.0Y1.0\nX2.0\nX3.0\nM30\n", "drill-idle-moves",
                   6, 1);
    struct world world;
    world_read(&world, BODY "G00X0.0Y0.0\nX2.0\nM30\n", NULL);
    assert_int_equal(world.status, HOLES_OK);
    assert_diag(&world, DIAG_WARNING, "drill-idle-moves", 7, 1);
    world_end(&world);
    world_read(&world, BODY "G00X0.0Y0.0\nM30\n", NULL); /* parked */
    assert_silent(&world);
    world_end(&world);
}

static void drill_files_are_known_by_their_lines(void **state)
{
    (void)state;
    static const char *const drills[] = {
        "M48\nM30\n",
        "\xef\xbb\xbfM48\r\nM30\r\n",
        "%\nT01C0.8\nX1.0Y1.0\nM30\n",
        "T1\nX100Y100\nY200\nT2\nX0Y1\nM30\n",
        "; Holesize 1. = 8.0 PLATED MILS Quantity = 3\nG90\nX100Y100\nM30\n",
        "INCH,TZ\nX100Y100\n",
    };
    static const char *const others[] = {
        "X100Y100\nX200Y200\n", /* places alone */
        "T1\nT2\nM30\n",        /* tools alone */
        "T1\nX100Y100D03*\nX200Y100D03*\nM02*\n",
        "M48 is a code\nand M30 too\nof which\nthis text\ntells\nmany\nthings\nthat\nare\nno\n"
        "use\nM48\n",
    };
    for (size_t i = 0; i < sizeof drills / sizeof *drills; i++)
        if (!drill_looks_like((const uint8_t *)drills[i], strlen(drills[i])))
            fail_msg("no drill file: %s", drills[i]);
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        if (drill_looks_like((const uint8_t *)others[i], strlen(others[i])))
            fail_msg("a drill file: %s", others[i]);
}

static void lone_carriage_returns_end_lines(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "M48\rMETRIC\rT1C0.8\r%\rT1\rX1.0Y1.0\rM30\r", NULL);
    assert_silent(&world);
    assert_int_equal(world.list.holes[0].at.line, 6);
    world_end(&world);
}

static void empty_files_are_fine(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               "M48\n; #@! TF.FileFunction,NonPlated,1,2,NPTH\nFMAT,2\nMETRIC\n%\nT0\nM30\n", NULL);
    assert_int_equal(world.status, HOLES_OK);
    assert_int_equal(world.list.plating, PLATING_NONE);
    assert_diag(&world, DIAG_NOTE, "drill-empty", 0, 0);
    world_end(&world);
    world_read(&world, "", NULL);
    assert_int_equal(world.status, HOLES_OK);
    assert_diag(&world, DIAG_NOTE, "drill-empty", 0, 0);
    world_end(&world);
}

static void faults_are_told_with_their_place(void **state)
{
    (void)state;
#define HEAD "M48\nMETRIC\nT1C0.8\n%\nT1\n"
    assert_refused(HEAD "X1.0Y1.0\nX1.0Q5\nM30\n", "drill-word", 7, 5);
    assert_refused(HEAD "X1.0Y1.0X3.0\nM30\n", "drill-word", 6, 9);
    assert_refused(HEAD "X1.0Y\nM30\n", "drill-word", 6, 5);
    assert_refused(HEAD "X1.0.5Y1.0\nM30\n", "drill-word", 6, 5);
    assert_refused(HEAD "X1.0Y1.0\001\nM30\n", "drill-word", 6, 9);
    assert_refused(HEAD "X1234567890123456789Y1.0\nM30\n", "drill-word", 6, 1);
    assert_refused(HEAD "X1.0\nM30\n", "drill-no-place", 6, 1);
    assert_refused(HEAD "X1.0Y99999.0\nM30\n", "drill-range", 6, 6);
    assert_refused(HEAD "X1.0Y1.0\nG87X1.0Y2.0\nM30\n", "drill-unsupported", 7, 1);
    assert_refused(HEAD "X1.0Y1.0\nM98,TEXT\nM30\n", "drill-unsupported", 7, 1);
    assert_refused(HEAD "X1.0Y1.0\nHELLO\nM30\n", "drill-command", 7, 1);
    assert_refused(HEAD "X1.0Y1.0\n", "drill-no-end", 6, 0);
    assert_refused("M48\nMETRIC\nINCH\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\n", "drill-contradiction", 3,
                   1);
    assert_refused("M48\nMETRIC,LZ,000.000\nT1C0.8\n%\nG90M72\nT1\nX1Y1\nM30\n",
                   "drill-contradiction", 5, 1);
    assert_refused("M48\nMETRIC,LZ\nTZ\nT1C0.8\n%\nT1\nX1Y1\nM30\n", "drill-contradiction", 3, 1);
    assert_refused("M48\nMETRIC,XZ\nT1C0.8\n%\nT1\nX1Y1\nM30\n", "drill-unit-field", 2, 8);
    assert_refused("M48\nFMAT,3\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\n", "drill-fmat", 2, 1);
    struct world world;
    world_read(&world, HEAD "X1.0Q5\nM30\n", NULL);
    assert_non_null(strstr(diag_find(&world.diags, "drill-word")->text, "\"Q5\""));
    world_end(&world);
}

static void too_many_holes_are_refused(void **state)
{
    (void)state;
    struct world world;
    struct drill_options options = {.max_holes = 10};
    world_read(&world, HEAD "X1.0Y1.0\nR100X0.1\nM30\n", &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_diag(&world, DIAG_ERROR, "drill-too-many", 7, 5);
    world_end(&world);
    world_read(&world, HEAD "X1.0Y1.0\nM01\nR100M02X0.1\nM30\n", &options);
    assert_int_equal(world.status, HOLES_REFUSED);
    assert_diag(&world, DIAG_ERROR, "drill-too-many", 8, 1);
    world_end(&world);
}

static void other_files_are_no_drill_files(void **state)
{
    (void)state;
    static const char *const others[] = {
        "G04 a drawing*\n%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\nX0Y0D03*\nM02*\n",
        "P  UNITS CUST 0\n317GND              VIA        "
        "MD0118PA00X+064181Y-027630X0236Y0000R000\n",
        "This is a text. It speaks of M48 and T1C0.8.\nAnd of X1Y1.\n",
        "{\"Header\": {}}\n",
        "PK\003\004\001\002",
        "\n\n\n",
        "net,current_a\nGND,5\n"};
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        struct world world;
        assert_false(drill_looks_like((const uint8_t *)others[i], strlen(others[i])));
        world_read(&world, others[i], NULL);
        assert_int_equal(world.status, HOLES_NOT_ONE);
        assert_int_equal(world.diags.count, 0);
        world_end(&world);
    }
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    const char *text = "M48\n; #@! TF.FileFunction,Plated,1,4,PTH\nM72\n"
                       "; #@! TA.AperFunction,ViaDrill\nT1C0.03\nFOO\n%\nT1\nX15000Y100\n"
                       "; #@! TO.P,J1,1\nX1000Y5000\nM30\n";
    bool has_succeeded = false;
    for (uint64_t n = 1; n < 500 && !has_succeeded; n++) {
        struct arena *arena = arena_new("test");
        struct diag_list diags = {.arena = arena};
        struct hole_list list;
        struct pads pads = {.at = {{38100000, 254000}, {2540000, 12700000}}, .count = 2};
        struct drill_options options = {.score = score_pads, .score_context = &pads};
        arena_fail_at(n);
        enum holes_status status =
            drill_read(1, (const uint8_t *)text, strlen(text), &options, arena, &diags, &list);
        arena_fail_at(0);
        has_succeeded = status == HOLES_OK;
        if (!has_succeeded) {
            assert_int_equal(status, HOLES_NO_MEMORY);
            assert_int_equal(list.hole_count, 0);
        } else {
            assert_true(n > 5);
            assert_int_equal(list.hole_count, 2);
        }
        arena_free(arena);
    }
    assert_true(has_succeeded);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_modern_file_is_read),
        cmocka_unit_test(inches_are_exact),
        cmocka_unit_test(halves_are_rounded_away_from_zero),
        cmocka_unit_test(layer_spans_and_platings_are_read),
        cmocka_unit_test(sections_give_the_plating_of_their_tools),
        cmocka_unit_test(zeros_are_kept_as_stated),
        cmocka_unit_test(the_default_digits_are_warned_of),
        cmocka_unit_test(an_open_reading_is_an_error_without_copper),
        cmocka_unit_test(the_copper_decides_an_open_reading),
        cmocka_unit_test(a_few_numbers_without_a_point_are_decided_by_their_holes),
        cmocka_unit_test(units_too_are_decided_by_the_copper),
        cmocka_unit_test(a_tie_is_never_guessed),
        cmocka_unit_test(zeros_that_are_seen_are_not_dropped),
        cmocka_unit_test(a_stated_reading_off_the_copper_is_an_error),
        cmocka_unit_test(many_holes_that_fit_another_reading_are_an_error),
        cmocka_unit_test(a_zero_rule_that_the_numbers_belie_is_open),
        cmocka_unit_test(a_choice_that_another_unit_would_beat_is_an_error),
        cmocka_unit_test(a_missing_size_is_told_once),
        cmocka_unit_test(padding_round_a_file_is_no_word),
        cmocka_unit_test(a_forced_reading_is_taken),
        cmocka_unit_test(the_option_is_parsed),
        cmocka_unit_test(tools_are_defined_in_many_ways),
        cmocka_unit_test(sizes_may_stand_in_comments_only),
        cmocka_unit_test(comments_and_commands_are_compared),
        cmocka_unit_test(faulty_tools_are_refused),
        cmocka_unit_test(repeats_step_on),
        cmocka_unit_test(incremental_and_zero_set_are_read),
        cmocka_unit_test(g85_is_a_slot),
        cmocka_unit_test(a_routed_path_is_slots_of_one_path),
        cmocka_unit_test(arcs_are_flattened_finely),
        cmocka_unit_test(faulty_arcs_are_refused),
        cmocka_unit_test(patterns_are_stepped),
        cmocka_unit_test(old_headers_are_passed),
        cmocka_unit_test(a_dwell_is_a_time_and_no_place),
        cmocka_unit_test(the_same_holes_are_written_in_many_ways),
        cmocka_unit_test(tool_lines_are_read_in_any_order),
        cmocka_unit_test(bodies_without_a_header_are_read),
        cmocka_unit_test(what_is_not_read_is_named),
        cmocka_unit_test(drill_files_are_known_by_their_lines),
        cmocka_unit_test(lone_carriage_returns_end_lines),
        cmocka_unit_test(empty_files_are_fine),
        cmocka_unit_test(faults_are_told_with_their_place),
        cmocka_unit_test(too_many_holes_are_refused),
        cmocka_unit_test(other_files_are_no_drill_files),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
