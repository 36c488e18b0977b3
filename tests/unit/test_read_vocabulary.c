/* read/vocabulary.h: the dictionary that ships, and what is said about wrong ones. The wording is the project's own. */
#include "reading.h"

#include <string.h>

static void shipped_dictionary_is_read(void **state)
{
  (void)state;
  struct run run = run_new();
  run_vocabulary(&run);
  const struct vocabulary *v = run.vocabulary;
  assert_int_equal(run.problems.count, 0);
  const struct entry *entry = vocabulary_find(v, SCOPE_TUNE, slice_of("fuel.volumetric_efficiency"));
  assert_non_null(entry);
  assert_int_equal(entry->kind, VALUE_TABLE);
  assert_string_equal(entry->unit->name, "%");
  assert_string_equal(entry->x_unit->name, "rpm");
  assert_true(slice_is(entry->x_channel, "engine_speed"));
  assert_string_equal(entry->y_unit->name, "kPa");
  assert_true(slice_is(entry->y_channel, "manifold_pressure"));
  entry = vocabulary_find(v, SCOPE_TUNE, slice_of("lambda_control.mode"));
  assert_int_equal(entry->kind, VALUE_CHOICE);
  assert_int_equal(entry->choice_count, 2);
  assert_true(slice_is(entry->choices[0], "off"));
  assert_null(entry->unit);
  entry = vocabulary_find(v, SCOPE_JOB, slice_of("timing_light"));
  assert_int_equal(entry->kind, VALUE_RECORDS);
  assert_int_equal(entry->field_count, 3);
  assert_true(slice_is(entry->fields[2].name, "engine_speed"));
  assert_string_equal(entry->fields[2].unit->name, "rpm");
  assert_true(
      slice_is(vocabulary_find(v, SCOPE_TUNE, slice_of("file.based_on"))->about, "the file this one was started from"));
  run_free(&run);
}

static void channels_that_are_switches_are_marked(void **state)
{
  (void)state;
  static const char *const switches[] = {"clutch_switch",
                                         "brake_switch",
                                         "neutral_switch",
                                         "air_conditioning_request",
                                         "air_conditioning_step_active",
                                         "fan_output",
                                         "engine_running",
                                         "fuel_cut",
                                         "spark_cut",
                                         "electrical_load_active"};
  struct run run = run_new();
  run_vocabulary(&run);
  size_t marked = 0;
  for (size_t i = 0; i < run.vocabulary->count[SCOPE_LOG]; i++) {
    const struct entry *entry = &run.vocabulary->entries[SCOPE_LOG][i];
    assert_int_equal(entry->kind, VALUE_SERIES);
    assert_non_null(entry->unit);
    marked += entry->on_off;
  }
  size_t count = sizeof switches / sizeof *switches;
  assert_int_equal(marked, count);
  for (size_t i = 0; i < count; i++)
    assert_true(vocabulary_find(run.vocabulary, SCOPE_LOG, slice_of(switches[i]))->on_off);
  run_free(&run);
}

static bool has_also(const struct vocabulary *v, const char *channel, const char *also)
{
  const struct entry *entry = vocabulary_find(v, SCOPE_LOG, slice_of(channel));
  for (size_t i = 0; entry != NULL && i < entry->also_count; i++) {
    if (slice_is(entry->also[i], also))
      return true;
  }
  return false;
}

/* Abbreviations of SAE J1930 (ECT, IAT, MAP, BARO, TP, VSS) and of SAE J1979's parameter list (RPM, SPARKADV, SHRTFT1,
 * LONGFT1, VPWR). */
static void channels_answer_to_the_abbreviations_of_the_standards(void **state)
{
  (void)state;
  static const char *const pairs[][2] = {
      {"coolant_temperature", "ECT"},
      {"intake_air_temperature", "IAT"},
      {"manifold_pressure", "MAP"},
      {"barometric_pressure", "BARO"},
      {"throttle_position", "TP"},
      {"vehicle_speed", "VSS"},
      {"engine_speed", "RPM"},
      {"spark_advance", "SPARKADV"},
      {"short_term_fuel_trim", "SHRTFT1"},
      {"long_term_fuel_trim", "LONGFT1"},
      {"battery_voltage", "VPWR"},
  };
  struct run run = run_new();
  run_vocabulary(&run);
  for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
    assert_true(has_also(run.vocabulary, pairs[i][0], pairs[i][1]));
  run_free(&run);
}

static void names_are_found_by_bisection(void **state)
{
  (void)state;
  struct run run = run_new();
  run_vocabulary(&run);
  size_t tried = 0;
  for (int scope = 0; scope < SCOPE_COUNT; scope++) {
    for (size_t i = 0; i < run.vocabulary->count[scope]; i++, tried++) {
      const struct entry *entry = &run.vocabulary->entries[scope][i];
      assert_ptr_equal(vocabulary_find(run.vocabulary, (enum scope)scope, entry->name), entry);
      assert_int_equal(vocabulary_index(run.vocabulary, (enum scope)scope, entry), i);
    }
  }
  assert_true(tried > 150);
  run_free(&run);
}

#define TUNE "tune:\n  t: {kind: text}\n"
#define LOG "log:\n  l: {unit: s}\n"
#define JOB "job:\n  j: {kind: switch}\n"

static const struct wrong wrongs[] = {
    {"[1]\n", "1:2 '1' a dictionary holds a map 'tune' of entries | -\n"
              "1:2 '1' a dictionary holds a map 'log' of entries | -\n"
              "1:2 '1' a dictionary holds a map 'job' of entries | -"},
    {TUNE LOG "job: {}\n", "5:6 '{}' a dictionary holds a map 'job' of entries | -"},
    {TUNE LOG JOB "hob: 1\n", "7:1 'hob' a dictionary holds tune, log and job, not 'hob' | -"},
    {LOG JOB "tune:\n  a: number\n", "6:6 'number' an entry is a map of kind, unit and the like | -"},
    {LOG JOB "tune:\n  a: {kind: numbr, unit: s}\n",
     "6:13 'numbr' this is no kind of value | number, switch, choice, text, list, curve, table, pins or records"},
    {LOG JOB "tune:\n  a: {kind: number}\n", "6:3 'a' 'a' needs 'unit' | -"},
    {LOG JOB "tune:\n  a: {kind: text, unit: s}\n", "6:3 'a' 'a' takes no 'unit' | -"},
    {LOG JOB "tune:\n  a: {kind: curve, unit: s}\n", "6:3 'a' 'a' needs 'x' | -"},
    {LOG JOB "tune:\n  a: {kind: table, unit: s, x: {channel: b, unit: s}}\n", "6:3 'a' 'a' needs 'y' | -"},
    {LOG JOB "tune:\n  a: {kind: curve, unit: s, x: {channel: b}}\n",
     "6:33 'channel: b' an axis is written {channel: NAME, unit: UNIT} | -"},
    {LOG JOB "tune:\n  a: {kind: choice}\n", "6:3 'a' 'a' needs 'of' | -"},
    {LOG JOB "tune:\n  a: {kind: choice, of: []}\n", "6:25 '[]' a list of words is expected | -"},
    {LOG JOB "tune:\n  a: {kind: choice, of: [[b]]}\n", "6:27 'b' a word of this list must be a text | -"},
    {LOG JOB "tune:\n  a: {kind: switch, about: [b]}\n", "6:29 'b' 'about' must be a text | -"},
    {LOG JOB "tune:\n  a: {kind: switch, abaut: b}\n",
     "6:21 'abaut' an entry has no 'abaut' | kind, unit, x, y, of, also, range, about"},
    {LOG JOB "tune:\n  a: {kind: number, unit: s, range: [2, 1]}\n",
     "6:38 '2, 1' a range is the lowest and the highest plausible value: [LOWEST, HIGHEST] | -"},
    {LOG JOB "tune:\n  a: {kind: number, unit: s, range: [1, 2x]}\n",
     "6:38 '1, 2x' a range is the lowest and the highest plausible value: [LOWEST, HIGHEST] | -"},
    {LOG JOB "tune:\n  a: {kind: text, range: [1, 2]}\n", "6:3 'a' 'a' takes no 'range': it has no unit | -"},
    {LOG JOB "tune:\n  a: {kind: records, of: {b: s}}\n", "6:13 'records' only a job sheet holds records | -"},
    {TUNE JOB "log:\n  a: {kind: text, unit: s}\n", "6:13 'text' a log channel is a number or a switch | -"},
    {TUNE JOB "log:\n  a: {unit: s, also: [x y]}\n  b: {unit: s, also: [X_Y]}\n",
     "7:3 'b' 'X_Y' names two things: 'a' and 'b' | -"},
    {TUNE JOB "log:\n  a_b: {unit: s}\n  c: {unit: s, also: [A.B]}\n",
     "7:3 'c' 'A.B' names two things: 'a_b' and 'c' | -"},
    {TUNE JOB "log:\n  a: {unit: s}\n  a: {unit: s}\n",
     "7:3 'a' 'a' is here a second time | the first one is in line 6"},
};

static void wrong_dictionaries_say_why(void **state)
{
  (void)state;
  size_t count = sizeof wrongs / sizeof *wrongs;
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    assert_null(vocabulary_read(run.arena, run_source(&run, slice_of(wrongs[i].bytes)), &run.problems));
    assert_string_equal(run_said(&run), wrongs[i].said);
    run_free(&run);
  }
}

/* The words about units are the units' own: only the place is checked. */
static void unknown_units_have_a_place(void **state)
{
  (void)state;
  struct run run = run_new();
  const char *bytes = TUNE JOB "log:\n  a: {unit: furlogs}\n";
  assert_null(vocabulary_read(run.arena, run_source(&run, slice_of(bytes)), &run.problems));
  assert_int_equal(run.problems.count, 1);
  assert_memory_equal(run_said(&run), "6:13 'furlogs' ", 15);
  run_free(&run);
}

/* 212 degF and 32 degF are 373.15 K and 273.15 K, by the definition of the units (NIST SP 811, B.8). */
static void ranges_are_in_base_units(void **state)
{
  (void)state;
  struct run run = run_new();
  const char *bytes = TUNE JOB "log:\n  a: {range: [32, 212], unit: degF}\n  b: {unit: s}\n";
  const struct vocabulary *vocabulary = vocabulary_read(run.arena, run_source(&run, slice_of(bytes)), &run.problems);
  assert_non_null(vocabulary);
  const struct entry *entry = vocabulary_find(vocabulary, SCOPE_LOG, slice_of("a"));
  assert_true(entry->has_range);
  assert_float_equal(entry->range_low, 273.15, 1e-9);
  assert_float_equal(entry->range_high, 373.15, 1e-9);
  assert_false(vocabulary_find(vocabulary, SCOPE_LOG, slice_of("b"))->has_range);
  run_free(&run);
}

static void names_may_differ_by_a_separator_alone(void **state)
{
  (void)state;
  struct run run = run_new();
  const char *bytes = TUNE LOG "job:\n  fuel.pressure: {kind: text}\n  fuel_pressure: {kind: text}\n";
  assert_non_null(vocabulary_read(run.arena, run_source(&run, slice_of(bytes)), &run.problems));
  run_free(&run);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(shipped_dictionary_is_read),
      cmocka_unit_test(channels_that_are_switches_are_marked),
      cmocka_unit_test(channels_answer_to_the_abbreviations_of_the_standards),
      cmocka_unit_test(names_are_found_by_bisection),
      cmocka_unit_test(wrong_dictionaries_say_why),
      cmocka_unit_test(unknown_units_have_a_place),
      cmocka_unit_test(ranges_are_in_base_units),
      cmocka_unit_test(names_may_differ_by_a_separator_alone),
  };
  return cmocka_run_group_tests_name("read/vocabulary", tests, NULL, NULL);
}
