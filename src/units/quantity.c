/* Numbers with units: "10 deg", "170degF", and back. */
#include "base/number.h"
#include "units/unit.h"

#include <math.h>

static bool refuse(struct arena *arena, const char **why, struct slice text, const char *what)
{
  text.size = text.size < 60 ? text.size : 60;
  *why = arena_print(arena, "'%.*s' %s", SLICE_ARG(text), what);
  return false;
}

bool quantity_read(struct arena *arena, struct slice text, const struct unit *bare, struct quantity *out,
                   const char **why)
{
  text = slice_trim(text);
  *why = NULL;
  double value = 0.0;
  size_t used = number_read(text, '.', &value);
  if (used == 0)
    return refuse(arena, why, text, "is not a number with a unit");
  struct slice rest = slice_trim(slice_part(text, used, text.size));
  if (rest.size > 0 && rest.at[0] == ',')
    return refuse(arena, why, text, "has a comma: the decimal mark is a point, and thousands are not marked");
  const struct unit *unit = bare;
  if (rest.size > 0)
    unit = unit_read(arena, rest, why);
  else if (bare == NULL)
    return refuse(arena, why, text, "has no unit");
  if (unit == NULL)
    return false;
  double base = unit_to_base(unit, value);
  if (!isfinite(base))
    return refuse(arena, why, text, "is too large");
  *out = (struct quantity){base, unit};
  return true;
}

/* A difference is written with the unit people say; the message around it says that it is one. */
static const char *shown_name(const struct unit *unit)
{
  if (unit->sense == SENSE_DIFFERENCE && dimension_equal(unit->dimension, unit_find(slice_of("K"))->dimension))
    return unit->factor == 1.0 ? "K" : unit == unit_find(slice_of("degF_diff")) ? "degF" : unit->name;
  return unit->name;
}

const char *quantity_print(struct arena *arena, struct quantity q, const struct unit *shown, double step)
{
  const struct unit *unit = shown != NULL ? shown : q.unit;
  double value = unit_from_base(unit, q.value);
  int digits = 6;
  if (step > 0) {
    double steps = round(value / step);
    /* 15 digits give back the decimal that a multiple of a decimal step is meant to be. */
    if (isfinite(steps)) {
      value = steps * step;
      digits = 15;
    }
  }
  char text[64];
  number_print(text, sizeof text, value, digits);
  if (dimension_is_none(unit->dimension) && unit->factor == 1.0)
    return arena_print(arena, "%s", text);
  return arena_print(arena, "%s %s", text, shown_name(unit));
}

const char *quantity_print_range(struct arena *arena, struct quantity from, struct quantity to)
{
  const char *first = quantity_print(arena, from, NULL, 0), *last = quantity_print(arena, to, NULL, 0);
  size_t unit = strlen(from.unit->name), size = strlen(first);
  /* The unit once, at the end, where both end with it. */
  if (from.unit == to.unit && size > unit && strcmp(first + size - unit, from.unit->name) == 0)
    first = arena_text(arena, slice_trim((struct slice){first, size - unit}));
  return arena_print(arena, "%s to %s", first, last);
}
