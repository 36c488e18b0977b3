/* For how long a log was in each cell of a table: a row between four points stands for its time at each of them, by the
 * weights with which the table is looked up there; outside the axes it is held at the edge. And what a series was there
 * on average, by the same weights. Reading order: run_visited, visits_take. */
#include "expr/sweep.h"

#include <math.h>

bool run_visited(struct evaluation *evaluation, const struct expr *call, struct gather *gather)
{
  struct result arg = evaluate(evaluation, call->args[0]);
  const struct table *table = arg.known ? &arg.value->as.table : NULL;
  gather->visits.table = table;
  gather->visits.averages = call->count > 3;
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
  size_t cells = visits->table ? visits->table->x.count * visits->table->y.count : 0;
  visits->arena = arena;
  visits->time = ARENA_ARRAY(arena, cells, uint64_t);
  visits->sums = visits->averages ? ARENA_ARRAY(arena, cells, struct exact *) : NULL;
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

static struct exact *sum_at(struct visits *visits, size_t cell)
{
  if (!visits->sums[cell])
    visits->sums[cell] = ARENA_NEW(visits->arena, struct exact);
  return visits->sums[cell];
}

static void visit_cell(struct visits *visits, size_t row, size_t column, uint64_t units, const double *sample)
{
  size_t cell = row * visits->table->x.count + column;
  if (units == 0)
    return;
  add(&visits->time[cell], units);
  if (sample && *sample != 0)
    exact_add_product(sum_at(visits, cell), *sample, (double)units);
}

/* Nothing of the time is lost: the rest of a share goes to the other side. */
static void visit(struct visits *visits, const struct spot *column, const struct spot *row, uint64_t units,
                  const double *sample)
{
  uint64_t right = part_of(units, column->share), left = units - right;
  uint64_t right_above = part_of(right, row->share), left_above = part_of(left, row->share);
  visit_cell(visits, row->below, column->below, left - left_above, sample);
  visit_cell(visits, row->below, column->above, right - right_above, sample);
  visit_cell(visits, row->above, column->below, left_above, sample);
  visit_cell(visits, row->above, column->above, right_above, sample);
}

void visits_take(struct visits *visits, const struct stretch *stretch)
{
  const struct vector *x = stretch->series, *y = stretch->other, *s = stretch->third;
  const struct timebase *time = stretch->time;
  if (x->none || y->none || (s && s->none))
    return;
  struct spot column = {0}, row = {0};
  for (size_t i = 0; i < x->count; i++) {
    if (!run_known_at(x, i) || !run_known_at(y, i) || (s && !run_known_at(s, i)) || run_end(time, i) <= i + 1)
      continue;
    if (!axis_spot_after(&visits->table->x, x->at[i], &column) || !axis_spot_after(&visits->table->y, y->at[i], &row))
      continue;
    visit(visits, &column, &row, units_of(time->at[i + 1] - time->at[i]), s ? &s->at[i] : NULL);
    visits->error = s && s->error ? fmax(visits->error, s->error[i]) : visits->error;
  }
}

void visits_join(struct visits *visits, const struct visits *next)
{
  visits->error = fmax(visits->error, next->error);
  for (size_t i = 0; visits->table && i < visits->table->x.count * visits->table->y.count; i++) {
    add(&visits->time[i], next->time[i]);
    if (next->sums && next->sums[i])
      exact_merge(sum_at(visits, i), next->sums[i]);
  }
}
