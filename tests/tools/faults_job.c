/* The job sheet of a sound car: what it is built from, told apart from the settings, and readings by hand that agree.
 */
#include "faults.h"

#include <math.h>
#include <string.h>

static void copy(struct car *car, const char *name)
{
  struct item *from = file_find(&car->settings, name);

  if (from != NULL)
    car->job.item[car->job.count++] = *from;
}

static void readings(struct car *car)
{
  struct file *job = &car->job;
  struct item *item = file_records(job, "timing_light");
  double outside = 101.325 * pow(1 - 0.0065 * car->altitude / 288.15, 5.25588); /* ISO 2533 */

  records_field(item, "commanded", ANGLE);
  records_field(item, "measured", ANGLE);
  records_field(item, "engine_speed", SPEED);
  for (int i = 0; i < 5; i++)
    records_add(item, 10, 10 + 0.5 * (i % 2), 900 + 1000 * i);
  item = file_records(job, "fuel_pressure");
  records_field(item, "manifold_pressure", PRESSURE);
  records_field(item, "fuel_pressure", PRESSURE);
  for (int i = 0; i <= 4; i++) {
    double p = 35 + (car->peak_pressure - 35) * i / 4;

    records_add(item, round_to(p, 1), round_to(car->base_pressure + p - outside, 1), 0);
  }
  item = file_records(job, "lambda_gauge");
  records_field(item, "logged", MIXTURE);
  records_field(item, "gauge", MIXTURE);
  for (int i = 0; i < 6; i++)
    records_add(item, 0.8 + 0.04 * i, 0.801 + 0.04 * i + 0.002 * (i % 2), 0);
  item = file_records(job, "battery");
  records_field(item, "engine_speed", SPEED);
  records_field(item, "voltage", VOLTS);
  records_field(item, "logged", VOLTS);
  records_add(item, car->idle_speed, 14.15, 14.10);
  records_add(item, 3000, 14.20, 14.17);
  item = file_records(job, "coolant");
  records_field(item, "measured", TEMPERATURE);
  records_field(item, "logged", TEMPERATURE);
  records_add(item, 20, 19.5, 0);
  records_add(item, 90, 90.8, 0);
  item = file_records(job, "intake_air");
  records_field(item, "measured", TEMPERATURE);
  records_field(item, "logged", TEMPERATURE);
  records_add(item, 20, 20.4, 0);
  item = file_records(job, "engine_speed");
  records_field(item, "measured", SPEED);
  records_field(item, "logged", SPEED);
  records_add(item, 905, 900, 0);
  records_add(item, 2990, 3000, 0);
  item = file_records(job, "coolant_sensor");
  records_field(item, "temperature", TEMPERATURE);
  records_field(item, "resistance", RESISTANCE);
  records_add(item, 0, 5975, 0);
  records_add(item, 20, 2502, 0);
  records_add(item, 80, 308.6, 0);
  records_add(item, 100, 175.7, 0);
  item = file_records(job, "intake_air_sensor");
  records_field(item, "temperature", TEMPERATURE);
  records_field(item, "resistance", RESISTANCE);
  records_add(item, 0, 5975, 0);
  records_add(item, 20, 2502, 0);
  records_add(item, 60, 575.8, 0);
  records_add(item, 100, 175.7, 0);
  item = file_records(job, "throttle_sensor");
  records_field(item, "opening", PERCENT);
  records_field(item, "voltage", VOLTS);
  for (int i = 0; i <= 4; i++) {
    double closed = file_get(&car->settings, "sensor.throttle_closed_voltage"),
           open = file_get(&car->settings, "sensor.throttle_open_voltage");

    records_add(item, 25 * i, round_to(closed + (open - closed) * i / 4, 0.01), 0);
  }
}

void car_job(struct car *car)
{
  static const char *const same[] = {"engine.cylinders",
                                     "engine.displacement",
                                     "engine.firing_order",
                                     "injector.count",
                                     "injector.flow_rate",
                                     "injector.rated_pressure",
                                     "ignition.coil_layout",
                                     "ignition.coil_charges_while",
                                     "idle.valve_sense",
                                     "sensor.manifold_pressure_maximum",
                                     "sensor.manifold_pressure_minimum",
                                     "boost.duty_sense",
                                     "file.revision",
                                     "inputs",
                                     "outputs"};
  static const char *const fitted[] = {"lambda_sensor.fitted",
                                       "sensor.oil_pressure_fitted",
                                       "sensor.fuel_pressure_fitted",
                                       "output.idle_valve_confirmed",
                                       "output.boost_confirmed",
                                       "output.fan_confirmed",
                                       "emission.exhaust_recirculation_fitted",
                                       "emission.evaporative_purge_fitted",
                                       "emission.secondary_air_fitted",
                                       "emission.exhaust_valve_fitted",
                                       "fuel.pressure_referenced"};
  struct file *job = &car->job;
  double dwell = car->settings.count > 0 ? 3.6 : 0;

  for (size_t i = 0; i < sizeof same / sizeof *same; i++)
    copy(car, same[i]);
  for (size_t i = 0; i < sizeof fitted / sizeof *fitted; i++)
    file_word(job, fitted[i], "on");
  file_word(job, "engine.aspiration", car->aspiration == TURBO ? "turbocharged" : "natural");
  file_number(job, "engine.compression_ratio", NOTHING, car->aspiration == TURBO ? 8.8 : 10.5);
  file_number(job, "engine.speed_maximum", SPEED, car->speed_maximum);
  file_word(job, "fuel.name", car->ethanol ? "E85" : "petrol, 98 octane, without ethanol");
  file_number(job, "fuel.stoichiometric_ratio", NOTHING, car->ratio);
  file_number(job, "fuel.density", DENSITY, car->density);
  file_number(job, "fuel.pressure", PRESSURE, car->base_pressure);
  file_number(job, "fuel.octane", NOTHING, car->ethanol ? 105 : 98);
  file_number(job, "ignition.dwell_maximum", MILLISECONDS, dwell);
  file_number(job, "ignition.coil_resistance", RESISTANCE, 0.5);
  file_number(job, "ignition.coil_inductance", INDUCTANCE, 4);
  file_number(job, "ignition.coil_current_maximum", CURRENT, 11);
  file_number(job, "cooling.thermostat_opens", TEMPERATURE, car->thermostat);
  if (car->aspiration == TURBO)
    file_number(job, "boost.pressure_maximum", PRESSURE, car->peak_pressure + 20);
  file_number(job, "site.altitude", HEIGHT, car->altitude);
  file_number(job, "site.coldest_temperature", TEMPERATURE, -15);
  file_number(job, "site.soak_time", HOURS, 8);
  file_word(job, "vehicle.use", dice_below(&car->dice, 2) ? "road" : "competition");
  file_number(job, "planned.speed_limit", SPEED, car->speed_limit);
  if (car->aspiration == TURBO)
    file_number(job, "planned.boost_limit", PRESSURE, car->peak_pressure);
  file_number(job, "injector.minimum_pulse", MILLISECONDS, 0.8);
  readings(car);
}

/* The file as it was: an earlier revision whose advance was a little less at load. The job sheet says so. */
void car_before(struct car *car)
{
  struct item *item;

  car->before = car->settings;
  car->with_before = true;
  item = file_find(&car->before, "ignition.spark_advance");
  for (int j = item->ny / 2; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] -= 1.5;
  file_word(&car->before, "file.revision", "6");
  file_word(&car->job, "planned.changes", "ignition.spark_advance");
}
