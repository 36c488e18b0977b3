/* One rule on one subject: its checks to a verdict and, when it flags, to findings, one for each setting, channel or
 * reading. Reading order: judge_rule, judge_check, then judge_items and judge_once. */
#include "audit/judge.h"

#include "audit/evidence.h"

#include <math.h>

struct group { /* a finding in the making */
  const char *subject;
  const struct check *check;
  const struct item *worst; /* NULL without `each` */
  bool has_worst;
  double worst_excess;
  enum severity severity;       /* the rule's, or the check's where its `severe` held somewhere */
  struct result severe_unknown; /* why that is not known, at the first place where it is not */
  struct evidence_list evidence;
  const char *also; /* what later checks said of the same subject, with a blank before */
};

struct work { /* judge_rule at work */
  const struct judge *judge;
  const struct rule *rule;
  struct group *groups;
  size_t group_count, group_capacity;
  struct result *unknowns; /* every unknown that mattered */
  size_t unknown_count, unknown_capacity;
  const char *why_not; /* not applicable: the first reason */
  bool clear;
};

static void note_unknown(struct work *work, struct result result)
{
  if (!result.missing)
    return;
  work->unknowns = arena_grow(work->judge->arena, work->unknowns, work->unknown_count, &work->unknown_capacity,
                              sizeof *work->unknowns);
  work->unknowns[work->unknown_count++] = result;
}

static void note_reason(struct work *work, const char *reason)
{
  const char **names = ARENA_ARRAY(work->judge->arena, 1, const char *);
  names[0] = reason;
  struct missing *missing = ARENA_NEW(work->judge->arena, struct missing);
  *missing = (struct missing){1, names};
  note_unknown(work, (struct result){.missing = missing});
}

static struct group *group_for(struct work *work, const struct check *check, const char *subject)
{
  for (size_t i = 0; i < work->group_count; i++) {
    if (work->groups[i].check == check && strcmp(work->groups[i].subject, subject) == 0)
      return &work->groups[i];
  }
  work->groups =
      arena_grow(work->judge->arena, work->groups, work->group_count, &work->group_capacity, sizeof *work->groups);
  struct group *group = &work->groups[work->group_count++];
  *group = (struct group){.subject = subject, .check = check, .severity = work->rule->severity[work->judge->stage]};
  return group;
}

/* The measured value and how far it is beyond the limit, for one place. */
static struct evidence measured_here(const struct judge *judge, const struct check *check)
{
  struct evidence evidence = {.text = ""};
  if (!check->measure)
    return evidence;
  struct result measure = evaluate(judge->evaluation, check->measure);
  if (!measure.known)
    return evidence;
  evidence.has_value = true;
  evidence.value = result_quantity(judge->arena, &measure, expr_type(check->measure));
  evidence.excess = fabs(measure.number);
  if (check->limit) {
    struct result limit = evaluate(judge->evaluation, check->limit);
    evidence.excess = limit.known ? fabs(measure.number - limit.number) : 0;
  }
  return evidence;
}

static void flagged(struct work *work, const struct check *check, const struct item *item)
{
  const struct judge *judge = work->judge;
  const char *subject = check->subject_name;
  if (check->subject) {
    struct result text = evaluate(judge->evaluation, check->subject);
    if (text.known)
      subject = arena_text(judge->arena, text.text);
  }
  struct group *group = group_for(work, check, subject);
  struct evidence evidence = measured_here(judge, check);
  if (check->severe) {
    struct result severe = evaluate(judge->evaluation, check->severe);
    if (severe.known && severe.on)
      group->severity = check->severity[judge->stage];
    if (!severe.known && !group->severe_unknown.missing)
      group->severe_unknown = severe;
  }
  if (!group->has_worst || evidence.excess > group->worst_excess) {
    group->has_worst = true;
    group->worst_excess = evidence.excess;
    group->worst = item;
  }
  if (item)
    evidence_of_item(judge, item, &evidence, &group->evidence);
  else
    evidence_of_names(judge, check, &evidence, &group->evidence);
}

static void judge_once(struct work *work, const struct check *check)
{
  struct result flag = evaluate(work->judge->evaluation, check->flag);
  if (!flag.known)
    note_unknown(work, flag);
  else if (flag.on)
    flagged(work, check, NULL);
  else
    work->clear = true;
}

static void judge_items(struct work *work, const struct check *check)
{
  struct evaluation *evaluation = work->judge->evaluation;
  struct result all = evaluate(evaluation, check->each);
  if (!all.known) {
    note_unknown(work, all);
    return;
  }
  size_t judged = 0, unknown = 0, flags = 0;
  for (size_t i = 0; i < all.collection->count; i++) {
    const struct item *item = &all.collection->items[i];
    evaluation_item(evaluation, item);
    struct result where = {.known = true, .on = true};
    if (check->where)
      where = evaluate(evaluation, check->where);
    if (where.known && !where.on)
      continue;
    struct result flag = where.known ? evaluate(evaluation, check->flag) : where;
    judged++;
    if (!flag.known) {
      unknown++;
      note_unknown(work, flag);
    } else if (flag.on) {
      flags++;
      flagged(work, check, item);
    }
  }
  evaluation_item(evaluation, NULL);
  bool nothing = judged == 0 && all.collection->count > 0 && check->where != NULL;
  if (nothing && !work->why_not)
    work->why_not = "nothing there meets the rule's conditions";
  else if (!nothing && unknown == 0 && flags == 0)
    work->clear = true;
}

/* "at least 20 s of warm idle in the log" of an entry of phases:, the else: text of one of needs:. */
static const char *reason_of(const struct judge *judge, const struct condition *need)
{
  if (!need->least)
    return need->otherwise;
  struct result least = evaluate(judge->evaluation, need->least);
  const char *time = result_print(judge->arena, &least, expr_type(need->least), NULL, 0);
  return arena_print(judge->arena, "at least %s of %s in the log", time, need->otherwise);
}

/* false when the check does not apply or cannot be decided. */
static bool conditions_hold(struct work *work, const struct check *check)
{
  struct result unknown = {.known = true};
  for (size_t i = 0; i < check->applies_count; i++) {
    struct result that = evaluate(work->judge->evaluation, check->applies[i].that);
    if (that.known && !that.on) { /* whatever else is unknown */
      work->why_not = work->why_not ? work->why_not : check->applies[i].otherwise;
      return false;
    }
    if (!that.known && unknown.known)
      unknown = that;
  }
  if (!unknown.known) {
    note_unknown(work, unknown);
    return false;
  }
  for (size_t i = 0; i < check->needs_count; i++) {
    struct result that = evaluate(work->judge->evaluation, check->needs[i].that);
    if (that.known && that.on)
      continue;
    if (that.known)
      note_reason(work, reason_of(work->judge, &check->needs[i]));
    else
      note_unknown(work, that);
    return false;
  }
  return true;
}

/* Which limit a finding's number is, and where that came from: "limit.warm_up_end, job sheet: thermostat opens at 82".
 */
struct limit_walk {
  const struct judge *judge;
  double value; /* base units */
  const char *text;
};

static void match_limit(void *context, const struct name *name)
{
  struct limit_walk *walk = context;
  if (name->scope != NAME_LIMIT || walk->text)
    return;
  struct slice own = slice_part(name->full, strlen("limit."), name->full.size);
  const struct job *job = walk->judge->subject->job;
  for (size_t i = 0; job && i < job->limit_count; i++) {
    const struct job_limit *set = &job->limits[i];
    if (!slice_equal(set->name, own))
      continue;
    const char *mark = set->reason.size > 0 ? ": " : "";
    const struct limit *replaced = packs_limit(walk->judge->packs, own);
    if (replaced && audit_limit(set, replaced).value == walk->value)
      walk->text =
          arena_print(walk->judge->arena, "%.*s, job sheet%s%.*s", SLICE_ARG(name->full), mark, SLICE_ARG(set->reason));
    return;
  }
  const struct limit *limit = packs_limit(walk->judge->packs, own);
  if (limit && limit->value.value == walk->value)
    walk->text = arena_text(walk->judge->arena, name->full);
}

static struct finding finish(struct work *work, struct group *group)
{
  const struct judge *judge = work->judge;
  const struct rule *rule = work->rule;
  const struct check *check = group->check;
  evaluation_item(judge->evaluation, group->worst);
  const char *message = message_fill(judge->arena, check->say, judge->evaluation);
  struct finding finding = {.rule = rule,
                            .id = rule->id.at,
                            .severity = group->severity,
                            .first = rule->first,
                            .title = rule->title,
                            .message = group->also ? arena_print(judge->arena, "%s%s", message, group->also) : message,
                            .subject = group->subject,
                            .why = rule->why,
                            .act = check->act ? message_fill(judge->arena, check->act, judge->evaluation) : rule->act,
                            .verify = rule->verify,
                            .by_design = rule->by_design,
                            .basis = rule->basis,
                            .caution_count = rule->caution_count,
                            .cautions = rule->cautions};
  struct evidence measured = measured_here(judge, check);
  finding.has_measured = measured.has_value;
  finding.measured = measured.value;
  if (check->limit) {
    struct result limit = evaluate(judge->evaluation, check->limit);
    finding.has_limit = limit.known;
    if (limit.known)
      finding.limit = result_quantity(judge->arena, &limit, expr_type(check->limit));
    struct limit_walk walk = {judge, limit.number, NULL};
    expr_names(check->limit, match_limit, &walk);
    finding.limit_from = walk.text;
  }
  evaluation_item(judge->evaluation, NULL);
  evidence_sort(group->evidence.items, group->evidence.count);
  finding.evidence = group->evidence.items;
  finding.evidence_count = group->evidence.count;
  finding.identity = finding_identity(judge->arena, &finding);
  return finding;
}

static bool has_place(const struct evidence_list *list, struct place place)
{
  for (size_t i = 0; i < list->count; i++) {
    if (list->items[i].place.source == place.source && list->items[i].place.start == place.start)
      return true;
  }
  return false;
}

/* Two checks that speak of one subject give one finding, in the words of both. */
static void merge_groups(struct work *work)
{
  for (size_t i = 0; i < work->group_count; i++) {
    for (size_t k = i + 1; k < work->group_count; k++) {
      struct group *a = &work->groups[i], *b = &work->groups[k];
      if (strcmp(a->subject, b->subject) != 0 || !a->check || !b->check)
        continue;
      evaluation_item(work->judge->evaluation, b->worst);
      const char *said = message_fill(work->judge->arena, b->check->say, work->judge->evaluation);
      a->also = arena_print(work->judge->arena, "%s %s", a->also ? a->also : "", said);
      if (b->severity > a->severity)
        a->severity = b->severity;
      for (size_t e = 0; e < b->evidence.count; e++) {
        if (has_place(&a->evidence, b->evidence.items[e].place))
          continue;
        a->evidence.items = arena_grow(work->judge->arena, a->evidence.items, a->evidence.count, &a->evidence.capacity,
                                       sizeof *a->evidence.items);
        a->evidence.items[a->evidence.count++] = b->evidence.items[e];
      }
      b->check = NULL;
    }
  }
}

static void judge_check(struct work *work, const struct check *check)
{
  if (!conditions_hold(work, check))
    return;
  if (check->each)
    judge_items(work, check);
  else
    judge_once(work, check);
}

struct judgement judge_rule(const struct judge *judge, const struct rule *rule)
{
  const char *unraised = arena_print(judge->arena, "not raised at the stage '%s'", stage_name(judge->stage));
  if (rule->severity[judge->stage] == SEVERITY_NONE &&
      !(rule->has_severe && rule->severe[judge->stage] != SEVERITY_NONE))
    return (struct judgement){.verdict = VERDICT_NOT_APPLICABLE, .why = unraised};
  struct work work = {.judge = judge, .rule = rule};
  for (size_t i = 0; i < rule->check_count; i++)
    judge_check(&work, &rule->checks[i]);
  merge_groups(&work);
  struct finding *findings = ARENA_ARRAY(judge->arena, work.group_count + 1, struct finding);
  size_t count = 0;
  for (size_t i = 0; i < work.group_count; i++) {
    if (!work.groups[i].check)
      continue;
    struct finding finding = finish(&work, &work.groups[i]);
    if (finding.severity != SEVERITY_NONE) {
      findings[count++] = finding;
      continue;
    }
    /* Flagged, but raised here only when it is severe. */
    note_unknown(&work, work.groups[i].severe_unknown);
    work.why_not = unraised;
  }
  if (count > 0)
    return (struct judgement){.verdict = VERDICT_FLAGGED, .finding_count = count, .findings = findings};
  if (work.unknown_count > 0 && !(rule->decide_any && work.clear))
    return (struct judgement){.verdict = VERDICT_UNDECIDED,
                              .missing = missing_join(judge->arena, work.unknowns, work.unknown_count)};
  if (work.clear && work.group_count == 0)
    return (struct judgement){.verdict = VERDICT_CLEAR};
  return (struct judgement){.verdict = VERDICT_NOT_APPLICABLE, .why = work.why_not ? work.why_not : "nothing to judge"};
}
