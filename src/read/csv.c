/* Splits rows into cells. Almost every byte of a log is plain: a table tells the few others, so that one look a byte
 * finds separators, line ends, quotes and control characters together. Reading order: csv_read, read_cell,
 * read_quoted. */
#include "read/csv.h"

#include "base/limits.h"

enum kind { KIND_PLAIN, KIND_SEPARATOR, KIND_LINE, KIND_QUOTE, KIND_CONTROL };

struct csv csv_new(char separator, const char *end)
{
  struct csv csv = {.end = end, .separator = separator};
  for (int c = 0; c < 0x20; c++)
    csv.kind[c] = KIND_CONTROL;
  csv.kind['\t'] = KIND_PLAIN;
  csv.kind['\n'] = KIND_LINE;
  csv.kind['\r'] = KIND_LINE;
  csv.kind['"'] = KIND_QUOTE;
  csv.kind[(unsigned char)separator] = KIND_SEPARATOR;
  return csv;
}

static enum kind kind_at(const struct csv *csv, const char *at)
{
  return (enum kind)csv->kind[(unsigned char)*at];
}

static const char *skip_plain(const struct csv *csv, const char *at)
{
  while (at < csv->end && kind_at(csv, at) == KIND_PLAIN)
    at++;
  return at;
}

static bool is_blank(char c)
{
  return c == ' ' || c == '\t';
}

static bool is_blank_run(const char *from, const char *to)
{
  while (from < to && is_blank(*from))
    from++;
  return from == to;
}

static const char *fail(struct csv_row *row, enum csv_fault fault, const char *at)
{
  row->fault = fault;
  row->fault_at = at;
  return at;
}

static const char *read_quoted(const struct csv *csv, const char *quote, struct csv_cell *cell, struct csv_row *row)
{
  const char *at = quote + 1;
  const char *last = (size_t)(csv->end - at) > LIMIT_LOG_LINE ? at + LIMIT_LOG_LINE : csv->end;
  *cell = (struct csv_cell){.at = at, .quoted = true};
  for (;; at++) {
    if (at == last)
      return fail(row, CSV_UNCLOSED, quote);
    enum kind kind = kind_at(csv, at);
    if (kind == KIND_CONTROL)
      return fail(row, CSV_CONTROL, at);
    if (kind != KIND_QUOTE)
      continue;
    if (at + 1 == csv->end || at[1] != '"')
      break;
    cell->doubled = true;
    at++;
    if (at == last)
      return fail(row, CSV_UNCLOSED, quote);
  }
  cell->size = (size_t)(at - cell->at);
  at++;
  while (at < csv->end && is_blank(*at) && *at != csv->separator)
    at++;
  if (at < csv->end && (kind_at(csv, at) == KIND_PLAIN || kind_at(csv, at) == KIND_QUOTE))
    return fail(row, CSV_AFTER_QUOTE, at);
  return at;
}

/* Returns the separator or line end behind the cell. A quote within an unquoted cell is only a character: 5" pipe. */
static inline const char *read_cell(const struct csv *csv, const char *from, struct csv_cell *cell, struct csv_row *row)
{
  const char *at = skip_plain(csv, from);
  while (at < csv->end && kind_at(csv, at) == KIND_QUOTE) {
    if (is_blank_run(from, at))
      return read_quoted(csv, at, cell, row);
    at = skip_plain(csv, at + 1);
  }
  *cell = (struct csv_cell){.at = from, .size = (size_t)(at - from)};
  if (at < csv->end && kind_at(csv, at) == KIND_CONTROL)
    fail(row, CSV_CONTROL, at);
  return at;
}

static const char *skip_line_end(const struct csv *csv, const char *at)
{
  bool is_cr = *at++ == '\r';
  return is_cr && at < csv->end && *at == '\n' ? at + 1 : at;
}

void csv_read(const struct csv *csv, const char *at, struct csv_cell *cells, size_t room, struct csv_row *row)
{
  struct csv_cell spare = {.at = at};
  *row = (struct csv_row){.at = at};
  for (;;) {
    struct csv_cell *cell = row->count < room ? &cells[row->count] : &spare;
    at = read_cell(csv, at, cell, row);
    if (row->fault != CSV_SOUND)
      break;
    if (cell == &spare && row->extra == NULL && !csv_is_blank(cell))
      row->extra = cell->at;
    row->count++;
    if ((size_t)(at - row->at) > LIMIT_LOG_LINE) {
      fail(row, CSV_LONG, row->at);
      break;
    }
    if (at == csv->end || *at != csv->separator)
      break;
    at++;
  }
  row->end = at;
  row->closed = row->fault == CSV_SOUND && at < csv->end;
  row->next = row->closed ? skip_line_end(csv, at) : at;
}

const char *csv_skip_line(const struct csv *csv, const char *at)
{
  while (at < csv->end && *at != '\n' && *at != '\r')
    at++;
  return at < csv->end ? skip_line_end(csv, at) : at;
}

bool csv_is_blank(const struct csv_cell *cell)
{
  return is_blank_run(cell->at, cell->at + cell->size);
}

struct slice csv_text(const struct csv_cell *cell)
{
  return slice_trim((struct slice){cell->at, cell->size});
}

struct slice csv_decode(struct arena *arena, const struct csv_cell *cell)
{
  struct slice text = csv_text(cell);
  if (!cell->doubled)
    return text;
  char *copy = arena_alloc(arena, text.size);
  size_t size = 0;
  for (size_t i = 0; i < text.size; i++) {
    copy[size++] = text.at[i];
    if (text.at[i] == '"' && i + 1 < text.size && text.at[i + 1] == '"')
      i++;
  }
  return (struct slice){copy, size};
}
