/* logs list|sound|plant|prove: writes simulated logs of sound and faulty cars, and audits all of them. */
#include "logs.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const char usage[] = "usage: logs list\n"
                            "       logs sound [--seed N] [--rate HZ] [--style N] FOLDER\n"
                            "       logs plant --fault KIND [--seed N] [--rate HZ] [--style N] FOLDER\n"
                            "       logs prove --program KEYWAY [--share N] [--fault KIND] FOLDER\n";

static const struct kind_of_fault *find(const char *name)
{
  size_t count;
  const struct kind_of_fault *list = kinds(&count);

  for (size_t i = 0; i < count; i++)
    if (strcmp(list[i].name, name) == 0)
      return &list[i];
  fprintf(stderr, "logs: no fault is called '%s'; logs list shows them\n", name);
  return NULL;
}

static int list_kinds(void)
{
  size_t count;
  const struct kind_of_fault *list = kinds(&count);

  for (size_t i = 0; i < count; i++)
    printf("%s: %s\n", list[i].name, list[i].rule);
  return 0;
}

static int write_one(const struct kind_of_fault *kind, uint64_t seed, int hz, int style, const char *folder)
{
  static const enum channel none[4] = {TIME};
  struct run run = {.flaw = flaw_none(), .car = calloc(1, sizeof *run.car)};
  char path[4096];
  bool written;

  if (run.car == NULL)
    abort();
  car_make(run.car, seed);
  file_word(&run.car->job, "log.started", "2026-03-03T09:00:00Z");
  if (kind != NULL)
    kind->plant(&run.flaw, run.car);
  run_whole(&run);
  mkdir(folder, 0777);
  snprintf(path, sizeof path, "%s/log.csv", folder);
  written = car_write(run.car, folder, 0) && log_write(&run, path, hz, style, kind == NULL ? none : kind->needs);
  free(run.row);
  free(run.car);
  return written ? 0 : 3;
}

int main(int count, char **word)
{
  const char *folder = NULL, *fault = NULL, *program = NULL;
  const struct kind_of_fault *kind = NULL;
  int hz = 25, style = 6, share = 1;
  uint64_t seed = 1;

  for (int i = 2; i < count; i++) {
    if (i + 1 == count || word[i][0] != '-')
      folder = word[i];
    else if (strcmp(word[i], "--seed") == 0)
      seed = strtoull(word[++i], NULL, 10);
    else if (strcmp(word[i], "--rate") == 0)
      hz = atoi(word[++i]);
    else if (strcmp(word[i], "--style") == 0)
      style = atoi(word[++i]);
    else if (strcmp(word[i], "--share") == 0)
      share = atoi(word[++i]);
    else if (strcmp(word[i], "--fault") == 0)
      fault = word[++i];
    else if (strcmp(word[i], "--program") == 0)
      program = word[++i];
  }
  if (count == 2 && strcmp(word[1], "list") == 0)
    return list_kinds();
  if (count >= 3 && folder != NULL && share > 0 && strcmp(word[1], "prove") == 0 && program != NULL)
    return logs_prove(program, folder, share, fault);
  if (count >= 3 && folder != NULL && fault != NULL && (kind = find(fault)) == NULL)
    return 2;
  if (count >= 3 && folder != NULL && hz > 0 && hz <= FASTEST_HZ && style >= 0 &&
      (strcmp(word[1], "sound") == 0 || (strcmp(word[1], "plant") == 0 && kind != NULL)))
    return write_one(kind, seed, hz, style, folder);
  fputs(usage, stderr);
  return 2;
}
