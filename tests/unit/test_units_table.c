/* Every row of the table of units against GNU units (the program `units`), in one run of it. The expression of each row
 * is written here anew; the target is built from the row's dimension, so that a wrong dimension does not convert. */
#include "units/unit.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include <cmocka.h>

struct check {
  const char *name; /* of the row */
  const char *gnu;  /* the same in the language of GNU units */
};

static const struct check checks[] = {
    {"1", "1"},
    {"%", "percent"},
    {"degC", "tempC(1)"},
    {"degF", "tempF(1)"},
    {"K", "kelvin"},
    {"degC_diff", "degC"}, /* in GNU units degC is the difference, tempC() the temperature */
    {"degF_diff", "degF"},
    {"kPa", "kilopascal"},
    {"Pa", "pascal"},
    {"hPa", "hectopascal"},
    {"MPa", "megapascal"},
    {"bar", "bar"},
    {"mbar", "millibar"},
    {"psi", "psi"},
    {"inHg", "inHg"},
    {"mmHg", "mmHg"},
    {"torr", "torr"},
    {"mmH2O", "mmH2O"},
    {"inH2O", "inH2O"},
    {"kgf/cm2", "kgf/cm^2"},
    {"atm", "atm"},
    {"deg", "degree"},
    {"rad", "radian"},
    {"rev", "revolution"},
    {"rpm", "rpm"},
    {"Hz", "hertz"},
    {"kHz", "kilohertz"},
    {"s", "second"},
    {"ms", "millisecond"},
    {"us", "microsecond"},
    {"min", "minute"},
    {"h", "hour"},
    {"V", "volt"},
    {"mV", "millivolt"},
    {"kV", "kilovolt"},
    {"A", "ampere"},
    {"mA", "milliampere"},
    {"Ohm", "ohm"},
    {"mOhm", "milliohm"},
    {"kOhm", "kiloohm"},
    {"MOhm", "megaohm"},
    {"H", "henry"},
    {"mH", "millihenry"},
    {"uH", "microhenry"},
    {"N", "newton"},
    {"lbf", "lbf"},
    {"kgf", "kgf"},
    {"J", "joule"},
    {"mJ", "millijoule"},
    {"kJ", "kilojoule"},
    {"MJ", "megajoule"},
    {"kWh", "kilowatt hour"},
    {"N.m", "newton meter"},
    {"lbf.ft", "lbf foot"},
    {"kgf.m", "kgf meter"},
    {"W", "watt"},
    {"kW", "kilowatt"},
    {"hp", "horsepower"},
    {"PS", "metrichorsepower"},
    {"m", "meter"},
    {"cm", "centimeter"},
    {"mm", "millimeter"},
    {"um", "micrometer"},
    {"km", "kilometer"},
    {"in", "inch"},
    {"ft", "foot"},
    {"mi", "mile"},
    {"L", "liter"},
    {"mL", "milliliter"},
    {"cm3", "cm^3"},
    {"mm3", "mm^3"},
    {"m3", "m^3"},
    {"in3", "inch^3"},
    {"ft3", "foot^3"},
    {"gal_us", "usgallon"},
    {"gal_uk", "brgallon"},
    {"kg", "kilogram"},
    {"g", "gram"},
    {"mg", "milligram"},
    {"lb", "pound"},
    {"oz", "ounce"},
    {"km/h", "km/hour"},
    {"mph", "mile/hour"},
    {"m/s", "m/s"},
    {"cm3/min", "cm^3/minute"},
    {"L/min", "liter/minute"},
    {"L/h", "liter/hour"},
    {"ft3/min", "cfm"},
    {"g/s", "gram/second"},
    {"g/min", "gram/minute"},
    {"kg/h", "kilogram/hour"},
    {"lb/h", "pound/hour"},
    {"lb/min", "pound/minute"},
    {"kg/L", "kilogram/liter"},
    {"g/cm3", "gram/cm^3"},
    {"kg/m3", "kilogram/m^3"},
    {"g/(kW.h)", "gram/(kilowatt hour)"},
    {"lb/(hp.h)", "pound/(horsepower hour)"},
    /* GNU units knows no mixture: lambda is the unit by definition, so the target below is a plain number. */
    {"lambda", "1"},
};
enum { CHECKS = sizeof checks / sizeof *checks };

static void target_print(FILE *file, struct dimension d)
{
  static const char *const bases[DIM_COUNT] = {"m", "kg", "s", "A", "K", "radian", "1"};
  fputs("1", file);
  for (int i = 0; i < DIM_COUNT; i++) {
    if (d.of[i] != 0)
      fprintf(file, " %s^%d", bases[i], d.of[i]);
  }
  fputc('\n', file);
}

static void every_row_has_one_check(void **state)
{
  (void)state;
  assert_int_equal(CHECKS, unit_count());
  for (size_t i = 0; i < unit_count(); i++) {
    int found = 0;
    for (size_t k = 0; k < CHECKS; k++)
      found += strcmp(checks[k].name, unit_at(i)->name) == 0;
    if (found != 1)
      fail_msg("unit '%s' has %d check rows", unit_at(i)->name, found);
  }
  assert_null(unit_at(unit_count()));
}

static void every_row_agrees_with_gnu_units(void **state)
{
  (void)state;
  if (system("units --version >/dev/null 2>&1") != 0)
    fail_msg("the program 'units' (GNU units) is needed for this test: install the package 'units'");
  char path[] = "/tmp/keyway-units-XXXXXX";
  int fd = mkstemp(path);
  assert_true(fd >= 0);
  FILE *file = fdopen(fd, "w");
  assert_non_null(file);
  for (size_t i = 0; i < CHECKS; i++) {
    const struct unit *unit = unit_find(slice_of(checks[i].name));
    assert_non_null(unit);
    fprintf(file, "%s\n", checks[i].gnu);
    target_print(file, unit->dimension);
  }
  fclose(file);
  char command[128], line[256];
  snprintf(command, sizeof command, "LC_ALL=C units -q -t -o %%.17g <%s 2>&1", path);
  FILE *answers = popen(command, "r");
  assert_non_null(answers);
  size_t ran = 0;
  for (; ran < CHECKS && fgets(line, sizeof line, answers) != NULL; ran++) {
    char *end;
    double theirs = strtod(line, &end);
    double ours = unit_to_base(unit_find(slice_of(checks[ran].name)), 1.0);
    if (end == line || *end != '\n' || fabs(ours - theirs) > 1e-14 * fabs(theirs))
      fail_msg("%s: here %.17g, GNU units says %s", checks[ran].name, ours, line);
  }
  pclose(answers);
  unlink(path);
  assert_int_equal(ran, CHECKS);
}

/* A spelling that two rows share would silently go to the first. */
static void every_spelling_finds_its_row(void **state)
{
  (void)state;
  size_t spellings = 0;
#define UNIT(name, ucum, dimension, sense, factor, offset, also) {(name), (also)},
  const struct {
    const char *name, *also;
  } rows[] = {
#include "units/unit.def"
  };
#undef UNIT
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    assert_ptr_equal(unit_find(slice_of(rows[i].name)), unit_at(i));
    for (const char *at = rows[i].also; *(at += strspn(at, " ")) != '\0'; at += strcspn(at, " ")) {
      struct slice spelling = {at, strcspn(at, " ")};
      if (unit_find(spelling) != unit_at(i))
        fail_msg("'%.*s' of '%s' finds another row", SLICE_ARG(spelling), rows[i].name);
      spellings++;
    }
  }
  assert_true(spellings > 200);
}

/* Codes of UCUM; degC_diff shares K's, and the code of a product is read as that product. */
static void every_ucum_code_reads_back(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  size_t ran = 0;
  for (size_t i = 0; i < unit_count(); i++) {
    const struct unit *unit = unit_at(i);
    const char *why = NULL;
    if (unit->ucum == NULL)
      continue;
    const struct unit *read = unit_read(arena, slice_of(unit->ucum), &why);
    if (read == NULL || !unit_agrees(read, unit) || fabs(read->factor / unit->factor - 1) > 1e-15)
      fail_msg("UCUM code %s of %s: %s", unit->ucum, unit->name, why);
    ran++;
  }
  assert_true(ran > 80);
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_row_has_one_check),
      cmocka_unit_test(every_row_agrees_with_gnu_units),
      cmocka_unit_test(every_spelling_finds_its_row),
      cmocka_unit_test(every_ucum_code_reads_back),
  };
  return cmocka_run_group_tests_name("units table", tests, NULL, NULL);
}
