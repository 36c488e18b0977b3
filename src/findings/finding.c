/* Order and identity of findings. The two comparisons come first: each ends in something that never ties for different
 * things, so that qsort gives one order. Then the identity, which is taken over axis values in their own order and not
 * in the order of the evidence: that one changes when a measured value does. */
#include "findings/finding.h"

#include "base/number.h"

#include <inttypes.h>
#include <stdlib.h>

const char *verdict_name(enum verdict verdict)
{
  static const char *const names[VERDICT_COUNT] = {"flagged", "clear", "undecided", "not_applicable"};
  return names[verdict];
}

static int place_compare(struct place a, struct place b)
{
  if (a.source != b.source)
    return a.source < b.source ? -1 : 1;
  if (a.start != b.start)
    return a.start < b.start ? -1 : 1;
  return (a.end > b.end) - (a.end < b.end);
}

static struct place finding_place(const struct finding *finding)
{
  return finding->evidence_count > 0 ? finding->evidence[0].place : PLACE_NONE;
}

static int finding_compare(const void *left, const void *right)
{
  const struct finding *a = left, *b = right;
  if (a->first != b->first)
    return a->first ? -1 : 1;
  if (a->severity != b->severity)
    return a->severity > b->severity ? -1 : 1;
  int order = place_compare(finding_place(a), finding_place(b));
  if (order == 0)
    order = strcmp(a->id, b->id);
  return order != 0 ? order : strcmp(a->subject, b->subject);
}

void findings_sort(struct finding *findings, size_t count)
{
  if (count > 1)
    qsort(findings, count, sizeof *findings, finding_compare);
}

static int evidence_compare(const void *left, const void *right)
{
  const struct evidence *a = left, *b = right;
  if (a->excess > b->excess || a->excess < b->excess)
    return a->excess > b->excess ? -1 : 1;
  int order = place_compare(a->place, b->place);
  return order != 0 ? order : strcmp(a->text, b->text);
}

void evidence_sort(struct evidence *evidence, size_t count)
{
  if (count > 1)
    qsort(evidence, count, sizeof *evidence, evidence_compare);
}

/* One number as number_print gives it, at most 31 bytes and its NUL. */
#define AXIS_TEXT 32
#define AXIS_DIGITS 6

struct axis_key {
  char x[AXIS_TEXT], y[AXIS_TEXT];
};

static int axis_compare(const void *left, const void *right)
{
  const struct axis_key *a = left, *b = right;
  int order = strcmp(a->x, b->x);
  return order != 0 ? order : strcmp(a->y, b->y);
}

/* FNV-1a, 64 bits (Fowler, Noll, Vo). The NUL counts, so that "ab","c" differs from "a","bc". */
static uint64_t hash_text(uint64_t hash, const char *text)
{
  const uint64_t prime = UINT64_C(0x100000001b3);
  for (;; text++) {
    hash = (hash ^ (unsigned char)*text) * prime;
    if (*text == '\0')
      return hash;
  }
}

const char *finding_identity(struct arena *arena, const struct finding *finding)
{
  uint64_t hash = UINT64_C(0xcbf29ce484222325);
  hash = hash_text(hash, finding->id);
  hash = hash_text(hash, finding->subject);
  size_t count = finding->evidence_count;
  struct axis_key *keys = ARENA_ARRAY(arena, count, struct axis_key);
  for (size_t i = 0; i < count; i++) {
    const struct evidence *evidence = &finding->evidence[i];
    if (evidence->has_x)
      number_print(keys[i].x, AXIS_TEXT, evidence->x.value, AXIS_DIGITS);
    if (evidence->has_y)
      number_print(keys[i].y, AXIS_TEXT, evidence->y.value, AXIS_DIGITS);
  }
  if (count > 1)
    qsort(keys, count, sizeof *keys, axis_compare);
  for (size_t i = 0; i < count; i++) {
    hash = hash_text(hash, keys[i].x);
    hash = hash_text(hash, keys[i].y);
  }
  return arena_print(arena, "%016" PRIx64, hash);
}
