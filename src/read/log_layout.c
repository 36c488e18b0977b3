/* Finds the heading by what it says: of the first lines, split at each possible separator, the one with most names of
 * channels. Titles, remarks and the loggers' own preambles are passed over that way, whatever they look like. Reading
 * order: log_layout_read, choose, weigh; then the row of units and the decimal sign. */
#include "read/log_layout.h"

#include "base/limits.h"
#include "read/log_notes.h"

#include <errno.h>
#include <stdint.h>

#define HEAD_LINES 100 /* a heading is among the first so many lines */
#define POINT_LINES 64 /* lines that are looked through for the decimal sign */
#define HEAD_FIRST ((size_t)64 * 1024)
/* More than HEAD_LINES, the heading, the units and POINT_LINES can be. */
#define HEAD_MOST ((size_t)64 * 1024 * 1024)
#define EXAMPLE "for instance: time [s],engine_speed [rpm],coolant_temperature [degC]"

/* A line that may be the heading, read with some separator. */
struct choice {
  char separator;
  const char *at;
  size_t known; /* cells that name a channel */
  size_t words; /* cells that are not empty and start like no number */
};

struct scan {
  const struct log_names *names;
  const struct adapter *adapter;
  struct problems *problems;
  struct csv_cell *cells; /* LIMIT_LOG_COLUMNS */
  struct log_text text;
  const char *start, *end;
  bool cut;  /* the log goes on behind `end` */
  bool more; /* something was looked at that may go on there */
  struct choice best;
  struct csv_row fault; /* the first row that could not be read */
};

bool log_layout_is_comment(const struct csv *csv, const char *at)
{
  while (at < csv->end && (*at == ' ' || *at == '\t') && *at != csv->separator)
    at++;
  if (at == csv->end || *at == csv->separator)
    return false;
  return *at == '#' || *at == ';' || (*at == '/' && at + 1 < csv->end && at[1] == '/');
}

struct log_fault log_layout_fault(const struct log_text *text, const struct csv_row *row)
{
  const char *at = row->fault_at;
  bool point = row->fault == CSV_LONG || row->fault == CSV_SOUND;
  return (struct log_fault){row->fault, log_place(text, at, point ? at : at + 1), point ? ' ' : *at};
}

bool log_layout_refuse(const struct log_fault *fault, struct problems *problems)
{
  struct place place = fault->place;
  switch (fault->fault) {
  case CSV_UNCLOSED:
    problems_add(problems, place, "this quote is never closed");
    problems_hint(problems, "a quote within a quoted cell is written twice");
    break;
  case CSV_AFTER_QUOTE:
    problems_add(problems, place, "text after a closing quote; a separator was expected");
    problems_hint(problems, "a quote within a quoted cell is written twice");
    break;
  case CSV_CONTROL:
    if (fault->byte == '\0')
      problems_add(problems, place, "a NUL byte: this is no text");
    else
      problems_add(problems, place, "a control character (0x%02x): this is no text",
                   (unsigned)(unsigned char)fault->byte);
    problems_hint(problems, "a logger that loses power can leave such bytes; else export the log as CSV");
    break;
  case CSV_LONG:
    problems_add(problems, place, "a row of more than %u bytes, the limit", LIMIT_LOG_LINE);
    break;
  case CSV_SOUND:
    break;
  }
  return false;
}

static bool starts_like_number(struct slice text)
{
  size_t at = 0;
  while (at < text.size && strchr("+-.,", text.at[at]) != NULL)
    at++;
  return at < text.size && text.at[at] >= '0' && text.at[at] <= '9';
}

static size_t least(size_t a, size_t b)
{
  return a < b ? a : b;
}

static bool is_channel(const struct scan *scan, struct slice text)
{
  size_t next = 0;
  return log_names_read(scan->names, text).entry != NULL ||
         (scan->adapter != NULL && adapter_channel(scan->adapter, text, &next) != NULL);
}

static struct choice weigh(const struct scan *scan, const struct csv *csv, const struct csv_row *row)
{
  struct choice choice = {.separator = csv->separator, .at = row->at};
  for (size_t i = 0; i < least(row->count, LIMIT_LOG_COLUMNS); i++) {
    struct slice text = csv_text(&scan->cells[i]);
    if (text.size == 0 || starts_like_number(text))
      continue;
    choice.words++;
    choice.known += is_channel(scan, text);
  }
  return choice;
}

static bool is_better(const struct choice *a, const struct choice *b)
{
  return a->known != b->known ? a->known > b->known : a->words > b->words;
}

/* Whether a row could read otherwise if the text went on; a quote is looked at for no more than LIMIT_LOG_LINE. */
static bool is_open(const struct csv *csv, const struct csv_row *row)
{
  return row->next == csv->end || row->end == csv->end ||
         (row->fault == CSV_UNCLOSED && (size_t)(csv->end - row->fault_at) <= LIMIT_LOG_LINE + 1);
}

static void read_row(struct scan *scan, const struct csv *csv, const char *at, struct csv_cell *cells, size_t room,
                     struct csv_row *row)
{
  csv_read(csv, at, cells, room, row);
  scan->more = scan->more || (scan->cut && is_open(csv, row));
}

static const char *skip_line(struct scan *scan, const struct csv *csv, const char *at)
{
  const char *next = csv_skip_line(csv, at);
  scan->more = scan->more || (scan->cut && next == csv->end);
  return next;
}

static void choose(struct scan *scan, char separator)
{
  struct csv csv = csv_new(separator, scan->end);
  const char *at = scan->start;
  for (int line = 0; line < HEAD_LINES && at < scan->end; line++) {
    struct csv_row row;
    if (log_layout_is_comment(&csv, at)) {
      at = skip_line(scan, &csv, at);
      continue;
    }
    read_row(scan, &csv, at, scan->cells, LIMIT_LOG_COLUMNS, &row);
    if (row.fault != CSV_SOUND) {
      if (scan->fault.fault == CSV_SOUND)
        scan->fault = row;
      at = skip_line(scan, &csv, at);
      continue;
    }
    struct choice choice = weigh(scan, &csv, &row);
    if (is_better(&choice, &scan->best))
      scan->best = choice;
    at = row.next;
  }
}

/* UTF-16 from its mark, or from the zero byte in every other place. */
static bool is_utf16(struct slice bytes)
{
  if (bytes.size < 2)
    return false;
  return memcmp(bytes.at, "\xFF\xFE", 2) == 0 || memcmp(bytes.at, "\xFE\xFF", 2) == 0 ||
         (bytes.at[0] == '\0') != (bytes.at[1] == '\0');
}

static bool refuse_no_heading(const struct scan *scan)
{
  const struct choice *best = &scan->best;
  if (scan->fault.fault == CSV_CONTROL || (scan->fault.fault != CSV_SOUND && best->words < 2)) {
    struct log_fault fault = log_layout_fault(&scan->text, &scan->fault);
    return log_layout_refuse(&fault, scan->problems);
  }
  if (best->words < 2) {
    problems_add(scan->problems, log_place(&scan->text, scan->start, scan->start),
                 "no heading: none of the first lines names a channel");
  } else {
    struct csv csv = csv_new(best->separator, scan->end);
    const char *next = csv_skip_line(&csv, best->at);
    problems_add(scan->problems, log_place(&scan->text, best->at, next),
                 "no heading: the likeliest line has %zu columns, but no name of a channel that is known", best->words);
  }
  problems_hint(scan->problems, "a line above the data names its columns, " EXAMPLE);
  return false;
}

/* After the heading: cells that are units, or in brackets, or blank; at least one unit, and no number. */
static bool is_unit_row(struct arena *arena, const struct csv_cell *cells, size_t count)
{
  size_t units = 0, others = 0;
  for (size_t i = 0; i < count; i++) {
    struct slice text = csv_text(&cells[i]), bare = log_names_bare_unit(text);
    const char *why = NULL;
    double ignored = 0;
    struct log_point point = {'.', false};
    if (log_cell_is_missing(bare))
      continue;
    /* "1" is the unit of plain numbers, and a number. */
    bool is_one = slice_is(text, "1");
    if (!is_one && log_cell_number(&point, text, &ignored) == LOG_CELL_GOOD)
      return false;
    bool is_unit =
        !is_one && (bare.size < text.size || log_names_is_clock(bare) || unit_read(arena, bare, &why) != NULL);
    units += is_unit;
    others += !is_unit;
  }
  return units > others;
}

static void read_unit_row(struct arena *arena, struct scan *scan, struct log_layout *layout)
{
  while (layout->data < layout->csv.end && (*layout->data == '\n' || *layout->data == '\r'))
    layout->data++;
  scan->more = scan->more || (scan->cut && layout->data >= layout->csv.end);
  if (layout->data >= layout->csv.end)
    return;
  struct csv_cell *cells = ARENA_ARRAY(arena, layout->column_count, struct csv_cell);
  struct csv_row *row = &layout->unit_row;
  read_row(scan, &layout->csv, layout->data, cells, layout->column_count, row);
  size_t count = least(row->count, layout->column_count);
  if (row->fault != CSV_SOUND || !is_unit_row(arena, cells, count))
    return;
  layout->units = cells;
  layout->unit_count = count;
  layout->data = row->next;
}

/* A comma before the decimals is possible only where commas do not separate; then the first rows tell. */
static struct log_point find_point(struct scan *scan, const struct log_layout *layout)
{
  size_t points = 0, commas = 0;
  const char *at = layout->data;
  if (layout->csv.separator == ',')
    return (struct log_point){'.', true};
  for (int line = 0; line < POINT_LINES && at < scan->end; line++) {
    struct csv_row row;
    read_row(scan, &layout->csv, at, scan->cells, LIMIT_LOG_COLUMNS, &row);
    if (row.fault != CSV_SOUND)
      break;
    for (size_t i = 0; i < least(row.count, LIMIT_LOG_COLUMNS); i++) {
      char sign = log_cell_point(csv_text(&scan->cells[i]));
      points += sign == '.';
      commas += sign == ',';
    }
    at = row.next;
  }
  return (struct log_point){commas > points ? ',' : '.', points + commas > 0};
}

static bool read_heading(struct arena *arena, struct scan *scan, struct log_layout *out)
{
  struct csv_cell *cells = ARENA_ARRAY(arena, LIMIT_LOG_COLUMNS, struct csv_cell);
  out->csv = csv_new(scan->best.separator, scan->end);
  read_row(scan, &out->csv, scan->best.at, cells, LIMIT_LOG_COLUMNS, &out->heading);
  if (out->heading.extra != NULL)
    return problems_add(scan->problems, log_place(&scan->text, out->heading.extra, out->heading.extra),
                        "%zu columns; the limit is %d", out->heading.count, LIMIT_LOG_COLUMNS);
  out->names = cells;
  out->column_count = least(out->heading.count, LIMIT_LOG_COLUMNS);
  while (out->column_count > 0 && csv_is_blank(&cells[out->column_count - 1]))
    out->column_count--;
  out->data = out->heading.next;
  return true;
}

/* Behind the last byte that is no control-Z: old exports close a text with it. */
static bool find_end(const struct source *source, uint64_t *end)
{
  char byte;
  size_t got;
  for (*end = source_size(source); *end > 0; (*end)--) {
    if (!source_read(source, *end - 1, &byte, 1, &got))
      return false;
    if (got == 1 && byte != '\x1A')
      break;
  }
  return true;
}

/* The first `size` bytes of the log, all of it where it is in memory. */
static bool load(struct arena *arena, const struct source *source, uint64_t end, size_t size, struct scan *scan)
{
  const char *at = source->bytes.at;
  size_t have = (size_t)(end < source->bytes.size ? end : source->bytes.size);
  if (have < end) {
    char *copy = arena_alloc(arena, size < end ? size : (size_t)end);
    if (!source_read(source, 0, copy, size < end ? size : (size_t)end, &have))
      return false;
    at = copy;
  }
  scan->text = (struct log_text){source, at, 0};
  scan->start = at + (have >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0);
  scan->end = at + have;
  scan->cut = have < end && have == size && size < HEAD_MOST;
  scan->more = false;
  scan->best = (struct choice){.separator = '\0'};
  scan->fault = (struct csv_row){.fault = CSV_SOUND};
  return true;
}

/* With scan->more set, more of the text is needed and nothing was said. */
static bool read_text(struct arena *arena, struct scan *scan, struct log_layout *out)
{
  struct problems *problems = scan->problems;
  struct place top = {scan->text.source->id, 0, 0};
  struct slice bytes = {scan->text.at, (size_t)(scan->end - scan->text.at)};
  if (is_utf16(bytes)) {
    problems_add(problems, top, "the log is not UTF-8 (UTF-16?)");
    problems_hint(problems, "save it as UTF-8 text");
    return false;
  }
  if (scan->end == scan->start)
    return problems_add(problems, top, "the log is empty");
  for (const char *separator = ",;\t"; *separator != '\0'; separator++)
    choose(scan, *separator);
  if (scan->more)
    return false;
  if (scan->best.known == 0)
    return refuse_no_heading(scan);
  out->text = scan->text;
  if (!read_heading(arena, scan, out))
    return false;
  read_unit_row(arena, scan, out);
  out->point = find_point(scan, out);
  return true;
}

bool log_layout_read(struct arena *arena, const struct log_names *names, const struct adapter *adapter,
                     const struct source *source, struct problems *problems, struct log_layout *out)
{
  struct place top = {source->id, 0, 0};
  *out = (struct log_layout){.units = NULL};
  if (source_size(source) == 0)
    return problems_add(problems, top, "the log is empty");
  if (source_size(source) > LIMIT_LOG_BYTES)
    return problems_add(problems, top, "the log is over the limit of %llu MB", LIMIT_LOG_BYTES / (1024 * 1024));
  if (!find_end(source, &out->end))
    return source_refuse(problems, source, errno);
  struct scan scan = {.names = names, .adapter = adapter, .problems = problems};
  scan.cells = ARENA_ARRAY(arena, LIMIT_LOG_COLUMNS, struct csv_cell);
  for (size_t size = HEAD_FIRST;; size *= 2) {
    if (!load(arena, source, out->end, size, &scan))
      return source_refuse(problems, source, errno);
    *out = (struct log_layout){.end = out->end};
    bool good = read_text(arena, &scan, out);
    if (!scan.more)
      return good;
  }
}
