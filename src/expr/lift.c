/* Functions that work sample by sample: series in, series out, or scalars, for those that also take them. Those that go
 * by time are in timeline.c and window.c. */
#include "expr/builtin.h"
#include "expr/frame.h"

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
  if (inner.series.none)
    return inner;
  double *at = run_numbers(evaluation, inner.series.count);
  for (size_t i = 0; i < inner.series.count; i++)
    at[i] = run_known_at(&inner.series, i) ? function(inner.series.at[i]) : 0;
  inner.series.at = at;
  return inner;
}

/* Bounds of their own for the samples of a series. */
static double *errors_of(struct evaluation *evaluation, const struct result *result)
{
  const struct vector *series = &result->series;
  double *errors = run_numbers(evaluation, series->count);
  for (size_t i = 0; i < series->count; i++)
    errors[i] = series->error ? series->error[i] : result->error;
  return errors;
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
  result.error = sqrt(inner.error); /* the worst case, at 0 */
  if (!call->type.series && result.number > 0)
    result.error = inner.error / result.number;
  if (call->type.series) {
    result.largest = sqrt(inner.largest);
    double *errors = inner.series.error ? errors_of(evaluation, &inner) : NULL;
    uint8_t *known = run_flags(evaluation, result.series.count);
    for (size_t i = 0; i < result.series.count; i++) {
      double error = errors ? errors[i] : inner.error;
      known[i] = run_known_at(&result.series, i) && inner.series.at[i] >= -error;
      if (errors)
        errors[i] = sqrt(error);
    }
    result.series.known = known;
    result.series.error = errors;
  }
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
  result.largest = 1;
  return result;
}

/* e^x: a rounding of x by d is one of the result by d times itself. */
struct result builtin_exp(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = map(evaluation, call, exp);
  if (!result.known)
    return result;
  result.unit = result.per = NULL;
  if (!call->type.series) {
    if (!isfinite(result.number))
      return run_unknown(evaluation, "an exponent that is not so large");
    result.error = result.number * (result.error + 4 * DBL_EPSILON);
    return result;
  }
  double *errors = errors_of(evaluation, &result);
  uint8_t *known = run_flags(evaluation, result.series.count);
  for (size_t i = 0; i < result.series.count; i++) {
    known[i] = run_known_at(&result.series, i) && isfinite(result.series.at[i]);
    errors[i] = known[i] ? result.series.at[i] * (errors[i] + 4 * DBL_EPSILON) : 0;
  }
  result.series.known = known;
  result.series.error = errors;
  result.largest = INFINITY;
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
  result.unit = result.per = NULL;
  if (!call->type.series) {
    result.error = inner.error / inner.number + 4 * DBL_EPSILON * fabs(result.number);
    return result;
  }
  double *errors = errors_of(evaluation, &inner);
  uint8_t *known = run_flags(evaluation, result.series.count);
  for (size_t i = 0; i < result.series.count; i++) {
    known[i] = run_known_at(&inner.series, i) && inner.series.at[i] > 0;
    errors[i] = known[i] ? errors[i] / inner.series.at[i] + 4 * DBL_EPSILON * fabs(result.series.at[i]) : 0;
  }
  result.series.known = known;
  result.series.error = errors;
  result.largest = INFINITY;
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
  double *at = run_numbers(evaluation, count), *errors = errors_of(evaluation, &pair[0]);
  uint8_t *known = run_flags(evaluation, count);
  for (size_t i = 0; i < count; i++) {
    double base = pair[0].series.at[i];
    at[i] = run_known_at(&pair[0].series, i) ? pow(base, exponent) : 0;
    known[i] = run_known_at(&pair[0].series, i) && isfinite(at[i]);
    errors[i] = known[i] ? fabs(at[i]) * 1e-13 + (base != 0 ? fabs(exponent * at[i] / base) * errors[i] : 0) : 0;
  }
  result.series = (struct vector){count, at, NULL, known, errors, false};
  result.largest = INFINITY;
  return result;
}

/* Base units count from absolute zero already: only the unit to show changes. */
struct result builtin_absolute(struct evaluation *evaluation, const struct expr *call)
{
  struct result result = evaluate(evaluation, call->args[0]);
  result.unit = unit_find(slice_of("K"));
  return result;
}

/* Sample by sample; unknown where any of them is. */
static struct result pick_rows(struct evaluation *evaluation, const struct expr *call, const struct result *results,
                               bool largest)
{
  struct result best = results[0];
  struct vector sofar = run_vector(evaluation, &best, call->args[0], call->type.rows);
  best.largest = call->args[0]->type.series ? best.largest : fabs(best.number);
  for (size_t k = 1; k < call->count; k++) {
    struct vector other = run_vector(evaluation, &results[k], call->args[k], call->type.rows);
    double *at = run_numbers(evaluation, sofar.count),
           *error = sofar.error || other.error ? run_numbers(evaluation, sofar.count) : NULL;
    uint8_t *known = run_flags(evaluation, sofar.count);
    for (size_t i = 0; i < sofar.count; i++) {
      bool newer = (other.at[i] > sofar.at[i]) == largest;
      at[i] = newer ? other.at[i] : sofar.at[i];
      known[i] = run_known_at(&sofar, i) && run_known_at(&other, i);
      if (error)
        error[i] = fmax(sofar.error ? sofar.error[i] : best.error, other.error ? other.error[i] : results[k].error);
    }
    sofar = (struct vector){sofar.count, at, NULL, known, error, false};
    best.error = fmax(best.error, results[k].error);
    best.largest = fmax(best.largest, call->args[k]->type.series ? results[k].largest : fabs(results[k].number));
  }
  best.series = sofar;
  return best;
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
  for (size_t i = 1; i < call->count && !call->type.series; i++) {
    if (largest ? results[i].number > best.number : results[i].number < best.number)
      best = results[i];
  }
  return !call->type.series ? best : pick_rows(evaluation, call, results, largest);
}

/* Of the values of a curve, table or list. */
static struct result extreme_of(const struct result *whole, bool largest)
{
  const struct value *value = whole->value;
  const double *at = value->as.list.items;
  size_t count = value->as.list.count;
  const struct unit *unit = value->as.list.unit;
  if (value->kind == VALUE_CURVE) {
    at = value->as.curve.value;
    count = value->as.curve.x.count;
    unit = value->as.curve.unit;
  } else if (value->kind == VALUE_TABLE) {
    at = value->as.table.value;
    count = value->as.table.x.count * value->as.table.y.count;
    unit = value->as.table.unit;
  }
  struct result result = {.known = count > 0, .unit = unit};
  for (size_t i = 0; i < count; i++) {
    result.error = fmax(result.error, 4 * DBL_EPSILON * (fabs(at[i]) + (unit ? fabs(unit->offset) : 0)));
    if (i == 0 || (largest ? at[i] > result.number : at[i] < result.number))
      result.number = at[i];
  }
  return result;
}

static struct result smallest_or_largest(struct evaluation *evaluation, const struct expr *call, bool largest)
{
  if (call->count > 1)
    return pick(evaluation, call, largest);
  if (call->args[0]->type.series)
    return run_reduce(evaluation, call);
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!inner.known)
    return inner;
  struct result result = extreme_of(&inner, largest);
  return result.known ? result : run_no_sample(evaluation, call);
}

struct result builtin_min(struct evaluation *evaluation, const struct expr *call)
{
  return smallest_or_largest(evaluation, call, false);
}
struct result builtin_max(struct evaluation *evaluation, const struct expr *call)
{
  return smallest_or_largest(evaluation, call, true);
}

static struct result if_rows(struct evaluation *evaluation, const struct expr *call, const struct result *condition)
{
  struct result sides[2] = {evaluate(evaluation, call->args[1]), evaluate(evaluation, call->args[2])};
  if (!sides[0].known || !sides[1].known)
    return run_unknown_of(evaluation, sides, 2);
  struct result result = sides[0];
  struct vector a = run_vector(evaluation, &sides[0], call->args[1], call->type.rows),
                b = run_vector(evaluation, &sides[1], call->args[2], call->type.rows);
  size_t count = condition->series.count;
  double *at = a.at ? run_numbers(evaluation, count) : NULL,
         *error = a.error || b.error ? run_numbers(evaluation, count) : NULL;
  uint8_t *on = a.at ? NULL : run_flags(evaluation, count), *known = run_flags(evaluation, count);
  for (size_t i = 0; i < count; i++) {
    bool first = condition->series.on[i];
    const struct vector *from = first ? &a : &b;
    known[i] = run_known_at(&condition->series, i) && run_known_at(from, i);
    if (at && from->at)
      at[i] = from->at[i];
    if (on && from->on)
      on[i] = from->on[i];
    if (error)
      error[i] = from->error ? from->error[i] : sides[first ? 0 : 1].error;
  }
  result.series = (struct vector){count, at, on, known, error, false};
  result.error = fmax(sides[0].error, sides[1].error);
  result.largest = 0;
  for (size_t k = 0; k < 2; k++)
    result.largest = fmax(result.largest, call->args[k + 1]->type.series ? sides[k].largest : fabs(sides[k].number));
  return result;
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
    if (result.known && call->type.series && !taken->type.series) {
      result.largest = fabs(result.number);
      result.series = run_vector(evaluation, &result, taken, call->type.rows);
    }
    return result;
  }
  return if_rows(evaluation, call, &condition);
}

struct result builtin_known(struct evaluation *evaluation, const struct expr *call)
{
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!call->type.series)
    return run_condition(inner.known);
  size_t count = run_rows(evaluation, call->type.rows);
  uint8_t *on = run_flags(evaluation, count);
  for (size_t i = 0; i < count; i++)
    on[i] = inner.known && run_known_at(&inner.series, i);
  struct result result = {.known = true};
  result.series = (struct vector){.count = count, .on = on};
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

/* Is the condition true at some row at hand? */
static bool holds_somewhere(const struct vector *condition)
{
  if (condition->count == 0 || memchr(condition->on, 1, condition->count) == NULL)
    return false;
  uint8_t holds = condition->known ? 0 : 1;
  for (size_t i = 0; condition->known && i < condition->count; i++)
    holds |= condition->known[i] & condition->on[i];
  return holds != 0;
}

static void and_flags(uint8_t *restrict flags, const uint8_t *restrict other, size_t count)
{
  for (size_t i = 0; i < count; i++)
    flags[i] &= other[i];
}

/* where(s, c) keeps the samples where c is true; blank(c, s) those where it is not. Where none is kept, the series is
 * not computed: most conditions hold for a small part of a log. */
static struct result mask(struct evaluation *evaluation, const struct expr *call, size_t mask_arg, bool keep)
{
  struct result pair[2];
  pair[mask_arg] = evaluate(evaluation, call->args[mask_arg]);
  struct vector condition = {0};
  if (pair[mask_arg].known)
    condition = run_vector(evaluation, &pair[mask_arg], call->args[mask_arg], call->type.rows);
  bool none = pair[mask_arg].known && keep && !holds_somewhere(&condition);
  const struct expr *kept = call->args[1 - mask_arg];
  pair[1 - mask_arg] = none ? run_traits(evaluation, kept) : evaluate(evaluation, kept);
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct result result = pair[1 - mask_arg];
  size_t count = run_rows(evaluation, call->type.rows);
  if (none || result.series.none) {
    const double *error = result.series.error;
    result.series = run_none(evaluation, count, kept->type.kind == TYPE_SWITCH);
    result.series.error = error ? result.series.at : NULL;
    return result;
  }
  uint8_t *restrict known = run_flags(evaluation, count);
  const uint8_t *restrict on = condition.on;
  uint8_t other = keep ? 0 : 1;
  for (size_t i = 0; i < count; i++)
    known[i] = on[i] ^ other;
  if (condition.known && keep)
    and_flags(known, condition.known, count);
  for (size_t i = 0; condition.known && !keep && i < count; i++) /* what is not known keeps the sample */
    known[i] |= condition.known[i] ^ 1;
  if (result.series.known)
    and_flags(known, result.series.known, count);
  result.series.known = known;
  result.series.none = memchr(known, 1, count) == NULL;
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
