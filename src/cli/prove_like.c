/* A case that is like another one takes over its inputs: tune, before, job, log, stage; not what it expects. Then what
 * `without` names is left out, and what the case itself says is put over. Reading order: case_written_out, leave_out,
 * put_over. */
#include "cli/prove_like.h"

static size_t find(const struct node *map, struct slice key)
{
  size_t i = 0;
  while (i < map->count && !slice_equal(map->pairs[i].key.text, key))
    i++;
  return i;
}

static struct node *member(struct node *map, const char *key)
{
  size_t i = map->kind == NODE_MAP ? find(map, slice_of(key)) : 0;
  return map->kind == NODE_MAP && i < map->count ? &map->pairs[i].value : NULL;
}

/* A map that may be changed without its origin. */
static struct node map_copy(struct arena *arena, const struct node *map)
{
  struct node copy = *map;
  copy.pairs = ARENA_ARRAY(arena, map->count + 1, struct node_pair);
  for (size_t i = 0; i < map->count; i++) {
    copy.pairs[i] = map->pairs[i];
    if (map->pairs[i].value.kind == NODE_MAP)
      copy.pairs[i].value = map_copy(arena, &map->pairs[i].value);
  }
  return copy;
}

/* The pairs of `own` put over those of `base`, maps within them `depth` levels down too. With `after`, a pair of the
 * lowest level does not stand in place of the one of its name but behind it: the expression of a channel may use what
 * the channel was. */
static struct node put_over(struct arena *arena, const struct node *base, const struct node *own, int depth, bool after)
{
  if (depth == 0 || base->kind != NODE_MAP || own->kind != NODE_MAP)
    return *own;
  struct node out = *own;
  out.pairs = ARENA_ARRAY(arena, base->count + own->count + 1, struct node_pair);
  out.count = 0;
  for (size_t i = 0; i < base->count; i++) {
    const struct node_pair *pair = &base->pairs[i];
    size_t at = find(own, pair->key.text);
    bool last = i + 1 == base->count || !slice_equal(base->pairs[i + 1].key.text, pair->key.text);
    if (at == own->count || (after && depth == 1))
      out.pairs[out.count++] = *pair;
    if (at < own->count && last)
      out.pairs[out.count++] = (struct node_pair){
          own->pairs[at].key, put_over(arena, &pair->value, &own->pairs[at].value, depth - 1, after)};
  }
  for (size_t i = 0; i < own->count; i++) {
    if (find(base, own->pairs[i].key.text) == base->count)
      out.pairs[out.count++] = own->pairs[i];
  }
  return out;
}

static bool drop(struct node *map, struct slice key)
{
  size_t kept = 0, count = map && map->kind == NODE_MAP ? map->count : 0;
  for (size_t i = 0; i < count; i++) {
    if (!slice_equal(map->pairs[i].key.text, key))
      map->pairs[kept++] = map->pairs[i];
  }
  if (map && map->kind == NODE_MAP)
    map->count = kept;
  return kept < count;
}

/* `name` is that of an input ("job"), or of something in one ("log.lambda"). */
static bool leave_out(struct node *one, struct slice name)
{
  size_t dot = 0;
  while (dot < name.size && name.at[dot] != '.')
    dot++;
  struct slice input = slice_part(name, 0, dot);
  if (dot == name.size)
    return drop(one, input);
  struct slice key = slice_part(name, dot + 1, name.size);
  struct node *job = member(one, "job"), *log = member(one, "log");
  if (slice_is(input, "log"))
    return log != NULL && drop(member(log, "channels"), key);
  if (slice_is(input, "limit"))
    return job != NULL && drop(member(job, "limits"), key);
  if (slice_is(input, "job"))
    return job != NULL && (drop(member(job, "facts"), key) || drop(member(job, "readings"), key));
  return (slice_is(input, "tune") && drop(member(one, "tune"), key)) ||
         (slice_is(input, "before") && drop(member(one, "before"), key));
}

/* Its inputs alone. */
static struct node inputs_of(struct arena *arena, const struct node *one)
{
  static const char *const keys[] = {"tune", "before", "job", "log", "stage"};
  struct node inputs = map_copy(arena, one);
  inputs.count = 0;
  for (size_t i = 0; i < one->count; i++) {
    bool taken = false;
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++)
      taken = taken || slice_is(one->pairs[i].key.text, keys[k]);
    if (taken)
      inputs.pairs[inputs.count++] = inputs.pairs[i];
  }
  return inputs;
}

static bool leave_out_all(struct node *one, const struct node *list, struct problems *problems)
{
  if (list->kind != NODE_LIST)
    return problems_add(problems, list->place, "a list of names is expected here");
  for (size_t i = 0; i < list->count; i++) {
    if (list->items[i].kind != NODE_SCALAR || !leave_out(one, list->items[i].text))
      return problems_add(problems, list->items[i].place, "the case that it is like has no '%.*s' to leave out",
                          SLICE_ARG(list->items[i].text));
  }
  return true;
}

bool case_written_out(struct arena *arena, const struct node *node, const struct node *before, size_t count,
                      struct node *out, struct problems *problems)
{
  const struct node *like = node_get(node, "like"), *without = node_get(node, "without");
  *out = *node;
  if (!like)
    return !without || problems_add(problems, without->place, "'without' leaves out of the case that 'like' names");
  size_t found = count;
  for (size_t i = 0; i < count && found == count; i++) {
    const struct node *name = node_get(&before[i], "name");
    found = name && name->kind == NODE_SCALAR && slice_equal(name->text, like->text) ? i : count;
  }
  if (found == count)
    return problems_add(problems, like->place, "no case before this one is called '%.*s'", SLICE_ARG(like->text));
  struct node inputs = inputs_of(arena, &before[found]), own = map_copy(arena, node);
  if (without && !leave_out_all(&inputs, without, problems))
    return false;
  drop(&own, slice_of("like"));
  drop(&own, slice_of("without"));
  for (size_t i = 0; i < own.count; i++) {
    struct node_pair *pair = &own.pairs[i];
    const struct node *base = node_get(&inputs, arena_text(arena, pair->key.text));
    bool log = slice_is(pair->key.text, "log");
    if (base)
      pair->value = put_over(arena, base, &pair->value, log || slice_is(pair->key.text, "job") ? 2 : 1, log);
  }
  *out = put_over(arena, &inputs, &own, 1, false);
  return true;
}
