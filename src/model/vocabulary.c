/* Looking names up in the vocabulary: exactly by bisection, nearly by edit distance. */
#include "model/vocabulary.h"

const char *scope_name(enum scope scope)
{
  static const char *const names[SCOPE_COUNT] = {"tune", "log", "job"};
  return names[scope];
}

const struct entry *vocabulary_find(const struct vocabulary *vocabulary, enum scope scope, struct slice name)
{
  const struct entry *entries = vocabulary->entries[scope];
  size_t low = 0, high = vocabulary->count[scope];
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    const struct entry *entry = &entries[vocabulary->by_name[scope][middle]];
    int order = slice_compare(name, entry->name);
    if (order == 0)
      return entry;
    if (order < 0)
      high = middle;
    else
      low = middle + 1;
  }
  return NULL;
}

size_t vocabulary_index(const struct vocabulary *vocabulary, enum scope scope, const struct entry *entry)
{
  return (size_t)(entry - vocabulary->entries[scope]);
}

/* The name itself, and the other names in the trade's terms. */
static size_t entry_distance(const struct entry *entry, struct slice name)
{
  size_t best = slice_distance(name, entry->name);
  for (size_t i = 0; i < entry->also_count; i++) {
    size_t distance = slice_distance(name, entry->also[i]);
    best = distance < best ? distance : best;
  }
  return best;
}

const struct entry *vocabulary_nearest(const struct vocabulary *vocabulary, enum scope scope, struct slice name)
{
  const struct entry *found = NULL;
  size_t best = name.size / 3 + 1;
  for (size_t i = 0; i < vocabulary->count[scope]; i++) {
    const struct entry *entry = &vocabulary->entries[scope][i];
    size_t distance = entry_distance(entry, name);
    if (distance < best) {
      best = distance;
      found = entry;
    }
  }
  return found;
}
