/* The words of stages and severities go there and back, and no other word does. */
#include "model/stage.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void stages_go_round(void **state)
{
  (void)state;
  const char *const words[STAGE_COUNT] = {"look", "dyno", "delivery"};
  for (int i = 0; i < STAGE_COUNT; i++) {
    enum stage stage = STAGE_COUNT;
    assert_string_equal(stage_name((enum stage)i), words[i]);
    assert_true(stage_find(slice_of(words[i]), &stage));
    assert_int_equal(stage, i);
  }
}

/* The order is the order of urgency: reports compare severities as numbers. */
static void severities_go_round(void **state)
{
  (void)state;
  const char *const words[SEVERITY_COUNT] = {"none", "note", "check", "fix", "stop"};
  for (int i = 0; i < SEVERITY_COUNT; i++) {
    enum severity severity = SEVERITY_COUNT;
    assert_string_equal(severity_name((enum severity)i), words[i]);
    assert_true(severity_find(slice_of(words[i]), &severity));
    assert_int_equal(severity, i);
  }
}

static void other_words_are_unknown(void **state)
{
  (void)state;
  const char *const words[] = {"", "Look", "deliver", "delivery ", "stopp", "error"};
  for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
    enum stage stage = STAGE_COUNT;
    enum severity severity = SEVERITY_COUNT;
    assert_false(stage_find(slice_of(words[i]), &stage));
    assert_false(severity_find(slice_of(words[i]), &severity));
    assert_int_equal(stage, STAGE_COUNT);
    assert_int_equal(severity, SEVERITY_COUNT);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(stages_go_round),
      cmocka_unit_test(severities_go_round),
      cmocka_unit_test(other_words_are_unknown),
  };
  return cmocka_run_group_tests_name("model stage", tests, NULL, NULL);
}
