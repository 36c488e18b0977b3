/* Exit statuses: which one wins, and what the findings of one file come to. */
#include "cli/status.h"

enum status status_worse(enum status a, enum status b)
{
  static const int rank[STATUS_COUNT] = {[STATUS_CLEAN] = 0, [STATUS_UNCHECKED] = 1, [STATUS_FINDINGS] = 2,
                                         [STATUS_INPUT] = 3, [STATUS_USAGE] = 4,     [STATUS_FAULT] = 5};
  return rank[a] >= rank[b] ? a : b;
}

enum status status_of_outcome(const struct outcome *outcome)
{
  enum status status = STATUS_CLEAN;
  size_t decided = outcome->verdicts[VERDICT_FLAGGED] + outcome->verdicts[VERDICT_CLEAR];
  if (decided < outcome->need)
    status = STATUS_UNCHECKED;
  for (size_t i = 0; i < outcome->finding_count; i++) {
    if (outcome->fail_on != SEVERITY_NONE && outcome->findings[i].severity >= outcome->fail_on)
      status = status_worse(status, STATUS_FINDINGS);
  }
  return status;
}
