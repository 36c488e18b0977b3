/* keyway log: a summary of each data log. Reading order: log_command, inputs_open, shared_read (settings, job sheet and
 * adapters, once for all logs), file_sum (one log, in an arena of its own). */
#include "audit/audit.h"

#include "base/limits.h"
#include "cli/adapters.h"
#include "cli/command.h"
#include "cli/library.h"
#include "cli/output.h"
#include "cli/version.h"
#include "read/job.h"
#include "read/log.h"

struct work {
  struct run *run;
  struct request request;
  struct library library;
  const struct source **logs; /* as opened; NULL: not readable */
  const struct source *settings_source, *job_source;
  struct adapters adapters;
  const struct settings *settings; /* NULL: none given */
  const struct job *job;           /* NULL: none given */
  const struct entry **tables;     /* those of the request */
  struct problems *refusals;       /* one list for each log */
  struct outputs outputs;
};

static bool formats_check(const struct request *request, struct problems *problems)
{
  for (size_t i = 0; i < request->output_count; i++) {
    const struct report_format *format = request->outputs[i].format;
    if (format != NULL && format->write_log == NULL)
      return problems_add(problems, PLACE_NONE, "the summary of a log has no form '%s'", format->name);
  }
  return true;
}

static bool tables_find(struct work *work, struct problems *problems)
{
  const struct request *request = &work->request;
  const struct vocabulary *vocabulary = work->library.vocabulary;
  bool good = true;
  work->tables = ARENA_ARRAY(work->run->arena, request->table_count, const struct entry *);
  for (size_t i = 0; i < request->table_count; i++) {
    struct slice name = slice_of(request->tables[i]);
    const struct entry *entry = vocabulary_find(vocabulary, SCOPE_TUNE, name);
    work->tables[i] = entry;
    if (entry != NULL && entry->kind == VALUE_TABLE)
      continue;
    good = problems_add(problems, PLACE_NONE, "'%s' is no table of the vocabulary", request->tables[i]);
    const struct entry *near = entry == NULL ? vocabulary_nearest(vocabulary, SCOPE_TUNE, name) : NULL;
    if (near != NULL && near->kind == VALUE_TABLE)
      problems_hint(problems, "the nearest is %.*s", SLICE_ARG(near->name));
  }
  return good;
}

/* Opens everything before anything is read, so that printed names are settled once. */
static void inputs_open(struct work *work, struct problems *shared)
{
  const struct request *request = &work->request;
  struct sources *sources = work->run->sources;
  struct arena *arena = work->run->arena;
  uint64_t limit = request->adapter != NULL ? LIMIT_EXPORT_BYTES : LIMIT_YAML_BYTES;
  work->logs = ARENA_ARRAY(arena, request->log_count, const struct source *);
  work->refusals = ARENA_ARRAY(arena, request->log_count, struct problems);
  shared->of = PROBLEM_OF_INPUT;
  for (size_t i = 0; i < request->log_count; i++) {
    problems_init(&work->refusals[i], arena, PROBLEM_OF_INPUT);
    work->logs[i] = sources_open_long(sources, request->logs[i], LIMIT_LOG_BYTES, LOG_KEEP_BYTES, &work->refusals[i]);
  }
  if (request->settings_count > 0)
    work->settings_source = sources_open(sources, request->settings[0], limit, shared);
  if (request->job != NULL)
    work->job_source = sources_open(sources, request->job, LIMIT_YAML_BYTES, shared);
  adapters_open(&work->adapters, sources, request->adapter, request->log_adapter, shared);
  sources_name(sources, request->root);
}

/* All files that are read, for outputs_open. */
static const char *const *input_paths(const struct work *work, size_t *count)
{
  const struct request *request = &work->request;
  const char *const single[] = {request->job, request->adapter, request->log_adapter};
  size_t most = request->log_count + request->settings_count + request->rules_count + sizeof single / sizeof *single;
  const char **paths = ARENA_ARRAY(work->run->arena, most, const char *);
  *count = 0;
  for (size_t i = 0; i < request->log_count; i++)
    paths[(*count)++] = request->logs[i];
  for (size_t i = 0; i < request->settings_count; i++)
    paths[(*count)++] = request->settings[i];
  for (size_t i = 0; i < request->rules_count; i++)
    paths[(*count)++] = request->rules[i];
  for (size_t i = 0; i < sizeof single / sizeof *single; i++) {
    if (single[i] != NULL)
      paths[(*count)++] = single[i];
  }
  return paths;
}

static bool shared_read(struct work *work, struct problems *problems)
{
  struct arena *arena = work->run->arena;
  const struct vocabulary *vocabulary = work->library.vocabulary;
  problems->of = PROBLEM_OF_INPUT;
  adapters_read(&work->adapters, arena, vocabulary, problems);
  if (work->job_source != NULL)
    work->job = job_read(arena, vocabulary, work->job_source, problems);
  if (work->job != NULL)
    audit_check_job(work->library.packs, work->job, problems);
  if (work->settings_source != NULL)
    work->settings = adapters_settings(&work->adapters, arena, vocabulary, work->settings_source, NULL, problems);
  return !problems_has(problems, PROBLEM_OF_INPUT);
}

static const struct survey *survey_of(const struct work *work, struct arena *arena, const struct source *source,
                                      struct problems *problems)
{
  const struct vocabulary *vocabulary = work->library.vocabulary;
  struct log_options options = {
      .rate = work->request.rate, .adapter = work->adapters.log, .threads = work->request.threads};
  const struct log *log = log_read(arena, vocabulary, source, &options, problems);
  if (log == NULL)
    return NULL;
  struct subject subject = {.vocabulary = vocabulary, .settings = work->settings, .log = log, .job = work->job};
  struct survey *survey = survey_read(arena, vocabulary, log, work->run->sources);
  audit_phases(arena, work->library.packs, &subject, work->request.threads, survey);
  audit_visits(arena, work->library.packs, &subject, work->tables, work->request.table_count, work->request.threads,
               survey);
  return survey;
}

/* Whether the text report on standard output will show the problems; otherwise standard error must. */
static bool text_shown(const struct work *work)
{
  for (size_t i = 0; i < work->outputs.count; i++) {
    const struct output *output = &work->outputs.items[i];
    if (output->target == NULL && output->format->write_log == report_log_text)
      return true;
  }
  return false;
}

/* The printed name, also of a log that could not be opened: never a path of this machine. */
static struct slice name_of(const struct work *work, size_t index)
{
  const char *path = work->request.logs[index];
  if (work->logs[index] != NULL)
    return work->logs[index]->name;
  for (uint32_t id = 1; sources_get(work->run->sources, id) != NULL; id++) {
    const struct source *source = sources_get(work->run->sources, id);
    if (slice_is(source->path, path))
      return source->name;
  }
  return slice_of(path);
}

/* A log that cannot be read does not stop the others. false: memory ran out. */
static bool file_sum(struct work *work, size_t index, enum status *status)
{
  struct arena *arena = arena_new();
  struct problems *problems = &work->refusals[index];
  const struct source *source = work->logs[index];
  struct report_log log = {.file = name_of(work, index), .problems = problems, .exit = STATUS_CLEAN};
  if (source != NULL)
    log.survey = survey_of(work, arena, source, problems);
  if (log.survey == NULL)
    log.exit = STATUS_INPUT;
  bool done = true;
  for (size_t i = 0; i < work->outputs.count; i++) {
    const struct output *output = &work->outputs.items[i];
    struct report_options options = {.color = false, .width = 0, .version = KEYWAY_VERSION};
    if (index > 0 && output->format->between != NULL)
      output->format->between(output->stream);
    done = output->format->write_log(output->stream, &log, work->run->sources, &options) && done;
  }
  if (!text_shown(work))
    command_refuse(work->run, problems);
  *status = status_worse(*status, (enum status)log.exit);
  arena_free(arena);
  return done;
}

/* One line on standard error, status 5. */
static enum status fault(const char *why)
{
  fprintf(stderr, "keyway: %s\n", why);
  return STATUS_FAULT;
}

static enum status files_sum(struct work *work)
{
  enum status status = STATUS_CLEAN;
  for (size_t i = 0; i < work->request.log_count; i++) {
    if (!file_sum(work, i, &status)) {
      outputs_drop(&work->outputs);
      return fault("out of memory while writing a report");
    }
  }
  const char *why = outputs_commit(work->run->arena, &work->outputs);
  return why != NULL ? fault(why) : status;
}

enum status log_command(struct run *run, const struct line *line)
{
  struct work work = {.run = run};
  struct problems refused;
  size_t count;
  problems_init(&refused, run->arena, PROBLEM_OF_USAGE);
  if (!request_read(run->arena, line, &work.request, &refused) || !formats_check(&work.request, &refused))
    return command_refuse(run, &refused);
  if (!library_read(run->arena, run->sources, LIBRARY_LEAN, work.request.rules, work.request.rules_count, &work.library,
                    &refused)) {
    sources_name(run->sources, work.request.root);
    return command_refuse(run, &refused);
  }
  if (!tables_find(&work, &refused))
    return command_refuse(run, &refused);
  inputs_open(&work, &refused);
  if (!shared_read(&work, &refused)) {
    adapters_free(&work.adapters);
    return command_refuse(run, &refused);
  }
  refused.of = PROBLEM_OF_USAGE;
  const char *const *paths = input_paths(&work, &count);
  enum status status = STATUS_USAGE;
  if (outputs_open(run->arena, &work.request, paths, count, &work.outputs, &refused))
    status = files_sum(&work);
  else
    command_refuse(run, &refused);
  adapters_free(&work.adapters);
  return status;
}
