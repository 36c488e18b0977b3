/* Simulated logs with one planted fault each: a second opinion on the rules that read logs, so nothing here comes from
 * src/ or rules/ but the names of the vocabulary. Settings and job sheets are those of the random sound cars in
 * faults*.c. Times in seconds, speeds in rpm, pressures in kPa absolute, torques as mean effective pressures in kPa, so
 * that one model fits an engine of any size. Reading order: logs_drive.c (the person at the wheel), logs_engine.c (the
 * engine and the car), logs_control.c (the engine computer, which obeys the settings), logs_flaw.c (what can be wrong),
 * logs_record.c (sensors and logger), logs_write.c (rates, units, styles of heading), logs_prove.c (audits all of
 * them), logs.c (the program). */
#ifndef LOGS_H
#define LOGS_H

#include "faults.h"

enum { STEPS_A_SECOND = 400, FASTEST_HZ = 200, BINS = 12 };

enum channel {
  TIME,
  ENGINE_SPEED,
  MANIFOLD,
  BAROMETER,
  THROTTLE,
  COOLANT,
  AIR,
  BATTERY,
  VEHICLE,
  GEAR,
  LAMBDA,
  LAMBDA_GAUGE,
  LAMBDA_BANK_2,
  LAMBDA_TARGET,
  LAMBDA_CORRECTION,
  LONG_TRIM,
  SHORT_TRIM,
  FILLING,
  PULSE,
  DUTY,
  WARM_UP,
  AFTER_START,
  ACCELERATION,
  SPARK,
  DWELL,
  KNOCK_RETARD,
  KNOCK_COUNT,
  IDLE_DUTY,
  IDLE_TARGET,
  BOOST_TARGET,
  BOOST_DUTY,
  FUEL_PRESSURE,
  OIL_PRESSURE,
  ETHANOL_FREQUENCY,
  ELECTRICAL_LOAD,
  SYNC_LOSSES,
  CLUTCH,
  BRAKE,
  NEUTRAL,
  AC_REQUEST,
  AC_STEP,
  FAN,
  RUNNING,
  FUEL_CUT,
  SPARK_CUT,
  CHANNEL_COUNT
};

/* Values by which a sound car is told from a faulty one. A sound car has those of flaw_none(). */
struct flaw {
  /* idle */
  double valve_stuck;    /* opening in % at which the valve stays; below 0: it moves */
  double valve_sense;    /* -1: plumbed the other way round */
  double loop_gain;      /* of the idle control, times that of the sound one */
  double loop_damping;   /* likewise of its fast part */
  double releasing;      /* how long it takes to let go of the valve then, times the sound value */
  double catching;       /* how far the valve is held open as the throttle closes, times the sound value */
  double spark_sense;    /* -1: the idle's advance goes the wrong way */
  double target_shift;   /* rpm that the idle control aims beside its target */
  double air_leak;       /* share of the idle air that comes past the valve */
  double swing;          /* Hz at which the speed of the idle swings by itself; 0: it does not */
  double leak_after;     /* rpm-like extra air that remains for some seconds after a blip: a sticking linkage */
  double scatter;        /* of the torque from one firing to the next, kPa */
  double weak_cylinder;  /* share of torque that one cylinder lacks */
  double dies_at;        /* s: when the throttle next closes after it, the engine is left without air; 0: never */
  double step_by_clutch; /* 1: the idle raise listens to the clutch switch */
  double lamp_load, fan_load, compressor_load; /* kPa */
  double compressor_feed;                      /* 0: the valve does not open for the compressor */
  /* mixture */
  double lean_loaded, lean_boosted, lean_everywhere, lean_cruise; /* share of fuel that is missing there */
  double bank_apart;                                              /* share */
  double dead_time_low; /* ms that the injectors need more at 11 V than the file says, none at 14 V */
  double rail_fixed;    /* 1: the regulator's reference line is off */
  double rail_sag;      /* kPa at full flow */
  double rail_high;     /* kPa over the usual pressure; the mixture is held by the trims */
  double open_loop;     /* 1: no trim acts */
  double pulse_long;    /* times: injectors too small */
  double gauge_gain, gauge_offset;
  double target_ignored;  /* lambda by which the commanded target differs from the table's */
  double warm_enrichment; /* % of enrichment that stays on a warm engine */
  /* ignition and protection */
  double spark_locked, spark_shift, knocks, knock_held, limiter_low, sync_losses, spike;
  /* the computer does not run on this file */
  double other_dwell, other_warm_up, other_after_start, other_target, other_filling, other_pulse, other_dead_time,
      other_cranking;
  double other_boost, other_idle_advance, other_air, no_overrun, other_file;
  /* boost */
  double boost_excess, boost_sense;
  /* sensors and supplies */
  double charge, charge_share, dip, dip_long, coolant_climbs, thermostat_open, oil_share, oil_hot;
  double manifold_frozen, throttle_frozen, coolant_broken, air_broken, manifold_noise, lambda_noise;
  double manifold_shift, barometer_shift, coolant_shift, air_heats, air_hot, throttle_rest, fahrenheit, ethanol_jumps;
  double starter; /* rpm at which the starter turns the engine */
  double gap, clock_back;
  double soak;      /* K that the coolant is from the air when the log starts */
  double long_idle; /* s more of running */
};

struct flaw flaw_none(void);

/* One kind of fault. `least_hz`: the slowest log in which physics lets it be seen; `why` it is not 5 Hz. */
struct kind_of_fault {
  const char *name, *rule;
  void (*plant)(struct flaw *flaw, struct car *car);
  int least_hz;
  int engine;            /* 0: both; 1: naturally aspirated, 2: turbocharged only */
  bool span;             /* the finding must point to a time */
  enum channel needs[4]; /* channels that no subset may leave out; TIME ends the list */
  const char *also, *why;
};
const struct kind_of_fault *kinds(size_t *count);

struct hands {
  double throttle, brake, clutch; /* %, 0..1, 0..1: 1 is pressed */
  int gear;
  bool key, starter, lamps, compressor, clutch_foot;
  double integral, blip_ended;
};

struct engine {
  double speed, manifold, boost, coolant, air, battery, vehicle, lambda, oil, rail, burning, film, load;
  double probe, probe_2, gauge, pipe[256]; /* lambda on its way to the probe, one value every 5 ms */
  int pipe_at;
  double slow_noise, crank, heat, alternator, extra_air;
  double valve_scale, outside;
  struct dice dice;
};

struct computer {
  const struct item *filling, *lambda, *spark, *air, *dead_time, *cranking, *after, *after_time, *warm_up, *tip_in;
  const struct item *spark_coolant, *spark_air, *spark_idle, *dwell, *opening, *opening_cranking, *target, *boost,
      *boost_air, *boost_coolant;
  double pulse_constant, crank_speed, crank_advance, speed_limit, hysteresis, idle_throttle, valve_low, valve_high;
  double cut_speed, resume_speed, authority, step_speed, step_duty, fan_on, fan_off, taper, advance_limit,
      knock_recovery;
  /* what it sees and commands */
  double speed, manifold, throttle, coolant, intake, battery, throttle_rate, probe;
  double idle_target, valve, spark_angle, knock_retard, dwell_time, target_lambda, efficiency, pulse, duty;
  double warm, after_now, after_left, accelerating, correction, long_trim[BINS], long_now, short_trim, boost_target,
      boost_duty;
  double integral, holding, ran, turned, closed_for, knock_at;
  int knock_count, sync_losses;
  bool learnt[BINS], running, cut, overrun, limiter, fan_on_now, step, idling;
};

struct run {
  struct car *car;
  struct flaw flaw;
  struct hands hands;
  struct engine engine;
  struct computer computer;
  double time;
  int rows;
  double (*row)[CHANNEL_COUNT]; /* FASTEST_HZ a second */
};

double limited(double value, double low, double high);
double curve_read(const struct item *item, double x);
double table_read(const struct item *item, double x, double y);

double drive_seconds(const struct flaw *flaw);
void hands_move(struct run *run);
void computer_start(struct run *run);
void computer_act(struct run *run);
void engine_start(struct run *run);
void engine_move(struct run *run);
void run_record(struct run *run);
void run_whole(struct run *run); /* a car and a flaw are in it; the rows are the caller's to free */

/* Writes log.csv: one row of `run` in so many; style 0.. chooses units, heading and channels, `keep` stays in. */
bool log_write(const struct run *run, const char *path, int hz, int style, const enum channel *keep);

int logs_prove(const char *program, const char *folder, int share, const char *only);

#endif
