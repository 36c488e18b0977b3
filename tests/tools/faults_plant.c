/* Faults of single settings and of curves: one function a fault, each spoiling a sound car in one place. A fault that
 * this car cannot have (boost on a natural engine, say) returns false and leaves the car alone. */
#include "faults.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define TUNE (&car->settings)
#define JOB (&car->job)
#define PLANT(name) static bool name(struct car *car)

static bool boosted(const struct car *car)
{
  return car->aspiration == TURBO;
}

static bool reverse_one(struct car *car, struct item *item, double *at, int count)
{
  int i = 1 + dice_below(&car->dice, count - 2);
  double kept = at[i];

  if (item == NULL)
    return false;
  at[i] = at[i + 1];
  at[i + 1] = kept;
  return true;
}

/* The value of one point becomes a step above that of the point before. */
static bool rise_one(struct car *car, const char *name, double step)
{
  struct item *item = file_find(TUNE, name);
  int i = item == NULL ? 0 : 1 + dice_below(&car->dice, item->nx - 1);

  if (item == NULL)
    return false;
  item->value[0][i] = item->value[0][i - 1] + step;
  return true;
}

static bool scale_curve(struct file *file, const char *name, double times, double plus)
{
  struct item *item = file_find(file, name);

  for (int i = 0; item != NULL && i < item->nx; i++)
    item->value[0][i] = item->value[0][i] * times + plus;
  return item != NULL;
}

/* ---- modes left on */

PLANT(output_test)
{
  return file_say(TUNE, dice_below(&car->dice, 2) ? "outputs.test_mode" : "idle.output_test", "on");
}

PLANT(timing_lock)
{
  return file_say(TUNE, "ignition.timing_mode", "fixed");
}

PLANT(substitute)
{
  static const char *const names[] = {"sensor.coolant_substitute", "sensor.intake_air_substitute",
                                      "sensor.manifold_pressure_substitute", "sensor.throttle_substitute",
                                      "sensor.lambda_substitute"};

  return file_say(TUNE, names[dice_below(&car->dice, 5)], "on");
}

PLANT(loop_off)
{
  return file_say(TUNE, "lambda_control.mode", "off");
}

PLANT(cylinder_off)
{
  double cylinder = 1 + dice_below(&car->dice, car->cylinders);

  file_list(TUNE, dice_below(&car->dice, 2) ? "injector.disabled" : "ignition.disabled", NOTHING, 1, &cylinder);
  return true;
}

PLANT(cylinder_trim)
{
  bool fuel = dice_below(&car->dice, 2);
  struct item *item = file_find(TUNE, fuel ? "fuel.cylinder_trim" : "ignition.cylinder_trim");

  *item_cell(item, &car->dice, 0) = fuel ? 7 : -3;
  return true;
}

PLANT(launch_on_road)
{
  static const char *const names[] = {"launch.enabled", "launch.flat_shift", "launch.exhaust_heat"};

  file_word(JOB, "vehicle.use", "road");
  return file_say(TUNE, names[dice_below(&car->dice, 3)], "on");
}

PLANT(learning)
{
  return file_say(TUNE, "lambda_control.self_learning", "on");
}

PLANT(no_fallback)
{
  return file_say(TUNE, "protection.sensor_fallback", "off");
}

PLANT(log_only)
{
  static const char *const names[] = {"protection.coolant_action", "protection.oil_pressure_action",
                                      "protection.knock_action", "protection.fuel_pressure_action"};

  return file_say(TUNE, names[dice_below(&car->dice, 4)], "record");
}

PLANT(emission_off)
{
  static const char *const names[] = {"emission.exhaust_recirculation", "emission.evaporative_purge",
                                      "emission.secondary_air", "emission.exhaust_valve"};

  file_word(JOB, "vehicle.use", "road");
  return file_say(TUNE, names[dice_below(&car->dice, 4)], "off");
}

PLANT(running_in_limit)
{
  return file_set(TUNE, "protection.speed_limit", car->speed_limit - 1500);
}

/* ---- start and warm-up */

PLANT(cranking_rises)
{
  return rise_one(car, "fuel.cranking_fuel", 25);
}

PLANT(cranking_ratio)
{
  return scale_curve(TUNE, "fuel.cranking_fuel", 0.12, 100);
}

PLANT(crank_run_high)
{
  return file_set(TUNE, "fuel.cranking_speed", dice_below(&car->dice, 2) ? 900 : 150);
}

PLANT(cranking_advance)
{
  return file_set(TUNE, "ignition.cranking_advance", dice_below(&car->dice, 2) ? 22 : -6);
}

PLANT(warm_up_left)
{
  struct item *item = file_find(TUNE, "fuel.warm_up_enrichment");

  for (int i = 0; i < item->nx; i++)
    item->value[0][i] += 6;
  return true;
}

PLANT(warm_up_rises)
{
  return rise_one(car, "fuel.warm_up_enrichment", 5);
}

PLANT(warm_up_short)
{
  struct item *item = file_find(TUNE, "fuel.warm_up_enrichment");

  for (int i = 0; i < item->nx; i++)
    item->x[i] = 10 + (item->x[i] + 20) * (item->x[item->nx - 1] - 10) / (item->x[item->nx - 1] + 20);
  return true;
}

PLANT(after_start_long)
{
  return scale_curve(TUNE, "fuel.after_start_duration", 4, 20);
}

PLANT(flood_clear)
{
  if (dice_below(&car->dice, 2))
    return file_say(TUNE, "fuel.flood_clear", "off");
  return file_set(TUNE, "fuel.flood_clear_throttle", 50);
}

/* ---- idle */

PLANT(idle_target_rises)
{
  return rise_one(car, "idle.speed_target", 80);
}

PLANT(idle_target_high)
{
  return scale_curve(TUNE, "idle.speed_target", 1, 600);
}

PLANT(idle_bypass)
{
  return rise_one(car, "idle.valve_duty", 6);
}

PLANT(idle_sense)
{
  return file_say(TUNE, "idle.valve_sense", "closes_with_duty");
}

PLANT(idle_step)
{
  return file_say(TUNE, "idle.air_conditioning_step_input", "clutch_switch");
}

PLANT(idle_spark)
{
  return scale_curve(TUNE, "ignition.idle_correction", -1, 0);
}

/* ---- ignition */

PLANT(dwell_long)
{
  return scale_curve(TUNE, "ignition.dwell", 1.6, 0);
}

PLANT(dwell_short)
{
  return scale_curve(TUNE, "ignition.dwell", 0.4, 0);
}

PLANT(dwell_time)
{
  struct item *outputs = file_find(TUNE, "outputs");

  if (car->cylinders == 4)
    return false;
  file_word(TUNE, "ignition.coil_layout", "distributor");
  file_word(JOB, "ignition.coil_layout", "distributor");
  for (int i = outputs->nx - 1; i >= 0; i--)
    if (strncmp(outputs->pin[i][0], "coil_", 5) == 0 && strcmp(outputs->pin[i][0], "coil_1") != 0)
      pin_drop(TUNE, "outputs", outputs->pin[i][0]);
  return true;
}

PLANT(dwell_rises)
{
  return rise_one(car, "ignition.dwell", 0.2);
}

PLANT(dwell_coverage)
{
  struct item *item = file_find(TUNE, "ignition.dwell");

  for (int i = 0; i < item->nx; i++)
    item->x[i] = 11 + (item->x[i] - 7) * 5.5 / 9.5;
  return true;
}

PLANT(coil_edge)
{
  struct item *item = file_find(TUNE, "ignition.coil_charges_while");

  return file_say(TUNE, item->name, strcmp(item->word, "output_high") == 0 ? "output_low" : "output_high");
}

PLANT(air_spark_sign)
{
  return scale_curve(TUNE, "ignition.intake_air_correction", -1, 0);
}

PLANT(air_spark_slope)
{
  return scale_curve(TUNE, "ignition.intake_air_correction", dice_below(&car->dice, 2) ? 0.1 : 3, 0);
}

PLANT(hot_spark_sign)
{
  return scale_curve(TUNE, "ignition.coolant_correction", -1, 0);
}

PLANT(knock_authority)
{
  if (dice_below(&car->dice, 2))
    return file_set(TUNE, "ignition.knock_recovery_rate", 8);
  return file_set(TUNE, "ignition.knock_maximum_retard", dice_below(&car->dice, 2) ? 2 : 18);
}

PLANT(firing_order)
{
  struct item *item = file_find(TUNE, "engine.firing_order");
  double kept = item->value[0][1];

  item->value[0][1] = item->value[0][2];
  item->value[0][2] = kept;
  return true;
}

PLANT(octane_weight)
{
  file_number(TUNE, "ignition.high_octane_weight", PERCENT, 100);
  file_number(JOB, "fuel.octane", NOTHING, 95);
  file_number(JOB, "fuel.octane_needed", NOTHING, 102);
  file_number(JOB, "fuel.octane_low_table", NOTHING, 95);
  return true;
}

/* ---- fuel */

PLANT(dead_time_rises)
{
  return rise_one(car, "injector.dead_time", 0.1);
}

PLANT(dead_time_band)
{
  return scale_curve(TUNE, "injector.dead_time", dice_below(&car->dice, 2) ? 0.2 : 3, 0);
}

PLANT(air_density_sign)
{
  struct item *item = file_find(TUNE, "fuel.intake_air_correction");

  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = 10000 / item->value[0][i];
  return true;
}

PLANT(resume_low)
{
  return file_set(TUNE, "fuel.overrun_resume_speed", car->idle_speed + 60);
}

PLANT(accel_sign)
{
  return scale_curve(TUNE, "fuel.acceleration_enrichment", -0.5, 0);
}

PLANT(authority)
{
  return file_set(TUNE, "lambda_control.authority", dice_below(&car->dice, 2) ? 45 : 2);
}

PLANT(ethanol_shape)
{
  struct item *item = file_curve(TUNE, "fuel.ethanol_fuel_correction", PERCENT, PERCENT, 6);

  file_word(TUNE, "fuel.ethanol_sensor", "on");
  file_pin(TUNE, "inputs", "ethanol_sensor", "IN90");
  file_pin(JOB, "inputs", "ethanol_sensor", "IN90");
  for (int i = 0; i < item->nx; i++) {
    item->x[i] = 20 * i;
    item->value[0][i] = 100 + 4 * i;
  }
  return true;
}

PLANT(pressure_unfed)
{
  pin_drop(TUNE, "inputs", "fuel_pressure");
  pin_drop(JOB, "inputs", "fuel_pressure");
  return file_say(TUNE, "fuel.pressure_compensation", "on");
}

PLANT(stoichiometry)
{
  return file_set(TUNE, "engine.stoichiometric_ratio", car->ratio * 0.93);
}

/* ---- any axis */

PLANT(axis_reversed)
{
  for (;;) {
    struct item *item = &TUNE->item[dice_below(&car->dice, TUNE->count)];

    if (item->kind == TABLE && dice_below(&car->dice, 2))
      return reverse_one(car, item, item->y, item->ny);
    if (item->kind == TABLE || item->kind == CURVE)
      return reverse_one(car, item, item->x, item->nx);
  }
}

/* ---- boost */

PLANT(cut_missing)
{
  if (!boosted(car))
    return false;
  if (dice_below(&car->dice, 2))
    return file_say(TUNE, "protection.boost_cut", "off");
  return file_set(TUNE, "protection.boost_cut_pressure", car->peak_pressure + 60);
}

PLANT(no_derate)
{
  if (!boosted(car))
    return false;
  scale_curve(TUNE, "boost.intake_air_reduction", 0, 0);
  return scale_curve(TUNE, "boost.coolant_reduction", 0, 0);
}

const struct fault settings_faults[] = {
    {"output-test-left-on", output_test, "", SHEET},
    {"timing-lock-left-on", timing_lock, "", SHEET},
    {"substitute-sensor-value-active", substitute, "", SHEET},
    {"closed-loop-disabled-with-sensor", loop_off, "", SHEET},
    {"cylinder-cut-left-on", cylinder_off, "", SHEET},
    {"cylinder-trim-unexplained", cylinder_trim, "", SHEET},
    {"launch-mode-on-road-job", launch_on_road, "function-without-pin", SHEET},
    {"auto-learn-left-on", learning, "", SHEET},
    {"limp-mode-disabled", no_fallback, "", SHEET},
    {"protection-log-only", log_only,
     "overtemp-action-missing oil-pressure-action-missing "
     "fuel-pressure-cut-missing",
     SHEET},
    {"emission-function-disabled-on-road", emission_off, "", SHEET},
    {"temporary-limit-left", running_in_limit, "", SHEET},
    {"cranking-fuel-not-falling", cranking_rises, "", SHEET},
    {"cranking-fuel-ratio", cranking_ratio, "", SHEET},
    {"crank-run-threshold-bad", crank_run_high, "", SHEET},
    {"cranking-advance-band", cranking_advance, "", SHEET},
    {"warmup-not-unity-hot", warm_up_left, "", SHEET},
    {"warmup-not-monotone", warm_up_rises, "warmup-not-unity-hot", SHEET},
    {"warmup-axis-coverage", warm_up_short, "", SHEET},
    {"afterstart-decay-band", after_start_long, "", SHEET},
    {"flood-clear-missing", flood_clear, "", SHEET},
    {"idle-target-not-falling", idle_target_rises, "", SHEET},
    {"idle-target-band", idle_target_high, "decel-cut-resume-low", SHEET},
    {"idle-bypass-curve-shape", idle_bypass, "", SHEET},
    {"idle-valve-sense-inverted", idle_sense, "idle-bypass-curve-shape", SHEET},
    {"idle-step-input-unexpected", idle_step, "", SHEET},
    {"idle-spark-sign", idle_spark, "", SHEET},
    {"dwell-exceeds-coil-limit", dwell_long, "dwell-exceeds-time", SHEET},
    {"dwell-too-short", dwell_short, "", SHEET},
    {"dwell-exceeds-time", dwell_time, "output-count-mismatch input-wired-elsewhere", SHEET},
    {"dwell-not-falling-with-voltage", dwell_rises, "dwell-exceeds-coil-limit", SHEET},
    {"dwell-voltage-coverage", dwell_coverage, "dwell-exceeds-coil-limit dwell-too-short", SHEET},
    {"coil-drive-edge-mismatch", coil_edge, "", SHEET},
    {"iat-spark-sign", air_spark_sign, "iat-spark-slope spark-envelope-high", SHEET},
    {"iat-spark-slope", air_spark_slope, "", SHEET},
    {"ect-spark-sign", hot_spark_sign, "spark-envelope-high", SHEET},
    {"knock-retard-authority", knock_authority, "", SHEET},
    {"firing-order-mismatch", firing_order, "", SHEET},
    {"fuel-octane-blend-weight", octane_weight, "", SHEET},
    {"dead-time-not-falling", dead_time_rises, "dead-time-band", SHEET},
    {"dead-time-band", dead_time_band, "injector-too-small", SHEET},
    {"iat-density-sign", air_density_sign, "", SHEET},
    {"decel-cut-resume-low", resume_low, "", SHEET},
    {"accel-fuel-sign", accel_sign, "", SHEET},
    {"trim-authority", authority, "", SHEET},
    {"ethanol-factor-shape", ethanol_shape, "", SHEET},
    {"fuel-pressure-comp-unfed", pressure_unfed, "function-without-pin fuel-pressure-cut-missing", SHEET},
    {"stoich-vs-fuel", stoichiometry, "reference-pulse-mismatch", SHEET},
    {"axis-not-increasing", axis_reversed, "thermistor-not-monotone thermistor-vs-published", SHEET},
    {"boost-cut-missing", cut_missing, "", SHEET},
    {"boost-no-derate", no_derate, "", SHEET},
    {0},
};
