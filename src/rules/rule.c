/* One rule: its YAML map to texts and compiled checks (check.c). Reading order: rule_read, then read_checks, then the
 * helpers. Every mistake is reported; a rule with any is refused. */
#include "rules/rule.h"

#include "rules/check.h"
#include "rules/needs.h"
#include "rules/template.h"

static const char *const rule_keys[] = {
    "rule",         "title",   "topic",  "severity",  "replaces", "decide",   "order",    "checks",
    "why",          "do",      "verify", "by_design", "basis",    "cautions", "explains", "cases",
    "unchanged_by", "applies", "phases", "needs",     "let",      "each",     "where",    "flag",
    "subject",      "measure", "limit",  "places",    "say",      "severe",   NULL};
static const char *const check_keys[] = {"applies", "phases", "needs",  "let", "each",   "where", "flag", "subject",
                                         "measure", "limit",  "places", "say", "severe", "do",    NULL};
static const char *const shared_keys[] = {"each",  "where",  "flag", "subject", "measure",
                                          "limit", "places", "say",  "severe",  NULL};

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

/* severe: {when: ..., severity: {...}}, on the rule or on one check. The rule keeps the worst of all its checks. */
static bool read_severe(struct rule_reader *reader, const struct node *map, struct rule *rule, struct check *check)
{
  const struct node *severe = node_get(map, "severe");
  if (!severe)
    return true;
  static const char *const keys[] = {"when", "severity", NULL};
  if (!node_get(severe, "when") || !node_get(severe, "severity"))
    return refuse(reader, severe, "{when: CONDITION, severity: {...}} is expected here");
  rule_known_keys(reader, severe, keys);
  rule->has_severe = true;
  if (!rule_severity(reader, node_get(severe, "severity"), check->severity))
    return false;
  for (int stage = 0; stage < STAGE_COUNT; stage++) {
    if (check->severity[stage] > rule->severe[stage])
      rule->severe[stage] = check->severity[stage];
  }
  return true;
}

static bool read_checks(struct rule_reader *reader, const struct node *node, struct rule *rule)
{
  const struct node *list = node_get(node, "checks");
  if (!list) {
    struct check *check = ARENA_NEW(reader->arena, struct check);
    rule->checks = check;
    rule->check_count = 1;
    bool good = check_read(reader, node, node, rule->id, check);
    return read_severe(reader, node, rule, check) && good;
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
    good = check_read(reader, node, &list->items[i], rule->id, &checks[i]) && good;
    good = read_severe(reader, &list->items[i], rule, &checks[i]) && good;
  }
  rule->checks = checks;
  rule->check_count = list->count;
  return good;
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
  rule->act = message_outline(reader->arena, slice_of(rule_text(reader, node, "do", true)));
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
  read_switch(reader, node, "order", "first", "usual", &rule->first);
  read_switch(reader, node, "replaces", "yes", "no", &replaces);
  if (node_get(node, "severity"))
    rule_severity(reader, node_get(node, "severity"), rule->severity);
  else
    problems_add(reader->problems, rule->place, "'severity:' is missing");
  read_cautions(reader, node, rule);
  read_explains(reader, node, rule);
  if (!read_checks(reader, node, rule) || reader->problems->count + reader->problems->dropped > before)
    return NULL;
  needs_collect(reader, rule);
  return rule;
}
