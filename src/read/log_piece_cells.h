/* Rows and cells that a piece takes. Private to read/ (log_piece*.c). */
#ifndef KEYWAY_READ_LOG_PIECE_CELLS_H
#define KEYWAY_READ_LOG_PIECE_CELLS_H

#include "read/log_piece.h"

static inline uint64_t log_piece_offset(const struct log_piece *piece, const char *at)
{
  return piece->text.from + (uint64_t)(at - piece->text.at);
}

static inline const char *log_piece_byte(const struct log_piece *piece, uint64_t offset)
{
  return piece->text.at + (offset - piece->text.from);
}

/* After a change of the state: which columns' numbers can be taken as they are written. */
void log_piece_settle(struct log_piece *piece);

/* The cell of a row of the run; a CR at its end is the line end's. */
void log_piece_take_cell(struct log_piece *piece, struct log_cells *cells, size_t row, const char *from,
                         const char *to);

static inline void log_piece_miss(struct log_cells *cells, size_t row)
{
  cells->decimals[row] = COLUMN_MISSING;
  cells->mixed = true;
}

/* Counts rows whose cells were taken, all of `count` cells. */
static inline void log_piece_end_rows(struct log_piece *piece, size_t rows, size_t count, const char *next)
{
  piece->rows_end = log_piece_offset(piece, next);
  piece->widest = count > piece->widest ? count : piece->widest;
  piece->run_rows += rows;
  piece->rows += rows;
}

/* Takes rows of nothing but plain cells from line `line` of the marks on, which are those of the text at `base`;
 * returns how many. 0: the first one needs a closer look, and nothing was done. */
size_t log_piece_take_plain(struct log_piece *piece, const char *base, size_t line);

#endif
