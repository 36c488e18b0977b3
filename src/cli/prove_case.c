/* Cases: settings, job sheet and log out of a pack's YAML. Logs are CSV text, or are made from expressions over time.
 * Reading order: case_read, read_log, then case_run. */
#include "cli/prove_case.h"

#include "audit/audit.h"
#include "base/limits.h"
#include "expr/eval.h"
#include "read/job.h"
#include "read/log.h"
#include "read/settings.h"
#include "rules/locate.h"

#include <math.h>
#include <stdlib.h>

/* Samples of a made log: an hour at 25 Hz. */
#define MADE_SAMPLES 90000.0

static bool refuse(struct case_reader *reader, const struct node *at, const char *message)
{
  return problems_add(reader->problems, at->place, "%s", message);
}

static bool read_quantity(struct case_reader *reader, const struct node *node, const char *bare, struct quantity *out)
{
  const char *why = NULL;
  if (node->kind != NODE_SCALAR)
    return refuse(reader, node, "a number with its unit is expected here");
  if (quantity_read(reader->arena, node->text, unit_find(slice_of(bare)), out, &why))
    return true;
  return refuse(reader, node, why);
}

static struct value *series_value(struct arena *arena, size_t count, const double *at, const uint8_t *known,
                                  const struct unit *unit, struct place place)
{
  struct value *value = ARENA_NEW(arena, struct value);
  value->kind = VALUE_SERIES;
  value->place = place;
  value->as.series = (struct series){.count = count, .at = at, .known = known, .unit = unit};
  return value;
}

/* One channel from its expression over the channels before it. */
static bool make_channel(struct case_reader *reader, const struct node_pair *pair, struct log *log,
                         const struct value **values, bool *present)
{
  const struct entry *entry = vocabulary_find(reader->vocabulary, SCOPE_LOG, pair->key.text);
  if (!entry)
    return problems_add(reader->problems, pair->key.place, "there is no channel '%.*s'", SLICE_ARG(pair->key.text));
  if (pair->value.kind != NODE_SCALAR)
    return refuse(reader, &pair->value, "an expression is expected here");
  struct locate_context context;
  struct locator locator = locate(&context, reader->source, &pair->value, 0);
  struct graph *graph = graph_new(reader->arena);
  const struct expr *expr =
      expr_compile(reader->arena, graph, reader->names, pair->value.text, NULL, &locator, reader->problems);
  if (!expr)
    return false;
  const struct type *type = expr_type(expr);
  bool on_off = entry->on_off && type->kind == TYPE_SWITCH;
  bool fits = on_off || (type->kind == TYPE_NUMBER &&
                         measure_equal(type->of, (struct measure){entry->unit->dimension, entry->unit->sense}));
  if (!fits)
    return problems_add(reader->problems, pair->value.place, "%s does not fit this channel",
                        type_print(reader->arena, type));
  struct eval_inputs inputs = {.values = {NULL, values, NULL}, .names = reader->names, .stage = slice_of("delivery")};
  struct evaluation *evaluation = evaluation_new(reader->arena, graph, &inputs);
  struct result result = evaluate(evaluation, expr);
  if (!result.known)
    return problems_add(reader->problems, pair->value.place, "nothing comes out of this: %s is missing",
                        result.missing->names[0]);
  double *at = ARENA_ARRAY(reader->arena, log->row_count, double);
  for (size_t i = 0; i < log->row_count; i++) {
    if (on_off)
      at[i] = type->series ? result.series.on[i] : result.on;
    else
      at[i] = type->series ? result.series.at[i] : result.number;
  }
  const uint8_t *known = type->series ? result.series.known : NULL;
  size_t index = vocabulary_index(reader->vocabulary, SCOPE_LOG, entry);
  values[index] =
      series_value(reader->arena, log->row_count, at, known, result.unit ? result.unit : entry->unit, pair->key.place);
  present[index] = true;
  return true;
}

/* {for: 60 s, rate: 10 Hz, channels: {...}} */
static const struct log *make_log(struct case_reader *reader, const struct node *node)
{
  const struct node *length = node_get(node, "for"), *rate = node_get(node, "rate"),
                    *channels = node_get(node, "channels");
  struct quantity seconds = {0}, hertz = {0};
  if (!length || !rate || !channels || channels->kind != NODE_MAP) {
    refuse(reader, node, "a log is a CSV text or {for: TIME, rate: FREQUENCY, channels: {NAME: EXPRESSION}}");
    return NULL;
  }
  if (!read_quantity(reader, length, "s", &seconds) || !read_quantity(reader, rate, "Hz", &hertz))
    return NULL;
  double samples = floor(seconds.value * hertz.value + 0.5);
  if (!(samples >= 1 && samples <= MADE_SAMPLES)) {
    refuse(reader, length, "a made log has 1 to 90 000 samples");
    return NULL;
  }
  size_t count = (size_t)samples, channel_count = reader->vocabulary->count[SCOPE_LOG];
  struct log *log = ARENA_NEW(reader->arena, struct log);
  const struct value **values = ARENA_ARRAY(reader->arena, channel_count, const struct value *);
  bool *present = ARENA_ARRAY(reader->arena, channel_count, bool);
  struct log_part *part = ARENA_NEW(reader->arena, struct log_part);
  double *time = ARENA_ARRAY(reader->arena, count, double);
  for (size_t i = 0; i < count; i++)
    time[i] = (double)i / hertz.value;
  *part = (struct log_part){.source = reader->source, .end = node->place.start};
  *log = (struct log){.source = reader->source,
                      .parts = part,
                      .part_count = 1,
                      .values = values,
                      .present = present,
                      .row_count = count,
                      .step = count > 1 ? time[1] : 0};
  const struct entry *entry = vocabulary_find(reader->vocabulary, SCOPE_LOG, slice_of("time"));
  size_t index = vocabulary_index(reader->vocabulary, SCOPE_LOG, entry);
  values[index] = series_value(reader->arena, count, time, NULL, entry->unit, node->place);
  present[index] = true;
  bool good = true;
  for (size_t i = 0; i < channels->count; i++)
    good = make_channel(reader, &channels->pairs[i], log, values, present) && good;
  return good ? log : NULL;
}

static const struct log *read_log(struct case_reader *reader, const struct node *node)
{
  if (node->kind == NODE_MAP)
    return make_log(reader, node);
  if (node->kind != NODE_SCALAR) {
    refuse(reader, node, "a log is a CSV text or a map");
    return NULL;
  }
  struct log_options options = {.wanted = NULL};
  const struct source *source = sources_memory(reader->sources, "log of a case", node->text);
  return log_read(reader->arena, reader->vocabulary, source, &options, reader->problems);
}

static bool read_inputs(struct case_reader *reader, const struct node *node, struct rule_case *out)
{
  const struct node *tune = node_get(node, "tune"), *job = node_get(node, "job"), *log = node_get(node, "log");
  const struct node *before = node_get(node, "before");
  static const struct node nothing = {.kind = NODE_MAP};
  out->subject.vocabulary = reader->vocabulary;
  out->subject.settings =
      settings_from_node(reader->arena, reader->vocabulary, reader->source, tune ? tune : &nothing, reader->problems);
  out->subject.job =
      job ? job_from_node(reader->arena, reader->vocabulary, reader->source, job, reader->problems) : NULL;
  out->subject.log = log ? read_log(reader, log) : NULL;
  if (before)
    out->subject.before =
        settings_from_node(reader->arena, reader->vocabulary, reader->source, before, reader->problems);
  return out->subject.settings && (!before || out->subject.before) && (!job || out->subject.job) &&
         (!log || out->subject.log);
}

static const char *text_of(struct case_reader *reader, const struct node *node, const char *key)
{
  const struct node *value = node_get(node, key);
  return value && value->kind == NODE_SCALAR ? arena_text(reader->arena, value->text) : NULL;
}

/* How cases write a verdict; NULL: they do not. */
static const char *word_of(const struct case_reader *reader, enum verdict verdict)
{
  static const char *const words[2][VERDICT_COUNT] = {
      {[VERDICT_FLAGGED] = "flag",
       [VERDICT_CLEAR] = "clear",
       [VERDICT_UNDECIDED] = "undecided",
       [VERDICT_NOT_APPLICABLE] = "not applicable"},
      {[VERDICT_FLAGGED] = "holds", [VERDICT_CLEAR] = "absent", [VERDICT_UNDECIDED] = "undecided"}};
  return words[reader->phases][verdict];
}

static bool read_expectations(struct case_reader *reader, const struct node *node, struct rule_case *out)
{
  const char *expect = text_of(reader, node, "expect");
  int found = -1;
  for (int i = 0; i < VERDICT_COUNT; i++) {
    const char *word = word_of(reader, (enum verdict)i);
    found = expect && word && strcmp(expect, word) == 0 ? i : found;
  }
  if (found < 0)
    return refuse(reader, node,
                  reader->phases ? "a case of a phase says 'expect: holds', 'absent' or 'undecided'"
                                 : "a case says 'expect: flag', 'clear', 'undecided' or 'not applicable'");
  out->expect = (enum verdict)found;
  out->name = text_of(reader, node, "name");
  if (!out->name)
    return refuse(reader, node, "a case has a name");
  out->missing = text_of(reader, node, "missing");
  out->subject_name = text_of(reader, node, "subject");
  out->says = text_of(reader, node, "says");
  out->does = text_of(reader, node, "does");
  const struct node *stage = node_get(node, "stage"), *severity = node_get(node, "severity"),
                    *places = node_get(node, "places");
  const struct node *measure = node_get(node, reader->phases ? "time" : "measure");
  out->stage = STAGE_DELIVERY;
  if (stage && !stage_find(stage->text, &out->stage))
    return refuse(reader, stage, "a stage is look, dyno or delivery");
  if (severity && !severity_find(severity->text, &out->severity))
    return refuse(reader, severity, "a severity is stop, fix, check or note");
  struct quantity number;
  if (places && !read_quantity(reader, places, "1", &number))
    return false;
  out->places = places ? (size_t)fmin(fmax(number.value, 0), 1e6) : 0;
  out->has_measure = measure != NULL;
  return !measure || read_quantity(reader, measure, "1", &out->measure);
}

bool case_read(struct case_reader *reader, const struct node *node, struct rule_case *out)
{
  static const char *const keys[2][15] = {{"name", "expect", "tune", "before", "job", "log", "stage", "measure",
                                           "places", "severity", "missing", "subject", "says", "does", NULL},
                                          {"name", "expect", "tune", "job", "log", "time", "missing", NULL}};
  const char *const *own = keys[reader->phases];
  *out = (struct rule_case){0};
  if (node->kind != NODE_MAP)
    return refuse(reader, node, "a case is a map");
  for (size_t i = 0; i < node->count; i++) {
    size_t k = 0;
    while (own[k] && !slice_is(node->pairs[i].key.text, own[k]))
      k++;
    if (!own[k])
      return refuse(reader, &node->pairs[i].key, "this is not a key of a case");
  }
  return read_expectations(reader, node, out) && read_inputs(reader, node, out);
}

/* Whether what the rule lacked is what the case names. */
static bool names_missing(const struct outcome *outcome, const char *missing)
{
  for (size_t i = 0; i < outcome->undecided_count; i++) {
    for (size_t k = 0; k < outcome->undecided[i].missing_count; k++) {
      if (strstr(outcome->undecided[i].missing[k], missing) != NULL)
        return true;
    }
  }
  return false;
}

static const char *check_finding(struct arena *arena, const struct outcome *outcome, const struct rule_case *one)
{
  const struct finding *finding = &outcome->findings[0];
  size_t places = 0;
  bool subject_seen = one->subject_name == NULL;
  for (size_t i = 0; i < outcome->finding_count; i++) {
    places += outcome->findings[i].evidence_count;
    if (one->subject_name && strcmp(outcome->findings[i].subject, one->subject_name) == 0) {
      subject_seen = true;
      finding = &outcome->findings[i];
    }
  }
  if (!subject_seen)
    return arena_print(arena, "the subject is '%s', not '%s'", finding->subject, one->subject_name);
  if (one->severity != SEVERITY_NONE && finding->severity != one->severity)
    return arena_print(arena, "the severity is %s, not %s", severity_name(finding->severity),
                       severity_name(one->severity));
  if (one->places > 0 && places != one->places)
    return arena_print(arena, "it shows at %zu places, not %zu", places, one->places);
  if (one->says && strstr(finding->message, one->says) == NULL)
    return arena_print(arena, "the message does not say '%s': %s", one->says, finding->message);
  if (one->does && strstr(finding->act, one->does) == NULL)
    return arena_print(arena, "what to do does not say '%s': %s", one->does, finding->act);
  if (!one->has_measure)
    return NULL;
  if (!finding->has_measured || !dimension_equal(finding->measured.unit->dimension, one->measure.unit->dimension))
    return "it measures nothing of that kind";
  double scale = fmax(fabs(one->measure.value), fabs(one->measure.unit->offset));
  if (fabs(finding->measured.value - one->measure.value) > 1e-6 * scale + 1e-9 * fabs(one->measure.unit->factor))
    return arena_print(arena, "the measure is %s, not %s", quantity_print(arena, finding->measured, NULL, 0),
                       quantity_print(arena, one->measure, NULL, 0));
  return NULL;
}

const char *case_run(const struct case_reader *reader, struct arena *arena, const struct packs *packs,
                     const struct rule *rule, const struct rule_case *one)
{
  struct audit_options options = {.stage = one->stage, .only = rule};
  const struct outcome *outcome = audit_run(arena, packs, &one->subject, reader->sources, &options, NULL);
  enum verdict verdict = VERDICT_COUNT;
  for (int i = 0; i < VERDICT_COUNT; i++)
    verdict = outcome->verdicts[i] > 0 ? (enum verdict)i : verdict;
  if (verdict != one->expect) {
    const char *more = "";
    if (verdict == VERDICT_FLAGGED)
      more = outcome->findings[0].message;
    else if (verdict == VERDICT_UNDECIDED && outcome->undecided[0].missing_count > 0)
      more = outcome->undecided[0].missing[0];
    else if (verdict == VERDICT_NOT_APPLICABLE)
      more = outcome->not_applicable[0].why;
    const char *seen = reader->phases ? word_of(reader, verdict) : verdict_name(verdict);
    const char *wanted = reader->phases ? word_of(reader, one->expect) : verdict_name(one->expect);
    return arena_print(arena, "comes out as %s, not %s%s%s", seen, wanted, more[0] ? ": " : "", more);
  }
  if (verdict == VERDICT_UNDECIDED && one->missing && !names_missing(outcome, one->missing))
    return arena_print(arena, "it lacks %s, not '%s'",
                       outcome->undecided[0].missing_count ? outcome->undecided[0].missing[0] : "nothing",
                       one->missing);
  return verdict == VERDICT_FLAGGED ? check_finding(arena, outcome, one) : NULL;
}
