/* The rule language: expressions with units. Knows no files. Included by rules/, audit/, cli/prove.c.
 * expr.h: types, names, parsing and checking. eval.h: evaluation. The language is described in rules/LANGUAGE.md. */
#ifndef KEYWAY_EXPR_EXPR_H
#define KEYWAY_EXPR_EXPR_H

#include "base/problem.h"
#include "base/slice.h"
#include "expr/type.h"

struct expr;       /* a checked expression; ast.h */
struct graph;      /* where equal sub-expressions are joined */
struct evaluation; /* one run over one subject; eval.h */
struct scope_chain;

/* Who knows where byte `from`..`to` of an expression's text stands. */
struct locator {
  struct place (*place)(const void *context, size_t from, size_t to);
  const void *context;
};

#endif
