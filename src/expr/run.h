/* What the files of the evaluator share. Private to expr/. */
#ifndef KEYWAY_EXPR_RUN_H
#define KEYWAY_EXPR_RUN_H

#include "expr/ast.h"
#include "expr/eval.h"

struct memo {
  struct result result;
  uint64_t epoch; /* 0: not computed */
};

struct timebase { /* of the log; made when first asked for */
  size_t count;
  const double *at;      /* seconds */
  const size_t *segment; /* first row of the unbroken stretch that a row is in: ends at gaps and where time runs back */
  const size_t *run;     /* one past the last row of it */
};

/* How far the value of a curve or table may be off, by its numbers; a rule may ask for it at each of 65 000 cells. */
struct steepness {
  const struct value *of;
  double largest;          /* of its numbers */
  double along_x, along_y; /* the steepest slopes between its points */
  double x_error, y_error; /* rounding of the points of its axes */
};
#define RUN_STEEPNESS 8 /* a rule with more tables than that looks through them again */

struct evaluation {
  struct arena *arena;
  const struct eval_inputs *inputs;
  struct memo *memo; /* one a slot */
  uint64_t epoch;    /* of the item at hand */
  const struct item *item;
  struct timebase *timebase;
  bool time_tried;
  struct steepness steepness[RUN_STEEPNESS];
  size_t steepness_next;
  struct eval_stats stats;
};

/* A stretch of the log without a known sample, or a step of its time, longer than this (and than five usual steps) is a
 * gap. */
#define RUN_GAP_SECONDS 1.0
/* Times of a log that differ by less are equal: no logger tells a microsecond, and a clock that counts milliseconds
 * since 1970 is off by a quarter of one as a double. */
#define RUN_TIME_SLACK 1e-6

static inline bool run_known_at(const struct vector *series, size_t i)
{
  return !series->known || series->known[i];
}

struct result run_unknown(struct evaluation *evaluation, const char *name);
struct result run_no_sample(struct evaluation *evaluation, const struct expr *call); /* "no usable sample of log.x" */
/* Unknown for every reason that some of the results has. */
struct result run_unknown_of(struct evaluation *evaluation, const struct result *results, size_t count);

struct result run_number(double value, double error, const struct unit *unit);
struct result run_condition(bool on);
struct result run_text(struct slice text);

/* How many rows a series has: `rows` as in struct type. */
size_t run_rows(struct evaluation *evaluation, size_t rows);

/* A known result as a series: scalars are repeated over the rows. */
struct vector run_vector(struct evaluation *evaluation, const struct result *result, const struct expr *expr,
                         size_t rows);

/* The log's time, NULL when there is no log. */
const struct timebase *run_time(struct evaluation *evaluation);

/* Rows i for which the series has a usable number: into newly made arrays; returns how many. `other` may be NULL. */
size_t run_samples(struct evaluation *evaluation, const struct vector *series, const struct vector *other, double **at,
                   double **other_at);

/* The unit of a slope: y's by x's, both as differences; also by "%", which a division would drop. NULL: none worth
 * showing. */
const struct unit *run_slope_unit(struct evaluation *evaluation, const struct unit *y, const struct unit *x);

/* k-th smallest (from 0); reorders. */
double run_select(double *at, size_t count, size_t k);

/* Text equality without regard to ASCII case. */
bool run_same_text(struct slice a, struct slice b);

struct result run_negate(struct evaluation *evaluation, const struct expr *expr);
struct result run_arithmetic(struct evaluation *evaluation, const struct expr *expr);
struct result run_comparison(struct evaluation *evaluation, const struct expr *expr);
struct result run_logic(struct evaluation *evaluation, const struct expr *expr);
struct result run_not(struct evaluation *evaluation, const struct expr *expr);
struct result run_otherwise(struct evaluation *evaluation, const struct expr *expr);
struct result run_apply(struct evaluation *evaluation, const struct expr *expr);
struct result run_records(struct evaluation *evaluation, const struct expr *expr, const struct value *value);

#endif
