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
  size_t *queue; /* rows, most extreme first */
  size_t head, tail;
};

static bool beats(const struct window *window, size_t newer, size_t older)
{
  double a = window->from->at[newer], b = window->from->at[older];
  return window->largest ? a >= b : a <= b;
}

static void push(struct window *window, size_t i)
{
  if (window->from->known && !window->from->known[i])
    return;
  while (window->tail > window->head && beats(window, i, window->queue[window->tail - 1]))
    window->tail--;
  window->queue[window->tail++] = i;
}

/* The answer at row i, once everything within reach is in the queue; false when nothing known is. */
static bool answer(struct window *window, size_t i, size_t *row)
{
  const double *t = window->time->at;
  while (window->tail > window->head && fabs(t[window->queue[window->head]] - t[i]) > window->length)
    window->head++;
  if (window->tail == window->head)
    return false;
  *row = window->queue[window->head];
  return true;
}

/* Of conditions: the last row that decides (true for the largest) and the last known one tell all. */
static void conditions(const struct window *window, bool ahead, size_t count, uint8_t *on, uint8_t *known)
{
  const struct timebase *time = window->time;
  const struct vector *from = window->from;
  size_t decides = count, told = count; /* none */
  for (size_t k = 0; k < count; k++) {
    size_t i = ahead ? count - 1 - k : k;
    if (k == 0 || time->segment[i] != time->segment[ahead ? i + 1 : i - 1])
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
  return series->on && !series->known && series->count > 0 && memchr(series->on, !series->on[0], series->count) == NULL;
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
  const struct timebase *time = run_time(evaluation);
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
  for (size_t k = 0; at && k < count; k++) {
    size_t i = ahead ? count - 1 - k : k, row = 0;
    bool fresh = k == 0 || time->segment[i] != time->segment[ahead ? i + 1 : i - 1];
    if (fresh)
      window.head = window.tail = 0;
    push(&window, i);
    known[i] = answer(&window, i, &row);
    at[i] = known[i] ? window.from->at[row] : 0;
    if (error)
      error[i] = known[i] ? from_error[row] : 0;
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
