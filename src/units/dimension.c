/* Arithmetic of dimensions, and the words for them in messages: a name where there is one, otherwise "A per B" or
 * "A times B" of two that have one, otherwise the exponents. */
#include "units/unit.h"

/* Exponents are held here; no quantity of an engine comes near, and an expression of a thousand factors must not wrap
 * round to a dimension that looks right. */
#define EXPONENT_MOST 100

bool dimension_equal(struct dimension a, struct dimension b)
{
  return memcmp(a.of, b.of, sizeof a.of) == 0;
}

bool dimension_is_none(struct dimension d)
{
  return dimension_equal(d, (struct dimension){{0}});
}

struct dimension dimension_times(struct dimension a, struct dimension b, int sign)
{
  for (int i = 0; i < DIM_COUNT; i++) {
    int sum = a.of[i] + (sign < 0 ? -b.of[i] : b.of[i]);
    a.of[i] = (int8_t)(sum > EXPONENT_MOST ? EXPONENT_MOST : sum < -EXPONENT_MOST ? -EXPONENT_MOST : sum);
  }
  return a;
}

struct named {
  struct dimension dimension;
  const char *name;
};

/*   length mass time current temperature angle mixture */
static const struct named names[] = {
    {{{0, 0, 0, 0, 0, 0, 0}}, "plain number"},
    {{{0, 0, 0, 0, 1, 0, 0}}, "temperature"},
    {{{-1, 1, -2, 0, 0, 0, 0}}, "pressure"},
    {{{0, 0, 0, 0, 0, 1, 0}}, "angle"},
    {{{0, 0, -1, 0, 0, 1, 0}}, "speed of rotation"},
    {{{0, 0, 1, 0, 0, 0, 0}}, "time"},
    {{{0, 0, -1, 0, 0, 0, 0}}, "frequency or rate"},
    {{{0, 0, 0, 0, 0, 0, 1}}, "mixture (lambda)"},
    {{{2, 1, -3, -1, 0, 0, 0}}, "voltage"},
    {{{0, 0, 0, 1, 0, 0, 0}}, "current"},
    {{{2, 1, -3, -2, 0, 0, 0}}, "resistance"},
    {{{2, 1, -2, -2, 0, 0, 0}}, "inductance"},
    {{{1, 0, 0, 0, 0, 0, 0}}, "length"},
    {{{2, 0, 0, 0, 0, 0, 0}}, "area"},
    {{{3, 0, 0, 0, 0, 0, 0}}, "volume"},
    {{{0, 1, 0, 0, 0, 0, 0}}, "mass"},
    {{{1, 0, -1, 0, 0, 0, 0}}, "speed"},
    {{{1, 0, -2, 0, 0, 0, 0}}, "acceleration"},
    {{{3, 0, -1, 0, 0, 0, 0}}, "volume flow"},
    {{{0, 1, -1, 0, 0, 0, 0}}, "mass flow"},
    {{{-3, 1, 0, 0, 0, 0, 0}}, "density"},
    {{{1, 1, -2, 0, 0, 0, 0}}, "force"},
    {{{2, 1, -2, 0, 0, 0, 0}}, "energy or torque"},
    {{{2, 1, -3, 0, 0, 0, 0}}, "power"},
    {{{-2, 0, 2, 0, 0, 0, 0}}, "mass per energy"},
};
#define NAME_COUNT (sizeof names / sizeof *names)

static const char *name_of(struct dimension d)
{
  for (size_t i = 0; i < NAME_COUNT; i++) {
    if (dimension_equal(names[i].dimension, d))
      return names[i].name;
  }
  return NULL;
}

static const char *name_exponents(struct arena *arena, struct dimension d)
{
  static const char *const bases[DIM_COUNT] = {"length", "mass", "time", "current", "temperature", "angle", "lambda"};
  const char *text = "";
  for (int i = 0; i < DIM_COUNT; i++) {
    if (d.of[i] == 0)
      continue;
    const char *gap = *text == '\0' ? "" : " ";
    text = d.of[i] == 1 ? arena_print(arena, "%s%s%s", text, gap, bases[i])
                        : arena_print(arena, "%s%s%s^%d", text, gap, bases[i], d.of[i]);
  }
  return text;
}

const char *dimension_name(struct arena *arena, struct dimension d, enum unit_sense sense)
{
  if (sense == SENSE_DIFFERENCE)
    return "temperature difference";
  const char *name = name_of(d);
  if (name != NULL)
    return name;
  /* Nothing is said to be per frequency: that is times time. */
  const char *per_time = name_of((struct dimension){.of = {[DIM_TIME] = -1}});
  /* "per" first over the divisors, so that deg/s/kPa reads as something per pressure. */
  for (size_t i = 0; i < NAME_COUNT; i++) {
    const char *left = name_of(dimension_times(d, names[i].dimension, 1));
    if (left != NULL && i > 0 && names[i].name != per_time)
      return arena_print(arena, "%s per %s", left == names[0].name ? "number" : left, names[i].name);
  }
  for (size_t i = 1; i < NAME_COUNT; i++) {
    const char *left = name_of(dimension_times(d, names[i].dimension, -1));
    if (left != NULL)
      return arena_print(arena, "%s times %s", left, names[i].name);
  }
  return name_exponents(arena, d);
}
