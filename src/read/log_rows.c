/* The rows of a log. Reading order: log_rows_read walks the lines and tells rows from what only stands between them;
 * take_row decodes one. */
#include "read/log_rows.h"

#include "base/limits.h"

#include <math.h>
#include <stdint.h>

#define SAMPLE_BYTES (64u * 1024)
#define TIME_MOST 1e19 /* nanoseconds since 1970 are under 1e19 until the year 2286 */
#define FIRST_ROWS_MOST ((size_t)1 << 20)

/* Room for about all rows at once: fresh memory costs nothing until it is written, copying does. */
static size_t guess_rows(const struct log_layout *layout)
{
  size_t rest = (size_t)(layout->csv.end - layout->data), lines = 0;
  size_t sample = rest < SAMPLE_BYTES ? rest : SAMPLE_BYTES;
  for (size_t i = 0; i < sample; i++)
    lines += layout->data[i] == '\n';
  size_t guess = sample == 0 ? 0 : (size_t)((double)lines / (double)sample * (double)rest * 1.05);
  return (guess < FIRST_ROWS_MOST ? guess : FIRST_ROWS_MOST) + 16;
}

static void *move(struct arena *arena, const void *from, size_t count, size_t capacity, size_t size)
{
  void *to = arena_array(arena, capacity, size);
  if (count > 0)
    memcpy(to, from, count * size);
  return to;
}

static void make_room(struct log_rows *rows)
{
  if (rows->count < rows->capacity)
    return;
  size_t capacity = rows->capacity == 0 ? guess_rows(rows->layout) : rows->capacity * 2;
  rows->at = move(rows->arena, rows->at, rows->count, capacity + 1, sizeof *rows->at);
  for (size_t i = 0; i < rows->column_count; i++) {
    struct log_column *column = &rows->columns[i];
    column->at = move(rows->arena, column->at, rows->count, capacity, sizeof *column->at);
    if (column->known != NULL)
      column->known = move(rows->arena, column->known, rows->count, capacity, sizeof *column->known);
  }
  rows->capacity = capacity;
}

static void mark_missing(struct log_rows *rows, struct log_column *column)
{
  if (column->known == NULL) {
    column->known = arena_array(rows->arena, rows->capacity, 1);
    memset(column->known, 1, rows->count);
  }
  column->known[rows->count] = 0;
}

/* As the adapter says: words first, then the number. A switch takes the usual words too. */
static enum log_cell decode_channel(struct log_rows *rows, const struct log_column *column, struct slice text,
                                    double *out)
{
  const struct adapter_channel *channel = column->channel;
  enum log_cell cell;
  double number = 0;
  if (adapter_word(channel, text, out)) {
    *out = channel->inverted ? 1 - *out : *out;
    return LOG_CELL_GOOD;
  }
  if (column->kind == LOG_COLUMN_SWITCH && channel->bit < 0)
    cell = log_cell_switch(&rows->point, text, &number);
  else
    cell = log_cell_number(&rows->point, text, &number);
  if (cell == LOG_CELL_GOOD)
    *out = adapter_number(channel, column->unit, number);
  return cell == LOG_CELL_GOOD && !isfinite(*out) ? LOG_CELL_BAD : cell;
}

static enum log_cell decode(struct log_rows *rows, const struct log_column *column, struct slice text, double *out)
{
  double number = 0;
  enum log_cell cell;
  if (column->kind == LOG_COLUMN_TIME) {
    cell = log_cell_time(&rows->clock, &rows->point, text, out);
    return cell == LOG_CELL_GOOD && fabs(*out) > TIME_MOST ? LOG_CELL_BAD : cell;
  }
  if (column->channel != NULL)
    return decode_channel(rows, column, text, out);
  if (column->kind == LOG_COLUMN_SWITCH)
    return log_cell_switch(&rows->point, text, out);
  cell = log_cell_number(&rows->point, text, &number);
  *out = unit_to_base(column->unit, number);
  return cell == LOG_CELL_GOOD && !isfinite(*out) ? LOG_CELL_BAD : cell;
}

static void take_cell(struct log_rows *rows, struct log_column *column, const struct csv_cell *at)
{
  double value = 0;
  struct slice text = csv_text(at);
  enum log_cell cell = decode(rows, column, text, &value);
  column->at[rows->count] = value;
  if (cell == LOG_CELL_GOOD) {
    column->good++;
    if (column->known != NULL)
      column->known[rows->count] = 1;
    return;
  }
  mark_missing(rows, column);
  if (cell == LOG_CELL_BAD && column->bad++ == 0)
    column->first_bad = log_place(rows->source, text.at, text.at + text.size);
}

static void take_row(struct log_rows *rows, const struct csv_cell *cells, const struct csv_row *row)
{
  make_room(rows);
  rows->at[rows->count] = log_place(rows->source, row->at, row->at).start;
  for (size_t i = 0; i < rows->column_count; i++) {
    struct log_column *column = &rows->columns[i];
    if (column->index < row->count)
      take_cell(rows, column, &cells[column->index]);
    else
      mark_missing(rows, column);
  }
  if (row->extra != NULL && rows->long_count++ == 0)
    rows->first_long = log_place(rows->source, row->extra, row->end);
  if (row->count < rows->layout->column_count && rows->short_count++ == 0)
    rows->first_short = log_place(rows->source, row->at, row->end);
  if (row->count > rows->widest)
    rows->widest = row->count;
  rows->count++;
  rows->at[rows->count] = log_place(rows->source, row->next, row->next).start;
}

/* A restarted logger writes its heading again. */
static bool is_repeat(const struct csv_row *row, const struct csv_row *of)
{
  size_t size = (size_t)(row->end - row->at);
  return of->at != NULL && *row->at == *of->at && size == (size_t)(of->end - of->at) &&
         memcmp(row->at, of->at, size) == 0;
}

/* Something that is neither number nor time nor a word for nothing. */
static bool is_remark(const struct log_rows *rows, const struct csv_cell *cell)
{
  struct log_point point = rows->point;
  struct log_clock clock = {.form = LOG_TIME_UNSEEN};
  double ignored = 0;
  return log_cell_time(&clock, &point, csv_text(cell), &ignored) == LOG_CELL_BAD;
}

enum line { LINE_ROW, LINE_BLANK, LINE_REMARK, LINE_TRUNCATED };

static enum line judge(const struct log_rows *rows, const struct csv_cell *cells, const struct csv_row *row)
{
  size_t columns = rows->layout->column_count, filled = 0, only = 0;
  size_t count = row->count < columns ? row->count : columns;
  if (is_repeat(row, &rows->layout->heading))
    return LINE_REMARK;
  if (rows->layout->units != NULL && is_repeat(row, &rows->layout->unit_row))
    return LINE_BLANK;
  for (size_t i = 0; i < count && filled < 2; i++) {
    if (!csv_is_blank(&cells[i])) {
      filled++;
      only = i;
    }
  }
  /* Without a time column a row of blanks still takes its time. */
  if (filled == 0 && row->extra == NULL && (rows->has_time || row->count == 1))
    return LINE_BLANK;
  if (filled == 1 && columns > 1 && row->extra == NULL && is_remark(rows, &cells[only]))
    return LINE_REMARK;
  size_t usual = rows->count == 0 || rows->widest > columns ? columns : rows->widest;
  return !row->closed && row->count < usual ? LINE_TRUNCATED : LINE_ROW;
}

/* The file ends within a quoted cell: cut off, unless the quote has swallowed lines. */
static bool is_cut_in_quote(const struct csv *csv, const struct csv_row *row)
{
  return row->fault == CSV_UNCLOSED && csv_skip_line(csv, row->fault_at) == csv->end && csv->end[-1] != '\n' &&
         csv->end[-1] != '\r';
}

static void note_line(struct log_rows *rows, enum log_note_kind kind, const char *from, const char *to)
{
  struct place place = log_place(rows->source, from, to);
  struct slice text = {from, (size_t)(to - from)};
  if (kind == LOG_NOTE_MARKER)
    log_notes_add_marker(rows->notes, place, text);
  else
    log_notes_add(rows->notes, kind, place, "the last row is cut off and was left out");
}

bool log_rows_read(struct log_rows *rows)
{
  const struct csv *csv = &rows->layout->csv;
  size_t room = rows->layout->column_count;
  struct csv_cell *cells = ARENA_ARRAY(rows->arena, room, struct csv_cell);
  const char *at = rows->layout->data;
  make_room(rows);
  while (at < csv->end) {
    struct csv_row row;
    if ((*at < '-' || *at == '/' || *at == ';') && log_layout_is_comment(csv, at)) {
      const char *next = csv_skip_line(csv, at), *end = next;
      while (end > at && (end[-1] == '\n' || end[-1] == '\r'))
        end--;
      note_line(rows, LOG_NOTE_MARKER, at, end);
      at = next;
      continue;
    }
    csv_read(csv, at, cells, room, &row);
    if (row.fault != CSV_SOUND) {
      if (!is_cut_in_quote(csv, &row))
        return log_layout_refuse(rows->source, &row, rows->problems);
      note_line(rows, LOG_NOTE_TRUNCATED, at, csv->end);
      return true;
    }
    enum line line = judge(rows, cells, &row);
    if (line == LINE_ROW && rows->count == LIMIT_LOG_ROWS)
      return problems_add(rows->problems, log_place(rows->source, row.at, row.end), "more than %d rows",
                          LIMIT_LOG_ROWS);
    if (line == LINE_ROW)
      take_row(rows, cells, &row);
    else if (line != LINE_BLANK)
      note_line(rows, line == LINE_REMARK ? LOG_NOTE_MARKER : LOG_NOTE_TRUNCATED, row.at, row.end);
    at = row.next;
  }
  return true;
}
