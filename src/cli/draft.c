/* keyway draft: opens, drafts, and puts the adapter in its place when all of it could be made. Reading order:
 * draft_command, draft; wanted_names. */
#include "cli/draft.h"

#include "base/limits.h"
#include "cli/library.h"
#include "cli/output.h"
#include "read/draft.h"

/* The names of a scope that some rule reads. */
static const bool *wanted_names(struct arena *arena, const struct library *library, enum scope scope)
{
  const struct vocabulary *vocabulary = library->vocabulary;
  bool *wanted = ARENA_ARRAY(arena, vocabulary->count[scope], bool);
  const char *prefix = arena_print(arena, "%s.", scope_name(scope));
  for (size_t i = 0; i < library->packs->rule_count; i++) {
    const struct rule *rule = library->packs->rules[i];
    for (size_t k = 0; k < rule->need_count; k++) {
      if (strncmp(rule->needs[k], prefix, strlen(prefix)) != 0)
        continue;
      const struct entry *entry = vocabulary_find(vocabulary, scope, slice_of(rule->needs[k] + strlen(prefix)));
      if (entry != NULL)
        wanted[vocabulary_index(vocabulary, scope, entry)] = true;
    }
  }
  return wanted;
}

static enum status draft(struct run *run, const struct line *line, const char *file, struct problems *problems)
{
  struct library library;
  struct outputs outputs;
  struct output_request output = {.file = file};
  struct request request = {.output_count = 1, .outputs = &output};
  const char *inputs[] = {line->arguments[0]};
  bool log = line_value(line, OPTION_DRAFT_LOG) != NULL;
  problems->of = PROBLEM_OF_PACK;
  if (!library_read(run->arena, run->sources, LIBRARY_LEAN, NULL, 0, &library, problems))
    return command_refuse(run, problems);
  problems->of = PROBLEM_OF_INPUT;
  const struct source *source =
      sources_open(run->sources, line->arguments[0], log ? LIMIT_LOG_BYTES : LIMIT_EXPORT_BYTES, problems);
  sources_name(run->sources, NULL);
  if (source == NULL)
    return command_refuse(run, problems);
  problems->of = PROBLEM_OF_USAGE;
  if (!outputs_open(run->arena, &request, inputs, 1, &outputs, problems))
    return command_refuse(run, problems);
  problems->of = PROBLEM_OF_INPUT;
  const bool *wanted = wanted_names(run->arena, &library, log ? SCOPE_LOG : SCOPE_TUNE);
  struct source *bytes = (struct source *)source;
  FILE *out = outputs.items[0].stream;
  bool done = log ? draft_log(out, library.vocabulary, bytes, wanted, problems)
                  : draft_settings(out, library.vocabulary, bytes, wanted, problems);
  if (!done) {
    outputs_drop(&outputs);
    return command_refuse(run, problems);
  }
  const char *why = outputs_commit(run->arena, &outputs);
  if (why == NULL)
    return STATUS_CLEAN;
  fprintf(stderr, "keyway: %s\n", why);
  return STATUS_FAULT;
}

enum status draft_command(struct run *run, const struct line *line)
{
  struct problems problems;
  size_t count = 0;
  problems_init(&problems, run->arena, PROBLEM_OF_USAGE);
  const char *const *files = line_values(run->arena, line, OPTION_OUTPUT, &count);
  if (count > 1) {
    problems_add(&problems, PLACE_NONE, "'--output' was given twice: '%s' and '%s'", files[0], files[1]);
    return command_refuse(run, &problems);
  }
  return draft(run, line, count > 0 && strcmp(files[0], "-") != 0 ? files[0] : NULL, &problems);
}
