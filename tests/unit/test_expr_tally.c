/* Values at a rank, against qsort() of the C library, for values that repeat, differ in their last bits, spread over
 * many powers of two or change sign; taken in pieces that are joined, as on several threads. */
#include "expr/tally.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { MOST = 60000, PIECES = 3 };

/* xorshift64, Marsaglia 2003; a fixed start, so that a failure can be repeated. */
static uint64_t next_of(uint64_t *state)
{
  *state ^= *state << 13;
  *state ^= *state >> 7;
  *state ^= *state << 17;
  return *state;
}

static double part_of(uint64_t *state)
{
  return (double)(next_of(state) >> 11) / 9007199254740992.0;
}

static double steps(uint64_t *state)
{
  return (double)(next_of(state) % 3000) / 10 + 233.15;
}
static double even(uint64_t *state)
{
  return part_of(state) * 2 - 1;
}
static double last_bits(uint64_t *state)
{
  return 100 + (double)(next_of(state) % 50000) * 0x1p-46;
}
static double powers(uint64_t *state)
{
  double size = ldexp(1 + part_of(state), (int)(next_of(state) % 2000) - 1000);
  return next_of(state) % 2 == 0 ? size : -size;
}
static double near_zero(uint64_t *state)
{
  return next_of(state) % 3 == 0 ? -0.0 : (part_of(state) - 0.5) * 1e-12;
}
static double one_of_two(uint64_t *state)
{
  return next_of(state) % 2 == 0 ? 3.25 : nextafter(3.25, 4);
}

static int compare(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static void take_pieces(struct tally *whole, struct arena *arena, const double *values, size_t count)
{
  for (size_t piece = 0; piece < PIECES; piece++) {
    struct tally part = *whole;
    tally_init(&part, arena);
    size_t from = count * piece / PIECES, to = count * (piece + 1) / PIECES;
    for (size_t at = from; at < to; at += 500)
      tally_take(&part, arena, values + at, to - at < 500 ? to - at : 500);
    tally_join(whole, arena, &part);
  }
}

static size_t check_ranks(const double *values, const double *sorted, size_t count, size_t below)
{
  struct arena *arena = arena_new();
  struct tally tally = {0};
  const size_t ranks[TALLY_RANKS] = {below, below + 1 < count ? below + 1 : below};
  size_t times = 0;
  tally_init(&tally, arena);
  take_pieces(&tally, arena, values, count);
  while (!tally_settle(&tally, arena, ranks)) {
    assert_true(++times < 8);
    tally_init(&tally, arena);
    take_pieces(&tally, arena, values, count);
  }
  for (size_t k = 0; k < TALLY_RANKS; k++) {
    if (!(tally.ranks[k].value == sorted[ranks[k]]))
      fail_msg("rank %zu of %zu: %a, not %a", ranks[k], count, tally.ranks[k].value, sorted[ranks[k]]);
  }
  assert_true(arena_used(arena) < (size_t)3 * 1024 * 1024);
  arena_free(arena);
  return times;
}

static void ranks_are_those_of_a_sort(void **state)
{
  (void)state;
  double (*const kinds[])(uint64_t *) = {steps, even, last_bits, powers, near_zero, one_of_two};
  const size_t counts[] = {1, 2, 100, 2047, 2049, 20000, MOST};
  static double values[MOST], sorted[MOST];
  size_t again = 0;
  uint64_t seed = 7;
  for (size_t kind = 0; kind < sizeof kinds / sizeof *kinds; kind++) {
    for (size_t c = 0; c < sizeof counts / sizeof *counts; c++) {
      size_t count = counts[c];
      for (size_t i = 0; i < count; i++)
        values[i] = kinds[kind](&seed);
      memcpy(sorted, values, count * sizeof *values);
      qsort(sorted, count, sizeof *sorted, compare);
      const size_t ranks[] = {0, count / 10, (count - 1) / 2, count - 1};
      for (size_t k = 0; k < sizeof ranks / sizeof *ranks; k++)
        again += check_ranks(values, sorted, count, ranks[k]);
    }
  }
  assert_true(again > 0); /* some of them did need a second look */
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(ranks_are_those_of_a_sort)};
  return cmocka_run_group_tests_name("expr/tally", tests, NULL, NULL);
}
