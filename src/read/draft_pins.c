/* Inputs and outputs: sections whose items are a function and a pin each. Reading order: draft_pins_find, section_of.
 */
#include "read/draft_parts.h"

struct section {
  const char *pattern; /* with the group `name` */
  bool output;
  size_t count, pin_names, pin_texts;
  size_t first;
};

#define SECTIONS 64
/* Marks the place of the name until the pattern is made: a character for private use. */
#define MARK "\xEE\x80\x80"

static bool is_letter(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* "Inputs", "output pins", "in", "Pins out": 1 input, 2 output, 0 neither. */
static int way_of(struct slice text)
{
  static const struct {
    const char *word;
    int way;
  } words[] = {{"input", 1}, {"inputs", 1}, {"in", 1},       {"output", 2},     {"outputs", 2},   {"out", 2},
               {"pin", 0},   {"pins", 0},   {"digital", 0},  {"assignment", 0}, {"connector", 0}, {"channels", 0},
               {"list", 0},  {"wiring", 0}, {"assigned", 0}, {"io", 0}};
  int way = 0;
  for (size_t at = 0; at < text.size;) {
    size_t to = at;
    while (to < text.size && is_letter(text.at[to]))
      to++;
    bool known = to == at;
    for (size_t i = 0; !known && i < sizeof words / sizeof *words; i++) {
      known =
          strlen(words[i].word) == to - at && slice_distance(slice_part(text, at, to), slice_of(words[i].word)) == 0;
      way = known && words[i].way != 0 ? words[i].way : way;
    }
    if (!known)
      return 0;
    at = to > at ? to : at + 1;
  }
  return way;
}

/* "IN3", "OUT 5", "A12", "B-07": short, with a digit, few letters. */
static bool is_pin(struct slice text)
{
  size_t digits = 0, letters = 0;
  for (size_t i = 0; i < text.size; i++) {
    digits += text.at[i] >= '0' && text.at[i] <= '9';
    letters += is_letter(text.at[i]);
  }
  return digits > 0 && letters <= 4 && text.size <= 9;
}

/* The item's path with `name` in place of the step at `index` (or of its key), quoted like the others. */
static const char *section_pattern(const struct draft *draft, const struct draft_item *item, size_t index, bool keyed)
{
  struct draft_item copy = *item;
  struct slice text = item->steps[index].text;
  const char *colon = memchr(text.at, ':', text.size);
  size_t head = keyed && colon != NULL ? (size_t)(colon - text.at) + 1 : 0;
  copy.steps[index].text = slice_of(arena_print(draft->arena, "%.*s" MARK, (int)head, text.at));
  copy.steps[index].kind = DRAFT_TEXT;
  copy.steps[index].repeats = false;
  const char *pattern = draft_path_pattern(draft, &copy, DRAFT_MATCH), *mark = strstr(pattern, MARK);
  if (mark == NULL)
    return NULL;
  return arena_print(draft->arena, "%.*s(?<name>[^/#]+)(#\\d+)?%s", (int)(mark - pattern), pattern,
                     mark + strlen(MARK));
}

/* The section of pins that an item is in: its pattern, and the name that stands in its path; NULL: none. */
static const char *section_of(const struct draft *draft, const struct draft_item *item, int *way, struct slice *name)
{
  for (size_t i = 0; i < item->step_count; i++) {
    struct slice text = item->steps[i].text;
    if (item->steps[i].kind != DRAFT_TEXT && item->steps[i].kind != DRAFT_CELL)
      continue;
    const char *colon = memchr(text.at, ':', text.size);
    size_t head = colon == NULL ? 0 : (size_t)(colon - text.at);
    if (head > 0 && (*way = way_of(slice_part(text, 0, head))) != 0) {
      *name = slice_part(text, head + 1, text.size);
      return section_pattern(draft, item, i, true);
    }
    *way = way_of(text);
    if (*way == 0 || i + 1 >= item->step_count || item->steps[i + 1].kind == DRAFT_INDEX)
      continue;
    *name = item->steps[i + 1].text;
    bool keyed = name->size > 0 && name->at[0] == ':';
    *name = slice_part(*name, keyed, name->size);
    return section_pattern(draft, item, i + 1, keyed);
  }
  return NULL;
}

static void place_section(struct draft *draft, const struct section *section, struct draft_place *places)
{
  struct slice name = slice_of(section->output ? "outputs" : "inputs");
  const struct entry *entry = vocabulary_find(draft->vocabulary, SCOPE_TUNE, name);
  if (entry == NULL || section->count < 2)
    return;
  struct draft_place *place = &places[vocabulary_index(draft->vocabulary, SCOPE_TUNE, entry)];
  if (place->pins != NULL)
    return;
  bool names = section->pin_names > section->pin_texts;
  size_t most = names ? section->pin_names : section->pin_texts;
  size_t least = names ? section->pin_texts : section->pin_names;
  *place = (struct draft_place){.entry = vocabulary_index(draft->vocabulary, SCOPE_TUNE, entry),
                                .item = &draft->items[section->first],
                                .pins = section->pattern,
                                .name_is_pin = names,
                                .score = (double)most / (double)section->count};
  if ((most - least) * 4 < section->count)
    place->doubt = "which is the pin and which the function?";
  for (size_t i = 0; i < draft->item_count; i++) {
    int way = 0;
    struct slice in_path;
    const char *pattern = draft->items[i].numeric ? NULL : section_of(draft, &draft->items[i], &way, &in_path);
    draft->items[i].used = draft->items[i].used || (pattern != NULL && strcmp(pattern, section->pattern) == 0);
  }
}

void draft_pins_find(struct draft *draft, struct draft_place *places)
{
  struct section sections[SECTIONS];
  size_t count = 0;
  for (size_t i = 0; i < draft->item_count; i++) {
    const struct draft_item *item = &draft->items[i];
    int way = 0;
    struct slice name;
    const char *pattern = item->numeric || item->is_note ? NULL : section_of(draft, item, &way, &name);
    size_t at = 0;
    while (pattern != NULL && at < count && strcmp(sections[at].pattern, pattern) != 0)
      at++;
    if (pattern == NULL || at == SECTIONS)
      continue;
    if (at == count)
      sections[count++] = (struct section){.pattern = pattern, .output = way == 2, .first = i};
    sections[at].count++;
    sections[at].pin_names += is_pin(name);
    sections[at].pin_texts += is_pin(item->text);
  }
  for (size_t i = 0; i < count; i++)
    place_section(draft, &sections[i], places);
}
