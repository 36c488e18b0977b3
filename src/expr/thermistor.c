/* The curve of a thermistor through the points that its maker publishes: the Steinhart-Hart equation
 * 1/T = A + B ln R + C (ln R)^3 (Steinhart and Hart, Deep-Sea Research 15, 1968), exact for three points, least squares
 * on 1/T for more; for two the beta equation, which lacks the last term. Reading order: struct fit, fit_of, fit_at,
 * then the functions of the language, each with its check before it.
 *
 * Solved in u = (ln R - m) / h, which goes from -1 to 1 over the points, where the three terms span the same as 1, u
 * and w = (3 m u^2 + h u^3) / s: as they stand they are nearly parallel. */
#include "expr/arg.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>

enum { TERMS = 3, SHOWN_POINTS = 64 };

/* A term counts as the sum of others when less than a thousandth of it is not: some of the points are then as good as
 * one. */
#define OWN_PART 1e-6

struct points {
  struct vector temperature, resistance;
};

struct fit {
  struct points points;
  size_t count; /* of points */
  size_t terms; /* 2: beta equation */
  double middle, half, scale;
  double factor[TERMS][TERMS]; /* Cholesky, of the normal equations */
  double at[TERMS];            /* coefficients of 1, u, w */
  double coldest, hottest;     /* of the points, K */
  double rounding;             /* of 1/T at a point, 1/K */
  double worst;                /* how far a point is off the curve, K */
  const struct unit *unit;
};

static bool point_at(const struct points *points, size_t i, double *ln, double *temperature)
{
  const struct vector *t = &points->temperature, *r = &points->resistance;
  if (!run_known_at(t, i) || !run_known_at(r, i) || !(r->at[i] > 0) || !(t->at[i] > 0))
    return false;
  *ln = log(r->at[i]);
  *temperature = t->at[i];
  return true;
}

static void terms_at(const struct fit *fit, double ln, double out[TERMS])
{
  double u = (ln - fit->middle) / fit->half;
  out[0] = 1;
  out[1] = u;
  out[2] = u * u * (3 * fit->middle + fit->half * u) / fit->scale;
}

/* Of 1/T by ln R. */
static double steepness(const struct fit *fit, double ln)
{
  double u = (ln - fit->middle) / fit->half;
  return (fit->at[1] + fit->at[2] * u * (6 * fit->middle + 3 * fit->half * u) / fit->scale) / fit->half;
}

static double inverse_at(const struct fit *fit, double ln)
{
  double term[TERMS];
  terms_at(fit, ln, term);
  return fit->at[0] + fit->at[1] * term[1] + fit->at[2] * term[2];
}

/* Solves the normal equations in place. */
static void solve(const struct fit *fit, double x[TERMS])
{
  for (size_t i = 0; i < fit->terms; i++) {
    for (size_t k = 0; k < i; k++)
      x[i] -= fit->factor[i][k] * x[k];
    x[i] /= fit->factor[i][i];
  }
  for (size_t i = fit->terms; i-- > 0;) {
    for (size_t k = i + 1; k < fit->terms; k++)
      x[i] -= fit->factor[k][i] * x[k];
    x[i] /= fit->factor[i][i];
  }
}

/* false when the points do not tell the terms apart. */
static bool factor(struct fit *fit)
{
  double ln, temperature, term[TERMS] = {0};
  for (size_t n = 0; n < fit->points.temperature.count; n++) {
    if (!point_at(&fit->points, n, &ln, &temperature))
      continue;
    terms_at(fit, ln, term);
    for (size_t i = 0; i < fit->terms; i++) {
      for (size_t k = 0; k <= i; k++)
        fit->factor[i][k] += term[i] * term[k];
    }
  }
  for (size_t i = 0; i < fit->terms; i++) {
    double whole = fit->factor[i][i];
    for (size_t k = 0; k < i; k++) {
      for (size_t j = 0; j < k; j++)
        fit->factor[i][k] -= fit->factor[i][j] * fit->factor[k][j];
      fit->factor[i][k] /= fit->factor[k][k];
      fit->factor[i][i] -= fit->factor[i][k] * fit->factor[i][k];
    }
    if (!(fit->factor[i][i] > OWN_PART * whole))
      return false;
    fit->factor[i][i] = sqrt(fit->factor[i][i]);
  }
  return true;
}

/* Twice: what the first solution leaves is solved once more, so that the square of the condition does not show. */
static void coefficients(struct fit *fit)
{
  double ln, temperature, term[TERMS] = {0};
  for (int round = 0; round < 2; round++) {
    double step[TERMS] = {0};
    for (size_t n = 0; n < fit->points.temperature.count; n++) {
      if (!point_at(&fit->points, n, &ln, &temperature))
        continue;
      terms_at(fit, ln, term);
      for (size_t i = 0; i < fit->terms; i++)
        step[i] += term[i] * (1 / temperature - inverse_at(fit, ln));
    }
    solve(fit, step);
    for (size_t i = 0; i < fit->terms; i++)
      fit->at[i] += step[i];
  }
}

/* The ends of the points, and the rounding of what was read. */
static void survey(struct fit *fit, double *low, double *high, double t_error, double r_error)
{
  double ln, temperature;
  *low = INFINITY;
  *high = -INFINITY;
  fit->coldest = INFINITY;
  for (size_t n = 0; n < fit->points.temperature.count; n++) {
    if (!point_at(&fit->points, n, &ln, &temperature))
      continue;
    fit->count++;
    *low = fmin(*low, ln);
    *high = fmax(*high, ln);
    fit->coldest = fmin(fit->coldest, temperature);
    fit->hottest = fmax(fit->hottest, temperature);
    fit->rounding = fmax(fit->rounding, t_error / (temperature * temperature));
    r_error = fmax(r_error, DBL_EPSILON * exp(ln));
  }
  fit->rounding += 8 * DBL_EPSILON / fit->coldest + r_error / exp(*low) / fit->coldest;
}

static struct result unfit(struct evaluation *evaluation, const struct expr *call, const char *what)
{
  const struct name *name = expr_first_name(call->args[1]);
  return run_unknown(evaluation, arena_print(evaluation->arena, "%.*s %s",
                                             SLICE_ARG(name ? name->full : slice_of("resistances")), what));
}

static double error_of(const struct result *series)
{
  double error = series->error;
  for (size_t i = 0; series->series.error && i < series->series.count; i++)
    error = fmax(error, series->series.error[i]);
  return error;
}

/* Of the first two arguments; false: *result says what is missing. */
static bool fit_of(struct evaluation *evaluation, const struct expr *call, struct fit *fit, struct result *result)
{
  struct result args[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  double low, high;
  *fit = (struct fit){.count = 0};
  if (!args[0].known || !args[1].known) {
    *result = run_unknown_of(evaluation, args, 2);
    return false;
  }
  fit->points = (struct points){args[0].series, args[1].series};
  fit->unit = args[0].unit;
  survey(fit, &low, &high, error_of(&args[0]), error_of(&args[1]));
  fit->terms = fit->count < TERMS ? 2 : TERMS;
  fit->middle = low / 2 + high / 2;
  fit->half = high / 2 - low / 2;
  fit->scale = 3 * fabs(fit->middle) + fit->half;
  if (fit->count < 2 || !(fit->half > 0) || !factor(fit)) {
    *result = unfit(evaluation, call, "at temperatures far enough apart to fit a curve through");
    return false;
  }
  coefficients(fit);
  if (!(steepness(fit, low) > 0) || !(steepness(fit, high) > 0)) {
    *result = unfit(evaluation, call, "that falls as the temperature rises");
    return false;
  }
  for (size_t n = 0; n < fit->points.temperature.count; n++) {
    double ln, temperature;
    if (point_at(&fit->points, n, &ln, &temperature))
      fit->worst = fmax(fit->worst, fabs(1 / inverse_at(fit, ln) - temperature));
  }
  return true;
}

/* How far 1/T may be off for rounding: the value there is a weighted sum of those of the points. */
static double doubt_at(const struct fit *fit, double at)
{
  double weight[TERMS] = {0}, ln, temperature, term[TERMS] = {0}, sum = 1;
  terms_at(fit, at, weight);
  solve(fit, weight);
  for (size_t n = 0; n < fit->points.temperature.count; n++) {
    if (!point_at(&fit->points, n, &ln, &temperature))
      continue;
    terms_at(fit, ln, term);
    sum += fabs(term[0] * weight[0] + term[1] * weight[1] + (fit->terms == TERMS ? term[2] * weight[2] : 0));
  }
  return sum * fit->rounding;
}

/* The temperature at a resistance, K; false where the curve has none, or is further than `reach` from all points. */
static bool fit_at(const struct fit *fit, double resistance, double r_error, double reach, double *temperature,
                   double *error)
{
  double ln = log(resistance), slope, inverse;
  if (!(resistance > 0))
    return false;
  slope = steepness(fit, ln);
  inverse = inverse_at(fit, ln);
  if (!(slope > 0) || !(inverse > 0))
    return false;
  *temperature = 1 / inverse;
  *error = (doubt_at(fit, ln) + slope * r_error / resistance) * *temperature * *temperature;
  return isfinite(*temperature) && isfinite(*error) && *temperature <= fit->hottest + reach + *error &&
         *temperature >= fit->coldest - reach - *error;
}

static struct measure measure_of(const char *unit)
{
  const struct unit *of = unit_find(slice_of(unit));
  return (struct measure){of->dimension, of->sense};
}

static bool check_points_of_sensor(struct checker *checker, struct expr *call)
{
  const struct type *t = &call->args[0]->type, *r = &call->args[1]->type;
  return arg_wants(checker, call->args[0],
                   arg_is_number(call->args[0]) && t->series && t->rows != 0 &&
                       measure_equal(t->of, measure_of("degC")),
                   "a reading's column of temperatures") &&
         arg_wants(checker, call->args[1],
                   arg_is_number(call->args[1]) && r->series && r->rows != 0 && measure_equal(r->of, measure_of("Ohm")),
                   "a reading's column of resistances");
}

bool check_thermistor(struct checker *checker, struct expr *call)
{
  call->type = type_number(call->args[0]->type.of, false);
  return check_points_of_sensor(checker, call) &&
         arg_scalar(checker, call, 2, measure_of("Ohm"), "a single resistance") &&
         (call->count < 4 || arg_scalar(checker, call, 3, measure_of("degC_diff"), "a temperature difference"));
}

struct result builtin_thermistor(struct evaluation *evaluation, const struct expr *call)
{
  struct result args[2] = {evaluate(evaluation, call->args[2]), {.known = true, .number = INFINITY}}, result;
  struct fit fit;
  double temperature, error;
  if (call->count > 3)
    args[1] = evaluate(evaluation, call->args[3]);
  if (!args[0].known || !args[1].known)
    return run_unknown_of(evaluation, args, 2);
  if (!fit_of(evaluation, call, &fit, &result))
    return result;
  if (!fit_at(&fit, args[0].number, args[0].error, args[1].number + args[1].error, &temperature, &error))
    return unfit(evaluation, call, "further out");
  return run_number(temperature, error, fit.unit);
}

bool check_thermistor_misfit(struct checker *checker, struct expr *call)
{
  call->type = type_number(measure_difference(call->args[0]->type.of), false);
  return check_points_of_sensor(checker, call);
}

struct result builtin_thermistor_misfit(struct evaluation *evaluation, const struct expr *call)
{
  struct fit fit;
  struct result result;
  if (!fit_of(evaluation, call, &fit, &result))
    return result;
  double error = 2 * fit.rounding * (double)fit.count * fit.hottest * fit.hottest;
  return run_number(fit.worst, error, fit.unit ? unit_difference(fit.unit) : NULL);
}

bool check_thermistor_equation(struct checker *checker, struct expr *call)
{
  call->type = (struct type){.kind = TYPE_TEXT};
  return check_points_of_sensor(checker, call);
}

/* Back from u: w is ((ln R)^3 - 3 m^2 ln R + 2 m^3) / (h^2 s). */
struct result builtin_thermistor_equation(struct evaluation *evaluation, const struct expr *call)
{
  struct fit fit;
  struct result result;
  if (!fit_of(evaluation, call, &fit, &result))
    return result;
  double m = fit.middle, c = fit.at[2] / (fit.half * fit.half * fit.scale), slope = fit.at[1] / fit.half;
  double b = slope - 3 * m * m * c, a = fit.at[0] - slope * m + 2 * m * m * m * c;
  const char *text = arena_print(evaluation->arena, "1/T = %.10g + %.10g ln R + %.10g (ln R)^3", a, b, c);
  if (fit.terms < TERMS) {
    const struct unit *ohm = unit_find(slice_of("Ohm"));
    const char *cold = quantity_print(evaluation->arena, (struct quantity){fit.coldest, fit.unit}, NULL, 0);
    const char *from = quantity_print(evaluation->arena, (struct quantity){exp(m + fit.half), ohm}, NULL, 0);
    text = arena_print(evaluation->arena, "beta = %.10g K from %s at %s", 1 / slope, from, cold);
  }
  return run_text(slice_of(text));
}

bool check_thermistor_curve(struct checker *checker, struct expr *call)
{
  const struct type *curve = &call->args[2]->type;
  bool volts = call->count > 4;
  call->type = (struct type){.kind = TYPE_TEXT};
  if (!check_points_of_sensor(checker, call) ||
      !arg_wants(checker, call->args[2],
                 curve->kind == TYPE_CURVE && measure_equal(curve->of, measure_of("degC")) &&
                     measure_equal(curve->x, measure_of(volts ? "V" : "Ohm")),
                 volts ? "a curve from voltage to temperature" : "a curve from resistance to temperature") ||
      !arg_scalar(checker, call, 3, measure_of("degC_diff"), "a temperature difference"))
    return false;
  if (call->count == 5)
    return check_refuse(checker, call, "a curve against volts needs the pull-up resistance and the supply");
  return !volts || (arg_scalar(checker, call, 4, measure_of("Ohm"), "a resistance") &&
                    arg_scalar(checker, call, 5, measure_of("V"), "a voltage"));
}

/* A list of the curve's points, with the temperatures that the sensor has there. */
struct result builtin_thermistor_curve(struct evaluation *evaluation, const struct expr *call)
{
  struct arena *arena = evaluation->arena;
  struct result args[4] = {{0}}, result;
  struct fit fit;
  size_t shown = 0, more = 0;
  for (size_t i = 2; i < call->count; i++)
    args[i - 2] = evaluate(evaluation, call->args[i]);
  for (size_t i = 2; i < call->count; i++) {
    if (!args[i - 2].known)
      return run_unknown_of(evaluation, args, call->count - 2);
  }
  if (!fit_of(evaluation, call, &fit, &result))
    return result;
  if (!args[0].value)
    return args[0];
  const struct curve *curve = &args[0].value->as.curve;
  const char *text = "";
  for (size_t i = 0; i < curve->x.count; i++) {
    double x = curve->x.at[i], temperature, error;
    double resistance = call->count > 4 ? args[2].number * x / (args[3].number - x) : x;
    if (!fit_at(&fit, resistance, 0, args[1].number, &temperature, &error))
      continue;
    if (shown == SHOWN_POINTS) {
      more++;
      continue;
    }
    const char *there = quantity_print(arena, (struct quantity){x, curve->x.unit}, NULL, 0);
    const char *value = quantity_print(arena, (struct quantity){temperature, curve->unit}, NULL, 0.1);
    text = arena_print(arena, "%s%s%s at %s", text, shown++ > 0 ? ", " : "", value, there);
  }
  if (more > 0)
    text = arena_print(arena, "%s, and %zu more", text, more);
  return shown > 0 ? run_text(slice_of(text)) : unfit(evaluation, call, "further out");
}
