/* Which names and phases the expressions of a rule read. Private to rules/. */
#ifndef KEYWAY_RULES_NEEDS_H
#define KEYWAY_RULES_NEEDS_H

#include "rules/rule.h"

/* Fills in `needs` and `phases` of a rule whose checks are compiled. */
void needs_collect(struct rule_reader *reader, struct rule *rule);

#endif
