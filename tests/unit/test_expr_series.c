/* Functions that go by the time of the log, on logs made by hand with gaps, repeated times, time that runs backwards
 * and missing samples; and what must not change when the same drive is logged in another way. The expected values are
 * worked out by hand from the definitions in rules/LANGUAGE.md (common practice, no source). */
#include "expr_help.h"

struct row {
  const char *expr, *shown;
};

static void expect_rows(void **state, const char *log, const struct row *rows, size_t count)
{
  struct bench bench = bench_new(state, (struct given){.log = log});
  for (size_t i = 0; i < count; i++)
    expect_shown(&bench, rows[i].expr, rows[i].shown);
  bench_free(&bench);
}
#define EXPECT_ROWS(state, log, ...)                             \
  expect_rows((state), (log), (const struct row[]){__VA_ARGS__}, \
              sizeof((const struct row[]){__VA_ARGS__}) / sizeof(struct row))

/* 2 Hz. From 1.5 s to 10 s nothing is logged: more than 1 s and than five usual steps. */
static void nothing_reaches_across_a_gap(void **state)
{
  EXPECT_ROWS(
      state, "time (s),gear,fan_output\n0,1,1\n0.5,2,1\n1,4,1\n1.5,8,1\n10,16,1\n10.5,32,1\n11,64,0\n",
      {"delay(log.gear, 0.5 s)", "?, 1, 2, 4, ?, 16, 32"}, {"delay(log.gear, 0.75 s)", "?, ?, 1.5, 3, ?, ?, 24"},
      {"delay(log.gear, 0 s)", "1, 2, 4, 8, 16, 32, 64"}, {"delay(log.fan_output, 0.6 s)", "?, ?, yes, yes, ?, ?, yes"},
      {"smooth(log.gear, 1 s)", "1.5, 2.33333, 4.66667, 6, 24, 37.3333, 48"},
      {"smooth(log.gear, 0 s)", "1, 2, 4, 8, 16, 32, 64"},
      {"rate(log.gear)", "2 Hz, 3 Hz, 6 Hz, 8 Hz, 32 Hz, 48 Hz, 64 Hz"},
      {"past_max(log.gear, 1 s)", "1, 2, 4, 8, 16, 32, 64"}, {"past_min(log.gear, 1 s)", "1, 1, 1, 2, 16, 16, 16"},
      {"next_max(log.gear, 1 s)", "4, 8, 8, 8, 64, 64, 64"}, {"next_min(log.gear, 20 s)", "1, 2, 4, 8, 16, 32, 64"},
      {"past_min(log.fan_output, 1 s)", "yes, yes, yes, yes, yes, yes, no"},
      {"next_max(log.fan_output, 1 s)", "yes, yes, yes, yes, yes, yes, no"}, {"duration(log.fan_output)", "2.5 s"},
      {"share(log.fan_output)", "100 %"}, {"duration(log.gear >= 32)", "0.5 s"}, {"duration(log.gear > 0)", "2.5 s"},
      {"each s in spans(log.fan_output, 0.5 s): s.start", "0 s; 10 s"},
      {"each s in spans(log.fan_output, 0.5 s): s.end", "1.5 s; 10.5 s"},
      {"each s in spans(log.fan_output, 1 s): s.duration", "1.5 s"},
      {"each s in spans(log.fan_output, 0.5 s): max(during(s, log.gear))", "8; 32"}, {"at(log.gear, 0.25 s)", "1.5"},
      {"at(log.gear, 1.5 s)", "8"}, {"at(log.gear, 5 s)", "?"}, {"at(log.gear, 11 s)", "64"},
      {"at(log.gear, 11.1 s)", "?"}, {"at(log.gear, -1 s)", "?"});
}

/* A step in a log of few rows is no gap while it is within five usual steps. */
static void slow_logs_have_long_steps(void **state)
{
  EXPECT_ROWS(state, "time (s),gear\n0,1\n2,2\n4,3\n13,4\n24,5\n",
              {"rate(log.gear)", "0.5 Hz, 0.5 Hz, 0.181818 Hz, 0.1 Hz, 0.0909091 Hz"},
              {"duration(log.gear > 1)", "22 s"}, {"each s in spans(log.gear > 1, 1 s): s.duration", "22 s"});
}

static void times_may_repeat(void **state)
{
  EXPECT_ROWS(state, "time (s),gear,fan_output\n0,1,0\n0.5,2,1\n0.5,3,1\n1,4,0\n1.5,5,1\n1.5,6,1\n",
              {"delay(log.gear, 0.5 s)", "?, 1, 1, 3, 4, 4"}, {"delay(log.gear, 0 s)", "1, 2, 3, 4, 5, 6"},
              {"smooth(log.gear, 0 s)", "1, 2.5, 2.5, 4, 5.5, 5.5"},
              {"rate(log.gear)", "2 Hz, 3 Hz, 3 Hz, 2 Hz, 2 Hz, 4 Hz"}, {"duration(log.fan_output)", "0.5 s"},
              {"share(log.fan_output)", "33.3333 %"}, {"each s in spans(log.fan_output, 0 s): s.duration", "0 s; 0 s"},
              {"at(log.gear, 0.5 s)", "2"});
}

/* A clock that was set back starts a new stretch; each stretch keeps its own times. */
static void time_may_run_backwards(void **state)
{
  EXPECT_ROWS(state, "time (s),gear,fan_output\n0,1,1\n0.5,2,1\n1,3,1\n0.25,4,1\n0.75,5,1\n1.25,6,1\n",
              {"delay(log.gear, 0.5 s)", "?, 1, 2, ?, 4, 5"}, {"smooth(log.gear, 1 s)", "1.5, 2, 2.5, 4.5, 5, 5.5"},
              {"rate(log.gear)", "2 Hz, 2 Hz, 2 Hz, 2 Hz, 2 Hz, 2 Hz"}, {"duration(log.fan_output)", "2 s"},
              {"past_max(log.gear, 1 s)", "1, 2, 3, 4, 5, 6"}, {"past_min(log.gear, 10 s)", "1, 1, 1, 4, 4, 4"},
              {"each s in spans(log.fan_output, 0.5 s): s.start", "0 s; 0.25 s"},
              {"each s in spans(log.fan_output, 0.5 s): s.duration", "1 s; 1 s"}, {"at(log.gear, 1.25 s)", "6"});
}

/* A row whose time is missing stands at the time of the row before. */
static void a_time_may_be_missing(void **state)
{
  EXPECT_ROWS(state, "time (s),gear,fan_output\n0,1,1\n0.5,2,1\n,3,1\n1,4,1\n1.5,5,1\n",
              {"duration(log.fan_output)", "1.5 s"}, {"each s in spans(log.fan_output, 0.5 s): s.duration", "1.5 s"},
              {"delay(log.gear, 0.5 s)", "?, 1, 1, 3, 4"}, {"past_max(log.gear, 0.5 s)", "1, 2, 3, 4, 5"});
}

/* Missing samples are bridged for no more than 1 s (one row is always bridged by its neighbours when they are near). */
static void missing_samples(void **state)
{
  EXPECT_ROWS(state, "time (s),gear,fan_output\n0,1,1\n0.5,,\n1,3,1\n1.5,,\n2,,\n2.5,,\n3,7,1\n3.5,8,0\n",
              {"delay(log.gear, 0.5 s)", "?, 1, 2, 3, ?, ?, ?, 7"},
              {"delay(log.fan_output, 0.5 s)", "?, yes, yes, yes, yes, yes, ?, yes"},
              {"smooth(log.gear, 1 s)", "1, 2, 3, 3, ?, 7, 7.5, 7.5"},
              {"rate(log.gear)", "2 Hz, ?, 2 Hz, ?, ?, ?, 2 Hz, 2 Hz"},
              {"past_max(log.gear, 0.5 s)", "1, 1, 3, 3, ?, ?, 7, 8"}, {"duration(log.fan_output)", "1.5 s"},
              {"share(log.fan_output)", "100 %"}, {"count(log.gear)", "4"}, {"count(log.fan_output)", "3"},
              {"each s in spans(log.fan_output, 0.5 s): s.start", "0 s"},
              {"each s in spans(log.fan_output, 0 s): s.start", "0 s; 3 s"},
              {"each s in spans(log.fan_output, 0.5 s): s.end", "1 s"}, {"at(log.gear, 0.5 s)", "2"},
              {"at(log.gear, 2 s)", "?"}, {"known(log.gear)", "yes, no, yes, no, no, no, yes, yes"},
              {"all(log.fan_output)", "no"}, {"first(log.gear)", "1"});
}

/* A channel that is logged five times slower than the rows. */
static void slow_channels_in_fast_logs(void **state)
{
  EXPECT_ROWS(
      state,
      "time (s),gear,coolant_temperature "
      "(degC)\n0,1,80\n0.1,1,\n0.2,1,\n0.3,1,\n0.4,1,\n0.5,1,81\n0.6,1,\n0.7,1,\n0.8,1,\n0.9,1,\n1,1,83\n",
      {"rate(log.coolant_temperature)", "2 K/s, ?, ?, ?, ?, 3 K/s, ?, ?, ?, ?, 4 K/s"},
      {"delay(log.coolant_temperature, 0.1 s)",
       "?, 80 degC, 80.2 degC, 80.4 degC, 80.6 degC, 80.8 degC, 81 degC, 81.4 degC, 81.8 degC, 82.2 degC, 82.6 degC"},
      {"at(log.coolant_temperature, 0.75 s)", "82 degC"});
}

/* The times of these rows are no exact numbers of a computer: 0.3 - 0.1 is less than 0.2 there. Samples that a person
 * sees exactly t apart are t apart. */
static void times_are_decimals(void **state)
{
  char log[4096];
  size_t used = (size_t)snprintf(log, sizeof log, "time (s),gear,fan_output,knock_count\n");
  for (int i = 0; i < 100; i++)
    used += (size_t)snprintf(log + used, sizeof log - used, "%d.%d,%d,%d,%s\n", 51234 + i / 10, i % 10, i, i % 2,
                             i % 3 == 0 ? "1" : "");
  struct bench bench = bench_new(state, (struct given){.log = log});
  for (int steps = 1; steps <= 30; steps++) {
    const char *time = arena_print(bench.arena, "%d.%d s", steps / 10, steps % 10);
    struct result delayed = bench_eval(&bench, arena_print(bench.arena, "delay(log.gear, %s)", time)),
                  state_then = bench_eval(&bench, arena_print(bench.arena, "delay(log.fan_output, %s)", time)),
                  past = bench_eval(&bench, arena_print(bench.arena, "past_min(log.gear, %s)", time)),
                  ahead = bench_eval(&bench, arena_print(bench.arena, "next_max(log.gear, %s)", time)),
                  near = bench_eval(&bench, arena_print(bench.arena, "smooth(log.gear, 2 * %s)", time));
    for (int i = 0; i < 100; i++) {
      size_t at = (size_t)i;
      assert_int_equal(delayed.series.known[at], i >= steps);
      assert_int_equal(state_then.series.known[at], i >= steps);
      if (i >= steps) {
        expect_near("delay", delayed.series.at[at], i - steps, 1e-6);
        assert_int_equal(state_then.series.on[at], (i - steps) % 2);
      }
      assert_true(past.series.at[at] == (i > steps ? i - steps : 0));
      assert_true(ahead.series.at[at] == (i + steps < 99 ? i + steps : 99));
      double low = i > steps ? i - steps : 0, high = i + steps < 99 ? i + steps : 99;
      expect_near("smooth", near.series.at[at], (low + high) / 2, 1e-12);
    }
  }
  expect_shown(&bench, "duration(log.gear < 37) == 3.7 s", "yes");
  expect_shown(&bench, "duration(log.gear < 37) > 3.7 s", "no");
  expect_shown(&bench, "count(spans(log.gear >= 20 and log.gear <= 57, 3.7 s))", "1");
  expect_shown(&bench, "count(spans(log.gear >= 20 and log.gear <= 57, 3.701 s))", "0");
  expect_shown(
      &bench, "each s in spans(log.gear >= 20 and log.gear <= 57, 1 s): s.duration >= 3.7 s and s.start == 2 s", "yes");
  for (int i = 0; i < 100; i += 3)
    expect_shown(&bench, arena_print(bench.arena, "at(log.knock_count, %d.%d s)", i / 10, i % 10), "1");
  bench_free(&bench);
}

/* What cannot be: a window that is less than nothing. */
static void times_below_zero(void **state)
{
  static const char *const functions[] = {"delay", "smooth", "past_min", "past_max", "next_min", "next_max"};
  struct bench bench = bench_new(state, (struct given){.log = "time (s),gear\n0,1\n1,2\n2,3\n"});
  for (size_t i = 0; i < sizeof functions / sizeof *functions; i++) {
    expect_missing(&bench, arena_print(bench.arena, "%s(log.gear, -1 s)", functions[i]), "a time that is not below 0");
    expect_missing(&bench, arena_print(bench.arena, "%s(log.gear, at(log.gear, 9 s) * 1 s)", functions[i]),
                   "a usable sample of log.gear");
  }
  expect_shown(&bench, "count(spans(log.gear > 1, -1 s))", "1");
  bench_free(&bench);
}

/* No log at all, or one of a single row. */
static void little_or_no_log(void **state)
{
  struct bench bench = bench_new(state, (struct given){.log = NULL});
  expect_missing(&bench, "delay(log.gear, 1 s)", "log.gear");
  expect_missing(&bench, "duration(log.gear > 1)", "log.gear");
  expect_missing(&bench, "spans(log.gear > 1, 1 s)", "log.gear");
  expect_missing(&bench, "ramp(0 s, 1 s, 0, 1)", "log.time");
  expect_missing(&bench, "noise(1)", "log.time");
  expect_missing(&bench, "mean(if(true, 1, log.gear))", "a usable sample of log.gear");
  bench_free(&bench);
  EXPECT_ROWS(state, "time (s),gear,fan_output\n0,5,1\n", {"delay(log.gear, 0 s)", "5"}, {"delay(log.gear, 1 s)", "?"},
              {"smooth(log.gear, 1 s)", "5"}, {"rate(log.gear)", "?"}, {"duration(log.fan_output)", "0 s"},
              {"share(log.fan_output)", "?"}, {"at(log.gear, 0 s)", "5"}, {"count(spans(log.fan_output, 0 s))", "1"},
              {"ramp(0 s, 0 s, 1, 2)", "2"}, {"past_max(log.gear, 1 s)", "5"});
}

/* ---- the same drive, logged in another way */

struct drive {
  double from; /* s, of the first row's clock */
  int repeat;  /* each row so often, with the same time */
  int finer;   /* rows between two, by straight line */
};

static double wave(double t)
{
  return 40 + 25 * sin(t / 3) + 12 * sin(t * 1.7);
}

static const char *drive_log(struct arena *arena, struct drive drive)
{
  size_t rows = 600, room = rows * 100 * (size_t)(drive.repeat * drive.finer), used = 0;
  char *log = arena_alloc(arena, room + 100);
  used += (size_t)snprintf(log, room, "time (s),manifold_pressure (kPa),spark_advance (deg)\n");
  for (size_t i = 0; i + 1 < rows * (size_t)drive.finer; i++) {
    double step = (double)i / drive.finer, part = step - floor(step), low = floor(step) / 10;
    double pressure = wave(low) + part * (wave(low + 0.1) - wave(low));
    double advance =
        (1 - part) * (40 - 0.2 * wave(low) + sin(low)) + part * (40 - 0.2 * wave(low + 0.1) + sin(low + 0.1));
    for (int k = 0; k < drive.repeat; k++)
      used += (size_t)snprintf(log + used, room - used, "%.6f,%.9f,%.9f\n", drive.from + step / 10, pressure, advance);
  }
  return log;
}

static const struct row drive_expressions[] = {
    /* expression, how far it may be off */
    {"mean(log.manifold_pressure)", "0.1"},
    {"median(log.manifold_pressure)", "0.3"},
    {"sd(log.manifold_pressure)", "0.1"},
    {"percentile(log.manifold_pressure, 95 %)", "0.3"},
    {"max(log.manifold_pressure)", "0"},
    {"slope(log.spark_advance, log.manifold_pressure)", "0.0005"},
    {"robust_slope(log.spark_advance, log.manifold_pressure)", "0.005"},
    {"correlation(log.spark_advance, log.manifold_pressure)", "0.001"},
    {"duration(log.manifold_pressure > 60 kPa)", "0.6"},
    {"share(log.manifold_pressure > 60 kPa)", "1"},
    {"count(spans(log.manifold_pressure > 60 kPa, 0.5 s))", "0"},
    {"max(smooth(log.manifold_pressure, 1 s))", "0.4"},
    {"max(rate(log.manifold_pressure))", "1.5"},
    {"mean(log.manifold_pressure - delay(log.manifold_pressure, 0.4 s))", "0.05"},
    {"max(past_min(log.manifold_pressure, 1 s))", "0.5"},
    {"at(log.manifold_pressure, 17.3 s)", "0.001"},
};

enum { DRIVE_EXPRESSIONS = sizeof drive_expressions / sizeof *drive_expressions };

static void drive_values(void **state, struct drive drive, double *out)
{
  struct arena *arena = arena_new();
  struct bench bench = bench_new(state, (struct given){.log = drive_log(arena, drive)});
  for (size_t i = 0; i < DRIVE_EXPRESSIONS; i++) {
    struct result result = bench_eval(&bench, drive_expressions[i].expr);
    assert_true(result.known);
    out[i] = result_quantity(bench.arena, &result, expr_type(bench.last)).value;
    const struct unit *unit = result_quantity(bench.arena, &result, expr_type(bench.last)).unit;
    out[i] = unit_from_base(unit, out[i]);
  }
  bench_free(&bench);
  arena_free(arena);
}

static void compare_drives(void **state, struct drive other, double scale)
{
  double usual[DRIVE_EXPRESSIONS], changed[DRIVE_EXPRESSIONS];
  drive_values(state, (struct drive){0, 1, 1}, usual);
  drive_values(state, other, changed);
  for (size_t i = 0; i < DRIVE_EXPRESSIONS; i++) {
    double allowed = scale * strtod(drive_expressions[i].shown, NULL) + 1e-5 * (1 + fabs(usual[i]));
    if (!(fabs(usual[i] - changed[i]) <= allowed))
      fail_msg("%s: %g and %g", drive_expressions[i].expr, usual[i], changed[i]);
  }
}

static void a_clock_that_starts_elsewhere_changes_nothing(void **state)
{
  compare_drives(state, (struct drive){43000.7, 1, 1}, 0);
}

static void rows_written_twice_change_next_to_nothing(void **state)
{
  compare_drives(state, (struct drive){0, 2, 1}, 1);
}

static void twice_as_many_rows_change_little(void **state)
{
  compare_drives(state, (struct drive){0, 1, 2}, 1);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(nothing_reaches_across_a_gap),
      cmocka_unit_test(slow_logs_have_long_steps),
      cmocka_unit_test(times_may_repeat),
      cmocka_unit_test(time_may_run_backwards),
      cmocka_unit_test(a_time_may_be_missing),
      cmocka_unit_test(missing_samples),
      cmocka_unit_test(slow_channels_in_fast_logs),
      cmocka_unit_test(times_are_decimals),
      cmocka_unit_test(times_below_zero),
      cmocka_unit_test(little_or_no_log),
      cmocka_unit_test(a_clock_that_starts_elsewhere_changes_nothing),
      cmocka_unit_test(rows_written_twice_change_next_to_nothing),
      cmocka_unit_test(twice_as_many_rows_change_little),
  };
  return cmocka_run_group_tests_name("expr series", tests, dictionary_open, dictionary_close);
}
