/* Runs compiled rules on a subject. Included by cli/. The outcome lives in the caller's arena; packs and subject must
 * outlive it. */
#ifndef KEYWAY_AUDIT_AUDIT_H
#define KEYWAY_AUDIT_AUDIT_H

#include "findings/outcome.h"
#include "model/subject.h"
#include "model/survey.h"
#include "rules/pack.h"

struct audit_options {
  enum stage stage;
  enum severity fail_on;   /* SEVERITY_NONE: never */
  size_t need;             /* at least so many rules must be decided (flagged or clear) */
  const struct rule *only; /* NULL: all; prove runs one */
  size_t threads;          /* for a long log, at most; 0: as many as are worth starting */
  size_t block_rows;       /* of the log, taken at a time; 0: as is best */
};

struct audit_stats {
  size_t expressions; /* written in the pack, every node counted */
  size_t distinct;    /* left after equal ones were joined */
  size_t evaluated;   /* computed in this audit, items of `each` counted one by one */
  size_t reused;      /* asked for again and taken from the first computation */
  size_t log_columns, log_columns_decoded, log_rows;
};

/* The names that expressions may use, from the vocabulary. Limits are added by packs_read. */
const struct names *audit_names(struct arena *arena, const struct vocabulary *vocabulary);

/* Marks the channels that some rule reads: wanted[vocabulary->count[SCOPE_LOG]], also for log_options. */
void audit_wanted(const struct packs *packs, const struct vocabulary *vocabulary, bool *wanted);

/* Checks the job sheet's limits against the packs (known name, same unit): adds problems and returns false when one is
 * wrong. */
bool audit_check_job(const struct packs *packs, const struct job *job, struct problems *problems);

/* Never fails: what could not be judged is counted as undecided. `stats` may be NULL. inputs, title, problems, exit of
 * the outcome that belong to files are filled in by the caller. */
struct outcome *audit_run(struct arena *arena, const struct packs *packs, const struct subject *subject,
                          struct sources *sources, const struct audit_options *options, struct audit_stats *stats);

/* Fills in how long each phase of the packs is held in the subject's log; settings and job sheet may be NULL. `threads`
 * as in audit_options. */
void audit_phases(struct arena *arena, const struct packs *packs, const struct subject *subject, size_t threads,
                  struct survey *survey);

/* Fills in for how long the log was in each cell of these tables of the subject's settings, which must be there. */
void audit_visits(struct arena *arena, const struct packs *packs, const struct subject *subject,
                  const struct entry *const *tables, size_t count, size_t threads, struct survey *survey);

#endif
