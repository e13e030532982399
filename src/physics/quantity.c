/* Numbers with units: one table a kind. */
#include "isthmus/quantity.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "isthmus/copper.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define MICRO_SIGN "\xc2\xb5"
#define GREEK_MU "\xce\xbc"
#define DEGREE "\xc2\xb0"
#define OHM_SIGN "\xce\xa9"
#define ABSOLUTE_ZERO_C (-273.15)

static const struct quantity_unit current_units[] = {
    {"", 1, 0}, {"A", 1, 0}, {"mA", 1e-3, 0}, {"kA", 1e3, 0}, {MICRO_SIGN "A", 1e-6, 0},
};
static const struct quantity_unit width_units[] = {
    {"", 1, 0},
    {"mm", 1, 0},
    {"cm", 10, 0},
    {"m", 1000, 0},
    {"um", 1e-3, 0},
    {MICRO_SIGN "m", 1e-3, 0},
    {GREEK_MU "m", 1e-3, 0},
    {"mil", 0.0254, 0},
    {"in", 25.4, 0},
};
static const struct quantity_unit copper_units[] = {
    {"oz", COPPER_OZ_UM, 0}, {"um", 1, 0},    {MICRO_SIGN "m", 1, 0},
    {GREEK_MU "m", 1, 0},    {"mm", 1000, 0}, {"mil", 25.4, 0},
};
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
const struct quantity_kind quantity_kind_current =
    KIND(current_units, .name = "a current", .example = "2.5A, 800mA", .base = "A", .most = 1e5);
const struct quantity_kind quantity_kind_width = KIND(
    width_units, .name = "a length", .example = "0.5mm, 20mil, 300um", .base = "mm", .most = 1e5);
const struct quantity_kind quantity_kind_copper = KIND(
    copper_units, .name = "a copper thickness", .example = "35um, 1oz", .base = "um", .most = 1e5);
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

/* strtod takes "inf", "nan" and "0x10" too: look before calling it. */
static bool scan_number(const char *text, double *value, const char **rest)
{
    const char *at = text;
    if (*at == '+' || *at == '-')
        at++;
    if (!((*at >= '0' && *at <= '9') || (*at == '.' && at[1] >= '0' && at[1] <= '9')))
        return false;
    if (at[0] == '0' && (at[1] == 'x' || at[1] == 'X'))
        return false;
    char *end;
    *value = strtod(text, &end);
    *rest = end;
    return isfinite(*value);
}

static bool is_bare_refused(const struct quantity_kind *kind)
{
    for (size_t i = 0; i < kind->unit_count; i++)
        if (!kind->units[i].word[0])
            return false;
    return true;
}

static const struct quantity_unit *find_unit(const struct quantity_kind *kind, const char *word)
{
    for (size_t i = 0; i < kind->unit_count; i++)
        if (strcmp(kind->units[i].word, word) == 0)
            return &kind->units[i];
    return NULL;
}

enum quantity_status quantity_read(const struct quantity_kind *kind, const char *text, double *out)
{
    double number;
    const char *word;
    while (*text == ' ')
        text++;
    if (!scan_number(text, &number, &word))
        return QUANTITY_NOT_A_NUMBER;
    while (*word == ' ')
        word++;
    const struct quantity_unit *unit = find_unit(kind, word);
    if (!unit)
        return !*word && is_bare_refused(kind) ? QUANTITY_UNIT_MISSING : QUANTITY_UNIT_UNKNOWN;
    double value = number * unit->factor + unit->offset;
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
