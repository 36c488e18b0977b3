/* Series to single values: statistics, quantiles, regressions, times. Sums are compensated (Neumaier) and variances
 * two-pass: log values such as 10000000.2 +- 0.1 leave nothing of a variance that is taken as a difference of squares.
 */
#include "base/limits.h"
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>

size_t run_samples(struct evaluation *evaluation, const struct vector *series, const struct vector *other, double **at,
                   double **other_at)
{
  *at = ARENA_ARRAY(evaluation->arena, series->count + 1, double);
  if (other)
    *other_at = ARENA_ARRAY(evaluation->arena, series->count + 1, double);
  size_t count = 0;
  for (size_t i = 0; i < series->count; i++) {
    if (!run_known_at(series, i) || (other && !run_known_at(other, i)))
      continue;
    (*at)[count] = series->at[i];
    if (other)
      (*other_at)[count] = other->at[i];
    count++;
  }
  return count;
}

double run_select(double *at, size_t count, size_t k)
{
  size_t low = 0, high = count - 1;
  while (low < high) {
    /* median of three keeps sorted and constant input from being the worst case */
    size_t middle = low + (high - low) / 2;
    double a = at[low], b = at[middle], c = at[high];
    double pivot = fmax(fmin(a, b), fmin(fmax(a, b), c));
    size_t i = low, j = high;
    for (;;) {
      while (at[i] < pivot)
        i++;
      while (at[j] > pivot)
        j--;
      if (i >= j)
        break;
      double swap = at[i];
      at[i++] = at[j];
      at[j--] = swap;
    }
    /* everything up to j is <= pivot, everything from j + 1 is >= pivot */
    if (at[j] > pivot)
      j--;
    if (k <= j)
      high = j;
    else
      low = j + 1;
  }
  return at[k];
}

static double median_of(double *at, size_t count)
{
  double upper = run_select(at, count, count / 2);
  if (count % 2 == 1)
    return upper;
  return (run_select(at, count, count / 2 - 1) + upper) / 2;
}

static double sum_of(const double *at, size_t count)
{
  double sum = 0, lost = 0;
  for (size_t i = 0; i < count; i++) {
    double next = sum + at[i];
    lost += fabs(sum) >= fabs(at[i]) ? (sum - next) + at[i] : (at[i] - next) + sum;
    sum = next;
  }
  return sum + lost;
}

static double mean_of(const double *at, size_t count)
{
  return sum_of(at, count) / (double)count;
}

/* Sum of (a - mean a)(b - mean b), corrected for what the rounded means leave. */
static double scatter(const double *a, double a_mean, const double *b, double b_mean, size_t count)
{
  double sum = 0, lost = 0, a_rest = 0, b_rest = 0;
  for (size_t i = 0; i < count; i++) {
    double da = a[i] - a_mean, db = b[i] - b_mean, term = da * db, next = sum + term;
    lost += fabs(sum) >= fabs(term) ? (sum - next) + term : (term - next) + sum;
    sum = next;
    a_rest += da;
    b_rest += db;
  }
  return sum + lost - a_rest * b_rest / (double)count;
}

/* The known samples of a one-argument reduction; false: *result is what to return. */
static bool gather(struct evaluation *evaluation, const struct expr *call, size_t least, double **at, size_t *count,
                   struct result *result)
{
  *result = evaluate(evaluation, call->args[0]);
  if (!result->known)
    return false;
  *count = run_samples(evaluation, &result->series, NULL, at, NULL);
  if (*count >= least)
    return true;
  *result = run_no_sample(evaluation, call);
  return false;
}

static struct result too_large(struct evaluation *evaluation)
{
  return run_unknown(evaluation, "a result that is not too large for a number");
}

static struct result reduced(struct evaluation *evaluation, struct result series, double value)
{
  if (!isfinite(value))
    return too_large(evaluation);
  series.number = value;
  series.error += fabs(value) * 4 * DBL_EPSILON;
  return series;
}

struct result builtin_mean(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double *at;
  size_t count;
  if (!gather(evaluation, call, 1, &at, &count, &result))
    return result;
  return reduced(evaluation, result, mean_of(at, count));
}

struct result builtin_median(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double *at;
  size_t count;
  if (!gather(evaluation, call, 1, &at, &count, &result))
    return result;
  return reduced(evaluation, result, median_of(at, count));
}

struct result builtin_first(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double *at;
  size_t count;
  if (!gather(evaluation, call, 1, &at, &count, &result))
    return result;
  return reduced(evaluation, result, at[0]);
}

struct result builtin_last(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double *at;
  size_t count;
  if (!gather(evaluation, call, 1, &at, &count, &result))
    return result;
  return reduced(evaluation, result, at[count - 1]);
}

static struct result spread(struct evaluation *evaluation, struct result result, const struct expr *call, double value)
{
  if (call->args[0]->type.of.sense == SENSE_POINT && result.unit)
    result.unit = unit_difference(result.unit);
  result.error *= 2;
  return reduced(evaluation, result, value);
}

struct result builtin_sd(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double *at;
  size_t count;
  if (!gather(evaluation, call, 2, &at, &count, &result))
    return result;
  double mean = mean_of(at, count);
  return spread(evaluation, result, call, sqrt(fmax(scatter(at, mean, at, mean, count), 0) / (double)(count - 1)));
}

struct result builtin_range(struct evaluation *evaluation, const struct expr *call)
{
  struct result result;
  double *at;
  size_t count;
  if (!gather(evaluation, call, 1, &at, &count, &result))
    return result;
  double low = at[0], high = at[0];
  for (size_t i = 1; i < count; i++) {
    low = fmin(low, at[i]);
    high = fmax(high, at[i]);
  }
  return spread(evaluation, result, call, high - low);
}

struct result builtin_percentile(struct evaluation *evaluation, const struct expr *call)
{
  struct result part = evaluate(evaluation, call->args[1]), result;
  double *at;
  size_t count;
  if (!gather(evaluation, call, 1, &at, &count, &result))
    return result;
  if (!part.known)
    return part;
  if (part.number < 0 || part.number > 1)
    return run_unknown(evaluation, "a percentage between 0 and 100");
  double rank = part.number * (double)(count - 1);
  size_t below = (size_t)floor(rank);
  double low = run_select(at, count, below), high = below + 1 < count ? run_select(at, count, below + 1) : low;
  return reduced(evaluation, result, low + (rank - (double)below) * (high - low));
}

struct result builtin_count(struct evaluation *evaluation, const struct expr *call)
{
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!inner.known)
    return inner;
  const struct type *type = &call->args[0]->type;
  if (type->kind == TYPE_COLLECTION)
    return run_number((double)inner.collection->count, 0, NULL);
  if (type->kind == TYPE_NUMBERS)
    return run_number((double)inner.value->as.list.count, 0, NULL);
  size_t count = 0;
  for (size_t i = 0; i < inner.series.count; i++)
    count += run_known_at(&inner.series, i) && (!inner.series.on || inner.series.on[i]);
  return run_number((double)count, 0, NULL);
}

/* Over a series of conditions: how many known samples, how many of them true. */
static struct result tally(struct evaluation *evaluation, const struct expr *call, size_t *known, size_t *on)
{
  struct result inner = evaluate(evaluation, call->args[0]);
  *known = *on = 0;
  for (size_t i = 0; inner.known && i < inner.series.count; i++) {
    *known += run_known_at(&inner.series, i);
    *on += run_known_at(&inner.series, i) && inner.series.on[i];
  }
  if (inner.known && *known == 0)
    return run_no_sample(evaluation, call);
  return inner;
}

struct result builtin_any(struct evaluation *evaluation, const struct expr *call)
{
  size_t known, on;
  struct result inner = tally(evaluation, call, &known, &on);
  if (!inner.known || (inner.missing && on == 0))
    return (struct result){.missing = inner.missing};
  return run_condition(on > 0);
}

struct result builtin_all(struct evaluation *evaluation, const struct expr *call)
{
  size_t known, on;
  struct result inner = tally(evaluation, call, &known, &on);
  if (!inner.known || (inner.missing && on == known))
    return (struct result){.missing = inner.missing};
  return run_condition(on == known);
}

/* Time for which the condition is true (`only_true`) or at least known; each sample stands until the next one. */
static double time_of(const struct timebase *time, const struct vector *series, bool only_true)
{
  double sum = 0, lost = 0;
  for (size_t i = 0; i + 1 < series->count; i++) {
    if (time->run[i] == i + 1 || !run_known_at(series, i) || (only_true && !series->on[i]))
      continue;
    double step = time->at[i + 1] - time->at[i] - lost, next = sum + step;
    lost = (next - sum) - step;
    sum = next;
  }
  return sum;
}

struct result builtin_duration(struct evaluation *evaluation, const struct expr *call)
{
  struct result inner = evaluate(evaluation, call->args[0]);
  const struct timebase *time = run_time(evaluation);
  if (!inner.known || !time)
    return inner.known ? run_unknown(evaluation, "log.time") : inner;
  return run_number(time_of(time, &inner.series, true), RUN_TIME_SLACK, unit_find(slice_of("s")));
}

struct result builtin_share(struct evaluation *evaluation, const struct expr *call)
{
  struct result inner = evaluate(evaluation, call->args[0]);
  const struct timebase *time = run_time(evaluation);
  if (!inner.known || !time)
    return inner.known ? run_unknown(evaluation, "log.time") : inner;
  double known = time_of(time, &inner.series, false);
  if (known <= 0)
    return run_no_sample(evaluation, call);
  return run_number(time_of(time, &inner.series, true) / known, 2 * RUN_TIME_SLACK / known, unit_find(slice_of("%")));
}

/* Pairs of known samples of y (args[0]) and x (args[1]). */
struct fit {
  size_t count;
  double *y, *x;
  double y_error, x_error; /* rounding of a sample */
  double y_mean, x_mean, sxx, sxy, syy;
};

static bool gather_pairs(struct evaluation *evaluation, const struct expr *call, struct fit *fit, struct result *result)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  *result = pair[0];
  if (!pair[0].known || !pair[1].known) {
    *result = run_unknown_of(evaluation, pair, 2);
    return false;
  }
  fit->y_error = pair[0].error;
  fit->x_error = pair[1].error;
  fit->count = run_samples(evaluation, &pair[0].series, &pair[1].series, &fit->y, &fit->x);
  if (fit->count >= 2)
    return true;
  *result = run_no_sample(evaluation, call);
  return false;
}

/* Samples that differ by no more than their rounding are at one place. */
static bool is_spread(double scatter, size_t count, double error)
{
  return scatter > (double)count * error * error;
}

static bool least_squares(struct evaluation *evaluation, const struct expr *call, struct fit *fit,
                          struct result *result)
{
  if (!gather_pairs(evaluation, call, fit, result))
    return false;
  fit->y_mean = mean_of(fit->y, fit->count);
  fit->x_mean = mean_of(fit->x, fit->count);
  fit->sxx = scatter(fit->x, fit->x_mean, fit->x, fit->x_mean, fit->count);
  fit->sxy = scatter(fit->x, fit->x_mean, fit->y, fit->y_mean, fit->count);
  fit->syy = scatter(fit->y, fit->y_mean, fit->y, fit->y_mean, fit->count);
  if (!isfinite(fit->sxx) || !isfinite(fit->sxy) || !isfinite(fit->syy)) {
    *result = too_large(evaluation);
    return false;
  }
  if (is_spread(fit->sxx, fit->count, fit->x_error))
    return true;
  *result = run_unknown(evaluation, "samples at more than one value to fit a line through");
  return false;
}

const struct unit *run_slope_unit(struct evaluation *evaluation, const struct unit *y, const struct unit *x)
{
  if (!y || !x || dimension_equal(y->dimension, x->dimension))
    return NULL;
  const char *why = NULL;
  const char *name = arena_print(evaluation->arena, "%s/%s", unit_difference(y)->name, unit_difference(x)->name);
  const struct unit *unit = unit_read(evaluation->arena, slice_of(name), &why);
  struct dimension wanted = dimension_times(y->dimension, x->dimension, -1);
  return unit && dimension_equal(unit->dimension, wanted) ? unit : NULL;
}

static struct result slope_result(struct evaluation *evaluation, const struct expr *call, double value, double error)
{
  if (!isfinite(value))
    return too_large(evaluation);
  struct result y = evaluate(evaluation, call->args[0]), x = evaluate(evaluation, call->args[1]);
  const struct unit *unit = y.per || x.per ? NULL : run_slope_unit(evaluation, y.unit, x.unit);
  return run_number(value, error + fabs(value) * 1e-12, unit);
}

struct result builtin_slope(struct evaluation *evaluation, const struct expr *call)
{
  struct fit fit;
  struct result result;
  if (!least_squares(evaluation, call, &fit, &result))
    return result;
  /* Each sample off by its rounding moves the slope by at most so much (Cauchy and Schwarz). */
  double slope = fit.sxy / fit.sxx, reach = 2 * sqrt((double)fit.count / fit.sxx);
  return slope_result(evaluation, call, slope, reach * (fit.y_error + fabs(slope) * fit.x_error));
}

struct result builtin_intercept(struct evaluation *evaluation, const struct expr *call)
{
  struct fit fit;
  struct result result;
  if (!least_squares(evaluation, call, &fit, &result))
    return result;
  return reduced(evaluation, result, fit.y_mean - fit.sxy / fit.sxx * fit.x_mean);
}

struct result builtin_correlation(struct evaluation *evaluation, const struct expr *call)
{
  struct fit fit;
  struct result result;
  if (!least_squares(evaluation, call, &fit, &result))
    return result;
  if (!is_spread(fit.syy, fit.count, fit.y_error))
    return run_unknown(evaluation, "samples at more than one value to correlate");
  double value = fit.sxy / sqrt(fit.sxx * fit.syy);
  return run_number(fmax(-1, fmin(1, value)), 1e-12, NULL);
}

/* Theil-Sen over all pairs of at most LIMIT_ROBUST_SAMPLES samples, taken evenly. */
static bool theil_sen(struct evaluation *evaluation, const struct expr *call, struct fit *fit, double *slope,
                      struct result *result)
{
  if (!gather_pairs(evaluation, call, fit, result))
    return false;
  if (fit->count > LIMIT_ROBUST_SAMPLES) {
    for (size_t i = 0; i < LIMIT_ROBUST_SAMPLES; i++) {
      size_t from = i * fit->count / LIMIT_ROBUST_SAMPLES;
      fit->x[i] = fit->x[from];
      fit->y[i] = fit->y[from];
    }
    fit->count = LIMIT_ROBUST_SAMPLES;
  }
  double *slopes = ARENA_ARRAY(evaluation->arena, fit->count * (fit->count - 1) / 2, double);
  size_t count = 0;
  for (size_t i = 0; i < fit->count; i++) {
    for (size_t k = i + 1; k < fit->count; k++) {
      if (fabs(fit->x[k] - fit->x[i]) > fit->x_error)
        slopes[count++] = (fit->y[k] - fit->y[i]) / (fit->x[k] - fit->x[i]);
    }
  }
  if (count == 0) {
    *result = run_unknown(evaluation, "samples at more than one value to fit a line through");
    return false;
  }
  *slope = median_of(slopes, count);
  return true;
}

struct result builtin_robust_slope(struct evaluation *evaluation, const struct expr *call)
{
  struct fit fit;
  struct result result;
  double slope;
  if (!theil_sen(evaluation, call, &fit, &slope, &result))
    return result;
  return slope_result(evaluation, call, slope, 0);
}

struct result builtin_robust_intercept(struct evaluation *evaluation, const struct expr *call)
{
  struct fit fit;
  struct result result;
  double slope;
  if (!theil_sen(evaluation, call, &fit, &slope, &result))
    return result;
  return reduced(evaluation, result, median_of(fit.y, fit.count) - slope * median_of(fit.x, fit.count));
}
