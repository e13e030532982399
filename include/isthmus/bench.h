/*
 * A bench test of one net: what to connect, what to expect, how long to wait. Section 9 of the
 * reference sheet; all functions pure.
 */
#ifndef ISTHMUS_BENCH_H
#define ISTHMUS_BENCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Load that draws current_a from voltage_v through path_ohm: V/I - R_path; <= 0 if impossible. */
double bench_load_ohm(double voltage_v, double current_a, double path_ohm);
double bench_power_w(double current_a, double resistance_ohm);
/* Supply setting that leaves voltage_v behind the leads (out and back summed): V + I R. */
double bench_supply_v(double voltage_v, double current_a, double series_ohm);

/*
 * A resistor's rating over temperature: rated_w up to rated_c, then falling in a straight line to 0
 * at zero_c (the curve is the data sheet's; IEC 60115 rates film types at 70 C, from memory).
 */
struct derating {
    double rated_w, rated_c, zero_c;
};
double derating_allowed_w(const struct derating *derating, double temperature_c);
/* Rating to buy so that power_w is allowed at temperature_c; infinity at or above zero_c. */
double derating_rated_w(const struct derating *derating, double temperature_c, double power_w);

#endif
