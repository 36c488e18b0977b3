/* The time column as a whole. The median step is found by sorting the bits of the steps by hand, highest first: doubles
 * above zero stand in the order of their bits, and no order of samples makes it slow. Reading order: log_time_survey,
 * then median_step. */
#include "read/log_time.h"

#include <math.h>
#include <stdint.h>

#define DIGIT_BITS 11
#define DIGIT_COUNT (1u << DIGIT_BITS)

/* The offset is taken off before the conversion: a clock of milliseconds since some epoch keeps its digits. */
void log_time_settle(double *at, const uint8_t *known, size_t count, const struct unit *unit)
{
  double first = 0;
  bool has_first = false;
  for (size_t i = 0; i < count; i++) {
    if (known != NULL && !known[i])
      continue;
    if (!has_first)
      first = at[i];
    has_first = true;
    at[i] = unit_to_base(unit, at[i] - first);
  }
}

static uint64_t bits_of(double value)
{
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  return bits;
}

/* Counts the steps forward whose bits above `shift + DIGIT_BITS` are `head`, by their next bits. */
static void count_digits(const double *at, const uint8_t *known, size_t count, int shift, uint64_t head,
                         size_t counts[DIGIT_COUNT])
{
  memset(counts, 0, DIGIT_COUNT * sizeof *counts);
  double last = NAN;
  for (size_t i = 0; i < count; i++) {
    if (known != NULL && !known[i])
      continue;
    double step = at[i] - last;
    last = at[i];
    if (!(step > 0))
      continue;
    uint64_t bits = bits_of(step) >> shift;
    if (bits >> DIGIT_BITS == head)
      counts[bits & (DIGIT_COUNT - 1)]++;
  }
}

/* The lower median of `forward` steps. */
static double median_step(const double *at, const uint8_t *known, size_t count, size_t forward)
{
  size_t counts[DIGIT_COUNT], rank = (forward - 1) / 2;
  uint64_t head = 0;
  /* 66 bits in six digits: the first digit has two bits that are always 0. */
  for (int shift = 5 * DIGIT_BITS; shift >= 0; shift -= DIGIT_BITS) {
    count_digits(at, known, count, shift, head, counts);
    uint64_t digit = 0;
    while (digit + 1 < DIGIT_COUNT && rank >= counts[digit])
      rank -= counts[digit++];
    head = head << DIGIT_BITS | digit;
  }
  double step;
  memcpy(&step, &head, sizeof step);
  return step;
}

static void happen(struct log_event *event, size_t row, double from, double to)
{
  if (event->count++ == 0)
    *event = (struct log_event){1, row, from, to};
}

static void find_gaps(struct log_time *time, const double *at, const uint8_t *known)
{
  double last = NAN;
  for (size_t i = 0; i < time->count; i++) {
    if (known != NULL && !known[i])
      continue;
    if (at[i] - last > 5 * time->step)
      happen(&time->gap, i, last, at[i]);
    last = at[i];
  }
}

struct log_time log_time_survey(const double *at, const uint8_t *known, size_t count)
{
  struct log_time time = {.count = count};
  double last = NAN, sum = 0;
  size_t forward = 0;
  for (size_t i = 0; i < count; i++) {
    if (known != NULL && !known[i])
      continue;
    time.known_count++;
    if (at[i] < last)
      happen(&time.backwards, i, last, at[i]);
    else if (at[i] == last)
      happen(&time.repeated, i, last, at[i]);
    if (at[i] > last) {
      forward++;
      sum += at[i] - last;
    }
    last = at[i];
  }
  /* A clock that was set back: what ran forward is what was logged. */
  time.duration = time.backwards.count > 0 ? sum : time.known_count > 0 ? last : 0;
  if (forward > 0)
    time.step = median_step(at, known, count, forward);
  /* Of three steps or fewer no one is the odd one. */
  if (forward > 3)
    find_gaps(&time, at, known);
  return time;
}
