/* Sums that round only once, at the end: order, grouping and threads do not show in the result. A fixed-point number
 * wide enough for every double, in digits of 32 bits; products go in as a rounded product and its rest. Any room may
 * include this. One thread an accumulator. */
#ifndef KEYWAY_BASE_EXACT_H
#define KEYWAY_BASE_EXACT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Bits 2^-1074 to 2^1023 of a double, and room for 2^63 of the largest. */
enum { EXACT_DIGITS = 70 };

struct exact {                 /* all zero: the sum 0 */
  int64_t digit[EXACT_DIGITS]; /* digit k counts 2^(32 k - 1074) */
  int pending;                 /* additions since carries were last passed on */
  bool broken;                 /* an infinity or NaN was added, or a product was too large */
};

void exact_add(struct exact *sum, double x);
/* Exact unless a * b is so small that its last bits fall under 2^-1074. */
void exact_add_product(struct exact *sum, double a, double b);
/* The same for each of them. */
void exact_add_many(struct exact *sum, const double *x, size_t count);
void exact_add_products(struct exact *sum, const double *a, const double *b, size_t count);
void exact_merge(struct exact *sum, const struct exact *other);
/* sum += sign * a * b */
void exact_add_exact_product(struct exact *sum, const struct exact *a, const struct exact *b, double sign);

/* To the nearest double, ties to even; NaN when broken, infinite when too large. */
double exact_round(const struct exact *sum);
/* a / b, to the nearest double but for ties within 2^-50 of an ulp; NaN when broken or b is 0. */
double exact_divide(const struct exact *a, const struct exact *b);

#endif
