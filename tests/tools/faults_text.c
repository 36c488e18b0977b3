/* What a settings file and a job sheet hold, as a list of items; a small random generator; writing an item in the units
 * of the vocabulary or in others, so that the same car can be told in two ways. */
#include "faults.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* splitmix64: short, and good enough to choose cars with */
static uint64_t dice_roll(struct dice *dice)
{
  uint64_t z = dice->state += 0x9e3779b97f4a7c15u;

  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return z ^ (z >> 31);
}

double dice_between(struct dice *dice, double low, double high)
{
  return low + (high - low) * (double)(dice_roll(dice) >> 11) / 9007199254740992.0;
}

int dice_below(struct dice *dice, int count)
{
  return (int)(dice_roll(dice) % (uint64_t)count);
}

double round_to(double value, double step)
{
  return round(value / step) * step;
}

/* ---- items */

double *item_cell(struct item *item, struct dice *dice, int from_edge)
{
  int j = from_edge + dice_below(dice, item->ny - 2 * from_edge);

  return &item->value[j][from_edge + dice_below(dice, item->nx - 2 * from_edge)];
}

struct item *file_find(struct file *file, const char *name)
{
  for (int i = 0; i < file->count; i++)
    if (strcmp(file->item[i].name, name) == 0)
      return &file->item[i];
  return NULL;
}

static struct item *file_item(struct file *file, const char *name, enum kind kind, enum quantity of)
{
  struct item *item = file_find(file, name);
  char kept[NAME];

  if (item == NULL) {
    if (file->count == ITEMS)
      abort();
    item = &file->item[file->count++];
  }
  snprintf(kept, sizeof kept, "%s", name); /* it may be the item's own */
  memset(item, 0, sizeof *item);
  memcpy(item->name, kept, sizeof kept);
  item->kind = kind;
  item->of = of;
  return item;
}

struct item *file_number(struct file *file, const char *name, enum quantity of, double value)
{
  struct item *item = file_item(file, name, NUMBER, of);

  item->value[0][0] = value;
  return item;
}

struct item *file_word(struct file *file, const char *name, const char *word)
{
  struct item *item = file_item(file, name, WORD, NOTHING);

  snprintf(item->word, sizeof item->word, "%s", word);
  return item;
}

struct item *file_list(struct file *file, const char *name, enum quantity of, int count, const double *values)
{
  struct item *item = file_item(file, name, LIST, of);

  item->nx = count;
  item->ny = 1;
  for (int i = 0; i < count; i++)
    item->value[0][i] = values[i];
  return item;
}

struct item *file_curve(struct file *file, const char *name, enum quantity of_x, enum quantity of, int count)
{
  struct item *item = file_item(file, name, CURVE, of);

  item->of_x = of_x;
  item->nx = count;
  item->ny = 1;
  return item;
}

struct item *file_table(struct file *file, const char *name, enum quantity of_y, enum quantity of, int nx, int ny)
{
  struct item *item = file_item(file, name, TABLE, of);

  item->of_x = SPEED;
  item->of_y = of_y;
  item->nx = nx;
  item->ny = ny;
  return item;
}

struct item *file_records(struct file *file, const char *name)
{
  return file_item(file, name, RECORDS, NOTHING);
}

void records_field(struct item *item, const char *name, enum quantity of)
{
  snprintf(item->field[item->nx], sizeof item->field[0], "%s", name);
  item->field_of[item->nx++] = of;
}

void records_add(struct item *item, double a, double b, double c)
{
  item->value[item->ny][0] = a;
  item->value[item->ny][1] = b;
  item->value[item->ny++][2] = c;
}

void file_pin(struct file *file, const char *name, const char *function, const char *pin)
{
  struct item *item = file_find(file, name);

  if (item == NULL)
    item = file_item(file, name, PIN_LIST, NOTHING);
  if (item->nx == PINS)
    abort();
  snprintf(item->pin[item->nx][0], NAME, "%s", function);
  snprintf(item->pin[item->nx++][1], NAME, "%s", pin);
}

bool file_drop(struct file *file, const char *name)
{
  struct item *item = file_find(file, name);

  if (item == NULL)
    return false;
  *item = file->item[--file->count];
  return true;
}

double file_get(struct file *file, const char *name)
{
  struct item *item = file_find(file, name);

  return item == NULL ? NAN : item->value[0][0];
}

bool file_set(struct file *file, const char *name, double value)
{
  struct item *item = file_find(file, name);

  if (item == NULL)
    return false;
  item->value[0][0] = value;
  return true;
}

bool file_say(struct file *file, const char *name, const char *word)
{
  file_word(file, name, word);
  return true;
}

char *pin_of(struct file *file, const char *name, const char *function)
{
  struct item *item = file_find(file, name);

  for (int i = 0; item != NULL && i < item->nx; i++)
    if (strcmp(item->pin[i][0], function) == 0)
      return item->pin[i][1];
  return NULL;
}

bool pin_drop(struct file *file, const char *name, const char *function)
{
  struct item *item = file_find(file, name);

  for (int i = 0; item != NULL && i < item->nx; i++)
    if (strcmp(item->pin[i][0], function) == 0) {
      item->nx--;
      memmove(item->pin[i], item->pin[i + 1], (size_t)(item->nx - i) * sizeof item->pin[0]);
      return true;
    }
  return false;
}

/* ---- writing */

struct spelling {
  const char *unit;
  double times, plus; /* from the vocabulary's unit to this one */
};

static const struct spelling spellings[QUANTITIES][4] = {
    [NOTHING] = {{"", 1, 0}},
    [PERCENT] = {{"%", 1, 0}},
    [TEMPERATURE] = {{"degC", 1, 0}, {"degF", 1.8, 32}, {"K", 1, 273.15}},
    [PRESSURE] = {{"kPa", 1, 0}, {"psi", 1 / 6.894757293168, 0}, {"bar", 0.01, 0}, {"hPa", 10, 0}},
    [SPEED] = {{"rpm", 1, 0}},
    [VOLTS] = {{"V", 1, 0}, {"mV", 1000, 0}},
    [MILLISECONDS] = {{"ms", 1, 0}, {"us", 1000, 0}},
    [MICROSECONDS] = {{"us", 1, 0}, {"ms", 0.001, 0}},
    [SECONDS] = {{"s", 1, 0}, {"ms", 1000, 0}},
    [HOURS] = {{"h", 1, 0}, {"min", 60, 0}},
    [ANGLE] = {{"deg", 1, 0}},
    [ANGLE_RATE] = {{"deg/s", 1, 0}},
    [MIXTURE] = {{"lambda", 1, 0}},
    [VOLUME] = {{"L", 1, 0}, {"cm3", 1000, 0}, {"in3", 1 / 0.016387064, 0}},
    [FLOW] = {{"cm3/min", 1, 0}, {"L/h", 0.06, 0}, {"mL/s", 1.0 / 60, 0}},
    [FREQUENCY] = {{"Hz", 1, 0}, {"kHz", 0.001, 0}},
    [RATE] = {{"%/s", 1, 0}},
    [RESISTANCE] = {{"Ohm", 1, 0}, {"kOhm", 0.001, 0}},
    [ROAD_SPEED] = {{"km/h", 1, 0}, {"m/s", 1 / 3.6, 0}},
    [DENSITY] = {{"kg/L", 1, 0}, {"kg/m3", 1000, 0}, {"g/cm3", 1, 0}},
    [CURRENT] = {{"A", 1, 0}, {"mA", 1000, 0}},
    [INDUCTANCE] = {{"mH", 1, 0}, {"uH", 1000, 0}},
    [HEIGHT] = {{"m", 1, 0}, {"ft", 1 / 0.3048, 0}},
};

static const struct spelling *spelling_of(enum quantity of, uint64_t units)
{
  struct dice dice = {units * 131 + (uint64_t)of};
  int count = 1;

  while (count < 4 && spellings[of][count].unit != NULL)
    count++;
  return &spellings[of][units == 0 ? 0 : dice_below(&dice, count)];
}

static double in_unit(double value, const struct spelling *as)
{
  return value * as->times + as->plus;
}

/* Digits enough that no limit is crossed by writing a value down. */
static void write_values(FILE *out, const double *value, int count, const struct spelling *as)
{
  for (int i = 0; i < count; i++)
    fprintf(out, "%s%.9g", i == 0 ? "[" : ", ", in_unit(value[i], as));
  fputs("]", out);
}

static void write_axis(FILE *out, char name, enum quantity of, const double *at, int count, uint64_t units)
{
  const struct spelling *as = spelling_of(of, units);

  fprintf(out, "  %c: {unit: \"%s\", at: ", name, as->unit);
  write_values(out, at, count, as);
  fputs("}\n", out);
}

static void write_records(FILE *out, const struct item *item, uint64_t units)
{
  fputc('\n', out);
  for (int i = 0; i < item->ny; i++)
    for (int k = 0; k < item->nx; k++) {
      const struct spelling *as = spelling_of(item->field_of[k], units);

      fprintf(out, "%s%s: %.9g%s%s%s", k == 0 ? "    - {" : ", ", item->field[k], in_unit(item->value[i][k], as),
              *as->unit == '\0' ? "" : " ", as->unit, k + 1 == item->nx ? "}\n" : "");
    }
}

static void write_item(FILE *out, const struct item *item, uint64_t units, const char *indent)
{
  const struct spelling *as = spelling_of(item->of, units);

  fprintf(out, "%s%s:", indent, item->name);
  switch (item->kind) {
  case NUMBER:
    fprintf(out, " %.9g%s%s\n", in_unit(item->value[0][0], as), *as->unit == '\0' ? "" : " ", as->unit);
    break;
  case WORD:
    fprintf(out, " \"%s\"\n", item->word);
    break;
  case LIST:
    fputs(" [", out);
    for (int i = 0; i < item->nx; i++)
      fprintf(out, "%s%.9g%s%s", i == 0 ? "" : ", ", in_unit(item->value[0][i], as), *as->unit == '\0' ? "" : " ",
              as->unit);
    fputs("]\n", out);
    break;
  case PIN_LIST:
    fputs(" {", out);
    for (int i = 0; i < item->nx; i++)
      fprintf(out, "%s%s: %s", i == 0 ? "" : ", ", item->pin[i][0], item->pin[i][1]);
    fputs("}\n", out);
    break;
  case RECORDS:
    write_records(out, item, units);
    break;
  case CURVE:
    fputc('\n', out);
    write_axis(out, 'x', item->of_x, item->x, item->nx, units);
    fprintf(out, "  value: {unit: \"%s\", at: ", as->unit);
    write_values(out, item->value[0], item->nx, as);
    fputs("}\n", out);
    break;
  case TABLE:
    fputc('\n', out);
    write_axis(out, 'x', item->of_x, item->x, item->nx, units);
    write_axis(out, 'y', item->of_y, item->y, item->ny, units);
    fprintf(out, "  value:\n    unit: \"%s\"\n    rows:\n", as->unit);
    for (int i = 0; i < item->ny; i++) {
      fputs("      - ", out);
      write_values(out, item->value[i], item->nx - (item->short_row && i == 0), as);
      fputc('\n', out);
    }
    break;
  }
}

static void write_job(FILE *out, const struct car *car, uint64_t units)
{
  const struct file *job = &car->job;

  fputs("keyway-job: 1\ntitle: invented\nfacts:\n", out);
  for (int i = 0; i < job->count; i++)
    if (job->item[i].kind != RECORDS)
      write_item(out, &job->item[i], units, "  ");
  fputs(car->limits, out);
  fputs("readings:\n", out);
  for (int i = 0; i < job->count; i++)
    if (job->item[i].kind == RECORDS)
      write_item(out, &job->item[i], units, "  ");
}

/* Most values of a log have three decimals at most, and printing them one by one is what takes the time. */
static void write_number(FILE *out, double value)
{
  long thousandths = lround(value * 1000), whole = labs(thousandths) / 1000, rest = labs(thousandths) % 1000;
  char digits[32];
  int at = sizeof digits;

  if (!(fabs(value) < 1e6) || fabs(value * 1000 - (double)thousandths) > 1e-7) {
    fprintf(out, "%.7g", value);
    return;
  }
  for (int i = 0; i < 3 && (rest != 0 || at < (int)sizeof digits); i++, rest /= 10)
    digits[--at] = (char)('0' + rest % 10);
  if (at < (int)sizeof digits)
    digits[--at] = '.';
  do
    digits[--at] = (char)('0' + whole % 10);
  while ((whole /= 10) != 0);
  if (thousandths < 0)
    digits[--at] = '-';
  fwrite(digits + at, 1, sizeof digits - (size_t)at, out);
}

static void write_log(FILE *out, const struct log *log, uint64_t units)
{
  const struct spelling *as[CHANNELS];

  for (int k = 0; k < log->channels; k++) {
    const char *unit = (as[k] = spelling_of(log->of[k], units))->unit;

    fprintf(out, *unit == '\0' ? "%s%s" : "%s%s [%s]", k == 0 ? "" : ",", log->channel[k], unit);
  }
  fputc('\n', out);
  for (int i = 0; i < log->rows; i++)
    for (int k = 0; k < log->channels; k++) {
      write_number(out, in_unit(log->value[i][k], as[k]));
      putc(k + 1 == log->channels ? '\n' : ',', out);
    }
}

static void write_settings(FILE *out, const struct file *file, uint64_t units)
{
  fputs("keyway-settings: 1\n", out);
  for (int i = 0; i < file->count; i++)
    write_item(out, &file->item[i], units, "");
}

bool car_write(struct car *car, const char *folder, uint64_t units)
{
  static const char *const names[] = {"settings.yaml", "job.yaml", "log.csv", "before.yaml"};
  bool good = true;

  for (int i = 0; i < 4; i++) {
    char path[4096];
    FILE *out;

    if ((i == 2 && !car->with_log) || (i == 3 && !car->with_before))
      continue;
    snprintf(path, sizeof path, "%s/%s", folder, names[i]);
    out = fopen(path, "w");
    if (out == NULL) {
      perror(path);
      return false;
    }
    if (i == 0 || i == 3)
      write_settings(out, i == 0 ? &car->settings : &car->before, units);
    else if (i == 1)
      write_job(out, car, units);
    else
      write_log(out, &car->log, units);
    good = fclose(out) == 0 && good;
  }
  return good;
}
