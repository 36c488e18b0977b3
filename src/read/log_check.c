/* What is odd about a log's rows, cells and time. Reading order: log_check_rows, log_check_time. */
#include "base/limits.h"
#include "read/log_reader.h"
#include "read/log_time.h"

#include <math.h>

static void check_cells(struct log_reader *r, const struct log_column *column)
{
  const struct log_bad *bad = &column->bad;
  if (bad->count == 0)
    return;
  const char *what = column->kind == LOG_COLUMN_SWITCH ? "neither on nor off"
                     : column->kind == LOG_COLUMN_TIME ? "not a time"
                                                       : "not a number";
  const char *count = log_count_text(r->arena, bad->count), *shown = bad->shown;
  const char *all = log_count_text(r->arena, bad->count + column->good);
  if (bad->count > column->good)
    problems_add(r->problems, bad->first, "'%.*s': %s of %s cells %s; the first is '%s'",
                 SLICE_ARG(column->entry->name), count, all, what, shown);
  else
    log_notes_add(&r->notes, LOG_NOTE_BAD_CELLS, bad->first,
                  "'%.*s': %s of %s cells %s, taken as missing; the first is '%s'", SLICE_ARG(column->entry->name),
                  count, all, what, shown);
}

static void check_widths(struct log_reader *r)
{
  const struct log_rows *rows = &r->rows;
  const char *all = log_count_text(r->arena, rows->count);
  if (rows->long_count * 100 >= rows->count && rows->long_count > 0) {
    problems_add(r->problems, rows->first_long,
                 "%s of %s rows have more cells than the heading has names; this is the first",
                 log_count_text(r->arena, rows->long_count), all);
    problems_hint(r->problems, "a decimal comma, or a text with a separator in it that is not quoted?");
  } else if (rows->long_count > 0) {
    log_notes_add(&r->notes, LOG_NOTE_BAD_CELLS, rows->first_long,
                  "%s of %s rows have more cells than the heading has names; the first of these cells",
                  log_count_text(r->arena, rows->long_count), all);
  }
  if (rows->short_count > 0)
    log_notes_add(&r->notes, LOG_NOTE_BAD_CELLS, rows->first_short,
                  "%s of %s rows have fewer cells than the heading has names; the others count as missing",
                  log_count_text(r->arena, rows->short_count), all);
}

/* The time cell of a row, found again. */
static struct place time_place(struct log_reader *r, size_t row)
{
  struct csv csv = r->layout.csv;
  struct csv_cell *cells = ARENA_ARRAY(r->arena, r->layout.column_count, struct csv_cell);
  struct csv_row again;
  double start = 0;
  uint8_t known;
  column_rows(columns_get(r->rows.set, 0), row, row + 1, &start, &known);
  uint64_t from = (uint64_t)start, size = r->rows.rows_end - from;
  size = size < 2 * LIMIT_LOG_LINE ? size : 2 * LIMIT_LOG_LINE;
  char *text = arena_alloc(r->arena, (size_t)size);
  size_t got = 0;
  if (!source_read(r->source, from, text, (size_t)size, &got) || got == 0)
    return (struct place){r->source->id, from, from};
  csv.end = text + got;
  csv_read(&csv, text, cells, r->layout.column_count, &again);
  struct slice cell = csv_text(&cells[r->rows.time->index]);
  return log_place(&(struct log_text){r->source, text, from}, cell.at, cell.at + cell.size);
}

static void note_event(struct log_reader *r, enum log_note_kind kind, const struct log_event *event, const char *what)
{
  if (event->count == 0)
    return;
  const char *from = log_number_text(r->arena, event->from, 9), *to = log_number_text(r->arena, event->to, 9);
  const char *times =
      event->count == 1 ? "once" : arena_print(r->arena, "%s times", log_count_text(r->arena, event->count));
  if (event->from == event->to)
    log_notes_add(&r->notes, kind, time_place(r, event->row), "time %s %s; first at %s s", what, times, to);
  else
    log_notes_add(&r->notes, kind, time_place(r, event->row), "time %s %s; first from %s s to %s s", what, times, from,
                  to);
}

static void note_rate(struct log_reader *r, double step, double duration, struct place place, const char *how)
{
  const char *rows = log_count_text(r->arena, r->rows.count), *plural = r->rows.count == 1 ? "" : "s";
  if (step > 0 && isfinite(1 / step))
    log_notes_add(&r->notes, LOG_NOTE_RATE, place, "%s row%s at %s Hz (%s), %s", rows, plural,
                  log_number_text(r->arena, 1 / step, 3), how, log_duration_text(r->arena, duration));
  else
    log_notes_add(&r->notes, LOG_NOTE_RATE, place, "%s row%s, %s", rows, plural, log_duration_text(r->arena, duration));
}

void log_check_rows(struct log_reader *r)
{
  check_widths(r);
  for (size_t i = 0; i < r->rows.plan.column_count; i++)
    check_cells(r, &r->rows.columns[i]);
  const struct log_column *time = r->rows.time;
  if (time != NULL && time->good == 0 && time->bad.count == 0) {
    problems_add(r->problems, time->place, "the time column is empty");
    problems_hint(r->problems, "fill it, or take it out and give the sample rate");
  }
}

void log_check_time(struct log_reader *r, const struct series *times)
{
  size_t count = r->rows.count;
  if (r->rows.time == NULL) {
    struct place place = log_place(&r->layout.text, r->layout.heading.at, r->layout.heading.end);
    r->step = count > 1 ? 1 / r->rate : 0;
    note_rate(r, 1 / r->rate, (double)(count - 1) / r->rate, place, "as given");
    return;
  }
  struct log_time time = log_time_survey(times, r->from_row, r->from_row + count);
  r->step = time.step;
  note_event(r, LOG_NOTE_TIME_BACKWARDS, &time.backwards, "runs backwards");
  note_event(r, LOG_NOTE_TIME_REPEATED, &time.repeated, "repeats");
  note_event(r, LOG_NOTE_GAP, &time.gap, "leaps by more than five usual steps");
  note_rate(r, time.step, time.duration, r->rows.time->place, "median");
}
