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

static double value_at(const struct window *window, size_t i)
{
  return window->from->at ? window->from->at[i] : window->from->on[i];
}

static bool beats(const struct window *window, size_t newer, size_t older)
{
  double a = value_at(window, newer), b = value_at(window, older);
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

static struct result extremes(struct evaluation *evaluation, const struct expr *call, bool largest, bool ahead)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  if (pair[1].number < 0)
    return run_unknown(evaluation, "a time that is not below 0");
  struct result result = pair[0];
  if (result.series.none)
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
  for (size_t k = 0; k < count; k++) {
    size_t i = ahead ? count - 1 - k : k, row = 0;
    bool fresh = k == 0 || time->segment[i] != time->segment[ahead ? i + 1 : i - 1];
    if (fresh)
      window.head = window.tail = 0;
    push(&window, i);
    known[i] = answer(&window, i, &row);
    if (at)
      at[i] = known[i] ? window.from->at[row] : 0;
    else
      on[i] = known[i] && window.from->on[row];
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
