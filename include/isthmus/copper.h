/* Copper: resistivity, foils, hole walls, and how fast it heats when nothing cools it. */
#ifndef ISTHMUS_COPPER_H
#define ISTHMUS_COPPER_H

#include <stdbool.h>
#include <stddef.h>

/*
 * Annealed copper, IEC 60028 (1925) and ASTM B193: rho20 = 1/58 ohm mm2/m, alpha20 = 0.00393 /K
 * (read in Industrial Power Engineering Handbook, p. 970). Electrodeposited foil is a few per cent
 * worse (IPC-4562, from memory): rho20 is therefore a parameter of copper_resistivity_of.
 */
#define COPPER_RHO20 (1.0 / 58.0) /* ohm mm2/m */
#define COPPER_ALPHA20 0.00393    /* per K, referred to 20 C */

/* rho(T) = rho20 (1 + alpha20 (T - 20)), ohm mm2/m. Good from about -100 to 200 C. */
double copper_resistivity(double temperature_c);
double copper_resistivity_of(double rho20, double temperature_c);
/* alpha referred to another temperature: 1 / (1/alpha20 + T - 20), per K. */
double copper_alpha(double reference_c);
/* Sheet resistance of a foil, ohm per square. */
double copper_sheet_ohm(double thickness_mm, double temperature_c);
/* A straight conductor of rectangular section. */
double copper_resistance_ohm(double length_mm, double width_mm, double thickness_mm,
                             double temperature_c);

/*
 * Weight of copper foil: 1 oz/ft2 is 28.349523125 g on 0.09290304 m2, 305.15 g/m2; at 8.93 g/cm3
 * 34.17 um. We use the trade's 35 um an ounce (finished drawings and board makers say "1 oz,
 * 35 um"; IPC-4562 nominal 34.3 um, from memory), and say so wherever ounces are typed.
 */
#define COPPER_OZ_UM 35.0
double copper_foil_um(double weight_oz, double density_g_cm3);

/* Finished copper after processing, IPC-6012 (all from memory), um; false for a foil not listed. */
struct copper_finish {
    double foil_oz;
    double nominal_um, least_foil_um; /* as bought: nominal, and less 10 % */
    double internal_um;               /* least after processing */
    double external_um;               /* least with 20 um plating, class 1 and 2 */
    double external_class3_um;        /* least with 25 um plating */
};
extern const struct copper_finish copper_finishes[];
extern const size_t copper_finish_count;
const struct copper_finish *copper_finish_of(double foil_oz);

/*
 * Cross-section of a plated hole's wall, mm2: pi (D - t) t from the drilled diameter D,
 * pi (d + t) t from the finished one d = D - 2 t. 0 < t < D/2, else 0 for t <= 0 and a solid
 * cylinder pi D^2/4 for t >= D/2.
 */
double hole_wall_area_mm2(double drill_mm, double wall_mm);
double hole_wall_area_from_finished_mm2(double finished_mm, double wall_mm);
/* Drill that gives this wall area; the inverse of hole_wall_area_mm2. */
double hole_drill_mm(double area_mm2, double wall_mm);
/* Resistance of a wall (or any prism of copper) over its length. */
double copper_prism_ohm(double length_mm, double area_mm2, double temperature_c);

/*
 * Short overloads without cooling: all heat stays in the copper. Onderdonk's equation
 * I = A sqrt(log10(1 + (Tm - Ta)/(234 + Ta)) / (33 t)) (A in circular mil, t in s; no paper of
 * Onderdonk's is known; Adam and Brooks, "In search of Preece and Onderdonk", 2015; the constant
 * 33 as quoted in other texts), with any end temperature for Tm. In SI I = K A sqrt(ln((234 +
 * Tm)/(234 + Ta))/t), K = 226.4 A s^0.5/mm2 (IEC 60949 prints 226, from memory).
 *
 * Valid up to about 1 to 5 s: it leaves cooling out, so for longer times it gives less current than
 * a conductor really stands. NaN unless -234 < start <= end.
 */
#define COPPER_MELTS_C 1083.0
double onderdonk_constant(void);
double onderdonk_current_a(double area_mm2, double duration_s, double start_c, double end_c);
double onderdonk_duration_s(double area_mm2, double current_a, double start_c, double end_c);
double onderdonk_area_mm2(double current_a, double duration_s, double start_c, double end_c);
/* Temperature the copper has reached after this time; infinity when that overflows. */
double onderdonk_end_c(double area_mm2, double current_a, double duration_s, double start_c);
/* Preece: round wire in free air, steady, melting, I = 10244 d^1.5 (d in inch; Proc. R. Soc.
 * 1884-88). Not for conductors on boards: kept to say so when someone quotes it. */
double preece_current_a(double diameter_mm);

/* Copper as its own thermometer: R2/R1 = (234.5 + T2)/(234.5 + T1); T2 in C. The mean temperature
 * of what lies between the voltage taps. IEC 60034-1 section 8.6 prints 235 (from memory). */
#define COPPER_ZERO_C 234.5
double copper_temperature_c(double ratio, double cold_c);
double copper_ratio(double cold_c, double hot_c);

#endif
