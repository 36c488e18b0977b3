/* Text from inputs made safe to show: control characters, characters that reorder or hide text, and bytes that are no
 * UTF-8 come out as visible ASCII. Used by everything that prints text. Included by report/ and cli/. Thread-safe with
 * one arena a thread. */
#ifndef KEYWAY_REPORT_ESCAPE_H
#define KEYWAY_REPORT_ESCAPE_H

#include "base/arena.h"
#include "base/slice.h"

#include <stdbool.h>

/* The first character of a text, as shown. */
struct escape_part {
  char text[16];    /* NUL-terminated: the character, or "\x1b", "\xff", "\u202e", "\n", "\t" in visible ASCII */
  size_t used;      /* bytes of the input it stands for; 0: the text is at its end */
  unsigned columns; /* on a terminal: 0 for combining marks, 2 for East Asian wide characters */
};
struct escape_part escape_next(struct slice text);

/* The whole text on one line; lives in `arena`. */
const char *escape_line(struct arena *arena, struct slice text);

/* How many bytes at the beginning are shown as they are, one column each: printable ASCII. */
size_t escape_plain(struct slice text);

/* Columns that the text takes when shown. */
size_t escape_columns(struct slice text);

/* Sound UTF-8 for JSON: every byte that is no UTF-8 becomes U+FFFD, everything else stays. Lives in `arena`. */
struct slice escape_mend(struct arena *arena, struct slice text);

#endif
