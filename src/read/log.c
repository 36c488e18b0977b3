/* Reads a data log, or several as one. Reading order: log_read_all; open_log (which channel is each column:
 * log_columns.c); read_rows (the rows themselves: log_rows.c; what is to be said about them: log_check.c); result.
 * Problems do not stop it before the end of the rows, so that a person sees them together. */
#include "read/log.h"

#include "base/processors.h"
#include "read/log_reader.h"
#include "read/log_time.h"

#include <math.h>
#include <stdint.h>

/* A thread has this much at a time: its numbers stay in the processor's cache. */
#define PIECE_BYTES ((size_t)512 * 1024)
/* Shorter logs are read before another thread has started. */
#define THREADS_FROM ((uint64_t)8 * 1024 * 1024)
/* Under so many rows plain arrays are quicker than packed columns. */
#define ARRAY_ROWS 65536
#define MEMORY_BYTES ((size_t)4 * 1024 * 1024)

/* Slots of the set: where each row stands, the time, then the other channels. */
enum { SLOT_PLACE, SLOT_TIME, SLOTS_FIXED };

struct reading {
  struct arena *arena;
  const struct vocabulary *vocabulary;
  const struct log_options *options;
  struct problems *problems;
  struct log_reader *logs;
  size_t count;
  size_t time;     /* index of the channel */
  size_t *slot_of; /* of each channel; 0: none */
  size_t slot_count;
  struct columns *set;
};

static void open_log(struct reading *reading, struct log_reader *log, const struct source *source,
                     struct arena *scratch, const struct log_names *names)
{
  const struct log_options *options = reading->options;
  *log = (struct log_reader){.arena = reading->arena,
                             .vocabulary = reading->vocabulary,
                             .source = source,
                             .options = options,
                             .problems = reading->problems,
                             .time = reading->time};
  log->notes.arena = reading->arena;
  log->rate = options->rate > 0 || options->adapter == NULL ? options->rate : adapter_rate(options->adapter);
  log->has_layout = log_layout_read(scratch, names, options->adapter, source, reading->problems, &log->layout);
  if (log->has_layout)
    log_columns_read(log, names);
}

/* A slot for each channel that some log has. */
static void assign_slots(struct reading *reading)
{
  reading->slot_of = ARENA_ARRAY(reading->arena, reading->vocabulary->count[SCOPE_LOG], size_t);
  reading->slot_of[reading->time] = SLOT_TIME;
  reading->slot_count = SLOTS_FIXED;
  for (size_t i = 0; i < reading->count; i++) {
    struct log_rows *rows = &reading->logs[i].rows;
    for (size_t k = 0; k < rows->plan.column_count; k++) {
      size_t *slot = &reading->slot_of[vocabulary_index(reading->vocabulary, SCOPE_LOG, rows->columns[k].entry)];
      if (*slot == 0)
        *slot = reading->slot_count++;
      rows->columns[k].slot = *slot;
    }
  }
}

static size_t thread_count(const struct log_options *options, uint64_t size)
{
  if (size < THREADS_FROM && options->piece_bytes == 0)
    return 1;
  return options->threads > 0 ? options->threads : processors_count();
}

static void scale_columns(struct reading *reading, const struct log_reader *log)
{
  for (size_t i = 0; i < log->rows.plan.column_count; i++) {
    const struct log_column *column = &log->rows.columns[i];
    bool as_written = column->kind == LOG_COLUMN_NUMBER && column->channel == NULL;
    /* That of the time is known with the first one. */
    if (column->kind != LOG_COLUMN_TIME)
      columns_scale(reading->set, column->slot, (struct column_scale){.unit = as_written ? column->unit : NULL});
  }
  if (log->rows.time == NULL)
    columns_scale(reading->set, SLOT_TIME, (struct column_scale){.rate = log->rate});
}

static void read_rows(struct reading *reading, struct log_reader *log)
{
  const struct log_options *options = reading->options;
  struct log_rows *rows = &log->rows;
  struct log_plan *plan = &rows->plan;
  rows->arena = reading->arena;
  rows->set = reading->set;
  rows->problems = reading->problems;
  rows->notes = &log->notes;
  rows->piece_bytes = options->piece_bytes > 0 ? options->piece_bytes : PIECE_BYTES;
  rows->threads = thread_count(options, log->layout.end);
  plan->source = log->source;
  plan->layout = &log->layout;
  plan->marker = csv_marker_best();
  plan->taker = csv_taker_best();
  plan->columns = rows->columns;
  plan->slot_count = reading->slot_count;
  plan->has_time = rows->time != NULL;
  plan->count_slot = plan->has_time ? 0 : SLOT_TIME;
  log->from_row = columns_rows(reading->set);
  scale_columns(reading, log);
  if (!log_rows_read(rows))
    return;
  if (rows->count == 0)
    problems_add(reading->problems, log_place(&log->layout.text, log->layout.heading.at, log->layout.heading.end),
                 "the log has no rows below its heading");
  else
    log_check_rows(log);
}

static struct series packed_series(const struct reading *reading, size_t slot, const struct unit *unit)
{
  const struct column *column = columns_get(reading->set, slot);
  return (struct series){
      .count = columns_rows(reading->set), .unit = unit, .column = column, .largest = column_largest(column)};
}

/* Small ones are quicker to use as arrays. */
static void make_arrays(struct arena *arena, struct series *series)
{
  double *at = ARENA_ARRAY(arena, series->count, double);
  uint8_t *known = arena_alloc(arena, series->count);
  bool all = series_rows(series, 0, series->count, at, known);
  series->at = at;
  series->known = all ? NULL : known;
  series->column = NULL;
}

static const struct value *value_of(const struct reading *reading, size_t slot, const struct unit *unit,
                                    struct place place)
{
  size_t most = reading->options->array_rows > 0 ? reading->options->array_rows : ARRAY_ROWS;
  struct value *value = ARENA_NEW(reading->arena, struct value);
  value->kind = VALUE_SERIES;
  value->place = place;
  value->as.series = packed_series(reading, slot, unit);
  if (value->as.series.count < most)
    make_arrays(reading->arena, &value->as.series);
  return value;
}

/* The time of a log that has no such column, or whose column is a clock, is in seconds. */
static const struct value *time_value(const struct reading *reading)
{
  const struct log_reader *log = &reading->logs[0];
  const struct log_column *column = log->rows.time;
  const struct unit *unit = reading->vocabulary->entries[SCOPE_LOG][reading->time].unit;
  if (column == NULL)
    return value_of(reading, SLOT_TIME, unit,
                    log_place(&log->layout.text, log->layout.heading.at, log->layout.heading.end));
  unit = log->rows.state.clock.form == LOG_TIME_NUMBER ? column->unit
         : log->rows.has_first                         ? unit_find(slice_of("s"))
                                                       : column->unit;
  return value_of(reading, SLOT_TIME, unit, column->place);
}

static const struct value **values_of(const struct reading *reading)
{
  const struct value **values =
      ARENA_ARRAY(reading->arena, reading->vocabulary->count[SCOPE_LOG], const struct value *);
  values[reading->time] = time_value(reading);
  for (size_t i = 0; i < reading->count; i++) {
    const struct log_rows *rows = &reading->logs[i].rows;
    for (size_t k = 0; k < rows->plan.column_count; k++) {
      const struct log_column *column = &rows->columns[k];
      const struct value **value = &values[vocabulary_index(reading->vocabulary, SCOPE_LOG, column->entry)];
      if (*value == NULL)
        *value = value_of(reading, column->slot, column->unit, column->place);
    }
  }
  return values;
}

static void join_notes(const struct reading *reading, struct log *log)
{
  size_t count = 0;
  for (size_t i = 0; i < reading->count; i++) {
    struct log_reader *from = &reading->logs[i];
    uint64_t end = source_size(from->source);
    log_notes_finish(&from->notes, (struct place){from->source->id, end, end});
    log->note_count += from->notes.count;
  }
  struct log_note *notes = ARENA_ARRAY(reading->arena, log->note_count, struct log_note);
  for (size_t i = 0; i < reading->count; i++) {
    const struct log_notes *from = &reading->logs[i].notes;
    if (from->count > 0)
      memcpy(notes + count, from->items, from->count * sizeof *notes);
    count += from->count;
  }
  log->notes = notes;
}

static const struct log *result(struct reading *reading)
{
  struct log *log = ARENA_NEW(reading->arena, struct log);
  struct log_part *parts = ARENA_ARRAY(reading->arena, reading->count, struct log_part);
  bool *present = ARENA_ARRAY(reading->arena, reading->vocabulary->count[SCOPE_LOG], bool);
  struct series times = packed_series(reading, SLOT_TIME, NULL);
  for (size_t i = 0; i < reading->count; i++) {
    struct log_reader *from = &reading->logs[i];
    log_check_time(from, &times);
    parts[i] = (struct log_part){from->source, from->from_row, from->rows.rows_end, from->step};
    for (size_t k = 0; k < reading->vocabulary->count[SCOPE_LOG]; k++)
      present[k] = present[k] || from->present[k];
    log->column_count += from->layout.column_count;
    log->decoded_count += from->rows.plan.column_count;
  }
  present[reading->time] = true;
  log->source = parts[0].source;
  log->parts = parts;
  log->part_count = reading->count;
  log->values = values_of(reading);
  log->present = present;
  log->row_count = times.count;
  log->row_at = columns_get(reading->set, SLOT_PLACE);
  log->step = reading->count == 1 ? reading->logs[0].step : log_time_survey(&times, 0, times.count).step;
  join_notes(reading, log);
  return log;
}

const struct log *log_read_all(struct arena *arena, const struct vocabulary *vocabulary,
                               const struct source *const *sources, size_t count, const struct log_options *options,
                               struct problems *problems)
{
  struct reading reading = {
      .arena = arena, .vocabulary = vocabulary, .options = options, .problems = problems, .count = count};
  size_t before = problems->count + problems->dropped;
  const struct entry *time = vocabulary_find(vocabulary, SCOPE_LOG, slice_of("time"));
  if (time == NULL || time->unit == NULL) {
    problems_add(problems, (struct place){sources[0]->id, 0, 0}, "the dictionary has no log channel 'time'");
    return NULL;
  }
  reading.time = vocabulary_index(vocabulary, SCOPE_LOG, time);
  reading.logs = ARENA_ARRAY(arena, count, struct log_reader);
  struct arena *scratch = arena_new();
  const struct log_names *names = log_names_new(scratch, vocabulary);
  for (size_t i = 0; i < count; i++)
    open_log(&reading, &reading.logs[i], sources[i], scratch, names);
  assign_slots(&reading);
  size_t memory = options->memory_bytes > 0 ? options->memory_bytes : MEMORY_BYTES;
  reading.set = columns_new(arena, reading.slot_count, memory);
  for (size_t i = 0; i < count; i++) {
    if (reading.logs[i].has_layout)
      read_rows(&reading, &reading.logs[i]);
  }
  bool good = problems->count + problems->dropped == before;
  const struct log *log = good ? result(&reading) : NULL;
  arena_free(scratch);
  return log;
}

const struct log *log_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                           const struct log_options *options, struct problems *problems)
{
  return log_read_all(arena, vocabulary, &source, 1, options, problems);
}
