/* How heat leaves a board. */
#include "isthmus/thermal.h"

#include <math.h>

#include "isthmus/copper.h"
#include "isthmus/physics.h"

#define ZERO_C_K 273.15
#define GRAVITY 9.80665
#define STEFAN_BOLTZMANN 5.670374419e-8

struct air air_at(double film_temperature_k)
{
    double f = (film_temperature_k - 300) / 50;
    return (struct air){
        .viscosity_m2s = (15.89 + f * (20.92 - 15.89)) * 1e-6,
        .conductivity_w_mk = (26.3 + f * (30.0 - 26.3)) * 1e-3,
        .diffusivity_m2s = (22.5 + f * (29.9 - 22.5)) * 1e-6,
        .prandtl = 0.707 + f * (0.700 - 0.707),
    };
}

static double film_k(double surface_c, double ambient_c)
{
    return (surface_c + ambient_c) / 2 + ZERO_C_K;
}

double rayleigh(double surface_c, double ambient_c, double length_mm)
{
    double film = film_k(surface_c, ambient_c);
    struct air air = air_at(film);
    return GRAVITY / film * (surface_c - ambient_c) * pow(length_mm * 1e-3, 3) /
           (air.viscosity_m2s * air.diffusivity_m2s);
}

static double from_nusselt(double nusselt, double surface_c, double ambient_c, double length_mm)
{
    return air_at(film_k(surface_c, ambient_c)).conductivity_w_mk / (length_mm * 1e-3) * nusselt;
}

static double prandtl_term(double surface_c, double ambient_c)
{
    return 1 + pow(0.492 / air_at(film_k(surface_c, ambient_c)).prandtl, 9.0 / 16);
}

double convection_vertical(double surface_c, double ambient_c, double length_mm)
{
    double ra = rayleigh(surface_c, ambient_c, length_mm);
    double nusselt =
        0.68 + 0.670 * pow(ra, 0.25) / pow(prandtl_term(surface_c, ambient_c), 4.0 / 9);
    return from_nusselt(nusselt, surface_c, ambient_c, length_mm);
}

double convection_vertical_full(double surface_c, double ambient_c, double length_mm)
{
    double ra = rayleigh(surface_c, ambient_c, length_mm);
    double root =
        0.825 + 0.387 * pow(ra, 1.0 / 6) / pow(prandtl_term(surface_c, ambient_c), 8.0 / 27);
    return from_nusselt(root * root, surface_c, ambient_c, length_mm);
}

double convection_up(double surface_c, double ambient_c, double length_mm)
{
    double ra = rayleigh(surface_c, ambient_c, length_mm);
    double nusselt = ra < 1e7 ? 0.54 * pow(ra, 0.25) : 0.15 * cbrt(ra);
    return from_nusselt(nusselt, surface_c, ambient_c, length_mm);
}

double convection_down(double surface_c, double ambient_c, double length_mm)
{
    double nusselt = 0.27 * pow(rayleigh(surface_c, ambient_c, length_mm), 0.25);
    return from_nusselt(nusselt, surface_c, ambient_c, length_mm);
}

double radiation(double surface_c, double ambient_c, double emissivity)
{
    double hot = surface_c + ZERO_C_K, cold = ambient_c + ZERO_C_K;
    return emissivity * STEFAN_BOLTZMANN * (hot * hot + cold * cold) * (hot + cold);
}

double spreading_length_mm(double sheet_conductance_w_k, double both_faces_w_m2k)
{
    return 1e3 * sqrt(sheet_conductance_w_k / both_faces_w_m2k);
}

/* (1 - 1/cosh(n L))/n^2 for n^2 = g > 0, (1/cos(m L) - 1)/m^2 for m^2 = -g, and their common limit
 * L^2/2. The half-angle forms lose no digits when n L is small. */
static double fin_factor(double g, double half_length)
{
    double x = sqrt(fabs(g)) * half_length;
    if (x < 1e-6)
        return half_length * half_length / 2;
    if (g > 0)
        return (x > 300 ? 1 : 2 * pow(sinh(x / 2), 2) / cosh(x)) / g;
    if (x >= acos(0))
        return NAN;
    return 2 * pow(sin(x / 2), 2) / cos(x) / -g;
}

double strip_rise_k(const struct copper_strip *strip)
{
    double width = strip->width_mm * 1e-3, thickness = strip->thickness_mm * 1e-3;
    double half_length = strip->length_mm * 1e-3 / 2;
    if (!(width > 0 && thickness > 0 && half_length > 0 && strip->both_faces_w_m2k >= 0))
        return NAN;
    double rho = copper_resistivity(strip->end_c) * 1e-6; /* ohm m */
    double power = strip->current_a * strip->current_a * rho / (width * width * thickness);
    double sheet = COPPER_W_MK * thickness;
    double g = (strip->both_faces_w_m2k - copper_alpha(strip->end_c) * power) / sheet;
    return power / sheet * fin_factor(g, half_length);
}

double neck_rise_k(const struct rise_fit *fit, const struct copper_strip *strip, double beside_mm)
{
    if (!(beside_mm > strip->width_mm) || !(strip->length_mm > 0))
        return (double)NAN;
    double beside_k = rise_fit_rise_k(fit, strip->current_a, beside_mm, strip->thickness_mm);
    double long_k = rise_fit_rise_k(fit, strip->current_a, strip->width_mm, strip->thickness_mm);
    struct copper_strip between = *strip;
    between.end_c += beside_k;
    double rise_k = beside_k + strip_rise_k(&between);
    return rise_k < long_k ? rise_k : (double)NAN;
}

double board_time_constant_s(double board_mm, double copper_mm, double both_faces_w_m2k)
{
    double laminate = FR4_DENSITY_KG_M3 * FR4_HEAT_J_KGK * board_mm * 1e-3;
    return (laminate + COPPER_HEAT_J_M3K * copper_mm * 1e-3) / both_faces_w_m2k;
}

double settling_time_s(double time_constant_s, double fraction)
{
    return -time_constant_s * log1p(-fraction);
}

double adiabatic_rate_k_s(double current_a, double area_mm2, double temperature_c)
{
    double density = current_a / (area_mm2 * 1e-6);
    return density * density * copper_resistivity(temperature_c) * 1e-6 / COPPER_HEAT_J_M3K;
}
