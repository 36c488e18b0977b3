/* Units as labels and cells carry them. Reading order: draft_unit_of_name (where a unit may stand in a name),
 * draft_unit_read (gauge pressures and air-fuel ratios, which are no units by themselves). */
#include "read/draft_parts.h"

#include <stdlib.h>

#define UNIT_SIZE 24

/* Spellings of units that are more often something else in a name: "min" is minimum, "in" is in. */
static const char *const words[] = {
    "a",    "bool", "boolean", "count",  "counts", "flag",   "g",     "h",    "hour",   "hours", "in",
    "j",    "k",    "m",       "min",    "mins",   "minute", "n",     "none", "on/off", "ratio", "rev",
    "revs", "s",    "sec",     "second", "t",      "turn",   "turns", "v",    "w",
};
#define WORDS (sizeof words / sizeof *words)

static int word_compare(const void *key, const void *item)
{
  return strcmp(key, *(const char *const *)item);
}

static bool is_word(struct slice text)
{
  char word[UNIT_SIZE];
  if (text.size >= UNIT_SIZE)
    return false;
  for (size_t i = 0; i < text.size; i++)
    word[i] = (char)(text.at[i] >= 'A' && text.at[i] <= 'Z' ? text.at[i] - 'A' + 'a' : text.at[i]);
  word[text.size] = '\0';
  return bsearch(word, words, WORDS, sizeof *words, word_compare) != NULL;
}

static bool same(struct slice a, const char *b)
{
  return a.size == strlen(b) && slice_distance(a, slice_of(b)) == 0;
}

static struct slice unbracket(struct slice text)
{
  text = slice_trim(text);
  if (text.size > 2 && (text.at[0] == '[' || text.at[0] == '(') &&
      (text.at[text.size - 1] == ']' || text.at[text.size - 1] == ')'))
    return slice_trim(slice_part(text, 1, text.size - 1));
  return text;
}

static bool is_pressure(const struct unit *unit)
{
  return dimension_equal(unit->dimension, unit_find(slice_of("kPa"))->dimension);
}

/* "kPa gauge", "psig", "bar (g)" */
static bool read_gauge(struct arena *arena, struct slice text, struct draft_unit *out)
{
  static const char *const tails[] = {"gauge", "(gauge)", "(g)", "rel", "g"};
  for (size_t i = 0; i < sizeof tails / sizeof *tails; i++) {
    size_t size = strlen(tails[i]);
    const char *why = NULL;
    if (text.size <= size || !same(slice_part(text, text.size - size, text.size), tails[i]))
      continue;
    const struct unit *unit = unit_read(arena, slice_trim(slice_part(text, 0, text.size - size)), &why);
    if (unit == NULL || !is_pressure(unit))
      continue;
    *out = (struct draft_unit){unit, DRAFT_GAUGE};
    return true;
  }
  return false;
}

bool draft_unit_read(struct arena *arena, struct slice text, struct draft_unit *out)
{
  static const char *const ratios[] = {"AFR", "A/F"};
  const char *why = NULL;
  text = unbracket(text);
  *out = (struct draft_unit){NULL, DRAFT_PLAIN};
  if (text.size == 0 || text.size >= UNIT_SIZE)
    return false;
  for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i++) {
    if (!same(text, ratios[i]))
      continue;
    *out = (struct draft_unit){unit_find(slice_of("lambda")), DRAFT_RATIO};
    return true;
  }
  out->unit = unit_read(arena, text, &why);
  return out->unit != NULL || read_gauge(arena, text, out);
}

/* Of the dimensions that settings have. */
static bool is_telling(const struct unit *unit)
{
  return unit != NULL && (!dimension_is_none(unit->dimension) || strcmp(unit->name, "%") == 0);
}

static bool is_letter(char c)
{
  return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

/* "(kPa)" or "[kPa]" at the end. */
static bool bracketed(struct arena *arena, struct slice name, struct draft_unit *out, struct slice *rest)
{
  char last = name.size > 2 ? name.at[name.size - 1] : '\0';
  if (last != ')' && last != ']')
    return false;
  size_t at = name.size - 1;
  while (at > 0 && name.at[at] != (last == ')' ? '(' : '['))
    at--;
  *rest = slice_trim(slice_part(name, 0, at));
  return draft_unit_read(arena, slice_part(name, at, name.size), out);
}

/* "dwell_ms", "flow_cm3_min", "rate_pct_per_s", "Dead time ms", "@ degF": the unit is the text behind the last marks.
 */
static bool marked(struct arena *arena, struct slice name, struct draft_unit *out, struct slice *rest)
{
  size_t starts[4], count = 0;
  for (size_t at = name.size; at > 0 && count < 4; at--) {
    if (name.at[at - 1] == '_' || name.at[at - 1] == ' ')
      starts[count++] = at;
  }
  for (size_t i = count; i-- > 0;) {
    char text[UNIT_SIZE + 4];
    size_t size = 0;
    struct slice tail = slice_part(name, starts[i], name.size);
    char mark = name.at[starts[i] - 1];
    bool short_word = is_word(tail) && !(tail.size == 1 && mark == '_') && !(same(tail, "V") && tail.at[0] == 'V') &&
                      !(same(tail, "s") && tail.at[0] == 's');
    if (tail.size == 0 || tail.size >= UNIT_SIZE || short_word)
      continue;
    for (size_t k = 0; k < tail.size; k++) {
      bool per = k + 5 <= tail.size && (memcmp(tail.at + k, "_per_", 5) == 0 || memcmp(tail.at + k, " per ", 5) == 0);
      text[size++] = tail.at[k] == '_' || per ? '/' : tail.at[k];
      k += per ? 4 : 0;
    }
    if (draft_unit_read(arena, (struct slice){text, size}, out) && is_telling(out->unit)) {
      *rest = slice_trim(slice_part(name, 0, starts[i] - 1));
      return true;
    }
  }
  return false;
}

bool draft_unit_of_name(struct arena *arena, struct slice name, struct draft_unit *out, struct slice *rest)
{
  name = slice_trim(name);
  *rest = name;
  if (bracketed(arena, name, out, rest) || marked(arena, name, out, rest))
    return true;
  *rest = name;
  bool whole = !is_word(name) && draft_unit_read(arena, name, out) && is_telling(out->unit) &&
               (out->kind == DRAFT_PLAIN || is_letter(name.at[0]));
  if (!whole)
    *out = (struct draft_unit){NULL, DRAFT_PLAIN};
  return whole;
}
