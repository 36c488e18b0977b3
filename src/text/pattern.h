/* Patterns: PCRE2, compiled once, with bounds on what one match may cost. Included by read/. The only user of PCRE2 is
 * text/pattern.c. Match and depth limits are those of base/limits.h; a pattern longer than LIMIT_PATTERN_BYTES or
 * starting with "(*" is refused. A compiled pattern is immutable; a matcher (scratch space) belongs to one thread. */
#ifndef KEYWAY_TEXT_PATTERN_H
#define KEYWAY_TEXT_PATTERN_H

#include "base/arena.h"
#include "base/slice.h"

#include <stdbool.h>

struct pattern;

/* NULL when refused: then *why is one line with PCRE2's words and *at the byte in `text` that it stumbled over. Must be
 * freed with pattern_free (PCRE2 allocates). */
struct pattern *pattern_compile(struct arena *arena, struct slice text, const char **why, size_t *at);
void pattern_free(struct pattern *pattern);

enum pattern_outcome { PATTERN_NO, PATTERN_YES, PATTERN_TOO_COSTLY };

struct pattern_match {
  size_t group_count;      /* with group 0 */
  const size_t *from, *to; /* bytes within the subject; from == SIZE_MAX: group did not take part. Valid until the next
                              match of this pattern */
};

enum pattern_outcome pattern_find(const struct pattern *pattern, struct slice subject, size_t start,
                                  struct pattern_match *match);

/* Number of a named group, 0 when there is none. */
size_t pattern_group(const struct pattern *pattern, const char *name);
/* The part of the subject that a group matched; empty when it took no part. */
struct slice pattern_part(const struct pattern_match *match, struct slice subject, size_t group);
struct slice pattern_text(const struct pattern *pattern);

#endif
