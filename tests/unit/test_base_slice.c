/* Slices: order, trimming, edit distance. */
#include "base/slice.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static int sign(int x)
{
  return (x > 0) - (x < 0);
}

static void order_is_bytewise_and_shorter_first(void **state)
{
  (void)state;
  const struct {
    const char *a, *b;
    int order;
  } cases[] = {{"a", "b", -1}, {"b", "a", 1}, {"ab", "a", 1},       {"a", "ab", -1},
               {"", "", 0},    {"", "a", -1}, {"\xC2\xB0", "z", 1}, {"fuel.a", "fuel_a", -1}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
    assert_int_equal(sign(slice_compare(slice_of(cases[i].a), slice_of(cases[i].b))), cases[i].order);
  assert_int_equal(slice_compare((struct slice){NULL, 0}, slice_of("")), 0);
  assert_true(slice_equal((struct slice){NULL, 0}, slice_of("")));
  assert_false(slice_is((struct slice){"a\0b", 3}, "a"));
}

static void trim_takes_blanks_and_tabs_only(void **state)
{
  (void)state;
  assert_true(slice_is(slice_trim(slice_of(" \t a b\t ")), "a b"));
  assert_true(slice_is(slice_trim(slice_of("\na\r")), "\na\r"));
  assert_int_equal(slice_trim(slice_of(" \t ")).size, 0);
  assert_int_equal(slice_trim((struct slice){NULL, 0}).size, 0);
}

static void distance_counts_edits(void **state)
{
  (void)state;
  /* Levenshtein's textbook pairs (kitten/sitting 3, Saturday/Sunday 3); "ca" to "abc" is 3 in the restricted
   * (optimal string alignment) form, 2 in the full Damerau form: Boytsov, ACM JEA 16 (2011), from memory. */
  const struct {
    const char *a, *b;
    size_t edits;
  } cases[] = {
      {"kitten", "sitting", 3},
      {"Saturday", "Sunday", 3},
      {"ca", "abc", 3},
      {"", "abc", 3},
      {"abc", "", 3},
      {"same", "same", 0},
      {"rmp", "rpm", 1},
      {"Engine Speed", "engine_speed", 0},
      {"a-b.c d", "a_b_c_d", 0},
      {"fuel.warmup_enrichment", "fuel.warm_up_enrichment", 1},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    assert_int_equal(slice_distance(slice_of(cases[i].a), slice_of(cases[i].b)), cases[i].edits);
    assert_int_equal(slice_distance(slice_of(cases[i].b), slice_of(cases[i].a)), cases[i].edits);
  }
}

static void distance_is_cut_at_64_bytes(void **state)
{
  (void)state;
  char a[200], b[200];
  memset(a, 'x', sizeof a);
  memset(b, 'x', sizeof b);
  b[64] = 'y';
  assert_int_equal(slice_distance((struct slice){a, 64}, (struct slice){b, 64}), 0);
  assert_int_equal(slice_distance((struct slice){a, 200}, (struct slice){b, 200}), 0);
  b[63] = 'y';
  assert_int_equal(slice_distance((struct slice){a, 200}, (struct slice){b, 200}), 1);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(order_is_bytewise_and_shorter_first),
      cmocka_unit_test(trim_takes_blanks_and_tabs_only),
      cmocka_unit_test(distance_counts_edits),
      cmocka_unit_test(distance_is_cut_at_64_bytes),
  };
  return cmocka_run_group_tests_name("base slice", tests, NULL, NULL);
}
