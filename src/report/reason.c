/* Why the program exits as it does, in one line. */
#include "report/report.h"

static const char *fail_words(enum severity fail_on)
{
  static const char *const words[SEVERITY_COUNT] = {"at any severity", "at note or over", "at check or over",
                                                    "at fix or over", "at stop"};
  return words[fail_on];
}

static const char *plural(size_t count)
{
  return count == 1 ? "" : "s";
}

static const char *reason_clean(struct arena *arena, const struct outcome *outcome)
{
  size_t count = outcome->finding_count;
  if (outcome->fail_on == SEVERITY_NONE)
    return arena_print(arena, "exit 0: %zu finding%s; none counts with --fail-on never", count, plural(count));
  if (count == 0)
    return "exit 0: no findings";
  return arena_print(arena, "exit 0: no findings %s; %zu below", fail_words(outcome->fail_on), count);
}

const char *report_reason(struct arena *arena, const struct outcome *outcome)
{
  size_t over = 0, decided = outcome->verdicts[VERDICT_FLAGGED] + outcome->verdicts[VERDICT_CLEAR];
  for (size_t i = 0; i < outcome->finding_count; i++)
    over += outcome->fail_on != SEVERITY_NONE && outcome->findings[i].severity >= outcome->fail_on;
  size_t problems = outcome->problems != NULL ? outcome->problems->count + outcome->problems->dropped : 0;
  switch (outcome->exit) {
  case 0:
    return reason_clean(arena, outcome);
  case 1:
    return arena_print(arena, "exit 1: %zu finding%s %s", over, plural(over), fail_words(outcome->fail_on));
  case 2:
    return "exit 2: a rule pack cannot be used";
  case 3:
    return arena_print(arena, "exit 3: %zu problem%s in the inputs; nothing was audited", problems, plural(problems));
  case 4:
    if (decided == 0)
      return arena_print(arena, "exit 4: no rule could be decided; --need asks for %zu", outcome->need);
    return arena_print(arena, "exit 4: only %zu rule%s could be decided; --need asks for %zu", decided, plural(decided),
                       outcome->need);
  default:
    return arena_print(arena, "exit %d: a fault of the program itself", outcome->exit);
  }
}

void report_text_total(FILE *out, const struct report_total *total)
{
  static const char *const faults[] = {"have no findings",
                                       "have findings",
                                       "met a rule pack that cannot be used",
                                       "could not be read",
                                       "could not be checked enough",
                                       "met a fault of the program"};
  size_t count = total->at_status[total->exit];
  fprintf(out, "exit %d: %zu of %zu settings files %s", total->exit, count, total->files, faults[total->exit]);
  if (total->exit <= 1 && total->fail_on != SEVERITY_NONE)
    fprintf(out, " %s", fail_words(total->fail_on));
  fputc('\n', out);
}

void report_text_between(FILE *out)
{
  fputc('\n', out);
}
