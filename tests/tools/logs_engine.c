/* The engine and the car, a mean-value model. Air comes past throttle and idle valve into the manifold (filling and
 * emptying), leaves into the cylinders, burns with what fuel the computer injected and the spark it set, and the torque
 * turns the crank against friction, pumping, alternator, compressor and, through the clutch, the car. Air flows are in
 * kPa of cylinder filling times rpm, so that they need no displacement. Reading order: air, torque, car, heat and
 * supplies, the probe's pipe, engine_move. */
#include "logs.h"

#include <math.h>
#include <string.h>

#define STEP (1.0 / STEPS_A_SECOND)
#define TORQUE_OF_FILLING 10.5 /* kPa of mean effective pressure for each kPa of filling, at the best spark */
#define RPM_OF_TORQUE 7.6      /* rpm/s for each kPa: 0.2 kg m2 on 2 L */
#define THROTTLE_FLOW 2.4e6    /* kPa rpm, wide open, choked */
#define MANIFOLD 240           /* 120 times the manifold's volume in engine displacements */
#define LEAK 0.2               /* share of the warm idle's air that comes past the shut throttle */

static const double SPEED_OF_GEAR[] = {0, 9, 14, 20.5, 27}; /* km/h at 1000 rpm */

static const struct item *setting(struct run *run, const char *name)
{
  return file_find(&run->car->settings, name);
}

static int cell_below(const double *at, int count, double x, double *share)
{
  int i = 0;

  while (i + 2 < count && at[i + 1] <= x)
    i++;
  *share = count < 2 ? 0 : limited((x - at[i]) / (at[i + 1] - at[i]), 0, 1);
  return i;
}

double curve_read(const struct item *item, double x)
{
  double share;
  int i = cell_below(item->x, item->nx, x, &share);

  return item->value[0][i] + share * (item->value[0][i + 1] - item->value[0][i]);
}

double table_read(const struct item *item, double x, double y)
{
  double sx, sy;
  int i = cell_below(item->x, item->nx, x, &sx), j = cell_below(item->y, item->ny, y, &sy);
  double below = item->value[j][i] + sx * (item->value[j][i + 1] - item->value[j][i]);
  double above = item->value[j + 1][i] + sx * (item->value[j + 1][i + 1] - item->value[j + 1][i]);

  return below + sy * (above - below);
}

static double friction(const struct engine *engine)
{
  return 85 + 0.011 * engine->speed + 0.7 * limited(88 - engine->coolant, 0, 110);
}

/* No map is perfect: the real filling is a little beside the table. */
static double filling_of(const struct computer *computer, double speed, double manifold)
{
  return table_read(computer->filling, speed, manifold) / 100 * (1 + 0.008 * sin(speed / 900) - 0.00006 * manifold);
}

static double spark_worth(const struct engine *engine, const struct computer *computer)
{
  double best = table_read(computer->spark, engine->speed, engine->manifold) + 7;
  double off = best - computer->spark_angle;

  return limited(1 - 0.0006 * off * off, 0.2, 1);
}

/* The valve's flow fits the file's warm opening: what the workshop found by trying. */
void engine_start(struct run *run)
{
  struct engine *engine = &run->engine;
  double target = curve_read(setting(run, "idle.speed_target"), 88), opening, p = 35;
  const struct computer *computer = &run->computer;

  memset(engine, 0, sizeof *engine);
  engine->dice.state = 77;
  engine->outside = 101.325 * pow(1 - 0.0065 * run->car->altitude / 288.15, 5.25588); /* ISO 2533 */
  engine->manifold = engine->outside;
  engine->air = 17;
  engine->coolant = engine->air + 0.5 + run->flaw.soak;
  engine->battery = 12.6;
  engine->lambda = engine->probe = engine->probe_2 = engine->gauge = 1.5;
  for (size_t i = 0; i < sizeof engine->pipe / sizeof *engine->pipe; i++)
    engine->pipe[i] = 1.5;
  for (int i = 0; i < 20; i++) {
    double worth = 1 - 0.0006 * 49, fill = filling_of(computer, target, p);

    p = (85 + 0.011 * target + 10 + engine->outside) / (TORQUE_OF_FILLING * worth * fill + 1);
  }
  opening = curve_read(computer->opening, 88);
  engine->valve_scale = filling_of(computer, target, p) * p * target * (1 - LEAK) / opening;
  engine->extra_air = filling_of(computer, target, p) * p * target * LEAK;
  engine->rail = run->car->base_pressure;
  engine->oil = 0;
}

/* ---- air */

/* Of choked flow, by the ratio of pressures: the elliptic fall of ISO 6358. */
static double flow_share(double ratio)
{
  double fall = (ratio - 0.528) / 0.472;

  return ratio <= 0.528 ? 1 : ratio >= 1 ? 0 : sqrt(1 - fall * fall);
}

/* How fast a flow at its share falls with the pressure behind it, for each kPa: near pressure balance far faster than a
 * step of time can follow, so the pressure is moved by an implicit step. */
static double stiffness(double flow, double share, double above)
{
  return share >= 1 || share <= 0 ? 0 : flow * sqrt(1 - share * share) / share / (0.472 * above);
}

static void move_air(struct run *run)
{
  struct engine *engine = &run->engine;
  const struct flaw *flaw = &run->flaw;
  double opening = run->hands.throttle / 100, valve = run->computer.valve;
  double above = engine->outside + engine->boost, share = flow_share(engine->manifold / above), in, steep, wanted;

  if (flaw->valve_stuck >= 0)
    valve = flaw->valve_stuck;
  else if (flaw->valve_sense < 0)
    valve = curve_read(run->computer.opening, engine->coolant) * (1 - flaw->valve_sense) + flaw->valve_sense * valve;
  in = engine->valve_scale * fmax(valve, 0) + engine->extra_air * (1 + flaw->air_leak);
  if (run->time < run->hands.blip_ended + 7 && run->hands.blip_ended > 0)
    in += engine->extra_air * flaw->leak_after;
  if (flaw->dies_at > 0 && run->time > flaw->dies_at && run->time < flaw->dies_at + 3)
    in = 0;
  in = (in + THROTTLE_FLOW * opening * (0.2 + 0.8 * opening)) * above / engine->outside;
  steep = 1 + stiffness(in, share, above) * STEP / MANIFOLD;
  in *= share;
  in -= filling_of(&run->computer, engine->speed, engine->manifold) * engine->manifold * engine->speed;
  engine->manifold = limited(engine->manifold + in / MANIFOLD * STEP / steep, 14, above);

  if (run->car->aspiration != TURBO)
    return;
  wanted = limited(run->computer.boost_target + flaw->boost_excess - engine->outside, 0, 200);
  wanted = limited((engine->speed - 1300) / 1900, 0, 1) * wanted * limited((run->hands.throttle - 25) / 50, 0, 1);
  engine->boost += (wanted - engine->boost) * STEP / (wanted > engine->boost ? 0.45 : 0.12);
}

/* ---- fuel */

/* Pressure across the injectors, as a share of what the file was made for. */
static double rail_share(struct run *run)
{
  struct engine *engine = &run->engine;
  double flow = run->computer.duty / 80, gauge = run->car->base_pressure + run->flaw.rail_high;

  if (run->flaw.rail_fixed > 0)
    engine->rail = gauge;
  else
    engine->rail = gauge + engine->manifold - engine->outside;
  engine->rail -= run->flaw.rail_sag * limited(flow, 0, 1.3);
  return (engine->rail + engine->outside - engine->manifold) / run->car->base_pressure;
}

static double fuel_missing(const struct run *run)
{
  const struct flaw *flaw = &run->flaw;
  const struct engine *engine = &run->engine;
  double missing = flaw->lean_everywhere;

  if (engine->manifold > 80)
    missing += flaw->lean_loaded;
  else if (engine->speed > 1500)
    missing += flaw->lean_cruise;
  if (engine->manifold > 118)
    missing += flaw->lean_boosted;
  return missing;
}

static void burn_fuel(struct run *run)
{
  struct engine *engine = &run->engine;
  const struct computer *computer = &run->computer;
  double late = run->flaw.dead_time_low * limited((14 - engine->battery) / 3, 0, 1.4);
  double open = computer->pulse - curve_read(computer->dead_time, engine->battery) - late;
  double air =
      filling_of(computer, engine->speed, engine->manifold) * engine->manifold / 100 * 293.15 / (engine->air + 273.15);
  /* A cold engine does not vaporise all of it; what the file adds fits what it needs, nearly. */
  double needs = curve_read(computer->warm_up, engine->coolant + 0.5) / 100 * (1 + 0.97 * computer->after_now / 100);
  double fuel = open > 0 ? open * sqrt(rail_share(run)) * (1 - fuel_missing(run)) / run->flaw.pulse_long : 0;
  bool fires = computer->running && !computer->cut && computer->pulse > 0;

  engine->film += (0.95 * computer->accelerating / 100 - engine->film) * STEP / 0.05;
  fuel /= needs * (1 + engine->film) * computer->pulse_constant;
  engine->lambda = fires && fuel > 0.01 ? limited(air / fuel, 0.5, 1.5) : 1.5;
  engine->burning += ((fires ? 1 : 0) - engine->burning) * STEP / (fires && engine->burning < 0.95 ? 0.35 : 0.04);
}

/* ---- torque */

static double gaussian(struct dice *dice)
{
  double sum = 0;

  for (int i = 0; i < 6; i++)
    sum += dice_between(dice, -0.5, 0.5);
  return sum * 1.4142;
}

/* Scatter from one firing to the next; a weak cylinder comes round every second turn. */
static double firing(struct run *run)
{
  struct engine *engine = &run->engine;
  double before = engine->crank, firings = run->car->cylinders / 2.0;

  engine->crank += engine->speed / 60 * STEP;
  if (floor(before * firings) != floor(engine->crank * firings)) {
    double weak = fmod(floor(engine->crank * firings), run->car->cylinders) < 0.5 ? run->flaw.weak_cylinder : 0;

    engine->slow_noise = (3 + run->flaw.scatter) * gaussian(&engine->dice) - weak * run->car->cylinders * 180;
  }
  return engine->slow_noise;
}

static double loads(struct run *run)
{
  struct engine *engine = &run->engine;
  const struct flaw *flaw = &run->flaw;
  double electric = 8 + (run->hands.lamps ? flaw->lamp_load : 0) + (run->computer.fan_on_now ? flaw->fan_load : 0);
  /* The compressor's clutch closes half a second after the request, so that the valve comes first. */
  double compressor = run->computer.step && run->hands.compressor ? flaw->compressor_load : 0;

  engine->alternator += (electric - engine->alternator) * STEP / 0.35;
  engine->load += (compressor - engine->load) * STEP / 0.5;
  return engine->alternator + engine->load;
}

static void move_crank(struct run *run)
{
  struct engine *engine = &run->engine;
  const struct hands *hands = &run->hands;
  double fill = filling_of(&run->computer, engine->speed, engine->manifold) * engine->manifold;
  double mixture = limited(1 - 2.2 * (engine->lambda - 0.9) * (engine->lambda - 0.9), 0, 1);
  double torque = TORQUE_OF_FILLING * fill * spark_worth(engine, &run->computer) * mixture * engine->burning *
                  limited(engine->speed / 350, hands->starter ? 0.5 : 0, 1);
  double in_gear = SPEED_OF_GEAR[hands->gear], through = 0, drag, heavier = fmax(run->car->peak_pressure / 100, 1);

  if (run->computer.running && engine->burning > 0.5)
    torque += firing(run);
  if (engine->speed > 0)
    torque -= friction(engine) * limited(engine->speed / 60, 0, 1) + (engine->outside - engine->manifold) + loads(run);
  if (hands->starter)
    torque += 60 * limited((run->flaw.starter - engine->speed) / 20, 0, 8);
  if (hands->gear > 0) {
    double bite = 1500 * (1 - hands->clutch) * (1 - hands->clutch);

    through = bite * limited((engine->speed - engine->vehicle / in_gear * 1000) / 60, -1, 1);
    drag = 0.25 + 0.00006 * engine->vehicle * engine->vehicle;
    engine->vehicle += (0.18 / in_gear / heavier * through - drag * limited(engine->vehicle, 0, 1)) * STEP;
  } else {
    engine->vehicle -= 0.6 * limited(engine->vehicle, 0, 1) * STEP;
  }
  engine->vehicle = fmax(engine->vehicle - 14 * hands->brake * limited(engine->vehicle, 0, 1) * STEP, 0);
  engine->speed = fmax(engine->speed + RPM_OF_TORQUE * (torque - through) * STEP, 0);
  if (engine->speed < 15 && !hands->starter)
    engine->speed = 0;
}

/* ---- heat and supplies */

static void move_heat(struct run *run)
{
  struct engine *engine = &run->engine;
  const struct flaw *flaw = &run->flaw;
  double opens = flaw->thermostat_open > 0 ? flaw->thermostat_open : run->car->thermostat;
  double wind = 0.25 + engine->vehicle / 60, work = engine->speed * engine->manifold / 1e5;
  double through =
      (flaw->thermostat_open > 0 ? 0.5 : 0.2) + 1.3 * engine->vehicle / 60 + (run->computer.fan_on_now ? 0.7 : 0);
  double gives = limited((engine->coolant - opens) / 4, 0, 1) * through;
  double under_hood = engine->speed > 0 ? 14 * limited((engine->coolant - 30) / 50, 0, 1) / (0.6 + wind) : 2;

  if (engine->speed > 300)
    engine->coolant +=
        (0.34 + 0.30 * limited(work, 0, 3) - gives + flaw->coolant_climbs - limited(engine->coolant - 112, 0, 9)) *
        STEP;
  engine->air += (17 + under_hood + 0.17 * engine->boost + (run->hands.throttle > 80 ? flaw->air_heats : 0) +
                  flaw->air_hot - engine->air) *
                 STEP / (run->hands.throttle > 80 && flaw->air_heats > 0 ? 4 : 14);
}

static void move_supplies(struct run *run)
{
  struct engine *engine = &run->engine;
  const struct flaw *flaw = &run->flaw;
  bool charging = engine->speed > 500;
  double draws = (run->hands.lamps ? 0.12 : 0) + (run->computer.fan_on_now ? 0.12 : 0);
  double goal = charging ? 14.1 + flaw->charge - draws : 12.5;
  double oil = 45 + 0.075 * engine->speed - 0.6 * (engine->coolant - 80) * limited(engine->coolant - 79, 0, 1);

  if (run->hands.starter)
    goal = engine->speed < 60 ? 9.8 : 10.6;
  engine->battery += (goal - engine->battery) * STEP / (run->hands.starter ? 0.03 : charging ? 0.4 : 0.8);
  if (engine->coolant < 79)
    oil += 1.6 * (79 - engine->coolant);
  oil = engine->speed > 100 ? limited(oil, 60, 520) : 0;
  if (engine->coolant > 70 && engine->speed > 1600)
    oil *= 1 - flaw->oil_share;
  engine->oil += (oil - engine->oil) * STEP / 0.15;
}

/* ---- the probe: gas takes time to reach it, longer at small flow, and it is slow itself */

static void move_probe(struct run *run)
{
  struct engine *engine = &run->engine;
  int size = sizeof engine->pipe / sizeof *engine->pipe;
  double wait = 0.09 + limited(6000 / fmax(engine->speed * engine->manifold, 1), 0, 0.35);
  double gas;

  if ((int)floor(run->time * STEPS_A_SECOND + 0.5) % 2 == 0)
    engine->pipe[engine->pipe_at++ % size] = engine->lambda;
  gas = engine->pipe[(engine->pipe_at + 2 * size - 1 - (int)(wait * STEPS_A_SECOND / 2)) % size];
  engine->probe += (gas - engine->probe) * STEP / 0.07;
  engine->probe_2 += (limited(gas * (1 + run->flaw.bank_apart), 0.5, 1.5) - engine->probe_2) * STEP / 0.07;
  engine->gauge += (gas - engine->gauge) * STEP / 0.07;
}

void engine_move(struct run *run)
{
  burn_fuel(run);
  move_crank(run);
  move_air(run);
  move_heat(run);
  move_supplies(run);
  move_probe(run);
}
