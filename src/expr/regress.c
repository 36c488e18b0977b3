/* Lines through samples of two series: least squares, of sums that round once, and robust ones; correlation. Reading
 * order: least_squares, then theil_sen. */
#include "base/limits.h"
#include "expr/sweep.h"

#include <float.h>
#include <math.h>

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

static struct result slope_result(struct evaluation *evaluation, const struct gather *gather, double value,
                                  double error)
{
  if (!isfinite(value))
    return reduce_too_large(evaluation);
  const struct result *y = &gather->result, *x = &gather->other;
  const struct unit *unit = y->per || x->per ? NULL : run_slope_unit(evaluation, y->unit, x->unit);
  return run_number(value, error + fabs(value) * 1e-12, unit);
}

struct line {           /* least squares */
  struct exact xx, xy;  /* n times the scatters */
  double sxx, sxy, syy; /* scatters */
  double y_error, x_error;
};

/* Samples that differ by no more than their rounding are at one place. */
static bool is_spread(double scatter, size_t count, double error)
{
  return scatter > (double)count * error * error;
}

static bool least_squares(struct evaluation *evaluation, const struct gather *gather, struct line *line,
                          struct result *result)
{
  double n = (double)gather->known;
  struct exact yy = reduce_scatter(gather, SUM_Y, SUM_Y, SUM_YY);
  line->xx = reduce_scatter(gather, SUM_X, SUM_X, SUM_XX);
  line->xy = reduce_scatter(gather, SUM_X, SUM_Y, SUM_XY);
  line->sxx = exact_round(&line->xx) / n;
  line->sxy = exact_round(&line->xy) / n;
  line->syy = exact_round(&yy) / n;
  line->y_error = fmax(gather->result.error, gather->error);
  line->x_error = fmax(gather->other.error, gather->other_error);
  if (!isfinite(line->sxx) || !isfinite(line->sxy) || !isfinite(line->syy)) {
    *result = reduce_too_large(evaluation);
    return false;
  }
  if (is_spread(line->sxx, gather->known, line->x_error))
    return true;
  *result = run_unknown(evaluation, "samples at more than one value to fit a line through");
  return false;
}

struct result reduce_slope(struct evaluation *evaluation, struct gather *gather)
{
  struct line line;
  struct result result;
  if (!least_squares(evaluation, gather, &line, &result))
    return result;
  /* Each sample off by its rounding moves the slope by at most so much (Cauchy and Schwarz). */
  double value = exact_divide(&line.xy, &line.xx), reach = 2 * sqrt((double)gather->known / line.sxx);
  return slope_result(evaluation, gather, value, reach * (line.y_error + fabs(value) * line.x_error));
}

/* (sum y sum xx - sum x sum xy) / n sxx */
struct result reduce_intercept(struct evaluation *evaluation, struct gather *gather)
{
  struct line line;
  struct result result;
  if (!least_squares(evaluation, gather, &line, &result))
    return result;
  struct exact above = {{0}, 0, false};
  exact_add_exact_product(&above, &gather->sums[SUM_Y], &gather->sums[SUM_XX], 1);
  exact_add_exact_product(&above, &gather->sums[SUM_X], &gather->sums[SUM_XY], -1);
  return reduce_number(evaluation, gather, exact_divide(&above, &line.xx));
}

struct result reduce_correlation(struct evaluation *evaluation, struct gather *gather)
{
  struct line line;
  struct result result;
  if (!least_squares(evaluation, gather, &line, &result))
    return result;
  if (!is_spread(line.syy, gather->known, line.y_error))
    return run_unknown(evaluation, "samples at more than one value to correlate");
  double value = line.sxy / sqrt(line.sxx) / sqrt(line.syy);
  return run_number(fmax(-1, fmin(1, value)), 1e-12, NULL);
}

static double median_of(double *at, size_t count)
{
  double upper = run_select(at, count, count / 2);
  if (count % 2 == 1)
    return upper;
  return (run_select(at, count, count / 2 - 1) + upper) / 2;
}

struct robust {
  double *y, *x;
  size_t count;
  double slope;
};

/* Theil-Sen over all pairs of at most LIMIT_ROBUST_SAMPLES samples, taken evenly. */
static bool theil_sen(struct evaluation *evaluation, const struct gather *gather, struct robust *robust,
                      struct result *result)
{
  const struct pairs *pairs = &gather->pairs;
  size_t n = pairs->count < LIMIT_ROBUST_SAMPLES ? pairs->count : LIMIT_ROBUST_SAMPLES, count = 0;
  struct arena *scratch = arena_new(); /* a megabyte */
  double *slopes = ARENA_ARRAY(scratch, n * n / 2 + 1, double);
  double x_error = fmax(gather->other.error, gather->other_error);
  *robust = (struct robust){ARENA_ARRAY(evaluation->arena, n + 1, double),
                            ARENA_ARRAY(evaluation->arena, n + 1, double), n, 0};
  for (size_t i = 0; i < n; i++) {
    robust->y[i] = pairs->items[i * pairs->count / n].y;
    robust->x[i] = pairs->items[i * pairs->count / n].x;
  }
  for (size_t i = 0; i < n; i++) {
    for (size_t k = i + 1; k < n; k++) {
      if (fabs(robust->x[k] - robust->x[i]) > x_error)
        slopes[count++] = (robust->y[k] - robust->y[i]) / (robust->x[k] - robust->x[i]);
    }
  }
  if (count == 0)
    *result = run_unknown(evaluation, "samples at more than one value to fit a line through");
  else
    robust->slope = median_of(slopes, count);
  arena_free(scratch);
  return count > 0;
}

struct result reduce_robust_slope(struct evaluation *evaluation, struct gather *gather)
{
  struct robust robust;
  struct result result;
  if (!theil_sen(evaluation, gather, &robust, &result))
    return result;
  return slope_result(evaluation, gather, robust.slope, 0);
}

struct result reduce_robust_intercept(struct evaluation *evaluation, struct gather *gather)
{
  struct robust robust;
  struct result result;
  if (!theil_sen(evaluation, gather, &robust, &result))
    return result;
  return reduce_number(evaluation, gather,
                       median_of(robust.y, robust.count) - robust.slope * median_of(robust.x, robust.count));
}
