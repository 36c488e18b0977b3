/* The packs as the build compiled them: audits come to the same, letter for letter, as with the packs read anew, and
 * bytes that end too early are refused. */
#include "reading.h"

#include "audit/audit.h"
#include "cli/embedded.h"
#include "cli/library.h"
#include "read/job.h"
#include "read/log.h"
#include "read/settings.h"
#include "read/vocabulary_image.h"
#include "report/report.h"
#include "rules/image.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#define EXAMPLE "examples/sandpiper/as-it-came/"

/* A pack without rules, so that the others are read, not taken as they are. */
static const char nothing[] = "keyway-rules: 1\npack: nothing\nabout: Holds nothing.\nrules: []\n";

static char *report_of(const char *const *rules, size_t rule_count, enum stage stage)
{
  struct run run = run_new();
  struct library library;
  assert_true(library_read(run.arena, run.sources, LIBRARY_LEAN, rules, rule_count, &library, &run.problems));
  assert_int_equal(library.extra_count, rule_count);
  const struct source *tune = sources_open(run.sources, EXAMPLE "settings.yaml", 1 << 20, &run.problems);
  const struct source *sheet = sources_open(run.sources, EXAMPLE "job.yaml", 1 << 20, &run.problems);
  const struct source *drive = sources_open(run.sources, EXAMPLE "log.csv", 1 << 24, &run.problems);
  assert_true(tune && sheet && drive);
  struct log_options log_options = {.wanted = NULL};
  struct subject subject = {.vocabulary = library.vocabulary,
                            .settings = settings_read(run.arena, library.vocabulary, tune, &run.problems),
                            .log = log_read(run.arena, library.vocabulary, drive, &log_options, &run.problems),
                            .job = job_read(run.arena, library.vocabulary, sheet, &run.problems)};
  subject.before = subject.settings;
  assert_true(subject.settings && subject.log && subject.job);
  struct audit_options options = {.stage = stage, .fail_on = SEVERITY_FIX};
  struct audit_stats stats;
  struct outcome *outcome = audit_run(run.arena, library.packs, &subject, run.sources, &options, &stats);
  assert_true(outcome->finding_count > 0);
  char *page = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&page, &size);
  for (size_t i = 0; i < library.packs->rule_count; i++) {
    const struct rule *rule = library.packs->rules[i];
    fprintf(out, "%s %s %s:", rule->id.at, rule->topic, rule->pack);
    for (size_t k = 0; k < rule->need_count; k++)
      fprintf(out, " %s", rule->needs[k]);
    fputc('\n', out);
  }
  for (size_t i = 0; i < library.packs->limit_count; i++) {
    const struct limit *limit = &library.packs->limits[i];
    fprintf(out, "%.*s %s %s: %s, %s\n", SLICE_ARG(limit->name), quantity_print(run.arena, limit->value, NULL, 0),
            quantity_print(run.arena, limit->step, NULL, 0), limit->basis, limit->why);
  }
  fprintf(out, "%zu %zu %zu %zu\n", stats.expressions, stats.distinct, stats.evaluated, stats.reused);
  struct report_options how = {.width = 0, .version = "0"};
  assert_true(report_text(out, outcome, run.sources, &how));
  fclose(out);
  run_free(&run);
  return page;
}

static void audits_agree(void **state)
{
  (void)state;
  char path[] = "/tmp/keyway-nothing-XXXXXX";
  int file = mkstemp(path);
  assert_true(file >= 0);
  assert_int_equal(write(file, nothing, sizeof nothing - 1), sizeof nothing - 1);
  close(file);
  const char *rules[] = {path};
  for (int stage = 0; stage < STAGE_COUNT; stage++) {
    char *ready = report_of(NULL, 0, (enum stage)stage), *read = report_of(rules, 1, (enum stage)stage);
    assert_string_equal(ready, read);
    free(ready);
    free(read);
  }
  unlink(path);
}

/* The dictionary as read, and as it comes back, make the same bytes as those that are built in. */
static void vocabulary_comes_back(void **state)
{
  (void)state;
  struct run run = run_new();
  run_vocabulary(&run);
  struct image image = image_reader(run.arena, (struct slice){(const char *)embedded_image.bytes, embedded_image.size});
  const struct vocabulary *both[] = {run.vocabulary, vocabulary_image(&image, NULL)};
  assert_non_null(both[1]);
  for (size_t i = 0; i < 2; i++) {
    struct image written = image_writer(run.arena);
    assert_non_null(vocabulary_image(&written, both[i]));
    assert_int_equal(written.size, (size_t)(image.at - embedded_image.bytes));
    assert_memory_equal(written.bytes, embedded_image.bytes, written.size);
  }
  run_free(&run);
}

static void cut_is_refused(void **state)
{
  (void)state;
  size_t tried = 0;
  for (size_t size = 0; size < embedded_image.size; size += 1 + embedded_image.size / 300) {
    struct arena *arena = arena_new();
    /* A copy of just that size: reading past its end is seen by the sanitizers. */
    char *bytes = malloc(size + 1);
    memcpy(bytes, embedded_image.bytes, size);
    struct image image = image_reader(arena, (struct slice){bytes, size});
    assert_true(vocabulary_image(&image, NULL) == NULL || packs_image(&image, NULL) == NULL);
    assert_true(image.broken);
    free(bytes);
    arena_free(arena);
    tried++;
  }
  assert_true(tried > 200);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(audits_agree), cmocka_unit_test(vocabulary_comes_back),
                                     cmocka_unit_test(cut_is_refused)};
  return cmocka_run_group_tests_name("rules/image", tests, NULL, NULL);
}
