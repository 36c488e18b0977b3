/* Operators on numbers, conditions and series, sample by sample; a scalar stands for the same value at every sample.
 * Missing samples stay missing; conditions follow the three-valued logic of the manual. Reading order: operands,
 * arithmetic, comparison. What joins conditions is in logic.c, curves and tables in apply.c, the functions in lift.c.
 */
#include "expr/builtin.h"
#include "expr/frame.h"

#include <float.h>
#include <math.h>

/* One side of an operator: a series, or a number that repeats. */
struct side {
  const double *at;
  const uint8_t *known;
  double constant;
  const double *errors; /* of a series whose samples differ much in it; else NULL */
  double error;
  double largest; /* size of any sample */
};

static struct side side_of(const struct expr *expr, const struct result *result)
{
  if (expr->type.series)
    return (struct side){result->series.at,    result->series.known, 0,
                         result->series.error, result->error,        result->largest};
  return (struct side){NULL, NULL, result->number, NULL, result->error, fabs(result->number)};
}

size_t run_rows(struct evaluation *evaluation, size_t rows)
{
  if (rows >= TYPE_ROWS_ITEMS) {
    const struct collection *collection = evaluation->memo[rows - TYPE_ROWS_ITEMS].result.collection;
    return collection ? collection->count : 0;
  }
  if (rows > 0) {
    const struct value *const *values = evaluation->inputs->values[NAME_JOB];
    return values && values[rows - 1] ? values[rows - 1]->as.records.count : 0;
  }
  return run_has_log(evaluation) ? evaluation->rows.to - evaluation->rows.from : 0;
}

struct vector run_vector(struct evaluation *evaluation, const struct result *result, const struct expr *expr,
                         size_t rows)
{
  if (expr->type.series)
    return result->series;
  size_t count = run_rows(evaluation, rows);
  if (expr->type.kind == TYPE_SWITCH) {
    uint8_t *on = run_flags(evaluation, count);
    memset(on, result->on, count);
    return (struct vector){.count = count, .on = on};
  }
  double *at = run_numbers(evaluation, count);
  for (size_t i = 0; i < count; i++)
    at[i] = result->number;
  return (struct vector){.count = count, .at = at};
}

bool run_same_text(struct slice a, struct slice b)
{
  if (a.size != b.size)
    return false;
  for (size_t i = 0; i < a.size; i++) {
    char x = a.at[i], y = b.at[i];
    x = x >= 'A' && x <= 'Z' ? (char)(x + 32) : x;
    y = y >= 'A' && y <= 'Z' ? (char)(y + 32) : y;
    if (x != y)
      return false;
  }
  return true;
}

static const uint8_t *both_known(struct evaluation *evaluation, size_t count, const uint8_t *a, const uint8_t *b)
{
  if (!a || !b || a == b)
    return a ? a : b;
  uint8_t *restrict known = run_flags(evaluation, count);
  for (size_t i = 0; i < count; i++)
    known[i] = a[i] & b[i];
  return known;
}

/* Both operands. Where no row of the left one is known the right one is not computed: no row of it could count. */
static bool operands(struct evaluation *evaluation, const struct expr *expr, struct result *pair, bool *none)
{
  pair[0] = evaluate(evaluation, expr->args[0]);
  *none = expr->type.series && pair[0].known && expr->args[0]->type.series && pair[0].series.none;
  pair[1] = *none ? run_traits(evaluation, expr->args[1]) : evaluate(evaluation, expr->args[1]);
  *none = *none || (expr->type.series && pair[1].known && expr->args[1]->type.series && pair[1].series.none);
  return pair[0].known && pair[1].known;
}

struct result run_negate(struct evaluation *evaluation, const struct expr *expr)
{
  struct result inner = evaluate(evaluation, expr->args[0]);
  if (!inner.known)
    return inner;
  inner.number = -inner.number;
  if (expr->type.series && !inner.series.none) {
    double *at = run_numbers(evaluation, inner.series.count);
    for (size_t i = 0; i < inner.series.count; i++)
      at[i] = -inner.series.at[i];
    inner.series.at = at;
  }
  return inner;
}

/* The unit that a person would show the result in; NULL where none is at hand. */
static void pick_unit(const struct expr *expr, const struct result *a, const struct result *b, struct result *out)
{
  bool a_plain = dimension_is_none(expr->args[0]->type.of.dimension),
       b_plain = dimension_is_none(expr->args[1]->type.of.dimension);
  out->unit = a->unit;
  out->per = a->per;
  switch (expr->op) {
  case EXPR_ADD:
    if (expr->args[1]->type.of.sense == SENSE_POINT)
      out->unit = b->unit;
    return;
  case EXPR_SUBTRACT:
    if (expr->args[0]->type.of.sense == SENSE_POINT && expr->type.of.sense == SENSE_DIFFERENCE && a->unit)
      out->unit = unit_difference(a->unit);
    return;
  case EXPR_MULTIPLY:
    if (a_plain && !b_plain) {
      out->unit = b->unit;
      out->per = b->per;
    } else if (!a_plain && !b_plain) {
      out->unit = NULL;
      out->per = NULL;
    }
    return;
  default:
    break;
  }
  if (b_plain) /* a division */
    return;
  bool composes = !a->per && !b->per && a->unit && b->unit && !dimension_equal(a->unit->dimension, b->unit->dimension);
  out->unit = composes ? a->unit : NULL;
  out->per = composes ? b->unit : NULL;
}

static double operate(enum expr_op op, double a, double b)
{
  switch (op) {
  case EXPR_ADD:
    return a + b;
  case EXPR_SUBTRACT:
    return a - b;
  case EXPR_MULTIPLY:
    return a * b;
  default:
    return a / b;
  }
}

/* Bound of the result's rounding, for operands no larger than a and b (in size). For a quotient b is the smallest. */
static double operate_error(enum expr_op op, double a, double a_error, double b, double b_error, double result)
{
  double own = fabs(result) * DBL_EPSILON;
  switch (op) {
  case EXPR_ADD:
  case EXPR_SUBTRACT:
    return a_error + b_error + own;
  case EXPR_MULTIPLY:
    return fabs(a) * b_error + fabs(b) * a_error + own;
  default:
    return b == 0 ? 0 : (a_error + fabs(result) * b_error) / fabs(b) + own;
  }
}

/* The largest size of a result's samples, from those of its operands. */
static double operate_largest(enum expr_op op, const struct side *a, const struct side *b)
{
  switch (op) {
  case EXPR_ADD:
  case EXPR_SUBTRACT:
    return a->largest + b->largest;
  case EXPR_MULTIPLY:
    return a->largest * b->largest;
  default:
    return b->at || b->constant == 0 ? INFINITY : a->largest / fabs(b->constant);
  }
}

/* Numbers of one side as an array. */
static const double *side_numbers(struct evaluation *evaluation, const double *at, double constant, size_t count)
{
  if (at)
    return at;
  double *filled = run_numbers(evaluation, count);
  for (size_t i = 0; i < count; i++)
    filled[i] = constant;
  return filled;
}

/* operate_error() at each of the rows; the value of a result that is not known must be finite. */
static void operate_errors(struct evaluation *evaluation, enum expr_op op, const struct side *left,
                           const struct side *right, size_t count, const double *restrict result,
                           double *restrict errors)
{
  const double *restrict a_error = side_numbers(evaluation, left->errors, left->error, count);
  const double *restrict b_error = side_numbers(evaluation, right->errors, right->error, count);
  if (op == EXPR_ADD || op == EXPR_SUBTRACT) {
    for (size_t i = 0; i < count; i++)
      errors[i] = a_error[i] + b_error[i] + fabs(result[i]) * DBL_EPSILON;
    return;
  }
  const double *restrict a = side_numbers(evaluation, left->at, left->constant, count);
  const double *restrict b = side_numbers(evaluation, right->at, right->constant, count);
  if (op == EXPR_MULTIPLY) {
    for (size_t i = 0; i < count; i++)
      errors[i] = fabs(a[i]) * b_error[i] + fabs(b[i]) * a_error[i] + fabs(result[i]) * DBL_EPSILON;
    return;
  }
  for (size_t i = 0; i < count; i++) {
    double error = (a_error[i] + fabs(result[i]) * b_error[i]) / fabs(b[i]) + fabs(result[i]) * DBL_EPSILON;
    errors[i] = b[i] == 0 ? 0 : error;
  }
}

/* One bound for all samples; or one for each, where the samples differ much in it: a tiny divisor must blur no other
 * sample. */
static void bound_errors(struct evaluation *evaluation, enum expr_op op, const struct side *a, const struct side *b,
                         struct result *result)
{
  size_t count = result->series.count;
  result->largest = operate_largest(op, a, b);
  bool even = !a->errors && !b->errors && isfinite(a->largest) && isfinite(b->largest) && isfinite(result->largest) &&
              (op != EXPR_DIVIDE || !b->at);
  if (even) {
    double largest = operate_error(op, a->largest, a->error, op == EXPR_DIVIDE ? b->constant : b->largest, b->error,
                                   result->largest);
    result->error = largest;
    return;
  }
  double *errors = run_numbers(evaluation, count);
  struct room_mark mark = run_mark(evaluation);
  operate_errors(evaluation, op, a, b, count, result->series.at, errors);
  run_release(evaluation, mark);
  result->series.error = errors;
}

static void operate_rows(struct evaluation *evaluation, enum expr_op op, const struct side *left,
                         const struct side *right, size_t count, double *restrict at)
{
  const double *restrict a = side_numbers(evaluation, left->at, left->constant, count);
  const double *restrict b = side_numbers(evaluation, right->at, right->constant, count);
  switch (op) {
  case EXPR_ADD:
    for (size_t i = 0; i < count; i++)
      at[i] = a[i] + b[i];
    return;
  case EXPR_SUBTRACT:
    for (size_t i = 0; i < count; i++)
      at[i] = a[i] - b[i];
    return;
  case EXPR_MULTIPLY:
    for (size_t i = 0; i < count; i++)
      at[i] = a[i] * b[i];
    return;
  default:
    break;
  }
  const double *restrict b_error = side_numbers(evaluation, right->errors, right->error, count);
  for (size_t i = 0; i < count; i++) { /* divided by 0: no value there */
    double quotient = a[i] / b[i];
    at[i] = fabs(b[i]) <= b_error[i] ? INFINITY : quotient;
  }
}

/* Is some number infinite or none at all? Adding 1 to an exponent of all ones carries into the sign. */
static bool some_not_finite(const double *at, size_t count)
{
  uint64_t seen = 0;
  for (size_t i = 0; i < count; i++) {
    uint64_t bits;
    memcpy(&bits, &at[i], sizeof bits);
    seen |= (bits & INT64_MAX) + (UINT64_C(1) << 52);
  }
  return seen >> 63 != 0;
}

/* Numbers that are none become unknown, and 0. */
static const uint8_t *drop_not_finite(struct evaluation *evaluation, double *at, const uint8_t *known, size_t count)
{
  if (!some_not_finite(at, count))
    return known;
  uint8_t *kept = run_flags(evaluation, count);
  for (size_t i = 0; i < count; i++) {
    bool finite = isfinite(at[i]) != 0;
    kept[i] = finite && (!known || known[i]);
    at[i] = finite ? at[i] : 0;
  }
  return kept;
}

static struct result series_arithmetic(struct evaluation *evaluation, const struct expr *expr,
                                       const struct result *left, const struct result *right, bool none)
{
  struct side a = side_of(expr->args[0], left), b = side_of(expr->args[1], right);
  size_t count = run_rows(evaluation, expr->type.rows);
  struct result result = {.known = true};
  if (none) {
    result.series = run_none(evaluation, 0, false);
    bound_errors(evaluation, expr->op, &a, &b, &result);
    bool apart = result.series.error != NULL;
    result.series = run_none(evaluation, count, false);
    result.series.error = apart ? result.series.at : NULL;
    return result;
  }
  double *at = run_numbers(evaluation, count);
  struct room_mark mark = run_mark(evaluation);
  operate_rows(evaluation, expr->op, &a, &b, count, at);
  run_release(evaluation, mark);
  const uint8_t *known = drop_not_finite(evaluation, at, both_known(evaluation, count, a.known, b.known), count);
  result.series = (struct vector){.count = count, .at = at, .known = known};
  bound_errors(evaluation, expr->op, &a, &b, &result);
  return result;
}

struct result run_arithmetic(struct evaluation *evaluation, const struct expr *expr)
{
  struct result pair[2];
  bool none;
  if (!operands(evaluation, expr, pair, &none))
    return run_unknown_of(evaluation, pair, 2);
  struct result result;
  if (expr->type.series) {
    result = series_arithmetic(evaluation, expr, &pair[0], &pair[1], none);
  } else {
    double value = operate(expr->op, pair[0].number, pair[1].number);
    if (expr->op == EXPR_DIVIDE && fabs(pair[1].number) <= pair[1].error)
      return run_unknown(evaluation, "a divisor that is not 0");
    if (!isfinite(value))
      return run_unknown(evaluation, "a result that is not too large for a number");
    result = run_number(
        value, operate_error(expr->op, pair[0].number, pair[0].error, pair[1].number, pair[1].error, value), NULL);
  }
  pick_unit(expr, &pair[0], &pair[1], &result);
  return result;
}

static bool compare(enum expr_op op, double a, double b, double slack)
{
  switch (op) {
  case EXPR_EQUAL:
    return fabs(a - b) <= slack;
  case EXPR_UNEQUAL:
    return fabs(a - b) > slack;
  case EXPR_LESS:
    return a < b - slack;
  case EXPR_LESS_EQUAL:
    return a <= b + slack;
  case EXPR_MORE:
    return a > b + slack;
  default:
    return a >= b - slack;
  }
}

/* Lists are equal when all their numbers are, in order. */
static bool same_list(const struct value *a, const struct value *b)
{
  if (a->as.list.count != b->as.list.count)
    return false;
  for (size_t i = 0; i < a->as.list.count; i++) {
    double x = a->as.list.items[i], y = b->as.list.items[i];
    if (fabs(x - y) > 8 * DBL_EPSILON * (fabs(x) + fabs(y)))
      return false;
  }
  return true;
}

/* compare() of each row with its own number and slack: made for the compiler to do many at a time. */
static void compare_rows(enum expr_op op, const double *restrict a, const double *restrict b,
                         const double *restrict slack, size_t count, uint8_t *restrict on)
{
  switch (op) {
  case EXPR_LESS:
    for (size_t i = 0; i < count; i++)
      on[i] = a[i] < b[i] - slack[i];
    return;
  case EXPR_LESS_EQUAL:
    for (size_t i = 0; i < count; i++)
      on[i] = a[i] <= b[i] + slack[i];
    return;
  case EXPR_MORE:
    for (size_t i = 0; i < count; i++)
      on[i] = a[i] > b[i] + slack[i];
    return;
  case EXPR_MORE_EQUAL:
    for (size_t i = 0; i < count; i++)
      on[i] = a[i] >= b[i] - slack[i];
    return;
  default:
    for (size_t i = 0; i < count; i++)
      on[i] = compare(op, a[i], b[i], slack[i]);
  }
}

/* The usual case: a series against a number, with one slack for all samples. */
static void compare_number(enum expr_op op, const double *restrict at, double number, double slack, size_t count,
                           uint8_t *restrict on)
{
  double low = number - slack, high = number + slack;
  switch (op) {
  case EXPR_LESS:
    for (size_t i = 0; i < count; i++)
      on[i] = at[i] < low;
    return;
  case EXPR_LESS_EQUAL:
    for (size_t i = 0; i < count; i++)
      on[i] = at[i] <= high;
    return;
  case EXPR_MORE:
    for (size_t i = 0; i < count; i++)
      on[i] = at[i] > high;
    return;
  case EXPR_MORE_EQUAL:
    for (size_t i = 0; i < count; i++)
      on[i] = at[i] >= low;
    return;
  default:
    for (size_t i = 0; i < count; i++)
      on[i] = compare(op, at[i], number, slack);
  }
}

static void compare_sides(struct evaluation *evaluation, enum expr_op op, const struct side *a, const struct side *b,
                          size_t count, uint8_t *on)
{
  if (a->at && !b->at && !a->errors) {
    compare_number(op, a->at, b->constant, a->error + b->error, count, on);
    return;
  }
  const double *a_error = side_numbers(evaluation, a->errors, a->error, count),
               *b_error = side_numbers(evaluation, b->errors, b->error, count);
  double *restrict slack = run_numbers(evaluation, count);
  for (size_t i = 0; i < count; i++)
    slack[i] = a_error[i] + b_error[i];
  compare_rows(op, side_numbers(evaluation, a->at, a->constant, count),
               side_numbers(evaluation, b->at, b->constant, count), slack, count, on);
}

static struct result series_comparison(struct evaluation *evaluation, const struct expr *expr,
                                       const struct result *pair)
{
  const struct expr *left = expr->args[0], *right = expr->args[1];
  size_t count = run_rows(evaluation, expr->type.rows);
  uint8_t *on = run_flags(evaluation, count);
  struct result result = {.known = true};
  const uint8_t *known;
  if (left->type.kind == TYPE_SWITCH) {
    struct vector a = run_vector(evaluation, &pair[0], left, expr->type.rows),
                  b = run_vector(evaluation, &pair[1], right, expr->type.rows);
    for (size_t i = 0; a.on && b.on && i < count; i++)
      on[i] = (a.on[i] == b.on[i]) == (expr->op == EXPR_EQUAL);
    known = both_known(evaluation, count, a.known, b.known);
  } else {
    struct side a = side_of(left, &pair[0]), b = side_of(right, &pair[1]);
    struct room_mark mark = run_mark(evaluation);
    compare_sides(evaluation, expr->op, &a, &b, count, on);
    run_release(evaluation, mark);
    known = both_known(evaluation, count, a.known, b.known);
  }
  result.series = (struct vector){.count = count, .on = on, .known = known};
  return result;
}

struct result run_comparison(struct evaluation *evaluation, const struct expr *expr)
{
  const struct expr *left = expr->args[0];
  struct result pair[2];
  bool none;
  if (!operands(evaluation, expr, pair, &none))
    return run_unknown_of(evaluation, pair, 2);
  if (none) {
    struct result result = {.known = true};
    result.series = run_none(evaluation, run_rows(evaluation, expr->type.rows), true);
    return result;
  }
  bool equal_op = expr->op == EXPR_EQUAL;
  if (left->type.kind == TYPE_NUMBERS)
    return run_condition(same_list(pair[0].value, pair[1].value) == equal_op);
  if (left->type.kind == TYPE_TEXT)
    return run_condition(run_same_text(pair[0].text, pair[1].text) == equal_op);
  if (expr->type.series)
    return series_comparison(evaluation, expr, pair);
  if (left->type.kind == TYPE_SWITCH)
    return run_condition((pair[0].on == pair[1].on) == equal_op);
  return run_condition(compare(expr->op, pair[0].number, pair[1].number, pair[0].error + pair[1].error));
}
