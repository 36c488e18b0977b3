/* Curves and tables out of YAML nodes. Reading order: grid_read_curve, grid_read_table; part_open finds the list and
 * the unit of x, y or value in its long form {unit: U, at: [...]} or its short form [...]. Axes out of order are read
 * as they stand: judging them is a rule's business. */
#include "read/grid.h"

#include "base/limits.h"

static const char *const axis_keys[] = {"unit", "at", NULL};
static const char *const rows_keys[] = {"unit", "rows", NULL};

/* x, y or value of a curve or table. */
struct part {
  struct slice name; /* "fuel.warm_up_enrichment.x" */
  struct field_wanted wanted;
  const struct unit *declared; /* NULL: not written */
  const struct node *list;     /* NULL when refused */
};

static void check_keys(struct field_reader *r, const struct node *map, struct slice name, const char *const *known)
{
  field_check_keys(r, map, arena_print(r->arena, "'%.*s'", SLICE_ARG(name)), known);
}

/* The list itself, not blank, not empty, not over the limit. */
static const struct node *list_check(struct field_reader *r, struct slice name, const struct node *list,
                                     const char *what)
{
  if (!field_is(r, name, list, NODE_LIST, what))
    return NULL;
  if (list->count == 0)
    field_refuse(r, list->place, "'%.*s' is empty", SLICE_ARG(name));
  else if (list->count > LIMIT_AXIS)
    field_refuse(r, list->place, "'%.*s' has %zu points; at most %d are accepted", SLICE_ARG(name), list->count,
                 LIMIT_AXIS);
  else
    return list;
  return NULL;
}

/* `keys` is {"unit", what the list is called}. */
static struct part part_open(struct field_reader *r, const struct entry *entry, const struct node *map, const char *key,
                             const struct unit *unit, const char *const *keys)
{
  const struct node *node = node_get(map, key);
  struct part part = {.name = slice_of(arena_print(r->arena, "%.*s.%s", SLICE_ARG(entry->name), key))};
  part.wanted = (struct field_wanted){part.name, unit, unit};
  if (node == NULL) {
    field_refuse(r, map->place, "'%.*s' has no '%s'", SLICE_ARG(entry->name), key);
    return part;
  }
  const char *what = keys == rows_keys ? "a list of rows, each a list of numbers" : "a list of numbers";
  if (node->kind != NODE_MAP) {
    part.list = list_check(r, part.name, node, what);
    return part;
  }
  check_keys(r, node, part.name, keys);
  const struct node *unit_node = node_get(node, "unit"), *list = node_get(node, keys[1]);
  if (unit_node != NULL)
    part.declared = field_read_unit(r, &part.wanted, unit_node);
  if (part.declared != NULL)
    part.wanted.bare = part.declared;
  if (list == NULL)
    field_refuse(r, node->place, "'%.*s' has no '%s'", SLICE_ARG(part.name), keys[1]);
  else
    part.list = list_check(r, part.name, list, what);
  return part;
}

static struct field_vector vector_new(struct field_reader *r, size_t count, const struct unit *unit)
{
  return (struct field_vector){count, ARENA_ARRAY(r->arena, count, double), ARENA_ARRAY(r->arena, count, struct place),
                               unit};
}

static bool part_read(struct field_reader *r, const struct part *part, struct field_vector *out)
{
  if (part->list == NULL)
    return false;
  *out = vector_new(r, part->list->count, part->declared);
  bool good = field_read_numbers(r, &part->wanted, part->list, 0, out);
  if (out->unit == NULL)
    out->unit = part->wanted.unit;
  return good;
}

static struct axis axis_of(const struct field_vector *vector)
{
  return (struct axis){vector->count, vector->at, vector->place, vector->unit,
                       axis_is_increasing(vector->at, vector->count)};
}

bool grid_read_curve(struct field_reader *r, const struct entry *entry, const struct node *node, struct curve *out)
{
  static const char *const keys[] = {"x", "value", NULL};
  if (!field_is(r, entry->name, node, NODE_MAP, "a curve ('x' and 'value', each a list)"))
    return false;
  bool refused = r->refused;
  r->refused = false;
  check_keys(r, node, entry->name, keys);
  struct part x = part_open(r, entry, node, "x", entry->x_unit, axis_keys);
  struct part value = part_open(r, entry, node, "value", entry->unit, axis_keys);
  struct field_vector points = {0}, values = {0};
  part_read(r, &x, &points);
  part_read(r, &value, &values);
  if (x.list != NULL && value.list != NULL && points.count != values.count)
    field_refuse(r, value.list->place, "'%.*s' has %zu points, but 'x' has %zu", SLICE_ARG(value.name), values.count,
                 points.count);
  bool good = !r->refused;
  r->refused = r->refused || refused;
  if (good)
    *out = (struct curve){axis_of(&points), values.at, values.place, values.unit};
  return good;
}

/* A row of the wrong length is read all the same, aside, for the problems in its cells. */
static void read_row(struct field_reader *r, const struct part *value, size_t row, size_t width,
                     struct field_vector *cells)
{
  const struct node *list = &value->list->items[row];
  const char *name = arena_print(r->problems->arena, "%.*s, row %zu", SLICE_ARG(value->name), row + 1);
  if (list->kind != NODE_LIST) {
    field_is(r, slice_of(name), list, NODE_LIST, "a list of numbers");
    return;
  }
  if (width == 0 || list->count == width) {
    struct field_vector aside = vector_new(r, width == 0 ? list->count : 0, NULL);
    field_read_numbers(r, &value->wanted, list, width == 0 ? 0 : row * width, width == 0 ? &aside : cells);
    return;
  }
  field_refuse(r, list->place, "row %zu of '%.*s' has %zu numbers, but 'x' has %zu points", row + 1,
               SLICE_ARG(value->name), list->count, width);
  struct field_vector aside = vector_new(r, list->count, NULL);
  field_read_numbers(r, &value->wanted, list, 0, &aside);
}

/* `width` is the number of columns, 0 when x was refused. */
static struct field_vector read_rows(struct field_reader *r, const struct part *value, size_t width)
{
  struct field_vector cells = vector_new(r, value->list->count * width, value->declared);
  for (size_t row = 0; row < value->list->count; row++)
    read_row(r, value, row, width, &cells);
  if (cells.unit == NULL)
    cells.unit = value->wanted.unit;
  return cells;
}

bool grid_read_table(struct field_reader *r, const struct entry *entry, const struct node *node, struct table *out)
{
  static const char *const keys[] = {"x", "y", "value", NULL};
  if (!field_is(r, entry->name, node, NODE_MAP, "a table ('x', 'y' and 'value')"))
    return false;
  bool refused = r->refused;
  r->refused = false;
  check_keys(r, node, entry->name, keys);
  struct part x = part_open(r, entry, node, "x", entry->x_unit, axis_keys);
  struct part y = part_open(r, entry, node, "y", entry->y_unit, axis_keys);
  struct part value = part_open(r, entry, node, "value", entry->unit, rows_keys);
  struct field_vector columns = {0}, lines = {0}, cells = {0};
  part_read(r, &x, &columns);
  part_read(r, &y, &lines);
  if (value.list != NULL)
    cells = read_rows(r, &value, columns.count);
  if (value.list != NULL && y.list != NULL && value.list->count != lines.count)
    field_refuse(r, value.list->place, "'%.*s' has %zu rows, but 'y' has %zu points", SLICE_ARG(value.name),
                 value.list->count, lines.count);
  bool good = !r->refused;
  r->refused = r->refused || refused;
  if (good)
    *out = (struct table){axis_of(&columns), axis_of(&lines), cells.at, cells.place, cells.unit};
  return good;
}
