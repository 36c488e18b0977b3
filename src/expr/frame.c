/* Series over the log, some rows at a time. Who wants a series says which rows are at hand (evaluation->rows); what was
 * computed of it for these rows is kept in the frame until other rows come. Functions that look back or ahead in time
 * get their argument for as many more rows as that takes. So every row comes out the same whatever the block it is in.
 * Reading order: evaluate_rows (called by evaluate), widen, run_time, then memory. */
#include "expr/frame.h"

#include "expr/builtin.h"

#include <math.h>
#include <stdlib.h>

#define CHUNK_BYTES ((size_t)256 * 1024)

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
                     : count > 0                  ? reach_asked(evaluation, expr, wanted)
                                                  : wanted;
  struct rows wide = reach_widen(evaluation, expr, rows);
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

struct walk walk_begin(struct evaluation *evaluation, struct rows rows)
{
  bool whole = frame_is_whole(evaluation);
  return (struct walk){.frame = whole ? evaluation->base : frame_open(evaluation),
                       .rest = rows,
                       .step = whole ? evaluation->row_count : frame_block_rows(evaluation)};
}

bool walk_next(struct evaluation *evaluation, struct walk *walk)
{
  if (walk->entered)
    frame_leave(evaluation, walk->state);
  walk->entered = walk->rest.from < walk->rest.to;
  if (!walk->entered) {
    if (!walk->frame->whole)
      frame_close(evaluation, walk->frame);
    return false;
  }
  if (!walk->frame->whole)
    frame_clear(evaluation, walk->frame);
  size_t room = walk->step - walk->rest.from % walk->step, left = walk->rest.to - walk->rest.from;
  walk->block = (struct rows){walk->rest.from, walk->rest.from + (left < room ? left : room)};
  walk->rest.from = walk->block.to;
  walk->state = frame_enter(evaluation, walk->frame, walk->block);
  return true;
}

void walk_stop(struct walk *walk)
{
  walk->rest.from = walk->rest.to;
}

static enum told look_through(struct evaluation *evaluation, const struct expr *expr)
{
  size_t told = 0, rows = 0;
  struct walk walk = walk_begin(evaluation, (struct rows){0, evaluation->row_count});
  while (walk_next(evaluation, &walk)) {
    told += run_count_told(evaluation, expr);
    rows += walk.block.to - walk.block.from;
    if (told_of(told, rows) == TOLD_SOME)
      walk_stop(&walk);
  }
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
