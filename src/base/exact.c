/* The accumulator: see exact.h. Reading order: exact_add, carry, exact_round; the rest is built of these. */
#include "base/exact.h"

#include <math.h>
#include <string.h>

#define DIGIT_BITS 32
#define DIGIT_MASK INT64_C(0xffffffff)
#define BIAS 1074 /* the lowest bit of a double is 2^-1074 */
/* One addition puts at most 2^53 on a digit: so many leave it under 2^63. */
#define PENDING_MOST 512

/* Leaves every digit but the last within 0 .. 2^32 - 1. */
static void carry(struct exact *sum)
{
  for (size_t k = 0; k + 1 < EXACT_DIGITS; k++) {
    int64_t low = sum->digit[k] & DIGIT_MASK;
    sum->digit[k + 1] += (sum->digit[k] - low) / (DIGIT_MASK + 1);
    sum->digit[k] = low;
  }
  sum->pending = 0;
}

void exact_add(struct exact *sum, double x)
{
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  int exponent = (int)(bits >> 52 & 0x7ff);
  uint64_t mantissa = bits & ((UINT64_C(1) << 52) - 1);
  if (exponent == 0x7ff) {
    sum->broken = true;
    return;
  }
  if (exponent > 0) {
    mantissa |= UINT64_C(1) << 52;
    exponent--;
  }
  int64_t sign = bits >> 63 ? -1 : 1;
  int digit = exponent / DIGIT_BITS, shift = exponent % DIGIT_BITS;
  sum->digit[digit] += sign * (int64_t)(mantissa << shift & (uint64_t)DIGIT_MASK);
  sum->digit[digit + 1] += sign * (int64_t)(mantissa >> (DIGIT_BITS - shift));
  if (++sum->pending == PENDING_MOST)
    carry(sum);
}

void exact_add_product(struct exact *sum, double a, double b)
{
  double product = a * b, rest = fma(a, b, -product);
  exact_add(sum, product);
  if (rest != 0)
    exact_add(sum, rest);
}

/* ---- many at a time: the numbers of a block are cut into layers, each so short that its sum is exact as a double
 * (Rump, Ogita, Oishi: Accurate floating-point summation, 2008, "ExtractVector"). */

enum { BLOCK = 512, BLOCK_BITS = 10, LANES = 4 }; /* 2^BLOCK_BITS >= BLOCK + 2 */

static double largest_of(const double *restrict x, size_t count)
{
  double lanes[LANES] = {0};
  for (size_t i = 0; i < count; i += LANES) {
    for (size_t k = 0; k < LANES; k++) {
      double size = fabs(x[i + k]);
      lanes[k] = size > lanes[k] ? size : lanes[k];
    }
  }
  for (size_t k = 1; k < LANES; k++)
    lanes[0] = lanes[k] > lanes[0] ? lanes[k] : lanes[0];
  return lanes[0];
}

/* Takes the layer of multiples of 2^-53 * top out of the numbers; returns their sum. */
static double extract(double *restrict x, size_t count, double top)
{
  double lanes[LANES] = {0};
  for (size_t i = 0; i < count; i += LANES) {
    for (size_t k = 0; k < LANES; k++) {
      double high = (top + x[i + k]) - top;
      x[i + k] -= high;
      lanes[k] += high;
    }
  }
  return (lanes[0] + lanes[1]) + (lanes[2] + lanes[3]);
}

/* Uses up a block, filled with zeros to a multiple of LANES. */
static void add_block(struct exact *sum, double *x, size_t count)
{
  for (;;) {
    double largest = largest_of(x, count);
    if (!(largest > 0x1p-900 && largest < 0x1p990))
      break;
    int exponent;
    frexp(largest, &exponent);
    exact_add(sum, extract(x, count, ldexp(1, exponent + BLOCK_BITS)));
  }
  for (size_t i = 0; i < count; i++) {
    if (x[i] != 0)
      exact_add(sum, x[i]);
  }
}

static size_t fill_block(double *x, size_t count)
{
  while (count % LANES != 0)
    x[count++] = 0;
  return count;
}

void exact_add_many(struct exact *sum, const double *x, size_t count)
{
  double block[BLOCK];
  for (size_t i = 0; i < count; i += BLOCK) {
    size_t here = count - i < BLOCK ? count - i : BLOCK;
    memcpy(block, x + i, here * sizeof *block);
    add_block(sum, block, fill_block(block, here));
  }
}

/* A product's rounding error, exactly (Dekker, 1971), where nothing is too large or too small for it. */
static double product_rest(double a, double b, double product)
{
  const double splitter = 134217729; /* 2^27 + 1 */
  double a_high = a * splitter, b_high = b * splitter;
  a_high -= a_high - a;
  b_high -= b_high - b;
  double a_low = a - a_high, b_low = b - b_high;
  return a_low * b_low - (((product - a_high * b_high) - a_low * b_high) - a_high * b_low);
}

void exact_add_products(struct exact *sum, const double *a, const double *b, size_t count)
{
  double products[BLOCK], rests[BLOCK];
  for (size_t i = 0; i < count; i += BLOCK) {
    size_t here = count - i < BLOCK ? count - i : BLOCK;
    unsigned odd = 0;
    for (size_t k = 0; k < here; k++) {
      double x = a[i + k], y = b[i + k], product = x * y, size = fabs(product);
      products[k] = product;
      rests[k] = product_rest(x, y, product);
      odd |= !(fabs(x) < 0x1p490) | !(fabs(y) < 0x1p490) | (!(size > 0x1p-900) & (x != 0) & (y != 0));
    }
    if (odd) {
      for (size_t k = 0; k < here; k++)
        exact_add_product(sum, a[i + k], b[i + k]);
      continue;
    }
    add_block(sum, products, fill_block(products, here));
    add_block(sum, rests, fill_block(rests, here));
  }
}

void exact_merge(struct exact *sum, const struct exact *other)
{
  struct exact settled = *other;
  carry(&settled);
  carry(sum);
  for (size_t k = 0; k < EXACT_DIGITS; k++)
    sum->digit[k] += settled.digit[k];
  sum->broken = sum->broken || other->broken;
  carry(sum);
}

static int bit_length(uint64_t x)
{
  int length = 0;
  for (; x > 0; x >>= 1)
    length++;
  return length;
}

double exact_round(const struct exact *sum)
{
  struct exact settled = *sum;
  if (sum->broken)
    return NAN;
  carry(&settled);
  double sign = 1;
  if (settled.digit[EXACT_DIGITS - 1] < 0) {
    sign = -1;
    for (size_t k = 0; k < EXACT_DIGITS; k++)
      settled.digit[k] = -settled.digit[k];
    carry(&settled);
  }
  size_t top = EXACT_DIGITS - 1;
  while (top > 0 && settled.digit[top] == 0)
    top--;
  /* 64 bits from the highest one down; what is under them only counts as more than nothing. */
  int length = bit_length((uint64_t)settled.digit[top]);
  uint64_t head = (uint64_t)settled.digit[top];
  int have = length, lowest = (int)top * DIGIT_BITS - BIAS;
  bool rest = false;
  size_t k = top;
  while (k > 0 && have < 64) {
    int take = 64 - have < DIGIT_BITS ? 64 - have : DIGIT_BITS;
    uint64_t next = (uint64_t)settled.digit[--k];
    head = head << take | next >> (DIGIT_BITS - take);
    rest = rest || (take < DIGIT_BITS && (next & ((UINT64_C(1) << (DIGIT_BITS - take)) - 1)) != 0);
    have += take;
    lowest -= take;
  }
  while (k-- > 0)
    rest = rest || settled.digit[k] != 0;
  if (have > 53) {
    int drop = have - 53;
    uint64_t half = UINT64_C(1) << (drop - 1), dropped = head & (half * 2 - 1);
    head >>= drop;
    lowest += drop;
    if (dropped > half || (dropped == half && (rest || (head & 1) != 0)))
      head++;
  }
  return sign * ldexp((double)head, lowest);
}

/* The sum as doubles that add up to it, largest first; how many. A handful, but for sums made to be awkward. */
static size_t expand(const struct exact *sum, double *parts)
{
  struct exact rest = *sum;
  size_t count = 0;
  for (; count < EXACT_DIGITS; count++) {
    parts[count] = exact_round(&rest);
    if (!(isfinite(parts[count]) && parts[count] != 0))
      break;
    exact_add(&rest, -parts[count]);
  }
  return count;
}

void exact_add_exact_product(struct exact *sum, const struct exact *a, const struct exact *b, double sign)
{
  double a_parts[EXACT_DIGITS], b_parts[EXACT_DIGITS];
  size_t a_count = expand(a, a_parts), b_count = expand(b, b_parts);
  for (size_t i = 0; i < a_count; i++) {
    for (size_t k = 0; k < b_count; k++)
      exact_add_product(sum, sign * a_parts[i], b_parts[k]);
  }
  sum->broken = sum->broken || a->broken || b->broken;
}

double exact_divide(const struct exact *a, const struct exact *b)
{
  double numerator = exact_round(a), divisor = exact_round(b);
  if (!isfinite(numerator) || !isfinite(divisor) || divisor == 0)
    return NAN;
  double quotient = numerator / divisor;
  if (!isfinite(quotient))
    return quotient;
  struct exact rest = *a, factor = {{0}, 0, false};
  exact_add(&factor, quotient);
  exact_add_exact_product(&rest, &factor, b, -1);
  double left = exact_round(&rest) / divisor;
  return isfinite(left) ? quotient + left : quotient;
}
