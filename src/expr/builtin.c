/* The functions of the rule language: what arguments each takes and what type comes out. How they are computed is in
 * series.c, reduce.c and collect.c. Reading order: the table at the end, then the check that a row names. */
#include "expr/builtin.h"

static const struct measure plain = {{{0}}, SENSE_PLAIN};
static const struct measure seconds = {{{[DIM_TIME] = 1}}, SENSE_PLAIN};
static const struct measure radians = {{{[DIM_ANGLE] = 1}}, SENSE_PLAIN};

static struct measure computed(struct dimension dimension)
{
  struct dimension kelvin = {{[DIM_TEMPERATURE] = 1}};
  return (struct measure){dimension, dimension_equal(dimension, kelvin) ? SENSE_DIFFERENCE : SENSE_PLAIN};
}

static struct measure difference_of(struct measure of)
{
  return of.sense == SENSE_POINT ? (struct measure){of.dimension, SENSE_DIFFERENCE} : of;
}

static struct type number(struct measure of, bool series)
{
  return (struct type){.kind = TYPE_NUMBER, .series = series, .of = of};
}
static struct type condition(bool series)
{
  return (struct type){.kind = TYPE_SWITCH, .series = series};
}

static bool wants(struct checker *checker, const struct expr *arg, bool right, const char *what)
{
  return right ||
         check_refuse(checker, arg, "%s is expected here, not %s", what, type_print(checker->arena, &arg->type));
}

static bool is_number(const struct expr *arg)
{
  return arg->type.kind == TYPE_NUMBER && !arg->type.any_unit;
}

static bool number_arg(struct checker *checker, const struct expr *call, size_t i)
{
  return wants(checker, call->args[i], is_number(call->args[i]), "a number");
}

static bool series_arg(struct checker *checker, const struct expr *call, size_t i)
{
  return wants(checker, call->args[i], is_number(call->args[i]) && call->args[i]->type.series, "a series of numbers");
}

static bool conditions_arg(struct checker *checker, const struct expr *call, size_t i)
{
  return wants(checker, call->args[i], call->args[i]->type.kind == TYPE_SWITCH && call->args[i]->type.series,
               "a series of conditions");
}

static bool scalar_arg(struct checker *checker, const struct expr *call, size_t i, struct measure of, const char *what)
{
  const struct expr *arg = call->args[i];
  return wants(checker, arg, is_number(arg) && !arg->type.series && measure_equal(arg->type.of, of), what);
}

static bool text_arg(struct checker *checker, const struct expr *call, size_t i)
{
  return wants(checker, call->args[i], call->args[i]->type.kind == TYPE_TEXT, "a text");
}

static bool check_size(struct checker *checker, struct expr *call)
{
  if (!number_arg(checker, call, 0))
    return false;
  if (call->args[0]->type.of.sense == SENSE_POINT)
    return check_refuse(checker, call->args[0], "a temperature has no size; take a difference from a reference first");
  call->type = call->args[0]->type;
  return true;
}

static bool check_root(struct checker *checker, struct expr *call)
{
  if (!check_size(checker, call))
    return false;
  struct dimension dimension = call->args[0]->type.of.dimension;
  for (int i = 0; i < DIM_COUNT; i++) {
    if (dimension.of[i] % 2 != 0)
      return check_refuse(checker, call->args[0], "the square root of %s has no unit",
                          dimension_name(checker->arena, call->args[0]->type.of.dimension, SENSE_PLAIN));
    dimension.of[i] = (int8_t)(dimension.of[i] / 2);
  }
  call->type = number(computed(dimension), call->args[0]->type.series);
  return true;
}

static bool check_extreme(struct checker *checker, struct expr *call)
{
  const struct type *only = &call->args[0]->type;
  if (call->count == 1 && (only->kind == TYPE_CURVE || only->kind == TYPE_TABLE || only->kind == TYPE_NUMBERS)) {
    call->type = number(only->of, false);
    return true;
  }
  if (!number_arg(checker, call, 0))
    return false;
  if (call->count == 1) {
    if (!series_arg(checker, call, 0))
      return false;
    call->type = number(call->args[0]->type.of, false);
    return true;
  }
  call->type = call->args[0]->type;
  for (size_t i = 1; i < call->count; i++) {
    struct type sofar = call->type;
    if (!number_arg(checker, call, i) ||
        !check_common(checker, call->args[i], &sofar, &call->args[i]->type, &call->type))
      return false;
  }
  return true;
}

static bool check_plain(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  call->type = number(plain, arg->type.series);
  return wants(checker, arg, is_number(arg) && measure_equal(arg->type.of, plain), "a plain number");
}

static bool check_power(struct checker *checker, struct expr *call)
{
  return check_plain(checker, call) && scalar_arg(checker, call, 1, plain, "a plain number");
}

static bool check_absolute(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  call->type = number(computed(arg->type.of.dimension), arg->type.series);
  return wants(checker, arg,
               is_number(arg) && (arg->type.of.sense == SENSE_POINT || arg->type.of.sense == SENSE_EITHER),
               "a temperature");
}

/* highest(EXPR, over ...): the ranges are checked as variables; EXPR is a single number. */
static bool check_box(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  call->type = number(arg->type.of, false);
  return wants(checker, arg, is_number(arg) && !arg->type.series, "a single number");
}

static bool check_box_text(struct checker *checker, struct expr *call)
{
  if (!check_box(checker, call))
    return false;
  call->type = (struct type){.kind = TYPE_TEXT};
  return true;
}

static bool check_sine(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  if (!wants(checker, arg, is_number(arg) && measure_equal(arg->type.of, radians), "an angle"))
    return false;
  call->type = number(plain, arg->type.series);
  return true;
}

static bool check_choose(struct checker *checker, struct expr *call)
{
  if (!wants(checker, call->args[0], call->args[0]->type.kind == TYPE_SWITCH, "a condition"))
    return false;
  if (!check_common(checker, call, &call->args[1]->type, &call->args[2]->type, &call->type))
    return false;
  if (call->type.kind == TYPE_TEXT && call->args[0]->type.series)
    return check_refuse(checker, call, "a series of texts cannot be made");
  call->type.series = call->type.series || call->args[0]->type.series;
  return true;
}

static bool check_known(struct checker *checker, struct expr *call)
{
  (void)checker;
  call->type = condition(call->args[0]->type.series);
  return true;
}

static bool check_conditions(struct checker *checker, struct expr *call)
{
  bool series = false;
  for (size_t i = 0; i < call->count; i++) {
    if (!wants(checker, call->args[i], call->args[i]->type.kind == TYPE_SWITCH, "a condition"))
      return false;
    series = series || call->args[i]->type.series;
  }
  call->type = condition(series);
  return true;
}

static bool check_contains(struct checker *checker, struct expr *call)
{
  call->type = condition(false);
  return text_arg(checker, call, 0) && text_arg(checker, call, 1);
}

static bool check_date(struct checker *checker, struct expr *call)
{
  call->type = number(seconds, false);
  return text_arg(checker, call, 0);
}

static bool check_reduce(struct checker *checker, struct expr *call)
{
  call->type = number(call->args[0]->type.of, false);
  return series_arg(checker, call, 0);
}

static bool check_spread(struct checker *checker, struct expr *call)
{
  call->type = number(difference_of(call->args[0]->type.of), false);
  return series_arg(checker, call, 0);
}

static bool check_percentile(struct checker *checker, struct expr *call)
{
  if (!check_reduce(checker, call) || !scalar_arg(checker, call, 1, plain, "a percentage"))
    return false;
  const struct expr *part = call->args[1];
  return part->op != EXPR_NUMBER || (part->number.value >= 0 && part->number.value <= 1) ||
         check_refuse(checker, part, "a percentage is between 0 %% and 100 %%");
}

static bool check_count(struct checker *checker, struct expr *call)
{
  const struct type *type = &call->args[0]->type;
  call->type = number(plain, false);
  bool good = type->kind == TYPE_COLLECTION || type->kind == TYPE_NUMBERS || (type->series && !type->any_unit);
  return wants(checker, call->args[0], good, "a series, a list or a collection");
}

static bool check_all(struct checker *checker, struct expr *call)
{
  call->type = condition(false);
  return conditions_arg(checker, call, 0);
}

static bool check_duration(struct checker *checker, struct expr *call)
{
  call->type = number(seconds, false);
  return conditions_arg(checker, call, 0);
}

static bool check_share(struct checker *checker, struct expr *call)
{
  call->type = number(plain, false);
  return conditions_arg(checker, call, 0);
}

/* where(s, c) and blank(c, s): the series keeps its type, the other one is the condition. */
static bool check_where(struct checker *checker, struct expr *call)
{
  size_t mask = call->args[0]->type.kind == TYPE_SWITCH && call->args[1]->type.kind != TYPE_SWITCH ? 0 : 1;
  if (strcmp(call->builtin->name, "blank") == 0)
    mask = 0;
  const struct expr *kept = call->args[1 - mask];
  if (!wants(checker, kept, kept->type.series && (is_number(kept) || kept->type.kind == TYPE_SWITCH), "a series"))
    return false;
  if (!wants(checker, call->args[mask], call->args[mask]->type.kind == TYPE_SWITCH, "a condition"))
    return false;
  call->type = kept->type;
  if (strcmp(call->builtin->name, "where") == 0 && mask == 0)
    return check_refuse(checker, call, "the series comes first: where(series, condition)");
  return true;
}

static bool check_shift(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  call->type = arg->type;
  return wants(checker, arg, arg->type.series && (is_number(arg) || arg->type.kind == TYPE_SWITCH), "a series") &&
         scalar_arg(checker, call, 1, seconds, "a time");
}

static bool check_smooth(struct checker *checker, struct expr *call)
{
  call->type = call->args[0]->type;
  return series_arg(checker, call, 0) && scalar_arg(checker, call, 1, seconds, "a time");
}

static bool check_rate(struct checker *checker, struct expr *call)
{
  call->type = number(computed(dimension_times(call->args[0]->type.of.dimension, seconds.dimension, -1)), true);
  return series_arg(checker, call, 0);
}

static bool fit_args(struct checker *checker, const struct expr *call)
{
  return series_arg(checker, call, 0) && series_arg(checker, call, 1);
}

static bool check_slope(struct checker *checker, struct expr *call)
{
  call->type =
      number(computed(dimension_times(call->args[0]->type.of.dimension, call->args[1]->type.of.dimension, -1)), false);
  return fit_args(checker, call);
}

static bool check_intercept(struct checker *checker, struct expr *call)
{
  call->type = number(call->args[0]->type.of, false);
  if (!fit_args(checker, call))
    return false;
  if (call->args[1]->type.of.sense == SENSE_POINT)
    return check_refuse(checker, call->args[1],
                        "zero of a temperature scale is arbitrary; take a difference from a reference first");
  return true;
}

static bool check_correlation(struct checker *checker, struct expr *call)
{
  call->type = number(plain, false);
  return fit_args(checker, call);
}

static bool check_during(struct checker *checker, struct expr *call)
{
  const struct type *span = &call->args[0]->type;
  const struct expr *arg = call->args[1];
  call->type = arg->type;
  return wants(checker, call->args[0], span->kind == TYPE_ITEM && span->item->kind == ITEM_SPAN,
               "a span of spans(...)") &&
         wants(checker, arg, arg->type.series && (is_number(arg) || arg->type.kind == TYPE_SWITCH), "a series");
}

static bool check_at(struct checker *checker, struct expr *call)
{
  call->type = number(call->args[0]->type.of, false);
  return series_arg(checker, call, 0) && scalar_arg(checker, call, 1, seconds, "a time");
}

static bool pins_arg(struct checker *checker, const struct expr *call)
{
  return wants(checker, call->args[0], call->args[0]->type.kind == TYPE_PINS, "a set of pins");
}

static bool check_pin_text(struct checker *checker, struct expr *call)
{
  call->type = (struct type){.kind = TYPE_TEXT};
  return pins_arg(checker, call) && text_arg(checker, call, 1);
}

static bool check_pin_has(struct checker *checker, struct expr *call)
{
  call->type = condition(false);
  return pins_arg(checker, call) && text_arg(checker, call, 1);
}

static bool check_end_x(struct checker *checker, struct expr *call)
{
  const struct type *type = &call->args[0]->type;
  call->type = number(type->x, false);
  return wants(checker, call->args[0], type->kind == TYPE_CURVE || type->kind == TYPE_TABLE, "a curve or table");
}

static bool check_end_y(struct checker *checker, struct expr *call)
{
  call->type = number(call->args[0]->type.y, false);
  return wants(checker, call->args[0], call->args[0]->type.kind == TYPE_TABLE, "a table");
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
  return wants(checker, call->args[0], call->args[0]->type.kind == TYPE_CURVE, "a curve");
}

static bool table_arg(struct checker *checker, const struct expr *call)
{
  return wants(checker, call->args[0], call->args[0]->type.kind == TYPE_TABLE, "a table");
}

static bool check_points(struct checker *checker, struct expr *call)
{
  if (!curve_arg(checker, call))
    return false;
  const struct type *curve = &call->args[0]->type;
  for (size_t i = 1; i < call->count; i++) {
    if (!scalar_arg(checker, call, i, curve->x, "a value of the curve's axis"))
      return false;
  }
  const struct field_row rows[] = {{"x", number(curve->x, false)}, {"value", number(curve->of, false)}};
  COLLECTION(checker, call, ITEM_POINT, rows);
  return true;
}

static bool check_steps(struct checker *checker, struct expr *call)
{
  if (!curve_arg(checker, call))
    return false;
  const struct type *curve = &call->args[0]->type;
  struct measure slope = computed(dimension_times(curve->of.dimension, curve->x.dimension, -1));
  const struct field_row rows[] = {{"x", number(curve->x, false)},
                                   {"next_x", number(curve->x, false)},
                                   {"value", number(curve->of, false)},
                                   {"next_value", number(curve->of, false)},
                                   {"change", number(difference_of(curve->of), false)},
                                   {"slope", number(slope, false)}};
  COLLECTION(checker, call, ITEM_STEP, rows);
  return true;
}

static bool check_cells(struct checker *checker, struct expr *call)
{
  if (!table_arg(checker, call))
    return false;
  const struct type *table = &call->args[0]->type;
  struct measure change = difference_of(table->of);
  const struct field_row rows[] = {{"x", number(table->x, false)},      {"y", number(table->y, false)},
                                   {"value", number(table->of, false)}, {"around", number(table->of, false)},
                                   {"bend_x", number(change, false)},   {"bend_y", number(change, false)}};
  COLLECTION(checker, call, ITEM_CELL, rows);
  return true;
}

static bool check_along(struct checker *checker, struct expr *call, bool along_x)
{
  if (!table_arg(checker, call))
    return false;
  const struct type *table = &call->args[0]->type;
  struct measure run = along_x ? table->x : table->y;
  struct measure slope = computed(dimension_times(table->of.dimension, run.dimension, -1));
  const struct field_row rows[] = {{"x", number(table->x, false)},
                                   {"y", number(table->y, false)},
                                   {along_x ? "next_x" : "next_y", number(run, false)},
                                   {"value", number(table->of, false)},
                                   {"next_value", number(table->of, false)},
                                   {"change", number(difference_of(table->of), false)},
                                   {"slope", number(slope, false)}};
  COLLECTION(checker, call, along_x ? ITEM_ALONG_X : ITEM_ALONG_Y, rows);
  return true;
}

static bool check_along_x(struct checker *checker, struct expr *call)
{
  return check_along(checker, call, true);
}
static bool check_along_y(struct checker *checker, struct expr *call)
{
  return check_along(checker, call, false);
}

static bool check_axis_steps(struct checker *checker, struct expr *call)
{
  struct type any = {.kind = TYPE_NUMBER, .any_unit = true};
  const struct field_row rows[] = {{"setting", {.kind = TYPE_TEXT}},
                                   {"axis", {.kind = TYPE_TEXT}},
                                   {"from", any},
                                   {"to", any},
                                   {"increasing", condition(false)}};
  COLLECTION(checker, call, ITEM_AXIS_STEP, rows);
  return true;
}

static bool check_changes(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {
      {"setting", {.kind = TYPE_TEXT}}, {"what", {.kind = TYPE_TEXT}}, {"cells", number(plain, false)}};
  COLLECTION(checker, call, ITEM_CHANGE, rows);
  return true;
}

static bool check_pins(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {{"function", {.kind = TYPE_TEXT}}, {"pin", {.kind = TYPE_TEXT}}};
  COLLECTION(checker, call, ITEM_PIN, rows);
  return pins_arg(checker, call) && (call->count < 2 || text_arg(checker, call, 1));
}

static bool check_shared_pins(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {
      {"pin", {.kind = TYPE_TEXT}}, {"functions", {.kind = TYPE_TEXT}}, {"count", number(plain, false)}};
  COLLECTION(checker, call, ITEM_SHARED_PIN, rows);
  return pins_arg(checker, call);
}

static bool check_spans(struct checker *checker, struct expr *call)
{
  const struct field_row rows[] = {
      {"start", number(seconds, false)}, {"end", number(seconds, false)}, {"duration", number(seconds, false)}};
  COLLECTION(checker, call, ITEM_SPAN, rows);
  return conditions_arg(checker, call, 0) && scalar_arg(checker, call, 1, seconds, "a time");
}

static bool check_ramp(struct checker *checker, struct expr *call)
{
  if (!scalar_arg(checker, call, 0, seconds, "a time") || !scalar_arg(checker, call, 1, seconds, "a time") ||
      !number_arg(checker, call, 2) || !number_arg(checker, call, 3))
    return false;
  if (!check_common(checker, call, &call->args[2]->type, &call->args[3]->type, &call->type))
    return false;
  if (call->type.series)
    return check_refuse(checker, call, "the ends of a ramp are single values");
  call->type.series = true;
  return true;
}

static bool check_noise(struct checker *checker, struct expr *call)
{
  call->type = number(plain, true);
  return scalar_arg(checker, call, 0, plain, "a number without unit");
}

static const struct builtin builtins[] = {
#define BUILTIN(symbol, name, least, most, check, signature, about) \
  {name, least, most, check_##check, builtin_##symbol, signature, about},
#include "expr/builtin.def"
#undef BUILTIN
};

bool builtins_over_time(const struct builtin *builtin)
{
  return builtin->check == check_shift || builtin->check == check_smooth || builtin->check == check_rate ||
         builtin->check == check_spans || builtin->check == check_duration || builtin->check == check_share ||
         builtin->check == check_at || builtin->check == check_during;
}

size_t builtins_count(void)
{
  return sizeof builtins / sizeof *builtins;
}
const struct builtin *builtins_at(size_t index)
{
  return &builtins[index];
}

const struct builtin *builtins_find(struct slice name)
{
  for (size_t i = 0; i < builtins_count(); i++) {
    if (slice_is(name, builtins[i].name))
      return &builtins[i];
  }
  return NULL;
}

const struct builtin *builtins_nearest(struct slice name)
{
  const struct builtin *best = NULL;
  size_t best_distance = name.size / 3 + 2;
  for (size_t i = 0; i < builtins_count(); i++) {
    size_t distance = slice_distance(slice_of(builtins[i].name), name);
    if (distance < best_distance) {
      best_distance = distance;
      best = &builtins[i];
    }
  }
  return best;
}
