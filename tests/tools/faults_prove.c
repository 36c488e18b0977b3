/* Audits many sound tunes and many with one fault, and holds the reports against what was planted: every fault found by
 * its rule, no sound tune told to be mended. Reading order: prove (the workers), task_run, sound_tune, fault_in, table.
 */
#include "faults_proof.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { SEEDS_BEYOND = 60, SHIFTED = 10, WORKERS = 64, PATH = 4096 };

/* ---- sound tunes */

static void sound_again(struct proof *proof, uint64_t seed)
{
  json_t *report = audit_car(proof, 0, "delivery");

  if (proof->car->with_log)
    again_with_log_retold(proof, report, seed);
  again_with_readings_shifted(proof, seed);
  json_decref(report);
}

static void sound_tune(struct proof *proof, uint64_t seed)
{
  static const char *const stages[] = {"look", "dyno", "delivery"};
  struct outcome *count = &proof->count;

  car_make(proof->car, seed);
  if (seed % 2 == 0)
    car_log(proof->car);
  if (seed % 3 == 0)
    car_before(proof->car);
  count->sound++;
  for (int k = 0; k < 3; k++) {
    json_t *report = k == 0 ? audit_car(proof, seed, stages[k]) : audit(proof, stages[k]);
    json_t *findings = json_object_get(report, "findings");

    if (report == NULL)
      fprintf(proof->lines, "sound tune %llu: refused\n", (unsigned long long)seed);
    count->grave += report == NULL;
    for (size_t i = 0; i < json_array_size(findings); i++) {
      const json_t *finding = json_array_get(findings, i);
      bool grave = is_grave(finding);

      count->checks += k == 2 && strcmp(text(finding, "severity"), "check") == 0;
      count->grave += grave;
      if (grave || k == 2)
        fprintf(proof->lines, "sound tune %llu at %s: %s %s %s: %s\n", (unsigned long long)seed, stages[k],
                text(finding, "severity"), text(finding, "rule"), text(finding, "subject"), text(finding, "message"));
    }
    json_decref(report);
  }
  if (seed % SHIFTED == 0)
    sound_again(proof, seed);
}

/* ---- faults */

static bool plant(struct proof *proof, const struct fault *fault, uint64_t seed)
{
  car_make(proof->car, seed);
  if (fault->needs == LOG)
    car_log(proof->car);
  return fault->plant(proof->car);
}

/* Is the word one of the list's, which are parted by blanks? */
static bool listed(const char *list, const char *word)
{
  size_t length = strlen(word);

  for (const char *at = list; (at = strstr(at, word)) != NULL; at += length)
    if ((at == list || at[-1] == ' ') && (at[length] == '\0' || at[length] == ' '))
      return true;
  return false;
}

/* Other findings at fix or over, but for those that are known to follow from the fault. */
static int beside(struct proof *proof, json_t *report, const struct fault *fault, uint64_t seed)
{
  json_t *findings = json_object_get(report, "findings");
  int count = 0;

  for (size_t i = 0; i < json_array_size(findings); i++) {
    const json_t *finding = json_array_get(findings, i);

    if (is_grave(finding) && strcmp(text(finding, "rule"), fault->rule) != 0 &&
        !listed(fault->also, text(finding, "rule"))) {
      fprintf(proof->lines, "beside %s in seed %llu: %s %s: %s\n", fault->rule, (unsigned long long)seed,
              text(finding, "severity"), text(finding, "rule"), text(finding, "message"));
      count++;
    }
  }
  return count;
}

static void properties(struct proof *proof, const struct fault *fault, json_t *report, uint64_t seed)
{
  json_t *other = audit_car(proof, 0, "delivery");

  again_in_units(proof, report, other, seed);
  again_with_limit_moved(proof, other, seed, fault->rule);
  if (fault->needs == LOG)
    again_with_log_retold(proof, other, seed);
  else
    again_without_facts(proof, other, seed, fault->rule);
  json_decref(other);
}

static void fault_in(struct proof *proof, const struct fault *fault, uint64_t seed)
{
  struct outcome *count = &proof->count;
  json_t *report;

  if (!plant(proof, fault, seed))
    return;
  count->offered++;
  report = audit_car(proof, seed, "delivery");
  count->planted++;
  if (fault->needs == REFUSAL ? report == NULL : report != NULL && finding_of(report, fault->rule) != NULL)
    count->found++;
  else
    fprintf(proof->lines, "not found: %s in seed %llu (%s)\n", fault->rule, (unsigned long long)seed,
            report == NULL                  ? "refused"
            : is_clear(report, fault->rule) ? "clear"
                                            : "undecided");
  if (report == NULL)
    return;
  count->beside += beside(proof, report, fault, seed);
  if (count->planted == 1)
    properties(proof, fault, report, seed);
  json_decref(report);
}

/* A rule that the program does not have is passed over: the catalogue is longer than the pack. */
static void fault_in_cars(struct proof *proof, const struct fault *fault, uint64_t seed)
{
  if (fault->needs != REFUSAL && !rules_have(proof->rules, fault->rule))
    return;
  for (; seed < proof->first + (uint64_t)proof->tunes; seed += (uint64_t)proof->share)
    fault_in(proof, fault, seed);
  for (; proof->count.offered == 0 && seed < proof->first + (uint64_t)proof->tunes + SEEDS_BEYOND; seed++)
    fault_in(proof, fault, seed);
}

/* ---- the table */

static void add(struct outcome *sum, const struct outcome *one)
{
  sum->planted += one->planted;
  sum->found += one->found;
  sum->beside += one->beside;
  sum->sound += one->sound;
  sum->grave += one->grave;
  sum->checks += one->checks;
  sum->audits += one->audits;
  sum->same_units += one->same_units;
  sum->dropped += one->dropped;
  sum->moved += one->moved;
  sum->retold += one->retold;
  sum->shifted += one->shifted;
  sum->wrong += one->wrong;
}

static int kinds_table(const struct proof *proof, const struct outcome *outcomes, int *absent)
{
  const struct fault *fault;
  int kinds = 0;

  printf("\n%-36s %8s %8s %8s %8s\n", "rule", "planted", "found", "recall", "beside");
  for (size_t at = 0; (fault = fault_next(&at)) != NULL;) {
    const struct outcome *one = &outcomes[at - 1];

    if (one->planted == 0) {
      printf("%-36s %8s\n", fault->rule, rules_have(proof->rules, fault->rule) ? "in no car" : "no such rule");
      ++*absent;
      continue;
    }
    printf("%-36s %8d %8d %6.0f %% %8d%s\n", fault->rule, one->planted, one->found, 100.0 * one->found / one->planted,
           one->beside, fault->needs == REFUSAL ? "  refused when read" : "");
    kinds++;
  }
  return kinds;
}

/* How many rules of the program have no planted fault. */
static int rules_without_fault(const struct proof *proof)
{
  int bare = 0;

  for (size_t i = 0; i < json_array_size(proof->rules); i++) {
    const char *rule = text(json_array_get(proof->rules, i), "rule");
    const struct fault *fault;
    bool has = false;

    for (size_t at = 0; (fault = fault_next(&at)) != NULL;)
      has = has || strcmp(fault->rule, rule) == 0;
    if (!has)
      printf("%-36s no fault is planted for this rule\n", rule);
    bare += !has;
  }
  return bare;
}

static int table(const struct proof *proof, const struct outcome *outcomes, int tasks)
{
  struct outcome sum = {0};
  int absent = 0, kinds = kinds_table(proof, outcomes, &absent), bare = rules_without_fault(proof);

  for (int i = 0; i < tasks; i++)
    add(&sum, &outcomes[i]);
  printf("\n%d kinds of fault, %d planted, %d found, recall %.1f %%; %d kinds "
         "without a rule or a car\n",
         kinds, sum.planted, sum.found, sum.planted == 0 ? 0 : 100.0 * sum.found / sum.planted, absent);
  printf("%zu rules, %d without a planted fault\n", json_array_size(proof->rules), bare);
  printf("%d sound tunes: %d findings at fix or over in three stages, %.2f at "
         "check on average at delivery\n",
         sum.sound, sum.grave, (double)sum.checks / sum.sound);
  printf("properties: %d pairs of units, %d facts left out, %d limits moved, "
         "%d logs told again, %d readings shifted; "
         "%d broken\n",
         sum.same_units, sum.dropped, sum.moved, sum.retold, sum.shifted, sum.wrong);
  printf("%d audits, %d findings at fix or over beside those planted\n", sum.audits, sum.beside);
  return sum.planted > 0 && sum.found == sum.planted && sum.grave == 0 && sum.checks < sum.sound && sum.wrong == 0 ? 0
                                                                                                                   : 1;
}

/* ---- workers: each takes the next task from a pipe and keeps what came of it in a file */

static int kinds_count(void)
{
  size_t at = 0;

  while (fault_next(&at) != NULL)
    continue;
  return (int)at;
}

static void task_run(struct proof *proof, int task, int kinds)
{
  size_t at = (size_t)task;

  if (task < kinds)
    fault_in_cars(proof, fault_next(&at), proof->first + (uint64_t)(task + 1) % (uint64_t)proof->share);
  else
    sound_tune(proof, proof->first + (uint64_t)(task - kinds));
}

static void work(struct proof *proof, int tasks, int kinds, FILE *results)
{
  int task;

  while (read(tasks, &task, sizeof task) == sizeof task) {
    char *lines = NULL;
    size_t size = 0;

    proof->lines = open_memstream(&lines, &size);
    if (proof->lines == NULL)
      exit(2);
    memset(&proof->count, 0, sizeof proof->count);
    task_run(proof, task, kinds);
    fclose(proof->lines);
    fwrite(&task, sizeof task, 1, results);
    fwrite(&proof->count, sizeof proof->count, 1, results);
    fwrite(&size, sizeof size, 1, results);
    fwrite(lines, 1, size, results);
    free(lines);
  }
  if (fflush(results) != 0)
    exit(2);
}

static pid_t worker_start(struct proof *proof, const char *folder, int number, const int *tasks, int kinds,
                          FILE *results)
{
  char own[PATH];
  pid_t child = fork();

  if (child != 0)
    return child;
  close(tasks[1]);
  snprintf(own, sizeof own, "%s/%d", folder, number);
  mkdir(own, 0777);
  proof->folder = own;
  work(proof, tasks[0], kinds, results);
  _exit(0);
}

static bool collect(FILE *results, struct outcome *outcomes, char **lines)
{
  int task;

  rewind(results);
  while (fread(&task, sizeof task, 1, results) == 1) {
    size_t size = 0;

    if (fread(&outcomes[task], sizeof *outcomes, 1, results) != 1 || fread(&size, sizeof size, 1, results) != 1 ||
        (lines[task] = calloc(1, size + 1)) == NULL || fread(lines[task], 1, size, results) != size)
      return false;
  }
  return true;
}

static bool run_all(struct proof *proof, const char *folder, int workers, int kinds, int count,
                    struct outcome *outcomes, char **lines)
{
  FILE *results[WORKERS];
  pid_t child[WORKERS];
  int tasks[2];
  bool good = pipe(tasks) == 0;

  for (int i = 0; good && i < workers; i++) {
    results[i] = tmpfile();
    good = results[i] != NULL && (child[i] = worker_start(proof, folder, i, tasks, kinds, results[i])) > 0;
  }
  if (!good)
    return false;
  close(tasks[0]);
  for (int task = 0; task < count && good; task++)
    good = write(tasks[1], &task, sizeof task) == sizeof task;
  close(tasks[1]);
  for (int i = 0; i < workers; i++) {
    int status;

    good = waitpid(child[i], &status, 0) == child[i] && status == 0 && collect(results[i], outcomes, lines) && good;
    fclose(results[i]);
  }
  return good;
}

int prove(const char *program, uint64_t first, int tunes, int share, int workers, const char *folder)
{
  struct proof *proof = calloc(1, sizeof *proof);
  int kinds = kinds_count(), count = kinds + tunes, status = 2;
  struct outcome *outcomes = calloc((size_t)count, sizeof *outcomes);
  char **lines = calloc((size_t)count, sizeof *lines);

  if (proof == NULL || outcomes == NULL || lines == NULL || (proof->car = calloc(1, sizeof *proof->car)) == NULL)
    abort();
  proof->program = program;
  proof->first = first;
  proof->tunes = tunes;
  proof->share = share;
  proof->rules = rules_list(program, folder);
  if (run_all(proof, folder, workers < WORKERS ? workers : WORKERS, kinds, count, outcomes, lines)) {
    for (int task = 0; task < count; task++)
      fputs(lines[task] == NULL ? "" : lines[task], stdout);
    status = table(proof, outcomes, count);
  } else {
    fputs("faults: a worker failed\n", stderr);
  }
  for (int task = 0; task < count; task++)
    free(lines[task]);
  free(lines);
  free(outcomes);
  json_decref(proof->rules);
  free(proof->car);
  free(proof);
  return status;
}
