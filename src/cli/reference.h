/* The rules as one Markdown page: rules/REFERENCE.md. Included by cli/. */
#ifndef KEYWAY_CLI_REFERENCE_H
#define KEYWAY_CLI_REFERENCE_H

#include "rules/pack.h"

/* To standard output. */
void reference_print(struct arena *arena, const struct packs *packs);

/* Which limits a rule reads: one mark for each of packs->limits. */
const bool *reference_limits(struct arena *arena, const struct packs *packs, const struct rule *rule);

#endif
