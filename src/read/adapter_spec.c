/* Where one value stands and how it is written: one entry of `settings`, or the x, y or value of one. Reading order:
 * adapter_spec_read; the table of keys says which of them go with what. */
#include "read/adapter_parts.h"

#include "base/limits.h"
#include "text/utf8.h"

#define NUMBERS (ADAPTER_NUMBER | ADAPTER_LIST | ADAPTER_AXIS | ADAPTER_CURVE | ADAPTER_TABLE)
#define SCALARS (ADAPTER_NUMBER | ADAPTER_SWITCH | ADAPTER_CHOICE | ADAPTER_TEXT)
#define VECTORS (ADAPTER_LIST | ADAPTER_AXIS | ADAPTER_CURVE | ADAPTER_TABLE)
#define SHOWN 60

static const struct key {
  const char *name;
  unsigned roles;
  const char *what;
} keys[] = {
    {"match", SCALARS | VECTORS, "all"},
    {"where", SCALARS | VECTORS, "all"},
    {"text", SCALARS | VECTORS, "all"},
    {"from", SCALARS | VECTORS, "all"},
    {"unused", SCALARS | VECTORS, "all"},
    {"take", SCALARS, "settings that are one value"},
    {"needed", SCALARS | ADAPTER_LIST, "whole settings"},
    {"is", SCALARS | ADAPTER_LIST | ADAPTER_AXIS, "single values, lists and axes"},
    {"unit", NUMBERS, "numbers"},
    {"scale", NUMBERS, "numbers"},
    {"offset", NUMBERS, "numbers"},
    {"hex", NUMBERS | ADAPTER_SWITCH, "numbers"},
    {"air_fuel_ratio", NUMBERS, "lambda"},
    {"gauge", NUMBERS, "pressures"},
    {"values", ADAPTER_SWITCH | ADAPTER_CHOICE, "switches and choices"},
    {"bit", ADAPTER_SWITCH, "switches"},
    {"inverted", ADAPTER_SWITCH, "switches"},
    {"split", VECTORS, "lists, axes and values of curves and tables"},
    {"once", ADAPTER_AXIS, "axes"},
    {"flip", ADAPTER_AXIS | ADAPTER_CURVE | ADAPTER_TABLE, "axes and values of curves and tables"},
    {"order", ADAPTER_TABLE, "values of tables"},
    {"at", ADAPTER_TABLE, "values of tables"},
};
#define KEY_COUNT (sizeof keys / sizeof *keys)

static const char *role_words(enum adapter_role role)
{
  switch (role) {
  case ADAPTER_NUMBER:
    return "a number";
  case ADAPTER_SWITCH:
    return "a switch";
  case ADAPTER_CHOICE:
    return "a choice";
  case ADAPTER_TEXT:
    return "a text";
  case ADAPTER_LIST:
    return "a list";
  case ADAPTER_AXIS:
    return "an axis";
  case ADAPTER_CURVE:
    return "the values of a curve";
  case ADAPTER_TABLE:
    return "the values of a table";
  }
  return "";
}

static void check_key(struct adapter_reader *r, const struct node *key, const struct adapter_spec *spec)
{
  const char *known[KEY_COUNT + 1] = {NULL};
  size_t count = 0;
  struct slice shown = utf8_cut(key->text, SHOWN);
  for (size_t i = 0; i < KEY_COUNT; i++) {
    bool fits = (keys[i].roles & (unsigned)spec->role) != 0;
    bool same = slice_is(key->text, keys[i].name);
    if (fits && same)
      return;
    if (same) {
      field_refuse(&r->field, key->place, "'%s' is for %s, and '%.*s' is %s", keys[i].name, keys[i].what,
                   SLICE_ARG(spec->name), role_words(spec->role));
      return;
    }
    if (fits)
      known[count++] = keys[i].name;
  }
  bool grid = slice_is(key->text, "x") || slice_is(key->text, "y") || slice_is(key->text, "value");
  if (grid && (spec->role & (SCALARS | ADAPTER_LIST)) != 0) {
    field_refuse(&r->field, key->place, "'%.*s' is for curves and tables, and '%.*s' is %s", SLICE_ARG(shown),
                 SLICE_ARG(spec->name), role_words(spec->role));
    return;
  }
  const char *where = arena_print(r->field.arena, "the entry for '%.*s'", SLICE_ARG(spec->name));
  field_refuse_key(&r->field, key, where, known);
}

static void read_take(struct adapter_reader *r, const struct node *node, struct adapter_spec *out)
{
  if (node == NULL)
    return;
  if (node->kind == NODE_SCALAR && slice_is(node->text, "first"))
    out->take = ADAPTER_TAKE_FIRST;
  else if (node->kind == NODE_SCALAR && slice_is(node->text, "last"))
    out->take = ADAPTER_TAKE_LAST;
  else
    field_refuse(&r->field, node->place, "'take' is first or last");
}

static void read_unit(struct adapter_reader *r, const struct node *node, struct adapter_spec *out)
{
  static const char *const in_keys[] = {"in", "match", NULL};
  if (node == NULL)
    return;
  const struct node *in = node_get(node, "in");
  if (node->kind != NODE_MAP) {
    out->how.unit = adapter_unit_read(r, node, out->name, out->wanted);
  } else if (in != NULL) {
    field_check_keys(&r->field, node, "'unit'", in_keys);
    out->unit_in_text = in->kind == NODE_SCALAR && slice_is(in->text, "text");
    if (!out->unit_in_text)
      field_refuse(&r->field, in->place, "'in' is text: the text carries the unit");
    if (node->count > 1)
      field_refuse(&r->field, node->place, "the unit is in the text or in another record, not in both");
  } else {
    out->unit_at = adapter_reference_read(r, node, "unit", out->match.pattern, NULL);
  }
}

/* A group of the match by name; 0 when refused. */
static size_t read_group(struct adapter_reader *r, const struct adapter_spec *spec, const struct node *node,
                         const char *name)
{
  size_t group = spec->match.pattern == NULL ? 0 : pattern_group(spec->match.pattern, name);
  if (group == 0 && spec->match.pattern != NULL) {
    struct slice shown = utf8_cut(slice_of(name), SHOWN);
    field_refuse(&r->field, node->place, "'match' of '%.*s' has no group '%.*s'", SLICE_ARG(spec->name),
                 SLICE_ARG(shown));
    problems_hint(r->field.problems, "write the part that is meant as (?<%.*s>...)", SLICE_ARG(shown));
  }
  return group;
}

static void read_flip(struct adapter_reader *r, const struct node *node, struct adapter_spec *out)
{
  if (node == NULL)
    return;
  if (out->role != ADAPTER_TABLE && node->kind == NODE_SCALAR && !slice_is(node->text, "x")) {
    out->flip_x = adapter_flag_read(r, node, "flip");
    return;
  }
  size_t count = 0;
  const struct slice *axes = adapter_texts_read(r, node, "flip", &count);
  for (size_t i = 0; i < count; i++) {
    bool x = slice_is(axes[i], "x"), y = slice_is(axes[i], "y") && out->role == ADAPTER_TABLE;
    out->flip_x = out->flip_x || x;
    out->flip_y = out->flip_y || y;
    if (!x && !y)
      field_refuse(&r->field, node->place, "'flip' of %s is %s", role_words(out->role),
                   out->role == ADAPTER_TABLE ? "[x], [y] or [x, y]" : "yes");
  }
}

static void read_order(struct adapter_reader *r, const struct node *map, struct adapter_spec *out)
{
  const struct node *order = node_get(map, "order"), *at = node_get(map, "at");
  if (order != NULL) {
    out->by_columns = order->kind == NODE_SCALAR && slice_is(order->text, "columns");
    if (!out->by_columns && !(order->kind == NODE_SCALAR && slice_is(order->text, "rows")))
      field_refuse(&r->field, order->place, "'order' is rows or columns");
  }
  if (at != NULL && adapter_flag_read(r, at, "at")) {
    out->row_group = read_group(r, out, at, "row");
    out->column_group = read_group(r, out, at, "column");
    if (order != NULL || node_get(map, "split") != NULL)
      field_refuse(&r->field, at->place, "with 'at: yes' each record is one cell: 'order' and 'split' say otherwise");
  }
}

static void read_patterns(struct adapter_reader *r, const struct node *map, struct adapter_spec *out)
{
  static const struct {
    const char *name;
    size_t at;
  } patterns[] = {{"match", offsetof(struct adapter_spec, match)},
                  {"where", offsetof(struct adapter_spec, where)},
                  {"text", offsetof(struct adapter_spec, text)},
                  {"split", offsetof(struct adapter_spec, split)}};
  for (size_t i = 0; i < sizeof patterns / sizeof *patterns; i++) {
    const struct node *node = node_get(map, patterns[i].name);
    if (node != NULL)
      adapter_pattern_read(r, node, patterns[i].name, (void *)((char *)out + patterns[i].at));
  }
  if (out->text.pattern != NULL)
    out->text_group = pattern_group(out->text.pattern, "value");
}

/* Breakpoints that the export does not hold. */
static void read_fixed_axis(struct adapter_reader *r, const struct node *map, const struct node *is,
                            struct adapter_spec *out)
{
  struct field_wanted wanted = {out->name, out->wanted, out->how.unit != NULL ? out->how.unit : out->wanted};
  if (!field_is(&r->field, out->name, is, NODE_LIST, "a list of numbers"))
    return;
  if (is->count == 0 || is->count > LIMIT_AXIS) {
    field_refuse(&r->field, is->place, "'%.*s' has %zu points; 1 to %d are accepted", SLICE_ARG(out->name), is->count,
                 LIMIT_AXIS);
    return;
  }
  struct field_vector *fixed = ARENA_NEW(r->field.arena, struct field_vector);
  *fixed = (struct field_vector){is->count, ARENA_ARRAY(r->field.arena, is->count, double),
                                 ARENA_ARRAY(r->field.arena, is->count, struct place), out->how.unit};
  field_read_numbers(&r->field, &wanted, is, 0, fixed);
  if (fixed->unit == NULL)
    fixed->unit = out->wanted;
  out->fixed = fixed;
  for (size_t i = 0; i < map->count; i++) {
    if (!slice_is(map->pairs[i].key.text, "is") && !slice_is(map->pairs[i].key.text, "unit"))
      field_refuse(&r->field, map->pairs[i].key.place, "fixed breakpoints ('is') take no '%.*s'",
                   SLICE_ARG(map->pairs[i].key.text));
  }
}

void adapter_spec_read(struct adapter_reader *r, const struct node *map, struct slice name, enum adapter_role role,
                       const struct entry *entry, const struct unit *wanted, struct adapter_spec *out)
{
  *out = (struct adapter_spec){.name = name, .place = map->place, .role = role, .wanted = wanted};
  out->how.entry = entry;
  if (!field_is(&r->field, name, map, NODE_MAP, "a map with 'match'"))
    return;
  for (size_t i = 0; i < map->count; i++)
    check_key(r, &map->pairs[i].key, out);
  read_patterns(r, map, out);
  const struct node *is = node_get(map, "is"), *from = node_get(map, "from"), *unused = node_get(map, "unused");
  read_unit(r, node_get(map, "unit"), out);
  if (is != NULL && role == ADAPTER_AXIS) {
    read_fixed_axis(r, map, is, out);
    return;
  }
  if (node_get(map, "match") == NULL) {
    field_refuse(&r->field, map->place, "'%.*s' has no 'match'", SLICE_ARG(name));
    return;
  }
  read_take(r, node_get(map, "take"), out);
  out->needed = adapter_flag_read(r, node_get(map, "needed"), "needed");
  out->hex = adapter_flag_read(r, node_get(map, "hex"), "hex");
  out->once = adapter_flag_read(r, node_get(map, "once"), "once");
  if (from != NULL && field_is(&r->field, slice_of("from"), from, NODE_SCALAR, "the name of a group of 'match'"))
    out->from = read_group(r, out, from, arena_text(r->field.arena, from->text));
  if (unused != NULL)
    out->unused = adapter_texts_read(r, unused, "unused", &out->unused_count);
  adapter_how_read(r, map, name, &out->how, out);
  read_flip(r, node_get(map, "flip"), out);
  read_order(r, map, out);
}
