/* Any bytes as an adapter and an export, divided by a line "%%". What an accepted export comes to is written as a
 * settings file, which must be readable, and which writes as the same bytes again. A log below a second "%%" is read by
 * the adapter too. */
#include "fuzz.h"
#include "read/adapter.h"
#include "read/settings_write.h"

static void check(bool right, const char *what)
{
  if (right)
    return;
  fprintf(stderr, "fuzz_adapter: %s\n", what);
  abort();
}

/* Cuts the part before the next line "%%" off; all of it when there is none. */
static struct slice take_part(struct slice *rest)
{
  struct slice whole = *rest;
  for (size_t i = 0; i + 4 <= whole.size; i++) {
    if (memcmp(whole.at + i, "\n%%\n", 4) == 0) {
      *rest = slice_part(whole, i + 4, whole.size);
      return slice_part(whole, 0, i + 1);
    }
  }
  *rest = (struct slice){"", 0};
  return whole;
}

static struct slice write_text(struct fuzz *fuzz, const struct settings *settings)
{
  char *text = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  check(out != NULL, "no memory");
  settings_write(out, fuzz->library.vocabulary, settings);
  check(fclose(out) == 0, "no memory");
  struct slice copy = arena_slice(fuzz->arena, (struct slice){text, size});
  free(text);
  return copy;
}

static void write_and_read(struct fuzz *fuzz, const struct settings *settings)
{
  struct slice once = write_text(fuzz, settings);
  const struct source *source = sources_memory(fuzz->sources, "written", once);
  const struct settings *again = settings_read(fuzz->arena, fuzz->library.vocabulary, source, &fuzz->problems);
  check(again != NULL, "what was written cannot be read");
  check(slice_equal(write_text(fuzz, again), once), "what was written writes in another way");
}

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  const struct vocabulary *vocabulary = fuzz->library.vocabulary;
  struct slice rest = source->bytes;
  const struct source *file = sources_memory(fuzz->sources, "adapter", take_part(&rest));
  struct source *export = (struct source *)sources_memory(fuzz->sources, "export", take_part(&rest));
  const struct source *log = sources_memory(fuzz->sources, "log", rest);
  struct adapter *adapter = adapter_read(fuzz->arena, vocabulary, file, &fuzz->problems);
  check((adapter == NULL) == (fuzz->problems.count > 0), "a refusal without a problem, or the other way round");
  if (adapter == NULL)
    return;
  struct adapter_use use;
  const struct settings *settings = adapter_settings(fuzz->arena, adapter, vocabulary, export, &use, &fuzz->problems);
  check((settings == NULL) == (fuzz->problems.count > 0), "a refusal without a problem, or the other way round");
  if (settings != NULL)
    write_and_read(fuzz, settings);
  struct log_options options = {.adapter = adapter};
  log_read(fuzz->arena, vocabulary, log, &options, &fuzz->problems);
  adapter_free(adapter);
}
