/* See tally.h. Numbers are counted by key, an integer in the order of the numbers; the buckets are as fine as
 * PAGES_MOST pages of them allow. Reading order: tally_take, bucket_add, tally_settle. */
#include "expr/tally.h"

#include "expr/run.h"

#include <math.h>
#include <string.h>

#define KEPT_MOST 2048
#define KEPT_AGAIN 8192
#define PAGES_MOST 64
#define PAGE_BITS 6 /* of TALLY_BUCKETS */
/* Sign, exponent and 12 more bits: finer than the steps of most channels. */
#define FIRST_SHIFT 40

static uint64_t key_of(double value)
{
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  return bits >> 63 != 0 ? ~bits : bits | UINT64_C(1) << 63;
}

static double value_of(uint64_t key)
{
  uint64_t bits = key >> 63 != 0 ? key & INT64_MAX : ~key;
  double value;
  memcpy(&value, &bits, sizeof value);
  return value;
}

void tally_init(struct tally *tally, struct arena *arena)
{
  struct tally fresh = {.shift = FIRST_SHIFT, .again = tally->again};
  memcpy(fresh.ranks, tally->ranks, sizeof fresh.ranks);
  *tally = fresh;
  if (!tally->again)
    return;
  tally->finer = ARENA_ARRAY(arena, TALLY_RANKS, struct tally); /* by all bits, while so few values differ */
}

/* ---- buckets */

static struct tally_entry *entry_find(const struct tally *tally, uint64_t id)
{
  size_t at = (size_t)((id * UINT64_C(0x9e3779b97f4a7c15)) >> 32) & (tally->room - 1);
  while (tally->entries[at].page && tally->entries[at].id != id)
    at = (at + 1) & (tally->room - 1);
  return &tally->entries[at];
}

static void entries_widen(struct tally *tally, struct arena *arena)
{
  struct tally_entry *old = tally->entries;
  size_t room = tally->room;
  tally->room = room == 0 ? 16 : room * 2;
  tally->entries = ARENA_ARRAY(arena, tally->room, struct tally_entry);
  for (size_t i = 0; i < room; i++) {
    if (old[i].page)
      *entry_find(tally, old[i].id) = old[i];
  }
}

static void coarsen(struct tally *tally, struct arena *arena);

static struct tally_page *page_of(struct tally *tally, struct arena *arena, uint64_t key)
{
  uint64_t id = key >> tally->shift >> PAGE_BITS;
  if ((tally->used + 1) * 2 > tally->room)
    entries_widen(tally, arena);
  struct tally_entry *entry = entry_find(tally, id);
  if (!entry->page && tally->used == PAGES_MOST && tally->shift + PAGE_BITS < 62) {
    coarsen(tally, arena);
    return page_of(tally, arena, key);
  }
  if (!entry->page) {
    *entry = (struct tally_entry){id, ARENA_NEW(arena, struct tally_page)};
    tally->used++;
  }
  tally->last = entry;
  return entry->page;
}

static void bucket_add(struct tally *tally, struct arena *arena, double value, uint32_t count, bool mixed)
{
  uint64_t key = key_of(value);
  bool is_last = tally->last && tally->last->id == key >> tally->shift >> PAGE_BITS;
  struct tally_page *page = is_last ? tally->last->page : page_of(tally, arena, key);
  size_t bucket = key >> tally->shift & (TALLY_BUCKETS - 1);
  if (page->count[bucket] == 0)
    page->first[bucket] = value;
  bool other = mixed || page->first[bucket] != value;
  page->mixed |= (uint64_t)other << bucket;
  page->count[bucket] += count;
}

static void buckets_add(struct tally *tally, struct arena *arena, const struct tally_page *page)
{
  for (size_t i = 0; i < TALLY_BUCKETS; i++) {
    if (page->count[i] > 0)
      bucket_add(tally, arena, page->first[i], page->count[i], page->mixed >> i & 1);
  }
}

/* Four buckets become one. */
static void coarsen(struct tally *tally, struct arena *arena)
{
  struct tally old = *tally;
  tally->shift += 2;
  tally->entries = NULL;
  tally->room = tally->used = 0;
  tally->last = NULL;
  for (size_t i = 0; i < old.room; i++) {
    if (old.entries[i].page)
      buckets_add(tally, arena, old.entries[i].page);
  }
}

static void empty_kept(struct tally *tally, struct arena *arena)
{
  for (size_t i = 0; i < tally->kept_count; i++)
    bucket_add(tally, arena, tally->kept[i], 1, false);
  tally->kept_count = 0;
}

/* ---- taking */

static void take_values(struct tally *tally, struct arena *arena, const double *values, size_t count, size_t most)
{
  size_t i = 0;
  for (; tally->room == 0 && i < count; i++) {
    if (tally->kept_count == most) {
      empty_kept(tally, arena);
      break;
    }
    tally->kept = arena_grow(arena, tally->kept, tally->kept_count, &tally->kept_capacity, sizeof *tally->kept);
    tally->kept[tally->kept_count++] = values[i] + 0.0; /* -0 is 0 */
  }
  for (size_t next = i; i < count; i = next) { /* samples often repeat */
    while (next < count && values[next] == values[i])
      next++;
    bucket_add(tally, arena, values[i] + 0.0, (uint32_t)(next - i), false);
  }
}

/* Do the values of both ranks lie among the same ones? Then they are looked for once. */
static bool is_shared(const struct tally *tally)
{
  const struct tally_rank *a = &tally->ranks[0], *b = &tally->ranks[1];
  return !a->told && !b->told && a->low == b->low && a->high == b->high;
}

static size_t count_between(const double *restrict values, size_t count, double low, double high)
{
  uint64_t between = 0;
  for (size_t i = 0; i < count; i++)
    between += (uint64_t)((values[i] >= low) & (values[i] <= high));
  return between;
}

/* Those among which a rank's value is. */
static void take_again(struct tally *tally, struct arena *arena, const double *values, size_t count)
{
  for (size_t k = is_shared(tally) ? 1 : 0; k < TALLY_RANKS; k++) {
    const struct tally_rank *rank = &tally->ranks[k];
    size_t left = rank->told ? 0 : count_between(values, count, rank->low, rank->high);
    for (size_t i = 0; left > 0; i++) {
      if (values[i] < rank->low || values[i] > rank->high)
        continue;
      take_values(&tally->finer[k], arena, &values[i], 1, KEPT_AGAIN);
      left--;
    }
  }
}

void tally_take(struct tally *tally, struct arena *arena, const double *values, size_t count)
{
  if (tally->again)
    take_again(tally, arena, values, count);
  else
    take_values(tally, arena, values, count, KEPT_MOST);
}

static void join_values(struct tally *tally, struct arena *arena, const struct tally *next, size_t most)
{
  if (next->room > 0 && tally->room == 0)
    empty_kept(tally, arena);
  while (tally->shift < next->shift)
    coarsen(tally, arena);
  take_values(tally, arena, next->kept, next->kept_count, most);
  for (size_t i = 0; i < next->room; i++) {
    if (next->entries[i].page)
      buckets_add(tally, arena, next->entries[i].page);
  }
}

void tally_join(struct tally *tally, struct arena *arena, const struct tally *next)
{
  if (!tally->again)
    join_values(tally, arena, next, KEPT_MOST);
  for (size_t k = 0; tally->again && k < TALLY_RANKS; k++)
    join_values(&tally->finer[k], arena, &next->finer[k], KEPT_AGAIN);
}

/* ---- what came out */

/* The bucket with the value of that rank; rank becomes its rank among those of the bucket. */
static const struct tally_entry *bucket_with(const struct tally *tally, struct arena *arena, size_t *rank,
                                             size_t *bucket)
{
  const struct tally_entry **sorted = ARENA_ARRAY(arena, tally->used + 1, const struct tally_entry *);
  size_t count = 0;
  for (size_t i = 0; i < tally->room; i++) {
    if (!tally->entries[i].page)
      continue;
    size_t at = count++;
    for (; at > 0 && sorted[at - 1]->id > tally->entries[i].id; at--)
      sorted[at] = sorted[at - 1];
    sorted[at] = &tally->entries[i];
  }
  for (size_t i = 0; i < count; i++) {
    for (size_t k = 0; k < TALLY_BUCKETS; k++) {
      size_t here = sorted[i]->page->count[k];
      if (*rank < here) {
        *bucket = k;
        return sorted[i];
      }
      *rank -= here;
    }
  }
  return NULL;
}

static void rank_settle(struct tally *tally, struct arena *arena, size_t rank, struct tally_rank *out)
{
  *out = (struct tally_rank){.told = true};
  if (tally->room == 0) {
    out->value = run_select(tally->kept, tally->kept_count, rank);
    return;
  }
  size_t bucket = 0;
  const struct tally_entry *entry = bucket_with(tally, arena, &rank, &bucket);
  if (!entry)
    return;
  out->value = entry->page->first[bucket];
  out->told = (entry->page->mixed >> bucket & 1) == 0;
  uint64_t low = (entry->id << PAGE_BITS | bucket) << tally->shift, rest = (UINT64_C(1) << tally->shift) - 1;
  out->low = fmax(value_of(low), -INFINITY); /* what is no number bounds nothing */
  out->high = fmin(value_of(low | rest), INFINITY);
  out->shift = tally->shift;
  out->rank = rank;
}

bool tally_settle(struct tally *tally, struct arena *arena, const size_t ranks[TALLY_RANKS])
{
  bool all = true, shared = tally->again && is_shared(tally);
  for (size_t k = 0; !tally->told && k < TALLY_RANKS; k++) {
    struct tally_rank *rank = &tally->ranks[k];
    if (!tally->again)
      rank_settle(tally, arena, ranks[k], rank);
    else if (!rank->told)
      rank_settle(&tally->finer[shared ? 1 : k], arena, rank->rank, rank);
    all = all && rank->told;
  }
  tally->told = all;
  tally->again = !all;
  return all;
}
