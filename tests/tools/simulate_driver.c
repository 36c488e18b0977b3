/* The person at the wheel: a fixed drive of ten minutes. Cold start and idle, a warm-up drive with stops, a long warm
 * idle with switches and blips, pulls in second to fourth gear with overrun between them, and a hot idle. As it left,
 * two minutes on a rolling road follow: the throttle is held at eight openings, one after the other, while the rollers
 * let the speed climb. Reading order: the script, hands and feet, the acts, driver_act. */
#include "simulate.h"

#include <stddef.h>

enum act { ACT_KEY, ACT_CRANK, ACT_IDLE, ACT_DRIVE, ACT_PULL, ACT_COAST, ACT_STOP, ACT_ROLLERS };

/* What goes on until a time. `value`: km/h to drive at, gear to pull in, % of throttle on the rollers. */
static const struct {
  double until;
  enum act act;
  double value;
} SCRIPT[] = {
    {3, ACT_KEY, 0},        {4.3, ACT_CRANK, 0},    {70, ACT_IDLE, 0},       {110, ACT_DRIVE, 42},
    {122, ACT_STOP, 0},     {136, ACT_IDLE, 0},     {175, ACT_DRIVE, 68},    {185, ACT_COAST, 0},
    {200, ACT_DRIVE, 50},   {212, ACT_STOP, 0},     {230, ACT_IDLE, 0},      {292, ACT_DRIVE, 88},
    {306, ACT_STOP, 0},     {400, ACT_IDLE, 0},     {418, ACT_DRIVE, 50},    {422.5, ACT_PULL, 2},
    {430, ACT_COAST, 0},    {441, ACT_DRIVE, 62},   {449, ACT_PULL, 3},      {458, ACT_COAST, 0},
    {470, ACT_DRIVE, 78},   {479, ACT_PULL, 3},     {487, ACT_PULL, 4},      {498, ACT_COAST, 0},
    {510, ACT_STOP, 0},     {600, ACT_IDLE, 0},     {615, ACT_DRIVE, 42},    {628, ACT_ROLLERS, 7},
    {641, ACT_ROLLERS, 10}, {654, ACT_ROLLERS, 14}, {667, ACT_ROLLERS, 19},  {680, ACT_ROLLERS, 26},
    {693, ACT_ROLLERS, 40}, {706, ACT_ROLLERS, 60}, {719, ACT_ROLLERS, 100}, {730, ACT_COAST, 0},
    {742, ACT_STOP, 0},     {760, ACT_IDLE, 0},
};

struct interval {
  double from, to;
};

static const struct interval CLUTCH_PRESSED[] = {
    {50, 54},   {60, 63},   {127, 130}, {218, 223}, {311, 316},     {324, 331}, {338.5, 341.5}, {352, 360},
    {371, 376}, {388, 396}, {517, 523}, {532, 541}, {549.5, 552.5}, {564, 572}, {579, 584},     {591, 596}};
static const struct interval COMPRESSOR[] = {{224, 229}, {317, 322.5}, {343, 350}, {362, 369.5}, {379, 386},
                                             {525, 531}, {543, 548.5}, {555, 562}, {574, 578},   {586, 589.5}};
static const struct interval LIGHTS[] = {{30, 48}, {333, 346}, {357, 366}, {536, 558}};
static const struct interval BLIPS[] = {{64, 64.6}, {346, 346.4}, {397.5, 397.9}, {553.4, 553.8}};

static bool within(const struct interval *list, size_t count, double time)
{
  for (size_t i = 0; i < count; i++)
    if (time >= list[i].from && time < list[i].to)
      return true;
  return false;
}

#define WITHIN(list, time) within(list, sizeof(list) / sizeof *(list), time)

static double limited(double value, double low, double high)
{
  return value < low ? low : value > high ? high : value;
}

struct driver driver_start(void)
{
  return (struct driver){.clutch = 0};
}

static void move_foot(double *pedal, double goal, double rate, double step)
{
  *pedal += limited(goal - *pedal, -rate * step, rate * step);
}

/* Clutch down, throttle shut, the lever through, clutch up: 0.6 s. True while it lasts. */
static bool shift(struct driver *driver, double time, double step)
{
  if (time >= driver->shift_until)
    return false;
  bool first_half = time < driver->shift_until - 0.3, down = driver->next_gear < driver->gear;
  move_foot(&driver->throttle, down ? 20 : 0, 500, step); /* the speed is raised to meet the lower gear */
  move_foot(&driver->clutch, first_half ? 1 : 0.7, first_half ? 8 : 4, step);
  if (!first_half)
    driver->gear = driver->next_gear;
  return true;
}

static void begin_shift(struct driver *driver, double time, int gear)
{
  driver->next_gear = gear;
  driver->shift_until = time + 0.6;
}

static void act_idle(struct driver *driver, const struct plant *plant, enum variant variant, double time, double step)
{
  /* As it came it does not idle cold by itself: a foot on the throttle for the first minute. */
  double goal = variant == AS_IT_CAME && plant->coolant < 38 ? limited((1150 - plant->speed) * 0.02, 2.8, 4.5) : 0;
  if (WITHIN(BLIPS, time))
    goal = 4.8;
  driver->gear = 0;
  driver->clutch_pressed = WITHIN(CLUTCH_PRESSED, time);
  driver->clutch = 0;
  driver->integral = 0;
  move_foot(&driver->throttle, goal, 60, step);
}

/* First gear and a slipping clutch; true while moving off. */
static bool move_off(struct driver *driver, const struct plant *plant, double step)
{
  if (plant->vehicle > 11 && driver->clutch < 0.02)
    return false;
  if (driver->gear == 0) {
    move_foot(&driver->clutch, 1, 5, step);
    if (driver->clutch > 0.99)
      driver->gear = 1;
    return true;
  }
  if (driver->gear > 1)
    return false;
  move_foot(&driver->throttle, limited(6 + (1700 - plant->speed) * 0.012, 4, 16), 25, step);
  double bite = limited(0.97 - (plant->speed - 900) / 900 * 0.22, 0.6, 0.97);
  move_foot(&driver->clutch, plant->vehicle > 9 ? 0 : bite, 0.9, step);
  return true;
}

static void act_drive(struct driver *driver, const struct plant *plant, double goal, double time, double step)
{
  static const double UP[6] = {0, 21, 36, 54, 76, 999}, DOWN[6] = {0, 0, 15, 28, 44, 62};
  if (shift(driver, time, step) || move_off(driver, plant, step))
    return;
  move_foot(&driver->clutch, 0, 4, step);
  if (plant->vehicle > UP[driver->gear])
    begin_shift(driver, time, driver->gear + 1);
  else if (plant->vehicle < DOWN[driver->gear])
    begin_shift(driver, time, driver->gear - 1);
  double error = goal - plant->vehicle;
  driver->integral = limited(driver->integral + 0.25 * error * step, 0, 12);
  move_foot(&driver->throttle, limited(5 + 0.9 * error + driver->integral, 0, 18), 45, step);
}

static void act_pull(struct driver *driver, const struct plant *plant, int gear, double time, double step)
{
  if (shift(driver, time, step))
    return;
  move_foot(&driver->clutch, 0, 4, step);
  if (driver->gear != gear && plant->speed < 6700)
    begin_shift(driver, time, gear);
  move_foot(&driver->throttle, plant->speed > 6550 ? 0 : 100, 260, step);
}

static void act_stop(struct driver *driver, const struct plant *plant, double step)
{
  move_foot(&driver->throttle, 0, 300, step);
  move_foot(&driver->brake, plant->vehicle > 0.3 ? 0.45 : 0.1, 0.9, step);
  if (plant->vehicle < 18 || plant->speed < 1250)
    move_foot(&driver->clutch, 1, 6, step);
  if (plant->vehicle < 0.3 && driver->clutch > 0.9)
    driver->gear = 0;
}

/* Third gear. The rollers bring the speed back with the throttle shut, then let it climb. */
static void act_rollers(struct driver *driver, double since, double lasts, double opening, double step)
{
  const double back = 3, high = 6650, low = opening > 50 ? 1900 : 1200, ratio = 20.4; /* s; rpm; km/h at 1000 rpm */
  double climbed = since < back ? 1 - since / back : (since - back) / (lasts - back);
  driver->rollers = (low + (high - low) * climbed) * ratio / 1000;
  move_foot(&driver->clutch, 0, 4, step);
  move_foot(&driver->throttle, since < back - 0.3 ? 0 : opening, 150, step);
}

void driver_act(struct driver *driver, const struct plant *plant, enum variant variant, double time, double step)
{
  size_t i = 0;
  while (i + 1 < sizeof SCRIPT / sizeof *SCRIPT && time >= SCRIPT[i].until)
    i++;
  driver->key = true;
  driver->starter = SCRIPT[i].act == ACT_CRANK && plant->speed < 550;
  driver->air_conditioning = WITHIN(COMPRESSOR, time);
  driver->lights = WITHIN(LIGHTS, time);
  driver->clutch_pressed = false;
  driver->rollers = 0;
  if (SCRIPT[i].act != ACT_STOP)
    move_foot(&driver->brake, 0, 2, step);
  switch (SCRIPT[i].act) {
  case ACT_KEY:
  case ACT_CRANK:
    break;
  case ACT_IDLE:
    act_idle(driver, plant, variant, time, step);
    break;
  case ACT_DRIVE:
    act_drive(driver, plant, SCRIPT[i].value, time, step);
    break;
  case ACT_PULL:
    act_pull(driver, plant, (int)SCRIPT[i].value, time, step);
    break;
  case ACT_COAST:
    move_foot(&driver->throttle, 0, 300, step);
    driver->integral = 0;
    break;
  case ACT_ROLLERS:
    act_rollers(driver, time - SCRIPT[i - 1].until, SCRIPT[i].until - SCRIPT[i - 1].until, SCRIPT[i].value, step);
    break;
  case ACT_STOP:
    act_stop(driver, plant, step);
    break;
  }
}
