/* Bare-board netlists: every column, every fault's place. Columns from memory of IPC-D-356A and
 * REFERENCES section 10, confirmed on real netlists (tests/unit/test_boards_holes.c). */
#include "assertions.h"
#include "diags.h"
#include "isthmus/netlist.h"

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct netlist list;
    enum netlist_status status;
};

static void world_read(struct world *world, const char *text)
{
    world->arena = arena_new("test");
    world->diags = (struct diag_list){.arena = world->arena};
    world->status = ipc356_read(3, (const uint8_t *)text, strlen(text), world->arena, &world->diags,
                                &world->list);
}

static void world_end(struct world *world)
{
    arena_free(world->arena);
}

static void assert_diag(const struct world *world, enum diag_level level, const char *code,
                        uint32_t line, uint32_t column)
{
    assert_diag_at(&world->diags, level, code, (struct source_pos){3, line, column});
}

static void assert_refused(const char *text, const char *code, uint32_t line, uint32_t column)
{
    struct world world;
    world_read(&world, text);
    if (world.status != NETLIST_REFUSED)
        fail_msg("%s was not refused (%d): %s", code, world.status, text);
    assert_diag(&world, DIAG_ERROR, code, line, column);
    assert_int_equal(world.list.point_count, 0);
    world_end(&world);
}

static void assert_silent(const struct world *world)
{
    for (size_t i = 0; i < world->diags.count; i++)
        fail_msg("unexpected %s: %s", world->diags.items[i].code, world->diags.items[i].text);
    assert_int_equal(world->status, NETLIST_OK);
}

static void assert_text(const char *found, const char *expected)
{
    if (!expected) {
        assert_null(found);
        return;
    }
    assert_non_null(found);
    assert_string_equal(found, expected);
}

#define UNITS "P  UNITS CUST 0\n"
#define END "999\n"
/*                     1         2         3         4         5         6         7
 *            123456789012345678901234567890123456789012345678901234567890123456789012345 */
#define HOLE "317+24V             J1    -2    D0400PA00X+012345Y-000010X0700Y0000R000S3\n"
#define VIA "317GND              VIA         MD0118PA00X+064181Y-027630X0236Y0000R000S0\n"
#define VIA_IN_COLUMN "317GND              VIA        MD0118PA00X+064181Y-027630X0236Y0000R000S0\n"
#define PAD "327HEAT1_SW         Q1    -3          A01X+001000Y+002000X0394Y0571R270 S1\n"
#define TOOL "367                       -     D1016UA00X+007833Y+080285X0305Y         S3\n"

static void each_column_is_read(void **state)
{
    (void)state;
    struct world world;
    world_read(
        &world, UNITS HOLE
        "317GND              VIA        MD0118PA00X+064181Y-027630X0236Y0000R000S0\n" PAD TOOL END);
    assert_silent(&world);
    assert_int_equal(world.list.point_count, 4);
    const struct netlist_point *hole = &world.list.points[0], *via = hole + 1, *pad = hole + 2;
    const struct netlist_point *tool = hole + 3;
    assert_int_equal(hole->kind, POINT_THROUGH_HOLE);
    assert_text(hole->net, "+24V");
    assert_text(hole->ref, "J1");
    assert_text(hole->pin, "2");
    assert_int_equal(hole->at_nm.x_nm, INT64_C(12345) * 2540); /* 0.0001 in = 2540 nm */
    assert_int_equal(hole->at_nm.y_nm, -25400);
    assert_int_equal(hole->hole_nm, 1016000);
    assert_int_equal(hole->plating, PLATING_PLATED);
    assert_int_equal(hole->access, 0);
    assert_int_equal(hole->width_nm, 1778000);
    assert_int_equal(hole->height_nm, 0);
    assert_int_equal(hole->mask, 3);
    assert_false(hole->is_mid_net);
    assert_int_equal(hole->at.line, 2);
    assert_int_equal(hole->at.column, 1);

    assert_true(via->is_via && via->is_mid_net);
    assert_text(via->ref, NULL);
    assert_text(via->pin, NULL);

    assert_int_equal(pad->kind, POINT_SURFACE);
    assert_int_equal(pad->access, 1);
    assert_int_equal(pad->hole_nm, 0);
    assert_int_equal(pad->plating, PLATING_UNKNOWN);
    assert_int_equal(pad->width_nm, 394 * 2540);
    assert_int_equal(pad->height_nm, 571 * 2540);
    assert_int_equal(pad->rotation_deg, 270);
    assert_int_equal(pad->mask, 1); /* S in column 73 */

    assert_int_equal(tool->kind, POINT_TOOLING);
    assert_int_equal(tool->plating, PLATING_NONE);
    assert_text(tool->net, NULL);
    assert_text(tool->ref, NULL);
    assert_string_equal(world.list.units, "0.0001 in (stated)");
    world_end(&world);
}

static void units_are_three(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "P  UNITS CUST 1\n" HOLE END);
    assert_silent(&world);
    assert_int_equal(world.list.points[0].at_nm.x_nm, 12345000); /* 0.001 mm */
    assert_int_equal(world.list.points[0].hole_nm, 400000);
    world_end(&world);

    world_read(&world, "P  UNITS SI\n" HOLE END);
    assert_silent(&world);
    assert_int_equal(world.list.points[0].at_nm.x_nm, 12345000);
    world_end(&world);

    world_read(&world, "P  UNITS CUST 2\n" PAD END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_diag(&world, DIAG_WARNING, "netlist-radians", 0, 0);
    assert_int_equal(world.list.points[0].at_nm.x_nm, 2540000);
    assert_int_equal(world.list.points[0].rotation_deg, 155); /* 2.70 rad */
    world_end(&world);

    world_read(&world, "C comment\n" HOLE END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_diag(&world, DIAG_WARNING, "netlist-units", 2, 1);
    assert_string_equal(world.list.units, "0.0001 in (assumed)");
    world_end(&world);

    assert_refused("P  UNITS CUST 7\n" HOLE END, "netlist-units", 1, 10);
    assert_refused("P  UNITS FEET\n" HOLE END, "netlist-units", 1, 10);
    world_read(&world, "P  UNITS CUST 7\n" HOLE END);
    for (size_t i = 0; i < world.diags.count; i++) /* nor is it told that none is stated */
        assert_int_equal(world.diags.items[i].level, DIAG_ERROR);
    world_end(&world);
    assert_refused("P  UNITS CUST 0\nP  UNITS CUST 1\n" HOLE END, "netlist-units", 2, 10);
    assert_refused(HOLE "P  UNITS CUST 1\n" END, "netlist-units", 2, 10);
}

static void long_names_have_aliases(void **state)
{
    (void)state;
    struct world world;
    /* Aliases may follow the records; a number alone is a net of that name, not a key. */
    world_read(&world, UNITS
               "317NNAME1           J1    -1    D0400PA00X+000100Y+000000X0700Y0000R000S3\n"
               "317m0007            J1    -2    D0400PA00X+000200Y+000000X0700Y0000R000S3\n"
               "3171                J1    -3    D0400PA00X+000300Y+000000X0700Y0000R000S3\n"
               "317ABCDEFGHIJKLMN   J1    -4    D0400PA00X+000400Y+000000X0700Y0000R000S3\n"
               "317N/C              J1    -5    D0400PA00X+000500Y+000000X0700Y0000R000S3\n"
               "P  NNAME1  /HEATERS/CHANNEL_1/SWITCHED\nP  NNAMEm0007 GROW_LIGHT_RETURN_PATH   \n"
               "P  JOB   Cold frame controller\n" END);
    assert_silent(&world);
    assert_text(world.list.points[0].net, "/HEATERS/CHANNEL_1/SWITCHED");
    assert_text(world.list.points[0].net_as_written, "NNAME1");
    assert_text(world.list.points[1].net, "GROW_LIGHT_RETURN_PATH");
    assert_text(world.list.points[2].net, "1");
    assert_text(world.list.points[3].net, "ABCDEFGHIJKLMN");
    assert_text(world.list.points[4].net, NULL);
    assert_text(world.list.points[4].net_as_written, "N/C");
    assert_text(world.list.job, "Cold frame controller");
    assert_false(world.list.are_names_cut);
    world_end(&world);

    world_read(&world, UNITS
               "317ABCDEFGHIJKLMN   J1    -4    D0400PA00X+000400Y+000000X0700Y0000R000S3\n" END);
    assert_silent(&world);
    assert_true(world.list.are_names_cut);
    world_end(&world);

    world_read(&world, UNITS
               "317NNAME9           J1    -4    D0400PA00X+000400Y+000000X0700Y0000R000S3\n" END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_diag(&world, DIAG_WARNING, "netlist-alias-missing", 2, 1);
    world_end(&world);

    assert_refused(UNITS "P  NNAME1 A\nP  NNAME1 B\n" HOLE END, "netlist-alias", 3, 4);
    assert_refused(UNITS "P  NNAME1\n" HOLE END, "netlist-alias", 2, 4);
}

static void aliases_in_any_order_are_found(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, UNITS
               "P  NNAMEm0005 FIVE\nP  NNAMEm0002 TWO\nP  NNAMEm0009 NINE\nP  NNAMEm0001 ONE\n"
               "P  NNAMEm0002 TWO\n"
               "317m0001            J1    -1    D0400PA00X+000100Y+000000X0700Y0000R000S3\n"
               "317m0002            J1    -2    D0400PA00X+000200Y+000000X0700Y0000R000S3\n"
               "317m0005            J1    -3    D0400PA00X+000300Y+000000X0700Y0000R000S3\n"
               "317m0009            J1    -4    D0400PA00X+000400Y+000000X0700Y0000R000S3\n"
               "317m0003            J1    -5    D0400PA00X+000500Y+000000X0700Y0000R000S3\n" END);
    assert_silent(&world);
    static const char *const names[] = {"ONE", "TWO", "FIVE", "NINE", "m0003"};
    for (size_t i = 0; i < 5; i++)
        assert_text(world.list.points[i].net, names[i]);
    world_end(&world);
    assert_refused(UNITS "P  NNAMEm0005 A\nP  NNAMEm0002 B\nP  NNAMEm0005 C\n" HOLE END,
                   "netlist-alias", 4, 4);
}

static void ends_and_comments_are_passed(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, "C  ----\tcomment \001\r\nP  CODE 00\r\nP  UNITS CUST 0\r\n\r\n"
                       "317GND                          D0400PA00X+012345Y-000010\r\n999\r\n");
    assert_silent(&world);
    assert_int_equal(world.list.points[0].at.line, 5);
    assert_int_equal(world.list.points[0].width_nm, 0);
    world_end(&world);
    /* Each real netlist that was seen ends with 999: without it a whole tail may be missing. */
    assert_refused(UNITS HOLE, "netlist-no-end", 2, 0);
    assert_refused(UNITS HOLE "327GND              R1    -1          A01X+0010", "netlist-short", 3,
                   48);
    assert_refused(UNITS HOLE "327GND              R1    -1          A01X+001000Y+002000X0394",
                   "netlist-no-end", 3, 0);
    assert_refused(UNITS HOLE "99", "netlist-record", 3, 1);
    world_read(&world, UNITS HOLE END "C fine\n" PAD PAD);
    assert_int_equal(world.list.point_count, 1);
    assert_diag(&world, DIAG_WARNING, "netlist-after-end", 5, 1);
    world_end(&world);
    world_read(&world, UNITS END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_diag(&world, DIAG_NOTE, "netlist-empty", 2, 0);
    world_end(&world);
}

static void other_records_are_counted(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, UNITS HOLE "017 more of the hole\n"
                                  "378+24V            L01 X0100 X+0001Y+0001\n"
                                  "078 X+0002Y+0002\n078 X+0003Y+0002\n"
                                  "389BOARD_EDGE X+0Y+0\n379NETA NETB\n390\n307GND\n" END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_int_equal(world.list.point_count, 1);
    assert_int_equal(world.diags.count, 7); /* 017, 078, 307, 378, 379, 389, 390 */
    assert_diag(&world, DIAG_NOTE, "netlist-unused", 3, 1);
    assert_non_null(strstr(world.diags.items[1].text, "2 records with code 078"));
    world_end(&world);
    assert_refused(UNITS HOLE "517GND\n" END, "netlist-record", 3, 1);
    assert_refused(UNITS HOLE "hello\n" END, "netlist-record", 3, 1);
}

/* Codes and columns from memory: 307 a via between inner layers, 0nn more places of one record. */
static void vias_within_and_further_places_are_read(void **state)
{
    (void)state;
    struct world world;
    world_read(&world,
               UNITS "307GND              VIA         D0118PA00X+064999Y-027630X0236Y0000\n" PAD
                     "027                                   A02X+001000Y+002000X0394Y0571R270\n"
                     "099                                   A01X+001500Y+002000\n"
                     "017                                   A02\n" VIA_IN_COLUMN
                     "027                                   A01X+064300Y-027630X0100Y0000\n"
                     "378GND              L01 X0100 X+0001Y+0001\n"
                     "027                                   A01X+000001Y-000001X0100Y0000\n" END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_int_equal(world.list.point_count, 6);
    const struct netlist_point *points = world.list.points;
    assert_true(points[0].is_via && points[0].is_within);
    assert_text(points[0].net, "GND");
    assert_text(points[2].net, "HEAT1_SW"); /* the other side of the pad before */
    assert_text(points[2].ref, "Q1");
    assert_text(points[2].pin, "3");
    assert_int_equal(points[2].access, 2);
    assert_int_equal(points[2].at.line, 4);
    assert_text(points[3].net, "HEAT1_SW"); /* where it is probed: no pin */
    assert_text(points[3].ref, NULL);
    assert_int_equal(points[3].at_nm.x_nm, 1500 * 2540);
    assert_text(points[5].net, "GND"); /* a pad on a via */
    assert_true(points[5].is_via);
    assert_int_equal(points[5].kind, POINT_SURFACE);
    assert_null(diag_find(&world.diags, "netlist-duplicate"));
    assert_int_equal(world.diags.count, 3); /* 017 without a place, 378, 027 behind it */
    world_end(&world);
}

static void rotations_beyond_a_turn_are_taken_back(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, UNITS
               "327GND              R1    -1          A01X+001000Y+002000X0394Y0571R360S1\n"
               "327GND              R2    -1          A01X+002000Y+002000X0394Y0571R450S1\n" END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_int_equal(world.list.points[0].rotation_deg, 0);
    assert_int_equal(world.list.points[1].rotation_deg, 90);
    assert_diag(&world, DIAG_NOTE, "netlist-rotation", 3, 68);
    world_end(&world);
}

/* As exporters differ: tabs and lower case in parameters, blanks and ^Z behind lines, names in
 * UTF-8 padded by characters or by bytes, other words for no net. */
static void habits_of_exporters_are_read(void **state)
{
    (void)state;
    struct world world;
    world_read(
        &world,
        "c made by hand\nP\tJOB\tcold frame\np  units cust 1  \t\n"
        "327W\u00c4RME 1          R1    -1          A01X+001000Y+002000X0394Y0571R000S1   \t\n"
        "327W\u00c4RME 1         R2    -1          A01X+002000Y+002000X0394Y0571R000S1\n"
        "327no_net           R3    -1          A01X+003000Y+002000X0394Y0571R000S1\n" END "\032");
    assert_silent(&world);
    assert_text(world.list.job, "cold frame");
    assert_int_equal(world.list.point_count, 3);
    for (size_t i = 0; i < 2; i++) {
        assert_text(world.list.points[i].net, "W\u00c4RME 1");
        assert_text(world.list.points[i].pin, "1");
        assert_int_equal(world.list.points[i].at_nm.y_nm, 2000000);
    }
    assert_text(world.list.points[2].net, NULL);
    world_end(&world);
}

/* HOLE with one byte changed: refused at that column. */
static void check_column(size_t column, char byte)
{
    char text[300];
    snprintf(text, sizeof text, "%s%s%s", UNITS, HOLE, END);
    text[strlen(UNITS) + column - 1] = byte;
    assert_refused(text, "netlist-column", 2, (uint32_t)column);
}

static void a_wrong_column_is_told(void **state)
{
    (void)state;
    static const struct {
        uint8_t column;
        char byte;
    } faults[] = {{18, 'x'}, {27, 'J'}, {32, 'X'}, {33, 'Q'}, {34, 'x'}, {37, ' '},
                  {38, 'X'}, {39, 'B'}, {40, 'x'}, {42, 'Y'}, {43, '0'}, {44, 'x'},
                  {49, ' '}, {50, 'X'}, {51, 'x'}, {57, '-'}, {58, 'Y'}, {60, '.'},
                  {63, 'R'}, {67, 'x'}, {68, 'S'}, {70, '-'}, {72, 'T'}, {73, 'x'}};
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++)
        check_column(faults[i].column, faults[i].byte);
    /* One column too far: the letter M stands where the hole's D belongs. */
    assert_refused(UNITS VIA END, "netlist-column", 2, 33);
    /* Two columns too far and no M: the hole's D is where blanks belong. */
    assert_refused(
        UNITS "317GND              J1    -2      D0400PA00X+012345Y-000010X0700Y0000R000S3\n" END,
        "netlist-column", 2, 35);
}

static void short_lines_and_control_bytes_are_told(void **state)
{
    (void)state;
    assert_refused(UNITS "317GND\n" HOLE END, "netlist-short", 2, 7);
    assert_refused(UNITS HOLE "327GND              C1    -1          A01X+001000Y+00200\n" END,
                   "netlist-short", 3, 57);
    assert_refused(UNITS HOLE "327GND\t             C1    -1\n" END, "netlist-byte", 3, 7);
    assert_refused(UNITS HOLE "327GN\001              C1    -1\n" END, "netlist-byte", 3, 6);
}

static void the_same_place_twice_is_told(void **state)
{
    (void)state;
    struct world world;
    world_read(&world, UNITS HOLE HOLE END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_int_equal(world.list.point_count, 2);
    assert_diag(&world, DIAG_NOTE, "netlist-duplicate", 3, 1);
    assert_non_null(strstr(diag_find(&world.diags, "netlist-duplicate")->text, "line 2"));
    world_end(&world);

    world_read(&world, UNITS
               "327GND              R1    -1          A01X+001000Y+002000X0394Y0571R270S1\n"
               "327+24V             R2    -1          A02X+001000Y+002000X0394Y0571R270S1\n" END);
    assert_silent(&world); /* on either side: two places */
    world_end(&world);

    world_read(&world, UNITS
               "327GND              R1    -1          A01X+001000Y+002000X0394Y0571R270S1\n"
               "327+24V             R2    -1          A01X+001000Y+002000X0394Y0571R270S1\n" END);
    assert_int_equal(world.status, NETLIST_OK);
    assert_int_equal(world.list.points[0].clash_line, 3);
    assert_text(world.list.points[0].clash_net, "+24V");
    assert_int_equal(world.list.points[1].clash_line, 2);
    assert_text(world.list.points[1].clash_net, "GND");
    world_end(&world);

    world_read(&world, UNITS
               "327+24V             R2    -1          A02X+012345Y-000010X0394Y0571R270S1\n"
               "317GND              J1    -2    D0400PA00X+012345Y-000010X0700Y0000R000S3\n" END);
    assert_int_equal(world.list.points[0].clash_line, 3);
    assert_int_equal(world.list.points[1].clash_line, 2);
    world_end(&world);
}

/* Line 2 and 3 give the same hole; the other fault is told where line 3 differs. */
static void assert_hole_twice(const char *second, uint32_t column)
{
    struct world world;
    char text[400];
    snprintf(text, sizeof text, "%s%s%s%s", UNITS, HOLE, second, END);
    world_read(&world, text);
    assert_int_equal(world.status, NETLIST_OK);
    assert_int_equal(world.diags.count, 1);
    assert_diag(&world, DIAG_WARNING, "netlist-hole-twice", 3, column);
    assert_non_null(strstr(diag_find(&world.diags, "netlist-hole-twice")->text, "line 2"));
    world_end(&world);
}

static void a_hole_with_two_sizes_or_pins_is_told(void **state)
{
    (void)state;
    assert_hole_twice("317+24V             J1    -2    D0500PA00X+012345Y-000010X0700Y0000R000S3\n",
                      33);
    assert_hole_twice("317+24V             J1    -2    D0400UA00X+012345Y-000010X0700Y0000R000S3\n",
                      38);
    assert_hole_twice("317+24V             J1    -3    D0400PA00X+012345Y-000010X0700Y0000R000S3\n",
                      28);

    struct world world; /* two parts may share a hole, and a pad may be told beside it */
    world_read(&world, UNITS HOLE
               "317+24V             J2    -1    D0400PA00X+012345Y-000010X0700Y0000R000S3\n"
               "327+24V             J1    -2          A01X+012345Y-000010X0700Y0000R000S3\n" END);
    assert_silent(&world);
    world_end(&world);
}

static void other_files_are_no_netlists(void **state)
{
    (void)state;
    static const char *const others[] = {"",
                                         "\n",
                                         "hello\n",
                                         "G04*\n%FSLAX46Y46*%\nM02*\n",
                                         "M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\n",
                                         "Plain text.\nCame by mail.\n",
                                         "999\n",
                                         "net,current_a\nGND,5\n"};
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        struct world world;
        assert_false(ipc356_looks_like((const uint8_t *)others[i], strlen(others[i])));
        world_read(&world, others[i]);
        assert_int_equal(world.status, NETLIST_NOT_ONE);
        assert_int_equal(world.diags.count, 0);
        world_end(&world);
    }
    assert_true(ipc356_looks_like((const uint8_t *)UNITS, strlen(UNITS)));
    assert_true(ipc356_looks_like((const uint8_t *)HOLE, strlen(HOLE)));
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    const char *text = UNITS "P  JOB x\nP  NNAME1 LONG\n" HOLE PAD TOOL PAD "378\n" END;
    bool has_succeeded = false;
    for (uint64_t n = 1; n < 500 && !has_succeeded; n++) {
        struct arena *arena = arena_new("test");
        struct diag_list diags = {.arena = arena};
        struct netlist list;
        arena_fail_at(n);
        enum netlist_status status =
            ipc356_read(1, (const uint8_t *)text, strlen(text), arena, &diags, &list);
        arena_fail_at(0);
        has_succeeded = status == NETLIST_OK;
        if (!has_succeeded) {
            assert_int_equal(status, NETLIST_NO_MEMORY);
            assert_int_equal(list.point_count, 0);
        } else {
            assert_true(n > 15);
            assert_int_equal(list.point_count, 4);
        }
        arena_free(arena);
    }
    assert_true(has_succeeded);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_column_is_read),
        cmocka_unit_test(units_are_three),
        cmocka_unit_test(long_names_have_aliases),
        cmocka_unit_test(aliases_in_any_order_are_found),
        cmocka_unit_test(ends_and_comments_are_passed),
        cmocka_unit_test(other_records_are_counted),
        cmocka_unit_test(vias_within_and_further_places_are_read),
        cmocka_unit_test(rotations_beyond_a_turn_are_taken_back),
        cmocka_unit_test(habits_of_exporters_are_read),
        cmocka_unit_test(a_wrong_column_is_told),
        cmocka_unit_test(short_lines_and_control_bytes_are_told),
        cmocka_unit_test(the_same_place_twice_is_told),
        cmocka_unit_test(a_hole_with_two_sizes_or_pins_is_told),
        cmocka_unit_test(other_files_are_no_netlists),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
