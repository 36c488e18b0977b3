/* Reads and checks an adapter file, and applies it to an export. Reading order: adapter_read; read_reads (what the
 * export looks like); then adapter_entry.c and adapter_log.c. Applying: adapter_settings, which flattens the export
 * (text/record.h), looks for what the adapter expects, and takes one entry after the other (adapter_scalar.c,
 * adapter_grid.c, adapter_pins.c). Neither stops at the first problem. */
#include "read/adapter_parts.h"

#include "text/utf8.h"

#define SHOWN 60

/* Which shapes a key of `reads` goes with. */
static const struct reads_key {
  const char *name;
  unsigned shapes;
} reads_keys[] = {
    {"comment", 1u << SHAPE_LINES | 1u << SHAPE_TABLE},
    {"section", 1u << SHAPE_LINES},
    {"separator", 1u << SHAPE_LINES},
    {"delimiter", 1u << SHAPE_TABLE},
    {"widths", 1u << SHAPE_TABLE},
    {"key", 1u << SHAPE_XML | 1u << SHAPE_JSON | 1u << SHAPE_YAML},
};

static bool find_encoding(struct slice name, enum record_encoding *out)
{
  static const char *const names[ENCODING_COUNT] = {"auto", "utf-8", "utf-16", "latin-1"};
  for (size_t i = 0; i < ENCODING_COUNT; i++) {
    if (adapter_same_word(name, slice_of(names[i]))) {
      *out = (enum record_encoding)i;
      return true;
    }
  }
  return false;
}

static void read_shape(struct adapter_reader *r, const struct node *map)
{
  struct adapter *adapter = r->adapter;
  const struct node *shape = node_get(map, "shape");
  enum record_shape found = SHAPE_LINES;
  if (shape != NULL && (shape->kind != NODE_SCALAR || !shape_find(slice_trim(shape->text), &found))) {
    field_refuse(&r->field, shape->place, "'shape' is lines, table, xml, json or yaml");
    return;
  }
  adapter->has_style = shape != NULL;
  adapter->style = record_style_usual(r->field.arena, found);
  for (size_t i = 0; i < sizeof reads_keys / sizeof *reads_keys; i++) {
    const struct node *key = node_key(map, reads_keys[i].name);
    if (key == NULL)
      continue;
    if (shape == NULL)
      field_refuse(&r->field, key->place, "'%s' needs a 'shape' beside it", reads_keys[i].name);
    else if ((reads_keys[i].shapes >> found & 1u) == 0)
      field_refuse(&r->field, key->place, "exports of shape %s have no '%s'", shape_name(found), reads_keys[i].name);
  }
}

static void read_delimiter(struct adapter_reader *r, const struct node *node)
{
  if (node == NULL || !field_is(&r->field, slice_of("delimiter"), node, NODE_SCALAR, "a character, or tab"))
    return;
  bool tab = slice_is(node->text, "tab");
  if (!tab && (node->text.size != 1 || node->text.at[0] == '"' || (unsigned char)node->text.at[0] < ' '))
    field_refuse(&r->field, node->place, "'delimiter' is one character such as \",\" or \";\", or tab");
  else
    r->adapter->style.delimiter = tab ? '\t' : node->text.at[0];
}

static void read_widths(struct adapter_reader *r, const struct node *node)
{
  if (node == NULL || !field_is(&r->field, slice_of("widths"), node, NODE_LIST, "a list of whole numbers"))
    return;
  size_t *widths = ARENA_ARRAY(r->field.arena, node->count, size_t);
  for (size_t i = 0; i < node->count; i++) {
    double width = 0;
    if (!adapter_real_read(r, &node->items[i], "widths", &width))
      continue;
    if (!(width >= 1 && width <= 65536 && width == (double)(size_t)width))
      field_refuse(&r->field, node->items[i].place, "a column is 1 to 65536 characters wide");
    else
      widths[i] = (size_t)width;
  }
  r->adapter->style.delimiter = '\0';
  r->adapter->style.width_count = node->count;
  r->adapter->style.widths = widths;
}

static void read_decimal(struct adapter_reader *r, const struct node *map)
{
  const struct node *decimal = node_get(map, "decimal"), *thousands = node_get(map, "thousands");
  struct adapter *adapter = r->adapter;
  adapter->decimal = '.';
  if (decimal != NULL && decimal->kind == NODE_SCALAR && slice_is(decimal->text, "comma"))
    adapter->decimal = ',';
  else if (decimal != NULL && !(decimal->kind == NODE_SCALAR && slice_is(decimal->text, "point")))
    field_refuse(&r->field, decimal->place, "'decimal' is point or comma");
  if (thousands == NULL ||
      !field_is(&r->field, slice_of("thousands"), thousands, NODE_SCALAR, "a character between digits"))
    return;
  uint32_t code = 0;
  struct slice text = thousands->text;
  adapter->thousands = text;
  if (text.size > 0 && (utf8_read(text, &code) != text.size || (code >= '0' && code <= '9') || code == '-'))
    field_refuse(&r->field, thousands->place, "'thousands' is one character, and no digit");
  if (text.size == 1 && text.at[0] == adapter->decimal)
    field_refuse(&r->field, thousands->place, "'thousands' and 'decimal' are the same sign");
}

static void read_reads(struct adapter_reader *r, const struct node *map)
{
  static const char *const keys[] = {"shape",  "encoding", "comment",   "section", "separator", "delimiter",
                                     "widths", "decimal",  "thousands", "key",     NULL};
  struct adapter *adapter = r->adapter;
  adapter->decimal = '.';
  if (map == NULL || !field_is(&r->field, slice_of("reads"), map, NODE_MAP, "a map"))
    return;
  field_check_keys(&r->field, map, "'reads'", keys);
  read_shape(r, map);
  read_delimiter(r, node_get(map, "delimiter"));
  read_widths(r, node_get(map, "widths"));
  read_decimal(r, map);
  const struct node *encoding = node_get(map, "encoding"), *section = node_get(map, "section");
  const struct node *separator = node_get(map, "separator"), *comment = node_get(map, "comment");
  const struct node *key = node_get(map, "key");
  if (encoding != NULL && (encoding->kind != NODE_SCALAR || !find_encoding(encoding->text, &adapter->encoding)))
    field_refuse(&r->field, encoding->place, "'encoding' is auto, utf-8, utf-16 or latin-1");
  adapter->style.encoding = adapter->encoding;
  struct adapter_pattern pattern = {NULL, {NULL, 0}};
  if (section != NULL && adapter_pattern_read(r, section, "section", &pattern))
    adapter->style.section = pattern.pattern;
  if (separator != NULL && separator->kind == NODE_SCALAR && separator->text.size > 0)
    adapter->style.separator = separator->text;
  else if (separator != NULL)
    field_refuse(&r->field, separator->place, "'separator' is what stands between name and value, such as \"=\"");
  if (comment != NULL)
    adapter->style.comments = adapter_texts_read(r, comment, "comment", &adapter->style.comment_count);
  if (key != NULL)
    adapter->style.keys = adapter_texts_read(r, key, "key", &adapter->style.key_count);
}

static void read_units(struct adapter_reader *r, const struct node *map)
{
  struct adapter *adapter = r->adapter;
  if (map == NULL || !field_is(&r->field, slice_of("units"), map, NODE_MAP, "a map from the export's words to units"))
    return;
  adapter->units = ARENA_ARRAY(r->field.arena, map->count, struct adapter_unit);
  for (size_t i = 0; i < map->count; i++) {
    struct slice text = slice_trim(map->pairs[i].key.text);
    /* Not counted before it is read: no word stands for another one. */
    const struct unit *unit = adapter_unit_read(r, &map->pairs[i].value, text, NULL);
    if (unit != NULL)
      adapter->units[adapter->unit_count++] = (struct adapter_unit){text, unit};
  }
}

static void read_root(struct adapter_reader *r, const struct node *root)
{
  static const char *const keys[] = {"keyway-adapter", "name",  "about",    "reads", "expect",
                                     "ignore",         "units", "settings", "log",   NULL};
  struct adapter *adapter = r->adapter;
  field_check_keys(&r->field, root, "an adapter", keys);
  const struct node *name = node_get(root, "name"), *about = node_get(root, "about");
  const struct node *expect = node_get(root, "expect"), *ignore = node_get(root, "ignore");
  if (name != NULL && field_is(&r->field, slice_of("name"), name, NODE_SCALAR, "a text"))
    adapter->name = name->text;
  if (about != NULL)
    field_is(&r->field, slice_of("about"), about, NODE_SCALAR, "a text");
  read_reads(r, node_get(root, "reads"));
  if (expect != NULL)
    adapter_wishes_read(r, expect, "expect", &adapter->expect_count, &adapter->expect);
  if (ignore != NULL)
    adapter_wishes_read(r, ignore, "ignore", &adapter->ignore_count, &adapter->ignore);
  read_units(r, node_get(root, "units"));
  adapter_settings_read(r, node_get(root, "settings"));
  adapter_log_read(r, node_get(root, "log"));
  if (!adapter->has_settings && !adapter->has_log)
    field_refuse(&r->field, root->place, "an adapter has 'settings', a 'log', or both");
}

struct adapter *adapter_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                             struct problems *problems)
{
  struct adapter *adapter = ARENA_NEW(arena, struct adapter);
  struct adapter_reader r = {.source = source, .adapter = adapter};
  r.field = (struct field_reader){.arena = arena, .vocabulary = vocabulary, .problems = problems};
  adapter->source = source;
  const struct node *root = yaml_read(arena, source, problems);
  if (root == NULL)
    return NULL;
  if (field_check_version(&r.field, root, "keyway-adapter", "adapter") && root->kind == NODE_MAP)
    read_root(&r, root);
  if (!r.field.refused)
    return adapter;
  adapter_free(adapter);
  return NULL;
}

void adapter_free(struct adapter *adapter)
{
  for (size_t i = 0; adapter != NULL && i < adapter->pattern_count; i++)
    pattern_free(adapter->patterns[i]);
  if (adapter != NULL)
    adapter->pattern_count = 0;
}

struct slice adapter_name(const struct adapter *adapter)
{
  return adapter->name.size > 0 ? adapter->name : adapter->source->name;
}

bool adapter_has_settings(const struct adapter *adapter)
{
  return adapter->has_settings;
}

bool adapter_has_log(const struct adapter *adapter)
{
  return adapter->has_log;
}
