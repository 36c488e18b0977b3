/* Functions that go by the time of the log: as it was earlier, at a time, smoothed, by time; and the series that cases
 * are made of. Nothing reaches across a gap or to where the clock was set back; missing samples in between are bridged
 * for as long as a gap may be. Reading order: run_time, near_of, then one function a builtin. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <math.h>
#include <stdlib.h>

static int compare_doubles(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* A row whose time is missing stands at the time of the row before. */
static const double *filled_times(struct evaluation *evaluation, const struct series *series)
{
  if (!series->known)
    return series->at;
  double *at = ARENA_ARRAY(evaluation->arena, series->count + 1, double), last = 0;
  for (size_t i = 0; i < series->count; i++) {
    last = series->known[i] ? series->at[i] : last;
    at[i] = last;
  }
  return at;
}

const struct timebase *run_time(struct evaluation *evaluation)
{
  if (evaluation->time_tried)
    return evaluation->timebase;
  evaluation->time_tried = true;
  const struct name *name = names_find(evaluation->inputs->names, slice_of("log.time"));
  const struct value *const *values = evaluation->inputs->values[NAME_LOG];
  if (!name || !values || !values[name->index])
    return NULL;
  const struct series *series = &values[name->index]->as.series;
  size_t count = series->count;
  const double *at = filled_times(evaluation, series);
  double *steps = ARENA_ARRAY(evaluation->arena, count + 1, double);
  size_t step_count = 0;
  for (size_t i = 1; i < count; i++) {
    if (at[i] > at[i - 1])
      steps[step_count++] = at[i] - at[i - 1];
  }
  qsort(steps, step_count, sizeof *steps, compare_doubles);
  double gap = fmax(RUN_GAP_SECONDS, step_count ? 5 * steps[step_count / 2] : 0);
  size_t *segment = ARENA_ARRAY(evaluation->arena, count + 1, size_t),
         *run = ARENA_ARRAY(evaluation->arena, count + 1, size_t);
  for (size_t i = 0, start = 0; i < count; i++) {
    if (i > 0 && (at[i] < at[i - 1] || at[i] - at[i - 1] > gap))
      start = i;
    segment[i] = start;
  }
  for (size_t i = count; i-- > 0;)
    run[i] = i + 1 < count && segment[i + 1] == segment[i] ? run[i + 1] : i + 1;
  struct timebase *time = ARENA_NEW(evaluation->arena, struct timebase);
  *time = (struct timebase){count, at, segment, run};
  evaluation->timebase = time;
  return time;
}

/* For each row the last known sample up to it and the first from it on, within its stretch; count: none. */
struct near {
  size_t *before, *after;
};

static struct near near_of(struct evaluation *evaluation, const struct vector *series, const struct timebase *time)
{
  size_t count = series->count;
  struct near near = {ARENA_ARRAY(evaluation->arena, count + 1, size_t),
                      ARENA_ARRAY(evaluation->arena, count + 1, size_t)};
  for (size_t i = 0; i < count; i++)
    near.before[i] = run_known_at(series, i) ? i : i > time->segment[i] ? near.before[i - 1] : count;
  for (size_t i = count; i-- > 0;)
    near.after[i] = run_known_at(series, i) ? i : i + 1 < time->run[i] ? near.after[i + 1] : count;
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
  size_t to = row + 1 < time->run[row] ? near->after[row + 1] : series->count;
  if (to == series->count || !hangs_together(time, from, to))
    return false;
  *at += (series->at[to] - series->at[from]) * ((t - time->at[from]) / (time->at[to] - time->at[from]));
  return isfinite(*at);
}

struct result builtin_delay(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  if (pair[1].number < 0)
    return run_unknown(evaluation, "a time that is not below 0");
  const struct timebase *time = run_time(evaluation);
  struct result result = pair[0];
  struct vector from = result.series;
  struct near near = near_of(evaluation, &from, time);
  double *at = from.at ? ARENA_ARRAY(evaluation->arena, from.count, double) : NULL;
  uint8_t *on = from.at ? NULL : ARENA_ARRAY(evaluation->arena, from.count, uint8_t),
          *known = ARENA_ARRAY(evaluation->arena, from.count, uint8_t);
  size_t row = 0;
  for (size_t i = 0; i < from.count; i++) {
    double t = time->at[i] - pair[1].number, value = 0;
    uint8_t state = 0;
    if (row < time->segment[i])
      row = time->segment[i];
    if (time->at[row] > t + RUN_TIME_SLACK)
      continue;
    while (row < i && time->at[row + 1] <= t + RUN_TIME_SLACK)
      row++;
    known[i] = sample_at(&from, time, &near, row, t, &value, &state);
    if (at)
      at[i] = value;
    if (on)
      on[i] = state;
  }
  result.series = (struct vector){from.count, at, on, known, NULL};
  return result;
}

struct result builtin_at(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  const struct timebase *time = run_time(evaluation);
  struct near near = near_of(evaluation, &pair[0].series, time);
  double t = pair[1].number;
  for (size_t i = 0; i < pair[0].series.count; i++) {
    bool within = fabs(time->at[i] - t) <= RUN_TIME_SLACK ||
                  (i + 1 < time->run[i] && time->at[i] <= t && t < time->at[i + 1] - RUN_TIME_SLACK);
    uint8_t on = 0;
    if (within && sample_at(&pair[0].series, time, &near, i, t, &pair[0].number, &on))
      return pair[0];
  }
  return run_no_sample(evaluation, call);
}

struct result builtin_smooth(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  if (pair[1].number < 0)
    return run_unknown(evaluation, "a time that is not below 0");
  const struct timebase *time = run_time(evaluation);
  struct result result = pair[0];
  struct vector from = result.series;
  double half = pair[1].number / 2 + RUN_TIME_SLACK;
  double *at = ARENA_ARRAY(evaluation->arena, from.count, double);
  uint8_t *known = ARENA_ARRAY(evaluation->arena, from.count, uint8_t);
  size_t low = 0, high = 0, inside = 0;
  long double sum = 0; /* 64-bit mantissa: adding and taking away leaves no visible residue */
  for (size_t i = 0; i < from.count; i++) {
    if (low < time->segment[i]) {
      low = high = time->segment[i];
      sum = 0;
      inside = 0;
    }
    for (; high < time->run[i] && time->at[high] <= time->at[i] + half; high++) {
      sum += run_known_at(&from, high) ? from.at[high] : 0;
      inside += run_known_at(&from, high);
    }
    for (; time->at[low] < time->at[i] - half; low++) {
      sum -= run_known_at(&from, low) ? from.at[low] : 0;
      inside -= run_known_at(&from, low);
    }
    at[i] = inside > 0 ? (double)(sum / (long double)inside) : 0;
    known[i] = inside > 0 && isfinite(at[i]);
  }
  result.series = (struct vector){from.count, at, NULL, known, NULL};
  result.error *= 2;
  return result;
}

/* For each row the first one at the same time, and the first one at a later time. */
struct ties {
  size_t *first, *next;
};

static struct ties ties_of(struct evaluation *evaluation, const struct timebase *time)
{
  struct ties ties = {ARENA_ARRAY(evaluation->arena, time->count + 1, size_t),
                      ARENA_ARRAY(evaluation->arena, time->count + 1, size_t)};
  for (size_t i = 0; i < time->count; i++) {
    bool tied = i > time->segment[i] && time->at[i] - time->at[ties.first[i - 1]] <= RUN_TIME_SLACK;
    ties.first[i] = tied ? ties.first[i - 1] : i;
  }
  for (size_t i = time->count; i-- > 0;)
    ties.next[i] = i + 1 < time->run[i] && ties.first[i + 1] == ties.first[i] ? ties.next[i + 1] : i + 1;
  return ties;
}

/* The rows of known samples on both sides of row i, at other times; i itself where there is none near. */
static void neighbours(const struct timebase *time, const struct near *near, const struct ties *ties, size_t i,
                       size_t *low, size_t *high)
{
  size_t none = time->count, first = ties->first[i], next = ties->next[i];
  *low = first > time->segment[i] ? near->before[first - 1] : none;
  *high = next < time->run[i] ? near->after[next] : none;
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
  const struct timebase *time = run_time(evaluation);
  struct vector from = result.series;
  struct near near = near_of(evaluation, &from, time);
  struct ties ties = ties_of(evaluation, time);
  double *at = ARENA_ARRAY(evaluation->arena, from.count, double);
  uint8_t *known = ARENA_ARRAY(evaluation->arena, from.count, uint8_t);
  double shortest = INFINITY;
  for (size_t i = 0; i < from.count; i++) {
    if (!run_known_at(&from, i))
      continue;
    size_t low, high;
    neighbours(time, &near, &ties, i, &low, &high);
    double span = time->at[high] - time->at[low];
    if (low == high)
      continue;
    at[i] = (from.at[high] - from.at[low]) / span;
    known[i] = isfinite(at[i]) != 0;
    shortest = fmin(shortest, span);
  }
  result.error = isfinite(shortest) ? 2 * result.error / shortest : 0;
  result.per = result.per ? NULL : unit_find(slice_of("s"));
  if (call->args[0]->type.of.sense == SENSE_POINT && result.unit)
    result.unit = unit_difference(result.unit);
  result.series = (struct vector){from.count, at, NULL, known, NULL};
  return result;
}

struct result builtin_during(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct result result = pair[1];
  uint8_t *known = ARENA_ARRAY(evaluation->arena, result.series.count, uint8_t);
  for (size_t i = pair[0].item->from_row; i <= pair[0].item->to_row && i < result.series.count; i++)
    known[i] = run_known_at(&result.series, i);
  result.series.known = known;
  return result;
}

struct result builtin_ramp(struct evaluation *evaluation, const struct expr *call)
{
  struct result args[4];
  for (size_t i = 0; i < 4; i++)
    args[i] = evaluate(evaluation, call->args[i]);
  const struct timebase *time = run_time(evaluation);
  if (!args[0].known || !args[1].known || !args[2].known || !args[3].known)
    return run_unknown_of(evaluation, args, 4);
  if (!time)
    return run_unknown(evaluation, "log.time");
  double start = args[0].number, end = args[1].number;
  double *at = ARENA_ARRAY(evaluation->arena, time->count, double);
  for (size_t i = 0; i < time->count; i++) {
    double t = time->at[i], part = end > start ? (t - start) / (end - start) : t >= end;
    part = fmin(fmax(part, 0), 1);
    at[i] = args[2].number + part * (args[3].number - args[2].number);
  }
  struct result result = args[2];
  result.error = fmax(args[2].error, args[3].error) * 4;
  result.series = (struct vector){time->count, at, NULL, NULL, NULL};
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
  const struct timebase *time = run_time(evaluation);
  if (!seed.known)
    return seed;
  if (!time)
    return run_unknown(evaluation, "log.time");
  uint64_t start = scramble((uint64_t)(int64_t)fmin(fmax(seed.number, -1e15), 1e15));
  double *at = ARENA_ARRAY(evaluation->arena, time->count, double);
  for (size_t i = 0; i < time->count; i++)
    at[i] = (double)(scramble(start + i) >> 11) / 4503599627370496.0 - 1;
  struct result result = {.known = true};
  result.series = (struct vector){time->count, at, NULL, NULL, NULL};
  return result;
}
