/* For how long a log was in each cell of the tables that are asked for, for its summary: what visits(TABLE, x, y) of
 * the rule language gives for the channels that the vocabulary names for the table's axes. */
#include "audit/judge.h"

#include "base/processors.h"

static struct place nowhere(const void *context, size_t from, size_t to)
{
  (void)context;
  (void)from;
  (void)to;
  return PLACE_NONE;
}

static void times_read(struct arena *arena, const struct collection *cells, struct survey_visits *visits)
{
  double *time = ARENA_ARRAY(arena, cells->count + 1, double);
  for (size_t i = 0; i < cells->count; i++)
    time[i] = cells->items[i].fields[3].number;
  visits->time = time;
}

static void missing_read(struct arena *arena, const struct missing *missing, struct survey_visits *visits)
{
  const char **names = ARENA_ARRAY(arena, missing->count + 1, const char *);
  for (size_t i = 0; i < missing->count; i++)
    names[i] = arena_text(arena, slice_of(missing->names[i]));
  visits->missing_count = missing->count;
  visits->missing = names;
}

static struct survey_visits visits_read(struct arena *arena, const struct packs *packs, const struct subject *subject,
                                        const struct eval_inputs *inputs, const struct entry *entry)
{
  struct arena *scratch = arena_new();
  struct problems problems;
  struct graph *graph = graph_new(scratch);
  struct locator locator = {nowhere, NULL};
  struct survey_visits visits = {.name = entry->name};
  problems_init(&problems, scratch, PROBLEM_OF_PACK);
  const char *text = arena_print(scratch, "visits(tune.%.*s, log.%.*s, log.%.*s)", SLICE_ARG(entry->name),
                                 SLICE_ARG(entry->x_channel), SLICE_ARG(entry->y_channel));
  const struct expr *call = expr_compile(scratch, graph, packs->names, slice_of(text), NULL, &locator, &problems);
  if (call != NULL) {
    struct result cells = evaluate(evaluation_new(scratch, graph, inputs), call);
    const struct value *table = subject->settings->values[vocabulary_index(subject->vocabulary, SCOPE_TUNE, entry)];
    visits.table = cells.known ? &table->as.table : NULL;
    if (cells.known)
      times_read(arena, cells.collection, &visits);
    else
      missing_read(arena, cells.missing, &visits);
  }
  arena_free(scratch);
  return visits;
}

void audit_visits(struct arena *arena, const struct packs *packs, const struct subject *subject,
                  const struct entry *const *tables, size_t count, size_t threads, struct survey *survey)
{
  struct eval_inputs inputs = audit_inputs(arena, packs, subject, STAGE_LOOK);
  inputs.threads = threads > 0 ? threads : processors_count();
  struct survey_visits *out = ARENA_ARRAY(arena, count, struct survey_visits);
  for (size_t i = 0; i < count; i++)
    out[i] = visits_read(arena, packs, subject, &inputs, tables[i]);
  survey->visits = out;
  survey->visits_count = count;
}
