/* Proved bounds against brute force: every breakpoint and many points between them, over random tables and curves. */
#include "expr_help.h"

#include <float.h>

struct grid { /* a table of 4 x 3 and a curve of 3, in rpm, kPa, degC and deg */
  double x[4], y[3], z[12], c[3], d[3];
};

static struct grid random_grid(uint64_t *seed)
{
  struct grid grid;
  double at = 500;
  for (size_t i = 0; i < 4; i++)
    grid.x[i] = at += 10 + floor(3000 * chance_real(seed));
  at = 20;
  for (size_t i = 0; i < 3; i++)
    grid.y[i] = at += 1 + floor(80 * chance_real(seed));
  at = -40;
  for (size_t i = 0; i < 3; i++)
    grid.c[i] = at += 1 + floor(60 * chance_real(seed));
  for (size_t i = 0; i < 12; i++)
    grid.z[i] = floor(60 * chance_real(seed)) - 10;
  for (size_t i = 0; i < 3; i++)
    grid.d[i] = floor(20 * chance_real(seed)) - 10;
  return grid;
}

static const char *grid_settings(struct arena *arena, const struct grid *g)
{
  return arena_print(arena,
                     "ignition.spark_advance: {x: {unit: rpm, at: [%g, %g, %g, %g]}, y: {unit: kPa, at: [%g, %g, %g]}, "
                     "value: {unit: deg, rows: [[%g, %g, %g, %g], [%g, %g, %g, %g], [%g, %g, %g, %g]]}}\n"
                     "ignition.coolant_correction: {x: {unit: degC, at: [%g, %g, %g]}, value: {unit: deg, at: [%g, %g, "
                     "%g]}}\n",
                     g->x[0], g->x[1], g->x[2], g->x[3], g->y[0], g->y[1], g->y[2], g->z[0], g->z[1], g->z[2], g->z[3],
                     g->z[4], g->z[5], g->z[6], g->z[7], g->z[8], g->z[9], g->z[10], g->z[11], g->c[0], g->c[1],
                     g->c[2], g->d[0], g->d[1], g->d[2]);
}

/* Linear with held ends, as in rules/LANGUAGE.md, section 5. */
static double line_at(const double *at, const double *value, size_t count, size_t step, double x)
{
  if (x <= at[0])
    return value[0];
  for (size_t i = 0; i + 1 < count; i++) {
    if (x <= at[i + 1])
      return value[i * step] + (value[(i + 1) * step] - value[i * step]) * (x - at[i]) / (at[i + 1] - at[i]);
  }
  return value[(count - 1) * step];
}

static double table_value(const struct grid *g, double x, double y)
{
  double column[3];
  for (size_t row = 0; row < 3; row++)
    column[row] = line_at(g->x, &g->z[4 * row], 4, 1, x);
  return line_at(g->y, column, 3, 1, y);
}

static const char *const bounded = "tune.ignition.spark_advance(n, p) - 2 * tune.ignition.coolant_correction(t) + "
                                   "p / 10 kPa * 1 deg";

static double value_at(const struct grid *g, double n, double p, double t)
{
  return table_value(g, n, p) - 2 * line_at(g->c, g->d, 3, 1, t) + p / 10;
}

/* The values at every breakpoint within a range, at its ends and at 12 points between them. */
static size_t places(const double *at, size_t count, double from, double to, double *out)
{
  size_t used = 0;
  for (size_t i = 0; i <= 13; i++)
    out[used++] = from + (to - from) * (double)i / 13;
  for (size_t i = 0; i < count; i++) {
    if (at[i] > from && at[i] < to)
      out[used++] = at[i];
  }
  return used;
}

static void bounds_of_sums_are_exact(void **state)
{
  uint64_t seed = 17;
  size_t rounds = 0;
  for (; rounds < 25; rounds++) {
    struct arena *arena = arena_new();
    struct grid g = random_grid(&seed);
    struct bench bench = bench_new(state, (struct given){.settings = grid_settings(arena, &g)});
    double n[32], p[32], t[32], n0 = floor(400 + 2000 * chance_real(&seed)), p0 = floor(10 + 60 * chance_real(&seed)),
                                t0 = floor(-50 + 60 * chance_real(&seed));
    double n1 = n0 + floor(5000 * chance_real(&seed)), p1 = p0 + floor(150 * chance_real(&seed)),
           t1 = t0 + floor(100 * chance_real(&seed)), high = -DBL_MAX, low = DBL_MAX;
    size_t n_count = places(g.x, 4, n0, n1, n), p_count = places(g.y, 3, p0, p1, p),
           t_count = places(g.c, 3, t0, t1, t);
    for (size_t i = 0; i < n_count; i++) {
      for (size_t j = 0; j < p_count; j++) {
        for (size_t k = 0; k < t_count; k++) {
          double value = value_at(&g, n[i], p[j], t[k]);
          high = fmax(high, value);
          low = fmin(low, value);
        }
      }
    }
    const char *box =
        arena_print(arena, "over n from %g rpm to %g rpm, p from %g kPa to %g kPa, t from %g degC to %g degC", n0, n1,
                    p0, p1, t0, t1);
    expect_near("highest", bench_number(&bench, arena_print(arena, "highest(%s, %s)", bounded, box), "deg"), high,
                1e-11);
    expect_near("lowest", bench_number(&bench, arena_print(arena, "lowest(%s, %s)", bounded, box), "deg"), low, 1e-11);
    /* What is no sum is bounded from outside. */
    double product =
        bench_number(&bench, arena_print(arena, "highest((%s) * (1 + p / 100 kPa), %s)", bounded, box), "deg");
    for (size_t i = 0; i < n_count; i++) {
      for (size_t j = 0; j < p_count; j++)
        assert_true(value_at(&g, n[i], p[j], t[0]) * (1 + p[j] / 100) <= product + 1e-9);
    }
    bench_free(&bench);
    arena_free(arena);
  }
  assert_int_equal(rounds, 25);
}

static void bounds_that_cannot_be(void **state)
{
  struct bench bench = bench_new(
      state, (struct given){
                 .settings =
                     "ignition.coolant_correction: {x: {unit: degC, at: [60, 60]}, value: {unit: deg, at: [0, 1]}}\n"});
  const char *const seven =
      "a from 0 to 1, b from 0 to 1, c from 0 to 1, d from 0 to 1, e from 0 to 1, f from 0 to 1, g from 0 to 1";
  const char *const other =
      "h from 0 to 1, i from 0 to 1, j from 0 to 1, k from 0 to 1, l from 0 to 1, m from 0 to 1, n from 0 to 1";
  expect_shown(&bench, arena_print(bench.arena, "highest(a + b + c + d + e + f + g, over %s)", seven), "7");
  assert_false(
      bench_eval(
          &bench,
          arena_print(bench.arena,
                      "highest(h + i + j + k + l + m + n + highest(a + b + c + d + e + f + g, over %s), over %s)",
                      seven, other))
          .known);
  assert_null(bench_compile(&bench, arena_print(bench.arena, "highest(a, over %s, h from 0 to 1)", seven), NULL));
  expect_missing(&bench, "highest(x, over x from 2 to 1)", "a range of 'x' that does not run backwards");
  expect_missing(&bench, "highest(x, over x from 0 kPa to tune.fuel.reference_pulse_width * 1 kPa / 1 ms)",
                 "tune.fuel.reference_pulse_width");
  expect_missing(&bench, "highest(1 / x, over x from -1 to 1)", "a divisor that cannot be 0");
  expect_missing(&bench, "highest(x / (0.1 + 0.2 - 0.3), over x from 0 to 1)", "a divisor that is not 0");
  expect_missing(&bench, "highest(tune.ignition.coolant_correction(t), over t from 0 degC to 90 degC)",
                 "tune.ignition.coolant_correction with axes that increase");
  expect_missing(&bench, "highest(tune.ignition.knock_maximum_retard + x, over x from 0 deg to 1 deg)",
                 "tune.ignition.knock_maximum_retard");
  expect_shown(&bench, "highest(x, over x from 1 to 1)", "1");
  expect_shown(&bench, "highest(5 deg, over x from 0 to 1)", "5 deg");
  expect_shown(&bench, "where_highest(5 deg, over x from 0 to 1)", "everywhere");
  expect_shown(&bench, "lowest(abs(x), over x from -3 deg to 2 deg)", "0 deg");
  expect_shown(&bench, "highest(abs(x), over x from -3 deg to 2 deg)", "3 deg");
  expect_shown(&bench, "highest(min(x, 1 deg), over x from -3 deg to 2 deg)", "1 deg");
  expect_shown(&bench, "highest(x - x, over x from 0 deg to 5 deg)", "0 deg"); /* both move together */
  bench_free(&bench);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(bounds_of_sums_are_exact),
      cmocka_unit_test(bounds_that_cannot_be),
  };
  return cmocka_run_group_tests_name("expr bound", tests, dictionary_open, dictionary_close);
}
