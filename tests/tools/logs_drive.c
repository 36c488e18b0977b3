/* The person at the wheel: five minutes that hold what a log is judged by. A cold start and idle, a drive that warms
 * the engine, a long warm idle with lamps, air conditioning and blips, two pulls with overrun after each, a hot idle,
 * key off. Reading order: the script, feet, the acts, hands_move. */
#include "logs.h"

#include <math.h>
#include <stddef.h>

enum act { ACT_KEY, ACT_CRANK, ACT_IDLE, ACT_DRIVE, ACT_PULL, ACT_COAST, ACT_STOP, ACT_OFF };

/* What goes on until a time. `value`: km/h to drive at. */
static const struct {
  double until;
  enum act act;
  double value;
} SCRIPT[] = {
    {3, ACT_KEY, 0},    {24, ACT_CRANK, 0},   {58, ACT_DRIVE, 48}, {94, ACT_DRIVE, 72}, {104, ACT_STOP, 0},
    {208, ACT_IDLE, 0}, {226, ACT_DRIVE, 58}, {242, ACT_PULL, 0},  {251, ACT_COAST, 0}, {262, ACT_DRIVE, 64},
    {278, ACT_PULL, 0}, {287, ACT_COAST, 0},  {298, ACT_STOP, 0},  {322, ACT_IDLE, 0},  {326, ACT_OFF, 0},
};

enum { ACTS = sizeof SCRIPT / sizeof *SCRIPT, HOT_IDLE = ACTS - 2 };

struct interval {
  double from, to;
};

static const struct interval LAMPS[] = {{10, 16}, {150, 160}}, COMPRESSOR[] = {{166, 177}},
                             BLIPS[] = {{188, 188.5}, {198, 198.5}}, CLUTCH_FOOT[] = {{140, 144}, {181, 185}};

#define WITHIN(list, time) within(list, sizeof(list) / sizeof *(list), time)

static bool within(const struct interval *list, size_t count, double time)
{
  for (size_t i = 0; i < count; i++)
    if (time >= list[i].from && time < list[i].to)
      return true;
  return false;
}

double limited(double value, double low, double high)
{
  return value < low ? low : value > high ? high : value;
}

/* A longer idle is put in before the key is turned off. */
double drive_seconds(const struct flaw *flaw)
{
  return SCRIPT[ACTS - 1].until + flaw->long_idle;
}

static void move_foot(double *pedal, double goal, double rate)
{
  *pedal += limited(goal - *pedal, -rate / STEPS_A_SECOND, rate / STEPS_A_SECOND);
}

static void act_idle(struct run *run)
{
  struct hands *hands = &run->hands;
  bool blip = WITHIN(BLIPS, run->time);

  hands->gear = 0;
  hands->clutch = 0;
  hands->integral = 0;
  hands->clutch_foot = WITHIN(CLUTCH_FOOT, run->time);
  move_foot(&hands->throttle, blip ? 9 : 0, 80);
  if (blip)
    hands->blip_ended = run->time;
}

/* Off with a slipping clutch in second gear; the way to third is a dip of the clutch. */
static void act_drive(struct run *run, double goal)
{
  struct hands *hands = &run->hands;
  const struct engine *engine = &run->engine;
  double error = goal - engine->vehicle;

  if (hands->gear == 0) {
    hands->gear = 2;
    hands->clutch = 1;
  }
  if (hands->gear == 2 && engine->vehicle > 32) {
    hands->gear = 3;
    hands->clutch = 1;
  }
  if (hands->clutch > 0 && engine->vehicle < 20) {
    move_foot(&hands->throttle, limited(7 + (1900 - engine->speed) * 0.012, 3, 22), 40);
    move_foot(&hands->clutch, limited(0.95 - (engine->speed - 1000) / 2500, 0.45, 0.95), 1.5);
    if (engine->vehicle > 15)
      move_foot(&hands->clutch, 0, 3);
    return;
  }
  move_foot(&hands->clutch, 0, 2.5);
  hands->integral = limited(hands->integral + 0.35 * error / STEPS_A_SECOND, 0, 14);
  move_foot(&hands->throttle, limited(2.5 + 0.8 * error + hands->integral, 0, 24), 45);
}

/* Full throttle, and off it as the limit comes near. */
static void act_pull(struct run *run, bool to_limiter)
{
  struct hands *hands = &run->hands;
  double lift_at = run->computer.speed_limit - (to_limiter ? -200 : 300);

  hands->clutch = 0;
  if (run->engine.speed > lift_at)
    hands->integral = -1; /* done */
  move_foot(&hands->throttle, hands->integral < 0 ? 0 : 100, hands->integral < 0 ? 400 : 250);
}

static void act_stop(struct run *run)
{
  struct hands *hands = &run->hands;

  hands->integral = 0;
  move_foot(&hands->throttle, 0, 300);
  move_foot(&hands->brake, run->engine.vehicle > 0.2 ? 0.8 : 0, 2);
  if (run->engine.speed < 1500 || run->engine.vehicle < 20)
    move_foot(&hands->clutch, 1, 6);
  if (run->engine.vehicle < 0.2)
    hands->gear = 0;
}

static size_t act_at(double time, const struct flaw *flaw)
{
  size_t i = 0;

  while (i + 1 < ACTS && time >= SCRIPT[i].until + (i >= HOT_IDLE ? flaw->long_idle : 0))
    i++;
  return i;
}

void hands_move(struct run *run)
{
  struct hands *hands = &run->hands;
  size_t i = act_at(run->time, &run->flaw);
  enum act act = SCRIPT[i].act;

  hands->key = act != ACT_OFF;
  hands->starter = act == ACT_CRANK && !(run->engine.speed > 480);
  hands->lamps = WITHIN(LAMPS, run->time);
  hands->compressor = WITHIN(COMPRESSOR, run->time);
  hands->clutch_foot = false;
  if (act != ACT_STOP && act != ACT_COAST)
    move_foot(&hands->brake, 0, 4);
  switch (act) {
  case ACT_IDLE:
  case ACT_CRANK:
    act_idle(run);
    break;
  case ACT_DRIVE:
    act_drive(run, SCRIPT[i].value);
    break;
  case ACT_PULL:
    act_pull(run, run->flaw.limiter_low < 0);
    break;
  case ACT_COAST:
    hands->integral = 0;
    move_foot(&hands->throttle, 0, 400);
    move_foot(&hands->brake, run->engine.speed > 2300 ? 0.22 : 0, 2);
    break;
  case ACT_STOP:
    act_stop(run);
    break;
  case ACT_KEY:
  case ACT_OFF:
    move_foot(&hands->throttle, 0, 300);
    break;
  }
}
