/* The rows of a log: splits and decodes them in one pass. Included by read/log.c. */
#ifndef KEYWAY_READ_LOG_ROWS_H
#define KEYWAY_READ_LOG_ROWS_H

#include "read/adapter.h"
#include "read/log_layout.h"
#include "read/log_notes.h"

enum log_column_kind { LOG_COLUMN_NUMBER, LOG_COLUMN_SWITCH, LOG_COLUMN_TIME };

/* A column that is decoded. */
struct log_column {
  size_t index; /* in the file, from 0 */
  const struct entry *entry;
  enum log_column_kind kind;
  const struct unit *unit;
  const struct adapter_channel *channel; /* how an adapter reads it; NULL: plainly */
  struct place place;                    /* of the heading's cell */
  double *at;                            /* base units; time: as written */
  uint8_t *known;                        /* NULL: all are */
  size_t good, bad;                      /* cells */
  struct place first_bad;
};

struct log_rows {
  struct arena *arena;
  const struct source *source;
  const struct log_layout *layout;
  struct problems *problems;
  struct log_notes *notes;
  size_t column_count; /* decoded ones */
  struct log_column *columns;
  bool has_time;
  struct log_point point;
  struct log_clock clock;
  size_t count, capacity; /* rows */
  uint64_t *at;           /* count + 1 byte offsets */
  size_t widest;          /* cells of the row that has most */
  size_t long_count, short_count;
  struct place first_long, first_short;
};

/* Fills the columns. false: stopped at a row that cannot be read (a problem was added). */
bool log_rows_read(struct log_rows *rows);

#endif
