/* Series over the log, some rows at a time. Who wants a series says which rows are at hand (evaluation->rows); what was
 * computed of it for these rows is kept in the frame until other rows come. Functions that look back or ahead in time
 * get their argument for as many more rows as that takes. So every row comes out the same whatever the block it is in.
 * Reading order: evaluate_rows (called by evaluate), widen, run_time, then memory. */
#include "expr/frame.h"

#include "expr/builtin.h"

#include <math.h>
#include <stdlib.h>

#define CHUNK_BYTES ((size_t)256 * 1024)
#define AROUND_ROWS 64

struct chunk {
  struct chunk *next;
  size_t size, used;
  char *bytes;
};

/* ---- memory */

static struct chunk *chunk_new(struct arena *arena, size_t size)
{
  struct chunk *chunk = ARENA_NEW(arena, struct chunk);
  *chunk = (struct chunk){NULL, size, 0, arena_alloc(arena, size)};
  return chunk;
}

static void *room(struct evaluation *evaluation, size_t count, size_t size)
{
  struct frame *frame = evaluation->frame;
  if (frame->keeps)
    return arena_array(evaluation->arena, count, size);
  size_t bytes = (count * size + 63) / 64 * 64;
  struct chunk *chunk = frame->chunk;
  while (chunk && chunk->size - chunk->used < bytes) {
    chunk = chunk->next;
    if (chunk)
      chunk->used = 0;
  }
  if (!chunk) {
    chunk = chunk_new(evaluation->arena, bytes > CHUNK_BYTES ? bytes : CHUNK_BYTES);
    chunk->next = frame->chunk ? frame->chunk->next : NULL;
    if (frame->chunk)
      frame->chunk->next = chunk;
    else
      frame->chunks = chunk;
  }
  frame->chunk = chunk;
  chunk->used += bytes;
  return chunk->bytes + chunk->used - bytes;
}

double *run_numbers(struct evaluation *evaluation, size_t count)
{
  return room(evaluation, count + 1, sizeof(double));
}

uint8_t *run_flags(struct evaluation *evaluation, size_t count)
{
  uint8_t *flags = room(evaluation, count + 1, 1);
  memset(flags, 0, count + 1);
  return flags;
}

size_t *run_indexes(struct evaluation *evaluation, size_t count)
{
  return room(evaluation, count + 1, sizeof(size_t));
}

void *run_room(struct evaluation *evaluation, size_t count, size_t size)
{
  return room(evaluation, count + 1, size);
}

struct room_mark run_mark(const struct evaluation *evaluation)
{
  const struct frame *frame = evaluation->frame;
  return (struct room_mark){frame->chunk, frame->chunk ? frame->chunk->used : 0};
}

void run_release(struct evaluation *evaluation, struct room_mark mark)
{
  struct frame *frame = evaluation->frame;
  frame->chunk = mark.chunk ? mark.chunk : frame->chunks;
  if (frame->chunk)
    frame->chunk->used = mark.used;
}

struct vector run_none(struct evaluation *evaluation, size_t count, bool conditions)
{
  struct frame *frame = evaluation->frame;
  if (frame->zero_count < count + 1) {
    frame->zero_count = count + 1;
    frame->zeros = ARENA_ARRAY(evaluation->arena, count + 1, double);
  }
  const uint8_t *flags = (const uint8_t *)frame->zeros;
  return (struct vector){count, conditions ? NULL : frame->zeros, conditions ? flags : NULL, flags, NULL, true};
}

struct part *frame_part(struct evaluation *evaluation, struct frame *frame, const struct expr *expr)
{
  uint32_t *number = &evaluation->series[expr->slot];
  if (*number == 0)
    *number = ++evaluation->series_count;
  if (!frame->parts) /* many evaluations never meet a series */
    frame->parts = ARENA_ARRAY(evaluation->arena, evaluation->slots / RUN_PAGE + 1, struct part *);
  struct part **page = &frame->parts[*number / RUN_PAGE];
  if (!*page)
    *page = ARENA_ARRAY(evaluation->arena, RUN_PAGE, struct part);
  return &(*page)[*number % RUN_PAGE];
}

struct frame *frame_open(struct evaluation *evaluation)
{
  struct frame *frame = evaluation->free_frames;
  if (frame) {
    evaluation->free_frames = frame->next;
  } else {
    frame = ARENA_NEW(evaluation->arena, struct frame);
  }
  frame_clear(evaluation, frame);
  return frame;
}

void frame_clear(struct evaluation *evaluation, struct frame *frame)
{
  frame->stamp = ++evaluation->stamps;
  frame->chunk = frame->chunks;
  if (frame->chunk)
    frame->chunk->used = 0;
}

void frame_close(struct evaluation *evaluation, struct frame *frame)
{
  frame->next = evaluation->free_frames;
  evaluation->free_frames = frame;
}

struct frame_state frame_enter(struct evaluation *evaluation, struct frame *frame, struct rows rows)
{
  struct frame_state state = {evaluation->frame, evaluation->rows};
  frame->block = rows;
  evaluation->frame = frame;
  evaluation->rows = rows;
  return state;
}

void frame_leave(struct evaluation *evaluation, struct frame_state state)
{
  evaluation->frame = state.frame;
  evaluation->rows = state.rows;
}

/* ---- time */

static int compare_doubles(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* A row whose time is missing stands at the time of the row before. */
static void read_times(const struct series *time, struct rows rows, double *at, uint8_t *known)
{
  bool all = series_rows(time, rows.from, rows.to, at, known);
  if (all)
    return;
  double last = 0;
  uint8_t found = known[0];
  for (size_t row = rows.from; row > 0 && !found; row--) {
    series_rows(time, row - 1, row, &last, &found);
    last = found ? last : 0;
  }
  for (size_t i = 0; i < rows.to - rows.from; i++) {
    last = known[i] ? at[i] : last;
    at[i] = last;
  }
}

/* The median step between rows at different times. */
static double usual_step(struct evaluation *evaluation, const struct series *time)
{
  double *at = ARENA_ARRAY(evaluation->arena, time->count + 1, double);
  uint8_t *known = ARENA_ARRAY(evaluation->arena, time->count + 1, uint8_t);
  size_t steps = 0;
  read_times(time, (struct rows){0, time->count}, at, known);
  double before = time->count > 0 ? at[0] : 0;
  for (size_t i = 1; i < time->count; i++) {
    double step = at[i] - before;
    before = at[i];
    if (step > 0)
      at[steps++] = step;
  }
  qsort(at, steps, sizeof *at, compare_doubles);
  return steps > 0 ? at[steps / 2] : 0;
}

bool run_has_log(struct evaluation *evaluation)
{
  if (evaluation->time_tried)
    return evaluation->time != NULL;
  evaluation->time_tried = true;
  const struct name *name = names_find(evaluation->inputs->names, slice_of("log.time"));
  const struct value *const *values = evaluation->inputs->values[NAME_LOG];
  if (!name || !values || !values[name->index])
    return false;
  const struct series *time = &values[name->index]->as.series;
  double step = evaluation->inputs->log_step > 0 ? evaluation->inputs->log_step : usual_step(evaluation, time);
  evaluation->gap = fmax(RUN_GAP_SECONDS, 5 * step);
  evaluation->row_count = time->count;
  evaluation->time = time;
  evaluation->rows = (struct rows){0, time->count};
  return true;
}

/* Which of the logs a row belongs to, and the leap of time that is a gap in it. */
static size_t log_at(const struct eval_inputs *inputs, size_t row)
{
  size_t log = inputs->log_count;
  while (log > 1 && inputs->logs[log - 1].from_row > row)
    log--;
  return log > 0 ? log - 1 : 0;
}

static double gap_in(const struct evaluation *evaluation, size_t log)
{
  double step = log < evaluation->inputs->log_count ? evaluation->inputs->logs[log].step : 0;
  return step > 0 ? fmax(RUN_GAP_SECONDS, 5 * step) : evaluation->gap;
}

/* Is the time of these rows, all of one log, without a gap and never running back? */
static bool is_unbroken(const double *restrict at, size_t count, double gap)
{
  unsigned broken = 0;
  for (size_t i = 1; i < count; i++)
    broken |= (unsigned)(at[i] < at[i - 1]) | (unsigned)(at[i] - at[i - 1] > gap);
  return broken == 0;
}

static struct timebase make_times(struct evaluation *evaluation, struct rows rows)
{
  size_t count = rows.to - rows.from;
  double *at = run_numbers(evaluation, count);
  size_t *start = run_indexes(evaluation, count), *end = run_indexes(evaluation, count);
  read_times(evaluation->time, rows, at, run_flags(evaluation, count));
  const struct eval_inputs *inputs = evaluation->inputs;
  size_t log = log_at(inputs, rows.from);
  double gap = gap_in(evaluation, log);
  bool one_log = log + 1 >= inputs->log_count || inputs->logs[log + 1].from_row >= rows.to;
  if (one_log && is_unbroken(at, count, gap)) {
    for (size_t i = 0; i < count; i++) {
      start[i] = rows.from;
      end[i] = rows.to;
    }
    return (struct timebase){rows.from, count, at, start, end};
  }
  for (size_t i = 0, first = rows.from; i < count; i++) {
    bool other = log + 1 < inputs->log_count && inputs->logs[log + 1].from_row == rows.from + i;
    if (other)
      gap = gap_in(evaluation, ++log);
    if (i > 0 && (other || at[i] < at[i - 1] || at[i] - at[i - 1] > gap))
      first = rows.from + i;
    start[i] = first;
  }
  for (size_t i = count; i-- > 0;)
    end[i] = i + 1 < count && start[i + 1] == start[i] ? end[i + 1] : rows.from + i + 1;
  return (struct timebase){rows.from, count, at, start, end};
}

/* Time of these rows, and of others around them: many functions look around the same rows, and around the next ones as
 * far. */
static const struct timebase *time_around(struct evaluation *evaluation, struct rows rows)
{
  struct frame *frame = evaluation->frame;
  struct timebase *time = &frame->time;
  bool is_here = frame->time_stamp == frame->stamp;
  if (is_here && time->from <= rows.from && time->from + time->count >= rows.to)
    return time;
  if (is_here) {
    rows.from = time->from < rows.from ? time->from : rows.from;
    rows.to = time->from + time->count > rows.to ? time->from + time->count : rows.to;
  }
  size_t before = frame->block.from > rows.from ? frame->block.from - rows.from : 0,
         after = rows.to > frame->block.to ? rows.to - frame->block.to : 0;
  frame->time_before = before > frame->time_before ? before : frame->time_before;
  frame->time_after = after > frame->time_after ? after : frame->time_after;
  size_t back = frame->time_before - before + AROUND_ROWS, ahead = frame->time_after - after + AROUND_ROWS;
  rows.from = rows.from > back ? rows.from - back : 0;
  rows.to = evaluation->row_count - rows.to > ahead ? rows.to + ahead : evaluation->row_count;
  *time = make_times(evaluation, frame->whole ? (struct rows){0, evaluation->row_count} : rows);
  frame->time_stamp = frame->stamp;
  return time;
}

struct timebase run_time(struct evaluation *evaluation)
{
  if (!run_has_log(evaluation))
    return (struct timebase){0};
  struct rows rows = evaluation->rows;
  const struct timebase *around = time_around(evaluation, rows);
  size_t skip = rows.from - around->from;
  return (struct timebase){rows.from, rows.to - rows.from, around->at + skip, around->start + skip, around->end + skip};
}

/* ---- more rows for what looks back or ahead */

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
    const struct timebase *time = time_around(evaluation, (struct rows){row > 0 ? row - 1 : 0, from + 1});
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
    const struct timebase *time = time_around(evaluation, (struct rows){last, next + 1});
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

static struct rows widen(struct evaluation *evaluation, const struct expr *expr, struct rows rows)
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

struct reach_plan {
  const struct expr **order; /* those that are asked come after those that ask, from the end on */
  size_t count, capacity;
  uint8_t *seen;        /* one a slot */
  struct reach *wanted; /* one a slot */
};

static void reach_order(struct evaluation *evaluation, struct reach_plan *plan, const struct expr *expr)
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

void frame_plan(struct evaluation *evaluation, const struct expr *const *calls, size_t count)
{
  struct reach_plan plan = {.seen = ARENA_ARRAY(evaluation->arena, evaluation->slots + 1, uint8_t),
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
static struct rows reach_around(struct evaluation *evaluation, const struct expr *expr, struct rows rows)
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

struct rows frame_bridge(struct evaluation *evaluation, struct rows rows)
{
  const double bridge = RUN_GAP_SECONDS + 2 * RUN_TIME_SLACK;
  if (rows.to <= rows.from || (rows.from == 0 && rows.to == evaluation->row_count))
    return rows;
  return (struct rows){reach_back(evaluation, rows.from, bridge), reach_ahead(evaluation, rows.to - 1, bridge) + 1};
}

struct result run_cut(struct result result, size_t from, size_t count)
{
  struct vector *series = &result.series;
  if (!result.known || (from == 0 && series->count == count))
    return result;
  series->count = count;
  series->at = series->at ? series->at + from : NULL;
  series->on = series->on ? series->on + from : NULL;
  series->known = series->known ? series->known + from : NULL;
  series->error = series->error ? series->error + from : NULL;
  return result;
}

bool frame_has(struct evaluation *evaluation, const struct expr *expr)
{
  const struct part *part = frame_part(evaluation, evaluation->frame, expr);
  return part->stamp == evaluation->frame->stamp && (!expr->local || part->epoch == evaluation->epoch);
}

/* Flags that are all set tell nothing. */
static void drop_flags(struct vector *series)
{
  if (series->known && !series->none && series->count > 0 && memchr(series->known, 0, series->count) == NULL)
    series->known = NULL;
}

struct result evaluate_rows(struct evaluation *evaluation, const struct expr *expr)
{
  struct frame *frame = evaluation->frame;
  struct part *part = frame_part(evaluation, frame, expr);
  run_has_log(evaluation);
  struct rows wanted = evaluation->rows;
  size_t count = wanted.to - wanted.from;
  if (frame_has(evaluation, expr) && part->rows.from <= wanted.from && part->rows.to >= wanted.to) {
    evaluation->stats.reused++;
    return run_cut(part->result, wanted.from - part->rows.from, count);
  }
  /* The whole log at once: what does not depend on the item is computed but once. */
  struct rows rows = frame->whole && !expr->local ? (struct rows){0, evaluation->row_count}
                     : count > 0                  ? reach_around(evaluation, expr, wanted)
                                                  : wanted;
  struct rows wide = widen(evaluation, expr, rows);
  evaluation->rows = wide;
  struct result result = eval_compute(evaluation, expr);
  evaluation->rows = wanted;
  result = run_cut(result, rows.from - wide.from, rows.to - rows.from);
  drop_flags(&result.series);
  evaluation->stats.evaluated += evaluation->seen[expr->slot] == 0 || expr->local;
  evaluation->seen[expr->slot] = 1;
  *part = (struct part){result, rows, frame->stamp, evaluation->epoch};
  return run_cut(result, wanted.from - rows.from, count);
}

struct result run_traits(struct evaluation *evaluation, const struct expr *expr)
{
  if (!run_is_over_log(expr))
    return evaluate(evaluation, expr);
  struct frame_state state = frame_enter(evaluation, evaluation->traits, (struct rows){0, 0});
  struct result result = evaluate(evaluation, expr);
  frame_leave(evaluation, state);
  return result;
}

/* ---- blocks */

size_t frame_block_rows(const struct evaluation *evaluation)
{
  return evaluation->inputs->block_rows > 0 ? evaluation->inputs->block_rows : RUN_BLOCK_ROWS;
}

bool frame_is_whole(const struct evaluation *evaluation)
{
  size_t most =
      evaluation->inputs->block_rows > 0 ? evaluation->inputs->block_rows : (size_t)RUN_BLOCK_ROWS * RUN_WHOLE_BLOCKS;
  return evaluation->row_count <= most;
}

static enum told told_of(size_t told, size_t rows)
{
  return told == 0 ? TOLD_NONE : told == rows ? TOLD_ALL : TOLD_SOME;
}

static enum told look_through(struct evaluation *evaluation, const struct expr *expr)
{
  size_t step = frame_is_whole(evaluation) ? evaluation->row_count : frame_block_rows(evaluation), told = 0, rows = 0;
  struct frame *frame = step == evaluation->row_count ? evaluation->base : frame_open(evaluation);
  for (size_t from = 0; from < evaluation->row_count; from += step) {
    size_t to = evaluation->row_count - from < step ? evaluation->row_count : from + step;
    struct frame_state state = frame_enter(evaluation, frame, (struct rows){from, to});
    told += run_count_told(evaluation, expr);
    rows += to - from;
    frame_leave(evaluation, state);
    if (told_of(told, rows) == TOLD_SOME)
      break;
    if (!frame->whole)
      frame_clear(evaluation, frame);
  }
  if (!frame->whole)
    frame_close(evaluation, frame);
  return told_of(told, rows);
}

enum told run_told(struct evaluation *evaluation, const struct expr *expr)
{
  if (!run_is_over_log(expr)) {
    size_t rows = run_rows(evaluation, expr->type.rows);
    return told_of(run_count_told(evaluation, expr), rows);
  }
  if (!run_has_log(evaluation))
    return TOLD_NONE;
  if (expr->local)
    return look_through(evaluation, expr);
  if (evaluation->told[expr->slot] == TOLD_UNSEEN)
    evaluation->told[expr->slot] = (uint8_t)look_through(evaluation, expr);
  return (enum told)evaluation->told[expr->slot];
}
