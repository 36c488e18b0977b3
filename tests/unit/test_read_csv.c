/* Rows and cells: the grammar and the numbered rules of RFC 4180, section 2, then what is beyond it. */
#include "base/limits.h"
#include "read/csv.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#define ROOM 8

struct parsed {
  struct arena *arena;
  size_t rows;
  struct csv_row row[ROOM];
  struct csv_cell cell[ROOM][ROOM];
};

static struct parsed parse(struct slice text, char separator)
{
  struct parsed p = {.arena = arena_new()};
  struct csv csv = csv_new(separator, text.at + text.size);
  for (const char *at = text.at; at < csv.end && p.rows < ROOM; p.rows++) {
    csv_read(&csv, at, p.cell[p.rows], ROOM, &p.row[p.rows]);
    at = p.row[p.rows].next;
    if (p.row[p.rows].fault != CSV_SOUND)
      return p;
  }
  return p;
}

/* Cells of a row joined with "|". */
static void expect_row(const struct parsed *p, size_t row, const char *joined)
{
  char text[256];
  size_t size = 0;
  assert_true(row < p->rows);
  for (size_t i = 0; i < p->row[row].count && i < ROOM; i++) {
    struct slice cell = csv_decode(p->arena, &p->cell[row][i]);
    assert_true(size + cell.size + 2 < sizeof text);
    if (i > 0)
      text[size++] = '|';
    if (cell.size > 0)
      memcpy(text + size, cell.at, cell.size);
    size += cell.size;
  }
  text[size] = '\0';
  assert_string_equal(text, joined);
}

struct example {
  const char *text;
  char separator;
  const char *rows[4];
};

static const struct example examples[] = {
    {"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", ',', {"aaa|bbb|ccc", "zzz|yyy|xxx"}}, /* RFC 4180, 2.1 */
    {"aaa,bbb,ccc\r\nzzz,yyy,xxx", ',', {"aaa|bbb|ccc", "zzz|yyy|xxx"}},     /* 2.2 */
    {"field_name,field_name,field_name\r\naaa,bbb,ccc\r\n", ',', {"field_name|field_name|field_name", "aaa|bbb|ccc"}},
    {"\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", ',', {"aaa|bbb|ccc", "zzz|yyy|xxx"}},         /* 2.5 */
    {"\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", ',', {"aaa|b\r\nbb|ccc", "zzz|yyy|xxx"}}, /* 2.6 */
    {"\"aaa\",\"b\"\"bb\",\"ccc\"", ',', {"aaa|b\"bb|ccc"}},                                 /* 2.7 */
    {"\"a,b\",c\n", ',', {"a,b|c"}},
    {"\"\",\"\"\"\"\n", ',', {"|\""}},
    /* Beyond the RFC: common practice of loggers, no source. */
    {"a\nb\rc\r\nd", ',', {"a", "b", "c", "d"}},
    {"a;b,c;d", ';', {"a|b,c|d"}},
    {"a\tb c\t\"d\te\"", '\t', {"a|b c|d\te"}},
    {" a , \"b\" ,\tc\t", ',', {"a|b|c"}},
    {"a,5\" pipe,\"\"\n", ',', {"a|5\" pipe|"}},
    {"a,b,\n,\n", ',', {"a|b|", "|"}},
    {"\n\na", ',', {"", "", "a"}},
};

static void test_examples(void **state)
{
  (void)state;
  size_t ran = 0;
  for (size_t i = 0; i < sizeof examples / sizeof *examples; i++) {
    struct parsed p = parse(slice_of(examples[i].text), examples[i].separator);
    size_t rows = 0;
    for (; rows < 4 && examples[i].rows[rows] != NULL; rows++)
      expect_row(&p, rows, examples[i].rows[rows]);
    assert_int_equal(p.rows, rows);
    arena_free(p.arena);
    ran++;
  }
  assert_true(ran >= 15);
}

static void expect_fault(struct slice text, enum csv_fault fault, size_t at)
{
  struct parsed p = parse(text, ',');
  const struct csv_row *last = &p.row[p.rows];
  assert_true(p.rows < ROOM);
  assert_int_equal(last->fault, fault);
  assert_int_equal(last->fault_at - text.at, at);
  assert_false(last->closed);
  arena_free(p.arena);
}

static void test_faults(void **state)
{
  (void)state;
  expect_fault(slice_of("a,\"b"), CSV_UNCLOSED, 2);
  expect_fault(slice_of("a,\"b\"\""), CSV_UNCLOSED, 2);
  expect_fault(slice_of("\""), CSV_UNCLOSED, 0);
  expect_fault(slice_of("a\n\"b\"c,d"), CSV_AFTER_QUOTE, 5);
  expect_fault(slice_of("\"b\" \"c\""), CSV_AFTER_QUOTE, 4);
  expect_fault((struct slice){"a,\0b", 4}, CSV_CONTROL, 2);
  expect_fault((struct slice){"a,\"\0\"", 5}, CSV_CONTROL, 3);
  expect_fault(slice_of("a,b\n\x1b[1m"), CSV_CONTROL, 4);
}

static void test_line_limit(void **state)
{
  (void)state;
  size_t size = LIMIT_LOG_LINE + 2;
  char *text = malloc(size);
  assert_non_null(text);
  memset(text, 'x', size);
  text[LIMIT_LOG_LINE] = '\n';
  struct parsed at_limit = parse((struct slice){text, LIMIT_LOG_LINE + 1}, ',');
  assert_int_equal(at_limit.rows, 1);
  arena_free(at_limit.arena);
  text[LIMIT_LOG_LINE] = 'x';
  text[LIMIT_LOG_LINE + 1] = '\n';
  expect_fault((struct slice){text, LIMIT_LOG_LINE + 1}, CSV_LONG, 0);
  /* A quote that is never closed is not looked for further than a line may be long. */
  text[0] = '"';
  text[LIMIT_LOG_LINE + 1] = '"';
  expect_fault((struct slice){text, size}, CSV_UNCLOSED, 0);
  free(text);
}

static void test_cells_without_room(void **state)
{
  (void)state;
  const char *text = "a,b, ,,c,d\na,b, ,\n";
  struct csv csv = csv_new(',', text + strlen(text));
  struct csv_cell cells[2];
  struct csv_row row;
  csv_read(&csv, text, cells, 2, &row);
  assert_int_equal(row.count, 6);
  assert_ptr_equal(row.extra, text + 7);
  csv_read(&csv, row.next, cells, 2, &row);
  assert_int_equal(row.count, 4);
  assert_null(row.extra);
  assert_true(row.closed);
  assert_ptr_equal(row.next, csv.end);
}

static void test_line_ends(void **state)
{
  (void)state;
  const char *text = "a\"b\r\n\rc\nd";
  struct csv csv = csv_new(',', text + strlen(text));
  assert_ptr_equal(csv_skip_line(&csv, text), text + 5);
  assert_ptr_equal(csv_skip_line(&csv, text + 5), text + 6);
  assert_ptr_equal(csv_skip_line(&csv, text + 6), text + 8);
  assert_ptr_equal(csv_skip_line(&csv, text + 8), csv.end);
}

/* Nothing behind the end is read: the bytes are an exact allocation, for the address sanitizer. */
static void test_all_cuts(void **state)
{
  (void)state;
  const char *whole = "a,\"b\"\"c\" ,\r\n\"x\ny\",z\r\n";
  size_t ran = 0;
  for (size_t size = 1; size <= strlen(whole); size++) {
    char *text = malloc(size);
    assert_non_null(text);
    memcpy(text, whole, size);
    struct parsed p = parse((struct slice){text, size}, ',');
    assert_true(p.rows <= 2);
    arena_free(p.arena);
    free(text);
    ran++;
  }
  assert_int_equal(ran, strlen(whole));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_examples),           cmocka_unit_test(test_faults),    cmocka_unit_test(test_line_limit),
      cmocka_unit_test(test_cells_without_room), cmocka_unit_test(test_line_ends), cmocka_unit_test(test_all_cuts),
  };
  return cmocka_run_group_tests_name("read_csv", tests, NULL, NULL);
}
