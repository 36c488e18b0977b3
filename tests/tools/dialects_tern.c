/* Tern: name/value lines in sections, comments after ";", imperial units, air-fuel ratios; Latin-1 with CRLF. A curve
 * is two lines, its breakpoints under "@"; a table is a section with a line for each load. Reading order: settings,
 * row. */
#include "dialects.h"

#define VALUE(name, group, label, unit, decimals) \
  {ROW_VALUE, name, group, label, unit, decimals, 0, "", "", "", "", "", "", 0, 0, 0, false},
#define CURVE(name, group, label, unit, decimals, x_unit, x_decimals) \
  {ROW_CURVE, name, group, label, unit, decimals, 0, "", "", x_unit, "", "", "", x_decimals, 0, 0, false},
#define TABLE(name, group, unit, decimals, x_unit, x_decimals, y_unit, y_decimals) \
  {ROW_TABLE, name, group, "", unit, decimals, 0, "", "", x_unit, "", y_unit, "", x_decimals, y_decimals, 0, false},
#define WORD(name, word, written)
static const struct row rows[] = {
#include "dialects_tern.def"
};
#undef VALUE
#undef CURVE
#undef TABLE
#undef WORD
#define VALUE(name, group, label, unit, decimals)
#define CURVE(name, group, label, unit, decimals, x_unit, x_decimals)
#define TABLE(name, group, unit, decimals, x_unit, x_decimals, y_unit, y_decimals)
#define WORD(name, word, written) {name, word, written},
static const struct word words[] = {
#include "dialects_tern.def"
};

static void write_list(const struct tune *tune, const struct row *row, const struct value *value)
{
  for (size_t i = 0; i < value->as.list.count; i++)
    fprintf(tune->out, "%s%g", i > 0 ? row->unit : "", value->as.list.items[i]);
  fputs(value->as.list.count == 0 ? "none\n" : "\n", tune->out);
}

/* A pin a line; a pin of two functions stands there twice. */
static void write_pins(const struct tune *tune, const struct value *value)
{
  for (size_t i = 0; i < value->as.pins.count; i++) {
    const struct pin *pin = &value->as.pins.items[i];
    fprintf(tune->out, "%.*s = ", SLICE_ARG(pin->pin));
    for (size_t k = 0; k < pin->function.size; k++)
      fputc(pin->function.at[k] == '_' ? ' ' : pin->function.at[k], tune->out);
    fputc('\n', tune->out);
  }
}

static void write_value(const struct tune *tune, const struct row *row, const struct value *value)
{
  if (value->kind == VALUE_PINS) {
    write_pins(tune, value);
    return;
  }
  fprintf(tune->out, "%s = ", row->label);
  switch (value->kind) {
  case VALUE_NUMBER:
    number_out(tune, unit_number(value->as.number.value, row->unit), row->decimals);
    fprintf(tune->out, "%s%s\n", row->unit[0] == '\0' ? "" : " ", row->unit);
    break;
  case VALUE_SWITCH:
    fputs(value->as.on ? "yes\n" : "no\n", tune->out);
    break;
  case VALUE_CHOICE:
    fprintf(tune->out, "%s\n", choice_word(tune, row->name, value->as.text));
    break;
  case VALUE_LIST:
    write_list(tune, row, value);
    break;
  default:
    fprintf(tune->out, "%.*s\n", SLICE_ARG(value->as.text));
  }
}

static void write_curve(const struct tune *tune, const struct row *row, const struct curve *curve)
{
  fprintf(tune->out, "%s @ %s = ", row->label, row->x_unit);
  numbers_out(tune, curve->x.at, curve->x.count, row->x_unit, row->x_decimals, " ");
  fprintf(tune->out, "\n%s %s = ", row->label, row->unit);
  numbers_out(tune, curve->value, curve->x.count, row->unit, row->decimals, " ");
  fputc('\n', tune->out);
}

static void write_table(const struct tune *tune, const struct row *row, const struct table *table)
{
  fprintf(tune->out, "; %s over %s, a line for each %s\n%s = ", row->unit, row->x_unit, row->y_unit, row->x_unit);
  numbers_out(tune, table->x.at, table->x.count, row->x_unit, row->x_decimals, " ");
  fputc('\n', tune->out);
  for (size_t y = 0; y < table->y.count; y++) {
    number_out(tune, unit_number(table->y.at[y], row->y_unit), row->y_decimals);
    fprintf(tune->out, " %s = ", row->y_unit);
    numbers_out(tune, table->value + y * table->x.count, table->x.count, row->unit, row->decimals, " ");
    fputc('\n', tune->out);
  }
}

static void settings(const struct tune *tune)
{
  const char *group = "";
  fputs("; Tern text export. An invented program: nothing here fits a real engine.\n", tune->out);
  for (size_t i = 0; i < tune->row_count; i++) {
    const struct row *row = &tune->rows[i];
    const struct value *value = tune_value(tune, row->name);
    if (strcmp(group, row->group) != 0)
      fprintf(tune->out, "\n[%s]\n", row->group);
    group = row->group;
    if (row->kind == ROW_CURVE)
      write_curve(tune, row, &value->as.curve);
    else if (row->kind == ROW_TABLE)
      write_table(tune, row, &value->as.table);
    else
      write_value(tune, row, value);
  }
}

/* Comma-separated; the load is boost above the barometer. */
static void log_out(FILE *out, const struct log_table *log)
{
  static const struct column columns[] = {
      {"time", "Time (s)", "", 2},
      {"engine_speed", "RPM", "", 0},
      {"manifold_pressure", "Boost (psi)", "kPa gauge", 3},
      {"barometric_pressure", "Barometer (inHg)", "inHg", 3},
      {"throttle_position", "Throttle (%)", "", 1},
      {"coolant_temperature", "Coolant (deg F)", "degF", 2},
      {"intake_air_temperature", "Intake air (deg F)", "degF", 2},
      {"battery_voltage", "Battery (V)", "", 2},
      {"vehicle_speed", "Speed (mph)", "mph", 2},
      {"gear", "Gear", "", 0},
      {"lambda", "AFR", "AFR", 2},
      {"lambda_target", "Target AFR", "AFR", 2},
      {"lambda_correction", "Closed loop correction (%)", "", 1},
      {"volumetric_efficiency", "VE (%)", "", 1},
      {"injector_pulse_width", "Pulse width (ms)", "", 3},
      {"injector_duty", "Injector duty (%)", "", 1},
      {"warm_up_enrichment", "Warm-up over 100 (%)", "% over 100", 1},
      {"after_start_enrichment", "After-start (%)", "", 1},
      {"acceleration_enrichment", "Acceleration (%)", "", 1},
      {"spark_advance", "Timing (deg)", "", 1},
      {"dwell", "Dwell (ms)", "", 2},
      {"knock_retard", "Knock retard (deg)", "", 1},
      {"idle_valve_duty", "Idle valve (%)", "", 1},
      {"idle_speed_target", "Idle target (rpm)", "", 0},
      {"boost_target", "Boost target (inHg)", "inHg", 3},
      {"fuel_pressure", "Fuel pressure (psi)", "psi", 2},
      {"oil_pressure", "Oil pressure (psi)", "psi", 2},
      {"clutch_switch", "Clutch", "", 0},
      {"brake_switch", "Brake", "", 0},
      {"air_conditioning_request", "A/C request", "", 0},
      {"air_conditioning_step_active", "A/C step", "", 0},
      {"fan_output", "Fan", "", 0},
      {"fuel_cut", "Fuel cut", "", 0},
  };
  const struct tune plain = {.out = out, .point = '.'};
  size_t count = sizeof columns / sizeof *columns;
  for (size_t i = 0; i < count; i++)
    fprintf(out, "%s%s", columns[i].heading, i + 1 < count ? "," : "\n");
  for (size_t row = 0; row < log->row_count; row++) {
    for (size_t i = 0; i < count; i++) {
      double number = 0;
      if (log_number(log, row, &columns[i], &number)) {
        if (strcmp(columns[i].unit, "kPa gauge") == 0)
          number = unit_number(number * 1000, "psi");
        number_out(&plain, number, columns[i].decimals);
      }
      fputc(i + 1 < count ? ',' : '\n', out);
    }
  }
}

const struct dialect dialect_tern = {
    "tern",  '.',          rows, sizeof rows / sizeof *rows, words, sizeof words / sizeof *words, settings,
    log_out, BYTES_LATIN1, true};
