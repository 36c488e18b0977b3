/* The slips that prove tries on a rule. Private to cli/. */
#ifndef KEYWAY_CLI_PROVE_CHANGE_H
#define KEYWAY_CLI_PROVE_CHANGE_H

#include "rules/pack.h"

struct change {
  const char *text;          /* "flag: > -> >=", "where dropped", "limit.warm_up_end + 1 K" */
  const struct node *node;   /* the changed rule; NULL for a limit */
  const struct limit *limit; /* the moved limit, within packs->limits; NULL for a changed rule */
  double by;                 /* how far, base units */
};

struct changes {
  struct arena *arena;
  struct change *items;
  size_t count, capacity;
};

/* Everything lives in `arena`. Those of a phase are the ones within the `let` called "when" of the rule that stands for
 * it. */
struct changes changes_of(struct arena *arena, const struct packs *packs, const struct rule *rule);
struct changes changes_of_phase(struct arena *arena, const struct packs *packs, const struct rule *rule);

#endif
