/* Messages with {expressions}: parsed and checked when the pack is read, filled in by the audit. */
#ifndef KEYWAY_RULES_TEMPLATE_H
#define KEYWAY_RULES_TEMPLATE_H

#include "expr/expr.h"

struct message_part {
  struct slice text; /* literal text, used when expr is NULL */
  const struct expr *expr;
  double step;              /* rounding in the shown unit; 0: none */
  const struct unit *shown; /* NULL: as the source had it */
};

struct message {
  size_t count;
  const struct message_part *parts;
};

/* A text with {expressions} for people who read the rule, not a finding of it: "{off | 0.1 deg}" is "[off]". */
const char *message_outline(struct arena *arena, struct slice text);

/* Fills in; the result lives in `arena`. Expressions that read the item of `each` see the evaluation's current one. */
const char *message_fill(struct arena *arena, const struct message *message, struct evaluation *evaluation);

#endif
