/* Types, units and names of a parsed tree, from the leaves up. Reading order: expr_check, check_tree, the operators;
 * the functions' own checks are in builtin.c and builtin_items.c. One mistake silences what depends on it, so that each
 * is told once.
 */
#include "base/limits.h"
#include "expr/builtin.h"
#include "model/stage.h"

static bool check_tree(struct checker *checker, struct expr *expr);

bool check_refuse(struct checker *checker, const struct expr *at, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  const char *message = arena_vprint(checker->arena, format, args);
  va_end(args);
  return problems_add(checker->problems, checker->locator->place(checker->locator->context, at->from, at->to), "%s",
                      message);
}

static struct type number_type(struct dimension dimension, enum unit_sense sense, bool series)
{
  return (struct type){.kind = TYPE_NUMBER, .series = series, .of = {dimension, sense}};
}

static bool is_temperature(struct dimension dimension)
{
  struct dimension kelvin = {{0}};
  kelvin.of[DIM_TEMPERATURE] = 1;
  return dimension_equal(dimension, kelvin);
}

/* Sense of a result that is computed, not a temperature read from somewhere. */
static enum unit_sense sense_of(struct dimension dimension)
{
  return is_temperature(dimension) ? SENSE_DIFFERENCE : SENSE_PLAIN;
}

static enum unit_sense sense_join(enum unit_sense a, enum unit_sense b)
{
  return a == SENSE_EITHER ? b : a;
}

bool check_common(struct checker *checker, const struct expr *at, const struct type *a, const struct type *b,
                  struct type *out)
{
  *out = *a;
  out->series = a->series || b->series;
  if (a->kind == TYPE_NUMBER && b->kind == TYPE_NUMBER && !a->any_unit && !b->any_unit && measure_equal(a->of, b->of)) {
    out->of.sense = sense_join(a->of.sense, b->of.sense);
    return true;
  }
  if (a->kind == b->kind && (a->kind == TYPE_SWITCH || a->kind == TYPE_TEXT))
    return true;
  return check_refuse(checker, at, "%s and %s do not go together", type_print(checker->arena, a),
                      type_print(checker->arena, b));
}

/* A phase is the tree that it was defined as, which is joined already. */
static bool check_phase(struct expr *expr, const struct name *phase)
{
  size_t from = expr->from, to = expr->to;
  if (!phase->phase)
    return false; /* told where it is defined */
  *expr = *phase->phase;
  expr->from = from;
  expr->to = to;
  expr->bound = true;
  expr->phase = phase;
  return true;
}

static bool check_name(struct checker *checker, struct expr *expr)
{
  expr->name = names_find(checker->names, expr->text);
  if (expr->name && expr->name->scope == NAME_PHASE)
    return check_phase(expr, expr->name);
  if (expr->name) {
    expr->type = expr->name->type;
    return true;
  }
  const size_t scope = strlen("phase.");
  if (expr->text.size > scope && memcmp(expr->text.at, "phase.", scope) == 0)
    check_refuse(checker, expr, "no pack has a phase '%.*s'",
                 SLICE_ARG(slice_part(expr->text, scope, expr->text.size)));
  else
    check_refuse(checker, expr, "'%.*s' is not in the vocabulary", SLICE_ARG(expr->text));
  const struct name *near = names_nearest(checker->names, expr->text);
  if (near)
    problems_hint(checker->problems, "the nearest name is %.*s", SLICE_ARG(near->full));
  return false;
}

/* COLLECTION.FIELD: the field of all its items, a series. The collection has a name, so that it has its slot already.
 */
static bool check_column(struct checker *checker, struct expr *expr)
{
  const struct expr *collection = expr->args[0];
  if (!collection->joined || (expr->type.kind != TYPE_NUMBER && expr->type.kind != TYPE_SWITCH) || expr->type.any_unit)
    return check_refuse(checker, expr, "only fields that are numbers of one kind, or conditions, make a series");
  expr->type.series = true;
  expr->type.rows = TYPE_ROWS_ITEMS + collection->slot;
  return true;
}

static bool check_field(struct checker *checker, struct expr *expr)
{
  const struct type *inner = &expr->args[0]->type;
  if (inner->kind != TYPE_ITEM && inner->kind != TYPE_COLLECTION)
    return check_refuse(checker, expr, "%s has no field '%.*s'", type_print(checker->arena, inner),
                        SLICE_ARG(expr->text));
  const char *list = "";
  for (size_t i = 0; i < inner->item->count; i++) {
    const struct item_field *field = &inner->item->fields[i];
    if (slice_equal(field->name, expr->text)) {
      expr->field = i;
      expr->type = field->type;
      return inner->kind == TYPE_ITEM || check_column(checker, expr);
    }
    list = arena_print(checker->arena, "%s%s.%.*s", list, i ? " " : "", SLICE_ARG(field->name));
  }
  check_refuse(checker, expr, "this item has no field '%.*s'", SLICE_ARG(expr->text));
  problems_hint(checker->problems, "it has %s", list);
  return false;
}

static bool needs_number(struct checker *checker, const struct expr *expr)
{
  if (expr->type.kind == TYPE_NUMBER && !expr->type.any_unit)
    return true;
  return check_refuse(checker, expr, "a number is expected here, not %s", type_print(checker->arena, &expr->type));
}

static bool needs_condition(struct checker *checker, const struct expr *expr)
{
  if (expr->type.kind == TYPE_SWITCH)
    return true;
  return check_refuse(checker, expr, "a condition is expected here, not %s", type_print(checker->arena, &expr->type));
}

/* + and -: which kinds of temperature come out is the whole of it. */
static bool check_sum(struct checker *checker, struct expr *expr)
{
  const struct expr *left = expr->args[0], *right = expr->args[1];
  if (!needs_number(checker, left) || !needs_number(checker, right))
    return false;
  struct measure a = left->type.of, b = right->type.of;
  bool minus = expr->op == EXPR_SUBTRACT;
  if (!dimension_equal(a.dimension, b.dimension))
    return check_refuse(checker, expr, "%s and %s cannot be %s", type_print(checker->arena, &left->type),
                        type_print(checker->arena, &right->type), minus ? "subtracted" : "added");
  enum unit_sense sense = SENSE_PLAIN;
  bool a_point = a.sense == SENSE_POINT, b_point = b.sense == SENSE_POINT;
  if (a_point && b_point) {
    if (!minus)
      return check_refuse(checker, expr,
                          "two temperatures cannot be added; a temperature and a difference (5 K, 5 degC_diff) can");
    sense = SENSE_DIFFERENCE;
  } else if (b_point && minus) {
    if (a.sense == SENSE_DIFFERENCE)
      return check_refuse(checker, expr, "a temperature cannot be taken from a difference");
    sense = SENSE_DIFFERENCE;
  } else if (a_point || b_point) {
    sense = SENSE_POINT;
  } else if (a.sense != SENSE_PLAIN) {
    sense = sense_join(a.sense, b.sense);
  }
  expr->type = number_type(a.dimension, sense, left->type.series || right->type.series);
  return true;
}

static bool check_product(struct checker *checker, struct expr *expr)
{
  for (size_t i = 0; i < 2; i++) {
    if (!needs_number(checker, expr->args[i]))
      return false;
    if (expr->args[i]->type.of.sense == SENSE_POINT)
      return check_refuse(checker, expr->args[i],
                          "a temperature cannot be multiplied or divided; take a difference from a reference first");
  }
  const struct type *a = &expr->args[0]->type, *b = &expr->args[1]->type;
  struct dimension dimension = dimension_times(a->of.dimension, b->of.dimension, expr->op == EXPR_DIVIDE ? -1 : 1);
  expr->type = number_type(dimension, sense_of(dimension), a->series || b->series);
  return true;
}

static bool choice_has(const struct name *name, struct slice word)
{
  for (size_t i = 0; i < name->choice_count; i++) {
    if (slice_equal(name->choices[i], word))
      return true;
  }
  return false;
}

/* The words of a stage, which is no name of the vocabulary. */
static bool check_stage(struct checker *checker, const struct expr *at, const struct expr *other, struct slice word)
{
  enum stage stage;
  if (other->op != EXPR_STAGE || stage_find(word, &stage))
    return true;
  check_refuse(checker, at, "the stage cannot be '%.*s'", SLICE_ARG(word));
  problems_hint(checker->problems, "it is one of %s, %s, %s", stage_name(STAGE_LOOK), stage_name(STAGE_DYNO),
                stage_name(STAGE_DELIVERY));
  return false;
}

static bool check_word(struct checker *checker, const struct expr *at, const struct name *name, struct slice word)
{
  if (!name || choice_has(name, word))
    return true;
  const char *list = "";
  for (size_t i = 0; i < name->choice_count; i++)
    list = arena_print(checker->arena, "%s%s%.*s", list, i ? ", " : "", SLICE_ARG(name->choices[i]));
  check_refuse(checker, at, "%.*s cannot be '%.*s'", SLICE_ARG(name->full), SLICE_ARG(word));
  problems_hint(checker->problems, "it is one of %s", list);
  return false;
}

static bool check_comparison(struct checker *checker, struct expr *expr)
{
  const struct expr *left = expr->args[0], *right = expr->args[1];
  struct type common;
  bool order = expr->op != EXPR_EQUAL && expr->op != EXPR_UNEQUAL;
  if (!order && left->type.kind == TYPE_NUMBERS && right->type.kind == TYPE_NUMBERS &&
      measure_equal(left->type.of, right->type.of)) {
    expr->type = (struct type){.kind = TYPE_SWITCH};
    return true;
  }
  if (!check_common(checker, expr, &left->type, &right->type, &common))
    return false;
  if (order && common.kind != TYPE_NUMBER)
    return check_refuse(checker, expr, "only numbers have an order, not %s", type_print(checker->arena, &common));
  if (common.kind == TYPE_TEXT) {
    if (right->op == EXPR_TEXT &&
        (!check_word(checker, right, left->type.name, right->text) || !check_stage(checker, right, left, right->text)))
      return false;
    if (left->op == EXPR_TEXT &&
        (!check_word(checker, left, right->type.name, left->text) || !check_stage(checker, left, right, left->text)))
      return false;
  }
  expr->type = (struct type){.kind = TYPE_SWITCH, .series = common.series};
  return true;
}

static bool check_in(struct checker *checker, struct expr *expr)
{
  const struct expr *left = expr->args[0], *right = expr->args[1];
  if (left->type.kind != TYPE_TEXT || right->type.kind != TYPE_TEXTS)
    return check_refuse(checker, expr, "'in' tests a choice or text against a list of texts, not %s against %s",
                        type_print(checker->arena, &left->type), type_print(checker->arena, &right->type));
  for (size_t i = 0; i < right->text_count; i++) {
    if (!check_word(checker, right, left->type.name, right->texts[i]) ||
        !check_stage(checker, right, left, right->texts[i]))
      return false;
  }
  expr->type = (struct type){.kind = TYPE_SWITCH};
  return true;
}

static bool check_logic(struct checker *checker, struct expr *expr)
{
  bool series = false;
  for (size_t i = 0; i < expr->count; i++) {
    if (!needs_condition(checker, expr->args[i]))
      return false;
    series = series || expr->args[i]->type.series;
  }
  expr->type = (struct type){.kind = TYPE_SWITCH, .series = series}; /* a condition now, no switch of the vocabulary */
  return true;
}

static bool check_negate(struct checker *checker, struct expr *expr)
{
  const struct expr *inner = expr->args[0];
  if (!needs_number(checker, inner))
    return false;
  expr->type = inner->type;
  /* "-40 degC" is a temperature below zero, not a temperature turned round: fold it into the number. */
  if (inner->op == EXPR_NUMBER && !inner->bound) {
    const struct unit *unit = inner->number.unit;
    expr->op = EXPR_NUMBER;
    expr->number = (struct quantity){unit_to_base(unit, -unit_from_base(unit, inner->number.value)), unit};
    expr->count = 0;
    return true;
  }
  if (inner->type.of.sense == SENSE_POINT)
    return check_refuse(checker, expr,
                        "a temperature cannot be turned round; take a difference from a reference first");
  return true;
}

static bool check_apply(struct checker *checker, struct expr *expr)
{
  const struct type *function = &expr->args[0]->type;
  size_t wanted = function->kind == TYPE_CURVE ? 1 : function->kind == TYPE_TABLE ? 2 : 0;
  if (wanted == 0)
    return check_refuse(checker, expr->args[0], "only curves and tables can be evaluated, not %s",
                        type_print(checker->arena, function));
  if (expr->count - 1 != wanted)
    return check_refuse(checker, expr, "%s takes %zu argument%s, not %zu", type_print(checker->arena, function), wanted,
                        wanted == 1 ? "" : "s", expr->count - 1);
  bool series = false;
  for (size_t i = 1; i <= wanted; i++) {
    struct expr *arg = expr->args[i];
    if (!needs_number(checker, arg))
      return false;
    struct measure axis = i == 1 ? function->x : function->y;
    if (!measure_equal(arg->type.of, axis))
      return check_refuse(checker, arg, "the axis is in %s, not in %s",
                          dimension_name(checker->arena, axis.dimension, axis.sense),
                          dimension_name(checker->arena, arg->type.of.dimension, arg->type.of.sense));
    series = series || arg->type.series;
  }
  expr->type = number_type(function->of.dimension, function->of.sense, series);
  return true;
}

static bool check_call(struct checker *checker, struct expr *expr)
{
  expr->builtin = builtins_find(expr->text);
  if (!expr->builtin) {
    check_refuse(checker, expr, "there is no function '%.*s'", SLICE_ARG(expr->text));
    const struct builtin *near = builtins_nearest(expr->text);
    if (near)
      problems_hint(checker->problems, "the nearest one is %s", near->signature);
    return false;
  }
  if (expr->count < expr->builtin->least || expr->count > expr->builtin->most) {
    check_refuse(checker, expr, "%s does not take %zu argument%s", expr->builtin->name, expr->count,
                 expr->count == 1 ? "" : "s");
    problems_hint(checker->problems, "it is %s", expr->builtin->signature);
    return false;
  }
  return expr->builtin->check(checker, expr);
}

static bool check_otherwise(struct checker *checker, struct expr *expr)
{
  if (!check_common(checker, expr, &expr->args[0]->type, &expr->args[1]->type, &expr->type))
    return false;
  const struct expr *fallback = expr->args[1];
  if (fallback->op == EXPR_TEXT && !check_word(checker, fallback, expr->args[0]->type.name, fallback->text))
    return false;
  return true;
}

/* The ends of the ranges of highest(...) and the like: once, before the expression that uses the variables. */
static bool check_ranges(struct checker *checker, struct expr *call)
{
  bool good = true;
  for (size_t i = 1; i < call->count; i++) {
    struct expr *end = call->args[i];
    end->good = check_tree(checker, end) && needs_number(checker, end);
    if (end->good && end->type.series)
      end->good = check_refuse(checker, end, "the ends of a range are single values");
    end->checked = true;
    good = good && end->good;
  }
  for (size_t i = 1; good && i + 1 < call->count; i += 2) {
    struct expr both = {.from = call->args[i]->from, .to = call->args[i + 1]->to};
    struct type type;
    good = check_common(checker, &both, &call->args[i]->type, &call->args[i + 1]->type, &type);
  }
  return good;
}

static bool check_variable(struct expr *expr)
{
  const struct type *from = &expr->args[0]->type, *to = &expr->args[1]->type;
  expr->type = from->of.sense == SENSE_EITHER ? *to : *from;
  return true;
}

static bool check_node(struct checker *checker, struct expr *expr)
{
  switch (expr->op) {
  case EXPR_NUMBER:
    expr->type = number_type(expr->number.unit->dimension, expr->number.unit->sense, false);
    return true;
  case EXPR_TEXT:
  case EXPR_STAGE:
    expr->type = (struct type){.kind = TYPE_TEXT};
    return true;
  case EXPR_SWITCH:
    expr->type = (struct type){.kind = TYPE_SWITCH};
    return true;
  case EXPR_TEXTS:
    expr->type = (struct type){.kind = TYPE_TEXTS};
    return true;
  case EXPR_NAME:
    return check_name(checker, expr);
  case EXPR_ITEM:
    return true;
  case EXPR_FIELD:
    return check_field(checker, expr);
  case EXPR_NEGATE:
    return check_negate(checker, expr);
  case EXPR_ADD:
  case EXPR_SUBTRACT:
    return check_sum(checker, expr);
  case EXPR_MULTIPLY:
  case EXPR_DIVIDE:
    return check_product(checker, expr);
  case EXPR_EQUAL:
  case EXPR_UNEQUAL:
  case EXPR_LESS:
  case EXPR_LESS_EQUAL:
  case EXPR_MORE:
  case EXPR_MORE_EQUAL:
    return check_comparison(checker, expr);
  case EXPR_IN:
    return check_in(checker, expr);
  case EXPR_AND:
  case EXPR_OR:
  case EXPR_NOT:
    return check_logic(checker, expr);
  case EXPR_OTHERWISE:
    return check_otherwise(checker, expr);
  case EXPR_APPLY:
    return check_apply(checker, expr);
  case EXPR_CALL:
    return check_call(checker, expr);
  case EXPR_VARIABLE:
    return check_variable(expr);
  }
  return false;
}

/* Series that meet in an expression must run over the same rows: those of the log, or the records of one reading. */
static bool check_rows(struct checker *checker, struct expr *expr)
{
  const struct type *found = NULL;
  for (size_t i = 0; i < expr->count; i++) {
    const struct type *type = &expr->args[i]->type;
    if (!type->series)
      continue;
    if (found && found->rows != type->rows)
      return check_refuse(
          checker, expr,
          "series over different rows do not go together: the log, each reading and each collection have their own");
    found = type;
  }
  if (!found)
    return true;
  if (expr->op == EXPR_CALL && builtins_over_time(expr->builtin) && found->rows != 0)
    return check_refuse(checker, expr, "%s goes by the time of the log, which a reading or collection does not have",
                        expr->builtin->name);
  if (expr->type.series)
    expr->type.rows = found->rows;
  return true;
}

static bool check_tree(struct checker *checker, struct expr *expr)
{
  if (expr->joined)
    return true; /* a `let`, checked where it was written */
  if (expr->checked)
    return expr->good;
  if (expr->boxed && !check_ranges(checker, expr))
    return false;
  bool good = true;
  for (size_t i = 0; i < expr->count; i++)
    good = check_tree(checker, expr->args[i]) && good;
  return good && check_node(checker, expr) && check_rows(checker, expr);
}

bool expr_check(struct arena *arena, struct expr *expr, const struct names *names, const struct locator *locator,
                struct problems *problems)
{
  struct checker checker = {arena, names, locator, problems};
  return check_tree(&checker, expr);
}

const struct expr *expr_compile(struct arena *arena, struct graph *graph, const struct names *names, struct slice text,
                                const struct scope_chain *chain, const struct locator *locator,
                                struct problems *problems)
{
  struct expr *expr = expr_parse(arena, text, chain, locator, problems);
  if (!expr || !expr_check(arena, expr, names, locator, problems))
    return NULL;
  graph_join(graph, expr);
  /* What walks over a tree visits a `let` each time that it is used. */
  bool deep = expr->depth > LIMIT_EXPRESSION_WHOLE_DEPTH;
  if (!deep && expr->whole <= LIMIT_EXPRESSION_WHOLE)
    return expr;
  problems_add(problems, locator->place(locator->context, expr->from, expr->to),
               deep ? "with its lets written out this is nested more than %d levels deep"
                    : "with its lets written out this has more than %d operators and operands",
               deep ? LIMIT_EXPRESSION_WHOLE_DEPTH : LIMIT_EXPRESSION_WHOLE);
  return NULL;
}
