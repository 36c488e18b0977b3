/* Reads a data log: CSV with the liberties that real loggers take (DESIGN: "Data log"). Included by cli/ and tests. */
#ifndef KEYWAY_READ_LOG_H
#define KEYWAY_READ_LOG_H

#include "model/subject.h"

struct adapter;

struct log_options {
  const bool *wanted; /* one for each channel of the vocabulary; NULL: all. Other columns are split but not decoded. */
  double rate;        /* samples per second, used when there is no time column; 0: not given */
  const struct adapter *adapter; /* how its columns are called and written; NULL: as they say themselves */
  /* How, not what: nothing that is read depends on these. 0 each: as it fits. */
  size_t threads;      /* at most, for a long log or where piece_bytes is given */
  size_t piece_bytes;  /* of the text that a thread takes at a time */
  size_t array_rows;   /* logs of fewer rows are given as plain arrays */
  size_t memory_bytes; /* packed columns of more go to a temporary file */
};

/* Bytes of a log that sources_open_long needs to keep. */
enum { LOG_KEEP_BYTES = 64 * 1024 };

/* NULL when refused (problems added). What is odd but readable becomes a log_note. The result lives in `arena`; the
 * channel "time" is always there, in seconds from the first sample. */
const struct log *log_read(struct arena *arena, const struct vocabulary *vocabulary, const struct source *source,
                           const struct log_options *options, struct problems *problems);

/* Several logs as one, their rows one after the other: a channel that one of them has not is missing there, and each
 * starts at 0 s. The unit and place of a channel are those of the first log that has it. */
const struct log *log_read_all(struct arena *arena, const struct vocabulary *vocabulary,
                               const struct source *const *sources, size_t count, const struct log_options *options,
                               struct problems *problems);

#endif
