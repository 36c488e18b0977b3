/* Reads a job sheet: what the settings file cannot be trusted for. Reading order: job_read, read_sections with the
 * table `sections`, then one function a section. A sheet is filled in by hand, so a blank, "?" or "unknown" is an
 * answer: the value stays NULL and the rules that need it say so. */
#include "read/job.h"

#include "base/limits.h"
#include "read/field.h"
#include "text/utf8.h"

#define VERSION_KEY "keyway-job"
#define SHOWN 60

static const char *const section_names[] = {"title", "stage", "facts", "readings", "hand_checks", "limits", NULL};

struct sheet {
  struct field_reader field;
  struct job *job;
  const struct value **values;
};

static bool is_records(const struct entry *entry)
{
  return entry->kind == VALUE_RECORDS;
}

static void read_title(struct sheet *s, const struct node *node)
{
  if (field_is_unknown(node) || !field_is(&s->field, slice_of("title"), node, NODE_SCALAR, "a text"))
    return;
  s->job->title = arena_slice(s->field.arena, node->text);
}

static void read_stage(struct sheet *s, const struct node *node)
{
  static const char what[] = "one of look, dyno, delivery";
  if (field_is_unknown(node) || !field_is(&s->field, slice_of("stage"), node, NODE_SCALAR, what))
    return;
  struct slice text = slice_trim(node->text), shown = utf8_cut(text, SHOWN);
  s->job->has_stage = stage_find(text, &s->job->stage);
  if (!s->job->has_stage)
    field_refuse(&s->field, node->place, "'stage' takes %s, not '%.*s'", what, SLICE_ARG(shown));
}

static void refuse_name(struct sheet *s, const struct node *key, bool records)
{
  const struct vocabulary *vocabulary = s->field.vocabulary;
  struct problems *problems = s->field.problems;
  struct slice name = key->text, shown = utf8_cut(name, SHOWN);
  const struct entry *known = vocabulary_find(vocabulary, SCOPE_JOB, name);
  field_refuse(&s->field, key->place, "no %s is called '%.*s'", records ? "reading" : "fact", SLICE_ARG(shown));
  if (problems->dropped > 0)
    return; /* looking for the nearest of a hostile file's million names would take minutes */
  const struct entry *nearest = vocabulary_nearest(vocabulary, SCOPE_JOB, name);
  if (known != NULL)
    problems_hint(problems, "'%.*s' belongs under '%s'", SLICE_ARG(shown), records ? "facts" : "readings");
  else if (!records && vocabulary_find(vocabulary, SCOPE_TUNE, name) != NULL)
    problems_hint(problems, "'%.*s' is a setting: it belongs in the settings file", SLICE_ARG(shown));
  else if (nearest != NULL && is_records(nearest) == records)
    problems_hint(problems, "did you mean '%.*s'?", SLICE_ARG(nearest->name));
  else if (nearest != NULL)
    problems_hint(problems, "'%.*s' is one, under '%s'", SLICE_ARG(nearest->name), records ? "facts" : "readings");
}

/* A map of pins, or a list, of which nothing is known is not known itself. */
static bool holds_some(const struct value *value)
{
  if (value->kind == VALUE_PINS)
    return value->as.pins.count > 0;
  return value->kind != VALUE_LIST || value->as.list.count > 0;
}

static void read_facts(struct sheet *s, const struct node *node)
{
  const struct vocabulary *vocabulary = s->field.vocabulary;
  if (field_is_unknown(node) || !field_is(&s->field, slice_of("facts"), node, NODE_MAP, "a map from name to value"))
    return;
  for (size_t i = 0; i < node->count; i++) {
    const struct node *value = &node->pairs[i].value;
    const struct entry *entry = vocabulary_find(vocabulary, SCOPE_JOB, node->pairs[i].key.text);
    if (entry == NULL || is_records(entry)) {
      refuse_name(s, &node->pairs[i].key, false);
    } else if (!field_is_unknown(value)) {
      const struct value *read = field_read(&s->field, entry, value);
      if (read != NULL && holds_some(read))
        s->values[vocabulary_index(vocabulary, SCOPE_JOB, entry)] = read;
    }
  }
}

static const struct record_field *record_field_find(const struct entry *entry, struct slice name, size_t *index)
{
  for (*index = 0; *index < entry->field_count; ++*index) {
    if (slice_equal(entry->fields[*index].name, name))
      return &entry->fields[*index];
  }
  return NULL;
}

static void refuse_field(struct sheet *s, const struct entry *entry, const struct node *key)
{
  struct arena *arena = s->field.problems->arena;
  const char **known = ARENA_ARRAY(arena, entry->field_count + 1, const char *);
  for (size_t i = 0; i < entry->field_count; i++)
    known[i] = arena_text(arena, entry->fields[i].name);
  field_refuse_key(&s->field, key, arena_print(arena, "a record of '%.*s'", SLICE_ARG(entry->name)), known);
}

/* One record; false when nothing in it is known, or nothing could be read. */
static bool read_record(struct sheet *s, const struct entry *entry, const struct node *node, struct record *out)
{
  struct arena *arena = s->field.arena;
  if (field_is_unknown(node) ||
      !field_is(&s->field, entry->name, node, NODE_MAP, "records, each a map from field to value"))
    return false;
  struct quantity *fields = ARENA_ARRAY(arena, entry->field_count, struct quantity);
  struct place *places = ARENA_ARRAY(arena, entry->field_count, struct place);
  bool *has = ARENA_ARRAY(arena, entry->field_count, bool), some = false;
  for (size_t i = 0; i < entry->field_count; i++)
    fields[i].unit = entry->fields[i].unit;
  for (size_t i = 0; i < node->count; i++) {
    size_t index = 0;
    const struct record_field *field = record_field_find(entry, node->pairs[i].key.text, &index);
    const struct node *value = &node->pairs[i].value;
    if (field == NULL) {
      refuse_field(s, entry, &node->pairs[i].key);
      continue;
    }
    struct field_wanted wanted = {field->name, field->unit, field->unit};
    struct field_quantity read;
    if (field_is_unknown(value) || !field_read_quantity(&s->field, &wanted, value, &read))
      continue;
    fields[index] = read.quantity;
    places[index] = value->place;
    has[index] = some = true;
  }
  *out = (struct record){node->place, fields, has, places};
  return some;
}

static void read_reading(struct sheet *s, const struct entry *entry, const struct node *node)
{
  struct arena *arena = s->field.arena;
  bool single = node->kind == NODE_MAP; /* one record without the list around it */
  if (!single && !field_is(&s->field, entry->name, node, NODE_LIST, "a list of records"))
    return;
  size_t held = single ? 1 : node->count, count = 0;
  if (held > LIMIT_ITEMS) {
    field_refuse(&s->field, node->place, "'%.*s' has %zu records; at most %d are accepted", SLICE_ARG(entry->name),
                 held, LIMIT_ITEMS);
    return;
  }
  struct record *items = ARENA_ARRAY(arena, held, struct record);
  for (size_t i = 0; i < held; i++)
    count += read_record(s, entry, single ? node : &node->items[i], &items[count]);
  if (count == 0)
    return;
  struct value *value = ARENA_NEW(arena, struct value);
  value->kind = VALUE_RECORDS;
  value->place = node->place;
  value->as.records = (struct records){entry->field_count, entry->fields, count, items};
  s->values[vocabulary_index(s->field.vocabulary, SCOPE_JOB, entry)] = value;
}

static void read_readings(struct sheet *s, const struct node *node)
{
  if (field_is_unknown(node) ||
      !field_is(&s->field, slice_of("readings"), node, NODE_MAP, "a map from name to a list of records"))
    return;
  for (size_t i = 0; i < node->count; i++) {
    const struct entry *entry = vocabulary_find(s->field.vocabulary, SCOPE_JOB, node->pairs[i].key.text);
    if (entry == NULL || !is_records(entry))
      refuse_name(s, &node->pairs[i].key, true);
    else if (!field_is_unknown(&node->pairs[i].value))
      read_reading(s, entry, &node->pairs[i].value);
  }
}

static struct slice read_word(struct sheet *s, const char *name, const struct node *node)
{
  if (node == NULL || field_is_unknown(node) || !field_is(&s->field, slice_of(name), node, NODE_SCALAR, "a text"))
    return (struct slice){0};
  return arena_slice(s->field.arena, slice_trim(node->text));
}

static void read_checks(struct sheet *s, const struct node *node)
{
  static const char *const known[] = {"done", "by", NULL};
  if (field_is_unknown(node) ||
      !field_is(&s->field, slice_of("hand_checks"), node, NODE_MAP, "a map from check to 'done'"))
    return;
  struct hand_check *checks = ARENA_ARRAY(s->field.arena, node->count, struct hand_check);
  for (size_t i = 0; i < node->count; i++) {
    const struct node *key = &node->pairs[i].key, *value = &node->pairs[i].value;
    checks[i].what = arena_slice(s->field.arena, key->text);
    checks[i].place = key->place;
    if (value->kind == NODE_MAP) {
      field_check_keys(&s->field, value, "a hand check", known);
      checks[i].state = read_word(s, "done", node_get(value, "done"));
      checks[i].by = read_word(s, "by", node_get(value, "by"));
    } else {
      checks[i].state = read_word(s, arena_text(s->field.problems->arena, utf8_cut(key->text, SHOWN)), value);
    }
  }
  s->job->checks = checks;
  s->job->check_count = node->count;
}

static bool read_limit(struct sheet *s, const struct node_pair *pair, struct job_limit *out)
{
  static const char *const known[] = {"value", "reason", NULL};
  const struct unit *bare = unit_find(slice_of("1"));
  struct field_wanted wanted = {pair->key.text, NULL, bare};
  struct field_quantity read;
  const struct node *value = &pair->value;
  out->name = arena_slice(s->field.arena, pair->key.text);
  out->name_place = pair->key.place;
  if (value->kind == NODE_MAP) {
    field_check_keys(&s->field, value, "a limit", known);
    out->reason = read_word(s, "reason", node_get(value, "reason"));
    value = node_get(value, "value");
    if (value == NULL)
      return field_refuse(&s->field, pair->value.place, "'%.*s' has no 'value'", SLICE_ARG(pair->key.text));
  }
  if (!field_read_quantity(&s->field, &wanted, value, &read))
    return false;
  out->value = read.quantity;
  out->bare = !read.has_unit;
  out->place = value->place;
  return true;
}

static void read_limits(struct sheet *s, const struct node *node)
{
  if (field_is_unknown(node) ||
      !field_is(&s->field, slice_of("limits"), node, NODE_MAP, "a map from limit to its value"))
    return;
  struct job_limit *limits = ARENA_ARRAY(s->field.arena, node->count, struct job_limit);
  for (size_t i = 0; i < node->count; i++)
    read_limit(s, &node->pairs[i], &limits[i]);
  s->job->limits = limits;
  s->job->limit_count = node->count;
}

static void refuse_section(struct sheet *s, const struct node *key)
{
  const struct vocabulary *vocabulary = s->field.vocabulary;
  const struct entry *entry = vocabulary_find(vocabulary, SCOPE_JOB, key->text);
  struct slice shown = utf8_cut(key->text, SHOWN);
  if (entry != NULL) {
    field_refuse(&s->field, key->place, "'%.*s' does not stand on its own", SLICE_ARG(shown));
    problems_hint(s->field.problems, "it belongs under '%s'", is_records(entry) ? "readings" : "facts");
  } else {
    field_refuse_key(&s->field, key, "a job sheet", section_names);
    if (vocabulary_find(vocabulary, SCOPE_TUNE, key->text) != NULL)
      problems_hint(s->field.problems, "'%.*s' is a setting: it belongs in the settings file", SLICE_ARG(shown));
  }
}

static void read_sections(struct sheet *s, const struct node *map, bool is_file)
{
  static void (*const read[])(struct sheet *, const struct node *) = {read_title,    read_stage,  read_facts,
                                                                      read_readings, read_checks, read_limits};
  for (size_t i = 0; i < map->count; i++) {
    struct slice key = map->pairs[i].key.text;
    size_t section = 0;
    while (section_names[section] != NULL && !slice_is(key, section_names[section]))
      section++;
    if (section_names[section] != NULL)
      read[section](s, &map->pairs[i].value);
    else if (!(is_file && slice_is(key, VERSION_KEY)))
      refuse_section(s, &map->pairs[i].key);
  }
}

static struct sheet sheet_new(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                              struct problems *problems)
{
  struct sheet sheet = {.field = {.arena = arena, .vocabulary = vocabulary, .problems = problems}};
  sheet.field.may_be_unknown = true;
  sheet.values = ARENA_ARRAY(arena, vocabulary->count[SCOPE_JOB], const struct value *);
  sheet.job = ARENA_NEW(arena, struct job);
  sheet.job->source = source;
  sheet.job->values = sheet.values;
  return sheet;
}

const struct job *job_from_node(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                                const struct node *map, struct problems *problems)
{
  struct sheet sheet = sheet_new(arena, vocabulary, source, problems);
  if (map != NULL && map->kind != NODE_MAP)
    field_refuse(&sheet.field, map->place, "a job sheet is a map from name to value, not %s", node_kind_name(map));
  else if (map != NULL)
    read_sections(&sheet, map, false);
  return sheet.field.refused ? NULL : sheet.job;
}

static bool knows_some(const struct node *root)
{
  for (const char *const *name = section_names; *name != NULL; name++) {
    if (node_get(root, *name) != NULL)
      return true;
  }
  return false;
}

const struct job *job_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                           struct problems *problems)
{
  struct arena *scratch = arena_new();
  const struct node *root = yaml_read(scratch, source, problems);
  const struct job *job = NULL;
  if (root != NULL) {
    struct sheet sheet = sheet_new(arena, vocabulary, source, problems);
    if (field_check_version(&sheet.field, root, VERSION_KEY, "job sheet") || knows_some(root))
      read_sections(&sheet, root, true);
    job = sheet.field.refused ? NULL : sheet.job;
  }
  arena_free(scratch);
  return job;
}
