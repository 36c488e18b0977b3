/* What an undescribed export looks like: record_style_guess of text/record.h. Reading order: record_style_guess, look
 * (counts over the first lines), then the question for each shape in the order in which they are asked: XML, JSON,
 * YAML, lines, table, lines with another separator. The thresholds are common practice, no source. */
#include "text/flat.h"

/* A sheet shows its kind long before this many lines. */
#define LINES_MOST 2000

static const char delimiters[] = {'\t', ';', ',', '|'};
#define DELIMITERS (sizeof delimiters)

struct look {
  size_t lines;            /* neither blank nor comment nor section */
  size_t sections;         /* [NAME] */
  size_t equals;           /* with '=' after a name and before any delimiter */
  size_t colons;           /* with ':' likewise */
  size_t keys;             /* "NAME:" or "NAME: TEXT" or "- TEXT", as YAML wants it */
  size_t nested;           /* indented ones below a "NAME:", or items */
  size_t held[DELIMITERS]; /* with that delimiter */
  size_t blanks;           /* a word, blanks, a number */
  bool opened;             /* the line before was "NAME:" */
};

static bool holds_before(struct slice line, char wanted, const char *stops)
{
  for (size_t i = 0; i < line.size; i++) {
    if (line.at[i] == wanted)
      return i > 0;
    if (strchr(stops, line.at[i]) != NULL)
      return false;
  }
  return false;
}

static bool is_section(struct slice line)
{
  return line.size > 2 && line.at[0] == '[' && line.at[line.size - 1] == ']' &&
         memchr(line.at + 1, '[', line.size - 1) == NULL && memchr(line.at, ',', line.size) == NULL &&
         memchr(line.at, '"', line.size) == NULL;
}

static void look_yaml(struct look *look, struct slice raw, struct slice line)
{
  bool item = line.size > 1 && line.at[0] == '-' && line.at[1] == ' ';
  bool indented = raw.at[0] == ' ';
  size_t colon = 0;
  while (colon < line.size && !(line.at[colon] == ':' && (colon + 1 == line.size || line.at[colon + 1] == ' ')))
    colon++;
  bool key = colon > 0 && colon < line.size && line.at[0] != '[';
  look->keys += key || item;
  look->nested += (indented && look->opened && (key || item)) || (item && look->opened);
  look->opened = key && colon + 1 == line.size;
}

static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}

/* "RPM 500 1000 1500" */
static bool has_number_after_blank(struct slice line)
{
  size_t at = 0;
  while (at < line.size && !flat_is_blank(line.at[at]))
    at++;
  while (at < line.size && flat_is_blank(line.at[at]))
    at++;
  if (at < line.size && (line.at[at] == '-' || line.at[at] == '+'))
    at++;
  return at < line.size && is_digit(line.at[at]);
}

static struct look look_at(struct slice bytes, size_t at)
{
  struct look look = {0};
  while (at < bytes.size && look.lines + look.sections < LINES_MOST) {
    struct slice raw;
    at = flat_line(bytes, at, &raw);
    struct slice line = flat_trim(raw);
    if (line.size == 0 || line.at[0] == '#')
      continue;
    if (is_section(line)) {
      look.sections++;
      continue;
    }
    look.lines++;
    look.equals += holds_before(line, '=', "\t;,|");
    look.colons += holds_before(line, ':', "\t;,|=");
    look.blanks += has_number_after_blank(line);
    for (size_t i = 0; i < DELIMITERS; i++)
      look.held[i] += memchr(raw.at, delimiters[i], raw.size) != NULL;
    look_yaml(&look, raw, line);
  }
  return look;
}

static bool is_most(size_t part, const struct look *look)
{
  return part > 0 && 2 * part >= look->lines;
}

/* '[' opens a list of JSON, or the first section of lines. */
static bool is_json(struct slice bytes, size_t at)
{
  if (at == bytes.size || (bytes.at[at] != '{' && bytes.at[at] != '['))
    return false;
  struct slice line;
  size_t next = flat_line(bytes, at, &line);
  return bytes.at[at] == '{' || !is_section(flat_trim(line)) ||
         flat_trim(slice_part(bytes, next, bytes.size)).size == 0;
}

static struct record_style table_style(struct arena *arena, const struct look *look)
{
  struct record_style style = record_style_usual(arena, SHAPE_TABLE);
  size_t best = 0;
  for (size_t i = 1; i < DELIMITERS; i++)
    best = look->held[i] > look->held[best] ? i : best;
  style.delimiter = delimiters[best];
  return style;
}

static bool is_table(const struct look *look)
{
  for (size_t i = 0; i < DELIMITERS; i++) {
    if (is_most(look->held[i], look))
      return true;
  }
  return false;
}

struct record_style record_style_guess(struct arena *arena, const struct source *source)
{
  struct slice bytes = source->bytes;
  size_t at = bytes.size >= 3 && memcmp(bytes.at, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
  size_t first = at;
  while (first < bytes.size && flat_is_blank(bytes.at[first]))
    first++;
  if (first < bytes.size && bytes.at[first] == '<')
    return record_style_usual(arena, SHAPE_XML);
  if (is_json(bytes, first))
    return record_style_usual(arena, SHAPE_JSON);
  struct look look = look_at(bytes, at);
  if (look.sections == 0 && look.nested > 0 && 10 * look.keys >= 8 * look.lines)
    return record_style_usual(arena, SHAPE_YAML);
  if (is_most(look.equals, &look))
    return record_style_usual(arena, SHAPE_LINES);
  if (look.sections == 0 && is_table(&look))
    return table_style(arena, &look);
  struct record_style style = record_style_usual(arena, SHAPE_LINES);
  if (is_most(look.colons, &look))
    style.separator = slice_of(":");
  else if (look.equals == 0 && is_most(look.blanks, &look))
    style.separator = slice_of(" ");
  return style;
}
