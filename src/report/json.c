/* The JSON report: one object on one line. Keys come in the order in which they are written here. Everything but ASCII
 * is escaped, so that no character of an input can act on the terminal that shows it. Reading order: report_json at the
 * end, then upwards. */
#include "report/report.h"

#include "report/escape.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>

struct writer {
  struct arena *arena; /* for this report only */
  struct sources *sources;
  bool failed; /* memory ran out somewhere */
};

/* jansson refuses to set NULL, which is what it gives when memory runs out. */
static void put(struct writer *writer, json_t *object, const char *key, json_t *value)
{
  if (json_object_set_new(object, key, value) != 0)
    writer->failed = true;
}

static void append(struct writer *writer, json_t *array, json_t *value)
{
  if (json_array_append_new(array, value) != 0)
    writer->failed = true;
}

static json_t *text_of(struct writer *writer, struct slice text)
{
  struct slice sound = escape_mend(writer->arena, text);
  return json_stringn(sound.size == 0 ? "" : sound.at, sound.size);
}

static void put_text(struct writer *writer, json_t *object, const char *key, const char *text)
{
  put(writer, object, key, text == NULL ? json_null() : text_of(writer, slice_of(text)));
}

static void put_count(struct writer *writer, json_t *object, const char *key, uint64_t count)
{
  put(writer, object, key, json_integer((json_int_t)count));
}

/* JSON has no infinity and no NaN. */
static json_t *real_of(double value)
{
  return isfinite(value) ? json_real(value + 0.0) : json_null();
}

/* In `unit`. What subtracting an offset leaves of zero (273.15 K less 273.15 K, after arithmetic) is zero. */
static double value_in(struct quantity quantity, const struct unit *unit)
{
  double value = unit_from_base(unit, quantity.value);
  return fabs(value) < 1e-12 * fabs(unit->offset / unit->factor) ? 0.0 : value;
}

/* `quantity` NULL: there is none. */
static void put_value(struct writer *writer, json_t *object, const char *key, const struct quantity *quantity,
                      const struct unit *unit)
{
  put(writer, object, key, quantity == NULL ? json_null() : real_of(value_in(*quantity, unit)));
}

static void put_unit(struct writer *writer, json_t *object, const char *key, const struct unit *unit)
{
  put_text(writer, object, key, unit == NULL ? NULL : unit->name);
}

static void put_place(struct writer *writer, json_t *object, struct place place)
{
  struct position position;
  bool placed = sources_position(writer->sources, place, &position);
  bool lines = placed && sources_get(writer->sources, place.source)->bytes.size > 0;
  put(writer, object, "file", placed ? text_of(writer, position.name) : json_null());
  put(writer, object, "line", lines ? json_integer((json_int_t)position.line) : json_null());
  put(writer, object, "column", lines ? json_integer((json_int_t)position.column) : json_null());
}

static json_t *texts_of(struct writer *writer, size_t count, const char *const *texts)
{
  json_t *array = json_array();
  for (size_t i = 0; i < count; i++)
    append(writer, array, text_of(writer, slice_of(texts[i])));
  return array;
}

static json_t *evidence_of(struct writer *writer, const struct evidence *evidence)
{
  json_t *object = json_object();
  const struct unit *x = evidence->has_x ? evidence->x.unit : NULL, *y = evidence->has_y ? evidence->y.unit : NULL;
  const struct unit *unit = evidence->has_value ? evidence->value.unit : NULL;
  put_place(writer, object, evidence->place);
  put_text(writer, object, "text", evidence->text);
  put_value(writer, object, "x", x != NULL ? &evidence->x : NULL, x);
  put_unit(writer, object, "x_unit", x);
  put_value(writer, object, "y", y != NULL ? &evidence->y : NULL, y);
  put_unit(writer, object, "y_unit", y);
  put_value(writer, object, "value", unit != NULL ? &evidence->value : NULL, unit);
  put_unit(writer, object, "unit", unit);
  /* Seconds, whatever the log counted in: base units. */
  put(writer, object, "start", evidence->has_span ? real_of(evidence->start.value) : json_null());
  put(writer, object, "end", evidence->has_span ? real_of(evidence->end.value) : json_null());
  return object;
}

/* Measured and limit share `unit` when they can. They cannot when one is a temperature and the other a step of
 * temperature, which K may be as well: `limit_unit` says it. */
static void put_measure(struct writer *writer, json_t *object, const struct finding *finding)
{
  const struct unit *unit = finding->has_measured ? finding->measured.unit : NULL;
  const struct unit *limit_unit = finding->has_limit ? finding->limit.unit : NULL;
  if (limit_unit != NULL && unit == NULL)
    unit = limit_unit;
  else if (limit_unit != NULL && unit->sense == limit_unit->sense && unit_agrees(unit, limit_unit))
    limit_unit = unit;
  put_value(writer, object, "measured", finding->has_measured ? &finding->measured : NULL, unit);
  put_value(writer, object, "limit", finding->has_limit ? &finding->limit : NULL, limit_unit);
  put_unit(writer, object, "unit", unit);
  put_text(writer, object, "unit_ucum", unit == NULL ? NULL : unit->ucum);
  put_unit(writer, object, "limit_unit", limit_unit);
  put_text(writer, object, "limit_from", finding->limit_from);
}

static json_t *finding_of(struct writer *writer, const struct finding *finding)
{
  json_t *object = json_object();
  put_text(writer, object, "rule", finding->id);
  put_text(writer, object, "severity", severity_name(finding->severity));
  put_text(writer, object, "title", finding->title);
  put_text(writer, object, "message", finding->message);
  put_place(writer, object, finding->evidence_count > 0 ? finding->evidence[0].place : PLACE_NONE);
  put_text(writer, object, "subject", finding->subject);
  json_t *evidence = json_array();
  for (size_t i = 0; i < finding->evidence_count; i++)
    append(writer, evidence, evidence_of(writer, &finding->evidence[i]));
  put(writer, object, "evidence", evidence);
  put_measure(writer, object, finding);
  put_text(writer, object, "why", finding->why);
  put_text(writer, object, "do", finding->act);
  put_text(writer, object, "verify", finding->verify);
  put_text(writer, object, "by_design", finding->by_design);
  put_text(writer, object, "basis", finding->basis);
  put(writer, object, "cautions", texts_of(writer, finding->caution_count, finding->cautions));
  if (finding->cause != NULL)
    put_text(writer, object, "follows_from", finding->cause->id);
  put_text(writer, object, "identity", finding->identity);
  put(writer, object, "waived", json_false());
  return object;
}

static json_t *inputs_of(struct writer *writer, const struct outcome *outcome)
{
  json_t *array = json_array();
  for (size_t i = 0; i < outcome->input_count; i++) {
    json_t *object = json_object();
    put_text(writer, object, "role", outcome->inputs[i].role);
    put(writer, object, "file", text_of(writer, outcome->inputs[i].name));
    append(writer, array, object);
  }
  return array;
}

/* One for each missing name; null where the export is not to blame. */
static json_t *lacks_of(struct writer *writer, const struct outcome *outcome, const struct undecided *undecided)
{
  json_t *array = json_array();
  for (size_t i = 0; i < undecided->missing_count; i++) {
    const char *why = report_lack(outcome, undecided->missing[i]);
    append(writer, array, why == NULL ? json_null() : text_of(writer, slice_of(why)));
  }
  return array;
}

static json_t *rules_of(struct writer *writer, const struct outcome *outcome, enum verdict verdict)
{
  json_t *array = json_array();
  size_t count = verdict == VERDICT_UNDECIDED ? outcome->undecided_count : outcome->not_applicable_count;
  for (size_t i = 0; i < count; i++) {
    json_t *object = json_object();
    if (verdict == VERDICT_UNDECIDED) {
      const struct undecided *undecided = &outcome->undecided[i];
      put_text(writer, object, "rule", undecided->rule);
      put(writer, object, "missing", texts_of(writer, undecided->missing_count, undecided->missing));
      if (outcome->coverage != NULL)
        put(writer, object, "missing_why", lacks_of(writer, outcome, undecided));
    } else {
      put_text(writer, object, "rule", outcome->not_applicable[i].rule);
      put_text(writer, object, "why", outcome->not_applicable[i].why);
    }
    append(writer, array, object);
  }
  return array;
}

static json_t *cautions_of(struct writer *writer, const struct outcome *outcome)
{
  json_t *array = json_array();
  for (size_t i = 0; i < outcome->caution_count; i++) {
    json_t *object = json_object();
    put_text(writer, object, "id", outcome->cautions[i].id);
    put_text(writer, object, "word", outcome->cautions[i].word);
    put_text(writer, object, "text", outcome->cautions[i].text);
    append(writer, array, object);
  }
  return array;
}

static json_t *limits_of(struct writer *writer, const struct outcome *outcome)
{
  json_t *array = json_array();
  for (size_t i = 0; i < outcome->changed_count; i++) {
    const struct changed_limit *changed = &outcome->changed[i];
    json_t *object = json_object();
    put_text(writer, object, "name", changed->name);
    put_value(writer, object, "value", &changed->value, changed->value.unit);
    put_unit(writer, object, "unit", changed->value.unit);
    put_value(writer, object, "usual", &changed->usual, changed->usual.unit);
    put_unit(writer, object, "usual_unit", changed->usual.unit);
    put_text(writer, object, "reason", changed->reason);
    put_text(writer, object, "from", changed->from);
    put_place(writer, object, changed->place);
    append(writer, array, object);
  }
  return array;
}

static json_t *problems_of(struct writer *writer, const struct outcome *outcome)
{
  json_t *array = json_array();
  size_t count = outcome->problems != NULL ? outcome->problems->count : 0;
  struct problems sorted = {0};
  if (count > 0) {
    sorted = *outcome->problems;
    sorted.items = ARENA_ARRAY(writer->arena, count, struct problem);
    memcpy(sorted.items, outcome->problems->items, count * sizeof *sorted.items);
    problems_sort(&sorted);
  }
  for (size_t i = 0; i < count; i++) {
    json_t *object = json_object();
    put_place(writer, object, sorted.items[i].place);
    put_text(writer, object, "message", sorted.items[i].message);
    put_text(writer, object, "hint", sorted.items[i].hint);
    append(writer, array, object);
  }
  return array;
}

static void put_coverage(struct writer *writer, json_t *object, const struct coverage *coverage)
{
  json_t *counts = json_object(), *unused = json_array();
  put_count(writer, counts, "used", coverage->used);
  put_count(writer, counts, "ignored", coverage->ignored);
  put_count(writer, counts, "unknown", coverage->unknown);
  put(writer, object, "coverage", counts);
  for (size_t i = 0; coverage->unused != NULL && i < coverage->unknown; i++) {
    json_t *record = json_object();
    put_place(writer, record, coverage->unused[i].place);
    put(writer, record, "path", text_of(writer, coverage->unused[i].path));
    put(writer, record, "text", text_of(writer, coverage->unused[i].text));
    append(writer, unused, record);
  }
  put(writer, object, "unused", unused);
}

static json_t *outcome_of(struct writer *writer, const struct outcome *outcome, const char *version)
{
  json_t *object = json_object();
  put_text(writer, object, "keyway", version);
  put_text(writer, object, "title", outcome->title);
  put_text(writer, object, "stage", outcome->stage);
  put(writer, object, "inputs", inputs_of(writer, outcome));
  json_t *findings = json_array();
  for (size_t i = 0; i < outcome->finding_count; i++)
    append(writer, findings, finding_of(writer, &outcome->findings[i]));
  put(writer, object, "findings", findings);
  json_t *verdicts = json_object();
  for (int i = 0; i < VERDICT_COUNT; i++)
    put_count(writer, verdicts, verdict_name((enum verdict)i), outcome->verdicts[i]);
  put(writer, object, "verdicts", verdicts);
  put(writer, object, "clear", texts_of(writer, outcome->clear_count, outcome->clear));
  put(writer, object, "undecided", rules_of(writer, outcome, VERDICT_UNDECIDED));
  put(writer, object, "not_applicable", rules_of(writer, outcome, VERDICT_NOT_APPLICABLE));
  put(writer, object, "cautions", cautions_of(writer, outcome));
  put(writer, object, "limits_changed", limits_of(writer, outcome));
  put(writer, object, "notes", texts_of(writer, outcome->note_count, outcome->notes));
  put(writer, object, "silenced", texts_of(writer, outcome->silenced_count, outcome->silenced));
  if (outcome->coverage != NULL)
    put_coverage(writer, object, outcome->coverage);
  put(writer, object, "problems", problems_of(writer, outcome));
  put_count(writer, object, "problems_dropped", outcome->problems != NULL ? outcome->problems->dropped : 0);
  put_text(writer, object, "fail_on", outcome->fail_on == SEVERITY_NONE ? "never" : severity_name(outcome->fail_on));
  put_count(writer, object, "need", outcome->need);
  put_count(writer, object, "exit", (uint64_t)outcome->exit);
  put_text(writer, object, "reason", report_reason(writer->arena, outcome));
  return object;
}

/* %.10g keeps every digit that a settings file holds and drops what unit conversion adds. */
#define JSON_DIGITS 10

bool report_json(FILE *out, const struct outcome *outcome, struct sources *sources,
                 const struct report_options *options)
{
  struct writer writer = {.arena = arena_new(), .sources = sources, .failed = false};
  json_t *object = outcome_of(&writer, outcome, options->version);
  char *text =
      writer.failed ? NULL : json_dumps(object, JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(JSON_DIGITS));
  if (text != NULL)
    fprintf(out, "%s\n", text);
  bool done = text != NULL;
  free(text);
  json_decref(object);
  arena_free(writer.arena);
  return done;
}
