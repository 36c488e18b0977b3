/* Patterns: PCRE2, compiled once, with bounds on what one match may cost. Included by read/. The only user of PCRE2 is
 * text/pattern.c. Match and depth limits are those of base/limits.h; a pattern longer than LIMIT_PATTERN_BYTES or
 * starting with "(*" is refused. A pattern holds the room that its matches need, so it belongs to one thread. */
#ifndef KEYWAY_TEXT_PATTERN_H
#define KEYWAY_TEXT_PATTERN_H

#include "base/arena.h"
#include "base/slice.h"

#include <stdbool.h>

struct pattern;

/* NULL when refused: then *why is one line with PCRE2's words and *at the byte in `text` that it stumbled over. Must be
 * freed with pattern_free, before its arena: machine code does not lie there. */
struct pattern *pattern_compile(struct arena *arena, struct slice text, const char **why, size_t *at);
/* The same without machine code: slower, goes with its arena. For a pattern that is used on few subjects. */
struct pattern *pattern_compile_plain(struct arena *arena, struct slice text, const char **why, size_t *at);
void pattern_free(struct pattern *pattern); /* NULL and plain ones too */

enum pattern_outcome { PATTERN_NO, PATTERN_YES, PATTERN_TOO_COSTLY };

struct pattern_match {
  size_t group_count;      /* with group 0 */
  const size_t *from, *to; /* bytes within the subject; from == SIZE_MAX: group did not take part. Valid until the next
                              match of this pattern */
};

/* The first match at or after byte `start`, PATTERN_NO also when the subject is no UTF-8. With start > 0 in the subject
 * of the match before, its bytes must not have changed since: they are not looked through again. */
enum pattern_outcome pattern_find(const struct pattern *pattern, struct slice subject, size_t start,
                                  struct pattern_match *match);

/* Number of a named group, 0 when there is none. */
size_t pattern_group(const struct pattern *pattern, const char *name);
/* The part of the subject that a group matched; empty when it took no part. */
struct slice pattern_part(const struct pattern_match *match, struct slice subject, size_t group);
struct slice pattern_text(const struct pattern *pattern);

#endif
