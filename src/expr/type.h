/* Types of expressions and the names that they may use. Included by expr/, rules/, audit/. Immutable once made. */
#ifndef KEYWAY_EXPR_TYPE_H
#define KEYWAY_EXPR_TYPE_H

#include "base/arena.h"
#include "base/slice.h"
#include "units/unit.h"

enum type_kind {
  TYPE_NUMBER,
  TYPE_SWITCH,
  TYPE_TEXT,
  TYPE_TEXTS,   /* ["a", "b"] as written in an expression */
  TYPE_NUMBERS, /* a list out of a file */
  TYPE_CURVE,
  TYPE_TABLE,
  TYPE_PINS,
  TYPE_ITEM,       /* what `each` runs over */
  TYPE_COLLECTION, /* of items */
};

struct measure { /* what kind of number */
  struct dimension dimension;
  enum unit_sense sense;
};

#define TYPE_ROWS_ITEMS ((size_t)1 << 24)

struct type {
  enum type_kind kind;
  bool series;             /* NUMBER, SWITCH: one for each row of the log, or for each record of a reading */
  size_t rows;             /* of a series: 0 the log's rows; 1 + the job-sheet entry whose records it runs over; or
                              TYPE_ROWS_ITEMS + the slot of the collection over whose items it does */
  bool any_unit;           /* NUMBER whose unit is known only at run time: for messages */
  struct measure of;       /* NUMBER, NUMBERS; value of CURVE and TABLE */
  struct measure x, y;     /* axes of CURVE and TABLE */
  const struct name *name; /* TEXT out of a choice: its words; SWITCH of the vocabulary; else NULL */
  const struct item_shape *item; /* ITEM, COLLECTION */
};

struct item_field {
  struct slice name;
  struct type type;
};

enum item_kind {
  ITEM_POINT,
  ITEM_STEP,
  ITEM_CELL,
  ITEM_ALONG_X,
  ITEM_ALONG_Y,
  ITEM_AXIS_STEP,
  ITEM_PIN,
  ITEM_SHARED_PIN,
  ITEM_SPAN,
  ITEM_RECORD,
  ITEM_CHANGE,
  ITEM_RANGE_END,
  ITEM_VISIT
};

struct item_shape {
  enum item_kind kind;
  size_t count;
  const struct item_field *fields;
};

enum name_scope {
  NAME_TUNE,
  NAME_LOG,
  NAME_JOB,
  NAME_BEFORE, /* before.NAME: the same settings in the file as it was before */
  NAME_LIMIT,
  NAME_PHASE, /* stands for an expression */
  NAME_SCOPES
};

struct expr;

struct name {
  enum name_scope scope;
  struct slice full; /* "tune.fuel.warm_up_enrichment" */
  size_t index;      /* within its scope: the vocabulary's, or the limit's or phase's */
  struct type type;
  const struct expr *phase; /* of a phase: what it stands for; NULL when that was refused */
  size_t field;             /* of a column of records (job.READING.FIELD: its type is a series with rows) */
  size_t choice_count;      /* of a choice */
  const struct slice *choices;
  bool has_range; /* of a setting: what its entry declares, base units */
  double low, high;
};

struct names {
  size_t count;
  const struct name *items; /* sorted by full name */
};

const struct name *names_find(const struct names *names, struct slice full);
const struct name *names_nearest(const struct names *names, struct slice full);

/* "a number (pressure)", "a series of switches", "a curve"; lives in `arena` or is static. */
const char *type_print(struct arena *arena, const struct type *type);

bool measure_equal(struct measure a, struct measure b); /* same dimension, senses that go together */

#endif
