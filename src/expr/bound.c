/* highest() and lowest(): proved bounds of what an expression can come to while its variables run over a box. A sum of
 * tables, curves and variables is bounded exactly (bound_sum.c). What is not a sum (products, min, max, abs of
 * something that varies) is bounded by interval arithmetic, which is safe but may be wide.
 *
 * Reading order: builtin_highest, solve, gather, bound_tree. */
#include "expr/bound.h"

#include "expr/builtin.h"

#include <float.h>
#include <math.h>

bool bound_give_up(struct box *box, struct result unknown)
{
  if (!box->failed)
    box->unknown = unknown;
  box->failed = true;
  return false;
}

unsigned bound_uses(const struct box *box, const struct expr *expr)
{
  if (expr->op == EXPR_VARIABLE) {
    for (size_t v = 0; v < box->variable_count; v++) {
      if (slice_equal(box->variables[v].expr->text, expr->text))
        return 1u << v;
    }
    return 0;
  }
  unsigned uses = 0;
  for (size_t i = 0; i < expr->count; i++)
    uses |= bound_uses(box, expr->args[i]);
  return uses;
}

/* Finds the variables of a tree and their ranges. */
static bool gather(struct box *box, const struct expr *expr)
{
  if (expr->op != EXPR_VARIABLE) {
    for (size_t i = 0; i < expr->count; i++) {
      if (!gather(box, expr->args[i]))
        return false;
    }
    return true;
  }
  if (bound_uses(box, expr) != 0)
    return true;
  struct result ends[2] = {evaluate(box->evaluation, expr->args[0]), evaluate(box->evaluation, expr->args[1])};
  if (!ends[0].known || !ends[1].known)
    return bound_give_up(box, run_unknown_of(box->evaluation, ends, 2));
  if (ends[0].number > ends[1].number)
    return bound_give_up(box, run_unknown(box->evaluation, arena_print(box->evaluation->arena,
                                                                       "a range of '%.*s' that does not run backwards",
                                                                       SLICE_ARG(expr->text))));
  if (box->variable_count == BOUND_VARIABLES) /* those of a bound within a bound are among them */
    return bound_give_up(box, run_unknown(box->evaluation, "a bound of at most 7 variables"));
  struct variable *variable = &box->variables[box->variable_count++];
  *variable = (struct variable){expr, ends[0].number, ends[1].number, ends[0].unit, 0, NULL};
  return true;
}

static double unit_error(const struct unit *unit, double value)
{
  return 4 * DBL_EPSILON * (fabs(value) + (unit ? fabs(unit->offset) : 0));
}

static void take_corner(struct extremes *out, const struct corner *from, bool high)
{
  if (high)
    out->at_high = *from;
  else
    out->at_low = *from;
}

/* min(...) or max(...): the bounds of the arguments, bound by bound. */
static bool pick_bound(struct box *box, const struct expr *expr, bool largest, struct extremes *out)
{
  for (size_t i = 0; i < expr->count; i++) {
    struct extremes part = {0};
    if (!bound_tree(box, expr->args[i], &part))
      return false;
    if (i == 0) {
      *out = part;
      continue;
    }
    if (largest ? part.low > out->low : part.low < out->low) {
      out->low = part.low;
      take_corner(out, &part.at_low, false);
    }
    if (largest ? part.high > out->high : part.high < out->high) {
      out->high = part.high;
      take_corner(out, &part.at_high, true);
    }
  }
  return true;
}

static bool product_bound(struct box *box, const struct expr *expr, struct extremes *out)
{
  struct extremes a = {0}, b = {0};
  if (!bound_tree(box, expr->args[0], &a) || !bound_tree(box, expr->args[1], &b))
    return false;
  if (expr->op == EXPR_DIVIDE) {
    if (b.low <= 0 && b.high >= 0)
      return bound_give_up(box, run_unknown(box->evaluation, "a divisor that cannot be 0"));
    b = (struct extremes){1 / b.high, 1 / b.low, b.at_high, b.at_low};
  }
  const double left[2] = {a.low, a.high}, right[2] = {b.low, b.high};
  const struct corner *left_at[2] = {&a.at_low, &a.at_high}, *right_at[2] = {&b.at_low, &b.at_high};
  out->low = INFINITY;
  out->high = -INFINITY;
  for (size_t i = 0; i < 4; i++) {
    double product = left[i / 2] * right[i % 2];
    struct corner corner = *left_at[i / 2];
    for (size_t v = 0; v < BOUND_VARIABLES; v++) {
      if (!corner.has[v] && right_at[i % 2]->has[v]) {
        corner.has[v] = true;
        corner.at[v] = right_at[i % 2]->at[v];
      }
    }
    if (product < out->low)
      out->at_low = corner;
    if (product > out->high)
      out->at_high = corner;
    out->low = fmin(out->low, product);
    out->high = fmax(out->high, product);
  }
  box->error += 16 * DBL_EPSILON * fmax(fabs(out->low), fabs(out->high));
  return true;
}

static bool size_bound(struct box *box, const struct expr *expr, struct extremes *out)
{
  struct extremes inner = {0};
  if (!bound_tree(box, expr->args[0], &inner))
    return false;
  bool low_larger = fabs(inner.low) > fabs(inner.high);
  out->high = low_larger ? fabs(inner.low) : fabs(inner.high);
  out->at_high = low_larger ? inner.at_low : inner.at_high;
  out->low = inner.low <= 0 && inner.high >= 0 ? 0 : fmin(fabs(inner.low), fabs(inner.high));
  out->at_low = low_larger ? inner.at_high : inner.at_low;
  return true;
}

bool bound_tree(struct box *box, const struct expr *expr, struct extremes *out)
{
  bool varies = bound_uses(box, expr) != 0;
  bool sums =
      !varies || bound_is_leaf(expr) || expr->op == EXPR_ADD || expr->op == EXPR_SUBTRACT || expr->op == EXPR_NEGATE;
  bool product = expr->op == EXPR_MULTIPLY || expr->op == EXPR_DIVIDE;
  if (product && varies)
    sums = bound_uses(box, expr->args[1]) == 0 || (expr->op == EXPR_MULTIPLY && bound_uses(box, expr->args[0]) == 0);
  if (sums)
    return bound_sum(box, expr, out);
  if (product)
    return product_bound(box, expr, out);
  if (expr->op == EXPR_CALL && expr->count > 1 && slice_is(expr->text, "min"))
    return pick_bound(box, expr, false, out);
  if (expr->op == EXPR_CALL && expr->count > 1 && slice_is(expr->text, "max"))
    return pick_bound(box, expr, true, out);
  if (expr->op == EXPR_CALL && slice_is(expr->text, "abs"))
    return size_bound(box, expr, out);
  return bound_give_up(box, run_unknown(box->evaluation, "an expression of tables, curves, + - * / min max abs"));
}

static bool solve(struct evaluation *evaluation, const struct expr *call, struct box *box, struct extremes *extremes)
{
  *box = (struct box){.evaluation = evaluation};
  *extremes = (struct extremes){0};
  return gather(box, call->args[0]) && bound_tree(box, call->args[0], extremes);
}

static struct result bound_result(struct evaluation *evaluation, const struct expr *call, bool high)
{
  struct box box;
  struct extremes extremes;
  if (!solve(evaluation, call, &box, &extremes))
    return box.unknown;
  const struct unit *unit = NULL;
  const struct name *name = expr_first_name(call->args[0]);
  const struct value *const *values = name && name->scope == NAME_TUNE ? evaluation->inputs->values[NAME_TUNE] : NULL;
  if (values && values[name->index]) {
    const struct value *value = values[name->index];
    unit = value->kind == VALUE_CURVE ? value->as.curve.unit : value->kind == VALUE_TABLE ? value->as.table.unit : NULL;
  }
  double value = high ? extremes.high : extremes.low;
  return run_number(value, box.error + unit_error(unit, value), unit);
}

static struct result bound_place(struct evaluation *evaluation, const struct expr *call, bool high)
{
  struct box box;
  struct extremes extremes;
  if (!solve(evaluation, call, &box, &extremes))
    return box.unknown;
  const struct corner *corner = high ? &extremes.at_high : &extremes.at_low;
  const char *text = "";
  for (size_t v = 0; v < box.variable_count; v++) {
    if (!corner->has[v])
      continue;
    const struct variable *variable = &box.variables[v];
    struct result at = run_number(corner->at[v], 0, variable->unit);
    text = arena_print(evaluation->arena, "%s%s%.*s %s", text, text[0] ? ", " : "", SLICE_ARG(variable->expr->text),
                       result_print(evaluation->arena, &at, &variable->expr->type, NULL, 0));
  }
  return run_text(slice_of(text[0] ? text : "everywhere"));
}

struct result builtin_highest(struct evaluation *evaluation, const struct expr *call)
{
  return bound_result(evaluation, call, true);
}
struct result builtin_lowest(struct evaluation *evaluation, const struct expr *call)
{
  return bound_result(evaluation, call, false);
}
struct result builtin_where_highest(struct evaluation *evaluation, const struct expr *call)
{
  return bound_place(evaluation, call, true);
}
struct result builtin_where_lowest(struct evaluation *evaluation, const struct expr *call)
{
  return bound_place(evaluation, call, false);
}
