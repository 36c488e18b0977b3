/* Looking names up: exact, nearest, and not found. */
#include "model/vocabulary.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const struct slice coolant_also[] = {{"ECT", 3}, {"engine coolant temperature", 26}};

static const struct entry tune[] = {
    {.name = {"fuel.warm_up_enrichment", 23}, .kind = VALUE_CURVE},
    {.name = {"engine.cylinders", 16}, .kind = VALUE_NUMBER},
    {.name = {"inputs", 6}, .kind = VALUE_PINS},
    {.name = {"fuel.load_source", 16}, .kind = VALUE_CHOICE},
    {.name = {"engine", 6}, .kind = VALUE_TEXT},
};
static const uint32_t tune_by_name[] = {4, 1, 3, 0, 2};
static const struct entry channels[] = {
    {.name = {"coolant_temperature", 19}, .kind = VALUE_SERIES, .also_count = 2, .also = coolant_also},
};
static const uint32_t channels_by_name[] = {0};

static const struct vocabulary vocabulary = {
    .count = {[SCOPE_TUNE] = 5, [SCOPE_LOG] = 1},
    .entries = {[SCOPE_TUNE] = tune, [SCOPE_LOG] = channels},
    .by_name = {[SCOPE_TUNE] = tune_by_name, [SCOPE_LOG] = channels_by_name},
};

static const struct entry *find(enum scope scope, const char *name)
{
  return vocabulary_find(&vocabulary, scope, slice_of(name));
}

static const struct entry *nearest(enum scope scope, const char *name)
{
  return vocabulary_nearest(&vocabulary, scope, slice_of(name));
}

static void every_name_is_found(void **state)
{
  (void)state;
  for (size_t i = 0; i < 5; i++) {
    const struct entry *entry = vocabulary_find(&vocabulary, SCOPE_TUNE, tune[i].name);
    assert_ptr_equal(entry, &tune[i]);
    assert_int_equal(vocabulary_index(&vocabulary, SCOPE_TUNE, entry), i);
  }
}

static void other_names_are_not_found(void **state)
{
  (void)state;
  const char *const names[] = {"", "a", "engin", "engine.", "Engine", "fuel", "inputs2", "zzz", "coolant_temperature"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++)
    assert_null(find(SCOPE_TUNE, names[i]));
  assert_null(find(SCOPE_JOB, "engine"));
  /* An other name is for hints and headers, not the name itself. */
  assert_null(find(SCOPE_LOG, "ECT"));
}

static void nearest_is_within_a_third(void **state)
{
  (void)state;
  assert_ptr_equal(nearest(SCOPE_TUNE, "fuel.warmup_enrichment"), &tune[0]);
  assert_ptr_equal(nearest(SCOPE_TUNE, "Engine Cylinders"), &tune[1]);
  assert_ptr_equal(nearest(SCOPE_TUNE, "engien.cylinders"), &tune[1]);
  assert_ptr_equal(nearest(SCOPE_LOG, "ect"), &channels[0]);
  assert_null(nearest(SCOPE_LOG, "oil temperature of the gearbox"));
  /* Two edits of six letters are a third; three are more. */
  assert_ptr_equal(nearest(SCOPE_TUNE, "inpuXX"), &tune[2]);
  assert_null(nearest(SCOPE_TUNE, "inpXXX"));
  assert_null(nearest(SCOPE_TUNE, ""));
  assert_null(nearest(SCOPE_JOB, "engine"));
}

static void scopes_have_their_words(void **state)
{
  (void)state;
  assert_string_equal(scope_name(SCOPE_TUNE), "tune");
  assert_string_equal(scope_name(SCOPE_LOG), "log");
  assert_string_equal(scope_name(SCOPE_JOB), "job");
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_name_is_found),
      cmocka_unit_test(other_names_are_not_found),
      cmocka_unit_test(nearest_is_within_a_third),
      cmocka_unit_test(scopes_have_their_words),
  };
  return cmocka_run_group_tests_name("model vocabulary", tests, NULL, NULL);
}
