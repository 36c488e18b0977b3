/* From UTF-16 and Latin-1 to UTF-8: record_decode of text/record.h. Reading order: record_decode, then one function an
 * encoding, then finish_text, which looks for NUL and turns a lone CR into LF (the same number of bytes), so that lines
 * are counted as a person counts them. */
#include "base/limits.h"
#include "text/record.h"
#include "text/utf8.h"

struct decoding {
  struct arena *arena;
  struct source *source;
  struct problems *problems;
  struct slice bytes; /* without a byte order mark */
  size_t skipped;     /* bytes of that mark */
};

static bool starts_with(struct slice bytes, const char *mark, size_t size)
{
  return bytes.size >= size && memcmp(bytes.at, mark, size) == 0;
}

static bool refuse(const struct decoding *d, size_t at, size_t size, const char *message, const char *hint)
{
  at += d->skipped;
  problems_add(d->problems, (struct place){d->source->id, at, at + size}, "%s", message);
  if (hint != NULL)
    problems_hint(d->problems, "%s", hint);
  return false;
}

/* ---- UTF-16, RFC 2781 */

static uint32_t unit_at(struct slice bytes, size_t at, bool big)
{
  unsigned char first = (unsigned char)bytes.at[at], second = (unsigned char)bytes.at[at + 1];
  return big ? (uint32_t)first << 8 | second : (uint32_t)second << 8 | first;
}

static bool is_between(uint32_t code, uint32_t from, uint32_t to)
{
  return code >= from && code <= to;
}

static bool decode_utf16(const struct decoding *d, bool big, struct slice *out)
{
  struct slice bytes = d->bytes;
  if (bytes.size % 2 != 0)
    return refuse(d, bytes.size - 1, 1, "the file has an odd number of bytes: it is not UTF-16, or cut short", NULL);
  /* Two bytes become at most three, four become four. */
  char *text = arena_alloc(d->arena, bytes.size / 2 * 3 + 1), *to = text;
  for (size_t at = 0; at < bytes.size; at += 2) {
    uint32_t code = unit_at(bytes, at, big);
    if (is_between(code, 0xD800, 0xDFFF)) {
      uint32_t low = at + 2 < bytes.size ? unit_at(bytes, at + 2, big) : 0;
      if (code > 0xDBFF || !is_between(low, 0xDC00, 0xDFFF))
        return refuse(d, at, 2, "half of a UTF-16 surrogate pair", "the file is not UTF-16, or damaged");
      code = 0x10000 + ((code - 0xD800) << 10) + (low - 0xDC00);
      at += 2;
    }
    if (code == 0)
      return refuse(d, at, 2, "a NUL character: this is not a text file, or not in this encoding", NULL);
    to += utf8_write(to, code);
  }
  *out = (struct slice){text, (size_t)(to - text)};
  return true;
}

/* Without a mark: most characters of an export are below U+0100, so one of their two bytes is 0. */
static bool looks_big(struct slice bytes)
{
  size_t zeros[2] = {0, 0};
  for (size_t i = 0; i < bytes.size && i < 4096; i++)
    zeros[i % 2] += bytes.at[i] == '\0';
  return zeros[0] > zeros[1];
}

/* ---- Latin-1: what is labelled so is read as windows-1252 (WHATWG Encoding Standard, section 4.2), which fills
 * 0x80 to 0x9F, where ISO 8859-1 has control characters. 0: no character. */
static const uint16_t windows_1252[32] = {0x20AC, 0,      0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021,
                                          0x02C6, 0x2030, 0x0160, 0x2039, 0x0152, 0,      0x017D, 0,
                                          0,      0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014,
                                          0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0,      0x017E, 0x0178};

static bool decode_latin1(const struct decoding *d, struct slice *out)
{
  struct slice bytes = d->bytes;
  size_t high = 0;
  for (size_t i = 0; i < bytes.size; i++)
    high += (unsigned char)bytes.at[i] >= 0x80;
  char *text = arena_alloc(d->arena, bytes.size + 2 * high + 1), *to = text;
  for (size_t i = 0; i < bytes.size; i++) {
    uint32_t code = (unsigned char)bytes.at[i];
    if (is_between(code, 0x80, 0x9F))
      code = windows_1252[code - 0x80];
    if (code == 0)
      return refuse(d, i, 1, "this byte is no character of Latin-1", NULL);
    to += utf8_write(to, code);
  }
  *out = (struct slice){text, (size_t)(to - text)};
  return true;
}

/* ---- UTF-8 */

static bool check_utf8(const struct decoding *d)
{
  struct slice bytes = d->bytes;
  for (size_t at = 0; at < bytes.size;) {
    unsigned char byte = (unsigned char)bytes.at[at];
    uint32_t code = byte;
    size_t size = byte < 0x80 ? 1 : utf8_read(slice_part(bytes, at, bytes.size), &code);
    if (code == 0)
      return refuse(d, at, 1, "a NUL byte: this is not a text file, or not UTF-8", "UTF-16 is `encoding: utf-16`");
    if (size == 0)
      return refuse(d, at, 1, "this byte is not valid UTF-8", "most likely it is `encoding: latin-1`");
    at += size;
  }
  return true;
}

/* ---- all of them */

static bool has_lone_cr(struct slice text)
{
  for (size_t at = 0; at < text.size; at++) {
    const char *found = memchr(text.at + at, '\r', text.size - at);
    if (found == NULL)
      return false;
    at = (size_t)(found - text.at);
    if (at + 1 == text.size || text.at[at + 1] != '\n')
      return true;
  }
  return false;
}

static struct slice end_lines(struct arena *arena, struct slice text)
{
  if (!has_lone_cr(text))
    return text;
  char *copy = arena_text(arena, text);
  for (size_t i = 0; i < text.size; i++) {
    if (copy[i] == '\r' && copy[i + 1] != '\n')
      copy[i] = '\n';
  }
  return (struct slice){copy, text.size};
}

bool record_decode(struct arena *arena, struct source *source, enum record_encoding encoding, struct problems *problems)
{
  struct decoding d = {.arena = arena, .source = source, .problems = problems, .bytes = source->bytes};
  if (source->bytes.size > LIMIT_EXPORT_BYTES)
    return refuse(&d, 0, 0, "the export is over 32 MB", NULL);
  /* A mark says more than whoever described the export. */
  bool big = starts_with(d.bytes, "\xFE\xFF", 2);
  if (big || starts_with(d.bytes, "\xFF\xFE", 2)) {
    encoding = ENCODING_UTF16;
    d.skipped = 2;
  } else if (starts_with(d.bytes, "\xEF\xBB\xBF", 3)) {
    encoding = ENCODING_UTF8;
    d.skipped = 3;
  } else if (encoding == ENCODING_UTF16) {
    big = looks_big(d.bytes);
  }
  if (d.skipped > 0)
    d.bytes = slice_part(d.bytes, d.skipped, d.bytes.size);
  struct slice text = d.bytes;
  bool sound = encoding == ENCODING_UTF16    ? decode_utf16(&d, big, &text)
               : encoding == ENCODING_LATIN1 ? decode_latin1(&d, &text)
                                             : check_utf8(&d);
  if (!sound)
    return false;
  source->bytes = end_lines(arena, text);
  source->lines = NULL; /* they were those of the bytes before */
  return true;
}
