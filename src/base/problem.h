/* A problem: an input or a rule pack could not be read. Not a finding (findings/finding.h), which speaks of the tune.
 * Any room may include this. Functions that can refuse return bool (or NULL), add a problem, never print, never exit.
 * Not thread-safe. */
#ifndef KEYWAY_BASE_PROBLEM_H
#define KEYWAY_BASE_PROBLEM_H

#include "base/arena.h"
#include "base/place.h"
#include "base/slice.h"

#include <stdbool.h>
#include <stddef.h>

enum problem_class {
  PROBLEM_OF_USAGE, /* command line: exit 2 */
  PROBLEM_OF_PACK,  /* rule pack: exit 2 */
  PROBLEM_OF_INPUT, /* settings, log, job sheet, adapter: exit 3 */
  PROBLEM_OF_COUNT
};

struct problem {
  enum problem_class of;
  struct place place;  /* PLACE_NONE when there is none */
  const char *message; /* what was seen, what was expected; one line; owned by the list's arena */
  const char *hint;    /* what to do about it, or NULL */
};

struct problems {
  struct arena *arena;
  enum problem_class of; /* what the reader at work reads; copied to each problem */
  struct problem *items;
  size_t count; /* kept, at most LIMIT_PROBLEMS */
  size_t capacity;
  size_t dropped;              /* not kept because of the limit */
  bool seen[PROBLEM_OF_COUNT]; /* kept or dropped */
};

void problems_init(struct problems *problems, struct arena *arena, enum problem_class of);

/* Adds one; message is formatted into the arena. Always returns false, so that a refusing function can
 * `return problems_add(...)`. Untrusted text is passed with %.*s: escaping happens when printed. */
bool problems_add(struct problems *problems, struct place place, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Adds a hint to the problem added last; does nothing when that one was dropped. */
void problems_hint(struct problems *problems, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Stable order: source, start, order of adding. */
void problems_sort(struct problems *problems);

/* Whether one of that class was added, kept or dropped. */
bool problems_has(const struct problems *problems, enum problem_class of);

#endif
