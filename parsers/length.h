/* Lengths written as digits, converted to nanometres once and in one place. */
#ifndef PARSERS_LENGTH_H
#define PARSERS_LENGTH_H

#include <stdbool.h>
#include <stdint.h>

enum length_unit { LENGTH_MM, LENGTH_INCH, LENGTH_MIL, LENGTH_UM };

/*
 * mantissa / 10^decimals units, in nanometres, rounded half away from zero: one rounding, so every
 * value that is a whole number of nanometres comes out exact (an inch is 25 400 000 nm).
 *
 * decimals  may be negative (digits left of what is written)
 * false     the length is not within +-10 m; out is untouched
 */
bool length_nm(int64_t mantissa, int decimals, enum length_unit unit, int64_t *out);

#endif
