/* A short drive in a sound car: key on, start, idle, cruise, two pulls with overrun after each, idle; then a rolling
 * road, where the speed goes up and down with the throttle held at one opening after the other. Keyframes say what the
 * driver and the engine do; what the controller would log follows from the car's own tables. */
#include "faults.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { RATE_HZ = 20, SECONDS_LONG = 193, ROLLERS_FROM = 120 };

struct moment {
  double time, speed, throttle, pressure, full; /* full: 1 with the throttle open and boost up */
};

/* Speed: below 10 in units of idle speed, above 9000 that much below the limit. */
static const struct moment moments[] = {
    {0, 0, 0, 0, 0},          {3, 0, 0, 0, 0},         {3.3, 220, 0, 96, 0},     {4.3, 240, 0, 90, 0},
    {5.5, 1.2, 0, 40, 0},     {8, 1, 0, 36, 0},        {45, 1, 0, 36, 0},        {46.5, 2000, 18, 55, 0},
    {50, 2600, 25, 60, 0},    {60, 3200, 28, 68, 0},   {72, 2400, 20, 55, 0},    {73, 2500, 100, 80, 0.8},
    {75.5, 4000, 100, 95, 1}, {81, 9250, 100, 95, 1},  {81.6, 9400, 0, 25, 0},   {88, 1900, 0, 24, 0},
    {89, 2000, 18, 52, 0},    {95, 2600, 22, 58, 0},   {96, 2700, 100, 80, 0.8}, {98.5, 4100, 100, 95, 1},
    {103, 9250, 100, 95, 1},  {103.6, 9400, 0, 25, 0}, {110.5, 1500, 0, 26, 0},  {112.5, 1, 0, 36, 0},
    {120, 1, 0, 36, 0},       {122, 1400, 10, 38, 0},  {130, 9200, 10, 38, 0},   {131, 9200, 14, 55, 0},
    {139, 1400, 14, 55, 0},   {140, 1400, 20, 72, 0},  {148, 9200, 20, 72, 0},   {149, 9200, 28, 90, 0},
    {157, 1400, 28, 90, 0},   {158, 1400, 45, 95, 1},  {166, 9200, 45, 95, 1},   {167, 9200, 60, 95, 1},
    {175, 1400, 60, 95, 1},   {176, 1400, 80, 95, 1},  {184, 9200, 80, 95, 1},   {185, 9200, 100, 95, 1},
    {193, 1400, 100, 95, 1},
};

/* ---- looking up in the car's own settings */

static int cell_below(const double *at, int count, double x, double *share)
{
  int i = 0;

  while (i + 2 < count && at[i + 1] <= x)
    i++;
  *share = count < 2 ? 0 : fmin(fmax((x - at[i]) / (at[i + 1] - at[i]), 0), 1);
  return i;
}

double car_curve(struct car *car, const char *name, double x)
{
  const struct item *item = file_find(&car->settings, name);
  double share;
  int i = cell_below(item->x, item->nx, x, &share);

  return item->value[0][i] * (1 - share) + item->value[0][i + 1] * share;
}

static double table_at(struct car *car, const char *name, double x, double y)
{
  const struct item *item = file_find(&car->settings, name);
  double sx, sy;
  int i = cell_below(item->x, item->nx, x, &sx), j = cell_below(item->y, item->ny, y, &sy);

  return (item->value[j][i] * (1 - sx) + item->value[j][i + 1] * sx) * (1 - sy) +
         (item->value[j + 1][i] * (1 - sx) + item->value[j + 1][i + 1] * sx) * sy;
}

/* ---- channels */

int log_column(struct log *log, const char *name)
{
  for (int k = 0; k < log->channels; k++)
    if (strcmp(log->channel[k], name) == 0)
      return k;
  return -1;
}

void log_put(struct log *log, const char *name, enum quantity of, double value)
{
  int k = log_column(log, name);

  if (k < 0) {
    k = log->channels++;
    snprintf(log->channel[k], sizeof log->channel[k], "%s", name);
    log->of[k] = of;
  }
  log->value[log->rows][k] = value;
}

static double real_speed(const struct car *car, double speed)
{
  return speed < 10 ? speed * car->idle_speed : speed > 9000 ? car->speed_limit - (speed - 9000) : speed;
}

static struct moment moment_at(const struct car *car, double time)
{
  size_t i = 0;
  struct moment a, b;
  double share;

  while (i + 2 < sizeof moments / sizeof *moments && moments[i + 1].time <= time)
    i++;
  a = moments[i];
  b = moments[i + 1];
  share = (time - a.time) / (b.time - a.time);
  a.time = time;
  a.speed = real_speed(car, a.speed) * (1 - share) + real_speed(car, b.speed) * share;
  a.throttle += (b.throttle - a.throttle) * share;
  a.pressure += (b.pressure - a.pressure) * share;
  a.full += (b.full - a.full) * share;
  return a;
}

static void driver_row(struct car *car, struct moment *now, double outside)
{
  struct log *log = &car->log;
  bool rolls = now->time > ROLLERS_FROM, drives = rolls || (now->time > 45 && now->time < 111.5);
  double opening = rolls ? now->throttle : 100;
  double full = car->aspiration == TURBO ? table_at(car, "boost.target", now->speed, opening) - 2 : outside - 2;

  if (rolls)
    now->pressure = fmin(now->pressure, outside - 2);
  now->pressure = now->pressure * (1 - now->full) + full * now->full + dice_between(&car->dice, -0.3, 0.3);
  if (now->time < 4.3)
    now->pressure = outside - (now->speed > 0 ? 3 : 0);
  if (now->speed > 400)
    now->speed += dice_between(&car->dice, -7, 7);
  log_put(log, "time", SECONDS, now->time);
  log_put(log, "engine_speed", SPEED, round_to(now->speed, 1));
  log_put(log, "manifold_pressure", PRESSURE, round_to(now->pressure, 0.1));
  log_put(log, "barometric_pressure", PRESSURE, round_to(outside, 0.1));
  log_put(log, "throttle_position", PERCENT, round_to(now->throttle + dice_between(&car->dice, -0.1, 0.1), 0.1));
  log_put(log, "vehicle_speed", ROAD_SPEED, drives ? round_to(now->speed * 0.02, 0.1) : 0);
  log_put(log, "gear", NOTHING, drives ? 3 : 0);
  log_put(log, "neutral_switch", NOTHING, drives ? 0 : 1);
  log_put(log, "clutch_switch", NOTHING, 0);
  log_put(log, "brake_switch", NOTHING, now->time > 104 && now->time < 112 ? 1 : 0);
  log_put(log, "air_conditioning_request", NOTHING, 0);
  log_put(log, "air_conditioning_step_active", NOTHING, 0);
  log_put(log, "electrical_load_active", NOTHING, 0);
}

/* For how long the engine has run in the rows so far, s. */
static double ran_for(struct car *car, double time)
{
  for (int i = 0; i < car->log.rows; i++)
    if (log_at(car, i, "engine_speed") > 400)
      return time - log_at(car, i, "time");
  return 0;
}

/* After a start, at this coolant. */
static double after_start_at(struct car *car, double time, double coolant)
{
  double left = 1 - ran_for(car, time) / car_curve(car, "fuel.after_start_duration", coolant);

  return car_curve(car, "fuel.after_start_enrichment", coolant) * fmax(left, 0);
}

static void engine_row(struct car *car, const struct moment *now, double outside)
{
  struct log *log = &car->log;
  double warmed = fmin(now->time / ROLLERS_FROM, 1), coolant = 78 + 10 * warmed, air = 28 + 8 * warmed;
  double volts = now->speed > 400 ? 14.1 + dice_between(&car->dice, -0.03, 0.03) : now->speed > 0 ? 10.6 : 12.5;
  double idle = car_curve(car, "idle.speed_target", coolant);
  bool cut = now->throttle < 1.4 && now->speed > car->idle_speed + 500 && now->time > 60;
  double target = table_at(car, "fuel.lambda_target", now->speed, now->pressure);
  double filling = table_at(car, "fuel.volumetric_efficiency", now->speed, now->pressure);
  double open = car->pulse * filling / 100 * now->pressure / 100 * car_curve(car, "fuel.intake_air_correction", air) /
                100 / target;
  bool cranking = now->speed > 0 && now->speed < 400;
  double after = now->speed > 400 ? after_start_at(car, now->time, coolant) : 0;
  double by_start = cranking ? car_curve(car, "fuel.cranking_fuel", coolant) / 100 : 1 + after / 100;
  double pulse = now->speed == 0 || cut ? 0 : open * by_start + car_curve(car, "injector.dead_time", volts);
  double spark = table_at(car, "ignition.spark_advance", now->speed, now->pressure) +
                 car_curve(car, "ignition.intake_air_correction", air);

  if (now->throttle < 1.4 && now->speed > 400 && fabs(idle - now->speed) < 300)
    spark += car_curve(car, "ignition.idle_correction", idle - now->speed);
  log_put(log, "coolant_temperature", TEMPERATURE, round_to(coolant, 0.1));
  log_put(log, "intake_air_temperature", TEMPERATURE, round_to(air, 0.1));
  log_put(log, "battery_voltage", VOLTS, round_to(volts, 0.01));
  log_put(log, "lambda", MIXTURE, cut ? 1.5 : round_to(target * (1 + dice_between(&car->dice, -0.006, 0.006)), 0.001));
  log_put(log, "lambda_gauge", MIXTURE,
          cut ? 1.5 : round_to(target * (1 + dice_between(&car->dice, -0.006, 0.006)), 0.001));
  log_put(log, "lambda_target", MIXTURE, round_to(target, 0.001));
  log_put(log, "lambda_correction", PERCENT, 100 + round_to(dice_between(&car->dice, -1, 1), 0.1));
  log_put(log, "long_term_fuel_trim", PERCENT, 1.5);
  log_put(log, "short_term_fuel_trim", PERCENT, round_to(dice_between(&car->dice, -1, 1), 0.1));
  log_put(log, "volumetric_efficiency", PERCENT, round_to(filling, 0.1));
  log_put(log, "injector_pulse_width", MILLISECONDS, round_to(pulse, 0.001));
  log_put(log, "injector_duty", PERCENT, round_to(pulse * now->speed / 1200, 0.1));
  log_put(log, "warm_up_enrichment", PERCENT, 100);
  log_put(log, "after_start_enrichment", PERCENT, round_to(after, 0.1));
  log_put(log, "spark_advance", ANGLE,
          now->speed < 400 ? file_get(&car->settings, "ignition.cranking_advance") : round_to(spark, 0.1));
  log_put(log, "dwell", MILLISECONDS,
          cranking ? file_get(&car->settings, "ignition.dwell_cranking")
                   : round_to(car_curve(car, "ignition.dwell", volts), 0.01));
  log_put(log, "knock_retard", ANGLE, 0);
  log_put(log, "knock_count", NOTHING, 0);
  log_put(log, "sync_loss_count", NOTHING, 0);
  log_put(log, "idle_valve_duty", PERCENT,
          round_to(car_curve(car, cranking ? "idle.cranking_duty" : "idle.valve_duty", coolant) +
                       dice_between(&car->dice, -0.5, 0.5),
                   0.1));
  log_put(log, "idle_speed_target", SPEED, round_to(idle, 1));
  log_put(log, "fuel_pressure", PRESSURE, round_to(car->base_pressure + now->pressure - outside, 1));
  log_put(log, "oil_pressure", PRESSURE, now->speed > 400 ? round_to(110 + 0.065 * now->speed, 1) : 0);
  log_put(log, "engine_running", NOTHING, now->speed > 400);
  log_put(log, "fuel_cut", NOTHING, cut);
  log_put(log, "fan_output", NOTHING, 0);
  if (car->aspiration == TURBO)
    log_put(log, "boost_target", PRESSURE, round_to(table_at(car, "boost.target", now->speed, now->throttle), 0.1));
}

void car_log(struct car *car)
{
  double outside = 101.325 * pow(1 - 0.0065 * car->altitude / 288.15, 5.25588); /* ISO 2533 */

  car->log.channels = car->log.rows = 0;
  for (int i = 0; i <= SECONDS_LONG * RATE_HZ; i++) {
    struct moment now = moment_at(car, (double)i / RATE_HZ);

    driver_row(car, &now, outside);
    engine_row(car, &now, outside);
    car->log.rows++;
  }
  car->with_log = true;
  file_number(&car->job, "site.soak_time", HOURS, 0.5); /* it has not cooled */
  file_word(&car->job, "log.started", "2026-03-03T09:00:00Z");
}

/* ---- changing what has been logged */

double *log_cell(struct car *car, int row, const char *name)
{
  return &car->log.value[row][log_column(&car->log, name)];
}

double log_at(struct car *car, int row, const char *name)
{
  return *log_cell(car, row, name);
}

bool when_idle(struct car *car, int row)
{
  double time = log_at(car, row, "time");

  return (time > 9 && time < 44.5) || (time > 113.5 && time < ROLLERS_FROM);
}

bool when_pulling(struct car *car, int row)
{
  return log_at(car, row, "throttle_position") > 90;
}

bool when_always(struct car *car, int row)
{
  return log_at(car, row, "time") >= 0;
}

bool when_running(struct car *car, int row)
{
  return log_at(car, row, "engine_speed") > 400;
}

bool log_change(struct car *car, const char *name, bool (*where)(struct car *, int), double times, double plus)
{
  for (int i = 0; i < car->log.rows; i++)
    if (where(car, i))
      *log_cell(car, i, name) = log_at(car, i, name) * times + plus;
  return true;
}

bool log_between(struct car *car, const char *name, double from, double to, double times, double plus)
{
  for (int i = 0; i < car->log.rows; i++)
    if (log_at(car, i, "time") >= from && log_at(car, i, "time") < to)
      *log_cell(car, i, name) = log_at(car, i, name) * times + plus;
  return true;
}

void log_end(struct car *car, double time)
{
  while (log_at(car, car->log.rows - 1, "time") > time)
    car->log.rows--;
}

void log_extra(struct car *car, const char *name, enum quantity of, double value)
{
  int rows = car->log.rows;

  for (car->log.rows = 0; car->log.rows < rows; car->log.rows++)
    log_put(&car->log, name, of, value);
}

void log_drop(struct car *car, const char *name)
{
  struct log *log = &car->log;
  int at = log_column(log, name), last = --log->channels;

  memmove(log->channel[at], log->channel[last], NAME);
  log->of[at] = log->of[last];
  for (int i = 0; i < log->rows; i++)
    log->value[i][at] = log->value[i][last];
}
