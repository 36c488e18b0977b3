/* Settings written as a file: what is read back is the same to the last bit, and writing it again gives the same bytes.
 */
#include "test_read_adapter_help.h"

#include <math.h>

#include "read/settings.h"

static const char *rewrite(struct run *run, const char *text)
{
  const struct source *source = run_source(run, slice_of(text));
  const struct settings *settings = settings_read(run->arena, run->vocabulary, source, &run->problems);
  if (settings == NULL)
    return run_said(run);
  char *out = NULL;
  size_t size = 0;
  FILE *stream = open_memstream(&out, &size);
  assert_non_null(stream);
  settings_write(stream, run->vocabulary, settings);
  assert_int_equal(fclose(stream), 0);
  const char *copy = arena_text(run->arena, (struct slice){out, size});
  free(out);
  return copy;
}

static void check(const char *text, const char *expected)
{
  struct run run = run_new();
  run_vocabulary(&run);
  const char *once = rewrite(&run, text);
  assert_string_equal(once, expected);
  assert_string_equal(rewrite(&run, once), once);
  run_free(&run);
}

#define FIRST "keyway-settings: 1\n"

static void test_kinds(void **state)
{
  (void)state;
  check(FIRST "fan.on_temperature: 194 degF\nengine.cylinders: 4\n", FIRST "engine.cylinders: 4\n"
                                                                           "fan.on_temperature: 194 degF\n");
  check(FIRST "fuel.overrun_cut: yes\nlambda_control.mode: off\n", FIRST "fuel.overrun_cut: on\n"
                                                                         "lambda_control.mode: \"off\"\n");
  check(FIRST "engine.firing_order: [1,3, 4,2]\ninjector.disabled: []\n", FIRST "engine.firing_order: [1, 3, 4, 2]\n"
                                                                                "injector.disabled: []\n");
  check(FIRST "inputs: {b: IN2, a: [IN3, IN1], c: 7}\noutputs: {}\n",
        FIRST "inputs:\n  b: IN2\n  a: [IN3, IN1]\n  c: \"7\"\noutputs: {}\n");
  check(FIRST "ignition.dwell: {x: [8, 12], value: {unit: us, at: [6000, 3 ms]}}\n",
        FIRST "ignition.dwell:\n  x: {unit: V, at: [8, 12]}\n  value: {unit: us, at: [6000, 3000]}\n");
  check(FIRST "fuel.lambda_target: {x: [1], y: [30], value: [[1]]}\n",
        FIRST "fuel.lambda_target:\n  x: {unit: rpm, at: [1]}\n  y: {unit: kPa, at: [30]}\n  value:\n    unit: lambda\n"
              "    rows:\n      - [1]\n");
  check(FIRST "fuel.warm_up_enrichment: {x: {unit: degF, at: [-40, 176]}, value: {unit: '1', at: [1.6, 1]}}\n",
        FIRST "fuel.warm_up_enrichment:\n  x: {unit: degF, at: [-40, 176]}\n  value: {unit: \"1\", at: [1.6, 1]}\n");
}

/* YAML 1.2, chapter 7.3: what a plain scalar may hold, and the escapes of a quoted one. */
static void test_texts(void **state)
{
  (void)state;
  static const struct {
    const char *yaml, *written;
  } rows[] = {
      {"Sandpiper 7", "Sandpiper 7"},
      {"'a: b'", "\"a: b\""},
      {"'# 1'", "\"# 1\""},
      {"'yes'", "\"yes\""},
      {"'7'", "\"7\""},
      {"''", "\"\""},
      {"' a '", "\" a \""},
      {"'say \"so\" \\ '", "\"say \\\"so\\\" \\\\ \""},
      {"\"two\\nlines\\tand \\x07\"", "\"two\\nlines\\tand \\u0007\""},
      {"\"\\u00e9 \\u2028 \\U0001F600\"", "\"\xc3\xa9 \\u2028 \\U0001f600\""},
      {"'a, [b] {c}'", "\"a, [b] {c}\""},
  };
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    char text[128], expected[128];
    snprintf(text, sizeof text, FIRST "file.title: %s\n", rows[i].yaml);
    snprintf(expected, sizeof expected, FIRST "file.title: %s\n", rows[i].written);
    check(text, expected);
  }
}

static uint64_t random_next(uint64_t *state) /* splitmix64 (Steele, Lea and Flood, OOPSLA 2014) */
{
  uint64_t z = *state += 0x9e3779b97f4a7c15u;
  z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
  z = (z ^ z >> 27) * 0x94d049bb133111ebu;
  return z ^ z >> 31;
}

/* Whatever was written in a unit is written again so that it reads as the same double. */
static void test_digits(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  uint64_t seed = 1;
  size_t tried = 0;
  for (size_t u = 0; u < unit_count(); u++) {
    const struct unit *unit = unit_at(u);
    for (size_t i = 0; i < 200; i++) {
      double whole = (double)(random_next(&seed) % 100000);
      double written = i % 2 == 0 ? whole / 100 : ldexp((double)(random_next(&seed) >> 11), -50) * 1000;
      double base = unit_to_base(unit, written), back = 0;
      const char *text = settings_write_number(arena, base, unit, true);
      struct quantity quantity;
      const char *why = NULL;
      assert_true(quantity_read(arena, slice_of(text), unit, &quantity, &why));
      back = quantity.value;
      assert_true(back == base);
      tried++;
    }
  }
  assert_true(tried > 5000);
  arena_free(arena);
}

/* 176 degF is 80 degC; short numbers stay short. 14.5 psi + 100 kPa as no psi comes to in one rounding goes to Pa. */
static void test_short(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  const struct unit *fahrenheit = unit_find(slice_of("degF")), *psi = unit_find(slice_of("psi"));
  assert_string_equal(settings_write_number(arena, unit_to_base(fahrenheit, 176), fahrenheit, false), "176 degF");
  assert_string_equal(settings_write_number(arena, unit_to_base(psi, 29.2), psi, false), "29.2 psi");
  assert_string_equal(settings_write_number(arena, 0.1 + 0.2, unit_find(slice_of("1")), false), "0.30000000000000004");
  assert_string_equal(settings_write_number(arena, -0.0, psi, false), "0 psi");
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_kinds),
      cmocka_unit_test(test_texts),
      cmocka_unit_test(test_digits),
      cmocka_unit_test(test_short),
  };
  return cmocka_run_group_tests_name("settings written", tests, NULL, NULL);
}
