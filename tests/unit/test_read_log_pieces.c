/* However a log is cut into pieces, on however many threads it is read and wherever its numbers are kept, the result is
 * the same, bit for bit: as one piece on one thread into plain arrays, which the other tests hold against strtod. */
#include "test_read_log_help.h"

#include <unistd.h>

#define LINES_MOST 40
#define TEXT_SIZE (64 * 1024)
#define COLUMN_TEST_ROWS 500

static const struct log_options plain = {.threads = 1, .piece_bytes = 1u << 20, .array_rows = SIZE_MAX};

static const struct log_options ways[] = {
    {.threads = 1, .piece_bytes = 1, .array_rows = SIZE_MAX},
    {.threads = 1, .piece_bytes = 7, .array_rows = 1},
    {.threads = 2, .piece_bytes = 13, .array_rows = 1, .memory_bytes = 1},
    {.threads = 3, .piece_bytes = 50, .array_rows = 1, .memory_bytes = 200},
    {.threads = 2, .piece_bytes = 200, .array_rows = SIZE_MAX, .memory_bytes = 1},
    {.threads = 3, .piece_bytes = 3, .array_rows = 1, .memory_bytes = 1},
    {.threads = 1, .piece_bytes = 1u << 20, .array_rows = 1, .memory_bytes = 1},
};
enum { WAY_COUNT = sizeof ways / sizeof *ways };

static void expect_same_series(const struct series *a, const struct series *b)
{
  double at[2][COLUMN_TEST_ROWS];
  uint8_t known[2][COLUMN_TEST_ROWS];
  assert_int_equal(a->count, b->count);
  assert_ptr_equal(a->unit, b->unit);
  assert_memory_equal(&a->largest, &b->largest, sizeof a->largest);
  for (size_t from = 0; from < a->count; from += COLUMN_TEST_ROWS) {
    size_t to = from + COLUMN_TEST_ROWS < a->count ? from + COLUMN_TEST_ROWS : a->count;
    bool all = series_rows(a, from, to, at[0], known[0]);
    assert_int_equal(all, series_rows(b, from, to, at[1], known[1]));
    assert_memory_equal(known[0], known[1], to - from);
    assert_memory_equal(at[0], at[1], (to - from) * sizeof(double));
    for (size_t i = 0; i < to - from; i++)
      all = all && known[0][i];
    assert_true(all == (memchr(known[0], 0, to - from) == NULL));
  }
}

static void expect_same_place(struct place a, struct place b)
{
  assert_int_equal(a.start, b.start);
  assert_int_equal(a.end, b.end);
}

static void expect_same_log(const struct given *a, const struct given *b)
{
  const struct log *x = a->log, *y = b->log;
  assert_int_equal(x->row_count, y->row_count);
  assert_memory_equal(&x->step, &y->step, sizeof x->step);
  for (size_t i = 0; i < a->vocabulary->count[SCOPE_LOG]; i++) {
    assert_int_equal(x->present[i], y->present[i]);
    assert_int_equal(x->values[i] == NULL, y->values[i] == NULL);
    if (x->values[i] == NULL)
      continue;
    expect_same_place(x->values[i]->place, y->values[i]->place);
    expect_same_series(&x->values[i]->as.series, &y->values[i]->as.series);
  }
  for (size_t i = 0; i < x->row_count; i++)
    expect_same_place(log_row_place(x, i), log_row_place(y, i));
  assert_int_equal(x->note_count, y->note_count);
  for (size_t i = 0; i < x->note_count; i++) {
    assert_int_equal(x->notes[i].kind, y->notes[i].kind);
    assert_string_equal(x->notes[i].text, y->notes[i].text);
    expect_same_place(x->notes[i].place, y->notes[i].place);
  }
}

static void expect_same(const struct given *a, const struct given *b)
{
  assert_int_equal(a->log == NULL, b->log == NULL);
  assert_int_equal(a->problems.count, b->problems.count);
  for (size_t i = 0; i < a->problems.count; i++) {
    assert_string_equal(a->problems.items[i].message, b->problems.items[i].message);
    expect_same_place(a->problems.items[i].place, b->problems.items[i].place);
  }
  if (a->log != NULL)
    expect_same_log(a, b);
}

/* Returns whether it was read at all. */
static bool expect_same_ways(void **state, struct slice text, double rate)
{
  struct log_options options = plain;
  options.rate = rate;
  struct given first = give_with(state, text, &options);
  bool good = first.log != NULL;
  for (size_t i = 0; i < WAY_COUNT; i++) {
    options = ways[i];
    options.rate = rate;
    struct given other = give_with(state, text, &options);
    expect_same(&first, &other);
    given_free(&other);
  }
  given_free(&first);
  return good;
}

static const char *const odd[] = {
    "time,rpm\n0,1\n1,\"2\"\n2,\" 3\"\n",
    "time,rpm,name\n0,1,\"a\nb\"\n1,2,\"c\n2,3,d\n3,4,e\"\n4,5,f\n",
    "time,rpm,name\r\n0,1,\"a\r\n\r\nb,\"\"c\"\"\"\r\n1,2,x\r\n",
    "time,rpm\r0,1\r1,2\r\r2,3\r",
    "time,rpm\n0,1\r\n1,2\r2,3\n\r\n3,4",
    "time,rpm\n# remark, with\n0,1\nMARK\n1,2\n// x\n\n,\n2,3\n time,rpm\ntime,rpm\n3,4\n; end\n",
    "time,rpm,gear\n0,1,2,\n1,1,2,3\n2,1\n3,,\n4,x,1e2\n5,-,+3\n6,1.5e-3,-0\n",
    "time;rpm;map [kPa]\n0;1;2\n1;1;100,5\n2;1;100.5\n3;1;7,25\n",
    "time;rpm\n0;1\n1;2\n1,5;3\n",
    "timestamp,rpm\n23:59:58,1\n23:59:59.5,2\n00:00:01,3\nx,4\n,5\n00:00:02,6\n23:59:59,7\n00:00:01,8\n",
    "time,rpm\n,1\n-,2\n2024-02-29T23:59:59Z,1\n2024-03-01T00:00:01Z,1\n2024-03-01T00:00:01.25Z,1\n",
    "time [ms],rpm,clutch\n5,1,on\n10,2,off\n15,3,1.0\n20,4,-0\n25,5,maybe\n30,,0\n",
    "rpm,map [kPa]\n1,2\n3,\n\n,,\n,5\n123456789012345678,1e-300\n",
    "time,rpm\n0,1\n1,2\n2",
    "time,rpm\n0,1\n1,2\n2,\"3",
    "time,rpm\n0,1\n1,2\n2,\"3\n4,5\n",
    "time,rpm\n0,1\n1,\"2\"x\n2,3\n",
    "time,rpm\n0,1\n1,2\001\n2,3\n",
    "time,rpm\n0,1\n1,2\n2,3\n\x1A\x1A",
    "time [s],rpm\ns,rpm\n0,1\ns,rpm\n1,2\ntime [s],rpm\n2,1\n0.5,3\n9,4\n9,5\n9.1,6\n9.2,7\n9.3,8\n",
    "time,rpm\n   0 ,\t1 \n\t1, 2\n  # x\n 2 ,3",
};

static void test_odd_logs(void **state)
{
  size_t read = 0;
  for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
    read += expect_same_ways(state, slice_of(odd[i]), 0);
    read += expect_same_ways(state, slice_of(odd[i]), 20);
  }
  assert_true(read > 20);
}

static char *write_value(char *at, uint64_t *seed)
{
  static const char *const words[] = {"",
                                      "",
                                      "-",
                                      "n/a",
                                      "x",
                                      "1e3",
                                      "+7",
                                      "-0",
                                      "\"4\"",
                                      " 5 ",
                                      "\"a\nb\"",
                                      "\"\"\"\"",
                                      "12345678901234567890",
                                      "0.1234567890123456789",
                                      "9007199254740993",
                                      ".5",
                                      "6."};
  switch (chance(seed, 5)) {
  case 0:
    return at + sprintf(at, "%s", words[chance(seed, sizeof words / sizeof *words)]);
  case 1:
    return at + sprintf(at, "%d", (int)chance(seed, 3000) - 100);
  default:
    return at + sprintf(at, "%.*f", (int)chance(seed, 5), (double)chance(seed, 1u << 24) / 1e4 - 20);
  }
}

static char *write_line(char *at, size_t row, const char *line_end, uint64_t *seed)
{
  static const char *const others[] = {"# remark", "MARK", "", ",,,", "time,rpm,map,gear,note", "\"two\nlines\"", ";"};
  if (chance(seed, 8) == 0)
    return at + sprintf(at, "%s%s", others[chance(seed, sizeof others / sizeof *others)], line_end);
  at += sprintf(at, "%zu.%02u", row, (unsigned)chance(seed, 100));
  for (size_t columns = chance(seed, 300) == 0 ? 5 : 3 + chance(seed, 2); columns > 0; columns--) {
    *at++ = ',';
    at = write_value(at, seed);
  }
  return at + sprintf(at, "%s", chance(seed, 20) == 0 ? "\r" : line_end);
}

/* Quotes over lines, lone CR, remarks, rows too long and too short, in random order; half of them end in mid-row. */
static void test_random_logs(void **state)
{
  uint64_t seed = 11;
  size_t read = 0, refused = 0;
  char *text = malloc(TEXT_SIZE);
  assert_non_null(text);
  for (int run = 0; run < 400; run++) {
    const char *line_end = chance(&seed, 2) == 0 ? "\n" : "\r\n";
    char *at = text + sprintf(text, "time,rpm,map,gear,note%s", line_end);
    for (size_t row = 0, lines = chance(&seed, LINES_MOST); row < lines; row++)
      at = write_line(at, row, line_end, &seed);
    size_t size = (size_t)(at - text);
    if (chance(&seed, 2) == 0)
      size -= chance(&seed, 12);
    bool good = expect_same_ways(state, (struct slice){text, size}, chance(&seed, 4) == 0 ? 25 : 0);
    read += good;
    refused += !good;
  }
  assert_true(read > 100);
  assert_true(refused > 5);
  free(text);
}

/* More rows than one run of a packed column holds, and than one look for separators covers. */
static void test_long_log(void **state)
{
  uint64_t seed = 12;
  size_t rows = 30000, room = rows * 48;
  char *text = malloc(room), *at = text;
  assert_non_null(text);
  at += sprintf(at, "time [s],rpm,coolant_temperature [degF],clutch\n");
  for (size_t i = 0; i < rows; i++) {
    at += sprintf(at, "%.2f,%d,%.*f,%u\n", (double)i * 0.04, (int)chance(&seed, 9000), (int)(i / 5000),
                  (double)chance(&seed, 2000) / 7, (unsigned)chance(&seed, 2));
    if (chance(&seed, 1000) == 0)
      at += sprintf(at, "%.2f,,x,\n", (double)i * 0.04);
  }
  struct slice whole = {text, (size_t)(at - text)};
  struct given first = give_with(state, whole, &plain);
  static const struct log_options large[] = {
      {.threads = 2, .piece_bytes = 10000, .array_rows = 1, .memory_bytes = 1},
      {.threads = 3, .piece_bytes = 100000, .array_rows = 1, .memory_bytes = 100000},
      {.threads = 1, .piece_bytes = 400000, .array_rows = 1},
  };
  for (size_t i = 0; i < sizeof large / sizeof *large; i++) {
    struct given other = give_with(state, whole, &large[i]);
    expect_same(&first, &other);
    given_free(&other);
  }
  assert_true(first.log->row_count > rows);
  given_free(&first);
  free(text);
}

static int write_styled(char *at, size_t column, uint64_t *seed)
{
  double value = (double)chance(seed, 200000) / 100 - 500;
  switch (column) {
  case 0:
    return sprintf(at, "%d", (int)chance(seed, 9000));
  case 1:
    return sprintf(at, "%.1f", value);
  case 2:
    return sprintf(at, "%g", value);
  case 3:
    return chance(seed, 50) == 0 ? sprintf(at, "-") : sprintf(at, "%.3f", value / 500);
  case 4:
    return chance(seed, 400) < 200 ? 0 : sprintf(at, "%.2f", value);
  case 5:
    return sprintf(at, "%u", (unsigned)chance(seed, chance(seed, 30) == 0 ? 3 : 2));
  default:
    return sprintf(at, "%.*f", (int)chance(seed, 12), value * 1e5);
  }
}

/* A quoted cell sends its row the long way, cell by cell; without it rows are taken by columns. */
static void test_long_way(void **state)
{
  static const char heading[] =
      "time,rpm,map,coolant_temperature,lambda,throttle_position,clutch,battery_voltage,note\n";
  uint64_t seed = 13;
  size_t rows = 3000, room = rows * 160;
  char *texts[2] = {malloc(room), malloc(room)}, *at[2] = {texts[0], texts[1]};
  assert_true(texts[0] != NULL && texts[1] != NULL);
  for (size_t k = 0; k < 2; k++)
    at[k] += sprintf(at[k], "%s", heading);
  for (size_t i = 0; i < rows; i++) {
    char line[200], *to = line;
    to += sprintf(to, "%zu.%02zu", i / 25, i % 25 * 4);
    for (size_t column = 0; column < 7; column++) {
      *to++ = ',';
      to += write_styled(to, column, &seed);
    }
    const char *line_end = i / 100 % 3 == 0 ? "\r\n" : "\n";
    at[0] += sprintf(at[0], "%.*s,x%s", (int)(to - line), line, line_end);
    at[1] += sprintf(at[1], "%.*s,\"x\"%s", (int)(to - line), line, line_end);
  }
  struct given a = give_with(state, (struct slice){texts[0], (size_t)(at[0] - texts[0])}, &plain);
  struct given b = give_with(state, (struct slice){texts[1], (size_t)(at[1] - texts[1])}, &plain);
  assert_int_equal(a.log->row_count, rows);
  size_t channels = 0;
  for (size_t i = 0; i < a.vocabulary->count[SCOPE_LOG]; i++) {
    assert_int_equal(a.log->values[i] == NULL, b.log->values[i] == NULL);
    if (a.log->values[i] == NULL)
      continue;
    channels++;
    expect_same_series(&a.log->values[i]->as.series, &b.log->values[i]->as.series);
  }
  assert_int_equal(channels, 8);
  for (size_t k = 0; k < 2; k++)
    free(texts[k]);
  given_free(&a);
  given_free(&b);
}

/* The same from a file that is not kept, and its rows and lines found again. */
static void test_file(void **state)
{
  const struct shared *shared = *state;
  char path[] = "/tmp/keyway-test-XXXXXX";
  int fd = mkstemp(path);
  assert_true(fd >= 0);
  FILE *file = fdopen(fd, "w");
  assert_non_null(file);
  fputs("time,rpm\n", file);
  for (int i = 0; i < 20000; i++)
    fprintf(file, i == 15000 ? "%d,x\n" : "%d,100\n", i);
  fclose(file);
  struct given g = {.arena = arena_new(), .vocabulary = shared->vocabulary};
  g.sources = sources_new(g.arena);
  problems_init(&g.problems, g.arena, PROBLEM_OF_INPUT);
  g.source = sources_open_long(g.sources, path, LIMIT_LOG_BYTES, 1000, &g.problems);
  unlink(path);
  assert_non_null(g.source);
  assert_non_null(g.source->file);
  assert_int_equal(g.source->bytes.size, 1000);
  struct log_options options = {.threads = 2, .piece_bytes = 5000, .array_rows = 1, .memory_bytes = 1};
  g.log = log_read(g.arena, g.vocabulary, g.source, &options, &g.problems);
  assert_non_null(g.log);
  assert_int_equal(g.log->row_count, 20000);
  expect_note(&g, LOG_NOTE_BAD_CELLS, 15002, 7, "the first is 'x'");
  struct position position;
  assert_true(sources_position(g.sources, log_row_place(g.log, 19999), &position));
  assert_int_equal(position.line, 20001);
  assert_int_equal(position.text.size, strlen("19999,100"));
  assert_memory_equal(position.text.at, "19999,100", position.text.size);
  given_free(&g);
}

static void test_several_logs(void **state)
{
  const struct shared *shared = *state;
  static const char *const texts[] = {"time [s],rpm\n5,100\n6,200\n7,300\n", "map [kPa],time [ms]\n90,0\n91,500\n",
                                      "rpm\n400\n500\n"};
  for (size_t way = 0; way < 2; way++) {
    struct given g = {.arena = arena_new(), .vocabulary = shared->vocabulary};
    const struct source *sources[3];
    g.sources = sources_new(g.arena);
    problems_init(&g.problems, g.arena, PROBLEM_OF_INPUT);
    for (size_t i = 0; i < 3; i++)
      sources[i] = sources_memory(g.sources, "log.csv", slice_of(texts[i]));
    struct log_options options = {.rate = 2, .array_rows = way == 0 ? SIZE_MAX : 1};
    g.log = log_read_all(g.arena, g.vocabulary, sources, 3, &options, &g.problems);
    assert_non_null(g.log);
    assert_int_equal(g.log->part_count, 3);
    assert_int_equal(g.log->row_count, 7);
    static const double times[] = {0, 1, 2, 0, .5, 0, .5}, speeds[] = {100, 200, 300, NAN, NAN, 400, 500};
    double at[7];
    uint8_t known[7];
    assert_true(series_rows(channel(&g, "time"), 0, 7, at, known));
    for (size_t i = 0; i < 7; i++)
      assert_true(at[i] == times[i]);
    assert_false(series_rows(channel(&g, "engine_speed"), 0, 7, at, known));
    for (size_t i = 0; i < 7; i++) {
      assert_int_equal(known[i], !isnan(speeds[i]));
      assert_true(!known[i] || at[i] == unit_to_base(channel(&g, "engine_speed")->unit, speeds[i]));
    }
    for (size_t i = 0; i < 7; i++) {
      struct place place = log_row_place(g.log, i);
      assert_int_equal(place.source, sources[i < 3 ? 0 : i < 5 ? 1 : 2]->id);
    }
    struct position position;
    assert_true(sources_position(g.sources, log_row_place(g.log, 4), &position));
    assert_int_equal(position.line, 3);
    assert_true(g.log->step == .5);
    assert_int_equal(note_count(&g, LOG_NOTE_RATE), 3);
    given_free(&g);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_odd_logs), cmocka_unit_test(test_random_logs),  cmocka_unit_test(test_long_log),
      cmocka_unit_test(test_file),     cmocka_unit_test(test_several_logs), cmocka_unit_test(test_long_way),
  };
  return cmocka_run_group_tests_name("read_log_pieces", tests, shared_open, shared_close);
}
