/* Rows of nothing but plain cells, which nearly all are: column by column. Most cells of a column are decimals with as
 * many digits behind the point as the one before, and csv_decimals takes many of these at once; others it takes as they
 * come, and what is no number of few digits goes one by one. Reading order: log_piece_take_plain, gather, take_column,
 * log_piece_take_cell. */
#include "base/number_short.h"
#include "read/log_decode.h"
#include "read/log_piece_cells.h"
#include "read/log_piece_room.h"

/* Where fewer than FEW_ROWS could be taken together, the next MANY_ROWS are taken one by one. */
enum { FEW_ROWS = 8, MANY_ROWS = 32 };

/* Rows with as many cells each, and all with a CR before their LF or none. */
struct batch {
  struct csv_column_cells cells; /* of the first column */
  bool returns;
};

void log_piece_settle(struct log_piece *piece)
{
  char before = piece->sign;
  piece->sign = piece->state.point.settled ? piece->state.point.sign : '\0';
  for (size_t i = 0; i < piece->plan->column_count; i++) {
    struct log_cells *cells = &piece->cells[i];
    cells->fast = log_decode_is_plain(cells->column, &piece->state);
    if (piece->sign != before || cells->shape.fraction == 0)
      cells->shape = csv_shape_new(0, piece->sign);
  }
}

/* What a run of rows holds so far: numbers of one scale, between two ends, or not. */
static inline void note(struct log_cells *cells, size_t row, uint8_t decimals, int64_t least, int64_t most)
{
  if (row == 0) {
    cells->decimals_of_all = decimals;
    cells->extent = (struct csv_extent){least, most};
    cells->mixed = false;
    return;
  }
  cells->mixed = cells->mixed || decimals != cells->decimals_of_all;
  cells->extent.least = least < cells->extent.least ? least : cells->extent.least;
  cells->extent.most = most > cells->extent.most ? most : cells->extent.most;
}

static void take_cell_slowly(struct log_piece *piece, struct log_cells *cells, size_t row, struct slice text)
{
  double value = 0;
  bool was_settled = piece->state.point.settled;
  enum log_time_form form = piece->state.clock.form;
  enum log_cell cell = log_decode(cells->column, &piece->state, text, &value);
  cells->decimals[row] = cell == LOG_CELL_GOOD ? COLUMN_DOUBLE : COLUMN_MISSING;
  cells->mixed = true;
  memcpy(&cells->number[row], &value, sizeof value);
  if (cell == LOG_CELL_BAD && cells->bad.count++ == 0) {
    cells->bad.first = log_place(&piece->text, text.at, text.at + text.size);
    log_show(cells->bad.shown, text);
  }
  if (cell == LOG_CELL_GOOD && cells->column->kind == LOG_COLUMN_TIME && !piece->has_tod &&
      piece->state.clock.form == LOG_TIME_OF_DAY) {
    piece->has_tod = true;
    piece->first_tod = piece->state.clock.last;
  }
  if (was_settled != piece->state.point.settled || form != piece->state.clock.form)
    log_piece_settle(piece);
}

static inline bool is_blank(char c)
{
  return c == ' ' || c == '\t';
}

void log_piece_take_cell(struct log_piece *piece, struct log_cells *cells, size_t row, const char *from, const char *to)
{
  if (from < to && (*from <= ' ' || to[-1] <= ' ')) {
    to -= to[-1] == '\r';
    while (from < to && is_blank(*from))
      from++;
    while (from < to && is_blank(to[-1]))
      to--;
  }
  if (cells->fast) {
    int64_t *number = &cells->number[row];
    if (from == to) {
      log_piece_miss(cells, row);
      return;
    }
    if (number_short(from, to, piece->sign, number, &cells->decimals[row]) &&
        (!cells->is_switch || log_decode_is_switch(*number, cells->decimals[row]))) {
      note(cells, row, cells->decimals[row], *number, *number);
      return;
    }
  }
  take_cell_slowly(piece, cells, row, (struct slice){from, (size_t)(to - from)});
}

/* Cells from row `from` of the batch on that are like the last one of the column; returns how many. */
static size_t take_alike(struct log_piece *piece, struct log_cells *cells, const struct csv_column_cells *batch,
                         size_t from)
{
  size_t row = piece->run_rows + from;
  struct csv_extent extent = {INT64_MAX, INT64_MIN};
  if (!cells->fast || cells->shape.decimals > CSV_DECIMALS_MOST || (cells->shape.decimals > 0 && piece->sign == '\0'))
    return 0;
  size_t taken = piece->plan->taker->alike(&cells->shape, batch, from, cells->number + row, &extent);
  if (taken == 0 || (cells->is_switch && (cells->shape.decimals > 0 || extent.least < 0 || extent.most > 1)))
    return 0;
  memset(cells->decimals + row, cells->shape.decimals, taken);
  note(cells, row, cells->shape.decimals, extent.least, extent.most);
  return taken;
}

/* The same of cells that are not alike. */
static size_t take_mixed(struct log_piece *piece, struct log_cells *cells, const struct csv_column_cells *batch,
                         size_t from)
{
  size_t row = piece->run_rows + from;
  if (!cells->fast || cells->is_switch)
    return 0;
  size_t taken = piece->plan->taker->mixed(piece->sign, batch, from, cells->number + row, cells->decimals + row);
  cells->mixed = cells->mixed || taken > 0;
  return taken;
}

static void take_column(struct log_piece *piece, struct log_cells *cells, const struct csv_column_cells *batch)
{
  for (size_t i = 0; i < batch->rows;) {
    size_t taken = take_alike(piece, cells, batch, i);
    i += taken;
    if (taken < FEW_ROWS && i < batch->rows) {
      taken = take_mixed(piece, cells, batch, i);
      i += taken;
    }
    for (size_t stop = i + (taken < FEW_ROWS ? MANY_ROWS : 1); i < batch->rows && i < stop; i++) {
      const uint32_t *end = batch->ends + i * batch->stride;
      log_piece_take_cell(piece, cells, piece->run_rows + i, batch->text + (uint32_t)(end[-1] + 1), batch->text + *end);
    }
    uint8_t decimals = cells->decimals[piece->run_rows + i - 1];
    if (decimals <= CSV_DECIMALS_MOST && decimals != cells->shape.decimals)
      cells->shape = csv_shape_new(decimals, piece->sign);
  }
}

static bool is_blank_run(const char *from, const char *to)
{
  while (from < to && is_blank(*from))
    from++;
  return from == to;
}

/* What a line of nothing but plain cells must not be: a comment, a heading that is repeated, blank. `ends` are from
 * `base`. */
static bool is_row(const struct log_piece *piece, const char *base, const char *row, const uint32_t *ends, size_t count,
                   const char *line_end)
{
  const struct log_layout *layout = piece->plan->layout;
  size_t columns = layout->column_count, filled = 0;
  const char *from = row;
  while (from < line_end && is_blank(*from) && *from != piece->csv.separator)
    from++;
  if (*from != piece->csv.separator && (*from == '#' || *from == ';' || *from == '/'))
    return false;
  if (*row == *layout->heading.at || count < columns || (layout->units != NULL && *row == *layout->unit_row.at))
    return false;
  from = row;
  for (size_t i = 0; i < columns && filled < 2; i++) {
    const char *to = i + 1 == count ? line_end : base + ends[i];
    filled += !is_blank_run(from, to);
    from = to + 1;
  }
  if (filled < (columns > 1 ? 2 : 1))
    return false;
  for (size_t i = columns; i < count; i++) {
    if (!is_blank_run(base + ends[i - 1] + 1, i + 1 == count ? line_end : base + ends[i]))
      return false;
  }
  return true;
}

/* The same of nearly every row, at a glance. */
static inline bool is_plainly_row(const struct log_piece *piece, const char *base, const char *row,
                                  const uint32_t *ends, size_t count)
{
  const struct log_layout *layout = piece->plan->layout;
  const char *second = base + ends[0] + 1;
  return count == layout->column_count && count > 1 && *row >= '0' && *row <= '9' && *second > ' ' &&
         *second != piece->csv.separator && *row != *layout->heading.at &&
         (layout->units == NULL || *row != *layout->unit_row.at);
}

/* Whether the sign of decimals, which is not known yet, may show here. */
static bool may_settle(const struct log_piece *piece, const char *from, const char *to)
{
  size_t size = (size_t)(to - from);
  return memchr(from, '.', size) != NULL || (piece->csv.separator != ',' && memchr(from, ',', size) != NULL);
}

/* Rows from `line` on, until one is unlike the first. While the sign of decimals is not settled, cells must be looked
 * at in their order: then a row that may settle it stands alone. */
static struct batch gather(struct log_piece *piece, const char *base, size_t line)
{
  const struct csv_marks *marks = &piece->marks;
  size_t first = line > 0 ? marks->lines[line - 1] : 0, count = marks->lines[line] - first, rows = 0;
  size_t room = piece->run_room - piece->run_rows, left = piece->rows_most - piece->rows;
  struct batch batch = {.cells = {.text = base, .ends = marks->ends + first, .stride = count}};
  room = room < left ? room : left;
  room = room < marks->line_count - line ? room : marks->line_count - line;
  for (; rows < room && !marks->odd[line + rows]; rows++) {
    const uint32_t *ends = marks->ends + first + rows * count;
    const char *row = base + (uint32_t)(ends[-1] + 1), *end = base + ends[count - 1];
    uint64_t at = log_piece_offset(piece, row);
    bool returns = end > row && end[-1] == '\r';
    if (marks->lines[line + rows] != first + (rows + 1) * count || at >= piece->limit ||
        (rows > 0 && returns != batch.returns))
      break;
    if (!is_plainly_row(piece, base, row, ends, count) && !is_row(piece, base, row, ends, count, end - returns))
      break;
    bool alone = !piece->state.point.settled && may_settle(piece, row, end);
    if (alone && rows > 0)
      break;
    batch.returns = returns;
    piece->row_at[piece->run_rows + rows] = (int64_t)at;
    room = alone ? 1 : room;
  }
  batch.cells.rows = rows;
  return batch;
}

size_t log_piece_take_plain(struct log_piece *piece, const char *base, size_t line)
{
  if (piece->run_rows == piece->run_room)
    log_piece_pack(piece);
  struct batch batch = gather(piece, base, line);
  size_t rows = batch.cells.rows, count = batch.cells.stride;
  if (rows == 0)
    return 0;
  for (size_t i = 0; i < piece->plan->column_count; i++) {
    struct csv_column_cells cells = batch.cells;
    cells.ends += piece->cells[i].index;
    cells.trim = batch.returns && piece->cells[i].index + 1 == count;
    take_column(piece, &piece->cells[i], &cells);
  }
  log_piece_end_rows(piece, rows, count, base + batch.cells.ends[rows * count - 1] + 1);
  return rows;
}
