/* The k-th smallest of many values, exactly, in memory that does not grow with them: how often each of them occurs, or
 * of neighbours together; where those at the wanted place differ the values are gone through once more, for those
 * alone. Two that saw neighbouring stretches can be joined. Private to expr/. */
#ifndef KEYWAY_EXPR_TALLY_H
#define KEYWAY_EXPR_TALLY_H

#include "base/arena.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { TALLY_BUCKETS = 64, TALLY_RANKS = 2 };

struct tally_page { /* neighbouring buckets */
  uint32_t count[TALLY_BUCKETS];
  double first[TALLY_BUCKETS]; /* the value that came first */
  uint64_t mixed;              /* a bit for each: other values came as well */
};

struct tally_rank { /* of the values under which the wanted one is */
  double low, high; /* the least and the largest that may be among them */
  unsigned shift;   /* of the buckets that told so */
  size_t rank;      /* of the wanted one among them, from 0 */
  bool told;
  double value;
};

struct tally {
  double *kept; /* the values as they come, while they are few */
  size_t kept_count, kept_capacity;
  unsigned shift; /* low bits of a key that make no difference */
  struct tally_entry {
    uint64_t id; /* what the keys of its buckets have in common */
    struct tally_page *page;
  } * entries;       /* hashed */
  size_t room, used; /* room: a power of two */
  struct tally_entry *last;
  bool told;  /* the ranks */
  bool again; /* only those of the wanted ranks are taken: `finer` */
  struct tally_rank ranks[TALLY_RANKS];
  struct tally *finer; /* TALLY_RANKS */
};

/* Ready for values: all of them, or those that tally_settle() asked for. */
void tally_init(struct tally *tally, struct arena *arena);
void tally_take(struct tally *tally, struct arena *arena, const double *values, size_t count);
/* `next` saw other values, and is used up. */
void tally_join(struct tally *tally, struct arena *arena, const struct tally *next);

/* Are the values of both ranks (from 0, each under the number of values) told? Else all values must be taken again. */
bool tally_settle(struct tally *tally, struct arena *arena, const size_t ranks[TALLY_RANKS]);

#endif
