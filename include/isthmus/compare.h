/*
 * Measured against predicted: uncertainty after the GUM, a verdict for each reading, what would
 * explain a difference, and what this board's own thermal constant says about other currents.
 */
#ifndef ISTHMUS_COMPARE_H
#define ISTHMUS_COMPARE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "isthmus/measured.h"
#include "isthmus/uncertainty.h"

/* The copper that was predicted. */
struct compare_conductor {
    const char *name;
    double width_mm, thickness_mm;
    bool is_internal;
    double width_pm_mm, thickness_pm; /* ordinary scatter: limits, mm and relative */
    double plating_mm;     /* what plating adds to an outer foil; 0: the thickness is finished */
    double neck_length_mm; /* 0: unknown, or a long conductor */
    double beside_mm;      /* width of the copper at its ends, at least; 0: unknown */
    double allowed_rise_k;
    double limit_c;               /* absolute: ambient + rise must stay below */
    double supply_most_a;         /* 0: not stated */
    double load_ohm, load_most_w; /* 0: not stated */
};
void compare_conductor_default(struct compare_conductor *conductor);
double compare_predicted_k(const struct compare_conductor *conductor, double current_a);

enum compare_verdict {
    COMPARE_AGREES,
    COMPARE_HOTTER,     /* than predicted, beyond U of the difference */
    COMPARE_COOLER,     /* likewise */
    COMPARE_CANNOT_TELL /* no difference beyond U, but U is more than half the predicted rise */
};
enum compare_adequacy {
    ADEQUATE, /* rise + U is within the allowed rise */
    TOO_HOT,  /* rise - U is beyond it */
    ADEQUACY_UNKNOWN
};
enum compare_problem {
    COMPARE_OK = 0,
    COMPARE_COOLED,       /* below ambient by more than U: no current does that */
    COMPARE_ABOVE_SUPPLY, /* more current than the supply can give */
    COMPARE_LOAD_BURNS,   /* I^2 R is beyond the load's rating */
    COMPARE_MELTED,       /* hotter than copper melts */
    COMPARE_NO_RATIO      /* the copper's resistance fell although it should have been warmed */
};
/* Which word is wrong and what to look at; "" for COMPARE_OK. */
const char *compare_problem_text(enum compare_problem problem);

#define COMPARE_LINES 6
struct compare_point {
    const struct reading *reading;
    enum compare_problem problem; /* anything else is then not filled in */
    double current_a;
    double rise_k, standard_k, expanded_k; /* measured; u and U = 2 u */
    struct budget_line lines[COMPARE_LINES];
    size_t line_count;
    double predicted_k;
    struct budget_line current_line; /* what the ammeter's error does to the prediction */
    double difference_k, difference_expanded_k; /* measured less predicted, with its U */
    enum compare_verdict verdict;
    enum compare_adequacy adequacy;
};
struct compare_point compare_point_make(const struct compare_conductor *conductor,
                                        const struct reading *reading);

/*
 * What alone would explain the measured rise: the value each quantity would have to take, for the
 * rise as measured and for its limits rise -+ U. NAN where no value does.
 */
struct compare_range {
    double value, low, high; /* low <= value <= high */
    bool is_ordinary;        /* the range meets what is ordinary */
};
struct compare_causes {
    struct compare_range thickness_mm, width_mm, current_a;
    struct compare_range cooling;    /* times what the prediction implies */
    struct compare_range emissivity; /* of the surface; NAN unless a camera was used */
    bool is_plating_enough;          /* the thickness is met if the foil was plated up */
};
struct compare_causes compare_causes_of(const struct compare_conductor *conductor,
                                        const struct compare_point *point);

/*
 * This board's own constant: k in I = k dT^0.44 A^0.725 with A as drawn, fitted to all points
 * together. An instrument's error is the same in all of its readings; only the scatter is
 * independent. `linear` is the GUM's linear propagation, `run` the Monte Carlo run (SplitMix64,
 * seed 1, 20000 trials); use_run says that the linear one does not hold.
 */
struct compare_estimate {
    double value, standard, low, high; /* low..high: 95 %, linear or Monte Carlo */
    bool use_run, is_known;
};
#define COMPARE_CURRENTS 12
struct compare_fit {
    size_t point_count;
    struct compare_estimate k, most_a; /* most_a: highest current within the allowed rise */
    double currents_a[COMPARE_CURRENTS];
    struct compare_estimate rises_k[COMPARE_CURRENTS];
    size_t current_count;
    double limit_rise_k;   /* the smaller of the allowed rise and what the absolute limit leaves */
    double worst_residual; /* in standard uncertainties of its scatter and meters */
    double exponent;       /* of I, free; NAN with fewer than two currents */
    double measured_low_a, measured_high_a;
};
/*
 * errors  false when no point has a rise that differs from nothing (rise > U), or without memory:
 *         out->point_count is then 0
 */
bool compare_fit_make(const struct compare_conductor *conductor, const struct compare_point *points,
                      size_t point_count, const double *currents_a, size_t current_count,
                      struct compare_fit *out);

/* ---- reports ---- */

struct compare_report {
    const struct compare_conductor *conductor;
    const struct compare_point *points;
    size_t point_count;
    const struct compare_fit *fit; /* NULL: none */
};
void compare_text(const struct compare_report *report, FILE *out);
/* Rise against current: prediction with its band, points with error bars, the fitted curve. */
void compare_svg(const struct compare_report *report, FILE *out);

#endif
