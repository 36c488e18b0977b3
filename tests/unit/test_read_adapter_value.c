/* Single values, lists and pins out of exports. Numbers that are worked out are checked against GNU units and by hand,
 * as the comment beside each says; the rest is common practice, no source. */
#include "test_read_adapter_help.h"

#define SETTINGS LINES "settings:\n"

static void test_numbers(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {SETTINGS "  protection.speed_limit: {match: '^Limits/Rev limit$', unit: rpm}\n", "[Limits]\nRev limit = 7200\n",
       "protection.speed_limit: 7200 rpm\n"},
      /* left out: the dictionary's unit */
      {SETTINGS "  engine.displacement: {match: Size}\n", "Size = 1.998\n", "engine.displacement: 1.998 L\n"},
      {SETTINGS "  engine.displacement: {match: Size, unit: {in: text}}\n", "Size = 1998cc\n",
       "engine.displacement: 1998 cm3\n"},
      {SETTINGS "  engine.displacement: {match: Size, unit: {in: text}}\n", "Size = 2\n", "engine.displacement: 2 L\n"},
      {LINES "units: {litre-ish: L}\nsettings:\n  engine.displacement: {match: Size, unit: {in: text}}\n",
       "Size = 2 (litre-ish)\n", "engine.displacement: 2 L\n"},
      {SETTINGS "  engine.displacement: {match: Size, text: '\\d+\\.\\d+'}\n", "Size = V8, 5.7 litres\n",
       "engine.displacement: 5.7 L\n"},
      {SETTINGS "  engine.displacement: {match: Size, text: '(\\d+) or (?<value>\\d+)'}\n", "Size = 5 or 6\n",
       "engine.displacement: 6 L\n"},
      {SETTINGS "  engine.cylinders: {match: '^Cyl(?<n>\\d+)$', from: n}\n", "Cyl8 = yes\n", "engine.cylinders: 8\n"},
      /* 2.5 * 10 + 40 = 65 */
      {SETTINGS "  fan.on_temperature: {match: Fan, scale: 2.5, offset: 40}\n", "Fan = 10\n",
       "fan.on_temperature: 65 degC\n"},
      /* 3 * 0.1 is 0.30000000000000004 in binary: twelve digits are meant */
      {SETTINGS "  fan.on_temperature: {match: Fan, scale: 0.1}\n", "Fan = 3\n", "fan.on_temperature: 0.3 degC\n"},
      {SETTINGS "  protection.speed_limit: {match: R, hex: yes}\n", "R = 0x1C20\n",
       "protection.speed_limit: 7200 rpm\n"},
      {SETTINGS "  protection.speed_limit: {match: R, hex: yes}\n", "R = 1c20\n", "protection.speed_limit: 7200 rpm\n"},
      {START "reads: {shape: lines, decimal: comma, thousands: '.'}\nsettings:\n  protection.speed_limit: {match: R}\n",
       "R = 7.200,5\n", "protection.speed_limit: 7200.5 rpm\n"},
      {START
       "reads: {shape: lines, thousands: ' '}\nsettings:\n  protection.speed_limit: {match: R, unit: {in: text}}\n",
       "R = 7 200 rpm\n", "protection.speed_limit: 7200 rpm\n"},
      {SETTINGS "  fan.on_temperature: {match: '^Fan', take: first}\n", "Fan1 = 90\nFan2 = 95\n",
       "fan.on_temperature: 90 degC\n"},
      {SETTINGS "  fan.on_temperature: {match: '^Fan', take: last}\n", "Fan1 = 90\nFan2 = 95\n",
       "fan.on_temperature: 95 degC\n"},
      {SETTINGS "  fan.on_temperature: {match: '^Fan', where: '^9'}\n", "Fan1 = 80\nFan2 = 95\n",
       "fan.on_temperature: 95 degC\n"},
      {SETTINGS "  fan.on_temperature: {match: '^Fan', unused: ['--', none]}\n", "Fan = None\n", ""},
      {SETTINGS "  fan.on_temperature: {is: 90 degC}\n", "Fan = 1\n", "fan.on_temperature: 90 degC\n"},
      {SETTINGS "  fan.on_temperature: {match: Nowhere}\n", "Fan = 1\n", ""},
  };
  CHECK(rows);
}

/* Lambda is the air-fuel ratio by the stoichiometric one: 12.495 / 14.7 = 0.85. A gauge pressure stands above the
 * barometer: 14.5 + 14.7 = 29.2 psi; 1.2 bar + 100 kPa = 220 kPa. */
static void test_ratios_and_gauges(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {SETTINGS "  protection.lean_cut_lambda: {match: Lean, air_fuel_ratio: 14.7}\n", "Lean = 12.495\n",
       "protection.lean_cut_lambda: 0.85 lambda\n"},
      {SETTINGS "  protection.lean_cut_lambda: {match: Lean, air_fuel_ratio: {match: Stoich}}\n",
       "Lean = 9.85\nStoich = 9.85\n", "protection.lean_cut_lambda: 1 lambda\n"},
      {SETTINGS "  protection.lean_cut_lambda: {match: Lean, air_fuel_ratio: {match: Stoich}}\n",
       "Lean = 9.85\nStoich = 0\n",
       "1:8 '9.85' 'protection.lean_cut_lambda': an air-fuel ratio of 0 for lambda 1 | its entry is in line 4 of "
       "adapter.yaml"},
      {SETTINGS "  protection.boost_cut_pressure: {match: Cut, unit: psi, gauge: {barometer: 14.7 psi}}\n",
       "Cut = 14.5\n", "protection.boost_cut_pressure: 29.2 psi\n"},
      {SETTINGS "  protection.boost_cut_pressure: {match: Cut, unit: bar, gauge: {barometer: 100 kPa}}\n",
       "Cut = 1.2\n", "protection.boost_cut_pressure: 2.2 bar\n"},
      {SETTINGS "  protection.boost_cut_pressure: {match: Cut, gauge: {barometer: {match: Baro, unit: mbar}}}\n",
       "Cut = 120\nBaro = 1000\n", "protection.boost_cut_pressure: 220 kPa\n"},
      {SETTINGS "  protection.boost_cut_pressure: {match: Cut, gauge: {barometer: {match: Baro}}}\n",
       "Cut = 120\nBaro = 1 bar\n", "protection.boost_cut_pressure: 220 kPa\n"},
  };
  CHECK(rows);
}

static void test_units_elsewhere(void **state)
{
  (void)state;
#define ELSEWHERE SETTINGS "  fan.on_temperature: {match: '^(?<n>Fan .*)$', unit: {match: '^Units/\\k{n}$'}}\n"
  const struct adapting rows[] = {
      {ELSEWHERE, "Fan (on) = 194\n[Units]\nFan (on) = [F]\n", "fan.on_temperature: 194 degF\n"},
      {ELSEWHERE, "Fan on = 194\n[Units]\nFan off = F\n",
       "1:10 '194' 'fan.on_temperature': no record matches '^Units/Fan\\ on$' | its entry is in line 4 of "
       "adapter.yaml"},
      {ELSEWHERE, "Fan on = 194\n[Units]\nFan on = kPa\n",
       "3:10 'kPa' 'fan.on_temperature': 'kPa' is pressure, and temperature (in degC) is wanted | its entry is in line "
       "4 of adapter.yaml"},
      {SETTINGS "  fan.on_temperature: {match: '^Fan$', unit: {match: '^Unit'}}\n", "Fan = 1\nUnit1 = F\nUnit2 = F\n",
       "3:9 'F' 'fan.on_temperature': a second record matches '^Unit', where one should | its entry is in line 4 of "
       "adapter.yaml"},
  };
#undef ELSEWHERE
  CHECK(rows);
}

static void test_switches(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {SETTINGS "  fuel.overrun_cut: {match: Cut}\n", "Cut = Enabled\n", "fuel.overrun_cut: on\n"},
      {SETTINGS "  fuel.overrun_cut: {match: Cut, inverted: yes}\n", "Cut = 1\n", "fuel.overrun_cut: off\n"},
      {SETTINGS "  fuel.overrun_cut: {match: Cut, values: {J: on, N: off}}\n", "Cut = j\n", "fuel.overrun_cut: on\n"},
      {SETTINGS "  fuel.overrun_cut: {match: Cut, values: {J: on, N: off}, inverted: yes}\n", "Cut = J\n",
       "fuel.overrun_cut: off\n"},
      /* 6 = 0b110 */
      {SETTINGS "  fuel.overrun_cut: {match: W, bit: 0}\n", "W = 6\n", "fuel.overrun_cut: off\n"},
      {SETTINGS "  fuel.overrun_cut: {match: W, bit: 2}\n", "W = 6\n", "fuel.overrun_cut: on\n"},
      {SETTINGS "  fuel.overrun_cut: {match: W, bit: 2, inverted: yes}\n", "W = 6\n", "fuel.overrun_cut: off\n"},
      {SETTINGS "  fuel.overrun_cut: {match: W, bit: 7, hex: yes}\n", "W = 80\n", "fuel.overrun_cut: on\n"},
      {SETTINGS "  fuel.overrun_cut: {match: W, bit: 52}\n", "W = 9007199254740991\n", "fuel.overrun_cut: on\n"},
      {SETTINGS "  fuel.overrun_cut: {match: W, bit: 52}\n", "W = 9007199254740992\n",
       "1:5 '9007199254740992' 'fuel.overrun_cut': '9007199254740992' is no whole number that holds bits | its entry "
       "is in line 4 of adapter.yaml"},
      {SETTINGS "  fuel.overrun_cut: {match: W, bit: 0}\n", "W = 1.5\n",
       "1:5 '1.5' 'fuel.overrun_cut': '1.5' is no whole number that holds bits | its entry is in line 4 of "
       "adapter.yaml"},
      {SETTINGS "  fuel.overrun_cut: {match: Cut}\n", "Cut = perhaps\n",
       "1:7 'perhaps' 'fuel.overrun_cut': 'perhaps' is neither on nor off; 'values' says what it means | its entry is "
       "in line 4 of adapter.yaml"},
  };
  CHECK(rows);
}

static void test_choices_and_texts(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {SETTINGS "  fuel.load_source: {match: Load, values: {0: speed_density, 1: alpha_n}}\n", "Load = 1\n",
       "fuel.load_source: alpha_n\n"},
      {SETTINGS "  fuel.load_source: {match: Load}\n", "Load = Speed density\n", "fuel.load_source: speed_density\n"},
      {SETTINGS "  fuel.load_source: {match: Load, values: {0: speed_density, 1: alpha_n}}\n", "Load = 2\n",
       "1:8 '2' 'fuel.load_source': '2' is none of its 'values': '0', '1' | its entry is in line 4 of adapter.yaml"},
      {SETTINGS "  fuel.load_source: {is: alpha_n}\n", "Load = 2\n", "fuel.load_source: alpha_n\n"},
      {SETTINGS "  file.title: {match: Name}\n", "Name = Sandpiper: \"7\"\n", "file.title: \"Sandpiper: \\\"7\\\"\"\n"},
  };
  CHECK(rows);
}

static void test_lists(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {SETTINGS "  engine.firing_order: {match: Order, split: '-'}\n", "Order = 1-3-4-2\n",
       "engine.firing_order: [1, 3, 4, 2]\n"},
      {SETTINGS "  engine.firing_order: {match: '^Order'}\n", "Order1 = 1\nOrder2 = 3\n",
       "engine.firing_order: [1, 3]\n"},
      /* one switch a cylinder: the number stands in the path */
      {SETTINGS "  injector.disabled: {match: '^Injector (?<n>\\d)$', from: n, where: '(?i)^off$'}\n",
       "Injector 1 = On\nInjector 2 = Off\nInjector 3 = off\n", "injector.disabled: [2, 3]\n"},
      {SETTINGS "  injector.disabled: {match: '^Injector (?<n>\\d)$', from: n, where: '(?i)^off$'}\n",
       "Injector 1 = On\n", "injector.disabled: []\n"},
      {SETTINGS "  injector.disabled: {match: Off, split: ',', unused: none}\n", "Off = none\n",
       "injector.disabled: []\n"},
      {SETTINGS "  injector.disabled: {match: Off, split: ','}\n", "On = none\n", ""},
      {SETTINGS "  injector.disabled: {match: Off, split: ','}\n", "Off = 1,,2\n",
       "1:9 ',' 'injector.disabled': nothing stands between two separators | its entry is in line 4 of adapter.yaml"},
  };
  CHECK(rows);
}

static void test_pins(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {SETTINGS "  inputs: [{match: '^Clutch$', function: clutch_switch}]\n", "Clutch = IN3\n",
       "inputs:\n  clutch_switch: IN3\n"},
      {SETTINGS
       "  inputs: [{match: '^(?<p>IN\\d)$', pin: {from: p}, functions: {Clutch: clutch_switch}, unused: '-'}]\n",
       "IN1 = clutch\nIN2 = -\nIN3 = A/C request\n", "inputs:\n  clutch_switch: IN1\n  a/c_request: IN3\n"},
      {SETTINGS "  outputs: [{match: '^Func (?<f>.*)$', function: {from: f}, functions: {Fan: fan_output}, pins: {1: "
                "OUT1}}]\n",
       "Func Fan = 1\n", "outputs:\n  fan_output: OUT1\n"},
      {SETTINGS "  inputs: [{match: '^In', text: '^(?<p>\\w+):(?<f>\\w+)', pin: {from: p}, function: {from: f}}]\n",
       "In1 = A4:clutch_switch\nIn2 = A5:clutch_switch\n", "inputs:\n  clutch_switch: [A4, A5]\n"},
      {SETTINGS "  inputs: {is: {clutch_switch: IN3}}\n", "a = 1\n", "inputs:\n  clutch_switch: IN3\n"},
      {SETTINGS "  inputs: [{match: '^In', unused: none, function: x}]\n", "In = none\n", "inputs: {}\n"},
  };
  CHECK(rows);
}

static void test_refusals(void **state)
{
  (void)state;
#define ENTRY " | its entry is in line 4 of adapter.yaml"
  const struct adapting rows[] = {
      {SETTINGS "  fan.on_temperature: {match: Fan}\n", "Fan = hot\n",
       "1:7 'hot' 'fan.on_temperature': 'hot' is no "
       "number" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Fan}\n", "Fan = 90,5\n",
       "1:7 '90,5' 'fan.on_temperature': '90,5' is no number: the adapter reads '.' before decimals and no sign "
       "between "
       "thousands" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Fan}\n", "Fan = 194 F\n",
       "1:7 '194 F' 'fan.on_temperature': '194 F' carries its unit: 'unit: {in: text}' reads it" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Fan, unit: {in: text}}\n", "Fan = 194 X\n",
       "1:7 '194 X' 'fan.on_temperature': unknown unit 'X'" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Fan, text: '^T(.*)'}\n", "Fan = 194\n",
       "1:7 '194' 'fan.on_temperature': '194' is not as its 'text' says" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Fan, hex: yes}\n", "Fan = 0xG\n",
       "1:7 '0xG' 'fan.on_temperature': '0xG' is no hexadecimal number" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Fan, hex: yes}\n", "Fan = 20000000000000\n",
       "1:7 '20000000000000' 'fan.on_temperature': '20000000000000' is no hexadecimal number" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Fan, scale: 1e300}\n", "Fan = 1e300\n",
       "1:7 '1e300' 'fan.on_temperature': '1e300' is too large for a number" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: '^Fan'}\n", "Fan1 = 1\nFan2 = 2\nFan3 = 3\n",
       "2:8 '2' 'fan.on_temperature': 3 records match where one should: 'Fan1', 'Fan2' ... ('take: first' or 'last' "
       "chooses)" ENTRY},
      {SETTINGS "  fan.on_temperature: {match: Nowhere, needed: yes}\n", "Fan = 1\n",
       "1:1 'F' 'fan.on_temperature': nothing in the export matches, and the adapter needs it" ENTRY},
      {LINES "expect: ['^Fam$']\nsettings: {}\n", "Fan = 1\n",
       "1:1 'F' nothing in it matches '^Fam$', which the adapter 'adapter.yaml' expects | another kind of export? see "
       "line 3 of adapter.yaml"},
  };
  CHECK(rows);
}

/* "a" 40 times and no end: each way of cutting it is tried, 2^40 of them (Friedl, Mastering Regular Expressions, 3rd
 * edition, chapter 6: the neverending match). */
static void test_costly_pattern(void **state)
{
  (void)state;
  struct adapted a = adapted_new(SETTINGS "  fan.on_temperature: {match: '^(a+)+$'}\n",
                                 "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaab = 1\n");
  assert_string_equal(adapted_text(&a),
                      "1:45 '1' 'fan.on_temperature': its pattern takes too long on this record | its "
                      "entry is in line 4 of adapter.yaml");
  adapted_free(&a);
}

static void test_use(void **state)
{
  (void)state;
  struct adapted a =
      adapted_new(LINES "expect: ['^Kind$']\nignore: ['^Window/', '^F']\nsettings:\n"
                        "  fan.on_temperature: {match: '^Fan', take: last}\n"
                        "  engine.cylinders: {match: Nowhere}\n",
                  "Kind = 1\nFan1 = 1\nFan2 = 2\nFog = 3\nOdd = 4\n[Window]\nLeft = 5\n[Other]\nx = 6\n");
  assert_non_null(a.settings);
  assert_int_equal(a.use.used, 2);    /* Kind, Fan2 */
  assert_int_equal(a.use.ignored, 3); /* Fan1, Fog, Window/Left */
  assert_int_equal(a.use.unknown, 2);
  assert_true(slice_is(a.use.unknown_records[0]->path, "Odd"));
  assert_true(slice_is(a.use.unknown_records[1]->path, "Other/x"));
  size_t with_entry = 0;
  for (size_t i = 0; i < a.run.vocabulary->count[SCOPE_TUNE]; i++)
    with_entry += a.use.has_entry[i];
  assert_int_equal(with_entry, 2);
  adapted_free(&a);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_numbers),  cmocka_unit_test(test_ratios_and_gauges), cmocka_unit_test(test_units_elsewhere),
      cmocka_unit_test(test_switches), cmocka_unit_test(test_choices_and_texts), cmocka_unit_test(test_lists),
      cmocka_unit_test(test_pins),     cmocka_unit_test(test_refusals),          cmocka_unit_test(test_costly_pattern),
      cmocka_unit_test(test_use),
  };
  return cmocka_run_group_tests_name("values by adapters", tests, NULL, NULL);
}
