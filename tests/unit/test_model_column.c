/* Numbers come back from packed columns with the bits that division by a power of ten gives, or as the doubles that
 * they were; IEEE 754 makes the one division right. */
#include "model/column_set.h"
#include "model/value.h"

#include <math.h>
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RUNS 40
#define ROWS_MOST 600

/* Repeatable numbers (Numerical Recipes' 64-bit linear congruence). */
static uint32_t chance(uint64_t *seed, uint32_t below)
{
  *seed = *seed * 6364136223846793005ull + 1442695040888963407ull;
  return (uint32_t)((*seed >> 33) % below);
}

/* What a column was given. */
struct given {
  size_t count;
  double at[RUNS * ROWS_MOST]; /* NAN: missing */
};

static int64_t make_number(uint64_t *seed, unsigned style)
{
  switch (style % 7) {
  case 0:
    return 7;
  case 1:
    return (int64_t)chance(seed, 200) - 100;
  case 2:
    return (int64_t)chance(seed, 60000) - 50000;
  case 3:
    return (int64_t)chance(seed, 1u << 31) * 2 - 12345;
  case 4: /* narrow, but about the ends of 32 bits */
    return (style % 2 == 0 ? (int64_t)INT32_MAX : INT32_MIN) - 30000 + (int64_t)chance(seed, 60000);
  case 5:
    return ((int64_t)1 << 40) + (int64_t)chance(seed, style % 2 == 0 ? 200 : 60000);
  default:
    return ((int64_t)1 << 53) - (int64_t)chance(seed, 1000) * ((int64_t)1 << 44);
  }
}

static double make_double(uint64_t *seed)
{
  static const double some[] = {0.1, -0.0, 1e300, -3.5, 5e-324, 1.0, 0.0, 12.0};
  return some[chance(seed, sizeof some / sizeof *some)];
}

/* One run of random numbers, remembered in `given`. */
static size_t make_run(uint64_t *seed, size_t rows, struct given *given, char *bytes, struct column_run *run,
                       struct column_range *range)
{
  static int64_t number[ROWS_MOST];
  static uint8_t decimals[ROWS_MOST];
  unsigned style = chance(seed, 28);
  bool gaps = chance(seed, 2) == 0, doubles = chance(seed, 4) == 0, mixed = chance(seed, 2) == 0;
  uint8_t usual = (uint8_t)chance(seed, 8);
  for (size_t i = 0; i < rows; i++) {
    decimals[i] = mixed ? (uint8_t)chance(seed, 5) : usual;
    number[i] = make_number(seed, style);
    double value = (double)number[i] / pow(10, decimals[i]);
    if (doubles && chance(seed, 3) == 0) {
      value = make_double(seed);
      decimals[i] = COLUMN_DOUBLE;
      memcpy(&number[i], &value, sizeof value);
    }
    if (gaps && chance(seed, 5) == 0) {
      decimals[i] = COLUMN_MISSING;
      value = (double)NAN;
    }
    given->at[given->count++] = value;
  }
  return column_pack(rows, number, decimals, bytes, run, range);
}

static void expect_rows(const struct column *column, const struct given *given, const struct column_scale *scale,
                        size_t from, size_t to)
{
  static double at[RUNS * ROWS_MOST];
  static uint8_t known[RUNS * ROWS_MOST];
  bool all = column_rows(column, from, to, at, known);
  for (size_t i = from; i < to; i++) {
    double wanted = isnan(given->at[i]) ? 0 : given->at[i];
    if (scale->unit != NULL && !isnan(given->at[i]))
      wanted = unit_to_base(scale->unit, wanted - scale->first);
    assert_int_equal(known[i - from], !isnan(given->at[i]));
    assert_memory_equal(&at[i - from], &wanted, sizeof wanted);
    all = all && known[i - from];
  }
  assert_true(all == (memchr(known, 0, to - from) == NULL));
}

static void expect_survey(const struct column *column, const struct given *given, const struct column_scale *scale)
{
  double largest = 0;
  size_t known = 0;
  for (size_t i = 0; i < given->count; i++) {
    if (isnan(given->at[i]))
      continue;
    known++;
    double value = scale->unit != NULL ? unit_to_base(scale->unit, given->at[i] - scale->first) : given->at[i];
    largest = fmax(largest, fabs(value));
  }
  assert_int_equal(column_known(column), known);
  assert_true(column_largest(column) == largest);
}

static void test_round_trip(void **state)
{
  (void)state;
  uint64_t seed = 8;
  static struct given given[2];
  static char bytes[2 * (ROWS_MOST * 8 + ROWS_MOST / 8 + 1)];
  static const size_t memories[] = {0, 20000, SIZE_MAX};
  const struct column_scale scales[2] = {{.unit = NULL}, {.unit = unit_find(slice_of("degF")), .first = 3.5}};
  assert_true(column_numbers_nth(0) != NULL);
  for (size_t way = 0; way < 3 * 8; way++) {
    struct arena *arena = arena_new();
    struct columns *columns = columns_new(arena, 2, memories[way % 3]);
    columns_scale(columns, 1, scales[1]);
    given[0].count = given[1].count = 0;
    for (int run = 0; run < RUNS; run++) {
      struct column_run runs[2];
      struct column_range ranges[2];
      size_t rows = chance(&seed, ROWS_MOST) + 1;
      size_t size = make_run(&seed, rows, &given[0], bytes, &runs[0], &ranges[0]);
      size_t more = make_run(&seed, rows, &given[1], bytes + size, &runs[1], &ranges[1]);
      assert_true(size <= column_packed_size(rows) && more <= column_packed_size(rows));
      runs[1].at = (uint32_t)size;
      columns_add(columns, rows, runs, ranges, bytes, size + more);
    }
    assert_int_equal(columns_rows(columns), given[0].count);
    assert_int_equal(columns_in_file(columns), way % 3 < 2);
    for (size_t k = 0; k < 2; k++) {
      const struct column *column = columns_get(columns, k);
      for (size_t n = 0; column_numbers_nth(n) != NULL; n++) {
        columns->numbers = column_numbers_nth(n);
        expect_rows(column, &given[k], &scales[k], 0, given[k].count);
      }
      expect_survey(column, &given[k], &scales[k]);
      for (int part = 0; part < 20; part++) {
        size_t from = chance(&seed, (uint32_t)given[k].count);
        expect_rows(column, &given[k], &scales[k], from, from + chance(&seed, (uint32_t)(given[k].count - from) + 1));
      }
    }
    arena_free(arena);
  }
}

enum { SPANS = 200, SPAN_ROWS = 50, READERS = 6 };

struct together {
  const struct column *column;
  uint64_t seed;
  size_t wrong;
};

/* Row i of the column holds i. */
static void *read_somewhere(void *context)
{
  struct together *together = context;
  double at[3 * SPAN_ROWS];
  uint8_t known[3 * SPAN_ROWS];
  for (int i = 0; i < 2000; i++) {
    size_t from = chance(&together->seed, SPANS * SPAN_ROWS - 3 * SPAN_ROWS);
    size_t to = from + 1 + chance(&together->seed, 3 * SPAN_ROWS);
    together->wrong += !column_rows(together->column, from, to, at, known);
    for (size_t row = from; row < to; row++)
      together->wrong += at[row - from] != (double)row || known[row - from] != 1;
  }
  return NULL;
}

/* Threads that read the temporary file at once, each somewhere else. */
static void test_readers(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct columns *columns = columns_new(arena, 1, 0);
  for (int64_t span = 0; span < SPANS; span++) {
    int64_t number[SPAN_ROWS];
    uint8_t decimals[SPAN_ROWS] = {0};
    char bytes[SPAN_ROWS * 9];
    struct column_run run;
    struct column_range range;
    for (int64_t i = 0; i < SPAN_ROWS; i++)
      number[i] = span * SPAN_ROWS + i;
    size_t size = column_pack(SPAN_ROWS, number, decimals, bytes, &run, &range);
    columns_add(columns, SPAN_ROWS, &run, &range, bytes, size);
  }
  assert_true(columns_in_file(columns));
  struct together together[READERS];
  pthread_t threads[READERS];
  for (size_t i = 0; i < READERS; i++) {
    together[i] = (struct together){columns_get(columns, 0), i + 1, 0};
    assert_int_equal(pthread_create(&threads[i], NULL, read_somewhere, &together[i]), 0);
  }
  for (size_t i = 0; i < READERS; i++) {
    assert_int_equal(pthread_join(threads[i], NULL), 0);
    assert_int_equal(together[i].wrong, 0);
  }
  arena_free(arena);
}

/* A folder that is none: memory does. */
static void test_no_temporary_file(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  assert_int_equal(setenv("TMPDIR", "/nonexistent/folder", 1), 0);
  struct columns *columns = columns_new(arena, 1, 0);
  int64_t number[3] = {1, 2, 300};
  uint8_t decimals[3] = {1, 1, 1}, known[3];
  char bytes[64];
  double at[3];
  struct column_run run;
  struct column_range range;
  size_t size = column_pack(3, number, decimals, bytes, &run, &range);
  columns_add(columns, 3, &run, &range, bytes, size);
  assert_false(columns_in_file(columns));
  assert_true(column_rows(columns_get(columns, 0), 0, 3, at, known));
  assert_true(at[0] == 0.1 && at[1] == 0.2 && at[2] == 30);
  arena_free(arena);
  assert_int_equal(unsetenv("TMPDIR"), 0);
}

/* Two bytes do for steps of a hundredth over 655 s, wherever they start. */
static void test_width(void **state)
{
  (void)state;
  int64_t number[4] = {100000000, 100065535, 100000001, 100000002};
  uint8_t decimals[4] = {2, 2, 2, 2};
  char bytes[64];
  struct column_run run;
  struct column_range range;
  assert_int_equal(column_pack(4, number, decimals, bytes, &run, &range), 8);
  assert_true(range.low == 1000000.00 && range.high == 1000655.35);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_round_trip), cmocka_unit_test(test_readers),
                                     cmocka_unit_test(test_no_temporary_file), cmocka_unit_test(test_width)};
  return cmocka_run_group_tests_name("model_column", tests, NULL, NULL);
}
