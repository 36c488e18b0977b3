/* The example job's generator: what its files share. Used by tests/tools/simulate*.c only; links nothing of src/ and
 * shares no constant with it, so that file, log and audit can be held against each other. Units are those of the
 * names: rpm, kPa absolute, degC, deg of spark before top dead centre, %, ms, s, V, km/h, mg, g/s, N m. */
#ifndef KEYWAY_TESTS_SIMULATE_H
#define KEYWAY_TESTS_SIMULATE_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum { CURVE_MAXIMUM = 12, TABLE_MAXIMUM = 16 };

/* How the car came in, with its faults, and how it left. */
enum variant { AS_IT_CAME, AS_IT_LEFT };

struct curve {
  const char *x_unit, *unit;
  int decimals; /* of the values when printed */
  int count;
  double x[CURVE_MAXIMUM], value[CURVE_MAXIMUM];
};

struct table {
  const char *x_unit, *y_unit, *unit;
  int decimals;
  int columns, rows;
  double x[TABLE_MAXIMUM], y[TABLE_MAXIMUM], value[TABLE_MAXIMUM][TABLE_MAXIMUM];
};

/* The settings that the simulated engine computer obeys, and those that are printed beside them. */
struct tune {
  enum variant variant;
  struct curve dead_time, prime_pulse, cranking_fuel, after_start, after_start_duration, warm_up, fuel_air, barometric;
  struct curve acceleration, ethanol_fuel, ethanol_spark, spark_coolant, spark_air, spark_idle, dwell;
  struct curve valve_duty, valve_cranking, idle_target, coolant_sensor, lambda_sensor, oil_minimum;
  struct table efficiency, lambda, spark, boost;
  double fixed_advance;
  bool opens_with_duty, closed_loop_idle;
};

/* A small repeatable generator (splitmix64): no run, compiler or library changes its numbers. */
struct noise {
  uint64_t state;
};

/* What the person at the wheel does at this moment. */
struct driver {
  double throttle, brake, clutch; /* %, 0..1, pedal 0..1 (1: pressed) */
  int gear;                       /* 0: neutral */
  bool key, starter, air_conditioning, lights, clutch_pressed;
  double hold, shift_until, integral; /* memory: 0 when it starts */
  int next_gear;
  double rollers; /* km/h that a rolling road holds the wheels to; 0: on the road */
};

/* The engine, the car and what surrounds them: the truth. */
struct plant {
  double speed, pressure, boost, coolant, air, battery, vehicle, lambda; /* lambda: in the cylinders */
  double oil, fuel;                                                      /* gauge pressures */
  double sensor;                                                         /* lambda as the probe gives it */
  double pipe[512];                                                      /* lambda on its way to the probe */
  int pipe_at;
  double flow, charge; /* g/s into the cylinders, mg for each stroke */
  double burning;      /* 0..1: share of strokes that fire, rises after the first ignition */
  double film;         /* share of acceleration fuel that is still on the walls */
  struct noise noise;
};

/* What the engine computer sees and commands. */
struct control {
  double speed, pressure, barometer, throttle, throttle_rate, coolant, air, battery, lambda, vehicle; /* sensors */
  double pulse, duty, spark, dwell, valve, idle_target, boost_target, lambda_target, efficiency;
  double correction, warm_up, after_start, acceleration; /* %; the last two on top of 100 */
  double after_start_left, after_start_from, integral, dashpot, running_for, closed_for;
  bool running, fuel_cut, overrun, limiter, fan, fan_turns, step, clutch_switch, brake_switch, air_conditioning;
  struct noise noise;
};

struct tune tune_make(enum variant variant);
double curve_at(const struct curve *curve, double x);
double table_at(const struct table *table, double x, double y);

/* -1..1, bell-shaped. */
double noise_next(struct noise *noise);

bool settings_print(FILE *out, const struct tune *tune);

struct driver driver_start(void);
void driver_act(struct driver *driver, const struct plant *plant, enum variant variant, double time, double step);

struct control control_start(void);
void control_act(struct control *control, const struct tune *tune, const struct plant *plant,
                 const struct driver *driver, double step);

struct plant plant_start(void);
/* `truth` is the tune whose fuel tables fit the engine: the one it leaves with. */
void plant_move(struct plant *plant, const struct tune *truth, const struct control *control,
                const struct driver *driver, double step);

/* Barometer of the place and a warm engine's thermostat, the same for computer and engine. */
#define SITE_PRESSURE 97.6
#define SITE_TEMPERATURE 14.0

#endif
