/* What the files of highest() and lowest() share. Private to expr/. */
#ifndef KEYWAY_EXPR_BOUND_H
#define KEYWAY_EXPR_BOUND_H

#include "expr/run.h"

enum { BOUND_VARIABLES = 7 };

struct variable {
  const struct expr *expr;
  double from, to;
  const struct unit *unit;
  size_t point_count;
  double *points; /* breakpoints within the range, its ends included, increasing */
};

struct corner { /* values of the variables at an extreme; has: that variable mattered */
  double at[BOUND_VARIABLES];
  bool has[BOUND_VARIABLES];
};

struct extremes {
  double low, high;
  struct corner at_low, at_high;
};

struct box {
  struct evaluation *evaluation;
  size_t variable_count;
  struct variable variables[BOUND_VARIABLES];
  double error;          /* rounding so far, largest */
  struct result unknown; /* why there is no bound */
  bool failed;
};

/* Notes why there is no bound; always false. */
bool bound_give_up(struct box *box, struct result unknown);

/* Bit v: the tree depends on variable v. */
unsigned bound_uses(const struct box *box, const struct expr *expr);

/* A variable, or a curve or table of variables and constants. */
bool bound_is_leaf(const struct expr *expr);

/* Of any tree; of one that is a sum of leaves, each times a fixed number: exact. */
bool bound_tree(struct box *box, const struct expr *expr, struct extremes *out);
bool bound_sum(struct box *box, const struct expr *expr, struct extremes *out);

#endif
