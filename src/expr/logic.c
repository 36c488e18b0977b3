/* Conditions joined row by row, in the three-valued logic of the manual; a scalar stands for the same answer at every
 * row. Reading order: run_logic, join_rows, then the others. */
#include "expr/builtin.h"
#include "expr/frame.h"

#include <math.h>

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

static const uint8_t *all_set(struct evaluation *evaluation, size_t count)
{
  uint8_t *flags = run_flags(evaluation, count);
  memset(flags, 1, count);
  return flags;
}

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

/* How many flags of 0 and 1 are set. */
static size_t count_set(const uint8_t *flags, size_t count)
{
  if (count == 0 || memchr(flags, 0, count) == NULL)
    return count;
  size_t set = 0;
  for (size_t i = 0; i < count; i++)
    set += flags[i];
  return set;
}

/* The same as join_states() of two, many rows at a time. */
static size_t join_pair(struct evaluation *evaluation, const struct expr *expr, const struct result *results,
                        size_t count, uint8_t *restrict on, uint8_t *restrict known)
{
  struct answers a = answers_of(evaluation, expr->args[0], &results[0], count),
                 b = answers_of(evaluation, expr->args[1], &results[1], count);
  const uint8_t *restrict a_on = a.on, *restrict b_on = b.on;
  uint8_t decides = expr->op == EXPR_OR; /* an answer of one side that is enough */
  if (!a.known && !b.known) {
    for (size_t i = 0; i < count; i++)
      on[i] = decides ? a_on[i] | b_on[i] : a_on[i] & b_on[i];
    memset(known, 1, count);
    return count;
  }
  const uint8_t *restrict a_known = a.known ? a.known : all_set(evaluation, count);
  const uint8_t *restrict b_known = b.known ? b.known : all_set(evaluation, count);
  for (size_t i = 0; i < count; i++) {
    uint8_t one = (uint8_t)((a_known[i] & (a_on[i] ^ decides ^ 1)) | (b_known[i] & (b_on[i] ^ decides ^ 1)));
    uint8_t told = (uint8_t)((a_known[i] & b_known[i]) | one);
    known[i] = told;
    on[i] = decides ? one : (uint8_t)(told & (one ^ 1));
  }
  return count_set(known, count);
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
  struct result result = {0};
  for (size_t i = 0; i < expr->count && !result.missing; i++)
    result.missing = results[i].missing ? missing_join(evaluation->arena, results, expr->count) : NULL;
  enum told told = result.missing && result.missing->count > 0 ? run_told(evaluation, expr) : TOLD_ALL;
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
    uint8_t *restrict on = run_flags(evaluation, inner.series.count);
    const uint8_t *restrict from = inner.series.on;
    for (size_t i = 0; i < inner.series.count; i++)
      on[i] = from[i] ^ 1;
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
