/* Curves and tables: which items are the axes of which values. Reading order: draft_curve_axis, draft_table_axes; then
 * fits_axis (units and words), is_beside (where axes stand). Axes named by the values themselves go first; else those
 * in the same section with the right count. */
#include "read/draft_parts.h"

#include <math.h>

static bool agrees(const struct draft_unit *unit, const struct unit *wanted)
{
  return unit->unit == NULL || unit_agrees(unit->unit, wanted);
}

/* How well an item's unit and words go with an axis: 0 when the unit is another quantity's. */
static double fits_axis(const struct draft *draft, size_t entry, bool y, const struct draft_unit *unit,
                        const struct draft_words *own)
{
  const struct entry *wanted = &draft->vocabulary->entries[SCOPE_TUNE][entry];
  if (!agrees(unit, y ? wanted->y_unit : wanted->x_unit) || unit->kind == DRAFT_RATIO)
    return 0;
  double words = draft_words_channel(draft->lexicon, entry, y, own);
  return unit->unit != NULL ? 0.8 + 0.2 * words : 0.5 + 0.4 * words;
}

static bool same_step(const struct draft_step *a, const struct draft_step *b)
{
  return a->kind == b->kind && slice_equal(a->text, b->text);
}

/* Steps that two paths share from their starts. */
static size_t shared_steps(const struct draft_item *a, const struct draft_item *b)
{
  size_t shared = 0;
  while (shared < a->step_count && shared < b->step_count && same_step(&a->steps[shared], &b->steps[shared]))
    shared++;
  return shared;
}

/* In the section of the values: all names of their path but the last `up` are the axis' too. */
static bool is_beside(const struct draft_item *values, const struct draft_item *axis, size_t up)
{
  size_t names = 0, shared = 0, same = shared_steps(values, axis);
  for (size_t i = 0; i < values->step_count; i++) {
    names += values->steps[i].kind == DRAFT_TEXT;
    shared += values->steps[i].kind == DRAFT_TEXT && i < same;
  }
  return shared + up >= names && (shared > 0 || values->step_count == 1);
}

static bool is_vector(const struct draft_item *item)
{
  return item->numeric && item->number_count > 1 && item->number_count <= LIMIT_AXIS && item->row_count == 0;
}

static bool runs_down(const double *at, size_t count)
{
  return count > 1 && at[0] > at[count - 1];
}

double draft_curve_axis(const struct draft *draft, size_t entry, const struct draft_item *item, struct draft_place *out)
{
  double best = 0;
  size_t index = (size_t)(item - draft->items);
  if (!is_vector(item))
    return 0;
  for (size_t i = index > 3 ? index - 3 : 0; item->x == NULL && i < draft->item_count && i <= index + 3; i++) {
    const struct draft_item *axis = &draft->items[i];
    size_t apart = i > index ? i - index : index - i;
    if (i == index || !is_vector(axis) || axis->number_count != item->number_count || !is_beside(item, axis, 1))
      continue;
    /* Breakpoints come right before their values, as a rule. */
    double fit = fits_axis(draft, entry, false, &axis->unit, &axis->own) - 0.1 * (double)(apart - 1);
    fit -= i > index ? 0.08 : 0;
    if (fit <= best)
      continue;
    best = fit;
    out->x = axis;
  }
  if (item->x != NULL && item->x->number_count == item->number_count) {
    best = fits_axis(draft, entry, false, &item->x->unit, &item->x->own);
    best = best > 0 ? best * 0.5 + 0.5 : 0;
    out->x = item->x;
  }
  return best;
}

/* What may be an axis of a table: an item, or the breakpoints in the paths of its rows. */
struct side {
  const struct draft_item *item;
  const double *at;
  size_t count;
  const struct draft_unit *unit;
  const struct draft_words *words;
};

#define SIDES 8

static struct side side_of(const struct draft_item *item)
{
  return (struct side){item, item->numbers, item->number_count, &item->unit, &item->own};
}

/* Candidates, in the order of the file. */
static size_t sides_of(const struct draft *draft, const struct draft_item *item, struct side *out)
{
  size_t count = 0, index = (size_t)(item - draft->items);
  if (item->x != NULL)
    out[count++] = side_of(item->x);
  if (item->y != NULL)
    out[count++] = side_of(item->y);
  size_t named = count;
  for (size_t i = index > 4 ? index - 4 : 0; named == 0 && i < draft->item_count && i <= index + 4; i++) {
    if (i != index && count < SIDES && is_vector(&draft->items[i]) && is_beside(item, &draft->items[i], 2))
      out[count++] = side_of(&draft->items[i]);
  }
  return count;
}

/* One pair of axes in one orientation: fast runs along the file. */
static void try_pair(const struct draft *draft, size_t entry, const struct draft_item *item, const struct side *fast,
                     const struct side *slow, struct draft_place *out, double *best)
{
  if (fast->count * slow->count != item->number_count || fast->item == slow->item)
    return;
  if ((item->per_record > 1 && item->count > 1 && item->per_record != fast->count) ||
      (item->rows > 0 && item->rows != slow->count))
    return;
  for (int turned = 0; turned < 2; turned++) {
    const struct side *x = turned ? slow : fast, *y = turned ? fast : slow;
    double x_fit = fits_axis(draft, entry, false, x->unit, x->words);
    double y_fit = fits_axis(draft, entry, true, y->unit, y->words);
    double fit = x_fit > 0 && y_fit > 0 ? sqrt(x_fit * y_fit) - (turned ? 0.02 : 0) : 0;
    /* Two axes of the same length that no unit tells apart. */
    bool guessed = fast->count == slow->count && x->unit->unit == NULL && y->unit->unit == NULL;
    if (fit <= *best)
      continue;
    *best = fit;
    out->x = x->item;
    out->y = y->item;
    out->by_columns = turned != 0;
    out->flip_x = runs_down(x->at, x->count);
    out->flip_y = runs_down(y->at, y->count);
    out->swapped = guessed;
  }
}

double draft_table_axes(const struct draft *draft, size_t entry, const struct draft_item *item, struct draft_place *out)
{
  struct side sides[SIDES + 2];
  double best = 0;
  if (!item->numeric || item->number_count < 4 || (item->count == 1 && item->per_record == 0))
    return 0;
  size_t count = sides_of(draft, item, sides);
  struct side rows = {item, item->row_numbers, item->row_count, &item->row_unit, &item->row_words};
  for (size_t i = 0; i < count; i++) {
    if (item->row_count > 1) {
      const struct draft_item *corner = sides[i].item;
      if (rows.unit->unit == NULL && corner->row_unit.unit != NULL)
        rows.unit = &corner->row_unit;
      if (rows.words->count == 0)
        rows.words = &corner->row_words;
      try_pair(draft, entry, item, &sides[i], &rows, out, &best);
      continue;
    }
    for (size_t k = 0; k < count; k++)
      try_pair(draft, entry, item, &sides[i], &sides[k], out, &best);
  }
  return best;
}
