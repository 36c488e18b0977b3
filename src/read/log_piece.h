/* A piece of a log: the rows that start in a stretch of its bytes, decoded and packed without knowing what stands
 * before them. Private to read/ (log*.c). One thread a piece; a plan is shared by all. */
#ifndef KEYWAY_READ_LOG_PIECE_H
#define KEYWAY_READ_LOG_PIECE_H

#include "model/column.h"
#include "read/adapter.h"
#include "read/csv_decimals.h"
#include "read/csv_marks.h"
#include "read/log_layout.h"
#include "read/log_notes.h"

enum log_column_kind { LOG_COLUMN_NUMBER, LOG_COLUMN_SWITCH, LOG_COLUMN_TIME };

/* Cells of a column that could not be read. */
struct log_bad {
  size_t count;
  struct place first;
  char shown[LOG_SHOWN_SIZE];
};

/* A column that is decoded. */
struct log_column {
  size_t index; /* in the file, from 0 */
  size_t slot;  /* in the set of columns */
  const struct entry *entry;
  enum log_column_kind kind;
  const struct unit *unit;
  const struct adapter_channel *channel; /* how an adapter reads it; NULL: plainly */
  struct place place;                    /* of the heading's cell */
  struct log_bad bad;
  size_t good;
};

/* What the rows before have settled. */
struct log_state {
  struct log_point point;
  struct log_clock clock;
};

/* What all pieces of one log have in common. */
struct log_plan {
  const struct source *source;
  const struct log_layout *layout;
  const struct csv_marker *marker;
  const struct csv_taker *taker;
  const struct log_column *columns;
  size_t column_count;
  size_t slot_count; /* the set's; slot 0 takes the place of each row */
  size_t count_slot; /* takes the number of the row in the piece, for logs without time; 0: none */
  bool has_time;
};

/* Rows that were packed together, at most COLUMN_ROWS. */
struct log_run {
  size_t rows;
  struct column_run *runs; /* of each slot */
  struct column_range *ranges;
  size_t from, size; /* in the piece's packed bytes */
};

/* What became of one column in one piece. */
struct log_cells {
  int64_t *number;
  uint8_t *decimals;
  const struct log_column *column;
  size_t index;   /* the column's */
  bool is_switch; /* so is it */
  bool fast;      /* short decimals are taken as they are */
  struct csv_shape shape;
  /* Of the run's rows so far, unless they are mixed: decimals of each number, and the ends of these. */
  bool mixed;
  uint8_t decimals_of_all;
  struct csv_extent extent;
  struct log_bad bad;
};

struct log_marker {
  struct place place;
  char shown[LOG_SHOWN_SIZE];
};

struct log_piece {
  const struct log_plan *plan;
  struct arena *arena;

  struct log_text text;
  size_t text_size, text_room;
  char *room;
  bool at_end;    /* the log ends with the text */
  uint64_t end;   /* where it does; less than the layout's where the file has become shorter */
  int error;      /* errno where it could not be read */
  struct csv csv; /* over the text */
  char sign;      /* of decimals; '\0': not settled */
  size_t rows_most;

  uint64_t rows_end;              /* behind the last row that was taken */
  uint64_t start, limit, next;    /* first row; rows start before; first row of the next piece */
  struct log_state before, state; /* before the first row; after the last one so far */
  bool has_tod;
  double first_tod; /* first time of day */
  bool has_first;
  double first_time; /* first known time as written */

  size_t rows, run_rows, run_room;
  struct log_cells *cells; /* slot by slot for columns of the plan, then rows' places and counts */
  int64_t *row_at, *row_number;
  struct csv_cell *row_cells;
  struct csv_marks marks;

  struct log_run *runs;
  size_t run_count, runs_room;
  char *packed;
  size_t packed_size, packed_room;

  size_t widest, long_count, short_count;
  struct place first_long, first_short;
  size_t marker_count;
  struct log_marker markers[LOG_MARKERS_KEPT];

  struct log_fault fault; /* of the row that ended it */
  bool over;              /* there was a row more than rows_most */
  struct place over_at;
  bool cut_in_quote; /* the log ends within a quoted cell, at `open_at` */
  bool has_open;     /* the log's last row has no line end: it stands at `open_at` and was not taken */
  uint64_t open_at;
  size_t open_count; /* its cells */
};

/* `bytes` is the usual size of a piece. */
struct log_piece *log_piece_new(struct arena *arena, const struct log_plan *plan, size_t bytes);

/* Reads the rows that start in [from, limit): exactly at `from`, or at the first line that starts there or later. */
void log_piece_read(struct log_piece *piece, uint64_t from, uint64_t limit, bool exact, const struct log_state *state,
                    size_t rows_most);

/* Takes the row that has_open tells of as well; the piece then holds nothing else. */
void log_piece_read_open(struct log_piece *piece);

#endif
