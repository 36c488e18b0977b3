/* The rule language: expressions with units. Knows no files. Included by rules/, audit/, cli/. The language is
 * described in rules/LANGUAGE.md. Reading order: type.h, expr.h, ast.h, lex.c, parse.c, check.c, tree.c, builtin.c,
 * builtin_items.c, graph.c, then eval.h, eval.c, frame.c, series.c, lift.c, apply.c, timeline.c, window.c, gather.c,
 * reduce.c, sweep.c, visit.c, collect.c, items.c, thermistor.c, bound.c, bound_sum.c, change.c, range.c. Everything
 * lives in the caller's arena and is immutable once compiled. */
#ifndef KEYWAY_EXPR_EXPR_H
#define KEYWAY_EXPR_EXPR_H

#include "base/problem.h"
#include "base/slice.h"
#include "expr/type.h"

struct expr;       /* a checked expression */
struct graph;      /* where equal sub-expressions of a whole pack set are joined */
struct evaluation; /* one run over one subject: eval.h */

/* Who knows where bytes `from`..`to` of an expression's text stand. */
struct locator {
  struct place (*place)(const void *context, size_t from, size_t to);
  const void *context;
};

/* Names bound inside a rule: by `let` (value is a checked expression) or by `each` (value NULL, type is the item's).
 * Newest first. */
struct scope_chain {
  struct slice name;
  const struct expr *value;
  struct type type;
  const struct scope_chain *outer;
};

struct graph *graph_new(struct arena *arena);
size_t graph_written(const struct graph *graph);  /* nodes seen */
size_t graph_distinct(const struct graph *graph); /* slots given */

/* Parses, checks and joins. NULL on refusal: every mistake that can be told apart is added as a problem. */
const struct expr *expr_compile(struct arena *arena, struct graph *graph, const struct names *names, struct slice text,
                                const struct scope_chain *chain, const struct locator *locator,
                                struct problems *problems);

const struct type *expr_type(const struct expr *expr);

/* Calls `visit` for each tune., log., job. and limit. name that the expression reads, repeats included. */
void expr_names(const struct expr *expr, void (*visit)(void *context, const struct name *name), void *context);

/* The same without those that it reads only by way of phases. */
void expr_own_names(const struct expr *expr, void (*visit)(void *context, const struct name *name), void *context);

/* The same for each phase that it uses, and for those that they use. */
void expr_phases(const struct expr *expr, void (*visit)(void *context, const struct name *name), void *context);

/* The name when the expression is nothing but one, else NULL. */
const struct name *expr_name(const struct expr *expr);

/* First name that the expression reads, NULL when it reads none. */
const struct name *expr_first_name(const struct expr *expr);

#endif
