/* Reads a job sheet (DESIGN: "Job sheet"). Included by cli/ and tests. */
#ifndef KEYWAY_READ_JOB_H
#define KEYWAY_READ_JOB_H

#include "model/subject.h"
#include "text/yaml.h"

/* NULL when anything was refused: all problems of the file are added. The names under `limits` are not known here: only
 * that each has a value that is a quantity; the audit checks name and unit against the packs. The result lives in
 * `arena`. */
const struct job *job_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                           struct problems *problems);

/* The same from a map with any of title, stage, facts, readings, hand_checks, limits: the fragments in a rule's cases.
 */
const struct job *job_from_node(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                                const struct node *map, struct problems *problems);

#endif
