/* Text from inputs made safe to show. Reading order: the ranges, code_read, then escape_next, on which everything else
 * stands. Widths follow Unicode Standard Annex 11 (East Asian Width) in whole blocks, since a terminal has no say here:
 * wcwidth depends on the locale, and none is ever set. */
#include "report/escape.h"

#include <stdint.h>
#include <stdio.h>

struct range {
  uint32_t first, last;
};

/* Not to be shown as they are: other line ends, direction marks and overrides (Unicode Standard Annex 9), blanks of no
 * width, invisible operators, tags, non-characters. */
static const struct range hidden[] = {{0x0000, 0x001F},   {0x007F, 0x009F},   {0x00AD, 0x00AD},   {0x034F, 0x034F},
                                      {0x061C, 0x061C},   {0x115F, 0x1160},   {0x17B4, 0x17B5},   {0x180B, 0x180F},
                                      {0x200B, 0x200F},   {0x2028, 0x202E},   {0x2060, 0x206F},   {0x3164, 0x3164},
                                      {0xFEFF, 0xFEFF},   {0xFFA0, 0xFFA0},   {0xFFF0, 0xFFFB},   {0xFFFE, 0xFFFF},
                                      {0x1D173, 0x1D17A}, {0xE0000, 0xE0FFF}, {0xF0000, 0x10FFFF}};

static const struct range combining[] = {{0x0300, 0x036F}, {0x0483, 0x0489}, {0x0591, 0x05BD}, {0x0610, 0x061A},
                                         {0x064B, 0x065F}, {0x06D6, 0x06DC}, {0x0E34, 0x0E3A}, {0x0E47, 0x0E4E},
                                         {0x1AB0, 0x1ACE}, {0x1DC0, 0x1DFF}, {0x20D0, 0x20F0}, {0x302A, 0x302D},
                                         {0x3099, 0x309A}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F}};

static const struct range wide[] = {{0x1100, 0x115E},   {0x2E80, 0x303E},   {0x3041, 0x3247},   {0x3250, 0x4DBF},
                                    {0x4E00, 0xA4CF},   {0xA960, 0xA97C},   {0xAC00, 0xD7A3},   {0xF900, 0xFAFF},
                                    {0xFE10, 0xFE19},   {0xFE30, 0xFE6B},   {0xFF01, 0xFF60},   {0xFFE0, 0xFFE6},
                                    {0x1F300, 0x1F64F}, {0x1F680, 0x1F6FF}, {0x1F900, 0x1F9FF}, {0x1FA70, 0x1FAFF},
                                    {0x20000, 0x2FFFD}, {0x30000, 0x3FFFD}};

static bool within(const struct range *ranges, size_t count, uint32_t code)
{
  for (size_t i = 0; i < count; i++) {
    if (code >= ranges[i].first && code <= ranges[i].last)
      return true;
  }
  return false;
}
#define WITHIN(ranges, code) within(ranges, sizeof(ranges) / sizeof(ranges)[0], code)

/* One character by RFC 3629: its bytes, or 0 when it is no UTF-8. */
static size_t code_read(struct slice text, uint32_t *out)
{
  const unsigned char *at = (const unsigned char *)text.at;
  if (at[0] < 0x80) {
    *out = at[0];
    return 1;
  }
  size_t size = at[0] >= 0xF0 ? 4 : at[0] >= 0xE0 ? 3 : 2;
  if (at[0] < 0xC2 || at[0] > 0xF4 || size > text.size)
    return 0;
  static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
  uint32_t code = at[0] & (0xFFu >> (size + 1));
  for (size_t i = 1; i < size; i++) {
    if ((at[i] & 0xC0u) != 0x80u)
      return 0;
    code = code << 6 | (at[i] & 0x3Fu);
  }
  if (code < least[size] || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF))
    return 0;
  *out = code;
  return size;
}

struct escape_part escape_next(struct slice text)
{
  struct escape_part part = {.text = "", .used = 0, .columns = 0};
  if (text.size == 0)
    return part;
  uint32_t code = 0;
  size_t size = code_read(text, &code);
  part.used = size == 0 ? 1 : size;
  if (size != 0 && !WITHIN(hidden, code)) {
    memcpy(part.text, text.at, size);
    part.columns = code < 0x300 ? 1 : WITHIN(combining, code) ? 0 : WITHIN(wide, code) ? 2 : 1;
    return part;
  }
  int columns = 0;
  if (size == 0)
    columns = snprintf(part.text, sizeof part.text, "\\x%02x", (unsigned)(unsigned char)text.at[0]);
  else if (code == '\n' || code == '\t' || code == '\r')
    columns = snprintf(part.text, sizeof part.text, "\\%c", code == '\n' ? 'n' : code == '\t' ? 't' : 'r');
  else
    columns = snprintf(part.text, sizeof part.text, code < 0x100 ? "\\x%02x" : "\\u%04x", (unsigned)code);
  part.columns = (unsigned)columns;
  return part;
}

size_t escape_plain(struct slice text)
{
  size_t size = 0;
  while (size < text.size && text.at[size] >= 0x20 && text.at[size] < 0x7F)
    size++;
  return size;
}

const char *escape_line(struct arena *arena, struct slice text)
{
  size_t room = 1;
  if (escape_plain(text) == text.size)
    return arena_text(arena, text);
  for (struct slice rest = text; rest.size > 0;) {
    struct escape_part part = escape_next(rest);
    room += strlen(part.text);
    rest = slice_part(rest, part.used, rest.size);
  }
  char *out = arena_alloc(arena, room), *to = out;
  while (text.size > 0) {
    struct escape_part part = escape_next(text);
    size_t size = strlen(part.text);
    memcpy(to, part.text, size);
    to += size;
    text = slice_part(text, part.used, text.size);
  }
  return out;
}

size_t escape_columns(struct slice text)
{
  size_t columns = escape_plain(text);
  if (columns == text.size)
    return columns;
  text = slice_part(text, columns, text.size);
  while (text.size > 0) {
    struct escape_part part = escape_next(text);
    columns += part.columns;
    text = slice_part(text, part.used, text.size);
  }
  return columns;
}

struct slice escape_mend(struct arena *arena, struct slice text)
{
  static const char replacement[] = "\xEF\xBF\xBD";
  size_t broken = 0;
  uint32_t code = 0;
  for (size_t i = 0, size; i < text.size; i += size == 0 ? 1 : size) {
    size = code_read(slice_part(text, i, text.size), &code);
    broken += size == 0;
  }
  if (broken == 0)
    return text;
  char *out = arena_alloc(arena, text.size + 2 * broken + 1), *to = out;
  for (size_t i = 0, size; i < text.size; i += size == 0 ? 1 : size) {
    size = code_read(slice_part(text, i, text.size), &code);
    size_t copied = size == 0 ? 3 : size;
    memcpy(to, size == 0 ? replacement : text.at + i, copied);
    to += copied;
  }
  return (struct slice){out, (size_t)(to - out)};
}
