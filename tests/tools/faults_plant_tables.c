/* Faults of tables, wiring, sensors and protections. */
#include "faults.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define TUNE (&car->settings)
#define JOB (&car->job)
#define PLANT(name) static bool name(struct car *car)

static struct item *spark(struct car *car)
{
  return file_find(TUNE, "ignition.spark_advance");
}

static int row_from(const struct item *item, double pressure)
{
  int j = 0;

  while (j + 1 < item->ny && item->y[j] < pressure)
    j++;
  return j;
}

/* ---- spark table */

PLANT(spark_spike)
{
  double *cell = item_cell(spark(car), &car->dice, 1);

  *cell += dice_below(&car->dice, 2) ? 12 : -12;
  return true;
}

PLANT(spark_rough)
{
  struct item *item = spark(car);
  int i = 2 + dice_below(&car->dice, item->nx - 4);

  for (int j = 0; j < item->ny; j++)
    item->value[j][i] -= 8;
  return true;
}

PLANT(spark_rises)
{
  struct item *item = spark(car);
  int j = row_from(item, 90), i = dice_below(&car->dice, item->nx);

  item->value[j][i] = item->value[j - 1][i] + 1.5;
  return true;
}

PLANT(spark_slope)
{
  struct item *item = spark(car);
  int j = row_from(item, 110);

  if (car->aspiration != TURBO)
    return false;
  for (int i = 0; i < item->nx; i++)
    item->value[j + 1][i] = item->value[j][i];
  return true;
}

PLANT(spark_high)
{
  struct item *item = spark(car);

  for (int j = 0; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] += 18;
  return file_set(TUNE, "ignition.advance_limit", 60);
}

PLANT(spark_low)
{
  struct item *item = spark(car);

  for (int j = 0; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] -= 26;
  return true;
}

/* ---- mixture and filling */

PLANT(lean_in_boost)
{
  struct item *item = file_find(TUNE, "fuel.lambda_target");

  if (car->aspiration != TURBO)
    return false;
  for (int j = row_from(item, 125); j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] = 0.98;
  return true;
}

PLANT(mixture_envelope)
{
  struct item *item = file_find(TUNE, "fuel.lambda_target");
  int j = dice_below(&car->dice, 2), i = dice_below(&car->dice, item->nx);

  item->value[j][i] = dice_below(&car->dice, 2) ? 1.18 : 0.62;
  return true;
}

PLANT(mixture_jump)
{
  struct item *item = file_find(TUNE, "fuel.lambda_target");
  int j = 1 + dice_below(&car->dice, item->ny - 2);

  for (; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] -= 0.11;
  return true;
}

PLANT(filling_spike)
{
  double *cell = item_cell(file_find(TUNE, "fuel.volumetric_efficiency"), &car->dice, 1);

  *cell += dice_below(&car->dice, 2) ? 22 : -22;
  return true;
}

PLANT(filling_band)
{
  double *cell = item_cell(file_find(TUNE, "fuel.volumetric_efficiency"), &car->dice, 0);

  *cell = dice_below(&car->dice, 2) ? 9 : 160;
  return true;
}

PLANT(filling_coverage)
{
  struct item *item = file_find(TUNE, "fuel.volumetric_efficiency");

  for (int i = 0; i < item->nx; i++)
    item->x[i] *= 0.7;
  return true;
}

/* ---- injectors */

PLANT(injectors_small)
{
  double small = 0.45;

  file_set(TUNE, "injector.flow_rate", car->flow * small);
  file_set(JOB, "injector.flow_rate", car->flow * small);
  return file_set(TUNE, "fuel.reference_pulse_width", car->pulse / small);
}

PLANT(injector_flow)
{
  static const double times[] = {0.9, 1.12, 1 / 10.3, 10.3};

  return file_set(JOB, "injector.flow_rate", car->flow * times[dice_below(&car->dice, 4)]);
}

PLANT(pressure_basis)
{
  return file_set(JOB, "fuel.pressure", car->base_pressure * (dice_below(&car->dice, 2) ? 1.3 : 0.75));
}

PLANT(reference_pulse)
{
  return file_set(TUNE, "fuel.reference_pulse_width", car->pulse * (dice_below(&car->dice, 2) ? 1.5 : 0.6));
}

/* ---- boost */

PLANT(boost_sensor)
{
  if (car->aspiration != TURBO)
    return false;
  file_set(JOB, "sensor.manifold_pressure_maximum", car->peak_pressure);
  return file_set(TUNE, "sensor.manifold_pressure_maximum", car->peak_pressure);
}

PLANT(boost_over)
{
  return car->aspiration == TURBO && file_set(JOB, "boost.pressure_maximum", car->peak_pressure - 25);
}

PLANT(boost_reference)
{
  double outside = 101.3 * pow(1 - 0.0065 * car->altitude / 288.15, 5.25588);

  if (car->aspiration != TURBO)
    return false;
  file_set(JOB, "boost.pressure_maximum", car->peak_pressure + outside);
  return file_set(JOB, "planned.boost_limit", car->peak_pressure + outside);
}

PLANT(boost_sense)
{
  return car->aspiration == TURBO && file_say(TUNE, "boost.duty_sense", "lowers_pressure");
}

/* ---- sensors */

PLANT(map_scale)
{
  return file_set(JOB, "sensor.manifold_pressure_maximum", car->sensor_top * 1.2);
}

PLANT(thermistor_turns)
{
  struct item *item =
      file_find(TUNE, dice_below(&car->dice, 2) ? "sensor.coolant_calibration" : "sensor.intake_air_calibration");
  int i = 2 + dice_below(&car->dice, item->nx - 4);
  double kept = item->value[0][i];

  item->value[0][i] = item->value[0][i + 1];
  item->value[0][i + 1] = kept;
  return true;
}

PLANT(thermistor_other)
{
  struct item *item = file_find(TUNE, "sensor.coolant_calibration");

  for (int i = 0; i < item->nx; i++)
    item->x[i] *= 1.35;
  return true;
}

PLANT(fault_band)
{
  static const char *const names[] = {"coolant", "intake_air", "manifold_pressure", "throttle"};
  bool low = dice_below(&car->dice, 2);
  char name[NAME];

  snprintf(name, sizeof name, "sensor.%s_fault_%s", names[dice_below(&car->dice, 4)], low ? "low" : "high");
  return file_set(TUNE, name, low ? 0 : 5);
}

PLANT(throttle_range)
{
  if (dice_below(&car->dice, 2))
    return file_set(TUNE, "sensor.throttle_open_voltage", 2.6);
  return file_set(TUNE, "sensor.throttle_closed_voltage", 1.6);
}

/* ---- wiring */

PLANT(pin_twice)
{
  bool inputs = dice_below(&car->dice, 2);

  strcpy(pin_of(TUNE, inputs ? "inputs" : "outputs", inputs ? "brake_switch" : "warning_lamp"),
         pin_of(TUNE, inputs ? "inputs" : "outputs", inputs ? "neutral_switch" : "fan"));
  return true;
}

PLANT(no_pin)
{
  if (car->aspiration == TURBO && dice_below(&car->dice, 2)) {
    pin_drop(JOB, "outputs", "boost_solenoid");
    return pin_drop(TUNE, "outputs", "boost_solenoid");
  }
  pin_drop(JOB, "outputs", "idle_valve");
  return pin_drop(TUNE, "outputs", "idle_valve");
}

PLANT(pin_unused)
{
  return pin_drop(TUNE, "inputs", dice_below(&car->dice, 2) ? "brake_switch" : "neutral_switch");
}

PLANT(output_count)
{
  char name[NAME];

  if (strcmp(file_find(TUNE, "ignition.coil_layout")->word, "coil_per_cylinder") != 0 || dice_below(&car->dice, 2))
    snprintf(name, sizeof name, "injector_%d", car->cylinders);
  else
    snprintf(name, sizeof name, "coil_%d", car->cylinders);
  pin_drop(JOB, "outputs", name);
  return pin_drop(TUNE, "outputs", name);
}

PLANT(cylinder_count)
{
  return file_set(TUNE, "engine.cylinders", car->cylinders == 4 ? 6 : 4);
}

PLANT(input_crossed)
{
  char kept[NAME], *a = pin_of(TUNE, "inputs", "brake_switch"), *b = pin_of(TUNE, "inputs", "clutch_switch");

  memcpy(kept, a, NAME);
  memcpy(a, b, NAME);
  memcpy(b, kept, NAME);
  return true;
}

PLANT(fan_gap)
{
  if (dice_below(&car->dice, 2))
    return file_set(TUNE, "fan.off_temperature", file_get(TUNE, "fan.on_temperature") - 1);
  file_set(TUNE, "fan.off_temperature", car->thermostat - 8);
  return file_set(TUNE, "fan.on_temperature", car->thermostat - 3);
}

PLANT(pump_runs)
{
  if (dice_below(&car->dice, 2))
    return file_say(TUNE, "fuel.pump_stops_without_engine", "off");
  return file_set(TUNE, "fuel.pump_stop_delay", 15);
}

PLANT(unconfirmed)
{
  return file_say(JOB, dice_below(&car->dice, 2) ? "output.fan_confirmed" : "output.idle_valve_confirmed", "off");
}

/* ---- protection */

PLANT(limit_high)
{
  if (dice_below(&car->dice, 2))
    return file_say(TUNE, "protection.speed_limit_action", "off");
  file_set(JOB, "planned.speed_limit", car->speed_maximum + 400);
  return file_set(TUNE, "protection.speed_limit", car->speed_maximum + 400);
}

PLANT(limit_hysteresis)
{
  return file_set(TUNE, "protection.speed_limit_hysteresis", dice_below(&car->dice, 2) ? 15 : 800);
}

PLANT(overtemp)
{
  if (dice_below(&car->dice, 2))
    return file_say(TUNE, "protection.coolant_action", "off");
  return file_set(TUNE, "protection.coolant_limit", 130);
}

PLANT(oil_action)
{
  return file_say(TUNE, "protection.oil_pressure_action", "off");
}

PLANT(lean_cut)
{
  return car->aspiration == TURBO && file_say(TUNE, "protection.lean_cut", "off");
}

PLANT(fuel_pressure_cut)
{
  return file_say(TUNE, "protection.fuel_pressure_action", "off");
}

PLANT(unreachable)
{
  if (car->aspiration == TURBO && dice_below(&car->dice, 2))
    return file_set(TUNE, "protection.boost_cut_pressure", car->sensor_top + 30);
  for (int i = 0; i < file_find(TUNE, "protection.oil_pressure_minimum")->nx; i++)
    file_find(TUNE, "protection.oil_pressure_minimum")->value[0][i] = 1100;
  return true;
}

const struct fault table_faults[] = {
    {"spark-cell-spike", spark_spike, "spark-table-rough spark-rises-with-load spark-envelope-high", SHEET},
    {"spark-table-rough", spark_rough, "spark-cell-spike spark-envelope-low", SHEET},
    {"spark-rises-with-load", spark_rises, "spark-cell-spike spark-table-rough spark-boost-slope spark-envelope-high",
     SHEET},
    {"spark-boost-slope", spark_slope, "spark-table-rough", SHEET},
    {"spark-envelope-high", spark_high, "", SHEET},
    {"spark-envelope-low", spark_low, "", SHEET},
    {"lambda-target-lean-in-boost", lean_in_boost, "lambda-target-jump lean-cut-missing", SHEET},
    {"lambda-target-envelope", mixture_envelope, "lambda-target-jump", SHEET},
    {"lambda-target-jump", mixture_jump, "lambda-target-envelope", SHEET},
    {"ve-cell-spike", filling_spike, "ve-band", SHEET},
    {"ve-band", filling_band, "ve-cell-spike injector-too-small", SHEET},
    {"ve-axis-coverage", filling_coverage, "", SHEET},
    {"injector-too-small", injectors_small, "", SHEET},
    {"injector-flow-vs-jobsheet", injector_flow, "injector-too-small reference-pulse-mismatch", SHEET},
    {"injector-pressure-basis", pressure_basis, "injector-too-small reference-pulse-mismatch fuel-pressure-droop",
     SHEET},
    {"reference-pulse-mismatch", reference_pulse, "", SHEET},
    {"boost-target-over-sensor", boost_sensor, "boost-cut-missing protection-never-reachable map-scale-mismatch",
     SHEET},
    {"boost-over-jobsheet", boost_over, "", SHEET},
    {"boost-reference-mixup", boost_reference, "temporary-limit-left", SHEET},
    {"boost-duty-sign", boost_sense, "", SHEET},
    {"map-scale-mismatch", map_scale, "", SHEET},
    {"thermistor-not-monotone", thermistor_turns, "thermistor-vs-published", SHEET},
    {"thermistor-vs-published", thermistor_other, "", SHEET},
    {"sensor-fault-band-missing", fault_band, "", SHEET},
    {"throttle-range-bad", throttle_range, "", SHEET},
    {"pin-shared", pin_twice, "input-wired-elsewhere output-wired-elsewhere", SHEET},
    {"function-without-pin", no_pin, "", SHEET},
    {"pin-without-function", pin_unused, "", SHEET},
    {"output-count-mismatch", output_count, "", SHEET},
    {"cylinder-count-mismatch", cylinder_count,
     "output-count-mismatch firing-order-mismatch reference-pulse-mismatch "
     "injector-too-small",
     SHEET},
    {"input-wired-elsewhere", input_crossed, "idle-step-input-unexpected", SHEET},
    {"fan-hysteresis-bad", fan_gap, "", SHEET},
    {"pump-runs-without-engine", pump_runs, "", SHEET},
    {"output-polarity-unconfirmed", unconfirmed, "", SHEET},
    {"rev-limit-missing-or-high", limit_high, "ve-axis-coverage injector-too-small", SHEET},
    {"rev-limit-hysteresis", limit_hysteresis, "", SHEET},
    {"overtemp-action-missing", overtemp, "protection-log-only", SHEET},
    {"oil-pressure-action-missing", oil_action, "protection-log-only", SHEET},
    {"lean-cut-missing", lean_cut, "", SHEET},
    {"fuel-pressure-cut-missing", fuel_pressure_cut, "protection-log-only", SHEET},
    {"protection-never-reachable", unreachable, "boost-cut-missing", SHEET},
    {0},
};
