/* Exit statuses. */
#include "cli/status.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* The order that wins: 5 2 3 1 4 0. */
static void test_status_order(void **state)
{
  (void)state;
  static const enum status order[] = {STATUS_FAULT,    STATUS_USAGE,     STATUS_INPUT,
                                      STATUS_FINDINGS, STATUS_UNCHECKED, STATUS_CLEAN};
  static const int numbers[] = {5, 2, 3, 1, 4, 0};
  for (size_t i = 0; i < STATUS_COUNT; i++) {
    assert_int_equal(order[i], numbers[i]);
    for (size_t j = i; j < STATUS_COUNT; j++) {
      assert_int_equal(status_worse(order[i], order[j]), order[i]);
      assert_int_equal(status_worse(order[j], order[i]), order[i]);
    }
  }
}

static enum status status_with(enum severity worst, enum severity fail_on, size_t decided, size_t need)
{
  struct finding findings[2] = {{.severity = SEVERITY_NOTE}, {.severity = worst}};
  struct outcome outcome = {
      .findings = findings, .finding_count = worst == SEVERITY_NONE ? 0 : 2, .fail_on = fail_on, .need = need};
  outcome.verdicts[VERDICT_CLEAR] = decided;
  outcome.verdicts[VERDICT_UNDECIDED] = 9;
  outcome.verdicts[VERDICT_NOT_APPLICABLE] = 9;
  return status_of_outcome(&outcome);
}

static void test_status_of_outcome(void **state)
{
  (void)state;
  assert_int_equal(status_with(SEVERITY_NONE, SEVERITY_FIX, 1, 1), STATUS_CLEAN);
  assert_int_equal(status_with(SEVERITY_CHECK, SEVERITY_FIX, 1, 1), STATUS_CLEAN);
  assert_int_equal(status_with(SEVERITY_FIX, SEVERITY_FIX, 1, 1), STATUS_FINDINGS);
  assert_int_equal(status_with(SEVERITY_STOP, SEVERITY_FIX, 1, 1), STATUS_FINDINGS);
  assert_int_equal(status_with(SEVERITY_STOP, SEVERITY_NONE, 1, 1), STATUS_CLEAN);
  /* Nothing checked is never a pass: undecided and not applicable do not count. */
  assert_int_equal(status_with(SEVERITY_NONE, SEVERITY_FIX, 0, 1), STATUS_UNCHECKED);
  assert_int_equal(status_with(SEVERITY_NONE, SEVERITY_NONE, 0, 1), STATUS_UNCHECKED);
  assert_int_equal(status_with(SEVERITY_NONE, SEVERITY_FIX, 2, 3), STATUS_UNCHECKED);
  assert_int_equal(status_with(SEVERITY_FIX, SEVERITY_FIX, 2, 3), STATUS_FINDINGS);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_status_order), cmocka_unit_test(test_status_of_outcome)};
  return cmocka_run_group_tests_name("cli/status", tests, NULL, NULL);
}
