/* What is asked of all items of a collection at once: a field of them as a series, and the largest rectangle of cells
 * of a table that meet a condition. Reading order: run_column, then builtin_region. */
#include "expr/builtin.h"
#include "expr/run.h"

#include <math.h>

struct result run_column(struct evaluation *evaluation, const struct expr *expr, const struct collection *collection)
{
  size_t count = collection->count;
  bool conditions = expr->type.kind == TYPE_SWITCH;
  double *at = conditions ? NULL : ARENA_ARRAY(evaluation->arena, count + 1, double);
  uint8_t *on = conditions ? ARENA_ARRAY(evaluation->arena, count + 1, uint8_t) : NULL;
  uint8_t *known = ARENA_ARRAY(evaluation->arena, count + 1, uint8_t);
  struct result result = {.known = true};
  for (size_t i = 0; i < count; i++) {
    const struct result *field = &collection->items[i].fields[expr->field];
    known[i] = field->known;
    if (!field->known)
      continue;
    if (conditions)
      on[i] = field->on;
    else
      at[i] = field->number;
    result.unit = result.unit ? result.unit : field->unit;
    result.largest = fmax(result.largest, fabs(field->number));
    result.error = fmax(result.error, field->error);
  }
  result.series = (struct vector){.count = count, .at = at, .on = on, .known = known};
  return result;
}

struct grid { /* cells by rows of the table, 1 where the condition holds */
  size_t columns, rows;
  const struct vector *on;
};

struct rectangle { /* its corners, and how many cells it has */
  size_t left, right, low, high, cells;
};

/* The widest rectangle whose upper edge is this row and whose left edge is this column; `run` tells for how many rows
 * downwards from here each column meets the condition. */
static void widen(struct rectangle *best, const size_t *run, size_t columns, size_t row, size_t left)
{
  size_t height = run[left];
  for (size_t right = left; right < columns && run[right] > 0; right++) {
    height = run[right] < height ? run[right] : height;
    size_t cells = height * (right - left + 1);
    if (cells >= best->cells)
      *best = (struct rectangle){left, right, row + 1 - height, row, cells};
  }
}

static struct rectangle largest(struct evaluation *evaluation, const struct grid *grid)
{
  struct rectangle best = {0};
  size_t *run = ARENA_ARRAY(evaluation->arena, grid->columns + 1, size_t);
  for (size_t row = 0; row < grid->rows; row++) {
    for (size_t column = 0; column < grid->columns; column++) {
      size_t at = row * grid->columns + column;
      run[column] = run_known_at(grid->on, at) && grid->on->on[at] ? run[column] + 1 : 0;
    }
    for (size_t left = 0; left < grid->columns; left++)
      widen(&best, run, grid->columns, row, left);
  }
  return best;
}

static const char *along(struct evaluation *evaluation, const struct axis *axis, size_t from, size_t to)
{
  struct quantity first = {axis->at[from], axis->unit}, last = {axis->at[to], axis->unit};
  return from == to ? quantity_print(evaluation->arena, first, NULL, 0)
                    : quantity_print_range(evaluation->arena, first, last);
}

/* The condition runs over the cells of one table, by its rows: check_region sees to that. */
struct result builtin_region(struct evaluation *evaluation, const struct expr *call)
{
  const struct expr *cells = call->args[0];
  struct result args[3] = {evaluate(evaluation, cells->args[0]), evaluate(evaluation, cells),
                           evaluate(evaluation, call->args[1])};
  if (!args[1].known || !args[2].known)
    return run_unknown_of(evaluation, args, 3);
  const struct table *table = &args[0].value->as.table;
  struct grid grid = {table->x.count, table->y.count, &args[2].series};
  struct rectangle found = largest(evaluation, &grid);
  if (found.cells == 0)
    return run_unknown(evaluation, "a cell that meets the condition");
  return run_text(
      slice_of(arena_print(evaluation->arena, "%s, %s", along(evaluation, &table->x, found.left, found.right),
                           along(evaluation, &table->y, found.low, found.high))));
}
