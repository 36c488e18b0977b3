/* The tree of an expression, as parsed and then annotated by the checker. Private to expr/ and cli/prove.c (which
 * mutates by spans). */
#ifndef KEYWAY_EXPR_AST_H
#define KEYWAY_EXPR_AST_H

#include "expr/expr.h"

enum expr_op {
  EXPR_NUMBER,
  EXPR_TEXT,
  EXPR_SWITCH,
  EXPR_TEXTS,
  EXPR_NAME, /* tune. log. job. limit. phase.; a phase is replaced by its expression when it is checked */
  EXPR_STAGE,
  EXPR_ITEM,  /* the name bound by `each` */
  EXPR_FIELD, /* item.field */
  EXPR_NEGATE,
  EXPR_ADD,
  EXPR_SUBTRACT,
  EXPR_MULTIPLY,
  EXPR_DIVIDE,
  EXPR_EQUAL,
  EXPR_UNEQUAL,
  EXPR_LESS,
  EXPR_LESS_EQUAL,
  EXPR_MORE,
  EXPR_MORE_EQUAL,
  EXPR_IN,
  EXPR_AND,
  EXPR_OR,
  EXPR_NOT,
  EXPR_OTHERWISE,
  EXPR_APPLY,   /* curve or table called with arguments: args[0] is the curve */
  EXPR_CALL,    /* builtin */
  EXPR_VARIABLE /* of highest(... over NAME from args[0] to args[1]); only under such a call */
};

struct builtin;

struct expr {
  enum expr_op op;
  size_t from, to;       /* bytes of the text it was parsed from */
  size_t op_from, op_to; /* bytes of the operator of a unary or binary one */
  size_t count;
  struct expr **args;
  struct quantity number; /* NUMBER */
  struct slice text;      /* TEXT, and the identifier of NAME, FIELD, CALL, ITEM */
  size_t text_count;      /* TEXTS */
  const struct slice *texts;
  bool on;    /* SWITCH */
  bool bound; /* stands for a `let`: its spans are of that text */
  bool boxed; /* CALL with ranges: args[1...] are their ends */
  /* filled in by the checker */
  bool checked, good; /* ends of ranges hang in several trees */
  struct type type;
  const struct name *name;
  const struct name *phase; /* the phase that it stands for; NULL: none */
  const struct builtin *builtin;
  size_t field;
  /* filled in by graph_join */
  size_t slot; /* equal expressions have the same slot */
  bool local;  /* depends on the item of `each` */
  bool joined;
  size_t depth, whole; /* levels; nodes, with every `let` written out, counted up to over LIMIT_EXPRESSION_WHOLE */
};

/* Parses one expression; names bound by `let` are looked up in `chain` and replaced by their trees. NULL on refusal. */
struct expr *expr_parse(struct arena *arena, struct slice text, const struct scope_chain *chain,
                        const struct locator *locator, struct problems *problems);

/* Types, names and units. false on refusal. */
bool expr_check(struct arena *arena, struct expr *expr, const struct names *names, const struct locator *locator,
                struct problems *problems);

/* Fills in `slot`, `local` of the whole tree. */
void graph_join(struct graph *graph, struct expr *expr);

/* The first expression of a slot; and a graph of ready trees by slot, for evaluation alone. */
const struct expr *graph_tree(const struct graph *graph, size_t slot);
struct graph *graph_made(struct arena *arena, const struct expr *trees, size_t distinct, size_t written);

#endif
