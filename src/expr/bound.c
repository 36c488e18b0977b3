/* highest() and lowest(): proved bounds of what an expression can come to while its variables run over a box.
 *
 * A table is bilinear and a curve linear between breakpoints, and both hold their edge values. So within one cell of
 * the grid that all breakpoints of the variables cut out of the box, a sum of tables, curves and variables is linear in
 * each variable alone, and takes its extremes at the cell's corners: the largest corner value over the whole grid is
 * the exact bound. Terms that share no variable are independent and are bounded by themselves. What is not a sum
 * (products, min, max, abs of something that varies) is bounded by interval arithmetic, which is safe but may be wide.
 *
 * Reading order: builtin_highest, bound, sum_bound, part_bound. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>

enum { MOST_VARIABLES = 7, MOST_TERMS = 64 };
#define MOST_CORNERS 4000000.0 /* of one part; a box of three shared 128-point axes is 2 million */

struct variable {
  const struct expr *expr;
  double from, to;
  const struct unit *unit;
  size_t point_count;
  double *points; /* breakpoints within the range, its ends included, increasing */
};

struct corner { /* values of the variables at an extreme; has: that variable mattered */
  double at[MOST_VARIABLES];
  bool has[MOST_VARIABLES];
};

struct extremes {
  double low, high;
  struct corner at_low, at_high;
};

struct term {
  const struct expr *expr; /* a variable, or a curve or table of variables and constants */
  double factor;
  unsigned uses; /* bit v: depends on variable v */
};

struct box {
  struct evaluation *evaluation;
  size_t variable_count;
  struct variable variables[MOST_VARIABLES];
  double error;          /* rounding so far, largest */
  struct result unknown; /* why there is no bound */
  bool failed;
};

static bool bound(struct box *box, const struct expr *expr, struct extremes *out);

static bool give_up(struct box *box, struct result unknown)
{
  if (!box->failed)
    box->unknown = unknown;
  box->failed = true;
  return false;
}

static unsigned uses_of(const struct box *box, const struct expr *expr)
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
    uses |= uses_of(box, expr->args[i]);
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
  if (uses_of(box, expr) != 0)
    return true;
  struct result ends[2] = {evaluate(box->evaluation, expr->args[0]), evaluate(box->evaluation, expr->args[1])};
  if (!ends[0].known || !ends[1].known)
    return give_up(box, run_unknown_of(box->evaluation, ends, 2));
  if (ends[0].number > ends[1].number)
    return give_up(box, run_unknown(box->evaluation,
                                    arena_print(box->evaluation->arena, "a range of '%.*s' that does not run backwards",
                                                SLICE_ARG(expr->text))));
  if (box->variable_count == MOST_VARIABLES) /* those of a bound within a bound are among them */
    return give_up(box, run_unknown(box->evaluation, "a bound of at most 7 variables"));
  struct variable *variable = &box->variables[box->variable_count++];
  *variable = (struct variable){expr, ends[0].number, ends[1].number, ends[0].unit, 0, NULL};
  return true;
}

static double unit_error(const struct unit *unit, double value)
{
  return 4 * DBL_EPSILON * (fabs(value) + (unit ? fabs(unit->offset) : 0));
}

static bool is_leaf(const struct expr *expr)
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
  for (size_t v = 0; v < MOST_VARIABLES; v++) {
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
  if (uses_of(box, expr) == 0) {
    struct result constant = evaluate(box->evaluation, expr);
    if (!constant.known)
      return give_up(box, constant);
    sum->constant += factor * constant.number;
    box->error += fabs(factor) * constant.error;
    return true;
  }
  if (expr->op == EXPR_ADD || expr->op == EXPR_SUBTRACT)
    return flatten(box, expr->args[0], factor, sum) &&
           flatten(box, expr->args[1], expr->op == EXPR_ADD ? factor : -factor, sum);
  if (expr->op == EXPR_NEGATE)
    return flatten(box, expr->args[0], -factor, sum);
  bool left_fixed = expr->count == 2 && uses_of(box, expr->args[0]) == 0,
       right_fixed = expr->count == 2 && uses_of(box, expr->args[1]) == 0;
  if ((expr->op == EXPR_MULTIPLY && (left_fixed || right_fixed)) || (expr->op == EXPR_DIVIDE && right_fixed)) {
    struct result scale = evaluate(box->evaluation, expr->args[left_fixed ? 0 : 1]);
    if (!scale.known || (expr->op == EXPR_DIVIDE && fabs(scale.number) <= scale.error))
      return give_up(box, scale.known ? run_unknown(box->evaluation, "a divisor that is not 0") : scale);
    return flatten(box, expr->args[left_fixed ? 1 : 0],
                   expr->op == EXPR_DIVIDE ? factor / scale.number : factor * scale.number, sum);
  }
  if (is_leaf(expr)) {
    if (sum->term_count == MOST_TERMS)
      return give_up(box, run_unknown(box->evaluation, "a sum of at most 64 tables and curves"));
    sum->terms[sum->term_count++] = (struct term){expr, factor, uses_of(box, expr)};
    return true;
  }
  struct extremes part = {0};
  if (!bound(box, expr, &part))
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
          return give_up(box, function);
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
    return give_up(box, function);
  double x[2] = {0, 0};
  for (size_t i = 1; i < expr->count; i++) {
    if (expr->args[i]->op == EXPR_VARIABLE) {
      leaf_at(box, expr->args[i], at, &x[i - 1]);
      continue;
    }
    struct result fixed = evaluate(box->evaluation, expr->args[i]);
    if (!fixed.known)
      return give_up(box, fixed);
    x[i - 1] = fixed.number;
  }
  const struct value *value = function.value;
  if (value->kind == VALUE_CURVE ? curve_at(&value->as.curve, x[0], out) : table_at(&value->as.table, x[0], x[1], out))
    return true;
  const struct name *name = expr_first_name(expr->args[0]);
  return give_up(box, run_unknown(box->evaluation, arena_print(box->evaluation->arena, "%.*s with axes that increase",
                                                               SLICE_ARG(name ? name->full : slice_of("a table")))));
}

/* Exact extremes of the terms that use the variables in `uses`: every corner of their grid. */
static bool part_bound(struct box *box, const struct sum *sum, unsigned uses, struct extremes *out)
{
  size_t at[MOST_VARIABLES] = {0};
  double values[MOST_VARIABLES] = {0}, corners = 1;
  for (size_t v = 0; v < box->variable_count; v++)
    corners *= uses & (1u << v) ? (double)box->variables[v].point_count : 1;
  if (corners > MOST_CORNERS)
    return give_up(box, run_unknown(box->evaluation, "a box with fewer breakpoints"));
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

static bool sum_bound(struct box *box, const struct expr *expr, struct extremes *out)
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
    if (!bound(box, expr->args[i], &part))
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
  if (!bound(box, expr->args[0], &a) || !bound(box, expr->args[1], &b))
    return false;
  if (expr->op == EXPR_DIVIDE) {
    if (b.low <= 0 && b.high >= 0)
      return give_up(box, run_unknown(box->evaluation, "a divisor that cannot be 0"));
    b = (struct extremes){1 / b.high, 1 / b.low, b.at_high, b.at_low};
  }
  const double left[2] = {a.low, a.high}, right[2] = {b.low, b.high};
  const struct corner *left_at[2] = {&a.at_low, &a.at_high}, *right_at[2] = {&b.at_low, &b.at_high};
  out->low = INFINITY;
  out->high = -INFINITY;
  for (size_t i = 0; i < 4; i++) {
    double product = left[i / 2] * right[i % 2];
    struct corner corner = *left_at[i / 2];
    for (size_t v = 0; v < MOST_VARIABLES; v++) {
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
  if (!bound(box, expr->args[0], &inner))
    return false;
  bool low_larger = fabs(inner.low) > fabs(inner.high);
  out->high = low_larger ? fabs(inner.low) : fabs(inner.high);
  out->at_high = low_larger ? inner.at_low : inner.at_high;
  out->low = inner.low <= 0 && inner.high >= 0 ? 0 : fmin(fabs(inner.low), fabs(inner.high));
  out->at_low = low_larger ? inner.at_high : inner.at_low;
  return true;
}

static bool bound(struct box *box, const struct expr *expr, struct extremes *out)
{
  bool varies = uses_of(box, expr) != 0;
  bool sums = !varies || is_leaf(expr) || expr->op == EXPR_ADD || expr->op == EXPR_SUBTRACT || expr->op == EXPR_NEGATE;
  bool product = expr->op == EXPR_MULTIPLY || expr->op == EXPR_DIVIDE;
  if (product && varies)
    sums = uses_of(box, expr->args[1]) == 0 || (expr->op == EXPR_MULTIPLY && uses_of(box, expr->args[0]) == 0);
  if (sums)
    return sum_bound(box, expr, out);
  if (product)
    return product_bound(box, expr, out);
  if (expr->op == EXPR_CALL && expr->count > 1 && slice_is(expr->text, "min"))
    return pick_bound(box, expr, false, out);
  if (expr->op == EXPR_CALL && expr->count > 1 && slice_is(expr->text, "max"))
    return pick_bound(box, expr, true, out);
  if (expr->op == EXPR_CALL && slice_is(expr->text, "abs"))
    return size_bound(box, expr, out);
  return give_up(box, run_unknown(box->evaluation, "an expression of tables, curves, + - * / min max abs"));
}

static bool solve(struct evaluation *evaluation, const struct expr *call, struct box *box, struct extremes *extremes)
{
  *box = (struct box){.evaluation = evaluation};
  *extremes = (struct extremes){0};
  return gather(box, call->args[0]) && bound(box, call->args[0], extremes);
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
