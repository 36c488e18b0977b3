/* Column headings of logs: which channel is meant, and where in the heading its unit stands. Included by read/. */
#ifndef KEYWAY_READ_LOG_NAMES_H
#define KEYWAY_READ_LOG_NAMES_H

#include "model/vocabulary.h"

struct log_names;

/* All names of the channels and their aliases, for fast look-up; lives in `arena`. */
const struct log_names *log_names_new(struct arena *arena, const struct vocabulary *vocabulary);

struct log_heading {
  struct slice name, unit;   /* parts of the text; the unit without its brackets, empty when there is none */
  const struct entry *entry; /* NULL: no channel has that name */
};

/* Takes a heading apart: "Coolant (degC)", "engine-speed [rpm]", "RPM", "time_ms", "ENGINE_LOAD ()". */
struct log_heading log_names_read(const struct log_names *names, struct slice text);

/* The channel whose name is nearest, within a third of its length in edits; NULL: none is. */
const struct entry *log_names_nearest(const struct log_names *names, struct slice text);

/* "(degC)", "[degC]" or "degC": without the brackets. */
struct slice log_names_bare_unit(struct slice text);

/* "hh:mm:ss.mmm" and the like: not a unit, but how a time is written. */
bool log_names_is_clock(struct slice unit);

#endif
