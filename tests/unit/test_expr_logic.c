/* Three-valued logic, as in S. C. Kleene, Introduction to Metamathematics (1952), section 64: every pair of true, false
 * and unknown, on settings and on channels; what is named as missing; and that a missing input is never taken for a
 * sample that is merely not there. */
#include "expr_help.h"

static const char *const settings = "protection.boost_cut: on\nfuel.overrun_cut: off\n";

/* Rows: every pair of true, false, missing. brake_switch is not in the log. */
static const char *const pairs = "time (s),fan_output,clutch_switch,gear\n"
                                 "0,1,1,1\n1,1,0,2\n2,1,,3\n3,0,1,4\n4,0,0,5\n5,0,,6\n6,,1,7\n7,,0,8\n8,,,9\n";

static const char *const on = "tune.protection.boost_cut", *const off = "tune.fuel.overrun_cut",
                         *const unset = "tune.launch.enabled";

struct truth {
  const char *format; /* of two operands */
  const char *states; /* TT TF T? FT FF F? ?T ?F ??: y, n or ? */
};

/* Kleene's strong connectives; == is unknown where either side is; otherwise and either as in rules/LANGUAGE.md. */
static const struct truth tables[] = {
    {"%s and %s", "yn?nnn?n?"},        {"%s or %s", "yyyyn?y??"},
    {"%s == %s", "yn?ny????"},         {"%s != %s", "ny?yn????"},
    {"either(%s, %s)", "yyyynnyn?"},   {"%s otherwise %s", "yyynnnyn?"},
    {"not %s or %s", "yn?yyyy??"},     {"if(%s, %s, true)", "yn?yyy???"},
    {"if(%s, true, %s)", "yyyyn????"}, {"known(%s) and known(%s)", "yynyynnnn"},
    {"not (%s and %s)", "ny?yyy?y?"},  {"(%s or %s) and true", "yyyyn?y??"},
};

static const char *fill(struct arena *arena, const char *format, const char *a, const char *b)
{
  const char *first = strstr(format, "%s"), *second = strstr(first + 1, "%s");
  return arena_print(arena, "%.*s%s%.*s%s%s", (int)(first - format), format, a, (int)(second - first) - 2, first + 2, b,
                     second + 2);
}

static void every_pair_of_settings(void **state)
{
  struct bench bench = bench_new(state, (struct given){.settings = settings});
  const char *const operands[] = {on, off, unset};
  for (size_t t = 0; t < sizeof tables / sizeof *tables; t++) {
    for (size_t pair = 0; pair < 9; pair++) {
      const char *text = fill(bench.arena, tables[t].format, operands[pair / 3], operands[pair % 3]);
      struct result result = bench_eval(&bench, text);
      char got = !result.known ? '?' : result.on ? 'y' : 'n';
      if (got != tables[t].states[pair])
        fail_msg("%s (pair %zu) is %c, not %c", text, pair, got, tables[t].states[pair]);
    }
  }
  bench_free(&bench);
}

static char state_of(const struct result *result, size_t row)
{
  if (!result->known || (result->series.known && !result->series.known[row]))
    return '?';
  return result->series.on[row] ? 'y' : 'n';
}

static void every_pair_of_samples(void **state)
{
  struct bench bench = bench_new(state, (struct given){.settings = settings, .log = pairs});
  for (size_t t = 0; t < sizeof tables / sizeof *tables; t++) {
    const char *text = fill(bench.arena, tables[t].format, "log.fan_output", "log.clutch_switch");
    struct result result = bench_eval(&bench, text);
    assert_true(result.known);
    assert_int_equal(result.series.count, 9);
    for (size_t row = 0; row < 9; row++) {
      if (state_of(&result, row) != tables[t].states[row])
        fail_msg("%s in row %zu is %c, not %c", text, row, state_of(&result, row), tables[t].states[row]);
    }
  }
  bench_free(&bench);
}

/* A setting beside a channel stands for the same state in every row; also on the left and on the right. */
static void a_setting_beside_a_channel(void **state)
{
  struct bench bench = bench_new(state, (struct given){.settings = settings, .log = pairs});
  const char *const operands[] = {on, off, unset};
  for (size_t t = 0; t < sizeof tables / sizeof *tables; t++) {
    for (size_t scalar = 0; scalar < 3; scalar++) {
      for (int swapped = 0; swapped < 2; swapped++) {
        const char *text = swapped ? fill(bench.arena, tables[t].format, "log.clutch_switch", operands[scalar])
                                   : fill(bench.arena, tables[t].format, operands[scalar], "log.clutch_switch");
        struct result result = bench_eval(&bench, text);
        for (size_t row = 0; row < 3; row++) { /* clutch_switch is true, false, missing */
          char wanted = tables[t].states[swapped ? row * 3 + scalar : scalar * 3 + row];
          char got = state_of(&result, row);
          bool whole = !result.known; /* a setting that lacks may leave the whole series unknown */
          if (got != wanted && !(whole && scalar == 2))
            fail_msg("%s in row %zu is %c, not %c", text, row, got, wanted);
        }
      }
    }
  }
  bench_free(&bench);
}

struct row {
  const char *text, *wanted; /* a value, or what it lacks after "?" */
};

static void expect_rows(struct bench *bench, const struct row *rows, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    struct result result = bench_eval(bench, rows[i].text);
    const char *got = result.known ? bench_print(bench, &result, expr_type(bench->last))
                                   : arena_print(bench->arena, "? %s", bench_missing(bench, rows[i].text));
    if (strcmp(got, rows[i].wanted) != 0)
      fail_msg("%s\n    is %s\n   not %s", rows[i].text, got, rows[i].wanted);
  }
}

/* What a channel would have said that the log has not is not known: no condition over the whole log may come out as if
 * its samples had merely been missing. */
static void a_channel_that_the_log_lacks(void **state)
{
  static const struct row rows[] = {
      {"any(log.brake_switch)", "? log.brake_switch"},
      {"any(log.fan_output and log.brake_switch)", "? log.brake_switch"},
      {"any(log.brake_switch and log.fan_output)", "? log.brake_switch"},
      {"all(log.fan_output and log.brake_switch)", "no"},
      {"any(log.fan_output or log.brake_switch)", "yes"},
      {"all(log.fan_output or log.brake_switch)", "? log.brake_switch"},
      {"not any(log.fan_output and log.brake_switch)", "? log.brake_switch"},
      {"any(not (log.fan_output or log.brake_switch))", "? log.brake_switch"},
      {"all(not (log.fan_output and log.brake_switch))", "? log.brake_switch"},
      {"any(log.fan_output and log.brake_switch and log.clutch_switch)", "? log.brake_switch"},
      {"any((log.fan_output and log.brake_switch) or log.gear == 4)", "yes"},
      {"any((log.fan_output and log.brake_switch) or log.gear > 99)", "? log.brake_switch"},
      {"all((log.fan_output or log.brake_switch) and log.gear > 0)", "? log.brake_switch"},
      {"all((log.fan_output or log.brake_switch) and log.gear > 1)", "no"},
      {"any(false and log.brake_switch)", "no"},
      {"all(true or log.brake_switch)", "yes"},
      {"any(log.gear > 99 and log.brake_switch)", "no"},
      {"all(log.gear > 0 or log.brake_switch)", "yes"},
      {"count(log.fan_output and log.brake_switch)", "? log.brake_switch"},
      {"duration(log.fan_output and log.brake_switch)", "? log.brake_switch"},
      {"share(log.fan_output and log.brake_switch)", "? log.brake_switch"},
      {"count(spans(log.fan_output or log.brake_switch, 1 s))", "? log.brake_switch"},
      {"count(where(log.gear, log.fan_output and log.brake_switch))", "? log.brake_switch"},
      {"mean(if(log.fan_output and log.brake_switch, log.gear, log.gear))", "? log.brake_switch"},
      {"any(delay(log.fan_output and log.brake_switch, 1 s))", "? log.brake_switch"},
      {"any(past_max(log.fan_output and log.brake_switch, 1 s))", "? log.brake_switch"},
      {"any((log.fan_output and log.brake_switch) == log.clutch_switch)", "? log.brake_switch"},
      {"any((log.fan_output and log.brake_switch) otherwise false)", "no"},
      {"all((log.fan_output or log.brake_switch) otherwise log.clutch_switch)", "no"},
      {"any((log.fan_output and log.brake_switch) otherwise log.brake_switch)", "? log.brake_switch"},
      {"count(known(log.fan_output and log.brake_switch))", "3"},
      {"any(either(log.fan_output, log.brake_switch))", "yes"},
      {"any(either(log.gear > 99, log.brake_switch))", "no"},
      {"any(log.fan_output and tune.launch.enabled)", "? tune.launch.enabled"},
      {"any(log.fan_output and tune.launch.enabled and log.brake_switch)", "? tune.launch.enabled; log.brake_switch"},
      {"any(log.fan_output and log.gear > tune.idle.cranking_duty(1 degC))", "? tune.idle.cranking_duty"},
      {"any(log.fan_output and log.battery_voltage > 3 V)", "? log.battery_voltage"},
      {"mean(log.battery_voltage)", "? log.battery_voltage"},
      {"mean(log.battery_voltage otherwise 12 V)", "12 V"},
      {"mean(log.gear otherwise log.sync_loss_count)", "5"},
      {"mean(12 V otherwise log.battery_voltage)", "12 V"},
      {"max(13 V otherwise log.battery_voltage)", "13 V"},
      {"count(tune.injector.rated_pressure otherwise log.manifold_pressure)", "? log.manifold_pressure"},
      {"any(tune.protection.boost_cut otherwise log.fan_output)", "yes"},
      {"known(log.battery_voltage)", "no, no, no, no, no, no, no, no, no"},
      {"any(known(log.battery_voltage))", "no"},
  };
  struct bench bench = bench_new(state, (struct given){.settings = settings, .log = pairs});
  expect_rows(&bench, rows, sizeof rows / sizeof *rows);
  bench_free(&bench);
}

static void no_log_at_all(void **state)
{
  static const struct row rows[] = {
      {"any(log.fan_output)", "? log.fan_output"},
      {"any(log.fan_output and log.clutch_switch)", "? log.fan_output; log.clutch_switch"},
      {"any(log.fan_output or log.fan_output)", "? log.fan_output"},
      {"tune.fuel.overrun_cut and any(log.fan_output)", "no"},
      {"tune.protection.boost_cut or any(log.fan_output)", "yes"},
      {"any(log.fan_output) and tune.fuel.overrun_cut", "no"},
      {"tune.protection.boost_cut and any(log.fan_output)", "? log.fan_output"},
      {"any(log.fan_output) otherwise false", "no"},
      {"known(any(log.fan_output))", "no"},
      {"mean(log.gear) otherwise 3", "3"},
      {"either(any(log.fan_output), tune.protection.boost_cut)", "yes"},
      {"either(any(log.fan_output), tune.launch.enabled)", "? log.fan_output; tune.launch.enabled"},
      {"if(tune.protection.boost_cut, 1, mean(log.gear))", "1"},
      {"if(tune.fuel.overrun_cut, 1, mean(log.gear))", "? log.gear"},
      {"if(tune.launch.enabled, 1, 2)", "? tune.launch.enabled"},
      {"mean(3 otherwise log.gear)", "? a usable sample of log.gear"},
  };
  struct bench bench = bench_new(state, (struct given){.settings = settings});
  expect_rows(&bench, rows, sizeof rows / sizeof *rows);
  bench_free(&bench);
}

/* Every missing input is named, each once, in the order in which it is read. */
static void missing_inputs_are_named(void **state)
{
  static const struct row rows[] = {
      {"tune.ignition.fixed_advance + tune.ignition.trigger_offset",
       "? tune.ignition.fixed_advance; tune.ignition.trigger_offset"},
      {"tune.ignition.fixed_advance + tune.ignition.fixed_advance", "? tune.ignition.fixed_advance"},
      {"tune.ignition.fixed_advance > 3 deg and tune.launch.enabled",
       "? tune.ignition.fixed_advance; tune.launch.enabled"},
      {"not tune.launch.enabled", "? tune.launch.enabled"},
      {"max(tune.ignition.fixed_advance, job.engine.cylinders * 1 deg)",
       "? tune.ignition.fixed_advance; job.engine.cylinders"},
      {"tune.ignition.coolant_correction(job.site.coldest_temperature)",
       "? tune.ignition.coolant_correction; job.site.coldest_temperature"},
      {"tune.ignition.fixed_advance otherwise tune.ignition.trigger_offset", "? tune.ignition.trigger_offset"},
      {"mean(job.coolant.measured)", "? job.coolant"},
      {"slope(job.coolant.measured, job.coolant.logged)", "? job.coolant"},
      {"count(job.coolant)", "? job.coolant"},
      {"pin_of(tune.inputs, \"clutch_switch\") == \"IN1\"", "? tune.inputs"},
      {"before.ignition.fixed_advance == tune.ignition.fixed_advance",
       "? before.ignition.fixed_advance; tune.ignition.fixed_advance"},
      {"count(changes())", "? the settings file as it was before"},
      {"count(axis_steps())", "? a curve or table in the settings"},
      {"tune.ignition.timing_mode in [\"table\"]", "? tune.ignition.timing_mode"},
      {"tune.engine.firing_order == job.engine.firing_order", "? tune.engine.firing_order; job.engine.firing_order"},
  };
  struct bench bench = bench_new(state, (struct given){.settings = settings});
  expect_rows(&bench, rows, sizeof rows / sizeof *rows);
  bench_free(&bench);
}

/* Readings have rows of their own; a field may be left out of a record. */
static void records_that_lack_a_field(void **state)
{
  static const struct row rows[] = {
      {"any(job.coolant.measured > 70 degC)", "no"},
      {"all(job.coolant.measured > 30 degC)", "yes"},
      {"count(job.coolant.measured)", "2"},
      {"job.coolant.measured - job.coolant.logged", "?, ?, -2 K"},
      {"job.coolant.measured otherwise 20 degC", "20 degC, 40 degC, 60 degC"},
      {"mean(where(job.coolant.measured, job.coolant.logged > 50 degC))", "60 degC"},
      {"any(job.coolant.measured > 30 degC and log.gear > 3)", "!"},
  };
  struct bench bench = bench_new(
      state, (struct given){.settings = settings,
                            .job = "readings:\n  coolant: [{logged: 20 degC}, {measured: 40 degC}, {measured: 60 degC, "
                                   "logged: 62 degC}]\n"});
  size_t count = sizeof rows / sizeof *rows;
  expect_rows(&bench, rows, count - 1);
  assert_null(bench_compile(&bench, rows[count - 1].text, NULL));
  bench_free(&bench);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_pair_of_settings),
      cmocka_unit_test(every_pair_of_samples),
      cmocka_unit_test(a_setting_beside_a_channel),
      cmocka_unit_test(a_channel_that_the_log_lacks),
      cmocka_unit_test(no_log_at_all),
      cmocka_unit_test(missing_inputs_are_named),
      cmocka_unit_test(records_that_lack_a_field),
  };
  return cmocka_run_group_tests_name("expr logic", tests, dictionary_open, dictionary_close);
}
