/* Which item is which setting. Reading order: draft_match; score_of (kind, words, unit, range); take_best (the best
 * pair first, each item once); doubts. The numbers are common practice, no source; tests/unit/test_read_draft.c holds
 * what they must reach. */
#include "read/draft_parts.h"

#include <math.h>
#include <stdlib.h>

#define WORDS_LEAST 0.3
#define NEARLY 0.9 /* of the score: the runner-up is as good */
#define RIVALS_NAMED 2
#define NO_UNIT 0.9 /* a setting with a unit, and none is written */
#define OUT_OF_RANGE 0.7
#define USUAL_RATIO 14.7    /* of petrol */
#define USUAL_BAROMETER 1e5 /* Pa */

static bool is_one_of(struct slice text, const char *const *words)
{
  for (size_t i = 0; words[i] != NULL; i++) {
    if (text.size == strlen(words[i]) && slice_distance(text, slice_of(words[i])) == 0)
      return true;
  }
  return false;
}

static bool is_switch(const struct draft_item *item)
{
  static const char *const words[] = {"on",       "off",    "yes",      "no", "true", "false", "enabled",
                                      "disabled", "active", "inactive", "0",  "1",    NULL};
  return item->count == 1 && is_one_of(item->text, words);
}

static bool is_empty_list(const struct draft_item *item)
{
  static const char *const words[] = {"none", "-", "no", "off", NULL};
  return item->count == 1 && is_one_of(item->text, words);
}

static bool is_mixture(const struct unit *unit)
{
  return unit != NULL && unit->dimension.of[DIM_MIXTURE] != 0;
}

/* A written number in base units, as the adapter would read it. */
static double base_of(const struct draft_item *item, const struct unit *wanted, bool ratio, double written)
{
  const struct unit *unit = item->unit.unit != NULL && !ratio ? item->unit.unit : wanted;
  double base = unit_to_base(unit, written * item->scale);
  if (ratio)
    return base / USUAL_RATIO;
  return item->unit.kind == DRAFT_GAUGE ? base + USUAL_BAROMETER : base;
}

/* Share of the numbers that are plausible. */
static double share_in_range(const struct draft_item *item, const struct entry *entry, bool ratio)
{
  size_t good = 0;
  double slack = 1e-6 * (entry->range_high - entry->range_low);
  for (size_t i = 0; i < item->number_count; i++) {
    double base = base_of(item, entry->unit, ratio, item->numbers[i]);
    good += base >= entry->range_low - slack && base <= entry->range_high + slack;
  }
  return item->number_count == 0 ? 1 : (double)good / (double)item->number_count;
}

/* Lambda is near 1, an air-fuel ratio far above. */
static bool is_ratio(const struct draft_item *item, const struct entry *entry)
{
  if (!is_mixture(entry->unit))
    return false;
  if (item->unit.kind == DRAFT_RATIO)
    return true;
  return item->unit.unit == NULL && entry->has_range && share_in_range(item, entry, false) == 0 &&
         share_in_range(item, entry, true) == 1;
}

static bool fits_kind(const struct draft *draft, const struct entry *entry, const struct draft_item *item)
{
  bool single = item->numeric && item->number_count == 1;
  switch (entry->kind) {
  case VALUE_NUMBER:
    return single;
  case VALUE_SWITCH:
    return is_switch(item);
  case VALUE_CHOICE:
    return item->count == 1 && !item->numeric && draft_words_choice(entry, item->text) < entry->choice_count;
  case VALUE_TEXT:
    return item->count == 1 && (!item->numeric || single) && !is_switch(item) && draft->style.shape < SHAPE_COUNT;
  case VALUE_LIST:
    return (item->numeric && item->number_count <= LIMIT_AXIS && item->row_count == 0) || is_empty_list(item);
  case VALUE_CURVE:
  case VALUE_TABLE:
    return item->numeric && item->number_count > 1;
  default:
    return false;
  }
}

static double score_unit(const struct draft_item *item, const struct entry *entry)
{
  if (entry->unit == NULL || !item->numeric)
    return 1;
  if (item->unit.unit == NULL)
    return dimension_is_none(entry->unit->dimension) && strcmp(entry->unit->name, "%") != 0 ? 1 : NO_UNIT;
  if (!unit_agrees(item->unit.unit, entry->unit))
    return 0;
  return item->unit.kind == DRAFT_RATIO && !is_mixture(entry->unit) ? 0 : 1;
}

static double score_of(const struct draft *draft, size_t index, struct draft_item *item, struct draft_place *out)
{
  const struct entry *entry = &draft->vocabulary->entries[SCOPE_TUNE][index];
  *out = (struct draft_place){.entry = index, .item = item};
  if (item->is_note || item->used || !fits_kind(draft, entry, item))
    return 0;
  double score = score_unit(item, entry);
  if (score > 0)
    score *= draft_words_score(draft->lexicon, index, &item->own, &item->around);
  if (score < WORDS_LEAST)
    return 0;
  out->ratio = is_ratio(item, entry);
  if (entry->has_range && item->numeric && share_in_range(item, entry, out->ratio) < 1)
    score *= OUT_OF_RANGE;
  if (entry->kind == VALUE_CURVE || entry->kind == VALUE_TABLE) {
    double axes = entry->kind == VALUE_CURVE ? draft_curve_axis(draft, index, item, out)
                                             : draft_table_axes(draft, index, item, out);
    score *= axes > 0 ? 0.6 + 0.4 * axes : 0;
  }
  if (entry->kind == VALUE_LIST && item->numeric && item->number_count == 1)
    score *= 0.8; /* a single number is rarely a list */
  if (entry->kind == VALUE_CHOICE)
    out->choice = draft_words_choice(entry, item->text);
  out->score = score;
  return score;
}

/* ---- the best pairs */

struct pairs {
  struct draft_place *items;
  size_t count, capacity;
};

static int pair_compare(const void *a, const void *b)
{
  const struct draft_place *x = a, *y = b;
  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  if (x->entry != y->entry)
    return x->entry < y->entry ? -1 : 1;
  return (x->item > y->item) - (x->item < y->item);
}

static bool shared(const struct draft_item *values, const struct draft_item *axis)
{
  return values->x == axis || values->y == axis;
}

static void take_best(struct pairs *pairs, struct draft_place *places)
{
  for (size_t i = 0; i < pairs->count; i++) {
    const struct draft_place *pair = &pairs->items[i];
    struct draft_item *x = (struct draft_item *)pair->x, *y = (struct draft_item *)pair->y;
    if (places[pair->entry].item != NULL || pair->item->used || (x != NULL && x->used && !shared(pair->item, x)) ||
        (y != NULL && y != pair->item && y->used && !shared(pair->item, y)))
      continue;
    places[pair->entry] = *pair;
    pair->item->used = true;
    if (x != NULL)
      x->used = true;
    if (y != NULL)
      y->used = true;
  }
}

/* ---- doubts */

static void doubt(const struct draft *draft, struct draft_place *place, const char *why)
{
  place->doubt = place->doubt == NULL ? why : arena_print(draft->arena, "%s; %s", place->doubt, why);
}

static bool has_unit(const struct entry *entry)
{
  return entry->unit != NULL && (!dimension_is_none(entry->unit->dimension) || strcmp(entry->unit->name, "%") == 0);
}

/* Whether the item says that a switch is on when the function is off. */
static bool is_negative(const struct draft_item *item)
{
  static const char *const words[] = {"disabled", "disable", "inhibit", "inhibited", "bypass", "frozen"};
  struct slice text = item->step_count > 0 ? item->steps[item->step_count - 1].text : item->text;
  for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
    size_t size = strlen(words[i]);
    for (size_t at = 0; at + size <= text.size; at++) {
      if (slice_distance(slice_part(text, at, at + size), slice_of(words[i])) == 0)
        return true;
    }
  }
  return false;
}

/* Breakpoints without a unit; those in the paths of rows may have theirs in the table's corner. */
static void doubt_axis(const struct draft *draft, const struct entry *entry, struct draft_place *place, bool y)
{
  const struct draft_item *axis = y ? place->y : place->x, *other = y ? place->x : place->y;
  const struct unit *wanted = y ? entry->y_unit : entry->x_unit;
  if (axis == NULL || wanted == NULL)
    return;
  bool rows = axis == place->item;
  const struct unit *unit = rows ? axis->row_unit.unit : axis->unit.unit;
  if (unit == NULL && rows && other != NULL)
    unit = other->row_unit.unit;
  if (unit == NULL)
    doubt(draft, place,
          arena_print(draft->arena, "no unit is written for %s: taken for %s", y ? "y" : "x", wanted->name));
  if (!rows && axis->unit.kind == DRAFT_GAUGE && draft->barometer == NULL)
    doubt(draft, place, "a gauge pressure: what did the barometer read?");
}

static void doubt_reading(const struct draft *draft, const struct entry *entry, struct draft_place *place)
{
  const struct draft_item *item = place->item;
  if (has_unit(entry) && item->numeric && item->unit.unit == NULL && !place->ratio)
    doubt(draft, place, arena_print(draft->arena, "no unit is written: taken for %s", entry->unit->name));
  if (place->ratio && item->unit.kind != DRAFT_RATIO)
    doubt(draft, place, "taken for an air-fuel ratio");
  if (place->ratio && draft->stoichiometric == NULL)
    doubt(draft, place, "which ratio is lambda 1 was not found: 14.7 is that of petrol");
  if (item->unit.kind == DRAFT_GAUGE && draft->barometer == NULL)
    doubt(draft, place, "a gauge pressure: what did the barometer read?");
  if (entry->has_range && item->numeric && share_in_range(item, entry, place->ratio) < 1)
    doubt(draft, place,
          arena_print(draft->arena, "%s to %s is usual",
                      quantity_print(draft->arena, (struct quantity){entry->range_low, entry->unit}, NULL, 0),
                      quantity_print(draft->arena, (struct quantity){entry->range_high, entry->unit}, NULL, 0)));
  doubt_axis(draft, entry, place, false);
  doubt_axis(draft, entry, place, true);
  if (place->swapped)
    doubt(draft, place, "which axis is which is not written");
  if (entry->kind == VALUE_SWITCH && is_negative(item)) {
    place->inverted = true;
    doubt(draft, place, "sounds as if it were the other way round");
  }
}

/* A pair that lost by little: its other half was placed worse, or not at all. */
static void doubt_rivals(const struct draft *draft, const struct pairs *pairs, struct draft_place *places)
{
  for (size_t i = 0; i < pairs->count; i++) {
    const struct draft_place *pair = &pairs->items[i];
    const struct entry *entries = draft->vocabulary->entries[SCOPE_TUNE];
    struct draft_place *mine = &places[pair->entry];
    if (mine->item == pair->item)
      continue;
    if (mine->item != NULL && !pair->item->used && pair->score > NEARLY * mine->score && mine->rivals++ < RIVALS_NAMED)
      doubt(draft, mine,
            arena_print(draft->arena, "%s is nearly as good", draft_path_pattern(draft, pair->item, DRAFT_MATCH)));
    for (size_t k = 0; mine->item == NULL && k < draft->vocabulary->count[SCOPE_TUNE]; k++) {
      if (places[k].item == pair->item && pair->score > NEARLY * places[k].score && places[k].rivals++ < RIVALS_NAMED)
        doubt(draft, &places[k], arena_print(draft->arena, "may be %.*s", SLICE_ARG(entries[pair->entry].name)));
    }
  }
}

static void find_barometer(struct draft *draft)
{
  struct draft_words wanted = {0};
  draft_words_add(draft->lexicon, slice_of("barometric"), false, &wanted);
  for (size_t i = 0; i < draft->item_count && wanted.count > 0; i++) {
    struct draft_item *item = &draft->items[i];
    const struct unit *kilopascal = unit_find(slice_of("kPa"));
    if (!item->numeric || item->number_count != 1 || item->used || !draft_words_hold(&item->own, wanted.id[0]) ||
        item->unit.unit == NULL || !unit_agrees(item->unit.unit, kilopascal))
      continue;
    double base = base_of(item, kilopascal, false, item->numbers[0]);
    if (base < 5e4 || base > 1.1e5)
      continue;
    draft->barometer = item;
    item->used = true;
    return;
  }
}

/* The record that says which air-fuel ratio is lambda 1, as a plain number. */
static void find_stoichiometric(struct draft *draft, const struct draft_place *places)
{
  const struct entry *entry = vocabulary_find(draft->vocabulary, SCOPE_TUNE, slice_of("engine.stoichiometric_ratio"));
  const struct draft_item *item =
      entry == NULL ? NULL : places[vocabulary_index(draft->vocabulary, SCOPE_TUNE, entry)].item;
  if (item != NULL && !item->hex && item->scale == 1 && !item->unit_in_text)
    draft->stoichiometric = item;
}

struct draft_place *draft_match(struct draft *draft)
{
  size_t entries = draft->vocabulary->count[SCOPE_TUNE];
  struct draft_place *places = ARENA_ARRAY(draft->arena, entries, struct draft_place);
  struct pairs pairs = {0};
  draft_pins_find(draft, places);
  for (size_t i = 0; i < draft->item_count; i++) {
    for (size_t k = 0; k < entries; k++) {
      struct draft_place place;
      if (places[k].pins != NULL || score_of(draft, k, &draft->items[i], &place) < DRAFT_LEAST)
        continue;
      pairs.items = arena_grow(draft->arena, pairs.items, pairs.count, &pairs.capacity, sizeof *pairs.items);
      pairs.items[pairs.count++] = place;
    }
  }
  if (pairs.count > 0)
    qsort(pairs.items, pairs.count, sizeof *pairs.items, pair_compare);
  take_best(&pairs, places);
  find_barometer(draft);
  find_stoichiometric(draft, places);
  for (size_t k = 0; k < entries; k++) {
    const struct entry *entry = &draft->vocabulary->entries[SCOPE_TUNE][k];
    if (places[k].item == NULL)
      continue;
    if (places[k].score < DRAFT_SURE)
      doubt(draft, &places[k], "the words fit in part");
    doubt_reading(draft, entry, &places[k]);
  }
  doubt_rivals(draft, &pairs, places);
  return places;
}
