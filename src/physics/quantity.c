/* Numbers with units: one table a kind. */
#include "isthmus/quantity.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "isthmus/copper.h"
#include "isthmus/currents.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define DEGREE "\xc2\xb0"
#define OHM_SIGN "\xce\xa9"
#define ABSOLUTE_ZERO_C (-273.15)

static bool read_mm(const char *text, double *out)
{
    if (!quantity_length(text, 1e6, out))
        return false;
    *out /= 1e6;
    return true;
}

/* A bare number is refused: 1 may be an ounce or a micrometre. */
static bool read_copper_um(const char *text, double *out)
{
    const char *unit = text;
    if (quantity_number(&unit, out) && strcmp(unit, "oz") == 0) {
        *out *= COPPER_OZ_UM;
        return true;
    }
    if (!quantity_length(text, 0, out))
        return false;
    *out /= 1e3;
    return true;
}

static bool read_fine_um(const char *text, double *out)
{
    if (!quantity_length(text, 0, out))
        return false;
    *out /= 1e3;
    return true;
}

static const struct quantity_unit rise_units[] = {
    {"", 1, 0},
    {"K", 1, 0},
    {"C", 1, 0},
    {DEGREE "C", 1, 0},
};
static const struct quantity_unit temperature_units[] = {
    {"", 1, 0},
    {"C", 1, 0},
    {DEGREE "C", 1, 0},
    {"K", 1, ABSOLUTE_ZERO_C},
};
static const struct quantity_unit time_units[] = {
    {"", 1, 0}, {"s", 1, 0}, {"ms", 1e-3, 0}, {"us", 1e-6, 0}, {"min", 60, 0}, {"h", 3600, 0},
};
static const struct quantity_unit voltage_units[] = {
    {"", 1, 0},
    {"V", 1, 0},
    {"mV", 1e-3, 0},
    {"kV", 1e3, 0},
};
static const struct quantity_unit resistance_units[] = {
    {"", 1, 0}, {"ohm", 1, 0}, {"mohm", 1e-3, 0}, {OHM_SIGN, 1, 0}, {"m" OHM_SIGN, 1e-3, 0},
};
static const struct quantity_unit power_units[] = {
    {"", 1, 0},
    {"W", 1, 0},
    {"mW", 1e-3, 0},
    {"kW", 1e3, 0},
};

#define KIND(units_array, ...)                                                                     \
    {                                                                                              \
        .units = units_array, .unit_count = COUNT(units_array), __VA_ARGS__                        \
    }
const struct quantity_kind quantity_kind_current = {.name = "a current",
                                                    .example = "2.5A, 800mA",
                                                    .base = "A",
                                                    .most = 1e5,
                                                    .read = quantity_current};
const struct quantity_kind quantity_kind_width = {.name = "a length",
                                                  .example = "0.5mm, 20mil, 300um",
                                                  .base = "mm",
                                                  .most = 1e5,
                                                  .read = read_mm};
const struct quantity_kind quantity_kind_copper = {.name = "a copper thickness",
                                                   .example = "35um, 1oz",
                                                   .base = "um",
                                                   .most = 1e5,
                                                   .read = read_copper_um};
/* The bounds of the same keys of board.ini. */
const struct quantity_kind quantity_kind_gap = {.name = "a small gap",
                                                .example = "1um, 0um",
                                                .base = "um",
                                                .is_least_allowed = true,
                                                .most = 50,
                                                .read = read_fine_um};
const struct quantity_kind quantity_kind_chord_error = {.name = "a small length",
                                                        .example = "0.5um, 2um",
                                                        .base = "um",
                                                        .least = 0.01,
                                                        .is_least_allowed = true,
                                                        .most = 50,
                                                        .read = read_fine_um};
const struct quantity_kind quantity_kind_rise =
    KIND(rise_units, .name = "a temperature rise", .example = "10K, 20K", .base = "K", .most = 2e3);
const struct quantity_kind quantity_kind_temperature =
    KIND(temperature_units, .name = "a temperature", .example = "25C, 298K", .base = "C",
         .least = ABSOLUTE_ZERO_C, .is_least_allowed = true, .most = 2e3);
const struct quantity_kind quantity_kind_time =
    KIND(time_units, .name = "a time", .example = "0.5s, 20ms, 5min", .base = "s", .most = 1e8);
const struct quantity_kind quantity_kind_voltage =
    KIND(voltage_units, .name = "a voltage", .example = "24V, 500mV", .base = "V", .most = 1e5);
const struct quantity_kind quantity_kind_resistance =
    KIND(resistance_units, .name = "a resistance", .example = "15mohm, 1.6ohm", .base = "ohm",
         .is_least_allowed = true, .most = 1e9);
const struct quantity_kind quantity_kind_power =
    KIND(power_units, .name = "a power", .example = "50W, 500mW", .base = "W", .most = 1e6);

static bool takes_bare(const struct quantity_kind *kind)
{
    double value;
    if (kind->read)
        return kind->read("1", &value);
    for (size_t i = 0; i < kind->unit_count; i++)
        if (!kind->units[i].word[0])
            return true;
    return false;
}

static const struct quantity_unit *find_unit(const struct quantity_kind *kind, const char *word)
{
    for (size_t i = 0; i < kind->unit_count; i++)
        if (strcmp(kind->units[i].word, word) == 0)
            return &kind->units[i];
    return NULL;
}

static bool read_value(const struct quantity_kind *kind, const char *text, double *out)
{
    if (kind->read)
        return kind->read(text, out);
    double number;
    if (!quantity_number(&text, &number))
        return false;
    const struct quantity_unit *unit = find_unit(kind, text);
    if (unit)
        *out = number * unit->factor + unit->offset;
    return unit != NULL;
}

enum quantity_status quantity_read(const struct quantity_kind *kind, const char *text, double *out)
{
    double value;
    const char *word = text;
    if (!quantity_number(&word, &value) || !isfinite(value))
        return QUANTITY_NOT_A_NUMBER;
    if (!*word && !takes_bare(kind))
        return QUANTITY_UNIT_MISSING;
    if (!read_value(kind, text, &value))
        return QUANTITY_UNIT_UNKNOWN;
    if (value < kind->least || (value == kind->least && !kind->is_least_allowed))
        return QUANTITY_TOO_SMALL;
    if (value > kind->most)
        return QUANTITY_TOO_LARGE;
    *out = value;
    return QUANTITY_OK;
}

const char *quantity_problem(enum quantity_status status)
{
    switch (status) {
    case QUANTITY_OK:
        return "is fine";
    case QUANTITY_NOT_A_NUMBER:
        return "is not a number";
    case QUANTITY_UNIT_MISSING:
        return "has no unit";
    case QUANTITY_UNIT_UNKNOWN:
        return "has a unit that does not fit here";
    case QUANTITY_TOO_SMALL:
        return "is below what is possible";
    case QUANTITY_TOO_LARGE:
        return "is beyond anything this program can judge";
    }
    return "is not understood";
}

char *quantity_text(double value, int digits, char buffer[QUANTITY_TEXT_SIZE])
{
    if (isnan(value) || isinf(value)) {
        snprintf(buffer, QUANTITY_TEXT_SIZE, "%s", isnan(value) ? "none" : "unlimited");
        return buffer;
    }
    double size = fabs(value);
    if (size > 0 && (size < 1e-4 || size >= 1e7)) {
        snprintf(buffer, QUANTITY_TEXT_SIZE, "%.*g", digits, value);
        return buffer;
    }
    /* the exponent after rounding, so that 9.996 becomes 10.0 and not 10.00 */
    snprintf(buffer, QUANTITY_TEXT_SIZE, "%.*e", digits - 1, value);
    int exponent = size > 0 ? atoi(strchr(buffer, 'e') + 1) : 0;
    int decimals = digits - 1 - exponent;
    snprintf(buffer, QUANTITY_TEXT_SIZE, "%.*f", decimals > 0 ? decimals : 0, value);
    return buffer;
}

char *quantity_short(double value, int digits, char buffer[QUANTITY_TEXT_SIZE])
{
    quantity_text(value, digits, buffer);
    if (!strchr(buffer, '.') || strchr(buffer, 'e'))
        return buffer;
    size_t length = strlen(buffer);
    while (buffer[length - 1] == '0')
        buffer[--length] = 0;
    if (buffer[length - 1] == '.')
        buffer[length - 1] = 0;
    return buffer;
}
