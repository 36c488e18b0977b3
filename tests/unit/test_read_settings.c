/* read/settings.h: values of each kind with their places, and what is said about wrong files. Conversions are exact
 * definitions: 1 deg = pi/180 rad, 0 degC = 273.15 K (SI brochure, 9th edition), 1 rpm = pi/30 rad/s, 1 psi =
 * 6894.757293168 Pa (GNU units). The wording is the project's own. */
#include "read/settings.h"
#include "reading.h"

#include <string.h>

#define PI 3.14159265358979323846
#define HEAD "keyway-settings: 1\n"

struct good {
  struct run run;
  const struct settings *settings;
  const char *bytes;
};

static struct good read_bytes(const char *bytes)
{
  struct good good = {.run = run_new(), .bytes = bytes};
  run_vocabulary(&good.run);
  const struct source *source = run_source(&good.run, slice_of(bytes));
  good.settings = settings_read(good.run.arena, good.run.vocabulary, source, &good.run.problems);
  if (good.settings == NULL)
    fail_msg("%s", run_said(&good.run));
  assert_ptr_equal(good.settings->source, source);
  return good;
}

static const struct value *value_of(const struct good *good, const char *name)
{
  const struct vocabulary *v = good->run.vocabulary;
  const struct entry *entry = vocabulary_find(v, SCOPE_TUNE, slice_of(name));
  assert_non_null(entry);
  return good->settings->values[vocabulary_index(v, SCOPE_TUNE, entry)];
}

static void assert_near(double a, double b)
{
  double scale = b < 0 ? -b : b;
  assert_true(a - b <= 1e-12 * (scale + 1) && b - a <= 1e-12 * (scale + 1));
}

static void assert_spans(const struct good *good, struct place place, const char *marked)
{
  assert_int_equal(place.source, good->settings->source->id);
  assert_int_equal(place.end - place.start, strlen(marked));
  assert_memory_equal(good->bytes + place.start, marked, strlen(marked));
}

static void numbers_take_their_unit_or_the_dictionarys(void **state)
{
  (void)state;
  struct good good = read_bytes(HEAD "ignition.fixed_advance: 10 deg\nignition.advance_limit: 40\n"
                                     "protection.coolant_limit: 212 degF\nidle.duty_minimum: '15%'\n"
                                     "protection.boost_cut_pressure: \" 20psi \"\nengine.cylinders: 4\n"
                                     "ignition.trigger_offset: -4.5e-1\n");
  const struct value *value = value_of(&good, "ignition.fixed_advance");
  assert_int_equal(value->kind, VALUE_NUMBER);
  assert_near(value->as.number.value, 10 * PI / 180);
  assert_string_equal(value->as.number.unit->name, "deg");
  assert_spans(&good, value->place, "10 deg");
  value = value_of(&good, "ignition.advance_limit");
  assert_near(value->as.number.value, 40 * PI / 180);
  assert_string_equal(value->as.number.unit->name, "deg");
  value = value_of(&good, "protection.coolant_limit");
  assert_near(value->as.number.value, 373.15);
  assert_string_equal(value->as.number.unit->name, "degF");
  value = value_of(&good, "idle.duty_minimum");
  assert_near(value->as.number.value, 0.15);
  assert_spans(&good, value->place, "'15%'");
  value = value_of(&good, "protection.boost_cut_pressure");
  assert_near(value->as.number.value, 20 * 6894.757293168361);
  assert_near(value_of(&good, "engine.cylinders")->as.number.value, 4);
  assert_near(value_of(&good, "ignition.trigger_offset")->as.number.value, -0.45 * PI / 180);
  assert_null(value_of(&good, "engine.displacement"));
  run_free(&good.run);
}

static void switches_choices_texts(void **state)
{
  (void)state;
  struct good good = read_bytes(HEAD "fuel.overrun_cut: on\nfuel.ethanol_sensor: 'No'\nlaunch.enabled: TRUE\n"
                                     "protection.boost_cut: false\nlambda_control.mode: off\n"
                                     "ignition.timing_mode: Table\nignition.coil_layout: wasted spark\n"
                                     "file.title: 7\nfile.revision: \"\"\nfile.based_on: \"a\\u00e4: b\"\n");
  assert_int_equal(value_of(&good, "fuel.overrun_cut")->kind, VALUE_SWITCH);
  assert_true(value_of(&good, "fuel.overrun_cut")->as.on);
  assert_false(value_of(&good, "fuel.ethanol_sensor")->as.on);
  assert_true(value_of(&good, "launch.enabled")->as.on);
  assert_false(value_of(&good, "protection.boost_cut")->as.on);
  assert_int_equal(value_of(&good, "lambda_control.mode")->kind, VALUE_CHOICE);
  assert_true(slice_is(value_of(&good, "lambda_control.mode")->as.text, "off"));
  assert_true(slice_is(value_of(&good, "ignition.timing_mode")->as.text, "table"));
  assert_true(slice_is(value_of(&good, "ignition.coil_layout")->as.text, "wasted_spark"));
  assert_int_equal(value_of(&good, "file.title")->kind, VALUE_TEXT);
  assert_true(slice_is(value_of(&good, "file.title")->as.text, "7"));
  assert_int_equal(value_of(&good, "file.revision")->as.text.size, 0);
  assert_true(slice_is(value_of(&good, "file.based_on")->as.text, "a\xc3\xa4: b"));
  run_free(&good.run);
}

static void lists_and_pins(void **state)
{
  (void)state;
  struct good good = read_bytes(HEAD "engine.firing_order: [1, 3, '4', 2]\ninjector.disabled: []\n"
                                     "inputs: {clutch_switch: IN3, \"brake switch\": 7}\n"
                                     "outputs: {injectors: [INJ1, INJ2], fan: OUT4}\n");
  const struct value *value = value_of(&good, "engine.firing_order");
  assert_int_equal(value->as.list.count, 4);
  assert_near(value->as.list.items[2], 4);
  assert_spans(&good, value->as.list.places[2], "'4'");
  assert_string_equal(value->as.list.unit->name, "1");
  assert_int_equal(value_of(&good, "injector.disabled")->as.list.count, 0);
  value = value_of(&good, "inputs");
  assert_int_equal(value->as.pins.count, 2);
  assert_true(slice_is(value->as.pins.items[0].function, "clutch_switch"));
  assert_true(slice_is(value->as.pins.items[1].function, "brake switch"));
  assert_true(slice_is(value->as.pins.items[1].pin, "7"));
  assert_spans(&good, value->as.pins.items[0].place, "IN3");
  value = value_of(&good, "outputs");
  assert_int_equal(value->as.pins.count, 3);
  assert_true(slice_is(value->as.pins.items[1].function, "injectors"));
  assert_true(slice_is(value->as.pins.items[1].pin, "INJ2"));
  run_free(&good.run);
}

static void curves_in_both_forms(void **state)
{
  (void)state;
  struct good good =
      read_bytes(HEAD "fuel.warm_up_enrichment:\n  x: {unit: degF, at: [-4, 32, 167]}\n"
                      "  value: {unit: \"%\", at: [160, 145, 100]}\n"
                      "fuel.prime_pulse: {x: [0, 20], value: [1500 us, 1]}\n"
                      "idle.valve_duty: {x: {at: [80, 20, 20]}, value: [1, 2, 3]}\n"
                      "ignition.dwell: {x: {unit: mV, at: [8 V, 14000]}, value: {at: [4 ms, 2500 us]}}\n");
  const struct curve *curve = &value_of(&good, "fuel.warm_up_enrichment")->as.curve;
  assert_int_equal(curve->x.count, 3);
  assert_true(curve->x.increasing);
  assert_string_equal(curve->x.unit->name, "degF");
  assert_near(curve->x.at[0], 253.15);
  assert_near(curve->x.at[2], 348.15);
  assert_near(curve->value[0], 1.6);
  assert_spans(&good, curve->x.place[2], "167");
  assert_spans(&good, curve->place[1], "145");
  assert_spans(&good, value_of(&good, "fuel.warm_up_enrichment")->place,
               "x: {unit: degF, at: [-4, 32, 167]}\n  value: {unit: \"%\", at: [160, 145, 100");
  curve = &value_of(&good, "fuel.prime_pulse")->as.curve;
  assert_string_equal(curve->x.unit->name, "degC");
  assert_string_equal(curve->unit->name, "us");
  assert_near(curve->value[0], 0.0015);
  assert_near(curve->value[1], 0.001);
  assert_spans(&good, curve->place[0], "1500 us");
  assert_false(value_of(&good, "idle.valve_duty")->as.curve.x.increasing);
  curve = &value_of(&good, "ignition.dwell")->as.curve;
  assert_string_equal(curve->x.unit->name, "mV");
  assert_near(curve->x.at[0], 8);
  assert_near(curve->x.at[1], 14);
  assert_string_equal(curve->unit->name, "ms");
  assert_near(curve->value[1], 0.0025);
  run_free(&good.run);
}

static void tables_in_both_forms(void **state)
{
  (void)state;
  struct good good = read_bytes(
      HEAD "ignition.spark_advance:\n  x: {unit: rpm, at: [800, 1500, 3000]}\n  y: {unit: kPa, at: [30, 60]}\n"
           "  value:\n    unit: deg\n    rows:\n      - [18, 26, 36]\n      - [16, 24, \"0.5 rad\"]\r\n"
           "fuel.lambda_target: {x: [1000], y: [100], value: [[0.9]]}\n"
           "boost.target: {x: [1000, 2000], y: [10, 20 %], value: {rows: [[20 psi, 100], [1, 2]]}}\n");
  const struct table *table = &value_of(&good, "ignition.spark_advance")->as.table;
  assert_int_equal(table->x.count, 3);
  assert_int_equal(table->y.count, 2);
  assert_true(table->x.increasing && table->y.increasing);
  assert_near(table->x.at[1], 1500 * PI / 30);
  assert_near(table->y.at[1], 60000);
  assert_near(table->value[3 + 1], 24 * PI / 180);
  assert_near(table->value[3 + 2], 0.5);
  assert_spans(&good, table->place[2], "36");
  assert_spans(&good, table->place[3 + 2], "\"0.5 rad\"");
  assert_string_equal(table->unit->name, "deg");
  assert_near(value_of(&good, "fuel.lambda_target")->as.table.value[0], 0.9);
  table = &value_of(&good, "boost.target")->as.table;
  assert_string_equal(table->unit->name, "psi");
  assert_near(table->value[0], 20 * 6894.757293168361);
  assert_near(table->value[1], 100000);
  run_free(&good.run);
}

/* The same file with a BOM and CRLF line ends: same values, places after the BOM. */
static void bom_and_crlf(void **state)
{
  (void)state;
  struct good good = read_bytes("\xef\xbb\xbf" HEAD "file.title: \xc3\xa4\xe2\x82\xac\r\nengine.cylinders: 6\r\n"
                                "fuel.lambda_target:\r\n  x: [1000]\r\n  y: [100]\r\n  value:\r\n    - [0.9]\r\n");
  assert_true(slice_is(value_of(&good, "file.title")->as.text, "\xc3\xa4\xe2\x82\xac"));
  assert_spans(&good, value_of(&good, "engine.cylinders")->place, "6");
  assert_spans(&good, value_of(&good, "fuel.lambda_target")->as.table.place[0], "0.9");
  run_free(&good.run);
}

static void fragments_need_no_first_line(void **state)
{
  (void)state;
  struct run run = run_new();
  run_vocabulary(&run);
  const struct source *source = run_source(&run, slice_of("engine.cylinders: 4\n"));
  const struct node *map = yaml_read(run.arena, source, &run.problems);
  const struct settings *settings = settings_from_node(run.arena, run.vocabulary, source, map, &run.problems);
  assert_non_null(settings);
  settings = settings_from_node(run.arena, run.vocabulary, source, NULL, &run.problems);
  assert_non_null(settings);
  for (size_t i = 0; i < run.vocabulary->count[SCOPE_TUNE]; i++)
    assert_null(settings->values[i]);
  assert_null(settings_from_node(run.arena, run.vocabulary, source, &map->pairs[0].value, &run.problems));
  assert_string_equal(run_said(&run), "1:19 '4' settings are a map from name to value, not a text | -");
  source = run_source(&run, slice_of(HEAD));
  map = yaml_read(run.arena, source, &run.problems);
  assert_null(settings_from_node(run.arena, run.vocabulary, source, map, &run.problems));
  run_free(&run);
}

static const struct wrong wrongs[] = {
    /* the first line */
    {"engine.cylinders: 4\n", "1:1 'engine.cylinders' a settings file starts with 'keyway-settings: 1' | -"},
    {"keyway-job: 1\nfacts: {}\n", "1:1 'keyway-job' a settings file starts with 'keyway-settings: 1' | this file says "
                                   "that it is a job sheet"},
    {"- 1\n", "1:3 '1' a settings file starts with 'keyway-settings: 1' | -"},
    {"hello\n", "1:1 'hello' a settings file starts with 'keyway-settings: 1' | -"},
    {"keyway-settings: 2\nfoo: 1\n", "1:18 '2' this program reads 'keyway-settings: 1' and no other version | -"},
    {"keyway-settings:\n", "1:17 '' this program reads 'keyway-settings: 1' and no other version | -"},
    {"engine.cylinders: 4\n" HEAD, "2:1 'keyway-settings' 'keyway-settings' must be the first name of the file | -"},
    {"engine.cylinders: x\n", "1:1 'engine.cylinders' a settings file starts with 'keyway-settings: 1' | -\n"
                              "1:19 'x' 'engine.cylinders' takes a number, not 'x' | -"},
    /* names */
    {HEAD "engine.cylnders: 4\n",
     "2:1 'engine.cylnders' no setting is called 'engine.cylnders' | did you mean 'engine.cylinders'?"},
    {HEAD "engine.compression_ratio: 10\n",
     "2:1 'engine.compression_ratio' no setting is called "
     "'engine.compression_ratio' | 'engine.compression_ratio' belongs in the job "
     "sheet"},
    {HEAD "throttle_position: 10\n", "2:1 'throttle_position' no setting is called 'throttle_position' | "
                                     "'throttle_position' is a channel of data logs"},
    {HEAD "xyzzy: 1\n", "2:1 'xyzzy' no setting is called 'xyzzy' | -"},
    {HEAD "launch.enabled: on\nlaunch.enabled: off\n",
     "3:1 'launch.enabled' 'launch.enabled' is here a second time | the first one is in line 2"},
    /* numbers */
    {HEAD "engine.cylinders:\n", "2:18 '' 'engine.cylinders' has no value | give it a number, or take the line out"},
    {HEAD "engine.cylinders: ~\n", "2:19 '~' 'engine.cylinders' has no value | give it a number, or take the line out"},
    {HEAD "engine.cylinders: four\n", "2:19 'four' 'engine.cylinders' takes a number, not 'four' | -"},
    {HEAD "ignition.fixed_advance: high\n",
     "2:25 'high' 'ignition.fixed_advance' takes a number, not 'high' | for instance "
     "10, or '10 deg' with its unit"},
    {HEAD "engine.cylinders: ''\n", "2:19 '''' 'engine.cylinders' takes a number, not '' | -"},
    {HEAD "engine.cylinders: [4]\n", "2:20 '4' 'engine.cylinders' takes a number, not a list | -"},
    {HEAD "engine.cylinders: {value: 4}\n", "2:20 'value: 4' 'engine.cylinders' takes a number, not a map | -"},
    {HEAD "engine.cylinders: .inf\n", "2:19 '.inf' '.inf' is not a finite number | -"},
    {HEAD "engine.cylinders: -.INF\n", "2:19 '-.INF' '-.INF' is not a finite number | -"},
    {HEAD "engine.cylinders: NaN\n", "2:19 'NaN' 'NaN' is not a finite number | -"},
    {HEAD "engine.cylinders: 1e999\n", "2:19 '1e999' '1e999' is too large for a number | -"},
    {HEAD "boost.duty_maximum: 1e999 %\n", "2:21 '1e999 %' '1e999 %' is too large for a number | -"},
    {HEAD "protection.boost_cut_pressure: 1e307\n", "2:32 '1e307' '1e307' is too large for a number | -"},
    {HEAD "injector.flow_rate: 3,5\n", "2:21 '3,5' '3,5' is not a number | decimals are written with a point: 3.5"},
    {HEAD "ignition.fixed_advance: 10 kPa\n",
     "2:25 '10 kPa' '10 kPa' is pressure, but 'ignition.fixed_advance' is angle (in deg) | -"},
    /* switches and choices */
    {HEAD "launch.enabled: 1\n",
     "2:17 '1' 'launch.enabled' is on or off, not '1' | yes, no, true and false are understood too"},
    {HEAD "launch.enabled: [on]\n", "2:18 'on' 'launch.enabled' takes on or off, not a list | -"},
    {HEAD "launch.enabled: null\n",
     "2:17 'null' 'launch.enabled' has no value | give it on or off, or take the line out"},
    {HEAD "ignition.trigger_edge: risign\n", "2:24 'risign' 'ignition.trigger_edge' takes one of rising, falling, not "
                                             "'risign' | did you mean 'rising'?"},
    {HEAD "ignition.trigger_edge: 5\n", "2:24 '5' 'ignition.trigger_edge' takes one of rising, falling, not '5' | -"},
    {HEAD "ignition.trigger_edge: {}\n",
     "2:24 '{}' 'ignition.trigger_edge' takes one of rising, falling, not a map | -"},
    {HEAD "ignition.trigger_edge:\n",
     "2:23 '' 'ignition.trigger_edge' has no value | give it one of rising, falling, or "
     "take the line out"},
    {HEAD "file.title: [a]\n", "2:14 'a' 'file.title' takes a text, not a list | -"},
    {HEAD "file.title:\n", "2:12 '' 'file.title' has no value | give it a text, or take the line out"},
    /* lists and pins */
    {HEAD "engine.firing_order: 1342\n", "2:22 '1342' 'engine.firing_order' takes a list of numbers, not a text | -"},
    {HEAD "engine.firing_order: [1, x, , 2]\n", "2:29 ',' a value is missing here | -"},
    {HEAD "engine.firing_order: [1, x, [3], 2 deg]\n",
     "2:26 'x' 'engine.firing_order' takes a number, not 'x' | -\n"
     "2:30 '3' 'engine.firing_order' takes a number, not a list | -\n"
     "2:34 '2 deg' '2 deg' is angle, but 'engine.firing_order' is plain number (in 1) | -"},
    {HEAD "inputs: IN3\n", "2:9 'IN3' 'inputs' takes a map from function to pin, not a text | -"},
    {HEAD "inputs: [IN3]\n", "2:10 'IN3' 'inputs' takes a map from function to pin, not a list | -"},
    {HEAD "inputs: {a: , b: {c: d}, e: [[f]], g: ''}\n",
     "2:13 ',' 'a' has no value | give it a pin, or a list of pins, or take the line out\n"
     "2:19 'c: d' 'b' takes a pin, or a list of pins, not a map | -\n"
     "2:31 'f' 'e' takes a pin, or a list of pins, not a list | -\n"
     "2:39 '''' 'g' has no pin | -"},
    /* curves */
    {HEAD "fuel.prime_pulse: 4\n",
     "2:19 '4' 'fuel.prime_pulse' takes a curve ('x' and 'value', each a list), not a text | -"},
    {HEAD "fuel.prime_pulse: {value: [1]}\n", "2:20 'value: [1' 'fuel.prime_pulse' has no 'x' | -"},
    {HEAD "fuel.prime_pulse: {x: [1]}\n", "2:20 'x: [1' 'fuel.prime_pulse' has no 'value' | -"},
    {HEAD "fuel.prime_pulse: {x: [1], valeu: [1]}\n",
     "2:20 'x: [1], valeu: [1' 'fuel.prime_pulse' has no 'value' | -\n"
     "2:28 'valeu' 'fuel.prime_pulse' has no 'valeu' | did you mean 'value'?"},
    {HEAD "fuel.prime_pulse: {x: [1], value: [1], comment: 5}\n",
     "2:40 'comment' 'fuel.prime_pulse' has no 'comment' | it takes x, value"},
    {HEAD "fuel.prime_pulse: {x: {unit: s, at: [1]}, value: [1]}\n",
     "2:30 's' 's' is time, but 'fuel.prime_pulse.x' is temperature (in degC) | -"},
    {HEAD "fuel.prime_pulse: {x: {unit: degC}, value: {units: ms, at: [1]}}\n",
     "2:24 'unit: degC' 'fuel.prime_pulse.x' has no 'at' | -\n"
     "2:45 'units' 'fuel.prime_pulse.value' has no 'units' | did you mean 'unit'?"},
    {HEAD "fuel.prime_pulse: {x: [], value: {at: []}}\n", "2:23 '[]' 'fuel.prime_pulse.x' is empty | -\n"
                                                          "2:39 '[]' 'fuel.prime_pulse.value' is empty | -"},
    {HEAD "fuel.prime_pulse: {x: [1, 2], value: [1, 2, 3]}\n",
     "2:39 '1, 2, 3' 'fuel.prime_pulse.value' has 3 points, but 'x' has 2 | -"},
    {HEAD "fuel.prime_pulse: {x: [1, 1e999], value: [1 kPa, , 3]}\n", "2:50 ',' a value is missing here | -"},
    {HEAD "fuel.prime_pulse: {x: [1, 1e999], value: [1 kPa, ~]}\n",
     "2:27 '1e999' '1e999' is too large for a number | -\n"
     "2:43 '1 kPa' '1 kPa' is pressure, but 'fuel.prime_pulse.value' is time (in ms) | -\n"
     "2:50 '~' 'fuel.prime_pulse.value' has no value | give it a number, or take the line out"},
    {HEAD "fuel.prime_pulse: {x: 5, value: {unit: [ms], at: 5}}\n",
     "2:23 '5' 'fuel.prime_pulse.x' takes a list of numbers, not a text | -\n"
     "2:41 'ms' 'unit' takes the name of a unit, not a list | -\n"
     "2:50 '5' 'fuel.prime_pulse.value' takes a list of numbers, not a text | -"},
    /* tables */
    {HEAD "boost.target: {x: [1, 2], y: [1, 2], value: {rows: [[1, 2], [1]]}}\n",
     "2:62 '1' row 2 of 'boost.target.value' has 1 numbers, but 'x' has 2 points | -"},
    {HEAD "boost.target: {x: [1, 2], y: [1, 2], value: {rows: [[1, 2]]}}\n",
     "2:54 '1, 2' 'boost.target.value' has 1 rows, but 'y' has 2 points | -"},
    {HEAD "boost.target: {x: [1, 2], y: [1], value: [1, 2]}\n",
     "2:43 '1' 'boost.target.value, row 1' takes a list of numbers, not a text | -\n"
     "2:43 '1, 2' 'boost.target.value' has 2 rows, but 'y' has 1 points | -\n"
     "2:46 '2' 'boost.target.value, row 2' takes a list of numbers, not a text | -"},
    {HEAD "boost.target: {x: [1, z], y: [1], value: [[1, q, 3 deg]]}\n",
     "2:23 'z' 'boost.target.x' takes a number, not 'z' | for instance 10, or '10 rpm' with its unit\n"
     "2:44 '1, q, 3 deg' row 1 of 'boost.target.value' has 3 numbers, but 'x' has 2 points | -\n"
     "2:47 'q' 'boost.target.value' takes a number, not 'q' | for instance 10, or '10 kPa' with its unit\n"
     "2:50 '3 deg' '3 deg' is angle, but 'boost.target.value' is pressure (in kPa) | -"},
    {HEAD "boost.target: {x: [1], value: {at: [[1]]}}\n",
     "2:16 'x: [1], value: {at: [[1' 'boost.target' has no 'y' | -\n"
     "2:32 'at' 'boost.target.value' has no 'at' | it takes unit, rows\n"
     "2:32 'at: [[1' 'boost.target.value' has no 'rows' | -"},
    /* several at once, with characters of several bytes before the place */
    {HEAD "file.title: \xc3\xa4\n\xc3\xb6\xc3\xb6: 1\nengine.cylinders: v\xc3\xa4l\ninputs: {\xc3\xa4\xc3\xa4\xc3\xa4: "
          "[[]]}\n",
     "3:1 '\xc3\xb6\xc3\xb6' no setting is called '\xc3\xb6\xc3\xb6' | -\n"
     "4:19 'v\xc3\xa4l' 'engine.cylinders' takes a number, not 'v\xc3\xa4l' | -\n"
     "5:16 '[]' '\xc3\xa4\xc3\xa4\xc3\xa4' takes a pin, or a list of pins, not a list | -"},
};

static void wrong_files_say_why(void **state)
{
  (void)state;
  size_t count = sizeof wrongs / sizeof *wrongs;
  assert_true(count >= 40);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    run_vocabulary(&run);
    assert_null(settings_read(run.arena, run.vocabulary, run_source(&run, slice_of(wrongs[i].bytes)), &run.problems));
    assert_string_equal(run_said(&run), wrongs[i].said);
    run_free(&run);
  }
}

/* Words about units are the units' own: the place, and that there are some. */
static void wrong_units_have_a_place_and_a_reason(void **state)
{
  (void)state;
  static const struct wrong cases[] = {
      {HEAD "ignition.fixed_advance: 10 furlogs\n", "2:25 '10 furlogs' 'ignition.fixed_advance': "},
      {HEAD "injector.flow_rate: 40 lb/h\n", "2:21 '40 lb/h' '40 lb/h' is mass flow, but "},
      {HEAD "fuel.prime_pulse: {x: {unit: q, at: [1]}, value: [1]}\n", "2:30 'q' 'fuel.prime_pulse.x': "},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    struct run run = run_new();
    run_vocabulary(&run);
    assert_null(settings_read(run.arena, run.vocabulary, run_source(&run, slice_of(cases[i].bytes)), &run.problems));
    assert_int_equal(run.problems.count, 1);
    const char *said = run_said(&run);
    assert_memory_equal(said, cases[i].said, strlen(cases[i].said));
    assert_true(strlen(said) > strlen(cases[i].said) + 4);
    run_free(&run);
  }
}

/* `count` points, both lists. */
static const char *long_curve(struct run *run, size_t count)
{
  char *list = arena_alloc(run->arena, 2 * count + 1);
  for (size_t i = 0; i < count; i++)
    memcpy(list + 2 * i, "1,", 2);
  list[2 * count - 1] = '\0';
  return arena_print(run->arena, HEAD "fuel.prime_pulse: {x: [%s], value: [%s]}\n", list, list);
}

static void axes_are_limited(void **state)
{
  (void)state;
  struct run run = run_new();
  run_vocabulary(&run);
  const struct source *source = run_source(&run, slice_of(long_curve(&run, LIMIT_AXIS)));
  assert_non_null(settings_read(run.arena, run.vocabulary, source, &run.problems));
  source = run_source(&run, slice_of(long_curve(&run, LIMIT_AXIS + 1)));
  assert_null(settings_read(run.arena, run.vocabulary, source, &run.problems));
  assert_int_equal(run.problems.count, 2);
  assert_string_equal(run.problems.items[0].message, "'fuel.prime_pulse.x' has 257 points; at most 256 are accepted");
  run_free(&run);
}

static void lists_are_limited(void **state)
{
  (void)state;
  for (size_t count = LIMIT_ITEMS; count <= LIMIT_ITEMS + 1; count++) {
    struct run run = run_new();
    run_vocabulary(&run);
    char *list = arena_alloc(run.arena, 2 * count + 1);
    for (size_t i = 0; i < count; i++)
      memcpy(list + 2 * i, "1,", 2);
    const char *bytes = arena_print(run.arena, HEAD "engine.firing_order: [%s]\noutputs: {a: [%s]}\n", list, list);
    bool read = settings_read(run.arena, run.vocabulary, run_source(&run, slice_of(bytes)), &run.problems) != NULL;
    assert_int_equal(read, count == LIMIT_ITEMS);
    assert_int_equal(run.problems.count, count == LIMIT_ITEMS ? 0 : 2);
    run_free(&run);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(numbers_take_their_unit_or_the_dictionarys),
      cmocka_unit_test(switches_choices_texts),
      cmocka_unit_test(lists_and_pins),
      cmocka_unit_test(curves_in_both_forms),
      cmocka_unit_test(tables_in_both_forms),
      cmocka_unit_test(bom_and_crlf),
      cmocka_unit_test(fragments_need_no_first_line),
      cmocka_unit_test(wrong_files_say_why),
      cmocka_unit_test(wrong_units_have_a_place_and_a_reason),
      cmocka_unit_test(axes_are_limited),
      cmocka_unit_test(lists_are_limited),
  };
  return cmocka_run_group_tests_name("read/settings", tests, NULL, NULL);
}
