/* A borrowed run of bytes: not owned, not NUL-terminated, may hold any byte.
 * Any room may include this. Values are immutable; safe to share between threads. */
#ifndef KEYWAY_BASE_SLICE_H
#define KEYWAY_BASE_SLICE_H

#include <stdbool.h>
#include <stddef.h>
#include <string.h>

struct slice {
  const char *at; /* first byte; may be NULL when size is 0 */
  size_t size;    /* bytes */
};

static inline struct slice slice_of(const char *text)
{
  return (struct slice){text, strlen(text)};
}

static inline struct slice slice_part(struct slice s, size_t from, size_t to)
{
  return (struct slice){s.at + from, to - from};
}

static inline bool slice_equal(struct slice a, struct slice b)
{
  return a.size == b.size && (a.size == 0 || memcmp(a.at, b.at, a.size) == 0);
}

static inline bool slice_is(struct slice a, const char *text)
{
  return slice_equal(a, slice_of(text));
}

/* Bytewise order, shorter first on a tie: <0, 0, >0. */
int slice_compare(struct slice a, struct slice b);

/* Without blanks and tabs at either end. */
struct slice slice_trim(struct slice s);

/* Edit distance (insert, delete, replace, swap of neighbours), ASCII case and "_- ." folded together; used for
 * nearest-name hints. Both sides are cut at 64 bytes. */
size_t slice_distance(struct slice a, struct slice b);

/* For printf: printf("%.*s", SLICE_ARG(s)). */
#define SLICE_ARG(s) (int)((s).size < 0x7fffffff ? (s).size : 0x7fffffff), (s).at

#endif
