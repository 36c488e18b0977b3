/* Wagtail: one sheet, semicolons, decimal commas; UTF-16 with CRLF. First pages of single values (name, value, unit),
 * then a block for each curve (breakpoints and values are rows) and each table (breakpoints in the first row and
 * column; some transposed, some upside down). Reading order: settings. */
#include "dialects.h"

#define VALUE(name, group, label, unit, decimals) \
  {ROW_VALUE, name, group, label, unit, decimals, 0, "", "", "", "", "", "", 0, 0, 0, false},
#define CURVE(name, group, label, unit, decimals, x_label, x_unit, x_decimals) \
  {ROW_CURVE, name, group, label, unit, decimals, 0, "", x_label, x_unit, "", "", "", x_decimals, 0, 0, false},
#define TABLE(name, group, unit, decimals, x_unit, x_decimals, y_unit, y_decimals, layout) \
  {ROW_TABLE, name, group, "", unit, decimals, 0, "", "", x_unit, "", y_unit, layout, x_decimals, y_decimals, 0, false},
#define WORD(name, word, written)
static const struct row rows[] = {
#include "dialects_wagtail.def"
};
#undef VALUE
#undef CURVE
#undef TABLE
#undef WORD
#define VALUE(name, group, label, unit, decimals)
#define CURVE(name, group, label, unit, decimals, x_label, x_unit, x_decimals)
#define TABLE(name, group, unit, decimals, x_unit, x_decimals, y_unit, y_decimals, layout)
#define WORD(name, word, written) {name, word, written},
static const struct word words[] = {
#include "dialects_wagtail.def"
};

static void write_pins(const struct tune *tune, const struct value *value)
{
  for (size_t i = 0; i < value->as.pins.count; i++) {
    const struct pin *pin = &value->as.pins.items[i];
    for (size_t k = 0; k < pin->function.size; k++)
      fputc(pin->function.at[k] == '_' ? ' ' : pin->function.at[k], tune->out);
    fprintf(tune->out, ";%.*s\n", SLICE_ARG(pin->pin));
  }
}

static void write_value(const struct tune *tune, const struct row *row, const struct value *value)
{
  if (value->kind == VALUE_PINS) {
    write_pins(tune, value);
    return;
  }
  fprintf(tune->out, "%s;", row->label);
  switch (value->kind) {
  case VALUE_NUMBER:
    number_out(tune, unit_number(value->as.number.value, row->unit), row->decimals);
    fprintf(tune->out, ";%s\n", row->unit);
    break;
  case VALUE_SWITCH:
    fputs(value->as.on ? "active\n" : "inactive\n", tune->out);
    break;
  case VALUE_CHOICE:
    fprintf(tune->out, "%s\n", choice_word(tune, row->name, value->as.text));
    break;
  case VALUE_LIST: /* a cell an item */
    for (size_t i = 0; i < value->as.list.count; i++)
      fprintf(tune->out, "%s%g", i > 0 ? ";" : "", value->as.list.items[i]);
    fputs(value->as.list.count == 0 ? "-\n" : "\n", tune->out);
    break;
  default:
    fprintf(tune->out, "%.*s\n", SLICE_ARG(value->as.text));
  }
}

static void write_curve(const struct tune *tune, const struct row *row, const struct curve *curve)
{
  fprintf(tune->out, "%s;%s;", row->x_label, row->x_unit);
  numbers_out(tune, curve->x.at, curve->x.count, row->x_unit, row->x_decimals, ";");
  fprintf(tune->out, "\n%s;%s;", row->label, row->unit);
  numbers_out(tune, curve->value, curve->x.count, row->unit, row->decimals, ";");
  fputc('\n', tune->out);
}

static void write_table(const struct tune *tune, const struct row *row, const struct table *table)
{
  bool transposed = strchr(row->layout, 't') != NULL, flipped = strchr(row->layout, 'f') != NULL;
  const struct axis *across = transposed ? &table->y : &table->x, *down = transposed ? &table->x : &table->y;
  const char *across_unit = transposed ? row->y_unit : row->x_unit, *down_unit = transposed ? row->x_unit : row->y_unit;
  int across_decimals = transposed ? row->y_decimals : row->x_decimals;
  int down_decimals = transposed ? row->x_decimals : row->y_decimals;
  fprintf(tune->out, "%s \\ %s", down_unit, across_unit);
  for (size_t i = 0; i < across->count; i++) {
    fputc(';', tune->out);
    number_out(tune, unit_number(across->at[i], across_unit), across_decimals);
  }
  fputc('\n', tune->out);
  for (size_t i = 0; i < down->count; i++) {
    size_t d = flipped ? down->count - 1 - i : i;
    number_out(tune, unit_number(down->at[d], down_unit), down_decimals);
    for (size_t a = 0; a < across->count; a++) {
      fputc(';', tune->out);
      size_t cell = transposed ? a * table->x.count + d : d * table->x.count + a;
      number_out(tune, unit_number(table->value[cell], row->unit), row->decimals);
    }
    fputc('\n', tune->out);
  }
}

static void settings(const struct tune *tune)
{
  const char *group = "";
  for (size_t i = 0; i < tune->row_count; i++) {
    const struct row *row = &tune->rows[i];
    const struct value *value = tune_value(tune, row->name);
    if (strcmp(group, row->group) != 0 && (row->kind == ROW_TABLE || row->kind == ROW_CURVE))
      fprintf(tune->out, "%s%s%s%s%s\n", i > 0 ? "\n" : "", row->group, row->kind == ROW_TABLE ? " (" : "",
              row->kind == ROW_TABLE ? row->unit : "", row->kind == ROW_TABLE ? ")" : "");
    else if (strcmp(group, row->group) != 0)
      fprintf(tune->out, "%s%s\n", i > 0 ? "\n" : "", row->group);
    group = row->group;
    if (row->kind == ROW_CURVE)
      write_curve(tune, row, &value->as.curve);
    else if (row->kind == ROW_TABLE)
      write_table(tune, row, &value->as.table);
    else
      write_value(tune, row, value);
  }
}

/* Semicolons and decimal commas, a row of units under the headings. */
static void log_out(FILE *out, const struct log_table *log)
{
  static const struct column columns[] = {
      {"time", "Time", "s", 2},
      {"engine_speed", "Speed", "1/min", 0},
      {"manifold_pressure", "Manifold pressure", "mbar", 0},
      {"barometric_pressure", "Barometer", "mbar", 0},
      {"throttle_position", "Throttle", "%", 1},
      {"coolant_temperature", "Coolant", "°C", 1},
      {"intake_air_temperature", "Intake air", "°C", 1},
      {"battery_voltage", "Battery", "V", 2},
      {"vehicle_speed", "Road speed", "km/h", 1},
      {"gear", "Gear", "", 0},
      {"lambda", "Lambda", "lambda", 3},
      {"lambda_target", "Lambda target", "lambda", 3},
      {"lambda_correction", "Lambda control", "%", 1},
      {"volumetric_efficiency", "Volumetric efficiency", "%", 1},
      {"injector_pulse_width", "Injection time", "ms", 3},
      {"injector_duty", "Injector duty", "%", 1},
      {"warm_up_enrichment", "Warm-up enrichment", "%", 1},
      {"after_start_enrichment", "After-start enrichment", "%", 1},
      {"acceleration_enrichment", "Acceleration enrichment", "%", 1},
      {"spark_advance", "Ignition angle", "°", 1},
      {"dwell", "Dwell", "ms", 2},
      {"knock_retard", "Knock retard", "°", 1},
      {"idle_valve_duty", "Idle valve duty", "%", 1},
      {"idle_speed_target", "Idle speed target", "1/min", 0},
      {"boost_target", "Boost target", "mbar", 0},
      {"fuel_pressure", "Fuel pressure", "bar", 2},
      {"oil_pressure", "Oil pressure", "bar", 2},
      {"clutch_switch", "Clutch", "", 0},
      {"brake_switch", "Brake", "", 0},
      {"air_conditioning_request", "Air conditioning request", "", 0},
      {"air_conditioning_step_active", "Air conditioning step", "", 0},
      {"fan_output", "Fan", "", 0},
      {"fuel_cut", "Fuel cut", "", 0},
  };
  const struct tune plain = {.out = out, .point = ','};
  size_t count = sizeof columns / sizeof *columns;
  for (size_t i = 0; i < count; i++)
    fprintf(out, "%s%s", columns[i].heading, i + 1 < count ? ";" : "\n");
  for (size_t i = 0; i < count; i++)
    fprintf(out, "%s%s", columns[i].unit, i + 1 < count ? ";" : "\n");
  for (size_t row = 0; row < log->row_count; row++) {
    for (size_t i = 0; i < count; i++) {
      double number = 0;
      if (log_number(log, row, &columns[i], &number))
        number_out(&plain, number, columns[i].decimals);
      fputc(i + 1 < count ? ';' : '\n', out);
    }
  }
}

const struct dialect dialect_wagtail = {
    "wagtail", ',',         rows, sizeof rows / sizeof *rows, words, sizeof words / sizeof *words, settings,
    log_out,   BYTES_UTF16, true};
