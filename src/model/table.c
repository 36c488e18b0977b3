/* Curves and tables as functions: linear between points, the edge value held outside, as the controllers that use them
 * do. Only a strictly increasing axis makes a function; others are refused here and left to the rules to report. */
#include "model/value.h"

#include <math.h>

bool axis_is_increasing(const double *at, size_t count)
{
  for (size_t i = 1; i < count; i++) {
    if (!(at[i - 1] < at[i]))
      return false;
  }
  return count > 0;
}

/* Bisection: the last point that is not above x. */
bool axis_spot(const struct axis *axis, double x, struct spot *out)
{
  if (!axis->increasing || axis->count == 0 || isnan(x))
    return false;
  size_t last = axis->count - 1;
  if (x <= axis->at[0] || x >= axis->at[last]) {
    size_t edge = x <= axis->at[0] ? 0 : last;
    *out = (struct spot){edge, edge, 0.0};
    return true;
  }
  size_t low = 0, high = last;
  while (high - low > 1) {
    size_t middle = low + (high - low) / 2;
    if (axis->at[middle] <= x)
      low = middle;
    else
      high = middle;
  }
  *out = (struct spot){low, high, (x - axis->at[low]) / (axis->at[high] - axis->at[low])};
  return true;
}

/* Exact at share 0 and where both ends are equal, and in order as the share grows. */
static double between(double a, double b, double share)
{
  return a + (b - a) * share;
}

static double curve_in(const struct curve *curve, const struct spot *spot)
{
  return between(curve->value[spot->below], curve->value[spot->above], spot->share);
}

static double table_in(const struct table *table, const struct spot *column, const struct spot *row)
{
  const double *below = table->value + row->below * table->x.count;
  const double *above = table->value + row->above * table->x.count;
  return between(between(below[column->below], below[column->above], column->share),
                 between(above[column->below], above[column->above], column->share), row->share);
}

bool curve_at(const struct curve *curve, double x, double *out)
{
  struct spot spot;
  if (!axis_spot(&curve->x, x, &spot))
    return false;
  *out = curve_in(curve, &spot);
  return isfinite(*out);
}

bool table_at(const struct table *table, double x, double y, double *out)
{
  struct spot column, row;
  if (!axis_spot(&table->x, x, &column) || !axis_spot(&table->y, y, &row))
    return false;
  *out = table_in(table, &column, &row);
  return isfinite(*out);
}

bool axis_spot_after(const struct axis *axis, double x, struct spot *spot)
{
  double below = axis->at[spot->below], above = axis->at[spot->above];
  if (!(below <= x && x < above))
    return axis_spot(axis, x, spot);
  spot->share = (x - below) / (above - below);
  return true;
}

void curve_rows(const struct curve *curve, const double *x, size_t count, double *out, uint8_t *known)
{
  struct spot spot = {0};
  for (size_t i = 0; i < count; i++) {
    known[i] = axis_spot_after(&curve->x, x[i], &spot);
    double value = known[i] ? curve_in(curve, &spot) : 0;
    known[i] &= isfinite(value) != 0;
    out[i] = known[i] ? value : 0;
  }
}

void table_rows(const struct table *table, const double *x, const double *y, size_t count, double *out, uint8_t *known)
{
  struct spot column = {0}, row = {0};
  for (size_t i = 0; i < count; i++) {
    known[i] = axis_spot_after(&table->x, x[i], &column) && axis_spot_after(&table->y, y[i], &row);
    double value = known[i] ? table_in(table, &column, &row) : 0;
    known[i] &= isfinite(value) != 0;
    out[i] = known[i] ? value : 0;
  }
}
