/* Resistance of small worlds of copper, in squares of their first sheet. */
#ifndef TEST_SOLVE_WORLD_H
#define TEST_SOLVE_WORLD_H

#include "isthmus/solve.h"
#include "neck_world.h"

/* Sheets of 1 ohm a square and walls that are given in ohm: rho 1 ohm mm2/m, 1 um thick. */
#define SQUARE_RHO 1.0
#define SQUARE_MM 1e-3

/* Cross-section of a wall of that metal that has this resistance over a length. */
double wall_of_ohm(double ohm, double length_mm);

struct solved {
    struct solve_answer answer;
    double tolerance;     /* set before; 0: 5e-4 */
    double depth_step_mm; /* between sheets; 0: 1 mm */
    size_t node_limit;    /* 0: the library's */
    const struct solve_probe *probes;
    size_t probe_count;
};
/* currents per terminal of the world. */
enum solve_status world_solve(struct world *world, const double *current_a, struct solved *out);
/* 1 A in at terminal 0, out at terminal 1: the volts between them. */
double world_ohm(struct world *world);

struct world *one_sheet(void); /* of 1 ohm a square */
/* Builds, solves, compares, frees. SOLVE_SHOW in the environment: prints what it found. */
void expect_squares(struct world *world, double expected, double relative, const char *what);
/* Circles on the first sheet whose chords err by 5e-5 of the radius. */
void round_disc(struct world *world, enum loop_effect effect, double x, double y, double radius);
uint32_t round_contact(struct world *world, uint32_t terminal, double x, double y, double radius);
uint32_t world_contact_polygon(struct world *world, uint32_t sheet, uint32_t terminal,
                               const double (*xy_mm)[2], size_t count);

#endif
