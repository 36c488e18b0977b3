/* What the checks of functions share: arguments that must be of a kind, and types of results. */
#include "expr/arg.h"

const struct measure measure_plain = {{{0}}, SENSE_PLAIN};
const struct measure measure_seconds = {{{[DIM_TIME] = 1}}, SENSE_PLAIN};
const struct measure measure_radians = {{{[DIM_ANGLE] = 1}}, SENSE_PLAIN};

struct measure measure_computed(struct dimension dimension)
{
  struct dimension kelvin = {{[DIM_TEMPERATURE] = 1}};
  return (struct measure){dimension, dimension_equal(dimension, kelvin) ? SENSE_DIFFERENCE : SENSE_PLAIN};
}

struct measure measure_difference(struct measure of)
{
  return of.sense == SENSE_POINT ? (struct measure){of.dimension, SENSE_DIFFERENCE} : of;
}

struct type type_number(struct measure of, bool series)
{
  return (struct type){.kind = TYPE_NUMBER, .series = series, .of = of};
}
struct type type_condition(bool series)
{
  return (struct type){.kind = TYPE_SWITCH, .series = series};
}

bool arg_wants(struct checker *checker, const struct expr *arg, bool right, const char *what)
{
  return right ||
         check_refuse(checker, arg, "%s is expected here, not %s", what, type_print(checker->arena, &arg->type));
}

bool arg_is_number(const struct expr *arg)
{
  return arg->type.kind == TYPE_NUMBER && !arg->type.any_unit;
}

bool arg_number(struct checker *checker, const struct expr *call, size_t i)
{
  return arg_wants(checker, call->args[i], arg_is_number(call->args[i]), "a number");
}

bool arg_series(struct checker *checker, const struct expr *call, size_t i)
{
  return arg_wants(checker, call->args[i], arg_is_number(call->args[i]) && call->args[i]->type.series,
                   "a series of numbers");
}

bool arg_conditions(struct checker *checker, const struct expr *call, size_t i)
{
  return arg_wants(checker, call->args[i], call->args[i]->type.kind == TYPE_SWITCH && call->args[i]->type.series,
                   "a series of conditions");
}

bool arg_scalar(struct checker *checker, const struct expr *call, size_t i, struct measure of, const char *what)
{
  const struct expr *arg = call->args[i];
  return arg_wants(checker, arg, arg_is_number(arg) && !arg->type.series && measure_equal(arg->type.of, of), what);
}

bool arg_text(struct checker *checker, const struct expr *call, size_t i)
{
  return arg_wants(checker, call->args[i], call->args[i]->type.kind == TYPE_TEXT, "a text");
}

bool arg_pins(struct checker *checker, const struct expr *call)
{
  return arg_wants(checker, call->args[0], call->args[0]->type.kind == TYPE_PINS, "a set of pins");
}
