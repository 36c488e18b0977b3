/* Places of an expression's bytes within the YAML that holds it. Private to rules/ and cli/prove.c. */
#ifndef KEYWAY_RULES_LOCATE_H
#define KEYWAY_RULES_LOCATE_H

#include "expr/expr.h"
#include "text/yaml.h"

struct locate_context {
  const struct source *source;
  const struct node *node;
  size_t shift; /* where the expression starts within the node's text */
};

/* A locator over `context`, which it fills in and which must outlive it. */
struct locator locate(struct locate_context *context, const struct source *source, const struct node *node,
                      size_t shift);

#endif
