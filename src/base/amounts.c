/*
 * Currents and lengths as people write them. Read digit by digit: the C library's readers take
 * hexadecimal, infinity and the locale's comma as well.
 */
#include "isthmus/currents.h"

#include <ctype.h>
#include <string.h>

#define DIGITS_MAX 18      /* significant digits; they fit 64 bits */
#define EXPONENT_MAX 400   /* beyond it a number is nonsense, and the loops below stay short */
#define EXACT_POWER_MAX 22 /* 10^22 is the last power of ten that a double holds exactly */

struct decimal {
    uint64_t digits;
    int exponent; /* value = digits x 10^exponent */
};

static bool take_digit(struct decimal *decimal, char c, bool is_fraction)
{
    if (decimal->digits > 99999999999999999u) /* DIGITS_MAX of them are there */
        return false;
    decimal->digits = decimal->digits * 10 + (uint64_t)(c - '0');
    decimal->exponent -= is_fraction;
    return decimal->exponent > -EXPONENT_MAX;
}

/* digits [. digits], at least one digit. */
static bool read_mantissa(const char **at, struct decimal *decimal)
{
    bool is_fraction = false, has_digit = false;
    for (;; (*at)++) {
        if (isdigit((unsigned char)**at)) {
            has_digit = true;
            if (!take_digit(decimal, **at, is_fraction))
                return false;
        } else if (**at == '.' && !is_fraction) {
            is_fraction = true;
        } else {
            return has_digit;
        }
    }
}

/* e [sign] digits; an "e" without digits behind it is left to be an unknown unit. */
static bool read_exponent(const char **at, struct decimal *decimal)
{
    if (**at != 'e' && **at != 'E') /* nothing may stand behind a number's last digit */
        return true;
    const char *c = *at + 1;
    bool is_negative = *c == '-';
    if (*c == '-' || *c == '+')
        c++;
    if (!isdigit((unsigned char)*c))
        return true;
    int exponent = 0;
    for (; isdigit((unsigned char)*c); c++) {
        exponent = exponent * 10 + (*c - '0');
        if (exponent > EXPONENT_MAX)
            return false;
    }
    decimal->exponent += is_negative ? -exponent : exponent;
    *at = c;
    return true;
}

/* Correctly rounded for all that a person types: both operands are exact and one operation follows
 * (Clinger 1990); beyond that good to the last digit or so, in long double. */
static double decimal_value(const struct decimal *decimal)
{
    int power = decimal->exponent < 0 ? -decimal->exponent : decimal->exponent;
    bool is_exact = decimal->digits < ((uint64_t)1 << 53) && power <= EXACT_POWER_MAX;
    long double scale = 1;
    for (int i = 0; i < power; i++)
        scale *= 10;
    if (is_exact)
        return decimal->exponent < 0 ? (double)decimal->digits / (double)scale
                                     : (double)decimal->digits * (double)scale;
    return (double)(decimal->exponent < 0 ? (long double)decimal->digits / scale
                                          : (long double)decimal->digits * scale);
}

bool quantity_number(const char **text, double *out)
{
    const char *at = *text;
    bool is_negative = false;
    while (*at == ' ' || *at == '\t')
        at++;
    if (*at == '+' || *at == '-') {
        is_negative = *at++ == '-';
    } else if (strncmp(at, "\xe2\x88\x92", 3) == 0) { /* the minus sign that word processors put */
        is_negative = true;
        at += 3;
    }
    struct decimal decimal = {0};
    if (!read_mantissa(&at, &decimal) || !read_exponent(&at, &decimal))
        return false;
    double value = decimal_value(&decimal);
    while (*at == ' ' || *at == '\t')
        at++;
    *out = is_negative ? -value : value;
    *text = at;
    return true;
}

struct unit {
    const char *word;
    double factor;
    bool divides; /* the value is divided: 800 mA = 800 / 1000, rounded once */
};

static bool apply_unit(const struct unit *units, size_t count, const char *word, double *value)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(units[i].word, word) != 0)
            continue;
        *value = units[i].divides ? *value / units[i].factor : *value * units[i].factor;
        return true;
    }
    return false;
}

bool quantity_current(const char *text, double *out_a)
{
    static const struct unit units[] = {
        {"", 1, false},
        {"A", 1, false},
        {"a", 1, false},
        {"mA", 1e3, true},
        {"uA", 1e6, true},
        {"\xc2\xb5"
         "A",
         1e6, true},
        {"\xce\xbc"
         "A",
         1e6, true},
        {"kA", 1e3, false},
    };
    double value;
    if (!quantity_number(&text, &value) ||
        !apply_unit(units, sizeof units / sizeof *units, text, &value))
        return false;
    *out_a = value;
    return true;
}

bool quantity_length(const char *text, double default_unit_nm, double *out_nm)
{
    const struct unit units[] = {
        {"", default_unit_nm, false},
        {"nm", 1, false},
        {"um", 1e3, false},
        {"\xc2\xb5"
         "m",
         1e3, false},
        {"\xce\xbc"
         "m",
         1e3, false},
        {"mm", 1e6, false},
        {"cm", 1e7, false},
        {"mil", 25400, false},
        {"mils", 25400, false},
        {"in", 25400000, false},
        {"inch", 25400000, false},
    };
    double value;
    if (!quantity_number(&text, &value) || (!*text && default_unit_nm <= 0) ||
        !apply_unit(units, sizeof units / sizeof *units, text, &value))
        return false;
    *out_nm = value;
    return true;
}
