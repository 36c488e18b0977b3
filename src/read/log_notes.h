/* What was noticed in a log, and the words for it. Included by read/ (log*.c). */
#ifndef KEYWAY_READ_LOG_NOTES_H
#define KEYWAY_READ_LOG_NOTES_H

#include "model/subject.h"

struct log_notes {
  struct arena *arena;
  struct log_note *items;
  size_t count, capacity;
  size_t markers; /* all of them; only the first become notes of their own */
};

void log_notes_add(struct log_notes *notes, enum log_note_kind kind, struct place place, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* A line between the rows that is no row. */
void log_notes_add_marker(struct log_notes *notes, struct place place, struct slice text);
/* Says how many markers there were beyond those that have notes. */
void log_notes_finish(struct log_notes *notes, struct place end);

/* Bytes [from, to) of the source. */
struct place log_place(const struct source *source, const char *from, const char *to);

/* Text from the file for a note: one line, cut, and sound UTF-8. Lives in `arena`. */
const char *log_shown(struct arena *arena, struct slice text);

/* "18 000"; "10 min", "1 h 5 min", "12.5 s". Live in `arena`. */
const char *log_count_text(struct arena *arena, size_t count);
const char *log_duration_text(struct arena *arena, double seconds);
/* A number of so many significant digits. */
const char *log_number_text(struct arena *arena, double value, int digits);

#endif
