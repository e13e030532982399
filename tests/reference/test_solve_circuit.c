/*
 * The sheet solve against a general circuit simulator (ngspice): the same copper as a net of
 * resistors on a square grid, half a siemens for every cell of copper beside a branch. The grid's
 * error at corners of 270 degrees falls like h^(4/3), so two grids give the limit.
 */
#include <math.h>
#include <unistd.h>
#include "assertions.h"
#include "solve_world.h"

/* Two layers of 12 x 12 mm with a gap each; three square plated holes; all on whole millimetres. */
#define SIDE_MM 12
static bool is_copper(int sheet, double x, double y)
{
    if (x < 0 || y < 0 || x > SIDE_MM || y > SIDE_MM)
        return false;
    if (sheet == 0 && ((x > 6 && x < 7 && y < 9) || (x > 2 && x < 4 && y > 3 && y < 4)))
        return false;
    return !(sheet == 1 && ((y > 5 && y < 6 && x > 3) || (x > 8 && y > 9)));
}
static const struct {
    double x, y; /* lower left corner of a hole of 1 x 1 mm */
    double ohm;  /* of its wall */
} holes[] = {{4, 7, 0.3}, {8, 2, 0.1}, {1, 1, 0.5}};
#define HOLES 3
static const double pads[2][4] = {{0, 10, 1, 12}, {10, 0, 12, 1}}; /* both on the first sheet */

static bool is_in_hole(double x, double y, int *hole)
{
    for (int h = 0; h < HOLES; h++)
        if (x > holes[h].x && x < holes[h].x + 1 && y > holes[h].y && y < holes[h].y + 1) {
            *hole = h;
            return true;
        }
    return false;
}

static bool is_cell(int sheet, double x, double y)
{
    int hole;
    return is_copper(sheet, x, y) && !is_in_hole(x, y, &hole);
}

/* ---- as resistors ---- */

struct grid {
    FILE *out;
    int cells; /* a millimetre */
    int next;
};

/* The name of a grid point: pads and rims are one node each. */
static void name_point(const struct grid *grid, int sheet, int i, int j, char *name, size_t size)
{
    double x = (double)i / grid->cells, y = (double)j / grid->cells;
    for (int p = 0; p < 2; p++)
        if (sheet == 0 && x >= pads[p][0] && x <= pads[p][2] && y >= pads[p][1] &&
            y <= pads[p][3]) {
            snprintf(name, size, "%s", p ? "0" : "in");
            return;
        }
    for (int h = 0; h < HOLES; h++)
        if (x >= holes[h].x && x <= holes[h].x + 1 && y >= holes[h].y && y <= holes[h].y + 1) {
            snprintf(name, size, "h%d_%d", h, sheet);
            return;
        }
    snprintf(name, size, "n%d_%d_%d", sheet, i, j);
}

static void put_branch(struct grid *grid, int sheet, int i, int j, bool is_along_x)
{
    double h = 1.0 / grid->cells, x = i * h, y = j * h, siemens;
    if (is_along_x)
        siemens =
            0.5 * is_cell(sheet, x + h / 2, y + h / 2) + 0.5 * is_cell(sheet, x + h / 2, y - h / 2);
    else
        siemens =
            0.5 * is_cell(sheet, x + h / 2, y + h / 2) + 0.5 * is_cell(sheet, x - h / 2, y + h / 2);
    char from[32], to[32];
    name_point(grid, sheet, i, j, from, sizeof from);
    name_point(grid, sheet, i + is_along_x, j + !is_along_x, to, sizeof to);
    if (siemens > 0 && strcmp(from, to) != 0)
        fprintf(grid->out, "R%d %s %s %g\n", grid->next++, from, to, 1 / siemens);
}

static void write_grid(FILE *out, int cells)
{
    struct grid grid = {out, cells, 1};
    fputs("two sheets of copper\nI1 0 in 1\n", out);
    for (int sheet = 0; sheet < 2; sheet++)
        for (int i = 0; i <= SIDE_MM * cells; i++)
            for (int j = 0; j <= SIDE_MM * cells; j++) {
                put_branch(&grid, sheet, i, j, true);
                put_branch(&grid, sheet, i, j, false);
            }
    for (int h = 0; h < HOLES; h++)
        fprintf(out, "RW%d h%d_0 h%d_1 %g\n", h, h, h, holes[h].ohm);
    fputs(".control\nset numdgt=10\nop\nprint v(in) v(h0_1) v(h1_1) v(h2_1)\n.endc\n.end\n", out);
}

struct volts {
    double in, hole[HOLES];
};

static struct volts simulate(int cells)
{
    char path[] = "/tmp/isthmus-grid-XXXXXX", command[128], line[256];
    int handle = mkstemp(path);
    assert_true(handle >= 0);
    FILE *file = fdopen(handle, "w");
    assert_non_null(file);
    write_grid(file, cells);
    fclose(file);
    snprintf(command, sizeof command, "ngspice -b %s 2>&1", path);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    struct volts volts = {NAN, {NAN, NAN, NAN}};
    while (fgets(line, sizeof line, pipe)) {
        double value;
        int hole;
        if (sscanf(line, " v(in) = %lf", &value) == 1)
            volts.in = value;
        if (sscanf(line, " v(h%d_1) = %lf", &hole, &value) == 2 && hole >= 0 && hole < HOLES)
            volts.hole[hole] = value;
    }
    pclose(pipe);
    unlink(path);
    assert_true(isfinite(volts.in));
    return volts;
}

static double limit_of(double coarse, double fine)
{
    return fine + (fine - coarse) / (pow(2, 4.0 / 3) - 1);
}

/* ---- as sheets ---- */

static struct world *build(void)
{
    struct world *world = world_new();
    for (uint32_t s = 0; s < 2; s++)
        world_sheet(world, SQUARE_MM, 1);
    for (uint32_t s = 0; s < 2; s++)
        world_box(world, s, LOOP_ADDS, 0, 0, SIDE_MM, SIDE_MM);
    world_box(world, 0, LOOP_CUTS, 6, -1, 7, 9);
    world_box(world, 0, LOOP_CUTS, 2, 3, 4, 4);
    world_box(world, 1, LOOP_CUTS, 3, 5, 13, 6);
    world_box(world, 1, LOOP_CUTS, 8, 9, 13, 13);
    for (uint32_t p = 0; p < 2; p++)
        world_contact_box(world, 0, p, pads[p][0], pads[p][1], pads[p][2], pads[p][3]);
    for (uint32_t h = 0; h < HOLES; h++) {
        double x = holes[h].x, y = holes[h].y;
        double box[4][2] = {{x, y}, {x + 1, y}, {x + 1, y + 1}, {x, y + 1}};
        world->holes[world->hole_count++] =
            (struct neck_hole){.centre = world_point(world, x, y),
                               .wall_area_mm2 = wall_of_ohm(holes[h].ohm, 1),
                               .contact = ISTHMUS_NONE,
                               .layer_from = 1,
                               .layer_to = 2};
        for (uint32_t s = 0; s < 2; s++)
            world_polygon(world, s, LOOP_CUTS, BOUND_RIM, h, box, 4);
    }
    world_build(world);
    return world;
}

static void two_sheets_agree_with_a_net_of_resistors(void **state)
{
    (void)state;
    if (system("command -v ngspice >/dev/null 2>&1") != 0) {
        print_message("skipped: no ngspice here (Debian package ngspice)\n");
        skip();
    }
    struct volts coarse = simulate(2), fine = simulate(4);
    struct world *world = build();
    /* on the rims of the holes below, 1 um inside the copper */
    struct solve_probe probes[HOLES];
    for (int h = 0; h < HOLES; h++)
        probes[h] = (struct solve_probe){
            {(int32_t)(holes[h].x * 1e6) - 1, (int32_t)(holes[h].y * 1e6) + 500000}, 2};
    struct solved solved = {.probes = probes, .probe_count = HOLES};
    assert_int_equal(world_solve(world, (double[]){1, -1}, &solved), SOLVE_OK);
    double earth = solved.answer.terminal_v[1];
    double in = limit_of(coarse.in, fine.in);
    if (getenv("SOLVE_SHOW"))
        printf("in: %.5f grid (%.5f, %.5f), %.5f sheets\n", in, coarse.in, fine.in, -earth);
    assert_near(-earth, in, 4e-3 * in);
    for (int h = 0; h < HOLES; h++) {
        double expected = limit_of(coarse.hole[h], fine.hole[h]);
        if (getenv("SOLVE_SHOW"))
            printf("hole %d: %.5f grid, %.5f sheets\n", h, expected,
                   solved.answer.probe_v[h] - earth);
        assert_near(solved.answer.probe_v[h] - earth, expected, 4e-3 * in);
    }
    world_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_sheets_agree_with_a_net_of_resistors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
