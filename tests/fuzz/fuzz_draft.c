/* Any bytes as an export, and as a log: a draft that is written must be an adapter that loads, and that reads the
 * export it was drafted for. */
#include "fuzz.h"
#include "read/adapter.h"
#include "read/draft.h"

static void check(bool right, const char *what)
{
  if (right)
    return;
  fprintf(stderr, "fuzz_draft: %s\n", what);
  abort();
}

typedef bool draft_function(FILE *out, const struct vocabulary *vocabulary, struct source *source, const bool *wanted,
                            struct problems *problems);

/* The adapter of a draft; NULL: none was written. */
static struct adapter *draft_adapter(struct fuzz *fuzz, draft_function *draft, struct source *export)
{
  char *text = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  check(out != NULL, "no memory");
  bool good = draft(out, fuzz->library.vocabulary, export, NULL, &fuzz->problems);
  check(fclose(out) == 0, "no memory");
  struct slice copy = arena_slice(fuzz->arena, (struct slice){text, size});
  free(text);
  check(good == (fuzz->problems.count == 0), "a refusal without a problem, or the other way round");
  if (!good)
    return NULL;
  const struct source *source = sources_memory(fuzz->sources, "draft", copy);
  struct adapter *adapter = adapter_read(fuzz->arena, fuzz->library.vocabulary, source, &fuzz->problems);
  check(adapter != NULL, "the draft is no adapter");
  return adapter;
}

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  struct source *export = (struct source *)sources_memory(fuzz->sources, "export", source->bytes);
  struct adapter *adapter = draft_adapter(fuzz, draft_settings, export);
  if (adapter != NULL) {
    struct adapter_use use;
    struct source *again = (struct source *)sources_memory(fuzz->sources, "again", source->bytes);
    const struct settings *settings =
        adapter_settings(fuzz->arena, adapter, fuzz->library.vocabulary, again, &use, &fuzz->problems);
    check(settings != NULL, "the draft does not read its own export");
    adapter_free(adapter);
  }
  fuzz->problems.count = 0;
  fuzz->problems.dropped = 0;
  struct source *log = (struct source *)sources_memory(fuzz->sources, "log", source->bytes);
  adapter = draft_adapter(fuzz, draft_log, log);
  if (adapter != NULL)
    adapter_free(adapter);
}
