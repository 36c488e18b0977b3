/* Evidence out of what `each` was at, or out of the names that a rule reads. Reading order: the two public functions at
 * the end. */
#include "audit/evidence.h"

static const char *quantity(const struct judge *judge, struct quantity q)
{
  return quantity_print(judge->arena, q, NULL, 0);
}

static const char *from_to(const struct judge *judge, struct quantity from, struct quantity to)
{
  return quantity_print_range(judge->arena, from, to);
}

static const char *record_text(const struct judge *judge, const struct item *item)
{
  const char *text = "";
  for (size_t i = 0; i < item->field_count; i++) {
    if (!item->fields[i].known)
      continue;
    const struct item_field *field = &item->shape->fields[i];
    text = arena_print(judge->arena, "%s%s%.*s %s", text, text[0] ? ", " : "", SLICE_ARG(field->name),
                       result_print(judge->arena, &item->fields[i], &field->type, NULL, 0));
  }
  return text;
}

/* "log 2, " when there are several: each has a clock of its own. */
static const char *which_log(const struct judge *judge, size_t row)
{
  const struct log *log = judge->subject->log;
  size_t part = log->part_count;
  while (part > 1 && log->parts[part - 1].from_row > row)
    part--;
  return log->part_count > 1 ? arena_print(judge->arena, "log %zu, ", part) : "";
}

static const char *where_in_engine(const struct judge *judge, const struct item *item)
{
  struct arena *arena = judge->arena;
  switch (item->shape->kind) {
  case ITEM_POINT:
    return quantity(judge, item->x);
  case ITEM_STEP:
    return from_to(judge, item->x, item->next);
  case ITEM_CELL:
  case ITEM_VISIT:
    return arena_print(arena, "%s, %s", quantity(judge, item->x), quantity(judge, item->y));
  case ITEM_ALONG_X:
    return arena_print(arena, "%s, %s", from_to(judge, item->x, item->next), quantity(judge, item->y));
  case ITEM_ALONG_Y:
    return arena_print(arena, "%s, %s", quantity(judge, item->x), from_to(judge, item->y, item->next));
  case ITEM_AXIS_STEP:
    return arena_print(arena, "%s axis, %s", item->has_x ? "x" : "y",
                       from_to(judge, item->has_x ? item->x : item->y, item->next));
  case ITEM_PIN:
  case ITEM_SHARED_PIN:
    return arena_print(arena, "%.*s: %.*s", SLICE_ARG(item->fields[0].text), SLICE_ARG(item->fields[1].text));
  case ITEM_SPAN: {
    const struct unit *second = unit_find(slice_of("s"));
    struct quantity start = {item->fields[0].number, second}, end = {item->fields[1].number, second};
    return arena_print(arena, "%s%s to %s", which_log(judge, item->from_row), quantity_print(arena, start, NULL, 0.01),
                       quantity_print(arena, end, NULL, 0.01));
  }
  case ITEM_RECORD:
    return record_text(judge, item);
  case ITEM_CHANGE:
  case ITEM_RANGE_END:
    return arena_text(arena, item->fields[1].text);
  }
  return "";
}

static void add(const struct judge *judge, struct evidence_list *list, const struct evidence *evidence)
{
  list->items = arena_grow(judge->arena, list->items, list->count, &list->capacity, sizeof *list->items);
  list->items[list->count++] = *evidence;
}

void evidence_of_item(const struct judge *judge, const struct item *item, const struct evidence *measured,
                      struct evidence_list *list)
{
  struct evidence evidence = *measured;
  evidence.text = where_in_engine(judge, item);
  evidence.has_x = item->has_x;
  evidence.x = item->x;
  evidence.has_y = item->has_y;
  evidence.y = item->y;
  if (item->shape->kind == ITEM_SPAN) {
    const struct unit *second = unit_find(slice_of("s"));
    evidence.has_span = true;
    evidence.start = (struct quantity){item->fields[0].number, second};
    evidence.end = (struct quantity){item->fields[1].number, second};
  }
  for (size_t i = 0; i < item->place_count; i++) {
    evidence.place =
        item->shape->kind == ITEM_SPAN ? log_row_place(judge->subject->log, item->from_row) : item->places[i];
    add(judge, list, &evidence);
  }
}

struct name_walk {
  const struct judge *judge;
  const struct evidence *measured;
  struct evidence_list *list;
  bool logs; /* take channels; else settings and job-sheet entries */
};

static void add_name(void *context, const struct name *name)
{
  struct name_walk *walk = context;
  const struct subject *subject = walk->judge->subject;
  const struct value *value = NULL;
  if (walk->logs != (name->scope == NAME_LOG))
    return;
  if (name->scope == NAME_TUNE)
    value = subject->settings->values[name->index];
  else if (name->scope == NAME_BEFORE && subject->before)
    value = subject->before->values[name->index];
  else if (name->scope == NAME_JOB && subject->job)
    value = subject->job->values[name->index];
  else if (name->scope == NAME_LOG && subject->log)
    value = subject->log->values[name->index];
  if (!value)
    return;
  for (size_t i = 0; i < walk->list->count; i++) {
    if (walk->list->items[i].place.source == value->place.source &&
        walk->list->items[i].place.start == value->place.start)
      return;
  }
  struct evidence evidence = *walk->measured;
  evidence.place = value->place;
  evidence.text = arena_text(walk->judge->arena, name->full);
  add(walk->judge, walk->list, &evidence);
}

void evidence_of_names(const struct judge *judge, const struct check *check, const struct evidence *measured,
                       struct evidence_list *list)
{
  struct name_walk walk = {judge, measured, list, false};
  for (size_t i = 0; i < check->place_count; i++) {
    walk.logs = expr_name(check->places[i])->scope == NAME_LOG;
    expr_names(check->places[i], add_name, &walk);
  }
  if (check->place_count > 0)
    return;
  size_t before = list->count;
  expr_names(check->flag, add_name, &walk);
  walk.logs = true;
  if (list->count == before)
    expr_names(check->flag, add_name, &walk);
}
