/* Composed units: "deg/kPa", "g/(kW.h)", "L.min-1". A unit is taken apart into factors (a row of the table and its
 * power), and put together again from factors, so that reading, multiplying and dividing share one path. Reading
 * order: factors, the reader (product, term, lexeme), compose, and the public functions at the end.
 *
 * A temperature takes part as a difference: an offset has no meaning in a product. */
#include "units/spelling.h"
#include "units/unit.h"

#include <math.h>

#define FACTOR_MOST 12
#define POWER_MOST 9
#define DEPTH_MOST 8
#define TYPED_CUT 60 /* bytes of a wrong unit that a message repeats */

struct factor {
  const struct unit *unit;
  int power;
};

struct factors {
  size_t count;
  struct factor items[FACTOR_MOST];
};

/* The row that stands for a unit in a product: a temperature counts as its difference. */
static const struct unit *factor_row(const struct unit *unit)
{
  if (unit->sense == SENSE_PLAIN)
    return unit;
  return unit_find(slice_of(unit->factor == 1.0 ? "K" : "degF_diff"));
}

/* false when there are too many, or a power no quantity has. */
static bool factors_add(struct factors *factors, const struct unit *unit, int power)
{
  if (unit == unit_find(slice_of("1")) || power == 0)
    return true;
  unit = factor_row(unit);
  for (size_t i = 0; i < factors->count; i++) {
    struct factor *item = &factors->items[i];
    if (item->unit != unit)
      continue;
    item->power += power;
    if (item->power == 0) {
      factors->count--;
      memmove(item, item + 1, (factors->count - i) * sizeof *item);
      return true;
    }
    return item->power >= -POWER_MOST && item->power <= POWER_MOST;
  }
  if (factors->count == FACTOR_MOST || power < -POWER_MOST || power > POWER_MOST)
    return false;
  factors->items[factors->count++] = (struct factor){unit, power};
  return true;
}

static bool factors_merge(struct factors *factors, const struct factors *more, int power)
{
  for (size_t i = 0; i < more->count; i++) {
    if (!factors_add(factors, more->items[i].unit, more->items[i].power * power))
      return false;
  }
  return true;
}

struct reader {
  struct arena *arena;
  struct slice typed, rest;
  const char *why;
};

static bool refuse(struct reader *reader, const char *why)
{
  reader->why = arena_print(reader->arena, "'%.*s' %s", SLICE_ARG(reader->typed), why);
  return false;
}

static bool refuse_unknown(struct reader *reader, struct slice word)
{
  reader->why = spelling_refusal(reader->arena, word, word);
  if (reader->why != NULL)
    return false;
  const struct unit *near = unit_nearest(word);
  if (near != NULL)
    reader->why =
        arena_print(reader->arena, "unknown unit '%.*s'; did you mean '%s'?", SLICE_ARG(reader->typed), near->name);
  else
    reader->why = arena_print(reader->arena, "unknown unit '%.*s'", SLICE_ARG(reader->typed));
  return false;
}

static bool at(const struct reader *reader, char c)
{
  return reader->rest.size > 0 && reader->rest.at[0] == c;
}

static void skip(struct reader *reader)
{
  reader->rest = slice_part(reader->rest, 1, reader->rest.size);
}

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

/* A power of one digit, with or without a sign, at the end of `text`; returns its bytes, 0 when there is none. */
static size_t power_at_end(struct slice text, int *power)
{
  if (text.size < 2 || !is_digit(text.at[text.size - 1]))
    return 0;
  *power = text.at[text.size - 1] - '0';
  char sign = text.at[text.size - 2];
  if (sign == '-')
    *power = -*power;
  return sign == '-' || sign == '+' ? 2 : 1;
}

static bool read_lexeme(struct reader *reader, struct factors *out)
{
  size_t size = 0;
  while (size < reader->rest.size && strchr("/.()", reader->rest.at[size]) == NULL)
    size++;
  struct slice lexeme = slice_part(reader->rest, 0, size);
  reader->rest = slice_part(reader->rest, size, reader->rest.size);
  if (size == 0)
    return refuse(reader, "is not a unit: a unit is missing beside '/', '.' or a bracket");
  if (memchr(lexeme.at, ' ', size) != NULL || memchr(lexeme.at, '\t', size) != NULL)
    return refuse_unknown(reader, lexeme);
  int power = 1;
  size_t tail = power_at_end(lexeme, &power);
  /* "min-1" inside a product is a power of min; only alone does it stand for rpm. "cm3" is a row of its own. */
  const struct unit *unit = tail == 2 ? NULL : unit_find(lexeme);
  if (unit != NULL)
    power = 1;
  else if (tail > 0 && tail < size && !is_digit(lexeme.at[size - tail - 1]))
    unit = unit_find(slice_part(lexeme, 0, size - tail));
  if (unit == NULL)
    return refuse_unknown(reader, lexeme);
  return factors_add(out, unit, power) || refuse(reader, "has too many factors or too high a power");
}

static bool read_product(struct reader *reader, struct factors *out, int depth);

static bool read_term(struct reader *reader, struct factors *out, int depth)
{
  if (!at(reader, '('))
    return read_lexeme(reader, out);
  if (depth == DEPTH_MOST)
    return refuse(reader, "has too many brackets");
  skip(reader);
  struct factors inner = {.count = 0};
  if (!read_product(reader, &inner, depth + 1))
    return false;
  if (!at(reader, ')'))
    return refuse(reader, "has a '(' without ')'");
  skip(reader);
  int power = 1;
  int sign = at(reader, '-') ? -1 : 1;
  if (at(reader, '-') || at(reader, '+'))
    skip(reader);
  if (reader->rest.size > 0 && is_digit(reader->rest.at[0])) {
    power = sign * (reader->rest.at[0] - '0');
    skip(reader);
  }
  return factors_merge(out, &inner, power) || refuse(reader, "has too many factors or too high a power");
}

static bool read_product(struct reader *reader, struct factors *out, int depth)
{
  bool divided = false;
  int sign = 1;
  if (at(reader, '/')) /* "/kPa" is 1/kPa */
    divided = true;
  else if (!read_term(reader, out, depth))
    return false;
  while (at(reader, '/') || at(reader, '.')) {
    sign = at(reader, '/') ? -1 : 1;
    if (sign > 0 && divided)
      return refuse(reader, "can be read in two ways: put brackets round what is divided by, as in g/(kW.h)");
    divided = divided || sign < 0;
    skip(reader);
    struct factors term = {.count = 0};
    if (!read_term(reader, &term, depth))
      return false;
    if (!factors_merge(out, &term, sign))
      return refuse(reader, "has too many factors or too high a power");
  }
  return true;
}

static bool read_factors(struct arena *arena, struct slice typed, struct slice spelled, struct factors *out,
                         const char **why)
{
  struct reader reader = {arena, typed, spelled, NULL};
  *out = (struct factors){.count = 0};
  bool done = read_product(&reader, out, 0);
  if (done && reader.rest.size > 0)
    done = refuse(&reader, "is not a unit: something is left over at its end");
  *why = reader.why;
  return done;
}

/* In a product "degF" can only be a difference, and reads back as one. */
static const char *factor_name(const struct unit *unit)
{
  return unit == unit_find(slice_of("degF_diff")) ? "degF" : unit->name;
}

static bool has_any(const char *name, const char *signs)
{
  return name[strcspn(name, signs)] != '\0';
}

/* "deg.s2" of the factors whose power has that sign; NULL when there are none. Brackets keep a power apart from a name
 * that ends in a digit. */
static const char *side_name(struct arena *arena, const struct factors *factors, int sign, size_t *count)
{
  const char *text = NULL;
  *count = 0;
  for (size_t i = 0; i < factors->count; i++) {
    const char *name = factor_name(factors->items[i].unit);
    int power = factors->items[i].power * sign;
    if (power < 0)
      continue;
    bool bracket = has_any(name, "/.") || (power > 1 && is_digit(name[strlen(name) - 1]));
    const char *bare = bracket ? arena_print(arena, "(%s)", name) : name;
    const char *part = power > 1 ? arena_print(arena, "%s%d", bare, power) : bare;
    text = text == NULL ? part : arena_print(arena, "%s.%s", text, part);
    (*count)++;
  }
  return text;
}

static const char *factors_name(struct arena *arena, const struct factors *factors)
{
  size_t above, below;
  const char *top = side_name(arena, factors, 1, &above);
  const char *bottom = side_name(arena, factors, -1, &below);
  if (bottom == NULL)
    return top == NULL ? "1" : top;
  return arena_print(arena, below > 1 ? "%s/(%s)" : "%s/%s", top == NULL ? "1" : top, bottom);
}

/* NULL when a factor has no code. "a/b/c": UCUM reads from left to right. */
static const char *factors_ucum(struct arena *arena, const struct factors *factors)
{
  const char *text = NULL;
  for (int sign = 1; sign >= -1; sign -= 2) {
    for (size_t i = 0; i < factors->count; i++) {
      const struct unit *unit = factors->items[i].unit;
      int power = factors->items[i].power * sign;
      if (power < 0)
        continue;
      if (unit->ucum == NULL)
        return NULL;
      bool bracket = has_any(unit->ucum, "/.") || (power > 1 && is_digit(unit->ucum[strlen(unit->ucum) - 1]));
      const char *bare = bracket ? arena_print(arena, "(%s)", unit->ucum) : unit->ucum;
      const char *part = power > 1 ? arena_print(arena, "%s%d", bare, power) : bare;
      if (text == NULL)
        text = sign > 0 ? part : arena_print(arena, "1/%s", part);
      else
        text = arena_print(arena, "%s%c%s", text, sign > 0 ? '.' : '/', part);
    }
  }
  return text == NULL ? "1" : text;
}

/* A row when the factors are one row; NULL when the factor leaves the range of a double. */
static const struct unit *compose(struct arena *arena, const struct factors *factors)
{
  if (factors->count == 0)
    return unit_find(slice_of("1"));
  if (factors->count == 1 && factors->items[0].power == 1)
    return factors->items[0].unit;
  struct unit unit = {.factor = 1.0, .sense = SENSE_PLAIN};
  for (size_t i = 0; i < factors->count; i++) {
    int power = factors->items[i].power;
    for (int k = 0; k < (power < 0 ? -power : power); k++) {
      const struct unit *one = factors->items[i].unit;
      unit.dimension = dimension_times(unit.dimension, one->dimension, power);
      unit.factor = power < 0 ? unit.factor / one->factor : unit.factor * one->factor;
    }
  }
  if (!isnormal(unit.factor))
    return NULL;
  if (dimension_equal(unit.dimension, unit_find(slice_of("K"))->dimension))
    unit.sense = SENSE_DIFFERENCE;
  unit.name = factors_name(arena, factors);
  unit.ucum = factors_ucum(arena, factors);
  struct unit *made = ARENA_NEW(arena, struct unit);
  *made = unit;
  return made;
}

const struct unit *unit_read(struct arena *arena, struct slice text, const char **why)
{
  *why = NULL;
  const struct unit *unit = unit_find(text);
  if (unit != NULL)
    return unit;
  struct spelling spelled = spelling_fold(text);
  struct slice typed = slice_trim(text);
  if (typed.size == 0) {
    *why = "the unit is empty";
    return NULL;
  }
  typed.size = typed.size < TYPED_CUT ? typed.size : TYPED_CUT;
  if (spelled.size > 0)
    *why = spelling_refusal(arena, spelling_slice(&spelled), typed);
  else
    *why = arena_print(arena, "unknown unit '%.*s'", SLICE_ARG(typed));
  struct factors factors;
  if (*why != NULL || !read_factors(arena, typed, spelling_slice(&spelled), &factors, why))
    return NULL;
  unit = compose(arena, &factors);
  if (unit == NULL)
    *why = arena_print(arena, "'%.*s' is too large or too small a unit", SLICE_ARG(typed));
  else if (unit->sense != SENSE_PLAIN)
    *why = arena_print(arena, "'%.*s' comes to a temperature: write degC, degF, K, degC_diff or degF_diff alone",
                       SLICE_ARG(typed));
  return *why == NULL ? unit : NULL;
}

static const struct unit *coherent_row(struct dimension d)
{
  for (size_t i = 0; i < unit_count(); i++) {
    const struct unit *unit = unit_at(i);
    if (unit->factor == 1.0 && unit->offset == 0.0 && dimension_equal(unit->dimension, d))
      return unit;
  }
  return NULL;
}

/* A row may be a product too ("km/h"); the name of anything composed here reads back. */
static bool unit_factors(struct arena *arena, const struct unit *unit, struct factors *out)
{
  *out = (struct factors){.count = 0};
  struct slice name = slice_of(unit->name);
  if (!has_any(unit->name, "/.") && unit_find(name) == unit)
    return factors_add(out, unit, 1);
  const char *why;
  struct spelling spelled = spelling_fold(name);
  return spelled.size > 0 && read_factors(arena, name, spelling_slice(&spelled), out, &why);
}

/* A product of several units whose dimension has a unit of its own ("ms.rpm" is an angle, "A.Ohm" a voltage) is shown
 * in the first unit of that dimension in the table. Not a rate: "%/s" says more than Hz. */
static const struct unit *usual_unit(struct dimension dimension)
{
  const struct unit *coherent = coherent_row(dimension);
  if (coherent == NULL || has_any(coherent->name, "/.") || coherent == unit_find(slice_of("Hz")))
    return NULL;
  for (size_t i = 0; i < unit_count(); i++) {
    if (dimension_equal(unit_at(i)->dimension, dimension))
      return unit_difference(unit_at(i));
  }
  return NULL;
}

/* By cancelling factors; NULL when that leads nowhere that is worth showing. */
static const struct unit *combine_factors(struct arena *arena, const struct unit *a, const struct unit *b, int sign)
{
  struct factors left, right;
  if (!unit_factors(arena, a, &left) || !unit_factors(arena, b, &right) || !factors_merge(&left, &right, sign))
    return NULL;
  const struct unit *unit = compose(arena, &left);
  if (unit == NULL)
    return NULL;
  /* "ms/s" is a number, better shown as one. 1/min as a result is no speed of rotation, but would read back as one. */
  bool one_row = left.count == 1 && left.items[0].power == 1;
  if (dimension_is_none(unit->dimension) && !one_row)
    return unit_find(slice_of("1"));
  const struct unit *row = unit_find(slice_of(unit->name));
  if (row == NULL) {
    const struct unit *usual = left.count > 1 ? usual_unit(unit->dimension) : NULL;
    return usual != NULL ? usual : unit;
  }
  return dimension_equal(row->dimension, unit->dimension) ? row : NULL;
}

static const struct unit *combine(struct arena *arena, const struct unit *a, const struct unit *b, int sign)
{
  bool a_none = dimension_is_none(a->dimension), b_none = dimension_is_none(b->dimension);
  if (a_none && b_none) {
    const struct unit *one = unit_find(slice_of("1"));
    if (sign < 0)
      return b->factor == 1.0 ? a : one;
    return a->factor < b->factor ? a : b;
  }
  if (b_none)
    return unit_difference(a);
  if (a_none && sign > 0)
    return unit_difference(b);
  struct dimension dimension = dimension_times(a->dimension, b->dimension, sign);
  const struct unit *unit = combine_factors(arena, a, b, sign);
  if (unit != NULL)
    return unit;
  bool temperature = dimension_equal(dimension, unit_find(slice_of("K"))->dimension);
  return unit_of_dimension(arena, dimension, temperature ? SENSE_DIFFERENCE : SENSE_PLAIN);
}

const struct unit *unit_divide(struct arena *arena, const struct unit *a, const struct unit *b)
{
  return combine(arena, a, b, -1);
}

const struct unit *unit_multiply(struct arena *arena, const struct unit *a, const struct unit *b)
{
  return combine(arena, a, b, 1);
}

/* "rad/Pa", "kg/s": a quotient of two coherent rows. */
static bool coherent_quotient(struct dimension d, struct factors *out)
{
  for (size_t i = 1; i < unit_count(); i++) {
    const struct unit *below = unit_at(i);
    const struct unit *above = coherent_row(dimension_times(d, below->dimension, 1));
    *out = (struct factors){.count = 0};
    if (above != NULL && below == coherent_row(below->dimension))
      return factors_add(out, above, 1) && factors_add(out, below, -1);
  }
  return false;
}

const struct unit *unit_of_dimension(struct arena *arena, struct dimension d, enum unit_sense sense)
{
  const struct unit *row = coherent_row(d);
  if (row != NULL)
    return sense == SENSE_DIFFERENCE ? unit_find(slice_of("degC_diff")) : row;
  static const char *const bases[DIM_COUNT] = {"m", "kg", "s", "A", "K", "rad", "lambda"};
  struct factors factors = {.count = 0};
  bool known = coherent_quotient(d, &factors);
  if (!known) {
    known = true;
    factors.count = 0;
    for (int i = 0; i < DIM_COUNT; i++)
      known = known && factors_add(&factors, unit_find(slice_of(bases[i])), d.of[i]);
  }
  const struct unit *unit = known ? compose(arena, &factors) : NULL;
  if (unit != NULL)
    return unit;
  struct unit *made = ARENA_NEW(arena, struct unit);
  *made = (struct unit){.name = dimension_name(arena, d, sense), .dimension = d, .factor = 1.0};
  return made;
}
