/*
 * Measurement uncertainty after the GUM (JCGM 100:2008, section 5.1, from memory: u_c^2 = sum of
 * (c_i u_i)^2, expanded U = 2 u_c for about 95 %), and a Monte Carlo run after JCGM 101:2008 (from
 * memory) for where the linear budget does not hold.
 */
#ifndef ISTHMUS_UNCERTAINTY_H
#define ISTHMUS_UNCERTAINTY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What a "plus or minus" means, and how it becomes a standard uncertainty. */
enum spread {
    SPREAD_RECTANGULAR, /* anywhere within +-a alike: a / sqrt 3 (data sheets) */
    SPREAD_STANDARD,    /* a standard deviation already: scatter of repeated readings */
    SPREAD_EXPANDED     /* a calibration's U with k = 2: U / 2 */
};
double spread_standard(enum spread spread, double value);
const char *spread_word(enum spread spread); /* "within +-, any alike" ... */

#define COVERAGE_FACTOR 2.0

/* One line of a budget: contribution = |sensitivity| x standard. */
struct budget_line {
    const char *name;
    const char *unit; /* of the input */
    double value;     /* as stated, in the input's unit */
    enum spread spread;
    double sensitivity; /* change of the result by one unit of the input */
    bool is_common;     /* the same error in every reading of this instrument */
};
double budget_contribution(const struct budget_line *line);
/* Root of the sum of squares over the lines. */
double budget_combined(const struct budget_line *lines, size_t count);

/*
 * A camera's half-width: the larger of 2 K and 2 % of the reading in C (from memory: what most data
 * sheets state). Emissivity: a camera set to e that is off by de reads wrong by about (de/e)(T^4 -
 * Tr^4)/4T^3 (K), T and Tr in kelvin: the surface and what is reflected in it.
 */
double camera_half_width_k(double reading_c);
double emissivity_error_k(double emissivity, double emissivity_error, double surface_c,
                          double reflected_c);
/* What a camera set to emissivity `set` shows for a surface of emissivity `real`, in C. The inverse
 * gives the true temperature behind a reading; NAN where the reading cannot come from `real`. */
double emissivity_shown_c(double real, double set, double surface_c, double reflected_c);
double emissivity_true_c(double real, double set, double shown_c, double reflected_c);

/* SplitMix64 (Steele, Lea, Flood 2014, from memory): small, and the same on every machine. */
struct prng {
    uint64_t state;
};
uint64_t prng_next(struct prng *prng);
double prng_uniform(struct prng *prng);  /* [0, 1) */
double prng_gaussian(struct prng *prng); /* mean 0, standard deviation 1 */

/* A quantity that is not known exactly, and a model of several: result = model(inputs, context). */
struct uncertain {
    double value, half_width;
    enum spread spread;
};
#define UNCERTAIN_MAX 64
struct uncertain_model {
    const struct uncertain *inputs;
    size_t input_count; /* at most UNCERTAIN_MAX */
    double (*evaluate)(const double *inputs, const void *context);
    const void *context;
};
/* Linear: c_i = (f(x_i + u_i) - f(x_i - u_i)) / 2 u_i (JCGM 100, 5.1.3 note 2). */
double model_sensitivity(const struct uncertain_model *model, size_t input_index);
double model_standard(const struct uncertain_model *model);

struct monte_carlo {
    double mean, standard;
    double low, high;               /* 95.45 % of the trials lie between, 2.275 % below and above */
    size_t trial_count, lost_count; /* lost: the model gave no finite number */
};
/*
 * Draws rectangular inputs uniformly and the others from a normal distribution.
 *
 * trials  room for trial_count doubles; left sorted
 * errors  false when no trial, or more than one in a hundred, gave a finite number: out is then
 *         zero but for the counts
 */
bool monte_carlo_run(const struct uncertain_model *model, uint64_t seed, double *trials,
                     size_t trial_count, struct monte_carlo *out);
/* The linear interval y +- 2u holds: both of its ends lie within 15 % of U of the Monte Carlo
 * interval's (JCGM 101, section 8, compares so; the 15 % is our choice: about what k = 2 is off
 * when one rectangular error outweighs the others). */
bool monte_carlo_agrees(const struct monte_carlo *run, double value, double standard);

#endif
