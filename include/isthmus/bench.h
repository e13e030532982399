/*
 * A bench test of one net: what to connect, what to expect, where to look, how long to wait, when
 * to stop. Section 9 of the reference sheet; planning is pure, two functions write the sheet.
 */
#ifndef ISTHMUS_BENCH_H
#define ISTHMUS_BENCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Load that draws current_a from voltage_v through path_ohm: V/I - R_path; <= 0 if impossible. */
double bench_load_ohm(double voltage_v, double current_a, double path_ohm);
double bench_power_w(double current_a, double resistance_ohm);
/* Supply setting that leaves voltage_v behind the leads (out and back summed): V + I R. */
double bench_supply_v(double voltage_v, double current_a, double series_ohm);

/*
 * A resistor's rating over temperature: rated_w up to rated_c, then falling in a straight line to 0
 * at zero_c (the curve is the data sheet's; IEC 60115 rates film types at 70 C, from memory).
 */
struct derating {
    double rated_w, rated_c, zero_c;
};
double derating_allowed_w(const struct derating *derating, double temperature_c);
/* Rating to buy so that power_w is allowed at temperature_c; infinity at or above zero_c. */
double derating_rated_w(const struct derating *derating, double temperature_c, double power_w);

/* ---- the question ---- */

enum bench_side { BENCH_SIDE_UNKNOWN, BENCH_TOP, BENCH_BOTTOM, BENCH_INSIDE };

/* A place whose temperature is wanted. */
struct bench_place {
    const char *name;  /* "A", "fuse F1" */
    const char *layer; /* "top", "inner:2"; NULL: unknown */
    enum bench_side side;
    bool is_internal;
    bool is_nearer_bottom; /* of an inner layer */
    bool has_position;
    double x_mm, y_mm; /* file coordinates */
    double width_mm, thickness_mm;
    double neck_length_mm; /* of what is too narrow; 0: unknown, or a long conductor */
    double beside_mm;      /* width of the copper at its ends, at least; 0: unknown */
    double current_a;
};
/* Copper in series along the current; after each one a voltage can be read. */
struct bench_segment {
    const char *name;
    double length_mm, width_mm, thickness_mm;
};
#define BENCH_MOST 32
/* A point of the net as the drawing has it, solved at the temperature of the surroundings. */
struct bench_end {
    const char *name;
    bool has_position;
    double x_mm, y_mm;
    double current_a; /* + enters the board here, - leaves it to a load, 0: only measured */
    double drop_v;    /* from ends[0] */
};
/* The net's copper from the drawing; the first end feeds, other feeds and then draws follow. */
struct bench_drawn {
    bool is_known;
    const char *why_not, *advice; /* a package, but no drop: shown; may be NULL */
    double ohm, error_ohm;        /* power / current^2, and how far the meshes may be off */
    double etch_loss_um;          /* stated, but not taken off here */
    struct bench_end ends[BENCH_MOST];
    size_t end_count, left_out_count;
};

struct bench_question {
    const char *net;    /* or NULL */
    const char *source; /* the package, or "options" */
    double current_a;
    double voltage_v; /* wanted where the current enters the board */
    double load_ohm;  /* a load at hand, then voltage_v follows; 0: to be chosen */
    double ambient_c, allowed_rise_k, stop_c;
    double leads_ohm;                    /* out and back together */
    double contacts_ohm;                 /* plugs and clamps, all together */
    double supply_most_v, supply_most_a; /* 0: not stated */
    struct derating load;                /* rated_w 0: to be bought */
    double load_c;                       /* surroundings of the load while it works */
    double board_mm;
    double width_tolerance_mm, thickness_tolerance, current_tolerance; /* half-widths; relative */
    struct bench_place places[BENCH_MOST];
    size_t place_count;
    struct bench_segment segments[BENCH_MOST]; /* what the drawing does not hold, in series */
    size_t segment_count;
    struct bench_drawn drawn;
};
/* Everything that is usually assumed, filled in; places and segments empty. */
void bench_question_default(struct bench_question *question);

/* ---- the plan ---- */

struct bench_expectation {
    double rise_k;        /* by the IPC-2221 fit of its layer */
    double low_k, high_k; /* least and most among the published fits of its layer */
    double expanded_k;    /* U, k = 2: width, thickness and current within tolerance */
    double short_k;       /* as a neck of its length: what copper of beside_mm would reach, and what
                             the neck adds while its ends lead its heat away; NAN: not short */
    double least_k;       /* short_k where it is known, else rise_k */
    const char *outside;  /* why the fit is extrapolated, or NULL */
    bool is_above_allowed;
};
/* One resistor, or what else takes the current. */
struct bench_load {
    const char *name; /* the end it hangs on; NULL: the only one, not named */
    double current_a, ohm, power_w;
    double rating_w; /* to buy: twice what derating asks for */
};
struct bench_plan {
    double segments_cold_ohm, segments_hot_ohm; /* all segments */
    double drawn_hot_ohm;                       /* the drawing's copper at warm_c throughout */
    double warm_c; /* of the hottest place, necks as such: warmer than the copper is on average */
    double warm_factor;                     /* resistance at warm_c over that at the surroundings */
    double copper_cold_ohm, copper_hot_ohm; /* both together; 0 when nothing is known */
    double path_ohm;                        /* copper hot, leads, contacts */
    struct bench_load loads[BENCH_MOST];    /* largest current first */
    size_t load_count;
    double board_v; /* where the current enters */
    double supply_v, supply_limit_a;
    double drop_hot_v[BENCH_MOST]; /* over the segments, to the end of each */
    struct bench_expectation expected[BENCH_MOST];
    double mean_hot_c;    /* of this copper, for the resistance method */
    double hot_ratio;     /* R hot / R cold expected */
    double tau_s, wait_s; /* 5 tau, and not less than the reading rule asks for */
};
enum bench_status {
    BENCH_OK = 0,
    BENCH_NO_LOAD,          /* the voltage is used up before the load */
    BENCH_SUPPLY_CURRENT,   /* the supply cannot give this current */
    BENCH_SUPPLY_VOLTAGE,   /* nor this voltage */
    BENCH_LOAD_TOO_SMALL,   /* the resistor is beyond its rating */
    BENCH_LOAD_TOO_HOT,     /* no rating helps at this temperature */
    BENCH_ONE_LOAD,         /* a load at hand, but the current leaves at several terminals */
    BENCH_NOTHING_TO_WATCH, /* neither places nor segments */
    BENCH_MELTS             /* a place is expected above the stop temperature */
};
/* On anything but BENCH_OK the plan holds what had been worked out so far, for the message. */
enum bench_status bench_plan_make(const struct bench_question *question, struct bench_plan *plan);
/* What is wrong and what to change; "" for BENCH_OK. */
const char *bench_problem(enum bench_status status);

/* Expected rise of a place, alone. */
struct bench_expectation bench_expect(const struct bench_question *question,
                                      const struct bench_place *place);

/* The largest test current that keeps every place below the stop temperature, as a long conductor;
 * infinity without places, 0 when the surroundings are already that warm. */
double bench_safe_current_a(const struct bench_question *question);

/* The sheet, for reading and for printing with blanks to fill; and an empty table for `compare`. */
void bench_sheet_text(const struct bench_question *question, const struct bench_plan *plan,
                      FILE *out);
void bench_sheet_html(const struct bench_question *question, const struct bench_plan *plan,
                      FILE *out);
void bench_blank_csv(const struct bench_question *question, FILE *out);

#endif
