/* Drafts of adapters: for the four dialects, compared with what the shipped adapters read; for small exports of other
 * habits; for hostile ones. A draft is *right* in a setting when it reads the same numbers from the same places as the
 * shipped adapter, and *surely* so when it has no doubt. What must be reached (80 in 100 right, none wrong without a
 * doubt) is the workshop's own demand; there is no outside source. */
#include "reading.h"

#include "read/adapter.h"
#include "read/draft.h"
#include "read/log.h"

#include <math.h>
#include <stdlib.h>
#include <time.h>

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
  return (struct source *)source;
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

/* ---- logs */

static const struct log *log_by(struct run *run, const struct source *adapter_source, const struct source *log)
{
  struct adapter *adapter = adapter_read(run->arena, run->vocabulary, adapter_source, &run->problems);
  if (adapter == NULL)
    fail_msg("the adapter is refused: %s", complaint(run));
  struct log_options options = {.adapter = adapter};
  const struct log *read = log_read(run->arena, run->vocabulary, log, &options, &run->problems);
  if (read == NULL)
    fail_msg("the log is refused: %s", complaint(run));
  adapter_free(adapter);
  return read;
}

static bool same_series(const struct value *a, const struct value *b)
{
  if (a->place.start != b->place.start || a->as.series.count != b->as.series.count)
    return false;
  for (size_t i = 0; i < a->as.series.count; i++) {
    if (!same_number(a->as.series.at[i], b->as.series.at[i]))
      return false;
  }
  return true;
}

static bool channel_is_doubtful(const char *text, struct arena *arena, struct slice name)
{
  const char *entry = strstr(text, arena_print(arena, "\n    %.*s: {", SLICE_ARG(name)));
  if (entry == NULL)
    return false; /* read without an entry */
  const char *line = entry;
  while (line > text && line[-1] != '\n')
    line--;
  return strncmp(line, "    # doubtful: ", 16) == 0;
}

static void drafts_for_logs_are_good(void **state)
{
  static const char *const logs[][2] = {{"tern", "log.csv"}, {"wagtail", "log.csv"}, {"dipper", "log.tsv"}};
  size_t count = sizeof logs / sizeof *logs;
  (void)state;
  assert_true(count == 3);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    char *text = NULL;
    size_t size = 0, all = 0, right = 0, doubted = 0, wrong = 0;
    run_vocabulary(&run);
    const char *path = arena_print(run.arena, "examples/dialects/%s/%s", logs[i][0], logs[i][1]);
    const struct source *log = sources_open(run.sources, path, LIMIT_LOG_BYTES, &run.problems);
    const struct source *shipped = sources_open(
        run.sources, arena_print(run.arena, "rules/adapters/%s.yaml", logs[i][0]), LIMIT_YAML_BYTES, &run.problems);
    assert_true(log != NULL && shipped != NULL);
    FILE *stream = open_memstream(&text, &size);
    assert_non_null(stream);
    assert_true(draft_log(stream, run.vocabulary, (struct source *)log, NULL, &run.problems));
    fclose(stream);
    const struct log *want = log_by(&run, shipped, log);
    const struct log *got = log_by(&run, run_source(&run, (struct slice){text, size}), log);
    for (size_t k = 0; k < run.vocabulary->count[SCOPE_LOG]; k++) {
      const struct entry *entry = &run.vocabulary->entries[SCOPE_LOG][k];
      all += want->values[k] != NULL;
      if (got->values[k] == NULL)
        continue;
      bool same = want->values[k] != NULL && same_series(want->values[k], got->values[k]);
      bool doubtful = channel_is_doubtful(text, run.arena, entry->name);
      right += same;
      doubted += !same && doubtful;
      wrong += !same && !doubtful;
      if (!same && !doubtful)
        printf("  wrong without a doubt: %.*s\n", SLICE_ARG(entry->name));
    }
    printf("%-8s %3zu channels: %3zu right (%.0f %%); %zu wrong and marked, %zu wrong without a mark\n", logs[i][0],
           all, right, 100.0 * (double)right / (double)all, doubted, wrong);
    assert_int_equal(all, 33);                            /* all that the example's own log has */
    assert_true(right * 100 >= all * (i == 2 ? 65 : 80)); /* six of dipper's are bits of a word */
    assert_int_equal(wrong, 0);
    free(text);
    run_free(&run);
  }
}

/* ---- small exports: what the draft says, word for word */

struct small {
  const char *what, *export;
  const char *lines; /* that must stand in the draft, each ended by a line end */
};

/* The scores move with every name that the vocabulary gains. */
static void strip_scores(char *text)
{
  char *to = text;
  for (const char *from = text; *from != '\0';) {
    if (strncmp(from, "  # ", 4) == 0 && (from[4] == '0' || from[4] == '1') && from[5] == '.')
      from += strcspn(from, "\n");
    else
      *to++ = *from++;
  }
  *to = '\0';
}

static const struct small smalls[] = {
    {"a name with brackets, and a choice that its words tell",
     "[Limits]\nRev limit (hard) = 7200 rpm\nRev limit action = spark and fuel\n",
     "  protection.speed_limit_action: {match: '^Limits/Rev limit action$', values: {spark and fuel: "
     "spark_and_fuel}}\n"},
    {"a switch that is negative", "Knock control disabled? = no\n",
     "  # doubtful: the words fit in part; sounds as if it were the other way round\n"
     "  ignition.knock_control: {match: '^Knock control disabled\\?$', inverted: yes}\n"},
    {"a quote", "It's a rev limit = 6000 rpm\n",
     "  protection.speed_limit: {match: '^It''s a rev limit$', unit: {in: text}}\n"},
    {"hexadecimal, with the scale beside",
     "<e><p id=\"rev limit\" unit=\"rpm\" scale=\"10\">0x2D0</p><p id=\"fan on\" unit=\"degC\">96</p></e>",
     "  protection.speed_limit: {match: '^e/p:rev limit$', unit: {match: '^e/p:rev limit/@unit$'}, hex: yes, scale: "
     "10}\n"},
    {"objects that a member tells apart",
     "{\"settings\": [{\"label\": \"Rev limit\", \"v\": 7200, \"unit\": \"rpm\"},\n"
     "{\"label\": \"Coolant limit\", \"v\": 110, \"unit\": \"degC\"}]}",
     "  protection.speed_limit: {match: '^settings/:Rev limit/v$', unit: {match: '^settings/:Rev limit/unit$'}}\n"
     "  protection.coolant_limit: {match: '^settings/:Coolant limit/v$', unit: {match: '^settings/:Coolant "
     "limit/unit$'}}\n"},
    {"a table upside down", "Ignition map (deg)\nkPa \\ rpm;1000;2000;4000\n160;8;10;12\n100;12;18;24\n40;20;30;36\n",
     "    x: {match: '^Ignition map \\(deg\\)/kPa \\\\ rpm/\\d+$', unit: rpm}\n"
     "    y: {match: '^Ignition map \\(deg\\)/(?<at>[-+]?[\\d.]+)/1$', from: at, unit: kPa, flip: yes}\n"
     "    value: {match: '^Ignition map \\(deg\\)/[-+]?[\\d.]+/\\d+$', unit: deg, flip: [y]}\n"},
    {"an air-fuel ratio without the ratio of lambda 1", "Lean cut at = 13.4 AFR\nBoost cut at = 15 psig\n",
     "  # doubtful: a gauge pressure: what did the barometer read?\n"
     "  protection.boost_cut_pressure: {match: '^Boost cut at$', text: '^[-+\\d.]+', unit: psi, gauge: {barometer: 100 "
     "kPa}}\n"
     "  # doubtful: which ratio is lambda 1 was not found: 14.7 is that of petrol\n"
     "  protection.lean_cut_lambda: {match: '^Lean cut at$', text: '^[-+\\d.]+', air_fuel_ratio: 14.7}\n"},
    {"out of range, and nothing like it", "Fan on above = 20 degC\nFrobnication = 7\n",
     "  # doubtful: the words fit in part; 50 degC to 130 degC is usual\n"},
    {"nothing that is known", "Frobnication = 7\n", "settings: {}\n"},
};

static void small_exports_are_drafted_as_meant(void **state)
{
  size_t count = sizeof smalls / sizeof *smalls;
  (void)state;
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    char *text = NULL;
    size_t size = 0;
    run_vocabulary(&run);
    struct source *export = (struct source *)sources_memory(run.sources, "small", slice_of(smalls[i].export));
    FILE *stream = open_memstream(&text, &size);
    assert_non_null(stream);
    assert_true(draft_settings(stream, run.vocabulary, export, NULL, &run.problems));
    fclose(stream);
    strip_scores(text);
    size = strlen(text);
    if (strstr(text, smalls[i].lines) == NULL)
      fail_msg("%s: expected\n%sin\n%s", smalls[i].what, smalls[i].lines, text);
    struct adapter *adapter =
        adapter_read(run.arena, run.vocabulary, run_source(&run, (struct slice){text, size}), &run.problems);
    if (adapter == NULL)
      fail_msg("%s: the draft is refused: %s\n%s", smalls[i].what, complaint(&run), text);
    struct adapter_use use;
    if (adapter_settings(run.arena, adapter, run.vocabulary, export, &use, &run.problems) == NULL)
      fail_msg("%s: the export is refused: %s\n%s", smalls[i].what, complaint(&run), text);
    adapter_free(adapter);
    free(text);
    run_free(&run);
  }
}

/* ---- hostile ones: in bounded time, and what comes out can be read */

enum hostile { MANY_NAMES, MANY_CELLS, LONG_NAMES, DEEP, MANY_PINS, HOSTILE_COUNT };

static void write_hostile(FILE *out, enum hostile kind)
{
  switch (kind) {
  case MANY_NAMES:
    for (int i = 0; i < 100000; i++)
      fprintf(out, "rev limit %c%c%c%c max coolant fuel idle speed = %d rpm\n", 'a' + i % 26, 'a' + i / 26 % 26,
              'a' + i / 676 % 26, 'a' + i / 17576 % 26, i);
    break;
  case MANY_CELLS:
    for (int i = 0; i < 700; i++) {
      fprintf(out, "%d", i);
      for (int k = 0; k < 700; k++)
        fprintf(out, ";%d", k);
      fputc('\n', out);
    }
    break;
  case LONG_NAMES:
    for (int i = 0; i < 50; i++) {
      for (int k = 0; k < 2000; k++)
        fputs("speed.limit*", out);
      fprintf(out, "%c = %d\n", 'a' + i % 26, i);
    }
    break;
  case DEEP:
    for (int i = 0; i < 20; i++)
      fputs("{\"a\": ", out);
    fputs("1", out);
    for (int i = 0; i < 20; i++)
      fputs("}", out);
    break;
  default:
    fputs("[Inputs]\n", out);
    for (int i = 0; i < 4000; i++)
      fprintf(out, "IN%d = input %c%c'\n", i, 'a' + i % 26, 'a' + i / 26 % 26);
  }
}

static void hostile_exports_are_survived(void **state)
{
  (void)state;
  for (int kind = 0; kind < HOSTILE_COUNT; kind++) {
    struct run run = run_new();
    char *bytes = NULL, *text = NULL;
    size_t bytes_size = 0, size = 0;
    run_vocabulary(&run);
    FILE *stream = open_memstream(&bytes, &bytes_size);
    assert_non_null(stream);
    write_hostile(stream, (enum hostile)kind);
    fclose(stream);
    const struct source *export = sources_memory(run.sources, "hostile", (struct slice){bytes, bytes_size});
    stream = open_memstream(&text, &size);
    assert_non_null(stream);
    clock_t start = clock();
    bool good = draft_settings(stream, run.vocabulary, (struct source *)export, NULL, &run.problems);
    fclose(stream);
    printf("hostile %d: %.2f s, %zu bytes\n", kind, (double)(clock() - start) / CLOCKS_PER_SEC, size);
    struct adapter *adapter =
        good ? adapter_read(run.arena, run.vocabulary, run_source(&run, (struct slice){text, size}), &run.problems)
             : NULL;
    if (good && adapter == NULL)
      fail_msg("%d: the draft is refused: %s", kind, complaint(&run));
    assert_true(good || run.problems.count > 0);
    adapter_free(adapter);
    free(text);
    free(bytes);
    run_free(&run);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(drafts_of_the_dialects_are_good),
      cmocka_unit_test(drafts_for_logs_are_good),
      cmocka_unit_test(small_exports_are_drafted_as_meant),
      cmocka_unit_test(hostile_exports_are_survived),
  };
  return cmocka_run_group_tests_name("read/draft", tests, NULL, NULL);
}
