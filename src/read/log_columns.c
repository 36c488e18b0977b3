/* The columns of a log: which channel is each, in which unit. Reading order: log_columns_read, read_column,
 * take_column.
 */
#include "read/log_notes.h"
#include "read/log_reader.h"
#include "text/utf8.h"

#include <math.h>
#include <stdint.h>

/* Looking for the nearest name takes a moment for each. */
#define HINTS_MOST 64
/* From a sample in eleven days to more than any data bus carries. */
#define RATE_LEAST 1e-6
#define RATE_MOST 1e9

static struct place cell_place(const struct log_reader *r, const struct csv_cell *cell)
{
  struct slice text = csv_text(cell);
  return log_place(&r->layout.text, text.at, text.at + text.size);
}

/* The part's own place where it was not rewritten. */
static struct place part_place(const struct log_reader *r, const struct csv_cell *cell, struct slice part)
{
  if (part.size == 0 || cell->doubled)
    return cell_place(r, cell);
  return log_place(&r->layout.text, part.at, part.at + part.size);
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

static void refuse_unit(struct log_reader *r, const struct entry *entry, struct place place, const struct unit *got)
{
  struct arena *arena = r->problems->arena;
  problems_add(r->problems, place, "'%s' is %s, but '%.*s' is %s (in %s)", got->name,
               dimension_name(arena, got->dimension, got->sense), SLICE_ARG(entry->name),
               dimension_name(arena, entry->unit->dimension, entry->unit->sense), entry->unit->name);
  const char *hint = unit_mismatch_hint(arena, got, entry->unit);
  if (hint != NULL)
    problems_hint(r->problems, "%s", hint);
}

static const struct unit *read_unit(struct log_reader *r, const struct entry *entry, struct slice text,
                                    struct place place)
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

static void note_unknown(struct log_reader *r, const struct log_names *names, const struct csv_cell *cell,
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

static enum log_column_kind column_kind(const struct log_reader *r, size_t channel)
{
  if (channel == r->time)
    return LOG_COLUMN_TIME;
  return r->vocabulary->entries[SCOPE_LOG][channel].on_off ? LOG_COLUMN_SWITCH : LOG_COLUMN_NUMBER;
}

/* A unit written in the heading, else in the row of units. */
static struct slice written_unit(const struct log_reader *r, size_t index, struct slice in_heading, struct place *place)
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
static void take_column(struct log_reader *r, size_t index, struct slice text, struct slice unit_text,
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
  struct log_column *column = &r->rows.columns[r->rows.plan.column_count++];
  *column = (struct log_column){.index = index, .entry = entry, .unit = unit, .channel = how, .place = place};
  column->kind = column_kind(r, channel);
  if (channel == r->time)
    r->rows.time = column;
}

/* One column holds several switches when it holds bits. */
static bool take_by_adapter(struct log_reader *r, size_t index, struct slice text, struct slice unit_text)
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

static void read_column(struct log_reader *r, size_t index, const struct log_names *names)
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

static void take_columns(struct log_reader *r, const struct log_names *names)
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

static void check_rate(struct log_reader *r)
{
  double rate = r->rate;
  struct place place = log_place(&r->layout.text, r->layout.heading.at, r->layout.heading.end);
  if (r->rows.time != NULL)
    return;
  if (rate == 0) {
    problems_add(r->problems, place, "the log has no time column");
    problems_hint(r->problems, "name one 'time', or give the sample rate");
  } else if (!(rate >= RATE_LEAST && rate <= RATE_MOST)) {
    problems_add(r->problems, place, "%s samples a second is no sample rate",
                 log_number_text(r->problems->arena, rate, 6));
  }
}

void log_columns_read(struct log_reader *r, const struct log_names *names)
{
  take_columns(r, names);
  check_rate(r);
}
