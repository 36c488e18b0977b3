/* Reading logs from text in tests: the shipped dictionary, a log, and what is expected of it. */
#ifndef KEYWAY_TEST_READ_LOG_HELP_H
#define KEYWAY_TEST_READ_LOG_HELP_H

#include "base/limits.h"
#include "read/log.h"
#include "read/vocabulary.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

struct shared {
  struct arena *arena;
  const struct vocabulary *vocabulary;
};

struct given {
  struct arena *arena;
  struct sources *sources;
  const struct source *source;
  struct problems problems;
  const struct vocabulary *vocabulary;
  const struct log *log;
};

static inline int shared_open(void **state)
{
  struct shared *shared = calloc(1, sizeof *shared);
  struct problems problems;
  shared->arena = arena_new();
  problems_init(&problems, shared->arena, PROBLEM_OF_PACK);
  const struct source *source =
      sources_open(sources_new(shared->arena), "rules/dictionary.yaml", LIMIT_YAML_BYTES, &problems);
  shared->vocabulary = source != NULL ? vocabulary_read(shared->arena, source, &problems) : NULL;
  *state = shared;
  return shared->vocabulary != NULL ? 0 : -1;
}

static inline int shared_close(void **state)
{
  struct shared *shared = *state;
  arena_free(shared->arena);
  free(shared);
  return 0;
}

static inline struct given give_with(void **state, struct slice text, const struct log_options *options)
{
  const struct shared *shared = *state;
  struct given g = {.arena = arena_new(), .vocabulary = shared->vocabulary};
  g.sources = sources_new(g.arena);
  g.source = sources_memory(g.sources, "log.csv", text);
  problems_init(&g.problems, g.arena, PROBLEM_OF_INPUT);
  g.log = log_read(g.arena, g.vocabulary, g.source, options, &g.problems);
  return g;
}

static inline struct given give_rate(void **state, const char *text, double rate)
{
  return give_with(state, slice_of(text), &(struct log_options){.rate = rate});
}

static inline struct given give(void **state, const char *text)
{
  return give_rate(state, text, 0);
}

static inline void given_free(struct given *g)
{
  arena_free(g->arena);
}

static inline size_t channel_index(const struct given *g, const char *name)
{
  const struct entry *entry = vocabulary_find(g->vocabulary, SCOPE_LOG, slice_of(name));
  assert_non_null(entry);
  return vocabulary_index(g->vocabulary, SCOPE_LOG, entry);
}

static inline const struct series *channel(const struct given *g, const char *name)
{
  if (g->log == NULL) {
    fail_msg("refused: %s", g->problems.count > 0 ? g->problems.items[0].message : "without a problem");
    abort();
  }
  const struct value *value = g->log->values[channel_index(g, name)];
  assert_non_null(value);
  assert_int_equal(value->kind, VALUE_SERIES);
  assert_int_equal(value->as.series.count, g->log->row_count);
  return &value->as.series;
}

/* Samples in `unit`, which must be the one written; NAN: missing. */
static inline void expect_series(const struct given *g, const char *name, const char *unit, size_t count,
                                 const double *wanted)
{
  const struct series *series = channel(g, name);
  assert_string_equal(series->unit->name, unit);
  assert_int_equal(series->count, count);
  for (size_t i = 0; i < count; i++) {
    bool known = series->known == NULL || series->known[i] == 1;
    assert_int_equal(known, !isnan(wanted[i]));
    if (!known)
      continue;
    double got = unit_from_base(series->unit, series->at[i]);
    if (fabs(got - wanted[i]) > 1e-9 * (1 + fabs(wanted[i])))
      print_error("'%s' row %zu: %.17g, not %.17g\n", name, i, got, wanted[i]);
    assert_true(fabs(got - wanted[i]) <= 1e-9 * (1 + fabs(wanted[i])));
  }
}
#define EXPECT(g, name, unit, ...) \
  expect_series((g), (name), (unit), sizeof((double[]){__VA_ARGS__}) / sizeof(double), (double[]){__VA_ARGS__})

static inline bool stands_at(const struct given *g, struct place place, size_t line, size_t column)
{
  struct position position;
  return sources_position(g->sources, place, &position) && position.line == line && position.column == column;
}

static inline void expect_problem(const struct given *g, size_t line, size_t column, const char *words)
{
  assert_null(g->log);
  for (size_t i = 0; i < g->problems.count; i++) {
    const struct problem *problem = &g->problems.items[i];
    if (strstr(problem->message, words) != NULL && stands_at(g, problem->place, line, column))
      return;
  }
  for (size_t i = 0; i < g->problems.count; i++) {
    struct position position;
    sources_position(g->sources, g->problems.items[i].place, &position);
    print_error("%zu:%zu: %s\n", (size_t)position.line, (size_t)position.column, g->problems.items[i].message);
  }
  fail_msg("no problem '%s' at %zu:%zu", words, line, column);
}

static inline size_t note_count(const struct given *g, enum log_note_kind kind)
{
  size_t count = 0;
  assert_non_null(g->log);
  for (size_t i = 0; i < g->log->note_count; i++)
    count += g->log->notes[i].kind == kind;
  return count;
}

static inline void expect_note(const struct given *g, enum log_note_kind kind, size_t line, size_t column,
                               const char *words)
{
  assert_non_null(g->log);
  for (size_t i = 0; i < g->log->note_count; i++) {
    const struct log_note *note = &g->log->notes[i];
    if (note->kind == kind && strstr(note->text, words) != NULL && stands_at(g, note->place, line, column))
      return;
  }
  for (size_t i = 0; i < g->log->note_count; i++) {
    struct position position;
    sources_position(g->sources, g->log->notes[i].place, &position);
    print_error("%d at %zu:%zu: %s\n", (int)g->log->notes[i].kind, (size_t)position.line, (size_t)position.column,
                g->log->notes[i].text);
  }
  fail_msg("no note '%s' at %zu:%zu", words, line, column);
}

/* Repeatable numbers (Numerical Recipes' 64-bit linear congruence). */
static inline uint32_t chance(uint64_t *seed, uint32_t below)
{
  *seed = *seed * 6364136223846793005ull + 1442695040888963407ull;
  return (uint32_t)((*seed >> 33) % below);
}

#endif
