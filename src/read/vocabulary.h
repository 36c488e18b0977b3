/* Reads rules/dictionary.yaml. Included by cli/ and tests. */
#ifndef KEYWAY_READ_VOCABULARY_H
#define KEYWAY_READ_VOCABULARY_H

#include "base/problem.h"
#include "base/source.h"
#include "model/vocabulary.h"

/* NULL when anything was refused (problems added). Lives in `arena`; `source` must outlive it. */
const struct vocabulary *vocabulary_read(struct arena *arena, const struct source *source, struct problems *problems);

#endif
