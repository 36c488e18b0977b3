/* Sums that round once, against rational arithmetic: tests/unit/exact-sums.txt was written by CPython's
 * fractions.Fraction, whose float() rounds to the nearest double. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/exact.h"

enum { MOST = 256 };

static double word(char **at)
{
  char *end = NULL;
  double value = strtod(*at, &end);
  assert_true(end != *at);
  *at = end;
  return value;
}

static void expect_bits(const char *what, size_t set, double is, double wanted)
{
  if (memcmp(&is, &wanted, sizeof is) != 0)
    fail_msg("%s of set %zu: %a, not %a", what, set, is, wanted);
}

static void check_set(size_t set, const double *x, const double *y, size_t count, const double *wanted)
{
  struct exact sum = {{0}, 0, false}, products = sum, squares = sum, n = sum, scatter = sum, pairs = sum;
  struct exact half[2] = {sum, sum};
  for (size_t i = 0; i < count; i++) {
    exact_add(&sum, x[i]);
    exact_add(&half[i % 2], x[count - 1 - i]);
    exact_add_product(&products, x[i], y[i]);
    exact_add_product(&squares, x[i], x[i]);
  }
  expect_bits("sum", set, exact_round(&sum), wanted[0]);
  exact_merge(&half[0], &half[1]);
  expect_bits("sum in another order", set, exact_round(&half[0]), wanted[0]);
  expect_bits("sum of products", set, exact_round(&products), wanted[1]);
  struct exact many = {{0}, 0, false}, many_products = many;
  exact_add_many(&many, x, count);
  exact_add_products(&many_products, x, y, count);
  expect_bits("sum of many at a time", set, exact_round(&many), wanted[0]);
  expect_bits("sum of many products at a time", set, exact_round(&many_products), wanted[1]);
  exact_add(&n, (double)count);
  expect_bits("mean", set, exact_divide(&sum, &n), wanted[3]);
  if (wanted[2] == 0)
    return;
  exact_add_exact_product(&scatter, &n, &squares, 1);
  exact_add_exact_product(&scatter, &sum, &sum, -1);
  expect_bits("scatter", set, exact_round(&scatter), wanted[2]);
  exact_add_product(&pairs, (double)count, (double)(count - 1));
  expect_bits("variance", set, exact_divide(&scatter, &pairs), wanted[4]);
}

static void sums_are_those_of_fractions(void **state)
{
  (void)state;
  static char line[64 * 1024];
  FILE *file = fopen("tests/unit/exact-sums.txt", "r");
  size_t sets = 0;
  assert_non_null(file);
  while (fgets(line, sizeof line, file) != NULL) {
    double x[MOST], y[MOST], wanted[5];
    char *at = line;
    if (line[0] == '#')
      continue;
    size_t count = (size_t)word(&at);
    assert_true(count > 0 && count <= MOST);
    for (size_t i = 0; i < count; i++)
      x[i] = word(&at);
    for (size_t i = 0; i < count; i++)
      y[i] = word(&at);
    for (size_t i = 0; i < 5; i++)
      wanted[i] = word(&at);
    check_set(sets, x, y, count, wanted);
    sets++;
  }
  fclose(file);
  assert_int_equal(sets, 6);
}

/* IEEE 754: round to nearest, ties to even; subnormal numbers are exact. */
static void rounding(void **state)
{
  (void)state;
  struct exact sum = {{0}, 0, false};
  exact_add(&sum, 0x1p53);
  exact_add(&sum, 1);
  expect_bits("tie down", 0, exact_round(&sum), 0x1p53);
  exact_add(&sum, 0x1p-1074);
  expect_bits("just over the tie", 0, exact_round(&sum), 0x1p53 + 2);
  exact_add(&sum, -0x1p53);
  exact_add(&sum, -1);
  expect_bits("the smallest", 0, exact_round(&sum), 0x1p-1074);
  exact_add(&sum, -0x1p-1074);
  assert_true(exact_round(&sum) == 0);
  exact_add(&sum, 0x1.fffffffffffffp1023);
  exact_add(&sum, 0x1.fffffffffffffp1023);
  assert_true(isinf(exact_round(&sum)));
  exact_add(&sum, -0x1.fffffffffffffp1023);
  expect_bits("the largest", 0, exact_round(&sum), 0x1.fffffffffffffp1023);
  exact_add(&sum, NAN);
  assert_true(isnan(exact_round(&sum)));
}

/* A million additions: carries are passed on in time. By hand: 1 000 000 times 2^52 + 1. */
static void many_additions(void **state)
{
  (void)state;
  struct exact sum = {{0}, 0, false};
  for (int i = 0; i < 1000000; i++)
    exact_add(&sum, 0x1p52 + 1);
  exact_add(&sum, -0x1p52 * 1000000);
  expect_bits("rest", 0, exact_round(&sum), 1000000);
}

/* xorshift64, Marsaglia 2003; a fixed start, so that a failure can be repeated. */
static uint64_t next_of(uint64_t *state)
{
  *state ^= *state << 13;
  *state ^= *state >> 7;
  *state ^= *state << 17;
  return *state;
}

/* A number with all bits at random, and an exponent within `reach` of 2^0. */
static double any_number(uint64_t *state, int reach)
{
  double size = ldexp((double)(next_of(state) >> 11), (int)(next_of(state) % (unsigned)(2 * reach + 1)) - reach - 52);
  return next_of(state) % 2 == 0 ? size : -size;
}

/* Many at a time leave nothing but zero when the same are taken away one by one. */
static void many_are_each(void **state)
{
  (void)state;
  const int reaches[] = {0, 3, 40, 300, 480, 960};
  uint64_t seed = 20;
  enum { ROUNDS = 40, LONGEST = 1300 };
  static double x[LONGEST], y[LONGEST];
  for (size_t r = 0; r < sizeof reaches / sizeof *reaches; r++) {
    for (size_t round = 0; round < ROUNDS; round++) {
      size_t count = next_of(&seed) % LONGEST;
      struct exact sum = {{0}, 0, false}, products = sum;
      for (size_t i = 0; i < count; i++) {
        x[i] = next_of(&seed) % 16 == 0 ? 0 : any_number(&seed, reaches[r]);
        y[i] = any_number(&seed, reaches[r] / 2);
      }
      exact_add_many(&sum, x, count);
      for (size_t i = 0; i < count; i++)
        exact_add(&sum, -x[i]);
      expect_bits("rest of a sum", r, exact_round(&sum), 0);
      if (reaches[r] > 480) /* the products are no numbers */
        continue;
      exact_add_products(&products, x, y, count);
      for (size_t i = 0; i < count; i++)
        exact_add_product(&products, -x[i], y[i]);
      expect_bits("rest of a sum of products", r, exact_round(&products), 0);
    }
  }
}

static void many_may_be_no_numbers(void **state)
{
  (void)state;
  const double awkward[][3] = {{1, NAN, 2}, {INFINITY, 1, 2}, {1, -INFINITY, INFINITY}};
  for (size_t i = 0; i < sizeof awkward / sizeof *awkward; i++) {
    struct exact sum = {{0}, 0, false}, products = sum;
    exact_add_many(&sum, awkward[i], 3);
    exact_add_products(&products, awkward[i], awkward[i], 3);
    assert_true(isnan(exact_round(&sum)));
    assert_true(isnan(exact_round(&products)));
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(sums_are_those_of_fractions),
      cmocka_unit_test(rounding),
      cmocka_unit_test(many_additions),
      cmocka_unit_test(many_are_each),
      cmocka_unit_test(many_may_be_no_numbers),
  };
  return cmocka_run_group_tests_name("base/exact", tests, NULL, NULL);
}
