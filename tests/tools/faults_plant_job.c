/* Faults that only the job sheet can show: facts and readings by hand that do not agree with the file. */
#include "faults.h"

#include <math.h>
#include <string.h>

#define TUNE (&car->settings)
#define JOB (&car->job)
#define PLANT(name) static bool name(struct car *car)

static bool readings_shift(struct car *car, const char *name, int field, double times, double plus)
{
  struct item *item = file_find(JOB, name);

  for (int i = 0; i < item->ny; i++)
    item->value[i][field] = item->value[i][field] * times + plus;
  return true;
}

PLANT(displacement)
{
  return file_set(TUNE, "engine.displacement", car->litres * (dice_below(&car->dice, 2) ? 1.08 : 0.9));
}

PLANT(speed_meter)
{
  return readings_shift(car, "engine_speed", 0, dice_below(&car->dice, 2) ? 2 : 0.5, 0);
}

PLANT(pressure_fixed)
{
  struct item *item = file_find(JOB, "fuel_pressure");

  for (int i = 0; i < item->ny; i++)
    item->value[i][1] = car->base_pressure;
  return true;
}

PLANT(pressure_droop)
{
  struct item *item = file_find(JOB, "fuel_pressure");

  item->value[item->ny - 1][1] -= 0.16 * car->base_pressure;
  return true;
}

PLANT(gauge_off)
{
  return readings_shift(car, "lambda_gauge", 1, 1.07, 0);
}

PLANT(temperature_off)
{
  return readings_shift(car, dice_below(&car->dice, 2) ? "coolant" : "intake_air", 0, 1, 10);
}

PLANT(voltage_off)
{
  return readings_shift(car, "battery", 1, 1, -1);
}

PLANT(light_offset)
{
  return readings_shift(car, "timing_light", 1, 1, dice_below(&car->dice, 2) ? 5 : -5);
}

PLANT(light_drift)
{
  struct item *item = file_find(JOB, "timing_light");

  for (int i = 0; i < item->ny; i++)
    item->value[i][1] -= 0.006 * 0.150 * item->value[i][2]; /* 150 us late */
  return true;
}

PLANT(stale)
{
  return file_say(JOB, "file.revision", "5");
}

PLANT(other_file)
{
  return file_say(JOB, "file.sha256", "0000000000000000000000000000000000000000000000000000000000000001");
}

PLANT(not_by_light)
{
  return file_drop(JOB, "timing_light");
}

const struct fault job_faults[] = {
    {"displacement-mismatch", displacement, "reference-pulse-mismatch injector-too-small", SHEET},
    {"engine-speed-vs-meter", speed_meter, "", SHEET},
    {"fuel-pressure-not-following", pressure_fixed, "fuel-pressure-droop", SHEET},
    {"fuel-pressure-droop", pressure_droop, "fuel-pressure-not-following", SHEET},
    {"gauge-log-disagree", gauge_off, "", SHEET},
    {"hand-temperature-vs-log", temperature_off, "", SHEET},
    {"hand-voltage-vs-log", voltage_off, "", SHEET},
    {"base-timing-offset", light_offset, "", SHEET},
    {"timing-drift-with-speed", light_drift, "base-timing-offset", SHEET},
    {"hand-reading-stale", stale, "", SHEET},
    {"file-hash-mismatch", other_file, "hand-reading-stale", SHEET},
    {"base-timing-not-verified", not_by_light, "", SHEET},
    {0},
};
