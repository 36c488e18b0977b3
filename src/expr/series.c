/* Operators on numbers, conditions and series, sample by sample; a scalar stands for the same value at every sample.
 * Missing samples stay missing; conditions follow the three-valued logic of the manual. Reading order: operands,
 * arithmetic, comparison, logic. Curves and tables are in apply.c, the functions in lift.c. */
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

static double side_at(const struct side *side, size_t i)
{
  return side->at ? side->at[i] : side->constant;
}
static double side_error(const struct side *side, size_t i)
{
  return side->errors ? side->errors[i] : side->error;
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

static uint8_t *both_known(struct evaluation *evaluation, size_t count, const uint8_t *a, const uint8_t *b)
{
  if (!a && !b)
    return NULL;
  uint8_t *known = run_flags(evaluation, count);
  if (!a || !b) {
    memcpy(known, a ? a : b, count);
    return known;
  }
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
  for (size_t i = 0; i < count; i++)
    errors[i] = run_known_at(&result->series, i) ? operate_error(op, side_at(a, i), side_error(a, i), side_at(b, i),
                                                                 side_error(b, i), result->series.at[i])
                                                 : 0;
  result->series.error = errors;
}

static void operate_rows(enum expr_op op, const struct side *a, const struct side *b, size_t count, double *at)
{
  switch (op) {
  case EXPR_ADD:
    for (size_t i = 0; i < count; i++)
      at[i] = side_at(a, i) + side_at(b, i);
    return;
  case EXPR_SUBTRACT:
    for (size_t i = 0; i < count; i++)
      at[i] = side_at(a, i) - side_at(b, i);
    return;
  case EXPR_MULTIPLY:
    for (size_t i = 0; i < count; i++)
      at[i] = side_at(a, i) * side_at(b, i);
    return;
  default:
    for (size_t i = 0; i < count; i++) { /* divided by 0: no value there */
      bool by_zero = fabs(side_at(b, i)) <= side_error(b, i);
      at[i] = by_zero ? INFINITY : side_at(a, i) / side_at(b, i);
    }
  }
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
  uint8_t *known = both_known(evaluation, count, a.known, b.known);
  operate_rows(expr->op, &a, &b, count, at);
  for (size_t i = 0; i < count; i++) {
    if (isfinite(at[i]))
      continue;
    at[i] = 0;
    if (!known) {
      known = run_flags(evaluation, count);
      memset(known, 1, count);
    }
    known[i] = 0;
  }
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

/* A series against a number, with one slack for all samples: the usual case, made for the compiler to do many at a
 * time. */
static void compare_number(enum expr_op op, const double *at, double number, double slack, size_t count, uint8_t *on)
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
    for (size_t i = 0; i < count; i++)
      on[i] = (a.on[i] == b.on[i]) == (expr->op == EXPR_EQUAL);
    known = both_known(evaluation, count, a.known, b.known);
  } else {
    struct side a = side_of(left, &pair[0]), b = side_of(right, &pair[1]);
    if (a.at && !b.at && !a.errors) {
      compare_number(expr->op, a.at, b.constant, a.error + b.error, count, on);
    } else {
      for (size_t i = 0; i < count; i++)
        on[i] = compare(expr->op, side_at(&a, i), side_at(&b, i), side_error(&a, i) + side_error(&b, i));
    }
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

/* One side of `and` or `or`: where it is true, and where it is false. */
struct answers {
  const uint8_t *on, *known; /* NULL known: all are */
};

static struct answers answers_of(struct evaluation *evaluation, const struct expr *expr, const struct result *result,
                                 size_t count)
{
  if (result->known && expr->type.series)
    return (struct answers){result->series.on, result->series.known};
  uint8_t *on = run_flags(evaluation, count), *known = run_flags(evaluation, count);
  memset(on, result->known && result->on, count);
  memset(known, result->known, count);
  return (struct answers){on, result->known ? NULL : known};
}

/* The same as join_states() of two, many rows at a time. */
static size_t join_pair(struct evaluation *evaluation, const struct expr *expr, const struct result *results,
                        size_t count, uint8_t *on, uint8_t *known)
{
  struct answers a = answers_of(evaluation, expr->args[0], &results[0], count),
                 b = answers_of(evaluation, expr->args[1], &results[1], count);
  uint8_t decides = expr->op == EXPR_OR; /* an answer of one side that is enough */
  if (!a.known && !b.known) {
    for (size_t i = 0; i < count; i++)
      on[i] = decides ? a.on[i] | b.on[i] : a.on[i] & b.on[i];
    memset(known, 1, count);
    return count;
  }
  size_t told = 0;
  for (size_t i = 0; i < count; i++) {
    uint8_t a_known = a.known ? a.known[i] : 1, b_known = b.known ? b.known[i] : 1;
    uint8_t one = (uint8_t)((a_known & (a.on[i] == decides)) | (b_known & (b.on[i] == decides)));
    known[i] = (uint8_t)((a_known & b_known) | one);
    on[i] = decides ? one : (uint8_t)(known[i] & !one);
    told += known[i];
  }
  return told;
}

/* How a join tells each row; returns how many are told. */
static size_t join_states(const struct expr *expr, const struct result *results, int (*join)(int, int), size_t count,
                          uint8_t *on, uint8_t *known)
{
  size_t told = 0;
  for (size_t i = 0; i < count; i++) {
    int state = state_at(expr->args[0], &results[0], i);
    for (size_t k = 1; k < expr->count; k++)
      state = join(state, state_at(expr->args[k], &results[k], i));
    on[i] = state == 1;
    known[i] = state != 2;
    told += known[i];
  }
  return told;
}

/* Joins conditions row by row with a three-valued function; unknown as a whole when no row of the log could be told and
 * some input was missing. */
static struct result join_rows(struct evaluation *evaluation, const struct expr *expr, const struct result *results,
                               int (*join)(int, int))
{
  size_t count = run_rows(evaluation, expr->type.rows);
  struct result result = {.missing = missing_join(evaluation->arena, results, expr->count)};
  enum told told = result.missing->count > 0 ? run_told(evaluation, expr) : TOLD_ALL;
  if (told == TOLD_NONE)
    return result;
  result.known = true;
  /* either() counts what is unknown as not true: its rows are told for good. */
  if (told == TOLD_ALL || join == join_either)
    result.missing = NULL;
  uint8_t *on = run_flags(evaluation, count), *known = run_flags(evaluation, count);
  size_t known_count = join == join_either ? join_states(expr, results, join, count, on, known)
                                           : join_pair(evaluation, expr, results, count, on, known);
  result.series = (struct vector){.count = count, .on = on, .known = known_count == count ? NULL : known};
  result.series.none = known_count == 0 && count > 0;
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

/* Does every row say so? */
static bool all_rows(const struct vector *series, bool on)
{
  if (series->known || series->count == 0)
    return false;
  return memchr(series->on, on ? 0 : 1, series->count) == NULL;
}

/* Both sides of `and` and `or`; a left side that decides every row at hand leaves the right one uncomputed. */
static bool logic_sides(struct evaluation *evaluation, const struct expr *expr, struct result *pair)
{
  bool is_and = expr->op == EXPR_AND;
  pair[0] = evaluate(evaluation, expr->args[0]);
  if (!expr->type.series) {
    if (pair[0].known && pair[0].on != is_and)
      return false;
    pair[1] = evaluate(evaluation, expr->args[1]);
    return true;
  }
  bool decided = pair[0].known && expr->args[0]->type.series && all_rows(&pair[0].series, !is_and);
  pair[1] = decided ? run_traits(evaluation, expr->args[1]) : evaluate(evaluation, expr->args[1]);
  return !decided || !pair[1].known || pair[0].missing || pair[1].missing;
}

struct result run_logic(struct evaluation *evaluation, const struct expr *expr)
{
  struct result pair[2];
  if (!logic_sides(evaluation, expr, pair))
    return pair[0]; /* false and ..., true or ...: decided */
  if (expr->type.series && expr->args[1]->type.series && pair[1].known && pair[0].known &&
      pair[1].series.count != run_rows(evaluation, expr->type.rows))
    pair[1] = evaluate(evaluation, expr->args[1]);
  return join_all(evaluation, expr, pair, expr->op == EXPR_AND ? join_and : join_or);
}

struct result builtin_either(struct evaluation *evaluation, const struct expr *call)
{
  struct result results[16] = {{0}};
  for (size_t i = 0; i < call->count; i++)
    results[i] = evaluate(evaluation, call->args[i]);
  return join_all(evaluation, call, results, join_either);
}

size_t run_count_told(struct evaluation *evaluation, const struct expr *expr)
{
  struct result results[16] = {{0}};
  for (size_t i = 0; i < expr->count; i++)
    results[i] = evaluate(evaluation, expr->args[i]);
  size_t count = run_rows(evaluation, expr->type.rows);
  return join_states(expr, results,
                     expr->op == EXPR_AND  ? join_and
                     : expr->op == EXPR_OR ? join_or
                                           : join_either,
                     count, run_flags(evaluation, count), run_flags(evaluation, count));
}

struct result run_not(struct evaluation *evaluation, const struct expr *expr)
{
  struct result inner = evaluate(evaluation, expr->args[0]);
  if (!inner.known)
    return inner;
  inner.on = !inner.on;
  if (expr->type.series && !inner.series.none) {
    uint8_t *on = run_flags(evaluation, inner.series.count);
    for (size_t i = 0; i < inner.series.count; i++)
      on[i] = !inner.series.on[i];
    inner.series.on = on;
  }
  return inner;
}

/* Row by row: a where it is known, else b. */
static struct vector fill(struct evaluation *evaluation, const struct result *left, const struct result *right,
                          struct vector b)
{
  struct vector a = left->series;
  size_t count = a.count;
  uint8_t *known = run_flags(evaluation, count);
  double *at = a.at ? run_numbers(evaluation, count) : NULL;
  uint8_t *on = a.at ? NULL : run_flags(evaluation, count);
  double *error = a.error || b.error ? run_numbers(evaluation, count) : NULL;
  for (size_t i = 0; i < count; i++) {
    bool first = run_known_at(&a, i);
    const struct vector *from = first ? &a : &b;
    known[i] = run_known_at(from, i);
    if (at && from->at)
      at[i] = from->at[i];
    if (on && from->on)
      on[i] = from->on[i];
    if (error)
      error[i] = from->error ? from->error[i] : (first ? left : right)->error;
  }
  return (struct vector){count, at, on, known, error, false};
}

static struct result otherwise_scalar(struct evaluation *evaluation, const struct expr *expr, struct result left)
{
  const struct expr *taken = expr->args[0];
  if (!left.known) {
    taken = expr->args[1];
    left = evaluate(evaluation, taken);
  }
  if (left.known && expr->type.series && !taken->type.series) {
    left.largest = fabs(left.number);
    left.series = run_vector(evaluation, &left, taken, expr->type.rows);
  }
  return left;
}

struct result run_otherwise(struct evaluation *evaluation, const struct expr *expr)
{
  struct result left = evaluate(evaluation, expr->args[0]);
  if (!left.known || !expr->args[0]->type.series)
    return otherwise_scalar(evaluation, expr, left);
  bool all = !left.series.known; /* of the rows at hand */
  struct result right = all ? run_traits(evaluation, expr->args[1]) : evaluate(evaluation, expr->args[1]);
  if (!right.known)
    return left;
  if (!expr->args[1]->type.series)
    right.largest = fabs(right.number);
  struct result result = left;
  if (!all)
    result.series = fill(evaluation, &left, &right, run_vector(evaluation, &right, expr->args[1], expr->type.rows));
  result.error = fmax(left.error, right.error);
  result.largest = fmax(left.largest, right.largest);
  result.missing = right.missing;
  return result;
}
