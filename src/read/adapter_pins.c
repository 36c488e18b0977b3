/* Pins: which function is on which pin. Reading order: adapter_pins_read; adapter_pins_value, take_pin. */
#include "read/adapter_parts.h"

#include "base/limits.h"
#include "text/utf8.h"

#define SHOWN 60

/* {from: GROUP}: the group's name; NULL when refused. */
static const char *read_from(struct adapter_reader *r, const struct node *node, const char *what,
                             const struct adapter_spec *spec)
{
  static const char *const keys[] = {"from", NULL};
  const struct node *from = node_get(node, "from");
  field_check_keys(&r->field, node, arena_print(r->field.arena, "'%s'", what), keys);
  if (from == NULL) {
    field_refuse(&r->field, node->place, "'%s' has no 'from'", what);
    return NULL;
  }
  if (!field_is(&r->field, slice_of("from"), from, NODE_SCALAR, "the name of a group"))
    return NULL;
  const char *name = arena_text(r->field.arena, from->text);
  bool known = (spec->match.pattern != NULL && pattern_group(spec->match.pattern, name) > 0) ||
               (spec->text.pattern != NULL && pattern_group(spec->text.pattern, name) > 0);
  if (!known && spec->match.pattern != NULL) {
    field_refuse(&r->field, from->place, "neither 'match' nor 'text' has a group '%s'", name);
    problems_hint(r->field.problems, "write the part that is meant as (?<%s>...)", name);
    return NULL;
  }
  return name;
}

static const struct node *read_map(struct adapter_reader *r, const struct node *node, const char *what)
{
  if (node == NULL || !field_is(&r->field, slice_of(what), node, NODE_MAP, "a map from the text as written"))
    return NULL;
  for (size_t i = 0; i < node->count; i++)
    field_is(&r->field, node->pairs[i].key.text, &node->pairs[i].value, NODE_SCALAR, "a text");
  return node;
}

static void read_pin(struct adapter_reader *r, const struct node *map, struct slice name, struct adapter_pin *out)
{
  static const char *const keys[] = {"match", "where", "text", "function", "functions", "pin", "pins", "unused", NULL};
  struct adapter_spec *spec = &out->spec;
  *spec = (struct adapter_spec){.name = name, .place = map->place, .role = ADAPTER_TEXT};
  if (!field_is(&r->field, name, map, NODE_MAP, "a list of {match, function, pin}"))
    return;
  field_check_keys(&r->field, map, arena_print(r->field.arena, "an entry of '%.*s'", SLICE_ARG(name)), keys);
  const struct node *match = node_get(map, "match"), *where = node_get(map, "where"), *text = node_get(map, "text");
  const struct node *function = node_get(map, "function"), *pin = node_get(map, "pin");
  const struct node *unused = node_get(map, "unused");
  if (match == NULL)
    field_refuse(&r->field, map->place, "an entry of '%.*s' has no 'match'", SLICE_ARG(name));
  else
    adapter_pattern_read(r, match, "match", &spec->match);
  if (where != NULL)
    adapter_pattern_read(r, where, "where", &spec->where);
  if (text != NULL && adapter_pattern_read(r, text, "text", &spec->text))
    spec->text_group = pattern_group(spec->text.pattern, "value");
  if (unused != NULL)
    spec->unused = adapter_texts_read(r, unused, "unused", &spec->unused_count);
  out->functions = read_map(r, node_get(map, "functions"), "functions");
  out->pins = read_map(r, node_get(map, "pins"), "pins");
  if (function != NULL && function->kind == NODE_SCALAR && function->text.size > 0)
    out->function = function->text;
  else if (function != NULL)
    out->function_from = read_from(r, function, "function", spec);
  if (pin != NULL)
    out->pin_from = read_from(r, pin, "pin", spec);
  if (function == NULL && pin == NULL) {
    field_refuse(&r->field, map->place, "the text of an entry of '%.*s' is the function or the pin, not both",
                 SLICE_ARG(name));
    problems_hint(r->field.problems, "say which is which: function: {from: GROUP}, or pin: {from: GROUP}");
  }
}

void adapter_pins_read(struct adapter_reader *r, const struct node *node, struct adapter_entry *out)
{
  bool is_list = node->kind == NODE_LIST;
  if (node->kind == NODE_MAP && node_get(node, "is") != NULL) {
    out->fixed = field_read(&r->field, out->entry, node_get(node, "is"));
    return;
  }
  size_t count = is_list ? node->count : 1;
  if (count > LIMIT_ITEMS) {
    field_refuse(&r->field, node->place, "'%.*s' has %zu entries; at most %d are accepted", SLICE_ARG(out->entry->name),
                 count, LIMIT_ITEMS);
    return;
  }
  struct adapter_pin *pins = ARENA_ARRAY(r->field.arena, count, struct adapter_pin);
  for (size_t i = 0; i < count; i++)
    read_pin(r, is_list ? &node->items[i] : node, out->entry->name, &pins[i]);
  out->pins = pins;
  out->pin_count = count;
}

struct pin_list {
  struct pin *items;
  size_t count, capacity;
};

static bool translate(const struct node *map, struct slice *text)
{
  for (size_t i = 0; map != NULL && i < map->count; i++) {
    if (adapter_same_word(slice_trim(map->pairs[i].key.text), *text)) {
      *text = map->pairs[i].value.text;
      return true;
    }
  }
  return false;
}

/* A function that the adapter does not translate keeps its words, as names are written: "Fuel pump" is fuel_pump. */
static struct slice name_like(struct arena *arena, struct slice text)
{
  char *name = arena_text(arena, text);
  for (size_t i = 0; i < text.size; i++) {
    if (name[i] >= 'A' && name[i] <= 'Z')
      name[i] = (char)(name[i] - 'A' + 'a');
    else if (name[i] == ' ' || name[i] == '-')
      name[i] = '_';
  }
  return (struct slice){name, text.size};
}

/* A group of the path's match, else of the text's. */
static struct slice group_of(const struct adapter_spec *spec, const struct record_line *line, const char *name)
{
  size_t group = pattern_group(spec->match.pattern, name);
  if (group > 0)
    return slice_trim(adapter_group_of(spec, line, group));
  struct pattern_match match;
  group = spec->text.pattern == NULL ? 0 : pattern_group(spec->text.pattern, name);
  if (group == 0 || pattern_find(spec->text.pattern, line->text, 0, &match) != PATTERN_YES)
    return (struct slice){"", 0};
  return slice_trim(pattern_part(&match, line->text, group));
}

static bool take_pin(struct adapter_run *run, const struct adapter_pin *pin, size_t record, struct pin_list *out)
{
  const struct adapter_spec *spec = &pin->spec;
  const struct record_line *line = &run->records.items[record];
  struct adapter_item item;
  if (!adapter_item_of(run, spec, record, &item))
    return false;
  struct slice function = pin->function, where = item.text;
  if (pin->function_from != NULL)
    function = group_of(spec, line, pin->function_from);
  else if (function.size == 0)
    function = item.text;
  if (pin->pin_from != NULL)
    where = group_of(spec, line, pin->pin_from);
  if (adapter_is_unused(spec, item.text) || adapter_is_unused(spec, where) || adapter_is_unused(spec, function))
    return true;
  if (!translate(pin->functions, &function) && pin->function.size == 0)
    function = name_like(run->arena, function);
  translate(pin->pins, &where);
  if (function.size == 0 || where.size == 0)
    return adapter_refuse(run, spec, line->place, "no %s stands here; 'unused' says which texts mean none",
                          function.size == 0 ? "function" : "pin");
  if (out->count == LIMIT_ITEMS)
    return adapter_refuse(run, spec, line->place, "more than %d pins", LIMIT_ITEMS);
  out->items = arena_grow(run->arena, out->items, out->count, &out->capacity, sizeof *out->items);
  out->items[out->count++] =
      (struct pin){arena_slice(run->arena, function), arena_slice(run->arena, where), item.place};
  return true;
}

const struct value *adapter_pins_value(struct adapter_run *run, const struct adapter_entry *entry)
{
  struct value *value = ARENA_NEW(run->arena, struct value);
  struct pin_list list = {0};
  bool seen = false, good = true;
  value->kind = VALUE_PINS;
  for (size_t i = 0; i < entry->pin_count; i++) {
    struct adapter_hits hits;
    good = adapter_find(run, &entry->pins[i].spec, &hits) && good;
    for (size_t k = 0; k < hits.count; k++) {
      if (!seen)
        value->place = run->records.items[hits.items[k]].place;
      seen = true;
      good = take_pin(run, &entry->pins[i], hits.items[k], &list) && good;
    }
  }
  value->as.pins = (struct pins){list.count, list.items};
  return good && seen ? value : NULL;
}
