/* Names by bisection, and types as words for messages. */
#include "expr/type.h"

const struct name *names_find(const struct names *names, struct slice full)
{
  size_t low = 0, high = names->count;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    int order = slice_compare(names->items[middle].full, full);
    if (order == 0)
      return &names->items[middle];
    if (order < 0)
      low = middle + 1;
    else
      high = middle;
  }
  return NULL;
}

const struct name *names_nearest(const struct names *names, struct slice full)
{
  const struct name *best = NULL;
  size_t best_distance = full.size / 3 + 1;
  for (size_t i = 0; i < names->count; i++) {
    size_t distance = slice_distance(names->items[i].full, full);
    if (distance < best_distance) {
      best_distance = distance;
      best = &names->items[i];
    }
  }
  return best;
}

bool measure_equal(struct measure a, struct measure b)
{
  if (!dimension_equal(a.dimension, b.dimension))
    return false;
  return a.sense == b.sense || a.sense == SENSE_EITHER || b.sense == SENSE_EITHER;
}

const char *type_print(struct arena *arena, const struct type *type)
{
  switch (type->kind) {
  case TYPE_NUMBER:
    if (type->any_unit)
      return "a number of any unit";
    return arena_print(arena, type->series ? "a series of numbers (%s)" : "a number (%s)",
                       dimension_name(arena, type->of.dimension, type->of.sense));
  case TYPE_SWITCH:
    return type->series ? "a series of conditions" : "a condition";
  case TYPE_TEXT:
    return type->name ? "a choice" : "a text";
  case TYPE_TEXTS:
    return "a list of texts";
  case TYPE_NUMBERS:
    return "a list of numbers";
  case TYPE_CURVE:
    return "a curve";
  case TYPE_TABLE:
    return "a table";
  case TYPE_PINS:
    return "a set of pins";
  case TYPE_ITEM:
    return "an item";
  case TYPE_COLLECTION:
    return "a collection";
  }
  return "nothing";
}
