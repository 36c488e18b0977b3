/* keyway audit. Reading order: audit_command, which is the pipeline from the command line to the exit status; then
 * inputs_open, shared_read (job sheet and log, once for all settings files) and file_audit (one settings file, in an
 * arena of its own). */
#include "audit/audit.h"

#include "base/limits.h"
#include "cli/adapters.h"
#include "cli/command.h"
#include "cli/library.h"
#include "cli/output.h"
#include "cli/request.h"
#include "cli/version.h"
#include "read/job.h"
#include "read/log.h"
#include "report/escape.h"
#include "text/digest.h"

#include <inttypes.h>
#include <stdlib.h>
#include <unistd.h>

struct work {
  struct run *run;
  struct request request;
  struct library library;
  const struct source **settings;    /* as opened; NULL: not readable */
  const struct source **log_sources; /* the same of each log */
  const struct source *job_source, *before_source;
  struct adapters adapters;
  const struct log *log; /* NULL: none given, or refused */
  const struct job *job;
  const struct settings *before; /* the file as it was before */
  struct problems *refusals;     /* one list for each settings file; the last one belongs to log and job sheet */
  struct outputs outputs;
  struct report_total total;
};

static struct problems *shared_problems(const struct work *work)
{
  return &work->refusals[work->request.settings_count];
}

/* All files that are read, for outputs_open. */
static const char *const *input_paths(const struct work *work, size_t *count)
{
  const struct request *request = &work->request;
  size_t most = request->settings_count + request->rules_count + request->log_count + 4;
  const char **paths = ARENA_ARRAY(work->run->arena, most, const char *);
  *count = 0;
  for (size_t i = 0; i < request->settings_count; i++)
    paths[(*count)++] = request->settings[i];
  for (size_t i = 0; i < request->rules_count; i++)
    paths[(*count)++] = request->rules[i];
  for (size_t i = 0; i < request->log_count; i++)
    paths[(*count)++] = request->logs[i];
  if (request->job != NULL)
    paths[(*count)++] = request->job;
  if (request->before != NULL)
    paths[(*count)++] = request->before;
  if (request->adapter != NULL)
    paths[(*count)++] = request->adapter;
  if (request->log_adapter != NULL)
    paths[(*count)++] = request->log_adapter;
  return paths;
}

/* Opens everything before anything is read, so that printed names are settled once. */
static void inputs_open(struct work *work)
{
  const struct request *request = &work->request;
  struct sources *sources = work->run->sources;
  struct arena *arena = work->run->arena;
  uint64_t limit = request->adapter != NULL ? LIMIT_EXPORT_BYTES : LIMIT_YAML_BYTES;
  work->refusals = ARENA_ARRAY(arena, request->settings_count + 1, struct problems);
  work->settings = ARENA_ARRAY(arena, request->settings_count, const struct source *);
  for (size_t i = 0; i <= request->settings_count; i++)
    problems_init(&work->refusals[i], arena, PROBLEM_OF_INPUT);
  for (size_t i = 0; i < request->settings_count; i++)
    work->settings[i] = sources_open(sources, request->settings[i], limit, &work->refusals[i]);
  work->log_sources = ARENA_ARRAY(arena, request->log_count, const struct source *);
  for (size_t i = 0; i < request->log_count; i++)
    work->log_sources[i] =
        sources_open_long(sources, request->logs[i], LIMIT_LOG_BYTES, LOG_KEEP_BYTES, shared_problems(work));
  if (request->job != NULL)
    work->job_source = sources_open(sources, request->job, LIMIT_YAML_BYTES, shared_problems(work));
  if (request->before != NULL)
    work->before_source = sources_open(sources, request->before, limit, shared_problems(work));
  adapters_open(&work->adapters, sources, request->adapter, request->log_adapter, shared_problems(work));
  sources_name(sources, request->root);
}

/* Those that could be opened are read even where another could not: a person sees all problems together. */
static void logs_read(struct work *work)
{
  struct arena *arena = work->run->arena;
  const struct vocabulary *vocabulary = work->library.vocabulary;
  const struct source **opened = ARENA_ARRAY(arena, work->request.log_count, const struct source *);
  size_t count = 0;
  for (size_t i = 0; i < work->request.log_count; i++) {
    if (work->log_sources[i] != NULL)
      opened[count++] = work->log_sources[i];
  }
  if (count == 0 || (work->adapters.for_log && work->adapters.log == NULL))
    return;
  bool *wanted = ARENA_ARRAY(arena, vocabulary->count[SCOPE_LOG], bool);
  audit_wanted(work->library.packs, vocabulary, wanted);
  struct log_options options = {
      .wanted = wanted, .rate = work->request.rate, .adapter = work->adapters.log, .threads = work->request.threads};
  const struct log *log = log_read_all(arena, vocabulary, opened, count, &options, shared_problems(work));
  work->log = count == work->request.log_count ? log : NULL;
}

static void shared_read(struct work *work)
{
  struct arena *arena = work->run->arena;
  const struct vocabulary *vocabulary = work->library.vocabulary;
  struct problems *problems = shared_problems(work);
  if (work->job_source != NULL)
    work->job = job_read(arena, vocabulary, work->job_source, problems);
  if (work->job != NULL)
    audit_check_job(work->library.packs, work->job, problems);
  adapters_read(&work->adapters, arena, vocabulary, problems);
  if (work->before_source != NULL)
    work->before = adapters_settings(&work->adapters, arena, vocabulary, work->before_source, NULL, problems);
  logs_read(work);
}

static enum stage stage_of(const struct work *work)
{
  if (work->request.has_stage)
    return work->request.stage;
  return work->job != NULL && work->job->has_stage ? work->job->stage : STAGE_LOOK;
}

static const char *title_of(struct arena *arena, const struct vocabulary *vocabulary, const struct settings *settings)
{
  const struct entry *entry = vocabulary_find(vocabulary, SCOPE_TUNE, slice_of("file.title"));
  if (entry == NULL)
    return NULL;
  const struct value *value = settings->values[vocabulary_index(vocabulary, SCOPE_TUNE, entry)];
  return value != NULL && value->kind == VALUE_TEXT ? arena_text(arena, value->as.text) : NULL;
}

/* What the file says of itself is joined by what its bytes say. */
static void digest_add(struct arena *arena, const struct vocabulary *vocabulary, struct slice bytes,
                       const struct settings *settings)
{
  const struct entry *entry = vocabulary_find(vocabulary, SCOPE_TUNE, slice_of("file.sha256"));
  if (entry == NULL)
    return;
  char *digits = arena_alloc(arena, 65);
  digest_sha256(bytes, digits);
  struct value *value = ARENA_NEW(arena, struct value);
  value->kind = VALUE_TEXT;
  value->place = (struct place){settings->source->id, 0, 0};
  value->as.text = slice_of(digits);
  settings->values[vocabulary_index(vocabulary, SCOPE_TUNE, entry)] = value;
}

/* The printed name of an input, also of one that could not be read: never a path of this machine. */
static struct slice name_of(const struct work *work, const struct source *source, const char *path)
{
  for (uint32_t id = 1; source == NULL; id++) {
    const struct source *other = sources_get(work->run->sources, id);
    if (other == NULL)
      return slice_of(path);
    if (slice_is(other->path, path))
      source = other;
  }
  return source->name;
}

/* Rate and duration of a log that is one of several. */
static const char *about_log(const struct work *work, const struct source *source)
{
  const struct log *log = work->log;
  for (size_t i = 0; log != NULL && log->part_count > 1 && i < log->note_count; i++) {
    if (log->notes[i].kind == LOG_NOTE_RATE && log->notes[i].place.source == source->id)
      return log->notes[i].text;
  }
  return NULL;
}

static void inputs_list(const struct work *work, size_t index, struct arena *arena, struct outcome *outcome)
{
  const struct request *request = &work->request;
  size_t extras = work->library.extra_count;
  struct outcome_input *inputs = ARENA_ARRAY(arena, extras + request->log_count + 5, struct outcome_input);
  struct outcome_input settings = {"settings", name_of(work, work->settings[index], request->settings[index]), NULL};
  inputs[outcome->input_count++] = settings;
  if (request->adapter != NULL)
    inputs[outcome->input_count++] =
        (struct outcome_input){"adapter", name_of(work, work->adapters.settings_source, request->adapter), NULL};
  for (size_t i = 0; i < request->log_count; i++)
    inputs[outcome->input_count++] = (struct outcome_input){
        "log", name_of(work, work->log_sources[i], request->logs[i]), about_log(work, work->log_sources[i])};
  if (request->log_adapter != NULL)
    inputs[outcome->input_count++] =
        (struct outcome_input){"log_adapter", name_of(work, work->adapters.log_source, request->log_adapter), NULL};
  if (request->job != NULL)
    inputs[outcome->input_count++] = (struct outcome_input){"job", name_of(work, work->job_source, request->job), NULL};
  if (request->before != NULL)
    inputs[outcome->input_count++] =
        (struct outcome_input){"before", name_of(work, work->before_source, request->before), NULL};
  for (size_t i = 0; i < extras; i++)
    inputs[outcome->input_count++] = (struct outcome_input){"rules", work->library.extras[i]->name, NULL};
  outcome->inputs = inputs;
}

static void stats_print(const struct work *work, const struct source *source, const struct arena *arena,
                        const struct audit_stats *stats)
{
  uint64_t bytes = source->bytes.size;
  for (size_t i = 0; i < work->request.log_count; i++)
    bytes += work->log_sources[i] != NULL ? source_size(work->log_sources[i]) : 0;
  bytes += work->job_source != NULL ? work->job_source->bytes.size : 0;
  bytes += work->before_source != NULL ? work->before_source->bytes.size : 0;
  if (work->request.settings_count > 1)
    fprintf(stderr, "%s\n", escape_line(work->run->arena, source->name));
  fprintf(stderr,
          "expressions: %zu written, %zu distinct, %zu evaluated, %zu reused\n"
          "log: %zu columns, %zu decoded, %zu rows\n"
          "bytes: %" PRIu64 " read, %zu in arenas\n",
          stats->expressions, stats->distinct, stats->evaluated, stats->reused, stats->log_columns,
          stats->log_columns_decoded, stats->log_rows, bytes, arena_used(work->run->arena) + arena_used(arena));
}

/* What was refused for this file: its own problems behind those of log and job sheet. */
static struct problems *problems_of(const struct work *work, size_t index, struct arena *arena)
{
  const struct problems *own = &work->refusals[index], *shared = shared_problems(work);
  struct problems *all = ARENA_NEW(arena, struct problems);
  problems_init(all, arena, PROBLEM_OF_INPUT);
  all->count = own->count + shared->count;
  all->dropped = own->dropped + shared->dropped;
  all->seen[PROBLEM_OF_INPUT] = all->count > 0;
  all->items = ARENA_ARRAY(arena, all->count, struct problem);
  if (shared->count > 0)
    memcpy(all->items, shared->items, shared->count * sizeof *all->items);
  if (own->count > 0)
    memcpy(all->items + shared->count, own->items, own->count * sizeof *all->items);
  return all;
}

static struct outcome *outcome_refused(const struct work *work, struct arena *arena)
{
  struct outcome *outcome = ARENA_NEW(arena, struct outcome);
  outcome->stage = stage_name(stage_of(work));
  outcome->fail_on = work->request.fail_on;
  outcome->need = work->request.need;
  outcome->exit = STATUS_INPUT;
  return outcome;
}

static struct outcome *outcome_audited(const struct work *work, size_t index, const struct settings *settings,
                                       struct arena *arena)
{
  const struct vocabulary *vocabulary = work->library.vocabulary;
  struct subject subject = {
      .vocabulary = vocabulary, .settings = settings, .log = work->log, .job = work->job, .before = work->before};
  struct audit_options options = {.stage = stage_of(work),
                                  .fail_on = work->request.fail_on,
                                  .need = work->request.need,
                                  .threads = work->request.threads};
  struct audit_stats stats = {0};
  struct outcome *outcome = audit_run(arena, work->library.packs, &subject, work->run->sources, &options, &stats);
  outcome->title = title_of(arena, vocabulary, settings);
  outcome->exit = (int)status_of_outcome(outcome);
  if (work->request.stats)
    stats_print(work, work->settings[index], arena, &stats);
  return outcome;
}

static bool color_of(const struct work *work, const struct output *output)
{
  if (work->request.color != COLOR_AUTO)
    return work->request.color == COLOR_ALWAYS;
  const char *no_color = getenv("NO_COLOR"), *terminal = getenv("TERM");
  return output->target == NULL && isatty(STDOUT_FILENO) && (no_color == NULL || no_color[0] == '\0') &&
         (terminal == NULL || strcmp(terminal, "dumb") != 0);
}

static bool reports_write(struct work *work, const struct outcome *outcome)
{
  bool done = true;
  for (size_t i = 0; i < work->outputs.count; i++) {
    const struct output *output = &work->outputs.items[i];
    struct report_options options = {.color = color_of(work, output), .width = 0, .version = KEYWAY_VERSION};
    if (work->total.files > 0 && output->format->between != NULL)
      output->format->between(output->stream);
    done = output->format->write(output->stream, outcome, work->run->sources, &options) && done;
  }
  return done;
}

/* Whether the text report on standard output will show the problems; otherwise standard error must. */
static bool text_shown(const struct work *work)
{
  for (size_t i = 0; i < work->outputs.count; i++) {
    if (work->outputs.items[i].target == NULL && work->outputs.items[i].format->write == report_text)
      return true;
  }
  return false;
}

/* One settings file from its bytes to its reports. A file that cannot be read does not stop the others. */
static bool file_audit(struct work *work, size_t index)
{
  struct arena *arena = arena_new();
  struct problems *own = &work->refusals[index];
  const struct source *source = work->settings[index];
  const struct settings *settings = NULL;
  struct adapter_use use;
  /* As they are on disk: an export may be decoded. */
  struct slice bytes = source != NULL ? source->bytes : (struct slice){NULL, 0};
  if (source != NULL)
    settings = adapters_settings(&work->adapters, arena, work->library.vocabulary, source, &use, own);
  if (settings != NULL)
    digest_add(arena, work->library.vocabulary, bytes, settings);
  bool refused = settings == NULL || own->seen[PROBLEM_OF_INPUT] || shared_problems(work)->seen[PROBLEM_OF_INPUT];
  struct outcome *outcome = refused ? outcome_refused(work, arena) : outcome_audited(work, index, settings, arena);
  inputs_list(work, index, arena, outcome);
  if (!refused && work->adapters.for_settings)
    outcome->coverage = adapters_coverage(arena, work->library.vocabulary, &use, work->request.unused);
  outcome->problems = problems_of(work, index, arena);
  bool done = reports_write(work, outcome);
  if (!text_shown(work))
    command_refuse(work->run, own);
  work->total.files++;
  work->total.at_status[outcome->exit]++;
  work->total.exit = (int)status_worse((enum status)work->total.exit, (enum status)outcome->exit);
  arena_free(arena);
  return done;
}

/* One line on standard error, status 5. */
static enum status fault(const char *why)
{
  fprintf(stderr, "keyway: %s\n", why);
  return STATUS_FAULT;
}

static enum status files_audit(struct work *work)
{
  if (!text_shown(work))
    command_refuse(work->run, shared_problems(work));
  work->total = (struct report_total){.fail_on = work->request.fail_on, .exit = STATUS_CLEAN};
  for (size_t i = 0; i < work->request.settings_count; i++) {
    if (!file_audit(work, i)) {
      outputs_drop(&work->outputs);
      return fault("out of memory while writing a report");
    }
  }
  for (size_t i = 0; i < work->outputs.count; i++) {
    const struct output *output = &work->outputs.items[i];
    if (work->total.files > 1 && output->format->finish != NULL)
      output->format->finish(output->stream, &work->total);
  }
  const char *why = outputs_commit(work->run->arena, &work->outputs);
  return why != NULL ? fault(why) : (enum status)work->total.exit;
}

enum status audit_command(struct run *run, const struct line *line)
{
  struct problems refused;
  problems_init(&refused, run->arena, PROBLEM_OF_USAGE);
  struct work work = {.run = run};
  if (!request_read(run->arena, line, &work.request, &refused))
    return command_refuse(run, &refused);
  if (!library_read(run->arena, run->sources, LIBRARY_LEAN, work.request.rules, work.request.rules_count, &work.library,
                    &refused)) {
    sources_name(run->sources, work.request.root);
    return command_refuse(run, &refused);
  }
  inputs_open(&work);
  refused.of = PROBLEM_OF_USAGE;
  size_t count;
  const char *const *paths = input_paths(&work, &count);
  if (!outputs_open(run->arena, &work.request, paths, count, &work.outputs, &refused))
    return command_refuse(run, &refused);
  shared_read(&work);
  enum status status = files_audit(&work);
  adapters_free(&work.adapters);
  return status;
}
