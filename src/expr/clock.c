/* The time of the log: rows fall into stretches, which gaps and clocks that were set back end. Reading order: run_time,
 * clock_around, make_times. */
#include "expr/frame.h"

#include <math.h>
#include <stdlib.h>

/* Looked at beyond what was asked for: the next one to ask mostly wants some rows more. */
#define AROUND_ROWS 64

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

size_t clock_log(const struct eval_inputs *inputs, size_t row)
{
  size_t log = inputs->log_count;
  while (log > 1 && inputs->logs[log - 1].from_row > row)
    log--;
  return log > 0 ? log - 1 : 0;
}

/* The leap of time that is a gap in a log. */
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
  size_t log = clock_log(inputs, rows.from);
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
const struct timebase *clock_around(struct evaluation *evaluation, struct rows rows)
{
  struct frame *frame = evaluation->frame;
  struct timebase *time = &frame->time;
  bool is_here = frame->time_stamp == frame->stamp;
  if (is_here && time->from <= rows.from && time->from + time->count >= rows.to)
    return time;
  size_t before = frame->block.from > rows.from ? frame->block.from - rows.from : 0,
         after = rows.to > frame->block.to ? rows.to - frame->block.to : 0;
  frame->time_before = before > frame->time_before ? before : frame->time_before;
  frame->time_after = after > frame->time_after ? after : frame->time_after;
  size_t back = frame->time_before + AROUND_ROWS, ahead = frame->time_after + AROUND_ROWS;
  rows = frame->block;
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
  const struct timebase *around = clock_around(evaluation, rows);
  size_t skip = rows.from - around->from;
  return (struct timebase){rows.from, rows.to - rows.from, around->at + skip, around->start + skip, around->end + skip};
}
