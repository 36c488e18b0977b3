/* The values that settings files and job sheets share: quantities with their units, switches, choices, texts, lists,
 * pins. Curves and tables are in read/grid.h. Included by read/. One reader a thread. */
#ifndef KEYWAY_READ_FIELD_H
#define KEYWAY_READ_FIELD_H

#include "model/subject.h"
#include "text/yaml.h"

struct field_reader {
  struct arena *arena; /* of the values */
  const struct vocabulary *vocabulary;
  struct problems *problems;
  bool may_be_unknown; /* a job sheet: blank, "?" and "unknown" are answers too */
  bool refused;        /* something was, so far */
};

/* What a quantity is for. */
struct field_wanted {
  struct slice name;       /* for messages: "ignition.fixed_advance" */
  const struct unit *unit; /* dimension to agree with; NULL: any */
  const struct unit *bare; /* unit of a number without one */
};

struct field_quantity {
  struct quantity quantity;
  bool has_unit; /* the text itself named it */
};

/* Numbers of a list, an axis or the values of a curve. */
struct field_vector {
  size_t count; /* also when a number was refused */
  double *at;   /* base units */
  struct place *place;
  const struct unit *unit; /* declared, else the first number's own, else the vocabulary's */
};

/* Adds a problem and remembers that there was one; always false. */
bool field_refuse(struct field_reader *r, struct place place, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Nothing at all, or ~ or null. */
bool field_is_blank(const struct node *node);
/* Blank, "?" or "unknown". */
bool field_is_unknown(const struct node *node);

/* Refuses blanks ("'NAME' has no value") and nodes of another kind ("'NAME' takes WHAT, not a list"). */
bool field_is(struct field_reader *r, struct slice name, const struct node *node, enum node_kind kind,
              const char *what);

/* One quantity; false when refused. */
bool field_read_quantity(struct field_reader *r, const struct field_wanted *wanted, const struct node *node,
                         struct field_quantity *out);

/* A unit that agrees with wanted->unit; NULL when refused. */
const struct unit *field_read_unit(struct field_reader *r, const struct field_wanted *wanted, const struct node *node);

/* A list of numbers into out->at, from `first` on; false when one was refused. The arrays are the caller's. out->unit
 * is set by the first number that names one, unless it is set already. */
bool field_read_numbers(struct field_reader *r, const struct field_wanted *wanted, const struct node *list,
                        size_t first, struct field_vector *out);

/* Refuses each key of a map that is none of `known` (NULL-terminated), with a hint. `where` for messages: "a limit". */
void field_check_keys(struct field_reader *r, const struct node *map, const char *where, const char *const *known);

/* Refuses a key that is none of `known` (NULL-terminated), with a hint. */
void field_refuse_key(struct field_reader *r, const struct node *key, const char *where, const char *const *known);

/* The first line of a file says what it is: `key` ("keyway-settings") with the value 1. false when it does not
 * (refused); `what` is "settings file". */
bool field_check_version(struct field_reader *r, const struct node *root, const char *key, const char *what);

/* Any value of settings or facts, by its entry; NULL when refused. Not records and series. */
const struct value *field_read(struct field_reader *r, const struct entry *entry, const struct node *node);

#endif
