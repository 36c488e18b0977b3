/* Curves and tables put together from records. Reading order: adapter_curve_value, adapter_table_value; read_axis; then
 * where each cell goes (cells_in_order, cells_at). The values decide whether the setting is there: axes may be shared
 * with another table. */
#include "read/adapter_parts.h"

#include "base/limits.h"
#include "base/number.h"

#include <math.h>

/* Numbers of an axis or of the values, and where they stand. */
struct part {
  struct field_vector numbers;
  struct adapter_items items;
  struct place first; /* of the first record */
};

static void swap(struct field_vector *numbers, size_t a, size_t b)
{
  double number = numbers->at[a];
  struct place place = numbers->place[a];
  numbers->at[a] = numbers->at[b];
  numbers->place[a] = numbers->place[b];
  numbers->at[b] = number;
  numbers->place[b] = place;
}

static void reverse(struct field_vector *numbers)
{
  for (size_t i = 0; i + 1 < numbers->count - i; i++)
    swap(numbers, i, numbers->count - 1 - i);
}

/* Where every cell repeats its breakpoints: each number once, in the order of its first appearance. */
static void keep_once(struct field_vector *numbers)
{
  size_t kept = 0;
  for (size_t i = 0; i < numbers->count && kept <= LIMIT_AXIS; i++) {
    bool seen = false;
    for (size_t k = 0; k < kept && !seen; k++)
      seen = numbers->at[k] == numbers->at[i];
    if (seen)
      continue;
    numbers->at[kept] = numbers->at[i];
    numbers->place[kept++] = numbers->place[i];
  }
  numbers->count = kept;
}

static bool read_part(struct adapter_run *run, const struct adapter_spec *spec, struct place beside, struct part *out)
{
  struct adapter_hits hits;
  *out = (struct part){.first = beside};
  if (spec->fixed != NULL) {
    out->numbers = *spec->fixed;
    return true;
  }
  if (!adapter_find(run, spec, &hits))
    return false;
  if (hits.count == 0)
    return adapter_refuse(run, spec, beside, "nothing in the export matches");
  out->first = run->records.items[hits.items[0]].place;
  return adapter_numbers_of(run, spec, &hits, &out->numbers, &out->items);
}

static bool read_axis(struct adapter_run *run, const struct adapter_spec *spec, struct place beside, struct axis *out)
{
  struct part part;
  if (!read_part(run, spec, beside, &part))
    return false;
  struct field_vector *numbers = &part.numbers;
  if (spec->once)
    keep_once(numbers);
  if (numbers->count == 0 || numbers->count > LIMIT_AXIS)
    return adapter_refuse(run, spec, part.first, "%zu breakpoints; 1 to %d are accepted", numbers->count, LIMIT_AXIS);
  if (spec->flip_x)
    reverse(numbers);
  *out = (struct axis){numbers->count, numbers->at, numbers->place, numbers->unit,
                       axis_is_increasing(numbers->at, numbers->count)};
  return true;
}

/* The values' records; false when there are none, or when refused. */
static bool read_values(struct adapter_run *run, const struct adapter_spec *spec, struct part *out)
{
  struct adapter_hits hits;
  if (!adapter_find(run, spec, &hits))
    return false;
  if (hits.count == 0) {
    if (spec->needed)
      adapter_refuse(run, spec, adapter_top(run), "nothing in the export matches, and the adapter needs it");
    return false;
  }
  out->first = run->records.items[hits.items[0]].place;
  return adapter_numbers_of(run, spec, &hits, &out->numbers, &out->items);
}

/* Where the values are not good, the axes are looked at all the same, so that a person sees all problems at once. */
static bool has_values(struct adapter_run *run, const struct adapter_spec *spec, struct part *values)
{
  bool refused = run->refused;
  run->refused = false;
  bool good = read_values(run, spec, values);
  bool missing = !good && !run->refused;
  run->refused = run->refused || refused;
  if (!good && !missing)
    values->numbers.count = 0;
  return !missing;
}

const struct value *adapter_curve_value(struct adapter_run *run, const struct adapter_entry *entry)
{
  struct value *value = ARENA_NEW(run->arena, struct value);
  struct part values = {.first = adapter_top(run)};
  struct axis x = {0};
  if (!has_values(run, &entry->value, &values))
    return NULL;
  struct field_vector *numbers = &values.numbers;
  if (!read_axis(run, &entry->x, values.first, &x) || numbers->count == 0)
    return NULL;
  if (numbers->count != x.count) {
    adapter_refuse(run, &entry->value, values.first, "%zu values, but %zu breakpoints", numbers->count, x.count);
    return NULL;
  }
  if (entry->value.flip_x)
    reverse(numbers);
  value->kind = VALUE_CURVE;
  value->place = values.first;
  value->as.curve = (struct curve){x, numbers->at, numbers->place, numbers->unit};
  return value;
}

/* A whole number in a group of the match; -1 when refused. */
static long index_in(struct adapter_run *run, const struct adapter_spec *spec, size_t record, size_t group)
{
  const struct record_line *line = &run->records.items[record];
  struct slice text = adapter_group_of(spec, line, group);
  double number = 0;
  if (text.size > 0 && number_read(text, '.', &number) == text.size && number >= 0 && number <= 1e6 &&
      number == floor(number))
    return (long)number;
  adapter_refuse(run, spec, line->place, "'%.*s' in its path is no number of a row or column", SLICE_ARG(text));
  return -1;
}

/* The lowest number of a row or column; -1 when one was refused. */
static long lowest(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_items *items,
                   size_t group)
{
  long least = -1;
  for (size_t i = 0; i < items->count; i++) {
    long index = index_in(run, spec, items->items[i].record, group);
    if (index < 0)
      return -1;
    least = least < 0 || index < least ? index : least;
  }
  return least;
}

/* Each record says by itself which cell it is. `to` gets one position a number. */
static bool cells_at(struct adapter_run *run, const struct adapter_spec *spec, const struct part *values,
                     const struct table *table, size_t *to)
{
  size_t width = table->x.count, height = table->y.count;
  long row = lowest(run, spec, &values->items, spec->row_group);
  long column = row < 0 ? -1 : lowest(run, spec, &values->items, spec->column_group);
  size_t *taken = arena_array(run->scratch, width * height, sizeof *taken);
  if (column < 0)
    return false;
  for (size_t i = 0; i < values->items.count; i++) {
    const struct adapter_item *item = &values->items.items[i];
    size_t r = (size_t)(index_in(run, spec, item->record, spec->row_group) - row);
    size_t c = (size_t)(index_in(run, spec, item->record, spec->column_group) - column);
    if (r >= height || c >= width)
      return adapter_refuse(run, spec, item->place, "row %zu, column %zu of a table of %zu rows and %zu columns", r + 1,
                            c + 1, height, width);
    to[i] = r * width + c;
    if (taken[to[i]]++ > 0)
      return adapter_refuse(run, spec, item->place, "row %zu, column %zu was there before", r + 1, c + 1);
  }
  return true;
}

static void cells_in_order(const struct adapter_spec *spec, const struct table *table, size_t *to)
{
  size_t width = table->x.count, height = table->y.count;
  for (size_t i = 0; i < width * height; i++)
    to[i] = spec->by_columns ? i % height * width + i / height : i;
}

/* The values into the table, row by row in the order of the axes. */
static bool place_cells(struct adapter_run *run, const struct adapter_spec *spec, const struct part *values,
                        struct table *table)
{
  size_t width = table->x.count, height = table->y.count, count = width * height;
  double *at = ARENA_ARRAY(run->arena, count, double);
  struct place *places = ARENA_ARRAY(run->arena, count, struct place);
  size_t *to = ARENA_ARRAY(run->scratch, count, size_t);
  if (spec->row_group > 0 && !cells_at(run, spec, values, table, to))
    return false;
  if (spec->row_group == 0)
    cells_in_order(spec, table, to);
  for (size_t i = 0; i < count; i++) {
    size_t row = to[i] / width, column = to[i] % width;
    row = spec->flip_y ? height - 1 - row : row;
    column = spec->flip_x ? width - 1 - column : column;
    at[row * width + column] = values->numbers.at[i];
    places[row * width + column] = values->numbers.place[i];
  }
  table->value = at;
  table->place = places;
  table->unit = values->numbers.unit;
  return true;
}

const struct value *adapter_table_value(struct adapter_run *run, const struct adapter_entry *entry)
{
  struct value *value = ARENA_NEW(run->arena, struct value);
  struct part values = {.first = adapter_top(run)};
  struct table *table = &value->as.table;
  if (!has_values(run, &entry->value, &values))
    return NULL;
  bool x = read_axis(run, &entry->x, values.first, &table->x), y = read_axis(run, &entry->y, values.first, &table->y);
  if (!x || !y || values.numbers.count == 0)
    return NULL;
  value->kind = VALUE_TABLE;
  value->place = values.first;
  if (values.numbers.count != table->x.count * table->y.count) {
    adapter_refuse(run, &entry->value, values.first, "%zu values, but x has %zu breakpoints and y %zu: %zu cells",
                   values.numbers.count, table->x.count, table->y.count, table->x.count * table->y.count);
    return NULL;
  }
  return place_cells(run, &entry->value, &values, table) ? value : NULL;
}
