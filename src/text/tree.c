/* JSON and YAML: every scalar of the tree that text/json.h or text/yaml.h builds. Reading order: tree_read, walk, then
 * how a list's item or a map's member gets its step. */
#include "base/limits.h"
#include "text/flat.h"
#include "text/json.h"
#include "text/yaml.h"

static bool walk(struct flat *flat, uint32_t step, const struct node *node, const struct node_pair *key);

/* null, ~ or nothing at all is no value. */
static bool is_null(const struct node *node)
{
  return !node->quoted && !node->block &&
         (node->text.size == 0 || slice_is(node->text, "~") || slice_is(node->text, "null"));
}

static bool add_scalar(struct flat *flat, uint32_t step, struct slice tail, const struct node *node)
{
  struct slice text = flat_trim(node->text);
  if (is_null(node) || text.size == 0)
    return true;
  size_t from = (size_t)(text.at - node->text.at);
  struct place place = node->place;
  if (flat->style->shape == SHAPE_YAML)
    place = node_place(flat->source, node, from, from + text.size);
  return flat_record(flat, step, tail, text, place);
}

/* The member of a map that goes into its step, NULL for none: the first of the style's keys counts. */
static const struct node_pair *key_member(const struct flat *flat, const struct node *map)
{
  for (size_t k = 0; map->kind == NODE_MAP && k < flat->style->key_count; k++) {
    for (size_t i = 0; i < map->count; i++) {
      const struct node_pair *pair = &map->pairs[i];
      if (slice_equal(flat->style->keys[k], pair->key.text) && pair->value.kind == NODE_SCALAR &&
          !is_null(&pair->value) && flat_trim(pair->value.text).size > 0)
        return pair;
    }
  }
  return NULL;
}

/* `name` is a member's name or an item's number. */
static bool add_child(struct flat *flat, uint32_t parent, struct slice name, bool is_item, const struct node *node)
{
  const struct node_pair *key = key_member(flat, node);
  if (key != NULL) {
    struct slice value = flat_trim(key->value.text);
    name = slice_of(arena_print(flat->scratch, "%.*s:%.*s", is_item ? 0 : (int)name.size, name.at, SLICE_ARG(value)));
  }
  if (node->kind == NODE_SCALAR && is_item)
    return add_scalar(flat, parent, name, node);
  uint32_t step = flat_step(flat, parent, name, node->place);
  return step != 0 && walk(flat, step, node, key);
}

static bool walk_list(struct flat *flat, uint32_t step, const struct node *list)
{
  for (size_t i = 0; i < list->count; i++) {
    if (!add_child(flat, step, flat_number(flat, i + 1), true, &list->items[i]))
      return false;
  }
  return true;
}

/* As deep as yaml_read lets it: LIMIT_YAML_DEPTH. */
static bool walk(struct flat *flat, uint32_t step, const struct node *node, const struct node_pair *key)
{
  if (node->kind == NODE_SCALAR)
    return add_scalar(flat, step, (struct slice){"", 0}, node);
  if (node->kind == NODE_LIST)
    return walk_list(flat, step, node);
  size_t before = flat->record_count;
  for (size_t i = 0; i < node->count; i++) {
    const struct node_pair *pair = &node->pairs[i];
    if (pair != key && !add_child(flat, step, pair->key.text, false, &pair->value))
      return false;
  }
  /* Its name is a record only when it has no other. */
  if (key != NULL && flat->record_count == before)
    return add_scalar(flat, step, key->key.text, &key->value);
  return true;
}

bool tree_read(struct flat *flat)
{
  const struct node *root = flat->style->shape == SHAPE_JSON
                                ? json_read(flat->arena, flat->scratch, flat->source, flat->problems)
                                : yaml_read(flat->arena, flat->source, flat->problems);
  return root != NULL && walk(flat, 0, root, NULL);
}
