/* One log while it is read. Private to read/ (log*.c). */
#ifndef KEYWAY_READ_LOG_READER_H
#define KEYWAY_READ_LOG_READER_H

#include "read/log.h"
#include "read/log_layout.h"
#include "read/log_rows.h"

struct log_reader {
  struct arena *arena;
  const struct vocabulary *vocabulary;
  const struct source *source;
  const struct log_options *options;
  struct problems *problems;
  struct log_notes notes;
  bool has_layout;
  struct log_layout layout;
  struct log_rows rows;
  size_t time; /* index of the channel */
  double rate;
  bool *present;
  bool *claimed;            /* channels that the adapter has found */
  bool *by_adapter;         /* one a column of the heading */
  struct place *places;     /* of each channel's heading */
  struct slice *heading_of; /* its text */
  size_t unknown_count;
  size_t from_row; /* of its first row, among those of all logs */
  double step;     /* median, seconds */
};

/* Which channel is each column, and in which unit. */
void log_columns_read(struct log_reader *reader, const struct log_names *names);

/* What is to be said about rows and cells; about the time, of which `times` are those of all logs. */
void log_check_rows(struct log_reader *reader);
void log_check_time(struct log_reader *reader, const struct series *times);

#endif
