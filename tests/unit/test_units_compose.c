/* Units as people type them, composed units, what is refused and why. Codes and reading order: UCUM 2.1. */
#include "units/unit.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

static struct arena *arena;

static int arena_up(void **state)
{
  (void)state;
  arena = arena_new();
  return 0;
}

static int arena_down(void **state)
{
  (void)state;
  arena_free(arena);
  return 0;
}

static const struct unit *must_read(const char *text)
{
  const char *why = NULL;
  const struct unit *unit = unit_read(arena, slice_of(text), &why);
  if (unit == NULL)
    fail_msg("'%s' was refused: %s", text, why);
  assert_null(why);
  return unit;
}

static void typed_ways_find_one_unit(void **state)
{
  (void)state;
  const struct {
    const char *name;
    const char *typed[12];
  } cases[] = {
      {"degC",
       {"degC",
        "\xC2\xB0"
        "C",
        "C", "deg C", "Cel",
        "\xBA"
        "C",
        "\xB0"
        "C",
        "\xE2\x84\x83", "DEGC", "Deg_C", "c"}},
      {"degF",
       {"degF",
        "\xC2\xB0"
        "F",
        "F", "[degF]", "deg F", "f"}},
      {"K", {"K", "kelvin", "k"}},
      {"degC_diff",
       {"degC_diff", "degC diff",
        "\xC2\xB0"
        "C_diff"}},
      {"kPa", {"kPa", "KPA", "kpa", "Kpa", " kPa ", "kPa abs"}},
      {"MPa", {"MPa", "mpa", "MPA"}},
      {"psi", {"psi", "PSI", "psia", "lbf/in2", "[psi]"}},
      {"inHg", {"inHg", "in Hg", "INHG", "[in_i'Hg]"}},
      {"mmHg", {"mmHg", "mm Hg", "mm[Hg]"}},
      {"kgf/cm2", {"kgf/cm2", "kgf/cm^2", "kgf / cm\xC2\xB2", "kg/cm2"}},
      {"rpm",
       {"rpm", "RPM", "1/min", "r/min", "rev/min", "min-1", "min^-1", "min\xE2\x81\xBB\xC2\xB9", "{rev}/min", "/min"}},
      {"%", {"%", "percent", "pct", "Percent"}},
      {"1", {"1", "-", "on/off"}},
      {"us", {"us", "\xC2\xB5s", "\xCE\xBCs", "\xB5s", "usec", "US"}},
      {"ms", {"ms", "MS", "msec", "milliseconds"}},
      {"mV", {"mV", "MV", "mv"}},
      {"h", {"h", "hr", "hours"}},
      {"H", {"H", "henry"}},
      {"Ohm", {"Ohm", "ohm", "\xCE\xA9", "\xE2\x84\xA6", "OHMS"}},
      {"kOhm", {"kOhm", "k\xCE\xA9", "kohm", "KOHM"}},
      {"L", {"L", "l", "litre", "Liter"}},
      {"cm3", {"cm3", "cc", "CC", "ccm", "cm^3", "cm\xC2\xB3"}},
      {"in3", {"in3", "ci", "cu in", "cu.in", "in\xC2\xB3", "CID", "[cin_i]"}},
      {"cm3/min", {"cm3/min", "cc/min", "CC/MIN", "ccm/min", "cm\xC2\xB3/min"}},
      {"km/h", {"km/h", "kph", "KM/H", "km/hr"}},
      {"mph", {"mph", "MPH", "[mi_i]/h", "mile/h"}},
      {"deg",
       {"deg", "\xC2\xB0", "degrees", "deg BTDC",
        "\xC2\xB0"
        "BTDC",
        "Deg"}},
      {"lambda", {"lambda", "\xCE\xBB", "Lambda", "LAMBDA"}},
      {"lb/h", {"lb/h", "lb/hr", "lbs/hr", "pph", "[lb_av]/h"}},
      {"N.m", {"N.m", "Nm", "N-m", "N*m", "N\xC2\xB7m", "N m"}},
      {"lbf.ft", {"lbf.ft", "ft.lbf", "ft-lb", "lb-ft", "lb ft"}},
      {"g/(kW.h)", {"g/(kW.h)", "g/kWh", "g/kW/h", "g/kW.h"}},
      {"kg/L", {"kg/L", "kg/l", "KG/L"}},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    for (size_t k = 0; k < 12 && cases[i].typed[k] != NULL; k++) {
      const struct unit *unit = unit_find(slice_of(cases[i].typed[k]));
      if (unit == NULL || strcmp(unit->name, cases[i].name) != 0)
        fail_msg("'%s' should be %s, is %s", cases[i].typed[k], cases[i].name, unit == NULL ? "unknown" : unit->name);
      assert_ptr_equal(must_read(cases[i].typed[k]), unit);
    }
  }
}

/* A factor of a thousand million is not guessed. */
static void case_is_not_guessed_where_it_matters(void **state)
{
  (void)state;
  const char *const cases[] = {"mPa", "Ms", "Mv", "MOHM", "mj", "G", "M", "R"};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
    assert_null(unit_find(slice_of(cases[i])));
  assert_string_equal(unit_find(slice_of("mJ"))->name, "mJ");
  assert_string_equal(unit_find(slice_of("MJ"))->name, "MJ");
}

static void composed_units_have_factor_and_name(void **state)
{
  (void)state;
  const double pi = acos(-1.0);
  const struct {
    const char *typed, *name, *ucum;
    double factor;
  } cases[] = {
      {"deg/kPa", "deg/kPa", "deg/kPa", pi / 180 / 1e3},
      {"deg/ms", "deg/ms", "deg/ms", pi / 180 * 1e3},
      {"%/s", "%/s", "%/s", 0.01},
      {"degC/s", "K/s", "K/s", 1},
      {"%/degF", "%/degF", NULL, 0.018},
      {"1/degC", "1/K", "1/K", 1},
      {"m/s2", "m/s2", "m/s2", 1},
      {"m.s^-2", "m/s2", "m/s2", 1},
      {"L.min-1", "L/min", "L/min", 1e-3 / 60},
      {"J/(kg.K)", "J/(kg.K)", "J/kg/K", 1},
      {"J/kg/K", "J/(kg.K)", "J/kg/K", 1},
      {"m.(s.(K))-1", "m/(s.K)", "m/s/K", 1},
      {"(mm3)2", "(mm3)2", "(mm3)2", 1e-18},
      {"rpm/s", "rpm/s", "({rev}/min)/s", 2 * pi / 60},
      {"kPa/kPa", "1", "1", 1},
      {"ms/s", "ms/s", "ms/s", 1e-3},
      {"lb/gal_us", "lb/gal_us", "[lb_av]/[gal_us]", 0.45359237 / 3.785411784e-3},
      {"1/ms", "1/ms", "1/ms", 1e3},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const struct unit *unit = must_read(cases[i].typed);
    assert_string_equal(unit->name, cases[i].name);
    if (cases[i].ucum == NULL)
      assert_null(unit->ucum);
    else
      assert_string_equal(unit->ucum, cases[i].ucum);
    assert_true(fabs(unit->factor / cases[i].factor - 1) < 1e-15);
    assert_true(unit->offset == 0.0);
    /* What is printed can be read. */
    const struct unit *again = must_read(unit->name);
    assert_true(unit_agrees(again, unit) && again->factor == unit->factor);
  }
}

static void check_refusal(const char *typed, const char *part)
{
  const char *why = NULL;
  if (unit_read(arena, slice_of(typed), &why) != NULL)
    fail_msg("'%s' was accepted", typed);
  assert_non_null(why);
  if (strstr(why, part) == NULL || strchr(why, '\n') != NULL)
    fail_msg("'%s': %s", typed, why);
}

static void refusals_say_the_way_out(void **state)
{
  (void)state;
  check_refusal("", "empty");
  check_refusal("  ", "empty");
  check_refusal("kpo", "did you mean 'kPa'?");
  check_refusal("mPa", "did you mean 'MPa'?");
  check_refusal("deg/kPo", "unknown unit 'deg/kPo'; did you mean 'kPa'?");
  check_refusal("frobs", "unknown unit 'frobs'");
  const char *const ratios[] = {"AFR", "afr", "{AFR}", "A/F", ":1"};
  for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i++)
    check_refusal(ratios[i], "stoichiometric ratio");
  const char *const gauges[] = {"psig",   "psi g",     "psi gauge", "PSIG",       "kPag",
                                "kPa(g)", "bar gauge", "barg",      "bar (gauge)"};
  for (size_t i = 0; i < sizeof gauges / sizeof *gauges; i++)
    check_refusal(gauges[i], "add the barometer");
  check_refusal("inHg vac", "subtract it from the barometer");
  check_refusal("gal", "which gallon");
  check_refusal("lb/gal", "which gallon");
  check_refusal("deg ATDC", "the other way");
  check_refusal("J/kg.K", "two ways");
  check_refusal("(degC)", "temperature");
  check_refusal("degC.s/s", "temperature");
}

static void malformed_units_are_refused(void **state)
{
  (void)state;
  const char *const cases[] = {"/",          ".",
                               "()",         "m//s",
                               "m.",         "(m",
                               "m)",         "m(s)",
                               "1/",         "m33",
                               "m10",        "5 m",
                               "-3",         "3",
                               "m/-3",       "m.9",
                               "1/100ms",    "kWh9.kWh",
                               "m-",         "\xFF\xFE",
                               "kPa;",       "((((((((((m))))))))))",
                               "x\ny",       "MJ9.MJ9",
                               "(MJ9.kW9)9", "m9.cm9.mm9.km9.in9.ft9.mi9.s.A.K.kg.g.lb"};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const char *why = NULL;
    if (unit_read(arena, slice_of(cases[i]), &why) != NULL)
      fail_msg("'%s' was accepted", cases[i]);
    assert_non_null(why);
  }
  char text[5000];
  const char *why = NULL;
  memset(text, '(', sizeof text);
  assert_null(unit_read(arena, (struct slice){text, sizeof text}, &why));
  memset(text, 'm', sizeof text);
  assert_null(unit_read(arena, (struct slice){text, sizeof text}, &why));
  assert_true(strlen(why) < 200);
  assert_null(unit_read(arena, (struct slice){"m\0s", 3}, &why));
  assert_null(unit_find((struct slice){NULL, 0}));
}

static void products_cancel_and_stay_readable(void **state)
{
  (void)state;
  const struct {
    const char *a, *b, *divided, *multiplied;
  } cases[] = {
      {"deg", "kPa", "deg/kPa", "deg.kPa"},
      {"deg/kPa", "kPa", "deg/kPa2", "deg"},
      {"%", "s", "%/s", "s"},
      {"%/s", "s", "%/s2", "%"},
      {"ms", "%", "ms", "ms"},
      {"km", "h", "km/h", "km.h"},
      {"degC", "s", "K/s", "K.s"},
      {"degF", "kPa", "degF/kPa", "degF.kPa"},
      {"kPa", "bar", "1", "kPa.bar"},
      {"kPa", "kPa", "1", "kPa2"},
      {"%", "%", "1", "%"},
      {"%", "1", "%", "%"},
      {"degC", "1", "degC_diff", "degC_diff"},
      {"degC_diff", "%", "degC_diff", "degC_diff"},
      {"1", "min", "Hz", "min"},
      {"1", "kPa", "1/kPa", "kPa"},
      {"V", "A", "Ohm", "W"},
      {"ms", "rpm", "ms/rpm", "deg"},
      {"deg", "rpm", "s", "deg.rpm"},
      {"lambda", "lambda", "1", "lambda2"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const struct unit *a = must_read(cases[i].a), *b = must_read(cases[i].b);
    const struct unit *divided = unit_divide(arena, a, b), *multiplied = unit_multiply(arena, a, b);
    if (strcmp(divided->name, cases[i].divided) != 0 || strcmp(multiplied->name, cases[i].multiplied) != 0)
      fail_msg("%s and %s: %s, %s", cases[i].a, cases[i].b, divided->name, multiplied->name);
    assert_true(dimension_equal(divided->dimension, dimension_times(a->dimension, b->dimension, -1)));
    assert_true(dimension_equal(multiplied->dimension, dimension_times(a->dimension, b->dimension, 1)));
  }
}

/* A long product must neither wrap round to another dimension nor be NULL. */
static void dimensions_do_not_wrap(void **state)
{
  (void)state;
  const struct unit *product = must_read("m");
  for (int i = 0; i < 1000; i++) {
    product = unit_multiply(arena, product, must_read("m"));
    assert_non_null(product);
    assert_non_null(product->name);
    assert_in_range(product->dimension.of[DIM_LENGTH], 2, 127);
  }
}

static void senses_agree_as_they_should(void **state)
{
  (void)state;
  const struct {
    const char *a, *b;
    bool agree;
  } cases[] = {
      {"degC", "degF", true},       {"degC", "K", true}, {"degC_diff", "K", true},   {"degC_diff", "degF_diff", true},
      {"degC", "degC_diff", false}, {"K", "K", true},    {"kPa", "psi", true},       {"kPa", "degC", false},
      {"rpm", "Hz", false},         {"%", "1", true},    {"%", "lambda", false},     {"1", "lambda", false},
      {"deg", "1", false},          {"%", "deg", false}, {"lb/h", "cm3/min", false}, {"deg/ms", "rpm", true},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    assert_true(unit_agrees(must_read(cases[i].a), must_read(cases[i].b)) == cases[i].agree);
    assert_true(unit_agrees(must_read(cases[i].b), must_read(cases[i].a)) == cases[i].agree);
  }
  assert_string_equal(unit_difference(must_read("degC"))->name, "degC_diff");
  assert_string_equal(unit_difference(must_read("degF"))->name, "degF_diff");
  assert_string_equal(unit_difference(must_read("kPa"))->name, "kPa");
}

static void mismatches_get_a_hint(void **state)
{
  (void)state;
  const struct {
    const char *got, *wanted, *part;
  } cases[] = {
      {"lb/h", "cm3/min", "1 lb/h is 10.15 cm3/min"},
      {"g/s", "L/h", "density"},
      {"cm3/min", "lb/h", "density"},
      {"degC", "degC_diff", "write degC_diff or K"},
      {"degF", "degC_diff", "write degF_diff or K"},
      {"degF_diff", "degC", "write degC"},
      {"1", "lambda", "stoichiometric ratio"},
      {"Hz", "rpm", "60 rpm"},
      {"rpm", "Hz", "60 rpm"},
      {"deg", "ms", "engine speed"},
      {"us", "deg", "engine speed"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const char *hint = unit_mismatch_hint(arena, must_read(cases[i].got), must_read(cases[i].wanted));
    if (hint == NULL || strstr(hint, cases[i].part) == NULL)
      fail_msg("%s for %s: %s", cases[i].got, cases[i].wanted, hint == NULL ? "no hint" : hint);
  }
  assert_null(unit_mismatch_hint(arena, must_read("kPa"), must_read("degC")));
}

static void dimensions_have_names(void **state)
{
  (void)state;
  const struct {
    const char *unit, *name;
  } cases[] = {
      {"kPa", "pressure"},
      {"degC", "temperature"},
      {"K", "temperature"},
      {"degC_diff", "temperature difference"},
      {"deg/kPa", "angle per pressure"},
      {"rpm", "speed of rotation"},
      {"%", "plain number"},
      {"lambda", "mixture (lambda)"},
      {"cm3/min", "volume flow"},
      {"1/kPa", "number per pressure"},
      {"deg.kPa", "angle times pressure"},
      {"g/(kW.h)", "mass per energy"},
      {"A3.K2", "current^3 temperature^2"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const struct unit *unit = must_read(cases[i].unit);
    assert_string_equal(dimension_name(arena, unit->dimension, unit->sense), cases[i].name);
  }
}

static void coherent_units_have_factor_one(void **state)
{
  (void)state;
  const struct {
    const char *like, *name;
  } cases[] = {{"kPa", "Pa"},    {"rpm", "rad/s"}, {"degC", "K"},         {"%", "1"},          {"L", "m3"}, {"mJ", "J"},
               {"lb/h", "kg/s"}, {"mph", "m/s"},   {"deg/kPa", "rad/Pa"}, {"lambda", "lambda"}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const struct unit *like = must_read(cases[i].like);
    const struct unit *unit = unit_of_dimension(arena, like->dimension, like->sense);
    assert_string_equal(unit->name, cases[i].name);
    assert_true(unit->factor == 1.0 && unit->offset == 0.0);
    assert_true(dimension_equal(unit->dimension, like->dimension));
  }
  assert_string_equal(unit_of_dimension(arena, must_read("K")->dimension, SENSE_DIFFERENCE)->name, "degC_diff");
}

int main(void)
{
#define ARENA_TEST(name) cmocka_unit_test_setup_teardown(name, arena_up, arena_down)
  const struct CMUnitTest tests[] = {
      ARENA_TEST(typed_ways_find_one_unit),
      ARENA_TEST(case_is_not_guessed_where_it_matters),
      ARENA_TEST(composed_units_have_factor_and_name),
      ARENA_TEST(refusals_say_the_way_out),
      ARENA_TEST(malformed_units_are_refused),
      ARENA_TEST(products_cancel_and_stay_readable),
      ARENA_TEST(dimensions_do_not_wrap),
      ARENA_TEST(senses_agree_as_they_should),
      ARENA_TEST(mismatches_get_a_hint),
      ARENA_TEST(dimensions_have_names),
      ARENA_TEST(coherent_units_have_factor_one),
  };
  return cmocka_run_group_tests_name("units compose", tests, NULL, NULL);
}
