/* What the rules will ask of a long log, computed beforehand in a few passes over it rather than in one for each
 * question. A rule that does not apply for other reasons asks nothing. */
#include "audit/judge.h"

struct roots {
  const struct expr **items;
  size_t count, capacity;
};

static void add(const struct judge *judge, struct roots *roots, const struct expr *expr)
{
  if (!expr || evaluation_is_quick(judge->evaluation, expr))
    return;
  roots->items = arena_grow(judge->arena, roots->items, roots->count, &roots->capacity, sizeof(struct expr *));
  roots->items[roots->count++] = expr;
}

/* Does a condition that needs no pass over the log rule the check out? */
static bool is_ruled_out(const struct judge *judge, const struct condition *conditions, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    if (!evaluation_is_quick(judge->evaluation, conditions[i].that))
      continue;
    struct result that = evaluate(judge->evaluation, conditions[i].that);
    if (!that.known || !that.on)
      return true;
  }
  return false;
}

static void add_check(const struct judge *judge, struct roots *roots, const struct check *check)
{
  if (is_ruled_out(judge, check->applies, check->applies_count) ||
      is_ruled_out(judge, check->needs, check->needs_count))
    return;
  for (size_t i = 0; i < check->applies_count; i++)
    add(judge, roots, check->applies[i].that);
  for (size_t i = 0; i < check->needs_count; i++)
    add(judge, roots, check->needs[i].that);
  const struct expr *const rest[] = {check->each,    check->where, check->flag,
                                     check->measure, check->limit, check->severe};
  for (size_t i = 0; i < sizeof rest / sizeof *rest; i++)
    add(judge, roots, rest[i]);
}

void audit_prepare(const struct judge *judge, const struct rule *const *rules, size_t count)
{
  struct roots roots = {0};
  for (size_t i = 0; i < count; i++) {
    bool severe = rules[i]->has_severe && rules[i]->severe[judge->stage] != SEVERITY_NONE;
    if (rules[i]->severity[judge->stage] == SEVERITY_NONE && !severe)
      continue;
    for (size_t k = 0; k < rules[i]->check_count; k++)
      add_check(judge, &roots, &rules[i]->checks[k]);
  }
  evaluation_prepare(judge->evaluation, roots.items, roots.count);
}
