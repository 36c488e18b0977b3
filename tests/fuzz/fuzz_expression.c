/* Any bytes as an expression of the rule language: parsed, checked, evaluated on the subject when they can be. */
#include "expr/eval.h"
#include "fuzz.h"

static struct place place_of(const void *context, size_t from, size_t to)
{
  const struct source *source = context;
  return (struct place){source->id, from, to};
}

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  const struct names *names = audit_names(fuzz->arena, fuzz->library.vocabulary);
  struct graph *graph = graph_new(fuzz->arena);
  struct locator locator = {place_of, source};
  const struct expr *expr = expr_compile(fuzz->arena, graph, names, source->bytes, NULL, &locator, &fuzz->problems);
  if (expr == NULL)
    return;
  const struct subject *subject = &fuzz->subject;
  struct eval_inputs inputs = {.names = names, .stage = slice_of("delivery")};
  inputs.values[NAME_TUNE] = subject->settings->values;
  inputs.values[NAME_LOG] = subject->log->values;
  inputs.values[NAME_JOB] = subject->job->values;
  evaluate(evaluation_new(fuzz->arena, graph, &inputs), expr);
}
