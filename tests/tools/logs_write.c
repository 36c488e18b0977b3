/* Writes a run as a log of some rate, in one of seven styles: other separators, headings, units, forms of time, and
 * other channels left out. Reading order: channels, units, styles, log_write. */
#include "logs.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct {
  const char *name, *short_name; /* of the vocabulary; one of its other names, or NULL */
  enum quantity of;
} CHANNELS_OF[CHANNEL_COUNT] = {
    [TIME] = {"time", "Time", SECONDS},
    [ENGINE_SPEED] = {"engine_speed", "RPM", SPEED},
    [MANIFOLD] = {"manifold_pressure", "MAP", PRESSURE},
    [BAROMETER] = {"barometric_pressure", "BARO", PRESSURE},
    [THROTTLE] = {"throttle_position", "TPS", PERCENT},
    [COOLANT] = {"coolant_temperature", "ECT", TEMPERATURE},
    [AIR] = {"intake_air_temperature", "IAT", TEMPERATURE},
    [BATTERY] = {"battery_voltage", "VBAT", VOLTS},
    [VEHICLE] = {"vehicle_speed", "VSS", ROAD_SPEED},
    [GEAR] = {"gear", "Gear position", NOTHING},
    [LAMBDA] = {"lambda", "Measured lambda", MIXTURE},
    [LAMBDA_GAUGE] = {"lambda_gauge", "Gauge lambda", MIXTURE},
    [LAMBDA_BANK_2] = {"lambda_bank_2", NULL, MIXTURE},
    [LAMBDA_TARGET] = {"lambda_target", "Target lambda", MIXTURE},
    [LAMBDA_CORRECTION] = {"lambda_correction", "Lambda trim", PERCENT},
    [LONG_TRIM] = {"long_term_fuel_trim", "LTFT", PERCENT},
    [SHORT_TRIM] = {"short_term_fuel_trim", "STFT", PERCENT},
    [FILLING] = {"volumetric_efficiency", "VE", PERCENT},
    [PULSE] = {"injector_pulse_width", "PW", MILLISECONDS},
    [DUTY] = {"injector_duty", "Injector DC", PERCENT},
    [WARM_UP] = {"warm_up_enrichment", "Warm up correction", PERCENT},
    [AFTER_START] = {"after_start_enrichment", "After start correction", PERCENT},
    [ACCELERATION] = {"acceleration_enrichment", "Acceleration correction", PERCENT},
    [SPARK] = {"spark_advance", "Ignition timing", ANGLE},
    [DWELL] = {"dwell", "Dwell time", MILLISECONDS},
    [KNOCK_RETARD] = {"knock_retard", "Knock correction", ANGLE},
    [KNOCK_COUNT] = {"knock_count", "Knock events", NOTHING},
    [IDLE_DUTY] = {"idle_valve_duty", "IAC", PERCENT},
    [IDLE_TARGET] = {"idle_speed_target", "Idle target", SPEED},
    [BOOST_TARGET] = {"boost_target", "Target boost", PRESSURE},
    [BOOST_DUTY] = {"boost_control_duty", NULL, PERCENT},
    [FUEL_PRESSURE] = {"fuel_pressure", "FRP", PRESSURE},
    [OIL_PRESSURE] = {"oil_pressure", "EOP", PRESSURE},
    [ETHANOL_FREQUENCY] = {"ethanol_sensor_frequency", NULL, FREQUENCY},
    [ELECTRICAL_LOAD] = {"electrical_load_active", NULL, NOTHING},
    [SYNC_LOSSES] = {"sync_loss_count", "Sync losses", NOTHING},
    [CLUTCH] = {"clutch_switch", "Clutch", NOTHING},
    [BRAKE] = {"brake_switch", "Brake", NOTHING},
    [NEUTRAL] = {"neutral_switch", "Neutral", NOTHING},
    [AC_REQUEST] = {"air_conditioning_request", "A/C request", NOTHING},
    [AC_STEP] = {"air_conditioning_step_active", "A/C idle up", NOTHING},
    [FAN] = {"fan_output", "Cooling fan", NOTHING},
    [RUNNING] = {"engine_running", "Running", NOTHING},
    [FUEL_CUT] = {"fuel_cut", "Fuel cut active", NOTHING},
    [SPARK_CUT] = {"spark_cut", "Ignition cut", NOTHING},
};

/* ---- units: metric, American, and what German loggers write */

static const struct as {
  const char *unit;
  double times, plus;
} UNITS_AS[3][QUANTITIES] = {
    {[SECONDS] = {"s", 1, 0},
     [SPEED] = {"rpm", 1, 0},
     [PRESSURE] = {"kPa", 1, 0},
     [PERCENT] = {"%", 1, 0},
     [TEMPERATURE] = {"degC", 1, 0},
     [VOLTS] = {"V", 1, 0},
     [ROAD_SPEED] = {"km/h", 1, 0},
     [MIXTURE] = {"lambda", 1, 0},
     [MILLISECONDS] = {"ms", 1, 0},
     [ANGLE] = {"deg", 1, 0},
     [FREQUENCY] = {"Hz", 1, 0}},
    {[SECONDS] = {"s", 1, 0},
     [SPEED] = {"rpm", 1, 0},
     [PRESSURE] = {"psi", 1 / 6.894757293168, 0},
     [PERCENT] = {"%", 1, 0},
     [TEMPERATURE] = {"degF", 1.8, 32},
     [VOLTS] = {"V", 1, 0},
     [ROAD_SPEED] = {"mph", 1 / 1.609344, 0},
     [MIXTURE] = {"lambda", 1, 0},
     [MILLISECONDS] = {"us", 1000, 0},
     [ANGLE] = {"deg", 1, 0},
     [FREQUENCY] = {"Hz", 1, 0}},
    {[SECONDS] = {"ms", 1000, 0},
     [SPEED] = {"1/min", 1, 0},
     [PRESSURE] = {"hPa", 10, 0},
     [PERCENT] = {"%", 1, 0},
     [TEMPERATURE] = {"K", 1, 273.15},
     [VOLTS] = {"mV", 1000, 0},
     [ROAD_SPEED] = {"m/s", 1 / 3.6, 0},
     [MIXTURE] = {"lambda", 1, 0},
     [MILLISECONDS] = {"ms", 1, 0},
     [ANGLE] = {"deg", 1, 0},
     [FREQUENCY] = {"Hz", 1, 0}},
};

/* ---- styles */

enum heading { BRACKETS, PARENTHESES, ROW_BELOW };

#define BIT(channel) (1ull << (channel))

static const struct style {
  char separator, point;
  enum heading heading;
  int units;
  bool short_names, clock, title;
  unsigned long long without; /* channels left out */
} STYLES[] = {
    {',', '.', BRACKETS, 0, false, false, false,
     BIT(GEAR) | BIT(LAMBDA_GAUGE) | BIT(LAMBDA_BANK_2) | BIT(LONG_TRIM) | BIT(SHORT_TRIM) | BIT(FILLING) |
         BIT(ACCELERATION) | BIT(DWELL) | BIT(KNOCK_COUNT) | BIT(BOOST_DUTY) | BIT(BRAKE) | BIT(NEUTRAL) |
         BIT(RUNNING) | BIT(SPARK_CUT) | BIT(FUEL_PRESSURE) | BIT(SYNC_LOSSES)},
    {',', '.', PARENTHESES, 1, true, false, false, BIT(LAMBDA_BANK_2) | BIT(BOOST_DUTY) | BIT(DUTY)},
    {';', ',', ROW_BELOW, 2, false, false, false, BIT(LONG_TRIM) | BIT(SHORT_TRIM) | BIT(CLUTCH) | BIT(LAMBDA_GAUGE)},
    {'\t', '.', BRACKETS, 1, false, false, false, BIT(BAROMETER) | BIT(GEAR) | BIT(AFTER_START) | BIT(OIL_PRESSURE)},
    {',', '.', PARENTHESES, 0, true, false, true, BIT(LAMBDA_CORRECTION) | BIT(RUNNING) | BIT(NEUTRAL)},
    {';', '.', ROW_BELOW, 0, true, true, false, BIT(BOOST_TARGET) | BIT(FILLING) | BIT(ELECTRICAL_LOAD)},
    {',', '.', BRACKETS, 2, false, false, false, 0},
};

enum { STYLE_COUNT = sizeof STYLES / sizeof *STYLES };

/* A car has what it has: no boost channels without a turbocharger, and the sensor of ethanol only where it is asked
 * for. */
static int choose(const struct run *run, const struct style *style, const enum channel *keep, enum channel *chosen)
{
  int count = 0;

  for (int k = 0; k < CHANNEL_COUNT; k++) {
    bool left_out = (style->without & BIT(k)) != 0 || k == ETHANOL_FREQUENCY;

    if (run->car->aspiration != TURBO && (k == BOOST_TARGET || k == BOOST_DUTY))
      left_out = true;
    for (int i = 0; i < 4 && keep[i] != TIME; i++)
      left_out = left_out && (int)keep[i] != k;
    if (!left_out)
      chosen[count++] = (enum channel)k;
  }
  return count;
}

static const char *name_of(enum channel channel, const struct style *style)
{
  const char *other = CHANNELS_OF[channel].short_name;

  return style->short_names && other != NULL ? other : CHANNELS_OF[channel].name;
}

static void put_heading(FILE *out, const enum channel *chosen, int count, const struct style *style)
{
  if (style->title)
    fputs("# drive of an invented car\n", out);
  for (int i = 0; i < count; i++) {
    const char *unit = UNITS_AS[style->units][CHANNELS_OF[chosen[i]].of].unit;

    if (i > 0)
      fputc(style->separator, out);
    fputs(name_of(chosen[i], style), out);
    if (unit != NULL && style->heading != ROW_BELOW && !(style->clock && chosen[i] == TIME))
      fprintf(out, style->heading == BRACKETS ? " [%s]" : " (%s)", unit);
  }
  fputc('\n', out);
  if (style->heading != ROW_BELOW)
    return;
  for (int i = 0; i < count; i++) {
    const char *unit = UNITS_AS[style->units][CHANNELS_OF[chosen[i]].of].unit;

    if (i > 0)
      fputc(style->separator, out);
    if (unit != NULL && !(style->clock && chosen[i] == TIME))
      fputs(unit, out);
  }
  fputc('\n', out);
}

static void put_value(FILE *out, double value, enum channel channel, const struct style *style)
{
  const struct as *as = &UNITS_AS[style->units][CHANNELS_OF[channel].of];
  char text[40], *point;

  if (style->clock && channel == TIME) {
    int ms = (int)floor(value * 1000 + 0.5);

    fprintf(out, "%02d:%02d:%02d.%03d", 9 + ms / 3600000, ms / 60000 % 60, ms / 1000 % 60, ms % 1000);
    return;
  }
  snprintf(text, sizeof text, "%.8g", as->unit == NULL ? value : value * as->times + as->plus);
  point = strchr(text, '.');
  if (point != NULL)
    *point = style->point;
  fputs(text, out);
}

bool log_write(const struct run *run, const char *path, int hz, int style_at, const enum channel *keep)
{
  const struct style *style = &STYLES[style_at % STYLE_COUNT];
  enum channel chosen[CHANNEL_COUNT];
  int count = choose(run, style, keep, chosen);
  FILE *out = fopen(path, "w");

  if (out == NULL) {
    perror(path);
    return false;
  }
  put_heading(out, chosen, count, style);
  for (int i = 0; i < run->rows; i += FASTEST_HZ / hz)
    for (int k = 0; k < count; k++) {
      put_value(out, run->row[i][chosen[k]], chosen[k], style);
      fputc(k + 1 == count ? '\n' : style->separator, out);
    }
  return fclose(out) == 0;
}
