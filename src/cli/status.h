/* Exit statuses of the program. Included by cli/. */
#ifndef KEYWAY_CLI_STATUS_H
#define KEYWAY_CLI_STATUS_H

#include "findings/outcome.h"

enum status {
  STATUS_CLEAN,     /* nothing at or over --fail-on */
  STATUS_FINDINGS,  /* such findings */
  STATUS_USAGE,     /* wrong usage or a bad rule pack */
  STATUS_INPUT,     /* an input could not be read or is malformed */
  STATUS_UNCHECKED, /* too little could be checked */
  STATUS_FAULT,     /* a fault of the program itself */
  STATUS_COUNT
};

/* The one that wins when both apply: in the order 5 2 3 1 4 0. */
enum status status_worse(enum status a, enum status b);

/* What an audited file comes to by itself: findings at or over fail_on, or fewer rules decided than needed. */
enum status status_of_outcome(const struct outcome *outcome);

#endif
