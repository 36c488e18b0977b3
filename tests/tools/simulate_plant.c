/* The engine and the car: a mean-value model. Air comes through the throttle and the idle valve into the manifold
 * (filling and emptying), leaves into the cylinders by speed-density, burns with what fuel the computer injected and
 * the spark it set, and the torque turns the crank against friction, pumping, alternator, compressor and, through the
 * clutch, the car. Only sums, products and square roots, so that every compiler gives the same digits. Reading order:
 * air, torque, car, heat, probe, plant_move. */
#include "simulate.h"

#include <math.h>
#include <string.h>

#define GAS_CONSTANT 287.05287 /* J/(kg K), dry air */
#define MANIFOLD_VOLUME 0.0042 /* m3, with the pipe from the throttle */
#define SWEPT_VOLUME 1998e-6   /* m3, all cylinders */
#define VALVE_AREA 60.0        /* mm2, idle valve wide open */
#define LEAK_AREA 3.0          /* mm2, past the closed throttle */
#define THROTTLE_AREA 2600.0   /* mm2 */
#define INERTIA 0.23           /* kg m2, crank, flywheel, clutch */
#define CAR_MASS 1120.0        /* kg with driver */
#define INJECTOR_FLOW 8.070833 /* mg/ms: 650 cm3/min of 0.745 kg/L */
#define STOICHIOMETRIC 14.6
#define RADIANS_PER_RPM 0.10471975511965977

static const double SPEED_PER_THOUSAND[6] = {0, 8.6, 14.2, 20.4, 26.6, 33.0}; /* km/h at 1000 rpm in each gear */

double noise_next(struct noise *noise)
{
  double sum = 0;
  for (int i = 0; i < 3; i++) {
    noise->state += 0x9E3779B97F4A7C15u;
    uint64_t mixed = noise->state;
    mixed = (mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9u;
    mixed = (mixed ^ (mixed >> 27)) * 0x94D049BB133111EBu;
    sum += (double)((mixed ^ (mixed >> 31)) >> 11) / 9007199254740992.0;
  }
  return (sum - 1.5) / 1.5;
}

static double limited(double value, double low, double high)
{
  return value < low ? low : value > high ? high : value;
}

struct plant plant_start(void)
{
  struct plant plant = {.pressure = SITE_PRESSURE,
                        .coolant = SITE_TEMPERATURE + 0.6,
                        .air = SITE_TEMPERATURE,
                        .battery = 12.5,
                        .lambda = 1.5,
                        .sensor = 1.5,
                        .fuel = 300,
                        .noise = {7}};
  for (size_t i = 0; i < sizeof plant.pipe / sizeof *plant.pipe; i++)
    plant.pipe[i] = 1.5;
  return plant;
}

/* g/s through `area` mm2 from `above` to `below` kPa: choked up to a pressure ratio of 0.528, then the elliptic fall of
 * ISO 6358. */
static double orifice(double area, double above, double below, double celsius)
{
  if (below >= above)
    return 0;
  double ratio = below / above, fall = ratio <= 0.528 ? 1 : (ratio - 0.528) / (1 - 0.528);
  double psi = ratio <= 0.528 ? 1 : sqrt(1 - fall * fall);
  return 0.7 * area * above / sqrt(GAS_CONSTANT * (celsius + 273.15)) * 0.684731 * psi;
}

static void move_air(struct plant *plant, const struct tune *truth, const struct control *control,
                     const struct driver *driver, double step)
{
  double kelvin = plant->air + 273.15;
  /* The turbocharger can give what the exhaust carries; the computer's solenoid holds it at the target. */
  double can = limited((plant->flow - 14) / 52, 0, 1) * 105;
  double wanted = limited(control->boost_target - SITE_PRESSURE + 1.2 * noise_next(&plant->noise), 0, 110);
  double goes = driver->throttle < 15 ? 0 : can < wanted ? can : wanted;
  plant->boost += (goes - plant->boost) * step / (goes > plant->boost ? 0.40 : 0.15);

  double opening = driver->throttle / 100, valve = 1 - control->valve / 100; /* the hardware closes with duty */
  double above = SITE_PRESSURE + plant->boost;
  double in =
      orifice(LEAK_AREA + THROTTLE_AREA * opening * (0.22 + 0.78 * opening), above, plant->pressure, plant->air) +
      orifice(VALVE_AREA * valve, above, plant->pressure, SITE_TEMPERATURE);
  double filling = table_at(&truth->efficiency, plant->speed, plant->pressure) / 100;
  filling *= 1 + 0.012 * (plant->speed - 3500) / 3500 - 0.008 * (plant->pressure - 100) / 100; /* no map is perfect */
  plant->charge = filling * plant->pressure * (SWEPT_VOLUME / 4) / (GAS_CONSTANT * kelvin) * 1e9;
  plant->flow = plant->charge * 4 * plant->speed / 120 / 1000;
  plant->pressure += (in - plant->flow) * GAS_CONSTANT * kelvin / MANIFOLD_VOLUME / 1e6 * step;
  plant->pressure = limited(plant->pressure, 12, above);
}

static void burn_fuel(struct plant *plant, const struct tune *truth, const struct control *control, double step)
{
  double open = control->pulse - curve_at(&truth->dead_time, plant->battery);
  double fuel = open > 0 && !control->fuel_cut ? open * INJECTOR_FLOW : 0;
  /* A cold engine does not vaporise all of it: the warm-up and after-start curves fit what it needs, nearly. */
  double needs = curve_at(&truth->warm_up, plant->coolant + 1) / 100 * (1 + 0.95 * control->after_start / 100);
  plant->film += (0.9 * control->acceleration / 100 - plant->film) * step / 0.05;
  double vapour = fuel / needs / (1 + plant->film);
  plant->lambda = vapour > 0.2 ? limited(plant->charge / vapour / STOICHIOMETRIC, 0.5, 1.5) : 1.5;
  bool firing = control->running && !control->fuel_cut;
  double goal = firing ? 1 : 0;
  plant->burning += (goal - plant->burning) * step / (plant->burning < 0.9 && firing ? 0.7 : 0.03);
}

static double combustion_torque(struct plant *plant, const struct tune *truth, const struct control *control)
{
  /* Best angle: the safe table plus what it keeps in hand, more under boost. Losses are quadratic around it. */
  double best = table_at(&truth->spark, plant->speed, plant->pressure) + 6 + (plant->pressure > 100 ? 3 : 0);
  double away = best - control->spark, timing = limited(1 - 5.5e-4 * away * away, 0.2, 1);
  double off = plant->lambda - 0.9, mixture = limited(1 - 1.4 * off * off, 0, 1);
  double torque = 0.37 * limited(plant->charge - 36, 0, 2000) * timing * mixture * plant->burning;
  return torque * (1 + 0.30 * noise_next(&plant->noise));
}

static double drag_torque(const struct plant *plant, const struct driver *driver)
{
  double cold = limited((82 - plant->coolant) / 100, 0, 1.2);
  double friction = 15.9 * (0.86 + 0.00021 * plant->speed) * (1 + 0.8 * cold);
  double pumping = limited(SITE_PRESSURE + 0.3 * plant->boost - plant->pressure, -20, 100) * 0.16;
  double alternator = (driver->lights ? 5.5 : 3.0) * 1000 / (plant->speed + 400);
  return friction + pumping + alternator + (driver->air_conditioning ? 4.5 : 0);
}

static void move_car(struct plant *plant, const struct driver *driver, double torque, double step)
{
  double coupled = 0, metres = plant->vehicle / 3.6;
  if (driver->gear > 0) {
    double ratio = SPEED_PER_THOUSAND[driver->gear], slip = plant->speed - plant->vehicle / ratio * 1000;
    coupled = (1 - driver->clutch) * 520 * limited(slip / 160, -1, 1);
    /* Power in is power out: force = torque * rad/s / (m/s), 3 % lost in the gears. */
    metres += 0.97 * coupled * (1000 * RADIANS_PER_RPM / (ratio / 3.6)) / CAR_MASS * step;
  }
  metres -= (metres > 0 ? (150 + 0.46 * metres * metres + 5600 * driver->brake) / CAR_MASS : 0) * step;
  plant->vehicle = limited(metres, 0, 80) * 3.6;
  if (driver->rollers > 0)
    plant->vehicle += (driver->rollers - plant->vehicle) * step / 0.1;
  plant->speed += (torque - coupled) / INERTIA / RADIANS_PER_RPM * step;
  if (driver->starter) /* geared to the flywheel: it pulls the crank along, compression by compression */
    plant->speed += (235 + 14 * noise_next(&plant->noise) - plant->speed) * step / 0.06;
  plant->speed = limited(plant->speed, 0, 9000);
}

static void move_heat(struct plant *plant, const struct control *control, double step)
{
  double fuel = plant->lambda < 1.45 ? plant->flow / plant->lambda / STOICHIOMETRIC : 0; /* g/s */
  double heat = 0.30 * 44 * fuel / (1 + fuel / 8); /* kW into the coolant: a smaller share at full load */
  double open = limited((plant->coolant - 82) / 9, 0, 1), wind = 0.003 + 0.0034 * plant->vehicle;
  double fan = control->fan_turns ? 0.085 : 0;
  heat -= (0.003 + open * (wind + fan)) * (plant->coolant - SITE_TEMPERATURE);
  plant->coolant += heat / 38 * step;
  /* Under the bonnet at idle the intake warms up; behind the charge cooler it follows the boost. */
  double air =
      SITE_TEMPERATURE + 0.16 * (plant->coolant - SITE_TEMPERATURE) * 30 / (30 + plant->vehicle) + 0.24 * plant->boost;
  plant->air += (air - plant->air) * step / 14;
}

static void move_services(struct plant *plant, const struct control *control, const struct driver *driver, double step)
{
  double volts = plant->speed > 500 ? 14.15 - (driver->lights ? 0.10 : 0) - (control->fan_turns ? 0.12 : 0) : 12.45;
  if (driver->starter)
    volts = 10.4;
  plant->battery += (volts - plant->battery) * step / (driver->starter ? 0.05 : 0.4);
  double thick = limited((90 - plant->coolant) / 80, 0, 1);
  double oil =
      limited((95 + 75 * thick) * limited(plant->speed / 900, 0, 1) + 0.065 * plant->speed * (1 + 0.5 * thick), 0, 470);
  plant->oil += (oil - plant->oil) * step / 0.3;
  plant->fuel += (300 + plant->pressure - SITE_PRESSURE - plant->fuel) * step / 0.03; /* the regulator follows */
}

/* The gas needs its way to the probe, longer at little flow, and the probe its own time. `pipe` holds one value for
 * each 4 ms. */
static void move_probe(struct plant *plant, double step)
{
  int length = (int)(sizeof plant->pipe / sizeof *plant->pipe);
  double way = limited(0.05 + 0.9 / (plant->flow + 1.2), 0.05, 1.2);
  plant->pipe_at = (plant->pipe_at + 1) % length;
  plant->pipe[plant->pipe_at] = plant->lambda;
  int back = (int)(way / step);
  double arrives = plant->pipe[(plant->pipe_at + length - back) % length];
  plant->sensor += (arrives - plant->sensor) * step / 0.05;
}

void plant_move(struct plant *plant, const struct tune *truth, const struct control *control,
                const struct driver *driver, double step)
{
  move_air(plant, truth, control, driver, step);
  burn_fuel(plant, truth, control, step);
  double torque = combustion_torque(plant, truth, control);
  if (plant->speed > 1 || torque > 0)
    torque -= drag_torque(plant, driver);
  move_car(plant, driver, torque, step);
  move_heat(plant, control, step);
  move_services(plant, control, driver, step);
  move_probe(plant, step);
}
