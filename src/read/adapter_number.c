/* Numbers as an export writes them. Reading order: adapter_numbers_of (a whole axis, list or set of cells),
 * adapter_settle (what other records say about it), adapter_number_of (one), adapter_number_scan (its digits). */
#include "read/adapter_parts.h"

#include "base/number.h"
#include "text/utf8.h"

#include <math.h>

#define SHOWN 60
#define DIGITS_MOST 128 /* of a written number */
#define DIGITS_MEANT 12 /* of a number that was worked out: more than any export means, fewer than a double's noise */
#define HEX_MOST 13     /* digits: below 2^53, exact in a double */

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

static size_t hex_scan(struct slice text, double *out)
{
  size_t at = text.size > 1 && text.at[0] == '0' && (text.at[1] | 0x20) == 'x' ? 2 : 0, from = at;
  uint64_t value = 0;
  for (; at < text.size && at - from <= HEX_MOST; at++) {
    char c = text.at[at], low = (char)(c | 0x20);
    if (is_digit(c))
      value = value * 16 + (uint64_t)(c - '0');
    else if (low >= 'a' && low <= 'f')
      value = value * 16 + (uint64_t)(low - 'a' + 10);
    else
      break;
  }
  *out = (double)value;
  return at == from || at - from > HEX_MOST ? 0 : at;
}

/* A sign between thousands stands between a digit and a group of three. */
static bool is_thousands(const struct adapter *adapter, struct slice text, size_t at)
{
  struct slice sign = adapter->thousands;
  if (sign.size == 0 || at == 0 || !is_digit(text.at[at - 1]) || at + sign.size + 3 > text.size)
    return false;
  if (!slice_equal(slice_part(text, at, at + sign.size), sign))
    return false;
  size_t digits = at + sign.size;
  while (digits < text.size && is_digit(text.at[digits]))
    digits++;
  return digits - at - sign.size == 3;
}

size_t adapter_number_scan(const struct adapter *adapter, bool hex, struct slice text, double *out)
{
  char plain[DIGITS_MOST];
  size_t from[DIGITS_MOST + 1], size = 0, at = 0;
  bool decimals = false;
  if (hex)
    return hex_scan(text, out);
  while (at < text.size && size < DIGITS_MOST) {
    if (!decimals && is_thousands(adapter, text, at)) {
      at += adapter->thousands.size;
      continue;
    }
    decimals = decimals || text.at[at] == adapter->decimal;
    from[size] = at;
    plain[size++] = text.at[at++];
  }
  from[size] = at;
  size_t used = number_read((struct slice){plain, size}, adapter->decimal, out);
  return used == DIGITS_MOST ? 0 : used == 0 ? 0 : from[used];
}

/* Why a text is no number, as far as that can be guessed. */
static bool refuse_number(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_item *item,
                          size_t used)
{
  struct slice text = item->text, shown = utf8_cut(text, SHOWN);
  if (text.size == 0)
    return adapter_refuse(run, spec, item->place, "a number was expected, and nothing is there");
  if (spec->hex)
    return adapter_refuse(run, spec, item->place, "'%.*s' is no hexadecimal number", SLICE_ARG(shown));
  struct slice rest = slice_trim(slice_part(text, used, text.size));
  const char *why = NULL;
  char other = run->adapter->decimal == '.' ? ',' : '.';
  struct slice thousands = run->adapter->thousands;
  if (used > 0 && thousands.size > 0 && rest.size > thousands.size &&
      slice_equal(slice_part(rest, 0, thousands.size), thousands))
    return adapter_refuse(run, spec, item->place, "'%.*s' is no number: three digits follow each '%.*s'",
                          SLICE_ARG(shown), SLICE_ARG(thousands));
  if (used > 0 && rest.at[0] == other)
    return adapter_refuse(run, spec, item->place, "'%.*s' is no number: the adapter reads '%c' before decimals%s",
                          SLICE_ARG(shown), run->adapter->decimal,
                          thousands.size > 0 ? "" : " and no sign between thousands");
  if (used > 0 && adapter_unit_find(run->adapter, run->scratch, rest, &why) != NULL)
    return adapter_refuse(run, spec, item->place, "'%.*s' carries its unit: 'unit: {in: text}' reads it",
                          SLICE_ARG(shown));
  return adapter_refuse(run, spec, item->place, "'%.*s' is no number", SLICE_ARG(shown));
}

static bool refuse_unit(struct adapter_run *run, const struct adapter_spec *spec, struct place place,
                        const struct unit *got)
{
  struct arena *arena = run->problems->arena;
  const char *hint = unit_mismatch_hint(arena, got, spec->wanted);
  return adapter_refuse(run, spec, place, "'%s' is %s, and %s (in %s) is wanted%s%s", got->name,
                        dimension_name(arena, got->dimension, got->sense),
                        dimension_name(arena, spec->wanted->dimension, spec->wanted->sense), spec->wanted->name,
                        hint == NULL ? "" : ": ", hint == NULL ? "" : hint);
}

static const struct unit *unit_of_text(struct adapter_run *run, const struct adapter_spec *spec, struct slice text,
                                       struct place place)
{
  const char *why = NULL;
  const struct unit *unit = adapter_unit_find(run->adapter, run->arena, text, &why);
  if (unit == NULL)
    adapter_refuse(run, spec, place, "%s", why);
  else if (!unit_agrees(unit, spec->wanted))
    refuse_unit(run, spec, place, unit);
  else
    return unit;
  return NULL;
}

/* "[kPa]", "(kPa)" */
static struct slice bare_unit(struct slice text)
{
  text = slice_trim(text);
  bool bracket = text.size > 1 && ((text.at[0] == '[' && text.at[text.size - 1] == ']') ||
                                   (text.at[0] == '(' && text.at[text.size - 1] == ')'));
  return bracket ? slice_trim(slice_part(text, 1, text.size - 1)) : text;
}

/* A number that stands in another record. */
static bool number_at(struct adapter_run *run, const struct adapter_spec *spec,
                      const struct adapter_reference *reference, size_t record, double *out)
{
  const struct record_line *line = adapter_follow(run, spec, reference, record);
  if (line == NULL)
    return false;
  struct slice text = slice_trim(line->text), shown = utf8_cut(text, SHOWN);
  size_t used = adapter_number_scan(run->adapter, false, text, out);
  const struct unit *unit = reference->unit;
  if (used > 0 && used < text.size && !dimension_is_none(unit->dimension)) {
    const char *why = NULL;
    unit = adapter_unit_find(run->adapter, run->arena, bare_unit(slice_part(text, used, text.size)), &why);
    if (unit == NULL || !unit_agrees(unit, reference->unit))
      used = 0;
  } else if (used < text.size) {
    used = 0;
  }
  if (used == 0)
    return adapter_refuse(run, spec, line->place, "'%.*s' is no number in %s", SLICE_ARG(shown), reference->unit->name);
  *out = unit_to_base(unit, *out);
  return true;
}

bool adapter_settle(struct adapter_run *run, const struct adapter_spec *spec, size_t record,
                    struct adapter_channel *out)
{
  *out = spec->how;
  if (out->unit == NULL)
    out->unit = spec->wanted;
  if (spec->unit_at != NULL) {
    const struct record_line *line = adapter_follow(run, spec, spec->unit_at, record);
    if (line == NULL)
      return false;
    out->unit = unit_of_text(run, spec, bare_unit(line->text), line->place);
    if (out->unit == NULL)
      return false;
  }
  if (spec->ratio_at != NULL && !number_at(run, spec, spec->ratio_at, record, &out->ratio))
    return false;
  if (spec->ratio_at != NULL && !(out->ratio > 0))
    return adapter_refuse(run, spec, run->records.items[record].place, "an air-fuel ratio of %g for lambda 1",
                          out->ratio);
  return spec->barometer_at == NULL || number_at(run, spec, spec->barometer_at, record, &out->base_offset);
}

/* 28.999999999999996 psi was meant to be 29; and a number that was worked out is one that can be written in its unit.
 */
static double rounded(const struct unit *unit, double base)
{
  char text[64];
  double value = unit_from_base(unit, base), out = value;
  if (isfinite(value))
    number_read((struct slice){text, number_print(text, sizeof text, value, DIGITS_MEANT)}, '.', &out);
  return unit_to_base(unit, out);
}

bool adapter_number_of(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_channel *how,
                       const struct adapter_item *item, struct quantity *out)
{
  double number = 0;
  size_t used = adapter_number_scan(run->adapter, spec->hex, item->text, &number);
  const struct unit *unit = how->unit;
  struct slice shown = utf8_cut(item->text, SHOWN);
  if (used == 0 || (used < item->text.size && !spec->unit_in_text))
    return refuse_number(run, spec, item, used);
  if (used < item->text.size) {
    unit = unit_of_text(run, spec, bare_unit(slice_part(item->text, used, item->text.size)), item->place);
    if (unit == NULL)
      return false;
  }
  *out = (struct quantity){adapter_number(how, unit, number), unit};
  if (how->scale != 1 || how->offset != 0 || how->ratio > 0 || how->base_offset != 0)
    out->value = rounded(unit, out->value);
  if (isfinite(out->value))
    return true;
  return adapter_refuse(run, spec, item->place, "'%.*s' is too large for a number", SLICE_ARG(shown));
}

bool adapter_numbers_of(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_hits *hits,
                        struct field_vector *out, struct adapter_items *items)
{
  struct adapter_channel how;
  *out = (struct field_vector){.unit = spec->wanted};
  if (!adapter_items_of(run, spec, hits, items))
    return false;
  if (items->count == 0)
    return true;
  if (!adapter_settle(run, spec, items->items[0].record, &how))
    return false;
  out->at = ARENA_ARRAY(run->arena, items->count, double);
  out->place = ARENA_ARRAY(run->arena, items->count, struct place);
  bool good = true;
  for (size_t i = 0; i < items->count; i++) {
    struct quantity number = {0, how.unit};
    good = adapter_number_of(run, spec, &how, &items->items[i], &number) && good;
    out->at[i] = number.value;
    out->place[i] = items->items[i].place;
    if (i == 0)
      out->unit = number.unit;
  }
  out->count = items->count;
  return good;
}
