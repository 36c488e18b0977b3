/* Operators on numbers, conditions and series, sample by sample; a scalar stands for the same value at every sample.
 * Missing samples stay missing; conditions follow the three-valued logic of the manual. Reading order: operands,
 * arithmetic, comparison, logic. Curves and tables are in apply.c, the functions in lift.c. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>

/* One side of an operator: a series, or a number that repeats. */
struct side {
  const double *at;
  const uint8_t *known;
  double constant;
  const double *errors; /* of a series whose samples differ much in it; else NULL */
  double error;
};

static struct side side_of(const struct expr *expr, const struct result *result)
{
  if (expr->type.series)
    return (struct side){result->series.at, result->series.known, 0, result->series.error, result->error};
  return (struct side){NULL, NULL, result->number, NULL, result->error};
}

static double side_at(const struct side *side, size_t i)
{
  return side->at ? side->at[i] : side->constant;
}
static double side_error(const struct side *side, size_t i)
{
  return side->errors ? side->errors[i] : side->error;
}
static bool side_known(const struct side *side, size_t i)
{
  return !side->known || side->known[i];
}

size_t run_rows(struct evaluation *evaluation, size_t rows)
{
  if (rows > 0) {
    const struct value *const *values = evaluation->inputs->values[NAME_JOB];
    return values && values[rows - 1] ? values[rows - 1]->as.records.count : 0;
  }
  const struct timebase *time = run_time(evaluation);
  return time ? time->count : 0;
}

struct vector run_vector(struct evaluation *evaluation, const struct result *result, const struct expr *expr,
                         size_t rows)
{
  if (expr->type.series)
    return result->series;
  size_t count = run_rows(evaluation, rows);
  if (expr->type.kind == TYPE_SWITCH) {
    uint8_t *on = ARENA_ARRAY(evaluation->arena, count, uint8_t);
    memset(on, result->on, count);
    return (struct vector){count, NULL, on, NULL, NULL};
  }
  double *at = ARENA_ARRAY(evaluation->arena, count, double);
  for (size_t i = 0; i < count; i++)
    at[i] = result->number;
  return (struct vector){count, at, NULL, NULL, NULL};
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

static uint8_t *both_known(struct evaluation *evaluation, size_t count, const uint8_t *a, const uint8_t *b)
{
  if (!a && !b)
    return NULL;
  uint8_t *known = ARENA_ARRAY(evaluation->arena, count, uint8_t);
  for (size_t i = 0; i < count; i++)
    known[i] = (!a || a[i]) && (!b || b[i]);
  return known;
}

struct result run_negate(struct evaluation *evaluation, const struct expr *expr)
{
  struct result inner = evaluate(evaluation, expr->args[0]);
  if (!inner.known)
    return inner;
  inner.number = -inner.number;
  if (expr->type.series) {
    double *at = ARENA_ARRAY(evaluation->arena, inner.series.count, double);
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

struct extent { /* of the sizes of a side's samples, those that are 0 but for rounding left out */
  double smallest, largest;
};

static struct extent extent_of(const struct side *side, size_t count)
{
  struct extent extent = {INFINITY, 0};
  for (size_t i = 0; i < count; i++) {
    double size = fabs(side_at(side, i));
    if (!side_known(side, i) || size <= side_error(side, i))
      continue;
    extent.smallest = fmin(extent.smallest, size);
    extent.largest = fmax(extent.largest, size);
  }
  return extent;
}

/* One bound for all samples, or one for each: a tiny divisor must blur no other sample. */
static void bound_errors(struct evaluation *evaluation, enum expr_op op, const struct side *a, const struct side *b,
                         double largest, struct result *result)
{
  size_t count = result->series.count;
  struct extent a_size = extent_of(a, count), b_size = extent_of(b, count);
  bool uneven = op == EXPR_DIVIDE && b_size.largest > 0 && b_size.smallest < 1e-6 * b_size.largest;
  if (!uneven && !a->errors && !b->errors) {
    double divisor = isinf(b_size.smallest) ? 0 : b_size.smallest;
    result->error =
        operate_error(op, a_size.largest, a->error, op == EXPR_DIVIDE ? divisor : b_size.largest, b->error, largest);
    return;
  }
  double *errors = ARENA_ARRAY(evaluation->arena, count, double);
  for (size_t i = 0; i < count; i++) {
    if (!run_known_at(&result->series, i))
      continue;
    errors[i] =
        operate_error(op, side_at(a, i), side_error(a, i), side_at(b, i), side_error(b, i), result->series.at[i]);
    result->error = fmax(result->error, errors[i]);
  }
  result->series.error = errors;
}

static struct result series_arithmetic(struct evaluation *evaluation, const struct expr *expr,
                                       const struct result *left, const struct result *right)
{
  struct side a = side_of(expr->args[0], left), b = side_of(expr->args[1], right);
  size_t count = run_rows(evaluation, expr->type.rows);
  double *at = ARENA_ARRAY(evaluation->arena, count, double);
  uint8_t *known = both_known(evaluation, count, a.known, b.known);
  struct result result = {.known = true};
  double largest = 0;
  for (size_t i = 0; i < count; i++) {
    if (known && !known[i])
      continue;
    bool by_zero = expr->op == EXPR_DIVIDE && fabs(side_at(&b, i)) <= side_error(&b, i);
    at[i] = by_zero ? INFINITY : operate(expr->op, side_at(&a, i), side_at(&b, i));
    if (isfinite(at[i])) {
      largest = fmax(largest, fabs(at[i]));
      continue;
    }
    if (!known) { /* divided by 0: no value there */
      known = ARENA_ARRAY(evaluation->arena, count, uint8_t);
      memset(known, 1, count);
    }
    known[i] = 0;
  }
  result.series = (struct vector){count, at, NULL, known, NULL};
  bound_errors(evaluation, expr->op, &a, &b, largest, &result);
  return result;
}

struct result run_arithmetic(struct evaluation *evaluation, const struct expr *expr)
{
  struct result pair[2] = {evaluate(evaluation, expr->args[0]), evaluate(evaluation, expr->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct result result;
  if (expr->type.series) {
    result = series_arithmetic(evaluation, expr, &pair[0], &pair[1]);
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

struct result run_comparison(struct evaluation *evaluation, const struct expr *expr)
{
  const struct expr *left = expr->args[0], *right = expr->args[1];
  struct result pair[2] = {evaluate(evaluation, left), evaluate(evaluation, right)};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  bool equal_op = expr->op == EXPR_EQUAL;
  if (left->type.kind == TYPE_NUMBERS)
    return run_condition(same_list(pair[0].value, pair[1].value) == equal_op);
  if (left->type.kind == TYPE_TEXT)
    return run_condition(run_same_text(pair[0].text, pair[1].text) == equal_op);
  double slack = pair[0].error + pair[1].error;
  if (!expr->type.series) {
    if (left->type.kind == TYPE_SWITCH)
      return run_condition((pair[0].on == pair[1].on) == equal_op);
    return run_condition(compare(expr->op, pair[0].number, pair[1].number, slack));
  }
  size_t count = run_rows(evaluation, expr->type.rows);
  uint8_t *on = ARENA_ARRAY(evaluation->arena, count, uint8_t);
  struct result result = {.known = true};
  if (left->type.kind == TYPE_SWITCH) {
    struct vector a = run_vector(evaluation, &pair[0], left, expr->type.rows),
                  b = run_vector(evaluation, &pair[1], right, expr->type.rows);
    for (size_t i = 0; i < count; i++)
      on[i] = (a.on[i] == b.on[i]) == equal_op;
    result.series = (struct vector){count, NULL, on, both_known(evaluation, count, a.known, b.known), NULL};
    return result;
  }
  struct side a = side_of(left, &pair[0]), b = side_of(right, &pair[1]);
  for (size_t i = 0; i < count; i++)
    on[i] = compare(expr->op, side_at(&a, i), side_at(&b, i), side_error(&a, i) + side_error(&b, i));
  result.series = (struct vector){count, NULL, on, both_known(evaluation, count, a.known, b.known), NULL};
  return result;
}

/* The value of a condition at a row, three-valued: 0 false, 1 true, 2 unknown. */
static int state_at(const struct expr *expr, const struct result *result, size_t i)
{
  if (!result->known)
    return 2;
  if (!expr->type.series)
    return result->on;
  if (result->series.known && !result->series.known[i])
    return 2;
  return result->series.on[i];
}

static int join_and(int a, int b)
{
  return a == 0 || b == 0 ? 0 : a == 1 && b == 1 ? 1 : 2;
}
static int join_or(int a, int b)
{
  return a == 1 || b == 1 ? 1 : a == 0 && b == 0 ? 0 : 2;
}
static int join_either(int a, int b)
{
  return a == 1 || b == 1 ? 1 : a == 2 && b == 2 ? 2 : 0;
}

/* Joins conditions row by row with a three-valued function; unknown as a whole when no row could be told and some input
 * was missing. */
static struct result join_rows(struct evaluation *evaluation, const struct expr *expr, const struct result *results,
                               int (*join)(int, int))
{
  size_t count = run_rows(evaluation, expr->type.rows), told = 0;
  uint8_t *on = ARENA_ARRAY(evaluation->arena, count, uint8_t), *known = ARENA_ARRAY(evaluation->arena, count, uint8_t);
  for (size_t i = 0; i < count; i++) {
    int state = state_at(expr->args[0], &results[0], i);
    for (size_t k = 1; k < expr->count; k++)
      state = join(state, state_at(expr->args[k], &results[k], i));
    on[i] = state == 1;
    known[i] = state != 2;
    told += known[i];
  }
  struct result result = {.missing = missing_join(evaluation->arena, results, expr->count)};
  bool lacks = result.missing->count > 0;
  if (told == 0 && lacks)
    return result;
  result.known = true;
  /* either() counts what is unknown as not true: its rows are told for good. */
  if (told == count || !lacks || join == join_either)
    result.missing = NULL;
  result.series = (struct vector){count, NULL, on, told == count ? NULL : known, NULL};
  return result;
}

static struct result join_all(struct evaluation *evaluation, const struct expr *expr, const struct result *results,
                              int (*join)(int, int))
{
  if (expr->type.series)
    return join_rows(evaluation, expr, results, join);
  int state = results[0].known ? results[0].on : 2;
  for (size_t k = 1; k < expr->count; k++)
    state = join(state, results[k].known ? results[k].on : 2);
  return state == 2 ? run_unknown_of(evaluation, results, expr->count) : run_condition(state == 1);
}

struct result run_logic(struct evaluation *evaluation, const struct expr *expr)
{
  bool is_and = expr->op == EXPR_AND;
  struct result pair[2];
  pair[0] = evaluate(evaluation, expr->args[0]);
  if (!expr->type.series && pair[0].known && pair[0].on != is_and)
    return pair[0]; /* false and ..., true or ...: decided */
  pair[1] = evaluate(evaluation, expr->args[1]);
  return join_all(evaluation, expr, pair, is_and ? join_and : join_or);
}

struct result builtin_either(struct evaluation *evaluation, const struct expr *call)
{
  struct result results[16] = {{0}};
  for (size_t i = 0; i < call->count; i++)
    results[i] = evaluate(evaluation, call->args[i]);
  return join_all(evaluation, call, results, join_either);
}

struct result run_not(struct evaluation *evaluation, const struct expr *expr)
{
  struct result inner = evaluate(evaluation, expr->args[0]);
  if (!inner.known)
    return inner;
  inner.on = !inner.on;
  if (expr->type.series) {
    uint8_t *on = ARENA_ARRAY(evaluation->arena, inner.series.count, uint8_t);
    for (size_t i = 0; i < inner.series.count; i++)
      on[i] = !inner.series.on[i];
    inner.series.on = on;
  }
  return inner;
}

/* Row by row: a where it is known, else b. */
static struct vector fill(struct evaluation *evaluation, struct vector a, struct vector b, const uint8_t *take_a)
{
  size_t count = a.count;
  uint8_t *known = ARENA_ARRAY(evaluation->arena, count, uint8_t);
  struct vector out = {count, NULL, NULL, known, NULL};
  double *at = a.at ? ARENA_ARRAY(evaluation->arena, count, double) : NULL;
  uint8_t *on = a.at ? NULL : ARENA_ARRAY(evaluation->arena, count, uint8_t);
  for (size_t i = 0; i < count; i++) {
    const struct vector *from = take_a[i] ? &a : &b;
    known[i] = !from->known || from->known[i];
    if (at && from->at)
      at[i] = from->at[i];
    if (on && from->on)
      on[i] = from->on[i];
  }
  out.at = at;
  out.on = on;
  return out;
}

struct result run_otherwise(struct evaluation *evaluation, const struct expr *expr)
{
  struct result left = evaluate(evaluation, expr->args[0]);
  if (left.known && (!expr->args[0]->type.series || !left.series.known)) {
    if (expr->type.series)
      left.series = run_vector(evaluation, &left, expr->args[0], expr->type.rows);
    return left;
  }
  struct result right = evaluate(evaluation, expr->args[1]);
  if (!left.known) {
    if (right.known && expr->type.series)
      right.series = run_vector(evaluation, &right, expr->args[1], expr->type.rows);
    return right;
  }
  if (!right.known)
    return left;
  left.series =
      fill(evaluation, left.series, run_vector(evaluation, &right, expr->args[1], expr->type.rows), left.series.known);
  left.error = fmax(left.error, right.error);
  left.missing = right.missing;
  return left;
}
