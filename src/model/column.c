/* The store of packed columns. Reading order: columns_add, the temporary file, then column_rows. */
#include "model/column.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define EXIT_FAULT 5 /* "a fault of the program itself" */
#define SCALES_MOST 65535
#define PATH_MOST 1024

struct column {
  const struct columns *set;
  size_t index;
  struct column_scale *scales;
  size_t scale_count, scale_room;
  double largest;
  size_t known;
};

/* The runs of all columns over the same rows. */
struct span {
  size_t from; /* row */
  struct column_run *runs;
  size_t size;
  const char *bytes; /* NULL: in the file */
  uint64_t at;       /* in the file */
};

struct columns {
  struct arena *arena;
  struct arena *memory; /* of bytes that are not in the file; NULL: none are */
  size_t memory_used, memory_most;
  int fd; /* -1: no file */
  bool no_file;
  uint64_t file_used;
  struct column *columns;
  size_t count;
  struct span *spans;
  size_t span_count, span_room;
  size_t rows;
};

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
  arena_on_free(arena, columns_free, columns);
  return columns;
}

static const struct column_scale *scale_of(const struct column *column, size_t ordinal)
{
  return ordinal == 0 ? NULL : &column->scales[ordinal - 1];
}

void columns_scale(struct columns *columns, size_t index, struct column_scale scale)
{
  struct column *column = &columns->columns[index];
  const struct column_scale *last = scale_of(column, column->scale_count);
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

static bool put_in_file(struct columns *columns, struct span *span, const char *bytes)
{
  if (!write_all(columns->fd, bytes, span->size, columns->file_used))
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
  for (size_t i = 0; i < columns->span_count && !columns->no_file; i++)
    columns->no_file = !put_in_file(columns, &columns->spans[i], columns->spans[i].bytes);
  if (columns->no_file)
    return;
  arena_free(columns->memory);
  columns->memory = NULL;
}

static void put_in_memory(struct columns *columns, struct span *span, const char *bytes)
{
  if (columns->memory == NULL)
    columns->memory = arena_new();
  char *copy = arena_alloc(columns->memory, span->size);
  if (span->size > 0)
    memcpy(copy, bytes, span->size);
  span->bytes = copy;
  columns->memory_used += span->size;
}

static const double tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                              1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

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
  const struct column_scale *scale = scale_of(column, column->scale_count);
  double low = fabs(scaled(scale, range->low)), high = fabs(scaled(scale, range->high));
  column->known += range->known;
  column->largest = fmax(column->largest, fmax(low, high));
}

void columns_add(struct columns *columns, size_t rows, const struct column_run *runs, const struct column_range *ranges,
                 const char *bytes, size_t size)
{
  struct span span = {.from = columns->rows, .size = size};
  span.runs = ARENA_ARRAY(columns->arena, columns->count, struct column_run);
  for (size_t i = 0; i < columns->count; i++) {
    span.runs[i] = runs[i];
    span.runs[i].scale = (uint16_t)columns->columns[i].scale_count;
    survey(&columns->columns[i], &ranges[i]);
  }
  if (columns->fd < 0 && !columns->no_file && columns->memory_used + size > columns->memory_most)
    move_to_file(columns);
  if (columns->fd < 0 || columns->no_file || !put_in_file(columns, &span, bytes))
    put_in_memory(columns, &span, bytes);
  columns->spans =
      arena_grow(columns->arena, columns->spans, columns->span_count, &columns->span_room, sizeof *columns->spans);
  columns->spans[columns->span_count++] = span;
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

/* The last span that starts at `row` or before. */
static size_t span_of(const struct columns *columns, size_t row)
{
  size_t low = 0, high = columns->span_count;
  while (high - low > 1) {
    size_t middle = low + (high - low) / 2;
    if (columns->spans[middle].from <= row)
      low = middle;
    else
      high = middle;
  }
  return low;
}

/* A verdict on half of the numbers would be worse than none. */
static _Noreturn void lost(void)
{
  fputs("keyway: a temporary file cannot be read back\n", stderr);
  exit(EXIT_FAULT);
}

/* Bytes of a span: where they are in memory, else read into `room`. */
static const void *fetch(const struct columns *columns, const struct span *span, size_t at, size_t size, void *room)
{
  if (span->bytes != NULL)
    return span->bytes + at;
  for (size_t have = 0; have < size;) {
    ssize_t got = pread(columns->fd, (char *)room + have, size - have, (off_t)(span->at + at + have));
    if (got == 0 || (got < 0 && errno != EINTR))
      lost();
    have += got > 0 ? (size_t)got : 0;
  }
  return room;
}

#define UNPACK(type)                                                         \
  for (size_t i = 0; i < count; i++) {                                       \
    type stored;                                                             \
    memcpy(&stored, (const char *)bytes + i * sizeof stored, sizeof stored); \
    at[i] = (double)(run->least + (int64_t)stored);                          \
  }

static void unpack(const struct column_run *run, const void *bytes, size_t count, double *at)
{
  if (run->decimals == COLUMN_DOUBLE) {
    memcpy(at, bytes, count * sizeof *at);
    return;
  }
  switch (run->width) {
  case 0:
    for (size_t i = 0; i < count; i++)
      at[i] = (double)run->least;
    break;
  case 1:
    UNPACK(uint8_t)
    break;
  case 2:
    UNPACK(uint16_t)
    break;
  case 4:
    UNPACK(uint32_t)
    break;
  default:
    UNPACK(uint64_t)
  }
  double divisor = tens[run->decimals];
  for (size_t i = 0; run->decimals > 0 && i < count; i++)
    at[i] /= divisor;
}

static void scale_all(const struct column_scale *scale, size_t count, double *at)
{
  for (size_t i = 0; scale != NULL && scale->rate > 0 && i < count; i++)
    at[i] /= scale->rate;
  if (scale == NULL || scale->rate > 0 || scale->unit == NULL)
    return;
  const double first = scale->first, factor = scale->unit->factor, offset = scale->unit->offset;
  for (size_t i = 0; i < count; i++)
    at[i] = (at[i] - first) * factor + offset;
}

/* Rows from .. from+count-1 of one span. */
static bool span_rows(const struct column *column, const struct span *span, size_t rows, size_t from, size_t count,
                      double *at, uint8_t *known)
{
  uint64_t room[COLUMN_ROWS];
  const struct column_run *run = &span->runs[column->index];
  if (run->decimals == COLUMN_MISSING) {
    memset(known, 0, count);
    for (size_t i = 0; i < count; i++)
      at[i] = 0;
    return false;
  }
  unpack(run, fetch(column->set, span, run->at + from * run->width, count * run->width, room), count, at);
  scale_all(scale_of(column, run->scale), count, at);
  memset(known, 1, count);
  if (run->all)
    return true;
  bool all = true;
  const uint8_t *bits = fetch(column->set, span, run->at + rows * run->width, (rows + 7) / 8, room);
  for (size_t i = 0; i < count; i++) {
    known[i] = bits[(from + i) / 8] >> ((from + i) % 8) & 1;
    at[i] = known[i] ? at[i] : 0;
    all = all && known[i];
  }
  return all;
}

bool column_rows(const struct column *column, size_t from, size_t to, double *at, uint8_t *known)
{
  const struct columns *set = column->set;
  bool all = true;
  for (size_t i = from < to ? span_of(set, from) : 0; from < to; i++) {
    const struct span *span = &set->spans[i];
    size_t end = i + 1 < set->span_count ? set->spans[i + 1].from : set->rows, rows = end - span->from;
    size_t count = (to < end ? to : end) - from;
    all = span_rows(column, span, rows, from - span->from, count, at, known) && all;
    at += count;
    known += count;
    from += count;
  }
  return all;
}
