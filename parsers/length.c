/* The one rounding from written digits to nanometres. */
#include "length.h"

#define LIMIT_NM INT64_C(10000000000)

/* |mantissa| < 2^63 and the unit factor < 2^25 leave 39 bits, more than 10^11, of an __int128. */
#define MOST_SHIFT 11
/* 10^38 < 2^127; a longer fraction of a 19-digit mantissa is less than half a nanometre. */
#define MOST_DECIMALS 38
_Static_assert((__int128)INT64_MAX * 25400000 < ((__int128)1 << 126) / 100000000000,
               "shifted lengths fit");

static __int128 power_of_ten(int exponent)
{
    __int128 power = 1;
    while (exponent-- > 0)
        power *= 10;
    return power;
}

static int64_t nm_per_unit(enum length_unit unit)
{
    switch (unit) {
    case LENGTH_MM:
        return 1000000;
    case LENGTH_INCH:
        return 25400000;
    case LENGTH_MIL:
        return 25400;
    case LENGTH_UM:
        return 1000;
    }
    return 0;
}

bool length_nm(int64_t mantissa, int decimals, enum length_unit unit, int64_t *out)
{
    if (mantissa == 0 || decimals > MOST_DECIMALS) {
        *out = 0;
        return true;
    }
    if (decimals < -MOST_SHIFT)
        return false;
    __int128 nm = (__int128)mantissa * nm_per_unit(unit);
    if (decimals <= 0) {
        nm *= power_of_ten(-decimals);
    } else {
        __int128 divisor = power_of_ten(decimals);
        __int128 whole = nm / divisor, rest = nm % divisor;
        __int128 size = rest < 0 ? -rest : rest;
        if (size >= divisor - size)
            whole += nm < 0 ? -1 : 1;
        nm = whole;
    }
    if (nm > LIMIT_NM || nm < -LIMIT_NM)
        return false;
    *out = (int64_t)nm;
    return true;
}
