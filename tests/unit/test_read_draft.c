/* Drafts of adapters: for the four dialects, compared with what the shipped adapters read; for small exports of other
 * habits; for hostile ones. A draft is *right* in a setting when it reads the same numbers from the same places as the
 * shipped adapter, and *surely* so when it has no doubt. What must be reached (80 in 100 right, none wrong without a
 * doubt) is the workshop's own demand; there is no outside source. */
#include "reading.h"

#include "read/adapter.h"
#include "read/draft.h"

#include <math.h>
#include <stdlib.h>

struct drafted {
  struct run run;
  char *text; /* of the draft */
  size_t size;
  const struct settings *drafted, *shipped;
};

static struct source *open_export(struct run *run, const char *path)
{
  const struct source *source = sources_open(run->sources, path, LIMIT_EXPORT_BYTES, &run->problems);
  assert_non_null(source);
  return (struct source *)(uintptr_t)source;
}

static const char *complaint(struct run *run)
{
  return run->problems.count > 0 ? run->problems.items[0].message : "no problem";
}

static const struct settings *settings_by(struct run *run, const struct source *adapter_source, const char *path)
{
  struct adapter *adapter = adapter_read(run->arena, run->vocabulary, adapter_source, &run->problems);
  if (adapter == NULL)
    fail_msg("the adapter is refused: %s", complaint(run));
  struct adapter_use use;
  struct source *export = open_export(run, path);
  const struct settings *settings =
      adapter_settings(run->arena, adapter, run->vocabulary, export, &use, &run->problems);
  if (settings == NULL)
    fail_msg("the export is refused: %s", complaint(run));
  adapter_free(adapter);
  return settings;
}

static void draft_of(struct drafted *out, const char *path)
{
  out->run = run_new();
  run_vocabulary(&out->run);
  FILE *stream = open_memstream(&out->text, &out->size);
  assert_non_null(stream);
  bool good = draft_settings(stream, out->run.vocabulary, open_export(&out->run, path), NULL, &out->run.problems);
  fclose(stream);
  if (!good)
    fail_msg("no draft of %s: %s", path, complaint(&out->run));
}

static bool same_number(double a, double b)
{
  return a == b || fabs(a - b) <= 1e-9 * fmax(fabs(a), fabs(b));
}

static bool same_numbers(const double *a, const struct place *a_at, const double *b, const struct place *b_at,
                         size_t count)
{
  for (size_t i = 0; i < count; i++) {
    if (!same_number(a[i], b[i]) || a_at[i].start != b_at[i].start)
      return false;
  }
  return true;
}

static bool same_axis(const struct axis *a, const struct axis *b)
{
  return a->count == b->count && same_numbers(a->at, a->place, b->at, b->place, a->count);
}

static bool same_pins(const struct pins *a, const struct pins *b)
{
  for (size_t i = 0; i < a->count && a->count == b->count; i++) {
    if (!slice_equal(a->items[i].function, b->items[i].function) || !slice_equal(a->items[i].pin, b->items[i].pin))
      return false;
  }
  return a->count == b->count;
}

static bool same_value(const struct value *a, const struct value *b)
{
  if (a->kind != b->kind)
    return false;
  switch (a->kind) {
  case VALUE_NUMBER:
    return same_number(a->as.number.value, b->as.number.value) && a->place.start == b->place.start;
  case VALUE_SWITCH:
    return a->as.on == b->as.on && a->place.start == b->place.start;
  case VALUE_CHOICE:
  case VALUE_TEXT:
    return slice_equal(a->as.text, b->as.text) && a->place.start == b->place.start;
  case VALUE_LIST:
    return a->as.list.count == b->as.list.count && a->place.start == b->place.start &&
           same_numbers(a->as.list.items, a->as.list.places, b->as.list.items, b->as.list.places, a->as.list.count);
  case VALUE_CURVE:
    return same_axis(&a->as.curve.x, &b->as.curve.x) &&
           same_numbers(a->as.curve.value, a->as.curve.place, b->as.curve.value, b->as.curve.place,
                        a->as.curve.x.count);
  case VALUE_TABLE:
    return same_axis(&a->as.table.x, &b->as.table.x) && same_axis(&a->as.table.y, &b->as.table.y) &&
           same_numbers(a->as.table.value, a->as.table.place, b->as.table.value, b->as.table.place,
                        a->as.table.x.count * a->as.table.y.count);
  default:
    return a->kind == VALUE_PINS && same_pins(&a->as.pins, &b->as.pins);
  }
}

/* Whether the line before an entry says that it is doubtful. */
static bool is_doubtful(const struct drafted *drafted, struct slice name)
{
  const char *entry = strstr(drafted->text, arena_print(drafted->run.arena, "\n  %.*s: ", SLICE_ARG(name)));
  if (entry == NULL)
    entry = strstr(drafted->text, arena_print(drafted->run.arena, "\n  %.*s:\n", SLICE_ARG(name)));
  assert_non_null(entry);
  const char *line = entry;
  while (line > drafted->text && line[-1] != '\n')
    line--;
  return strncmp(line, "  # doubtful: ", 14) == 0;
}

struct score {
  size_t all, right, sure, missing, doubted, wrong;
};

static struct score compare(const struct drafted *d)
{
  struct score score = {0};
  for (size_t i = 0; i < d->run.vocabulary->count[SCOPE_TUNE]; i++) {
    const struct entry *entry = &d->run.vocabulary->entries[SCOPE_TUNE][i];
    const struct value *want = d->shipped->values[i], *got = d->drafted->values[i];
    score.all += want != NULL;
    if (got == NULL) {
      score.missing += want != NULL;
      continue;
    }
    bool right = want != NULL && same_value(want, got), doubtful = is_doubtful(d, entry->name);
    score.right += right;
    score.sure += right && !doubtful;
    score.doubted += !right && doubtful;
    if (!right && !doubtful) {
      printf("  wrong without a doubt: %.*s\n", SLICE_ARG(entry->name));
      score.wrong++;
    }
  }
  return score;
}

static void drafts_of_the_dialects_are_good(void **state)
{
  static const struct {
    const char *name, *export;
  } dialects[] = {{"tern", "examples/dialects/tern/settings.txt"},
                  {"wagtail", "examples/dialects/wagtail/settings.csv"},
                  {"dipper", "examples/dialects/dipper/settings.xml"},
                  {"curlew", "examples/dialects/curlew/settings.json"}};
  size_t count = sizeof dialects / sizeof *dialects;
  (void)state;
  assert_true(count == 4);
  for (size_t i = 0; i < count; i++) {
    struct drafted d;
    draft_of(&d, dialects[i].export);
    struct run *run = &d.run;
    const char *path = arena_print(run->arena, "rules/adapters/%s.yaml", dialects[i].name);
    const struct source *shipped = sources_open(run->sources, path, LIMIT_YAML_BYTES, &run->problems);
    assert_non_null(shipped);
    d.shipped = settings_by(run, shipped, dialects[i].export);
    d.drafted = settings_by(run, run_source(run, (struct slice){d.text, d.size}), dialects[i].export);
    struct score score = compare(&d);
    printf(
        "%-8s %3zu settings: %3zu right (%.0f %%), %zu of them without a doubt; %zu not placed, %zu wrong and marked, "
        "%zu wrong without a mark\n",
        dialects[i].name, score.all, score.right, 100.0 * (double)score.right / (double)score.all, score.sure,
        score.missing, score.doubted, score.wrong);
    assert_true(score.all > 100);
    assert_true(score.right * 100 >= score.all * 80);
    assert_int_equal(score.wrong, 0);
    free(d.text);
    run_free(run);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(drafts_of_the_dialects_are_good),
  };
  return cmocka_run_group_tests_name("read/draft", tests, NULL, NULL);
}
