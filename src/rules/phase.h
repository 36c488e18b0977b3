/* Phases: conditions over the log that rules share by name. Private to rules/ and cli/prove.c. */
#ifndef KEYWAY_RULES_PHASE_H
#define KEYWAY_RULES_PHASE_H

#include "rules/rule.h"

struct phase_list {
  struct phase *items;
  size_t count, capacity;
};

/* Adds those of a pack, not compiled yet. */
void phases_gather(struct rule_reader *reader, const struct node *pack, struct phase_list *list);

/* Sorts and compiles them into the reader's graph; the reader's names are then `names` and the phases. */
void phases_compile(struct rule_reader *reader, const struct names *names, struct phase_list *list);

/* Compiles the phases of compiled packs once more, into the reader's graph. */
void phases_again(struct rule_reader *reader, const struct packs *packs);

/* The names without phases, which belong to the graph that they were compiled into. */
const struct names *phases_leave_out(struct arena *arena, const struct names *names);

/* What `phases:` of a rule and of one of its checks demands, to be grown further. *good is cleared by a mistake. */
struct condition *phase_conditions(struct rule_reader *reader, const struct node *const *maps, size_t map_count,
                                   const struct scope_chain *chain, size_t *count, size_t *capacity, bool *good);

#endif
