/* The list of problems: the limit, the order, the class of what was dropped. */
#include "base/limits.h"
#include "base/problem.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct place at(uint32_t source, uint64_t start)
{
  return (struct place){source, start, start + 1};
}

static void adding_refuses_and_keeps(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  assert_false(problems_has(&problems, PROBLEM_OF_INPUT));
  assert_false(problems_add(&problems, at(1, 5), "unknown name '%.*s'", 4, "fuelXX"));
  problems_hint(&problems, "did you mean '%s'?", "fuel.name");
  assert_int_equal(problems.count, 1);
  assert_string_equal(problems.items[0].message, "unknown name 'fuel'");
  assert_string_equal(problems.items[0].hint, "did you mean 'fuel.name'?");
  assert_int_equal(problems.items[0].of, PROBLEM_OF_INPUT);
  assert_true(problems_has(&problems, PROBLEM_OF_INPUT));
  assert_false(problems_has(&problems, PROBLEM_OF_PACK));
  arena_free(arena);
}

static void limit_is_kept_and_one_past_is_counted(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  for (int i = 0; i < LIMIT_PROBLEMS; i++)
    problems_add(&problems, PLACE_NONE, "%d", i);
  assert_int_equal(problems.count, LIMIT_PROBLEMS);
  assert_int_equal(problems.dropped, 0);
  problems_hint(&problems, "for the last one");
  problems.of = PROBLEM_OF_PACK;
  assert_false(problems_add(&problems, PLACE_NONE, "one past"));
  problems_hint(&problems, "for the dropped one");
  assert_int_equal(problems.count, LIMIT_PROBLEMS);
  assert_int_equal(problems.dropped, 1);
  assert_string_equal(problems.items[LIMIT_PROBLEMS - 1].hint, "for the last one");
  /* The exit status depends on the class, so a dropped one counts. */
  assert_true(problems_has(&problems, PROBLEM_OF_PACK));
  assert_false(problems_has(&problems, PROBLEM_OF_USAGE));
  arena_free(arena);
}

static void order_is_source_start_adding(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  problems_add(&problems, at(2, 1), "e");
  problems_add(&problems, at(1, 9), "c");
  problems_add(&problems, at(1, 9), "d");
  problems_add(&problems, at(1, 3), "b");
  problems_add(&problems, PLACE_NONE, "a");
  problems_sort(&problems);
  for (size_t i = 0; i < problems.count; i++)
    assert_int_equal(problems.items[i].message[0], "abcde"[i]);
  arena_free(arena);
}

static void long_messages_are_cut_between_characters(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  char text[4001];
  for (size_t i = 0; i < 4000; i += 2)
    memcpy(text + i, "\xC2\xB0", 2);
  text[4000] = '\0';
  problems_add(&problems, PLACE_NONE, "x%s", text);
  const char *message = problems.items[0].message;
  size_t size = strlen(message);
  assert_in_range(size, 700, 900);
  assert_string_equal(message + size - 5, "\xC2\xB0...");
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(adding_refuses_and_keeps),
      cmocka_unit_test(limit_is_kept_and_one_past_is_counted),
      cmocka_unit_test(order_is_source_start_adding),
      cmocka_unit_test(long_messages_are_cut_between_characters),
  };
  return cmocka_run_group_tests_name("base problem", tests, NULL, NULL);
}
