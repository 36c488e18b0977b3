/* Logs that are refused: each with what is said and where; and what is odd about time. */
#include "test_read_log_help.h"

struct wrong {
  const char *text;
  size_t line, column;
  const char *words;
};

static const struct wrong wrongs[] = {
    {"\xEF\xBB\xBF", 1, 1, "empty"},
    {"1,2,3\n4,5,6\n", 1, 1, "no heading: none of the first lines names a channel"},
    {"\n\n\n", 1, 1, "no heading: none of the first lines names a channel"},
    {"words", 1, 1, "no heading"},
    {"title\nfoo,bar,baz\n1,2,3\n", 2, 1, "no heading: the likeliest line has 3 columns"},
    {"time,rpm\n", 1, 1, "no rows"},
    {"time,rpm", 1, 1, "no rows"},
    {"time,rpm\n\n# nothing\n", 1, 1, "no rows"},
    {"time,rpm\n1", 1, 1, "no rows"},
    {"rpm,coolant\n1,2\n", 1, 1, "no time column"},
    {"time,rpm,engine speed\n0,1,2\n", 1, 10, "two columns are 'engine_speed': 'rpm' and 'engine speed'"},
    {"timestamp,rpm,time\n0,1,2\n", 1, 15, "two columns are 'time': 'timestamp' and 'time'"},
    {"time,coolant (kPa)\n0,1\n", 1, 15, "'kPa' is pressure, but 'coolant_temperature' is temperature (in degC)"},
    {"time,coolant [degC_diff]\n0,1\n", 1, 15, "temperature difference"},
    {"time,rpm\ns,V\n0,1\n", 2, 3, "'engine_speed' is speed of rotation"},
    {"time (V),rpm\n0,1\n", 1, 7, "'time' is time"},
    {"time,MAP [kpo]\n0,1\n", 1, 11, "'manifold_pressure': unknown unit 'kpo'"},
    {"time,MAP\ns,(kpo)\n0,1\n", 2, 4, "'manifold_pressure': unknown unit 'kpo'"},
    {"time,MAP (k\xE9o)\n0,1\n", 1, 11, "not UTF-8 (Latin-1?)"},
    {"time,rpm\n0,a\n1,b\n2,3\n", 2, 3, "'engine_speed': 2 of 3 cells not a number; the first is 'a'"},
    {"time,clutch\n0,3\n", 2, 3, "'clutch_switch': 1 of 1 cells neither on nor off"},
    {"time,rpm\nnoon,1\nlater,2\n", 2, 1, "'time': 2 of 2 cells not a time"},
    {"time,rpm\n,1\n-,2\n", 1, 1, "the time column is empty"},
    {"time,rpm\n0,800,5\n1,810\n", 2, 7, "1 of 2 rows have more cells than the heading has names"},
    {"time,rpm\n0,5,800\n1,5,810\n", 2, 5, "2 of 2 rows have more cells"},
    {"time,rpm\n0,1\n1,\"2\n2,3\n", 3, 3, "this quote is never closed"},
    {"time,rpm\n0,1\n\"1\"x,2\n", 3, 4, "text after a closing quote"},
    {"time,rpm\n0,1\n1,\x02\n", 3, 3, "control character (0x02)"},
    {"\x89PNG\r\n\x1a\n", 2, 1, "control character (0x1a)"},
    {"\x1f\x8b\x08 binary junk", 1, 1, "control character (0x1f)"},
    {"\xFF\xFEt", 1, 1, "UTF-16"},
};

static void test_wrongs(void **state)
{
  size_t ran = 0;
  for (size_t i = 0; i < sizeof wrongs / sizeof *wrongs; i++) {
    struct given g = give(state, wrongs[i].text);
    expect_problem(&g, wrongs[i].line, wrongs[i].column, wrongs[i].words);
    given_free(&g);
    ran++;
  }
  assert_true(ran >= 30);
}

static void test_bytes(void **state)
{
  const struct log_options options = {.rate = 0};
  const struct wrong rows[] = {{NULL, 1, 1, "empty"}, {NULL, 2, 3, "NUL byte"}, {NULL, 1, 1, "UTF-16"}};
  const struct slice texts[] = {{"", 0}, {"time,rpm\n0,\0", 12}, {"t\0i\0m\0e\0", 8}};
  for (size_t i = 0; i < 3; i++) {
    struct given g = give_with(state, texts[i], &options);
    expect_problem(&g, rows[i].line, rows[i].column, rows[i].words);
    given_free(&g);
  }
  struct given g = give_with(state, (struct slice){NULL, 0}, &options);
  expect_problem(&g, 1, 1, "empty");
  given_free(&g);
}

static void test_all_problems_together(void **state)
{
  struct given g = give(state, "rpm,RPM,coolant (kPa),MAP [kpo],iat\n1,2,3,4,x\n1,2,3,4,\"5\n6\n");
  expect_problem(&g, 1, 5, "two columns");
  expect_problem(&g, 1, 18, "is pressure");
  expect_problem(&g, 1, 28, "unknown unit");
  expect_problem(&g, 1, 1, "no time column");
  expect_problem(&g, 3, 9, "never closed");
  assert_int_equal(g.problems.count, 5);
  given_free(&g);
}

static void test_hints(void **state)
{
  struct given g = give(state, "rpm\n1\n");
  assert_non_null(strstr(g.problems.items[0].hint, "sample rate"));
  given_free(&g);
  struct given h = give(state, "1,2\n3,4\n");
  assert_non_null(strstr(h.problems.items[0].hint, "time [s],engine_speed [rpm]"));
  given_free(&h);
}

static void test_rates(void **state)
{
  const double rates[] = {-1, NAN, INFINITY, 1e-320, 1e10};
  for (size_t i = 0; i < sizeof rates / sizeof *rates; i++) {
    struct given g = give_rate(state, "rpm\n1\n", rates[i]);
    expect_problem(&g, 1, 1, "no sample rate");
    given_free(&g);
  }
}

static void test_column_limit(void **state)
{
  char *text = malloc(LIMIT_LOG_COLUMNS * 4 + 64), *at = text;
  assert_non_null(text);
  at += sprintf(at, "time,rpm");
  for (int i = 2; i < LIMIT_LOG_COLUMNS; i++)
    at += sprintf(at, ",x");
  strcpy(at, "\n0,1\n");
  struct given g = give(state, text);
  assert_non_null(g.log);
  assert_int_equal(g.log->column_count, LIMIT_LOG_COLUMNS);
  given_free(&g);
  strcpy(at, ",y\n0,1\n");
  struct given h = give(state, text);
  expect_problem(&h, 1, (size_t)(at - text) + 2, "1025 columns; the limit is 1024");
  given_free(&h);
  free(text);
}

static void test_line_limit(void **state)
{
  size_t size = LIMIT_LOG_LINE + 64;
  char *text = malloc(size);
  assert_non_null(text);
  for (size_t extra = 0; extra < 2; extra++) {
    memset(text, ' ', size);
    memcpy(text, "time,rpm\n0,1", 12);
    text[9 + LIMIT_LOG_LINE + extra] = '\n';
    struct given g = give_with(state, (struct slice){text, 10 + LIMIT_LOG_LINE + extra}, &(struct log_options){0});
    if (extra == 0)
      EXPECT(&g, "engine_speed", "rpm", 1);
    else
      expect_problem(&g, 2, 1, "a row of more than 262144 bytes, the limit");
    given_free(&g);
  }
  free(text);
}

static void test_row_limit(void **state)
{
  size_t head = strlen("time\n"), size = head + 2 * (size_t)LIMIT_LOG_ROWS;
  char *text = malloc(size + 2);
  assert_non_null(text);
  memcpy(text, "time\n", head);
  for (size_t at = head; at < size + 1; at += 2)
    memcpy(text + at, "1\n", 2);
  struct given g = give_with(state, (struct slice){text, size}, &(struct log_options){0});
  assert_non_null(g.log);
  assert_int_equal(g.log->row_count, LIMIT_LOG_ROWS);
  given_free(&g);
  struct given h = give_with(state, (struct slice){text, size + 2}, &(struct log_options){0});
  expect_problem(&h, LIMIT_LOG_ROWS + 2, 1, "more than 8000000 rows");
  given_free(&h);
  free(text);
}

static void test_time_notes(void **state)
{
  struct given g = give(state, "time,rpm\n10,1\n10.1,1\n10.2,1\n10.2,1\n10.2,1\n10.1,1\n10.2,1\n,1\n10.3,1\n12,1\n"
                               "12.1,1\n9,1\n");
  EXPECT(&g, "time", "s", 0, .1, .2, .2, .2, .1, .2, NAN, .3, 2, 2.1, -1);
  expect_note(&g, LOG_NOTE_TIME_REPEATED, 5, 1, "time repeats 2 times; first at 0.2 s");
  expect_note(&g, LOG_NOTE_TIME_BACKWARDS, 7, 1, "time runs backwards 2 times; first from 0.2 s to 0.1 s");
  expect_note(&g, LOG_NOTE_GAP, 11, 1, "once; first from 0.3 s to 2 s");
  expect_note(&g, LOG_NOTE_RATE, 1, 1, "12 rows at 10 Hz (median), 2.2 s");
  given_free(&g);
  /* Doubled rows, as of a logger that writes faster than it samples. */
  struct given h = give(state, "time,rpm\n0,1\n0,1\n1,2\n1,2\n2,3\n2,3\n");
  assert_int_equal(h.log->row_count, 6);
  expect_note(&h, LOG_NOTE_TIME_REPEATED, 3, 1, "3 times");
  expect_note(&h, LOG_NOTE_RATE, 1, 1, "6 rows at 1 Hz");
  given_free(&h);
  /* Three steps have no usual one. */
  struct given k = give(state, "time,rpm\n0,1\n1,1\n2,1\n100,1\n");
  assert_int_equal(note_count(&k, LOG_NOTE_GAP), 0);
  given_free(&k);
  /* Exactly five usual steps are no gap. */
  struct given q = give(state, "time,rpm\n0,1\n1,1\n2,1\n3,1\n8,1\n");
  assert_int_equal(note_count(&q, LOG_NOTE_GAP), 0);
  given_free(&q);
}

static void test_place_of_later_column(void **state)
{
  struct given g = give(state, "rpm;time [ms]\n1; 5\n2; 3\n");
  expect_note(&g, LOG_NOTE_TIME_BACKWARDS, 3, 4, "first from 0 s to -0.002 s");
  EXPECT(&g, "time", "ms", 0, -2);
  given_free(&g);
}

static void test_dictionary_without_time(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  struct sources *sources = sources_new(arena);
  const struct source *source = sources_memory(sources, "log.csv", slice_of("time,rpm\n0,1\n"));
  const struct vocabulary empty = {.count = {0}};
  assert_null(log_read(arena, &empty, source, &(struct log_options){0}, &problems));
  assert_int_equal(problems.count, 1);
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_wrongs),
      cmocka_unit_test(test_bytes),
      cmocka_unit_test(test_all_problems_together),
      cmocka_unit_test(test_hints),
      cmocka_unit_test(test_rates),
      cmocka_unit_test(test_column_limit),
      cmocka_unit_test(test_line_limit),
      cmocka_unit_test(test_row_limit),
      cmocka_unit_test(test_time_notes),
      cmocka_unit_test(test_place_of_later_column),
      cmocka_unit_test(test_dictionary_without_time),
  };
  return cmocka_run_group_tests_name("read_log_wrong", tests, shared_open, shared_close);
}
