/* Of equal expressions the first one is written, under the number of its slot; arguments have lower numbers. Left out
 * is what only compiling uses: spans, depth and size. Reading order: language_image, names_image, graph_image,
 * tree_image, type_image.
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

/* The image at work, with the types that came so far: there are some hundred of them for thousands of expressions. */
struct work {
  struct image *image;
  struct names names; /* what names are numbered in: when writing, the ones given */
  struct type *types;
  size_t count, capacity;
  struct expr *trees;             /* reading: those that were read before, by slot */
  struct expr **args, **args_end; /* reading: room for the arguments of all that follow */
};

static const struct name *numbered(struct work *work, const struct name *name)
{
  return name_image(work->image, name, &work->names);
}

static void type_image(struct work *work, struct type *type);

static const struct item_shape *shape_image(struct work *work, const struct item_shape *shape)
{
  struct image *image = work->image;
  const void *there = shape;
  struct item_shape *made = image_shared(image, &there, sizeof *made);
  if (made == NULL)
    return there;
  made->kind = (enum item_kind)image_index(image, made->kind, ITEM_VISIT + 1);
  made->count = image_count(image, made->count);
  struct item_field *fields = image_array(image, made->fields, made->count, sizeof *fields);
  for (size_t i = 0; i < made->count; i++) {
    fields[i].name = image_slice(image, fields[i].name);
    type_image(work, &fields[i].type);
  }
  made->fields = fields;
  return there;
}

const struct name *name_image(struct image *image, const struct name *name, const struct names *names)
{
  size_t number = image_index(image, name != NULL ? (size_t)(name - names->items) + 1 : 0, names->count + 1);
  return number > 0 ? &names->items[number - 1] : NULL;
}

static bool same_measure(struct measure a, struct measure b)
{
  return dimension_equal(a.dimension, b.dimension) && a.sense == b.sense;
}

static bool same_type(const struct type *a, const struct type *b)
{
  return a->kind == b->kind && a->series == b->series && a->rows == b->rows && a->any_unit == b->any_unit &&
         same_measure(a->of, b->of) && same_measure(a->x, b->x) && same_measure(a->y, b->y) && a->name == b->name &&
         a->item == b->item;
}

/* The number of one that was there before, or the next number and what the type is. */
static void type_image(struct work *work, struct type *type)
{
  struct image *image = work->image;
  size_t number = 0;
  while (image->writes && number < work->count && !same_type(&work->types[number], type))
    number++;
  number = image_index(image, number, work->count + 1);
  if (number < work->count) {
    *type = work->types[number];
    return;
  }
  type->kind = (enum type_kind)image_index(image, type->kind, TYPE_COLLECTION + 1);
  type->series = image_word(image, type->series) != 0;
  type->rows = (size_t)image_word(image, type->rows);
  type->any_unit = image_word(image, type->any_unit) != 0;
  type->of = measure_image(image, type->of);
  type->x = measure_image(image, type->x);
  type->y = measure_image(image, type->y);
  type->name = numbered(work, type->name);
  type->item = shape_image(work, type->item); /* whose types come before it */
  work->types = arena_grow(image->arena, work->types, work->count, &work->capacity, sizeof *work->types);
  work->types[work->count++] = *type;
}

static const struct names *names_image(struct work *work, const struct names *given)
{
  struct image *image = work->image;
  struct names *names = image_array(image, given, 1, sizeof *names);
  names->count = image_count(image, names->count);
  struct name *items = image_array(image, names->items, names->count, sizeof *items);
  work->names = (struct names){names->count, image->writes ? given->items : items};
  for (size_t i = 0; i < names->count; i++) {
    struct name *name = &items[i];
    name->scope = (enum name_scope)image_index(image, name->scope, NAME_SCOPES);
    name->full = image_slice(image, name->full);
    name->index = (size_t)image_word(image, name->index);
    type_image(work, &name->type);
    name->field = (size_t)image_word(image, name->field);
    name->choice_count = image_count(image, name->choice_count);
    struct slice *choices = image_array(image, name->choices, name->choice_count, sizeof *choices);
    for (size_t k = 0; k < name->choice_count; k++)
      choices[k] = image_slice(image, choices[k]);
    name->choices = choices;
    name->has_range = image_word(image, name->has_range) != 0;
    if (name->has_range) {
      name->low = image_number(image, name->low);
      name->high = image_number(image, name->high);
    }
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
static void content_image(struct work *work, struct expr *expr)
{
  struct image *image = work->image;
  if (expr->op == EXPR_NAME) {
    expr->name = numbered(work, expr->name);
    if (expr->name == NULL)
      image_refuse(image);
    if (expr->name != NULL)
      expr->text = expr->name->full;
    return;
  }
  if (expr->op == EXPR_TEXT || expr->op == EXPR_VARIABLE)
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
    expr->text = slice_of(expr->builtin->name);
    expr->boxed = image_word(image, expr->boxed) != 0;
  }
}

static void tree_image(struct work *work, struct expr *expr)
{
  struct image *image = work->image;
  expr->op = (enum expr_op)image_index(image, expr->op, EXPR_VARIABLE + 1);
  content_image(work, expr);
  type_image(work, &expr->type);
  expr->local = image_word(image, expr->local) != 0;
  expr->checked = expr->good = expr->joined = true;
  expr->count = image_count(image, expr->count);
  if (image->writes) {
    for (size_t i = 0; i < expr->count; i++)
      image_index(image, expr->args[i]->slot, expr->slot);
    return;
  }
  expr->args = work->args;
  if (expr->count > (size_t)(work->args_end - work->args)) {
    image_refuse(image);
    expr->count = 0;
  }
  for (size_t i = 0; i < expr->count; i++)
    *work->args++ = &work->trees[image_index(image, 0, expr->slot)];
}

static void graph_write(struct work *work, const struct graph *graph)
{
  size_t distinct = graph_distinct(graph), links = 0;
  for (size_t slot = 0; slot < distinct; slot++)
    links += graph_tree(graph, slot)->count;
  image_count(work->image, distinct);
  image_count(work->image, links);
  image_word(work->image, graph_written(graph));
  for (size_t slot = 0; slot < distinct; slot++) {
    struct expr copy = *graph_tree(graph, slot);
    tree_image(work, &copy);
  }
}

static struct graph *graph_read(struct work *work)
{
  struct image *image = work->image;
  size_t distinct = image_count(image, 0), links = image_count(image, 0), written = (size_t)image_word(image, 0);
  work->trees = ARENA_ARRAY(image->arena, distinct, struct expr);
  work->args = ARENA_ARRAY(image->arena, links, struct expr *);
  work->args_end = work->args + links;
  for (size_t slot = 0; slot < distinct; slot++) {
    work->trees[slot].slot = slot;
    tree_image(work, &work->trees[slot]);
  }
  return graph_made(image->arena, work->trees, distinct, written);
}

void language_image(struct image *image, const struct names **names, struct graph **graph)
{
  struct work work = {.image = image};
  *names = names_image(&work, *names);
  if (image->writes)
    graph_write(&work, *graph);
  else
    *graph = graph_read(&work);
}

const struct expr *expr_image(struct image *image, const struct expr *expr, const struct graph *graph)
{
  size_t number = image_index(image, expr != NULL ? expr->slot + 1 : 0, graph_distinct(graph) + 1);
  return number > 0 ? graph_tree(graph, number - 1) : NULL;
}
