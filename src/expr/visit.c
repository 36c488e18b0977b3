/* For how long a log was in each cell of a table: a row between four points stands for its time at each of them, by the
 * weights with which the table is looked up there; outside the axes it is held at the edge. Reading order: run_visited,
 * visits_take. */
#include "expr/sweep.h"

bool run_visited(struct evaluation *evaluation, const struct expr *call, struct gather *gather)
{
  struct result arg = evaluate(evaluation, call->args[0]);
  const struct table *table = arg.known ? &arg.value->as.table : NULL;
  gather->visits.table = table;
  if (table && table->x.increasing && table->y.increasing)
    return true;
  const struct name *name = expr_first_name(call);
  if (table)
    arg =
        run_unknown(evaluation, arena_print(evaluation->arena, "%.*s with axes that increase", SLICE_ARG(name->full)));
  gather->result = arg;
  return false;
}

void visits_init(struct visits *visits, struct arena *arena)
{
  const struct table *table = visits->table;
  visits->time = table ? ARENA_ARRAY(arena, table->x.count * table->y.count, uint64_t) : NULL;
}

/* A log may be so long, in its own words, that 2^64 units are too few. */
static void add(uint64_t *time, uint64_t units)
{
  *time = UINT64_MAX - *time < units ? UINT64_MAX : *time + units;
}

static uint64_t units_of(double seconds)
{
  double units = seconds * VISIT_UNITS;
  return units < 0x1p63 ? (uint64_t)(units + 0.5) : UINT64_MAX / 2;
}

static uint64_t part_of(uint64_t units, double share)
{
  uint64_t part = (uint64_t)((double)units * share + 0.5);
  return part < units ? part : units;
}

/* Nothing of the time is lost: the rest of a share goes to the other side. */
static void visit(struct visits *visits, const struct spot *column, const struct spot *row, uint64_t units)
{
  uint64_t *below = visits->time + row->below * visits->table->x.count;
  uint64_t *above = visits->time + row->above * visits->table->x.count;
  uint64_t right = part_of(units, column->share), left = units - right;
  uint64_t right_above = part_of(right, row->share), left_above = part_of(left, row->share);
  add(&below[column->below], left - left_above);
  add(&below[column->above], right - right_above);
  add(&above[column->below], left_above);
  add(&above[column->above], right_above);
}

void visits_take(struct visits *visits, const struct stretch *stretch)
{
  const struct vector *x = stretch->series, *y = stretch->other;
  const struct timebase *time = stretch->time;
  if (x->none || y->none)
    return;
  for (size_t i = 0; i < x->count; i++) {
    struct spot column, row;
    if (!run_known_at(x, i) || !run_known_at(y, i) || run_end(time, i) <= i + 1)
      continue;
    if (axis_spot(&visits->table->x, x->at[i], &column) && axis_spot(&visits->table->y, y->at[i], &row))
      visit(visits, &column, &row, units_of(time->at[i + 1] - time->at[i]));
  }
}

void visits_join(struct visits *visits, const struct visits *next)
{
  for (size_t i = 0; visits->table && i < visits->table->x.count * visits->table->y.count; i++)
    add(&visits->time[i], next->time[i]);
}
