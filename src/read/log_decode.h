/* What a cell and a line of a log come to. Private to read/ (log*.c). Thread-safe. */
#ifndef KEYWAY_READ_LOG_DECODE_H
#define KEYWAY_READ_LOG_DECODE_H

#include "read/log_piece.h"

/* The number as it is packed: as written, but in base units for what an adapter reads. */
enum log_cell log_decode(const struct log_column *column, struct log_state *state, struct slice text, double *out);

/* Whether a short decimal of this column can be packed as it stands. */
bool log_decode_is_plain(const struct log_column *column, const struct log_state *state);
/* 0 or 1. */
bool log_decode_is_switch(int64_t number, uint8_t decimals);

enum log_line { LOG_LINE_ROW, LOG_LINE_BLANK, LOG_LINE_REMARK };
/* Tells rows from what only stands between them. */
enum log_line log_decode_line(const struct log_plan *plan, const struct log_state *state, const struct csv_cell *cells,
                              const struct csv_row *row);

#endif
