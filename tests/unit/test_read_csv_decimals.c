/* Cells of one column taken many at a time, against a look at each character, for every way that this processor has. */
#include "base/number_short.h"
#include "read/csv_decimals.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define ROWS_MOST 70
#define CELLS_MOST 3
#define TEXT_SIZE (ROWS_MOST * CELLS_MOST * 24 + CSV_DECIMALS_PAD)
#define PAD 16
#define MIXED SIZE_MAX /* as many decimals in a cell as in no other */

struct table {
  char room[PAD + TEXT_SIZE];
  uint32_t room_of_ends[1 + ROWS_MOST * CELLS_MOST];
  size_t size, rows, stride, column;
  uint32_t trim;
};

/* Repeatable numbers (Numerical Recipes' 64-bit linear congruence). */
static uint32_t chance(uint64_t *seed, uint32_t below)
{
  *seed = *seed * 6364136223846793005ull + 1442695040888963407ull;
  return (uint32_t)((*seed >> 33) % below);
}

static void put(struct table *table, const char *text)
{
  memcpy(table->room + PAD + table->size, text, strlen(text));
  table->size += strlen(text);
}

static void put_digits(struct table *table, uint64_t *seed, size_t count)
{
  for (size_t i = 0; i < count; i++)
    table->room[PAD + table->size++] = (char)('0' + chance(seed, 10));
}

static void put_cell(struct table *table, uint64_t *seed, size_t decimals, const char *sign, uint32_t oddly)
{
  static const char *const odd[] = {"",   "-",     ".",  ",",         "--1",       "1-",          "+1",       " 1",
                                    "1 ", "1.",    "1,", "1.2.3",     "x",         "1e3",         "nan",      "-.",
                                    "1:", "\"1\"", "/1", "123456789", "1234567.8", "-12345678.9", "\xb1\xb1", "1\xff"};
  if (chance(seed, oddly) == 0) {
    put(table, odd[chance(seed, sizeof odd / sizeof *odd)]);
    return;
  }
  if (chance(seed, 3) == 0)
    put(table, "-");
  size_t places = decimals > 0 ? decimals + 1 : 0;
  put_digits(table, seed, 1 + chance(seed, (uint32_t)(8 - (places < 7 ? places : 7))));
  if (decimals > 0) {
    put(table, sign);
    put_digits(table, seed, decimals);
  }
}

static void make(struct table *table, uint64_t *seed, size_t decimals, const char *sign)
{
  uint32_t oddly = 2 + chance(seed, 100);
  table->size = 0;
  table->rows = 1 + chance(seed, ROWS_MOST);
  table->stride = 1 + chance(seed, CELLS_MOST);
  table->column = chance(seed, (uint32_t)table->stride);
  table->trim = table->column + 1 == table->stride ? chance(seed, 2) : 0;
  table->room_of_ends[0] = UINT32_MAX;
  for (size_t i = 0; i < table->rows * table->stride; i++) {
    bool last = (i + 1) % table->stride == 0;
    put_cell(table, seed, decimals == MIXED ? chance(seed, CSV_DECIMALS_MOST + 1) : decimals, sign, oddly);
    if (last && table->trim == 1)
      put(table, "\r");
    table->room_of_ends[1 + i] = (uint32_t)table->size;
    put(table, last ? "\n" : ";");
  }
  memset(table->room + PAD + table->size, '7', CSV_DECIMALS_PAD);
}

/* What the header says, a character at a time. */
static bool read_cell(const char *from, const char *to, size_t decimals, char sign, int64_t *number)
{
  bool minus = from < to && *from == '-';
  from += minus;
  if (to - from > 8 || (size_t)(to - from) < decimals + 1 || (decimals > 0 && to[-1 - (int)decimals] != sign))
    return false;
  *number = 0;
  for (const char *at = from; at < to; at++) {
    if (decimals > 0 && at == to - 1 - decimals)
      continue;
    if (*at < '0' || *at > '9')
      return false;
    *number = *number * 10 + (*at - '0');
  }
  *number = minus ? -*number : *number;
  return true;
}

static size_t expected(const struct table *table, size_t decimals, char sign, int64_t *number, size_t from,
                       struct csv_extent *extent)
{
  size_t taken = 0;
  for (size_t row = from; row < table->rows; row++, taken++) {
    const uint32_t *end = table->room_of_ends + 1 + row * table->stride + table->column;
    const char *text = table->room + PAD;
    if (!read_cell(text + (uint32_t)(end[-1] + 1), text + *end - table->trim, decimals, sign, &number[taken]))
      break;
    extent->least = number[taken] < extent->least ? number[taken] : extent->least;
    extent->most = number[taken] > extent->most ? number[taken] : extent->most;
  }
  return taken;
}

static void test_alike(void **state)
{
  (void)state;
  static struct table table;
  uint64_t seed = 11;
  size_t whole = 0, cut = 0, cells = 0;
  for (int run = 0; run < 20000; run++) {
    size_t decimals = chance(&seed, CSV_DECIMALS_MOST + 1);
    const char *sign = chance(&seed, 4) == 0 ? "," : ".";
    make(&table, &seed, decimals, sign);
    size_t from = chance(&seed, 3) == 0 ? chance(&seed, (uint32_t)table.rows) : 0;
    int64_t wanted[ROWS_MOST], number[ROWS_MOST];
    struct csv_extent ends = {INT64_MAX, INT64_MIN};
    size_t count = expected(&table, decimals, *sign, wanted, from, &ends);
    struct csv_shape shape = csv_shape_new((uint8_t)decimals, *sign);
    struct csv_column_cells column = {table.room + PAD, table.room_of_ends + 1 + table.column, table.stride, table.rows,
                                      table.trim};
    const struct csv_taker *taker;
    for (size_t n = 0; (taker = csv_taker_nth(n)) != NULL; n++) {
      struct csv_extent extent = {INT64_MAX, INT64_MIN};
      assert_int_equal(taker->alike(&shape, &column, from, number, &extent), count);
      assert_memory_equal(number, wanted, count * sizeof *number);
      assert_true(extent.least == ends.least && extent.most == ends.most);
    }
    whole += from + count == table.rows;
    cut += from + count < table.rows;
    cells += count;
  }
  assert_true(whole > 1000 && cut > 1000 && cells > 100000);
}

/* Decimals as they come, against number_short, which test_base_number holds against strtod. */
static void test_mixed(void **state)
{
  (void)state;
  static struct table table;
  uint64_t seed = 12;
  size_t whole = 0, cut = 0, cells = 0;
  for (int run = 0; run < 20000; run++) {
    char sign = chance(&seed, 20) == 0 ? '\0' : chance(&seed, 4) == 0 ? ',' : '.';
    make(&table, &seed, MIXED, sign == ',' ? "," : ".");
    size_t from = chance(&seed, 3) == 0 ? chance(&seed, (uint32_t)table.rows) : 0, count = 0;
    int64_t wanted[ROWS_MOST], number[ROWS_MOST];
    uint8_t codes[ROWS_MOST], decimals[ROWS_MOST];
    for (; from + count < table.rows; count++) {
      const uint32_t *end = table.room_of_ends + 1 + (from + count) * table.stride + table.column;
      const char *text = table.room + PAD;
      if (!number_short(text + (uint32_t)(end[-1] + 1), text + *end - table.trim, sign, &wanted[count], &codes[count]))
        break;
    }
    struct csv_column_cells column = {table.room + PAD, table.room_of_ends + 1 + table.column, table.stride, table.rows,
                                      table.trim};
    const struct csv_taker *taker;
    for (size_t n = 0; (taker = csv_taker_nth(n)) != NULL; n++) {
      assert_int_equal(taker->mixed(sign, &column, from, number, decimals), count);
      assert_memory_equal(number, wanted, count * sizeof *number);
      assert_memory_equal(decimals, codes, count);
    }
    whole += from + count == table.rows;
    cut += from + count < table.rows;
    cells += count;
  }
  assert_true(whole > 1000 && cut > 1000 && cells > 100000);
}

static void test_ways(void **state)
{
  (void)state;
  size_t count = 0;
  while (csv_taker_nth(count) != NULL)
    count++;
  assert_true(count > 0);
  assert_true(csv_taker_best() == csv_taker_nth(count - 1));
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_alike), cmocka_unit_test(test_mixed),
                                     cmocka_unit_test(test_ways)};
  return cmocka_run_group_tests_name("read_csv_decimals", tests, NULL, NULL);
}
