/* A first adapter for an export nobody has described: words, units, shapes and ranges matched against the vocabulary.
 * Included by cli/ and tests. */
#ifndef KEYWAY_READ_DRAFT_H
#define KEYWAY_READ_DRAFT_H

#include "model/subject.h"
#include "text/record.h"

#include <stdio.h>

/* Writes an adapter in rules/ADAPTERS.md's format to `out`: each match with its score as a comment, doubtful ones
 * marked "# doubtful: ...", then what could not be placed, then which of the names in `wanted` (one for each tune name:
 * some rule reads it; NULL: all) were not found. false when the export cannot be read (problems added). */
bool draft_settings(FILE *out, const struct vocabulary *vocabulary, struct source *source, const bool *wanted,
                    struct problems *problems);

/* The same for a log: a `log:` section. */
bool draft_log(FILE *out, const struct vocabulary *vocabulary, struct source *source, const bool *wanted,
               struct problems *problems);

#endif
