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

/* Finds how far around the rows at hand each series of these calls will be asked for: evaluation->reaches. */
void frame_plan(struct evaluation *evaluation, const struct expr *const *calls, size_t count);

size_t frame_block_rows(const struct evaluation *evaluation);
/* Is the log so short that it is computed at once? */
bool frame_is_whole(const struct evaluation *evaluation);

/* With as many more rows on both sides as a missing sample may be bridged over. */
struct rows frame_bridge(struct evaluation *evaluation, struct rows rows);

/* evaluate() of a series over the log. */
struct result evaluate_rows(struct evaluation *evaluation, const struct expr *expr);
/* Computes an expression whose arguments are at hand: eval.c. */
struct result eval_compute(struct evaluation *evaluation, const struct expr *expr);
/* The result of a computation, or unknown where it took part of a condition's rows for all of them: eval.c. */
struct result eval_settle(struct evaluation *evaluation, const struct expr *expr, struct result result);
/* Over the rows at hand, how many of a join of conditions have an answer: series.c. */
size_t run_count_told(struct evaluation *evaluation, const struct expr *expr);

#endif
