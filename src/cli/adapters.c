/* The adapters of one run. */
#include "cli/adapters.h"

#include "base/limits.h"
#include "read/settings.h"

void adapters_open(struct adapters *adapters, struct sources *sources, const char *settings, const char *log,
                   struct problems *problems)
{
  *adapters = (struct adapters){.for_settings = settings != NULL, .for_log = log != NULL};
  if (settings != NULL)
    adapters->settings_source = sources_open(sources, settings, LIMIT_YAML_BYTES, problems);
  if (log != NULL)
    adapters->log_source = sources_open(sources, log, LIMIT_YAML_BYTES, problems);
}

static struct adapter *read_one(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                                struct problems *problems)
{
  return source == NULL ? NULL : adapter_read(arena, vocabulary, source, problems);
}

static void refuse_part(const struct source *source, const char *part, struct problems *problems)
{
  problems_add(problems, (struct place){source->id, 0, 0}, "this adapter has no '%s'", part);
}

void adapters_read(struct adapters *adapters, struct arena *arena, const struct vocabulary *vocabulary,
                   struct problems *problems)
{
  adapters->settings = read_one(arena, vocabulary, adapters->settings_source, problems);
  adapters->log = read_one(arena, vocabulary, adapters->log_source, problems);
  if (adapters->settings != NULL && !adapter_has_settings(adapters->settings))
    refuse_part(adapters->settings_source, "settings", problems);
  if (adapters->log != NULL && !adapter_has_log(adapters->log))
    refuse_part(adapters->log_source, "log", problems);
  if (!adapters->for_log && adapters->settings != NULL && adapter_has_log(adapters->settings))
    adapters->log = adapters->settings;
}

void adapters_free(struct adapters *adapters)
{
  if (adapters->log != adapters->settings)
    adapter_free(adapters->log);
  adapter_free(adapters->settings);
  adapters->settings = adapters->log = NULL;
}

const struct settings *adapters_settings(const struct adapters *adapters, struct arena *arena,
                                         const struct vocabulary *vocabulary, const struct source *source,
                                         struct adapter_use *use, struct problems *problems)
{
  struct adapter_use ignored;
  if (!adapters->for_settings)
    return settings_read(arena, vocabulary, source, problems);
  if (adapters->settings == NULL || !adapter_has_settings(adapters->settings))
    return NULL;
  /* Sources are handed out as constant to keep readers from changing them; decoding is the one change there is. */
  return adapter_settings(arena, adapters->settings, vocabulary, (struct source *)source, use != NULL ? use : &ignored,
                          problems);
}

const struct coverage *adapters_coverage(struct arena *arena, const struct vocabulary *vocabulary,
                                         const struct adapter_use *use, bool list)
{
  struct coverage *coverage = ARENA_NEW(arena, struct coverage);
  *coverage = (struct coverage){.used = use->used, .ignored = use->ignored, .unknown = use->unknown};
  struct unused_record *unused = ARENA_ARRAY(arena, list ? use->unknown : 0, struct unused_record);
  for (size_t i = 0; list && i < use->unknown; i++) {
    const struct record_line *record = use->unknown_records[i];
    unused[i] = (struct unused_record){record->place, record->path, record->text};
  }
  coverage->unused = list ? unused : NULL;
  const char **names = ARENA_ARRAY(arena, vocabulary->count[SCOPE_TUNE], const char *);
  for (size_t i = 0; i < vocabulary->count[SCOPE_TUNE]; i++) {
    if (!use->has_entry[i])
      names[coverage->no_entry_count++] =
          arena_print(arena, "tune.%.*s", SLICE_ARG(vocabulary->entries[SCOPE_TUNE][i].name));
  }
  coverage->no_entry = names;
  return coverage;
}
