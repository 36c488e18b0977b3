/* Paths of items: as patterns for the adapter, and what in them could be a key. Reading order: draft_path_pattern,
 * add_step; draft_path_key. */
#include "read/draft_parts.h"

#include "text/utf8.h"

#include <stdlib.h>

#define KEY_TEXTS 4096 /* of one kind, to be compared with each other */

struct out {
  struct arena *arena;
  char *at;
  size_t size, capacity;
};

static void put(struct out *out, struct slice text)
{
  for (size_t i = 0; i < text.size; i++) {
    out->at = arena_grow(out->arena, out->at, out->size, &out->capacity, 1);
    out->at[out->size++] = text.at[i];
  }
}

/* What PCRE2 would take for more than a character; a single quote is doubled, for YAML; what YAML takes no part of is
 * any character. */
static void put_plain(struct out *out, struct slice text)
{
  for (size_t i = 0; i < text.size;) {
    uint32_t code = 0;
    size_t size = utf8_read(slice_part(text, i, text.size), &code);
    struct slice one = slice_part(text, i, i + (size > 0 ? size : 1));
    bool sound = size > 0 && code >= ' ' && utf8_check(one).fault == UTF8_SOUND && code != 0xfeff;
    if (size == 1 && sound && strchr("\\^$.[]|()?*+{}", text.at[i]) != NULL)
      put(out, slice_of("\\"));
    put(out, sound ? one : slice_of("."));
    if (text.at[i] == '\'')
      put(out, slice_of("'"));
    i += one.size;
  }
}

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

static void put_cell(struct out *out, struct slice text, bool groups)
{
  size_t numbers = 0;
  for (size_t i = 0; i < text.size;) {
    if (!is_digit(text.at[i])) {
      put_plain(out, slice_part(text, i, i + 1));
      i++;
      continue;
    }
    while (i < text.size && is_digit(text.at[i]))
      i++;
    put(out, slice_of(!groups ? "\\d+" : numbers == 0 ? "(?<row>\\d+)" : "(?<column>\\d+)"));
    numbers++;
  }
}

static void add_step(const struct draft *draft, const struct draft_item *item, size_t index, enum draft_pattern which,
                     struct out *out)
{
  const struct draft_step *step = &item->steps[index];
  bool last = index + 1 == item->step_count;
  const char *row = draft->decimal == ',' ? "[-+]?[\\d,]+" : "[-+]?[\\d.]+";
  switch (step->kind) {
  case DRAFT_TEXT:
    put_plain(out, step->text);
    break;
  case DRAFT_INDEX:
    if (!last || !item->sheet_unit)
      put(out, item->count == 1 ? step->text : slice_of("\\d+"));
    else if (which == DRAFT_MATCH_UNIT || item->number_count == 1)
      put(out, slice_of(arena_print(draft->arena, "%zu",
                                    which == DRAFT_MATCH_UNIT ? item->unit_cell
                                    : item->unit_cell == 1    ? 2
                                                              : 1)));
    else
      put(out, slice_of(arena_print(draft->arena, "(?!%zu$)\\d+", item->unit_cell)));
    break;
  case DRAFT_ROW:
    put(out, slice_of(which == DRAFT_MATCH_AT ? arena_print(draft->arena, "(?<at>%s)", row) : row));
    put_plain(out, step->text);
    break;
  case DRAFT_CELL:
    put_cell(out, step->text, which == DRAFT_MATCH_CELL);
    break;
  }
  if (step->repeats)
    put(out, slice_of("(#\\d+)?"));
}

const char *draft_path_pattern(const struct draft *draft, const struct draft_item *item, enum draft_pattern which)
{
  struct out out = {.arena = draft->arena};
  put(&out, slice_of("'^"));
  for (size_t i = 0; i < item->step_count; i++) {
    bool cells = which == DRAFT_MATCH_AT && draft->style.shape == SHAPE_TABLE && i + 1 == item->step_count;
    put(&out, slice_of(i > 0 ? "/" : ""));
    if (cells)
      put(&out, slice_of("1")); /* one cell of each row is enough for its breakpoint */
    else
      add_step(draft, item, i, which, &out);
  }
  put(&out, slice_of("$'"));
  return arena_text(draft->arena, (struct slice){out.at, out.size});
}

/* ---- keys */

static int slice_order(const void *a, const void *b)
{
  return slice_compare(*(const struct slice *)a, *(const struct slice *)b);
}

/* Length of its texts when they are all different; 0: they are not, or are no names. */
static size_t distinct_length(const struct draft *draft, size_t index)
{
  const struct draft_item *item = &draft->items[index];
  struct slice *texts = ARENA_ARRAY(draft->arena, item->count, struct slice);
  size_t count = 0, length = 0;
  for (size_t i = item->first; i < draft->records.count && count < item->count; i++) {
    if (draft->item_of[i] != index + 1)
      continue;
    texts[count++] = draft->records.items[i].text;
    length += draft->records.items[i].text.size;
    if (memchr(draft->records.items[i].text.at, '/', draft->records.items[i].text.size) != NULL)
      return 0;
  }
  qsort(texts, count, sizeof *texts, slice_order);
  for (size_t i = 1; i < count; i++) {
    if (slice_equal(texts[i - 1], texts[i]))
      return 0;
  }
  return length / (count > 0 ? count : 1);
}

/* A text in each of several objects or elements. */
static bool may_be_key(const struct draft_item *item)
{
  if (item->count < 2 || item->count > KEY_TEXTS || item->odd != item->count || item->step_count < 2 || item->is_note)
    return false;
  const struct draft_step *last = &item->steps[item->step_count - 1], *before = last - 1;
  return last->kind == DRAFT_TEXT && (before->kind == DRAFT_INDEX || before->repeats);
}

struct slice draft_path_key(const struct draft *draft)
{
  struct slice best = {"", 0};
  size_t longest = 0;
  if (draft->style.shape == SHAPE_LINES || draft->style.shape == SHAPE_TABLE)
    return best;
  for (size_t i = 0; i < draft->item_count; i++) {
    const struct draft_item *item = &draft->items[i];
    if (!may_be_key(item))
      continue;
    size_t length = distinct_length(draft, i);
    struct slice name = item->steps[item->step_count - 1].text;
    if (name.size > 0 && name.at[0] == '@')
      name = slice_part(name, 1, name.size);
    bool known = name.size == 0;
    for (size_t k = 0; k < draft->style.key_count; k++)
      known = known || slice_equal(draft->style.keys[k], name);
    if (known || length <= longest)
      continue;
    longest = length;
    best = name;
  }
  return best;
}
