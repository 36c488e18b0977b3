/* The summary of a log. Means against the certified values of NIST StRD (univariate: NumAcc3, NumAcc4); the rest
 * against numpy, as said beside each check. */
#include "model/survey.h"

#include "model/subject.h"
#include "read/log.h"
#include "read/vocabulary.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>

#include <cmocka.h>

struct bench {
  struct arena *arena;
  struct sources *sources;
  const struct vocabulary *vocabulary;
};

static int setup(void **state)
{
  struct bench *bench = test_malloc(sizeof *bench);
  struct problems problems;
  bench->arena = arena_new();
  bench->sources = sources_new(bench->arena);
  problems_init(&problems, bench->arena, PROBLEM_OF_PACK);
  const struct source *source = sources_open(bench->sources, "rules/dictionary.yaml", 8u << 20, &problems);
  assert_non_null(source);
  bench->vocabulary = vocabulary_read(bench->arena, source, &problems);
  assert_non_null(bench->vocabulary);
  *state = bench;
  return 0;
}

static int teardown(void **state)
{
  struct bench *bench = *state;
  arena_free(bench->arena);
  test_free(bench);
  return 0;
}

static const struct survey *survey_with(struct bench *bench, const char *text, struct log_options options)
{
  struct problems problems;
  problems_init(&problems, bench->arena, PROBLEM_OF_INPUT);
  const struct source *source = sources_memory(bench->sources, "log.csv", slice_of(text));
  const struct log *log = log_read(bench->arena, bench->vocabulary, source, &options, &problems);
  assert_non_null(log);
  sources_name(bench->sources, NULL);
  return survey_read(bench->arena, bench->vocabulary, log, bench->sources);
}

static const struct survey *survey(struct bench *bench, const char *text)
{
  return survey_with(bench, text, (struct log_options){.rate = 0});
}

/* A log of one channel, a sample each 0.1 s; longest: so many rows. */
static char *rows(struct bench *bench, size_t count, const char *(*cell)(struct bench *bench, size_t row))
{
  size_t size = 0, room = 64 + count * 40;
  char *text = arena_alloc(bench->arena, room);
  size += (size_t)snprintf(text, room, "time [s],engine_speed [rpm],battery_voltage [V]\n");
  for (size_t i = 0; i < count; i++)
    size +=
        (size_t)snprintf(text + size, room - size, "%zu.%zu,%s,%s\n", i / 10, i % 10, cell(bench, i), cell(bench, i));
  return text;
}

/* NIST StRD NumAcc4: 10000000.2, then 10000000.1 and 10000000.3 in turn, 1001 in all; certified mean 10000000.2. */
static const char *num_acc_4(struct bench *bench, size_t row)
{
  (void)bench;
  return row == 0 ? "10000000.2" : row % 2 == 1 ? "10000000.1" : "10000000.3";
}

/* NIST StRD NumAcc3: the same around 1000000.2. */
static const char *num_acc_3(struct bench *bench, size_t row)
{
  (void)bench;
  return row == 0 ? "1000000.2" : row % 2 == 1 ? "1000000.1" : "1000000.3";
}

static void test_means_of_nist(void **state)
{
  struct bench *bench = *state;
  const struct survey *four = survey(bench, rows(bench, 1001, num_acc_4));
  const struct survey *three = survey(bench, rows(bench, 1001, num_acc_3));
  assert_int_equal(four->channel_count, 2);
  /* Volts are base units: the mean to the last bit but what the decimals themselves lack. */
  assert_float_equal(four->channels[1].mean, 10000000.2, 2e-9);
  assert_float_equal(three->channels[1].mean, 1000000.2, 2e-10);
  assert_int_equal(four->channels[1].distinct, 3);
  assert_float_equal(four->channels[1].resolution, 0.1, 4e-9);
  assert_int_equal(four->channels[1].known, 1001);
}

/* Sums beyond the digits of a double: 1e16, then 0.1 a hundred times, then -1e16; exactly 10 over 102 but for what 0.1
 * lacks. Python: float(sum(map(Fraction, [1e16] + [0.1] * 100 + [-1e16])) / 102) is 0.09803921568627451. */
static const char *far_apart(struct bench *bench, size_t row)
{
  (void)bench;
  return row == 0 ? "1e16" : row == 101 ? "-1e16" : "0.1";
}

static void test_nothing_cancels(void **state)
{
  struct bench *bench = *state;
  const struct survey *all = survey(bench, rows(bench, 102, far_apart));
  assert_true(all->channels[1].mean == 0.09803921568627451);
}

/* 10 000 rows are three blocks; a different number in each, so that all are told apart and the extremes lie at known
 * places. */
static const char *shuffled(struct bench *bench, size_t row)
{
  return arena_print(bench->arena, "%zu.5", row * 7919 % 10000);
}

static void test_more_than_one_block(void **state)
{
  struct bench *bench = *state;
  const struct survey *all = survey(bench, rows(bench, 10000, shuffled));
  const struct survey_channel *volts = &all->channels[1];
  assert_int_equal(all->rows, 10000);
  assert_int_equal(volts->distinct, 10000);
  assert_false(volts->distinct_more);
  assert_true(volts->resolution == 1);
  assert_true(volts->least == 0.5 && volts->greatest == 9999.5);
  assert_true(volts->least_time == 0);
  /* Python: max(range(10000), key=lambda i: i * 7919 % 10000) is 2321. */
  assert_float_equal(volts->greatest_time, 232.1, 1e-9);
  assert_true(volts->mean == 5000);
  assert_true(volts->still == 0);
}

/* However the columns are kept, the same comes out, to the last bit. */
static void test_packed_columns(void **state)
{
  struct bench *bench = *state;
  const char *text = rows(bench, 10000, shuffled);
  const struct survey *plain = survey(bench, text);
  const struct survey *packed =
      survey_with(bench, text, (struct log_options){.array_rows = 1, .memory_bytes = 1, .piece_bytes = 1000});
  assert_int_equal(packed->rows, plain->rows);
  assert_true(packed->duration == plain->duration && packed->step == plain->step);
  assert_int_equal(packed->channel_count, 2);
  for (size_t i = 0; i < packed->channel_count; i++) {
    const struct survey_channel *a = &packed->channels[i], *b = &plain->channels[i];
    assert_true(a->mean == b->mean && a->least == b->least && a->greatest == b->greatest);
    assert_true(a->resolution == b->resolution && a->still == b->still && a->greatest_time == b->greatest_time);
    assert_int_equal(a->distinct, b->distinct);
  }
  assert_string_equal(packed->rate, plain->rate);
}

static const char *counted(struct bench *bench, size_t row)
{
  return arena_print(bench->arena, "%zu", row);
}

static void test_more_values_than_are_told_apart(void **state)
{
  struct bench *bench = *state;
  const struct survey *just = survey(bench, rows(bench, SURVEY_DISTINCT, counted));
  const struct survey *over = survey(bench, rows(bench, SURVEY_DISTINCT + 1, counted));
  assert_int_equal(just->channels[1].distinct, SURVEY_DISTINCT);
  assert_false(just->channels[1].distinct_more);
  assert_int_equal(over->channels[1].distinct, SURVEY_DISTINCT);
  assert_true(over->channels[1].distinct_more);
  assert_true(over->channels[1].greatest == SURVEY_DISTINCT);
}

static void test_gaps_and_stretches(void **state)
{
  struct bench *bench = *state;
  /* Steps of 0.1 s; a leap of 0.6 s is a gap, of 1.1 s ends a stretch as well, a clock set back only that. */
  const struct survey *all = survey(bench, "time [s],engine_speed [rpm]\n"
                                           "0,1\n0.1,2\n0.2,3\n0.3,4\n0.9,5\n1.0,5\n,5\n2.1,5\n2.2,5\n0.5,6\n0.6,7\n");
  assert_int_equal(all->gap_count, 2);
  assert_float_equal(all->gaps[0].start, 0.3, 1e-12);
  assert_float_equal(all->gaps[0].end, 0.9, 1e-12);
  assert_float_equal(all->gaps[1].start, 1.0, 1e-12);
  assert_int_equal(all->stretch_count, 3);
  assert_int_equal(all->stretches[0].rows, 7);
  assert_int_equal(all->stretches[1].rows, 2);
  assert_int_equal(all->stretches[2].rows, 2);
  assert_float_equal(all->stretches[2].start, 0.5, 1e-12);
  assert_int_equal(all->backwards, 1);
  assert_float_equal(all->step_least, 0.1, 1e-12);
  assert_float_equal(all->step_greatest, 1.1, 1e-12);
  /* What ran forward: 2.2 s and 0.1 s. */
  assert_float_equal(all->duration, 2.3, 1e-12);
  /* 5 stands from 0.9 s to 1.0 s; the clock leaps before the next one, where it stands from 2.1 s to 2.2 s. */
  assert_float_equal(all->channels[0].still, 0.1, 1e-12);
}

static void test_many_gaps_are_counted(void **state)
{
  struct bench *bench = *state;
  char *text = arena_alloc(bench->arena, 40000);
  int size = snprintf(text, 40000, "time [s],engine_speed [rpm]\n");
  for (int i = 0; i < 150; i++)
    for (int k = 0; k < 3; k++)
      size += snprintf(text + size, 40000 - (size_t)size, "%d.%d,900\n", i * 10, k);
  const struct survey *all = survey(bench, text);
  assert_int_equal(all->gap_count, 149);
  assert_int_equal(all->stretch_count, 150);
  assert_float_equal(all->gaps[SURVEY_KEPT - 1].end, 1000, 1e-9);
  assert_int_equal(all->channels[0].distinct, 1);
  assert_true(all->channels[0].resolution == 0);
}

static void test_headings(void **state)
{
  struct bench *bench = *state;
  const struct survey *all =
      survey(bench, "time [s],\"Engine \"\"B\"\"\",\"RPM\",\"thrttle_position [%]\"\n0,x,900,1\n1,x,901,1\n");
  assert_int_equal(all->unknown_count, 2);
  assert_true(slice_is(all->unknown[0].heading, "Engine \"B\""));
  assert_true(slice_is(all->unknown[1].heading, "thrttle_position [%]"));
  assert_true(slice_is(all->unknown[1].near, "throttle_position"));
  assert_true(slice_is(all->channels[0].heading, "RPM"));
  assert_true(slice_is(all->channels[0].name, "engine_speed"));
  assert_int_equal(all->note_count, 0);
  assert_string_equal(all->rate, "2 rows at 1 Hz (median), 1 s");
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup_teardown(test_means_of_nist, setup, teardown),
      cmocka_unit_test_setup_teardown(test_nothing_cancels, setup, teardown),
      cmocka_unit_test_setup_teardown(test_more_than_one_block, setup, teardown),
      cmocka_unit_test_setup_teardown(test_packed_columns, setup, teardown),
      cmocka_unit_test_setup_teardown(test_more_values_than_are_told_apart, setup, teardown),
      cmocka_unit_test_setup_teardown(test_gaps_and_stretches, setup, teardown),
      cmocka_unit_test_setup_teardown(test_many_gaps_are_counted, setup, teardown),
      cmocka_unit_test_setup_teardown(test_headings, setup, teardown),
  };
  return cmocka_run_group_tests_name("model/survey", tests, NULL, NULL);
}
