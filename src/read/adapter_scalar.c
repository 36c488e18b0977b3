/* Numbers, switches, choices, texts and lists out of records. Reading order: adapter_scalar_value; then the kinds. */
#include "read/adapter_parts.h"

#include "base/limits.h"
#include "text/utf8.h"

#include <math.h>

#define SHOWN 60

/* The one record of a single value: false when there is none, or when refused. */
static bool pick(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_hits *hits,
                 size_t *record)
{
  if (hits->count == 0)
    return false;
  if (hits->count > 1 && spec->take == ADAPTER_TAKE_ONE) {
    const struct record_line *first = &run->records.items[hits->items[0]];
    const struct record_line *second = &run->records.items[hits->items[1]];
    struct slice a = utf8_cut(first->path, SHOWN), b = utf8_cut(second->path, SHOWN);
    return adapter_refuse(run, spec, second->place,
                          "%zu records match where one should: '%.*s', '%.*s'%s ('take: first' or 'last' chooses)",
                          hits->count, SLICE_ARG(a), SLICE_ARG(b), hits->count > 2 ? " ..." : "");
  }
  size_t taken = spec->take == ADAPTER_TAKE_LAST ? hits->count - 1 : 0;
  for (size_t i = 0; i < hits->count; i++) {
    if (i != taken)
      run->state[hits->items[i]] = ADAPTER_IGNORED;
  }
  *record = hits->items[taken];
  return true;
}

/* "0, 1, open": the texts that the adapter knows. */
static const char *words_list(struct adapter_run *run, const struct adapter_channel *how)
{
  const char *list = "";
  for (size_t i = 0; i < how->word_count && i < 12; i++)
    list = arena_print(run->scratch, "%s%s'%.*s'", list, i == 0 ? "" : ", ", SLICE_ARG(how->words[i]));
  return how->word_count > 12 ? arena_print(run->scratch, "%s ...", list) : list;
}

static bool read_bit(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_item *item,
                     bool *out)
{
  double number = 0;
  struct slice shown = utf8_cut(item->text, SHOWN);
  size_t used = adapter_number_scan(run->adapter, spec->hex, item->text, &number);
  double on = used == item->text.size && used > 0 ? adapter_number(&spec->how, NULL, number) : (double)NAN;
  *out = on > 0;
  return isfinite(on) ||
         adapter_refuse(run, spec, item->place, "'%.*s' is no whole number that holds bits", SLICE_ARG(shown));
}

static bool read_switch(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_item *item,
                        bool *out)
{
  static const char *const on[] = {"on", "yes", "true", "enabled", "active", "1"};
  static const char *const off[] = {"off", "no", "false", "disabled", "inactive", "0"};
  struct slice shown = utf8_cut(item->text, SHOWN);
  double word = 0;
  bool known = false;
  if (spec->how.bit >= 0)
    return read_bit(run, spec, item, out);
  if (spec->how.word_count > 0) {
    known = adapter_word(&spec->how, item->text, &word);
    *out = word > 0;
  } else {
    for (size_t i = 0; i < sizeof on / sizeof *on && !known; i++) {
      *out = adapter_same_word(item->text, slice_of(on[i]));
      known = *out || adapter_same_word(item->text, slice_of(off[i]));
    }
  }
  *out = *out != spec->how.inverted;
  if (known)
    return true;
  if (spec->how.word_count > 0)
    return adapter_refuse(run, spec, item->place, "'%.*s' is none of its 'values': %s", SLICE_ARG(shown),
                          words_list(run, &spec->how));
  return adapter_refuse(run, spec, item->place, "'%.*s' is neither on nor off; 'values' says what it means",
                        SLICE_ARG(shown));
}

static bool read_choice(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_item *item,
                        struct slice *out)
{
  const struct entry *entry = spec->how.entry;
  struct slice shown = utf8_cut(item->text, SHOWN);
  double word = 0;
  if (spec->how.word_count > 0) {
    if (!adapter_word(&spec->how, item->text, &word))
      return adapter_refuse(run, spec, item->place, "'%.*s' is none of its 'values': %s", SLICE_ARG(shown),
                            words_list(run, &spec->how));
    *out = entry->choices[(size_t)word];
    return true;
  }
  for (size_t i = 0; i < entry->choice_count; i++) {
    if (item->text.size == entry->choices[i].size && slice_distance(item->text, entry->choices[i]) == 0) {
      *out = entry->choices[i];
      return true;
    }
  }
  return adapter_refuse(run, spec, item->place, "'%.*s' is none of its choices; 'values' says what it means",
                        SLICE_ARG(shown));
}

static const struct value *read_one(struct adapter_run *run, const struct adapter_spec *spec, enum value_kind kind,
                                    const struct adapter_item *item)
{
  struct value *value = ARENA_NEW(run->arena, struct value);
  struct adapter_channel how;
  bool good = false;
  value->kind = kind;
  value->place = item->place;
  switch (kind) {
  case VALUE_NUMBER:
    good = adapter_settle(run, spec, item->record, &how) && adapter_number_of(run, spec, &how, item, &value->as.number);
    break;
  case VALUE_SWITCH:
    good = read_switch(run, spec, item, &value->as.on);
    break;
  case VALUE_CHOICE:
    good = read_choice(run, spec, item, &value->as.text);
    break;
  default:
    value->as.text = arena_slice(run->arena, item->text);
    good = true;
    break;
  }
  return good ? value : NULL;
}

/* A list may hold nothing: then the export says so by a record whose text is empty, unused, or not as `where` wants. */
static const struct value *read_list(struct adapter_run *run, const struct adapter_spec *spec,
                                     const struct adapter_hits *hits)
{
  struct value *value = ARENA_NEW(run->arena, struct value);
  struct field_vector numbers;
  struct adapter_items items;
  value->kind = VALUE_LIST;
  if (!adapter_numbers_of(run, spec, hits, &numbers, &items))
    return NULL;
  value->place = hits->count > 0 ? run->records.items[hits->items[0]].place : adapter_top(run);
  if (numbers.count > LIMIT_ITEMS) {
    adapter_refuse(run, spec, value->place, "%zu numbers; at most %d are accepted", numbers.count, LIMIT_ITEMS);
    return NULL;
  }
  value->as.list.count = numbers.count;
  value->as.list.items = numbers.at;
  value->as.list.places = numbers.place;
  value->as.list.unit = numbers.unit;
  return value;
}

const struct value *adapter_scalar_value(struct adapter_run *run, const struct adapter_entry *entry)
{
  const struct adapter_spec *spec = &entry->value;
  struct adapter_hits hits;
  if (!adapter_find(run, spec, &hits))
    return NULL;
  if (!hits.seen || (hits.count == 0 && entry->entry->kind != VALUE_LIST)) {
    if (spec->needed)
      adapter_refuse(run, spec, adapter_top(run), "nothing in the export matches, and the adapter needs it");
    return NULL;
  }
  if (entry->entry->kind == VALUE_LIST)
    return read_list(run, spec, &hits);
  struct adapter_item item;
  size_t record = 0;
  if (!pick(run, spec, &hits, &record) || !adapter_item_of(run, spec, record, &item) ||
      adapter_is_unused(spec, item.text))
    return NULL;
  return read_one(run, spec, entry->entry->kind, &item);
}
