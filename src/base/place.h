/* Where something stands: a source and a span of its bytes. Line, column and caret are worked out when printed
 * (base/source.h), never stored. Any room may include this. */
#ifndef KEYWAY_BASE_PLACE_H
#define KEYWAY_BASE_PLACE_H

#include <stdint.h>

struct place {
  uint32_t source; /* id of the source, from 1; 0: no place */
  uint64_t start;  /* byte offset of the first byte */
  uint64_t end;    /* one past the last byte; equal to start for a point */
};

#define PLACE_NONE ((struct place){0, 0, 0})

#endif
