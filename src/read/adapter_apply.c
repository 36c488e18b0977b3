/* Applies an adapter to an export. Reading order: adapter_settings; adapter_records flattens, check_expected sees that
 * it is the right kind of export, take_entries reads the settings, count_use says what became of the records. */
#include "read/adapter_parts.h"

bool adapter_records(struct arena *arena, const struct adapter *adapter, struct source *source,
                     struct problems *problems, struct record_list *out)
{
  struct record_style style = {.encoding = adapter != NULL ? adapter->encoding : ENCODING_AUTO};
  if (!record_decode(arena, source, style.encoding, problems))
    return false;
  style = adapter != NULL && adapter->has_style ? adapter->style : record_style_guess(arena, source);
  return record_read(arena, source, &style, problems, out);
}

/* Whether a pattern of `expect` or `ignore` matches; a costly one does not, and is refused. */
static bool wish_matches(struct adapter_run *run, const struct adapter_wish *wish, size_t record)
{
  struct slice path = run->records.items[record].path, prefix = wish->match.prefix;
  struct pattern_match match;
  if (path.size < prefix.size || !slice_equal(slice_part(path, 0, prefix.size), prefix))
    return false;
  if (adapter_is_late(run))
    return false;
  enum pattern_outcome outcome = pattern_find(wish->match.pattern, path, 0, &match);
  if (outcome == PATTERN_TOO_COSTLY) {
    run->refused = true;
    problems_add(run->problems, run->records.items[record].place, "the pattern '%.*s' takes too long on this record",
                 SLICE_ARG(wish->text));
    adapter_hint(run, "it is in", wish->place);
  }
  return outcome == PATTERN_YES;
}

static bool check_expected(struct adapter_run *run)
{
  const struct adapter *adapter = run->adapter;
  for (size_t i = 0; i < adapter->expect_count; i++) {
    const struct adapter_wish *wish = &adapter->expect[i];
    bool found = false;
    for (size_t k = 0; k < run->records.count && !run->refused; k++) {
      if (!wish_matches(run, wish, k))
        continue;
      found = true;
      run->state[k] = ADAPTER_USED;
    }
    if (found || run->refused)
      continue;
    run->refused = true;
    problems_add(run->problems, adapter_top(run), "nothing in it matches '%.*s', which the adapter '%.*s' expects",
                 SLICE_ARG(wish->text), SLICE_ARG(adapter_name(adapter)));
    adapter_hint(run, "another kind of export? see", wish->place);
  }
  return !run->refused;
}

static const struct value *take_entry(struct adapter_run *run, const struct adapter_entry *entry)
{
  if (entry->fixed != NULL)
    return entry->fixed;
  switch (entry->entry->kind) {
  case VALUE_CURVE:
    return adapter_curve_value(run, entry);
  case VALUE_TABLE:
    return adapter_table_value(run, entry);
  case VALUE_PINS:
    return adapter_pins_value(run, entry);
  default:
    return adapter_scalar_value(run, entry);
  }
}

static void mark_ignored(struct adapter_run *run)
{
  for (size_t i = 0; i < run->adapter->ignore_count; i++) {
    bool costly = run->refused;
    for (size_t k = 0; k < run->records.count && run->refused == costly; k++) {
      if (run->state[k] == ADAPTER_UNKNOWN && wish_matches(run, &run->adapter->ignore[i], k))
        run->state[k] = ADAPTER_IGNORED;
    }
  }
}

static void count_use(struct adapter_run *run, size_t tune_count, struct adapter_use *use)
{
  const struct record_line **unknown = ARENA_ARRAY(run->arena, run->records.count, const struct record_line *);
  bool *has_entry = ARENA_ARRAY(run->arena, tune_count, bool);
  *use = (struct adapter_use){.unknown_records = unknown, .has_entry = has_entry};
  for (size_t i = 0; i < run->records.count; i++) {
    if (run->state[i] == ADAPTER_USED)
      use->used++;
    else if (run->state[i] == ADAPTER_IGNORED)
      use->ignored++;
    else
      unknown[use->unknown++] = &run->records.items[i];
  }
  for (size_t i = 0; i < tune_count; i++)
    has_entry[i] = run->adapter->entries[i].entry != NULL;
}

const struct settings *adapter_settings(struct arena *arena, const struct adapter *adapter,
                                        const struct vocabulary *vocabulary, struct source *source,
                                        struct adapter_use *use, struct problems *problems)
{
  size_t count = vocabulary->count[SCOPE_TUNE];
  struct adapter_run run = {
      .arena = arena, .adapter = adapter, .source = source, .problems = problems, .start = clock()};
  if (!adapter_records(arena, adapter, source, problems, &run.records))
    return NULL;
  run.state = arena_alloc(arena, run.records.count + 1);
  if (!check_expected(&run))
    return NULL;
  struct settings *settings = ARENA_NEW(arena, struct settings);
  settings->source = source;
  settings->values = ARENA_ARRAY(arena, count, const struct value *);
  run.scratch = arena_new();
  for (size_t i = 0; i < count; i++) {
    if (adapter->entries[i].entry != NULL)
      settings->values[i] = take_entry(&run, &adapter->entries[i]);
  }
  arena_free(run.scratch);
  mark_ignored(&run);
  count_use(&run, count, use);
  return run.refused ? NULL : settings;
}
