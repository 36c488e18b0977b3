/* Values out of YAML nodes. Reading order: field_read chooses by kind; field_read_quantity is where numbers come from,
 * and refuse_number finds out why a text is none. A reader goes on after a refusal, so that a person sees all problems
 * of a file at once. */
#include "read/field.h"

#include "base/limits.h"
#include "base/number.h"
#include "read/grid.h"
#include "text/utf8.h"

#include <math.h>
#include <stdint.h>

#define SHOWN 60 /* bytes of a text in a message */

bool field_refuse(struct field_reader *r, struct place place, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  const char *message = arena_vprint(r->problems->arena, format, args);
  va_end(args);
  r->refused = true;
  return problems_add(r->problems, place, "%s", message);
}

bool field_is_blank(const struct node *node)
{
  if (node->kind != NODE_SCALAR || node->quoted || node->block)
    return false;
  return node->text.size == 0 || slice_is(node->text, "~") || slice_is(node->text, "null") ||
         slice_is(node->text, "Null") || slice_is(node->text, "NULL");
}

static bool is_word(struct slice text, const char *word) /* in any case */
{
  size_t size = strlen(word);
  if (text.size != size)
    return false;
  for (size_t i = 0; i < size; i++) {
    char c = text.at[i];
    if ((c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c) != word[i])
      return false;
  }
  return true;
}

bool field_is_unknown(const struct node *node)
{
  return field_is_blank(node) || (node->kind == NODE_SCALAR && (node->text.size == 0 || slice_is(node->text, "?") ||
                                                                is_word(node->text, "unknown")));
}

bool field_is(struct field_reader *r, struct slice name, const struct node *node, enum node_kind kind, const char *what)
{
  if (field_is_blank(node)) {
    field_refuse(r, node->place, "'%.*s' has no value", SLICE_ARG(name));
    problems_hint(r->problems, "give it %s, or take the line out", what);
    return false;
  }
  if (node->kind != kind)
    return field_refuse(r, node->place, "'%.*s' takes %s, not %s", SLICE_ARG(name), what, node_kind_name(node));
  return true;
}

/* Bytes that look like a number, whether or not a double can hold it. */
static size_t number_shape(struct slice text)
{
  size_t at = text.size > 0 && (text.at[0] == '-' || text.at[0] == '+') ? 1 : 0;
  size_t digits = 0;
  for (bool point = false; at < text.size; at++) {
    if (text.at[at] >= '0' && text.at[at] <= '9')
      digits++;
    else if (text.at[at] == '.' && !point)
      point = true;
    else
      break;
  }
  return digits == 0 ? 0 : at;
}

static bool is_not_finite(struct slice text)
{
  static const char *const words[] = {"inf", "nan", "infinity"};
  if (text.size > 0 && (text.at[0] == '-' || text.at[0] == '+'))
    text = slice_part(text, 1, text.size);
  if (text.size > 0 && text.at[0] == '.')
    text = slice_part(text, 1, text.size);
  for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
    if (is_word(text, words[i]))
      return true;
  }
  return false;
}

/* "85,5 %", or "7,200 rpm", which one person writes for 7200 and another for 7.2. */
static void refuse_comma(struct field_reader *r, const struct node *node, struct slice text, size_t comma)
{
  struct slice shown = utf8_cut(text, SHOWN);
  struct slice whole = slice_part(text, 0, comma), rest = slice_part(text, comma + 1, text.size);
  size_t digits = 0;
  while (digits < rest.size && rest.at[digits] >= '0' && rest.at[digits] <= '9')
    digits++;
  rest = utf8_cut(rest, SHOWN);
  field_refuse(r, node->place, "'%.*s' is not a number", SLICE_ARG(shown));
  if (digits == 3)
    problems_hint(r->problems, "write %.*s%.*s if the comma groups thousands, %.*s.%.*s if decimals follow it",
                  SLICE_ARG(whole), SLICE_ARG(rest), SLICE_ARG(whole), SLICE_ARG(rest));
  else
    problems_hint(r->problems, "decimals are written with a point: %.*s.%.*s", SLICE_ARG(whole), SLICE_ARG(rest));
}

static void refuse_number(struct field_reader *r, const struct field_wanted *wanted, const struct node *node,
                          struct slice text, const char *why)
{
  double ignored = 0;
  struct slice shown = utf8_cut(text, SHOWN);
  size_t shape = number_shape(text);
  if (is_not_finite(text)) {
    field_refuse(r, node->place, "'%.*s' is not a finite number", SLICE_ARG(shown));
  } else if (shape == 0) {
    field_refuse(r, node->place, "'%.*s' takes a number, not '%.*s'", SLICE_ARG(wanted->name), SLICE_ARG(shown));
    if (wanted->unit != NULL && !dimension_is_none(wanted->unit->dimension))
      problems_hint(r->problems, "for instance 10, or '10 %s' with its unit", wanted->unit->name);
  } else if (number_read(text, '.', &ignored) == 0) {
    field_refuse(r, node->place, "'%.*s' is too large for a number", SLICE_ARG(shown));
  } else if (shape + 1 < text.size && text.at[shape] == ',' && text.at[shape + 1] >= '0' && text.at[shape + 1] <= '9') {
    refuse_comma(r, node, text, shape);
  } else {
    field_refuse(r, node->place, "'%.*s': %s", SLICE_ARG(wanted->name), why);
  }
}

/* Says what was got and what was wanted, in words and with the units written. */
static bool refuse_unit(struct field_reader *r, const struct field_wanted *wanted, const struct node *node,
                        const struct unit *got)
{
  struct arena *arena = r->problems->arena;
  struct slice shown = utf8_cut(node->text, SHOWN);
  field_refuse(r, node->place, "'%.*s' is %s, but '%.*s' is %s (in %s)", SLICE_ARG(shown),
               dimension_name(arena, got->dimension, got->sense), SLICE_ARG(wanted->name),
               dimension_name(arena, wanted->unit->dimension, wanted->unit->sense), wanted->unit->name);
  const char *hint = unit_mismatch_hint(arena, got, wanted->unit);
  if (hint != NULL)
    problems_hint(r->problems, "%s", hint);
  return false;
}

bool field_read_quantity(struct field_reader *r, const struct field_wanted *wanted, const struct node *node,
                         struct field_quantity *out)
{
  const char *why = NULL;
  *out = (struct field_quantity){.quantity = {0, wanted->bare}};
  if (!field_is(r, wanted->name, node, NODE_SCALAR, "a number"))
    return false;
  struct slice text = slice_trim(node->text);
  double number = 0;
  if (text.size > 0 && number_read(text, '.', &number) == text.size) {
    out->quantity.value = unit_to_base(wanted->bare, number);
  } else {
    if (!quantity_read(r->arena, text, wanted->bare, &out->quantity, &why)) {
      refuse_number(r, wanted, node, text, why);
      return false;
    }
    out->has_unit = true;
    if (wanted->unit != NULL && !unit_agrees(out->quantity.unit, wanted->unit))
      return refuse_unit(r, wanted, node, out->quantity.unit);
  }
  if (!isfinite(out->quantity.value)) {
    struct slice shown = utf8_cut(text, SHOWN);
    return field_refuse(r, node->place, "'%.*s' is too large for a number", SLICE_ARG(shown));
  }
  return true;
}

const struct unit *field_read_unit(struct field_reader *r, const struct field_wanted *wanted, const struct node *node)
{
  const char *why = NULL;
  if (!field_is(r, slice_of("unit"), node, NODE_SCALAR, "the name of a unit"))
    return NULL;
  const struct unit *unit = unit_read(r->arena, slice_trim(node->text), &why);
  if (unit == NULL) {
    field_refuse(r, node->place, "'%.*s': %s", SLICE_ARG(wanted->name), why);
    return NULL;
  }
  if (wanted->unit != NULL && !unit_agrees(unit, wanted->unit)) {
    refuse_unit(r, wanted, node, unit);
    return NULL;
  }
  return unit;
}

bool field_read_numbers(struct field_reader *r, const struct field_wanted *wanted, const struct node *list,
                        size_t first, struct field_vector *out)
{
  bool good = true;
  for (size_t i = 0; i < list->count; i++) {
    struct field_quantity read;
    out->place[first + i] = list->items[i].place;
    if (!field_read_quantity(r, wanted, &list->items[i], &read)) {
      good = false;
      continue;
    }
    out->at[first + i] = read.quantity.value;
    if (out->unit == NULL && read.has_unit)
      out->unit = read.quantity.unit;
  }
  return good;
}

void field_refuse_key(struct field_reader *r, const struct node *key, const char *where, const char *const *known)
{
  struct slice shown = utf8_cut(key->text, SHOWN);
  size_t least = SIZE_MAX;
  const char *nearest = NULL, *list = "";
  field_refuse(r, key->place, "%s has no '%.*s'", where, SLICE_ARG(shown));
  if (r->problems->dropped > 0)
    return;
  for (; *known != NULL; known++) {
    size_t distance = slice_distance(key->text, slice_of(*known));
    if (distance < least) {
      least = distance;
      nearest = *known;
    }
    list = arena_print(r->problems->arena, "%s%s%s", list, *list == '\0' ? "" : ", ", *known);
  }
  if (nearest != NULL && least <= strlen(nearest) / 3 + (strlen(nearest) < 3 ? 0 : 1))
    problems_hint(r->problems, "did you mean '%s'?", nearest);
  else
    problems_hint(r->problems, "it takes %s", list);
}

void field_check_keys(struct field_reader *r, const struct node *map, const char *where, const char *const *known)
{
  for (size_t i = 0; i < map->count; i++) {
    bool is_known = false;
    for (const char *const *key = known; *key != NULL; key++)
      is_known = is_known || slice_is(map->pairs[i].key.text, *key);
    if (!is_known)
      field_refuse_key(r, &map->pairs[i].key, where, known);
  }
}

bool field_check_version(struct field_reader *r, const struct node *root, const char *key, const char *what)
{
  const struct node *name = node_key(root, key), *version = node_get(root, key);
  if (name == NULL) {
    static const struct {
      const char *key, *what;
    } files[] = {{"keyway-settings", "a settings file"},
                 {"keyway-job", "a job sheet"},
                 {"keyway-adapter", "an adapter"},
                 {"keyway-rules", "a rule pack"}};
    const char *article = strchr("aeiou", what[0]) != NULL ? "an" : "a";
    struct place place = root->kind == NODE_MAP && root->count > 0 ? root->pairs[0].key.place : root->place;
    field_refuse(r, place, "%s %s starts with '%s: 1'", article, what, key);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
      if (node_key(root, files[i].key) != NULL)
        problems_hint(r->problems, "this file says that it is %s", files[i].what);
    }
    return false;
  }
  if (&root->pairs[0].key != name)
    field_refuse(r, name->place, "'%s' must be the first name of the file", key);
  if (version->kind == NODE_SCALAR && slice_is(version->text, "1"))
    return true;
  return field_refuse(r, version->place, "this program reads '%s: 1' and no other version", key);
}

static bool read_number(struct field_reader *r, const struct entry *entry, const struct node *node,
                        struct quantity *out)
{
  struct field_wanted wanted = {entry->name, entry->unit, entry->unit};
  struct field_quantity read;
  if (!field_read_quantity(r, &wanted, node, &read))
    return false;
  *out = read.quantity;
  return true;
}

static bool read_switch(struct field_reader *r, const struct entry *entry, const struct node *node, bool *out)
{
  static const char *const on[] = {"on", "yes", "true"}, *const off[] = {"off", "no", "false"};
  if (!field_is(r, entry->name, node, NODE_SCALAR, "on or off"))
    return false;
  struct slice text = slice_trim(node->text), shown = utf8_cut(text, SHOWN);
  for (size_t i = 0; i < sizeof on / sizeof *on; i++) {
    *out = is_word(text, on[i]);
    if (*out || is_word(text, off[i]))
      return true;
  }
  field_refuse(r, node->place, "'%.*s' is on or off, not '%.*s'", SLICE_ARG(entry->name), SLICE_ARG(shown));
  problems_hint(r->problems, "yes, no, true and false are understood too");
  return false;
}

static const char *choices_list(struct arena *arena, const struct entry *entry)
{
  const char *list = "one of ";
  for (size_t i = 0; i < entry->choice_count; i++)
    list = arena_print(arena, "%s%s%.*s", list, i == 0 ? "" : ", ", SLICE_ARG(entry->choices[i]));
  return list;
}

static bool read_choice(struct field_reader *r, const struct entry *entry, const struct node *node, struct slice *out)
{
  if (node->kind != NODE_SCALAR || field_is_blank(node))
    return field_is(r, entry->name, node, NODE_SCALAR, choices_list(r->problems->arena, entry));
  struct slice text = slice_trim(node->text), shown = utf8_cut(text, SHOWN);
  size_t least = SIZE_MAX, nearest = 0;
  for (size_t i = 0; i < entry->choice_count; i++) {
    size_t distance = slice_distance(text, entry->choices[i]);
    if (distance == 0 && text.size == entry->choices[i].size) {
      *out = entry->choices[i];
      return true;
    }
    if (distance < least) {
      least = distance;
      nearest = i;
    }
  }
  field_refuse(r, node->place, "'%.*s' takes %s, not '%.*s'", SLICE_ARG(entry->name),
               choices_list(r->problems->arena, entry), SLICE_ARG(shown));
  if (entry->choice_count > 0 && least <= 1 + entry->choices[nearest].size / 3)
    problems_hint(r->problems, "did you mean '%.*s'?", SLICE_ARG(entry->choices[nearest]));
  return false;
}

static bool read_list(struct field_reader *r, const struct entry *entry, const struct node *node, struct value *out)
{
  if (!field_is(r, entry->name, node, NODE_LIST, "a list of numbers"))
    return false;
  if (node->count > LIMIT_ITEMS)
    return field_refuse(r, node->place, "'%.*s' has %zu numbers; at most %d are accepted", SLICE_ARG(entry->name),
                        node->count, LIMIT_ITEMS);
  struct field_wanted wanted = {entry->name, entry->unit, entry->unit};
  struct field_vector vector = {.count = node->count,
                                .at = ARENA_ARRAY(r->arena, node->count, double),
                                .place = ARENA_ARRAY(r->arena, node->count, struct place)};
  bool good = field_read_numbers(r, &wanted, node, 0, &vector);
  out->as.list.count = vector.count;
  out->as.list.items = vector.at;
  out->as.list.places = vector.place;
  out->as.list.unit = vector.unit == NULL ? entry->unit : vector.unit;
  return good;
}

/* One pin, or none when it is not known: the harness of an unseen car is asked for pin by pin. */
static bool read_pin(struct field_reader *r, struct slice function, const struct node *node, struct pin *items,
                     size_t *count)
{
  if (r->may_be_unknown && field_is_unknown(node))
    return true;
  if (!field_is(r, function, node, NODE_SCALAR, "a pin, or a list of pins"))
    return false;
  struct slice pin = slice_trim(node->text);
  if (pin.size == 0)
    return field_refuse(r, node->place, "'%.*s' has no pin", SLICE_ARG(function));
  items[(*count)++] = (struct pin){arena_slice(r->arena, function), arena_slice(r->arena, pin), node->place};
  return true;
}

static bool read_pins(struct field_reader *r, const struct entry *entry, const struct node *node, struct pins *out)
{
  if (!field_is(r, entry->name, node, NODE_MAP, "a map from function to pin"))
    return false;
  size_t total = 0;
  for (size_t i = 0; i < node->count; i++)
    total += node->pairs[i].value.kind == NODE_LIST ? node->pairs[i].value.count : 1;
  if (total > LIMIT_ITEMS)
    return field_refuse(r, node->place, "'%.*s' has %zu pins; at most %d are accepted", SLICE_ARG(entry->name), total,
                        LIMIT_ITEMS);
  struct pin *items = ARENA_ARRAY(r->arena, total, struct pin);
  size_t count = 0;
  bool good = true;
  for (size_t i = 0; i < node->count; i++) {
    struct slice function = node->pairs[i].key.text;
    const struct node *value = &node->pairs[i].value;
    if (value->kind != NODE_LIST)
      good = read_pin(r, function, value, items, &count) && good;
    for (size_t j = 0; value->kind == NODE_LIST && j < value->count; j++)
      good = read_pin(r, function, &value->items[j], items, &count) && good;
  }
  *out = (struct pins){count, items};
  return good;
}

const struct value *field_read(struct field_reader *r, const struct entry *entry, const struct node *node)
{
  struct value *value = ARENA_NEW(r->arena, struct value);
  value->kind = entry->kind;
  value->place = node->place;
  bool good = false;
  switch (entry->kind) {
  case VALUE_NUMBER:
    good = read_number(r, entry, node, &value->as.number);
    break;
  case VALUE_SWITCH:
    good = read_switch(r, entry, node, &value->as.on);
    break;
  case VALUE_CHOICE:
    good = read_choice(r, entry, node, &value->as.text);
    break;
  case VALUE_TEXT:
    good = field_is(r, entry->name, node, NODE_SCALAR, "a text");
    value->as.text = arena_slice(r->arena, node->text);
    break;
  case VALUE_LIST:
    good = read_list(r, entry, node, value);
    break;
  case VALUE_CURVE:
    good = grid_read_curve(r, entry, node, &value->as.curve);
    break;
  case VALUE_TABLE:
    good = grid_read_table(r, entry, node, &value->as.table);
    break;
  case VALUE_PINS:
    good = read_pins(r, entry, node, &value->as.pins);
    break;
  case VALUE_RECORDS:
  case VALUE_SERIES:
    break;
  }
  return good ? value : NULL;
}
