/* Compiling one rule out of its YAML map. Used by pack.c, and by cli/prove.c for changed rules. */
#ifndef KEYWAY_RULES_RULE_H
#define KEYWAY_RULES_RULE_H

#include "rules/pack.h"

struct rule_reader {
  struct arena *arena;
  struct graph *graph;
  const struct names *names; /* with the limits */
  const struct source *source;
  const char *pack; /* the pack's name */
  size_t caution_count;
  const struct caution_text *cautions;
  struct problems *problems;
  size_t phase_count;
  const struct phase *phases; /* sorted by name */
};

/* NULL on refusal: every mistake of the rule is added. */
const struct rule *rule_read(struct rule_reader *reader, const struct node *node);

/* Adds a problem for each key of a map that is not in the NULL-ended list, with the nearest one as a hint. */
void rule_known_keys(struct rule_reader *reader, const struct node *map, const char *const *keys);

/* The value's text as a C string; adds a problem and returns "" when it is absent (and required) or not a text. */
const char *rule_text(struct rule_reader *reader, const struct node *map, const char *key, bool required);

/* A map of the three stages to severities. */
bool rule_severity(struct rule_reader *reader, const struct node *node, enum severity *out);

/* A message with {expressions}; NULL on refusal. */
const struct message *rule_message(struct rule_reader *reader, const struct node *node,
                                   const struct scope_chain *chain);

#endif
