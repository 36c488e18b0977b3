/* What the fuzzers share: the shipped library and a small subject, read once; a place for reports to go. Each fuzzer
 * defines fuzz_one. libFuzzer calls from one thread. */
#ifndef KEYWAY_TESTS_FUZZ_H
#define KEYWAY_TESTS_FUZZ_H

#include "audit/audit.h"
#include "base/limits.h"
#include "cli/library.h"
#include "cli/version.h"
#include "read/job.h"
#include "read/log.h"
#include "read/settings.h"
#include "report/report.h"

#include <stdlib.h>

struct fuzz {
  struct sources *sources; /* of `arena`: forgotten after the input at hand */
  struct arena *arena;
  struct problems problems;
  struct library library;
  struct subject subject; /* tests/fuzz/subject: every fuzzer replaces one part of it */
};

static void fuzz_one(struct fuzz *fuzz, const struct source *source);

static FILE *fuzz_nowhere(void)
{
  static FILE *nowhere;
  if (nowhere == NULL)
    nowhere = fopen("/dev/null", "w");
  return nowhere;
}

static void fuzz_report_problems(struct fuzz *fuzz)
{
  struct report_options options = {.version = KEYWAY_VERSION};
  problems_sort(&fuzz->problems);
  report_problems(fuzz_nowhere(), &fuzz->problems, fuzz->sources, &options);
}

/* Audits the subject as it now is with these packs, and writes every form of report. */
static inline void fuzz_audit(struct fuzz *fuzz, const struct packs *packs)
{
  struct report_options options = {.color = true, .version = KEYWAY_VERSION};
  struct audit_options how = {.stage = STAGE_DELIVERY, .fail_on = SEVERITY_FIX, .need = 1};
  struct outcome *outcome = audit_run(fuzz->arena, packs, &fuzz->subject, fuzz->sources, &how, NULL);
  outcome->problems = &fuzz->problems;
  for (const struct report_format *format = report_formats; format->name != NULL; format++)
    format->write(fuzz_nowhere(), outcome, fuzz->sources, &options);
}

/* The shipped library and the subject, for ever. Whatever is wrong here is no finding of the fuzzer. */
static const struct fuzz *fuzz_base(void)
{
  static struct fuzz base;
  if (base.arena != NULL)
    return &base;
  base.arena = arena_new();
  base.sources = sources_new(base.arena);
  problems_init(&base.problems, base.arena, PROBLEM_OF_INPUT);
  struct problems *problems = &base.problems;
  const struct vocabulary *vocabulary = NULL;
  if (library_read(base.arena, base.sources, LIBRARY_LEAN, NULL, 0, &base.library, problems)) {
    vocabulary = base.library.vocabulary;
    const struct source *settings =
        sources_open(base.sources, "tests/fuzz/subject/settings.yaml", LIMIT_YAML_BYTES, problems);
    const struct source *job = sources_open(base.sources, "tests/fuzz/subject/job.yaml", LIMIT_YAML_BYTES, problems);
    const struct source *log = sources_open(base.sources, "tests/fuzz/subject/log.csv", LIMIT_LOG_BYTES, problems);
    struct log_options all = {0};
    if (settings != NULL && job != NULL && log != NULL)
      base.subject = (struct subject){.vocabulary = vocabulary,
                                      .settings = settings_read(base.arena, vocabulary, settings, problems),
                                      .log = log_read(base.arena, vocabulary, log, &all, problems),
                                      .job = job_read(base.arena, vocabulary, job, problems)};
  }
  if (base.subject.settings == NULL || base.subject.log == NULL || base.subject.job == NULL) {
    struct report_options options = {.version = KEYWAY_VERSION};
    sources_name(base.sources, NULL);
    report_problems(stderr, problems, base.sources, &options);
    fputs("the fuzzers' own library or subject cannot be read\n", stderr);
    exit(1);
  }
  return &base;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
  struct fuzz fuzz = *fuzz_base();
  fuzz.arena = arena_new();
  fuzz.sources = sources_new(fuzz.arena);
  problems_init(&fuzz.problems, fuzz.arena, PROBLEM_OF_INPUT);
  /* A copy of exactly this size, so that a byte read past the end is seen. */
  char *copy = malloc(size > 0 ? size : 1);
  if (copy == NULL)
    return 0;
  for (size_t i = 0; i < size; i++)
    copy[i] = (char)bytes[i];
  const struct source *source = sources_memory(fuzz.sources, "input", (struct slice){copy, size});
  sources_name(fuzz.sources, NULL);
  fuzz_one(&fuzz, source);
  fuzz_report_problems(&fuzz);
  arena_free(fuzz.arena);
  free(copy);
  return 0;
}

#endif
