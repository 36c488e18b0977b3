/* What the sensors say of the engine and the logger takes down, 200 times a second; slower logs leave rows out. Each
 * sensor has its noise and its step. Reading order: sensors, commands, run_whole. */
#include "logs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double noisy(struct run *run, double value, double noise, double step)
{
  struct dice *dice = &run->engine.dice;
  double sum = dice_between(dice, -0.5, 0.5) + dice_between(dice, -0.5, 0.5) + dice_between(dice, -0.5, 0.5);

  return round_to(value + 2 * noise * sum, step) + 0.0;
}

static void record_pressures(struct run *run, double *row)
{
  const struct engine *engine = &run->engine;
  const struct flaw *flaw = &run->flaw;
  double pulsation = engine->speed > 100 ? 0.3 + flaw->manifold_noise : 0.08;

  row[MANIFOLD] = noisy(run, engine->manifold + flaw->manifold_shift, pulsation, 0.1);
  if (flaw->manifold_frozen > 0)
    row[MANIFOLD] = noisy(run, flaw->manifold_frozen, 0.1, 0.1);
  row[BAROMETER] = noisy(run, engine->outside + flaw->barometer_shift, 0.06, 0.1);
  row[FUEL_PRESSURE] = noisy(run, engine->rail, 1, 1);
  row[OIL_PRESSURE] = engine->oil > 2 ? noisy(run, engine->oil, 1.5, 1) : 0;
  row[BOOST_TARGET] = round_to(run->computer.boost_target, 0.1);
  row[BOOST_DUTY] = round_to(run->computer.boost_duty, 0.1);
}

static void record_sensors(struct run *run, double *row)
{
  const struct engine *engine = &run->engine;
  const struct flaw *flaw = &run->flaw;
  bool dips = run->time > 128 && run->time < 128 + flaw->dip_long;
  double gauge = 0.85 + (engine->gauge - 0.85) * flaw->gauge_gain + flaw->gauge_offset;

  row[TIME] = run->time;
  if (flaw->gap > 0 && run->time > 134)
    row[TIME] += flaw->gap;
  if (flaw->clock_back > 0 && run->time > 134)
    row[TIME] -= flaw->clock_back;
  row[ENGINE_SPEED] = engine->speed > 20 ? noisy(run, engine->speed, 1.5, 1) : 0;
  if (flaw->spike > 0 && fmod(run->time, 41) > 40.94 && engine->speed > 700)
    row[ENGINE_SPEED] += flaw->spike;
  if (flaw->swing > 0 && engine->speed > 500 && run->computer.idling)
    row[ENGINE_SPEED] += round_to(65 * sin(6.28318531 * flaw->swing * run->time), 1);
  row[THROTTLE] = fmax(noisy(run, run->computer.throttle + 0.1, 0.08, 0.1), 0);
  if (flaw->throttle_frozen > 0)
    row[THROTTLE] = round_to(flaw->throttle_frozen, 0.1);
  row[COOLANT] = noisy(run, engine->coolant + flaw->coolant_shift, 0.1, 0.1);
  if (flaw->coolant_broken != 0 && run->time > 112 && run->time < 130)
    row[COOLANT] = flaw->coolant_broken;
  if (flaw->fahrenheit > 0)
    row[COOLANT] = round_to(row[COOLANT] * 1.8 + 32, 0.1);
  row[AIR] = noisy(run, engine->air, 0.1, 0.1);
  if (flaw->air_broken != 0 && run->time > 60 && run->time < 80)
    row[AIR] = flaw->air_broken;
  row[BATTERY] = noisy(run, engine->battery - (dips ? flaw->dip : 0), 0.02, 0.01);
  row[VEHICLE] = engine->vehicle > 0.5 ? round_to(engine->vehicle, 0.1) : 0;
  row[LAMBDA] = noisy(run, engine->probe, 0.003 + flaw->lambda_noise, 0.001);
  row[LAMBDA_BANK_2] = noisy(run, engine->probe_2, 0.003, 0.001);
  row[LAMBDA_GAUGE] = noisy(run, limited(gauge, 0.5, 1.5), 0.003, 0.001);
  row[ETHANOL_FREQUENCY] = 50 + (fmod(run->time, 30) > 25 ? flaw->ethanol_jumps : 0);
  record_pressures(run, row);
}

static void record_fuel(struct run *run, double *row)
{
  const struct computer *c = &run->computer;

  row[LAMBDA_TARGET] = round_to(c->target_lambda, 0.001);
  row[LAMBDA_CORRECTION] = round_to(c->correction, 0.1);
  row[LONG_TRIM] = round_to(c->long_now, 0.1) + 0.0;
  row[SHORT_TRIM] = round_to(c->short_trim, 0.1) + 0.0;
  row[FILLING] = round_to(c->efficiency, 0.1);
  row[PULSE] = round_to(c->pulse, 0.001);
  row[DUTY] = round_to(c->duty, 0.1);
  row[WARM_UP] = round_to(c->warm, 0.1);
  row[AFTER_START] = round_to(c->after_now, 0.1);
  row[ACCELERATION] = round_to(c->accelerating, 0.1);
  row[FUEL_CUT] = c->cut;
}

static void record_commands(struct run *run, double *row)
{
  const struct computer *c = &run->computer;

  record_fuel(run, row);
  row[SPARK] = round_to(c->spark_angle, 0.1) + 0.0;
  row[DWELL] = round_to(c->dwell_time, 0.01);
  row[KNOCK_RETARD] = round_to(c->knock_retard, 0.1);
  row[KNOCK_COUNT] = c->knock_count;
  row[IDLE_DUTY] = round_to(c->valve, 0.1);
  row[IDLE_TARGET] = round_to(c->idle_target, 1);
  row[SYNC_LOSSES] = c->sync_losses;
  row[AC_STEP] = c->step;
  row[FAN] = c->fan_on_now;
  row[RUNNING] = c->running && c->speed > c->crank_speed;
  row[SPARK_CUT] = c->limiter;
  row[ELECTRICAL_LOAD] = run->hands.lamps;
  row[GEAR] = run->hands.gear;
  row[CLUTCH] = run->hands.clutch > 0.05 || run->hands.clutch_foot;
  row[BRAKE] = run->hands.brake > 0.02;
  row[NEUTRAL] = run->hands.gear == 0;
  row[AC_REQUEST] = run->hands.compressor;
}

void run_record(struct run *run)
{
  double *row = run->row[run->rows++];

  record_sensors(run, row);
  record_commands(run, row);
}

/* After the drive the file is changed in several of its parts at once. */
static void change_file(struct car *car)
{
  struct item *spark = file_find(&car->settings, "ignition.spark_advance");
  struct item *lambda = file_find(&car->settings, "fuel.lambda_target");
  struct item *filling = file_find(&car->settings, "fuel.volumetric_efficiency");
  struct item *warm_up = file_find(&car->settings, "fuel.warm_up_enrichment");

  for (int j = 0; j < spark->ny; j++)
    for (int i = 0; i < spark->nx; i++)
      spark->value[j][i] -= round_to(3 + 2 * sin(0.6 * i), 0.1);
  for (int j = 0; j < lambda->ny; j++)
    for (int i = 0; i < lambda->nx; i++)
      lambda->value[j][i] -= 0.02 + 0.04 * (i % 4 < 2);
  for (int j = 0; j < filling->ny; j++)
    for (int i = 0; i < filling->nx; i++)
      filling->value[j][i] *= 1.05 + 0.07 * sin(0.8 * i);
  for (int i = 0; i < warm_up->nx; i++)
    warm_up->value[0][i] = round_to(100 + 0.5 * (warm_up->value[0][i] - 100), 0.5);
}

void run_whole(struct run *run)
{
  int steps = (int)(drive_seconds(&run->flaw) * STEPS_A_SECOND);

  memset(&run->hands, 0, sizeof run->hands);
  run->rows = 0;
  run->row = calloc((size_t)steps, sizeof *run->row);
  if (run->row == NULL)
    abort();
  computer_start(run);
  engine_start(run);
  for (int i = 0; i < steps; i++) {
    run->time = (double)i / STEPS_A_SECOND;
    hands_move(run);
    computer_act(run);
    if (i % (STEPS_A_SECOND / FASTEST_HZ) == 0)
      run_record(run);
    engine_move(run);
  }
  if (run->flaw.other_file > 0)
    change_file(run->car);
}
