/* The time column as a whole, in one pass where steps repeat, as they do when a logger has a rate: the steps are
 * counted by their value. Where there are too many different ones, their median is found by sorting their bits by hand,
 * highest first, a pass for each group of bits: doubles above zero stand in the order of their bits, and no order of
 * samples makes it slow. Reading order: log_time_survey, then median_step. */
#include "read/log_time.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#define DIGIT_BITS 11
#define DIGIT_COUNT (1u << DIGIT_BITS)
#define BLOCK_ROWS 1024
#define SLOTS_MOST 8192 /* a power of two */

/* Known times, one after the other. */
struct walk {
  const struct series *times;
  size_t next, to, count, i;
  double at[BLOCK_ROWS];
  uint8_t known[BLOCK_ROWS];
};

static void walk_start(struct walk *walk, const struct series *times, size_t from, size_t to)
{
  walk->times = times;
  walk->next = from;
  walk->to = to;
  walk->count = walk->i = 0;
}

/* false: no more. */
static bool walk_step(struct walk *walk, double *at)
{
  for (;;) {
    for (; walk->i < walk->count; walk->i++) {
      if (walk->known[walk->i]) {
        *at = walk->at[walk->i++];
        return true;
      }
    }
    if (walk->next == walk->to)
      return false;
    walk->count = walk->to - walk->next < BLOCK_ROWS ? walk->to - walk->next : BLOCK_ROWS;
    series_rows(walk->times, walk->next, walk->next + walk->count, walk->at, walk->known);
    walk->next += walk->count;
    walk->i = 0;
  }
}

/* Of the time given last. */
static size_t walk_row(const struct walk *walk)
{
  return walk->next - walk->count + walk->i - 1;
}

struct step_count {
  uint64_t bits; /* of the step; 0: nothing here */
  size_t count;
};

struct steps {
  struct step_count *slots;
  size_t count;    /* of slots: a power of two */
  size_t distinct; /* at most half as many */
  bool full;
};

static uint64_t bits_of(double value)
{
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  return bits;
}

static double step_of(uint64_t bits)
{
  double step;
  memcpy(&step, &bits, sizeof step);
  return step;
}

static void steps_add(struct steps *steps, double step)
{
  uint64_t bits = bits_of(step);
  size_t slot = (size_t)(bits * 0x9e3779b97f4a7c15u >> 51) % steps->count;
  while (steps->slots[slot].bits != bits && steps->slots[slot].bits != 0)
    slot = (slot + 1) % steps->count;
  if (steps->slots[slot].bits == 0 && steps->distinct++ == steps->count / 2) {
    steps->full = true;
    return;
  }
  steps->slots[slot].bits = bits;
  steps->slots[slot].count++;
}

static int step_compare(const void *a, const void *b)
{
  const struct step_count *x = a, *y = b;
  return (x->bits > y->bits) - (x->bits < y->bits);
}

/* Sorts the counted steps; the lower median of `forward` of them. */
static double median_of_counts(struct steps *steps, size_t forward)
{
  size_t rank = (forward - 1) / 2, i = 0;
  qsort(steps->slots, steps->count, sizeof *steps->slots, step_compare);
  while (i + 1 < steps->count && rank >= steps->slots[i].count)
    rank -= steps->slots[i++].count;
  return step_of(steps->slots[i].bits);
}

/* Counts the steps forward whose bits above `shift + DIGIT_BITS` are `head`, by their next bits. */
static void count_digits(struct walk *walk, int shift, uint64_t head, size_t counts[DIGIT_COUNT])
{
  memset(counts, 0, DIGIT_COUNT * sizeof *counts);
  double last = NAN, at;
  while (walk_step(walk, &at)) {
    double step = at - last;
    last = at;
    if (!(step > 0))
      continue;
    uint64_t bits = bits_of(step) >> shift;
    if (bits >> DIGIT_BITS == head)
      counts[bits & (DIGIT_COUNT - 1)]++;
  }
}

/* The lower median of `forward` steps. */
static double median_step(struct walk *walk, size_t from, size_t to, size_t forward)
{
  size_t counts[DIGIT_COUNT], rank = (forward - 1) / 2;
  uint64_t head = 0;
  /* 66 bits in six digits: the first digit has two bits that are always 0. */
  for (int shift = 5 * DIGIT_BITS; shift >= 0; shift -= DIGIT_BITS) {
    walk_start(walk, walk->times, from, to);
    count_digits(walk, shift, head, counts);
    uint64_t digit = 0;
    while (digit + 1 < DIGIT_COUNT && rank >= counts[digit])
      rank -= counts[digit++];
    head = head << DIGIT_BITS | digit;
  }
  return step_of(head);
}

static void happen(struct log_event *event, size_t row, double from, double to)
{
  if (event->count++ == 0)
    *event = (struct log_event){1, row, from, to};
}

static void find_gaps(struct log_time *time, struct walk *walk)
{
  double last = NAN, at;
  while (walk_step(walk, &at)) {
    if (at - last > 5 * time->step)
      happen(&time->gap, walk_row(walk), last, at);
    last = at;
  }
}

/* All but median and gaps. Returns the number of steps forward. */
static size_t survey(struct log_time *time, struct walk *walk, struct steps *steps)
{
  double last = NAN, sum = 0, at;
  size_t forward = 0;
  while (walk_step(walk, &at)) {
    time->known_count++;
    if (at < last)
      happen(&time->backwards, walk_row(walk), last, at);
    else if (at == last)
      happen(&time->repeated, walk_row(walk), last, at);
    if (at > last) {
      forward++;
      sum += at - last;
      if (!steps->full)
        steps_add(steps, at - last);
    }
    last = at;
  }
  /* A clock that was set back: what ran forward is what was logged. */
  time->duration = time->backwards.count > 0 ? sum : time->known_count > 0 ? last : 0;
  return forward;
}

struct log_time log_time_survey(const struct series *times, size_t from, size_t to)
{
  struct log_time time = {.count = to - from};
  struct arena *scratch = arena_new();
  struct steps *steps = ARENA_NEW(scratch, struct steps);
  struct walk *walk = ARENA_NEW(scratch, struct walk);
  steps->count = 16;
  while (steps->count < SLOTS_MOST && steps->count < 2 * (to - from))
    steps->count *= 2;
  steps->slots = ARENA_ARRAY(scratch, steps->count, struct step_count);
  walk_start(walk, times, from, to);
  size_t forward = survey(&time, walk, steps);
  bool gaps = steps->full;
  if (forward > 0)
    time.step = steps->full ? median_step(walk, from, to, forward) : median_of_counts(steps, forward);
  for (size_t i = 0; !steps->full && i < steps->count; i++)
    gaps = gaps || step_of(steps->slots[i].bits) > 5 * time.step;
  /* Of three steps or fewer no one is the odd one. */
  if (forward > 3 && gaps) {
    walk_start(walk, times, from, to);
    find_gaps(&time, walk);
  }
  arena_free(scratch);
  return time;
}
