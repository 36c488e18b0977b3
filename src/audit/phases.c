/* How long the phases of the packs are held in a log, for its summary: without rules, so that settings and job sheet
 * may be lacking. Reading order: audit_phases, then phase_read. */
#include "audit/judge.h"

#include "base/processors.h"

#include <math.h>
#include <stdlib.h>

static void missing_read(struct survey_phase *phase, const struct result *result)
{
  phase->missing_count = result->missing != NULL ? result->missing->count : 0;
  phase->missing = result->missing != NULL ? result->missing->names : NULL;
}

static void phase_read(struct evaluation *evaluation, const struct phase *from, struct survey_phase *phase)
{
  struct result held = evaluate(evaluation, from->held), spans = evaluate(evaluation, from->spans);
  struct result least = evaluate(evaluation, from->least);
  phase->name = from->name;
  phase->title = from->title;
  phase->known = held.known && spans.known;
  phase->has_least = least.known;
  phase->least = least.known ? least.number : 0;
  if (!phase->known) {
    missing_read(phase, held.known ? &spans : &held);
    return;
  }
  phase->duration = held.number;
  phase->stretches = spans.collection->count;
  for (size_t i = 0; i < phase->stretches; i++) {
    const struct item *span = &spans.collection->items[i];
    phase->longest = fmax(phase->longest, span->fields[1].number - span->fields[0].number);
  }
}

static int compare_order(const void *a, const void *b)
{
  const struct phase *x = *(const struct phase *const *)a, *y = *(const struct phase *const *)b;
  return (x->order > y->order) - (x->order < y->order);
}

void audit_phases(struct arena *arena, const struct packs *packs, const struct subject *subject, size_t threads,
                  struct survey *survey)
{
  struct eval_inputs inputs = audit_inputs(arena, packs, subject, STAGE_LOOK);
  inputs.threads = threads > 0 ? threads : processors_count();
  struct arena *scratch = arena_new();
  struct evaluation *evaluation = evaluation_new(arena, packs->graph, &inputs);
  const struct phase **phases = ARENA_ARRAY(scratch, packs->phase_count, const struct phase *);
  for (size_t i = 0; i < packs->phase_count; i++)
    phases[i] = &packs->phases[i];
  qsort(phases, packs->phase_count, sizeof *phases, compare_order);
  struct survey_phase *out = ARENA_ARRAY(arena, packs->phase_count, struct survey_phase);
  for (size_t i = 0; i < packs->phase_count; i++)
    phase_read(evaluation, phases[i], &out[i]);
  survey->phases = out;
  survey->phase_count = packs->phase_count;
  arena_free(scratch);
}
