/* The rows of a log. It is cut into pieces of about equal size, whatever stands there: a piece starts with the first
 * line behind its cut, on the guess that the cut is in no quoted cell and that all before it has settled what is
 * settled by then. Whoever reads a piece waits for its turn and joins it to the rows before; a guess that was wrong
 * shows there, and the piece is read once more, knowing. Reading order: log_rows_read, work, join. */
#include "read/log_rows.h"

#include "base/limits.h"

#include <math.h>
#include <pthread.h>

/* The first piece settles decimal sign and clock; it is short, so that the others need not wait. */
#define FIRST_BYTES ((size_t)16 * 1024)
#define SECONDS_OF_HALF_DAY 43200.0

/* What the threads share. */
struct crew {
  struct log_rows *rows;
  pthread_mutex_t lock;
  pthread_cond_t turn;
  size_t taken, joined; /* pieces */
  bool stopped;         /* nothing more is joined */
  struct log_state state;
};

static uint64_t cut_before(const struct log_rows *rows, size_t piece)
{
  const struct log_layout *layout = rows->plan.layout;
  uint64_t data = log_place(&layout->text, layout->data, layout->data).start;
  size_t first = rows->piece_bytes < FIRST_BYTES ? rows->piece_bytes : FIRST_BYTES;
  uint64_t cut = piece == 0 ? data : data + first + (uint64_t)(piece - 1) * rows->piece_bytes;
  return cut < layout->end ? cut : layout->end;
}

static bool is_last(const struct log_rows *rows, size_t piece)
{
  return cut_before(rows, piece + 1) == rows->plan.layout->end;
}

/* A guess about what comes before leaves out the time of the last row. */
static bool same_state(const struct log_state *a, const struct log_state *b)
{
  return a->point.settled == b->point.settled && a->point.sign == b->point.sign && a->clock.form == b->clock.form &&
         a->clock.first == b->clock.first && a->clock.midnights == b->clock.midnights;
}

static bool guessed_right(const struct log_rows *rows, const struct log_piece *piece)
{
  return piece->start == rows->next && same_state(&piece->before, &rows->state) &&
         !(piece->has_tod && piece->first_tod < rows->state.clock.last - SECONDS_OF_HALF_DAY);
}

static void join_columns(struct log_rows *rows, struct log_piece *piece)
{
  const struct log_column *time = rows->time;
  if (piece->has_first && !rows->has_first && time != NULL) {
    bool number = piece->state.clock.form == LOG_TIME_NUMBER;
    columns_scale(
        rows->set, time->slot,
        (struct column_scale){.unit = number ? time->unit : unit_find(slice_of("s")), .first = piece->first_time});
    rows->has_first = true;
  }
  for (size_t i = 0; i < piece->run_count; i++) {
    struct log_run *run = &piece->runs[i];
    size_t numbered = rows->plan.count_slot;
    if (numbered > 0) {
      run->runs[numbered].least += (int64_t)rows->count;
      run->ranges[numbered].low += (double)rows->count;
      run->ranges[numbered].high += (double)rows->count;
    }
    columns_add(rows->set, run->rows, run->runs, run->ranges, piece->packed + run->from, run->size);
    for (size_t k = 0; k < rows->plan.column_count; k++)
      rows->columns[k].good += run->ranges[rows->columns[k].slot].known;
  }
}

static void join_counts(struct log_rows *rows, const struct log_piece *piece)
{
  for (size_t i = 0; i < rows->plan.column_count; i++) {
    const struct log_bad *bad = &piece->cells[i].bad;
    struct log_bad *all = &rows->columns[i].bad;
    size_t count = all->count + bad->count;
    if (all->count == 0 && bad->count > 0)
      *all = *bad;
    all->count = count;
  }
  if (rows->long_count == 0)
    rows->first_long = piece->first_long;
  if (rows->short_count == 0)
    rows->first_short = piece->first_short;
  rows->long_count += piece->long_count;
  rows->short_count += piece->short_count;
  rows->widest = piece->widest > rows->widest ? piece->widest : rows->widest;
  for (size_t i = 0; i < piece->marker_count; i++)
    log_notes_add_marker(rows->notes, i < LOG_MARKERS_KEPT ? piece->markers[i].place : PLACE_NONE,
                         i < LOG_MARKERS_KEPT ? piece->markers[i].shown : "");
}

static void add(struct log_rows *rows, struct log_piece *piece)
{
  join_columns(rows, piece);
  join_counts(rows, piece);
  rows->count += piece->rows;
  if (piece->rows > 0)
    rows->rows_end = piece->rows_end;
  double last = rows->state.clock.last;
  rows->state = piece->state;
  if (rows->state.clock.last == -HUGE_VAL)
    rows->state.clock.last = last;
  rows->next = piece->next;
}

/* The log's last row has no line end: cut off, when the others are longer. */
static bool join_open(struct log_rows *rows, struct log_piece *piece)
{
  size_t columns = rows->plan.layout->column_count;
  size_t usual = rows->count == 0 || rows->widest > columns ? columns : rows->widest;
  struct place place = {rows->plan.source->id, piece->open_at, piece->end};
  if (piece->cut_in_quote || piece->open_count < usual) {
    log_notes_add(rows->notes, LOG_NOTE_TRUNCATED, place, "the last row is cut off and was left out");
    rows->next = piece->end;
    return true;
  }
  if (rows->count == LIMIT_LOG_ROWS)
    return problems_add(rows->problems, place, "more than %d rows", LIMIT_LOG_ROWS);
  log_piece_read_open(piece);
  add(rows, piece);
  return true;
}

/* false: a problem was added. */
static bool join(struct log_rows *rows, struct log_piece *piece)
{
  size_t room = LIMIT_LOG_ROWS - rows->count;
  if (!guessed_right(rows, piece) || piece->rows > room) {
    struct log_state state = rows->state;
    log_piece_read(piece, rows->next, piece->limit, true, &state, room);
  }
  add(rows, piece);
  if (piece->error != 0)
    return source_refuse(rows->problems, rows->plan.source, piece->error);
  if (piece->over)
    return problems_add(rows->problems, piece->over_at, "more than %d rows", LIMIT_LOG_ROWS);
  if (piece->fault.fault != CSV_SOUND)
    return log_layout_refuse(&piece->fault, rows->problems);
  return piece->has_open || piece->cut_in_quote ? join_open(rows, piece) : true;
}

/* Reads pieces and joins them until none is left. */
static bool work(struct crew *crew, struct log_piece *piece)
{
  struct log_rows *rows = crew->rows;
  bool good = true;
  pthread_mutex_lock(&crew->lock);
  while (!crew->stopped) {
    size_t index = crew->taken++;
    struct log_state guess = crew->state;
    pthread_mutex_unlock(&crew->lock);
    guess.clock.last = -HUGE_VAL;
    uint64_t from = cut_before(rows, index), limit = cut_before(rows, index + 1);
    if (from < limit || index == 0)
      log_piece_read(piece, from, limit, index == 0, &guess, SIZE_MAX);
    pthread_mutex_lock(&crew->lock);
    while (crew->joined != index && !crew->stopped)
      pthread_cond_wait(&crew->turn, &crew->lock);
    if (crew->stopped)
      break;
    pthread_mutex_unlock(&crew->lock);
    good = join(rows, piece);
    pthread_mutex_lock(&crew->lock);
    crew->state = rows->state;
    crew->joined++;
    crew->stopped = !good || is_last(rows, index) || piece->end < rows->plan.layout->end;
    pthread_cond_broadcast(&crew->turn);
    /* Alone, it settles what the others start from. */
    if (index == 0)
      break;
  }
  pthread_mutex_unlock(&crew->lock);
  return good;
}

struct helper {
  struct crew *crew;
  struct log_piece *piece;
  pthread_t thread;
  bool good;
};

static void *help(void *context)
{
  struct helper *helper = context;
  helper->good = work(helper->crew, helper->piece);
  return NULL;
}

/* Where no thread can be had, fewer do. */
static bool work_together(struct crew *crew, struct log_piece *own, struct arena **arenas)
{
  struct log_rows *rows = crew->rows;
  size_t count = 0;
  struct helper *helpers = ARENA_ARRAY(arenas[0], rows->threads, struct helper);
  for (; count + 1 < rows->threads; count++) {
    struct helper *helper = &helpers[count];
    *helper = (struct helper){.crew = crew, .good = true};
    helper->piece = log_piece_new(arenas[count + 1], &rows->plan, rows->piece_bytes);
    if (pthread_create(&helper->thread, NULL, help, helper) != 0)
      break;
  }
  bool good = work(crew, own);
  for (size_t i = 0; i < count; i++) {
    pthread_join(helpers[i].thread, NULL);
    good = good && helpers[i].good;
  }
  return good;
}

bool log_rows_read(struct log_rows *rows)
{
  struct crew crew = {.rows = rows};
  rows->state = (struct log_state){.point = rows->plan.layout->point};
  rows->next = cut_before(rows, 0);
  crew.state = rows->state;
  /* These two cannot fail without attributes. */
  pthread_mutex_init(&crew.lock, NULL);
  pthread_cond_init(&crew.turn, NULL);
  struct arena **arenas = ARENA_ARRAY(rows->arena, rows->threads, struct arena *);
  for (size_t i = 0; i < rows->threads; i++)
    arenas[i] = arena_new();
  struct log_piece *piece = log_piece_new(arenas[0], &rows->plan, rows->piece_bytes);
  bool good = work(&crew, piece);
  if (!crew.stopped)
    good = work_together(&crew, piece, arenas) && good;
  for (size_t i = 0; i < rows->threads; i++)
    arena_free(arenas[i]);
  pthread_cond_destroy(&crew.turn);
  pthread_mutex_destroy(&crew.lock);
  return good;
}
