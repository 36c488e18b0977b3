/* Makes the files of examples/sandpiper:
 *
 *   cc -std=c17 -O2 -ffp-contract=off -o build/simulate tests/tools/simulate*.c -lm
 *   build/simulate settings --came > examples/sandpiper/as-it-came/settings.yaml
 *   build/simulate settings --left > examples/sandpiper/as-it-left/settings.yaml
 *   build/simulate log --came      > examples/sandpiper/as-it-came/log.csv
 *   build/simulate log --left      > examples/sandpiper/as-it-left/log.csv
 *
 * The job sheets are written by hand. File and log agree because both come from one `struct tune`; what the file
 * believes and the hardware does differ where simulate_plant.c says so. Every digit is the same whatever the compiler:
 * own random numbers, no library function but sqrt and floor, no fused arithmetic.
 *
 * Reading order: this file, simulate.h, _tune, _settings, _driver, _control, _plant. */
#include "simulate.h"

#include <math.h>
#include <string.h>

enum { STEPS_PER_SECOND = 250, SAMPLES_PER_SECOND = 25, LOG_SECONDS = 600, ROLLER_SECONDS = 160, PROBE_READY = 12 };

/* As a logger rounds; the + 0.0 turns -0 into 0. */
static void put(FILE *out, double value, int decimals)
{
  static const double SCALE[4] = {1, 10, 100, 1000};
  fprintf(out, ",%.*f", decimals, floor(value * SCALE[decimals] + 0.5) / SCALE[decimals] + 0.0);
}

static void put_header(FILE *out)
{
  fputs("time [s],engine_speed [rpm],manifold_pressure [kPa],barometric_pressure [kPa],throttle_position [%],"
        "coolant_temperature [degC],intake_air_temperature [degC],battery_voltage [V],vehicle_speed [km/h],gear,"
        "lambda [lambda],lambda_target [lambda],lambda_correction [%],volumetric_efficiency [%],"
        "injector_pulse_width [ms],injector_duty [%],warm_up_enrichment [%],after_start_enrichment [%],"
        "acceleration_enrichment [%],spark_advance [deg],dwell [ms],knock_retard [deg],idle_valve_duty [%],"
        "idle_speed_target [rpm],boost_target [kPa],fuel_pressure [kPa],oil_pressure [kPa],clutch_switch,brake_switch,"
        "air_conditioning_request,air_conditioning_step_active,fan_output,fuel_cut\n",
        out);
}

static void put_row(FILE *out, const struct control *control, const struct plant *plant, const struct driver *driver,
                    struct noise *noise, double time)
{
  fprintf(out, "%.2f", time);
  put(out, control->speed, 0);
  put(out, control->pressure, 1);
  put(out, control->barometer, 1);
  put(out, control->throttle, 1);
  put(out, control->coolant, 1);
  put(out, control->air, 1);
  put(out, control->battery, 2);
  put(out, control->vehicle, 1);
  put(out, driver->gear, 0);
  if (time < PROBE_READY) /* the probe is still heating */
    fputc(',', out);
  else
    put(out, control->lambda, 3);
  put(out, control->lambda_target, 3);
  put(out, control->correction, 1);
  put(out, control->efficiency, 1);
  put(out, control->pulse, 3);
  put(out, control->duty, 1);
  put(out, control->warm_up, 1);
  put(out, control->after_start, 1);
  put(out, control->acceleration, 1);
  put(out, control->spark, 1);
  put(out, control->dwell, 2);
  put(out, 0, 1); /* no knock in either log */
  put(out, control->valve, 1);
  put(out, control->idle_target, 0);
  put(out, control->boost_target, 1);
  put(out, plant->fuel + 1.5 * noise_next(noise), 0);
  put(out, plant->oil > 2 ? plant->oil + 2 * noise_next(noise) : 0, 0);
  put(out, control->clutch_switch, 0);
  put(out, control->brake_switch, 0);
  put(out, control->air_conditioning, 0);
  put(out, control->step, 0);
  put(out, control->fan, 0);
  put(out, control->fuel_cut, 0);
  fputc('\n', out);
}

static bool log_print(FILE *out, const struct tune *tune)
{
  const struct tune truth = tune_make(AS_IT_LEFT);
  struct driver driver = driver_start();
  struct control control = control_start();
  struct plant plant = plant_start();
  struct noise noise = {23};
  const double step = 1.0 / STEPS_PER_SECOND;
  put_header(out);
  int seconds = LOG_SECONDS + (tune->variant == AS_IT_LEFT ? ROLLER_SECONDS : 0);
  for (int i = 0; i < seconds * STEPS_PER_SECOND; i++) {
    double time = (double)i / STEPS_PER_SECOND;
    driver_act(&driver, &plant, tune->variant, time, step);
    control_act(&control, tune, &plant, &driver, step);
    if (i % (STEPS_PER_SECOND / SAMPLES_PER_SECOND) == 0)
      put_row(out, &control, &plant, &driver, &noise, time);
    plant_move(&plant, &truth, &control, &driver, step);
  }
  return !ferror(out);
}

int main(int count, char **words)
{
  bool came = count == 3 && strcmp(words[2], "--came") == 0;
  bool left = count == 3 && strcmp(words[2], "--left") == 0;
  bool settings = count == 3 && strcmp(words[1], "settings") == 0;
  bool log = count == 3 && strcmp(words[1], "log") == 0;
  if (!(came || left) || !(settings || log)) {
    fputs("usage: simulate settings|log --came|--left\n", stderr);
    return 2;
  }
  const struct tune tune = tune_make(came ? AS_IT_CAME : AS_IT_LEFT);
  bool written = settings ? settings_print(stdout, &tune) : log_print(stdout, &tune);
  if (fflush(stdout) != 0 || !written) {
    fputs("simulate: cannot write\n", stderr);
    return 1;
  }
  return 0;
}
