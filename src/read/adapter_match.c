/* Which records an entry means, and which texts of them count. Reading order: adapter_find, adapter_item_of,
 * adapter_items_of (split), adapter_follow (a unit or barometer in a record of its own). */
#include "read/adapter_parts.h"

#include "base/limits.h"
#include "text/utf8.h"

#define SHOWN 60
/* Cells of the largest table, and breakpoints that are repeated in each of them. */
#define ITEMS_MOST ((size_t)LIMIT_AXIS * LIMIT_AXIS)
#define SEARCHES_BETWEEN 256 /* looks at the clock */

bool adapter_refuse(struct adapter_run *run, const struct adapter_spec *spec, struct place place, const char *format,
                    ...)
{
  va_list args;
  va_start(args, format);
  const char *message = arena_vprint(run->problems->arena, format, args);
  va_end(args);
  run->refused = true;
  problems_add(run->problems, place, "'%.*s': %s", SLICE_ARG(spec->name), message);
  adapter_hint(run, "its entry is in", spec->place);
  return false;
}

void adapter_hint(struct adapter_run *run, const char *what, struct place place)
{
  const struct source *source = run->adapter->source;
  size_t line = 1;
  if (run->problems->dropped > 0)
    return;
  for (size_t i = 0; i < source->bytes.size && i < place.start; i++)
    line += source->bytes.at[i] == '\n';
  problems_hint(run->problems, "%s line %zu of %.*s", what, line, SLICE_ARG(source->name));
}

bool adapter_is_late(struct adapter_run *run)
{
  if (run->late)
    return true;
  if (++run->searches % SEARCHES_BETWEEN != 0 || clock() - run->start < LIMIT_ADAPTER_SECONDS * CLOCKS_PER_SEC)
    return false;
  run->refused = run->late = true;
  problems_add(run->problems, adapter_top(run), "the adapter's patterns took more than %d s on %zu records",
               LIMIT_ADAPTER_SECONDS, run->records.count);
  problems_hint(run->problems, "patterns that begin with ^ and plain text are quick");
  return true;
}

struct place adapter_top(const struct adapter_run *run)
{
  return (struct place){run->source->id, 0, 0};
}

/* A match, or none; a costly one is refused. */
static enum pattern_outcome find(struct adapter_run *run, const struct adapter_spec *spec,
                                 const struct adapter_pattern *pattern, struct slice subject, struct place place,
                                 struct pattern_match *match)
{
  struct slice prefix = pattern->prefix;
  if (subject.size < prefix.size || !slice_equal(slice_part(subject, 0, prefix.size), prefix))
    return PATTERN_NO;
  if (adapter_is_late(run))
    return PATTERN_TOO_COSTLY;
  enum pattern_outcome outcome = pattern_find(pattern->pattern, subject, 0, match);
  if (outcome == PATTERN_TOO_COSTLY)
    adapter_refuse(run, spec, place, "its pattern takes too long on this record");
  return outcome;
}

bool adapter_find(struct adapter_run *run, const struct adapter_spec *spec, struct adapter_hits *out)
{
  struct pattern_match match;
  *out = (struct adapter_hits){0};
  for (size_t i = 0; i < run->records.count; i++) {
    const struct record_line *record = &run->records.items[i];
    enum pattern_outcome outcome = find(run, spec, &spec->match, record->path, record->place, &match);
    if (outcome == PATTERN_YES) {
      out->seen = true;
      run->state[i] = ADAPTER_USED;
      if (spec->where.pattern != NULL)
        outcome = find(run, spec, &spec->where, record->text, record->place, &match);
    }
    if (outcome == PATTERN_TOO_COSTLY)
      return false;
    if (outcome == PATTERN_NO)
      continue;
    if (out->count == ITEMS_MOST)
      return adapter_refuse(run, spec, record->place, "more than %zu records match", ITEMS_MOST);
    out->items = arena_grow(run->scratch, out->items, out->count, &out->capacity, sizeof *out->items);
    out->items[out->count++] = i;
  }
  return true;
}

/* The place of a part of a record's text; the whole record's where the file writes the text in another way. */
static struct place part_place(const struct adapter_run *run, const struct record_line *record, struct slice part)
{
  struct place place = record->place;
  bool is_part = part.at >= record->text.at && part.at + part.size <= record->text.at + record->text.size;
  if (!is_part || place.end - place.start != record->text.size ||
      memcmp(run->source->bytes.at + place.start, record->text.at, record->text.size) != 0)
    return place;
  place.start += (uint64_t)(part.at - record->text.at);
  place.end = place.start + part.size;
  return place;
}

struct slice adapter_group_of(const struct adapter_spec *spec, const struct record_line *record, size_t group)
{
  struct pattern_match match;
  if (pattern_find(spec->match.pattern, record->path, 0, &match) != PATTERN_YES)
    return (struct slice){"", 0};
  return pattern_part(&match, record->path, group);
}

bool adapter_item_of(struct adapter_run *run, const struct adapter_spec *spec, size_t record, struct adapter_item *out)
{
  const struct record_line *line = &run->records.items[record];
  struct slice text = spec->from > 0 ? adapter_group_of(spec, line, spec->from) : line->text;
  struct slice shown = utf8_cut(text, SHOWN);
  if (spec->text.pattern != NULL) {
    struct pattern_match match;
    enum pattern_outcome outcome = find(run, spec, &spec->text, text, line->place, &match);
    if (outcome == PATTERN_NO)
      return adapter_refuse(run, spec, line->place, "'%.*s' is not as its 'text' says", SLICE_ARG(shown));
    if (outcome != PATTERN_YES)
      return false;
    text = pattern_part(&match, text, spec->text_group);
  }
  text = slice_trim(text);
  *out = (struct adapter_item){record, text, part_place(run, line, text)};
  return true;
}

bool adapter_is_unused(const struct adapter_spec *spec, struct slice text)
{
  for (size_t i = 0; i < spec->unused_count; i++) {
    if (adapter_same_word(spec->unused[i], text))
      return true;
  }
  return false;
}

static bool add_item(struct adapter_run *run, const struct adapter_spec *spec, struct adapter_item item,
                     struct adapter_items *out)
{
  if (adapter_is_unused(spec, item.text))
    return true;
  if (out->count == ITEMS_MOST)
    return adapter_refuse(run, spec, item.place, "more than %zu numbers", ITEMS_MOST);
  out->items = arena_grow(run->scratch, out->items, out->count, &out->capacity, sizeof *out->items);
  out->items[out->count++] = item;
  return true;
}

/* A separator at the start or the end belongs to the list, not to an empty item. */
static bool add_pieces(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_item *whole,
                       struct adapter_items *out)
{
  const struct record_line *line = &run->records.items[whole->record];
  size_t at = 0, search = 0;
  while (at <= whole->text.size) {
    struct pattern_match match;
    enum pattern_outcome outcome = pattern_find(spec->split.pattern, whole->text, search, &match);
    if (outcome == PATTERN_TOO_COSTLY)
      return adapter_refuse(run, spec, whole->place, "the pattern of 'split' takes too long on this record");
    size_t from = outcome == PATTERN_YES ? match.from[0] : whole->text.size;
    size_t to = outcome == PATTERN_YES ? match.to[0] : whole->text.size + 1;
    if (from == to && from < whole->text.size) {
      search = from + 1; /* an empty match separates nothing */
      continue;
    }
    struct slice piece = slice_trim(slice_part(whole->text, at, from));
    struct adapter_item item = {whole->record, piece, part_place(run, line, piece)};
    bool edge = at == 0 || from == whole->text.size;
    if (piece.size == 0 && !edge && !adapter_is_unused(spec, piece))
      return adapter_refuse(run, spec, item.place, "nothing stands between two separators");
    if (piece.size > 0 && !add_item(run, spec, item, out))
      return false;
    at = search = to > from ? to : whole->text.size + 1;
  }
  return true;
}

bool adapter_items_of(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_hits *hits,
                      struct adapter_items *out)
{
  bool good = true;
  *out = (struct adapter_items){0};
  for (size_t i = 0; i < hits->count; i++) {
    struct adapter_item item = {0};
    if (!adapter_item_of(run, spec, hits->items[i], &item))
      good = false;
    else if (spec->split.pattern != NULL)
      good = add_pieces(run, spec, &item, out) && good;
    else
      good = add_item(run, spec, item, out) && good;
  }
  return good;
}

struct follow {
  struct adapter_run *run;
  const struct adapter_spec *spec;
  const struct record_line *record;
};

static const char *group_text(void *context, struct slice name)
{
  const struct follow *follow = context;
  struct arena *scratch = follow->run->scratch;
  size_t group = pattern_group(follow->spec->match.pattern, arena_text(scratch, name));
  return arena_text(scratch, adapter_group_of(follow->spec, follow->record, group));
}

static const struct record_line *only_match(struct adapter_run *run, const struct adapter_spec *spec,
                                            const struct pattern *pattern, struct slice text, struct place place)
{
  const struct record_line *found = NULL;
  struct adapter_pattern plain = {pattern, {NULL, 0}};
  struct slice shown = utf8_cut(text, SHOWN);
  for (size_t i = 0; i < run->records.count; i++) {
    const struct record_line *line = &run->records.items[i];
    struct pattern_match match;
    enum pattern_outcome outcome = find(run, spec, &plain, line->path, line->place, &match);
    if (outcome == PATTERN_TOO_COSTLY)
      return NULL;
    if (outcome == PATTERN_NO)
      continue;
    run->state[i] = ADAPTER_USED;
    if (found != NULL) {
      adapter_refuse(run, spec, line->place, "a second record matches '%.*s', where one should", SLICE_ARG(shown));
      return NULL;
    }
    found = line;
  }
  if (found == NULL)
    adapter_refuse(run, spec, place, "no record matches '%.*s'", SLICE_ARG(shown));
  return found;
}

const struct record_line *adapter_follow(struct adapter_run *run, const struct adapter_spec *spec,
                                         const struct adapter_reference *reference, size_t record)
{
  const struct record_line *line = &run->records.items[record];
  if (reference->pattern != NULL)
    return only_match(run, spec, reference->pattern, reference->text, line->place);
  struct follow follow = {run, spec, line};
  struct slice text = slice_of(adapter_reference_expand(run->scratch, reference->text, group_text, &follow));
  const char *why = NULL;
  size_t at = 0;
  struct pattern *pattern = pattern_compile(run->scratch, text, &why, &at);
  if (pattern == NULL) {
    adapter_refuse(run, spec, line->place, "'%.*s' is no pattern: %s", SLICE_ARG(utf8_cut(text, SHOWN)), why);
    return NULL;
  }
  const struct record_line *found = only_match(run, spec, pattern, text, line->place);
  pattern_free(pattern);
  return found;
}
