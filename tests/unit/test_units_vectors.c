/* The published conversions of tests/unit/reference-vectors.tsv whose id begins with "u-". Each is put as one or two
 * quantities and an operation; the expected value, its unit and the tolerance come from the file. */
#include "units/unit.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

enum { ROWS = 31 };

struct vector {
  const char *id, *a; /* a NULL: the file's own input, in UCUM */
  char operation;     /* '=' : a alone */
  const char *b;
};

static const struct vector vectors[] = {
    {"u-degf-degc", NULL, '=', NULL},
    {"u-degf-degc-2", NULL, '=', NULL},
    {"u-degf-degc-3", NULL, '=', NULL},
    {"u-degc-degf", NULL, '=', NULL},
    {"u-degc-k", NULL, '=', NULL},
    {"u-dt-degf-k", "10 degF_diff", '=', NULL},
    {"u-psi-kpa", NULL, '=', NULL},
    {"u-psi-kpa-2", NULL, '=', NULL},
    {"u-bar-psi", NULL, '=', NULL},
    {"u-inhg-kpa", NULL, '=', NULL},
    {"u-inhg-kpa-2", NULL, '=', NULL},
    {"u-kpa-inhg", NULL, '=', NULL},
    {"u-gauge-abs", "14.5 psi", '+', "100 kPa"},
    {"u-vac", "101.325 kPa", '-', "18 inHg"},
    {"u-lam-afr", "0.85", '*', "14.7"},
    {"u-afr-lam", "12.5", '/', "14.7"},
    {"u-lam-phi", "1", '/', "0.85"},
    {"u-lbh-ccmin-745", "1 lb/h", '/', "0.745 g/cc"},
    {"u-lbh-ccmin-72", "1 lb/h", '/', "0.720 g/cc"},
    {"u-ccmin-lbh", "440 cc/min", '*', "0.745 kg/L"},
    {"u-rpm-rads", "6000 rpm", '=', NULL},
    {"u-rpm-degms", "6000 1/min", '=', NULL},
    {"u-deg-ms", "15 deg", '/', "3000 rpm"},
    {"u-ms-deg", "0.1 ms", '*', "6000 rpm"},
    {"u-cycle", "2 rev", '/', "6500 rpm"},
    {"u-kmh-mph", "100 km/h", '=', NULL},
    {"u-mph-kmh", "60 mph", '=', NULL},
    {"u-hp-kw", "1 hp", '=', NULL},
    {"u-lbft-nm", "1 lbf.ft", '=', NULL},
    {"u-bsfc", "0.50 lb/hp/h", '=', NULL},
    {"u-ci-l", "302 cu in", '=', NULL},
};

static struct quantity read(struct arena *arena, const char *text)
{
  struct quantity q = {0, NULL};
  const char *why = NULL;
  if (!quantity_read(arena, slice_of(text), unit_find(slice_of("1")), &q, &why))
    fail_msg("%s: %s", text, why);
  return q;
}

static struct quantity work(struct arena *arena, const struct vector *vector, const char *input)
{
  struct quantity a = read(arena, vector->a != NULL ? vector->a : input);
  if (vector->operation == '=')
    return a;
  struct quantity b = read(arena, vector->b);
  switch (vector->operation) {
  case '*':
    return (struct quantity){a.value * b.value, unit_multiply(arena, a.unit, b.unit)};
  case '/':
    return (struct quantity){a.value / b.value, unit_divide(arena, a.unit, b.unit)};
  default:
    assert_true(unit_agrees(a.unit, b.unit));
    return (struct quantity){vector->operation == '+' ? a.value + b.value : a.value - b.value, a.unit};
  }
}

/* The fields of a line, in place. */
static size_t split(char *line, char **fields, size_t most)
{
  size_t count = 0;
  line[strcspn(line, "\r\n")] = '\0';
  for (char *at = line; at != NULL && count < most;) {
    fields[count++] = at;
    at = strchr(at, '\t');
    if (at != NULL)
      *at++ = '\0';
  }
  return count;
}

static void check_row(struct arena *arena, char **fields)
{
  const struct vector *vector = NULL;
  for (size_t i = 0; i < sizeof vectors / sizeof *vectors; i++) {
    if (strcmp(vectors[i].id, fields[0]) == 0)
      vector = &vectors[i];
  }
  if (vector == NULL)
    fail_msg("no entry for row %s", fields[0]);
  if (vector == NULL)
    return;
  struct quantity got = work(arena, vector, fields[2]);
  const char *why = NULL;
  const struct unit *unit = unit_read(arena, slice_of(fields[4]), &why);
  if (unit == NULL || !unit_agrees(got.unit, unit))
    fail_msg("%s: comes out in %s, expected %s", fields[0], got.unit->name, fields[4]);
  char *end;
  double tolerance = strtod(fields[5], &end), expected = strtod(fields[3], NULL);
  assert_string_equal(end, " rel");
  double value = unit_from_base(unit, got.value);
  if (!(fabs(value - expected) <= tolerance * fabs(expected)))
    fail_msg("%s: %.12g %s, expected %s", fields[0], value, fields[4], fields[3]);
}

static void published_conversions_hold(void **state)
{
  (void)state;
  FILE *file = fopen("tests/unit/reference-vectors.tsv", "r");
  if (file == NULL)
    fail_msg("cannot open tests/unit/reference-vectors.tsv: run from the top of the tree");
  struct arena *arena = arena_new();
  char line[1024];
  size_t ran = 0;
  while (fgets(line, sizeof line, file) != NULL) {
    char *fields[6];
    if (strncmp(line, "u-", 2) != 0)
      continue;
    assert_int_equal(split(line, fields, 6), 6);
    check_row(arena, fields);
    ran++;
  }
  fclose(file);
  arena_free(arena);
  assert_int_equal(ran, ROWS);
  assert_int_equal(ROWS, sizeof vectors / sizeof *vectors);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(published_conversions_hold)};
  return cmocka_run_group_tests_name("units vectors", tests, NULL, NULL);
}
