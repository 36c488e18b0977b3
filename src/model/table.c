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

bool curve_at(const struct curve *curve, double x, double *out)
{
  struct spot spot;
  if (!axis_spot(&curve->x, x, &spot))
    return false;
  *out = between(curve->value[spot.below], curve->value[spot.above], spot.share);
  return isfinite(*out);
}

bool table_at(const struct table *table, double x, double y, double *out)
{
  struct spot column, row;
  if (!axis_spot(&table->x, x, &column) || !axis_spot(&table->y, y, &row))
    return false;
  const double *below = table->value + row.below * table->x.count;
  const double *above = table->value + row.above * table->x.count;
  *out = between(between(below[column.below], below[column.above], column.share),
                 between(above[column.below], above[column.above], column.share), row.share);
  return isfinite(*out);
}
