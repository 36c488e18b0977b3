/* The curve of a thermistor through its published points, against tests/unit/reference-vectors.tsv (rows "ntc-"),
 * numpy.linalg.lstsq and the equation itself. The points are an engine maker's table of a coolant sensor, as a
 * workshop manual prints it. */
#include "expr_help.h"

#define FIT "(job.coolant_sensor.temperature, job.coolant_sensor.resistance"

static const char *const published =
    "[[-40, 48805], [-30, 27414], [-20, 15971], [-10, 9620], [0, 5975], [10, 3816], [20, 2502], [25, 2044], "
    "[30, 1679], [40, 1152], [50, 806.9], [60, 575.8], [70, 418.1], [80, 308.6], [90, 231.2], [100, 175.7], "
    "[110, 135.2], [120, 105.4], [130, 83.1], [140, 66.2]]";

/* A job sheet out of "[[degC, Ohm], ...]"; a null leaves the field out. */
static struct bench sheet(void **state, const char *points)
{
  char text[4096];
  size_t used = (size_t)snprintf(text, sizeof text, "readings:\n  coolant_sensor:\n");
  for (const char *at = points + 1; *at == '['; at += strspn(at, "], ")) {
    const char *comma = strchr(at, ','), *end = strchr(at, ']');
    assert_true(comma != NULL && end != NULL && used < sizeof text - 100);
    used += (size_t)snprintf(text + used, sizeof text - used, "    - {temperature: %.*s degC, resistance: %.*s Ohm}\n",
                             (int)(comma - at - 1), at + 1, (int)(end - comma - 2), comma + 2);
    at = end;
  }
  return bench_new(state, (struct given){.job = text});
}

/* The number behind some words of the equation. */
static double part_of(struct bench *bench, const char *words)
{
  struct result result = bench_eval(bench, "thermistor_equation" FIT ")");
  assert_true(result.known);
  const char *at = strstr(arena_text(bench->arena, result.text), words);
  if (at == NULL)
    fail_msg("%.*s has no '%s'", SLICE_ARG(result.text), words);
  return at != NULL ? strtod(at + strlen(words), NULL) : 0;
}

static void expect_relative(const char *what, double got, double wanted, double tolerance)
{
  if (!(fabs(got - wanted) <= tolerance * fabs(wanted)))
    fail_msg("%s: %.15g, not %.15g", what, got, wanted);
}

/* Rows ntc-A, ntc-B, ntc-C and ntc-t-: through 0, 40 and 100 degC. */
static void three_points_are_exact(void **state)
{
  struct bench bench = sheet(state, "[[0, 5975], [40, 1152], [100, 175.7]]");
  expect_relative("A", part_of(&bench, "1/T = "), 0.001335147714, 1e-8);
  expect_relative("B", part_of(&bench, "1/T = 0.001335147714 + "), 0.0002561683193, 1e-8);
  expect_relative("C", part_of(&bench, "ln R + "), 1.496306133e-07, 1e-8);
  expect_near("2502", bench_number(&bench, "thermistor" FIT ", 2502 Ohm)", "degC"), 19.99221592, 1e-7 / 20);
  expect_near("308.6", bench_number(&bench, "thermistor" FIT ", 308.6 Ohm)", "degC"), 79.99514841, 1e-7 / 80);
  expect_near("48805", bench_number(&bench, "thermistor" FIT ", 48805 Ohm)", "degC"), -39.98976098, 1e-7 / 40);
  expect_near("a point", bench_number(&bench, "thermistor" FIT ", 1152 Ohm)", "degC"), 40, 1e-12);
  expect_shown(&bench, "thermistor" FIT ", 1152 Ohm) == 40 degC", "yes");
  expect_shown(&bench, "thermistor_misfit" FIT ") == 0 K", "yes");
  bench_free(&bench);
}

/* numpy 1.24.2: linalg.lstsq of 1/T on [1, ln R, (ln R)^3]. */
static void more_points_are_least_squares(void **state)
{
  struct bench bench = sheet(state, published);
  expect_relative("A", part_of(&bench, "1/T = "), 0.0013359653489905358, 1e-9);
  expect_relative("C", part_of(&bench, "ln R + "), 1.5065926371244558e-07, 1e-9);
  expect_near("2500", bench_number(&bench, "thermistor" FIT ", 2.5 kOhm)", "degC"), 20.016126259638725, 1e-11);
  expect_near("308.6", bench_number(&bench, "thermistor" FIT ", 308.6 Ohm)", "degC"), 79.99343321088986, 1e-11);
  expect_near("60000", bench_number(&bench, "thermistor" FIT ", 60 kOhm)", "degC"), -43.427717843343004, 1e-11);
  expect_near("30", bench_number(&bench, "thermistor" FIT ", 30 Ohm)", "degC"), 178.81102060960376, 1e-11);
  expect_near("misfit", bench_number(&bench, "thermistor_misfit" FIT ")", "K"), 0.0116, 5e-5); /* at 110 degC */
  bench_free(&bench);
  bench = sheet(state, "[[0, 5975], [40, 1152], [80, 308.6], [100, 175.7], [140, 66.2]]");
  expect_relative("A", part_of(&bench, "1/T = "), 0.0013362013272440857, 1e-9);
  expect_near("2502", bench_number(&bench, "thermistor" FIT ", 2502 Ohm)", "degC"), 19.99653328914343, 1e-11);
  bench_free(&bench);
}

/* Row ntc-beta. */
static void two_points_give_beta(void **state)
{
  struct bench bench = sheet(state, "[[25, 2044], [100, 175.7]]");
  expect_relative("beta", part_of(&bench, "beta = "), 3640.083712, 1e-8);
  expect_shown(&bench, "thermistor_equation" FIT ")", "beta = 3640.083712 K from 2044 Ohm at 25 degC");
  expect_near("0 degC", bench_number(&bench, "thermistor" FIT ", 5975 Ohm)", "degC"), 0.92,
              0.005); /* workshop tables */
  bench_free(&bench);
}

/* Points that stand on one curve come back, whatever the units, their order and how near 1 Ohm is. */
static void a_curve_comes_back(void **state)
{
  uint64_t seed = 7;
  size_t ran = 0;
  for (; ran < 200; ran++) {
    double a = 1.2e-3 + 0.4e-3 * chance_real(&seed), b = 2.2e-4 + 0.6e-4 * chance_real(&seed),
           c = 3e-7 * chance_real(&seed), ohm = pow(10, 0.5 + 4 * chance_real(&seed));
    char text[2048];
    size_t used = (size_t)snprintf(text, sizeof text, "readings:\n  coolant_sensor:\n");
    for (int i = 0; i < 7; i++) {
      double r = ohm * pow(3, (i * 3) % 7), ln = log(r);
      used +=
          (size_t)snprintf(text + used, sizeof text - used, "    - {temperature: %.17g K, resistance: %.17g kOhm}\n",
                           1 / (a + b * ln + c * ln * ln * ln), r / 1000);
    }
    struct bench bench = bench_new(state, (struct given){.job = text});
    double at = ohm * 20, ln = log(at);
    const char *asked = arena_print(bench.arena, "thermistor" FIT ", %.17g Ohm)", at);
    expect_relative("temperature", bench_number(&bench, asked, "K"), 1 / (a + b * ln + c * ln * ln * ln), 1e-12);
    expect_near("misfit", bench_number(&bench, "thermistor_misfit" FIT ")", "K"), 0, 1e-9);
    bench_free(&bench);
  }
  assert_true(ran > 0);
}

static void what_tells_no_curve_is_unknown(void **state)
{
  static const struct {
    const char *points, *lacks;
  } wrong[] = {
      {"[[20, 2502]]", "job.coolant_sensor.resistance at temperatures far enough apart to fit a curve through"},
      {"[[20, 2502], [40, 2502], [60, 2502]]",
       "job.coolant_sensor.resistance at temperatures far enough apart to fit a curve through"},
      {"[[20, 2502], [20, 2502], [80, 308.6]]",
       "job.coolant_sensor.resistance at temperatures far enough apart to fit a curve through"},
      {"[[20, 2502], [20.01, 2501], [80, 308.6]]",
       "job.coolant_sensor.resistance at temperatures far enough apart to fit a curve through"},
      {"[[20, 0], [40, -3], [80, 308.6]]",
       "job.coolant_sensor.resistance at temperatures far enough apart to fit a curve through"},
      {"[[0, 1000], [50, 1194], [100, 1385]]", /* platinum, IEC 60751 */
       "job.coolant_sensor.resistance that falls as the temperature rises"},
      {"[[0, 5975], [20, 9000], [40, 1152]]", "job.coolant_sensor.resistance that falls as the temperature rises"},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
    struct bench bench = sheet(state, wrong[i].points);
    expect_missing(&bench, "thermistor" FIT ", 1 kOhm)", wrong[i].lacks);
    expect_missing(&bench, "thermistor_misfit" FIT ")", wrong[i].lacks);
    expect_missing(&bench, "thermistor_equation" FIT ")", wrong[i].lacks);
    bench_free(&bench);
  }
  struct bench bench = bench_new(state, (struct given){.settings = NULL});
  expect_missing(&bench, "thermistor" FIT ", 1 kOhm)", "job.coolant_sensor");
  bench_free(&bench);
}

static void the_reach_ends_the_curve(void **state)
{
  struct bench bench = sheet(state, "[[0, 5975], [40, 1152], [100, 175.7]]");
  const char *further = "job.coolant_sensor.resistance further out";
  expect_shown(&bench, "known(thermistor" FIT ", 5975 Ohm, 0 K))", "yes");
  expect_shown(&bench, "known(thermistor" FIT ", 175.7 Ohm, 0 K))", "yes");
  expect_missing(&bench, "thermistor" FIT ", 5976 Ohm, 0 K)", further);
  expect_missing(&bench, "thermistor" FIT ", 175.6 Ohm, 0 K)", further);
  expect_missing(&bench, "thermistor" FIT ", 48805 Ohm, 39.9 K)", further); /* -39.99 degC */
  expect_shown(&bench, "known(thermistor" FIT ", 48805 Ohm, 40 K))", "yes");
  expect_missing(&bench, "thermistor" FIT ", 0 Ohm)", further);
  expect_missing(&bench, "thermistor" FIT ", -5 Ohm)", further);
  expect_missing(&bench, "thermistor" FIT ", 1e300 Ohm, 1000 K)", "known");
  bench_free(&bench);
}

static void a_curve_of_the_file_is_listed(void **state)
{
  const struct given given = {
      .settings = "sensor.coolant_calibration: {x: {unit: Ohm, at: [0, 10, 66.2, 175.7, 1152, 5975, 48805, 1e6]}, "
                  "value: {unit: degC, at: [1, 1, 1, 1, 1, 1, 1, 1]}}\n"
                  "sensor.lambda_calibration: {x: {unit: V, at: [0, 1]}, value: {unit: lambda, at: [1, 1]}}\n",
      .job = "readings: {coolant_sensor: [{temperature: 0 degC, resistance: 5975 Ohm}, {temperature: 40 degC, "
             "resistance: 1152 Ohm}, {temperature: 212 degF, resistance: 175.7 Ohm}]}\n"};
  struct bench bench = bench_new(state, given);
  expect_shown(&bench, "thermistor_curve" FIT ", tune.sensor.coolant_calibration, 0 K)",
               "100 degC at 175.7 Ohm, 40 degC at 1152 Ohm, 0 degC at 5975 Ohm");
  expect_shown(&bench, "thermistor_curve" FIT ", tune.sensor.coolant_calibration, 40.1 K)",
               "140 degC at 66.2 Ohm, 100 degC at 175.7 Ohm, 40 degC at 1152 Ohm, 0 degC at 5975 Ohm, -40 degC at "
               "48805 Ohm");
  bench_free(&bench);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(three_points_are_exact),         cmocka_unit_test(more_points_are_least_squares),
      cmocka_unit_test(two_points_give_beta),           cmocka_unit_test(a_curve_comes_back),
      cmocka_unit_test(what_tells_no_curve_is_unknown), cmocka_unit_test(the_reach_ends_the_curve),
      cmocka_unit_test(a_curve_of_the_file_is_listed),
  };
  return cmocka_run_group_tests_name("expr/thermistor", tests, dictionary_open, dictionary_close);
}
