/* Writes the example job as four invented programs would export it:
 *   dialects settings NAME SETTINGS.yaml > EXPORT
 *   dialects log NAME LOG.csv > LOG
 * Reading order: main; settings_write, log_write; bytes_write (encoding and line ends); then what dialects.h promises.
 */
#include "dialects.h"

#include "base/limits.h"
#include "base/number.h"
#include "read/settings.h"
#include "read/vocabulary.h"
#include "text/utf8.h"

#include <math.h>
#include <stdlib.h>

static const struct dialect *const dialects[] = {&dialect_tern, &dialect_wagtail, &dialect_dipper, &dialect_curlew};

static _Noreturn void give_up(const char *what, const char *which)
{
  fprintf(stderr, "dialects: %s: %s\n", what, which);
  exit(1);
}

const struct value *tune_value(const struct tune *tune, const char *name)
{
  const struct entry *entry = vocabulary_find(tune->vocabulary, SCOPE_TUNE, slice_of(name));
  if (entry == NULL)
    give_up("no such setting", name);
  const struct value *value = tune->settings->values[vocabulary_index(tune->vocabulary, SCOPE_TUNE, entry)];
  if (value == NULL)
    give_up("the settings do not hold it", name);
  return value;
}

double unit_number(double base, const char *unit)
{
  if (strcmp(unit, "AFR") == 0)
    return base * STOICHIOMETRIC;
  if (strcmp(unit, "% over 100") == 0)
    return base * 100 - 100;
  if (strcmp(unit, "kPa gauge") == 0)
    return (base - BAROMETER) / 1000;
  if (unit[0] == '\0' || strcmp(unit, "kg/kg") == 0)
    return base;
  struct arena *arena = arena_new();
  const char *why = NULL;
  const struct unit *read = unit_read(arena, slice_of(unit), &why);
  if (read == NULL)
    give_up(why, unit);
  double number = unit_from_base(read, base);
  arena_free(arena);
  return number;
}

void number_out(const struct tune *tune, double number, int decimals)
{
  char text[64];
  double unit = pow(10, decimals);
  number = round(number * unit) / unit;
  snprintf(text, sizeof text, "%.*f", decimals, number == 0 ? 0.0 : number);
  for (char *c = text; *c != '\0'; c++)
    *c = *c == '.' ? tune->point : *c;
  fputs(text, tune->out);
}

void numbers_out(const struct tune *tune, const double *at, size_t count, const char *unit, int decimals,
                 const char *separator)
{
  for (size_t i = 0; i < count; i++) {
    fputs(i > 0 ? separator : "", tune->out);
    number_out(tune, unit_number(at[i], unit), decimals);
  }
}

const char *choice_word(const struct tune *tune, const char *name, struct slice choice)
{
  for (size_t i = 0; i < tune->word_count; i++) {
    if (strcmp(tune->words[i].name, name) == 0 && slice_is(choice, tune->words[i].word))
      return tune->words[i].written;
  }
  give_up("no word for a choice", name);
}

size_t log_column(const struct log_table *log, const char *channel)
{
  for (size_t i = 0; i < log->column_count; i++) {
    if (slice_is(log->headings[i], channel))
      return i;
  }
  give_up("the log has no such channel", channel);
}

bool log_number(const struct log_table *log, size_t row, const struct column *column, double *out)
{
  size_t at = log_column(log, column->channel);
  struct slice cell = log->cells[row * log->column_count + at];
  if (cell.size == 0)
    return false;
  if (number_read(cell, '.', out) != cell.size)
    give_up("no number in the log", column->channel);
  if (column->unit[0] != '\0' && log->units[at] != NULL)
    *out = unit_number(unit_to_base(log->units[at], *out), column->unit);
  return true;
}

/* ---- bytes */

static void put(uint32_t point, const struct dialect *dialect)
{
  if (dialect->bytes == BYTES_LATIN1 && point > 0xff)
    give_up("a character that Latin-1 does not have", dialect->name);
  putchar((int)(point & 0xff));
  if (dialect->bytes == BYTES_UTF16)
    putchar((int)(point >> 8 & 0xff));
}

static void bytes_write(struct slice text, const struct dialect *dialect)
{
  if (dialect->bytes == BYTES_UTF16)
    put(0xfeff, dialect);
  for (size_t at = 0; at < text.size;) {
    uint32_t point = 0;
    size_t size = utf8_read(slice_part(text, at, text.size), &point);
    if (size == 0)
      give_up("not UTF-8", dialect->name);
    if (point == '\n' && dialect->crlf)
      put('\r', dialect);
    if (dialect->bytes == BYTES_UTF8)
      fwrite(text.at + at, 1, size, stdout);
    else
      put(point, dialect);
    at += size;
  }
}

/* ---- settings and logs */

static const struct source *open_source(struct sources *sources, const char *path, uint64_t limit,
                                        struct problems *problems)
{
  const struct source *source = sources_open(sources, path, limit, problems);
  if (source == NULL)
    give_up("cannot be read", path);
  return source;
}

static void settings_write_as(struct arena *arena, struct sources *sources, struct problems *problems,
                              const struct dialect *dialect, const char *path)
{
  const struct source *words = open_source(sources, "rules/dictionary.yaml", LIMIT_YAML_BYTES, problems);
  const struct vocabulary *vocabulary = vocabulary_read(arena, words, problems);
  const struct source *source = open_source(sources, path, LIMIT_YAML_BYTES, problems);
  const struct settings *settings = vocabulary == NULL ? NULL : settings_read(arena, vocabulary, source, problems);
  if (settings == NULL)
    give_up(problems->count > 0 ? problems->items[0].message : "refused", path);
  char *text = NULL;
  size_t size = 0;
  struct tune tune = {NULL,           vocabulary,          settings,      dialect->rows, dialect->row_count,
                      dialect->words, dialect->word_count, dialect->point};
  tune.out = open_memstream(&text, &size);
  if (tune.out == NULL)
    give_up("out of memory", path);
  dialect->settings(&tune);
  fclose(tune.out);
  bytes_write((struct slice){text, size}, dialect);
  free(text);
}

/* "manifold_pressure [kPa]" */
static void read_heading(struct log_table *log, size_t column, struct slice text)
{
  const char *why = NULL, *bracket = memchr(text.at, '[', text.size);
  size_t size = bracket == NULL ? text.size : (size_t)(bracket - text.at);
  log->headings[column] = slice_trim(slice_part(text, 0, size));
  if (bracket != NULL)
    log->units[column] = unit_read(log->arena, slice_part(text, size + 1, text.size - 1), &why);
}

static void read_row(struct log_table *log, size_t row, struct slice line)
{
  size_t column = 0, from = 0;
  for (size_t at = 0; at <= line.size; at++) {
    if (at < line.size && line.at[at] != ',')
      continue;
    struct slice cell = slice_part(line, from, at);
    if (column == log->column_count)
      give_up("a row too long", "log");
    if (row == 0)
      read_heading(log, column, cell);
    else
      log->cells[(row - 1) * log->column_count + column] = cell;
    column++;
    from = at + 1;
  }
}

static void log_write_as(struct arena *arena, struct sources *sources, struct problems *problems,
                         const struct dialect *dialect, const char *path)
{
  struct slice bytes = open_source(sources, path, LIMIT_LOG_BYTES, problems)->bytes;
  struct log_table log = {.arena = arena, .column_count = 1};
  size_t lines = 0;
  for (size_t i = 0; i < bytes.size; i++) {
    log.column_count += lines == 0 && bytes.at[i] == ',';
    lines += bytes.at[i] == '\n';
  }
  if (lines < 2 || dialect->log == NULL)
    give_up("no such log", path);
  log.row_count = lines - 1;
  log.headings = ARENA_ARRAY(arena, log.column_count, struct slice);
  log.units = ARENA_ARRAY(arena, log.column_count, const struct unit *);
  log.cells = ARENA_ARRAY(arena, log.column_count * log.row_count, struct slice);
  for (size_t at = 0, row = 0; at < bytes.size && row < lines; row++) {
    const char *end = memchr(bytes.at + at, '\n', bytes.size - at);
    size_t to = (size_t)(end - bytes.at);
    read_row(&log, row, slice_part(bytes, at, to));
    at = to + 1;
  }
  dialect->log(stdout, &log);
}

int main(int argc, char **argv)
{
  struct arena *arena = arena_new();
  struct sources *sources = sources_new(arena);
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  const struct dialect *dialect = NULL;
  for (size_t i = 0; argc == 4 && i < sizeof dialects / sizeof *dialects; i++) {
    if (strcmp(dialects[i]->name, argv[2]) == 0)
      dialect = dialects[i];
  }
  if (dialect == NULL || (strcmp(argv[1], "settings") != 0 && strcmp(argv[1], "log") != 0)) {
    fputs("usage: dialects settings|log tern|wagtail|dipper|curlew FILE\n", stderr);
    return 2;
  }
  if (argv[1][0] == 's')
    settings_write_as(arena, sources, &problems, dialect, argv[3]);
  else
    log_write_as(arena, sources, &problems, dialect, argv[3]);
  arena_free(arena);
  return fflush(stdout) == 0 ? 0 : 1;
}
