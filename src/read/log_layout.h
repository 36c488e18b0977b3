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

struct log_layout {
  struct csv csv;
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

/* Says what is wrong with a row; always false. */
bool log_layout_refuse(const struct source *source, const struct csv_row *row, struct problems *problems);

#endif
