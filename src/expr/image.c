/* Of equal expressions the first one is written, under the number of its slot; arguments have lower numbers. Left out
 * is what only compiling uses: spans, depth and size. Reading order: graph_image, tree_image, type_image, names_image.
 */
#include "expr/image.h"

#include "expr/ast.h"
#include "expr/builtin.h"
#include "units/image.h"

static struct measure measure_image(struct image *image, struct measure measure)
{
  measure.dimension = dimension_image(image, measure.dimension);
  measure.sense = (enum unit_sense)image_index(image, measure.sense, SENSE_EITHER + 1);
  return measure;
}

static struct type type_image(struct image *image, struct type type, const struct names *names);

static const struct item_shape *shape_image(struct image *image, const struct item_shape *shape,
                                            const struct names *names)
{
  const void *there = shape;
  struct item_shape *made = image_shared(image, &there, sizeof *made);
  if (made == NULL)
    return there;
  made->kind = (enum item_kind)image_index(image, made->kind, ITEM_CHANGE + 1);
  made->count = image_count(image, made->count);
  struct item_field *fields = image_array(image, made->fields, made->count, sizeof *fields);
  for (size_t i = 0; i < made->count; i++) {
    fields[i].name = image_slice(image, fields[i].name);
    fields[i].type = type_image(image, fields[i].type, names);
  }
  made->fields = fields;
  return there;
}

const struct name *name_image(struct image *image, const struct name *name, const struct names *names)
{
  size_t number = image_index(image, name != NULL ? (size_t)(name - names->items) + 1 : 0, names->count + 1);
  return number > 0 ? &names->items[number - 1] : NULL;
}

static struct type type_image(struct image *image, struct type type, const struct names *names)
{
  type.kind = (enum type_kind)image_index(image, type.kind, TYPE_COLLECTION + 1);
  bool numbers = type.kind == TYPE_NUMBER || type.kind == TYPE_NUMBERS;
  bool over = type.kind == TYPE_CURVE || type.kind == TYPE_TABLE;
  type.series = image_word(image, type.series) != 0;
  type.rows = (size_t)image_word(image, type.rows);
  if (numbers)
    type.any_unit = image_word(image, type.any_unit) != 0;
  if (numbers || over)
    type.of = measure_image(image, type.of);
  if (over)
    type.x = measure_image(image, type.x);
  if (type.kind == TYPE_TABLE)
    type.y = measure_image(image, type.y);
  type.name = name_image(image, type.name, names);
  type.item = shape_image(image, type.item, names);
  return type;
}

const struct names *names_image(struct image *image, const struct names *given)
{
  struct names *names = image_array(image, given, 1, sizeof *names);
  names->count = image_count(image, names->count);
  struct name *items = image_array(image, names->items, names->count, sizeof *items);
  struct names known = {names->count, image->writes ? given->items : items};
  for (size_t i = 0; i < names->count; i++) {
    struct name *name = &items[i];
    name->scope = (enum name_scope)image_index(image, name->scope, NAME_SCOPES);
    name->full = image_slice(image, name->full);
    name->index = (size_t)image_word(image, name->index);
    name->type = type_image(image, name->type, &known);
    name->field = (size_t)image_word(image, name->field);
    name->choice_count = image_count(image, name->choice_count);
    struct slice *choices = image_array(image, name->choices, name->choice_count, sizeof *choices);
    for (size_t k = 0; k < name->choice_count; k++)
      choices[k] = image_slice(image, choices[k]);
    name->choices = choices;
  }
  names->items = items;
  return image->writes ? given : names;
}

static const struct builtin *builtin_image(struct image *image, const struct builtin *builtin)
{
  size_t number = 0;
  while (builtin != NULL && builtins_at(number) != builtin)
    number++;
  return builtins_at(image_index(image, number, builtins_count()));
}

static void texts_image(struct image *image, struct expr *expr)
{
  expr->text_count = image_count(image, expr->text_count);
  struct slice *texts = image_array(image, expr->texts, expr->text_count, sizeof *texts);
  for (size_t i = 0; i < expr->text_count; i++)
    texts[i] = image_slice(image, texts[i]);
  expr->texts = texts;
}

/* What is the expression's own, its arguments and type apart. */
static void content_image(struct image *image, struct expr *expr, const struct names *names)
{
  if (expr->op == EXPR_NAME) {
    expr->name = name_image(image, expr->name, names);
    image->broken = image->broken || expr->name == NULL;
    if (expr->name != NULL)
      expr->text = expr->name->full;
    return;
  }
  expr->text = image_slice(image, expr->text);
  if (expr->op == EXPR_NUMBER)
    expr->number = quantity_image(image, expr->number);
  if (expr->op == EXPR_SWITCH)
    expr->on = image_word(image, expr->on) != 0;
  if (expr->op == EXPR_TEXTS)
    texts_image(image, expr);
  if (expr->op == EXPR_FIELD)
    expr->field = (size_t)image_word(image, expr->field);
  if (expr->op == EXPR_CALL) {
    expr->builtin = builtin_image(image, expr->builtin);
    expr->boxed = image_word(image, expr->boxed) != 0;
  }
}

/* `trees`: those that were read before, by slot. */
static void tree_image(struct image *image, struct expr *expr, const struct names *names, struct expr *trees)
{
  expr->op = (enum expr_op)image_index(image, expr->op, EXPR_VARIABLE + 1);
  content_image(image, expr, names);
  expr->type = type_image(image, expr->type, names);
  expr->local = image_word(image, expr->local) != 0;
  expr->checked = expr->good = expr->joined = true;
  expr->count = image_count(image, expr->count);
  struct expr **args = image_array(image, expr->args, expr->count, sizeof *args);
  for (size_t i = 0; i < expr->count; i++) {
    size_t slot = image_index(image, image->writes ? args[i]->slot : 0, expr->slot);
    args[i] = image->writes ? args[i] : &trees[slot];
  }
  expr->args = args;
}

struct graph *graph_image(struct image *image, struct graph *graph, const struct names *names)
{
  size_t distinct = image_count(image, image->writes ? graph_distinct(graph) : 0);
  size_t written = (size_t)image_word(image, image->writes ? graph_written(graph) : 0);
  struct expr *trees = image->writes ? NULL : ARENA_ARRAY(image->arena, distinct, struct expr);
  for (size_t slot = 0; slot < distinct; slot++) {
    struct expr copy = {0};
    struct expr *tree = trees != NULL ? &trees[slot] : &copy;
    if (image->writes)
      copy = *graph_tree(graph, slot);
    tree->slot = slot;
    tree_image(image, tree, names, trees);
  }
  return image->writes ? graph : graph_made(image->arena, trees, distinct, written);
}

const struct expr *expr_image(struct image *image, const struct expr *expr, const struct graph *graph)
{
  size_t number = image_index(image, expr != NULL ? expr->slot + 1 : 0, graph_distinct(graph) + 1);
  return number > 0 ? graph_tree(graph, number - 1) : NULL;
}
