/* Judging one rule on one subject. Private to audit/. */
#ifndef KEYWAY_AUDIT_JUDGE_H
#define KEYWAY_AUDIT_JUDGE_H

#include "audit/audit.h"
#include "expr/eval.h"

struct judge { /* what all rules of one audit share */
  struct arena *arena;
  const struct packs *packs;
  const struct subject *subject;
  struct evaluation *evaluation;
  enum stage stage;
};

struct judgement {
  enum verdict verdict;
  size_t finding_count;
  const struct finding *findings; /* when flagged: one for each subject */
  const struct missing *missing;  /* when undecided */
  const char *why;                /* when not applicable */
};

/* The job sheet's value in place of a pack's; a bare number is in the pack's unit. */
struct quantity audit_limit(const struct job_limit *own, const struct limit *limit);

/* What expressions see of a subject; settings, log, job and before may each be lacking. */
struct eval_inputs audit_inputs(struct arena *arena, const struct packs *packs, const struct subject *subject,
                                enum stage stage);

/* Goes through a long log once for all that these rules will ask of it. */
void audit_prepare(const struct judge *judge, const struct rule *const *rules, size_t count);

struct judgement judge_rule(const struct judge *judge, const struct rule *rule);

#endif
