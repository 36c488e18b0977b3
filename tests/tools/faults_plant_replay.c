/* Faults that show when the file is asked what it would have commanded at each moment of the log: the log was made with
 * other settings, or something between the file and the engine does otherwise. */
#include "faults.h"

#include <math.h>

#define TUNE (&car->settings)
#define PLANT(name) static bool name(struct car *car)

static bool when_cranking(struct car *car, int row)
{
  return log_at(car, row, "engine_speed") > 0 && !when_running(car, row);
}

static bool when_light(struct car *car, int row)
{
  return when_running(car, row) && log_at(car, row, "manifold_pressure") < 70;
}

static bool when_spraying(struct car *car, int row)
{
  return log_at(car, row, "injector_pulse_width") > 0;
}

/* From 10 degC to 78 in the first idle, with the target, the speed and the enrichment that this file has for that. */
static void start_cold(struct car *car)
{
  double warm = car_curve(car, "idle.speed_target", 80);

  for (int i = 0; i < car->log.rows && log_at(car, i, "time") < 44; i++) {
    double coolant = 10 + 68 * log_at(car, i, "time") / 44, target = car_curve(car, "idle.speed_target", coolant);

    *log_cell(car, i, "coolant_temperature") = coolant;
    *log_cell(car, i, "warm_up_enrichment") = car_curve(car, "fuel.warm_up_enrichment", coolant);
    *log_cell(car, i, "idle_speed_target") = target;
    *log_cell(car, i, "idle_valve_duty") = car_curve(car, "idle.valve_duty", coolant);
    if (when_running(car, i))
      *log_cell(car, i, "engine_speed") += target - warm;
  }
}

/* value * (1 + by_x * speed / 1000 rpm + by_y * pressure / 100 kPa) + plus * pressure / 100 kPa */
static void tilt(struct item *item, double by_x, double by_y, double plus)
{
  for (int j = 0; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] =
          item->value[j][i] * (1 + by_x * item->x[i] / 1000 + by_y * item->y[j] / 100) + plus * item->y[j] / 100;
}

/* ---- ignition */

PLANT(cranking_advance_other)
{
  return log_change(car, "spark_advance", when_cranking, 1, 6);
}

PLANT(dwell_other)
{
  return log_change(car, "dwell", dice_below(&car->dice, 2) ? when_running : when_cranking, 1.15, 0);
}

PLANT(idle_advance_other)
{
  return log_change(car, "spark_advance", when_idle, 1, dice_below(&car->dice, 2) ? 5 : -5);
}

PLANT(part_load_advance)
{
  return log_change(car, "spark_advance", when_light, 1, -5);
}

static bool when_loaded(struct car *car, int row)
{
  return log_at(car, row, "throttle_position") > 27;
}

PLANT(taken_back)
{
  log_drop(car, "knock_retard");
  return log_change(car, "spark_advance", when_loaded, 1, -4);
}

PLANT(air_not_followed)
{
  struct item *item = file_find(TUNE, "ignition.intake_air_correction");

  for (int i = 0; i < item->nx; i++)
    item->value[0][i] *= 2;
  for (int i = 0; i < car->log.rows; i++)
    *log_cell(car, i, "intake_air_temperature") = 30 + 0.3 * log_at(car, i, "time");
  return true;
}

/* ---- fuel */

PLANT(filling_other)
{
  return log_change(car, "volumetric_efficiency", when_running, 1.06, 0);
}

PLANT(mixture_other)
{
  struct item *item = file_find(TUNE, "fuel.lambda_target");

  for (int j = 0; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] *= 0.96;
  return true;
}

PLANT(pulse_scaled)
{
  return log_change(car, "injector_pulse_width", when_spraying, 1.15, 0);
}

PLANT(pulse_offset)
{
  return log_change(car, "injector_pulse_width", when_spraying, 1, 0.25);
}

PLANT(warm_up_other)
{
  start_cold(car);
  return log_between(car, "warm_up_enrichment", 0, 44, 1, 8);
}

PLANT(after_start_other)
{
  if (dice_below(&car->dice, 2))
    return log_between(car, "after_start_enrichment", 4, 60, 1, 5);
  return log_between(car, "after_start_enrichment", 0, 60, 0, 0);
}

PLANT(cranking_pulse_other)
{
  return log_change(car, "injector_pulse_width", when_cranking, dice_below(&car->dice, 2) ? 1.5 : 0.6, 0);
}

PLANT(overrun_other)
{
  if (dice_below(&car->dice, 2))
    return file_say(TUNE, "fuel.overrun_cut", "off");
  return log_change(car, "fuel_cut", when_always, 0, 0);
}

/* ---- idle, boost, limits */

PLANT(idle_target_other)
{
  struct item *item = file_find(TUNE, "idle.speed_target");

  for (int i = 0; i < item->nx; i++)
    item->value[0][i] += 60;
  return true;
}

PLANT(idle_duty_other)
{
  return log_change(car, "idle_valve_duty", when_idle, 1, 15);
}

PLANT(cranking_duty_other)
{
  return log_change(car, "idle_valve_duty", when_cranking, 1, dice_below(&car->dice, 2) ? 8 : -12);
}

PLANT(boost_target_other)
{
  return car->aspiration == TURBO && log_change(car, "boost_target", when_always, 1, 10);
}

PLANT(over_limit)
{
  for (int i = 0; i < car->log.rows; i++)
    if (when_pulling(car, i) && log_at(car, i, "time") < 90)
      *log_cell(car, i, "engine_speed") += 900 * fmax(log_at(car, i, "time") - 76, 0) / 5;
  return true;
}

PLANT(other_file)
{
  struct item *item = file_find(TUNE, "fuel.warm_up_enrichment");

  start_cold(car);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = 100 + 1.6 * (item->value[0][i] - 100);
  tilt(file_find(TUNE, "ignition.spark_advance"), 0, 0, -6);
  tilt(file_find(TUNE, "fuel.volumetric_efficiency"), 0.05, 0, 0);
  tilt(file_find(TUNE, "fuel.lambda_target"), 0, -10 / car->peak_pressure, 0);
  return true;
}

const struct fault replay_faults[] = {
    {"cranking-advance-not-as-commanded", cranking_advance_other, "", LOG},
    {"dwell-not-as-commanded", dwell_other, "", LOG},
    {"idle-advance-not-as-commanded", idle_advance_other, "", LOG},
    {"advance-parts-in-one-region", part_load_advance, "", LOG},
    {"advance-taken-back-under-load", taken_back, "", LOG},
    {"advance-correction-differs", air_not_followed, "", LOG},
    {"filling-not-as-commanded", filling_other, "", LOG},
    {"lambda-target-not-as-commanded", mixture_other, "", LOG},
    {"pulse-width-not-as-commanded", pulse_scaled, "", LOG},
    {"dead-time-not-as-commanded", pulse_offset, "", LOG},
    {"warm-up-not-as-commanded", warm_up_other, "", LOG},
    {"after-start-not-as-commanded", after_start_other, "", LOG},
    {"cranking-pulse-not-as-commanded", cranking_pulse_other, "", LOG},
    {"cranking-duty-not-as-commanded", cranking_duty_other, "", LOG},
    {"overrun-cut-not-as-commanded", overrun_other, "", LOG},
    {"idle-target-not-as-commanded", idle_target_other, "", LOG},
    {"idle-duty-not-as-commanded", idle_duty_other, "", LOG},
    {"boost-target-not-as-commanded", boost_target_other, "", LOG},
    {"speed-over-limit-in-log", over_limit, "", LOG},
    {"log-made-with-other-file", other_file, "", LOG},
    {0},
};
