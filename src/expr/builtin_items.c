/* The functions that look into curves, tables, pins and the whole file: what they take, and the fields of the items of
 * each collection. How they are computed is in collect.c and change.c. */
#include "expr/arg.h"

bool check_pin_text(struct checker *checker, struct expr *call)
{
  call->type = (struct type){.kind = TYPE_TEXT};
  return arg_pins(checker, call) && arg_text(checker, call, 1);
}

bool check_pin_has(struct checker *checker, struct expr *call)
{
  call->type = type_condition(false);
  return arg_pins(checker, call) && arg_text(checker, call, 1);
}

bool check_end_x(struct checker *checker, struct expr *call)
{
  const struct type *type = &call->args[0]->type;
  call->type = type_number(type->x, false);
  return arg_wants(checker, call->args[0], type->kind == TYPE_CURVE || type->kind == TYPE_TABLE, "a curve or table");
}

bool check_end_y(struct checker *checker, struct expr *call)
{
  call->type = type_number(call->args[0]->type.y, false);
  return arg_wants(checker, call->args[0], call->args[0]->type.kind == TYPE_TABLE, "a table");
}

struct field_row {
  const char *name;
  struct type type;
};

static void collection(struct checker *checker, struct expr *call, enum item_kind kind, const struct field_row *rows,
                       size_t count)
{
  struct item_field *fields = ARENA_ARRAY(checker->arena, count, struct item_field);
  for (size_t i = 0; i < count; i++)
    fields[i] = (struct item_field){slice_of(rows[i].name), rows[i].type};
  struct item_shape *shape = ARENA_NEW(checker->arena, struct item_shape);
  *shape = (struct item_shape){kind, count, fields};
  call->type = (struct type){.kind = TYPE_COLLECTION, .item = shape};
}

#define COLLECTION(checker, call, kind, rows) collection(checker, call, kind, rows, sizeof(rows) / sizeof *(rows))

static bool curve_arg(struct checker *checker, const struct expr *call)
{
  return arg_wants(checker, call->args[0], call->args[0]->type.kind == TYPE_CURVE, "a curve");
}

static bool table_arg(struct checker *checker, const struct expr *call)
{
  return arg_wants(checker, call->args[0], call->args[0]->type.kind == TYPE_TABLE, "a table");
}

bool check_points(struct checker *checker, struct expr *call)
{
  if (!curve_arg(checker, call))
    return false;
  const struct type *curve = &call->args[0]->type;
  for (size_t i = 1; i < call->count; i++) {
    if (!arg_scalar(checker, call, i, curve->x, "a value of the curve's axis"))
      return false;
  }
  const struct field_row rows[] = {{"x", type_number(curve->x, false)}, {"value", type_number(curve->of, false)}};
  COLLECTION(checker, call, ITEM_POINT, rows);
  return true;
}

bool check_steps(struct checker *checker, struct expr *call)
{
  if (!curve_arg(checker, call))
    return false;
  const struct type *curve = &call->args[0]->type;
  struct measure slope = measure_computed(dimension_times(curve->of.dimension, curve->x.dimension, -1));
  const struct field_row rows[] = {{"x", type_number(curve->x, false)},
                                   {"next_x", type_number(curve->x, false)},
                                   {"value", type_number(curve->of, false)},
                                   {"next_value", type_number(curve->of, false)},
                                   {"change", type_number(measure_difference(curve->of), false)},
                                   {"slope", type_number(slope, false)}};
  COLLECTION(checker, call, ITEM_STEP, rows);
  return true;
}

bool check_cells(struct checker *checker, struct expr *call)
{
  if (!table_arg(checker, call))
    return false;
  const struct type *table = &call->args[0]->type;
  struct measure change = measure_difference(table->of);
  const struct field_row rows[] = {{"x", type_number(table->x, false)},      {"y", type_number(table->y, false)},
                                   {"value", type_number(table->of, false)}, {"around", type_number(table->of, false)},
                                   {"bend_x", type_number(change, false)},   {"bend_y", type_number(change, false)}};
  COLLECTION(checker, call, ITEM_CELL, rows);
  return true;
}

static bool check_along(struct checker *checker, struct expr *call, bool along_x)
{
  if (!table_arg(checker, call))
    return false;
  const struct type *table = &call->args[0]->type;
  struct measure run = along_x ? table->x : table->y;
  struct measure slope = measure_computed(dimension_times(table->of.dimension, run.dimension, -1));
  const struct field_row rows[] = {{"x", type_number(table->x, false)},
                                   {"y", type_number(table->y, false)},
                                   {along_x ? "next_x" : "next_y", type_number(run, false)},
                                   {"value", type_number(table->of, false)},
                                   {"next_value", type_number(table->of, false)},
                                   {"change", type_number(measure_difference(table->of), false)},
                                   {"slope", type_number(slope, false)}};
  COLLECTION(checker, call, along_x ? ITEM_ALONG_X : ITEM_ALONG_Y, rows);
  return true;
}

bool check_along_x(struct checker *checker, struct expr *call)
{
  return check_along(checker, call, true);
}
bool check_along_y(struct checker *checker, struct expr *call)
{
  return check_along(checker, call, false);
}

bool check_axis_steps(struct checker *checker, struct expr *call)
{
  struct type any = {.kind = TYPE_NUMBER, .any_unit = true};
  const struct field_row rows[] = {{"setting", {.kind = TYPE_TEXT}},
                                   {"axis", {.kind = TYPE_TEXT}},
                                   {"from", any},
                                   {"to", any},
                                   {"increasing", type_condition(false)}};
  COLLECTION(checker, call, ITEM_AXIS_STEP, rows);
  return true;
}

bool check_range_ends(struct checker *checker, struct expr *call)
{
  struct type any = {.kind = TYPE_NUMBER, .any_unit = true};
  const struct field_row rows[] = {{"setting", {.kind = TYPE_TEXT}},
                                   {"place", {.kind = TYPE_TEXT}},
                                   {"value", any},
                                   {"low", any},
                                   {"high", any},
                                   {"beyond", type_number(measure_plain, false)}};
  COLLECTION(checker, call, ITEM_RANGE_END, rows);
  return true;
}

bool check_changes(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {
      {"setting", {.kind = TYPE_TEXT}}, {"what", {.kind = TYPE_TEXT}}, {"cells", type_number(measure_plain, false)}};
  COLLECTION(checker, call, ITEM_CHANGE, rows);
  return true;
}

bool check_pins(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {{"function", {.kind = TYPE_TEXT}}, {"pin", {.kind = TYPE_TEXT}}};
  COLLECTION(checker, call, ITEM_PIN, rows);
  return arg_pins(checker, call) && (call->count < 2 || arg_text(checker, call, 1));
}

bool check_shared_pins(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {
      {"pin", {.kind = TYPE_TEXT}}, {"functions", {.kind = TYPE_TEXT}}, {"count", type_number(measure_plain, false)}};
  COLLECTION(checker, call, ITEM_SHARED_PIN, rows);
  return arg_pins(checker, call);
}

bool check_spans(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {{"start", type_number(measure_seconds, false)},
                                   {"end", type_number(measure_seconds, false)},
                                   {"duration", type_number(measure_seconds, false)}};
  COLLECTION(checker, call, ITEM_SPAN, rows);
  return arg_conditions(checker, call, 0) && arg_scalar(checker, call, 1, measure_seconds, "a time");
}

bool check_visits(struct checker *checker, struct expr *call)
{
  if (!table_arg(checker, call))
    return false;
  const struct type *table = &call->args[0]->type;
  for (size_t i = 1; i < call->count; i++) {
    const struct expr *arg = call->args[i];
    struct measure axis = i == 1 ? table->x : table->y;
    if (!arg_series(checker, call, i))
      return false;
    if (i < 3 && !measure_equal(arg->type.of, axis))
      return check_refuse(checker, arg, "the axis is in %s, not in %s",
                          dimension_name(checker->arena, axis.dimension, axis.sense),
                          dimension_name(checker->arena, arg->type.of.dimension, arg->type.of.sense));
  }
  const struct field_row rows[] = {{"x", type_number(table->x, false)},
                                   {"y", type_number(table->y, false)},
                                   {"value", type_number(table->of, false)},
                                   {"time", type_number(measure_seconds, false)},
                                   {"mean", type_number(call->args[call->count - 1]->type.of, false)}};
  collection(checker, call, ITEM_VISIT, rows, call->count > 3 ? 5 : 4);
  return true;
}

bool check_region(struct checker *checker, struct expr *call)
{
  const struct expr *cells = call->args[0], *condition = call->args[1];
  const struct type *type = &cells->type;
  bool is_table = type->kind == TYPE_COLLECTION && (type->item->kind == ITEM_CELL || type->item->kind == ITEM_VISIT);
  call->type = (struct type){.kind = TYPE_TEXT};
  return arg_wants(checker, cells, is_table && cells->joined,
                   "the name of a collection of cells(...) or visits(...)") &&
         arg_conditions(checker, call, 1) &&
         arg_wants(checker, condition, condition->type.rows == TYPE_ROWS_ITEMS + cells->slot,
                   "a condition on the fields of these cells");
}
