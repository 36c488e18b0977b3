/* Evaluation of checked expressions over one subject. Included by expr/, rules/, audit/, cli/prove.c. Called from one
 * thread (it may use others itself). Equal expressions are computed once; those that depend on the item of `each` once
 * for each item. */
#ifndef KEYWAY_EXPR_EVAL_H
#define KEYWAY_EXPR_EVAL_H

#include "expr/expr.h"
#include "model/value.h"

/* Names of inputs (or reasons in words) for want of which something is unknown. */
struct missing {
  size_t count;
  const char *const *names; /* no repeats */
};

struct vector { /* one for each row at hand */
  size_t count;
  const double *at;     /* numbers, base units; NULL for conditions */
  const uint8_t *on;    /* conditions; NULL for numbers */
  const uint8_t *known; /* NULL: all are */
  const double *error;  /* bound of each sample's rounding; NULL: the result's `error` holds for all */
  bool none;            /* no row is known */
};

struct item;

struct collection {
  size_t count;
  const struct item *items;
};

/* A value as it comes out of an expression. Which member counts follows from the expression's type. */
struct result {
  bool known;
  const struct missing *missing; /* when not known; of a known series of conditions: for want of which some of its rows
                                    are unknown that would otherwise be decided */
  double number;                 /* base units */
  double error;                  /* bound of the rounding so far, base units; of a series: of every sample, unless it
                                    has bounds of its own */
  double largest;                /* of a series: bound of the size of its samples; infinite: not known */
  const struct unit *unit, *per; /* as the source wrote it: unit, or unit/per; NULL: none */
  bool on;
  struct slice text;
  struct vector series;
  const struct value *value; /* curve, table, pins, list */
  const struct collection *collection;
  const struct item *item;
};

enum { ITEM_FIELDS = 8 };

/* What `each` is at. Fields as item_shape says; the rest is for evidence. */
struct item {
  const struct item_shape *shape;
  size_t field_count;
  const struct result *fields;
  size_t place_count;          /* 1, or one for each function on a shared pin */
  const struct place *places;  /* the cell, the breakpoint, the record, the first row */
  bool has_x, has_y, has_next; /* axis values, for "3000 rpm, 100 to 160 kPa" */
  struct quantity x, y, next;
  size_t from_row, to_row; /* SPAN: first and last row */
};

struct eval_log { /* one of those that are judged as one */
  size_t from_row;
  double step; /* median positive step of its time, s; 0: there is none */
};

/* What expressions are evaluated on. */
struct eval_inputs {
  const struct value *const *values[NAME_LIMIT]; /* tune, log, job, before: by name index; NULL: no such input at all */
  const struct quantity *limits;                 /* by name index */
  const struct names *names;                     /* for messages and axis_steps() */
  struct slice stage;
  size_t log_count; /* logs that are judged as one; 0: one, of which no more is known */
  const struct eval_log *logs;
  double log_step;   /* median positive step of the log's time, s; 0: not known yet */
  size_t block_rows; /* rows of the log that are computed at a time; 0: as is best. No result depends on it. */
  size_t threads;    /* at most so many on a large log; 0, 1: one. No result depends on it. */
};

struct eval_stats {
  size_t evaluated, reused;
};

struct evaluation *evaluation_new(struct arena *arena, const struct graph *graph, const struct eval_inputs *inputs);

/* The value; owned by the evaluation's arena. */
struct result evaluate(struct evaluation *evaluation, const struct expr *expr);

/* Computes beforehand, in as few passes over the log as can be, what these expressions take from it. No result depends
 * on it. */
void evaluation_prepare(struct evaluation *evaluation, const struct expr *const *exprs, size_t count);

/* Does its value take no pass over the log? */
bool evaluation_is_quick(struct evaluation *evaluation, const struct expr *expr);

/* " of log 2" where the expression is a time on the clock of one of several logs (the start or end of the span that
 * `each` is at), else "". */
const char *evaluation_clock(const struct evaluation *evaluation, const struct expr *expr);

/* Makes `item` the one that `each` is at (NULL: none). */
void evaluation_item(struct evaluation *evaluation, const struct item *item);
const struct item *evaluation_current(const struct evaluation *evaluation);

/* The names of all that is unknown among the results, each once. */
const struct missing *missing_join(struct arena *arena, const struct result *results, size_t count);

struct eval_stats evaluation_stats(const struct evaluation *evaluation);

/* The quantity of a known number, in the unit its source used, or a fitting one. */
struct quantity result_quantity(struct arena *arena, const struct result *result, const struct type *type);

/* As shown in messages: "108 %", "on", "IN3", "?"; `shown` and `step` as in quantity_print. */
const char *result_print(struct arena *arena, const struct result *result, const struct type *type,
                         const struct unit *shown, double step);

#endif
