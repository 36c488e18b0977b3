/* Settings to YAML. Reading order: settings_write, write_value; settings_write_number is where digits are chosen. */
#include "read/settings_write.h"

#include "base/number.h"
#include "text/utf8.h"

#include <math.h>
#include <stdint.h>

#define DIGITS_FIRST 6
#define DIGITS_LAST 17 /* enough for any double */
#define TRIES 4        /* neighbours of a converted number: conversion rounds twice */

struct writer {
  FILE *out;
  struct arena *arena;
};

static bool reads_back(const char *text, double base, const struct unit *unit)
{
  double value = 0;
  return number_read(slice_of(text), '.', &value) > 0 && unit_to_base(unit, value) == base;
}

/* Fewest digits first; at the most digits, the neighbours too. */
static bool find_digits(double base, const struct unit *unit, char *text, size_t size)
{
  double value = unit_from_base(unit, base), up = value, down = value;
  for (int digits = DIGITS_FIRST; digits <= DIGITS_LAST; digits++) {
    number_print(text, size, value, digits);
    if (reads_back(text, base, unit))
      return true;
  }
  for (int i = 0; i < TRIES; i++) {
    up = nextafter(up, (double)INFINITY);
    down = nextafter(down, (double)-INFINITY);
    number_print(text, size, up, DIGITS_LAST);
    if (reads_back(text, base, unit))
      return true;
    number_print(text, size, down, DIGITS_LAST);
    if (reads_back(text, base, unit))
      return true;
  }
  return false;
}

static bool is_plain(const struct unit *unit)
{
  return dimension_is_none(unit->dimension) && unit->factor == 1.0;
}

const char *settings_write_number(struct arena *arena, double base, const struct unit *unit, bool bare)
{
  char text[64];
  if (!find_digits(base, unit, text, sizeof text)) {
    /* No number in that unit gives this base value, so it was not written in it: the base unit always can. */
    const struct unit *kelvin = unit_find(slice_of("K"));
    bool is_point = unit->sense == SENSE_POINT;
    unit = is_point ? kelvin : unit_of_dimension(arena, unit->dimension, unit->sense);
    number_print(text, sizeof text, base, DIGITS_LAST);
    bare = false;
  }
  return bare || is_plain(unit) ? arena_print(arena, "%s", text) : arena_print(arena, "%s %s", text, unit->name);
}

static bool is_letter(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* Words that some reader of YAML takes for something else than a text. */
static bool is_special_word(struct slice text)
{
  static const char *const words[] = {"null", "true", "false", "yes", "no", "on", "off", "y", "n"};
  char lower[8] = "";
  if (text.size >= sizeof lower)
    return false;
  for (size_t i = 0; i < text.size; i++)
    lower[i] = (char)(text.at[i] >= 'A' && text.at[i] <= 'Z' ? text.at[i] - 'A' + 'a' : text.at[i]);
  for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
    if (strcmp(words[i], lower) == 0)
      return true;
  }
  return false;
}

/* Safe within flow brackets too. */
static bool is_safe_plain(struct slice text)
{
  if (text.size == 0 || !is_letter(text.at[0]) || text.at[text.size - 1] == ' ' || is_special_word(text))
    return false;
  for (size_t i = 0; i < text.size; i++) {
    char c = text.at[i];
    if (!is_letter(c) && !(c >= '0' && c <= '9') && strchr(" _-./()+*%", c) == NULL)
      return false;
  }
  return true;
}

const char *settings_write_text(struct arena *arena, struct slice text)
{
  if (is_safe_plain(text))
    return arena_text(arena, text);
  char *out = arena_alloc(arena, text.size * 10 + 3);
  size_t size = 0;
  out[size++] = '"';
  while (text.size > 0) {
    uint32_t code = 0;
    size_t used = utf8_read(text, &code);
    if (used == 0) {
      used = 1;
      code = 0xfffd;
    }
    if (code == '"' || code == '\\') {
      out[size++] = '\\';
      out[size++] = (char)code;
    } else if (code == '\n') {
      memcpy(out + size, "\\n", 2);
      size += 2;
    } else if (code == '\t') {
      memcpy(out + size, "\\t", 2);
      size += 2;
    } else if (code < 0x20 || (code >= 0x7f && code < 0xa0) || code == 0x2028 || code == 0x2029 || code >= 0xfff0) {
      size += (size_t)snprintf(out + size, 11, code < 0x10000 ? "\\u%04x" : "\\U%08x", (unsigned)code);
    } else {
      memcpy(out + size, text.at, used);
      size += used;
    }
    text = slice_part(text, used, text.size);
  }
  out[size++] = '"';
  out[size] = '\0';
  return out;
}

static void write_numbers(struct writer *w, const double *at, size_t count, const struct unit *unit, bool bare)
{
  fputc('[', w->out);
  for (size_t i = 0; i < count; i++)
    fprintf(w->out, "%s%s", i == 0 ? "" : ", ", settings_write_number(w->arena, at[i], unit, bare));
  fputc(']', w->out);
}

static const char *unit_text(struct writer *w, const struct unit *unit)
{
  return settings_write_text(w->arena, slice_of(unit->name));
}

static void write_vector(struct writer *w, const char *key, const double *at, size_t count, const struct unit *unit)
{
  fprintf(w->out, "  %s: {unit: %s, at: ", key, unit_text(w, unit));
  write_numbers(w, at, count, unit, true);
  fputs("}\n", w->out);
}

static void write_table(struct writer *w, const struct table *table)
{
  fputc('\n', w->out);
  write_vector(w, "x", table->x.at, table->x.count, table->x.unit);
  write_vector(w, "y", table->y.at, table->y.count, table->y.unit);
  fprintf(w->out, "  value:\n    unit: %s\n    rows:\n", unit_text(w, table->unit));
  for (size_t row = 0; row < table->y.count; row++) {
    fputs("      - ", w->out);
    write_numbers(w, table->value + row * table->x.count, table->x.count, table->unit, true);
    fputc('\n', w->out);
  }
}

/* A function that stands on several pins is one key with a list, at its first place. */
static void write_pins(struct writer *w, const struct pins *pins)
{
  fputs(pins->count == 0 ? " {}\n" : "\n", w->out);
  for (size_t i = 0; i < pins->count; i++) {
    size_t same = 0, before = 0;
    for (size_t k = 0; k < pins->count; k++) {
      bool equal = slice_equal(pins->items[k].function, pins->items[i].function);
      same += equal;
      before += equal && k < i;
    }
    if (before > 0)
      continue;
    fprintf(w->out, "  %s: %s", settings_write_text(w->arena, pins->items[i].function), same > 1 ? "[" : "");
    for (size_t k = i, done = 0; k < pins->count; k++) {
      if (slice_equal(pins->items[k].function, pins->items[i].function))
        fprintf(w->out, "%s%s", done++ == 0 ? "" : ", ", settings_write_text(w->arena, pins->items[k].pin));
    }
    fputs(same > 1 ? "]\n" : "\n", w->out);
  }
}

static void write_value(struct writer *w, const struct entry *entry, const struct value *value)
{
  fprintf(w->out, "%.*s:", SLICE_ARG(entry->name));
  switch (value->kind) {
  case VALUE_NUMBER:
    fprintf(w->out, " %s\n", settings_write_number(w->arena, value->as.number.value, value->as.number.unit, false));
    break;
  case VALUE_SWITCH:
    fputs(value->as.on ? " on\n" : " off\n", w->out);
    break;
  case VALUE_CHOICE:
  case VALUE_TEXT:
    fprintf(w->out, " %s\n", settings_write_text(w->arena, value->as.text));
    break;
  case VALUE_LIST:
    fputc(' ', w->out);
    write_numbers(w, value->as.list.items, value->as.list.count, value->as.list.unit,
                  value->as.list.unit == entry->unit);
    fputc('\n', w->out);
    break;
  case VALUE_CURVE:
    fputc('\n', w->out);
    write_vector(w, "x", value->as.curve.x.at, value->as.curve.x.count, value->as.curve.x.unit);
    write_vector(w, "value", value->as.curve.value, value->as.curve.x.count, value->as.curve.unit);
    break;
  case VALUE_TABLE:
    write_table(w, &value->as.table);
    break;
  case VALUE_PINS:
    write_pins(w, &value->as.pins);
    break;
  case VALUE_RECORDS:
  case VALUE_SERIES:
    break;
  }
}

void settings_write(FILE *out, const struct vocabulary *vocabulary, const struct settings *settings)
{
  struct writer w = {out, arena_new()};
  fputs("keyway-settings: 1\n", out);
  for (size_t i = 0; i < vocabulary->count[SCOPE_TUNE]; i++) {
    if (settings->values[i] != NULL)
      write_value(&w, &vocabulary->entries[SCOPE_TUNE][i], settings->values[i]);
  }
  arena_free(w.arena);
}
