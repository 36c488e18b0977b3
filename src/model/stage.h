/* The words of a report: stages of a job, and severities, which say what to do. Included by every room above units/. */
#ifndef KEYWAY_MODEL_STAGE_H
#define KEYWAY_MODEL_STAGE_H

#include "base/slice.h"

enum stage {
  STAGE_LOOK,     /* the car has just come in */
  STAGE_DYNO,     /* about to be loaded */
  STAGE_DELIVERY, /* about to leave */
  STAGE_COUNT
};
const char *stage_name(enum stage stage); /* "look" */
bool stage_find(struct slice name, enum stage *out);

enum severity {
  SEVERITY_NONE,  /* not raised at this stage */
  SEVERITY_NOTE,  /* worth knowing */
  SEVERITY_CHECK, /* look and decide */
  SEVERITY_FIX,   /* before the next stage */
  SEVERITY_STOP,  /* do not run, load or hand over the car as it stands */
  SEVERITY_COUNT
};
const char *severity_name(enum severity severity);         /* "note"; "none" for SEVERITY_NONE */
bool severity_find(struct slice name, enum severity *out); /* the four words and "none" */

#endif
