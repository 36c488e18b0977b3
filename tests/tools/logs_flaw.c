/* What can be wrong with a car that only its log shows: one function a kind, and the table of kinds with the rule that
 * has to find each. Reading order: the sound car, idle, mixture, ignition and boost, supplies and sensors, the table.
 */
#include "logs.h"

struct flaw flaw_none(void)
{
  return (struct flaw){.valve_stuck = -1,
                       .valve_sense = 1,
                       .loop_gain = 1,
                       .loop_damping = 1,
                       .catching = 1,
                       .releasing = 1,
                       .spark_sense = 1,
                       .lamp_load = 4,
                       .fan_load = 4,
                       .compressor_load = 20,
                       .compressor_feed = 1,
                       .pulse_long = 1,
                       .gauge_gain = 1,
                       .starter = 245};
}

#define PLANT(name) static void name(struct flaw *flaw, struct car *car)
#define SET(name, member, worth) \
  PLANT(name)                    \
  {                              \
    (void)car;                   \
    flaw->member = (worth);      \
  }

/* ---- idle */

PLANT(hunts)
{
  (void)car;
  flaw->loop_gain = 9;
  flaw->loop_damping = 0.2;
  flaw->spark_sense = 0.2;
}

SET(swings_slowly, swing, 0.3)
SET(swings_twice_in_4_s, swing, 0.5)
SET(swings_each_second, swing, 1)
SET(swings_quickly, swing, 1.5)
SET(swings_as_quickly_as_can_be, swing, 2)
SET(rough, scatter, 95)

PLANT(weak_cylinder)
{
  flaw->weak_cylinder = car->cylinders == 4 ? 0.65 : 0.55;
}

SET(stalls, dies_at, 188.2)
SET(hangs, leak_after, 14)

PLANT(droops)
{
  (void)car;
  flaw->catching = -5;
  flaw->loop_damping = 0.3;
}

PLANT(overshoots)
{
  (void)car;
  flaw->compressor_feed = 3.4;
}

PLANT(settles_slowly)
{
  (void)car;
  flaw->catching = 2;
  flaw->releasing = 6;
  flaw->loop_damping = 0.05;
  flaw->loop_gain = 0.2;
}

PLANT(valve_stuck)
{
  flaw->valve_stuck = 0.7 * curve_read(file_find(&car->settings, "idle.valve_duty"), 90);
}

PLANT(valve_inverted)
{
  flaw->valve_sense = -0.3;
  file_drop(&car->job, "idle.valve_sense");
}

SET(lamps_pull, lamp_load, 60)
SET(fan_pulls, fan_load, 60)

PLANT(compressor_pulls)
{
  (void)car;
  flaw->compressor_load = 130;
  flaw->compressor_feed = 0;
}

SET(idles_low, target_shift, -130)
SET(idles_high, target_shift, 240)
SET(spark_reversed, spark_sense, -0.5)

PLANT(step_by_clutch)
{
  flaw->step_by_clutch = 1;
  flaw->compressor_load = 5;
  file_drop(&car->job, "inputs");
}

SET(throttle_rests_open, throttle_rest, 2.2)

/* ---- mixture */

SET(lean_loaded, lean_loaded, 0.17)
SET(lean_boosted, lean_boosted, 0.2)
SET(rich_loaded, lean_loaded, -0.32)

PLANT(off_target)
{
  (void)car;
  flaw->lean_everywhere = -0.06;
  flaw->open_loop = 1;
}

SET(banks_apart, bank_apart, 0.07)
SET(trims_large, lean_everywhere, 0.115)
SET(rail_unreferenced, rail_fixed, 1)
SET(rail_sags, rail_sag, 130)
SET(injectors_small, pulse_long, 2.1)
SET(gauge_reads_otherwise, gauge_gain, 1.09)
SET(hot_enrichment, warm_enrichment, 6)

/* ---- ignition and boost */

SET(spark_locked, spark_locked, 12)
SET(spark_late, spark_shift, -4)
SET(knocks_once, knocks, 1)
SET(knocks_often, knocks, 6)
SET(knock_retard_stands, knock_held, 4.5)
SET(sync_lost, sync_losses, 3)
SET(speed_spikes, spike, 900)
SET(boost_over, boost_excess, 22)

/* ---- the computer runs on something else than this file */

SET(other_lambda_target, target_ignored, -0.05)
SET(other_dwell, other_dwell, 0.25)
SET(other_warm_up, other_warm_up, 0.6)
SET(other_after_start, other_after_start, 0.8)
SET(other_target, other_target, 90)
SET(other_filling, other_filling, 0.1)
SET(other_pulse, other_pulse, 0.12)
SET(other_dead_time, other_dead_time, 0.35)
SET(other_boost, other_boost, -20)
SET(other_idle_advance, other_idle_advance, -5)
SET(other_cranking, other_cranking, 8)
SET(no_overrun, no_overrun, 1)
SET(over_limit, limiter_low, -300)
SET(other_file, other_file, 1)

/* ---- supplies and sensors */

SET(charges_little, charge, -1.6)
SET(charges_much, charge, 1.3)

PLANT(volts_dip)
{
  (void)car;
  flaw->dip = 2.2;
  flaw->dip_long = 3;
}

PLANT(volts_blink)
{
  (void)car;
  flaw->dip = 1.3;
  flaw->dip_long = 0.4;
}

SET(coolant_climbs, coolant_climbs, 1.5)
SET(oil_low, oil_share, 0.5)
SET(manifold_frozen, manifold_frozen, 61)
SET(throttle_frozen, throttle_frozen, 14)
SET(coolant_open, coolant_broken, -40)
SET(air_shorted, air_broken, 152)
SET(coolant_shifted, coolant_shift, 13)
SET(manifold_shifted, manifold_shift, 7)
SET(barometer_shifted, barometer_shift, -9)
SET(air_heats, air_heats, 60)
SET(air_hot, air_hot, 62)
SET(ethanol_jumps, ethanol_jumps, 120)
SET(wrong_unit, fahrenheit, 1)
SET(log_gap, gap, 20)
SET(clock_runs_back, clock_back, 15)
SET(starter_fast, starter, 400)

PLANT(never_warm)
{
  (void)car;
  flaw->thermostat_open = 55;
  flaw->long_idle = 900;
}

/* ---- the table */

static const struct kind_of_fault KINDS[] = {
    {"idle hunts", "idle-hunting", hunts, 5, 0, true, {IDLE_DUTY}, "idle-droop-after-release", ""},
    {"idle swings at 0.3 Hz", "idle-hunting", swings_slowly, 5, 0, true, {IDLE_TARGET}, "", ""},
    {"idle swings at 0.5 Hz", "idle-hunting", swings_twice_in_4_s, 5, 0, true, {IDLE_TARGET}, "", ""},
    {"idle swings at 1 Hz", "idle-hunting", swings_each_second, 10, 0, true, {IDLE_TARGET}, "", "ten rows a swing"},
    {"idle swings at 1.5 Hz",
     "idle-hunting",
     swings_quickly,
     10,
     0,
     true,
     {IDLE_TARGET},
     "",
     "more than five rows a swing"},
    {"idle swings at 2 Hz",
     "idle-hunting",
     swings_as_quickly_as_can_be,
     10,
     0,
     true,
     {IDLE_TARGET},
     "",
     "five rows a swing"},
    {"idle rough",
     "idle-rough",
     rough,
     10,
     0,
     false,
     {ENGINE_SPEED},
     "idle-droop-after-release",
     "firings scatter the speed from turn to turn; five rows a second show it as slow as hunting"},
    {"one cylinder weak",
     "idle-rough",
     weak_cylinder,
     20,
     0,
     false,
     {ENGINE_SPEED},
     "idle-droop-after-release",
     "it comes round seven times a second"},
    {"stalls after a blip", "idle-stall", stalls, 5, 0, true, {PULSE}, "idle-droop-after-release", ""},
    {"speed hangs", "speed-hang", hangs, 5, 0, true, {THROTTLE}, "", ""},
    {"droops after a blip", "idle-droop-after-release", droops, 5, 0, true, {THROTTLE, CLUTCH}, "", ""},
    {"overshoots a step", "idle-overshoot", overshoots, 5, 0, true, {IDLE_TARGET}, "", ""},
    {"settles slowly", "idle-settling-slow", settles_slowly, 5, 0, true, {THROTTLE}, "", ""},
    {"idle valve stuck",
     "idle-actuator-at-stop",
     valve_stuck,
     5,
     0,
     false,
     {IDLE_DUTY},
     "idle-steady-error idle-droop-after-release",
     ""},
    {"idle valve the other way round",
     "idle-valve-sense-inverted",
     valve_inverted,
     5,
     0,
     false,
     {IDLE_DUTY},
     "idle-steady-error idle-hunting idle-stall idle-droop-after-release",
     ""},
    {"lamps pull the idle down", "idle-load-step-droop", lamps_pull, 5, 0, true, {ELECTRICAL_LOAD}, "idle-hunting", ""},
    {"fan pulls the idle down", "idle-load-step-droop", fan_pulls, 5, 0, true, {FAN}, "", ""},
    {"compressor pulls the idle down", "idle-load-step-droop", compressor_pulls, 5, 0, true, {AC_STEP}, "", ""},
    {"idles too low", "idle-steady-error", idles_low, 5, 0, false, {IDLE_TARGET}, "", ""},
    {"idles too fast", "idle-steady-error", idles_high, 5, 0, false, {IDLE_TARGET}, "", ""},
    {"idle's advance reversed", "idle-spark-sign", spark_reversed, 5, 0, false, {SPARK}, "idle-hunting", ""},
    {"idle raised by the clutch",
     "idle-step-input-unexpected",
     step_by_clutch,
     5,
     0,
     false,
     {AC_REQUEST, CLUTCH},
     "",
     ""},
    {"throttle rests open", "idle-entry-throttle-mismatch", throttle_rests_open, 5, 0, false, {THROTTLE}, "", ""},
    {"lean at full load",
     "lean-under-load",
     lean_loaded,
     5,
     0,
     true,
     {LAMBDA},
     "mixture-off-target mixture-off-in-region",
     ""},
    {"lean in boost alone", "lean-under-load", lean_boosted, 5, 2, true, {LAMBDA}, "mixture-off-in-region", ""},
    {"rich at full load", "rich-under-load", rich_loaded, 5, 0, true, {LAMBDA}, "mixture-off-in-region", ""},
    {"second bank apart", "bank-imbalance", banks_apart, 5, 0, false, {LAMBDA_BANK_2}, "", ""},
    {"trims have to add fuel",
     "trims-large",
     trims_large,
     5,
     0,
     false,
     {LONG_TRIM},
     "lean-under-load mixture-off-in-region",
     ""},
    {"injectors open nearly all the time",
     "injector-duty-in-log",
     injectors_small,
     5,
     0,
     false,
     {DUTY},
     "mixture-off-in-region",
     ""},
    {"gauge and log differ", "gauge-and-log-lambda-differ", gauge_reads_otherwise, 5, 0, false, {LAMBDA_GAUGE}, "", ""},
    {"enrichment on a hot engine", "warmup-active-when-hot-in-log", hot_enrichment, 5, 0, true, {WARM_UP}, "", ""},
    {"spark locked", "timing-locked-in-log", spark_locked, 5, 0, false, {SPARK}, "", ""},
    {"spark 4 deg late", "commanded-vs-logged-advance", spark_late, 5, 0, false, {SPARK}, "", ""},
    {"knocks once", "knock-events", knocks_once, 5, 0, true, {KNOCK_COUNT}, "", ""},
    {"knocks in each pull", "knock-events", knocks_often, 5, 0, true, {KNOCK_COUNT}, "", ""},
    {"knock retard stands", "knock-events", knock_retard_stands, 5, 0, false, {KNOCK_RETARD}, "", ""},
    {"knock retard never goes away",
     "knock-retard-standing",
     knock_retard_stands,
     5,
     0,
     true,
     {KNOCK_RETARD},
     "knock-events",
     ""},
    {"synchronism lost", "sync-loss", sync_lost, 5, 0, true, {SYNC_LOSSES}, "", ""},
    {"speed signal spikes",
     "speed-spike",
     speed_spikes,
     20,
     0,
     true,
     {ENGINE_SPEED},
     "",
     "a jump lasts 0.05 s, and 0.1 s on either side of it have to be logged"},
    {"boost over its target", "boost-overshoot", boost_over, 5, 2, true, {BOOST_TARGET}, "", ""},
    {"charges too little", "supply-out-of-band", charges_little, 5, 0, false, {BATTERY}, "", ""},
    {"charges too much", "supply-out-of-band", charges_much, 5, 0, false, {BATTERY}, "", ""},
    {"supply sags for seconds", "voltage-dip", volts_dip, 5, 0, true, {BATTERY}, "", ""},
    {"supply dips for a moment", "voltage-dip", volts_blink, 5, 0, true, {BATTERY}, "", ""},
    {"coolant climbs", "coolant-out-of-band", coolant_climbs, 5, 0, true, {COOLANT}, "", ""},
    {"oil pressure low when hot", "oil-pressure-low", oil_low, 5, 0, true, {OIL_PRESSURE}, "", ""},
    {"manifold sensor stands still",
     "sensor-frozen",
     manifold_frozen,
     5,
     0,
     false,
     {MANIFOLD},
     "key-on-map-vs-baro mixture-off-in-region",
     ""},
    {"throttle sensor stands still", "sensor-frozen", throttle_frozen, 5, 0, false, {THROTTLE}, "boost-overshoot", ""},
    {"coolant sensor's wire broken", "sensor-at-fault-value", coolant_open, 5, 0, true, {COOLANT}, "", ""},
    {"air sensor shorted", "sensor-at-fault-value", air_shorted, 5, 0, true, {AIR}, "", ""},
    {"coolant sensor reads high", "cold-soak-disagree", coolant_shifted, 5, 0, false, {COOLANT, AIR}, "", ""},
    {"manifold sensor reads high",
     "key-on-map-vs-baro",
     manifold_shifted,
     5,
     0,
     false,
     {MANIFOLD, BAROMETER},
     "mixture-off-in-region",
     ""},
    {"barometer reads low", "baro-vs-altitude", barometer_shifted, 5, 0, false, {BAROMETER}, "key-on-map-vs-baro", ""},
    {"air heats in a pull", "charge-air-heat-soak", air_heats, 5, 0, false, {AIR}, "", ""},
    {"air hot all the time", "charge-air-heat-soak", air_hot, 5, 0, false, {AIR}, "", ""},
    {"ethanol sensor out of its range",
     "ethanol-sensor-implausible",
     ethanol_jumps,
     5,
     0,
     false,
     {ETHANOL_FREQUENCY},
     "",
     ""},
    {"coolant logged in another unit",
     "unit-suspect",
     wrong_unit,
     5,
     0,
     false,
     {COOLANT},
     "coolant-out-of-band sensor-at-fault-value",
     ""},
    {"log with a gap", "log-time-broken", log_gap, 5, 0, false, {ENGINE_SPEED}, "", ""},
    {"log's clock runs back", "log-time-broken", clock_runs_back, 5, 0, false, {ENGINE_SPEED}, "", ""},
    {"starter fast enough to run", "crank-run-threshold-bad", starter_fast, 5, 0, false, {ENGINE_SPEED}, "", ""},
    {"engine never gets warm", "warmup-failure-in-log", never_warm, 5, 0, false, {COOLANT}, "", ""},
    {"regulator without its reference",
     "rail-flat-in-log",
     rail_unreferenced,
     5,
     0,
     false,
     {FUEL_PRESSURE, MANIFOLD},
     "lean-under-load rail-sags-in-log mixture-off-in-region",
     ""},
    {"trims fall with the manifold pressure",
     "trims-large",
     rail_unreferenced,
     5,
     0,
     false,
     {LONG_TRIM, MANIFOLD},
     "lean-under-load rail-flat-in-log rail-sags-in-log mixture-off-in-region",
     ""},
    {"fuel pressure sags under load",
     "rail-sags-in-log",
     rail_sags,
     5,
     0,
     false,
     {FUEL_PRESSURE, MANIFOLD},
     "rail-flat-in-log lean-under-load mixture-off-in-region",
     ""},
    {"lambda target of another file",
     "lambda-target-not-as-commanded",
     other_lambda_target,
     5,
     0,
     false,
     {LAMBDA_TARGET},
     "",
     ""},
    {"dwell of another file", "dwell-not-as-commanded", other_dwell, 5, 0, false, {DWELL}, "", ""},
    {"warm-up of another file", "warm-up-not-as-commanded", other_warm_up, 5, 0, false, {WARM_UP}, "", ""},
    {"after-start of another file",
     "after-start-not-as-commanded",
     other_after_start,
     5,
     0,
     false,
     {AFTER_START},
     "",
     ""},
    {"idle target of another file", "idle-target-not-as-commanded", other_target, 5, 0, false, {IDLE_TARGET}, "", ""},
    {"filling of another file",
     "filling-not-as-commanded",
     other_filling,
     5,
     0,
     false,
     {FILLING},
     "mixture-off-in-region lean-under-load",
     ""},
    {"pulses of another file",
     "pulse-width-not-as-commanded",
     other_pulse,
     5,
     0,
     false,
     {PULSE, FILLING, LAMBDA_CORRECTION},
     "mixture-off-in-region lean-under-load",
     ""},
    {"dead time of another file",
     "dead-time-not-as-commanded",
     other_dead_time,
     5,
     0,
     false,
     {PULSE, FILLING, LAMBDA_CORRECTION},
     "mixture-off-in-region lean-under-load",
     ""},
    {"boost target of another file", "boost-target-not-as-commanded", other_boost, 5, 2, false, {BOOST_TARGET}, "", ""},
    {"idle advance of another file", "idle-advance-not-as-commanded", other_idle_advance, 5, 0, false, {SPARK}, "", ""},
    {"cranking advance of another file",
     "cranking-advance-not-as-commanded",
     other_cranking,
     5,
     0,
     false,
     {SPARK},
     "",
     ""},
    {"no fuel cut on the overrun", "overrun-cut-not-as-commanded", no_overrun, 5, 0, false, {FUEL_CUT, PULSE}, "", ""},
    {"speed runs past the limit", "speed-over-limit-in-log", over_limit, 5, 0, true, {ENGINE_SPEED}, "", ""},
    {"log of another file",
     "log-made-with-other-file",
     other_file,
     5,
     0,
     false,
     {SPARK, LAMBDA_TARGET, WARM_UP, FILLING},
     "mixture-off-in-region",
     ""},
    {"mixture off its target",
     "mixture-off-target",
     off_target,
     5,
     0,
     false,
     {LAMBDA_TARGET},
     "mixture-off-in-region",
     ""},
};

const struct kind_of_fault *kinds(size_t *count)
{
  *count = sizeof KINDS / sizeof *KINDS;
  return KINDS;
}
