/* Going through the log, once for many functions at a time: block by block, on several threads when it is long, each of
 * which takes one stretch of it; then what they took is joined. Reading order: sweep_one, go_through, on_threads,
 * evaluation_prepare. */
#include "expr/sweep.h"

#include "expr/builtin.h"

#include <math.h>
#include <pthread.h>

/* Under so many rows a thread costs more than it saves. */
#define THREAD_ROWS 32768
#define THREADS_MOST 16

/* ---- which rows can matter */

/* Is a series known nowhere but within the span of during(SPAN, ...)? */
static bool within_span(const struct expr *expr);

static bool some_within(const struct expr *expr, size_t from)
{
  for (size_t i = from; i < expr->count; i++) {
    if (within_span(expr->args[i]))
      return true;
  }
  return false;
}

static bool call_within(const struct expr *call)
{
  struct result (*function)(struct evaluation *, const struct expr *) = call->builtin->evaluate;
  if (function == builtin_during)
    return true;
  if (function == builtin_where)
    return some_within(call, 0);
  if (function == builtin_blank)
    return some_within(call, 1);
  if (function == builtin_if)
    return within_span(call->args[0]);
  return (function == builtin_abs || function == builtin_sqrt || function == builtin_sin || function == builtin_exp ||
          function == builtin_ln || function == builtin_power || function == builtin_min || function == builtin_max) &&
         some_within(call, 0);
}

static bool within_span(const struct expr *expr)
{
  if (!run_is_over_log(expr) || !expr->local)
    return false;
  switch (expr->op) {
  case EXPR_CALL:
    return call_within(expr);
  case EXPR_APPLY:
    return some_within(expr, 1);
  case EXPR_NEGATE:
  case EXPR_NOT:
  case EXPR_ADD:
  case EXPR_SUBTRACT:
  case EXPR_MULTIPLY:
  case EXPR_DIVIDE:
  case EXPR_EQUAL:
  case EXPR_UNEQUAL:
  case EXPR_LESS:
  case EXPR_LESS_EQUAL:
  case EXPR_MORE:
  case EXPR_MORE_EQUAL:
    return some_within(expr, 0);
  case EXPR_AND:
  case EXPR_OR: /* one side alone may tell a row */
    return within_span(expr->args[0]) && within_span(expr->args[1]);
  default:
    return false;
  }
}

static struct rows rows_of(const struct evaluation *evaluation, const struct expr *call)
{
  struct rows all = {0, evaluation->row_count};
  const struct item *item = evaluation->item;
  if (!call->local || !item || item->shape->kind != ITEM_SPAN || !some_within(call, 0) ||
      item->to_row >= evaluation->row_count)
    return all;
  return (struct rows){item->from_row, item->to_row + 1};
}

/* ---- going through */

static void go_through(struct evaluation *evaluation, struct rows rows, struct gather *gathers, size_t count)
{
  struct walk walk = walk_begin(evaluation, rows);
  while (walk_next(evaluation, &walk)) {
    for (size_t i = 0; i < count; i++) {
      if (!gathers[i].done)
        reduce_take(evaluation, &gathers[i]);
    }
  }
}

struct worker {
  struct evaluation evaluation;
  struct rows rows;
  struct gather *gathers;
  size_t count;
  pthread_t thread;
  bool started;
};

static void *work(void *context)
{
  struct worker *worker = context;
  go_through(&worker->evaluation, worker->rows, worker->gathers, worker->count);
  return NULL;
}

/* A copy of the evaluation with memory of its own: what both would compute is computed twice, and comes out the same.
 */
static void worker_init(struct worker *worker, const struct evaluation *of, const struct gather *gathers, size_t count)
{
  struct arena *arena = arena_new();
  worker->evaluation = *of;
  struct evaluation *own = &worker->evaluation;
  own->arena = arena;
  own->memo = ARENA_ARRAY(arena, of->slots + 1, struct memo);
  memcpy(own->memo, of->memo, (of->slots + 1) * sizeof *own->memo);
  own->told = ARENA_ARRAY(arena, of->slots + 1, uint8_t);
  memcpy(own->told, of->told, of->slots + 1);
  own->seen = ARENA_ARRAY(arena, of->slots + 1, uint8_t);
  own->series = ARENA_ARRAY(arena, of->slots + 1, uint32_t);
  memcpy(own->series, of->series, (of->slots + 1) * sizeof *own->series);
  own->largest = ARENA_ARRAY(arena, of->slots + 1, double);
  memcpy(own->largest, of->largest, (of->slots + 1) * sizeof *own->largest);
  own->free_frames = own->item_frame = NULL;
  own->traits = frame_open(own);
  own->traits->keeps = true;
  own->base = own->frame = frame_open(own);
  own->base->keeps = own->base->whole = true;
  worker->gathers = ARENA_ARRAY(arena, count, struct gather);
  worker->count = count;
  for (size_t i = 0; i < count; i++) {
    worker->gathers[i] = gathers[i];
    gather_init(&worker->gathers[i], arena);
  }
}

static void on_threads(struct evaluation *evaluation, size_t threads, struct gather *gathers, size_t count)
{
  struct worker *workers = ARENA_ARRAY(evaluation->arena, threads, struct worker);
  size_t step = frame_block_rows(evaluation), blocks = (evaluation->row_count + step - 1) / step;
  for (size_t i = 0; i < threads; i++) {
    size_t from = blocks * i / threads * step, to = blocks * (i + 1) / threads * step;
    worker_init(&workers[i], evaluation, gathers, count);
    workers[i].rows = (struct rows){from, to < evaluation->row_count ? to : evaluation->row_count};
    workers[i].started = i > 0 && pthread_create(&workers[i].thread, NULL, work, &workers[i]) == 0;
  }
  for (size_t i = 0; i < threads; i++) {
    if (!workers[i].started)
      work(&workers[i]);
  }
  for (size_t i = 0; i < threads; i++) {
    if (workers[i].started)
      pthread_join(workers[i].thread, NULL);
    for (size_t k = 0; k < count; k++)
      gather_join(&gathers[k], &workers[i].gathers[k]);
    arena_free(workers[i].evaluation.arena);
  }
}

/* The whole log, for all of them at once. */
static void go_through_once(struct evaluation *evaluation, struct gather *gathers, size_t count)
{
  size_t threads = evaluation->inputs->threads, most = evaluation->row_count / THREAD_ROWS;
  if (evaluation->inputs->block_rows > 0)
    most = evaluation->row_count / evaluation->inputs->block_rows;
  threads = threads < most ? threads : most;
  threads = threads < THREADS_MOST ? threads : THREADS_MOST;
  if (threads > 1) {
    on_threads(evaluation, threads, gathers, count);
    return;
  }
  go_through(evaluation, (struct rows){0, evaluation->row_count}, gathers, count);
}

static void go_through_all(struct evaluation *evaluation, struct gather *gathers, size_t count)
{
  struct gather *open = ARENA_ARRAY(evaluation->arena, count, struct gather);
  size_t *index = ARENA_ARRAY(evaluation->arena, count, size_t);
  go_through_once(evaluation, gathers, count);
  for (;;) {
    size_t left = 0;
    for (size_t i = 0; i < count; i++) {
      if (reduce_settle(&gathers[i]))
        continue;
      index[left] = i;
      open[left++] = gathers[i];
    }
    if (left == 0)
      return;
    go_through_once(evaluation, open, left);
    for (size_t i = 0; i < left; i++)
      gathers[index[i]] = open[i];
  }
}

/* The frame that goes with the item at hand, while its functions look at the same rows. */
static struct frame *item_frame(struct evaluation *evaluation, struct rows rows)
{
  bool same = evaluation->item_frame && evaluation->item_rows.from == rows.from && evaluation->item_rows.to == rows.to;
  if (evaluation->item_frame && !same)
    frame_clear(evaluation, evaluation->item_frame);
  if (!evaluation->item_frame)
    evaluation->item_frame = frame_open(evaluation);
  evaluation->item_rows = rows;
  return evaluation->item_frame;
}

struct result sweep_one(struct evaluation *evaluation, const struct expr *call)
{
  struct gather gather;
  struct rows rows = rows_of(evaluation, call);
  if (frame_is_whole(evaluation)) {
    struct frame_state state = frame_enter(evaluation, evaluation->base, rows);
    if (reduce_begin(evaluation, call, true, &gather))
      reduce_take_all(evaluation, &gather);
    frame_leave(evaluation, state);
    return reduce_finish(evaluation, &gather);
  }
  if (!reduce_begin(evaluation, call, false, &gather))
    return reduce_finish(evaluation, &gather);
  bool is_part = rows.to - rows.from < evaluation->row_count;
  if (!is_part) {
    go_through_all(evaluation, &gather, 1);
  } else if (rows.to - rows.from <= frame_block_rows(evaluation)) {
    struct frame_state state = frame_enter(evaluation, item_frame(evaluation, rows), rows);
    reduce_take_all(evaluation, &gather);
    frame_leave(evaluation, state);
  } else {
    do
      go_through(evaluation, rows, &gather, 1);
    while (!reduce_settle(&gather));
  }
  return reduce_finish(evaluation, &gather);
}

bool sweep_at(struct evaluation *evaluation, const struct expr *series, double t, double *value)
{
  bool found = false;
  struct walk walk = walk_begin(evaluation, (struct rows){0, evaluation->row_count});
  while (walk_next(evaluation, &walk)) {
    /* A sample may be bridged to from as far as a gap may be: whole rows around each block. */
    struct rows block = walk.block, wide = reach_bridge(evaluation, block);
    struct frame_state state = frame_enter(evaluation, walk.frame, wide);
    struct result result = evaluate(evaluation, series);
    found = result.known &&
            run_sample_at(evaluation, &result.series, block.from - wide.from, block.to - wide.from, t, value);
    frame_leave(evaluation, state);
    if (found)
      walk_stop(&walk);
  }
  return found;
}

/* ---- beforehand */

/* How many passes over the log an expression's value takes. */
static unsigned level_of(struct evaluation *evaluation, const struct expr *expr)
{
  if (!evaluation->levels)
    evaluation->levels = ARENA_ARRAY(evaluation->arena, evaluation->slots + 1, uint8_t);
  if (evaluation->levels[expr->slot] > 0)
    return evaluation->levels[expr->slot] - 1u;
  unsigned level = 0;
  for (size_t i = 0; i < expr->count; i++) {
    unsigned under = level_of(evaluation, expr->args[i]);
    level = under > level ? under : level;
  }
  bool is_at = expr->op == EXPR_CALL && expr->builtin->evaluate == builtin_at;
  level += (reduce_is(expr) && run_is_over_log(reduce_series(expr))) || (is_at && run_is_over_log(expr->args[0]));
  evaluation->levels[expr->slot] = (uint8_t)(level < 254 ? level + 1 : 255);
  return level;
}

bool evaluation_is_quick(struct evaluation *evaluation, const struct expr *expr)
{
  return level_of(evaluation, expr) == 0;
}

struct plan {
  uint8_t *seen; /* one a slot */
  const struct expr **calls;
  size_t count, capacity;
};

static void gather_calls(struct evaluation *evaluation, struct plan *plan, const struct expr *expr)
{
  if (plan->seen[expr->slot] || level_of(evaluation, expr) == 0)
    return;
  plan->seen[expr->slot] = 1;
  for (size_t i = 0; i < expr->count; i++)
    gather_calls(evaluation, plan, expr->args[i]);
  if (!reduce_is(expr) || !run_is_over_log(reduce_series(expr)) || expr->local ||
      evaluation->memo[expr->slot].epoch != 0)
    return;
  plan->calls = arena_grow(evaluation->arena, plan->calls, plan->count, &plan->capacity, sizeof(struct expr *));
  plan->calls[plan->count++] = expr;
}

static void pass(struct evaluation *evaluation, const struct plan *plan, unsigned level)
{
  struct gather *gathers = ARENA_ARRAY(evaluation->arena, plan->count, struct gather);
  const struct expr **calls = ARENA_ARRAY(evaluation->arena, plan->count, const struct expr *);
  size_t count = 0;
  for (size_t i = 0; i < plan->count; i++) {
    if (level_of(evaluation, plan->calls[i]) != level)
      continue;
    calls[count] = plan->calls[i];
    reduce_begin(evaluation, plan->calls[i], false, &gathers[count++]);
  }
  reach_plan(evaluation, calls, count);
  go_through_all(evaluation, gathers, count);
  evaluation->reaches = NULL;
  for (size_t i = 0; i < count; i++) {
    struct memo *memo = &evaluation->memo[gathers[i].call->slot];
    memo->result = eval_settle(evaluation, gathers[i].call, reduce_finish(evaluation, &gathers[i]));
    memo->epoch = evaluation->epoch;
    evaluation->stats.evaluated++;
  }
}

void evaluation_prepare(struct evaluation *evaluation, const struct expr *const *exprs, size_t count)
{
  if (!run_has_log(evaluation) || frame_is_whole(evaluation))
    return;
  struct plan plan = {.seen = ARENA_ARRAY(evaluation->arena, evaluation->slots + 1, uint8_t)};
  unsigned deepest = 0;
  for (size_t i = 0; i < count; i++) {
    gather_calls(evaluation, &plan, exprs[i]);
    unsigned level = level_of(evaluation, exprs[i]);
    deepest = level > deepest ? level : deepest;
  }
  for (unsigned level = 1; plan.count > 0 && level <= deepest; level++)
    pass(evaluation, &plan, level);
}
