/* Decimal numbers. number_read takes the digits into a 64-bit mantissa and a power of ten; when both are small the
 * result is one exact multiplication or division (Clinger's fast path: both operands are exact doubles, so the one
 * rounding is the right one). Anything else is rewritten as plain digits and an exponent, without a decimal point, and
 * given to strtod, which so never depends on the locale. */
#include "base/number.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

/* No midpoint between two doubles has more significant digits than 767; further ones only tell "above" from "equal". */
#define DIGITS_THAT_MATTER 768
#define POWER_CLAMP 1000000000

struct decimal {
  bool minus;
  uint64_t mantissa; /* the first 19 significant digits */
  bool cut;          /* there were more */
  int64_t power;     /* value = mantissa * 10^power, when not cut */
  size_t first;      /* index of the first significant digit */
  size_t end;        /* one past the last digit of the mantissa */
  size_t used;
};

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

static size_t exponent_read(struct slice text, size_t at, int64_t *power)
{
  size_t i = at + 1;
  bool minus = false;
  if (i < text.size && (text.at[i] == '-' || text.at[i] == '+'))
    minus = text.at[i++] == '-';
  size_t digits = i;
  int64_t value = 0;
  for (; i < text.size && is_digit(text.at[i]); i++) {
    if (value < (int64_t)1 << 50)
      value = value * 10 + (text.at[i] - '0');
  }
  if (i == digits)
    return at;
  *power += minus ? -value : value;
  return i;
}

static bool decimal_scan(struct slice text, char point, struct decimal *d)
{
  *d = (struct decimal){0};
  size_t i = 0;
  if (i < text.size && (text.at[i] == '-' || text.at[i] == '+'))
    d->minus = text.at[i++] == '-';
  bool any = false, started = false, fraction = false;
  int kept = 0;
  for (; i < text.size; i++) {
    char c = text.at[i];
    if (c == point && !fraction) {
      fraction = true;
      continue;
    }
    if (!is_digit(c))
      break;
    any = true;
    if (c != '0' && !started) {
      started = true;
      d->first = i;
    }
    if (kept < 19) {
      d->mantissa = d->mantissa * 10 + (uint64_t)(c - '0');
      kept += started;
      d->power -= fraction;
    } else {
      d->cut = true;
      d->power += !fraction;
    }
  }
  if (!any)
    return false;
  d->end = i;
  d->used = i;
  if (i < text.size && (text.at[i] == 'e' || text.at[i] == 'E'))
    d->used = exponent_read(text, i, &d->power);
  return true;
}

static bool decimal_fast(const struct decimal *d, double *out)
{
  static const double tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
  if (d->mantissa == 0) {
    *out = 0.0;
    return true;
  }
  if (d->cut || d->mantissa > (uint64_t)1 << 53 || d->power < -22 || d->power > 22)
    return false;
  double value = (double)d->mantissa;
  *out = d->power < 0 ? value / tens[-d->power] : value * tens[d->power];
  return true;
}

/* The digits again, this time all that can matter, then strtod. */
static double decimal_slow(struct slice text, const struct decimal *d)
{
  char copy[DIGITS_THAT_MATTER + 32];
  size_t size = 0;
  bool rest = false;
  for (size_t i = d->first; i < d->end; i++) {
    char c = text.at[i];
    if (!is_digit(c))
      continue;
    if (size < DIGITS_THAT_MATTER)
      copy[size++] = c;
    else
      rest = rest || c != '0';
  }
  /* d->power belongs to the first 19 digits; the copy holds more of them. */
  int64_t power = d->power;
  if (d->cut)
    power -= (int64_t)size - 19;
  if (rest) {
    copy[size++] = '1';
    power--;
  }
  power = power > POWER_CLAMP ? POWER_CLAMP : power < -POWER_CLAMP ? -POWER_CLAMP : power;
  snprintf(copy + size, sizeof copy - size, "e%lld", (long long)power);
  return strtod(copy, NULL);
}

size_t number_read(struct slice text, char point, double *out)
{
  struct decimal d;
  if (!decimal_scan(text, point, &d))
    return 0;
  double value = 0.0;
  if (!decimal_fast(&d, &value))
    value = decimal_slow(text, &d);
  if (!isfinite(value))
    return 0;
  *out = d.minus ? -value : value;
  return d.used;
}

/* The decimal digits of a finite number, rounded to `digits`, trailing zeros gone; returns how many. The exponent
 * belongs to the first digit. */
static size_t digits_of(double value, int digits, char *out, int *exponent)
{
  char text[40];
  snprintf(text, sizeof text, "%.*e", digits - 1, value);
  size_t count = 0, i = 0;
  for (; text[i] != '\0' && text[i] != 'e'; i++) {
    if (is_digit(text[i]))
      out[count++] = text[i];
  }
  *exponent = text[i] == 'e' ? (int)strtol(text + i + 1, NULL, 10) : 0;
  while (count > 1 && out[count - 1] == '0')
    count--;
  return count;
}

static size_t plain_print(char *out, const char *digits, size_t count, int exponent)
{
  size_t n = 0;
  if (exponent < 0) {
    out[n++] = '0';
    out[n++] = '.';
    for (int i = -1; i > exponent; i--)
      out[n++] = '0';
  }
  for (size_t i = 0; i < count; i++) {
    out[n++] = digits[i];
    if (exponent >= 0 && i == (size_t)exponent && i + 1 < count)
      out[n++] = '.';
  }
  for (int i = (int)count; i <= exponent; i++)
    out[n++] = '0';
  return n;
}

size_t number_print(char *out, size_t size, double value, int digits)
{
  if (!isfinite(value))
    return (size_t)snprintf(out, size, "%s", isnan(value) ? "nan" : value < 0 ? "-inf" : "inf");
  digits = digits < 1 ? 1 : digits > 17 ? 17 : digits;
  char kept[32] = "0", text[48];
  int exponent = 0;
  size_t count = digits_of(fabs(value), digits, kept, &exponent), n = 0;
  if (value < 0)
    text[n++] = '-';
  if (exponent >= -4 && exponent < 9) {
    n += plain_print(text + n, kept, count, exponent);
    text[n] = '\0';
  } else {
    text[n++] = kept[0];
    if (count > 1) {
      text[n++] = '.';
      memcpy(text + n, kept + 1, count - 1);
      n += count - 1;
    }
    snprintf(text + n, sizeof text - n, "e%d", exponent);
  }
  return (size_t)snprintf(out, size, "%s", text);
}
