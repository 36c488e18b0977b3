/* Where the rows of a log stand. */
#include "model/subject.h"
#include "model/column.h"

static const struct log_part *part_of(const struct log *log, size_t row)
{
  size_t i = log->part_count - 1;
  while (i > 0 && log->parts[i].from_row > row)
    i--;
  return &log->parts[i];
}

static uint64_t start_of(const struct log *log, size_t row)
{
  double at;
  uint8_t known;
  column_rows(log->row_at, row, row + 1, &at, &known);
  return (uint64_t)at;
}

static bool is_line_end(const struct source *source, uint64_t at)
{
  char byte;
  size_t got;
  return source_read(source, at, &byte, 1, &got) && got == 1 && (byte == '\n' || byte == '\r');
}

struct place log_row_place(const struct log *log, size_t row)
{
  if (log == NULL || row >= log->row_count)
    return PLACE_NONE;
  const struct log_part *part = part_of(log, row);
  if (log->row_at == NULL)
    return (struct place){part->source->id, part->end, part->end};
  uint64_t start = start_of(log, row), end = part->end;
  if (row + 1 < log->row_count && part_of(log, row + 1) == part)
    end = start_of(log, row + 1);
  while (end > start + 1 && is_line_end(part->source, end - 1))
    end--;
  return (struct place){part->source->id, start, end};
}
