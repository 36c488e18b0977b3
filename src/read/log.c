/* Reads a data log. Reading order: log_read; read_columns (which channel is each column, in which unit); log_rows.c
 * (the rows themselves); then what is to be said about columns, rows and time. Problems do not stop it before the end
 * of the rows, so that a person sees them together. */
#include "read/log.h"

#include "read/log_layout.h"
#include "read/log_notes.h"
#include "read/log_rows.h"
#include "read/log_time.h"
#include "text/utf8.h"

#include <math.h>
#include <stdint.h>

/* Looking for the nearest name takes a moment for each. */
#define HINTS_MOST 64
/* From a sample in eleven days to more than any data bus carries. */
#define RATE_LEAST 1e-6
#define RATE_MOST 1e9

struct reader {
  struct arena *arena;
  const struct vocabulary *vocabulary;
  const struct source *source;
  const struct log_options *options;
  struct problems *problems;
  struct log_notes notes;
  struct log_layout layout;
  struct log_rows rows;
  size_t time; /* index of the channel */
  double rate;
  double step; /* median, seconds */
  bool *present;
  bool *claimed;            /* channels that the adapter has found */
  bool *by_adapter;         /* one a column of the heading */
  struct place *places;     /* of each channel's heading */
  struct slice *heading_of; /* its text */
  struct log_column *time_column;
  size_t unknown_count;
};

static struct place cell_place(const struct reader *r, const struct csv_cell *cell)
{
  struct slice text = csv_text(cell);
  return log_place(r->source, text.at, text.at + text.size);
}

/* The part's own place where it was not rewritten. */
static struct place part_place(const struct reader *r, const struct csv_cell *cell, struct slice part)
{
  if (part.size == 0 || cell->doubled)
    return cell_place(r, cell);
  return log_place(r->source, part.at, part.at + part.size);
}

static bool is_utf8(struct slice text)
{
  uint32_t code = 0;
  while (text.size > 0) {
    size_t used = utf8_read(text, &code);
    if (used == 0)
      return false;
    text = slice_part(text, used, text.size);
  }
  return true;
}

static void refuse_unit(struct reader *r, const struct entry *entry, struct place place, const struct unit *got)
{
  struct arena *arena = r->problems->arena;
  problems_add(r->problems, place, "'%s' is %s, but '%.*s' is %s (in %s)", got->name,
               dimension_name(arena, got->dimension, got->sense), SLICE_ARG(entry->name),
               dimension_name(arena, entry->unit->dimension, entry->unit->sense), entry->unit->name);
  const char *hint = unit_mismatch_hint(arena, got, entry->unit);
  if (hint != NULL)
    problems_hint(r->problems, "%s", hint);
}

static const struct unit *read_unit(struct reader *r, const struct entry *entry, struct slice text, struct place place)
{
  const struct unit *own = entry->unit != NULL ? entry->unit : unit_find(slice_of("1"));
  const char *why = NULL;
  bool is_time = vocabulary_index(r->vocabulary, SCOPE_LOG, entry) == r->time;
  if (log_cell_is_missing(text) || (is_time && log_names_is_clock(text)))
    return own;
  const struct unit *unit = r->options->adapter != NULL ? adapter_unit_find(r->options->adapter, r->arena, text, &why)
                                                        : unit_read(r->arena, text, &why);
  if (unit != NULL && unit_agrees(unit, own))
    return unit;
  if (unit != NULL && entry->unit != NULL) {
    refuse_unit(r, entry, place, unit);
  } else if (unit == NULL && !is_utf8(text)) {
    problems_add(r->problems, place, "the unit of '%.*s' is not UTF-8 (Latin-1?)", SLICE_ARG(entry->name));
    problems_hint(r->problems, "save the log as UTF-8");
  } else {
    problems_add(r->problems, place, "'%.*s': %s", SLICE_ARG(entry->name), unit == NULL ? why : "takes no unit");
  }
  return own;
}

static void note_unknown(struct reader *r, const struct log_names *names, const struct csv_cell *cell,
                         struct slice text, struct slice name)
{
  const struct entry *near = NULL;
  if (r->unknown_count++ < HINTS_MOST)
    near = log_names_nearest(names, name);
  const char *shown = log_shown(r->arena, text);
  if (near != NULL)
    log_notes_add(&r->notes, LOG_NOTE_UNKNOWN_COLUMN, cell_place(r, cell),
                  "column '%s' is no channel that is known; the nearest is '%.*s'", shown, SLICE_ARG(near->name));
  else
    log_notes_add(&r->notes, LOG_NOTE_UNKNOWN_COLUMN, cell_place(r, cell), "column '%s' is no channel that is known",
                  shown);
  r->notes.items[r->notes.count - 1].near = near;
}

static enum log_column_kind column_kind(const struct reader *r, size_t channel)
{
  if (channel == r->time)
    return LOG_COLUMN_TIME;
  return r->vocabulary->entries[SCOPE_LOG][channel].on_off ? LOG_COLUMN_SWITCH : LOG_COLUMN_NUMBER;
}

/* A unit written in the heading, else in the row of units. */
static struct slice written_unit(const struct reader *r, size_t index, struct slice in_heading, struct place *place)
{
  const struct csv_cell *cell = &r->layout.names[index];
  *place = part_place(r, cell, in_heading);
  if (in_heading.size > 0 || index >= r->layout.unit_count)
    return in_heading;
  const struct csv_cell *below = &r->layout.units[index];
  struct slice unit = log_names_bare_unit(csv_text(below));
  *place = part_place(r, below, unit);
  return unit;
}

/* `how` NULL: no adapter reads it. */
static void take_column(struct reader *r, size_t index, struct slice text, struct slice unit_text,
                        const struct entry *entry, const struct adapter_channel *how)
{
  size_t channel = vocabulary_index(r->vocabulary, SCOPE_LOG, entry);
  struct place place = cell_place(r, &r->layout.names[index]), unit_place;
  if (r->present[channel]) {
    problems_add(r->problems, place, "two columns are '%.*s': '%.*s' and '%.*s'", SLICE_ARG(entry->name),
                 SLICE_ARG(r->heading_of[channel]), SLICE_ARG(text));
    problems_hint(r->problems, "take one of them out, or give it a name of its own");
    return;
  }
  r->present[channel] = true;
  r->heading_of[channel] = text;
  r->places[channel] = place;
  const struct unit *unit = how != NULL ? how->unit : NULL;
  unit_text = written_unit(r, index, unit_text, &unit_place);
  if (how != NULL && (how->bit >= 0 || how->word_count > 0))
    unit = unit != NULL ? unit : entry->unit;
  if (unit == NULL)
    unit = read_unit(r, entry, unit_text, unit_place);
  if (channel != r->time && r->options->wanted != NULL && !r->options->wanted[channel])
    return;
  struct log_column *column = &r->rows.columns[r->rows.column_count++];
  *column = (struct log_column){.index = index, .entry = entry, .unit = unit, .channel = how, .place = place};
  column->kind = column_kind(r, channel);
  if (channel == r->time)
    r->time_column = column;
}

/* One column holds several switches when it holds bits. */
static bool take_by_adapter(struct reader *r, size_t index, struct slice text, struct slice unit_text)
{
  const struct adapter_channel *how;
  size_t next = 0;
  bool taken = false;
  while ((how = adapter_channel(r->options->adapter, text, &next)) != NULL) {
    take_column(r, index, text, unit_text, how->entry, how);
    taken = true;
  }
  return taken;
}

static void read_column(struct reader *r, size_t index, const struct log_names *names)
{
  const struct csv_cell *cell = &r->layout.names[index];
  struct slice text = csv_decode(r->arena, cell);
  struct log_heading heading = log_names_read(names, text);
  const struct adapter *adapter = r->options->adapter;
  if (text.size == 0 || r->by_adapter[index])
    return;
  if (adapter != NULL && adapter_only(adapter))
    return;
  if (heading.entry == NULL) {
    note_unknown(r, names, cell, text, heading.name);
    return;
  }
  /* The adapter's column is the one that is meant, also where another is called like the channel. */
  if (adapter != NULL && r->claimed[vocabulary_index(r->vocabulary, SCOPE_LOG, heading.entry)])
    return;
  take_column(r, index, text, heading.unit, heading.entry, NULL);
}

static void read_columns(struct reader *r, const struct log_names *names)
{
  size_t channels = r->vocabulary->count[SCOPE_LOG], columns = r->layout.column_count;
  r->present = ARENA_ARRAY(r->arena, channels, bool);
  r->claimed = ARENA_ARRAY(r->arena, channels, bool);
  r->by_adapter = ARENA_ARRAY(r->arena, columns, bool);
  r->places = ARENA_ARRAY(r->arena, channels, struct place);
  r->heading_of = ARENA_ARRAY(r->arena, channels, struct slice);
  r->rows.columns = ARENA_ARRAY(r->arena, channels, struct log_column);
  for (size_t i = 0; r->options->adapter != NULL && i < columns; i++) {
    struct slice text = csv_decode(r->arena, &r->layout.names[i]);
    r->by_adapter[i] = take_by_adapter(r, i, text, log_names_read(names, text).unit);
  }
  memcpy(r->claimed, r->present, channels * sizeof *r->claimed);
  for (size_t i = 0; i < columns; i++)
    read_column(r, i, names);
}

static void check_rate(struct reader *r)
{
  double rate = r->rate;
  struct place place = log_place(r->source, r->layout.heading.at, r->layout.heading.end);
  if (r->time_column != NULL)
    return;
  if (rate == 0) {
    problems_add(r->problems, place, "the log has no time column");
    problems_hint(r->problems, "name one 'time', or give the sample rate");
  } else if (!(rate >= RATE_LEAST && rate <= RATE_MOST)) {
    problems_add(r->problems, place, "%s samples a second is no sample rate",
                 log_number_text(r->problems->arena, rate, 6));
  }
}

static void check_cells(struct reader *r, const struct log_column *column)
{
  if (column->bad == 0)
    return;
  const char *what = column->kind == LOG_COLUMN_SWITCH ? "neither on nor off"
                     : column->kind == LOG_COLUMN_TIME ? "not a time"
                                                       : "not a number";
  struct slice first = {r->source->bytes.at + column->first_bad.start,
                        (size_t)(column->first_bad.end - column->first_bad.start)};
  const char *count = log_count_text(r->arena, column->bad), *shown = log_shown(r->arena, first);
  const char *all = log_count_text(r->arena, column->bad + column->good);
  if (column->bad > column->good)
    problems_add(r->problems, column->first_bad, "'%.*s': %s of %s cells %s; the first is '%s'",
                 SLICE_ARG(column->entry->name), count, all, what, shown);
  else
    log_notes_add(&r->notes, LOG_NOTE_BAD_CELLS, column->first_bad,
                  "'%.*s': %s of %s cells %s, taken as missing; the first is '%s'", SLICE_ARG(column->entry->name),
                  count, all, what, shown);
}

static void check_rows(struct reader *r)
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
static struct place time_place(struct reader *r, size_t row)
{
  struct csv_cell *cells = ARENA_ARRAY(r->arena, r->layout.column_count, struct csv_cell);
  struct csv_row again;
  csv_read(&r->layout.csv, r->source->bytes.at + r->rows.at[row], cells, r->layout.column_count, &again);
  return cell_place(r, &cells[r->time_column->index]);
}

static void note_event(struct reader *r, enum log_note_kind kind, const struct log_event *event, const char *what)
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

static void note_rate(struct reader *r, double step, double duration, struct place place, const char *how)
{
  const char *rows = log_count_text(r->arena, r->rows.count), *plural = r->rows.count == 1 ? "" : "s";
  if (step > 0 && isfinite(1 / step))
    log_notes_add(&r->notes, LOG_NOTE_RATE, place, "%s row%s at %s Hz (%s), %s", rows, plural,
                  log_number_text(r->arena, 1 / step, 3), how, log_duration_text(r->arena, duration));
  else
    log_notes_add(&r->notes, LOG_NOTE_RATE, place, "%s row%s, %s", rows, plural, log_duration_text(r->arena, duration));
}

static void read_time(struct reader *r)
{
  struct log_column *column = r->time_column;
  if (column->good == 0 && column->bad == 0) {
    problems_add(r->problems, column->place, "the time column is empty");
    problems_hint(r->problems, "fill it, or take it out and give the sample rate");
  }
  if (column->good == 0)
    return;
  const struct unit *unit = r->rows.clock.form == LOG_TIME_NUMBER ? column->unit : unit_find(slice_of("s"));
  log_time_settle(column->at, column->known, r->rows.count, unit);
  column->unit = unit;
  struct log_time time = log_time_survey(column->at, column->known, r->rows.count);
  r->step = time.step;
  note_event(r, LOG_NOTE_TIME_BACKWARDS, &time.backwards, "runs backwards");
  note_event(r, LOG_NOTE_TIME_REPEATED, &time.repeated, "repeats");
  note_event(r, LOG_NOTE_GAP, &time.gap, "leaps by more than five usual steps");
  note_rate(r, time.step, time.duration, column->place, "median");
}

static struct series series_of(size_t count, const double *at, const uint8_t *known, const struct unit *unit)
{
  struct series series = {.count = count, .at = at, .known = known, .unit = unit};
  for (size_t i = 0; i < count; i++) {
    if ((known == NULL || known[i]) && fabs(at[i]) > series.largest)
      series.largest = fabs(at[i]);
  }
  return series;
}

static const struct value *time_from_rate(struct reader *r)
{
  size_t count = r->rows.count;
  double rate = r->rate, *at = ARENA_ARRAY(r->arena, count, double);
  for (size_t i = 0; i < count; i++)
    at[i] = (double)i / rate;
  struct value *value = ARENA_NEW(r->arena, struct value);
  value->kind = VALUE_SERIES;
  value->place = log_place(r->source, r->layout.heading.at, r->layout.heading.end);
  value->as.series = series_of(count, at, NULL, r->vocabulary->entries[SCOPE_LOG][r->time].unit);
  r->step = count > 1 ? 1 / rate : 0;
  note_rate(r, 1 / rate, at[count - 1], value->place, "as given");
  return value;
}

static void read_rows(struct reader *r)
{
  struct log_rows *rows = &r->rows;
  rows->arena = r->arena;
  rows->source = r->source;
  rows->layout = &r->layout;
  rows->problems = r->problems;
  rows->notes = &r->notes;
  rows->has_time = r->time_column != NULL;
  rows->point = r->layout.point;
  if (!log_rows_read(rows))
    return;
  if (rows->count == 0) {
    problems_add(r->problems, log_place(r->source, r->layout.heading.at, r->layout.heading.end),
                 "the log has no rows below its heading");
    return;
  }
  check_rows(r);
  for (size_t i = 0; i < rows->column_count; i++)
    check_cells(r, &rows->columns[i]);
  if (r->time_column != NULL)
    read_time(r);
}

static const struct log *result(struct reader *r)
{
  const struct value **values = ARENA_ARRAY(r->arena, r->vocabulary->count[SCOPE_LOG], const struct value *);
  for (size_t i = 0; i < r->rows.column_count; i++) {
    const struct log_column *column = &r->rows.columns[i];
    struct value *value = ARENA_NEW(r->arena, struct value);
    value->kind = VALUE_SERIES;
    value->place = column->place;
    value->as.series = series_of(r->rows.count, column->at, column->known, column->unit);
    values[vocabulary_index(r->vocabulary, SCOPE_LOG, column->entry)] = value;
  }
  if (r->time_column == NULL)
    values[r->time] = time_from_rate(r);
  r->present[r->time] = true;
  const char *end = r->source->bytes.at + r->source->bytes.size;
  log_notes_finish(&r->notes, log_place(r->source, end, end));
  struct log_part *part = ARENA_NEW(r->arena, struct log_part);
  *part = (struct log_part){.source = r->source, .end = r->rows.at[r->rows.count]};
  struct log *log = ARENA_NEW(r->arena, struct log);
  *log = (struct log){.source = r->source,
                      .parts = part,
                      .part_count = 1,
                      .values = values,
                      .present = r->present,
                      .row_count = r->rows.count,
                      .row_at = r->rows.at,
                      .step = r->step,
                      .column_count = r->layout.column_count,
                      .decoded_count = r->rows.column_count,
                      .note_count = r->notes.count,
                      .notes = r->notes.items};
  return log;
}

const struct log *log_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                           const struct log_options *options, struct problems *problems)
{
  struct reader r = {.arena = arena, .vocabulary = vocabulary, .source = source, .options = options};
  r.problems = problems;
  r.notes.arena = arena;
  r.rate = options->rate > 0 || options->adapter == NULL ? options->rate : adapter_rate(options->adapter);
  size_t before = problems->count + problems->dropped;
  const struct entry *time = vocabulary_find(vocabulary, SCOPE_LOG, slice_of("time"));
  if (time == NULL || time->unit == NULL) {
    problems_add(problems, (struct place){source->id, 0, 0}, "the dictionary has no log channel 'time'");
    return NULL;
  }
  r.time = vocabulary_index(vocabulary, SCOPE_LOG, time);
  struct arena *scratch = arena_new();
  const struct log_names *names = log_names_new(scratch, vocabulary);
  const struct log *log = NULL;
  if (log_layout_read(scratch, names, options->adapter, source, problems, &r.layout)) {
    read_columns(&r, names);
    check_rate(&r);
    read_rows(&r);
    if (problems->count + problems->dropped == before)
      log = result(&r);
  }
  arena_free(scratch);
  return log;
}
