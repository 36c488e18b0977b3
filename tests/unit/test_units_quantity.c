/* Numbers with units, read and printed. */
#include "units/unit.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

static const struct unit *named(const char *name)
{
  const struct unit *unit = unit_find(slice_of(name));
  assert_non_null(unit);
  return unit;
}

static void numbers_with_units_are_read(void **state)
{
  (void)state;
  /* Expected values in base units by GNU units 2.22, for instance `units 'tempF(170)' K`. */
  const struct {
    const char *text, *unit;
    double base;
  } cases[] = {
      {"10 deg", "deg", 0.17453292519943295},
      {"170degF", "degF", 349.81666666666666},
      {"-40 \xC2\xB0"
       "C",
       "degC", 233.15},
      {"-4.5e-1 deg/kPa", "deg/kPa", -7.853981633974483e-06},
      {"3000 1/min", "rpm", 314.1592653589793},
      {"3000/min", "rpm", 314.1592653589793},
      {"1998 cm3", "cm3", 0.001998},
      {"100 %", "%", 1},
      {"100%", "%", 1},
      {"  5\tms ", "ms", 0.005},
      {"+.5 V", "V", 0.5},
      {"7", "kPa", 7000},
      {"1e3", "kPa", 1e6},
      {"0.5 degC/s", "K/s", 0.5},
  };
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    struct quantity q;
    const char *why = NULL;
    if (!quantity_read(arena, slice_of(cases[i].text), named("kPa"), &q, &why))
      fail_msg("%s: %s", cases[i].text, why);
    assert_string_equal(q.unit->name, cases[i].unit);
    assert_true(fabs(q.value - cases[i].base) <= 1e-14 * fabs(cases[i].base));
  }
  arena_free(arena);
}

static void what_is_no_quantity_is_refused(void **state)
{
  (void)state;
  const struct {
    const char *text, *part;
  } cases[] = {
      {"", "not a number"},          {"deg", "not a number"},
      {".inf", "not a number"},      {"nan", "not a number"},
      {"1e400 kPa", "not a number"}, {"1,5 V", "comma"},
      {"1,500 rpm", "comma"},        {"5 frobs", "unknown unit 'frobs'"},
      {"12:30", "unknown"},          {"14.7:1", "number alone"},
      {"20 psig", "barometer"},      {"14.7 AFR", "stoichiometric"},
      {"1e308 km", "too large"},     {"1 2", "unknown"},
      {"0x10", "unknown"},           {"5 kPa 3", "unknown"},
      {"5 kPa -3", "unknown"},
  };
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    struct quantity q;
    const char *why = NULL;
    if (quantity_read(arena, slice_of(cases[i].text), named("kPa"), &q, &why))
      fail_msg("%s was accepted", cases[i].text);
    assert_non_null(why);
    if (strstr(why, cases[i].part) == NULL)
      fail_msg("%s: %s", cases[i].text, why);
  }
  struct quantity q;
  const char *why = NULL;
  assert_false(quantity_read(arena, slice_of("5"), NULL, &q, &why));
  assert_non_null(strstr(why, "has no unit"));
  arena_free(arena);
}

static void quantities_are_printed(void **state)
{
  (void)state;
  const struct {
    double value; /* in `unit` */
    const char *unit, *shown;
    double step;
    const char *text;
  } cases[] = {
      {14.7, "psi", NULL, 0, "14.7 psi"},
      {80, "degC", NULL, 0, "80 degC"},
      {176, "degF", "degC", 0, "80 degC"},
      {100, "%", NULL, 0, "100 %"},
      {5, "1", NULL, 0, "5"},
      {5, "degC_diff", NULL, 0, "5 K"},
      {9, "degF_diff", NULL, 0, "9 degF"},
      {300, "K", NULL, 0, "300 K"},
      {3000, "rpm", NULL, 0, "3000 rpm"},
      {0.03, "rpm", "deg/ms", 0, "0.00018 deg/ms"},
      {14.68, "psi", NULL, 0.1, "14.7 psi"},
      {0.3, "lambda", NULL, 0.1, "0.3 lambda"},
      {0.834, "lambda", NULL, 0.01, "0.83 lambda"},
      {3047, "rpm", NULL, 50, "3050 rpm"},
      {-0.04, "deg", NULL, 0.1, "0 deg"},
      {1234567.8, "Pa", NULL, 0, "1234570 Pa"},
      {1e12, "Ohm", NULL, 0, "1e12 Ohm"},
  };
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const char *why = NULL;
    const struct unit *unit = named(cases[i].unit);
    const struct unit *shown = cases[i].shown == NULL ? NULL : unit_read(arena, slice_of(cases[i].shown), &why);
    struct quantity q = {unit_to_base(unit, cases[i].value), unit};
    assert_string_equal(quantity_print(arena, q, shown, cases[i].step), cases[i].text);
  }
  arena_free(arena);
}

/* What is written in a settings file comes back as it was written, in every unit of the table. */
static void every_unit_goes_round(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  const double values[] = {0.1, 1, 14.7, 97, 850, 6500, 123456};
  size_t ran = 0;
  for (size_t i = 0; i < unit_count(); i++) {
    for (size_t k = 0; k < sizeof values / sizeof *values; k++) {
      const struct unit *unit = unit_at(i);
      struct quantity q;
      const char *why = NULL;
      const char *typed = arena_print(arena, "%.6g %s", values[k], unit->name);
      assert_true(quantity_read(arena, slice_of(typed), NULL, &q, &why));
      assert_ptr_equal(q.unit, unit);
      double back = unit_from_base(unit, q.value);
      assert_true(fabs(back - values[k]) <= 1e-12 * (values[k] + unit->offset / unit->factor));
      if (unit->sense != SENSE_DIFFERENCE && strcmp(unit->name, "1") != 0)
        assert_string_equal(quantity_print(arena, q, NULL, 0), typed);
      ran++;
    }
  }
  assert_int_equal(ran, unit_count() * 7);
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(numbers_with_units_are_read),
      cmocka_unit_test(what_is_no_quantity_is_refused),
      cmocka_unit_test(quantities_are_printed),
      cmocka_unit_test(every_unit_goes_round),
  };
  return cmocka_run_group_tests_name("units quantity", tests, NULL, NULL);
}
