/* Records into items: what belongs together by its path. Reading order: draft_items_read (items, then notes and units,
 * then words); item_of; add_record (numbers). The path of a record that is no number keeps its item; a
 * shape with a unit in a cell of its own is settled in settle_sheet. */
#include "read/draft_parts.h"

#include "base/number.h"

#include <stdlib.h>

#define ITEMS_MOST 5000 /* kinds of records; a real export has some hundreds */
#define BLOCK 3         /* a section of so few items belongs to their names */

struct slot {
  const char *key;
  size_t item;  /* SIZE_MAX: a prefix only */
  size_t below; /* items that stand below it */
};

struct build {
  struct draft *draft;
  struct slot *slots;
  size_t slot_count, used;
  size_t *room; /* capacities of the numbers of each item */
  size_t *row_room;
  size_t *odd_number; /* the last record of each that is no number: its index in the row */
  struct slice *odd_text;
};

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

static struct slot *find_slot(struct build *build, const char *key, bool add)
{
  uint64_t hash = 1469598103934665603u;
  for (const char *c = key; *c != '\0'; c++)
    hash = (hash ^ (unsigned char)*c) * 1099511628211u;
  for (size_t probe = 0; probe < build->slot_count; probe++) {
    struct slot *slot = &build->slots[(hash + probe) & (build->slot_count - 1)];
    if (slot->key != NULL && strcmp(slot->key, key) == 0)
      return slot;
    if (slot->key != NULL)
      continue;
    if (!add || build->used * 2 > build->slot_count)
      return NULL;
    build->used++;
    *slot = (struct slot){arena_text(build->draft->arena, slice_of(key)), SIZE_MAX, 0};
    return slot;
  }
  return NULL;
}

/* ---- numbers */

static bool add_number(struct build *build, size_t index, double number)
{
  struct draft_item *item = &build->draft->items[index];
  if (item->number_count == DRAFT_NUMBERS)
    return false;
  item->numbers =
      arena_grow(build->draft->arena, item->numbers, item->number_count, &build->room[index], sizeof *item->numbers);
  item->numbers[item->number_count++] = number;
  return true;
}

static size_t hex_read(struct slice text, double *out)
{
  if (text.size < 3 || text.size > 14 || text.at[0] != '0' || (text.at[1] | 0x20) != 'x')
    return 0;
  char digits[16];
  memcpy(digits, text.at, text.size);
  digits[text.size] = '\0';
  char *end;
  *out = (double)strtoull(digits + 2, &end, 16);
  return (size_t)(end - digits);
}

static const struct split {
  const char *pattern, *signs;
} splits[] = {{"\\s+", " \t"}, {"\\s*,\\s*", ", \t"}, {"\\s*;\\s*", "; \t"}, {"\\s*\\|\\s*", "| \t"}, {"-", "-"}};

/* All numbers between these signs; 0 when anything else stands there, or fewer than two. */
static size_t count_numbers(const struct draft *draft, struct slice text, const struct split *split, double *out)
{
  size_t count = 0;
  char decimal = draft->decimal;
  if (memchr(split->signs, decimal, strlen(split->signs)) != NULL)
    return 0;
  for (size_t at = 0; at < text.size;) {
    size_t used = number_read(slice_part(text, at, text.size), decimal, &out[count < 4 * LIMIT_AXIS ? count : 0]);
    if (used == 0 || ++count > 4 * LIMIT_AXIS)
      return 0;
    at += used;
    size_t from = at;
    while (at < text.size && strchr(split->signs, text.at[at]) != NULL)
      at++;
    if (from == at && at < text.size)
      return 0;
  }
  return count > 1 ? count : 0;
}

/* One number, with or without its unit, or several. false: a text. */
static bool add_numbers(struct build *build, size_t index, struct slice text)
{
  struct draft *draft = build->draft;
  struct draft_item *item = &draft->items[index];
  double number = 0, numbers[4 * LIMIT_AXIS];
  struct draft_unit unit;
  size_t used = hex_read(text, &number);
  item->hex = item->hex || used > 0;
  if (used == 0)
    used = number_read(text, draft->decimal, &number);
  if (used > 0 && used < text.size && text.at[used] == '/')
    return false; /* "1/min" is a unit */
  bool whole = used > 0 && used == text.size;
  if (used > 0 && !whole && draft_unit_read(draft->arena, slice_part(text, used, text.size), &unit)) {
    item->unit_in_text = true;
    item->unit = unit;
    whole = true;
  }
  if (whole)
    return add_number(build, index, number);
  for (size_t i = 0; i < sizeof splits / sizeof *splits; i++) {
    size_t count = count_numbers(draft, text, &splits[i], numbers);
    if (count == 0 || (item->split != NULL && item->split != splits[i].pattern))
      continue;
    item->split = splits[i].pattern;
    for (size_t k = 0; k < count; k++) {
      if (!add_number(build, index, numbers[k]))
        return false;
    }
    item->per_record = item->count == 0 || item->per_record == count ? count : 0;
    return true;
  }
  return false;
}

/* ---- items */

static size_t item_of(struct build *build, const struct record_line *record, struct draft_step *steps, size_t *count)
{
  struct draft *draft = build->draft;
  char key[DRAFT_KEY_SIZE];
  *count = draft_step_split(draft, record->path, steps);
  if (*count == 0 || !draft_step_key(steps, *count, key))
    return SIZE_MAX;
  struct slot *slot = find_slot(build, key, draft->item_count < ITEMS_MOST);
  if (slot == NULL || (slot->item == SIZE_MAX && draft->item_count == ITEMS_MOST))
    return SIZE_MAX;
  if (slot->item == SIZE_MAX) {
    slot->item = draft->item_count++;
    draft->items[slot->item] = (struct draft_item){.key = slot->key, .step_count = *count, .scale = 1};
    memcpy(draft->items[slot->item].steps, steps, *count * sizeof *steps);
  }
  return slot->item;
}

static void add_row(struct build *build, size_t index, double number)
{
  struct draft_item *item = &build->draft->items[index];
  if (item->row_count == LIMIT_AXIS || (item->row_count > 0 && item->row_numbers[item->row_count - 1] == number))
    return;
  item->row_numbers = arena_grow(build->draft->arena, item->row_numbers, item->row_count, &build->row_room[index],
                                 sizeof *item->row_numbers);
  item->row_numbers[item->row_count++] = number;
}

/* Two numbers in a step: how large the table is. */
static void grow_cells(struct draft_item *item, struct slice text)
{
  size_t found[2] = {0}, count = 0;
  for (size_t i = 0; i < text.size && count < 2; i++) {
    if (!is_digit(text.at[i]))
      continue;
    for (; i < text.size && is_digit(text.at[i]); i++)
      found[count] = found[count] < LIMIT_RECORDS ? found[count] * 10 + (size_t)(text.at[i] - '0') : found[count];
    count++;
  }
  item->rows = count == 2 && found[0] + 1 > item->rows ? found[0] + 1 : item->rows;
  item->columns = count == 2 && found[1] + 1 > item->columns ? found[1] + 1 : item->columns;
}

static void add_record(struct build *build, size_t record_index)
{
  struct draft *draft = build->draft;
  const struct record_line *record = &draft->records.items[record_index];
  struct draft_step steps[DRAFT_STEPS];
  size_t count = 0, index = item_of(build, record, steps, &count);
  if (index == SIZE_MAX) {
    draft->left_out++;
    return;
  }
  struct draft_item *item = &draft->items[index];
  draft->item_of[record_index] = (uint32_t)index + 1;
  for (size_t i = 0; i < count; i++) {
    double number = 0;
    item->steps[i].repeats = item->steps[i].repeats || steps[i].repeats;
    if (steps[i].kind == DRAFT_CELL)
      grow_cells(item, steps[i].text);
    if (steps[i].kind == DRAFT_ROW &&
        number_read(slice_part(record->path, i == 0 ? 0 : steps[0].text.size + 1, record->path.size), draft->decimal,
                    &number) > 0)
      add_row(build, index, number);
  }
  bool numeric = add_numbers(build, index, record->text);
  if (!numeric) {
    item->odd++;
    build->odd_number[index] =
        steps[count - 1].kind == DRAFT_INDEX ? strtoul(arena_text(draft->arena, steps[count - 1].text), NULL, 10) : 0;
    build->odd_text[index] = record->text;
  }
  if (item->count++ == 0) {
    item->first = record_index;
    item->text = record->text;
    item->first_place = record->place;
  }
}

/* "Coolant;degC;-20;0;20" and "Rev limit;6900;rpm": one cell of the row is the unit. */
static void settle_sheet(struct build *build, size_t index)
{
  struct draft *draft = build->draft;
  struct draft_item *item = &draft->items[index];
  struct draft_unit unit;
  item->numeric = item->odd == 0 && item->number_count > 0;
  if (item->numeric || item->odd != 1 || item->number_count == 0 || draft->style.shape != SHAPE_TABLE ||
      !draft_unit_read(draft->arena, build->odd_text[index], &unit))
    return;
  item->numeric = item->sheet_unit = true;
  item->unit = unit;
  item->unit_cell = build->odd_number[index];
}

/* ---- notes: units, scales and axes in attributes or members beside */

/* The item at a path: the first `steps` steps of another, then a name. */
static struct draft_item *beside(struct build *build, const struct draft_item *item, size_t steps, const char *name)
{
  char key[DRAFT_KEY_SIZE];
  if (!draft_step_key(item->steps, steps, key))
    return NULL;
  const struct slot *slot = find_slot(build, arena_print(build->draft->arena, "%s/%s", key, name), false);
  return slot == NULL || slot->item == SIZE_MAX ? NULL : &build->draft->items[slot->item];
}

static struct draft_item *note_of(struct build *build, const struct draft_item *item, const char *const *names)
{
  for (size_t up = 0; up < 3 && up < item->step_count; up++) {
    for (size_t i = 0; names[i] != NULL; i++) {
      struct draft_item *note = beside(build, item, item->step_count - up, names[i]);
      if (note != NULL && note != item && note->count == 1)
        return note;
    }
  }
  return NULL;
}

static const struct draft_item *axis_named(const struct draft *draft, struct slice name)
{
  for (size_t i = 0; i < draft->item_count; i++) {
    const struct draft_item *item = &draft->items[i];
    struct slice last = item->steps[item->step_count - 1].text;
    if (item->number_count > 1 && name.size > 0 && last.size > name.size && last.at[last.size - name.size - 1] == ':' &&
        slice_equal(slice_part(last, last.size - name.size, last.size), name))
      return item;
  }
  return NULL;
}

static void read_notes(struct build *build, struct draft_item *item)
{
  static const char *const units[] = {"@unit", "@units", "unit", "units", NULL};
  static const char *const scales[] = {"@scale", "@factor", "@multiplier", "scale", "factor", NULL};
  static const char *const xs[] = {"@x", "@x_axis", "@xaxis", "x_axis", "xAxis", NULL};
  static const char *const ys[] = {"@y", "@y_axis", "@yaxis", "y_axis", "yAxis", NULL};
  struct draft *draft = build->draft;
  struct draft_item *unit = note_of(build, item, units), *scale = note_of(build, item, scales);
  struct draft_item *x = note_of(build, item, xs), *y = note_of(build, item, ys);
  if (unit != NULL && item->unit.unit == NULL && draft_unit_read(draft->arena, unit->text, &item->unit)) {
    item->unit_item = unit;
    unit->is_note = true;
  }
  if (scale != NULL && scale->number_count == 1 && scale->numbers[0] != 0 && item->number_count > 0) {
    item->scale = scale->numbers[0];
    scale->is_note = true;
  }
  if (x != NULL && (item->x = axis_named(draft, x->text)) != NULL)
    x->is_note = true;
  if (y != NULL && (item->y = axis_named(draft, y->text)) != NULL)
    y->is_note = true;
}

/* ---- units and words of names */

static struct slice label_of(struct slice text)
{
  const char *colon = memchr(text.at, ':', text.size);
  size_t from = colon == NULL || colon + 1 == text.at + text.size ? 0 : (size_t)(colon - text.at) + 1;
  text = slice_part(text, from, text.size);
  return text.size > 0 && text.at[0] == '@' ? slice_part(text, 1, text.size) : text;
}

/* "kPa \ rpm" in a table's corner: what goes down, what goes across. */
static bool read_corner(struct build *build, struct draft_item *item, struct slice text)
{
  const char *slash = memchr(text.at, '\\', text.size);
  if (slash == NULL)
    return false;
  struct slice rest;
  size_t at = (size_t)(slash - text.at);
  draft_unit_of_name(build->draft->arena, slice_part(text, 0, at), &item->row_unit, &rest);
  draft_words_add(build->draft->lexicon, rest, item->row_unit.unit != NULL, &item->row_words);
  draft_unit_of_name(build->draft->arena, slice_part(text, at + 1, text.size), &item->unit, &rest);
  return true;
}

static bool is_pressure(const struct unit *unit)
{
  return unit != NULL && dimension_equal(unit->dimension, unit_find(slice_of("kPa"))->dimension);
}

static size_t items_below(struct build *build, const struct draft_item *item, size_t steps)
{
  char key[DRAFT_KEY_SIZE];
  const struct slot *slot = draft_step_key(item->steps, steps, key) ? find_slot(build, key, false) : NULL;
  return slot == NULL ? SIZE_MAX : slot->below;
}

static void read_words(struct build *build, struct draft_item *item)
{
  struct draft *draft = build->draft;
  for (size_t i = item->step_count; i-- > 0;) {
    struct draft_step *step = &item->steps[i];
    struct slice text = label_of(step->text);
    struct draft_unit unit;
    if (step->kind == DRAFT_ROW)
      draft_unit_read(draft->arena, step->text, &item->row_unit);
    if (step->kind != DRAFT_TEXT)
      continue;
    bool near = items_below(build, item, i + 1) <= BLOCK || item->own.count == 0;
    if (draft->style.shape == SHAPE_TABLE && read_corner(build, item, text))
      continue;
    struct slice rest = text;
    if (draft_unit_of_name(draft->arena, text, &unit, &rest) && near && item->unit.unit == NULL && item->numeric)
      item->unit = unit;
    /* "rpm" alone says what it is by its unit; "rev limit rpm" does not need it. */
    bool pressure = is_pressure(item->unit.unit);
    struct draft_words *words = near ? &item->own : &item->around;
    draft_words_add(draft->lexicon, rest.size > 0 ? rest : text, pressure, words);
  }
}

static void count_below(struct build *build, const struct draft_item *item)
{
  char key[DRAFT_KEY_SIZE];
  for (size_t steps = 1; steps <= item->step_count; steps++) {
    struct slot *slot = draft_step_key(item->steps, steps, key) ? find_slot(build, key, true) : NULL;
    if (slot != NULL)
      slot->below += !item->is_note;
  }
}

/* Commas are decimal when numbers have one comma and none a point. */
static char guess_decimal(const struct draft *draft)
{
  size_t commas = 0, points = 0;
  for (size_t i = 0; i < draft->records.count; i++) {
    struct slice text = draft->records.items[i].text;
    double number = 0;
    if (memchr(text.at, ',', text.size) != NULL && number_read(text, ',', &number) == text.size)
      commas++;
    if (memchr(text.at, '.', text.size) != NULL && number_read(text, '.', &number) == text.size)
      points++;
  }
  return commas > 2 && points == 0 ? ',' : '.';
}

void draft_items_read(struct draft *draft)
{
  struct arena *arena = draft->arena;
  struct build build = {.draft = draft, .slot_count = 1024};
  while (build.slot_count < 4 * draft->records.count && build.slot_count < 262144)
    build.slot_count *= 2;
  size_t most = draft->records.count < ITEMS_MOST ? draft->records.count : ITEMS_MOST;
  build.slots = ARENA_ARRAY(arena, build.slot_count, struct slot);
  build.room = ARENA_ARRAY(arena, most, size_t);
  build.row_room = ARENA_ARRAY(arena, most, size_t);
  draft->item_of = ARENA_ARRAY(arena, draft->records.count, uint32_t);
  build.odd_number = ARENA_ARRAY(arena, most, size_t);
  build.odd_text = ARENA_ARRAY(arena, most, struct slice);
  draft->items = ARENA_ARRAY(arena, most, struct draft_item);
  draft->item_count = draft->left_out = 0;
  draft->decimal = guess_decimal(draft);
  for (size_t i = 0; i < draft->records.count; i++)
    add_record(&build, i);
  for (size_t i = 0; i < draft->item_count; i++)
    settle_sheet(&build, i);
  for (size_t i = 0; i < draft->item_count; i++)
    read_notes(&build, &draft->items[i]);
  for (size_t i = 0; i < draft->item_count; i++)
    count_below(&build, &draft->items[i]);
  for (size_t i = 0; i < draft->item_count; i++)
    read_words(&build, &draft->items[i]);
}
