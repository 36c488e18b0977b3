/* Functions that go by the time of the log: as it was earlier, at a time, smoothed, by time; and the series that cases
 * are made of. Nothing reaches across a gap or to where the clock was set back; missing samples in between are bridged
 * for as long as a gap may be. Reading order: near_of, then one function a builtin. */
#include "expr/builtin.h"
#include "expr/frame.h"

#include <math.h>

/* For each row the last known sample up to it and the first from it on, within its stretch; count: none. */
struct near {
  size_t *before, *after;
};

static struct near near_of(struct evaluation *evaluation, const struct vector *series, const struct timebase *time)
{
  size_t count = series->count;
  struct near near = {run_indexes(evaluation, count), run_indexes(evaluation, count)};
  for (size_t i = 0; i < count; i++)
    near.before[i] = run_known_at(series, i) ? i : i > run_segment(time, i) ? near.before[i - 1] : count;
  for (size_t i = count; i-- > 0;)
    near.after[i] = run_known_at(series, i) ? i : i + 1 < run_end(time, i) ? near.after[i + 1] : count;
  return near;
}

/* Neighbouring rows always hang together, others when they are no further apart than a gap may be. */
static bool hangs_together(const struct timebase *time, size_t from, size_t to)
{
  return to <= from + 1 || time->at[to] - time->at[from] <= RUN_GAP_SECONDS + RUN_TIME_SLACK;
}

/* Value at time t, where `row` is the last one that is not later: by straight line; conditions hold until the next
 * known sample. */
static bool sample_at(const struct vector *series, const struct timebase *time, const struct near *near, size_t row,
                      double t, double *at, uint8_t *on)
{
  size_t from = near->before[row];
  if (from == series->count)
    return false;
  bool exact = time->at[from] >= t - RUN_TIME_SLACK;
  if (series->on) {
    *on = series->on[from];
    return exact || from == row || t - time->at[from] <= RUN_GAP_SECONDS + RUN_TIME_SLACK;
  }
  *at = series->at[from];
  if (exact)
    return true;
  size_t to = row + 1 < run_end(time, row) ? near->after[row + 1] : series->count;
  if (to == series->count || !hangs_together(time, from, to))
    return false;
  *at += (series->at[to] - series->at[from]) * ((t - time->at[from]) / (time->at[to] - time->at[from]));
  return isfinite(*at);
}

/* Bound of the rounding of what sample_at() gives. */
static double error_at(const struct vector *series, const struct near *near, size_t row)
{
  size_t from = near->before[row], to = row + 1 < series->count ? near->after[row + 1] : series->count;
  return to < series->count ? fmax(series->error[from], series->error[to]) : series->error[from];
}

/* A series and how far to go, s; false: *result is what to return. */
static bool shifted(struct evaluation *evaluation, const struct expr *call, struct result *result, double *by)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  *result = pair[0];
  *by = pair[1].number;
  if (!pair[0].known || !pair[1].known)
    *result = run_unknown_of(evaluation, pair, 2);
  else if (pair[1].number < 0)
    *result = run_unknown(evaluation, "a time that is not below 0");
  return result->known && !result->series.none;
}

struct result builtin_delay(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double by;
  if (!shifted(evaluation, call, &result, &by))
    return result;
  const struct timebase here = run_time(evaluation), *time = &here;
  struct vector from = result.series;
  struct near near = near_of(evaluation, &from, time);
  double *at = from.at ? run_numbers(evaluation, from.count) : NULL,
         *error = from.error ? run_numbers(evaluation, from.count) : NULL;
  uint8_t *on = from.at ? NULL : run_flags(evaluation, from.count), *known = run_flags(evaluation, from.count);
  size_t row = 0;
  for (size_t i = 0; i < from.count; i++) {
    double t = time->at[i] - by, value = 0;
    uint8_t state = 0;
    if (row < run_segment(time, i))
      row = run_segment(time, i);
    bool within = time->at[row] <= t + RUN_TIME_SLACK;
    while (within && row < i && time->at[row + 1] <= t + RUN_TIME_SLACK)
      row++;
    known[i] = within && sample_at(&from, time, &near, row, t, &value, &state);
    if (at)
      at[i] = value;
    if (on)
      on[i] = state;
    if (error)
      error[i] = known[i] ? error_at(&from, &near, row) : 0;
  }
  result.series = (struct vector){from.count, at, on, known, error, false};
  return result;
}

bool run_sample_at(struct evaluation *evaluation, const struct vector *series, size_t first, size_t end, double t,
                   double *value)
{
  const struct timebase here = run_time(evaluation), *time = &here;
  struct near near = near_of(evaluation, series, time);
  for (size_t i = first; i < end; i++) {
    bool within = fabs(time->at[i] - t) <= RUN_TIME_SLACK ||
                  (i + 1 < run_end(time, i) && time->at[i] <= t && t < time->at[i + 1] - RUN_TIME_SLACK);
    uint8_t on = 0;
    if (within && sample_at(series, time, &near, i, t, value, &on))
      return true;
  }
  return false;
}

/* A running sum whose rest is kept apart: what was added and taken away again leaves nothing, wherever it began. */
struct running {
  double sum, rest;
};

static void running_add(struct running *running, double x)
{
  double sum = running->sum + x, back = sum - running->sum;
  double rest = running->rest + ((running->sum - (sum - back)) + (x - back));
  running->sum = sum + rest;
  running->rest = rest - (running->sum - sum);
}

struct result builtin_smooth(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double by;
  if (!shifted(evaluation, call, &result, &by)) {
    result.error *= 2;
    return result;
  }
  const struct timebase here = run_time(evaluation), *time = &here;
  struct vector from = result.series;
  double half = by / 2 + RUN_TIME_SLACK;
  double *at = run_numbers(evaluation, from.count), *error = from.error ? run_numbers(evaluation, from.count) : NULL;
  uint8_t *known = run_flags(evaluation, from.count);
  size_t low = 0, high = 0, inside = 0;
  struct running sum = {0, 0}, errors = {0, 0};
  for (size_t i = 0; i < from.count; i++) {
    if (low < run_segment(time, i)) {
      low = high = run_segment(time, i);
      sum = errors = (struct running){0, 0};
      inside = 0;
    }
    for (; high < run_end(time, i) && time->at[high] <= time->at[i] + half; high++) {
      if (!run_known_at(&from, high))
        continue;
      running_add(&sum, from.at[high]);
      if (error)
        running_add(&errors, from.error[high]);
      inside++;
    }
    for (; time->at[low] < time->at[i] - half; low++) {
      if (!run_known_at(&from, low))
        continue;
      running_add(&sum, -from.at[low]);
      if (error)
        running_add(&errors, -from.error[low]);
      inside--;
    }
    at[i] = inside > 0 ? sum.sum / (double)inside : 0;
    known[i] = inside > 0 && isfinite(at[i]);
    if (error)
      error[i] = inside > 0 ? 2 * errors.sum / (double)inside : 0;
  }
  result.series = (struct vector){from.count, at, NULL, known, error, false};
  result.error *= 2;
  return result;
}

/* For each row the first one at the same time, and the first one at a later time. */
struct ties {
  size_t *first, *next;
};

static struct ties ties_of(struct evaluation *evaluation, const struct timebase *time)
{
  struct ties ties = {run_indexes(evaluation, time->count), run_indexes(evaluation, time->count)};
  for (size_t i = 0; i < time->count; i++) {
    bool tied = i > run_segment(time, i) && time->at[i] - time->at[ties.first[i - 1]] <= RUN_TIME_SLACK;
    ties.first[i] = tied ? ties.first[i - 1] : i;
  }
  for (size_t i = time->count; i-- > 0;)
    ties.next[i] = i + 1 < run_end(time, i) && ties.first[i + 1] == ties.first[i] ? ties.next[i + 1] : i + 1;
  return ties;
}

/* The rows of known samples on both sides of row i, at other times; i itself where there is none near. */
static void neighbours(const struct timebase *time, const struct near *near, const struct ties *ties, size_t i,
                       size_t *low, size_t *high)
{
  size_t none = time->count, first = ties->first[i], next = ties->next[i];
  *low = first > run_segment(time, i) ? near->before[first - 1] : none;
  *high = next < run_end(time, i) ? near->after[next] : none;
  if (*low == none || (*low + 1 != first && !hangs_together(time, *low, i)))
    *low = i;
  if (*high == none || (*high != next && !hangs_together(time, i, *high)))
    *high = i;
}

struct result builtin_rate(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = evaluate(evaluation, call->args[0]);
  if (!result.known)
    return result;
  struct vector from = result.series;
  double own = result.error;
  result.error = 0;
  result.largest = INFINITY;
  result.per = result.per ? NULL : unit_find(slice_of("s"));
  if (call->args[0]->type.of.sense == SENSE_POINT && result.unit)
    result.unit = unit_difference(result.unit);
  if (from.none) {
    result.series.error = result.series.at;
    return result;
  }
  const struct timebase here = run_time(evaluation), *time = &here;
  struct near near = near_of(evaluation, &from, time);
  struct ties ties = ties_of(evaluation, time);
  double *at = run_numbers(evaluation, from.count), *error = run_numbers(evaluation, from.count);
  uint8_t *known = run_flags(evaluation, from.count);
  for (size_t i = 0; i < from.count; i++) {
    size_t low = i, high = i;
    at[i] = error[i] = 0;
    if (run_known_at(&from, i))
      neighbours(time, &near, &ties, i, &low, &high);
    if (low == high)
      continue;
    double span = time->at[high] - time->at[low];
    at[i] = (from.at[high] - from.at[low]) / span;
    known[i] = isfinite(at[i]) != 0;
    error[i] = (from.error ? from.error[high] + from.error[low] : 2 * own) / span;
  }
  result.series = (struct vector){from.count, at, NULL, known, error, false};
  return result;
}

struct result builtin_during(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct result result = pair[1];
  struct rows rows = evaluation->rows;
  const struct item *span = pair[0].item;
  uint8_t *known = run_flags(evaluation, result.series.count);
  for (size_t row = rows.from > span->from_row ? rows.from : span->from_row; row <= span->to_row && row < rows.to;
       row++)
    known[row - rows.from] = run_known_at(&result.series, row - rows.from);
  result.series.known = known;
  return result;
}

struct result builtin_logs(struct evaluation *evaluation, const struct expr *call)
{
  (void)call;
  size_t logs = evaluation->inputs->log_count > 0 ? evaluation->inputs->log_count : 1;
  return run_number(run_has_log(evaluation) ? (double)logs : 0, 0, NULL);
}

struct result builtin_ramp(struct evaluation *evaluation, const struct expr *call)
{
  struct result args[4];
  for (size_t i = 0; i < 4; i++)
    args[i] = evaluate(evaluation, call->args[i]);
  if (!args[0].known || !args[1].known || !args[2].known || !args[3].known)
    return run_unknown_of(evaluation, args, 4);
  if (!run_has_log(evaluation))
    return run_unknown(evaluation, "log.time");
  const struct timebase here = run_time(evaluation), *time = &here;
  double start = args[0].number, end = args[1].number;
  double *at = run_numbers(evaluation, time->count);
  for (size_t i = 0; i < time->count; i++) {
    double t = time->at[i], part = end > start ? (t - start) / (end - start) : t >= end;
    part = fmin(fmax(part, 0), 1);
    at[i] = args[2].number + part * (args[3].number - args[2].number);
  }
  struct result result = args[2];
  result.error = fmax(args[2].error, args[3].error) * 4;
  result.largest = fmax(fabs(args[2].number), fabs(args[3].number));
  result.series = (struct vector){.count = time->count, .at = at};
  return result;
}

/* splitmix64: the same numbers on every machine. */
static uint64_t scramble(uint64_t x)
{
  x += 0x9e3779b97f4a7c15u;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

struct result builtin_noise(struct evaluation *evaluation, const struct expr *call)
{
  struct result seed = evaluate(evaluation, call->args[0]);
  if (!seed.known)
    return seed;
  if (!run_has_log(evaluation))
    return run_unknown(evaluation, "log.time");
  const struct timebase here = run_time(evaluation), *time = &here;
  uint64_t start = scramble((uint64_t)(int64_t)fmin(fmax(seed.number, -1e15), 1e15));
  double *at = run_numbers(evaluation, time->count);
  for (size_t i = 0; i < time->count; i++)
    at[i] = (double)(scramble(start + evaluation->rows.from + i) >> 11) / 4503599627370496.0 - 1;
  struct result result = {.known = true, .largest = 1};
  result.series = (struct vector){.count = time->count, .at = at};
  return result;
}
