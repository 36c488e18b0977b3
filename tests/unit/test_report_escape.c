/* Nothing of an input reaches a terminal raw. */
#include "report/escape.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void test_escape_text(void **state)
{
  (void)state;
  static const struct {
    const char *text;
    size_t size;
    const char *shown;
  } rows[] = {
      {"plain text, 100 %", 17, "plain text, 100 %"},
      {"", 0, ""},
      {"a\0b", 3, "a\\x00b"},
      {"\x1b[31mred\x1b[0m", 12, "\\x1b[31mred\\x1b[0m"},
      {"\a\b\x7f", 3, "\\x07\\x08\\x7f"},
      {"a\nb\rc\td", 7, "a\\nb\\rc\\td"},
      {"\xC2\x9B"
       "31m",
       5, "\\x9b31m"},          /* U+009B, CSI in one character */
      {"\xC2\x85", 2, "\\x85"}, /* U+0085, a line end to some */
      {"\xE2\x80\xAE"
       "gpj\xE2\x80\xAC",
       9, "\\u202egpj\\u202c"},                            /* right-to-left override */
      {"\xE2\x81\xA6x\xE2\x81\xA9", 7, "\\u2066x\\u2069"}, /* isolates */
      {"\xD8\x9C", 2, "\\u061c"},                          /* Arabic letter mark */
      {"\xE2\x80\x8B", 3, "\\u200b"},                      /* blank of no width */
      {"\xE2\x80\xA8\xE2\x80\xA9", 6, "\\u2028\\u2029"},
      {"\xEF\xBB\xBF", 3, "\\ufeff"},
      {"\xF3\xA0\x81\x81", 4, "\\ue0041"}, /* a tag character */
      {"20 \xC2\xB0"
       "C",
       6,
       "20 \xC2\xB0"
       "C"},
      {"\xE6\xB0\xB4\xE6\xB8\xA9", 6, "\xE6\xB0\xB4\xE6\xB8\xA9"},
      {"e\xCC\x81", 3, "e\xCC\x81"},
      /* RFC 3629, section 3 and 10: what is no UTF-8 */
      {"\xC0\x80", 2, "\\xc0\\x80"},                   /* overlong NUL */
      {"\xE0\x9F\xBF", 3, "\\xe0\\x9f\\xbf"},          /* overlong */
      {"\xED\xA0\x80", 3, "\\xed\\xa0\\x80"},          /* a surrogate */
      {"\xF4\x90\x80\x80", 4, "\\xf4\\x90\\x80\\x80"}, /* over U+10FFFF */
      {"\xE6\xB0", 2, "\\xe6\\xb0"},                   /* cut short */
      {"\x80"
       "a",
       2,
       "\\x80"
       "a"},
      {"\xFE\xFF", 2, "\\xfe\\xff"},
  };
  struct arena *arena = arena_new();
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
    assert_string_equal(escape_line(arena, (struct slice){rows[i].text, rows[i].size}), rows[i].shown);
  arena_free(arena);
}

/* Every single byte, alone and between letters, and every pair of bytes: what comes out holds no control character and
 * no byte over 0x7f unless the pair is one sound character. */
static void test_escape_every_byte(void **state)
{
  (void)state;
  for (unsigned first = 0; first < 256; first++) {
    for (unsigned second = 0; second < 256; second++) {
      char pair[2] = {(char)first, (char)second};
      struct slice rest = {pair, 2};
      while (rest.size > 0) {
        struct escape_part part = escape_next(rest);
        assert_true(part.used >= 1 && part.used <= rest.size);
        bool sound = part.used == 2 && first >= 0xC2 && first < 0xE0 && (second & 0xC0) == 0x80;
        for (const char *at = part.text; *at != '\0'; at++)
          assert_true(sound || (*at >= ' ' && *at <= '~'));
        rest = slice_part(rest, part.used, rest.size);
      }
    }
  }
}

/* Widths by EastAsianWidth.txt of Unicode 14, as Python's unicodedata gives them: W and F are 2, Mn and Me are 0. */
static void test_escape_columns(void **state)
{
  (void)state;
  static const struct {
    const char *text;
    size_t columns;
  } rows[] = {
      {"abc", 3},
      {"\xC2\xB0", 1},         /* U+00B0 */
      {"\xCE\xBB", 1},         /* U+03BB lambda */
      {"e\xCC\x81", 1},        /* U+0301 combining acute */
      {"\xE6\xB0\xB4", 2},     /* U+6C34 */
      {"\xED\x95\x9C", 2},     /* U+D55C */
      {"\xEF\xBC\xA1", 2},     /* U+FF21 full-width A */
      {"\xEF\xBD\xB1", 1},     /* U+FF71 half-width katakana */
      {"\xE3\x81\x82", 2},     /* U+3042 */
      {"\xF0\x9F\x98\x80", 2}, /* U+1F600 */
      {"\xF0\xA0\x80\x80", 2}, /* U+20000 */
      {"\xE2\x82\xAC", 1},     /* U+20AC */
      {"\x1b", 4},             /* as "\x1b" */
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
    assert_int_equal(escape_columns(slice_of(rows[i].text)), rows[i].columns);
}

/* One U+FFFD a byte; sound text is not copied. */
static void test_escape_mend(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct slice sound = slice_of("20 \xC2\xB0"
                                "C\x1b");
  assert_ptr_equal(escape_mend(arena, sound).at, sound.at);
  struct slice mended = escape_mend(arena, (struct slice){"a\xFF\xE6\xB0z\0", 6});
  struct slice wanted = {"a\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBDz\0", 12};
  assert_true(slice_equal(mended, wanted));
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_escape_text),
      cmocka_unit_test(test_escape_every_byte),
      cmocka_unit_test(test_escape_columns),
      cmocka_unit_test(test_escape_mend),
  };
  return cmocka_run_group_tests_name("report/escape", tests, NULL, NULL);
}
