/* Curlew: JSON, objects in objects; names in camel case with their units; choices are numbers; each point of a curve
 * and each cell of a table is an object of its own, cells in the order in which they were last touched (here: column
 * by column, from the right). Its logs are CSV as Keyway reads them. Reading order: settings. */
#include "dialects.h"

#define VALUE(name, group, label, unit, decimals) \
  {ROW_VALUE, name, group, label, unit, decimals, 0, "", "", "", "", "", "", 0, 0, 0, false},
#define CURVE(name, group, label, value_label, unit, decimals, x_label, x_unit, x_decimals) \
  {ROW_CURVE, name, group, label, unit, decimals, 0, value_label, x_label, x_unit, "", "", "", x_decimals, 0, 0, false},
#define TABLE(name, group, label, value_label, unit, decimals, x_unit, x_decimals, y_label, y_unit, y_decimals) \
  {ROW_TABLE, name,    group,  label, unit,       decimals,   0, value_label, "rpm",                            \
   x_unit,    y_label, y_unit, "",    x_decimals, y_decimals, 0, false},
#define WORD(name, word, written)
static const struct row rows[] = {
#include "dialects_curlew.def"
};
#undef VALUE
#undef CURVE
#undef TABLE
#undef WORD
#define VALUE(name, group, label, unit, decimals)
#define CURVE(name, group, label, value_label, unit, decimals, x_label, x_unit, x_decimals)
#define TABLE(name, group, label, value_label, unit, decimals, x_unit, x_decimals, y_label, y_unit, y_decimals)
#define WORD(name, word, written) {name, word, written},
static const struct word words[] = {
#include "dialects_curlew.def"
};

static void write_pins(const struct tune *tune, const struct value *value)
{
  fputs("[\n", tune->out);
  for (size_t i = 0; i < value->as.pins.count; i++) {
    const struct pin *pin = &value->as.pins.items[i];
    fprintf(tune->out, "      {\"pin\": \"%.*s\", \"function\": \"%.*s\"}%s\n", SLICE_ARG(pin->pin),
            SLICE_ARG(pin->function), i + 1 < value->as.pins.count ? "," : "");
  }
  fputs("    ]", tune->out);
}

static void write_value(const struct tune *tune, const struct row *row, const struct value *value)
{
  switch (value->kind) {
  case VALUE_NUMBER:
    number_out(tune, unit_number(value->as.number.value, row->unit), row->decimals);
    break;
  case VALUE_SWITCH:
    fputs(value->as.on ? "true" : "false", tune->out);
    break;
  case VALUE_CHOICE:
    fputs(choice_word(tune, row->name, value->as.text), tune->out);
    break;
  case VALUE_LIST:
    fputc('[', tune->out);
    for (size_t i = 0; i < value->as.list.count; i++)
      fprintf(tune->out, "%s%g", i > 0 ? ", " : "", value->as.list.items[i]);
    fputs(value->as.list.count == 0 ? "\"none\"]" : "]", tune->out);
    break;
  case VALUE_PINS:
    write_pins(tune, value);
    break;
  default:
    fprintf(tune->out, "\"%.*s\"", SLICE_ARG(value->as.text));
  }
}

static void write_curve(const struct tune *tune, const struct row *row, const struct curve *curve)
{
  fputs("[\n", tune->out);
  for (size_t i = 0; i < curve->x.count; i++) {
    fprintf(tune->out, "      {\"%s\": ", row->x_label);
    number_out(tune, unit_number(curve->x.at[i], row->x_unit), row->x_decimals);
    fprintf(tune->out, ", \"%s\": ", row->value_label);
    number_out(tune, unit_number(curve->value[i], row->unit), row->decimals);
    fprintf(tune->out, "}%s\n", i + 1 < curve->x.count ? "," : "");
  }
  fputs("    ]", tune->out);
}

static void write_table(const struct tune *tune, const struct row *row, const struct table *table)
{
  fprintf(tune->out, "{\n      \"%s\": [", row->x_label);
  numbers_out(tune, table->x.at, table->x.count, row->x_unit, row->x_decimals, ", ");
  fprintf(tune->out, "],\n      \"%s\": [", row->y_label);
  numbers_out(tune, table->y.at, table->y.count, row->y_unit, row->y_decimals, ", ");
  fputs("],\n      \"cells\": [\n", tune->out);
  for (size_t x = table->x.count; x-- > 0;) {
    for (size_t y = 0; y < table->y.count; y++) {
      fprintf(tune->out, "        {\"cell\": \"row %zu col %zu\", \"%s\": ", y, x, row->value_label);
      number_out(tune, unit_number(table->value[y * table->x.count + x], row->unit), row->decimals);
      fprintf(tune->out, "}%s\n", x > 0 || y + 1 < table->y.count ? "," : "");
    }
  }
  fputs("      ]\n    }", tune->out);
}

static void settings(const struct tune *tune)
{
  fputs("{\n  \"curlew\": 4", tune->out);
  const char *group = "";
  for (size_t i = 0; i < tune->row_count; i++) {
    const struct row *row = &tune->rows[i];
    const struct value *value = tune_value(tune, row->name);
    if (strcmp(group, row->group) != 0)
      fprintf(tune->out, "%s,\n  \"%s\": {\n", group[0] == '\0' ? "" : "\n  }", row->group);
    else
      fputs(",\n", tune->out);
    group = row->group;
    fprintf(tune->out, "    \"%s\": ", row->label);
    if (row->kind == ROW_CURVE)
      write_curve(tune, row, &value->as.curve);
    else if (row->kind == ROW_TABLE)
      write_table(tune, row, &value->as.table);
    else
      write_value(tune, row, value);
  }
  fputs("\n  }\n}\n", tune->out);
}

const struct dialect dialect_curlew = {
    "curlew", '.',        rows, sizeof rows / sizeof *rows, words, sizeof words / sizeof *words, settings,
    NULL,     BYTES_UTF8, false};
