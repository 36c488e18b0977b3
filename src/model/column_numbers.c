/* Numbers out of packed ones: (least + stored) / 10^decimals, then to base units, each step rounded as if it stood
 * alone. One pass, without a question a row, so that a compiler can do several at a time: as many as any processor of
 * the kind can, or as AVX2 can. Reading order: column_numbers_nth, make, loops. */
#include "model/column_set.h"

#include <string.h>

static const double tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                              1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

#define INLINE static inline __attribute__((always_inline))

/* What is done to a number after it is read; a step that is none is left out. */
struct steps {
  double divisor, first, factor, offset;
  bool divides, scales;
};

INLINE double step(double x, const struct steps *steps, bool divides, bool scales)
{
  x = divides ? x / steps->divisor : x;
  return scales ? (x - steps->first) * steps->factor + steps->offset : x;
}

#define LOOP(type, wide)                                        \
  for (size_t i = 0; i < count; i++) {                          \
    type stored;                                                \
    memcpy(&stored, packed + i * sizeof stored, sizeof stored); \
    double x = (double)((wide)least + (wide)stored);            \
    at[i] = step(x, &own, divides, scales);                     \
  }

/* What fits is added in 32 bits, which more processors can make doubles of. */
INLINE void loops(const struct column_run *run, const struct steps *steps, bool divides, bool scales,
                  const char *restrict packed, size_t count, double *restrict at)
{
  const struct steps own = *steps;
  const int64_t least = run->least;
  const bool small = least >= INT32_MIN && least <= INT32_MAX - UINT16_MAX;
  if (run->width == 1 && small) {
    LOOP(uint8_t, int32_t)
  } else if (run->width == 2 && small) {
    LOOP(uint16_t, int32_t)
  } else if (run->width == 1) {
    LOOP(uint8_t, int64_t)
  } else if (run->width == 2) {
    LOOP(uint16_t, int64_t)
  } else if (run->width == 4) {
    LOOP(uint32_t, int64_t)
  } else {
    LOOP(int64_t, int64_t)
  }
}

/* The same of doubles. */
INLINE void scale_doubles(const struct steps *steps, const char *restrict packed, size_t count, double *restrict at)
{
  const struct steps own = *steps;
  memcpy(at, packed, count * sizeof *at);
  for (size_t i = 0; own.scales && i < count; i++)
    at[i] = step(at[i], &own, false, true);
}

INLINE void make(const struct column_run *run, const struct column_scale *scale, const char *packed, size_t count,
                 double *at)
{
  const bool doubles = run->decimals == COLUMN_DOUBLE;
  struct steps steps = {.divisor = doubles ? 1 : tens[run->decimals], .factor = 1};
  if (scale != NULL && !(scale->rate > 0) && scale->unit != NULL) {
    steps.first = scale->first;
    steps.factor = scale->unit->factor;
    steps.offset = scale->unit->offset;
  }
  steps.divides = steps.divisor > 1;
  steps.scales = steps.first != 0 || steps.factor != 1 || steps.offset != 0;
  if (doubles) {
    scale_doubles(&steps, packed, count, at);
  } else if (run->width == 0) {
    double x = step((double)run->least, &steps, steps.divides, steps.scales);
    for (size_t i = 0; i < count; i++)
      at[i] = x;
  } else if (steps.divides && steps.scales) {
    loops(run, &steps, true, true, packed, count, at);
  } else if (steps.divides) {
    loops(run, &steps, true, false, packed, count, at);
  } else if (steps.scales) {
    loops(run, &steps, false, true, packed, count, at);
  } else {
    loops(run, &steps, false, false, packed, count, at);
  }
  if (scale != NULL && scale->rate > 0) {
    for (size_t i = 0; i < count; i++)
      at[i] /= scale->rate;
  }
}

static void make_plainly(const struct column_run *run, const struct column_scale *scale, const char *packed,
                         size_t count, double *at)
{
  make(run, scale, packed, count, at);
}

#if defined(__x86_64__)

__attribute__((target("avx2"))) static void make_by_4(const struct column_run *run, const struct column_scale *scale,
                                                      const char *packed, size_t count, double *at)
{
  make(run, scale, packed, count, at);
}

column_numbers *column_numbers_nth(size_t n)
{
  static column_numbers *const ways[] = {make_plainly, make_by_4};
  __builtin_cpu_init();
  if (n == 1 && !__builtin_cpu_supports("avx2"))
    return NULL;
  return n < sizeof ways / sizeof *ways ? ways[n] : NULL;
}

#else

column_numbers *column_numbers_nth(size_t n)
{
  return n == 0 ? make_plainly : NULL;
}

#endif

column_numbers *column_numbers_best(void)
{
  column_numbers *best = NULL, *way;
  for (size_t n = 0; (way = column_numbers_nth(n)) != NULL; n++)
    best = way;
  return best;
}
