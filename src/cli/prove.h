/* keyway prove: runs every rule's own cases, and mutations of the rule. Included by cli/. */
#ifndef KEYWAY_CLI_PROVE_H
#define KEYWAY_CLI_PROVE_H

#include "base/source.h"
#include "model/vocabulary.h"

#include <stdio.h>

/* `packs` are paths of extra packs; none: the embedded whole packs. Returns an exit status. */
int prove_command(struct arena *arena, struct sources *sources, const struct vocabulary *vocabulary,
                  const char *const *packs, size_t pack_count, FILE *out, struct problems *problems);

#endif
