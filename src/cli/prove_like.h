/* Cases that are written as changes of another case of the same rule. Private to cli/prove*.c. */
#ifndef KEYWAY_CLI_PROVE_LIKE_H
#define KEYWAY_CLI_PROVE_LIKE_H

#include "base/problem.h"
#include "text/yaml.h"

/* The case as it reads with what it takes over (`like`) and leaves out (`without`); `before` are those that stand
 * before it, made so already. false when it cannot be (problems added). */
bool case_written_out(struct arena *arena, const struct node *node, const struct node *before, size_t count,
                      struct node *out, struct problems *problems);

#endif
