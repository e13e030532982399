/* How heat leaves a board: air, radiation, conduction along copper and laminate, and how fast. */
#ifndef ISTHMUS_THERMAL_H
#define ISTHMUS_THERMAL_H

/*
 * Air at the film temperature, Incropera table A.4 (from memory), linear between 300 and 350 K;
 * meant for 280 to 400 K.
 */
struct air {
    double viscosity_m2s, conductivity_w_mk, diffusivity_m2s, prandtl;
};
struct air air_at(double film_temperature_k);
/* Ra = g (Ts - Ta) L^3 / (T_film nu alpha); temperatures in C, length in mm. */
double rayleigh(double surface_c, double ambient_c, double length_mm);

/*
 * Heat transfer coefficients of still air at sea level, W/m2K. length_mm: height of a vertical
 * plate; area/perimeter of a horizontal one.
 *
 * vertical   Churchill and Chu 1975 (from memory): laminar form, Ra <= 1e9, and the full form
 * horizontal hot side up 0.54 Ra^1/4 (1e4..1e7), 0.15 Ra^1/3 (1e7..1e11); down 0.27 Ra^1/4
 *            (1e5..1e10) (course notes; McAdams 1954, Lloyd and Moran)
 */
double convection_vertical(double surface_c, double ambient_c, double length_mm);
double convection_vertical_full(double surface_c, double ambient_c, double length_mm);
double convection_up(double surface_c, double ambient_c, double length_mm);
double convection_down(double surface_c, double ambient_c, double length_mm);
/* h_r = e s (Ts^2 + Ta^2)(Ts + Ta), W/m2K. Solder mask e = 0.9, bare copper 0.05, heavily oxidised
 * copper 0.78 (emissivity tables). */
double radiation(double surface_c, double ambient_c, double emissivity);

/* Laminate: through 0.343, in plane 1.059 W/mK (Sarvar, Poole, Witting, J. Electron. Mater. 19,
 * 1345, 1990); in plane 0.81 (Azar and Graebner 1996, from memory); 2000 kg/m3, 900 J/kgK (test
 * board of Brooks and Adam). Copper 390 W/mK, 3.45e6 J/m3K (from memory). */
#define FR4_THROUGH_W_MK 0.343
#define FR4_PLANE_W_MK 0.81
#define FR4_DENSITY_KG_M3 2000.0
#define FR4_HEAT_J_KGK 900.0
#define COPPER_W_MK 390.0
#define COPPER_HEAT_J_M3K 3.45e6
#define BOTH_FACES_W_M2K 20.0 /* still air and radiation, both sides, about 10 K above ambient */

/* How far heat spreads sideways: sqrt(k t / H), mm; kt in W/K (sum over the layers), H of both
 * faces in W/m2K. */
double spreading_length_mm(double sheet_conductance_w_k, double both_faces_w_m2k);

/*
 * A strip of copper between two wide pieces of copper, which stay at `end_c`, as does the air:
 * REFERENCES T5. P = I^2 rho/(w^2 d), n^2 = (H - a P)/(k d), rise in the middle P/(H - a P) (1 -
 * 1/cosh(n L)), with L half the length; for H < a P the cosine form.
 *
 * Returns the rise in K; NAN where no steady state exists (the strip runs away) or the input is
 * not positive.
 */
struct copper_strip {
    double width_mm, thickness_mm, length_mm; /* whole length */
    double current_a, end_c;
    double both_faces_w_m2k; /* 0: no cooling but through the ends */
};
double strip_rise_k(const struct copper_strip *strip);
/*
 * A neck whose ends are copper of beside_mm: what `fit` gives for that copper, and what the neck
 * adds. strip->end_c is the surroundings here. NAN: no neck (beside_mm is no wider), or no cooler
 * than a long conductor of its width.
 */
struct rise_fit;
double neck_rise_k(const struct rise_fit *fit, const struct copper_strip *strip, double beside_mm);

/* Time constant of a board cooled on both faces: sum of density x heat x thickness over H, s. */
double board_time_constant_s(double board_mm, double copper_mm, double both_faces_w_m2k);
/* Time to reach this fraction (0..1) of the final rise. */
double settling_time_s(double time_constant_s, double fraction);
/* Heating rate of copper before anything cools it: J^2 rho / c_v, K/s. */
double adiabatic_rate_k_s(double current_a, double area_mm2, double temperature_c);

#endif
