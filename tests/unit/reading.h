/* What the tests of text/ and read/ share: a run with its arena and sources, and the comparison of a wrong input's
 * problem with what a person should be told. Included by tests only. */
#ifndef KEYWAY_TESTS_READING_H
#define KEYWAY_TESTS_READING_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "base/limits.h"
#include "base/source.h"
#include "read/vocabulary.h"

struct run {
  struct arena *arena;
  struct sources *sources;
  struct problems problems;
  const struct vocabulary *vocabulary; /* NULL until run_vocabulary */
};

static inline struct run run_new(void)
{
  struct run run = {.arena = arena_new()};
  run.sources = sources_new(run.arena);
  problems_init(&run.problems, run.arena, PROBLEM_OF_INPUT);
  return run;
}

static inline void run_vocabulary(struct run *run)
{
  const struct source *source = sources_open(run->sources, "rules/dictionary.yaml", LIMIT_YAML_BYTES, &run->problems);
  assert_non_null(source);
  run->vocabulary = vocabulary_read(run->arena, source, &run->problems);
  assert_non_null(run->vocabulary);
}

static inline const struct source *run_source(struct run *run, struct slice bytes)
{
  return sources_memory(run->sources, "test.yaml", bytes);
}

static inline void run_free(struct run *run)
{
  arena_free(run->arena);
}

/* A wrong input and all that is said about it: "LINE:COLUMN 'marked text' message | hint", one line a problem, in the
 * order of their places. No hint: "-". */
struct wrong {
  const char *bytes, *said;
};

static inline const char *run_said(struct run *run)
{
  const char *said = "";
  problems_sort(&run->problems);
  for (size_t i = 0; i < run->problems.count; i++) {
    const struct problem *problem = &run->problems.items[i];
    struct position position;
    assert_true(sources_position(run->sources, problem->place, &position));
    assert_true(position.from <= position.to);
    size_t to = position.to > position.text.size ? position.text.size : position.to;
    size_t from = position.from > to ? to : position.from;
    struct slice marked = slice_part(position.text, from, to);
    said = arena_print(run->arena, "%s%s%ju:%ju '%.*s' %s | %s", said, i == 0 ? "" : "\n", (uintmax_t)position.line,
                       (uintmax_t)position.column, SLICE_ARG(marked), problem->message,
                       problem->hint == NULL ? "-" : problem->hint);
  }
  return said;
}

#endif
