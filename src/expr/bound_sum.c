/* Exact bounds of a sum.
 *
 * A table is bilinear and a curve linear between breakpoints, and both hold their edge values. So within one cell of
 * the grid that all breakpoints of the variables cut out of the box, a sum of tables, curves and variables is linear in
 * each variable alone, and takes its extremes at the cell's corners: the largest corner value over the whole grid is
 * the exact bound. Terms that share no variable are independent and are bounded by themselves.
 *
 * Reading order: bound_sum, flatten, cut, part_bound. */
#include "expr/bound.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>

enum { MOST_TERMS = 64 };
#define MOST_CORNERS 4000000.0 /* of one part; a box of three shared 128-point axes is 2 million */

struct term {
  const struct expr *expr; /* a variable, or a curve or table of variables and constants */
  double factor;
  unsigned uses; /* bit v: depends on variable v */
};

bool bound_is_leaf(const struct expr *expr)
{
  if (expr->op == EXPR_VARIABLE)
    return true;
  if (expr->op != EXPR_APPLY)
    return false;
  for (size_t i = 1; i < expr->count; i++) {
    if (expr->args[i]->op != EXPR_VARIABLE && expr->args[i]->op != EXPR_NUMBER && expr->args[i]->op != EXPR_NAME)
      return false;
  }
  return true;
}

struct sum {
  double constant;
  size_t term_count;
  struct term terms[MOST_TERMS];
  struct extremes wide; /* of the parts that are no leaves, by interval arithmetic */
};

static void add_extremes(struct extremes *sum, const struct extremes *part, double factor)
{
  const struct extremes turned = {part->high, part->low, part->at_high, part->at_low};
  const struct extremes *taken = factor < 0 ? &turned : part;
  sum->low += factor * taken->low;
  sum->high += factor * taken->high;
  for (size_t v = 0; v < BOUND_VARIABLES; v++) {
    if (taken->at_low.has[v] && !sum->at_low.has[v]) {
      sum->at_low.has[v] = true;
      sum->at_low.at[v] = taken->at_low.at[v];
    }
    if (taken->at_high.has[v] && !sum->at_high.has[v]) {
      sum->at_high.has[v] = true;
      sum->at_high.at[v] = taken->at_high.at[v];
    }
  }
}

/* Takes a tree apart into a constant, leaves with factors, and the rest. */
static bool flatten(struct box *box, const struct expr *expr, double factor, struct sum *sum)
{
  if (bound_uses(box, expr) == 0) {
    struct result constant = evaluate(box->evaluation, expr);
    if (!constant.known)
      return bound_give_up(box, constant);
    sum->constant += factor * constant.number;
    box->error += fabs(factor) * constant.error;
    return true;
  }
  if (expr->op == EXPR_ADD || expr->op == EXPR_SUBTRACT)
    return flatten(box, expr->args[0], factor, sum) &&
           flatten(box, expr->args[1], expr->op == EXPR_ADD ? factor : -factor, sum);
  if (expr->op == EXPR_NEGATE)
    return flatten(box, expr->args[0], -factor, sum);
  bool left_fixed = expr->count == 2 && bound_uses(box, expr->args[0]) == 0,
       right_fixed = expr->count == 2 && bound_uses(box, expr->args[1]) == 0;
  if ((expr->op == EXPR_MULTIPLY && (left_fixed || right_fixed)) || (expr->op == EXPR_DIVIDE && right_fixed)) {
    struct result scale = evaluate(box->evaluation, expr->args[left_fixed ? 0 : 1]);
    if (!scale.known || (expr->op == EXPR_DIVIDE && fabs(scale.number) <= scale.error))
      return bound_give_up(box, scale.known ? run_unknown(box->evaluation, "a divisor that is not 0") : scale);
    return flatten(box, expr->args[left_fixed ? 1 : 0],
                   expr->op == EXPR_DIVIDE ? factor / scale.number : factor * scale.number, sum);
  }
  if (bound_is_leaf(expr)) {
    if (sum->term_count == MOST_TERMS)
      return bound_give_up(box, run_unknown(box->evaluation, "a sum of at most 64 tables and curves"));
    sum->terms[sum->term_count++] = (struct term){expr, factor, bound_uses(box, expr)};
    return true;
  }
  struct extremes part = {0};
  if (!bound_tree(box, expr, &part))
    return false;
  add_extremes(&sum->wide, &part, factor);
  return true;
}

static int compare_doubles(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static const struct axis *axis_of(const struct value *value, size_t arg)
{
  if (value->kind == VALUE_CURVE)
    return &value->as.curve.x;
  return arg == 1 ? &value->as.table.x : &value->as.table.y;
}

/* Breakpoints of all axes that a variable runs along. */
static bool cut(struct box *box, struct variable *variable, const struct sum *sum)
{
  size_t room = 2;
  for (int pass = 0; pass < 2; pass++) {
    if (pass == 1) {
      variable->points = ARENA_ARRAY(box->evaluation->arena, room, double);
      variable->points[variable->point_count++] = variable->from;
      variable->points[variable->point_count++] = variable->to;
    }
    for (size_t t = 0; t < sum->term_count; t++) {
      const struct expr *expr = sum->terms[t].expr;
      for (size_t i = 1; expr->op == EXPR_APPLY && i < expr->count; i++) {
        if (expr->args[i]->op != EXPR_VARIABLE || !slice_equal(expr->args[i]->text, variable->expr->text))
          continue;
        struct result function = evaluate(box->evaluation, expr->args[0]);
        if (!function.known)
          return bound_give_up(box, function);
        const struct axis *axis = axis_of(function.value, i);
        room += axis->count;
        for (size_t k = 0; pass == 1 && k < axis->count; k++) {
          if (axis->at[k] > variable->from && axis->at[k] < variable->to)
            variable->points[variable->point_count++] = axis->at[k];
        }
      }
    }
  }
  qsort(variable->points, variable->point_count, sizeof *variable->points, compare_doubles);
  size_t kept = 1;
  for (size_t k = 1; k < variable->point_count; k++) {
    if (variable->points[k] > variable->points[kept - 1])
      variable->points[kept++] = variable->points[k];
  }
  variable->point_count = kept;
  return true;
}

/* A leaf at a corner. */
static bool leaf_at(struct box *box, const struct expr *expr, const double *at, double *out)
{
  if (expr->op == EXPR_VARIABLE) {
    for (size_t v = 0; v < box->variable_count; v++) {
      if (slice_equal(box->variables[v].expr->text, expr->text))
        *out = at[v];
    }
    return true;
  }
  struct result function = evaluate(box->evaluation, expr->args[0]);
  if (!function.known)
    return bound_give_up(box, function);
  double x[2] = {0, 0};
  for (size_t i = 1; i < expr->count; i++) {
    if (expr->args[i]->op == EXPR_VARIABLE) {
      leaf_at(box, expr->args[i], at, &x[i - 1]);
      continue;
    }
    struct result fixed = evaluate(box->evaluation, expr->args[i]);
    if (!fixed.known)
      return bound_give_up(box, fixed);
    x[i - 1] = fixed.number;
  }
  const struct value *value = function.value;
  if (value->kind == VALUE_CURVE ? curve_at(&value->as.curve, x[0], out) : table_at(&value->as.table, x[0], x[1], out))
    return true;
  const struct name *name = expr_first_name(expr->args[0]);
  return bound_give_up(box,
                       run_unknown(box->evaluation, arena_print(box->evaluation->arena, "%.*s with axes that increase",
                                                                SLICE_ARG(name ? name->full : slice_of("a table")))));
}

/* Exact extremes of the terms that use the variables in `uses`: every corner of their grid. */
static bool part_bound(struct box *box, const struct sum *sum, unsigned uses, struct extremes *out)
{
  size_t at[BOUND_VARIABLES] = {0};
  double values[BOUND_VARIABLES] = {0}, corners = 1;
  for (size_t v = 0; v < box->variable_count; v++)
    corners *= uses & (1u << v) ? (double)box->variables[v].point_count : 1;
  if (corners > MOST_CORNERS)
    return bound_give_up(box, run_unknown(box->evaluation, "a box with fewer breakpoints"));
  out->low = INFINITY;
  out->high = -INFINITY;
  for (bool more = true; more;) {
    for (size_t v = 0; v < box->variable_count; v++)
      values[v] = uses & (1u << v) ? box->variables[v].points[at[v]] : 0;
    double total = 0;
    for (size_t t = 0; t < sum->term_count; t++) {
      double value = 0;
      if (!(sum->terms[t].uses & uses))
        continue;
      if (!leaf_at(box, sum->terms[t].expr, values, &value))
        return false;
      total += sum->terms[t].factor * value;
    }
    for (size_t v = 0; v < box->variable_count; v++) {
      bool used = (uses & (1u << v)) != 0;
      if (total < out->low && used)
        out->at_low.at[v] = values[v];
      if (total > out->high && used)
        out->at_high.at[v] = values[v];
      out->at_low.has[v] = out->at_high.has[v] = used;
    }
    out->low = fmin(out->low, total);
    out->high = fmax(out->high, total);
    more = false;
    for (size_t v = 0; v < box->variable_count && !more; v++) {
      if (!(uses & (1u << v)))
        continue;
      more = ++at[v] < box->variables[v].point_count;
      if (!more)
        at[v] = 0;
    }
  }
  return true;
}

bool bound_sum(struct box *box, const struct expr *expr, struct extremes *out)
{
  struct sum *sum = ARENA_NEW(box->evaluation->arena, struct sum);
  if (!flatten(box, expr, 1, sum))
    return false;
  for (size_t v = 0; v < box->variable_count; v++) {
    box->variables[v].point_count = 0;
    if (!cut(box, &box->variables[v], sum))
      return false;
  }
  *out = sum->wide;
  out->low += sum->constant;
  out->high += sum->constant;
  unsigned done = 0;
  for (size_t t = 0; t < sum->term_count; t++) {
    if (sum->terms[t].uses & done)
      continue;
    /* Everything that hangs together with this term through shared variables. */
    unsigned part = sum->terms[t].uses, before = 0;
    while (part != before) {
      before = part;
      for (size_t k = 0; k < sum->term_count; k++)
        part |= sum->terms[k].uses & part ? sum->terms[k].uses : 0;
    }
    struct extremes extremes = {0};
    if (!part_bound(box, sum, part, &extremes))
      return false;
    add_extremes(out, &extremes, 1);
    done |= part;
  }
  box->error += 64 * DBL_EPSILON * fmax(fabs(out->low), fabs(out->high));
  return true;
}
