/* What one cell of a log says: a number, a switch, a time, nothing. Included by read/ (log*.c) and tests. */
#ifndef KEYWAY_READ_LOG_CELL_H
#define KEYWAY_READ_LOG_CELL_H

#include "base/slice.h"

enum log_cell {
  LOG_CELL_MISSING, /* blank, "-", "n/a" ... */
  LOG_CELL_GOOD,
  LOG_CELL_BAD
};

/* The sign in front of decimals. One file uses one sign; until the first number with decimals shows which, both do. */
struct log_point {
  char sign; /* '.' or ',' */
  bool settled;
};

/* How a time column is written; the first good cell decides for the rest. */
enum log_time_form { LOG_TIME_UNSEEN, LOG_TIME_NUMBER, LOG_TIME_OF_DAY, LOG_TIME_DATE };

struct log_clock {
  enum log_time_form form;
  double first;     /* the first date, in seconds */
  double midnights; /* seconds to add: a time of day starts again at midnight */
  double last;      /* time of day */
};

bool log_cell_is_missing(struct slice text);

/* All of these take the text without blanks around it. */
enum log_cell log_cell_number(struct log_point *point, struct slice text, double *out);
/* 0 or 1: on/off, true/false, yes/no, active/inactive, 1/0. */
enum log_cell log_cell_switch(struct log_point *point, struct slice text, double *out);
/* A number in the column's own unit, or seconds: HH:MM:SS.mmm, MM:SS.mmm, with an ISO 8601 date or without. */
enum log_cell log_cell_time(struct log_clock *clock, struct log_point *point, struct slice text, double *out);

/* "12.5" or "12,5" and nothing else: the sign; '\0' otherwise. */
char log_cell_point(struct slice text);

#endif
