/* Collections for `each`: every item carries its fields and the place and axis values that make it evidence. Reading
 * order: item_at, then one function a collection. */
#include "expr/builtin.h"
#include "expr/sweep.h"

#include <float.h>
#include <math.h>

struct collector {
  struct evaluation *evaluation;
  const struct item_shape *shape;
  struct item *items;
  size_t count, capacity;
};

static struct collector collector_of(struct evaluation *evaluation, const struct expr *call)
{
  return (struct collector){.evaluation = evaluation, .shape = call->type.item};
}

/* A new item with room for its fields. */
static struct item *item_new(struct collector *collector, struct place place, struct result **fields)
{
  struct arena *arena = collector->evaluation->arena;
  collector->items =
      arena_grow(arena, collector->items, collector->count, &collector->capacity, sizeof *collector->items);
  struct item *item = &collector->items[collector->count++];
  struct place *places = ARENA_NEW(arena, struct place);
  *places = place;
  *fields = ARENA_ARRAY(arena, collector->shape->count, struct result);
  *item = (struct item){.shape = collector->shape,
                        .field_count = collector->shape->count,
                        .fields = *fields,
                        .place_count = 1,
                        .places = places};
  return item;
}

static struct result collected(struct collector *collector)
{
  struct collection *collection = ARENA_NEW(collector->evaluation->arena, struct collection);
  *collection = (struct collection){collector->count, collector->items};
  return (struct result){.known = true, .collection = collection};
}

static struct result shown(double base, const struct unit *unit)
{
  return run_number(base, 4 * DBL_EPSILON * (fabs(base) + (unit ? fabs(unit->offset) : 0)), unit);
}

static struct result not_increasing(struct evaluation *evaluation, const struct expr *call)
{
  const struct name *name = expr_first_name(call);
  return run_unknown(evaluation, arena_print(evaluation->arena, "%.*s with axes that increase", SLICE_ARG(name->full)));
}

static void point_item(struct collector *collector, const struct curve *curve, size_t nearest, double x, double value)
{
  struct result *fields;
  struct item *item = item_new(collector, curve->place[nearest], &fields);
  fields[0] = shown(x, curve->x.unit);
  fields[1] = shown(value, curve->unit);
  fields[1].error *= 4; /* also right for a value between two points */
  item->has_x = true;
  item->x = (struct quantity){x, curve->x.unit};
}

/* points(CURVE, FROM, TO): the curve as the function it is between two ends, each given or open. */
struct result builtin_points(struct evaluation *evaluation, const struct expr *call)
{
  struct result args[3] = {evaluate(evaluation, call->args[0])};
  for (size_t i = 1; i < call->count; i++)
    args[i] = evaluate(evaluation, call->args[i]);
  for (size_t i = 0; i < call->count; i++) {
    if (!args[i].known)
      return run_unknown_of(evaluation, args, call->count);
  }
  if (!args[0].value)
    return args[0];
  const struct curve *curve = &args[0].value->as.curve;
  struct collector collector = collector_of(evaluation, call);
  if (call->count > 1 && !curve->x.increasing)
    return not_increasing(evaluation, call);
  double from = call->count > 1 ? args[1].number : -INFINITY, to = call->count > 2 ? args[2].number : INFINITY;
  double slack =
      call->count > 1 ? args[1].error + (call->count > 2 ? args[2].error : 0) + shown(from, curve->x.unit).error : 0;
  const double *x = curve->x.at;
  size_t count = curve->x.count, first = 0, end = count;
  while (call->count > 1 && first < count && x[first] <= from + slack)
    first++;
  while (call->count > 2 && end > first && x[end - 1] >= to - slack)
    end--;
  if (call->count > 1 && from <= to) {
    double value = 0;
    bool on_point = first > 0 && x[first - 1] >= from - slack;
    size_t nearest = first == 0                                                             ? 0
                     : first == count || on_point || from - x[first - 1] <= x[first] - from ? first - 1
                                                                                            : first;
    curve_at(curve, on_point ? x[first - 1] : from, &value);
    point_item(&collector, curve, nearest, on_point ? x[first - 1] : from, value);
    if (!on_point)
      collector.items[0].x.unit = args[1].unit ? args[1].unit : curve->x.unit;
  }
  for (size_t i = first; i < end; i++)
    point_item(&collector, curve, i, x[i], curve->value[i]);
  if (call->count > 2 && to > from + slack) {
    double value = 0;
    size_t nearest = end < count ? end : count - 1;
    curve_at(curve, to, &value);
    point_item(&collector, curve, nearest, to, value);
  }
  return collected(&collector);
}

/* value, next_value, change, slope from fields[at], between the axis values x and next_x. */
static void change_fields(struct evaluation *evaluation, struct result *fields, size_t at, const double *value,
                          const double *next, const double *x, const double *next_x, const struct unit *unit,
                          const struct unit *x_unit, const struct unit *slope_unit)
{
  struct result a = shown(*value, unit), b = shown(*next, unit), from = shown(*x, x_unit), to = shown(*next_x, x_unit);
  double run = *next_x - *x, slope = (*next - *value) / run;
  fields[at] = a;
  fields[at + 1] = b;
  fields[at + 2] = run_number(*next - *value, a.error + b.error, unit_difference(unit));
  if (run == 0 || !isfinite(slope)) {
    fields[at + 3] = run_unknown(evaluation, "an axis that moves");
    return;
  }
  double error = (a.error + b.error + fabs(slope) * (from.error + to.error)) / fabs(run) + fabs(slope) * DBL_EPSILON;
  fields[at + 3] = run_number(slope, error, slope_unit);
}

struct result builtin_steps(struct evaluation *evaluation, const struct expr *call)
{
  struct result arg = evaluate(evaluation, call->args[0]);
  if (!arg.known)
    return arg;
  const struct curve *curve = &arg.value->as.curve;
  const struct unit *slope_unit = run_slope_unit(evaluation, curve->unit, curve->x.unit);
  struct collector collector = collector_of(evaluation, call);
  for (size_t i = 0; i + 1 < curve->x.count; i++) {
    struct result *fields;
    struct item *item = item_new(&collector, curve->place[i + 1], &fields);
    const double *x = curve->x.at + i;
    fields[0] = shown(x[0], curve->x.unit);
    fields[1] = shown(x[1], curve->x.unit);
    change_fields(evaluation, fields, 2, curve->value + i, curve->value + i + 1, x, x + 1, curve->unit, curve->x.unit,
                  slope_unit);
    item->has_x = item->has_next = true;
    item->x = (struct quantity){x[0], curve->x.unit};
    item->next = (struct quantity){x[1], curve->x.unit};
  }
  return collected(&collector);
}

static struct item *cell_item(struct collector *collector, const struct table *table, size_t row, size_t column,
                              struct place place, struct result **fields)
{
  struct item *item = item_new(collector, place, fields);
  (*fields)[0] = shown(table->x.at[column], table->x.unit);
  (*fields)[1] = shown(table->y.at[row], table->y.unit);
  item->has_x = item->has_y = true;
  item->x = (struct quantity){table->x.at[column], table->x.unit};
  item->y = (struct quantity){table->y.at[row], table->y.unit};
  return item;
}

/* Median of the up to eight neighbours of a cell; unknown for a table of one cell. */
static struct result around(struct evaluation *evaluation, const struct table *table, size_t row, size_t column)
{
  double near[8];
  size_t count = 0;
  for (size_t r = row > 0 ? row - 1 : 0; r <= row + 1 && r < table->y.count; r++) {
    for (size_t c = column > 0 ? column - 1 : 0; c <= column + 1 && c < table->x.count; c++) {
      if (r != row || c != column)
        near[count++] = table->value[r * table->x.count + c];
    }
  }
  if (count == 0)
    return run_unknown(evaluation, "a cell beside it");
  double upper = run_select(near, count, count / 2);
  double lower = count % 2 == 0 ? run_select(near, count, count / 2 - 1) : upper;
  return shown((lower + upper) / 2, table->unit);
}

/* before - 2 * here + after along an axis; unknown at the table's edge. */
static struct result bend(struct evaluation *evaluation, const struct table *table, size_t at, size_t step, bool inside)
{
  if (!inside)
    return run_unknown(evaluation, "cells on both sides");
  double before = table->value[at - step], here = table->value[at], after = table->value[at + step];
  double error =
      shown(before, table->unit).error + 2 * shown(here, table->unit).error + shown(after, table->unit).error;
  return run_number(before - 2 * here + after, error, unit_difference(table->unit));
}

struct result builtin_cells(struct evaluation *evaluation, const struct expr *call)
{
  struct result arg = evaluate(evaluation, call->args[0]);
  if (!arg.known)
    return arg;
  const struct table *table = &arg.value->as.table;
  struct collector collector = collector_of(evaluation, call);
  for (size_t row = 0; row < table->y.count; row++) {
    for (size_t column = 0; column < table->x.count; column++) {
      size_t at = row * table->x.count + column;
      struct result *fields;
      cell_item(&collector, table, row, column, table->place[at], &fields);
      fields[2] = shown(table->value[at], table->unit);
      fields[3] = around(evaluation, table, row, column);
      fields[4] = bend(evaluation, table, at, 1, column > 0 && column + 1 < table->x.count);
      fields[5] = bend(evaluation, table, at, table->x.count, row > 0 && row + 1 < table->y.count);
    }
  }
  return collected(&collector);
}

static struct result along(struct evaluation *evaluation, const struct expr *call, bool along_x)
{
  struct result arg = evaluate(evaluation, call->args[0]);
  if (!arg.known)
    return arg;
  const struct table *table = &arg.value->as.table;
  const struct axis *axis = along_x ? &table->x : &table->y;
  const struct unit *slope_unit = run_slope_unit(evaluation, table->unit, axis->unit);
  size_t step = along_x ? 1 : table->x.count;
  struct collector collector = collector_of(evaluation, call);
  for (size_t row = 0; row + (along_x ? 0 : 1) < table->y.count; row++) {
    for (size_t column = 0; column + (along_x ? 1 : 0) < table->x.count; column++) {
      size_t at = row * table->x.count + column, here = along_x ? column : row;
      struct result *fields;
      struct item *item = cell_item(&collector, table, row, column, table->place[at + step], &fields);
      fields[2] = shown(axis->at[here + 1], axis->unit);
      change_fields(evaluation, fields, 3, &table->value[at], &table->value[at + step], &axis->at[here],
                    &axis->at[here + 1], table->unit, axis->unit, slope_unit);
      item->has_next = true;
      item->next = (struct quantity){axis->at[here + 1], axis->unit};
    }
  }
  return collected(&collector);
}

struct result builtin_along_x(struct evaluation *evaluation, const struct expr *call)
{
  return along(evaluation, call, true);
}
struct result builtin_along_y(struct evaluation *evaluation, const struct expr *call)
{
  return along(evaluation, call, false);
}

static void axis_items(struct collector *collector, const struct name *name, const char *which, const struct axis *axis)
{
  for (size_t i = 0; i + 1 < axis->count; i++) {
    struct result *fields;
    struct item *item = item_new(collector, axis->place[i + 1], &fields);
    fields[0] = run_text(name->full);
    fields[1] = run_text(slice_of(which));
    fields[2] = shown(axis->at[i], axis->unit);
    fields[3] = shown(axis->at[i + 1], axis->unit);
    fields[4] = run_condition(axis->at[i + 1] > axis->at[i]);
    bool is_x = which[0] == 'x';
    item->has_x = is_x;
    item->has_y = !is_x;
    item->has_next = true;
    *(is_x ? &item->x : &item->y) = (struct quantity){axis->at[i], axis->unit};
    item->next = (struct quantity){axis->at[i + 1], axis->unit};
  }
}

struct result builtin_axis_steps(struct evaluation *evaluation, const struct expr *call)
{
  const struct value *const *values = evaluation->inputs->values[NAME_TUNE];
  const struct names *names = evaluation->inputs->names;
  struct collector collector = collector_of(evaluation, call);
  bool any = false;
  for (size_t i = 0; values && i < names->count; i++) {
    const struct name *name = &names->items[i];
    const struct value *value = name->scope == NAME_TUNE ? values[name->index] : NULL;
    if (!value || (value->kind != VALUE_CURVE && value->kind != VALUE_TABLE))
      continue;
    any = true;
    axis_items(&collector, name, "x", value->kind == VALUE_CURVE ? &value->as.curve.x : &value->as.table.x);
    if (value->kind == VALUE_TABLE)
      axis_items(&collector, name, "y", &value->as.table.y);
  }
  return any ? collected(&collector) : run_unknown(evaluation, "a curve or table in the settings");
}

struct result builtin_pins(struct evaluation *evaluation, const struct expr *call)
{
  struct result args[2] = {{0}};
  for (size_t i = 0; i < call->count; i++)
    args[i] = evaluate(evaluation, call->args[i]);
  if (!args[0].known || (call->count > 1 && !args[1].known))
    return run_unknown_of(evaluation, args, call->count);
  struct collector collector = collector_of(evaluation, call);
  const struct pins *pins = &args[0].value->as.pins;
  for (size_t i = 0; i < pins->count; i++) {
    struct slice function = pins->items[i].function, start = args[1].text;
    if (start.size > function.size || !run_same_text(start, slice_part(function, 0, start.size)))
      continue;
    struct result *fields;
    item_new(&collector, pins->items[i].place, &fields);
    fields[0] = run_text(function);
    fields[1] = run_text(pins->items[i].pin);
  }
  return collected(&collector);
}

struct result builtin_shared_pins(struct evaluation *evaluation, const struct expr *call)
{
  struct result arg = evaluate(evaluation, call->args[0]);
  if (!arg.known)
    return arg;
  struct arena *arena = evaluation->arena;
  struct collector collector = collector_of(evaluation, call);
  const struct pins *pins = &arg.value->as.pins;
  for (size_t i = 0; i < pins->count; i++) {
    struct place *places = ARENA_ARRAY(arena, pins->count, struct place);
    size_t count = 0;
    bool seen = false;
    const char *functions = "";
    for (size_t k = 0; k < pins->count && !seen; k++) {
      if (!run_same_text(pins->items[k].pin, pins->items[i].pin))
        continue;
      seen = k < i;
      functions = arena_print(arena, count == 0 ? "%s%.*s" : "%s, %.*s", functions, SLICE_ARG(pins->items[k].function));
      places[count++] = pins->items[k].place;
    }
    if (seen || count < 2)
      continue;
    struct result *fields;
    struct item *item = item_new(&collector, places[0], &fields);
    item->places = places;
    item->place_count = count;
    fields[0] = run_text(pins->items[i].pin);
    fields[1] = run_text(slice_of(functions));
    fields[2] = run_number((double)count, 0, NULL);
  }
  return collected(&collector);
}

static struct result pin_search(struct evaluation *evaluation, const struct expr *call, bool by_function,
                                bool only_whether)
{
  struct result pair[2] = {evaluate(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  const struct pins *pins = &pair[0].value->as.pins;
  for (size_t i = 0; i < pins->count; i++) {
    const struct pin *pin = &pins->items[i];
    if (!run_same_text(by_function ? pin->function : pin->pin, pair[1].text))
      continue;
    return only_whether ? run_condition(true) : run_text(by_function ? pin->pin : pin->function);
  }
  if (only_whether)
    return run_condition(false);
  const struct name *name = expr_first_name(call->args[0]);
  return run_unknown(evaluation,
                     arena_print(evaluation->arena, "%.*s of %.*s", SLICE_ARG(pair[1].text), SLICE_ARG(name->full)));
}

struct result builtin_pin_of(struct evaluation *evaluation, const struct expr *call)
{
  return pin_search(evaluation, call, true, false);
}
struct result builtin_function_of(struct evaluation *evaluation, const struct expr *call)
{
  return pin_search(evaluation, call, false, false);
}
struct result builtin_has(struct evaluation *evaluation, const struct expr *call)
{
  return pin_search(evaluation, call, true, true);
}

static struct result axis_end(struct evaluation *evaluation, const struct expr *call, bool y, bool last)
{
  struct result arg = evaluate(evaluation, call->args[0]);
  if (!arg.known)
    return arg;
  const struct axis *axis = arg.value->kind == VALUE_CURVE ? &arg.value->as.curve.x
                            : y                            ? &arg.value->as.table.y
                                                           : &arg.value->as.table.x;
  if (!axis->increasing)
    return not_increasing(evaluation, call);
  return shown(axis->at[last ? axis->count - 1 : 0], axis->unit);
}

struct result builtin_first_x(struct evaluation *evaluation, const struct expr *call)
{
  return axis_end(evaluation, call, false, false);
}
struct result builtin_last_x(struct evaluation *evaluation, const struct expr *call)
{
  return axis_end(evaluation, call, false, true);
}
struct result builtin_first_y(struct evaluation *evaluation, const struct expr *call)
{
  return axis_end(evaluation, call, true, false);
}
struct result builtin_last_y(struct evaluation *evaluation, const struct expr *call)
{
  return axis_end(evaluation, call, true, true);
}

struct result run_records(struct evaluation *evaluation, const struct expr *expr, const struct value *value)
{
  struct collector collector = {.evaluation = evaluation, .shape = expr->type.item};
  const struct records *records = &value->as.records;
  for (size_t i = 0; i < records->count; i++) {
    struct result *fields;
    item_new(&collector, records->items[i].place, &fields);
    for (size_t k = 0; k < records->field_count; k++) {
      const struct quantity *field = &records->items[i].fields[k];
      fields[k] =
          records->items[i].has[k]
              ? shown(field->value, field->unit)
              : run_unknown(evaluation, arena_print(evaluation->arena, "%.*s of each record of %.*s",
                                                    SLICE_ARG(records->fields[k].name), SLICE_ARG(expr->name->full)));
    }
  }
  return collected(&collector);
}

/* Each span that is long enough; only the first one can be shorter still: it might have been the end of one that began
 * in rows not seen. */
struct result spans_collect(struct evaluation *evaluation, struct gather *gather)
{
  const struct unit *second = unit_find(slice_of("s"));
  struct collector collector = collector_of(evaluation, gather->call);
  for (size_t i = 0; i < gather->spans.count; i++) {
    const struct span *span = &gather->spans.items[i];
    struct result *fields;
    if (span->end - span->start < gather->spans.least - RUN_TIME_SLACK)
      continue;
    struct item *item = item_new(&collector, PLACE_NONE, &fields);
    fields[0] = run_number(span->start, RUN_TIME_SLACK, second);
    fields[1] = run_number(span->end, RUN_TIME_SLACK, second);
    fields[2] = run_number(span->end - span->start, RUN_TIME_SLACK, second);
    item->from_row = span->from;
    item->to_row = span->to;
  }
  return collected(&collector);
}

/* What the series was in the cell on average. */
static struct result mean_there(struct evaluation *evaluation, const struct gather *gather, size_t cell)
{
  const struct visits *visits = &gather->visits;
  struct exact time = {{0}, 0, false};
  exact_add(&time, (double)visits->time[cell]);
  double mean = visits->sums[cell] ? exact_divide(visits->sums[cell], &time) : 0;
  if (visits->time[cell] == 0 || !isfinite(mean))
    return run_unknown(evaluation, "time in the cell");
  struct result result = gather->third;
  result.series = (struct vector){0};
  result.largest = 0;
  result.number = mean;
  result.error = fmax(result.error, visits->error) + fabs(mean) * 4 * DBL_EPSILON;
  return result;
}

struct result visits_collect(struct evaluation *evaluation, struct gather *gather)
{
  const struct unit *second = unit_find(slice_of("s"));
  const struct table *table = gather->visits.table;
  struct collector collector = collector_of(evaluation, gather->call);
  for (size_t row = 0; row < table->y.count; row++) {
    for (size_t column = 0; column < table->x.count; column++) {
      size_t at = row * table->x.count + column;
      struct result *fields;
      cell_item(&collector, table, row, column, table->place[at], &fields);
      fields[2] = shown(table->value[at], table->unit);
      fields[3] = run_number((double)gather->visits.time[at] / VISIT_UNITS, RUN_TIME_SLACK, second);
      if (gather->visits.averages)
        fields[4] = mean_there(evaluation, gather, at);
    }
  }
  return collected(&collector);
}
