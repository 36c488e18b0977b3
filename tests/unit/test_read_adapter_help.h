/* What the tests of adapters share: an adapter and an export as texts, and the settings file that they come to, or all
 * that is said against them. Included by tests only. */
#ifndef KEYWAY_TESTS_READ_ADAPTER_HELP_H
#define KEYWAY_TESTS_READ_ADAPTER_HELP_H

#include "reading.h"

#include <stdlib.h>

#include "read/adapter.h"
#include "read/settings_write.h"

#define START "keyway-adapter: 1\n"
#define LINES START "reads: {shape: lines}\n"

struct adapted {
  struct run run;
  struct adapter *adapter; /* NULL: refused */
  const struct settings *settings;
  struct adapter_use use;
};

/* Either may be NULL. */
static inline struct adapted adapted_new(const char *adapter, const char *export)
{
  struct adapted a = {.run = run_new()};
  struct run *run = &a.run;
  run_vocabulary(run);
  const struct source *source = sources_memory(run->sources, "adapter.yaml", slice_of(adapter));
  a.adapter = adapter_read(run->arena, run->vocabulary, source, &run->problems);
  if (a.adapter == NULL || export == NULL)
    return a;
  struct source *file = (struct source *)sources_memory(run->sources, "export", slice_of(export));
  a.settings = adapter_settings(run->arena, a.adapter, run->vocabulary, file, &a.use, &run->problems);
  return a;
}

static inline void adapted_free(struct adapted *a)
{
  adapter_free(a->adapter);
  run_free(&a->run);
}

/* The settings as a file, without its first line; all that is said when they were refused. */
static inline const char *adapted_text(struct adapted *a)
{
  if (a->settings == NULL || a->run.problems.count > 0)
    return run_said(&a->run);
  char *text = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  assert_non_null(out);
  settings_write(out, a->run.vocabulary, a->settings);
  assert_int_equal(fclose(out), 0);
  const char *first = "keyway-settings: 1\n";
  assert_memory_equal(text, first, strlen(first));
  const char *copy = arena_text(a->run.arena, slice_of(text + strlen(first)));
  free(text);
  return copy;
}

struct adapting {
  const char *adapter, *export, *text;
};

static inline void adapted_check(const struct adapting *rows, size_t count)
{
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct adapted a = adapted_new(rows[i].adapter, rows[i].export);
    assert_string_equal(adapted_text(&a), rows[i].text);
    adapted_free(&a);
  }
}

#define CHECK(rows) adapted_check(rows, sizeof(rows) / sizeof *(rows))

#endif
