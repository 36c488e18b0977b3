/* Reads a settings file: a map from dictionary names to values. Reading order: settings_read checks the line that says
 * what the file is, settings_from_node reads the rest. */
#include "read/settings.h"

#include "read/field.h"
#include "text/utf8.h"

#define VERSION_KEY "keyway-settings"
#define SHOWN 60

static void refuse_name(struct field_reader *r, const struct node *key)
{
  struct slice name = key->text, shown = utf8_cut(name, SHOWN);
  field_refuse(r, key->place, "no setting is called '%.*s'", SLICE_ARG(shown));
  if (r->problems->dropped > 0)
    return; /* looking for the nearest of a hostile file's million names would take minutes */
  const struct entry *nearest = vocabulary_nearest(r->vocabulary, SCOPE_TUNE, name);
  if (vocabulary_find(r->vocabulary, SCOPE_JOB, name) != NULL)
    problems_hint(r->problems, "'%.*s' belongs in the job sheet", SLICE_ARG(shown));
  else if (vocabulary_find(r->vocabulary, SCOPE_LOG, name) != NULL)
    problems_hint(r->problems, "'%.*s' is a channel of data logs", SLICE_ARG(shown));
  else if (nearest != NULL)
    problems_hint(r->problems, "did you mean '%.*s'?", SLICE_ARG(nearest->name));
}

static const struct settings *read_names(struct field_reader *r, const struct source *source, const struct node *map,
                                         bool is_file)
{
  size_t count = r->vocabulary->count[SCOPE_TUNE];
  const struct value **values = ARENA_ARRAY(r->arena, count, const struct value *);
  struct settings *settings = ARENA_NEW(r->arena, struct settings);
  for (size_t i = 0; map != NULL && i < map->count; i++) {
    const struct node_pair *pair = &map->pairs[i];
    const struct entry *entry = vocabulary_find(r->vocabulary, SCOPE_TUNE, pair->key.text);
    if (entry == NULL && !(is_file && slice_is(pair->key.text, VERSION_KEY)))
      refuse_name(r, &pair->key);
    else if (entry != NULL)
      values[vocabulary_index(r->vocabulary, SCOPE_TUNE, entry)] = field_read(r, entry, &pair->value);
  }
  settings->source = source;
  settings->values = values;
  return r->refused ? NULL : settings;
}

const struct settings *settings_from_node(struct arena *arena, const struct vocabulary *vocabulary,
                                          const struct source *source, const struct node *map,
                                          struct problems *problems)
{
  struct field_reader r = {.arena = arena, .vocabulary = vocabulary, .problems = problems};
  if (map != NULL && map->kind != NODE_MAP) {
    field_refuse(&r, map->place, "settings are a map from name to value, not %s", node_kind_name(map));
    return NULL;
  }
  return read_names(&r, source, map, false);
}

/* A file without the first line may be a settings file all the same; one in which no name is known is something else,
 * and a problem for each of its lines would help nobody. */
static bool knows_some(const struct field_reader *r, const struct node *root)
{
  for (size_t i = 0; root->kind == NODE_MAP && i < root->count; i++) {
    if (vocabulary_find(r->vocabulary, SCOPE_TUNE, root->pairs[i].key.text) != NULL)
      return true;
  }
  return false;
}

const struct settings *settings_read(struct arena *arena, const struct vocabulary *vocabulary,
                                     const struct source *source, struct problems *problems)
{
  struct field_reader r = {.arena = arena, .vocabulary = vocabulary, .problems = problems};
  struct arena *scratch = arena_new();
  const struct node *root = yaml_read(scratch, source, problems);
  const struct settings *settings = NULL;
  if (root != NULL) {
    bool is_ours = field_check_version(&r, root, VERSION_KEY, "settings file");
    if (is_ours || knows_some(&r, root))
      settings = read_names(&r, source, root, true);
  }
  arena_free(scratch);
  return settings;
}
