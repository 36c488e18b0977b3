/* What a log holds, in numbers: rows, steps, gaps, what each channel did, how long each phase was held. Made by
 * survey_read, with the phases of the packs added by audit/phases.c; printed by report/log_text.c and log_json.c.
 * Lives in the caller's arena. */
#ifndef KEYWAY_MODEL_SURVEY_H
#define KEYWAY_MODEL_SURVEY_H

#include "base/place.h"
#include "model/value.h"

#include <stddef.h>

enum {
  SURVEY_KEPT = 100,      /* gaps and stretches that are listed; all are counted */
  SURVEY_DISTINCT = 65536 /* values of a channel that are told apart */
};

struct survey_channel {
  struct slice name;       /* the vocabulary's */
  struct slice heading;    /* of its column, as written */
  struct place place;      /* of the heading */
  const struct unit *unit; /* as written */
  bool on_off;
  size_t known;                     /* samples; what follows counts when there are any */
  double least, greatest;           /* base units */
  double least_time, greatest_time; /* seconds: of the first such sample */
  double mean;                      /* of the known samples, base units: exact, rounded once */
  size_t distinct;                  /* values */
  bool distinct_more;               /* than SURVEY_DISTINCT: only so many were looked at */
  double resolution;                /* least difference between two values, base units; 0: there is one value */
  double still;                     /* longest time without a change, seconds, within one stretch */
};

struct survey_span {
  double start, end;  /* seconds; of a gap: the last time before it and the first behind it */
  size_t rows;        /* of a stretch */
  struct place place; /* its first row; of a gap: the row behind it */
};

struct survey_unknown {       /* a column that is no known channel */
  struct slice heading, near; /* near: the channel whose name is nearest; empty: none is near */
  struct place place;
};

struct survey_note {
  struct place place; /* PLACE_NONE where none is to be shown */
  const char *text;
};

struct survey_phase {
  struct slice name; /* "warm_idle" */
  const char *title; /* "warm idle" */
  bool known;
  double duration; /* seconds; this and what follows counts when known */
  size_t stretches;
  double longest; /* seconds */
  bool has_least;
  double least; /* so much of it do the rules ask for, seconds */
  size_t missing_count;
  const char *const *missing; /* when not known: "log.throttle_position", or a reason in words */
};

struct survey_visits {       /* for how long the log was in each cell of a table */
  struct slice name;         /* "fuel.volumetric_efficiency" */
  const struct table *table; /* NULL: not to be told */
  const double *time;        /* time[row * x.count + column], seconds */
  size_t missing_count;
  const char *const *missing; /* when not to be told */
};

struct survey {
  struct slice file;
  const char *rate; /* "18 000 rows at 25 Hz (median), 12 min" */
  size_t rows;
  double duration;                        /* of what was logged, seconds */
  double step, step_least, step_greatest; /* forward, seconds; step: the median; 0: there is none */
  size_t backwards, repeated;             /* steps of the clock */
  size_t gap_count, stretch_count;
  const struct survey_span *gaps;      /* steps of more than five usual ones */
  const struct survey_span *stretches; /* what rules look at by itself: ended by a leap of over 1 s and five usual
                                          steps, or by a clock that runs backwards */
  size_t channel_count;
  const struct survey_channel *channels; /* in the order of the columns, without the time */
  size_t unknown_count;
  const struct survey_unknown *unknown;
  size_t note_count;
  const struct survey_note *notes; /* what the reader noticed, but for unknown columns */
  size_t phase_count;
  const struct survey_phase *phases; /* in the packs' order */
  size_t visits_count;
  const struct survey_visits *visits; /* of the tables that were asked for */
};

struct log;
struct sources;
struct vocabulary;

/* `log` as log_read made it of one file, with all channels. The phases and visits are left empty. */
struct survey *survey_read(struct arena *arena, const struct vocabulary *vocabulary, const struct log *log,
                           const struct sources *sources);

#endif
