/* The vocabulary and the rule packs of one run. Included by cli/. */
#ifndef KEYWAY_CLI_LIBRARY_H
#define KEYWAY_CLI_LIBRARY_H

#include "model/vocabulary.h"
#include "rules/pack.h"

enum library_depth {
  LIBRARY_LEAN, /* the shipped packs without their cases: audit, list */
  LIBRARY_WHOLE /* with them: explain */
};

struct library {
  const struct vocabulary *vocabulary;
  const struct packs *packs;
  size_t extra_count; /* packs named on the command line */
  const struct source *const *extras;
};

/* The embedded dictionary alone; NULL when it is refused. */
const struct vocabulary *library_vocabulary(struct arena *arena, struct sources *sources, struct problems *problems);

/* Dictionary, cautions, shipped packs, then `rules` in their order. false when anything was refused: all problems are
 * added, as those of packs. Everything lives in `arena`. */
bool library_read(struct arena *arena, struct sources *sources, enum library_depth depth, const char *const *rules,
                  size_t rules_count, struct library *out, struct problems *problems);

#endif
