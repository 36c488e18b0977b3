/* An audit: every rule judged, verdicts counted, findings put in order, and what the report has to add gathered.
 * Reading order: audit_run. */
#include "audit/audit.h"

#include "audit/judge.h"
#include "base/processors.h"

/* The packs' limits with the job sheet's own in their place. */
static const struct quantity *settle_limits(struct arena *arena, const struct packs *packs, const struct job *job)
{
  struct quantity *limits = ARENA_ARRAY(arena, packs->limit_count + 1, struct quantity);
  for (size_t i = 0; i < packs->limit_count; i++) {
    limits[i] = packs->limits[i].value;
    for (size_t k = 0; job && k < job->limit_count; k++) {
      if (slice_equal(job->limits[k].name, packs->limits[i].name))
        limits[i] = audit_limit(&job->limits[k], &packs->limits[i]);
    }
  }
  return limits;
}

struct eval_inputs audit_inputs(struct arena *arena, const struct packs *packs, const struct subject *subject,
                                enum stage stage)
{
  const struct log *log = subject->log;
  size_t logs = log ? log->part_count : 0;
  struct eval_log *parts = ARENA_ARRAY(arena, logs, struct eval_log);
  for (size_t i = 0; i < logs; i++)
    parts[i] = (struct eval_log){log->parts[i].from_row, log->parts[i].step};
  return (struct eval_inputs){
      .values = {subject->settings ? (const struct value *const *)subject->settings->values : NULL,
                 log ? (const struct value *const *)log->values : NULL,
                 subject->job ? (const struct value *const *)subject->job->values : NULL,
                 subject->before ? (const struct value *const *)subject->before->values : NULL},
      .limits = settle_limits(arena, packs, subject->job),
      .names = packs->names,
      .stage = slice_of(stage_name(stage)),
      .log_count = logs,
      .logs = parts,
      .log_step = log ? log->step : 0};
}

static void changed_limits(struct arena *arena, const struct packs *packs, const struct job *job,
                           struct outcome *outcome)
{
  if (!job || job->limit_count == 0)
    return;
  struct changed_limit *changed = ARENA_ARRAY(arena, job->limit_count, struct changed_limit);
  for (size_t i = 0; i < job->limit_count; i++) {
    const struct job_limit *own = &job->limits[i];
    const struct limit *limit = packs_limit(packs, own->name);
    if (!limit)
      continue;
    changed[outcome->changed_count++] =
        (struct changed_limit){limit->name.at, own->reason.size ? arena_text(arena, own->reason) : "no reason given",
                               "job sheet",    audit_limit(own, limit),
                               limit->value,   own->place};
  }
  outcome->changed = changed;
}

/* "line 12: time runs backwards"; of several logs, which: "cold-start.csv, line 12: ..." */
static const char *note_text(struct arena *arena, const struct log *log, const struct log_note *note,
                             struct sources *sources)
{
  struct position position;
  bool several = log->part_count > 1, rate = note->kind == LOG_NOTE_RATE;
  if ((rate && !several) || !sources_position(sources, note->place, &position))
    return note->text;
  const char *name = several ? arena_text(arena, position.name) : "";
  const char *line =
      rate ? "" : arena_print(arena, "%sline %llu", several ? ", " : "", (unsigned long long)position.line);
  return arena_print(arena, "%s%s: %s", name, line, note->text);
}

static void log_notes(struct arena *arena, const struct log *log, struct sources *sources, struct outcome *outcome)
{
  if (!log)
    return;
  const char **notes = ARENA_ARRAY(arena, log->note_count + 1, const char *);
  for (size_t i = 0; i < log->note_count; i++)
    notes[i] = note_text(arena, log, &log->notes[i], sources);
  outcome->notes = notes;
  outcome->note_count = log->note_count;
}

/* The texts of the cautions that some finding names, in the catalogue's order. */
static void name_cautions(struct arena *arena, const struct packs *packs, struct outcome *outcome)
{
  struct caution *cautions = ARENA_ARRAY(arena, packs->caution_count + 1, struct caution);
  for (size_t i = 0; i < packs->caution_count; i++) {
    const struct caution_text *text = &packs->cautions[i];
    bool named = false;
    for (size_t f = 0; outcome->findings && f < outcome->finding_count && !named; f++) {
      for (size_t k = 0; k < outcome->findings[f].caution_count && !named; k++)
        named = strcmp(outcome->findings[f].cautions[k], text->id) == 0;
    }
    if (named)
      cautions[outcome->caution_count++] = (struct caution){text->id, text->word, text->text};
  }
  outcome->cautions = cautions;
}

static void name_silenced(struct arena *arena, const struct packs *packs, struct outcome *outcome)
{
  const char **silenced = ARENA_ARRAY(arena, packs->silenced_count + 1, const char *);
  for (size_t i = 0; i < packs->silenced_count; i++)
    silenced[i] = arena_print(arena, "%s: %s (pack '%s')", packs->silenced[i].rule, packs->silenced[i].how,
                              packs->silenced[i].pack);
  outcome->silenced = silenced;
  outcome->silenced_count = packs->silenced_count;
}

static bool explains(const struct finding *cause, const struct finding *effect)
{
  for (size_t i = 0; i < cause->rule->explain_count; i++) {
    if (strcmp(cause->rule->explains[i], effect->id) == 0)
      return true;
  }
  return false;
}

/* Which finding each other one follows from: the first in report order that explains it and does not itself follow from
 * it. */
static void name_causes(struct finding *findings, size_t count)
{
  for (size_t i = 0; findings && i < count; i++) {
    for (size_t k = 0; k < count && !findings[i].cause; k++) {
      if (i == k || !explains(&findings[k], &findings[i]))
        continue;
      const struct finding *up = &findings[k];
      while (up && up != &findings[i])
        up = up->cause;
      findings[i].cause = up ? NULL : &findings[k];
    }
  }
}

struct lists { /* growing parts of an outcome */
  struct finding *findings;
  struct undecided *undecided;
  struct not_applicable *not_applicable;
  const char **clear;
  size_t finding_capacity, undecided_capacity, not_applicable_capacity, clear_capacity;
};

static void record(struct arena *arena, const struct rule *rule, const struct judgement *judgement, struct lists *lists,
                   struct outcome *outcome)
{
  outcome->verdicts[judgement->verdict]++;
  for (size_t i = 0; i < judgement->finding_count; i++) {
    lists->findings =
        arena_grow(arena, lists->findings, outcome->finding_count, &lists->finding_capacity, sizeof *lists->findings);
    lists->findings[outcome->finding_count++] = judgement->findings[i];
  }
  if (judgement->verdict == VERDICT_CLEAR) {
    lists->clear = arena_grow(arena, lists->clear, outcome->clear_count, &lists->clear_capacity, sizeof *lists->clear);
    lists->clear[outcome->clear_count++] = rule->id.at;
  }
  if (judgement->verdict == VERDICT_UNDECIDED) {
    lists->undecided = arena_grow(arena, lists->undecided, outcome->undecided_count, &lists->undecided_capacity,
                                  sizeof *lists->undecided);
    lists->undecided[outcome->undecided_count++] =
        (struct undecided){rule->id.at, rule->title, judgement->missing->count, judgement->missing->names};
  }
  if (judgement->verdict == VERDICT_NOT_APPLICABLE) {
    lists->not_applicable = arena_grow(arena, lists->not_applicable, outcome->not_applicable_count,
                                       &lists->not_applicable_capacity, sizeof *lists->not_applicable);
    lists->not_applicable[outcome->not_applicable_count++] =
        (struct not_applicable){rule->id.at, rule->title, judgement->why};
  }
}

struct outcome *audit_run(struct arena *arena, const struct packs *packs, const struct subject *subject,
                          struct sources *sources, const struct audit_options *options, struct audit_stats *stats)
{
  struct outcome *outcome = ARENA_NEW(arena, struct outcome);
  outcome->stage = stage_name(options->stage);
  outcome->fail_on = options->fail_on;
  outcome->need = options->need;
  struct eval_inputs inputs = audit_inputs(arena, packs, subject, options->stage);
  inputs.block_rows = options->block_rows;
  inputs.threads = options->threads > 0 ? options->threads : processors_count();
  struct judge judge = {arena, packs, subject, evaluation_new(arena, packs->graph, &inputs), options->stage};
  if (!options->only)
    audit_prepare(&judge, packs->rules, packs->rule_count);
  struct lists lists = {0};
  for (size_t i = 0; i < packs->rule_count; i++) {
    if (options->only && options->only != packs->rules[i])
      continue;
    struct judgement judgement = judge_rule(&judge, packs->rules[i]);
    record(arena, packs->rules[i], &judgement, &lists, outcome);
  }
  findings_sort(lists.findings, outcome->finding_count);
  name_causes(lists.findings, outcome->finding_count);
  outcome->findings = lists.findings;
  outcome->clear = lists.clear;
  outcome->undecided = lists.undecided;
  outcome->not_applicable = lists.not_applicable;
  name_cautions(arena, packs, outcome);
  changed_limits(arena, packs, subject->job, outcome);
  name_silenced(arena, packs, outcome);
  log_notes(arena, subject->log, sources, outcome);
  if (stats) {
    struct eval_stats counted = evaluation_stats(judge.evaluation);
    const struct log *log = subject->log;
    *stats = (struct audit_stats){
        graph_written(packs->graph), graph_distinct(packs->graph), counted.evaluated,       counted.reused,
        log ? log->column_count : 0, log ? log->decoded_count : 0, log ? log->row_count : 0};
  }
  return outcome;
}
