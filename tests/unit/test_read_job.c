/* read/job.h: facts, readings, hand checks and limits with their places, what counts as not known, and what is said
 * about wrong sheets. Conversions are exact definitions: 1 deg = pi/180 rad, 0 degC = 273.15 K (SI brochure, 9th
 * edition). The wording is the project's own. */
#include "read/job.h"
#include "reading.h"

#include <string.h>

#define PI 3.14159265358979323846
#define HEAD "keyway-job: 1\n"

struct good {
  struct run run;
  const struct job *job;
  const char *bytes;
};

static struct good read_bytes(const char *bytes)
{
  struct good good = {.run = run_new(), .bytes = bytes};
  run_vocabulary(&good.run);
  const struct source *source = run_source(&good.run, slice_of(bytes));
  good.job = job_read(good.run.arena, good.run.vocabulary, source, &good.run.problems);
  if (good.job == NULL)
    fail_msg("%s", run_said(&good.run));
  assert_ptr_equal(good.job->source, source);
  return good;
}

static const struct value *value_of(const struct good *good, const char *name)
{
  const struct vocabulary *v = good->run.vocabulary;
  const struct entry *entry = vocabulary_find(v, SCOPE_JOB, slice_of(name));
  assert_non_null(entry);
  return good->job->values[vocabulary_index(v, SCOPE_JOB, entry)];
}

static void assert_near(double a, double b)
{
  double scale = b < 0 ? -b : b;
  assert_true(a - b <= 1e-12 * (scale + 1) && b - a <= 1e-12 * (scale + 1));
}

static void assert_spans(const struct good *good, struct place place, const char *marked)
{
  assert_int_equal(place.end - place.start, strlen(marked));
  assert_memory_equal(good->bytes + place.start, marked, strlen(marked));
}

static void title_stage_facts(void **state)
{
  (void)state;
  struct good good = read_bytes(HEAD "title: Sandpiper, spring rebuild\nstage: delivery\n"
                                     "facts: {engine.cylinders: 4, engine.displacement: 1998 cm3,\n"
                                     "  idle.valve_sense: opens_with_duty, fuel.pressure_referenced: yes,\n"
                                     "  engine.firing_order: [1, 3, 4, 2], fuel.name: pump fuel, inputs: {a: IN3}}\n");
  assert_true(slice_is(good.job->title, "Sandpiper, spring rebuild"));
  assert_true(good.job->has_stage);
  assert_int_equal(good.job->stage, STAGE_DELIVERY);
  const struct value *value = value_of(&good, "engine.displacement");
  assert_near(value->as.number.value, 0.001998);
  assert_string_equal(value->as.number.unit->name, "cm3");
  assert_spans(&good, value->place, "1998 cm3");
  assert_true(slice_is(value_of(&good, "idle.valve_sense")->as.text, "opens_with_duty"));
  assert_true(value_of(&good, "fuel.pressure_referenced")->as.on);
  assert_int_equal(value_of(&good, "engine.firing_order")->as.list.count, 4);
  assert_true(slice_is(value_of(&good, "fuel.name")->as.text, "pump fuel"));
  assert_int_equal(value_of(&good, "inputs")->as.pins.count, 1);
  assert_null(value_of(&good, "outputs"));
  assert_null(value_of(&good, "timing_light"));
  run_free(&good.run);
}

static void what_is_not_known_stays_empty(void **state)
{
  (void)state;
  struct good good =
      read_bytes(HEAD "title:\nstage: \nfacts:\n  engine.cylinders: unknown\n  engine.displacement: '?'\n"
                      "  engine.compression_ratio:\n  fuel.name: Unknown\n  fuel.density: ''\n"
                      "  idle.valve_sense: ~\n  inputs: {a: unknown, b: IN2}\n  outputs: {a: , b: \"?\"}\n"
                      "  engine.firing_order: []\n"
                      "readings:\n  timing_light:\n  battery: unknown\n  coolant: []\n"
                      "  lambda_gauge:\n    - {logged: , gauge: unknown}\n    -\n"
                      "  throttle_sensor:\n    - {opening: '?', voltage: 1}\n    - {}\n"
                      "hand_checks:\n  coolant level:\nlimits:\n");
  assert_int_equal(good.job->title.size, 0);
  assert_false(good.job->has_stage);
  static const char *const names[] = {"engine.cylinders",
                                      "engine.displacement",
                                      "engine.compression_ratio",
                                      "fuel.name",
                                      "fuel.density",
                                      "idle.valve_sense",
                                      "outputs",
                                      "engine.firing_order",
                                      "timing_light",
                                      "battery",
                                      "coolant",
                                      "lambda_gauge"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++)
    assert_null(value_of(&good, names[i]));
  assert_int_equal(value_of(&good, "inputs")->as.pins.count, 1);
  const struct records *records = &value_of(&good, "throttle_sensor")->as.records;
  assert_int_equal(records->count, 1);
  assert_false(records->items[0].has[0]);
  assert_true(records->items[0].has[1]);
  assert_int_equal(good.job->check_count, 1);
  assert_int_equal(good.job->checks[0].state.size, 0);
  assert_int_equal(good.job->limit_count, 0);
  run_free(&good.run);
}

static void readings_are_records(void **state)
{
  (void)state;
  struct good good = read_bytes(HEAD "readings:\n  timing_light:\n"
                                     "    - {commanded: 10 deg, measured: 12, engine_speed: 950 rpm}\n"
                                     "    - {measured: 13 deg}\n"
                                     "  coolant: {measured: 176 degF, logged: 80}\n");
  const struct value *value = value_of(&good, "timing_light");
  assert_int_equal(value->kind, VALUE_RECORDS);
  const struct records *records = &value->as.records;
  assert_int_equal(records->field_count, 3);
  assert_true(slice_is(records->fields[1].name, "measured"));
  assert_int_equal(records->count, 2);
  assert_near(records->items[0].fields[0].value, 10 * PI / 180);
  assert_near(records->items[0].fields[1].value, 12 * PI / 180);
  assert_near(records->items[0].fields[2].value, 950 * PI / 30);
  assert_spans(&good, records->items[0].places[2], "950 rpm");
  assert_spans(&good, records->items[0].place, "commanded: 10 deg, measured: 12, engine_speed: 950 rpm");
  assert_false(records->items[1].has[0]);
  assert_true(records->items[1].has[1]);
  assert_false(records->items[1].has[2]);
  assert_non_null(records->items[1].fields[0].unit);
  records = &value_of(&good, "coolant")->as.records;
  assert_int_equal(records->count, 1);
  assert_near(records->items[0].fields[0].value, 353.15);
  assert_string_equal(records->items[0].fields[0].unit->name, "degF");
  run_free(&good.run);
}

static void checks_and_limits(void **state)
{
  (void)state;
  struct good good = read_bytes(HEAD "hand_checks:\n  coolant level: done\n"
                                     "  fuel leaks: {done: 2026-03-02, by: initials}\n  belts: to be replaced\n"
                                     "limits:\n  warm_up_end: {value: 80 degC, reason: thermostat opens at 82}\n"
                                     "  idle_step: 5 %\n  count: 3\n  odd: {value: 4 deg/kPa, reason: }\n");
  assert_int_equal(good.job->check_count, 3);
  const struct hand_check *checks = good.job->checks;
  assert_true(slice_is(checks[0].what, "coolant level"));
  assert_true(slice_is(checks[0].state, "done"));
  assert_int_equal(checks[0].by.size, 0);
  assert_spans(&good, checks[0].place, "coolant level");
  assert_true(slice_is(checks[1].state, "2026-03-02"));
  assert_true(slice_is(checks[1].by, "initials"));
  assert_true(slice_is(checks[2].state, "to be replaced"));
  assert_int_equal(good.job->limit_count, 4);
  const struct job_limit *limits = good.job->limits;
  assert_true(slice_is(limits[0].name, "warm_up_end"));
  assert_near(limits[0].value.value, 353.15);
  assert_true(slice_is(limits[0].reason, "thermostat opens at 82"));
  assert_spans(&good, limits[0].place, "80 degC");
  assert_near(limits[1].value.value, 0.05);
  assert_int_equal(limits[1].reason.size, 0);
  assert_near(limits[2].value.value, 3);
  assert_string_equal(limits[2].value.unit->name, "1");
  assert_near(limits[3].value.value, 4 * PI / 180 / 1000);
  run_free(&good.run);
}

static void fragments_need_no_first_line(void **state)
{
  (void)state;
  struct run run = run_new();
  run_vocabulary(&run);
  const struct source *source = run_source(&run, slice_of("facts: {engine.cylinders: 4}\n"));
  const struct node *map = yaml_read(run.arena, source, &run.problems);
  assert_non_null(job_from_node(run.arena, run.vocabulary, source, map, &run.problems));
  const struct job *job = job_from_node(run.arena, run.vocabulary, source, NULL, &run.problems);
  assert_non_null(job);
  assert_false(job->has_stage);
  assert_int_equal(run.problems.count, 0);
  source = run_source(&run, slice_of("[facts]\n"));
  map = yaml_read(run.arena, source, &run.problems);
  assert_null(job_from_node(run.arena, run.vocabulary, source, map, &run.problems));
  assert_string_equal(run_said(&run), "1:2 'facts' a job sheet is a map from name to value, not a list | -");
  run_free(&run);
}

static const struct wrong wrongs[] = {
    {"facts: {engine.cylinders: 4}\n", "1:1 'facts' a job sheet starts with 'keyway-job: 1' | -"},
    {"keyway-settings: 1\n",
     "1:1 'keyway-settings' a job sheet starts with 'keyway-job: 1' | this file says that it is a "
     "settings file"},
    {"keyway-job: one\n", "1:13 'one' this program reads 'keyway-job: 1' and no other version | -"},
    {"title: x\nkeyway-job: 1\n", "2:1 'keyway-job' 'keyway-job' must be the first name of the file | -"},
    {HEAD "titel: x\n", "2:1 'titel' a job sheet has no 'titel' | did you mean 'title'?"},
    {HEAD "xyzzy: x\n",
     "2:1 'xyzzy' a job sheet has no 'xyzzy' | it takes title, stage, facts, readings, hand_checks, limits"},
    {HEAD "title: [x]\n", "2:9 'x' 'title' takes a text, not a list | -"},
    {HEAD "stage: deliver\n", "2:8 'deliver' 'stage' takes one of look, dyno, delivery, not 'deliver' | -"},
    {HEAD "stage: [look]\n", "2:9 'look' 'stage' takes one of look, dyno, delivery, not a list | -"},
    {HEAD "engine.cylinders: 4\n",
     "2:1 'engine.cylinders' 'engine.cylinders' does not stand on its own | it belongs under 'facts'"},
    {HEAD "timing_light: []\n",
     "2:1 'timing_light' 'timing_light' does not stand on its own | it belongs under 'readings'"},
    {HEAD "launch.enabled: on\n", "2:1 'launch.enabled' a job sheet has no 'launch.enabled' | 'launch.enabled' is a "
                                  "setting: it belongs in the settings file"},
    /* facts */
    {HEAD "facts: [4]\n", "2:9 '4' 'facts' takes a map from name to value, not a list | -"},
    {HEAD "facts: {engine.cylinder: 4}\n",
     "2:9 'engine.cylinder' no fact is called 'engine.cylinder' | did you mean 'engine.cylinders'?"},
    {HEAD "facts: {timing_light: 4}\n",
     "2:9 'timing_light' no fact is called 'timing_light' | 'timing_light' belongs under 'readings'"},
    {HEAD "facts: {timing_lihgt: 4}\n",
     "2:9 'timing_lihgt' no fact is called 'timing_lihgt' | 'timing_light' is one, under 'readings'"},
    {HEAD "facts: {fuel.load_source: alpha_n}\n", "2:9 'fuel.load_source' no fact is called 'fuel.load_source' | "
                                                  "'fuel.load_source' is a setting: it belongs in the settings file"},
    {HEAD "facts: {engine.displacement: 1998 kPa}\n",
     "2:30 '1998 kPa' '1998 kPa' is pressure, but 'engine.displacement' is volume (in L) | -"},
    {HEAD "facts: {engine.cylinders: [4]}\n", "2:28 '4' 'engine.cylinders' takes a number, not a list | -"},
    {HEAD "facts: {engine.cylinders: ?}\n",
     "2:27 '?' a value is missing here | write the word unknown, or '?' in quotes"},
    {HEAD "facts: {engine.firing_order: [1, unknown]}\n",
     "2:34 'unknown' 'engine.firing_order' takes a number, not 'unknown' | -"},
    {HEAD "facts: {inputs: {a: {b: c}}}\n", "2:22 'b: c' 'a' takes a pin, or a list of pins, not a map | -"},
    /* readings */
    {HEAD "readings: 5\n", "2:11 '5' 'readings' takes a map from name to a list of records, not a text | -"},
    {HEAD "readings: {bat: 5}\n", "2:12 'bat' no reading is called 'bat' | -"},
    {HEAD "readings: {batery: []}\n", "2:12 'batery' no reading is called 'batery' | did you mean 'battery'?"},
    {HEAD "readings: {engine.cylinders: 4}\n", "2:12 'engine.cylinders' no reading is called 'engine.cylinders' | "
                                               "'engine.cylinders' belongs under 'facts'"},
    {HEAD "readings: {battery: 12}\n", "2:21 '12' 'battery' takes a list of records, not a text | -"},
    {HEAD "readings: {battery: [12, [1]]}\n",
     "2:22 '12' 'battery' takes records, each a map from field to value, not a text | -\n"
     "2:27 '1' 'battery' takes records, each a map from field to value, not a list | -"},
    {HEAD "readings: {battery: [{volts: 12, speed: 5, voltage: 3 rpm, logged: [1]}]}\n",
     "2:23 'volts' a record of 'battery' has no 'volts' | did you mean 'voltage'?\n"
     "2:34 'speed' a record of 'battery' has no 'speed' | it takes engine_speed, voltage, logged\n"
     "2:53 '3 rpm' '3 rpm' is speed of rotation, but 'voltage' is voltage (in V) | -\n"
     "2:69 '1' 'logged' takes a number, not a list | -"},
    {HEAD "readings: {battery: [{voltag: 12}]}\n",
     "2:23 'voltag' a record of 'battery' has no 'voltag' | did you mean 'voltage'?"},
    {HEAD "readings: {battery: [{voltage: 12, voltage: 13}]}\n",
     "2:36 'voltage' 'voltage' is here a second time | the first one is in line 2"},
    /* hand checks and limits */
    {HEAD "hand_checks: [coolant level]\n",
     "2:15 'coolant level' 'hand_checks' takes a map from check to 'done', not a list | -"},
    {HEAD "hand_checks: {coolant: [done], leaks: {doen: 5, by: [x]}}\n",
     "2:25 'done' 'coolant' takes a text, not a list | -\n"
     "2:40 'doen' a hand check has no 'doen' | did you mean 'done'?\n"
     "2:54 'x' 'by' takes a text, not a list | -"},
    {HEAD "limits: 5\n", "2:9 '5' 'limits' takes a map from limit to its value, not a text | -"},
    {HEAD "limits: {a: , b: [1], c: high, d: {reason: x}, e: {value: 1e999}, f: {valu: 1, value: {}}}\n",
     "2:13 ',' 'a' has no value | give it a number, or take the line out\n"
     "2:19 '1' 'b' takes a number, not a list | -\n"
     "2:26 'high' 'c' takes a number, not 'high' | -\n"
     "2:36 'reason: x' 'd' has no 'value' | -\n"
     "2:59 '1e999' '1e999' is too large for a number | -\n"
     "2:71 'valu' a limit has no 'valu' | did you mean 'value'?\n"
     "2:87 '{}' 'f' takes a number, not a map | -"},
    /* several sections at once, characters of several bytes before the place, CRLF */
    {"\xef\xbb\xbf" HEAD "title: \xc3\xa4\r\nfacts: {\xc3\xa4: 1}\r\nhand_checks: {\"\xe2\x82\xac\": [1]}\r\n",
     "3:9 '\xc3\xa4' no fact is called '\xc3\xa4' | -\n"
     "4:21 '1' '\xe2\x82\xac' takes a text, not a list | -"},
};

static void wrong_sheets_say_why(void **state)
{
  (void)state;
  size_t count = sizeof wrongs / sizeof *wrongs;
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    run_vocabulary(&run);
    assert_null(job_read(run.arena, run.vocabulary, run_source(&run, slice_of(wrongs[i].bytes)), &run.problems));
    assert_string_equal(run_said(&run), wrongs[i].said);
    run_free(&run);
  }
}

static void records_are_limited(void **state)
{
  (void)state;
  for (size_t count = LIMIT_ITEMS; count <= LIMIT_ITEMS + 1; count++) {
    struct run run = run_new();
    run_vocabulary(&run);
    static const char record[] = "{measured: 1},";
    size_t size = sizeof record - 1;
    char *list = arena_alloc(run.arena, count * size + 1);
    for (size_t i = 0; i < count; i++)
      memcpy(list + i * size, record, size);
    const char *bytes = arena_print(run.arena, HEAD "readings: {coolant: [%s]}\n", list);
    bool read = job_read(run.arena, run.vocabulary, run_source(&run, slice_of(bytes)), &run.problems) != NULL;
    assert_int_equal(read, count == LIMIT_ITEMS);
    assert_int_equal(run.problems.count, count == LIMIT_ITEMS ? 0 : 1);
    run_free(&run);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(title_stage_facts),
      cmocka_unit_test(what_is_not_known_stays_empty),
      cmocka_unit_test(readings_are_records),
      cmocka_unit_test(checks_and_limits),
      cmocka_unit_test(fragments_need_no_first_line),
      cmocka_unit_test(wrong_sheets_say_why),
      cmocka_unit_test(records_are_limited),
  };
  return cmocka_run_group_tests_name("read/job", tests, NULL, NULL);
}
