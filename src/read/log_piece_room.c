/* What a piece holds: its text, read as far as it is needed, and the packed rows. */
#include "read/log_piece_room.h"

#include "base/number_short.h"

#include <errno.h>

struct log_piece *log_piece_new(struct arena *arena, const struct log_plan *plan, size_t bytes)
{
  struct log_piece *piece = ARENA_NEW(arena, struct log_piece);
  piece->arena = arena;
  piece->plan = plan;
  uint64_t size = plan->layout->end - plan->layout->text.from;
  piece->text_room = bytes + LOG_PIECE_MARGIN < size ? bytes + LOG_PIECE_MARGIN : (size_t)size;
  piece->room = arena_alloc(arena, NUMBER_SHORT_PAD + piece->text_room + CSV_MARKS_PAD);
  piece->csv = csv_new(plan->layout->csv.separator, NULL);
  /* A row takes two bytes at least. */
  piece->run_room = size / 2 + 1 < COLUMN_ROWS ? (size_t)size / 2 + 1 : COLUMN_ROWS;
  piece->cells = ARENA_ARRAY(arena, plan->column_count, struct log_cells);
  for (size_t i = 0; i < plan->column_count; i++) {
    /* The columns' lines of cache apart: a power of two between them would put all into the same few. */
    piece->cells[i].number = ARENA_ARRAY(arena, piece->run_room + 8 * (i % 8 + 1), int64_t);
    piece->cells[i].decimals = ARENA_ARRAY(arena, piece->run_room + 64 * (i % 8 + 1), uint8_t);
    piece->cells[i].column = &plan->columns[i];
    piece->cells[i].index = plan->columns[i].index;
    piece->cells[i].is_switch = plan->columns[i].kind == LOG_COLUMN_SWITCH;
  }
  piece->row_at = ARENA_ARRAY(arena, piece->run_room, int64_t);
  piece->row_number = ARENA_ARRAY(arena, piece->run_room, int64_t);
  piece->row_cells = ARENA_ARRAY(arena, plan->layout->column_count, struct csv_cell);
  size_t most = size + 1 < CSV_MARKS_MOST ? (size_t)size + 1 : CSV_MARKS_MOST;
  piece->marks.ends = ARENA_ARRAY(arena, most + 1, uint32_t);
  *piece->marks.ends++ = UINT32_MAX; /* the line end before the text */
  piece->marks.lines = ARENA_ARRAY(arena, most, uint32_t);
  piece->marks.odd = ARENA_ARRAY(arena, most, bool);
  return piece;
}

void log_piece_load(struct log_piece *piece, size_t size)
{
  uint64_t rest = piece->end > piece->text.from ? piece->end - piece->text.from : 0;
  size = size < rest ? size : (size_t)rest;
  if (size > piece->text_room) {
    char *room = arena_alloc(piece->arena, NUMBER_SHORT_PAD + size + CSV_MARKS_PAD);
    memcpy(room, piece->room, NUMBER_SHORT_PAD + piece->text_size);
    piece->room = room;
    piece->text_room = size;
  }
  size_t got = 0, wanted = size > piece->text_size ? size - piece->text_size : 0;
  char *to = piece->room + NUMBER_SHORT_PAD + piece->text_size;
  if (!source_read(piece->plan->source, piece->text.from + piece->text_size, to, wanted, &got))
    piece->error = errno;
  piece->text_size += got;
  piece->text.at = piece->room + NUMBER_SHORT_PAD;
  piece->csv.end = piece->text.at + piece->text_size;
  if (got < wanted)
    piece->end = piece->text.from + piece->text_size;
  piece->at_end = piece->text.from + piece->text_size >= piece->end;
}

bool log_piece_load_more(struct log_piece *piece)
{
  if (piece->at_end)
    return false;
  log_piece_load(piece, piece->text_size + (piece->text_size > 64 * 1024 ? piece->text_size : 64 * 1024));
  return true;
}

static char *packed_room(struct log_piece *piece, size_t size)
{
  if (piece->packed_size + size > piece->packed_room) {
    size_t room =
        2 * piece->packed_room > piece->packed_size + size ? 2 * piece->packed_room : piece->packed_size + size;
    char *moved = arena_alloc(piece->arena, room);
    if (piece->packed_size > 0)
      memcpy(moved, piece->packed, piece->packed_size);
    piece->packed = moved;
    piece->packed_room = room;
  }
  return piece->packed + piece->packed_size;
}

static struct log_run *run_add(struct log_piece *piece)
{
  size_t slots = piece->plan->slot_count;
  if (piece->run_count == piece->runs_room) {
    piece->runs = arena_grow(piece->arena, piece->runs, piece->run_count, &piece->runs_room, sizeof *piece->runs);
    for (size_t i = piece->run_count; i < piece->runs_room; i++) {
      piece->runs[i].runs = ARENA_ARRAY(piece->arena, slots, struct column_run);
      piece->runs[i].ranges = ARENA_ARRAY(piece->arena, slots, struct column_range);
    }
  }
  struct log_run *run = &piece->runs[piece->run_count++];
  *run = (struct log_run){piece->run_rows, run->runs, run->ranges, piece->packed_size, 0};
  return run;
}

/* Rising numbers. */
static void pack_rising(struct log_piece *piece, struct log_run *run, size_t slot, const int64_t *number)
{
  char *to = packed_room(piece, column_packed_size(run->rows));
  size_t at = piece->packed_size - run->from;
  piece->packed_size += column_pack_integers(run->rows, number, 0, number[0], number[run->rows - 1], to,
                                             &run->runs[slot], &run->ranges[slot]);
  run->runs[slot].at = (uint32_t)at;
}

static void pack(struct log_piece *piece, struct log_run *run, const struct log_cells *cells)
{
  size_t slot = cells->column->slot, at = piece->packed_size - run->from;
  char *to = packed_room(piece, column_packed_size(run->rows));
  if (cells->mixed)
    piece->packed_size +=
        column_pack(run->rows, cells->number, cells->decimals, to, &run->runs[slot], &run->ranges[slot]);
  else
    piece->packed_size += column_pack_integers(run->rows, cells->number, cells->decimals_of_all, cells->extent.least,
                                               cells->extent.most, to, &run->runs[slot], &run->ranges[slot]);
  run->runs[slot].at = (uint32_t)at;
}

/* Before the numbers are packed: packing uses them up. */
static void find_first_time(struct log_piece *piece, const struct log_cells *cells)
{
  for (size_t i = 0; i < piece->run_rows && !piece->has_first; i++) {
    if (cells->decimals[i] == COLUMN_MISSING)
      continue;
    piece->has_first = true;
    piece->first_time = column_number(cells->number[i], cells->decimals[i]);
  }
}

void log_piece_pack(struct log_piece *piece)
{
  const struct log_plan *plan = piece->plan;
  if (piece->run_rows == 0)
    return;
  struct log_run *run = run_add(piece);
  for (size_t i = 0; i < plan->slot_count; i++)
    column_pack_missing(run->rows, &run->runs[i], &run->ranges[i]);
  pack_rising(piece, run, 0, piece->row_at);
  for (size_t i = 0; i < plan->column_count; i++) {
    struct log_cells *cells = &piece->cells[i];
    if (cells->column->kind == LOG_COLUMN_TIME)
      find_first_time(piece, cells);
    pack(piece, run, cells);
  }
  for (size_t i = 0; plan->count_slot > 0 && i < run->rows; i++)
    piece->row_number[i] = (int64_t)(piece->rows - run->rows + i);
  if (plan->count_slot > 0)
    pack_rising(piece, run, plan->count_slot, piece->row_number);
  run->size = piece->packed_size - run->from;
  piece->run_rows = 0;
}
