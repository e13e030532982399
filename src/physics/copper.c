/* Copper: resistivity, foils, hole walls, heating without cooling. */
#include "isthmus/copper.h"

#include <math.h>

#define PI 3.14159265358979323846
#define MM_PER_INCH 25.4
#define ONDERDONK_ZERO_C 234.0
#define ONDERDONK_33 33.0

double copper_resistivity_of(double rho20, double temperature_c)
{
    return rho20 * (1 + COPPER_ALPHA20 * (temperature_c - 20));
}

double copper_resistivity(double temperature_c)
{
    return copper_resistivity_of(COPPER_RHO20, temperature_c);
}

double copper_alpha(double reference_c)
{
    return 1 / (1 / COPPER_ALPHA20 + reference_c - 20);
}

double copper_sheet_ohm(double thickness_mm, double temperature_c)
{
    return copper_resistivity(temperature_c) * 1e-3 / thickness_mm;
}

double copper_resistance_ohm(double length_mm, double width_mm, double thickness_mm,
                             double temperature_c)
{
    return copper_sheet_ohm(thickness_mm, temperature_c) * length_mm / width_mm;
}

double copper_prism_ohm(double length_mm, double area_mm2, double temperature_c)
{
    return copper_resistivity(temperature_c) * 1e-3 * length_mm / area_mm2;
}

double copper_foil_um(double weight_oz, double density_g_cm3)
{
    const double g_per_m2 = 28.349523125 / 0.09290304;
    return weight_oz * g_per_m2 / density_g_cm3;
}

const struct copper_finish copper_finishes[] = {
    {0.5, 17.1, 15.4, 11.4, 33.4, 38.4},    {1, 34.3, 30.9, 24.9, 47.9, 52.9},
    {2, 68.6, 61.7, 55.7, 78.7, 83.7},      {3, 102.9, 92.6, 86.6, 108.6, 113.6},
    {4, 137.2, 123.5, 117.5, 139.5, 144.5},
};
const size_t copper_finish_count = sizeof copper_finishes / sizeof copper_finishes[0];

const struct copper_finish *copper_finish_of(double foil_oz)
{
    for (size_t i = 0; i < copper_finish_count; i++)
        if (fabs(copper_finishes[i].foil_oz - foil_oz) < 1e-9)
            return &copper_finishes[i];
    return NULL;
}

double hole_wall_area_mm2(double drill_mm, double wall_mm)
{
    if (wall_mm <= 0)
        return 0;
    if (wall_mm >= drill_mm / 2)
        return PI * drill_mm * drill_mm / 4;
    return PI * (drill_mm - wall_mm) * wall_mm;
}

double hole_wall_area_from_finished_mm2(double finished_mm, double wall_mm)
{
    return hole_wall_area_mm2(finished_mm + 2 * wall_mm, wall_mm);
}

double hole_drill_mm(double area_mm2, double wall_mm)
{
    return area_mm2 / (PI * wall_mm) + wall_mm;
}

double onderdonk_constant(void)
{
    /* circular mil: the area of a circle of 1 mil */
    const double mm2_per_cmil = PI / 4 * (MM_PER_INCH * 1e-3) * (MM_PER_INCH * 1e-3);
    return 1 / (mm2_per_cmil * sqrt(ONDERDONK_33 * log(10)));
}

static double heating_integral(double start_c, double end_c)
{
    if (!(start_c > -ONDERDONK_ZERO_C && end_c >= start_c))
        return NAN;
    return log1p((end_c - start_c) / (ONDERDONK_ZERO_C + start_c));
}

double onderdonk_current_a(double area_mm2, double duration_s, double start_c, double end_c)
{
    return onderdonk_constant() * area_mm2 * sqrt(heating_integral(start_c, end_c) / duration_s);
}

double onderdonk_duration_s(double area_mm2, double current_a, double start_c, double end_c)
{
    double density = onderdonk_constant() * area_mm2 / current_a;
    return density * density * heating_integral(start_c, end_c);
}

double onderdonk_area_mm2(double current_a, double duration_s, double start_c, double end_c)
{
    return current_a / onderdonk_constant() * sqrt(duration_s / heating_integral(start_c, end_c));
}

double onderdonk_end_c(double area_mm2, double current_a, double duration_s, double start_c)
{
    double density = current_a / (onderdonk_constant() * area_mm2);
    return start_c + (ONDERDONK_ZERO_C + start_c) * expm1(density * density * duration_s);
}

double preece_current_a(double diameter_mm)
{
    return 10244 * pow(diameter_mm / MM_PER_INCH, 1.5);
}

double copper_temperature_c(double ratio, double cold_c)
{
    return ratio * (COPPER_ZERO_C + cold_c) - COPPER_ZERO_C;
}

double copper_ratio(double cold_c, double hot_c)
{
    return (COPPER_ZERO_C + hot_c) / (COPPER_ZERO_C + cold_c);
}
