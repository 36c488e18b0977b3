/* Keeps packed columns. Reading order: columns_add, then the temporary file; column_unpack.c reads them again. */
#include "model/column_set.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define SCALES_MOST 65535
#define PATH_MOST 1024

static void columns_free(void *context)
{
  struct columns *columns = context;
  arena_free(columns->memory);
  if (columns->fd >= 0)
    close(columns->fd);
}

struct columns *columns_new(struct arena *arena, size_t count, size_t memory)
{
  struct columns *columns = ARENA_NEW(arena, struct columns);
  *columns = (struct columns){.arena = arena, .memory_most = memory, .fd = -1, .count = count};
  columns->columns = ARENA_ARRAY(arena, count, struct column);
  for (size_t i = 0; i < count; i++)
    columns->columns[i] = (struct column){.set = columns, .index = i};
  columns->cache = column_cache_new(arena);
  columns->numbers = column_numbers_best();
  arena_on_free(arena, columns_free, columns);
  return columns;
}

void columns_scale(struct columns *columns, size_t index, struct column_scale scale)
{
  struct column *column = &columns->columns[index];
  const struct column_scale *last = column_scale_of(column, column->scale_count);
  if (column->scale_count == SCALES_MOST ||
      (last != NULL && last->unit == scale.unit && last->first == scale.first && last->rate == scale.rate))
    return;
  column->scales =
      arena_grow(columns->arena, column->scales, column->scale_count, &column->scale_room, sizeof *column->scales);
  column->scales[column->scale_count++] = scale;
}

/* A file without a name, that goes with the process. */
static int open_temporary(void)
{
  const char *folder = getenv("TMPDIR");
  char path[PATH_MOST];
  if (folder == NULL || folder[0] == '\0')
    folder = "/tmp";
  int size = snprintf(path, sizeof path, "%s/keyway-XXXXXX", folder);
  if (size < 0 || (size_t)size >= sizeof path)
    return -1;
  int fd = mkstemp(path);
  if (fd >= 0)
    unlink(path);
  return fd;
}

static bool write_all(int fd, const char *bytes, size_t size, uint64_t at)
{
  while (size > 0) {
    ssize_t done = pwrite(fd, bytes, size, (off_t)at);
    if (done <= 0 && errno != EINTR)
      return false;
    if (done > 0) {
      bytes += done;
      size -= (size_t)done;
      at += (uint64_t)done;
    }
  }
  return true;
}

/* The runs of a span, then what they say where it is. */
struct parts {
  const struct column_run *runs;
  size_t runs_size;
  const char *packed;
  size_t packed_size;
};

static bool put_in_file(struct columns *columns, struct column_span *span, const struct parts *parts)
{
  if (!write_all(columns->fd, (const char *)parts->runs, parts->runs_size, columns->file_used) ||
      !write_all(columns->fd, parts->packed, parts->packed_size, columns->file_used + parts->runs_size))
    return false;
  span->bytes = NULL;
  span->at = columns->file_used;
  columns->file_used += span->size;
  return true;
}

/* All that is in memory; where the disk is full, memory must do. */
static void move_to_file(struct columns *columns)
{
  columns->fd = open_temporary();
  columns->no_file = columns->fd < 0;
  for (size_t i = 0; i < columns->span_count && !columns->no_file; i++) {
    struct column_span *span = &columns->spans[i];
    columns->no_file = !put_in_file(columns, span, &(struct parts){.packed = span->bytes, .packed_size = span->size});
  }
  if (columns->no_file)
    return;
  arena_free(columns->memory);
  columns->memory = NULL;
}

static void put_in_memory(struct columns *columns, struct column_span *span, const struct parts *parts)
{
  if (columns->memory == NULL)
    columns->memory = arena_new();
  char *copy = arena_alloc(columns->memory, span->size);
  memcpy(copy, parts->runs, parts->runs_size);
  if (parts->packed_size > 0)
    memcpy(copy + parts->runs_size, parts->packed, parts->packed_size);
  span->bytes = copy;
  columns->memory_used += span->size;
}

static double scaled(const struct column_scale *scale, double number)
{
  if (scale != NULL && scale->rate > 0)
    return number / scale->rate;
  return scale == NULL || scale->unit == NULL ? number : unit_to_base(scale->unit, number - scale->first);
}

/* Scales go up or down all the way, so that the ends of what was read are the ends of what comes out. */
static void survey(struct column *column, const struct column_range *range)
{
  if (range->known == 0)
    return;
  const struct column_scale *scale = column_scale_of(column, column->scale_count);
  double low = fabs(scaled(scale, range->low)), high = fabs(scaled(scale, range->high));
  column->known += range->known;
  column->largest = fmax(column->largest, fmax(low, high));
}

void columns_add(struct columns *columns, size_t rows, struct column_run *runs, const struct column_range *ranges,
                 const char *bytes, size_t size)
{
  struct parts parts = {runs, columns->count * sizeof *runs, bytes, size};
  struct column_span span = {.from = columns->rows, .size = parts.runs_size + size};
  for (size_t i = 0; i < columns->count; i++) {
    runs[i].scale = (uint16_t)columns->columns[i].scale_count;
    survey(&columns->columns[i], &ranges[i]);
  }
  if (columns->fd < 0 && !columns->no_file && columns->memory_used + span.size > columns->memory_most)
    move_to_file(columns);
  if (columns->fd < 0 || columns->no_file || !put_in_file(columns, &span, &parts))
    put_in_memory(columns, &span, &parts);
  columns->spans =
      arena_grow(columns->arena, columns->spans, columns->span_count, &columns->span_room, sizeof *columns->spans);
  columns->spans[columns->span_count++] = span;
  columns->size_most = span.size > columns->size_most ? span.size : columns->size_most;
  columns->rows += rows;
}

size_t columns_rows(const struct columns *columns)
{
  return columns->rows;
}

bool columns_in_file(const struct columns *columns)
{
  return columns->file_used > 0;
}

const struct column *columns_get(const struct columns *columns, size_t index)
{
  return &columns->columns[index];
}

double column_largest(const struct column *column)
{
  return column->largest;
}

size_t column_known(const struct column *column)
{
  return column->known;
}
