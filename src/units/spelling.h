/* How people type units, brought to one spelling. Included by units/ only. */
#ifndef KEYWAY_UNITS_SPELLING_H
#define KEYWAY_UNITS_SPELLING_H

#include "base/arena.h"
#include "base/slice.h"

/* No unit that people write is longer. */
#define SPELLING_SIZE 96

struct spelling {
  char at[SPELLING_SIZE];
  size_t size; /* 0: empty, or longer than any unit */
};

/* Drops blanks, "_" and "^", and writes signs in ASCII: "°" and its look-alikes "deg", both mus "u", omega "Ohm",
 * raised figures plain, raised dots and "*" ".". Bytes of ISO 8859-1 that are no UTF-8 are taken as what they are
 * there: many exports still use it. */
struct spelling spelling_fold(struct slice text);
struct slice spelling_slice(const struct spelling *spelling);

enum spelling_match { SPELLED_OTHERWISE, SPELLED_IN_OTHER_CASE, SPELLED_SO };

/* The best match among a row's spellings, which are separated by blanks; "_" in them is passed over. */
enum spelling_match spelling_match(struct slice spelled, const char *also);
/* Least distance to any of them that is within `most`; most + 1 when there is none. */
size_t spelling_distance(struct slice spelled, const char *also, size_t most);

/* Why a text that is no unit is refused, when more can be said than that: an air-fuel ratio, a gauge pressure ...
 * NULL: nothing special. Lives in `arena` or is static. */
const char *spelling_refusal(struct arena *arena, struct slice spelled, struct slice typed);

#endif
