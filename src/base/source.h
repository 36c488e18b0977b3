/* Bytes that were read, and the only opener of inputs. A source keeps its bytes until its arena goes.
 * Any room may include this; only read/ and cli/ open. Not thread-safe while sources are being added. */
#ifndef KEYWAY_BASE_SOURCE_H
#define KEYWAY_BASE_SOURCE_H

#include "base/arena.h"
#include "base/place.h"
#include "base/problem.h"
#include "base/slice.h"

struct source {
  uint32_t id;                /* from 1 */
  struct slice path;          /* as given; "-" for standard input */
  struct slice name;          /* as printed: see sources_name */
  struct slice bytes;         /* the whole content; where `file` is set, its first part */
  uint64_t file_size;         /* of that file, as it was when opened */
  struct source_file *file;   /* a long file, read when asked for (source_read); NULL: `bytes` is all */
  bool frozen;                /* a tree as text/frozen.h writes it, not text: only what is built in */
  struct source_lines *lines; /* where each line starts, built when first asked for */
};

/* A place as people read it. Columns count characters (code points) from 1; a tab is one character. */
struct position {
  struct slice name; /* of the source */
  uint64_t line;     /* from 1 */
  uint64_t column;   /* from 1 */
  struct slice text; /* the whole line, without its line end */
  size_t from, to;   /* bytes of `text` to mark; to > from, cut at the end of the line (to may be one past it) */
};

struct sources;

/* The set of sources of one run; lives in `arena`. */
struct sources *sources_new(struct arena *arena);

/* Opens a file ("-": standard input), reads it whole. Missing, unreadable, a directory, over `limit` bytes: adds a
 * problem (place: the source, point 0) and returns NULL. A regular file is opened non-blocking and checked, so that a
 * pipe or device named by mistake does not hang. */
const struct source *sources_open(struct sources *sources, const char *path, uint64_t limit, struct problems *problems);

/* The same, but of a regular file over `keep` bytes only so many are kept; its size at opening counts. Standard input
 * is always kept whole. */
const struct source *sources_open_long(struct sources *sources, const char *path, uint64_t limit, size_t keep,
                                       struct problems *problems);

static inline uint64_t source_size(const struct source *source)
{
  return source->file != NULL ? source->file_size : source->bytes.size;
}

/* Copies bytes from .. from+size-1 of the whole content; *got: how many there were (fewer at the end, also of a file
 * that has become shorter). false: the system refused, errno says why. Thread-safe. */
bool source_read(const struct source *source, uint64_t from, char *to, size_t size, size_t *got);

/* Says why `source` could not be read; always false. */
bool source_refuse(struct problems *problems, const struct source *source, int error);

/* Bytes already in memory (embedded packs, tests); not copied, must outlive the set. */
const struct source *sources_memory(struct sources *sources, const char *name, struct slice bytes);

/* The same for bytes that text/frozen.h wrote. */
const struct source *sources_frozen(struct sources *sources, const char *name, struct slice bytes);

/* Settles the printed names: paths relative to `root` when it is given and is a leading part of the path; otherwise
 * the shortest tail of each path that tells it from the others, so that output does not depend on the working
 * directory. Call after the last sources_open and before printing. */
void sources_name(struct sources *sources, const char *root);

const struct source *sources_get(const struct sources *sources, uint32_t id); /* NULL when unknown */

/* Where the set lives. */
struct arena *sources_arena(const struct sources *sources);

/* false (and zeroes) when the place has no source. The line of a long file is cut where it is over 64 KB on either side
 * of the place. */
bool sources_position(struct sources *sources, struct place place, struct position *out);

#endif
