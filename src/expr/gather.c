/* Taking samples and joining what was taken: see gather.h. Reading order: gather_take and gather_join at the end. */
#include "expr/gather.h"

#include <math.h>
#include <stdlib.h>

#define PAIRS_MOST 2048

void gather_init(struct gather *gather, struct arena *arena)
{
  gather->arena = arena;
  if (gather->wanted & GATHER_SUMS)
    gather->sums = ARENA_ARRAY(arena, GATHER_SUM_COUNT, struct exact);
  if (gather->wanted & GATHER_HELD)
    gather->held = ARENA_NEW(arena, struct exact);
  if (gather->wanted & GATHER_JUDGED)
    gather->judged = ARENA_NEW(arena, struct exact);
  if (gather->wanted & GATHER_VISITS)
    visits_init(&gather->visits, arena);
  tally_init(&gather->values, arena);
  gather->pairs = (struct pairs){.step = 1};
  gather->spans = (struct spans){.least = gather->spans.least, .clean = true, .head_clean = true};
}

/* ---- pairs */

static void pairs_thin(struct pairs *pairs, size_t step)
{
  size_t kept = 0;
  for (size_t i = 0; i < pairs->count; i++) {
    if (pairs->items[i].row % step == 0)
      pairs->items[kept++] = pairs->items[i];
  }
  pairs->count = kept;
  pairs->step = step;
}

static void pairs_add(struct pairs *pairs, struct arena *arena, struct pair_sample sample)
{
  while (pairs->count == PAIRS_MOST && sample.row % pairs->step == 0)
    pairs_thin(pairs, pairs->step * 2);
  if (sample.row % pairs->step != 0)
    return;
  pairs->items = arena_grow(arena, pairs->items, pairs->count, &pairs->capacity, sizeof *pairs->items);
  pairs->items[pairs->count++] = sample;
}

static void pairs_join(struct pairs *pairs, struct arena *arena, const struct pairs *next)
{
  if (next->step > pairs->step)
    pairs_thin(pairs, next->step);
  for (size_t i = 0; i < next->count; i++)
    pairs_add(pairs, arena, next->items[i]);
}

/* ---- spans: a condition true without a break. Missing samples are bridged for as long as a gap may be. */

static bool span_is_long(const struct spans *spans, const struct span *span)
{
  return span->end - span->start >= spans->least - RUN_TIME_SLACK;
}

/* The last span is over: kept when long enough, or while it may be the end of one that began in rows not seen. */
static void spans_close(struct spans *spans)
{
  const struct span *last = spans->items ? &spans->items[spans->count - 1] : NULL;
  if (last && spans->open && !span_is_long(spans, last) && !(spans->count == 1 && spans->head_clean))
    spans->count--;
  spans->open = false;
}

static bool spans_bridge(const struct span *span, size_t row, double at)
{
  return row == span->to + 1 || at - span->end <= RUN_GAP_SECONDS + RUN_TIME_SLACK;
}

static void spans_true(struct spans *spans, struct arena *arena, size_t row, double at)
{
  struct span *last = spans->count > 0 ? &spans->items[spans->count - 1] : NULL;
  if (last && spans->open && spans->clean && spans_bridge(last, row, at)) {
    last->to = row;
    last->end = at;
    return;
  }
  if (spans->open)
    spans_close(spans);
  else if (spans->count == 0)
    spans->head_clean = spans->clean;
  spans->items = arena_grow(arena, spans->items, spans->count, &spans->capacity, sizeof *spans->items);
  spans->items[spans->count++] = (struct span){row, row, at, at};
  spans->open = spans->clean = true;
}

/* One past the rows from i on that say the same. */
static size_t same_until(const struct vector *series, size_t i)
{
  const uint8_t *other = memchr(series->on + i, series->on[i] ? 0 : 1, series->count - i);
  return other ? (size_t)(other - series->on) : series->count;
}

/* Where every row is known: a run of equal rows at a time. */
static void spans_take_known(struct gather *gather, const struct stretch *stretch)
{
  struct spans *spans = &gather->spans;
  const struct timebase *time = stretch->time;
  size_t count = stretch->series->count, end = 0;
  for (size_t i = 0; i < count; i = end) {
    end = same_until(stretch->series, i);
    size_t stops = run_end(time, i); /* of the stretch: a span ends there too */
    end = end < stops ? end : stops;
    if (!stretch->series->on[i]) {
      spans->clean = false;
      continue;
    }
    spans_true(spans, gather->arena, stretch->rows.from + i, time->at[i]);
    struct span *last = &spans->items[spans->count - 1];
    last->to = stretch->rows.from + end - 1;
    last->end = time->at[end - 1];
    if (stops == end)
      spans->clean = false;
  }
}

static void spans_take(struct gather *gather, const struct stretch *stretch)
{
  struct spans *spans = &gather->spans;
  const struct vector *series = stretch->series;
  const struct timebase *time = stretch->time;
  if (!series->known) {
    spans_take_known(gather, stretch);
    return;
  }
  for (size_t i = 0; i < series->count; i++) {
    if (run_known_at(series, i)) {
      if (series->on[i])
        spans_true(spans, gather->arena, stretch->rows.from + i, time->at[i]);
      else
        spans->clean = false;
    }
    if (run_end(time, i) == i + 1)
      spans->clean = false;
  }
}

static void spans_join(struct spans *spans, struct arena *arena, const struct spans *next)
{
  if (next->count == 0) {
    spans->clean = spans->clean && next->clean && next->head_clean;
    spans->head_clean = spans->head_clean && (spans->count > 0 || next->head_clean);
    return;
  }
  const struct span *head = &next->items[0];
  struct span *last = spans->count > 0 ? &spans->items[spans->count - 1] : NULL;
  bool joined = last && spans->open && spans->clean && next->head_clean && spans_bridge(last, head->from, head->start);
  if (joined) {
    last->to = head->to;
    last->end = head->end;
  } else {
    spans->head_clean = spans->head_clean && (spans->count > 0 || (spans->clean && next->head_clean));
  }
  if (spans->open && !(joined && next->count == 1 && next->open))
    spans_close(spans);
  for (size_t i = joined ? 1 : 0; i < next->count; i++) {
    bool kept = (spans->count == 0 && spans->head_clean) || (i + 1 == next->count && next->open);
    if (!kept && !span_is_long(spans, &next->items[i]))
      continue;
    spans->items = arena_grow(arena, spans->items, spans->count, &spans->capacity, sizeof *spans->items);
    spans->items[spans->count++] = next->items[i];
  }
  spans->open = next->open;
  spans->clean = next->clean;
}

/* ---- time: each sample stands until the next one of its stretch */

/* Where every row is known: a run of equal rows at a time. */
static void held_take_known(const struct gather *gather, const struct stretch *stretch)
{
  const struct timebase *time = stretch->time;
  size_t count = stretch->series->count, end = 0;
  for (size_t i = 0; i < count; i = end) {
    end = same_until(stretch->series, i);
    size_t stops = run_end(time, i), last = end < stops ? end : stops - 1; /* where its last sample stands until */
    end = end < stops ? end : stops;
    if (!stretch->series->on[i] || last == i)
      continue;
    exact_add(gather->held, -time->at[i]);
    exact_add(gather->held, time->at[last]);
  }
}

static void times_take(const struct gather *gather, const struct stretch *stretch)
{
  const struct vector *series = stretch->series;
  const struct timebase *time = stretch->time;
  bool judged = false, held = false;
  if (!gather->judged && !series->known) {
    held_take_known(gather, stretch);
    return;
  }
  /* Steps one after the other add up to the last time less the first, whatever the rows in between. */
  for (size_t i = 0; i <= series->count; i++) {
    bool stands = i < series->count && run_end(time, i) > i + 1;
    bool now_judged = stands && run_known_at(series, i), now_held = now_judged && series->on[i];
    if (gather->judged && now_judged != judged)
      exact_add(gather->judged, judged ? time->at[i] : -time->at[i]);
    if (now_held != held)
      exact_add(gather->held, held ? time->at[i] : -time->at[i]);
    judged = now_judged;
    held = now_held;
  }
}

/* ---- samples */

/* The rows that count, those known in every series; `row` NULL: all do. */
struct chosen {
  size_t count;
  const size_t *row;
};

static struct chosen choose(const struct stretch *stretch, size_t *row)
{
  const uint8_t *a = stretch->series->known, *b = stretch->other ? stretch->other->known : NULL;
  struct chosen chosen = {stretch->series->count, NULL};
  if (!a && !b)
    return chosen;
  size_t kept = 0, count = stretch->series->count;
  for (size_t i = 0; i < count;) {
    uint64_t eight = 1;
    if (count - i >= sizeof eight)
      memcpy(&eight, (a ? a : b) + i, sizeof eight);
    if (eight == 0) { /* mostly few rows count */
      i += sizeof eight;
      continue;
    }
    row[kept] = i;
    kept += (size_t)((a ? a[i] : 1) & (b ? b[i] : 1));
    i++;
  }
  return (struct chosen){kept, row};
}

/* The numbers of the chosen rows, one after the other. */
static const double *chosen_numbers(const struct chosen *chosen, const double *at, double *room)
{
  if (!chosen->row)
    return at;
  for (size_t i = 0; i < chosen->count; i++)
    room[i] = at[chosen->row[i]];
  return room;
}

static void extremes_take(struct gather *gather, size_t count, const double *at)
{
  double least = gather->known == 0 ? INFINITY : gather->least, most = gather->known == 0 ? -INFINITY : gather->most;
  for (size_t i = 0; i < count; i++) {
    least = at[i] < least ? at[i] : least;
    most = at[i] > most ? at[i] : most;
  }
  gather->least = least;
  gather->most = most;
}

static void sums_take(struct gather *gather, size_t count, const double *y, const double *x)
{
  struct exact *sums = gather->sums;
  exact_add_many(&sums[SUM_Y], y, count);
  if (!(gather->wanted & GATHER_SQUARES))
    return;
  exact_add_products(&sums[SUM_YY], y, y, count);
  if (!x)
    return;
  exact_add_many(&sums[SUM_X], x, count);
  exact_add_products(&sums[SUM_XX], x, x, count);
  exact_add_products(&sums[SUM_XY], x, y, count);
}

static void numbers_take(struct gather *gather, const struct stretch *stretch, const struct chosen *chosen)
{
  const double *y = chosen_numbers(chosen, stretch->series->at, stretch->numbers[0]),
               *x = stretch->other ? chosen_numbers(chosen, stretch->other->at, stretch->numbers[1]) : NULL;
  size_t count = chosen->count;
  int wanted = gather->wanted;
  if (wanted & GATHER_EXTREMES)
    extremes_take(gather, count, y);
  if (wanted & GATHER_ENDS) {
    gather->first = gather->known == 0 ? y[0] : gather->first;
    gather->last = y[count - 1];
  }
  if (wanted & GATHER_SUMS)
    sums_take(gather, count, y, x);
  if (wanted & GATHER_VALUES)
    tally_take(&gather->values, gather->arena, y, count);
  for (size_t i = 0; wanted & GATHER_PAIRS && x && i < count; i++) {
    size_t row = stretch->rows.from + (chosen->row ? chosen->row[i] : i);
    pairs_add(&gather->pairs, gather->arena, (struct pair_sample){y[i], x[i], row});
  }
}

static double largest_error(const struct vector *series, const struct chosen *chosen, double sofar)
{
  for (size_t i = 0; series && series->error && i < chosen->count; i++) {
    double error = series->error[chosen->row ? chosen->row[i] : i];
    sofar = error > sofar ? error : sofar;
  }
  return sofar;
}

static void samples_take(struct gather *gather, const struct stretch *stretch)
{
  struct chosen chosen = choose(stretch, stretch->room);
  if (chosen.count == 0)
    return;
  if (gather->values.again) { /* all but the values is known already */
    tally_take(&gather->values, gather->arena, chosen_numbers(&chosen, stretch->series->at, stretch->numbers[0]),
               chosen.count);
    return;
  }
  gather->error = largest_error(stretch->series, &chosen, gather->error);
  gather->other_error = largest_error(stretch->other, &chosen, gather->other_error);
  const uint8_t *on = stretch->series->on;
  for (size_t i = 0; on && i < chosen.count; i++)
    gather->on += on[chosen.row ? chosen.row[i] : i];
  if (stretch->series->at && stretch->numbers[0])
    numbers_take(gather, stretch, &chosen);
  gather->known += chosen.count;
}

void gather_take(struct gather *gather, const struct stretch *stretch)
{
  if (gather->wanted & GATHER_SPANS)
    spans_take(gather, stretch);
  if (gather->wanted & GATHER_HELD)
    times_take(gather, stretch);
  if (gather->wanted & GATHER_VISITS)
    visits_take(&gather->visits, stretch);
  if (!stretch->series->none && !(stretch->other && stretch->other->none))
    samples_take(gather, stretch);
}

void gather_join(struct gather *gather, const struct gather *next)
{
  tally_join(&gather->values, gather->arena, &next->values);
  if (gather->values.again)
    return;
  if (next->known > 0) {
    bool fresh = gather->known == 0;
    gather->least = fresh ? next->least : fmin(gather->least, next->least);
    gather->most = fresh ? next->most : fmax(gather->most, next->most);
    gather->first = fresh ? next->first : gather->first;
    gather->last = next->last;
  }
  gather->known += next->known;
  gather->on += next->on;
  gather->error = fmax(gather->error, next->error);
  gather->other_error = fmax(gather->other_error, next->other_error);
  for (size_t i = 0; gather->sums && i < GATHER_SUM_COUNT; i++)
    exact_merge(&gather->sums[i], &next->sums[i]);
  if (gather->held)
    exact_merge(gather->held, next->held);
  if (gather->judged)
    exact_merge(gather->judged, next->judged);
  pairs_join(&gather->pairs, gather->arena, &next->pairs);
  spans_join(&gather->spans, gather->arena, &next->spans);
  if (gather->wanted & GATHER_VISITS)
    visits_join(&gather->visits, &next->visits);
}
