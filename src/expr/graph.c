/* Equal sub-expressions of all rules get one slot, so that an evaluation computes each of them once. A hash table over
 * (operator, own content, slots of the arguments): children are joined first, so equality is shallow. */
#include "base/limits.h"
#include "expr/ast.h"
#include "expr/builtin.h"

struct entry {
  uint64_t hash;
  const struct expr *expr; /* NULL: free */
};

struct graph {
  struct arena *arena;
  struct entry *table;
  size_t room; /* a power of two; 0: made of `trees` */
  size_t distinct, written;
  const struct expr *trees;
};

struct graph *graph_new(struct arena *arena)
{
  struct graph *graph = ARENA_NEW(arena, struct graph);
  graph->arena = arena;
  graph->room = 256;
  graph->table = ARENA_ARRAY(arena, graph->room, struct entry);
  return graph;
}

size_t graph_written(const struct graph *graph)
{
  return graph->written;
}
size_t graph_distinct(const struct graph *graph)
{
  return graph->distinct;
}

struct graph *graph_made(struct arena *arena, const struct expr *trees, size_t distinct, size_t written)
{
  struct graph *graph = ARENA_NEW(arena, struct graph);
  *graph = (struct graph){.arena = arena, .distinct = distinct, .written = written, .trees = trees};
  return graph;
}

const struct expr *graph_tree(const struct graph *graph, size_t slot)
{
  if (graph->trees)
    return &graph->trees[slot];
  size_t at = 0;
  while (!graph->table[at].expr || graph->table[at].expr->slot != slot)
    at++;
  return graph->table[at].expr;
}

/* FNV-1a */
static uint64_t mix(uint64_t hash, const void *bytes, size_t size)
{
  const unsigned char *at = bytes;
  for (size_t i = 0; i < size; i++)
    hash = (hash ^ at[i]) * 1099511628211u;
  return hash;
}

static uint64_t hash_of(const struct expr *expr)
{
  uint64_t hash = 14695981039346656037u;
  hash = mix(hash, &expr->op, sizeof expr->op);
  hash = mix(hash, &expr->name, sizeof expr->name);
  hash = mix(hash, &expr->builtin, sizeof expr->builtin);
  hash = mix(hash, &expr->field, sizeof expr->field);
  hash = mix(hash, &expr->number.value, sizeof expr->number.value);
  if (expr->op == EXPR_TEXT || expr->op == EXPR_VARIABLE)
    hash = mix(hash, expr->text.at, expr->text.size);
  for (size_t i = 0; i < expr->count; i++)
    hash = mix(hash, &expr->args[i]->slot, sizeof expr->args[i]->slot);
  return hash;
}

static bool same_texts(const struct expr *a, const struct expr *b)
{
  if (a->text_count != b->text_count)
    return false;
  for (size_t i = 0; i < a->text_count; i++) {
    if (!slice_equal(a->texts[i], b->texts[i]))
      return false;
  }
  return true;
}

static bool same_unit(const struct unit *a, const struct unit *b)
{
  return a == b || (a && b && strcmp(a->name, b->name) == 0); /* composed units are made anew each time */
}

static bool same(const struct expr *a, const struct expr *b)
{
  if (a->op != b->op || a->count != b->count || a->name != b->name || a->builtin != b->builtin || a->field != b->field)
    return false;
  /* The unit stays apart too: "100 %" and "1" are equal numbers that print differently. */
  if (memcmp(&a->number.value, &b->number.value, sizeof a->number.value) != 0 ||
      !same_unit(a->number.unit, b->number.unit) || a->on != b->on)
    return false;
  bool worded = a->op == EXPR_TEXT || a->op == EXPR_VARIABLE; /* two variables over one range are two */
  if (worded && !slice_equal(a->text, b->text))
    return false;
  if (a->op == EXPR_ITEM && a->type.item != b->type.item)
    return false;
  if (!same_texts(a, b))
    return false;
  for (size_t i = 0; i < a->count; i++) {
    if (a->args[i]->slot != b->args[i]->slot)
      return false;
  }
  return true;
}

static void widen(struct graph *graph)
{
  struct entry *old = graph->table;
  size_t old_room = graph->room;
  graph->room *= 2;
  graph->table = ARENA_ARRAY(graph->arena, graph->room, struct entry);
  for (size_t i = 0; i < old_room; i++) {
    if (!old[i].expr)
      continue;
    size_t at = (size_t)old[i].hash & (graph->room - 1);
    while (graph->table[at].expr)
      at = (at + 1) & (graph->room - 1);
    graph->table[at] = old[i];
  }
}

void graph_join(struct graph *graph, struct expr *expr)
{
  graph->written++;
  if (expr->joined)
    return; /* a `let` used again */
  expr->local = expr->op == EXPR_ITEM;
  expr->whole = 1;
  for (size_t i = 0; i < expr->count; i++) {
    const struct expr *arg = expr->args[i];
    graph_join(graph, expr->args[i]);
    expr->local = expr->local || arg->local;
    expr->depth = arg->depth > expr->depth ? arg->depth : expr->depth;
    expr->whole += expr->whole > LIMIT_EXPRESSION_WHOLE ? 0 : arg->whole;
  }
  expr->depth++;
  expr->joined = true;
  uint64_t hash = hash_of(expr);
  size_t at = (size_t)hash & (graph->room - 1);
  for (; graph->table[at].expr; at = (at + 1) & (graph->room - 1)) {
    if (graph->table[at].hash == hash && same(graph->table[at].expr, expr)) {
      expr->slot = graph->table[at].expr->slot;
      return;
    }
  }
  expr->slot = graph->distinct++;
  graph->table[at] = (struct entry){hash, expr};
  if (graph->distinct * 2 > graph->room)
    widen(graph);
}
