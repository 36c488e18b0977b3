/* Cases of rules and phases: inputs out of YAML, run, compared with what is expected. Private to cli/. */
#ifndef KEYWAY_CLI_PROVE_CASE_H
#define KEYWAY_CLI_PROVE_CASE_H

#include "findings/finding.h"
#include "model/subject.h"
#include "rules/pack.h"

struct case_reader {
  struct arena *arena;
  struct sources *sources;
  const struct vocabulary *vocabulary;
  const struct names *names;
  const struct source *source; /* the pack that holds the case */
  struct problems *problems;
  bool phases; /* the cases are those of a phase: `holds` for flag, `absent` for clear, `time` for measure */
};

struct rule_case {
  const char *name;
  enum verdict expect;
  enum stage stage;
  struct subject subject;
  bool has_measure;
  struct quantity measure;
  size_t places;            /* 0: any number */
  enum severity severity;   /* SEVERITY_NONE: any */
  const char *missing;      /* NULL: anything */
  const char *subject_name; /* NULL: any */
  const char *says;         /* part of the message; NULL: anything */
  const char *does;         /* part of what to do; NULL: anything */
};

/* false when it cannot be read (problems added). */
bool case_read(struct case_reader *reader, const struct node *node, struct rule_case *out);

/* NULL when the case comes out as expected, else what was different, in `arena`. */
const char *case_run(const struct case_reader *reader, struct arena *arena, const struct packs *packs,
                     const struct rule *rule, const struct rule_case *one);

#endif
