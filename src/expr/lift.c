/* Functions that work sample by sample: series in, series out, or scalars, for those that also take them. Those that go
 * by time are in timeline.c and window.c. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>

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
    at[i] = run_known_at(&inner.series, i) ? function(inner.series.at[i]) : 0;
  inner.series.at = at;
  inner.series.error = function == fabs ? inner.series.error : NULL;
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
      known[i] = run_known_at(&result.series, i) && inner.series.at[i] >= -inner.error;
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
      known[i] = run_known_at(&inner.series, i) && inner.series.at[i] > 0;
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
    at[i] = run_known_at(&pair[0].series, i) ? pow(pair[0].series.at[i], exponent) : 0;
    known[i] = run_known_at(&pair[0].series, i) && isfinite(at[i]);
    largest = known[i] ? fmax(largest, fabs(at[i])) : largest;
  }
  result.series = (struct vector){count, at, NULL, known, NULL};
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
  struct result results[16] = {{0}};
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
      known[i] = run_known_at(&sofar, i) && run_known_at(&other, i);
    }
    sofar.at = at;
    sofar.known = known;
    sofar.error = NULL;
    best.error = fmax(best.error, results[k].error);
  }
  best.series = sofar;
  return best;
}

/* Values of a curve, table or list, as if they were samples. */
static struct result as_samples(const struct result *whole)
{
  const struct value *value = whole->value;
  struct vector series = {value->as.list.count, value->as.list.items, NULL, NULL, NULL};
  const struct unit *unit = value->as.list.unit;
  if (value->kind == VALUE_CURVE) {
    series = (struct vector){value->as.curve.x.count, value->as.curve.value, NULL, NULL, NULL};
    unit = value->as.curve.unit;
  } else if (value->kind == VALUE_TABLE) {
    series =
        (struct vector){value->as.table.x.count * value->as.table.y.count, value->as.table.value, NULL, NULL, NULL};
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
    if (!run_known_at(&inner.series, i))
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
    known[i] = run_known_at(&condition.series, i) && run_known_at(from, i);
    if (at && from->at)
      at[i] = from->at[i];
    if (on && from->on)
      on[i] = from->on[i];
  }
  result.series = (struct vector){count, at, on, known, NULL};
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
    on[i] = inner.known && run_known_at(&inner.series, i);
  struct result result = {.known = true};
  result.series = (struct vector){count, NULL, on, NULL, NULL};
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
    bool on = run_known_at(&condition, i) && condition.on[i];
    known[i] = run_known_at(&result.series, i) && on == keep;
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
