/*
 * Current against steady temperature rise: the published fits, each with its source and range.
 *
 * All functions here are pure. Widths and thicknesses in mm, areas in mm2, currents in A (steady
 * or r.m.s.), rises in K above ambient. Copper itself is in copper.h, the physics of cooling in
 * thermal.h, measurement in uncertainty.h.
 */
#ifndef ISTHMUS_PHYSICS_H
#define ISTHMUS_PHYSICS_H

#include <stdbool.h>
#include <stddef.h>

#include "isthmus/copper.h"

#define MM_PER_MIL 0.0254              /* exact: the inch is 25.4 mm */
#define MM2_PER_MIL2 (0.0254 * 0.0254) /* 6.4516e-4 mm2, exact */

/*
 * IPC-2221 section 6.2, figure 6-4, curve fit I = k dT^0.44 A^0.725 (I in A, dT in K, A in mil2),
 * k = 0.048 external, 0.024 internal. Range: <= 35 A external (17.5 A internal), 10..100 K,
 * width <= 10 mm, 0.5..3 oz copper (17..105 um); outside, "extrapolated".
 *
 * The inverses are exact. A current, rise or area of 0 gives 0, or infinity where it divides;
 * negative or NaN arguments give NaN.
 */
#define IPC2221_K_EXTERNAL 0.048
#define IPC2221_K_INTERNAL 0.024
double ipc2221_current_a(double k, double rise_k, double area_mm2);
double ipc2221_area_mm2(double k, double current_a, double rise_k);
double ipc2221_rise_k(double k, double current_a, double area_mm2);
/* (k_int/k_ext)^(1/0.725) = 0.3844: an internal area in external-equivalent area. */
double ipc2221_internal_weight(void);
/* True outside the range above, and for anything that is not a number. A part in 1e9 beyond a
 * limit still counts as on it (a width computed for exactly 35 A must not be flagged). */
bool ipc2221_is_extrapolated(double k, double current_a, double rise_k, double width_mm,
                             double thickness_mm);

/* Current that 1 mm2 of external copper carries at this rise: struct demand's scale_a. */
double ipc2221_scale_a(double k, double rise_k);
#define IPC2221_AREA_EXPONENT (1.0 / 0.725)

/*
 * Every published fit we know, as I = c dT^b W^p T^q with W and T in mil (an area fit has p = q).
 *
 * The table `rise_fits` holds, external ones first: IPC-2221; the IPC-D-275 refit of Brooks
 * ("Temperature rise in PCB traces", PCB Design Conference West, March 1998); Brooks and Adam
 * ("Trace currents and temperatures revisited", 2015, table 3-1, fit to the IPC-2152 charts,
 * external only: of their internal 1 oz fit only the factor 200 and the exponent 1.9 of the current
 * were seen, which is not enough to compute with); Design News 1968 (Friar and McClurg), whose data
 * Brooks later called unreliable.
 */
struct rise_fit {
    const char *name;
    const char *source;
    const char *standing; /* one plain sentence: how far to trust it */
    bool is_internal;
    bool is_for_information; /* too doubtful to size by */
    double coefficient, rise_exponent, width_exponent, thickness_exponent;
    /* range of validity as published; 0 = not stated in what we could see */
    double max_current_a, min_rise_k, max_rise_k, max_width_mm, min_thickness_mm, max_thickness_mm;
};
extern const struct rise_fit rise_fits[];
extern const size_t rise_fit_count;

double rise_fit_current_a(const struct rise_fit *fit, double rise_k, double width_mm,
                          double thickness_mm);
double rise_fit_rise_k(const struct rise_fit *fit, double current_a, double width_mm,
                       double thickness_mm);
double rise_fit_width_mm(const struct rise_fit *fit, double current_a, double rise_k,
                         double thickness_mm);
double rise_fit_thickness_mm(const struct rise_fit *fit, double current_a, double rise_k,
                             double width_mm);
/* Why a point is outside the fit's stated range ("the width is above 10 mm"), or NULL inside. */
const char *rise_fit_outside(const struct rise_fit *fit, double current_a, double rise_k,
                             double width_mm, double thickness_mm);

#endif
