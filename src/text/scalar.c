/* Where a byte of a scalar's decoded text stands in the file: node_place of text/yaml.h. Rules point into expressions
 * that are YAML scalars, so this undoes quoting, escapes, folding and indentation.
 *
 * Reading order: node_place; walk_flow for plain and quoted scalars, which replays YAML 1.1's line folding (section
 * 4.2.4: the blanks around a line break go, one break is a blank, n are n - 1 breaks); walk_block for | and >, where
 * only blanks are added and dropped, so that the nth non-blank byte of the text is the nth of the file. */
#include "text/utf8.h"
#include "text/yaml.h"

struct walk {
  struct slice raw; /* without quotes or block header */
  size_t raw_at;    /* byte of the file reached */
  size_t text_at;   /* byte of the decoded text reached */
};

static bool is_blank(char c)
{
  return c == ' ' || c == '\t';
}

static bool is_break(char c)
{
  return c == '\n' || c == '\r';
}

static size_t break_size(struct slice raw, size_t at)
{
  return raw.at[at] == '\r' && at + 1 < raw.size && raw.at[at + 1] == '\n' ? 2 : 1;
}

/* Blanks and breaks from `at`: their raw size, and the breaks among them. */
static size_t run_size(struct slice raw, size_t at, size_t *breaks)
{
  size_t from = at;
  *breaks = 0;
  while (at < raw.size && (is_blank(raw.at[at]) || is_break(raw.at[at]))) {
    if (is_break(raw.at[at])) {
      ++*breaks;
      at += break_size(raw, at);
    } else {
      at++;
    }
  }
  return at - from;
}

static size_t code_size(uint32_t code)
{
  return code < 0x80 ? 1 : code < 0x800 ? 2 : code < 0x10000 ? 3 : 4;
}

static uint32_t hex_value(struct slice digits)
{
  uint32_t value = 0;
  for (size_t i = 0; i < digits.size; i++) {
    char c = digits.at[i];
    value = value * 16 + (uint32_t)(c <= '9' ? c - '0' : (c | 0x20) - 'a' + 10);
  }
  return value;
}

/* A backslash escape at `at`: raw bytes used; decoded bytes in *size. */
static size_t escape_size(struct slice raw, size_t at, size_t *size)
{
  *size = 1;
  if (at + 1 >= raw.size)
    return raw.size - at;
  char c = raw.at[at + 1];
  if (is_break(c)) {
    size_t breaks = 0;
    size_t run = run_size(raw, at + 1, &breaks);
    *size = breaks - 1;
    return 1 + run;
  }
  size_t digits = c == 'x' ? 2 : c == 'u' ? 4 : c == 'U' ? 8 : 0;
  if (digits > 0 && at + 2 + digits <= raw.size)
    *size = code_size(hex_value(slice_part(raw, at + 2, at + 2 + digits)));
  else if (c == 'N' || c == '_')
    *size = 2; /* U+0085, U+00A0 */
  else if (c == 'L' || c == 'P')
    *size = 3; /* U+2028, U+2029 */
  return 2 + digits <= raw.size - at ? 2 + digits : raw.size - at;
}

/* One step: what the next raw bytes decode to. */
static void step_sizes(struct slice raw, size_t at, char quote, size_t *raw_size, size_t *text_size)
{
  size_t breaks = 0;
  size_t run = run_size(raw, at, &breaks);
  *raw_size = *text_size = 1;
  if (run > 0 && breaks > 0) {
    *raw_size = run;
    *text_size = breaks == 1 ? 1 : breaks - 1;
  } else if (run > 0) {
    *raw_size = *text_size = run;
  } else if (quote == '"' && raw.at[at] == '\\') {
    *raw_size = escape_size(raw, at, text_size);
  } else if (quote == '\'' && raw.at[at] == '\'') {
    *raw_size = 2;
  }
}

/* Goes on to the raw byte that decoded byte `to` begins with; after the last one when `after`. */
static size_t walk_flow(struct walk *walk, char quote, size_t to, bool after)
{
  while (walk->raw_at < walk->raw.size) {
    size_t raw_size = 0, text_size = 0;
    step_sizes(walk->raw, walk->raw_at, quote, &raw_size, &text_size);
    if (walk->text_at + text_size > to) {
      size_t into = to - walk->text_at;
      if (raw_size == text_size)
        return walk->raw_at + into + (after ? 1 : 0);
      return walk->raw_at + (after ? raw_size : 0);
    }
    walk->text_at += text_size;
    walk->raw_at += raw_size;
  }
  return walk->raw.size;
}

static bool is_white(char c)
{
  return is_blank(c) || is_break(c);
}

/* The raw byte of text byte `to`: past as many non-blank bytes as stand before it, then, for a blank, past the blanks
 * of the same line. */
static size_t walk_block(struct walk *walk, struct slice text, size_t to)
{
  size_t blanks = 0;
  for (; walk->text_at < to; walk->text_at++) {
    if (is_white(text.at[walk->text_at])) {
      blanks++;
      continue;
    }
    blanks = 0;
    while (walk->raw_at < walk->raw.size && is_white(walk->raw.at[walk->raw_at]))
      walk->raw_at++;
    walk->raw_at += walk->raw_at < walk->raw.size ? 1 : 0;
  }
  size_t at = walk->raw_at;
  bool white = to >= text.size || is_white(text.at[to]);
  while (at < walk->raw.size && is_white(walk->raw.at[at]) && (!white || blanks-- > 0))
    at++;
  return at;
}

static struct place block_place(const struct source *source, const struct node *scalar, size_t from, size_t to)
{
  size_t start = (size_t)scalar->place.start, end = (size_t)scalar->place.end;
  while (start < end && !is_break(source->bytes.at[start]))
    start++;
  struct walk walk = {.raw = slice_part(source->bytes, start, end)};
  struct place place = {source->id, start + walk_block(&walk, scalar->text, from), 0};
  place.end = to > from ? start + walk_block(&walk, scalar->text, to - 1) + 1 : place.start;
  if (place.start > scalar->place.end)
    place.start = scalar->place.end;
  if (place.end > scalar->place.end || place.end < place.start)
    place.end = place.end < place.start ? place.start : scalar->place.end;
  return place;
}

struct place node_place(const struct source *source, const struct node *scalar, size_t from, size_t to)
{
  if (scalar->kind != NODE_SCALAR || source->id != scalar->place.source || scalar->place.end > source->bytes.size)
    return scalar->place;
  to = to > scalar->text.size ? scalar->text.size : to;
  from = from > to ? to : from;
  if (scalar->block)
    return block_place(source, scalar, from, to);
  size_t start = (size_t)scalar->place.start, end = (size_t)scalar->place.end;
  char quote = '\0';
  if (scalar->quoted && end >= start + 2) {
    quote = source->bytes.at[start];
    start++;
    end--;
  }
  struct walk walk = {.raw = slice_part(source->bytes, start, end)};
  struct place place = {source->id, start + walk_flow(&walk, quote, from, false), 0};
  place.end = to > from ? start + walk_flow(&walk, quote, to - 1, true) : place.start;
  return place;
}
