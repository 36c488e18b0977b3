/* A sound tune: a car with 4, 6 or 8 cylinders, with or without a turbocharger, on petrol or E85, and settings that a
 * careful workshop could have given it. Shapes are smooth functions of speed, pressure and temperature, sampled on axes
 * of a random length. What is usual comes from the trade, not from the rules. */
#include "faults.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- curves */

/* A straight grid from low to high, each step in `step`. */
static void spread(double *at, int count, double low, double high, double step)
{
  for (int i = 0; i < count; i++)
    at[i] = round_to(low + (high - low) * i / (count - 1), step);
}

static double smooth_step(double x, double low, double high)
{
  double t = fmin(fmax((x - low) / (high - low), 0), 1);

  return t * t * (3 - 2 * t);
}

/* value = hot + (cold - hot) * ((warm - T) / (warm + 20))^power below `warm`, and hot above */
static void cooling_curve(struct car *car, const char *name, enum quantity of, double cold, double hot, double warm,
                          double power, double step)
{
  struct item *item = file_curve(&car->settings, name, TEMPERATURE, of, 7 + dice_below(&car->dice, 5));

  spread(item->x, item->nx, -20, round_to(dice_between(&car->dice, 90, 100), 5), 1);
  for (int i = 0; i < item->nx; i++) {
    double t = fmax((warm - item->x[i]) / (warm + 20), 0);

    item->value[0][i] = round_to(hot + (cold - hot) * pow(t, power), step);
  }
}

/* value = a * (14 / V)^power */
static void voltage_curve(struct car *car, const char *name, double at_14, double power)
{
  struct item *item = file_curve(&car->settings, name, VOLTS, MILLISECONDS, 6 + dice_below(&car->dice, 4));

  spread(item->x, item->nx, 7, 16.5, 0.1);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(at_14 * pow(14 / item->x[i], power), 0.001);
}

/* ---- the three tables */

static void table_axes(struct car *car, struct item *item, double top)
{
  spread(item->x, item->nx, 500, round_to(car->speed_limit + 200, 100), 10);
  spread(item->y, item->ny, 20, top, 1);
}

static double filling(const struct car *car, double speed, double pressure)
{
  double peak = 0.62 * car->speed_limit, off = (speed - peak) / peak;
  double by_speed = 1 - 0.22 * off * off;

  return by_speed * (0.55 + 0.45 * (1 - exp(-pressure / 55))) * (car->aspiration == TURBO ? 96 : 100);
}

static double mixture(const struct car *car, double pressure)
{
  double part = 1 - 0.10 * smooth_step(pressure, 35, 110);
  double boosted = pressure > 100 ? 0.10 * smooth_step(pressure, 90, 240) : 0;

  return part - boosted - 0.03 * smooth_step(pressure, 85, 130) * (car->aspiration == TURBO) + 0.01 * car->ethanol;
}

static double advance(const struct car *car, double speed, double pressure)
{
  double by_speed = 11 + (car->part_advance - 11) * (1 - exp(-fmax(speed - 700, 0) / 1100));
  double by_load = (car->part_advance - car->full_advance) * fmin(fmax((pressure - 40) / 60, 0), 1);
  double in_boost = car->fall_in_boost * fmax(pressure - 100, 0);

  return by_speed - by_load * (0.45 + 0.55 * smooth_step(speed, 500, 3500)) -
         in_boost * (0.65 + 0.35 * smooth_step(speed, 500, 3500));
}

static void tables(struct car *car)
{
  struct dice *dice = &car->dice;
  double top = car->aspiration == TURBO ? round_to(car->peak_pressure + 25, 5) : 105;
  int nx = 10 + dice_below(dice, 11), ny = (car->aspiration == TURBO ? 12 : 8) + dice_below(dice, 9);
  struct item *fuel = file_table(&car->settings, "fuel.volumetric_efficiency", PRESSURE, PERCENT, nx, ny);
  struct item *lambda =
      file_table(&car->settings, "fuel.lambda_target", PRESSURE, MIXTURE, 8 + dice_below(dice, 9), ny);
  struct item *spark =
      file_table(&car->settings, "ignition.spark_advance", PRESSURE, ANGLE, 10 + dice_below(dice, 11), ny);

  table_axes(car, fuel, top);
  table_axes(car, lambda, top);
  table_axes(car, spark, top);
  for (int j = 0; j < ny; j++) {
    for (int i = 0; i < fuel->nx; i++)
      fuel->value[j][i] = round_to(filling(car, fuel->x[i], fuel->y[j]), 0.1);
    for (int i = 0; i < lambda->nx; i++)
      lambda->value[j][i] = round_to(mixture(car, lambda->y[j]), 0.001);
    for (int i = 0; i < spark->nx; i++)
      spark->value[j][i] = round_to(advance(car, spark->x[i], spark->y[j]), 0.1);
  }
}

/* ---- the rest, part by part */

static void choose_engine(struct car *car)
{
  static const int cylinders[] = {4, 6, 8};
  struct dice *dice = &car->dice;
  double air, duty = dice_between(dice, 0.62, 0.76), cycle;

  car->cylinders = cylinders[dice_below(dice, 3)];
  car->aspiration = dice_below(dice, 2) ? TURBO : NATURAL;
  car->ethanol = dice_below(dice, 3) == 0;
  car->litres = round_to(car->cylinders * dice_between(dice, 0.33, 0.62), 0.001);
  car->speed_limit = round_to(dice_between(dice, 6000, 7800), 100);
  car->speed_maximum = car->speed_limit + round_to(dice_between(dice, 150, 500), 50);
  car->peak_pressure = car->aspiration == TURBO ? round_to(dice_between(dice, 150, 220), 5) : 100;
  car->sensor_top = car->aspiration == TURBO ? (car->peak_pressure < 195 ? 250 : 300) : dice_below(dice, 2) ? 250 : 115;
  car->ratio = car->ethanol ? 9.8 : dice_below(dice, 2) ? 14.6 : 14.7;
  car->density = car->ethanol ? 0.782 : 0.745;
  car->dead_14 = round_to(dice_between(dice, 0.7, 1.1), 0.01);
  car->altitude = round_to(dice_between(dice, 0, 600), 10);
  car->thermostat = dice_below(dice, 2) ? 82 : 88;
  car->idle_speed = round_to(dice_between(dice, 750, 950), 10);
  car->part_advance = dice_between(dice, 33, 37);
  car->full_advance = car->aspiration == TURBO ? dice_between(dice, 19, 21) : dice_between(dice, 26, 31);
  car->fall_in_boost = car->ethanol ? dice_between(dice, 0.07, 0.10)
                                    : fmin(dice_between(dice, 0.09, 0.13), 15 / (car->peak_pressure - 75));
  car->base_pressure = 300;

  /* gas law, R of dry air 287.05 J/(kg K): mg of air at full filling and the highest pressure at 20 degC */
  cycle = 120000 / car->speed_limit;
  air = 1.02 * car->peak_pressure * car->litres / car->cylinders / (287.05 * 293.15) * 1e6;
  car->flow = air / (mixture(car, car->peak_pressure) * car->ratio) / (duty * cycle - car->dead_14) * 60 / car->density;
  car->flow = round_to(car->flow, 5);
  air = 100 * car->litres / car->cylinders / (287.05 * 293.15) * 1e6;
  car->pulse = air / car->ratio / (car->flow * car->density / 60);
}

static void firing_order(struct file *file, int cylinders)
{
  static const double four[] = {1, 3, 4, 2}, six[] = {1, 5, 3, 6, 2, 4}, eight[] = {1, 8, 4, 3, 6, 5, 7, 2};

  file_list(file, "engine.firing_order", NOTHING, cylinders, cylinders == 4 ? four : cylinders == 6 ? six : eight);
}

static void engine_and_fuel(struct car *car)
{
  struct file *file = &car->settings;
  double none[8] = {0};
  struct item *item;

  file_word(file, "file.title", "invented car");
  file_word(file, "file.revision", "7");
  file_word(file, "file.saved", "2026-03-02T17:40:00Z");
  file_word(file, "file.note", "workshop, 2026-03-02: after the dynamometer");
  file_number(file, "engine.cylinders", NOTHING, car->cylinders);
  file_number(file, "engine.displacement", VOLUME, car->litres);
  firing_order(file, car->cylinders);
  file_number(file, "engine.stoichiometric_ratio", NOTHING, car->ratio);
  file_number(file, "injector.count", NOTHING, car->cylinders);
  file_number(file, "injector.flow_rate", FLOW, car->flow);
  file_number(file, "injector.rated_pressure", PRESSURE, car->base_pressure);
  file_number(file, "injector.duty_limit", PERCENT, 85);
  file_list(file, "injector.disabled", NOTHING, 0, none);
  voltage_curve(car, "injector.dead_time", car->dead_14, dice_between(&car->dice, 1.4, 1.8));
  file_word(file, "fuel.load_source", "speed_density");
  file_number(file, "fuel.reference_pulse_width", MILLISECONDS, round_to(car->pulse, 0.001));
  file_list(file, "fuel.cylinder_trim", PERCENT, car->cylinders, none);
  file_word(file, "fuel.pressure_compensation", "off");
  file_number(file, "fuel.pump_stop_delay", SECONDS, 2);
  file_word(file, "fuel.pump_stops_without_engine", "on");
  file_word(file, "fuel.overrun_cut", "on");
  file_number(file, "fuel.overrun_resume_speed", SPEED, car->idle_speed + 500);
  file_number(file, "fuel.overrun_cut_speed", SPEED, car->idle_speed + 900);
  file_number(file, "fuel.overrun_minimum_coolant", TEMPERATURE, 60);
  file_number(file, "fuel.overrun_maximum_throttle", PERCENT, 1.5);
  item = file_curve(file, "fuel.intake_air_correction", TEMPERATURE, PERCENT, 6 + dice_below(&car->dice, 5));
  spread(item->x, item->nx, -20, 100, 1);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(100 * 293.15 / (item->x[i] + 273.15), 0.1);
  item = file_curve(file, "fuel.acceleration_enrichment", RATE, PERCENT, 5 + dice_below(&car->dice, 4));
  spread(item->x, item->nx, 60, 800, 10);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(4 + 46 * (item->x[i] - 60) / 740, 1);
  file_number(file, "fuel.acceleration_threshold", RATE, 60);
  file_number(file, "fuel.acceleration_taper", SECONDS, 0.35);
  file_word(file, "fuel.ethanol_sensor", "off");
}

static void start_and_idle(struct car *car)
{
  struct file *file = &car->settings;
  struct dice *dice = &car->dice;
  double wet = car->ethanol ? 1.3 : 1, open_cold, open_warm;

  cooling_curve(car, "fuel.cranking_fuel", PERCENT, dice_between(dice, 380, 450) * wet, 110, 95, 1.6, 1);
  cooling_curve(car, "fuel.after_start_enrichment", PERCENT, dice_between(dice, 35, 45) * wet, 6, 95, 1.3, 1);
  cooling_curve(car, "fuel.after_start_duration", SECONDS, dice_between(dice, 35, 50), 8, 95, 1.2, 1);
  cooling_curve(car, "fuel.warm_up_enrichment", PERCENT, dice_between(dice, 155, 175), 100, 68, 1.5, 0.5);
  cooling_curve(car, "fuel.prime_pulse", MILLISECONDS, dice_between(dice, 18, 24), 5, 90, 1.3, 0.1);
  file_number(file, "fuel.cranking_speed", SPEED, 400);
  file_word(file, "fuel.flood_clear", "on");
  file_number(file, "fuel.flood_clear_throttle", PERCENT, round_to(dice_between(dice, 78, 88), 1));
  file_word(file, "idle.control", "closed_loop");
  file_word(file, "idle.valve_sense", "opens_with_duty");
  file_number(file, "idle.valve_frequency", FREQUENCY, 150);
  open_cold = dice_between(dice, 60, 68);
  open_warm = dice_between(dice, 31, 36);
  cooling_curve(car, "idle.valve_duty", PERCENT, open_cold, open_warm, 90, 1.1, 0.5);
  cooling_curve(car, "idle.cranking_duty", PERCENT, 75, 45, 90, 1.1, 0.5);
  file_number(file, "idle.duty_minimum", PERCENT, 15);
  file_number(file, "idle.duty_maximum", PERCENT, 85);
  cooling_curve(car, "idle.speed_target", SPEED, car->idle_speed + dice_between(dice, 300, 450), car->idle_speed, 72,
                1.1, 10);
  file_number(file, "idle.maximum_throttle", PERCENT, 2);
  file_word(file, "idle.output_test", "off");
  file_word(file, "idle.air_conditioning_step", "on");
  file_word(file, "idle.air_conditioning_step_input", "air_conditioning_request");
  file_number(file, "idle.air_conditioning_step_speed", SPEED, 120);
  file_number(file, "idle.air_conditioning_step_duty", PERCENT, 8);
  file_word(file, "lambda_control.mode", "closed_loop");
  file_number(file, "lambda_control.authority", PERCENT, round_to(dice_between(dice, 8, 15), 1));
  file_number(file, "lambda_control.minimum_coolant", TEMPERATURE, 65);
  file_number(file, "lambda_control.maximum_manifold_pressure", PRESSURE, 75);
  file_number(file, "lambda_control.maximum_throttle", PERCENT, 40);
  file_word(file, "lambda_control.self_learning", "off");
}

static void correction(struct car *car, const char *name, enum quantity of_x, double low, double high, double from,
                       double slope)
{
  struct item *item = file_curve(&car->settings, name, of_x, ANGLE, 7 + dice_below(&car->dice, 4));

  spread(item->x, item->nx, low, high, 1);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(slope * fmax(item->x[i] - from, 0), 0.1);
}

static void ignition(struct car *car)
{
  struct file *file = &car->settings;
  double none[8] = {0};
  struct item *item;

  file_word(file, "ignition.timing_mode", "table");
  file_number(file, "ignition.fixed_advance", ANGLE, 10);
  file_number(file, "ignition.trigger_offset", ANGLE, round_to(dice_between(&car->dice, 50, 110), 1));
  file_word(file, "ignition.trigger_edge", "falling");
  file_number(file, "ignition.trigger_latency", MICROSECONDS, 40);
  file_number(file, "ignition.cranking_advance", ANGLE, round_to(dice_between(&car->dice, 5, 10), 1));
  correction(car, "ignition.coolant_correction", TEMPERATURE, -20, 115, 98, -0.3);
  correction(car, "ignition.intake_air_correction", TEMPERATURE, -20, 100, 40, -0.14);
  item = file_curve(file, "ignition.idle_correction", SPEED, ANGLE, 7);
  spread(item->x, item->nx, -300, 300, 1);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(item->x[i] / 60, 0.1);
  file_number(file, "ignition.advance_limit", ANGLE, 42);
  voltage_curve(car, "ignition.dwell", dice_between(&car->dice, 2.6, 3.0), 1.15);
  file_number(file, "ignition.dwell_cranking", MILLISECONDS, 4);
  file_word(file, "ignition.coil_layout", dice_below(&car->dice, 3) ? "coil_per_cylinder" : "wasted_spark");
  file_word(file, "ignition.coil_charges_while", dice_below(&car->dice, 2) ? "output_high" : "output_low");
  file_word(file, "ignition.knock_control", "on");
  file_number(file, "ignition.knock_maximum_retard", ANGLE, round_to(dice_between(&car->dice, 6, 10), 0.5));
  file_number(file, "ignition.knock_recovery_rate", ANGLE_RATE, 1);
  file_list(file, "ignition.cylinder_trim", ANGLE, car->cylinders, none);
  file_list(file, "ignition.disabled", NOTHING, 0, none);
}

/* ---- inputs, outputs, sensors */

static void wiring(struct car *car)
{
  static const char *const analogue[] = {
      "manifold_pressure", "throttle_position", "coolant_temperature", "intake_air_temperature", "lambda",
      "oil_pressure",      "fuel_pressure"};
  static const char *const digital[] = {"vehicle_speed", "clutch_switch", "air_conditioning_request", "brake_switch",
                                        "neutral_switch"};
  static const char *const outputs[] = {"fuel_pump", "tachometer",   "idle_valve",    "air_conditioning_compressor",
                                        "fan",       "warning_lamp", "boost_solenoid"};
  struct file *file = &car->settings;
  bool pairs = strcmp(file_find(file, "ignition.coil_layout")->word, "wasted_spark") == 0;
  int first = 1 + dice_below(&car->dice, 4);
  char function[NAME], pin[NAME];

  file_pin(file, "inputs", "crank_sensor", "TR1");
  file_pin(file, "inputs", "cam_sensor", "TR2");
  file_pin(file, "inputs", "knock_sensor", "KN1");
  for (int i = 0; i < 7; i++) {
    snprintf(pin, sizeof pin, "AN%d", i + first);
    file_pin(file, "inputs", analogue[i], pin);
  }
  for (int i = 0; i < 5; i++) {
    snprintf(pin, sizeof pin, "IN%d", i + first);
    file_pin(file, "inputs", digital[i], pin);
  }
  for (int i = 1; i <= car->cylinders; i++) {
    snprintf(function, sizeof function, "injector_%d", i);
    snprintf(pin, sizeof pin, "INJ%d", i);
    file_pin(file, "outputs", function, pin);
  }
  for (int i = 1; i <= (pairs ? car->cylinders / 2 : car->cylinders); i++) {
    snprintf(function, sizeof function, "coil_%d", i);
    snprintf(pin, sizeof pin, "IGN%d", i);
    file_pin(file, "outputs", function, pin);
  }
  for (int i = 0; i < (car->aspiration == TURBO ? 7 : 6); i++) {
    snprintf(pin, sizeof pin, "OUT%d", i + first);
    file_pin(file, "outputs", outputs[i], pin);
  }
  file_word(file, "outputs.test_mode", "off");
}

/* Ohm of a coolant sensor out of a maker's service text, -40 to 130 degC */
static void thermistor(struct car *car, const char *name)
{
  static const double curve[][2] = {{83.1, 130}, {135.2, 110}, {175.7, 100}, {231.2, 90}, {308.6, 80},  {418.1, 70},
                                    {575.8, 60}, {1152, 40},   {2502, 20},   {5975, 0},   {15971, -20}, {48805, -40}};
  struct item *item = file_curve(&car->settings, name, RESISTANCE, TEMPERATURE, 12);

  for (int i = 0; i < item->nx; i++) {
    item->x[i] = curve[i][0];
    item->value[0][i] = curve[i][1];
  }
}

static void sensors(struct car *car)
{
  static const char *const kinds[] = {"coolant", "intake_air", "manifold_pressure", "throttle", "lambda"};
  struct file *file = &car->settings;
  struct item *item;
  char name[NAME];

  thermistor(car, "sensor.coolant_calibration");
  thermistor(car, "sensor.intake_air_calibration");
  item = file_curve(file, "sensor.lambda_calibration", VOLTS, MIXTURE, 6);
  spread(item->x, item->nx, 0, 5, 1);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(0.6 + 0.18 * item->x[i], 0.01);
  file_number(file, "sensor.manifold_pressure_minimum", PRESSURE, 10);
  file_number(file, "sensor.manifold_pressure_maximum", PRESSURE, car->sensor_top);
  file_number(file, "sensor.throttle_closed_voltage", VOLTS, round_to(dice_between(&car->dice, 0.45, 0.65), 0.01));
  file_number(file, "sensor.throttle_open_voltage", VOLTS, round_to(dice_between(&car->dice, 4.1, 4.5), 0.01));
  file_number(file, "sensor.oil_pressure_maximum", PRESSURE, 1000);
  for (int i = 0; i < 5; i++) {
    snprintf(name, sizeof name, "sensor.%s_substitute", kinds[i]);
    file_word(file, name, "off");
    if (i == 4)
      break;
    snprintf(name, sizeof name, "sensor.%s_fault_low", kinds[i]);
    file_number(file, name, VOLTS, 0.15);
    snprintf(name, sizeof name, "sensor.%s_fault_high", kinds[i]);
    file_number(file, name, VOLTS, 4.85);
  }
}

/* ---- boost and protection */

static void boost(struct car *car)
{
  struct file *file = &car->settings;
  struct item *item = file_table(file, "boost.target", PERCENT, PRESSURE, 8, 5);

  spread(item->x, item->nx, 1500, car->speed_limit, 100);
  spread(item->y, item->ny, 20, 100, 1);
  for (int j = 0; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] = round_to(100 + (car->peak_pressure - 100) * smooth_step(item->y[j], 15, 100) *
                                             (0.4 + 0.6 * smooth_step(item->x[i], 1200, 3500)),
                                   1);
  file_word(file, "boost.control", "closed_loop");
  file_number(file, "boost.duty_maximum", PERCENT, 75);
  file_word(file, "boost.duty_sense", "raises_pressure");
  item = file_curve(file, "boost.intake_air_reduction", TEMPERATURE, PRESSURE, 6);
  spread(item->x, item->nx, 0, 100, 1);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(fmax(item->x[i] - 45, 0) * 0.8, 1);
  item = file_curve(file, "boost.coolant_reduction", TEMPERATURE, PRESSURE, 6);
  spread(item->x, item->nx, 60, 115, 1);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(fmax(item->x[i] - 100, 0) * 3, 1);
  file_word(file, "protection.boost_cut", "on");
  file_number(file, "protection.boost_cut_pressure", PRESSURE, car->peak_pressure + 15);
  file_word(file, "protection.lean_cut", "on");
  file_number(file, "protection.lean_cut_lambda", MIXTURE, 0.90);
  file_number(file, "protection.lean_cut_delay", SECONDS, 0.5);
  file_number(file, "protection.lean_cut_from_pressure", PRESSURE, 130);
}

static void protection(struct car *car)
{
  struct file *file = &car->settings;
  struct item *item;

  file_number(file, "protection.speed_limit", SPEED, car->speed_limit);
  file_word(file, "protection.speed_limit_action", "spark_and_fuel");
  file_number(file, "protection.speed_limit_hysteresis", SPEED, round_to(dice_between(&car->dice, 80, 220), 10));
  file_word(file, "protection.sensor_fallback", "on");
  file_word(file, "protection.coolant_action", "reduce");
  file_number(file, "protection.coolant_limit", TEMPERATURE, round_to(dice_between(&car->dice, 108, 114), 1));
  file_word(file, "protection.oil_pressure_action", "cut");
  item = file_curve(file, "protection.oil_pressure_minimum", SPEED, PRESSURE, 7);
  spread(item->x, item->nx, 800, car->speed_limit, 100);
  for (int i = 0; i < item->nx; i++)
    item->value[0][i] = round_to(50 + 0.042 * item->x[i], 5);
  file_word(file, "protection.knock_action", "retard");
  file_word(file, "protection.fuel_pressure_action", "cut");
  file_number(file, "protection.fuel_pressure_minimum", PRESSURE, 240);
  file_word(file, "launch.enabled", "off");
  file_word(file, "launch.flat_shift", "off");
  file_word(file, "launch.exhaust_heat", "off");
  file_word(file, "emission.exhaust_recirculation", "on");
  file_word(file, "emission.evaporative_purge", "on");
  file_word(file, "emission.secondary_air", "on");
  file_word(file, "emission.exhaust_valve", "on");
  file_number(file, "fan.on_temperature", TEMPERATURE, car->thermostat + 11);
  file_number(file, "fan.off_temperature", TEMPERATURE, car->thermostat + 7);
}

void car_make(struct car *car, uint64_t seed)
{
  car->settings.count = car->job.count = car->before.count = 0;
  car->with_log = car->with_before = false;
  car->limits[0] = '\0';
  car->dice.state = seed * 0x2545f4914f6cdd1du + 1;
  choose_engine(car);
  engine_and_fuel(car);
  start_and_idle(car);
  ignition(car);
  tables(car);
  wiring(car);
  sensors(car);
  if (car->aspiration == TURBO)
    boost(car);
  else
    file_word(&car->settings, "boost.control", "off");
  protection(car);
  car_job(car);
}
