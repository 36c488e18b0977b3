/* What was noticed in a log, and the words for it. Included by read/ (log*.c). */
#ifndef KEYWAY_READ_LOG_NOTES_H
#define KEYWAY_READ_LOG_NOTES_H

#include "model/subject.h"

/* A drive has a handful of marks; a file of nothing else must not fill memory with notes. */
enum { LOG_MARKERS_KEPT = 100, LOG_SHOWN_SIZE = 72 };

struct log_notes {
  struct arena *arena;
  struct log_note *items;
  size_t count, capacity;
  size_t markers; /* all of them; only the first become notes of their own */
};

void log_notes_add(struct log_notes *notes, enum log_note_kind kind, struct place place, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* A line between the rows that is no row: its text as log_shown gives it, NULL where LOG_MARKERS_KEPT are noted
 * already.
 */
void log_notes_add_marker(struct log_notes *notes, struct place place, const char *shown);
/* Says how many markers there were beyond those that have notes. */
void log_notes_finish(struct log_notes *notes, struct place end);

/* A run of a source's bytes in memory. */
struct log_text {
  const struct source *source;
  const char *at;
  uint64_t from; /* byte of the source that stands at `at` */
};

/* Bytes [from, to) of the text. */
struct place log_place(const struct log_text *text, const char *from, const char *to);

/* Text from the file for a note: one line, cut, and sound UTF-8. */
void log_show(char shown[LOG_SHOWN_SIZE], struct slice text);
/* The same; lives in `arena`. */
const char *log_shown(struct arena *arena, struct slice text);

/* "18 000"; "10 min", "1 h 5 min", "12.5 s". Live in `arena`. */
const char *log_count_text(struct arena *arena, size_t count);
const char *log_duration_text(struct arena *arena, double seconds);
/* A number of so many significant digits. */
const char *log_number_text(struct arena *arena, double value, int digits);

#endif
