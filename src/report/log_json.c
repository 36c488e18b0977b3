/* The summary of a log as JSON: one object on one line. Values of channels are in the channel's unit, times in seconds.
 * Reading order: report_log_json at the end, then upwards. */
#include "report/object.h"

static void put_time(struct writer *writer, json_t *object, const char *key, bool known, double seconds)
{
  object_put(writer, object, key, known ? object_real(seconds) : json_null());
}

static void put_slice(struct writer *writer, json_t *object, const char *key, struct slice text)
{
  object_put(writer, object, key, object_text(writer, text));
}

/* A difference of two values, which has no offset. */
static double difference_in(const struct unit *unit, double difference)
{
  return difference / unit->factor;
}

static json_t *channel_of(struct writer *writer, const struct survey *survey, const struct survey_channel *channel)
{
  json_t *object = json_object();
  const struct unit *unit = channel->unit;
  bool any = channel->known > 0;
  struct quantity least = {channel->least, unit}, mean = {channel->mean, unit}, greatest = {channel->greatest, unit};
  put_slice(writer, object, "name", channel->name);
  put_slice(writer, object, "heading", channel->heading);
  object_put_place(writer, object, channel->place);
  object_put_unit(writer, object, "unit", channel->on_off ? NULL : unit);
  object_put_text(writer, object, "unit_ucum", channel->on_off ? NULL : unit->ucum);
  object_put(writer, object, "switch", json_boolean(channel->on_off));
  object_put_count(writer, object, "known", channel->known);
  object_put(writer, object, "share", object_real((double)channel->known / (double)survey->rows));
  object_put_quantity(writer, object, "least", any ? &least : NULL, unit);
  put_time(writer, object, "least_at", any, channel->least_time);
  object_put_quantity(writer, object, "mean", any ? &mean : NULL, unit);
  object_put_quantity(writer, object, "greatest", any ? &greatest : NULL, unit);
  put_time(writer, object, "greatest_at", any, channel->greatest_time);
  object_put_count(writer, object, "values", channel->distinct);
  object_put(writer, object, "more_values", json_boolean(channel->distinct_more));
  object_put(writer, object, "resolution",
             channel->distinct > 1 ? object_real(difference_in(unit, channel->resolution)) : json_null());
  object_put(writer, object, "frozen", json_boolean(channel->known > 1 && channel->distinct == 1));
  put_time(writer, object, "longest_still", any, channel->still);
  return object;
}

static json_t *spans_of(struct writer *writer, size_t count, const struct survey_span *spans, bool rows)
{
  json_t *array = json_array();
  for (size_t i = 0; i < count && i < SURVEY_KEPT; i++) {
    json_t *object = json_object();
    put_time(writer, object, "start", true, spans[i].start);
    put_time(writer, object, "end", true, spans[i].end);
    if (rows)
      object_put_count(writer, object, "rows", spans[i].rows);
    object_put_place(writer, object, spans[i].place);
    object_append(writer, array, object);
  }
  return array;
}

static json_t *phase_of(struct writer *writer, const struct survey_phase *phase)
{
  json_t *object = json_object();
  put_slice(writer, object, "phase", phase->name);
  object_put_text(writer, object, "title", phase->title);
  put_time(writer, object, "duration", phase->known, phase->duration);
  object_put(writer, object, "stretches", phase->known ? json_integer((json_int_t)phase->stretches) : json_null());
  put_time(writer, object, "longest", phase->known, phase->longest);
  put_time(writer, object, "rules_need", phase->has_least, phase->least);
  object_put(writer, object, "missing", object_texts(writer, phase->missing_count, phase->missing));
  return object;
}

static json_t *axis_of(struct writer *writer, const struct axis *axis)
{
  json_t *array = json_array();
  for (size_t i = 0; i < axis->count; i++)
    object_append(writer, array, object_real(unit_from_base(axis->unit, axis->at[i])));
  return array;
}

static json_t *visits_of(struct writer *writer, const struct survey_visits *visits)
{
  json_t *object = json_object(), *rows = json_array();
  const struct table *table = visits->table;
  put_slice(writer, object, "table", visits->name);
  object_put_unit(writer, object, "x_unit", table ? table->x.unit : NULL);
  object_put_unit(writer, object, "y_unit", table ? table->y.unit : NULL);
  object_put(writer, object, "x", table ? axis_of(writer, &table->x) : json_array());
  object_put(writer, object, "y", table ? axis_of(writer, &table->y) : json_array());
  for (size_t row = 0; table != NULL && row < table->y.count; row++) {
    json_t *times = json_array();
    for (size_t column = 0; column < table->x.count; column++)
      object_append(writer, times, object_real(visits->time[row * table->x.count + column]));
    object_append(writer, rows, times);
  }
  object_put(writer, object, "time", rows);
  object_put(writer, object, "missing", object_texts(writer, visits->missing_count, visits->missing));
  return object;
}

static json_t *unknown_of(struct writer *writer, const struct survey_unknown *unknown)
{
  json_t *object = json_object();
  put_slice(writer, object, "heading", unknown->heading);
  object_put_place(writer, object, unknown->place);
  object_put(writer, object, "nearest", unknown->near.size > 0 ? object_text(writer, unknown->near) : json_null());
  return object;
}

static json_t *note_of(struct writer *writer, const struct survey_note *note)
{
  json_t *object = json_object();
  object_put_place(writer, object, note->place);
  object_put_text(writer, object, "text", note->text);
  return object;
}

static void put_time_line(struct writer *writer, json_t *object, const struct survey *survey)
{
  bool steps = survey->step > 0;
  json_t *step = json_object();
  object_put_count(writer, object, "rows", survey->rows);
  put_time(writer, object, "duration", true, survey->duration);
  object_put(writer, object, "rate", steps ? object_real(1 / survey->step) : json_null());
  put_time(writer, step, "median", steps, survey->step);
  put_time(writer, step, "least", steps, survey->step_least);
  put_time(writer, step, "greatest", steps, survey->step_greatest);
  object_put(writer, object, "step", step);
  object_put_count(writer, object, "backwards", survey->backwards);
  object_put_count(writer, object, "repeated", survey->repeated);
  object_put_count(writer, object, "gap_count", survey->gap_count);
  object_put(writer, object, "gaps", spans_of(writer, survey->gap_count, survey->gaps, false));
  object_put_count(writer, object, "stretch_count", survey->stretch_count);
  object_put(writer, object, "stretches", spans_of(writer, survey->stretch_count, survey->stretches, true));
}

static void put_survey(struct writer *writer, json_t *object, const struct survey *survey)
{
  json_t *channels = json_array(), *unknown = json_array(), *phases = json_array(), *notes = json_array(),
         *visits = json_array();
  put_time_line(writer, object, survey);
  for (size_t i = 0; i < survey->channel_count; i++)
    object_append(writer, channels, channel_of(writer, survey, &survey->channels[i]));
  for (size_t i = 0; i < survey->unknown_count; i++)
    object_append(writer, unknown, unknown_of(writer, &survey->unknown[i]));
  for (size_t i = 0; i < survey->phase_count; i++)
    object_append(writer, phases, phase_of(writer, &survey->phases[i]));
  for (size_t i = 0; i < survey->visits_count; i++)
    object_append(writer, visits, visits_of(writer, &survey->visits[i]));
  for (size_t i = 0; i < survey->note_count; i++)
    object_append(writer, notes, note_of(writer, &survey->notes[i]));
  object_put(writer, object, "channels", channels);
  object_put(writer, object, "unknown_columns", unknown);
  object_put(writer, object, "phases", phases);
  object_put(writer, object, "visits", visits);
  object_put(writer, object, "notes", notes);
}

bool report_log_json(FILE *out, const struct report_log *log, struct sources *sources,
                     const struct report_options *options)
{
  struct writer writer = {.arena = arena_new(), .sources = sources, .failed = false};
  json_t *object = json_object();
  object_put_text(&writer, object, "keyway", options->version);
  put_slice(&writer, object, "file", log->file);
  if (log->survey != NULL)
    put_survey(&writer, object, log->survey);
  object_put(&writer, object, "problems", object_problems(&writer, log->problems));
  object_put_count(&writer, object, "problems_dropped", log->problems->dropped);
  object_put_count(&writer, object, "exit", (uint64_t)log->exit);
  bool done = object_write(&writer, out, object);
  arena_free(writer.arena);
  return done;
}
