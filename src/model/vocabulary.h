/* The one vocabulary: names of settings (tune.), channels (log.), job-sheet facts and readings (job.). Read from
 * rules/dictionary.yaml by read/vocabulary.h. Included by read/, audit/, cli/. Immutable after reading. */
#ifndef KEYWAY_MODEL_VOCABULARY_H
#define KEYWAY_MODEL_VOCABULARY_H

#include "model/value.h"

enum scope { SCOPE_TUNE, SCOPE_LOG, SCOPE_JOB, SCOPE_COUNT };

struct entry {
  struct slice name; /* "fuel.warm_up_enrichment" */
  enum value_kind kind;
  const struct unit *unit;            /* NULL for switch, choice, text, pins, records */
  const struct unit *x_unit, *y_unit; /* curve and table */
  struct slice x_channel, y_channel;  /* names the axis quantity: "engine_speed" */
  size_t choice_count;
  const struct slice *choices;
  size_t field_count; /* records */
  const struct record_field *fields;
  bool on_off;    /* a channel that is a switch: 0 or 1 */
  bool has_range; /* lowest and highest plausible value, base units: for `draft` alone */
  double range_low, range_high;
  size_t also_count; /* other names in the trade's terms, for log headers, `draft` and hints */
  const struct slice *also;
  struct slice about; /* one line, may be empty */
};

struct vocabulary {
  size_t count[SCOPE_COUNT];
  const struct entry *entries[SCOPE_COUNT]; /* in file order; the index is the entry's id within its scope */
  const uint32_t *by_name[SCOPE_COUNT];     /* indexes in order of name, for bisection */
};

const struct entry *vocabulary_find(const struct vocabulary *vocabulary, enum scope scope, struct slice name);
size_t vocabulary_index(const struct vocabulary *vocabulary, enum scope scope, const struct entry *entry);
/* The nearest name within a third of its length in edits, or NULL. */
const struct entry *vocabulary_nearest(const struct vocabulary *vocabulary, enum scope scope, struct slice name);
const char *scope_name(enum scope scope); /* "tune" */

#endif
