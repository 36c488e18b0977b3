/* One check of a rule: its lets, conditions, collection and expressions, compiled. Reading order: check_read, then what
 * it calls from the top. */
#include "rules/check.h"

#include "base/limits.h"
#include "rules/locate.h"
#include "rules/phase.h"

#define LETS_REFUSED 64 /* after so many of one rule the others are left for the next run */

static bool refuse(struct rule_reader *reader, const struct node *at, const char *message)
{
  return problems_add(reader->problems, at->place, "%s", message);
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

/* Lets that could not be compiled yet and name the item of `each`: they wait for it. */
struct waiting {
  const struct node *each;
  size_t count;
  const struct node_pair *lets[LETS_REFUSED];
  struct slice names[LETS_REFUSED]; /* of the item, then of the lets */
};

static struct waiting waiting_for(const struct node *map)
{
  struct waiting waiting = {.each = node_get(map, "each")};
  size_t end = 0;
  while (waiting.each && waiting.each->kind == NODE_SCALAR && end < waiting.each->text.size &&
         is_word(waiting.each->text.at[end]))
    end++;
  if (end > 0)
    waiting.names[0] = slice_part(waiting.each->text, 0, end);
  else
    waiting.each = NULL;
  return waiting;
}

/* A let that names the item is tried without it, in vain as a rule ("5 s" is no item 's'), and then waits. */
static bool must_wait(struct rule_reader *reader, const struct node_pair *let, const struct scope_chain *chain,
                      struct waiting *waiting)
{
  if (!waiting || !waiting->each || waiting->count + 1 == LETS_REFUSED || let->value.kind != NODE_SCALAR ||
      !uses_refused(let->value.text, waiting->names, waiting->count + 1))
    return false;
  struct problems unheard;
  struct rule_reader silent = *reader;
  problems_init(&unheard, reader->arena, PROBLEM_OF_PACK);
  silent.problems = &unheard;
  if (compile(&silent, &let->value, 0, chain, WANT_ANY))
    return false;
  waiting->lets[waiting->count++] = let;
  waiting->names[waiting->count] = let->key.text;
  return true;
}

static const struct scope_chain *bind(struct rule_reader *reader, struct slice name, const struct expr *value,
                                      const struct scope_chain *chain)
{
  struct scope_chain *link = ARENA_NEW(reader->arena, struct scope_chain);
  *link = (struct scope_chain){name, value, *expr_type(value), chain};
  return link;
}

static const struct scope_chain *read_let(struct rule_reader *reader, const struct node *map,
                                          const struct scope_chain *chain, struct waiting *waiting, bool *good)
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
    if (must_wait(reader, &let->pairs[i], chain, waiting))
      continue;
    bool silent = text->kind == NODE_SCALAR && uses_refused(text->text, refused, refused_count);
    const struct expr *value = silent ? NULL : compile(reader, text, 0, chain, WANT_ANY);
    if (value) {
      chain = bind(reader, let->pairs[i].key.text, value, chain);
      continue;
    }
    *good = false;
    refused[refused_count++] = let->pairs[i].key.text;
  }
  return chain;
}

/* Those that waited, now that the item is known; the first that is refused silences the rest. */
static const struct scope_chain *read_waiting(struct rule_reader *reader, const struct waiting *waiting,
                                              const struct scope_chain *chain, bool *good)
{
  for (size_t i = 0; i < waiting->count && *good; i++) {
    const struct expr *value = compile(reader, &waiting->lets[i]->value, 0, chain, WANT_ANY);
    *good = value != NULL;
    if (value)
      chain = bind(reader, waiting->lets[i]->key.text, value, chain);
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

/* The check's own do:, or the rule's when there is something to fill in. */
static bool read_act(struct rule_reader *reader, const struct node *rule, const struct node *map,
                     const struct scope_chain *chain, struct check *check)
{
  const struct node *own = rule != map ? node_get(map, "do") : NULL, *act = own ? own : node_get(rule, "do");
  if (own && (own->kind != NODE_SCALAR || slice_trim(own->text).size == 0))
    return refuse(reader, own, "a text is expected here");
  if (!act || act->kind != NODE_SCALAR)
    return true; /* told with the rule's texts */
  bool plain = memchr(act->text.at, '{', act->text.size) == NULL && memchr(act->text.at, '}', act->text.size) == NULL;
  if (plain && !own)
    return true;
  struct node trimmed = *act;
  while (trimmed.text.size > 0 && trimmed.text.at[trimmed.text.size - 1] == '\n')
    trimmed.text.size--;
  check->act = rule_message(reader, &trimmed, chain);
  return check->act != NULL;
}

bool check_read(struct rule_reader *reader, const struct node *rule, const struct node *map, struct slice id,
                struct check *check)
{
  const struct node *maps[2] = {rule, map};
  size_t map_count = rule == map ? 1 : 2;
  bool good = true;
  struct waiting waiting = waiting_for(map);
  const struct scope_chain *chain = read_let(reader, rule, NULL, map_count == 1 ? &waiting : NULL, &good);
  if (map_count == 2)
    chain = read_let(reader, map, chain, &waiting, &good);
  check->applies = read_conditions(reader, maps, map_count, "applies", chain, &check->applies_count, &good);
  check->needs = read_conditions(reader, maps, map_count, "needs", chain, &check->needs_count, &good);
  chain = read_each(reader, map, chain, check, &good);
  chain = read_waiting(reader, &waiting, chain, &good);
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
  good = read_act(reader, rule, map, chain, check) && good;
  return good && check->say;
}
