/* text/utf8.h. Sound and broken sequences are those of RFC 3629, sections 3, 4 and 10, and of the Unicode Standard,
 * table 3-7 (well-formed byte sequences). */
#include "reading.h"
#include "text/utf8.h"

#include <string.h>

struct character {
  const char *bytes;
  size_t size; /* 0: broken */
  uint32_t code;
};

static const struct character characters[] = {
    {"A", 1, 0x41},
    {"\x7f", 1, 0x7F},
    {"\xc2\x80", 2, 0x80},
    {"\xdf\xbf", 2, 0x7FF},
    {"\xe0\xa0\x80", 3, 0x800},
    {"\xe2\x89\xa2", 3, 0x2262},
    {"\xed\x9f\xbf", 3, 0xD7FF},
    {"\xee\x80\x80", 3, 0xE000},
    {"\xf0\x90\x80\x80", 4, 0x10000},
    {"\xf4\x8f\xbf\xbf", 4, 0x10FFFF},
    {"\x80", 0, 0},
    {"\xc0\x80", 0, 0},
    {"\xc1\xbf", 0, 0},
    {"\xe0\x9f\xbf", 0, 0},
    {"\xed\xa0\x80", 0, 0},
    {"\xed\xbf\xbf", 0, 0},
    {"\xf0\x8f\xbf\xbf", 0, 0},
    {"\xf4\x90\x80\x80", 0, 0},
    {"\xf5\x80\x80\x80", 0, 0},
    {"\xff", 0, 0},
    {"\xc3", 0, 0},
    {"\xe2\x89", 0, 0},
    {"\xc3(", 0, 0},
};

static void characters_are_read_or_refused(void **state)
{
  (void)state;
  size_t count = sizeof characters / sizeof *characters;
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    uint32_t code = 0;
    assert_int_equal(utf8_read(slice_of(characters[i].bytes), &code), characters[i].size);
    assert_int_equal(code, characters[i].code);
  }
  uint32_t code = 0;
  assert_int_equal(utf8_read((struct slice){NULL, 0}, &code), 0);
}

static void faults_have_a_place(void **state)
{
  (void)state;
  static const struct {
    const char *bytes;
    enum utf8_fault fault;
    size_t at, size;
  } rows[] = {
      {"a\tb\r\n", UTF8_SOUND, 0, 0},        {"\xef\xbb\xbfok", UTF8_SOUND, 0, 0},    {"ab\xff", UTF8_BROKEN, 2, 1},
      {"ab\xe2\x89", UTF8_BROKEN, 2, 1},     {"a\x1b[0m", UTF8_CONTROL, 1, 1},        {"\x7f", UTF8_CONTROL, 0, 1},
      {"a\xc2\x85", UTF8_SEPARATOR, 1, 2},   {"a\xe2\x80\xa9", UTF8_SEPARATOR, 1, 3}, {"a\xc2\x9f", UTF8_CONTROL, 1, 2},
      {"a\xef\xbb\xbf", UTF8_CONTROL, 1, 3}, {"a\xef\xbf\xbe", UTF8_CONTROL, 1, 3},   {"\xff\xfe", UTF8_UTF16, 0, 2},
      {"\xfe\xff\x01", UTF8_UTF16, 0, 2},    {"\xef\xbb", UTF8_BROKEN, 0, 1},
  };
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    struct utf8_check check = utf8_check(slice_of(rows[i].bytes));
    assert_int_equal(check.fault, rows[i].fault);
    assert_int_equal(check.at, rows[i].at);
    assert_int_equal(check.size, rows[i].size);
  }
  struct utf8_check check = utf8_check((struct slice){"a\0b", 3});
  assert_int_equal(check.fault, UTF8_NUL);
  assert_int_equal(check.at, 1);
  assert_true(utf8_check(slice_of("abc")).ascii);
  assert_false(utf8_check(slice_of("\xc3\xa4")).ascii);
  assert_int_equal(utf8_check(slice_of("\xef\xbb\xbf")).skip, 3);
}

static void characters_are_counted_both_ways(void **state)
{
  (void)state;
  struct utf8_cursor cursor = {.bytes = slice_of("a\xc3\xa4\xe2\x82\xac\xf0\x9f\x94\xa7z")};
  static const size_t starts[] = {0, 1, 3, 6, 10, 11};
  size_t count = sizeof starts / sizeof *starts;
  for (size_t i = 0; i < count; i++)
    assert_int_equal(utf8_byte(&cursor, i), starts[i]);
  assert_int_equal(utf8_byte(&cursor, 99), 11);
  for (size_t i = count; i-- > 0;)
    assert_int_equal(utf8_byte(&cursor, i), starts[i]);
  struct utf8_cursor plain = {.bytes = slice_of("abc"), .ascii = true};
  assert_int_equal(utf8_byte(&plain, 2), 2);
  assert_int_equal(utf8_byte(&plain, 9), 3);
}

static void texts_are_cut_between_characters(void **state)
{
  (void)state;
  struct slice text = slice_of("a\xe2\x82\xac");
  assert_int_equal(utf8_cut(text, 4).size, 4);
  assert_int_equal(utf8_cut(text, 3).size, 1);
  assert_int_equal(utf8_cut(text, 1).size, 1);
  assert_int_equal(utf8_cut(text, 0).size, 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(characters_are_read_or_refused),
      cmocka_unit_test(faults_have_a_place),
      cmocka_unit_test(characters_are_counted_both_ways),
      cmocka_unit_test(texts_are_cut_between_characters),
  };
  return cmocka_run_group_tests_name("text/utf8", tests, NULL, NULL);
}
