/* Phases: read from the packs, put in order, compiled; and what a rule's `phases:` demands of the log. Reading order:
 * phases_gather and read_phase, then phases_compile, settle and compile_phase, then phase_conditions. */
#include "rules/phase.h"

#include "base/limits.h"
#include "rules/locate.h"

#include <stdlib.h>

static bool refuse(struct rule_reader *reader, const struct node *at, const char *message)
{
  return problems_add(reader->problems, at->place, "%s", message);
}

static bool is_word(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
}

/* Lower-case letters, digits and "_": what an expression reads as one name. */
static bool is_name(struct slice text)
{
  bool good = text.size > 0;
  for (size_t i = 0; i < text.size; i++)
    good = good && is_word(text.at[i]);
  return good;
}

static const char *expression(struct rule_reader *reader, const struct node *map, const char *key)
{
  const struct node *node = node_get(map, key);
  if (node && node->kind == NODE_SCALAR)
    return arena_text(reader->arena, slice_trim(node->text));
  if (node)
    refuse(reader, node, "an expression is expected here");
  else
    problems_add(reader->problems, map->pairs[0].key.place, "'%s:' is missing", key);
  return NULL;
}

static void read_phase(struct rule_reader *reader, const struct node *key, const struct node *node,
                       struct phase_list *list)
{
  static const char *const keys[] = {"title", "when", "least", "why", "cases", "unchanged_by", NULL};
  if (node->kind != NODE_MAP || node->count == 0) {
    refuse(reader, node, "a phase is a map: {title, when, least, why}");
    return;
  }
  rule_known_keys(reader, node, keys);
  if (!is_name(key->text)) {
    refuse(reader, key, "the name of a phase is lower-case letters, digits and '_'");
    return;
  }
  for (size_t i = 0; i < list->count; i++) {
    if (slice_equal(list->items[i].name, key->text)) {
      problems_add(reader->problems, key->place, "phase.%.*s is already there, in the pack '%s'", SLICE_ARG(key->text),
                   list->items[i].pack);
      return;
    }
  }
  if (list->count == LIMIT_PHASES) {
    problems_add(reader->problems, key->place, "there are more than %d phases", LIMIT_PHASES);
    return;
  }
  struct phase phase = {.name = key->text,
                        .title = rule_text(reader, node, "title", true),
                        .when_written = expression(reader, node, "when"),
                        .least_written = expression(reader, node, "least"),
                        .why = rule_text(reader, node, "why", true),
                        .pack = reader->pack,
                        .node = node,
                        .cases = node_get(node, "cases"),
                        .unchanged_by = node_get(node, "unchanged_by"),
                        .source = reader->source,
                        .place = key->place,
                        .order = list->count};
  list->items = arena_grow(reader->arena, list->items, list->count, &list->capacity, sizeof *list->items);
  if (phase.when_written && phase.least_written)
    list->items[list->count++] = phase;
}

void phases_gather(struct rule_reader *reader, const struct node *pack, struct phase_list *list)
{
  const struct node *map = node_get(pack, "phases");
  if (map && map->kind != NODE_MAP)
    problems_add(reader->problems, map->place, "'phases' takes a map from name to {title, when, least, why}, not %s",
                 node_kind_name(map));
  for (size_t i = 0; map && map->kind == NODE_MAP && i < map->count; i++)
    read_phase(reader, &map->pairs[i].key, &map->pairs[i].value, list);
}

enum state { STATE_NEW, STATE_OPEN, STATE_DONE };

struct work { /* phases_compile at work; the arrays have one entry a phase */
  struct rule_reader *reader;
  struct phase_list *list;
  struct name **names;
  enum state *state;
  size_t *level; /* of phases within phases, from 1 */
};

static const struct expr *compile(struct rule_reader *reader, const struct phase *phase, const char *key)
{
  const struct node *node = node_get(phase->node, key);
  struct locate_context context;
  struct locator locator = locate(&context, phase->source, node, 0);
  return expr_compile(reader->arena, reader->graph, reader->names, node->text, NULL, &locator, reader->problems);
}

/* An expression of the packs' own making, over a phase and a time that has been checked. */
static const struct expr *compile_own(struct rule_reader *reader, const struct phase *phase, const struct expr *time,
                                      const char *text)
{
  struct scope_chain link = {.name = slice_of("time"), .value = time};
  struct locate_context context;
  struct locator locator = locate(&context, phase->source, node_get(phase->node, "when"), 0);
  return expr_compile(reader->arena, reader->graph, reader->names, slice_of(text), time ? &link : NULL, &locator,
                      reader->problems);
}

static bool is_time(const struct type *type)
{
  struct dimension second = {{0}};
  second.of[DIM_TIME] = 1;
  return type->kind == TYPE_NUMBER && !type->series && !type->any_unit && dimension_equal(type->of.dimension, second);
}

static bool demand_time(struct rule_reader *reader, const struct node *node, const struct expr *expr)
{
  return is_time(expr_type(expr)) || problems_add(reader->problems, node->place, "a time is expected here, not %s",
                                                  type_print(reader->arena, expr_type(expr)));
}

static void compile_phase(struct rule_reader *reader, struct phase *phase, struct name *name)
{
  const struct node *least = node_get(phase->node, "least");
  phase->when = compile(reader, phase, "when");
  phase->least = compile(reader, phase, "least");
  if (phase->least && !demand_time(reader, least, phase->least))
    phase->least = NULL;
  if (!phase->when)
    return;
  const struct node *when = node_get(phase->node, "when");
  const struct type *type = expr_type(phase->when);
  if (type->kind != TYPE_SWITCH || !type->series)
    problems_add(reader->problems, when->place, "a series of conditions over the log is expected here, not %s",
                 type_print(reader->arena, type));
  else if (type->rows != 0)
    refuse(reader, when, "a phase runs over the log, not over the records of a reading");
  if (!phase->least || type->kind != TYPE_SWITCH || !type->series || type->rows != 0)
    return;
  name->phase = phase->when;
  name->type = *type;
  phase->held =
      compile_own(reader, phase, NULL, arena_print(reader->arena, "duration(phase.%.*s)", SLICE_ARG(phase->name)));
  phase->spans =
      compile_own(reader, phase, NULL, arena_print(reader->arena, "spans(phase.%.*s, 0 s)", SLICE_ARG(phase->name)));
}

static void settle(struct work *work, size_t at, size_t depth);

/* Compiles the phases that a text of this one uses, which stand in it as phase.NAME outside quotes. */
static bool settle_used(struct work *work, size_t at, const char *key, size_t depth)
{
  struct phase *phase = &work->list->items[at];
  const struct node *node = node_get(phase->node, key);
  struct slice text = node->text;
  char quote = '\0';
  for (size_t from = 0, to; from < text.size; from = to) {
    char c = text.at[from];
    to = from + 1;
    if (quote || c == '"' || c == '\'')
      quote = quote == c ? '\0' : quote ? quote : c;
    if (quote || !is_word(c))
      continue;
    while (to < text.size && (is_word(text.at[to]) || text.at[to] == '.'))
      to++;
    struct slice word = slice_part(text, from, to);
    for (size_t i = 0; i < work->list->count; i++) {
      if (!slice_equal(work->names[i]->full, word))
        continue;
      struct place place = node_place(phase->source, node, from, to);
      if (work->state[i] == STATE_OPEN)
        return problems_add(work->reader->problems, place, "phase.%.*s is defined by way of itself",
                            SLICE_ARG(work->list->items[i].name));
      if (work->state[i] == STATE_NEW && depth + 1 < LIMIT_PHASE_DEPTH)
        settle(work, i, depth + 1);
      work->level[at] = work->level[i] + 1 > work->level[at] ? work->level[i] + 1 : work->level[at];
      if (work->state[i] == STATE_NEW || work->level[at] > LIMIT_PHASE_DEPTH)
        return problems_add(work->reader->problems, place, "phases that use phases are nested more than %d levels deep",
                            LIMIT_PHASE_DEPTH);
    }
  }
  return true;
}

static void settle(struct work *work, size_t at, size_t depth)
{
  if (work->state[at] != STATE_NEW)
    return;
  work->state[at] = STATE_OPEN;
  work->level[at] = 1;
  if (settle_used(work, at, "when", depth) && settle_used(work, at, "least", depth))
    compile_phase(work->reader, &work->list->items[at], work->names[at]);
  work->state[at] = STATE_DONE;
}

static int compare_phases(const void *a, const void *b)
{
  return slice_compare(((const struct phase *)a)->name, ((const struct phase *)b)->name);
}

static int compare_names(const void *a, const void *b)
{
  return slice_compare(((const struct name *)a)->full, ((const struct name *)b)->full);
}

/* The names that are no phases, and those of the list, which are then `at` their phases' indexes. */
static const struct names *all_names(struct arena *arena, const struct names *names, const struct phase_list *list,
                                     struct name **at)
{
  struct names *all = ARENA_NEW(arena, struct names);
  struct name *items = ARENA_ARRAY(arena, names->count + list->count, struct name);
  for (size_t i = 0; i < names->count; i++) {
    if (names->items[i].scope != NAME_PHASE)
      items[all->count++] = names->items[i];
  }
  for (size_t i = 0; i < list->count; i++) {
    const char *full = arena_print(arena, "phase.%.*s", SLICE_ARG(list->items[i].name));
    items[all->count++] = (struct name){.scope = NAME_PHASE, .full = slice_of(full), .index = i};
  }
  qsort(items, all->count, sizeof *items, compare_names);
  for (size_t i = 0; i < all->count; i++) {
    if (items[i].type.name)
      items[i].type.name = &items[i]; /* choices and switches point at their own name, which has just moved */
    if (items[i].scope == NAME_PHASE)
      at[items[i].index] = &items[i];
  }
  all->items = items;
  return all;
}

const struct names *phases_leave_out(struct arena *arena, const struct names *names)
{
  const struct phase_list none = {NULL, 0, 0};
  return all_names(arena, names, &none, NULL);
}

void phases_compile(struct rule_reader *reader, const struct names *names, struct phase_list *list)
{
  reader->names = names;
  reader->phases = list->items;
  reader->phase_count = list->count;
  if (list->count == 0)
    return;
  qsort(list->items, list->count, sizeof *list->items, compare_phases);
  struct work work = {reader, list, ARENA_ARRAY(reader->arena, list->count, struct name *),
                      ARENA_ARRAY(reader->arena, list->count, enum state),
                      ARENA_ARRAY(reader->arena, list->count, size_t)};
  reader->names = all_names(reader->arena, names, list, work.names);
  for (size_t i = 0; i < list->count; i++)
    settle(&work, i, 0);
}

void phases_again(struct rule_reader *reader, const struct packs *packs)
{
  struct phase_list list = {ARENA_ARRAY(reader->arena, packs->phase_count + 1, struct phase), packs->phase_count, 0};
  for (size_t i = 0; i < packs->phase_count; i++)
    list.items[i] = packs->phases[i];
  phases_compile(reader, packs->names, &list);
}

/* One entry: the name of a phase, and how much of it is wanted when that is not the phase's own `least`. */
static bool phase_condition(struct rule_reader *reader, const struct node *name, const struct node *time,
                            const struct scope_chain *chain, struct condition *out)
{
  if (name->kind != NODE_SCALAR)
    return refuse(reader, name, "the name of a phase is expected here");
  const struct phase *phase = NULL, *nearest = NULL;
  size_t best = name->text.size / 3 + 1;
  for (size_t i = 0; i < reader->phase_count && !phase; i++) {
    size_t distance = slice_distance(reader->phases[i].name, name->text);
    phase = distance == 0 ? &reader->phases[i] : NULL;
    nearest = distance < best ? &reader->phases[i] : nearest;
    best = distance < best ? distance : best;
  }
  if (!phase) {
    problems_add(reader->problems, name->place, "no pack has a phase '%.*s'", SLICE_ARG(name->text));
    if (nearest)
      problems_hint(reader->problems, "the nearest one is '%.*s'", SLICE_ARG(nearest->name));
    return false;
  }
  if (!phase->held)
    return false; /* told where it is defined */
  out->least = phase->least;
  if (time) {
    struct locate_context context;
    struct locator locator = locate(&context, reader->source, time, 0);
    if (time->kind != NODE_SCALAR)
      return refuse(reader, time, "an expression is expected here");
    out->least =
        expr_compile(reader->arena, reader->graph, reader->names, time->text, chain, &locator, reader->problems);
    if (!out->least || !demand_time(reader, time, out->least))
      return false;
  }
  out->otherwise = phase->title;
  out->that = compile_own(reader, phase, out->least,
                          arena_print(reader->arena, "duration(phase.%.*s) >= time", SLICE_ARG(phase->name)));
  return out->that != NULL;
}

struct condition *phase_conditions(struct rule_reader *reader, const struct node *const *maps, size_t map_count,
                                   const struct scope_chain *chain, size_t *count, size_t *capacity, bool *good)
{
  struct condition *conditions = NULL;
  for (size_t m = 0; m < map_count; m++) {
    const struct node *all = node_get(maps[m], "phases");
    if (all && all->kind == NODE_SCALAR)
      *good = refuse(reader, all, "a list of phases is expected here, or a map from phases to times");
    for (size_t i = 0; all && all->kind != NODE_SCALAR && i < all->count; i++) {
      const struct node *name = all->kind == NODE_LIST ? &all->items[i] : &all->pairs[i].key;
      const struct node *time = all->kind == NODE_LIST ? NULL : &all->pairs[i].value;
      struct condition condition = {NULL, NULL, NULL};
      if (!phase_condition(reader, name, time, chain, &condition)) {
        *good = false;
        continue;
      }
      conditions = arena_grow(reader->arena, conditions, *count, capacity, sizeof *conditions);
      conditions[(*count)++] = condition;
    }
  }
  return conditions;
}
