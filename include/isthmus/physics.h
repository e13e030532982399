/* Current, rise, copper: the formulas, each with its source and range of validity. */
#ifndef ISTHMUS_PHYSICS_H
#define ISTHMUS_PHYSICS_H

#include <stdbool.h>

/*
 * IPC-2221 section 6.2, figure 6-4, curve fit I = k dT^0.44 A^0.725 (I in A, dT in K, A in mil2),
 * k = 0.048 external, 0.024 internal. Range: <= 35 A external (17.5 A internal), 10..100 K,
 * width <= 10 mm, 0.5..3 oz copper (17..105 um); outside, "extrapolated".
 */
#define IPC2221_K_EXTERNAL 0.048
#define IPC2221_K_INTERNAL 0.024
double ipc2221_current_a(double k, double rise_k, double area_mm2);
double ipc2221_area_mm2(double k, double current_a, double rise_k);
double ipc2221_rise_k(double k, double current_a, double area_mm2);
/* (k_int/k_ext)^(1/0.725) = 0.3844: an internal area in external-equivalent area. */
double ipc2221_internal_weight(void);
bool ipc2221_is_extrapolated(double k, double current_a, double rise_k, double width_mm,
                             double thickness_mm);

/* Current that 1 mm2 of external copper carries at this rise: struct demand's scale_a. */
double ipc2221_scale_a(double k, double rise_k);
#define IPC2221_AREA_EXPONENT (1.0 / 0.725)

/* Copper, IEC 60028: rho(T) = rho20 (1 + alpha20 (T - 20)), ohm mm2/m. */
double copper_resistivity(double temperature_c);

#endif
