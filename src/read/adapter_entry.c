/* The `settings` of an adapter: one entry a name of the dictionary. Reading order: adapter_settings_read, read_entry;
 * then the kinds. */
#include "read/adapter_parts.h"

static const char *kind_words(enum value_kind kind)
{
  return kind == VALUE_CURVE ? "a curve: it takes 'x' and 'value'" : "a table: it takes 'x', 'y' and 'value'";
}

static enum adapter_role role_of(enum value_kind kind)
{
  switch (kind) {
  case VALUE_SWITCH:
    return ADAPTER_SWITCH;
  case VALUE_CHOICE:
    return ADAPTER_CHOICE;
  case VALUE_TEXT:
    return ADAPTER_TEXT;
  case VALUE_LIST:
    return ADAPTER_LIST;
  default:
    return ADAPTER_NUMBER;
  }
}

/* A value that the export does not hold but its kind implies. */
static bool read_fixed(struct adapter_reader *r, const struct node *map, struct adapter_entry *out)
{
  const struct node *is = node_get(map, "is");
  if (is == NULL)
    return false;
  for (size_t i = 0; i < map->count; i++) {
    if (!slice_is(map->pairs[i].key.text, "is"))
      field_refuse(&r->field, map->pairs[i].key.place, "a fixed value ('is') takes no '%.*s'",
                   SLICE_ARG(map->pairs[i].key.text));
  }
  out->fixed = field_read(&r->field, out->entry, is);
  return true;
}

static void read_part(struct adapter_reader *r, const struct node *map, const char *key, enum adapter_role role,
                      const struct unit *wanted, struct adapter_entry *entry, struct adapter_spec *out)
{
  const struct node *node = node_get(map, key);
  struct slice name = slice_of(arena_print(r->field.arena, "%.*s.%s", SLICE_ARG(entry->entry->name), key));
  if (node == NULL)
    field_refuse(&r->field, map->place, "'%.*s' has no '%s'", SLICE_ARG(entry->entry->name), key);
  else
    adapter_spec_read(r, node, name, role, entry->entry, wanted, out);
}

static void read_grid(struct adapter_reader *r, const struct node *map, struct adapter_entry *out)
{
  static const char *const curve_keys[] = {"x", "value", "needed", NULL};
  static const char *const table_keys[] = {"x", "y", "value", "needed", NULL};
  const struct entry *entry = out->entry;
  bool table = entry->kind == VALUE_TABLE;
  if (!field_is(&r->field, entry->name, map, NODE_MAP, table ? "'x', 'y' and 'value'" : "'x' and 'value'"))
    return;
  if (read_fixed(r, map, out))
    return;
  const struct node *match = node_key(map, "match");
  if (match != NULL && node_get(map, "value") == NULL) {
    field_refuse(&r->field, match->place, "'%.*s' is %s, each with its own 'match'", SLICE_ARG(entry->name),
                 kind_words(entry->kind));
    return;
  }
  field_check_keys(&r->field, map, arena_print(r->field.arena, "'%.*s'", SLICE_ARG(entry->name)),
                   table ? table_keys : curve_keys);
  read_part(r, map, "x", ADAPTER_AXIS, entry->x_unit, out, &out->x);
  if (table)
    read_part(r, map, "y", ADAPTER_AXIS, entry->y_unit, out, &out->y);
  read_part(r, map, "value", table ? ADAPTER_TABLE : ADAPTER_CURVE, entry->unit, out, &out->value);
  out->value.needed = adapter_flag_read(r, node_get(map, "needed"), "needed");
}

static void read_entry(struct adapter_reader *r, const struct node *node, struct adapter_entry *out)
{
  const struct entry *entry = out->entry;
  if (entry->kind == VALUE_PINS) {
    adapter_pins_read(r, node, out);
    return;
  }
  if (entry->kind == VALUE_CURVE || entry->kind == VALUE_TABLE) {
    read_grid(r, node, out);
    return;
  }
  if (!field_is(&r->field, entry->name, node, NODE_MAP, "a map with 'match'"))
    return;
  if (!read_fixed(r, node, out))
    adapter_spec_read(r, node, entry->name, role_of(entry->kind), entry, entry->unit, &out->value);
}

void adapter_settings_read(struct adapter_reader *r, const struct node *map)
{
  const struct vocabulary *vocabulary = r->field.vocabulary;
  struct adapter *adapter = r->adapter;
  adapter->entries = ARENA_ARRAY(r->field.arena, vocabulary->count[SCOPE_TUNE], struct adapter_entry);
  adapter->has_settings = map != NULL;
  if (map == NULL || !field_is(&r->field, slice_of("settings"), map, NODE_MAP, "a map from name to entry"))
    return;
  for (size_t i = 0; i < map->count; i++) {
    const struct node_pair *pair = &map->pairs[i];
    const struct entry *entry = vocabulary_find(vocabulary, SCOPE_TUNE, pair->key.text);
    if (entry == NULL) {
      adapter_refuse_name(r, SCOPE_TUNE, &pair->key);
      continue;
    }
    struct adapter_entry *out = &adapter->entries[vocabulary_index(vocabulary, SCOPE_TUNE, entry)];
    out->entry = entry;
    read_entry(r, &pair->value, out);
  }
}
