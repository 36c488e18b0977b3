/* Series to single values: statistics, quantiles, regressions, times. gather.c takes the samples, sweep.c goes through
 * the log; here is what comes out, of two series in regress.c. Sums are exact and round once (base/exact.h): log values
 * such as 10000000.2 +- 0.1 leave nothing of a variance that is taken as a difference of rounded squares. Reading
 * order: run_reduce, the table at the end, then one function a row of it. */
#include "base/limits.h"
#include "expr/builtin.h"
#include "expr/sweep.h"

#include <float.h>
#include <math.h>

double run_select(double *at, size_t count, size_t k)
{
  size_t low = 0, high = count - 1;
  while (low < high) {
    /* median of three keeps sorted and constant input from being the worst case */
    size_t middle = low + (high - low) / 2;
    double a = at[low], b = at[middle], c = at[high];
    double pivot = fmax(fmin(a, b), fmin(fmax(a, b), c));
    size_t i = low, j = high;
    for (;;) {
      while (at[i] < pivot)
        i++;
      while (at[j] > pivot)
        j--;
      if (i >= j)
        break;
      double swap = at[i];
      at[i++] = at[j];
      at[j--] = swap;
    }
    /* everything up to j is <= pivot, everything from j + 1 is >= pivot */
    if (at[j] > pivot)
      j--;
    if (k <= j)
      high = j;
    else
      low = j + 1;
  }
  return at[k];
}

struct result reduce_too_large(struct evaluation *evaluation)
{
  return run_unknown(evaluation, "a result that is not too large for a number");
}

/* In the series' unit. */
struct result reduce_number(struct evaluation *evaluation, const struct gather *gather, double value)
{
  if (!isfinite(value))
    return reduce_too_large(evaluation);
  struct result result = gather->result;
  result.series = (struct vector){0};
  result.largest = 0;
  result.number = value;
  result.error = fmax(result.error, gather->error) + fabs(value) * 4 * DBL_EPSILON;
  return result;
}

static struct result mean(struct evaluation *evaluation, struct gather *gather)
{
  struct exact count = {{0}, 0, false};
  exact_add(&count, (double)gather->known);
  return reduce_number(evaluation, gather, exact_divide(&gather->sums[SUM_Y], &count));
}

static struct result first(struct evaluation *evaluation, struct gather *gather)
{
  return reduce_number(evaluation, gather, gather->first);
}
static struct result last(struct evaluation *evaluation, struct gather *gather)
{
  return reduce_number(evaluation, gather, gather->last);
}

static struct result extreme(const struct gather *gather, double value)
{
  struct result result = gather->result;
  result.series = (struct vector){0};
  result.largest = 0;
  result.number = value;
  result.error = fmax(result.error, gather->error);
  return result;
}

static struct result smallest(struct evaluation *evaluation, struct gather *gather)
{
  (void)evaluation;
  return extreme(gather, gather->least);
}
static struct result largest(struct evaluation *evaluation, struct gather *gather)
{
  (void)evaluation;
  return extreme(gather, gather->most);
}

/* Between samples: a difference, with the rounding of both. */
static struct result spread(struct evaluation *evaluation, struct gather *gather, double value)
{
  struct result result = reduce_number(evaluation, gather, value);
  if (!result.known)
    return result;
  if (gather->call->args[0]->type.of.sense == SENSE_POINT && result.unit)
    result.unit = unit_difference(result.unit);
  result.error += fmax(gather->result.error, gather->error);
  return result;
}

static struct result range(struct evaluation *evaluation, struct gather *gather)
{
  return spread(evaluation, gather, gather->most - gather->least);
}

/* n times the sum of (a - mean a)(b - mean b). */
struct exact reduce_scatter(const struct gather *gather, enum gather_sum a, enum gather_sum b, enum gather_sum both)
{
  struct exact count = {{0}, 0, false}, out = {{0}, 0, false};
  exact_add(&count, (double)gather->known);
  exact_add_exact_product(&out, &count, &gather->sums[both], 1);
  exact_add_exact_product(&out, &gather->sums[a], &gather->sums[b], -1);
  return out;
}

static struct result sum(struct evaluation *evaluation, struct gather *gather)
{
  struct result result = reduce_number(evaluation, gather, exact_round(&gather->sums[SUM_Y]));
  result.error *= (double)gather->known;
  return result;
}

static struct result sd(struct evaluation *evaluation, struct gather *gather)
{
  double n = (double)gather->known;
  struct exact squares = reduce_scatter(gather, SUM_Y, SUM_Y, SUM_YY), pairs = {{0}, 0, false};
  exact_add_product(&pairs, n, n - 1);
  return spread(evaluation, gather, sqrt(fmax(exact_divide(&squares, &pairs), 0)));
}

/* reduce_settle() has told the values at the ranks. */
static struct result median(struct evaluation *evaluation, struct gather *gather)
{
  const struct tally_rank *ranks = gather->values.ranks;
  bool odd = gather->known % 2 == 1;
  return reduce_number(evaluation, gather, odd ? ranks[1].value : (ranks[0].value + ranks[1].value) / 2);
}

static struct result percentile(struct evaluation *evaluation, struct gather *gather)
{
  const struct tally_rank *ranks = gather->values.ranks;
  double rank = gather->part * (double)(gather->known - 1), share = rank - floor(rank);
  return reduce_number(evaluation, gather, ranks[0].value + share * (ranks[1].value - ranks[0].value));
}

bool reduce_settle(struct gather *gather)
{
  if (gather->done || gather->known == 0 || !(gather->wanted & GATHER_VALUES))
    return true;
  size_t last = gather->known - 1, below = last / 2, above = gather->known / 2;
  if (gather->call->builtin->evaluate == builtin_percentile) {
    below = (size_t)floor(gather->part * (double)last);
    above = below < last ? below + 1 : last;
  }
  const size_t ranks[TALLY_RANKS] = {below, above};
  if (tally_settle(&gather->values, gather->arena, ranks))
    return true;
  tally_init(&gather->values, gather->arena);
  return false;
}

static struct result count(struct evaluation *evaluation, struct gather *gather)
{
  (void)evaluation;
  bool conditions = gather->call->args[0]->type.kind == TYPE_SWITCH;
  return run_number((double)(conditions ? gather->on : gather->known), 0, NULL);
}

static struct result any(struct evaluation *evaluation, struct gather *gather)
{
  (void)evaluation;
  if (gather->result.missing && gather->on == 0)
    return (struct result){.missing = gather->result.missing};
  return run_condition(gather->on > 0);
}

static struct result all(struct evaluation *evaluation, struct gather *gather)
{
  (void)evaluation;
  if (gather->result.missing && gather->on == gather->known)
    return (struct result){.missing = gather->result.missing};
  return run_condition(gather->on == gather->known);
}

static struct result duration(struct evaluation *evaluation, struct gather *gather)
{
  (void)evaluation;
  return run_number(exact_round(gather->held), RUN_TIME_SLACK, unit_find(slice_of("s")));
}

static struct result share(struct evaluation *evaluation, struct gather *gather)
{
  double judged = exact_round(gather->judged);
  if (judged <= 0)
    return run_no_sample(evaluation, gather->call);
  return run_number(exact_divide(gather->held, gather->judged), 2 * RUN_TIME_SLACK / judged, unit_find(slice_of("%")));
}

struct reducer {
  struct result (*evaluate)(struct evaluation *evaluation, const struct expr *call);
  int wanted;
  size_t series; /* arguments */
  size_t least;  /* known samples; fewer: unknown */
  struct result (*finish)(struct evaluation *evaluation, struct gather *gather);
};

static const struct reducer reducers[] = {
    {builtin_mean, GATHER_SUMS, 1, 1, mean},
    {builtin_sum, GATHER_SUMS, 1, 0, sum},
    {builtin_median, GATHER_VALUES, 1, 1, median},
    {builtin_first, GATHER_ENDS, 1, 1, first},
    {builtin_last, GATHER_ENDS, 1, 1, last},
    {builtin_sd, GATHER_SUMS | GATHER_SQUARES, 1, 2, sd},
    {builtin_range, GATHER_EXTREMES, 1, 1, range},
    {builtin_min, GATHER_EXTREMES, 1, 1, smallest},
    {builtin_max, GATHER_EXTREMES, 1, 1, largest},
    {builtin_percentile, GATHER_VALUES, 1, 1, percentile},
    {builtin_count, 0, 1, 0, count},
    {builtin_any, 0, 1, 1, any},
    {builtin_all, 0, 1, 1, all},
    {builtin_duration, GATHER_HELD, 1, 0, duration},
    {builtin_share, GATHER_HELD | GATHER_JUDGED, 1, 0, share},
    {builtin_slope, GATHER_SUMS | GATHER_SQUARES, 2, 2, reduce_slope},
    {builtin_intercept, GATHER_SUMS | GATHER_SQUARES, 2, 2, reduce_intercept},
    {builtin_correlation, GATHER_SUMS | GATHER_SQUARES, 2, 2, reduce_correlation},
    {builtin_robust_slope, GATHER_PAIRS, 2, 2, reduce_robust_slope},
    {builtin_robust_intercept, GATHER_PAIRS, 2, 2, reduce_robust_intercept},
    {builtin_spans, GATHER_SPANS, 1, 1, spans_collect},
    {builtin_visits, GATHER_VISITS, 2, 0, visits_collect},
};

/* What comes before its series. */
static size_t leading(const struct expr *call)
{
  return call->builtin->evaluate == builtin_visits ? 1 : 0;
}

const struct expr *reduce_series(const struct expr *call)
{
  return call->args[leading(call)];
}

static const struct reducer *reducer_of(const struct expr *expr)
{
  if (expr->op != EXPR_CALL || expr->count == 0 || !reduce_series(expr)->type.series || expr->type.series)
    return NULL;
  for (size_t i = 0; i < sizeof reducers / sizeof *reducers; i++) {
    if (reducers[i].evaluate == expr->builtin->evaluate)
      return &reducers[i];
  }
  return NULL;
}

bool reduce_is(const struct expr *expr)
{
  return reducer_of(expr) != NULL;
}

bool reduce_begin(struct evaluation *evaluation, const struct expr *call, bool at_hand, struct gather *gather)
{
  const struct reducer *reducer = reducer_of(call);
  *gather =
      (struct gather){.call = call, .reducer = reducer, .wanted = reducer->wanted, .done = true, .at_hand = at_hand};
  struct result args[3] = {{0}};
  size_t before = leading(call), count = call->count - before;
  bool known = true;
  for (size_t i = 0; i < count && i < 3; i++) {
    const struct expr *arg = call->args[before + i];
    bool in_rows = arg->type.series && i < reducer->series + before;
    args[i] = in_rows && !at_hand ? run_traits(evaluation, arg) : evaluate(evaluation, arg);
    known = known && args[i].known;
  }
  gather->result = known || count == 1 ? args[0] : run_unknown_of(evaluation, args, count);
  if (!known)
    return false;
  gather->other = args[1];
  gather->third = args[2];
  gather->part = args[1].number;
  gather->spans.least = args[1].number;
  bool in_part = reducer->evaluate != builtin_percentile || (gather->part >= 0 && gather->part <= 1);
  if (!in_part)
    gather->result = run_unknown(evaluation, "a percentage between 0 and 100");
  else if (reducer->wanted & (GATHER_HELD | GATHER_VISITS) && !run_has_log(evaluation))
    gather->result = run_unknown(evaluation, "log.time");
  else
    gather->done = before > 0 && !run_visited(evaluation, call, gather);
  gather_init(gather, evaluation->arena);
  return !gather->done;
}

struct result reduce_finish(struct evaluation *evaluation, struct gather *gather)
{
  const struct reducer *reducer = gather->reducer;
  if (gather->done)
    return gather->result;
  if (gather->known < reducer->least)
    return run_no_sample(evaluation, gather->call);
  return reducer->finish(evaluation, gather);
}

void reduce_take(struct evaluation *evaluation, struct gather *gather)
{
  const struct reducer *reducer = gather->reducer;
  const struct expr *const *args = (const struct expr *const *)gather->call->args + leading(gather->call);
  struct result series = gather->at_hand ? gather->result : evaluate(evaluation, args[0]), other = {0};
  if (!series.known)
    return;
  bool in_time = (reducer->wanted & (GATHER_HELD | GATHER_SPANS | GATHER_VISITS)) != 0;
  if (reducer->series == 2 && gather->at_hand)
    other = gather->other;
  else if (reducer->series == 2)
    other = series.series.none ? run_traits(evaluation, args[1]) : evaluate(evaluation, args[1]);
  if (reducer->series == 2 && (series.series.none || !other.known))
    return;
  struct timebase time;
  struct stretch stretch = {.rows = evaluation->rows, .series = &series.series};
  if (reducer->series == 2)
    stretch.other = &other.series;
  struct result third = gather->third;
  if (third.known && !gather->at_hand)
    third = evaluate(evaluation, args[2]);
  if (third.known)
    stretch.third = &third.series;
  if (in_time) {
    struct rows rows = evaluation->rows;
    evaluation->rows.to += rows.to < evaluation->row_count;
    time = run_time(evaluation);
    stretch.time = &time;
    evaluation->rows = rows;
  }
  struct room_mark mark = run_mark(evaluation);
  size_t count = series.series.count;
  bool numbers = (reducer->wanted & (GATHER_EXTREMES | GATHER_ENDS | GATHER_SUMS | GATHER_VALUES | GATHER_PAIRS)) != 0;
  stretch.room = run_indexes(evaluation, count);
  for (size_t i = 0; numbers && i < reducer->series; i++)
    stretch.numbers[i] = run_numbers(evaluation, count);
  gather_take(gather, &stretch);
  run_release(evaluation, mark);
}

void reduce_take_all(struct evaluation *evaluation, struct gather *gather)
{
  do
    reduce_take(evaluation, gather);
  while (!reduce_settle(gather));
}

struct result run_reduce(struct evaluation *evaluation, const struct expr *call)
{
  struct gather gather;
  if (!run_is_over_log(reduce_series(call))) {
    if (reduce_begin(evaluation, call, true, &gather))
      reduce_take_all(evaluation, &gather);
    return reduce_finish(evaluation, &gather);
  }
  if (!run_has_log(evaluation)) {
    reduce_begin(evaluation, call, true, &gather);
    return reduce_finish(evaluation, &gather);
  }
  return sweep_one(evaluation, call);
}

struct result builtin_mean(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_sum(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_median(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_first(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_last(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_sd(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_range(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_percentile(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_any(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_all(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_duration(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_share(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_slope(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_intercept(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_correlation(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_robust_slope(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_robust_intercept(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}
struct result builtin_spans(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}

struct result builtin_visits(struct evaluation *evaluation, const struct expr *call)
{
  return run_reduce(evaluation, call);
}

struct result builtin_count(struct evaluation *evaluation, const struct expr *call)
{
  const struct type *type = &call->args[0]->type;
  if (type->series)
    return run_reduce(evaluation, call);
  struct result inner = evaluate(evaluation, call->args[0]);
  if (!inner.known)
    return inner;
  if (type->kind == TYPE_COLLECTION)
    return run_number((double)inner.collection->count, 0, NULL);
  return run_number((double)inner.value->as.list.count, 0, NULL);
}

/* The first place in the log at that time where the series can be told. */
struct result builtin_at(struct evaluation *evaluation, const struct expr *call)
{
  struct result pair[2] = {run_traits(evaluation, call->args[0]), evaluate(evaluation, call->args[1])};
  if (!pair[0].known || !pair[1].known)
    return run_unknown_of(evaluation, pair, 2);
  struct result result = pair[0];
  result.series = (struct vector){0};
  if (run_has_log(evaluation) && sweep_at(evaluation, call->args[0], pair[1].number, &result.number))
    return result;
  return run_no_sample(evaluation, call);
}
