/* The JSON report of an audit: one object on one line. Keys come in the order in which they are written here. Reading
 * order: report_json at the end, then upwards. */
#include "report/object.h"

static json_t *evidence_of(struct writer *writer, const struct evidence *evidence)
{
  json_t *object = json_object();
  const struct unit *x = evidence->has_x ? evidence->x.unit : NULL, *y = evidence->has_y ? evidence->y.unit : NULL;
  const struct unit *unit = evidence->has_value ? evidence->value.unit : NULL;
  object_put_place(writer, object, evidence->place);
  object_put_text(writer, object, "text", evidence->text);
  object_put_quantity(writer, object, "x", x != NULL ? &evidence->x : NULL, x);
  object_put_unit(writer, object, "x_unit", x);
  object_put_quantity(writer, object, "y", y != NULL ? &evidence->y : NULL, y);
  object_put_unit(writer, object, "y_unit", y);
  object_put_quantity(writer, object, "value", unit != NULL ? &evidence->value : NULL, unit);
  object_put_unit(writer, object, "unit", unit);
  /* Seconds, whatever the log counted in: base units. */
  object_put(writer, object, "start", evidence->has_span ? object_real(evidence->start.value) : json_null());
  object_put(writer, object, "end", evidence->has_span ? object_real(evidence->end.value) : json_null());
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
  object_put_quantity(writer, object, "measured", finding->has_measured ? &finding->measured : NULL, unit);
  object_put_quantity(writer, object, "limit", finding->has_limit ? &finding->limit : NULL, limit_unit);
  object_put_unit(writer, object, "unit", unit);
  object_put_text(writer, object, "unit_ucum", unit == NULL ? NULL : unit->ucum);
  object_put_unit(writer, object, "limit_unit", limit_unit);
  object_put_text(writer, object, "limit_from", finding->limit_from);
}

static json_t *finding_of(struct writer *writer, const struct finding *finding)
{
  json_t *object = json_object();
  object_put_text(writer, object, "rule", finding->id);
  object_put_text(writer, object, "severity", severity_name(finding->severity));
  object_put_text(writer, object, "title", finding->title);
  object_put_text(writer, object, "message", finding->message);
  object_put_place(writer, object, finding->evidence_count > 0 ? finding->evidence[0].place : PLACE_NONE);
  object_put_text(writer, object, "subject", finding->subject);
  json_t *evidence = json_array();
  for (size_t i = 0; i < finding->evidence_count; i++)
    object_append(writer, evidence, evidence_of(writer, &finding->evidence[i]));
  object_put(writer, object, "evidence", evidence);
  put_measure(writer, object, finding);
  object_put_text(writer, object, "why", finding->why);
  object_put_text(writer, object, "do", finding->act);
  object_put_text(writer, object, "verify", finding->verify);
  object_put_text(writer, object, "by_design", finding->by_design);
  object_put_text(writer, object, "basis", finding->basis);
  object_put(writer, object, "cautions", object_texts(writer, finding->caution_count, finding->cautions));
  if (finding->cause != NULL)
    object_put_text(writer, object, "follows_from", finding->cause->id);
  object_put_text(writer, object, "identity", finding->identity);
  object_put(writer, object, "waived", json_false());
  return object;
}

static json_t *inputs_of(struct writer *writer, const struct outcome *outcome)
{
  json_t *array = json_array();
  for (size_t i = 0; i < outcome->input_count; i++) {
    json_t *object = json_object();
    object_put_text(writer, object, "role", outcome->inputs[i].role);
    object_put(writer, object, "file", object_text(writer, outcome->inputs[i].name));
    if (outcome->inputs[i].about != NULL)
      object_put_text(writer, object, "about", outcome->inputs[i].about);
    object_append(writer, array, object);
  }
  return array;
}

/* One for each missing name; null where the export is not to blame. */
static json_t *lacks_of(struct writer *writer, const struct outcome *outcome, const struct undecided *undecided)
{
  json_t *array = json_array();
  for (size_t i = 0; i < undecided->missing_count; i++) {
    const char *why = report_lack(outcome, undecided->missing[i]);
    object_append(writer, array, why == NULL ? json_null() : object_text(writer, slice_of(why)));
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
      object_put_text(writer, object, "rule", undecided->rule);
      object_put(writer, object, "missing", object_texts(writer, undecided->missing_count, undecided->missing));
      if (outcome->coverage != NULL)
        object_put(writer, object, "missing_why", lacks_of(writer, outcome, undecided));
    } else {
      object_put_text(writer, object, "rule", outcome->not_applicable[i].rule);
      object_put_text(writer, object, "why", outcome->not_applicable[i].why);
    }
    object_append(writer, array, object);
  }
  return array;
}

static json_t *cautions_of(struct writer *writer, const struct outcome *outcome)
{
  json_t *array = json_array();
  for (size_t i = 0; i < outcome->caution_count; i++) {
    json_t *object = json_object();
    object_put_text(writer, object, "id", outcome->cautions[i].id);
    object_put_text(writer, object, "word", outcome->cautions[i].word);
    object_put_text(writer, object, "text", outcome->cautions[i].text);
    object_append(writer, array, object);
  }
  return array;
}

static json_t *limits_of(struct writer *writer, const struct outcome *outcome)
{
  json_t *array = json_array();
  for (size_t i = 0; i < outcome->changed_count; i++) {
    const struct changed_limit *changed = &outcome->changed[i];
    json_t *object = json_object();
    object_put_text(writer, object, "name", changed->name);
    object_put_quantity(writer, object, "value", &changed->value, changed->value.unit);
    object_put_unit(writer, object, "unit", changed->value.unit);
    object_put_quantity(writer, object, "usual", &changed->usual, changed->usual.unit);
    object_put_unit(writer, object, "usual_unit", changed->usual.unit);
    object_put_text(writer, object, "reason", changed->reason);
    object_put_text(writer, object, "from", changed->from);
    object_put_place(writer, object, changed->place);
    object_append(writer, array, object);
  }
  return array;
}

static void put_coverage(struct writer *writer, json_t *object, const struct coverage *coverage)
{
  json_t *counts = json_object(), *unused = json_array();
  object_put_count(writer, counts, "used", coverage->used);
  object_put_count(writer, counts, "ignored", coverage->ignored);
  object_put_count(writer, counts, "unknown", coverage->unknown);
  object_put(writer, object, "coverage", counts);
  for (size_t i = 0; coverage->unused != NULL && i < coverage->unknown; i++) {
    json_t *record = json_object();
    object_put_place(writer, record, coverage->unused[i].place);
    object_put(writer, record, "path", object_text(writer, coverage->unused[i].path));
    object_put(writer, record, "text", object_text(writer, coverage->unused[i].text));
    object_append(writer, unused, record);
  }
  object_put(writer, object, "unused", unused);
}

static json_t *outcome_of(struct writer *writer, const struct outcome *outcome, const char *version)
{
  json_t *object = json_object();
  object_put_text(writer, object, "keyway", version);
  object_put_text(writer, object, "title", outcome->title);
  object_put_text(writer, object, "stage", outcome->stage);
  object_put(writer, object, "inputs", inputs_of(writer, outcome));
  json_t *findings = json_array();
  for (size_t i = 0; i < outcome->finding_count; i++)
    object_append(writer, findings, finding_of(writer, &outcome->findings[i]));
  object_put(writer, object, "findings", findings);
  json_t *verdicts = json_object();
  for (int i = 0; i < VERDICT_COUNT; i++)
    object_put_count(writer, verdicts, verdict_name((enum verdict)i), outcome->verdicts[i]);
  object_put(writer, object, "verdicts", verdicts);
  object_put(writer, object, "clear", object_texts(writer, outcome->clear_count, outcome->clear));
  object_put(writer, object, "undecided", rules_of(writer, outcome, VERDICT_UNDECIDED));
  object_put(writer, object, "not_applicable", rules_of(writer, outcome, VERDICT_NOT_APPLICABLE));
  object_put(writer, object, "cautions", cautions_of(writer, outcome));
  object_put(writer, object, "limits_changed", limits_of(writer, outcome));
  object_put(writer, object, "notes", object_texts(writer, outcome->note_count, outcome->notes));
  object_put(writer, object, "silenced", object_texts(writer, outcome->silenced_count, outcome->silenced));
  if (outcome->coverage != NULL)
    put_coverage(writer, object, outcome->coverage);
  object_put(writer, object, "problems", object_problems(writer, outcome->problems));
  object_put_count(writer, object, "problems_dropped", outcome->problems != NULL ? outcome->problems->dropped : 0);
  object_put_text(writer, object, "fail_on",
                  outcome->fail_on == SEVERITY_NONE ? "never" : severity_name(outcome->fail_on));
  object_put_count(writer, object, "need", outcome->need);
  object_put_count(writer, object, "exit", (uint64_t)outcome->exit);
  object_put_text(writer, object, "reason", report_reason(writer->arena, outcome));
  return object;
}

bool report_json(FILE *out, const struct outcome *outcome, struct sources *sources,
                 const struct report_options *options)
{
  struct writer writer = {.arena = arena_new(), .sources = sources, .failed = false};
  bool done = object_write(&writer, out, outcome_of(&writer, outcome, options->version));
  arena_free(writer.arena);
  return done;
}
