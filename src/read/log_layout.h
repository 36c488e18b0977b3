/* Where in a log what stands: separator, heading, row of units, first data row, decimal sign. Included by read/
 * (log*.c). */
#ifndef KEYWAY_READ_LOG_LAYOUT_H
#define KEYWAY_READ_LOG_LAYOUT_H

#include "base/problem.h"
#include "base/source.h"
#include "read/adapter.h"
#include "read/csv.h"
#include "read/log_cell.h"
#include "read/log_names.h"
#include "read/log_notes.h"

struct log_layout {
  struct log_text text; /* the first part of the log, as long as it must be to tell all this */
  uint64_t end;         /* of the log; behind it are only control-Z */
  struct csv csv;       /* over the text */
  struct csv_row heading;
  const struct csv_cell *names; /* cells of the heading */
  size_t column_count;          /* up to the last one that has a name */
  struct csv_row unit_row;
  const struct csv_cell *units; /* NULL: no row of units */
  size_t unit_count;
  const char *data; /* first byte behind the heading and the units */
  struct log_point point;
};

/* false when refused: no heading, or not text. `arena` holds the cells. `adapter` NULL: none. */
bool log_layout_read(struct arena *arena, const struct log_names *names, const struct adapter *adapter,
                     const struct source *source, struct problems *problems, struct log_layout *out);

/* A line that starts with # or //, or with ; when that is not the separator. */
bool log_layout_is_comment(const struct csv *csv, const char *at);

/* What is wrong with a row. */
struct log_fault {
  enum csv_fault fault;
  struct place place;
  char byte; /* that stands there */
};
struct log_fault log_layout_fault(const struct log_text *text, const struct csv_row *row);
/* Says so; always false. */
bool log_layout_refuse(const struct log_fault *fault, struct problems *problems);

#endif
