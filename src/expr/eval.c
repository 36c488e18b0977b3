/* Evaluation: one function an operator, results kept by slot. Reading order: evaluate, compute, then series.c
 * (operators on numbers, conditions and series), reduce.c (series to numbers), collect.c (collections for `each`).
 *
 * Numbers carry a bound of their rounding error. A comparison is decided on the decimal numbers as written: two that
 * differ by no more than the bounds are equal, so that a limit is a limit in every unit. */
#include "expr/eval.h"

#include "expr/builtin.h"
#include "expr/frame.h"

#include <float.h>
#include <math.h>

struct evaluation *evaluation_new(struct arena *arena, const struct graph *graph, const struct eval_inputs *inputs)
{
  struct evaluation *evaluation = ARENA_NEW(arena, struct evaluation);
  evaluation->arena = arena;
  evaluation->inputs = inputs;
  evaluation->slots = graph_distinct(graph);
  evaluation->memo = ARENA_ARRAY(arena, evaluation->slots + 1, struct memo);
  evaluation->told = ARENA_ARRAY(arena, evaluation->slots + 1, uint8_t);
  evaluation->seen = ARENA_ARRAY(arena, evaluation->slots + 1, uint8_t);
  evaluation->series = ARENA_ARRAY(arena, evaluation->slots + 1, uint32_t);
  evaluation->largest = ARENA_ARRAY(arena, evaluation->slots + 1, double);
  evaluation->epoch = 1;
  evaluation->base = frame_open(evaluation);
  evaluation->base->whole = evaluation->base->keeps = true;
  evaluation->traits = frame_open(evaluation);
  evaluation->traits->keeps = true;
  evaluation->frame = evaluation->base;
  return evaluation;
}

void evaluation_item(struct evaluation *evaluation, const struct item *item)
{
  evaluation->item = item;
  evaluation->epoch++;
  if (evaluation->item_frame)
    frame_close(evaluation, evaluation->item_frame);
  evaluation->item_frame = NULL;
}

const struct item *evaluation_current(const struct evaluation *evaluation)
{
  return evaluation->item;
}

const char *evaluation_clock(const struct evaluation *evaluation, const struct expr *expr)
{
  const struct item *item = evaluation->item;
  if (evaluation->inputs->log_count < 2 || !item || item->shape->kind != ITEM_SPAN || expr->op != EXPR_FIELD ||
      expr->args[0]->op != EXPR_ITEM || expr->field > 1) /* .start .end .duration */
    return "";
  return arena_print(evaluation->arena, " of log %zu", clock_log(evaluation->inputs, item->from_row) + 1);
}

struct eval_stats evaluation_stats(const struct evaluation *evaluation)
{
  return evaluation->stats;
}

struct result run_unknown(struct evaluation *evaluation, const char *name)
{
  const char **names = ARENA_ARRAY(evaluation->arena, 1, const char *);
  names[0] = name;
  struct missing *missing = ARENA_NEW(evaluation->arena, struct missing);
  *missing = (struct missing){1, names};
  return (struct result){.missing = missing};
}

struct result run_no_sample(struct evaluation *evaluation, const struct expr *call)
{
  const struct name *name = expr_first_name(call);
  if (!name)
    return run_unknown(evaluation, "a usable sample");
  return run_unknown(evaluation, arena_print(evaluation->arena, "a usable sample of %.*s", SLICE_ARG(name->full)));
}

/* What one of them is missing, where the others add nothing to it, nor to its order; else NULL. */
static const struct missing *one_for_all(const struct result *results, size_t count)
{
  const struct missing *all = NULL;
  size_t used = 0;
  for (size_t i = 0; i < count; i++) {
    if (!all || (results[i].missing && results[i].missing->count > all->count))
      all = results[i].missing;
  }
  for (size_t i = 0; i < count && all; i++) {
    for (size_t k = 0; results[i].missing && k < results[i].missing->count; k++) {
      const char *name = results[i].missing->names[k];
      size_t seen = 0;
      while (seen < used && strcmp(all->names[seen], name) != 0)
        seen++;
      if (seen < used)
        continue;
      if (used == all->count || strcmp(all->names[used++], name) != 0)
        return NULL;
    }
  }
  return all;
}

/* Blocks of a long log ask for the same again and again: what is there already is not made anew. */
const struct missing *missing_join(struct arena *arena, const struct result *results, size_t count)
{
  size_t room = 0, used = 0;
  const struct missing *all = one_for_all(results, count);
  if (all)
    return all;
  for (size_t i = 0; i < count; i++)
    room += results[i].missing ? results[i].missing->count : 0;
  const char **names = ARENA_ARRAY(arena, room + 1, const char *);
  for (size_t i = 0; i < count; i++) {
    for (size_t k = 0; results[i].missing && k < results[i].missing->count; k++) {
      const char *name = results[i].missing->names[k];
      size_t seen = 0;
      while (seen < used && strcmp(names[seen], name) != 0)
        seen++;
      if (seen == used)
        names[used++] = name;
    }
  }
  struct missing *missing = ARENA_NEW(arena, struct missing);
  *missing = (struct missing){used, names};
  return missing;
}

struct result run_unknown_of(struct evaluation *evaluation, const struct result *results, size_t count)
{
  return (struct result){.missing = missing_join(evaluation->arena, results, count)};
}

struct result run_number(double value, double error, const struct unit *unit)
{
  return (struct result){.known = true, .number = value, .error = error, .unit = unit};
}

struct result run_condition(bool on)
{
  return (struct result){.known = true, .on = on};
}
struct result run_text(struct slice text)
{
  return (struct result){.known = true, .text = text};
}

/* Rounding of reading a decimal and turning it into base units. */
static double reading_error(double base, const struct unit *unit)
{
  return 4 * DBL_EPSILON * (fabs(base) + (unit ? fabs(unit->offset) : 0));
}

/* Largest size among the samples of a channel: its reader knows, else they are looked through once. */
static double largest_of(struct evaluation *evaluation, const struct expr *expr, const struct series *series)
{
  double *largest = &evaluation->largest[expr->slot];
  if (series->largest > 0 || *largest > 0)
    return fmax(series->largest, *largest);
  for (size_t i = 0; series->at && i < series->count; i++) {
    if ((!series->known || series->known[i]) && fabs(series->at[i]) > *largest)
      *largest = fabs(series->at[i]);
  }
  return *largest;
}

static struct vector channel_rows(struct evaluation *evaluation, const struct series *series)
{
  struct rows rows = evaluation->rows;
  size_t count = rows.to - rows.from;
  if (series->at)
    return (struct vector){
        .count = count, .at = series->at + rows.from, .known = series->known ? series->known + rows.from : NULL};
  double *at = run_numbers(evaluation, count);
  uint8_t *known = run_flags(evaluation, count);
  bool all = series_rows(series, rows.from, rows.to, at, known);
  return (struct vector){.count = count, .at = at, .known = all ? NULL : known};
}

/* A channel that is a switch is on where its number is not 0. */
static struct result from_channel(struct evaluation *evaluation, const struct expr *expr, const struct series *series)
{
  double largest = largest_of(evaluation, expr, series);
  struct result result = {
      .known = true, .unit = series->unit, .error = reading_error(largest, series->unit), .largest = largest};
  run_has_log(evaluation);
  result.series = channel_rows(evaluation, series);
  if (expr->type.kind != TYPE_SWITCH)
    return result;
  uint8_t *on = run_flags(evaluation, result.series.count);
  for (size_t i = 0; i < result.series.count; i++)
    on[i] = result.series.at[i] != 0;
  result.series.at = NULL;
  result.series.on = on;
  return result;
}

static struct result from_value(struct evaluation *evaluation, const struct expr *expr, const struct value *value)
{
  switch (value->kind) {
  case VALUE_NUMBER:
    return run_number(value->as.number.value, reading_error(value->as.number.value, value->as.number.unit),
                      value->as.number.unit);
  case VALUE_SWITCH:
    return run_condition(value->as.on);
  case VALUE_CHOICE:
  case VALUE_TEXT:
    return run_text(value->as.text);
  case VALUE_SERIES:
    return from_channel(evaluation, expr, &value->as.series);
  case VALUE_RECORDS:
    return run_records(evaluation, expr, value);
  case VALUE_LIST:
  case VALUE_CURVE:
  case VALUE_TABLE:
  case VALUE_PINS:
    break;
  }
  return (struct result){.known = true, .value = value};
}

/* job.READING.FIELD: one value for each record. */
static struct result from_column(struct evaluation *evaluation, const struct expr *expr, const struct value *value)
{
  const struct records *records = &value->as.records;
  double *at = ARENA_ARRAY(evaluation->arena, records->count, double);
  uint8_t *known = ARENA_ARRAY(evaluation->arena, records->count, uint8_t);
  struct result result = {.known = true, .unit = records->fields[expr->name->field].unit};
  for (size_t i = 0; i < records->count; i++) {
    const struct record *record = &records->items[i];
    known[i] = record->has[expr->name->field];
    at[i] = known[i] ? record->fields[expr->name->field].value : 0;
    result.largest = fmax(result.largest, fabs(at[i]));
    if (known[i] && i == 0)
      result.unit = record->fields[expr->name->field].unit;
  }
  result.error = reading_error(result.largest, result.unit);
  result.series = (struct vector){.count = records->count, .at = at, .known = known};
  return result;
}

/* A person is asked for the whole reading, not for a field of it. */
static struct slice asked_for(const struct name *name)
{
  size_t end = name->full.size;
  while (name->type.rows > 0 && end > 0 && name->full.at[end - 1] != '.')
    end--;
  return name->type.rows > 0 ? slice_part(name->full, 0, end - 1) : name->full;
}

static struct result from_name(struct evaluation *evaluation, const struct expr *expr)
{
  const struct name *name = expr->name;
  if (name->scope == NAME_LIMIT) {
    struct quantity limit = evaluation->inputs->limits[name->index];
    return run_number(limit.value, reading_error(limit.value, limit.unit), limit.unit);
  }
  const struct value *const *values = evaluation->inputs->values[name->scope];
  const struct value *value = values ? values[name->index] : NULL;
  if (!value) {
    struct memo *memo = &evaluation->memo[expr->slot];
    if (memo->epoch == 0)
      *memo = (struct memo){run_unknown(evaluation, arena_text(evaluation->arena, asked_for(name))), evaluation->epoch};
    return memo->result;
  }
  if (value->kind == VALUE_RECORDS && expr->type.series)
    return from_column(evaluation, expr, value);
  return from_value(evaluation, expr, value);
}

static struct result from_in(struct evaluation *evaluation, const struct expr *expr)
{
  struct result left = evaluate(evaluation, expr->args[0]);
  if (!left.known)
    return left;
  const struct expr *list = expr->args[1];
  for (size_t i = 0; i < list->text_count; i++) {
    if (run_same_text(left.text, list->texts[i]))
      return run_condition(true);
  }
  return run_condition(false);
}

static struct result from_field(struct evaluation *evaluation, const struct expr *expr)
{
  struct result item = evaluate(evaluation, expr->args[0]);
  if (item.known && item.collection)
    return run_column(evaluation, expr, item.collection);
  return item.known ? item.item->fields[expr->field] : item;
}

static struct result operate(struct evaluation *evaluation, const struct expr *expr)
{
  switch (expr->op) {
  case EXPR_NUMBER:
    return run_number(expr->number.value, reading_error(expr->number.value, expr->number.unit), expr->number.unit);
  case EXPR_TEXT:
    return run_text(expr->text);
  case EXPR_SWITCH:
    return run_condition(expr->on);
  case EXPR_TEXTS:
    return (struct result){.known = true};
  case EXPR_NAME:
    return from_name(evaluation, expr);
  case EXPR_STAGE:
    return run_text(evaluation->inputs->stage);
  case EXPR_ITEM:
    return (struct result){.known = true, .item = evaluation->item};
  case EXPR_FIELD:
    return from_field(evaluation, expr);
  case EXPR_NEGATE:
    return run_negate(evaluation, expr);
  case EXPR_ADD:
  case EXPR_SUBTRACT:
  case EXPR_MULTIPLY:
  case EXPR_DIVIDE:
    return run_arithmetic(evaluation, expr);
  case EXPR_EQUAL:
  case EXPR_UNEQUAL:
  case EXPR_LESS:
  case EXPR_LESS_EQUAL:
  case EXPR_MORE:
  case EXPR_MORE_EQUAL:
    return run_comparison(evaluation, expr);
  case EXPR_IN:
    return from_in(evaluation, expr);
  case EXPR_AND:
  case EXPR_OR:
    return run_logic(evaluation, expr);
  case EXPR_NOT:
    return run_not(evaluation, expr);
  case EXPR_OTHERWISE:
    return run_otherwise(evaluation, expr);
  case EXPR_APPLY:
    return run_apply(evaluation, expr);
  case EXPR_CALL:
    return expr->builtin->evaluate(evaluation, expr);
  case EXPR_VARIABLE: /* stands for a range: bound.c looks at it, nothing computes it */
    break;
  }
  return run_unknown(evaluation, "nothing");
}

/* Operators and functions that tell rows for want of an input from rows whose sample is missing; for all others a
 * series of conditions with some of the former is unknown. */
static bool takes_part_known(const struct expr *expr)
{
  if (expr->op != EXPR_CALL)
    return expr->op == EXPR_AND || expr->op == EXPR_OR || expr->op == EXPR_NOT || expr->op == EXPR_OTHERWISE;
  return expr->builtin->evaluate == builtin_any || expr->builtin->evaluate == builtin_all ||
         expr->builtin->evaluate == builtin_known || expr->builtin->evaluate == builtin_either;
}

/* What an argument that was looked at is missing; NULL: nothing. */
static const struct missing *missing_of(struct evaluation *evaluation, const struct expr *arg)
{
  if (run_is_over_log(arg)) {
    const struct part *part = frame_part(evaluation, evaluation->frame, arg);
    if (!frame_has(evaluation, arg)) /* left out, since no row of it would count */
      part = frame_part(evaluation, evaluation->traits, arg);
    bool computed = part->stamp != 0 && (!arg->local || part->epoch == evaluation->epoch);
    return computed ? part->result.missing : NULL;
  }
  const struct memo *memo = &evaluation->memo[arg->slot];
  bool computed = memo->epoch != 0 && (!arg->local || memo->epoch == evaluation->epoch);
  return computed ? memo->result.missing : NULL;
}

/* Of an if() with a single condition, the side that does not count. */
static bool is_not_taken(struct evaluation *evaluation, const struct expr *expr, size_t i)
{
  if (expr->op != EXPR_CALL || expr->builtin->evaluate != builtin_if || i == 0 || expr->args[0]->type.series)
    return false;
  struct result condition = evaluate(evaluation, expr->args[0]);
  return condition.known && condition.on != (i == 1);
}

struct result eval_compute(struct evaluation *evaluation, const struct expr *expr)
{
  return eval_settle(evaluation, expr, operate(evaluation, expr));
}

struct result eval_settle(struct evaluation *evaluation, const struct expr *expr, struct result result)
{
  if (takes_part_known(expr))
    return result;
  for (size_t i = 0; i < expr->count; i++) {
    const struct expr *arg = expr->args[i];
    if (arg->type.kind != TYPE_SWITCH || !arg->type.series || is_not_taken(evaluation, expr, i))
      continue;
    const struct missing *missing = missing_of(evaluation, arg);
    if (missing && missing->count > 0)
      return (struct result){.missing = missing};
  }
  return result;
}

struct result evaluate(struct evaluation *evaluation, const struct expr *expr)
{
  if (run_is_over_log(expr))
    return evaluate_rows(evaluation, expr);
  struct memo *memo = &evaluation->memo[expr->slot];
  if (memo->epoch != 0 && (!expr->local || memo->epoch == evaluation->epoch)) {
    evaluation->stats.reused++;
    return memo->result;
  }
  struct frame_state state = {evaluation->frame, evaluation->rows};
  if (expr->type.series) /* over records or items: kept for longer than the rows at hand */
    evaluation->frame = evaluation->base;
  struct result result = eval_compute(evaluation, expr);
  frame_leave(evaluation, state);
  evaluation->stats.evaluated++;
  memo->result = result;
  memo->epoch = evaluation->epoch;
  return result;
}

/* Units people use for results whose source gives none, such as a speed times a time. */
static const struct unit *fitting_unit(struct arena *arena, const struct measure *of)
{
  static const char *const names[] = {"deg", "kPa", "rpm", "deg/kPa", "cm3/min", "L", "km/h", "ms"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    const char *why = NULL;
    const struct unit *unit = unit_read(arena, slice_of(names[i]), &why);
    if (unit && dimension_equal(unit->dimension, of->dimension))
      return unit;
  }
  return unit_of_dimension(arena, of->dimension, of->sense);
}

struct quantity result_quantity(struct arena *arena, const struct result *result, const struct type *type)
{
  const struct unit *unit = result->unit;
  if (unit && result->per)
    unit = unit_divide(arena, unit, result->per);
  if (!unit || (!type->any_unit && !dimension_equal(unit->dimension, type->of.dimension)))
    unit = fitting_unit(arena, &type->of);
  /* What is 0 but for rounding is 0. */
  return (struct quantity){fabs(result->number) <= result->error ? 0 : result->number, unit};
}

const char *result_print(struct arena *arena, const struct result *result, const struct type *type,
                         const struct unit *shown, double step)
{
  if (!result->known)
    return "?";
  if (type->series)
    return "a series";
  switch (type->kind) {
  case TYPE_NUMBER:
    return quantity_print(arena, result_quantity(arena, result, type), shown, step);
  case TYPE_SWITCH:
    if (type->name)
      return result->on ? "on" : "off"; /* a switch of the vocabulary */
    return result->on ? "yes" : "no";
  case TYPE_TEXT:
    return arena_text(arena, result->text);
  case TYPE_TEXTS:
  case TYPE_NUMBERS:
  case TYPE_CURVE:
  case TYPE_TABLE:
  case TYPE_PINS:
  case TYPE_ITEM:
  case TYPE_COLLECTION:
    break;
  }
  return type_print(arena, type);
}
