/* Faults of what a file says and of what became of it: changes since the revision before, numbers in another unit, and
 * files that are broken, which the reader must refuse. */
#include "faults.h"

#include <math.h>
#include <string.h>

#define TUNE (&car->settings)
#define JOB (&car->job)
#define PLANT(name) static bool name(struct car *car)

static struct item *any_of(struct car *car, enum kind one, enum kind other)
{
  for (;;) {
    struct item *item = &TUNE->item[dice_below(&car->dice, TUNE->count)];

    if (item->kind == one || item->kind == other)
      return item;
  }
}

/* ---- changes */

PLANT(large_step)
{
  int which = dice_below(&car->dice, car->aspiration == TURBO ? 3 : 2);

  car_before(car);
  file_word(JOB, "planned.changes", "ignition.spark_advance, fuel.volumetric_efficiency, boost");
  if (which == 0)
    *item_cell(file_find(&car->before, "ignition.spark_advance"), &car->dice, 0) -= 8;
  else if (which == 1)
    *item_cell(file_find(&car->before, "fuel.volumetric_efficiency"), &car->dice, 0) *= 0.85;
  else
    *item_cell(file_find(&car->before, "boost.target"), &car->dice, 0) -= 25;
  return true;
}

PLANT(slip)
{
  struct item *item = any_of(car, NUMBER, NUMBER);

  car_before(car);
  return file_set(&car->before, item->name, item->value[0][0] * 0.93 - 0.5);
}

PLANT(no_note)
{
  return file_drop(TUNE, dice_below(&car->dice, 2) ? "file.note" : "file.saved");
}

/* Made from a template, with two settings that it should not have kept. */
PLANT(template_kept)
{
  car_before(car);
  file_word(JOB, "template.is_before", "on");
  return file_say(JOB, "template.settings", "injector.dead_time, fuel.reference_pulse_width");
}

/* ---- numbers that no engine has, and numbers in another unit than they say */

PLANT(impossible)
{
  switch (dice_below(&car->dice, 4)) {
  case 0:
    return file_set(TUNE, "ignition.advance_limit", 120);
  case 1:
    return file_set(TUNE, "ignition.trigger_latency", 5000);
  case 2:
    return file_set(TUNE, "ignition.dwell_cranking", 50);
  default:
    *item_cell(file_find(TUNE, "ignition.spark_advance"), &car->dice, 1) = 95;
    return true;
  }
}

static void times_all(struct item *item, double times)
{
  for (int j = 0; j < item->ny; j++)
    for (int i = 0; i < item->nx; i++)
      item->value[j][i] *= times;
}

PLANT(other_unit)
{
  struct item *item;

  switch (dice_below(&car->dice, 4)) {
  case 0:
    return file_set(TUNE, "protection.coolant_limit", 1.8 * file_get(TUNE, "protection.coolant_limit") + 32);
  case 1:
    times_all(file_find(TUNE, "fuel.lambda_target"), 14.7);
    return true;
  case 2:
    times_all(file_find(TUNE, "ignition.dwell"), 1000);
    return true;
  default:
    item = file_find(TUNE, "ignition.spark_advance");
    for (int j = 0; j < item->ny; j++)
      item->y[j] /= 6.8948;
    return true;
  }
}

/* ---- broken files */

PLANT(not_a_number)
{
  double *cell = item_cell(any_of(car, TABLE, CURVE), &car->dice, 0);

  *cell = dice_below(&car->dice, 2) ? NAN : INFINITY;
  return true;
}

PLANT(row_short)
{
  any_of(car, TABLE, TABLE)->short_row = true;
  return true;
}

const struct fault record_faults[] = {
    {"large-step-change", large_step, "", SHEET},
    {"undeclared-change", slip, "", SHEET},
    {"revision-note-missing", no_note, "log-older-than-file", SHEET},
    {"template-value-left", template_kept, "", SHEET},
    {"value-outside-declared", impossible, "spark-envelope-high spark-cell-spike spark-rises-with-load", SHEET},
    {"unit-suspect", other_unit,
     "overtemp-action-missing protection-never-reachable fan-hysteresis-bad "
     "warmup-not-unity-hot "
     "lambda-target-envelope "
     "lambda-target-lean-in-boost lambda-target-jump dwell-exceeds-coil-limit "
     "dwell-exceeds-time spark-envelope-high "
     "value-outside-declared",
     SHEET},
    {"missing-or-nan-cell", not_a_number, "", REFUSAL},
    {"shape-mismatch", row_short, "", REFUSAL},
    {0},
};
