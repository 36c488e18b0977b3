/* Audits sound logs of two engines at seven rates, and the log of each kind of fault at every rate at which it can be
 * seen, and holds the reports against what was planted. Reading order: running the program, sound logs, faults, the
 * table. */
#include "logs.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { RATES = 7, KINDS_MOST = 120 };

static const int RATE_HZ[RATES] = {5, 10, 20, 25, 50, 100, 200};

/* A naturally aspirated four and a turbocharged six, both on petrol: numbers of cars that faults tune can print. */
static const uint64_t SEEDS[2] = {2, 3};

struct proof {
  const char *program, *folder;
  struct run run;
  char found[KINDS_MOST][RATES]; /* ' ' not tried, '.' found, '!' found without a span, 'x' not found */
  int planted, sound, audits, grave, missed, spanless, beside, spans[KINDS_MOST];
};

/* ---- running the program */

static json_t *audit(struct proof *proof)
{
  char settings[4096], job[4096], log[4096], report[4096];
  const char *words[] = {proof->program, "audit",    settings,   "--job", job,        "--log", log,
                         "--stage",      "delivery", "--format", "json",  "--output", report,  NULL};
  int status = 0;
  pid_t child;
  json_t *read;

  snprintf(settings, sizeof settings, "%s/settings.yaml", proof->folder);
  snprintf(job, sizeof job, "%s/job.yaml", proof->folder);
  snprintf(log, sizeof log, "%s/log.csv", proof->folder);
  snprintf(report, sizeof report, "%s/report.json", proof->folder);
  unlink(report);
  child = fork();
  if (child == 0) {
    execv(proof->program, (char *const *)(void *)words);
    _exit(127);
  }
  if (child < 0 || waitpid(child, &status, 0) < 0 || !WIFEXITED(status) || WEXITSTATUS(status) > 1) {
    fprintf(stderr, "%s audit %s --job %s --log %s: status %d\n", proof->program, settings, job, log,
            WIFEXITED(status) ? WEXITSTATUS(status) : -1);
    exit(2);
  }
  proof->audits++;
  read = json_load_file(report, 0, NULL);
  if (read == NULL) {
    fprintf(stderr, "%s: no report that can be read\n", report);
    exit(2);
  }
  return read;
}

static const char *text(const json_t *object, const char *name)
{
  const char *string = json_string_value(json_object_get(object, name));

  return string == NULL ? "" : string;
}

static bool is_grave(const json_t *finding)
{
  return strcmp(text(finding, "severity"), "fix") == 0 || strcmp(text(finding, "severity"), "stop") == 0;
}

static const json_t *finding_of(const json_t *report, const char *rule)
{
  const json_t *findings = json_object_get(report, "findings");

  for (size_t i = 0; i < json_array_size(findings); i++)
    if (strcmp(text(json_array_get(findings, i), "rule"), rule) == 0)
      return json_array_get(findings, i);
  return NULL;
}

static int spans_of(const json_t *findings, const char *rule)
{
  int spans = 0;

  for (size_t k = 0; k < json_array_size(findings); k++) {
    const json_t *finding = json_array_get(findings, k), *evidence = json_object_get(finding, "evidence");

    for (size_t i = 0; strcmp(text(finding, "rule"), rule) == 0 && i < json_array_size(evidence); i++)
      spans += json_is_number(json_object_get(json_array_get(evidence, i), "start"));
  }
  return spans;
}

/* Why a rule gave no finding: undecided with its reason, or clear. */
static const char *instead(const json_t *report, const char *rule)
{
  static const char *const lists[] = {"undecided", "not_applicable"};

  for (int k = 0; k < 2; k++) {
    const json_t *list = json_object_get(report, lists[k]);

    for (size_t i = 0; i < json_array_size(list); i++)
      if (strcmp(text(json_array_get(list, i), "rule"), rule) == 0)
        return k == 0 ? "undecided" : "not applicable";
  }
  return "clear";
}

/* ---- making a log */

static void simulate(struct proof *proof, const struct kind_of_fault *kind, uint64_t seed)
{
  struct run *run = &proof->run;

  free(run->row);
  run->row = NULL;
  run->flaw = flaw_none();
  car_make(run->car, seed);
  file_word(&run->car->job, "log.started", "2026-03-03T09:00:00Z");
  if (kind != NULL)
    kind->plant(&run->flaw, run->car);
  run_whole(run);
}

static json_t *audit_at(struct proof *proof, int rate, const enum channel *keep)
{
  char path[4096];

  snprintf(path, sizeof path, "%s/log.csv", proof->folder);
  if (!car_write(proof->run.car, proof->folder, 0) || !log_write(&proof->run, path, RATE_HZ[rate], rate, keep))
    exit(2);
  return audit(proof);
}

static void sound_logs(struct proof *proof)
{
  static const enum channel none[4] = {TIME};

  for (int engine = 0; engine < 2; engine++) {
    simulate(proof, NULL, SEEDS[engine]);
    for (int rate = 0; rate < RATES; rate++) {
      json_t *report = audit_at(proof, rate, none), *findings = json_object_get(report, "findings");

      proof->sound++;
      for (size_t i = 0; i < json_array_size(findings); i++) {
        const json_t *finding = json_array_get(findings, i);

        proof->grave += is_grave(finding);
        if (strcmp(text(finding, "severity"), "note") != 0 && strcmp(text(finding, "rule"), "log-sample-rate") != 0)
          printf("sound log, engine %d at %d Hz: %s %s: %s\n", engine + 1, RATE_HZ[rate], text(finding, "severity"),
                 text(finding, "rule"), text(finding, "message"));
      }
      json_decref(report);
    }
  }
}

/* ---- faults */

static void judge(struct proof *proof, const struct kind_of_fault *kind, size_t at, int rate, const json_t *report)
{
  const json_t *finding = finding_of(report, kind->rule), *findings = json_object_get(report, "findings");
  int spans = spans_of(findings, kind->rule);

  proof->planted++;
  proof->spans[at] += spans;
  proof->found[at][rate] = finding == NULL ? 'x' : kind->span && spans == 0 ? '!' : '.';
  proof->missed += finding == NULL;
  proof->spanless += finding != NULL && kind->span && spans == 0;
  if (finding == NULL)
    printf("not found at %d Hz: %s by %s (%s)\n", RATE_HZ[rate], kind->name, kind->rule, instead(report, kind->rule));
  for (size_t i = 0; i < json_array_size(findings); i++) {
    const json_t *other = json_array_get(findings, i);

    if (!is_grave(other) || strcmp(text(other, "rule"), kind->rule) == 0 ||
        strstr(kind->also, text(other, "rule")) != NULL)
      continue;
    proof->beside++;
    printf("beside \"%s\" at %d Hz: %s %s: %s\n", kind->name, RATE_HZ[rate], text(other, "severity"),
           text(other, "rule"), text(other, "message"));
  }
}

/* Rates take turns with the engines; of all pairs of kind and rate every `share`-th is tried. */
static void one_kind(struct proof *proof, const struct kind_of_fault *kind, size_t at, int share)
{
  for (int engine = 0; engine < 2; engine++) {
    bool made = false;

    if (kind->engine != 0 && kind->engine != engine + 1)
      continue;
    for (int rate = 0; rate < RATES; rate++) {
      bool turn = kind->engine != 0 || ((int)at + rate) % 2 == engine;
      json_t *report;

      if (!turn || RATE_HZ[rate] < kind->least_hz || ((int)at * 3 + rate) % share != 0)
        continue;
      if (!made)
        simulate(proof, kind, SEEDS[engine]);
      made = true;
      report = audit_at(proof, rate, kind->needs);
      judge(proof, kind, at, rate, report);
      json_decref(report);
    }
  }
}

static void table(const struct proof *proof)
{
  size_t count;
  const struct kind_of_fault *list = kinds(&count);

  printf("\n%-36s %-30s", "fault", "found by");
  for (int rate = 0; rate < RATES; rate++)
    printf(" %4d", RATE_HZ[rate]);
  printf(" Hz %6s\n", "spans");
  for (size_t i = 0; i < count; i++) {
    printf("%-36s %-30s", list[i].name, list[i].rule);
    for (int rate = 0; rate < RATES; rate++)
      printf(" %4s", RATE_HZ[rate] < list[i].least_hz ? "-"
                     : proof->found[i][rate] == '.'   ? "yes"
                     : proof->found[i][rate] == 'x'   ? "NO"
                     : proof->found[i][rate] == '!'   ? "bare"
                                                      : "");
    if (list[i].span)
      printf(" %9d", proof->spans[i]);
    putchar('\n');
  }
  for (size_t i = 0; i < count; i++)
    if (list[i].least_hz > RATE_HZ[0])
      printf("- below %d Hz: %s: %s\n", list[i].least_hz, list[i].name, list[i].why);
}

int logs_prove(const char *program, const char *folder, int share, const char *only)
{
  struct proof *proof = calloc(1, sizeof *proof);
  size_t count, tried = 0;
  const struct kind_of_fault *list = kinds(&count);
  bool good;

  if (proof == NULL || (proof->run.car = calloc(1, sizeof *proof->run.car)) == NULL || count > KINDS_MOST)
    abort();
  proof->program = program;
  proof->folder = folder;
  setvbuf(stdout, NULL, _IOLBF, BUFSIZ);
  if (only == NULL)
    sound_logs(proof);
  for (size_t i = 0; i < count; i++) {
    int before = proof->planted;

    if (only == NULL || strstr(list[i].name, only) != NULL)
      one_kind(proof, &list[i], i, share);
    tried += proof->planted > before;
  }
  table(proof);
  printf("\n%zu kinds of fault in %d logs, %d found, %d of these without the span they should have; "
         "%d findings beside at fix or over\n",
         tried, proof->planted, proof->planted - proof->missed, proof->spanless, proof->beside);
  printf("%d sound logs: %d findings at fix or over\n%d audits\n", proof->sound, proof->grave, proof->audits);
  good = proof->planted > 0 && proof->missed == 0 && proof->spanless == 0 && proof->grave == 0 && proof->beside == 0;
  free(proof->run.row);
  free(proof->run.car);
  free(proof);
  return good ? 0 : 1;
}
