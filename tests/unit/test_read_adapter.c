/* Adapter files that are wrong: each slip with its place and what a person should be told. Common practice, no source:
 * the format is this project's own (rules/ADAPTERS.md). */
#include "test_read_adapter_help.h"

#define SETTINGS START "settings:\n"

static void check_wrong(const struct wrong *rows, size_t count)
{
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct adapted a = adapted_new(rows[i].bytes, NULL);
    assert_null(a.adapter);
    assert_string_equal(run_said(&a.run), rows[i].said);
    assert_true(a.run.problems.seen[PROBLEM_OF_INPUT]);
    adapted_free(&a);
  }
}

static void test_whole_file(void **state)
{
  (void)state;
  const struct wrong rows[] = {
      {"keyway-settings: 1\n",
       "1:1 'keyway-settings' an adapter starts with 'keyway-adapter: 1' | this file says that it is a settings file"},
      {"keyway-adapter: 2\n", "1:17 '2' this program reads 'keyway-adapter: 1' and no other version | -"},
      {START, "1:1 'keyway-adapter: 1' an adapter has 'settings', a 'log', or both | -"},
      {START "setings: {}\n", "1:1 'keyway-adapter: 1' an adapter has 'settings', a 'log', or both | -\n"
                              "2:1 'setings' an adapter has no 'setings' | did you mean 'settings'?"},
      {SETTINGS "  fan.on_temprature: {match: x}\n",
       "3:3 'fan.on_temprature' no setting is called 'fan.on_temprature' | did you mean 'fan.on_temperature'?"},
      {SETTINGS "  engine_speed: {match: x}\n",
       "3:3 'engine_speed' no setting is called 'engine_speed' | 'engine_speed' is a channel of logs: it belongs "
       "under 'log'"},
      {SETTINGS "  fan.on_temperature: 80\n",
       "3:23 '80' 'fan.on_temperature' takes a map with 'match', not a text | -"},
      {SETTINGS "  fan.on_temperature: {unit: degF}\n", "3:24 'unit: degF' 'fan.on_temperature' has no 'match' | -"},
  };
  check_wrong(rows, sizeof rows / sizeof *rows);
}

static void test_reads(void **state)
{
  (void)state;
#define READS(text) START "reads: {" text "}\nsettings: {}\n"
  const struct wrong rows[] = {
      {READS("shape: excel"), "2:16 'excel' 'shape' is lines, table, xml, json or yaml | -"},
      {READS("shape: xml, delimiter: ';'"), "2:21 'delimiter' exports of shape xml have no 'delimiter' | -"},
      {READS("section: x"), "2:9 'section' 'section' needs a 'shape' beside it | -"},
      {READS("shape: table, delimiter: ab"),
       "2:34 'ab' 'delimiter' is one character such as \",\" or \";\", or tab | -"},
      {READS("shape: table, widths: [8, 0]"), "2:35 '0' a column is 1 to 65536 characters wide | -"},
      {READS("shape: lines, separator: ''"),
       "2:34 '''' 'separator' is what stands between name and value, such as \"=\" | -"},
      {READS("encoding: ebcdic"), "2:19 'ebcdic' 'encoding' is auto, utf-8, utf-16 or latin-1 | -"},
      {READS("decimal: dot"), "2:18 'dot' 'decimal' is point or comma | -"},
      {READS("thousands: '7'"), "2:20 ''7'' 'thousands' is one character, and no digit | -"},
      {READS("decimal: comma, thousands: ','"), "2:36 '','' 'thousands' and 'decimal' are the same sign | -"},
      {READS("shape: lines, section: '[('"),
       "2:35 ''' 'section' is no pattern: missing terminating ] for character class | -"},
  };
#undef READS
  check_wrong(rows, sizeof rows / sizeof *rows);
}

/* The words are PCRE2's own (pcre2_get_error_message); the place is within the YAML scalar, behind its escapes. */
static void test_patterns(void **state)
{
  (void)state;
  const struct wrong rows[] = {
      {SETTINGS "  fan.on_temperature: {match: 'a(b'}\n",
       "3:35 ''' 'match' is no pattern: missing closing parenthesis | -"},
      {SETTINGS "  fan.on_temperature: {match: \"\\x41\\\\d{2,1}\"}\n",
       "3:43 '}' 'match' is no pattern: numbers out of order in {} quantifier | -"},
      {SETTINGS "  fan.on_temperature: {match: '(*NO_JIT)a'}\n",
       "3:32 '(' 'match' is no pattern: a pattern cannot start with '(*' | -"},
      {START "expect: ['a', '*b']\nsettings: {}\n",
       "2:16 '*' 'expect' is no pattern: quantifier does not follow a repeatable item | -"},
      {SETTINGS "  fan.on_temperature: {match: '^(?<n>a)', from: m}\n",
       "3:49 'm' 'match' of 'fan.on_temperature' has no group 'm' | write the part that is meant as (?<m>...)"},
      {SETTINGS "  fan.on_temperature: {match: '^(?<n>a)', unit: {match: 'u\\k{m}'}}\n",
       "3:57 ''u\\k{m}'' the value's own match has no group 'm' | -"},
      {SETTINGS "  fan.on_temperature: {match: '^(?<n>a)', unit: {match: '(\\k{n}'}}\n",
       "3:57 ''(\\k{n}'' 'match' is no pattern: missing closing parenthesis | -"},
      {SETTINGS "  inputs: [{match: a, pin: {from: p}}]\n",
       "3:35 'p' neither 'match' nor 'text' has a group 'p' | write the part that is meant as (?<p>...)"},
  };
  check_wrong(rows, sizeof rows / sizeof *rows);
}

static void test_units(void **state)
{
  (void)state;
  const struct wrong rows[] = {
      {SETTINGS "  fan.on_temperature: {match: a, unit: degr}\n",
       "3:40 'degr' 'fan.on_temperature': unknown unit 'degr'; did you mean 'degC'? | -"},
      {SETTINGS "  fan.on_temperature: {match: a, unit: kPa}\n",
       "3:40 'kPa' 'kPa' is pressure, but 'fan.on_temperature' is temperature (in degC) | -"},
      {START "units: {F: degx}\nsettings: {}\n", "2:12 'degx' 'F': unknown unit 'degx'; did you mean 'degC'? | -"},
      {SETTINGS "  fan.on_temperature: {match: a, unit: {in: name}}\n",
       "3:45 'name' 'in' is text: the text carries the unit | -"},
      {SETTINGS "  fan.on_temperature: {match: a, scale: 0}\n",
       "3:41 '0' 'scale: 0' would make every number the same | -"},
      {SETTINGS "  fan.on_temperature: {match: a, offset: '5 K'}\n",
       "3:42 ''5 K'' 'offset' takes a plain number, not '5 K' | -"},
      {SETTINGS "  fan.on_temperature: {match: a, gauge: {barometer: 100 kPa}}\n",
       "3:42 'barometer: 100 kPa' 'gauge' is for pressures, and 'fan.on_temperature' is none | -"},
      {SETTINGS "  protection.boost_cut_pressure: {match: a, gauge: {barometer: 14.7}}\n",
       "3:64 '14.7' 'barometer' needs its unit, such as 100 kPa or 14.7 psi | -"},
      {SETTINGS "  fan.on_temperature: {match: a, air_fuel_ratio: 14.7}\n",
       "3:50 '14.7' 'air_fuel_ratio' is for lambda; 'fan.on_temperature' is temperature | -"},
      {SETTINGS "  protection.lean_cut_lambda: {match: a, air_fuel_ratio: 0}\n",
       "3:58 '0' 'air_fuel_ratio' is the ratio at lambda 1, such as 14.7: above 0 | -"},
      {SETTINGS "  protection.lean_cut_lambda: {match: a, air_fuel_ratio: 14.7, unit: lambda}\n",
       "3:64 'unit' an air-fuel ratio takes no unit | -"},
  };
  check_wrong(rows, sizeof rows / sizeof *rows);
}

static void test_words(void **state)
{
  (void)state;
  const struct wrong rows[] = {
      {SETTINGS "  ignition.trigger_edge: {match: a, values: {0: rise}}\n",
       "3:49 'rise' 'ignition.trigger_edge' takes one of rising, falling, not 'rise' | did you mean 'rising'?"},
      {SETTINGS "  fuel.overrun_cut: {match: a, values: {0: maybe}}\n",
       "3:44 'maybe' 'fuel.overrun_cut' is on or off, not 'maybe' | yes, no, true and false are understood too"},
      {SETTINGS "  fuel.overrun_cut: {match: a, bit: 53}\n",
       "3:37 '53' 'bit' is a whole number from 0, the lowest bit, to 52 | -"},
      {SETTINGS "  fuel.overrun_cut: {match: a, bit: 1, values: {0: on}}\n",
       "3:37 '1' 'bit' and 'values' say two different things | -"},
      {SETTINGS "  fuel.overrun_cut: {match: a, inverted: perhaps}\n",
       "3:42 'perhaps' 'inverted' is yes or no, not 'perhaps' | -"},
      {SETTINGS "  fan.on_temperature: {match: a, values: {0: on}}\n",
       "3:34 'values' 'values' is for switches and choices, and 'fan.on_temperature' is a number | -"},
  };
  check_wrong(rows, sizeof rows / sizeof *rows);
}

static void test_kinds(void **state)
{
  (void)state;
  const struct wrong rows[] = {
      {SETTINGS "  fuel.lambda_target: {match: a}\n",
       "3:24 'match' 'fuel.lambda_target' is a table: it takes 'x', 'y' and 'value', each with its own 'match' | -"},
      {SETTINGS "  ignition.dwell: {match: a}\n",
       "3:20 'match' 'ignition.dwell' is a curve: it takes 'x' and 'value', each with its own 'match' | -"},
      {SETTINGS "  ignition.dwell: {x: {match: a}, value: {match: b}, y: {match: c}}\n",
       "3:54 'y' 'ignition.dwell' has no 'y' | it takes x, value, needed"},
      {SETTINGS "  fan.on_temperature: {match: a, x: {match: b}}\n",
       "3:34 'x' 'x' is for curves and tables, and 'fan.on_temperature' is a number | -"},
      {SETTINGS "  file.title: {match: a, unit: rpm}\n",
       "3:26 'unit' 'unit' is for numbers, and 'file.title' is a text "
       "| -"},
      {SETTINGS "  ignition.dwell: {x: {match: a, order: rows}, value: {match: b}}\n",
       "3:34 'order' 'order' is for values of tables, and 'ignition.dwell.x' is an axis | -"},
      {SETTINGS "  ignition.dwell: {x: {is: [8, 12 kPa], flip: yes}, value: {match: b}}\n",
       "3:32 '12 kPa' '12 kPa' is pressure, but 'ignition.dwell.x' is voltage (in V) | -\n"
       "3:41 'flip' fixed breakpoints ('is') take no 'flip' | -"},
      {SETTINGS "  fuel.lambda_target: {x: {match: a}, y: {match: b}, value: {match: c, at: yes}}\n",
       "3:76 'yes' 'match' of 'fuel.lambda_target.value' has no group 'row' | write the part that is meant as "
       "(?<row>...)\n"
       "3:76 'yes' 'match' of 'fuel.lambda_target.value' has no group 'column' | write the part that is meant as "
       "(?<column>...)"},
      {SETTINGS "  fuel.lambda_target: {x: {match: a}, y: {match: b}, value: {match: c, flip: [z]}}\n",
       "3:79 'z' 'flip' of the values of a table is [x], [y] or [x, y] | -"},
      {SETTINGS "  inputs: [{match: a}]\n",
       "3:13 'match: a' the text of an entry of 'inputs' is the function or the pin, not both | say which is which: "
       "function: {from: GROUP}, or pin: {from: GROUP}"},
  };
  check_wrong(rows, sizeof rows / sizeof *rows);
}

static void test_log(void **state)
{
  (void)state;
#define LOG(text) START "log: {channels: {" text "}}\n"
  const struct wrong rows[] = {
      {LOG("engine_sped: {header: a}"),
       "2:18 'engine_sped' no channel is called 'engine_sped' | did you mean 'engine_speed'?"},
      {LOG("fan.on_temperature: {header: a}"),
       "2:18 'fan.on_temperature' no channel is called 'fan.on_temperature' | 'fan.on_temperature' is a setting: it "
       "belongs under 'settings'"},
      {LOG("engine_speed: {match: a}"), "2:33 'match' channel 'engine_speed' has no 'match' | it takes header, unit, "
                                        "scale, offset, values, bit, inverted, air_fuel_ratio, gauge\n"
                                        "2:33 'match: a' channel 'engine_speed' has no 'header' | -"},
      {LOG("engine_speed: {header: a, bit: 1}"), "2:49 '1' 'bit' is for switches, and 'engine_speed' is none | -"},
      {LOG("engine_speed: {header: a, unit: kPa}"),
       "2:50 'kPa' 'kPa' is pressure, but 'engine_speed' is speed of rotation (in rpm) | -"},
      {LOG("time: {header: a, scale: 2}"), "2:36 'scale' channel 'time' has no 'scale' | it takes header, unit"},
      {START "log: {rate: 0}\n", "2:13 '0' 'rate' must be over 0 Hz | -"},
      {START "log: {only: yes}\n", "2:7 'only: yes' 'log' has no 'channels' | -"},
  };
#undef LOG
  check_wrong(rows, sizeof rows / sizeof *rows);
}

/* All problems of a file at once, in its order. */
static void test_all_together(void **state)
{
  (void)state;
  struct adapted a = adapted_new(START "reads: {shape: no}\nexpect: ['(']\nunits: {a: b}\nsettings:\n"
                                       "  nope: {match: a}\n  engine.cylinders: {match: ')'}\n"
                                       "log: {channels: {time: {header: '['}}}\n",
                                 NULL);
  assert_null(a.adapter);
  assert_int_equal(a.run.problems.count, 6);
  adapted_free(&a);
}

static void test_names(void **state)
{
  (void)state;
  struct adapted a = adapted_new(START "settings: {}\n", NULL);
  assert_non_null(a.adapter);
  assert_true(slice_is(adapter_name(a.adapter), "adapter.yaml"));
  assert_true(adapter_has_settings(a.adapter) && !adapter_has_log(a.adapter));
  adapted_free(&a);
  a = adapted_new(START "name: Tern\nlog: {rate: 10 Hz}\n", NULL);
  assert_non_null(a.adapter);
  assert_true(slice_is(adapter_name(a.adapter), "Tern"));
  assert_true(!adapter_has_settings(a.adapter) && adapter_has_log(a.adapter));
  assert_true(adapter_rate(a.adapter) == 10);
  adapted_free(&a);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_whole_file), cmocka_unit_test(test_reads), cmocka_unit_test(test_patterns),
      cmocka_unit_test(test_units),      cmocka_unit_test(test_words), cmocka_unit_test(test_kinds),
      cmocka_unit_test(test_log),        cmocka_unit_test(test_names), cmocka_unit_test(test_all_together),
  };
  return cmocka_run_group_tests_name("adapter files", tests, NULL, NULL);
}
