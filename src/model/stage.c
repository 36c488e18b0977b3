/* Names of stages and severities, one table each. */
#include "model/stage.h"

static const char *const stage_names[STAGE_COUNT] = {"look", "dyno", "delivery"};
static const char *const severity_names[SEVERITY_COUNT] = {"none", "note", "check", "fix", "stop"};

const char *stage_name(enum stage stage)
{
  return stage_names[stage];
}

bool stage_find(struct slice name, enum stage *out)
{
  for (int i = 0; i < STAGE_COUNT; i++) {
    if (slice_is(name, stage_names[i])) {
      *out = (enum stage)i;
      return true;
    }
  }
  return false;
}

const char *severity_name(enum severity severity)
{
  return severity_names[severity];
}

bool severity_find(struct slice name, enum severity *out)
{
  for (int i = 0; i < SEVERITY_COUNT; i++) {
    if (slice_is(name, severity_names[i])) {
      *out = (enum severity)i;
      return true;
    }
  }
  return false;
}
