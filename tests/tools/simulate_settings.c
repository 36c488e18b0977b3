/* Prints the tune as a settings file. Scalars that the simulated engine computer does not use are text here. Reading
 * order: helpers, sections from top to bottom of the file, settings_print. */
#include "simulate.h"

static void print_axis(FILE *out, const char *name, const char *unit, const double *at, int count)
{
  fprintf(out, "  %s: {unit: %s, at: [", name, unit);
  for (int i = 0; i < count; i++)
    fprintf(out, "%s%.10g", i > 0 ? ", " : "", at[i]);
  fputs("]}\n", out);
}

static void print_curve(FILE *out, const char *name, const struct curve *curve)
{
  fprintf(out, "%s:\n", name);
  print_axis(out, "x", curve->x_unit, curve->x, curve->count);
  fprintf(out, "  value: {unit: %s, at: [", curve->unit);
  for (int i = 0; i < curve->count; i++)
    fprintf(out, "%s%.*f", i > 0 ? ", " : "", curve->decimals, curve->value[i]);
  fputs("]}\n", out);
}

static void print_table(FILE *out, const char *name, const struct table *table)
{
  fprintf(out, "%s:\n", name);
  print_axis(out, "x", table->x_unit, table->x, table->columns);
  print_axis(out, "y", table->y_unit, table->y, table->rows);
  fprintf(out, "  value:\n    unit: %s\n    rows:\n", table->unit);
  for (int row = 0; row < table->rows; row++) {
    fputs("      - [", out);
    for (int column = 0; column < table->columns; column++)
      fprintf(out, "%s%5.*f", column > 0 ? ", " : "", table->decimals, table->value[row][column]);
    fprintf(out, "]  # %g %s\n", table->y[row], table->y_unit[0] == '"' ? "%" : table->y_unit);
  }
}

static void print_engine(FILE *out, const struct tune *tune)
{
  bool came = tune->variant == AS_IT_CAME;
  fputs("keyway-settings: 1\n"
        "# Sandpiper: an invented hillclimb car. Nothing here fits a real engine.\n\n"
        "# --- file and engine\n",
        out);
  fputs(came ? "file.title: Sandpiper, as it came\nfile.revision: \"6\"\nfile.based_on: Sandpiper, revision 5\n"
             : "file.title: Sandpiper, spring rebuild\nfile.revision: \"7\"\nfile.based_on: Sandpiper, revision 6\n",
        out);
  fputs("engine.cylinders: 4\n"
        "engine.displacement: 1998 cm3\n"
        "engine.firing_order: [1, 3, 4, 2]\n"
        "engine.stoichiometric_ratio: 14.6\n\n"
        "# --- injectors\n"
        "injector.count: 4\n"
        "injector.flow_rate: 650 cm3/min\n"
        "injector.rated_pressure: 300 kPa\n",
        out);
  print_curve(out, "injector.dead_time", &tune->dead_time);
  fputs("injector.duty_limit: 85 %\n"
        "injector.disabled: []\n\n",
        out);
}

static void print_fuel(FILE *out, const struct tune *tune)
{
  fputs("# --- fuel\n"
        "fuel.load_source: speed_density\n"
        "# 593.59 mg of air (499.5 cm3 at 100 kPa and 20 degC) / 14.6 / 8.0708 mg/ms (650 cm3/min of 0.745 kg/L)\n"
        "fuel.reference_pulse_width: 5.037 ms\n",
        out);
  print_table(out, "fuel.volumetric_efficiency", &tune->efficiency);
  print_table(out, "fuel.lambda_target", &tune->lambda);
  fputs("\n# --- start and warm-up\n", out);
  print_curve(out, "fuel.prime_pulse", &tune->prime_pulse);
  print_curve(out, "fuel.cranking_fuel", &tune->cranking_fuel);
  fputs("fuel.cranking_speed: 400 rpm\n", out);
  print_curve(out, "fuel.after_start_enrichment", &tune->after_start);
  print_curve(out, "fuel.after_start_duration", &tune->after_start_duration);
  print_curve(out, "fuel.warm_up_enrichment", &tune->warm_up);
  fputs("\n# --- fuel corrections\n", out);
  print_curve(out, "fuel.intake_air_correction", &tune->fuel_air);
  print_curve(out, "fuel.barometric_correction", &tune->barometric);
  print_curve(out, "fuel.acceleration_enrichment", &tune->acceleration);
  fputs("fuel.acceleration_threshold: 60 %/s\n"
        "fuel.acceleration_taper: 0.35 s\n"
        "fuel.overrun_cut: on\n"
        "fuel.overrun_cut_speed: 2000 rpm\n"
        "fuel.overrun_resume_speed: 1600 rpm\n"
        "fuel.overrun_minimum_coolant: 60 degC\n"
        "fuel.overrun_maximum_throttle: 1.5 %\n"
        "fuel.ethanol_sensor: off\n",
        out);
  print_curve(out, "fuel.ethanol_fuel_correction", &tune->ethanol_fuel);
  print_curve(out, "fuel.ethanol_spark_correction", &tune->ethanol_spark);
  fputs("\n# --- lambda control\n"
        "lambda_control.mode: closed_loop\n"
        "lambda_control.authority: 10 %\n"
        "lambda_control.minimum_coolant: 65 degC\n"
        "lambda_control.maximum_manifold_pressure: 75 kPa\n"
        "lambda_control.maximum_throttle: 40 %\n"
        "lambda_control.self_learning: off\n\n",
        out);
}

static void print_spark(FILE *out, const struct tune *tune)
{
  fprintf(out,
          "# --- ignition\n"
          "ignition.timing_mode: table\n"
          "ignition.fixed_advance: %.10g deg\n"
          "ignition.trigger_offset: 84 deg\n"
          "ignition.trigger_edge: falling\n"
          "ignition.trigger_latency: 40 us\n"
          "ignition.cranking_advance: 8 deg\n",
          tune->fixed_advance);
  print_table(out, "ignition.spark_advance", &tune->spark);
  print_curve(out, "ignition.coolant_correction", &tune->spark_coolant);
  print_curve(out, "ignition.intake_air_correction", &tune->spark_air);
  print_curve(out, "ignition.idle_correction", &tune->spark_idle);
  fputs("ignition.advance_limit: 42 deg\n", out);
  print_curve(out, "ignition.dwell", &tune->dwell);
  fputs("ignition.dwell_cranking: 4 ms\n"
        "ignition.coil_layout: coil_per_cylinder\n"
        "ignition.coil_charges_while: output_high\n"
        "ignition.knock_control: on\n"
        "ignition.knock_maximum_retard: 8 deg\n\n",
        out);
}

static void print_idle(FILE *out, const struct tune *tune)
{
  bool came = tune->variant == AS_IT_CAME;
  fprintf(out,
          "# --- idle\n"
          "idle.control: %s\n"
          "idle.valve_sense: %s\n"
          "idle.valve_frequency: 150 Hz\n",
          tune->closed_loop_idle ? "closed_loop" : "open_loop",
          tune->opens_with_duty ? "opens_with_duty" : "closes_with_duty");
  print_curve(out, "idle.valve_duty", &tune->valve_duty);
  print_curve(out, "idle.cranking_duty", &tune->valve_cranking);
  fputs("idle.duty_minimum: 12 %\n"
        "idle.duty_maximum: 85 %\n",
        out);
  print_curve(out, "idle.speed_target", &tune->idle_target);
  fprintf(out,
          "idle.maximum_throttle: 2 %%\n"
          "idle.output_test: off\n"
          "idle.output_test_duty: 50 %%\n"
          "idle.air_conditioning_step: on\n"
          "idle.air_conditioning_step_input: %s\n"
          "idle.air_conditioning_step_speed: 150 rpm\n"
          "idle.air_conditioning_step_duty: 8 %%  # more opening, in whichever sense the valve has\n\n",
          came ? "IN3" : "IN4");
}

static void print_pins(FILE *out, const struct tune *tune)
{
  bool came = tune->variant == AS_IT_CAME;
  fprintf(out,
          "# --- inputs and outputs\n"
          "inputs:\n"
          "  crank_sensor: TR1\n"
          "  cam_sensor: TR2\n"
          "  manifold_pressure: AN1\n"
          "  throttle_position: AN2\n"
          "  coolant_temperature: AN3\n"
          "  intake_air_temperature: AN4\n"
          "  lambda: AN5\n"
          "  oil_pressure: AN6\n"
          "  fuel_pressure: AN7\n"
          "  knock_sensor: KN1\n"
          "  vehicle_speed: IN1\n"
          "  clutch_switch: IN3\n"
          "  air_conditioning_request: IN4\n"
          "  brake_switch: %s\n"
          "  launch_button: %s\n"
          "  neutral_switch: IN7\n",
          came ? "IN6" : "IN5", came ? "IN5" : "IN6");
  fputs("outputs:\n", out);
  for (int i = 1; i <= 4; i++)
    fprintf(out, "  injector_%d: INJ%d\n", i, i);
  for (int i = 1; i <= 4; i++)
    fprintf(out, "  coil_%d: IGN%d\n", i, i);
  fprintf(out,
          "  fuel_pump: OUT1\n"
          "  tachometer: OUT2\n"
          "  idle_valve: OUT3\n"
          "  air_conditioning_compressor: OUT4\n"
          "  boost_solenoid: OUT5\n"
          "  fan: %s\n"
          "  warning_lamp: OUT7\n"
          "outputs.test_mode: off\n\n",
          came ? "OUT5" : "OUT6");
}

static void print_rest(FILE *out, const struct tune *tune)
{
  fputs("# --- sensors (one kind of thermistor in the coolant and in the air)\n", out);
  print_curve(out, "sensor.coolant_calibration", &tune->coolant_sensor);
  print_curve(out, "sensor.intake_air_calibration", &tune->coolant_sensor);
  print_curve(out, "sensor.lambda_calibration", &tune->lambda_sensor);
  fputs("sensor.manifold_pressure_minimum: 10 kPa\n"
        "sensor.manifold_pressure_maximum: 250 kPa\n"
        "sensor.throttle_closed_voltage: 0.55 V\n"
        "sensor.throttle_open_voltage: 4.50 V\n\n"
        "# --- boost (absolute)\n"
        "boost.control: closed_loop\n",
        out);
  print_table(out, "boost.target", &tune->boost);
  fputs("boost.duty_maximum: 75 %\n\n"
        "# --- protection and special modes\n"
        "protection.speed_limit: 6900 rpm\n"
        "protection.speed_limit_action: spark_and_fuel\n"
        "protection.boost_cut: on\n"
        "protection.boost_cut_pressure: 195 kPa\n"
        "protection.coolant_limit: 112 degC\n"
        "protection.lean_cut: on\n"
        "protection.lean_cut_lambda: 0.92 lambda\n",
        out);
  print_curve(out, "protection.oil_pressure_minimum", &tune->oil_minimum);
  fputs("launch.enabled: on\n"
        "launch.input: launch_button\n"
        "launch.speed_limit: 4200 rpm\n"
        "launch.maximum_vehicle_speed: 8 km/h\n"
        "fan.on_temperature: 93 degC\n"
        "fan.off_temperature: 89 degC\n",
        out);
}

/* What the rules ask beyond what the engine of the simulator runs on: nothing here moves the log. */
static void print_more(FILE *out, const struct tune *tune)
{
  fputs("\n# --- further correction, protection and special modes\n"
        "fuel.flood_clear: on\n"
        "fuel.flood_clear_throttle: 80 %\n"
        "fuel.cylinder_trim: [0, 0, 0, 0]\n"
        "fuel.pressure_compensation: off\n"
        "fuel.pump_stops_without_engine: on\n"
        "fuel.pump_stop_delay: 2 s\n"
        "ignition.knock_recovery_rate: 0.5 deg/s\n"
        "ignition.cylinder_trim: [0, 0, 0, 0]\n"
        "ignition.disabled: []\n"
        "ignition.high_octane_weight: 100 %\n"
        "boost.duty_sense: raises_pressure\n"
        "boost.intake_air_reduction:\n"
        "  x: {unit: degC, at: [50, 65, 80]}\n"
        "  value: {unit: kPa, at: [0, 10, 25]}\n"
        "boost.coolant_reduction:\n"
        "  x: {unit: degC, at: [104, 110, 116]}\n"
        "  value: {unit: kPa, at: [0, 20, 50]}\n"
        "protection.speed_limit_hysteresis: 150 rpm\n"
        "protection.sensor_fallback: on\n"
        "protection.coolant_action: reduce\n"
        "protection.oil_pressure_action: cut\n"
        "protection.knock_action: retard\n"
        "protection.fuel_pressure_minimum: 260 kPa\n"
        "protection.fuel_pressure_action: cut\n"
        "protection.lean_cut_delay: 0.5 s\n"
        "protection.lean_cut_from_pressure: 130 kPa\n"
        "launch.flat_shift: off\n"
        "launch.exhaust_heat: off\n",
        out);
  fputs("\n# --- what counts as a broken sensor, and what stands in for one\n", out);
  static const char *const sensors[] = {"coolant", "intake_air", "manifold_pressure", "throttle"};
  for (size_t i = 0; i < sizeof sensors / sizeof *sensors; i++)
    fprintf(out, "sensor.%s_fault_low: 0.15 V\nsensor.%s_fault_high: 4.85 V\nsensor.%s_substitute: off\n", sensors[i],
            sensors[i], sensors[i]);
  fputs("sensor.lambda_substitute: off\n"
        "sensor.oil_pressure_maximum: 1000 kPa\n",
        out);
  if (tune->variant != AS_IT_CAME)
    fputs("\n# --- history\n"
          "file.saved: 2026-04-11T15:40:00Z\n"
          "file.note: faults of the look put right; warm-up, idle and spark set anew\n",
          out);
}

bool settings_print(FILE *out, const struct tune *tune)
{
  print_engine(out, tune);
  print_fuel(out, tune);
  print_spark(out, tune);
  print_idle(out, tune);
  print_pins(out, tune);
  print_rest(out, tune);
  print_more(out, tune);
  return !ferror(out);
}
