/* Decimal numbers to and from text, independent of the locale. Any room may include this. Thread-safe. */
#ifndef KEYWAY_BASE_NUMBER_H
#define KEYWAY_BASE_NUMBER_H

#include "base/slice.h"

/* Reads a decimal number at the start of `text`: [+-] digits [. digits] [e [+-] digits], at least one digit; `.5` and
 * `5.` are numbers. Returns the bytes used, 0 when there is none or the value overflows. The result is the double
 * nearest to the decimal (as strtod). No hex, no inf, no nan, no leading blanks. `point` is '.' or ','. */
size_t number_read(struct slice text, char point, double *out);

/* Shortest decimal that `digits` significant digits give (1..17), without trailing zeros; plain notation from 1e-4 to
 * below 1e9, otherwise exponent ("1.5e-7", "1e12"). Minus zero prints as 0. Returns the length written (size must be >=
 * 32). */
size_t number_print(char *out, size_t size, double value, int digits);

#endif
