/* keyway prove: every rule's own cases, then every slip a rule's author could make, each of which some case has to
 * notice; and the same for the phases, each as a rule that flags where the phase holds. Reading order: prove_command,
 * prove_rule, prove_phase, then prove_like.c (cases that are like others), prove_case.c (inputs of a case, what it
 * expects) and prove_change.c (the slips). */
#include "cli/prove.h"

#include "audit/audit.h"
#include "cli/library.h"
#include "cli/prove_case.h"
#include "cli/prove_change.h"
#include "cli/prove_like.h"
#include "rules/phase.h"

#include <stdlib.h>

struct tally {
  size_t rules, phases, cases, changes, explained; /* explained: not noticed, with a reason in unchanged_by */
  size_t passed, failed;
};

struct prover {
  struct case_reader reader;
  const struct packs *packs;
  FILE *out;
  struct tally tally;
};

static void fail(struct prover *prover, const struct rule *rule, const char *what)
{
  prover->tally.failed++;
  fprintf(prover->out, "FAIL %.*s: %s\n", SLICE_ARG(rule->id), what);
}

/* A changed rule in a set of its own. NULL when the change does not compile: then it is no slip that could be shipped.
 */
static const struct packs *packs_changed(struct arena *arena, const struct packs *packs, const struct rule *rule,
                                         const struct change *change, const struct rule **changed)
{
  struct packs *copy = ARENA_NEW(arena, struct packs);
  *copy = *packs;
  *changed = rule;
  if (change->limit) {
    struct limit *limits = ARENA_ARRAY(arena, packs->limit_count, struct limit);
    memcpy(limits, packs->limits, packs->limit_count * sizeof *limits);
    limits[change->limit - packs->limits].value.value += change->by;
    copy->limits = limits;
    return copy;
  }
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_PACK);
  copy->graph = graph_new(arena);
  struct rule_reader reader = {.arena = arena,
                               .graph = copy->graph,
                               .names = packs->names,
                               .source = rule->source,
                               .pack = rule->pack,
                               .caution_count = packs->caution_count,
                               .cautions = packs->cautions,
                               .problems = &problems};
  if (rule->phase_count > 0)
    phases_again(&reader, packs);
  copy->names = reader.names;
  *changed = rule_read(&reader, change->node);
  if (!*changed)
    return NULL;
  const struct rule **rules = ARENA_NEW(arena, const struct rule *);
  *rules = *changed;
  copy->rules = rules;
  copy->rule_count = 1;
  return copy;
}

static bool some_case_notices(const struct prover *prover, struct arena *arena, const struct packs *packs,
                              const struct rule *rule, const struct rule_case *cases, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    if (case_run(&prover->reader, arena, packs, rule, &cases[i]) != NULL)
      return true;
  }
  return false;
}

/* The reason that the rule gives for a change that no case can notice; NULL when it gives none. */
static const struct node *explanation(const struct rule *rule, const char *change)
{
  const struct node *list = rule->unchanged_by;
  for (size_t i = 0; list && list->kind == NODE_LIST && i < list->count; i++) {
    const struct node *text = node_get(&list->items[i], "change"), *why = node_get(&list->items[i], "why");
    if (text && why && text->kind == NODE_SCALAR && slice_is(text->text, change))
      return &list->items[i];
  }
  return NULL;
}

static void prove_changes(struct prover *prover, const struct packs *of, const struct rule *rule,
                          const struct rule_case *cases, size_t count)
{
  struct arena *arena = arena_new();
  struct changes changes = prover->reader.phases ? changes_of_phase(arena, of, rule) : changes_of(arena, of, rule);
  const struct node *list = rule->unchanged_by;
  size_t listed = list && list->kind == NODE_LIST ? list->count : 0, used = 0;
  for (size_t i = 0; i < changes.count; i++) {
    struct arena *scratch = arena_new();
    const struct rule *changed;
    const struct packs *packs = packs_changed(scratch, of, rule, &changes.items[i], &changed);
    if (packs) {
      bool noticed = some_case_notices(prover, scratch, packs, changed, cases, count);
      const struct node *why = explanation(rule, changes.items[i].text);
      prover->tally.changes++;
      used += why != NULL;
      if (noticed && why)
        fail(prover, rule,
             arena_print(scratch, "unchanged_by lists '%s', which a case does notice", changes.items[i].text));
      else if (!noticed && !why)
        fail(prover, rule, arena_print(scratch, "no case notices the change '%s'", changes.items[i].text));
      else {
        prover->tally.passed++;
        prover->tally.explained += why != NULL;
      }
    }
    arena_free(scratch);
  }
  if (used < listed)
    fail(prover, rule, "unchanged_by lists a change that is not among those tried");
  arena_free(arena);
}

/* Each rule shows that it flags, stays clear and stays undecided; and does not apply, where it can. Each phase that it
 * holds, is absent and undecided. */
static void demand_kinds(struct prover *prover, const struct rule *rule, const struct rule_case *cases, size_t count)
{
  bool seen[VERDICT_COUNT] = {false}, phase = prover->reader.phases;
  for (size_t i = 0; i < count; i++)
    seen[cases[i].expect] = true;
  bool conditional = true; /* the rule as a whole can fail to apply */
  for (size_t i = 0; i < rule->check_count; i++)
    conditional = conditional && (rule->checks[i].applies_count > 0 || rule->checks[i].where);
  if (!seen[VERDICT_FLAGGED])
    fail(prover, rule, phase ? "no case expects 'holds'" : "no case expects 'flag'");
  if (!seen[VERDICT_CLEAR])
    fail(prover, rule, phase ? "no case expects 'absent'" : "no case expects 'clear'");
  if (!seen[VERDICT_UNDECIDED] && rule->need_count > 0)
    fail(prover, rule, "no case expects 'undecided'");
  if (!seen[VERDICT_NOT_APPLICABLE] && conditional && !rule->decide_any)
    fail(prover, rule, "no case expects 'not applicable', though the rule has conditions");
}

static void prove_rule(struct prover *prover, const struct packs *packs, const struct rule *rule)
{
  if (!rule->cases || rule->cases->kind != NODE_LIST || rule->cases->count == 0) {
    fail(prover, rule, "has no cases");
    return;
  }
  struct rule_case *cases = ARENA_ARRAY(prover->reader.arena, rule->cases->count, struct rule_case);
  struct node *written = ARENA_ARRAY(prover->reader.arena, rule->cases->count, struct node);
  size_t count = 0, good = 0;
  prover->reader.source = rule->source;
  for (size_t i = 0; i < rule->cases->count; i++)
    count += case_written_out(prover->reader.arena, &rule->cases->items[i], written, i, &written[i],
                              prover->reader.problems) &&
             case_read(&prover->reader, &written[i], &cases[count]);
  if (count < rule->cases->count)
    fail(prover, rule, "has a case that cannot be read");
  for (size_t i = 0; i < count; i++) {
    struct arena *scratch = arena_new();
    const char *why = case_run(&prover->reader, scratch, packs, rule, &cases[i]);
    if (why)
      fail(prover, rule, arena_print(scratch, "case '%s': %s", cases[i].name, why));
    prover->tally.passed += why == NULL;
    good += why == NULL;
    arena_free(scratch);
  }
  prover->tally.cases += count;
  demand_kinds(prover, rule, cases, count);
  if (good == rule->cases->count)
    prove_changes(prover, packs, rule, cases, count);
}

static struct node scalar(const char *text, struct place place)
{
  return (struct node){.kind = NODE_SCALAR, .text = slice_of(text), .place = place};
}

/* A rule as it would be written, that flags where the phase holds and measures for how long. */
static const struct node *phase_as_rule(struct arena *arena, const struct packs *packs, const struct phase *phase)
{
  const char *caution = "";
  for (size_t i = 0; i < packs->caution_count; i++)
    caution = packs->cautions[i].defers ? packs->cautions[i].id : caution;
  const char *id = arena_print(arena, "phase.%.*s", SLICE_ARG(phase->name));
  const char *const texts[][2] = {{"rule", id},
                                  {"title", phase->title},
                                  {"topic", "phases"},
                                  {"flag", "any(when)"},
                                  {"measure", "duration(when)"},
                                  {"say", phase->title},
                                  {"why", phase->why},
                                  {"do", "-"},
                                  {"verify", "-"},
                                  {"by_design", "-"},
                                  {"basis", "-"}};
  enum { TEXTS = sizeof texts / sizeof *texts };
  struct node_pair *pairs = ARENA_ARRAY(arena, TEXTS + 3, struct node_pair), *last = pairs + TEXTS;
  for (size_t i = 0; i < TEXTS; i++)
    pairs[i] = (struct node_pair){scalar(texts[i][0], phase->place), scalar(texts[i][1], phase->place)};
  struct node *cautions = ARENA_NEW(arena, struct node);
  *cautions = scalar(caution, phase->place);
  struct node_pair *let = ARENA_NEW(arena, struct node_pair),
                   *levels = ARENA_ARRAY(arena, STAGE_COUNT, struct node_pair);
  *let = (struct node_pair){scalar("when", phase->place), *node_get(phase->node, "when")};
  for (int i = 0; i < STAGE_COUNT; i++)
    levels[i] = (struct node_pair){scalar(stage_name((enum stage)i), phase->place), scalar("note", phase->place)};
  struct node map = {.kind = NODE_MAP, .place = phase->place};
  for (size_t i = 0; i < 3; i++)
    last[i].value = map;
  last[0].key = scalar("let", phase->place);
  last[0].value.pairs = let;
  last[0].value.count = 1;
  last[1].key = scalar("severity", phase->place);
  last[1].value.pairs = levels;
  last[1].value.count = STAGE_COUNT;
  last[2].key = scalar("cautions", phase->place);
  last[2].value.kind = NODE_LIST;
  last[2].value.items = cautions;
  last[2].value.count = 1;
  struct node *rule = ARENA_NEW(arena, struct node);
  *rule = map;
  rule->pairs = pairs;
  rule->count = TEXTS + 3;
  return rule;
}

static void prove_phase(struct prover *prover, const struct phase *phase)
{
  struct arena *arena = prover->reader.arena;
  struct rule base = {.id = slice_of(arena_print(arena, "phase.%.*s", SLICE_ARG(phase->name))),
                      .pack = phase->pack,
                      .source = phase->source,
                      .phase_count = 1};
  struct change change = {.node = phase_as_rule(arena, prover->packs, phase)};
  const struct rule *compiled;
  const struct packs *packs = packs_changed(arena, prover->packs, &base, &change, &compiled);
  prover->tally.phases++;
  if (!packs) {
    fail(prover, &base, "cannot be proved, since no caution defers");
    return;
  }
  struct rule *rule = ARENA_NEW(arena, struct rule);
  *rule = *compiled;
  rule->cases = phase->cases;
  rule->unchanged_by = phase->unchanged_by;
  const struct rule **rules = ARENA_NEW(arena, const struct rule *);
  *rules = rule;
  struct packs *own = ARENA_NEW(arena, struct packs);
  *own = *packs;
  own->rules = rules;
  prover->reader.phases = true;
  prove_rule(prover, own, rule);
  prover->reader.phases = false;
}

static bool is_extra(const struct library *library, const struct source *source)
{
  for (size_t i = 0; i < library->extra_count; i++) {
    if (library->extras[i] == source)
      return true;
  }
  return false;
}

int prove_command(struct arena *arena, struct sources *sources, const struct vocabulary *vocabulary,
                  const char *const *packs, size_t pack_count, FILE *out, struct problems *problems)
{
  struct library library;
  if (!library_read(arena, sources, LIBRARY_WHOLE, packs, pack_count, &library, problems))
    return 2;
  const struct names *names = phases_leave_out(arena, library.packs->names); /* a made log has a graph of its own */
  struct prover prover = {
      .reader = {.arena = arena, .sources = sources, .vocabulary = vocabulary, .names = names, .problems = problems},
      .packs = library.packs,
      .out = out};
  problems->of = PROBLEM_OF_PACK;
  for (size_t i = 0; i < library.packs->rule_count; i++) {
    const struct rule *rule = library.packs->rules[i];
    if (pack_count > 0 && !is_extra(&library, rule->source))
      continue;
    prover.tally.rules++;
    prove_rule(&prover, library.packs, rule);
  }
  for (size_t i = 0; i < library.packs->phase_count; i++) {
    const struct phase *phase = &library.packs->phases[i];
    if (pack_count == 0 || is_extra(&library, phase->source))
      prove_phase(&prover, phase);
  }
  const struct tally *tally = &prover.tally;
  fprintf(out, "%zu rules, %zu phases, %zu cases, %zu changes: %zu noticed, %zu cannot be noticed and say why\n",
          tally->rules, tally->phases, tally->cases, tally->changes,
          tally->passed > tally->cases ? tally->passed - tally->cases - tally->explained : 0, tally->explained);
  fprintf(out, "%zu passed, %zu failed\n", tally->passed, tally->failed);
  if (problems->count > 0)
    return 2;
  return tally->failed > 0 || tally->rules + tally->phases == 0 ? 1 : 0;
}
