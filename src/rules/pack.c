/* Packs: YAML files to one set of compiled rules. Reading order: packs_read, which reads every file, gathers the limits
 * and phases of all of them, then compiles the rules of each in turn, so that a rule may use any pack's. */
#include "rules/pack.h"

#include "base/limits.h"
#include "rules/phase.h"

#include <stdlib.h>

struct set { /* packs_read at work */
  struct rule_reader reader;
  struct packs *packs;
  const struct rule **rules;
  size_t rule_count, rule_capacity;
  struct limit *limits;
  size_t limit_count, limit_capacity;
  struct phase_list phases;
  struct silenced *silenced;
  size_t silenced_count, silenced_capacity;
};

static bool read_cautions(struct rule_reader *reader, const struct source *source)
{
  static const char *const words[] = {"DANGER", "WARNING", "CAUTION", "NOTICE"};
  static const char *const keys[] = {"id", "word", "text", "defers", NULL};
  reader->source = source;
  const struct node *root = yaml_read(reader->arena, source, reader->problems);
  const struct node *list = node_get(root, "cautions");
  if (!root)
    return false;
  if (!list || list->kind != NODE_LIST)
    return problems_add(reader->problems, root->place, "a list 'cautions:' is expected");
  struct caution_text *cautions = ARENA_ARRAY(reader->arena, list->count, struct caution_text);
  bool good = true;
  for (size_t i = 0; i < list->count; i++) {
    const struct node *item = &list->items[i];
    if (item->kind != NODE_MAP || item->count == 0) {
      good = problems_add(reader->problems, item->place, "a caution is a map: {id, word, text}");
      continue;
    }
    rule_known_keys(reader, item, keys);
    cautions[i] = (struct caution_text){rule_text(reader, item, "id", true), rule_text(reader, item, "word", true),
                                        rule_text(reader, item, "text", true),
                                        node_get(item, "defers") && slice_is(node_get(item, "defers")->text, "yes")};
    bool known = false;
    for (size_t k = 0; k < sizeof words / sizeof *words; k++)
      known = known || strcmp(words[k], cautions[i].word) == 0;
    if (!known)
      good = problems_add(reader->problems, item->place, "a caution's word is DANGER, WARNING, CAUTION or NOTICE");
  }
  reader->cautions = cautions;
  reader->caution_count = list->count;
  return good;
}

static bool read_quantity(struct rule_reader *reader, const struct node *map, const char *key, struct quantity *out)
{
  const struct node *node = node_get(map, key);
  if (!node || node->kind != NODE_SCALAR)
    return problems_add(reader->problems, map->place, "'%s:' is missing or no number with its unit", key);
  const char *why = NULL;
  if (quantity_read(reader->arena, node->text, unit_find(slice_of("1")), out, &why))
    return true;
  return problems_add(reader->problems, node->place, "%s", why);
}

static void read_limit(struct set *set, const struct node *key, const struct node *node)
{
  static const char *const keys[] = {"value", "step", "basis", "why", NULL};
  struct rule_reader *reader = &set->reader;
  if (node->kind != NODE_MAP || node->count == 0) {
    problems_add(reader->problems, node->place, "a limit is a map: {value, step, basis, why}");
    return;
  }
  rule_known_keys(reader, node, keys);
  struct limit limit = {.name = key->text, .pack = reader->pack, .place = key->place};
  bool good = read_quantity(reader, node, "value", &limit.value);
  good = read_quantity(reader, node, "step", &limit.step) && good;
  limit.basis = rule_text(reader, node, "basis", true);
  limit.why = rule_text(reader, node, "why", true);
  if (good && limit.value.unit && limit.step.unit &&
      (!dimension_equal(limit.value.unit->dimension, limit.step.unit->dimension) ||
       limit.step.unit->sense == SENSE_POINT || limit.step.value <= 0))
    problems_add(reader->problems, node_get(node, "step")->place,
                 "a step is a difference above 0 of the same kind as the value");
  for (size_t i = 0; i < set->limit_count; i++) {
    if (slice_equal(set->limits[i].name, limit.name))
      problems_add(reader->problems, key->place, "limit.%.*s is already there, in the pack '%s'", SLICE_ARG(limit.name),
                   set->limits[i].pack);
  }
  set->limits = arena_grow(reader->arena, set->limits, set->limit_count, &set->limit_capacity, sizeof *set->limits);
  if (good)
    set->limits[set->limit_count++] = limit;
}

static void read_limits(struct set *set, const struct node *root)
{
  const struct node *map = node_get(root, "limits");
  if (map && map->kind != NODE_MAP)
    problems_add(set->reader.problems, map->place,
                 "'limits' takes a map from name to {value, step, basis, why}, not %s", node_kind_name(map));
  for (size_t i = 0; map && map->kind == NODE_MAP && i < map->count; i++)
    read_limit(set, &map->pairs[i].key, &map->pairs[i].value);
}

static int compare_limits(const void *a, const void *b)
{
  return slice_compare(((const struct limit *)a)->name, ((const struct limit *)b)->name);
}

static int compare_names(const void *a, const void *b)
{
  return slice_compare(((const struct name *)a)->full, ((const struct name *)b)->full);
}

/* The vocabulary's names and the limits, in one sorted list. */
static const struct names *all_names(struct set *set, const struct names *given)
{
  struct arena *arena = set->reader.arena;
  struct name *items = ARENA_ARRAY(arena, given->count + set->limit_count + 1, struct name);
  for (size_t i = 0; i < given->count; i++)
    items[i] = given->items[i];
  for (size_t i = 0; i < set->limit_count; i++) {
    const struct limit *limit = &set->limits[i];
    struct type type = {.kind = TYPE_NUMBER, .of = {limit->value.unit->dimension, limit->value.unit->sense}};
    struct slice full = slice_of(arena_print(arena, "limit.%.*s", SLICE_ARG(limit->name)));
    items[given->count + i] = (struct name){.scope = NAME_LIMIT, .full = full, .index = i, .type = type};
  }
  struct names *names = ARENA_NEW(arena, struct names);
  *names = (struct names){given->count + set->limit_count, items};
  qsort(items, names->count, sizeof *items, compare_names);
  /* Choices and switches point at their own name, which has just moved. */
  for (size_t i = 0; i < names->count; i++) {
    if (items[i].type.name)
      items[i].type.name = &items[i];
  }
  return names;
}

static const struct rule **rule_at(struct set *set, struct slice id)
{
  for (size_t i = 0; i < set->rule_count; i++) {
    if (slice_equal(set->rules[i]->id, id))
      return &set->rules[i];
  }
  return NULL;
}

static void note_silenced(struct set *set, const char *rule, const char *how)
{
  set->silenced =
      arena_grow(set->reader.arena, set->silenced, set->silenced_count, &set->silenced_capacity, sizeof *set->silenced);
  set->silenced[set->silenced_count++] = (struct silenced){rule, how, set->reader.pack};
}

static void add_rule(struct set *set, const struct node *node)
{
  struct rule_reader *reader = &set->reader;
  const struct rule *rule = rule_read(reader, node);
  if (!rule)
    return;
  const struct rule **there = rule_at(set, rule->id);
  const struct node *replaces = node_get(node, "replaces");
  bool replace = replaces && slice_is(replaces->text, "yes");
  if (there && replace) {
    *there = rule;
    note_silenced(set, rule->id.at, "replaced");
    return;
  }
  if (there) {
    problems_add(reader->problems, rule->place, "a rule '%.*s' is already there, in the pack '%s'", SLICE_ARG(rule->id),
                 (*there)->pack);
    problems_hint(reader->problems, "a pack replaces a rule with 'replaces: yes'");
    return;
  }
  if (replace) {
    problems_add(reader->problems, rule->place, "there is no rule '%.*s' to replace", SLICE_ARG(rule->id));
    return;
  }
  if (set->rule_count == LIMIT_RULES) {
    problems_add(reader->problems, rule->place, "there are more than %d rules", LIMIT_RULES);
    return;
  }
  set->rules = arena_grow(reader->arena, set->rules, set->rule_count, &set->rule_capacity, sizeof *set->rules);
  set->rules[set->rule_count++] = rule;
}

static void read_silence(struct set *set, const struct node *root)
{
  const struct node *map = node_get(root, "silence");
  if (map && map->kind != NODE_MAP)
    problems_add(set->reader.problems, map->place, "'silence' takes a map from rule to reason, not %s",
                 node_kind_name(map));
  for (size_t i = 0; map && map->kind == NODE_MAP && i < map->count; i++) {
    const struct node *key = &map->pairs[i].key, *reason = &map->pairs[i].value;
    const struct rule **there = rule_at(set, key->text);
    if (!there) {
      problems_add(set->reader.problems, key->place, "there is no rule '%.*s' to silence", SLICE_ARG(key->text));
      continue;
    }
    if (reason->kind != NODE_SCALAR || slice_trim(reason->text).size == 0) {
      problems_add(set->reader.problems, reason->place, "a rule is silenced with a reason");
      continue;
    }
    note_silenced(set, (*there)->id.at, arena_print(set->reader.arena, "silenced: %.*s", SLICE_ARG(reason->text)));
    *there = set->rules[--set->rule_count];
  }
}

/* Checks the head of a pack and takes its name; false when it is none. */
static bool open_pack(struct set *set, const struct source *source, const struct node *root)
{
  static const char *const keys[] = {"keyway-rules", "pack", "about", "limits", "phases", "rules", "silence", NULL};
  struct rule_reader *reader = &set->reader;
  reader->source = source;
  if (!root)
    return false;
  const struct node *version = node_get(root, "keyway-rules");
  if (root->kind != NODE_MAP || !version) {
    problems_add(reader->problems, root->place, "this is no rule pack");
    problems_hint(reader->problems, "a pack starts with 'keyway-rules: 1'");
    return false;
  }
  if (version->kind != NODE_SCALAR || !slice_is(version->text, "1"))
    return problems_add(reader->problems, version->place, "this version of the rule language is not known; 1 is");
  rule_known_keys(reader, root, keys);
  reader->pack = rule_text(reader, root, "pack", true);
  return true;
}

static void read_rules(struct set *set, const struct node *root)
{
  read_silence(set, root);
  const struct node *list = node_get(root, "rules");
  if (list && list->kind != NODE_LIST)
    problems_add(set->reader.problems, list->place, "'rules' takes a list of rules, not %s", node_kind_name(list));
  for (size_t i = 0; list && list->kind == NODE_LIST && i < list->count; i++)
    add_rule(set, &list->items[i]);
}

/* What a rule explains must be there: a slip in an id would silently explain nothing. */
static void check_explains(struct set *set)
{
  for (size_t i = 0; i < set->rule_count; i++) {
    const struct rule *rule = set->rules[i];
    for (size_t k = 0; k < rule->explain_count; k++) {
      bool silenced = false;
      for (size_t s = 0; s < set->silenced_count; s++)
        silenced = silenced || strcmp(set->silenced[s].rule, rule->explains[k]) == 0;
      if (!silenced && !rule_at(set, slice_of(rule->explains[k])))
        problems_add(set->reader.problems, node_get(rule->node, "explains")->place, "there is no rule '%s' to explain",
                     rule->explains[k]);
    }
  }
}

static int compare_rules(const void *a, const void *b)
{
  const struct rule *x = *(const struct rule *const *)a, *y = *(const struct rule *const *)b;
  int order = strcmp(x->topic, y->topic);
  return order != 0 ? order : slice_compare(x->id, y->id);
}

const struct packs *packs_read(struct arena *arena, const struct names *names, const struct source *cautions,
                               const struct source *const *sources, size_t count, struct problems *problems)
{
  enum problem_class outer = problems->of;
  size_t before = problems->count + problems->dropped;
  problems->of = PROBLEM_OF_PACK;
  struct packs *packs = ARENA_NEW(arena, struct packs);
  struct set set = {.reader = {.arena = arena, .graph = graph_new(arena), .problems = problems}, .packs = packs};
  read_cautions(&set.reader, cautions);
  const struct node **roots = ARENA_ARRAY(arena, count, const struct node *);
  for (size_t i = 0; i < count; i++) {
    roots[i] = yaml_read(arena, sources[i], problems);
    if (!open_pack(&set, sources[i], roots[i])) {
      roots[i] = NULL;
      continue;
    }
    read_limits(&set, roots[i]);
    phases_gather(&set.reader, roots[i], &set.phases);
  }
  if (set.limit_count > 0)
    qsort(set.limits, set.limit_count, sizeof *set.limits, compare_limits);
  phases_compile(&set.reader, all_names(&set, names), &set.phases);
  for (size_t i = 0; i < count; i++) {
    if (!roots[i])
      continue;
    set.reader.source = sources[i];
    set.reader.pack = rule_text(&set.reader, roots[i], "pack", false);
    read_rules(&set, roots[i]);
  }
  check_explains(&set);
  if (set.rule_count > 0)
    qsort(set.rules, set.rule_count, sizeof *set.rules, compare_rules);
  *packs = (struct packs){.arena = arena,
                          .names = set.reader.names,
                          .graph = set.reader.graph,
                          .rule_count = set.rule_count,
                          .rules = set.rules,
                          .limit_count = set.limit_count,
                          .limits = set.limits,
                          .phase_count = set.phases.count,
                          .phases = set.phases.items,
                          .caution_count = set.reader.caution_count,
                          .cautions = set.reader.cautions,
                          .silenced_count = set.silenced_count,
                          .silenced = set.silenced};
  problems->of = outer;
  return problems->count + problems->dropped > before ? NULL : packs;
}

const struct rule *packs_find(const struct packs *packs, struct slice id)
{
  for (size_t i = 0; i < packs->rule_count; i++) {
    if (slice_equal(packs->rules[i]->id, id))
      return packs->rules[i];
  }
  return NULL;
}

const struct limit *packs_limit(const struct packs *packs, struct slice name)
{
  for (size_t i = 0; i < packs->limit_count; i++) {
    if (slice_equal(packs->limits[i].name, name))
      return &packs->limits[i];
  }
  return NULL;
}

const struct phase *packs_phase(const struct packs *packs, struct slice name)
{
  for (size_t i = 0; i < packs->phase_count; i++) {
    if (slice_equal(packs->phases[i].name, name))
      return &packs->phases[i];
  }
  return NULL;
}

const struct rule *packs_nearest(const struct packs *packs, struct slice id)
{
  const struct rule *best = NULL;
  size_t best_distance = id.size / 3 + 1;
  for (size_t i = 0; i < packs->rule_count; i++) {
    size_t distance = slice_distance(packs->rules[i]->id, id);
    if (distance < best_distance) {
      best_distance = distance;
      best = packs->rules[i];
    }
  }
  return best;
}
