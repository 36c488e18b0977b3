/* Runs the program on what a car's folder holds, and reads the JSON report. */
#include "faults_proof.h"

#include <fcntl.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { REFUSED = 3, PATH = 4096 };

/* Exit status, -1 when it has none. What the program prints goes to a file. */
static int run(const char *const *words, int printed, const char *to)
{
  char *none[] = {NULL};
  posix_spawn_file_actions_t actions;
  int status = 0, failed = posix_spawn_file_actions_init(&actions);
  pid_t child;

  if (failed == 0)
    failed = posix_spawn_file_actions_addopen(&actions, printed, to, O_WRONLY | O_CREAT | O_TRUNC, 0666);
  if (failed == 0)
    failed = posix_spawn(&child, words[0], &actions, NULL, (char *const *)(void *)words, none);
  posix_spawn_file_actions_destroy(&actions);
  if (failed != 0 || waitpid(child, &status, 0) < 0 || !WIFEXITED(status))
    return -1;
  return WEXITSTATUS(status);
}

json_t *audit(struct proof *proof, const char *stage)
{
  char settings[PATH], job[PATH], log[PATH], before[PATH], report[PATH], said[PATH];
  const char *words[20] = {proof->program, "audit",    settings, "--job",    job,   "--stage",
                           stage,          "--format", "json",   "--output", report};
  int count = 11, status;
  json_t *read;

  snprintf(settings, sizeof settings, "%s/settings.yaml", proof->folder);
  snprintf(job, sizeof job, "%s/job.yaml", proof->folder);
  snprintf(log, sizeof log, "%s/log.csv", proof->folder);
  snprintf(before, sizeof before, "%s/before.yaml", proof->folder);
  snprintf(report, sizeof report, "%s/report.json", proof->folder);
  snprintf(said, sizeof said, "%s/said.txt", proof->folder);
  if (proof->car->with_log) {
    words[count++] = "--log";
    words[count++] = log;
  }
  if (proof->car->with_before) {
    words[count++] = "--before";
    words[count++] = before;
  }
  unlink(report);
  status = run(words, STDERR_FILENO, said);
  proof->count.audits++;
  if (status == REFUSED)
    return NULL;
  read = status == 0 || status == 1 ? json_load_file(report, 0, NULL) : NULL;
  if (read == NULL) {
    fprintf(stderr, "%s audit %s --job %s --stage %s: status %d\n", proof->program, settings, job, stage, status);
    exit(2);
  }
  return read;
}

json_t *audit_car(struct proof *proof, uint64_t units, const char *stage)
{
  if (!car_write(proof->car, proof->folder, units))
    exit(2);
  return audit(proof, stage);
}

/* ---- the rules of the program */

json_t *rules_list(const char *program, const char *folder)
{
  char list[PATH];
  const char *words[] = {program, "list", "--format", "json", NULL};
  json_t *rules;

  snprintf(list, sizeof list, "%s/rules.json", folder);
  rules = run(words, STDOUT_FILENO, list) == 0 ? json_load_file(list, 0, NULL) : NULL;
  if (!json_is_array(rules)) {
    fprintf(stderr, "%s list --format json: no list that can be read\n", program);
    exit(2);
  }
  return rules;
}

static const json_t *rule_of(const json_t *rules, const char *rule)
{
  for (size_t i = 0; i < json_array_size(rules); i++)
    if (strcmp(text(json_array_get(rules, i), "rule"), rule) == 0)
      return json_array_get(rules, i);
  return NULL;
}

bool rules_have(const json_t *rules, const char *rule)
{
  return rule_of(rules, rule) != NULL;
}

bool rule_needs(const json_t *rules, const char *rule, const char *name)
{
  const json_t *needs = json_object_get(rule_of(rules, rule), "needs");

  for (size_t i = 0; i < json_array_size(needs); i++) {
    const char *need = json_string_value(json_array_get(needs, i));
    size_t length = strlen(name);

    if (strncmp(need, "job.", 4) == 0 && strncmp(need + 4, name, length) == 0 &&
        (need[4 + length] == '\0' || need[4 + length] == '.')) /* a reading is named with its field */
      return true;
  }
  return false;
}

/* ---- reading a report */

const char *text(const json_t *object, const char *name)
{
  const char *string = json_string_value(json_object_get(object, name));

  return string == NULL ? "" : string;
}

json_t *finding_of(json_t *report, const char *rule)
{
  json_t *findings = json_object_get(report, "findings");

  for (size_t i = 0; i < json_array_size(findings); i++)
    if (strcmp(text(json_array_get(findings, i), "rule"), rule) == 0)
      return json_array_get(findings, i);
  return NULL;
}

/* A stretch of the log within one that the rule named in that report. */
static bool is_within(const json_t *place, const char *rule, json_t *report)
{
  const double slack = 1e-6;
  json_t *findings = json_object_get(report, "findings");

  for (size_t i = 0; i < json_array_size(findings); i++) {
    json_t *finding = json_array_get(findings, i), *evidence = json_object_get(finding, "evidence");

    for (size_t k = 0; strcmp(text(finding, "rule"), rule) == 0 && k < json_array_size(evidence); k++) {
      const json_t *other = json_array_get(evidence, k);

      if (json_is_number(json_object_get(other, "start")) &&
          json_number_value(json_object_get(other, "start")) <=
              json_number_value(json_object_get(place, "start")) + slack &&
          json_number_value(json_object_get(place, "end")) <= json_number_value(json_object_get(other, "end")) + slack)
        return true;
    }
  }
  return false;
}

size_t places_of(json_t *report, const char *rule)
{
  json_t *findings = json_object_get(report, "findings");
  size_t places = 0;

  for (size_t i = 0; i < json_array_size(findings); i++)
    if (strcmp(text(json_array_get(findings, i), "rule"), rule) == 0)
      places += json_array_size(json_object_get(json_array_get(findings, i), "evidence"));
  return places;
}

/* Places in time that the rule did not name before; `others` counts those that have no time. */
static size_t new_stretches(json_t *report, json_t *before, const char *rule, size_t *others)
{
  json_t *findings = json_object_get(report, "findings");
  size_t fresh = 0;

  *others = 0;
  for (size_t i = 0; i < json_array_size(findings); i++) {
    json_t *finding = json_array_get(findings, i), *evidence = json_object_get(finding, "evidence");

    for (size_t k = 0; strcmp(text(finding, "rule"), rule) == 0 && k < json_array_size(evidence); k++) {
      const json_t *place = json_array_get(evidence, k);
      bool in_time = json_is_number(json_object_get(place, "start"));

      *others += !in_time;
      fresh += in_time && !is_within(place, rule, before);
    }
  }
  return fresh;
}

/* A stretch may fall into two that are both found: they are no more than the one. */
bool finds_more(json_t *report, json_t *before, const char *rule)
{
  size_t others, others_before;
  size_t fresh = new_stretches(report, before, rule, &others);

  new_stretches(before, before, rule, &others_before);
  return fresh > 0 || others > others_before;
}

bool is_clear(json_t *report, const char *rule)
{
  json_t *clear = json_object_get(report, "clear");

  for (size_t i = 0; i < json_array_size(clear); i++)
    if (strcmp(json_string_value(json_array_get(clear, i)), rule) == 0)
      return true;
  return false;
}

bool is_grave(const json_t *finding)
{
  return strcmp(text(finding, "severity"), "fix") == 0 || strcmp(text(finding, "severity"), "stop") == 0;
}
