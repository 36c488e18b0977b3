/* What a function that makes one value of a series remembers of the rows it has seen: it takes them block by block, and
 * two that saw neighbouring stretches can be joined, with the same result as one that saw both. Private to expr/. */
#ifndef KEYWAY_EXPR_GATHER_H
#define KEYWAY_EXPR_GATHER_H

#include "base/exact.h"
#include "expr/frame.h"
#include "expr/tally.h"

/* What of the samples is wanted: flags. */
enum gather_part {
  GATHER_EXTREMES = 1,
  GATHER_ENDS = 2,      /* first and last */
  GATHER_SUMS = 4,      /* for means */
  GATHER_SQUARES = 128, /* with GATHER_SUMS: for spreads and lines */
  GATHER_VALUES = 8,    /* for the values at some ranks */
  GATHER_PAIRS = 16,    /* evenly taken */
  GATHER_HELD = 32,     /* for how long a condition was true */
  GATHER_JUDGED = 256,  /* with GATHER_HELD: for how long it was known */
  GATHER_SPANS = 64,
  GATHER_VISITS = 512 /* for how long each cell of a table was visited */
};

struct pair_sample {
  double y, x;
  size_t row;
};

struct pairs { /* known pairs at rows that divide by `step`, a power of two that grows with their number */
  struct pair_sample *items;
  size_t count, capacity, step;
};

enum gather_sum { SUM_Y, SUM_X, SUM_XX, SUM_XY, SUM_YY, GATHER_SUM_COUNT };

struct span {
  size_t from, to; /* rows of the first and last true sample */
  double start, end;
};

struct spans {
  double least; /* s; shorter ones are dropped */
  struct span *items;
  size_t count, capacity;
  bool open;       /* the last item may go on */
  bool clean;      /* nothing since its last true row, or since the beginning, that ends a span */
  bool head_clean; /* nothing before the first item that ends a span */
};

#define VISIT_UNITS 4294967296.0 /* in a second */

struct visits {
  const struct table *table;
  uint64_t *time; /* of each cell, in units: whole numbers add up to the same in any order */
  bool averages;
  struct exact **sums; /* of each cell: samples times units; NULL: 0 */
  double error;        /* largest of the averaged samples' own */
  struct arena *arena;
};

struct reducer; /* reduce.c */

struct gather {
  const struct expr *call;
  const struct reducer *reducer;
  int wanted;
  struct arena *arena;
  bool done;            /* `result` is the value, whatever the samples */
  bool at_hand;         /* `result` and `other` hold the only samples there are */
  struct result result; /* of the first series: unit, error, what is missing */
  struct result other;  /* of the second */
  struct result third;  /* of what visits(TABLE, x, y, s) averages */
  double part;          /* of a percentile */
  size_t known, on;
  double error, other_error; /* largest of the samples' own */
  double least, most, first, last;
  struct exact *sums;          /* GATHER_SUM_COUNT */
  struct exact *held, *judged; /* s: for which the condition was true, was known */
  struct tally values;
  struct pairs pairs;
  struct spans spans;
  struct visits visits;
};

/* `time` begins with the same row, and has one row more where the log goes on; NULL: not wanted. `other` NULL: none. */
struct stretch {
  struct rows rows;
  const struct vector *series, *other, *third;
  const struct timebase *time;
  size_t *room;       /* for as many rows */
  double *numbers[2]; /* the same; NULL where no numbers are wanted */
};

void gather_init(struct gather *gather, struct arena *arena);
void gather_take(struct gather *gather, const struct stretch *stretch);
/* `next` saw the rows that follow those of `gather`. */
void gather_join(struct gather *gather, const struct gather *next);

/* visit.c */
void visits_init(struct visits *visits, struct arena *arena);
void visits_take(struct visits *visits, const struct stretch *stretch);
void visits_join(struct visits *visits, const struct visits *next);

#endif
