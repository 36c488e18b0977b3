/* UTF-8 after RFC 3629, section 4 (well-formed sequences): no overlong forms, no surrogates, nothing over U+10FFFF.
 * Reading order: utf8_read decodes one character; utf8_check judges a whole text with the character set that YAML 1.1,
 * section 5.1 calls printable; the cursor walks both ways from where it stood last. */
#include "text/utf8.h"

static bool is_tail(unsigned char byte)
{
  return (byte & 0xC0u) == 0x80u;
}

size_t utf8_read(struct slice bytes, uint32_t *out)
{
  static const uint32_t least[5] = {0, 0, 0x80, 0x800, 0x10000};
  if (bytes.size == 0) {
    return 0;
  }
  const unsigned char *at = (const unsigned char *)bytes.at;
  size_t size = at[0] < 0x80 ? 1 : at[0] >= 0xF0 ? 4 : at[0] >= 0xE0 ? 3 : 2;
  if (size == 1) {
    *out = at[0];
    return 1;
  }
  if (at[0] < 0xC2 || at[0] > 0xF4 || size > bytes.size) {
    return 0;
  }
  uint32_t code = at[0] & (0xFFu >> (size + 1));
  for (size_t i = 1; i < size; i++) {
    if (!is_tail(at[i])) {
      return 0;
    }
    code = code << 6 | (at[i] & 0x3Fu);
  }
  if (code < least[size] || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF)) {
    return 0;
  }
  *out = code;
  return size;
}

size_t utf8_write(char *to, uint32_t code)
{
  if (code < 0x80) {
    to[0] = (char)code;
    return 1;
  }
  size_t size = code < 0x800 ? 2 : code < 0x10000 ? 3 : 4;
  for (size_t i = size; i-- > 1; code >>= 6)
    to[i] = (char)(0x80u | (code & 0x3Fu));
  to[0] = (char)((0xF00u >> size & 0xFFu) | code);
  return size;
}

static enum utf8_fault judge(uint32_t code)
{
  if (code == 0) {
    return UTF8_NUL;
  }
  if (code == 0x85 || code == 0x2028 || code == 0x2029) {
    return UTF8_SEPARATOR;
  }
  if (code < 0x20) {
    return code == '\t' || code == '\n' || code == '\r' ? UTF8_SOUND : UTF8_CONTROL;
  }
  if ((code >= 0x7F && code < 0xA0) || code == 0xFEFF || code == 0xFFFE || code == 0xFFFF) {
    return UTF8_CONTROL;
  }
  return UTF8_SOUND;
}

struct utf8_check utf8_check(struct slice bytes)
{
  struct utf8_check check = {.ascii = true};
  if (bytes.size >= 2 && (memcmp(bytes.at, "\xFF\xFE", 2) == 0 || memcmp(bytes.at, "\xFE\xFF", 2) == 0)) {
    check.fault = UTF8_UTF16;
    check.size = 2;
    return check;
  }
  if (bytes.size >= 3 && memcmp(bytes.at, "\xEF\xBB\xBF", 3) == 0) {
    check.skip = 3;
  }
  for (size_t at = check.skip; at < bytes.size;) {
    unsigned char byte = (unsigned char)bytes.at[at];
    if (byte >= 0x20 && byte < 0x7F) {
      at++;
      continue;
    }
    uint32_t code = 0;
    size_t size = utf8_read(slice_part(bytes, at, bytes.size), &code);
    enum utf8_fault fault = size == 0 ? UTF8_BROKEN : judge(code);
    if (fault != UTF8_SOUND) {
      check.fault = fault;
      check.at = at;
      check.size = size == 0 ? 1 : size;
      return check;
    }
    check.ascii = check.ascii && size == 1;
    at += size;
  }
  return check;
}

size_t utf8_byte(struct utf8_cursor *cursor, size_t character)
{
  if (cursor->ascii) {
    return character < cursor->bytes.size ? character : cursor->bytes.size;
  }
  const unsigned char *at = (const unsigned char *)cursor->bytes.at;
  while (cursor->character < character && cursor->byte < cursor->bytes.size) {
    do {
      cursor->byte++;
    } while (cursor->byte < cursor->bytes.size && is_tail(at[cursor->byte]));
    cursor->character++;
  }
  while (cursor->character > character && cursor->byte > 0) {
    do {
      cursor->byte--;
    } while (cursor->byte > 0 && is_tail(at[cursor->byte]));
    cursor->character--;
  }
  return cursor->byte;
}

struct slice utf8_cut(struct slice text, size_t size)
{
  if (text.size <= size) {
    return text;
  }
  while (size > 0 && is_tail((unsigned char)text.at[size])) {
    size--;
  }
  return slice_part(text, 0, size);
}
