/* Reads the dictionary. Reading order: the table `keys` (what an entry may hold), read_entry, read_scope,
 * check_aliases, vocabulary_read. A wrong dictionary is a problem of the pack: it ships with the program, but may be
 * replaced. */
#include "read/vocabulary.h"

#include "base/limits.h"
#include "base/number.h"
#include "text/yaml.h"

#include <stdint.h>
#include <stdlib.h>

#define UNITS_KEPT 64

struct unit_seen {
  struct slice text;
  const struct unit *unit;
};

struct reader {
  struct arena *arena;
  struct problems *problems;
  bool refused;
  struct unit_seen seen[UNITS_KEPT]; /* a dictionary names some 30 units some 200 times, at every start */
  size_t seen_count;
};

#define REFUSE(r, place, ...) ((r)->refused = true, problems_add((r)->problems, (place), __VA_ARGS__))

struct kind_word {
  const char *name;
  enum value_kind kind;
};
static const struct kind_word kind_words[] = {
    {"number", VALUE_NUMBER}, {"switch", VALUE_SWITCH}, {"choice", VALUE_CHOICE},
    {"text", VALUE_TEXT},     {"list", VALUE_LIST},     {"curve", VALUE_CURVE},
    {"table", VALUE_TABLE},   {"pins", VALUE_PINS},     {"records", VALUE_RECORDS},
};

static const char *const scope_words[SCOPE_COUNT] = {"tune", "log", "job"};

static bool is_text(struct reader *r, const struct node *node, const char *what)
{
  if (node->kind == NODE_SCALAR && node->text.size > 0)
    return true;
  return REFUSE(r, node->place, "%s must be a text", what);
}

static const struct unit *read_unit(struct reader *r, const struct node *node)
{
  const char *why = NULL;
  if (!is_text(r, node, "a unit"))
    return NULL;
  for (size_t i = 0; i < r->seen_count; i++) {
    if (slice_equal(r->seen[i].text, node->text))
      return r->seen[i].unit;
  }
  const struct unit *unit = unit_read(r->arena, node->text, &why);
  if (unit == NULL)
    REFUSE(r, node->place, "%s", why);
  else if (r->seen_count < UNITS_KEPT)
    r->seen[r->seen_count++] = (struct unit_seen){node->text, unit};
  return unit;
}

static void read_kind(struct reader *r, const struct node *node, enum scope scope, struct entry *entry)
{
  for (size_t i = 0; i < sizeof kind_words / sizeof *kind_words; i++) {
    if (node->kind != NODE_SCALAR || !slice_is(node->text, kind_words[i].name))
      continue;
    entry->kind = kind_words[i].kind;
    if (scope == SCOPE_LOG) {
      entry->on_off = entry->kind == VALUE_SWITCH;
      if (entry->kind != VALUE_SWITCH && entry->kind != VALUE_NUMBER)
        REFUSE(r, node->place, "a log channel is a number or a switch");
      entry->kind = VALUE_SERIES;
    }
    if (scope == SCOPE_TUNE && entry->kind == VALUE_RECORDS)
      REFUSE(r, node->place, "only a job sheet holds records");
    return;
  }
  REFUSE(r, node->place, "this is no kind of value");
  problems_hint(r->problems, "number, switch, choice, text, list, curve, table, pins or records");
}

static const struct slice *read_words(struct reader *r, const struct node *node, size_t *count)
{
  *count = 0;
  if (node->kind != NODE_LIST || node->count == 0 || node->count > LIMIT_ITEMS) {
    REFUSE(r, node->place, "a list of words is expected");
    return NULL;
  }
  struct slice *words = ARENA_ARRAY(r->arena, node->count, struct slice);
  for (size_t i = 0; i < node->count; i++) {
    if (is_text(r, &node->items[i], "a word of this list"))
      words[i] = node->items[i].text;
  }
  *count = node->count;
  return words;
}

static void read_of(struct reader *r, const struct node *node, struct entry *entry)
{
  if (node->kind == NODE_LIST) {
    entry->choices = read_words(r, node, &entry->choice_count);
    return;
  }
  if (node->kind != NODE_MAP || node->count == 0) {
    REFUSE(r, node->place, "'of' is a list of choices, or a map from field to unit");
    return;
  }
  struct record_field *fields = ARENA_ARRAY(r->arena, node->count, struct record_field);
  for (size_t i = 0; i < node->count; i++)
    fields[i] = (struct record_field){node->pairs[i].key.text, read_unit(r, &node->pairs[i].value)};
  entry->fields = fields;
  entry->field_count = node->count;
}

static void read_axis(struct reader *r, const struct node *node, struct slice *channel, const struct unit **unit)
{
  const struct node *name = node_get(node, "channel"), *text = node_get(node, "unit");
  if (name == NULL || text == NULL || node->count != 2) {
    REFUSE(r, node->place, "an axis is written {channel: NAME, unit: UNIT}");
    return;
  }
  if (is_text(r, name, "a channel"))
    *channel = name->text;
  *unit = read_unit(r, text);
}

/* As written; settle_range turns it into base units when the unit is known. */
static void read_range(struct reader *r, const struct node *node, struct entry *entry)
{
  double *ends[] = {&entry->range_low, &entry->range_high};
  bool good = node->kind == NODE_LIST && node->count == 2;
  for (size_t i = 0; good && i < 2; i++) {
    const struct node *end = &node->items[i];
    good = end->kind == NODE_SCALAR && end->text.size > 0 && number_read(end->text, '.', ends[i]) == end->text.size;
  }
  entry->has_range = good && entry->range_low < entry->range_high;
  if (!entry->has_range)
    REFUSE(r, node->place, "a range is the lowest and the highest plausible value: [LOWEST, HIGHEST]");
}

static void settle_range(struct reader *r, struct entry *entry, struct place place)
{
  if (!entry->has_range)
    return;
  if (entry->unit == NULL) {
    REFUSE(r, place, "'%.*s' takes no 'range': it has no unit", SLICE_ARG(entry->name));
    return;
  }
  entry->range_low = unit_to_base(entry->unit, entry->range_low);
  entry->range_high = unit_to_base(entry->unit, entry->range_high);
}

static void read_key(struct reader *r, const struct node_pair *pair, enum scope scope, struct entry *entry)
{
  const struct node *value = &pair->value;
  struct slice key = pair->key.text;
  if (slice_is(key, "kind")) {
    read_kind(r, value, scope, entry);
  } else if (slice_is(key, "unit")) {
    entry->unit = read_unit(r, value);
  } else if (slice_is(key, "x")) {
    read_axis(r, value, &entry->x_channel, &entry->x_unit);
  } else if (slice_is(key, "y")) {
    read_axis(r, value, &entry->y_channel, &entry->y_unit);
  } else if (slice_is(key, "of")) {
    read_of(r, value, entry);
  } else if (slice_is(key, "range")) {
    read_range(r, value, entry);
  } else if (slice_is(key, "also")) {
    entry->also = read_words(r, value, &entry->also_count);
  } else if (slice_is(key, "about")) {
    if (is_text(r, value, "'about'"))
      entry->about = value->text;
  } else {
    REFUSE(r, pair->key.place, "an entry has no '%.*s'", SLICE_ARG(key));
    problems_hint(r->problems, "kind, unit, x, y, of, also, range, about");
  }
}

/* What a kind needs and what it may not have; the whole entry in one glance. */
static void check_entry(struct reader *r, const struct entry *entry, struct place place)
{
  bool takes_unit = entry->kind == VALUE_NUMBER || entry->kind == VALUE_LIST || entry->kind == VALUE_CURVE ||
                    entry->kind == VALUE_TABLE || entry->kind == VALUE_SERIES;
  bool takes_x = entry->kind == VALUE_CURVE || entry->kind == VALUE_TABLE;
  struct {
    bool has, takes;
    const char *key;
  } const rows[] = {
      {entry->unit != NULL, takes_unit, "unit"},
      {entry->x_unit != NULL, takes_x, "x"},
      {entry->y_unit != NULL, entry->kind == VALUE_TABLE, "y"},
      {entry->choices != NULL, entry->kind == VALUE_CHOICE, "of"},
      {entry->fields != NULL, entry->kind == VALUE_RECORDS, "of"},
  };
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    if (rows[i].has != rows[i].takes)
      REFUSE(r, place, "'%.*s' %s '%s'", SLICE_ARG(entry->name), rows[i].takes ? "needs" : "takes no", rows[i].key);
  }
}

static void read_entry(struct reader *r, const struct node_pair *pair, enum scope scope, struct entry *entry)
{
  entry->name = pair->key.text;
  entry->kind = scope == SCOPE_LOG ? VALUE_SERIES : VALUE_NUMBER;
  if (pair->value.kind != NODE_MAP) {
    REFUSE(r, pair->value.place, "an entry is a map of kind, unit and the like");
    return;
  }
  bool refused = r->refused;
  r->refused = false;
  for (size_t i = 0; i < pair->value.count; i++)
    read_key(r, &pair->value.pairs[i], scope, entry);
  if (!r->refused) {
    check_entry(r, entry, pair->key.place);
    settle_range(r, entry, pair->key.place);
  }
  r->refused = r->refused || refused;
}

/* A name or another name, with case and separators taken out: as loosely as anybody may compare them. */
struct label {
  const char *folded;
  const struct entry *entry;
  struct slice text;
  bool also; /* not its proper name: those may differ by a separator alone */
};

static const char *fold(struct arena *arena, struct slice text)
{
  char *folded = arena_text(arena, text);
  size_t used = 0;
  for (size_t i = 0; i < text.size; i++) {
    char c = text.at[i];
    if (strchr("_-. ", c) == NULL)
      folded[used++] = c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
  }
  folded[used] = '\0';
  return folded;
}

static int label_compare(const void *a, const void *b)
{
  const struct label *x = a, *y = b;
  int order = strcmp(x->folded, y->folded);
  return order != 0 ? order : (x->entry > y->entry) - (x->entry < y->entry);
}

/* No two entries of a scope may answer to the same word. */
static void check_aliases(struct reader *r, const struct node *map, const struct entry *entries, size_t count)
{
  size_t total = count, used = 0;
  for (size_t i = 0; i < count; i++)
    total += entries[i].also_count;
  struct label *labels = ARENA_ARRAY(r->arena, total, struct label);
  for (size_t i = 0; i < count; i++) {
    labels[used++] = (struct label){fold(r->arena, entries[i].name), &entries[i], entries[i].name, false};
    for (size_t j = 0; j < entries[i].also_count; j++)
      labels[used++] = (struct label){fold(r->arena, entries[i].also[j]), &entries[i], entries[i].also[j], true};
  }
  qsort(labels, total, sizeof *labels, label_compare);
  for (size_t i = 1; i < total; i++) {
    const struct label *a = &labels[i - 1], *b = &labels[i];
    if (strcmp(a->folded, b->folded) != 0 || a->entry == b->entry || !(a->also || b->also))
      continue;
    REFUSE(r, map->pairs[b->entry - entries].key.place, "'%.*s' names two things: '%.*s' and '%.*s'",
           SLICE_ARG(b->text), SLICE_ARG(a->entry->name), SLICE_ARG(b->entry->name));
  }
}

struct rank {
  struct slice name;
  uint32_t index;
};

static int rank_compare(const void *a, const void *b)
{
  const struct rank *x = a, *y = b;
  return slice_compare(x->name, y->name);
}

static const uint32_t *rank_names(struct arena *arena, const struct entry *entries, size_t count)
{
  struct rank *ranks = ARENA_ARRAY(arena, count, struct rank);
  uint32_t *indexes = ARENA_ARRAY(arena, count, uint32_t);
  for (size_t i = 0; i < count; i++)
    ranks[i] = (struct rank){entries[i].name, (uint32_t)i};
  qsort(ranks, count, sizeof *ranks, rank_compare);
  for (size_t i = 0; i < count; i++)
    indexes[i] = ranks[i].index;
  return indexes;
}

static void read_scope(struct reader *r, const struct node *root, enum scope scope, struct vocabulary *vocabulary)
{
  const struct node *map = node_get(root, scope_words[scope]);
  if (map == NULL || map->kind != NODE_MAP || map->count == 0) {
    REFUSE(r, map == NULL ? root->place : map->place, "a dictionary holds a map '%s' of entries", scope_words[scope]);
    return;
  }
  struct entry *entries = ARENA_ARRAY(r->arena, map->count, struct entry);
  for (size_t i = 0; i < map->count; i++)
    read_entry(r, &map->pairs[i], scope, &entries[i]);
  check_aliases(r, map, entries, map->count);
  vocabulary->count[scope] = map->count;
  vocabulary->entries[scope] = entries;
  vocabulary->by_name[scope] = rank_names(r->arena, entries, map->count);
}

const struct vocabulary *vocabulary_read(struct arena *arena, const struct source *source, struct problems *problems)
{
  struct reader r = {.arena = arena, .problems = problems};
  const struct node *root = yaml_read(arena, source, problems);
  if (root == NULL)
    return NULL;
  struct vocabulary *vocabulary = ARENA_NEW(arena, struct vocabulary);
  for (int scope = 0; scope < SCOPE_COUNT; scope++)
    read_scope(&r, root, (enum scope)scope, vocabulary);
  for (size_t i = 0; root->kind == NODE_MAP && i < root->count; i++) {
    struct slice key = root->pairs[i].key.text;
    bool known = false;
    for (int scope = 0; scope < SCOPE_COUNT; scope++)
      known = known || slice_is(key, scope_words[scope]);
    if (!known)
      REFUSE(&r, root->pairs[i].key.place, "a dictionary holds tune, log and job, not '%.*s'", SLICE_ARG(key));
  }
  return r.refused ? NULL : vocabulary;
}
