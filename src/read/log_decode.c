/* Cells and lines as they are read one by one. Reading order: log_decode, log_decode_line. */
#include "read/log_decode.h"

#include <math.h>

#define TIME_MOST 1e19 /* nanoseconds since 1970 are under 1e19 until the year 2286 */
/* Short decimals are under 1e16: in a unit of such a size they stay finite. */
#define SCALE_MOST 1e200

/* As the adapter says: words first, then the number. A switch takes the usual words too. */
static enum log_cell decode_channel(const struct log_column *column, struct log_state *state, struct slice text,
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
    cell = log_cell_switch(&state->point, text, &number);
  else
    cell = log_cell_number(&state->point, text, &number);
  if (cell == LOG_CELL_GOOD)
    *out = adapter_number(channel, column->unit, number);
  return cell == LOG_CELL_GOOD && !isfinite(*out) ? LOG_CELL_BAD : cell;
}

enum log_cell log_decode(const struct log_column *column, struct log_state *state, struct slice text, double *out)
{
  double number = 0;
  enum log_cell cell;
  if (column->kind == LOG_COLUMN_TIME) {
    cell = log_cell_time(&state->clock, &state->point, text, out);
    return cell == LOG_CELL_GOOD && fabs(*out) > TIME_MOST ? LOG_CELL_BAD : cell;
  }
  if (column->channel != NULL)
    return decode_channel(column, state, text, out);
  if (column->kind == LOG_COLUMN_SWITCH)
    return log_cell_switch(&state->point, text, out);
  cell = log_cell_number(&state->point, text, &number);
  *out = number;
  return cell == LOG_CELL_GOOD && !isfinite(unit_to_base(column->unit, number)) ? LOG_CELL_BAD : cell;
}

bool log_decode_is_plain(const struct log_column *column, const struct log_state *state)
{
  if (column->channel != NULL || (column->kind == LOG_COLUMN_TIME && state->clock.form != LOG_TIME_NUMBER))
    return false;
  return fabs(column->unit->factor) < SCALE_MOST && fabs(column->unit->offset) < SCALE_MOST;
}

bool log_decode_is_switch(int64_t number, uint8_t decimals)
{
  if (number == 0)
    return true;
  for (; decimals > 0 && number % 10 == 0; decimals--)
    number /= 10;
  return number == 1 && decimals == 0;
}

/* A restarted logger writes its heading again. */
static bool is_repeat(const struct csv_row *row, const struct csv_row *of)
{
  size_t size = (size_t)(row->end - row->at);
  return of->at != NULL && *row->at == *of->at && size == (size_t)(of->end - of->at) &&
         memcmp(row->at, of->at, size) == 0;
}

/* Something that is neither number nor time nor a word for nothing. */
static bool is_remark(const struct log_state *state, const struct csv_cell *cell)
{
  struct log_point point = state->point;
  struct log_clock clock = {.form = LOG_TIME_UNSEEN};
  double ignored = 0;
  return log_cell_time(&clock, &point, csv_text(cell), &ignored) == LOG_CELL_BAD;
}

enum log_line log_decode_line(const struct log_plan *plan, const struct log_state *state, const struct csv_cell *cells,
                              const struct csv_row *row)
{
  const struct log_layout *layout = plan->layout;
  size_t columns = layout->column_count, filled = 0, only = 0;
  size_t count = row->count < columns ? row->count : columns;
  if (is_repeat(row, &layout->heading))
    return LOG_LINE_REMARK;
  if (layout->units != NULL && is_repeat(row, &layout->unit_row))
    return LOG_LINE_BLANK;
  for (size_t i = 0; i < count && filled < 2; i++) {
    if (!csv_is_blank(&cells[i])) {
      filled++;
      only = i;
    }
  }
  /* Without a time column a row of blanks still takes its time. */
  if (filled == 0 && row->extra == NULL && (plan->has_time || row->count == 1))
    return LOG_LINE_BLANK;
  bool remark = filled == 1 && columns > 1 && row->extra == NULL && is_remark(state, &cells[only]);
  return remark ? LOG_LINE_REMARK : LOG_LINE_ROW;
}
