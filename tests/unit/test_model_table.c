/* Curves and tables as functions, against GSL on random ones and against worked values. */
#include "model/value.h"

#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_interp.h>
#include <gsl/gsl_spline2d.h>

enum { MOST = 40, TABLES = 300, SPOTS = 60 };

/* xorshift64, Marsaglia 2003; a fixed start, so that a failure can be repeated. */
static double random_in(uint64_t *state, double low, double high)
{
  *state ^= *state << 13;
  *state ^= *state >> 7;
  *state ^= *state << 17;
  return low + (high - low) * ((double)(*state >> 11) / 9007199254740992.0);
}

static size_t random_count(uint64_t *state)
{
  return (size_t)random_in(state, 2, MOST);
}

static void random_axis(uint64_t *state, double *at, size_t count)
{
  at[0] = random_in(state, -500, 500);
  for (size_t i = 1; i < count; i++)
    at[i] = at[i - 1] + random_in(state, 0.01, 300);
}

static struct axis axis_of(const double *at, size_t count)
{
  return (struct axis){.count = count, .at = at, .increasing = axis_is_increasing(at, count)};
}

static double held(double x, const double *at, size_t count)
{
  return fmin(fmax(x, at[0]), at[count - 1]);
}

/* A point now and then, inside most often, outside sometimes. */
static double random_spot(uint64_t *state, const double *at, size_t count)
{
  if (random_in(state, 0, 1) < 0.2)
    return at[(size_t)random_in(state, 0, (double)count)];
  double margin = (at[count - 1] - at[0]) * 0.1;
  return random_in(state, at[0] - margin, at[count - 1] + margin);
}

static void assert_near(double got, double want, double scale)
{
  if (!(fabs(got - want) <= 1e-12 * scale))
    fail_msg("got %.17g, want %.17g", got, want);
}

static void random_curves_agree_with_gsl(void **state)
{
  (void)state;
  uint64_t random = 88172645463325252u;
  for (int t = 0; t < TABLES; t++) {
    double x[MOST], z[MOST];
    size_t count = random_count(&random);
    random_axis(&random, x, count);
    for (size_t i = 0; i < count; i++)
      z[i] = random_in(&random, -100, 100);
    gsl_interp *theirs = gsl_interp_alloc(gsl_interp_linear, count);
    assert_int_equal(gsl_interp_init(theirs, x, z, count), 0);
    struct curve ours = {.x = axis_of(x, count), .value = z};
    for (int k = 0; k < SPOTS; k++) {
      double at = random_spot(&random, x, count), got;
      assert_true(curve_at(&ours, at, &got));
      assert_near(got, gsl_interp_eval(theirs, x, z, held(at, x, count), NULL), 100);
    }
    gsl_interp_free(theirs);
  }
}

static void random_tables_agree_with_gsl(void **state)
{
  (void)state;
  uint64_t random = 2463534242u;
  static double z[MOST * MOST];
  for (int t = 0; t < TABLES; t++) {
    double x[MOST], y[MOST];
    size_t columns = random_count(&random), rows = random_count(&random);
    random_axis(&random, x, columns);
    random_axis(&random, y, rows);
    for (size_t i = 0; i < columns * rows; i++)
      z[i] = random_in(&random, -100, 100);
    gsl_spline2d *theirs = gsl_spline2d_alloc(gsl_interp2d_bilinear, columns, rows);
    assert_int_equal(gsl_spline2d_init(theirs, x, y, z, columns, rows), 0);
    struct table ours = {.x = axis_of(x, columns), .y = axis_of(y, rows), .value = z};
    for (int k = 0; k < SPOTS; k++) {
      double at_x = random_spot(&random, x, columns), at_y = random_spot(&random, y, rows), got;
      assert_true(table_at(&ours, at_x, at_y, &got));
      double want = gsl_spline2d_eval(theirs, held(at_x, x, columns), held(at_y, y, rows), NULL, NULL);
      assert_near(got, want, 100);
    }
    gsl_spline2d_free(theirs);
  }
}

static void worked_values_hold(void **state)
{
  (void)state;
  /* The same in GSL 2.7.1 and scipy 1.10.1 (RegularGridInterpolator). */
  const double x[] = {1000, 2000, 4000}, y[] = {40, 100, 200};
  const double z[] = {10, 20, 30, 12, 25, 34, 14, 22, 36};
  const struct table table = {.x = axis_of(x, 3), .y = axis_of(y, 3), .value = z};
  const struct {
    double x, y, value;
  } cases[] = {{1500, 70, 16.75},     {3000, 150, 29.25}, {2500, 55, 23.6875}, {1000, 40, 10},
               {1500, 47.5, 15.4375}, {4000, 200, 36},    {2000, 100, 25},     {0, 0, 10},
               {9000, 999, 36},       {1500, -1e300, 15}, {-5, 70, 11}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    double got;
    assert_true(table_at(&table, cases[i].x, cases[i].y, &got));
    assert_near(got, cases[i].value, 1);
  }
}

/* At the points the stored value comes back to the last bit, and a flat cell stays flat. */
static void points_are_exact(void **state)
{
  (void)state;
  uint64_t random = 123456789u;
  double x[17], z[17], got;
  random_axis(&random, x, 17);
  for (size_t i = 0; i < 17; i++)
    z[i] = random_in(&random, -1e6, 1e6);
  struct curve curve = {.x = axis_of(x, 17), .value = z};
  for (size_t i = 0; i < 17; i++) {
    assert_true(curve_at(&curve, x[i], &got));
    assert_true(got == z[i]);
  }
  for (size_t i = 0; i < 17; i++)
    z[i] = 0.1;
  for (int k = 0; k < 1000; k++) {
    assert_true(curve_at(&curve, random_in(&random, x[0], x[16]), &got));
    assert_true(got == 0.1);
  }
}

static void single_points_hold_everywhere(void **state)
{
  (void)state;
  const double at[] = {50}, x[] = {0, 10}, one[] = {7}, two[] = {1, 3};
  double got;
  struct curve curve = {.x = axis_of(at, 1), .value = one};
  assert_true(curve_at(&curve, -1e9, &got) && got == 7);
  assert_true(curve_at(&curve, 50, &got) && got == 7);
  struct table flat = {.x = axis_of(x, 2), .y = axis_of(at, 1), .value = two};
  assert_true(table_at(&flat, 5, 123, &got) && got == 2);
  struct table tall = {.x = axis_of(at, 1), .y = axis_of(x, 2), .value = two};
  assert_true(table_at(&tall, 5, 5, &got) && got == 2);
}

static void broken_axes_are_refused(void **state)
{
  (void)state;
  const double good[] = {1, 2, 3}, repeated[] = {1, 2, 2}, back[] = {1, 3, 2}, falling[] = {3, 2, 1};
  const double unknown[] = {1, NAN, 3};
  const double z[9] = {0};
  double got;
  assert_true(axis_is_increasing(good, 3));
  assert_true(axis_is_increasing(good, 1));
  assert_false(axis_is_increasing(good, 0));
  const double *const broken[] = {repeated, back, falling, unknown};
  for (size_t i = 0; i < 4; i++) {
    struct curve curve = {.x = axis_of(broken[i], 3), .value = z};
    assert_false(curve.x.increasing);
    assert_false(curve_at(&curve, 1.5, &got));
    struct table by_x = {.x = axis_of(broken[i], 3), .y = axis_of(good, 3), .value = z};
    struct table by_y = {.x = axis_of(good, 3), .y = axis_of(broken[i], 3), .value = z};
    assert_false(table_at(&by_x, 1.5, 1.5, &got));
    assert_false(table_at(&by_y, 1.5, 1.5, &got));
  }
  struct curve curve = {.x = axis_of(good, 3), .value = z};
  assert_false(curve_at(&curve, NAN, &got));
}

/* Finite but absurd numbers must not come out as infinite or no number. */
static void absurd_numbers_are_refused(void **state)
{
  (void)state;
  const double x[] = {-DBL_MAX, 0, DBL_MAX}, z[] = {-DBL_MAX, DBL_MAX, -DBL_MAX};
  double got;
  struct curve curve = {.x = axis_of(x, 3), .value = z};
  assert_false(curve_at(&curve, 1, &got));
  assert_true(curve_at(&curve, DBL_MAX, &got) && got == -DBL_MAX);
  struct curve wide = {.x = axis_of(x, 3), .value = x};
  if (curve_at(&wide, 1e300, &got))
    assert_true(isfinite(got));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(random_curves_agree_with_gsl),
      cmocka_unit_test(random_tables_agree_with_gsl),
      cmocka_unit_test(worked_values_hold),
      cmocka_unit_test(points_are_exact),
      cmocka_unit_test(single_points_hold_everywhere),
      cmocka_unit_test(broken_axes_are_refused),
      cmocka_unit_test(absurd_numbers_are_refused),
  };
  return cmocka_run_group_tests_name("model table", tests, NULL, NULL);
}
