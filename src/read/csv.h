/* Delimited text after RFC 4180, with any separator: where the cells of a row are, no meaning. Included by read/.
 * Cells point into the caller's bytes; nothing is allocated. Thread-safe. */
#ifndef KEYWAY_READ_CSV_H
#define KEYWAY_READ_CSV_H

#include "base/arena.h"
#include "base/slice.h"

enum csv_fault {
  CSV_SOUND,
  CSV_UNCLOSED,    /* a quote that is never closed, or not within LIMIT_LOG_LINE; at the opening quote */
  CSV_AFTER_QUOTE, /* text between a closing quote and the next separator */
  CSV_CONTROL,     /* a control character other than tab, CR and LF */
  CSV_LONG         /* a row over LIMIT_LOG_LINE; at its start */
};

/* One dialect over one text. */
struct csv {
  const char *end; /* of the text */
  char separator;
  unsigned char kind[256]; /* what each byte means */
};

struct csv_cell {
  const char *at; /* without its quotes */
  size_t size;
  bool quoted;
  bool doubled; /* holds "" that mean one " */
};

struct csv_row {
  const char *at, *end; /* `end` is before the line end */
  const char *next;     /* first byte of the next row */
  bool closed;          /* it has a line end: LF, CRLF or CR */
  size_t count;         /* all of its cells, also those that found no room */
  const char *extra;    /* the first cell without room that is not blank; NULL: none */
  enum csv_fault fault;
  const char *fault_at;
};

struct csv csv_new(char separator, const char *end);

/* The row that starts at `at` (before csv->end); its first `room` cells. With a fault the row ends there. */
void csv_read(const struct csv *csv, const char *at, struct csv_cell *cells, size_t room, struct csv_row *row);

/* The first byte after the line that holds `at`, quotes not looked at. */
const char *csv_skip_line(const struct csv *csv, const char *at);

/* The cell without blanks around it; still with doubled quotes. */
struct slice csv_text(const struct csv_cell *cell);
bool csv_is_blank(const struct csv_cell *cell);
/* The same with each "" as one "; lives in `arena` when there was one. */
struct slice csv_decode(struct arena *arena, const struct csv_cell *cell);

#endif
