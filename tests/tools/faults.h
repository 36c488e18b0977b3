/* Random sound tunes and the faults that are planted in them: a second opinion on the rules, so nothing here comes from
 * src/ or rules/ but the names that a settings file uses. Reading order: faults_text.c (what a file holds, and how it
 * is written in one set of units or another), faults_tune.c and faults_job.c (a sound tune), faults_log.c (a short
 * drive), faults_plant*.c (one function a fault), faults_audit.c (runs the program), faults_again.c (properties),
 * faults_prove.c (audits them all), faults.c (the program). */
#ifndef FAULTS_H
#define FAULTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { POINTS = 24, ITEMS = 200, PINS = 40, NAME = 72, CHANNELS = 48, ROWS = 8000 };

enum quantity {
  NOTHING, /* a plain number */
  PERCENT,
  TEMPERATURE,
  PRESSURE,
  SPEED,
  VOLTS,
  MILLISECONDS,
  MICROSECONDS,
  SECONDS,
  HOURS,
  ANGLE,
  ANGLE_RATE,
  MIXTURE,
  VOLUME,
  FLOW,
  FREQUENCY,
  RATE,
  RESISTANCE,
  ROAD_SPEED,
  DENSITY,
  CURRENT,
  INDUCTANCE,
  HEIGHT,
  QUANTITIES
};

enum kind { NUMBER, WORD, LIST, CURVE, TABLE, PIN_LIST, RECORDS };

/* Values are kept in the units of the vocabulary and turned into others only when written. */
struct item {
  char name[NAME];
  enum kind kind;
  enum quantity of, of_x, of_y;
  int nx, ny;
  double x[POINTS], y[POINTS],
      value[POINTS][POINTS]; /* number: value[0][0]; list, curve: value[0][i]; table: value[y][x] */
  bool short_row;            /* the first row of a table lacks its last value */
  char word[NAME];
  char pin[PINS][2][NAME]; /* function, pin */
  char field[4][NAME];     /* records: value[record][field] */
  enum quantity field_of[4];
};

struct file {
  struct item item[ITEMS];
  int count;
};

struct log {
  char channel[CHANNELS][NAME];
  enum quantity of[CHANNELS];
  int channels, rows;
  double value[ROWS][CHANNELS];
};

struct dice {
  uint64_t state;
};

enum aspiration { NATURAL, TURBO };

struct car {
  struct dice dice;
  int cylinders;
  enum aspiration aspiration;
  bool ethanol, with_log, with_before;
  double litres, speed_limit, speed_maximum, peak_pressure, sensor_top, ratio, density, pulse, flow, dead_14, altitude,
      thermostat;
  double idle_speed, part_advance, full_advance, fall_in_boost, base_pressure;
  struct file settings, job, before; /* before: the settings as they were, where a fault is a change */
  struct log log;
  char limits[256]; /* put into the job sheet as it stands */
};

double dice_between(struct dice *dice, double low, double high);
int dice_below(struct dice *dice, int count);
double round_to(double value, double step);

/* One cell at random, so many rows and columns from the edges: two rolls in one expression would come in an order that
 * each compiler chooses. */
double *item_cell(struct item *item, struct dice *dice, int from_edge);

struct item *file_find(struct file *file, const char *name);
struct item *file_number(struct file *file, const char *name, enum quantity of, double value);
struct item *file_word(struct file *file, const char *name, const char *word);
struct item *file_list(struct file *file, const char *name, enum quantity of, int count, const double *values);
struct item *file_curve(struct file *file, const char *name, enum quantity of_x, enum quantity of, int count);
struct item *file_table(struct file *file, const char *name, enum quantity of_y, enum quantity of, int nx, int ny);
struct item *file_records(struct file *file, const char *name);
void records_field(struct item *item, const char *name, enum quantity of);
void records_add(struct item *item, double a, double b, double c);
void file_pin(struct file *file, const char *name, const char *function, const char *pin);
bool file_drop(struct file *file, const char *name);
double file_get(struct file *file, const char *name);
bool file_set(struct file *file, const char *name, double value);
bool file_say(struct file *file, const char *name, const char *word);
bool pin_drop(struct file *file, const char *name, const char *function);
char *pin_of(struct file *file, const char *name, const char *function);

/* units: 0 as in the vocabulary; any other number chooses a mixture of other units. */
bool car_write(struct car *car, const char *folder, uint64_t units);

void car_make(struct car *car, uint64_t seed);
void car_job(struct car *car);
void car_before(struct car *car);
void car_log(struct car *car);
int log_column(struct log *log, const char *name);
void log_put(struct log *log, const char *name, enum quantity of, double value);
void log_drop(struct car *car, const char *name);
void log_end(struct car *car, double time);
void log_extra(struct car *car, const char *name, enum quantity of, double value);
double car_curve(struct car *car, const char *name, double x); /* what a curve of the settings commands */

double *log_cell(struct car *car, int row, const char *name);
double log_at(struct car *car, int row, const char *name);
bool when_idle(struct car *car, int row);
bool when_pulling(struct car *car, int row);
bool when_always(struct car *car, int row);
bool when_running(struct car *car, int row);
/* value * times + plus, where a condition holds or between two times */
bool log_change(struct car *car, const char *name, bool (*where)(struct car *, int), double times, double plus);
bool log_between(struct car *car, const char *name, double from, double to, double times, double plus);

enum needs { SHEET, LOG, REFUSAL }; /* a log too; to be refused when read, so that no rule ever sees it */

struct fault {
  const char *rule;
  bool (*plant)(struct car *car); /* false when this car cannot have it */
  const char *also;               /* rules that may speak of the consequences */
  enum needs needs;
};
extern const struct fault settings_faults[], table_faults[], job_faults[], record_faults[], log_faults[],
    replay_faults[], signal_faults[];
const struct fault *fault_next(size_t *at);

int prove(const char *program, uint64_t first, int tunes, int share, int workers, const char *folder);

#endif
