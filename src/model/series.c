/* Rows of a channel, however it is kept. */
#include "model/column.h"
#include "model/value.h"

bool series_rows(const struct series *series, size_t from, size_t to, double *at, uint8_t *known)
{
  if (series->at == NULL)
    return column_rows(series->column, from, to, at, known);
  bool all = true;
  memcpy(at, series->at + from, (to - from) * sizeof *at);
  memset(known, 1, to - from);
  for (size_t i = 0; series->known != NULL && i < to - from; i++) {
    if (series->known[from + i])
      continue;
    at[i] = 0;
    known[i] = 0;
    all = false;
  }
  return all;
}
