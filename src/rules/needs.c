/* Which names and phases the expressions of a rule read: sorted, each once. */
#include "rules/needs.h"

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

void needs_collect(struct rule_reader *reader, struct rule *rule)
{
  struct need_list lists[2] = {{.arena = reader->arena}, {.arena = reader->arena}}; /* names, phases */
  for (size_t i = 0; i < rule->check_count; i++) {
    const struct check *check = &rule->checks[i];
    const struct expr *own[] = {check->each,    check->where, check->flag,  check->subject,
                                check->measure, check->limit, check->severe};
    for (size_t k = 0; k < sizeof own / sizeof *own; k++)
      add_needs(lists, own[k]);
    enum item_kind kind = check->each ? expr_type(check->each)->item->kind : ITEM_POINT;
    if (kind == ITEM_AXIS_STEP || kind == ITEM_RANGE_END)
      add_text(&lists[0], "tune.*"); /* whichever there are */
    if (kind == ITEM_CHANGE)
      add_text(&lists[0], "before.*");
    for (size_t k = 0; k < check->applies_count; k++)
      add_needs(lists, check->applies[k].that);
    for (size_t k = 0; k < check->needs_count; k++)
      add_needs(lists, check->needs[k].that);
    for (size_t k = 0; k < check->say->count; k++)
      add_needs(lists, check->say->parts[k].expr);
    for (size_t k = 0; check->act && k < check->act->count; k++)
      add_needs(lists, check->act->parts[k].expr);
  }
  rule->needs = lists[0].names;
  rule->need_count = lists[0].count;
  rule->phases = lists[1].names;
  rule->phase_count = lists[1].count;
}
