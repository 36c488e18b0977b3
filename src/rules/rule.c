/* One rule: its YAML map to compiled expressions. Reading order: rule_read, then read_checks and read_check, then the
 * helpers. Every mistake is reported; a rule with any is refused. */
#include "rules/rule.h"

#include "base/limits.h"
#include "rules/locate.h"
#include "rules/phase.h"

static const char *const rule_keys[] = {
    "rule",      "title", "topic",    "severity", "replaces", "decide",       "checks",  "why",    "do",     "verify",
    "by_design", "basis", "cautions", "explains", "cases",    "unchanged_by", "applies", "phases", "needs",  "let",
    "each",      "where", "flag",     "subject",  "measure",  "limit",        "places",  "say",    "severe", NULL};
static const char *const check_keys[] = {"applies", "phases",  "needs", "let",    "each", "where",  "flag",
                                         "subject", "measure", "limit", "places", "say",  "severe", NULL};
static const char *const shared_keys[] = {"each",  "where",  "flag", "subject", "measure",
                                          "limit", "places", "say",  NULL};

#define LETS_REFUSED 64 /* after so many of one rule the others are left for the next run */

static bool refuse(struct rule_reader *reader, const struct node *at, const char *message)
{
  return problems_add(reader->problems, at->place, "%s", message);
}

void rule_known_keys(struct rule_reader *reader, const struct node *map, const char *const *keys)
{
  for (size_t i = 0; i < map->count; i++) {
    struct slice key = map->pairs[i].key.text;
    const char *nearest = NULL;
    size_t best = key.size / 3 + 2;
    bool known = false;
    for (size_t k = 0; keys[k] && !known; k++)
      known = slice_is(key, keys[k]);
    if (known)
      continue;
    problems_add(reader->problems, map->pairs[i].key.place, "'%.*s' is not a key here", SLICE_ARG(key));
    if (reader->problems->dropped > 0)
      continue; /* no hint is kept */
    for (size_t k = 0; keys[k]; k++) {
      size_t distance = slice_distance(key, slice_of(keys[k]));
      if (distance < best) {
        best = distance;
        nearest = keys[k];
      }
    }
    if (nearest)
      problems_hint(reader->problems, "the nearest one is '%s'", nearest);
  }
}

const char *rule_text(struct rule_reader *reader, const struct node *map, const char *key, bool required)
{
  const struct node *node = node_get(map, key);
  if (node && node->kind == NODE_SCALAR && slice_trim(node->text).size > 0) {
    struct slice text = node->text;
    while (text.size > 0 && text.at[text.size - 1] == '\n')
      text.size--;
    return arena_text(reader->arena, text);
  }
  if (node)
    refuse(reader, node, "a text is expected here");
  else if (required)
    problems_add(reader->problems, map->pairs[0].key.place, "'%s:' is missing", key);
  return "";
}

bool rule_severity(struct rule_reader *reader, const struct node *node, enum severity *out)
{
  static const char *const keys[] = {"look", "dyno", "delivery", NULL};
  if (node->kind != NODE_MAP)
    return refuse(reader, node, "a severity is a map: {look: check, dyno: check, delivery: fix}");
  rule_known_keys(reader, node, keys);
  bool good = true;
  for (int i = 0; i < STAGE_COUNT; i++) {
    const struct node *word = node_get(node, stage_name((enum stage)i));
    if (!word) {
      good = problems_add(reader->problems, node->place, "the severity at stage '%s' is missing",
                          stage_name((enum stage)i));
    } else if (word->kind != NODE_SCALAR || !severity_find(word->text, &out[i])) {
      good = refuse(reader, word, "a severity is one of stop, fix, check, note, none");
    }
  }
  return good;
}

enum wanted { WANT_CONDITION, WANT_NUMBER, WANT_TEXT_OR_NAME, WANT_COLLECTION, WANT_ANY };

static bool has_wanted_type(const struct type *type, enum wanted wanted)
{
  switch (wanted) {
  case WANT_CONDITION:
    return type->kind == TYPE_SWITCH && !type->series;
  case WANT_NUMBER:
    return type->kind == TYPE_NUMBER && !type->series && !type->any_unit;
  case WANT_COLLECTION:
    return type->kind == TYPE_COLLECTION;
  case WANT_TEXT_OR_NAME:
  case WANT_ANY:
    break;
  }
  return true;
}

static const struct expr *compile(struct rule_reader *reader, const struct node *node, size_t from,
                                  const struct scope_chain *chain, enum wanted wanted)
{
  static const char *const words[] = {"a condition", "a number", "a text or a name", "a collection", "a value"};
  if (node->kind != NODE_SCALAR) {
    refuse(reader, node, "an expression is expected here");
    return NULL;
  }
  struct locate_context context;
  struct locator locator = locate(&context, reader->source, node, from);
  const struct expr *expr =
      expr_compile(reader->arena, reader->graph, reader->names, slice_part(node->text, from, node->text.size), chain,
                   &locator, reader->problems);
  if (expr && !has_wanted_type(expr_type(expr), wanted)) {
    const char *series = expr_type(expr)->series ? "; reduce it with any(), all(), mean(), ..." : "";
    problems_add(reader->problems, node->place, "%s is expected here, not %s%s", words[wanted],
                 type_print(reader->arena, expr_type(expr)), series);
    return NULL;
  }
  return expr;
}

/* The expression of a key, NULL when there is none or it was refused (then *good is cleared). */
static const struct expr *optional(struct rule_reader *reader, const struct node *map, const char *key,
                                   const struct scope_chain *chain, enum wanted wanted, bool *good)
{
  const struct node *node = node_get(map, key);
  const struct expr *expr = node ? compile(reader, node, 0, chain, wanted) : NULL;
  *good = *good && (!node || expr);
  return expr;
}

static bool is_word(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

/* Whether the text names one of the lets that were refused: then it fails for their sake, and nothing is said of it. */
static bool uses_refused(struct slice text, const struct slice *refused, size_t count)
{
  for (size_t at = 0; at < text.size;) {
    size_t end = at;
    while (end < text.size && is_word(text.at[end]))
      end++;
    for (size_t i = 0; i < count && end > at; i++) {
      if (slice_equal(slice_part(text, at, end), refused[i]))
        return true;
    }
    at = end > at ? end : at + 1;
  }
  return false;
}

static const struct scope_chain *read_let(struct rule_reader *reader, const struct node *map,
                                          const struct scope_chain *chain, bool *good)
{
  const struct node *let = node_get(map, "let");
  if (!let)
    return chain;
  if (let->kind != NODE_MAP) {
    *good = refuse(reader, let, "let is a map of names to expressions");
    return chain;
  }
  struct slice refused[LETS_REFUSED];
  size_t refused_count = 0;
  for (size_t i = 0; i < let->count && refused_count < LETS_REFUSED; i++) {
    const struct node *text = &let->pairs[i].value;
    bool silent = text->kind == NODE_SCALAR && uses_refused(text->text, refused, refused_count);
    const struct expr *value = silent ? NULL : compile(reader, text, 0, chain, WANT_ANY);
    if (!value) {
      *good = false;
      refused[refused_count++] = let->pairs[i].key.text;
      continue;
    }
    struct scope_chain *link = ARENA_NEW(reader->arena, struct scope_chain);
    *link = (struct scope_chain){let->pairs[i].key.text, value, *expr_type(value), chain};
    chain = link;
  }
  return chain;
}

/* applies: or needs:, the rule's own first, then the check's; what phases: demands goes before any needs. */
static const struct condition *read_conditions(struct rule_reader *reader, const struct node *const *maps,
                                               size_t map_count, const char *key, const struct scope_chain *chain,
                                               size_t *count, bool *good)
{
  static const char *const keys[] = {"that", "else", NULL};
  struct condition *conditions = NULL;
  size_t capacity = 0;
  *count = 0;
  if (strcmp(key, "needs") == 0)
    conditions = phase_conditions(reader, maps, map_count, chain, count, &capacity, good);
  for (size_t m = 0; m < map_count; m++) {
    const struct node *list = node_get(maps[m], key);
    if (!list)
      continue;
    if (list->kind != NODE_LIST) {
      *good = refuse(reader, list, "a list is expected here: [{that: CONDITION, else: TEXT}]");
      continue;
    }
    for (size_t i = 0; i < list->count; i++) {
      const struct node *item = &list->items[i];
      const struct node *that = node_get(item, "that");
      if (!that || !node_get(item, "else")) {
        *good = refuse(reader, item, "{that: CONDITION, else: TEXT} is expected here");
        continue;
      }
      rule_known_keys(reader, item, keys);
      struct condition condition = {.that = compile(reader, that, 0, chain, WANT_CONDITION),
                                    .otherwise = rule_text(reader, item, "else", true)};
      *good = *good && condition.that;
      conditions = arena_grow(reader->arena, conditions, *count, &capacity, sizeof *conditions);
      conditions[(*count)++] = condition;
    }
  }
  return conditions;
}

/* "p in points(...)" */
static const struct scope_chain *read_each(struct rule_reader *reader, const struct node *map,
                                           const struct scope_chain *chain, struct check *check, bool *good)
{
  const struct node *node = node_get(map, "each");
  if (!node)
    return chain;
  size_t end = 0;
  while (node->kind == NODE_SCALAR && end < node->text.size && node->text.at[end] != ' ')
    end++;
  if (node->kind != NODE_SCALAR || end == 0 || end + 4 > node->text.size ||
      memcmp(node->text.at + end, " in ", 4) != 0) {
    *good = refuse(reader, node, "'NAME in COLLECTION' is expected here");
    return chain;
  }
  check->item_name = slice_part(node->text, 0, end);
  check->each = compile(reader, node, end + 4, chain, WANT_COLLECTION);
  if (!check->each) {
    *good = false;
    return chain;
  }
  struct scope_chain *link = ARENA_NEW(reader->arena, struct scope_chain);
  *link =
      (struct scope_chain){check->item_name, NULL, {.kind = TYPE_ITEM, .item = expr_type(check->each)->item}, chain};
  return link;
}

static bool read_subject(struct rule_reader *reader, const struct node *map, const struct scope_chain *chain,
                         struct slice id, struct check *check)
{
  bool good = true;
  const struct expr *written = optional(reader, map, "subject", chain, WANT_TEXT_OR_NAME, &good);
  const struct name *name = written ? expr_name(written) : NULL;
  if (written && !name) {
    if (expr_type(written)->kind != TYPE_TEXT)
      return problems_add(reader->problems, node_get(map, "subject")->place,
                          "a name or a text is expected here, not %s", type_print(reader->arena, expr_type(written)));
    check->subject = written;
  }
  if (!name && check->each)
    name = expr_first_name(check->each);
  if (!name && check->flag)
    name = expr_first_name(check->flag);
  check->subject_name = arena_text(reader->arena, name ? name->full : id);
  return good;
}

static bool read_places(struct rule_reader *reader, const struct node *map, const struct scope_chain *chain,
                        struct check *check)
{
  const struct node *list = node_get(map, "places");
  if (!list)
    return true;
  if (list->kind != NODE_LIST)
    return refuse(reader, list, "a list of names is expected here");
  const struct expr **places = ARENA_ARRAY(reader->arena, list->count, const struct expr *);
  bool good = true;
  for (size_t i = 0; i < list->count; i++) {
    places[i] = compile(reader, &list->items[i], 0, chain, WANT_ANY);
    if (places[i] && !expr_name(places[i]))
      good = refuse(reader, &list->items[i], "a name such as tune.inputs is expected here");
    good = good && places[i];
  }
  check->place_count = list->count;
  check->places = places;
  return good;
}

static bool read_check(struct rule_reader *reader, const struct node *rule, const struct node *map, struct slice id,
                       struct check *check)
{
  const struct node *maps[2] = {rule, map};
  size_t map_count = rule == map ? 1 : 2;
  bool good = true;
  const struct scope_chain *chain = read_let(reader, rule, NULL, &good);
  if (map_count == 2)
    chain = read_let(reader, map, chain, &good);
  check->applies = read_conditions(reader, maps, map_count, "applies", chain, &check->applies_count, &good);
  check->needs = read_conditions(reader, maps, map_count, "needs", chain, &check->needs_count, &good);
  chain = read_each(reader, map, chain, check, &good);
  if (!good)
    return false; /* names would be missing below */
  check->where = optional(reader, map, "where", chain, WANT_CONDITION, &good);
  check->flag = optional(reader, map, "flag", chain, WANT_CONDITION, &good);
  check->measure = optional(reader, map, "measure", chain, WANT_NUMBER, &good);
  check->limit = optional(reader, map, "limit", chain, WANT_NUMBER, &good);
  const struct node *severe = node_get(map, "severe");
  check->severe = severe ? optional(reader, severe, "when", chain, WANT_CONDITION, &good) : NULL;
  if (!node_get(map, "flag"))
    good = problems_add(reader->problems, map->place, "'flag:' is missing");
  if (check->where && !check->each)
    good = refuse(reader, node_get(map, "where"), "'where' goes with 'each'");
  if (check->measure && check->limit && !measure_equal(expr_type(check->measure)->of, expr_type(check->limit)->of))
    good = refuse(reader, node_get(map, "limit"), "the limit is another kind of number than the measure");
  good = read_subject(reader, map, chain, id, check) && good;
  good = read_places(reader, map, chain, check) && good;
  const struct node *say = node_get(map, "say");
  if (!say || say->kind != NODE_SCALAR || slice_trim(say->text).size == 0)
    return problems_add(reader->problems, say ? say->place : map->place, "'say:' is missing or no text");
  check->say = rule_message(reader, say, chain);
  return good && check->say;
}

static bool read_checks(struct rule_reader *reader, const struct node *node, struct rule *rule)
{
  const struct node *list = node_get(node, "checks");
  if (!list) {
    struct check *check = ARENA_NEW(reader->arena, struct check);
    rule->checks = check;
    rule->check_count = 1;
    return read_check(reader, node, node, rule->id, check);
  }
  if (list->kind != NODE_LIST || list->count == 0)
    return refuse(reader, list, "a list of checks is expected here");
  bool good = true;
  for (size_t k = 0; shared_keys[k]; k++) {
    if (node_get(node, shared_keys[k]))
      good = refuse(reader, node_key(node, shared_keys[k]), "a rule with 'checks:' has this key inside each check");
  }
  struct check *checks = ARENA_ARRAY(reader->arena, list->count, struct check);
  for (size_t i = 0; i < list->count; i++) {
    if (list->items[i].kind != NODE_MAP) {
      good = refuse(reader, &list->items[i], "a check is a map");
      continue;
    }
    rule_known_keys(reader, &list->items[i], check_keys);
    good = read_check(reader, node, &list->items[i], rule->id, &checks[i]) && good;
  }
  rule->checks = checks;
  rule->check_count = list->count;
  return good;
}

/* severe: {when: ..., severity: {...}}, on the rule or on one check. */
static bool read_severe(struct rule_reader *reader, const struct node *map, struct rule *rule)
{
  const struct node *severe = node_get(map, "severe");
  if (!severe)
    return true;
  static const char *const keys[] = {"when", "severity", NULL};
  if (!node_get(severe, "when") || !node_get(severe, "severity"))
    return refuse(reader, severe, "{when: CONDITION, severity: {...}} is expected here");
  rule_known_keys(reader, severe, keys);
  rule->has_severe = true;
  return rule_severity(reader, node_get(severe, "severity"), rule->severe);
}

static bool read_cautions(struct rule_reader *reader, const struct node *node, struct rule *rule)
{
  const struct node *list = node_get(node, "cautions");
  if (!list || list->kind != NODE_LIST || list->count == 0)
    return problems_add(reader->problems, list ? list->place : node->place, "'cautions:' names no caution");
  const char **ids = ARENA_ARRAY(reader->arena, list->count, const char *);
  bool good = true, defers = false;
  for (size_t i = 0; i < list->count; i++) {
    const struct caution_text *found = NULL;
    for (size_t k = 0; k < reader->caution_count && list->items[i].kind == NODE_SCALAR; k++) {
      if (slice_is(list->items[i].text, reader->cautions[k].id))
        found = &reader->cautions[k];
    }
    if (!found) {
      good = refuse(reader, &list->items[i], "this caution is not in cautions.yaml");
      continue;
    }
    ids[i] = found->id;
    defers = defers || found->defers;
  }
  if (good && !defers)
    good = refuse(reader, list, "no caution here defers to local law and a qualified person (haz-practice does)");
  rule->cautions = ids;
  rule->caution_count = list->count;
  return good;
}

static bool read_explains(struct rule_reader *reader, const struct node *node, struct rule *rule)
{
  const struct node *list = node_get(node, "explains");
  if (!list)
    return true;
  if (list->kind != NODE_LIST)
    return refuse(reader, list, "a list of rule ids is expected here");
  const char **ids = ARENA_ARRAY(reader->arena, list->count, const char *);
  for (size_t i = 0; i < list->count; i++) {
    if (list->items[i].kind != NODE_SCALAR)
      return refuse(reader, &list->items[i], "the id of a rule is expected here");
    ids[i] = arena_text(reader->arena, list->items[i].text);
  }
  rule->explains = ids;
  rule->explain_count = list->count;
  return true;
}

struct need_list {
  struct arena *arena;
  const char **names;
  size_t count, capacity;
};

static void add_text(struct need_list *list, const char *text)
{
  size_t at = 0;
  while (at < list->count && strcmp(list->names[at], text) < 0)
    at++;
  if (at < list->count && strcmp(list->names[at], text) == 0)
    return;
  list->names = arena_grow(list->arena, list->names, list->count, &list->capacity, sizeof *list->names);
  memmove(list->names + at + 1, list->names + at, (list->count - at) * sizeof *list->names);
  list->names[at] = text;
  list->count++;
}

static void add_need(void *context, const struct name *name)
{
  if (name->scope != NAME_LIMIT)
    add_text(context, name->full.at);
}

static void add_phase(void *context, const struct name *name)
{
  add_text(context, name->full.at + strlen("phase."));
}

static void add_needs(struct need_list lists[2], const struct expr *expr)
{
  if (!expr)
    return;
  expr_names(expr, add_need, &lists[0]);
  expr_phases(expr, add_phase, &lists[1]);
}

static void collect_needs(struct rule_reader *reader, struct rule *rule)
{
  struct need_list lists[2] = {{.arena = reader->arena}, {.arena = reader->arena}}; /* names, phases */
  for (size_t i = 0; i < rule->check_count; i++) {
    const struct check *check = &rule->checks[i];
    const struct expr *own[] = {check->each,    check->where, check->flag,  check->subject,
                                check->measure, check->limit, check->severe};
    for (size_t k = 0; k < sizeof own / sizeof *own; k++)
      add_needs(lists, own[k]);
    if (check->each && expr_type(check->each)->item->kind == ITEM_AXIS_STEP)
      add_text(&lists[0], "tune.*"); /* whichever curves and tables there are */
    if (check->each && expr_type(check->each)->item->kind == ITEM_CHANGE)
      add_text(&lists[0], "before.*");
    for (size_t k = 0; k < check->applies_count; k++)
      add_needs(lists, check->applies[k].that);
    for (size_t k = 0; k < check->needs_count; k++)
      add_needs(lists, check->needs[k].that);
    for (size_t k = 0; k < check->say->count; k++)
      add_needs(lists, check->say->parts[k].expr);
  }
  rule->needs = lists[0].names;
  rule->need_count = lists[0].count;
  rule->phases = lists[1].names;
  rule->phase_count = lists[1].count;
}

static bool read_switch(struct rule_reader *reader, const struct node *map, const char *key, const char *on,
                        const char *off, bool *out)
{
  const struct node *node = node_get(map, key);
  *out = node && node->kind == NODE_SCALAR && slice_is(node->text, on);
  if (!node || *out || (node->kind == NODE_SCALAR && slice_is(node->text, off)))
    return true;
  return problems_add(reader->problems, node->place, "'%s' or '%s' is expected here", on, off);
}

const struct rule *rule_read(struct rule_reader *reader, const struct node *node)
{
  if (node->kind != NODE_MAP || node->count == 0) {
    refuse(reader, node, "a rule is a map that starts with 'rule: ID'");
    return NULL;
  }
  size_t before = reader->problems->count + reader->problems->dropped;
  rule_known_keys(reader, node, rule_keys);
  struct rule *rule = ARENA_NEW(reader->arena, struct rule);
  const struct node *id = node_get(node, "rule");
  rule->id = slice_of(rule_text(reader, node, "rule", true));
  rule->place = id ? id->place : node->place;
  rule->title = rule_text(reader, node, "title", true);
  rule->topic = rule_text(reader, node, "topic", true);
  rule->why = rule_text(reader, node, "why", true);
  rule->act = rule_text(reader, node, "do", true);
  rule->verify = rule_text(reader, node, "verify", true);
  rule->by_design = rule_text(reader, node, "by_design", true);
  rule->basis = rule_text(reader, node, "basis", true);
  rule->pack = reader->pack;
  rule->source = reader->source;
  rule->node = node;
  rule->cases = node_get(node, "cases");
  rule->unchanged_by = node_get(node, "unchanged_by");
  bool replaces;
  read_switch(reader, node, "decide", "any", "all", &rule->decide_any);
  read_switch(reader, node, "replaces", "yes", "no", &replaces);
  if (node_get(node, "severity"))
    rule_severity(reader, node_get(node, "severity"), rule->severity);
  else
    problems_add(reader->problems, rule->place, "'severity:' is missing");
  read_severe(reader, node, rule);
  const struct node *checks = node_get(node, "checks");
  for (size_t i = 0; checks && checks->kind == NODE_LIST && i < checks->count; i++)
    read_severe(reader, &checks->items[i], rule);
  read_cautions(reader, node, rule);
  read_explains(reader, node, rule);
  if (!read_checks(reader, node, rule) || reader->problems->count + reader->problems->dropped > before)
    return NULL;
  collect_needs(reader, rule);
  return rule;
}
