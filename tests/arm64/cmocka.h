/* As much of cmocka as the tests need that are run for another processor than this machine's, which has the library for
 * itself only. The first check that fails ends the program. */
#ifndef KEYWAY_TESTS_ARM64_CMOCKA_H
#define KEYWAY_TESTS_ARM64_CMOCKA_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct CMUnitTest {
  const char *name;
  void (*run)(void **state);
};

#define cmocka_unit_test(test) \
  {                            \
#test, test                \
  }

static inline void check_holds(bool holds, const char *what, const char *file, int line)
{
  if (holds)
    return;
  printf("%s:%d: %s\n", file, line, what);
  exit(1);
}

#define check(what) check_holds((what), #what, __FILE__, __LINE__)
#define assert_true(what) check(what)
#define assert_false(what) check(!(what))
#define assert_non_null(what) check((what) != NULL)
#define assert_int_equal(a, b) check((uintmax_t)(a) == (uintmax_t)(b))
#define assert_in_range(a, low, high) check((uintmax_t)(a) >= (uintmax_t)(low) && (uintmax_t)(a) <= (uintmax_t)(high))
#define assert_string_equal(a, b) check(strcmp((a), (b)) == 0)
#define assert_memory_equal(a, b, size) check(memcmp((a), (b), (size)) == 0)
#define fail_msg(...) (printf(__VA_ARGS__), check_holds(false, "fail_msg", __FILE__, __LINE__))

static inline int check_group(const char *name, const struct CMUnitTest *tests, size_t count, int (*open)(void **),
                              int (*close)(void **))
{
  void *state = NULL;
  check(open == NULL || open(&state) == 0);
  for (size_t i = 0; i < count; i++)
    tests[i].run(&state);
  check(close == NULL || close(&state) == 0);
  printf("%s: %zu tests passed\n", name, count);
  return 0;
}

#define cmocka_run_group_tests_name(name, tests, open, close) \
  check_group((name), (tests), sizeof(tests) / sizeof *(tests), (open), (close))

#endif
