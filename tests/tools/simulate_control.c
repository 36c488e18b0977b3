/* The engine computer: reads the sensors with their noise, and does what the settings say. Reading order: sensors,
 * switches, fuel, spark, idle, control_act. */
#include "simulate.h"

static double limited(double value, double low, double high)
{
  return value < low ? low : value > high ? high : value;
}

struct control control_start(void)
{
  return (struct control){
      .pressure = SITE_PRESSURE, .barometer = SITE_PRESSURE, .correction = 100, .lambda_target = 1, .noise = {11}};
}

static void read_sensors(struct control *control, const struct plant *plant, const struct driver *driver, double step)
{
  struct noise *noise = &control->noise;
  double before = control->throttle;
  control->speed = plant->speed > 20 ? plant->speed + 3 * noise_next(noise) : 0;
  control->pressure = plant->pressure + (plant->speed > 20 ? 0.5 : 0.15) * noise_next(noise);
  control->barometer = SITE_PRESSURE + 0.15 * noise_next(noise);
  control->throttle = limited(driver->throttle + 0.15 + 0.15 * noise_next(noise), 0, 100);
  control->throttle_rate += ((control->throttle - before) / step - control->throttle_rate) * step / 0.04;
  control->coolant = plant->coolant + 0.12 * noise_next(noise);
  control->air = plant->air + 0.12 * noise_next(noise);
  control->battery = plant->battery + 0.03 * noise_next(noise);
  control->lambda = plant->sensor + 0.004 * noise_next(noise);
  control->vehicle = plant->vehicle > 0.5 ? plant->vehicle : 0;
}

static void read_switches(struct control *control, const struct tune *tune, const struct driver *driver)
{
  bool came = tune->variant == AS_IT_CAME;
  control->clutch_switch = driver->clutch > 0.05 || driver->clutch_pressed;
  control->air_conditioning = driver->air_conditioning;
  /* As it came, the brake function listens on the wire of the launch button, which nobody pressed. */
  control->brake_switch = !came && driver->brake > 0.02;
  control->step = control->running && (came ? control->clutch_switch : control->air_conditioning);
  if (control->coolant > 93)
    control->fan = control->running;
  else if (control->coolant < 89)
    control->fan = false;
  /* As it came, the fan's output is set to the boost solenoid's pin; the relay's own wire hangs on another. */
  control->fan_turns = control->fan && !came;
}

static void start_or_stop(struct control *control, const struct tune *tune, const struct driver *driver, double step)
{
  /* The first sparks come while the starter still turns the engine. */
  if (!control->running && control->speed > 150 && driver->starter) {
    control->running = true;
    control->after_start_from = curve_at(&tune->after_start, control->coolant);
    control->after_start_left = 1;
    control->running_for = 0;
  }
  if (control->speed < 60 || !driver->key)
    control->running = false;
  if (control->running)
    control->running_for += step;
}

static void cut_fuel(struct control *control, double step)
{
  bool closed = control->throttle < 1.5 && control->coolant > 60;
  control->closed_for = closed ? control->closed_for + step : 0;
  if (control->overrun)
    control->overrun = closed && control->speed > 1600;
  else /* not in the short pause of a gear change */
    control->overrun = control->running && control->closed_for > 0.8 && control->speed > 2000;
  if (control->limiter ? control->speed < 6750 : control->speed > 6900)
    control->limiter = !control->limiter;
  control->fuel_cut = control->overrun || control->limiter || control->pressure > 195;
}

static void correct_lambda(struct control *control, double step)
{
  bool may = control->running_for > 15 && control->coolant > 65 && control->pressure < 75 && control->throttle < 40 &&
             !control->fuel_cut;
  if (may && control->lambda < 1.3)
    control->correction += 18 * (control->lambda - control->lambda_target) * step;
  else if (!may)
    control->correction += (100 - control->correction) * step / 2;
  control->correction = limited(control->correction, 90, 110);
}

static void inject(struct control *control, const struct tune *tune, double step)
{
  control->warm_up = curve_at(&tune->warm_up, control->coolant);
  if (control->running && control->after_start_left > 0)
    control->after_start_left -= step / curve_at(&tune->after_start_duration, control->coolant);
  control->after_start = control->after_start_from * limited(control->after_start_left, 0, 1);
  double tip_in = control->throttle_rate > 60 ? curve_at(&tune->acceleration, control->throttle_rate) : 0;
  double tapered = control->acceleration - control->acceleration * step / 0.35;
  control->acceleration = tip_in > tapered ? tip_in : tapered;
  control->efficiency = table_at(&tune->efficiency, control->speed, control->pressure);
  control->lambda_target = table_at(&tune->lambda, control->speed, control->pressure);
  correct_lambda(control, step);
  double open = 5.037 * control->pressure / 100 * control->efficiency / 100 / control->lambda_target;
  open *= curve_at(&tune->fuel_air, control->air) / 100 * curve_at(&tune->barometric, control->barometer) / 100;
  open *= control->correction / 100;
  if (control->speed < 400)
    open *= curve_at(&tune->cranking_fuel, control->coolant) / 100;
  else
    open *= control->warm_up / 100 * (1 + control->after_start / 100) * (1 + control->acceleration / 100);
  control->pulse = control->running && !control->fuel_cut ? open + curve_at(&tune->dead_time, control->battery) : 0;
  control->duty = control->pulse * control->speed / 120000 * 100;
}

static void set_spark(struct control *control, const struct tune *tune, bool idling)
{
  control->dwell = control->speed < 400 ? 4 : curve_at(&tune->dwell, control->battery);
  if (tune->variant == AS_IT_CAME) { /* the log was made with the timing locked for a strobe lamp */
    control->spark = tune->fixed_advance;
    return;
  }
  if (control->speed < 400) {
    control->spark = 8;
    return;
  }
  control->spark = table_at(&tune->spark, control->speed, control->pressure) +
                   curve_at(&tune->spark_coolant, control->coolant) + curve_at(&tune->spark_air, control->air);
  if (idling)
    control->spark += curve_at(&tune->spark_idle, control->idle_target - control->speed);
  control->spark = limited(control->spark, -10, 42);
}

/* Opening is worked out in % and turned into duty by the sense that the file believes in. */
static void set_valve(struct control *control, const struct tune *tune, bool idling, double step)
{
  double opens = tune->opens_with_duty ? 1 : -1;
  double duty = curve_at(control->speed < 400 ? &tune->valve_cranking : &tune->valve_duty, control->coolant);
  double more = control->step ? 8 : 0;
  control->idle_target = curve_at(&tune->idle_target, control->coolant) + (control->step ? 150 : 0);
  if (tune->closed_loop_idle && control->running) {
    double error = control->idle_target - control->speed;
    if (idling && control->running_for > 3 && error > -300)
      control->integral = limited(control->integral + 0.022 * limited(error, -120, 120) * step, -14, 14);
    /* A held-open valve catches the engine as the throttle closes, and lets go slowly. */
    double hold = limited((control->speed - 1200) * 0.008, 0, 9);
    if (control->throttle > 2 || control->vehicle > 5)
      control->dashpot = hold;
    else
      control->dashpot -= control->dashpot * step / 1.1;
    more += control->integral + control->dashpot;
    if (idling && control->running_for > 2)
      more += limited(0.018 * error, control->dashpot > 0.5 ? 0 : -4, 6);
  }
  control->valve = limited(duty + opens * more, 12, 85);
}

void control_act(struct control *control, const struct tune *tune, const struct plant *plant,
                 const struct driver *driver, double step)
{
  read_sensors(control, plant, driver, step);
  start_or_stop(control, tune, driver, step);
  read_switches(control, tune, driver);
  cut_fuel(control, step);
  inject(control, tune, step);
  bool idling = control->running && control->throttle < 2 && control->vehicle < 5;
  set_valve(control, tune, idling, step);
  set_spark(control, tune, idling);
  control->boost_target = table_at(&tune->boost, control->speed, control->throttle);
}
