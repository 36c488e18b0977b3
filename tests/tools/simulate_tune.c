/* The settings of the example car as data. The three large tables come from short formulas, rounded as a person types
 * them; what was wrong with the car as it came in is put on top by spoil() at the end, and nowhere else. Reading order:
 * lookups, tables, curves, spoil, tune_make. */
#include "simulate.h"

#include <math.h>
#include <string.h>

static const double SPEED_AXIS[16] = {500,  800,  1000, 1300, 1600, 2000, 2500, 3000,
                                      3500, 4000, 4500, 5000, 5600, 6200, 6800, 7200};
static const double PRESSURE_AXIS[16] = {20, 30, 40, 50, 60, 70, 80, 90, 100, 115, 130, 145, 160, 175, 190, 210};

/* Where x lies: between points `*low` and `*low` + 1, at the returned share of the way. The ends hold. A repeated
 * point, which the car as it came has in one curve, is stepped over. */
static double axis_share(const double *axis, int count, double x, int *low)
{
  *low = 0;
  if (x <= axis[0])
    return 0;
  for (int i = 0; i + 1 < count; i++)
    if (x < axis[i + 1]) {
      *low = i;
      return (x - axis[i]) / (axis[i + 1] - axis[i]);
    }
  *low = count - 2;
  return 1;
}

double curve_at(const struct curve *curve, double x)
{
  int low;
  double share = axis_share(curve->x, curve->count, x, &low);
  return curve->value[low] + share * (curve->value[low + 1] - curve->value[low]);
}

double table_at(const struct table *table, double x, double y)
{
  int column, row;
  double across = axis_share(table->x, table->columns, x, &column);
  double up = axis_share(table->y, table->rows, y, &row);
  const double *below = table->value[row], *above = table->value[row + 1];
  double at_below = below[column] + across * (below[column + 1] - below[column]);
  double at_above = above[column] + across * (above[column + 1] - above[column]);
  return at_below + up * (at_above - at_below);
}

static double rounded(double value, double step)
{
  return floor(value / step + 0.5) * step;
}

static struct table speed_and_pressure(const char *unit, int decimals)
{
  struct table table = {
      .x_unit = "rpm", .y_unit = "kPa", .unit = unit, .decimals = decimals, .columns = 16, .rows = 16};
  memcpy(table.x, SPEED_AXIS, sizeof table.x);
  memcpy(table.y, PRESSURE_AXIS, sizeof table.y);
  return table;
}

/* Filling, referred to manifold density, rises with pressure as the residual gas is pushed back: p / (p + c) in shape.
 * Along speed one broad hump of the cams. */
static struct table efficiency_table(double scale)
{
  static const double HUMP[16] = {80, 84, 86.5, 90, 93, 96.5, 101, 106, 111, 115, 118, 118.5, 116.5, 112, 106.5, 102};
  struct table table = speed_and_pressure("\"%\"", 1);
  for (int row = 0; row < 16; row++)
    for (int column = 0; column < 16; column++)
      table.value[row][column] = rounded(scale * HUMP[column] * (1 - 40 / (table.y[row] + 60)), 0.5);
  return table;
}

/* Near 1 where a catalyst would like it, 0.89 at atmospheric full load, richer with boost to keep the exhaust cool. */
static struct table lambda_table(void)
{
  static const double LOAD[16] = {1.00, 1.00, 1.00, 1.00,  0.99, 0.97, 0.94,  0.915,
                                  0.89, 0.87, 0.85, 0.835, 0.82, 0.81, 0.805, 0.80};
  struct table table = speed_and_pressure("lambda", 3);
  for (int row = 0; row < 16; row++)
    for (int column = 0; column < 16; column++) {
      double value = LOAD[row];
      if (table.x[column] <= 1300 && table.y[row] <= 60) /* idle: steadier a little rich with these cams */
        value -= 0.02;
      if (table.x[column] >= 6000 && table.y[row] >= 130)
        value -= 0.01;
      table.value[row][column] = rounded(value, 0.005);
    }
  return table;
}

/* Most advance at light load and speed; it falls slowly to atmospheric pressure and by 0.8 to 1.3 deg for each 10 kPa
 * of boost beyond. */
static struct table spark_table(void)
{
  static const double LIGHT[16] = {12, 13.5, 15, 18, 21, 24.5, 28, 31, 33, 34, 34.5, 35, 35.5, 35.5, 35.5, 35.5};
  static const double SHARE[9] = {0.12, 0.05, 0, 0, 0.08, 0.22, 0.42, 0.68, 1}; /* of the fall up to 100 kPa */
  struct table table = speed_and_pressure("deg", 1);
  for (int row = 0; row < 16; row++)
    for (int column = 0; column < 16; column++) {
      double fall = 0.38 * (LIGHT[column] - 5) * SHARE[row < 8 ? row : 8];
      double boost = table.y[row] > 100 ? (table.y[row] - 100) / 10 : 0;
      double slope = 0.8 + 0.5 * (table.x[column] - 500) / 6700;
      table.value[row][column] = rounded(LIGHT[column] - fall - slope * boost, 0.5);
    }
  return table;
}

static void make_fuel(struct tune *tune)
{
  tune->dead_time = (struct curve){"V",
                                   "ms",
                                   2,
                                   10,
                                   {7, 8, 9, 10, 11, 12, 13, 14, 15, 16},
                                   {3.40, 2.70, 2.20, 1.82, 1.54, 1.30, 1.12, 0.96, 0.84, 0.74}};
  tune->prime_pulse =
      (struct curve){"degC", "ms", 1, 8, {-20, -10, 0, 10, 20, 40, 60, 80}, {22, 19, 16, 13.5, 11.5, 8.5, 6.5, 5}};
  tune->cranking_fuel = (struct curve){
      "degC", "\"%\"", 0, 9, {-20, -10, 0, 10, 20, 40, 60, 80, 95}, {430, 370, 315, 270, 232, 180, 146, 122, 115}};
  tune->after_start =
      (struct curve){"degC", "\"%\"", 0, 9, {-20, -10, 0, 10, 20, 40, 60, 80, 95}, {42, 37, 32, 27, 23, 16, 11, 8, 6}};
  tune->after_start_duration =
      (struct curve){"degC", "s", 0, 9, {-20, -10, 0, 10, 20, 40, 60, 80, 95}, {45, 40, 34, 29, 24, 18, 13, 10, 8}};
  tune->warm_up = (struct curve){"degC",
                                 "\"%\"",
                                 0,
                                 12,
                                 {-20, -10, 0, 10, 20, 30, 40, 50, 60, 70, 75, 90},
                                 {168, 154, 142, 131, 122, 115, 110, 106, 103, 101, 100, 100}};
  tune->fuel_air = (struct curve){"degC",
                                  "\"%\"",
                                  1,
                                  9,
                                  {-20, 0, 10, 20, 30, 40, 60, 80, 100},
                                  {115.8, 107.3, 103.5, 100, 96.7, 93.6, 88, 83, 78.6}};
  tune->barometric = (struct curve){
      "kPa", "\"%\"", 1, 8, {70, 75, 80, 85, 90, 95, 100, 105}, {103, 102.5, 102, 101.5, 101, 100.5, 100, 99.5}};
  tune->acceleration =
      (struct curve){"\"%/s\"", "\"%\"", 0, 8, {60, 100, 150, 200, 300, 450, 600, 800}, {4, 8, 13, 18, 26, 35, 42, 48}};
  tune->ethanol_fuel = (struct curve){"\"%\"",
                                      "\"%\"",
                                      1,
                                      9,
                                      {0, 10, 20, 30, 40, 50, 70, 85, 100},
                                      {100, 103.6, 107.5, 111.6, 116.1, 121, 132.1, 141.8, 153.1}};
  tune->ethanol_spark =
      (struct curve){"\"%\"", "deg", 1, 9, {0, 10, 20, 30, 40, 50, 70, 85, 100}, {0, 0, 0, 0, 0, 0, 0, 0, 0}};
}

static void make_spark(struct tune *tune)
{
  tune->fixed_advance = 10;
  tune->spark_coolant = (struct curve){
      "degC", "deg", 1, 10, {-20, 0, 20, 40, 60, 80, 95, 100, 105, 115}, {4, 3, 2, 1, 0, 0, 0, 0, -2, -5}};
  tune->spark_air = (struct curve){
      "degC", "deg", 1, 9, {-20, 0, 20, 40, 50, 60, 70, 85, 100}, {0, 0, 0, 0, -1.5, -3, -4.5, -7, -9.5}};
  tune->spark_idle = (struct curve){
      "rpm", "deg", 1, 9, {-300, -200, -100, -50, 0, 50, 100, 200, 300}, {-6, -4.5, -2.5, -1.2, 0, 1.2, 2.5, 4.5, 6}};
  tune->dwell = (struct curve){"V",
                               "ms",
                               2,
                               10,
                               {7.5, 8, 9, 10, 11, 12, 13, 14, 15, 16},
                               {5.90, 5.50, 4.80, 4.25, 3.80, 3.45, 3.15, 2.90, 2.65, 2.45}};
}

static void make_idle(struct tune *tune)
{
  tune->closed_loop_idle = true;
  tune->opens_with_duty = false;
  tune->valve_duty = (struct curve){
      "degC", "\"%\"", 1, 10, {-20, -10, 0, 10, 20, 40, 60, 80, 90, 100}, {22, 26, 30, 34, 38.5, 47, 54, 59, 60, 60.5}};
  tune->valve_cranking =
      (struct curve){"degC", "\"%\"", 1, 8, {-20, -10, 0, 10, 20, 40, 60, 80}, {17, 20, 23, 26, 30, 38, 45, 50}};
  tune->idle_target = (struct curve){
      "degC", "rpm", 0, 9, {-20, -10, 0, 10, 20, 40, 60, 75, 90}, {1350, 1320, 1280, 1240, 1190, 1100, 1020, 950, 950}};
}

static void make_sensors(struct tune *tune)
{
  /* The common automotive thermistor, 2.5 kOhm at 20 degC. */
  tune->coolant_sensor =
      (struct curve){"Ohm",
                     "degC",
                     0,
                     12,
                     {83.1, 135.2, 175.7, 231.2, 308.6, 418.1, 575.8, 1152, 2502, 5975, 15971, 48805},
                     {130, 110, 100, 90, 80, 70, 60, 40, 20, 0, -20, -40}};
  tune->lambda_sensor = (struct curve){
      "V", "lambda", 2, 8, {0, 0.5, 1, 1.5, 2, 3, 4, 5}, {0.60, 0.69, 0.78, 0.87, 0.96, 1.14, 1.32, 1.50}};
  tune->oil_minimum = (struct curve){"rpm",
                                     "kPa",
                                     0,
                                     9,
                                     {800, 1500, 2000, 2500, 3000, 4000, 5000, 6000, 7000},
                                     {60, 90, 120, 150, 180, 230, 270, 300, 320}};
}

static void make_boost(struct tune *tune)
{
  static const double ROWS[5][8] = {{100, 100, 100, 100, 100, 100, 100, 100},
                                    {105, 110, 115, 118, 118, 118, 116, 114},
                                    {112, 122, 132, 138, 140, 140, 136, 132},
                                    {118, 134, 150, 160, 164, 164, 160, 154},
                                    {120, 140, 160, 174, 180, 180, 176, 170}};
  tune->boost = (struct table){.x_unit = "rpm",
                               .y_unit = "\"%\"",
                               .unit = "kPa",
                               .decimals = 0,
                               .columns = 8,
                               .rows = 5,
                               .x = {1500, 2000, 2500, 3000, 4000, 5000, 6000, 7000},
                               .y = {20, 40, 60, 80, 100}};
  for (int row = 0; row < 5; row++)
    memcpy(tune->boost.value[row], ROWS[row], sizeof ROWS[row]);
}

/* The faults as the car came in that lie in numbers the engine feels. The others (pins, names) are in the settings
 * printer. */
static void spoil(struct tune *tune)
{
  /* The whole warm-up curve sits 8 % high, and the fuel table was then mapped 8 % low on the warm engine. */
  static const double WARM[12] = {181, 166, 153, 141, 132, 124, 119, 115, 111, 109, 108, 108};
  static const double WARM_AXIS[12] = {-20, -10, 0, 10, 20, 30, 40, 50, 60, 70, 80, 90};
  memcpy(tune->warm_up.x, WARM_AXIS, sizeof WARM_AXIS);
  memcpy(tune->warm_up.value, WARM, sizeof WARM);
  tune->efficiency = efficiency_table(1 / 1.08);

  /* Three cells at 160 kPa raised over the row below, and three at 190 kPa that copy the row below. */
  for (int column = 7; column <= 9; column++)
    tune->spark.value[12][column] += 2.5;
  for (int column = 11; column <= 13; column++)
    tune->spark.value[14][column] = tune->spark.value[13][column];

  /* 40 degC twice. */
  static const double DURATION_AXIS[9] = {-20, -10, 0, 10, 20, 40, 40, 80, 95};
  memcpy(tune->after_start_duration.x, DURATION_AXIS, sizeof DURATION_AXIS);

  /* Believed to open with duty; closed-loop idle ran away and was switched off, the curve found by trial. */
  tune->closed_loop_idle = false;
  tune->opens_with_duty = true;
  tune->valve_duty = (struct curve){
      "degC", "\"%\"", 1, 10, {-20, -10, 0, 10, 20, 40, 60, 80, 90, 100}, {66, 65, 64, 63, 62, 60.5, 59, 57, 56, 55}};
  tune->valve_cranking =
      (struct curve){"degC", "\"%\"", 1, 8, {-20, -10, 0, 10, 20, 40, 60, 80}, {70, 68, 66, 64, 63, 62, 60, 59}};
}

struct tune tune_make(enum variant variant)
{
  struct tune tune = {.variant = variant};
  tune.efficiency = efficiency_table(1);
  tune.lambda = lambda_table();
  tune.spark = spark_table();
  make_fuel(&tune);
  make_spark(&tune);
  make_idle(&tune);
  make_sensors(&tune);
  make_boost(&tune);
  if (variant == AS_IT_CAME)
    spoil(&tune);
  return tune;
}
