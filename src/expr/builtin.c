/* The functions of the rule language: what arguments each takes and what type comes out; those of collections are in
 * builtin_items.c, of thermistors in thermistor.c. How they are computed is in series.c, reduce.c and collect.c.
 * Reading order: the table at the end, then the check that a row names. */
#include "expr/arg.h"

static bool check_size(struct checker *checker, struct expr *call)
{
  if (!arg_number(checker, call, 0))
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
  call->type = type_number(measure_computed(dimension), call->args[0]->type.series);
  return true;
}

static bool check_extreme(struct checker *checker, struct expr *call)
{
  const struct type *only = &call->args[0]->type;
  if (call->count == 1 && (only->kind == TYPE_CURVE || only->kind == TYPE_TABLE || only->kind == TYPE_NUMBERS)) {
    call->type = type_number(only->of, false);
    return true;
  }
  if (!arg_number(checker, call, 0))
    return false;
  if (call->count == 1) {
    if (!arg_series(checker, call, 0))
      return false;
    call->type = type_number(call->args[0]->type.of, false);
    return true;
  }
  call->type = call->args[0]->type;
  for (size_t i = 1; i < call->count; i++) {
    struct type sofar = call->type;
    if (!arg_number(checker, call, i) ||
        !check_common(checker, call->args[i], &sofar, &call->args[i]->type, &call->type))
      return false;
  }
  return true;
}

static bool check_plain(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  call->type = type_number(measure_plain, arg->type.series);
  return arg_wants(checker, arg, arg_is_number(arg) && measure_equal(arg->type.of, measure_plain), "a plain number");
}

static bool check_power(struct checker *checker, struct expr *call)
{
  return check_plain(checker, call) && arg_scalar(checker, call, 1, measure_plain, "a plain number");
}

static bool check_absolute(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  call->type = type_number(measure_computed(arg->type.of.dimension), arg->type.series);
  return arg_wants(checker, arg,
                   arg_is_number(arg) && (arg->type.of.sense == SENSE_POINT || arg->type.of.sense == SENSE_EITHER),
                   "a temperature");
}

/* highest(EXPR, over ...): the ranges are checked as variables; EXPR is a single number. */
static bool check_box(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  call->type = type_number(arg->type.of, false);
  return arg_wants(checker, arg, arg_is_number(arg) && !arg->type.series, "a single number");
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
  if (!arg_wants(checker, arg, arg_is_number(arg) && measure_equal(arg->type.of, measure_radians), "an angle"))
    return false;
  call->type = type_number(measure_plain, arg->type.series);
  return true;
}

static bool check_choose(struct checker *checker, struct expr *call)
{
  if (!arg_wants(checker, call->args[0], call->args[0]->type.kind == TYPE_SWITCH, "a condition"))
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
  call->type = type_condition(call->args[0]->type.series);
  return true;
}

static bool check_conditions(struct checker *checker, struct expr *call)
{
  bool series = false;
  for (size_t i = 0; i < call->count; i++) {
    if (!arg_wants(checker, call->args[i], call->args[i]->type.kind == TYPE_SWITCH, "a condition"))
      return false;
    series = series || call->args[i]->type.series;
  }
  call->type = type_condition(series);
  return true;
}

static bool check_contains(struct checker *checker, struct expr *call)
{
  call->type = type_condition(false);
  return arg_text(checker, call, 0) && arg_text(checker, call, 1);
}

static bool check_date(struct checker *checker, struct expr *call)
{
  call->type = type_number(measure_seconds, false);
  return arg_text(checker, call, 0);
}

static bool check_reduce(struct checker *checker, struct expr *call)
{
  call->type = type_number(call->args[0]->type.of, false);
  return arg_series(checker, call, 0);
}

static bool check_sum(struct checker *checker, struct expr *call)
{
  const struct expr *arg = call->args[0];
  if (!check_reduce(checker, call))
    return false;
  if (arg->type.rows == 0)
    return check_refuse(checker, arg, "a sum of samples goes by how often they were logged; take a mean or a duration");
  if (arg->type.of.sense == SENSE_POINT)
    return check_refuse(checker, arg, "temperatures cannot be added; take differences from a reference first");
  return true;
}

static bool check_spread(struct checker *checker, struct expr *call)
{
  call->type = type_number(measure_difference(call->args[0]->type.of), false);
  return arg_series(checker, call, 0);
}

static bool check_percentile(struct checker *checker, struct expr *call)
{
  if (!check_reduce(checker, call) || !arg_scalar(checker, call, 1, measure_plain, "a percentage"))
    return false;
  const struct expr *part = call->args[1];
  return part->op != EXPR_NUMBER || (part->number.value >= 0 && part->number.value <= 1) ||
         check_refuse(checker, part, "a percentage is between 0 %% and 100 %%");
}

static bool check_count(struct checker *checker, struct expr *call)
{
  const struct type *type = &call->args[0]->type;
  call->type = type_number(measure_plain, false);
  bool good = type->kind == TYPE_COLLECTION || type->kind == TYPE_NUMBERS || (type->series && !type->any_unit);
  return arg_wants(checker, call->args[0], good, "a series, a list or a collection");
}

static bool check_logs(struct checker *checker, struct expr *call)
{
  (void)checker;
  call->type = type_number(measure_plain, false);
  return true;
}

static bool check_all(struct checker *checker, struct expr *call)
{
  call->type = type_condition(false);
  return arg_conditions(checker, call, 0);
}

static bool check_duration(struct checker *checker, struct expr *call)
{
  call->type = type_number(measure_seconds, false);
  return arg_conditions(checker, call, 0);
}

static bool check_share(struct checker *checker, struct expr *call)
{
  call->type = type_number(measure_plain, false);
  return arg_conditions(checker, call, 0);
}

/* where(s, c) and blank(c, s): the series keeps its type, the other one is the condition. */
static bool check_where(struct checker *checker, struct expr *call)
{
  size_t mask = call->args[0]->type.kind == TYPE_SWITCH && call->args[1]->type.kind != TYPE_SWITCH ? 0 : 1;
  if (strcmp(call->builtin->name, "blank") == 0)
    mask = 0;
  const struct expr *kept = call->args[1 - mask];
  if (!arg_wants(checker, kept, kept->type.series && (arg_is_number(kept) || kept->type.kind == TYPE_SWITCH),
                 "a series"))
    return false;
  if (!arg_wants(checker, call->args[mask], call->args[mask]->type.kind == TYPE_SWITCH, "a condition"))
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
  return arg_wants(checker, arg, arg->type.series && (arg_is_number(arg) || arg->type.kind == TYPE_SWITCH),
                   "a series") &&
         arg_scalar(checker, call, 1, measure_seconds, "a time");
}

static bool check_until(struct checker *checker, struct expr *call)
{
  call->type = type_number(measure_seconds, true);
  return arg_conditions(checker, call, 0) && arg_scalar(checker, call, 1, measure_seconds, "a time");
}

static bool check_smooth(struct checker *checker, struct expr *call)
{
  call->type = call->args[0]->type;
  return arg_series(checker, call, 0) && arg_scalar(checker, call, 1, measure_seconds, "a time");
}

static bool check_rate(struct checker *checker, struct expr *call)
{
  call->type = type_number(
      measure_computed(dimension_times(call->args[0]->type.of.dimension, measure_seconds.dimension, -1)), true);
  return arg_series(checker, call, 0);
}

static bool fit_args(struct checker *checker, const struct expr *call)
{
  return arg_series(checker, call, 0) && arg_series(checker, call, 1);
}

static bool check_slope(struct checker *checker, struct expr *call)
{
  call->type = type_number(
      measure_computed(dimension_times(call->args[0]->type.of.dimension, call->args[1]->type.of.dimension, -1)), false);
  return fit_args(checker, call);
}

static bool check_intercept(struct checker *checker, struct expr *call)
{
  call->type = type_number(call->args[0]->type.of, false);
  if (!fit_args(checker, call))
    return false;
  if (call->args[1]->type.of.sense == SENSE_POINT)
    return check_refuse(checker, call->args[1],
                        "zero of a temperature scale is arbitrary; take a difference from a reference first");
  return true;
}

static bool check_correlation(struct checker *checker, struct expr *call)
{
  call->type = type_number(measure_plain, false);
  return fit_args(checker, call);
}

static bool check_during(struct checker *checker, struct expr *call)
{
  const struct type *span = &call->args[0]->type;
  const struct expr *arg = call->args[1];
  call->type = arg->type;
  return arg_wants(checker, call->args[0], span->kind == TYPE_ITEM && span->item->kind == ITEM_SPAN,
                   "a span of spans(...)") &&
         arg_wants(checker, arg, arg->type.series && (arg_is_number(arg) || arg->type.kind == TYPE_SWITCH), "a series");
}

static bool check_at(struct checker *checker, struct expr *call)
{
  call->type = type_number(call->args[0]->type.of, false);
  return arg_series(checker, call, 0) && arg_scalar(checker, call, 1, measure_seconds, "a time");
}

static bool check_ramp(struct checker *checker, struct expr *call)
{
  if (!arg_scalar(checker, call, 0, measure_seconds, "a time") ||
      !arg_scalar(checker, call, 1, measure_seconds, "a time") || !arg_number(checker, call, 2) ||
      !arg_number(checker, call, 3))
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
  call->type = type_number(measure_plain, true);
  return arg_scalar(checker, call, 0, measure_plain, "a number without unit");
}

static const struct builtin builtins[] = {
#define BUILTIN(symbol, name, least, most, check, signature, about) \
  {name, least, most, check_##check, builtin_##symbol, signature, about},
#include "expr/builtin.def"
#undef BUILTIN
};

bool builtins_over_time(const struct builtin *builtin)
{
  return builtin->check == check_shift || builtin->check == check_until || builtin->check == check_smooth ||
         builtin->check == check_rate || builtin->check == check_spans || builtin->check == check_duration ||
         builtin->check == check_share || builtin->check == check_at || builtin->check == check_during ||
         builtin->check == check_visits;
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
