/* UTF-8: is it sound, and where does a character start. Included by text/ and read/. Thread-safe. */
#ifndef KEYWAY_TEXT_UTF8_H
#define KEYWAY_TEXT_UTF8_H

#include "base/slice.h"

#include <stdint.h>

enum utf8_fault {
  UTF8_SOUND,
  UTF8_BROKEN,    /* not UTF-8 */
  UTF8_NUL,       /* a NUL byte */
  UTF8_CONTROL,   /* a control character other than tab, CR, LF; a BOM in the middle; a non-character */
  UTF8_SEPARATOR, /* U+0085, U+2028, U+2029: line ends to some programs, not to others */
  UTF8_UTF16      /* starts with a UTF-16 or UTF-32 mark */
};

struct utf8_check {
  enum utf8_fault fault; /* the first one */
  size_t at, size;       /* its bytes */
  size_t skip;           /* 3 when the text starts with a UTF-8 BOM, else 0 */
  bool ascii;            /* all of it, BOM left out */
};

/* Looks through all of `bytes`, up to the first fault. */
struct utf8_check utf8_check(struct slice bytes);

/* Bytes of the character that starts `bytes` (1 to 4), its code point in *out; 0 when it is no UTF-8. */
size_t utf8_read(struct slice bytes, uint32_t *out);

/* Writes a code point's 1 to 4 bytes; returns their number. */
size_t utf8_write(char *to, uint32_t code);

/* Turns counts of characters into byte offsets; quick when asked in rising or nearly rising order. Start: all zero but
 * `bytes` and `ascii`. `bytes` must be sound. */
struct utf8_cursor {
  struct slice bytes;
  bool ascii;
  size_t character, byte;
};
size_t utf8_byte(struct utf8_cursor *cursor, size_t character);

/* At most `size` bytes, cut between characters. */
struct slice utf8_cut(struct slice text, size_t size);

#endif
