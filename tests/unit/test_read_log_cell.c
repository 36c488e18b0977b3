/* Cells by themselves: numbers against strtod (C17, 7.22.1.3: correctly rounded in glibc), times of day, words; and
 * the median step against a sorted list. */
#include "read/log_cell.h"
#include "read/log_time.h"
#include "test_read_log_help.h"

static void test_numbers_are_strtod(void **state)
{
  uint64_t seed = 1;
  size_t ran = 0;
  (void)state;
  for (int i = 0; i < 20000; i++) {
    char text[64];
    double value = ((double)chance(&seed, 1u << 30) - (1 << 29)) / (double)(1u << chance(&seed, 30)), got = 0;
    snprintf(text, sizeof text, chance(&seed, 2) ? "%.*f" : "%.*e", (int)chance(&seed, 18), value);
    double wanted = strtod(text, NULL);
    struct log_point point = {'.', chance(&seed, 2) == 0};
    assert_int_equal(log_cell_number(&point, slice_of(text), &got), LOG_CELL_GOOD);
    assert_true(got == wanted);
    char *dot = strchr(text, '.');
    if (dot == NULL || strchr(text, 'e') != NULL)
      continue;
    *dot = ',';
    struct log_point comma = {'.', false};
    assert_int_equal(log_cell_number(&comma, slice_of(text), &got), LOG_CELL_GOOD);
    assert_true(got == wanted);
    assert_true(comma.settled && comma.sign == ',');
    ran++;
  }
  assert_true(ran > 1000);
}

static void test_numbers_in_a_log_are_strtod(void **state)
{
  uint64_t seed = 2;
  char *text = malloc(2000 * 48 + 64), *at = text;
  double *wanted = malloc(2000 * sizeof *wanted);
  assert_non_null(text);
  assert_non_null(wanted);
  at += sprintf(at, "time,battery_voltage\n");
  for (int i = 0; i < 2000; i++) {
    char number[40];
    snprintf(number, sizeof number, "%.*g", (int)chance(&seed, 17) + 1, (double)chance(&seed, 1u << 30) / 7e7);
    wanted[i] = strtod(number, NULL);
    at += sprintf(at, "%d,%s\n", i, number);
  }
  struct given g = give(state, text);
  const struct series *volts = channel(&g, "battery_voltage");
  for (size_t i = 0; i < 2000; i++)
    assert_true(volts->at[i] == wanted[i]);
  given_free(&g);
  free(wanted);
  free(text);
}

struct row {
  const char *text;
  enum log_cell cell;
  double value;
};

static void test_words(void **state)
{
  (void)state;
  static const struct row rows[] = {
      {"", LOG_CELL_MISSING, 0},    {"-", LOG_CELL_MISSING, 0},   {"---", LOG_CELL_MISSING, 0},
      {"N/A", LOG_CELL_MISSING, 0}, {"nan", LOG_CELL_MISSING, 0}, {"NULL", LOG_CELL_MISSING, 0},
      {"1", LOG_CELL_GOOD, 1},      {"-.5", LOG_CELL_GOOD, -.5},  {"5.", LOG_CELL_GOOD, 5},
      {"1 ", LOG_CELL_BAD, 0},      {"0x1F", LOG_CELL_BAD, 0},    {"inf", LOG_CELL_BAD, 0},
      {"1e999", LOG_CELL_BAD, 0},   {"1e", LOG_CELL_BAD, 0},      {"- 1", LOG_CELL_BAD, 0},
      {"12.5V", LOG_CELL_BAD, 0},   {"1.2.3", LOG_CELL_BAD, 0},   {".", LOG_CELL_BAD, 0},
      {"--1", LOG_CELL_BAD, 0},     {"\xC2\xB0", LOG_CELL_BAD, 0}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    struct log_point point = {'.', false};
    double got = 0;
    assert_int_equal(log_cell_number(&point, slice_of(rows[i].text), &got), rows[i].cell);
    if (rows[i].cell == LOG_CELL_GOOD)
      assert_true(got == rows[i].value);
  }
}

static void test_times(void **state)
{
  (void)state;
  static const struct row rows[] = {
      {"12.5", LOG_CELL_GOOD, 12.5},
      {"00:00:01", LOG_CELL_GOOD, 1},
      {"1:02:03.5", LOG_CELL_GOOD, 3723.5},
      {"1:02:03,25", LOG_CELL_GOOD, 3723.25},
      {"125:00:00", LOG_CELL_GOOD, 450000},
      {"2:03", LOG_CELL_GOOD, 123},
      {"90:03.5", LOG_CELL_GOOD, 5403.5},
      {"23:59:60", LOG_CELL_GOOD, 86400}, /* a leap second, ISO 8601 */
      {"2024-02-29T01:00:00Z", LOG_CELL_GOOD, 3600},
      {"2024/02/29 01:00", LOG_CELL_GOOD, 3600},
      {"n/a", LOG_CELL_MISSING, 0},
      {"12:60:00", LOG_CELL_BAD, 0},
      {"12:00:61", LOG_CELL_BAD, 0},
      {"12:00:00.", LOG_CELL_BAD, 0},
      {"12:00:00.1e5", LOG_CELL_BAD, 0},
      {"12:00:00 PM", LOG_CELL_BAD, 0},
      {"12:", LOG_CELL_BAD, 0},
      {":12", LOG_CELL_BAD, 0},
      {"1234567:00:00", LOG_CELL_BAD, 0},
      {"2024-13-01 01:00:00", LOG_CELL_BAD, 0},
      {"2024-02-29", LOG_CELL_BAD, 0},
      {"noon", LOG_CELL_BAD, 0},
  };
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    struct log_point point = {'.', false};
    struct log_clock clock = {.form = LOG_TIME_UNSEEN};
    double got = 0;
    if (log_cell_time(&clock, &point, slice_of(rows[i].text), &got) != rows[i].cell)
      fail_msg("'%s'", rows[i].text);
    if (rows[i].cell == LOG_CELL_GOOD)
      assert_true(got == rows[i].value);
  }
}

/* Days between dates, from the calendar: 1900 was no leap year, 2000 was (ISO 8601, 4.2.1). */
static void test_dates(void **state)
{
  (void)state;
  static const struct {
    const char *from, *to;
    double days;
  } rows[] = {{"2023-02-28", "2023-03-01", 1},   {"2024-02-28", "2024-03-01", 2},   {"1900-02-28", "1900-03-01", 1},
              {"2000-02-28", "2000-03-01", 2},   {"2023-12-31", "2024-01-01", 1},   {"1970-01-01", "2000-01-01", 10957},
              {"2023-01-01", "2024-01-01", 365}, {"2024-01-01", "2025-01-01", 366}, {"2024-03-01", "2024-02-28", -2}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    char from[40], to[40];
    struct log_point point = {'.', false};
    struct log_clock clock = {.form = LOG_TIME_UNSEEN};
    double a = 0, b = 0;
    snprintf(from, sizeof from, "%s 12:00:00.5", rows[i].from);
    snprintf(to, sizeof to, "%s 12:00:00.5", rows[i].to);
    assert_int_equal(log_cell_time(&clock, &point, slice_of(from), &a), LOG_CELL_GOOD);
    assert_int_equal(log_cell_time(&clock, &point, slice_of(to), &b), LOG_CELL_GOOD);
    assert_true(b - a == rows[i].days * 86400);
  }
}

/* One column is written in one way. */
static void test_mixed_times(void **state)
{
  (void)state;
  struct log_point point = {'.', false};
  struct log_clock clock = {.form = LOG_TIME_UNSEEN};
  double got = 0;
  assert_int_equal(log_cell_time(&clock, &point, slice_of("-"), &got), LOG_CELL_MISSING);
  assert_int_equal(log_cell_time(&clock, &point, slice_of("12:00:00"), &got), LOG_CELL_GOOD);
  assert_int_equal(log_cell_time(&clock, &point, slice_of("43201"), &got), LOG_CELL_BAD);
  assert_int_equal(log_cell_time(&clock, &point, slice_of("2024-02-29 12:00:02"), &got), LOG_CELL_BAD);
  assert_int_equal(log_cell_time(&clock, &point, slice_of("11:59:59"), &got), LOG_CELL_GOOD);
  assert_true(got == 43199); /* set back, not a day on */
  clock = (struct log_clock){.form = LOG_TIME_NUMBER};
  assert_int_equal(log_cell_time(&clock, &point, slice_of("12:00:00"), &got), LOG_CELL_BAD);
}

static int double_compare(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static void test_median(void **state)
{
  (void)state;
  uint64_t seed = 3;
  size_t ran = 0;
  for (int run = 0; run < 500; run++) {
    double at[64] = {0}, steps[64];
    uint8_t known[64];
    size_t count = chance(&seed, 63) + 1, forward = 0;
    double last = NAN;
    for (size_t i = 0; i < count; i++) {
      at[i] = (i > 0 ? at[i - 1] : 0) + ((double)chance(&seed, 100) - 20) / (double)(1u << chance(&seed, 20));
      known[i] = chance(&seed, 10) != 0;
      if (!known[i])
        continue;
      if (at[i] > last)
        steps[forward++] = at[i] - last;
      last = at[i];
    }
    struct log_time time = log_time_survey(&(struct series){.count = count, .at = at, .known = known}, 0, count);
    qsort(steps, forward, sizeof *steps, double_compare);
    assert_true(time.step == (forward > 0 ? steps[(forward - 1) / 2] : 0));
    ran += forward > 0;
  }
  assert_true(ran > 400);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_numbers_are_strtod),
      cmocka_unit_test(test_numbers_in_a_log_are_strtod),
      cmocka_unit_test(test_words),
      cmocka_unit_test(test_times),
      cmocka_unit_test(test_dates),
      cmocka_unit_test(test_mixed_times),
      cmocka_unit_test(test_median),
  };
  return cmocka_run_group_tests_name("read_log_cell", tests, shared_open, shared_close);
}
