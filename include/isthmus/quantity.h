/*
 * Numbers with units, as people type them and as we print them back.
 *
 * "2.5A", "800 mA", "0.3mm", "12mil", "1oz", "25C". A decimal point, no thousands separators, an
 * exponent is allowed ("1e-3"), hexadecimal and words are not. Currents and lengths are read by
 * quantity_current and quantity_length (currents.h) so that a table and an option never differ.
 */
#ifndef ISTHMUS_QUANTITY_H
#define ISTHMUS_QUANTITY_H

#include <stdbool.h>
#include <stddef.h>

enum quantity_status {
    QUANTITY_OK = 0,
    QUANTITY_NOT_A_NUMBER,
    QUANTITY_UNIT_MISSING, /* this kind wants its unit said */
    QUANTITY_UNIT_UNKNOWN,
    QUANTITY_TOO_SMALL, /* below what is physically possible or makes sense */
    QUANTITY_TOO_LARGE
};

struct quantity_unit {
    const char *word;      /* "mil"; "" is what a bare number means */
    double factor, offset; /* base = number x factor + offset */
};
struct quantity_kind {
    const char *name;    /* "a width" */
    const char *example; /* "0.5mm, 20mil" */
    const char *base;    /* unit of the result */
    const struct quantity_unit *units;
    size_t unit_count;
    bool (*read)(const char *text, double *out); /* in place of units */
    double least, most;                          /* in the base unit */
    bool is_least_allowed;                       /* else the value must be above it */
};

/* The kinds and their base units. */
extern const struct quantity_kind quantity_kind_current;     /* A, > 0 */
extern const struct quantity_kind quantity_kind_width;       /* mm, > 0; bare: mm */
extern const struct quantity_kind quantity_kind_copper;      /* um, > 0; unit must be said */
extern const struct quantity_kind quantity_kind_gap;         /* um, 0 to 50; unit must be said */
extern const struct quantity_kind quantity_kind_chord_error; /* um, 0.01 to 50; likewise */
extern const struct quantity_kind quantity_kind_rise;        /* K, > 0 */
extern const struct quantity_kind quantity_kind_temperature; /* C, >= -273.15 */
extern const struct quantity_kind quantity_kind_time;        /* s, > 0 */
extern const struct quantity_kind quantity_kind_voltage;     /* V, > 0 */
extern const struct quantity_kind quantity_kind_resistance;  /* ohm, >= 0 */
extern const struct quantity_kind quantity_kind_power;       /* W, > 0 */

/* out is set only on QUANTITY_OK. */
enum quantity_status quantity_read(const struct quantity_kind *kind, const char *text, double *out);
/* What is wrong, as the middle of a sentence: "is not a number". */
const char *quantity_problem(enum quantity_status status);

/*
 * A number with `digits` significant digits and no exponent between 1e-4 and 1e7: "0.774", "12.5",
 * "1250". Infinity is "unlimited", NaN "none". Returns buffer.
 */
#define QUANTITY_TEXT_SIZE 32
char *quantity_text(double value, int digits, char buffer[QUANTITY_TEXT_SIZE]);
/* The same without zeros at the end: "2", not "2.00". For prose. */
char *quantity_short(double value, int digits, char buffer[QUANTITY_TEXT_SIZE]);

#endif
