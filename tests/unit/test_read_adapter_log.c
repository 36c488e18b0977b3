/* Logs by an adapter: which column is which channel, and how it is written. Numbers that are worked out are checked by
 * hand, as the comment beside each says; the rest is common practice, no source. */
#include "test_read_adapter_help.h"

#include <math.h>

#include "read/log.h"

struct logged {
  struct run run;
  struct adapter *adapter;
  const struct log *log;
};

static struct logged logged_new(const char *adapter, const char *text)
{
  struct logged l = {.run = run_new()};
  struct run *run = &l.run;
  run_vocabulary(run);
  if (adapter != NULL) {
    const struct source *source = sources_memory(run->sources, "adapter.yaml", slice_of(adapter));
    l.adapter = adapter_read(run->arena, run->vocabulary, source, &run->problems);
    assert_non_null(l.adapter);
  }
  struct log_options options = {.adapter = l.adapter};
  const struct source *source = sources_memory(run->sources, "log.csv", slice_of(text));
  l.log = log_read(run->arena, run->vocabulary, source, &options, &run->problems);
  return l;
}

static void logged_free(struct logged *l)
{
  adapter_free(l->adapter);
  run_free(&l->run);
}

static const struct series *channel(const struct logged *l, const char *name)
{
  const struct entry *entry = vocabulary_find(l->run.vocabulary, SCOPE_LOG, slice_of(name));
  assert_non_null(entry);
  const struct value *value = l->log->values[vocabulary_index(l->run.vocabulary, SCOPE_LOG, entry)];
  return value == NULL ? NULL : &value->as.series;
}

/* In the unit that is named. */
static double sample(const struct logged *l, const char *name, size_t row, const char *unit)
{
  const struct series *series = channel(l, name);
  assert_non_null(series);
  assert_true(row < series->count);
  assert_true(series->known == NULL || series->known[row]);
  return unit_from_base(unit_find(slice_of(unit)), series->at[row]);
}

static void check_sample(const struct logged *l, const char *name, size_t row, const char *unit, double expected)
{
  double got = sample(l, name, row, unit);
  assert_true(fabs(got - expected) <= 1e-9 * fmax(1, fabs(expected)));
}

#define LOG START "log:\n  channels:\n"

static void test_names_and_units(void **state)
{
  (void)state;
  struct logged l = logged_new(START "units: {U/min: rpm}\nlog:\n  channels:\n"
                                     "    time: {header: '^Zeit'}\n"
                                     "    engine_speed: {header: '^Drehzahl'}\n"
                                     "    coolant_temperature: {header: '^Wasser', unit: degF}\n"
                                     "    throttle_position: {header: '^DK', scale: 0.5, offset: 1}\n",
                               "Zeit [ms];Drehzahl (U/min);Wasser;DK\n0;900;176;10\n100;1000;194;20\n");
  assert_non_null(l.log);
  check_sample(&l, "time", 1, "s", 0.1);
  check_sample(&l, "engine_speed", 1, "rpm", 1000);
  check_sample(&l, "coolant_temperature", 0, "degC", 80); /* (176 - 32) / 1.8 */
  check_sample(&l, "throttle_position", 1, "%", 11);      /* 20 * 0.5 + 1 */
  logged_free(&l);
}

static void test_ratios_and_gauges(void **state)
{
  (void)state;
  struct logged l =
      logged_new(LOG "    manifold_pressure: {header: '^Boost', unit: psi, gauge: {barometer: 14.7 psi}}\n"
                     "    lambda: {header: '^AFR', air_fuel_ratio: 14.7}\n",
                 "time,Boost (psi),AFR (afr)\n0,-4.7,12.495\n1,10,14.7\n");
  assert_non_null(l.log);
  check_sample(&l, "manifold_pressure", 0, "psi", 10);
  check_sample(&l, "manifold_pressure", 1, "psi", 24.7);
  check_sample(&l, "lambda", 0, "lambda", 0.85);
  check_sample(&l, "lambda", 1, "lambda", 1);
  logged_free(&l);
}

/* 5 = 0b101: one column, three switches. */
static void test_bits_and_words(void **state)
{
  (void)state;
  struct logged l = logged_new(LOG "    clutch_switch: {header: '^Flags$', bit: 0}\n"
                                   "    brake_switch: {header: '^Flags$', bit: 1}\n"
                                   "    neutral_switch: {header: '^Flags$', bit: 2, inverted: yes}\n"
                                   "    fuel_cut: {header: '^Cut$', values: {J: on, N: off}}\n"
                                   "    fan_output: {header: '^Fan$', inverted: yes}\n"
                                   "    gear: {header: '^Gear$', values: {N: 0, R: -1}}\n",
                               "time,Flags,Cut,Fan,Gear\n0,5,j,on,N\n1,0,N,off,3\n2,1.5,-,,R\n");
  assert_non_null(l.log);
  check_sample(&l, "clutch_switch", 0, "1", 1);
  check_sample(&l, "brake_switch", 0, "1", 0);
  check_sample(&l, "neutral_switch", 0, "1", 0);
  check_sample(&l, "neutral_switch", 1, "1", 1);
  check_sample(&l, "fuel_cut", 0, "1", 1);
  check_sample(&l, "fuel_cut", 1, "1", 0);
  check_sample(&l, "fan_output", 0, "1", 0);
  check_sample(&l, "fan_output", 1, "1", 1);
  check_sample(&l, "gear", 0, "1", 0);
  check_sample(&l, "gear", 1, "1", 3);
  check_sample(&l, "gear", 2, "1", -1);
  /* no whole number holds no bits */
  assert_int_equal(channel(&l, "clutch_switch")->known[2], 0);
  assert_int_equal(channel(&l, "fuel_cut")->known[2], 0);
  logged_free(&l);
}

/* The adapter's column is meant where another is called like the channel; other columns keep their names. */
static void test_beside_plain_names(void **state)
{
  (void)state;
  const char *text = "time,RPM,Main speed,ECT\n0,1,2,3\n";
  struct logged l = logged_new(LOG "    engine_speed: {header: '^Main'}\n", text);
  assert_non_null(l.log);
  check_sample(&l, "engine_speed", 0, "rpm", 2);
  check_sample(&l, "coolant_temperature", 0, "degC", 3);
  logged_free(&l);
  l = logged_new(START "log:\n  only: yes\n  rate: 10 Hz\n  channels:\n    engine_speed: {header: '^Main'}\n", text);
  assert_non_null(l.log);
  check_sample(&l, "engine_speed", 0, "rpm", 2);
  assert_null(channel(&l, "coolant_temperature"));
  logged_free(&l);
  /* not in this log: the plain name holds */
  l = logged_new(LOG "    engine_speed: {header: '^Other'}\n", text);
  assert_non_null(l.log);
  check_sample(&l, "engine_speed", 0, "rpm", 1);
  logged_free(&l);
}

static void test_rate(void **state)
{
  (void)state;
  struct logged l = logged_new(START "log: {rate: 20 Hz}\n", "RPM,ECT\n1,2\n3,4\n");
  assert_non_null(l.log);
  check_sample(&l, "time", 1, "s", 0.05);
  logged_free(&l);
}

static void test_refusals(void **state)
{
  (void)state;
  struct logged l = logged_new(LOG "    engine_speed: {header: 'speed'}\n", "time,speed 1,speed 2\n0,1,2\n");
  assert_null(l.log);
  assert_string_equal(run_said(&l.run), "1:14 'speed 2' two columns are 'engine_speed': 'speed 1' and 'speed 2' | take "
                                        "one of them out, or give it a name of its own");
  logged_free(&l);
  l = logged_new(LOG "    engine_speed: {header: '^Main'}\n", "time,Main (kPa)\n0,1\n");
  assert_null(l.log);
  assert_string_equal(run_said(&l.run),
                      "1:12 'kPa' 'kPa' is pressure, but 'engine_speed' is speed of rotation (in rpm) | -");
  logged_free(&l);
}

/* Headings as a plain on-board diagnostics logger writes them: the long names of SAE J1979 with "_", empty brackets for
 * the unit, blanks after commas and a comma at the end. J1979's units are the dictionary's. */
static void test_diagnostics_names(void **state)
{
  (void)state;
  static const struct {
    const char *heading, *name, *unit;
  } rows[] = {
      {"ENGINE_RPM ()", "engine_speed", "rpm"},
      {"VEHICLE_SPEED ()", "vehicle_speed", "km/h"},
      {"THROTTLE ()", "throttle_position", "%"},
      {"COOLANT_TEMPERATURE ()", "coolant_temperature", "degC"},
      {"LONG_TERM_FUEL_TRIM_BANK_1 ()", "long_term_fuel_trim", "%"},
      {"SHORT_TERM_FUEL_TRIM_BANK_1 ()", "short_term_fuel_trim", "%"},
      {"INTAKE_MANIFOLD_PRESSURE ()", "manifold_pressure", "kPa"},
      {"ABSOLUTE_BAROMETRIC_PRESSURE ()", "barometric_pressure", "kPa"},
      {"INTAKE_AIR_TEMP ()", "intake_air_temperature", "degC"},
      {"TIMING_ADVANCE ()", "spark_advance", "deg"},
      {"CONTROL_MODULE_VOLTAGE ()", "battery_voltage", "V"},
  };
  const size_t count = sizeof rows / sizeof *rows;
  char text[2048];
  size_t size = (size_t)sprintf(text, "TIME ()");
  for (size_t i = 0; i < count; i++)
    size += (size_t)sprintf(text + size, ",%s", rows[i].heading);
  size += (size_t)sprintf(text + size, ",FUEL_AIR_COMMANDED_EQUIV_RATIO (),\n0.000000");
  for (size_t i = 0; i < count; i++)
    size += (size_t)sprintf(text + size, ", %zu.500000", i + 1);
  sprintf(text + size, ", 1.0,\n");
  struct logged l = logged_new(NULL, text);
  assert_non_null(l.log);
  for (size_t i = 0; i < count; i++)
    check_sample(&l, rows[i].name, 0, rows[i].unit, (double)i + 1.5);
  /* An equivalence ratio is one over lambda, so it must not pass for it. */
  assert_null(channel(&l, "lambda"));
  assert_null(channel(&l, "lambda_target"));
  logged_free(&l);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_names_and_units),
      cmocka_unit_test(test_ratios_and_gauges),
      cmocka_unit_test(test_bits_and_words),
      cmocka_unit_test(test_beside_plain_names),
      cmocka_unit_test(test_rate),
      cmocka_unit_test(test_refusals),
      cmocka_unit_test(test_diagnostics_names),
  };
  return cmocka_run_group_tests_name("logs by adapters", tests, NULL, NULL);
}
