/* Rule packs: read, checked, compiled. Included by audit/ and cli/. A set of packs lives in one arena and is immutable
 * once compiled; it can then be shared between threads. */
#ifndef KEYWAY_RULES_PACK_H
#define KEYWAY_RULES_PACK_H

#include "base/problem.h"
#include "base/source.h"
#include "expr/expr.h"
#include "model/stage.h"
#include "rules/template.h"
#include "text/yaml.h"

struct limit { /* limit.NAME */
  struct slice name;
  struct quantity value;
  struct quantity step; /* smallest change that the rules' cases must notice */
  const char *basis, *why;
  const char *pack; /* the pack's name */
  struct place place;
};

struct phase { /* phase.NAME */
  struct slice name;
  const char *title;        /* "warm idle" */
  const struct expr *when;  /* a series of conditions over the log */
  const struct expr *held;  /* duration(phase.NAME) */
  const struct expr *spans; /* spans(phase.NAME, 0 s) */
  const struct expr *least; /* a time: how much of it a log must hold to be judged */
  const char *when_written, *least_written;
  const char *why;
  const char *pack;                /* the pack's name */
  const struct node *node;         /* the whole phase as written */
  const struct node *cases;        /* list, or NULL: checked and run by cli/prove.c */
  const struct node *unchanged_by; /* list, or NULL */
  const struct source *source;
  struct place place; /* of the name */
  size_t order;       /* among all phases, as the packs write them */
};

struct condition { /* an entry of applies:, needs: or phases: */
  const struct expr *that;
  const char *otherwise;    /* the else: text; of phases: the phase's title */
  const struct expr *least; /* of phases: the time that the phase must have held; else NULL */
};

struct check {
  size_t applies_count, needs_count;
  const struct condition *applies, *needs;
  struct slice item_name;   /* of `each`; empty: none */
  const struct expr *each;  /* NULL: none */
  const struct expr *where; /* NULL: none */
  const struct expr *flag;
  const struct expr *subject;         /* NULL: see subject_name; gives a text for each item */
  const char *subject_name;           /* "tune.fuel.warm_up_enrichment" */
  const struct expr *measure, *limit; /* NULL: none */
  size_t place_count;
  const struct expr *const *places; /* plain names */
  const struct message *say;
  const struct message *act;           /* do: with {expressions}, or of its own; NULL: the rule's text */
  const struct expr *severe;           /* NULL: none */
  enum severity severity[STAGE_COUNT]; /* when that holds */
};

struct rule {
  struct slice id;
  const char *title, *topic;
  enum severity severity[STAGE_COUNT];
  bool has_severe;
  enum severity severe[STAGE_COUNT]; /* the worst that a check can come to when its `severe` holds */
  bool decide_any;
  bool first; /* what it finds is said before anything else: other findings may rest on sand */
  size_t check_count;
  const struct check *checks;
  const char *why, *act, *verify, *by_design, *basis;
  size_t caution_count;
  const char *const *cautions; /* ids, all known */
  size_t explain_count;
  const char *const *explains;     /* ids of rules whose findings this one explains when both flag */
  const struct node *cases;        /* list, or NULL: checked and run by cli/prove.c */
  const struct node *unchanged_by; /* list, or NULL */
  const struct node *node;         /* the whole rule as written, for explain */
  const struct source *source;
  const char *pack;
  struct place place; /* of the id */
  size_t need_count;
  const char *const *needs; /* every tune./log./job. name that some expression reads, sorted: "log.engine_speed";
                               "tune.*": whichever there are */
  size_t phase_count;
  const char *const *phases; /* names of the phases that some expression uses, sorted */
};

struct caution_text {
  const char *id, *word, *text;
  bool defers; /* to local law and a qualified person */
};

struct silenced {                /* a shipped rule that a later pack replaced or silenced */
  const char *rule, *how, *pack; /* how: "replaced" or "silenced: <reason>" */
};

struct packs {
  struct arena *arena;
  const struct names *names; /* vocabulary of expressions, made by audit_names */
  struct graph *graph;       /* shared sub-expressions */
  size_t rule_count;
  const struct rule *const *rules; /* sorted by topic, then id */
  size_t limit_count;
  const struct limit *limits;
  size_t phase_count;
  const struct phase *phases; /* sorted by name */
  size_t caution_count;
  const struct caution_text *cautions;
  size_t silenced_count;
  const struct silenced *silenced;
};

/* Reads and compiles packs, in this order; a later one may replace a rule (`replaces: yes` in the rule) or silence it
 * (`silence: {RULE: REASON}`), only by name. `cautions` is cautions.yaml. NULL when anything was refused: all problems
 * of all packs are added. */
const struct packs *packs_read(struct arena *arena, const struct names *names, const struct source *cautions,
                               const struct source *const *sources, size_t count, struct problems *problems);

const struct rule *packs_find(const struct packs *packs, struct slice id);
const struct limit *packs_limit(const struct packs *packs, struct slice name);
const struct phase *packs_phase(const struct packs *packs, struct slice name);
/* The nearest rule id, for hints; NULL when none is near. */
const struct rule *packs_nearest(const struct packs *packs, struct slice id);

#endif
