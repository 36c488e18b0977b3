/* Everything an audit of one settings file came to; what report/ prints. Lives in the audit's arena. */
#ifndef KEYWAY_FINDINGS_OUTCOME_H
#define KEYWAY_FINDINGS_OUTCOME_H

#include "base/problem.h"
#include "findings/finding.h"

struct undecided {
  const char *rule, *title;
  size_t missing_count;
  const char *const *missing; /* "log.coolant_temperature", or a reason in words */
};

struct not_applicable {
  const char *rule, *title, *why;
};

struct caution {
  const char *id, *word, *text; /* word: DANGER, WARNING, CAUTION, NOTICE */
};

struct outcome_input {
  const char *role; /* "settings", "adapter", "log", "log_adapter", "job", "rules" */
  struct slice name;
  const char *about; /* of one log of several: "18 000 rows at 25 Hz (median), 12 min"; else NULL */
};

struct unused_record { /* of an export: no entry of the adapter matches it */
  struct place place;
  struct slice path, text;
};

struct coverage { /* what became of an export's records */
  size_t used, ignored, unknown;
  const struct unused_record *unused; /* the unknown ones; NULL: not asked for */
  size_t no_entry_count;
  const char *const *no_entry; /* "tune.NAME": the adapter has no entry for it */
};

struct changed_limit {              /* a threshold that is not the pack's default */
  const char *name, *reason, *from; /* from: "job sheet" */
  struct quantity value, usual;
  struct place place;
};

struct outcome {
  const char *title; /* the file's own, or NULL */
  const char *stage;
  size_t input_count;
  const struct outcome_input *inputs;
  size_t finding_count;
  const struct finding *findings; /* in report order */
  size_t verdicts[VERDICT_COUNT]; /* how many rules came to each */
  size_t clear_count;
  const char *const *clear; /* ids of the rules that came to clear, in pack order */
  size_t undecided_count;
  const struct undecided *undecided;
  size_t not_applicable_count;
  const struct not_applicable *not_applicable;
  size_t caution_count;
  const struct caution *cautions; /* those that some finding names, in order of the catalogue */
  size_t changed_count;
  const struct changed_limit *changed;
  size_t note_count;
  const char *const *notes; /* about the log, with place already in the text */
  size_t silenced_count;
  const char *const *silenced;     /* "pin-shared: replaced by shop.yaml", ... */
  const struct coverage *coverage; /* NULL: no adapter was used */
  const struct problems *problems;
  enum severity fail_on; /* SEVERITY_NONE: never */
  size_t need;           /* rules that had to be decided */
  int exit;              /* the status this file alone gives */
};

#endif
