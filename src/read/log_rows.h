/* The rows of a log, read piece by piece on one thread or several, and joined in their order. Private to read/
 * (log*.c). */
#ifndef KEYWAY_READ_LOG_ROWS_H
#define KEYWAY_READ_LOG_ROWS_H

#include "read/log_piece.h"

struct log_rows {
  struct arena *arena;
  struct log_plan plan;
  struct log_column *columns; /* the plan's, with what is counted */
  struct columns *set;        /* rows are appended to it */
  struct log_column *time;    /* one of the columns; NULL: none */
  struct problems *problems;
  struct log_notes *notes;
  size_t piece_bytes;
  size_t threads;

  size_t count;
  size_t widest; /* cells of the row that has most */
  size_t long_count, short_count;
  struct place first_long, first_short;
  struct log_state state; /* behind the last row */
  bool has_first;         /* a time is known */
  uint64_t next;          /* behind all that was joined */
  uint64_t rows_end;      /* behind the last row */
};

/* Fills the set. false: stopped at a row that cannot be read (a problem was added). */
bool log_rows_read(struct log_rows *rows);

#endif
