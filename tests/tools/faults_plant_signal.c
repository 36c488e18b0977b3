/* Faults that only a log shows, of what the engine is given and what its sensors make of it: boost that does not come,
 * trims that follow something, heat, pressure and wires; and logs that leave something out. */
#include "faults.h"

#include <math.h>

#define TUNE (&car->settings)
#define PLANT(name) static bool name(struct car *car)

static double one_of(struct car *car, double a, double b)
{
  return dice_below(&car->dice, 2) ? a : b;
}

static bool when_part(struct car *car, int row)
{
  double throttle = log_at(car, row, "throttle_position"), pressure = log_at(car, row, "manifold_pressure");

  return when_running(car, row) && throttle > 5 && throttle < 60 && pressure < 85;
}

static bool when_open(struct car *car, int row)
{
  return log_at(car, row, "throttle_position") > 70;
}

/* ---- boost, and what a log leaves out */

PLANT(boost_short)
{
  return car->aspiration == TURBO && log_change(car, "boost_target", when_open, 1, dice_between(&car->dice, 20, 35));
}

PLANT(no_load)
{
  log_end(car, dice_between(&car->dice, 62, 71));
  return true;
}

/* ---- mixture */

PLANT(bank_trims)
{
  double apart = one_of(car, 1, -1) * dice_between(&car->dice, 6, 9);

  log_extra(car, "short_term_fuel_trim_bank_2", PERCENT, 0.5);
  log_extra(car, "long_term_fuel_trim_bank_2", PERCENT, round_to(1.5 + apart, 0.1));
  return true;
}

PLANT(retard_stands)
{
  double takes = dice_between(&car->dice, 1.5, 3);

  log_between(car, "spark_advance", 51, 59, 1, -takes);
  return log_between(car, "knock_retard", 51, 59, 0, takes);
}

PLANT(control_at_end)
{
  double authority = file_get(TUNE, "lambda_control.authority");

  return log_between(car, "lambda_correction", 50, 50 + dice_between(&car->dice, 7, 15), 0,
                     100 + one_of(car, authority, -authority));
}

PLANT(off_at_part_load)
{
  double times = one_of(car, 1, -1) * dice_between(&car->dice, 0.045, 0.06) + 1;

  log_change(car, "lambda_gauge", when_part, times, 0);
  return log_change(car, "lambda", when_part, times, 0);
}

/* Lambda control adds that much of the fuel, and the pulse is as much longer. */
static void correct(struct car *car, int row, double share)
{
  double dead = car_curve(car, "injector.dead_time", log_at(car, row, "battery_voltage"));
  double *pulse = log_cell(car, row, "injector_pulse_width"), *correction = log_cell(car, row, "lambda_correction");

  *correction += 100 * share;
  if (*pulse > dead)
    *pulse = dead + (*pulse - dead) * (1 + share);
}

PLANT(follows_pressure)
{
  double each = dice_between(&car->dice, 0.0013, 0.0017);

  for (int i = 0; i < car->log.rows; i++)
    if (when_running(car, i))
      correct(car, i, each * (log_at(car, i, "manifold_pressure") - 60));
  return true;
}

PLANT(follows_pulse)
{
  double missing = one_of(car, 1, -1) * dice_between(&car->dice, 0.2, 0.3);

  for (int i = 0; i < car->log.rows; i++) {
    double dead = car_curve(car, "injector.dead_time", log_at(car, i, "battery_voltage"));
    double open = log_at(car, i, "injector_pulse_width") - dead;

    if (when_running(car, i) && open > 0.5)
      correct(car, i, missing / open);
  }
  return true;
}

PLANT(lambda_still)
{
  return log_change(car, "lambda", when_always, 0, round_to(dice_between(&car->dice, 0.84, 0.88), 0.001));
}

/* ---- heat, pressure, wires */

PLANT(exhaust_hot)
{
  log_extra(car, "exhaust_gas_temperature", TEMPERATURE, 820);
  return log_between(car, "exhaust_gas_temperature", 76, 81, 0, one_of(car, 970, 1020));
}

PLANT(oil_hot)
{
  log_extra(car, "oil_temperature", TEMPERATURE, 105);
  return log_between(car, "oil_temperature", 75, 120, 0, one_of(car, 137, 156));
}

/* The pressure goes beyond what the sensor can tell, at the top or at the bottom. */
PLANT(sensor_end)
{
  bool high = car->aspiration == TURBO;
  double end = high ? car->peak_pressure - 12 : 31;

  file_set(TUNE, high ? "sensor.manifold_pressure_maximum" : "sensor.manifold_pressure_minimum", end);
  for (int i = 0; i < car->log.rows; i++) {
    double *pressure = log_cell(car, i, "manifold_pressure");

    *pressure = high ? fmin(*pressure, end) : fmax(*pressure, end);
  }
  return true;
}

PLANT(oil_low_at_idle)
{
  return log_change(car, "oil_pressure", when_idle, 0, one_of(car, 55, 28));
}

PLANT(noisy)
{
  const char *name = dice_below(&car->dice, 2) ? "coolant_temperature" : "intake_air_temperature";
  double by = dice_between(&car->dice, 2.5, 4);

  for (int i = 0; i < car->log.rows; i++)
    *log_cell(car, i, name) += dice_between(&car->dice, -by, by);
  return true;
}

PLANT(wire_broken)
{
  static const char *const names[] = {"coolant_sensor_voltage", "throttle_sensor_voltage",
                                      "manifold_pressure_sensor_voltage"};
  const char *name = names[dice_below(&car->dice, 3)];

  log_extra(car, name, VOLTS, 2.1);
  return log_between(car, name, 50, 50 + dice_between(&car->dice, 6, 12), 0, one_of(car, 0.03, 4.97));
}

const struct fault signal_faults[] = {
    {"boost-below-target", boost_short, "", LOG},
    {"phases-not-in-log", no_load, "", LOG},
    {"top-never-reached", no_load, "", LOG},
    {"bank-trims-apart", bank_trims, "", LOG},
    {"knock-retard-standing", retard_stands, "knock-cells-standing", LOG},
    {"lambda-control-at-its-end", control_at_end, "", LOG},
    {"mixture-off-in-region", off_at_part_load, "mixture-off-target", LOG},
    {"trim-follows-pressure", follows_pressure, "", LOG},
    {"trim-follows-pulse", follows_pulse, "", LOG},
    {"exhaust-too-hot", exhaust_hot, "", LOG},
    {"lambda-stands-still", lambda_still,
     "mixture-off-target mixture-off-in-region lean-under-load gauge-and-log-lambda-differ", LOG},
    {"manifold-pressure-at-sensor-end", sensor_end,
     "map-scale-mismatch boost-target-over-sensor boost-cut-missing protection-never-reachable", LOG},
    {"oil-pressure-low-at-idle", oil_low_at_idle, "oil-pressure-low protection-in-normal-range", LOG},
    {"oil-too-hot", oil_hot, "", LOG},
    {"sensor-noisy", noisy, "", LOG},
    {"sensor-voltage-at-end", wire_broken, "", LOG},
    {0},
};
