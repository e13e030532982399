/*
 * Choosing a conductor: any one of width, current, rise and copper thickness from the other three,
 * holes by number, pulses as one steady current.
 */
#ifndef ISTHMUS_SIZING_H
#define ISTHMUS_SIZING_H

#include <stdbool.h>
#include <stddef.h>

#include "isthmus/physics.h"

enum sizing_part { SIZING_WIDTH, SIZING_CURRENT, SIZING_RISE, SIZING_COPPER, SIZING_PART_COUNT };

/* A conductor and what it does: width and copper in mm, current in A, rise in K. Indexed by enum
 * sizing_part so that one part can be solved from the others. */
struct sizing {
    double part[SIZING_PART_COUNT];
};

/* The missing part by one fit; the other three must be positive. */
double sizing_solve(const struct rise_fit *fit, enum sizing_part unknown,
                    const struct sizing *known);
/* rise_fit_outside of a complete point. */
const char *sizing_outside(const struct rise_fit *fit, const struct sizing *point);

/*
 * The fit that asks for the most copper (or promises the least current, or foresees the most heat)
 * at this point, among those of one kind of layer; fits marked for information only are left out.
 */
const struct rise_fit *sizing_most_cautious(bool is_internal, enum sizing_part unknown,
                                            const struct sizing *known);

/* Holes needed so that the sum of their walls carries a current at a rise (the cautious reading:
 * summed area against summed current); at least 1. 0: more than a million, or not a number. */
size_t sizing_hole_count(double k, double current_a, double rise_k, double wall_area_mm2);

/* Currents that follow one another and repeat. */
struct pulse {
    double current_a, duration_s; /* current >= 0, duration > 0 */
};
double pulses_period_s(const struct pulse *pulses, size_t count);
/* The steady current that heats as much: root of the mean square over the period. */
double pulses_rms_a(const struct pulse *pulses, size_t count);

#endif
