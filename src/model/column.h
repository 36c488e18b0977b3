/* Columns of a log, packed: runs of rows, each with its numbers as integers of the least width that holds them, or as
 * doubles. Small sets stay in memory, larger ones go to a file without a name. Numbers come back with the very bits
 * that were read: an integer of at most 53 bits divided by a power of ten up to 10^22 is rounded once, as the decimal
 * itself would be. Included by read/ and model/. Appending: one thread; reading: any number, once nothing is appended.
 */
#ifndef KEYWAY_MODEL_COLUMN_H
#define KEYWAY_MODEL_COLUMN_H

#include "base/arena.h"
#include "units/unit.h"

#include <stdint.h>

enum {
  COLUMN_ROWS = 1024,   /* most rows of one run */
  COLUMN_DECIMALS = 22, /* most digits behind the point: 10^22 is a double, 10^23 is none */
  COLUMN_DOUBLE = 0xfe, /* instead of decimals: the double whose bits stand there */
  COLUMN_MISSING = 0xff
};

/* How packed numbers become base units: (x - first) in `unit`, or x / rate. */
struct column_scale {
  const struct unit *unit; /* NULL: they are as they should be */
  double first;
  double rate; /* 0: none */
};

/* One column's run of rows, packed. */
struct column_run {
  uint32_t at;           /* among the bytes that are added with it */
  unsigned scale : 16;   /* set by columns_add */
  unsigned decimals : 8; /* to be divided by 10 to this power; COLUMN_DOUBLE: doubles; COLUMN_MISSING: none is known */
  unsigned width : 7;    /* bytes of each number: 0, 1, 2, 4, 8 */
  unsigned all : 1;      /* all are known; else a bit for each row follows the numbers */
  int64_t least;         /* the integers are this and what is stored */
};

/* What a run holds, before the scale. */
struct column_range {
  size_t known;
  double low, high; /* of the known ones */
};

/* The most bytes that a packed run of so many rows takes. */
size_t column_packed_size(size_t rows);

/* Packs rows: number[i], at most 2^53 either way, has decimals[i] digits behind the point (see the enum for others).
 * Both arrays are used up. run->at is 0; returns the bytes written. */
size_t column_pack(size_t rows, int64_t *number, uint8_t *decimals, char *to, struct column_run *run,
                   struct column_range *range);

/* The same where all have so many digits behind the point, at most COLUMN_DECIMALS, and the ends are known. */
size_t column_pack_integers(size_t rows, const int64_t *number, uint8_t decimals, int64_t least, int64_t most, char *to,
                            struct column_run *run, struct column_range *range);

/* The same where all are missing; takes no bytes. */
void column_pack_missing(size_t rows, struct column_run *run, struct column_range *range);

/* The number that such a pair stands for. */
double column_number(int64_t number, uint8_t decimals);

/* A set of columns with the same rows. */
struct columns;

/* Keeps up to `memory` bytes in memory, then all in a temporary file (in memory still when there can be none). */
struct columns *columns_new(struct arena *arena, size_t count, size_t memory);

/* Appends rows: a run for each column, in their order. Each is read with the scale that its column has now: it is set
 * in the runs. */
void columns_add(struct columns *columns, size_t rows, struct column_run *runs, const struct column_range *ranges,
                 const char *bytes, size_t size);

/* From the next run on; before: as they are. At most 65 535 a column. */
void columns_scale(struct columns *columns, size_t index, struct column_scale scale);

size_t columns_rows(const struct columns *columns);
bool columns_in_file(const struct columns *columns);

/* One of them. */
struct column;
const struct column *columns_get(const struct columns *columns, size_t index);

/* Rows from .. to-1: base units, 0 where missing. true when all are known. Thread-safe. */
bool column_rows(const struct column *column, size_t from, size_t to, double *at, uint8_t *known);

/* The largest size of a known number in base units; 0 when none is known. */
double column_largest(const struct column *column);

/* How many are known. */
size_t column_known(const struct column *column);

#endif
