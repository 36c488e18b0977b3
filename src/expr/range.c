/* Numbers of the settings at or beyond an end of the range that the vocabulary declares for them: the collection
 * range_ends(). Reading order: builtin_range_ends, look_through, is_end, add. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <float.h>
#include <math.h>

struct ends { /* the collection in the making */
  struct evaluation *evaluation;
  const struct item_shape *shape;
  const struct name *name; /* of the setting at hand */
  struct item *items;
  size_t count, capacity;
};

struct number {
  double value;
  const struct unit *unit;
  struct place place;
};

static struct result shown(double base, const struct unit *unit)
{
  return run_number(base, 4 * DBL_EPSILON * (fabs(base) + (unit ? fabs(unit->offset) : 0)), unit);
}

/* No further inside the range than rounding goes. `beyond`: how far outside, as a part of the range's width. */
static bool is_end(const struct ends *ends, double value, const struct unit *unit, struct result *beyond)
{
  double low = ends->name->low, high = ends->name->high, under = low - value, over = value - high;
  double out = fmax(under, over);
  double error = shown(value, unit).error + shown(under > over ? low : high, unit).error;
  *beyond = run_number(out / (high - low), (error + DBL_EPSILON * fabs(out)) / (high - low), unit_find(slice_of("%")));
  return out >= -error;
}

static struct item *add(struct ends *ends, struct number number, struct result beyond, const char *where)
{
  struct arena *arena = ends->evaluation->arena;
  struct result *fields = ARENA_ARRAY(arena, ends->shape->count, struct result);
  fields[0] = run_text(ends->name->full);
  fields[1] = run_text(slice_of(where));
  fields[2] = shown(number.value, number.unit);
  fields[3] = shown(ends->name->low, number.unit);
  fields[4] = shown(ends->name->high, number.unit);
  fields[5] = beyond;
  struct place *places = ARENA_NEW(arena, struct place);
  *places = number.place;
  ends->items = arena_grow(arena, ends->items, ends->count, &ends->capacity, sizeof *ends->items);
  struct item *item = &ends->items[ends->count++];
  *item = (struct item){
      .shape = ends->shape, .field_count = ends->shape->count, .fields = fields, .place_count = 1, .places = places};
  return item;
}

static void look_through_list(struct ends *ends, const struct value *value)
{
  struct result beyond;
  for (size_t i = 0; i < value->as.list.count; i++) {
    struct number number = {value->as.list.items[i], value->as.list.unit, value->as.list.places[i]};
    if (is_end(ends, number.value, number.unit, &beyond))
      add(ends, number, beyond, arena_print(ends->evaluation->arena, "item %zu", i + 1));
  }
}

static void look_through_curve(struct ends *ends, const struct curve *curve)
{
  struct result beyond;
  for (size_t i = 0; i < curve->x.count; i++) {
    struct quantity x = {curve->x.at[i], curve->x.unit};
    if (!is_end(ends, curve->value[i], curve->unit, &beyond))
      continue;
    const char *where =
        arena_print(ends->evaluation->arena, "at %s", quantity_print(ends->evaluation->arena, x, NULL, 0));
    struct item *item = add(ends, (struct number){curve->value[i], curve->unit, curve->place[i]}, beyond, where);
    item->has_x = true;
    item->x = x;
  }
}

static void look_through_table(struct ends *ends, const struct table *table)
{
  struct arena *arena = ends->evaluation->arena;
  struct result beyond;
  for (size_t i = 0; i < table->x.count * table->y.count; i++) {
    struct quantity x = {table->x.at[i % table->x.count], table->x.unit},
                    y = {table->y.at[i / table->x.count], table->y.unit};
    if (!is_end(ends, table->value[i], table->unit, &beyond))
      continue;
    const char *where =
        arena_print(arena, "at %s, %s", quantity_print(arena, x, NULL, 0), quantity_print(arena, y, NULL, 0));
    struct item *item = add(ends, (struct number){table->value[i], table->unit, table->place[i]}, beyond, where);
    item->has_x = item->has_y = true;
    item->x = x;
    item->y = y;
  }
}

static void look_through(struct ends *ends, const struct value *value)
{
  struct result beyond;
  switch (value->kind) {
  case VALUE_NUMBER:
    if (is_end(ends, value->as.number.value, value->as.number.unit, &beyond))
      add(ends, (struct number){value->as.number.value, value->as.number.unit, value->place}, beyond, "its only value");
    return;
  case VALUE_LIST:
    look_through_list(ends, value);
    return;
  case VALUE_CURVE:
    look_through_curve(ends, &value->as.curve);
    return;
  case VALUE_TABLE:
    look_through_table(ends, &value->as.table);
    return;
  case VALUE_SWITCH:
  case VALUE_CHOICE:
  case VALUE_TEXT:
  case VALUE_PINS:
  case VALUE_RECORDS:
  case VALUE_SERIES:
    break; /* a range goes with a unit */
  }
}

struct result builtin_range_ends(struct evaluation *evaluation, const struct expr *call)
{
  const struct value *const *values = evaluation->inputs->values[NAME_TUNE];
  const struct names *names = evaluation->inputs->names;
  struct ends ends = {.evaluation = evaluation, .shape = call->type.item};
  bool any = false;
  for (size_t i = 0; values && i < names->count; i++) {
    ends.name = &names->items[i];
    const struct value *value = ends.name->scope == NAME_TUNE ? values[ends.name->index] : NULL;
    if (!value || !ends.name->has_range)
      continue;
    any = true;
    look_through(&ends, value);
  }
  if (!any)
    return run_unknown(evaluation, "a setting for whose numbers the vocabulary declares a range");
  struct collection *collection = ARENA_NEW(evaluation->arena, struct collection);
  *collection = (struct collection){ends.count, ends.items};
  return (struct result){.known = true, .collection = collection};
}
