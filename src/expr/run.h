/* What the files of the evaluator share. Private to expr/. */
#ifndef KEYWAY_EXPR_RUN_H
#define KEYWAY_EXPR_RUN_H

#include "expr/ast.h"
#include "expr/eval.h"

struct memo {
  struct result result;
  uint64_t epoch; /* 0: not computed */
};

struct rows { /* of the log: from .. to - 1 */
  size_t from, to;
};

struct timebase { /* of some rows of the log, which count from the first of them */
  size_t from, count;
  const double *at; /* seconds */
  /* Rows of the log: the first of the unbroken stretch that a row is in, and one past its last, as far as was looked.
   * A stretch ends at gaps and where time runs back. */
  const size_t *start, *end;
};

/* First row, and one past the last, of the stretch that row i is in, among the rows at hand. */
static inline size_t run_segment(const struct timebase *time, size_t i)
{
  return time->start[i] > time->from ? time->start[i] - time->from : 0;
}
static inline size_t run_end(const struct timebase *time, size_t i)
{
  size_t end = time->end[i] - time->from;
  return end < time->count ? end : time->count;
}

struct part { /* of a series: what was computed of it last */
  struct result result;
  struct rows rows;
  uint64_t stamp, epoch;
};

/* How far from the rows at hand a series will be asked for, s; `steps` ask each for more than the one before. */
struct reach {
  double back, ahead;
  unsigned steps;
};
#define RUN_REACHES 64
struct reaches {
  uint8_t *of; /* one a slot: 1 + index; 0: only at the rows at hand */
  struct reach items[RUN_REACHES];
  size_t count;
};
struct reached { /* the rows of one of them */
  uint64_t stamp;
  struct rows rows;
};

/* Rows one after the other whose windows of time hold 4^power .. 4^(power + 1) - 1 rows. */
struct like {
  size_t from, to;
  unsigned power;
};
struct windows { /* of some rows, which count from the first of them */
  uint64_t stamp;
  struct rows rows;
  double length; /* s */
  bool ahead;
  size_t *end; /* of each row: the other end of its window, itself included */
  struct like *likes;
  size_t like_count;
  unsigned most; /* power */
};
#define RUN_WINDOWS 16
#define RUN_PAGE 64

/* Where series are computed: for some rows of the log at a time, so that memory does not grow with the log. */
struct frame {
  struct part **parts; /* pages of RUN_PAGE, by evaluation->series */
  uint64_t stamp;      /* of the rows at hand: parts of other stamps count as not computed */
  bool whole;          /* the whole log at once */
  bool keeps;          /* for good: memory comes from the evaluation's arena */
  struct chunk *chunks, *chunk;
  struct rows block; /* that was entered with */
  struct reached reached[RUN_REACHES];
  struct windows windows[RUN_WINDOWS];
  size_t windows_next;
  struct timebase time; /* of the rows at hand and some around them */
  uint64_t time_stamp;
  size_t time_before, time_after; /* how many rows around the block were wanted so far */
  const double *zeros;
  size_t zero_count;
  struct frame *next; /* of those that are free */
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
  size_t slots;
  struct memo *memo; /* one a slot: what is no series over the log */
  uint64_t epoch;    /* of the item at hand */
  const struct item *item;
  size_t row_count; /* of the log */
  double gap;       /* a longer step of the log's time ends a stretch, s */
  bool time_tried;
  const struct series *time; /* NULL: no log */
  struct rows rows;          /* at hand */
  struct frame *frame, *base, *traits, *free_frames;
  struct frame *item_frame; /* of the item at hand, while its rows stay the same */
  struct rows item_rows;
  uint64_t stamps;
  uint32_t *series; /* one a slot: number of a series over the log, in the order they were met; 0: not met */
  uint32_t series_count;
  struct reaches *reaches; /* while the log is gone through for many functions; else NULL */
  uint8_t *told;           /* one a slot: enum told */
  uint8_t *seen;           /* one a slot, for the count of what was evaluated */
  double *largest;         /* one a slot: of channels whose reader did not tell */
  uint8_t *levels;         /* one a slot: 1 + passes over the log; 0: not looked at */
  struct steepness steepness[RUN_STEEPNESS];
  size_t steepness_next;
  struct eval_stats stats;
};

/* Rows of a block, unless the caller says otherwise: series of so many rows stay in the processor's cache. */
#define RUN_BLOCK_ROWS 1024
/* A log of up to so many blocks is computed at once. */
#define RUN_WHOLE_BLOCKS 4

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

/* How many rows a series has: of the log those at hand, else the records of the reading (`rows` as in struct type). */
size_t run_rows(struct evaluation *evaluation, size_t rows);

/* Memory for as long as the rows at hand last. Numbers come as they are, flags all 0. */
double *run_numbers(struct evaluation *evaluation, size_t count);
uint8_t *run_flags(struct evaluation *evaluation, size_t count);
size_t *run_indexes(struct evaluation *evaluation, size_t count);
void *run_room(struct evaluation *evaluation, size_t count, size_t size);

/* What was taken since run_mark() is free again after run_release(). */
struct room_mark {
  struct chunk *chunk;
  size_t used;
};
struct room_mark run_mark(const struct evaluation *evaluation);
void run_release(struct evaluation *evaluation, struct room_mark mark);

/* A known result as a series: scalars are repeated over the rows. */
struct vector run_vector(struct evaluation *evaluation, const struct result *result, const struct expr *expr,
                         size_t rows);

/* A series of which no row is known. */
struct vector run_none(struct evaluation *evaluation, size_t count, bool conditions);

/* Is there a log, and with it time; looks only once. */
bool run_has_log(struct evaluation *evaluation);

/* Time of the rows at hand; none when there is no log. */
struct timebase run_time(struct evaluation *evaluation);

/* A series over the rows of the log. */
static inline bool run_is_over_log(const struct expr *expr)
{
  return expr->type.series && expr->type.rows == 0;
}

/* What holds for all rows of a series, without computing any of them: is it known, in which unit, with which error. */
struct result run_traits(struct evaluation *evaluation, const struct expr *expr);

/* Do some rows of a series of conditions (a join of conditions of which some are unknown for want of an input) have an
 * answer, or all? Looks through the whole log. */
enum told { TOLD_UNSEEN, TOLD_NONE, TOLD_SOME, TOLD_ALL };
enum told run_told(struct evaluation *evaluation, const struct expr *expr);

/* The value of a function that makes a single value or a collection of series: reduce.c. */
struct result run_reduce(struct evaluation *evaluation, const struct expr *call);

/* A part of a result's rows. */
struct result run_cut(struct result result, size_t from, size_t count);

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
/* A field of all items of a collection: items.c. */
struct result run_column(struct evaluation *evaluation, const struct expr *expr, const struct collection *collection);
struct result run_records(struct evaluation *evaluation, const struct expr *expr, const struct value *value);

#endif
