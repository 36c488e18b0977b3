/* Cells of one column, row after row, that are short decimals: what nearly all columns of a log hold for thousands of
 * rows, and most of them with the same number of digits behind the point. Several rows at a time in vector registers
 * where the processor has them, one by one in plain C elsewhere, all with the same result. Included by read/ and tests.
 * Thread-safe. */
#ifndef KEYWAY_READ_CSV_DECIMALS_H
#define KEYWAY_READ_CSV_DECIMALS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
  CSV_DECIMALS_MOST = 7, /* digits behind the point */
  CSV_DECIMALS_PAD = 8   /* readable bytes that must follow the text */
};

/* Eight characters in a word, the last one in its highest byte. */
struct csv_shape {
  uint8_t decimals;
  uint64_t point;    /* makes the right sign 0, where digits are 0 to 9 */
  uint64_t lift;     /* lifts what may not stand there to 0x80 and over */
  uint64_t whole;    /* the bytes before the sign ... */
  uint64_t fraction; /* ... and behind it; all without decimals */
};

/* At most CSV_DECIMALS_MOST decimals. */
struct csv_shape csv_shape_new(uint8_t decimals, char sign);

/* A column's cells: that of row i stands behind ends[i * stride - 1] and before ends[i * stride], without `trim` bytes
 * at its end. Offsets are from `text`; UINT32_MAX is that of the byte before. */
struct csv_column_cells {
  const char *text;
  const uint32_t *ends;
  size_t stride, rows;
  uint32_t trim; /* 0 or 1 */
};

/* Least and greatest number so far. */
struct csv_extent {
  int64_t least, most;
};

/* Ways of taking cells from row `from` on into number[0], [1] ...: value = number / 10^decimals. Both return how many.
 */
struct csv_taker {
  /* As long as they are [-] digits [sign digits] of the shape, 8 characters at most behind the minus; widens the extent
   * by them. */
  size_t (*alike)(const struct csv_shape *shape, const struct csv_column_cells *cells, size_t from, int64_t *number,
                  struct csv_extent *extent);
  /* As long as number_short takes them; readable bytes must stand before the text as it says. */
  size_t (*mixed)(char sign, const struct csv_column_cells *cells, size_t from, int64_t *number, uint8_t *decimals);
};

/* The best of this processor. */
const struct csv_taker *csv_taker_best(void);
/* All that work on this processor, plain C first; NULL behind the last. All have the same results. */
const struct csv_taker *csv_taker_nth(size_t n);

#endif
