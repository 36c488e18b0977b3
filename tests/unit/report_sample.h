/* A hand-built outcome for the tests of reports. Included by tests/unit/test_report_*.c. */
#ifndef KEYWAY_TESTS_UNIT_REPORT_SAMPLE_H
#define KEYWAY_TESTS_UNIT_REPORT_SAMPLE_H

#include "report/report.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

struct sample {
  struct arena *arena;
  struct sources *sources;
  struct problems problems;
  struct outcome outcome;
};

static const char sample_settings[] = "keyway-settings: 1\n"
                                      "file.title: Sandpiper\n"
                                      "fuel.warm_up_enrichment:\n"
                                      "  x: {unit: degF, at: [32, 176, 194, 212, 230, 248]}\n"
                                      "  value: {unit: \"%\", at: [140, 104, 103, 102, 102, 102]}\n";
static const char sample_log[] = "time (s),Coolant (degC)\n0,20\n";

static inline struct quantity sample_quantity(const char *unit, double value)
{
  const struct unit *found = unit_find(slice_of(unit));
  assert_non_null(found);
  return (struct quantity){unit_to_base(found, value), found};
}

/* Where `text` first stands in the settings. */
static inline struct place sample_place(const char *text)
{
  const char *at = strstr(sample_settings, text);
  assert_non_null(at);
  uint64_t start = (uint64_t)(at - sample_settings);
  return (struct place){1, start, start + strlen(text)};
}

/* Five places on a curve in degF and %; the message leaves the limit out. */
static inline struct finding sample_warm_up(struct arena *arena)
{
  static const char *const at[] = {"104", "103", "102, 102, 102", "102, 102]", "102]"};
  static const double x[] = {176, 194, 212, 230, 248}, value[] = {104, 103, 102, 102, 102};
  static const char *const cautions[] = {"haz-hot", "haz-practice"};
  struct evidence *evidence = ARENA_ARRAY(arena, 5, struct evidence);
  for (size_t i = 0; i < 5; i++) {
    struct place place = sample_place(at[i]);
    evidence[i] = (struct evidence){.place = {1, place.start, place.start + 3},
                                    .text = arena_print(arena, "%.0f degF", x[i]),
                                    .has_x = true,
                                    .x = sample_quantity("degF", x[i]),
                                    .has_value = true,
                                    .value = sample_quantity("%", value[i])};
  }
  return (struct finding){.id = "warmup-not-unity-hot",
                          .severity = SEVERITY_FIX,
                          .title = "Warm-up enrichment still acts on a warm engine",
                          .message = "Warm-up enrichment is 104 % at 176 degF.",
                          .subject = "tune.fuel.warm_up_enrichment",
                          .evidence_count = 5,
                          .evidence = evidence,
                          .has_measured = true,
                          .measured = sample_quantity("%", 104),
                          .has_limit = true,
                          .limit = sample_quantity("%", 1),
                          .limit_from = "limit.warm_up_tolerance",
                          .why = "Fuel is wasted.",
                          .act = "Bring it to 100 %.",
                          .verify = "Warm the engine and look.",
                          .by_design = "A race engine that runs cold.",
                          .basis = "common practice",
                          .caution_count = 2,
                          .cautions = cautions,
                          .identity = "0123456789abcdef"};
}

/* A span of the log, a limit in a unit of another kind, and an input's control characters. */
static inline struct finding sample_hot(struct arena *arena)
{
  struct evidence *evidence = ARENA_NEW(arena, struct evidence);
  *evidence = (struct evidence){.place = {2, 9, 23},
                                .text = "12.4 s to 15 s",
                                .has_span = true,
                                .start = sample_quantity("ms", 12400),
                                .end = sample_quantity("s", 15)};
  return (struct finding){.id = "too-hot",
                          .severity = SEVERITY_STOP,
                          .title = "Coolant \x1b[2Jgets too hot",
                          .message = "Coolant reached 118 degC for \xE2\x80\xAE"
                                     "2.6 s\xE2\x80\xAC.",
                          .subject = "log.coolant_temperature",
                          .evidence_count = 1,
                          .evidence = evidence,
                          .has_measured = true,
                          .measured = sample_quantity("degC", 118),
                          .has_limit = true,
                          .limit = sample_quantity("K", 5),
                          .limit_from = "limit.hot, job sheet: thermostat opens at 82",
                          .why = "It boils.",
                          .act = "Stop.",
                          .identity = "fedcba9876543210"};
}

static inline struct sample sample_new(void)
{
  static const struct outcome_input inputs[] = {{"settings", {"settings.yaml", 13}, NULL},
                                                {"log", {"l\x1bog.csv", 8}, NULL}};
  static const struct caution cautions[] = {{"haz-hot", "WARNING", "Hot coolant burns."},
                                            {"haz-practice", "NOTICE", "A second look, not approval."}};
  static const char *const clear[] = {"pin-shared", "axis-not-increasing"};
  static const char *const wants_job[] = {"job.timing_light", "job.idle.valve_sense"};
  static const char *const wants_setting[] = {"tune.idle.valve_sense", "job.idle.valve_sense"};
  static const char *const wants_heat[] = {"the log never reaches working temperature"};
  static const char *const wants_channel[] = {"log.idle_valve_duty"};
  static const struct undecided undecided[] = {{"base-timing", "t", 2, wants_job},
                                               {"idle-sense", "t", 2, wants_setting},
                                               {"warmup-in-log", "t", 1, wants_heat},
                                               {"strobe", "t", 1, wants_job},
                                               {"idle-slope", "t", 1, wants_channel}};
  static const struct not_applicable not_applicable[] = {{"boost-slope", "t", "the engine is not boosted"}};
  static const char *const notes[] = {"log.csv:3:1: time runs backwards"};
  static const char *const silenced[] = {"pin-shared: replaced by shop.yaml"};
  struct sample sample = {.arena = arena_new()};
  sample.sources = sources_new(sample.arena);
  sources_memory(sample.sources, "settings.yaml", slice_of(sample_settings));
  sources_memory(sample.sources, "l\x1bog.csv", slice_of(sample_log));
  problems_init(&sample.problems, sample.arena, PROBLEM_OF_INPUT);
  struct finding *findings = ARENA_ARRAY(sample.arena, 2, struct finding);
  findings[0] = sample_hot(sample.arena);
  findings[1] = sample_warm_up(sample.arena);
  struct changed_limit *changed = ARENA_NEW(sample.arena, struct changed_limit);
  *changed = (struct changed_limit){.name = "warm_up_end",
                                    .reason = "thermostat opens at 82",
                                    .from = "job sheet",
                                    .value = sample_quantity("degF", 176),
                                    .usual = sample_quantity("degC", 77),
                                    .place = {1, 0, 5}};
  sample.outcome = (struct outcome){.title = "Sandpiper",
                                    .stage = "delivery",
                                    .input_count = 2,
                                    .inputs = inputs,
                                    .finding_count = 2,
                                    .findings = findings,
                                    .verdicts = {2, 2, 5, 1},
                                    .clear_count = 2,
                                    .clear = clear,
                                    .undecided_count = 5,
                                    .undecided = undecided,
                                    .not_applicable_count = 1,
                                    .not_applicable = not_applicable,
                                    .caution_count = 2,
                                    .cautions = cautions,
                                    .changed_count = 1,
                                    .changed = changed,
                                    .note_count = 1,
                                    .notes = notes,
                                    .silenced_count = 1,
                                    .silenced = silenced,
                                    .problems = NULL,
                                    .fail_on = SEVERITY_FIX,
                                    .need = 1,
                                    .exit = 1};
  return sample;
}

/* What was checked and what not, and nothing found. */
static inline struct sample sample_clean(void)
{
  struct sample sample = sample_new();
  sample.outcome.finding_count = 0;
  sample.outcome.caution_count = 0;
  sample.outcome.verdicts[VERDICT_FLAGGED] = 0;
  sample.outcome.exit = 0;
  return sample;
}

/* One report by any writer; to be freed. */
static inline char *
sample_write(struct sample *sample,
             bool (*write)(FILE *, const struct outcome *, struct sources *, const struct report_options *), bool color)
{
  char *bytes = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&bytes, &size);
  assert_non_null(out);
  struct report_options options = {.color = color, .version = "0.0.0"};
  assert_true(write(out, &sample->outcome, sample->sources, &options));
  assert_int_equal(fclose(out), 0);
  assert_int_equal(strlen(bytes), size);
  /* A copy: gcc takes what open_memstream put into `bytes` for a pointer to `bytes` itself. */
  char *copy = malloc(size + 1);
  assert_non_null(copy);
  memcpy(copy, bytes, size + 1);
  free(bytes);
  return copy;
}

#endif
