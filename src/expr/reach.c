/* More rows for what looks back or ahead in time: its argument is wanted for as many more rows as that takes. Where the
 * log is gone through for many functions it is found beforehand how far around the rows at hand each series will be
 * asked for, so that it is computed once for all who ask. Reading order: reach_widen, then reach_plan and reach_asked.
 */
#include "expr/builtin.h"
#include "expr/frame.h"

#include <math.h>

/* Among rows first .. last of a stretch, all but the last of them: how many are before time t. */
static size_t rows_before(const struct timebase *time, size_t first, size_t last, double t)
{
  size_t low = first, high = last;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    if (time->at[middle - time->from] < t)
      low = middle + 1;
    else
      high = middle;
  }
  return low - first;
}

/* The first row that is more than `back` before `from`, or the start of the stretch. */
static size_t reach_back(struct evaluation *evaluation, size_t from, double back)
{
  for (size_t row = from;;) {
    const struct timebase *time = clock_around(evaluation, (struct rows){row > 0 ? row - 1 : 0, from + 1});
    double t = time->at[from - time->from] - back;
    size_t first = time->start[from - time->from], before = rows_before(time, first, from, t);
    if (before > 0 || first > time->from || first == 0)
      return before > 0 ? first + before - 1 : first;
    row = first;
  }
}

/* The same ahead of `last`. */
static size_t reach_ahead(struct evaluation *evaluation, size_t last, double ahead)
{
  for (size_t row = last;;) {
    size_t next = row + 1 < evaluation->row_count ? row + 1 : row;
    const struct timebase *time = clock_around(evaluation, (struct rows){last, next + 1});
    double t = time->at[last - time->from] + ahead;
    size_t end = time->end[last - time->from];
    size_t reached = last + rows_before(time, last, end - 1, nextafter(t, INFINITY));
    bool at_edge = reached + 1 == time->from + time->count && reached + 1 < evaluation->row_count;
    if (!at_edge || time->at[reached - time->from] > t)
      return reached;
    row = reached;
  }
}

/* Looks `back` and `ahead` from each sample, s; false: only at the sample itself. */
static bool looks_around(struct evaluation *evaluation, const struct expr *expr, double *back, double *ahead)
{
  const double bridge = RUN_GAP_SECONDS + 2 * RUN_TIME_SLACK;
  *back = *ahead = 0;
  if (expr->op != EXPR_CALL)
    return false;
  struct result (*function)(struct evaluation *, const struct expr *) = expr->builtin->evaluate;
  if (function == builtin_rate) {
    *back = *ahead = bridge;
    return true;
  }
  bool past = function == builtin_past_min || function == builtin_past_max,
       next = function == builtin_next_min || function == builtin_next_max || function == builtin_until,
       delays = function == builtin_delay, smooths = function == builtin_smooth;
  if (!past && !next && !delays && !smooths)
    return false;
  struct result time = evaluate(evaluation, expr->args[1]);
  if (!time.known || time.number < 0)
    return false;
  double t = time.number + 2 * RUN_TIME_SLACK;
  *back = past ? t : delays ? t + bridge : smooths ? t / 2 + RUN_TIME_SLACK : 0;
  *ahead = next ? t : smooths ? t / 2 + RUN_TIME_SLACK : 0;
  return true;
}

struct rows reach_widen(struct evaluation *evaluation, const struct expr *expr, struct rows rows)
{
  double back, ahead;
  if (rows.to <= rows.from || (rows.from == 0 && rows.to == evaluation->row_count) ||
      !looks_around(evaluation, expr, &back, &ahead))
    return rows;
  if (back > 0)
    rows.from = reach_back(evaluation, rows.from, back);
  if (ahead > 0)
    rows.to = reach_ahead(evaluation, rows.to - 1, ahead) + 1;
  return rows;
}

/* ---- how far around the rows at hand a series will be asked for: computed once for all who ask */

struct plan {
  const struct expr **order; /* those that are asked come after those that ask, from the end on */
  size_t count, capacity;
  uint8_t *seen;        /* one a slot */
  struct reach *wanted; /* one a slot */
};

static void reach_order(struct evaluation *evaluation, struct plan *plan, const struct expr *expr)
{
  if (plan->seen[expr->slot] || expr->local || !run_is_over_log(expr))
    return;
  plan->seen[expr->slot] = 1;
  for (size_t i = 0; i < expr->count; i++)
    reach_order(evaluation, plan, expr->args[i]);
  plan->order = arena_grow(evaluation->arena, plan->order, plan->count, &plan->capacity, sizeof *plan->order);
  plan->order[plan->count++] = expr;
}

static void reach_raise(struct reach *reach, const struct reach *asked, double back, double ahead, unsigned steps)
{
  reach->back = fmax(reach->back, asked->back + back);
  reach->ahead = fmax(reach->ahead, asked->ahead + ahead);
  reach->steps = reach->steps > asked->steps + steps ? reach->steps : asked->steps + steps;
}

static uint8_t reach_index(struct evaluation *evaluation, const struct reach *reach)
{
  if (reach->steps == 0)
    return 0;
  struct reaches *reaches = evaluation->reaches;
  for (size_t i = 0; i < reaches->count; i++) {
    const struct reach *other = &reaches->items[i];
    if (other->back == reach->back && other->ahead == reach->ahead && other->steps == reach->steps)
      return (uint8_t)(i + 1);
  }
  if (reaches->count == RUN_REACHES)
    return 0; /* it is computed anew for each who asks */
  reaches->items[reaches->count++] = *reach;
  return (uint8_t)reaches->count;
}

void reach_plan(struct evaluation *evaluation, const struct expr *const *calls, size_t count)
{
  struct plan plan = {.seen = ARENA_ARRAY(evaluation->arena, evaluation->slots + 1, uint8_t),
                      .wanted = ARENA_ARRAY(evaluation->arena, evaluation->slots + 1, struct reach)};
  for (size_t i = 0; i < count; i++) {
    for (size_t k = 0; k < calls[i]->count; k++)
      reach_order(evaluation, &plan, calls[i]->args[k]);
  }
  struct reaches *reaches = ARENA_NEW(evaluation->arena, struct reaches);
  reaches->of = ARENA_ARRAY(evaluation->arena, evaluation->slots + 1, uint8_t);
  evaluation->reaches = reaches;
  for (size_t i = plan.count; i-- > 0;) {
    const struct expr *expr = plan.order[i];
    const struct reach *reach = &plan.wanted[expr->slot];
    reaches->of[expr->slot] = reach_index(evaluation, reach);
    double back, ahead;
    bool looks = looks_around(evaluation, expr, &back, &ahead);
    for (size_t k = 0; k < expr->count; k++)
      reach_raise(&plan.wanted[expr->args[k]->slot], reach, back, ahead, looks);
  }
}

/* Rows that were asked for, and those that others will ask for. */
struct rows reach_asked(struct evaluation *evaluation, const struct expr *expr, struct rows rows)
{
  const struct reaches *reaches = evaluation->reaches;
  size_t index = reaches && !expr->local ? reaches->of[expr->slot] : 0;
  if (index == 0)
    return rows;
  struct frame *frame = evaluation->frame;
  struct reached *reached = &frame->reached[index - 1];
  if (reached->stamp != frame->stamp) {
    const struct reach *reach = &reaches->items[index - 1];
    /* One who asks for an earlier row than one just so long before asks again from there: a row more each time. */
    size_t from = reach->back > 0 ? reach_back(evaluation, frame->block.from, reach->back) : frame->block.from;
    size_t last = reach->ahead > 0 ? reach_ahead(evaluation, frame->block.to - 1, reach->ahead) : frame->block.to - 1;
    from = reach->back > 0 && from > reach->steps ? from - reach->steps : reach->back > 0 ? 0 : from;
    last += reach->ahead > 0 ? reach->steps : 0;
    *reached =
        (struct reached){frame->stamp, {from, last + 1 < evaluation->row_count ? last + 1 : evaluation->row_count}};
  }
  rows.from = reached->rows.from < rows.from ? reached->rows.from : rows.from;
  rows.to = reached->rows.to > rows.to ? reached->rows.to : rows.to;
  return rows;
}

struct rows reach_bridge(struct evaluation *evaluation, struct rows rows)
{
  const double bridge = RUN_GAP_SECONDS + 2 * RUN_TIME_SLACK;
  if (rows.to <= rows.from || (rows.from == 0 && rows.to == evaluation->row_count))
    return rows;
  return (struct rows){reach_back(evaluation, rows.from, bridge), reach_ahead(evaluation, rows.to - 1, bridge) + 1};
}
