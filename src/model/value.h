/* Values of settings, job sheets and logs, each with its unit and the place it came from. May be included by every room
 * above units/. Values live in the arena of their subject and are immutable once read; safe to share between threads.
 */
#ifndef KEYWAY_MODEL_VALUE_H
#define KEYWAY_MODEL_VALUE_H

#include "base/arena.h"
#include "base/place.h"
#include "base/slice.h"
#include "units/unit.h"

#include <stdint.h>

enum value_kind {
  VALUE_NUMBER,
  VALUE_SWITCH,
  VALUE_CHOICE,
  VALUE_TEXT,
  VALUE_LIST, /* of numbers */
  VALUE_CURVE,
  VALUE_TABLE,
  VALUE_PINS,
  VALUE_RECORDS,
  VALUE_SERIES /* a log channel */
};

/* Breakpoints. May be unsorted or repeated: a broken tune must still be audited. */
struct axis {
  size_t count;              /* >= 1 */
  const double *at;          /* base units */
  const struct place *place; /* one a point */
  const struct unit *unit;   /* as written */
  bool increasing;           /* strictly; only then can the curve or table be evaluated */
};

struct curve {
  struct axis x;
  const double *value; /* x.count, base units */
  const struct place *place;
  const struct unit *unit;
};

struct table {
  struct axis x, y;
  const double *value; /* value[row * x.count + column], one row for each y, base units */
  const struct place *place;
  const struct unit *unit;
};

struct pin {
  struct slice function; /* "clutch_switch" */
  struct slice pin;      /* "IN3" */
  struct place place;    /* of the pin's text */
};

struct pins {
  size_t count;
  const struct pin *items; /* in file order */
};

struct record_field { /* what a reading's records hold: from the vocabulary */
  struct slice name;
  const struct unit *unit;
};

struct record {
  struct place place;            /* the whole record */
  const struct quantity *fields; /* one for each record_field, in that order */
  const bool *has;               /* false: the field was left out */
  const struct place *places;    /* of each field's text */
};

struct records {
  size_t field_count;
  const struct record_field *fields;
  size_t count;
  const struct record *items;
};

struct column; /* model/column.h */

/* One channel over all rows of the log. Missing samples are marked, never a magic number. */
struct series {
  size_t count;
  const double *at;     /* base units; unspecified where missing; NULL: only `column` holds them */
  const uint8_t *known; /* 1: sample is there; NULL: all are (where `at` is set) */
  const struct unit *unit;
  const struct column *column; /* the packed store; NULL: `at` and `known` hold them */
  double largest;              /* size (fabs, base units) of a known sample; 0 with `at` set: not looked for */
};

struct value {
  enum value_kind kind;
  struct place place; /* of the value's text; of the header cell for a channel */
  union {
    struct quantity number;
    bool on;
    struct slice text; /* choice, text */
    struct {
      size_t count;
      const double *items; /* base units */
      const struct place *places;
      const struct unit *unit;
    } list;
    struct curve curve;
    struct table table;
    struct pins pins;
    struct records records;
    struct series series;
  } as;
};

/* Rows from .. to-1 into the caller's arrays: base units, 0 where missing. true when all are known; known[] is then all
 * 1. Thread-safe. */
bool series_rows(const struct series *series, size_t from, size_t to, double *at, uint8_t *known);

bool axis_is_increasing(const double *at, size_t count);

struct spot {          /* between two points of an axis */
  size_t below, above; /* indexes; equal at an edge, or on the last point */
  double share;        /* 0 at `below`, towards 1 at `above` */
};
/* Where x lies; at an edge when outside. false when the axis is not increasing, or x is no number. */
bool axis_spot(const struct axis *axis, double x, struct spot *out);
/* The same, where *spot is that of another x, or all 0: quick when both lie between the same points. */
bool axis_spot_after(const struct axis *axis, double x, struct spot *spot);

/* Linear between points, edge value held outside. false when the axis is not increasing,
 * or when the numbers are so large that the result is none. Base units in and out. Worked
 * examples and the comparison with numpy/GSL are in tests/unit/test_model_table.c. */
bool curve_at(const struct curve *curve, double x, double *out);
/* Bilinear, edges held. */
bool table_at(const struct table *table, double x, double y, double *out);
/* The same for many: known[i] is what they would return. */
void curve_rows(const struct curve *curve, const double *x, size_t count, double *out, uint8_t *known);
void table_rows(const struct table *table, const double *x, const double *y, size_t count, double *out, uint8_t *known);

#endif
