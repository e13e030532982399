/* Choosing a conductor. */
#include "isthmus/sizing.h"

#include <math.h>

#define HOLES_MOST 1e6
#define ON_THE_LIMIT 1e-9 /* a sum that is short by rounding alone needs no further hole */

double sizing_solve(const struct rise_fit *fit, enum sizing_part unknown,
                    const struct sizing *known)
{
    double width_mm = known->part[SIZING_WIDTH], current_a = known->part[SIZING_CURRENT];
    double rise_k = known->part[SIZING_RISE], thickness_mm = known->part[SIZING_COPPER];
    switch (unknown) {
    case SIZING_WIDTH:
        return rise_fit_width_mm(fit, current_a, rise_k, thickness_mm);
    case SIZING_CURRENT:
        return rise_fit_current_a(fit, rise_k, width_mm, thickness_mm);
    case SIZING_RISE:
        return rise_fit_rise_k(fit, current_a, width_mm, thickness_mm);
    case SIZING_COPPER:
        return rise_fit_thickness_mm(fit, current_a, rise_k, width_mm);
    case SIZING_PART_COUNT:
        break;
    }
    return NAN;
}

const char *sizing_outside(const struct rise_fit *fit, const struct sizing *point)
{
    return rise_fit_outside(fit, point->part[SIZING_CURRENT], point->part[SIZING_RISE],
                            point->part[SIZING_WIDTH], point->part[SIZING_COPPER]);
}

const struct rise_fit *sizing_most_cautious(bool is_internal, enum sizing_part unknown,
                                            const struct sizing *known)
{
    const struct rise_fit *best = NULL;
    double best_value = 0;
    for (size_t i = 0; i < rise_fit_count; i++) {
        const struct rise_fit *fit = &rise_fits[i];
        if (fit->is_internal != is_internal || fit->is_for_information)
            continue;
        double value = sizing_solve(fit, unknown, known);
        if (unknown == SIZING_CURRENT)
            value = -value;
        if (!best || value > best_value) {
            best = fit;
            best_value = value;
        }
    }
    return best;
}

size_t sizing_hole_count(double k, double current_a, double rise_k, double wall_area_mm2)
{
    double count = ipc2221_area_mm2(k, current_a, rise_k) / wall_area_mm2;
    if (!(count <= HOLES_MOST))
        return 0;
    count = ceil(count * (1 - ON_THE_LIMIT));
    return count < 1 ? 1 : (size_t)count;
}

double pulses_period_s(const struct pulse *pulses, size_t count)
{
    double period_s = 0;
    for (size_t i = 0; i < count; i++)
        period_s += pulses[i].duration_s;
    return period_s;
}

double pulses_rms_a(const struct pulse *pulses, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += pulses[i].current_a * pulses[i].current_a * pulses[i].duration_s;
    return sqrt(sum / pulses_period_s(pulses, count));
}
