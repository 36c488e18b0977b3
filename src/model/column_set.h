/* A set of columns from the inside. Private to model/ (column*.c) and its tests. */
#ifndef KEYWAY_MODEL_COLUMN_SET_H
#define KEYWAY_MODEL_COLUMN_SET_H

#include "model/column.h"

#include <pthread.h>

struct column {
  const struct columns *set;
  size_t index;
  struct column_scale *scales;
  size_t scale_count, scale_room;
  double largest;
  size_t known;
};

/* The same rows of all columns: as bytes, a struct column_run of each column, then what is packed. */
struct column_span {
  size_t from; /* row */
  size_t size;
  const char *bytes; /* NULL: in the file */
  uint64_t at;       /* in the file */
};

/* Makes numbers of the packed ones of a run, in base units. */
typedef void column_numbers(const struct column_run *run, const struct column_scale *scale, const char *packed,
                            size_t count, double *at);
/* The best of this processor. */
column_numbers *column_numbers_best(void);
/* All that work on this processor, plain C first; NULL behind the last. All have the same result. */
column_numbers *column_numbers_nth(size_t n);

/* Spans out of the file, the last ones that were asked for. */
struct column_cache;

struct columns {
  struct arena *arena;
  struct arena *memory; /* of bytes that are not in the file; NULL: none are */
  size_t memory_used, memory_most;
  int fd; /* -1: no file */
  bool no_file;
  uint64_t file_used;
  size_t size_most; /* of a span */
  struct column *columns;
  size_t count;
  struct column_span *spans;
  size_t span_count, span_room;
  size_t rows;
  struct column_cache *cache;
  column_numbers *numbers;
};

/* NULL: a number is as it should be. */
static inline const struct column_scale *column_scale_of(const struct column *column, size_t ordinal)
{
  return ordinal == 0 ? NULL : &column->scales[ordinal - 1];
}

struct column_cache *column_cache_new(struct arena *arena);

#endif
