/* Going through the log for functions that make one value of a series. Private to expr/. */
#ifndef KEYWAY_EXPR_SWEEP_H
#define KEYWAY_EXPR_SWEEP_H

#include "expr/gather.h"

/* A function that makes a single value or a collection of series. */
bool reduce_is(const struct expr *expr);
/* Its first argument that is a series; visits(TABLE, x, y) has another before. */
const struct expr *reduce_series(const struct expr *call);
/* Looks at the arguments (at_hand: computed for the rows at hand; else only what holds for all rows); false: the result
 * is known without any sample. */
bool reduce_begin(struct evaluation *evaluation, const struct expr *call, bool at_hand, struct gather *gather);
/* Takes the samples of the rows at hand. */
void reduce_take(struct evaluation *evaluation, struct gather *gather);
/* Was all seen that is needed? Else the same rows must be taken again, from the first on. */
bool reduce_settle(struct gather *gather);
/* Takes the samples of the rows at hand, which are all there are, as often as is needed. */
void reduce_take_all(struct evaluation *evaluation, struct gather *gather);
struct result reduce_finish(struct evaluation *evaluation, struct gather *gather);

/* visit.c: the table of visits(TABLE, ...); false: what is wrong with it is the gather's result. */
bool run_visited(struct evaluation *evaluation, const struct expr *call, struct gather *gather);

/* A result in the unit of the series, unless it is too large for a number. */
struct result reduce_number(struct evaluation *evaluation, const struct gather *gather, double value);
struct result reduce_too_large(struct evaluation *evaluation);
/* n times the sum of (a - mean a)(b - mean b). */
struct exact reduce_scatter(const struct gather *gather, enum gather_sum a, enum gather_sum b, enum gather_sum both);

/* regress.c */
struct result reduce_slope(struct evaluation *evaluation, struct gather *gather);
struct result reduce_intercept(struct evaluation *evaluation, struct gather *gather);
struct result reduce_correlation(struct evaluation *evaluation, struct gather *gather);
struct result reduce_robust_slope(struct evaluation *evaluation, struct gather *gather);
struct result reduce_robust_intercept(struct evaluation *evaluation, struct gather *gather);

struct result sweep_one(struct evaluation *evaluation, const struct expr *call);
/* The value of a series at a time, s; false: it cannot be told. */
bool sweep_at(struct evaluation *evaluation, const struct expr *series, double t, double *value);

/* timeline.c: the same among rows first .. end - 1 of those at hand. */
bool run_sample_at(struct evaluation *evaluation, const struct vector *series, size_t first, size_t end, double t,
                   double *value);
/* collect.c: the items of spans(...) and visits(...). */
struct result spans_collect(struct evaluation *evaluation, struct gather *gather);
struct result visits_collect(struct evaluation *evaluation, struct gather *gather);

#endif
