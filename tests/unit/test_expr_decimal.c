/* Temperatures and differences in every combination, and comparisons that are decided on the decimal numbers as they
 * were written. */
#include "expr_help.h"

/* What a temperature (P), a difference (D) and kelvins, which may be either (E), give: P, D, E, Y (a condition), N (a
 * plain number) or - (refused). Points and vectors of a line, as in geometry; kelvins side with the other operand, or
 * as a difference where both would do. */
struct combination {
  const char *operation;
  const char *results; /* for (left, right) = PP PD PE DP DD DE EP ED EE */
};

static const struct combination combinations[] = {
    {"%s + %s", "-PPPDDPDE"},     {"%s - %s", "DPP-DDDDE"},          {"%s * %s", "----XX-XX"},
    {"%s / %s", "----NN-NN"},     {"%s < %s", "Y-Y-YYYYY"},          {"%s >= %s", "Y-Y-YYYYY"},
    {"%s == %s", "Y-Y-YYYYY"},    {"%s != %s", "Y-Y-YYYYY"},         {"min(%s, %s)", "P-P-DDPDE"},
    {"max(%s, %s)", "P-P-DDPDE"}, {"if(true, %s, %s)", "P-P-DDPDE"}, {"%s otherwise %s", "P-P-DDPDE"},
};

static char kind_of(const struct expr *expr)
{
  if (!expr)
    return '-';
  const struct type *type = expr_type(expr);
  if (type->kind == TYPE_SWITCH)
    return 'Y';
  if (dimension_is_none(type->of.dimension))
    return 'N';
  switch (type->of.sense) {
  case SENSE_POINT:
    return 'P';
  case SENSE_DIFFERENCE:
    return 'D';
  case SENSE_EITHER:
    return 'E';
  default:
    return 'X'; /* kelvins squared */
  }
}

static void temperatures_and_differences_in_pairs(void **state)
{
  static const char *const operands[3][3] = {{"80 degC", "176 degF", "tune.fan.on_temperature"},
                                             {"5 degC_diff", "9 degF_diff", "range(log.coolant_temperature)"},
                                             {"300 K", "(300 K)", "2.5 K"}};
  struct bench bench = bench_new(state, (struct given){0});
  size_t seen = 0;
  for (size_t c = 0; c < sizeof combinations / sizeof *combinations; c++) {
    for (size_t pair = 0; pair < 9; pair++) {
      for (size_t a = 0; a < 3; a++) {
        const char *format = combinations[c].operation, *second = strchr(strchr(format, '%') + 1, '%') + 2;
        struct slice between = {strchr(format, '%') + 2, (size_t)(second - 2 - (strchr(format, '%') + 2))};
        struct slice head = {format, (size_t)(strchr(format, '%') - format)};
        const char *text = arena_print(bench.arena, "%.*s%s%.*s%s%s", SLICE_ARG(head), operands[pair / 3][a],
                                       SLICE_ARG(between), operands[pair % 3][2 - a], second);
        char got = kind_of(bench_compile(&bench, text, NULL));
        if (got != combinations[c].results[pair])
          fail_msg("%s is %c, not %c", text, got, combinations[c].results[pair]);
        seen++;
      }
    }
  }
  assert_int_equal(seen, 12 * 9 * 3);
  bench_free(&bench);
}

struct one {
  const char *text;
  char kind;
};

static void temperatures_alone(void **state)
{
  static const struct one ones[] = {
      {"-40 degC", 'P'},
      {"-(40 degC)", 'P'},
      {"- 40 degF", 'P'},
      {"-tune.fan.on_temperature", '-'},
      {"-(40 degC + 1 K)", '-'},
      {"-5 degC_diff", 'D'},
      {"-(5 degC_diff + 1 K)", 'D'},
      {"-300 K", 'E'},
      {"abs(80 degC)", '-'},
      {"abs(-5 degF_diff)", 'D'},
      {"abs(300 K)", 'E'},
      {"80 degC * 2", '-'},
      {"2 * 5 K", 'D'},
      {"5 degC_diff / 2", 'D'},
      {"5 K / 2 K", 'N'},
      {"absolute(80 degC)", 'D'},
      {"absolute(80 degC) * 2", 'D'},
      {"2 * (90 degC - 80 degC)", 'D'},
      {"90 degC - 80 degC - 5 K", 'D'},
      {"90 degC - (80 degC - 5 K)", 'D'},
      {"90 degC - 80 degC + 5 degC", 'P'},
      {"rate(log.coolant_temperature)", 'X'},
      {"sd(log.coolant_temperature)", 'D'},
      {"mean(log.coolant_temperature)", 'P'},
      {"median(log.coolant_temperature) - 5 K", 'P'},
      {"smooth(log.coolant_temperature, 1 s)", 'P'},
  };
  struct bench bench = bench_new(state, (struct given){0});
  for (size_t i = 0; i < sizeof ones / sizeof *ones; i++) {
    char got = kind_of(bench_compile(&bench, ones[i].text, NULL));
    if (got != ones[i].kind)
      fail_msg("%s is %c, not %c", ones[i].text, got, ones[i].kind);
  }
  bench_free(&bench);
}

/* GNU units 2.22: tempF(-40) = tempC(-40); tempF(212) = tempC(100); tempK(273.15) = tempC(0); 43.5 psi; 14.5 psi;
 * 1 inHg; the rest is arithmetic of decimals. */
static void equal_decimals_are_equal(void **state)
{
  static const char *const equal[] = {
      "-40 degC == -40 degF",
      "212 degF == 100 degC",
      "273.15 K == 0 degC",
      "0 degF == 255.37222222222222 K",
      "43.5 psi == 299.9219422528237 kPa",
      "0.1 + 0.2 == 0.3",
      "not 0.1 + 0.2 > 0.3",
      "not 0.1 + 0.2 < 0.3",
      "0.1 + 0.2 >= 0.3",
      "0.1 + 0.2 <= 0.3",
      "not 0.1 + 0.2 != 0.3",
      "0.1 * 3 == 0.3",
      "0.3 / 3 == 0.1",
      "1.1 * 1.1 == 1.21",
      "abs(101 % - 100 %) <= 1 %",
      "not abs(101 % - 100 %) > 1 %",
      "abs(99 % - 100 %) == 1 %",
      "101 % - 100 % == 0.01",
      "not 1.01 - 1 > 1 %",
      "50 % * 50 % == 25 %",
      "180 degF - 170 degF == 10 degF_diff",
      "90 degC - 80 degC == 18 degF_diff",
      "80 degC + 9 degF_diff == 85 degC",
      "80.1 degC - 0.1 K == 80 degC",
      "6000 rpm * 0.1 ms == 3.6 deg",
      "0.1 deg/kPa * 30 kPa == 3 deg",
      "0.5 deg / 10 kPa == 0.05 deg/kPa",
      "-0.5 deg / 10 kPa == -0.05 deg/kPa",
      "100 rpm / 60 s * 6 s == 10 rpm",
      "36 km/h == 10 m/s",
      "absolute(20 degC) / absolute(293.15 K) == 1",
      "power(1.1, 2) == 1.21",
      "sqrt(1.21) == 1.1",
      "ln(exp(0.1)) == 0.1",
      "7.7 % + 2.2 % == 9.9 %",
      "1e-9 + 2e-9 == 3e-9",
      "1e15 + 0.1 == 1000000000000000.1",
      "max(0.1 + 0.2, 0.3) == 0.3",
      "min(0.1 + 0.2, 0.3) == 0.3",
      "-(0.1 + 0.2) == -0.3",
      "abs(0.3 - 0.1 - 0.2) == 0",
      "sin(30 deg) == 0.5",
      "sin(180 deg) == 0",
  };
  static const char *const apart[] = {
      "212.0000001 degF > 100 degC",
      "0.1 + 0.2 < 0.3000000001",
      "abs(101.0001 % - 100 %) > 1 %",
      "43.5 psi > 299.9219422 kPa",
      "43.5 psi < 299.9219423 kPa",
      "80.000001 degC > 80 degC",
      "sqrt(2) < 1.414213563",
      "1e14 + 1 > 1e14",
      "1e-12 > 0",
      "0.333333333333 < 1 / 3",
  };
  struct bench bench = bench_new(state, (struct given){0});
  for (size_t i = 0; i < sizeof equal / sizeof *equal; i++)
    expect_shown(&bench, equal[i], "yes");
  for (size_t i = 0; i < sizeof apart / sizeof *apart; i++)
    expect_shown(&bench, apart[i], "yes");
  bench_free(&bench);
}

/* Whole numbers are the authority: m/1000 + n/1000 is (m+n)/1000 in every unit, and not the decimal beside it. */
static void sums_and_products_of_random_decimals(void **state)
{
  static const char *const units[] = {"kPa", "psi", "%", "deg", "rpm", "ms", "degF_diff", "km/h", "deg/kPa", ""};
  struct bench bench = bench_new(state, (struct given){0});
  uint64_t seed = 2;
  for (size_t i = 0; i < 1500; i++) {
    long m = (long)(chance_next(&seed) % 2000000) - 1000000, n = (long)(chance_next(&seed) % 2000000) - 1000000;
    long k = (long)(chance_next(&seed) % 1000);
    const char *unit = units[i % (sizeof units / sizeof *units)];
    const char *a = arena_print(bench.arena, "(%lde-3 %s)", m, unit),
               *b = arena_print(bench.arena, "(%lde-3 %s)", n, unit),
               *sum = arena_print(bench.arena, "(%lde-3 %s)", m + n, unit),
               *beside = arena_print(bench.arena, "(%lde-3 %s)", m + n + 1, unit),
               *product = arena_print(bench.arena, "(%lde-5 %s)", m * k, unit);
    expect_shown(&bench, arena_print(bench.arena, "%s + %s == %s and %s - %s == %s", a, b, sum, sum, b, a), "yes");
    expect_shown(&bench, arena_print(bench.arena, "%s + %s < %s and not %s + %s >= %s", a, b, beside, a, b, beside),
                 "yes");
    expect_shown(&bench, arena_print(bench.arena, "%s * %lde-2 == %s", a, k, product), "yes");
    if (k > 0)
      expect_shown(&bench, arena_print(bench.arena, "%s / %lde-2 == %s", product, k, a), "yes");
  }
  bench_free(&bench);
}

/* A temperature in degF is a whole number of degC at each multiple of 9. */
static void temperatures_of_both_scales(void **state)
{
  struct bench bench = bench_new(state, (struct given){0});
  for (int k = -20; k <= 40; k++) {
    const char *c = arena_print(bench.arena, "%d.%d degC", k < 0 ? k : k * 5, k < 0 ? 0 : k % 10);
    const char *f =
        arena_print(bench.arena, "%d.%02d degF", (k < 0 ? k * 9 / 5 : k * 9) + 32, 18 * (k < 0 ? 0 : k % 10));
    if (k < 0 && k % 5 != 0)
      continue;
    if (k >= 0 && k % 10 > 5)
      continue; /* 18 * 6 is over a hundredth */
    expect_shown(&bench, arena_print(bench.arena, "%s == %s", c, f), "yes");
  }
  bench_free(&bench);
}

/* Limits met exactly by curves, tables and slopes: no rounding of interpolation may turn a limit. */
static void curves_and_tables_meet_limits_exactly(void **state)
{
  struct bench bench = bench_new(
      state,
      (struct given){.settings = "fuel.warm_up_enrichment: {x: {unit: degC, at: [-20, 0.1, 20.2, 40.3, 60.4, 80.5]}, "
                                 "value: {unit: \"%\", at: [160.1, 140.2, 120.3, 110.4, 104.4, 100.1]}}\n"
                                 "ignition.spark_advance:\n"
                                 "  x: {unit: rpm, at: [1000, 1333, 6000]}\n"
                                 "  y: {unit: kPa, at: [100.1, 110.1, 120.1, 130.1]}\n"
                                 "  value: {unit: deg, rows: [[30.3, 31.1, 33], [29.8, 30.6, 32.5], [29.3, 30.1, 32], "
                                 "[28.8, 29.6, 31.5]]}\n",
                     .log = "time (s),coolant_temperature (degF),manifold_pressure "
                            "(psi)\n0,68.36,14.5\n1,104.54,14.6\n2,140.72,14.7\n"});
  static const char *const yes[] = {
      "each t in along_y(tune.ignition.spark_advance): t.slope == -0.05 deg/kPa and not t.slope < -0.5 deg / 10 kPa",
      "each t in along_y(tune.ignition.spark_advance): t.change == -0.5 deg and t.value - t.next_value == 0.5 deg",
  };
  for (size_t i = 0; i < 2; i++)
    expect_shown(&bench, yes[i], "yes; yes; yes; yes; yes; yes; yes; yes; yes");
  static const char *const equal[] = {
      "tune.fuel.warm_up_enrichment(20.2 degC) == 120.3 %",
      "tune.fuel.warm_up_enrichment(68.36 degF) == 120.3 %",
      "tune.fuel.warm_up_enrichment(30.25 degC) == 115.35 %",
      "tune.fuel.warm_up_enrichment(86.45 degF) == 115.35 %",
      "tune.fuel.warm_up_enrichment(70.45 degC) == 102.25 %",
      "tune.fuel.warm_up_enrichment(500 degC) == 100.1 %",
      "tune.ignition.spark_advance(1000 rpm, 105.1 kPa) == 30.05 deg",
      "tune.ignition.spark_advance(1166.5 rpm, 105.1 kPa) == 30.45 deg",
      "tune.ignition.spark_advance(3666.5 rpm, 125.1 kPa) == 30.8 deg",
      "all(tune.fuel.warm_up_enrichment(log.coolant_temperature) >= 104.4 %)",
      "min(tune.fuel.warm_up_enrichment(log.coolant_temperature)) == 104.4 %",
      "max(tune.fuel.warm_up_enrichment(log.coolant_temperature)) == 120.3 %",
      "max(tune.fuel.warm_up_enrichment) - min(tune.fuel.warm_up_enrichment) == 60 %",
      "mean(log.coolant_temperature) == 40.3 degC",
      "range(log.coolant_temperature) == 40.2 K",
      "sd(log.manifold_pressure) == 0.1 psi",
      "mean(log.manifold_pressure) == 14.6 psi",
      "slope(log.manifold_pressure, log.time) == 0.1 psi/s",
      "robust_slope(log.manifold_pressure, log.time) == 0.1 psi/s",
      "all(rate(log.manifold_pressure) == 0.1 psi/s)",
      "all(abs(log.manifold_pressure - 14.6 psi) <= 0.1 psi)",
      "30.05 deg == highest(tune.ignition.spark_advance(n, p), over n from 1 rpm to 9 rpm, p from 105.1 kPa to 2 bar)",
      "count(points(tune.fuel.warm_up_enrichment, 60.4 degC)) == 2",
      "count(points(tune.fuel.warm_up_enrichment, 140.72 degF)) == 2",
  };
  for (size_t i = 0; i < sizeof equal / sizeof *equal; i++)
    expect_shown(&bench, equal[i], "yes");
  bench_free(&bench);
}

/* Straight lines of 37 % for each 0.1 K, 0.003 deg for each 1000 rpm, 1 deg over 0.2 K: its value at a decimal is a
 * decimal.
 */
static void steep_and_level_curves(void **state)
{
  struct bench bench = bench_new(
      state, (struct given){.settings = "fuel.warm_up_enrichment: {x: {unit: degC, at: [-40, 0.3, 33.3, 110]}, "
                                        "value: {unit: \"%\", at: [-14800, 111, 12321, 40700]}}\n"
                                        "ignition.idle_correction: {x: {unit: rpm, at: [-9000, 13, 7777]}, "
                                        "value: {unit: deg, at: [-0.027, 0.000039, 0.023331]}}\n"
                                        "ignition.coolant_correction: {x: {unit: degC, at: [59.9, 60.1]}, "
                                        "value: {unit: deg, at: [0, 1]}}\n"});
  for (int x = 5990; x <= 6010; x++)
    expect_shown(
        &bench,
        arena_print(bench.arena, "tune.ignition.coolant_correction(%de-2 degC) == %de-2 deg", x, 5 * (x - 5990)),
        "yes");
  uint64_t seed = 4;
  for (size_t i = 0; i < 400; i++) {
    long x = (long)(chance_next(&seed) % 1500) - 400, n = (long)(chance_next(&seed) % 16777) - 9000;
    expect_shown(&bench, arena_print(bench.arena, "tune.fuel.warm_up_enrichment(%lde-1 degC) == %ld %%", x, 37 * x),
                 "yes");
    expect_shown(&bench,
                 arena_print(bench.arena, "tune.fuel.warm_up_enrichment(%lde-2 degF) == %ld %%", 18 * x + 3200, 37 * x),
                 "yes");
    expect_shown(&bench, arena_print(bench.arena, "tune.ignition.idle_correction(%ld rpm) == %lde-6 deg", n, 3 * n),
                 "yes");
  }
  bench_free(&bench);
}

/* One tiny divisor must not blur the comparisons of all other samples. */
static void a_small_divisor_blurs_only_its_own_sample(void **state)
{
  struct bench bench =
      bench_new(state, (struct given){.log = "time (s),gear,knock_count\n0,10,2\n1,10,1e-12\n2,10,4\n3,0,0\n"});
  expect_shown(&bench, "log.gear / log.knock_count > 4", "yes, yes, no, ?");
  expect_shown(&bench, "log.gear / log.knock_count == 5", "yes, no, no, ?");
  expect_shown(&bench, "log.gear / log.knock_count * 2 > 9 and log.gear / log.knock_count * 2 < 11", "yes, no, no, ?");
  expect_shown(&bench, "abs(log.gear / log.knock_count - 5) > 2", "no, yes, yes, ?");
  bench_free(&bench);
}

/* What is 0 but for rounding divides nothing. */
static void no_quotient_by_zero(void **state)
{
  struct bench bench = bench_new(state, (struct given){.log = "time (s),gear\n0,0.3\n1,0.4\n"});
  expect_missing(&bench, "1 / 0", "a divisor that is not 0");
  expect_missing(&bench, "1 / (0.1 + 0.2 - 0.3)", "a divisor that is not 0");
  expect_missing(&bench, "0 / 0", "a divisor that is not 0");
  expect_shown(&bench, "1 / (log.gear - 0.1 - 0.2)", "?, 10");
  expect_shown(&bench, "known(log.gear / 0)", "no, no");
  expect_missing(&bench, "1e200 * 1e200", "a result that is not too large for a number");
  bench_free(&bench);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(temperatures_and_differences_in_pairs),
      cmocka_unit_test(temperatures_alone),
      cmocka_unit_test(equal_decimals_are_equal),
      cmocka_unit_test(sums_and_products_of_random_decimals),
      cmocka_unit_test(temperatures_of_both_scales),
      cmocka_unit_test(curves_and_tables_meet_limits_exactly),
      cmocka_unit_test(steep_and_level_curves),
      cmocka_unit_test(a_small_divisor_blurs_only_its_own_sample),
      cmocka_unit_test(no_quotient_by_zero),
  };
  return cmocka_run_group_tests_name("expr decimal", tests, dictionary_open, dictionary_close);
}
