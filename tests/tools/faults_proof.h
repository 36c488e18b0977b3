/* What the audits of sound and of spoiled tunes are counted in, and what is asked of a report. A task is one sound tune
 * or one kind of fault with all its cars; workers take them in turn, and each task's outcome and lines are kept apart,
 * so that what is printed does not depend on how many workers there were. */
#ifndef FAULTS_PROOF_H
#define FAULTS_PROOF_H

#include "faults.h"

#include <jansson.h>
#include <stdio.h>

struct outcome {
  int offered, planted, found, beside; /* beside: findings at fix or over that the fault does not explain */
  int sound, grave, checks;
  int audits, refused;
  int same_units, dropped, moved, retold, shifted, wrong;
};

struct proof {
  const char *program, *folder; /* the folder belongs to one worker */
  struct car *car;
  struct log kept, spare;
  json_t *rules; /* what the program's list of rules holds */
  FILE *lines;
  struct outcome count;
  int tunes, share;
  uint64_t first;
};

/* faults_audit.c: running the program, reading its report. A report is NULL when the inputs were refused. */
json_t *audit(struct proof *proof, const char *stage);
json_t *audit_car(struct proof *proof, uint64_t units, const char *stage);
json_t *rules_list(const char *program, const char *folder);
bool rules_have(const json_t *rules, const char *rule);
bool rule_needs(const json_t *rules, const char *rule, const char *name);
const char *text(const json_t *object, const char *name);
json_t *finding_of(json_t *report, const char *rule);
size_t places_of(json_t *report, const char *rule);
bool finds_more(json_t *report, json_t *before, const char *rule);
bool is_clear(json_t *report, const char *rule);
bool is_grave(const json_t *finding);

/* faults_again.c: the properties. Each speaks of a car that has just been audited, and of its report. */
void again_in_units(struct proof *proof, json_t *one, json_t *other, uint64_t seed);
void again_without_facts(struct proof *proof, json_t *report, uint64_t seed, const char *rule);
void again_with_limit_moved(struct proof *proof, json_t *report, uint64_t seed, const char *rule);
void again_with_log_retold(struct proof *proof, json_t *report, uint64_t seed);
void again_with_readings_shifted(struct proof *proof, uint64_t seed);

#endif
