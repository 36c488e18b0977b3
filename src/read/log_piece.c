/* Reads one piece of a log. Nearly all rows hold plain numbers between separators: their cells are found by csv_marks
 * and taken column by column (log_piece_plain.c); any other goes the long way through csv_read and log_decode_line
 * (read_row). Reading order: log_piece_read, read_lines, read_row. */
#include "read/log_piece.h"

#include "base/limits.h"
#include "read/log_decode.h"
#include "read/log_piece_cells.h"
#include "read/log_piece_room.h"

/* No row that can be read goes on for longer: its last cell may start within the limit and be quoted. */
#define ROW_BYTES_MOST (2 * (size_t)LIMIT_LOG_LINE + 16)

/* Room for one more row; false: it is one too many. */
static bool start_row(struct log_piece *piece, const char *from, const char *to)
{
  if (piece->rows == piece->rows_most) {
    piece->over = true;
    piece->over_at = log_place(&piece->text, from, to);
    return false;
  }
  if (piece->run_rows == piece->run_room)
    log_piece_pack(piece);
  piece->row_at[piece->run_rows] = (int64_t)log_piece_offset(piece, from);
  return true;
}

static bool take_row(struct log_piece *piece, const struct csv_row *row)
{
  if (!start_row(piece, row->at, row->end))
    return false;
  for (size_t i = 0; i < piece->plan->column_count; i++) {
    struct log_cells *cells = &piece->cells[i];
    const struct csv_cell *cell = &piece->row_cells[cells->index];
    if (cells->index < row->count)
      log_piece_take_cell(piece, cells, piece->run_rows, cell->at, cell->at + cell->size);
    else
      log_piece_miss(cells, piece->run_rows);
  }
  if (row->extra != NULL && piece->long_count++ == 0)
    piece->first_long = log_place(&piece->text, row->extra, row->end);
  if (row->count < piece->plan->layout->column_count && piece->short_count++ == 0)
    piece->first_short = log_place(&piece->text, row->at, row->end);
  log_piece_end_rows(piece, 1, row->count, row->next);
  return true;
}

static void note_marker(struct log_piece *piece, const char *from, const char *to)
{
  if (piece->marker_count < LOG_MARKERS_KEPT) {
    struct log_marker *marker = &piece->markers[piece->marker_count];
    marker->place = log_place(&piece->text, from, to);
    log_show(marker->shown, (struct slice){from, (size_t)(to - from)});
  }
  piece->marker_count++;
}

/* The log ends within a quoted cell: cut off, unless the quote has swallowed lines. */
static bool is_cut_in_quote(const struct log_piece *piece, const struct csv_row *row)
{
  const struct csv *csv = &piece->csv;
  return piece->at_end && row->fault == CSV_UNCLOSED && csv_skip_line(csv, row->fault_at) == csv->end &&
         csv->end[-1] != '\n' && csv->end[-1] != '\r';
}

/* Whether the row could read otherwise if the text went on. */
static bool is_open(const struct log_piece *piece, const struct csv_row *row)
{
  const struct csv *csv = &piece->csv;
  return !piece->at_end && (size_t)(csv->end - row->at) <= ROW_BYTES_MOST &&
         (row->next == csv->end || row->end == csv->end || row->fault == CSV_UNCLOSED);
}

/* The comment at *at; true: it was one. */
static bool pass_comment(struct log_piece *piece, const char **at)
{
  uint64_t offset = log_piece_offset(piece, *at);
  if (!(**at < '-' || **at == '/' || **at == ';'))
    return false;
  for (;;) {
    const char *from = log_piece_byte(piece, offset), *next = from;
    bool comment = log_layout_is_comment(&piece->csv, from);
    if (comment)
      next = csv_skip_line(&piece->csv, from);
    /* One that a blank or a slash starts shows only behind it. */
    if ((comment ? next == piece->csv.end : piece->csv.end - from < 64) && log_piece_load_more(piece))
      continue;
    *at = from;
    if (!comment)
      return false;
    const char *end = next;
    while (end > from && (end[-1] == '\n' || end[-1] == '\r'))
      end--;
    note_marker(piece, from, end);
    *at = next;
    return true;
  }
}

/* The line at *at, the long way, and on to the next; false: the piece ends with it. */
static bool read_row(struct log_piece *piece, const char **at)
{
  struct csv_row row;
  if (pass_comment(piece, at))
    return true;
  uint64_t offset = log_piece_offset(piece, *at);
  do {
    csv_read(&piece->csv, log_piece_byte(piece, offset), piece->row_cells, piece->plan->layout->column_count, &row);
  } while (is_open(piece, &row) && log_piece_load_more(piece));
  *at = row.at;
  if (row.fault == CSV_SOUND && !row.closed && !piece->at_end) {
    row.fault = CSV_LONG;
    row.fault_at = row.at;
  }
  if (row.fault != CSV_SOUND) {
    piece->cut_in_quote = is_cut_in_quote(piece, &row);
    piece->open_at = offset;
    if (!piece->cut_in_quote)
      piece->fault = log_layout_fault(&piece->text, &row);
    return false;
  }
  switch (log_decode_line(piece->plan, &piece->state, piece->row_cells, &row)) {
  case LOG_LINE_BLANK:
    break;
  case LOG_LINE_REMARK:
    note_marker(piece, row.at, row.end);
    break;
  case LOG_LINE_ROW:
    if (!row.closed) {
      piece->has_open = true;
      piece->open_at = offset;
      piece->open_count = row.count;
      return false;
    }
    if (!take_row(piece, &row))
      return false;
  }
  *at = row.next;
  return true;
}

/* Rows from *at the long way, until one starts where a line of `marks` does, or behind all of them. *line is that line.
 * false: the piece ends. */
static bool read_odd_rows(struct log_piece *piece, const char **at, uint64_t base, size_t size, size_t *line)
{
  const struct csv_marks *marks = &piece->marks;
  do {
    if (log_piece_offset(piece, *at) >= piece->limit)
      return true;
    if (!read_row(piece, at))
      return false;
    uint64_t row = log_piece_offset(piece, *at);
    while (*line < marks->line_count && base + marks->ends[marks->lines[*line] - 1] + 1 < row)
      ++*line;
    if (*line < marks->line_count && base + marks->ends[marks->lines[*line] - 1] + 1 == row) {
      ++*line;
      return true;
    }
  } while (log_piece_offset(piece, *at) < base + size);
  *line = marks->line_count;
  return true;
}

/* Rows from *at to the last line end of the next bytes; false: the piece ends. */
static bool read_lines(struct log_piece *piece, const char **at)
{
  struct csv_marks *marks = &piece->marks;
  const char *base = *at;
  uint64_t base_offset = log_piece_offset(piece, base), wanted = piece->limit - base_offset + LOG_PIECE_MARGIN;
  size_t size = (size_t)(piece->csv.end - base), line = 0;
  size = size < CSV_MARKS_MOST ? size : CSV_MARKS_MOST;
  size = size < wanted ? size : (size_t)wanted;
  csv_marks_find(piece->plan->marker, base, size, piece->csv.separator, marks);
  if (marks->line_count == 0)
    return read_odd_rows(piece, at, base_offset, size, &line);
  while (line < marks->line_count && log_piece_offset(piece, *at) < piece->limit) {
    base = log_piece_byte(piece, base_offset);
    size_t taken = log_piece_take_plain(piece, base, line);
    line += taken;
    if (taken > 0)
      *at = base + marks->ends[marks->lines[line - 1] - 1] + 1;
    else if (!read_odd_rows(piece, at, base_offset, size, &line))
      return false;
  }
  return true;
}

static void reset(struct log_piece *piece, const struct log_state *state)
{
  piece->before = *state;
  piece->state = *state;
  piece->text_size = 0;
  piece->end = piece->plan->layout->end;
  piece->error = 0;
  piece->rows = piece->run_rows = piece->run_count = piece->packed_size = 0;
  piece->has_tod = piece->has_first = false;
  piece->widest = piece->long_count = piece->short_count = piece->marker_count = 0;
  piece->fault = (struct log_fault){.fault = CSV_SOUND};
  piece->over = piece->cut_in_quote = piece->has_open = false;
  for (size_t i = 0; i < piece->plan->column_count; i++)
    piece->cells[i].bad.count = 0;
  log_piece_settle(piece);
}

/* The first line that starts at `from` or later. */
static void find_start(struct log_piece *piece, uint64_t from)
{
  const char *at;
  do {
    at = piece->text_size > 0 ? csv_skip_line(&piece->csv, piece->text.at) : piece->text.at;
  } while (at == piece->csv.end && piece->text_size <= ROW_BYTES_MOST && log_piece_load_more(piece));
  piece->start = piece->text_size > 0 ? log_piece_offset(piece, at) : from;
}

void log_piece_read(struct log_piece *piece, uint64_t from, uint64_t limit, bool exact, const struct log_state *state,
                    size_t rows_most)
{
  reset(piece, state);
  piece->rows_most = rows_most;
  piece->limit = limit;
  piece->text.source = piece->plan->source;
  piece->text.from = exact ? from : from - 1;
  log_piece_load(piece, (size_t)(limit > piece->text.from ? limit - piece->text.from : 0) + LOG_PIECE_MARGIN);
  piece->start = from;
  if (!exact)
    find_start(piece, from);
  const char *at = log_piece_byte(piece, piece->start);
  while (at < piece->csv.end && log_piece_offset(piece, at) < limit) {
    if (!read_lines(piece, &at))
      break;
  }
  log_piece_pack(piece);
  piece->next = log_piece_offset(piece, at);
}

void log_piece_read_open(struct log_piece *piece)
{
  struct csv_row row;
  struct log_state state = piece->state;
  uint64_t from = piece->open_at;
  reset(piece, &state);
  piece->rows_most = 1;
  piece->limit = piece->end;
  piece->text.from = from;
  log_piece_load(piece, (size_t)(piece->end - from));
  csv_read(&piece->csv, piece->text.at, piece->row_cells, piece->plan->layout->column_count, &row);
  take_row(piece, &row);
  log_piece_pack(piece);
  piece->start = from;
  piece->next = log_piece_offset(piece, row.next);
}
