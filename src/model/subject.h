/* What is audited: one settings file with an optional log and an optional job sheet. Included by read/, audit/, cli/.
 * All of it lives in one arena and is immutable after reading. */
#ifndef KEYWAY_MODEL_SUBJECT_H
#define KEYWAY_MODEL_SUBJECT_H

#include "base/source.h"
#include "model/stage.h"
#include "model/value.h"
#include "model/vocabulary.h"

/* values[i] belongs to vocabulary entry i of the scope; NULL: not in the file. */
struct settings {
  const struct source *source;
  const struct value **values; /* vocabulary->count[SCOPE_TUNE] */
};

struct job_limit { /* the job sheet's own threshold, in place of a pack's default */
  struct slice name;
  struct quantity value; /* a bare number counts in the unit of the pack's default: audit_limit */
  bool bare;
  struct place place; /* of the value */
  struct place name_place;
  struct slice reason;
};

struct hand_check {
  struct slice what, state, by; /* "coolant level", "done" or a date, initials; empty when not given */
  struct place place;
};

struct job {
  const struct source *source;
  struct slice title;
  bool has_stage;
  enum stage stage;
  const struct value **values; /* vocabulary->count[SCOPE_JOB]: facts and readings */
  size_t limit_count;
  const struct job_limit *limits;
  size_t check_count;
  const struct hand_check *checks;
};

/* Something noticed in the log that is not a refusal: time running backwards, a gap, a truncated last row, a column
 * nobody knows. */
enum log_note_kind {
  LOG_NOTE_TIME_BACKWARDS,
  LOG_NOTE_TIME_REPEATED,
  LOG_NOTE_GAP,
  LOG_NOTE_TRUNCATED,
  LOG_NOTE_UNKNOWN_COLUMN,
  LOG_NOTE_BAD_CELLS,
  LOG_NOTE_MARKER,
  LOG_NOTE_RATE
};
struct log_note {
  enum log_note_kind kind;
  struct place place;
  const char *text;         /* one line */
  const struct entry *near; /* UNKNOWN_COLUMN: the channel whose name is nearest; NULL: none is near */
};

/* The rows of a log that came from one source: from `from_row` to the next part. */
struct log_part {
  const struct source *source;
  size_t from_row;
  uint64_t end; /* byte offset behind its last row */
  double step;  /* the median step of its time forward, seconds; 0: there is none */
};

struct log {
  const struct source *source; /* the first part's */
  const struct log_part *parts;
  size_t part_count;
  const struct value **values; /* vocabulary->count[SCOPE_LOG]; a channel that is in the file but was not asked for is
                                  in `present` only */
  const bool *present;         /* vocabulary->count[SCOPE_LOG] */
  size_t row_count;
  const struct column *row_at; /* for log_row_place: where each row starts; NULL: its part's `end` stands for all */
  double step;                 /* the median step of time forward, seconds; 0: there is none */
  size_t column_count, decoded_count;
  size_t note_count;
  const struct log_note *notes;
};

/* Of a data row, without its line end; PLACE_NONE where there is no log or no such row. */
struct place log_row_place(const struct log *log, size_t row);

struct subject {
  const struct vocabulary *vocabulary;
  const struct settings *settings;
  const struct log *log;         /* NULL: none given */
  const struct job *job;         /* NULL: none given */
  const struct settings *before; /* the file as it was before; NULL: none given */
};

#endif
