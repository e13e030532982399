/* Load, supply, derating. */
#include "isthmus/bench.h"

#include <math.h>

double bench_load_ohm(double voltage_v, double current_a, double path_ohm)
{
    return voltage_v / current_a - path_ohm;
}

double bench_power_w(double current_a, double resistance_ohm)
{
    return current_a * current_a * resistance_ohm;
}

double bench_supply_v(double voltage_v, double current_a, double series_ohm)
{
    return voltage_v + current_a * series_ohm;
}

static double allowed_fraction(const struct derating *derating, double temperature_c)
{
    if (temperature_c <= derating->rated_c)
        return 1;
    if (temperature_c >= derating->zero_c)
        return 0;
    return (derating->zero_c - temperature_c) / (derating->zero_c - derating->rated_c);
}

double derating_allowed_w(const struct derating *derating, double temperature_c)
{
    return derating->rated_w * allowed_fraction(derating, temperature_c);
}

double derating_rated_w(const struct derating *derating, double temperature_c, double power_w)
{
    double fraction = allowed_fraction(derating, temperature_c);
    return fraction > 0 ? power_w / fraction : INFINITY;
}
