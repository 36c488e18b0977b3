/* Problems as people read them: place, line, caret, hint. */
#include "report_sample.h"

#include "report/escape.h"

struct bench {
  struct arena *arena;
  struct sources *sources;
  struct problems problems;
};

static struct bench bench_of(const char *name, struct slice bytes)
{
  struct bench bench = {.arena = arena_new()};
  bench.sources = sources_new(bench.arena);
  sources_memory(bench.sources, name, bytes);
  problems_init(&bench.problems, bench.arena, PROBLEM_OF_INPUT);
  return bench;
}

/* To be freed. */
static char *shown(struct bench *bench)
{
  char *bytes = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&bytes, &size);
  assert_non_null(out);
  struct report_options options = {.color = false};
  report_problems(out, &bench->problems, bench->sources, &options);
  assert_int_equal(fclose(out), 0);
  arena_free(bench->arena);
  char *text = strdup(bytes);
  assert_non_null(text);
  free(bytes);
  return text;
}

static void assert_shown(const char *text, uint64_t from, uint64_t to, const char *wanted)
{
  struct bench bench = bench_of("a.yaml", slice_of(text));
  problems_add(&bench.problems, (struct place){1, from, to}, "wrong");
  char *got = shown(&bench);
  assert_string_equal(got, wanted);
  free(got);
}

static void test_problem_caret(void **state)
{
  (void)state;
  assert_shown("one\ntwo: 3\n", 9, 10, "a.yaml:2:6: wrong\n    two: 3\n         ^\n");
  assert_shown("one\ntwo: 345\n", 9, 12, "a.yaml:2:6: wrong\n    two: 345\n         ^^^\n");
  /* A place over several lines is marked to the end of its first. */
  assert_shown("ab: c\nd: e\n", 4, 10, "a.yaml:1:5: wrong\n    ab: c\n        ^\n");
  /* At the end of a line without anything behind it. */
  assert_shown("ab:\n", 3, 3, "a.yaml:1:4: wrong\n    ab:\n       ^\n");
  assert_shown("ab: \t \n", 3, 3, "a.yaml:1:4: wrong\n    ab:\n       ^\n");
}

/* A tab is one column of the caret line, as it is one character of the column count. */
static void test_problem_tabs(void **state)
{
  (void)state;
  assert_shown("\ta:\tb\n", 4, 5, "a.yaml:1:5: wrong\n     a: b\n        ^\n");
}

/* The caret stands under what is seen: one column for a two-byte character, two for a wide one, four for an escape. */
static void test_problem_wide(void **state)
{
  (void)state;
  assert_shown("\xC2\xB0: x\n", 4, 5, "a.yaml:1:4: wrong\n    \xC2\xB0: x\n       ^\n");
  assert_shown("\xE6\xB0\xB4: x\n", 5, 6, "a.yaml:1:4: wrong\n    \xE6\xB0\xB4: x\n        ^\n");
  assert_shown("\xE6\xB0\xB4: x\n", 0, 3, "a.yaml:1:1: wrong\n    \xE6\xB0\xB4: x\n    ^^\n");
  assert_shown("\x1b: x\n", 3, 4, "a.yaml:1:4: wrong\n    \\x1b: x\n          ^\n");
  assert_shown("\xFF: x\n", 0, 1, "a.yaml:1:1: wrong\n    \\xff: x\n    ^^^^\n");
}

/* The marked bytes of a line of any length are on the page, under a caret, and the page is not wider than it should be.
 */
static void test_problem_long_line(void **state)
{
  (void)state;
  enum { SIZE = 5000 };
  static const char *const fills[] = {"x", "\xFF", "\xE6\xB0\xB4", "\t"};
  size_t tried = 0;
  for (size_t fill = 0; fill < sizeof fills / sizeof fills[0]; fill++) {
    size_t unit = strlen(fills[fill]);
    for (size_t at = 0; at < SIZE; at += 250) {
      char *text = calloc(1, SIZE * unit + 2);
      assert_non_null(text);
      for (size_t i = 0; i < SIZE; i++)
        memcpy(text + i * unit, fills[fill], unit);
      size_t from = at * unit;
      text[from] = '!';
      for (size_t i = 1; i < unit; i++)
        text[from + i] = '!';
      struct bench bench = bench_of("a", slice_of(text));
      problems_add(&bench.problems, (struct place){1, from, from + 1}, "wrong");
      char *got = shown(&bench);
      char *line = strchr(got, '\n') + 1, *caret = strchr(line, '\n') + 1;
      const char *mark = memchr(line, '!', (size_t)(caret - line));
      assert_non_null(mark);
      assert_true(escape_columns((struct slice){line, (size_t)(caret - 1 - line)}) <= 110);
      struct slice before = {line, (size_t)(mark - line)};
      assert_int_equal(escape_columns(before), strspn(caret, " "));
      assert_int_equal(caret[strspn(caret, " ")], '^');
      free(got);
      free(text);
      tried++;
    }
  }
  assert_int_equal(tried, 80);
}

static void test_problem_order_and_hint(void **state)
{
  (void)state;
  struct bench bench = bench_of("a\nb", slice_of("first\nsecond\n"));
  problems_add(&bench.problems, (struct place){1, 6, 12}, "later \x1b[0m");
  problems_hint(&bench.problems, "take\n%s", "care");
  problems_add(&bench.problems, (struct place){1, 0, 5}, "earlier");
  problems_add(&bench.problems, PLACE_NONE, "nowhere");
  char *got = shown(&bench);
  assert_string_equal(got, "keyway: nowhere\n"
                           "a\\nb:1:1: earlier\n    first\n    ^^^^^\n"
                           "a\\nb:2:1: later \\x1b[0m\n    second\n    ^^^^^^\n    hint: take\\ncare\n");
  free(got);
}

/* A file without bytes has no line to point at. */
static void test_problem_empty_file(void **state)
{
  (void)state;
  struct bench bench = bench_of("a.yaml", slice_of(""));
  problems_add(&bench.problems, (struct place){1, 0, 0}, "holds nothing");
  char *got = shown(&bench);
  assert_string_equal(got, "a.yaml: holds nothing\n");
  free(got);
}

static void test_problem_dropped(void **state)
{
  (void)state;
  struct bench bench = bench_of("a.yaml", slice_of("x\n"));
  bench.problems.dropped = 3;
  char *got = shown(&bench);
  assert_string_equal(got, "keyway: and 3 more problems, not shown\n");
  free(got);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_problem_caret),          cmocka_unit_test(test_problem_tabs),
      cmocka_unit_test(test_problem_wide),           cmocka_unit_test(test_problem_long_line),
      cmocka_unit_test(test_problem_order_and_hint), cmocka_unit_test(test_problem_empty_file),
      cmocka_unit_test(test_problem_dropped),
  };
  return cmocka_run_group_tests_name("report/problem", tests, NULL, NULL);
}
