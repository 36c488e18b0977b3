/* What all parts of an adapter file share: patterns, flags, lists of texts, numbers, units, references to other
 * records. Reading order: as the file stands; each function refuses with the place within the file. */
#include "read/adapter_parts.h"

#include "base/limits.h"
#include "base/number.h"
#include "text/utf8.h"

#include <math.h>

#define SHOWN 60

static char lower(char c)
{
  return (char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

bool adapter_same_word(struct slice a, struct slice b)
{
  if (a.size != b.size)
    return false;
  for (size_t i = 0; i < a.size; i++) {
    if (lower(a.at[i]) != lower(b.at[i]))
      return false;
  }
  return true;
}

static bool is_letter_or_digit(char c)
{
  return (c >= '0' && c <= '9') || (lower(c) >= 'a' && lower(c) <= 'z');
}

/* An alternative outside of all brackets, or a pattern in which that is hard to tell: then no text is known to stand at
 * the start of every match. */
static bool has_choice(struct slice text)
{
  size_t depth = 0;
  bool hard = false, choice = false;
  for (size_t i = 0; i < text.size; i++) {
    char c = text.at[i], next = i + 1 < text.size ? text.at[i + 1] : '\0',
         third = i + 2 < text.size ? text.at[i + 2] : '\0';
    if (c == '\\') {
      hard = hard || next == 'Q';
      i++;
    } else if (c == '[' || (c == '(' && next == '?' && strchr(":<=!", third) == NULL)) {
      hard = true; /* classes; comments and options */
    } else if (c == '(') {
      depth++;
    } else if (c == ')') {
      depth -= depth > 0;
    }
    choice = choice || (c == '|' && (depth == 0 || hard));
  }
  return choice || (hard && memchr(text.at, '|', text.size) != NULL);
}

/* The plain text behind a leading ^. Most paths fail at its first letters, which is quicker seen here than in PCRE2. */
static struct slice prefix_of(struct arena *arena, struct slice text)
{
  if (text.size == 0 || text.at[0] != '^' || has_choice(text))
    return (struct slice){NULL, 0};
  char *prefix = arena_alloc(arena, text.size);
  size_t size = 0, last = 0, at = 1;
  while (at < text.size) {
    char c = text.at[at];
    bool escaped = c == '\\' && at + 1 < text.size && !is_letter_or_digit(text.at[at + 1]);
    if (escaped)
      c = text.at[++at];
    if ((!escaped && strchr("\\^$.[|()?*+{", c) != NULL) || c == '\0')
      break;
    /* A quantifier takes back the whole character before it. */
    if (((unsigned char)c & 0xc0u) != 0x80u)
      last = size;
    prefix[size++] = c;
    at++;
  }
  bool quantified = at < text.size && strchr("?*{", text.at[at]) != NULL;
  return (struct slice){prefix, quantified ? last : size};
}

static const struct pattern *keep(struct adapter_reader *r, struct pattern *pattern)
{
  struct adapter *adapter = r->adapter;
  adapter->patterns = arena_grow(r->field.arena, adapter->patterns, adapter->pattern_count, &adapter->pattern_room,
                                 sizeof(struct pattern *));
  adapter->patterns[adapter->pattern_count++] = pattern;
  return pattern;
}

static struct pattern *compile(struct adapter_reader *r, const struct node *node, const char *what, struct slice text)
{
  const char *why = NULL;
  size_t at = 0;
  struct pattern *pattern = pattern_compile(r->field.arena, text, &why, &at);
  if (pattern != NULL)
    return pattern;
  at = at > text.size ? text.size : at;
  bool as_written = slice_equal(text, node->text); /* else \k{NAME} was replaced */
  struct place place = as_written ? node_place(r->source, node, at, at < text.size ? at + 1 : at) : node->place;
  field_refuse(&r->field, place, "'%s' is no pattern: %s", what, why);
  return NULL;
}

bool adapter_pattern_read(struct adapter_reader *r, const struct node *node, const char *what,
                          struct adapter_pattern *out)
{
  *out = (struct adapter_pattern){NULL, {NULL, 0}};
  if (!field_is(&r->field, slice_of(what), node, NODE_SCALAR, "a pattern"))
    return false;
  struct pattern *pattern = compile(r, node, what, node->text);
  if (pattern == NULL)
    return false;
  *out = (struct adapter_pattern){keep(r, pattern), prefix_of(r->field.arena, node->text)};
  return true;
}

bool adapter_wishes_read(struct adapter_reader *r, const struct node *node, const char *what, size_t *count,
                         struct adapter_wish **out)
{
  bool is_list = node->kind == NODE_LIST;
  if (!is_list && !field_is(&r->field, slice_of(what), node, NODE_SCALAR, "a pattern, or a list of patterns"))
    return false;
  size_t most = is_list ? node->count : 1;
  if (most > LIMIT_ITEMS)
    return field_refuse(&r->field, node->place, "'%s' has %zu patterns; at most %d are accepted", what, most,
                        LIMIT_ITEMS);
  *out = ARENA_ARRAY(r->field.arena, most, struct adapter_wish);
  for (size_t i = 0; i < most; i++) {
    const struct node *item = is_list ? &node->items[i] : node;
    struct adapter_wish *wish = &(*out)[*count];
    if (!adapter_pattern_read(r, item, what, &wish->match))
      continue;
    wish->text = item->text;
    wish->place = item->place;
    ++*count;
  }
  return true;
}

bool adapter_flag_read(struct adapter_reader *r, const struct node *node, const char *what)
{
  if (node == NULL || !field_is(&r->field, slice_of(what), node, NODE_SCALAR, "yes or no"))
    return false;
  struct slice text = slice_trim(node->text);
  static const char *const yes[] = {"yes", "on", "true"}, *const no[] = {"no", "off", "false"};
  for (size_t i = 0; i < sizeof yes / sizeof *yes; i++) {
    if (adapter_same_word(text, slice_of(yes[i])))
      return true;
    if (adapter_same_word(text, slice_of(no[i])))
      return false;
  }
  text = utf8_cut(text, SHOWN);
  return field_refuse(&r->field, node->place, "'%s' is yes or no, not '%.*s'", what, SLICE_ARG(text));
}

const struct slice *adapter_texts_read(struct adapter_reader *r, const struct node *node, const char *what,
                                       size_t *count)
{
  bool is_list = node->kind == NODE_LIST;
  size_t most = is_list ? node->count : 1;
  struct slice *texts = ARENA_ARRAY(r->field.arena, most, struct slice);
  *count = 0;
  for (size_t i = 0; i < most; i++) {
    const struct node *item = is_list ? &node->items[i] : node;
    if (item->kind != NODE_SCALAR)
      field_refuse(&r->field, item->place, "'%s' takes a text, or a list of texts, not %s", what, node_kind_name(item));
    else
      texts[(*count)++] = slice_trim(item->text);
  }
  return texts;
}

bool adapter_real_read(struct adapter_reader *r, const struct node *node, const char *what, double *out)
{
  if (!field_is(&r->field, slice_of(what), node, NODE_SCALAR, "a number"))
    return false;
  struct slice text = slice_trim(node->text), shown = utf8_cut(text, SHOWN);
  double value = 0;
  if (text.size == 0 || number_read(text, '.', &value) != text.size)
    return field_refuse(&r->field, node->place, "'%s' takes a plain number, not '%.*s'", what, SLICE_ARG(shown));
  *out = value;
  return true;
}

const struct unit *adapter_unit_find(const struct adapter *adapter, struct arena *arena, struct slice text,
                                     const char **why)
{
  text = slice_trim(text);
  for (size_t i = 0; i < adapter->unit_count; i++) {
    if (slice_equal(adapter->units[i].text, text))
      return adapter->units[i].unit;
  }
  return unit_read(arena, text, why);
}

const struct unit *adapter_unit_read(struct adapter_reader *r, const struct node *node, struct slice name,
                                     const struct unit *wanted)
{
  const char *why = NULL;
  if (!field_is(&r->field, slice_of("unit"), node, NODE_SCALAR, "the name of a unit"))
    return NULL;
  const struct unit *unit = adapter_unit_find(r->adapter, r->field.arena, node->text, &why);
  if (unit == NULL) {
    field_refuse(&r->field, node->place, "'%.*s': %s", SLICE_ARG(name), why);
    return NULL;
  }
  if (wanted == NULL || unit_agrees(unit, wanted))
    return unit;
  struct arena *arena = r->field.problems->arena;
  field_refuse(&r->field, node->place, "'%s' is %s, but '%.*s' is %s (in %s)", unit->name,
               dimension_name(arena, unit->dimension, unit->sense), SLICE_ARG(name),
               dimension_name(arena, wanted->dimension, wanted->sense), wanted->name);
  const char *hint = unit_mismatch_hint(arena, unit, wanted);
  if (hint != NULL)
    problems_hint(r->field.problems, "%s", hint);
  return NULL;
}

/* The next \k{NAME} from *at on: false when there is none; *at is then behind it and [*from, *at) is all of it. */
static bool next_name(struct slice text, size_t *at, size_t *from, struct slice *name)
{
  for (size_t i = *at; i + 3 < text.size; i++) {
    if (text.at[i] != '\\')
      continue;
    if (text.at[i + 1] != 'k' || text.at[i + 2] != '{') {
      i++;
      continue;
    }
    size_t end = i + 3;
    while (end < text.size && text.at[end] != '}')
      end++;
    if (end == text.size)
      return false;
    *from = i;
    *at = end + 1;
    *name = slice_part(text, i + 3, end);
    return true;
  }
  return false;
}

const char *adapter_reference_expand(struct arena *arena, struct slice text,
                                     const char *(*group)(void *context, struct slice name), void *context)
{
  const char *out = "";
  size_t at = 0, from = 0, done = 0;
  struct slice name;
  while (next_name(text, &at, &from, &name)) {
    const char *value = group(context, name);
    if (value == NULL)
      return NULL;
    size_t size = strlen(value), used = 0;
    char *quoted = arena_alloc(arena, 2 * size + 1);
    for (size_t i = 0; i < size; i++) {
      if (!is_letter_or_digit(value[i]) && ((unsigned char)value[i] & 0x80u) == 0)
        quoted[used++] = '\\';
      quoted[used++] = value[i];
    }
    out = arena_print(arena, "%s%.*s%s", out, SLICE_ARG(slice_part(text, done, from)), quoted);
    done = at;
  }
  return arena_print(arena, "%s%.*s", out, SLICE_ARG(slice_part(text, done, text.size)));
}

struct name_check {
  struct adapter_reader *r;
  const struct pattern *match;
  const struct node *node;
  size_t names;
};

static const char *check_name(void *context, struct slice name)
{
  struct name_check *check = context;
  check->names++;
  if (check->match != NULL && pattern_group(check->match, arena_text(check->r->field.arena, name)) == 0)
    field_refuse(&check->r->field, check->node->place, "the value's own match has no group '%.*s'", SLICE_ARG(name));
  return "x";
}

const struct adapter_reference *adapter_reference_read(struct adapter_reader *r, const struct node *node,
                                                       const char *what, const struct pattern *match,
                                                       const struct unit *number)
{
  static const char *const keys[] = {"match", "unit", NULL}, *const plain[] = {"match", NULL};
  struct arena *arena = r->field.arena;
  bool has_unit = number != NULL && !dimension_is_none(number->dimension);
  field_check_keys(&r->field, node, arena_print(arena, "'%s'", what), has_unit ? keys : plain);
  const struct node *pattern = node_get(node, "match"), *unit = node_get(node, "unit");
  struct adapter_reference *reference = ARENA_NEW(arena, struct adapter_reference);
  reference->unit = number;
  if (has_unit && unit != NULL) {
    reference->unit = adapter_unit_read(r, unit, slice_of(what), number);
    if (reference->unit == NULL)
      return NULL;
  }
  if (pattern == NULL) {
    field_refuse(&r->field, node->place, "'%s' has no 'match'", what);
    return NULL;
  }
  if (!field_is(&r->field, slice_of("match"), pattern, NODE_SCALAR, "a pattern"))
    return NULL;
  struct name_check check = {r, match, pattern, 0};
  bool refused = r->field.refused;
  r->field.refused = false;
  const char *expanded = adapter_reference_expand(arena, pattern->text, check_name, &check);
  struct slice text = check.names > 0 ? slice_of(expanded) : pattern->text;
  struct pattern *compiled = compile(r, pattern, "match", text);
  if (compiled != NULL && check.names > 0)
    pattern_free(compiled);
  else if (compiled != NULL)
    reference->pattern = keep(r, compiled);
  reference->text = pattern->text;
  bool good = !r->field.refused;
  r->field.refused = r->field.refused || refused;
  return good ? reference : NULL;
}

void adapter_refuse_name(struct adapter_reader *r, enum scope scope, const struct node *key)
{
  struct problems *problems = r->field.problems;
  struct slice shown = utf8_cut(key->text, SHOWN);
  enum scope other = scope == SCOPE_TUNE ? SCOPE_LOG : SCOPE_TUNE;
  field_refuse(&r->field, key->place, "no %s is called '%.*s'", scope == SCOPE_TUNE ? "setting" : "channel",
               SLICE_ARG(shown));
  if (problems->dropped > 0)
    return; /* looking for the nearest of a hostile file's million names would take minutes */
  const struct entry *nearest = vocabulary_nearest(r->field.vocabulary, scope, key->text);
  if (vocabulary_find(r->field.vocabulary, other, key->text) != NULL)
    problems_hint(problems, "'%.*s' is a %s", SLICE_ARG(shown),
                  other == SCOPE_TUNE ? "setting: it belongs under 'settings'"
                                      : "channel of logs: it belongs under 'log'");
  else if (nearest != NULL)
    problems_hint(problems, "did you mean '%.*s'?", SLICE_ARG(nearest->name));
}
