/* Dipper: XML with attributes. Single numbers are whole, hexadecimal and scaled; flags are bits of two words, some of
 * them negative; axes stand apart and are shared by every curve and table that has the same breakpoints; pressures
 * are above the barometer, which is recorded. Reading order: settings; axes_collect, axis_of. */
#include "dialects.h"

#include <math.h>
#include <stdlib.h>

#define AXES_MOST 64

#define VALUE(name, group, label, unit, scale) \
  {ROW_VALUE, name, group, label, unit, 0, scale, "", "", "", "", "", "", 0, 0, 0, false},
#define FLAG(name, group, bit, inverted, label) \
  {ROW_FLAG, name, group, label, "", 0, 0, "", "", "", "", "", "", 0, 0, bit, inverted},
#define CURVE(name, group, label, unit, decimals, x_label, x_unit, x_decimals) \
  {ROW_CURVE, name, group, label, unit, decimals, 0, "", x_label, x_unit, "", "", "", x_decimals, 0, 0, false},
#define TABLE(name, group, label, unit, decimals, x_unit, x_decimals, y_label, y_unit, y_decimals) \
  {ROW_TABLE, name,    group,  label, unit,       decimals,   0, "",   "RPM",                      \
   x_unit,    y_label, y_unit, "",    x_decimals, y_decimals, 0, false},
#define WORD(name, word, written)
static const struct row rows[] = {
#include "dialects_dipper.def"
};
#undef VALUE
#undef FLAG
#undef CURVE
#undef TABLE
#undef WORD
#define VALUE(name, group, label, unit, scale)
#define FLAG(name, group, bit, inverted, label)
#define CURVE(name, group, label, unit, decimals, x_label, x_unit, x_decimals)
#define TABLE(name, group, label, unit, decimals, x_unit, x_decimals, y_label, y_unit, y_decimals)
#define WORD(name, word, written) {name, word, written},
static const struct word words[] = {
#include "dialects_dipper.def"
};

struct axis_text {
  const struct axis *axis;
  const char *quantity, *unit;
  int decimals, number; /* number: among those of its quantity, from 1 */
};

struct axes {
  struct axis_text items[AXES_MOST];
  size_t count;
};

/* The axis of these breakpoints, added when it is new. */
static const struct axis_text *axis_of(struct axes *axes, const struct axis *axis, const char *quantity,
                                       const char *unit, int decimals)
{
  int number = 1;
  for (size_t i = 0; i < axes->count; i++) {
    const struct axis_text *other = &axes->items[i];
    if (strcmp(other->quantity, quantity) != 0)
      continue;
    number++;
    if (other->axis->count == axis->count && memcmp(other->axis->at, axis->at, axis->count * sizeof *axis->at) == 0)
      return other;
  }
  if (axes->count == AXES_MOST)
    abort();
  axes->items[axes->count] = (struct axis_text){axis, quantity, unit, decimals, number};
  return &axes->items[axes->count++];
}

static void axes_collect(const struct tune *tune, struct axes *axes)
{
  for (size_t i = 0; i < tune->row_count; i++) {
    const struct row *row = &tune->rows[i];
    const struct value *value = tune_value(tune, row->name);
    if (row->kind == ROW_CURVE)
      axis_of(axes, &value->as.curve.x, row->x_label, row->x_unit, row->x_decimals);
    if (row->kind == ROW_TABLE) {
      axis_of(axes, &value->as.table.x, row->x_label, row->x_unit, row->x_decimals);
      axis_of(axes, &value->as.table.y, row->y_label, row->y_unit, row->y_decimals);
    }
  }
}

/* A text between quotes or tags. */
static void text_out(const struct tune *tune, struct slice text)
{
  for (size_t i = 0; i < text.size; i++) {
    const char *entity = text.at[i] == '&' ? "&amp;" : text.at[i] == '<' ? "&lt;" : text.at[i] == '"' ? "&quot;" : NULL;
    if (entity != NULL)
      fputs(entity, tune->out);
    else
      fputc(text.at[i], tune->out);
  }
}

static void write_number(const struct tune *tune, const struct row *row, double base)
{
  long raw = lround(unit_number(base, row->unit) / row->scale);
  if (row->unit[0] != '\0')
    fprintf(tune->out, " unit=\"%s\"", row->unit);
  if (row->scale != 1)
    fprintf(tune->out, " scale=\"%g\"", row->scale);
  fprintf(tune->out, ">0x%lX", (unsigned long)raw);
}

static void write_value(const struct tune *tune, const struct row *row, const struct value *value)
{
  fprintf(tune->out, "    <value id=\"%s\"", row->label);
  switch (value->kind) {
  case VALUE_NUMBER:
    write_number(tune, row, value->as.number.value);
    break;
  case VALUE_CHOICE:
    fprintf(tune->out, ">%s", choice_word(tune, row->name, value->as.text));
    break;
  case VALUE_LIST:
    fputc('>', tune->out);
    for (size_t i = 0; i < value->as.list.count; i++)
      fprintf(tune->out, "%s%g", i > 0 ? " " : "", value->as.list.items[i]);
    fputs(value->as.list.count == 0 ? "none" : "", tune->out);
    break;
  default:
    fputc('>', tune->out);
    text_out(tune, value->as.text);
  }
  fputs("</value>\n", tune->out);
}

static void write_pins(const struct tune *tune, const struct row *row, const struct value *value)
{
  for (size_t i = 0; i < value->as.pins.count; i++) {
    const struct pin *pin = &value->as.pins.items[i];
    fprintf(tune->out, "    <%s use=\"", row->label);
    for (size_t k = 0; k < pin->function.size; k++)
      fputc(pin->function.at[k] == '_' ? ' ' : pin->function.at[k], tune->out);
    fprintf(tune->out, "\">%.*s</%s>\n", SLICE_ARG(pin->pin), row->label);
  }
}

static void write_flags(const struct tune *tune, const char *word)
{
  unsigned long bits = 0;
  for (size_t i = 0; i < tune->row_count; i++) {
    const struct row *row = &tune->rows[i];
    if (row->kind != ROW_FLAG || strcmp(row->group, word) != 0)
      continue;
    fprintf(tune->out, "    <!-- bit %d: %s -->\n", row->bit, row->label);
    if (tune_value(tune, row->name)->as.on != row->inverted)
      bits |= 1ul << row->bit;
  }
  fprintf(tune->out, "    <word id=\"%s\">0x%04lX</word>\n", word, bits);
}

static void write_curve(const struct tune *tune, struct axes *axes, const struct row *row, const struct curve *curve)
{
  const struct axis_text *x = axis_of(axes, &curve->x, row->x_label, row->x_unit, row->x_decimals);
  fprintf(tune->out, "    <curve id=\"%s\" unit=\"%s\" x=\"%s %d\">", row->label, row->unit, x->quantity, x->number);
  numbers_out(tune, curve->value, curve->x.count, row->unit, row->decimals, " ");
  fputs("</curve>\n", tune->out);
}

static void write_table(const struct tune *tune, struct axes *axes, const struct row *row, const struct table *table)
{
  const struct axis_text *x = axis_of(axes, &table->x, row->x_label, row->x_unit, row->x_decimals);
  const struct axis_text *y = axis_of(axes, &table->y, row->y_label, row->y_unit, row->y_decimals);
  fprintf(tune->out, "    <map id=\"%s\" unit=\"%s\" x=\"%s %d\" y=\"%s %d\">\n", row->label, row->unit, x->quantity,
          x->number, y->quantity, y->number);
  for (size_t r = 0; r < table->y.count; r++) {
    fputs("      <row>", tune->out);
    numbers_out(tune, table->value + r * table->x.count, table->x.count, row->unit, row->decimals, " ");
    fputs("</row>\n", tune->out);
  }
  fputs("    </map>\n", tune->out);
}

static void write_axes(const struct tune *tune, const struct axes *axes)
{
  fputs("  <axes>\n", tune->out);
  for (size_t i = 0; i < axes->count; i++) {
    const struct axis_text *axis = &axes->items[i];
    fprintf(tune->out, "    <axis id=\"%s %d\" unit=\"%s\">", axis->quantity, axis->number, axis->unit);
    numbers_out(tune, axis->axis->at, axis->axis->count, axis->unit, axis->decimals, " ");
    fputs("</axis>\n", tune->out);
  }
  fputs("  </axes>\n", tune->out);
}

static void settings(const struct tune *tune)
{
  struct axes axes = {.count = 0};
  axes_collect(tune, &axes);
  fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<!-- Dipper: an invented program. Nothing here fits a real engine. -->\n"
        "<dipper version=\"2\">\n"
        "  <recorded>\n"
        "    <barometer unit=\"kPa\">97.6</barometer>\n"
        "  </recorded>\n"
        "  <flags>\n",
        tune->out);
  write_flags(tune, "functions");
  write_flags(tune, "tests");
  fputs("  </flags>\n", tune->out);
  const char *group = "";
  for (size_t i = 0; i < tune->row_count; i++) {
    const struct row *row = &tune->rows[i];
    const struct value *value = tune_value(tune, row->name);
    if (row->kind == ROW_FLAG)
      continue;
    if (strcmp(group, row->group) != 0)
      fprintf(tune->out, "%s  <group id=\"%s\">\n", group[0] == '\0' ? "" : "  </group>\n", row->group);
    group = row->group;
    if (row->kind == ROW_CURVE)
      write_curve(tune, &axes, row, &value->as.curve);
    else if (row->kind == ROW_TABLE)
      write_table(tune, &axes, row, &value->as.table);
    else if (value->kind == VALUE_PINS)
      write_pins(tune, row, value);
    else
      write_value(tune, row, value);
  }
  fputs("  </group>\n", tune->out);
  write_axes(tune, &axes);
  fputs("</dipper>\n", tune->out);
}

/* Tabs, time in milliseconds, all switches in one status word of which one bit is negative. */
static void log_out(FILE *out, const struct log_table *log)
{
  static const struct column columns[] = {
      {"time", "TIME [ms]", "ms", 0},
      {"engine_speed", "RPM [rpm]", "", 0},
      {"manifold_pressure", "MAP [kPa gauge]", "kPa gauge", 1},
      {"barometric_pressure", "BARO [kPa]", "", 1},
      {"throttle_position", "TPS [%]", "", 1},
      {"coolant_temperature", "ECT [degC]", "", 1},
      {"intake_air_temperature", "IAT [degC]", "", 1},
      {"battery_voltage", "VBAT [mV]", "mV", 0},
      {"vehicle_speed", "VSS [km/h]", "", 1},
      {"gear", "GEAR", "", 0},
      {"lambda", "LAMBDA", "", 3},
      {"lambda_target", "TARGET LAMBDA", "", 3},
      {"lambda_correction", "LAMBDA TRIM [%]", "", 1},
      {"volumetric_efficiency", "VE [%]", "", 1},
      {"injector_pulse_width", "PW [us]", "us", 0},
      {"injector_duty", "INJ DUTY [%]", "", 1},
      {"warm_up_enrichment", "WARMUP [%]", "", 1},
      {"after_start_enrichment", "AFTERSTART [%]", "", 1},
      {"acceleration_enrichment", "TIP-IN [%]", "", 1},
      {"spark_advance", "SPARK [deg]", "", 1},
      {"dwell", "DWELL [us]", "us", 0},
      {"knock_retard", "KNOCK RETARD [deg]", "", 1},
      {"idle_valve_duty", "IDLE VALVE [%]", "", 1},
      {"idle_speed_target", "IDLE TARGET [rpm]", "", 0},
      {"boost_target", "BOOST TARGET [kPa gauge]", "kPa gauge", 1},
      {"fuel_pressure", "FUEL P [kPa]", "", 0},
      {"oil_pressure", "OIL P [kPa]", "", 0},
  };
  static const struct column flags[] = {
      {"clutch_switch", "", "", 0},
      {"brake_switch", "", "", 0},
      {"air_conditioning_request", "", "", 0},
      {"air_conditioning_step_active", "", "", 0},
      {"fan_output", "", "", 0},
      {"fuel_cut", "", "", 0},
  };
  const unsigned negative = 1u << 5;
  const struct tune plain = {.out = out, .point = '.'};
  size_t count = sizeof columns / sizeof *columns;
  for (size_t i = 0; i < count; i++)
    fprintf(out, "%s\t", columns[i].heading);
  fputs("STATUS\n", out);
  for (size_t row = 0; row < log->row_count; row++) {
    double number = 0;
    unsigned bits = 0;
    for (size_t i = 0; i < count; i++) {
      if (log_number(log, row, &columns[i], &number))
        number_out(&plain, number, columns[i].decimals);
      fputc('\t', out);
    }
    for (unsigned i = 0; i < sizeof flags / sizeof *flags; i++) {
      if (log_number(log, row, &flags[i], &number) && number > 0)
        bits |= 1u << i;
    }
    fprintf(out, "%u\n", bits ^ negative);
  }
}

const struct dialect dialect_dipper = {
    "dipper", '.',        rows, sizeof rows / sizeof *rows, words, sizeof words / sizeof *words, settings,
    log_out,  BYTES_UTF8, false};
