/* Reads a data log: CSV with the liberties that real loggers take (DESIGN: "Data log"). Included by cli/ and tests. */
#ifndef KEYWAY_READ_LOG_H
#define KEYWAY_READ_LOG_H

#include "model/subject.h"

struct adapter;

struct log_options {
  const bool *wanted; /* one for each channel of the vocabulary; NULL: all. Other columns are split but not decoded. */
  double rate;        /* samples per second, used when there is no time column; 0: not given */
  const struct adapter *adapter; /* how its columns are called and written; NULL: as they say themselves */
};

/* NULL when refused (problems added). What is odd but readable becomes a log_note. The result lives in `arena`; the
 * channel "time" is always there, in seconds from the first sample. */
const struct log *log_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                           const struct log_options *options, struct problems *problems);

#endif
