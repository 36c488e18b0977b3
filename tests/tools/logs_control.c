/* The engine computer: what it sees and commands, by the curves and tables of the settings that are audited with the
 * log, so that a replay of the file agrees with the log where nothing is planted. Reading order: switches, fuel, trims,
 * spark, idle, boost, computer_act. */
#include "logs.h"

#include <math.h>
#include <string.h>

#define STEP (1.0 / STEPS_A_SECOND)

static double number(struct run *run, const char *name)
{
  return file_get(&run->car->settings, name);
}

void computer_start(struct run *run)
{
  struct computer *c = &run->computer;
  struct file *file = &run->car->settings;
  const struct {
    const struct item **to;
    const char *name;
  } items[] = {{&c->filling, "fuel.volumetric_efficiency"},
               {&c->lambda, "fuel.lambda_target"},
               {&c->spark, "ignition.spark_advance"},
               {&c->air, "fuel.intake_air_correction"},
               {&c->dead_time, "injector.dead_time"},
               {&c->cranking, "fuel.cranking_fuel"},
               {&c->after, "fuel.after_start_enrichment"},
               {&c->after_time, "fuel.after_start_duration"},
               {&c->warm_up, "fuel.warm_up_enrichment"},
               {&c->tip_in, "fuel.acceleration_enrichment"},
               {&c->spark_coolant, "ignition.coolant_correction"},
               {&c->spark_air, "ignition.intake_air_correction"},
               {&c->spark_idle, "ignition.idle_correction"},
               {&c->dwell, "ignition.dwell"},
               {&c->opening, "idle.valve_duty"},
               {&c->opening_cranking, "idle.cranking_duty"},
               {&c->target, "idle.speed_target"},
               {&c->boost, "boost.target"},
               {&c->boost_air, "boost.intake_air_reduction"},
               {&c->boost_coolant, "boost.coolant_reduction"}};

  memset(c, 0, sizeof *c);
  for (size_t i = 0; i < sizeof items / sizeof *items; i++)
    *items[i].to = file_find(file, items[i].name);
  c->pulse_constant = number(run, "fuel.reference_pulse_width");
  c->crank_speed = number(run, "fuel.cranking_speed");
  c->crank_advance = number(run, "ignition.cranking_advance");
  c->speed_limit = number(run, "protection.speed_limit") - run->flaw.limiter_low;
  c->hysteresis = number(run, "protection.speed_limit_hysteresis");
  c->idle_throttle = number(run, "idle.maximum_throttle");
  c->valve_low = number(run, "idle.duty_minimum");
  c->valve_high = number(run, "idle.duty_maximum");
  c->cut_speed = number(run, "fuel.overrun_cut_speed");
  c->resume_speed = number(run, "fuel.overrun_resume_speed");
  c->authority = number(run, "lambda_control.authority");
  c->step_speed = number(run, "idle.air_conditioning_step_speed");
  c->step_duty = number(run, "idle.air_conditioning_step_duty");
  c->fan_on = number(run, "fan.on_temperature");
  c->fan_off = number(run, "fan.off_temperature");
  c->taper = number(run, "fuel.acceleration_taper");
  c->advance_limit = number(run, "ignition.advance_limit");
  c->knock_recovery = number(run, "ignition.knock_recovery_rate");
  c->correction = 100;
  c->target_lambda = 1;
}

static void see(struct run *run)
{
  struct computer *c = &run->computer;
  const struct engine *engine = &run->engine;
  double throttle = fmax(run->hands.throttle, run->flaw.throttle_rest);

  c->throttle_rate += ((throttle - c->throttle) / STEP - c->throttle_rate) * STEP / 0.03;
  c->throttle = throttle;
  c->speed = engine->speed;
  c->manifold = engine->manifold;
  c->coolant = engine->coolant;
  c->intake = engine->air;
  c->battery = engine->battery;
  c->probe = engine->probe;
}

static void switches(struct run *run)
{
  struct computer *c = &run->computer;
  const struct hands *hands = &run->hands;
  bool asked = run->flaw.step_by_clutch > 0 ? hands->clutch_foot || hands->clutch > 0.05 : hands->compressor;

  c->turned = hands->starter && c->speed > 80 ? c->turned + STEP : 0;
  if (!c->running && c->turned > 0.8) { /* it has found its place */
    c->running = true;
    c->after_left = 1;
    c->ran = 0;
  }
  if (c->speed < 50 || !hands->key)
    c->running = false;
  c->ran = c->running ? c->ran + STEP : 0;
  c->step = c->running && asked;
  if (c->coolant > c->fan_on)
    c->fan_on_now = c->running;
  else if (c->coolant < c->fan_off || !c->running)
    c->fan_on_now = false;
}

static void cut_fuel(struct run *run)
{
  struct computer *c = &run->computer;
  bool closed = c->throttle < 1.5 && c->coolant > 60 && c->running;

  c->closed_for = closed ? c->closed_for + STEP : 0;
  c->overrun = c->overrun ? closed && c->speed > c->resume_speed : c->closed_for > 0.6 && c->speed > c->cut_speed;
  c->limiter = c->limiter ? c->speed > c->speed_limit - c->hysteresis : c->speed > c->speed_limit;
  if (run->flaw.no_overrun > 0)
    c->overrun = false;
  c->cut = c->overrun || c->limiter;
}

/* ---- trims: the fast one follows the probe, what stays of it is learnt by manifold pressure */

static void correct_mixture(struct run *run)
{
  struct computer *c = &run->computer;
  bool may = run->flaw.open_loop == 0 && c->ran > 12 && c->coolant > 65 && c->manifold < 75 && c->throttle < 40 &&
             !c->cut && c->probe < 1.3;
  int bin = (int)limited(c->manifold / 10, 0, BINS - 1);
  double *learnt = &c->long_trim[bin], most = c->authority;

  if (may) {
    double off = 100 * (c->probe / c->target_lambda - 1);

    c->short_trim = limited(c->short_trim + 0.35 * off * STEP, -most, most);
    if (!c->learnt[bin])
      *learnt = c->long_now;
    c->learnt[bin] = true;
    if (fabs(c->throttle_rate) < 20) {
      double moved = c->short_trim * STEP / 6;

      *learnt += moved;
      c->short_trim -= moved;
    }
    c->long_now = *learnt;
  } else {
    c->short_trim -= c->short_trim * STEP / 1.0;
  }
  c->correction = 100 + c->short_trim + c->long_now;
}

static void inject(struct run *run)
{
  struct computer *c = &run->computer;
  double tip_in = c->throttle_rate > 60 ? curve_read(c->tip_in, c->throttle_rate) : 0, open;

  c->warm = 100 + (curve_read(c->warm_up, c->coolant) - 100) * (1 + run->flaw.other_warm_up);
  if (c->coolant > 75)
    c->warm += run->flaw.warm_enrichment;
  if (c->running && c->after_left > 0)
    c->after_left = fmax(c->after_left - STEP / curve_read(c->after_time, c->coolant), 0);
  c->after_now = c->running ? curve_read(c->after, c->coolant) * c->after_left * (1 + run->flaw.other_after_start) : 0;
  c->accelerating = fmax(tip_in, c->accelerating * (1 - STEP / c->taper));
  c->efficiency = table_read(c->filling, c->speed, c->manifold) * (1 + run->flaw.other_filling);
  c->target_lambda = table_read(c->lambda, c->speed, c->manifold) + run->flaw.target_ignored;
  correct_mixture(run);
  open = c->pulse_constant * run->flaw.pulse_long * c->manifold / 100 * c->efficiency / 100 / c->target_lambda *
         curve_read(c->air, c->intake) / 100 * c->correction / 100;
  if (c->speed < c->crank_speed)
    open *= curve_read(c->cranking, c->coolant) / 100;
  else
    open *= c->warm / 100 * (1 + c->after_now / 100) * (1 + c->accelerating / 100);
  c->pulse = c->running && !c->cut
                 ? open * (1 + run->flaw.other_pulse) + curve_read(c->dead_time, c->battery) + run->flaw.other_dead_time
                 : 0;
  c->duty = c->pulse * c->speed / 1200;
}

/* ---- spark */

static void hear_knock(struct run *run)
{
  struct computer *c = &run->computer;
  bool loaded = c->manifold > 85 && c->speed > 2500 && c->throttle > 90 && run->flaw.knocks > 0;

  c->knock_retard = fmax(c->knock_retard - c->knock_recovery * STEP, run->flaw.knock_held);
  if (!loaded || run->time < c->knock_at || c->knock_count >= (int)run->flaw.knocks)
    return;
  c->knock_count++;
  c->knock_retard += 1.5;
  c->knock_at = run->time + 0.7;
}

static void set_spark(struct run *run)
{
  struct computer *c = &run->computer;

  hear_knock(run);
  c->dwell_time = c->speed < c->crank_speed ? number(run, "ignition.dwell_cranking") : curve_read(c->dwell, c->battery);
  c->dwell_time *= 1 + run->flaw.other_dwell;
  c->spark_angle = table_read(c->spark, c->speed, c->manifold) + curve_read(c->spark_coolant, c->coolant) +
                   curve_read(c->spark_air, c->intake);
  if (c->idling)
    c->spark_angle +=
        run->flaw.other_idle_advance + run->flaw.spark_sense * curve_read(c->spark_idle, c->idle_target - c->speed);
  c->spark_angle = fmin(c->spark_angle, c->advance_limit) - c->knock_retard + run->flaw.spark_shift;
  if (c->speed < c->crank_speed)
    c->spark_angle = c->crank_advance + run->flaw.other_cranking;
  if (run->flaw.spark_locked > 0)
    c->spark_angle = run->flaw.spark_locked;
}

/* ---- idle: the curve feeds forward, an integral and a proportional part correct, a held-open valve catches */

static void set_valve(struct run *run)
{
  struct computer *c = &run->computer;
  const struct flaw *flaw = &run->flaw;
  double duty = curve_read(c->speed < c->crank_speed ? c->opening_cranking : c->opening, c->coolant), error, more = 0;
  bool parted = run->hands.gear == 0 || run->hands.clutch > 0.9;

  c->idle_target = curve_read(c->target, c->coolant) + (c->step ? c->step_speed : 0);
  c->idle_target += flaw->other_target;
  c->idling = c->running && c->throttle < c->idle_throttle && (run->engine.vehicle < 2 || parted);
  error = c->idle_target + flaw->target_shift - c->speed;
  if (c->step)
    more += c->step_duty * flaw->compressor_feed;
  if (c->throttle > c->idle_throttle || (c->speed > c->idle_target + 900 && !c->idling))
    c->holding = flaw->catching * limited((c->speed - c->idle_target) * 0.006, 0, 6);
  else
    c->holding -= c->holding * STEP / (0.9 * flaw->releasing);
  more += c->holding;
  if (c->idling && c->ran > 2 && error > -350)
    c->integral += flaw->loop_gain * 0.02 * limited(error, -150, 150) * STEP;
  else if (!c->idling)
    c->integral -= c->integral * STEP / 8;
  c->integral = limited(c->integral, -25, 60);
  if (c->idling && c->ran > 1.5)
    more += flaw->loop_damping * limited(0.022 * error, parted && error < -300 ? -1 : -4, 7);
  if (c->idling && c->ran > 1.5)
    c->valve = limited(duty + more + c->integral, c->valve_low, c->valve_high);
  else
    c->valve = limited(duty + more + limited(c->integral, -10, 25), c->valve_low, c->valve_high);
}

static void set_boost(struct run *run)
{
  struct computer *c = &run->computer;

  if (run->car->aspiration != TURBO)
    return;
  c->boost_target = run->flaw.other_boost + table_read(c->boost, c->speed, c->throttle) -
                    curve_read(c->boost_air, c->intake) - curve_read(c->boost_coolant, c->coolant);
  c->boost_duty = c->throttle > 25
                      ? limited(28 + 0.25 * (c->boost_target - 100) + 0.3 * (c->boost_target - c->manifold), 0, 75)
                      : 0;
}

static void lose_sync(struct run *run)
{
  struct computer *c = &run->computer;
  double from = 120;

  for (int i = 0; i < (int)run->flaw.sync_losses; i++)
    c->sync_losses += fabs(run->time - from - 37 * i) < STEP / 2;
}

void computer_act(struct run *run)
{
  see(run);
  switches(run);
  cut_fuel(run);
  set_valve(run);
  inject(run);
  set_spark(run);
  set_boost(run);
  lose_sync(run);
}
