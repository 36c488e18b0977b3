/* The time column as a whole: seconds from the first sample, and what is odd about it. Included by read/log.c. */
#ifndef KEYWAY_READ_LOG_TIME_H
#define KEYWAY_READ_LOG_TIME_H

#include "read/log_notes.h"

/* One thing that happened some times. */
struct log_event {
  size_t count;
  size_t row; /* of the first, among all rows */
  double from, to;
};

struct log_time {
  size_t count; /* rows */
  size_t known_count;
  double duration; /* of what was logged, seconds */
  double step;     /* median of the steps forward; 0: there are none */
  struct log_event backwards, repeated, gap;
};

/* Looks through settled times: rows from .. to-1. */
struct log_time log_time_survey(const struct series *times, size_t from, size_t to);

#endif
