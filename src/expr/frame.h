/* Series over the log, some rows at a time. Private to expr/. */
#ifndef KEYWAY_EXPR_FRAME_H
#define KEYWAY_EXPR_FRAME_H

#include "expr/run.h"

struct frame *frame_open(struct evaluation *evaluation);
void frame_close(struct evaluation *evaluation, struct frame *frame);
void frame_clear(struct evaluation *evaluation, struct frame *frame); /* for other rows */

struct frame_state {
  struct frame *frame;
  struct rows rows;
};

/* Makes the frame and rows those at hand; frame_leave puts back what was. */
struct frame_state frame_enter(struct evaluation *evaluation, struct frame *frame, struct rows rows);
void frame_leave(struct evaluation *evaluation, struct frame_state state);

/* What the frame keeps of a series. */
struct part *frame_part(struct evaluation *evaluation, struct frame *frame, const struct expr *expr);

/* Was the series computed for the rows at hand, or some of them? Then it is in the frame's parts. */
bool frame_has(struct evaluation *evaluation, const struct expr *expr);

size_t frame_block_rows(const struct evaluation *evaluation);
/* Is the log so short that it is computed at once? */
bool frame_is_whole(const struct evaluation *evaluation);

/* Goes through rows block by block: each is at hand until walk_next() is called again, which is to be done until it is
 * false. */
struct walk {
  struct rows block;
  struct rows rest; /* still to come */
  size_t step;
  struct frame *frame;
  struct frame_state state;
  bool entered;
};
struct walk walk_begin(struct evaluation *evaluation, struct rows rows);
bool walk_next(struct evaluation *evaluation, struct walk *walk);
/* What is at hand was the last. */
void walk_stop(struct walk *walk);

/* clock.c: time of these rows, and of some around them; for as long as the rows at hand last. */
const struct timebase *clock_around(struct evaluation *evaluation, struct rows rows);
/* Which of the logs a row belongs to, from 0. */
size_t clock_log(const struct eval_inputs *inputs, size_t row);

/* reach.c: rows of a series, with those that its arguments are wanted for. */
struct rows reach_widen(struct evaluation *evaluation, const struct expr *expr, struct rows rows);
/* Finds how far around the rows at hand each series of these calls will be asked for: evaluation->reaches. */
void reach_plan(struct evaluation *evaluation, const struct expr *const *calls, size_t count);
/* Rows that were asked for, and those that others will ask for. */
struct rows reach_asked(struct evaluation *evaluation, const struct expr *expr, struct rows rows);
/* With as many more rows on both sides as a missing sample may be bridged over. */
struct rows reach_bridge(struct evaluation *evaluation, struct rows rows);

/* evaluate() of a series over the log. */
struct result evaluate_rows(struct evaluation *evaluation, const struct expr *expr);
/* Computes an expression whose arguments are at hand: eval.c. */
struct result eval_compute(struct evaluation *evaluation, const struct expr *expr);
/* The result of a computation, or unknown where it took part of a condition's rows for all of them: eval.c. */
struct result eval_settle(struct evaluation *evaluation, const struct expr *expr, struct result result);
/* Over the rows at hand, how many of a join of conditions have an answer: series.c. */
size_t run_count_told(struct evaluation *evaluation, const struct expr *expr);

#endif
