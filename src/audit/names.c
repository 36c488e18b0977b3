/* From the vocabulary to the names and types of the rule language, and back: which channels rules read, and whether a
 * job sheet's limits fit. */
#include "audit/audit.h"
#include "audit/judge.h"

#include <stdlib.h>

static struct measure measure_of(const struct unit *unit)
{
  return unit ? (struct measure){unit->dimension, unit->sense} : (struct measure){{{0}}, SENSE_PLAIN};
}

static const struct item_shape *record_shape(struct arena *arena, const struct entry *entry)
{
  struct item_field *fields = ARENA_ARRAY(arena, entry->field_count, struct item_field);
  for (size_t i = 0; i < entry->field_count; i++) {
    struct type type = {.kind = TYPE_NUMBER, .of = measure_of(entry->fields[i].unit)};
    fields[i] = (struct item_field){entry->fields[i].name, type};
  }
  struct item_shape *shape = ARENA_NEW(arena, struct item_shape);
  *shape = (struct item_shape){ITEM_RECORD, entry->field_count, fields};
  return shape;
}

static struct type type_of(struct arena *arena, const struct entry *entry)
{
  struct type type = {.of = measure_of(entry->unit), .x = measure_of(entry->x_unit), .y = measure_of(entry->y_unit)};
  switch (entry->kind) {
  case VALUE_NUMBER:
    type.kind = TYPE_NUMBER;
    break;
  case VALUE_SWITCH:
    type.kind = TYPE_SWITCH;
    break;
  case VALUE_CHOICE:
  case VALUE_TEXT:
    type.kind = TYPE_TEXT;
    break;
  case VALUE_LIST:
    type.kind = TYPE_NUMBERS;
    break;
  case VALUE_CURVE:
    type.kind = TYPE_CURVE;
    break;
  case VALUE_TABLE:
    type.kind = TYPE_TABLE;
    break;
  case VALUE_PINS:
    type.kind = TYPE_PINS;
    break;
  case VALUE_RECORDS:
    type.kind = TYPE_COLLECTION;
    type.item = record_shape(arena, entry);
    break;
  case VALUE_SERIES:
    type.kind = entry->on_off ? TYPE_SWITCH : TYPE_NUMBER;
    type.series = true;
    break;
  }
  return type;
}

static int compare_names(const void *a, const void *b)
{
  return slice_compare(((const struct name *)a)->full, ((const struct name *)b)->full);
}

/* job.READING.FIELD for each field of a reading's records: a series over them. */
static size_t add_columns(struct arena *arena, const struct entry *entry, const char *full, size_t index,
                          struct name *out)
{
  for (size_t k = 0; k < entry->field_count; k++) {
    const char *column = arena_print(arena, "%s.%.*s", full, SLICE_ARG(entry->fields[k].name));
    struct type type = {
        .kind = TYPE_NUMBER, .series = true, .rows = index + 1, .of = measure_of(entry->fields[k].unit)};
    out[k] = (struct name){.scope = NAME_JOB, .full = slice_of(column), .index = index, .field = k, .type = type};
  }
  return entry->field_count;
}

/* before.NAME, the twin of tune.NAME. */
static void add_before(struct arena *arena, const struct entry *entry, const struct name *tune, struct name *out)
{
  *out = *tune;
  out->scope = NAME_BEFORE;
  out->full = slice_of(arena_print(arena, "before.%.*s", SLICE_ARG(entry->name)));
}

const struct names *audit_names(struct arena *arena, const struct vocabulary *vocabulary)
{
  static const enum name_scope scopes[SCOPE_COUNT] = {NAME_TUNE, NAME_LOG, NAME_JOB};
  struct names *names = ARENA_NEW(arena, struct names);
  size_t room = 2 * vocabulary->count[SCOPE_TUNE] + vocabulary->count[SCOPE_LOG] + vocabulary->count[SCOPE_JOB];
  for (size_t i = 0; i < vocabulary->count[SCOPE_JOB]; i++)
    room += vocabulary->entries[SCOPE_JOB][i].field_count;
  struct name *items = ARENA_ARRAY(arena, room + 1, struct name);
  for (int scope = 0; scope < SCOPE_COUNT; scope++) {
    for (size_t i = 0; i < vocabulary->count[scope]; i++) {
      const struct entry *entry = &vocabulary->entries[scope][i];
      const char *full = arena_print(arena, "%s.%.*s", scope_name((enum scope)scope), SLICE_ARG(entry->name));
      items[names->count++] = (struct name){.scope = scopes[scope],
                                            .full = slice_of(full),
                                            .index = i,
                                            .type = type_of(arena, entry),
                                            .choice_count = entry->choice_count,
                                            .choices = entry->choices,
                                            .has_range = scope == SCOPE_TUNE && entry->has_range,
                                            .low = entry->range_low,
                                            .high = entry->range_high};
      if (scope == SCOPE_TUNE)
        add_before(arena, entry, &items[names->count - 1], &items[names->count]);
      names->count += scope == SCOPE_TUNE;
      names->count += add_columns(arena, entry, full, i, &items[names->count]);
    }
  }
  qsort(items, names->count, sizeof *items, compare_names);
  for (size_t i = 0; i < names->count; i++) {
    if (items[i].choice_count > 0 || (items[i].type.kind == TYPE_SWITCH && !items[i].type.series))
      items[i].type.name = &items[i];
  }
  names->items = items;
  return names;
}

void audit_wanted(const struct packs *packs, const struct vocabulary *vocabulary, bool *wanted)
{
  memset(wanted, 0, vocabulary->count[SCOPE_LOG] * sizeof *wanted);
  for (size_t r = 0; r < packs->rule_count; r++) {
    const struct rule *rule = packs->rules[r];
    for (size_t i = 0; i < rule->need_count; i++) {
      const struct name *name = names_find(packs->names, slice_of(rule->needs[i]));
      if (name && name->scope == NAME_LOG)
        wanted[name->index] = true;
    }
  }
}

struct quantity audit_limit(const struct job_limit *own, const struct limit *limit)
{
  const struct unit *unit = limit->value.unit;
  return own->bare ? (struct quantity){unit_to_base(unit, own->value.value), unit} : own->value;
}

bool audit_check_job(const struct packs *packs, const struct job *job, struct problems *problems)
{
  bool good = true;
  for (size_t i = 0; i < job->limit_count; i++) {
    const struct job_limit *own = &job->limits[i];
    const struct limit *limit = packs_limit(packs, own->name);
    if (!limit) {
      good = problems_add(problems, own->name_place, "no rule has a limit '%.*s'", SLICE_ARG(own->name));
      const struct limit *near = NULL;
      size_t best = own->name.size / 3 + 1;
      for (size_t k = 0; k < packs->limit_count; k++) {
        size_t distance = slice_distance(packs->limits[k].name, own->name);
        if (distance < best) {
          best = distance;
          near = &packs->limits[k];
        }
      }
      if (near)
        problems_hint(problems, "did you mean '%.*s'?", SLICE_ARG(near->name));
    } else if (!own->bare && !unit_agrees(own->value.unit, limit->value.unit)) {
      good = problems_add(problems, own->place, "limit '%.*s' is a number in %s, not in %s", SLICE_ARG(own->name),
                          limit->value.unit->name, own->value.unit->name);
    }
  }
  return good;
}
