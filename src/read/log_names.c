/* Column headings of logs. Names are compared with case, "_", "-", "." and blanks taken out, which is how the
 * dictionary's reader makes sure that no two channels share one. Reading order: fold, names_find, log_names_read. */
#include "read/log_names.h"

#include <stdint.h>
#include <stdlib.h>

#define FOLDED_SIZE 64 /* no name is longer */

struct label {
  char folded[FOLDED_SIZE];
  size_t size;
  uint64_t letters; /* which ones occur: a bit for each */
  const struct entry *entry;
};

struct log_names {
  size_t count;
  struct label *items; /* in order of `folded` */
};

static bool is_space(char c)
{
  return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

static bool is_joint(char c)
{
  return c == '_' || c == '-' || c == '.' || is_space(c);
}

/* false: nothing is left, or too much. */
static bool fold(struct slice text, struct label *label)
{
  label->size = 0;
  label->letters = 0;
  for (size_t i = 0; i < text.size; i++) {
    char c = text.at[i];
    if (is_joint(c))
      continue;
    if (label->size + 1 == FOLDED_SIZE)
      return false;
    c = (char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    label->folded[label->size++] = c;
    label->letters |= (uint64_t)1 << ((unsigned char)c & 63u);
  }
  label->folded[label->size] = '\0';
  return label->size > 0;
}

static int label_compare(const void *a, const void *b)
{
  const struct label *x = a, *y = b;
  return strcmp(x->folded, y->folded);
}

static void label_add(struct log_names *names, struct slice text, const struct entry *entry)
{
  struct label *label = &names->items[names->count];
  label->entry = entry;
  names->count += fold(text, label);
}

const struct log_names *log_names_new(struct arena *arena, const struct vocabulary *vocabulary)
{
  struct log_names *names = ARENA_NEW(arena, struct log_names);
  size_t total = vocabulary->count[SCOPE_LOG];
  for (size_t i = 0; i < vocabulary->count[SCOPE_LOG]; i++)
    total += vocabulary->entries[SCOPE_LOG][i].also_count;
  names->items = ARENA_ARRAY(arena, total, struct label);
  for (size_t i = 0; i < vocabulary->count[SCOPE_LOG]; i++) {
    const struct entry *entry = &vocabulary->entries[SCOPE_LOG][i];
    label_add(names, entry->name, entry);
    for (size_t j = 0; j < entry->also_count; j++)
      label_add(names, entry->also[j], entry);
  }
  qsort(names->items, names->count, sizeof *names->items, label_compare);
  return names;
}

static const struct entry *names_find(const struct log_names *names, struct slice text)
{
  struct label key = {.entry = NULL};
  if (!fold(text, &key))
    return NULL;
  const struct label *found = bsearch(&key, names->items, names->count, sizeof key, label_compare);
  return found != NULL ? found->entry : NULL;
}

/* The letters that one has and the other lacks take an edit each. */
static size_t edits_at_least(uint64_t a, uint64_t b)
{
  size_t count = 0;
  for (uint64_t more = a & ~b; more != 0; more &= more - 1)
    count++;
  return count;
}

const struct entry *log_names_nearest(const struct log_names *names, struct slice text)
{
  struct label key = {.entry = NULL};
  const struct entry *found = NULL;
  if (!fold(text, &key))
    return NULL;
  size_t best = key.size / 3 + 1;
  for (size_t i = 0; i < names->count; i++) {
    const struct label *label = &names->items[i];
    size_t longer = label->size > key.size ? label->size - key.size : key.size - label->size;
    if (longer >= best || edits_at_least(key.letters, label->letters) >= best ||
        edits_at_least(label->letters, key.letters) >= best)
      continue;
    size_t distance = slice_distance((struct slice){key.folded, key.size}, (struct slice){label->folded, label->size});
    if (distance < best) {
      best = distance;
      found = label->entry;
    }
  }
  return found;
}

static struct slice trim(struct slice text)
{
  while (text.size > 0 && is_space(text.at[0]))
    text = slice_part(text, 1, text.size);
  while (text.size > 0 && is_space(text.at[text.size - 1]))
    text.size--;
  return text;
}

/* The bracket that belongs to the last character; text.size when there is none. */
static size_t open_bracket(struct slice text)
{
  char last = text.size > 0 ? text.at[text.size - 1] : '\0';
  if (last != ')' && last != ']')
    return text.size;
  char opens = last == ')' ? '(' : '[';
  size_t depth = 0;
  for (size_t i = text.size; i-- > 0;) {
    depth += text.at[i] == last;
    if (text.at[i] == opens && --depth == 0)
      return i;
  }
  return text.size;
}

struct slice log_names_bare_unit(struct slice text)
{
  text = trim(text);
  if (open_bracket(text) == 0 && text.size > 0)
    text = trim(slice_part(text, 1, text.size - 1));
  return text;
}

/* "time_ms", "Coolant degC": a last word that is a unit of the channel's dimension. */
static bool read_last_word(const struct log_names *names, struct slice text, struct log_heading *out)
{
  size_t at = text.size;
  while (at > 0 && !is_space(text.at[at - 1]) && text.at[at - 1] != '_' && text.at[at - 1] != ',')
    at--;
  /* "lambda 1" counts sensors. */
  if (at < 2 || at == text.size || (text.at[at] >= '0' && text.at[at] <= '9'))
    return false;
  struct slice name = trim(slice_part(text, 0, at - 1)), word = slice_part(text, at, text.size);
  const struct entry *entry = names_find(names, name);
  const struct unit *unit = entry != NULL && entry->unit != NULL ? unit_find(word) : NULL;
  if (unit == NULL || !unit_agrees(unit, entry->unit))
    return false;
  *out = (struct log_heading){name, word, entry};
  return true;
}

struct log_heading log_names_read(const struct log_names *names, struct slice text)
{
  text = trim(text);
  struct log_heading heading = {text, {NULL, 0}, names_find(names, text)};
  if (heading.entry != NULL || text.size == 0)
    return heading;
  size_t bracket = open_bracket(text);
  if (bracket < text.size) {
    heading.name = trim(slice_part(text, 0, bracket));
    heading.unit = log_names_bare_unit(slice_part(text, bracket, text.size));
    heading.entry = names_find(names, heading.name);
  } else {
    read_last_word(names, text, &heading);
  }
  return heading;
}

bool log_names_is_clock(struct slice unit)
{
  struct label label;
  return fold(unit, &label) && strstr(label.folded, "mm:ss") != NULL;
}
