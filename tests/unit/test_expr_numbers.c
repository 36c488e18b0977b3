/* Statistics and lines through samples against authorities outside: NIST's certified values, GSL, scipy and numpy.
 * Samples go in as plain channels (gear, knock_count) at 17 digits, so that nothing but the statistics is at work. */
#include "expr_help.h"

#include "expr/run.h"

#include <float.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_interp2d.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>

/* A log with x as gear and y as knock_count; NAN: missing. y may be NULL. */
static struct bench samples(void **state, const double *y, const double *x, size_t count)
{
  size_t room = 64 + count * 80, used = 0;
  char *text = malloc(room);
  assert_non_null(text);
  used += (size_t)snprintf(text, room, "time (s),gear,knock_count\n");
  for (size_t i = 0; i < count; i++) {
    used += (size_t)snprintf(text + used, room - used, "%.17g,", (double)i * 0.1);
    used += isnan(x[i]) ? 0 : (size_t)snprintf(text + used, room - used, "%.17g", x[i]);
    used += (size_t)snprintf(text + used, room - used, ",");
    if (y && !isnan(y[i]))
      used += (size_t)snprintf(text + used, room - used, "%.17g", y[i]);
    used += (size_t)snprintf(text + used, room - used, "\n");
  }
  struct bench bench = bench_new(state, (struct given){.log = text});
  free(text);
  return bench;
}

#define SAMPLES(state, y, x) samples((state), (y), (x), sizeof(x) / sizeof *(x))

/* NIST Statistical Reference Datasets, Linear Regression, Norris (J. Norris, NIST, calibration of ozone monitors). */
static const double norris_y[] = {0.1, 338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
                                  0.1, 778.1, 668.8, 339.3, 448.9, 10.8,  557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
                                  0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
static const double norris_x[] = {0.2, 337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
                                  0.6, 775.5, 666.9, 338.0, 447.5, 11.6,  556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
                                  0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};

static void norris_as_certified(void **state)
{
  struct bench bench = SAMPLES(state, norris_y, norris_x);
  /* Certified by NIST. */
  expect_near("slope", bench_number(&bench, "slope(log.knock_count, log.gear)", "1"), 1.00211681802045, 1e-13);
  expect_near("intercept", bench_number(&bench, "intercept(log.knock_count, log.gear)", "1"), -0.262323073774029,
              1e-11);
  double r = bench_number(&bench, "correlation(log.knock_count, log.gear)", "1");
  expect_near("r squared", r * r, 0.999993745883712, 1e-14);
  /* scipy 1.10.1: stats.theilslopes */
  expect_near("robust slope", bench_number(&bench, "robust_slope(log.knock_count, log.gear)", "1"), 1.0021968365553604,
              1e-14);
  expect_near("robust intercept", bench_number(&bench, "robust_intercept(log.knock_count, log.gear)", "1"),
              -0.0640158172232077, 1e-12);
  bench_free(&bench);
}

/* NIST Statistical Reference Datasets, Univariate, NumAcc4: 10000000.2, then 10000000.1 and 10000000.3 in turn, 1001 in
 * all. Certified: mean 10000000.2, standard deviation 0.1. A variance taken as a difference of squares is -0.032. */
static void deviation_of_large_numbers_that_differ_little(void **state)
{
  double x[1001];
  for (size_t i = 0; i < 1001; i++)
    x[i] = i == 0 ? 10000000.2 : i % 2 == 1 ? 10000000.1 : 10000000.3;
  struct bench bench = SAMPLES(state, NULL, x);
  expect_near("mean", bench_number(&bench, "mean(log.gear)", "1"), 10000000.2, 3e-16);
  /* The data as doubles have a deviation of 0.10000000056 (two-pass in 80 bits). */
  expect_near("sd", bench_number(&bench, "sd(log.gear)", "1"), 0.1, 1e-9);
  bench_free(&bench);
}

/* numpy 1.24.2: percentile, std(ddof=1); the same in GSL. */
static void quantiles_between_order_statistics(void **state)
{
  static const double x[] = {50, 15, 40, 20, 35};
  static const struct {
    const char *expr;
    double wanted;
  } rows[] = {
      {"percentile(log.gear, 5 %)", 16},
      {"percentile(log.gear, 30 %)", 23},
      {"percentile(log.gear, 40 %)", 29},
      {"percentile(log.gear, 50 %)", 35},
      {"percentile(log.gear, 95 %)", 48},
      {"percentile(log.gear, 0 %)", 15},
      {"percentile(log.gear, 100 %)", 50},
      {"median(log.gear)", 35},
      {"sd(log.gear)", 14.404860290887934},
      {"range(log.gear)", 35},
      {"min(log.gear)", 15},
      {"max(log.gear)", 50},
      {"first(log.gear)", 50},
      {"last(log.gear)", 35},
      {"mean(log.gear)", 32},
      {"count(log.gear)", 5},
  };
  struct bench bench = SAMPLES(state, NULL, x);
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
    expect_near(rows[i].expr, bench_number(&bench, rows[i].expr, "1"), rows[i].wanted, 1e-15);
  expect_missing(&bench, "percentile(log.gear, 100 % + 1 %)", "a percentage between 0 and 100");
  expect_missing(&bench, "percentile(log.gear, 0 % - 1 %)", "a percentage between 0 and 100");
  bench_free(&bench);
}

/* By hand: slopes 1.8 2.05 1.9 4.475 2.3 1.95 5.3667 1.6 6.9 12.2, their median 2.175; medians of x and y 3 and 6.2.
 * The last point pulls least squares to 3.97 and -3.91. Checked with scipy 1.10.1. */
static void an_outlier_does_not_move_the_robust_line(void **state)
{
  static const double x[] = {1, 2, 3, 4, 5}, y[] = {2.1, 3.9, 6.2, 7.8, 20};
  struct bench bench = SAMPLES(state, y, x);
  expect_near("slope", bench_number(&bench, "slope(log.knock_count, log.gear)", "1"), 3.97, 1e-14);
  expect_near("intercept", bench_number(&bench, "intercept(log.knock_count, log.gear)", "1"), -3.91, 1e-13);
  expect_near("robust slope", bench_number(&bench, "robust_slope(log.knock_count, log.gear)", "1"), 2.175, 1e-14);
  expect_near("robust intercept", bench_number(&bench, "robust_intercept(log.knock_count, log.gear)", "1"), -0.325,
              1e-13);
  bench_free(&bench);
}

static double normal(uint64_t *seed) /* Box and Muller 1958 */
{
  double u = 1 - chance_real(seed), v = chance_real(seed);
  return sqrt(-2 * log(u)) * cos(6.283185307179586 * v);
}

/* GSL: gsl_fit_linear, gsl_stats_*. */
static void random_samples_as_gsl(void **state)
{
  uint64_t seed = 1;
  size_t rounds = 0;
  for (size_t round = 0; round < 60; round++, rounds++) {
    size_t count = 2 + (size_t)(chance_real(&seed) * 400), kept = 0;
    double x[402], y[402], gx[402], gy[402], level = pow(10, 12 * chance_real(&seed) - 4);
    for (size_t i = 0; i < count; i++) {
      x[i] = level * (1 + 0.1 * normal(&seed));
      y[i] = 3 - 2 * x[i] / level + normal(&seed);
      bool gone = round % 3 == 0 && i > 2 && chance_real(&seed) < 0.2;
      if (gone)
        *(chance_real(&seed) < 0.5 ? &x[i] : &y[i]) = NAN;
      if (!gone) {
        gx[kept] = x[i];
        gy[kept++] = y[i];
      }
    }
    struct bench bench = samples(state, y, x, count);
    double c0, c1, cov00, cov01, cov11, sumsq;
    gsl_fit_linear(gx, 1, gy, 1, kept, &c0, &c1, &cov00, &cov01, &cov11, &sumsq);
    expect_near("slope", bench_number(&bench, "slope(log.knock_count, log.gear)", "1") * level, c1 * level, 1e-10);
    expect_near("intercept", bench_number(&bench, "intercept(log.knock_count, log.gear)", "1"), c0, 1e-10);
    expect_near("correlation", bench_number(&bench, "correlation(log.knock_count, log.gear)", "1"),
                gsl_stats_correlation(gx, 1, gy, 1, kept), 1e-10);
    const char *both = "where(log.gear, known(log.knock_count))";
    expect_near("mean", bench_number(&bench, arena_print(bench.arena, "mean(%s)", both), "1") / level,
                gsl_stats_mean(gx, 1, kept) / level, 1e-13);
    expect_near("sd", bench_number(&bench, arena_print(bench.arena, "sd(%s)", both), "1") / level,
                gsl_stats_sd(gx, 1, kept) / level, 1e-10);
    gsl_sort(gx, 1, kept);
    for (int part = 0; part <= 100; part += 7)
      expect_near("percentile",
                  bench_number(&bench, arena_print(bench.arena, "percentile(%s, %d %%)", both, part), "1") / level,
                  gsl_stats_quantile_from_sorted_data(gx, 1, kept, part / 100.0) / level, 1e-12);
    expect_near("median", bench_number(&bench, arena_print(bench.arena, "median(%s)", both), "1") / level,
                gsl_stats_median_from_sorted_data(gx, 1, kept) / level, 1e-15);
    bench_free(&bench);
  }
  assert_int_equal(rounds, 60);
}

/* The manual: at most 512 samples are taken, evenly: those at i * n / 512. GSL sorts the slopes of all their pairs. */
static void robust_line_through_many_samples_is_thinned_evenly(void **state)
{
  static double x[1500], y[1500], slopes[512 * 511 / 2], tx[512], ty[512];
  uint64_t seed = 7;
  for (size_t i = 0; i < 1500; i++) {
    x[i] = (double)i;
    y[i] = 0.25 * x[i] + normal(&seed) * (i % 10 == 0 ? 500 : 1);
  }
  struct bench bench = samples(state, y, x, 1500);
  size_t count = 0;
  for (size_t i = 0; i < 512; i++) {
    tx[i] = x[i * 1500 / 512];
    ty[i] = y[i * 1500 / 512];
  }
  for (size_t i = 0; i < 512; i++) {
    for (size_t k = i + 1; k < 512; k++)
      slopes[count++] = (ty[k] - ty[i]) / (tx[k] - tx[i]);
  }
  gsl_sort(slopes, 1, count);
  gsl_sort(tx, 1, 512);
  gsl_sort(ty, 1, 512);
  double slope = gsl_stats_median_from_sorted_data(slopes, 1, count);
  expect_near("slope", bench_number(&bench, "robust_slope(log.knock_count, log.gear)", "1"), slope, 1e-14);
  expect_near("intercept", bench_number(&bench, "robust_intercept(log.knock_count, log.gear)", "1"),
              gsl_stats_median_from_sorted_data(ty, 1, 512) - slope * gsl_stats_median_from_sorted_data(tx, 1, 512),
              1e-13);
  assert_true(fabs(slope - 0.25) < 0.001); /* one sample in ten is 500 times as noisy */
  bench_free(&bench);
}

/* GSL: gsl_interp2d_bilinear over a grid of random numbers, and the hand-worked points of the same grid as in
 * test_model_table.c. */
static void tables_over_series_as_gsl(void **state)
{
  static const double x[] = {1000, 2000, 4000}, y[] = {40, 100, 200};
  static const double z[] = {10, 20, 30, 12, 25, 34, 14, 22, 36};
  char text[64 + 200 * 60];
  double at[200][2];
  uint64_t seed = 3;
  size_t used = (size_t)snprintf(text, sizeof text, "time (s),engine_speed (rpm),manifold_pressure (kPa)\n");
  for (size_t i = 0; i < 200; i++) {
    at[i][0] = i == 0 ? 1500 : 500 + 4000 * chance_real(&seed);
    at[i][1] = i == 0 ? 70 : 20 + 200 * chance_real(&seed);
    used += (size_t)snprintf(text + used, sizeof text - used, "%zu,%.17g,%.17g\n", i, at[i][0], at[i][1]);
  }
  struct bench bench = bench_new(
      state, (struct given){.log = text,
                            .settings = "ignition.spark_advance:\n"
                                        "  x: {unit: rpm, at: [1000, 2000, 4000]}\n"
                                        "  y: {unit: kPa, at: [40, 100, 200]}\n"
                                        "  value: {unit: deg, rows: [[10, 20, 30], [12, 25, 34], [14, 22, 36]]}\n"});
  struct result result = bench_eval(&bench, "tune.ignition.spark_advance(log.engine_speed, log.manifold_pressure)");
  assert_true(result.known);
  assert_int_equal(result.series.count, 200);
  gsl_interp2d *interp = gsl_interp2d_alloc(gsl_interp2d_bilinear, 3, 3);
  gsl_interp2d_init(interp, x, y, z, 3, 3);
  double degree = 3.14159265358979324 / 180;
  for (size_t i = 0; i < 200; i++) {
    double px = fmin(fmax(at[i][0], 1000), 4000), py = fmin(fmax(at[i][1], 40), 200);
    expect_near("table", result.series.at[i] / degree, gsl_interp2d_eval(interp, x, y, z, px, py, NULL, NULL), 1e-12);
  }
  gsl_interp2d_free(interp);
  expect_near("by hand", result.series.at[0] / degree, 16.75, 1e-13);
  bench_free(&bench);
}

static int compare_doubles(const void *a, const void *b)
{
  double p = *(const double *)a, q = *(const double *)b;
  return (p > q) - (p < q);
}

enum { SHAPES = 9 };

static double shape_at(int shape, size_t i, size_t count, uint64_t *seed)
{
  switch (shape) {
  case 0:
    return (double)i; /* sorted */
  case 1:
    return (double)(count - i); /* reversed */
  case 2:
    return 7; /* constant */
  case 3:
    return (double)(i < count / 2 ? i : count - i); /* organ pipe */
  case 4:
    return (double)(chance_next(seed) % 3); /* many duplicates */
  case 5:
    return (double)(i % 2); /* two values in turn */
  case 6:
    return i + 1 == count ? -1 : (double)i; /* sorted but for the last */
  case 7:
    return (double)(i * 7919 % count); /* a permutation, mostly */
  default:
    return normal(seed);
  }
}

/* qsort of the C library, for every k of short arrays and some k of long ones, in time that goes with the length. */
static void selection_as_qsort(void **state)
{
  static const size_t counts[] = {1, 2, 3, 4, 5, 6, 7, 8, 16, 17, 100, 1000, 20000};
  (void)state;
  uint64_t seed = 11;
  size_t compared = 0;
  for (int shape = 0; shape < SHAPES; shape++) {
    for (size_t c = 0; c < sizeof counts / sizeof *counts; c++) {
      size_t count = counts[c];
      double *given = malloc(count * sizeof *given), *sorted = malloc(count * sizeof *sorted),
             *work = malloc(count * sizeof *work);
      assert_true(given && sorted && work);
      for (size_t i = 0; i < count; i++)
        given[i] = sorted[i] = shape_at(shape, i, count, &seed);
      qsort(sorted, count, sizeof *sorted, compare_doubles);
      size_t step = count <= 100 ? 1 : count / 13;
      for (size_t k = 0; k < count; k += step, compared++) {
        memcpy(work, given, count * sizeof *work);
        assert_true(run_select(work, count, k) == sorted[k]);
        qsort(work, count, sizeof *work, compare_doubles);
        assert_memory_equal(work, sorted, count * sizeof *work); /* nothing is lost */
      }
      free(given);
      free(sorted);
      free(work);
    }
  }
  assert_true(compared > 1000);
}

/* A line needs x at more than one place: also where only rounding tells the samples apart. */
static void no_line_through_samples_at_one_place(void **state)
{
  static const char *const lines[] = {"slope(log.knock_count, log.gear)", "intercept(log.knock_count, log.gear)",
                                      "correlation(log.knock_count, log.gear)",
                                      "robust_slope(log.knock_count, log.gear)",
                                      "robust_intercept(log.knock_count, log.gear)"};
  uint64_t seed = 5;
  for (size_t round = 0; round < 40; round++) {
    double x[57], y[57], constant = pow(10, 8 * chance_real(&seed) - 4);
    size_t count = 2 + (size_t)(chance_real(&seed) * 55);
    for (size_t i = 0; i < count; i++) {
      x[i] = constant;
      y[i] = normal(&seed);
    }
    struct bench bench = samples(state, y, x, count);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
      expect_missing(&bench, lines[i], "samples at more than one value to fit a line through");
    /* A level line has the slope 0, exactly as the decimals have it, and correlates with nothing. */
    expect_shown(&bench, "slope(log.gear, log.knock_count) == 0", "yes");
    expect_shown(&bench, "robust_slope(log.gear, log.knock_count) == 0", "yes");
    expect_missing(&bench, "correlation(log.gear, log.knock_count)", "samples at more than one value to correlate");
    expect_shown(&bench, "sd(log.gear) == 0", "yes");
    bench_free(&bench);
  }
}

/* What there are too few samples for. */
static void too_few_samples(void **state)
{
  static const double none[] = {NAN, NAN}, one[] = {3, NAN};
  struct bench bench = SAMPLES(state, one, none);
  static const char *const reduced[] = {"mean", "median", "first", "last", "sd", "range", "min", "max"};
  for (size_t i = 0; i < sizeof reduced / sizeof *reduced; i++)
    expect_missing(&bench, arena_print(bench.arena, "%s(log.gear)", reduced[i]), "a usable sample of log.gear");
  expect_missing(&bench, "percentile(log.gear, 50 %)", "a usable sample of log.gear");
  expect_shown(&bench, "count(log.gear)", "0");
  expect_missing(&bench, "any(log.gear > 1)", "a usable sample of log.gear");
  expect_missing(&bench, "all(log.gear > 1)", "a usable sample of log.gear");
  expect_missing(&bench, "sd(log.knock_count)", "a usable sample of log.knock_count");
  expect_shown(&bench, "mean(log.knock_count)", "3");
  expect_missing(&bench, "slope(log.knock_count, log.gear)", "a usable sample of log.knock_count");
  bench_free(&bench);
}

/* Numbers too large for a result never come out as infinite or as none. */
static void results_too_large_for_a_number_are_unknown(void **state)
{
  static const double x[] = {1e308, -1e308, 1e308}, y[] = {1, 1e300, -1e308};
  static const char *const all[] = {"mean(log.gear)",
                                    "sd(log.gear)",
                                    "range(log.gear)",
                                    "median(log.gear)",
                                    "percentile(log.gear, 33 %)",
                                    "slope(log.gear, log.knock_count)",
                                    "slope(log.knock_count, log.gear)",
                                    "intercept(log.gear, log.knock_count)",
                                    "correlation(log.gear, log.knock_count)",
                                    "robust_slope(log.gear, log.knock_count)",
                                    "robust_intercept(log.gear, log.knock_count)",
                                    "max(smooth(log.gear, 1 s))",
                                    "max(rate(log.gear))",
                                    "max(log.gear * 10)",
                                    "max(delay(log.gear, 0.05 s))",
                                    "at(log.gear, 0.05 s)",
                                    "mean(log.gear * log.gear)"};
  struct bench bench = SAMPLES(state, y, x);
  for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
    struct result result = bench_eval(&bench, all[i]);
    if (result.known && !isfinite(result.number))
      fail_msg("%s is %g", all[i], result.number);
  }
  bench_free(&bench);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(norris_as_certified),
      cmocka_unit_test(deviation_of_large_numbers_that_differ_little),
      cmocka_unit_test(quantiles_between_order_statistics),
      cmocka_unit_test(an_outlier_does_not_move_the_robust_line),
      cmocka_unit_test(random_samples_as_gsl),
      cmocka_unit_test(robust_line_through_many_samples_is_thinned_evenly),
      cmocka_unit_test(tables_over_series_as_gsl),
      cmocka_unit_test(selection_as_qsort),
      cmocka_unit_test(no_line_through_samples_at_one_place),
      cmocka_unit_test(too_few_samples),
      cmocka_unit_test(results_too_large_for_a_number_are_unknown),
  };
  return cmocka_run_group_tests_name("expr numbers", tests, dictionary_open, dictionary_close);
}
