/* Reads packed columns again. A span that is in the file is read whole and stays in the cache for the other columns and
 * the rows that follow. Reading order: column_rows, hold, then run_rows; the numbers themselves are made in
 * column_numbers.c.
 */
#include "model/column_set.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define EXIT_FAULT 5 /* "a fault of the program itself" */

/* Windows that look back and ahead reach over several spans, on each thread. */
enum { SLOTS_FEW = 16, SLOTS_MOST = 32 };

/* Reading a whole span pays when it is used so often; one that was not yet is kept while as many others are read around
 * the cache, so that no order of asking makes most of the work loading. */
enum { USES_THAT_PAY = 6 };

struct slot {
  size_t span;
  size_t users; /* threads that read it now */
  bool loading;
  uint64_t asked; /* when, last */
  unsigned uses;
  char *bytes;
  size_t room;
};

struct column_cache {
  pthread_mutex_t lock;
  pthread_cond_t change;
  struct arena *arena;
  uint64_t clock;
  size_t count;
  struct slot slots[SLOTS_MOST];
};

static void cache_free(void *context)
{
  struct column_cache *cache = context;
  arena_free(cache->arena);
  pthread_cond_destroy(&cache->change);
  pthread_mutex_destroy(&cache->lock);
}

struct column_cache *column_cache_new(struct arena *arena)
{
  struct column_cache *cache = ARENA_NEW(arena, struct column_cache);
  /* These two cannot fail without attributes. */
  pthread_mutex_init(&cache->lock, NULL);
  pthread_cond_init(&cache->change, NULL);
  arena_on_free(arena, cache_free, cache);
  return cache;
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

static void load(const struct columns *columns, uint64_t from, size_t size, void *to)
{
  for (size_t have = 0; have < size;) {
    ssize_t got = pread(columns->fd, (char *)to + have, size - have, (off_t)(from + have));
    if (got == 0 || (got < 0 && errno != EINTR))
      lost();
    have += got > 0 ? (size_t)got : 0;
  }
}

/* The slot of a span, else one that can take it; NULL: all are in use. */
static struct slot *find_slot(struct column_cache *cache, size_t span)
{
  struct slot *oldest = NULL;
  for (size_t i = 0; i < cache->count; i++) {
    struct slot *slot = &cache->slots[i];
    if (slot->span == span)
      return slot;
    if (slot->users == 0 && (oldest == NULL || slot->asked < oldest->asked))
      oldest = slot;
  }
  if (cache->count < SLOTS_FEW || (oldest == NULL && cache->count < SLOTS_MOST)) {
    oldest = &cache->slots[cache->count++];
    *oldest = (struct slot){.span = SIZE_MAX, .uses = USES_THAT_PAY};
  }
  return oldest;
}

/* Keeps a span in its slot until it is let go; NULL: it is to be read around the cache. */
static struct slot *hold(const struct columns *columns, size_t span)
{
  struct column_cache *cache = columns->cache;
  pthread_mutex_lock(&cache->lock);
  struct slot *slot = find_slot(cache, span);
  while (slot != NULL && slot->span == span && slot->loading) {
    pthread_cond_wait(&cache->change, &cache->lock);
    slot = find_slot(cache, span);
  }
  bool have = slot != NULL && slot->span == span;
  if (slot == NULL || (!have && slot->uses < USES_THAT_PAY)) {
    if (slot != NULL)
      slot->uses++;
    pthread_mutex_unlock(&cache->lock);
    return NULL;
  }
  slot->users++;
  slot->asked = ++cache->clock;
  slot->uses = have ? slot->uses + 1 : 1;
  if (!have) {
    slot->span = span;
    slot->loading = true;
    if (slot->room < columns->size_most) {
      cache->arena = cache->arena == NULL ? arena_new() : cache->arena;
      slot->bytes = arena_alloc(cache->arena, columns->size_most);
      slot->room = columns->size_most;
    }
  }
  pthread_mutex_unlock(&cache->lock);
  if (have)
    return slot;
  load(columns, columns->spans[span].at, columns->spans[span].size, slot->bytes);
  pthread_mutex_lock(&cache->lock);
  slot->loading = false;
  pthread_cond_broadcast(&cache->change);
  pthread_mutex_unlock(&cache->lock);
  return slot;
}

static void let_go(struct column_cache *cache, struct slot *slot)
{
  pthread_mutex_lock(&cache->lock);
  slot->users--;
  pthread_mutex_unlock(&cache->lock);
}

/* A bit a row; false: some are missing, and become 0. */
static bool unpack_known(const unsigned char *bits, size_t from, size_t count, double *at, uint8_t *known)
{
  for (size_t i = 0; i < count; i++)
    known[i] = bits[(from + i) / 8] >> ((from + i) % 8) & 1;
  for (size_t i = 0; i < count; i++)
    at[i] = known[i] ? at[i] : 0;
  return memchr(known, 0, count) == NULL;
}

/* Rows from .. from+count-1 of the `rows` of one run: its numbers, then the bits of those that are known. */
static bool run_rows(const struct column *column, const struct column_run *run, const char *packed, size_t rows,
                     size_t from, size_t count, double *at, uint8_t *known)
{
  if (run->decimals == COLUMN_MISSING) {
    memset(known, 0, count);
    memset(at, 0, count * sizeof *at);
    return false;
  }
  column->set->numbers(run, column_scale_of(column, run->scale), packed + from * run->width, count, at);
  memset(known, 1, count);
  return run->all || unpack_known((const unsigned char *)packed + rows * run->width, from, count, at, known);
}

static bool span_rows(const struct column *column, const char *span, size_t rows, size_t from, size_t count, double *at,
                      uint8_t *known)
{
  struct column_run run;
  memcpy(&run, span + column->index * sizeof run, sizeof run);
  return run_rows(column, &run, span + column->set->count * sizeof run + run.at, rows, from, count, at, known);
}

/* The same around the cache, of this column only. */
static bool lone_rows(const struct column *column, const struct column_span *span, size_t rows, size_t from,
                      size_t count, double *at, uint8_t *known)
{
  const struct columns *set = column->set;
  struct column_run run;
  char packed[COLUMN_ROWS * sizeof(double) + COLUMN_ROWS / 8];
  load(set, span->at + column->index * sizeof run, sizeof run, &run);
  size_t bits = run.all ? 0 : (rows + 7) / 8;
  size_t size = run.decimals == COLUMN_MISSING ? 0 : rows * run.width + bits;
  load(set, span->at + set->count * sizeof run + run.at, size, packed);
  return run_rows(column, &run, packed, rows, from, count, at, known);
}

bool column_rows(const struct column *column, size_t from, size_t to, double *at, uint8_t *known)
{
  const struct columns *set = column->set;
  bool all = true;
  for (size_t i = from < to ? span_of(set, from) : 0; from < to; i++) {
    const struct column_span *span = &set->spans[i];
    size_t end = i + 1 < set->span_count ? set->spans[i + 1].from : set->rows, rows = end - span->from;
    size_t count = (to < end ? to : end) - from;
    if (span->bytes != NULL) {
      all = span_rows(column, span->bytes, rows, from - span->from, count, at, known) && all;
    } else {
      struct slot *slot = hold(set, i);
      if (slot == NULL) {
        all = lone_rows(column, span, rows, from - span->from, count, at, known) && all;
      } else {
        all = span_rows(column, slot->bytes, rows, from - span->from, count, at, known) && all;
        let_go(set->cache, slot);
      }
    }
    at += count;
    known += count;
    from += count;
  }
  return all;
}
