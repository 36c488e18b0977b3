/* text/pattern.h: what matches, what is refused, and that no pattern takes longer than its bounds let it. What a
 * pattern means is PCRE2's own manual (pcre2pattern(3), pcre2api(3)). */
#include "reading.h"
#include "text/pattern.h"

#include <stdlib.h>
#include <time.h>

typedef struct pattern *compiler(struct arena *, struct slice, const char **, size_t *);

static compiler *const compilers[] = {pattern_compile, pattern_compile_plain};
#define COMPILERS (sizeof compilers / sizeof *compilers)

static struct pattern *compiled(struct arena *arena, compiler *compile, const char *text)
{
  const char *why = NULL;
  size_t at = 0;
  struct pattern *pattern = compile(arena, slice_of(text), &why, &at);
  assert_non_null(pattern);
  return pattern;
}

static void groups_are_found_by_number_and_name(void **state)
{
  (void)state;
  for (size_t i = 0; i < COMPILERS; i++) {
    struct arena *arena = arena_new();
    struct pattern *pattern = compiled(arena, compilers[i], "(?<row>\\d+)/(x)?(?<column>[a-z]+)$");
    struct slice subject = slice_of("Map/30/ab");
    struct pattern_match match;
    assert_int_equal(pattern_find(pattern, subject, 0, &match), PATTERN_YES);
    assert_int_equal(match.group_count, 4);
    assert_int_equal(match.from[0], 4);
    assert_int_equal(match.to[0], 9);
    assert_int_equal(pattern_group(pattern, "row"), 1);
    assert_int_equal(pattern_group(pattern, "column"), 3);
    assert_int_equal(pattern_group(pattern, "none"), 0);
    assert_true(slice_is(pattern_part(&match, subject, 1), "30"));
    assert_true(slice_is(pattern_part(&match, subject, 3), "ab"));
    assert_true(match.from[2] == SIZE_MAX && match.to[2] == SIZE_MAX);
    assert_int_equal(pattern_part(&match, subject, 2).size, 0);
    assert_int_equal(pattern_part(&match, subject, 9).size, 0);
    assert_true(slice_is(pattern_text(pattern), "(?<row>\\d+)/(x)?(?<column>[a-z]+)$"));
    assert_int_equal(pattern_find(pattern, slice_of("Map/x"), 0, &match), PATTERN_NO);
    assert_true(match.from[0] == SIZE_MAX);
    pattern_free(pattern);
    arena_free(arena);
  }
}

static void subjects_are_characters(void **state)
{
  (void)state;
  static const struct {
    const char *pattern, *subject;
    enum pattern_outcome outcome;
  } cases[] = {
      {"^.$", "\xc3\xa4", PATTERN_YES},
      {"^(?i)\xc3\xa4$", "\xc3\x84", PATTERN_YES},
      {"^a$", "A", PATTERN_NO},
      {"(?i)^a$", "A", PATTERN_YES},
      {"^$", "", PATTERN_YES},
      {"a", "a\xff", PATTERN_NO},         /* no UTF-8 */
      {"a", "a\xed\xa0\x80", PATTERN_NO}, /* half of a surrogate pair */
      {"\\(line\\)", "Map/(line)#2", PATTERN_YES},
  };
  for (size_t i = 0; i < COMPILERS; i++) {
    for (size_t j = 0; j < sizeof cases / sizeof *cases; j++) {
      struct arena *arena = arena_new();
      struct pattern *pattern = compiled(arena, compilers[i], cases[j].pattern);
      struct pattern_match match;
      assert_int_equal(pattern_find(pattern, slice_of(cases[j].subject), 0, &match), cases[j].outcome);
      pattern_free(pattern);
      arena_free(arena);
    }
  }
}

static void wrong_patterns_say_where(void **state)
{
  (void)state;
  static const struct {
    const char *pattern, *why;
    size_t at;
  } cases[] = {
      {"a(b", "missing closing parenthesis", 3},
      {"a[b", "missing terminating ] for character class", 3},
      {"a**", "quantifier does not follow a repeatable item", 2},
      {"\\C", "using \\C is disabled by the application", 2},
      {"(*LIMIT_MATCH=4000000)a", "a pattern cannot start with '(*'", 0},
      {"(*NO_JIT)a", "a pattern cannot start with '(*'", 0},
      {"(((((((((((a{1,9999}){1,9999}){1,9999})))))))))", "regular expression is too large", 47},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    struct arena *arena = arena_new();
    const char *why = NULL;
    size_t at = 99;
    assert_null(pattern_compile(arena, slice_of(cases[i].pattern), &why, &at));
    assert_string_equal(why, cases[i].why);
    assert_true(at <= strlen(cases[i].pattern));
    if (cases[i].at > 0)
      assert_int_equal(at, cases[i].at);
    arena_free(arena);
  }
}

static void a_pattern_has_a_longest_length(void **state)
{
  (void)state;
  char text[LIMIT_PATTERN_BYTES + 1];
  for (size_t i = 0; i < sizeof text; i++)
    text[i] = 'a';
  struct arena *arena = arena_new();
  const char *why = NULL;
  size_t at = 0;
  struct pattern *pattern = pattern_compile(arena, (struct slice){text, LIMIT_PATTERN_BYTES}, &why, &at);
  assert_non_null(pattern);
  pattern_free(pattern);
  assert_null(pattern_compile(arena, (struct slice){text, sizeof text}, &why, &at));
  assert_string_equal(why, "the pattern is 1025 bytes long; at most 1024 are accepted");
  assert_int_equal(at, LIMIT_PATTERN_BYTES);
  pattern_free(NULL);
  arena_free(arena);
}

static struct slice filled(struct arena *arena, const char *unit, size_t size, const char *end)
{
  size_t step = strlen(unit), tail = strlen(end);
  char *text = arena_alloc(arena, size + tail);
  for (size_t i = 0; i < size; i++)
    text[i] = unit[i % step];
  memcpy(text + size, end, tail);
  return (struct slice){text, size + tail};
}

/* Nested repeats take exponential time without a bound; "(a+)+$" is the textbook case (OWASP, Regular expression
 * Denial of Service). */
static void costly_patterns_end_at_once(void **state)
{
  (void)state;
  static const struct {
    const char *pattern, *unit, *end;
    size_t size;
  } cases[] = {
      {"^(a+)+$", "a", "b", 30},          {"^(a+)+$", "a", "b", 60000},
      {"^(a|aa)+$", "a", "b", 60},        {"^(.*?,){24}[PQ]", "1,", "", 60000},
      {"^((a*)*)*[bd]$", "a", "c", 40},   {"(x+x+)+[yz]", "x", "", 60},
      {"^(a?){60}a{60}$", "a", "", 60},   {"^((?:a+)+)+\\1$", "a", "b", 50},
      {"^(\\w+\\s?)*$", "ab ", "!", 300},
  };
  for (size_t i = 0; i < COMPILERS; i++) {
    for (size_t j = 0; j < sizeof cases / sizeof *cases; j++) {
      struct arena *arena = arena_new();
      struct pattern *pattern = compiled(arena, compilers[i], cases[j].pattern);
      struct pattern_match match;
      clock_t start = clock();
      enum pattern_outcome outcome =
          pattern_find(pattern, filled(arena, cases[j].unit, cases[j].size, cases[j].end), 0, &match);
      assert_true((double)(clock() - start) / CLOCKS_PER_SEC < 1.0);
      assert_int_equal(outcome, PATTERN_TOO_COSTLY);
      assert_int_equal(pattern_find(pattern, slice_of("?"), 0, &match), PATTERN_NO);
      pattern_free(pattern);
      arena_free(arena);
    }
  }
}

/* The numbers of a 64 x 64 table in one text, against a group that repeats: over the stack of machine code. */
static void a_table_in_one_text_is_not_too_costly(void **state)
{
  (void)state;
  for (size_t i = 0; i < COMPILERS; i++) {
    struct arena *arena = arena_new();
    struct pattern *pattern = compiled(arena, compilers[i], "^(?:\\d+\\.\\d+,)+$");
    struct pattern_match match;
    assert_int_equal(pattern_find(pattern, filled(arena, "12.5,", 5 * 4096, ""), 0, &match), PATTERN_YES);
    assert_int_equal(match.to[0], 5 * 4096);
    pattern_free(pattern);
    arena_free(arena);
  }
}

/* Two to the power of the length, so these lie on either side of LIMIT_PATTERN_STEPS and far below PCRE2's own limit.
 */
static void steps_are_counted(void **state)
{
  (void)state;
  for (size_t i = 0; i < COMPILERS; i++) {
    struct arena *arena = arena_new();
    struct pattern *pattern = compiled(arena, compilers[i], "^(a+)+$");
    struct pattern_match match;
    assert_int_equal(pattern_find(pattern, filled(arena, "a", 12, "b"), 0, &match), PATTERN_NO);
    assert_int_equal(pattern_find(pattern, filled(arena, "a", 19, "b"), 0, &match), PATTERN_TOO_COSTLY);
    pattern_free(pattern);
    arena_free(arena);
  }
}

static size_t count_matches(const struct pattern *pattern, struct slice subject)
{
  struct pattern_match match;
  size_t count = 0;
  for (size_t at = 0; pattern_find(pattern, subject, at, &match) == PATTERN_YES; at = match.to[0])
    count++;
  return count;
}

static void a_search_goes_on_in_the_same_subject(void **state)
{
  (void)state;
  for (size_t i = 0; i < COMPILERS; i++) {
    struct arena *arena = arena_new();
    struct pattern *pattern = compiled(arena, compilers[i], "[ \xc2\xb0]+");
    clock_t start = clock();
    assert_int_equal(count_matches(pattern, filled(arena, "1 ", 64 * 1024, "")), 32 * 1024);
    assert_int_equal(count_matches(pattern, filled(arena, "1\xc2\xb0", 63 * 1024, "")), 21 * 1024);
    assert_true((double)(clock() - start) / CLOCKS_PER_SEC < 1.0);
    struct pattern_match match;
    struct slice subject = slice_of("\xc2\xb0 x");
    assert_int_equal(pattern_find(pattern, subject, 1, &match), PATTERN_NO); /* within a character */
    assert_int_equal(pattern_find(pattern, subject, 0, &match), PATTERN_YES);
    assert_int_equal(pattern_find(pattern, subject, 1, &match), PATTERN_NO);
    assert_int_equal(pattern_find(pattern, subject, 2, &match), PATTERN_YES);
    assert_int_equal(pattern_find(pattern, subject, 4, &match), PATTERN_NO);
    assert_int_equal(pattern_find(pattern, subject, 5, &match), PATTERN_NO);
    assert_int_equal(pattern_find(pattern, (struct slice){NULL, 0}, 0, &match), PATTERN_NO);
    pattern_free(pattern);
    arena_free(arena);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(groups_are_found_by_number_and_name),
      cmocka_unit_test(subjects_are_characters),
      cmocka_unit_test(wrong_patterns_say_where),
      cmocka_unit_test(a_pattern_has_a_longest_length),
      cmocka_unit_test(costly_patterns_end_at_once),
      cmocka_unit_test(steps_are_counted),
      cmocka_unit_test(a_table_in_one_text_is_not_too_costly),
      cmocka_unit_test(a_search_goes_on_in_the_same_subject),
  };
  return cmocka_run_group_tests_name("text/pattern", tests, NULL, NULL);
}
