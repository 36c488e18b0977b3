/* Where separators and line ends stand, found many bytes at a time: in vector registers where the processor has them,
 * in plain C elsewhere, all with the same result. No meaning: rows that hold a quote, a lone CR or another control
 * character are only told apart, for csv_read. Included by read/ and tests. Thread-safe. */
#ifndef KEYWAY_READ_CSV_MARKS_H
#define KEYWAY_READ_CSV_MARKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
  CSV_MARKS_MOST = 32 * 1024, /* bytes that are looked at together */
  CSV_MARKS_PAD = 64          /* readable bytes that must follow the text */
};

/* Of each 64 bytes, a bit for each byte. */
struct csv_bits {
  uint64_t ends[CSV_MARKS_MOST / 64];  /* separators and LF */
  uint64_t lines[CSV_MARKS_MOST / 64]; /* LF */
  uint64_t odd[CSV_MARKS_MOST / 64];   /* quotes, and control characters but LF, tab, and CR before LF */
};

struct csv_marks {
  uint32_t *ends;  /* of each separator and LF, from the start of the text */
  uint32_t *lines; /* of each LF: how many `ends` there are up to it, itself counted */
  bool *odd;       /* of each LF: its line holds something odd */
  size_t line_count;
  struct csv_bits bits;
};

/* A way of finding them. */
struct csv_marker;
/* The best of this processor. */
const struct csv_marker *csv_marker_best(void);
/* All that work on this processor, plain C first; NULL behind the last. */
const struct csv_marker *csv_marker_nth(size_t n);

/* At most CSV_MARKS_MOST bytes. `marks` has room for as many ends, lines and odd ones. */
void csv_marks_find(const struct csv_marker *marker, const char *text, size_t size, char separator,
                    struct csv_marks *marks);

#endif
