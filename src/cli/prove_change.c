/* Slips: comparisons turned or loosened, numbers and limits moved a step either way, units swapped, conditions dropped,
 * signs turned, functions mistaken for their opposites. Each is a change of the rule's text, so that it can be shown as
 * it would have been typed. Reading order: changes_of, scalar_changes, tree_changes. */
#include "cli/prove_change.h"

#include "base/number.h"
#include "expr/ast.h"

#include <stdlib.h>

/* Where changes are being made: one scalar of the rule's YAML. */
struct spot {
  struct changes *changes;
  const struct rule *rule;
  const struct node *scalar;
  const char *label; /* "flag", "applies 1", "check 2 where" */
};

static struct node *copy_with(struct arena *arena, const struct node *node, const struct node *old,
                              const struct node *new)
{
  struct node *copy = ARENA_NEW(arena, struct node);
  *copy = node == old ? *new : *node;
  if (node == old || node->kind == NODE_SCALAR)
    return copy;
  if (node->kind == NODE_LIST) {
    copy->items = ARENA_ARRAY(arena, node->count, struct node);
    for (size_t i = 0; i < node->count; i++)
      copy->items[i] = *copy_with(arena, &node->items[i], old, new);
    return copy;
  }
  copy->pairs = ARENA_ARRAY(arena, node->count, struct node_pair);
  for (size_t i = 0; i < node->count; i++) {
    copy->pairs[i].key = node->pairs[i].key;
    bool bulk = slice_is(node->pairs[i].key.text, "cases"); /* never changed, and the largest part */
    copy->pairs[i].value = bulk ? node->pairs[i].value : *copy_with(arena, &node->pairs[i].value, old, new);
  }
  return copy;
}

/* A map or list without one of its entries. */
static struct node *without(struct arena *arena, const struct node *outer, size_t entry)
{
  struct node *copy = ARENA_NEW(arena, struct node);
  *copy = *outer;
  copy->count--;
  if (outer->kind == NODE_LIST) {
    copy->items = ARENA_ARRAY(arena, outer->count, struct node);
    for (size_t i = 0, k = 0; i < outer->count; i++) {
      if (i != entry)
        copy->items[k++] = outer->items[i];
    }
    return copy;
  }
  copy->pairs = ARENA_ARRAY(arena, outer->count, struct node_pair);
  for (size_t i = 0, k = 0; i < outer->count; i++) {
    if (i != entry)
      copy->pairs[k++] = outer->pairs[i];
  }
  return copy;
}

/* Adds a change; one with a text that is already there is told apart by its number. */
static void add(struct changes *changes, struct change change)
{
  size_t same = 1;
  const char *text = change.text;
  for (size_t i = 0; i < changes->count; i++) {
    if (strcmp(changes->items[i].text, change.text) == 0)
      change.text = arena_print(changes->arena, "%s (%zu)", text, ++same);
  }
  changes->items =
      arena_grow(changes->arena, changes->items, changes->count, &changes->capacity, sizeof *changes->items);
  changes->items[changes->count++] = change;
}

/* Bytes [from, to) of the scalar replaced. */
static void replace(const struct spot *spot, size_t from, size_t to, const char *with)
{
  struct arena *arena = spot->changes->arena;
  struct slice text = spot->scalar->text;
  struct node *changed = ARENA_NEW(arena, struct node);
  *changed = *spot->scalar;
  changed->text = slice_of(arena_print(arena, "%.*s%s%.*s", SLICE_ARG(slice_part(text, 0, from)), with,
                                       SLICE_ARG(slice_part(text, to, text.size))));
  struct slice old = slice_trim(slice_part(text, from, to));
  const char *line = arena_print(arena, "%s: %.*s -> %s", spot->label, SLICE_ARG(old), with);
  add(spot->changes, (struct change){.text = line, .node = copy_with(arena, spot->rule->node, spot->scalar, changed)});
}

static void operator_changes(const struct spot *spot, const struct expr *expr, size_t shift)
{
  static const struct {
    enum expr_op op;
    const char *first, *second;
  } turns[] = {
      {EXPR_LESS, "<=", ">"},   {EXPR_LESS_EQUAL, "<", ">="}, {EXPR_MORE, ">=", "<"},     {EXPR_MORE_EQUAL, ">", "<="},
      {EXPR_EQUAL, "!=", NULL}, {EXPR_UNEQUAL, "==", NULL},   {EXPR_AND, "or", NULL},     {EXPR_OR, "and", NULL},
      {EXPR_ADD, "-", NULL},    {EXPR_SUBTRACT, "+", NULL},   {EXPR_MULTIPLY, "/", NULL}, {EXPR_DIVIDE, "*", NULL},
      {EXPR_NOT, "", NULL},     {EXPR_NEGATE, "", NULL},
  };
  for (size_t i = 0; i < sizeof turns / sizeof *turns; i++) {
    if (turns[i].op != expr->op)
      continue;
    replace(spot, shift + expr->op_from, shift + expr->op_to, turns[i].first);
    if (turns[i].second)
      replace(spot, shift + expr->op_from, shift + expr->op_to, turns[i].second);
  }
}

/* "a and b" to a, and to b; likewise for or, otherwise, if. */
static void operand_changes(const struct spot *spot, const struct expr *expr, size_t shift, size_t first)
{
  struct arena *arena = spot->changes->arena;
  for (size_t i = first; i < expr->count; i++) {
    struct slice part = slice_part(spot->scalar->text, shift + expr->args[i]->from, shift + expr->args[i]->to);
    replace(spot, shift + expr->from, shift + expr->to, arena_print(arena, "(%.*s)", SLICE_ARG(part)));
  }
}

/* A decimal as written, one unit of its last digit up or down. */
static const char *moved_decimal(struct arena *arena, struct slice digits, int by)
{
  size_t point = 0;
  long long whole = 0;
  bool after = false;
  for (size_t i = 0; i < digits.size; i++) {
    char c = digits.at[i];
    if (c == '.')
      after = true;
    else if (c < '0' || c > '9' || whole > 100000000000000)
      return NULL; /* exponents: no last digit to speak of */
    else {
      whole = whole * 10 + (c - '0');
      point += after;
    }
  }
  whole += by;
  long long scale = 1;
  for (size_t i = 0; i < point; i++)
    scale *= 10;
  const char *sign = whole < 0 ? "-" : "";
  whole = llabs(whole);
  if (point == 0)
    return arena_print(arena, "%s%lld", sign, whole);
  return arena_print(arena, "%s%lld.%0*lld", sign, whole / scale, (int)point, whole % scale);
}

/* Another unit of the same kind, in which the same digits mean something else. */
static const char *other_unit(const struct unit *unit)
{
  for (size_t i = 0; i < unit_count(); i++) {
    const struct unit *other = unit_at(i);
    if (dimension_equal(unit->dimension, other->dimension) && unit->sense == other->sense &&
        (other->factor != unit->factor || other->offset != unit->offset))
      return other->name;
  }
  return NULL;
}

static void number_changes(const struct spot *spot, const struct expr *expr, size_t shift)
{
  struct arena *arena = spot->changes->arena;
  struct slice written = slice_part(spot->scalar->text, shift + expr->from, shift + expr->to);
  double value;
  size_t used = number_read(written, '.', &value);
  if (used == 0)
    return; /* in brackets: the number inside is visited by itself */
  for (int by = -1; by <= 1; by += 2) {
    const char *moved = moved_decimal(arena, slice_part(written, 0, used), by);
    if (moved)
      replace(spot, shift + expr->from, shift + expr->from + used, moved);
  }
  const char *other = other_unit(expr->number.unit);
  if (other && used < written.size)
    replace(spot, shift + expr->from + used, shift + expr->to, arena_print(arena, " %s", other));
}

static void call_changes(const struct spot *spot, const struct expr *expr, size_t shift)
{
  static const char *const pairs[][2] = {{"min", "max"},           {"any", "all"},        {"first", "last"},
                                         {"along_x", "along_y"},   {"first_x", "last_x"}, {"first_y", "last_y"},
                                         {"pin_of", "function_of"}};
  size_t at = shift + expr->from;
  for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
    for (size_t k = 0; k < 2; k++) {
      if (slice_is(expr->text, pairs[i][k]))
        replace(spot, at, at + expr->text.size, pairs[i][1 - k]);
    }
  }
  if (slice_is(expr->text, "if"))
    operand_changes(spot, expr, shift, 1);
  if (slice_is(expr->text, "either"))
    operand_changes(spot, expr, shift, 0);
}

static bool in_brackets(const struct spot *spot, const struct expr *expr, size_t shift)
{
  return expr->from < expr->to && spot->scalar->text.at[shift + expr->from] == '(';
}

static void tree_changes(const struct spot *spot, const struct expr *expr, size_t shift)
{
  if (expr->bound)
    return; /* text of a `let`, which is changed where it stands */
  operator_changes(spot, expr, shift);
  if (expr->op == EXPR_AND || expr->op == EXPR_OR || expr->op == EXPR_OTHERWISE)
    operand_changes(spot, expr, shift, 0);
  if (expr->op == EXPR_NUMBER && !in_brackets(spot, expr, shift))
    number_changes(spot, expr, shift);
  if (expr->op == EXPR_CALL && !in_brackets(spot, expr, shift))
    call_changes(spot, expr, shift);
  for (size_t i = 0; i < expr->count; i++)
    tree_changes(spot, expr->args[i], shift);
}

static struct place no_place(const void *context, size_t from, size_t to)
{
  (void)context;
  (void)from;
  (void)to;
  return PLACE_NONE;
}

/* All changes within one expression. Names of `let` and `each` need only be known as names here. */
static void scalar_changes(struct changes *changes, const struct rule *rule, const struct node *scalar,
                           const char *label, size_t shift, const struct scope_chain *chain)
{
  struct arena *arena = changes->arena;
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_PACK);
  struct locator locator = {no_place, NULL};
  struct spot spot = {changes, rule, scalar, label};
  const struct expr *expr =
      expr_parse(arena, slice_part(scalar->text, shift, scalar->text.size), chain, &locator, &problems);
  if (expr)
    tree_changes(&spot, expr, shift);
}

static const struct scope_chain *name_only(struct arena *arena, struct slice name, const struct scope_chain *outer)
{
  static const struct item_shape no_item = {0};
  struct scope_chain *link = ARENA_NEW(arena, struct scope_chain);
  *link = (struct scope_chain){name, NULL, {.kind = TYPE_ITEM, .item = &no_item}, outer};
  return link;
}

static const struct scope_chain *let_changes(struct changes *changes, const struct rule *rule, const struct node *map,
                                             const char *prefix, const struct scope_chain *chain)
{
  const struct node *let = node_get(map, "let");
  for (size_t i = 0; let && i < let->count; i++) {
    const struct node_pair *pair = &let->pairs[i];
    scalar_changes(changes, rule, &pair->value,
                   arena_print(changes->arena, "%slet %.*s", prefix, SLICE_ARG(pair->key.text)), 0, chain);
    chain = name_only(changes->arena, pair->key.text, chain);
  }
  return chain;
}

static void condition_changes(struct changes *changes, const struct rule *rule, const struct node *map, const char *key,
                              const char *prefix, const struct scope_chain *chain)
{
  const struct node *list = node_get(map, key);
  for (size_t i = 0; list && i < list->count; i++) {
    const char *label = arena_print(changes->arena, "%s%s %zu", prefix, key, i + 1);
    scalar_changes(changes, rule, node_get(&list->items[i], "that"), label, 0, chain);
    struct node *less = without(changes->arena, list, i);
    add(changes, (struct change){.text = arena_print(changes->arena, "%s dropped", label),
                                 .node = copy_with(changes->arena, rule->node, list, less)});
  }
}

/* `phases:`, a list of names or a map from names to times. */
static void phase_changes(struct changes *changes, const struct rule *rule, const struct node *map, const char *prefix,
                          const struct scope_chain *chain)
{
  const struct node *all = node_get(map, "phases");
  for (size_t i = 0; all && i < all->count; i++) {
    bool mapped = all->kind == NODE_MAP;
    const struct node *name = mapped ? &all->pairs[i].key : &all->items[i];
    const char *label = arena_print(changes->arena, "%sphases %.*s", prefix, SLICE_ARG(name->text));
    if (mapped)
      scalar_changes(changes, rule, &all->pairs[i].value, label, 0, chain);
    struct node *less = without(changes->arena, all, i);
    add(changes, (struct change){.text = arena_print(changes->arena, "%s dropped", label),
                                 .node = copy_with(changes->arena, rule->node, all, less)});
  }
}

/* The expressions that stand in one map: the rule itself, or one of its checks. */
static void map_changes(struct changes *changes, const struct rule *rule, const struct node *map, const char *prefix,
                        const struct scope_chain *chain)
{
  static const char *const keys[] = {"where", "flag", "subject"};
  condition_changes(changes, rule, map, "applies", prefix, chain);
  phase_changes(changes, rule, map, prefix, chain);
  condition_changes(changes, rule, map, "needs", prefix, chain);
  const struct node *each = node_get(map, "each"), *severe = node_get(map, "severe");
  if (each) {
    size_t end = 0;
    while (end < each->text.size && each->text.at[end] != ' ')
      end++;
    scalar_changes(changes, rule, each, arena_print(changes->arena, "%seach", prefix), end + strlen(" in "), chain);
    chain = name_only(changes->arena, slice_part(each->text, 0, end), chain);
  }
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
    const struct node *scalar = node_get(map, keys[i]);
    if (scalar)
      scalar_changes(changes, rule, scalar, arena_print(changes->arena, "%s%s", prefix, keys[i]), 0, chain);
  }
  if (severe)
    scalar_changes(changes, rule, node_get(severe, "when"), arena_print(changes->arena, "%ssevere", prefix), 0, chain);
  for (size_t i = 0; i < map->count; i++) {
    if (!slice_is(map->pairs[i].key.text, "where") && !slice_is(map->pairs[i].key.text, "severe"))
      continue;
    const char *line = arena_print(changes->arena, "%s%.*s dropped", prefix, SLICE_ARG(map->pairs[i].key.text));
    struct node *less = without(changes->arena, map, i);
    add(changes, (struct change){.text = line, .node = copy_with(changes->arena, rule->node, map, less)});
  }
}

struct limit_walk {
  struct changes *changes;
  const struct packs *packs;
  bool *moved; /* one a limit */
};

static void move_limit(void *context, const struct name *name)
{
  struct limit_walk *walk = context;
  if (name->scope != NAME_LIMIT || walk->moved[name->index])
    return;
  walk->moved[name->index] = true;
  const struct limit *limit = &walk->packs->limits[name->index];
  const char *step = quantity_print(walk->changes->arena, limit->step, NULL, 0);
  for (int sign = 1; sign >= -1; sign -= 2) {
    const char *text =
        arena_print(walk->changes->arena, "%.*s %c %s", SLICE_ARG(name->full), sign > 0 ? '+' : '-', step);
    add(walk->changes, (struct change){.text = text, .limit = limit, .by = sign * limit->step.value});
  }
}

/* Those within phases are moved where the phases are proved. */
static void limit_changes(struct changes *changes, const struct packs *packs, const struct rule *rule)
{
  struct limit_walk walk = {changes, packs, ARENA_ARRAY(changes->arena, packs->limit_count + 1, bool)};
  for (size_t i = 0; i < rule->check_count; i++) {
    const struct check *check = &rule->checks[i];
    const struct expr *own[] = {check->each, check->where, check->flag, check->subject, check->severe};
    for (size_t k = 0; k < sizeof own / sizeof *own; k++) {
      if (own[k])
        expr_own_names(own[k], move_limit, &walk);
    }
    for (size_t k = 0; k < check->applies_count; k++)
      expr_own_names(check->applies[k].that, move_limit, &walk);
    for (size_t k = 0; k < check->needs_count; k++)
      expr_own_names(check->needs[k].that, move_limit, &walk);
  }
}

struct changes changes_of(struct arena *arena, const struct packs *packs, const struct rule *rule)
{
  struct changes changes = {.arena = arena};
  const struct scope_chain *chain = let_changes(&changes, rule, rule->node, "", NULL);
  map_changes(&changes, rule, rule->node, "", chain);
  const struct node *checks = node_get(rule->node, "checks");
  for (size_t i = 0; checks && i < checks->count; i++) {
    const char *prefix = arena_print(arena, "check %zu ", i + 1);
    const struct scope_chain *inner = let_changes(&changes, rule, &checks->items[i], prefix, chain);
    map_changes(&changes, rule, &checks->items[i], prefix, inner);
  }
  limit_changes(&changes, packs, rule);
  return changes;
}

struct changes changes_of_phase(struct arena *arena, const struct packs *packs, const struct rule *rule)
{
  struct changes changes = {.arena = arena};
  scalar_changes(&changes, rule, node_get(node_get(rule->node, "let"), "when"), "when", 0, NULL);
  limit_changes(&changes, packs, rule);
  return changes;
}
