/* What an adapter is made of. Included by read/ (adapter*.c). Everything lives in the adapter's arena but the compiled
 * patterns, which adapter_free frees. */
#ifndef KEYWAY_READ_ADAPTER_PARTS_H
#define KEYWAY_READ_ADAPTER_PARTS_H

#include "read/adapter.h"
#include "read/field.h"

#include <time.h>

struct adapter_pattern {
  const struct pattern *pattern; /* NULL: not given */
  struct slice prefix;           /* every match starts with it at the start of the subject; empty: nothing is known */
};

/* A number or unit that stands in a record of its own: {match: PATTERN}, where \k{NAME} stands for a group of the
 * value's own match. */
struct adapter_reference {
  struct slice text;             /* of the pattern */
  const struct pattern *pattern; /* NULL: it names groups, and is compiled when they are known */
  const struct unit *unit;       /* of the number; NULL: the pattern leads to a unit */
};

enum adapter_take { ADAPTER_TAKE_ONE, ADAPTER_TAKE_FIRST, ADAPTER_TAKE_LAST };

/* Which keys an entry takes: what it describes. */
enum adapter_role {
  ADAPTER_NUMBER = 1,
  ADAPTER_SWITCH = 2,
  ADAPTER_CHOICE = 4,
  ADAPTER_TEXT = 8,
  ADAPTER_LIST = 16,
  ADAPTER_AXIS = 32,
  ADAPTER_CURVE = 64, /* its values */
  ADAPTER_TABLE = 128 /* its values */
};

/* Where one value, axis or set of values stands, and how it is written. */
struct adapter_spec {
  struct slice name;  /* "ignition.spark_advance.x" */
  struct place place; /* in the adapter */
  enum adapter_role role;
  struct adapter_channel how;
  const struct unit *wanted; /* the dictionary's; NULL: not a number */
  struct adapter_pattern match, where, text, split;
  size_t text_group; /* of `text`: what counts; 0: the whole match */
  size_t from;       /* group of `match` that counts in place of the text; 0: the text counts */
  enum adapter_take take;
  bool needed, hex, unit_in_text, by_columns, flip_x, flip_y, once;
  size_t row_group, column_group; /* `at`; 0: file order counts */
  const struct adapter_reference *unit_at, *ratio_at, *barometer_at;
  size_t unused_count;
  const struct slice *unused;
  const struct field_vector *fixed; /* an axis' `is` */
};

/* One rule of `inputs` or `outputs`. */
struct adapter_pin {
  struct adapter_spec spec;     /* match, where, text, unused */
  struct slice function;        /* fixed; empty: see below */
  const char *function_from;    /* group; NULL and no fixed one: the text */
  const char *pin_from;         /* group; NULL: the text */
  const struct node *functions; /* maps; NULL: none */
  const struct node *pins;
};

struct adapter_entry {
  const struct entry *entry; /* NULL: the adapter has none for this name */
  const struct value *fixed; /* `is` */
  struct adapter_spec value, x, y;
  size_t pin_count;
  const struct adapter_pin *pins;
};

struct adapter_log_channel {
  struct adapter_pattern header;
  struct adapter_channel how;
};

struct adapter_unit { /* the export's word for a unit */
  struct slice text;
  const struct unit *unit;
};

struct adapter_wish { /* one pattern of `expect` or `ignore` */
  struct adapter_pattern match;
  struct slice text;
  struct place place; /* in the adapter */
};

struct adapter {
  const struct source *source;
  struct slice name;
  bool has_style; /* else the export's bytes suggest one */
  struct record_style style;
  enum record_encoding encoding;
  char decimal; /* '.' or ',' */
  struct slice thousands;
  size_t expect_count, ignore_count, unit_count;
  struct adapter_wish *expect, *ignore;
  struct adapter_unit *units;
  bool has_settings, has_log;
  struct adapter_entry *entries; /* one for each tune name */
  size_t channel_count;
  struct adapter_log_channel *channels;
  double rate;
  bool only;
  size_t pattern_count, pattern_room;
  struct pattern **patterns; /* all of them, to be freed */
};

/* Reading an adapter. */
struct adapter_reader {
  struct field_reader field;
  const struct source *source;
  struct adapter *adapter;
};

/* adapter_keys.c: what all parts of the file share. */
/* Compiles a scalar's text; false when refused. `what` for messages: "match". */
bool adapter_pattern_read(struct adapter_reader *r, const struct node *node, const char *what,
                          struct adapter_pattern *out);
/* A list of patterns, or one. */
bool adapter_wishes_read(struct adapter_reader *r, const struct node *node, const char *what, size_t *count,
                         struct adapter_wish **out);
/* yes or no; a node of NULL is no. */
bool adapter_flag_read(struct adapter_reader *r, const struct node *node, const char *what);
/* A list of texts, or one. */
const struct slice *adapter_texts_read(struct adapter_reader *r, const struct node *node, const char *what,
                                       size_t *count);
/* A plain number; false when refused. */
bool adapter_real_read(struct adapter_reader *r, const struct node *node, const char *what, double *out);
/* A unit by the export's word or Keyway's, that agrees with `wanted` (NULL: any). NULL when refused. */
const struct unit *adapter_unit_read(struct adapter_reader *r, const struct node *node, struct slice name,
                                     const struct unit *wanted);
/* {match: PATTERN, unit: U}; `match` is the value's own, NULL when it has none. NULL when refused. */
const struct adapter_reference *adapter_reference_read(struct adapter_reader *r, const struct node *node,
                                                       const char *what, const struct pattern *match,
                                                       const struct unit *number);
/* The pattern text with each \k{NAME} replaced by what `group` gives (NULL: refused by it), quoted. */
const char *adapter_reference_expand(struct arena *arena, struct slice text,
                                     const char *(*group)(void *context, struct slice name), void *context);
/* No name of that kind: with the nearest as a hint. */
void adapter_refuse_name(struct adapter_reader *r, enum scope scope, const struct node *key);
/* In any case of ASCII letters. */
bool adapter_same_word(struct slice a, struct slice b);

/* adapter_how.c: values, bit, inverted, air_fuel_ratio, gauge, scale, offset, for settings and logs alike. `spec` NULL:
 * a log, which knows no records. */
void adapter_how_read(struct adapter_reader *r, const struct node *map, struct slice name, struct adapter_channel *how,
                      struct adapter_spec *spec);

/* adapter_spec.c */
void adapter_spec_read(struct adapter_reader *r, const struct node *map, struct slice name, enum adapter_role role,
                       const struct entry *entry, const struct unit *wanted, struct adapter_spec *out);
/* adapter_entry.c */
void adapter_settings_read(struct adapter_reader *r, const struct node *map);
/* adapter_log.c */
void adapter_log_read(struct adapter_reader *r, const struct node *map);

/* Applying one. */
struct adapter_run {
  struct arena *arena; /* of the settings */
  struct arena *scratch;
  const struct adapter *adapter;
  const struct source *source; /* the export */
  struct problems *problems;
  struct record_list records;
  unsigned char *state; /* one a record: enum adapter_state */
  bool refused, late;
  size_t searches; /* of patterns, so far */
  clock_t start;
};

enum adapter_state { ADAPTER_UNKNOWN, ADAPTER_IGNORED, ADAPTER_USED };

struct adapter_hits { /* indexes of records, in file order */
  size_t count, capacity;
  size_t *items;
  bool seen; /* a path matched, whether or not `where` did */
};

/* A text that counts, and where it stands. */
struct adapter_item {
  size_t record;
  struct slice text;
  struct place place;
};

struct adapter_items {
  size_t count, capacity;
  struct adapter_item *items;
};

/* adapter_match.c */
/* Adds a problem "'NAME': ..." with the entry's place in the adapter as a hint; always false. */
bool adapter_refuse(struct adapter_run *run, const struct adapter_spec *spec, struct place place, const char *format,
                    ...) __attribute__((format(printf, 4, 5)));
/* For a problem added last: where in the adapter the reason stands. */
void adapter_hint(struct adapter_run *run, const char *what, struct place place);
/* All of the patterns together have taken more time than any real export needs; refused once. */
bool adapter_is_late(struct adapter_run *run);
/* The records that a spec matches, marked as used. false when refused. */
bool adapter_find(struct adapter_run *run, const struct adapter_spec *spec, struct adapter_hits *out);
/* What counts of one record: after `from` and `text`. false when refused. */
bool adapter_item_of(struct adapter_run *run, const struct adapter_spec *spec, size_t record, struct adapter_item *out);
/* The same for all hits, split, without what is unused. */
bool adapter_items_of(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_hits *hits,
                      struct adapter_items *out);
bool adapter_is_unused(const struct adapter_spec *spec, struct slice text);
/* A group of the spec's match with the record's path. */
struct slice adapter_group_of(const struct adapter_spec *spec, const struct record_line *record, size_t group);
/* The one record that a reference leads to, seen from `record`; NULL when refused. */
const struct record_line *adapter_follow(struct adapter_run *run, const struct adapter_spec *spec,
                                         const struct adapter_reference *reference, size_t record);
/* The whole export, for problems that have no place of their own. */
struct place adapter_top(const struct adapter_run *run);

/* adapter_number.c */
/* The spec's channel with what its references say. false when refused. */
bool adapter_settle(struct adapter_run *run, const struct adapter_spec *spec, size_t record,
                    struct adapter_channel *out);
/* A number in base units and the unit that it was written in. */
bool adapter_number_of(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_channel *how,
                       const struct adapter_item *item, struct quantity *out);
/* A whole vector. */
bool adapter_numbers_of(struct adapter_run *run, const struct adapter_spec *spec, const struct adapter_hits *hits,
                        struct field_vector *out, struct adapter_items *items);
/* A plain number at the start of a text: bytes used, 0: none. */
size_t adapter_number_scan(const struct adapter *adapter, bool hex, struct slice text, double *out);

/* adapter_scalar.c: NULL when refused or missing. */
const struct value *adapter_scalar_value(struct adapter_run *run, const struct adapter_entry *entry);
/* adapter_grid.c */
const struct value *adapter_curve_value(struct adapter_run *run, const struct adapter_entry *entry);
const struct value *adapter_table_value(struct adapter_run *run, const struct adapter_entry *entry);
/* adapter_pins.c */
void adapter_pins_read(struct adapter_reader *r, const struct node *node, struct adapter_entry *out);
const struct value *adapter_pins_value(struct adapter_run *run, const struct adapter_entry *entry);

#endif
