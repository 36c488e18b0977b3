/* Where the rows of a log stand. */
#include "model/subject.h"

static const struct log_part *part_of(const struct log *log, size_t row)
{
  size_t i = log->part_count - 1;
  while (i > 0 && log->parts[i].from_row > row)
    i--;
  return &log->parts[i];
}

struct place log_row_place(const struct log *log, size_t row)
{
  if (log == NULL || row >= log->row_count)
    return PLACE_NONE;
  const struct log_part *part = part_of(log, row);
  uint64_t end = part->end, start = log->row_at != NULL ? log->row_at[row] : end;
  if (log->row_at != NULL && row + 1 < log->row_count && part_of(log, row + 1) == part)
    end = log->row_at[row + 1];
  const char *bytes = part->source->bytes.at;
  while (end > start + 1 && (bytes[end - 1] == '\n' || bytes[end - 1] == '\r'))
    end--;
  return (struct place){part->source->id, start, end};
}
