/* faults tune|plant|list|prove: writes sound tunes and tunes with one fault, and audits many of them. */
#include "faults.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const char usage[] = "usage: faults tune  --seed N [--units N] FOLDER\n"
                            "       faults plant --seed N [--units N] --fault RULE FOLDER\n"
                            "       faults list\n"
                            "       faults prove --program KEYWAY [--tunes N] [--share N] [--jobs N] "
                            "FOLDER\n";

const struct fault *fault_next(size_t *at)
{
  static const struct fault *const lists[] = {settings_faults, table_faults,  job_faults,   record_faults,
                                              log_faults,      replay_faults, signal_faults};
  size_t left = *at;

  for (size_t list = 0; list < sizeof lists / sizeof *lists; list++)
    for (const struct fault *fault = lists[list]; fault->rule != NULL; fault++)
      if (left-- == 0) {
        ++*at;
        return fault;
      }
  return NULL;
}

static const struct fault *fault_find(const char *rule)
{
  const struct fault *fault;

  for (size_t at = 0; (fault = fault_next(&at)) != NULL;)
    if (strcmp(fault->rule, rule) == 0)
      return fault;
  fprintf(stderr, "faults: no fault is called '%s'; faults list shows them\n", rule);
  return NULL;
}

static int write_one(struct car *car, uint64_t seed, uint64_t units, const char *rule, const char *folder)
{
  const struct fault *fault = rule == NULL ? NULL : fault_find(rule);

  if (rule != NULL && fault == NULL)
    return 2;
  car_make(car, seed);
  if (fault != NULL && fault->needs == LOG)
    car_log(car);
  if (fault != NULL && !fault->plant(car)) {
    fprintf(stderr, "faults: this car cannot have %s\n", rule);
    return 1;
  }
  if (fault != NULL && *fault->also != '\0')
    printf("also: %s\n", fault->also);
  mkdir(folder, 0777);
  return car_write(car, folder, units) ? 0 : 3;
}

static int list(void)
{
  const struct fault *fault;

  for (size_t at = 0; (fault = fault_next(&at)) != NULL;)
    printf("%s%s\n", fault->rule,
           fault->needs == LOG       ? " (log)"
           : fault->needs == REFUSAL ? " (refused when read)"
                                     : "");
  return 0;
}

int main(int count, char **word)
{
  const char *folder = NULL, *rule = NULL, *program = NULL;
  uint64_t seed = 1, units = 0;
  int tunes = 200, share = 5, jobs = 2, status = 2;
  struct car *car;

  for (int i = 2; i < count; i++) {
    if (i + 1 == count || word[i][0] != '-')
      folder = word[i];
    else if (strcmp(word[i], "--seed") == 0)
      seed = strtoull(word[++i], NULL, 10);
    else if (strcmp(word[i], "--units") == 0)
      units = strtoull(word[++i], NULL, 10);
    else if (strcmp(word[i], "--fault") == 0)
      rule = word[++i];
    else if (strcmp(word[i], "--program") == 0)
      program = word[++i];
    else if (strcmp(word[i], "--tunes") == 0)
      tunes = atoi(word[++i]);
    else if (strcmp(word[i], "--share") == 0)
      share = atoi(word[++i]);
    else if (strcmp(word[i], "--jobs") == 0)
      jobs = atoi(word[++i]);
  }
  if (count == 2 && strcmp(word[1], "list") == 0)
    return list();
  if (count < 3 || folder == NULL || tunes < 1 || share < 1 || jobs < 1) {
    fputs(usage, stderr);
    return 2;
  }
  car = calloc(1, sizeof *car);
  if (car == NULL)
    return 3;
  if (strcmp(word[1], "tune") == 0)
    status = write_one(car, seed, units, NULL, folder);
  else if (strcmp(word[1], "plant") == 0 && rule != NULL)
    status = write_one(car, seed, units, rule, folder);
  else if (strcmp(word[1], "prove") == 0 && program != NULL)
    status = prove(program, seed, tunes, share, jobs, folder);
  else
    fputs(usage, stderr);
  free(car);
  return status;
}
