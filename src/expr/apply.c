/* Curves and tables as functions, of numbers or of series: what the file would have commanded. Reading order:
 * run_apply.
 */
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>

static bool apply_at(const struct value *value, double x, double y, double *out)
{
  return value->kind == VALUE_CURVE ? curve_at(&value->as.curve, x, out) : table_at(&value->as.table, x, y, out);
}

/* The steepest slope between neighbours `step` apart along an axis; points that nearly meet are a jump, no slope. */
static double steepest(const struct axis *axis, const double *value, size_t lines, size_t line_step, size_t step)
{
  double best = 0, range = axis->at[axis->count - 1] - axis->at[0];
  for (size_t i = 0; i + 1 < axis->count; i++) {
    double run = axis->at[i + 1] - axis->at[i];
    for (size_t line = 0; run > 1e-9 * range && line < lines; line++) {
      const double *at = &value[line * line_step + i * step];
      best = fmax(best, fabs(at[step] - at[0]) / run);
    }
  }
  return best;
}

static double axis_error(const struct axis *axis)
{
  return 4 * DBL_EPSILON * (fmax(fabs(axis->at[0]), fabs(axis->at[axis->count - 1])) + fabs(axis->unit->offset));
}

static const struct steepness *steepness_of(struct evaluation *evaluation, const struct value *value)
{
  for (size_t i = 0; i < RUN_STEEPNESS; i++) {
    if (evaluation->steepness[i].of == value)
      return &evaluation->steepness[i];
  }
  struct steepness *out = &evaluation->steepness[evaluation->steepness_next];
  evaluation->steepness_next = (evaluation->steepness_next + 1) % RUN_STEEPNESS;
  *out = (struct steepness){.of = value};
  bool curve = value->kind == VALUE_CURVE;
  const struct axis *x = curve ? &value->as.curve.x : &value->as.table.x, *y = curve ? NULL : &value->as.table.y;
  const double *at = curve ? value->as.curve.value : value->as.table.value;
  size_t rows = y ? y->count : 1;
  for (size_t i = 0; i < x->count * rows; i++)
    out->largest = fmax(out->largest, fabs(at[i]));
  out->along_x = steepest(x, at, rows, x->count, 1);
  out->x_error = axis_error(x);
  out->along_y = y ? steepest(y, at, x->count, 1, x->count) : 0;
  out->y_error = y ? axis_error(y) : 0;
  return out;
}

static bool increases(const struct value *value)
{
  if (value->kind == VALUE_CURVE)
    return value->as.curve.x.increasing;
  return value->as.table.x.increasing && value->as.table.y.increasing;
}

static double error_of(struct evaluation *evaluation, const struct value *value, double x_error, double y_error)
{
  const struct steepness *steepness = steepness_of(evaluation, value);
  const struct unit *unit = value->kind == VALUE_CURVE ? value->as.curve.unit : value->as.table.unit;
  return 16 * DBL_EPSILON * (steepness->largest + fabs(unit->offset)) +
         steepness->along_x * (x_error + steepness->x_error) + steepness->along_y * (y_error + steepness->y_error);
}

static struct result apply_series(struct evaluation *evaluation, const struct expr *expr,
                                  const struct result *arguments, const struct value *value, struct result result)
{
  size_t count = run_rows(evaluation, expr->type.rows), last = expr->count - 1;
  struct vector x = run_vector(evaluation, &arguments[1], expr->args[1], expr->type.rows),
                y = run_vector(evaluation, &arguments[last], expr->args[last], expr->type.rows);
  result.largest = steepness_of(evaluation, value)->largest;
  if (x.none || y.none) {
    result.series = run_none(evaluation, count, false);
    return result;
  }
  double *at = run_numbers(evaluation, count);
  double *error = x.error || y.error ? run_numbers(evaluation, count) : NULL;
  uint8_t *known = run_flags(evaluation, count);
  if (value->kind == VALUE_CURVE)
    curve_rows(&value->as.curve, x.at, count, at, known);
  else
    table_rows(&value->as.table, x.at, y.at, count, at, known);
  for (size_t i = 0; (x.known || y.known) && i < count; i++)
    known[i] = known[i] && run_known_at(&x, i) && run_known_at(&y, i);
  for (size_t i = 0; error && i < count; i++)
    error[i] = error_of(evaluation, value, x.error ? x.error[i] : arguments[1].error,
                        y.error ? y.error[i] : arguments[last].error);
  result.series = (struct vector){count, at, NULL, known, error, false};
  return result;
}

struct result run_apply(struct evaluation *evaluation, const struct expr *expr)
{
  struct result results[3] = {{0}};
  bool known = true;
  size_t last = expr->count - 1; /* of a curve the same as 1 */
  for (size_t i = 0; i < expr->count; i++) {
    results[i] = evaluate(evaluation, expr->args[i]);
    known = known && results[i].known;
  }
  if (!known)
    return run_unknown_of(evaluation, results, expr->count);
  const struct value *value = results[0].value;
  if (!value)
    return results[0];
  if (!increases(value)) {
    const struct name *name = expr_first_name(expr->args[0]);
    return run_unknown(evaluation, arena_print(evaluation->arena, "%.*s with axes that increase",
                                               SLICE_ARG(name ? name->full : slice_of("a table"))));
  }
  struct result result = {.known = true, .error = error_of(evaluation, value, results[1].error, results[last].error)};
  result.unit = value->kind == VALUE_CURVE ? value->as.curve.unit : value->as.table.unit;
  if (expr->type.series)
    return apply_series(evaluation, expr, results, value, result);
  if (!apply_at(value, results[1].number, results[last].number, &result.number))
    return run_unknown(evaluation, "a result that is not too large for a number");
  return result;
}
