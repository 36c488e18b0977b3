/* Text set in lines. */
#include "base/arena.h"
#include "report/escape.h"
#include "report/wrap.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

/* To be freed. */
static char *wrapped(unsigned width, unsigned first, unsigned indent, const char *label, const char *text)
{
  char *bytes = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&bytes, &size);
  assert_non_null(out);
  wrap_print(out, width, first, indent, label, text);
  assert_int_equal(fclose(out), 0);
  return bytes;
}

static void assert_wrapped(const char *label, const char *text, const char *wanted)
{
  char *got = wrapped(40, 2, 4, label, text);
  assert_string_equal(got, wanted);
  free(got);
}

static void test_wrap_lines(void **state)
{
  (void)state;
  assert_wrapped("", "short", "  short\n");
  assert_wrapped("Do:", "short", "  Do: short\n");
  assert_wrapped("", "  blanks \n\n and\tline ends  are one ", "  blanks and line ends are one\n");
  /* 40 columns are used to the last one, and not one more. */
  assert_wrapped("", "123456789a 123456789b 123456789c abcde x", "  123456789a 123456789b 123456789c abcde\n    x\n");
  assert_wrapped("", "123456789a 123456789b 123456789c abcdef x", "  123456789a 123456789b 123456789c\n    abcdef x\n");
  assert_wrapped("", "", "\n");
}

/* A number does not leave its unit. */
static void test_wrap_number_and_unit(void **state)
{
  (void)state;
  assert_wrapped("", "aaaaaaaaaa bbbbbbbbbb cccccccccc 80 degC", "  aaaaaaaaaa bbbbbbbbbb cccccccccc\n    80 degC\n");
  assert_wrapped("", "aaaaaaaaaa bbbbbbbbbb cccccccccc -4.5 deg/kPa",
                 "  aaaaaaaaaa bbbbbbbbbb cccccccccc\n    -4.5 deg/kPa\n");
  /* Only the next word is bound to it. */
  assert_wrapped("", "aaaaaaaaaa bbbbbbbbbb ccccccccc 80 x degC", "  aaaaaaaaaa bbbbbbbbbb ccccccccc 80 x\n    degC\n");
}

static void test_wrap_wide_and_combining(void **state)
{
  (void)state;
  /* Nineteen characters of two columns fill 38 columns. */
  char text[64];
  for (size_t i = 0; i < 19; i++)
    memcpy(text + 3 * i, "\xE6\xB0\xB4", 3);
  memcpy(text + (size_t)57, " x", 3);
  char *got = wrapped(40, 2, 4, "", text);
  assert_non_null(strstr(got, "\xE6\xB0\xB4\n    x\n"));
  free(got);
  /* A combining mark takes no column: still 40. */
  assert_wrapped("", "123456789a 123456789b 123456789c 1234e\xCC\x81 x",
                 "  123456789a 123456789b 123456789c 1234e\xCC\x81\n    x\n");
}

/* A word that fits no line is cut at the width; escapes are not cut in two. */
static void test_wrap_long_word(void **state)
{
  (void)state;
  char text[400];
  memset(text, 'x', 100);
  text[100] = '\0';
  char *got = wrapped(40, 2, 4, "", text);
  size_t count = 0, longest = 0, lines = 0, at = 0;
  for (const char *c = got; *c != '\0'; c++) {
    count += *c == 'x';
    at++;
    if (*c == '\n') {
      longest = at - 1 > longest ? at - 1 : longest;
      at = 0;
      lines++;
    }
  }
  assert_int_equal(count, 100);
  assert_int_equal(longest, 40);
  assert_int_equal(lines, 3);
  free(got);
  memset(text, '\x1b', 100);
  got = wrapped(40, 2, 4, "", text);
  assert_null(strchr(got, '\x1b'));
  assert_null(strstr(got, "\\\n"));
  free(got);
}

/* A width that leaves no room is taken as the narrowest. */
static void test_wrap_narrow(void **state)
{
  (void)state;
  char *got = wrapped(1, 0, 0, "", "a b");
  assert_string_equal(got, "a b\n");
  free(got);
}

/* No line of any text ends in blanks or is wider than asked: fifty widths, a text with everything in it. */
static void test_wrap_every_width(void **state)
{
  (void)state;
  const char *text = "Warm-up enrichment is 102 % at 80 degC;\nby 77 degC it should leave the fuel\ttable alone "
                     "(100 %). \xE6\xB0\xB4\xE6\xB8\xA9 20 \xC2\xB0"
                     "C -4.5e-1 deg/kPa \x1b[31m and so on.";
  size_t tried = 0;
  for (unsigned width = WRAP_NARROWEST; width < WRAP_NARROWEST + 50; width++) {
    char *got = wrapped(width, 2, 4, "Why:", text);
    for (char *line = got, *end; (end = strchr(line, '\n')) != NULL; line = end + 1) {
      struct slice one = {line, (size_t)(end - line)};
      assert_true(escape_columns(one) <= width);
      assert_true(one.size > 0 && one.at[one.size - 1] != ' ');
      tried++;
    }
    free(got);
  }
  assert_true(tried > 100);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_wrap_lines),
      cmocka_unit_test(test_wrap_number_and_unit),
      cmocka_unit_test(test_wrap_wide_and_combining),
      cmocka_unit_test(test_wrap_long_word),
      cmocka_unit_test(test_wrap_narrow),
      cmocka_unit_test(test_wrap_every_width),
  };
  return cmocka_run_group_tests_name("report/wrap", tests, NULL, NULL);
}
