/* Delimited and fixed-width text: titles, rows, cells. Reading order: sheet_read, then how a row's cells are found
 * (split_delimited after RFC 4180, split_widths), then add_row, which tells titles from rows. */
#include "base/limits.h"
#include "base/number.h"
#include "text/flat.h"

struct cell {
  size_t from, to;   /* bytes of the file, without blanks and quotes */
  struct slice text; /* decoded */
};

struct sheet {
  struct flat *flat;
  struct slice bytes;
  uint32_t title; /* step; 0 before the first one */
  struct cell *cells;
  size_t count, capacity;
};

static bool add_cell(struct sheet *sheet, size_t from, size_t to)
{
  struct slice text = flat_trim(slice_part(sheet->bytes, from, to));
  from = text.size == 0 ? from : (size_t)(text.at - sheet->bytes.at);
  if (sheet->count == LIMIT_RECORDS)
    return problems_add(sheet->flat->problems, flat_place(sheet->flat, from, from + text.size),
                        "a row holds more than %d cells", LIMIT_RECORDS);
  sheet->cells = arena_grow(sheet->flat->scratch, sheet->cells, sheet->count, &sheet->capacity, sizeof *sheet->cells);
  sheet->cells[sheet->count++] = (struct cell){from, from + text.size, text};
  return true;
}

/* ---- delimited */

static bool is_end(const struct sheet *sheet, size_t at)
{
  return at >= sheet->bytes.size || sheet->bytes.at[at] == '\n' || sheet->bytes.at[at] == '\r';
}

static size_t skip_blanks(const struct sheet *sheet, size_t at)
{
  while (!is_end(sheet, at) && flat_is_blank(sheet->bytes.at[at]) &&
         sheet->bytes.at[at] != sheet->flat->style->delimiter)
    at++;
  return at;
}

static struct slice undouble(struct arena *arena, struct slice text)
{
  char *copy = arena_alloc(arena, text.size);
  size_t size = 0;
  for (size_t i = 0; i < text.size; i++) {
    copy[size++] = text.at[i];
    if (text.at[i] == '"')
      i++;
  }
  return (struct slice){copy, size};
}

/* A cell in quotes: "" stands for one quote, line ends belong to it. Returns the first byte after it and its blanks,
 * SIZE_MAX when refused. */
static size_t add_quoted(struct sheet *sheet, size_t quote)
{
  struct flat *flat = sheet->flat;
  bool doubled = false;
  size_t at = quote + 1;
  for (;;) {
    const char *found = memchr(sheet->bytes.at + at, '"', sheet->bytes.size - at);
    if (found == NULL) {
      problems_add(flat->problems, flat_place(flat, quote, quote + 1), "this quote is never closed");
      return SIZE_MAX;
    }
    at = (size_t)(found - sheet->bytes.at);
    if (at + 1 == sheet->bytes.size || sheet->bytes.at[at + 1] != '"')
      break;
    doubled = true;
    at += 2;
  }
  if (!add_cell(sheet, quote + 1, at))
    return SIZE_MAX;
  struct cell *cell = &sheet->cells[sheet->count - 1];
  if (doubled)
    cell->text = undouble(flat->arena, cell->text);
  size_t next = skip_blanks(sheet, at + 1);
  if (!is_end(sheet, next) && sheet->bytes.at[next] != flat->style->delimiter && flat->style->delimiter != ' ') {
    problems_add(flat->problems, flat_place(flat, next, next + 1),
                 "a delimiter or the end of the line is expected after the closing quote");
    return SIZE_MAX;
  }
  return next;
}

/* Cells between runs of blanks. */
static size_t skip_delimiter(const struct sheet *sheet, size_t at)
{
  bool blank = sheet->flat->style->delimiter == ' ';
  if (!blank)
    return at + 1;
  while (!is_end(sheet, at) && flat_is_blank(sheet->bytes.at[at]))
    at++;
  return at;
}

static bool is_delimiter(const struct sheet *sheet, size_t at)
{
  char delimiter = sheet->flat->style->delimiter, c = sheet->bytes.at[at];
  return c == delimiter || (delimiter == ' ' && flat_is_blank(c));
}

/* Splits the row at `at`; returns its end, SIZE_MAX when refused. */
static size_t split_delimited(struct sheet *sheet, size_t at)
{
  if (sheet->flat->style->delimiter == ' ')
    at = skip_delimiter(sheet, at);
  for (;;) {
    size_t from = skip_blanks(sheet, at);
    if (!is_end(sheet, from) && sheet->bytes.at[from] == '"') {
      at = add_quoted(sheet, from);
      if (at == SIZE_MAX)
        return SIZE_MAX;
    } else {
      while (!is_end(sheet, at) && !is_delimiter(sheet, at))
        at++;
      if (!add_cell(sheet, from < at ? from : at, at))
        return SIZE_MAX;
    }
    if (is_end(sheet, at))
      return at;
    at = skip_delimiter(sheet, at);
  }
}

/* ---- fixed widths, in characters */

static size_t skip_character(struct slice bytes, size_t at)
{
  do {
    at++;
  } while (at < bytes.size && ((unsigned char)bytes.at[at] & 0xC0u) == 0x80u);
  return at;
}

static bool is_letter(char c)
{
  return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (unsigned char)c >= 0x80;
}

/* A line whose words run across a column's edge was not laid out in columns: it is one text. */
static size_t split_widths(struct sheet *sheet, size_t at)
{
  const struct record_style *style = sheet->flat->style;
  struct slice line;
  flat_line(sheet->bytes, at, &line);
  size_t end = at + line.size, from = at;
  bool crossed = false;
  for (size_t i = 0; i < style->width_count && from < end; i++) {
    size_t to = from;
    for (size_t n = 0; n < style->widths[i] && to < end; n++)
      to = skip_character(sheet->bytes, to);
    to = to < end ? to : end;
    if (!add_cell(sheet, from, to))
      return SIZE_MAX;
    crossed = crossed || (to > at && to < end && is_letter(sheet->bytes.at[to - 1]) && is_letter(sheet->bytes.at[to]));
    from = to;
  }
  if (crossed)
    sheet->count = 0;
  if ((crossed || from < end) && !add_cell(sheet, crossed ? at : from, end))
    return SIZE_MAX;
  return end;
}

/* ---- rows */

static bool is_number(struct slice text)
{
  double number = 0;
  return text.size > 0 &&
         (number_read(text, '.', &number) == text.size || number_read(text, ',', &number) == text.size);
}

static struct place cell_place(const struct sheet *sheet, const struct cell *cell)
{
  return flat_place(sheet->flat, cell->from, cell->to);
}

/* A lone number below a heading is no title. */
static bool is_title(const struct sheet *sheet, size_t filled, size_t last)
{
  return filled == 1 && (last == 0 || !is_number(sheet->cells[last].text));
}

static bool add_row(struct sheet *sheet)
{
  size_t filled = 0, last = 0;
  for (size_t i = 0; i < sheet->count; i++) {
    if (sheet->cells[i].text.size > 0) {
      filled++;
      last = i;
    }
  }
  if (filled == 0)
    return true;
  const struct cell *cells = sheet->cells;
  if (is_title(sheet, filled, last)) {
    sheet->title = flat_step(sheet->flat, 0, cells[last].text, cell_place(sheet, &cells[last]));
    return sheet->title != 0;
  }
  uint32_t row = flat_step(sheet->flat, sheet->title, cells[0].text, cell_place(sheet, &cells[0]));
  for (size_t i = 1; i < sheet->count && row != 0; i++) {
    if (cells[i].text.size == 0)
      continue;
    if (!flat_record(sheet->flat, row, flat_number(sheet->flat, i), cells[i].text, cell_place(sheet, &cells[i])))
      return false;
  }
  return row != 0;
}

bool sheet_read(struct flat *flat)
{
  struct sheet sheet = {.flat = flat, .bytes = flat->source->bytes};
  for (size_t at = 0; at < sheet.bytes.size;) {
    struct slice line;
    size_t next = flat_line(sheet.bytes, at, &line);
    if (flat_is_comment(flat, line)) {
      at = next;
      continue;
    }
    sheet.count = 0;
    size_t end = flat->style->delimiter != '\0' ? split_delimited(&sheet, at) : split_widths(&sheet, at);
    if (end == SIZE_MAX || !add_row(&sheet))
      return false;
    at = flat_line(sheet.bytes, end, &line);
  }
  return true;
}
