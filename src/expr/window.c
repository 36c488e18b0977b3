/* Extremes over a moving window of time: the last t, or the next t, at each sample. One pass with a queue of
 * candidates: an older sample that is no more extreme than a newer one can never be the answer again. Nothing reaches
 * across a gap; missing samples are passed over. */
#include "expr/builtin.h"
#include "expr/frame.h"

#include <math.h>

struct window {
  const struct timebase *time;
  const struct vector *from;
  double length; /* s, with the rounding of time added, so that a sample just t away counts */
  bool largest;
  size_t *queue; /* room for as many rows */
};

/* Every row in the window of some row is in a queue, most extreme first: an older one that is no more extreme than a
 * newer one is taken out. `row[i]` is the answer at row i; `count`: nothing is known there. */
static void numbers(const struct window *window, bool ahead, size_t count, size_t *row)
{
  const struct timebase *time = window->time;
  const double *t = time->at, *at = window->from->at;
  const uint8_t *known = window->from->known;
  size_t *queue = window->queue, head = 0, tail = 0;
  for (size_t k = 0; k < count; k++) {
    size_t i = ahead ? count - 1 - k : k;
    if (k == 0 || time->start[i] != time->start[ahead ? i + 1 : i - 1])
      head = tail = 0;
    if (!known || known[i]) {
      double value = at[i];
      while (tail > head && (window->largest ? value >= at[queue[tail - 1]] : value <= at[queue[tail - 1]]))
        tail--;
      queue[tail++] = i;
    }
    while (tail > head && fabs(t[queue[head]] - t[i]) > window->length)
      head++;
    row[i] = tail > head ? queue[head] : count;
  }
}

/* Of conditions: the last row that decides (true for the largest) and the last known one tell all. */
static void conditions(const struct window *window, bool ahead, size_t count, uint8_t *on, uint8_t *known)
{
  const struct timebase *time = window->time;
  const struct vector *from = window->from;
  size_t decides = count, told = count; /* none */
  for (size_t k = 0; k < count; k++) {
    size_t i = ahead ? count - 1 - k : k;
    if (k == 0 || time->start[i] != time->start[ahead ? i + 1 : i - 1])
      decides = told = count;
    if (run_known_at(from, i)) {
      told = i;
      decides = (from->on[i] != 0) == window->largest ? i : decides;
    }
    bool decided = decides < count && fabs(time->at[decides] - time->at[i]) <= window->length;
    known[i] = told < count && fabs(time->at[told] - time->at[i]) <= window->length;
    on[i] = known[i] && decided == window->largest;
  }
}

/* Conditions that are all the same and all known stay what they are. */
static bool is_uniform(const struct vector *series)
{
  return series->on && !series->known && series->count > 0 &&
         memchr(series->on, series->on[0] ? 0 : 1, series->count) == NULL;
}

static struct result extremes(struct evaluation *evaluation, const struct expr *call, bool largest, bool ahead)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  if (pair[1].number < 0)
    return run_unknown(evaluation, "a time that is not below 0");
  struct result result = pair[0];
  if (result.series.none || is_uniform(&result.series))
    return result;
  const struct timebase here = run_time(evaluation), *time = &here;
  size_t count = result.series.count;
  const double *from_error = pair[0].series.error;
  double *at = result.series.at ? run_numbers(evaluation, count) : NULL,
         *error = from_error ? run_numbers(evaluation, count) : NULL;
  uint8_t *on = at ? NULL : run_flags(evaluation, count), *known = run_flags(evaluation, count);
  struct window window = {.time = time,
                          .from = &pair[0].series,
                          .length = pair[1].number + RUN_TIME_SLACK,
                          .largest = largest,
                          .queue = run_indexes(evaluation, count)};
  if (on)
    conditions(&window, ahead, count, on, known);
  if (at) {
    size_t *row = run_indexes(evaluation, count);
    numbers(&window, ahead, count, row);
    for (size_t i = 0; i < count; i++) {
      known[i] = row[i] < count;
      at[i] = known[i] ? window.from->at[row[i]] : 0;
      if (error)
        error[i] = known[i] ? from_error[row[i]] : 0;
    }
  }
  result.series = (struct vector){count, at, on, known, error, false};
  return result;
}

struct result builtin_past_min(struct evaluation *evaluation, const struct expr *call)
{
  return extremes(evaluation, call, false, false);
}
struct result builtin_past_max(struct evaluation *evaluation, const struct expr *call)
{
  return extremes(evaluation, call, true, false);
}
struct result builtin_next_min(struct evaluation *evaluation, const struct expr *call)
{
  return extremes(evaluation, call, false, true);
}
struct result builtin_next_max(struct evaluation *evaluation, const struct expr *call)
{
  return extremes(evaluation, call, true, true);
}

/* until(c, t): how long it takes from each row until the condition next holds; t where it does not within t. */
struct result builtin_until(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  if (pair[1].number < 0)
    return run_unknown(evaluation, "a time that is not below 0");
  const struct vector *from = &pair[0].series;
  const struct timebase here = run_time(evaluation), *time = &here;
  double most = pair[1].number, *at = run_numbers(evaluation, from->count);
  uint8_t *known = run_flags(evaluation, from->count);
  size_t count = from->count, next = count, told = count;
  for (size_t i = count; i-- > 0;) {
    if (i + 1 < count && time->start[i] != time->start[i + 1])
      next = told = count;
    if (run_known_at(from, i)) {
      told = i;
      next = from->on[i] ? i : next;
    }
    known[i] = told < count && time->at[told] - time->at[i] <= most + RUN_TIME_SLACK;
    at[i] = next < count ? fmin(time->at[next] - time->at[i], most) : most;
  }
  struct result result = {.known = true,
                          .error = RUN_TIME_SLACK,
                          .largest = most,
                          .unit = unit_find(slice_of("s")),
                          .series = {count, at, NULL, known, NULL, false}};
  return result;
}
