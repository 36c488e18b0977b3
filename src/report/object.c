/* Parts of JSON reports. Everything but ASCII is escaped when it is written, so that no character of an input can act
 * on the terminal that shows it. */
#include "report/object.h"

#include "report/escape.h"

#include <math.h>
#include <stdlib.h>

void object_put(struct writer *writer, json_t *object, const char *key, json_t *value)
{
  if (json_object_set_new(object, key, value) != 0)
    writer->failed = true;
}

void object_append(struct writer *writer, json_t *array, json_t *value)
{
  if (json_array_append_new(array, value) != 0)
    writer->failed = true;
}

json_t *object_text(struct writer *writer, struct slice text)
{
  struct slice sound = escape_mend(writer->arena, text);
  return json_stringn(sound.size == 0 ? "" : sound.at, sound.size);
}

void object_put_text(struct writer *writer, json_t *object, const char *key, const char *text)
{
  object_put(writer, object, key, text == NULL ? json_null() : object_text(writer, slice_of(text)));
}

void object_put_count(struct writer *writer, json_t *object, const char *key, uint64_t count)
{
  object_put(writer, object, key, json_integer((json_int_t)count));
}

json_t *object_real(double value)
{
  return isfinite(value) ? json_real(value + 0.0) : json_null();
}

/* In `unit`. What subtracting an offset leaves of zero (273.15 K less 273.15 K, after arithmetic) is zero. */
static double value_in(struct quantity quantity, const struct unit *unit)
{
  double value = unit_from_base(unit, quantity.value);
  return fabs(value) < 1e-12 * fabs(unit->offset / unit->factor) ? 0.0 : value;
}

void object_put_quantity(struct writer *writer, json_t *object, const char *key, const struct quantity *quantity,
                         const struct unit *unit)
{
  object_put(writer, object, key, quantity == NULL ? json_null() : object_real(value_in(*quantity, unit)));
}

void object_put_unit(struct writer *writer, json_t *object, const char *key, const struct unit *unit)
{
  object_put_text(writer, object, key, unit == NULL ? NULL : unit->name);
}

void object_put_place(struct writer *writer, json_t *object, struct place place)
{
  struct position position;
  bool placed = sources_position(writer->sources, place, &position);
  bool lines = placed && sources_get(writer->sources, place.source)->bytes.size > 0;
  object_put(writer, object, "file", placed ? object_text(writer, position.name) : json_null());
  object_put(writer, object, "line", lines ? json_integer((json_int_t)position.line) : json_null());
  object_put(writer, object, "column", lines ? json_integer((json_int_t)position.column) : json_null());
}

json_t *object_texts(struct writer *writer, size_t count, const char *const *texts)
{
  json_t *array = json_array();
  for (size_t i = 0; i < count; i++)
    object_append(writer, array, object_text(writer, slice_of(texts[i])));
  return array;
}

json_t *object_problems(struct writer *writer, const struct problems *problems)
{
  json_t *array = json_array();
  size_t count = problems != NULL ? problems->count : 0;
  struct problems sorted = {0};
  if (count > 0) {
    sorted = *problems;
    sorted.items = ARENA_ARRAY(writer->arena, count, struct problem);
    memcpy(sorted.items, problems->items, count * sizeof *sorted.items);
    problems_sort(&sorted);
  }
  for (size_t i = 0; i < count; i++) {
    json_t *object = json_object();
    object_put_place(writer, object, sorted.items[i].place);
    object_put_text(writer, object, "message", sorted.items[i].message);
    object_put_text(writer, object, "hint", sorted.items[i].hint);
    object_append(writer, array, object);
  }
  return array;
}

/* %.10g keeps every digit that a settings file holds and drops what unit conversion adds. */
#define JSON_DIGITS 10

bool object_write(struct writer *writer, FILE *out, json_t *object)
{
  char *text =
      writer->failed ? NULL : json_dumps(object, JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(JSON_DIGITS));
  if (text != NULL)
    fprintf(out, "%s\n", text);
  bool done = text != NULL;
  free(text);
  json_decref(object);
  return done;
}
