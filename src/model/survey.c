/* A log in numbers. Rows are taken in blocks, one channel after the other, so that a long log needs no more memory than
 * a short one. Reading order: survey_read, time_read, channel_read. */
#include "model/survey.h"

#include "base/exact.h"
#include "model/subject.h"

#include <math.h>
#include <stdlib.h>

#define BLOCK 4096
#define TABLE (2 * SURVEY_DISTINCT) /* places of the table of values: a power of two, at most half full */
/* A gap is a leap over this many usual steps; a stretch ends at one that is over STRETCH_SECONDS as well. */
#define GAP_STEPS 5
#define STRETCH_SECONDS 1.0

/* The values of one channel, each once. */
struct values {
  size_t count;
  bool more;           /* there was no room for all */
  bool has_zero;       /* 0 marks a free place of the table, and is kept here */
  double table[TABLE]; /* by hash */
  double items[SURVEY_DISTINCT];
};

struct reader {
  struct arena *arena;
  const struct log *log;
  const struct series *time;
  struct survey *survey;
  struct values *values;
  double at[BLOCK], time_at[BLOCK];
  uint8_t known[BLOCK], time_known[BLOCK];
};

static size_t hash_of(double value)
{
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  bits ^= bits >> 32;
  bits *= UINT64_C(0x9e3779b97f4a7c15);
  return (size_t)(bits >> 32) & (TABLE - 1);
}

static void values_add(struct values *values, double value)
{
  if (value == 0) {
    if (values->has_zero)
      return;
  } else {
    size_t place = hash_of(value);
    while (values->table[place] != 0) {
      if (values->table[place] == value)
        return;
      place = (place + 1) & (TABLE - 1);
    }
    if (values->count < SURVEY_DISTINCT)
      values->table[place] = value;
  }
  if (values->count == SURVEY_DISTINCT) {
    values->more = true;
    return;
  }
  values->has_zero = values->has_zero || value == 0;
  values->items[values->count++] = value;
}

static int compare_doubles(const void *a, const void *b)
{
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double least_difference(struct values *values)
{
  double least = 0;
  qsort(values->items, values->count, sizeof *values->items, compare_doubles);
  for (size_t i = 1; i < values->count; i++) {
    double difference = values->items[i] - values->items[i - 1];
    if (i == 1 || difference < least)
      least = difference;
  }
  return least;
}

/* Times of rows from .. to-1; a row whose time is missing stands at the time of the row before. */
static void times_read(struct reader *r, size_t from, size_t to, double *last)
{
  series_rows(r->time, from, to, r->time_at, r->time_known);
  for (size_t i = 0; i < to - from; i++) {
    if (r->time_known[i])
      *last = r->time_at[i];
    else
      r->time_at[i] = *last;
  }
}

/* Whether rules look at what stands on the two sides of a step as one. */
static bool hangs_together(const struct reader *r, double last, double next)
{
  double gap = fmax(STRETCH_SECONDS, GAP_STEPS * r->survey->step);
  return next >= last && next - last <= gap;
}

static void span_add(size_t *count, struct survey_span *spans, struct survey_span span)
{
  if (*count < SURVEY_KEPT)
    spans[*count] = span;
  ++*count;
}

/* The stretch in the making grows or ends. */
struct stretch {
  double start;
  size_t from;
};

static void stretch_end(struct reader *r, struct survey_span *stretches, const struct stretch *stretch, size_t to,
                        double end)
{
  struct survey *survey = r->survey;
  struct place place = survey->stretch_count < SURVEY_KEPT ? log_row_place(r->log, stretch->from) : PLACE_NONE;
  span_add(&survey->stretch_count, stretches, (struct survey_span){stretch->start, end, to - stretch->from, place});
}

static void step_read(struct reader *r, struct survey_span *gaps, size_t row, double last, double next)
{
  struct survey *survey = r->survey;
  double step = next - last;
  survey->backwards += step < 0;
  survey->repeated += step == 0;
  if (!(step > 0))
    return;
  survey->duration += step;
  survey->step_least = survey->step_least == 0 || step < survey->step_least ? step : survey->step_least;
  survey->step_greatest = step > survey->step_greatest ? step : survey->step_greatest;
  if (step > GAP_STEPS * survey->step)
    span_add(
        &survey->gap_count, gaps,
        (struct survey_span){last, next, 0, survey->gap_count < SURVEY_KEPT ? log_row_place(r->log, row) : PLACE_NONE});
}

static void time_read(struct reader *r)
{
  struct survey *survey = r->survey;
  struct survey_span *gaps = ARENA_ARRAY(r->arena, SURVEY_KEPT, struct survey_span);
  struct survey_span *stretches = ARENA_ARRAY(r->arena, SURVEY_KEPT, struct survey_span);
  struct stretch stretch = {0, 0};
  double last = 0, before = 0, end = 0;
  bool any = false;
  for (size_t from = 0; from < survey->rows; from += BLOCK) {
    size_t to = survey->rows - from < BLOCK ? survey->rows : from + BLOCK;
    times_read(r, from, to, &last);
    for (size_t i = 0; i < to - from; i++) {
      double now = r->time_at[i];
      if (from + i == 0)
        stretch.start = now;
      else if (!hangs_together(r, before, now)) {
        stretch_end(r, stretches, &stretch, from + i, before);
        stretch = (struct stretch){now, from + i};
      }
      if (r->time_known[i] && any)
        step_read(r, gaps, from + i, before, now);
      any = any || r->time_known[i];
      before = now;
      end = r->time_known[i] ? now : end;
    }
  }
  if (survey->rows > 0)
    stretch_end(r, stretches, &stretch, survey->rows, before);
  /* A clock that was set back: what ran forward is what was logged. Else the last time, which no sum has rounded. */
  if (survey->backwards == 0)
    survey->duration = end;
  survey->gaps = gaps;
  survey->stretches = stretches;
}

/* How long the channel has stood still. */
struct still {
  bool any;
  double value, since, last;
};

static void still_take(const struct reader *r, struct still *still, struct survey_channel *channel, double time,
                       double value)
{
  bool same = still->any && value == still->value && hangs_together(r, still->last, time);
  if (!same)
    *still = (struct still){true, value, time, time};
  still->last = time;
  channel->still = fmax(channel->still, time - still->since);
}

static void sample_take(struct survey_channel *channel, double time, double value)
{
  if (channel->known++ == 0) {
    channel->least = channel->greatest = value;
    channel->least_time = channel->greatest_time = time;
  }
  if (value < channel->least) {
    channel->least = value;
    channel->least_time = time;
  }
  if (value > channel->greatest) {
    channel->greatest = value;
    channel->greatest_time = time;
  }
}

static void samples_read(struct reader *r, const struct series *series, struct survey_channel *channel)
{
  struct exact sum = {{0}, 0, false}, count = {{0}, 0, false};
  struct still still = {false, 0, 0, 0};
  double last = 0;
  memset(r->values, 0, offsetof(struct values, items));
  for (size_t from = 0; from < r->survey->rows; from += BLOCK) {
    size_t to = r->survey->rows - from < BLOCK ? r->survey->rows : from + BLOCK;
    times_read(r, from, to, &last);
    series_rows(series, from, to, r->at, r->known);
    for (size_t i = 0; i < to - from; i++) {
      double value = r->at[i];
      if (!r->known[i])
        continue;
      if (!still.any || value != still.value)
        values_add(r->values, value);
      sample_take(channel, r->time_at[i], value);
      still_take(r, &still, channel, r->time_at[i], value);
      exact_add(&sum, value);
    }
  }
  exact_add(&count, (double)channel->known);
  if (channel->known > 0)
    channel->mean = exact_divide(&sum, &count);
  channel->distinct = r->values->count;
  channel->distinct_more = r->values->more;
  channel->resolution = least_difference(r->values);
}

/* What stands in a cell of the heading: in quotes, two of them mean one. */
static struct slice text_at(struct arena *arena, const struct sources *sources, struct place place)
{
  const struct source *source = sources_get(sources, place.source);
  if (source == NULL || place.end > source->bytes.size || place.start > place.end)
    return (struct slice){"", 0};
  struct slice text = slice_part(source->bytes, (size_t)place.start, (size_t)place.end);
  bool quoted = place.start > 0 && source->bytes.at[place.start - 1] == '"';
  if (!quoted || text.size == 0 || memchr(text.at, '"', text.size) == NULL)
    return text;
  char *copy = arena_alloc(arena, text.size);
  size_t size = 0;
  for (size_t i = 0; i < text.size; i++) {
    copy[size++] = text.at[i];
    i += text.at[i] == '"' && i + 1 < text.size && text.at[i + 1] == '"';
  }
  return (struct slice){copy, size};
}

static int compare_columns(const void *a, const void *b)
{
  const struct survey_channel *x = a, *y = b;
  if (x->place.start != y->place.start)
    return x->place.start < y->place.start ? -1 : 1;
  /* Several switches out of one column of bits. */
  size_t least = x->name.size < y->name.size ? x->name.size : y->name.size;
  int order = memcmp(x->name.at, y->name.at, least);
  return order != 0 ? order : (x->name.size > y->name.size) - (x->name.size < y->name.size);
}

static void channels_read(struct reader *r, const struct vocabulary *vocabulary, const struct sources *sources)
{
  size_t most = vocabulary->count[SCOPE_LOG];
  struct survey_channel *channels = ARENA_ARRAY(r->arena, most, struct survey_channel);
  for (size_t i = 0; i < most; i++) {
    const struct entry *entry = &vocabulary->entries[SCOPE_LOG][i];
    const struct value *value = r->log->values[i];
    if (value == NULL || &value->as.series == r->time)
      continue;
    struct survey_channel *channel = &channels[r->survey->channel_count++];
    channel->name = entry->name;
    channel->heading = text_at(r->arena, sources, value->place);
    channel->place = value->place;
    channel->unit = value->as.series.unit;
    channel->on_off = entry->on_off;
    samples_read(r, &value->as.series, channel);
  }
  qsort(channels, r->survey->channel_count, sizeof *channels, compare_columns);
  r->survey->channels = channels;
}

static void notes_read(struct reader *r, const struct sources *sources)
{
  const struct log *log = r->log;
  struct survey_note *notes = ARENA_ARRAY(r->arena, log->note_count + 1, struct survey_note);
  struct survey_unknown *unknown = ARENA_ARRAY(r->arena, log->note_count + 1, struct survey_unknown);
  for (size_t i = 0; i < log->note_count; i++) {
    const struct log_note *note = &log->notes[i];
    if (note->kind == LOG_NOTE_RATE) {
      r->survey->rate = note->text;
    } else if (note->kind == LOG_NOTE_UNKNOWN_COLUMN) {
      struct slice near = note->near != NULL ? note->near->name : (struct slice){"", 0};
      unknown[r->survey->unknown_count++] =
          (struct survey_unknown){text_at(r->arena, sources, note->place), near, note->place};
    } else {
      notes[r->survey->note_count++] = (struct survey_note){note->place, note->text};
    }
  }
  r->survey->notes = notes;
  r->survey->unknown = unknown;
}

struct survey *survey_read(struct arena *arena, const struct vocabulary *vocabulary, const struct log *log,
                           const struct sources *sources)
{
  const struct entry *time = vocabulary_find(vocabulary, SCOPE_LOG, slice_of("time"));
  struct survey *survey = ARENA_NEW(arena, struct survey);
  struct arena *scratch = arena_new();
  struct reader *r = ARENA_NEW(scratch, struct reader);
  r->arena = arena;
  r->log = log;
  r->time = &log->values[vocabulary_index(vocabulary, SCOPE_LOG, time)]->as.series;
  r->survey = survey;
  r->values = ARENA_NEW(scratch, struct values);
  survey->file = log->source->name;
  survey->rate = "";
  survey->rows = log->row_count;
  survey->step = log->step;
  time_read(r);
  channels_read(r, vocabulary, sources);
  notes_read(r, sources);
  arena_free(scratch);
  return survey;
}
