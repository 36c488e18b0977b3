/* Name and value lines with sections and comments. Reading order: lines_read, read_line, split_line. A line's value
 * goes from the first separator to the end of the line: it may hold the separator again. */
#include "text/flat.h"

struct reading {
  struct flat *flat;
  uint32_t section; /* step; 0 before the first one */
};

static struct place place_of(const struct flat *flat, struct slice text)
{
  size_t from = (size_t)(text.at - flat->source->bytes.at);
  return flat_place(flat, from, from + text.size);
}

/* A line of dashes or the like is decoration. */
static bool is_ruled(struct slice line)
{
  for (size_t i = 0; i < line.size; i++) {
    char c = line.at[i];
    if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (unsigned char)c >= 0x80)
      return false;
  }
  return true;
}

/* Where the separator stands, its size in *size; the line's size when it is not there. A blank stands for any run of
 * blanks and tabs. */
static size_t find_separator(struct slice line, struct slice separator, size_t *size)
{
  bool blank = slice_is(separator, " ");
  *size = separator.size;
  for (size_t at = 0; separator.size > 0 && at + separator.size <= line.size; at++) {
    if (blank ? flat_is_blank(line.at[at]) : memcmp(line.at + at, separator.at, separator.size) == 0)
      return at;
  }
  return line.size;
}

/* A line without the separator: "RPM 500 1000 1500" has its name before the first word that begins as a number does;
 * 0 when that is the first word, or there is none. */
static size_t find_number(struct slice line)
{
  for (size_t at = 1; at < line.size; at++) {
    bool sign = line.at[at] == '-' || line.at[at] == '+' || line.at[at] == '.';
    size_t digit = at + (sign ? 1 : 0);
    bool first = flat_is_blank(line.at[at - 1]);
    if (first && digit < line.size && line.at[digit] >= '0' && line.at[digit] <= '9')
      return at;
  }
  return 0;
}

static bool starts_with_number(struct slice line)
{
  size_t at = strchr("+-.", line.at[0]) != NULL ? 1 : 0;
  return at < line.size && line.at[at] >= '0' && line.at[at] <= '9';
}

static bool add_line(struct reading *reading, struct slice line)
{
  struct flat *flat = reading->flat;
  if (is_ruled(line))
    return true;
  size_t size = 0;
  size_t at = find_separator(line, flat->style->separator, &size);
  if (at == line.size) {
    at = starts_with_number(line) ? 0 : find_number(line);
    size = 0;
  }
  struct slice name = flat_trim(slice_part(line, 0, at));
  struct slice text = flat_trim(slice_part(line, at + size, line.size));
  if (name.size == 0) {
    name = slice_of("(line)");
    text = line;
  }
  uint32_t step = flat_step(flat, reading->section, name, place_of(flat, line));
  return step != 0 && flat_record(flat, step, (struct slice){"", 0}, text, place_of(flat, text));
}

static bool read_line(struct reading *reading, struct slice line)
{
  struct flat *flat = reading->flat;
  const struct pattern *section = flat->style->section;
  if (line.size == 0 || flat_is_comment(flat, line))
    return true;
  if (section == NULL)
    return add_line(reading, line);
  struct pattern_match match;
  enum pattern_outcome outcome = pattern_find(section, line, 0, &match);
  if (outcome == PATTERN_TOO_COSTLY)
    return problems_add(flat->problems, place_of(flat, line),
                        "the pattern for sections, '%.*s', takes too many steps in this line",
                        SLICE_ARG(pattern_text(section)));
  if (outcome == PATTERN_NO)
    return add_line(reading, line);
  struct slice name = flat_trim(pattern_part(&match, line, match.group_count > 1 ? 1 : 0));
  reading->section = flat_step(flat, 0, name, place_of(flat, line));
  return reading->section != 0;
}

bool lines_read(struct flat *flat)
{
  struct reading reading = {.flat = flat};
  struct slice bytes = flat->source->bytes;
  for (size_t at = 0; at < bytes.size;) {
    struct slice line;
    at = flat_line(bytes, at, &line);
    if (!read_line(&reading, flat_trim(line)))
      return false;
  }
  return true;
}
