/* Extremes over a moving window of time: the last t, or the next t, at each sample. Nothing reaches across a gap;
 * missing samples are passed over. Reading order: extremes, then windows_of and numbers, or conditions. */
#include "expr/builtin.h"
#include "expr/frame.h"

#include <float.h>
#include <math.h>

struct window {
  const struct timebase *time;
  const struct vector *from;
  double length; /* s, with the rounding of time added, so that a sample just t away counts */
  bool largest, ahead;
};

/* ---- numbers */

static unsigned power_of(size_t size)
{
  unsigned power = 0;
  while (size >>= 2)
    power++;
  return power;
}

static void windows_add(struct windows *windows, size_t i, size_t size, unsigned power)
{
  size_t four = size >> 2 * power; /* 1, 2 or 3 when the power is right */
  if (four == 0 || four > 3)
    power = power_of(size);
  struct like *last = windows->like_count > 0 ? &windows->likes[windows->like_count - 1] : NULL;
  windows->most = power > windows->most ? power : windows->most;
  if (last && last->power == power && last->to == i)
    last->to = i + 1;
  else
    windows->likes[windows->like_count++] = (struct like){i, i + 1, power};
}

static void windows_find(struct windows *windows, const struct window *window)
{
  const struct timebase *time = window->time;
  const double *t = time->at;
  size_t count = time->count, end = 0;
  for (size_t i = 0; i < count; i++) {
    unsigned power = windows->like_count > 0 ? windows->likes[windows->like_count - 1].power : 0;
    if (window->ahead) {
      size_t stops = run_end(time, i);
      end = end > i ? end : i;
      while (end + 1 < stops && t[end + 1] - t[i] <= window->length)
        end++;
      windows_add(windows, i, end - i + 1, power);
    } else {
      size_t starts = run_segment(time, i);
      end = end > starts ? end : starts;
      while (t[i] - t[end] > window->length)
        end++;
      windows_add(windows, i, i - end + 1, power);
    }
    windows->end[i] = end;
  }
}

/* The frame keeps some: many functions look as far around the same rows. */
static const struct windows *windows_of(struct evaluation *evaluation, const struct window *window)
{
  struct frame *frame = evaluation->frame;
  struct rows rows = evaluation->rows;
  for (size_t i = 0; i < RUN_WINDOWS; i++) {
    const struct windows *kept = &frame->windows[i];
    if (kept->stamp == frame->stamp && kept->rows.from == rows.from && kept->rows.to == rows.to &&
        kept->length == window->length && kept->ahead == window->ahead)
      return kept;
  }
  size_t count = window->time->count;
  struct windows *windows = &frame->windows[frame->windows_next];
  frame->windows_next = (frame->windows_next + 1) % RUN_WINDOWS;
  *windows = (struct windows){.stamp = frame->stamp, .rows = rows, .length = window->length, .ahead = window->ahead};
  windows->end = run_indexes(evaluation, count);
  windows->likes = run_room(evaluation, count, sizeof *windows->likes);
  windows_find(windows, window);
  return windows;
}

static inline double more(double a, double b)
{
  return a > b ? a : b;
}

/* Four times as many rows from each one on: of[i] is the largest of from[i] .. from[i + 3 * reach]. */
static void widen(const double *restrict from, size_t count, size_t reach, double *restrict of)
{
  size_t whole = count > 3 * reach ? count - 3 * reach : 0;
  for (size_t i = 0; i < whole; i++)
    of[i] = more(more(from[i], from[i + reach]), more(from[i + 2 * reach], from[i + 3 * reach]));
  memcpy(of + whole, from + whole, (count - whole) * sizeof *of);
}

/* Each window of 4^power .. 4^(power + 1) - 1 rows is covered by four stretches of 4^power: wide[i] is the largest of
 * that which begins at row i. */
static void cover(const struct window *window, const struct windows *windows, const struct like *like,
                  const double *restrict wide, double *restrict at)
{
  size_t reach = (size_t)1 << 2 * like->power;
  for (size_t i = like->from; i < like->to; i++) {
    size_t low = window->ahead ? i : windows->end[i], high = window->ahead ? windows->end[i] : i;
    size_t last = high + 1 - reach, second = low + reach < last ? low + reach : last,
           third = low + 2 * reach < last ? low + 2 * reach : last;
    at[i] = more(more(wide[low], wide[second]), more(wide[third], wide[last]));
  }
}

/* The largest of given[i] in each window; for the smallest the numbers are turned. Infinite where none is known. */
static void numbers(struct evaluation *evaluation, const struct window *window, const struct windows *windows,
                    const double *restrict given, double *restrict at)
{
  size_t count = window->from->count;
  const uint8_t *restrict known = window->from->known;
  struct room_mark mark = run_mark(evaluation);
  double *first = run_numbers(evaluation, count), *other = run_numbers(evaluation, count);
  const double *wide = given;
  double sign = window->largest ? 1 : -1;
  if (known || sign < 0) {
    for (size_t i = 0; i < count; i++)
      first[i] = given[i] * sign;
    for (size_t i = 0; known && i < count; i++)
      first[i] = known[i] ? first[i] : -INFINITY;
    wide = first;
  }
  for (unsigned power = 0;; power++) {
    for (size_t k = 0; k < windows->like_count; k++) {
      if (windows->likes[k].power == power)
        cover(window, windows, &windows->likes[k], wide, at);
    }
    if (power == windows->most)
      break;
    double *to = wide == other ? first : other;
    widen(wide, count, (size_t)1 << 2 * power, to);
    wide = to;
  }
  for (size_t i = 0; i < count; i++)
    at[i] = at[i] * sign + 0.0; /* which of -0 and 0 is larger would depend on the order */
  run_release(evaluation, mark);
}

/* How far off the extremes may be: the extremes of what the samples may be, less those of what they are. */
static double *number_errors(struct evaluation *evaluation, const struct window *window, const struct windows *windows,
                             const double *at)
{
  size_t count = window->from->count;
  const double *given = window->from->at, *own = window->from->error;
  double *shifted = run_numbers(evaluation, count), *low = run_numbers(evaluation, count),
         *high = run_numbers(evaluation, count), *error = run_numbers(evaluation, count);
  for (size_t i = 0; i < count; i++)
    shifted[i] = given[i] - own[i];
  numbers(evaluation, window, windows, shifted, low);
  for (size_t i = 0; i < count; i++)
    shifted[i] = given[i] + own[i];
  numbers(evaluation, window, windows, shifted, high);
  for (size_t i = 0; i < count; i++) {
    double off = fmax(high[i] - at[i], at[i] - low[i]);
    error[i] = isfinite(at[i]) ? off + fabs(at[i]) * DBL_EPSILON : 0;
  }
  return error;
}

static void number_windows(struct evaluation *evaluation, const struct window *window, struct vector *out)
{
  size_t count = window->from->count;
  const struct windows *windows = windows_of(evaluation, window);
  double *at = run_numbers(evaluation, count);
  numbers(evaluation, window, windows, window->from->at, at);
  *out = (struct vector){.count = count, .at = at};
  if (window->from->error)
    out->error = number_errors(evaluation, window, windows, at);
  if (!window->from->known)
    return;
  uint8_t *known = run_flags(evaluation, count);
  for (size_t i = 0; i < count; i++) {
    known[i] = isfinite(at[i]) != 0;
    at[i] = known[i] ? at[i] : 0;
  }
  out->known = known;
}

/* ---- conditions */

/* How many of the rows from .. to - 1 are no further than the window from row `of`, which stands at one end of them. */
static size_t rows_near(const struct window *window, size_t of, size_t from, size_t to)
{
  const double *t = window->time->at;
  size_t low = 0, high = to - from; /* so many are, so many may be */
  while (low < high) {
    size_t tried = low + (high - low + 1) / 2, row = window->ahead ? to - tried : from + tried - 1;
    if (fabs(t[row] - t[of]) <= window->length)
      low = tried;
    else
      high = tried - 1;
  }
  return low;
}

/* Where every row is known: each run of rows that decide (true ones for the largest) decides the rows near its end. */
static void runs(const struct window *window, uint8_t *on)
{
  const struct timebase *time = window->time;
  const struct vector *from = window->from;
  size_t count = from->count;
  int decides = window->largest ? 1 : 0, other_way = 1 - decides;
  memset(on, other_way, count);
  for (size_t i = 0; i < count;) {
    const uint8_t *found = memchr(from->on + i, decides, count - i);
    if (!found)
      return;
    size_t first = (size_t)(found - from->on), end = run_end(time, first);
    const uint8_t *other = memchr(found, other_way, end - first);
    size_t stops = other ? (size_t)(other - from->on) : end;
    size_t before = first, after = stops;
    if (window->ahead)
      before -= rows_near(window, first, run_segment(time, first), first);
    else
      after += rows_near(window, stops - 1, stops, end);
    memset(on + before, decides, after - before);
    i = stops;
  }
}

/* The last row that decides and the last known one tell all. */
static void conditions(const struct window *window, uint8_t *on, uint8_t *known)
{
  const struct timebase *time = window->time;
  const struct vector *from = window->from;
  size_t count = from->count, decides = count, told = count; /* none */
  for (size_t k = 0; k < count; k++) {
    size_t i = window->ahead ? count - 1 - k : k;
    if (k == 0 || time->start[i] != time->start[window->ahead ? i + 1 : i - 1])
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

static void condition_windows(struct evaluation *evaluation, const struct window *window, struct vector *out)
{
  size_t count = window->from->count;
  uint8_t *on = run_flags(evaluation, count), *known = NULL;
  if (window->from->known) {
    known = run_flags(evaluation, count);
    conditions(window, on, known);
  } else {
    runs(window, on);
  }
  *out = (struct vector){.count = count, .on = on, .known = known};
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
  const struct timebase here = run_time(evaluation);
  struct window window = {&here, &pair[0].series, pair[1].number + RUN_TIME_SLACK, largest, ahead};
  if (result.series.at)
    number_windows(evaluation, &window, &result.series);
  else
    condition_windows(evaluation, &window, &result.series);
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
