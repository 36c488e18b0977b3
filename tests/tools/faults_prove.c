/* Audits many sound tunes and many with one fault, and holds the reports against what was planted: every fault found by
 * its rule, no sound tune told to be mended. Then the properties that a wrong rule breaks although each of its own
 * cases holds: other units say the same, a fact left out never makes a rule clear, a limit moved out of the way never
 * finds more. */
#include "faults.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { FAULTS = 200, SEEDS_BEYOND = 60 };

struct tally {
  int planted, found, offered, beside; /* beside: findings at fix or over that the fault does not explain */
};

struct proof {
  const char *program, *folder;
  struct car *car;
  struct tally tally[FAULTS];
  int sound, grave, checks, wrong, audits;
  int same_units, dropped, moved, retold;
  int every; /* of the facts of a job sheet so many are passed over for each that is left out */
};

/* ---- running the program */

static json_t *audit(struct proof *proof, const char *stage)
{
  char settings[4096], job[4096], log[4096], report[4096];
  const char *words[20] = {proof->program, "audit",    settings, "--job",    job,   "--stage",
                           stage,          "--format", "json",   "--output", report};
  int count = 11, status = 0;
  pid_t child;

  snprintf(settings, sizeof settings, "%s/settings.yaml", proof->folder);
  snprintf(job, sizeof job, "%s/job.yaml", proof->folder);
  snprintf(log, sizeof log, "%s/log.csv", proof->folder);
  snprintf(report, sizeof report, "%s/report.json", proof->folder);
  if (proof->car->with_log) {
    words[count++] = "--log";
    words[count++] = log;
  }
  unlink(report);
  child = fork();
  if (child == 0) {
    execv(proof->program, (char *const *)(void *)words);
    _exit(127);
  }
  if (child < 0 || waitpid(child, &status, 0) < 0 || !WIFEXITED(status) || WEXITSTATUS(status) > 1) {
    fprintf(stderr, "%s audit %s --job %s --stage %s: status %d\n", proof->program, settings, job, stage,
            WIFEXITED(status) ? WEXITSTATUS(status) : -1);
    exit(2);
  }
  proof->audits++;
  return json_load_file(report, 0, NULL);
}

static json_t *audit_car(struct proof *proof, uint64_t units, const char *stage)
{
  json_t *report;

  if (!car_write(proof->car, proof->folder, units))
    exit(2);
  report = audit(proof, stage);
  if (report == NULL) {
    fprintf(stderr, "%s: no report that can be read\n", proof->folder);
    exit(2);
  }
  return report;
}

static const char *text(const json_t *object, const char *name)
{
  const char *string = json_string_value(json_object_get(object, name));

  return string == NULL ? "" : string;
}

static json_t *finding_of(json_t *report, const char *rule)
{
  json_t *findings = json_object_get(report, "findings");

  for (size_t i = 0; i < json_array_size(findings); i++)
    if (strcmp(text(json_array_get(findings, i), "rule"), rule) == 0)
      return json_array_get(findings, i);
  return NULL;
}

static size_t places_of(json_t *report, const char *rule)
{
  json_t *findings = json_object_get(report, "findings");
  size_t places = 0;

  for (size_t i = 0; i < json_array_size(findings); i++)
    if (strcmp(text(json_array_get(findings, i), "rule"), rule) == 0)
      places += json_array_size(json_object_get(json_array_get(findings, i), "evidence"));
  return places;
}

static bool is_clear(json_t *report, const char *rule)
{
  json_t *clear = json_object_get(report, "clear");

  for (size_t i = 0; i < json_array_size(clear); i++)
    if (strcmp(json_string_value(json_array_get(clear, i)), rule) == 0)
      return true;
  return false;
}

static bool is_known(json_t *report, const char *rule)
{
  static const char *const lists[] = {"undecided", "not_applicable"};

  for (int k = 0; k < 2; k++) {
    json_t *list = json_object_get(report, lists[k]);

    for (size_t i = 0; i < json_array_size(list); i++)
      if (strcmp(text(json_array_get(list, i), "rule"), rule) == 0)
        return true;
  }
  return is_clear(report, rule) || finding_of(report, rule) != NULL;
}

/* ---- sound tunes */

static bool is_grave(const json_t *finding)
{
  return strcmp(text(finding, "severity"), "fix") == 0 || strcmp(text(finding, "severity"), "stop") == 0;
}

static void sound_tune(struct proof *proof, uint64_t seed)
{
  static const char *const stages[] = {"look", "dyno", "delivery"};

  car_make(proof->car, seed);
  if (seed % 2 == 0)
    car_log(proof->car);
  proof->sound++;
  for (int k = 0; k < 3; k++) {
    json_t *report = audit_car(proof, seed, stages[k]), *findings = json_object_get(report, "findings");

    for (size_t i = 0; i < json_array_size(findings); i++) {
      const json_t *finding = json_array_get(findings, i);
      bool grave = is_grave(finding);

      proof->checks += k == 2 && strcmp(text(finding, "severity"), "check") == 0;
      proof->grave += grave;
      if (grave || k == 2)
        printf("sound tune %llu at %s: %s %s %s: %s\n", (unsigned long long)seed, stages[k], text(finding, "severity"),
               text(finding, "rule"), text(finding, "subject"), text(finding, "message"));
    }
    json_decref(report);
  }
}

/* ---- properties */

static void broken(struct proof *proof, const char *what, uint64_t seed, const char *rule, const char *detail)
{
  proof->wrong++;
  printf("%s: seed %llu, %s%s%s\n", what, (unsigned long long)seed, rule, *detail == '\0' ? "" : ", ", detail);
}

static void compare_verdicts(struct proof *proof, json_t *one, json_t *other, uint64_t seed)
{
  json_t *rules = json_object_get(one, "findings"), *clear = json_object_get(one, "clear");
  size_t before = json_array_size(rules), after = json_array_size(json_object_get(other, "findings"));

  for (size_t i = 0; i < before; i++) {
    const char *rule = text(json_array_get(rules, i), "rule");

    if (places_of(one, rule) != places_of(other, rule))
      broken(proof, "other units, other places", seed, rule, "");
  }
  for (size_t i = 0; i < json_array_size(clear); i++)
    if (!is_clear(other, json_string_value(json_array_get(clear, i))))
      broken(proof, "clear in one set of units only", seed, json_string_value(json_array_get(clear, i)), "");
  if (before != after)
    broken(proof, "other units, other findings", seed, "", "");
  proof->same_units++;
}

/* Each fact and reading of the job sheet left out in turn: what was flagged may stay so, come to undecided or not
 * apply. */
static void drop_facts(struct proof *proof, json_t *report, uint64_t seed, const char *rule)
{
  struct car *car = proof->car;
  json_t *undecided = json_object_get(report, "undecided");

  for (int i = (int)seed % proof->every; i < car->job.count; i += proof->every) {
    struct item kept = car->job.item[i];
    json_t *without;

    car->job.item[i] = car->job.item[--car->job.count];
    without = audit_car(proof, 0, "delivery");
    if (finding_of(report, rule) != NULL && is_clear(without, rule))
      broken(proof, "clear without a fact", seed, rule, kept.name);
    for (size_t k = 0; k < json_array_size(undecided); k++)
      if (is_clear(without, text(json_array_get(undecided, k), "rule")))
        broken(proof, "clear without a fact, undecided with it", seed, text(json_array_get(undecided, k), "rule"),
               kept.name);
    json_decref(without);
    car->job.item[car->job.count++] = car->job.item[i];
    car->job.item[i] = kept;
    proof->dropped++;
  }
}

/* The limit that a finding names goes beyond what was measured: that rule must not find more than before. */
static void move_limit(struct proof *proof, json_t *report, const json_t *finding, uint64_t seed, const char *rule)
{
  const json_t *measured = json_object_get(finding, "measured"), *limit = json_object_get(finding, "limit");
  const char *from = json_string_value(json_object_get(finding, "limit_from")), *unit = text(finding, "limit_unit");
  double reach = json_number_value(measured) - json_number_value(limit);
  json_t *moved;

  if (from == NULL || strncmp(from, "limit.", 6) != 0 || !json_is_number(measured) || !json_is_number(limit) ||
      reach == 0 || strcmp(unit, text(finding, "unit")) != 0)
    return;
  snprintf(proof->car->limits, sizeof proof->car->limits,
           "limits:\n  %s: {value: \"%.9g %s\", reason: moved out of the way}\n", from + 6,
           json_number_value(measured) + 0.1 * reach, strcmp(unit, "1") == 0 ? "" : unit);
  moved = audit_car(proof, 0, "delivery");
  proof->car->limits[0] = '\0';
  if (places_of(moved, rule) > places_of(report, rule))
    broken(proof, "a limit out of the way finds more", seed, rule, from);
  json_decref(moved);
  proof->moved++;
}

/* The log told in another way: columns in another order, later on the clock, or twice as many samples. */
static void log_reversed(struct log *log)
{
  for (int a = 0, b = log->channels - 1; a < b; a++, b--) {
    char name[NAME];
    enum quantity of = log->of[a];

    memcpy(name, log->channel[a], NAME);
    memcpy(log->channel[a], log->channel[b], NAME);
    memcpy(log->channel[b], name, NAME);
    log->of[a] = log->of[b];
    log->of[b] = of;
    for (int i = 0; i < log->rows; i++) {
      double kept = log->value[i][a];

      log->value[i][a] = log->value[i][b];
      log->value[i][b] = kept;
    }
  }
}

static void log_later(struct log *log)
{
  for (int i = 0; i < log->rows; i++)
    log->value[i][log_column(log, "time")] += 1000;
}

/* Switches and counts have no value in between. */
static void log_finer(struct log *log)
{
  for (int i = log->rows - 1; i > 0; i--) {
    memmove(log->value[2 * i], log->value[i], sizeof log->value[0]);
    for (int k = 0; k < log->channels; k++)
      log->value[2 * i - 1][k] =
          log->of[k] == NOTHING ? log->value[i - 1][k] : (log->value[i - 1][k] + log->value[i][k]) / 2;
  }
  log->rows = 2 * log->rows - 1;
}

/* A straight line between two samples is a low pass: scatter from row to row does not survive it whole, so the rule on
 * scatter is held to the other two ways of telling a log again, and not to this one. */
static bool needs_scatter(const char *what, const char *rule)
{
  return strcmp(what, "twice the samples") == 0 && strcmp(rule, "idle-rough") == 0;
}

static void same_rules(struct proof *proof, const char *what, json_t *one, json_t *other, uint64_t seed)
{
  json_t *findings = json_object_get(one, "findings"), *clear = json_object_get(one, "clear");

  for (size_t i = 0; i < json_array_size(findings); i++)
    if (finding_of(other, text(json_array_get(findings, i), "rule")) == NULL &&
        !needs_scatter(what, text(json_array_get(findings, i), "rule")))
      broken(proof, what, seed, text(json_array_get(findings, i), "rule"), "no longer found");
  for (size_t i = 0; i < json_array_size(clear); i++)
    if (!is_clear(other, json_string_value(json_array_get(clear, i))))
      broken(proof, what, seed, json_string_value(json_array_get(clear, i)), "no longer clear");
  proof->retold++;
}

static void retell_log(struct proof *proof, json_t *report, uint64_t seed)
{
  static const struct {
    const char *what;
    void (*change)(struct log *);
  } ways[] = {
      {"columns in another order", log_reversed}, {"a later clock", log_later}, {"twice the samples", log_finer}};

  for (int k = 0; k < 3; k++) {
    json_t *other;

    ways[k].change(&proof->car->log);
    other = audit_car(proof, 0, "delivery");
    same_rules(proof, ways[k].what, report, other, seed);
    json_decref(other);
  }
}

/* ---- faults */

static bool plant(struct proof *proof, const struct fault *fault, uint64_t seed, uint64_t units, json_t **report)
{
  car_make(proof->car, seed);
  if (fault->needs_log)
    car_log(proof->car);
  if (!fault->plant(proof->car))
    return false;
  *report = audit_car(proof, units, "delivery");
  return true;
}

/* Other findings at fix or over, but for those that are known to follow from the fault. */
static int beside(json_t *report, const struct fault *fault)
{
  json_t *findings = json_object_get(report, "findings");
  int count = 0;

  for (size_t i = 0; i < json_array_size(findings); i++) {
    const json_t *finding = json_array_get(findings, i);

    if (is_grave(finding) && strcmp(text(finding, "rule"), fault->rule) != 0 &&
        strstr(fault->also, text(finding, "rule")) == NULL) {
      printf("beside %s: %s %s: %s\n", fault->rule, text(finding, "severity"), text(finding, "rule"),
             text(finding, "message"));
      count++;
    }
  }
  return count;
}

/* A rule that the program does not have is passed over: the catalogue is longer than the pack. */
static void fault_in(struct proof *proof, const struct fault *fault, struct tally *tally, uint64_t seed)
{
  json_t *report, *other;

  if (!plant(proof, fault, seed, seed, &report))
    return;
  tally->offered++;
  if (!is_known(report, fault->rule)) {
    json_decref(report);
    return;
  }
  tally->planted++;
  tally->beside += beside(report, fault);
  if (finding_of(report, fault->rule) != NULL)
    tally->found++;
  else
    printf("not found: %s in seed %llu (%s)\n", fault->rule, (unsigned long long)seed,
           is_clear(report, fault->rule) ? "clear" : "undecided");
  if (tally->planted == 1) {
    other = audit_car(proof, 0, "delivery");
    compare_verdicts(proof, report, other, seed);
    if (finding_of(other, fault->rule) != NULL)
      move_limit(proof, other, finding_of(other, fault->rule), seed, fault->rule);
    if (!fault->needs_log)
      drop_facts(proof, other, seed, fault->rule);
    else
      retell_log(proof, other, seed);
    json_decref(other);
  }
  json_decref(report);
}

static void all_faults(struct proof *proof, uint64_t first, int tunes, int share)
{
  const struct fault *fault;

  for (size_t at = 0; (fault = fault_next(&at)) != NULL;) {
    struct tally *tally = &proof->tally[at - 1];
    uint64_t seed = first + at % (uint64_t)share;

    for (; seed < first + (uint64_t)tunes; seed += (uint64_t)share)
      fault_in(proof, fault, tally, seed);
    for (; tally->offered == 0 && seed < first + (uint64_t)tunes + SEEDS_BEYOND; seed++)
      fault_in(proof, fault, tally, seed);
  }
}

static int table(const struct proof *proof)
{
  const struct fault *fault;
  int planted = 0, found = 0, kinds = 0, absent = 0;

  printf("\n%-36s %8s %8s %8s %8s\n", "rule", "planted", "found", "recall", "beside");
  for (size_t at = 0; (fault = fault_next(&at)) != NULL;) {
    const struct tally *tally = &proof->tally[at - 1];

    if (tally->planted == 0) {
      printf("%-36s %8s\n", fault->rule, tally->offered > 0 ? "no such rule" : "in no car");
      absent++;
      continue;
    }
    printf("%-36s %8d %8d %6.0f %% %8d\n", fault->rule, tally->planted, tally->found,
           100.0 * tally->found / tally->planted, tally->beside);
    planted += tally->planted;
    found += tally->found;
    kinds++;
  }
  printf("\n%d kinds of fault, %d planted, %d found, recall %.1f %%; %d kinds without a rule\n", kinds, planted, found,
         planted == 0 ? 0 : 100.0 * found / planted, absent);
  printf("%d sound tunes: %d findings at fix or over in three stages, %.2f at check on average at delivery\n",
         proof->sound, proof->grave, (double)proof->checks / proof->sound);
  printf("properties: %d pairs of units, %d facts left out, %d limits moved, %d logs told again; %d broken\n",
         proof->same_units, proof->dropped, proof->moved, proof->retold, proof->wrong);
  printf("%d audits\n", proof->audits);
  return planted > 0 && found == planted && proof->grave == 0 && proof->checks < proof->sound && proof->wrong == 0 ? 0
                                                                                                                   : 1;
}

int prove(const char *program, uint64_t first, int tunes, int share, const char *folder)
{
  struct proof *proof = calloc(1, sizeof *proof);
  int status;

  if (proof == NULL || (proof->car = calloc(1, sizeof *proof->car)) == NULL)
    abort();
  proof->program = program;
  proof->folder = folder;
  proof->every = tunes < 100 ? 23 : 2;
  for (int i = 0; i < tunes; i++)
    sound_tune(proof, first + (uint64_t)i);
  all_faults(proof, first, tunes, share);
  status = table(proof);
  free(proof->car);
  free(proof);
  return status;
}
