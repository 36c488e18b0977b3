/* Functions that work sample by sample or look at neighbouring samples: series in, series out (or scalars, for those
 * that also take them). Time is that of the log; nothing reaches across a gap. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>

static int compare_doubles(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
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
  double *steps = ARENA_ARRAY(evaluation->arena, count + 1, double);
  size_t step_count = 0;
  for (size_t i = 1; i < count; i++) {
    if (series->at[i] > series->at[i - 1])
      steps[step_count++] = series->at[i] - series->at[i - 1];
  }
  qsort(steps, step_count, sizeof *steps, compare_doubles);
  double gap = fmax(RUN_GAP_SECONDS, step_count ? 5 * steps[step_count / 2] : 0);
  size_t *segment = ARENA_ARRAY(evaluation->arena, count + 1, size_t),
         *run = ARENA_ARRAY(evaluation->arena, count + 1, size_t);
  for (size_t i = 0, start = 0; i < count; i++) {
    if (i > 0 && (series->at[i] < series->at[i - 1] || series->at[i] - series->at[i - 1] > gap))
      start = i;
    segment[i] = start;
  }
  for (size_t i = count; i-- > 0;)
    run[i] = i + 1 < count && segment[i + 1] == segment[i] ? run[i + 1] : i + 1;
  struct timebase *time = ARENA_NEW(evaluation->arena, struct timebase);
  *time = (struct timebase){count, series->at, segment, run};
  evaluation->timebase = time;
  return time;
}

static bool known_at(const struct vector *series, size_t i)
{
  return !series->known || series->known[i];
}

static struct result map(struct evaluation *evaluation, const struct expr *call, double (*function)(double))
{
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!inner.known)
    return inner;
  if (!call->type.series) {
    inner.number = function(inner.number);
    return inner;
  }
  double *at = ARENA_ARRAY(evaluation->arena, inner.series.count, double);
  for (size_t i = 0; i < inner.series.count; i++)
    at[i] = known_at(&inner.series, i) ? function(inner.series.at[i]) : 0;
  inner.series.at = at;
  return inner;
}

struct result builtin_abs(struct evaluation *evaluation, const struct expr *call)
{
  return map(evaluation, call, fabs);
}

static double root(double x)
{
  return x > 0 ? sqrt(x) : 0;
}

struct result builtin_sqrt(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = map(evaluation, call, root);
  if (!result.known)
    return result;
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!call->type.series && inner.number < -inner.error)
    return run_unknown(evaluation, "a square root of something that is not below 0");
  if (call->type.series) {
    uint8_t *known = ARENA_ARRAY(evaluation->arena, result.series.count, uint8_t);
    for (size_t i = 0; i < result.series.count; i++)
      known[i] = known_at(&result.series, i) && inner.series.at[i] >= -inner.error;
    result.series.known = known;
  }
  result.error = sqrt(inner.error); /* the worst case, at 0 */
  if (!call->type.series && result.number > 0)
    result.error = inner.error / result.number;
  if (!dimension_is_none(call->type.of.dimension))
    result.unit = NULL;
  result.per = NULL;
  return result;
}

struct result builtin_sin(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = map(evaluation, call, sin);
  result.unit = NULL;
  result.per = NULL;
  result.error += DBL_EPSILON;
  return result;
}

/* e^x: a rounding of x by d is one of the result by d times itself. */
struct result builtin_exp(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = map(evaluation, call, exp);
  if (!result.known)
    return result;
  double largest = fabs(result.number);
  for (size_t i = 0; call->type.series && i < result.series.count; i++)
    largest = fmax(largest, fabs(result.series.at[i]));
  if (!isfinite(largest))
    return run_unknown(evaluation, "an exponent that is not so large");
  result.error = largest * (result.error + 4 * DBL_EPSILON);
  result.unit = result.per = NULL;
  return result;
}

struct result builtin_ln(struct evaluation *evaluation, const struct expr *call)
{
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!inner.known)
    return inner;
  if (!call->type.series && inner.number <= 0)
    return run_unknown(evaluation, "a logarithm of something above 0");
  struct result result = map(evaluation, call, log);
  if (call->type.series) {
    uint8_t *known = ARENA_ARRAY(evaluation->arena, result.series.count, uint8_t);
    for (size_t i = 0; i < result.series.count; i++)
      known[i] = known_at(&inner.series, i) && inner.series.at[i] > 0;
    result.series.known = known;
  } else {
    result.error = inner.error / inner.number + 4 * DBL_EPSILON * fabs(result.number);
  }
  result.unit = result.per = NULL;
  return result;
}

struct result builtin_power(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct result result = pair[0];
  double exponent = pair[1].number;
  result.unit = result.per = NULL;
  if (!call->type.series) {
    result.number = pow(pair[0].number, exponent);
    if (!isfinite(result.number))
      return run_unknown(evaluation, "a power that is a number");
    result.error = fabs(result.number) * 1e-13 +
                   (pair[0].number != 0 ? fabs(exponent * result.number / pair[0].number) * pair[0].error : 0);
    return result;
  }
  size_t count = pair[0].series.count;
  double *at = ARENA_ARRAY(evaluation->arena, count, double);
  uint8_t *known = ARENA_ARRAY(evaluation->arena, count, uint8_t);
  double largest = 0;
  for (size_t i = 0; i < count; i++) {
    at[i] = known_at(&pair[0].series, i) ? pow(pair[0].series.at[i], exponent) : 0;
    known[i] = known_at(&pair[0].series, i) && isfinite(at[i]);
    largest = known[i] ? fmax(largest, fabs(at[i])) : largest;
  }
  result.series = (struct vector){count, at, NULL, known};
  result.error = largest * 1e-12;
  return result;
}

/* Base units count from absolute zero already: only the unit to show changes. */
struct result builtin_absolute(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = evaluate(evaluation, call->args[0]);
  result.unit = unit_find(slice_of("K"));
  return result;
}

/* min or max of several values. */
static struct result pick(struct evaluation *evaluation, const struct expr *call, bool largest)
{
  struct result results[16];
  for (size_t i = 0; i < call->count; i++)
    results[i] = evaluate(evaluation, call->args[i]);
  for (size_t i = 0; i < call->count; i++) {
    if (!results[i].known)
      return run_unknown_of(evaluation, results, call->count);
  }
  struct result best = results[0];
  if (!call->type.series) {
    for (size_t i = 1; i < call->count; i++) {
      if (largest ? results[i].number > best.number : results[i].number < best.number)
        best = results[i];
    }
    return best;
  }
  struct vector sofar = run_vector(evaluation, &results[0], call->args[0], call->type.rows);
  for (size_t k = 1; k < call->count; k++) {
    struct vector other = run_vector(evaluation, &results[k], call->args[k], call->type.rows);
    double *at = ARENA_ARRAY(evaluation->arena, sofar.count, double);
    uint8_t *known = ARENA_ARRAY(evaluation->arena, sofar.count, uint8_t);
    for (size_t i = 0; i < sofar.count; i++) {
      at[i] = (other.at[i] > sofar.at[i]) == largest ? other.at[i] : sofar.at[i];
      known[i] = known_at(&sofar, i) && known_at(&other, i);
    }
    sofar.at = at;
    sofar.known = known;
    best.error = fmax(best.error, results[k].error);
  }
  best.series = sofar;
  return best;
}

/* Values of a curve, table or list, as if they were samples. */
static struct result as_samples(const struct result *whole)
{
  const struct value *value = whole->value;
  struct vector series = {value->as.list.count, value->as.list.items, NULL, NULL};
  const struct unit *unit = value->as.list.unit;
  if (value->kind == VALUE_CURVE) {
    series = (struct vector){value->as.curve.x.count, value->as.curve.value, NULL, NULL};
    unit = value->as.curve.unit;
  } else if (value->kind == VALUE_TABLE) {
    series = (struct vector){value->as.table.x.count * value->as.table.y.count, value->as.table.value, NULL, NULL};
    unit = value->as.table.unit;
  }
  struct result result = {.known = true, .unit = unit, .series = series};
  for (size_t i = 0; i < series.count; i++)
    result.error = fmax(result.error, 4 * DBL_EPSILON * (fabs(series.at[i]) + (unit ? fabs(unit->offset) : 0)));
  return result;
}

static struct result smallest_or_largest(struct evaluation *evaluation, const struct expr *call, bool largest)
{
  if (call->count > 1)
    return pick(evaluation, call, largest);
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!inner.known)
    return inner;
  if (!call->args[0]->type.series)
    inner = as_samples(&inner);
  bool any = false;
  double best = 0;
  for (size_t i = 0; i < inner.series.count; i++) {
    if (!known_at(&inner.series, i))
      continue;
    double value = inner.series.at[i];
    if (!any || (largest ? value > best : value < best))
      best = value;
    any = true;
  }
  if (!any)
    return run_no_sample(evaluation, call);
  inner.number = best;
  return inner;
}

struct result builtin_min(struct evaluation *evaluation, const struct expr *call)
{
  return smallest_or_largest(evaluation, call, false);
}
struct result builtin_max(struct evaluation *evaluation, const struct expr *call)
{
  return smallest_or_largest(evaluation, call, true);
}

struct result builtin_if(struct evaluation *evaluation, const struct expr *call)
{
  struct result condition = evaluate(evaluation, call->args[0]);
  if (!condition.known)
    return condition;
  bool by_row = call->args[0]->type.series;
  if (!by_row) {
    const struct expr *taken = condition.on ? call->args[1] : call->args[2];
    struct result result = evaluate(evaluation, taken);
    if (result.known && call->type.series)
      result.series = run_vector(evaluation, &result, taken, call->type.rows);
    return result;
  }
  struct result sides[2] = {evaluate(evaluation, call->args[1]), evaluate(evaluation, call->args[2])};
  if (!sides[0].known || !sides[1].known)
    return run_unknown_of(evaluation, sides, 2);
  struct result result = sides[0];
  struct vector a = run_vector(evaluation, &sides[0], call->args[1], call->type.rows),
                b = run_vector(evaluation, &sides[1], call->args[2], call->type.rows);
  size_t count = condition.series.count;
  double *at = a.at ? ARENA_ARRAY(evaluation->arena, count, double) : NULL;
  uint8_t *on = a.at ? NULL : ARENA_ARRAY(evaluation->arena, count, uint8_t),
          *known = ARENA_ARRAY(evaluation->arena, count, uint8_t);
  for (size_t i = 0; i < count; i++) {
    const struct vector *from = condition.series.on[i] ? &a : &b;
    known[i] = known_at(&condition.series, i) && known_at(from, i);
    if (at)
      at[i] = from->at[i];
    else
      on[i] = from->on[i];
  }
  result.series = (struct vector){count, at, on, known};
  result.error = fmax(sides[0].error, sides[1].error);
  return result;
}

struct result builtin_known(struct evaluation *evaluation, const struct expr *call)
{
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!call->type.series)
    return run_condition(inner.known);
  size_t count = run_rows(evaluation, call->type.rows);
  uint8_t *on = ARENA_ARRAY(evaluation->arena, count, uint8_t);
  for (size_t i = 0; i < count; i++)
    on[i] = inner.known && known_at(&inner.series, i);
  struct result result = {.known = true};
  result.series = (struct vector){count, NULL, on, NULL};
  return result;
}

static char lower(char c)
{
  return c >= 'A' && c <= 'Z' ? (char)(c + 32) : c;
}

struct result builtin_contains(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct slice text = pair[0].text, part = pair[1].text;
  for (size_t i = 0; i + part.size <= text.size; i++) {
    size_t k = 0;
    while (k < part.size && lower(text.at[i + k]) == lower(part.at[k]))
      k++;
    if (k == part.size)
      return run_condition(true);
  }
  return run_condition(false);
}

/* where(s, c) keeps the samples where c is true; blank(c, s) those where it is not. */
static struct result mask(struct evaluation *evaluation, const struct expr *call, size_t mask_arg, bool keep)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct vector condition = run_vector(evaluation, &pair[mask_arg], call->args[mask_arg], call->type.rows);
  struct result result = pair[1 - mask_arg];
  uint8_t *known = ARENA_ARRAY(evaluation->arena, result.series.count, uint8_t);
  for (size_t i = 0; i < result.series.count; i++) {
    bool on = known_at(&condition, i) && condition.on[i];
    known[i] = known_at(&result.series, i) && on == keep;
  }
  result.series.known = known;
  return result;
}

struct result builtin_where(struct evaluation *evaluation, const struct expr *call)
{
  return mask(evaluation, call, 1, true);
}
struct result builtin_blank(struct evaluation *evaluation, const struct expr *call)
{
  return mask(evaluation, call, 0, false);
}

struct result builtin_during(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct result result = pair[1];
  uint8_t *known = ARENA_ARRAY(evaluation->arena, result.series.count, uint8_t);
  for (size_t i = pair[0].item->from_row; i <= pair[0].item->to_row && i < result.series.count; i++)
    known[i] = known_at(&result.series, i);
  result.series.known = known;
  return result;
}

/* Value at time t within rows [from, to) by straight line; conditions hold until the next sample. */
static bool sample_at(const struct vector *series, const struct timebase *time, size_t before, size_t to, double t,
                      double *at, uint8_t *on)
{
  bool exact = time->at[before] == t;
  if (series->on) {
    *on = series->on[before];
    return known_at(series, before);
  }
  if (exact || before + 1 >= to) {
    *at = series->at[before];
    return exact && known_at(series, before);
  }
  double span = time->at[before + 1] - time->at[before];
  *at = series->at[before] +
        (series->at[before + 1] - series->at[before]) * (span > 0 ? (t - time->at[before]) / span : 0);
  return known_at(series, before) && known_at(series, before + 1);
}

struct result builtin_delay(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  const struct timebase *time = run_time(evaluation);
  struct result result = pair[0];
  struct vector from = result.series;
  if (pair[1].number < 0)
    return run_unknown(evaluation, "a delay that is not below 0");
  double *at = from.at ? ARENA_ARRAY(evaluation->arena, from.count, double) : NULL;
  uint8_t *on = from.at ? NULL : ARENA_ARRAY(evaluation->arena, from.count, uint8_t),
          *known = ARENA_ARRAY(evaluation->arena, from.count, uint8_t);
  size_t before = 0;
  for (size_t i = 0; i < from.count; i++) {
    double t = time->at[i] - pair[1].number;
    if (before < time->segment[i])
      before = time->segment[i];
    if (time->at[before] > t)
      continue;
    while (before < i && time->at[before + 1] <= t)
      before++;
    double value = 0;
    uint8_t state = 0;
    known[i] = sample_at(&from, time, before, time->run[i], t, &value, &state);
    if (at)
      at[i] = value;
    else
      on[i] = state;
  }
  result.series = (struct vector){from.count, at, on, known};
  return result;
}

struct result builtin_at(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  const struct timebase *time = run_time(evaluation);
  double t = pair[1].number;
  for (size_t i = 0; i < pair[0].series.count; i++) {
    bool within = time->at[i] == t || (i + 1 < time->run[i] && time->at[i] <= t && t < time->at[i + 1]);
    uint8_t on = 0;
    if (within && sample_at(&pair[0].series, time, i, time->run[i], t, &pair[0].number, &on))
      return pair[0];
  }
  return run_no_sample(evaluation, call);
}

struct result builtin_smooth(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  const struct timebase *time = run_time(evaluation);
  struct result result = pair[0];
  struct vector from = result.series;
  double half = pair[1].number / 2;
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
      sum += known_at(&from, high) ? from.at[high] : 0;
      inside += known_at(&from, high);
    }
    for (; time->at[low] < time->at[i] - half; low++) {
      sum -= known_at(&from, low) ? from.at[low] : 0;
      inside -= known_at(&from, low);
    }
    known[i] = inside > 0;
    at[i] = inside > 0 ? (double)(sum / (long double)inside) : 0;
  }
  result.series = (struct vector){from.count, at, NULL, known};
  result.error *= 2;
  return result;
}

struct result builtin_rate(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = evaluate(evaluation, call->args[0]);
  if (!result.known)
    return result;
  const struct timebase *time = run_time(evaluation);
  struct vector from = result.series;
  double *at = ARENA_ARRAY(evaluation->arena, from.count, double);
  uint8_t *known = ARENA_ARRAY(evaluation->arena, from.count, uint8_t);
  double shortest = INFINITY;
  for (size_t i = 0; i < from.count; i++) {
    size_t low = i > time->segment[i] ? i - 1 : i, high = i + 1 < time->run[i] ? i + 1 : i;
    double span = time->at[high] - time->at[low];
    if (span <= 0 || !known_at(&from, i) || !known_at(&from, low) || !known_at(&from, high))
      continue;
    known[i] = 1;
    at[i] = (from.at[high] - from.at[low]) / span;
    shortest = fmin(shortest, span);
  }
  result.error = isfinite(shortest) ? 2 * result.error / shortest : 0;
  result.per = result.per ? NULL : unit_find(slice_of("s"));
  if (call->args[0]->type.of.sense == SENSE_POINT && result.unit)
    result.unit = unit_difference(result.unit);
  result.series = (struct vector){from.count, at, NULL, known};
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
  result.series = (struct vector){time->count, at, NULL, NULL};
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
  result.series = (struct vector){time->count, at, NULL, NULL};
  return result;
}
