/* Faults that only a log shows: columns spoiled over a stretch of time or wherever a condition holds. */
#include "faults.h"

#include <math.h>
#include <string.h>

#define TUNE (&car->settings)
#define JOB (&car->job)
#define PLANT(name) static bool name(struct car *car)

/* ---- ignition, start, idle */

PLANT(locked)
{
  return log_change(car, "spark_advance", when_always, 0, 10);
}

PLANT(other_advance)
{
  return log_change(car, "spark_advance", when_running, 1, 4);
}

PLANT(warm_up_acts)
{
  return log_change(car, "warm_up_enrichment", when_always, 0, 106);
}

PLANT(idle_error)
{
  return log_change(car, "engine_speed", when_idle, 1, dice_below(&car->dice, 2) ? 130 : -130);
}

PLANT(idle_hunts)
{
  static const double turns_a_second[] = {0.3, 0.5, 0.7, 1, 1.5, 2};
  double often = turns_a_second[dice_below(&car->dice, 6)], far = dice_between(&car->dice, 55, 110);

  for (int i = 0; i < car->log.rows; i++)
    if (when_idle(car, i))
      *log_cell(car, i, "engine_speed") += far * sin(6.2832 * often * log_at(car, i, "time"));
  return true;
}

PLANT(idle_scatters)
{
  for (int i = 0; i < car->log.rows; i++)
    if (when_idle(car, i))
      *log_cell(car, i, "engine_speed") += dice_between(&car->dice, -120, 120);
  return true;
}

PLANT(idle_stalls)
{
  log_between(car, "engine_speed", 30, 31, 0.6, 0);
  return log_between(car, "engine_speed", 31, 34, 0, 0);
}

PLANT(idle_droops)
{
  return log_between(car, "engine_speed", 112.4, 113.4, 1, -330);
}

PLANT(idle_at_stop)
{
  return log_change(car, "idle_valve_duty", when_idle, 0, dice_below(&car->dice, 2) ? 98 : 2);
}

PLANT(idle_not_entered)
{
  for (int i = 0; i < car->log.rows; i++)
    *log_cell(car, i, "throttle_position") = fmax(log_at(car, i, "throttle_position"), 4.5);
  return true;
}

PLANT(idle_load)
{
  log_between(car, "electrical_load_active", 20, 35, 0, 1);
  return log_between(car, "engine_speed", 20.1, 22.5, 1, -200);
}

PLANT(idle_slow)
{
  for (int i = 0; i < car->log.rows; i++)
    if (log_at(car, i, "time") > 112)
      *log_cell(car, i, "engine_speed") += 260 * exp(-(log_at(car, i, "time") - 112) / 4);
  return true;
}

PLANT(speed_hangs)
{
  return log_between(car, "engine_speed", 113, 119, 1, 700);
}

/* The target goes up by 150 rpm for a while, and the speed swings by more than half of that each time. */
static double swing(double since, double size)
{
  return since < 0 ? 0 : size * (1 - exp(-0.5 * since) * (cos(3 * since) + sin(3 * since) / 6));
}

PLANT(idle_rings)
{
  log_between(car, "idle_speed_target", 18, 32, 1, 150);
  for (int i = 0; i < car->log.rows; i++)
    *log_cell(car, i, "engine_speed") +=
        swing(log_at(car, i, "time") - 18, 150) + swing(log_at(car, i, "time") - 32, -150);
  return true;
}

PLANT(idle_pulse_short)
{
  return log_change(car, "injector_pulse_width", when_idle, 0, dice_between(&car->dice, 0.4, 0.7));
}

PLANT(stays_cold)
{
  log_change(car, "time", when_always, 8.5, 0); /* 17 minutes */
  return log_change(car, "coolant_temperature", when_always, 1, -25);
}

/* ---- mixture and knock */

PLANT(duty_logged)
{
  return log_change(car, "injector_duty", when_pulling, 0, 96);
}

PLANT(lean_pull)
{
  return log_change(car, "lambda", when_pulling, 0, 1.02);
}

PLANT(rich_pull)
{
  return log_change(car, "lambda", when_pulling, 0, 0.64);
}

PLANT(knocks)
{
  log_between(car, "knock_count", 78, 79, 0, 2);
  return log_between(car, "knock_count", 79, 1000, 0, 4);
}

static bool when_bold(struct car *car, int row)
{
  double speed = log_at(car, row, "engine_speed");

  return log_at(car, row, "manifold_pressure") > 82 && speed > 2800 && speed < 4600;
}

/* Each time that the engine comes there. */
PLANT(knock_stands)
{
  double takes = dice_between(&car->dice, 2.5, 3.5);

  log_change(car, "knock_retard", when_bold, 0, takes);
  return log_change(car, "spark_advance", when_bold, 1, -takes);
}

PLANT(off_target)
{
  return log_change(car, "lambda", when_running, dice_below(&car->dice, 2) ? 1.09 : 0.91, 0);
}

PLANT(trim_large)
{
  return log_change(car, "long_term_fuel_trim", when_always, 0, dice_below(&car->dice, 2) ? 17 : -17);
}

PLANT(banks_differ)
{
  int lambda = log_column(&car->log, "lambda");

  log_extra(car, "lambda_bank_2", MIXTURE, 0);
  for (int i = 0; i < car->log.rows; i++)
    *log_cell(car, i, "lambda_bank_2") = car->log.value[i][lambda] * 1.08;
  return true;
}

PLANT(gauge_differs)
{
  static const char *const names[] = {"lambda", "lambda_target", "lambda_gauge"};

  for (int i = 0; i < 3; i++)
    log_change(car, names[i], when_pulling, 0.94, 0);
  return log_change(car, "lambda_gauge", when_always, 1.08, 0);
}

PLANT(pulse_other)
{
  return log_change(car, "injector_pulse_width", when_running, 1.35, 0);
}

/* ---- sensors */

PLANT(key_on_pressure)
{
  return log_between(car, "manifold_pressure", 0, 3, 1, -12);
}

PLANT(barometer)
{
  return log_change(car, "barometric_pressure", when_always, 1, -12);
}

PLANT(cold_soak)
{
  return file_set(JOB, "site.soak_time", 9);
}

PLANT(open_wire)
{
  double value = dice_below(&car->dice, 2) ? -40 : 150;

  return log_change(car, dice_below(&car->dice, 2) ? "coolant_temperature" : "intake_air_temperature", when_always, 0,
                    value);
}

PLANT(overheats)
{
  return log_between(car, "coolant_temperature", 60, 1000, 0, 121);
}

PLANT(supply)
{
  return log_change(car, "battery_voltage", when_running, 1, dice_below(&car->dice, 2) ? -2.2 : 1.4);
}

PLANT(voltage_dips)
{
  return log_between(car, "battery_voltage", 30, 32, 1, -2.4);
}

PLANT(oil_low)
{
  return log_change(car, "oil_pressure", when_always, 0.3, 0);
}

PLANT(rail_flat)
{
  return log_change(car, "fuel_pressure", when_running, 0, car->base_pressure);
}

PLANT(rail_sags)
{
  return log_change(car, "fuel_pressure", when_pulling, 1, -0.12 * car->base_pressure);
}

PLANT(ethanol_sensor)
{
  log_extra(car, "ethanol_content", PERCENT, 85);
  log_extra(car, "ethanol_sensor_frequency", FREQUENCY, dice_below(&car->dice, 2) ? 170 : 20);
  return true;
}

PLANT(frozen)
{
  return log_change(car, dice_below(&car->dice, 2) ? "manifold_pressure" : "throttle_position", when_always, 0, 40);
}

PLANT(sync_lost)
{
  return log_between(car, "sync_loss_count", 77, 1000, 0, 2);
}

PLANT(speed_jumps)
{
  return log_between(car, "engine_speed", 55, 55.04, 1, 2500);
}

PLANT(heat_soak)
{
  for (int i = 0; i < car->log.rows; i++)
    if (log_at(car, i, "time") > 73)
      *log_cell(car, i, "intake_air_temperature") += 48 * fmin((log_at(car, i, "time") - 73) / 8, 1);
  return true;
}

PLANT(overshoots)
{
  return car->aspiration == TURBO && log_between(car, "manifold_pressure", 76, 79, 1, 28);
}

/* Held at one speed and full throttle, with the valve driven up and down: boost falls half a second after duty rises.
 * */
PLANT(boost_answers_wrong)
{
  if (car->aspiration != TURBO)
    return false;
  log_end(car, 120); /* before the rolling road */
  log_extra(car, "boost_control_duty", PERCENT, 30);
  for (int i = 0; i < car->log.rows; i++) {
    double time = log_at(car, i, "time");

    if (time < 51 || time > 71.5)
      continue;
    *log_cell(car, i, "throttle_position") = 100;
    *log_cell(car, i, "engine_speed") = 2000 + dice_between(&car->dice, -20, 20);
    *log_cell(car, i, "boost_control_duty") = 50 + 20 * sin(1.2566 * time);
    *log_cell(car, i, "manifold_pressure") =
        120 - 10 * sin(1.2566 * (time - 0.5)) + dice_between(&car->dice, -0.5, 0.5);
    *log_cell(car, i, "lambda") = *log_cell(car, i, "lambda_gauge") = *log_cell(car, i, "lambda_target") = 0.84;
  }
  return true;
}

/* ---- settings against the log, and the log itself */

PLANT(trips)
{
  return file_set(TUNE, "protection.coolant_limit", 80);
}

PLANT(wide_axis)
{
  struct item *item = file_find(TUNE, "fuel.volumetric_efficiency");
  const double at[] = {500, 2000, 3600, 5200, car->speed_limit + 200};

  item->nx = 5;
  memcpy(item->x, at, sizeof at);
  return true;
}

PLANT(older)
{
  return file_say(JOB, "log.started", "2026-01-10T09:00:00Z");
}

PLANT(slow_log)
{
  int rows = 0;

  for (int i = 0; i < car->log.rows; i += 8)
    memmove(car->log.value[rows++], car->log.value[i], sizeof car->log.value[0]);
  car->log.rows = rows;
  return true;
}

PLANT(time_broken)
{
  return log_between(car, "time", 60, 1000, 1, dice_below(&car->dice, 2) ? -3 : 4);
}

PLANT(idle_only)
{
  log_end(car, 49);
  return true;
}

const struct fault log_faults[] = {
    {"timing-locked-in-log", locked, "commanded-vs-logged-advance", LOG},
    {"commanded-vs-logged-advance", other_advance, "", LOG},
    {"warmup-active-when-hot-in-log", warm_up_acts, "", LOG},
    {"idle-steady-error", idle_error, "idle-droop-after-release", LOG},
    {"idle-hunting", idle_hunts, "idle-rough", LOG},
    {"idle-rough", idle_scatters, "idle-hunting speed-spike", LOG},
    {"idle-stall", idle_stalls, "idle-rough idle-hunting speed-spike", LOG},
    {"idle-droop-after-release", idle_droops, "idle-overshoot", LOG},
    {"idle-actuator-at-stop", idle_at_stop, "", LOG},
    {"idle-entry-throttle-mismatch", idle_not_entered, "", LOG},
    {"idle-load-step-droop", idle_load, "idle-hunting idle-rough", LOG},
    {"idle-settling-slow", idle_slow, "speed-hang idle-hunting", LOG},
    {"idle-overshoot", idle_rings, "", LOG},
    {"pulse-below-linear", idle_pulse_short, "", LOG},
    {"warmup-failure-in-log", stays_cold, "", LOG},
    {"speed-hang", speed_hangs, "idle-hunting idle-steady-error idle-rough idle-settling-slow", LOG},
    {"injector-duty-in-log", duty_logged, "", LOG},
    {"lean-under-load", lean_pull, "mixture-off-target gauge-and-log-lambda-differ", LOG},
    {"rich-under-load", rich_pull, "mixture-off-target gauge-and-log-lambda-differ", LOG},
    {"knock-events", knocks, "", LOG},
    {"knock-cells-standing", knock_stands, "knock-retard-standing", LOG},
    {"mixture-off-target", off_target, "gauge-and-log-lambda-differ lean-under-load", LOG},
    {"trims-large", trim_large, "", LOG},
    {"bank-imbalance", banks_differ, "", LOG},
    {"gauge-and-log-lambda-differ", gauge_differs, "", LOG},
    {"air-fuel-closure", pulse_other, "", LOG},
    {"key-on-map-vs-baro", key_on_pressure, "", LOG},
    {"baro-vs-altitude", barometer, "key-on-map-vs-baro", LOG},
    {"cold-soak-disagree", cold_soak, "", LOG},
    {"sensor-at-fault-value", open_wire, "coolant-out-of-band charge-air-heat-soak sensor-frozen", LOG},
    {"coolant-out-of-band", overheats, "protection-in-normal-range", LOG},
    {"supply-out-of-band", supply, "voltage-dip", LOG},
    {"voltage-dip", voltage_dips, "", LOG},
    {"oil-pressure-low", oil_low, "protection-in-normal-range", LOG},
    {"rail-flat-in-log", rail_flat, "rail-sags-in-log", LOG},
    {"rail-sags-in-log", rail_sags, "rail-flat-in-log", LOG},
    {"ethanol-sensor-implausible", ethanol_sensor, "", LOG},
    {"sensor-frozen", frozen, "key-on-map-vs-baro", LOG},
    {"sync-loss", sync_lost, "", LOG},
    {"speed-spike", speed_jumps, "", LOG},
    {"charge-air-heat-soak", heat_soak, "", LOG},
    {"boost-overshoot", overshoots, "protection-in-normal-range", LOG},
    {"boost-duty-sign", boost_answers_wrong, "boost-overshoot", LOG},
    {"protection-in-normal-range", trips, "overtemp-action-missing", LOG},
    {"axis-poor-resolution", wide_axis, "ve-cell-spike", LOG},
    {"log-older-than-file", older, "", LOG},
    {"log-sample-rate", slow_log, "", LOG},
    {"log-time-broken", time_broken, "", LOG},
    {"log-coverage", idle_only, "", LOG},
    {0},
};
