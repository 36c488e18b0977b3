/* Compiling one check of a rule. Private to rules/. */
#ifndef KEYWAY_RULES_CHECK_H
#define KEYWAY_RULES_CHECK_H

#include "rules/rule.h"

/* `rule` is the whole rule's map, `map` the check's, the same when the rule has no `checks:`. False when some mistake
 * of it was added. */
bool check_read(struct rule_reader *reader, const struct node *rule, const struct node *map, struct slice id,
                struct check *check);

#endif
