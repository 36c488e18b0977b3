/* Packs a run of numbers. Reading order: column_pack, then the two ways: integers of one scale, or doubles. */
#include "model/column.h"

#include <math.h>
#include <string.h>

#define INTEGER_MOST ((int64_t)1 << 53)

static const int64_t powers[] = {
    1,         10,         100,         1000,         10000,         100000,         1000000,         10000000,
    100000000, 1000000000, 10000000000, 100000000000, 1000000000000, 10000000000000, 100000000000000, 1000000000000000};
static const double tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                              1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

size_t column_packed_size(size_t rows)
{
  return rows * sizeof(double) + (rows + 7) / 8;
}

double column_number(int64_t number, uint8_t decimals)
{
  double value;
  if (decimals <= COLUMN_DECIMALS)
    return (double)number / tens[decimals];
  memcpy(&value, &number, sizeof value);
  return value;
}

void column_pack_missing(size_t rows, struct column_run *run, struct column_range *range)
{
  *run = (struct column_run){.decimals = COLUMN_MISSING, .all = rows == 0};
  *range = (struct column_range){.known = 0};
}

/* What the codes of a run say together. */
struct codes {
  size_t missing, doubles;
  uint8_t least, most; /* decimals */
};

static struct codes look(size_t rows, const uint8_t *decimals)
{
  struct codes codes = {.least = 0xff};
  /* Nearly always they are all the same. */
  if (memcmp(decimals, decimals + 1, rows - 1) == 0) {
    codes.missing = decimals[0] == COLUMN_MISSING ? rows : 0;
    codes.doubles = decimals[0] == COLUMN_DOUBLE ? rows : 0;
    codes.least = codes.most = decimals[0];
    return codes;
  }
  for (size_t i = 0; i < rows; i++) {
    uint8_t code = decimals[i];
    codes.missing += code == COLUMN_MISSING;
    codes.doubles += code == COLUMN_DOUBLE;
    codes.least = code < codes.least ? code : codes.least;
    codes.most = code < COLUMN_DOUBLE && code > codes.most ? code : codes.most;
  }
  return codes;
}

/* All to as many decimals as the one that has most; false where one would become too large for that to be exact. A row
 * with `most`, or with none because it is missing, stays as it is. */
static bool level(size_t rows, int64_t *number, const uint8_t *decimals, uint8_t least, uint8_t most)
{
  enum { POWERS = sizeof powers / sizeof *powers };
  int64_t limits[POWERS] = {INT64_MAX};
  if (most - least >= POWERS)
    return false;
  for (size_t by = 1; by < POWERS; by++)
    limits[by] = INTEGER_MOST / powers[by];
  bool fits = true;
  for (size_t i = 0; i < rows; i++) {
    int64_t limit = limits[decimals[i] < most ? most - decimals[i] : 0];
    fits = fits & (number[i] <= limit) & (number[i] >= -limit);
  }
  for (size_t i = 0; fits && i < rows; i++)
    number[i] *= powers[decimals[i] < most ? most - decimals[i] : 0];
  return fits;
}

/* Missing rows take the first number that is there, so that they widen nothing. */
static void fill_missing(size_t rows, int64_t *number, const uint8_t *decimals)
{
  int64_t fill = 0;
  for (size_t i = 0; i < rows; i++) {
    if (decimals[i] != COLUMN_MISSING) {
      fill = number[i];
      break;
    }
  }
  for (size_t i = 0; i < rows; i++)
    number[i] = decimals[i] == COLUMN_MISSING ? fill : number[i];
}

#define NARROW(type)                                             \
  for (size_t i = 0; i < rows; i++) {                            \
    type stored = (type)((uint64_t)number[i] - (uint64_t)least); \
    memcpy(to + i * sizeof stored, &stored, sizeof stored);      \
  }

size_t column_pack_integers(size_t rows, const int64_t *number, uint8_t decimals, int64_t least, int64_t most, char *to,
                            struct column_run *run, struct column_range *range)
{
  uint64_t span = (uint64_t)most - (uint64_t)least;
  unsigned width = span == 0 ? 0 : span <= UINT8_MAX ? 1 : span <= UINT16_MAX ? 2 : span <= UINT32_MAX ? 4 : 8;
  *run = (struct column_run){.decimals = decimals, .width = width & 15u, .all = 1, .least = least};
  *range = (struct column_range){rows, (double)least / tens[decimals], (double)most / tens[decimals]};
  switch (width) {
  case 0:
    break;
  case 1:
    NARROW(uint8_t)
    break;
  case 2:
    NARROW(uint16_t)
    break;
  case 4:
    NARROW(uint32_t)
    break;
  default:
    NARROW(uint64_t)
  }
  return rows * width;
}

static size_t pack_integers(size_t rows, const int64_t *number, char *to, struct column_run *run,
                            struct column_range *range)
{
  int64_t least = number[0], most = number[0];
  size_t known = range->known;
  unsigned all = run->all;
  for (size_t i = 0; i < rows; i++) {
    least = number[i] < least ? number[i] : least;
    most = number[i] > most ? number[i] : most;
  }
  size_t size = column_pack_integers(rows, number, run->decimals, least, most, to, run, range);
  run->all = all & 1;
  range->known = known;
  return size;
}

static bool is_integer(double value)
{
  return fabs(value) <= (double)INTEGER_MOST && value == floor(value) && !(value == 0 && signbit(value));
}

/* Doubles that are whole numbers, as switches are, go the other way. */
static bool make_integers(size_t rows, int64_t *number, uint8_t *decimals)
{
  for (size_t i = 0; i < rows; i++) {
    if (decimals[i] != COLUMN_MISSING && !is_integer(column_number(number[i], decimals[i])))
      return false;
  }
  for (size_t i = 0; i < rows; i++) {
    if (decimals[i] != COLUMN_MISSING)
      number[i] = (int64_t)column_number(number[i], decimals[i]);
  }
  return true;
}

static size_t pack_doubles(size_t rows, const int64_t *number, const uint8_t *decimals, char *to,
                           struct column_run *run, struct column_range *range)
{
  run->decimals = COLUMN_DOUBLE;
  run->width = sizeof(double);
  range->low = HUGE_VAL;
  range->high = -HUGE_VAL;
  for (size_t i = 0; i < rows; i++) {
    double value = decimals[i] == COLUMN_MISSING ? 0 : column_number(number[i], decimals[i]);
    memcpy(to + i * sizeof value, &value, sizeof value);
    if (decimals[i] == COLUMN_MISSING)
      continue;
    range->low = fmin(range->low, value);
    range->high = fmax(range->high, value);
  }
  return rows * sizeof(double);
}

static size_t pack_known(size_t rows, const uint8_t *decimals, char *to)
{
  memset(to, 0, (rows + 7) / 8);
  for (size_t i = 0; i < rows; i++) {
    if (decimals[i] != COLUMN_MISSING)
      to[i / 8] = (char)((unsigned char)to[i / 8] | 1u << i % 8);
  }
  return (rows + 7) / 8;
}

size_t column_pack(size_t rows, int64_t *number, uint8_t *decimals, char *to, struct column_run *run,
                   struct column_range *range)
{
  struct codes codes = look(rows, decimals);
  column_pack_missing(rows, run, range);
  if (codes.missing == rows)
    return 0;
  *run = (struct column_run){.all = codes.missing == 0};
  range->known = rows - codes.missing;
  bool integers;
  if (codes.doubles > 0) {
    integers = make_integers(rows, number, decimals);
  } else {
    run->decimals = codes.most;
    integers = codes.least == codes.most || level(rows, number, decimals, codes.least, codes.most);
  }
  if (integers && codes.missing > 0)
    fill_missing(rows, number, decimals);
  size_t size =
      integers ? pack_integers(rows, number, to, run, range) : pack_doubles(rows, number, decimals, to, run, range);
  return run->all ? size : size + pack_known(rows, decimals, to + size);
}
